"""Two revisions side by side: by what things are and not where they stand; in words, as HTML, JSON and a sheet."""

import html.parser
import json
import shutil
import subprocess

import pytest

from calc.cli import main
from calc.files.job import demo_job
from calc.package.build import package_files
from calc.package.manifest import PackageError
from calc.review.compare import Comparison, changes, compare
from calc.review.compare.change import by
from calc.review.compare.inputs import table_of
from calc.review.compare.page import page_of, write_sheet
from calc.review.compare.tables import cell_changes
from calc.review.review import small_package
from calc.work.load import load_job
from calc.work.results import compute

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


def told(found, title):
    return dict(found.sections()).get(title, [])


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


def rebuilt(tmp_path_factory, units, *edits):
    """A demo as two small packages, before and after each edit of a file."""
    home = tmp_path_factory.mktemp("revisions")
    for revision in "AB":
        shutil.copytree(demo_job(units).parent, home / f"inputs-{revision}")
    for file, old, new in edits:
        path = home / "inputs-B" / file
        text = path.read_text(encoding="utf-8")
        assert old in text, old
        path.write_text(text.replace(old, new), encoding="utf-8")
    return [small_package(load_job(home / f"inputs-{revision}"), home / revision) for revision in "AB"]


@pytest.fixture(scope="module")
def six(tmp_path_factory):
    """The metric demo and a revision of it with six deliberate changes."""
    return rebuilt(
        tmp_path_factory,
        "metric",
        ("job.toml", 'revision = "A"', 'revision = "B"'),
        ("schedule.csv", "W4,40", "W8,40"),  # a group is called otherwise, and so is its table
        ("job.toml", "[design.group.W4]", "[design.group.W8]"),
        ("schedule.csv", "B6,12,32,40,420", "B6,12,32,40,440"),
        ("adhesive.toml", "expiry = 2027-10-31", "# expiry = 2027-10-31"),
        ("adhesive.toml", 'pack_temperature = { from = "6 °C", to = "34 °C" }', ""),  # a notice goes with it
        ("job.toml", 'f_ck = "30 MPa"', 'f_ck = "25 MPa"'),
        ("adhesive.toml", 'to = "22 °C", time = "20 min"', 'to = "22 °C", time = "16 min"'),
        ("schedule.csv", "B6,", "N7,30,12,16,160,,down,,,New row\nB6,"),
    )


@pytest.fixture(scope="module")
def found(six):
    return compare(*six)


def test_what_was_changed_on_purpose_stands_first(found):
    title, lines = found.sections()[0]
    assert title == "Changed on purpose"
    assert lines == [
        "1. Group, same bars, holes and depth: W4 is called W8 now (schedule.csv, W8)",
        "2. B6, embedment: 420 mm → 440 mm (schedule.csv row 8, embedment)",
        "3. Group N7: added (count 30, bar 12, hole diameter 16 mm, embedment 160 mm, direction down, note New row)"
        " (schedule.csv, N7)",
        "4. Characteristic cylinder strength of the old concrete (EN): 30 MPa → 25 MPa (job.toml, design.f_ck)",
        "5. Working time, 15 °C to 22 °C: 20 min → 16 min (adhesive.toml, working_time)",
        "6. Pack: lowest temperature: removed (6 °C) (adhesive.toml, pack_temperature.from)",
        "7. Pack: highest temperature: removed (34 °C) (adhesive.toml, pack_temperature.to)",
        "8. Last day on which the packs may be used: removed (2027-10-31) (adhesive.toml, expiry)",
        "9. Revision of this calculation: A → B (job.toml, job.revision)",
    ]


def test_a_group_that_is_called_otherwise_is_the_same_group(found):
    """Its dose is the same, and its strength is compared with that of the group as it was called."""
    own = [one for one in found.changes if one.mark == "W8"]
    assert own
    assert not {"V_a", "V_req", "V_dose", "V_round"} & {one.name for one in own if one.notebook == "01_dose_per_hole"}
    # No dose is enough with this concrete: that alone is gone.
    assert {one.name for one in own if one.what == "removed"} == {"u_max", "V_least"}
    assert not [one for one in found.changes if one.mark == "W4"]
    joint = next(one for one in own if one.id == "04.W8.f_ctm")
    assert joint.words == (
        "04.W8.f_ctm (Mean tensile strength): 2.8965 MPa → 2.5650 MPa (11.4 % less); f_ck 30 MPa → 25 MPa;"
        " follows from job.toml, design.f_ck"
    )


