"""The days of a whole job, simulated: the site's own numbers in, the books of the crews' days out.

What the crew is given stands in `calc.work.days.workday`, what it does in `calc.work.days.crew`, what came of it in
`calc.work.days.daybook`. Volumes are in any one unit throughout, times in seconds since the beginning of the first
shift, temperatures in °C.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Sequence
from functools import lru_cache

from calc.base.identity import PLAN
from calc.base.sheet import Check
from calc.files.site import DAY, Site, clock_text
from calc.work.days.crew import (
    Run,
)
from calc.work.days.daybook import GroupTimes, Timeline, summary
from calc.work.days.workday import Calendar, DayTemperature, Dispensing, GroupWork, Shift, TimelineError


def working_time_check(told: GroupTimes) -> Check:
    """Check that every bar of a group was set within the working time; the advice names the batch that would do.

    Parameters
    ----------
    told : GroupTimes [s]
        What became of the group.

    Returns
    -------
    Check [min]
        Fails with a reason when no bar was set.
    """
    if told.batch_that_would_do is None:
        advice = ""
    elif told.batch_that_would_do == 0:
        advice = (
            f"{told.late} of {told.done} bars are late and no batch is small enough: inject and set faster, or choose a"
            " longer working time"
        )
    elif told.batch_that_would_do == told.batch:
        advice = (
            f"{told.late} of {told.done} bars are late by a pause or a change of pack: discard what stands in the"
            " mixer, then inject"
        )
    else:
        batch = told.batch_that_would_do
        advice = (
            f"{told.late} of {told.done} bars are late with a batch of {told.batch}: inject no more than {batch} before"
            " their bars are set"
        )
    return Check.compare(
        notebook=PLAN,
        mark=told.mark,
        name="working_time",
        group=told.mark,
        title="from mixing the oldest adhesive in the hole to the bar set, within the working time",
        demand=told.wait / 60,
        resistance=told.allowed / 60,
        unit="min",
        advice=advice,
    )


def shift_of(site: Site) -> Shift:
    """Return the shift of a job's site.

    Parameters
    ----------
    site : Site
        The job's own.

    Returns
    -------
    Shift
        Times since its beginning [s].
    """
    breaks = sorted((site.offset(one.at), one.length) for one in site.breaks)
    return Shift(length=site.shift, breaks=tuple(breaks))


def temperature_of(site: Site) -> DayTemperature:
    """Return the temperature over the days of a job's site [°C]; time zero is the beginning of the first shift."""
    by_day = dict(zip(site.calendar or (0,), site.courses, strict=True))
    last = max(by_day)
    # On a day without work the concrete is as on the day of work before it.
    held = [by_day[max(day for day in by_day if day <= at)] for at in range(last + 1)]
    points = [[(point.at, point.temperature) for point in course] for _, course, _ in held]
    return DayTemperature(points[0], start=site.start, later=points[1:], lows=[low for *_, low in held])


def work_of(site: Site, *, mark: str, holes: int, dose: float, depth: float, way: str = "") -> GroupWork:
    """Return what a bar group asks of the crew, with the site's own times.

    Parameters
    ----------
    site : Site
        The job's own.
    mark : str
        Name of the group.
    holes : int [-]
        Number of holes.
    dose : float [any one volume unit]
        For one hole.
    depth : float [mm]
        Depth of the hole.
    way : str
        Way of preparing the hole; empty takes the chosen one.

    Returns
    -------
    GroupWork
    """
    steps = site.ways[way or site.chosen].steps
    timed = tuple((step.do == "drill", step.seconds(site.times, depth)) for step in steps)
    day = min(site.days_of(mark), default=0)
    times = {"inject": site.times.inject, "set_": site.times.set}
    return GroupWork(mark=mark, holes=holes, dose=dose, steps=timed, day=day, **times)


