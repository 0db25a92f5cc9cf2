"""Doses of least expected cost, from what a short hole and wasted adhesive cost."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import special
from scipy.optimize import brentq

from calc.scatter.accepted import Array, plain, require_each
from calc.scatter.inputs import Distribution, split_inputs
from calc.scatter.spread import Spread


def best_dose(requirement: Distribution | Spread, cost_short: Any, cost_waste: Any) -> Any:
    """Dose of least expected cost when both what is missing and what is wasted cost by volume: the critical fractile.

    Parameters
    ----------
    requirement : frozen distribution or Spread
        Volume needed [any one volume unit]: a frozen distribution, or simulated.
    cost_short, cost_waste : float or ndarray
        Cost of a unit of volume that is missing, and of one that is wasted [currency per the same unit].

    Returns
    -------
    float or array
        F⁻¹(cost_short/(cost_short + cost_waste)) [the same unit].

    Raises
    ------
    NotAccepted
        For costs that are not finite and above zero, or an unusable distribution.

    Examples
    --------
    >>> from scipy import stats
    >>> round(best_dose(stats.uniform(350, 270), 20.0, 9.0), 3)
    536.207
    """
    short, waste = _cost("cost_short", cost_short), _cost("cost_waste", cost_waste)
    fractile = short / (short + waste)
    if isinstance(requirement, Spread):
        return requirement.quantile(fractile)
    random, fixed = split_inputs({"requirement": requirement})
    return plain(random["requirement"].ppf(fractile) if random else np.full(np.shape(fractile), fixed["requirement"]))


def best_dose_per_hole(requirement: Distribution | Spread, cost_hole: float, cost_waste: float) -> float:
    """Dose of least expected cost when a short hole costs a fixed amount, however little is missing.

    Parameters
    ----------
    requirement : frozen distribution or Spread
        Volume needed [any one volume unit]: a frozen distribution, or simulated.
    cost_hole : float
        Cost of a short hole [currency].
    cost_waste : float
        Cost of a unit of volume that is wasted [currency per the same unit].

    Returns
    -------
    float
        Dose Q with K f(Q) = c_w F(Q), K and c_w the costs; the cheapest one where there are several [the same unit].

    Raises
    ------
    NotAccepted
        For costs that are not finite and above zero, or an unusable distribution.

    Notes
    -----
    The expected cost K (1 − F(Q)) + c_w E max(Q − V, 0) has the derivative c_w F(Q) − K f(Q). A short hole that costs
    less than its filling gives the lower end of the distribution: such costs are not worth a dose, and are to be looked
    at again.
    """
    hole, waste = float(_cost("cost_hole", cost_hole)), float(_cost("cost_waste", cost_waste))
    if isinstance(requirement, Spread):
        candidates = requirement.ordered
        cost = hole * requirement.short_probability(candidates) + waste * requirement.mean_excess(candidates)
        return float(candidates[np.argmin(cost)])
    random, fixed = split_inputs({"requirement": requirement})
    if not random:
        return fixed["requirement"]
    need = random["requirement"]
    score = np.linspace(-8.0, 8.0, 4001)
    grid = np.unique(np.where(score < 0, need.ppf(special.ndtr(score)), need.isf(special.ndtr(-score))))
    below = need.cdf(grid)
    excess = np.concatenate(([0.0], np.cumsum(np.diff(grid) * (below[1:] + below[:-1]) / 2)))
    best = int(np.argmin(hole * need.sf(grid) + waste * excess))
    low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, len(grid) - 1)])

    def slope(q: float) -> float:
        return waste * float(need.cdf(q)) - hole * float(need.pdf(q))

    if slope(low) < 0 < slope(high):
        return float(brentq(slope, low, high, xtol=1e-12 * (abs(high) + (high - low))))
    return float(grid[best])  # at an end of a limited distribution, or where its density jumps


def _cost(name: str, value: Any) -> Array:
    return require_each(name, value, lambda x: x > 0, "a finite cost above zero")