def test_what_follows_names_its_cause(six, found):
    lines = told(found, "Bar groups")
    assert [line.split(":")[0] for line in lines[:2]] == ["B6", "Group N7"]  # doses before all else
    assert "B6: rounded dose: 214 mL → 224 mL (4.67 % more); follows from no. 2" in lines
    assert "S1: required embedment: 100 mm → 102.46 mm (2.46 % more); follows from no. 4" in lines
    groups = json.loads((six[1] / "results.json").read_text(encoding="utf-8"))["groups"]
    dose = next(one["rounded_dose_mL"] for one in groups if one["mark"] == "N7")
    assert f"Group N7: added (rounded dose {dose:g} mL, count 30)" in lines
    assert not [line for line in lines if line.startswith("B6: embedment")]  # said above
    flipped = [one for one in found.changes if one.what == "flipped"]
    assert [one.id for one in flipped] == ["04.W8.embedment", "04.B6.embedment"]
    assert told(found, "Checks")[0].startswith(
        "W8 (ø20): embedment of the schedule, joint (EN 1992-1-1:2004): passes → FAILS; used 0.96 → 1.08; demand"
        " 285.03 mm → 321.87 mm"
    )
    steps = {one.id: one.because for one in found.changes if one.kind == "step"}
    assert steps["01.B6.V_round"] == ("schedule.csv row 8, embedment",)
    assert steps["04.B6.f_bd"] == ("job.toml, design.f_ck",)
    # A new group's steps say no more than that it is new.
    assert not [name for name in steps if ".N7." in name]


def test_notices_are_paired_by_what_they_are_about(found):
    lines = told(found, "Notices")
    assert (
        "Notice on pack temperature (05): dropped (Packs are to be between 6 °C and 34 °C when they are used"
        " (adhesive.toml); their temperature is not known here.)" in lines
    )
    assert (
        "Notice on working time (05): Working time 20 min with the concrete at 16 °C: row of the table for 15 to 22 °C."
        " → Working time 16 min with the concrete at 16 °C: row of the table for 15 to 22 °C." in lines
    )
    assert any(line.startswith("Notice on no force of N7 (04): added (N7: not designed") for line in lines)
    # Those of the group that is called otherwise are where they were.
    assert not [line for line in lines if "joint other side" in line or "strength from" in line]


def test_times_and_totals_are_written_as_people_write_them(found):
    lines = told(found, "Order and totals")
    assert any(line.startswith("Finish: 2026-12-04, ") and " → 2026-12-04, " in line for line in lines)
    assert not [line for line in lines if line.startswith("Finish h")]
    assert any(line.startswith("Working time: 20 min → 16 min") for line in lines)
    assert any(line.startswith("Crew hours: 20 h 22 min → ") for line in lines)
    assert any(line.startswith("Dose: 12.8 L → ") for line in lines)


def test_what_is_as_before_takes_one_line(six, found):
    (line,) = told(found, "As before")
    # What a new group brings is not as before, although only the group is told.
    sheet = json.loads((six[1] / "results.json").read_text(encoding="utf-8"))["sheets"][0]
    for kind, records in (("step", sheet["steps"] + sheet["found"]), ("check", sheet["checks"])):
        others = {one.id for one in found.changes if one.kind == kind and one.notebook == sheet["notebook"]}
        others &= {one["id"] for one in records}
        new = {one["id"] for one in records if one["mark"] == "N7"}
        assert len(new) > 1
        assert f"{kind}s: {len(records) - len(others | new)} of {len(records)} in 01" in line
    assert "notices: 2 of 2 in 01" in line
    assert "15 of 15 in 03" in line


def test_the_sheet_has_two_pages_at_most_and_all_that_was_changed_on_purpose(found, tmp_path):
    path = tmp_path / "sheet.pdf"
    assert write_sheet(found, path) <= 2
    text = " ".join(
        subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout.split()
    )
    assert "What changed from revision A" in text
    for number in range(1, 10):
        assert f" {number} " in text
    for word in ("W8", "440 mm", "N7", "25 MPa", "16 min", "FAILS", "dropped", "Signature"):
        assert word in text


