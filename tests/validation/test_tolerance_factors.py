"""One-sided tolerance factors of a normal sample.

Sources
- D. C. Montgomery, G. C. Runger, Applied Statistics and Probability for Engineers, 7th ed., Table XII: printed to 3
  decimals.
- NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: an approximate factor, and the limit that follows from it.
  The
  exact factor differs from it in the third decimal; both are tested, so that nobody takes the one for the other.
- ISO 16269-6:2014 is the standard for these factors. Its tables were not at hand: the definition is integrated here
  instead.
- Python package toleranceinterval 1.0.3, an independent implementation of both the normal and the distribution-free
  bound.
Tolerance: half the last printed digit.
"""

from __future__ import annotations

import numpy as np
import pytest
import toleranceinterval
from scipy import stats

from calc.scatter.factors import holes_without_normality, rank_without_normality, tolerance_factor

TABLE_XII = [
    (10, 0.95, 0.95, 2.911),
    (5, 0.95, 0.90, 3.400),
    (20, 0.99, 0.95, 3.295),
    (100, 0.90, 0.99, 1.639),
    (5, 0.95, 0.95, 4.203),
    (30, 0.95, 0.95, 2.220),
]


@pytest.mark.parametrize(("n", "share", "confidence", "printed"), TABLE_XII)
def test_table_xii(n, share, confidence, printed):
    assert tolerance_factor(n=n, share=share, confidence=confidence) == pytest.approx(printed, abs=0.0005)


def test_whole_table_at_once():
    n, share, confidence, printed = (np.array(column) for column in zip(*TABLE_XII, strict=True))
    assert tolerance_factor(n=n, share=share, confidence=confidence) == pytest.approx(printed, abs=0.0005)


def test_e_handbook_7_2_6_3():
    n, share, confidence, mean, s = 43, 0.90, 0.99, 97.07, 2.68
    z_p, z_g = stats.norm.ppf(share), stats.norm.ppf(confidence)
    a, b = 1 - z_g**2 / (2 * (n - 1)), z_p**2 - z_g**2 / n
    approximate = (z_p + np.sqrt(z_p**2 - a * b)) / a
    assert approximate == pytest.approx(1.8752, abs=0.00005)
    assert mean + approximate * s == pytest.approx(102.096, abs=0.0005)
    exact = tolerance_factor(n=n, share=share, confidence=confidence)
    assert exact == pytest.approx(1.87395, abs=0.000005)
    assert mean + exact * s < mean + approximate * s


@pytest.mark.parametrize(
    ("n", "share", "confidence"), [(2, 0.9, 0.9), (3, 0.5, 0.95), (12, 0.99, 0.8), (60, 0.95, 0.99), (5000, 0.95, 0.95)]
)
def test_definition_by_integration(n, share, confidence):
    """P(mean + k s covers the share), integrated over the chi distribution of s without the non-central t.

    Equals the confidence.
    """
    k, z, degrees = tolerance_factor(n=n, share=share, confidence=confidence), stats.norm.ppf(share), n - 1
    low, high = stats.chi.ppf(1e-13, degrees), stats.chi.isf(1e-13, degrees)
    x, w = np.polynomial.legendre.leggauss(120)
    chi = low + (high - low) * (x + 1) / 2
    covered = stats.norm.cdf(np.sqrt(n) * (k * chi / np.sqrt(degrees) - z)) * stats.chi.pdf(chi, degrees)
    assert float(w @ covered) * (high - low) / 2 == pytest.approx(confidence, abs=1e-8)


@pytest.mark.parametrize(("share", "confidence"), [(0.9, 0.9), (0.95, 0.95), (0.99, 0.75)])
def test_against_toleranceinterval(share, confidence):
    sample = np.array([24.1, 23.4, 25.6, 24.9, 22.8, 24.4, 26.0, 23.9])  # invented
    ours = sample.mean() + tolerance_factor(n=len(sample), share=share, confidence=confidence) * sample.std(ddof=1)
    assert ours == pytest.approx(float(toleranceinterval.oneside.normal(sample, share, confidence)[0]), rel=1e-9)


def test_59_measurements_for_95_95():
    assert holes_without_normality(share=0.95, confidence=0.95) == 59


@pytest.mark.parametrize("n", [59, 60, 93, 124, 200])
def test_rank_against_toleranceinterval(n):
    ranks = np.arange(1, n + 1, dtype=float)
    expected = float(toleranceinterval.oneside.non_parametric(ranks, 0.95, 0.95)[0])
    # It indexes the sorted sample from 0, we count ranks from 1; on the sample 1, 2 … n the value is the rank.
    assert rank_without_normality(n=n, share=0.95, confidence=0.95) == expected
