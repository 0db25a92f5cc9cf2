"""The embedment that each bar group needs, its checks, and what a short hole costs.

The codes' formulas are in `calc.strength`.
"""
