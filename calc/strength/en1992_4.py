"""Bars as anchors in tension by EN 1992-4:2018, 7.2.1: steel, concrete cone, pull-out with cone, splitting.

The text of the standard was not at hand. The formulas are from memory; those of the cone, of pull-out and of splitting,
with their factors, were found alike in two open calculation libraries (one for EN 1992-4, one for AS 5216:2021, which
adopts them). Only from memory, in no second place: psi_sus and its limit, the limit of 60 MPa on f_ck, the value of
k_3, the mean of unequal spacings, that the reduced embedment depth of narrow members is optional, when splitting need
not be verified, and the formulas' numbers from (7.13) to (7.21).

Resistances are characteristic and of the whole group until `design` divides them by the partial factor.
"""

from __future__ import annotations

from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import max, min, pi, sqrt
from calc.base.units import Mm, Mm2, MPa, Newton, Ratio, Whole
from calc.strength.anchors import BLOW_OUT, DEPTH, EXTENDED, NO_PLATE, Edges, Group, Spacings, group_of

EN4 = "EN 1992-4:2018"

# Factors k_1 of the concrete cone for bars set in old concrete (7.2.1.4(2)) and, of the same size, k_3 of the group
# effect of the bond (7.2.1.6).
K_CRACKED, K_UNCRACKED = 7.7, 11.0
GAMMA_C, GAMMA_C_ACCIDENTAL = 1.5, 1.2
# What holds where the product's assessment says nothing.
PSI_SUS_0 = 0.6
F_CK_MOST = 60.0

_DEPTH = (1.0, 1e4)
_C = (0.0, 1e6)
_S = (0.0, 1e6)
_N = (1.0, 1e4)
_E = (0.0, 1e5)
_D = (1.0, 100.0)
_TAU = (0.01, 100.0)
_F_CK = (8.0, 100.0)
_FORCE = (0.0, 1e10)
_AREA = (1e-3, 1e12)
_SHARE = (0.0, 1.0)
_GROUP = {"c_x1": _C, "c_x2": _C, "c_y1": _C, "c_y2": _C, "s_x": _S, "n_x": _N, "s_y": _S, "n_y": _N}


# --- steel -----------------------------------------------------------------------------------------------------------


@formula(symbol="N_Rk_s", source=f"{EN4}, 7.2.1.3", limits={"A_s": (1.0, 1e4), "f_uk": (100.0, 2000.0)})
def steel_resistance(*, A_s: Mm2, f_uk: MPa) -> Newton:
    """Characteristic tensile resistance of one bar's steel."""
    return A_s * f_uk


@formula(
    symbol="gamma_Ms",
    source=f"{EN4}, Table 4.1",
    limits={"f_uk": (100.0, 2000.0), "f_yk": (100.0, 2000.0)},
    relations=("f_yk <= f_uk",),
)
def steel_partial_factor(*, f_uk: MPa, f_yk: MPa) -> Ratio:
    """Partial factor for steel in tension, at least 1.4."""
    return max(1.4, 1.2 * f_uk / f_yk)


@formula(symbol="N_Rd_s", source=f"{EN4}, Table 7.1", limits={"N_Rk_s": _FORCE, "gamma_Ms": (1.0, 5.0)})
def steel_design(*, N_Rk_s: Newton, gamma_Ms: Ratio) -> Newton:
    """Design tensile resistance of one bar's steel; the most loaded bar of a group must not exceed it."""
    return N_Rk_s / gamma_Ms


# --- what all modes of the concrete share ----------------------------------------------------------------------------


@formula(symbol="h_ef", source=f"{EN4}, 1.2 (from memory): tested up to 20 diameters", limits={"l_v": _DEPTH, "d": _D})
def counted_depth(*, l_v: Mm, d: Mm) -> Mm:
    """Embedment depth that counts: at most 20 bar diameters."""
    return min(l_v, 20 * d)


@formula(symbol="gamma_Mc", source=f"{EN4}, Table 4.1", limits={"gamma_C": (1.0, 2.0), "gamma_inst": (1.0, 2.0)})
def concrete_partial_factor(*, gamma_C: Ratio, gamma_inst: Ratio) -> Ratio:
    """Partial factor for cone, pull-out and splitting: that of concrete times that of the installation."""
    return gamma_C * gamma_inst


@formula(symbol="psi_re_N", source=f"{EN4}, 7.2.1.4(5), (7.5)", limits={"h_ef": _DEPTH}, homogeneous=False)
def spalling_factor(*, h_ef: Mm) -> Ratio:
    """Factor for dense reinforcement, whose layer lets the cover spall off; it matters to short anchors only."""
    return min(1, 0.5 + h_ef / 200)


# --- concrete cone ---------------------------------------------------------------------------------------------------


@formula(
    symbol="N_Rk_c_0",
    source=f"{EN4}, 7.2.1.4(2), (7.2)",
    limits={"k_1": (1.0, 30.0), "f_ck": _F_CK, "h_ef": _DEPTH},
    soft={"f_ck": (12.0, 60.0)},
    homogeneous=False,
)
def cone_of_one(*, k_1: Ratio, f_ck: MPa, h_ef: Mm) -> Newton:
    """Resistance of the cone of one bar that no edge and no neighbour disturbs."""
    return k_1 * sqrt(f_ck) * h_ef**1.5


@formula(symbol="h_ef_r", source=f"{EN4}, 7.2.1.4(8)", limits={"c_max": _C, "s_max": _S})
def reduced_depth(*, c_max: Mm, s_max: Mm) -> Mm:
    """Embedment depth that counts for the cone between three or four near edges, in a narrow member."""
    return max(c_max / 1.5, s_max / 3)


