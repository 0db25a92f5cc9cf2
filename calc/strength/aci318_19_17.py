"""Bars as anchors in tension by ACI 318-19, chapter 17, in inches and psi as the code is written.

Steel, breakout and bond. The text of the code was not at hand. The formulas are from memory; those of all three modes,
0.55 under sustained pull and f'c counting to 8,000 psi were found alike in an open article that goes through the
chapter clause by clause. Only from memory, in no second place: phi of Table 17.5.3, lambda_a of Table 17.2.4.1, c_ac of
Table 17.9.5, the least distances of 17.9.2, the depths of 17.3.3, and that the reduced depth of 17.6.2.1.2 concerns
neither bond nor splitting.

Strengths are nominal and of the whole group until `design` multiplies them by phi.
"""

from __future__ import annotations

from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import max, min, pi, sqrt
from calc.base.units import Inch, Inch2, Lbf, Psi, Ratio, Whole
from calc.strength.anchors import BLOW_OUT, DEPTH, Edges, Spacings, group_of

ACI17 = "ACI 318-19"

# The code's own factor of breakout for bars set in old concrete, and its factor for uncracked concrete, which goes with
# it (17.6.2.2.1, 17.6.2.5.1).
K_C = 17.0
PSI_C_UNCRACKED = 1.4
F_C_MOST = 8000.0

# Strength reduction factors of Table 17.5.3 for tension: steel by ductility; breakout and bond of post-installed
# anchors by the category of the product's assessment (ACI 355.4), with and without supplementary reinforcement.
PHI_STEEL = {"ductile": 0.75, "brittle": 0.65}
PHI_CONCRETE = {(1, True): 0.75, (1, False): 0.65, (2, True): 0.65, (2, False): 0.55, (3, True): 0.55, (3, False): 0.45}

_DEPTH = (0.1, 1e4)
_C = (0.0, 1e6)
_N = (1.0, 1e4)
_E = (0.0, 1e5)
_D = (0.1, 100.0)
_TAU = (0.1, 1e5)
_FORCE = (0.0, 1e10)
_AREA = (1e-6, 1e10)
_SHARE = (0.0, 1.0)
_LAMBDA = (0.1, 1.0)
_STEEL = (1000.0, 300000.0)
_GROUP = {"c_x1": _C, "c_x2": _C, "c_y1": _C, "c_y2": _C, "s_x": _C, "n_x": _N, "s_y": _C, "n_y": _N}


# --- steel -----------------------------------------------------------------------------------------------------------


@formula(symbol="f_uta_c", source=f"{ACI17}, 17.6.1.2", limits={"f_uta": _STEEL, "f_ya": _STEEL}, homogeneous=False)
def counted_steel_strength(*, f_uta: Psi, f_ya: Psi) -> Psi:
    """Tensile strength of the steel that counts: at most 1.9 times its yield strength and 125,000 psi."""
    return min(f_uta, 1.9 * f_ya, 125000)


@formula(symbol="N_sa", source=f"{ACI17}, 17.6.1.2, (17.6.1.2)", limits={"A_se_N": (1e-3, 100.0), "f_uta_c": _STEEL})
def steel_strength(*, A_se_N: Inch2, f_uta_c: Psi) -> Lbf:
    """Nominal tensile strength of one bar's steel."""
    return A_se_N * f_uta_c


# --- what the modes share --------------------------------------------------------------------------------------------


@formula(symbol="h_ef", id="counted_depth_aci318", source=f"{ACI17}, 17.3.3", limits={"l_v": _DEPTH, "d_a": _D})
def counted_depth(*, l_v: Inch, d_a: Inch) -> Inch:
    """Embedment depth that counts: at most 20 bar diameters."""
    return min(l_v, 20 * d_a)


@formula(symbol="c_cr_N", id="breakout_edge", source=f"{ACI17}, 17.6.2.1.1", limits={"h_ef": _DEPTH})
def breakout_edge(*, h_ef: Inch) -> Inch:
    """Edge distance from which an edge no longer cuts the breakout."""
    return 1.5 * h_ef


@formula(symbol="h_ef_least", source=f"{ACI17}, 17.3.3", limits={"d_a": _D})
def least_depth(*, d_a: Inch) -> Inch:
    """Least embedment depth of an adhesive anchor."""
    return 4 * d_a


