"""The crew's days as a discrete-event simulation: drill, prepare, inject, set, with breaks, packs, mixers and working time.

Rules of the simulation (common practice, no source, where they are not plain bookkeeping):

- A crew takes a round of holes, drills and prepares them all, then injects them in batches; the bars of a batch are set in the
  order of injection. Crews share the drilling machines; each crew has a dispenser of its own.
- What is in hand is finished before a break or the end of the shift: a hole that is being drilled, a batch that has been begun.
- A mixer that stood longer than the working time is replaced. A bar is late when more than the working time lies between the
  beginning of its injection and the end of setting it. Both take the warmest temperature of that span, the safe reading.
- A pack that ends in the middle of a hole is changed there. What an opened pack cannot give a new mixer is put aside.

Volumes are in any one unit throughout, times in seconds since the beginning of the first shift, temperatures in °C.
"""

from __future__ import annotations

import bisect
import itertools
import math
from collections import deque
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
import simpy

from calc.base.sheet import Check
from calc.job.sitefile import DAY, Site, clock_text

KINDS = ("drill", "prepare", "inject", "set", "pack", "mixer", "fill mixer", "put aside", "wait", "break", "night")
DRILL, PREPARE, INJECT, SET, PACK, MIXER, FILL, ASIDE, WAIT, BREAK, NIGHT = range(len(KINDS))

# Where adhesive goes that does not go into a hole.
CAUSES = ("first discard", "mixer content", "pause", "shift end", "residual", "rest too small")
DISCARD, CONTENT, PAUSE, SHIFT_END, RESIDUAL, REST = range(len(CAUSES))

Process = Generator[simpy.Event, Any, None]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


class TimelineError(ValueError):
    """Numbers with which no crew could work; the message is a sentence for the person who gave them."""


@dataclass(frozen=True)
class GroupWork:
    """What one bar group asks of the crew.

    Parameters
    ----------
    mark
        Name of the group.
    holes
        Number of holes.
    dose
        Adhesive for one hole [any one volume unit].
    steps
        What is done to a hole before injection, in order: (needs a drilling machine, time [s]).
    inject
        Injecting one hole [s].
    set_
        Setting one bar [s].
    """

    mark: str
    holes: int
    dose: float
    steps: tuple[tuple[bool, float], ...]
    inject: float
    set_: float

    def __post_init__(self) -> None:
        """Refuse numbers that no group can have."""
        if self.holes < 1:
            raise TimelineError(f"group {self.mark}: holes = {self.holes} is too few; accepted: at least 1")
        if not 0 < self.dose < math.inf:
            raise TimelineError(f"group {self.mark}: dose = {self.dose:g} cannot be injected; accepted: a volume above 0")
        for name, time in (("inject", self.inject), ("set_", self.set_), *((f"steps[{i}]", t) for i, (_, t) in enumerate(self.steps))):
            if not 0 <= time < math.inf:
                raise TimelineError(f"group {self.mark}: {name} = {time:g} s is not a time; accepted: from 0 s up")


