"""The results as a workbook for people who live in spreadsheets.

Numbers as numbers, texts that can never become formulas.
"""

from __future__ import annotations

import hashlib
import io
import math
import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

from calc.base.canonical import DIGITS, canonical
from calc.base.display import Display, display_of
from calc.base.identity import number_of
from calc.base.sheet import VERDICTS
from calc.base.units import convert
from calc.package.manifest import Made, write_whole
from calc.work.results import Results
from calc.work.trace import Trace, governing, mark_of, unit_of_key

_OPENING = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
_LONGEST = 32_000  # a cell holds 32,767 characters
_WIDEST = 60
_MADE = datetime(2000, 1, 1)  # fixed: the same results give the same bytes
_MADE_TEXT = b"2000-01-01T00:00:00Z"
_XML = b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_HEAD = Font(bold=True)
_SHADE = PatternFill("solid", fgColor="E8ECEF")
_FAILS = Font(bold=True, color="9B1C1C")
_LINE = Border(bottom=Side(style="thin", color="5A626B"))
_TOP = Alignment(vertical="top", wrap_text=True)

_Row = Sequence[object]


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


def _cell(sheet: Any, value: object, *, head: bool = False) -> Any:
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, float) and not math.isfinite(value):
        value = "not a finite number"
    if value is None or isinstance(value, (int, float)):
        return WriteOnlyCell(sheet, canonical(value))
    text = cell_text(str(value))
    cell = WriteOnlyCell(sheet, text)
    cell.data_type = "s"  # openpyxl would make a formula of a text that begins with =
    if text.startswith(_OPENING):
        cell.quotePrefix = True  # stays a text when somebody edits the cell
    if head:
        cell.font, cell.fill, cell.border, cell.alignment = _HEAD, _SHADE, _LINE, _TOP
    elif text == VERDICTS["fails"]:
        cell.font = _FAILS
    return cell


def _width(values: Iterable[object]) -> float:
    longest = max(
        (len(f"{value:.6g}" if isinstance(value, float) else str(value)) for value in values if value is not None),
        default=4,
    )
    return min(max(longest + 2, 8), _WIDEST)


def _add(book: Any, title: str, columns: _Row, rows: Sequence[_Row]) -> None:
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "B2"
    for index, name in enumerate(columns):
        # A header may stand on two lines; numbers with all their digits need not be seen in full.
        body = [row[index] for row in rows[:400]]
        sheet.column_dimensions[get_column_letter(index + 1)].width = max(
            _width(body), _width([max(str(name).split(), key=len)])
        )
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(columns))}{len(rows) + 1}"
    sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "landscape", 0
    sheet.sheet_properties.pageSetUpPr = openpyxl.worksheet.properties.PageSetupProperties(fitToPage=True)
    sheet.print_title_rows = "1:1"
    sheet.append([_cell(sheet, name, head=True) for name in columns])
    for row in rows:
        sheet.append([_cell(sheet, value) for value in row])


def _flat(entry: Mapping[str, Any], before: str = "") -> dict[str, object]:
    found: dict[str, object] = {}
    for key, value in entry.items():
        if isinstance(value, Mapping):
            found |= _flat(value, f"{before}{key}.")
        else:
            found[before + key] = "; ".join(str(item) for item in value) if isinstance(value, (list, tuple)) else value
    return found


def _name(key: str) -> str:
    before, _, last = key.rpartition(".")
    words, unit = unit_of_key(last)
    head = f"{before.replace('_', ' ').replace('.', ', ')}: {words}" if before else words
    return f"{head} [{unit}]" if unit else head


def _units(key: str, display: Display) -> tuple[str, ...]:
    """Units in which a column shows its values: that of results.json, and the one that people with this display use."""
    unit = unit_of_key(key.rpartition(".")[2])[1]
    return tuple(dict.fromkeys((unit, display.unit(unit))))


def _both(value: object, key: str, display: Display) -> list[object]:
    """A value as results.json has it, and beside it in the unit that people use where that is another one."""
    own, *others = _units(key, display)
    number = float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None
    return [value, *(None if number is None else convert(number, own, other) for other in others)]


def _both_names(key: str, display: Display) -> list[str]:
    own, *others = _units(key, display)
    return [_name(key), *(_name(key).replace(f"[{own}]", f"[{other}]") for other in others)]


def _groups(data: Mapping[str, Any], trace: Trace) -> tuple[_Row, list[_Row]]:
    entries = [_flat(group) for group in data["groups"]]
    display = display_of(data["job"].get("units"))
    keys = list(dict.fromkeys(key for entry in entries for key in entry))
    checks: dict[str, list[Mapping[str, Any]]] = {}
    for sheet in data["sheets"]:
        for check in sheet["checks"]:
            checks.setdefault(mark_of(check), []).append(check)
    rows: list[_Row] = []
    for entry in entries:
        own = checks.get(str(entry.get("mark", "")), [])
        most = governing(own)
        worst = min((check["verdict"] for check in own), key=("fails", "owed", "passes").index, default="")
        values = [value for key in keys for value in _both(entry.get(key), key, display)]
        rows.append(
            [
                *values,
                most["utilisation"] if most else None,
                most["title"] if most else None,
                VERDICTS.get(worst, "no checks"),
            ]
        )
    names = [name for key in keys for name in _both_names(key, display)]
    return [*names, "highest utilisation", "governing check", "checks"], rows


