"""Formulas between a bar group's force and its embedment that no module of a code holds.

Statics, geometry, design strengths.
"""

from __future__ import annotations

from calc.base.formula import formula
from calc.base.maths import min
from calc.base.units import Inch, Inch2, Lbf, LbfPerInch, Mm, Mm2, MPa, Newton, NewtonPerMm, Psi, Ratio, Whole
from calc.strength.codes import ACI, EN04, EN23

GEOMETRY, STATICS = "geometry", "statics"

_FORCE = (0.0, 1e7)
_AREA = (1.0, 5000.0)
_LENGTH = (0.1, 1e5)
_LINE = (0.0, 1e5)
_ROWS = (1.0, 100.0)
_SPAN = (0.1, 2e4)


# --- forces and stresses ---------------------------------------------------------------------------------------------


@formula(symbol="N_Ed", source=STATICS, limits={"q_Ed": _LINE, "s": _LENGTH})
def force_of_line(*, q_Ed: NewtonPerMm, s: Mm) -> Newton:
    """Design force of one bar from the force per length."""
    return q_Ed * s


@formula(symbol="sigma_sd", source=STATICS, limits={"N_Ed": _FORCE, "A_s": _AREA})
def stress_of_force(*, N_Ed: Newton, A_s: Mm2) -> MPa:
    """Design stress of the bar where its anchorage begins."""
    return N_Ed / A_s


@formula(symbol="N_Ed", source=STATICS, limits={"A_s": _AREA, "sigma_sd": (0.0, 1000.0)})
def force_of_stress(*, A_s: Mm2, sigma_sd: MPa) -> Newton:
    """Force that a bar of the joint has to be anchored for.

    Notes
    -----
    ``sigma_sd`` is the bar stress that the joint counts on.
    """
    return A_s * sigma_sd


@formula(
    symbol="f_yd",
    source="EN 1992-1-1, design strength of the steel (2004: 3.2.7(2), Fig. 3.8; from memory)",
    limits={"f_yk": (100.0, 1000.0), "gamma_S": (1.0, 1.5)},
)
def design_yield_strength(*, f_yk: MPa, gamma_S: Ratio) -> MPa:
    """Design yield strength of the steel."""
    return f_yk / gamma_S


@formula(
    symbol="f_cd",
    source=f"{EN04}, 3.1.6(1), (3.15) (from memory)",
    limits={"alpha_cc": (0.25, 1.0), "f_ck": (12.0, 90.0), "gamma_C": (1.0, 2.0)},
)
def design_compressive_strength(*, alpha_cc: Ratio, f_ck: MPa, gamma_C: Ratio) -> MPa:
    """Design compressive strength of the concrete."""
    return alpha_cc * f_ck / gamma_C


@formula(
    symbol="f_cd",
    source=f"{EN23}, 5.1.6(1) (from memory)",
    limits={"k_tc": (0.5, 1.0), "f_ck": (12.0, 100.0), "gamma_C": (1.0, 2.0)},
    homogeneous=False,
)
def design_compressive_strength_2023(*, k_tc: Ratio, f_ck: MPa, gamma_C: Ratio) -> MPa:
    """Design compressive strength of the concrete, less than in proportion above 40 MPa."""
    return min(1, (40 / f_ck) ** (1 / 3)) * k_tc * f_ck / gamma_C


# --- load paths ------------------------------------------------------------------------------------------------------

_COUNT = (1.0, 1e4)
_APART = (0.0, 1e5)


@formula(
    symbol="F_tie",
    source=f"{EN04}, 9.2.1.4(2), (9.3) (from memory); statics of the strut",
    limits={"V_sup": _FORCE, "a_l_z": (0.0, 5.0)},
)
def end_support_tie(*, V_sup: Newton, a_l_z: Ratio) -> Newton:
    """Tie force that the strut from a direct end support puts on the bar."""
    return V_sup * a_l_z


@formula(
    symbol="A_sup",
    source="EN 1992-1-1 and ACI 318-19, least share of the span's bars at a support",
    limits={"A_span": _SPAN, "beta_sup": (0.0, 1.0)},
)
def least_support_steel(*, beta_sup: Ratio, A_span: Mm2) -> Mm2:
    """Least area of the bar at the support."""
    return beta_sup * A_span


@formula(symbol="N_Ed_g", source=STATICS, limits={"n_x": _COUNT, "n_y": _COUNT, "N_Ed": _FORCE})
def force_of_group(*, n_x: Whole, n_y: Whole, N_Ed: Newton) -> Newton:
    """Design force of the bars that pull together; ``N_Ed`` is their mean."""
    return n_x * n_y * N_Ed


