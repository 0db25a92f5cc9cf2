"""How much is added and why: the scatter of a job's groups, the rule, the ways of dosing.

Statistics themselves are in `calc.scatter`.
"""
