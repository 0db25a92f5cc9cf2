"""Checks of the plan: working time, what the adhesive record allows, and that the books of the adhesive balance."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace

from calc.base.display import Display
from calc.base.identity import PLAN
from calc.base.sheet import Check
from calc.base.units import convert
from calc.files.adhesive import HoleCondition
from calc.files.job import Job
from calc.files.site import DAY, Site
from calc.fill.cure import Reading
from calc.work.days.daybook import Timeline
from calc.work.days.timeline import working_time_check
from calc.work.plan.times import coldest, warmest
from calc.work.plan.volumes import CAUSES, VOLUMES, Use

_BALANCE = 1e-6
_NOISE = 1e-12


def time_checks(*, working: Reading | None, one_hole: float | None, timeline: Timeline | None) -> list[Check]:
    """Check that bars are set within the working time: one hole by itself, and every group in the days.

    Parameters
    ----------
    working
        Working time at the concrete's temperature [min], where it can be read.
    one_hole
        One hole's time [min], where the site's times are known.
    timeline
        The crew's days, where they were simulated.

    Returns
    -------
    list of Check
        Of what is known.
    """
    checks = []
    if working is not None and one_hole is not None:
        checks.append(
            Check.compare(
                notebook=PLAN,
                name="one_hole",
                title="One hole's injection and setting within the working time",
                demand=one_hole,
                resistance=working.time,
                unit="min",
                advice="inject and set faster, use a larger pack, or choose an adhesive with a longer working time",
            )
        )
    if timeline is not None:
        checks += [working_time_check(told) for told in timeline.groups]
    return checks


def table_checks(job: Job) -> list[Check]:
    """Check that the record has a time for the least favourable temperature that the job states, nights among them.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    list of Check
        One for each table that ends before that temperature; no time is read outside a table.
    """
    checks = []
    waits = {
        "working": "inject nothing while the concrete is so warm",
        "curing": (
            "load no bar that has met this cold until the approval says how long it takes, or keep the concrete warmer"
        ),
    }
    for kind, table, at in (
        ("working", job.adhesive.working, warmest(job)),
        ("curing", job.adhesive.curing, coldest(job)),
    ):
        if table is None or at is None or table.low <= at[0] <= table.high:
            continue
        T, low, high = (job.display.temperature(edge) for edge in (at[0], table.low, table.high))
        title = f"The table of {kind} times, {low} to {high}, holds concrete at {T} ({job.path.name}, {at[1]})"
        checks.append(_allowed(f"table_{kind}", title, False, waits[kind]))
    return checks


def record_checks(
    *, job: Job, depths: Mapping[str, float], on: datetime.date | None, condition: HoleCondition | None
) -> list[Check]:
    """Compare the job with what the record allows: reach, temperature, condition of the hole, date.

    Parameters
    ----------
    job
        A validated job.
    depths
        Depth of the hole by mark [mm].
    on
        Day of the last injection; None compares no date.
    condition
        Condition of the holes; None compares none.

    Returns
    -------
    list of Check
        Of what the record states.
    """
    record, checks = job.adhesive, []
    if record.reach is not None:
        checks.append(_reach(job, record.reach, depths))
    if record.base_temperature is not None and (found := _temperature_check(job)) is not None:
        checks.append(found)
    if record.hole_conditions is not None and condition is not None:
        allowed = condition in record.hole_conditions
        listed = " and ".join(record.hole_conditions)
        advice = f"the record allows {listed} holes: bring the hole into that condition, or choose another adhesive"
        checks.append(_allowed("condition", f"The record allows a {condition} hole", allowed, advice))
    if record.curing is not None and record.wet_curing_factor is None and condition is not None and condition != "dry":
        checks.append(_wet_owed(job, condition))
    if record.cleaning is None and job.site is not None:
        checks.append(_cleaning_owed(job))
    if record.expiry is not None and on is not None:
        title = f"The packs, good until {record.expiry.isoformat()}, may be used on {on.isoformat()}"
        checks.append(
            _allowed("expiry", title, not record.expired(on), "do not use them: order packs with a later date")
        )
    return checks


def _allowed(name: str, title: str, allowed: bool, advice: str) -> Check:
    """Make a check of something that is allowed or not.

    No objection to one permission, or one objection and no permission.
    """
    return Check.compare(
        notebook=PLAN,
        name=name,
        title=title,
        demand=0.0 if allowed else 1.0,
        resistance=1.0 if allowed else 0.0,
        unit="",
        advice=advice,
    )


def _wet_owed(job: Job, condition: HoleCondition) -> Check:
    advice = (
        "many adhesives cure more slowly in wet concrete: add the approval's factor, or 1 where it makes no difference"
    )
    unknown = _allowed("wet_curing", f"Curing time in {condition} concrete is known", False, advice)
    return replace(unknown, verdict="owed", reason=f"missing: wet_curing_factor, in {job.adhesive_path.name}")


def _cleaning_owed(job: Job) -> Check:
    advice = (
        "copy the steps from the product's instructions, in their order: dust that stays in a hole takes the bond away"
    )
    unknown = _allowed("cleaning", "The product's cleaning of a drilled hole is known", False, advice)
    return replace(unknown, verdict="owed", reason=f"missing: cleaning, in {job.adhesive_path.name}")


def _reach(job: Job, reach: float, depths: Mapping[str, float]) -> Check:
    deepest = max(depths, key=lambda mark: depths[mark])
    unit = job.display.length_unit
    beyond = [mark for mark, depth in depths.items() if depth > reach]
    listed = ", ".join(beyond[:8]) + (" and others" if len(beyond) > 8 else "")
    return Check.compare(
        notebook=PLAN,
        name="reach",
        title=f"The nozzle reaches the end of the deepest hole ({deepest})",
        demand=convert(depths[deepest], "mm", unit),
        resistance=convert(reach, "mm", unit),
        unit=unit,
        advice=f"{listed} cannot be filled from the back: use a longer tube that the approval allows" if beyond else "",
    )


def _temperature_check(job: Job) -> Check | None:
    """Judge all stated temperatures, as they are stored: converted and subtracted, an edge would fail by a last bit."""
    allowed, coldest_at, warmest_at = job.adhesive.base_temperature, coldest(job), warmest(job)
    if allowed is None or coldest_at is None or warmest_at is None:
        return None
    low, high = coldest_at[0], warmest_at[0]
    write = job.display.temperatures
    title = f"Concrete at {write(low, high)} lies within {write(allowed.low, allowed.high)}"
    advice = "wait for another temperature, or choose an adhesive that allows this one"
    return _allowed("temperature", title, allowed.holds(low) and allowed.holds(high), advice)


def day_checks(job: Job, timeline: Timeline | None) -> list[Check]:
    """Check that each group that is assigned to days is done on them, and owe the lowest temperature of the nights.

    Parameters
    ----------
    job
        A validated job.
    timeline
        The crew's days, where they were simulated.

    Returns
    -------
    list of Check
        Days are counted from 1.
    """
    site = job.site
    if site is None or timeline is None:
        return []
    found = []
    for told in timeline.groups:
        days = site.days_of(told.mark)
        if not days or not told.done:
            continue
        found.append(
            Check.compare(
                notebook=PLAN,
                mark=told.mark,
                name="on_its_day",
                group=told.mark,
                title="set on the days that it is assigned to",
                demand=float(told.last_set // DAY + 1),
                resistance=float(days[-1] + 1),
                unit="",
                advice="give it another day, or take more crews: its bars would be set at another temperature",
            )
        )
    return found + _night_owed(job, site)


def _night_owed(job: Job, site: Site) -> list[Check]:
    """Owe the lowest temperature of a night of which nothing is stated; curing goes on through it."""
    dark = [
        key
        for key, course, low in dict.fromkeys(site.courses)
        if low is None and not any(site.is_night(point.at) for point in course)
    ]
    if not dark or job.adhesive.curing is None or site.shift >= DAY:
        return []
    unknown = _allowed(
        "night",
        "How cold the concrete is at night is known",
        False,
        "bars cure through the night, and a cold one makes them wait longer: measure it",
    )
    missing = tuple((key, "night_low") for key in dark)
    where = " and ".join(f"[{key}]" for key in dark)
    return [
        replace(unknown, verdict="owed", reason=f"missing: night_low, in {where} of {job.path.name}", missing=missing)
    ]


def two_packs_check(job: Job, use: Use) -> list[Check]:
    """Owe whether a hole may be filled from two packs, where nobody said it and rests of packs are lost by it.

    Parameters
    ----------
    job
        A validated job.
    use
        What the work uses, counted by whole holes.

    Returns
    -------
    list of Check
        None where it is stated, where the job file has no place for it, or where no pack is left with a rest.
    """
    if job.site is None or job.site.hole_from_two_packs is not None or not use.waste["rest"]:
        return []
    title = "Whether a hole may be filled from two packs is known"
    rest = job.display.job_volume(use.waste["rest"])
    advice = f"until then packs serve whole holes, and {rest} is lost with {CAUSES['rest']}"
    unknown = _allowed("two_packs", title, False, advice)
    where = f"missing: hole_from_two_packs, in [site] of {job.path.name}"
    return [replace(unknown, verdict="owed", reason=where, missing=(("site", "hole_from_two_packs"),))]


def balance(use: Use, *, display: Display) -> Check:
    """Check the balance: what is bought is dispensed, discarded, left in mixers and packs, or lost with part packs.

    Parameters
    ----------
    use
        What the work uses and what is bought [mm³].
    display
        How quantities are shown.

    Returns
    -------
    Check
        What is missing, against a millionth of what is bought [mL or fl oz].
    """
    gap = abs(use.gap)
    unit = display.volume_unit
    if gap < _NOISE * use.bought:
        gap = 0.0  # the last bits of long sums
    return Check.compare(
        notebook=PLAN,
        name="balance",
        title=(
            "Bought is"
            f" {', '.join(VOLUMES[key].words for key in ('dose', 'discard', 'left_in_mixers', 'left_in_packs'))} and"
            f" {VOLUMES['lost'].words}: what is missing, against a millionth of it"
        ),
        demand=convert(gap, "mm³", unit),
        resistance=convert(_BALANCE * use.bought, "mm³", unit),
        unit=unit,
        advice="the books do not balance: do not order by this plan",
    )
