"""The bar schedule: a CSV or XLSX table with one bar group in each row, read strictly.

The header names the columns and gives their units in square brackets, so a cell holds a bare number. Nothing is
guessed: what cannot be read is a `Problem` that names row, column, value and what is accepted, and all problems are
collected.
"""

from __future__ import annotations

import datetime
import gc
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

from calc.base.bars import Bar, UnknownBar, find_bar
from calc.base.units import UnitError, convert, parse_number
from calc.files.foreign.proposing import Proposal, propose
from calc.files.foreign.reading import ENCODINGS, SEPARATORS, ScheduleFile, translated
from calc.files.problems import InputErrors, Problem, nearest, without_value
from calc.files.strict import (
    LARGEST_FILE,
    LENGTH_UNITS,
    LONGEST_MARK,
    LONGEST_NOTE,
    Column,
    Numbers,
    Table,
    read_bytes,
    tidy,
    with_unit_of,
    wrong_text,
)
from calc.fill.hole import tip_depth

DIRECTIONS = ("down", "horizontal", "overhead")
REQUIRED = ("mark", "count", "bar", "hole_diameter", "embedment", "direction")
COLUMNS = (
    "mark",
    "count",
    "bar",
    "hole_diameter",
    "embedment",
    "overdrill",
    "depth_to_tip",
    "direction",
    "overfill",
    "drawing",
    "note",
)
HEADER = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"

LARGEST_COUNT = 1_000_000
LARGEST_OVERFILL = 2.0
_LONGEST_DRAWING = 80
_ROWS_OF_A_SHEET = 1_048_576

_LENGTHS = {
    name: Numbers("mm", LENGTH_UNITS, 0.0, most, above=name != "overdrill", kind="a length")
    for name, most in {
        "hole_diameter": 200.0,
        "embedment": 5000.0,
        "overdrill": 5000.0,
        "depth_to_tip": 10500.0,
    }.items()
}
_NOISE = 1e-6  # mm; below this a difference of typed lengths is rounding, not a length


@dataclass(frozen=True, slots=True)
class BarGroup:
    """Bars of one kind in holes of one kind: one row of the schedule.

    Parameters
    ----------
    mark
        Name of the group.
    count
        Number of holes.
    bar
        The bar, from the published tables.
    hole_diameter
        Drilled-hole diameter [mm].
    embedment
        Length of bar in the hole [mm].
    overdrill
        Full-diameter hole beyond the bar's end, without the tip cone [mm].
    direction
        ``"down"``, ``"horizontal"`` or ``"overhead"``.
    overfill
        The group's own share of extra adhesive, or None for the job's.
    drawing
        Drawing or grid lines where the bars stand, free text.
    note
        Free text.
    given
        Column to text as typed, lengths with their unit.
    row
        Row of the spreadsheet; the header is row 1. Zero when the values did not come from a file.
    """

    mark: str
    count: int
    bar: Bar
    hole_diameter: float
    embedment: float
    overdrill: float = 0.0
    direction: str = "down"
    overfill: float | None = None
    drawing: str = ""
    note: str = ""
    given: Mapping[str, str] = field(default_factory=dict, compare=False)
    row: int = field(default=0, compare=False)


# ---- single cells: each reader returns (value, "") or (NaN, what is wrong), so that equal cells are read once ----

_NAN = float("nan")


def _read_count(text: str) -> tuple[float, str]:
    accepted = f"accepted: a whole number from 1 to {LARGEST_COUNT}"
    if not text:
        return _NAN, f"the cell is empty; {accepted}"
    try:
        value = parse_number(text)
    except UnitError as error:
        return _NAN, f"{without_value(str(error))}; {accepted}"
    if value != int(value):
        return _NAN, f"is not a whole number; {accepted}"
    if not 1 <= value <= LARGEST_COUNT:
        return _NAN, f"is {'negative' if value < 0 else 'zero' if value == 0 else 'too large'}; {accepted}"
    return value, ""


