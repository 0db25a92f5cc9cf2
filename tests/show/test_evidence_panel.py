"""The panel of measured holes.

One call for what the fields say, a sentence for what cannot be, evidence and overfill saved.
"""

import csv
import shutil
from html import unescape

import pytest

from calc.files.job import demo_job
from calc.show.evidence import panel as measured_panel
from calc.show.evidence.panel import MeasuredPanel, reasons_of, volumes_of
from calc.work.evidence import overfill_text, study, up_to_tenth, work_measured
from calc.work.load import load_job
from calc.work.results import compute

PASTED = "14.2 mL, 13.9 mL, 14.4 mL, 14.1 mL, 15.0 mL"
WIDER = [f"{40 + 0.1 * (7 * i % 11):.1f}" for i in range(15)]  # mL, enough holes for 95 % at 95 %


@pytest.fixture
def job(tmp_path):
    shutil.copytree(demo_job().parent, tmp_path / "job")
    return load_job(tmp_path / "job")


@pytest.fixture
def panel(job):
    return MeasuredPanel(job)


def put(panel, **values):
    for name, value in values.items():
        panel.fields[name].value = value


def measured(path):
    job = load_job(path)
    return work_measured(job, compute(job).worked).groups


def test_it_opens_with_the_measured_group_as_the_notebook_works_it(panel, job):
    group = measured(job.path)["S2"]
    assert (panel.mark, panel.fields["file"].value, panel.message) == ("S2", "measurements.csv", "")
    assert panel.result == group.study
    assert overfill_text(group.overfill) in panel.output.value
    assert all(picture.svg in panel.output.value for picture in panel.pictures)
    assert len(panel.pictures) == 3


def test_one_update_is_one_call_with_what_the_fields_say(panel, monkeypatch):
    calls = []
    monkeypatch.setattr(measured_panel, "study", lambda **given: calls.append(given) or study(**given))
    put(panel, share="0.99")
    put(panel, confidence="0.90")
    put(panel, exclude="19: ran into a drain")
    assert [(c["share"], c["confidence"], c["reasons"]) for c in calls] == [
        (0.99, 0.95, {}),
        (0.99, 0.9, {}),
        (0.99, 0.9, {"19": "ran into a drain"}),
    ]
    put(panel, volumes=PASTED)
    assert calls[-1]["values"] == (14.2, 13.9, 14.4, 14.1, 15.0)


def test_a_larger_share_asks_for_more(panel):
    before, shown = panel.result.overfill, panel.output.value
    put(panel, share="0.99")
    assert panel.result.overfill > before
    assert panel.output.value != shown
    assert panel.fields["share_slider"].value == 0.99
    put(panel, share_slider=0.9)
    assert panel.fields["share"].value == "0.9"
    assert panel.result.overfill < before


def test_file_and_volumes_take_turns(panel):
    put(panel, exclude="", volumes=PASTED)
    assert panel.fields["file"].value == ""
    assert panel.result.n == 5
    put(panel, file="measurements.csv")
    assert panel.fields["volumes"].value == ""
    assert panel.result.n == 30


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"volumes": "14.2 mL"}, "one weighed hole tells nothing about scatter"),
        ({"volumes": "14,2 mL, 13.9 mL"}, "Volumes, number 1: '14,2' has a comma"),
        ({"volumes": "14.2 mL, 13.9"}, "Volumes, number 2: '13.9' has no unit"),
        ({"volumes": "14.2 mL, 13.9 mm"}, "Volumes, number 2"),
        ({"volumes": "14.2 mL, -1 mL"}, "'-1 mL' is out of range"),
        ({"volumes": "14.2 mL;; 13.9 mL"}, "Volumes, number 2"),
        ({"volumes": "<b>lots</b>"}, "'<b>lots</b>'"),
        ({"file": "none.csv"}, "none.csv"),
        ({"mark": "W3"}, "There is nothing to look at yet"),
        ({"mark": "W3", "file": "measurements.csv"}, "holds no measured hole of 'W3'"),
        ({"share": "1"}, "Share of holes that are full: '1' is out of range"),
        ({"share": "95 %"}, "Share of holes that are full: '95 %'"),
        ({"share": "0,95"}, "'0,95' has a comma"),
        ({"confidence": "nan"}, "Confidence: "),
        ({"exclude": "19"}, "Leave out: '19' gives no reason"),
        ({"exclude": "99: spilled"}, "no measured hole is named '99'"),
        ({"exclude": "1: a; 1: b"}, "hole 1 is there twice"),
    ],
)
def test_a_wrong_entry_shows_a_sentence_in_place_of_the_result(panel, values, said):
    put(panel, **values)
    assert said in panel.message
    assert panel.message.endswith(".")
    assert (panel.result, panel.pictures) == (None, ())
    assert said in unescape(panel.output.value)
    assert "<svg" not in panel.output.value
    assert "<b>lots" not in panel.output.value
    put(panel, mark="B6")
    put(panel, mark="S2", share="0.95", exclude="")
    assert panel.result is not None


