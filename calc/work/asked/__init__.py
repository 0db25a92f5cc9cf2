"""Questions asked in passing, of a hole that need not be part of a job."""
