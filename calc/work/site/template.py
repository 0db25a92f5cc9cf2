"""The empty hole record: planned values filled in, the rest to be written by pen.

As CSV that a spreadsheet runs nothing of.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Literal

from calc.base.display import plain_text, safe_text
from calc.base.units import convert
from calc.files.job import Job
from calc.work.dose import Worked, work
from calc.work.site.cells import FULL_DIAMETER, RECORD_COLUMNS, STROKE_COLUMNS
from calc.work.whole import chosen_case

By = Literal["hole", "batch", "group"]
# Up to this number of lines the record has one for each hole or batch; about a dozen sheets of paper.
MOST_LINES = 300


def plain_cell(text: str) -> str:
    """Take off the apostrophe that `safe_text` puts in front.

    Parameters
    ----------
    text
        A cell as it was read.

    Returns
    -------
    str

    Examples
    --------
    >>> plain_cell("'=1+1"), plain_cell("'tis")
    ('=1+1', "'tis")
    """
    return text[1:] if text.startswith("'") and safe_text(text[1:]) == text else text


def choose_lines(job: Job) -> By:
    """Choose whether the record has a line for every batch, every hole or every group.

    Parameters
    ----------
    job
        A validated job; ``site.record_lines`` decides where it is given.

    Returns
    -------
    str
        ``"hole"`` where the site asks for it, and without a site; ``"batch"`` with one. ``"group"`` where these would
        be more than `MOST_LINES`, unless the site asks for holes.
    """
    if job.site is not None and job.site.record_lines == "hole":
        return "hole"
    by: By = "hole" if job.site is None or job.site.batch == 1 else "batch"
    batch = 1 if job.site is None else job.site.batch
    return by if sum(len(line_spans(group.count, by, batch)) for group in job.groups) <= MOST_LINES else "group"


def line_spans(count: int, by: By, batch: int) -> list[tuple[int, int]]:
    """Return first and last hole of each line of the record for a group.

    Examples
    --------
    >>> line_spans(7, "batch", 3), line_spans(2, "hole", 3), line_spans(7, "group", 3)
    ([(1, 3), (4, 6), (7, 7)], [(1, 1), (2, 2)], [(1, 7)])
    """
    step = {"hole": 1, "batch": batch, "group": count}[by]
    return [(first, min(first + step - 1, count)) for first in range(1, count + 1, step)]


def span_text(first: int, last: int) -> str:
    """Name the holes of a line: ``1 to 6`` and not ``1-6``, which spreadsheets take for a date."""
    return str(first) if first == last else f"{first} to {last}"


def drawing_of(job: Job, mark: str) -> str:
    """Return what the schedule says of a group's place on the drawings."""
    return next((group.drawing for group in job.groups if group.mark == mark), "")


def dose_unit(job: Job) -> str:
    """Return the unit that the dispenser is set in: the one in which the job file gives its graduation.

    ML or fl oz with strokes.
    """
    return job.display.volume_unit if job.equipment.stroke is not None else job.dispenser_unit


def template_units(job: Job) -> dict[str, str]:
    """Return the columns of the template in their order, each with its unit, as the job shows it, or ""."""
    units = dict.fromkeys(("planned_depth_to_tip", "depth_to_tip"), job.display.length_unit)
    units |= dict.fromkeys(("concrete_temperature", "pack_temperature"), job.display.temperature_unit)
    units |= dict.fromkeys(("planned_dose", "dose"), dose_unit(job))
    left_out = (*FULL_DIAMETER, *(("planned_dose", "dose") if job.equipment.stroke is not None else STROKE_COLUMNS))
    return {name: units.get(name, "") for name in RECORD_COLUMNS if name not in left_out}


def template_columns(job: Job) -> tuple[str, ...]:
    """Return the header of the template, units in square brackets, in the job's units."""
    return tuple(f"{name} [{unit}]" if unit else name for name, unit in template_units(job).items())


def template_csv(*, job: Job, worked: Sequence[Worked] | None = None, by: By | None = None) -> str:
    """Return the hole record as CSV with the planned values filled in and the rest empty.

    Parameters
    ----------
    job
        A validated job.
    worked
        Its worked groups; worked out here when they are not at hand.
    by
        A line for every ``"hole"``, ``"batch"`` or ``"group"``; None chooses.

    Returns
    -------
    str
        Text that `read_hole_record` reads back.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(template_columns(job))
    writer.writerows([safe_text(cell) for cell in row] for row in template_rows(job=job, worked=worked, by=by))
    return out.getvalue()


def template_rows(*, job: Job, worked: Sequence[Worked] | None = None, by: By | None = None) -> Iterator[list[str]]:
    """Yield the cells of every line, below `template_columns`; parameters as of `template_csv`."""
    groups = tuple(worked) if worked is not None else planned_groups(job)
    by = by or choose_lines(job)
    batch = 1 if job.site is None else job.site.batch
    length, volume, header = job.display.length_unit, dose_unit(job), template_columns(job)
    for one in groups:
        case = one.case
        depth = plain_text(convert(case.drilled_to, "mm", length), 6)
        dose = str(one.number) if case.by_strokes else plain_text(convert(one.rounded, "mm³", volume), 7)
        for first, last in line_spans(case.count, by, batch):
            told = [case.mark, span_text(first, last), case.bar.designation, drawing_of(job, case.mark), depth, dose]
            yield [*told, *[""] * (len(header) - len(told))]


def planned_groups(job: Job) -> tuple[Worked, ...]:
    """Work every bar group with the overfill that the job's rule chooses for it."""
    return tuple(work(chosen_case(job, group)) for group in job.groups)
