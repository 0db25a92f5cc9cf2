"""Strength when short: millilitres that are missing, the bonded length that they cost, and the force that is left.

The model: capacity follows what the code in use gives for the length that is bonded. It is an assumption
(`ASSUMPTION`), and it stands wherever the number stands. By EN 1992-1-1:2004 and ACI 318-19 the force grows in
proportion to the length, by EN 1992-1-1:2023 with its power 2/3 (the inverse of that edition's own formula for the
length). The yield force of the bar caps it, and under the code's least length nothing is counted on.

The texts of the codes were not at hand; what was read in their place stands at the top of each code's module.
Lengths are in mm, areas in mm², stresses in MPa, forces in N, volumes in mm³; values of an ACI calculation are
converted, not rewritten.

Here are the formulas. What works with them stands in modules above, and can be had from here as well: `bonded` (length
that is left), `bondlaw` (what each code gives for it), `shortbar` (force that is left, and the least dose).
"""

from __future__ import annotations

from calc.base.formula import formula
from calc.base.maths import max, min, pi, sqrt
from calc.base.units import Mm, Mm2, Mm3, MPa, Newton, Ratio

ASSUMPTION = (
    "Assumption: the force is what the code in use gives for the length that is still bonded; a void counts as if it"
    " ran all round the bar. In a lap, adhesive counts as missing from the lapped length, behind the end cover of the"
    " existing bar, unless the job says that it is missing at the mouth. No rule for voids holds for every product, and"
    " no public test gives bond against void share, so this is a model and not a measurement."
)
NOT_CONFORMING = (
    "A hole that is not full does not conform to its specification, whatever reserve this calculation shows: report it,"
    " and let the engineer decide."
)

MODEL = "model: force by the bonded length"
GEOMETRY = "geometry"
EN_2004 = "EN 1992-1-1:2004"
EN_2023 = "EN 1992-1-1:2023 (read in a draft of the fib library)"
ACI = "ACI 318-19"
STRESS_2023 = 435.0  # MPa: the stress at which the 2023 edition's formula is normalised
LEAST_ACI = 12.0  # in: 25.4.2.1 and 25.5.2.1

_PHI = (5.0, 60.0)
_LENGTH = (0.0, 1e5)
_POSITIVE = (1e-3, 1e5)
_AREA = (1.0, 5000.0)
_STRESS = (1.0, 1000.0)
_FORCE = (0.0, 1e7)
_VOLUME = (0.0, 1e10)
_REDUCED = (0.7, 1.0)
_MINIMUM_FACTOR = (1.0, 2.0)


# --- from volume to bonded length ------------------------------------------------------------------------------------


@formula(symbol="z_b", source=GEOMETRY, limits={"u": _LENGTH, "c_e": (0.0, 1e4)})
def bond_begins(*, u: Mm, c_e: Mm) -> Mm:
    """Depth from which the bar is bonded and counted.

    Below the empty ring, and in a lap below the existing bar's end cover.

    Notes
    -----
    ``c_e`` is 0 for an anchorage.
    """
    return max(u, c_e)


@formula(
    symbol="l_void", source=GEOMETRY, limits={"x_void": _LENGTH, "h_void": _LENGTH, "l_v": _LENGTH, "z_b": _LENGTH}
)
def void_loss(*, x_void: Mm, h_void: Mm, l_v: Mm, z_b: Mm) -> Mm:
    """Part of a void that lies inside the bonded length."""
    return max(0, min(x_void + h_void, l_v) - max(x_void, z_b))


@formula(symbol="l_b", source=MODEL, limits={"l_v": _LENGTH, "z_b": _LENGTH, "l_void": _LENGTH})
def bonded_length(*, l_v: Mm, z_b: Mm, l_void: Mm) -> Mm:
    """Bonded length that is left."""
    return max(0, l_v - z_b - l_void)


@formula(symbol="l_b", source=MODEL, limits={"l_v": _LENGTH, "z_b": _LENGTH, "l_void": _LENGTH, "delta_l": _LENGTH})
def bonded_length_wide_gap(*, l_v: Mm, z_b: Mm, l_void: Mm, delta_l: Mm) -> Mm:
    """Lapped length that is left and counted: what a wide gap between the bars added to the lap carries nothing."""
    return max(0, l_v - z_b - l_void - delta_l)


@formula(
    symbol="l_b",
    source=MODEL,
    limits={"l_v": _LENGTH, "c_e": (0.0, 1e4), "u": _LENGTH, "l_void": _LENGTH, "delta_l": _LENGTH},
)
def bonded_length_lap(*, l_v: Mm, c_e: Mm, u: Mm, l_void: Mm, delta_l: Mm) -> Mm:
    """Lapped length that is left when what is missing may lie anywhere: then the end cover makes up for none of it."""
    return max(0, l_v - c_e - u - l_void - delta_l)


