"""Scatter: bad input, determinism, and properties that hold whatever the numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from calc.fill.hole import annular_volume
from calc.scatter.costs import best_dose, best_dose_per_hole
from calc.scatter.factors import holes_without_normality, prediction_factor, rank_without_normality, tolerance_factor
from calc.scatter.inputs import limits, misfit_probability, normal, require_fit
from calc.scatter.propagate import propagate, samples
from calc.scatter.shortfall import series_risk, short_probability
from calc.scatter.spread import Spread
from calc.scatter.variance import gum_budget, sobol

INPUTS = {"d_0": stats.norm(20.3, 0.10), "phi": stats.norm(16.0, 0.18), "l_v": stats.norm(200.0, 3.0)}

diameters = st.builds(
    lambda d, ratio, sd, sd_phi: {
        "d_0": stats.norm(d, sd * d),
        "phi": stats.norm(ratio * d, sd_phi * d),
        "l_v": stats.uniform(10 * d, d),
    },
    st.floats(8, 60),
    st.floats(0.4, 0.85),
    st.floats(1e-4, 0.01),
    st.floats(1e-4, 0.01),
)


# ---- determinism, order, units -------------------------------------------------------------------


def test_same_seed_same_digits_and_other_seed_other_digits():
    one, again, other = (propagate(annular_volume, INPUTS, n=2**10, seed=s) for s in (3, 3, 4))
    assert np.array_equal(one.values, again.values)
    assert not np.array_equal(one.values, other.values)
    assert sobol(annular_volume, INPUTS, n=2**8, seed=3) == sobol(annular_volume, INPUTS, n=2**8, seed=3)


@given(order=st.permutations(list(INPUTS)))
@settings(max_examples=6, deadline=None)
def test_order_of_inputs_changes_no_digit(order):
    shuffled = {name: INPUTS[name] for name in order}
    assert np.array_equal(
        propagate(annular_volume, shuffled, n=2**8).values, propagate(annular_volume, INPUTS, n=2**8).values
    )
    assert sobol(annular_volume, shuffled, n=2**8) == sobol(annular_volume, INPUTS, n=2**8)
    assert list(sobol(annular_volume, shuffled, n=2**4).first) == order
    dose = {"dose": 25000.0, "n": 2**6}
    assert short_probability(annular_volume, shuffled, **dose) == short_probability(annular_volume, INPUTS, **dose)
    assert gum_budget(annular_volume, shuffled).u == pytest.approx(gum_budget(annular_volume, INPUTS).u, rel=1e-14)


@given(scale=st.floats(1e-3, 1e3), inputs=diameters)
@settings(max_examples=15, deadline=None)
def test_unit_of_the_result_changes_nothing_but_the_scale(scale, inputs):
    def scaled(**values):
        return scale * annular_volume(**values)

    plain, other = propagate(annular_volume, inputs, n=2**8), propagate(scaled, inputs, n=2**8)
    assert other.mean == pytest.approx(scale * plain.mean, rel=1e-12)
    assert other.sd == pytest.approx(scale * plain.sd, rel=1e-9)
    assert sobol(scaled, inputs, n=2**7).first == pytest.approx(sobol(annular_volume, inputs, n=2**7).first, abs=1e-9)
    dose = plain.mean * 1.02
    assert short_probability(scaled, inputs, dose=scale * dose, n=2**6) == pytest.approx(
        short_probability(annular_volume, inputs, dose=dose, n=2**6), abs=1e-6
    )


def test_inches_and_millimetres_agree():
    inch = 25.4
    inches = {
        "d_0": stats.norm(20.3 / inch, 0.10 / inch),
        "phi": stats.norm(16.0 / inch, 0.18 / inch),
        "l_v": stats.norm(200 / inch, 3 / inch),
    }
    metric, us = propagate(annular_volume, INPUTS, n=2**10), propagate(annular_volume, inches, n=2**10)
    assert us.values * inch**3 == pytest.approx(metric.values, rel=1e-11)


def test_number_of_points_is_rounded_up_to_a_power_of_two_and_needs_no_warning(recwarn):
    assert propagate(annular_volume, INPUTS, n=1000).n == 1024
    assert propagate(annular_volume, INPUTS, n=2).n == 2
    assert not recwarn.list


def test_model_sees_chunks_of_bounded_size():
    sizes = []

    def model(**values):
        sizes.append(len(values["d_0"]))
        return annular_volume(**values)

    propagate(model, INPUTS, n=2**17)
    assert max(sizes) <= 2**16
    assert sum(sizes) == 2**17


# ---- spread --------------------------------------------------------------------------------------


@given(inputs=diameters, factors=st.lists(st.floats(0.5, 1.5), min_size=2, max_size=8))
@settings(max_examples=25, deadline=None)
def test_more_dose_fewer_short_holes_and_more_waste(inputs, factors):
    spread = propagate(annular_volume, inputs, n=2**9)
    doses = np.sort(np.array(factors)) * spread.mean
    assert (np.diff(spread.short_probability(doses)) <= 0).all()
    slack = 1e-12 * spread.mean
    assert (np.diff(spread.mean_excess(doses)) >= -slack).all()
    exact = short_probability(annular_volume, inputs, dose=doses, n=2**6)
    assert (np.diff(exact) <= 2e-3).all()  # 64 points only
    assert ((exact >= 0) & (exact <= 1)).all()


def test_quantile_inverts_the_share_of_short_holes():
    spread = propagate(annular_volume, INPUTS, n=2**14)
    p = np.array([0.01, 0.2, 0.5, 0.95, 0.999])
    assert 1 - spread.short_probability(spread.quantile(p)) == pytest.approx(p, abs=2 / spread.n)
    low, high = spread.interval(0.9)
    assert (low, high) == (spread.quantile(0.05), spread.quantile(0.95))
    assert isinstance(spread.quantile(0.5), float)


def test_small_spread_by_hand():
    spread = Spread(np.array([3.0, 1.0, 2.0, 4.0]))
    assert (spread.mean, spread.n) == (2.5, 4)
    assert spread.sd == pytest.approx(math.sqrt(1.25))
    assert spread.quantile(0.5) == 2.5
    assert spread.short_probability(2.0) == 0.5  # a hole that is exactly full is not short
    assert spread.mean_excess(2.0) == pytest.approx(0.25)
    assert list(spread.short_probability(np.array([0.0, 9.0]))) == [1.0, 0.0]


def test_correlated_inputs():
    inputs = {"a": stats.norm(0, 3), "b": stats.norm(0, 4)}
    for r in (-0.6, 0.0, 0.5):
        spread = propagate(lambda a, b: a + b, inputs, correlation={("a", "b"): r})
        assert spread.sd == pytest.approx(math.sqrt(9 + 16 + 2 * r * 12), rel=1e-3)
    chunk = np.concatenate([c["a"] for c in samples(inputs, n=2**12, correlation={("b", "a"): 0.5})])
    assert chunk.std() == pytest.approx(3, rel=0.01)


# ---- inputs that do not scatter ------------------------------------------------------------------


def test_sd_zero_is_deterministic():
    fixed = {"d_0": 20.0, "phi": stats.norm(16.0, 0.0), "l_v": normal(mean=200.0, sd=0.0)}
    spread = propagate(annular_volume, fixed)
    volume = annular_volume(d_0=20.0, phi=16.0, l_v=200.0)
    assert (spread.mean, spread.sd, spread.quantile(0.99)) == (pytest.approx(volume), 0.0, pytest.approx(volume))
    assert sobol(annular_volume, fixed).first == {"d_0": 0.0, "phi": 0.0, "l_v": 0.0}
    assert gum_budget(annular_volume, fixed).u == 0.0
    assert short_probability(annular_volume, fixed, dose=np.array([volume - 1, volume + 1])) == pytest.approx(
        [1.0, 0.0]
    )


def test_one_scattering_input_is_exact():
    inputs = {"d_0": 20.0, "phi": 16, "l_v": stats.norm(200, 3)}
    area = math.pi / 4 * (20**2 - 16**2)
    assert short_probability(annular_volume, inputs, dose=area * 203) == pytest.approx(stats.norm.sf(1), abs=1e-6)
    assert sobol(annular_volume, inputs, n=2**12).first == pytest.approx({"d_0": 0, "phi": 0, "l_v": 1}, abs=1e-3)
    assert propagate(annular_volume, inputs).sd == pytest.approx(3 * area, rel=1e-3)


def test_falling_input_and_limited_input():
    inputs = {"d_0": 20.0, "phi": limits(low=15.8, high=16.2), "l_v": 200.0}
    dose = annular_volume(d_0=20.0, phi=15.9, l_v=200.0)
    assert short_probability(annular_volume, inputs, dose=dose) == pytest.approx(0.25, abs=1e-6)
    extremes = np.array([annular_volume(d_0=20.0, phi=16.3, l_v=200.0), annular_volume(d_0=20.0, phi=15.7, l_v=200.0)])
    assert list(short_probability(annular_volume, inputs, dose=extremes)) == [1.0, 0.0]


def test_discrete_input_is_never_integrated():
    inputs = {"l_v": stats.randint(100, 103), "d_0": stats.norm(20, 0.1), "phi": 16.0}
    chance = short_probability(annular_volume, inputs, dose=11500.0)
    simulated = propagate(annular_volume, inputs).short_probability(11500.0)
    assert chance == pytest.approx(simulated, abs=2e-3)
    only = {"l_v": stats.randint(100, 104), "d_0": 20.0, "phi": 16.0}
    assert short_probability(annular_volume, only, dose=annular_volume(d_0=20.0, phi=16.0, l_v=101.5)) == pytest.approx(
        0.5, abs=0.01
    )


def test_constant_model():
    assert propagate(lambda **_: 5.0, INPUTS, n=2**6).sd == 0.0
    assert sobol(lambda **_: 5.0, INPUTS, n=2**6).total == {"d_0": 0.0, "phi": 0.0, "l_v": 0.0}


# ---- series --------------------------------------------------------------------------------------


def test_what_a_series_shares_makes_bad_series_likelier():
    dose = 26500.0
    together = series_risk(annular_volume, INPUTS, dose=dose, common=["d_0", "phi"], holes=50)
    apart = series_risk(annular_volume, INPUTS, dose=dose, common=[], holes=50)
    single = short_probability(annular_volume, INPUTS, dose=dose)
    assert together.short == pytest.approx(single, abs=5e-4)
    assert apart.short == pytest.approx(single, abs=5e-4)
    assert apart.more_than(0) == pytest.approx(1 - (1 - single) ** 50, abs=0.005)
    assert together.more_than(0) < apart.more_than(0)  # fewer series are touched …
    assert together.more_than(25) > 100 * apart.more_than(25)  # … but those that are, are lost
    assert together.quantile(0.99) > single


def test_everything_shared():
    risk = series_risk(annular_volume, INPUTS, dose=26500.0, common=list(INPUTS), holes=50, n=2**12)
    assert risk.more_than(0) == pytest.approx(risk.short)
    assert risk.more_than(49) == pytest.approx(risk.short)
    assert risk.short == pytest.approx(short_probability(annular_volume, INPUTS, dose=26500.0), abs=2e-3)


# ---- budget, fit, costs, factors -----------------------------------------------------------------


@given(inputs=diameters)
@settings(max_examples=20, deadline=None)
def test_budget_adds_up_and_matches_exact_gradients(inputs):
    d, phi, length = (float(inputs[name].mean()) for name in ("d_0", "phi", "l_v"))
    exact = {"d_0": math.pi / 2 * d * length, "phi": -math.pi / 2 * phi * length, "l_v": math.pi / 4 * (d**2 - phi**2)}
    budget = gum_budget(annular_volume, inputs)
    assert {part.name: part.gradient for part in budget.parts} == pytest.approx(exact, rel=1e-6)
    assert sum(part.share for part in budget.parts) == pytest.approx(1.0)
    assert math.hypot(*(part.contribution for part in budget.parts)) == pytest.approx(budget.u)
    assert budget.effective_degrees({}) == math.inf


def test_misfit_probability():
    hole, bar = stats.norm(10.0, 0.1), stats.norm(9.5, 0.1)
    assert misfit_probability(hole=hole, bar=bar) == pytest.approx(stats.norm.sf(0.5 / math.hypot(0.1, 0.1)), rel=1e-6)
    assert misfit_probability(hole=hole, bar=9.9) == pytest.approx(stats.norm.cdf(-1))
    assert misfit_probability(hole=10.0, bar=stats.norm(9.9, 0.1)) == pytest.approx(stats.norm.sf(1))
    assert (misfit_probability(hole=10.0, bar=9.0), misfit_probability(hole=9.0, bar=9.0)) == (0.0, 1.0)
    assert require_fit(hole=stats.norm(20.3, 0.1), bar=stats.norm(16, 0.18)) < 1e-12
    with pytest.raises(ValueError, match=r"thicker than its hole with probability 0\.0002"):
        require_fit(hole=hole, bar=bar)


@given(short=st.floats(0.01, 100), waste=st.floats(0.01, 100), mean=st.floats(5, 100), cv=st.floats(0.01, 0.2))
@settings(max_examples=12, deadline=None)
def test_doses_from_costs_scale_with_units_and_rise_with_the_cost_of_a_short_hole(short, waste, mean, cv):
    need, litres = stats.norm(mean, cv * mean), stats.norm(mean / 1000, cv * mean / 1000)
    assert best_dose(litres, 1000 * short, 1000 * waste) * 1000 == pytest.approx(
        best_dose(need, short, waste), rel=1e-9
    )
    assert best_dose(need, 2 * short, waste) > best_dose(need, short, waste)
    assert best_dose_per_hole(litres, short, 1000 * waste) * 1000 == pytest.approx(
        best_dose_per_hole(need, short, waste), rel=1e-6, abs=1e-9
    )
    assert best_dose_per_hole(need, 2 * short, waste) >= best_dose_per_hole(need, short, waste)


@given(n=st.integers(2, 500), share=st.floats(0.5, 0.999), confidence=st.floats(0.5, 0.999))
@settings(max_examples=60, deadline=None)
def test_more_measurements_need_a_smaller_factor(n, share, confidence):
    k = tolerance_factor(n=n, share=share, confidence=confidence)
    assert k >= special.ndtri(share) - 1e-9 or confidence < 0.6
    if confidence >= 0.6:
        assert tolerance_factor(n=n + 1, share=share, confidence=confidence) < k
    assert tolerance_factor(n=n, share=share, confidence=min(0.9995, confidence + 0.0005)) >= k


@given(share=st.floats(0.01, 0.999), confidence=st.floats(0.01, 0.999))
@settings(max_examples=100, deadline=None)
def test_fewest_holes_without_normality(share, confidence):
    n = holes_without_normality(share=share, confidence=confidence)
    assert 1 - share**n >= confidence - 1e-9
    assert n == 1 or 1 - share ** (n - 1) < confidence + 1e-9
    assert rank_without_normality(n=n, share=share, confidence=confidence) == n


def test_whole_number_of_holes_that_floats_miss():
    assert holes_without_normality(share=0.5, confidence=0.75) == 2
    assert holes_without_normality(share=0.1, confidence=0.9) == 1
    assert list(holes_without_normality(share=np.array([0.9, 0.95]), confidence=0.95)) == [29, 59]


def test_prediction_factor():
    assert prediction_factor(n=10, confidence=0.95) == pytest.approx(stats.t.ppf(0.95, 9) * math.sqrt(1.1))
    assert prediction_factor(n=10, confidence=0.95) < tolerance_factor(n=10, share=0.95, confidence=0.95)


# ---- bad input -----------------------------------------------------------------------------------

NORM = stats.norm(10, 1)
BAD = {
    "sd negative": (lambda: normal(mean=1.0, sd=-0.1), "sd must not be less than 0"),
    "sd not finite": (lambda: normal(mean=1.0, sd=math.inf), "sd must be a finite number"),
    "mean NaN": (lambda: normal(mean=math.nan, sd=1.0), "mean must be a finite number"),
    "limits reversed": (lambda: limits(low=2.0, high=1.0), "limits are reversed"),
    "limits infinite": (lambda: limits(low=0.0, high=math.inf), "high must be a finite number"),
    "scipy sd negative": (
        lambda: propagate(lambda a: a, {"a": stats.norm(1, -1)}),
        "'a' has a negative standard deviation",
    ),
    "scipy sd NaN": (lambda: propagate(lambda a: a, {"a": stats.norm(1, math.nan)}), "'a' has no finite mean and sd"),
    "infinite variance": (lambda: propagate(lambda a: a, {"a": stats.cauchy()}), "'a' has no finite mean and sd"),
    "array of distributions": (
        lambda: propagate(lambda a: a, {"a": stats.norm([1, 2], 1)}),
        "'a' holds several distributions",
    ),
    "infinite input": (lambda: propagate(lambda a: a, {"a": math.inf}), "'a' must be a finite number"),
    "text input": (lambda: propagate(lambda a: a, {"a": "16 mm"}), "'a' must be a number or a frozen"),
    "no inputs": (lambda: propagate(lambda: 1.0, {}), "no inputs were given"),
    "one point": (lambda: propagate(lambda a: a, {"a": NORM}, n=1), "n must be a whole number of points"),
    "half a point": (lambda: propagate(lambda a: a, {"a": NORM}, n=10.5), "n must be a whole number of points"),
    "negative seed": (lambda: propagate(lambda a: a, {"a": NORM}, seed=-1), "seed must be a whole number"),
    "no seed": (lambda: sobol(lambda a: a, {"a": NORM}, seed=None), "seed must be a whole number"),
    "seed without scatter": (lambda: propagate(lambda a: a, {"a": 1.0}, seed=1.5), "seed must be a whole number"),
    "model NaN": (
        lambda: propagate(lambda a: np.where(a > 12, np.nan, a), {"a": NORM}),
        "no finite number for .* example at a = 1[2-9]",
    ),
    "model shape": (lambda: propagate(lambda a: a[:3], {"a": NORM}), "one number for each point"),
    "correlation of one": (
        lambda: propagate(lambda a, b: a, {"a": NORM, "b": NORM}, correlation={("a", "b"): 1.0}),
        "between -1 and 1",
    ),
    "correlation unknown": (
        lambda: propagate(lambda a, b: a, {"a": NORM, "b": 1}, correlation={("a", "b"): 0.5}),
        "must join two of the inputs",
    ),
    "correlation impossible": (
        lambda: propagate(
            lambda **k: k["a"],
            dict.fromkeys("abc", NORM),
            correlation={("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9},
        ),
        "contradict each other",
    ),
    "gradient unknown": (
        lambda: gum_budget(lambda a: a, {"a": NORM}, gradients={"b": 1.0}),
        "'b', which is not an input",
    ),
    "gradient NaN": (
        lambda: gum_budget(lambda a: a, {"a": NORM}, gradients={"a": math.nan}),
        "gradient of 'a' must be a finite",
    ),
    "degrees negative": (
        lambda: gum_budget(lambda a: a, {"a": NORM}).effective_degrees({"a": -1}),
        "degrees of freedom",
    ),
    "dose infinite": (
        lambda: short_probability(lambda a: a, {"a": NORM}, dose=math.inf),
        "dose must be a finite number",
    ),
    "dose text": (lambda: short_probability(lambda a: a, {"a": NORM}, dose="full"), "dose must be a finite number"),
    "along unknown": (
        lambda: short_probability(lambda a: a, {"a": NORM}, dose=1, along="b"),
        "'b' is not an input that scatters",
    ),
    "model turns": (
        lambda: short_probability(lambda a: (a - 10) ** 2, {"a": NORM}, dose=1.0),
        "both rises and falls in 'a'",
    ),
    "series of none": (
        lambda: series_risk(lambda a: a, {"a": NORM}, dose=1, common=[], holes=0),
        "holes must be a whole number above zero",
    ),
    "series unknown": (
        lambda: series_risk(lambda a: a, {"a": NORM}, dose=1, common=["bit"], holes=9),
        "'bit' is called common",
    ),
    "cost zero": (lambda: best_dose(NORM, 0.0, 1.0), "cost_short must be a finite cost above zero"),
    "cost missing": (lambda: best_dose(NORM, 1.0, None), "cost_waste must be a finite cost above zero"),
    "cost infinite": (lambda: best_dose_per_hole(NORM, math.inf, 1.0), "cost_hole must be a finite cost above zero"),
    "one hole": (
        lambda: tolerance_factor(n=1, share=0.95, confidence=0.95),
        "at least 2, because one hole tells nothing",
    ),
    "half a hole": (lambda: tolerance_factor(n=2.5, share=0.95, confidence=0.95), "n must be a whole number"),
    "share one": (lambda: tolerance_factor(n=9, share=1.0, confidence=0.95), "share must be between 0 and 1"),
    "share per cent": (lambda: tolerance_factor(n=9, share=95, confidence=0.95), r"0\.95 for 95 per cent"),
    "confidence zero": (lambda: tolerance_factor(n=9, share=0.9, confidence=0.0), "confidence must be between 0 and 1"),
    "confidence NaN": (
        lambda: tolerance_factor(n=9, share=0.9, confidence=math.nan),
        "confidence must be between 0 and 1",
    ),
    "too few for no assumption": (
        lambda: rank_without_normality(n=58, share=0.95, confidence=0.95),
        "at least 59, because with fewer",
    ),
    "quantile of one": (lambda: propagate(lambda a: a, {"a": NORM}, n=8).quantile(1.0), "p must be between 0 and 1"),
    "empty": (lambda: tolerance_factor(n=[], share=0.9, confidence=0.9), "is empty"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_words(case):
    call, words = BAD[case]
    with pytest.raises(ValueError, match=words):
        call()
