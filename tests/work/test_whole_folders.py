"""Whole job folders, valid and broken: each gives results or sentences, and never a fault of the workbook.

The test command draws 300 of each kind; ``WORKBOOK_FUZZ=10000 python -m pytest tests/work/test_whole_folders.py`` draws
as many as it says. What was found once stands in `SEEDS` and is tried every time.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from jobparts import JOB, SITE

from calc.base.errors import CalcError
from calc.files.job import demo_job
from calc.work.load import load_job
from calc.work.results import compute

DRAWN = int(os.environ.get("WORKBOOK_FUZZ", "300"))
FOLDERS = {name: demo_job(name).parent for name in ("metric", "us", "failing")}
FILES = {name: sorted(p.name for p in folder.iterdir() if p.is_file()) for name, folder in FOLDERS.items()}
MANY = settings(
    max_examples=DRAWN, deadline=None, derandomize=True, phases=[Phase.generate, Phase.shrink],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip

# Values that have broken something somewhere: in place of a number, a text or a whole line.
NASTY = (
    "0", "-1", "1e308", "1e-308", "-0.0", "nan", "inf", "9" * 400, "1/0", "1 1/8", "5/8", "1,5", "1_000", "0x10",
    "１２", "true", "[]", "{}", '""', '" "', "'", '"""', "\\", "\t", "\u0000", "\u202e", "\ud7ff", "=1+1", "../x",
    "/dev/zero",
    "a" * 3000, "1e6 kN", "1e-6 kN", "200 mm", "20 mL", "15 °C", "-300 °C", "1 h",
    "2026-02-30", "1979-05-27T07:32:00Z",
)  # fmt: skip
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:/\d+)?")


class Change(NamedTuple):
    """One thing done to one line of one file."""

    kind: str
    line: int
    place: int
    value: str


changes = st.builds(
    Change,
    st.sampled_from(["number", "text", "drop", "twice", "swap", "cut", "insert", "whole"]),
    st.integers(0, 400),
    st.integers(0, 60),
    st.sampled_from(NASTY) | st.text(max_size=12),
)


def changed(text: str, change: Change) -> str:
    """Do it; what cannot be done on that line is left."""
    lines = text.splitlines(keepends=True)
    if not lines:
        return change.value
    at = change.line % len(lines)
    line = lines[at]
    if change.kind == "number":
        found = list(_NUMBER.finditer(line))
        if found:
            one = found[change.place % len(found)]
            lines[at] = line[: one.start()] + change.value + line[one.end() :]
    elif change.kind == "text":
        place = change.place % max(1, len(line))
        lines[at] = line[:place] + change.value + line[place + 1 :]
    elif change.kind == "insert":
        lines.insert(at, change.value + "\n")
    elif change.kind == "whole":
        lines[at] = change.value + "\n"
    elif change.kind == "drop":
        del lines[at]
    elif change.kind == "twice":
        lines.insert(at, line)
    elif change.kind == "swap":
        other = change.place % len(lines)
        lines[at], lines[other] = lines[other], line
    else:
        lines = lines[:at]
    return "".join(lines)


def judged(folder: Path) -> str:
    """Load and compute; return what is told, in the words of a user, or nothing where all is well."""
    try:
        results = compute(load_job(folder))
    except CalcError as error:
        return str(error)
    assert results.text()
    return ""


def held(demo: str, file: str, todo: Sequence[Change]) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "job"
        shutil.copytree(FOLDERS[demo], folder)
        text = (folder / file).read_text(encoding="utf-8")
        for change in todo:
            text = changed(text, change)
        (folder / file).write_bytes(text.encode("utf-8", "surrogatepass"))
        told = judged(folder)
        for sentence in told.splitlines():
            assert sentence.strip(), told
            assert not re.match(r"[A-Z]\w*(Error|Exception)\b", sentence), told