@formula(symbol="c_a_least", source=f"{ACI17}, 17.9.2 (from memory): without tests", limits={"d_a": _D})
def least_edge(*, d_a: Inch) -> Inch:
    """Least edge distance of a bar's centre where the product's assessment gives none."""
    return 6 * d_a


@formula(symbol="s_least", source=f"{ACI17}, 17.9.2 (from memory): without tests", limits={"d_a": _D})
def least_spacing(*, d_a: Inch) -> Inch:
    """Least centre spacing where the product's assessment gives none."""
    return 6 * d_a


@formula(symbol="lambda_a", source=f"{ACI17}, Table 17.2.4.1 (from memory)", limits={"lambda_": (0.5, 1.0)})
def lightweight_breakout(*, lambda_: Ratio) -> Ratio:
    """Factor for lightweight concrete, breakout of adhesive anchors."""
    return 0.8 * lambda_


@formula(symbol="lambda_a", source=f"{ACI17}, Table 17.2.4.1 (from memory)", limits={"lambda_": (0.5, 1.0)})
def lightweight_bond(*, lambda_: Ratio) -> Ratio:
    """Factor for lightweight concrete, bond of adhesive anchors."""
    return 0.6 * lambda_


@formula(symbol="c_ac", source=f"{ACI17}, 17.9.5 (from memory): adhesive, without tests", limits={"h_ef_full": _DEPTH})
def splitting_edge(*, h_ef_full: Inch) -> Inch:
    """Edge distance from which an edge no longer lets uncracked concrete split before it breaks out."""
    return 2 * h_ef_full


# --- concrete breakout -----------------------------------------------------------------------------------------------


@formula(
    symbol="N_b_n",
    source=f"{ACI17}, 17.6.2.2.1, (17.6.2.2.1)",
    limits={"k_c": (1.0, 50.0), "lambda_a": _LAMBDA, "f_c": (1.0, F_C_MOST), "h_ef": _DEPTH},
    soft={"f_c": (2500.0, F_C_MOST)},
    homogeneous=False,
)
def breakout_of_one(*, k_c: Ratio, lambda_a: Ratio, f_c: Psi, h_ef: Inch) -> Lbf:
    """Breakout strength of one bar in cracked concrete that no edge and no neighbour disturbs."""
    return k_c * lambda_a * sqrt(f_c) * h_ef**1.5


@formula(symbol="h_ef_r", id="reduced_depth_aci318", source=f"{ACI17}, 17.6.2.1.2", limits={"c_max": _C, "s_max": _C})
def reduced_depth(*, c_max: Inch, s_max: Inch) -> Inch:
    """Embedment depth that counts for breakout between three or four near edges."""
    return max(c_max / 1.5, s_max / 3)


@formula(symbol="A_Nco", source=f"{ACI17}, 17.6.2.1.4, (17.6.2.1.4)", limits={"h_ef": _DEPTH})
def breakout_area_of_one(*, h_ef: Inch) -> Inch2:
    """Area on the surface that the breakout of one undisturbed bar takes, taken as a square."""
    return 9 * h_ef**2


@formula(symbol="b_x_Nc", source=f"{ACI17}, 17.6.2.1.1", limits={**_GROUP, "h_ef": _DEPTH})
def breakout_width(*, c_x1: Inch, n_x: Whole, s_x: Inch, c_x2: Inch, h_ef: Inch) -> Inch:
    """Width that the breakout of the group takes, edges and overlaps taken off."""
    return min(c_x1, 1.5 * h_ef) + (n_x - 1) * min(s_x, 3 * h_ef) + min(c_x2, 1.5 * h_ef)


@formula(symbol="b_y_Nc", source=f"{ACI17}, 17.6.2.1.1", limits={**_GROUP, "h_ef": _DEPTH})
def breakout_height(*, c_y1: Inch, n_y: Whole, s_y: Inch, c_y2: Inch, h_ef: Inch) -> Inch:
    """Height that the breakout of the group takes, edges and overlaps taken off."""
    return min(c_y1, 1.5 * h_ef) + (n_y - 1) * min(s_y, 3 * h_ef) + min(c_y2, 1.5 * h_ef)


