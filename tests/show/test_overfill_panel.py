"""The panel of overfill and waste.

One study for each scatter, none while the dose is dragged, sentences, and what is saved.
"""

import math
import re
import shutil
from html import unescape

import pytest

from calc.files.job import demo_job
from calc.show.overfill import panel as overfill_panel
from calc.show.overfill.panel import OverfillPanel, spread_of
from calc.work.load import load_job
from calc.work.overfill.work import OverfillWork, study
from calc.work.results import compute


@pytest.fixture
def job(tmp_path):
    shutil.copytree(demo_job().parent, tmp_path / "job")
    return load_job(tmp_path / "job")


@pytest.fixture
def panel(job):
    return OverfillPanel(job)


def put(panel, **values):
    for name, value in values.items():
        panel.fields[name].value = value


def large(panel):
    return [unescape(text) for text in re.findall(r'class="dp-dose">([^<]*)<', panel.output.value)]


def worked(job):
    return next(part for part in compute(job).parts if isinstance(part, OverfillWork))


def test_it_opens_with_the_job_as_the_notebook_works_it(panel, job):
    part = worked(job)
    for mark, group in part.groups.items():
        put(panel, mark=mark)
        assert panel.message == ""
        assert panel.share == group.choice.share
        assert panel.result == group
        assert large(panel)[0] == job.display.volume(group.dose)  # what is dispensed leads
        assert large(panel)[1] == f"{100 * group.rounded.share:.1f} %"


def test_one_study_for_each_scatter_and_none_while_the_dose_is_dragged(panel, monkeypatch):
    calls = []
    monkeypatch.setattr(overfill_panel, "study", lambda job, group: calls.append((job, group)) or study(job, group))
    put(panel, mark="S2")
    drawing = panel.drawing
    for share in (0.05, 0.10, 0.15, 0.20, 0.25):
        put(panel, overfill_slider=share)
        assert panel.fields["overfill"].value == f"{share:.3f}"
    assert len(calls) == 1
    assert panel.drawing is drawing
    put(panel, dispenser="mean 0.0, sd 0.02")
    put(panel, target="0.02")
    assert len(calls) == 3
    told, group = calls[-1]
    assert group.mark == "S2"
    assert told.overfill.short_probability == 0.02
    keys = told.scatter.of("S2")
    assert keys.spreads["dispenser"].numbers == (0.0, 0.02, False)
    assert keys.bit == "worn"
    assert keys.spreads["embedment"].numbers == (0.0, 2.0, False)  # what the panel does not show stays


def test_dragging_trades_short_holes_against_waste(panel):
    put(panel, mark="P5")
    short, waste, places = [], [], []
    for share in (0.05, 0.10, 0.15, 0.20):
        put(panel, overfill_slider=share)
        dose = math.ceil(panel.result.required * (1 + share) / 1000) * 1000  # the demo's dispenser gives whole mL
        said = large(panel)
        assert said[0] == panel.job.display.volume(dose)
        assert said[2] == overfill_panel.short_text(panel.result.probability_of(dose))
        short.append(float(said[2]))
        waste.append(float(said[3].removesuffix(" mL")))
        places.append(re.search(r'<circle cx="([\d.]+)"', panel.output.value)[1])
    assert short == sorted(short, reverse=True)
    assert waste == sorted(waste)
    assert len(set(places)) == 4
    assert panel.output.value.count("<svg") == 1


def test_bit_and_typed_diameter_take_turns(panel):
    put(panel, mark="S2", hole_diameter="mean 0.3 mm, sd 0.1 mm")
    assert panel.fields["bit"].value == ""
    assert panel.result.scatter.inputs["d_0"].std() == pytest.approx(0.1)
    put(panel, bit="new")
    assert panel.fields["hole_diameter"].value == ""
    assert panel.result.scatter.inputs["d_0"].mean() == pytest.approx(16.475)


def test_what_the_job_lets_vary_can_be_told_not_to(panel):
    still = "mean 0, sd 0"
    put(panel, mark="S2", hole_diameter="mean 0 mm, sd 0 mm", bar_mass=still, voids=still, dispenser=still)
    assert "Scatter of the hole's diameter is left out for S2" in unescape(panel.output.value)
    inputs = panel.result.scatter.inputs
    assert (inputs["d_0"], inputs["mass_deviation"], inputs["voids"], inputs["repeat"]) == (16.0, 0.0, 0.0, 0.0)
    assert inputs["l_v"].std() == pytest.approx(2.0)


