"""The reviewer's panel: a package is chosen, followed, compared, asked and commented.

And no stale word stays on the screen.
"""

import json
import shutil

import pytest

from calc.package.manifest import open_package
from calc.review.panel import ReviewPanel
from calc.review.review import open_review, practice_pair


@pytest.fixture(scope="module")
def practice():
    return open_review("")


@pytest.fixture
def panel(practice):
    return ReviewPanel(practice)


@pytest.fixture
def mine(package):
    return ReviewPanel(open_review(package))


def shown(sheet):
    return sheet.output.value


def test_it_begins_with_the_verdict_and_the_largest_dose(panel):
    assert "Numbers: identical" in shown(panel.package)
    assert panel.walk.current == "01.B6.V_round"
    assert "<math" in shown(panel.walk)
    assert "<svg" in shown(panel.walk)
    assert panel.walk.fields["of"].value == "B6"


def test_buttons_go_back_to_the_inputs_and_forth_again(panel):
    def press(words):
        (button,) = [one for one in panel.walk.ways.children if words in one.description]
        button.click()

    press("from 01.B6.n_g")
    assert panel.walk.current == "01.B6.n_g"
    press("from 01.B6.V_dose")
    press("from 01.B6.V_req")
    press("from 01.B6.V_a")
    assert panel.walk.current == "01.B6.V_a"
    assert panel.walk.fields["result"].value == "01.B6.V_a"
    assert [field.value for field in panel.walk.inputs.children] == ["40 mm", "32 mm", "420 mm"]
    press("of 01.B6.V_req →")
    assert panel.walk.current == "01.B6.V_req"


def test_steps_of_every_kind_can_be_shown(panel):
    steps = panel.told().steps
    for mark, every in (("", 40), ("S1", 5), ("B6", 7)):
        panel.walk.fields["of"].value = mark
        for _, value in panel.walk.fields["result"].options[::every]:
            panel.walk.fields["result"].value = value
            assert panel.walk.message == ""
            assert ("This number is no step: " in shown(panel.walk)) == (value not in steps)


def test_a_step_is_worked_with_what_is_typed(panel):
    panel.walk.go("01.B6.V_a")
    hole = panel.walk.inputs.children[0]
    hole.value = "41 mm"
    assert "With d_0 = 41 mm: 216.72 mL in place of 190.00 mL" in shown(panel.walk)
    assert panel.walk.redone.step.shown == "216.72 mL"
    hole.value = "41"
    assert "No result" in shown(panel.walk)
    assert "d_0" in panel.walk.message
    assert panel.walk.redone is None
    assert "216.72" not in shown(panel.walk)
    hole.value = "40 mm"
    assert "the same value" in shown(panel.walk)


def test_another_package_and_one_that_is_none(panel, package, tmp_path):
    panel.package.fields["folder"].value = str(package)
    assert "T-1 revision A" in shown(panel.package)
    assert panel.walk.current == "01.P5.V_round"
    panel.package.fields["folder"].value = str(tmp_path / "nowhere")
    assert "does not exist" in shown(panel.package)
    for sheet in (panel.walk, panel.revisions, panel.question, panel.notes):
        assert "no package is open" in shown(sheet)
        assert "T-1" not in shown(sheet)
    assert panel.walk.inputs.children == ()
    panel.package.fields["folder"].value = ""
    assert panel.walk.current == "01.B6.V_round"


def test_a_tampered_package_is_told_and_not_followed(panel, package):
    (package / "doses.csv").write_bytes(b"x")
    panel.package.fields["folder"].value = str(package)
    assert "Numbers: tampered" in shown(panel.package)
    assert "cannot be followed" in shown(panel.walk)
    assert "No result" in shown(panel.question)


