"""Shear between old and new concrete: EN 1992-1-1:2004, 6.2.5; EN 1992-1-1:2023, 8.2.6; ACI 318-19, 22.9.

Sources: 6.2.5 was read in an official national text of the standard. 8.2.6 and its Table 8.2 were read in a draft of
the fib's structuralcodes (codes/ec2_2023/_section_8_2_shear.py), not in the standard. 22.9 is as in McCormac & Brown,
Design of Reinforced Concrete, 9th ed., its 318-19 limits from memory. The bars that cross the joint count at their
yield strength: they must be anchored for it on both sides.
"""

from __future__ import annotations

import math

from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import cos, max, min, sin, sqrt
from calc.base.units import Degree, Inch2, Lbf, Mm, Mm2, MPa, Psi, Ratio

EN04 = "EN 1992-1-1:2004"
EN23 = "EN 1992-1-1:2023 (read in a draft of the fib library)"
ACI = "ACI 318-19"

_STRENGTH = (0.0, 20.0)
_STRESS = (-20.0, 100.0)
_RATIO = (0.0, 0.1)
_F_YD = (1.0, 700.0)
_F_CD = (1.0, 100.0)
_MU = (0.1, 1.4)
_ANGLE_04 = (45.0, 90.0)
_ANGLE_23 = (35.0, 135.0)
_JOINT = {
    "c_adh": (0.0, 1.0),
    "f_ctd": _STRENGTH,
    "mu": _MU,
    "sigma_n": _STRESS,
    "rho": _RATIO,
    "f_yd": _F_YD,
    "alpha": _ANGLE_04,
    "f_cd": _F_CD,
}
_JOINT_23 = {
    "c_v1": (0.0, 1.0),
    "f_ck": (12.0, 100.0),
    "gamma_C": (1.0, 2.0),
    "mu_v": _MU,
    "sigma_n": _STRESS,
    "rho": _RATIO,
    "f_yd": _F_YD,
    "alpha": _ANGLE_23,
    "f_cd": _F_CD,
}

# ACI counts on no yield strength above 60 000 psi across a joint; a notice is given beyond it.
_F_Y, _COUNTED = (1.0, 120000.0), {"f_y": (1.0, 60000.0)}

# Surface of the joint -> (c, mu), 6.2.5(2). "Very smooth" may take c up to 0.10; the lowest value stands here.
SURFACES_2004 = {"very smooth": (0.025, 0.5), "smooth": (0.20, 0.6), "rough": (0.40, 0.7), "indented": (0.50, 0.9)}
# Surface of the joint -> (c_v1, mu_v), Table 8.2 of the 2023 edition (read in a draft of the fib library).
SURFACES_2023 = {
    "very smooth": (0.01, 0.5),
    "smooth": (0.08, 0.6),
    "rough": (0.15, 0.7),
    "very rough": (0.19, 0.9),
    "keyed": (0.37, 0.9),
}
# Surface of the joint -> mu for normal-weight concrete, Table 22.9.4.2.
SURFACES_ACI = {"monolithic": 1.4, "roughened": 1.0, "not roughened": 0.6}


# --- EN 1992-1-1:2004 ------------------------------------------------------------------------------------------------


@formula(symbol="nu", source=f"{EN04}, 6.2.2(6), (6.6N)", limits={"f_ck": (12.0, 90.0)}, homogeneous=False)
def strength_reduction(*, f_ck: MPa) -> Ratio:
    """Strength reduction factor of concrete cracked in shear."""
    return 0.6 * (1 - f_ck / 250)


@formula(symbol="v_Rdi_0", source=f"{EN04}, 6.2.5(1), (6.25)", limits={**_JOINT, "sigma_n": (0.0, 100.0)})
def joint_shear(
    *, c_adh: Ratio, f_ctd: MPa, mu: Ratio, sigma_n: MPa, f_cd: MPa, rho: Ratio, f_yd: MPa, alpha: Degree
) -> MPa:
    """Shear resistance of a joint that is not in tension; compression counts up to 0.6 f_cd."""
    return c_adh * f_ctd + mu * min(sigma_n, 0.6 * f_cd) + rho * f_yd * (mu * sin(alpha) + cos(alpha))