def _read_overfill(text: str) -> tuple[float, str]:
    accepted = f"accepted: empty, or a share from 0 to {LARGEST_OVERFILL:g}, such as 0.10 for ten per cent more"
    try:
        value = parse_number(text)
    except UnitError as error:
        return _NAN, f"{without_value(str(error))}; {accepted}"
    if not 0 <= value <= LARGEST_OVERFILL:
        return _NAN, f"is {'negative' if value < 0 else 'too large'}; {accepted}"
    return value, ""


def _read_bar(text: str) -> tuple[Bar | None, str]:
    if not text:
        return None, "the cell is empty; accepted: a bar such as 16, #5 or 15M"
    try:
        return find_bar(text), ""
    except UnknownBar as error:
        message = str(error)
        # The bar table's sentence is kept whole where it does not start with the value.
        return None, without_value(message) if message.startswith("'") else f"is not a known bar: {message}"


def _read_direction(text: str) -> str:
    """Return what is wrong with a direction, or nothing."""
    if text in DIRECTIONS:
        return ""
    if not text:
        return f"the cell is empty; accepted: {', '.join(DIRECTIONS)}"
    near = nearest(text, DIRECTIONS)
    return f"is not a direction{f'; did you mean {near}?' if near else ''}; accepted: {', '.join(DIRECTIONS)}".replace(
        "?;", "? —"
    )


def _wrong_text(name: str, text: str) -> str:
    if name == "mark" and not text:
        return f"the cell is empty; write a mark that names the group, such as B1, up to {LONGEST_MARK} characters"
    longest = {"mark": LONGEST_MARK, "drawing": _LONGEST_DRAWING}.get(name, LONGEST_NOTE)
    return wrong_text(text, longest, one_line=name != "note")


@lru_cache(maxsize=65536)
def _read_cell(name: str, text: str, unit: str | None) -> tuple[Any, str, str]:
    """Read a cell whose text comes again in other rows.

    Returns the value, what is wrong, and the text as typed with its unit.
    """
    if name in _LENGTHS:
        return *_LENGTHS[name].read(text, unit), with_unit_of(text, unit)
    if name == "direction":
        return text, _read_direction(text), text
    return *_READERS[name](text), text


_READERS: Mapping[str, Callable[[str], tuple[Any, str]]] = {
    "bar": _read_bar,
    "count": _read_count,
    "overfill": _read_overfill,
}
_FREE = frozenset({"mark", "drawing", "note"})
_MAY_BE_EMPTY = frozenset({"overdrill", "depth_to_tip", "overfill"})
_NEEDED = frozenset(REQUIRED)


# ---- one row ----


def _read_row(
    cells: Mapping[str, str], units: Mapping[str, str | None], place: str, row: int, point_angle: float | None
) -> tuple[BarGroup | None, list[tuple[str, str, str]]]:
    """Read one row's cells; return the group, or what is wrong as (place, value, message)."""
    wrong: list[tuple[str, str, str]] = []
    values: dict[str, Any] = {}
    given: dict[str, str] = {}
    for name, text in cells.items():
        if name in _FREE:
            value, message, typed = text, _wrong_text(name, text), text
        elif not text and name in _MAY_BE_EMPTY:
            continue
        else:
            value, message, typed = _read_cell(name, text, units.get(name))
        if message:
            wrong.append((f"{place}{name}", text, message))
        else:
            values[name] = value
            given[name] = typed
    _compare(cells, units, values, wrong, place, point_angle)
    if wrong or not values.keys() >= _NEEDED or ("depth_to_tip" in values and point_angle is None):
        return None, wrong
    return (
        BarGroup(
            mark=values["mark"],
            count=int(values["count"]),
            bar=values["bar"],
            hole_diameter=values["hole_diameter"],
            embedment=values["embedment"],
            overdrill=values.get("overdrill", 0.0),
            direction=values["direction"],
            overfill=values.get("overfill"),
            drawing=values.get("drawing", ""),
            note=values.get("note", ""),
            given=given,
            row=row,
        ),
        wrong,
    )