def test_two_revisions(panel, package):
    assert "2 inputs" in shown(panel.revisions)
    panel.revisions.fields["folder"].value = str(package / "nowhere")
    assert "does not exist" in shown(panel.revisions)
    assert panel.revisions.result is None
    panel.revisions.sheet.click()
    assert "Nothing was written" in panel.revisions.said.value
    panel.revisions.fields["folder"].value = str(practice_pair()[0])
    assert "W4, hole diameter: 25 mm → 28 mm" in shown(panel.revisions)
    panel.revisions.sheet.click()
    path = practice_pair()[1].parent / "DEMO-M1-A-to-B.pdf"
    assert str(path) in panel.revisions.said.value
    assert path.read_bytes().startswith(b"%PDF")
    path.unlink()


def test_without_another_revision_it_asks_for_one(mine):
    assert "Choose the revision" in shown(mine.revisions)


def test_what_would_change(mine, package):
    before = {path: path.read_bytes() for path in package.rglob("*") if path.is_file()}
    sheet = mine.question
    assert "Type another value" in shown(sheet)
    sheet.fields["key"].value = "P5, embedment"
    assert sheet.fields["value"].value == "360 mm"
    sheet.fields["value"].value = "400 mm"
    assert "P5, embedment: 360 mm → 400 mm" in shown(sheet)
    sheet.fields["value"].value = "40,0 mm"
    assert "No result" in shown(sheet)
    assert sheet.result is None
    sheet.fields["key"].value = "overfill.share"
    assert "Type another value" in shown(sheet)
    sheet.fields["value"].value = "0.3"
    assert ": 0.1 → 0.3 (job.toml, overfill.share)" in shown(sheet)
    assert {path: path.read_bytes() for path in package.rglob("*") if path.is_file()} == before


def test_a_comment_is_written_beside_the_package(mine, package):
    notes = mine.notes
    assert "No comment yet" in shown(notes)
    notes.add.click()
    assert "Nothing was written" in notes.said.value
    assert not (package / "comments.json").exists()
    notes.here.click()
    assert notes.fields["about"].value == "01.P5.V_round"
    notes.fields["name"].value = "R. Viewer"
    notes.fields["text"].value = "Which drawing? <b>bold</b>"
    notes.add.click()
    (one,) = json.loads((package / "comments.json").read_text(encoding="utf-8"))["comments"]
    assert (one["about"], one["kind"], one["text"]) == ("01.P5.V_round", "question", "Which drawing? <b>bold</b>")
    assert "&lt;b&gt;bold" in shown(notes)
    assert "Open (1)" in shown(notes)
    assert notes.fields["text"].value == ""
    notes.fields["kind"].value, notes.fields["answers"].value, notes.fields["text"].value = "settled", "1", "Drawing 7."
    notes.add.click()
    assert "Open (" not in shown(notes)
    assert "All others (2)" in shown(notes)
    assert open_package(package).damage == ()


def test_what_a_package_says_is_shown_as_text(package, reseal):
    path = package / "results.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    nasty = "<img src=x onerror=alert(1)>"
    for step in content["sheets"][0]["steps"]:
        step |= {"label": nasty, "source": nasty, "shown": nasty, "latex": nasty, "notices": [nasty]}
        for one in step["inputs"]:
            one["origin"] = nasty if not one["origin"].startswith("step ") else one["origin"]
    path.write_text(json.dumps(content), encoding="utf-8")
    reseal(package)
    panel = ReviewPanel(open_review(package))
    for sheet in (panel.package, panel.walk, panel.revisions, panel.question, panel.notes):
        assert "<img" not in shown(sheet)
    assert "&lt;img" in shown(panel.walk)


def test_a_package_of_its_own_copy_is_left_as_it_was(practice, tmp_path):
    copy = shutil.copytree(practice.package.folder, tmp_path / "copy")
    panel = ReviewPanel(open_review(copy))
    panel.walk.go("01.B6.V_a")
    assert open_package(copy).damage == ()
    assert sorted(path.name for path in copy.iterdir()) == ["doses.csv", "inputs", "manifest.json", "results.json"]
