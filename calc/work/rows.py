"""Write all rows of a bar schedule at once: in another order, with new marks, without those that were deleted.

A mark that changes is changed wherever the job's files carry it; what belongs to a deleted group goes with it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl
import tomlkit
import tomlkit.items

from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.strict import Column, decode, read_bytes, split_records
from calc.work.save import BY_MARK, refuse_foreign, replace_files, told_cells, writable_columns


@dataclass(frozen=True)
class GridRow:
    """A row as it is to stand: the mark that it had, empty for a new one, and the cells that say something else."""

    was: str
    cells: Mapping[str, str]


def save_rows(job: Job, rows: Sequence[GridRow]) -> tuple[Path, ...]:
    """Write the rows of the schedule, in this order, and the marks in all files of the job.

    Parameters
    ----------
    job
        A job that was loaded from files.
    rows
        Every row that is to stand; a cell that is left out keeps what it holds, a length may carry a unit.

    Returns
    -------
    tuple of Path
        The files that were written.

    Raises
    ------
    InputErrors
        When the job would not load with these rows; nothing is changed then.
    """
    path = job.schedule_path
    name = path.relative_to(job.folder).as_posix()
    refuse_foreign(job, name)
    renamed = {row.was: row.cells["mark"] for row in rows if row.was and row.cells.get("mark", row.was) != row.was}
    gone = {group.mark for group in job.groups} - {row.was for row in rows}
    write = _xlsx if path.suffix.lower() == ".xlsx" else _csv
    changes = {path: write(path, name, job, rows)}
    if renamed or gone:
        changes |= _marks_of_job(job, renamed, gone)
        changes |= _marks_of_measurements(job, renamed)
    changes = {file: data for file, data in changes.items() if file.read_bytes() != data}
    if changes:
        replace_files(job, changes)
    return tuple(changes)


# ---- the schedule ----


def _csv(path: Path, name: str, job: Job, rows: Sequence[GridRow]) -> bytes:
    records = split_records(decode(read_bytes(path)))
    (head, titles), *rest = records
    end = "\r\n" if head.endswith("\r\n") else "\n"
    titles, columns = writable_columns(list(titles), name, [row.cells for row in rows])
    held = {row[columns["mark"].index].strip(): (text, row) for text, row in rest if row}
    out = [_line(titles, end)] if len(titles) > len(records[0][1]) else [head.rstrip("\r\n") + end]
    for row in rows:
        text, cells = held.get(row.was, ("", []))
        if text and not row.cells and len(cells) == len(titles):
            out.append(text.rstrip("\r\n") + end)
            continue
        out.append(_line(_filled(row, [*cells, *[""] * (len(titles) - len(cells))], columns, job), end))
    return "".join(out).encode("utf-8")


def _line(cells: Sequence[str], end: str) -> str:
    paper = io.StringIO(newline="")
    csv.writer(paper, lineterminator=end).writerow(cells)
    return paper.getvalue()


def _filled(row: GridRow, cells: list[str], columns: Mapping[str, Column], job: Job) -> list[str]:
    for column, text in told_cells(row.was, row.cells, columns, job).items():
        cells[columns[column].index] = text
    return cells


def _xlsx(path: Path, name: str, job: Job, rows: Sequence[GridRow]) -> bytes:
    book = openpyxl.load_workbook(path)
    sheet = book.worksheets[0]
    _refuse_formulas(sheet, name)
    titles = [str(cell.value).strip() for cell in sheet[1] if cell.value is not None]
    titles, columns = writable_columns(titles, name, [row.cells for row in rows])
    held = {str(line[columns["mark"].index]).strip(): line for line in sheet.iter_rows(min_row=2, values_only=True)}
    sheet.delete_rows(2, sheet.max_row)
    for column, title in enumerate(titles, start=1):
        sheet.cell(row=1, column=column).value = title
    for place, row in enumerate(rows, start=2):
        old: list[Any] = [*held.get(row.was, ())][: len(titles)]
        for column, value in enumerate(old, start=1):
            sheet.cell(row=place, column=column).value = value
        for title, text in told_cells(row.was, row.cells, columns, job).items():
            cell = sheet.cell(row=place, column=columns[title].index + 1)
            cell.value = text or None
            cell.number_format = "@"
    paper = io.BytesIO()
    book.save(paper)
    return paper.getvalue()


def _refuse_formulas(sheet: Any, name: str) -> None:
    for line in sheet.iter_rows():
        for cell in line:
            if cell.data_type == "f":
                message = (
                    "is a formula, and saving from here would lose its result; change the workbook in a spreadsheet"
                    " program instead"
                )
                place = f"row {cell.row}, column {cell.column_letter}"
                raise InputErrors([Problem(name, place, str(cell.value), message)])


# ---- marks elsewhere ----


def _marks_of_job(job: Job, renamed: Mapping[str, str], gone: set[str]) -> dict[Path, bytes]:
    document = tomlkit.parse(decode(read_bytes(job.path)))
    for head in BY_MARK:
        here: Any = document
        for key in head.split("."):
            here = here.get(key) if isinstance(here, dict) else None
        if isinstance(here, dict):
            _rename(here, renamed, gone)
    return {job.path: tomlkit.dumps(document).encode("utf-8")}


def _rename(tables: Any, renamed: Mapping[str, str], gone: set[str]) -> None:
    """Give tables their new names; two groups may have swapped theirs."""
    moved = {renamed[mark]: tables.pop(mark) for mark in list(tables) if mark in renamed}
    for mark in [mark for mark in tables if mark in gone]:
        tables.pop(mark)
    for mark, table in moved.items():
        _unnamed(table)
        tables[mark] = table


def _unnamed(table: Any) -> None:
    """Let a table and those in it be written under a new name: each remembers the heading that it was read with."""
    if isinstance(table, tomlkit.items.Table):
        table.display_name = None
        for inner in table.values():
            _unnamed(inner)


def _marks_of_measurements(job: Job, renamed: Mapping[str, str]) -> dict[Path, bytes]:
    changes: dict[Path, bytes] = {}
    for file in dict.fromkeys(one.file for one in job.evidence.values() if one.file is not None):
        path = job.folder / file
        records = split_records(decode(read_bytes(path)))
        titles = [title.strip() for title in records[0][1]]
        if "mark" not in titles:
            continue
        place, out = titles.index("mark"), [records[0][0]]
        for text, row in records[1:]:
            new = renamed.get(row[place].strip()) if len(row) > place else None
            end = text[len(text.rstrip("\r\n")) :]
            out.append(text if new is None else _line([*row[:place], new, *row[place + 1 :]], end))
        changes[path] = "".join(out).encode("utf-8")
    return changes
