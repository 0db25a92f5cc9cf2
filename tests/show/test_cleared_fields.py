"""Whoever types into a field, thinks again and clears it has changed nothing: every field of every panel that saves."""

import shutil

import ipywidgets as widgets
import pytest

from calc.files.job import demo_job
from calc.show.dose.panel import DosePanel
from calc.show.embedment.panel import EmbedmentPanel
from calc.show.evidence.panel import MeasuredPanel
from calc.show.overfill.panel import OverfillPanel
from calc.show.plan.panel import PlanPanel
from calc.work.load import load_job

# What is typed, for every text field; a field that is missing here fails the test.
METRIC = {
    DosePanel: {
        "mark": "X1",
        "count": "7",
        "bar": "10",
        "hole_diameter": "14 mm",
        "embedment": "120 mm",
        "overdrill": "5 mm",
        "overfill": "0.3",
        "dispense": "2 mL",
        "injected": "9 mL",
    },
    OverfillPanel: {
        "hole_diameter": "mean 0.3 mm, sd 0.1 mm",
        "bar_mass": "mean 0, sd 0.01",
        "voids": "low 0, high 0.05",
        "dispenser": "mean 0, sd 0.02",
        "target": "0.02",
        "overfill": "0.3",
    },
    MeasuredPanel: {
        "file": "other.csv",
        "volumes": "14.2 mL, 13.9 mL, 14.4 mL",
        "resolution": "0.5 mL",
        "exclude": "19: ran into a void",
        "share": "0.9",
        "confidence": "0.9",
    },
    EmbedmentPanel: {
        "force": "9 kN",
        "concrete": "25 MPa",
        "cover": "60 mm",
        "spacing": "180 mm",
        "member_thickness": "400 mm",
        "bond_factor": "0.9",
        "alpha_lb": "1.2",
        "embedment": "150 mm",
        "missing": "2 mL",
    },
    PlanPanel: {
        "temperature": "10 °C",
        "pack": "300 mL",
        "crews": "3",
        "drills": "1",
        "batch": "5",
        "day": "2026-12-04",
    },
}
US = {
    DosePanel: (
        METRIC[DosePanel]
        | {
            "bar": "#4",
            "hole_diameter": "5/8 in",
            "embedment": "6 in",
            "overdrill": "1/4 in",
            "dispense": "0.2 in³",
        }
    ),
    OverfillPanel: METRIC[OverfillPanel] | {"hole_diameter": "mean 0.003 in, sd 0.001 in"},
    EmbedmentPanel: METRIC[EmbedmentPanel] | {"force": "5 kip", "concrete": "4500 psi", "embedment": "11 in"},
}
CASES = [
    pytest.param(panel, units, typed, mark, id=f"{panel.__name__}, {units}, {mark}")
    for panel, units, typed, mark in [
        (DosePanel, "metric", METRIC, "S1"),  # with an overfill of its own
        (DosePanel, "metric", METRIC, "S2"),
        (OverfillPanel, "metric", METRIC, "S1"),
        (OverfillPanel, "metric", METRIC, "B6"),  # with scatter of its own
        (MeasuredPanel, "metric", METRIC, "S2"),
        (EmbedmentPanel, "metric", METRIC, "W4"),  # a joint
        (PlanPanel, "metric", METRIC, ""),
        (DosePanel, "us", US, "A8"),
        (OverfillPanel, "us", US, "A8"),
        (EmbedmentPanel, "us", US, "A8"),
    ]
]


def files(job):
    return {path.name: path.read_bytes() for path in sorted(job.folder.iterdir())}


def values(panel):
    return {name: field.value for name, field in panel.fields.items() if not name.endswith("_slider")}


def opened(panel, units, mark, folder):
    shutil.copytree(demo_job(units).parent, folder / "job")
    one = panel(load_job(folder / "job"))
    if mark:
        one.fields[
            next(name for name in ("mark", "group") if isinstance(one.fields.get(name), widgets.Dropdown))
        ].value = mark
    assert one.message == ""
    return one


@pytest.mark.parametrize(("panel", "units", "typed", "mark"), CASES)
def test_type_clear_save_changes_nothing(panel, units, typed, mark, tmp_path):
    one = opened(panel, units, mark, tmp_path)
    before = files(one.job)
    one.save.click()
    if panel is MeasuredPanel:  # what follows from the holes is taken over by saving; that is what its button is for
        before = files(one.job)
    assert files(one.job) == before
    texts = {
        name
        for name, field in one.fields.items()
        if isinstance(field, (widgets.Text, widgets.Textarea)) and not field.disabled
    }
    assert texts <= set(typed[panel]), "a field that this test does not know"
    for name in sorted(texts):
        shown = values(one)
        one.fields[name].value = typed[panel][name]
        assert one.fields[name].value == typed[panel][name] != shown[name]
        one.fields[name].value = ""
        one.save.click()
        assert files(one.job) == before, name
        if one.message == "":
            assert values(one) == shown, name
        one.fields[name].value = shown[name]


@pytest.mark.parametrize(("panel", "units", "typed", "mark"), CASES)
def test_choose_another_and_back_changes_nothing(panel, units, typed, mark, tmp_path):
    one = opened(panel, units, mark, tmp_path)
    if panel is MeasuredPanel:
        one.save.click()
    before = files(one.job)
    for name, field in one.fields.items():
        values = [value for _, value in field._options_full] if isinstance(field, widgets.Dropdown) else []
        if name in ("mark", "group") or field.disabled or len(values) < 2:
            continue
        chosen = field.value
        field.value = next(value for value in values if value != chosen)
        field.value = chosen
        one.save.click()
        assert files(one.job) == before, name


def test_a_cell_of_the_schedule_that_is_emptied_gets_its_text_back(tmp_path):
    grid = opened(PlanPanel, "metric", "", tmp_path).grid
    before = files(grid.job)
    for cells in grid.cells[: len(grid.job.groups)]:
        for name, cell in cells.items():
            if not isinstance(cell, widgets.Text) or cell.disabled:
                continue
            shown = cell.value
            cell.value = "3" if name != "note" else "another note"
            cell.value = ""
            assert cell.value == shown
    grid.write()
    assert files(grid.job) == before


def test_the_word_rule_in_the_schedule_takes_an_own_overfill_away(tmp_path):
    grid = opened(PlanPanel, "metric", "", tmp_path).grid
    index = next(i for i, group in enumerate(grid.job.groups) if group.overfill is not None)
    grid.cells[index]["overfill"].value = "rule"
    grid.write()
    assert load_job(grid.job.path).groups[index].overfill is None
