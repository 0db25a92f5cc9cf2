"""Ways of dosing against numbers worked by hand, without scatter and with one scatter at a time."""

from __future__ import annotations

import math

import numpy as np
import pytest
from jobparts import repeated_short
from scipy import special, stats

from calc.scatter.inputs import limits, normal
from calc.scatter.simulated import HoleScatter, NominalHole
from calc.scatter.ways import (
    Judgement,
    all_ways,
    amount_by_eye,
    amount_of_dose,
    amount_of_first_hole,
    amount_to_level,
    compare_ways,
    filled_to,
    outcome,
)

EXACT = {"margin": 0.0, "sd_hole": 0.0, "sd_series": 0.0, "sees": 0.0, "level_sd": 0.0, "first_margin": 0.0}
TWELVE = NominalHole(d_0=12.0, phi=8.0, l_v=100.0)  # 20 pi times 100 = 6283.19 mm³
TWENTY = NominalHole(d_0=20.0, phi=16.0, l_v=200.0)  # 22619.47 mm³
ROOM = math.pi / 4 * (20**2 - 16**2)  # mm³ per mm of 16 in 20


def judged(**given):
    return Judgement(**{**EXACT, **given})


def compared(scatter, *, series=10, holes=100, **given):
    given.setdefault("judgement", judged())
    given.setdefault("overfill", 0.1)
    return {r.key: r for r in compare_ways(holes=scatter.simulate(series=series, holes=holes, seed=1), **given)}


def test_order_and_names():
    ways = compared(HoleScatter(nominal=TWENTY), stroke=5000.0)
    assert list(ways) == ["eye", "level 1/2", "level 2/3", "strokes", "nominal", "overfill", "first hole"]
    assert [key for key, way in ways.items() if way.habit] == ["first hole"]
    assert "strokes" not in compared(HoleScatter(nominal=TWENTY))


def test_half_of_an_8_in_12_hole_is_a_tenth_short():
    """Half the hole is 1/2, the ring takes 1 - (8/12)² = 5/9 of it: 9/10 full, so 10 mm of 100 are bare."""
    way = compared(HoleScatter(nominal=TWELVE))["level 1/2"]
    assert way.short_per_100 == 100
    assert way.worst_shortfall == pytest.approx(10.0, abs=1e-9)
    assert way.worst_share == pytest.approx(0.1, abs=1e-12)
    assert way.short_series == 1
    assert way.used == pytest.approx(math.pi / 4 * 144 * 50)
    assert way.waste == 0


def test_two_thirds_of_a_16_in_20_hole_overfills_by_85_per_cent():
    way = compared(HoleScatter(nominal=TWENTY))["level 2/3"]
    assert way.used / TWENTY.required - 1 == pytest.approx(2 / 3 / 0.36 - 1)  # 0.852
    assert way.waste_share == pytest.approx(1 - 0.36 * 3 / 2)
    assert way.short_per_100 == 0


def test_every_number_without_scatter():
    """22.619 mL in strokes of 5 mL: 5 strokes; with 10 % overfill 24.881 mL, on a dispenser of 2 mL 26 mL."""
    ways = compared(
        HoleScatter(nominal=TWENTY),
        stroke=5000.0,
        graduation=2000.0,
        price=0.00003,
        judgement=judged(margin=0.2, first_margin=0.05),
    )
    need = 7200 * math.pi
    used = {"eye": 1.2 * need, "strokes": 25_000.0, "nominal": need, "overfill": 26_000.0, "first hole": 1.05 * need}
    for key, amount in used.items():
        way = ways[key]
        assert way.used == pytest.approx(amount)
        assert way.waste == pytest.approx(amount - need, abs=1e-6)
        assert way.waste_share == pytest.approx(1 - need / amount, abs=1e-12)
        assert way.cost == pytest.approx(0.00003 * amount)
        assert way.waste_cost == pytest.approx(0.00003 * (amount - need), abs=1e-9)
        assert (way.short_per_100, way.worst_shortfall, way.worst_share, way.short_series) == (0, 0, 0, 0)
    assert (ways["strokes"].dose, ways["overfill"].dose, ways["eye"].dose) == (25_000.0, 26_000.0, None)
    assert ways["nominal"].dose == pytest.approx(need)