def _compare(
    cells: Mapping[str, str],
    units: Mapping[str, str | None],
    values: dict[str, Any],
    wrong: list[tuple[str, str, str]],
    place: str,
    point_angle: float | None,
) -> None:
    """Check values against each other; turn a depth to the tip into an overdrill."""
    hole, bar = values.get("hole_diameter"), values.get("bar")
    if hole is not None and bar is not None and hole <= bar.diameter + _NOISE:
        unit = units.get("hole_diameter") or "mm"
        phi, top = convert(bar.diameter, "mm", unit), convert(_LENGTHS["hole_diameter"].high, "mm", unit)
        message = (
            f"is not larger than the bar {bar.designation}, {phi:.5g} {unit}; accepted: a hole above {phi:.5g} up to"
            f" {top:.6g} {unit}"
        )
        wrong.append((f"{place}hole_diameter", cells["hole_diameter"], message))
    depth, embedment = values.get("depth_to_tip"), values.get("embedment")
    if cells.get("overdrill") and cells.get("depth_to_tip"):
        message = f"stands beside an overdrill, '{cells['overdrill']}'; accepted: one of the two for each row, because"
        wrong.append((f"{place}depth_to_tip", cells["depth_to_tip"], f"{message} each follows from the other"))
        return
    if depth is None or embedment is None or hole is None or point_angle is None:
        return
    cone = float(tip_depth(d_0=hole, theta=point_angle))
    overdrill = depth - embedment - cone
    if overdrill < -_NOISE:
        unit = units.get("depth_to_tip") or "mm"
        least = convert(embedment + cone, "mm", unit)
        message = (
            f"is less than the embedment and the tip cone together, {least:.5g} {unit}; "
            f"accepted: {least:.5g} {unit} or more, measured from the mouth to the point of the cone"
        )
        wrong.append((f"{place}depth_to_tip", cells["depth_to_tip"], message))
        return
    values["overdrill"] = tidy(overdrill) if overdrill > _NOISE else 0.0


def read_values(values: Mapping[str, str], *, point_angle: float | None = None, source: str = "panel") -> BarGroup:
    """Read one bar group from typed fields, by the same rules as a row of the schedule; lengths carry their unit.

    Parameters
    ----------
    values
        Column name to text, such as ``{"bar": "16", "hole_diameter": "20 mm", "embedment": "200 mm"}``. ``mark``,
        ``count`` and ``direction`` may be left out: ``own values``, 1, ``down``.
    point_angle
        Included point angle [°]; needed with ``depth_to_tip``.
    source
        What a `Problem` calls the place where the values were typed.

    Returns
    -------
    BarGroup
        Lengths in [mm].

    Raises
    ------
    InputErrors
        With a problem for each field that is not accepted.
    """
    fields = {"mark": "own values", "count": "1", "direction": "down", "hole_diameter": "", "embedment": "", "bar": ""}
    fields |= {name: text.strip() for name, text in values.items()}
    unknown = [name for name in fields if name not in COLUMNS]
    problems = [Problem(source, f"field {name}", "", _table(source).unknown(name)) for name in unknown]
    if fields.get("depth_to_tip") and point_angle is None:
        problems.append(
            Problem(source, "field depth_to_tip", fields["depth_to_tip"], "needs the point angle of the drill bit")
        )
    group, wrong = _read_row({n: t for n, t in fields.items() if n in COLUMNS}, {}, "field ", 0, point_angle)
    problems += [Problem(source, *parts) for parts in wrong]
    if problems or group is None:
        raise InputErrors(problems)
    return group


# ---- the header ----


def _table(file: str) -> Table:
    return Table(file, COLUMNS, _LENGTHS)


def read_header(titles: Iterable[str], *, file: str) -> tuple[dict[str, Column], list[Problem]]:
    """Read the header row.

    Parameters
    ----------
    titles
        Cells of row 1.
    file
        Name that a `Problem` gives.

    Returns
    -------
    tuple
        The columns that are understood, by name, and what is wrong with the others.
    """
    table = _table(file)
    columns = table.header(titles)
    table.owed(REQUIRED)
    return columns, table.problems


