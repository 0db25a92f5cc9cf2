"""What becomes of a volume in a hole while the bar goes in: everything that a picture, a panel or a page says of it.

A `Filling` is a result. Whoever draws it reads it and works nothing out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calc.fill.hole import MeasuredHole, tip_depth
from calc.fill.level import overflow, surface_depth, unfilled_length

Finding = Literal["short", "full", "overflow"]

# Shares of the embedment at which the bar is looked at on its way in.
MOMENTS = (0.0, 1 / 3, 2 / 3, 1.0)
# A measured hole's surface is searched for at each point, a straight hole's is a formula.
_POINTS, _POINTS_MEASURED = 121, 31


@dataclass(frozen=True)
class Moment:
    """The hole with the bar's end at a depth.

    Where the surface stands below the mouth [mm], and what has come out [mm³].
    """

    x: float
    surface: float
    spilt: float


@dataclass(frozen=True)
class Filling:
    """A volume in a hole, from before the bar to the bar at home; lengths in mm, volumes in mm³, the angle in degrees.

    Attributes
    ----------
    phi, l_v, theta
        Nominal diameter of the bar, embedment, included angle of the tip cone.
    volume
        What was put in.
    profile
        Depths and diameters of the full hole, from the mouth to where the tip cone begins.
    measured
        Whether the profile was measured on a hole.
    cone
        Height of the tip cone.
    moments
        The hole before the bar, with the bar a third in, two thirds in, and at home.
    depths, surfaces
        The surface's depth against that of the bar's end, at many points.
    gap
        Length at the mouth that stays without adhesive with the bar home.
    finding
        How the hole ends up, at the resolution that was asked for.
    """

    phi: float
    l_v: float
    theta: float
    volume: float
    profile: tuple[tuple[float, float], ...]
    measured: bool
    cone: float
    moments: tuple[Moment, ...]
    depths: NDArray[np.float64]
    surfaces: NDArray[np.float64]
    gap: float
    finding: Finding

    @property
    def before(self) -> Moment:
        """The hole before the bar goes in."""
        return self.moments[0]

    @property
    def home(self) -> Moment:
        """The hole with the bar at its depth."""
        return self.moments[-1]

    @property
    def mouth(self) -> float:
        """Diameter at the mouth."""
        return self.profile[0][1]

    @property
    def widest(self) -> float:
        """Largest diameter of the hole."""
        return max(diameter for _, diameter in self.profile)

    @property
    def wall(self) -> float:
        """Depth to the end of the full diameter."""
        return self.profile[-1][0]

    @property
    def bottom(self) -> float:
        """Depth to the point of the tip."""
        return self.wall + self.cone


def filled(
    *,
    d_0: float,
    phi: float,
    l_v: float,
    volume: float,
    overdrill: float = 0.0,
    theta: float = 180.0,
    measured: MeasuredHole | None = None,
    least_gap: float = 0.05,
    least_overflow: float = 5.0,
) -> Filling:
    """Put a volume into a hole, then the bar.

    Parameters
    ----------
    d_0, phi, l_v : float [mm]
        Diameter of the hole, nominal diameter of the bar, embedment.
    volume : float [mm³]
        Adhesive put in.
    overdrill : float [mm]
        Full-diameter hole beyond the bar's end.
    theta : float [°]
        Included point angle; 180° is a flat bottom.
    measured : MeasuredHole or None
        Diameters at depths that replace the straight hole, its overdrill and its tip.
    least_gap, least_overflow : float [mm], [mm³]
        Below these a gap or an overflow is not seen in the numbers that are shown, so that the hole counts as full.

    Returns
    -------
    Filling

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> filled(d_0=20.0, phi=16.0, l_v=200.0, volume=20357.52).finding
    'short'
    """
    if measured is None:
        hole = {"d_0": d_0, "phi": phi, "l_v": l_v, "overdrill": overdrill, "theta": theta}
        profile: tuple[tuple[float, float], ...] = ((0.0, d_0), (l_v + overdrill, d_0))
        gap = float(unfilled_length(V=volume, **hole))
        depths = np.linspace(0.0, l_v, _POINTS)
        surfaces = surface_depth(V=volume, x=depths, **hole)
        moments = [
            (x, float(surface_depth(V=volume, x=x, **hole)), float(overflow(V=volume, x=x, **hole))) for x in _ends(l_v)
        ]
    else:
        one = {"V": volume, "phi": phi, "l_v": l_v}
        theta, profile = measured.theta, tuple(zip(measured.depths, measured.diameters, strict=True))
        gap = min(measured.surface_depth(x=l_v, **one), l_v)
        depths = np.linspace(0.0, l_v, _POINTS_MEASURED)
        surfaces = np.array([measured.surface_depth(x=float(x), **one) for x in depths])
        moments = [(x, measured.surface_depth(x=x, **one), measured.overflow(x=x, **one)) for x in _ends(l_v)]
    return Filling(
        phi=phi,
        l_v=l_v,
        theta=theta,
        volume=volume,
        profile=profile,
        measured=measured is not None,
        cone=float(tip_depth(d_0=profile[-1][1], theta=theta)),
        moments=tuple(Moment(*moment) for moment in moments),
        depths=depths,
        surfaces=surfaces,
        gap=gap,
        finding="short" if gap >= least_gap else "overflow" if moments[-1][2] >= least_overflow else "full",
    )


def _ends(l_v: float) -> list[float]:
    """Depths of the bar's end at which it is looked at."""
    return [l_v * share for share in MOMENTS]
