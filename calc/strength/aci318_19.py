"""Development and splices in tension by ACI 318-19, 25.4 and 25.5, in inches and psi as the code is written.

The text of the code was not at hand. Formula, limits and factors were taken from McCormac & Brown, Design of Reinforced
Concrete, 9th ed. (written for ACI 318-11); the steel grade factor, new in 318-19, from a secondary listing. Deformed,
straight bars only.
"""

from __future__ import annotations

from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import max, min, sqrt
from calc.base.units import Inch, Inch2, Psi, Ratio, convert

ACI = "ACI 318-19"

_D_B = (0.2, 2.4)
_F_C = (1000.0, 20000.0)
_LENGTH = (0.0, 1000.0)
_AREA = (1e-6, 1e4)


@formula(symbol="k_conf", source=f"{ACI}, 25.4.2.4", limits={"c_b": (0.1, 500.0), "K_tr": (0.0, 100.0), "d_b": _D_B})
def confinement_term(*, c_b: Inch, K_tr: Inch, d_b: Inch) -> Ratio:
    """Confinement by cover and transverse bars, at most 2.5.

    Beyond that the bar pulls out instead of splitting the concrete.
    """
    return min(2.5, (c_b + K_tr) / d_b)


@formula(
    symbol="root_f_c",
    source=f"{ACI}, 25.4.1.4",
    limits={"f_c": _F_C},
    soft={"f_c": (2500.0, 10000.0)},
    homogeneous=False,
)
def strength_root(*, f_c: Psi) -> Psi:
    """Square root of the concrete strength, in psi as the code takes it, at most 100 psi."""
    return min(100, sqrt(f_c))


@formula(symbol="psi_te", source=f"{ACI}, 25.4.2.5, Table", limits={"psi_t": (1.0, 1.3), "psi_e": (1.0, 1.5)})
def position_and_coating(*, psi_t: Ratio, psi_e: Ratio) -> Ratio:
    """Casting position times coating, at most 1.7."""
    return min(1.7, psi_t * psi_e)


@formula(
    symbol="l_d_calc",
    source=f"{ACI}, 25.4.2.4, (25.4.2.4a)",
    limits={
        "f_y": (40000.0, 100000.0),
        "lambda_": (0.75, 1.0),
        "root_f_c": (30.0, 100.0),
        "psi_te": (1.0, 1.7),
        "psi_s": (0.8, 1.0),
        "psi_g": (1.0, 1.3),
        "k_conf": (0.05, 2.5),
        "d_b": _D_B,
    },
    homogeneous=False,
)
def calculated_development(
    *, f_y: Psi, lambda_: Ratio, root_f_c: Psi, psi_te: Ratio, psi_s: Ratio, psi_g: Ratio, k_conf: Ratio, d_b: Inch
) -> Inch:
    """Development length of a straight bar in tension, before the least length."""
    return 3 / 40 * f_y / (lambda_ * root_f_c) * psi_te * psi_s * psi_g / k_conf * d_b


@formula(symbol="l_d", source=f"{ACI}, 25.4.2.1", limits={"l_d_calc": _LENGTH}, homogeneous=False)
def least_development(*, l_d_calc: Inch) -> Inch:
    """Development length in tension, at least 12 in."""
    return max(12, l_d_calc)


@formula(
    symbol="l_d",
    source=f"{ACI}, 25.4.10.1 and 25.4.2.1",
    limits={"l_d_calc": _LENGTH, "A_req": _AREA, "A_prov": _AREA},
    relations=("A_req <= A_prov",),
    homogeneous=False,
)
def reduced_development(*, l_d_calc: Inch, A_req: Inch2, A_prov: Inch2) -> Inch:
    """Development length where more bars are provided than the analysis requires; still at least 12 in.

    The code forbids this reduction where the bar must reach its yield strength, for splices among others.
    """
    return max(12, l_d_calc * A_req / A_prov)


@formula(symbol="l_st", source=f"{ACI}, 25.5.2.1, Class A", limits={"l_d": _LENGTH}, homogeneous=False)
def splice_class_a(*, l_d: Inch) -> Inch:
    """Tension lap splice, Class A: twice the required bars at the splice and at most half of them spliced."""
    return max(12, 1.0 * l_d)


@formula(symbol="l_st", source=f"{ACI}, 25.5.2.1, Class B", limits={"l_d_calc": _LENGTH}, homogeneous=False)
def splice_class_b(*, l_d_calc: Inch) -> Inch:
    """Tension lap splice, Class B: every splice that is not Class A.

    The least length is set after the factor, not before it.
    """
    return max(12, 1.3 * l_d_calc)


@formula(symbol="l_lap", source=f"{ACI}, 25.5.2.2", limits={"l_st": _LENGTH, "l_d_l": _LENGTH})
def splice_of_two_sizes(*, l_st: Inch, l_d_l: Inch) -> Inch:
    """Lap of two bars of different size: the splice of the smaller one, but at least what develops the larger one."""
    return max(l_st, l_d_l)


# --- callers ---------------------------------------------------------------------------------------------------------


