"""The job file, the bar schedule, and what follows from them for the whole job."""
