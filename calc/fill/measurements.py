"""What measured holes say about the next ones: scatter, run order, normality, outliers, limits, and the overfill that follows.

Statistics on volumes of one kind of hole, in any one unit, in the order in which the holes were made. Nothing is left out
unless a reason is given for it, and every result says which question it answers. Limits come from `calc.fill.scatter`.
"""

from __future__ import annotations

import math
import warnings
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

from calc.base.formula import formula
from calc.base.units import ML, Gram, GramPerML, Mm3, Ratio
from calc.fill.hole import MeasuredHole
from calc.fill.scatter import holes_without_normality, prediction_factor, rank_without_normality, tolerance_factor

Values = Sequence[float] | NDArray[np.float64]

ONE_HOLE = "one weighed hole tells nothing about scatter: it takes at least 2 holes for a guess and many more for a sure one"
COUNTS = (1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100, 200)

# NIST/SEMATECH e-Handbook, 6.3.2.2: for ranges of two. 3/1.128 is often written as 2.66.
_D2, _D4 = 1.128, 3.267
_LONG_RUN = 8  # points in a row on one side of the centre: common practice for run charts, from memory
_FEW_IN_ORDER = 20  # common practice, no source
_FEW_FOR_NORMALITY = 8  # a rule of this workbook, no source: below it even a very skewed scatter passes nearly always
_FEW_FOR_ESD = 15  # NIST/SEMATECH e-Handbook, 1.3.5.17.3: the critical values hold reasonably from 15, well from 25
_NOISE = 1e-12


# ---- formulas ------------------------------------------------------------------------------------------------------------


@formula(symbol="V", source="definition", homogeneous=False, limits={"mass": (0.0, 1e7), "density": (1e-3, 100.0)})
def volume_of_mass(*, mass: Gram, density: GramPerML) -> ML:
    """Volume of adhesive that was weighed.

    Parameters
    ----------
    mass : float or ndarray [g]
        Mass of adhesive that went into the hole.
    density : float or ndarray [g/mL]
        Density of the mixed adhesive.

    Returns
    -------
    float or ndarray [mL]

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> volume_of_mass(mass=24.0, density=1.6)
    15.0
    """
    return mass / density


@formula(symbol="V_lim", source="definition; the factor says which limit it is")
def limit_of(*, V_m: Mm3, k: Ratio, s_V: Mm3) -> Mm3:
    """Limit from measured holes: the mean and so many standard deviations.

    Parameters
    ----------
    V_m : float or ndarray [mm³, or any one volume unit]
        Mean of the measured volumes.
    k : float or ndarray [-]
        Tolerance factor or prediction factor.
    s_V : float or ndarray [same unit]
        Standard deviation of the measured volumes.

    Returns
    -------
    float or ndarray [same unit]

    Examples
    --------
    >>> limit_of(V_m=14.0, k=2.5, s_V=0.4)
    15.0
    """
    return V_m + k * s_V


@formula(symbol="overfill", source="definition", limits={"V_dose": (0.0, 1e10), "V_req": (1e-9, 1e10)})
def overfill_of(*, V_dose: Mm3, V_req: Mm3) -> Ratio:
    """Overfill that a dose is, over the volume that the nominal sizes require.

    Parameters
    ----------
    V_dose : float or ndarray [mm³, or any one volume unit]
        Dose, such as a limit from measured holes.
    V_req : float or ndarray [same unit]
        Required volume of the nominal hole.

    Returns
    -------
    float or ndarray [-]
        0.10 is ten per cent more; negative when the dose is less than the nominal hole needs.

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> overfill_of(V_dose=15.0, V_req=12.5)
    0.19999999999999996
    """
    return V_dose / V_req - 1


