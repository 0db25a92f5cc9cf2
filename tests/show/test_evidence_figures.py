"""Pictures of measured holes.

They say what the study says, they are the same each time, and nothing in them collides.
"""

import itertools
import xml.etree.ElementTree as ElementTree

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from calc.evidence.limits import confidence_with_n
from calc.show.drawing import redraw_bare
from calc.show.evidence.figures import dose_picture, growth_picture, normal_picture, run_order_picture
from calc.work.evidence import overfill_text, study

CALM = [14.4, 14.3, 14.1, 14.4, 14.7, 14.4, 14.0, 13.8, 15.0, 15.0, 13.7, 14.5, 14.9, 13.8, 14.1, 14.1, 13.9, 13.9]
WILD = [*CALM, 19.6, 14.4, 14.3, 13.9, 14.1, 14.2, 13.3, 14.8, 14.4, 14.0, 14.1, 13.7]
ROWS = {
    "calm": (CALM, {}, "mL"),
    "wild": (WILD, {}, "mL"),
    "left out": (WILD, {"19": "ran into a void"}, "mL"),
    "three": ([0.95, 0.99, 0.91], {}, "in³"),
    "two": ([120.0, 131.0], {}, "mL"),
    "equal": ([14.0, 14.0, 14.0, 14.0], {}, "mL"),
    "many": ([14 + 0.01 * ((37 * i) % 101) for i in range(120)], {}, "mL"),
}


def found(name, share=0.95, confidence=0.95):
    values, reasons, unit = ROWS[name]
    names = [str(i) for i in range(1, len(values) + 1)]
    return study(
        values=values,
        names=names,
        reasons=reasons,
        V_req=0.94 * min(values),
        share=share,
        confidence=confidence,
        unit=unit,
    )


def pictures(name, figure=None):
    one = found(name)
    drawn = [
        run_order_picture(one, mark="S2", figure=figure),
        dose_picture(one, mark="S2", dose=1.1 * one.V_req, figure=figure),
    ]
    drawn.append(growth_picture(one.growth, measured=one.n, mark="S2", figure=figure))
    return drawn + ([normal_picture(one, mark="S2", figure=figure)] if one.plot else [])


@pytest.mark.parametrize("name", ROWS)
def test_alt_text_is_one_sentence_and_the_drawing_stands_alone(name):
    for picture in pictures(name):
        assert picture.alt.endswith(".")
        assert picture.alt.count(". ") == 0
        root = ElementTree.fromstring(picture.svg)
        assert (root.attrib["role"], root.attrib["aria-label"]) == ("img", picture.alt)
        for absent in ("metadata", 'href="http'):
            assert absent not in picture.svg
        assert picture.numbers


def test_findings_are_those_of_the_study():
    wild, calm, kept = found("wild"), found("calm"), found("left out")
    assert "hole 19 lies outside the limits" in run_order_picture(wild, mark="S2").alt
    assert "All 18 measured holes of S2, in run order, lie within" in run_order_picture(calm, mark="S2").alt
    assert "do not follow the line of a normal scatter, and hole 19 stands apart" in normal_picture(wild, mark="S2").alt
    assert "follow the line of a normal scatter" in normal_picture(kept, mark="S2").alt
    assert dict(run_order_picture(kept, mark="S2").numbers)["holes left out"] == "19 (19.60 mL): ran into a void"
    assert dict(run_order_picture(wild, mark="S2").numbers)["upper limit"] == wild.text(wild.order.high)


@pytest.mark.parametrize(
    ("dose", "said"),
    [(17.0, "is enough, though hole 19 of those measured took more."), (20.0, "is enough."), (15.0, "is too little.")],
)
def test_the_dose_is_judged_by_the_tolerance_limit(dose, said):
    one = found("wild")
    picture = dose_picture(one, mark="S2", dose=dose)
    assert picture.alt.endswith(said)
    assert (
        dict(picture.numbers)["95 % of all holes"]
        == f"up to {one.text(one.limit)}: overfill {overfill_text(one.overfill)}"
    )
    assert "rounded dose" not in dict(dose_picture(one, mark="S2").numbers)


def test_growth_says_that_one_hole_gives_nothing():
    one = found("wild")
    picture = growth_picture(one.growth, measured=one.n, mark="S2")
    numbers = dict(picture.numbers)
    assert numbers["1 hole"] == "nothing"
    assert numbers["30 holes"] == f"{100 * one.overfill:.1f} %"
    assert picture.alt.startswith("One measured hole of S2 gives no limit at all")
    general = growth_picture(confidence_with_n(share=0.95, confidence=0.95))
    assert dict(general.numbers)["10 holes"] == "2.91"  # Montgomery & Runger, 7th edition, Table XII: 2.911
    assert "standard deviations above the mean" in general.alt


def test_a_normal_plot_needs_three_holes():
    with pytest.raises(ValueError, match="at least three holes"):
        normal_picture(found("two"), mark="S2")


def test_same_input_same_bytes_on_a_new_and_on_a_used_figure():
    used = Figure()
    first = pictures("wild")
    pictures("many", used)
    redraw_bare(used)
    assert pictures("wild", used) == first == pictures("wild")


@pytest.mark.parametrize("name", ROWS)
def test_no_label_covers_another_or_leaves_the_paper(name):
    one = found(name)
    draw = [
        lambda figure: run_order_picture(one, mark="S2", figure=figure),
        lambda figure: dose_picture(one, mark="S2", dose=1.1 * one.V_req, figure=figure),
        lambda figure: growth_picture(one.growth, measured=one.n, mark="S2", figure=figure),
        lambda figure: growth_picture(confidence_with_n(share=0.99, confidence=0.9), figure=figure),
    ]
    for make in draw if one.plot is None else [*draw, lambda figure: normal_picture(one, mark="S2", figure=figure)]:
        figure = Figure()
        make(figure)
        FigureCanvasAgg(figure).draw()
        _apart(figure)


def _apart(figure):
    renderer = FigureCanvasAgg(figure).get_renderer()
    # Tick labels beyond the ends of their axis are made, but not drawn.
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
    assert len(boxes) >= 5
    for words, box in boxes:
        assert all(figure.bbox.contains(*corner) for corner in box.corners()), words
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        assert Bbox.intersection(a, b) is None, (one, two)
