"""The crew of a discrete-event simulation: drill, prepare, inject, set, with breaks, packs, mixers and working time.

Rules of the simulation (common practice, no source, where they are not plain bookkeeping):

- A crew takes a round of holes, drills and prepares them all, then injects them in batches; the bars of a batch are set
  in the
  order of injection. Crews share the drilling machines; each crew has a dispenser of its own.
- What is in hand is finished before a break or the end of the shift: a hole that is being drilled, a batch that has
  been begun.
- Adhesive is mixed when it enters the mixer, and leaves it in the order in which it came in. A bar is late when more
  than the working
  time lies between the mixing of the oldest adhesive in its hole and the end of setting it.
- A mixer is replaced when its oldest adhesive is past the working time, and after a pause (a round of drilling, a
  break, a night) when
  that adhesive would not be home with its bar in time. From batch to batch nobody looks at the clock.
- Working times are those of the warmest temperature of the span, the safe reading.
- A pack that ends in the middle of a hole is changed there, where that is allowed; else a pack that has too little for
  the next hole is put aside before it. What an opened pack cannot give a new mixer is put aside.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import simpy

from calc.files.site import DAY
from calc.work.days.workday import Calendar, DayTemperature, Dispensing, GroupWork, Shift, TimelineError

KINDS = ("drill", "prepare", "inject", "set", "pack", "mixer", "fill mixer", "put aside", "wait", "break", "night")
DRILL, PREPARE, INJECT, SET, PACK, MIXER, FILL, ASIDE, WAIT, BREAK, NIGHT = range(len(KINDS))

# Where adhesive goes that does not go into a hole.
CAUSES = ("first discard", "mixer content", "pause", "shift end", "residual", "rest too small")
DISCARD, CONTENT, PAUSE, SHIFT_END, RESIDUAL, REST = range(len(CAUSES))

Process = Generator[simpy.Event, Any, None]


@dataclass
class Tally:
    """What is known of a group while the simulation runs: times [s].

    Attributes
    ----------
    injected, set_at, rested
        When each hole's injection began, when each bar was home, and how long its adhesive had then been in the hole.
    wait, allowed, share
        Of the bar that took the largest share of its working time: from the mixing of the oldest adhesive in its hole
        to the end of setting, the working time, their quotient.
    longest
        Longest time from mixing to the end of setting.
    late
        Bars that were not set within the working time.
    least
        Shortest working time of these bars.
    """

    injected: list[float] = field(default_factory=list)
    set_at: list[float] = field(default_factory=list)
    rested: list[float] = field(default_factory=list)
    wait: float = math.nan
    allowed: float = math.nan
    share: float = -1.0
    longest: float = math.nan
    late: int = 0
    least: float = math.inf
    shortest: float = math.inf


def _exceeds(time: float, allowed: float) -> bool:
    """Compare times of the simulation's clock, whose last bits are lost in adding up; a nanosecond is no pause."""
    return time > allowed + 1e-9 * max(1.0, allowed)