def volume_of_profile(*, depths: Sequence[float], diameters: Sequence[float], phi: float, l_v: float, theta: float = 180.0) -> float:
    """Volume that a hole known by its diameters needs with the bar home.

    Parameters
    ----------
    depths, diameters : sequence of float [mm]
        Depths below the mouth, rising from 0 to the end of the full-diameter hole, and the diameter at each.
    phi, l_v : float [mm]
        Nominal diameter of the bar, embedment.
    theta : float [°]
        Included point angle; 180° is a flat bottom.

    Returns
    -------
    float [mm³]

    Raises
    ------
    RangeError
        Readings that describe no hole, a bar that does not fit, or a bar longer than the hole.

    Examples
    --------
    >>> round(volume_of_profile(depths=(0.0, 200.0), diameters=(20.0, 20.0), phi=16.0, l_v=200.0), 2)
    22619.47
    """
    return MeasuredHole(tuple(depths), tuple(diameters), theta).required(phi=phi, l_v=l_v)


def ratios(*, values: Values, V_req: Any) -> tuple[float, ...]:
    """Measured volumes as shares of what the nominal sizes require, so that holes of several groups can be looked at together.

    Parameters
    ----------
    values : sequence of float [any one volume unit]
        Measured volumes.
    V_req : float or sequence of float [same unit]
        Required volume of the nominal hole: one for all, or one for each.

    Returns
    -------
    tuple of float [-]
        1.10 needs ten per cent more than the nominal hole.

    Raises
    ------
    ValueError
        A volume that is not finite, or a required volume that is not above zero.

    Notes
    -----
    Holes of several groups may be pooled only where their ratios scatter alike; small holes mostly scatter more.

    Examples
    --------
    >>> ratios(values=[11.0, 42.0], V_req=[10.0, 40.0])
    (1.1, 1.05)
    """
    measured = _numbers(values, 1)
    required = np.broadcast_to(np.asarray(V_req, dtype=float), measured.shape) if np.size(V_req) in (1, len(measured)) else None
    if required is None:
        raise ValueError(f"{len(measured)} measured volumes, but {np.size(V_req)} required volumes; accepted: one for all or one for each")
    if not (np.isfinite(required) & (required > 0)).all():
        raise ValueError("the required volume must be a finite number above zero")
    return tuple((measured / required).tolist())


# ---- what comes in -------------------------------------------------------------------------------------------------------


def _numbers(values: Values, least: int, what: str = "") -> NDArray[np.float64]:
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise ValueError("the measurements must all be numbers") from None
    if array.ndim != 1:
        raise ValueError("the measurements must be one row of numbers")
    wrong = np.flatnonzero(~np.isfinite(array))
    if wrong.size:
        raise ValueError(f"measurement {wrong[0] + 1} is {array[wrong[0]]}; accepted: finite numbers")
    if len(array) < least:
        tail = f", because {what}" if what else ""
        holes = "hole is" if least == 1 else "holes are"
        raise ValueError(f"{len(array)} measured, but at least {least} {holes} needed{tail}")
    return array


def _named(names: Sequence[str] | None, count: int) -> tuple[str, ...]:
    if names is None:
        return tuple(str(i) for i in range(1, count + 1))
    if len(names) != count:
        raise ValueError(f"{count} measurements, but {len(names)} names; accepted: one name for each")
    twice = [name for name, times in Counter(names).items() if times > 1]
    if twice:
        raise ValueError(f"the name '{twice[0]}' is there twice; accepted: each hole named once")
    return tuple(names)


def _share(name: str, value: float) -> float:
    if not 0 < value < 1:
        raise ValueError(f"{name} must be between 0 and 1, both excluded (0.95 for 95 per cent), not {value:g}")
    return float(value)


def _moments(array: NDArray[np.float64]) -> tuple[float, float | None]:
    """Mean and standard deviation (n − 1), exactly zero where all values are the same."""
    mean = math.fsum(array) / len(array)
    if np.ptp(array) == 0:
        return float(array[0]), 0.0 if len(array) > 1 else None
    return mean, math.sqrt(math.fsum((array - mean) ** 2) / (len(array) - 1))


