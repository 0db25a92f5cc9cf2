"""The hole record: template out, filled in by hand, read back and held against the plan."""

import csv
import io

import pytest

from calc.base.display import safe_text
from calc.files.problems import InputErrors
from calc.fill.hole import required_volume
from calc.work.site.findings import FINDINGS, SHORT_RULE
from calc.work.site.record import read_hole_record
from calc.work.site.template import choose_lines, planned_groups, template_columns, template_csv

ADHESIVE = """\
name = "Nothing"
invented = true
working_time = [{ at = "10 °C", time = "40 min" }, { at = "20 °C", time = "20 min" }]
base_temperature = { from = "5 °C", to = "30 °C" }
pack_temperature = { from = "8 °C", to = "35 °C" }
expiry = 2027-06-30
"""
GOOD = {
    "date": "2026-11-25",
    "batch": "B-77",
    "expiry": "2027-03-31",
    "concrete_temperature [°C]": "12",
    "pack_temperature [°C]": "18",
    "depth [mm]": "200",
    "cleaned": "yes",
    "dose [mL]": "27",
    "injected": "09:00",
    "set": "09:05",
    "initials": "AP",
}


@pytest.fixture
def job(folder):
    folder.write("adhesive.toml", ADHESIVE)
    folder.schedule(
        "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note",
        "A,4,16,20,200,,down,0.10,",
    )
    return folder.load()


def fill(job, tmp_path, *changes, by="hole"):
    """Fill the template in, each change for one line after the other; None leaves a line empty."""
    rows = list(csv.DictReader(io.StringIO(template_csv(job=job, by=by))))
    for row, change in zip(rows, changes, strict=False):
        if change is not None:
            row.update(GOOD | change)
    path = tmp_path / "record.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def read(job, tmp_path, *changes, by="hole"):
    return read_hole_record(fill(job, tmp_path, *changes, by=by), job=job)


def test_required_by_hand(job):
    # annulus pi/4 (20² - 16²) 200 = 22.619 mL, tip cone 130°: 0.488 mL
    assert planned_groups(job)[0].required / 1000 == pytest.approx(23.107, abs=0.001)


def test_a_good_record_passes(job, tmp_path):
    record = read(job, tmp_path, {}, {}, {}, {})
    assert record.findings == ()
    assert record.passes
    assert (record.planned, record.done) == (4, 4)
    assert record.groups[0].volume == pytest.approx(4 * 27e3)
    assert "Nothing was found" in " ".join(record.sentences())


def test_an_empty_template_has_every_hole_missing(job, tmp_path):
    record = read(job, tmp_path)
    (found,) = record.findings
    assert (found.kind, found.first, found.last, record.done) == ("missing", 1, 4, 0)
    assert not record.passes


def test_the_demo_template_reads_back(demo, tmp_path):
    for by in ("hole", "group"):
        path = tmp_path / f"{by}.csv"
        path.write_text(template_csv(job=demo, by=by), encoding="utf-8")
        record = read_hole_record(path, job=demo)
        assert {f.kind for f in record.findings} == {"missing"}
        assert record.planned == sum(group.count for group in demo.groups)
        assert len(record.lines) == (record.planned if by == "hole" else len(demo.groups))


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        ({"dose [mL]": "23.1"}, "short", "23.10 mL injected, but the hole needs 23.11 mL: 0.034 % short"),
        ({"dose [mL]": "20"}, "short", "13 % short"),
        ({"dose [mL]": "24"}, "under plan", "24.00 mL injected, 26.00 mL planned"),
        ({"dose [mL]": "26", "depth [mm]": "220"}, "short", "being 20 mm deeper than planned"),
        ({"expiry": "2026-11-24"}, "expired", "batch B-77; good until 2026-11-24 by the pack"),
        ({"date": "2027-07-01", "expiry": "2028-01-01"}, "expired", "good until 2027-06-30 by adhesive.toml"),
        (
            {"concrete_temperature [°C]": "4"},
            "temperature",
            "concrete at 4 °C; the adhesive record allows 5 °C to 30 °C",
        ),
        ({"pack_temperature [°C]": "36"}, "temperature", "pack at 36 °C; the adhesive record allows 8 °C to 35 °C"),
        ({"depth [mm]": "195"}, "depth", "195 mm deep for an embedment of 200 mm: 5 mm too little"),
        ({"cleaned": "no"}, "uncleaned", "not cleaned"),
        ({"set": "09:21"}, "late", "set 21 min after the injection; the working time at 12 °C is 20 min"),
        ({"initials": ""}, "incomplete", "not written down: initials"),
        ({"planned_depth [mm]": "210"}, "plan", "planned depth 210 mm stands there; this job says 200 mm"),
        ({"planned_dose [mL]": "30"}, "plan", "planned dose 30 mL stands there; this job says 26 mL"),
    ],
)
def test_each_finding_is_named(job, tmp_path, change, kind, words):
    record = read(job, tmp_path, {}, change, {}, {})
    found = [f for f in record.findings if f.kind == kind]
    assert len(found) == 1, [f.sentence for f in record.findings]
    assert words in found[0].sentence
    assert found[0].sentence.startswith("A, hole 2 (row 3): ")
    assert record.holes_with(kind) == 1
    assert record.passes == (kind in ("plan", "under plan", "incomplete"))
    assert FINDINGS[kind][1] in " ".join(record.sentences())


