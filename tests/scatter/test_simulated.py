"""Simulated holes: the same formulas, series and holes kept apart, impossible scatter refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from calc.fill.hole import required_volume
from calc.scatter.inputs import limits, misfit_probability, normal
from calc.scatter.propagate import propagate
from calc.scatter.simulated import HoleScatter, NominalHole, left_for_hole, needed_dose

NOMINAL = NominalHole(d_0=20.0, phi=16.0, l_v=200.0, overdrill=5.0, theta=130.0)
SCATTER = HoleScatter(
    nominal=NOMINAL,
    d_0=limits(low=20.3, high=20.4),
    mass_deviation=limits(low=-0.045, high=0.045),
    l_v=normal(mean=200.0, sd=3.0),
    overdrill=limits(low=0.0, high=10.0),
    voids=limits(low=0.0, high=0.04),
    repeat=normal(mean=0.0, sd=0.01),
)


def test_needed_dose_by_hand():
    assert needed_dose(V_req=20.0, voids=0.05, repeat=0.0) == 21.0
    assert needed_dose(V_req=20.0, voids=0.0, repeat=-0.2) == 25.0


def test_the_needed_dose_leaves_exactly_the_required_volume():
    dose = needed_dose(V_req=20.0, voids=0.03, repeat=-0.07)
    assert left_for_hole(V_dose=dose, repeat=-0.07, V_req=20.0, voids=0.03) == pytest.approx(20.0, rel=1e-14)
    assert left_for_hole(V_dose=0.1, repeat=0.0, V_req=20.0, voids=0.03) == 0.0


def test_models_are_the_formulas():
    phi = 16.0 * math.sqrt(1.02)
    expected = required_volume(d_0=20.35, phi=phi, l_v=198.0, overdrill=4.0, theta=130.0)
    hole = {"d_0": 20.35, "mass_deviation": 0.02, "l_v": 198.0, "overdrill": 4.0}
    assert SCATTER.required(**hole) == pytest.approx(expected, rel=1e-14)
    assert SCATTER.need(**hole, voids=0.02, repeat=0.01) == pytest.approx(expected * 1.02 / 1.01, rel=1e-14)


def test_without_scatter_everything_is_nominal():
    plain = HoleScatter(nominal=NOMINAL)
    drawn = plain.simulate(series=2, holes=3, seed=1)
    assert drawn.need.shape == (2, 3)
    assert np.array_equal(drawn.need, drawn.required)
    assert drawn.need == pytest.approx(np.full((2, 3), NOMINAL.required), rel=1e-14)
    assert plain.inputs == {
        "d_0": 20.0,
        "mass_deviation": 0.0,
        "l_v": 200.0,
        "overdrill": 5.0,
        "voids": 0.0,
        "repeat": 0.0,
    }


def test_a_scale_of_zero_is_a_plain_number():
    assert HoleScatter(nominal=NOMINAL, overdrill=stats.norm(5.0, 0.0)).inputs["overdrill"] == 5.0


def test_common_inputs_are_one_in_a_series_and_the_others_are_not():
    drawn = SCATTER.simulate(series=4, holes=50, seed=2)
    for shared in (drawn.d_0, drawn.mass_deviation, drawn.phi):
        assert np.ptp(shared, axis=1).max() == 0
        assert len(np.unique(shared[:, 0])) == 4
    for own in (drawn.l_v, drawn.overdrill, drawn.voids, drawn.repeat):
        assert len(np.unique(own)) == 200


def test_what_is_common_is_a_choice():
    every = HoleScatter(nominal=NOMINAL, d_0=limits(low=20.3, high=20.4), common=()).simulate(series=2, holes=9, seed=1)
    assert len(np.unique(every.d_0)) == 18


def test_same_seed_same_digits():
    one, again, other = (SCATTER.simulate(series=3, holes=7, seed=s) for s in (5, 5, 6))
    assert np.array_equal(one.need, again.need)
    assert not np.array_equal(one.need, other.need)


def test_scatter_of_one_input_leaves_the_draws_of_the_others():
    wide = HoleScatter(**{**vars_of(SCATTER), "voids": limits(low=0.0, high=0.2)}).simulate(series=3, holes=7, seed=5)
    narrow = SCATTER.simulate(series=3, holes=7, seed=5)
    assert np.array_equal(wide.required, narrow.required)
    assert np.all(wide.need > narrow.need)


def vars_of(scatter):
    return {
        name: getattr(scatter, name)
        for name in ("nominal", "d_0", "mass_deviation", "l_v", "overdrill", "voids", "repeat", "common")
    }


def test_simulated_holes_agree_with_propagation():
    drawn = SCATTER.simulate(series=2000, holes=20, seed=3)
    exact = propagate(SCATTER.need, SCATTER.inputs, n=2**17)
    assert drawn.need.mean() == pytest.approx(exact.mean, rel=2e-4)
    assert drawn.need.std() == pytest.approx(exact.sd, rel=0.02)


def test_draws_do_not_hang_together():
    """Even spreading must not tie neighbours: correlations of 20,000 pairs stay within five standard errors."""
    drawn = HoleScatter(nominal=NOMINAL, l_v=normal(mean=200, sd=3), voids=limits(low=0, high=0.1)).simulate(
        series=20_000, holes=2, seed=4
    )
    assert abs(np.corrcoef(drawn.l_v[:, 0], drawn.l_v[:, 1])[0, 1]) < 5 / math.sqrt(20_000)
    assert abs(np.corrcoef(drawn.l_v.ravel(), drawn.voids.ravel())[0, 1]) < 5 / math.sqrt(40_000)


def test_variance_between_series_is_that_of_what_they_share():
    """Annulus to first order: between series d_0 and the bar, within a series only the embedment."""
    scatter = HoleScatter(
        nominal=NominalHole(d_0=20.0, phi=16.0, l_v=200.0),
        d_0=normal(mean=20.0, sd=0.02),
        l_v=normal(mean=200.0, sd=2.0),
    )
    need = scatter.simulate(series=400, holes=100, seed=1).need
    assert need.mean(axis=1).std() == pytest.approx(math.pi / 2 * 20 * 200 * 0.02, rel=0.03)
    assert need.std(axis=1).mean() == pytest.approx(math.pi / 4 * 144 * 2.0, rel=0.03)


def test_invariant_to_the_unit_of_length():
    k = 3.0  # any other unit of length: sizes times k, volumes times k³
    scaled = HoleScatter(
        nominal=NominalHole(d_0=20 * k, phi=16 * k, l_v=200 * k, overdrill=5 * k, theta=130.0),
        d_0=limits(low=20.3 * k, high=20.4 * k),
        mass_deviation=SCATTER.mass_deviation,
        l_v=normal(mean=200 * k, sd=3 * k),
        overdrill=limits(low=0.0, high=10 * k),
        voids=SCATTER.voids,
        repeat=SCATTER.repeat,
    )
    assert scaled.simulate(series=3, holes=9, seed=1).need == pytest.approx(
        k**3 * SCATTER.simulate(series=3, holes=9, seed=1).need, rel=1e-12
    )


# ---- refused -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            {"overdrill": normal(mean=5.0, sd=2.5)},
            r"the overdrill \('overdrill'\) cannot be below 0, .* probability 0.023; at most 1e-06",
        ),
        ({"overdrill": -1.0}, "cannot be below 0, but it is -1"),
        ({"voids": normal(mean=0.02, sd=0.02)}, "the loss into voids .* probability 0.16"),
        ({"l_v": normal(mean=200.0, sd=100.0)}, "the embedment .* at or below 0"),
        ({"repeat": -1.0}, "deviation of a shot"),
        ({"mass_deviation": normal(mean=0.0, sd=0.4)}, "deviation of the bar's mass"),
        ({"d_0": normal(mean=20.0, sd=2.0)}, r"thicker than its hole with probability 0.023"),
        ({"d_0": 16.0}, "thicker than its hole with probability 1"),
        (
            {"d_0": 16.1, "mass_deviation": limits(low=-0.045, high=0.045)},
            "thicker than its hole with probability 0.36",
        ),
        ({"d_0": stats.norm(20, -1)}, "negative standard deviation"),
        ({"d_0": "20"}, "frozen scipy.stats distribution"),
        ({"common": ("bit",)}, "'bit' is called common .* d_0, mass_deviation, l_v"),
    ],
)
def test_impossible_scatter_is_refused(given, words):
    with pytest.raises(ValueError, match=words):
        HoleScatter(nominal=NOMINAL, **given)


def test_limits_that_touch_zero_are_accepted():
    drawn = HoleScatter(nominal=NOMINAL, overdrill=limits(low=0.0, high=5.0), voids=0.0).simulate(
        series=10, holes=10, seed=1
    )
    assert drawn.overdrill.min() >= 0


def test_the_accepted_millionth_is_never_drawn():
    """A normal distribution whose tail below zero is just accepted: all draws stay at or above zero."""
    scatter = HoleScatter(nominal=NOMINAL, overdrill=normal(mean=5.0, sd=5.0 / 4.76))
    assert scatter.simulate(series=1000, holes=1000, seed=1).overdrill.min() >= 0


def test_misfit_of_bar_mass_against_the_integral():
    scatter = HoleScatter(nominal=NOMINAL, d_0=normal(mean=20.0, sd=0.5), mass_deviation=normal(mean=0.0, sd=0.05))
    hole, mass = stats.norm(16.6, 0.25), stats.norm(0.0, 0.02)
    wider = HoleScatter(nominal=NOMINAL, mass_deviation=mass)
    expected = integrate.quad(lambda m: hole.cdf(16 * math.sqrt(1 + m)) * mass.pdf(m), -0.2, 0.2, epsabs=1e-12)[0]
    assert misfit_probability(hole=hole, bar=wider.bar) == pytest.approx(expected, rel=1e-5)
    assert scatter.bar.std() == pytest.approx(16 * 0.05 / 2, rel=0.02)
    assert scatter.bar.pdf(16.0) == pytest.approx(
        (scatter.bar.cdf(16.0001) - scatter.bar.cdf(15.9999)) / 2e-4, rel=1e-5
    )
    assert scatter.bar.sf(16.3) == pytest.approx(1 - scatter.bar.cdf(16.3))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"series": 0, "holes": 5, "seed": 1}, "series must be a whole number of at least 1"),
        ({"series": 2, "holes": 2.5, "seed": 1}, "holes must be a whole number"),
        ({"series": 2, "holes": 5, "seed": -1}, "seed must be a whole number of at least 0"),
        ({"series": 2, "holes": True, "seed": 1}, "holes must be"),
        ({"series": 10_000, "holes": 10_000, "seed": 1}, "more than the 2000000 holes"),
    ],
)
def test_bad_numbers_of_holes(arguments, words):
    with pytest.raises(ValueError, match=words):
        SCATTER.simulate(**arguments)


def test_a_hole_without_embedment():
    with pytest.raises(ValueError, match="embedment above zero"):
        NominalHole(d_0=20.0, phi=16.0, l_v=0.0)
    with pytest.raises(ValueError, match="phi must be smaller than d_0"):
        NominalHole(d_0=16.0, phi=20.0, l_v=100.0)
