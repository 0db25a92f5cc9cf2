"""The bar schedule: what is read, and one clear sentence for each thing that is not."""

import time

import openpyxl
import pytest
from jobparts import HEADER, ROWS

from calc.files.problems import InputErrors
from calc.files.schedule import read_schedule, read_values
from calc.work.load import load_job

# cells of row 3, the column that is blamed, and what the sentence must hold
CELLS = [
    ("B,8,#5.5,22,220,,down,,", "bar", ["'#5.5'", "#5", "accepted"]),
    ("B,8,,22,220,,down,,", "bar", ["empty", "accepted"]),
    ("B,8,16,16,220,,down,,", "hole_diameter", ["'16'", "not larger than the bar 16", "above 16 up to 200 mm"]),
    ("B,8,16,14,220,,down,,", "hole_diameter", ["'14'", "not larger than the bar 16"]),
    ('B,8,16,"20,5",220,,down,,', "hole_diameter", ["'20,5' has a comma", "decimal point", "up to 200 mm"]),
    ("B,8,16,-20,220,,down,,", "hole_diameter", ["'-20' is negative", "above 0 up to 200 mm"]),
    ("B,8,16,0,220,,down,,", "hole_diameter", ["'0' is zero", "above 0"]),
    ("B,8,16,201,220,,down,,", "hole_diameter", ["'201' is too large", "200 mm"]),
    ("B,8,16,nan,220,,down,,", "hole_diameter", ["'nan' is not a finite number", "accepted"]),
    ("B,8,16,20,inf,,down,,", "embedment", ["'inf' is not a finite number", "accepted"]),
    ("B,8,16,20,1e999,,down,,", "embedment", ["'1e999' is too large a number", "accepted"]),
    ("B,8,16,20,20000,,down,,", "embedment", ["'20000' is too large", "5000 mm"]),
    ("B,8,16,20,,,down,,", "embedment", ["the cell is empty", "accepted"]),
    ("B,8,16,20,long,,down,,", "embedment", ["'long' is not a number", "accepted"]),
    ("B,8,16,20,20 cm,,down,,", "embedment", ["'20 cm' has the unit cm", "[mm]", "accepted"]),
    ("B,8,16,20,200mm,,down,,", "embedment", ["'200mm' needs one space", "accepted"]),
    ("B,8,16,20,200 MPa,,down,,", "embedment", ["'200 MPa' has the wrong kind of unit", "accepted"]),
    ("B,8,16,20,220,-1,down,,", "overdrill", ["'-1' is negative", "from 0 up to"]),
    ("B,8.5,16,20,220,,down,,", "count", ["'8.5' is not a whole number", "1 to 1000000"]),
    ("B,0,16,20,220,,down,,", "count", ["'0' is zero", "1 to 1000000"]),
    ("B,-3,16,20,220,,down,,", "count", ["'-3' is negative", "accepted"]),
    ("B,1000001,16,20,220,,down,,", "count", ["too large", "accepted"]),
    ("B,many,16,20,220,,down,,", "count", ["'many' is not a number", "accepted"]),
    ("B,,16,20,220,,down,,", "count", ["empty", "accepted"]),
    ("B,8,16,20,220,,downwards,,", "direction", ["'downwards'", "did you mean down?", "down, horizontal, overhead"]),
    ("B,8,16,20,220,,sideways,,", "direction", ["'sideways'", "down, horizontal, overhead"]),
    ("B,8,16,20,220,,,,", "direction", ["empty", "down, horizontal, overhead"]),
    ("B,8,16,20,220,,down,3,", "overfill", ["'3' is too large", "0.10"]),
    ("B,8,16,20,220,,down,10 %,", "overfill", ["'10 %'", "0.10"]),
    (",8,16,20,220,,down,,", "mark", ["empty", "such as B1"]),
    ("A,8,16,20,220,,down,,", "mark", ["'A' is already the mark of row 2"]),
]


@pytest.mark.parametrize(("row", "column", "parts"), CELLS, ids=[f"{c}-{r}" for r, c, _ in CELLS])
def test_cell(folder, row, column, parts):
    folder.schedule(HEADER, ROWS[0], row)
    message = folder.only()
    assert message.startswith(f"schedule.csv, row 3, column {column}: ")
    for part in parts:
        assert part in message