def test_a_us_job_is_told_in_its_units(tmp_path_factory):
    one, other = rebuilt(
        tmp_path_factory,
        "us",
        ("schedule.csv", "A8,", "A8x,"),
        ("job.toml", "[design.group.A8", "[design.group.A8x"),
        ("job.toml", 'temperature = "54 °F"', 'temperature = "50 °F"'),
        ("job.toml", 'stroke = "0.5 fl oz"', 'stroke = "0.4 fl oz"'),
    )
    found = compare(one, other)
    first = told(found, "Changed on purpose")
    assert "Group, same bars, holes and depth: A8 is called A8x now" in first[0]
    assert any("0.5 fl oz → 0.4 fl oz" in line for line in first)
    doses = [one for one in found.changes if one.kind == "group" and one.name == "rounded_dose_mL"]
    assert doses
    assert {one.unit for one in doses} == {"fl oz"}
    assert all(one.before.endswith(" fl oz") and one.after.endswith(" fl oz") for one in doses)
    assert any(line.startswith("Strokes") or ": strokes:" in line for line in told(found, "Bar groups"))


def test_a_package_against_itself(package, capsys):
    found = compare(package, package)
    assert found.files > 3
    assert found.summary == f"Nothing changed: inputs, results and {found.files} files are the same."
    assert main(["compare", str(package), str(package)]) == 0
    assert "Changed on purpose" not in capsys.readouterr().out


def test_rows_in_another_order_are_no_other_groups(package, tmp_path, edit, recomputed):
    other = shutil.copytree(package, tmp_path / "other")
    schedule = other / "inputs" / "schedule.csv"
    head, *rows = schedule.read_text(encoding="utf-8").splitlines()
    schedule.write_text("\n".join([head, *rows[::-1]]) + "\n", encoding="utf-8")
    recomputed(other)
    found = compare(package, other)
    assert [one.words for one in found.inputs] == ["Order of the groups: S1, W4, P5 → P5, W4, S1"]
    # packs serve whole holes one after another, so what they are left with follows from the order of the work
    assert {one.where.split(" (")[0] for one in found.changes} <= {
        *("05.job.waste.rest", "05.job.waste.part_packs", "Waste rest", "Waste part packs"),
    }
    assert "doses.csv: the same rows in another order, or written otherwise" in told(found, "Documents")
    assert found.exit_code == 1


def test_rows_of_a_time_table_are_known_by_their_temperature(package, tmp_path, edit, recomputed):
    rows = '\nworking_time = [\n{ at = "5 °C", time = "40 min" },\n{ at = "20 °C", time = "20 min" },\n]\n'
    before, after = (shutil.copytree(package, tmp_path / name) for name in "ab")
    for folder, text in ((before, rows), (after, rows.replace("40", "45").replace("20 °C", "25 °C"))):
        record = folder / "inputs" / "adhesive.toml"
        record.write_text(record.read_text(encoding="utf-8") + text, encoding="utf-8")
        recomputed(folder)
    assert [one.words for one in compare(before, after).inputs] == [
        "Working time, 5 °C: 40 min → 45 min",
        "Working time, 20 °C: removed (20 min)",
        "Working time, 25 °C: added (20 min)",
    ]


def test_a_row_of_a_table_hides_no_other_content(package, tmp_path, recomputed, reseal):
    """Such a row has no key of its own, and neither has content that no input stands behind."""
    before, after = (shutil.copytree(package, tmp_path / name) for name in "ab")
    for folder, minutes in ((before, 40), (after, 45)):
        with (folder / "inputs" / "adhesive.toml").open("a", encoding="utf-8") as record:
            record.write(f'working_time = [{{ at = "20 °C", time = "{minutes} min" }}]\n')
        recomputed(folder)
    content = json.loads((after / "results.json").read_text(encoding="utf-8")) | {"note": "Rewritten"}
    (after / "results.json").write_text(json.dumps(content), encoding="utf-8")
    reseal(after)
    found = compare(before, after)
    assert [one.words for one in found.inputs] == ["Working time, 20 °C: 40 min → 45 min"]
    assert [one.id for one in found.changes if one.kind == "other"] == ["note"]


