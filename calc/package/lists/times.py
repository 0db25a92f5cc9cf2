"""The times of the box on the dose list: read on the safe side, and what has to be said about them."""

from __future__ import annotations

from typing import NamedTuple

from calc.base.display import duration
from calc.base.formula import RangeError
from calc.files.job import Job
from calc.files.site import clock_text
from calc.fill.cure import TimeTable, read_safe
from calc.package.lists.setting import NOTHING
from calc.work.plan.times import coldest, warmest


class SiteTimes(NamedTuple):
    """Shortest working time and latest first load at the temperatures of the concrete, as text.

    And what has to be said about them.
    """

    temperature: str
    working: str
    load: str
    notes: tuple[str, ...]
    stop: tuple[str, ...] = ()


def site_times(job: Job) -> SiteTimes:
    """Read working time and earliest load on the safe side; a dash and a sentence where that cannot be done.

    One box serves the whole day: working time at the warmest, curing time at the coldest concrete that the job states.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    SiteTimes
    """
    record, where = job.adhesive, job.adhesive_path.name
    hot, cold = warmest(job), coldest(job)
    if hot is None or cold is None:
        words = (
            f"{job.path.name} gives no temperature of the concrete: measure it in a hole, and read both times in the"
            " approval's tables."
        )
        return SiteTimes(NOTHING, NOTHING, NOTHING, (words,))
    warm, chill = job.display.temperature(hot[0]), job.display.temperature(cold[0])
    notes: list[str] = []
    stop = _stops(job)
    working = _time(record.working, "working", hot[0], job, where, notes, stop)
    curing = _time(record.curing, "curing", cold[0], job, where, notes, stop)
    f_wet = record.wet_factor(None if job.site is None else job.site.hole_condition)
    if curing is not None and f_wet != 1.0:
        curing *= f_wet
        notes.append(f"Curing time is that in wet concrete, {f_wet:g} times that of the table.")
    wait = job.site.load_wait / 60 if job.site is not None else 0.0
    if hot[0] != cold[0]:
        notes.append(
            f"Working time at {warm}, curing time at {chill}: the warmest and the coldest concrete that the job file"
            " states, by day and by night."
        )
    if job.site is not None and working is not None:
        notes.append("A card's own times hold for work as planned; at another time those of the box hold.")
    if wait and curing is not None:
        notes.append(f"Earliest load: curing time {duration(curing)}, and {duration(wait)} that the job file adds.")
    if working is not None or curing is not None:
        notes.append(
            "Measure the concrete in a hole before you start: warmer concrete leaves less working time, colder concrete"
            " takes longer to cure."
        )
    return SiteTimes(
        temperature=job.display.temperatures(cold[0], hot[0]),
        working=NOTHING if working is None else duration(working),
        load=NOTHING if curing is None else duration(curing + wait),
        notes=tuple(notes),
        stop=tuple(stop),
    )


def _stops(job: Job) -> list[str]:
    """Say when it is too warm or too cold for the adhesive: as stated, and at the times of the day."""
    allowed = job.adhesive.base_temperature
    if allowed is None:
        return []
    span = (
        f"the adhesive record allows {job.display.temperature(allowed.low)} to {job.display.temperature(allowed.high)}"
    )
    T, day = (
        job.concrete.temperature,
        ()
        if job.site is None
        else tuple(dict.fromkeys(point for _, course, _ in job.site.courses for point in course)),
    )
    said = [f"DO NOT INJECT at {job.display.temperature(T)}: {span}."] if T is not None and not allowed.holds(T) else []
    late = [
        f"{clock_text(point.at)} ({job.display.temperature(point.temperature)})"
        for point in day
        if not allowed.holds(point.temperature)
    ]
    return [*said, *([f"DO NOT INJECT around {', '.join(late)}: {span}."] if late else [])]


def _time(
    table: TimeTable | None, words: str, T: float, job: Job, where: str, notes: list[str], stop: list[str]
) -> float | None:
    if table is None:
        notes.append(f"{where} has no {words} times: read the {words} time in the approval's table.")
        return None
    try:
        return read_safe(table=table, T=T).time
    except RangeError:
        what = {"working": "DO NOT INJECT", "curing": "DO NOT LOAD"}[words]
        span = f"{job.display.temperature(table.low)} to {job.display.temperature(table.high)}"
        stop.append(
            f"{what}: no {words} time at {job.display.temperature(T)}. The adhesive record's table covers {span}. Ask"
            " the engineer first."
        )
        return None
