"""Notices of the plan: how times were read, what the files do not hold, what the days are like."""

from __future__ import annotations

import datetime

from calc.base.display import duration, plain_text
from calc.base.identity import PLAN
from calc.base.sheet import Notice
from calc.files.adhesive import HoleCondition, equipment_notices
from calc.files.job import Job
from calc.fill.cure import Reading
from calc.work.days.daybook import Timeline
from calc.work.packs.need import PackPlan

WORKING, CURING = "working_time", "curing_time"  # how these times were read
RECORD, JOB_FILE = "record_lacks", "job_lacks"  # what the adhesive record or the job file does not hold


def _whole(name: str, text: str) -> Notice:
    return Notice(PLAN, None, name, text)


def plan_notices(
    *,
    job: Job,
    plan: PackPlan,
    timeline: Timeline | None,
    working: Reading | None,
    curing: Reading | None,
    on: datetime.date | None,
    condition: HoleCondition | None,
    most: int,
) -> list[Notice]:
    """Say what the plan rests on and what it does not cover.

    Parameters
    ----------
    job
        A validated job.
    plan
        Its packs without the days.
    timeline
        The crew's days, where they were simulated.
    working, curing
        Readings at the concrete's temperature [min], where they can be read.
    on
        Day of the work, where it was given.
    condition
        Condition of the holes, where it was given.
    most
        Number of holes up to which the days are simulated.

    Returns
    -------
    list of Notice
        In the order in which they are told.
    """
    record, equipment, file = job.adhesive, job.equipment, job.adhesive_path.name
    found = [_whole("record", text) for text in record.notices(job.display)]
    differing = equipment_notices(
        record,
        pack_volume=equipment.pack_volume,
        residual=equipment.residual,
        discard_per_mixer=equipment.discard_per_mixer,
        display=job.display,
    )
    found += [_whole("equipment", text) for text in differing]
    none = [key for key in ("discard_per_pack", "mixer_volume") if getattr(record, key) is None]
    if none:
        aged = ", and adhesive that ages in the mixer is not counted" if record.mixer_volume is None else ""
        found.append(
            _whole(
                RECORD, f"{file} does not state {' and '.join(none)}: taken as none, so the order may be short{aged}."
            )
        )
    found += _read_notices(job, working, curing)
    found += _missing_notices(job, plan, timeline, most)
    found.append(_whole(*_whole_holes(job, plan)))
    several = [use for use in plan.groups if use.packs_per_hole > 1]
    if several:
        listed = ", ".join(f"{use.mark} {use.packs_per_hole}" for use in several[:8])
        text = (
            f"One hole takes more than one pack (packs: {listed}): allowed only if it is finished from the next pack"
            " within the working time."
        )
        found.append(_whole("packs_per_hole", text))
    if record.hole_conditions is not None and condition is None:
        text = (
            f"{file} allows {' and '.join(record.hole_conditions)} holes; what the holes are like is not compared here:"
            " look into them."
        )
        found.append(_whole(RECORD, text))
    if record.curing is not None and condition is None:
        taken = "not covered" if record.wet_curing_factor is None else "taken as wet, which is the safe reading"
        found.append(
            _whole(
                CURING,
                f"Whether the concrete around the holes is wet, where curing may take longer, is not stated: {taken}.",
            )
        )
    if record.expiry is not None and on is None:
        text = (
            f"Packs are good until {record.expiry.isoformat()} ({file}); that is compared on the day, with the date on"
            " the pack."
        )
        found.append(_whole("expiry", text))
    if record.pack_temperature is not None:
        low, high = (
            job.display.temperature(edge) for edge in (record.pack_temperature.low, record.pack_temperature.high)
        )
        found.append(
            _whole(
                "pack_temperature",
                f"Packs are to be between {low} and {high} when they are used ({file}); their temperature is not known"
                " here.",
            )
        )
    return found


def _whole_holes(job: Job, plan: PackPlan) -> tuple[str, str]:
    """Say how packs are counted; what nobody stated is told with the name of what a file lacks."""
    said = plan.counted
    if job.site is None:
        return (
            JOB_FILE,
            f"{said}: {job.path.name} has no table site that says whether one may be.",
        )
    if job.site.hole_from_two_packs is None:
        return JOB_FILE, f"{said}: {job.path.name} does not state site.hole_from_two_packs, and so more are ordered."
    return "two_packs", f"{said} ({job.path.name}, site.hole_from_two_packs)."


def _read_notices(job: Job, working: Reading | None, curing: Reading | None) -> list[Notice]:
    found = []
    for name, kind, reading in ((WORKING, "Working", working), (CURING, "Curing", curing)):
        if reading is not None:
            T = job.display.temperature(reading.T)
            text = f"{kind} time {duration(reading.time)} with the concrete at {T}: {reading.how(job.display)}."
            found += [_whole(name, text), *(_whole(f"{name}_reading", more) for more in reading.notices)]
    return found


def _missing_notices(job: Job, plan: PackPlan, timeline: Timeline | None, most: int) -> list[Notice]:
    """Say what is not covered because the files do not hold it.

    And what the days are like where they were simulated.
    """
    record, file, site = job.adhesive, job.adhesive_path.name, job.site
    found = []
    if record.working is None:
        found.append(
            _whole(RECORD, f"{file} has no table of working times: whether bars are set in time is not covered.")
        )
    if record.curing is None:
        found.append(_whole(RECORD, f"{file} has no table of curing times: when bars may be loaded is not covered."))
    if job.concrete.temperature is None:
        also = "" if site is None else " Times are read at the warmest and the coldest of site.temperature."
        found.append(_whole(JOB_FILE, f"{job.path.name} states no temperature of the concrete.{also}"))
    if record.reach is None:
        found.append(
            _whole(
                RECORD,
                f"{file} does not say how deep the nozzle reaches: that the holes can be filled from the back is not"
                " covered.",
            )
        )
    if site is None:
        found.append(
            _whole(
                JOB_FILE,
                f"{job.path.name} has no table site: crew, pauses, working time and dust are not covered, and no"
                " reserve is ordered.",
            )
        )
    elif timeline is None and record.working is not None:
        text = (
            f"{plan.holes} holes are more than the {most} whose days are simulated here: working time and pauses are"
            " not covered; the panel can do it."
        )
        found.append(_whole("days", text))
    if timeline is None:
        found.append(
            _whole(
                "packs",
                "Packs are counted for one dispenser that is never laid down: every pause, night and further crew takes"
                " more.",
            )
        )
        return found
    found += timeline.notices
    if site is not None and site.days:
        text = "Days after the last in site.days are taken to be like it, their nights too, while bars cure."
        found.append(_whole("days_like_the_last", text))
    if site is not None and site.variation:
        text = (
            f"Times vary at random by {plain_text(100 * site.variation, 3)} % (seed {site.seed}): another seed gives"
            " other days."
        )
        found.append(_whole("variation", text))
    if timeline.overtime > 60:
        text = (
            f"What is in hand is finished after the shift's end: {duration(timeline.overtime / 60)} of overtime in all."
        )
        found.append(_whole("overtime", text))
    return found