@dataclass(frozen=True)
class Dispensing:
    """Packs and mixers: volumes [any one unit], changes [s].

    Parameters
    ----------
    pack_volume
        In a full pack.
    residual
        What stays in an empty pack.
    discard_per_pack
        Thrown away with every new pack.
    discard_per_mixer
        Thrown away with every new mixer.
    mixer_content
        What fills a mixer with its tube, and is lost with it.
    mixer_per_pack
        True when every new pack gets a new mixer; False when the mixer is moved to it.
    keep_part_packs
        True when a part pack is used on the next day.
    pack_change, mixer_change
        Time that the change takes [s].
    """

    pack_volume: float
    residual: float = 0.0
    discard_per_pack: float = 0.0
    discard_per_mixer: float = 0.0
    mixer_content: float = 0.0
    mixer_per_pack: bool = True
    keep_part_packs: bool = False
    pack_change: float = 0.0
    mixer_change: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a pack that gives nothing."""
        for name in ("residual", "discard_per_pack", "discard_per_mixer", "mixer_content", "pack_change", "mixer_change"):
            if not 0 <= getattr(self, name) < math.inf:
                raise TimelineError(f"{name} = {getattr(self, name):g} is negative or not finite; accepted: from 0 up")
        if not 0 < self.net < math.inf:
            raise TimelineError(
                f"a pack of {self.pack_volume:g} gives nothing: residual {self.residual:g}, discards {self.discard_per_pack:g} and "
                f"{self.discard_per_mixer:g} and the mixer's content {self.mixer_content:g} take all of it; accepted: a larger pack"
            )

    @property
    def net(self) -> float:
        """What a pack with a new mixer gives to holes."""
        return self.pack_volume - self.residual - self.discard_per_pack - self.discard_per_mixer - self.mixer_content


@dataclass(frozen=True)
class Shift:
    """Every day's shift: its length [s], and its breaks as (time since its beginning [s], length [s])."""

    length: float = DAY
    breaks: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse a shift longer than a day, and breaks out of order."""
        if not 0 < self.length <= DAY:
            raise TimelineError(f"a shift of {self.length:g} s does not fit into a day; accepted: above 0 s up to {DAY:g} s")
        end = 0.0
        for begin, length in self.breaks:
            if not (end <= begin and length > 0 and begin + length < self.length):
                raise TimelineError(f"the break at {begin:g} s overlaps another or leaves the shift; accepted: breaks in order, within the shift")
            end = begin + length


class DayTemperature:
    """Temperature [°C] over the day: linear between points, the same every day, through the night from the last to the first.

    Parameters
    ----------
    points
        (time of day [s after midnight], temperature [°C]), rising; one point is a constant temperature.
    start
        Time of day at which time zero of the simulation lies [s after midnight].
    """

    def __init__(self, points: Sequence[tuple[float, float]], start: float = 0.0) -> None:
        if not points:
            raise TimelineError("no temperature is given; accepted: at least one")
        if any(other[0] <= one[0] for one, other in itertools.pairwise(points)) or not (0 <= points[0][0] and points[-1][0] < DAY):
            raise TimelineError("the times of the temperatures are not in the order of one day; accepted: rising, from 0 to below 86400 s")
        self.start = start
        self.nodes = tuple(points)
        first, last = points[0], points[-1]
        ring = [(last[0] - DAY, last[1]), *points, (first[0] + DAY, first[1])]
        self._times = [time for time, _ in ring]
        self._values = [value for _, value in ring]
        self._constant = len({value for _, value in points}) == 1

    def at(self, t: float) -> float:
        """Return the temperature [°C] at a time of the simulation [s]."""
        if self._constant:
            return self._values[0]
        clock = (self.start + t) % DAY
        i = max(1, min(bisect.bisect_right(self._times, clock), len(self._times) - 1))
        t0, t1, v0, v1 = self._times[i - 1], self._times[i], self._values[i - 1], self._values[i]
        return v0 + (v1 - v0) * (clock - t0) / (t1 - t0)

    def _within(self, begin: float, end: float) -> list[float]:
        if self._constant:
            return [self._values[0]]
        if end - begin >= DAY:
            return [value for _, value in self.nodes]
        found = [self.at(begin), self.at(end)]
        return found + [value for time, value in self.nodes if (time - self.start - begin) % DAY <= end - begin]

    def warmest(self, begin: float, end: float) -> float:
        """Return the highest temperature [°C] of a span [s, s]."""
        return max(self._within(begin, end))

    def coldest(self, begin: float, end: float) -> float:
        """Return the lowest temperature [°C] of a span [s, s]."""
        return min(self._within(begin, end))


@dataclass(frozen=True)
class GroupTimes:
    """What became of a group: times since the beginning of the first shift [s]; NaN where nothing was done.

    Attributes
    ----------
    wait, allowed
        Of the bar that came closest to its working time, or exceeded it most: from the beginning of its injection to the end of
        setting it, and the working time then [s]. Demand and resistance of the check.
    longest_wait
        Longest time from injection to the end of setting [s].
    late
        Bars that were not set within the working time.
    batch_that_would_do
        Largest batch with which they would have been, by `fitting_batch`; None when no bar was late, 0 when no batch would do.
    earliest_load
        When the last of the bars set may be loaded [s]; NaN when it is not known.
    """

    mark: str
    holes: int
    done: int
    first_injected: float
    last_injected: float
    last_set: float
    wait: float
    allowed: float
    longest_wait: float
    late: int
    batch: int
    batch_that_would_do: int | None
    earliest_load: float


@dataclass(frozen=True)
class Timeline:
    """What the simulated days came to. Times [s] since the beginning of the first shift, volumes in the unit of the doses.

    Attributes
    ----------
    start, end, kind, crew, group, hole, volume, cause
        One row for each thing that was done, in the order of its end. ``kind`` counts in `KINDS`, ``cause`` in `CAUSES`; -1 is none.
    waste
        Volume by cause.
    complete
        False when it was cancelled; all rows and sums then hold for what was done until then.
    """

    marks: tuple[str, ...]
    start: Floats
    end: Floats
    kind: Ints
    crew: Ints
    group: Ints
    hole: Ints
    volume: Floats
    cause: Ints
    groups: tuple[GroupTimes, ...]
    packs: int
    mixers: int
    bought: float
    in_holes: float
    waste: Mapping[str, float]
    left_over: float
    finish: float
    days: int
    overtime: float
    holes_done: int
    complete: bool
    notices: tuple[str, ...]

    @property
    def packs_at(self) -> Floats:
        """When each pack was in place [s]."""
        return self.end[self.kind == PACK]

    @property
    def mixers_at(self) -> Floats:
        """When each mixer was in place [s]."""
        return self.end[self.kind == MIXER]

    @property
    def used(self) -> tuple[Floats, Floats]:
        """Time [s] and adhesive that has left the packs by then, into holes or as waste."""
        order = np.argsort(self.end, kind="stable")
        moved = self.volume[order] > 0
        return self.end[order][moved], np.cumsum(self.volume[order][moved])


def fitting_batch(
    *, working_time: float, inject: float, set_: float, walk: float = 0.0, change: float = 0.0, dose: float = 0.0, net: float = math.inf, most: int = 100_000
) -> int:
    """Largest batch whose bars are all set within the working time.

    Parameters
    ----------
    working_time : float [s]
        At the temperature of the holes.
    inject, set_ : float [s]
        Injecting one hole, setting one bar.
    walk : float [s]
        From one hole to the next.
    change : float [s]
        Changing pack and mixer.
    dose, net : float [any one volume unit]
        Of one hole, and what a pack gives. Every change that may fall into the batch is counted, the one at its beginning too.
    most : int [-]
        Larger batches are not looked for.

    Returns
    -------
    int [-]
        Zero when not even one bar is set in time.

    Examples
    --------
    >>> fitting_batch(working_time=600.0, inject=50.0, set_=60.0, walk=10.0)
    7
    """

    def longest(n: int) -> float:
        changes = change * math.ceil(n * dose / net - 1e-9)
        if n == 1:
            return inject + set_ + changes
        # Either the first bar waits longest, for all injections, or the last, for all settings.
        return max((n - 1) * (inject + walk) + inject + walk + set_, inject + n * (walk + set_)) + changes

    return bisect.bisect_right(range(1, most + 1), working_time + 1e-9, key=longest)


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
        advice = f"{told.late} of {told.done} bars are late and no batch is small enough: inject and set faster, or choose a longer working time"
    else:
        batch = told.batch_that_would_do
        advice = f"{told.late} of {told.done} bars are late with a batch of {told.batch}: inject no more than {batch} before their bars are set"
    return Check.compare(
        id=f"{told.mark}.working_time",
        title=f"{told.mark}: from injecting to the bar set, within the working time",
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
    """Return the temperature over the day of a job's site [°C]; time zero is the beginning of the shift."""
    return DayTemperature([(point.at, point.temperature) for point in site.temperature], start=site.start)


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
    return GroupWork(mark=mark, holes=holes, dose=dose, steps=timed, inject=site.times.inject, set_=site.times.set)


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
        pack_change=site.times.pack_change,
        mixer_change=site.times.mixer_change,
    )