# --- what the code asks for at a stress ------------------------------------------------------------------------------


@formula(
    symbol="l_ref",
    source=f"{EN_2004}, 8.4.4(1), (8.4) before its least length",
    limits={"alpha_1": _REDUCED, "alpha_235": _REDUCED, "l_b_rqd": _POSITIVE},
)
def reference_anchorage_2004(*, alpha_1: Ratio, alpha_235: Ratio, l_b_rqd: Mm) -> Mm:
    """Anchorage length that the stress needs, before the least length (from two open libraries that agree)."""
    return alpha_1 * alpha_235 * l_b_rqd


@formula(
    symbol="l_ref",
    source=f"{EN_2004}, 8.7.3(1), (8.10) before its least length",
    limits={"alpha_1": _REDUCED, "alpha_235": _REDUCED, "alpha_6": (1.0, 1.5), "l_b_rqd": _POSITIVE},
)
def reference_lap_2004(*, alpha_1: Ratio, alpha_235: Ratio, alpha_6: Ratio, l_b_rqd: Mm) -> Mm:
    """Lap length that the stress needs, before the least length (from two open libraries that agree)."""
    return alpha_1 * alpha_235 * alpha_6 * l_b_rqd


_LIMITS_2023 = {
    "k_lb": (35.0, 60.0),
    "k_cp": (1.0, 1.4),
    "phi": _PHI,
    "f_ck": (12.0, 100.0),
    "c_d": (1.0, 1e4),
    "k_b_pi": (0.1, 1.0),
}


@formula(
    symbol="l_ref",
    source=f"{EN_2023}, 11.4.2(3), (11.3) at 435 MPa, and 11.4.8, before the least length",
    limits=_LIMITS_2023,
    homogeneous=False,
)
def reference_anchorage_2023(*, k_lb: Ratio, k_cp: Ratio, phi: Mm, f_ck: MPa, c_d: Mm, k_b_pi: Ratio) -> Mm:
    """Length that a post-installed bar needs at 435 MPa, before the least length."""
    return (
        k_lb
        * k_cp
        * phi
        * sqrt(max(25 / f_ck, 0.3))
        * max(phi / 20, 0.6) ** (1 / 3)
        * sqrt(1.5 * phi / min(c_d, 3.75 * phi))
        / k_b_pi
    )


@formula(
    symbol="l_ref",
    source=f"{EN_2023}, Table 11.3 with (11.3) at 435 MPa, before the least length",
    limits=_LIMITS_2023,
    homogeneous=False,
)
def reference_lap_2023(*, k_lb: Ratio, k_cp: Ratio, phi: Mm, f_ck: MPa, c_d: Mm, k_b_pi: Ratio) -> Mm:
    """Lap length that a post-installed bar needs at 435 MPa, before the least length."""
    return (
        1.2
        * k_lb
        * k_cp
        * phi
        * sqrt(max(25 / f_ck, 0.3))
        * max(phi / 20, 0.6) ** (1 / 3)
        * sqrt(1.5 * phi / min(c_d, 3.75 * phi))
        / k_b_pi
    )


@formula(symbol="l_min", source=f"{EN_2023}, 11.4.8, (11.12)", limits={"phi": _PHI, "alpha_lb": _MINIMUM_FACTOR})
def least_anchorage_2023(*, phi: Mm, alpha_lb: Ratio) -> Mm:
    """Least anchorage length of a post-installed bar."""
    return 10 * phi * alpha_lb


@formula(symbol="l_min", source=f"{EN_2023}, Table 11.3", limits={"phi": _PHI, "alpha_lb": _MINIMUM_FACTOR})
def least_lap_2023(*, phi: Mm, alpha_lb: Ratio) -> Mm:
    """Least lap length of a post-installed bar."""
    return 15 * phi * alpha_lb


# --- from bonded length to force, and back ---------------------------------------------------------------------------


@formula(symbol="sigma_ref", source=f"{ACI}, 21.2 (from memory)", limits={"phi_t": (0.3, 1.0), "f_y": _STRESS})
def design_stress_aci(*, phi_t: Ratio, f_y: MPa) -> MPa:
    """Design stress of the bar at the length that develops its yield strength."""
    return phi_t * f_y


@formula(symbol="N_y", source="definition", limits={"A_s": _AREA, "f_yd": _STRESS})
def yield_force(*, A_s: Mm2, f_yd: MPa) -> Newton:
    """Design yield force of the bar."""
    return A_s * f_yd


