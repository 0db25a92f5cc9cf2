"""A table as spreadsheet programs save it: .xlsx, or .csv in the marks and letters of whoever's machine it was.

What a file does not say is not guessed: a comma is a decimal mark only where the file's cells are separated by
something else, and a number that has two meanings is refused.
"""

from __future__ import annotations

import codecs
import csv
import datetime
import re
from pathlib import Path
from typing import NamedTuple

from calc.files.schedule import sheet_records
from calc.files.strict import Table, read_bytes, split_records

_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_ENCODINGS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}
_SAYS_SEPARATOR = re.compile(r'"?sep=([,;\t])"?[;,\t]*(?:\r\n|\r|\n)', re.IGNORECASE)
_TWO_MEANINGS = re.compile(r"[+-]?\d{1,3},\d{3}", re.ASCII)


class Saved(NamedTuple):
    """Rows of cells with the row's number in the file, whether a comma is a decimal mark, and how it was read."""

    rows: list[tuple[int, list[str]]]
    decimal_comma: bool = False
    said: str = ""


def read_saved(path: Path, table: Table) -> Saved:
    """Read a table that a spreadsheet program saved.

    Parameters
    ----------
    path
        A ``.xlsx`` file, or a CSV file: UTF-8 with or without a byte-order mark, UTF-16 with one, or Windows-1252;
        cells between commas, semicolons or tabs.
    table
        What collects problems; its file is named with its sheet afterwards.

    Returns
    -------
    Saved
        Without what is empty at the right and between rows.

    Raises
    ------
    InputErrors
        What cannot be read as either.
    """
    suffix = path.suffix.lower()
    if suffix == ".xlsx":
        return Saved(_filled(sheet_records(path, table, text=_cell_text)))
    if suffix in (".xls", ".ods"):
        table.stop("is not read here; accepted: the sheet saved as .xlsx or .csv", path.name)
    text = _decoded(read_bytes(path, table.file), table)
    first = 1
    if match := _SAYS_SEPARATOR.match(text):
        text, mark, first = text[match.end() :], match[1], 2
    else:
        head = text.lstrip("\r\n").partition("\n")[0]
        mark = max(_SEPARATORS, key=head.count)
    try:
        records = [cells for _, cells in split_records(text, mark)]
    except csv.Error as error:
        accepted = "accepted: a cell in one pair of marks, a mark inside it doubled"
        table.stop(
            f"the quotation marks of the row do not match ({error.args[0]}); {accepted}", place=f"row {error.args[1]}"
        )
    comma = mark != ","
    said = f"{table.file} separates cells by {_SEPARATORS[mark]}: a comma in its numbers is a decimal mark."
    return Saved(_filled(records, first), comma, said if comma else "")


def _decoded(data: bytes, table: Table) -> str:
    """Return the text; a byte-order mark says the encoding, and what is no UTF-8 is Windows-1252."""
    marked = next((encoding for mark, encoding in _ENCODINGS.items() if data.startswith(mark)), "")
    text = None
    for encoding in (marked,) if marked else ("utf-8", "cp1252"):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        break
    if text is None:
        table.stop("the file is no text in UTF-8, UTF-16 or Windows-1252; accepted: CSV text saved in one of them")
    if "\0" in text:
        table.stop("the file holds a zero byte; accepted: CSV text, or a workbook named .xlsx")
    return text


def _filled(records: list[list[str]], first: int = 1) -> list[tuple[int, list[str]]]:
    """Give each row its number and the width of the header; cells that are empty beyond it were never there."""
    rows = [(number, cells) for number, cells in enumerate(records, first) if any(cells)]
    if not rows:
        return []
    width = max(i for i, cell in enumerate(rows[0][1], 1) if cell)
    return [(number, _to_width(cells, width)) for number, cells in rows]


def _to_width(cells: list[str], width: int) -> list[str]:
    end = len(cells)
    while end > width and not cells[end - 1]:
        end -= 1
    return cells[:end] + [""] * (width - end)


def decimal_point(text: str) -> tuple[str, str]:
    """Return a number of a file with decimal commas with a point, and what is wrong with it.

    Examples
    --------
    >>> decimal_point("27,5"), decimal_point("27.5"), decimal_point("1,250")[1][:30]
    (('27.5', ''), ('27.5', ''), 'may be 1.250 or 1250; accepted')
    """
    if _TWO_MEANINGS.fullmatch(text):
        point, none = text.replace(",", "."), text.replace(",", "")
        return text, f"may be {point} or {none}; accepted: as many decimals as it takes, or no comma"
    return (text.replace(",", ".") if text.count(",") == 1 and "." not in text else text), ""


def _cell_text(value: object) -> str:
    """Write a cell of a workbook as it would be typed; dates and times are kept as such by spreadsheet programs."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case datetime.datetime():
            return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
        case datetime.date():
            return value.isoformat()
        case datetime.time():
            return value.strftime("%H:%M:%S")
        case datetime.timedelta() if value < datetime.timedelta(days=1):
            return (datetime.datetime.min + value).strftime("%H:%M:%S")
        case float():
            return f"{value:.15g}"
    return str(value).strip()