@formula(
    symbol="v_Rdi_0",
    source=f"{EN04}, 6.2.5(1)",
    limits={"mu": _MU, "sigma_n": (-20.0, 0.0), "rho": _RATIO, "f_yd": _F_YD, "alpha": _ANGLE_04},
)
def joint_shear_in_tension(*, mu: Ratio, sigma_n: MPa, rho: Ratio, f_yd: MPa, alpha: Degree) -> MPa:
    """Shear resistance of a joint in tension: adhesion does not count, and the tension takes from the friction."""
    return max(0, mu * sigma_n + rho * f_yd * (mu * sin(alpha) + cos(alpha)))


@formula(symbol="v_Rdi_max", source=f"{EN04}, 6.2.5(1), (6.25)", limits={"nu": (0.1, 1.0), "f_cd": _F_CD})
def joint_shear_limit(*, nu: Ratio, f_cd: MPa) -> MPa:
    """Limit that the crushing of the concrete sets, whatever the bars."""
    return 0.5 * nu * f_cd


@formula(
    symbol="v_Rdi", source=f"{EN04}, 6.2.5(1), (6.25)", limits={"v_Rdi_0": (0.0, 200.0), "v_Rdi_max": (0.0, 200.0)}
)
def joint_resistance(*, v_Rdi_0: MPa, v_Rdi_max: MPa) -> MPa:
    """Resistance of the joint with its limit applied."""
    return min(v_Rdi_0, v_Rdi_max)


@formula(
    symbol="rho_req",
    source=f"{EN04}, (6.25) solved for the bars",
    limits={
        "v_Edi": (0.0, 100.0),
        **{name: limit for name, limit in _JOINT.items() if name != "rho"},
        "sigma_n": (0.0, 100.0),
    },
)
def required_bar_ratio(
    *, v_Edi: MPa, c_adh: Ratio, f_ctd: MPa, mu: Ratio, sigma_n: MPa, f_cd: MPa, f_yd: MPa, alpha: Degree
) -> Ratio:
    """Area of bars per area of joint that the demand needs; zero when adhesion and compression carry it."""
    return max(0, (v_Edi - c_adh * f_ctd - mu * min(sigma_n, 0.6 * f_cd)) / (f_yd * (mu * sin(alpha) + cos(alpha))))


@formula(
    symbol="rho_req",
    source=f"{EN04}, (6.25) solved for the bars",
    limits={"v_Edi": (0.0, 100.0), "mu": _MU, "sigma_n": (-20.0, 0.0), "f_yd": _F_YD, "alpha": _ANGLE_04},
)
def required_bar_ratio_in_tension(*, v_Edi: MPa, mu: Ratio, sigma_n: MPa, f_yd: MPa, alpha: Degree) -> Ratio:
    """Area of bars per area of joint that the demand needs in a joint in tension."""
    return max(0, (v_Edi - mu * sigma_n) / (f_yd * (mu * sin(alpha) + cos(alpha))))


# --- EN 1992-1-1:2023 ------------------------------------------------------------------------------------------------


@formula(
    symbol="tau_Rdi_0",
    source=f"{EN23}, 8.2.6, (8.76)",
    limits={**_JOINT_23, "sigma_n": (0.0, 100.0)},
    homogeneous=False,
)
def joint_shear_2023(
    *,
    c_v1: Ratio,
    f_ck: MPa,
    gamma_C: Ratio,
    mu_v: Ratio,
    sigma_n: MPa,
    f_cd: MPa,
    rho: Ratio,
    f_yd: MPa,
    alpha: Degree,
) -> MPa:
    """Shear resistance of a joint that is not in tension; compression counts up to 0.6 f_cd."""
    return c_v1 * sqrt(f_ck) / gamma_C + mu_v * min(sigma_n, 0.6 * f_cd) + rho * f_yd * (mu_v * sin(alpha) + cos(alpha))


