"""Two revisions side by side: in words, as HTML and as JSON."""

import html.parser
import json
import shutil

import pytest

from calc.cli import main
from calc.package.manifest import PackageError
from calc.review.compare import Comparison, by, changes, compare

NASTY = "<script>alert(1)</script><img src=http://x.invalid/a>"


class Reader(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.words = [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture
def revised(package, tmp_path, edit, recomputed):
    """The small job as revision B: another embedment, one group gone, one new, a title with markup."""
    folder = shutil.copytree(package, tmp_path / "b")
    schedule, job = folder / "inputs" / "schedule.csv", folder / "inputs" / "job.toml"
    edit(schedule, "25,32,360,", "25,32,380,")
    edit(schedule, "W4,40,20,25,300,20,horizontal,,\n", "")
    schedule.write_text(schedule.read_text(encoding="utf-8") + "X9,10,12,15,200,,down,,\n", encoding="utf-8")
    edit(job, 'revision = "A"', 'revision = "B"')
    edit(job, 'title = "A job for tests"', f"title = '{NASTY}'")
    recomputed(folder, revision="B")
    return folder


def test_a_package_against_itself(package):
    assert compare(package, package).summary == "Nothing changed: inputs and results are the same."


def test_what_changed_in_words(package, revised):
    found = compare(package, revised)
    inputs = [one.words for one in found.inputs]
    assert "schedule, row P5, embedment: 360 mm → 380 mm" in inputs
    assert "job.toml, job.revision: A → B" in inputs
    assert any(line.startswith("schedule, row W4: removed (count 40, bar 20") for line in inputs)
    assert any(line.startswith("schedule, row X9: added (count 10, bar 12") for line in inputs)
    what = {(change.kind, change.id): change.what for change in found.changes}
    assert what["step", "01.P5.V_a"] == "value"
    assert what["step", "01.W4.V_a"] == "removed"
    assert what["step", "01.X9.V_a"] == "added"
    assert (what["group", "W4"], what["group", "X9"], what["group", "P5"]) == ("removed", "added", "value")
    assert what["total", "dose_L"] == "value"
    # Rows that only moved are no change.
    assert not [name for _, name in what if "S1" in name]
    assert "1 group added and 1 removed" in found.summary


def test_numbers_are_those_of_the_packages(package, revised):
    old, new = (
        json.loads((folder / "results.json").read_text(encoding="utf-8"))["totals"]["dose_L"]
        for folder in (package, revised)
    )
    (change,) = [one for one in compare(package, revised).changes if (one.kind, one.id) == ("total", "dose_L")]
    (field,) = change.fields
    assert (field.before, field.after) == (old, new)
    assert field.relative == pytest.approx(new / old - 1, rel=1e-12)


def test_a_flipped_check_and_a_changed_formula(package, revised, reseal):
    content = json.loads((revised / "results.json").read_text(encoding="utf-8"))
    (sheet,) = [one for one in content["sheets"] if one["notebook"].startswith("01")]
    check = next(one for one in sheet["checks"] if one["verdict"] == "passes" and one["mark"] == "S1")
    check["verdict"], check["utilisation"] = "fails", 1.25
    step = next(one for one in sheet["steps"] if one["id"] == "01.S1.V_a")
    step["expression"] = "pi / 4 * d_0 ** 2 * l_v"
    (revised / "results.json").write_text(json.dumps(content), encoding="utf-8")
    reseal(revised)
    found = compare(package, revised)
    flipped = [change for change in found.changes if change.what == "flipped"]
    assert [change.id for change in flipped] == [check["id"]]
    assert "passes → FAILS" in flipped[0].words
    (formula,) = [change for change in found.changes if change.what == "formula"]
    assert formula.words.startswith("01.S1.V_a (")
    assert "→ pi / 4 * d_0 ** 2 * l_v" in formula.words
    assert "1 check flipped" in found.summary


def test_html_and_json(package, revised, tmp_path, capsys):
    page, data = tmp_path / "c.html", tmp_path / "c.json"
    assert main(["compare", str(package), str(revised), "--html", str(page), "--json", str(data)]) == 0
    said = capsys.readouterr().out
    assert "Groups (" in said
    text = page.read_text(encoding="utf-8")
    reader = Reader(text)
    assert not [tag for tag, _ in reader.tags if tag in ("script", "img", "link", "iframe", "a")]
    assert not [value for _, attributes in reader.tags for key, value in attributes.items() if key in ("src", "href")]
    assert NASTY in " ".join(reader.words)
    assert "default-src 'none'" in text
    content = json.loads(data.read_text(encoding="utf-8"))
    assert content["schema"] == 1
    assert {"file": "schedule", "place": "row P5, embedment", "before": "360 mm", "after": "380 mm"} in content[
        "inputs"
    ]
    assert len(content["changes"]) == len(compare(package, revised).changes)


def test_a_file_is_not_written_into_a_package(package, revised, capsys):
    assert main(["compare", str(package), str(revised), "--json", str(revised / "c.json")]) == 2
    assert "lies inside" in capsys.readouterr().err
    assert not (revised / "c.json").exists()


def test_a_changed_package_is_not_compared(package, revised):
    (revised / "doses.csv").write_text("x", encoding="utf-8")
    with pytest.raises(PackageError, match=r"doses\.csv: was changed"):
        compare(package, revised)


def test_other_input_files_are_compared_by_line(demo_copy, tmp_path, edit, reseal):
    """A note beside a measured hole is an input too."""
    other = shutil.copytree(demo_copy, tmp_path / "other")
    edit(other / "inputs" / "measurements.csv", "3,S2,14.1,,", "3,S2,14.1,,Invented note")
    reseal(other)
    found = compare(demo_copy, other)
    assert [one.words for one in found.inputs] == ["measurements.csv, line 4: 3,S2,14.1,, → 3,S2,14.1,,Invented note"]
    assert found.changes == ()


def test_the_summary_counts_what_came_and_what_went():
    def content(ids):
        return {
            "sheets": [{"notebook": "01", "steps": [{"id": one, "value": 1.0} for one in ids], "checks": []}],
            "groups": [],
            "totals": {},
        }

    def summary(before, after):
        return Comparison("a", "b", (), changes(content(before), content(after))).summary

    assert "1 step added and 2 removed" in summary(["x", "y", "z"], ["x", "w"])
    assert "0 steps added and 1 removed" in summary(["x", "y"], ["x"])
    assert summary(["x"], ["x"]).startswith("Nothing changed")


def test_a_groups_line_begins_with_its_dose(package, recomputed, edit, tmp_path):
    other = shutil.copytree(package, tmp_path / "other")
    edit(other / "inputs" / "schedule.csv", "P5,24,25,32,360", "P5,24,25,32,300")
    recomputed(other)
    line = next(line for line in dict(compare(package, other).sections())["Groups"] if line.startswith("P5"))
    assert line.startswith("P5: rounded_dose_mL: ")
    check = next(
        line for line in dict(compare(package, other).sections())["Checks"] if "P5" in line and "demand" in line
    )
    assert "[mL]" in check


def test_a_huge_change_is_written_without_an_exponent():
    assert by(153.2) == " (15320 % more)"