@formula(symbol="A_Nc", source=f"{ACI17}, 17.6.2.1.1", limits={"b_x_Nc": _C, "b_y_Nc": _C})
def breakout_area(*, b_x_Nc: Inch, b_y_Nc: Inch) -> Inch2:
    """Area on the surface that the breakout of the group takes; never more than n times that of one bar."""
    return b_x_Nc * b_y_Nc


@formula(symbol="psi_ec_N", source=f"{ACI17}, 17.6.2.3.1, (17.6.2.3.1)", limits={"e_x": _E, "e_y": _E, "h_ef": _DEPTH})
def breakout_eccentricity_factor(*, e_x: Inch, e_y: Inch, h_ef: Inch) -> Ratio:
    """Factor for a pull that is not centred on the group, in both directions."""
    return 1 / ((1 + e_x / (1.5 * h_ef)) * (1 + e_y / (1.5 * h_ef)))


@formula(symbol="psi_ed_N", source=f"{ACI17}, 17.6.2.4.1, (17.6.2.4.1)", limits={"c_a_min": _C, "h_ef": _DEPTH})
def breakout_edge_factor(*, c_a_min: Inch, h_ef: Inch) -> Ratio:
    """Factor for the nearest edge."""
    return min(1, 0.7 + 0.3 * c_a_min / (1.5 * h_ef))


@formula(
    symbol="psi_cp_N",
    source=f"{ACI17}, 17.6.2.6.1, (17.6.2.6.1)",
    limits={"c_a_min": _C, "h_ef_full": _DEPTH, "c_ac": (0.1, 1e5)},
)
def breakout_splitting_factor(*, c_a_min: Inch, h_ef_full: Inch, c_ac: Inch) -> Ratio:
    """Factor for splitting of uncracked concrete without supplementary reinforcement."""
    return min(1, max(c_a_min, 1.5 * h_ef_full) / c_ac)


@formula(
    symbol="N_cbg",
    source=f"{ACI17}, 17.6.2.1, (17.6.2.1b)",
    limits={
        "A_Nc": _AREA,
        "A_Nco": _AREA,
        "psi_ec_N": _SHARE,
        "psi_ed_N": _SHARE,
        "psi_c_N": (1.0, 1.4),
        "psi_cp_N": _SHARE,
        "N_b_n": _FORCE,
    },
)
def breakout_of_group(
    *, A_Nc: Inch2, A_Nco: Inch2, psi_ec_N: Ratio, psi_ed_N: Ratio, psi_c_N: Ratio, psi_cp_N: Ratio, N_b_n: Lbf
) -> Lbf:
    """Nominal breakout strength of the group; for a single bar it is (17.6.2.1a)."""
    return A_Nc / A_Nco * psi_ec_N * psi_ed_N * psi_c_N * psi_cp_N * N_b_n


# --- bond ------------------------------------------------------------------------------------------------------------


@formula(
    symbol="N_ba",
    source=f"{ACI17}, 17.6.5.2.1, (17.6.5.2.1)",
    limits={"lambda_a": _LAMBDA, "tau_a": _TAU, "d_a": _D, "h_ef": _DEPTH},
)
def bond_of_one(*, lambda_a: Ratio, tau_a: Psi, d_a: Inch, h_ef: Inch) -> Lbf:
    """Bond strength of one bar that no edge and no neighbour disturbs."""
    return lambda_a * tau_a * pi * d_a * h_ef


@formula(
    symbol="c_Na", source=f"{ACI17}, 17.6.5.1.2, (17.6.5.1.2b)", limits={"d_a": _D, "tau_uncr": _TAU}, homogeneous=False
)
def bond_edge(*, d_a: Inch, tau_uncr: Psi) -> Inch:
    """Edge distance from which an edge no longer disturbs a bonded bar.

    Notes
    -----
    The bond strength is that of uncracked concrete, in cracked concrete as well.
    """
    return 10 * d_a * sqrt(tau_uncr / 1100)


@formula(symbol="A_Nao", source=f"{ACI17}, 17.6.5.1.2, (17.6.5.1.2a)", limits={"c_Na": _C})
def bond_area_of_one(*, c_Na: Inch) -> Inch2:
    """Area on the surface that one undisturbed bonded bar takes."""
    return (2 * c_Na) ** 2


