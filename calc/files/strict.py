"""Tables that people write: text files, and rows below a header that gives units in square brackets, read strictly.

A cell holds a bare number, because its column's title names the unit. Nothing is guessed: what cannot be read is a
`Problem` that names row, column, value and what is accepted, and all problems are collected.
"""

from __future__ import annotations

import csv
import hashlib
import re
import stat
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from calc.base.units import UnitError, convert, parse_number, parse_quantity, same_kind
from calc.files.problems import InputErrors, Problem, nearest, without_value

LARGEST_FILE = 200 * 2**20  # bytes; a schedule of 100,000 rows has a thirtieth of it
LENGTH_UNITS = ("mm", "cm", "m", "in", "ft")
LONGEST_MARK, LONGEST_NOTE = 40, 10_000
_TITLE = re.compile(r"(?P<name>[^\[\]]*?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}
_NAN = float("nan")


def tidy(value: float) -> float:
    """Drop the last bits that a conversion leaves behind: 3/4 in is 19.05 mm, not 19.049999999999997."""
    return float(f"{value:.12g}")


# ---- files ---------------------------------------------------------------------------------------


def decode(data: bytes, file: str = "", encoding: str = "utf-8") -> str:
    """Return the text of a UTF-8 file; raises `InputErrors`, which call it ``file``, for anything else.

    ``encoding`` is another one that somebody said: ``utf-8-sig``, with a byte-order mark or without, or ``cp1252``.
    """
    if encoding == "utf-8" and data.startswith(b"\xef\xbb\xbf"):
        message = (
            "the file starts with a byte-order mark; save it as plain UTF-8 without one ('UTF-8', not 'UTF-8 with BOM')"
        )
        raise InputErrors([Problem(file, "", "", message)])
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        name = encoding.partition("-sig")[0].upper()
        message = (
            f"the file is not {name} text: line {line} holds the byte 0x{data[error.start]:02X}; accepted: a file saved"
            f" as {name}"
        )
        raise InputErrors([Problem(file, "", "", message)]) from None


def read_bytes(path: Path, file: str = "") -> bytes:
    """Return a file's bytes; raises `InputErrors`, which call it ``file``, with a sentence when it cannot be read."""
    try:
        found = path.stat()
        if stat.S_ISREG(found.st_mode) and found.st_size <= LARGEST_FILE:
            return path.read_bytes()
        # A device or a pipe may never end, and is not opened at all.
        reason = (
            f"it is larger than {LARGEST_FILE // 2**20} MB"
            if stat.S_ISREG(found.st_mode)
            else "it is a folder"
            if stat.S_ISDIR(found.st_mode)
            else "it is a device or a pipe"
        )
    except FileNotFoundError:
        reason = "there is no such file"
    except PermissionError:
        reason = "permission is denied"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
    raise InputErrors(
        [Problem(file, "", "", f"the file cannot be read: {reason}; accepted: the path of a file that you may read")]
    )


def split_records(text: str, separator: str = ",") -> list[tuple[str, list[str]]]:
    """Split CSV text into records: the record's own characters, line end included, and its cells, stripped.

    ``separator`` stands between the cells.

    Raises
    ------
    csv.Error
        For quotation marks that do not match; ``row`` is in its arguments.
    """
    # Not str.splitlines: a form feed or a Unicode line separator inside a cell is no line end of a CSV file.
    lines = re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+", text)
    reader = csv.reader(lines, strict=True, delimiter=separator)
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


# ---- columns and cells ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Column:
    """A column of the header: its name, its position, and its unit if it has one."""

    name: str
    index: int
    unit: str | None


@dataclass(frozen=True)
class Numbers:
    """What a column of numbers takes: unit inside, units that the title may name, accepted range in the unit inside.

    ``above`` keeps the low edge out; ``written`` is the unit of an example; ``kind`` names what the units measure, such
    as "a length".
    """

    unit: str
    units: tuple[str, ...]
    low: float
    high: float
    above: bool = False
    written: str = ""
    kind: str = ""

    def no_unit(self, name: str, beside: Collection[str] = ()) -> str:
        """Say that a column's title lacks its unit; of the units ``beside`` it, one that fits is the one to write."""
        written = next((unit for unit in beside if same_kind(unit, self.unit)), self.written or self.unit)
        return (
            f"has no unit in square brackets; write '{name} [{written}]', if its cells are in that; accepted units:"
            f" {', '.join(self.units)}"
        )

    def wrong_unit(self, name: str, unit: str | None, beside: Collection[str] = ()) -> str:
        """Say what is wrong with the unit of a column's title, or nothing."""
        if unit is None:
            return self.no_unit(name, beside)
        what = f"not {self.kind} that is read here" if self.kind else "not read here"
        return (
            ""
            if same_kind(unit, self.unit)
            else f"has the unit [{unit}], which is {what}; accepted units: {', '.join(self.units)}"
        )

    def accepted(self, unit: str) -> str:
        """Tell the range in a unit."""
        low, high = (convert(edge, self.unit, unit) for edge in (self.low, self.high))
        return (
            f"accepted: {'above' if self.above else 'from'} {f'{low:.6g} to' if low else '0 up to'} {high:.6g} {unit}"
        )

    def read(self, text: str, unit: str | None) -> tuple[float, str]:
        """Read a cell into the unit inside; return NaN and what is wrong otherwise.

        With ``unit`` None the text must carry its own.
        """
        accepted = self.accepted(unit or self.unit)
        if not text:
            example = "a number" if unit else "a number with its unit, such as 200 mm"
            return _NAN, f"the {'cell' if unit else 'field'} is empty; write {example}; {accepted}"
        try:
            number, own = _number_and_unit(text, unit, self.unit)
        except UnitError as error:
            return _NAN, f"{without_value(str(error))}; {accepted}"
        value = tidy(convert(number, own, self.unit))
        if self.low < value <= self.high or (value == self.low and not self.above):
            return value, ""
        kind = "too large" if value > self.high else "zero" if value == 0 else "negative" if value < 0 else "too small"
        return _NAN, f"is {kind}; {accepted}"


def _number_and_unit(text: str, unit: str | None, inside: str) -> tuple[float, str]:
    """Read a bare number, or one with the unit of the title; any other unit would mix units in a column."""
    if unit is None:
        quantity = parse_quantity(text, inside)
        return quantity.value, quantity.unit
    try:
        return parse_number(text), unit
    except UnitError as error:
        plain = error
    if not any(c.isalpha() for c in text) or without_value(str(plain)).startswith(("is not a finite", "is too large")):
        raise plain
    quantity = parse_quantity(text, unit)
    if quantity.unit != unit:
        one = f"write the number in [{unit}], for all cells of a column are in one unit"
        raise UnitError(f"'{text}' has the unit {quantity.unit}, but the header of this column says [{unit}]; {one}")
    return quantity.value, unit


def with_unit_of(text: str, unit: str | None) -> str:
    """Return a cell as typed, with the unit of its column's title."""
    return f"{text} {unit}" if unit and text and not text.endswith(unit) else text


def wrong_text(text: str, longest: int, *, one_line: bool = True) -> str:
    """Say what is wrong with a cell of free text, or nothing."""
    if len(text) > longest:
        return f"is too long; accepted: up to {longest} characters"
    return (
        "has a line break or another character that does not print; accepted: one line of text"
        if one_line and not text.isprintable()
        else ""
    )


# ---- a table -------------------------------------------------------------------------------------


class Table:
    """Reads one table and collects what is wrong with it.

    ``named`` are the columns that its header names, well or badly; ``header_row`` is the header's in the file.
    """

    def __init__(self, file: str, columns: Sequence[str], numbers: Mapping[str, Numbers]) -> None:
        self.file, self.columns, self.numbers = file, columns, numbers
        self.problems: list[Problem] = []
        self.named: set[str] = set()
        self.header_row = 1
        self.sha256 = ""

    def wrong(self, place: str, value: str, message: str) -> None:
        """Note a problem."""
        self.problems.append(Problem(self.file, place, value, message))

    def stop(self, message: str, value: str = "", place: str = "") -> NoReturn:
        """Raise `InputErrors` with all problems and a last one."""
        raise InputErrors([*self.problems, Problem(self.file, place, value, message)])

    def records(self, path: Path, *, encoding: str = "utf-8", separator: str = ",") -> list[list[str]]:
        """Return the cells of every row of a CSV file; raises `InputErrors` for what cannot be split into cells."""
        data = read_bytes(path, self.file)
        self.sha256 = hashlib.sha256(data).hexdigest()
        text = decode(data, self.file, encoding)
        if "\0" in text:
            self.stop("the file holds a zero byte; accepted: CSV text saved as UTF-8")
        try:
            records = [cells for _, cells in split_records(text, separator)]
        except csv.Error as error:
            accepted = "accepted: a cell in one pair of marks, a mark inside it doubled"
            self.stop(
                f"the quotation marks of the row do not match ({error.args[0]}); {accepted}",
                place=f"row {error.args[1]}",
            )
        if (
            records
            and separator == ","
            and len(records[0]) == 1
            and (words := next((words for mark, words in _SEPARATORS.items() if mark in records[0][0]), ""))
        ):
            accepted = "accepted: commas between cells and a decimal point in numbers"
            self.stop(
                f"cannot be split into columns: the cells are separated by {words}; {accepted}", records[0][0], "row 1"
            )
        return records

    def csv_alone(self, path: Path) -> list[list[str]]:
        """Return the same, and name the way out for a workbook."""
        if path.suffix.lower() in (".xlsx", ".xls", ".ods"):
            self.stop("is not read here; save the sheet as CSV, UTF-8", path.name)
        return self.records(path)

    def header(self, titles: Iterable[str]) -> dict[str, Column]:
        """Read the header; what stands in ``columns`` and not in the answer was told."""
        columns: dict[str, Column] = {}
        seen: dict[str, int] = {}
        titles = list(titles)
        beside = [match["unit"] for match in map(_TITLE.fullmatch, titles) if match and match["unit"]]
        for index, title in enumerate(titles):
            match = _TITLE.fullmatch(title.strip())
            name, unit = (match["name"], match["unit"]) if match else (title.strip(), None)
            place = f"row {self.header_row}, column {index + 1}"
            bare = re.split(r"[\s(\[{]", name)[0]
            if name in seen:
                self.wrong(
                    place, title, f"is there twice, first in column {seen[name] + 1}; accepted: each column once"
                )
            elif name in self.columns:
                seen[name] = index
                if message := self._wrong_unit(name, unit, beside):
                    self.wrong(f"row {self.header_row}, column {name}", title, message)
                else:
                    columns[name] = Column(name, index, unit)
            elif bare in self.numbers:  # such as "volume (mL)": the name is right, the unit is not in square brackets
                self.named.add(bare)
                self.wrong(place, title, self.numbers[bare].no_unit(bare, beside))
            else:
                self.named.add(nearest(name, self.columns) or "")
                self.wrong(
                    place,
                    title.strip(),
                    self.unknown(name) if title.strip() else "the header cell is empty; name the column or delete it",
                )
        self.named |= seen.keys()
        return columns

    def _wrong_unit(self, name: str, unit: str | None, beside: Collection[str]) -> str:
        if name in self.numbers:
            return self.numbers[name].wrong_unit(name, unit, beside)
        return f"takes no unit; write '{name}'" if unit is not None else ""

    def unknown(self, name: str) -> str:
        """Say that a column is not known, with the one that is probably meant."""
        near = nearest(name, self.columns)
        return (
            f"is not a column that is read here; {f'did you mean {near}? ' if near else ''}Accepted columns:"
            f" {', '.join(self.columns)}"
        )

    def owed(self, names: Iterable[str]) -> None:
        """Note each of these columns that the header does not name."""
        for name in names:
            if name not in self.named:
                numbers = self.numbers.get(name)
                written = f"{name} [{numbers.written or numbers.unit}]" if numbers else name
                self.wrong(
                    f"row {self.header_row}, column {name}",
                    "",
                    f"the column {name} is missing; add '{written}' to the header",
                )

    def rows(self, records: Sequence[list[str]]) -> Iterator[tuple[int, list[str]]]:
        """Yield number and cells of every row below the header that is not empty and has a cell for each column."""
        yield from self.whole_rows(
            ((number, cells) for number, cells in enumerate(records[1:], start=self.header_row + 1) if any(cells)),
            len(records[0]),
        )

    def whole_rows(self, rows: Iterable[tuple[int, list[str]]], width: int) -> Iterator[tuple[int, list[str]]]:
        """Yield those rows that have a cell for each of ``width`` columns; the others are told."""
        for number, cells in rows:
            if len(cells) == width:
                yield number, cells
                continue
            fewer, hint = (
                ("few", "")
                if len(cells) < width
                else ("many", "; write decimals with a point, and put text that holds a comma in quotation marks")
            )
            message = (
                f"the row has too {fewer} cells: {len(cells)}, and the header has {width}; accepted: one cell for each"
                f" column{hint}"
            )
            self.wrong(f"row {number}", "", message)

    def known_mark(self, mark: str, number: int, marks: Collection[str]) -> bool:
        """Whether a mark is that of a bar group of the schedule; says so where it is not."""
        if mark in marks:
            return True
        near = nearest(mark, marks)
        hint = f"did you mean {near}? " if near else ""
        self.wrong(
            f"row {number}, column mark",
            mark,
            f"is not a bar group of the schedule; {hint}Accepted: {', '.join([*marks][:20])}",
        )
        return False
