"""One pass boundary, compared unrounded; what cannot be judged fails."""

import math
import re

import pytest

from calc.base.display import Display
from calc.base.sheet import Check, Given, apply, check_block
from calc.base.units import UnitError
from calc.fill.hole import annular_volume


def judged(demand, resistance):
    return Check.compare(name="c", title="t", demand=demand, resistance=resistance, unit="mm")


def test_one_passes_and_just_above_fails():
    assert judged(1.0, 1.0).passes
    assert not judged(math.nextafter(1.0, 2.0), 1.0).passes


@pytest.mark.parametrize(
    ("demand", "resistance"), [(1.0, 0.0), (1.0, -1.0), (math.nan, 1.0), (1.0, math.nan), (math.inf, 1.0), (-1.0, 1.0)]
)
def test_what_cannot_be_judged_fails_with_a_reason(demand, resistance):
    check = judged(demand, resistance)
    assert not check.passes
    assert check.utilisation is None
    assert check.reason


@pytest.mark.parametrize(
    ("demand", "resistance", "unit", "sides"),
    [
        (0.563, 0.5625, "in", ("0.563 in", "0.562 in")),
        (0.56, 0.5625, "in", ("0.56 in", "0.56 in")),  # passes: nothing to be told apart
        (0.6, 0.5625, "in", ("0.60 in", "0.56 in")),
        (30.1, 30.0, "min", ("30.1 min", "30.0 min")),
        (100.01, 100.0, "kN", ("100.01 kN", "100.00 kN")),
        (1.0000001, 1.0, "", ("1.0000001", "1.0000000")),
    ],
)
def test_what_fails_never_reads_as_equal(demand, resistance, unit, sides):
    check = Check.compare(name="c", title="t", demand=demand, resistance=resistance, unit=unit)
    assert check.sides == sides
    block = check_block(check)
    assert (block["demand"], block["resistance"]) == sides
    assert check.passes or block["demand"] != block["resistance"]


def test_verdict_is_a_word_and_a_sign():
    assert (judged(1, 2).verdict_words, judged(2, 1).verdict_words) == ("✓ passes", "✗ FAILS")
    assert (judged(1, 2).verdict, judged(2, 1).verdict) == ("passes", "fails")


def given_inputs(**changed):
    values = {
        "d_0": Given(20.0, "mm", "row 2"),
        "phi": Given(16.0, "mm", "table"),
        "l_v": Given(20.0, "cm", "row 2"),
    } | changed
    return {"formula": annular_volume, "name": "V_a", "label": "Annulus", "inputs": values}


def test_step_converts_at_the_edge_and_keeps_origins():
    step = apply(**given_inputs())
    assert step.value == pytest.approx(22619.467)
    assert (step.shown, step.unit) == ("22.619 mL", "mm³")
    assert [i.origin for i in step.inputs] == ["row 2", "table", "row 2"]


def test_step_refuses_another_dimension():
    with pytest.raises(UnitError, match="different kinds"):
        apply(**given_inputs(l_v=Given(1.0, "kg", "row 2")))


def test_printed_digits_can_be_redone_in_inches():
    step = apply(
        **given_inputs(d_0=Given(0.75, "in", ""), phi=Given(0.625, "in", ""), l_v=Given(8.0, "in", "")),
        display=Display("us"),
    )
    shown = {i.name: float(re.match(r"[\d.]+", i.shown)[0]) for i in step.inputs}
    assert shown == {"d_0": 0.75, "phi": 0.625, "l_v": 8.0}
    assert step.shown == "0.59840 fl oz"
    assert r"= 1.0799\ \mathrm{in}^{3} = 0.59840\ \mathrm{fl\ oz}" in step.latex