@formula(symbol="k_ex", source=STATICS, limits={"e_x": _APART, "s_x": _LENGTH, "n_x": (2.0, 1e4)})
def eccentric_share_x(*, e_x: Mm, s_x: Mm, n_x: Whole) -> Ratio:
    """Share of the mean force that the eccentricity adds to the outermost bars of the rows.

    Notes
    -----
    Forces vary linearly over bars at equal distances: the outermost one has (n - 1) s/2 over the sum of the squared
    distances of all, which is 6/(n s (n + 1)) of the moment. No compressed plate is counted on.
    """
    return 6 * e_x / (s_x * (n_x + 1))


@formula(symbol="k_ey", source=STATICS, limits={"e_y": _APART, "s_y": _LENGTH, "n_y": (2.0, 1e4)})
def eccentric_share_y(*, e_y: Mm, s_y: Mm, n_y: Whole) -> Ratio:
    """Share of the mean force that the eccentricity adds to the bars of the outermost row; see `eccentric_share_x`."""
    return 6 * e_y / (s_y * (n_y + 1))


@formula(symbol="N_Ed_h", source=STATICS, limits={"N_Ed": _FORCE, "k_ex": (0.0, 1e4), "k_ey": (0.0, 1e4)})
def worst_bar_force(*, N_Ed: Newton, k_ex: Ratio, k_ey: Ratio) -> Newton:
    """Design force of the bar that the eccentric pull loads most."""
    return N_Ed * (1 + k_ex + k_ey)


@formula(symbol="N_ua_s", source=STATICS, limits={"alpha_sus": (0.0, 1.0), "N_Ed_h": _FORCE})
def sustained_force(*, alpha_sus: Ratio, N_Ed_h: Newton) -> Newton:
    """Sustained part of the most loaded bar's force."""
    return alpha_sus * N_Ed_h


# --- covers and lengths ----------------------------------------------------------------------------------------------


@formula(
    symbol="c_d",
    source="EN 1992-1-1 (2004: Fig. 8.3), straight bars",
    limits={"s": _LENGTH, "phi": (0.1, 60.0), "c": _LENGTH},
    relations=("phi < s",),
)
def smallest_cover(*, s: Mm, phi: Mm, c: Mm) -> Mm:
    """Smallest of half the clear spacing and the cover."""
    return min((s - phi) / 2, c)


@formula(
    symbol="c_d",
    source="EN 1992-1-1 (2004: Fig. 8.3), straight bars",
    limits={"s": _LENGTH, "phi": (0.1, 60.0), "c": _LENGTH, "c_edge": _LENGTH},
    relations=("phi < s", "phi < c_edge"),
)
def smallest_cover_edge(*, s: Mm, phi: Mm, c: Mm, c_edge: Mm) -> Mm:
    """Smallest of half the clear spacing, the cover and the cover at the edge."""
    return min((s - phi) / 2, c, c_edge - phi / 2)


@formula(symbol="c_b", source=f"{ACI}, 25.4.2.4", limits={"s": (0.1, 1000.0), "d_b": (0.2, 2.4), "c": (0.0, 500.0)})
def centre_cover(*, s: Inch, d_b: Inch, c: Inch) -> Inch:
    """Bar's centre to the nearest face, or half the centre spacing."""
    return min(s / 2, c + d_b / 2)


@formula(
    symbol="c_b",
    source=f"{ACI}, 25.4.2.4",
    limits={"s": (0.1, 1000.0), "d_b": (0.2, 2.4), "c": (0.0, 500.0), "c_edge": (0.1, 1000.0)},
)
def centre_cover_edge(*, s: Inch, d_b: Inch, c: Inch, c_edge: Inch) -> Inch:
    """Bar's centre to the nearest face or edge, or half the centre spacing."""
    return min(s / 2, c + d_b / 2, c_edge)


@formula(
    symbol="l_v",
    source="EOTA EAD 330087 (from memory), with the lap of EN 1992-1-1:2023",
    limits={"l_sd_pi": (0.0, 1e5), "delta_l": (0.0, 1e5), "c_e": (0.0, 1e4)},
)
def lap_embedment_2023(*, l_sd_pi: Mm, delta_l: Mm, c_e: Mm) -> Mm:
    """Embedment that a lap needs: the existing bar ends one cover short of the joint, and that length does not lap."""
    return l_sd_pi + delta_l + c_e


