"""Pictures of strength: they say what the design says, the assumption stands in them, and nothing in them collides."""

import itertools
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from calc.base.display import METRIC, Display
from calc.base.sheet import Check
from calc.files.job import demo_job
from calc.show.drawing import redraw_bare
from calc.show.embedment.figures import (
    ROWS,
    check_name,
    codes_picture,
    resistance_picture,
    utilisation_picture,
    utilisation_pictures,
)
from calc.strength.short import bar as shortbar
from calc.strength.short import formulas as short
from calc.strength.short import law as bondlaw
from calc.work.embedment.codes import compare_codes
from calc.work.embedment.group import design
from calc.work.embedment.work import design_job
from calc.work.load import load_job

MISSING = 3000.0
DESIGNS = {one.case.mark: one for units in ("metric", "us") for one in design_job(load_job(demo_job(units))).designs}


def changed(mark, **values):
    """Design a group of the demo with other values of the job file."""
    case = DESIGNS[mark].case
    embedment = values.pop("embedment", case.embedment)
    kept = {**dict(case.values), **values}
    return design(replace(case, embedment=embedment, values=tuple(kept.items())))


CASES = {
    **DESIGNS,
    "too short": changed("W3", embedment=120.0),
    "fails": changed("W3", force_per_length=4e5, cover=40.0, embedment=161.0),
    "lap": changed("W3", use="lap", percent_lapped=50.0, end_cover=40.0, gap=100.0, existing_bar="16", embedment=420.0),
    "near yield": changed("B6", force=330000.0, embedment=950.0, member_thickness=1200.0),
}


def every(one, figure=None):
    return [
        resistance_picture(one, figure=figure),
        resistance_picture(one, missing=one.with_missing(MISSING), title="a title", figure=figure),
        codes_picture(one, compare_codes(one.case), title="a title", figure=figure),
        utilisation_picture([one], figure=figure),
    ]


@pytest.mark.parametrize("name", CASES)
def test_alt_text_is_one_sentence_and_the_drawing_stands_alone(name):
    for picture in every(CASES[name]):
        assert picture.alt.endswith(".")
        assert picture.alt.count(". ") == 0
        root = ElementTree.fromstring(picture.svg)
        assert (root.attrib["role"], root.attrib["aria-label"]) == ("img", picture.alt)
        for absent in ("metadata", 'href="http'):
            assert absent not in picture.svg
        assert picture.numbers


@pytest.mark.parametrize("name", CASES)
def test_the_numbers_are_those_of_the_design(name):
    one = CASES[name]
    display = one.case.display
    numbers = dict(resistance_picture(one, missing=one.with_missing(MISSING)).numbers)
    assert numbers["force with the hole full"] == display.force(one.capacity_full)
    assert numbers["least dose that still carries the force"] == (
        "none" if one.least_dose is None else display.volume(one.least_dose)
    )
    (row,) = shortbar.loss_table(
        law=one.law, V_short=[MISSING], d_0=one.case.hole_diameter, l_v=one.case.embedment, N_Ed=one.force
    )
    assert numbers["force that is left"] == display.force(row.N_R)
    assert ("does not reach the design force" in resistance_picture(one).alt) is (one.least_dose is None)


@pytest.mark.parametrize("name", ["W4", "B6", "lap", "A8"])
def test_the_length_that_is_marked_carries_the_force(name):
    one = CASES[name]
    length = one.resistance.needed
    assert bondlaw.capacity(law=one.law, l_b=length) >= one.force * (1 - 1e-9)
    less = 0.999 * length
    assert bondlaw.capacity(law=one.law, l_b=less) < one.force or less < one.law.least_length


def test_the_assumption_stands_in_the_picture():
    for name in CASES:
        figure = Figure()
        resistance_picture(CASES[name], figure=figure)
        said = " ".join(text.get_text() for ax in figure.axes for text in reversed(ax.texts))
        assert short.ASSUMPTION in said
        assert short.NOT_CONFORMING in said