# ---- the file ----


@contextmanager
def without_collection() -> Iterator[None]:
    """Build many small objects, none of which refers back to another.

    Without the collector looking through all of them again and again, which makes the time grow with their square.
    """
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


@without_collection()
def read_schedule(
    path: Path, *, name: str | None = None, point_angle: float | None = None, how: ScheduleFile | None = None
) -> tuple[tuple[BarGroup, ...], list[Problem]]:
    """Read a bar schedule; never raises for what the file holds.

    Parameters
    ----------
    path
        A ``.csv`` or ``.xlsx`` file.
    name
        What a `Problem` calls the file; its own name by default.
    point_angle
        Included point angle [°] of the drill bit, needed for a ``depth_to_tip`` column.
    how
        How the table of another program is read; the workbook's own form by default.

    Returns
    -------
    tuple
        The groups in the order of the rows, lengths in [mm], and everything that is wrong.
    """
    table = _table(name or path.name)
    how = how or ScheduleFile(file=path.name)
    table.header_row = how.header_row
    try:
        records = translated(_records(path, table, how), how, table)
        if not records or not any(records[0]):
            row = how.header_row
            table.stop(f"the schedule is empty; row {row} must be a header such as {HEADER}")
    except InputErrors as error:
        return (), [*error.problems]
    columns = table.header(records[0])
    table.owed(REQUIRED)
    return _read_body(records, columns, table, point_angle), table.problems


def _records(path: Path, table: Table, how: ScheduleFile) -> list[list[str]]:
    """Return the cells of all rows of the file."""
    if path.suffix.lower() == ".xlsx":
        return sheet_records(path, table, name_sheet=False, header_row=how.header_row)
    return table.records(path, encoding=how.encoding, separator=SEPARATORS[how.separator])


def propose_reading(path: Path) -> Proposal | None:
    """Say how a schedule in another form could be read, for somebody to agree to.

    Parameters
    ----------
    path
        A ``.csv`` or ``.xlsx`` file.

    Returns
    -------
    Proposal or None
        None where it is in the workbook's own form, or cannot be read in any.
    """
    for how in _forms(path):
        table = _table(path.name)
        try:
            found = propose(_records(path, table, how), how, REQUIRED, table)
        except InputErrors:
            continue
        if found is not None:
            return found if found.keys or found.columns else None
    return None


def _forms(path: Path) -> Iterator[ScheduleFile]:
    if path.suffix.lower() == ".xlsx":
        yield ScheduleFile(file=path.name)
        return
    for encoding in ENCODINGS:
        for separator in SEPARATORS:
            yield ScheduleFile.model_construct(file=path.name, encoding=encoding, separator=separator)


def _read_body(
    records: list[list[str]], columns: Mapping[str, Column], table: Table, point_angle: float | None
) -> tuple[BarGroup, ...]:
    groups: list[BarGroup] = []
    first_row: dict[str, int] = {}
    units = {name: column.unit for name, column in columns.items()}
    picks = [(name, column.index) for name, column in columns.items()]
    for row, cells in table.rows(records):
        picked = {name: cells[index] for name, index in picks}
        group, wrong = _read_row(picked, units, f"row {row}, column ", row, point_angle)
        for parts in wrong:
            table.wrong(*parts)
        if mark := picked.get("mark"):
            first = first_row.setdefault(mark, row)
            if first != row:
                table.wrong(
                    f"row {row}, column mark",
                    mark,
                    f"is already the mark of row {first}; accepted: a mark that no other row has",
                )
        if group is not None:
            groups.append(group)
    if not any(map(any, records[1:])):
        table.wrong(
            "", "", "the schedule is empty: there is no row below the header; accepted: one row for each bar group"
        )
    return tuple(groups)