def test_a_bad_file_tells_row_and_column(panel, job):
    path = job.folder / "measurements.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("3,S2,14.1", '3,S2,"14,1"'), encoding="utf-8")
    put(panel, share="0.9")
    assert "measurements.csv, row 4, column volume: '14,1'" in panel.message


def test_save_writes_evidence_and_the_overfill_with_its_reason(panel, job):
    put(panel, share="0.99", exclude="19: ran into a drain")
    asked = up_to_tenth(panel.result.overfill)
    panel.save.click()
    again = load_job(job.path)
    evidence = again.evidence["S2"]
    assert (evidence.holes, dict(evidence.excluded), evidence.file) == (
        29,
        {"19": "ran into a drain"},
        "measurements.csv",
    )
    assert again.group("S2").overfill == asked
    assert evidence.note.startswith("First thirty holes of the approach slab (invented); Overfill ")
    assert "99 % of the holes with confidence 95 %" in evidence.note
    assert measured(job.path)["S2"].differences == ()
    said = unescape(panel.saved.value)
    assert str(job.path) in said
    assert str(job.schedule_path) in said
    assert "judge by the job file: 95 %, 95 %" in said
    assert "# hole 19 took much more" in job.path.read_text(encoding="utf-8")  # comments stay
    # Saved again without the reason: the hole is back, and the note has one reason.
    put(panel, exclude="none", share="0.95")
    panel.save.click()
    back = load_job(job.path).evidence["S2"]
    assert (back.holes, dict(back.excluded)) == (30, {})
    assert back.note.count("Overfill") == 1


def test_typed_volumes_are_kept_in_a_file_of_their_own(panel, job):
    put(panel, mark="W3", volumes=" mL, ".join(WIDER) + " mL")
    assert panel.result.resolution == 0.1
    panel.save.click()
    assert "Saved to" in panel.saved.value
    again = load_job(job.path)
    assert again.evidence["W3"].file == "measured-W3.csv"
    rows = list(csv.DictReader((job.folder / "measured-W3.csv").open(encoding="utf-8")))
    assert [(row["mark"], float(row["volume [mL]"])) for row in rows] == [("W3", float(one)) for one in WIDER]
    assert again.evidence["W3"].resolution == 100.0
    group = measured(job.path)["W3"]
    assert group.differences == ()
    assert group.n == 15
    assert panel.fields["file"].value == "measured-W3.csv"
    assert panel.result == group.study
    put(panel, volumes=" mL, ".join(WIDER) + " mL, 40.2 mL")
    panel.save.click()
    assert load_job(job.path).evidence["W3"].file == "measured-W3-2.csv"


def test_three_equal_readings_are_not_enough_holes(panel, job):
    before = sorted((path.name, path.read_bytes()) for path in job.folder.iterdir())
    put(panel, volumes="14 mL, 14 mL, 14 mL")
    assert (panel.message, panel.result.resolution) == ("", 1.0)
    assert "not enough holes" in panel.output.value
    assert "takes 14 or more" in panel.output.value
    assert "Volume for each hole" not in panel.output.value
    with pytest.raises(AssertionError, match="not enough holes"):
        _ = panel.result.overfill
    dose = panel.pictures[0]
    assert dose.alt.startswith("By measured holes of S2 no dose can be named: not enough holes: 3 are measured")
    assert not any("overfill" in text for name, text in dose.numbers if name != "rounded dose")
    panel.save.click()
    assert "Nothing was saved: not enough holes: 3 are measured" in panel.saved.value
    assert sorted((path.name, path.read_bytes()) for path in job.folder.iterdir()) == before


