"""The run through a job's packs, shift after shift: equal holes and equal shifts are counted, not walked through.

So the cost grows with the groups and not with the holes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from calc.work.packs.need import Need, PlanError, is_whole


def whole_up(quotient: float) -> int:
    """Round up as the formulas do, forgiving the last bits.

    On one number, where NumPy's overhead would be most of the time.
    """
    return math.ceil(quotient - 1e-9 * max(1.0, abs(quotient)))


def whole_down(quotient: float) -> int:
    """Round down as the formulas do, forgiving the last bits."""
    return 1 - whole_up(1.0 - quotient)


@dataclass
class PackRun:
    """Packs and mixers as they are used up, one shift after another.

    Parameters
    ----------
    first, later : float [mm³]
        Most that the first pack of a shift gives, and every later one.
    split : bool
        Whether a hole may be finished from the next pack; one that is more than a pack is in any case.
    new_mixer_with_pack : bool
        Whether each pack has a mixer of its own.
    pack_end : callable (V_max, n_h, V_round) [mm³]
        The bare formula of what a pack is left with.
    """

    first: float
    later: float
    split: bool
    new_mixer_with_pack: bool
    pack_end: Callable[..., float]
    packs: int = 0
    mixers: int = 0
    shifts: int = 0
    pack_ends: float = 0.0
    part_packs: float = 0.0
    left: float = 0.0
    started: bool = False

    def use(self, count: int, dose: float) -> None:
        """Fill ``count`` equal holes within one shift."""
        if self.split or whole_down(self.first / dose) < 1:  # no pack fills such a hole
            self._use_volume(count * dose)
        else:
            self._use_whole(count, dose)

    def end_shift(self) -> None:
        """Throw away the part pack and the mixer."""
        if self.started:
            self.shifts += 1
            self.part_packs += max(self.left, 0.0)
            self.left, self.started = 0.0, False

    def repeat(self, shift: PackRun, times: int) -> None:
        """Add a shift that was run elsewhere, so many times over."""
        for name in ("packs", "mixers", "shifts", "pack_ends", "part_packs"):
            setattr(self, name, getattr(self, name) + times * getattr(shift, name))

    def _open(self, packs: int) -> None:
        self.packs += packs
        self.mixers += packs if self.new_mixer_with_pack else (0 if self.started else 1)
        self.started = True

    def _use_whole(self, count: int, dose: float) -> None:
        count -= self._from_open_pack(count, dose)
        if count and not self.started:
            # With a mixer that is kept, the first pack of a shift alone pays for it.
            self._open(1)
            self.left = self.first
            count -= self._from_open_pack(count, dose)
        if count:
            self.pack_ends += max(self.left, 0.0)
            whole = whole_down(self.later / dose)
            packs = -(-count // whole)
            self._open(packs)
            self.pack_ends += (packs - 1) * max(self.pack_end(V_max=self.later, n_h=whole, V_round=dose), 0.0)
            self.left = self.later - (count - (packs - 1) * whole) * dose

    def _from_open_pack(self, count: int, dose: float) -> int:
        fits = min(count, whole_down(max(self.left, 0.0) / dose))
        self.left -= fits * dose
        return fits

    def _use_volume(self, volume: float) -> None:
        if not self.started:
            self._open(1)
            self.left = self.first
        missing = volume - self.left
        # The count forgives the last bits of a float, so that a pack used up exactly does not call for another one.
        packs = whole_up(missing / self.later) if missing > 0 else 0
        if packs:
            self._open(packs)
        self.left = max(packs * self.later - missing, 0.0)


def use_up(run: PackRun, *, groups: Iterable[Need], sizes: Iterator[float], each: int | None) -> None:
    """Go through the groups shift by shift; shifts that lie wholly within one group are run once and counted.

    Parameters
    ----------
    run : PackRun
        Takes the packs and mixers that are used up.
    groups : iterable of Need [mm³]
        In the order of work.
    sizes : iterator of float [-]
        Holes of each shift, from `shift_sizes`.
    each : int [-]
        Holes in each shift where all are equal; else None.
    """
    room = next(sizes)
    for need in groups:
        count = need.count
        while count:
            if each is not None and room == each and count >= 2 * each:
                shift = PackRun(run.first, run.later, run.split, run.new_mixer_with_pack, run.pack_end)
                shift.use(each, need.dose)
                shift.end_shift()
                times = count // each
                run.repeat(shift, times)
                count -= times * each
            now = int(min(count, room))
            if now:
                run.use(now, need.dose)
            count, room = count - now, room - now
            if room == 0:
                run.end_shift()
                room = next(sizes, 0)
    run.end_shift()


def shift_sizes(*, groups: Sequence[Need], each: int | None, listed: Sequence[int] | None) -> Iterator[float]:
    """Return the number of holes of every shift, after checking them.

    Parameters
    ----------
    groups : sequence of Need [mm³]
        All groups of the job.
    each : int [-]
        Holes in each shift; None with ``listed`` None is one shift.
    listed : sequence of int [-]
        Holes of each shift in turn, instead.

    Returns
    -------
    iterator of float [-]
        Endless where all shifts are equal.

    Raises
    ------
    PlanError
        Both given, a shift without a hole, or shifts that do not hold every hole.
    """
    accepted = "accepted: a whole number of holes from 1"
    if each is not None and listed is not None:
        raise PlanError(
            "holes_per_shift and shifts are both given; accepted: one of them, or neither for a job in one shift"
        )
    if listed is not None:
        for i, size in enumerate(listed, 1):
            if not is_whole(size) or size < 1:
                raise PlanError(f"shift {i} has {size} holes; {accepted}")
        total = sum(need.count for need in groups)
        if sum(listed) < total:
            raise PlanError(
                f"the {len(listed)} shifts hold {sum(listed)} holes and the job has {total}; accepted: shifts that hold"
                " every hole"
            )
        return iter([float(size) for size in listed])
    if each is None:
        return iter([math.inf])
    if not is_whole(each) or each < 1:
        raise PlanError(f"holes_per_shift is {each}; {accepted}")
    return _endless(each)


def _endless(each: int) -> Iterator[float]:
    while True:
        yield float(each)