HEADERS = [
    (
        HEADER.replace("hole_diameter [mm]", "hole_diameter"),
        ["column hole_diameter", "no unit", "hole_diameter [mm]", "mm, cm, m, in, ft"],
    ),
    (
        HEADER.replace("hole_diameter [mm]", "hole_diameter (mm)"),
        ["'hole_diameter (mm)'", "square brackets", "mm, cm, m, in, ft"],
    ),
    (HEADER.replace("embedment [mm]", "embedment [MPa]"), ["column embedment", "[MPa]", "mm, cm, m, in, ft"]),
    (HEADER.replace("count", "count [mm]"), ["column count", "takes no unit"]),
    (
        HEADER.replace("hole_diameter", "hole_diametre"),
        ["'hole_diametre [mm]'", "did you mean hole_diameter?", "Accepted columns"],
    ),
    (HEADER.replace("mark", "Mark"), ["'Mark'", "did you mean mark?"]),
    (HEADER.replace("note", "count"), ["'count' is there twice", "column 2"]),
    (HEADER.replace("note", ""), ["column 9", "empty"]),
]


@pytest.mark.parametrize(("header", "parts"), HEADERS)
def test_header(folder, header, parts):
    folder.schedule(header, ROWS[0].removesuffix(",") + ",")
    message = next(m for m in folder.problems() if m.startswith("schedule.csv, row 1"))
    for part in parts:
        assert part in message


@pytest.mark.parametrize("column", ["mark", "count", "bar", "hole_diameter [mm]", "embedment [mm]", "direction"])
def test_missing_column(folder, column):
    titles, cells = HEADER.split(","), ROWS[0].split(",")
    place = titles.index(column)
    del titles[place], cells[place]
    folder.schedule(",".join(titles), ",".join(cells))
    assert (
        f"column {column.split()[0]}: the column {column.split()[0]} is missing; add '{column}' to the header"
        in folder.only()
    )


def test_optional_columns_may_be_missing(folder):
    folder.schedule("mark,count,bar,hole_diameter [mm],embedment [mm],direction", "A,1,16,20,200,down")
    (group,) = folder.load().groups
    assert (group.overdrill, group.overfill, group.note) == (0.0, None, "")


@pytest.mark.parametrize(
    ("data", "parts"),
    [
        (b"", ["the schedule is empty", "row 1 must be a header"]),
        (b"\n\n", ["the schedule is empty"]),
        (HEADER.encode() + b"\n", ["the schedule is empty", "one row for each bar group"]),
        (HEADER.encode() + b"\n,,,,,,,,\n", ["the schedule is empty"]),
        (b"\xef\xbb\xbf" + HEADER.encode() + b"\n", ["byte-order mark", "plain UTF-8"]),
        (f"{HEADER}\nA,1,16,20,200,,down,,Stra\u00dfe\n".encode("latin-1"), ["not UTF-8", "line 2", "0xDF"]),
        ("\ufeff".join(["", HEADER]).encode("utf-16-le"), ["not UTF-8"]),
        (
            HEADER.replace(",", ";").encode() + b"\nA;1;16;20;200;;down;;\n",
            ["row 1", "separated by semicolons", "commas"],
        ),
        (HEADER.replace(",", "\t").encode(), ["separated by tabs"]),
        (HEADER.encode() + b"\nA,1,16,20,200,,down,\n", ["row 2", "too few cells: 8", "has 9"]),
        (HEADER.encode() + b"\nA,1,16,20,5,200,,down,,\n", ["row 2", "too many cells: 10", "has 9", "point"]),
        (HEADER.encode() + b'\nA,1,16,20,200,,down,,"open\n', ["row 2", "quotation marks"]),
        (HEADER.encode() + b"\nA\0,1,16,20,200,,down,,\n", ["zero byte"]),
    ],
)
def test_file(folder, data, parts):
    folder.write("schedule.csv", data)
    message = folder.only()
    assert message.startswith("schedule.csv")
    for part in parts:
        assert part in message


def test_unreadable(folder):
    (folder.path / "schedule.csv").unlink()
    assert folder.only().startswith("schedule.csv: the file cannot be read: there is no such file; accepted")
    (folder.path / "schedule.csv").mkdir()
    assert "it is a folder" in folder.only()


