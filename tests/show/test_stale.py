"""A panel whose job's files were changed by somebody else says so, saves nothing over them, and reads them again."""

import shutil
from pathlib import Path

import pytest

from calc.files.job import demo_job
from calc.show.dose.panel import DosePanel
from calc.show.embedment.panel import EmbedmentPanel
from calc.show.evidence.panel import MeasuredPanel
from calc.show.overfill.panel import OverfillPanel
from calc.show.panel import CHANGED
from calc.show.plan.panel import PlanPanel
from calc.work.load import load_job

PANELS = (DosePanel, OverfillPanel, MeasuredPanel, EmbedmentPanel, PlanPanel)


@pytest.fixture
def folder(tmp_path):
    return Path(shutil.copytree(demo_job().parent, tmp_path / "job"))


def touch(panel):
    """Choose or type something in the first field that takes it, and bring it back."""
    name = next(name for name, field in panel.fields.items() if getattr(field, "value", None) is not None)
    panel._changed(name)


def inside(widget):
    """All widgets that a box shows."""
    return [one for child in getattr(widget, "children", ()) for one in (child, *inside(child))]


@pytest.mark.parametrize("kind", PANELS, ids=lambda kind: kind.__name__)
def test_files_changed_by_another_are_told_kept_and_read_again(folder, kind):
    panel = kind(load_job(folder))
    touch(panel)
    assert panel.stale.layout.display == "none"
    schedule = folder / "schedule.csv"
    changed = schedule.read_text(encoding="utf-8").replace("S1,96,", "S1,97,")
    schedule.write_text(changed, encoding="utf-8")
    touch(panel)
    assert panel.stale.layout.display == ""
    panel._save()
    assert CHANGED in panel.saved.value.replace("&#x27;", "'")
    assert schedule.read_text(encoding="utf-8") == changed
    shown = panel.widget
    panel.stale.click()
    assert panel.widget is shown
    assert panel.stale in inside(shown)
    assert panel.stale.layout.display == "none"
    assert panel.job.group("S1").count == 97
    assert not panel.message


def test_files_that_cannot_be_read_leave_the_panel_and_its_bar(folder):
    panel = DosePanel(load_job(folder))
    (folder / "schedule.csv").write_text("mark\n", encoding="utf-8")
    touch(panel)
    panel.stale.click()
    assert panel.stale.layout.display == ""
    assert panel.saved.value.count("Not read:") == 1
    assert panel.job.group("S1").count == 96


def test_a_panels_own_save_is_no_change_by_another(folder):
    panel = DosePanel(load_job(folder))
    panel.fields["embedment"].value = "115 mm"
    panel._save()
    assert "schedule.csv" in panel.saved.value
    assert load_job(folder).group("S1").embedment == 115.0
    touch(panel)
    assert panel.stale.layout.display == "none"
