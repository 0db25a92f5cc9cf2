"""Bonded length that is left of a bar.

Below an empty ring at the mouth, and between voids of stated position and length.

Lengths are in mm, volumes in mm³. The formulas stand in `calc.strength.short.formulas`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from calc.base.errors import NotAccepted
from calc.base.maths import max
from calc.fill.level import length_of_shortfall
from calc.strength.short.formulas import bond_begins, bonded_length_lap, bonded_length_wide_gap, void_loss


@dataclass(frozen=True)
class Void:
    """A stretch of the bar without adhesive: depth below the mouth where it begins, and its length [mm]."""

    depth: float
    length: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.depth) and self.depth >= 0 and math.isfinite(self.length) and self.length > 0):
            raise NotAccepted(
                f"a void begins at a depth of 0 or more and is longer than 0; this one: depth {self.depth:g} mm, length"
                f" {self.length:g} mm"
            )


Voids = Sequence[Void]

# Where the adhesive of a short hole is missing; "unknown" counts as "back", the place where it costs a lap most.
Position = Literal["unknown", "mouth", "back"]


def merged(voids: Voids) -> list[tuple[float, float]]:
    """Put voids in order from the mouth, and those that overlap together, so that no length is lost twice."""
    spans: list[tuple[float, float]] = []
    for begin, end in sorted((v.depth, v.depth + v.length) for v in voids):
        if spans and begin <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((begin, end))
    return spans


def lost_length_mouth(*, V_short: Any, d_0: Any, phi: Any) -> Any:
    """Length of bar at the mouth that a missing volume leaves without adhesive.

    Parameters
    ----------
    V_short : float or ndarray [mm³]
        Volume missing from a full hole.
    d_0, phi : float or ndarray [mm]
        Diameter of the hole, nominal diameter of the bar.

    Returns
    -------
    float or ndarray [mm]
        It can exceed the embedment: then the back of the hole lacks adhesive as well.

    Raises
    ------
    NotAccepted
        A missing volume that is negative, or a bar that is not smaller than the hole.

    Examples
    --------
    >>> round(lost_length_mouth(V_short=1130.9734, d_0=20.0, phi=16.0), 3)
    10.0
    """
    refuse_negative("V_short", V_short, "mm³")
    return length_of_shortfall(V_short=V_short, d_0=d_0, phi=phi)


def refuse_negative(name: str, value: Any, unit: str) -> None:
    """Refuse numbers that are negative or not finite."""
    array = np.asarray(value, dtype=float)
    if array.size == 0 or not np.all(np.isfinite(array) & (array >= 0)):
        raise NotAccepted(f"{name} must be numbers in {unit} that are not negative; at least one is")


def bonded_length_left(
    *, u: Any, l_v: Any, c_e: Any = 0.0, delta_l: Any = 0.0, voids: Voids = (), position: Position = "unknown"
) -> Any:
    """Bonded length that is left of a bar that lacks adhesive on a length, without the voids inside it.

    Parameters
    ----------
    u : float or ndarray [mm]
        Length of bar without adhesive.
    l_v : float or ndarray [mm]
        Embedment.
    c_e, delta_l : float or ndarray [mm]
        End cover of the existing bar of a lap, and what a wide gap adds to the lap; neither carries.
    voids
        Voids of stated position and length; where two overlap, the length is lost once.
    position
        Where the length ``u`` lies. At the mouth of a lap it may lie within the end cover, which carries nothing
        anyway; without an end cover its place does not matter, and it is taken to lie at the mouth.

    Returns
    -------
    float or ndarray [mm]
        At least 0.

    Raises
    ------
    NotAccepted
        A length that is negative or not a number.

    Examples
    --------
    >>> bonded_length_left(u=30.0, l_v=200.0, voids=[Void(100.0, 20.0), Void(110.0, 20.0), Void(190.0, 40.0)])
    130.0
    """
    for name, value in (("u", u), ("l_v", l_v), ("c_e", c_e), ("delta_l", delta_l)):
        refuse_negative(name, value, "mm")
    ring = position == "mouth" or not np.any(c_e)
    z_b = bond_begins.function(u=u, c_e=c_e) if ring else c_e
    l_void: Any = 0.0
    for begin, end in merged(voids):
        l_void = l_void + void_loss.function(x_void=begin, h_void=end - begin, l_v=l_v, z_b=z_b)
    if ring:
        return bonded_length_wide_gap.function(l_v=l_v, z_b=z_b, l_void=l_void, delta_l=delta_l)
    return bonded_length_lap.function(l_v=l_v, c_e=c_e, u=u, l_void=l_void, delta_l=delta_l)
