"""Tornado, lines of waste and the price of a wider bit against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from calc.fill.hole import annular_volume
from calc.scatter.inputs import limits, normal
from calc.scatter.propagate import propagate
from calc.scatter.sensitivity import HoleCount, cost_of_diameter, tornado, waste_lines, waste_model, waste_tornado
from calc.scatter.shortfall import short_probability
from calc.scatter.simulated import HoleScatter, NominalHole
from calc.scatter.variance import gum_budget

TWENTY = NominalHole(d_0=20.0, phi=16.0, l_v=200.0)
SCATTER = HoleScatter(
    nominal=TWENTY,
    d_0=limits(low=20.3, high=20.4),
    mass_deviation=limits(low=-0.045, high=0.045),
    l_v=normal(mean=200.0, sd=3.0),
    voids=limits(low=0.0, high=0.03),
    repeat=normal(mean=0.0, sd=0.01),
)


def test_a_sum_swings_by_its_quantiles():
    bars = tornado(
        lambda a, b, c: a - 2 * b + c, {"a": stats.norm(10, 3), "b": stats.uniform(0, 4), "c": 5.0}, share=0.9
    )
    assert [bar.name for bar in bars] == ["a", "b"]
    a, b = bars
    assert (a.low, a.high) == pytest.approx((10 - 1.644854 * 3, 10 + 1.644854 * 3), abs=1e-5)
    assert (a.at_low, a.at_high) == pytest.approx((a.low + 1, a.high + 1))
    assert (b.low, b.high) == pytest.approx((0.2, 3.8))
    assert (b.at_low, b.at_high) == pytest.approx((14.6, 7.4))
    assert b.width == pytest.approx(7.2)
    assert a.middle == b.middle == pytest.approx(11.0)


def test_dose_by_hand():
    """Limits from 20.3 to 20.4: the middle 90 % end at 20.305 and 20.395, all others at their means."""
    bars = {bar.name: bar for bar in tornado(SCATTER.need, SCATTER.inputs)}
    assert set(bars) == {"d_0", "mass_deviation", "l_v", "voids", "repeat"}
    at = lambda d, v: math.pi / 4 * (d**2 - 256) * 200 * (1 + v)  # noqa: E731
    assert bars["d_0"].at_low == pytest.approx(at(20.305, 0.015))
    assert bars["d_0"].at_high == pytest.approx(at(20.395, 0.015))
    assert bars["voids"].at_high == pytest.approx(at(20.35, 0.0285))
    assert bars["mass_deviation"].at_low == pytest.approx(math.pi / 4 * (20.35**2 - 256 * (1 - 0.0405)) * 200 * 1.015)
    assert bars["repeat"].at_high < bars["repeat"].at_low  # a strong shot needs a smaller set dose


def test_widest_first_and_the_order_of_writing_does_not_matter():
    bars = tornado(SCATTER.need, SCATTER.inputs)
    widths = [bar.width for bar in bars]
    assert widths == sorted(widths, reverse=True)
    assert bars == tornado(SCATTER.need, dict(reversed(SCATTER.inputs.items())))
    assert bars[0].name == "mass_deviation"


@given(share=st.floats(0.05, 0.99))
@settings(max_examples=20, deadline=None)
def test_small_normal_scatter_swings_as_the_budget_says(share):
    """Straight enough, each width is 2 z times its contribution to the first-order budget."""
    inputs = {"d_0": stats.norm(20.3, 0.01), "phi": stats.norm(16.0, 0.018), "l_v": stats.norm(200.0, 0.3)}
    parts = {part.name: part.contribution for part in gum_budget(annular_volume, inputs).parts}
    z = stats.norm.ppf((1 + share) / 2)
    for bar in tornado(annular_volume, inputs, share=share):
        assert bar.width == pytest.approx(2 * z * parts[bar.name], rel=1e-4)


def test_units_of_the_inputs_scale_the_result_only():
    inch = 25.4
    one = tornado(annular_volume, {"d_0": stats.norm(20.3, 0.1), "phi": 16.0, "l_v": stats.norm(200, 3)})
    other = tornado(
        annular_volume,
        {"d_0": stats.norm(20.3 / inch, 0.1 / inch), "phi": 16.0 / inch, "l_v": stats.norm(200 / inch, 3 / inch)},
    )
    assert [b.name for b in one] == [b.name for b in other]
    assert [b.width for b in one] == pytest.approx([b.width * inch**3 for b in other])


def test_waste_at_a_dose():
    """30 mL, of which voids take theirs and the hole fills: what is left comes out."""
    model = waste_model(SCATTER, V_dose=30_000.0)
    V = math.pi / 4 * (20.35**2 - 256) * 200
    values = {"d_0": 20.35, "mass_deviation": 0.0, "l_v": 200.0, "overdrill": 0.0, "voids": 0.02, "repeat": 0.01}
    assert model(**values) == pytest.approx(30_300 - 1.02 * V)
    assert waste_model(SCATTER, V_dose=1000.0)(**values) == 0.0
    bars = waste_tornado(SCATTER, V_dose=30_000.0)
    dose_bars = {bar.name: bar for bar in tornado(SCATTER.required, SCATTER.hole_inputs)}
    l_v = next(bar for bar in bars if bar.name == "l_v")
    assert l_v.width == pytest.approx(1.015 * dose_bars["l_v"].width)
    assert l_v.at_high < l_v.at_low


def test_a_dose_that_never_overflows_has_no_swing():
    assert {bar.width for bar in waste_tornado(SCATTER, V_dose=15_000.0)} == {0.0}


def test_waste_rises_and_short_holes_fall_with_the_dose():
    doses = np.linspace(21_000, 30_000, 12)
    waste = [propagate(waste_model(SCATTER, V_dose=float(V)), SCATTER.inputs, n=2**12).mean for V in doses]
    assert np.all(np.diff(waste) >= 0)
    assert waste[-1] > waste[0]
    chance = short_probability(SCATTER.need, SCATTER.inputs, dose=doses, n=2**8)
    assert np.all(np.diff(chance) <= 1e-12)
    assert (chance[0], chance[-1]) == pytest.approx((1, 0), abs=1e-3)
    simulated = SCATTER.simulate(series=500, holes=40, seed=1)
    assert (simulated.need > doses[5]).mean() == pytest.approx(chance[5], abs=0.01)


def test_lines_for_a_fixed_dose():
    lines = waste_lines(nominal=TWENTY, d_0=[19.5, 20.0, 20.5], l_v=[190.0, 200.0, 210.0], V_dose=7200 * math.pi)
    assert lines.against_d_0.waste == pytest.approx([50 * math.pi * (400 - 19.5**2), 0, 0], abs=1e-6)
    assert lines.against_d_0.missing == pytest.approx([0, 0, 50 * math.pi * (20.5**2 - 400)], abs=1e-6)
    assert lines.against_l_v.waste == pytest.approx([360 * math.pi, 0, 0], abs=1e-6)
    assert lines.against_l_v.missing == pytest.approx([0, 0, 360 * math.pi], abs=1e-6)
    assert list(lines.against_d_0.x) == [19.5, 20.0, 20.5]


def test_lines_for_an_overfill_are_that_share_of_the_hole():
    nominal = NominalHole(d_0=20.0, phi=16.0, l_v=200.0, overdrill=10.0, theta=130.0)
    lines = waste_lines(nominal=nominal, d_0=np.array([20.0, 24.0]), l_v=np.array([200.0, 400.0]), overfill=0.1)
    assert lines.against_d_0.waste[0] == lines.against_l_v.waste[0] == pytest.approx(0.1 * nominal.required)
    assert lines.against_d_0.waste[1] == pytest.approx(
        0.1 * NominalHole(d_0=24.0, phi=16.0, l_v=200.0, overdrill=10.0, theta=130.0).required
    )
    assert lines.against_l_v.waste[1] - lines.against_l_v.waste[0] == pytest.approx(0.1 * 7200 * math.pi)
    assert not lines.against_l_v.missing.any()


@pytest.mark.parametrize("given_", [{}, {"V_dose": 1.0, "overfill": 0.1}])
def test_lines_want_one_of_dose_and_overfill(given_):
    with pytest.raises(ValueError, match="either a fixed dose or an overfill"):
        waste_lines(nominal=TWENTY, d_0=[20.0], l_v=[200.0], **given_)


# ---- a tenth of a millimetre on the bit ----------------------------------------------------------


@pytest.mark.parametrize(("d_0", "phi", "percent"), [(20.0, 16.0, 2.8), (25.0, 20.0, 2.2), (32.0, 25.0, 1.6)])
def test_a_tenth_of_a_millimetre(d_0, phi, percent):
    """((d_0 + 0.1)² − d_0²)/(d_0² − phi²): 2.8, 2.2 and 1.6 %."""
    group = HoleCount(mark="A", count=1, nominal=NominalHole(d_0=d_0, phi=phi, l_v=250.0))
    assert 100 * cost_of_diameter(group=group, overfill=0.1)[1] == pytest.approx(percent, abs=0.05)


def test_more_adhesive_by_hand():
    """Count times 1.1 times pi/4 (0.2 d_0 + 0.01) l_v."""
    extra, share = cost_of_diameter(group=HoleCount(mark="A", count=40, nominal=TWENTY), overfill=0.1)
    assert extra == pytest.approx(40 * 1.1 * math.pi / 4 * 4.01 * 200)
    assert share == pytest.approx(math.pi / 4 * 4.01 * 200 / 22619.467, rel=1e-6)


def test_a_wider_bit_costs_more_and_a_narrower_one_less():
    group = HoleCount(mark="A", count=5, nominal=NominalHole(d_0=20.0, phi=16.0, l_v=200.0, overdrill=8.0, theta=130.0))
    extra = [cost_of_diameter(group=group, overfill=0.1, widening=w)[0] for w in (-0.2, 0.0, 0.1, 0.2)]
    assert extra == sorted(extra)
    assert extra[1] == 0
    plain = cost_of_diameter(group=HoleCount(mark="A", count=5, nominal=TWENTY), overfill=0.1)[0]
    assert extra[2] > plain  # overdrill and tip grow as well


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"widening": -4.5}, r"group A: a hole of 20 mm changed by -4.5 mm does not take its bar of 16 mm"),
        ({"widening": math.nan}, "widening of the hole must be a finite number"),
    ],
)
def test_bad_costs(arguments, words):
    with pytest.raises(ValueError, match=words):
        cost_of_diameter(**{"group": HoleCount(mark="A", count=1, nominal=TWENTY), "overfill": 0.1, **arguments})


@pytest.mark.parametrize("count", [0, 2.5, True, -3])
def test_bad_count(count):
    with pytest.raises(ValueError, match="group A: the count must be a whole number"):
        HoleCount(mark="A", count=count, nominal=TWENTY)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.5, math.nan, "0.9", True])
def test_bad_share(share):
    with pytest.raises(ValueError, match="share must be between 0 and 1"):
        tornado(SCATTER.need, SCATTER.inputs, share=share)


def test_a_model_that_breaks_at_an_end():
    with pytest.raises(ValueError, match=r"no finite number at a = 0\.05"):
        tornado(lambda a: np.where(a < 0.5, np.nan, a), {"a": limits(low=0.0, high=1.0)})


def test_a_negative_dose():
    with pytest.raises(ValueError, match="the dose must not be less than 0"):
        waste_model(SCATTER, V_dose=-1.0)
