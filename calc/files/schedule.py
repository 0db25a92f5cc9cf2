"""The bar schedule: a CSV or XLSX table with one bar group in each row, read strictly.

The header names the columns and gives their units in square brackets, so a cell holds a bare number. Nothing is guessed: what
cannot be read is a `Problem` that names row, column, value and what is accepted, and all problems are collected.
"""

from __future__ import annotations

import csv
import datetime
import gc
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

from calc.base.bars import Bar, UnknownBar, find_bar
from calc.base.errors import CalcError
from calc.base.units import UnitError, convert, parse_number, parse_quantity
from calc.files.problems import InputErrors, Problem, nearest, without_value
from calc.fill.hole import tip_depth

DIRECTIONS = ("down", "horizontal", "overhead")
LENGTH_UNITS = ("mm", "cm", "m", "in", "ft")
REQUIRED = ("mark", "count", "bar", "hole_diameter", "embedment", "direction")
COLUMNS = ("mark", "count", "bar", "hole_diameter", "embedment", "overdrill", "depth_to_tip", "direction", "overfill", "note")
HEADER = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"

LARGEST_COUNT = 1_000_000
LARGEST_OVERFILL = 2.0
LONGEST_MARK, LONGEST_NOTE = 40, 10_000

# Smallest and largest length [mm]; zero is accepted only where `_ZERO_IS_FINE` says so.
_LENGTHS: dict[str, float] = {"hole_diameter": 200.0, "embedment": 5000.0, "overdrill": 5000.0, "depth_to_tip": 10500.0}
_ZERO_IS_FINE = frozenset({"overdrill"})
_NOISE = 1e-6  # mm; below this a difference of typed lengths is rounding, not a length

_TITLE = re.compile(r"(?P<name>[^\[\]]*?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")


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
    note: str = ""
    given: Mapping[str, str] = field(default_factory=dict, compare=False)
    row: int = field(default=0, compare=False)

    @property
    def overdrill_from(self) -> str:
        """The column that the overdrill comes from; empty when none was given."""
        return next((name for name in ("overdrill", "depth_to_tip") if self.given.get(name)), "")


@dataclass(frozen=True)
class Column:
    """A column of the header: its name, its position, and its unit if it has one."""

    name: str
    index: int
    unit: str | None


def tidy(value: float) -> float:
    """Drop the last bits that a conversion leaves behind: 3/4 in is 19.05 mm, not 19.049999999999997."""
    return float(f"{value:.12g}")


# ---- single cells: each reader returns (value, "") or (NaN, what is wrong), so that equal cells are read once ----

_NAN = float("nan")


def _read_length(name: str, text: str, unit: str | None) -> tuple[float, str]:
    """Read a length in mm. With ``unit`` None the text must carry its own."""
    top, zero = _LENGTHS[name], name in _ZERO_IS_FINE
    wanted = unit or "mm"
    accepted = f"accepted: {'from 0' if zero else 'above 0'} up to {convert(top, 'mm', wanted):.6g} {wanted}"
    if not text:
        example = "a number" if unit else "a number with its unit, such as 200 mm"
        return _NAN, f"the {'cell' if unit else 'field'} is empty; write {example}; {accepted}"
    try:
        number, own = _number_and_unit(text, unit)
    except UnitError as error:
        return _NAN, f"{without_value(str(error))}; {accepted}"
    value = tidy(convert(number, own, "mm"))
    if value < 0 or value > top or (value == 0 and not zero):
        kind = "is negative" if value < 0 else "is zero" if value == 0 else "is too large"
        return _NAN, f"{kind}; {accepted}"
    return value, ""


def _number_and_unit(text: str, unit: str | None) -> tuple[float, str]:
    if unit is None:
        quantity = parse_quantity(text, "mm")
        return quantity.value, quantity.unit
    try:
        return parse_number(text), unit
    except UnitError as error:
        plain = error
    if not any(c.isalpha() for c in text) or without_value(str(plain)).startswith(("is not a finite", "is too large")):
        raise plain
    quantity = parse_quantity(text, unit)
    if quantity.unit != unit:
        raise UnitError(f"'{text}' has the unit {quantity.unit}, but the header of this column says [{unit}]; write the number in {unit}")
    return quantity.value, unit


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
    return f"is not a direction{f'; did you mean {near}?' if near else ''}; accepted: {', '.join(DIRECTIONS)}".replace("?;", "? —")


