"""What habits and costs make of a dose.

Sources
- Repeating the first hole's amount plus a margin m: two independent normal holes differ with sd σ√2, so the next one is
  short with
  probability Φ(−m/(σ√2)); own derivation, simulated here with the same points.
- Costs by volume: the critical fractile of the newsvendor problem (textbook result); uniform 350 to 620, costs 20 and
  9, gives 536.207.
- A cost per short hole: K f(Q) = c_w F(Q); own derivation, checked here by minimising the expected cost without it.
Only scipy is used as a second implementation.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from jobparts import repeated_short
from scipy import integrate, optimize, stats

from calc.scatter.costs import best_dose, best_dose_per_hole
from calc.scatter.propagate import propagate


def test_every_second_hole_is_short_without_a_margin():
    assert repeated_short(margin=0.0, sd=1.3) == 0.5


@pytest.mark.parametrize("margin", [-0.8, 0.0, 0.5, 1.0, 2.5])
def test_repeating_the_first_hole_simulated(margin):
    sd = 1.1666
    holes = {"first": stats.norm(24.5, sd), "next_one": stats.norm(24.5, sd)}
    missing = propagate(lambda first, next_one: next_one - (first + margin), holes)
    expected = stats.norm.cdf(-margin / (sd * math.sqrt(2)))
    assert repeated_short(margin=margin, sd=sd) == pytest.approx(expected, rel=1e-12)
    assert missing.short_probability(0.0) == pytest.approx(expected, abs=5e-4)


def test_critical_fractile():
    assert best_dose(stats.uniform(350, 270), 20.0, 9.0) == pytest.approx(536.207, abs=5e-4)
    assert best_dose(requirement=stats.uniform(350, 270), cost_short=20.0, cost_waste=9.0) == pytest.approx(
        350 + 270 * 20 / 29
    )


@pytest.mark.parametrize("need", [stats.norm(24.5, 1.17), stats.lognorm(0.2, scale=24), stats.gamma(9, scale=2.7)])
def test_critical_fractile_is_the_cheapest_dose(need):
    short, waste = 3.0, 0.4

    def cost(q):
        over = integrate.quad(need.cdf, need.ppf(1e-12), q)[0]
        return waste * over + short * (need.mean() - q + over)

    found = optimize.minimize_scalar(
        cost, bounds=(need.ppf(0.01), need.ppf(0.999)), method="bounded", options={"xatol": 1e-6}
    )
    assert best_dose(need, short, waste) == pytest.approx(found.x, abs=1e-3)


@pytest.mark.parametrize("need", [stats.norm(24.5, 1.17), stats.lognorm(0.2, scale=24), stats.gamma(9, scale=2.7)])
@pytest.mark.parametrize("hole", [0.5, 5.0, 500.0])
def test_cost_per_short_hole(need, hole):
    waste = 0.04
    dose = best_dose_per_hole(need, hole, waste)
    assert hole * need.pdf(dose) == pytest.approx(waste * need.cdf(dose), rel=1e-6)

    def cost(q):
        return hole * need.sf(q) + waste * integrate.quad(need.cdf, need.ppf(1e-12), q)[0]

    assert all(cost(dose) <= cost(dose + step) for step in (-0.5, -0.05, 0.05, 0.5))


@pytest.mark.parametrize(("hole", "expected"), [(1.0, 11.0), (4.0, 14.0), (9.0, 15.0)])
def test_cost_per_short_hole_uniform(hole, expected):
    """On uniform 10 to 15 the condition reads Q − 10 = K/c_w, as long as that stays below 15.

    Above, fill every hole.
    """
    assert best_dose_per_hole(stats.uniform(10, 5), hole, 1.0) == pytest.approx(expected, abs=1e-9)


def test_costs_on_simulated_holes_agree_with_the_distribution():
    need = stats.norm(24.5, 1.17)
    simulated = propagate(lambda v: v, {"v": need}, n=2**17)
    assert best_dose(simulated, 20.0, 9.0) == pytest.approx(best_dose(need, 20.0, 9.0), abs=1e-3)
    assert best_dose_per_hole(simulated, 5.0, 0.04) == pytest.approx(best_dose_per_hole(need, 5.0, 0.04), abs=0.05)


def test_arrays_of_costs():
    assert best_dose(stats.uniform(0, 1), np.array([1.0, 3.0]), 1.0) == pytest.approx([0.5, 0.75])
