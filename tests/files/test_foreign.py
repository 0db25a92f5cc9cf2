"""Schedules that other programs wrote: read as the job file says, proposed by words, never guessed."""

from pathlib import Path

import openpyxl
import pytest
from jobparts import Folder

from calc import cli
from calc.files.foreign.proposing import lines_of
from calc.files.foreign.reading import ScheduleFile
from calc.files.problems import InputErrors
from calc.files.schedule import BarGroup, propose_reading, read_schedule
from calc.work.load import load_job
from calc.work.save import save_group

TABLE = """\
Bar list, deck edge;;;;;;
;;;;;;
Bar Mark;Qty;Bar size;Hole dia (in);Embedment depth, in;Dwg;Weight
A4;80;#4;5/8";5;Q\N{EN DASH}3;12,5
A5;60;#5;0,75;8;Q-4;
"""
KEYS = {"header_row": 3, "separator": "semicolon", "encoding": "cp1252", "decimal": "comma"}
COLUMNS = {
    "Bar Mark": "mark",
    "Qty": "count",
    "Bar size": "bar",
    "Hole dia (in)": "hole_diameter [in]",
    "Embedment depth, in": "embedment [in]",
    "Dwg": "drawing",
    "Weight": "",
}
OURS = "mark,count,bar,hole_diameter [in],embedment [in],direction,drawing\n"
SAME = OURS + "A4,80,#4,5/8,5,down,Q\N{EN DASH}3\nA5,60,#5,0.75,8,down,Q-4\n"


def written(folder: Path, text: str = TABLE, name: str = "bars.csv", encoding: str = "cp1252") -> Path:
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def as_told(path: Path, **other: object) -> ScheduleFile:
    told = {"file": path.name, **KEYS, "columns": COLUMNS, "every_row": {"direction": "down"}}
    return ScheduleFile.model_validate(told | other)


def read(path: Path, **other: object) -> tuple[BarGroup, ...]:
    groups, problems = read_schedule(path, how=as_told(path, **other))
    assert problems == []
    return groups


def sentences(path: Path, how: ScheduleFile | None) -> str:
    return "\n".join(map(str, read_schedule(path, how=how)[1]))


def test_a_table_of_another_program_is_read_as_told(tmp_path: Path) -> None:
    groups = read(written(tmp_path))
    own, problems = read_schedule(written(tmp_path, SAME, "own.csv", "utf-8"))
    assert problems == []
    assert groups == own
    assert [group.row for group in groups] == [4, 5]
    assert [group.given["hole_diameter"] for group in groups] == ["5/8 in", "0.75 in"]


def test_a_byte_order_mark_is_read_where_the_job_says_so_and_refused_elsewhere(tmp_path: Path) -> None:
    path = written(tmp_path, "\N{ZERO WIDTH NO-BREAK SPACE}" + SAME, encoding="utf-8")
    how = ScheduleFile(file=path.name, encoding="utf-8-sig")
    assert len(read_schedule(path, how=how)[0]) == 2
    assert "byte-order mark" in sentences(path, None)


