"""How sure a dose is: what scatters from hole to hole, carried through the formulas.

Measured holes are in `calc.evidence`.

What is asked of many holes is called from here; each function stands in a module of its own.
"""

from calc.scatter.costs import best_dose
from calc.scatter.factors import tolerance_factor
from calc.scatter.propagate import propagate
from calc.scatter.variance import sobol

__all__ = ["best_dose", "propagate", "sobol", "tolerance_factor"]
