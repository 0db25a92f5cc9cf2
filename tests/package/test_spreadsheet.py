"""calculation.xlsx: everything of results.json, numbers as numbers, and no text that a spreadsheet would run."""

from __future__ import annotations

import dataclasses
import json
import re
import time
import zipfile
from pathlib import Path

import openpyxl
import pytest

from calc.base.sheet import Notice
from calc.files.job import demo_job
from calc.package.spreadsheet import cell_text, write_xlsx
from calc.work.load import load_job
from calc.work.results import Results, compute

HOSTILE = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1+1",
    '=HYPERLINK("http://example.invalid")',
    "=cmd|' /C calc'!A0",
    "a\x00b",
    "x" * 40_000,
]


@pytest.fixture(scope="module")
def results() -> Results:
    return compute(load_job(demo_job()))


@pytest.fixture(scope="module")
def book(results: Results, tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    path = tmp_path_factory.mktemp("xlsx") / "calculation.xlsx"
    write_xlsx(results, path)
    assert [entry.name for entry in path.parent.iterdir()] == ["calculation.xlsx"]
    return openpyxl.load_workbook(path)


def rows(book: openpyxl.Workbook, sheet: str) -> list[dict[str, object]]:
    head, *body = book[sheet].iter_rows(values_only=True)
    assert len(set(head)) == len(head)
    return [dict(zip(map(str, head), row, strict=True)) for row in body]


def test_sheets_are_there_with_frozen_header_filter_and_widths(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == ["Groups", "Steps", "Checks", "Order", "Inputs", "About"]
    for sheet in book:
        assert sheet.freeze_panes == "B2"
        assert sheet.auto_filter.ref == sheet.dimensions
        assert sheet["A1"].font.bold
        widths = [sheet.column_dimensions[cell.column_letter].width for cell in sheet[1]]
        assert all(8 <= width <= 60 for width in widths)


def test_groups_hold_the_numbers_of_results_json(book: openpyxl.Workbook, results: Results) -> None:
    data = json.loads(results.text())
    found = rows(book, "Groups")
    assert [row["mark"] for row in found] == [group["mark"] for group in data["groups"]]
    for row, group in zip(found, data["groups"], strict=True):
        assert row["required volume [mL]"] == pytest.approx(group["required_volume_mL"], rel=1e-15)
        assert row["hole diameter [mm]"] == group["hole_diameter_mm"]
        assert row["count"] == group["count"]
        assert isinstance(row["required volume [mL]"], float)
        own = [
            check for sheet in data["sheets"] for check in sheet["checks"] if check["id"].split(".")[1] == group["mark"]
        ]
        assert row["highest utilisation"] == pytest.approx(max(check["utilisation"] for check in own), rel=1e-15)
        assert row["checks"] == "✓ passes"


def test_every_step_and_check_is_there_unrounded(book: openpyxl.Workbook, results: Results) -> None:
    data = json.loads(results.text())
    steps = {step["id"]: step for sheet in data["sheets"] for step in sheet["steps"]}
    found = rows(book, "Steps")
    assert [row["step"] for row in found] == list(steps)
    # A workbook keeps 16 digits of a number.
    assert [row["value"] for row in found] == pytest.approx([step["value"] for step in steps.values()], rel=1e-15)
    assert [row["unit of the value"] for row in found] == [step["unit"] or None for step in steps.values()]
    assert all(row["source"] == steps[row["step"]]["source"] for row in found)
    checks = {check["id"]: check for sheet in data["sheets"] for check in sheet["checks"]}
    listed = rows(book, "Checks")
    assert [row["check"] for row in listed] == list(checks)
    for column, key in (
        ("utilisation (at most 1 passes)", "utilisation"),
        ("demand", "demand"),
        ("resistance", "resistance"),
    ):
        assert [row[column] for row in listed] == pytest.approx([check[key] for check in checks.values()], rel=1e-15)


def test_order_inputs_and_about(book: openpyxl.Workbook, results: Results) -> None:
    totals = {row["total of the whole job"]: row for row in rows(book, "Order")}
    assert totals["dose"]["value"] == pytest.approx(json.loads(results.text())["totals"]["dose_L"], rel=1e-15)
    assert totals["dose"]["unit"] == "L"
    assert totals["holes"]["how it comes about"] == "sum over all groups of count"
    given = rows(book, "Inputs")
    assert any(row["symbol"] == "d_0" and "schedule.csv" in str(row["where from"]) for row in given)
    assert not [row for row in given if str(row["where from"]).startswith("step ")]
    about = [(row["about"], row["this calculation"]) for row in rows(book, "About")]
    assert ("number", results.job.number) in about
    assert {text for name, text in about if name == "caution"} == set(results.cautions)
    assert any(name == "results.json" and re.search(r"SHA-256 [0-9a-f]{64}", str(text)) for name, text in about)


def hostile(results: Results, text: str) -> Results:
    """The demo with a text from outside in a mark, an origin, a label and a check's title."""
    one = results.worked[0]
    inner = dataclasses.replace(one.sheet.steps[0].inputs[0], origin=text)
    step = dataclasses.replace(one.sheet.steps[0], label=text, inputs=(inner,), notices=(text,))
    check = dataclasses.replace(one.sheet.checks[0], title=text, verdict="fails", reason=text)
    sheet = dataclasses.replace(
        one.sheet, steps=(step,), checks=(check,), notices=(Notice(one.sheet.notebook, text, "x", text),)
    )
    return Results(results.job, (dataclasses.replace(one, case=dataclasses.replace(one.case, mark=text), sheet=sheet),))


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_becomes_a_formula(results: Results, tmp_path: Path, text: str) -> None:
    write_xlsx(hostile(results, text), tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} == {"s", "n"}
    assert book["Groups"]["A2"].value == cell_text(text)
    assert sum(cell.value == cell_text(text) for cell in cells) >= 4
    if text[0] in "=+-@\t":
        assert all(cell.quotePrefix for cell in cells if cell.value == cell_text(text))
    for name in zipfile.ZipFile(tmp_path / "a.xlsx").namelist():
        assert b"<f>" not in zipfile.ZipFile(tmp_path / "a.xlsx").read(name)
    assert any(cell.value == "✗ FAILS" for cell in cells)


def test_long_and_forbidden_texts_fit_a_cell() -> None:
    assert cell_text("a\x00\x0b\ufffe") == "a[U+0000][U+000B][U+FFFE]"
    assert len(cell_text("y" * 50_000)) < 32_767
    assert cell_text("y" * 50_000).endswith("(cut; in full in results.json)")
    assert cell_text("Ω 漢字 😀\nline") == "Ω 漢字 😀\nline"


def test_same_results_give_the_same_bytes(results: Results, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_xlsx(results, tmp_path / "a.xlsx")
    time.sleep(1.1)  # a workbook's times count whole seconds
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")
    time.tzset()
    write_xlsx(results, tmp_path / "b.xlsx")
    monkeypatch.undo()
    time.tzset()
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_a_us_job_has_its_own_units_beside(tmp_path: Path) -> None:
    results = compute(load_job(demo_job("us")))
    write_xlsx(results, tmp_path / "us.xlsx")
    found = rows(openpyxl.load_workbook(tmp_path / "us.xlsx"), "Groups")
    for row, entry in zip(found, results.data()["groups"], strict=True):
        assert row["rounded dose [mL]"] == pytest.approx(entry["rounded_dose_mL"])
        assert row["rounded dose [in³]"] == pytest.approx(entry["rounded_dose_mL"] / 16.387064)
        assert row["embedment [in]"] == pytest.approx(entry["embedment_mm"] / 25.4)
