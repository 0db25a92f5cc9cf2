"""What a tested strength counts for, the bond that an approval tabulates, and the weaker of two concretes.

EN 1992-1-1:2004, 3.1.2(4) was read in an official national text; A.2.3 and EN 13791, 5.1.6 of the 2023 edition and the
form of an approval's table are from memory.
"""

from __future__ import annotations

from calc.base.formula import formula
from calc.base.maths import max, min
from calc.base.units import MPa, Psi, Ratio

EN04 = "EN 1992-1-1:2004"
IN_SITU = "EN 13791 and EN 1992-1-1:2004, A.2.3 (from memory)"
# Post-installed bars are assessed in concrete up to C50/60 (EOTA EAD 330087; from memory).
MOST_ASSESSED = 50.0

_FACTOR = (0.5, 1.0)
_F_CK = (5.0, 120.0)


@formula(symbol="alpha_ct_t", source=f"{EN04}, 3.1.2(4)", limits={"k_t": _FACTOR, "alpha_ct": _FACTOR})
def later_tension_factor(*, k_t: Ratio, alpha_ct: Ratio) -> Ratio:
    """Factor on the tensile strength where the concrete was tested after 28 days.

    What it gained by then is not still to come.
    """
    return k_t * alpha_ct


@formula(symbol="alpha_cc_t", source=f"{EN04}, 3.1.2(4)", limits={"k_t": _FACTOR, "alpha_cc": _FACTOR})
def later_compression_factor(*, k_t: Ratio, alpha_cc: Ratio) -> Ratio:
    """Factor on the compressive strength where the concrete was tested after 28 days."""
    return k_t * alpha_cc


@formula(symbol="f_ck", source=IN_SITU, limits={"f_ck_is": _F_CK})
def strength_from_in_situ(*, f_ck_is: MPa) -> MPa:
    """Characteristic strength of standard specimens from that of the structure.

    Which hardens less well than they do.
    """
    return f_ck_is / 0.85


@formula(symbol="gamma_C_is", source=f"{EN04}, A.2.3 (from memory)", limits={"gamma_C": (1.0, 2.0)})
def partial_factor_in_situ(*, gamma_C: Ratio) -> Ratio:
    """Partial factor where the strength is that of the finished structure, never below 1.3."""
    return max(1.3, 0.85 * gamma_C)


@formula(
    symbol="f_bd_pi",
    source="the product's approval; poor bond and long-term effects as for (8.2)",
    limits={"eta_1": (0.7, 1.0), "alpha_ct": (0.25, 1.0), "f_bd_tab": (0.05, 20.0)},
)
def tabulated_bond(*, eta_1: Ratio, alpha_ct: Ratio, f_bd_tab: MPa) -> MPa:
    """Design bond strength of a post-installed bar, from the approval's table for good bond."""
    return eta_1 * alpha_ct * f_bd_tab


@formula(
    symbol="f_ck",
    source="EN 1992-1-1 (2004: 6.2.5(1)), the weaker concrete",
    limits={"f_ck_old": _F_CK, "f_ck_new": _F_CK},
)
def weaker_concrete(*, f_ck_old: MPa, f_ck_new: MPa) -> MPa:
    """Strength that a joint counts on."""
    return min(f_ck_old, f_ck_new)


@formula(
    symbol="f_c",
    source="ACI 318-19, 22.9.4.4, the weaker concrete",
    limits={"f_c_old": (1000.0, 20000.0), "f_c_new": (1000.0, 20000.0)},
)
def weaker_concrete_aci(*, f_c_old: Psi, f_c_new: Psi) -> Psi:
    """Strength that a joint counts on."""
    return min(f_c_old, f_c_new)