def test_what_is_dispensed_is_told_where_only_the_dose_moves(package, tmp_path, edit, recomputed):
    """Whether anybody at the hole changes anything is the first question."""
    before, after, more = (shutil.copytree(package, tmp_path / name) for name in "abc")
    for folder, stroke, share in ((before, "20 mL", "0.100"), (after, "20 mL", "0.101"), (more, "21 mL", "0.100")):
        edit(folder / "inputs" / "job.toml", 'graduation = "1 mL"', f'stroke = "{stroke}"')
        edit(folder / "inputs" / "job.toml", "share = 0.10", f"share = {share}")
        recomputed(folder)
    (line,) = [line for line in told(compare(before, after), "Bar groups") if line.startswith("P5: dose: ")]
    groups = json.loads((after / "results.json").read_text(encoding="utf-8"))["groups"]
    strokes = next(one["strokes"] for one in groups if one["mark"] == "P5")
    assert f"; dispensed: {strokes} strokes, as before" in line
    lines = [line for line in told(compare(before, more), "Bar groups") if "dispensed: " in line]
    assert any(line.startswith("P5: rounded dose: ") for line in lines)  # as many strokes, each of them larger


def test_a_check_that_fails_is_not_written_as_just_used_up(package, tmp_path, reseal):
    other = shutil.copytree(package, tmp_path / "other")
    content = json.loads((other / "results.json").read_text(encoding="utf-8"))
    check = content["sheets"][0]["checks"][0]
    check |= {"verdict": "fails", "utilisation": 1.0000004}
    (other / "results.json").write_text(json.dumps(content), encoding="utf-8")
    reseal(other)
    (flipped,) = [one for one in compare(package, other).changes if one.id == check["id"]]
    assert "passes → FAILS; used 0.78 → 1.01" in flipped.words


def test_an_input_that_is_a_link_within_the_job_keeps_its_name(package, tmp_path):
    inputs = shutil.copytree(package / "inputs", tmp_path / "inputs")
    (inputs / "kept").mkdir()
    (inputs / "schedule.csv").rename(inputs / "kept" / "one.csv")
    (inputs / "schedule.csv").symlink_to(inputs / "kept" / "one.csv")
    job = load_job(inputs)
    results = compute(job)
    small = small_package(job, tmp_path / "small")
    assert {name for name in package_files(job, results) if name.startswith("inputs/")} == {
        path.relative_to(small).as_posix() for path in (small / "inputs").rglob("*") if path.is_file()
    }


def test_a_table_with_a_quotation_mark_that_nothing_closes_is_lines():
    raw = b'a,"b\n' + b"c,d\n" * 60_000
    assert table_of(raw)[:2] == [('a,"b',), ("c,d",)]


def test_what_changed_in_words(package, revised):
    found = compare(package, revised)
    inputs = [one.words for one in found.inputs]
    assert "P5, embedment: 360 mm → 380 mm" in inputs
    assert "Revision of this calculation: A → B" in inputs
    assert any(line.startswith("Group W4: removed (count 40, bar 20") for line in inputs)
    assert any(line.startswith("Group X9: added (count 10, bar 12") for line in inputs)
    what = {(change.kind, change.id): change.what for change in found.changes}
    assert what["step", "01.P5.V_a"] == "value"
    assert (what["group", "W4"], what["group", "X9"], what["group", "P5"]) == ("removed", "added", "value")
    assert what["total", "dose_L"] == "value"
    # Rows that only moved are no change.
    assert not [name for _, name in what if "S1" in name]
    assert "1 bar group added, 1 bar group removed" in found.summary


def test_numbers_are_those_of_the_packages(package, revised):
    old, new = (
        json.loads((folder / "results.json").read_text(encoding="utf-8"))["totals"]["dose_L"]
        for folder in (package, revised)
    )
    (change,) = [one for one in compare(package, revised).changes if (one.kind, one.id) == ("total", "dose_L")]
    (field,) = change.fields
    assert (field.before, field.after) == (old, new)
    assert change.relative == field.relative == pytest.approx(new / old - 1, rel=1e-12)


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


def test_html_json_and_sheet(package, revised, tmp_path, capsys):
    page, data, sheet = tmp_path / "c.html", tmp_path / "c.json", tmp_path / "c.pdf"
    asked = ["--html", str(page), "--json", str(data), "--pdf", str(sheet)]
    assert main(["compare", str(package), str(revised), *asked]) == 1
    said = capsys.readouterr().out
    assert "Bar groups (" in said
    assert sheet.read_bytes().startswith(b"%PDF")
    text = page.read_text(encoding="utf-8")
    reader = Reader(text)
    assert not [tag for tag, _ in reader.tags if tag in ("script", "img", "link", "iframe", "a")]
    assert not [value for _, attributes in reader.tags for key, value in attributes.items() if key in ("src", "href")]
    assert NASTY in " ".join(reader.words)
    assert "default-src 'none'" in text
    found = compare(package, revised)
    assert text == page_of(found)
    content = json.loads(data.read_text(encoding="utf-8"))
    assert content["schema"] == 2
    (depth,) = [one for one in content["inputs"] if one["where"] == "P5, embedment"]
    assert (depth["before"], depth["after"], depth["what"]) == ("360 mm", "380 mm", "value")
    dose = next(one for one in content["changes"] if one["where"] == "P5: rounded dose")
    assert dose["because"] == [depth["id"]]
    assert dose["unit"] == "mL"
    assert len(content["changes"]) == len(found.changes)


