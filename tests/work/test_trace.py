"""The trace index: behind every number of results.json a formula, its inputs, the notebook and the page.

And 300 groups stay readable.
"""

from __future__ import annotations

import csv
import json
import re
import subprocess
from pathlib import Path

import pytest

from calc.base.sheet import Sheet, as_data
from calc.files.job import demo_job
from calc.package.build import build
from calc.package.document import document as contents
from calc.package.document.html import write_html
from calc.package.document.parts import Document, Front, Section
from calc.package.document.pdf import write_pdf
from calc.show import view as record
from calc.work.load import load_job
from calc.work.results import Results, compute
from calc.work.trace import Trace, governing, mark_of, stem_of_key, unit_of_key
from calc.work.tracekeys import home_of_group

ADHESIVE = 'name = "Invented resin"\napproval = ""\ninvented = true\n'
JOB = """
schema = 1
[job]
number = "BIG"
revision = "A"
title = "Three hundred bar groups"
invented = true
[display]
units = "metric"
[schedule]
file = "schedule.csv"
[ribs]
"EN 10080" = 1.2
[adhesive]
record = "adhesive.toml"
[concrete]
temperature = "12 °C"
[equipment]
pack_volume = "400 mL"
residual = "12 mL"
discard_per_mixer = "20 mL"
graduation = "1 mL"
point_angle = "130 °"
[overfill]
share = 0.15
reason = "common practice, no source"
"""


@pytest.fixture(scope="module")
def results() -> Results:
    return compute(load_job(demo_job()))


@pytest.fixture(scope="module")
def trace(results: Results) -> Trace:
    return Trace(json.loads(results.text()))


def views_of(results: Results, sheet: Sheet) -> list[record.View]:
    groups = record.steps_by_mark(results, sheet.notebook)
    known = {step.id for one in groups for step in one.steps}
    whole = [step for step in sheet.steps if step.id not in known]
    return [*([record.steps_view("The whole job", whole)] if whole else []), *record.record_groups(groups)]


def document_of(results: Results) -> Document:
    """Every step of every sheet as a notebook would show it, without running one."""
    sections = tuple(
        Section(f"Part {sheet.notebook}", tuple(dict(view.block) for view in views_of(results, sheet)), sheet.notebook)
        for sheet in results.sheets
    )
    job = {"number": "T", "revision": "A", "title": "Trace", "invented": True, "date": "2026-11-25"}
    checks = [as_data(check) for check in results.checks]
    front = Front(
        "How much?",
        dict(record.dose_table(results.worked).block),
        ("Doses",),
        checks,
        list(results.notices),
        list(results.cautions),
        [],
    )
    return Document("Trace", job, front, sections, "results 0123456789ab", json.loads(results.text()))


def pdf_pages(path: Path) -> list[str]:
    return subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout.split(
        "\f"
    )[:-1]


def cells_of(table: dict[str, object]) -> str:
    return json.dumps(table["rows"], ensure_ascii=False)


def test_a_key_has_words_and_a_unit() -> None:
    assert unit_of_key("rounded_dose_mL") == ("rounded dose", "mL")
    assert unit_of_key("packs") == ("packs", "")


def test_governing_takes_the_highest_and_a_failure_before_all() -> None:
    good, better = {"utilisation": 0.5, "verdict": "passes"}, {"utilisation": 0.9, "verdict": "passes"}
    broken, over = {"utilisation": None, "verdict": "fails"}, {"utilisation": 1.2, "verdict": "fails"}
    assert governing([good, better]) is better
    assert governing([better, over]) is over
    assert governing([over, broken, better]) is broken
    assert governing([]) is None


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("annular_volume_mL", "V_a"),
        ("tip_volume_mL", "V_t"),
        ("overdrill_volume_mL", "V_o"),
        ("required_volume_mL", "V_req"),
        ("dose_mL", "V_dose"),
        ("rounded_dose_mL", "V_round"),
        ("overflow_mL", "V_over"),
    ],
)
def test_results_lead_to_their_steps(trace: Trace, results: Results, key: str, name: str) -> None:
    answer = next(answer for answer in trace.answers if answer["key"] == key)
    assert answer["steps"] == {one.case.mark: f"01.{one.case.mark}.{name}" for one in results.worked}
    assert answer["rest"] == []


def test_what_is_no_step_says_so(trace: Trace, results: Results) -> None:
    """The surface in a measured hole is found numerically: the index must not claim a formula for it."""
    measured = [one.case.mark for one in results.worked if one.case.measured is not None]
    assert measured
    for key, name in (("level_before_bar_mm", "z_0"), ("unfilled_length_mm", "u")):
        (answer,) = [answer for answer in trace.answers if answer["key"] == key]
        assert answer["rest"] == []
        assert answer["given"] == {}
        assert answer["steps"] == {one.case.mark: f"01.{one.case.mark}.{name}" for one in results.worked}
        for mark in measured:
            found = trace.by_id[answer["steps"][mark]]
            assert "formula" not in found
            assert found["way"] == "numerical"


