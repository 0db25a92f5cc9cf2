"""What a notebook shows: views, pictures and panels, a folder for each question.

They draw results and work out none.
"""
