"""What measured holes say: readings, run order, normality, outliers, limits.

Where the readings come from is not asked here.
"""
