"""The hole record: what was done to each hole, written on site by pen or on a phone, as a spreadsheet or CSV file.

And held against the plan.

A line stands for one hole (``7``) or for several that were done together (``1 to 96``). A line whose cells are all
empty was not done. What cannot be read is refused with row and column; what was not written down is a finding, since
nobody can write it later.

The file is read here. The empty record stands in `calc.work.site.template`, its columns and cells in
`calc.work.site.cells`, the comparison in `calc.work.site.judge`, and what comes of it in `calc.work.site.findings`.
"""

from __future__ import annotations

import bisect
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from calc.files.job import Job
from calc.files.problems import InputErrors
from calc.files.strict import LONGEST_MARK, Column, Table
from calc.work.dose import Worked
from calc.work.site.cells import (
    DATES,
    NUMBERS,
    PLANNED,
    RECORD_COLUMNS,
    STROKE_COLUMNS,
    read_cell,
    says_month_first,
)
from calc.work.site.findings import MINUTES_OF_DAY, HoleRecord, RecordLine
from calc.work.site.judge import judged
from calc.work.site.saved import Saved, decimal_point, read_saved
from calc.work.site.template import plain_cell, planned_groups, template_columns

_NEEDED = (
    "mark",
    "hole",
    "date",
    "batch",
    "expiry",
    "concrete_temperature",
    "pack_temperature",
    "cleaned",
    "injected",
    "set",
    "initials",
)
_TOLD = ("mark", "hole", "bar", "drawing")
_DONE = tuple(name for name in RECORD_COLUMNS if name not in (*_TOLD, *PLANNED, "note"))
_HOLES = re.compile(r"(\d{1,7})(?: to (\d{1,7}))?", re.ASCII)


def read_hole_record(
    path: str | Path, *, job: Job, worked: Sequence[Worked] | None = None, name: str = ""
) -> HoleRecord:
    """Read a hole record and hold it against the job.

    Parameters
    ----------
    path
        A workbook, or a CSV file as `calc.work.site.saved` reads it, with the columns of `template_csv`; the planned
        ones may be left out, units may be others of their kind, and depths may be those at full diameter.
    job
        The job that the holes belong to.
    worked
        Its worked groups; worked out here when they are not at hand.
    name
        What the file is called in sentences; its own name by default.

    Returns
    -------
    HoleRecord
        Lines, findings, and a summary by bar group; volumes [mm³].

    Raises
    ------
    InputErrors
        With everything that cannot be read, row and column each.
    """
    path = Path(path)
    reader = _Reader(name or path.name, job)
    saved = read_saved(path, reader)
    lines = reader.read(saved)
    if reader.problems:
        raise InputErrors(reader.problems)
    groups = tuple(worked) if worked is not None else planned_groups(job)
    return replace(judged(lines, job=job, worked=groups, file=reader.file), said=saved.said)


