"""A workbook file of numbers, formulas with the values that they have, and texts that can never become formulas.

The file is the same to the last byte for the same content: no clock, no machine.
"""

from __future__ import annotations

import io
import math
import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_rowcol_to_cell

from calc.base.canonical import canonical
from calc.base.look.tokens import COLOUR

_OPENING = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
_LONGEST = 32_000  # a cell holds 32,767 characters
_LINE, _LETTERS = 13, 1.3  # height of a line; letters of text to a letter of a column's width
_HIGHEST, _MOST_LINKS = 400, 65_000  # points; a sheet holds 65,530 links, and beyond stands their text
_PAPER = {"a4": 9, "us-letter": 1}
_FONT = {"font_name": "Arial", "font_size": 10, "valign": "top"}
_HEAD = {"bold": True, "bg_color": COLOUR["shade"], "bottom": 1, "bottom_color": COLOUR["quiet"], "text_wrap": True}
WRONG = {"bold": True, "font_color": COLOUR["failure"]}
WRAP, RIGHT, CENTRE = {"text_wrap": True}, {"align": "right"}, {"align": "center"}
UNIT = {"align": "left", "indent": 1}  # what stands to the right of a number

# How many decimals a number of this unit is worth showing; the cell holds all of its digits.
_FORMATS = {
    "": "[=0]0;[<0.001]0.00E+00;0.0000",
    "pcs": "#,##0",
    "%": "0.0#",
    "°": "0.##",
    **dict.fromkeys(("mm³", "N", "lbf", "psi"), "#,##0"),
    **dict.fromkeys(("mm", "mm²", "MPa", "mL", "kN", "N/mm", "min", "h", "kg", "°C", "°F"), "#,##0.00"),
    **dict.fromkeys(("in", "in²", "in³", "fl oz", "ft³", "L", "kip", "lbf/in"), "#,##0.000"),
}
_ANY = "#,##0.####"


def number_format(unit: str) -> str:
    """Return the format in which a number of this unit is shown."""
    return _FORMATS.get(unit, _ANY)


def cell_text(text: str) -> str:
    """Return a text as a cell can hold it.

    Characters that a workbook forbids by their code, and not longer than a cell.

    >>> cell_text("a" + chr(0) + "b")
    'a[U+0000]b'
    """
    clean = re.sub(
        r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]", lambda found: f"[U+{ord(found.group()):04X}]", text
    )
    return clean if len(clean) <= _LONGEST else f"{clean[:_LONGEST]}… (cut; in full in results.json)"


@dataclass(frozen=True)
class BookCell:
    """What stands in a cell, and how.

    Attributes
    ----------
    value
        A number, a text, or nothing; of a formula the value that it has.
    formula
        With its sign of equality; empty for a value.
    target
        Where a click leads, as ``'sheet'!A1``; empty for nowhere.
    style
        Properties of its format.
    exact
        Whether a number keeps all of its digits: an input, since ten digits less ten digits leave too few.
    """

    value: object
    formula: str = ""
    target: str = ""
    style: Mapping[str, Any] = field(default_factory=dict)
    exact: bool = False


@dataclass(frozen=True)
class ListColumn:
    """A column of a table: its head, its width in letters, the format of its cells."""

    head: str
    width: float
    style: Mapping[str, Any] = field(default_factory=dict)


def numbers(head: str, unit: str, width: float) -> ListColumn:
    """Return a column of numbers of one unit."""
    style = {"num_format": number_format(unit), **RIGHT}
    return ListColumn(f"{head} [{unit}]" if unit not in ("", "pcs") else head, width, style)


