"""The fill picture: it says what calc.fill says, it is the same each time, and nothing in it collides."""

import io
import itertools
import xml.etree.ElementTree as ElementTree

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from calc.base.display import METRIC, Display
from calc.fill.filling import filled
from calc.fill.hole import MeasuredHole, required_volume
from calc.fill.level import overflow, surface_depth, unfilled_length
from calc.show.dose.figures import fill_picture
from calc.show.drawing import house_style, redraw_bare

TYPICAL = {"d_0": 20.0, "phi": 16.0, "l_v": 200.0, "overdrill": 10.0, "theta": 130.0}
STUBBY = {"d_0": 12.0, "phi": 8.0, "l_v": 60.0, "overdrill": 0.0, "theta": 180.0}
LONG = {"d_0": 40.0, "phi": 32.0, "l_v": 1200.0, "overdrill": 20.0, "theta": 130.0}
US = {"d_0": 28.575, "phi": 25.4, "l_v": 304.8, "overdrill": 0.0, "theta": 130.0}
WIDE = {"d_0": 60.0, "phi": 50.0, "l_v": 60.0, "overdrill": 0.0, "theta": 130.0}
HOLES = {"typical": TYPICAL, "stubby": STUBBY, "long": LONG, "us": US, "wide": WIDE}


def picture(hole, share, measured=None, display=METRIC, **options):
    least = {"least_gap": display.least_length, "least_overflow": display.least_volume}
    filling = filled(**hole, volume=required_volume(**hole) * share, measured=measured, **least)
    return fill_picture(filling, display=display, **options)


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.6, "stays empty"),
        (1.0, "just fills"),
        (1.4, "overflows; before the bar"),
        (4.0, "overflows even before the bar"),
    ],
)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_alt_text_states_the_finding_in_one_sentence(share, said, units):
    alt = picture(TYPICAL, share, display=Display(units)).alt
    assert said in alt
    assert alt.count(". ") == 0
    assert alt.endswith(".")
    assert (" fl oz" in alt) == (units == "us")


def test_numbers_are_those_of_the_fill_functions():
    volume = required_volume(**TYPICAL) * 0.85
    rows = dict(fill_picture(filled(**TYPICAL, volume=volume)).numbers)
    for words, x in (("injected", 0.0), ("a third in", 200 / 3), ("two thirds in", 400 / 3), ("home", 200.0)):
        assert rows[f"surface below the mouth, {words}"] == METRIC.length(surface_depth(V=volume, x=x, **TYPICAL))
    assert rows["overflow, home"] == METRIC.volume(overflow(V=volume, x=200.0, **TYPICAL)) == "0.0 mL"
    assert rows["gap at the mouth, home"] == METRIC.length(unfilled_length(V=volume, **TYPICAL))


def test_same_input_same_bytes_on_a_new_and_on_a_used_figure():
    used = Figure()
    picture(LONG, 1.4, display=Display("us"), title="Other", direction="up", figure=used)
    again = picture(TYPICAL, 1.1, figure=used)
    assert again == picture(TYPICAL, 1.1) == picture(TYPICAL, 1.1)
    redraw_bare(used)
    assert picture(TYPICAL, 1.1, figure=used) == again


def test_the_drawing_stands_alone():
    found = picture(TYPICAL, 1.1)
    root = ElementTree.fromstring(found.svg)
    assert (root.attrib["role"], root.attrib["aria-label"]) == ("img", found.alt)
    assert {"viewBox", "width"} & set(root.attrib) == {"viewBox"}
    for absent in ("metadata", 'href="http'):
        assert absent not in found.svg


@pytest.mark.parametrize("direction", ["down", "horizontal", "overhead"])
@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("share", [0.05, 0.6, 1.0, 1.4])
@pytest.mark.parametrize("name", HOLES)
def test_no_label_covers_another_or_leaves_the_paper(name, share, units, direction):
    figure = Figure()
    picture(HOLES[name], share, display=Display(units), direction=direction, title="Group B1", figure=figure)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    boxes = []
    for text in figure.findobj(Text):
        if text.get_visible() and text.get_text().strip():
            box = Text.get_window_extent(text, renderer)
            boxes.append((text.get_text(), box.padded(-1.0)))
    paper = figure.bbox
    for words, box in boxes:
        assert all(paper.contains(*corner) for corner in box.corners()), words
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        assert Bbox.intersection(a, b) is None, (one, two)


def test_a_measured_straight_hole_says_what_a_straight_hole_says():
    straight = MeasuredHole((0.0, 100.0, 210.0), (20.0, 20.0, 20.0), 130.0)
    for share in (0.6, 1.0, 1.4):
        assert picture(TYPICAL, share, measured=straight).numbers == picture(TYPICAL, share).numbers


def test_a_measured_hole_is_drawn_from_its_own_volume():
    worn = MeasuredHole((0.0, 15.0, 40.0, 210.0), (27.5, 22.0, 20.6, 20.4), 130.0)
    full = fill_picture(filled(**TYPICAL, volume=worn.required(phi=16.0, l_v=200.0), measured=worn))
    assert "just fills the measured hole" in full.alt
    assert "stays empty" in picture(TYPICAL, 1.0, measured=worn).alt


def test_how_lengths_and_volumes_are_written():
    assert Display("us").size(15.875) == "5/8 in"
    assert Display("us").size(28.575) == "1-1/8 in"
    assert Display("us").size(203.2) == "8 in"
    assert Display("us").size(200.0) == "7.874 in"
    assert METRIC.size(1200.0) == "1200 mm"
    assert METRIC.size(12.5) == "12.5 mm"
    assert METRIC.length(99.94) == "99.9 mm"
    assert METRIC.length(99.96) == "100.0 mm"
    assert METRIC.volume(22619.47) == "22.6 mL"
    assert Display("us").volume(29573.5295625) == "1.00 fl oz"


def test_an_unknown_direction_is_refused():
    with pytest.raises(ValueError, match="sideways"):
        picture(TYPICAL, 1.0, direction="sideways")


def test_bold_letters_are_not_missed_aloud(caplog):
    with house_style(), caplog.at_level("WARNING"):
        figure = Figure()
        figure.text(0.5, 0.5, "bold", fontweight="bold")
        figure.savefig(io.BytesIO(), format="svg")
    assert not caplog.records
