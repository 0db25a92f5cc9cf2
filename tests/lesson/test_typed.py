"""What is taken in the lesson and nowhere else: where it has one meaning."""

import pytest

from calc.base.units import UnitError, parse_quantity
from calc.lesson.texts import Texts
from calc.lesson.typed import strict

EN = Texts()


@pytest.mark.parametrize(
    ("typed", "millilitres"),
    [
        ("3,5 mL", 3.5),
        ("3.5 mL", 3.5),
        ("13.2mL", 13.2),
        ("13,25ml", 13.25),
        ("0,125 L", 125.0),
        ("2 cl", 20.0),
        ("2,5cl", 25.0),
        ("1/2 dl", 50.0),
        ("20 cc", 20.0),
        ("20ccm", 20.0),
        (" 18  cm³ ", 18.0),
    ],
)
def test_a_volume_as_people_write_it(typed, millilitres):
    assert parse_quantity(strict(typed, EN), "mL").to("mL") == pytest.approx(millilitres)


_LENGTHS = [
    ("20", "20 mm"),
    ("20,5", "20.5 mm"),
    ("3/4", "3/4 mm"),
    ("3/4in", "3/4 in"),
    ("1-1/8 in", "1-1/8 in"),
    ("1 1/8in", "1 1/8 in"),
    ("-3", "-3 mm"),
]


@pytest.mark.parametrize(("typed", "plain"), _LENGTHS)
def test_a_bare_number_takes_the_unit_of_its_label(typed, plain):
    assert strict(typed, EN, "mm") == plain


@pytest.mark.parametrize("typed", ["1,500 mL", "12,345", "-1,000 mm"])
def test_a_comma_before_three_digits_is_refused_with_both_meanings(typed):
    number = typed.split(" ")[0]
    with pytest.raises(UnitError, match="two ways") as error:
        strict(typed, EN)
    assert number.replace(",", "") in str(error.value)
    assert number.replace(",", ".") in str(error.value)


@pytest.mark.parametrize(
    "typed", ["1,2,3 mL", "1.234,5 mL", "14 mL, 17 mL", "a fist", "", "3,5", "20", "5 furlongs", "3.5 mL 2"]
)
def test_what_is_no_volume_stays_none(typed):
    with pytest.raises(UnitError):
        parse_quantity(strict(typed, EN), "mL")