@formula(
    symbol="N_y", source=f"{ACI}, 22.4.3 (from memory)", limits={"phi_t": (0.3, 1.0), "A_s": _AREA, "f_y": _STRESS}
)
def yield_force_aci(*, phi_t: Ratio, A_s: Mm2, f_y: MPa) -> Newton:
    """Design yield force of the bar, with ACI's strength reduction factor."""
    return phi_t * A_s * f_y


_BOND_LIMITS = {"A_s": _AREA, "sigma_ref": _STRESS, "l_b": _LENGTH, "l_ref": _POSITIVE}


@formula(symbol="N_b", source=MODEL, limits=_BOND_LIMITS)
def bond_force(*, A_s: Mm2, sigma_ref: MPa, l_b: Mm, l_ref: Mm) -> Newton:
    """Force that the bonded length carries, in proportion to it: EN 1992-1-1:2004 and ACI 318-19."""
    return A_s * sigma_ref * l_b / l_ref


@formula(symbol="N_b", source=f"{MODEL}; inverse of {EN_2023}, (11.3)", limits=_BOND_LIMITS)
def bond_force_2023(*, A_s: Mm2, sigma_ref: MPa, l_b: Mm, l_ref: Mm) -> Newton:
    """Force that the bonded length carries by EN 1992-1-1:2023, whose length grows with the power 1.5 of the stress."""
    return A_s * sigma_ref * (l_b / l_ref) ** (2 / 3)


@formula(symbol="N_R", source=MODEL, limits={"N_b": (0.0, 1e9), "N_y": _FORCE})
def bar_resistance(*, N_b: Newton, N_y: Newton) -> Newton:
    """Force that the bar resists: what its bonded length carries, never above its yield force."""
    return min(N_b, N_y)


_NEED_LIMITS = {"l_ref": _POSITIVE, "N_Ed": _FORCE, "A_s": _AREA, "sigma_ref": _STRESS}


@formula(symbol="l_need", source=MODEL, limits=_NEED_LIMITS)
def needed_length(*, l_ref: Mm, N_Ed: Newton, A_s: Mm2, sigma_ref: MPa) -> Mm:
    """Bonded length that the design force needs, in proportion to it: EN 1992-1-1:2004 and ACI 318-19."""
    return l_ref * N_Ed / (A_s * sigma_ref)


@formula(symbol="l_need", source=f"{MODEL}; {EN_2023}, (11.3)", limits=_NEED_LIMITS)
def needed_length_2023(*, l_ref: Mm, N_Ed: Newton, A_s: Mm2, sigma_ref: MPa) -> Mm:
    """Bonded length that the design force needs by EN 1992-1-1:2023."""
    return l_ref * (N_Ed / (A_s * sigma_ref)) ** 1.5


@formula(symbol="l_b_need", source=MODEL, limits={"l_need": _LENGTH, "l_min": _LENGTH})
def needed_bond(*, l_need: Mm, l_min: Mm) -> Mm:
    """Bonded length that is needed: under the code's least length nothing is counted on."""
    return max(l_need, l_min)


@formula(
    symbol="u_max", source=MODEL, limits={"l_v": _LENGTH, "delta_l": _LENGTH, "l_void": _LENGTH, "l_b_need": _LENGTH}
)
def longest_ring(*, l_v: Mm, delta_l: Mm, l_void: Mm, l_b_need: Mm) -> Mm:
    """Longest empty ring at the mouth with which the bar still reaches its design force.

    Notes
    -----
    ``l_void`` counts the voids below the ring.
    """
    return l_v - delta_l - l_void - l_b_need


@formula(
    symbol="u_max",
    source=MODEL,
    limits={"l_v": _LENGTH, "c_e": (0.0, 1e4), "delta_l": _LENGTH, "l_void": _LENGTH, "l_b_need": _LENGTH},
)
def longest_void(*, l_v: Mm, c_e: Mm, delta_l: Mm, l_void: Mm, l_b_need: Mm) -> Mm:
    """Longest bare stretch of a lapped bar, wherever it lies, with which the bar still reaches its design force."""
    return l_v - c_e - delta_l - l_void - l_b_need


# A full hole that only just reaches the force may leave a ring of minus the last bit.
@formula(
    symbol="V_least",
    source=MODEL,
    limits={"V_req": _VOLUME, "d_0": (0.0, 1e3), "phi": (0.0, 1e3), "u_max": (-1e-3, 1e5)},
    relations=("phi < d_0",),
)
def dose_for_ring(*, V_req: Mm3, d_0: Mm, phi: Mm, u_max: Mm) -> Mm3:
    """Dose that leaves an empty ring of a given length at the mouth."""
    return V_req - pi / 4 * (d_0**2 - phi**2) * u_max