@formula(symbol="s_cr_N", source=f"{EN4}, 7.2.1.4(3)", limits={"h_ef": _DEPTH})
def cone_spacing(*, h_ef: Mm) -> Mm:
    """Spacing from which two cones no longer overlap."""
    return 3 * h_ef


@formula(symbol="c_cr_N", source=f"{EN4}, 7.2.1.4(3)", limits={"s_cr_N": (1.0, 1e5)})
def cone_edge(*, s_cr_N: Mm) -> Mm:
    """Edge distance from which an edge no longer cuts the cone."""
    return 0.5 * s_cr_N


@formula(symbol="A_c_N_0", source=f"{EN4}, 7.2.1.4(3), (7.3)", limits={"s_cr_N": (1.0, 1e5)})
def cone_area_of_one(*, s_cr_N: Mm) -> Mm2:
    """Area on the surface that the cone of one undisturbed bar takes, taken as a square."""
    return s_cr_N**2


@formula(symbol="b_x_N", source=f"{EN4}, 7.2.1.4(3)", limits={**_GROUP, "c_cr_N": _C, "s_cr_N": _S})
def cone_width(*, c_x1: Mm, n_x: Whole, s_x: Mm, c_x2: Mm, c_cr_N: Mm, s_cr_N: Mm) -> Mm:
    """Width that the cones of the group take, edges and overlaps taken off."""
    return min(c_x1, c_cr_N) + (n_x - 1) * min(s_x, s_cr_N) + min(c_x2, c_cr_N)


@formula(symbol="b_y_N", source=f"{EN4}, 7.2.1.4(3)", limits={**_GROUP, "c_cr_N": _C, "s_cr_N": _S})
def cone_height(*, c_y1: Mm, n_y: Whole, s_y: Mm, c_y2: Mm, c_cr_N: Mm, s_cr_N: Mm) -> Mm:
    """Height that the cones of the group take, edges and overlaps taken off."""
    return min(c_y1, c_cr_N) + (n_y - 1) * min(s_y, s_cr_N) + min(c_y2, c_cr_N)


@formula(symbol="A_c_N", source=f"{EN4}, 7.2.1.4(3)", limits={"b_x_N": _S, "b_y_N": _S})
def cone_area(*, b_x_N: Mm, b_y_N: Mm) -> Mm2:
    """Area on the surface that the cones of the group take."""
    return b_x_N * b_y_N


@formula(symbol="psi_s_N", source=f"{EN4}, 7.2.1.4(4), (7.4)", limits={"c_near": _C, "c_cr_N": (1e-3, 1e6)})
def cone_edge_factor(*, c_near: Mm, c_cr_N: Mm) -> Ratio:
    """Factor for the disturbance of stresses by the nearest edge."""
    return min(1, 0.7 + 0.3 * c_near / c_cr_N)


@formula(symbol="psi_ec_N", source=f"{EN4}, 7.2.1.4(6), (7.6)", limits={"e_x": _E, "e_y": _E, "s_cr_N": (1e-3, 1e6)})
def cone_eccentricity_factor(*, e_x: Mm, e_y: Mm, s_cr_N: Mm) -> Ratio:
    """Factor for a pull that is not centred on the group, in both directions."""
    return 1 / ((1 + 2 * e_x / s_cr_N) * (1 + 2 * e_y / s_cr_N))


@formula(
    symbol="N_Rk_c",
    source=f"{EN4}, 7.2.1.4(1), (7.1)",
    limits={
        "N_Rk_c_0": _FORCE,
        "A_c_N": _AREA,
        "A_c_N_0": _AREA,
        "psi_s_N": _SHARE,
        "psi_re_N": _SHARE,
        "psi_ec_N": _SHARE,
    },
)
def cone_of_group(
    *, N_Rk_c_0: Newton, A_c_N: Mm2, A_c_N_0: Mm2, psi_s_N: Ratio, psi_re_N: Ratio, psi_ec_N: Ratio
) -> Newton:
    """Characteristic resistance of the group against a cone of concrete breaking out."""
    return N_Rk_c_0 * A_c_N / A_c_N_0 * psi_s_N * psi_re_N * psi_ec_N


@formula(symbol="N_Rd_c", source=f"{EN4}, Table 7.1", limits={"N_Rk_c": _FORCE, "gamma_Mc": (1.0, 5.0)})
def cone_design(*, N_Rk_c: Newton, gamma_Mc: Ratio) -> Newton:
    """Design resistance of the group against a cone of concrete breaking out."""
    return N_Rk_c / gamma_Mc


# --- pull-out with cone ----------------------------------------------------------------------------------------------


@formula(
    symbol="psi_sus",
    source=f"{EN4}, 7.2.1.6(2), (7.14b) (from memory)",
    limits={"psi_sus_0": _SHARE, "alpha_sus": _SHARE},
)
def sustained_load_factor(*, psi_sus_0: Ratio, alpha_sus: Ratio) -> Ratio:
    """Factor on the bond where the sustained share of the load is above what the product bears without loss."""
    return psi_sus_0 + 1 - alpha_sus


@formula(
    symbol="N_Rk_p_0",
    source=f"{EN4}, 7.2.1.6(2), (7.14)",
    limits={"psi_sus": _SHARE, "tau_Rk": _TAU, "d": _D, "h_ef": _DEPTH},
)
def pullout_of_one(*, psi_sus: Ratio, tau_Rk: MPa, d: Mm, h_ef: Mm) -> Newton:
    """Resistance of the bond of one bar that no edge and no neighbour disturbs."""
    return psi_sus * tau_Rk * pi * d * h_ef