def test_a_file_is_not_written_into_a_package(package, revised, capsys):
    for option in ("--json", "--html", "--pdf"):
        assert main(["compare", str(package), str(revised), option, str(revised / "c")]) == 2
        assert "lies inside" in capsys.readouterr().err
        assert not (revised / "c").exists()


def test_a_changed_package_is_not_compared(package, revised, capsys):
    (revised / "doses.csv").write_text("x", encoding="utf-8")
    with pytest.raises(PackageError, match=r"doses\.csv: was changed"):
        compare(package, revised)
    assert main(["compare", str(package), str(revised)]) == 2


def test_other_input_files_are_compared_by_row(demo_copy, tmp_path, edit, reseal):
    """A note beside a measured hole is an input too."""
    other = shutil.copytree(demo_copy, tmp_path / "other")
    edit(other / "inputs" / "measurements.csv", "3,S2,14.1,,", "3,S2,14.1,,Invented note")
    reseal(other)
    found = compare(demo_copy, other)
    assert [one.words for one in found.inputs] == ["measurements.csv, row 3, note: empty → Invented note"]
    assert found.changes == ()


# ---- documents ----


def test_a_document_that_was_exchanged_is_told_although_nothing_else_changed(demo_copy, tmp_path, reseal, edit):
    other = shutil.copytree(demo_copy, tmp_path / "other")
    shutil.copyfile(demo_copy / "lists" / "dose-list.pdf", other / "hand-check.pdf")
    edit(other / "doses.csv", "P5,24", "P5,25")
    reseal(other)
    found = compare(demo_copy, other)
    assert found.inputs == found.changes == ()
    assert found.exit_code == 1
    assert found.summary.startswith("Inputs and results are the same, but 2 documents differ: ")
    lines = dict(line.split(": ", 1) for line in told(found, "Documents"))
    assert lines["doses.csv"] == "row P5, count: 24 → 25"
    assert "of text otherwise (page 1" in lines["hand-check.pdf"]
    assert "calculation.pdf" in told(found, "As before")[0]


def test_words_that_are_drawn_otherwise_and_cells_of_a_workbook_are_told(demo_copy, tmp_path, reseal):
    import openpyxl

    other = shutil.copytree(demo_copy, tmp_path / "other")
    book = openpyxl.load_workbook(other / "calculation.xlsx")
    sheet = book.worksheets[0]
    place = next(cell for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str))
    place.value = "Forged"
    book.save(other / "calculation.xlsx")
    check = other / "hand-check.pdf"
    check.write_bytes(check.read_bytes() + b"\n% nothing that a reader sees\n")
    page = other / "calculation.html"
    page.write_text(page.read_text(encoding="utf-8").replace("<h1", "<h1 title='x'", 1), encoding="utf-8")
    reseal(other)
    lines = dict(line.split(": ", 1) for line in told(compare(demo_copy, other), "Documents"))
    assert f"sheet {sheet.title}, row " in lines["calculation.xlsx"]
    assert lines["hand-check.pdf"] == "says the same, and is another file byte for byte"
    assert "title" in lines["calculation.html"]
    assert len(lines) == 3


def test_a_damaged_document_is_told(package, tmp_path, reseal):
    other = shutil.copytree(package, tmp_path / "other")
    (other / "hand-check.pdf").write_bytes(b"hello")
    (other / "extra.txt").write_text("x", encoding="utf-8")
    reseal(other)
    lines = told(compare(package, other), "Documents")
    assert any(line.startswith("hand-check.pdf: another file; ") for line in lines)
    assert "extra.txt: added" in lines


