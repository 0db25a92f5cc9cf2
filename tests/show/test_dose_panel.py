"""The panel: fields in, one call, result out; a wrong entry leaves a sentence and nothing else."""

import dataclasses
import shutil
from html import unescape

import pytest

from calc.base.units import convert
from calc.files.job import demo_job
from calc.show.dose import panel as panels
from calc.show.dose.panel import DosePanel
from calc.work.dose import case_of, work
from calc.work.load import load_job
from calc.work.overfill.work import choose
from calc.work.results import compute
from calc.work.whole import chosen_case


@pytest.fixture
def job(tmp_path):
    shutil.copytree(demo_job().parent, tmp_path / "job")
    return load_job(tmp_path / "job")


@pytest.fixture
def panel(job):
    return DosePanel(job)


def put(panel, **values):
    for name, value in values.items():
        panel.fields[name].value = value


def test_it_opens_with_the_first_group_worked_as_the_notebook_works_it(panel, job):
    for group, worked in zip(job.groups, compute(job).worked, strict=True):
        put(panel, group=group.mark)
        assert panel.result == worked, group.mark
        assert panel.message == ""
        assert panel.result.dispense_text in unescape(panel.output.value)
        assert panel.pictures[0].svg in panel.output.value


def test_one_update_is_one_call_with_what_the_fields_say(panel, monkeypatch):
    calls = []
    monkeypatch.setattr(panels, "work", lambda case: calls.append(case) or work(case))
    put(panel, hole_diameter="18 mm")
    assert [(case.mark, case.hole_diameter) for case in calls] == [("S1", 18.0)]
    assert str(calls[0].origin("hole_diameter")) == "typed in the panel"
    assert str(calls[0].origin("embedment")) == "schedule.csv row 2, embedment"
    put(panel, group="W4")
    assert len(calls) == 2


def test_other_values_give_another_result(panel):
    before, shown = panel.result, panel.output.value
    put(panel, embedment="4-1/2 in")
    assert panel.result.case.embedment == pytest.approx(114.3)
    assert panel.result.dose > before.dose
    assert panel.output.value != shown


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("hole_diameter", "16,5 mm", "Hole diameter: '16,5 mm' has a comma"),
        ("hole_diameter", "16", "has no unit"),
        ("hole_diameter", "8 mm", "is not larger than the bar"),
        ("embedment", "20 m", "Embedment: '20 m' is too large"),
        ("embedment", "-3 mm", "is negative"),
        ("embedment", "3 psi", "wrong kind of unit"),
        ("embedment", "nan mm", "nan"),
        ("overdrill", "soon", "Overdrill: 'soon'"),
        ("bar", "17", "Bar: '17' is not a bar of the tables"),
        ("bar", "<b>", "Bar: '<b>'"),
        ("count", "2.5", "is not a whole number"),
        ("overfill", "15 %", "Overfill: '15 %'"),
        ("overfill", "3", "too large"),
        ("dispense", "0 mL", "One graduation or stroke: '0 mL' is out of range"),
        ("dispense", "1 mm", "wrong kind of unit"),
        ("injected", "lots", "Injected instead: 'lots'"),
        ("mark", "x" * 41, "is too long"),
    ],
)
def test_a_wrong_entry_shows_a_sentence_in_place_of_the_result(panel, name, text, said):
    put(panel, **{name: text})
    assert said in panel.message
    assert panel.message.endswith(".")
    assert (panel.result, panel.pictures) == (None, ())
    assert said in unescape(panel.output.value)
    assert "<svg" not in panel.output.value
    assert "<b>'" not in panel.output.value
    put(panel, group="W4")
    assert (panel.result is None) == (name in ("dispense", "injected"))


def test_units_change_what_is_shown_and_no_volume(panel):
    metric = panel.result
    put(panel, units="us")
    assert (panel.result.required, panel.result.rounded) == (metric.required, metric.rounded)
    assert f"{convert(metric.rounded, 'mm³', 'fl oz'):.4g} fl oz" in panel.output.value
    # The dispenser is marked in mL, whatever the page is in: its setting leads, and nothing else is in mL.
    said = panel.output.value.split("<svg")[0]
    assert f"{convert(metric.rounded, 'mm³', 'mL'):.4g} mL (" in said
    assert said.count(" mL") == 1
    assert "[in or mm], up to 196.9 in" in panel.fields["embedment"].description
    put(panel, hole_diameter=f"{12 / 25.4!r} in", embedment=f"{110 / 25.4!r} in")
    assert panel.result.required == pytest.approx(metric.required, rel=1e-12)


