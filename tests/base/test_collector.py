"""The collector of steps: an origin goes with its value, by name and unit, and is never found by an equal number."""

import pytest

from calc.base.collector import Steps
from calc.base.identity import DOSE, EMBEDMENT, PLAN
from calc.base.sheet import Given, Notice, Origin, joined, result_of
from calc.fill.hole import annular_volume, overdrill_volume, tip_volume, total_volume


def chain(d_0=20.0) -> Steps:
    """A library's calculation, which knows nothing of files."""
    found = Steps(d_0=d_0, phi=16.0, l_v=200.0)
    found.choose("overdrill", 0.0, "no overdrill in this rule")
    found.ask("theta", 180.0, "flat, unless the caller says more")
    found.use(annular_volume, "annular volume")
    found.use(overdrill_volume, "overdrilled part")
    found.use(tip_volume, "tip")
    found.use(total_volume, "required volume")
    found.note("thin", "the ring is thin")
    found.note("all", "the same for all", whole=True)
    return found


def owner() -> Steps:
    steps = Steps(EMBEDMENT, "A.1")
    steps.give("d_0", 20.0, "mm", Origin.of_row("schedule.csv", 3, "hole_diameter"))
    steps.give("phi", 16.0, "mm", "table of bars")
    steps.give("l_v", 200.0, "mm", result_of(PLAN, "B", "l_v"))
    return steps


def test_what_a_chain_asked_for_is_told_by_name():
    steps = owner()
    steps.give("overdrill", 0.0, "mm", "equal by chance")  # the chain chose its own
    steps.take(chain())
    first, drilled, tip, total = steps.steps
    assert [step.id for step in steps.steps] == ['04."A.1".V_a', '04."A.1".V_o', '04."A.1".V_t', '04."A.1".V_req']
    assert [one.origin for one in first.inputs] == [
        "schedule.csv row 3, hole_diameter",
        "table of bars",
        "step 05.B.l_v",
    ]
    assert [(one.row, one.step) for one in first.inputs] == [(3, None), (None, None), (None, "05.B.l_v")]
    assert {one.name: one.origin for one in drilled.inputs}["overdrill"] == "no overdrill in this rule"
    assert {one.name: one.origin for one in tip.inputs}["theta"] == "flat, unless the caller says more"
    assert [one.step for one in total.inputs] == [step.id for step in (first, drilled, tip)]
    assert first.label == "Annular volume"
    assert [(notice.mark, notice.words) for notice in steps.notices] == [
        ("A.1", "A.1: the ring is thin."),
        (None, "the same for all"),
    ]


def test_another_number_under_the_same_name_is_refused_and_not_given_a_wrong_origin():
    with pytest.raises(ValueError, match=r"d_0 is 20\.0 here, and the chain ran with 22\.0"):
        owner().take(chain(d_0=22.0))


def test_an_equal_number_under_another_name_lends_no_origin():
    steps = Steps(DOSE, "A")
    for symbol, value in (("d_1", 20.0), ("d_2", 16.0), ("h", 200.0)):
        steps.give(symbol, value, "mm", "equal by chance")
    steps.take(chain())
    assert {one.origin for one in steps.steps[0].inputs} == {"input"}


def test_a_unit_decides_among_values_of_one_name():
    steps = owner()
    steps.give("d_0", 20.0 / 25.4, "in", "the same in inches")
    steps.take(chain())
    assert steps.steps[0].inputs[0].origin == "schedule.csv row 3, hole_diameter"


def test_a_copy_goes_on_by_itself_and_both_are_taken_without_a_step_twice():
    first = chain()
    second = first.copy()
    second.use(annular_volume, "again")  # the same step
    steps = owner()
    steps.take(first)
    steps.take(second, say=False)
    assert len(steps.steps) == len(first.links) == len(second.links) == 4


def test_groups_share_a_book_and_keep_their_marks():
    book = Steps(PLAN)
    given = {"d_0": Given(20.0, "mm", ""), "phi": Given(16.0, "mm", ""), "l_v": Given(200.0, "mm", "")}
    for mark in ("job", "total"):
        book.of(mark).use(annular_volume, "ring", **given)
    book.use(annular_volume, "ring", **given)
    assert [(step.mark, step.id) for step in book.steps] == [
        ("job", '05."job".V_a'),
        ("total", "05.total.V_a"),
        (None, "05.job.V_a"),
    ]


def test_an_origin_in_a_sentence_keeps_step_row_and_what_is_general():
    cell = Origin.of_row("s.csv", 4, "count")
    told = cell.told("mean; {}").joined(Origin(" and more", general=" and (mark)"))
    assert (told.words, told.row) == ("mean; s.csv row 4, count and more", 4)
    assert told.general == "mean; s.csv \ue000, count and (mark)"
    result = result_of(DOSE, "A", "V_req")
    assert (result.words, result.told("{}: halved").words, result.told("{}: halved").step) == (
        "step 01.A.V_req",
        "step 01.A.V_req: halved",
        "01.A.V_req",
    )


def test_notices_are_joined_by_their_groups():
    notices = [Notice(DOSE, mark, "x", "{share} in 100", share) for mark, share in (("A", 3), ("A.1", 9))]
    assert joined(notices).words == "A, A.1: 3 to 9 in 100"
    assert [notice.words for notice in notices] == ["A: 3 in 100", "A.1: 9 in 100"]
    assert Notice(DOSE, "A", "x", "left out", lead="{mark}, volumes: ").words == "A, volumes: left out"
