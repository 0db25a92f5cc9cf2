"""What a bar with a missing volume still carries, what missing volumes cost.

And the dose below which the force is not reached.

Every result stands under `ASSUMPTION`, and a hole that is not full under `NOT_CONFORMING`; both are in
`calc.strength.short.formulas`, as are the formulas. Lengths are in mm, forces in N, volumes in mm³.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.base.collector import Steps
from calc.base.display import METRIC, Display
from calc.base.errors import NotAccepted
from calc.base.maths import min
from calc.fill.level import length_of_shortfall
from calc.strength.short.formulas import (
    ASSUMPTION,
    NOT_CONFORMING,
    bar_resistance,
    bond_begins,
    bonded_length,
    bonded_length_lap,
    bonded_length_wide_gap,
    dose_for_ring,
    longest_ring,
    longest_void,
    needed_bond,
    void_loss,
)
from calc.strength.short.law import SAME, BondLaw, capacity, require_force
from calc.strength.short.length import Voids, bonded_length_left, lost_length_mouth, merged, refuse_negative


@dataclass(frozen=True)
class ShortBar:
    """What one bar with a missing volume still carries.

    Attributes
    ----------
    chain
        Every formula from volume to force; its notices carry the assumption.
    u, l_b
        Unfilled length at the mouth and bonded length that is left [mm].
    N_R
        Force that the bar resists [N]; 0 below the code's least length.
    """

    chain: Steps
    u: float
    l_b: float
    N_R: float


def _use_voids(chain: Steps, voids: Voids, display: Display) -> None:
    known, spans = chain.known, merged(voids)
    if len(spans) == 1:
        chain.ask("x_void", spans[0][0])
        chain.ask("h_void", spans[0][1] - spans[0][0])
        chain.use(void_loss, "bonded length that the void takes")
        return
    lost = 0.0
    for begin, end in spans:
        lost += void_loss(x_void=begin, h_void=end - begin, l_v=known["l_v"], z_b=known["z_b"])
    named = ", ".join(f"{display.size(begin)} to {display.size(end)}" for begin, end in spans)
    chain.choose(
        "l_void",
        lost,
        (
            f"what the voids ({named} below the mouth) take of the bonded length, one after the other"
            if spans
            else "no void stated"
        ),
    )


def short_chain(*, law: BondLaw, V_short: float, d_0: float, l_v: float, voids: Voids = ()) -> ShortBar:
    """Follow one bar from the missing volume to the lost length to the force that is left.

    Parameters
    ----------
    law
        What the code gives for a length.
    V_short
        Volume missing from a full hole [mm³].
    d_0, l_v
        Diameter of the hole, embedment [mm].
    voids
        Voids of stated position and length. Their own room is not taken off the missing volume: the safe reading.

    Returns
    -------
    ShortBar

    Raises
    ------
    NotAccepted
        A value outside its range, or a bar that is not smaller than the hole.
    """
    refuse_negative("V_short", V_short, "mm³")
    chain = law.reference.copy()
    chain.ask_each({"V_short": V_short, "d_0": d_0, "l_v": l_v})
    chain.note("assumption", ASSUMPTION, whole=True)
    if V_short > 0 or voids:
        chain.note("not_conforming", NOT_CONFORMING, whole=True)
    u = chain.use(length_of_shortfall, "length of bar that the missing volume leaves bare").value
    if law.ring:
        chain.use(bond_begins, "depth from which the bar is bonded")
        formula = bonded_length_wide_gap if law.idle else bonded_length
    else:
        chain.choose("z_b", law.start, "below the end cover of the existing bar")
        formula = bonded_length_lap
    _use_voids(chain, voids, law.display)
    l_b = chain.use(formula, "bonded length that is left").value
    if l_b < law.least_length * (1 - SAME):
        sentence = (
            f"the bonded length of {law.display.length(l_b)} is under the least length of {law.code},"
            f" {law.display.length(law.least_length)}: nothing is counted on"
        )
        chain.choose("N_R", 0.0, sentence)
        chain.note("under_least_length", sentence[0].upper() + sentence[1:])
        return ShortBar(chain, u, l_b, 0.0)
    chain.use(law.bond, "force that the bonded length carries")
    return ShortBar(chain, u, l_b, chain.use(bar_resistance, "force that the bar resists").value)


@dataclass(frozen=True)
class LossRow:
    """One line of a table of losses.

    Mm³, mm, mm, N, and the design force over the resistance (None when nothing is left).
    """

    V_short: float
    u: float
    l_b: float
    N_R: float
    utilisation: float | None
    reaches: bool


def loss_table(
    *, law: BondLaw, V_short: ArrayLike, d_0: float, l_v: float, N_Ed: float, voids: Voids = ()
) -> tuple[LossRow, ...]:
    """List what missing volumes cost in length and in force.

    Parameters
    ----------
    law
        What the code gives for a length.
    V_short
        Volumes missing from a full hole [mm³].
    d_0, l_v
        Diameter of the hole, embedment [mm].
    N_Ed
        Design force of the bar [N].
    voids
        Voids of stated position and length.

    Returns
    -------
    tuple of LossRow
        In the order of the volumes.

    Raises
    ------
    NotAccepted
        A value outside its range.
    """
    require_force(N_Ed)
    volumes = np.atleast_1d(np.asarray(V_short, dtype=float))
    u = lost_length_mouth(V_short=volumes, d_0=d_0, phi=law.reference.known["phi"])
    l_b = bonded_length_left(u=u, l_v=l_v, c_e=law.start, delta_l=law.idle, voids=voids, position=law.position)
    rows = np.column_stack((volumes, np.minimum(u, l_v), l_b, capacity(law=law, l_b=l_b))).tolist()
    return tuple(
        LossRow(v, bare, left, N_R, N_Ed / N_R if N_R > 0 else None, bool(_reaches(N_R, N_Ed)))
        for v, bare, left, N_R in rows
    )


@dataclass(frozen=True)
class LeastDose:
    """The dose below which a bar no longer reaches its design force [mm³]; None when no dose is enough, and why."""

    V_least: float | None
    reason: str
    chain: Steps


def least_dose(*, law: BondLaw, N_Ed: float, V_req: float, d_0: float, l_v: float, voids: Voids = ()) -> LeastDose:
    """Find the dose below which the bar no longer reaches its design force.

    Parameters
    ----------
    law
        What the code gives for a length.
    N_Ed
        Design force of the bar [N].
    V_req
        Required volume: what fills the hole with the bar home [mm³].
    d_0, l_v
        Diameter of the hole, embedment [mm].
    voids
        Voids of stated position and length. Their own room is not taken off the dose: the safe reading.

    Returns
    -------
    LeastDose
        Closed form. It is a line not to be crossed, not a dose to aim at: a hole that is not full does not conform.

    Raises
    ------
    NotAccepted
        A value outside its range, a bar that is not smaller than the hole, or a required volume smaller than the
        ring's.
    """
    require_force(N_Ed)
    for name, value, unit in (("V_req", V_req, "mm³"), ("l_v", l_v, "mm")):
        refuse_negative(name, value, unit)
    chain = law.reference.copy()
    chain.ask_each({"N_Ed": N_Ed, "V_req": V_req, "d_0": d_0, "l_v": l_v})
    chain.note("assumption", ASSUMPTION, whole=True)
    chain.note("not_conforming", NOT_CONFORMING, whole=True)
    if N_Ed > law.yield_force * (1 + SAME):
        force, strength = (law.display.force(n) for n in (N_Ed, law.yield_force))
        return LeastDose(None, f"no dose is enough: the steel yields at {strength}, the design force is {force}", chain)
    chain.use(law.need, "bonded length that the force needs")
    needed = chain.use(needed_bond, "bonded length that is needed").value
    full = float(
        bonded_length_left(u=0.0, l_v=l_v, c_e=law.start, delta_l=law.idle, voids=voids, position=law.position)
    )
    if needed > full * (1 + SAME):
        return LeastDose(
            None,
            f"no dose is enough: {law.display.length(needed)} of bonded length are needed, a full hole has"
            f" {law.display.length(full)}",
            chain,
        )
    if law.ring:
        _use_voids_below(chain, law, voids, min(needed, full))
        chain.use(longest_ring, "longest empty ring that still does")
    else:
        chain.choose("z_b", law.start, "below the end cover of the existing bar")
        _use_voids(chain, voids, law.display)
        chain.use(longest_void, "longest bare stretch that still does")
    least = chain.use(dose_for_ring, "dose below which the force is no longer reached").value
    if least < 0:
        raise NotAccepted(
            f"V_req = {METRIC.amount(V_req, 'mm³')} is less than the ring around the bar: volume and hole do not go"
            " together"
        )
    return LeastDose(least, "", chain)


def _use_voids_below(chain: Steps, law: BondLaw, voids: Voids, needed: float) -> None:
    """Go up from the bar's end until enough of it is bonded.

    The voids passed on the way are what the ring's formula takes off.

    A full hole bonds enough, so the way ends at or below the depth where the bond begins.
    """
    left, top, passed = needed + law.idle, chain.known["l_v"], 0.0
    for begin, end in reversed([s for s in merged(voids) if s[0] < top]):
        if top - min(end, top) >= left * (1 - SAME):
            break
        left -= top - min(end, top)
        passed += min(end, top) - begin
        top = begin
    chain.choose("l_void", passed, "what voids below the ring take of the bonded length" if voids else "no void stated")


def share_below(*, law: BondLaw, unfilled: ArrayLike, l_v: ArrayLike, N_Ed: float, voids: Voids = ()) -> float:
    """Share of simulated bars that no longer reach their design force.

    Parameters
    ----------
    law
        What the code gives for a length.
    unfilled
        Unfilled length at the mouth of each simulated bar [mm], such as `calc.fill.level.unfilled_length` gives for
        scattered holes and doses.
    l_v
        Embedment [mm], one for all or one for each bar.
    N_Ed
        Design force of the bar [N].
    voids
        Voids of stated position and length, in every bar.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    NotAccepted
        No bar, or a length that is negative or not a number.
    """
    require_force(N_Ed)
    u: NDArray[np.float64] = np.asarray(unfilled, dtype=float)
    l_b = bonded_length_left(
        u=u, l_v=np.asarray(l_v, dtype=float), c_e=law.start, delta_l=law.idle, voids=voids, position=law.position
    )
    return float(np.mean(~_reaches(capacity(law=law, l_b=np.asarray(l_b)), N_Ed)))


def _reaches(N_R: Any, N_Ed: float) -> Any:
    return np.asarray(N_R) >= N_Ed * (1 - SAME)
