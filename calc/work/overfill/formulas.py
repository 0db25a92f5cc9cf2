"""Formulas of the sheet of notebook 02.

The first-order budget of a needed dose, and what a group of holes then comes to.
"""

from __future__ import annotations

from calc.base.formula import formula
from calc.base.maths import sqrt
from calc.base.units import Mm, Mm2, Mm3, Ratio, Whole


@formula(symbol="u_i", source="JCGM 100, 5.1.3", limits={"c_l": (0.0, 1e9), "u_l": (0.0, 1e4)})
def part_of_length(*, c_l: Mm2, u_l: Mm) -> Mm3:
    """Part that a scattering length has in the scatter of the needed dose.

    Examples
    --------
    >>> part_of_length(c_l=6000.0, u_l=0.1)
    600.0
    """
    return c_l * u_l


@formula(symbol="u_i", source="JCGM 100, 5.1.3", limits={"c_s": (0.0, 1e10), "u_s": (0.0, 10.0)})
def part_of_share(*, c_s: Mm3, u_s: Ratio) -> Mm3:
    """Part that a scattering share, such as the bar's mass, has in the scatter of the needed dose.

    Examples
    --------
    >>> part_of_share(c_s=40000.0, u_s=0.025)
    1000.0
    """
    return c_s * u_s


@formula(symbol="u_c", source="JCGM 100, 5.1.2", limits={"u_c": (0.0, 1e10), "u_i": (0.0, 1e10)})
def combined(*, u_c: Mm3, u_i: Mm3) -> Mm3:
    """Standard deviation of the needed dose with one more part: root of the sum of squares.

    Notes
    -----
    ``u_c`` is what is combined so far, ``u_i`` the next part.

    Examples
    --------
    >>> combined(u_c=3.0, u_i=4.0)
    5.0
    """
    return sqrt(u_c**2 + u_i**2)


@formula(symbol="w_i", source="JCGM 100, 5.1.3", limits={"u_i": (0.0, 1e10), "u_c": (1e-12, 1e10)})
def share_of_variance(*, u_i: Mm3, u_c: Mm3) -> Ratio:
    """Share that one input has in the variance of the needed dose.

    Examples
    --------
    >>> share_of_variance(u_i=3.0, u_c=5.0)
    0.36
    """
    return (u_i / u_c) ** 2


@formula(
    symbol="V_first",
    source="normal distribution",
    limits={"V_need": (0.0, 1e10), "z_p": (-8.0, 8.0), "u_c": (0.0, 1e10)},
)
def first_order_dose(*, V_need: Mm3, z_p: Ratio, u_c: Mm3) -> Mm3:
    """First-order estimate of the dose for a stated probability of a short hole, to set beside the simulated one.

    Notes
    -----
    ``V_need`` is taken at the means of all inputs; ``z_p`` belongs to the share of holes that is to be full.

    Examples
    --------
    >>> first_order_dose(V_need=24000.0, z_p=1.5, u_c=1000.0)
    25500.0
    """
    return V_need + z_p * u_c


@formula(symbol="n_short", source="definition", limits={"n_hole": (0.0, 1e9), "p_short": (0.0, 1.0)})
def short_holes(*, n_hole: Whole, p_short: Ratio) -> Ratio:
    """Short holes to expect in a group.

    Examples
    --------
    >>> short_holes(n_hole=50.0, p_short=0.02)
    1.0
    """
    return n_hole * p_short


@formula(symbol="V_waste", source="definition", limits={"n_hole": (0.0, 1e9), "V_over": (0.0, 1e10)})
def waste_of_holes(*, n_hole: Whole, V_over: Mm3) -> Mm3:
    """Overflow to be expected at the mouths of all holes of a group, with the stated scatter.

    Notes
    -----
    ``V_over`` is the mean overflow at a hole.

    Examples
    --------
    >>> waste_of_holes(n_hole=50.0, V_over=2000.0)
    100000.0
    """
    return n_hole * V_over
