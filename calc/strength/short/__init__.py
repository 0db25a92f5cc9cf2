"""Strength when short: missing millilitres, the bonded length they cost, and the force that is left.

No code's own length is here.
"""