def test_a_workbook_with_a_title_row(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Bar list"])
    for cells in (["Mark", "Qty", "Size", "Hole dia (in)", "Embed (in)"], ["A4", 80, "#4", '5/8"', 5]):
        book.active.append(cells)
    book.save(tmp_path / "bars.xlsx")
    found = propose_reading(tmp_path / "bars.xlsx")
    assert found is not None
    assert found.keys == {"header_row": 2}
    how = ScheduleFile(file="bars.xlsx", **found.keys, columns={**found.columns}, every_row={"direction": "overhead"})
    groups, problems = read_schedule(tmp_path / "bars.xlsx", how=how)
    assert problems == []
    assert [(one.mark, one.count, one.hole_diameter, one.direction) for one in groups] == [
        ("A4", 80, 15.875, "overhead")
    ]


def test_what_is_found_is_proposed_with_what_only_the_user_can_say(tmp_path: Path) -> None:
    found = propose_reading(written(tmp_path))
    assert found is not None
    assert (found.keys, found.columns) == (KEYS, COLUMNS)
    assert found.open == ['[schedule.every_row]: direction = "…", where no title stands for it']
    assert '"Hole dia (in)" = "hole_diameter [in]"' in lines_of(found)


def test_a_length_without_a_unit_is_left_open(tmp_path: Path) -> None:
    text = TABLE.replace("Hole dia (in)", "Hole dia").replace("Qty", "Direction")
    found = propose_reading(written(tmp_path, text))
    assert found is not None
    assert found.columns["Hole dia"] == "hole_diameter […]"
    assert "the unit of 'Hole dia' in place of …" in found.open


def test_nothing_is_proposed_for_our_own_form_or_for_what_is_no_schedule(tmp_path: Path) -> None:
    assert propose_reading(written(tmp_path, SAME, encoding="utf-8")) is None
    assert propose_reading(written(tmp_path, "name,price\na,1\n")) is None


@pytest.mark.parametrize(
    ("other", "parts"),
    [
        ({"columns": {**COLUMNS, "Hole": "overdrill [in]"}}, ["'Hole' is not a title", "row 3", "'Bar Mark'"]),
        ({"columns": {**COLUMNS, "Weight": "weight"}}, ["row 3", "'weight' is not a column"]),
        ({"columns": {**COLUMNS, "Hole dia (in)": "hole_diameter"}}, ["row 3", "no unit in square brackets"]),
        ({"every_row": {}}, ["row 3, column direction", "the column direction is missing"]),
        ({"every_row": {"direction": "down", "bar": "#4"}}, ["'bar' is a column of the schedule already"]),
        ({"header_row": 9}, ["the schedule is empty; row 9 must be a header"]),
        ({"encoding": "utf-8"}, ["is not UTF-8 text", "line 4", "0x96"]),
        ({"decimal": "point"}, ["row 5, column hole_diameter", "0,75", "comma"]),
    ],
)
def test_what_does_not_fit_is_told(tmp_path: Path, other: dict[str, object], parts: list[str]) -> None:
    path = written(tmp_path)
    told = sentences(path, as_told(path, **other))
    assert all(part in told for part in parts), told


def test_a_point_beside_decimal_commas_is_no_number(tmp_path: Path) -> None:
    path = written(tmp_path, TABLE.replace("0,75", "1.125"))
    told = sentences(path, as_told(path))
    assert "row 5, column hole_diameter" in told
    assert "the decimal mark is a comma" in told


def test_a_column_without_a_title_is_not_lost(tmp_path: Path) -> None:
    rows = TABLE.replace(";Weight", ";Weight;").replace("12,5", "12,5;").replace("Q-4;", "Q-4;;")
    assert len(read(written(tmp_path, rows))) == 2
    path = written(tmp_path, rows.replace("12,5;", "12,5;overhead"))
    assert "row 3, column 7: the header cell is empty" in sentences(path, as_told(path))


@pytest.mark.parametrize("row", [0, 51, "3", True])
def test_the_header_row_is_a_number(row: object) -> None:
    with pytest.raises(ValueError, match="is not the number of a row; accepted: a whole number from 1 to 50"):
        ScheduleFile.model_validate({"file": "bars.csv", "header_row": row})


def test_two_commas_are_refused() -> None:
    with pytest.raises(ValueError, match="are both a comma"):
        ScheduleFile.model_validate({"file": "bars.csv", "decimal": "comma"})


def test_check_proposes_and_writes_only_when_told(folder: Folder, capsys: pytest.CaptureFixture[str]) -> None:
    text = "Mark,Qty,Bar size,Hole dia (mm),Embedment (mm),Direction\nS1,4,12,16,150,down\n"
    (folder.path / "schedule.csv").write_text(text, encoding="utf-8")
    before = (folder.path / "job.toml").read_text(encoding="utf-8")
    assert cli.main(["check", str(folder.path)]) == 2
    assert '"Hole dia (mm)" = "hole_diameter [mm]"' in capsys.readouterr().out
    assert (folder.path / "job.toml").read_text(encoding="utf-8") == before
    assert cli.main(["check", str(folder.path), "--take-columns"]) in (0, 1)
    job = load_job(folder.path)
    assert [(group.mark, group.hole_diameter) for group in job.groups] == [("S1", 16.0)]
    with pytest.raises(InputErrors, match="another program's table is read here by columns"):
        save_group(job, mark="S1", values={"embedment": "160 mm"})


def test_what_is_open_is_not_written(folder: Folder, capsys: pytest.CaptureFixture[str]) -> None:
    text = "Mark,Qty,Bar size,Hole dia,Embedment (mm),Direction\nS1,4,12,16,150,down\n"
    (folder.path / "schedule.csv").write_text(text, encoding="utf-8")
    before = (folder.path / "job.toml").read_bytes()
    assert cli.main(["check", str(folder.path), "--take-columns"]) == 2
    assert "the unit of 'Hole dia'" in capsys.readouterr().err
    assert (folder.path / "job.toml").read_bytes() == before