class _Reader(Table):
    """Reads one hole record."""

    def __init__(self, file: str, job: Job) -> None:
        super().__init__(file, RECORD_COLUMNS, NUMBERS)
        self.job = job
        self.counts = {group.mark: group.count for group in job.groups}
        self.decimal_comma = False
        self.month_first: bool | None = None

    def read(self, saved: Saved) -> tuple[RecordLine, ...]:
        if not saved.rows:
            self.stop(
                f"there is no record; row 1 must be the header of the template: {', '.join(template_columns(self.job))}"
            )
        (_, head), *rows = saved.rows
        columns = self.header(head)
        self._complete()
        dates = [columns[name].index for name in DATES if name in columns]
        self.decimal_comma = saved.decimal_comma
        self.month_first = says_month_first(cells[index] for _, cells in rows for index in dates if index < len(cells))
        seen: dict[str, list[tuple[int, int, int]]] = {}
        whole = self.whole_rows(rows, len(head))
        lines = (self._line(self._cells(cells, columns, number), number, seen) for number, cells in whole)
        return tuple(line for line in lines if line is not None)

    def _cells(self, cells: list[str], columns: Mapping[str, Column], number: int) -> dict[str, tuple[str, str]]:
        """Return text and unit of each cell, numbers with a decimal point."""
        found = {}
        for name, column in columns.items():
            text = plain_cell(cells[column.index])
            if self.decimal_comma and (name in NUMBERS or name in STROKE_COLUMNS):
                pointed, message = decimal_point(text)
                if message:
                    self.wrong(f"row {number}, column {name}", text, message)
                text = "" if message else pointed
            found[name] = (text, column.unit or "")
        return found

    def _complete(self) -> None:
        self.owed(_NEEDED)
        deep = self.named & {"depth", "depth_to_tip"}
        if not deep:
            self.owed(("depth_to_tip",))
        elif len(deep) == 2:
            self.wrong("row 1", "", "depth and depth_to_tip stand side by side; accepted: one of them")
        given = self.named & {"dose", "strokes"}
        if not given:
            self.wrong(
                "row 1",
                "",
                "no column says how much was injected; add 'dose [mL]', or strokes when the job has a stroke",
            )
        elif len(given) == 2:
            self.wrong("row 1", "", "dose and strokes stand side by side; accepted: one of them")
        elif "strokes" in given and self.job.equipment.stroke is None:
            self.wrong(
                "row 1, column strokes",
                "strokes",
                f"needs the volume of a stroke, and {self.job.path.name} has a graduation; accepted: 'dose [mL]'",
            )

    # ---- one row ----

    def _line(
        self, row: Mapping[str, tuple[str, str]], number: int, seen: dict[str, list[tuple[int, int, int]]]
    ) -> RecordLine | None:
        before = len(self.problems)
        mark = self._mark(row.get("mark", ("", ""))[0], number)
        span = self._holes(row.get("hole", ("", ""))[0], number, mark, seen)
        values: dict[str, object] = {}
        for name, (text, unit) in row.items():
            if name in _TOLD:
                continue
            value, message = read_cell(name=name, text=text, unit=unit, month_first=self.month_first)
            if message:
                self.wrong(f"row {number}, column {name}", text, message)
            values[name] = value
        done = any(row[name][0] for name in row if name in _DONE)
        injected, was_set = values.get("injected"), values.get("set")
        if (
            isinstance(injected, float)
            and isinstance(was_set, float)
            and (was_set - injected) % MINUTES_OF_DAY > MINUTES_OF_DAY / 2
        ):
            message = (
                f"is before the time of injection, {row['injected'][0]}; accepted: a time after it, within twelve hours"
            )
            self.wrong(f"row {number}, column set", row["set"][0], message)
        if len(self.problems) > before or mark is None or span is None:
            return None
        if (strokes := values.get("strokes")) is not None and self.job.equipment.stroke is not None:
            values["dose"] = float(str(strokes)) * self.job.equipment.stroke
        names = {"date": "day", "concrete_temperature": "concrete", "pack_temperature": "pack"}
        kept = {names.get(name, name): value for name, value in values.items() if name not in (*PLANNED, "strokes")}
        given = {name: f"{text} {unit}".strip() for name, (text, unit) in row.items() if text}
        return RecordLine(mark=mark, first=span[0], last=span[1], row=number, done=done, given=given, **kept)  # type: ignore[arg-type]

    def _mark(self, mark: str, number: int) -> str | None:
        if not mark:
            self.wrong(
                f"row {number}, column mark",
                "",
                f"the cell is empty; write the mark of a bar group, up to {LONGEST_MARK} characters",
            )
        return mark if mark and self.known_mark(mark, number, self.counts) else None

    def _holes(
        self, text: str, number: int, mark: str | None, seen: dict[str, list[tuple[int, int, int]]]
    ) -> tuple[int, int] | None:
        place = f"row {number}, column hole"
        accepted = "accepted: a hole's number such as 7, or several such as 1 to 12"
        match = _HOLES.fullmatch(text)
        if match is None:
            self.wrong(place, text, f"is no number of a hole; {accepted}" if text else f"the cell is empty; {accepted}")
            return None
        first, last = int(match[1]), int(match[2] or match[1])
        if first < 1 or last < first:
            self.wrong(place, text, f"does not run upwards from 1; {accepted}")
            return None
        if mark is None:
            return first, last
        if last > self.counts[mark]:
            self.wrong(
                place,
                text,
                f"is beyond the {self.counts[mark]} holes of {mark}; accepted: from 1 to {self.counts[mark]}",
            )
            return None
        # Spans of a mark never overlap, so only the two neighbours can be in the way.
        spans = seen.setdefault(mark, [])
        at = bisect.bisect(spans, (first, last, 0))
        other = next((row for a, b, row in spans[max(at - 1, 0) : at + 1] if first <= b and a <= last), 0)
        if other:
            self.wrong(place, text, f"is in row {other} already; accepted: each hole of {mark} once")
            return None
        spans.insert(at, (first, last, number))
        return first, last
