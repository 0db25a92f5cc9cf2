"""Whether measured holes agree with what was assumed of them: two means, set apart by what both are uncertain by."""

from __future__ import annotations

from calc.base.formula import formula
from calc.base.maths import ceil, sqrt
from calc.base.units import Mm3, Ratio, Whole

LIMIT = 2.0  # of the zeta score: up to here a difference is what chance gives; ISO 13528:2015, 9.4 (from memory)
_COUNTS = (1.0, 1e9)


@formula(
    symbol="u_dif",
    source="JCGM 100, 4.2.3 and 5.1.2",
    limits={"s_V": (0.0, 1e10), "n_hole": _COUNTS, "u_com": (0.0, 1e10), "n_ser": _COUNTS},
)
def uncertainty_of_difference(*, s_V: Mm3, n_hole: Whole, u_com: Mm3, n_ser: Whole) -> Mm3:
    """Standard uncertainty of the difference between the measured mean and the assumed one.

    Notes
    -----
    What scatters from hole to hole averages out over the measured holes. What the holes of a series have in common,
    such as one bit and one batch of bars, averages out over the series alone: its part is that of the assumed scatter.

    Examples
    --------
    >>> uncertainty_of_difference(s_V=40.0, n_hole=16.0, u_com=7.5, n_ser=1.0)
    12.5
    """
    return sqrt(s_V**2 / n_hole + u_com**2 / n_ser)


@formula(symbol="zeta", source="zeta score, ISO 13528:2015, 9.6 (from memory)", limits={"u_dif": (1e-12, 1e10)})
def zeta_score(*, V_m: Mm3, V_need: Mm3, u_dif: Mm3) -> Ratio:
    """Difference between the measured mean and the assumed one, in standard uncertainties.

    Notes
    -----
    Below zero the holes take less than was assumed.

    Examples
    --------
    >>> zeta_score(V_m=14000.0, V_need=15000.0, u_dif=500.0)
    -2.0
    """
    return (V_m - V_need) / u_dif


@formula(symbol="n_ser", source="definition", limits={"n_hole": _COUNTS, "n_each": _COUNTS})
def least_series(*, n_hole: Whole, n_each: Whole) -> Whole:
    """Least number of series that measured holes can come from.

    Examples
    --------
    >>> least_series(n_hole=30.0, n_each=20.0)
    2.0
    """
    return ceil(n_hole / n_each)
