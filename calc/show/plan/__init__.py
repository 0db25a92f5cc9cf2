"""The job's plan on the screen: pictures, panel, views."""