@formula(
    symbol="tau_Rdi_0",
    source=f"{EN23}, 8.2.6, (8.76)",
    limits={"mu_v": _MU, "sigma_n": (-20.0, 0.0), "rho": _RATIO, "f_yd": _F_YD, "alpha": _ANGLE_23},
)
def joint_shear_in_tension_2023(*, mu_v: Ratio, sigma_n: MPa, rho: Ratio, f_yd: MPa, alpha: Degree) -> MPa:
    """Shear resistance of a joint in tension: adhesion does not count.

    The draft of the fib library leaves the tension out; here it takes from the friction, as in the 2004 edition: the
    safe reading.
    """
    return max(0, mu_v * sigma_n + rho * f_yd * (mu_v * sin(alpha) + cos(alpha)))


@formula(
    symbol="tau_Rdi_max",
    source=f"{EN23}, 8.2.6, (8.76)",
    limits={"f_cd": _F_CD, "rho": _RATIO, "f_yd": _F_YD, "alpha": _ANGLE_23},
)
def joint_shear_limit_2023(*, f_cd: MPa, rho: Ratio, f_yd: MPa, alpha: Degree) -> MPa:
    """Limit that the crushing of the concrete sets, and what inclined bars carry directly."""
    return max(0, 0.30 * f_cd + rho * f_yd * cos(alpha))


@formula(
    symbol="tau_Rdi", source=f"{EN23}, 8.2.6, (8.76)", limits={"tau_Rdi_0": (0.0, 200.0), "tau_Rdi_max": (0.0, 200.0)}
)
def joint_resistance_2023(*, tau_Rdi_0: MPa, tau_Rdi_max: MPa) -> MPa:
    """Resistance of the joint with its limit applied."""
    return min(tau_Rdi_0, tau_Rdi_max)


@formula(
    symbol="rho_req",
    source=f"{EN23}, (8.76) solved for the bars",
    limits={
        "tau_Edi": (0.0, 100.0),
        **{name: limit for name, limit in _JOINT_23.items() if name != "rho"},
        "sigma_n": (0.0, 100.0),
    },
    homogeneous=False,
)
def required_bar_ratio_2023(
    *,
    tau_Edi: MPa,
    c_v1: Ratio,
    f_ck: MPa,
    gamma_C: Ratio,
    mu_v: Ratio,
    sigma_n: MPa,
    f_cd: MPa,
    f_yd: MPa,
    alpha: Degree,
) -> Ratio:
    """Area of bars per area of joint that the demand needs; zero when adhesion and compression carry it."""
    return max(
        0,
        (tau_Edi - c_v1 * sqrt(f_ck) / gamma_C - mu_v * min(sigma_n, 0.6 * f_cd))
        / (f_yd * (mu_v * sin(alpha) + cos(alpha))),
    )


@formula(
    symbol="rho_req",
    source=f"{EN23}, (8.76) solved for the bars",
    limits={"tau_Edi": (0.0, 100.0), "mu_v": _MU, "sigma_n": (-20.0, 0.0), "f_yd": _F_YD, "alpha": _ANGLE_23},
)
def required_bar_ratio_in_tension_2023(*, tau_Edi: MPa, mu_v: Ratio, sigma_n: MPa, f_yd: MPa, alpha: Degree) -> Ratio:
    """Area of bars per area of joint that the demand needs in a joint in tension."""
    return max(0, (tau_Edi - mu_v * sigma_n) / (f_yd * (mu_v * sin(alpha) + cos(alpha))))


@formula(symbol="s_2", source="geometry", limits={"A_s": (1.0, 5000.0), "rho_req": (1e-6, 0.1), "s_1": (1.0, 1e4)})
def bar_spacing(*, A_s: Mm2, rho_req: Ratio, s_1: Mm) -> Mm:
    """Spacing along the joint at which bars of this size, spaced ``s_1`` across it, give the required area."""
    return A_s / (rho_req * s_1)


# --- ACI 318-19 ------------------------------------------------------------------------------------------------------


@formula(
    symbol="V_n",
    source=f"{ACI}, 22.9.4.2",
    limits={"mu": (0.1, 1.4), "A_vf": (0.0, 1e5), "f_y": _F_Y},
    soft=_COUNTED,
    homogeneous=False,
)
def aci318_shear_friction(*, mu: Ratio, A_vf: Inch2, f_y: Psi) -> Lbf:
    """Nominal shear friction strength of bars perpendicular to the shear plane.

    A yield strength above 60 000 psi counts as 60 000 psi (22.9.1.3; from memory), and a notice says so.
    """
    return mu * A_vf * min(f_y, 60000)


