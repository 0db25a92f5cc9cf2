"""The plan of a whole job: order, days, times, ways of preparing, and their checks.

Packs and days have folders of their own.
"""