def test_all_problems_of_all_files_at_once(folder):
    folder.edit('"400 mL"', '"400"')
    folder.edit("share", "shar")
    folder.write("adhesive.toml", "invented = true\n")
    folder.schedule(HEADER, 'A,1.5,17.3,"20,5",-1,,up,,', "A,1,16,12,200,,down,,")
    found = folder.problems()
    assert len(found) == 3 + 7
    assert [m.split(",")[0] for m in found] == ["job.toml"] * 2 + ["adhesive.toml"] + ["schedule.csv"] * 7
    assert sorted({m.split(": ")[0] for m in found if m.startswith("schedule")}) == [
        f"schedule.csv, row {r}, column {c}"
        for r, c in [
            (2, "bar"),
            (2, "count"),
            (2, "direction"),
            (2, "embedment"),
            (2, "hole_diameter"),
            (3, "hole_diameter"),
            (3, "mark"),
        ]
    ]


def test_a_broken_header_does_not_hide_broken_cells(folder):
    folder.schedule(HEADER.replace("embedment [mm]", "embedment"), "A,1,16,-20,200,,down,,")
    assert len(folder.problems()) == 2


@pytest.mark.parametrize(
    ("unit", "hole", "depth"), [("mm", "20", "200"), ("cm", "2", "20"), ("m", "0.02", "0.2"), ("mm", "20 mm", "200 mm")]
)
def test_units_of_the_header(folder, unit, hole, depth):
    folder.schedule(HEADER.replace("[mm]", f"[{unit}]"), f"A,12,16,{hole},{depth},,down,,")
    group = folder.load().group("A")
    assert (group.hole_diameter, group.embedment) == (20.0, 200.0)
    assert group.given["hole_diameter"] == f"{hole.split()[0]} {unit}"


@pytest.mark.parametrize(
    ("cell", "mm"),
    [("5/8", 15.875), ("1-1/8", 28.575), ("1 1/8", 28.575), ("1-1/8 in", 28.575), ("0.75", 19.05), ("3/4 in", 19.05)],
)
def test_inches(folder, cell, mm):
    folder.schedule(HEADER.replace("[mm]", "[in]"), f"A,1,#4,{cell},8,,down,,")
    assert folder.load().group("A").hole_diameter == mm


def test_equal_inches_are_not_larger_by_rounding(folder):
    folder.schedule(HEADER.replace("[mm]", "[in]"), "A,1,#6,3/4,8,,down,,")
    assert "'3/4' is not larger than the bar #6, 0.75 in" in folder.only()


def test_other_unit_under_inches_is_refused(folder):
    folder.schedule(HEADER.replace("[mm]", "[in]"), "A,1,#4,20 mm,8,,down,,")
    assert "'20 mm' has the unit mm, but the header of this column says [in]" in folder.only()


def test_depth_to_tip(folder):
    header = HEADER.replace("overdrill", "depth_to_tip")
    folder.schedule(header, "A,1,16,20,200,214.663077,down,,", "B,1,16,20,200,,down,,")
    group = folder.load().group("A")
    assert group.overdrill == pytest.approx(10.0, abs=1e-5)
    assert folder.load().group("B").overdrill == 0.0
    folder.schedule(header, "A,1,16,20,200,204,down,,")
    message = folder.only()
    assert message.startswith("schedule.csv, row 2, column depth_to_tip: '204' is less than")
    assert "204.66 mm or more" in message
    folder.edit('"130 °"', '"180 °"')
    folder.schedule(header, "A,1,16,20,200,200,down,,")
    assert folder.load().group("A").overdrill == 0.0


def test_each_row_says_overdrill_or_depth_to_tip(folder):
    header = HEADER.replace("overdrill [mm]", "overdrill [mm],depth_to_tip [mm]")
    folder.schedule(header, "A,1,16,20,200,,214.663077,down,,", "B,1,16,20,200,15,,down,,", "C,1,16,20,200,,,down,,")
    assert [group.overdrill for group in folder.load().groups] == [pytest.approx(10.0, abs=1e-5), 15.0, 0.0]
    folder.schedule(header, "A,1,16,20,200,,220,down,,", "B,1,16,20,200,15,220,down,,")
    assert folder.only() == (
        "schedule.csv, row 3, column depth_to_tip: '220' stands beside an overdrill, '15'; accepted: one of the two for"
        " each row, because each follows from the other"
    )