def test_a_failing_check_is_said_by_word_and_sign():
    one = CASES["fails"]
    picture = utilisation_picture([one])
    failed = [check for check in one.sheet.checks if not check.passes]
    assert failed
    numbers = dict(picture.numbers)
    for check in one.sheet.checks:
        text = numbers[f"W3: {check_name(check)}"]
        assert text == (f"✓ {check.used}" if check.passes else f"✗ {check.used} FAILS")
    assert f"{len(failed)} fail" in picture.alt
    figure = Figure()
    utilisation_picture([one], figure=figure)
    assert any("FAILS" in text.get_text() for text in figure.findobj(Text))
    assert [patch for patch in figure.axes[0].patches if patch.get_hatch()]


def test_a_check_without_a_number_fails_in_words():
    one = DESIGNS["W3"]
    broken = Check.compare(name="edge", title="edge", demand=1.0, resistance=0.0, unit="mm")
    picture = utilisation_picture([replace(one, sheet=replace(one.sheet, checks=(*one.sheet.checks, broken)))])
    assert dict(picture.numbers)["W3: cover at the edge"] == "✗ FAILS: the resistance is zero or negative"
    assert check_name(replace(broken, name="other")) == "edge"


def test_every_check_is_in_one_of_the_pictures():
    designs = design_job(load_job(demo_job())).designs
    many = [replace(one, case=replace(one.case, mark=f"{one.case.mark}{i}")) for i in range(4) for one in designs]
    pictures = utilisation_pictures(many)
    assert sum(len(picture.numbers) for picture in pictures) == sum(len(one.sheet.checks) for one in many)
    assert all(len(picture.numbers) <= ROWS for picture in pictures)
    assert all(picture.alt.startswith("All ") for picture in pictures)


def test_three_codes_are_named_with_their_lengths():
    one = DESIGNS["W4"]
    found = compare_codes(one.case)
    picture = codes_picture(one, found)
    assert [name for name, _ in picture.numbers] == [
        "EN 1992-1-1:2004, cast in",
        "EN 1992-1-1:2004, post-installed",
        "EN 1992-1-1:2023, cast in",
        "ACI 318-19, cast in",
    ]
    assert dict(picture.numbers)["EN 1992-1-1:2004, post-installed"] == f"{one.required:.1f} mm"
    uncovered = [replace(code, cast_in=None, post_installed=None) for code in found]
    assert codes_picture(one, uncovered).alt == "None of the codes covers the bar of W4."


def test_same_input_same_bytes_on_a_new_and_on_a_used_figure():
    used = Figure()
    first = every(CASES["lap"])
    every(CASES["A8"], used)
    redraw_bare(used)
    assert every(CASES["lap"], used) == first == every(CASES["lap"])


def test_forces():
    assert (METRIC.force(8000.0), METRIC.given_force(8000.0)) == ("8.0 kN", "8 kN")
    assert Display("us").force(10000.0) == "2.25 kip"


@pytest.mark.parametrize("name", CASES)
def test_no_label_covers_another_or_leaves_the_paper(name):
    one = CASES[name]
    draw = [
        lambda figure: resistance_picture(one, figure=figure),
        lambda figure: resistance_picture(one, title="a title", figure=figure),
        lambda figure: codes_picture(one, compare_codes(one.case), title="a title", figure=figure),
        lambda figure: utilisation_picture([one], figure=figure),
    ]
    for make in draw:
        figure = Figure()
        make(figure)
        _apart(figure)


def _apart(figure):
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    unseen = set()
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            unseen |= {
                tick.label1
                for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks())
                if not low <= tick.get_loc() <= high
            }
    seen = [
        text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip() and text not in unseen
    ]
    boxes = [(text.get_text(), Text.get_window_extent(text, renderer).padded(-1.0)) for text in seen]
    assert len(boxes) >= 8
    for words, box in boxes:
        assert all(figure.bbox.contains(*corner) for corner in box.corners()), words
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        assert Bbox.intersection(a, b) is None, (one, two)