def test_the_resolution_widens_the_scatter_and_belongs_to_its_holes(panel, job):
    before = panel.result.overfill
    put(panel, resolution="2 mL")
    assert panel.result.overfill > before
    put(panel, resolution="0.5 in")
    assert "Resolution of a reading: '0.5 in' has the wrong kind of unit" in panel.message
    put(panel, resolution="2 mL")
    panel.save.click()
    assert load_job(job.path).evidence["S2"].resolution == 2000.0
    # Volumes of other holes are read with their own last digit, and the note about thirty holes does not stay over
    # them.
    put(panel, volumes=" mL, ".join(WIDER) + " mL")
    assert (panel.fields["resolution"].value, panel.result.resolution) == ("", 0.1)
    put(panel, volumes="")
    assert (panel.fields["resolution"].value, panel.result.resolution) == ("2 mL", 2.0)
    put(panel, volumes=" mL, ".join(WIDER) + " mL")
    panel.save.click()
    evidence = load_job(job.path).evidence["S2"]
    assert (evidence.holes, evidence.resolution) == (15, 100.0)
    assert "thirty" not in evidence.note
    assert evidence.note.startswith("Overfill ")


def test_another_file_of_the_folder_can_be_named(panel, job):
    shutil.copyfile(job.folder / "measurements.csv", job.folder / "again.csv")
    put(panel, file="again.csv")
    panel.save.click()
    assert load_job(job.path).evidence["S2"].file == "again.csv"


def test_a_file_outside_the_folder_is_looked_at_but_not_saved(panel, job, tmp_path):
    shutil.copyfile(job.folder / "measurements.csv", tmp_path / "outside.csv")
    before = [path.read_bytes() for path in job.files]
    put(panel, file="../outside.csv")
    assert panel.result.n == 30
    panel.save.click()
    assert "Not saved" in panel.saved.value
    assert [path.read_bytes() for path in job.files] == before


def test_save_writes_nothing_while_an_entry_is_wrong(panel, job):
    before = sorted((path.name, path.read_bytes()) for path in job.folder.iterdir())
    put(panel, volumes="14.2 mL, lots")
    panel.save.click()
    assert "Nothing was saved: Volumes, number 2" in unescape(panel.saved.value)
    put(panel, volumes=PASTED, exclude="2.1: spilled")
    panel.save.click()
    assert "Nothing was saved" in panel.saved.value
    assert sorted((path.name, path.read_bytes()) for path in job.folder.iterdir()) == before


def test_the_demo_itself_is_never_written():
    path = demo_job("metric")
    before = sorted((file.name, file.read_bytes()) for file in path.parent.iterdir())
    panel = MeasuredPanel(load_job(path))
    put(panel, volumes=PASTED)
    panel.save.click()
    assert "this is the demo" in panel.saved.value
    assert sorted((file.name, file.read_bytes()) for file in path.parent.iterdir()) == before


def test_a_us_job_shows_its_own_units(tmp_path):
    shutil.copytree(demo_job("us").parent, tmp_path / "us")
    job = load_job(tmp_path / "us")
    panel = MeasuredPanel(job)
    put(
        panel,
        mark=job.groups[0].mark,
        volumes="0.95 in³, 15.9 mL, 0.99 in³, " + ", ".join(["0.96 in³", "0.97 in³"] * 6),
    )
    assert panel.result.unit == "fl oz"
    assert " mL" not in panel.output.value.split("<svg")[0]
    panel.save.click()
    assert measured(job.path)[job.groups[0].mark].differences == ()


def test_readers():
    assert volumes_of("14.2 mL\n13.9 mL;1 in³,14 mL,") == pytest.approx((14200.0, 13900.0, 25.4**3, 14000.0))
    assert reasons_of("") == reasons_of("none") == {}
    assert reasons_of("19: ran into a void: deep; A 7: spilled;") == {"19": "ran into a void: deep", "A 7": "spilled"}


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
    panel = MeasuredPanel(load_job(path))
    put(panel, mark="W3.1", volumes=" mL, ".join(WIDER) + " mL")
    panel.save.click()
    assert load_job(path).evidence["W3.1"].file is not None
