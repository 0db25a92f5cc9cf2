"""Factors and ranks that turn a few measured holes into a limit for many.

Tolerance, prediction, and without normality.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from scipy import special, stats

from calc.base.errors import NotAccepted
from calc.scatter.accepted import Array, plain, require_each, require_part

# Standard deviations that not knowing mean and scatter may cost at most: with fewer holes the factor is mostly
# ignorance, and whether
# the scatter is normal, which the factor takes for granted, cannot be seen. A convention of this workbook; no source.
_DEAREST = 1.0


def tolerance_factor(*, n: Any, share: Any, confidence: Any) -> Any:
    """One-sided tolerance factor k.

    Mean + k s of n normal measurements is not exceeded by the share, with the confidence.

    Parameters
    ----------
    n : int
        Number of measured holes.
    share : float or ndarray
        Share of all holes that are to be covered [-].
    confidence : float or ndarray
        Probability that the statement holds [-].

    Returns
    -------
    float or array
        k [-], exact: the non-central t quantile t'(confidence; n − 1, z_share √n)/√n.

    Raises
    ------
    NotAccepted
        For fewer than two measurements, or a share or confidence outside (0, 1).

    References
    ----------
    ISO 16269-6:2014; Montgomery and Runger, Applied Statistics and Probability for Engineers, 7th ed., Table XII.

    Examples
    --------
    >>> round(tolerance_factor(n=10, share=0.95, confidence=0.95), 3)
    2.911
    """
    count = _measurements(n, 2, "one hole tells nothing about scatter")
    z, root = special.ndtri(require_part("share", share)), np.sqrt(count)
    k = stats.nct.ppf(require_part("confidence", confidence), count - 1, z * root) / root
    if not np.all(np.isfinite(k)):
        raise NotAccepted(
            "this tolerance factor cannot be computed; take a share and a confidence farther from 0 and 1"
        )
    return plain(k)


def prediction_factor(*, n: Any, confidence: Any) -> Any:
    """One-sided prediction factor: mean + k s of n normal measurements is not exceeded by the next single hole.

    Parameters
    ----------
    n : int
        Number of measured holes.
    confidence : float or ndarray
        Probability that the next hole stays below [-].

    Returns
    -------
    float or array
        k = t(confidence; n − 1) √(1 + 1/n) [-].

    Raises
    ------
    NotAccepted
        For fewer than two measurements, or a confidence outside (0, 1).
    """
    count = _measurements(n, 2, "one hole tells nothing about scatter")
    return plain(special.stdtrit(count - 1, require_part("confidence", confidence)) * np.sqrt(1 + 1 / count))


@lru_cache(maxsize=256)
def holes_for_tolerance(*, share: float, confidence: float) -> int:
    """Fewest measured holes from which a tolerance limit of a normal scatter is taken as an answer.

    Parameters
    ----------
    share : float
        Share of all holes that are to be covered [-].
    confidence : float
        Probability that the statement holds [-].

    Returns
    -------
    int
        Smallest n whose tolerance factor is at most one standard deviation above that of endlessly many holes.

    Raises
    ------
    NotAccepted
        For a share or confidence outside (0, 1).

    Examples
    --------
    >>> holes_for_tolerance(share=0.95, confidence=0.95)
    14
    """
    endless = float(special.ndtri(require_part("share", share)))

    def enough(n: int) -> bool:
        return float(tolerance_factor(n=n, share=share, confidence=confidence)) - endless <= _DEAREST

    high = 2
    while not enough(high):
        high *= 2
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def holes_without_normality(*, share: Any, confidence: Any) -> Any:
    """Fewest measured holes of which the largest covers the share with the confidence, whatever the distribution.

    Parameters
    ----------
    share : float or ndarray
        Share of all holes that are to be covered [-].
    confidence : float or ndarray
        Probability that the statement holds [-].

    Returns
    -------
    int or array
        Smallest n with 1 − shareⁿ ≥ confidence.

    Raises
    ------
    NotAccepted
        For a share or confidence outside (0, 1).

    Examples
    --------
    >>> holes_without_normality(share=0.95, confidence=0.95)
    59
    """
    exact = special.xlog1py(1.0, -require_part("confidence", confidence)) / special.xlogy(
        1.0, require_part("share", share)
    )
    # The quotient of two logarithms misses whole numbers by a few bits: 0.75 at 0.5 is 2 holes, not 3.
    count = np.maximum(1, np.ceil(exact * (1 - 1e-12))).astype(int)
    return int(count) if np.ndim(count) == 0 else count


def rank_without_normality(*, n: int, share: float, confidence: float) -> int:
    """Rank, counted from the smallest, of the measurement that covers the share with the confidence.

    Whatever the distribution.

    Parameters
    ----------
    n : int
        Number of measured holes.
    share : float or ndarray
        Share of all holes that are to be covered [-].
    confidence : float or ndarray
        Probability that the statement holds [-].

    Returns
    -------
    int
        Smallest rank r with P(Binomial(n, share) < r) ≥ confidence.

    Raises
    ------
    NotAccepted
        When n is too small, saying how many holes are needed.
    """
    needed = int(holes_without_normality(share=share, confidence=confidence))
    count = int(
        _measurements(n, needed, f"with fewer, not even the largest covers {share:g} with confidence {confidence:g}")
    )
    ranks = np.arange(1, count + 1)
    enough = stats.binom.cdf(ranks - 1, count, share) >= confidence * (1 - 1e-12)
    return int(ranks[np.argmax(enough)])


def _measurements(n: Any, least: int, what: str) -> Array:
    return require_each(
        "n", n, lambda x: (x >= least) & (x == np.floor(x)), f"a whole number of at least {least}, because {what}"
    )