class Run:
    """State that the crews share; its environment `env` is stepped by whoever simulates.

    Parameters
    ----------
    groups : sequence of GroupWork
        In the order of the work.
    dispensing : Dispensing
        Packs and mixers [volume unit of the doses; s].
    working_time : callable [°C -> s]
        From the product's table.
    temperature : DayTemperature [°C]
        Of the base material over the day.
    shift : Shift [s]
        Its length and breaks.
    calendar : Calendar
        Days on which there is work.
    crews, drills : int [-]
        Crews and drilling machines.
    batch : int [-]
        Holes injected before their bars are set.
    ahead : int [-]
        Holes that a crew drills and prepares before it injects; None is its share of the group.
    walk : float [s]
        From one hole to the next.
    variation : float [-]
        Standard deviation of every time as a share of it; 0 takes the times as given.
    seed : int [-]
        Of the random times.
    """

    def __init__(
        self,
        *,
        groups: Sequence[GroupWork],
        dispensing: Dispensing,
        working_time: Callable[[float], float],
        temperature: DayTemperature,
        shift: Shift,
        calendar: Calendar,
        crews: int,
        drills: int,
        batch: int,
        ahead: int | None,
        walk: float,
        variation: float,
        seed: int,
    ) -> None:
        self.groups, self.dispensing, self.shift, self.calendar = groups, dispensing, shift, calendar
        self.working_time, self.temperature = working_time, temperature
        self.batch, self.walk = batch, walk
        self.env = simpy.Environment()
        self.drills = simpy.Resource(self.env, capacity=drills)
        self.rounds: deque[tuple[int, range]] = deque(_rounds(groups, crews, ahead))
        self.steps = [_merged(group.steps) for group in groups]
        self.rows: list[tuple[float, float, int, int, int, int, float, int, float, float]] = []
        self.tallies = [Tally() for _ in groups]
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
    """One crew with its dispenser.

    Books are kept when a thing is done, so that they are right whenever the run is cancelled.
    """

    def __init__(self, run: Run, number: int) -> None:
        self.run, self.env, self.number = run, run.env, number
        self.day, self.breaks_had, self.nights, self.overtime = 0, 0, 0, 0.0
        # The pack in use: what it still gives, and after how many nights it was last used. No pack is None.
        self.left: float | None = None
        self.pack_night = 0
        # When adhesive last went through the mixer; no mixer is None.
        self.mixed_at: float | None = None
        # What the mixer holds, the oldest first: when the first and the last of a part were mixed, and its volume.
        self.inside: deque[tuple[float, float, float]] = deque()
        # Adhesive that was mixed before stood through a pause.
        self.resumed = 0.0
        self.tiny = 1e-9 * run.dispensing.pack_volume

    def note(
        self,
        start: float,
        kind: int,
        group: int = -1,
        hole: int = -1,
        volume: float = 0.0,
        cause: int = -1,
        *,
        mixed: float = math.nan,
        allowed: float = math.nan,
    ) -> None:
        """Write a row of the day book; ``mixed`` and ``allowed`` are those of a bar that is set."""
        self.run.rows.append((start, self.env.now, kind, self.number, group, hole, volume, cause, mixed, allowed))

    # ---- the day ----

    def work(self) -> Process:
        run = self.run
        while run.rounds:
            yield from self.rest()
            if run.rounds and (day := run.groups[run.rounds[0][0]].day) > self.day:
                yield from self.sleep(self.env.now, day)
                continue
            if not run.rounds:
                return
            g, holes = run.rounds.popleft()
            for hole in holes:
                yield from self.rest()
                yield from self.prepare(g, hole)
            self.resumed = self.env.now
            for first in range(0, len(holes), run.batch):
                before = self.env.now
                yield from self.rest()
                if self.env.now > before:
                    self.resumed = self.env.now
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
                yield from self.sleep(start, max(self.day + 1, math.ceil(start / DAY)))
            else:
                length = shift.breaks[self.breaks_had][1]
                self.breaks_had += 1
                yield self.env.timeout(length)
                self.note(start, BREAK)

    def sleep(self, start: float, day: int) -> Process:
        """Take the night, and days without work, until a day or the next one on which there is work."""
        self.day, self.breaks_had, self.nights = self.run.calendar.next(day), 0, self.nights + 1
        yield self.env.timeout(max(self.day * DAY - start, 0.0))
        self.note(start, NIGHT)

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
        begun: list[tuple[float, float]] = []
        for done, hole in enumerate(holes):
            if run.walk:
                yield env.timeout(run.vary(run.walk))
            yield from self.ready(g, self.foreseen(g, done, len(holes)))
            start = env.now
            begun.append((start, (yield from self.inject(g, hole))))
        for hole, (injected, oldest) in zip(holes, begun, strict=True):
            if run.walk and len(holes) > 1:
                yield env.timeout(run.vary(run.walk))
            start = env.now
            yield env.timeout(run.vary(group.set_))
            run.holes_done += 1
            self.note(start, SET, g, hole, mixed=oldest, allowed=self.judge(g, injected, oldest))

    def foreseen(self, g: int, done: int, holes: int) -> float:
        """Time until the bar of the next hole of a batch is home.

        With the times as given and the packs that have to be changed.
        """
        run, group = self.run, self.run.groups[g]
        left, walk = holes - done, run.walk
        time = left * group.inject + (left - 1) * walk + (done + 1) * (group.set_ + (walk if holes > 1 else 0.0))
        changes = run.dispensing.changes(holes=left, dose=group.dose, left=self.left or 0.0)
        return time + changes * (run.dispensing.pack_change + run.dispensing.mixer_change)

    def judge(self, g: int, injected: float, oldest: float) -> float:
        """Compare the age of the oldest adhesive in a hole, from mixing to end of setting, with the working time.

        Returns the working time.
        """
        run, tally, now = self.run, self.run.tallies[g], self.env.now
        wait, allowed = now - oldest, run.working_time(run.temperature.warmest(oldest, now))
        tally.set_at.append(now)
        tally.rested.append(now - injected)
        if not _exceeds(wait, allowed):
            wait = min(wait, allowed)
        tally.longest = wait if math.isnan(tally.longest) else max(tally.longest, wait)
        if _exceeds(wait, allowed):
            tally.late += 1
            tally.least = min(tally.least, allowed)
        tally.shortest = min(tally.shortest, allowed)
        if wait / allowed > tally.share:
            tally.share, tally.wait, tally.allowed = wait / allowed, wait, allowed
        return allowed

    def inject(self, g: int, hole: int) -> Generator[simpy.Event, Any, float]:
        """Fill a hole; returns when the oldest adhesive in it was mixed."""
        run, group = self.run, self.run.groups[g]
        seconds, need = run.vary(group.inject), group.dose
        allowed = run.working_time(run.temperature.at(self.env.now))
        if seconds > allowed:
            raise TimelineError(
                f"group {group.mark}: injecting one hole takes {seconds:.4g} s, longer than the working time of"
                f" {allowed:.4g} s at {run.temperature.at(self.env.now):.4g} °C; accepted: a hole that is injected"
                " within the working time"
            )
        run.tallies[g].injected.append(self.env.now)
        oldest = self.env.now
        while need > self.tiny:
            if self.left is None or self.left <= self.tiny:
                yield from self.new_pack(g)
            assert self.left is not None
            part, start = min(need, self.left), self.env.now
            oldest = min(oldest, self.oldest(start))
            yield self.env.timeout(seconds * part / group.dose)
            self.left -= part
            need -= part
            self.mixed_at = self.env.now
            self.push(start, part)
            self.note(start, INJECT, g, hole, part)
        return oldest

    # ---- what stands in the mixer ----

    def oldest(self, otherwise: float) -> float:
        """When the oldest adhesive in the mixer was mixed; ``otherwise`` where the mixer is said to hold nothing."""
        return self.inside[0][0] if self.inside else otherwise

    def push(self, start: float, volume: float) -> None:
        """Let a volume into the mixer, evenly since ``start``, and as much out of it, the oldest first."""
        if not self.run.dispensing.mixer_content:
            return
        self.inside.append((start, self.env.now, volume))
        while volume > self.tiny:
            first, last, held = self.inside.popleft()
            if held > volume + self.tiny:
                self.inside.appendleft((first + (last - first) * volume / held, last, held - volume))
            volume -= held

    # ---- the dispenser ----

    def ready(self, g: int, ahead: float) -> Process:
        """Make the dispenser fit for the next hole, whose bar is home in ``ahead``.

        A pack in place, and a mixer that serves.
        """
        overnight = self.left is not None and self.pack_night != self.nights
        if overnight and not self.run.dispensing.keep_part_packs:
            self.put_aside(g, SHIFT_END)
        if self.left is not None and self.left <= self.tiny:
            self.put_aside(g, REST)
        stiff = self.mixed_at is not None and self.stiff(ahead)
        if stiff:
            self.mixed_at = None
        if self.left is not None and self.too_little(self.run.groups[g].dose):
            self.put_aside(g, REST)
        if self.left is None:
            yield from self.new_pack(g, self.lost(overnight) if stiff else None)
        elif self.mixed_at is None:
            yield from self.new_mixer(g, self.lost(overnight))
        self.pack_night = self.nights

    def too_little(self, dose: float) -> bool:
        """Say whether the pack in use cannot fill the next hole, which may not be finished from another one."""
        dispensing = self.run.dispensing
        mixer = 0.0 if self.mixed_at is not None else dispensing.mixer_content + dispensing.discard_per_mixer
        assert self.left is not None
        return dispensing.whole(dose) and dispensing.holes(self.left - mixer, dose) < 1

    @staticmethod
    def lost(overnight: bool) -> int:
        return SHIFT_END if overnight else PAUSE

    def stiff(self, ahead: float) -> bool:
        """Say whether the mixer has to go.

        Its adhesive is past the working time, or stood through a pause and would be.
        """
        assert self.mixed_at is not None
        now, temperature = self.env.now, self.run.temperature
        mixed = self.oldest(self.mixed_at)
        # The temperature now first: after a night the warmest hour may lie outside the table, and need not be looked
        # up.
        if _exceeds(now - mixed, self.run.working_time(temperature.at(now))):
            return True
        home = now + ahead if self.inside and mixed < self.resumed else now
        return _exceeds(home - mixed, self.run.working_time(temperature.warmest(mixed, home)))

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
        self.inside = deque([(self.env.now, self.env.now, content)] if content else ())
        self.note(start, MIXER, g, volume=discard, cause=DISCARD if lost is None else lost)
        self.note(self.env.now, FILL, g, volume=content, cause=CONTENT if lost is None else lost)
