"""How much adhesive a drilled hole for a bonded reinforcing bar needs, shown step by step.

Rooms, from the ground up: ``base`` (units, formulas, sheets, bar tables), ``fill`` (one hole), ``scatter`` (many
holes), ``evidence`` (measured holes), ``strength`` (codes), ``files`` (what people write), ``work`` (what follows for a
job), ``show`` (notebooks), ``package`` (the calculation package), ``review`` and ``lesson``, ``cli``. Imports run
downwards only.
"""

__version__ = "0.1.0"
