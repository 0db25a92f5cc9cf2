"""Saving: what was typed comes back, the rest of the file stays, and a refused value changes nothing."""

import openpyxl
import pytest
from jobparts import HEADER, ROWS

from calc.files.problems import InputErrors
from calc.work.load import load_job
from calc.work.save import key_parts, save_group, save_values


def test_row_is_changed_and_the_others_stay(folder):
    folder.write(
        "schedule.csv", f'{HEADER}\r\nA,12,16,20,200,,down,,\r\nB , 8,#5,22,220,10,overhead,0.2,"two\r\nlines"'
    )
    before = folder.read("schedule.csv")
    path = save_group(
        folder.load(), mark="A", values={"embedment": "8 in", "hole_diameter": "22", "note": 'a "new", one'}
    )
    assert path == folder.path / "schedule.csv"
    after = folder.read("schedule.csv")
    assert after == before.replace("A,12,16,20,200,,down,,", 'A,12,16,22,203.2,,down,,"a ""new"", one"')
    group = folder.load().group("A")
    assert (group.embedment, group.hole_diameter, group.note) == (203.2, 22.0, 'a "new", one')
    assert [p.name for p in folder.path.iterdir() if p.name.startswith(".")] == []


def test_new_mark_is_a_new_row(folder):
    folder.write("schedule.csv", folder.read("schedule.csv").rstrip("\n"))
    values = {"count": "3", "bar": "20", "hole_diameter": "25 mm", "embedment": "250 mm", "direction": "down"}
    save_group(folder.load(), mark="C", values=values)
    assert folder.read("schedule.csv") == "\n".join([HEADER, *ROWS, "C,3,20,25,250,,down,,"]) + "\n"
    assert folder.load().group("C").hole_diameter == 25.0


def test_fractions_stay_fractions(folder):
    folder.schedule(HEADER.replace("[mm]", "[in]"), "A,1,#4,5/8,8,,down,,")
    save_group(folder.load(), mark="A", values={"hole_diameter": "1-1/8 in", "bar": "#8"})
    assert "A,1,#8,1-1/8,8,,down,," in folder.read("schedule.csv")


def test_missing_optional_column_is_added(folder):
    folder.schedule(
        "mark,count,bar,hole_diameter [mm],embedment [mm],direction", "A,1,16,20,200,down", "B,1,16,20,200,down"
    )
    save_group(folder.load(), mark="B", values={"overdrill": "1 cm", "overfill": "0.3"})
    assert folder.read("schedule.csv").splitlines()[0].endswith("direction,overdrill [mm],overfill")
    assert (folder.load().group("B").overdrill, folder.load().group("B").overfill) == (10.0, 0.3)
    assert folder.load().group("A").overfill is None


def test_overdrill_into_a_depth_to_tip_and_back(folder):
    folder.schedule(HEADER.replace("overdrill", "depth_to_tip"), "A,1,16,20,200,,down,,")
    save_group(folder.load(), mark="A", values={"overdrill": "10 mm", "embedment": "150 mm"})
    group = folder.load().group("A")
    assert (group.embedment, group.overdrill) == (150.0, pytest.approx(10.0, abs=1e-6))
    folder.schedule(HEADER, *ROWS)
    save_group(folder.load(), mark="A", values={"depth_to_tip": "220 mm"})
    assert folder.load().group("A").overdrill == pytest.approx(220 - 200 - 4.663077, abs=1e-5)


def test_a_depth_to_the_tip_takes_the_place_of_an_overdrill_in_its_row(folder):
    folder.schedule(HEADER.replace("overdrill [mm]", "overdrill [mm],depth_to_tip [mm]"), "A,1,16,20,200,15,,down,,")
    save_group(folder.load(), mark="A", values={"depth_to_tip": "220 mm"})
    assert folder.read("schedule.csv").splitlines()[1] == "A,1,16,20,200,,220,down,,"
    save_group(folder.load(), mark="A", values={"overdrill": "5 mm"})
    assert (folder.load().group("A").overdrill, "220" in folder.read("schedule.csv")) == (5.0, False)


@pytest.mark.parametrize(
    ("values", "part"),
    [
        ({"hole_diameter": "12 mm"}, "schedule.csv, row 2, column hole_diameter: '12' is not larger than the bar"),
        ({"embedment": "2,5"}, "'2,5' has a comma"),
        ({"embedment": "2 MPa"}, "'2 MPa' has the wrong kind of unit"),
        ({"bar": "17"}, "row 2, column bar: '17'"),
        ({"mark": "B"}, "is already the mark of row 2"),
        ({"embedmnt": "200 mm"}, "did you mean embedment?"),
    ],
)
def test_refused_row_changes_nothing(folder, values, part):
    before = folder.read("schedule.csv")
    with pytest.raises(InputErrors) as caught:
        save_group(folder.load(), mark="A", values=values)
    assert part in str(caught.value)
    assert folder.read("schedule.csv") == before
    assert sorted(p.name for p in folder.path.iterdir()) == ["adhesive.toml", "job.toml", "schedule.csv"]


