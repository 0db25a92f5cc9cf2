"""What follows for a job, from its files to results.json: one module or folder for each question.

Nothing is drawn here.
"""