def _listed(items: Iterable[str]) -> str:
    parts = list(items)
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _percent(share: float) -> str:
    return f"{100 * share:.6g} %"


@dataclass(frozen=True)
class Point:
    """One measured hole that a result names: its name, its place in the row (from 0), its value."""

    name: str
    index: int
    value: float


def _points(array: NDArray[np.float64], names: tuple[str, ...], where: Iterable[int]) -> tuple[Point, ...]:
    return tuple(Point(names[int(i)], int(i), float(array[i])) for i in where)


def _holes(points: Sequence[Point]) -> str:
    return f"hole{'s' if len(points) > 1 else ''} {_listed(p.name for p in points)}"


# ---- leaving out, with a reason ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Kept:
    """The holes that stay, and those left out, each with its reason."""

    values: tuple[float, ...]
    names: tuple[str, ...]
    left_out: tuple[tuple[Point, str], ...]

    @property
    def sentence(self) -> str:
        """What was left out and why."""
        if not self.left_out:
            return f"All {len(self.values)} measured holes are kept."
        return (
            f"{len(self.values)} measured holes are kept. Left out: "
            + "; ".join(f"hole {p.name} ({p.value:.5g}): {reason}" for p, reason in self.left_out)
            + "."
        )


def leave_out(*, values: Values, reasons: Mapping[str, str], names: Sequence[str] | None = None) -> Kept:
    """Leave holes out, each for a reason that is written down; a hole without one stays.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes in run order.
    reasons : mapping of str to str
        Name of the hole to the reason.
    names : sequence of str, optional
        Names of the holes; 1, 2, 3 … when left out.

    Returns
    -------
    Kept
        Values [same unit].

    Raises
    ------
    ValueError
        A name that no hole has, an empty reason, or nothing that stays.

    Examples
    --------
    >>> leave_out(values=[14.0, 30.0, 14.5], reasons={"2": "ran into a void"}).values
    (14.0, 14.5)
    """
    array = _numbers(values, 1)
    called = _named(names, len(array))
    for name, reason in reasons.items():
        if name not in called:
            raise ValueError(f"no measured hole is named '{name}', so it cannot be left out")
        if not reason.strip():
            raise ValueError(f"hole {name} cannot be left out without a reason; write what was wrong with it")
    stay = [i for i, name in enumerate(called) if name not in reasons]
    if not stay:
        raise ValueError("every measured hole is left out; at least one must stay")
    gone = _points(array, called, (i for i, name in enumerate(called) if name in reasons))
    return Kept(tuple(array[stay].tolist()), tuple(called[i] for i in stay), tuple((p, reasons[p.name].strip()) for p in gone))


# ---- summary -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Summary:
    """Number, mean, standard deviation (None for one hole), smallest and largest; in the unit of the values."""

    n: int
    mean: float
    sd: float | None
    min: float
    max: float
    sentence: str


def summary(*, values: Values) -> Summary:
    """Number, mean, standard deviation and range of the measured volumes.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes.

    Returns
    -------
    Summary
        ``sd`` with n − 1 [same unit]; None for a single hole.

    Raises
    ------
    ValueError
        No value, or one that is not finite.

    Examples
    --------
    >>> summary(values=[14.0]).sd is None
    True
    """
    array = _numbers(values, 1)
    mean, sd = _moments(array)
    n = len(array)
    if sd is None:
        sentence = _sentence(ONE_HOLE)
    elif sd == 0:
        sentence = f"All {n} holes measured the same: either they do not scatter, or the reading is too coarse to show it."
    else:
        sentence = f"{n} holes, mean {mean:.5g}, standard deviation {sd:.3g}" + (f", {_percent(float(f'{sd / mean:.3g}'))} of the mean." if mean > 0 else ".")
    return Summary(n, mean, sd, float(array.min()), float(array.max()), sentence)


