"""The hole and the bar: areas, annulus, tip cone, overdrill, required volume; straight or as measured."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from calc.base.formula import RangeError, formula
from calc.base.maths import pi, sqrt, tan
from calc.base.units import Degree, Mm, Mm2, Mm3

GEOMETRY = "geometry"
_LENGTH = (0.0, 20_000.0)
_DIAMETER = (0.0, 1_000.0)
_ANGLE = (1.0, 180.0)


@formula(symbol="A_0", source=GEOMETRY, limits={"d_0": _DIAMETER})
def hole_area(*, d_0: Mm) -> Mm2:
    """Cross-section of the drilled hole.

    Examples
    --------
    >>> round(hole_area(d_0=20.0), 3)
    314.159
    """
    return pi / 4 * d_0**2


@formula(
    symbol="A_s",
    source="EN 10080, ISO 6935-2: the nominal area is mass-equivalent, so the ribs are already in it",
    limits={"phi": _DIAMETER},
)
def bar_area(*, phi: Mm) -> Mm2:
    """Cross-section of the bar from its nominal diameter.

    Notes
    -----
    ``phi`` is not the diameter over the ribs.

    Examples
    --------
    >>> round(bar_area(phi=16.0), 3)
    201.062
    """
    return pi / 4 * phi**2


@formula(
    symbol="V_a", source=GEOMETRY, limits={"d_0": _DIAMETER, "phi": _DIAMETER, "l_v": _LENGTH}, relations=("phi < d_0",)
)
def annular_volume(*, d_0: Mm, phi: Mm, l_v: Mm) -> Mm3:
    """Volume of the ring between hole and bar over the embedment.

    Examples
    --------
    >>> round(annular_volume(d_0=20.0, phi=16.0, l_v=200.0), 2)
    22619.47
    """
    return pi / 4 * (d_0**2 - phi**2) * l_v


@formula(symbol="V_o", source=GEOMETRY, limits={"d_0": _DIAMETER, "overdrill": _LENGTH})
def overdrill_volume(*, d_0: Mm, overdrill: Mm) -> Mm3:
    """Volume of the full-diameter hole beyond the bar's end.

    Notes
    -----
    The tip cone is not in it.

    Examples
    --------
    >>> round(overdrill_volume(d_0=20.0, overdrill=10.0), 2)
    3141.59
    """
    return pi / 4 * d_0**2 * overdrill


@formula(symbol="h_t", source=GEOMETRY, limits={"d_0": _DIAMETER, "theta": _ANGLE})
def tip_depth(*, d_0: Mm, theta: Degree) -> Mm:
    """Height of the cone that the drill's point leaves.

    Examples
    --------
    >>> round(tip_depth(d_0=20.0, theta=130.0), 3), tip_depth(d_0=20.0, theta=180.0)
    (4.663, 0.0)
    """
    return d_0 / 2 * tan((180 - theta) / 2)


@formula(symbol="V_t", source=GEOMETRY, limits={"d_0": _DIAMETER, "theta": _ANGLE})
def tip_volume(*, d_0: Mm, theta: Degree) -> Mm3:
    """Volume of the cone that the drill's point leaves.

    Examples
    --------
    >>> round(tip_volume(d_0=20.0, theta=130.0), 1), tip_volume(d_0=20.0, theta=180.0)
    (488.3, 0.0)
    """
    return pi / 24 * d_0**3 * tan((180 - theta) / 2)


@formula(symbol="V_req", source=GEOMETRY)
def total_volume(*, V_a: Mm3, V_o: Mm3, V_t: Mm3) -> Mm3:
    """Required volume: what fills the hole exactly with the bar home.

    Examples
    --------
    >>> total_volume(V_a=3.0, V_o=2.0, V_t=1.0)
    6.0
    """
    return V_a + V_o + V_t


@formula(symbol="V_h", source=GEOMETRY, limits={"d_1": _DIAMETER, "d_2": _DIAMETER, "h": _LENGTH})
def volume_down_to(*, V_above: Mm3, d_1: Mm, d_2: Mm, h: Mm) -> Mm3:
    """Volume of a measured hole down to the lower end of a slice, the slice being a frustum of a cone.

    Examples
    --------
    >>> round(volume_down_to(V_above=0.0, d_1=20.0, d_2=20.0, h=10.0), 2)
    3141.59
    """
    return V_above + pi / 12 * h * (d_1**2 + d_1 * d_2 + d_2**2)


@formula(symbol="z_h", source=GEOMETRY, limits={"z_above": _LENGTH, "h": _LENGTH})
def depth_down_to(*, z_above: Mm, h: Mm) -> Mm:
    """Depth below the mouth of a slice's lower end, in a measured hole.

    Examples
    --------
    >>> depth_down_to(z_above=15.0, h=25.0)
    40.0
    """
    return z_above + h


@formula(symbol="V_a", source=GEOMETRY, limits={"phi": _DIAMETER, "l_v": _LENGTH})
def annular_volume_measured(*, V_h: Mm3, phi: Mm, l_v: Mm) -> Mm3:
    """Annular volume of a measured hole: the hole down to the bar's end, less the bar.

    Notes
    -----
    ``V_h`` is the volume of the hole down to the bar's end.

    Examples
    --------
    >>> round(annular_volume_measured(V_h=62831.853, phi=16.0, l_v=200.0), 2)
    22619.47
    """
    return V_h - pi / 4 * phi**2 * l_v


@formula(symbol="V_o", source=GEOMETRY)
def overdrill_volume_measured(*, V_h: Mm3, V_above: Mm3) -> Mm3:
    """Volume of a measured hole beyond the bar's end.

    Notes
    -----
    ``V_h`` is the volume of the whole full-diameter hole, ``V_above`` that down to the bar's end.

    Examples
    --------
    >>> overdrill_volume_measured(V_h=5.0, V_above=3.0)
    2.0
    """
    return V_h - V_above


@formula(symbol="d_0", source=GEOMETRY, limits={"d_bit": _DIAMETER, "e_bit": (0.0, 100.0)})
def bored_diameter(*, d_bit: Mm, e_bit: Mm) -> Mm:
    """Diameter of a hole that is wider than the bit cuts, because a hammer bit wanders and shakes.

    Examples
    --------
    >>> bored_diameter(d_bit=20.0, e_bit=0.25)
    20.25
    """
    return d_bit + e_bit


@formula(symbol="V_hole", source=GEOMETRY, limits={"phi": _DIAMETER, "l_v": _LENGTH})
def empty_volume(*, V_req: Mm3, phi: Mm, l_v: Mm) -> Mm3:
    """What the hole holds while no bar is in it: the required volume and that of the bar.

    Examples
    --------
    >>> round(empty_volume(V_req=22619.467, phi=16.0, l_v=200.0))
    62832
    """
    return V_req + pi / 4 * phi**2 * l_v


@formula(symbol="d_m", source=GEOMETRY, limits={"l_hole": (1e-9, 1e5)}, relations=("V_t < V_hole",))
def even_diameter(*, V_hole: Mm3, V_t: Mm3, l_hole: Mm) -> Mm:
    """Diameter of the straight hole that holds as much as a measured one, its tip left out.

    Examples
    --------
    >>> round(even_diameter(V_hole=63320.17, V_t=488.32, l_hole=200.0), 4)
    20.0
    """
    return sqrt(4 / pi * (V_hole - V_t) / l_hole)


def required_volume(*, d_0: Any, phi: Any, l_v: Any, overdrill: Any = 0.0, theta: Any = 180.0) -> Any:
    """Volume that fills a straight hole exactly with the bar home: annulus, overdrill and tip cone.

    Parameters
    ----------
    d_0, phi, l_v : float or ndarray [mm]
        Diameter of the hole, nominal diameter of the bar, embedment.
    overdrill : float or ndarray [mm]
        Full-diameter hole beyond the bar's end; the tip cone comes after it.
    theta : float or ndarray [°]
        Included point angle; 180° is a flat bottom.

    Returns
    -------
    float or ndarray [mm³]

    Raises
    ------
    RangeError
        A value outside its range, or a bar that is not smaller than the hole.

    Examples
    --------
    >>> round(required_volume(d_0=20.0, phi=16.0, l_v=200.0, theta=130.0), 2)
    23107.78
    """
    return total_volume(
        V_a=annular_volume(d_0=d_0, phi=phi, l_v=l_v),
        V_o=overdrill_volume(d_0=d_0, overdrill=overdrill),
        V_t=tip_volume(d_0=d_0, theta=theta),
    )


@dataclass(frozen=True)
class MeasuredHole:
    """A hole known by diameters at depths: a worn bit's taper, a mouth broken out.

    Between two depths the diameter runs in a straight line, so each slice is a frustum and its volume exact. The last
    depth is the end of the full-diameter hole; the tip cone of included angle ``theta`` follows it.

    Attributes
    ----------
    depths : tuple of float [mm]
        From 0 at the mouth, rising.
    diameters : tuple of float [mm]
        One for each depth.
    theta : float [°]
        Included point angle of the tip.
    """

    depths: tuple[float, ...]
    diameters: tuple[float, ...]
    theta: float = 180.0

    def __post_init__(self) -> None:
        """Refuse readings that describe no hole."""
        if len(self.depths) != len(self.diameters) or len(self.depths) < 2:
            raise RangeError("a measured hole needs at least two depths, and one diameter for each")
        if self.depths[0] != 0 or not all(a < b for a, b in zip(self.depths, self.depths[1:], strict=False)):
            raise RangeError("the depths of a measured hole start at 0 and rise")
        if not all(0 < d <= _DIAMETER[1] for d in self.diameters):
            raise RangeError("the diameters of a measured hole lie between 0 and 1000 mm")

    @property
    def end(self) -> float:
        """Depth of the full-diameter hole [mm]."""
        return self.depths[-1]

    @property
    def tip(self) -> float:
        """Volume of the tip cone [mm³]."""
        return float(tip_volume(d_0=self.diameters[-1], theta=self.theta))

    def diameter(self, depth: float) -> float:
        """Diameter [mm] at a depth [mm]."""
        return float(np.interp(depth, self.depths, self.diameters))

    def slices(self, upto: float, start: float = 0.0) -> list[tuple[float, float, float]]:
        """Cut the hole between two depths into frusta: upper diameter, lower diameter, height, all [mm]."""
        if not 0 <= start <= upto <= self.end * (1 + 1e-12):
            raise RangeError(f"depth {upto:g} mm is beyond the last measured depth, {self.end:g} mm")
        knots = [start, *(d for d in self.depths if start < d < upto), upto]
        return [(self.diameter(a), self.diameter(b), b - a) for a, b in itertools.pairwise(knots)]

    def volume_to(self, depth: float) -> float:
        """Volume of the hole [mm³] from the mouth to a depth [mm]."""
        total = 0.0
        for d_1, d_2, h in self.slices(depth):
            total = volume_down_to(V_above=total, d_1=d_1, d_2=d_2, h=h)
        return total

    def required(self, *, phi: float, l_v: float) -> float:
        """Volume [mm³] that fills the hole exactly with the bar home."""
        if min(self.diameters) <= phi:
            raise RangeError(
                f"the bar ({phi:g} mm) must be smaller than every measured diameter (least: {min(self.diameters):g} mm)"
            )
        annulus = annular_volume_measured(V_h=self.volume_to(l_v), phi=phi, l_v=l_v)
        return float(annulus + (self.volume_to(self.end) - self.volume_to(l_v)) + self.tip)

    def surface_depth(self, *, V: float, phi: float, l_v: float, x: float) -> float:
        """Depth of the adhesive's surface below the mouth [mm] with the bar's end at depth ``x``.

        0 when it overflows.
        """
        if not 0 <= x <= l_v:
            raise RangeError(f"x = {x:g} mm is outside 0 to {l_v:g} mm")
        whole, cone = self.volume_to(self.end), self.tip
        if V <= cone:
            height = float(tip_depth(d_0=self.diameters[-1], theta=self.theta))
            return self.end + height * (1 - (V / cone) ** (1 / 3)) if cone else self.end
        area = float(bar_area(phi=phi))

        def surplus(z: float) -> float:
            return V + area * max(x - z, 0.0) - (whole - self.volume_to(z)) - cone

        if surplus(0.0) >= 0:
            return 0.0
        from scipy.optimize import brentq  # imported where it is needed: it takes longer than all the rest of this room

        return float(brentq(surplus, 0.0, self.end, xtol=1e-10, rtol=1e-14))

    def overflow(self, *, V: float, phi: float, l_v: float, x: float) -> float:
        """Volume that has come out at the mouth [mm³] with the bar's end at depth ``x``."""
        if not 0 <= x <= l_v:
            raise RangeError(f"x = {x:g} mm is outside 0 to {l_v:g} mm")
        return max(V - (self.volume_to(self.end) + self.tip - float(bar_area(phi=phi)) * x), 0.0)