@formula(
    symbol="s_cr_Np",
    source=f"{EN4}, 7.2.1.6(3), (7.15)",
    limits={"d": _D, "psi_sus": _SHARE, "tau_Rk_uncr": _TAU, "h_ef": _DEPTH},
    homogeneous=False,
)
def pullout_spacing(*, d: Mm, psi_sus: Ratio, tau_Rk_uncr: MPa, h_ef: Mm) -> Mm:
    """Spacing from which two bonded bars no longer disturb each other.

    Notes
    -----
    The bond strength is that of uncracked concrete C20/25, in cracked concrete as well.
    """
    return min(7.3 * d * sqrt(psi_sus * tau_Rk_uncr), 3 * h_ef)


@formula(symbol="c_cr_Np", source=f"{EN4}, 7.2.1.6(3), (7.16)", limits={"s_cr_Np": (1e-3, 1e5)})
def pullout_edge(*, s_cr_Np: Mm) -> Mm:
    """Edge distance from which an edge no longer disturbs a bonded bar."""
    return 0.5 * s_cr_Np


@formula(symbol="A_p_N_0", source=f"{EN4}, 7.2.1.6(3)", limits={"s_cr_Np": (1e-3, 1e5)})
def pullout_area_of_one(*, s_cr_Np: Mm) -> Mm2:
    """Area on the surface that one undisturbed bonded bar takes."""
    return s_cr_Np**2


@formula(symbol="b_x_Np", source=f"{EN4}, 7.2.1.6(3)", limits={**_GROUP, "c_cr_Np": _C, "s_cr_Np": _S})
def pullout_width(*, c_x1: Mm, n_x: Whole, s_x: Mm, c_x2: Mm, c_cr_Np: Mm, s_cr_Np: Mm) -> Mm:
    """Width that the bonded bars of the group take, edges and overlaps taken off."""
    return min(c_x1, c_cr_Np) + (n_x - 1) * min(s_x, s_cr_Np) + min(c_x2, c_cr_Np)


@formula(symbol="b_y_Np", source=f"{EN4}, 7.2.1.6(3)", limits={**_GROUP, "c_cr_Np": _C, "s_cr_Np": _S})
def pullout_height(*, c_y1: Mm, n_y: Whole, s_y: Mm, c_y2: Mm, c_cr_Np: Mm, s_cr_Np: Mm) -> Mm:
    """Height that the bonded bars of the group take, edges and overlaps taken off."""
    return min(c_y1, c_cr_Np) + (n_y - 1) * min(s_y, s_cr_Np) + min(c_y2, c_cr_Np)


@formula(symbol="A_p_N", source=f"{EN4}, 7.2.1.6(3)", limits={"b_x_Np": _S, "b_y_Np": _S})
def pullout_area(*, b_x_Np: Mm, b_y_Np: Mm) -> Mm2:
    """Area on the surface that the bonded bars of the group take."""
    return b_x_Np * b_y_Np


@formula(
    symbol="tau_Rk_c",
    source=f"{EN4}, 7.2.1.6(4), (7.19)",
    limits={"k_3": (1.0, 30.0), "d": _D, "h_ef": _DEPTH, "f_ck": _F_CK},
    homogeneous=False,
)
def cone_bond_strength(*, k_3: Ratio, d: Mm, h_ef: Mm, f_ck: MPa) -> MPa:
    """Bond stress at which the concrete's cone, instead of the bond, limits the bar."""
    return k_3 / (pi * d) * sqrt(h_ef * f_ck)


@formula(
    symbol="psi_g_Np_0",
    source=f"{EN4}, 7.2.1.6(4), (7.18)",
    limits={"n_x": _N, "n_y": _N, "tau_Rk": _TAU, "tau_Rk_c": (1e-3, 1e4)},
)
def group_factor_at_zero(*, n_x: Whole, n_y: Whole, tau_Rk: MPa, tau_Rk_c: MPa) -> Ratio:
    """Factor of the group effect for bars side by side, at least 1: the weaker the bond, the less neighbours matter."""
    return max(1, sqrt(n_x * n_y) - (sqrt(n_x * n_y) - 1) * (tau_Rk / tau_Rk_c) ** 1.5)


@formula(
    symbol="s_m",
    source=f"{EN4}, 7.2.1.6(4) (from memory): mean of the spacings",
    limits={**_GROUP, "s_cr_Np": (1e-3, 1e5)},
)
def mean_spacing(*, n_x: Whole, s_x: Mm, n_y: Whole, s_y: Mm, s_cr_Np: Mm) -> Mm:
    """Mean spacing of the group's bars.

    Notes
    -----
    A spacing counts up to the one from which bars no longer disturb each other, so that the resistance does not fall
    when bars are moved further apart (ours).
    """
    return ((n_x - 1) * min(s_x, s_cr_Np) + (n_y - 1) * min(s_y, s_cr_Np)) / (n_x + n_y - 2)


@formula(
    symbol="psi_g_Np",
    source=f"{EN4}, 7.2.1.6(4), (7.17)",
    limits={"psi_g_Np_0": (1.0, 1e4), "s_m": _S, "s_cr_Np": (1e-3, 1e5)},
)
def group_factor(*, psi_g_Np_0: Ratio, s_m: Mm, s_cr_Np: Mm) -> Ratio:
    """Factor of the group effect, at least 1."""
    return max(1, psi_g_Np_0 - sqrt(s_m / s_cr_Np) * (psi_g_Np_0 - 1))