@formula(symbol="l_v", source=GEOMETRY, limits={"l_st": (0.0, 1000.0), "c_e": (0.0, 400.0)})
def splice_embedment(*, l_st: Inch, c_e: Inch) -> Inch:
    """Embedment that a lap splice needs: the existing bar ends one cover short of the joint."""
    return l_st + c_e


# --- joints ----------------------------------------------------------------------------------------------------------


@formula(symbol="v_Edi", source=STATICS, limits={"q_Ed": _LINE, "b_j": _LENGTH})
def joint_stress(*, q_Ed: NewtonPerMm, b_j: Mm) -> MPa:
    """Design shear stress in the joint.

    Notes
    -----
    ``q_Ed`` is the design shear force.
    """
    return q_Ed / b_j


@formula(symbol="s_1", source=GEOMETRY, limits={"b_j": _LENGTH, "n_r": _ROWS})
def row_width(*, b_j: Mm, n_r: Whole) -> Mm:
    """Width of joint that one row of bars serves."""
    return b_j / n_r


@formula(symbol="rho", source=GEOMETRY, limits={"A_s": _AREA, "s_1": _LENGTH, "s_2": _LENGTH})
def joint_bar_ratio(*, A_s: Mm2, s_1: Mm, s_2: Mm) -> Ratio:
    """Area of bars per area of joint."""
    return A_s / (s_1 * s_2)


@formula(
    symbol="A_req",
    source=f"{ACI}, 22.2 and 21.2 (from memory)",
    limits={"N_Ed": (0.0, 1e6), "phi_t": (0.3, 1.0), "f_y": (1000.0, 120000.0)},
)
def required_bar_area_aci(*, N_Ed: Lbf, phi_t: Ratio, f_y: Psi) -> Inch2:
    """Bar area that the factored force requires.

    Notes
    -----
    ``N_Ed`` is the factored force.
    """
    return N_Ed / (phi_t * f_y)


@formula(symbol="V_u", source=STATICS, limits={"q_Ed": (0.0, 1e5), "s": (0.1, 1000.0)})
def shear_of_pitch(*, q_Ed: LbfPerInch, s: Inch) -> Lbf:
    """Factored shear force on the length of joint that one spacing of bars covers.

    Notes
    -----
    ``s`` is measured along the joint; ``q_Ed`` is the factored shear force.
    """
    return q_Ed * s


@formula(symbol="A_c", source=GEOMETRY, limits={"b_j": (0.1, 1000.0), "s": (0.1, 1000.0)})
def joint_area_of_pitch(*, b_j: Inch, s: Inch) -> Inch2:
    """Area of joint that one spacing of bars covers.

    Notes
    -----
    ``s`` is measured along the joint.
    """
    return b_j * s


@formula(symbol="A_prov", source=GEOMETRY, limits={"n_r": _ROWS, "A_s": (0.01, 10.0)})
def joint_steel_of_pitch(*, n_r: Whole, A_s: Inch2) -> Inch2:
    """Area of bars across the joint within one spacing."""
    return n_r * A_s


@formula(
    symbol="V_d",
    source=f"{ACI}, 22.9.3 and 22.9.4",
    limits={"phi_v": (0.4, 0.9), "V_n": (0.0, 1e9), "V_n_max": (0.0, 1e9)},
)
def design_shear_friction(*, phi_v: Ratio, V_n: Lbf, V_n_max: Lbf) -> Lbf:
    """Design shear friction strength with its limit applied."""
    return phi_v * min(V_n, V_n_max)


@formula(
    symbol="s_2",
    source=f"{ACI}, 22.9.4.2 solved for the spacing",
    limits={
        "phi_v": (0.4, 0.9),
        "mu": (0.1, 1.4),
        "A_prov": (0.01, 1000.0),
        "f_y": (1000.0, 120000.0),
        "q_Ed": (0.1, 1e5),
    },
    homogeneous=False,
)
def spacing_of_shear_aci(*, phi_v: Ratio, mu: Ratio, A_prov: Inch2, f_y: Psi, q_Ed: LbfPerInch) -> Inch:
    """Spacing along the joint at which these bars carry the shear; f_y counts up to 60 000 psi.

    Notes
    -----
    ``A_prov`` is the area of the bars across the joint within one spacing; ``q_Ed`` is the factored shear force.
    """
    return phi_v * mu * A_prov * min(f_y, 60000) / q_Ed