@formula(symbol="b_x_Na", source=f"{ACI17}, 17.6.5.1.1", limits={**_GROUP, "c_Na": _C})
def bond_width(*, c_x1: Inch, n_x: Whole, s_x: Inch, c_x2: Inch, c_Na: Inch) -> Inch:
    """Width that the bonded bars of the group take, edges and overlaps taken off."""
    return min(c_x1, c_Na) + (n_x - 1) * min(s_x, 2 * c_Na) + min(c_x2, c_Na)


@formula(symbol="b_y_Na", source=f"{ACI17}, 17.6.5.1.1", limits={**_GROUP, "c_Na": _C})
def bond_height(*, c_y1: Inch, n_y: Whole, s_y: Inch, c_y2: Inch, c_Na: Inch) -> Inch:
    """Height that the bonded bars of the group take, edges and overlaps taken off."""
    return min(c_y1, c_Na) + (n_y - 1) * min(s_y, 2 * c_Na) + min(c_y2, c_Na)


@formula(symbol="A_Na", source=f"{ACI17}, 17.6.5.1.1", limits={"b_x_Na": _C, "b_y_Na": _C})
def bond_area(*, b_x_Na: Inch, b_y_Na: Inch) -> Inch2:
    """Area on the surface that the bonded bars of the group take; never more than n times that of one bar."""
    return b_x_Na * b_y_Na


@formula(
    symbol="psi_ec_Na", source=f"{ACI17}, 17.6.5.3.1, (17.6.5.3.1)", limits={"e_x": _E, "e_y": _E, "c_Na": (1e-3, 1e5)}
)
def bond_eccentricity_factor(*, e_x: Inch, e_y: Inch, c_Na: Inch) -> Ratio:
    """Factor for a pull that is not centred on the group, in both directions."""
    return 1 / ((1 + e_x / c_Na) * (1 + e_y / c_Na))


@formula(symbol="psi_ed_Na", source=f"{ACI17}, 17.6.5.4.1, (17.6.5.4.1)", limits={"c_a_min": _C, "c_Na": (1e-3, 1e5)})
def bond_edge_factor(*, c_a_min: Inch, c_Na: Inch) -> Ratio:
    """Factor for the nearest edge."""
    return min(1, 0.7 + 0.3 * c_a_min / c_Na)


@formula(
    symbol="psi_cp_Na",
    source=f"{ACI17}, 17.6.5.5.1, (17.6.5.5.1)",
    limits={"c_a_min": _C, "c_Na": _C, "c_ac": (0.1, 1e5)},
)
def bond_splitting_factor(*, c_a_min: Inch, c_Na: Inch, c_ac: Inch) -> Ratio:
    """Factor for splitting of uncracked concrete without supplementary reinforcement."""
    return min(1, max(c_a_min, c_Na) / c_ac)


@formula(
    symbol="N_ag",
    source=f"{ACI17}, 17.6.5.1, (17.6.5.1b)",
    limits={
        "A_Na": _AREA,
        "A_Nao": _AREA,
        "psi_ec_Na": _SHARE,
        "psi_ed_Na": _SHARE,
        "psi_cp_Na": _SHARE,
        "N_ba": _FORCE,
    },
)
def bond_of_group(*, A_Na: Inch2, A_Nao: Inch2, psi_ec_Na: Ratio, psi_ed_Na: Ratio, psi_cp_Na: Ratio, N_ba: Lbf) -> Lbf:
    """Nominal bond strength of the group; for a single bar it is (17.6.5.1a)."""
    return A_Na / A_Nao * psi_ec_Na * psi_ed_Na * psi_cp_Na * N_ba


# --- design strengths ------------------------------------------------------------------------------------------------


@formula(
    symbol="phiN_sa", id="steel_design_aci318", source=f"{ACI17}, 17.5.1.2", limits={"phi_a": _SHARE, "N_sa": _FORCE}
)
def steel_design(*, phi_a: Ratio, N_sa: Lbf) -> Lbf:
    """Design tensile strength of one bar's steel; the most loaded bar of a group must not exceed it."""
    return phi_a * N_sa