@formula(
    symbol="A_p_N_s",
    source="ours, for groups beyond 3 by 3",
    limits={**_GROUP, "c_cr_Np": _C, "s_cr_Np": (1e-3, 1e5)},
)
def pullout_area_apart(
    *, c_x1: Mm, n_x: Whole, c_x2: Mm, c_y1: Mm, n_y: Whole, c_y2: Mm, c_cr_Np: Mm, s_cr_Np: Mm
) -> Mm2:
    """Area that the same bars would take at the spacing from which they no longer disturb each other."""
    return (min(c_x1, c_cr_Np) + (n_x - 1) * s_cr_Np + min(c_x2, c_cr_Np)) * (
        min(c_y1, c_cr_Np) + (n_y - 1) * s_cr_Np + min(c_y2, c_cr_Np)
    )


@formula(
    symbol="psi_g_Np",
    source=f"{EN4}, 7.2.1.6(4), (7.17), extended beyond 3 by 3; its upper limit is ours",
    limits={"psi_g_Np_0": (1.0, 1e4), "s_m": _S, "s_cr_Np": (1e-3, 1e5), "A_p_N": _AREA, "A_p_N_s": _AREA},
)
def group_factor_extended(*, psi_g_Np_0: Ratio, s_m: Mm, s_cr_Np: Mm, A_p_N: Mm2, A_p_N_s: Mm2) -> Ratio:
    """Factor of the group effect in a long row: no more than the same bars would bear if they stood apart.

    Notes
    -----
    From eight bars in a row on, the standard's formula alone would give more than that just below s_cr,Np.
    """
    return max(1, min(psi_g_Np_0 - sqrt(s_m / s_cr_Np) * (psi_g_Np_0 - 1), A_p_N_s / A_p_N))


@formula(symbol="psi_s_Np", source=f"{EN4}, 7.2.1.6(5), (7.20)", limits={"c_near": _C, "c_cr_Np": (1e-3, 1e6)})
def pullout_edge_factor(*, c_near: Mm, c_cr_Np: Mm) -> Ratio:
    """Factor for the disturbance of stresses by the nearest edge."""
    return min(1, 0.7 + 0.3 * c_near / c_cr_Np)


@formula(symbol="psi_ec_Np", source=f"{EN4}, 7.2.1.6(6), (7.21)", limits={"e_x": _E, "e_y": _E, "s_cr_Np": (1e-3, 1e6)})
def pullout_eccentricity_factor(*, e_x: Mm, e_y: Mm, s_cr_Np: Mm) -> Ratio:
    """Factor for a pull that is not centred on the group, in both directions."""
    return 1 / ((1 + 2 * e_x / s_cr_Np) * (1 + 2 * e_y / s_cr_Np))


@formula(
    symbol="N_Rk_p",
    source=f"{EN4}, 7.2.1.6(1), (7.13)",
    limits={
        "N_Rk_p_0": _FORCE,
        "A_p_N": _AREA,
        "A_p_N_0": _AREA,
        "psi_g_Np": (1.0, 1e4),
        "psi_s_Np": _SHARE,
        "psi_re_N": _SHARE,
        "psi_ec_Np": _SHARE,
    },
)
def pullout_of_group(
    *, N_Rk_p_0: Newton, A_p_N: Mm2, A_p_N_0: Mm2, psi_g_Np: Ratio, psi_s_Np: Ratio, psi_re_N: Ratio, psi_ec_Np: Ratio
) -> Newton:
    """Characteristic resistance of the group against its bars pulling out together with concrete."""
    return N_Rk_p_0 * A_p_N / A_p_N_0 * psi_g_Np * psi_s_Np * psi_re_N * psi_ec_Np


@formula(symbol="N_Rd_p", source=f"{EN4}, Table 7.1", limits={"N_Rk_p": _FORCE, "gamma_Mc": (1.0, 5.0)})
def pullout_design(*, N_Rk_p: Newton, gamma_Mc: Ratio) -> Newton:
    """Design resistance of the group against its bars pulling out together with concrete."""
    return N_Rk_p / gamma_Mc


# --- splitting -------------------------------------------------------------------------------------------------------


@formula(symbol="N_Rk_sp_0", source=f"{EN4}, 7.2.1.7(2)", limits={"N_Rk_p_0": _FORCE, "N_Rk_c_0": _FORCE})
def splitting_of_one(*, N_Rk_p_0: Newton, N_Rk_c_0: Newton) -> Newton:
    """Resistance of one bar against splitting where the product's assessment gives none."""
    return min(N_Rk_p_0, N_Rk_c_0)


@formula(symbol="s_cr_sp", source=f"{EN4}, 7.2.1.7(2)", limits={"c_cr_sp": (1.0, 1e5)})
def splitting_spacing(*, c_cr_sp: Mm) -> Mm:
    """Spacing from which two bars no longer split the concrete together."""
    return 2 * c_cr_sp


@formula(symbol="A_c_sp_0", source=f"{EN4}, 7.2.1.7(2)", limits={"s_cr_sp": (1.0, 1e5)})
def splitting_area_of_one(*, s_cr_sp: Mm) -> Mm2:
    """Area on the surface that one undisturbed bar takes against splitting."""
    return s_cr_sp**2


@formula(symbol="b_x_sp", source=f"{EN4}, 7.2.1.7(2)", limits={**_GROUP, "c_cr_sp": _C, "s_cr_sp": _S})
def splitting_width(*, c_x1: Mm, n_x: Whole, s_x: Mm, c_x2: Mm, c_cr_sp: Mm, s_cr_sp: Mm) -> Mm:
    """Width that the group takes against splitting, edges and overlaps taken off."""
    return min(c_x1, c_cr_sp) + (n_x - 1) * min(s_x, s_cr_sp) + min(c_x2, c_cr_sp)