def _wrong_text(name: str, text: str) -> str:
    longest = LONGEST_MARK if name == "mark" else LONGEST_NOTE
    if name == "mark" and not text:
        return f"the cell is empty; write a mark that names the group, such as B1, up to {LONGEST_MARK} characters"
    if len(text) > longest:
        return f"is too long; accepted: up to {longest} characters"
    if name == "mark" and not text.isprintable():
        return "has a line break or another character that does not print; accepted: one line of text"
    return ""


@lru_cache(maxsize=65536)
def _read_cell(name: str, text: str, unit: str | None) -> tuple[Any, str, str]:
    """Read a cell whose text comes again in other rows; returns the value, what is wrong, and the text as typed with its unit."""
    if name in _LENGTHS:
        return *_read_length(name, text, unit), f"{text} {unit}" if unit and not text.endswith(unit) else text
    if name == "direction":
        return text, _read_direction(text), text
    return *_READERS[name](text), text


_READERS: Mapping[str, Callable[[str], tuple[Any, str]]] = {"bar": _read_bar, "count": _read_count, "overfill": _read_overfill}
_FREE = frozenset({"mark", "note"})
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
        phi, top = convert(bar.diameter, "mm", unit), convert(_LENGTHS["hole_diameter"], "mm", unit)
        message = f"is not larger than the bar {bar.designation}, {phi:.5g} {unit}; accepted: a hole above {phi:.5g} up to {top:.6g} {unit}"
        wrong.append((f"{place}hole_diameter", cells["hole_diameter"], message))
    depth, embedment = values.get("depth_to_tip"), values.get("embedment")
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
        Column name to text, such as ``{"bar": "16", "hole_diameter": "20 mm", "embedment": "200 mm"}``. ``mark``, ``count`` and
        ``direction`` may be left out: ``own values``, 1, ``down``.
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
    problems = [Problem(source, f"field {name}", "", _unknown_column(name)) for name in unknown]
    if fields.get("overdrill") and fields.get("depth_to_tip"):
        problems.append(Problem(source, "field depth_to_tip", fields["depth_to_tip"], "stands beside an overdrill; accepted: one of them"))
    elif fields.get("depth_to_tip") and point_angle is None:
        problems.append(Problem(source, "field depth_to_tip", fields["depth_to_tip"], "needs the point angle of the drill bit"))
    group, wrong = _read_row({n: t for n, t in fields.items() if n in COLUMNS}, {}, "field ", 0, point_angle)
    problems += [Problem(source, *parts) for parts in wrong]
    if problems or group is None:
        raise InputErrors(problems)
    return group


# ---- the header ----


def _unknown_column(name: str) -> str:
    near = nearest(name, COLUMNS)
    hint = f"did you mean {near}? " if near else ""
    return f"is not a column that is read here; {hint}Accepted columns: {', '.join(COLUMNS)}"