@formula(symbol="phiN_cbg", source=f"{ACI17}, 17.5.1.2", limits={"phi_a": _SHARE, "N_cbg": _FORCE})
def breakout_design(*, phi_a: Ratio, N_cbg: Lbf) -> Lbf:
    """Design breakout strength of the group."""
    return phi_a * N_cbg


@formula(symbol="phiN_ag", source=f"{ACI17}, 17.5.1.2", limits={"phi_a": _SHARE, "N_ag": _FORCE})
def bond_design(*, phi_a: Ratio, N_ag: Lbf) -> Lbf:
    """Design bond strength of the group."""
    return phi_a * N_ag


@formula(symbol="phiN_sus", source=f"{ACI17}, 17.5.2.2, (17.5.2.2)", limits={"phi_a": _SHARE, "N_ba": _FORCE})
def sustained_design(*, phi_a: Ratio, N_ba: Lbf) -> Lbf:
    """Bond strength of one bar that its factored sustained pull must not exceed."""
    return 0.55 * phi_a * N_ba


# --- callers ---------------------------------------------------------------------------------------------------------


def phi_concrete(*, category: int, supplementary: bool) -> float:
    """Strength reduction factor for breakout and bond in tension, Table 17.5.3.

    Parameters
    ----------
    category
        1, 2 or 3, from the product's assessment by ACI 355.4.
    supplementary
        True where reinforcement ties the breakout to the member; it must be there, not designed.

    Returns
    -------
    float

    Raises
    ------
    NotAccepted
        Another category, or supplementary reinforcement not stated.
    """
    if (category, supplementary) not in PHI_CONCRETE:
        raise NotAccepted(
            f"category = {category!r}, supplementary = {supplementary!r}; accepted are category 1, 2 or 3 and True or "
            "False"
        )
    return PHI_CONCRETE[category, supplementary]


def lightweight_chain(*, lambda_: float, bond: bool) -> Steps:
    """Find lambda_a, which is 1 in normal-weight concrete; ``bond`` False is for breakout."""
    chain = Steps(lambda_=lambda_)
    if lambda_ == 1:
        chain.choose("lambda_a", 1.0, f"{ACI17}, 17.2.4.1: normal-weight concrete")
    else:
        chain.use(lightweight_bond if bond else lightweight_breakout, "factor for lightweight concrete")
    return chain


def _with_strength(chain: Steps, f_c: float) -> None:
    chain.ask("f_c", f_c)
    if f_c > F_C_MOST:
        chain.choose(
            "f_c",
            F_C_MOST,
            f"{ACI17}, 17.3.1: at most {F_C_MOST:,.0f} psi for post-installed anchors; the concrete has {f_c:,.0f} psi",
        )
        chain.note(
            "strength",
            f"The concrete's {f_c:,.0f} psi count as {F_C_MOST:,.0f} psi for post-installed anchors ({ACI17}, 17.3.1)",
        )


def _with_depth(chain: Steps, h_ef: float, d_a: float) -> float:
    """Put the embedment depth into the chain; beyond 20 diameters it is cut, and said."""
    if h_ef < 4 * d_a:
        chain.note(
            "depth",
            f"h_ef = {h_ef:g} in is less than 4 d_a = {4 * d_a:g} in: not an adhesive anchor that {ACI17}, 17.3.3, "
            "covers",
        )
    if not h_ef > 20 * d_a:
        chain.ask("h_ef", h_ef)
        return h_ef
    chain.ask("l_v", h_ef)
    chain.note("depth", DEPTH)
    return chain.use(counted_depth, "embedment depth that counts").value


def _no_splitting(cracked: bool) -> str:
    return "cracked concrete" if cracked else "supplementary reinforcement holds splitting cracks"


def _with_splitting(chain: Steps, h_ef: float, c_ac: float | None) -> None:
    """Put in the critical edge distance of uncracked concrete: from tests, or the code's own."""
    chain.ask("h_ef_full", h_ef)
    if c_ac is None:
        chain.use(splitting_edge, "critical edge distance against splitting")
    else:
        chain.choose("c_ac", c_ac, "the product's assessment (ACI 355.4)")