@formula(symbol="b_y_sp", source=f"{EN4}, 7.2.1.7(2)", limits={**_GROUP, "c_cr_sp": _C, "s_cr_sp": _S})
def splitting_height(*, c_y1: Mm, n_y: Whole, s_y: Mm, c_y2: Mm, c_cr_sp: Mm, s_cr_sp: Mm) -> Mm:
    """Height that the group takes against splitting, edges and overlaps taken off."""
    return min(c_y1, c_cr_sp) + (n_y - 1) * min(s_y, s_cr_sp) + min(c_y2, c_cr_sp)


@formula(symbol="A_c_sp", source=f"{EN4}, 7.2.1.7(2)", limits={"b_x_sp": _S, "b_y_sp": _S})
def splitting_area(*, b_x_sp: Mm, b_y_sp: Mm) -> Mm2:
    """Area on the surface that the group takes against splitting."""
    return b_x_sp * b_y_sp


@formula(symbol="psi_s_sp", source=f"{EN4}, 7.2.1.7(2)", limits={"c_near": _C, "c_cr_sp": (1e-3, 1e6)})
def splitting_edge_factor(*, c_near: Mm, c_cr_sp: Mm) -> Ratio:
    """Factor for the disturbance of stresses by the nearest edge."""
    return min(1, 0.7 + 0.3 * c_near / c_cr_sp)


@formula(symbol="psi_ec_sp", source=f"{EN4}, 7.2.1.7(2)", limits={"e_x": _E, "e_y": _E, "s_cr_sp": (1e-3, 1e6)})
def splitting_eccentricity_factor(*, e_x: Mm, e_y: Mm, s_cr_sp: Mm) -> Ratio:
    """Factor for a pull that is not centred on the group, in both directions."""
    return 1 / ((1 + 2 * e_x / s_cr_sp) * (1 + 2 * e_y / s_cr_sp))


@formula(
    symbol="psi_h_sp",
    source=f"{EN4}, 7.2.1.7(2), (7.24)",
    limits={"h_con": _DEPTH, "h_min": _DEPTH, "h_ef": _DEPTH, "c_near": _C},
)
def splitting_thickness_factor(*, h_con: Mm, h_min: Mm, h_ef: Mm, c_near: Mm) -> Ratio:
    """Factor for a member thicker than the least one; depth and nearest edge limit it."""
    return min((h_con / h_min) ** (2 / 3), max(1, ((h_ef + 1.5 * c_near) / h_min) ** (2 / 3)), 2)


@formula(
    symbol="N_Rk_sp",
    source=f"{EN4}, 7.2.1.7(2), (7.23)",
    limits={
        "N_Rk_sp_0": _FORCE,
        "A_c_sp": _AREA,
        "A_c_sp_0": _AREA,
        "psi_s_sp": _SHARE,
        "psi_re_N": _SHARE,
        "psi_ec_sp": _SHARE,
        "psi_h_sp": (0.0, 2.0),
    },
)
def splitting_of_group(
    *,
    N_Rk_sp_0: Newton,
    A_c_sp: Mm2,
    A_c_sp_0: Mm2,
    psi_s_sp: Ratio,
    psi_re_N: Ratio,
    psi_ec_sp: Ratio,
    psi_h_sp: Ratio,
) -> Newton:
    """Characteristic resistance of the group against splitting of the concrete under load."""
    return N_Rk_sp_0 * A_c_sp / A_c_sp_0 * psi_s_sp * psi_re_N * psi_ec_sp * psi_h_sp


@formula(symbol="N_Rd_sp", source=f"{EN4}, Table 7.1", limits={"N_Rk_sp": _FORCE, "gamma_Mc": (1.0, 5.0)})
def splitting_design(*, N_Rk_sp: Newton, gamma_Mc: Ratio) -> Newton:
    """Design resistance of the group against splitting of the concrete under load."""
    return N_Rk_sp / gamma_Mc


# --- callers ---------------------------------------------------------------------------------------------------------


def dense_reinforcement(*, s: float, phi: float) -> bool:
    """Say whether reinforcement near the surface is dense, so that the cover of short anchors may spall (7.2.1.4(5)).

    Parameters
    ----------
    s
        Spacing of the bars [mm].
    phi
        Their diameter [mm].

    Returns
    -------
    bool
        Spacing under 150 mm, or under 100 mm for bars of up to 10 mm.
    """
    return s < (100 if phi <= 10 else 150)


def _with_strength(chain: Steps, f_ck: float) -> None:
    chain.ask("f_ck", f_ck)
    if f_ck > F_CK_MOST:
        chain.choose(
            "f_ck",
            F_CK_MOST,
            f"anchors count on no more than {F_CK_MOST:g} MPa ({EN4}, from memory); the concrete has {f_ck:g} MPa",
        )
        chain.note(
            "strength", f"The concrete's {f_ck:g} MPa count as {F_CK_MOST:g} MPa for anchors ({EN4}; from memory)"
        )


def _with_depth(chain: Steps, h_ef: float, d: float) -> float:
    """Put the embedment depth into the chain; beyond 20 diameters it is cut, and said."""
    if not h_ef > 20 * d:
        chain.ask("h_ef", h_ef)
        return h_ef
    chain.ask("l_v", h_ef)
    chain.note("depth", DEPTH)
    return chain.use(counted_depth, "embedment depth that counts").value


