"""Scatter of the annulus D ~ N(20.3, 0.10), phi ~ N(16.0, 0.18), L ~ N(200, 3) mm.

Sources
- Exact moments and indices from E X², E X⁴ of a normal variable, worked out below: mean 24.515041 mL, sd 1.166574 mL,
  first-order
  indices D .298863, phi .601572, L .099363.
- Probability of a short hole: quadrature (Gauss and Hermite, 80 by 80 nodes over D and phi, L integrated exactly).
- Python packages uncertainties 3.2.3 (first order) and SALib 1.6.0 (indices), independent implementations.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import uncertainties
from SALib.analyze import sobol as salib_analyze
from SALib.sample import sobol as salib_sample
from scipy import special, stats

from calc.fill.hole import annular_volume
from calc.scatter.propagate import propagate
from calc.scatter.shortfall import short_probability
from calc.scatter.variance import gum_budget, sobol

MEAN, SD = 24515.041, 1166.574  # mm³
FIRST = {"d_0": 0.298863, "phi": 0.601572, "l_v": 0.099363}
GIVEN = {"d_0": (20.3, 0.10), "phi": (16.0, 0.18), "l_v": (200.0, 3.0)}


def inputs():
    return {name: stats.norm(*value) for name, value in GIVEN.items()}


def exact_short_probability(dose: float) -> float:
    nodes, weights = np.polynomial.hermite_e.hermegauss(80)
    weights = weights / weights.sum()
    d, phi = np.meshgrid(20.3 + 0.10 * nodes, 16.0 + 0.18 * nodes, indexing="ij")
    needed = dose / (math.pi / 4 * (d**2 - phi**2))
    return float(weights @ special.ndtr((200.0 - needed) / 3.0) @ weights)


def test_reference_values_from_moments():
    second = {name: m**2 + s**2 for name, (m, s) in GIVEN.items()}
    spread = {name: 4 * m**2 * s**2 + 2 * s**4 for name, (m, s) in GIVEN.items()}  # variance of the square
    area, var_area = second["d_0"] - second["phi"], spread["d_0"] + spread["phi"]
    variance = (math.pi / 4) ** 2 * ((area**2 + var_area) * second["l_v"] - (area * 200.0) ** 2)
    assert math.pi / 4 * area * 200.0 == pytest.approx(MEAN, abs=5e-4)
    assert math.sqrt(variance) == pytest.approx(SD, abs=5e-4)
    parts = {name: (math.pi / 4 * 200.0) ** 2 * spread[name] / variance for name in ("d_0", "phi")}
    parts["l_v"] = (math.pi / 4 * area * 3.0) ** 2 / variance
    assert parts == pytest.approx(FIRST, abs=5e-7)


def test_propagate():
    """Measured at 2^20 points: mean 0.0001, sd 0.0004 mm³ off."""
    spread = propagate(annular_volume, inputs())
    assert spread.mean == pytest.approx(MEAN, abs=0.001)
    assert spread.sd == pytest.approx(SD, abs=0.005)


@pytest.mark.parametrize("seed", [1, 7])
def test_sobol(seed):
    """Measured over six seeds at the default 2^15 points: at most 0.0001 off."""
    found = sobol(annular_volume, inputs(), seed=seed)
    assert found.first == pytest.approx(FIRST, abs=0.0005)
    assert sum(found.total.values()) == pytest.approx(1.0, abs=0.002)
    assert found.mean == pytest.approx(MEAN, abs=0.1)
    assert math.sqrt(found.variance) == pytest.approx(SD, abs=0.2)


def test_sobol_against_salib():
    n = 2**12
    problem = {"num_vars": 3, "names": list(GIVEN), "bounds": [list(v) for v in GIVEN.values()], "dists": ["norm"] * 3}
    points = salib_sample.sample(problem, n, calc_second_order=False, seed=1)
    volumes = annular_volume(**dict(zip(GIVEN, np.ascontiguousarray(points.T), strict=True)))
    theirs = salib_analyze.analyze(problem, volumes, calc_second_order=False, num_resamples=2, seed=1)
    ours = sobol(annular_volume, inputs(), n=n)
    assert list(ours.first.values()) == pytest.approx(theirs["S1"], abs=0.005)
    assert list(ours.total.values()) == pytest.approx(theirs["ST"], abs=0.005)


def test_first_order_against_uncertainties():
    d, phi, length = (uncertainties.ufloat(*value) for value in GIVEN.values())
    result = math.pi / 4 * (d**2 - phi**2) * length
    budget = gum_budget(annular_volume, inputs())
    assert budget.u == pytest.approx(result.std_dev, rel=1e-8)
    parts = {part.name: part.contribution for part in budget.parts}
    expected = result.error_components()
    assert parts == pytest.approx({"d_0": expected[d], "phi": expected[phi], "l_v": expected[length]}, rel=1e-6)


@pytest.mark.parametrize("z", [-2.0, 0.0, 0.5, 1.28, 1.64, 2.33])
@pytest.mark.parametrize("along", [None, "d_0", "l_v"])
@pytest.mark.parametrize("seed", [1, 2])
def test_short_probability_against_quadrature(z, along, seed):
    """Within 1e-4 with a fiftieth of the evaluations that plain Monte Carlo needs for that standard error."""
    dose, evaluations = MEAN + z * SD, 0

    def counted(**values):
        nonlocal evaluations
        evaluations += np.size(values["d_0"])
        return annular_volume(**values)

    expected = exact_short_probability(dose)
    # A small input leaves more to the points: 8 times as many for the depth, which brings a tenth of the variance.
    found = short_probability(counted, inputs(), dose=dose, along=along, seed=seed, n=2**12 if along == "l_v" else 2**9)
    assert found == pytest.approx(expected, abs=1e-4)
    if along is None:
        assert evaluations * 50 <= expected * (1 - expected) / 1e-4**2


def test_short_probability_agrees_with_simulation():
    doses = np.array([23000.0, 24500.0, 26000.0, 27000.0])
    simulated = propagate(annular_volume, inputs(), n=2**18).short_probability(doses)
    assert short_probability(annular_volume, inputs(), dose=doses) == pytest.approx(simulated, abs=2e-4)