@formula(
    symbol="A_vf",
    source=f"{ACI}, 22.9.4.2 solved for the bars",
    limits={"V_u": (0.0, 1e9), "phi_v": (0.4, 0.9), "mu": (0.1, 1.4), "f_y": _F_Y},
    soft=_COUNTED,
    homogeneous=False,
)
def aci318_required_area(*, V_u: Lbf, phi_v: Ratio, mu: Ratio, f_y: Psi) -> Inch2:
    """Area of bars across the shear plane that a factored shear force needs."""
    return V_u / (phi_v * mu * min(f_y, 60000))


@formula(
    symbol="V_n_max",
    source=f"{ACI}, Table 22.9.4.4",
    limits={"f_c": (1000.0, 20000.0), "A_c": (0.01, 1e7)},
    homogeneous=False,
)
def aci318_limit_roughened(*, f_c: Psi, A_c: Inch2) -> Lbf:
    """Limit for normal-weight concrete, monolithic or placed against a surface roughened to about 1/4 in."""
    return min(0.2 * f_c * A_c, (480 + 0.08 * f_c) * A_c, 1600 * A_c)


@formula(
    symbol="V_n_max",
    source=f"{ACI}, Table 22.9.4.4",
    limits={"f_c": (1000.0, 20000.0), "A_c": (0.01, 1e7)},
    homogeneous=False,
)
def aci318_limit_other(*, f_c: Psi, A_c: Inch2) -> Lbf:
    """Limit for every other surface."""
    return min(0.2 * f_c * A_c, 800 * A_c)


# --- callers ---------------------------------------------------------------------------------------------------------


def en1992_chain(
    *, c: float, f_ctd: float, mu: float, sigma_n: float, rho: float, f_yd: float, alpha: float, nu: float, f_cd: float
) -> Steps:
    """Run the formulas of the joint and keep them; see `en1992_resistance`."""
    chain = Steps(c_adh=c, f_ctd=f_ctd, mu=mu, sigma_n=sigma_n, rho=rho, f_yd=f_yd, alpha=alpha, nu=nu, f_cd=f_cd)
    _check(c_adh=c, f_ctd=f_ctd)
    in_tension = sigma_n < 0
    if in_tension:
        chain.note("joint_in_tension", f"the joint is in tension: its adhesion does not count ({EN04}, 6.2.5(1))")
    chain.use(joint_shear_in_tension if in_tension else joint_shear, "shear resistance of the joint, before the limit")
    chain.use(joint_shear_limit, "limit of the shear resistance")
    chain.use(joint_resistance, "shear resistance of the joint")
    return chain


def en1992_resistance(
    *, c: float, f_ctd: float, mu: float, sigma_n: float, rho: float, f_yd: float, alpha: float, nu: float, f_cd: float
) -> float:
    """Design shear resistance of a joint between concretes cast at different times, EN 1992-1-1:2004, 6.2.5.

    Parameters
    ----------
    c
        Adhesion coefficient of the surface; half of it under dynamic or fatigue load.
    f_ctd
        Design tensile strength of the weaker concrete [MPa].
    mu
        Friction coefficient of the surface.
    sigma_n
        Least normal stress that acts with the shear [MPa], compression positive; in tension the adhesion does not
        count.
    rho
        Area of bars that cross the joint per area of joint.
    f_yd
        Design yield strength of these bars [MPa].
    alpha
        Angle between bars and joint [°], 45 to 90.
    nu
        Strength reduction factor, `strength_reduction`.
    f_cd
        Design compressive strength of the weaker concrete [MPa].

    Returns
    -------
    float
        v_Rdi [MPa], limit applied, never below zero.

    Raises
    ------
    NotAccepted
        A value outside the standard's range.

    Examples
    --------
    >>> joint = dict(c=0.4, f_ctd=1.2, mu=0.7, sigma_n=0, rho=0.005, f_yd=434.78, alpha=90, nu=0.54, f_cd=16.667)
    >>> round(en1992_resistance(**joint), 4)
    2.0017
    """
    return en1992_chain(
        c=c, f_ctd=f_ctd, mu=mu, sigma_n=sigma_n, rho=rho, f_yd=f_yd, alpha=alpha, nu=nu, f_cd=f_cd
    ).value


