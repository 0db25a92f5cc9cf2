"""The depth-stick card: what is drawn is as long on paper as results.json says, or the sheet says that it is not."""

import io
import itertools
import re
import shutil
import subprocess
from dataclasses import dataclass

import pikepdf
import pytest
from jobparts import HEADER

from calc.base.look.tokens import COLOUR
from calc.files.job import demo_job
from calc.package.lists.card import depth_card
from calc.package.lists.doses import dose_texts
from calc.package.lists.files import DEPTH_CARD, list_names
from calc.package.lists.setting import compile_list
from calc.work.load import load_job
from calc.work.results import compute

POINTS = 72 / 25.4  # to a millimetre
MOUTH = 1.3  # width of the line that is every hole's mouth, and of the one that checks the printer [points]
CHECK = 1.6
NEAR = {"abs": 0.01}


@dataclass(frozen=True)
class Shape:
    """A path on paper: left and right end [points], highest point, what it is filled with, how wide its line is."""

    left: float
    right: float
    top: float
    fill: tuple | None
    width: float | None


def shapes(page):
    """Every path that is painted on a page; Typst moves and mirrors, and never turns or scales."""
    stack, x, y, sign, width, fill, path = [], 0.0, 0.0, 1.0, 1.0, None, []
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "q":
                stack.append((x, y, sign, width, fill))
            case "Q":
                x, y, sign, width, fill = stack.pop()
            case "cm":
                a, b, c, d, e, f = map(float, operands)
                assert (abs(a), b, c, abs(d)) == (1, 0, 0, 1)
                x, y, sign = x + e, y + sign * f, sign * d
            case "scn":
                fill = tuple(round(255 * float(part)) for part in operands)
            case "w":
                width = float(operands[0])
            case "m" | "l":
                path.append((x + float(operands[0]), y + sign * float(operands[1])))
            case "f" | "S" | "B" | "b" | "s" as paint:
                across, up = zip(*path, strict=True)
                filled, stroked = paint in "fBb", paint in "SsBb"
                yield Shape(min(across), max(across), max(up), fill if filled else None, width if stroked else None)
                path = []


def colour(name):
    return tuple(bytes.fromhex(COLOUR[name].removeprefix("#")))


