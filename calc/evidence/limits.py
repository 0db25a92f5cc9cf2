"""What measured holes say about the next ones.

Scatter, run order, normality, outliers, limits, and the overfill that follows.

Statistics on volumes of one kind of hole, in any one unit, in the order in which the holes were made. Nothing is left
out unless a reason is given for it, and every result says which question it answers. Limits come from
`calc.scatter.factors`.

Here are the formulas and the limits; `readings`, `runorder`, `normality` and `outliers` are modules of their own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import sqrt
from calc.base.units import ML, Gram, GramPerML, Mm3, Ratio
from calc.evidence.readings import (
    ONE_HOLE,
    Values,
    as_sentence,
    moments,
    percent,
    read_numbers,
    read_share,
)
from calc.scatter.factors import (
    holes_for_tolerance,
    holes_without_normality,
    prediction_factor,
    rank_without_normality,
    tolerance_factor,
)

COUNTS = (1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100, 200)


# ---- formulas ------------------------------------------------------------------------------------


@formula(symbol="V", source="definition", homogeneous=False, limits={"mass": (0.0, 1e7), "density": (1e-3, 100.0)})
def volume_of_mass(*, mass: Gram, density: GramPerML) -> ML:
    """Volume of adhesive that was weighed.

    Notes
    -----
    ``mass`` is what went into the hole.

    Examples
    --------
    >>> volume_of_mass(mass=24.0, density=1.6)
    15.0
    """
    return mass / density


@formula(symbol="V_lim", source="definition; the factor says which limit it is")
def limit_of(*, V_m: Mm3, k: Ratio, s_V: Mm3) -> Mm3:
    """Limit from measured holes: the mean and so many standard deviations.

    Notes
    -----
    ``k`` is a tolerance factor or a prediction factor. Volumes may be in any one unit; the result is in the same.

    Examples
    --------
    >>> limit_of(V_m=14.0, k=2.5, s_V=0.4)
    15.0
    """
    return V_m + k * s_V


@formula(
    symbol="s_V",
    source="JCGM 100:2008, 4.3.7 and F.2.2.1 (from memory)",
    limits={"s_r": (0.0, 1e10), "delta_V": (0.0, 1e10)},
)
def scatter_with_resolution(*, s_r: Mm3, delta_V: Mm3) -> Mm3:
    """Standard deviation of measured holes, with what the resolution of a reading hides.

    Notes
    -----
    A reading stands for every volume within half a step of it, each as likely: a rectangular distribution, whose
    standard deviation is the step over the square root of 12. So three equal readings are not three equal holes.
    Volumes may be in any one unit; the result is in the same.

    Examples
    --------
    >>> round(scatter_with_resolution(s_r=0.0, delta_V=1.0), 4)
    0.2887
    """
    return sqrt(s_r**2 + delta_V**2 / 12)


@formula(symbol="overfill", source="definition", limits={"V_dose": (0.0, 1e10), "V_req": (1e-9, 1e10)})
def overfill_of(*, V_dose: Mm3, V_req: Mm3) -> Ratio:
    """Overfill that a dose is, over the volume that the nominal sizes require.

    Notes
    -----
    0.10 is ten per cent more; negative when the dose is less than the nominal hole needs. ``V_req`` is that of the
    nominal hole; the dose may be a limit from measured holes. Both may be in any one unit.

    Examples
    --------
    >>> overfill_of(V_dose=15.0, V_req=12.5)
    0.19999999999999996
    """
    return V_dose / V_req - 1


# ---- limits --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Limit:
    """One limit: the question it answers, what it is, or how many holes it would take.

    ``low`` is None for a one-sided limit, ``high`` is None when ``needed`` holes were not measured. ``factor`` is the
    number of standard deviations above the mean; ``rank`` the place among the ordered values, counted from the
    smallest.
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

    def withheld(self, n: int) -> Limits:
        """The same without the numbers that so few holes do not carry."""
        share, confidence = self.tolerance.share, self.tolerance.confidence
        assert share is not None
        why = not_enough(n=n, share=share, confidence=confidence)
        if not why:
            return self
        needed = holes_for_tolerance(share=share, confidence=confidence)
        tolerance, ahead = (
            replace(limit, high=None, factor=None, needed=needed, sentence=as_sentence(why))
            for limit in (self.tolerance, self.prediction)
        )
        return replace(self, tolerance=tolerance, prediction=ahead)