def sheet_records(
    path: Path,
    table: Table,
    *,
    text: Callable[[object], str] | None = None,
    name_sheet: bool = True,
    header_row: int = 1,
) -> list[list[str]]:
    """Return the cells of every row of a workbook's first sheet, as its program last computed them.

    Parameters
    ----------
    path
        The workbook.
    table
        What collects problems.
    text
        How a cell's value is written; dates are told as such without it.
    name_sheet
        Whether problems are to name the sheet with the file.
    header_row
        Row of the header, which says how wide the table is.

    Returns
    -------
    list of list of str
        All rows as wide as the header; an empty one has no cells.

    Raises
    ------
    InputErrors
        What cannot be read, or holds formulas that no program has computed.
    """
    read_bytes(path, table.file)
    write = text or _cell_text
    title, rows = _first_sheet(path, table, write, computed=True)
    if name_sheet:
        table.file = f"{table.file}, sheet '{title}'"
    titles = rows[header_row - 1] if len(rows) >= header_row else []
    width = len(titles)
    if any(cells and not all(cells[:width]) for cells in rows):
        _refuse_uncomputed(rows, _first_sheet(path, table, write, computed=False)[1], table, titles)
    # A workbook has no ragged rows: short ones are filled up, and only cells with something in them count as too many.
    return [cells and cells + [""] * (width - len(cells)) for cells in rows]


def _refuse_uncomputed(rows: list[list[str]], formulas: list[list[str]], table: Table, titles: Sequence[str]) -> None:
    """Refuse formulas that no program has computed yet: as values they are empty, and nobody left them empty."""
    for number, (values, texts) in enumerate(zip(rows, formulas, strict=True), start=1):
        for index, text in enumerate(texts):
            if text.startswith("=") and not any(values[index : index + 1]):
                named = titles[index].partition("[")[0].strip() if number > 1 and index < len(titles) else ""
                saved = "accepted: a workbook that a spreadsheet program computed and saved, or the number itself"
                table.wrong(
                    f"row {number}, column {named or index + 1}", text, f"is a formula without a result; {saved}"
                )
    if table.problems:
        raise InputErrors(table.problems)


def _first_sheet(
    path: Path, table: Table, write: Callable[[object], str], *, computed: bool
) -> tuple[str, list[list[str]]]:
    """Read title and cells of the first sheet; ``computed`` takes results of formulas, and their texts otherwise."""
    import openpyxl

    rows: list[list[str]] = []
    nothing: list[str] = []  # one for all empty rows, of which a cell far down makes a million
    try:
        with zipfile.ZipFile(path) as packed:
            if sum(part.file_size for part in packed.infolist()) > LARGEST_FILE:
                table.stop(
                    f"the workbook is larger than {LARGEST_FILE // 2**20} MB when unpacked; accepted: a smaller one"
                )
        book = openpyxl.load_workbook(path, read_only=True, data_only=computed)
        try:
            if not book.worksheets:
                table.stop("the workbook has no sheet with cells; accepted: the schedule on the first sheet")
            sheet = cast(Any, book.worksheets[0])
            title = str(sheet.title)
            sheet.reset_dimensions()  # some programs write a wrong size, and the reader would believe it
            for row in sheet.iter_rows(values_only=True):
                if len(rows) == _ROWS_OF_A_SHEET:
                    table.stop(f"the sheet has rows beyond the {_ROWS_OF_A_SHEET} of a worksheet; accepted: fewer rows")
                rows.append(_trimmed([write(value) for value in row]) or nothing)
        finally:
            book.close()
    except InputErrors:
        raise
    except Exception as error:  # its XML, its compression and its tables each fail in their own way
        read = f"after row {len(rows)}" if rows else "from its start"
        reason = f"the workbook is damaged and cannot be read {read} ({type(error).__name__})"
        table.stop(f"{reason}; accepted: an .xlsx file that a spreadsheet program opens, or .csv")
    return title, rows


def _trimmed(cells: list[str]) -> list[str]:
    end = len(cells)
    while end and not cells[end - 1]:
        end -= 1
    return cells[:end]


def _cell_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, (datetime.date, datetime.time)):
        return f"{value} (a date; format the cell as text)"
    return str(value).strip()
