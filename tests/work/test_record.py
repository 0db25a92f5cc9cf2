"""The hole record: template out, filled in by hand, read back and held against the plan."""

import csv
import io
import re
from datetime import date, datetime, time

import openpyxl
import pytest
from jobparts import HEADER, ROWS, SITE

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
    "depth_to_tip [mm]": "205",  # 200 mm, the cone of 4.66 mm, up to a millimetre
    "cleaned": "yes",
    "dose [mL]": "27",
    "full": "yes",
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
        ({"dose [mL]": "26", "depth_to_tip [mm]": "225"}, "short", "being 20.3 mm deeper than planned"),
        ({"expiry": "2026-11-24"}, "expired", "batch B-77; good until 2026-11-24 by the pack"),
        ({"date": "2027-07-01", "expiry": "2028-01-01"}, "expired", "good until 2027-06-30 by adhesive.toml"),
        (
            {"concrete_temperature [°C]": "4"},
            "temperature",
            "concrete at 4 °C; the adhesive record allows 5 °C to 30 °C",
        ),
        ({"pack_temperature [°C]": "36"}, "temperature", "pack at 36 °C; the adhesive record allows 8 °C to 35 °C"),
        (
            {"depth_to_tip [mm]": "200"},
            "depth",
            "200.0 mm to the point, 195.3 mm deep for an embedment of 200.0 mm: 4.7 mm too little",
        ),
        ({"full": "no"}, "short", "not full at the mouth with the bar home"),
        ({"cleaned": "no"}, "uncleaned", "not cleaned"),
        ({"set": "09:21"}, "late", "set 21 min after the injection; the working time at 12 °C is 20 min"),
        ({"initials": ""}, "incomplete", "not written down: initials"),
        (
            {"planned_depth_to_tip [mm]": "210"},
            "plan",
            "planned depth to tip 210 mm stands there; this job says 205.0 mm",
        ),
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


# A record of depths at full diameter, without a column for what stands at the mouth.
OLD = {"depth [mm]" if name == "depth_to_tip [mm]" else name: text for name, text in GOOD.items() if name != "full"}
OLD |= {"depth [mm]": "200"}
HEAD = ",".join(("mark", "hole", *OLD))


def line(start, **changes):
    return start + "," + ",".join((OLD | changes).values())


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
            line("A,1", date="11/12/2026"),
            "row 2, column date: '11/12/2026' may be day and month, or month and day; accepted: year-month-day",
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
        (line("A,1", injected="13:00 pm"), "row 2, column injected: '13:00 pm' is not a time of day"),
        (line("A,1", date="26.11.20"), "row 2, column date: '26.11.20' is not a date that has one meaning"),
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
        (HEAD.replace(",", "|"), "is not a column that is read here"),
        (HEAD.replace("depth [mm]", "depth [mm],depth_to_tip [mm]"), "depth and depth_to_tip stand side by side"),
        (HEAD.replace("depth [mm],", ""), "the column depth_to_tip is missing; add 'depth_to_tip [mm]'"),
        ("", "there is no record"),
    ],
)
def test_refused_headers(job, tmp_path, head, words):
    assert words in " ".join(problems(job, tmp_path, head + "\n"))


def test_unreadable_files(job, tmp_path):
    assert "zero byte" in problems(job, tmp_path, b"a\0b")[0]
    with pytest.raises(InputErrors, match="there is no such file"):
        read_hole_record(tmp_path / "nothing.csv", job=job)
    with pytest.raises(InputErrors, match=r"saved as \.xlsx or \.csv"):
        read_hole_record(tmp_path / "record.ods", job=job)
    (tmp_path / "record.xlsx").write_bytes(b"no workbook")
    with pytest.raises(InputErrors, match="damaged and cannot be read"):
        read_hole_record(tmp_path / "record.xlsx", job=job)
    assert "no text in UTF-8, UTF-16 or Windows-1252" in problems(job, tmp_path, b"mark,\x81\n")[0]


def saved(head, rows, *, mark=",", comma=False, encoding="utf-8", start="", end=""):
    """A record as a spreadsheet program saves it: its marks, decimal mark, letters, empty columns at the right."""
    cells = [
        [text.replace(".", ",") if comma and re.fullmatch(r"\d+\.\d+", text) else text for text in r] for r in rows
    ]
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark, lineterminator="\r\n")
    writer.writerows([[*row, *end] for row in (head, *cells)])
    return (start + out.getvalue()).encode(encoding)


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"encoding": "utf-8-sig"},
        {"mark": ";", "comma": True, "encoding": "cp1252"},
        {"mark": ";", "comma": True, "encoding": "utf-8-sig", "end": ["", "", ""]},
        {"mark": "\t", "comma": True, "encoding": "utf-16"},
        {"mark": ";", "start": "sep=;\r\n"},
        {"end": [""]},
    ],
)
def test_a_record_is_read_however_a_spreadsheet_saves_it(job, tmp_path, how):
    row = GOOD | {"dose [mL]": "27.5", "concrete_temperature [°C]": "12.5", "note": "hän"}
    days = {"date": "25.11.2026", "expiry": "31.03.2027"} if how.get("comma") else {}
    path = tmp_path / "record.csv"
    path.write_bytes(saved(["mark", "hole", *row], [["A", "1 to 4", *(row | days).values()]], **how))
    record = read_hole_record(path, job=job)
    (one,) = record.lines
    assert (one.dose, one.concrete, one.note) == (27.5e3, 12.5, "hän")
    assert (one.day, one.expiry) == (date(2026, 11, 25), date(2027, 3, 31))
    assert record.passes
    told = "a comma in its numbers is a decimal mark"
    assert any(told in sentence for sentence in record.sentences()) == (how.get("mark", ",") != ",")


