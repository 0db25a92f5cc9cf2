"""The empty hole record: planned values filled in, the rest to be written by pen.

As CSV that a spreadsheet runs nothing of.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Literal

from calc.base.display import plain_text, safe_text
from calc.base.units import convert, same_kind
from calc.files.job import Job
from calc.work.dose import Worked, work
from calc.work.site.cells import RECORD_COLUMNS, STROKE_COLUMNS
from calc.work.whole import chosen_case

By = Literal["hole", "group"]
# Up to this number of holes the record has a line for each; about a dozen sheets of paper.
MOST_BY_HOLE = 300


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


def choose_lines(*, holes: int) -> By:
    """Choose whether the record has a line for every hole or for every group.

    Parameters
    ----------
    holes
        Number of holes of the job.

    Returns
    -------
    str
        ``"hole"`` up to `MOST_BY_HOLE` holes, ``"group"`` above.
    """
    return "hole" if holes <= MOST_BY_HOLE else "group"


def dose_unit(job: Job) -> str:
    """Return the unit that the dispenser is set in: the one in which the job file gives its graduation.

    ML or in³ with strokes.
    """
    typed = job.origins.get("equipment.graduation", "")
    unit = typed.split(" ", 1)[1].strip() if " " in typed else ""
    return unit if unit and same_kind(unit, "mm³") else job.display.volume_unit


def template_columns(job: Job) -> tuple[str, ...]:
    """Return the header of the template, units in square brackets, in the job's units."""
    units = dict.fromkeys(("planned_depth", "depth"), job.display.length_unit)
    units |= dict.fromkeys(("concrete_temperature", "pack_temperature"), job.display.temperature_unit)
    units |= dict.fromkeys(("planned_dose", "dose"), dose_unit(job))
    left_out = ("planned_dose", "dose") if job.equipment.stroke is not None else STROKE_COLUMNS
    return tuple(
        f"{name} [{units[name]}]" if name in units else name for name in RECORD_COLUMNS if name not in left_out
    )


def template_csv(*, job: Job, worked: Sequence[Worked] | None = None, by: By | None = None) -> str:
    """Return the hole record as CSV with the planned values filled in and the rest empty.

    Parameters
    ----------
    job
        A validated job.
    worked
        Its worked groups; worked out here when they are not at hand.
    by
        A line for every ``"hole"`` or ``"group"``; None chooses by the number of holes.

    Returns
    -------
    str
        Text that `read_hole_record` reads back.
    """
    groups = tuple(worked) if worked is not None else planned_groups(job)
    by = by or choose_lines(holes=sum(one.case.count for one in groups))
    header = template_columns(job)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    blank = [""] * (len(header) - 5)
    length, volume = job.display.length_unit, dose_unit(job)
    for one in groups:
        case = one.case
        depth = plain_text(convert(case.embedment + case.overdrill, "mm", length), 6)
        dose = str(one.number) if case.by_strokes else plain_text(convert(one.rounded, "mm³", volume), 7)
        # "1 to 96" and not "1-96", which spreadsheets take for a date.
        names = (
            [str(n) for n in range(1, case.count + 1)]
            if by == "hole"
            else [f"1 to {case.count}" if case.count > 1 else "1"]
        )
        writer.writerows(
            [safe_text(case.mark), name, safe_text(case.bar.designation), depth, dose, *blank] for name in names
        )
    return out.getvalue()


def planned_groups(job: Job) -> tuple[Worked, ...]:
    """Work every bar group with the overfill that the job's rule chooses for it."""
    return tuple(work(chosen_case(job, group)) for group in job.groups)