# Whoever finds another one writes it here.
SEEDS: tuple[tuple[str, str, tuple[Change, ...]], ...] = (
    ("metric", "schedule.csv", (Change("number", 3, 2, "9" * 400),)),
    ("us", "job.toml", (Change("whole", 40, 0, 'stroke = "1 1/8"'),)),
)


@pytest.mark.parametrize(("demo", "file", "todo"), SEEDS)
def test_what_was_found_once(demo: str, file: str, todo: Sequence[Change]) -> None:
    held(demo, file, todo)


places = st.sampled_from(
    [(demo, file) for demo, files in FILES.items() for file in files if not file.endswith(".xlsx")]
)


@MANY
@given(places, st.lists(changes, min_size=1, max_size=3))
def test_a_broken_folder_is_told_and_never_a_fault(place: tuple[str, str], todo: list[Change]) -> None:
    held(*place, todo)


# ---- valid ones ----------------------------------------------------------------------------------

BARS = {"8": (10, 14), "12": (14, 18), "16": (18, 25), "25": (30, 35), "#5": (18, 25), "15M": (18, 25), "40": (45, 55)}


@st.composite
def rows(draw: st.DrawFn) -> list[str]:
    made = []
    for number in range(draw(st.integers(1, 6))):
        bar = draw(st.sampled_from(sorted(BARS)))
        hole = draw(st.integers(*BARS[bar])) + draw(st.sampled_from([0, 0.5]))
        over = draw(st.sampled_from(["", "5", "20"]))
        way = draw(st.sampled_from(["down", "horizontal", "overhead"]))
        share = draw(st.sampled_from(["", "0", "0.25", "1.5"]))
        made.append(
            f"G{number},{draw(st.integers(1, 900))},{bar},{hole},{draw(st.integers(60, 1200))},{over},{way},{share},"
        )
    return made


@st.composite
def jobs(draw: st.DrawFn) -> str:
    text = JOB.replace('"1 mL"', draw(st.sampled_from(['"1 mL"', '"0.1 mL"', '"5 mL"', '"7 mL"'])))
    text = text.replace('"130 °"', draw(st.sampled_from(['"130 °"', '"118 °"', '"180 °"'])))
    text = text.replace("0.10 ", f"{draw(st.sampled_from([0.0, 0.05, 0.2]))} ")
    text = text.replace('"metric"', draw(st.sampled_from(['"metric"', '"us"'])))
    if draw(st.booleans()):
        text += SITE.replace("crews = 2", f"crews = {draw(st.integers(1, 5))}").replace("seed = 7", "seed = 3")
    if draw(st.booleans()):
        text += '[scatter]\nhole_diameter = { mean = "0.2 mm", sd = "0.1 mm" }\nseed = 1\n'
    return text


TIMES = """\
name = "Nothing"
invented = true
mixer_volume = "8 mL"
working_time = [{ at = "5 °C", time = "25 min" }, { at = "20 °C", time = "10 min" }]
curing_time = [{ at = "5 °C", time = "10 h" }, { at = "20 °C", time = "4 h" }]
"""


@settings(MANY, max_examples=max(20, DRAWN // 6))
@given(jobs(), st.lists(rows(), min_size=1, max_size=1), st.booleans())
def test_a_valid_folder_is_computed(text: str, drawn: list[list[str]], times: bool) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "job.toml").write_text(text, encoding="utf-8")
        record = TIMES if times else 'name = "Nothing"\ninvented = true\n'
        (folder / "adhesive.toml").write_text(record, encoding="utf-8")
        head = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"
        (folder / "schedule.csv").write_text("\n".join([head, *drawn[0]]) + "\n", encoding="utf-8")
        results = compute(load_job(folder))
    for one in results.worked:
        assert one.rounded >= one.dose >= one.required > 0
        assert one.rounded - one.dose < one.case.graduation * (1 + 1e-9)
        assert one.overflow >= 0
        assert one.unfilled == 0