def test_rows_are_paired_by_their_first_cells_and_renamed_marks():
    before = [("W4", "1", "9"), ("W4", "2", "9"), ("S1", "1", "5")]
    after = [("S1", "1", "6"), ("X1", "2", "8"), ("X1", "1", "9"), ("N1", "1", "1")]
    found = cell_changes(before, after, ("mark", "hole", "dose"), {"W4": "X1"})
    assert [one.words for one in found] == [
        "row X1 2, dose: 9 → 8",
        "row S1 1, dose: 5 → 6",
        "row N1 1: added",
    ]
    assert cell_changes([("a", "b")] * 2, [("a", "b")], (), {})[0].after is None


# ---- the model ----


def test_the_summary_counts_what_came_and_what_went():
    def content(ids):
        return {
            "sheets": [{"notebook": "01", "steps": [{"id": one, "value": 1.0} for one in ids], "checks": []}],
            "groups": [],
            "totals": {},
        }

    def summary(before, after):
        return Comparison("a", "b", (), changes(content(before), content(after))).summary

    assert "1 step added, 2 steps removed" in summary(["x", "y", "z"], ["x", "w"])
    assert "0 checks flipped, 1 step removed." in summary(["x", "y"], ["x"])
    assert summary(["x"], ["x"]) == "Nothing changed: inputs and results are the same."


def test_a_groups_values_begin_with_its_dose(package, recomputed, edit, tmp_path):
    other = shutil.copytree(package, tmp_path / "other")
    edit(other / "inputs" / "schedule.csv", "P5,24,25,32,360", "P5,24,25,32,300")
    recomputed(other)
    found = compare(package, other)
    assert told(found, "Bar groups")[0].startswith("P5: rounded dose: ")
    check = next(line for line in told(found, "Checks") if "P5" in line and "demand" in line)
    assert " mL → " in check


def test_a_check_follows_from_the_steps_that_it_names():
    """Of two changed steps of its group, that from which its demand comes, under the mark that the group has now."""

    def content(mark, first, second):
        def step(name, value, place):
            given = [{"name": "x", "value": value, "unit": "", "origin": place, "step": None}]
            about = {"notebook": "01_dose_per_hole", "mark": mark, "name": name}
            return about | {"id": f"01.{mark}.{name}", "value": value, "unit": "", "inputs": given}

        check = {"id": f"01.{mark}.c", "notebook": "01_dose_per_hole", "mark": mark, "name": "c", "title": f"{mark}: c"}
        check |= {"demand": first, "utilisation": first / 9, "verdict": "passes", "what": "c"}
        check |= {
            "demand_from": {"words": "", "steps": [f"01.{mark}.a"]},
            "resistance_from": {"words": "", "steps": []},
        }
        steps = [step("a", first, "file, a"), step("b", second, "file, b")]
        return {"sheets": [{"notebook": "01_dose_per_hole", "steps": steps, "checks": [check]}]}

    pair = content("A", 1.0, 1.0), content("B", 2.0, 3.0)
    found = changes(*pair, moved=False, renamed={"A": "B"}, places=("file, a", "file, b"))
    assert [(one.kind, one.id, one.because) for one in found] == [
        ("step", "01.B.a", ("file, a",)),
        ("step", "01.B.b", ("file, b",)),
        ("check", "01.B.c", ("file, a",)),
    ]
    same = changes(content("A", 1.0, 1.0), content("B", 1.0, 1.0), moved=False, renamed={"A": "B"})
    assert same == ()


@pytest.mark.parametrize(
    "junk",
    [
        {},
        {"sheets": 3, "groups": "x", "totals": [1], "job": 4},
        {"sheets": [1, {"notebook": 5, "steps": [1, [2], {"inputs": [3]}], "checks": [4, {}], "notices": [7, None]}]},
        {"sheets": [{"notebook": "01", "steps": [{"id": "a", "inputs": {"value": 1}}], "checks": [{"id": None}]}]},
        {"groups": [3, {"mark": "A", "rounded_dose_mL": "x", "overfill": [1]}, {"mark": "A"}]},
    ],
)
def test_what_is_no_result_is_compared_all_the_same(junk):
    other = {
        "sheets": [
            {"notebook": "01", "steps": [5, {"id": "a", "inputs": {"value": 2}}], "checks": [{}], "notices": []}
        ],
        "groups": [{"mark": "A", "rounded_dose_mL": 1.0}],
    }
    for pair in ((junk, other), (other, junk)):
        for one in changes(*pair, renamed={"A": "B"}):
            assert one.words
    assert changes(junk, junk) == ()


def test_a_huge_change_is_written_without_an_exponent():
    assert by(153.2) == " (15320 % more)"