def _with_spalling(chain: Steps, dense: bool) -> None:
    if dense not in (True, False):
        raise NotAccepted("it must be stated whether the reinforcement is dense: dense is True or False")
    if dense:
        chain.use(spalling_factor, "factor for dense reinforcement")
    else:
        chain.choose("psi_re_N", 1.0, f"{EN4}, 7.2.1.4(5): no dense reinforcement")


def _say(chain: Steps, group: Group) -> None:
    if group.extended:
        chain.note("extended", EXTENDED)
    chain.note("no_plate", NO_PLATE)
    chain.note("blow_out", BLOW_OUT)


def cone_chain(
    *,
    k_1: float,
    f_ck: float,
    h_ef: float,
    edges: Edges,
    spacings: Spacings,
    dense: bool = False,
    eccentricity: tuple[float, float] = (0.0, 0.0),
    reduced: bool = True,
) -> Steps:
    """Run the formulas of the concrete cone and keep them; see `cone_resistance`.

    ``reduced`` False leaves the embedment depth as it is between three or four near edges: the standard calls that
    conservative, and a calculation by others may have done so.
    """
    group = group_of(edges, spacings, eccentricity)
    chain = Steps(k_1=k_1, h_ef=h_ef)
    _with_strength(chain, f_ck)
    near = group.nearer_than(1.5 * h_ef)
    if reduced and len(near) >= 3:
        which = f"of the {len(near)} edges nearer than 1.5 h_ef"
        group.largest(chain, max(*near), 3 * h_ef, f"the largest {which}")
        reduced_to = chain.use(reduced_depth, "reduced embedment depth of a narrow member")
        chain.also("h_ef", reduced_to, f"reduced from {h_ef:g} mm, for {len(near)} edges are near ({EN4}, 7.2.1.4(8))")
        chain.note(
            "near_edges",
            f"With {len(near)} edges near, the cone counts on an embedment of {chain.value:.4g} mm, not {h_ef:g} mm "
            f"({EN4}, 7.2.1.4(8))",
        )
    chain.use(cone_of_one, "cone of one bar")
    chain.use(cone_spacing, "critical spacing of the cone")
    c_cr = chain.use(cone_edge, "critical edge distance of the cone")
    group.into(chain, c_cr, "c_cr,N")
    chain.use(cone_area_of_one, "projected area of one bar's cone")
    chain.use(cone_width, "width of the group's cones")
    chain.use(cone_height, "height of the group's cones")
    chain.use(cone_area, "projected area of the group's cones")
    chain.use(cone_edge_factor, "factor for the nearest edge")
    _with_spalling(chain, dense)
    chain.use(cone_eccentricity_factor, "factor for the eccentric pull")
    chain.use(cone_of_group, "cone of the group")
    _say(chain, group)
    return chain


def pullout_chain(
    *,
    tau_Rk: float,
    tau_Rk_uncr: float,
    d: float,
    h_ef: float,
    f_ck: float,
    k_3: float,
    edges: Edges,
    spacings: Spacings,
    psi_sus: float = 1.0,
    dense: bool = False,
    eccentricity: tuple[float, float] = (0.0, 0.0),
) -> Steps:
    """Run the formulas of pull-out with cone and keep them; see `pullout_resistance`."""
    group = group_of(edges, spacings, eccentricity)
    chain = Steps(tau_Rk=tau_Rk, tau_Rk_uncr=tau_Rk_uncr, d=d, k_3=k_3, psi_sus=psi_sus)
    _with_strength(chain, f_ck)
    _with_depth(chain, h_ef, d)
    chain.use(pullout_of_one, "bond of one bar")
    chain.use(pullout_spacing, "critical spacing of the bond")
    c_cr = chain.use(pullout_edge, "critical edge distance of the bond")
    group.into(chain, c_cr, "c_cr,Np")
    chain.use(pullout_area_of_one, "projected area of one bonded bar")
    chain.use(pullout_width, "width of the group's bonded bars")
    chain.use(pullout_height, "height of the group's bonded bars")
    chain.use(pullout_area, "projected area of the group's bonded bars")
    if group.bars == 1:
        chain.choose("psi_g_Np", 1.0, f"{EN4}, 7.2.1.6(4): a single bar")
    else:
        chain.use(cone_bond_strength, "bond stress that the cone limits")
        chain.use(group_factor_at_zero, "factor of the group effect, bars side by side")
        chain.use(mean_spacing, "mean spacing")
        if group.extended:
            chain.use(pullout_area_apart, "projected area of the same bars far apart")
        chain.use(group_factor_extended if group.extended else group_factor, "factor of the group effect")
    chain.use(pullout_edge_factor, "factor for the nearest edge")
    _with_spalling(chain, dense)
    chain.use(pullout_eccentricity_factor, "factor for the eccentric pull")
    chain.use(pullout_of_group, "pull-out of the group")
    if tau_Rk > tau_Rk_uncr:
        chain.note(
            "bond_stress",
            f"tau_Rk = {tau_Rk:g} MPa is above tau_Rk,uncr = {tau_Rk_uncr:g} MPa, the value for uncracked C20/25: "
            "right only in stronger concrete",
        )
    _say(chain, group)
    return chain