def development_chain(
    *,
    d_b: float,
    f_y: float,
    f_c: float,
    c_b: float,
    K_tr: float = 0.0,
    psi_t: float = 1.0,
    psi_e: float = 1.0,
    psi_s: float = 1.0,
    psi_g: float = 1.0,
    lambda_: float = 1.0,
) -> Steps:
    """Run the formulas of a development length and keep them; see `development_length`."""
    if c_b < d_b / 2:
        raise NotAccepted(
            f"c_b = {c_b:g} in is less than half the bar's {d_b:g} in; measured from its centre, the bar would"
            " stick out"
        )
    chain = Steps(
        d_b=d_b,
        f_y=f_y,
        f_c=f_c,
        c_b=c_b,
        K_tr=K_tr,
        psi_t=psi_t,
        psi_e=psi_e,
        psi_s=psi_s,
        psi_g=psi_g,
        lambda_=lambda_,
    )
    chain.use(strength_root, "square root of the concrete strength")
    chain.use(confinement_term, "confinement term")
    chain.use(position_and_coating, "casting position and coating")
    chain.use(calculated_development, "calculated development length")
    chain.use(least_development, "development length")
    if f_y >= 80000 and K_tr < 0.5 * d_b:
        chain.note(
            "close_bars",
            "From f_y = 80000 psi, bars spaced closer than 6 in need K_tr of at least d_b/2 (ACI 318-19, 25.4.2.2; from"
            " memory)",
        )
    if psi_s < 1 and d_b > 0.75:
        chain.note("psi_s", f"psi_s = {psi_s:g} is for bars up to No. 6 (0.75 in); this one has {d_b:g} in")
    return chain


def development_length(
    *,
    d_b: float,
    f_y: float,
    f_c: float,
    c_b: float,
    K_tr: float = 0.0,
    psi_t: float = 1.0,
    psi_e: float = 1.0,
    psi_s: float = 1.0,
    psi_g: float = 1.0,
    lambda_: float = 1.0,
) -> float:
    """Development length of a straight deformed bar in tension, ACI 318-19, 25.4.2.

    Parameters
    ----------
    d_b
        Nominal bar diameter [in].
    f_y
        Specified yield strength [psi].
    f_c
        Specified concrete strength [psi]; its root counts up to 100 psi.
    c_b
        Bar's centre to the nearest face, or half the centre spacing, the smaller [in].
    K_tr
        Transverse reinforcement index [in]; 0 leaves it out.
    psi_t
        1.3 with more than 12 in of fresh concrete below the bar, otherwise 1.0.
    psi_e
        1.5 or 1.2 for coated bars, otherwise 1.0.
    psi_s
        0.8 up to No. 6, otherwise 1.0; the default is the longer one.
    psi_g
        1.0 Grade 60, 1.15 Grade 80, 1.3 Grade 100.
    lambda_
        0.75 for lightweight concrete, otherwise 1.0.

    Returns
    -------
    float
        l_d [in], at least 12.

    Raises
    ------
    NotAccepted
        A value outside the code's range, or a cover that is geometrically impossible.

    Examples
    --------
    >>> round(development_length(d_b=1.0, f_y=60000, f_c=3000, c_b=1.5), 1)
    54.8
    """
    return development_chain(
        d_b=d_b,
        f_y=f_y,
        f_c=f_c,
        c_b=c_b,
        K_tr=K_tr,
        psi_t=psi_t,
        psi_e=psi_e,
        psi_s=psi_s,
        psi_g=psi_g,
        lambda_=lambda_,
    ).value


def development_length_metric(
    *,
    d_b: float,
    f_y: float,
    f_c: float,
    c_b: float,
    K_tr: float = 0.0,
    psi_t: float = 1.0,
    psi_e: float = 1.0,
    psi_s: float = 1.0,
    psi_g: float = 1.0,
    lambda_: float = 1.0,
) -> float:
    """Development length as `development_length`, from and to metric units.

    The in-psi formula runs, not a metric rewrite.

    Parameters
    ----------
    d_b, c_b, K_tr
        Lengths [mm].
    f_y, f_c
        Strengths [MPa].
    psi_t, psi_e, psi_s, psi_g, lambda_
        As for `development_length`.

    Returns
    -------
    float
        l_d [mm], at least 304.8.

    Raises
    ------
    NotAccepted
        As for `development_length`; the message names the converted value.
    """
    length = development_length(
        d_b=convert(d_b, "mm", "in"),
        f_y=convert(f_y, "MPa", "psi"),
        f_c=convert(f_c, "MPa", "psi"),
        c_b=convert(c_b, "mm", "in"),
        K_tr=convert(K_tr, "mm", "in"),
        psi_t=psi_t,
        psi_e=psi_e,
        psi_s=psi_s,
        psi_g=psi_g,
        lambda_=lambda_,
    )
    return convert(length, "in", "mm")


def splice_length(*, l_d: float, class_b: bool = True) -> float:
    """Length of a tension lap splice, ACI 318-19, 25.5.2.

    Parameters
    ----------
    l_d
        Development length [in], without a reduction for excess bars. For Class B it is taken before its least length of
        12 in (`development_chain`, ``l_d_calc``): 12 in are set once, after the factor 1.3.
    class_b
        False only where the code's two conditions for Class A are met.

    Returns
    -------
    float
        l_st [in], at least 12.

    Raises
    ------
    NotAccepted
        l_d negative or beyond reason.

    Notes
    -----
    No. 14 and No. 18 bars may not be lapped in tension (25.5.1.1; from memory).
    """
    return float(splice_class_b(l_d_calc=l_d) if class_b else splice_class_a(l_d=l_d))
