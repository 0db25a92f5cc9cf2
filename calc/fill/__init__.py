"""One hole and its bar: volume, level, dose, bits, curing, dust.

Nothing here scatters; many holes are in `calc.scatter`.
"""