def test_a_minute_decides(job, tmp_path):
    assert not read(job, tmp_path, {"set": "09:20"}, {}, {}, {}).of("late")
    assert read(job, tmp_path, {"set": "09:21"}, {}, {}, {}).of("late")


def test_exactly_the_required_volume_is_not_short(job, tmp_path):
    exact = required_volume(d_0=20.0, phi=16.0, l_v=200.0, theta=130.0) / 1000
    assert not read(job, tmp_path, {"dose [mL]": f"{exact:.12f}"}, {}, {}, {}).of("short")


def test_past_midnight(job, tmp_path):
    record = read(job, tmp_path, {"injected": "23:55", "set": "00:10"}, {"injected": "23:55", "set": "00:20"}, {}, {})
    assert [(f.first, "25 min" in f.sentence) for f in record.of("late")] == [(2, True)]


def test_a_temperature_that_the_table_lacks_is_told(job, tmp_path):
    (found,) = read(job, tmp_path, {"concrete_temperature [°C]": "25"}, {}, {}, {}).of("late")
    assert "no working time is known at 25 °C" in found.sentence


def test_without_a_temperature_the_job_files_holds(job, tmp_path):
    """15 °C in the job file: 20 min, from the next warmer row."""
    (found,) = read(job, tmp_path, {"concrete_temperature [°C]": "", "set": "09:30"}, {}, {}, {}).of("late")
    assert "at 15 °C (the job file's; none was written down) is 20 min" in found.sentence


def test_what_a_silent_adhesive_record_leaves_open_is_said(folder, tmp_path):
    record = read(folder.load(), tmp_path)
    assert record.notices == (
        (
            "Not judged, because adhesive.toml does not give it: the concrete's temperature, the pack's temperature,"
            " the working time."
        ),
    )


def test_the_rule_for_a_short_hole():
    for needed in (
        "Pull the bar",
        "add adhesive",
        "set the bar again",
        "workable",
        "engineer decide",
    ):
        assert needed in SHORT_RULE
    assert FINDINGS["short"][1] == SHORT_RULE


def test_lines_for_several_holes(job, tmp_path):
    text = template_csv(job=job, by="group")
    assert ",1 to 4," in text.splitlines()[1]
    record = read(job, tmp_path, {"hole": "1 to 3", "dose [mL]": "20"}, by="group")
    assert record.done == 3
    assert record.holes_with("short") == 3
    (missing,) = record.of("missing")
    assert (missing.first, missing.last) == (4, 4)
    assert record.groups[0].found == {"short": 3, "missing": 1}
    head, rows = record.table()
    assert rows[0][:3] == ("A", "4", "3")
    assert rows[0][head.index("short of adhesive")] == "3"


def problems(job, tmp_path, text):
    path = tmp_path / "record.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputErrors) as caught:
        read_hole_record(path, job=job)
    return [str(problem) for problem in caught.value.problems]


HEAD = ",".join(("mark", "hole", *GOOD))
CELLS = ",".join(GOOD.values())


def line(start, **changes):
    return start + "," + ",".join((GOOD | changes).values())


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (line("Z,1"), "row 2, column mark: 'Z' is not a bar group of the schedule; "),
        (line("A,5"), "row 2, column hole: '5' is beyond the 4 holes of A; accepted: from 1 to 4"),
        (line("A,0"), "does not run upwards from 1"),
        (line("A,3 to 2"), "does not run upwards from 1"),
        (
            line("A,Jan 96"),
            "'Jan 96' is no number of a hole; accepted: a hole's number such as 7, or several such as 1 to 12",
        ),
        (line("A,"), "row 2, column hole: the cell is empty"),
        (
            line("A,1", date="25/11/2026"),
            "row 2, column date: '25/11/2026' is not a date that has one meaning; accepted: year-month-day",
        ),
        (line("A,1", expiry="2027-02-30"), "row 2, column expiry: '2027-02-30' is no day of the calendar"),
        (line("A,1", **{"dose [mL]": '"26,5"'}), "row 2, column dose: '26,5' has a comma"),
        (line("A,1", **{"dose [mL]": "-1"}), "row 2, column dose: '-1' is negative; accepted: from 0 up to 200000 mL"),
        (line("A,1", **{"dose [mL]": "nan"}), "is not a finite number"),
        (line("A,1", **{"depth [mm]": "20000"}), "row 2, column depth: '20000' is too large"),
        (line("A,1", cleaned="perhaps"), "row 2, column cleaned: 'perhaps' is neither yes nor no"),
        (line("A,1", injected="25:00"), "row 2, column injected: '25:00' is not a time of day"),
        (line("A,1", set="08:50"), "row 2, column set: '08:50' is before the time of injection, 09:00"),
        (line("A,1", initials="x" * 61), "row 2, column initials: "),
        (line("A,1") + ",extra", "the row has too many cells: 14, and the header has 13"),
        ("A,1", "the row has too few cells"),
    ],
)
def test_refused_rows(job, tmp_path, row, words):
    found = problems(job, tmp_path, f"{HEAD}\n{row}\n")
    assert len(found) == 1, found
    assert words in found[0]
    assert found[0].startswith("record.csv, row 2")