def splitting_chain(
    *,
    c_cr_sp: float,
    h: float,
    h_min: float,
    h_ef: float,
    edges: Edges,
    spacings: Spacings,
    N_Rk_sp_0: float | None = None,
    N_Rk_p_0: float | None = None,
    N_Rk_c_0: float | None = None,
    dense: bool = False,
    eccentricity: tuple[float, float] = (0.0, 0.0),
) -> Steps:
    """Run the formulas of splitting of the concrete under load, 7.2.1.7, for a bar, a row or a grid.

    Parameters
    ----------
    c_cr_sp, h_min, N_Rk_sp_0
        Critical edge distance and least thickness [mm] and resistance of one bar [N] of the product's assessment.
    h
        Thickness of the member [mm].
    h_ef
        Embedment depth [mm].
    N_Rk_p_0, N_Rk_c_0
        Bond and cone of one bar [N]; the smaller one is taken where the assessment gives no ``N_Rk_sp_0``.
    edges, spacings, dense, eccentricity
        As for `cone_resistance`.

    Returns
    -------
    Steps
        Its value is N_Rk,sp of the group [N], characteristic.

    Raises
    ------
    NotAccepted
        Neither ``N_Rk_sp_0`` nor the two resistances, or as for `cone_resistance`.
    """
    group = group_of(edges, spacings, eccentricity)
    chain = Steps(c_cr_sp=c_cr_sp, h_con=h, h_min=h_min, h_ef=h_ef)
    if N_Rk_sp_0 is not None:
        chain.choose("N_Rk_sp_0", N_Rk_sp_0, "the product's assessment")
    elif N_Rk_p_0 is None or N_Rk_c_0 is None:
        raise NotAccepted(
            "N_Rk_sp_0 is missing: without a value from the product's assessment, N_Rk_p_0 and N_Rk_c_0 are needed"
        )
    else:
        chain.ask_each({"N_Rk_p_0": N_Rk_p_0, "N_Rk_c_0": N_Rk_c_0})
        chain.use(splitting_of_one, "splitting of one bar")
    chain.use(splitting_spacing, "critical spacing against splitting")
    group.into(chain, chain.last("c_cr_sp"), "c_cr,sp")
    chain.use(splitting_area_of_one, "projected area of one bar against splitting")
    chain.use(splitting_width, "width of the group against splitting")
    chain.use(splitting_height, "height of the group against splitting")
    chain.use(splitting_area, "projected area of the group against splitting")
    chain.use(splitting_edge_factor, "factor for the nearest edge")
    _with_spalling(chain, dense)
    chain.use(splitting_eccentricity_factor, "factor for the eccentric pull")
    chain.use(splitting_thickness_factor, "factor for the member's thickness")
    chain.use(splitting_of_group, "splitting of the group")
    if h < h_min:
        chain.note(
            "thickness",
            f"h = {h:g} mm is less than h_min = {h_min:g} mm of the product's assessment: not allowed, whatever the "
            "resistance",
        )
    _say(chain, group)
    return chain


def splitting_exempt(
    *, c_cr_sp: float, h: float, h_min: float, edges: Edges, spacings: Spacings, cracked: bool, cracks_held: bool
) -> str:
    """Say why splitting under load need not be verified (7.2.1.7(2)), or nothing when it must be.

    Parameters
    ----------
    c_cr_sp, h, h_min
        Critical edge distance and least thickness of the product's assessment, and the member's thickness [mm].
    edges, spacings
        As for `cone_resistance`.
    cracked
        True when cone and pull-out are calculated for cracked concrete.
    cracks_held
        True when reinforcement takes the splitting forces and holds cracks to 0.3 mm; someone has to state that.

    Returns
    -------
    str
        A sentence, or empty.
    """
    group = group_of(edges, spacings)
    share = 1.0 if group.bars == 1 else 1.2
    if h >= h_min and not group.nearer_than(share * c_cr_sp):
        return (
            f"No edge is nearer than {share:g} c_cr,sp = {share * c_cr_sp:.4g} mm, and the member has h_min "
            f"({EN4}, 7.2.1.7(2) a; from memory)."
        )
    if cracked and cracks_held:
        return (
            "Cone and pull-out are those of cracked concrete, and reinforcement takes the splitting forces and holds "
            f"cracks to 0.3 mm ({EN4}, 7.2.1.7(2) b; from memory)."
        )
    return ""


def steel_chain(*, A_s: float, f_uk: float, f_yk: float) -> Steps:
    """Run the formulas of one bar's steel, its partial factor included: N_Rk,s, gamma_Ms, N_Rd,s."""
    chain = Steps(A_s=A_s, f_uk=f_uk, f_yk=f_yk)
    chain.use(steel_resistance, "steel of one bar")
    chain.use(steel_partial_factor, "partial factor for steel")
    chain.use(steel_design, "design resistance of one bar's steel")
    return chain


_DESIGN = {"N_Rk_c": cone_design, "N_Rk_p": pullout_design, "N_Rk_sp": splitting_design}


def design(chain: Steps, *, gamma_inst: float, gamma_C: float = GAMMA_C) -> Steps:
    """Go on from a characteristic resistance of the group to the design resistance.

    Parameters
    ----------
    chain
        From `cone_chain`, `pullout_chain` or `splitting_chain`; the two formulas are added to it.
    gamma_inst
        Factor of the installation from the product's assessment; it must be stated.
    gamma_C
        1.5; 1.2 in accidental situations.

    Returns
    -------
    Steps
        The same chain; its value is the design resistance [N].
    """
    resistance = chain.links[-1].formula.symbol
    chain.ask("gamma_C", gamma_C)
    chain.ask("gamma_inst", gamma_inst, "the product's assessment")
    chain.use(concrete_partial_factor, "partial factor for the concrete")
    chain.use(_DESIGN[resistance], "design resistance of the group")
    return chain


