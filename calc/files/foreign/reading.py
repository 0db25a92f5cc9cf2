"""Schedules that another program wrote: other titles, a title row, semicolons, a decimal comma, another encoding.

How such a table is to be read stands in the job file, under ``[schedule]``: nothing of it is guessed when a job is
loaded.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Annotated, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from calc.base.errors import NotAccepted
from calc.files.fields import Line, Part, ScheduleName
from calc.files.strict import Table

FURTHEST_HEADER = 50
Encoding = Literal["utf-8", "utf-8-sig", "cp1252"]
ENCODINGS: tuple[Encoding, ...] = get_args(Encoding)
SEPARATORS: Mapping[str, str] = {"comma": ",", "semicolon": ";", "tab": "\t"}


def _row(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= FURTHEST_HEADER:
        raise NotAccepted(f"is not the number of a row; accepted: a whole number from 1 to {FURTHEST_HEADER}")
    return value


class ScheduleFile(Part):
    """Where the bar schedule is, and how it is read where another program wrote it."""

    file: ScheduleName = Field(description="Bar schedule; CSV or XLSX file in the job's folder")
    header_row: Annotated[int, BeforeValidator(_row)] = Field(
        default=1, description="Row of the schedule's titles; what stands above it is not read"
    )
    separator: Literal["comma", "semicolon", "tab"] = Field(
        default="comma", description="What stands between cells of the schedule; CSV only"
    )
    decimal: Literal["point", "comma"] = Field(
        default="point", description="Decimal mark in the schedule; comma: a cell such as 12,5, and then no point"
    )
    encoding: Encoding = Field(
        default="utf-8", description="Encoding of the schedule; utf-8-sig: UTF-8 with a byte-order mark; CSV only"
    )
    columns: dict[str, Line] = Field(
        default_factory=dict,
        description='Titles of the schedule read as; its own title = one of ours with its unit, or "" for not read',
    )
    every_row: dict[str, Line] = Field(
        default_factory=dict, description="The same in every row of the schedule; one of our columns = its cells"
    )

    @model_validator(mode="after")
    def _marks_differ(self) -> ScheduleFile:
        if self.decimal == "comma" and self.separator == "comma" and self.file.lower().endswith(".csv"):
            raise NotAccepted(
                "the decimal mark and what stands between cells are both a comma; accepted: separator ="
                ' "semicolon" or "tab" beside decimal = "comma"'
            )
        return self

    @property
    def own(self) -> bool:
        """Whether the table is in the workbook's own form, so that it can be written as well."""
        return self == ScheduleFile(file=self.file)


# ---- reading -------------------------------------------------------------------------------------

DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d+)")
_INCHES = re.compile(r"([\d ./-]+?)\s*(?:\"|″|''|in\.|in)")


def translated(records: list[list[str]], how: ScheduleFile, table: Table) -> list[list[str]]:
    """Give the rows from the titles on, as if they had been written for this workbook.

    Parameters
    ----------
    records
        Cells of all rows of the file.
    how
        How they are to be read.
    table
        Collects what is wrong.

    Returns
    -------
    list of list of str
        Our titles, then a row for each below them, in the same order; empty where there are no titles.
    """
    body = records[how.header_row - 1 :]
    if how.own or not body or not any(body[0]):
        return body
    theirs = body[0]
    for title in how.columns:
        if title not in theirs:
            wanted = f"accepted: a title of row {how.header_row}, such as '{next(filter(None, theirs))}'"
            table.wrong("key schedule.columns", title, f"is not a title of the schedule; {wanted}")
    titles = [how.columns.get(title, title) for title in theirs]
    # A column without a title is dropped where it is empty, and refused with the other titles where it is not.
    kept = [
        i
        for i, title in enumerate(titles)
        if title or (not theirs[i] and any(row[i : i + 1] != [""] for row in body[1:] if any(row)))
    ]
    bare = [titles[index].partition("[")[0].strip() for index in kept]
    for name in how.every_row:
        if name.partition("[")[0].strip() in bare:
            message = "is a column of the schedule already; accepted: a column that the schedule has not"
            table.wrong("key schedule.every_row", name, message)
    readers = [_reader(titles[index], name, how, table) for index, name in zip(kept, bare, strict=True)]
    rows = [[*(titles[index] for index in kept), *how.every_row]]
    constant = [*how.every_row.values()]
    for cells in body[1:]:
        if not any(cells) or len(cells) != len(theirs):
            rows.append(cells if any(cells) else [])
            continue
        rows.append([read(cells[index]) for read, index in zip(readers, kept, strict=True)] + constant)
    return rows


def _reader(title: str, name: str, how: ScheduleFile, table: Table) -> Callable[[str], str]:
    """Return what makes a cell of theirs one of ours; what it does not know it hands on, to be refused there."""
    numbers = table.numbers.get(name)
    inches = numbers is not None and title == f"{name} [in]"
    comma = how.decimal == "comma" and (name in table.numbers or name in ("count", "overfill"))

    def read(cell: str) -> str:
        if comma:
            if "." in cell:
                return f"{cell} (a point, where the job file says that the decimal mark is a comma)"
            if match := DECIMAL_COMMA.fullmatch(cell):
                return f"{match[1]}.{match[2]}"
        if inches and (match := _INCHES.fullmatch(cell)):
            return match[1].strip()
        return cell

    return read
