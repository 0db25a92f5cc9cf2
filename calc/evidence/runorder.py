"""Measured holes in the order in which they were made: Shewhart's chart of individuals, jumps, and runs on one side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calc.evidence.readings import Point, Values, holes_named, moments, points_at, read_names, read_numbers

# NIST/SEMATECH e-Handbook, 6.3.2.2: for ranges of two. 3/1.128 is often written as 2.66.
_D2, _D4 = 1.128, 3.267
_LONG_RUN = 8  # points in a row on one side of the centre: common practice for run charts, from memory
_FEW_IN_ORDER = 20  # common practice, no source
_NOISE = 1e-12


@dataclass(frozen=True)
class RunOrder:
    """Individuals chart with moving range, in the unit of the values.

    ``jumps`` are holes that differ too much from the one before.
    """

    values: tuple[float, ...]
    names: tuple[str, ...]
    centre: float
    low: float
    high: float
    mean_moving_range: float
    range_limit: float
    outside: tuple[Point, ...]
    jumps: tuple[Point, ...]
    longest_run: tuple[Point, ...]
    sentence: str
    source: str = (
        "Shewhart individuals chart, d2 = 1.128 and D4 = 3.267 for ranges of two: NIST/SEMATECH e-Handbook, 6.3.2.2"
    )


def run_order(*, values: Values, names: Sequence[str] | None = None) -> RunOrder:
    """Chart of individuals in run order.

    Centre, limits at three sigma from the mean moving range, and what lies outside.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes in the order in which the holes were made.
    names : sequence of str, optional
        Names of the holes; 1, 2, 3 … when left out.

    Returns
    -------
    RunOrder
        Centre and limits [same unit]: mean ± 3/1.128 (about 2.66) times the mean moving range.

    Raises
    ------
    NotAccepted
        Fewer than two values, or one that is not finite.

    Notes
    -----
    The moving range sees scatter from one hole to the next, so a drift (a bit that wears) shows as points outside or as
    a long run on one side of the centre. The lower limit may be negative; it is not cut off.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.

    Examples
    --------
    >>> chart = run_order(values=[10.0, 12.0, 11.0])
    >>> chart.centre, chart.mean_moving_range
    (11.0, 1.5)
    """
    array = read_numbers(values, 2, "a moving range is the difference of two")
    called = read_names(names, len(array))
    centre, _ = moments(array)
    ranges = np.abs(np.diff(array))
    mean_range = math.fsum(ranges) / len(ranges)
    reach = 3 / _D2 * mean_range
    slack = _NOISE * float(np.abs(array).max())
    outside = points_at(
        array, called, np.flatnonzero((array > centre + reach + slack) | (array < centre - reach - slack))
    )
    jumps = points_at(array, called, np.flatnonzero(ranges > _D4 * mean_range + slack) + 1)
    run = _longest_run(array - centre, slack)
    longest = points_at(array, called, run)
    chart = RunOrder(
        tuple(array.tolist()),
        called,
        centre,
        centre - reach,
        centre + reach,
        mean_range,
        _D4 * mean_range,
        outside,
        jumps,
        longest,
        "",
    )
    return replace(chart, sentence=_run_sentence(chart))


def _longest_run(deviation: NDArray[np.float64], slack: float) -> range:
    """First of the longest stretches on one side of the centre; a point on the centre ends a stretch."""
    side = np.where(deviation > slack, 1, np.where(deviation < -slack, -1, 0))
    edges = [0, *(i + 1 for i, (a, b) in enumerate(pairwise(side)) if a != b), len(side)]
    stretches = [range(a, b) for a, b in pairwise(edges) if side[a] != 0]
    return max(stretches, key=len, default=range(0))


def _run_sentence(chart: RunOrder) -> str:
    parts = []
    if chart.outside:
        lie = "lies" if len(chart.outside) == 1 else "lie"
        parts.append(
            f"{holes_named(chart.outside)} {lie} outside the limits {chart.low:.5g} to {chart.high:.5g}: look for what"
            " was different there."
        )
    else:
        parts.append(f"All {len(chart.values)} holes lie within the limits {chart.low:.5g} to {chart.high:.5g}.")
    if chart.jumps:
        differ = "differs" if len(chart.jumps) == 1 else "differ"
        parts.append(f"{holes_named(chart.jumps)} {differ} from the hole before by more than {chart.range_limit:.5g}.")
    if len(chart.longest_run) >= _LONG_RUN:
        side = "above" if chart.longest_run[0].value > chart.centre else "below"
        first, last = chart.longest_run[0].name, chart.longest_run[-1].name
        parts.append(
            f"Holes {first} to {last}, {len(chart.longest_run)} in a row, lie {side} the centre: something moved, such"
            " as a bit that wears (eight in a row as a sign is common practice, no source at hand)."
        )
    if len(chart.values) < _FEW_IN_ORDER:
        parts.append(
            f"With fewer than {_FEW_IN_ORDER} holes the limits themselves are uncertain (common practice, no source)."
        )
    return " ".join(part[0].upper() + part[1:] for part in parts)
