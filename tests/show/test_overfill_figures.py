"""Pictures and views of overfill and waste.

They say what the job's study says, the same each time, and nothing collides.
"""

import itertools
import shutil
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from scipy import stats

from calc.base.display import METRIC
from calc.files.job import demo_job
from calc.show.overfill import figures as draw
from calc.show.overfill import views as show
from calc.work.load import load_job
from calc.work.overfill.group import RULES
from calc.work.overfill.work import ways_of
from calc.work.results import compute


def looked(units):
    job = load_job(demo_job(units))
    return show.look(job, compute(job))


@pytest.fixture(scope="module", params=["metric", "us"])
def look(request):
    return looked(request.param)


@pytest.fixture(scope="module")
def metric():
    return looked("metric")


def makers(look, group):
    """Every picture of a group, each as a function of the figure that it is drawn on."""
    display = look.display
    found = [
        lambda figure: draw.budget_picture(group, display, figure=figure),
        lambda figure: draw.curve_drawing(group, display, figure=figure).picture,
        lambda figure: draw.series_picture(group, group.series, figure=figure),
        lambda figure: draw.tornado_picture(group, display, figure=figure),
        lambda figure: draw.lines_picture(group, display, figure=figure),
    ]
    ways = ways_of(look.job, group)
    return [*found, lambda figure: draw.ways_picture({group.mark: ways}, display, figure=figure)] if ways else found


def test_alt_text_is_one_sentence_and_the_drawing_stands_alone(look):
    for make in makers(look, look.shown):
        picture = make(None)
        assert picture.alt.endswith(".")
        assert picture.alt.count(". ") == 0
        assert len(picture.alt) > 40
        root = ElementTree.fromstring(picture.svg)
        assert (root.attrib["role"], root.attrib["aria-label"]) == ("img", picture.alt)
        for absent in ("metadata", 'href="http'):
            assert absent not in picture.svg
        assert picture.numbers


def test_same_input_same_bytes_on_a_new_and_on_a_used_figure(metric):
    used = Figure()
    for make, other in zip(makers(metric, metric.groups["S2"]), makers(metric, metric.groups["B6"]), strict=True):
        first = make(None)
        other(used)
        assert make(used) == first == make(None)


def test_no_label_covers_another_or_leaves_the_paper(look):
    for group in look.groups.values():
        for make in makers(look, group):
            figure = Figure()
            picture = make(figure)
            FigureCanvasAgg(figure).draw()
            _apart(figure, picture.alt)


def _apart(figure, alt):
    renderer = FigureCanvasAgg(figure).get_renderer()
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
    assert len(boxes) >= 4
    for words, box in boxes:
        assert all(figure.bbox.contains(*corner) for corner in box.corners()), (alt, words)
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        assert Bbox.intersection(a, b) is None, (alt, one, two)


# ---- what they say -------------------------------------------------------------------------------


def test_the_budget_names_the_largest_part(metric):
    group = metric.groups["P5"]
    picture = draw.budget_picture(group, METRIC)
    assert "bar mass brings most" in picture.alt
    assert dict(picture.numbers)["bar mass, common to a series"] == "4.6 mL, 84 % of the variance"
    assert dict(picture.numbers)["all together"].startswith(METRIC.volume(group.budget.u))


def test_the_curve_marks_every_overfill_that_the_job_gives(metric):
    group = metric.groups["S2"]
    marks = group.settled
    given = [o for o in group.options if o.share is not None]
    assert [m.share for m in marks] == [o.share for o in given]
    assert [m.rule for m in marks] == [o.rule for o in given]
    assert [m.name for m in marks if m.chosen] == [RULES[group.choice.rule]]
    assert all(m.short == group.probability_of(group.required * (1 + m.share)) for m in marks)
    assert next(m for m in marks if m.rule == "probability").short <= group.stated


