"""Nothing that results.json holds is lost on the way to paper, and a reader finds the answers on page 1."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from calc.work.trace import Trace


def bare(text: str) -> str:
    return "".join(text.split()).replace("\u2060", "")


def pages_of(pdf: Path) -> list[str]:
    text = subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True, check=True).stdout
    return text.split("\f")[:-1]


@pytest.fixture(scope="module")
def results(demo_package: Path) -> dict[str, Any]:
    return dict(json.loads((demo_package / "results.json").read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def pages(demo_package: Path) -> list[str]:
    return pages_of(demo_package / "calculation.pdf")


def test_every_result_source_and_check_stands_on_paper(results: dict[str, Any], pages: list[str]) -> None:
    paper, trace = bare(" ".join(pages)), Trace(results)
    for sheet in trace.sheets:
        notebook = str(sheet["notebook"])
        lost = [use.step["label"] for use in trace.found(notebook) if bare(str(use.step["label"])) not in paper]
        lost += [source for source in trace.sources(notebook) if bare(source) not in paper]
        lost += [side.what for side in trace.sides(notebook) if bare(side.what)[:48] not in paper]
        lost += [check["title"] for check in sheet["checks"] if bare(str(check["title"]))[:48] not in paper]
        lost += [step["id"] for step in sheet["steps"] if bare(str(step["shown"])) not in paper]
        assert not lost, f"{notebook}: {lost[:8]}"


def test_page_1_answers_what_is_asked_first(results: dict[str, Any], pages: list[str]) -> None:
    first = bare(pages[0])
    assert "…" not in pages[0].partition("Checks")[0]  # nothing that answers is cut
    for group in results["groups"]:
        assert bare(f"{group['rounded_dose_mL']:g} mL") in first, group["mark"]
        assert bare(str(group["mark"])) in first
    assert bare("All bars may be loaded from") in first
    assert bare("30 MPa (job.toml, design.f_ck)") in first
    governs = max(
        (check for sheet in results["sheets"] for check in sheet["checks"]), key=lambda one: one["utilisation"] or 0.0
    )
    assert bare(str(governs["what"])) in first


def test_tables_of_the_record_are_numbered_in_their_order(pages: list[str]) -> None:
    found = [word for page in pages for word in page.replace("\n", " ").split("Table R")[1:]]
    own: dict[str, list[str]] = {}
    for words in found:
        number, colon, _ = words.partition(":")
        if colon and number[:1].isdigit() and number[1:].isalpha() and len(number) < 4:
            own.setdefault(number[0], []).append(number[1:])
    assert own
    assert all(letters == sorted(letters, key=lambda one: (len(one), one)) for letters in own.values())