class Book:
    """A workbook under way.

    Parameters
    ----------
    title
        Of the file, and on top of each printed page.
    made
        When it says that it was made.
    paper
        ``a4`` or ``us-letter``.
    """

    def __init__(self, title: str, made: datetime, paper: str) -> None:
        self._body = io.BytesIO()
        self._book = xlsxwriter.Workbook(self._body, {"in_memory": True})
        self._book.set_properties({"title": cell_text(title)[:200], "author": "calc", "created": made})
        self._book.set_calc_mode("auto")
        self._title, self._paper = cell_text(title)[:120], _PAPER[paper]
        self._styles: dict[tuple[tuple[str, Any], ...], Any] = {}

    def define(self, name: str, formula: str) -> None:
        """Give a formula a name that holds in the whole workbook."""
        self._book.define_name(name, formula)

    def sheet(self, name: str) -> Any:
        """Add a sheet that prints across, as wide as its page, with its name and the number of the page."""
        sheet = self._book.add_worksheet(name)
        sheet.set_landscape()
        sheet.set_paper(self._paper)
        sheet.fit_to_pages(1, 0)
        sheet.set_margins(left=0.5, right=0.5, top=0.7, bottom=0.6)
        sheet.set_header(f"&L&9{self._title.replace('&', '&&')}&R&9{name}")
        sheet.set_footer("&R&9&P / &N")
        return sheet

    def style(self, properties: Mapping[str, Any]) -> Any:
        """Return a format, each made once."""
        key = tuple(sorted((_FONT | dict(properties)).items()))
        if key not in self._styles:
            self._styles[key] = self._book.add_format(dict(key))
        return self._styles[key]

    def put(self, sheet: Any, row: int, column: int, value: object, style: Mapping[str, Any] | None = None) -> None:
        """Write a cell, rows and columns counted from nought; what is no `BookCell` is a value."""
        cell = value if isinstance(value, BookCell) else BookCell(value)
        given, properties = _plain(cell.value, exact=cell.exact), dict(style or {}) | dict(cell.style)
        if isinstance(given, str) and not cell.formula and given.startswith(_OPENING):
            properties["quote_prefix"] = True  # stays a text when somebody edits the cell
        look = self.style(properties)
        if cell.formula:
            sheet.write_formula(row, column, cell.formula, look, "" if given is None else given)
        elif given is None:
            sheet.write_blank(row, column, None, look)
        elif isinstance(given, str) and cell.target and sheet.hlink_count < _MOST_LINKS:
            sheet.write_url(row, column, f"internal:{cell.target}", look, given)
        elif isinstance(given, str):
            sheet.write_string(row, column, given, look)
        else:
            sheet.write_number(row, column, given, look)

    def table(
        self,
        name: str,
        columns: Sequence[ListColumn],
        rows: Sequence[Sequence[object]],
        *,
        above: Sequence[object] = (),
        printed: int | None = None,
        last: Sequence[object] = (),
    ) -> Any:
        """Add a sheet with a table: its head frozen, filtered, and repeated on each page.

        Parameters
        ----------
        name
            Of the sheet.
        columns
            Its columns.
        rows
            Its rows; `BookCell` or value.
        above
            Cells above the head, each in a row of its own.
        printed
            How many of the columns are printed; all by default.
        last
            A row below the table, which no filter hides.

        Returns
        -------
        Worksheet
        """
        sheet, head, width = self.sheet(name), len(above), (printed or len(columns)) - 1
        for row, text in enumerate(above):
            self.put(sheet, row, 0, text)
        for index, column in enumerate(columns):
            sheet.set_column(index, index, column.width)
        heads: Sequence[object] = [BookCell(column.head, style=_HEAD) for column in columns]
        for place, cells in enumerate((heads, *rows, *([last] if last else []))):
            lines = 1
            for index, value in enumerate(cells):
                self.put(sheet, head + place, index, value, columns[index].style)
                lines = max(lines, _lines(value, columns[index]))
            sheet.set_row(head + place, min(_LINE * lines + 2, _HIGHEST))
        sheet.freeze_panes(head + 1, 1)
        sheet.autofilter(head, 0, head + max(len(rows), 1), len(columns) - 1)
        sheet.repeat_rows(0, head)
        sheet.print_area(0, 0, head + max(len(rows), 1) + bool(last), width)
        return sheet

    def content(self) -> bytes:
        """Close the workbook and return the file."""
        self._book.close()
        return self._body.getvalue()


def address(row: int, column: int, sheet: str = "", *, fixed: bool = False) -> str:
    """Return a cell's address, rows and columns counted from nought."""
    cell = xl_rowcol_to_cell(row, column, row_abs=fixed, col_abs=fixed)
    return f"'{sheet}'!{cell}" if sheet else str(cell)


def _plain(value: object, *, exact: bool = False) -> float | str | None:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and not math.isfinite(value):
        return "not a finite number"
    if value is None or isinstance(value, (int, float)):
        return value if exact else canonical(value)
    return cell_text(str(value)) or None


def _lines(value: object, column: ListColumn) -> int:
    """Lines that a text takes in its column; not every program finds out by itself how high a row is."""
    cell = value if isinstance(value, BookCell) else BookCell(value)
    text = _plain(cell.value)
    if not isinstance(text, str) or not (dict(column.style) | dict(cell.style)).get("text_wrap"):
        return 1
    room = max(1, int(column.width * _LETTERS))
    return sum(1 if len(line) <= room else len(textwrap.wrap(line, room)) for line in text.split("\n"))