def breakout_chain(
    *,
    k_c: float,
    f_c: float,
    h_ef: float,
    edges: Edges,
    spacings: Spacings,
    cracked: bool = True,
    c_ac: float | None = None,
    lambda_a: float = 1.0,
    eccentricity: tuple[float, float] = (0.0, 0.0),
    supplementary: bool = False,
) -> Steps:
    """Run the formulas of concrete breakout and keep them; see `breakout_resistance`.

    ``supplementary`` True says that reinforcement holds splitting cracks: uncracked concrete takes no factor then.
    """
    group = group_of(edges, spacings, eccentricity)
    chain = Steps(k_c=k_c, h_ef=h_ef, lambda_a=lambda_a)
    _with_strength(chain, f_c)
    near = group.nearer_than(1.5 * h_ef)
    if len(near) >= 3:
        group.largest(chain, max(*near), 3 * h_ef, f"the largest of the {len(near)} edges nearer than 1.5 h_ef")
        reduced_to = chain.use(reduced_depth, "reduced embedment depth of a narrow member")
        chain.also(
            "h_ef", reduced_to, f"reduced from {h_ef:g} in, for {len(near)} edges are near ({ACI17}, 17.6.2.1.2)"
        )
        chain.note(
            "near_edges",
            f"With {len(near)} edges near, breakout counts on an embedment of {chain.value:.4g} in, not {h_ef:g} in "
            f"({ACI17}, 17.6.2.1.2)",
        )
    chain.use(breakout_of_one, "breakout of one bar")
    c_cr = chain.use(breakout_edge, "edge distance from which breakout is undisturbed")
    group.into(chain, c_cr, "1.5 h_ef", "c_a_min")
    chain.use(breakout_area_of_one, "projected area of one bar's breakout")
    chain.use(breakout_width, "width of the group's breakout")
    chain.use(breakout_height, "height of the group's breakout")
    chain.use(breakout_area, "projected area of the group's breakout")
    chain.use(breakout_eccentricity_factor, "factor for the eccentric pull")
    chain.use(breakout_edge_factor, "factor for the nearest edge")
    if cracked:
        chain.choose("psi_c_N", 1.0, f"{ACI17}, 17.6.2.5.1: cracked concrete")
    elif k_c == K_C:
        chain.choose("psi_c_N", PSI_C_UNCRACKED, f"{ACI17}, 17.6.2.5.1: uncracked concrete, k_c = {K_C:g}")
    else:
        chain.choose(
            "psi_c_N",
            1.0,
            f"{ACI17}, 17.6.2.5.1: k_c = {k_c:g} of the product's assessment is already that of uncracked concrete",
        )
    if cracked or supplementary:
        chain.choose(
            "psi_cp_N",
            1.0,
            f"{ACI17}, 17.6.2.6: {_no_splitting(cracked)}",
        )
    elif group.nearest is None:
        chain.choose("psi_cp_N", 1.0, f"{ACI17}, 17.6.2.6: no edge near")
    else:
        _with_splitting(chain, h_ef, c_ac)
        chain.use(breakout_splitting_factor, "factor for splitting")
    chain.use(breakout_of_group, "breakout of the group")
    chain.note("blow_out", BLOW_OUT)
    return chain


