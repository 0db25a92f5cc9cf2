"""Every panel opens with what the job's files say: each control of each panel, on every demo, for every bar group.

What the files say is read here with the standard library alone, not by the workbook.
"""

import csv
import shutil
import tomllib

import ipywidgets as widgets
import pytest

from calc.base.units import UnitError, parse_number, parse_quantity
from calc.files.job import demo_job
from calc.show.dose.panel import DosePanel
from calc.show.embedment.panel import EmbedmentPanel
from calc.show.evidence.panel import MeasuredPanel
from calc.show.overfill.panel import UNSTATED, OverfillPanel
from calc.show.plan.panel import PlanPanel
from calc.work.load import load_job

DEMOS = ("metric", "us", "failing")
RULE = object()  # no file says it: a rule finds it
_WORDS = ("mean", "sd", "low", "high")


@pytest.fixture(scope="module", params=DEMOS)
def job(request):
    return load_job(demo_job(request.param))


@pytest.fixture(scope="module")
def files(job):
    """The job file, and the schedule's rows by mark, lengths with their unit."""
    raw = tomllib.loads(job.path.read_text(encoding="utf-8"))
    rows = {}
    with job.schedule_path.open(encoding="utf-8", newline="") as file:
        for line in csv.DictReader(file):
            row = {}
            for head, cell in line.items():
                name, _, unit = head.partition(" [")
                row[name] = f"{cell} {unit.rstrip(']')}" if unit and cell else cell
            rows[row["mark"]] = row
    return raw, rows


def same(shown, stated):
    """A control may write 0.20 as 0.2, and 15 mm where the file has 15 and a unit in its head."""
    shown, stated = str(shown), str(stated)
    if shown == stated:
        return True
    try:
        return parse_number(shown) == parse_number(stated)
    except UnitError:
        pass
    try:
        return parse_quantity(shown, "mm").to("mm") == parse_quantity(stated, "mm").to("mm")
    except UnitError:
        return False


def holds(panel, stated):
    """Every control of a panel, none forgotten, says what is stated."""
    controls = {
        name: field
        for name, field in panel.fields.items()
        if isinstance(field, (widgets.Text, widgets.Textarea, widgets.Dropdown))
    }
    assert set(controls) == set(stated), "a control that this test does not know"
    wrong = {
        name: (field.value, stated[name])
        for name, field in controls.items()
        if stated[name] is not RULE and not same(field.value, stated[name])
    }
    assert wrong == {}
    for field in panel.fields.values():
        if isinstance(field, widgets.FloatSlider):
            assert field.min <= field.value <= field.max


def choose(panel, mark):
    """Choose a bar group in a panel that has them."""
    name = next(name for name in ("group", "mark") if isinstance(panel.fields.get(name), widgets.Dropdown))
    panel.fields[name].value = mark


def test_dose(job, files):
    raw, rows = files
    kind = "stroke" if "stroke" in raw["equipment"] else "graduation"
    panel = DosePanel(job)
    for mark, row in rows.items():
        choose(panel, mark)
        own = row.get("overfill") or (RULE if raw["overfill"].get("rule", "share") != "share" else None)
        holds(
            panel,
            {name: row[name] for name in ("mark", "count", "bar", "hole_diameter", "embedment", "direction")}
            | {
                "group": mark,
                "units": raw["display"]["units"],
                "overdrill": RULE if "depth_to_tip" in row else row.get("overdrill", ""),
                "overfill": raw["overfill"]["share"] if own is None else own,
                "dispenser": kind,
                "dispense": raw["equipment"][kind],
                "injected": "",
            },
        )
        # what a rule found is the group's own overfill, as every other part has it
        assert panel.result.case.mark == mark


def spread(table, name):
    """A deviation as the file states it, word by word."""
    found = table.get(name, "")
    return found if isinstance(found, str) else ", ".join(f"{word} {found[word]}" for word in _WORDS if word in found)


def test_overfill(job, files):
    raw, rows = files
    scatter = raw.get("scatter", {})
    panel = OverfillPanel(job)
    for mark, row in rows.items():
        choose(panel, mark)
        own = scatter.get("group", {}).get(mark, {})
        table = {key: own.get(key, value) for key, value in scatter.items()} | own
        if "bit" in own:
            table.pop("hole_diameter", None)
        if "hole_diameter" in own:
            table.pop("bit", None)
        stated = {name: spread(table, name) for name in ("hole_diameter", "bar_mass", "voids", "dispenser")}
        holds(
            panel,
            stated
            | {
                "mark": mark,
                "bit": table.get("bit") or ("" if stated["hole_diameter"] else UNSTATED),
                "target": raw["overfill"].get("short_probability", 0.05),
                "overfill": row.get("overfill", ""),
            },
        )


