"""From the required volume to a dose, a rounded dose, and back from what was injected."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from calc.base.formula import RangeError, formula
from calc.base.maths import ceil
from calc.base.units import Mm3, Ratio, Whole
from calc.fill.hole import required_volume
from calc.fill.level import overflow, unfilled_length

_OVERFILL = (-0.9, 5.0)
_PRACTICE = "definition"


@formula(symbol="V_dose", source=_PRACTICE, limits={"V_req": (0.0, 1e10), "overfill": _OVERFILL})
def dose(*, V_req: Mm3, overfill: Ratio) -> Mm3:
    """Dose: the required volume and a share on top.

    Notes
    -----
    An overfill of 0.10 is ten per cent more. Volumes may be in any one unit; the result is in the same.

    Examples
    --------
    >>> round(dose(V_req=20.0, overfill=0.10), 6)
    22.0
    """
    return V_req * (1 + overfill)


@formula(symbol="n_g", source=_PRACTICE, limits={"V_dose": (0.0, 1e10), "graduation": (1e-9, 1e9)})
def graduations(*, V_dose: Mm3, graduation: Mm3) -> Whole:
    """Whole number of a dispenser's graduations, or of strokes, that gives at least the dose.

    Notes
    -----
    A stroke's volume stands for a graduation as well. Both volumes may be in any one unit.

    Examples
    --------
    >>> graduations(V_dose=2.1, graduation=0.7)
    3.0
    """
    return ceil(V_dose / graduation)


@formula(symbol="V_round", source=_PRACTICE)
def graduated_dose(*, n_g: Whole, graduation: Mm3) -> Mm3:
    """Rounded dose: whole graduations or strokes.

    Notes
    -----
    A stroke's volume stands for a graduation as well. Volumes may be in any one unit; the result is in the same.

    Examples
    --------
    >>> graduated_dose(n_g=4.0, graduation=5.0)
    20.0
    """
    return n_g * graduation


@formula(symbol="V_extra", source=_PRACTICE)
def rounding_extra(*, V_round: Mm3, V_dose: Mm3) -> Mm3:
    """Adhesive that rounding up costs at one hole.

    Notes
    -----
    Volumes may be in any one unit; the result is in the same.

    Examples
    --------
    >>> rounding_extra(V_round=20.0, V_dose=18.0)
    2.0
    """
    return V_round - V_dose


@formula(symbol="f_round", source=_PRACTICE, limits={"V_dose": (1e-9, 1e10)})
def rounding_share(*, V_extra: Mm3, V_dose: Mm3) -> Ratio:
    """Share of the dose that rounding it up adds.

    Notes
    -----
    Volumes may be in any one unit.

    Examples
    --------
    >>> rounding_share(V_extra=2.0, V_dose=16.0)
    0.125
    """
    return V_extra / V_dose


# Packages of schema 1 hold steps by it, which are redone under review.
@formula(
    symbol="V_max",
    source="common practice, no source: the residual stays in the pack, the first part of each mixer is discarded",
)
def pack_yield(*, V_pack: Mm3, V_res: Mm3, V_disc: Mm3) -> Mm3:
    """Most that one pack puts into holes.

    Examples
    --------
    >>> pack_yield(V_pack=400.0, V_res=15.0, V_disc=20.0)
    365.0
    """
    return V_pack - V_res - V_disc


def strokes(*, V_dose: Any, stroke: Any) -> Any:
    """Whole number of strokes that gives at least the dose.

    Parameters
    ----------
    V_dose : float or ndarray [any one volume unit]
        Dose.
    stroke : float or ndarray [same unit]
        Volume of one stroke.

    Returns
    -------
    int or ndarray of int [-]

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> strokes(V_dose=2.1, stroke=0.7)
    3
    """
    number = graduations(V_dose=V_dose, graduation=stroke)
    return number.astype(np.int64) if isinstance(number, np.ndarray) else int(number)


def rounded_dose(*, V_dose: Any, graduation: Any) -> Any:
    """Dose rounded up to whole graduations of the dispenser, or to whole strokes.

    Parameters
    ----------
    V_dose : float or ndarray [any one volume unit]
        Dose.
    graduation : float or ndarray [same unit]
        Volume of one graduation or stroke.

    Returns
    -------
    float or ndarray [same unit]
        Never below the dose, not even by the last bit of a float.

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> rounded_dose(V_dose=23.2, graduation=5.0)
    25.0
    """
    rounded = graduated_dose(n_g=graduations(V_dose=V_dose, graduation=graduation), graduation=graduation)
    result = np.maximum(rounded, V_dose)
    return result if isinstance(result, np.ndarray) and result.ndim else float(result)


@dataclass(frozen=True)
class Outcome:
    """What became of one hole: full or not, how much is missing, how long the gap is, how much came out."""

    full: bool
    shortfall: float
    unfilled_length: float
    overflow: float


def outcome(
    *, injected: float, d_0: float, phi: float, l_v: float, overdrill: float = 0.0, theta: float = 180.0
) -> Outcome:
    """Judge a hole by what was injected, the bar being home.

    Parameters
    ----------
    injected : float [mm³]
        Adhesive put in.
    d_0, phi, l_v : float [mm]
        Diameter of the hole, nominal diameter of the bar, embedment.
    overdrill : float [mm]
        Full-diameter hole beyond the bar's end.
    theta : float [°]
        Included point angle; 180° is a flat bottom.

    Returns
    -------
    Outcome
        ``shortfall`` and ``overflow`` in mm³, ``unfilled_length`` in mm.

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> outcome(injected=23000.0, d_0=20.0, phi=16.0, l_v=200.0).full
    True
    """
    if not injected >= 0:
        raise RangeError(f"the injected volume must be zero or more (it is {injected:g} mm³)")
    need = required_volume(d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta)
    gap = unfilled_length(V=injected, d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta)
    out = overflow(V=injected, d_0=d_0, phi=phi, l_v=l_v, x=l_v, overdrill=overdrill, theta=theta)
    return Outcome(
        full=injected >= need * (1 - 1e-12), shortfall=max(need - injected, 0.0), unfilled_length=gap, overflow=out
    )