@pytest.mark.parametrize(
    ("days", "read"),
    [
        (("11/25/2026", "3/11/2027"), (date(2026, 11, 25), date(2027, 3, 11))),
        (("25/11/2026", "3/11/2027"), (date(2026, 11, 25), date(2027, 11, 3))),
        (("2026-11-25", "11.3.2027"), (date(2026, 11, 25), date(2027, 3, 11))),
    ],
)
def test_dates_are_read_in_the_order_that_the_file_tells(job, tmp_path, days, read):
    path = tmp_path / "record.csv"
    row = GOOD | dict(zip(("date", "expiry"), days, strict=True)) | {"injected": "11:58:00 AM", "set": "12:03 pm"}
    path.write_bytes(saved(["mark", "hole", *row], [["A", "1 to 4", *row.values()]]))
    (one,) = read_hole_record(path, job=job).lines
    assert (one.day, one.expiry) == read
    assert (one.injected, one.set) == (718.0, 723.0)


def test_what_has_two_meanings_is_refused(job, tmp_path):
    row = GOOD | {"date": "11/25/2026", "expiry": "25/11/2026", "dose [mL]": "1,250"}
    found = problems(job, tmp_path, saved(["mark", "hole", *row], [["A", "1", *row.values()]], mark=";"))
    assert len(found) == 3
    assert "row 2, column dose: '1,250' may be 1.250 or 1250" in found[0]
    assert all("may be day and month, or month and day" in one for one in found[1:])


def workbook(path, head, *rows, title="Sheet 1"):
    book = openpyxl.Workbook()
    book.active.title = title
    for row in (head, *rows):
        book.active.append(row)
    book.save(path)
    return path


def test_a_workbook_is_read_with_its_own_dates_and_times(job, tmp_path):
    row = GOOD | {
        "date": datetime(2026, 11, 25),
        "expiry": date(2027, 3, 31),
        "dose [mL]": 27.5,
        "injected": time(9, 0),
        "set": time(9, 5),
        "cleaned": True,
    }
    head = ["mark", "hole", *row]
    path = workbook(tmp_path / "record.xlsx", head, ["A", "1 to 3", *row.values()], ["A", 4, *row.values()])
    record = read_hole_record(path, job=job)
    assert record.passes
    assert [(one.first, one.last, one.dose, one.injected, one.day) for one in record.lines] == [
        (1, 3, 27.5e3, 540.0, date(2026, 11, 25)),
        (4, 4, 27.5e3, 540.0, date(2026, 11, 25)),
    ]
    bad = workbook(tmp_path / "bad.xlsx", head, ["A", 1, *(row | {"cleaned": "maybe"}).values()], title="East wall")
    with pytest.raises(InputErrors) as caught:
        read_hole_record(bad, job=job)
    assert str(caught.value).startswith("bad.xlsx, sheet 'East wall', row 2, column cleaned: 'maybe' is neither")


def test_an_old_record_at_full_diameter_is_read(job, tmp_path):
    path = tmp_path / "old.csv"
    path.write_text(f"{HEAD}\n{line('A,1 to 4')}\n", encoding="utf-8")
    record = read_hole_record(path, job=job)
    assert record.passes
    assert [finding.sentence for finding in record.findings] == [
        "A, holes 1 to 4 (row 2): not written down: full at the mouth."
    ]


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
        template_csv(job=job, by="hole").splitlines()[1].startswith("A,1,16,,205,6,")
    )  # 25.4 mL are six strokes of 5 mL
    path = tmp_path / "strokes.csv"
    rows = template_csv(job=job, by="group").splitlines()
    path.write_text(
        rows[0] + "\nA,1 to 4,16,,205,6,2026-11-25,B,2027-03-31,12,18,205,yes,4,yes,09:00,09:05,AP,\n", encoding="utf-8"
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


def test_lines_are_for_batches_unless_the_site_wants_holes(folder):
    folder.schedule(HEADER, *ROWS)
    folder.write("job.toml", folder.read("job.toml") + SITE)
    assert choose_lines(folder.load()) == "batch"
    spans = [row.split(",")[:2] for row in template_csv(job=folder.load()).splitlines()[1:]]
    assert spans[:4] == [["A", "1 to 4"], ["A", "5 to 8"], ["A", "9 to 12"], ["B", "1 to 4"]]
    folder.edit("batch = 4", 'batch = 4\nrecord_lines = "hole"')
    assert choose_lines(folder.load()) == "hole"


def test_lines_without_a_site_are_chosen_by_the_number_of_holes(folder):
    for holes, by in ((300, "hole"), (301, "group")):
        folder.schedule(
            "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note",
            f"A,{holes},16,20,200,,down,,",
        )
        assert choose_lines(folder.load()) == by


def test_of_refuses_an_unknown_kind(job, tmp_path):
    with pytest.raises(KeyError, match="no kind of finding"):
        read(job, tmp_path).of("nonsense")