def read_header(titles: Iterable[str], *, file: str) -> tuple[list[Column], list[Problem]]:
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
        The columns that are understood, and what is wrong with the others.
    """
    columns: list[Column] = []
    problems: list[Problem] = []
    seen: dict[str, int] = {}
    blamed: set[str] = set()
    for index, title in enumerate(titles):
        match = _TITLE.fullmatch(title.strip())
        name, unit = (match["name"], match["unit"]) if match else (title.strip(), None)
        place = f"row 1, column {index + 1}"
        if name not in COLUMNS:
            bare = re.split(r"[\s(\[{]", name)[0]
            if bare in _LENGTHS:  # such as "hole_diameter (mm)": the name is right, the unit is not in square brackets
                blamed.add(bare)
                problems.append(Problem(file, place, title, _bracket_sentence(bare)))
                continue
            near = nearest(name, COLUMNS)
            blamed.update([near] if near else [])
            message = _unknown_column(name) if title.strip() else "the header cell is empty; name the column or delete it"
            problems.append(Problem(file, place, title.strip(), message))
        elif name in seen:
            problems.append(Problem(file, place, title, f"is there twice, first in column {seen[name] + 1}; accepted: each column once"))
        else:
            seen[name] = index
            message = _wrong_unit(name, unit)
            if message:
                problems.append(Problem(file, f"row 1, column {name}", title, message))
            else:
                columns.append(Column(name, index, unit))
    if "overdrill" in seen and "depth_to_tip" in seen:
        message = "stands beside overdrill; accepted: one of the two columns, because each follows from the other"
        problems.append(Problem(file, "row 1, column depth_to_tip", "depth_to_tip", message))
    for name in REQUIRED:
        if name not in seen and name not in blamed:
            written = f"{name} [mm]" if name in _LENGTHS else name
            problems.append(Problem(file, f"row 1, column {name}", "", f"the column {name} is missing; add '{written}' to the header"))
    return columns, problems


def _bracket_sentence(name: str) -> str:
    return f"has no unit in square brackets; write '{name} [mm]'; accepted units: {', '.join(LENGTH_UNITS)}"


def _wrong_unit(name: str, unit: str | None) -> str:
    if name not in _LENGTHS:
        return f"takes no unit; write '{name}'" if unit is not None else ""
    if unit is None:
        return _bracket_sentence(name)
    if unit.strip() not in LENGTH_UNITS or unit != unit.strip():
        return f"has the unit [{unit}], which is not a length that is read here; accepted units: {', '.join(LENGTH_UNITS)}"
    return ""


# ---- the file ----


@contextmanager
def _without_collection() -> Iterator[None]:
    """Build many small objects, none of which refers back to another, without the collector looking through all of them again and again."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


@_without_collection()
def read_schedule(path: Path, *, name: str | None = None, point_angle: float | None = None) -> tuple[tuple[BarGroup, ...], list[Problem]]:
    """Read a bar schedule; never raises for what the file holds.

    Parameters
    ----------
    path
        A ``.csv`` or ``.xlsx`` file.
    name
        What a `Problem` calls the file; its own name by default.
    point_angle
        Included point angle [°] of the drill bit, needed for a ``depth_to_tip`` column.

    Returns
    -------
    tuple
        The groups in the order of the rows, lengths in [mm], and everything that is wrong.
    """
    file = name or path.name
    problems: list[Problem] = []
    try:
        rows = _xlsx_rows(path) if path.suffix.lower() == ".xlsx" else _csv_rows(path)
        header = next(rows, None)
        if header is None or not any(header):
            return (), [Problem(file, "", "", f"the schedule is empty; row 1 must be a header such as {HEADER}")]
        if stop := _wrong_separator(header, file, path):
            return (), [stop]
        columns, problems = read_header(header, file=file)
        return _read_body(rows, header, columns, problems, file, point_angle), problems
    except _Unreadable as error:
        return (), [*problems, Problem(file, error.place, error.value, error.message)]


def _read_body(
    rows: Iterator[list[str]], header: list[str], columns: list[Column], problems: list[Problem], file: str, point_angle: float | None
) -> tuple[BarGroup, ...]:
    groups: list[BarGroup] = []
    first_row: dict[str, int] = {}
    units = {c.name: c.unit for c in columns}
    picks = [(c.name, c.index) for c in columns]
    at = next((c.index for c in columns if c.name == "mark"), 0)
    width, filled = len(header), 0
    for row, cells in enumerate(rows, start=2):
        if not any(cells):
            continue
        filled += 1
        if len(cells) != width:
            fewer = "few" if len(cells) < width else "many"
            message = f"the row has too {fewer} cells: {len(cells)}, and the header has {width}; accepted: one cell for each column"
            if len(cells) > width:
                message += "; write decimals with a point, and put text that holds a comma in quotation marks"
            problems.append(Problem(file, f"row {row}", "", message))
            continue
        group, wrong = _read_row({n: cells[i] for n, i in picks}, units, f"row {row}, column ", row, point_angle)
        if wrong:
            problems.extend(Problem(file, *parts) for parts in wrong)
        if "mark" in units:
            mark = cells[at]
            if mark and mark in first_row:
                message = f"is already the mark of row {first_row[mark]}; accepted: a mark that no other row has"
                problems.append(Problem(file, f"row {row}, column mark", mark, message))
            first_row.setdefault(mark, row)
        if group is not None:
            groups.append(group)
    if not filled:
        message = "the schedule is empty: there is no row below the header; accepted: one row for each bar group"
        problems.append(Problem(file, "", "", message))
    return tuple(groups)


