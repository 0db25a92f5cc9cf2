"""Bits by state, the tolerance on a bar's mass, and the diameter that goes with a mass."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calc.base.bars import all_bars, find_bar
from calc.base.formula import RangeError
from calc.fill.bits import (
    SOURCE,
    STATES,
    BitTableError,
    bit_limits,
    bit_note,
    bit_sizes,
    diameter_of_mass,
    load_bits,
    mass_tolerance,
)
from calc.fill.hole import annular_volume

HEAD = "# made for a test\nnominal_mm,state,low_mm,high_mm\n"


@pytest.mark.parametrize(
    ("nominal", "state", "expected"),
    [
        (10, "worn", (10.10, 10.20)),
        (16, "new", (16.45, 16.50)),
        (20, "medium", (20.30, 20.40)),
        (32, "new", (32.60, 32.70)),
        (40, "worn", (40.15, 40.25)),
    ],
)
def test_limits_as_remembered(nominal, state, expected):
    assert bit_limits(nominal=nominal, state=state) == expected


def test_every_size_has_every_state_and_wear_makes_it_narrower():
    assert bit_sizes() == (10, 12, 14, 16, 18, 20, 25, 28, 32, 35, 40)
    for size in bit_sizes():
        edges = [edge for state in STATES for edge in bit_limits(nominal=size, state=state)]
        assert edges == sorted(edges)
        assert size < edges[0] < edges[-1] < 1.05 * size


def test_the_label_travels_with_the_numbers():
    assert "from memory" in SOURCE
    note = bit_note(nominal=20.0, state="worn")
    assert SOURCE in note
    assert "20.10 to 20.20 mm" in note


@pytest.mark.parametrize("size", [22.0, 19.05, -10.0, math.nan])
def test_unknown_size_names_the_sizes(size):
    with pytest.raises(
        ValueError,
        match=r"10, 12, 14, 16, 18, 20, 25, 28, 32, 35, 40 mm; inch sizes are not in it.*limits, or its mean and sd",
    ):
        bit_limits(nominal=size, state="new")


def test_unknown_state_names_the_states():
    with pytest.raises(ValueError, match="worn, medium, new, not 'blunt'"):
        bit_limits(nominal=20.0, state="blunt")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("10,worn,10.1,10.2\n10,medium,10.3,10.4\n", "needs a row for each"),
        ("10,worn,10.2,10.1\n10,medium,10.3,10.4\n10,new,10.5,10.6\n", "do not rise"),
        ("10,worn,9.9,10.1\n10,medium,10.3,10.4\n10,new,10.5,10.6\n", "do not rise"),
        ("10,worn,10.1,10.2\n10,medium,10.15,10.4\n10,new,10.5,10.6\n", "do not rise"),
    ],
)
def test_a_table_that_contradicts_itself_is_refused(tmp_path, rows, words):
    path = tmp_path / "bits.csv"
    path.write_text(HEAD + rows, encoding="utf-8")
    with pytest.raises(BitTableError, match=words):
        load_bits(path)


@pytest.mark.parametrize(("bar", "share"), [("6", 0.06), ("8", 0.06), ("10", 0.045), ("16", 0.045), ("50", 0.045)])
def test_mass_tolerance(bar, share):
    assert mass_tolerance(bar=find_bar(bar)) == (-share, share)


def test_other_standards_have_none():
    for bar in all_bars().values():
        if "EN 10080" not in bar.standard.name:
            with pytest.raises(ValueError, match=r"no tolerance on the mass of .* give limits"):
                mass_tolerance(bar=bar)


def test_diameter_keeps_the_mass():
    """Weighed back: area times length times density is the nominal mass times one and the deviation."""
    deviation = np.array([-0.06, 0.0, 0.045])
    phi = diameter_of_mass(phi=12.0, mass_deviation=deviation)
    assert math.pi / 4 * phi**2 * 7850e-6 == pytest.approx(math.pi / 4 * 144 * 7850e-6 * (1 + deviation))
    assert diameter_of_mass(phi=16.0, mass_deviation=0.0) == 16.0


@pytest.mark.parametrize(("phi", "d_0", "percent"), [(12, 16, 5.8), (16, 20, 8.0), (20, 25, 8.0)])
def test_what_the_tolerance_does_to_the_annulus(phi, d_0, percent):
    """A bar 4.5 % lighter widens the annulus by phi²/(d_0² - phi²) times as much: 5.8, 8.0 and 8.0 %."""
    light = diameter_of_mass(phi=float(phi), mass_deviation=-0.045)
    ratio = annular_volume(d_0=float(d_0), phi=light, l_v=200.0) / annular_volume(
        d_0=float(d_0), phi=float(phi), l_v=200.0
    )
    assert 100 * (ratio - 1) == pytest.approx(percent, abs=0.05)
    assert ratio - 1 == pytest.approx(0.045 * phi**2 / (d_0**2 - phi**2))


def test_a_mass_that_is_none():
    with pytest.raises(RangeError, match="mass_deviation"):
        diameter_of_mass(phi=16.0, mass_deviation=-1.5)