def _steps(data: Mapping[str, Any], trace: Trace) -> tuple[_Row, list[_Row]]:
    rows: list[_Row] = []
    for sheet in data["sheets"]:
        for step in sheet["steps"]:
            given = "; ".join(f"{one['name']} = {one['shown']} ({one['origin']})" for one in step["inputs"])
            notices = "; ".join(step["notices"])
            rows.append(
                [
                    step["id"],
                    sheet["notebook"],
                    mark_of(step),
                    step["name"],
                    step["label"],
                    step["symbol"],
                    step["value"],
                    step["unit"],
                    step["shown"],
                    step["expression"],
                    step["formula"],
                    given,
                    step["source"],
                    notices,
                ]
            )
    columns = [
        "step",
        "notebook",
        "mark",
        "place in the chain",
        "what",
        "symbol",
        "value",
        "unit of the value",
        "as shown",
        "expression",
        "formula",
    ]
    return [*columns, "inputs", "source", "notices"], rows


def _checks(data: Mapping[str, Any], trace: Trace) -> tuple[_Row, list[_Row]]:
    rows: list[_Row] = []
    for sheet in data["sheets"]:
        for check in sheet["checks"]:
            numbers = [check["demand"], check["resistance"], check["unit"], check["utilisation"]]
            verdict = VERDICTS[check["verdict"]]
            rows.append(
                [
                    check["id"],
                    sheet["notebook"],
                    mark_of(check),
                    check["title"],
                    *numbers,
                    verdict,
                    check["reason"],
                    check["advice"],
                ]
            )
    columns = [
        "check",
        "notebook",
        "mark",
        "what",
        "demand",
        "resistance",
        "unit of both",
        "utilisation (at most 1 passes)",
        "verdict",
        "reason",
        "advice",
    ]
    return columns, rows


def _order(data: Mapping[str, Any], trace: Trace) -> tuple[_Row, list[_Row]]:
    how = {
        total["key"]: (
            ", ".join(total["steps"])
            or total["sum"]
            or f"{total['otherwise']}, notebook {number_of(total['notebook'])}"
        )
        for total in trace.totals
    }
    rows: list[_Row] = [
        [
            unit_of_key(key)[0],
            value,
            unit_of_key(key)[1],
            how.get(key) or ("not computed for this job" if value is None else "see the notebooks"),
        ]
        for key, value in _flat(data["totals"]).items()
    ]
    return ["total of the whole job", "value", "unit", "how it comes about"], rows


def _inputs(data: Mapping[str, Any], trace: Trace) -> tuple[_Row, list[_Row]]:
    """Everything that came into a step from outside, once for each symbol, value and origin of a notebook."""
    found: dict[tuple[object, ...], list[str]] = {}
    for sheet in data["sheets"]:
        for step in sheet["steps"]:
            for one in step["inputs"]:
                if not one["step"]:
                    key = (
                        sheet["notebook"],
                        mark_of(step),
                        one["name"],
                        one["value"],
                        one["unit"],
                        one["shown"],
                        one["origin"],
                    )
                    found.setdefault(key, []).append(str(step["id"]))
    rows: list[_Row] = [[*key, len(ids), ids[0]] for key, ids in found.items()]
    return [
        "notebook",
        "mark",
        "symbol",
        "value",
        "unit of the value",
        "as shown",
        "where from",
        "used in steps",
        "first step",
    ], rows


def _about(results: Results, data: Mapping[str, Any], made: Made | None) -> tuple[_Row, list[_Row]]:
    job = data["job"]
    rows: list[_Row] = [[key, value] for key, value in job.items()]
    rows += [
        ["results.json", f"SHA-256 {hashlib.sha256(results.text().encode()).hexdigest()}, schema {data['schema']}"],
        *([] if made is None else made.rows()),
        ["numbers", f"as in results.json, to {DIGITS} digits; the column 'as shown' is rounded for people"],
        [
            "this file",
            (
                "a copy to sort and filter; the calculation that is signed is calculation.pdf, and nothing here is"
                " computed by the spreadsheet"
            ),
        ],
        ["texts", "every cell is a number or a text; none is a formula"],
    ]
    rows += [["caution", text] for text in results.cautions]
    rows += [["notice", notice.words] for notice in results.notices]
    rows += [["not covered", text] for text in results.not_covered]
    return ["about", "this calculation"], rows


def _settled(body: bytes) -> bytes:
    """The same file with fixed times, in which openpyxl has put the present one.

    And with each part in canonical form: openpyxl writes it otherwise where lxml happens to be installed.
    """
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(body)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as new,
    ):
        for name in sorted(old.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*", rb"\g<1>" + _MADE_TEXT, content)
            content = _XML + ET.canonicalize(content.decode()).encode()
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
            new.writestr(entry, content)
    return out.getvalue()


def write_xlsx(results: Results, path: Path, made: Made | None = None) -> None:
    """Write the results as a workbook.

    Parameters
    ----------
    results
        What was computed.
    path
        The file to write; it appears whole or not at all. The same results, made at the same time, give the same bytes.
    made
        When and with what it is made, which the sheet "About" says.
    """
    data = results.data()
    trace = Trace(data)
    book = openpyxl.Workbook(write_only=True)
    book.properties.creator, book.properties.created = "calc", _MADE
    book.properties.title = cell_text(f"Calculation {results.job.number}, revision {results.job.revision}")[:200]
    for title, make in (
        ("Groups", _groups),
        ("Steps", _steps),
        ("Checks", _checks),
        ("Order", _order),
        ("Inputs", _inputs),
    ):
        _add(book, title, *make(data, trace))
    _add(book, "About", *_about(results, data, made))
    body = io.BytesIO()
    book.save(body)
    write_whole(path, _settled(body.getvalue()))