def clock(t: float, start: float) -> str:
    """Return a time of the simulation [s] as day and time of day, with the shift's beginning [s after midnight].

    Examples
    --------
    >>> clock(90000.0, 25200.0)
    'day 2, 08:00'
    """
    # Half a minute is rounded up, so that 07:59:59.9999 is eight o'clock.
    minutes = math.floor((start + t) / 60 + 0.5)
    return f"day {minutes // 1440 + 1}, {clock_text(minutes % 1440 * 60.0)}"


def simulate(
    *,
    groups: Sequence[GroupWork],
    dispensing: Dispensing,
    working_time: Callable[[float], float],
    temperature: DayTemperature,
    shift: Shift | None = None,
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
        From the product's tables. What the working time raises, for a temperature outside its table, goes through. A curing time
        that is refused with a ValueError leaves the group's earliest load unknown, with a notice.
    temperature : DayTemperature [°C]
        Of the base material over the day.
    shift : Shift [s]
        Its length and breaks; left out, work goes on day and night.
    crews, drills : int [-]
        Crews and drilling machines.
    batch : int [-]
        Holes injected before their bars are set.
    ahead : int [-]
        Holes that a crew drills and prepares before it injects; None is its share of the group.
    walk : float [s]
        From one hole to the next, before drilling, before injecting, and before setting when a batch is more than one hole.
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
    run = _Run(
        groups=groups,
        dispensing=dispensing,
        working_time=lru_cache(maxsize=4096)(working_time),
        temperature=temperature,
        shift=shift or Shift(),
        crews=crews,
        drills=drills,
        batch=batch,
        ahead=ahead,
        walk=walk,
        variation=variation,
        seed=seed,
    )
    complete = _step_through(run, progress=progress, cancel=cancel)
    return _summary(run, complete=complete, curing_time=curing_time, load_wait=load_wait)


def _refuse(*, groups: Sequence[GroupWork], crews: int, drills: int, batch: int, ahead: int | None, walk: float, variation: float) -> None:
    if not groups:
        raise TimelineError("there is no bar group to work on; accepted: at least one")
    for name, value in (("crews", crews), ("drills", drills), ("batch", batch), ("ahead", 1 if ahead is None else ahead)):
        if value < 1:
            raise TimelineError(f"{name} = {value} is too few; accepted: at least 1")
    if not 0 <= walk < math.inf:
        raise TimelineError(f"walk = {walk:g} s is not a time; accepted: from 0 s up")
    if not 0 <= variation <= 1:
        raise TimelineError(f"variation = {variation:g} is out of range; accepted: from 0 to 1")


def _step_through(run: _Run, *, progress: Callable[[int, int], None] | None, cancel: Callable[[], bool] | None) -> bool:
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


@dataclass
class _Tally:
    """What is known of a group while the simulation runs."""

    injected: list[float] = field(default_factory=list)
    set_at: list[float] = field(default_factory=list)
    wait: float = math.nan
    allowed: float = math.nan
    share: float = -1.0
    longest: float = math.nan
    late: int = 0
    least: float = math.inf


def _exceeds(time: float, allowed: float) -> bool:
    """Compare times of the simulation's clock, whose last bits are lost in adding up; a nanosecond is no pause."""
    return time > allowed + 1e-9 * max(1.0, allowed)


class _Run:
    """State that the crews share."""

    def __init__(
        self,
        *,
        groups: Sequence[GroupWork],
        dispensing: Dispensing,
        working_time: Callable[[float], float],
        temperature: DayTemperature,
        shift: Shift,
        crews: int,
        drills: int,
        batch: int,
        ahead: int | None,
        walk: float,
        variation: float,
        seed: int,
    ) -> None:
        self.groups, self.dispensing, self.shift = groups, dispensing, shift
        self.working_time, self.temperature = working_time, temperature
        self.batch, self.walk = batch, walk
        self.env = simpy.Environment()
        self.drills = simpy.Resource(self.env, capacity=drills)
        self.rounds: deque[tuple[int, range]] = deque(_rounds(groups, crews, ahead))
        self.steps = [_merged(group.steps) for group in groups]
        self.rows: list[tuple[float, float, int, int, int, int, float, int]] = []
        self.tallies = [_Tally() for _ in groups]
        self.packs, self.mixers, self.holes_done = 0, 0, 0
        self.vary = _varied(variation, seed)
        self.crews = [_Crew(self, i) for i in range(crews)]
        for crew in self.crews:
            self.env.process(crew.work())


def _rounds(groups: Sequence[GroupWork], crews: int, ahead: int | None) -> Iterator[tuple[int, range]]:
    for g, group in enumerate(groups):
        size = ahead if ahead is not None else math.ceil(group.holes / crews)
        for first in range(0, group.holes, size):
            yield g, range(first, min(first + size, group.holes))


def _merged(steps: tuple[tuple[bool, float], ...]) -> tuple[tuple[bool, float], ...]:
    """Join neighbouring steps of one kind: the machine is kept meanwhile, and fewer events are quicker."""
    merged: list[tuple[bool, float]] = []
    for needs, time in steps:
        if merged and merged[-1][0] == needs:
            merged[-1] = (needs, merged[-1][1] + time)
        else:
            merged.append((needs, time))
    return tuple(merged)


def _varied(variation: float, seed: int) -> Callable[[float], float]:
    """Return what makes a random time out of a given one, with the same mean."""
    if variation == 0:
        return lambda time: time
    spread = math.sqrt(math.log1p(variation**2))
    rng = np.random.default_rng(seed)
    return lambda time: time * math.exp(rng.normal(-(spread**2) / 2, spread))


class _Crew:
    """One crew with its dispenser. Books are kept when a thing is done, so that they are right whenever the run is cancelled."""

    def __init__(self, run: _Run, number: int) -> None:
        self.run, self.env, self.number = run, run.env, number
        self.day, self.breaks_had, self.nights, self.overtime = 0, 0, 0, 0.0
        # The pack in use: what it still gives, and after how many nights it was last used. No pack is None.
        self.left: float | None = None
        self.pack_night = 0
        # When adhesive last went through the mixer; no mixer is None.
        self.mixed_at: float | None = None
        self.tiny = 1e-9 * run.dispensing.pack_volume

    def note(self, start: float, kind: int, group: int = -1, hole: int = -1, volume: float = 0.0, cause: int = -1) -> None:
        self.run.rows.append((start, self.env.now, kind, self.number, group, hole, volume, cause))

    # ---- the day ----

    def work(self) -> Process:
        run = self.run
        while run.rounds:
            yield from self.rest()
            if not run.rounds:
                return
            g, holes = run.rounds.popleft()
            for hole in holes:
                yield from self.rest()
                yield from self.prepare(g, hole)
            for first in range(0, len(holes), run.batch):
                yield from self.rest()
                yield from self.bond(g, holes[first : first + run.batch])

    def due(self) -> bool:
        """Say whether a break or the shift's end has come."""
        shift, since = self.run.shift, self.env.now - self.day * DAY
        if shift.length < DAY and since >= shift.length:
            return True
        return self.breaks_had < len(shift.breaks) and since >= shift.breaks[self.breaks_had][0]

    def rest(self) -> Process:
        """Take the break or the night that has come, if one has."""
        shift = self.run.shift
        while True:
            if shift.length >= DAY and self.env.now >= (self.day + 1) * DAY:
                self.day, self.breaks_had = int(self.env.now // DAY), 0
            if not self.due():
                return
            start = self.env.now
            over = start - self.day * DAY - shift.length
            if shift.length < DAY and over >= 0:
                self.overtime += over
                self.day, self.breaks_had, self.nights = max(self.day + 1, math.ceil(start / DAY)), 0, self.nights + 1
                yield self.env.timeout(self.day * DAY - start)
                self.note(start, NIGHT)
            else:
                length = shift.breaks[self.breaks_had][1]
                self.breaks_had += 1
                yield self.env.timeout(length)
                self.note(start, BREAK)

    # ---- the hole ----

    def prepare(self, g: int, hole: int) -> Process:
        run, env = self.run, self.env
        if run.walk:
            yield env.timeout(run.vary(run.walk))
        for needs_drill, seconds in run.steps[g]:
            if not needs_drill:
                start = env.now
                yield env.timeout(run.vary(seconds))
                self.note(start, PREPARE, g, hole)
                continue
            request = yield from self.machine(g, hole)
            start = env.now
            yield env.timeout(run.vary(seconds))
            run.drills.release(request)
            self.note(start, DRILL, g, hole)

    def machine(self, g: int, hole: int) -> Generator[simpy.Event, Any, Any]:
        """Wait for a drilling machine; who gets one when a break has come takes the break first."""
        run, env = self.run, self.env
        while True:
            start = env.now
            request = run.drills.request()
            yield request
            if env.now > start:
                self.note(start, WAIT, g, hole)
                if self.due():
                    run.drills.release(request)
                    yield from self.rest()
                    continue
            return request

    def bond(self, g: int, holes: range) -> Process:
        """Inject a batch of holes and set its bars, in the same order."""
        run, env, group = self.run, self.env, self.run.groups[g]
        begun: list[float] = []
        for hole in holes:
            if run.walk:
                yield env.timeout(run.vary(run.walk))
            yield from self.ready(g)
            begun.append(env.now)
            yield from self.inject(g, hole)
        for hole, injected in zip(holes, begun, strict=True):
            if run.walk and len(holes) > 1:
                yield env.timeout(run.vary(run.walk))
            start = env.now
            yield env.timeout(run.vary(group.set_))
            self.note(start, SET, g, hole)
            run.holes_done += 1
            self.judge(g, injected)

    def judge(self, g: int, injected: float) -> None:
        """Compare the time from injection to the end of setting with the working time."""
        run, tally, now = self.run, self.run.tallies[g], self.env.now
        wait, allowed = now - injected, run.working_time(run.temperature.warmest(injected, now))
        tally.set_at.append(now)
        if not _exceeds(wait, allowed):
            wait = min(wait, allowed)
        tally.longest = wait if math.isnan(tally.longest) else max(tally.longest, wait)
        if _exceeds(wait, allowed):
            tally.late += 1
            tally.least = min(tally.least, allowed)
        if wait / allowed > tally.share:
            tally.share, tally.wait, tally.allowed = wait / allowed, wait, allowed

    def inject(self, g: int, hole: int) -> Process:
        run, group = self.run, self.run.groups[g]
        seconds, need = run.vary(group.inject), group.dose
        allowed = run.working_time(run.temperature.at(self.env.now))
        if seconds > allowed:
            raise TimelineError(
                f"group {group.mark}: injecting one hole takes {seconds:.4g} s, longer than the working time of {allowed:.4g} s "
                f"at {run.temperature.at(self.env.now):.4g} °C; accepted: a hole that is injected within the working time"
            )
        run.tallies[g].injected.append(self.env.now)
        while need > self.tiny:
            if self.left is None or self.left <= self.tiny:
                yield from self.new_pack(g)
            assert self.left is not None
            part, start = min(need, self.left), self.env.now
            yield self.env.timeout(seconds * part / group.dose)
            self.left -= part
            need -= part
            self.mixed_at = self.env.now
            self.note(start, INJECT, g, hole, part)

    # ---- the dispenser ----

    def ready(self, g: int) -> Process:
        """Make the dispenser fit for the next hole: a pack in place, and a mixer that has not gelled."""
        overnight = self.left is not None and self.pack_night != self.nights
        if overnight and not self.run.dispensing.keep_part_packs:
            self.put_aside(g, SHIFT_END)
        if self.left is not None and self.left <= self.tiny:
            self.put_aside(g, REST)
        stiff = self.mixed_at is not None and self.stiff()
        if stiff:
            self.mixed_at = None
        if self.left is None:
            yield from self.new_pack(g, self.lost(overnight) if stiff else None)
        elif self.mixed_at is None:
            yield from self.new_mixer(g, self.lost(overnight))
        self.pack_night = self.nights

    @staticmethod
    def lost(overnight: bool) -> int:
        return SHIFT_END if overnight else PAUSE

    def stiff(self) -> bool:
        assert self.mixed_at is not None
        now, temperature = self.env.now, self.run.temperature
        pause = now - self.mixed_at
        # The temperature now first: after a night the warmest hour may lie outside the table, and need not be looked up.
        if _exceeds(pause, self.run.working_time(temperature.at(now))):
            return True
        return _exceeds(pause, self.run.working_time(temperature.warmest(now - pause, now)))

    def put_aside(self, g: int, cause: int) -> None:
        """Do away with the pack in use: what it could still give, and what stays in every pack."""
        assert self.left is not None
        if self.left > self.tiny:
            self.note(self.env.now, ASIDE, g, volume=self.left, cause=cause)
        self.note(self.env.now, ASIDE, g, volume=self.run.dispensing.residual, cause=RESIDUAL)
        self.left = None

    def new_pack(self, g: int, lost: int | None = None) -> Process:
        """Open a pack; ``lost`` is why the mixer was lost, when it was."""
        dispensing = self.run.dispensing
        if self.left is not None:
            self.put_aside(g, REST)
        start = self.env.now
        yield self.env.timeout(dispensing.pack_change)
        self.run.packs += 1
        self.left = dispensing.pack_volume - dispensing.residual - dispensing.discard_per_pack
        self.pack_night = self.nights
        self.note(start, PACK, g, volume=dispensing.discard_per_pack, cause=DISCARD)
        if dispensing.mixer_per_pack or self.mixed_at is None:
            yield from self.new_mixer(g, None if dispensing.mixer_per_pack else lost)

    def new_mixer(self, g: int, lost: int | None) -> Process:
        """Fit a mixer, fill it and discard its first part; a rest of a pack that is too small for that is put aside."""
        dispensing = self.run.dispensing
        content, discard = dispensing.mixer_content, dispensing.discard_per_mixer
        if self.left is None or self.left <= content + discard:
            self.mixed_at = None
            yield from self.new_pack(g, lost)
            return
        start = self.env.now
        yield self.env.timeout(dispensing.mixer_change)
        self.run.mixers += 1
        self.left -= content + discard
        self.mixed_at = self.env.now
        self.note(start, MIXER, g, volume=discard, cause=DISCARD if lost is None else lost)
        self.note(self.env.now, FILL, g, volume=content, cause=CONTENT if lost is None else lost)


# ---- from the books to the result ----


def _summary(run: _Run, *, complete: bool, curing_time: Callable[[float], float] | None, load_wait: float) -> Timeline:
    columns = list(zip(*run.rows, strict=True)) or [()] * 8
    start, end, volume = (np.array(columns[i], dtype=np.float64) for i in (0, 1, 6))
    kind, crew, group, hole, cause = (np.array(columns[i], dtype=np.int64) for i in (2, 3, 4, 5, 7))
    waste = {name: float(np.sum(volume[cause == i])) for i, name in enumerate(CAUSES)}
    left_over = 0.0
    for one in run.crews:
        if one.left is not None and one.left > one.tiny:
            left_over += one.left + run.dispensing.residual
        elif one.left is not None:
            waste[CAUSES[RESIDUAL]] += run.dispensing.residual
    work = ~np.isin(kind, (BREAK, NIGHT))
    finish = float(end[work].max()) if work.any() else 0.0
    groups, notices = _groups(run, curing_time, load_wait)
    return Timeline(
        marks=tuple(one.mark for one in run.groups),
        start=start,
        end=end,
        kind=kind,
        crew=crew,
        group=group,
        hole=hole,
        volume=volume,
        cause=cause,
        groups=groups,
        packs=run.packs,
        mixers=run.mixers,
        bought=run.packs * run.dispensing.pack_volume,
        in_holes=float(np.sum(volume[kind == INJECT])),
        waste=waste,
        left_over=left_over,
        finish=finish,
        days=1 + max(one.day for one in run.crews),
        overtime=_overtime(run, crew, np.where(work, end, 0.0)),
        holes_done=run.holes_done,
        complete=complete,
        notices=notices,
    )


def _overtime(run: _Run, crew: Ints, end: Floats) -> float:
    """Add up what the crews worked beyond their shifts; the last day's is told by the last thing that each did."""
    total = 0.0
    for one in run.crews:
        total += one.overtime
        ends = end[crew == one.number]
        if run.shift.length < DAY and ends.size:
            total += max(0.0, float(ends.max()) - one.day * DAY - run.shift.length)
    return total


def _groups(run: _Run, curing_time: Callable[[float], float] | None, load_wait: float) -> tuple[tuple[GroupTimes, ...], tuple[str, ...]]:
    cure = None if curing_time is None else lru_cache(maxsize=4096)(curing_time)
    found: list[GroupTimes] = []
    notices: list[str] = []
    for group, tally in zip(run.groups, run.tallies, strict=True):
        load = math.nan
        if cure is not None and tally.set_at:
            try:
                load = max(t + _cured(t, cure, run.temperature) for t in tally.set_at) + load_wait
            except ValueError as error:
                notices.append(f"group {group.mark}: the earliest load is not known: {error}")
        found.append(_group_times(run, group, tally, load))
    return tuple(found), tuple(notices)


def _cured(t: float, curing_time: Callable[[float], float], temperature: DayTemperature) -> float:
    """Curing time of a bar set at ``t`` [s]: that of the coldest temperature that it meets before it is cured."""
    coldest = temperature.at(t)
    while True:
        cure = curing_time(coldest)
        met = temperature.coldest(t, t + cure)
        if met >= coldest:
            return cure
        coldest = met


def _group_times(run: _Run, group: GroupWork, tally: _Tally, load: float) -> GroupTimes:
    fits = None
    if tally.late:
        dispensing = run.dispensing
        change = dispensing.pack_change + dispensing.mixer_change
        fits = fitting_batch(
            working_time=tally.least,
            inject=group.inject,
            set_=group.set_,
            walk=run.walk,
            change=change,
            dose=group.dose,
            net=dispensing.net,
            most=min(run.batch, group.holes),
        )
    return GroupTimes(
        mark=group.mark,
        holes=group.holes,
        done=len(tally.set_at),
        first_injected=min(tally.injected, default=math.nan),
        last_injected=max(tally.injected, default=math.nan),
        last_set=max(tally.set_at, default=math.nan),
        wait=tally.wait,
        allowed=tally.allowed,
        longest_wait=tally.longest,
        late=tally.late,
        batch=min(run.batch, group.holes),
        batch_that_would_do=fits,
        earliest_load=load,
    )
