"""Where the adhesive's surface stands while the bar goes in, what overflows, and what stays unfilled.

The adhesive lies at the back of the hole without air in it: it was injected from the back, the nozzle drawn out as the
hole filled. Depths are measured from the mouth, whichever way the hole points.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from calc.base.formula import RangeError, formula
from calc.base.maths import max, pi
from calc.base.units import Mm, Mm3, Ratio
from calc.fill.hole import GEOMETRY, required_volume, tip_depth, tip_volume

_DIAMETER = (0.0, 1_000.0)
_VOLUME = (0.0, 1e10)


@formula(symbol="f_full", source=GEOMETRY, limits={"d_0": _DIAMETER, "phi": _DIAMETER}, relations=("phi < d_0",))
def full_fraction(*, d_0: Mm, phi: Mm) -> Ratio:
    """Share of a straight hole that must be filled before the bar so that it is exactly full with the bar home.

    Examples
    --------
    >>> full_fraction(d_0=16.0, phi=12.0)
    0.4375
    """
    return 1 - (phi / d_0) ** 2


@formula(symbol="l_hole", source=GEOMETRY)
def hole_depth(*, l_v: Mm, overdrill: Mm) -> Mm:
    """Depth of the full-diameter hole.

    Examples
    --------
    >>> hole_depth(l_v=200.0, overdrill=10.0)
    210.0
    """
    return l_v + overdrill


@formula(symbol="z_0", source=GEOMETRY)
def level_before_bar(*, V: Mm3, V_t: Mm3, d_0: Mm, l_hole: Mm) -> Mm:
    """Depth of the surface below the mouth before the bar goes in; above the tip cone.

    Examples
    --------
    >>> round(level_before_bar(V=22619.467, V_t=0.0, d_0=20.0, l_hole=200.0), 3)
    128.0
    """
    return l_hole - (V - V_t) / (pi / 4 * d_0**2)


@formula(symbol="z_0", source=GEOMETRY)
def level_in_tip(*, V: Mm3, V_t: Mm3, h_t: Mm, l_hole: Mm) -> Mm:
    """Depth of the surface below the mouth while it still stands in the tip cone.

    Notes
    -----
    ``V`` is at most the tip's volume.

    Examples
    --------
    >>> level_in_tip(V=1.0, V_t=8.0, h_t=4.0, l_hole=100.0)
    102.0
    """
    return l_hole + h_t * (1 - (V / V_t) ** (1 / 3))


@formula(symbol="z", source=GEOMETRY, relations=("phi < d_0",))
def level_with_bar(*, V: Mm3, V_t: Mm3, d_0: Mm, phi: Mm, l_hole: Mm, x: Mm) -> Mm:
    """Depth of the surface below the mouth while the bar's end stands under it; negative when it overflows.

    Examples
    --------
    >>> round(level_with_bar(V=22619.467, V_t=0.0, d_0=20.0, phi=16.0, l_hole=200.0, x=200.0), 3)
    0.0
    """
    return (d_0**2 * l_hole - phi**2 * x - 4 / pi * (V - V_t)) / (d_0**2 - phi**2)


@formula(symbol="V_over", source=GEOMETRY)
def overflow_volume(*, V: Mm3, V_t: Mm3, d_0: Mm, phi: Mm, l_hole: Mm, x: Mm) -> Mm3:
    """Adhesive that has come out at the mouth with the bar's end at depth ``x``.

    Examples
    --------
    >>> round(overflow_volume(V=63000.0, V_t=0.0, d_0=20.0, phi=16.0, l_hole=200.0, x=0.0), 2)
    168.15
    """
    return max(V + pi / 4 * phi**2 * x - pi / 4 * d_0**2 * l_hole - V_t, 0)


@formula(symbol="V_over", source=GEOMETRY)
def surplus(*, V: Mm3, V_req: Mm3) -> Mm3:
    """Adhesive that comes out at the mouth once the bar is home.

    Examples
    --------
    >>> surplus(V=12.0, V_req=10.0)
    2.0
    """
    return max(V - V_req, 0)


@formula(symbol="V_short", source=GEOMETRY)
def shortfall(*, V_req: Mm3, V: Mm3) -> Mm3:
    """Volume missing from a full hole.

    Examples
    --------
    >>> shortfall(V_req=10.0, V=12.0)
    0.0
    """
    return max(V_req - V, 0)


@formula(symbol="u", source=GEOMETRY, relations=("phi < d_0",))
def length_of_shortfall(*, V_short: Mm3, d_0: Mm, phi: Mm) -> Mm:
    """Length of the empty ring at the mouth with the bar home.

    Examples
    --------
    >>> round(length_of_shortfall(V_short=1130.9734, d_0=20.0, phi=16.0), 3)
    10.0
    """
    return V_short / (pi / 4 * (d_0**2 - phi**2))


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value


def _refuse(V: Any, l_v: Any, x: Any) -> None:
    if not np.all((np.asarray(V) >= _VOLUME[0]) & (np.asarray(V) <= _VOLUME[1])):
        raise RangeError("V must lie between 0 and 1e10 mm³")
    if not np.all((np.asarray(x) >= 0) & (np.asarray(x) <= l_v)):
        raise RangeError("x, the depth of the bar's end, must lie between 0 and the embedment l_v")


def surface_depth(*, V: Any, d_0: Any, phi: Any, l_v: Any, x: Any, overdrill: Any = 0.0, theta: Any = 180.0) -> Any:
    """Depth of the adhesive's surface below the mouth with the bar's end at depth ``x``.

    Parameters
    ----------
    V : float or ndarray [mm³]
        Adhesive put in; tip and overdrill fill first.
    d_0, phi, l_v : float or ndarray [mm]
        Diameter of the hole, nominal diameter of the bar, embedment.
    x : float or ndarray [mm]
        Depth of the bar's end below the mouth, 0 to ``l_v``.
    overdrill : float or ndarray [mm]
        Full-diameter hole beyond the bar's end.
    theta : float or ndarray [°]
        Included point angle; 180° is a flat bottom.

    Returns
    -------
    float or ndarray [mm]
        0 when the hole overflows.

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> round(surface_depth(V=22619.467, d_0=20.0, phi=16.0, l_v=200.0, x=0.0), 3)
    128.0
    """
    _refuse(V, l_v, x)
    required_volume(d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta)  # refuses impossible holes
    l_hole, V_t = l_v + overdrill, tip_volume(d_0=d_0, theta=theta)
    in_tip = np.asarray(V) <= V_t
    share = np.where(np.asarray(V_t) > 0, V / np.where(np.asarray(V_t) > 0, V_t, 1.0), 1.0)
    cone = level_in_tip.function(V=share, V_t=1.0, h_t=tip_depth(d_0=d_0, theta=theta), l_hole=l_hole)
    before = level_before_bar.function(V=V, V_t=V_t, d_0=d_0, l_hole=l_hole)
    with_bar = level_with_bar.function(V=V, V_t=V_t, d_0=d_0, phi=phi, l_hole=l_hole, x=x)
    depth = np.where(in_tip, cone, np.where(before >= x, before, with_bar))
    return _plain(np.maximum(depth, 0.0))


def overflow(*, V: Any, d_0: Any, phi: Any, l_v: Any, x: Any, overdrill: Any = 0.0, theta: Any = 180.0) -> Any:
    """Volume that has come out at the mouth with the bar's end at depth ``x``.

    Parameters
    ----------
    V : float or ndarray [mm³]
        Adhesive put in.
    d_0, phi, l_v : float or ndarray [mm]
        Diameter of the hole, nominal diameter of the bar, embedment.
    x : float or ndarray [mm]
        Depth of the bar's end below the mouth, 0 to ``l_v``.
    overdrill : float or ndarray [mm]
        Full-diameter hole beyond the bar's end.
    theta : float or ndarray [°]
        Included point angle; 180° is a flat bottom.

    Returns
    -------
    float or ndarray [mm³]

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> round(overflow(V=23000.0, d_0=20.0, phi=16.0, l_v=200.0, x=200.0), 2)
    380.53
    """
    _refuse(V, l_v, x)
    required_volume(d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta)
    return _plain(
        overflow_volume(V=V, V_t=tip_volume(d_0=d_0, theta=theta), d_0=d_0, phi=phi, l_hole=l_v + overdrill, x=x)
    )


def unfilled_length(*, V: Any, d_0: Any, phi: Any, l_v: Any, overdrill: Any = 0.0, theta: Any = 180.0) -> Any:
    """Length of bar at the mouth that stays without adhesive when the bar is home.

    Parameters
    ----------
    V : float or ndarray [mm³]
        Adhesive put in.
    d_0, phi, l_v : float or ndarray [mm]
        Diameter of the hole, nominal diameter of the bar, embedment.
    overdrill : float or ndarray [mm]
        Full-diameter hole beyond the bar's end.
    theta : float or ndarray [°]
        Included point angle; 180° is a flat bottom.

    Returns
    -------
    float or ndarray [mm]
        At most ``l_v``: overdrill and tip fill first.

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> round(unfilled_length(V=20357.52, d_0=20.0, phi=16.0, l_v=200.0), 2)
    20.0
    """
    _refuse(V, l_v, l_v)
    missing = shortfall(V_req=required_volume(d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta), V=V)
    return _plain(np.minimum(length_of_shortfall(V_short=missing, d_0=d_0, phi=phi), l_v))
