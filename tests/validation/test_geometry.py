"""Volumes against values computed outside this project.

Annuli: geometry, π/4 (d_0² − φ²) l_v worked by hand, tolerance half of the last printed digit. The
hole with a drill tip: `fluids.TANK` gives 63.32017 mL for 20 x 200 mm with a 130° cone. Shares: exact fractions.
"""

from fractions import Fraction

import pytest

from calc.base.units import convert
from calc.fill.hole import MeasuredHole, annular_volume, hole_area, required_volume, tip_volume
from calc.fill.level import full_fraction, surface_depth

ANNULI = [
    (16, 12, 150, 13.195),
    (20, 16, 200, 22.619),
    (25, 20, 250, 44.179),
    (32, 25, 300, 94.012),
    (40, 32, 400, 180.956),
]


@pytest.mark.parametrize(("d_0", "phi", "l_v", "ml"), ANNULI)
def test_annulus(d_0, phi, l_v, ml):
    assert annular_volume(d_0=float(d_0), phi=float(phi), l_v=float(l_v)) / 1000 == pytest.approx(ml, abs=0.00051)


@pytest.mark.parametrize(
    ("d_0", "phi", "l_v", "in3", "ml"), [(0.75, 0.625, 8, 1.0799, 17.697), (1.125, 1.0, 12, 2.5035, 41.024)]
)
def test_us_annulus(d_0, phi, l_v, in3, ml):
    value = annular_volume(d_0=d_0 * 25.4, phi=phi * 25.4, l_v=l_v * 25.4)
    assert convert(value, "mm³", "in³") == pytest.approx(in3, abs=0.000051)
    assert convert(value, "mm³", "mL") == pytest.approx(ml, abs=0.00051)


@pytest.mark.parametrize(("d_0", "ml"), [(16.0, 0.250), (20.0, 0.488), (25.0, 0.95)])
def test_tip(d_0, ml):
    assert tip_volume(d_0=d_0, theta=130.0) / 1000 == pytest.approx(ml, abs=0.0051)


def test_hole_with_tip_against_fluids():
    assert (hole_area(d_0=20.0) * 200 + tip_volume(d_0=20.0, theta=130.0)) / 1000 == pytest.approx(
        63.32017, abs=0.0000051
    )


@pytest.mark.parametrize(
    ("phi", "d_0", "share"), [("12", "16", "0.4375"), ("16", "20", "0.36"), ("5/8", "3/4", "11/36"), ("8", "12", "5/9")]
)
def test_full_fraction(phi, d_0, share):
    assert full_fraction(d_0=float(Fraction(d_0)), phi=float(Fraction(phi))) == pytest.approx(
        float(Fraction(share)), abs=1e-12
    )


def test_half_leaves_8_in_12_ten_per_cent_short_and_two_thirds_drowns_16_in_20():
    """A rule of thumb (common practice, no source) fills half to two thirds; the geometry says what that does."""
    assert 0.5 / full_fraction(d_0=12.0, phi=8.0) == pytest.approx(0.90, abs=0.005)
    assert (2 / 3) / full_fraction(d_0=20.0, phi=16.0) == pytest.approx(1.85, abs=0.005)


def test_level_before_the_bar():
    V = required_volume(d_0=20.0, phi=16.0, l_v=200.0)
    assert surface_depth(V=V, d_0=20.0, phi=16.0, l_v=200.0, x=0.0) == pytest.approx(200 * (16 / 20) ** 2, rel=1e-12)


def test_a_measured_straight_hole_is_a_straight_hole():
    profile = MeasuredHole((0.0, 50.0, 120.0, 210.0), (20.0,) * 4, 130.0)
    straight = required_volume(d_0=20.0, phi=16.0, l_v=200.0, overdrill=10.0, theta=130.0)
    assert profile.required(phi=16.0, l_v=200.0) == pytest.approx(straight, rel=1e-12)
    for V in (100.0, 20000.0, 30000.0, 60000.0):
        for x in (0.0, 66.0, 133.0, 200.0):
            expected = surface_depth(V=V, d_0=20.0, phi=16.0, l_v=200.0, x=x, overdrill=10.0, theta=130.0)
            assert profile.surface_depth(V=V, phi=16.0, l_v=200.0, x=x) == pytest.approx(expected, abs=1e-8)


def test_a_cone_shaped_measured_hole():
    """A frustum from 30 to 20 mm over 90 mm: pi 90/12 (900 + 600 + 400)."""
    profile = MeasuredHole((0.0, 90.0), (30.0, 20.0))
    assert profile.volume_to(90.0) == pytest.approx(44767.695, abs=0.001)
