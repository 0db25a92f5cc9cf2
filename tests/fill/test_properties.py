"""What must hold for every hole: volume is conserved, full is full, units and scale do not matter."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.base.formula import RangeError
from calc.fill.dose import dose, outcome, rounded_dose, strokes
from calc.fill.hole import annular_volume, bar_area, hole_area, required_volume, tip_depth, tip_volume
from calc.fill.level import full_fraction, overflow, surface_depth, unfilled_length

holes = st.fixed_dictionaries(
    {
        "phi": st.floats(6, 50),
        "gap": st.floats(1.02, 2.0),
        "l_v": st.floats(40, 2000),
        "overdrill": st.floats(0, 100),
        "theta": st.floats(60, 180),
    }
).map(
    lambda h: {
        "phi": h["phi"],
        "d_0": h["phi"] * h["gap"],
        "l_v": h["l_v"],
        "overdrill": h["overdrill"],
        "theta": h["theta"],
    }
)
shares = st.floats(0, 1)


def below(z, h):
    """Volume of the hole below depth z, worked in the test by slices and not by the code's formulas."""
    whole = h["l_v"] + h["overdrill"]
    tip = math.pi / 24 * h["d_0"] ** 3 / math.tan(math.radians(h["theta"] / 2)) if h["theta"] < 180 else 0.0
    if z <= whole:
        return math.pi / 4 * h["d_0"] ** 2 * (whole - z) + tip
    height = h["d_0"] / 2 / math.tan(math.radians(h["theta"] / 2))
    return tip * ((whole + height - z) / height) ** 3 if height > 0 else 0.0


@given(holes, st.floats(0, 1.6), shares)
def test_volume_is_conserved_at_every_bar_depth(h, amount, share):
    V, x = amount * required_volume(**h), share * h["l_v"]
    z, out = surface_depth(V=V, x=x, **h), overflow(V=V, x=x, **h)
    bar = math.pi / 4 * h["phi"] ** 2 * max(x - z, 0.0)
    assert below(z, h) - bar + out == pytest.approx(V, rel=1e-7, abs=1e-4)


@given(holes)
def test_exactly_full_at_the_required_volume(h):
    V = required_volume(**h)
    assert surface_depth(V=V, x=h["l_v"], **h) == pytest.approx(0, abs=1e-6 * h["l_v"] / (h["d_0"] / h["phi"] - 1))
    assert outcome(injected=V, **h).full
    assert unfilled_length(V=V, **h) == pytest.approx(0, abs=1e-6)


@given(holes)
def test_full_fraction_of_a_straight_hole_fills_it(h):
    V = full_fraction(d_0=h["d_0"], phi=h["phi"]) * hole_area(d_0=h["d_0"]) * h["l_v"]
    assert annular_volume(d_0=h["d_0"], phi=h["phi"], l_v=h["l_v"]) == pytest.approx(V, rel=1e-9)


@given(holes, st.floats(0.1, 3))
def test_scaling(h, k):
    big = {name: value * (1 if name == "theta" else k) for name, value in h.items()}
    assert required_volume(**big) == pytest.approx(k**3 * required_volume(**h), rel=1e-9)


@given(holes)
def test_inches_and_millimetres_agree(h):
    inches = {name: value / (1 if name == "theta" else 25.4) for name, value in h.items()}
    back = {name: value * (1 if name == "theta" else 25.4) for name, value in inches.items()}
    assert required_volume(**back) == pytest.approx(required_volume(**h), rel=1e-12)


@given(holes, shares, shares)
def test_more_adhesive_stands_higher_and_leaves_less_unfilled(h, a, b):
    low, high = sorted((a, b))
    need = required_volume(**h)
    assert surface_depth(V=high * need, x=0.0, **h) <= surface_depth(V=low * need, x=0.0, **h) + 1e-9
    assert unfilled_length(V=high * need, **h) <= unfilled_length(V=low * need, **h) + 1e-9


@given(holes, shares, shares, st.floats(0, 1.5))
def test_pushing_the_bar_only_raises_the_surface(h, a, b, amount):
    shallow, deep = sorted((a * h["l_v"], b * h["l_v"]))
    V = amount * required_volume(**h)
    assert surface_depth(V=V, x=deep, **h) <= surface_depth(V=V, x=shallow, **h) + 1e-6


@given(holes, st.floats(0, 0.99))
def test_shortfall_in_volume_is_a_length_of_ring(h, amount):
    V = amount * required_volume(**h)
    ring = hole_area(d_0=h["d_0"]) - bar_area(phi=h["phi"])
    expected = min((required_volume(**h) - V) / ring, h["l_v"])
    assert unfilled_length(V=V, **h) == pytest.approx(expected, rel=1e-9)


@given(st.floats(0.01, 5000), st.floats(0, 1), st.floats(0.05, 100))
def test_rounding_up_never_falls_short_and_never_adds_a_whole_step(V, share, step):
    wanted = dose(V_req=V, overfill=share)
    rounded = rounded_dose(V_dose=wanted, graduation=step)
    assert wanted <= rounded < wanted + step * (1 + 1e-9)


@pytest.mark.parametrize(
    ("V", "step", "n"),
    [(2.1, 0.7, 3), (0.3, 0.1, 3), (1.1, 0.1, 11), (4.35, 0.15, 29), (2.1000001, 0.7, 4), (0.0, 5.0, 0)],
)
def test_strokes_that_floats_miss(V, step, n):
    assert strokes(V_dose=V, stroke=step) == n
    assert rounded_dose(V_dose=V, graduation=step) >= V


def test_arrays_and_floats_agree():
    x = np.linspace(0, 200, 7)
    many = surface_depth(V=25000.0, d_0=20.0, phi=16.0, l_v=200.0, x=x, theta=130.0)
    assert many.tolist() == [
        surface_depth(V=25000.0, d_0=20.0, phi=16.0, l_v=200.0, x=float(v), theta=130.0) for v in x
    ]


def test_flat_bottom_has_no_tip():
    assert tip_volume(d_0=20.0, theta=180.0) == 0.0
    assert tip_depth(d_0=20.0, theta=180.0) == 0.0


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_impossible_volume_is_refused(bad):
    with pytest.raises(RangeError):
        surface_depth(V=bad, d_0=20.0, phi=16.0, l_v=200.0, x=0.0)


def test_the_bar_cannot_go_deeper_than_its_embedment():
    with pytest.raises(RangeError, match="embedment"):
        surface_depth(V=1.0, d_0=20.0, phi=16.0, l_v=200.0, x=201.0)