def simulate_site(
    *,
    site: Site,
    groups: Sequence[GroupWork],
    dispensing: Dispensing,
    working_time: Callable[[float], float],
    curing_time: Callable[[float], float] | None = None,
    progress: Callable[[int, int], None] | None = None,
    cancel: Callable[[], bool] | None = None,
) -> Timeline:
    """Simulate with crew, times and temperatures of a job's site; as `simulate` otherwise.

    Parameters
    ----------
    site : Site
        The job's own.
    groups : sequence of GroupWork
        As `work_of` makes them.
    dispensing : Dispensing
        As `dispensing_of` makes it.
    working_time, curing_time : callable [°C -> s]
        From the product's tables.
    progress, cancel : callable
        As in `simulate`.

    Returns
    -------
    Timeline [s; volume unit of the doses]

    Raises
    ------
    TimelineError
        As `simulate`.
    """
    return simulate(
        groups=groups,
        dispensing=dispensing,
        working_time=working_time,
        curing_time=curing_time,
        temperature=temperature_of(site),
        shift=shift_of(site),
        calendar=Calendar(site.calendar or (0,)),
        crews=site.crews,
        drills=site.drills,
        batch=site.batch,
        ahead=site.ahead,
        walk=site.times.walk,
        load_wait=site.load_wait,
        variation=site.variation,
        seed=site.seed,
        progress=progress,
        cancel=cancel,
    )


def dispensing_of(
    site: Site,
    *,
    pack_volume: float,
    residual: float = 0.0,
    discard_per_pack: float = 0.0,
    discard_per_mixer: float = 0.0,
    mixer_content: float = 0.0,
    mixer_per_pack: bool = True,
) -> Dispensing:
    """Return packs and mixers with the site's times for changing them.

    Parameters
    ----------
    site : Site
        The job's own.
    pack_volume, residual, discard_per_pack, discard_per_mixer, mixer_content : float [any one volume unit]
        As in `Dispensing`.
    mixer_per_pack : bool
        True when every new pack gets a new mixer.

    Returns
    -------
    Dispensing

    Raises
    ------
    TimelineError
        A pack that gives nothing.
    """
    return Dispensing(
        pack_volume=pack_volume,
        residual=residual,
        discard_per_pack=discard_per_pack,
        discard_per_mixer=discard_per_mixer,
        mixer_content=mixer_content,
        mixer_per_pack=mixer_per_pack,
        keep_part_packs=site.keep_part_packs,
        split=bool(site.hole_from_two_packs),
        pack_change=site.times.pack_change,
        mixer_change=site.times.mixer_change,
    )


def clock(t: float, start: float, first: datetime.date | None = None) -> str:
    """Return a time of the simulation [s] as day and time of day, with the shift's beginning [s after midnight].

    ``first`` is the date of the first day; without it days are counted.

    Examples
    --------
    >>> clock(90000.0, 25200.0)
    'day 2, 08:00'
    >>> clock(90000.0, 25200.0, datetime.date(2026, 12, 31))
    '2027-01-01, 08:00'
    """
    # Half a minute is rounded up, so that 07:59:59.9999 is eight o'clock.
    minutes = math.floor((start + t) / 60 + 0.5)
    days = minutes // 1440
    day = f"day {days + 1}" if first is None else (first + datetime.timedelta(days=days)).isoformat()
    return f"{day}, {clock_text(minutes % 1440 * 60.0)}"


def last_injection(timeline: Timeline, start: float, first: datetime.date) -> datetime.date:
    """Return the day of the last injection: so long have the packs to be good.

    Parameters
    ----------
    timeline
        Days in which something was injected.
    start : float [s after midnight]
        Beginning of the shift.
    first
        Date of the first day.

    Returns
    -------
    date
    """
    last = max(told.last_injected for told in timeline.groups if told.done)
    return first + datetime.timedelta(days=math.floor((start + last) / DAY))