def test_clearing_the_deviation_of_the_hole_brings_the_bit_back(panel, job):
    put(panel, mark="S2")
    before, shown = panel.result, large(panel)
    put(panel, hole_diameter="mean 0.3 mm, sd 0.1 mm")
    assert panel.fields["bit"].value == overfill_panel.TYPED
    assert panel.result != before
    put(panel, hole_diameter=" ")
    assert (panel.fields["bit"].value, panel.fields["hole_diameter"].value) == ("worn", "")
    assert (panel.result, large(panel)) == (before, shown)
    panel.save.click()
    assert "Nothing to save" in panel.saved.value
    assert load_job(job.path).scatter.of("S2").bit == "worn"


def test_as_typed_with_nothing_typed_is_refused(panel, job):
    before = job.path.read_bytes()
    put(panel, mark="S2", bit=overfill_panel.TYPED)
    assert (
        "Hole diameter, deviation: the field is empty, and 'as typed below' is chosen; accepted: mean" in panel.message
    )
    assert panel.result is None
    panel.save.click()
    assert "Nothing was saved" in panel.saved.value
    assert job.path.read_bytes() == before
    put(panel, hole_diameter="mean 0.3 mm, sd 0.1 mm")
    assert panel.message == ""


def test_a_job_that_says_nothing_of_the_hole_opens_with_a_caution(job):
    text = job.path.read_text(encoding="utf-8")
    job.path.write_text(re.sub(r'(?m)^bit = "(medium|worn)".*$', "", text), encoding="utf-8")
    panel = OverfillPanel(load_job(job.path))
    assert panel.fields["bit"].value == overfill_panel.UNSTATED
    assert panel.message == ""
    assert f"Scatter of the hole's diameter is left out for {panel.group.mark}" in unescape(panel.output.value)
    put(panel, bit="new")
    assert "is left out" not in unescape(panel.output.value)


def test_the_word_rule_takes_the_overfill_of_the_rule(panel):
    put(panel, mark="S1", overfill="rule")
    least = next(option.share for option in panel.result.options if option.rule == "probability")
    assert panel.share == least != 0.20
    put(panel, target="0.01")
    assert panel.share > least


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"hole_diameter": "mean 0,3 mm, sd 0.1 mm"}, "Hole diameter, deviation: '0,3 mm' has a comma"),
        ({"hole_diameter": "mean 0.3, sd 0.1"}, "Hole diameter, deviation: '0.3' has no unit"),
        ({"hole_diameter": "mean 0.3 mm, sd 0.1 mL"}, "Hole diameter, deviation: '0.1 mL'"),
        ({"hole_diameter": "low 0.3 mm, high 0.1 mm"}, "Hole diameter, deviation: the limits are reversed"),
        ({"hole_diameter": "mean 0.3 mm, sd -0.1 mm"}, "Hole diameter, deviation: '-0.1 mm' is out of range"),
        ({"hole_diameter": "mean 0.3 mm"}, "give mean and sd, or low and high, here mean given"),
        ({"hole_diameter": "mean 0.3 mm, mean 0.3 mm"}, "cannot be read; accepted: mean"),
        ({"hole_diameter": "<b>wide</b>"}, "Hole diameter, deviation: '<b>wide</b>' cannot be read"),
        (
            {"hole_diameter": "mean -4 mm, sd 0.1 mm"},
            "Hole diameter, deviation: with this scatter the bar is thicker than its hole with probability 0.5",
        ),
        ({"bar_mass": "normal"}, "Bar mass, deviation: 'normal' cannot be read"),
        ({"bar_mass": "low -0.9, high 0"}, "Bar mass, deviation: '-0.9' is out of range"),
        ({"voids": "standard"}, "Loss into voids: 'standard' cannot be read"),
        ({"voids": "low 0, high 2 %"}, "Loss into voids: "),
        ({"voids": "low -0.1, high 0.1"}, "the loss into voids ('voids') cannot be below 0"),
        ({"dispenser": "mean 0, sd nan"}, "Dispenser: "),
        ({"target": "1"}, "Short holes accepted: '1' is out of range"),
        ({"target": "0,05"}, "Short holes accepted: '0,05' has a comma"),
        ({"overfill": "15 %"}, "Overfill: '15 %'"),
        ({"overfill": "2.1"}, "Overfill: '2.1' is out of range"),
        ({"overfill": "-0.1"}, "Overfill: '-0.1' is out of range"),
    ],
)
def test_a_wrong_entry_shows_a_sentence_in_place_of_the_result(panel, values, said):
    put(panel, mark="S2")
    put(panel, **values)
    assert said in panel.message
    assert panel.message.endswith(".")
    assert (panel.result, panel.share, panel.drawing) == (None, None, None)
    assert said in unescape(panel.output.value)
    assert "<svg" not in panel.output.value
    assert "<b>wide" not in panel.output.value
    put(panel, mark="B6")
    assert panel.result is not None


def test_an_inch_size_has_no_bit(tmp_path):
    panel = OverfillPanel(load_job(demo_job("us")))
    put(panel, bit="new")
    assert "a 15.875 mm bit is not in the table" in panel.message
    put(panel, bit="", hole_diameter="mean 0.004 in, sd 0.002 in")
    assert panel.message == ""
    assert " mL" not in panel.output.value.split("<svg")[0]
    assert "stroke" in panel.output.value