def en1992_2023_chain(
    *,
    c_v1: float,
    mu_v: float,
    f_ck: float,
    gamma_C: float,
    sigma_n: float,
    rho: float,
    f_yd: float,
    alpha: float,
    f_cd: float,
) -> Steps:
    """Run the formulas of a joint between concretes cast at different times, EN 1992-1-1:2023, 8.2.6.

    Parameters
    ----------
    c_v1, mu_v
        Adhesion and friction coefficients of the surface.
    f_ck
        Characteristic strength of the weaker concrete [MPa].
    gamma_C
        Partial factor for concrete.
    sigma_n
        Least normal stress that acts with the shear [MPa], compression positive; in tension the adhesion does not
        count.
    rho
        Area of bars that cross the joint per area of joint.
    f_yd
        Design yield strength of these bars [MPa].
    alpha
        Angle between bars and joint [°], 35 to 135.
    f_cd
        Design compressive strength of the weaker concrete [MPa].

    Returns
    -------
    Steps
        Its value is the design shear resistance tau_Rdi [MPa], limit applied, never below zero.

    Raises
    ------
    NotAccepted
        A value outside the standard's range, or bars that lean against the shear.

    Notes
    -----
    For bars anchored for their yield strength on both sides. The standard has another formula, with dowel action, for
    bars that are not; it is not built here.
    """
    chain = Steps(
        c_v1=c_v1, mu_v=mu_v, f_ck=f_ck, gamma_C=gamma_C, sigma_n=sigma_n, rho=rho, f_yd=f_yd, alpha=alpha, f_cd=f_cd
    )
    _check(c_v1=c_v1, f_ck=f_ck, gamma_C=gamma_C)
    _refuse_useless_bars(mu_v, alpha)
    in_tension = sigma_n < 0
    if in_tension:
        chain.note("joint_in_tension", f"the joint is in tension: its adhesion does not count ({EN23}, Table 8.2)")
    chain.use(
        joint_shear_in_tension_2023 if in_tension else joint_shear_2023,
        "shear resistance of the joint, before the limit",
    )
    chain.use(joint_shear_limit_2023, "limit of the shear resistance")
    chain.use(joint_resistance_2023, "shear resistance of the joint")
    return chain


def aci318_limit(*, f_c: float, A_c: float, roughened: bool) -> float:
    """Upper limit of the nominal shear friction strength in normal-weight concrete, ACI 318-19, 22.9.4.4.

    Parameters
    ----------
    f_c
        Specified strength of the weaker concrete [psi].
    A_c
        Area of concrete that resists shear transfer [in²].
    roughened
        True for a surface roughened to a full amplitude of about 1/4 in, or monolithic concrete.

    Returns
    -------
    float
        V_n,max [lbf].

    Raises
    ------
    NotAccepted
        A value outside the code's range, or the surface not stated.
    """
    if roughened not in (True, False):
        raise NotAccepted("the surface must be stated: roughened is True or False")
    return float((aci318_limit_roughened if roughened else aci318_limit_other)(f_c=f_c, A_c=A_c))


def _refuse_useless_bars(mu_v: float, alpha: float) -> None:
    _check(mu_v=mu_v, alpha=alpha)
    if mu_v * sin(alpha) + cos(alpha) <= 0:
        raise NotAccepted(
            f"bars at alpha = {alpha:g}° lean so far against the shear that they add nothing to this joint (mu_v ="
            f" {mu_v:g})"
        )


def _check(**values: float) -> None:
    # A branch may not use every argument; what it does not use is still an input and must be a number of the right
    # sign.
    for name, value in values.items():
        if not math.isfinite(value) or value < 0:
            raise NotAccepted(f"{name} = {value:g} must be a number that is not negative")
