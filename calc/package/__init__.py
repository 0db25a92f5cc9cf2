"""The calculation package: building it, its lists and tables, its manifest.

What a reviewer does with one is in `calc.review`.
"""
