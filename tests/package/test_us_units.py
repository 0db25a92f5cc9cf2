"""A package in US customary units: adhesive in fluid ounces, and nothing that people read is metric alone."""

from __future__ import annotations

import csv
import html
import re
import subprocess
from pathlib import Path

import pytest

from calc.files.job import demo_job
from calc.package.build import build

# A number with a metric unit, or a unit in a heading's brackets.
METRIC = re.compile(r"[0-9] ?(?:mm|cm|°C|mL|L|kg|kN|N|MPa|kPa)[²³]?(?![\w/])|\[(?:mm|mL|L|kN|MPa|°C)\]")
# What a formula that holds in its own units alone says beside: "(31.75 mm)", "= 63.500 mm = 2.5000 in"; and the US unit
# first, "0.5 fl oz, 14.79 mL".
BESIDE = re.compile(
    r"\([0-9.]+ (?:mm[²³]?|kg/m³)\)|= ?[0-9.]+ ?mm ?= ?[0-9.]+ ?in|fl oz, [0-9.]+ mL"
    r"|0\.1 mm \(0\.0039 in\)"  # the step by which a bit is worn
)


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(demo_job("us"), out=tmp_path_factory.mktemp("us"))[0]


def metric_alone(text: str) -> list[str]:
    text = BESIDE.sub("", re.sub(r"\s+", " ", text).replace("\u2061", ""))
    return [text[max(0, found.start() - 60) : found.end() + 20] for found in METRIC.finditer(text)]


def words_of(pdf: Path) -> str:
    return subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True, check=True).stdout


def test_no_printed_number_is_metric_alone(package: Path) -> None:
    found = {path.name: metric_alone(words_of(path)) for path in sorted(package.rglob("*.pdf"))}
    assert {name: lines for name, lines in found.items() if lines} == {}


def test_no_number_of_the_page_is_metric_alone(package: Path) -> None:
    for page in sorted(package.rglob("*.html")):
        text = re.sub(r"(?s)<(style|script)\b.*?</\1>", " ", page.read_text(encoding="utf-8"))
        told = re.findall(r'(?:alt|title|aria-label)="([^"]*)"', text)
        words = html.unescape(re.sub(r"<[^>]+>", "", re.sub(r"</(?:td|th|p|li|div|span|tr)>", " ", text)))
        assert metric_alone(" ".join([words, *map(html.unescape, told)])) == []


def test_doses_are_in_fluid_ounces(package: Path) -> None:
    with (package / "doses.csv").open(encoding="utf-8") as file:
        head = next(csv.reader(file))
    assert "rounded_dose [fl oz]" in head
    assert not [name for name in head if METRIC.search(name)]
    assert "1 stroke (0.5 fl oz)" in " ".join(words_of(package / "calculation.pdf").split())