def test_workbook(folder):
    book = openpyxl.Workbook()
    for row in [
        HEADER.split(","),
        ["A", 12, 16, 20, 200, None, "down", None, None],
        ["B", 8, "#5", 22, 220, 10, "overhead", 0.2, "x"],
    ]:
        book.active.append(row)
    book.save(folder.path / "schedule.xlsx")
    folder.edit("schedule.csv", "schedule.xlsx")
    job = folder.load()
    save_group(job, mark="A", values={"hole_diameter": "22 mm", "embedment": "8 in", "bar": "16"})
    new = {"count": "3", "bar": "#4", "hole_diameter": "5/8 in", "embedment": "200", "direction": "down"}
    save_group(folder.load(), mark="C", values=new)
    after = folder.load()
    assert (after.group("A").hole_diameter, after.group("A").embedment) == (22.0, 203.2)
    assert after.group("B") == job.group("B")
    assert (after.group("C").hole_diameter, after.group("C").row) == (15.875, 4)
    with pytest.raises(InputErrors, match="not larger than the bar"):
        save_group(after, mark="A", values={"hole_diameter": "10"})
    assert folder.load() == after


def test_workbook_with_a_formula_is_left_alone(folder):
    book = openpyxl.Workbook()
    for row in [HEADER.split(","), ["A", 12, 16, 20, 200, None, "down", None, None]]:
        book.active.append(row)
    book.save(folder.path / "schedule.xlsx")
    folder.edit("schedule.csv", "schedule.xlsx")
    job = folder.load()
    book.active["I2"] = "=1+1"
    book.save(folder.path / "schedule.xlsx")
    with pytest.raises(InputErrors, match=r"row 2, column I.*formula"):
        save_group(job, mark="A", values={"count": "2"})


def test_value_keeps_comments(folder):
    before = folder.read("job.toml")
    assert save_values(folder.load(), values={"overfill.share": 0.25}) == folder.path / "job.toml"
    assert folder.read("job.toml") == before.replace("share = 0.10     # ten", "share = 0.25     # ten")
    save_values(folder.load(), values={"overfill.share": "0.3"})
    save_values(folder.load(), values={"concrete.temperature": "59 °F"})
    assert folder.load().overfill.share == 0.3
    assert folder.load().concrete.temperature == pytest.approx(15.0)
    assert "# a comment that stays" in folder.read("job.toml")


def test_graduation_to_stroke_and_measured(folder):
    save_values(folder.load(), values={"equipment.graduation": None, "equipment.stroke": "10 mL"})
    job = folder.load()
    assert (job.equipment.graduation, job.equipment.stroke) == (None, 10_000.0)
    save_values(job, values={"measured.A.depth": ["0 mm", "200 mm"], "measured.A.diameter": ["21 mm", "20 mm"]})
    assert folder.load().measured["A"].depths == (0.0, 200.0)


@pytest.mark.parametrize(
    ("key", "parts"),
    [
        ("overfill.share", ["overfill", "share"]),
        ("measured.A.depth", ["measured", "A", "depth"]),
        ("measured.A.1.depth", ["measured", "A.1", "depth"]),
        ("evidence.A.1.b.file", ["evidence", "A.1.b", "file"]),
        ("evidence.A.1.excluded.7.2", ["evidence", "A.1", "excluded", "7.2"]),
        ("scatter.group.A.1.voids.low", ["scatter", "group", "A.1", "voids", "low"]),
        ("design.group.A.1.approval.k_b", ["design", "group", "A.1", "approval", "k_b"]),
        ("design.group.new.force", ["design", "group", "new", "force"]),
        ("scatter.group.A.bit", ["scatter", "group", "A", "bit"]),
    ],
)
def test_a_mark_may_hold_dots(key, parts):
    assert key_parts(key, ["A", "A.1", "A.1.b"]) == parts


@pytest.mark.parametrize(
    ("key", "value", "part"),
    [
        ("overfill.share", 5.0, "job.toml, key overfill.share: '5.0' is out of range"),
        ("overfill.share", "0,3", "'0,3' has a comma"),
        ("overfill.shar", 0.1, "did you mean share?"),
        ("equipment.stroke", "10 mL", "exactly one of graduation and stroke"),
        ("job.title", None, "job.title is missing"),
        ("schema.x", 1, "is not a table"),
    ],
)
def test_refused_value_changes_nothing(folder, key, value, part):
    before = folder.read("job.toml")
    with pytest.raises(InputErrors) as caught:
        save_values(folder.load(), values={key: value})
    assert part in str(caught.value)
    assert folder.read("job.toml") == before


def test_demo_round_trip(demo):
    text = demo.schedule_path.read_bytes()
    group = demo.groups[1]
    save_group(
        demo,
        mark=group.mark,
        values={name: group.given[name] for name in ("hole_diameter", "embedment", "count", "bar")},
    )
    assert demo.schedule_path.read_bytes() == text
    assert load_job(demo.path) == demo