def test_measured_holes(job, files):
    raw, rows = files
    panel = MeasuredPanel(job)
    for mark in rows:
        choose(panel, mark)
        told = raw.get("evidence", {}).get(mark, {})
        holds(
            panel,
            {
                "mark": mark,
                "file": told.get("file", ""),
                "volumes": "",
                "resolution": told.get("resolution", ""),
                "exclude": "; ".join(f"{hole}: {why}" for hole, why in told.get("excluded", {}).items()),
                "share": 1 - raw["overfill"].get("short_probability", 0.05),
                "confidence": raw["overfill"].get("confidence", 0.95),
            },
        )


def test_embedment(job, files):
    raw, rows = files
    design = raw["design"]
    panel = EmbedmentPanel(job)
    for mark, row in rows.items():
        choose(panel, mark)
        own = design.get("group", {}).get(mark, {})

        def of(*names, own=own):
            """The group's own value, else the one for all; force and force per length take each other's place."""
            tables = (own, design)
            return next((table[name] for table in tables for name in names if name in table), "")

        approval = design.get("approval", {}) | own.get("approval", {})
        factor = "k_b_pi" if design["code"] == "EN 1992-1-1:2023" else "k_b"
        holds(
            panel,
            {name: of(name) for name in ("bond", "cover", "spacing", "member_thickness", "surface")}
            | {
                "group": mark,
                "code": design["code"],
                "force": of("force_per_length", "force") if "force" not in own else own["force"],
                "concrete": of("f_c", "f_ck"),
                "embedment": row["embedment"],
                "bond_factor": approval.get(factor, ""),
                "alpha_lb": approval.get("alpha_lb", ""),
                "missing": RULE,  # a question, of which no file says anything
            },
        )


def test_plan_and_schedule(job, files):
    raw, rows = files
    site = raw.get("site")
    panel = PlanPanel(job)
    panel.finish()
    stated = dict.fromkeys(("crews", "drills", "batch", "way", "condition", "day"), "")
    if site is not None:
        stated |= {name: site.get(name, {"batch": 1}.get(name, 1)) for name in ("crews", "drills", "batch")}
        stated |= {"way": site["preparation"]["way"], "condition": site.get("hole_condition", "")}
        stated["day"] = site["date"].isoformat() if "date" in site else ""
    holds(
        panel,
        stated
        | {
            "temperature": raw["concrete"].get("temperature", "") if site is None else "",
            "pack": raw["equipment"]["pack_volume"],
            "reading": "between" if site and site.get("between_rows") else "safe",
        },
    )
    for point in () if site is None else site["temperature"]:
        assert f"{point['temperature']} at {point['at']}" in panel.fields["temperature"].placeholder
    for cells, row in zip(panel.grid.cells, rows.values(), strict=False):
        wrong = {name: cell.value for name, cell in cells.items() if not same(cell.value, row.get(name, ""))}
        assert wrong == {}, row["mark"]


@pytest.mark.parametrize("units", ["metric", "us"])  # the one states all three, the other none
def test_what_the_plan_is_asked_is_saved_and_read_again(units, tmp_path):
    shutil.copytree(demo_job(units).parent, tmp_path / "job")
    panel = PlanPanel(load_job(tmp_path / "job"))
    before = panel.job.path.read_text(encoding="utf-8")
    for name, value in (("reading", "between"), ("condition", "dry"), ("day", "2026-12-10")):
        panel.fields[name].value = value
    assert panel.message == ""
    panel.save.click()
    assert "Saved to" in panel.saved.value
    read = load_job(tmp_path / "job").site
    assert (read.between_rows, read.hole_condition, read.date.isoformat()) == (True, "dry", "2026-12-10")
    again = PlanPanel(load_job(tmp_path / "job"))
    assert [again.fields[name].value for name in ("reading", "condition", "day")] == ["between", "dry", "2026-12-10"]
    after = panel.job.path.read_text(encoding="utf-8")
    assert abs(len(after.splitlines()) - len(before.splitlines())) <= 4
