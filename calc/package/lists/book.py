"""The hole record as a workbook: dates, times and yes or no are typed as such, and it is read back as it is saved."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from calc.package.document.pdf import date_parts
from calc.package.xlsx import Book, BookCell, ListColumn
from calc.work.results import Results
from calc.work.site.cells import DATES, NUMBERS, STROKE_COLUMNS, YES_OR_NO
from calc.work.site.template import By, template_columns, template_rows, template_units

HOLE_RECORD_BOOK = "hole-record.xlsx"
_SHEET = "Hole record"
_UNDATED = [1980, 1, 1]  # the oldest date that a workbook's file can carry
_WIDTHS = {"mark": 9.0, "drawing": 20.0, "note": 30.0}


def _style(name: str) -> dict[str, Any]:
    if name in DATES:
        return {"num_format": "yyyy-mm-dd"}
    return {"num_format": "hh:mm"} if name in ("injected", "set") else {}


def hole_record_book(results: Results, *, by: By, day: str = "") -> bytes:
    """Return the workbook.

    Parameters
    ----------
    results
        The computed job.
    by
        What a line stands for.
    day
        Date that the file carries, as ``YYYY-MM-DD``; a fixed one without it.

    Returns
    -------
    bytes
        A file whose first sheet `read_hole_record` reads back.
    """
    job = results.job
    year, month, date = date_parts(day) or _UNDATED
    made = datetime(year, month, date)
    book = Book(f"Hole record {job.number}, revision {job.revision}", made, job.display.paper)
    names = [*template_units(job)]
    heads = zip(names, template_columns(job), strict=True)
    columns = [ListColumn(head, _WIDTHS.get(name, max(10.0, len(head) + 1.0)), _style(name)) for name, head in heads]
    typed = {name for name in names if name in NUMBERS or name in STROKE_COLUMNS}
    rows = [
        [_cell(text, name in typed) for name, text in zip(names, row, strict=True)]
        for row in template_rows(job=job, worked=results.worked, by=by)
    ]
    sheet = book.table(_SHEET, columns, rows)
    for place, name in enumerate(names):
        if name in YES_OR_NO:
            sheet.data_validation(1, place, len(rows), place, {"validate": "list", "source": ["yes", "no"]})
    return book.content()


def _cell(text: str, number: bool) -> BookCell:
    return BookCell((float(text) if number else text) if text else None, exact=True)
