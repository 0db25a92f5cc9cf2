"""What a plan of packs is made from and what comes of it: needs, waste, the plan, and the values that are refused."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from calc.base.errors import NotAccepted
from calc.base.units import convert

# How packs are counted, by whether a hole may be finished from the next pack.
COUNTED_BY = {
    True: "Packs are counted by volume, for a hole may be finished from the next pack",
    False: "Packs are counted by whole holes, none of which is finished from the next pack",
}


class PlanError(NotAccepted):
    """A plan that cannot be made; the message is a sentence."""


@dataclass(frozen=True)
class Need:
    """A group of equal holes: how many, what each is given [mm³], and how much of that comes out at the mouth [mm³]."""

    mark: str
    count: int
    dose: float
    overflow: float = 0.0


@dataclass(frozen=True)
class Waste:
    """Adhesive that is bought and does not stay in a hole, by cause [mm³].

    ``pack_ends`` is what a pack is left with when it is too little for the next hole; ``part_packs`` is what the last
    pack of each shift still has.
    """

    overflow: float
    discard_mixer: float
    discard_pack: float
    mixer_content: float
    residual: float
    pack_ends: float
    part_packs: float

    @property
    def total(self) -> float:
        """All causes together [mm³]."""
        return math.fsum(asdict(self).values())


@dataclass(frozen=True)
class GroupUse:
    """What a pack means for one group: whole holes that a full pack gives, and packs that one hole takes."""

    mark: str
    count: int
    dose: float
    holes_per_pack: int
    packs_per_hole: int
    overflow: float = 0.0


@dataclass(frozen=True)
class PackPlan:
    """Packs and mixers of a whole job.

    Volumes [mm³]; ``packs`` and ``mixers`` are used up, the others are to be ordered.
    """

    holes: int
    shifts: int
    packs: int
    mixers: int
    packs_to_order: int
    mixers_to_order: int
    in_holes: float
    waste: Waste
    left_over: float
    bought: float
    first_yield: float
    later_yield: float
    pack_volume: float
    residual: float
    discard_per_mixer: float
    discard_per_pack: float
    mixer_volume: float
    reserve: float
    split: bool
    groups: tuple[GroupUse, ...]

    @property
    def counted(self) -> str:
        """How packs are counted, the beginning of a sentence."""
        return COUNTED_BY[self.split]

    def totals(self) -> dict[str, Any]:
        """Return the keys for the totals of results.json, volumes in litres; packs and mixers without the reserve."""
        litres = {
            f"{name}_L": convert(value, "mm³", "L")
            for name, value in asdict(self.waste).items()
            if not name.startswith("discard")
        }
        discard = convert(self.waste.discard_mixer + self.waste.discard_pack, "mm³", "L")
        numbers = {
            "packs": self.packs,
            "mixers": self.mixers,
            "packs_to_order": self.packs_to_order,
            "mixers_to_order": self.mixers_to_order,
        }
        return {"discard_L": discard, **litres, **numbers, "shifts": self.shifts}


def is_whole(value: object) -> bool:
    """Say whether a value is a whole number and no truth value.

    Parameters
    ----------
    value
        Whatever was given.

    Returns
    -------
    bool
    """
    return isinstance(value, int) and not isinstance(value, bool)


def check_groups(groups: Sequence[Need]) -> None:
    """Refuse groups that cannot be planned with.

    Parameters
    ----------
    groups : sequence of Need [mm³]
        All groups of the job.

    Raises
    ------
    PlanError
        No group, a count below one or not whole, a dose or an overflow that cannot be.
    """
    if not groups:
        raise PlanError("the job has no group; accepted: at least one group of holes")
    for need in groups:
        if not is_whole(need.count) or need.count < 1:
            raise PlanError(f"group {need.mark} has {need.count} holes; accepted: a whole number from 1")
        if not (math.isfinite(need.dose) and need.dose > 0):
            raise PlanError(f"group {need.mark} has a dose of {need.dose:g} mm³; accepted: a finite volume above 0")
        if not 0 <= need.overflow <= need.dose:
            raise PlanError(
                f"group {need.mark} has an overflow of {need.overflow:g} mm³; accepted: from 0 to its dose,"
                f" {need.dose:g} mm³"
            )


def check_volumes(*, pack: float, parts: Mapping[str, float], reserve: float) -> None:
    """Refuse volumes of pack and mixer, and a reserve, that cannot be planned with.

    Parameters
    ----------
    pack : float [mm³]
        Content of a pack.
    parts : mapping of float [mm³]
        What a pack loses, by the name in sentences.
    reserve : float [-]
        Share ordered on top.

    Raises
    ------
    PlanError
        A volume that is negative or not finite, an empty pack, a reserve out of range.
    """
    if not (math.isfinite(pack) and pack > 0):
        raise PlanError(f"pack_volume is {pack:g} mm³; accepted: a finite volume above 0")
    for name, value in parts.items():
        if not (math.isfinite(value) and value >= 0):
            raise PlanError(f"{name} is {value:g} mm³; accepted: a finite volume from 0")
    if not 0 <= reserve <= 10:
        raise PlanError(f"reserve is {reserve:g}; accepted: from 0 to 10, such as 0.10 for ten per cent more")
