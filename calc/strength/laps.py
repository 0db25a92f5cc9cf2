"""What a lap asks of its two bars, whatever the code.

The existing bar's share, the room between pairs, the links across it.

The texts of the standards were not at hand. EN 1992-1-1:2004, 8.7.2 to 8.7.4 and 8.8, and Figures 8.3 and 8.7 are from
memory; so is 11.5.2 of the 2023 edition, but for the gap at which a lap grows, read in a draft of the fib's
structuralcodes (codes/ec2_2023/_section11_detailing_steel.py).
Lengths in mm, forces in N.
"""

from __future__ import annotations

from calc.base.formula import formula
from calc.base.maths import max, min
from calc.base.units import Mm, Mm2, MPa, Newton, Ratio, Whole

EN04 = "EN 1992-1-1:2004"
STATICS, GEOMETRY = "statics", "geometry"
MEMORY = "from memory"
SAME_LAYER, BEHIND = "same layer", "behind"

# 8.7.4.1(2): thinner bars, or fewer of them lapped at one place, get by with the transverse steel that is there anyway.
TRANSVERSE_FROM_PHI, TRANSVERSE_FROM_SHARE = 20.0, 25.0
# 8.7.4.1(3): with more than this share lapped and pairs nearer than this many diameters, the transverse bars are links.
LINKS_ABOVE_SHARE, LINKS_BELOW_DIAMETERS = 50.0, 10.0
# 8.8(4): bars above this diameter are lapped in thick sections only, or where they are not fully stressed.
THICK, THICK_SECTION, THICK_STRESS = 32.0, 1000.0, 0.8

_PHI = (5.0, 60.0)
_LENGTH = (0.0, 1e5)
_SPACING = (0.1, 1e5)
_FORCE = (0.0, 1e7)
_AREA = (1.0, 5000.0)


# --- the existing bar ------------------------------------------------------------------------------------------------


@formula(symbol="N_ex", source=STATICS, limits={"N_Ed": _FORCE, "s_ex": _SPACING, "s": _SPACING})
def force_of_existing_bar(*, N_Ed: Newton, s_ex: Mm, s: Mm) -> Newton:
    """Force that one existing bar takes over.

    Where they lie further apart than the new ones, each takes more than one's.
    """
    return N_Ed * max(1, s_ex / s)


@formula(symbol="sigma_ex", source=STATICS, limits={"N_ex": _FORCE, "A_ex": _AREA})
def stress_of_existing_bar(*, N_ex: Newton, A_ex: Mm2) -> MPa:
    """Stress of the existing bar from the force that it takes over."""
    return N_ex / A_ex


@formula(
    symbol="f_yd_ex", source=f"{EN04}, 3.2.7(2) ({MEMORY})", limits={"f_yk_ex": (100.0, 1000.0), "gamma_S": (1.0, 1.5)}
)
def existing_yield_strength(*, f_yk_ex: MPa, gamma_S: Ratio) -> MPa:
    """Design yield strength of the existing bar."""
    return f_yk_ex / gamma_S


@formula(symbol="N_ex_Rd", source=STATICS, limits={"A_ex": _AREA, "f_yd_ex": (1.0, 1000.0)})
def existing_bar_strength(*, A_ex: Mm2, f_yd_ex: MPa) -> Newton:
    """Design yield force of the existing bar."""
    return A_ex * f_yd_ex


@formula(
    symbol="N_ex_Rd",
    source=f"ACI 318-19, 22.4.3 ({MEMORY})",
    limits={"phi_t": (0.3, 1.0), "A_ex": _AREA, "f_y_ex": (1.0, 1000.0)},
)
def existing_bar_strength_aci(*, phi_t: Ratio, A_ex: Mm2, f_y_ex: MPa) -> Newton:
    """Design yield force of the existing bar, with ACI's strength reduction factor."""
    return phi_t * A_ex * f_y_ex


@formula(symbol="l_lap", source=STATICS, limits={"l_0": _LENGTH, "l_0_ex": _LENGTH})
def governing_lap(*, l_0: Mm, l_0_ex: Mm) -> Mm:
    """Lap that serves both bars.

    The new one hands its force on over its length, the existing one takes it over its own.
    """
    return max(l_0, l_0_ex)


# --- room around the pairs -------------------------------------------------------------------------------------------


@formula(symbol="a_l", source=GEOMETRY, limits={"s": _LENGTH, "phi": _PHI, "phi_ex": _PHI, "s_l": (0.0, 1e4)})
def clear_of_pairs_in_one_layer(*, s: Mm, phi: Mm, phi_ex: Mm, s_l: Mm) -> Mm:
    """Clear distance between neighbouring laps whose two bars lie side by side; negative where the pairs overlap."""
    return s - phi - phi_ex - s_l


@formula(symbol="a_l", source=GEOMETRY, limits={"s": _LENGTH, "phi": _PHI, "phi_ex": _PHI})
def clear_of_pairs_behind(*, s: Mm, phi: Mm, phi_ex: Mm) -> Mm:
    """Clear distance between neighbouring laps whose new bar lies behind the existing one."""
    return s - max(phi, phi_ex)


@formula(
    symbol="c_d",
    source=f"EN 1992-1-1 (2004: Figures 8.3 and 8.7; {MEMORY}), straight bars",
    limits={"a_l": _LENGTH, "c": _LENGTH},
)
def lap_cover(*, a_l: Mm, c: Mm) -> Mm:
    """Smallest of half the clear distance between neighbouring laps and the cover."""
    return min(a_l / 2, c)


@formula(
    symbol="c_d",
    source=f"EN 1992-1-1 (2004: Figures 8.3 and 8.7; {MEMORY}), straight bars",
    limits={"a_l": _LENGTH, "c": _LENGTH, "c_edge": _LENGTH, "phi": (0.1, 60.0)},
    relations=("phi < c_edge",),
)
def lap_cover_edge(*, a_l: Mm, c: Mm, c_edge: Mm, phi: Mm) -> Mm:
    """Smallest of half the clear distance between neighbouring laps, the cover and the cover at the edge."""
    return min(a_l / 2, c, c_edge - phi / 2)


@formula(symbol="a_l_min", source=f"EN 1992-1-1 (2004: 8.7.2(3); {MEMORY})", limits={"phi": _PHI}, homogeneous=False)
def least_clear_of_pairs(*, phi: Mm) -> Mm:
    """Least clear distance between neighbouring laps; of two bar sizes the larger."""
    return max(2 * phi, 20)


# --- steel across the lap --------------------------------------------------------------------------------------------


@formula(symbol="A_st", source=GEOMETRY, limits={"n_st": (1.0, 1000.0), "A_t": _AREA})
def transverse_area(*, n_st: Whole, A_t: Mm2) -> Mm2:
    """Area of the transverse bars across a lap."""
    return n_st * A_t
