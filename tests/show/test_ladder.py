"""The reserve ladder: every mark where its share is, no words over each other, whatever the number of groups."""

import re
import shutil

import pytest
from drawnboxes import letters, touching
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from calc.base.look.tokens import COLOUR
from calc.files.job import demo_job
from calc.show.dose.ladder import ladder_picture, reserve_ladder
from calc.show.drawing import house_style
from calc.work.load import load_job
from calc.work.overfill.reserve import Reserves, reserves_of
from calc.work.results import compute


def of(name):
    return reserves_of(compute(load_job(demo_job(name))))


def many(tmp_path, count, base="metric"):
    """A demo with so many rows, the first as they are."""
    folder = shutil.copytree(demo_job(base).parent, tmp_path / f"job{count}")
    head, *rows = (folder / "schedule.csv").read_text(encoding="utf-8").splitlines()
    columns = len(head.split(",")) - 7
    more = [f"A rather long mark with {n} of them,4,16,20,{150 + 3 * n},,down{',' * columns}" for n in range(count)]
    (folder / "schedule.csv").write_text("\n".join([head, *(rows + more)[:count]]) + "\n", encoding="utf-8")
    return reserves_of(compute(load_job(folder)))


def drawn(shown):
    figure = Figure()
    picture = ladder_picture(shown, figure=figure)
    with house_style():
        FigureCanvasAgg(figure).draw()
    return figure, picture


def words_of(figure):
    texts = [text for ax in figure.axes for text in ax.findobj(lambda artist: hasattr(artist, "get_text"))]
    return [text for text in texts if text.get_text() and text.get_visible()]


def readable(figure):
    """No words cross each other, a line or the paper's edge, and none are smaller than 8 points."""
    assert not touching(figure)
    assert letters(figure) >= 8


def diamonds(figure):
    """Where the doses stand on the axis [%], from the top row down."""
    ax = figure.axes[1]
    found = [line for line in ax.lines if line.get_marker() == "D"]
    return [float(line.get_xdata()[0]) for line in sorted(found, key=lambda line: line.get_ydata()[0])]


@pytest.mark.parametrize("name", ["metric", "us", "failing"])
def test_every_mark_stands_at_its_share(name):
    shown = of(name)
    figure, picture = drawn(shown)
    readable(figure)
    assert diamonds(figure) == pytest.approx([100 * one.dispensed for one in shown.rows])
    dots = [line for line in figure.axes[1].lines if line.get_marker() == "o"]
    assert len(dots) == sum(len(one.measured) for one in shown.rows)
    names = [label.get_text() for label in figure.axes[1].get_yticklabels()]
    assert names == [f"{one.mark}, {one.bar}" for one in shown.rows]
    assert [mark for mark, _ in picture.numbers] == [one.mark for one in shown.rows]


@pytest.mark.parametrize("count", [1, 2])
def test_few_groups(count):
    figure, picture = drawn(Reserves(of("metric").rows[:count], count))
    readable(figure)
    assert len(diamonds(figure)) == count
    assert "Drawn are" not in picture.alt


@pytest.mark.parametrize("count", [9, 30, 34])
def test_up_to_thirty_groups_and_what_lies_beyond(tmp_path, count):
    shown = many(tmp_path, count)
    figure, picture = drawn(shown)
    readable(figure)
    assert len(diamonds(figure)) == min(count, 30)
    assert ("Drawn are the 30 of 34 groups" in picture.alt) is (count > 30)
    assert picture.alt == picture.caption


def test_what_is_missing_is_said():
    """Without scatter nobody knows how often a hole is short; an anchor or a bar without a force has no least dose."""
    figure, picture = drawn(of("failing"))
    said = [text.get_text() for text in words_of(figure)]
    assert said.count("not known") == 16
    assert said.count("an anchor") == 3
    assert said.count("no force") == 1
    red = [text.get_text() for text in words_of(figure) if text.get_color() == COLOUR["failure"]]
    assert red == ["✗ none is enough"] * 4
    assert picture.alt.startswith("The doses of L3, L4, L1 and T1 do not carry their force; ")
    assert "middle" not in "".join(said)


def test_the_finding_names_who_governs():
    found = (
        r"P5 is short most often, in 4.0 % of its holes, where 5.0 % is accepted; B6 has least above .+: 110 % against"
    )
    assert re.match(found, ladder_picture(of("metric")).alt)


def test_a_share_beyond_the_axis_is_an_arrow(tmp_path):
    """A dose of three times what is required, from a dispenser that gives no less: an arrow, and its number beside."""
    folder = shutil.copytree(demo_job().parent, tmp_path / "job")
    head, *rows = (folder / "schedule.csv").read_text(encoding="utf-8").splitlines()
    (folder / "schedule.csv").write_text("\n".join([head, *rows, "Y,4,16,20,200,,down,2.0,,"]) + "\n")
    figure, _ = drawn(reserves_of(compute(load_job(folder))))
    readable(figure)
    assert [line.get_xdata()[0] for line in figure.axes[1].lines if line.get_marker() == ">"] == [200.0]
    assert any(text.get_text() in ("300 %", "301 %", "302 %", "303 %") for text in words_of(figure))


def test_the_ladder_stands_with_the_doses_and_its_numbers_on_the_screen():
    picture, numbers = reserve_ladder(compute(load_job(demo_job("us"))))
    assert picture.block["place"] == "doses"
    assert numbers.block["place"] == "screen"
    assert [row[0] for row in numbers.block["rows"]] == ["A8", "A6", "A7", "A4", "A5"]
    assert numbers.block["rows"][0][2:5] == ["100 %", "117 %", "0 %"]
