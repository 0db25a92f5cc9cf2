"""How much adhesive a drilled hole for a bonded reinforcing bar needs, shown step by step.

Rooms, from the ground up: ``calc.base`` (units, formulas, sheets, bar tables), ``calc.fill`` (hole, level, dose,
scatter), ``calc.strength`` (codes), ``calc.job`` (job file, schedule, plan), ``calc.report`` (notebooks, package,
command line). Imports run downwards only.
"""

__version__ = "0.1.0"