def test_given_values_lead_to_their_files(trace: Trace) -> None:
    (hole,) = [answer for answer in trace.answers if answer["key"] == "hole_diameter_mm"]
    assert hole["steps"] == {}
    assert any("schedule.csv" in place and "hole_diameter" in place for _, place in hole["given"])


def test_a_wrong_number_has_no_formula(results: Results) -> None:
    data = json.loads(results.text())
    data["groups"][0]["dose_mL"] *= 1.0001
    (dose,) = [answer for answer in Trace(data).answers if answer["key"] == "dose_mL"]
    assert data["groups"][0]["mark"] in dose["rest"]


def test_totals_are_explained(trace: Trace) -> None:
    totals = {total["key"]: total for total in trace.totals}
    assert totals["holes"]["steps"] == ["05.job.n_hole"]
    assert totals["dose_L"]["steps"] == ["05.job.V_disp"]
    assert {given["step"] for given in trace.by_id["05.job.V_disp"]["inputs"]} == {
        f"05.{mark}.V_sum" for mark in trace.marks
    }


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_number_of_results_json_has_a_home(units: str) -> None:
    """A number is traced by the name of its step, never by its value alone."""
    data = json.loads(compute(load_job(demo_job(units))).text())
    trace = Trace(data)
    for answer in trace.answers:
        assert home_of_group(stem_of_key(answer["key"])) is not None, answer["key"]
        assert len(answer["steps"]) + sum(map(len, answer["given"].values())) + len(answer["rest"]) == answer["count"]
    traced = {answer["key"] for answer in trace.answers if answer["steps"]} | {
        total["key"] for total in trace.totals if total["steps"]
    }
    assert len(traced) >= 16
    totals = {total["key"]: total for total in trace.totals}
    assert totals["packs"]["sum"] == ""  # it equals the sum of all strokes in one demo, by chance
    assert totals["packs"]["steps"] == ["05.job.n_p"]
    assert totals["days"]["steps"] == ["05.job.n_days"]  # and the days the worn bits in another
    assert totals["dust_kg"]["steps"] == ["05.job.m_dust"]
    assert all(total["notebook"] for total in trace.totals)


def test_the_required_embedment_is_a_step_and_not_the_schedules() -> None:
    trace = Trace(json.loads(compute(load_job(demo_job("us"))).text()))
    (required,) = [answer for answer in trace.answers if answer["key"] == "required_embedment_mm"]
    assert required["steps"] == {"A8": "04.A8.l_d"}
    (own,) = [answer for answer in trace.answers if answer["key"] == "overfill"]
    assert sorted(mark for marks in own["given"].values() for mark in marks) == sorted(trace.marks)


def test_an_overfill_of_its_own_is_told_from_the_jobs(trace: Trace) -> None:
    (own,) = [answer for answer in trace.answers if answer["key"] == "overfill"]
    by_mark = {mark: place for (_, place), marks in own["given"].items() for mark in marks}
    assert "schedule.csv" in by_mark["S1"]
    assert own["steps"]["W3"] == "02.W3.option.probability"
    assert own["steps"]["S2"] == "02.S2.option.measured"  # the measured holes ask for more and govern
    assert trace.by_id["02.W3.option.probability"]["value"] == trace.groups[2]["overfill"]


def test_inputs_and_sources_of_each_notebook_are_complete(trace: Trace) -> None:
    for sheet in trace.sheets:
        given = [one for step in sheet["steps"] for one in step["inputs"] if not one["step"]]
        gathered = trace.inputs(sheet["notebook"])
        assert sum(len(one.ids) for one in gathered) == len(given)
        assert {one.name for one in gathered} == {one["name"] for one in given}
        assert len(gathered) <= max(80, len(given))
        sources = trace.sources(sheet["notebook"])
        assert sorted(id for ids in sources.values() for id in ids) == sorted(step["id"] for step in sheet["steps"])
        assert set(sources) == {step["source"] for step in sheet["steps"]}


def test_rows_and_marks_of_alike_inputs_are_joined(trace: Trace) -> None:
    (hole,) = [one for one in trace.inputs("01_dose_per_hole") if one.name == "d_0" and "schedule" in one.origin]
    assert re.fullmatch(r"schedule\.csv rows 2 to \d+, hole_diameter", hole.place)
    assert re.fullmatch(r"12 mm to 40 mm \(\d values\)", hole.shown)


