"""Ways of preparing the hole compared, with the user's own times: hours, what is used up, dust, and cautions.

Nothing here knows how long anything takes: every time, and how many holes a charge, a bit or a bag lasts for, is the
user's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import ceil
from calc.base.units import Minute, Ratio, Whole
from calc.files.site import Site, Way
from calc.fill.dust import CLOUD, Control, bags, bulked_volume, controls, drilled_mass


@formula(symbol="f_save", source="definition", limits={"t_way": (0.0, 1e9), "t_other": (1e-9, 1e9)})
def share_saved(*, t_way: Minute, t_other: Minute) -> Ratio:
    """Share of the preparation time that a way saves against another; negative when it takes longer.

    Notes
    -----
    Both times may be in any one unit.

    Examples
    --------
    >>> share_saved(t_way=60.0, t_other=150.0)
    0.6
    """
    return 1 - t_way / t_other


@formula(symbol="n_use_up", source="definition", limits={"n_hole": (0.0, 1e9), "n_per": (1.0, 1e9)})
def used_up(*, n_hole: Whole, n_per: Whole) -> Whole:
    """Whole number of charges, bits or bags that the holes take.

    Examples
    --------
    >>> used_up(n_hole=100.0, n_per=40.0)
    3.0
    """
    return ceil(n_hole / n_per)


@dataclass(frozen=True)
class Holes:
    """Holes of one group: how many, how deep [mm], volume of concrete that each takes out with its tip [mm³], diameter.

    A bit drills one ``diameter`` [mm] only.
    """

    count: int
    depth: float
    volume: float
    diameter: float = 0.0


@dataclass(frozen=True)
class WayCost:
    """What one way of preparing the holes costs.

    Attributes
    ----------
    steps
        (what is done, time [s] for all holes together), in order.
    hours
        For all holes, one crew, without walking [h].
    saved
        Share of the time saved against the way that is compared with; NaN when that one takes no time.
    charges, bits, bags
        None when the user gave nothing to reckon them with. Bags come from ``holes_per_bag``, or else from the volume
        of the dust.
    dust_mass
        Concrete drilled out [g], the same for every way; None when no density was given.
    dust_volume
        Of the loose dust [mm³]; None when no bulking was given.
    """

    name: str
    steps: tuple[tuple[str, float], ...]
    hours: float
    saved: float
    charges: int | None
    bits: int | None
    bags: int | None
    dust_mass: float | None
    dust_volume: float | None
    cautions: tuple[str, ...]
    controls: tuple[Control, ...]


JAM = "A bit that jams turns the machine: use a clutch that lets go, a second handle and a firm stand."
STEEL_IN_THE_WAY = (
    "Existing steel and cables in the hole: locate them before drilling; a bit that meets steel is stopped, not forced."
)
NOISE = "Noise and vibration: hearing protection, and a limit on the time that one person drills in a day."
EXTRACTED = (
    "Extraction works while it runs and its filter is clean: the vacuum cleaner starts before the drill, and bags are"
    " changed before they are full."
)
HIDDEN = (
    "A hole that extraction is to leave clean is looked into all the same: a blocked bit or a full bag leaves dust on"
    " its wall."
)
BRUSHED = "A brush that has worn below its diameter no longer touches the wall: measure it, and change it."
WET = "Flushing leaves slurry and a wet hole: the approval must allow that, and the water must be drawn off."
APPROVED = "The product's approval says which ways of preparing the hole it allows; this comparison does not."


def cautions_of(way: Way) -> tuple[str, ...]:
    """Cautions of one way of preparing the hole (common practice, no source).

    Parameters
    ----------
    way : Way
        Its steps, and whether dust is drawn off at the bit.

    Returns
    -------
    tuple of str
        What holds for every drilled hole first.
    """
    done = {step.do for step in way.steps}
    by_action = (("blow", CLOUD), ("brush", BRUSHED), ("flush", WET))
    special = tuple(text for action, text in by_action if action in done)
    return (JAM, STEEL_IN_THE_WAY, NOISE, *((EXTRACTED, HIDDEN) if way.extraction else ()), *special, APPROVED)


def compare_preparations(*, site: Site, holes: Sequence[Holes]) -> tuple[WayCost, ...]:
    """Compare all ways of preparing the holes that the job's site names.

    Parameters
    ----------
    site : Site
        The user's times [s] and ways.
    holes : sequence of Holes
        One entry for each group [-, mm, mm³].

    Returns
    -------
    tuple of WayCost
        In the order of the job file [h, -, g, mm³]; the saving is counted from the way that takes longest.

    Raises
    ------
    NotAccepted
        No holes.
    """
    if not holes or any(one.count < 1 or not one.depth > 0 or not one.volume > 0 for one in holes):
        raise NotAccepted(
            "there are no holes to prepare; accepted: at least one group, with count, depth and volume above 0"
        )
    timed = {name: _timed(site, way, holes) for name, way in site.ways.items()}
    totals = {name: sum(time for _, time in steps) for name, steps in timed.items()}
    longest = max(totals.values())
    return tuple(_cost(site, name, timed[name], totals[name], longest, holes) for name in site.ways)


def _timed(site: Site, way: Way, holes: Sequence[Holes]) -> tuple[tuple[str, float], ...]:
    return tuple(
        (step.name, sum(one.count * step.seconds(site.times, one.depth) for one in holes)) for step in way.steps
    )


def _cost(
    site: Site, name: str, steps: tuple[tuple[str, float], ...], total: float, other: float, holes: Sequence[Holes]
) -> WayCost:
    way, count = site.ways[name], sum(one.count for one in holes)
    drilled = sum(one.count * one.volume for one in holes)
    dust = site.dust
    volume = (
        bulked_volume(V_drill=drilled, k_bulk=dust.bulking) if dust is not None and dust.bulking is not None else None
    )
    return WayCost(
        name=name,
        steps=steps,
        hours=total / 3600,
        saved=share_saved(t_way=total / 60, t_other=other / 60) if other > 0 else float("nan"),
        charges=_whole(count, way.holes_per_charge),
        bits=None if way.holes_per_bit is None else sum(bits_used(holes, way.holes_per_bit).values()),
        bags=_bags(site, way, count, volume),
        dust_mass=drilled_mass(V_drill=drilled, rho_con=dust.density) if dust is not None else None,
        dust_volume=volume,
        cautions=cautions_of(way),
        controls=controls(
            method="drill with extraction" if way.extraction else "drill", actions=[step.do for step in way.steps]
        ),
    )


def of_diameters(holes: Sequence[Holes]) -> dict[float, int]:
    """Count the holes of each diameter [mm], the smallest first."""
    found = dict.fromkeys(sorted({one.diameter for one in holes}), 0)
    for one in holes:
        found[one.diameter] += one.count
    return found


def bits_used(holes: Sequence[Holes], per_bit: int) -> dict[float, int]:
    """Count the bits of each diameter [mm] that the holes wear out: each begins with a bit of its own."""
    return {
        diameter: int(used_up(n_hole=float(count), n_per=float(per_bit)))
        for diameter, count in of_diameters(holes).items()
    }


def _whole(count: int, per: int | None) -> int | None:
    return None if per is None else int(used_up(n_hole=float(count), n_per=float(per)))


def _bags(site: Site, way: Way, count: int, volume: float | None) -> int | None:
    """Bags by the user's count of holes, else by the volume of dust; a way that draws nothing off fills none."""
    if not way.extraction and all(step.do != "vacuum" for step in way.steps):
        return 0
    if way.holes_per_bag is not None:
        return _whole(count, way.holes_per_bag)
    if volume is None or site.dust is None or site.dust.bag_volume is None:
        return None
    return int(bags(V_dust=volume, V_bag=site.dust.bag_volume))
