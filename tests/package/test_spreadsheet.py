"""calculation.xlsx: cells that compute what results.json holds, and no text that a spreadsheet would run."""

from __future__ import annotations

import dataclasses
import re
import shutil
import time
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from office import NEEDS_OFFICE, recalculated

from calc.base.canonical import canonical
from calc.base.sheet import Notice
from calc.files.job import demo_job
from calc.package.cells import in_unit
from calc.package.manifest import Made
from calc.package.spreadsheet import write_xlsx
from calc.package.xlsx import cell_text
from calc.work.load import load_job
from calc.work.plan.dayrows import day_rows
from calc.work.plan.planned import PlanWork
from calc.work.results import Results, compute

DEMOS = ("metric", "us", "failing")
STEPS = {
    "metric": ["01 Dose per hole", "02 Overfill and waste", "03 Measured holes", "04 Embedment", "05 Job plan"],
    "us": ["01 Dose per hole", "02 Overfill and waste", "04 Embedment", "05 Job plan"],
    "failing": ["01 Dose per hole", "04 Embedment", "05 Job plan"],
}
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
def results() -> dict[str, Results]:
    return {demo: compute(load_job(demo_job(demo))) for demo in DEMOS}


@pytest.fixture(scope="module")
def files(results: dict[str, Results], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("xlsx")
    for demo, one in results.items():
        write_xlsx(one, folder / f"{demo}.xlsx")
    assert {path.name for path in folder.iterdir()} == {f"{demo}.xlsx" for demo in DEMOS}
    return {demo: folder / f"{demo}.xlsx" for demo in DEMOS}


@pytest.fixture(scope="module")
def books(files: dict[str, Path]) -> dict[str, openpyxl.Workbook]:
    """As a program shows them that computes nothing: with the values that the files bring along."""
    return {demo: openpyxl.load_workbook(path, data_only=True) for demo, path in files.items()}


@pytest.fixture(scope="module")
def formulas(files: dict[str, Path]) -> dict[str, openpyxl.Workbook]:
    """With the formulas that stand in the cells."""
    return {demo: openpyxl.load_workbook(path) for demo, path in files.items()}


def table(book: openpyxl.Workbook, sheet: str) -> list[dict[str, Any]]:
    """The rows below a sheet's head, by what the head says; a column that is called twice has its first value."""
    above = {"About": 0, "Trace": 0, "Day book": 0, "Groups": 1, "Checks": 1, "Order": 1}.get(sheet, 2)
    head, *body = list(book[sheet].iter_rows(values_only=True))[above:]
    return [dict(reversed(list(zip(map(str, head), row, strict=True)))) for row in body]


def steps_of(book: openpyxl.Workbook, demo: str) -> dict[str, dict[str, Any]]:
    return {row["Step"]: row for sheet in STEPS[demo] for row in table(book, sheet) if row["Step"]}


def expected(results: Results) -> dict[str, dict[str, Any]]:
    return {step["id"]: step for sheet in results.data()["sheets"] for step in sheet["steps"]}


def all_cells(book: openpyxl.Workbook) -> list[Any]:
    return [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]


def test_every_sheet_is_filtered_frozen_and_set_up_for_its_page(formulas: dict[str, openpyxl.Workbook]) -> None:
    for demo, book in formulas.items():
        lists = ["Checks", "Order", "Trace", *([] if demo == "failing" else ["Day book"])]
        assert book.sheetnames == ["About", "Groups", "Inputs", *STEPS[demo], *lists]
        for sheet in book:
            head = int(sheet.freeze_panes[1:]) - 1
            assert sheet.freeze_panes == f"B{head + 1}"
            assert sheet[f"A{head}"].font.bold
            assert sheet.auto_filter.ref.startswith(f"A{head}:")
            assert sheet.print_title_rows == f"$1:${head}"
            assert sheet.print_area
            assert sheet.page_setup.orientation == "landscape"
            assert sheet.sheet_properties.pageSetUpPr.fitToPage
            assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
            assert sheet.page_setup.paperSize == (1 if demo == "us" else 9)


def test_what_the_file_brings_along_is_results_json(
    books: dict[str, openpyxl.Workbook], results: dict[str, Results]
) -> None:
    for demo, book in books.items():
        steps = expected(results[demo])
        found = steps_of(book, demo)
        assert sorted(found) == sorted(steps)
        for name, row in found.items():
            assert row["Value"] == row["results.json"] == pytest.approx(steps[name]["value"], rel=1e-15)
            assert (row["Unit"] or "", row["Symbol"]) == (steps[name]["unit"], steps[name]["symbol"])
            assert row["As in results"] == "✓"
            assert row["Source"].startswith(steps[name]["source"])
        assert book["About"]["B2"].value == f"The {len(steps)} values that are computed here are those of results.json."


def test_each_input_stands_once_with_where_it_comes_from(
    formulas: dict[str, openpyxl.Workbook], results: dict[str, Results]
) -> None:
    for demo, book in formulas.items():
        steps = expected(results[demo])
        used = {
            (one["name"], one["origin"])
            for step in steps.values()
            for one in step["inputs"]
            if one["step"] not in steps  # what no formula gives comes in as an input
        }
        rows = table(book, "Inputs")
        assert {(row["Symbol"], row["Where from"]) for row in rows} == used
        assert all(isinstance(row["Value"], (int, float)) for row in rows)
        assert [row["Value"] for row in rows] == [row["In the calculation"] for row in rows]
        assert len({(row["Bar group"], row["Symbol"], row["Where from"], row["Value"]) for row in rows}) == len(rows)
    graduation = [row for row in table(formulas["metric"], "Inputs") if row["Symbol"] == "graduation"]
    assert [(row["Bar group"], row["Value"], row["Unit"]) for row in graduation] == [("all", 1000, "mm³")]


def test_groups_read_the_cells_that_compute(
    formulas: dict[str, openpyxl.Workbook], books: dict[str, openpyxl.Workbook], results: dict[str, Results]
) -> None:
    *found, total = table(books["us"], "Groups")
    groups = results["us"].data()["groups"]
    for row, entry in zip(found, groups, strict=True):
        assert row["rounded dose [fl oz]"] == pytest.approx(entry["rounded_dose_mL"] / 29.5735295625)
        assert row["embedment [in]"] == pytest.approx(entry["embedment_mm"] / 25.4)
        assert (row["bar group"], row["count"], row["checks"]) == (entry["mark"], entry["count"], "✓ passes")
    assert total["count"] == sum(entry["count"] for entry in groups)
    litres = results["us"].data()["totals"]["dose_L"]
    assert total["all holes [fl oz]"] == pytest.approx(litres / 0.0295735295625)
    live = table(formulas["us"], "Groups")[0]
    assert live["rounded dose [fl oz]"].startswith("='01 Dose per hole'!D")
    assert live["embedment [in]"].startswith("='Inputs'!D") or live["embedment [in]"].startswith("=Inputs!D")
    first = table(books["metric"], "Groups")[0]
    own = [check for check in results["metric"].checks if check.mark == "S1"]
    assert first["highest utilisation"] == pytest.approx(max(check.utilisation or 0.0 for check in own))
    assert {row["checks"] for row in table(books["failing"], "Groups")[:-1]} == {"✗ FAILS", "○ owed", "✓ passes"}


def test_lists_hold_every_check_every_number_and_every_row_of_the_day_book(
    books: dict[str, openpyxl.Workbook], results: dict[str, Results]
) -> None:
    book, data = books["metric"], results["metric"].data()
    checks = {check["id"]: check for sheet in data["sheets"] for check in sheet["checks"]}
    listed = table(book, "Checks")
    assert [row["check"] for row in listed] == list(checks)
    for column, key in (
        ("utilisation (at most 1 passes)", "utilisation"),
        ("demand", "demand"),
        ("resistance", "resistance"),
    ):
        assert [row[column] for row in listed] == pytest.approx([check[key] for check in checks.values()], rel=1e-15)
    owed = table(books["failing"], "Checks")
    assert any(row["verdict"] == "○ owed" and row["resistance"] is None for row in owed)
    totals = {row["total of the whole job"]: row for row in table(book, "Order")}
    assert totals["dose"]["value"] == pytest.approx(data["totals"]["dose_L"], rel=1e-15)
    assert totals["holes"]["how it comes about"] == "05.job.n_hole: summed, sum over all groups"
    traced = {(row["key in results.json"], row["bar group"]): row for row in table(book, "Trace")}
    assert traced["rounded_dose_mL", "W4"]["step or place behind it"] == "01.W4.V_round"
    assert traced["embedment_mm", "S1"]["step or place behind it"] == "schedule.csv row of the group, embedment"
    assert traced["totals.discard_L", "whole job"]["value"] == data["totals"]["discard_L"]
    plan = results["metric"].part(PlanWork)
    assert plan is not None
    days = table(book, "Day book")
    assert [tuple(row.values())[::-1] for row in days] == [
        tuple(None if cell == "" else canonical(cell) for cell in row) for row in day_rows(plan)
    ]
    american = table(books["us"], "Day book")
    assert sum(row["volume [fl oz]"] for row in american) == pytest.approx(
        sum(row["volume [mL]"] for row in american) / 29.5735295625
    )


def test_about_comes_first_and_says_what_the_file_is(
    books: dict[str, openpyxl.Workbook], results: dict[str, Results]
) -> None:
    rows = [(row["about"], row["this calculation"]) for row in table(books["metric"], "About")]
    assert ("number", results["metric"].job.number) in rows
    assert {text for name, text in rows if name == "caution"} == set(results["metric"].cautions)
    assert any(name == "results.json" and re.search(r"SHA-256 [0-9a-f]{64}", str(text)) for name, text in rows)
    assert [name for name, _ in rows if name in books["metric"].sheetnames] == books["metric"].sheetnames[1:]


# ---- computed by another program ----


@pytest.fixture(scope="module")
def changed(results: dict[str, Results], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Results]:
    """The demos with one input of their files changed: a deeper bar; a larger stroke."""
    edits = {
        "metric": ("schedule.csv", "S1,96,8,12,110,", "S1,96,8,12,135,"),
        "us": ("job.toml", 'stroke = "0.5 fl oz"', 'stroke = "0.75 fl oz"'),
    }
    found = {}
    for demo, (name, old, new) in edits.items():
        folder = tmp_path_factory.mktemp("changed") / demo
        shutil.copytree(demo_job(demo).parent, folder)
        text = (folder / name).read_text(encoding="utf-8")
        assert text.count(old) == 1
        (folder / name).write_text(text.replace(old, new), encoding="utf-8")
        found[demo] = compute(load_job(folder))
    return found


def typed_over(path: Path, symbol: str, origin: str, value: float, new: Path) -> Path:
    """Type over an input, and take away all the values that the file brought along."""
    book = openpyxl.load_workbook(path)
    rows = [row for row in book["Inputs"].iter_rows() if (row[2].value, row[7].value) == (symbol, origin)]
    assert len(rows) == 1
    rows[0][3].value = value
    book.save(new)
    return new


@pytest.fixture(scope="module")
def computed(files: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> dict[str, openpyxl.Workbook]:
    """The demos and two that were changed, computed anew by LibreOffice."""
    folder = tmp_path_factory.mktemp("computed")
    deeper = typed_over(files["metric"], "l_v", "schedule.csv row 2, embedment", 135, folder / "deeper.xlsx")
    stroke = 0.75 * 29573.5295625
    larger = typed_over(files["us"], "graduation", "job.toml, equipment.stroke", stroke, folder / "larger.xlsx")
    found = recalculated([*files.values(), deeper, larger], folder / "out")
    return dict(zip((*DEMOS, "deeper", "larger"), found, strict=True))


@NEEDS_OFFICE
def test_another_program_computes_what_results_json_holds(
    computed: dict[str, openpyxl.Workbook], results: dict[str, Results]
) -> None:
    for demo in DEMOS:
        steps, found = expected(results[demo]), steps_of(computed[demo], demo)
        values = {name: row["Value"] for name, row in found.items()}
        assert values == pytest.approx({name: step["value"] for name, step in steps.items()}, rel=1e-9, abs=1e-12)
        assert {row["As in results"] for row in found.values()} == {"✓"}
        assert [
            cell.value for cell in all_cells(computed[demo]) if str(cell.value).startswith(("#DIV", "#N", "#V", "#REF"))
        ] == []
        state = f"The {len(steps)} values that are computed here are those of results.json."
        assert computed[demo]["About"]["B2"].value == computed[demo]["Groups"]["A1"].value == state


@NEEDS_OFFICE
def test_a_changed_input_gives_what_the_calculation_gives(
    computed: dict[str, openpyxl.Workbook], changed: dict[str, Results], results: dict[str, Results]
) -> None:
    deeper, larger = (steps_of(computed[name], demo) for name, demo in (("deeper", "metric"), ("larger", "us")))
    now = expected(changed["metric"])
    assert now.keys() - deeper.keys() == {"04.S1.N_b", "04.S1.N_R"}  # a formula that the deeper bar chooses
    for name, step in now.items():
        if name.startswith(("01.", "04.")) and name in deeper:
            assert deeper[name]["Value"] == pytest.approx(step["value"], rel=1e-9), name
    for name, step in expected(changed["us"]).items():
        if name.startswith("01."):
            assert larger[name]["Value"] == pytest.approx(step["value"], rel=1e-9), name
    before = expected(results["metric"])
    assert deeper["01.S1.V_round"]["Value"] > before["01.S1.V_round"]["value"]
    assert deeper["01.S1.V_round"]["As in results"] == "differs"
    told = "1 of the inputs changed: a what-if, and not the calculation."
    for name in ("deeper", "larger"):
        assert str(computed[name]["About"]["B2"].value).startswith(told)
        assert [row["As calculated"] for row in table(computed[name], "Inputs")].count("changed") == 1
    dose = table(computed["deeper"], "Groups")[0]["rounded dose [mL]"]
    assert dose == pytest.approx(changed["metric"].data()["groups"][0]["rounded_dose_mL"])


@pytest.mark.parametrize(
    ("source", "target", "written"),
    [
        ("mm", "mm", "A1"),
        ("mm³", "mL", "A1/1000"),
        ("in³", "mm³", "A1*16387.064"),
        ("N", "kip", "A1*0.00022480894309971"),
        ("°C", "°F", "A1*1.8+32"),
        ("kJ/mol", "kJ/mol", "A1"),
    ],
)
def test_a_conversion_is_written_with_the_number_that_people_know(source: str, target: str, written: str) -> None:
    assert in_unit("A1", source, target) == written


# ---- texts from outside ----


def hostile(results: Results, text: str) -> Results:
    """The demo with a text from outside in a mark, an origin, a label and a check's title."""
    one = results.worked[0]
    inner = dataclasses.replace(one.sheet.steps[0].inputs[0], origin=text)
    inputs = (inner, *one.sheet.steps[0].inputs[1:])
    step = dataclasses.replace(one.sheet.steps[0], label=text, inputs=inputs, notices=(text,), mark=text)
    check = dataclasses.replace(one.sheet.checks[0], title=text, what="", verdict="fails", reason=text)
    sheet = dataclasses.replace(
        one.sheet, steps=(step,), checks=(check,), notices=(Notice(one.sheet.notebook, text, "x", text),)
    )
    return Results(results.job, (dataclasses.replace(one, case=dataclasses.replace(one.case, mark=text), sheet=sheet),))


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_becomes_a_formula(results: dict[str, Results], tmp_path: Path, text: str) -> None:
    write_xlsx(hostile(results["metric"], text), tmp_path / "a.xlsx")
    cells = all_cells(openpyxl.load_workbook(tmp_path / "a.xlsx"))
    told = [cell for cell in cells if cell.value == cell_text(text)]
    assert len(told) >= 6
    assert {cell.data_type for cell in told} == {"s"}
    if text[0] in "=+-@\t":
        assert all(cell.quotePrefix for cell in told)
    formulas = {cell.value for cell in cells if cell.data_type == "f"}
    assert "=PI()/4*(D5^2-D6^2)*D7" in formulas
    assert not [formula for formula in formulas if len(text) > 2 and text in formula]
    assert any(cell.value == "✗ FAILS" for cell in cells)


def test_long_and_forbidden_texts_fit_a_cell() -> None:
    assert cell_text("a\x00\x0b\ufffe") == "a[U+0000][U+000B][U+FFFE]"
    assert len(cell_text("y" * 50_000)) < 32_767
    assert cell_text("y" * 50_000).endswith("(cut; in full in results.json)")
    assert cell_text("Ω 漢字 😀\nline") == "Ω 漢字 😀\nline"


def test_same_results_give_the_same_bytes(
    results: dict[str, Results], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Made("2026-11-25T12:00:00+00:00", {"calc": "1"})
    write_xlsx(results["metric"], tmp_path / "a.xlsx", made)
    time.sleep(1.1)  # a workbook's times count whole seconds
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")
    time.tzset()
    write_xlsx(results["metric"], tmp_path / "b.xlsx", made)
    monkeypatch.undo()
    time.tzset()
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    core = zipfile.ZipFile(tmp_path / "a.xlsx").read("docProps/core.xml").decode()
    assert re.findall(r"<dcterms:\w+[^>]*>([^<]+)", core) == ["2026-11-25T12:00:00Z"] * 2
    write_xlsx(hostile(results["metric"], "A"), tmp_path / "c.xlsx", Made("some day", {}))
    assert "2000-01-01" in zipfile.ZipFile(tmp_path / "c.xlsx").read("docProps/core.xml").decode()