def test_slider_and_text_follow_each_other(panel):
    put(panel, overfill_slider=0.35)
    assert panel.fields["overfill"].value == "0.35"
    assert panel.result.case.overfill == 0.35
    put(panel, overfill="1/8")
    assert panel.fields["overfill_slider"].value == 0.125
    assert panel.result.case.overfill == 0.125
    put(panel, overfill="rule")
    plain = dataclasses.replace(panel.job.group("S1"), overfill=None)
    assert panel.result.case.overfill == choose(panel.job, plain).share
    assert str(panel.result.case.origin("overfill")) == "job.toml, overfill.rule"


def test_strokes(panel):
    put(panel, dispenser="stroke", dispense="4 mL")
    assert panel.result.strokes == 3
    assert panel.result.dispense_text.startswith("3 strokes (12")
    assert panel.result.dispense_text in unescape(panel.output.value)


def test_what_was_injected_is_judged(panel):
    put(panel, injected="4 mL")
    assert "stays empty" in panel.pictures[0].alt
    assert "short" in panel.output.value
    assert panel.result.rounded == pytest.approx(9000)


def test_a_measured_hole_counts_until_its_sizes_are_changed(panel):
    put(panel, group="W3")
    assert panel.result.case.measured is not None
    put(panel, overfill="0.5")
    assert panel.result.case.measured is not None
    put(panel, hole_diameter="22 mm")
    assert panel.result.case.measured is None


def test_save_changes_a_row_and_says_where(panel, job):
    put(panel, group="W4", embedment="320 mm", dispenser="stroke", dispense="5 mL")
    panel.save.click()
    again = load_job(job.path)
    assert again.group("W4").embedment == 320
    assert again.group("W4").overfill is None
    assert (again.equipment.stroke, again.equipment.graduation) == (5000, None)
    assert [g.mark for g in again.groups] == [g.mark for g in job.groups]
    assert str(job.schedule_path) in unescape(panel.saved.value)
    assert panel.result.case == chosen_case(again, again.group("W4"))
    panel.save.click()
    assert "Nothing to save" in panel.saved.value


def test_save_adds_own_values_under_a_mark(panel, job):
    put(panel, group="", hole_diameter="14 mm")
    panel.save.click()
    assert "type a mark" in panel.saved.value
    put(panel, mark="N1", overfill="0.3")
    panel.save.click()
    new = load_job(job.path).group("N1")
    assert (new.hole_diameter, new.overfill, new.count) == (14, 0.3, 96)
    assert panel.fields["group"].value == "N1"


def test_save_writes_nothing_while_an_entry_is_wrong(panel, job):
    before = [path.read_bytes() for path in job.files]
    put(panel, embedment="20 m")
    panel.save.click()
    assert "Nothing was saved: Embedment: '20 m' is too large" in unescape(panel.saved.value)
    assert [path.read_bytes() for path in job.files] == before


def test_save_says_why_a_file_was_refused(panel, job, monkeypatch):
    monkeypatch.setattr(panel, "look", lambda: False)  # it is changed between the look and the writing
    job.schedule_path.write_text("mark,count\n", encoding="utf-8")
    put(panel, embedment="120 mm")
    panel.save.click()
    assert "Not saved: schedule.csv" in panel.saved.value


def test_the_panel_shows_itself_and_prints_nothing(panel, capsys):
    assert "application/vnd.jupyter.widget-view+json" in panel._repr_mimebundle_()
    put(panel, hole_diameter="x")
    put(panel, hole_diameter="14 mm")
    assert capsys.readouterr() == ("", "")


def test_us_job(tmp_path):
    shutil.copytree(demo_job("us").parent, tmp_path / "us")
    job = load_job(tmp_path / "us")
    panel = DosePanel(job)
    for group in job.groups:
        put(panel, group=group.mark)
        assert panel.result == work(case_of(job, group))


def test_the_demo_itself_is_never_written():
    from calc.files.job import demo_job
    from calc.work.load import load_job

    path = demo_job("metric")
    before = (path.read_bytes(), (path.parent / "schedule.csv").read_bytes())
    panel = DosePanel(load_job(path))
    panel.fields["embedment"].value = "130 mm"
    panel.save.click()
    assert "this is the demo" in panel.saved.value
    assert (path.read_bytes(), (path.parent / "schedule.csv").read_bytes()) == before
