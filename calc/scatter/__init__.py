"""How sure a dose is: what scatters from hole to hole, carried through the formulas. Measured holes are in `calc.evidence`."""

from calc.scatter.costs import best_dose, best_dose_per_hole
from calc.scatter.factors import (
    holes_without_normality,
    prediction_factor,
    rank_without_normality,
    tolerance_factor,
)
from calc.scatter.propagate import propagate, samples
from calc.scatter.shortfall import repeat_short_probability, series_risk, short_probability
from calc.scatter.variance import gum_budget, sobol

__all__ = [
    "best_dose",
    "best_dose_per_hole",
    "gum_budget",
    "holes_without_normality",
    "prediction_factor",
    "propagate",
    "rank_without_normality",
    "repeat_short_probability",
    "samples",
    "series_risk",
    "short_probability",
    "sobol",
    "tolerance_factor",
]
