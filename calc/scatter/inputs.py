"""Inputs that scatter: frozen ``scipy.stats`` distributions or plain numbers, by the names of the model's arguments."""

from __future__ import annotations

import math
import numbers
from collections.abc import Mapping
from typing import Any, Protocol

import numpy as np
from scipy import special, stats

from calc.base.errors import NotAccepted
from calc.base.maths import exp
from calc.scatter.accepted import require_at_least, require_finite


class Distribution(Protocol):
    """What is used of a frozen ``scipy.stats`` distribution."""

    def ppf(self, q: Any, /) -> Any:
        """Quantile."""

    def isf(self, q: Any, /) -> Any:
        """Quantile counted from above."""

    def cdf(self, x: Any, /) -> Any:
        """Probability of at most x."""

    def sf(self, x: Any, /) -> Any:
        """Probability of more than x."""

    def pdf(self, x: Any, /) -> Any:
        """Density at x."""

    def mean(self) -> Any:
        """Mean."""

    def std(self) -> Any:
        """Standard deviation."""


Input = Distribution | float
Inputs = Mapping[str, Input]


def normal(*, mean: float, sd: float) -> Input:
    """Input given as mean and standard deviation; with sd 0 it does not scatter.

    Parameters
    ----------
    mean, sd : float
        Mean and standard deviation [unit of the input].

    Returns
    -------
    Input
        Normal distribution, or the mean itself when ``sd`` is zero.

    Raises
    ------
    NotAccepted
        For a negative or not finite ``sd``, or a mean that is not finite.
    """
    require_finite("mean", mean)
    require_at_least("sd", sd, 0.0)
    return stats.norm(mean, sd) if sd > 0 else mean


def limits(*, low: float, high: float) -> Input:
    """Input of which only the limits are known: every value between them is as likely (JCGM 101, 6.4.2).

    Parameters
    ----------
    low, high : float
        Limits [unit of the input].

    Returns
    -------
    Input
        Rectangular distribution, or the value itself when both limits are the same.

    Raises
    ------
    NotAccepted
        When the limits are reversed or not finite.
    """
    require_finite("low", low)
    require_finite("high", high)
    if low > high:
        raise NotAccepted(f"the limits are reversed: low is {low:g}, high is {high:g}")
    return stats.uniform(low, high - low) if high > low else low


def misfit_probability(*, hole: Input, bar: Input) -> float:
    """Probability that a bar is thicker than its hole, both scattering independently.

    Parameters
    ----------
    hole, bar : float or frozen distribution
        Diameters [mm, or any one unit].

    Returns
    -------
    float
        Probability [-].

    Raises
    ------
    NotAccepted
        For a diameter that is neither a finite number nor a usable distribution.

    Notes
    -----
    The integral of F_hole over the bar's distribution, by the trapezoidal rule over its normal score.
    """
    random, fixed = split_inputs({"hole": hole, "bar": bar})
    if len(random) < 2:
        if "hole" in random:
            return float(random["hole"].cdf(fixed["bar"]))
        return float(random["bar"].sf(fixed["hole"])) if "bar" in random else float(fixed["hole"] <= fixed["bar"])
    score = np.linspace(-8.5, 8.5, 4001)
    diameter = np.where(score < 0, random["bar"].ppf(special.ndtr(score)), random["bar"].isf(special.ndtr(-score)))
    return float(np.trapezoid(random["hole"].cdf(diameter) * exp(-(score**2) / 2), score) / math.sqrt(2 * math.pi))


def require_fit(*, hole: Input, bar: Input, at_most: float = 1e-6) -> float:
    """Refuse scatter that lets the bar become thicker than the hole, naming how probable that is.

    Parameters
    ----------
    hole, bar : float or frozen distribution
        Diameters [mm, or any one unit].
    at_most : float
        Probability that is still accepted [-]; a normal distribution never gives exactly zero.

    Returns
    -------
    float
        Probability of a misfit [-].

    Raises
    ------
    NotAccepted
        When it is greater than ``at_most``.
    """
    chance = misfit_probability(hole=hole, bar=bar)
    if chance > at_most:
        raise NotAccepted(
            f"with this scatter the bar is thicker than its hole with probability {chance:.2g}; at most {at_most:g} is"
            " accepted"
        )
    return chance


def split_inputs(inputs: Inputs) -> tuple[dict[str, Distribution], dict[str, float]]:
    """Scattering and fixed inputs, each in alphabetical order so that the order of writing does not change a digit."""
    if not inputs:
        raise NotAccepted("no inputs were given; the model needs at least one")
    random: dict[str, Distribution] = {}
    fixed: dict[str, float] = {}
    for name in sorted(inputs):
        given: Any = inputs[name]
        if isinstance(given, numbers.Real):
            require_finite(f"input '{name}'", given)
            fixed[name] = float(given)
        elif not hasattr(given, "ppf"):
            raise NotAccepted(
                f"input '{name}' must be a number or a frozen scipy.stats distribution, not {type(given).__name__}"
            )
        elif (constant := _constant(name, given)) is None:
            random[name] = given
        else:
            fixed[name] = constant
    return random, fixed


def _constant(name: str, given: Any) -> float | None:
    """The value of a distribution without scatter, None for one that scatters; a broken one is refused."""
    family = getattr(given, "dist", None)
    if isinstance(family, stats.rv_continuous):
        # scipy answers NaN for a scale of zero, which is a legitimate "does not scatter" here, so look before asking.
        place = (*given.args[family.numargs :], None, None)
        location = given.kwds.get("loc", place[0])
        scale = given.kwds.get("scale", place[1])
        if scale is not None and np.ndim(scale) == 0 and scale < 0:
            raise NotAccepted(f"input '{name}' has a negative standard deviation or width, {scale:g}")
        if scale is not None and np.ndim(scale) == 0 and scale == 0:
            require_finite(f"input '{name}'", float(location or 0.0))
            return float(location or 0.0)
    mean, sd = given.mean(), given.std()
    if np.ndim(mean) or np.ndim(sd):
        raise NotAccepted(f"input '{name}' holds several distributions; one is expected")
    if not (np.isfinite(mean) and np.isfinite(sd)):
        raise NotAccepted(
            f"input '{name}' has no finite mean and sd (they are {float(mean):g} and {float(sd):g}); check its"
            " parameters"
        )
    return float(mean) if sd == 0 else None
