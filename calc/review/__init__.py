"""What is done with a finished package: recheck, compare, sign, comment, follow a number.

Nothing of a package is ever run.
"""
