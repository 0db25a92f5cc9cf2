"""Marks that look like parts of an id.

Every number still stands with its own bar group, in the results and in all that is built from them.
"""

import csv
import json
import math
from pathlib import Path

import openpyxl
import pytest

from calc.base.identity import DOSE, EMBEDMENT, OVERFILL, PLAN, identity
from calc.files.job import demo_job
from calc.package.build import build
from calc.package.lists.doses import failing
from calc.package.notebooks import blocks
from calc.show.view import governing_mark, steps_by_mark
from calc.work.load import load_job
from calc.work.results import Results, compute
from calc.work.trace import Trace

# The hole [mm] and the embedment [mm] of each mark; the bar has 16 mm, so that no two groups have a volume in common.
HOLES = {
    "job": (20, 200),
    "A": (21, 210),
    "A.1": (22, 220),
    "A.u_i": (23, 230),
    "steps": (24, 240),
    "01": (25, 250),
    "total": (26, 260),
}
OTHERS = ('A."1"', '"job"', "A.u_i.d_0", "V_req", "job.yield")


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """The demo with these groups in place of its own: all scatter and have a force."""
    place = tmp_path_factory.mktemp("marks")
    demo = demo_job().parent
    (place / "adhesive.toml").write_bytes((demo / "adhesive.toml").read_bytes())
    rows = [
        f"{mark},{4 + number},16,{hole},{depth},,down,," for number, (mark, (hole, depth)) in enumerate(HOLES.items())
    ]
    (place / "schedule.csv").write_text(
        "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note\n"
        + "\n".join(rows)
        + "\n"
    )
    text = (demo / "job.toml").read_text(encoding="utf-8")
    tables = text.split("\n[")
    dropped = ("evidence.", "measured.", "scatter.group.", "design.group.")
    kept = "\n[".join(table for table in tables if not table.startswith(dropped))
    kept = kept.replace(
        'bit = "medium"', 'hole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}', 1
    )  # no bit has all of these sizes
    forces = "".join(f'\n[design.group."{mark}"]\nforce = "{20 + number} kN"\n' for number, mark in enumerate(HOLES))
    own = '\n[scatter.group."A.u_i"]\nhole_diameter = {mean = "0.3 mm", sd = "0.15 mm"}\n'
    (place / "job.toml").write_text(kept + forces + own, encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def results(folder: Path) -> Results:
    return compute(load_job(folder))


@pytest.fixture(scope="module")
def package(folder: Path, tmp_path_factory) -> Path:
    return build(folder / "job.toml", out=tmp_path_factory.mktemp("built"))[0]


def test_no_two_records_have_one_id():
    marks = [None, *HOLES, *OTHERS]
    names = ["d_0", "u_i.d_0", "V_req", "yield", "1.V_req", "u_i", "job", "A", 'x".V_req']
    found = [identity(notebook, mark, name) for notebook in (DOSE, OVERFILL, PLAN) for mark in marks for name in names]
    assert len(set(found)) == len(found)
    assert identity(DOSE, "W4", "V_req") == "01.W4.V_req"
    assert identity(PLAN, None, "yield") != identity(PLAN, "job", "yield")


def required(mark: str) -> float:
    hole, depth = HOLES[mark]
    tip = math.pi / 24 * hole**3 / math.tan(math.radians(65))  # 130° of the demo's drill
    return (math.pi / 4 * (hole**2 - 16**2) * depth + tip) / 1000


def test_every_step_has_the_numbers_of_its_own_group(results: Results):
    ids = [record.id for sheet in results.sheets for record in (*sheet.steps, *sheet.checks)]
    assert len(ids) == len(set(ids))
    for sheet in results.sheets:
        assert {step.mark for step in sheet.steps} >= set(HOLES)
        assert {step.notebook for step in sheet.steps} == {sheet.notebook}
    for step in results.sheet_of(DOSE).steps:
        hole, depth = HOLES[str(step.mark)]
        given = {one.name: one.value for one in step.inputs}
        assert given.get("d_0", hole) == hole
        assert given.get("l_v", depth) == depth
    volumes = {step.mark: step.value / 1000 for step in results.sheet_of(DOSE).steps if step.name == "V_req"}
    assert volumes == pytest.approx({mark: required(mark) for mark in HOLES}, rel=1e-6)


def test_a_step_takes_from_its_own_group(results: Results):
    steps = {step.id: step for sheet in results.sheets for step in (*sheet.steps, *sheet.found)}
    taken = [(step, steps[one.step]) for step in steps.values() for one in step.inputs if one.step is not None]
    assert len(taken) > 200
    for user, source in taken:
        assert source.mark in (user.mark, None) or user.mark is None, (user.id, source.id)
        given = next(one for one in user.inputs if one.step == source.id)
        assert given.unit != source.unit or given.value == pytest.approx(source.value, rel=1e-9), (user.id, source.id)


def test_the_trace_leads_to_the_own_group(results: Results):
    data = json.loads(results.text())
    trace = Trace(data)
    entries = {group["mark"]: group for group in data["groups"]}
    for key in ("required_volume_mL", "annular_volume_mL", "rounded_dose_mL", "required_embedment_mm", "least_dose_mL"):
        (answer,) = [answer for answer in trace.answers if answer["key"] == key]
        assert set(answer["steps"]) == set(HOLES), key
        for mark, name in answer["steps"].items():
            assert trace.by_id[name]["mark"] == mark
            scale = 1000 if key.endswith("mL") else 1
            assert trace.by_id[name]["value"] == pytest.approx(entries[mark][key] * scale, rel=1e-6)
    packs = next(total for total in trace.totals if total["key"] == "discard_L")
    assert [trace.by_id[name]["mark"] for name in packs["steps"]] == [None]


def test_views_and_lists_attribute_steps_and_checks(results: Results):
    for notebook in (DOSE, OVERFILL, EMBEDMENT, PLAN):
        recorded = steps_by_mark(results, notebook)
        assert [one.mark for one in recorded] == list(HOLES)
        assert all(one.steps and {step.mark for step in one.steps} == {one.mark} for one in recorded)
    checks = results.sheet_of(EMBEDMENT).checks
    most = max(
        (check for check in checks if check.utilisation is not None and check.passes),
        key=lambda check: check.utilisation or 0,
    )
    assert governing_mark([most]) == most.mark
    for mark, failed in failing(results).items():
        assert {check.mark or "" for check in failed} == {mark}
        assert all(
            not mark or check.title.startswith(f"{mark} (") or check.title.startswith(f"{mark}:") for check in failed
        )


def test_notices_name_their_groups(results: Results):
    for sheet in results.sheets:
        for notice in sheet.notices:
            assert notice.mark is None or notice.mark in HOLES
            assert notice.notebook == sheet.notebook
            assert (
                notice.mark is None
                or notice.words.startswith(notice.mark)
                or notice.words.startswith(f"group {notice.mark}")
            )


def test_the_built_package_attributes_each_number(results: Results, package: Path):
    content = json.loads((package / "results.json").read_text(encoding="utf-8"))
    assert content == json.loads(results.text())
    rows = {
        row["mark"]: row for row in csv.DictReader((package / "doses.csv").read_text(encoding="utf-8").splitlines())
    }
    entries = {group["mark"]: group for group in content["groups"]}
    for mark, (hole, _) in HOLES.items():
        assert float(rows[mark]["hole_diameter [mm]"]) == hole
        assert float(rows[mark]["rounded_dose [mL]"]) == pytest.approx(entries[mark]["rounded_dose_mL"])
    book = openpyxl.load_workbook(package / "calculation.xlsx", read_only=True, data_only=True)
    volumes = {row[0]: row[3] for row in book["01 Dose per hole"].iter_rows(values_only=True) if row[2] == "V_req"}
    assert volumes == pytest.approx({mark: 1000 * entries[mark]["required_volume_mL"] for mark in HOLES}, rel=1e-9)
    plan = [
        row for row in book["05 Job plan"].iter_rows(values_only=True) if row[11] in ("05.job.yield", "05.job.V_mix")
    ]
    assert plan
    assert {row[0] for row in plan} == {"whole job"}


def test_the_built_notebooks_show_each_groups_values(results: Results, package: Path):
    import nbformat

    owner = {step.id: step.mark for sheet in results.sheets for step in sheet.steps}
    shown: dict[str, str] = {}
    for path in sorted((package / "notebooks").glob("0*.ipynb")):
        for block in blocks(nbformat.read(path, as_version=4)):
            if block["kind"] == "steps":
                shown |= {step["id"]: step["shown"] for step in block["steps"]}
            elif block["kind"] == "table" and block.get("ids"):
                ids, count = block["ids"], len(block["rows"])
                shown |= {
                    ids[c * count + r]: row[2 + c]
                    for r, row in enumerate(block["rows"])
                    for c in range(len(ids) // count)
                }
                marks = block["columns"][2:]
                for c, mark in enumerate(marks):
                    assert {owner[name] for name in ids[c * count : (c + 1) * count]} == {mark}
    for sheet in results.sheets:
        for step in sheet.steps:
            assert shown[step.id] == step.shown