def bond_chain(
    *,
    tau: float,
    tau_uncr: float,
    d_a: float,
    h_ef: float,
    edges: Edges,
    spacings: Spacings,
    cracked: bool = True,
    c_ac: float | None = None,
    lambda_a: float = 1.0,
    eccentricity: tuple[float, float] = (0.0, 0.0),
    supplementary: bool = False,
) -> Steps:
    """Run the formulas of bond and keep them; see `bond_resistance`, and `breakout_chain` for ``supplementary``."""
    group = group_of(edges, spacings, eccentricity)
    chain = Steps(tau_a=tau, tau_uncr=tau_uncr, d_a=d_a, lambda_a=lambda_a)
    depth = _with_depth(chain, h_ef, d_a)
    chain.use(bond_of_one, "bond of one bar")
    c_Na = chain.use(bond_edge, "critical edge distance of the bond")
    group.into(chain, c_Na, "c_Na", "c_a_min")
    chain.use(bond_area_of_one, "projected area of one bonded bar")
    chain.use(bond_width, "width of the group's bonded bars")
    chain.use(bond_height, "height of the group's bonded bars")
    chain.use(bond_area, "projected area of the group's bonded bars")
    chain.use(bond_eccentricity_factor, "factor for the eccentric pull")
    chain.use(bond_edge_factor, "factor for the nearest edge")
    if cracked or supplementary:
        chain.choose(
            "psi_cp_Na",
            1.0,
            f"{ACI17}, 17.6.5.5: {_no_splitting(cracked)}",
        )
    elif group.nearest is None:
        chain.choose("psi_cp_Na", 1.0, f"{ACI17}, 17.6.5.5: no edge near")
    else:
        _with_splitting(chain, depth, c_ac)
        chain.use(bond_splitting_factor, "factor for splitting")
    chain.use(bond_of_group, "bond of the group")
    if tau > tau_uncr:
        chain.note(
            "bond_stress", f"tau = {tau:g} psi is above tau_uncr = {tau_uncr:g} psi, the value for uncracked concrete"
        )
    chain.note("blow_out", BLOW_OUT)
    return chain


def steel_chain(*, A_se_N: float, f_uta: float, f_ya: float, ductile: bool) -> Steps:
    """Run the formulas of one bar's steel with phi: f_uta that counts, N_sa, phi N_sa; ductile must be stated."""
    if ductile not in (True, False):
        raise NotAccepted("it must be stated whether the steel is ductile (17.5.3, 2.3): ductile is True or False")
    chain = Steps(A_se_N=A_se_N, f_uta=f_uta, f_ya=f_ya)
    chain.use(counted_steel_strength, "tensile strength that counts")
    chain.use(steel_strength, "steel of one bar")
    word = "ductile" if ductile else "brittle"
    chain.choose("phi_a", PHI_STEEL[word], f"{ACI17}, Table 17.5.3 (from memory): {word} steel in tension")
    chain.use(steel_design, "design strength of one bar's steel")
    return chain


_DESIGN = {"N_cbg": breakout_design, "N_ag": bond_design}


def design(chain: Steps, *, category: int, supplementary: bool) -> Steps:
    """Go on from a nominal strength of the group to the design strength.

    Parameters
    ----------
    chain
        From `breakout_chain` or `bond_chain`; the formula is added to it.
    category, supplementary
        As for `phi_concrete`.

    Returns
    -------
    Steps
        The same chain; its value is the design strength [lbf].
    """
    strength = chain.links[-1].formula.symbol
    said = f"category {category}, {'with' if supplementary else 'without'} supplementary reinforcement"
    chain.choose(
        "phi_a",
        phi_concrete(category=category, supplementary=supplementary),
        f"{ACI17}, Table 17.5.3 (from memory): {said}",
    )
    chain.use(_DESIGN[strength], "design strength of the group")
    return chain


def sustained_chain(
    *, tau: float, d_a: float, h_ef: float, category: int, supplementary: bool, lambda_a: float = 1.0
) -> Steps:
    """Run the formulas of one bar under sustained pull, 17.5.2.2; the value limits its factored sustained pull."""
    chain = Steps(tau_a=tau, d_a=d_a, lambda_a=lambda_a)
    _with_depth(chain, h_ef, d_a)
    chain.use(bond_of_one, "bond of one bar")
    said = f"category {category}, {'with' if supplementary else 'without'} supplementary reinforcement"
    chain.choose(
        "phi_a",
        phi_concrete(category=category, supplementary=supplementary),
        f"{ACI17}, Table 17.5.3 (from memory): {said}",
    )
    chain.use(sustained_design, "bond of one bar under sustained pull")
    return chain


def breakout_basic(*, k_c: float, f_c: float, h_ef: float, lambda_a: float = 1.0) -> float:
    """Breakout of one bar in cracked concrete that no edge and no neighbour disturbs, 17.6.2.2.

    Parameters
    ----------
    k_c
        17 for post-installed anchors; another value from the product's assessment.
    f_c
        Specified concrete strength [psi]; above 8,000 psi, 8,000 is counted on.
    h_ef
        Embedment depth [in], at most 20 diameters.
    lambda_a
        Factor for lightweight concrete, see `lightweight_chain`.

    Returns
    -------
    float
        N_b [lbf], nominal.

    Examples
    --------
    >>> round(breakout_basic(k_c=17, f_c=4000, h_ef=7) / 1000, 1)
    19.9
    """
    chain = Steps(k_c=k_c, h_ef=h_ef, lambda_a=lambda_a)
    _with_strength(chain, f_c)
    return chain.use(breakout_of_one, "breakout of one bar").value