def not_enough(*, n: int, share: float, confidence: float) -> str:
    """Say that so few measured holes give no overfill, and how many it takes; empty where they are enough.

    Parameters
    ----------
    n : int
        Number of measured holes.
    share, confidence : float
        Share of all holes that is to be covered, and probability that the statement holds [-].

    Returns
    -------
    str

    Examples
    --------
    >>> not_enough(n=3, share=0.9, confidence=0.9)
    'not enough holes: 3 are measured, and a share of 90 % with confidence 90 % takes 8 or more'
    """
    needed = holes_for_tolerance(share=share, confidence=confidence)
    if n >= needed:
        return ""
    return (
        f"not enough holes: {n} are measured, and a share of {percent(share)} with confidence {percent(confidence)}"
        f" takes {needed} or more"
    )


def upper_limits(*, values: Values, share: float = 0.95, confidence: float = 0.95, resolution: float = 0.0) -> Limits:
    """Limits for an overfill from measured holes, each with the question that it answers.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes that are kept.
    share : float
        Share of all holes that is to be covered [-].
    confidence : float
        Probability that the statement holds [-]; for the prediction limit, that the next hole stays below.
    resolution : float
        Step of a reading, whose share counts in the scatter [same unit].

    Returns
    -------
    Limits
        In the same unit; a limit for which there are too few holes is None and says how many it takes.

    Raises
    ------
    NotAccepted
        No value, one that is not finite, or a share or confidence outside (0, 1).

    Examples
    --------
    >>> found = upper_limits(values=[14.0, 14.4, 13.8, 14.1, 14.2], share=0.90, confidence=0.90)
    >>> round(found.tolerance.high, 3), found.without_normality.high, found.without_normality.needed
    (14.713, None, 22)
    """
    array = read_numbers(values, 1)
    read_share("share", share)
    read_share("confidence", confidence)
    mean, sd = moments(array)
    sample = _Sample(
        len(array), mean, None if sd is None else float(scatter_with_resolution(s_r=sd, delta_V=resolution))
    )
    return Limits(
        _tolerance(sample, share, confidence),
        _prediction(sample, confidence),
        _mean_interval(sample, confidence),
        _distribution_free(array, share, confidence),
    )


@dataclass(frozen=True)
class _Sample:
    """What a limit from a normal scatter is made of.

    ``sd`` holds the share of the resolution and is None for one hole.
    """

    n: int
    mean: float
    sd: float | None


def _tolerance(sample: _Sample, share: float, confidence: float) -> Limit:
    question = (
        f"Which amount do {percent(share)} of all such holes not exceed, with confidence {percent(confidence)} that"
        " this is so? This is the one for a dose."
    )
    return _normal_limit(
        "tolerance",
        question,
        sample,
        lambda n: tolerance_factor(n=n, share=share, confidence=confidence),
        share,
        confidence,
    )


def _prediction(sample: _Sample, confidence: float) -> Limit:
    question = (
        f"Which amount will the very next single hole not exceed, in {percent(confidence)} of such cases? It says"
        " nothing about all the holes after it."
    )
    return _normal_limit(
        "prediction", question, sample, lambda n: prediction_factor(n=n, confidence=confidence), None, confidence
    )


def _normal_limit(
    kind: Any, question: str, sample: _Sample, factor_of: Any, share: float | None, confidence: float
) -> Limit:
    n, mean, sd = sample.n, sample.mean, sample.sd
    if sd is None:
        return Limit(kind, question, None, None, None, None, share, confidence, 2, as_sentence(ONE_HOLE))
    factor = float(factor_of(n))
    high = float(limit_of(V_m=mean, k=factor, s_V=sd))
    sentence = f"Mean plus {factor:.4g} standard deviations of {n} holes, {high:.5g}, if the scatter is normal."
    return Limit(kind, question, None, high, factor, None, share, confidence, 2, sentence)


def _mean_interval(sample: _Sample, confidence: float) -> Limit:
    question = (
        "Where does the mean of all such holes lie? It is for the amount to order, not for a dose: about half of all"
        " holes take more than the mean."
    )
    n, mean, sd = sample.n, sample.mean, sample.sd
    if sd is None:
        return Limit("mean", question, None, None, None, None, None, confidence, 2, as_sentence(ONE_HOLE))
    factor = float(special.stdtrit(n - 1, (1 + confidence) / 2)) / math.sqrt(n)
    low, high = float(limit_of(V_m=mean, k=-factor, s_V=sd)), float(limit_of(V_m=mean, k=factor, s_V=sd))
    sentence = (
        f"Between {low:.5g} and {high:.5g} with confidence {percent(confidence)}, two-sided; the mean of the {n} holes"
        f" is {mean:.5g}."
    )
    return Limit("mean", question, low, high, factor, None, None, confidence, 2, sentence)