def test_without_a_price_there_is_no_cost():
    assert {way.cost for way in compared(HoleScatter(nominal=TWENTY)).values()} == {None}


def test_an_undersized_margin_shows_its_length():
    way = compared(HoleScatter(nominal=TWENTY), judgement=judged(margin=-0.1))["eye"]
    assert (way.short_per_100, way.waste) == (100, 0)
    assert way.worst_shortfall == pytest.approx(20.0)


def test_tip_and_overdrill_are_counted_once():
    nominal = NominalHole(d_0=20.0, phi=16.0, l_v=200.0, overdrill=10.0, theta=130.0)
    ways = compared(HoleScatter(nominal=nominal))
    assert ways["nominal"].used == pytest.approx(22619.467 + 3141.593 + 488.31, abs=0.01)
    assert ways["nominal"].short_per_100 == 0
    assert ways["level 1/2"].used == pytest.approx(488.31 + 100 * math.pi * 105, abs=0.01)


def test_voids_take_their_part_first_and_are_not_waste():
    ways = compared(HoleScatter(nominal=TWENTY, voids=0.04))
    assert ways["nominal"].short_per_100 == 100
    assert ways["nominal"].worst_shortfall == pytest.approx(0.04 * 200)
    assert ways["nominal"].waste == 0
    assert ways["overfill"].waste == pytest.approx(0.06 * TWENTY.required)
    assert ways["first hole"].used == pytest.approx(1.04 * TWENTY.required)
    assert ways["first hole"].waste == pytest.approx(0, abs=1e-6)
    assert ways["level 1/2"].used == pytest.approx(100 * math.pi * 100 + 0.04 * TWENTY.required)
    assert ways["level 1/2"].waste == pytest.approx(100 * math.pi * 100 - TWENTY.required)


def test_a_weak_shot_shows_in_set_doses_only():
    ways = compared(HoleScatter(nominal=TWENTY, repeat=-0.05))
    assert ways["nominal"].used == pytest.approx(0.95 * TWENTY.required)
    assert ways["nominal"].worst_shortfall == pytest.approx(0.05 * 200)
    assert ways["eye"].short_per_100 == 0
    assert ways["first hole"].short_per_100 == 0  # the dispenser's count of the first hole carries the same error


# ---- with scatter --------------------------------------------------------------------------------


@pytest.mark.parametrize("margin", [0.0, 0.02, 0.05])
def test_reuse_of_the_first_hole(margin):
    """Normal need, here from the embedment.

    The first hole of each series is full, the others are short with Φ(−m/(σ√2)) or so.

    The margin is a share of the first hole, so its amount (1 + m) V_1 − V_2 has mean m μ and sd σ √((1 + m)² + 1).
    """
    scatter = HoleScatter(nominal=TWENTY, l_v=normal(mean=200.0, sd=4.0))
    holes = scatter.simulate(series=8000, holes=25, seed=1)
    done = outcome(holes=holes, injected=amount_of_first_hole(holes=holes, first_margin=margin))
    expected = stats.norm.cdf(-margin * 200 / (4 * math.hypot(1 + margin, 1)))
    assert not done.short[:, 0].any()
    assert done.short[:, 1:].mean() == pytest.approx(expected, abs=0.01)
    assert expected == pytest.approx(repeated_short(margin=margin * 200, sd=4.0), abs=0.01)


def test_reuse_without_margin_is_one_half():
    scatter = HoleScatter(nominal=TWENTY, l_v=normal(mean=200.0, sd=4.0))
    way = compared(scatter, series=4000, holes=50)["first hole"]
    assert way.short_per_100 == pytest.approx(100 * 0.5 * 49 / 50, abs=1.5)
    assert 0.4 < way.short_series < 0.6  # a small first hole makes its whole series short