def breakout_resistance(
    *,
    k_c: float,
    f_c: float,
    h_ef: float,
    edges: Edges,
    spacings: Spacings,
    cracked: bool = True,
    c_ac: float | None = None,
    lambda_a: float = 1.0,
    eccentricity: tuple[float, float] = (0.0, 0.0),
) -> float:
    """Strength of a bar, a row or a grid against concrete breaking out, 17.6.2.

    Parameters
    ----------
    k_c, f_c, h_ef, lambda_a
        As for `breakout_basic`. Between three or four near edges the embedment depth is reduced, 17.6.2.1.2. With k_c
        of the code (17) uncracked concrete takes the factor 1.4; another k_c is taken as the product's value for the
        concrete stated.
    edges
        Distances from the outer bars' centres [in]: left, right, below, above; None is far.
    spacings
        ``(s_x, n_x, s_y, n_y)``: centre spacing [in] and number of bars in a line.
    cracked
        False only where analysis shows no cracks under service loads.
    c_ac
        Critical edge distance of the product's assessment [in]; None is 2 h_ef. It matters in uncracked concrete only.
    eccentricity
        Distances of the resultant pull from the centre of the bars [in].

    Returns
    -------
    float
        N_cb or N_cbg [lbf], nominal.

    Raises
    ------
    NotAccepted
        Edges, spacings or numbers that cannot be, or a value outside a formula's range.
    """
    return breakout_chain(
        k_c=k_c,
        f_c=f_c,
        h_ef=h_ef,
        edges=edges,
        spacings=spacings,
        cracked=cracked,
        c_ac=c_ac,
        lambda_a=lambda_a,
        eccentricity=eccentricity,
    ).value


def bond_basic(*, tau: float, d_a: float, h_ef: float, lambda_a: float = 1.0) -> float:
    """Bond of one bar that no edge and no neighbour disturbs, 17.6.5.2.

    Parameters
    ----------
    tau
        Characteristic bond strength of the product's assessment [psi], for cracked or for uncracked concrete.
    d_a
        Bar diameter [in].
    h_ef
        Embedment depth [in]; beyond 20 d_a it counts as 20 d_a.
    lambda_a
        Factor for lightweight concrete, see `lightweight_chain`.

    Returns
    -------
    float
        N_ba [lbf], nominal.
    """
    chain = Steps(tau_a=tau, d_a=d_a, lambda_a=lambda_a)
    _with_depth(chain, h_ef, d_a)
    return chain.use(bond_of_one, "bond of one bar").value


def bond_resistance(
    *,
    tau: float,
    tau_uncr: float,
    d_a: float,
    h_ef: float,
    edges: Edges,
    spacings: Spacings,
    cracked: bool = True,
    c_ac: float | None = None,
    lambda_a: float = 1.0,
    eccentricity: tuple[float, float] = (0.0, 0.0),
) -> float:
    """Bond strength of a bar, a row or a grid, 17.6.5.

    Parameters
    ----------
    tau, d_a, h_ef, lambda_a
        As for `bond_basic`.
    tau_uncr
        Characteristic bond strength in uncracked concrete [psi], in cracked concrete as well.
    edges, spacings, cracked, c_ac, eccentricity
        As for `breakout_resistance`.

    Returns
    -------
    float
        N_a or N_ag [lbf], nominal.

    Raises
    ------
    NotAccepted
        Edges, spacings or numbers that cannot be, or a value outside a formula's range.
    """
    return bond_chain(
        tau=tau,
        tau_uncr=tau_uncr,
        d_a=d_a,
        h_ef=h_ef,
        edges=edges,
        spacings=spacings,
        cracked=cracked,
        c_ac=c_ac,
        lambda_a=lambda_a,
        eccentricity=eccentricity,
    ).value
