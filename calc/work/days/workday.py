"""What a simulated crew is given.

The work of each bar group, packs and mixers, the shift, the temperature over the day.

Volumes are in any one unit throughout, times in seconds since the beginning of the first shift, temperatures in °C.
"""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from calc.base.errors import NotAccepted
from calc.files.site import DAY


class TimelineError(NotAccepted):
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
    day
        Days after the first one before which it is not begun.
    """

    mark: str
    holes: int
    dose: float
    steps: tuple[tuple[bool, float], ...]
    inject: float
    set_: float
    day: int = 0

    def __post_init__(self) -> None:
        """Refuse numbers that no group can have."""
        if self.holes < 1:
            raise TimelineError(f"group {self.mark}: holes = {self.holes} is too few; accepted: at least 1")
        if not 0 < self.dose < math.inf:
            raise TimelineError(
                f"group {self.mark}: dose = {self.dose:g} cannot be injected; accepted: a volume above 0"
            )
        for name, time in (
            ("inject", self.inject),
            ("set_", self.set_),
            *((f"steps[{i}]", t) for i, (_, t) in enumerate(self.steps)),
        ):
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
    split
        True when a hole may be finished from the next pack; one that is more than a pack is in any case.
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
    split: bool = True
    pack_change: float = 0.0
    mixer_change: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a pack that gives nothing."""
        for name in (
            "residual",
            "discard_per_pack",
            "discard_per_mixer",
            "mixer_content",
            "pack_change",
            "mixer_change",
        ):
            if not 0 <= getattr(self, name) < math.inf:
                raise TimelineError(f"{name} = {getattr(self, name):g} is negative or not finite; accepted: from 0 up")
        if not 0 < self.net < math.inf:
            raise TimelineError(
                f"a pack of {self.pack_volume:g} gives nothing: residual {self.residual:g}, discards"
                f" {self.discard_per_pack:g} and {self.discard_per_mixer:g} and the mixer's content"
                f" {self.mixer_content:g} take all of it; accepted: a larger pack"
            )

    @property
    def net(self) -> float:
        """What a pack with a new mixer gives to holes."""
        return self.pack_volume - self.residual - self.discard_per_pack - self.discard_per_mixer - self.mixer_content

    def whole(self, dose: float) -> bool:
        """Whether holes of a dose [same unit] are each filled from one pack."""
        return not self.split and self.holes(self.net, dose) > 0

    def holes(self, volume: float, dose: float) -> int:
        """Whole holes of a dose that a volume fills [same unit]."""
        return math.floor(volume / dose + 1e-9)

    def changes(self, *, holes: int, dose: float, left: float = 0.0) -> int:
        """Packs that are opened for a number of holes.

        Parameters
        ----------
        holes : int [-]
            Holes to be filled.
        dose, left : float [same unit]
            Of one hole, and what the pack in use still gives.

        Returns
        -------
        int [-]

        Examples
        --------
        >>> Dispensing(pack_volume=350.0).changes(holes=7, dose=100.0)
        2
        >>> Dispensing(pack_volume=350.0, split=False).changes(holes=7, dose=100.0)
        3
        """
        if self.whole(dose):
            return -(-max(holes - self.holes(left, dose), 0) // self.holes(self.net, dose))
        return max(math.ceil((holes * dose - left) / self.net - 1e-9), 0)


@dataclass(frozen=True)
class Shift:
    """Every day's shift: its length [s], and its breaks as (time since its beginning [s], length [s])."""

    length: float = DAY
    breaks: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse a shift longer than a day, and breaks out of order."""
        if not 0 < self.length <= DAY:
            raise TimelineError(
                f"a shift of {self.length:g} s does not fit into a day; accepted: above 0 s up to {DAY:g} s"
            )
        end = 0.0
        for begin, length in self.breaks:
            if not (end <= begin and length > 0 and begin + length < self.length):
                raise TimelineError(
                    f"the break at {begin:g} s overlaps another or leaves the shift; accepted: breaks in order, within"
                    " the shift"
                )
            end = begin + length


Points = Sequence[tuple[float, float]]


class DayTemperature:
    """Temperature [°C] over the days.

    Linear between points, through the night from the last of a day to the first of the next.

    Parameters
    ----------
    points
        (time of day [s after midnight], temperature [°C]), rising; one point is a constant temperature. They hold for
        every day, or for the first one where there are ``later`` ones.
    start
        Time of day at which time zero of the simulation lies [s after midnight].
    later
        Points of the days after the first, in turn; days behind them are like the last.
    lows
        Lowest temperature [°C] of the night after each of these days, None where the points tell it; nights behind them
        are like the last. It counts for what is coldest, from the last point of a day to the first of the next.
    """

    def __init__(
        self,
        points: Points,
        start: float = 0.0,
        *,
        later: Sequence[Points] = (),
        lows: Sequence[float | None] = (None,),
    ) -> None:
        self.start, self.days = start, tuple(tuple(one) for one in (points, *later))
        for one in self.days:
            _refuse_points(one)
        self._lows = tuple(lows)
        values = {value for one in self.days for _, value in one}
        self._constant = values.pop() if len(values) == 1 else None
        self._rings: dict[int, tuple[list[float], list[float]]] = {}

    @property
    def nodes(self) -> tuple[tuple[float, float], ...]:
        """Points of the first day."""
        return self.days[0]

    def _of(self, day: int) -> tuple[tuple[float, float], ...]:
        return self.days[min(max(day, 0), len(self.days) - 1)]

    def _ring(self, day: int) -> tuple[list[float], list[float]]:
        """Times and values of a day [s after its midnight, °C], with those on either side of it."""
        kept = min(day, len(self.days))
        if kept not in self._rings:
            before, own, after = (self._of(kept + by) for by in (-1, 0, 1))
            ring = [(before[-1][0] - DAY, before[-1][1]), *own, (after[0][0] + DAY, after[0][1])]
            self._rings[kept] = [time for time, _ in ring], [value for _, value in ring]
        return self._rings[kept]

    def at(self, t: float) -> float:
        """Return the temperature [°C] at a time of the simulation [s]."""
        if self._constant is not None:
            return self._constant
        day, clock = divmod(self.start + t, DAY)
        times, values = self._ring(int(day))
        i = max(1, min(bisect.bisect_right(times, clock), len(times) - 1))
        t0, t1, v0, v1 = times[i - 1], times[i], values[i - 1], values[i]
        return v0 + (v1 - v0) * (clock - t0) / (t1 - t0)

    def _span(self, begin: float, end: float) -> range:
        """Days that a span touches; beyond those that differ two are as good as many."""
        first = int((self.start + begin) // DAY)
        return range(first, min(int((self.start + end) // DAY), max(first, len(self.days)) + 1) + 1)

    def _within(self, begin: float, end: float) -> list[float]:
        if self._constant is not None:
            return [self._constant]
        found = [self.at(begin), self.at(end)]
        for day in self._span(begin, end):
            midnight = day * DAY - self.start
            found += [value for time, value in self._of(day) if begin <= midnight + time <= end]
        return found

    def warmest(self, begin: float, end: float) -> float:
        """Return the highest temperature [°C] of a span [s, s]."""
        return max(self._within(begin, end))

    def coldest(self, begin: float, end: float) -> float:
        """Return the lowest temperature [°C] of a span [s, s], nights among it."""
        return min(*self._within(begin, end), *self._nights(begin, end), math.inf)

    def _nights(self, begin: float, end: float) -> list[float]:
        """Lowest temperatures [°C] of the nights that a span touches."""
        if all(low is None for low in self._lows):
            return []
        found = []
        days = self._span(begin, end)
        for day in range(days.start - 1, days.stop):
            low = self._lows[min(max(day, 0), len(self._lows) - 1)]
            dusk = day * DAY + self._of(day)[-1][0] - self.start
            dawn = (day + 1) * DAY + self._of(day + 1)[0][0] - self.start
            if low is not None and dusk < end and dawn > begin:
                found.append(low)
        return found


def _refuse_points(points: Points) -> None:
    if not points:
        raise TimelineError("no temperature is given; accepted: at least one")
    if any(other[0] <= one[0] for one, other in itertools.pairwise(points)) or not (
        0 <= points[0][0] and points[-1][0] < DAY
    ):
        raise TimelineError(
            "the times of the temperatures are not in the order of one day; accepted: rising, from 0 to below 86400 s"
        )


@dataclass(frozen=True)
class Calendar:
    """Days on which there is work, counted from the first; from the last of them on, every day is one."""

    days: tuple[int, ...] = (0,)

    def works(self, day: int) -> bool:
        """Whether there is work on a day."""
        return day in self.days or day > self.days[-1]

    def next(self, day: int) -> int:
        """Return the first day of work that is not before a day.

        Examples
        --------
        >>> Calendar((0, 1, 4)).next(2), Calendar().next(2)
        (4, 2)
        """
        return next((one for one in self.days if one >= day), day)
