"""The books of the simulated days: one row for each thing done, what became of each group, what was used and lost.

Times in seconds since the beginning of the first shift, volumes in the unit of the doses, temperatures in °C.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from calc.base.errors import CalcError
from calc.base.identity import PLAN
from calc.base.sheet import Notice
from calc.files.site import DAY
from calc.work.days.crew import BREAK, INJECT, MIXER, NIGHT, PACK, SET, Run, Tally
from calc.work.days.workday import DayTemperature, Dispensing, GroupWork

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class GroupTimes:
    """What became of a group: times since the beginning of the first shift [s]; NaN where nothing was done.

    Attributes
    ----------
    wait, allowed
        Of the bar that came closest to its working time, or exceeded it most: from the mixing of the oldest adhesive in
        its hole to the end of setting it, and the working time then [s]. Demand and resistance of the check.
    longest_wait
        Longest time from mixing to the end of setting [s].
    late
        Bars that were not set within the working time.
    batch_that_would_do
        Largest batch with which they would have been, by `fitting_batch`; None when no bar was late, 0 when no batch
        would do.
    working, curing
        Shortest working time and longest curing time that one of its bars met [s]; NaN where it is not known.
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
    working: float
    curing: float
    earliest_load: float


@dataclass(frozen=True)
class Timeline:
    """What the simulated days came to.

    Times [s] since the beginning of the first shift, volumes in the unit of the doses.

    Attributes
    ----------
    start, end, kind, crew, group, hole, volume, cause
        One row for each thing that was done, in the order of its end. ``kind`` counts in `KINDS`, ``cause`` in
        `CAUSES`; -1 is none.
    mixed, allowed, cure
        Of a row that sets a bar: when the oldest adhesive in its hole was mixed, the working time then, and the curing
        time from then on; NaN in other rows, and where the curing time is not known.
    open_packs
        What the packs that are open at the end still give, by crew; their residual is not in it.
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
    mixed: Floats
    allowed: Floats
    cure: Floats
    groups: tuple[GroupTimes, ...]
    packs: int
    mixers: int
    in_holes: float
    open_packs: Mapping[int, float]
    finish: float
    days: int
    overtime: float
    holes_done: int
    complete: bool
    notices: tuple[Notice, ...]

    def volume_of(self, kinds: Collection[int], causes: Collection[int]) -> float:
        """Sum the volume of the rows of these kinds and causes."""
        rows = np.isin(self.kind, list(kinds)) & np.isin(self.cause, list(causes))
        return math.fsum(self.volume[rows].tolist())

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

    @property
    def filled(self) -> tuple[Floats, Floats]:
        """Time [s] and adhesive that is in holes by then."""
        order = np.argsort(self.end, kind="stable")
        inject = order[self.kind[order] == INJECT]
        return self.end[inject], np.cumsum(self.volume[inject])


def longest_age(*, n: int, inject: float, set_: float, walk: float = 0.0, stands: float = 0.0) -> float:
    """Longest time from the mixing of the oldest adhesive in a hole to its bar at home, while batch follows batch.

    Parameters
    ----------
    n : int [-]
        Holes of a batch.
    inject, set_ : float [s]
        Injecting one hole, setting one bar.
    walk : float [s]
        From one hole to the next.
    stands : float [-]
        What the mixer holds, in doses; nothing lets each hole's time begin with its injection.

    Returns
    -------
    float [s]

    Notes
    -----
    The beginning of a batch is time nought, its holes are counted from nought, and those of the batch before lie below
    it. What comes out first at hole ``i`` was mixed ``stands`` holes before. From hole to hole the age goes up or down
    in a straight line, but where that earlier hole is the first of its batch: so it is longest at the ends or on either
    side of there.

    Examples
    --------
    >>> longest_age(n=6, inject=60.0, set_=60.0, stands=0.1) / 60
    13.1
    """
    home_walk = walk if n > 1 else 0.0
    cycle = n * (walk + inject + home_walk + set_)

    def mixed(place: float) -> float:
        hole = math.floor(place + 1e-9)
        batch, i = divmod(hole, n)
        return batch * cycle + (i + 1) * walk + (i + max(place - hole, 0.0)) * inject

    back = math.ceil(stands - 1e-9)
    turns = {0, n - 1, (back - 1) % n, back % n}
    return max(n * (walk + inject) + (i + 1) * (home_walk + set_) - mixed(i - stands) for i in turns)


def fitting_batch(
    *,
    working_time: float,
    inject: float,
    set_: float,
    walk: float = 0.0,
    dose: float = 0.0,
    dispensing: Dispensing | None = None,
    most: int = 100_000,
) -> int:
    """Largest batch whose bars are all set within the working time.

    Counted from the mixing of the oldest adhesive in each hole.

    Parameters
    ----------
    working_time : float [s]
        At the temperature of the holes.
    inject, set_ : float [s]
        Injecting one hole, setting one bar.
    walk : float [s]
        From one hole to the next.
    dose : float [any one volume unit]
        Of one hole.
    dispensing : Dispensing [s, same unit]
        Packs and mixers: every change that may fall into the batch is counted, the one at its beginning too, and what
        stands in the mixer between two injections ages. None changes nothing and holds nothing.
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

    What stands in the mixer while six bars are set makes six too many:

    >>> mixer = Dispensing(pack_volume=1e6, mixer_content=11.0)
    >>> fitting_batch(working_time=600.0, inject=60.0, set_=60.0, dose=110.0, dispensing=mixer)
    4
    """
    stands = dispensing.mixer_content / dose if dispensing is not None and dose else 0.0
    change = 0.0 if dispensing is None else dispensing.pack_change + dispensing.mixer_change

    def late(n: int) -> bool:
        changes = 0 if dispensing is None or not dose else dispensing.changes(holes=n, dose=dose)
        age = longest_age(n=n, inject=inject, set_=set_, walk=walk, stands=stands)
        return age + change * changes > working_time + 1e-9

    # All injections of a batch, or all its settings, lie within the longest age: no larger batch need be tried.
    slowest = max(inject, set_) + walk
    most = min(most, int(working_time / slowest) + 1) if slowest else most
    return next((n for n in range(most, 0, -1) if not late(n)), 0)


def summary(run: Run, *, complete: bool, curing_time: Callable[[float], float] | None, load_wait: float) -> Timeline:
    """Sum up a simulation that was run to its end or cancelled.

    Parameters
    ----------
    run : Run
        The crews' state after the last event.
    complete : bool
        False when it was cancelled.
    curing_time : callable [°C -> s]
        From the product's table; None, or a temperature that it refuses, leaves the earliest load unknown.
    load_wait : float [s]
        Waited on top of the curing time.

    Returns
    -------
    Timeline [s; volume unit of the doses]
    """
    columns = list(zip(*run.rows, strict=True)) or [()] * 10
    start, end, volume, mixed, allowed = (np.array(columns[i], dtype=np.float64) for i in (0, 1, 6, 8, 9))
    kind, crew, group, hole, cause = (np.array(columns[i], dtype=np.int64) for i in (2, 3, 4, 5, 7))
    open_packs = {one.number: max(one.left, 0.0) for one in run.crews if one.left is not None}
    work = ~np.isin(kind, (BREAK, NIGHT))
    finish = float(end[work].max()) if work.any() else 0.0
    groups, cured, notices = _groups(run, curing_time, load_wait)
    cure = np.full(len(end), math.nan)
    for g, times in enumerate(cured):
        cure[(kind == SET) & (group == g)] = times
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
        mixed=mixed,
        allowed=allowed,
        cure=cure,
        groups=groups,
        packs=run.packs,
        mixers=run.mixers,
        in_holes=float(np.sum(volume[kind == INJECT])),
        open_packs=open_packs,
        finish=finish,
        days=1 + max(one.day for one in run.crews),
        overtime=_overtime(run, crew, np.where(work, end, 0.0)),
        holes_done=run.holes_done,
        complete=complete,
        notices=notices,
    )


def _overtime(run: Run, crew: Ints, end: Floats) -> float:
    """Add up what the crews worked beyond their shifts; the last day's is told by the last thing that each did."""
    total = 0.0
    for one in run.crews:
        total += one.overtime
        ends = end[crew == one.number]
        if run.shift.length < DAY and ends.size:
            total += max(0.0, float(ends.max()) - one.day * DAY - run.shift.length)
    return total


