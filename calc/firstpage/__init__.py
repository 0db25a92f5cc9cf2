"""The first page of a job: forms for everything that its files hold, what follows at once, and the package.

It stands above all rooms that it uses; notebooks/00_job.ipynb shows it.
"""
