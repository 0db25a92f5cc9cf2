"""From the bar's force to its embedment, one module for each code and edition.

Which bar of a job needs what is in `calc.work`.
"""