def test_a_common_bit_leaves_the_reuse_habit_right_and_the_nominal_dose_wrong():
    scatter = HoleScatter(nominal=TWENTY, d_0=limits(low=20.1, high=20.55))
    ways = compared(scatter)
    assert ways["first hole"].short_per_100 == 0
    assert (ways["nominal"].short_per_100, ways["nominal"].short_series) == (100, 1)


@pytest.mark.parametrize("common", [("l_v",), ()])
def test_series_show_what_single_holes_hide(common):
    """Half of all holes are short either way; whole series only when the cause is shared."""
    way = compared(HoleScatter(nominal=TWENTY, l_v=normal(mean=200.0, sd=4.0), common=common), series=200)["nominal"]
    assert way.short_per_100 == pytest.approx(50, abs=0.5)
    if common:
        assert way.short_series == pytest.approx(0.5, abs=0.01)


def test_mean_waste_and_worst_hole_of_a_normal_need():
    """Nominal dose, need ~ N(μ, σ): waste σ φ(0).

    The longest of 100 normal bars misses by σ times 2.5076 (order statistic).
    """
    ways = compared(HoleScatter(nominal=TWENTY, l_v=normal(mean=200.0, sd=4.0)), series=400)
    assert ways["nominal"].waste == pytest.approx(ROOM * 4 * stats.norm.pdf(0), rel=0.005)
    assert ways["nominal"].worst_shortfall == pytest.approx(2.5076 * 4, rel=0.03)


@pytest.mark.parametrize(("sd", "margin"), [(0.05, 0.0), (0.1, 0.1), (0.2, 0.3)])
def test_an_unsteady_eye(sd, margin):
    """Lognormal of mean 1: short with Φ((σ²/2 − ln(1 + m))/σ), σ² = ln(1 + sd²); mean amount (1 + m) times nominal."""
    for name in ("sd_hole", "sd_series"):
        way = compared(
            HoleScatter(nominal=TWENTY), series=5000, holes=20, judgement=judged(margin=margin, **{name: sd})
        )["eye"]
        s = math.sqrt(math.log(1 + sd**2))
        assert way.short_per_100 / 100 == pytest.approx(special.ndtr((s**2 / 2 - math.log(1 + margin)) / s), abs=2e-3)
        assert way.used == pytest.approx((1 + margin) * TWENTY.required, rel=1e-3)


def test_an_eye_that_sees_everything_needs_no_margin():
    scatter = HoleScatter(
        nominal=TWENTY,
        d_0=limits(low=20.1, high=20.5),
        l_v=normal(mean=200, sd=4),
        voids=limits(low=0, high=0.05),
        repeat=normal(mean=0, sd=0.02),
    )
    seeing, half, blind = (compared(scatter, judgement=judged(sees=s))["eye"] for s in (1.0, 0.5, 0.0))
    assert seeing.short_per_100 == 0
    assert seeing.waste == pytest.approx(0, abs=1e-6)
    assert blind.used == pytest.approx(TWENTY.required)
    assert half.used == pytest.approx((seeing.used + blind.used) / 2)


def test_level_scatter():
    """16 in 20 filled to 0.36 is just full: with scatter of the level every second hole is short."""
    holes = HoleScatter(nominal=TWENTY).simulate(series=100, holes=100, seed=1)
    done = outcome(holes=holes, injected=amount_to_level(holes=holes, judgement=judged(level_sd=0.03), level=0.36))
    assert done.short.mean() == pytest.approx(0.5, abs=1e-3)
    assert done.injected.std() == pytest.approx(0.03 * math.pi / 4 * 400 * 200, rel=0.01)


# ---- properties ----------------------------------------------------------------------------------

SCATTER = HoleScatter(
    nominal=TWENTY,
    d_0=limits(low=20.3, high=20.4),
    mass_deviation=limits(low=-0.045, high=0.045),
    l_v=normal(mean=200.0, sd=3.0),
    overdrill=limits(low=0.0, high=6.0),
    voids=limits(low=0.0, high=0.03),
    repeat=normal(mean=0.0, sd=0.01),
)