def test_the_record_holds_every_step_of_every_group(results: Results) -> None:
    """Each formula once, typeset for the group that governs where it has it; all groups' values in the tables."""
    document = document_of(results)
    assert document.results is not None
    shown = contents.view(document)
    sections = {section["notebook"]: section for section in shown["sections"]}
    for sheet in document.results["sheets"]:
        section = sections[sheet["notebook"]]
        (block,) = [block for block in section["blocks"] if block["kind"] == "steps"]
        number = {step["anchor"]: step["number"] for step in block["steps"]}
        assert len(number) == len(block["steps"]) == len(Trace(document.results).uses(sheet["notebook"]))
        tabled = {
            (mark, row["place"]["number"], cell)
            for table in section["blocks"]
            if table["kind"] == "values"
            for row in table["rows"]
            for mark, cell in zip(table["columns"], row["cells"], strict=True)
        }
        typeset = {step["id"] for step in block["steps"]}
        uses = Trace(document.results).uses(sheet["notebook"])
        most = mark_of(governing(sheet["checks"]) or {})
        by_id = {step["id"]: step for step in sheet["steps"]}
        for use, drawn in zip(uses, block["steps"], strict=True):
            marks = [mark_of(by_id[identity]) for identity in use.ids]
            assert mark_of(by_id[drawn["id"]]) == (most if most in marks else marks[0])
            for identity in use.ids if use.ids[1:] else ():
                assert (mark_of(by_id[identity]), drawn["number"], by_id[identity]["shown"]) in tabled
            assert drawn["lines"] or not drawn["equation"]["latex"]
        assert {use.ids[0] for use in uses if not use.ids[1:]} <= typeset


def test_the_index_leads_to_every_result(results: Results) -> None:
    (table,) = contents.view(document_of(results))["trace"]
    assert table["caption"] == "Results of results.json"
    assert all(place["target"] for row in table["rows"] for place in row[2]["links"] if "more" not in place["text"])


def test_every_link_of_pdf_and_html_leads_somewhere(results: Results, tmp_path: Path) -> None:
    document = document_of(results)
    write_html(document, tmp_path / "a.html")
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    identities = re.findall(r'\bid="([^"]+)"', page)
    assert len(identities) == len(set(identities))
    targets = set(re.findall(r'href="#([^"]+)"', page))
    assert len(targets) > 50
    assert targets <= set(identities)
    write_pdf(document, tmp_path / "a.pdf", {})  # Typst refuses a link without a target


def test_the_index_names_the_right_pages(results: Results, tmp_path: Path) -> None:
    write_pdf(document_of(results), tmp_path / "a.pdf", {})
    pages = pdf_pages(tmp_path / "a.pdf")
    start = next(number for number, page in enumerate(pages) if "Trace index" in page)
    found = set(re.findall(r"step (R\d\.\d+), p\. (\d+)", "".join(pages[start:])))
    assert len(found) > 20
    for step, page in found:
        assert re.search(rf"(^|\s){re.escape(step)}\s", pages[int(page) - 1], re.MULTILINE), (step, page)


def test_a_step_that_uses_another_notebooks_step_links_to_it(results: Results) -> None:
    shown = contents.view(document_of(results))
    across = [
        entry
        for section in shown["sections"]
        if section["number"] > "R1"
        for block in section["blocks"]
        if block["kind"] == "steps"
        for step in block["steps"]
        for entry in step["inputs"]
        if re.match(r"step R1\.", entry["origin"])
    ]
    assert across
    assert all(entry["target"] for entry in across)


def test_40_groups_build_and_stay_readable(tmp_path: Path) -> None:
    """300 of them are in tests/long/test_pages.py."""
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "adhesive.toml").write_text(ADHESIVE, encoding="utf-8")
    sizes = [("8", 12, 110), ("12", 16, 150), ("16", 20, 250), ("20", 25, 300), ("25", 32, 360)]
    with (folder / "schedule.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["mark", "count", "bar", "hole_diameter [mm]", "embedment [mm]", "direction"])
        for number in range(40):
            bar, hole, depth = sizes[number % 5]
            # One group in a hole that is too tight: it fails, and so it governs.
            writer.writerow(
                [
                    f"G{number}",
                    1 + number % 9,
                    bar,
                    28 if number == 34 else hole,
                    depth,
                    ("down", "horizontal", "overhead")[number % 3],
                ]
            )
    package, made = build(folder / "job.toml", out=tmp_path / "out")
    pages = pdf_pages(package / "calculation.pdf")
    first = " ".join(pages[0].split())
    for words in ("Sign-off", "Approved", "1 fails", "G34", "and 32 more groups", "all 40 groups, page"):
        assert words in first, words
    assert 8 < len(pages) < 60
    text = "".join(pages)
    words = set(text.split())
    assert {f"G{number}" for number in range(40)} <= {word.strip(",:") for word in words}
    for step in made.sheet.steps:
        assert step.shown.split()[0] in words, step.id
    assert "Numbers of G34, which governs" in " ".join(text.split())
    index = next(number for number, page in enumerate(pages) if "Trace index" in page)
    assert len(pages) - index < 15
    assert (package / "calculation.xlsx").stat().st_size > 10_000