def test_save_writes_what_differs_and_keeps_the_rest(panel, job):
    put(
        panel,
        mark="S2",
        bit="worn",
        voids="low 0.0, high 0.05",
        bar_mass="mean 0.0, sd 0.01",
        target="0.02",
        overfill="0.18",
    )
    panel.save.click()
    again = load_job(job.path)
    keys, others = again.scatter.of("S2"), again.scatter.of("W4")
    assert (keys.bit, others.bit) == ("worn", "medium")
    assert keys.spreads["voids"].numbers == (0.0, 0.05, True)
    assert keys.spreads["bar_mass"].numbers == (0.0, 0.01, False)
    assert others.spreads["voids"].numbers == (0.0, 0.02, True)
    assert keys.key_of("embedment") == "scatter.embedment"
    assert again.overfill.short_probability == 0.02
    assert again.group("S2").overfill == 0.18
    said = unescape(panel.saved.value)
    assert str(job.path) in said
    assert str(job.schedule_path) in said
    assert "# The bars for B6 were weighed" in job.path.read_text(encoding="utf-8")  # comments stay
    assert worked(again).groups["S2"] == panel.result
    panel.save.click()
    assert "Nothing to save" in panel.saved.value


def test_a_group_with_keys_of_its_own_can_change_their_form(panel, job):
    put(panel, mark="B6", bar_mass="standard", hole_diameter="low 0.1 mm, high 0.3 mm", overfill="rule")
    panel.save.click()
    again = load_job(job.path)
    keys = again.scatter.of("B6")
    assert keys.bit is None
    assert keys.spreads["hole_diameter"].numbers == (0.1, 0.3, True)
    assert keys.spreads["bar_mass"].standard
    assert again.group("B6").overfill is None
    put(panel, bar_mass="mean 0.0, sd 0.008", bit="worn", overfill="0.10")
    panel.save.click()
    back = load_job(job.path)
    assert back.scatter.of("B6").spreads["bar_mass"].numbers == (0.0, 0.008, False)
    assert back.scatter.of("B6").bit == "worn"


def test_a_job_without_scatter_gets_its_first_table(job):
    text = job.path.read_text(encoding="utf-8")
    start, end = text.index("[scatter]"), text.index("[evidence.S2]")
    text = text[:start] + text[end:]
    job.path.write_text(text.replace('rule = "probability"', 'rule = "share"'), encoding="utf-8")
    panel = OverfillPanel(load_job(job.path))
    assert panel.message.startswith("Nothing varies yet")
    panel.save.click()
    assert "Nothing was saved" in panel.saved.value
    put(panel, bit="medium", dispenser="mean 0.0, sd 0.01")
    assert panel.message == ""
    panel.save.click()
    again = load_job(job.path)
    assert again.scatter.bit == "medium"
    assert again.scatter.of("P5").spreads["dispenser"].numbers == (0.0, 0.01, False)


def test_save_writes_nothing_while_an_entry_is_wrong(panel, job):
    before = sorted((path.name, path.read_bytes()) for path in job.folder.iterdir())
    put(panel, mark="S2", voids="lots")
    panel.save.click()
    assert "Nothing was saved: Loss into voids" in unescape(panel.saved.value)
    assert sorted((path.name, path.read_bytes()) for path in job.folder.iterdir()) == before


def test_the_demo_itself_is_never_written():
    path = demo_job("metric")
    before = sorted((file.name, file.read_bytes()) for file in path.parent.iterdir())
    panel = OverfillPanel(load_job(path))
    put(panel, mark="S2", overfill="0.3")
    panel.save.click()
    assert "this is the demo" in panel.saved.value
    assert sorted((file.name, file.read_bytes()) for file in path.parent.iterdir()) == before


def test_readers():
    assert spread_of("", "voids") is None
    assert spread_of("standard", "bar_mass") == "standard"
    assert spread_of("mean 0.3 mm, sd 1/64 in", "hole_diameter") == {"mean": "0.3 mm", "sd": "1/64 in"}


def test_a_mark_with_a_dot_is_saved(job):
    for path in (job.path, job.schedule_path):
        path.write_text(
            path.read_text(encoding="utf-8")
            .replace("W3", "W3.1")
            .replace("[measured.W3.1]", '[measured."W3.1"]')
            .replace(".group.W3.1]", '.group."W3.1"]'),
            encoding="utf-8",
        )
    path = job.path
    panel = OverfillPanel(load_job(path))
    put(panel, mark="W3.1", voids="mean 0.01, sd 0.002")
    panel.save.click()
    assert load_job(path).scatter.group["W3.1"].voids is not None