def test_quoted_cells_with_newlines_and_blank_rows(folder):
    folder.write(
        "schedule.csv", f'{HEADER}\r\nA,1,16,20,200,,down,,"one\r\ntwo, three"\r\n\r\nB,1,16,12,200,,down,,\r\n'
    )
    assert folder.only().startswith("schedule.csv, row 4, column hole_diameter")  # as a spreadsheet numbers them
    folder.write("schedule.csv", f'{HEADER}\r\nA,1,16,20,200,,down,,"one\r\ntwo, three"\r\n')
    assert folder.load().group("A").note == "one\r\ntwo, three"


def xlsx(path, rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)


def test_workbook_reads_as_csv_does(folder):
    from_csv = folder.load().groups
    xlsx(
        folder.path / "schedule.xlsx",
        [
            HEADER.split(","),
            ["A", 12, 16, 20.0, 200, None, "down"],
            [],
            ["B", 8.0, "#5", 22, "220", 10, "overhead", 0.2, "ceiling"],
        ],
    )
    folder.edit("schedule.csv", "schedule.xlsx")
    job = folder.load()
    assert job.groups == from_csv
    assert [g.row for g in job.groups] == [2, 4]
    assert job.groups[0].given == from_csv[0].given | {"note": ""}


@pytest.mark.parametrize(
    ("row", "parts"),
    [
        (["A", 1.5, 16, 20, 200, None, "down"], ["row 2, column count", "'1.5' is not a whole number"]),
        (["A", True, 16, 20, 200, None, "down"], ["row 2, column count", "'TRUE'"]),
        (["A", 1, 16, "20,5", 200, None, "down"], ["row 2, column hole_diameter", "'20,5' has a comma"]),
        (["A", 1, 16, 20, 200, None, "down", None, "", "more"], ["row 2", "too many cells"]),
    ],
)
def test_workbook_problems(folder, row, parts):
    xlsx(folder.path / "schedule.xlsx", [HEADER.split(","), row])
    folder.edit("schedule.csv", "schedule.xlsx")
    message = folder.only()
    for part in ["schedule.xlsx", *parts]:
        assert part in message


def test_a_drawing_may_be_named(folder):
    head = HEADER.replace("note", "drawing,note")
    folder.schedule(head, 'A,4,16,20,200,,down,,"D-3, grid B/4",', "B,4,16,20,200,,down,,,")
    assert [group.drawing for group in folder.load().groups] == ["D-3, grid B/4", ""]
    folder.schedule(head, f"A,4,16,20,200,,down,,{'x' * 81},")
    assert "row 2, column drawing" in folder.only()


def test_not_a_workbook(folder):
    folder.write("schedule.xlsx", "mark,count")
    folder.edit("schedule.csv", "schedule.xlsx")
    assert "damaged and cannot be read from its start" in folder.only()


def test_a_hundred_thousand_rows(folder):
    path = folder.path / "schedule.csv"
    folder.schedule(HEADER, *(f"M{i},{i % 90 + 1},16,20,{150 + i % 100},,down,," for i in range(100_000)))
    start = time.perf_counter()
    groups, problems = read_schedule(path, point_angle=130.0)
    assert time.perf_counter() - start < 15  # a few seconds; the limit allows for a busy machine
    assert (len(groups), problems) == (100_000, [])


def test_typed_values():
    group = read_values({"bar": "#8", "hole_diameter": "1-1/8 in", "embedment": "12 in"})
    assert (group.hole_diameter, group.count, group.direction) == (28.575, 1, "down")
    with pytest.raises(InputErrors) as caught:
        read_values({"bar": "16", "hole_diameter": "20", "embedment": "2,5 mm", "depht_to_tip": "1 mm"})
    text = str(caught.value)
    assert "panel, field hole_diameter: '20' has no unit" in text
    assert "panel, field embedment: '2,5 mm' has a comma" in text
    assert "did you mean depth_to_tip?" in text


def test_group_by_mark(folder):
    with pytest.raises(KeyError, match="no bar group has the mark 'Z'"):
        load_job(folder.path).group("Z")