def _groups(
    run: Run, curing_time: Callable[[float], float] | None, load_wait: float
) -> tuple[tuple[GroupTimes, ...], tuple[list[float], ...], tuple[Notice, ...]]:
    """Tell what became of each group, the curing time of each of its bars in the order of setting, and notices."""
    cure = None if curing_time is None else lru_cache(maxsize=4096)(curing_time)
    found: list[GroupTimes] = []
    notices: list[Notice] = []
    each: list[list[float]] = []
    for group, tally in zip(run.groups, run.tallies, strict=True):
        load = curing = math.nan
        each.append([math.nan] * len(tally.set_at))
        if cure is not None and tally.set_at:
            try:
                cured = [
                    _cured(t, rested, cure, run.temperature)
                    for t, rested in zip(tally.set_at, tally.rested, strict=True)
                ]
                load = max(t + time for t, time in zip(tally.set_at, cured, strict=True)) + load_wait
                curing = max(cured)
                each[-1] = cured
            except CalcError as error:
                notices.append(
                    Notice(
                        PLAN,
                        group.mark,
                        "earliest_load",
                        f"the earliest load is not known: {error}",
                        lead="group {mark}: ",
                    )
                )
        found.append(_group_times(run, group, tally, curing, load))
    return tuple(found), tuple(each), tuple(notices)


def _cured(t: float, rested: float, curing_time: Callable[[float], float], temperature: DayTemperature) -> float:
    """Curing time of a bar set at ``t``, injected ``rested`` before [s], and cold from then on.

    That of the coldest temperature until it is cured.
    """
    coldest = temperature.coldest(t - rested, t)
    while True:
        cure = curing_time(coldest)
        met = temperature.coldest(t, t + cure)
        if met >= coldest:
            return cure
        coldest = met


def _group_times(run: Run, group: GroupWork, tally: Tally, curing: float, load: float) -> GroupTimes:
    fits = None
    if tally.late:
        fits = fitting_batch(
            working_time=tally.least,
            inject=group.inject,
            set_=group.set_,
            walk=run.walk,
            dose=group.dose,
            dispensing=run.dispensing,
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
        working=tally.shortest if tally.set_at else math.nan,
        curing=curing,
        earliest_load=load,
    )
