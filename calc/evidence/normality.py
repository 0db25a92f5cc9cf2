"""Whether measured holes scatter normally: ordered values against normal scores, and the test of Shapiro and Wilk."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special, stats

from calc.base.errors import NotAccepted
from calc.evidence.readings import Values, moments, read_names, read_numbers, read_share

_FEW_FOR_NORMALITY = 8  # a rule of this workbook, no source: below it even a very skewed scatter passes nearly always

# Shares of holes that a normal plot names on its axis, each with its score.
SHARE_SCORES = tuple(
    (share, float(special.ndtri(share))) for share in (0.001, 0.01, 0.05, 0.2, 0.5, 0.8, 0.95, 0.99, 0.999)
)


@dataclass(frozen=True)
class NormalPlot:
    """Ordered values against normal scores, the line of the fitted normal, and the test.

    ``statistic`` and ``p`` are None where nothing can be judged.

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
        "scores: Filliben's medians of uniform order statistics, NIST/SEMATECH e-Handbook 1.3.3.21; test: Shapiro and"
        " Wilk (1965), as in scipy.stats.shapiro"
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
    NotAccepted
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
        raise NotAccepted(f"n must be at least 1, not {n}")
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
    NotAccepted
        Fewer than three values, one that is not finite, or a level outside (0, 1).

    References
    ----------
    S. S. Shapiro, M. B. Wilk, An analysis of variance test for normality (complete samples), Biometrika 52 (1965).
    """
    array = read_numbers(values, 3, "two points always lie on a straight line")
    called, level = read_names(names, len(array)), read_share("alpha", alpha)
    order = np.argsort(array, kind="stable")
    ordered, scores = array[order], np.array(normal_scores(n=len(array)))
    mean, sd = moments(array)
    correlation = statistic = p = None
    if sd:
        # The scores are symmetrical, so their mean is zero. NumPy's own goes through BLAS, whose order of adding
        # depends on the processor.
        correlation = math.fsum((ordered - mean) * scores) / (sd * math.sqrt((len(array) - 1) * math.fsum(scores**2)))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # n above 5000: said in the sentence instead
            # Moved and scaled, so that the unit of the values does not change a digit that matters.
            test = stats.shapiro((ordered - mean) / sd)
        statistic, p = float(test.statistic), float(test.pvalue)
    judged = statistic is not None and len(array) >= _FEW_FOR_NORMALITY
    looks = (p is not None and p >= level) if judged else None
    sentence = _normal_sentence(len(array), statistic, p, level, looks)
    ranked = tuple(called[int(i)] for i in order)
    return NormalPlot(
        tuple(ordered.tolist()),
        tuple(scores.tolist()),
        ranked,
        mean,
        float(sd or 0.0),
        correlation,
        statistic,
        p,
        level,
        looks,
        sentence,
    )


def _normal_sentence(n: int, statistic: float | None, p: float | None, alpha: float, looks: bool | None) -> str:
    if statistic is None or p is None:
        return "The values do not scatter, so there is no shape to judge."
    found = f"Shapiro–Wilk W = {statistic:.4f}, p = {p:.2g}"
    if looks is None:
        return (
            f"{n} holes are too few to judge the shape of the scatter: with fewer than {_FEW_FOR_NORMALITY} the test"
            f" ({found}) hardly ever objects."
        )
    tail = " With more than 5000 values p is rough, and any small departure shows." if n > 5000 else ""
    if looks:
        return (
            f"{found}: nothing speaks against a normal scatter at the level {alpha:g}; that is not a proof of"
            f" one.{tail}"
        )
    return (
        f"{found}: the scatter does not look normal at the level {alpha:g}. See whether single holes stand apart, "
        f"and prefer the limit that needs no normality where there are holes enough.{tail}"
    )