def simulate(
    *,
    groups: Sequence[GroupWork],
    dispensing: Dispensing,
    working_time: Callable[[float], float],
    temperature: DayTemperature,
    shift: Shift | None = None,
    calendar: Calendar | None = None,
    curing_time: Callable[[float], float] | None = None,
    crews: int = 1,
    drills: int = 1,
    batch: int = 1,
    ahead: int | None = None,
    walk: float = 0.0,
    load_wait: float = 0.0,
    variation: float = 0.0,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
    cancel: Callable[[], bool] | None = None,
) -> Timeline:
    """Simulate the crews' days from the first hole to the last bar.

    Parameters
    ----------
    groups : sequence of GroupWork
        In the order of the work.
    dispensing : Dispensing
        Packs and mixers [volume unit of the doses; s].
    working_time, curing_time : callable [°C -> s]
        From the product's tables. What the working time raises, for a temperature outside its table, goes through. A
        curing time that is refused with a ValueError leaves the group's earliest load unknown, with a notice.
    temperature : DayTemperature [°C]
        Of the base material over the day.
    shift : Shift [s]
        Its length and breaks; left out, work goes on day and night.
    calendar : Calendar
        Days on which there is work; left out, every day.
    crews, drills : int [-]
        Crews and drilling machines.
    batch : int [-]
        Holes injected before their bars are set.
    ahead : int [-]
        Holes that a crew drills and prepares before it injects; None is its share of the group.
    walk : float [s]
        From one hole to the next, before drilling, before injecting, and before setting when a batch is more than one
        hole.
    load_wait : float [s]
        Waited on top of the curing time.
    variation : float [-]
        Standard deviation of every time as a share of it, log-normal; 0 takes the times as given.
    seed : int [-]
        Of the random times.
    progress : callable (holes done, holes)
        Called now and then.
    cancel : callable -> bool
        Asked before every event; true ends the simulation, and what was done is kept.

    Returns
    -------
    Timeline [s; volume unit of the doses]

    Raises
    ------
    TimelineError
        No group, no crew, no machine, a batch below one, or a working time shorter than one hole's injection.
    """
    _refuse(groups=groups, crews=crews, drills=drills, batch=batch, ahead=ahead, walk=walk, variation=variation)
    run = Run(
        groups=groups,
        dispensing=dispensing,
        working_time=lru_cache(maxsize=4096)(working_time),
        temperature=temperature,
        shift=shift or Shift(),
        calendar=calendar or Calendar(),
        crews=crews,
        drills=drills,
        batch=batch,
        ahead=ahead,
        walk=walk,
        variation=variation,
        seed=seed,
    )
    complete = _step_through(run, progress=progress, cancel=cancel)
    return summary(run, complete=complete, curing_time=curing_time, load_wait=load_wait)


def _refuse(
    *,
    groups: Sequence[GroupWork],
    crews: int,
    drills: int,
    batch: int,
    ahead: int | None,
    walk: float,
    variation: float,
) -> None:
    if not groups:
        raise TimelineError("there is no bar group to work on; accepted: at least one")
    for name, value in (
        ("crews", crews),
        ("drills", drills),
        ("batch", batch),
        ("ahead", 1 if ahead is None else ahead),
    ):
        if value < 1:
            raise TimelineError(f"{name} = {value} is too few; accepted: at least 1")
    if not 0 <= walk < math.inf:
        raise TimelineError(f"walk = {walk:g} s is not a time; accepted: from 0 s up")
    if not 0 <= variation <= 1:
        raise TimelineError(f"variation = {variation:g} is out of range; accepted: from 0 to 1")


def _step_through(run: Run, *, progress: Callable[[int, int], None] | None, cancel: Callable[[], bool] | None) -> bool:
    total = sum(group.holes for group in run.groups)
    stride, told = max(1, total // 200), 0
    env = run.env
    while env.peek() < math.inf:
        if cancel is not None and cancel():
            return False
        env.step()
        if progress is not None and run.holes_done >= told + stride:
            told = run.holes_done
            progress(told, total)
    if progress is not None and told < total:
        progress(run.holes_done, total)
    return True
