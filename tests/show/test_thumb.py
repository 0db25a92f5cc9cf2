"""Four holes, one rule of thumb: what is drawn is what calc.fill says of each hole, in both units."""

import pytest
from drawnboxes import letters, touching
from matplotlib.figure import Figure

from calc.base.display import display_of
from calc.fill.hole import hole_area
from calc.fill.level import full_fraction, overflow, unfilled_length
from calc.show.dose.thumb import RULE, rule_of_thumb, thumb_picture
from calc.work.overfill.thumb import SHARES, four_holes


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_outcomes_are_those_of_the_formulas(units):
    holes = four_holes(display_of(units))
    assert len({one.l_v for one in holes}) == 1  # so that one line is half of all
    assert len(holes) == 4
    assert [one.needed for one in holes] == sorted((one.needed for one in holes), reverse=True)
    for one in holes:
        size = {"d_0": one.d_0, "phi": one.bar.diameter}
        assert one.needed == pytest.approx(full_fraction(**size))
        for share, filling in zip(SHARES, one.fillings, strict=True):
            volume = share * one.l_v * hole_area(d_0=one.d_0)
            assert filling.before.surface == pytest.approx((1 - share) * one.l_v)
            assert filling.home.spilt == pytest.approx(overflow(V=volume, l_v=one.l_v, x=one.l_v, **size), abs=1e-6)
            assert filling.gap == pytest.approx(unfilled_length(V=volume, l_v=one.l_v, **size), abs=1e-9)
            assert filling.finding == ("short" if share < one.needed else "overflow")


def test_the_rule_leaves_one_short_and_floods_the_others():
    """By hand: 8 mm in 12 mm needs 1 - (8/12)² = 5/9; half leaves 200 (1/18)/(5/9) = 20 mm bare."""
    first = four_holes(display_of("metric"))[0]
    assert (first.bar.diameter, first.d_0, first.fillings[0].gap) == (8.0, 12.0, pytest.approx(20.0))


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_picture_is_readable_and_tells_what_the_rule_is(units):
    display, figure = display_of(units), Figure()
    picture = thumb_picture(four_holes(display), display, figure=figure)
    assert not touching(figure)
    assert letters(figure) >= 8
    assert "a rule of thumb (common practice, no source)" in RULE
    assert RULE in picture.caption
    thinnest = four_holes(display)[0].bar.text
    assert picture.alt.startswith(f"Half full leaves {thinnest} short; half full runs over at ")
    shown, numbers = rule_of_thumb(display)
    assert {shown.block["place"], numbers.block["place"]} == {"screen"}
    assert [row[0] for row in numbers.block["rows"]] == [name for name, _ in picture.numbers]