def test_the_marker_stands_where_the_curve_is(metric):
    """A marker put in by text lies on the line that matplotlib drew: its pixels are looked up in the drawn figure."""
    group, figure = metric.groups["S2"], Figure()
    drawing = draw.curve_drawing(group, METRIC, figure=figure)
    share = 0.18
    short, waste, _ = group.outcome(group.required * (1 + share))
    root = ElementTree.fromstring(drawing.marked(share, short, waste / 1000))
    dots = [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in root.iter("{http://www.w3.org/2000/svg}circle")]
    assert len(dots) == 2
    tall = 72 * figure.get_size_inches()[1]
    for (x, y), ax, value in zip(dots, figure.axes, (short, waste / 1000), strict=True):
        at = ax.transData.transform((100 * share, value)) * 72 / figure.dpi
        assert (x, y) == pytest.approx((at[0], tall - at[1]), abs=0.02)
    assert "<circle" not in drawing.picture.svg


@pytest.mark.parametrize(("share", "short", "waste"), [(-1.0, 0.0, -5.0), (9.0, 1.0, 1e9)])
def test_a_marker_never_leaves_the_axes(metric, share, short, waste):
    drawing = draw.curve_drawing(metric.groups["S2"], METRIC)
    root = ElementTree.fromstring(drawing.marked(share, short, waste))
    for dot, (_, low, _, high) in zip(root.iter("{http://www.w3.org/2000/svg}circle"), drawing.panels, strict=True):
        assert drawing.left - 0.01 <= float(dot.attrib["cx"]) <= drawing.right + 0.01
        assert high - 0.01 <= float(dot.attrib["cy"]) <= low + 0.01


def test_counts_of_a_series_are_a_distribution(metric):
    group = metric.groups["P5"]
    rows = [(one.count, one.together, one.alone) for one in group.series.counts(group.probability)]
    assert sum(row[1] for row in rows) == pytest.approx(1.0)
    assert sum(row[2] for row in rows) == pytest.approx(1.0)
    assert 1 - rows[0][1] == pytest.approx(group.series.more_than(0))
    assert rows[1][2] == pytest.approx(stats.binom.pmf(1, group.series.holes, group.probability))
    assert rows[0][1] > rows[0][2]  # what is common makes good series better
    assert rows[-1][1] > 10 * rows[-1][2]  # and bad ones worse


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "fewer than 0.005"), (4e-5, "fewer than 0.005"), (0.00018, "0.018"), (0.05, "5"), (0.32, "32")],
)
def test_chances_in_words(chance, said):
    assert draw.short_text(chance) == said


# ---- views ---------------------------------------------------------------------------------------


def every_view(look):
    one = [show.opening, show.answer, show.side_by_side, show.assumptions, show.bit_cost, show.about_pictures]
    many = [show.inputs, show.budget, show.curve, show.series, show.ways, show.swings, show.lines]
    return [make(look) for make in one] + [view for make in many for view in make(look)]


def rows_of(view):
    return {row[0]: row for row in view.block["rows"]}


def test_the_answer_is_that_of_the_results(metric):
    rows = rows_of(show.answer(metric))
    for mark, group in metric.groups.items():
        assert rows[mark][1] == draw.share_text(group.choice.share)
        assert group.choice.reason in rows[mark][2]
        assert rows[mark][3] == metric.worked(mark).dispense_text
        assert rows[mark][5] == f"{draw.short_text(group.probability)} %"
    totals = metric.results.data()["totals"]
    assert f"{totals['expected_waste_L']:.2f} L" in show.opening(metric).markdown
    assert f"{totals['expected_waste_cost']:.2f} cost units" in show.opening(metric).markdown