def test_more_adhesive_fewer_short_holes_and_more_waste():
    holes = SCATTER.simulate(series=20, holes=50, seed=1)
    done = [
        outcome(holes=holes, injected=amount_of_dose(holes=holes, V_dose=V)) for V in np.linspace(20_000, 32_000, 40)
    ]
    assert np.all(np.diff([d.short.mean() for d in done]) <= 0)
    assert np.all(np.diff([d.waste.mean() for d in done]) >= 0)
    assert np.all(np.diff([d.unfilled.mean() for d in done]) <= 0)
    assert (done[0].short.mean(), done[-1].short.mean()) == (1, 0)


def test_short_is_exactly_a_dose_below_the_need():
    holes = SCATTER.simulate(series=20, holes=50, seed=1)
    done = outcome(holes=holes, injected=amount_of_dose(holes=holes, V_dose=25_000.0))
    assert np.array_equal(done.short, holes.need > 25_000.0)
    assert np.array_equal(done.short, done.unfilled > 0)
    assert not (done.short & (done.waste > 0)).any()


def test_nothing_is_lost():
    """Injected is voids, fill and waste, hole by hole, in every way of dosing."""
    holes = SCATTER.simulate(series=10, holes=20, seed=1)
    j = judged(margin=0.1, sd_hole=0.1, sd_series=0.1, sees=0.5, level_sd=0.04, first_margin=0.05)
    for way in all_ways(holes=holes, judgement=j, overfill=0.2, stroke=4000.0, graduation=1000.0):
        done = outcome(holes=holes, injected=way.injected)
        fill = holes.required - math.pi / 4 * (holes.d_0**2 - holes.phi**2) * done.unfilled
        assert fill + done.waste + holes.voids * holes.required == pytest.approx(way.injected, rel=1e-9)


def test_same_seed_same_digits():
    j = judged(margin=0.1, sd_hole=0.1, sd_series=0.1, sees=0.5, level_sd=0.04)
    assert compared(SCATTER, judgement=j, stroke=4000.0) == compared(SCATTER, judgement=j, stroke=4000.0)


def test_judgement_keeps_its_draws_when_only_its_size_changes():
    holes = HoleScatter(nominal=TWENTY).simulate(series=5, holes=20, seed=1)
    little, much = (
        np.log(amount_by_eye(holes=holes, judgement=judged(sd_hole=s)) / TWENTY.required) for s in (0.05, 0.1)
    )
    assert np.array_equal(np.argsort(little, axis=None), np.argsort(much, axis=None))


def test_filled_to_by_hand():
    assert filled_to(V_t=100.0, d_0=20.0, l_hole=50.0, f_fill=0.5) == pytest.approx(100 + 2500 * math.pi)


# ---- refused -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("margin", -0.6),
        ("sd_hole", -0.1),
        ("sd_series", 1.5),
        ("sees", 1.01),
        ("level_sd", math.nan),
        ("first_margin", "5 %"),
        ("sees", True),
    ],
)
def test_judgement_out_of_range(name, value):
    with pytest.raises(ValueError, match=rf"{name} of the judgement must be a number from .* to .*, not"):
        judged(**{name: value})


def test_judgement_has_no_defaults():
    with pytest.raises(TypeError, match="missing"):
        Judgement(margin=0.1)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"levels": (1.2,)}, "level to which a hole is filled"),
        ({"judgement": judged(level_sd=0.3)}, "below empty; give a smaller level_sd"),
        ({"price": -1.0}, "price of the adhesive must be a number of at least 0"),
        ({"price": math.inf}, "price of the adhesive"),
        ({"overfill": 9.0}, "overfill"),
        ({"stroke": 0.0}, "graduation"),
        ({"holes": 9}, "at least 100 simulated holes, not 90"),
    ],
)
def test_bad_input(given, words):
    with pytest.raises(ValueError, match=words):
        compared(HoleScatter(nominal=TWENTY), **given)