def _distribution_free(array: NDArray[np.float64], share: float, confidence: float) -> Limit:
    question = (
        f"Which amount do {percent(share)} of all such holes not exceed, with confidence {percent(confidence)},"
        " whatever the shape of the scatter?"
    )
    needed = int(holes_without_normality(share=share, confidence=confidence))
    n = len(array)
    if n < needed:
        sentence = (
            f"It takes at least {needed} measured holes, and there {'is' if n == 1 else 'are'} {n}: with fewer, not"
            " even the largest of them is enough."
        )
        return Limit("without_normality", question, None, None, None, None, share, confidence, needed, sentence)
    rank = rank_without_normality(n=n, share=share, confidence=confidence)
    high = float(np.sort(array)[rank - 1])
    place = "the largest" if rank == n else f"number {rank} from the smallest"
    return Limit(
        "without_normality",
        question,
        None,
        high,
        None,
        rank,
        share,
        confidence,
        needed,
        f"{high:.5g}, {place} of the {n} measured holes.",
    )


# ---- what more holes are worth -------------------------------------------------------------------


@dataclass(frozen=True)
class ConfidenceRow:
    """What n measured holes allow: factors, the limit for a mean and sd, and the overfill that follows.

    None where n does not allow it.
    """

    n: int
    factor: float | None
    next_hole_factor: float | None
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

    @property
    def endless_overfill(self) -> float | None:
        """Overfill that endlessly many holes would come to: a straight line in the factor.

        None where none follows from the rows.
        """
        known = [(row.factor, row.overfill) for row in self.rows if row.factor is not None and row.overfill is not None]
        if len(known) < 2:
            return None
        (k_1, first), (k_2, last) = known[0], known[-1]
        return last + (first - last) * (self.endless - k_2) / (k_1 - k_2)


def confidence_with_n(
    *,
    share: float,
    confidence: float,
    mean: float | None = None,
    sd: float | None = None,
    V_req: float | None = None,
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
    counts : sequence of int
        Numbers of holes.

    Returns
    -------
    ConfidenceTable
        Factors [-], limits [same unit], overfills [-]. A single hole gives none of them.

    Raises
    ------
    NotAccepted
        A share or confidence outside (0, 1), a negative sd, a count below one, or a required volume that is not above
        zero.

    Examples
    --------
    >>> table = confidence_with_n(share=0.95, confidence=0.95, counts=(1, 5, 10))
    >>> [row.factor and round(row.factor, 3) for row in table.rows]
    [None, 4.203, 2.911]
    """
    read_share("share", share)
    read_share("confidence", confidence)
    if (mean is None) != (sd is None):
        raise NotAccepted("give both the mean and the standard deviation, or neither")
    if mean is not None and sd is not None and not (math.isfinite(mean) and math.isfinite(sd) and sd >= 0):
        raise NotAccepted(f"the mean must be finite and the standard deviation zero or more, not {mean:g} and {sd:g}")
    endless = float(special.ndtri(share))
    rows = []
    for n in counts:
        if not (n == int(n) and n >= 1):
            raise NotAccepted(f"a number of holes must be a whole number of at least 1, not {n:g}")
        if n == 1:
            rows.append(ConfidenceRow(1, None, None, None, None, as_sentence(ONE_HOLE)))
            continue
        k = float(tolerance_factor(n=n, share=share, confidence=confidence))
        limit = None if mean is None or sd is None else float(limit_of(V_m=mean, k=k, s_V=sd))
        overfill = None if limit is None or V_req is None else float(overfill_of(V_dose=limit, V_req=V_req))
        sentence = f"{n} holes: mean plus {k:.4g} standard deviations" + (
            "." if overfill is None else f", an overfill of {overfill:.3f}."
        )
        next_hole = float(prediction_factor(n=n, confidence=share))
        rows.append(ConfidenceRow(int(n), k, next_hole, limit, overfill, sentence))
    return ConfidenceTable(tuple(rows), share, confidence, endless)
