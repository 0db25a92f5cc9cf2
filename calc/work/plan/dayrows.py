"""The day book as rows that a reviewer can sum: every thing that was done, where its adhesive went, and why.

What results.json says of packs, mixers, volumes, hours and waiting times is a count, a sum, a least or a greatest value
over these rows.
"""

from __future__ import annotations

import csv
import io
import math

from calc.base.canonical import canonical
from calc.base.display import safe_text
from calc.base.units import convert
from calc.work.days import crew
from calc.work.plan.planned import PlanWork
from calc.work.plan.volumes import AFTER_NIGHT, AFTER_PAUSE, CAUSES, VOLUMES, WITH_PACK

DAY_BOOK = "day-book.csv"
DAY_COLUMNS = (
    "row",
    "from",
    "to",
    "crew",
    "what",
    "mark",
    "hole",
    "volume [mL]",
    "goes to",
    "because",
    "from [s]",
    "to [s]",
    "oldest adhesive mixed [s]",
    "working time [s]",
    "curing time [s]",
)
AT_THE_END = "at the end"
# Where the adhesive of a row goes, by what was done; what is put aside goes by its cause.
_GOES = {crew.INJECT: "dose", crew.PACK: "discard", crew.MIXER: "discard", crew.FILL: "left_in_mixers"}
_WHY = {
    crew.DISCARD: WITH_PACK,
    crew.CONTENT: WITH_PACK,
    crew.PAUSE: AFTER_PAUSE,
    crew.SHIFT_END: AFTER_NIGHT,
    crew.RESIDUAL: "",
    crew.REST: CAUSES["rest"],
}

Cell = str | int | float | None


def day_rows(plan: PlanWork) -> list[tuple[Cell, ...]]:
    """Return the day book, one row for each thing that was done, and one for each pack that is open at the end.

    Parameters
    ----------
    plan
        A plan; without days it has no rows.

    Returns
    -------
    list of tuple
        As `DAY_COLUMNS` name them: times as day and time of day and in seconds since the first shift began, volumes in
        mL, crews and holes counted from 1; None where a row has no such value.
    """
    book = plan.timeline
    if book is None:
        return []
    rows: list[tuple[Cell, ...]] = []
    for i in range(len(book.end)):
        kind, cause, group, hole = (int(column[i]) for column in (book.kind, book.cause, book.group, book.hole))
        volume, start, end = float(book.volume[i]), float(book.start[i]), float(book.end[i])
        goes = _GOES.get(kind, "residual" if cause == crew.RESIDUAL else "lost") if volume else ""
        rows.append(
            (
                i + 1,
                plan.clock(start),
                plan.clock(end),
                int(book.crew[i]) + 1,
                crew.KINDS[kind],
                book.marks[group] if group >= 0 else "",
                hole + 1 if hole >= 0 else None,
                convert(volume, "mm³", "mL"),
                VOLUMES[goes].words if goes else "",
                _WHY.get(cause, "") if volume else "",
                start,
                end,
                *(_number(float(column[i])) for column in (book.mixed, book.allowed, book.cure)),
            )
        )
    return rows + _open_packs(plan, len(rows))


def _open_packs(plan: PlanWork, before: int) -> list[tuple[Cell, ...]]:
    """What is in the packs that are open when the last bar is set: what they still give, and their residual."""
    book = plan.timeline
    assert book is not None
    clock, rows = plan.clock(book.finish), list[tuple[Cell, ...]]()
    for number, left in book.open_packs.items():
        for volume, goes, why in ((left, "lost", CAUSES["part_packs"]), (plan.packs.residual, "residual", "")):
            rows.append(
                (
                    before + len(rows) + 1,
                    clock,
                    clock,
                    number + 1,
                    AT_THE_END,
                    "",
                    None,
                    convert(volume, "mm³", "mL"),
                    VOLUMES[goes].words,
                    why,
                    book.finish,
                    book.finish,
                    None,
                    None,
                    None,
                )
            )
    return rows


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def day_book_csv(plan: PlanWork) -> str:
    """Return the day book as CSV, its numbers in canonical form."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(DAY_COLUMNS)
    for row in day_rows(plan):
        writer.writerow([safe_text(cell) if isinstance(cell, str) else canonical(cell) for cell in row])
    return out.getvalue()
