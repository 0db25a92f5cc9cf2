"""Measured holes that stand apart from the others: Rosner's generalised extreme Studentised deviate test."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from calc.base.errors import NotAccepted
from calc.evidence.readings import Point, Values, joined, moments, points_at, read_names, read_numbers, read_share

_FEW_FOR_ESD = 15  # NIST/SEMATECH e-Handbook, 1.3.5.17.3: the critical values hold reasonably from 15, well from 25


@dataclass(frozen=True)
class EsdStep:
    """One step of the test: the hole farthest from the mean of those that remain.

    And whether it is farther than chance allows.
    """

    point: Point
    statistic: float
    critical: float
    exceeds: bool


@dataclass(frozen=True)
class Outliers:
    """Holes that stand apart from the others, by name; they stay in until a reason is given."""

    steps: tuple[EsdStep, ...]
    outliers: tuple[Point, ...]
    most: int
    alpha: float
    sentence: str
    source: str = "Rosner's generalised extreme Studentised deviate test: NIST/SEMATECH e-Handbook, 1.3.5.17.3"


def outliers(
    *, values: Values, names: Sequence[str] | None = None, most: int | None = None, alpha: float = 0.05
) -> Outliers:
    """Name the holes that stand apart from the others: generalised extreme Studentised deviate test (Rosner).

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes.
    names : sequence of str, optional
        Names of the holes; 1, 2, 3 … when left out.
    most : int, optional
        Greatest number of outliers that is looked for; a tenth of the holes, from 1 to 10, when left out.
    alpha : float
        Level of the test [-], two-sided.

    Returns
    -------
    Outliers
        Statistics [-]; nothing is removed.

    Raises
    ------
    NotAccepted
        Fewer than three values, one that is not finite, more outliers than n − 2, or a level outside (0, 1).

    References
    ----------
    B. Rosner, Percentage points for a generalized ESD many-outlier procedure, Technometrics 25 (1983); NIST/SEMATECH
    e-Handbook of Statistical Methods, 1.3.5.17.3.

    Examples
    --------
    >>> [p.name for p in outliers(values=[14.1, 13.9, 14.0, 14.2, 13.8, 14.1, 14.0, 19.0]).outliers]
    ['8']
    """
    array = read_numbers(values, 3, "an outlier needs others to stand apart from")
    called, level, n = read_names(names, len(array)), read_share("alpha", alpha), len(array)
    highest = min(10, max(1, n // 10)) if most is None else most
    if not (highest == int(highest) and 1 <= highest <= n - 2):
        raise NotAccepted(
            f"up to {highest:g} outliers cannot be looked for among {n} holes; accepted: a whole number from 1 to"
            f" {n - 2}"
        )
    remaining = list(range(n))
    steps: list[EsdStep] = []
    for _ in range(int(highest)):
        rest = array[remaining]
        mean, sd = moments(rest)
        if not sd:
            break  # the remaining holes are all the same: none of them stands apart
        deviation = np.abs(rest - mean) / sd
        worst = int(np.argmax(deviation))
        critical = _critical(len(rest), level)
        statistic = float(deviation[worst])
        steps.append(
            EsdStep(points_at(array, called, [remaining[worst]])[0], statistic, critical, statistic > critical)
        )
        del remaining[worst]
    # Rosner: the largest step that exceeds decides, so that two outliers cannot hide each other.
    number = max((i for i, step in enumerate(steps, start=1) if step.exceeds), default=0)
    found = tuple(step.point for step in steps[:number])
    return Outliers(tuple(steps), found, int(highest), level, _outlier_sentence(found, n, int(highest), level))


def _critical(m: int, alpha: float) -> float:
    """Critical value for the farthest of m remaining values."""
    t = float(special.stdtrit(m - 2, 1 - alpha / (2 * m)))
    return (m - 1) * t / math.sqrt((m - 2 + t * t) * m)


def _outlier_sentence(found: tuple[Point, ...], n: int, most: int, alpha: float) -> str:
    looked = f"up to {most} looked for, level {alpha:g}"
    rough = f" With fewer than {_FEW_FOR_ESD} holes the test is rough." if n < _FEW_FOR_ESD else ""
    if not found:
        return f"No hole stands apart from the others ({looked}).{rough}"
    one = len(found) == 1
    listed = joined(f"{p.name} ({p.value:.5g})" for p in found)
    return (
        f"Hole{'' if one else 's'} {listed} {'stands' if one else 'stand'} apart from the others ({looked}). "
        f"{'It stays' if one else 'They stay'} in unless a reason is written for {'it' if one else 'each'}: "
        f"a hole that takes much is what an overfill is for, not a mistake by itself.{rough}"
    )
