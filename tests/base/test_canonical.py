"""The canonical form of numbers, and that functions on arrays give the digits of functions on numbers."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.base import maths
from calc.base.canonical import DIGITS, canonical
from calc.base.display import round_text
from calc.base.formula import formula
from calc.base.sheet import Check, check_block
from calc.base.units import Mm, Mm3

finite = st.floats(allow_nan=False, allow_infinity=False)


@given(finite)
def test_it_changes_nothing_the_second_time_and_moves_by_half_a_unit_at_most(value):
    once = canonical(value)
    assert canonical(once) == once
    if abs(value) > 1e-300:
        assert abs(once - value) <= abs(value) * 0.501 * 10.0 ** (1 - DIGITS)


@given(st.floats(1e-12, 1e12))
def test_it_has_so_many_digits(value):
    digits = f"{canonical(value)!r}".partition("e")[0].replace(".", "").strip("0")
    assert len(digits) <= DIGITS


def test_zero_has_no_sign_and_what_is_no_float_stays():
    assert math.copysign(1.0, canonical(-0.0)) == 1.0
    given_ = {"a": True, "b": 2**80, "c": None, "d": "0.1234567890123", "e": (1.5, [])}
    assert canonical(given_) == {**given_, "e": [1.5, []]}
    assert type(canonical({"a": True})["a"]) is bool
    assert type(canonical(np.float64(0.1))) is float


@pytest.mark.parametrize("value", [math.inf, -math.inf, 1.7976931348623157e308])
def test_what_cannot_be_rounded_stays(value):
    assert canonical(value) == value
    assert math.isnan(canonical(math.nan))


@pytest.mark.parametrize("value", [11829.411825, 2.1292941285, 5914.7059125, 0.11234567885])
def test_what_lies_between_two_canonical_numbers_goes_up_on_every_machine(value):
    """Multiples of a fluid ounce end there.

    The neighbouring doubles, that another way of adding may give, are rounded alike.
    """
    both = {canonical(math.nextafter(value, 0)), canonical(value), canonical(math.nextafter(value, math.inf))}
    assert len(both) == 1
    assert both.pop() > value


@pytest.mark.parametrize(("value", "digits"), [(2.675, 3), (0.125, 2), (22.5, 2), (1234.5, 4)])
def test_what_is_shown_does_not_hang_on_the_last_digit(value, digits):
    near = (math.nextafter(value, 0), value, math.nextafter(value, math.inf))
    assert len({round_text(one, digits) for one in near}) == 1
    assert round_text(-0.0) == "0"


def test_a_verdict_is_not_rounded_but_its_utilisation_is():
    check = Check.compare(name="x", title="x", demand=1 + 1e-12, resistance=1.0, unit="")
    assert not check.passes
    assert check.utilisation > 1
    assert check_block(check)["utilisation"] == 1.0
    assert (
        json.dumps(check_block(Check.compare(name="x", title="x", demand=0.1, resistance=0.3, unit=""))["utilisation"])
        == "0.3333333333"
    )


@pytest.mark.parametrize("name", ["exp", "log", "sin", "cos", "tan"])
def test_an_array_gets_the_digits_of_its_numbers(name):
    function = getattr(maths, name)
    values = np.linspace(0.1, 3.0, 301)
    assert function(values).tolist() == [function(value) for value in values.tolist()]
    assert function(values.reshape(7, 43)).shape == (7, 43)


def test_a_power_in_a_formula_gets_the_digits_of_its_numbers():
    """NumPy's own differs between processors, here by one unit in the last place of some."""

    @formula(symbol="V_t", source="geometry")
    def cube(*, d_0: Mm, phi: Mm = 1.0) -> Mm3:
        """Cube of a diameter, for this test, with a root in it and a square."""
        return d_0**3 + phi ** (1 / 3) * d_0**2

    d_0, phi = np.linspace(6.0, 40.0, 997), np.linspace(1.0, 2.0, 997)
    expected = [a * a * a + math.pow(b, 1 / 3) * (a * a) for a, b in zip(d_0.tolist(), phi.tolist(), strict=True)]
    assert cube(d_0=d_0, phi=phi).tolist() == expected
    assert cube(d_0=2.0) == 12.0
    assert cube.expression == "d_0 ** 3 + phi ** (1 / 3) * d_0 ** 2"