# ---- run order -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RunOrder:
    """Individuals chart with moving range, in the unit of the values; ``jumps`` are holes that differ too much from the one before."""

    values: tuple[float, ...]
    names: tuple[str, ...]
    centre: float
    low: float
    high: float
    moving_ranges: tuple[float, ...]
    mean_moving_range: float
    range_limit: float
    outside: tuple[Point, ...]
    jumps: tuple[Point, ...]
    longest_run: tuple[Point, ...]
    sentence: str
    source: str = "Shewhart individuals chart, d2 = 1.128 and D4 = 3.267 for ranges of two: NIST/SEMATECH e-Handbook, 6.3.2.2"


def run_order(*, values: Values, names: Sequence[str] | None = None) -> RunOrder:
    """Chart of individuals in run order: centre, limits at three sigma from the mean moving range, and what lies outside.

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
    ValueError
        Fewer than two values, or one that is not finite.

    Notes
    -----
    The moving range sees scatter from one hole to the next, so a drift (a bit that wears) shows as points outside or as a long
    run on one side of the centre. The lower limit may be negative; it is not cut off.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.

    Examples
    --------
    >>> chart = run_order(values=[10.0, 12.0, 11.0])
    >>> chart.centre, chart.mean_moving_range
    (11.0, 1.5)
    """
    array = _numbers(values, 2, "a moving range is the difference of two")
    called = _named(names, len(array))
    centre, _ = _moments(array)
    ranges = np.abs(np.diff(array))
    mean_range = math.fsum(ranges) / len(ranges)
    reach = 3 / _D2 * mean_range
    slack = _NOISE * float(np.abs(array).max())
    outside = _points(array, called, np.flatnonzero((array > centre + reach + slack) | (array < centre - reach - slack)))
    jumps = _points(array, called, np.flatnonzero(ranges > _D4 * mean_range + slack) + 1)
    run = _longest_run(array - centre, slack)
    longest = _points(array, called, run)
    chart = RunOrder(
        tuple(array.tolist()), called, centre, centre - reach, centre + reach, tuple(ranges.tolist()), mean_range, _D4 * mean_range, outside, jumps, longest, ""
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
        parts.append(f"{_holes(chart.outside)} {lie} outside the limits {chart.low:.5g} to {chart.high:.5g}: look for what was different there.")
    else:
        parts.append(f"All {len(chart.values)} holes lie within the limits {chart.low:.5g} to {chart.high:.5g}.")
    if chart.jumps:
        differ = "differs" if len(chart.jumps) == 1 else "differ"
        parts.append(f"{_holes(chart.jumps)} {differ} from the hole before by more than {chart.range_limit:.5g}.")
    if len(chart.longest_run) >= _LONG_RUN:
        side = "above" if chart.longest_run[0].value > chart.centre else "below"
        first, last = chart.longest_run[0].name, chart.longest_run[-1].name
        parts.append(
            f"Holes {first} to {last}, {len(chart.longest_run)} in a row, lie {side} the centre: something moved, such as a bit that wears "
            f"(eight in a row as a sign is common practice, no source at hand)."
        )
    if len(chart.values) < _FEW_IN_ORDER:
        parts.append(f"With fewer than {_FEW_IN_ORDER} holes the limits themselves are uncertain (common practice, no source).")
    return " ".join(part[0].upper() + part[1:] for part in parts)


# ---- normal plot ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class NormalPlot:
    """Ordered values against normal scores, the line of the fitted normal, and the test; ``statistic`` and ``p`` are None where nothing can be judged.

    ``looks_normal`` is None when n is too small or the values do not scatter.
    """

    ordered: tuple[float, ...]
    scores: tuple[float, ...]
    names: tuple[str, ...]
    mean: float
    sd: float
    correlation: float | None
    statistic: float | None
    p: float | None
    alpha: float
    looks_normal: bool | None
    sentence: str
    source: str = (
        "scores: Filliben's medians of uniform order statistics, NIST/SEMATECH e-Handbook 1.3.3.21; test: Shapiro and Wilk (1965), as in scipy.stats.shapiro"
    )


def normal_scores(*, n: int) -> tuple[float, ...]:
    """Normal scores of n ordered values: normal quantiles of Filliben's medians of the uniform order statistics.

    Parameters
    ----------
    n : int
        Number of values.

    Returns
    -------
    tuple of float [-]
        Rising, symmetrical about zero.

    Raises
    ------
    ValueError
        When ``n`` is less than one.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.3.21.

    Examples
    --------
    >>> [round(score, 4) for score in normal_scores(n=3)]
    [-0.8193, 0.0, 0.8193]
    """
    if n < 1:
        raise ValueError(f"n must be at least 1, not {n}")
    median = (np.arange(1, n + 1) - 0.3175) / (n + 0.365)
    median[-1] = 0.5 ** (1 / n)
    median[0] = 1 - median[-1]
    scores = special.ndtri(median)
    return tuple(((scores - scores[::-1]) / 2).tolist())  # symmetrical to the last bit


def normal_plot(*, values: Values, names: Sequence[str] | None = None, alpha: float = 0.05) -> NormalPlot:
    """Ordered values against normal scores, with the test of Shapiro and Wilk.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes.
    names : sequence of str, optional
        Names of the holes; 1, 2, 3 … when left out.
    alpha : float
        Level of the test [-].

    Returns
    -------
    NormalPlot
        Values, mean and sd [same unit]; the straight line of the plot is mean + sd × score.

    Raises
    ------
    ValueError
        Fewer than three values, one that is not finite, or a level outside (0, 1).

    References
    ----------
    S. S. Shapiro, M. B. Wilk, An analysis of variance test for normality (complete samples), Biometrika 52 (1965).
    """
    array = _numbers(values, 3, "two points always lie on a straight line")
    called, level = _named(names, len(array)), _share("alpha", alpha)
    order = np.argsort(array, kind="stable")
    ordered, scores = array[order], np.array(normal_scores(n=len(array)))
    mean, sd = _moments(array)
    correlation = statistic = p = None
    if sd:
        correlation = float(np.corrcoef(ordered, scores)[0, 1])
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # n above 5000: said in the sentence instead
            # Moved and scaled, so that the unit of the values does not change a digit that matters.
            test = stats.shapiro((ordered - mean) / sd)
        statistic, p = float(test.statistic), float(test.pvalue)
    judged = statistic is not None and len(array) >= _FEW_FOR_NORMALITY
    looks = (p is not None and p >= level) if judged else None
    sentence = _normal_sentence(len(array), statistic, p, level, looks)
    ranked = tuple(called[int(i)] for i in order)
    return NormalPlot(tuple(ordered.tolist()), tuple(scores.tolist()), ranked, mean, float(sd or 0.0), correlation, statistic, p, level, looks, sentence)


def _normal_sentence(n: int, statistic: float | None, p: float | None, alpha: float, looks: bool | None) -> str:
    if statistic is None or p is None:
        return "The values do not scatter, so there is no shape to judge."
    found = f"Shapiro–Wilk W = {statistic:.4f}, p = {p:.2g}"
    if looks is None:
        return f"{n} holes are too few to judge the shape of the scatter: with fewer than {_FEW_FOR_NORMALITY} the test ({found}) hardly ever objects."
    tail = " With more than 5000 values p is rough, and any small departure shows." if n > 5000 else ""
    if looks:
        return f"{found}: nothing speaks against a normal scatter at the level {alpha:g}; that is not a proof of one.{tail}"
    return (
        f"{found}: the scatter does not look normal at the level {alpha:g}. See whether single holes stand apart, "
        f"and prefer the limit that needs no normality where there are holes enough.{tail}"
    )


# ---- outliers ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class EsdStep:
    """One step of the test: the hole farthest from the mean of those that remain, and whether it is farther than chance allows."""

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


def outliers(*, values: Values, names: Sequence[str] | None = None, most: int | None = None, alpha: float = 0.05) -> Outliers:
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
    ValueError
        Fewer than three values, one that is not finite, more outliers than n − 2, or a level outside (0, 1).

    References
    ----------
    B. Rosner, Percentage points for a generalized ESD many-outlier procedure, Technometrics 25 (1983); NIST/SEMATECH e-Handbook of
    Statistical Methods, 1.3.5.17.3.

    Examples
    --------
    >>> [p.name for p in outliers(values=[14.1, 13.9, 14.0, 14.2, 13.8, 14.1, 14.0, 19.0]).outliers]
    ['8']
    """
    array = _numbers(values, 3, "an outlier needs others to stand apart from")
    called, level, n = _named(names, len(array)), _share("alpha", alpha), len(array)
    highest = min(10, max(1, n // 10)) if most is None else most
    if not (highest == int(highest) and 1 <= highest <= n - 2):
        raise ValueError(f"up to {highest:g} outliers cannot be looked for among {n} holes; accepted: a whole number from 1 to {n - 2}")
    remaining = list(range(n))
    steps: list[EsdStep] = []
    for _ in range(int(highest)):
        rest = array[remaining]
        mean, sd = _moments(rest)
        if not sd:
            break  # the remaining holes are all the same: none of them stands apart
        deviation = np.abs(rest - mean) / sd
        worst = int(np.argmax(deviation))
        critical = _critical(len(rest), level)
        statistic = float(deviation[worst])
        steps.append(EsdStep(_points(array, called, [remaining[worst]])[0], statistic, critical, statistic > critical))
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
    listed = _listed(f"{p.name} ({p.value:.5g})" for p in found)
    return (
        f"Hole{'' if one else 's'} {listed} {'stands' if one else 'stand'} apart from the others ({looked}). "
        f"{'It stays' if one else 'They stay'} in unless a reason is written for {'it' if one else 'each'}: "
        f"a hole that takes much is what an overfill is for, not a mistake by itself.{rough}"
    )


# ---- limits --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Limit:
    """One limit: the question it answers, what it is, or how many holes it would take.

    ``low`` is None for a one-sided limit, ``high`` is None when ``needed`` holes were not measured. ``factor`` is the number of standard
    deviations above the mean; ``rank`` the place among the ordered values, counted from the smallest.
    """

    kind: Literal["tolerance", "prediction", "mean", "without_normality"]
    question: str
    low: float | None
    high: float | None
    factor: float | None
    rank: int | None
    share: float | None
    confidence: float
    needed: int
    sentence: str


@dataclass(frozen=True)
class Limits:
    """The four limits from the same holes, side by side; in the unit of the values."""

    tolerance: Limit
    prediction: Limit
    mean: Limit
    without_normality: Limit

    def __iter__(self) -> Any:
        """Go through the four limits."""
        return iter((self.tolerance, self.prediction, self.mean, self.without_normality))


def upper_limits(*, values: Values, share: float = 0.95, confidence: float = 0.95) -> Limits:
    """Limits for an overfill from measured holes, each with the question that it answers.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes that are kept.
    share : float
        Share of all holes that is to be covered [-].
    confidence : float
        Probability that the statement holds [-]; for the prediction limit, that the next hole stays below.

    Returns
    -------
    Limits
        In the same unit; a limit for which there are too few holes is None and says how many it takes.

    Raises
    ------
    ValueError
        No value, one that is not finite, or a share or confidence outside (0, 1).

    Examples
    --------
    >>> found = upper_limits(values=[14.0, 14.4, 13.8, 14.1, 14.2], share=0.90, confidence=0.90)
    >>> round(found.tolerance.high, 3), found.without_normality.high, found.without_normality.needed
    (14.713, None, 22)
    """
    array = _numbers(values, 1)
    _share("share", share)
    _share("confidence", confidence)
    return Limits(
        _tolerance(array, share, confidence), _prediction(array, confidence), _mean_interval(array, confidence), _distribution_free(array, share, confidence)
    )


def _tolerance(array: NDArray[np.float64], share: float, confidence: float) -> Limit:
    question = (
        f"Which amount do {_percent(share)} of all such holes not exceed, with confidence {_percent(confidence)} that this is so? This is the one for a dose."
    )
    return _normal_limit("tolerance", question, array, lambda n: tolerance_factor(n=n, share=share, confidence=confidence), share, confidence)


def _prediction(array: NDArray[np.float64], confidence: float) -> Limit:
    question = f"Which amount will the very next single hole not exceed, in {_percent(confidence)} of such cases? It says nothing about all the holes after it."
    return _normal_limit("prediction", question, array, lambda n: prediction_factor(n=n, confidence=confidence), None, confidence)


def _normal_limit(kind: Any, question: str, array: NDArray[np.float64], factor_of: Any, share: float | None, confidence: float) -> Limit:
    mean, sd = _moments(array)
    n = len(array)
    if sd is None:
        return Limit(kind, question, None, None, None, None, share, confidence, 2, _sentence(ONE_HOLE))
    factor = float(factor_of(n))
    high = float(limit_of(V_m=mean, k=factor, s_V=sd))
    sentence = f"Mean plus {factor:.4g} standard deviations of {n} holes, {high:.5g}, if the scatter is normal."
    return Limit(kind, question, None, high, factor, None, share, confidence, 2, sentence)


def _mean_interval(array: NDArray[np.float64], confidence: float) -> Limit:
    question = "Where does the mean of all such holes lie? It is for the amount to order, not for a dose: about half of all holes take more than the mean."
    mean, sd = _moments(array)
    n = len(array)
    if sd is None:
        return Limit("mean", question, None, None, None, None, None, confidence, 2, _sentence(ONE_HOLE))
    factor = float(special.stdtrit(n - 1, (1 + confidence) / 2)) / math.sqrt(n)
    low, high = float(limit_of(V_m=mean, k=-factor, s_V=sd)), float(limit_of(V_m=mean, k=factor, s_V=sd))
    sentence = f"Between {low:.5g} and {high:.5g} with confidence {_percent(confidence)}, two-sided; the mean of the {n} holes is {mean:.5g}."
    return Limit("mean", question, low, high, factor, None, None, confidence, 2, sentence)


def _distribution_free(array: NDArray[np.float64], share: float, confidence: float) -> Limit:
    question = f"Which amount do {_percent(share)} of all such holes not exceed, with confidence {_percent(confidence)}, whatever the shape of the scatter?"
    needed = int(holes_without_normality(share=share, confidence=confidence))
    n = len(array)
    if n < needed:
        sentence = f"It takes at least {needed} measured holes, and there {'is' if n == 1 else 'are'} {n}: with fewer, not even the largest of them is enough."
        return Limit("without_normality", question, None, None, None, None, share, confidence, needed, sentence)
    rank = rank_without_normality(n=n, share=share, confidence=confidence)
    high = float(np.sort(array)[rank - 1])
    place = "the largest" if rank == n else f"number {rank} from the smallest"
    return Limit("without_normality", question, None, high, None, rank, share, confidence, needed, f"{high:.5g}, {place} of the {n} measured holes.")


# ---- what more holes are worth -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ConfidenceRow:
    """What n measured holes allow: factors, the limit for a mean and sd, and the overfill that follows; None where n does not allow it.

    ``confidence_at_factor`` is how sure n holes make the share with one factor that is the same for every n.
    """

    n: int
    factor: float | None
    next_hole_factor: float | None
    confidence_at_factor: float | None
    limit: float | None
    overfill: float | None
    sentence: str


@dataclass(frozen=True)
class ConfidenceTable:
    """Rows for rising n; ``endless`` is the factor that endlessly many holes would come to."""

    rows: tuple[ConfidenceRow, ...]
    share: float
    confidence: float
    endless: float


def confidence_of(*, n: int, share: float, factor: float) -> float:
    """Confidence with which mean + factor × sd of n normal measurements covers the share: the tolerance factor read backwards.

    Parameters
    ----------
    n : int
        Number of measured holes.
    share : float
        Share of all holes that is to be covered [-].
    factor : float
        Standard deviations above the mean [-].

    Returns
    -------
    float [-]

    Raises
    ------
    ValueError
        Fewer than two holes, a share outside (0, 1), or a factor that is not finite.

    Examples
    --------
    >>> round(confidence_of(n=10, share=0.95, factor=2.91096), 4)
    0.95
    """
    _share("share", share)
    if not (n == int(n) and n >= 2):
        raise ValueError(f"n must be a whole number of at least 2, not {n:g}: {ONE_HOLE}")
    if not math.isfinite(factor):
        raise ValueError(f"the factor must be a finite number, not {factor}")
    root = math.sqrt(n)
    return float(stats.nct.cdf(factor * root, n - 1, float(special.ndtri(share)) * root))


def confidence_with_n(
    *,
    share: float,
    confidence: float,
    mean: float | None = None,
    sd: float | None = None,
    V_req: float | None = None,
    factor: float | None = None,
    counts: Sequence[int] = COUNTS,
) -> ConfidenceTable:
    """How the tolerance factor, and the overfill that follows from it, shrinks as more holes are measured.

    Parameters
    ----------
    share, confidence : float
        Share of all holes that is to be covered, and probability that the statement holds [-].
    mean, sd : float, optional
        Mean and standard deviation that the holes are taken to keep [any one volume unit].
    V_req : float, optional
        Required volume of the nominal hole [same unit].
    factor : float, optional
        Standard deviations above the mean that are taken whatever n is [-]; the rows then say how sure that makes the share.
    counts : sequence of int
        Numbers of holes.

    Returns
    -------
    ConfidenceTable
        Factors [-], limits [same unit], overfills [-]. A single hole gives none of them.

    Raises
    ------
    ValueError
        A share or confidence outside (0, 1), a negative sd, a count below one, or a required volume that is not above zero.

    Examples
    --------
    >>> table = confidence_with_n(share=0.95, confidence=0.95, counts=(1, 5, 10))
    >>> [row.factor and round(row.factor, 3) for row in table.rows]
    [None, 4.203, 2.911]
    """
    _share("share", share)
    _share("confidence", confidence)
    if (mean is None) != (sd is None):
        raise ValueError("give both the mean and the standard deviation, or neither")
    if mean is not None and sd is not None and not (math.isfinite(mean) and math.isfinite(sd) and sd >= 0):
        raise ValueError(f"the mean must be finite and the standard deviation zero or more, not {mean:g} and {sd:g}")
    endless = float(special.ndtri(share))
    rows = []
    for n in counts:
        if not (n == int(n) and n >= 1):
            raise ValueError(f"a number of holes must be a whole number of at least 1, not {n:g}")
        if n == 1:
            rows.append(ConfidenceRow(1, None, None, None, None, None, _sentence(ONE_HOLE)))
            continue
        k = float(tolerance_factor(n=n, share=share, confidence=confidence))
        limit = None if mean is None or sd is None else float(limit_of(V_m=mean, k=k, s_V=sd))
        overfill = None if limit is None or V_req is None else float(overfill_of(V_dose=limit, V_req=V_req))
        sentence = f"{n} holes: mean plus {k:.4g} standard deviations" + ("." if overfill is None else f", an overfill of {overfill:.3f}.")
        sure = None if factor is None else confidence_of(n=n, share=share, factor=factor)
        next_hole = float(prediction_factor(n=n, confidence=share))
        rows.append(ConfidenceRow(int(n), k, next_hole, sure, limit, overfill, sentence))
    return ConfidenceTable(tuple(rows), share, confidence, endless)