def test_what_goes_in_names_its_key_and_what_is_from_memory(metric):
    table, words = show.inputs(metric)
    assert ("State of the bit", "medium", "job.toml, scatter.bit") in {tuple(row) for row in table.block["rows"]}
    own = ("B6: bar mass, relative deviation: standard deviation", "0.008", "job.toml, scatter.group.B6.bar_mass.sd")
    assert own in {tuple(row) for row in table.block["rows"]}
    assert "from memory" in words.markdown
    assert "Common to a series of 20 holes: hole diameter and bar mass." in words.markdown


def test_a_tenth_of_a_millimetre_is_that_of_the_geometry(metric):
    rows = rows_of(show.bit_cost(metric))
    for mark in ("S1", "P5"):
        case = metric.worked(mark).case
        d = case.hole_diameter
        ring = np.pi / 4 * ((d + 0.1) ** 2 - d**2) * (case.embedment + case.overdrill)
        tip = np.pi / 24 * ((d + 0.1) ** 3 - d**3) * np.tan(np.radians(25))
        assert rows[mark][2] == METRIC.volume((ring + tip) * (1 + case.overfill))
    assert rows["all"][1] == "284"


def test_the_tables_hold_all_groups(metric):
    assert list(show.budget(metric)[1].block["columns"])[1:] == list(metric.groups)
    assert list(dict.fromkeys(row[0] for row in show.ways(metric)[1].block["rows"])) == list(metric.groups)
    assert [row[0] for row in show.series(metric)[1].block["rows"]] == list(metric.groups)
    chosen = [sum("chosen" in cell for cell in row) for row in show.side_by_side(metric).block["rows"]]
    assert chosen == [1] * len(metric.groups)


def test_a_us_job_is_shown_in_its_own_units():
    us = looked("us")
    for view in every_view(us):
        text = (
            view.markdown.replace("each missing volume counted", "")
            .replace("0.1 mm (", "")
            .replace("short_per_mL", "")
            .replace("short\\_per\\_mL", "")
        )
        assert " mm" not in text
        assert "mL" not in text


def test_a_job_without_scatter_says_what_to_add(tmp_path):
    shutil.copytree(demo_job("us").parent, tmp_path / "job")
    file = tmp_path / "job" / "job.toml"
    text = file.read_text(encoding="utf-8")
    start, end = text.index("[scatter]"), text.index("[schedule]")
    file.write_text(text[:start] + text[end:], encoding="utf-8")
    job = load_job(tmp_path / "job")
    bare = show.look(job, compute(job))
    assert bare.groups == {}
    said = show.opening(bare).markdown
    for key in ("scatter", "bit", "bar\\_mass", "judgement", "cost"):
        assert key in said
    views = every_view(bare)
    assert all(view.block["kind"] != "figure" for view in views)
    assert sum("no table scatter" in view.markdown for view in views) >= 6
    assert rows_of(show.answer(bare))["A5"][6] == "not known"
    assert rows_of(show.bit_cost(bare))["all"][3].endswith("fl oz")


def test_nothing_that_varies_is_said_as_well(tmp_path):
    shutil.copytree(demo_job("us").parent, tmp_path / "job")
    file = tmp_path / "job" / "job.toml"
    text = file.read_text(encoding="utf-8")
    start, end = text.index("hole_diameter = {"), text.index("common = [")
    file.write_text(
        text[:start]
        + 'dispenser = {mean = 0.0, sd = 0.0}\ncommon = ["dispenser"]\n'
        + text[text.index("series = 12", end) :],
        encoding="utf-8",
    )
    job = load_job(tmp_path / "job")
    still = show.look(job, compute(job))
    assert "Nothing varies" in show.swings(still)[0].markdown
    assert "Nothing scatters" in show.budget(still)[0].block["alt"]
    assert all(group.probability == 0 for group in still.groups.values())
    assert show.curve(still)[0].svg.startswith("<svg")


def test_inputs_that_go_together_leave_the_series_open(metric):
    groups = {mark: replace(group, series=None) for mark, group in metric.groups.items()}
    assert "go together" in show.series(replace(metric, groups=groups))[0].markdown
