"""A formula is refused at declaration when it could not be shown as it runs."""

import math
import pydoc

import numpy as np
import pytest

from calc.base.formula import DeclarationError, RangeError, formula
from calc.base.maths import max
from calc.base.units import Mm
from calc.fill.hole import annular_volume

declare = formula(symbol="z", source="test")


def test_refuses_a_conditional():
    def bad(*, x: Mm) -> Mm:
        """Doc."""
        return x if x > 1 else 1.0

    with pytest.raises(DeclarationError, match="branch"):
        declare(bad)


def test_refuses_a_comparison():
    def bad(*, x: Mm) -> Mm:
        """Doc."""
        return x * (x > 1)

    with pytest.raises(DeclarationError, match="Compare"):
        declare(bad)


def test_refuses_two_statements():
    def bad(*, x: Mm) -> Mm:
        """Doc."""
        y = x + 1
        return y * 2

    with pytest.raises(DeclarationError, match="single return"):
        declare(bad)


def test_refuses_a_positional_parameter():
    def bad(x: Mm) -> Mm:
        """Doc."""
        return x

    with pytest.raises(DeclarationError, match="keyword-only"):
        declare(bad)


def test_refuses_a_parameter_without_unit():
    def bad(*, x: float) -> Mm:
        """Doc."""
        return x

    with pytest.raises(DeclarationError, match="unit"):
        declare(bad)


def test_refuses_a_name_outside_the_nomenclature():
    def bad(*, qqq: Mm) -> Mm:
        """Doc."""
        return qqq

    with pytest.raises(DeclarationError, match="nomenclature"):
        declare(bad)


def test_refuses_a_foreign_function():
    def bad(*, x: Mm) -> Mm:
        """Doc."""
        return abs(x)

    with pytest.raises(DeclarationError, match="maths"):
        declare(bad)


@pytest.mark.parametrize("title", ["Parameters", "Returns", "Raises"])
def test_refuses_a_second_writing_of_what_is_declared(title):
    def bad(*, x: Mm) -> Mm:
        return x + 2

    bad.__doc__ = f"Doc.\n\n{title}\n{'-' * len(title)}\nx\n"
    with pytest.raises(DeclarationError, match=f"leave out {title}"):
        declare(bad)


def test_help_shows_the_formula_and_not_its_class():
    said = pydoc.plain(pydoc.render_doc(annular_volume))
    assert "annular_volume(*, d_0, phi, l_v)" in said
    assert "nominal diameter of the bar (mass-equivalent); accepted: 0 to 1000" in said
    assert "a value outside its range, or NaN; ``phi`` not below ``d_0``" in said
    assert said.index("Source: geometry.") < said.index("Parameters") < said.index("Examples")


def test_refuses_a_leading_sign():
    """handcalcs leaves such an expression out of what it typesets."""

    def bad(*, x: Mm) -> Mm:
        """Doc."""
        return -x + 2

    with pytest.raises(DeclarationError, match="sign"):
        declare(bad)


def test_accepts_an_array_aware_maximum():
    def good(*, x: Mm) -> Mm:
        """Doc."""
        return max(x, 2)

    made = declare(good)
    assert made(x=1.0) == 2.0
    assert list(made(x=np.array([1.0, 3.0]))) == [2.0, 3.0]


@pytest.mark.parametrize("bad", [math.nan, -1.0, math.inf, 5000.0])
def test_range_names_variable_value_and_range(bad):
    with pytest.raises(RangeError, match=r"d_0 = .* is outside 0 to 1000 mm"):
        annular_volume(d_0=bad, phi=16.0, l_v=200.0)


def test_relation_names_both():
    with pytest.raises(RangeError, match=r"phi must be smaller than d_0 \(they are 20 and 16\)"):
        annular_volume(d_0=16.0, phi=20.0, l_v=200.0)


def test_one_bad_value_in_an_array_is_found():
    with pytest.raises(RangeError):
        annular_volume(d_0=np.array([20.0, math.nan]), phi=16.0, l_v=200.0)