def made(results, tmp_path):
    """The card as its texts and lengths, its pages' shapes, and the text of each page."""
    data = depth_card(results, stamp="results 0123456789ab")
    body, _ = compile_list("lists-card.typ", data, "2026-01-31")
    with pikepdf.open(io.BytesIO(body)) as file:
        drawn = [list(shapes(page)) for page in file.pages]
    (tmp_path / "card.pdf").write_bytes(body)
    said = []
    for n in range(1, len(drawn) + 1):
        command = ["pdftotext", "-f", str(n), "-l", str(n), "-bbox", str(tmp_path / "card.pdf"), "-"]
        said.append(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    return data, drawn, said


def words(page):
    return re.sub(r"\s+", "", re.sub(r"<[^>]*>", "", page))


def strips(drawn):
    """Of each strip, in order down the pages: where its mouth lies, and the right ends of adhesive and bar."""
    for page in drawn:
        mouths = sorted((one for one in page if one.width == MOUTH), key=lambda one: -one.top)
        for mouth in mouths:
            own = [one for one in page if mouth.top - 24.5 * POINTS < one.top <= mouth.top]
            (adhesive,) = (one for one in own if one.fill == colour("adhesive"))
            (bar,) = (one for one in own if one.fill == colour("steel") and one.left > mouth.left - 1)
            yield mouth.left, adhesive, bar


def held(results, tmp_path):
    """Measure every strip against results.json; returns its scale, and whether its bar runs off the sheet."""
    data, drawn, said = made(results, tmp_path)
    groups = {group["mark"]: group for group in results.data()["groups"]}
    ordered = [(part["scale"], strip) for part in data["parts"] for strip in part["strips"]]
    assert sorted(strip["mark"] for _, strip in ordered) == sorted(groups)
    room, found = data["room"], {}
    for (scale, strip), (mouth, adhesive, bar) in zip(ordered, strips(drawn), strict=True):
        group = groups[strip["mark"]]
        assert mouth == pytest.approx(data["mouth"] * POINTS, **NEAR)
        assert bar.left == pytest.approx(mouth, **NEAR)
        assert adhesive.left - mouth == pytest.approx(group["level_before_bar_mm"] / scale * POINTS, **NEAR)
        length = min(group["embedment_mm"] / scale, room)
        assert bar.right - bar.left == pytest.approx(length * POINTS, **NEAR)
        assert strip["off"] is (group["embedment_mm"] > room * scale)
        assert ("whose end is not on this sheet" in strip["tape"]) is strip["off"]
        found[strip["mark"]] = (scale, strip["off"])
    for page, text in zip(drawn, said, strict=True):
        checks = [one for one in page if one.width == CHECK]
        if "NOTFULLSIZE" in words(text):
            assert not checks
        else:
            (line,) = checks
            assert "Fullsize,1:1" in words(text)
            named = "Checktheprinter:onpaperthisscaleis" + results.job.display.usual("100mm", "4in")
            assert named in words(text)
            assert (line.right - line.left) / POINTS == pytest.approx(results.job.display.usual(100, 101.6), abs=0.01)
    return found


@pytest.mark.parametrize("name", ["metric", "us"])
def test_what_is_drawn_is_as_long_as_the_results_say(name, tmp_path):
    """Every surface of the demos fits a sheet at full size; of longer bars the end is off the sheet, and it says so."""
    results = compute(load_job(demo_job(name)))
    assert DEPTH_CARD in list_names(results, None)
    found = held(results, tmp_path)
    assert {scale for scale, _ in found.values()} == {1}
    assert {mark for mark, (_, off) in found.items() if off} == (
        {"W4", "P5", "B6"} if name == "metric" else {"A7", "A8"}
    )


def test_what_no_sheet_holds_is_drawn_to_a_scale_that_is_said(tmp_path):
    """Holes of 900 mm stand on a sheet of their own, a fifth of their size; what fails says STOP."""
    results = compute(load_job(demo_job("failing")))
    found = held(results, tmp_path)
    assert {mark for mark, (scale, _) in found.items() if scale == 5} == {"L2", "L3", "L4"}
    data, drawn, said = made(results, tmp_path)
    assert "NOTFULLSIZE,1:5" in words(said[-1])
    assert "layitonthestrip" not in words(said[-1])
    stopped = {strip["mark"] for part in data["parts"] for strip in part["strips"] if strip["stopped"]}
    assert stopped == {one.mark for one in results.checks if not one.passes and one.mark}
    assert "N1" not in stopped
    assert sum(words(text).count("STOP:") for text in said) == len(stopped)
    assert len(drawn) == len(said)


def test_levels_mean_what_the_hole_allows(folder, tmp_path):
    """A hole that is full before the bar has no stick; wall and overhead say what a depth is there."""
    folder.schedule(HEADER, "A,2,6,8,60,,down,2.0,", "B,1,50,60,2600,,overhead,,", "C,1,16,18,250,,horizontal,,")
    results = compute(folder.load())
    assert results.worked[0].full_before_bar
    assert held(results, tmp_path) == {"A": (1, False), "B": (10, False), "C": (1, False)}
    data, _, said = made(results, tmp_path)
    strip = data["parts"][0]["strips"][0]
    assert (strip["stick"], strip["surface"], strip["shown"]) == ("full to the mouth: no stick", 0.0, False)
    assert "Wall:" in said[0]
    assert "Overhead:" not in said[0]
    assert "Overhead:" in said[1]


def test_words_are_those_of_the_dose_list_and_cross_nothing(tmp_path):
    """Dose above the strip in the largest letters, as dose list and results say; no word lies over another."""
    results = compute(load_job(demo_job()))
    data, _, (page,) = made(results, tmp_path)
    tight = words(page)
    for one, strip in zip(results.worked, data["parts"][0]["strips"], strict=True):
        assert strip["dose"] == dose_texts(one, results.job)[0]
        for part in ("mark", "dose", "bar", "hole", "count", "stick", "tape"):
            assert re.sub(r"\s+", "", strip[part]) in tight
    measured = [strip["mark"] for strip in data["parts"][0]["strips"] if "the hole that was measured" in strip["stick"]]
    assert measured == ["W3"]
    boxes = [
        tuple(map(float, box))
        for box in re.findall(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"', page)
    ]
    assert len(boxes) > 100
    letters = [(left + 0.1, top + 0.3 * (low - top), right, low - 0.3 * (low - top)) for left, top, right, low in boxes]
    for one, other in itertools.combinations(letters, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, (one, other)


def test_thirty_groups_take_five_sheets(tmp_path):
    """Six strips to a sheet; a strip is never cut by the end of one."""
    folder = shutil.copytree(demo_job("failing").parent, tmp_path / "job")
    rows = [f"G{n},4,16,20,{120 + 4 * n},,down,," for n in range(30)]
    lines = (folder / "job.toml").read_text(encoding="utf-8").split("[design]")[0]
    (folder / "job.toml").write_text(lines, encoding="utf-8")
    (folder / "schedule.csv").write_text("\n".join((HEADER, *rows)) + "\n", encoding="utf-8")
    results = compute(load_job(folder))
    assert len(held(results, tmp_path)) == 30
    assert len(made(results, tmp_path)[1]) == 5