def test_a_hole_twice_is_refused(job, tmp_path):
    (found,) = problems(job, tmp_path, f"{HEAD}\n{line('A,1 to 3')}\n{line('A,4')}\n{line('A,2')}\n")
    assert found == "record.csv, row 4, column hole: '2' is in row 2 already; accepted: each hole of A once"


def test_all_errors_are_told_at_once(job, tmp_path):
    found = problems(job, tmp_path, f"{HEAD}\n{line('A,9', date='x')}\n{line('Z,1', cleaned='x')}\n")
    assert len(found) == 4


@pytest.mark.parametrize(
    ("head", "words"),
    [
        (HEAD.replace("depth [mm]", "depth"), "has no unit in square brackets; write 'depth [mm]'"),
        (HEAD.replace("depth [mm]", "depth [mL]"), "has the unit [mL], which is not read here"),
        (HEAD.replace("batch", "bacth"), "did you mean batch?"),
        (HEAD.replace("dose [mL],", ""), "no column says how much was injected"),
        (HEAD.replace("dose [mL]", "strokes"), "needs the volume of a stroke"),
        (HEAD.replace(",initials", ""), "the column initials is missing"),
        (HEAD + ",date", "is there twice"),
        (HEAD.replace("date", "date [d]"), "takes no unit"),
        (HEAD.replace(",", ";"), "separated by semicolons"),
        ("", "there is no record"),
    ],
)
def test_refused_headers(job, tmp_path, head, words):
    assert words in " ".join(problems(job, tmp_path, head + "\n"))


def test_unreadable_files(job, tmp_path):
    assert "zero byte" in problems(job, tmp_path, b"a\0b")[0]
    with pytest.raises(InputErrors, match="there is no such file"):
        read_hole_record(tmp_path / "nothing.csv", job=job)
    with pytest.raises(InputErrors, match="save the sheet as CSV"):
        read_hole_record(tmp_path / "record.xlsx", job=job)


def test_other_units_are_read(job, tmp_path):
    head = (
        HEAD.replace("depth [mm]", "depth [in]")
        .replace("dose [mL]", "dose [in³]")
        .replace("concrete_temperature [°C]", "concrete_temperature [°F]")
    )
    row = line("A,1 to 4", **{"depth [mm]": "7-7/8", "dose [mL]": "1.7", "concrete_temperature [°C]": "54"})
    path = tmp_path / "us.csv"
    path.write_text(f"{head}\n{row}\n", encoding="utf-8")
    record = read_hole_record(path, job=job)
    assert record.lines[0].depth == pytest.approx(7.875 * 25.4)
    assert record.lines[0].dose == pytest.approx(1.7 * 16387.064)
    assert record.lines[0].concrete == pytest.approx((54 - 32) / 1.8)


def test_strokes(folder, tmp_path):
    folder.write("adhesive.toml", ADHESIVE)
    folder.edit('graduation = "1 mL"', 'stroke = "5 mL"')
    folder.schedule(
        "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note",
        "A,4,16,20,200,,down,0.10,",
    )
    job = folder.load()
    assert "strokes" in template_columns(job)
    assert "planned_strokes" in template_columns(job)
    assert (
        template_csv(job=job, by="hole").splitlines()[1].startswith("A,1,16,200,6,")
    )  # 25.4 mL are six strokes of 5 mL
    path = tmp_path / "strokes.csv"
    rows = template_csv(job=job, by="group").splitlines()
    path.write_text(
        rows[0] + "\nA,1 to 4,16,200,6,2026-11-25,B,2027-03-31,12,18,200,yes,4,09:00,09:05,AP,\n", encoding="utf-8"
    )
    record = read_hole_record(path, job=job)
    assert "20.00 mL injected, but the hole needs 23.11 mL" in record.of("short")[0].sentence


def test_a_mark_that_looks_like_a_formula_comes_back(folder, tmp_path):
    folder.schedule(
        "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note",
        '"=1+1",2,16,20,200,,down,0.10,',
    )
    job = folder.load()
    text = template_csv(job=job, by="hole")
    assert not any(cell[:1] in ("=", "+", "-", "@") for row in csv.reader(io.StringIO(text)) for cell in row)
    record = read(job, tmp_path, {}, {})
    assert record.lines[0].mark == "=1+1"


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@A1", "\tx", "|x", "%x"])
def test_formulas_are_quoted(text):
    assert safe_text(text) == "'" + text


def test_lines_are_chosen_by_the_number_of_holes():
    assert (choose_lines(holes=300), choose_lines(holes=301)) == ("hole", "group")


def test_of_refuses_an_unknown_kind(job, tmp_path):
    with pytest.raises(KeyError, match="no kind of finding"):
        read(job, tmp_path).of("nonsense")
