"""Propagation of distributions and the first-order budget.

Sources
- JCGM 101:2008, 9.2.2 (sum of four standard normal inputs) and 9.2.3 (sum of four rectangular inputs of sd 1).
- JCGM 100:2008, H.1 (end-gauge calibration): u 32 nm, effective degrees of freedom 16, U99 93 nm.
  Input values of its Table H.1, read in two independent open copies.
- Python package uncertainties 3.2.3, an independent first-order implementation.
Tolerance: half the last printed digit; where a value is exact, the error of 2^20 Sobol points
(measured over six seeds: at most 0.0031 for the normal, 0.0014 for the rectangular interval).
"""

from __future__ import annotations

import math

import pytest
import uncertainties
from scipy import stats

from calc.scatter.propagate import propagate
from calc.scatter.variance import gum_budget


def total(a, b, c, d):
    return a + b + c + d


def end_gauge(l_s, d, alpha_s, theta, delta_alpha, delta_theta):
    """Length of the gauge [nm]: JCGM 100, equation H.3."""
    return l_s + d - l_s * (delta_alpha * theta + alpha_s * delta_theta)


H1 = {  # mean and standard uncertainty: nm, nm, 1/K, K, 1/K, K
    "l_s": (50.000623e6, 25.0),
    "d": (215.0, 9.7),
    "alpha_s": (11.5e-6, 1.2e-6),
    "theta": (-0.1, 0.41),
    "delta_alpha": (0.0, 0.58e-6),
    "delta_theta": (0.0, 0.029),
}
DEGREES = {"l_s": 18, "d": 25.6, "delta_alpha": 50, "delta_theta": 2}


def h1_inputs():
    return {name: stats.norm(*value) for name, value in H1.items()}


def test_101_9_2_2_four_normal_inputs():
    spread = propagate(total, dict.fromkeys("abcd", stats.norm(0, 1)))
    assert spread.mean == pytest.approx(0.0, abs=0.005)
    assert spread.sd == pytest.approx(2.00, abs=0.005)
    low, high = spread.interval(0.95)
    assert (low, high) == (pytest.approx(-3.92, abs=0.005), pytest.approx(3.92, abs=0.005))


def test_101_9_2_3_four_rectangular_inputs():
    spread = propagate(total, dict.fromkeys("abcd", stats.uniform(-math.sqrt(3), 2 * math.sqrt(3))))
    assert spread.sd == pytest.approx(2.00, abs=0.005)
    low, high = spread.interval(0.95)
    assert (low, high) == (pytest.approx(-3.88, abs=0.005), pytest.approx(3.88, abs=0.005))
    # Exactly: P(S > x) = (4 - x/h + ...)^4/4!, in units of half-widths; only the outermost piece counts at 97.5 %.
    exact = math.sqrt(3) * (4 - 2 * (24 * 0.025) ** 0.25)
    assert exact == pytest.approx(3.879407, abs=5e-7)
    assert high == pytest.approx(exact, abs=0.002)


def test_100_h1_end_gauge():
    budget = gum_budget(end_gauge, h1_inputs())
    assert budget.value == pytest.approx(50.000838e6, abs=0.5)
    assert budget.u == pytest.approx(32, abs=0.5)
    assert math.floor(budget.effective_degrees(DEGREES)) == 16
    nm = {part.name: part.contribution for part in budget.parts}
    assert nm == pytest.approx(
        {"l_s": 25, "d": 9.7, "alpha_s": 0, "theta": 0, "delta_alpha": 2.9, "delta_theta": 16.6}, abs=0.08
    )
    assert sum(part.share for part in budget.parts) == pytest.approx(1.0)


def test_100_h1_given_gradients_replace_differences():
    exact = {
        "l_s": 1.0,
        "d": 1.0,
        "alpha_s": 0.0,
        "theta": 0.0,
        "delta_alpha": 50.000623e6 * 0.1,
        "delta_theta": -50.000623e6 * 11.5e-6,
    }
    given, found = gum_budget(end_gauge, h1_inputs(), gradients=exact), gum_budget(end_gauge, h1_inputs())
    assert given.u == pytest.approx(found.u, rel=1e-6)


def test_100_h1_against_uncertainties():
    """Measured: the two agree to about 1e-8; central differences of a product are exact but for rounding."""
    result = end_gauge(**{name: uncertainties.ufloat(*value) for name, value in H1.items()})
    assert gum_budget(end_gauge, h1_inputs()).u == pytest.approx(result.std_dev, rel=1e-6)


def test_100_h1_propagated_shows_what_first_order_leaves_out():
    """The product of the differences in expansion and temperature adds l_s u(delta_alpha) u(theta).

    And alpha's with delta_theta.
    """
    first = gum_budget(end_gauge, h1_inputs()).u
    second = math.hypot(50e6 * 0.58e-6 * 0.41, 50e6 * 1.2e-6 * 0.029)
    assert propagate(end_gauge, h1_inputs()).sd == pytest.approx(math.hypot(first, second), abs=0.02)
