"""The grammar of what people type."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.base.units import UnitError, convert, parse_number, parse_quantity, units_like


def test_temperatures_meet_where_the_scales_do():
    assert convert(32.0, "°F", "°C") == 0.0
    assert [convert(C, "°C", "°F") for C in (0.0, 5.0, 100.0, -40.0)] == [32.0, 41.0, 212.0, -40.0]
    for degree in range(-7, 60):
        assert convert(32.0 + 9.0 * degree, "°F", "°C") == pytest.approx(5.0 * degree, rel=1e-14, abs=1e-14)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("16.5 mm", "mm", 16.5),
        ("5/8 in", "mm", 15.875),
        ("1-1/8 in", "mm", 28.575),
        ("1 1/8 in", "mm", 28.575),
        ("2 cm", "mm", 20.0),
        ("18 fl oz", "mL", 532.3235),
        ("1 in³", "mL", 16.387064),
        ("130 °", "°", 130.0),
        ("54 °F", "°C", 12.2222222),
        ("0.4 L", "mm³", 4e5),
        ("0.5 gal", "mL", 1892.7059),
        ("145 lb/ft³", "kg/m³", 2322.67719),
        ("12 lb/gal", "g/mL", 1.4379169),
    ],
)
def test_reads(text, unit, value):
    assert parse_quantity(text, unit).to(unit) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("16,5 mm", "comma"),
        ("1,000 mm", "comma"),
        ("16", "no unit"),
        ("5/8", "no unit"),
        ("16mm", "one space"),
        ("16 furlong", "unknown unit"),
        ("16 kg", "wrong kind"),
        ("nan mm", "finite"),
        ("inf mm", "finite"),
        ("1e999 mm", "too large"),
        ("", "not a number"),
        ("mm", "not a number"),
        ("1/0 in", "zero"),
        ("1-9/8 in", "proper"),
        ("__import__('os') mm", "not a number"),
        ("16  mm", "one space"),
        ("٣ mm", "not a number"),
    ],
)
def test_refuses_with_a_sentence(text, says):
    with pytest.raises(UnitError, match=says):
        parse_quantity(text, "mm")


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text):
    try:
        value = parse_number(text)
    except UnitError:
        return
    assert math.isfinite(value)


@given(st.floats(0.01, 1e6), st.sampled_from(units_like("mm³")))
def test_there_and_back(value, unit):
    assert convert(convert(value, "mm³", unit), unit, "mm³") == pytest.approx(value, rel=1e-12)