def sustained_chain(*, alpha_sus: float, psi_sus_0: float = PSI_SUS_0) -> Steps:
    """Find the factor psi_sus on the bond strength for the sustained share of the load, 7.2.1.6(2).

    Parameters
    ----------
    alpha_sus
        Sustained actions over all actions at the ultimate limit state, 0 to 1.
    psi_sus_0
        From the product's assessment; 0.6 where it says nothing.

    Returns
    -------
    Steps
        It knows ``psi_sus``: 1 up to ``psi_sus_0``, and it says so; less above, by the formula.
    """
    for name, value in (("alpha_sus", alpha_sus), ("psi_sus_0", psi_sus_0)):
        if not 0 <= value <= 1:
            raise NotAccepted(f"{name} = {value:g}; accepted is a share from 0 to 1")
    chain = Steps(alpha_sus=alpha_sus, psi_sus_0=psi_sus_0)
    if alpha_sus <= psi_sus_0:
        chain.choose("psi_sus", 1.0, f"{EN4}, 7.2.1.6(2) (from memory): alpha_sus is at most psi_sus,0")
    else:
        chain.use(sustained_load_factor, "factor for sustained load")
    return chain


def cone_basic(*, k_1: float, f_ck: float, h_ef: float) -> float:
    """Concrete cone of one bar that no edge and no neighbour disturbs, 7.2.1.4(2).

    Parameters
    ----------
    k_1
        7.7 in cracked, 11.0 in uncracked concrete.
    f_ck
        Characteristic cylinder strength [MPa]; above 60 MPa, 60 is counted on.
    h_ef
        Embedment depth [mm], at most 20 diameters.

    Returns
    -------
    float
        N_Rk,c0 [N], characteristic.

    Examples
    --------
    >>> round(cone_basic(k_1=7.7, f_ck=30, h_ef=180) / 1000, 1)
    101.8
    """
    chain = Steps(k_1=k_1, h_ef=h_ef)
    _with_strength(chain, f_ck)
    return chain.use(cone_of_one, "cone of one bar").value


def cone_resistance(
    *,
    k_1: float,
    f_ck: float,
    h_ef: float,
    edges: Edges,
    spacings: Spacings,
    dense: bool = False,
    eccentricity: tuple[float, float] = (0.0, 0.0),
) -> float:
    """Resistance of a bar, a row or a grid against a cone of concrete breaking out, 7.2.1.4.

    Parameters
    ----------
    k_1, f_ck, h_ef
        As for `cone_basic`. Between three or four near edges the embedment depth is reduced, 7.2.1.4(8).
    edges
        Distances from the outer bars' centres [mm]: left, right, below, above; None is far.
    spacings
        ``(s_x, n_x, s_y, n_y)``: centre spacing [mm] and number of bars in a line.
    dense
        True where reinforcement near the surface is dense, see `dense_reinforcement`.
    eccentricity
        Distances of the resultant pull from the centre of the bars [mm].

    Returns
    -------
    float
        N_Rk,c of the group [N], characteristic.

    Raises
    ------
    NotAccepted
        Edges, spacings or numbers that cannot be, or a value outside a formula's range.
    """
    return cone_chain(
        k_1=k_1, f_ck=f_ck, h_ef=h_ef, edges=edges, spacings=spacings, dense=dense, eccentricity=eccentricity
    ).value


def pullout_basic(*, tau_Rk: float, d: float, h_ef: float, psi_sus: float = 1.0) -> float:
    """Bond of one bar that no edge and no neighbour disturbs, 7.2.1.6(2).

    Parameters
    ----------
    tau_Rk
        Characteristic bond strength of the product's assessment as an anchor [MPa], for this concrete, cracked or not.
    d
        Bar diameter [mm].
    h_ef
        Embedment depth [mm]; beyond 20 d it counts as 20 d.
    psi_sus
        Factor for the sustained load, see `sustained_chain`.

    Returns
    -------
    float
        N_Rk,p0 [N], characteristic.
    """
    chain = Steps(tau_Rk=tau_Rk, d=d, psi_sus=psi_sus)
    _with_depth(chain, h_ef, d)
    return chain.use(pullout_of_one, "bond of one bar").value


def pullout_resistance(
    *,
    tau_Rk: float,
    tau_Rk_uncr: float,
    d: float,
    h_ef: float,
    f_ck: float,
    k_3: float,
    edges: Edges,
    spacings: Spacings,
    psi_sus: float = 1.0,
    dense: bool = False,
    eccentricity: tuple[float, float] = (0.0, 0.0),
) -> float:
    """Resistance of a bar, a row or a grid against pulling out together with concrete, 7.2.1.6.

    Parameters
    ----------
    tau_Rk, d, h_ef, psi_sus
        As for `pullout_basic`.
    tau_Rk_uncr
        Bond strength in uncracked concrete C20/25 [MPa], in cracked concrete as well.
    f_ck
        Characteristic cylinder strength [MPa]; above 60 MPa, 60 is counted on.
    k_3
        7.7 in cracked, 11.0 in uncracked concrete.
    edges, spacings, dense, eccentricity
        As for `cone_resistance`.

    Returns
    -------
    float
        N_Rk,p of the group [N], characteristic.

    Raises
    ------
    NotAccepted
        Edges, spacings or numbers that cannot be, or a value outside a formula's range.
    """
    return pullout_chain(
        tau_Rk=tau_Rk,
        tau_Rk_uncr=tau_Rk_uncr,
        d=d,
        h_ef=h_ef,
        f_ck=f_ck,
        k_3=k_3,
        edges=edges,
        spacings=spacings,
        psi_sus=psi_sus,
        dense=dense,
        eccentricity=eccentricity,
    ).value