class _Unreadable(CalcError):
    def __init__(self, message: str, place: str = "", value: str = "") -> None:
        super().__init__(message)
        self.message, self.place, self.value = message, place, value


def decode(data: bytes) -> str:
    """Return the text of a UTF-8 file; raises `InputErrors` with an unnamed file for anything else."""
    if data.startswith(b"\xef\xbb\xbf"):
        message = "the file starts with a byte-order mark; save it as plain UTF-8 without one ('UTF-8', not 'UTF-8 with BOM')"
        raise InputErrors([Problem("", "", "", message)])
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        message = f"the file is not UTF-8 text: line {line} holds the byte 0x{data[error.start]:02X}; accepted: a file saved as UTF-8"
        raise InputErrors([Problem("", "", "", message)]) from None


def read_bytes(path: Path) -> bytes:
    """Return a file's bytes; raises `InputErrors` with an unnamed file and a sentence when it cannot be read."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        reason = "there is no such file"
    except IsADirectoryError:
        reason = "it is a folder"
    except PermissionError:
        reason = "it is a folder" if path.is_dir() else "permission is denied"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
    raise InputErrors([Problem("", "", "", f"the file cannot be read: {reason}; accepted: the path of a file that you may read")])


def split_records(text: str) -> list[tuple[str, list[str]]]:
    """Split CSV text into records: the record's own characters, line end included, and its cells, stripped.

    Raises
    ------
    csv.Error
        For quotation marks that do not match; ``row`` is in its arguments.
    """
    # Not str.splitlines: a form feed or a Unicode line separator inside a cell is no line end of a CSV file.
    lines = re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+", text)
    reader = csv.reader(lines, strict=True)
    records: list[tuple[str, list[str]]] = []
    start = 0
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return records
        except csv.Error as error:
            raise csv.Error(str(error), len(records) + 1) from None
        records.append(("".join(lines[start : reader.line_num]), [cell.strip() for cell in cells]))
        start = reader.line_num


def _csv_rows(path: Path) -> Iterator[list[str]]:
    try:
        text = decode(read_bytes(path))
    except InputErrors as error:
        raise _Unreadable(error.problems[0].message) from None
    if "\0" in text:
        raise _Unreadable("the file holds a zero byte; accepted: CSV text saved as UTF-8")
    try:
        records = split_records(text)
    except csv.Error as error:
        row = error.args[1]
        accepted = "accepted: a cell in one pair of marks, a mark inside it doubled"
        message = f"the quotation marks of the row do not match ({error.args[0]}); {accepted}"
        raise _Unreadable(message, f"row {row}") from None
    while records and not any(records[-1][1]):
        records.pop()
    return iter([cells for _, cells in records])


def _wrong_separator(header: list[str], file: str, path: Path) -> Problem | None:
    if path.suffix.lower() == ".xlsx" or len(header) > 1:
        return None
    for mark, name in ((";", "semicolons"), ("\t", "tabs"), ("|", "vertical bars")):
        if mark in header[0]:
            message = f"the cells are separated by {name}; accepted: commas between cells and a decimal point in numbers"
            return Problem(file, "row 1", header[0], f"cannot be split into columns: {message}")
    return None


def _xlsx_rows(path: Path) -> Iterator[list[str]]:
    try:
        read_bytes(path)
    except InputErrors as error:
        raise _Unreadable(error.problems[0].message) from None
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, TypeError) as error:
        raise _Unreadable(f"the file is not a workbook that can be read ({type(error).__name__}); accepted: .xlsx, or .csv") from None
    try:
        if not book.worksheets:
            raise _Unreadable("the workbook has no sheet with cells; accepted: the schedule on the first sheet")
        sheet = cast(Any, book.worksheets[0])
        sheet.reset_dimensions()  # some programs write a wrong size, and the reader would believe it
        rows = [[_cell_text(value) for value in row] for row in sheet.iter_rows(values_only=True)]
    finally:
        book.close()
    width = len(_trimmed(rows[0])) if rows else 0
    while rows and not any(rows[-1]):
        rows.pop()
    # A workbook has no ragged rows: short ones are filled up, and only cells with something in them count as too many.
    return iter([cells + [""] * (width - len(cells)) for cells in map(_trimmed, rows)])


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
