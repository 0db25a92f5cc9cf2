"""Strength when short: millilitres that are missing, the bonded length that they cost, and the force that is left.

The model: capacity follows what the code in use gives for the length that is bonded. It is an assumption (`ASSUMPTION`),
and it stands wherever the number stands. By EN 1992-1-1:2004 and ACI 318-19 the force grows in proportion to the length,
by EN 1992-1-1:2023 with its power 2/3 (the inverse of that edition's own formula for the length). The yield force of the
bar caps it, and under the code's least length nothing is counted on.

The texts of the codes were not at hand; which secondary source was read stands at the top of each code's module. Lengths are
in mm, areas in mm², stresses in MPa, forces in N, volumes in mm³; values of an ACI calculation are converted, not rewritten.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.base.formula import Formula, formula
from calc.base.maths import max, min, pi, sqrt
from calc.base.sheet import Check, amount, plain_text
from calc.base.units import Mm, Mm2, Mm3, MPa, Newton, Ratio, convert
from calc.fill.hole import bar_area
from calc.fill.level import length_of_shortfall
from calc.strength.cautions import Code
from calc.strength.chain import Chain

ASSUMPTION = (
    "Assumption: the force is what the code in use gives for the length that is still bonded; a void counts as if it ran all round the bar. "
    "No rule for voids holds for every product, and no public test gives bond against void share, so this is a model and not a measurement."
)  # fmt: skip
NOT_CONFORMING = (
    "A hole that is not full does not conform to its specification, whatever reserve this calculation shows: report it, and let the engineer decide."
)  # fmt: skip

MODEL = "model: force by the bonded length"
GEOMETRY = "geometry"
EN_2004 = "EN 1992-1-1:2004"
EN_2023 = "EN 1992-1-1:2023 (read in a draft of the fib library)"
ACI = "ACI 318-19"
STRESS_2023 = 435.0  # MPa: the stress at which the 2023 edition's formula is normalised
LEAST_ACI = 12.0  # in: 25.4.2.1 and 25.5.2.1

# Lengths and forces that differ by less than this share are the same number: floating point, not a missing bond.
_SAME = 1e-9

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
    """Depth from which the bar is bonded and counted: below the empty ring, and in a lap below the existing bar's end cover.

    Parameters
    ----------
    u : float or ndarray [mm]
        Unfilled length at the mouth with the bar home.
    c_e : float or ndarray [mm]
        Cover at the end of the existing bar; 0 for an anchorage.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return max(u, c_e)


@formula(symbol="l_void", source=GEOMETRY, limits={"x_void": _LENGTH, "h_void": _LENGTH, "l_v": _LENGTH, "z_b": _LENGTH})
def void_loss(*, x_void: Mm, h_void: Mm, l_v: Mm, z_b: Mm) -> Mm:
    """Part of a void that lies inside the bonded length.

    Parameters
    ----------
    x_void : float or ndarray [mm]
        Depth below the mouth where the void begins.
    h_void : float or ndarray [mm]
        Length of the void along the bar.
    l_v : float or ndarray [mm]
        Embedment.
    z_b : float or ndarray [mm]
        Depth below the mouth where the bonded length begins.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return max(0, min(x_void + h_void, l_v) - max(x_void, z_b))


@formula(symbol="l_b", source=MODEL, limits={"l_v": _LENGTH, "z_b": _LENGTH, "l_void": _LENGTH})
def bonded_length(*, l_v: Mm, z_b: Mm, l_void: Mm) -> Mm:
    """Bonded length that is left.

    Parameters
    ----------
    l_v : float or ndarray [mm]
        Embedment.
    z_b : float or ndarray [mm]
        Depth below the mouth where the bonded length begins.
    l_void : float or ndarray [mm]
        Bonded length that voids take.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return max(0, l_v - z_b - l_void)


@formula(symbol="l_b", source=MODEL, limits={"l_v": _LENGTH, "z_b": _LENGTH, "l_void": _LENGTH, "delta_l": _LENGTH})
def bonded_length_wide_gap(*, l_v: Mm, z_b: Mm, l_void: Mm, delta_l: Mm) -> Mm:
    """Lapped length that is left and counted: what a wide gap between the bars added to the lap carries nothing.

    Parameters
    ----------
    l_v : float or ndarray [mm]
        Embedment.
    z_b : float or ndarray [mm]
        Depth below the mouth where the bonded length begins.
    l_void : float or ndarray [mm]
        Bonded length that voids take.
    delta_l : float or ndarray [mm]
        Lengthening of the lap for a wide gap between its bars.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return max(0, l_v - z_b - l_void - delta_l)


# --- what the code asks for at a stress ------------------------------------------------------------------------------


@formula(
    symbol="l_ref",
    source=f"{EN_2004}, 8.4.4(1), (8.4) before its least length",
    limits={"alpha_1": _REDUCED, "alpha_235": _REDUCED, "l_b_rqd": _POSITIVE},
)
def reference_anchorage_2004(*, alpha_1: Ratio, alpha_235: Ratio, l_b_rqd: Mm) -> Mm:
    """Anchorage length that the stress needs, before the least length (from two open libraries that agree).

    Parameters
    ----------
    alpha_1 : float or ndarray [-]
        Factor for the shape of the bar.
    alpha_235 : float or ndarray [-]
        Product of the factors for cover, transverse bars and pressure.
    l_b_rqd : float or ndarray [mm]
        Basic required anchorage length.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return alpha_1 * alpha_235 * l_b_rqd


@formula(
    symbol="l_ref",
    source=f"{EN_2004}, 8.7.3(1), (8.10) before its least length",
    limits={"alpha_1": _REDUCED, "alpha_235": _REDUCED, "alpha_6": (1.0, 1.5), "l_b_rqd": _POSITIVE},
)
def reference_lap_2004(*, alpha_1: Ratio, alpha_235: Ratio, alpha_6: Ratio, l_b_rqd: Mm) -> Mm:
    """Lap length that the stress needs, before the least length (from two open libraries that agree).

    Parameters
    ----------
    alpha_1 : float or ndarray [-]
        Factor for the shape of the bar.
    alpha_235 : float or ndarray [-]
        Product of the factors for cover, transverse bars and pressure.
    alpha_6 : float or ndarray [-]
        Factor for the share of bars lapped at one place.
    l_b_rqd : float or ndarray [mm]
        Basic required anchorage length.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return alpha_1 * alpha_235 * alpha_6 * l_b_rqd


_LIMITS_2023 = {"k_lb": (35.0, 60.0), "k_cp": (1.0, 1.4), "phi": _PHI, "f_ck": (12.0, 100.0), "c_d": (1.0, 1e4), "k_b_pi": (0.1, 1.0)}


@formula(
    symbol="l_ref", source=f"{EN_2023}, 11.4.2(3), (11.3) at 435 MPa, and 11.4.8, before the least length", limits=_LIMITS_2023, homogeneous=False
)  # fmt: skip
def reference_anchorage_2023(*, k_lb: Ratio, k_cp: Ratio, phi: Mm, f_ck: MPa, c_d: Mm, k_b_pi: Ratio) -> Mm:
    """Length that a post-installed bar needs at 435 MPa, before the least length.

    Parameters
    ----------
    k_lb : float or ndarray [-]
        Basic anchorage coefficient: 50, accidental 35.
    k_cp : float or ndarray [-]
        Factor for the casting position.
    phi : float or ndarray [mm]
        Nominal diameter of the bar.
    f_ck : float or ndarray [MPa]
        Characteristic cylinder strength of the concrete.
    c_d : float or ndarray [mm]
        Smallest of half the clear spacing, side cover and cover.
    k_b_pi : float or ndarray [-]
        Bond efficiency factor of the approval, at most 1.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return k_lb * k_cp * phi * sqrt(max(25 / f_ck, 0.3)) * max(phi / 20, 0.6) ** (1 / 3) * sqrt(1.5 * phi / min(c_d, 3.75 * phi)) / k_b_pi


@formula(symbol="l_ref", source=f"{EN_2023}, Table 11.3 with (11.3) at 435 MPa, before the least length", limits=_LIMITS_2023, homogeneous=False)
def reference_lap_2023(*, k_lb: Ratio, k_cp: Ratio, phi: Mm, f_ck: MPa, c_d: Mm, k_b_pi: Ratio) -> Mm:
    """Lap length that a post-installed bar needs at 435 MPa, before the least length.

    Parameters
    ----------
    k_lb : float or ndarray [-]
        Basic anchorage coefficient: 50, accidental 35.
    k_cp : float or ndarray [-]
        Factor for the casting position.
    phi : float or ndarray [mm]
        Nominal diameter of the bar.
    f_ck : float or ndarray [MPa]
        Characteristic cylinder strength of the concrete.
    c_d : float or ndarray [mm]
        Smallest of half the clear spacing, side cover and cover.
    k_b_pi : float or ndarray [-]
        Bond efficiency factor of the approval, at most 1.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return 1.2 * k_lb * k_cp * phi * sqrt(max(25 / f_ck, 0.3)) * max(phi / 20, 0.6) ** (1 / 3) * sqrt(1.5 * phi / min(c_d, 3.75 * phi)) / k_b_pi


@formula(symbol="l_min", source=f"{EN_2023}, 11.4.8, (11.12)", limits={"phi": _PHI, "alpha_lb": _MINIMUM_FACTOR})
def least_anchorage_2023(*, phi: Mm, alpha_lb: Ratio) -> Mm:
    """Least anchorage length of a post-installed bar.

    Parameters
    ----------
    phi : float or ndarray [mm]
        Nominal diameter of the bar.
    alpha_lb : float or ndarray [-]
        Factor on the minimum length of a post-installed bar.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return 10 * phi * alpha_lb


@formula(symbol="l_min", source=f"{EN_2023}, Table 11.3", limits={"phi": _PHI, "alpha_lb": _MINIMUM_FACTOR})
def least_lap_2023(*, phi: Mm, alpha_lb: Ratio) -> Mm:
    """Least lap length of a post-installed bar.

    Parameters
    ----------
    phi : float or ndarray [mm]
        Nominal diameter of the bar.
    alpha_lb : float or ndarray [-]
        Factor on the minimum length of a post-installed bar.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return 15 * phi * alpha_lb


# --- from bonded length to force, and back ---------------------------------------------------------------------------


@formula(symbol="sigma_ref", source=f"{ACI}, 21.2 (from memory)", limits={"phi_t": (0.3, 1.0), "f_y": _STRESS})
def design_stress_aci(*, phi_t: Ratio, f_y: MPa) -> MPa:
    """Design stress of the bar at the length that develops its yield strength.

    Parameters
    ----------
    phi_t : float or ndarray [-]
        Strength reduction factor for tension.
    f_y : float or ndarray [MPa]
        Specified yield strength of the steel.

    Returns
    -------
    float or ndarray [MPa]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return phi_t * f_y


@formula(symbol="N_y", source="definition", limits={"A_s": _AREA, "f_yd": _STRESS})
def yield_force(*, A_s: Mm2, f_yd: MPa) -> Newton:
    """Design yield force of the bar.

    Parameters
    ----------
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    f_yd : float or ndarray [MPa]
        Design yield strength of the steel.

    Returns
    -------
    float or ndarray [N]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return A_s * f_yd


@formula(symbol="N_y", source=f"{ACI}, 22.4.3 (from memory)", limits={"phi_t": (0.3, 1.0), "A_s": _AREA, "f_y": _STRESS})
def yield_force_aci(*, phi_t: Ratio, A_s: Mm2, f_y: MPa) -> Newton:
    """Design yield force of the bar, with ACI's strength reduction factor.

    Parameters
    ----------
    phi_t : float or ndarray [-]
        Strength reduction factor for tension.
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    f_y : float or ndarray [MPa]
        Specified yield strength of the steel.

    Returns
    -------
    float or ndarray [N]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return phi_t * A_s * f_y


_BOND_LIMITS = {"A_s": _AREA, "sigma_ref": _STRESS, "l_b": _LENGTH, "l_ref": _POSITIVE}


@formula(symbol="N_b", source=MODEL, limits=_BOND_LIMITS)
def bond_force(*, A_s: Mm2, sigma_ref: MPa, l_b: Mm, l_ref: Mm) -> Newton:
    """Force that the bonded length carries, in proportion to it: EN 1992-1-1:2004 and ACI 318-19.

    Parameters
    ----------
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    sigma_ref : float or ndarray [MPa]
        Stress that the length l_ref carries.
    l_b : float or ndarray [mm]
        Bonded length that is left.
    l_ref : float or ndarray [mm]
        Length that the code asks for at that stress, before its least length.

    Returns
    -------
    float or ndarray [N]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return A_s * sigma_ref * l_b / l_ref


@formula(symbol="N_b", source=f"{MODEL}; inverse of {EN_2023}, (11.3)", limits=_BOND_LIMITS)
def bond_force_2023(*, A_s: Mm2, sigma_ref: MPa, l_b: Mm, l_ref: Mm) -> Newton:
    """Force that the bonded length carries by EN 1992-1-1:2023, whose length grows with the power 1.5 of the stress.

    Parameters
    ----------
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    sigma_ref : float or ndarray [MPa]
        Stress that the length l_ref carries.
    l_b : float or ndarray [mm]
        Bonded length that is left.
    l_ref : float or ndarray [mm]
        Length that the code asks for at that stress, before its least length.

    Returns
    -------
    float or ndarray [N]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return A_s * sigma_ref * (l_b / l_ref) ** (2 / 3)


@formula(symbol="N_R", source=MODEL, limits={"N_b": (0.0, 1e9), "N_y": _FORCE})
def bar_resistance(*, N_b: Newton, N_y: Newton) -> Newton:
    """Force that the bar resists: what its bonded length carries, never above its yield force.

    Parameters
    ----------
    N_b : float or ndarray [N]
        Force that the bonded length carries.
    N_y : float or ndarray [N]
        Design yield force of the bar.

    Returns
    -------
    float or ndarray [N]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return min(N_b, N_y)


_NEED_LIMITS = {"l_ref": _POSITIVE, "N_Ed": _FORCE, "A_s": _AREA, "sigma_ref": _STRESS}


@formula(symbol="l_need", source=MODEL, limits=_NEED_LIMITS)
def needed_length(*, l_ref: Mm, N_Ed: Newton, A_s: Mm2, sigma_ref: MPa) -> Mm:
    """Bonded length that the design force needs, in proportion to it: EN 1992-1-1:2004 and ACI 318-19.

    Parameters
    ----------
    l_ref : float or ndarray [mm]
        Length that the code asks for at the stress sigma_ref, before its least length.
    N_Ed : float or ndarray [N]
        Design force of the bar.
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    sigma_ref : float or ndarray [MPa]
        Stress that the length l_ref carries.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return l_ref * N_Ed / (A_s * sigma_ref)


@formula(symbol="l_need", source=f"{MODEL}; {EN_2023}, (11.3)", limits=_NEED_LIMITS)
def needed_length_2023(*, l_ref: Mm, N_Ed: Newton, A_s: Mm2, sigma_ref: MPa) -> Mm:
    """Bonded length that the design force needs by EN 1992-1-1:2023.

    Parameters
    ----------
    l_ref : float or ndarray [mm]
        Length that the code asks for at the stress sigma_ref, before its least length.
    N_Ed : float or ndarray [N]
        Design force of the bar.
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    sigma_ref : float or ndarray [MPa]
        Stress that the length l_ref carries.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return l_ref * (N_Ed / (A_s * sigma_ref)) ** 1.5


@formula(symbol="l_b_need", source=MODEL, limits={"l_need": _LENGTH, "l_min": _LENGTH})
def needed_bond(*, l_need: Mm, l_min: Mm) -> Mm:
    """Bonded length that is needed: under the code's least length nothing is counted on.

    Parameters
    ----------
    l_need : float or ndarray [mm]
        Bonded length that the design force needs.
    l_min : float or ndarray [mm]
        Least length of the code.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return max(l_need, l_min)


@formula(symbol="u_max", source=MODEL, limits={"l_v": _LENGTH, "delta_l": _LENGTH, "l_void": _LENGTH, "l_b_need": _LENGTH})
def longest_ring(*, l_v: Mm, delta_l: Mm, l_void: Mm, l_b_need: Mm) -> Mm:
    """Longest empty ring at the mouth with which the bar still reaches its design force.

    Parameters
    ----------
    l_v : float or ndarray [mm]
        Embedment.
    delta_l : float or ndarray [mm]
        Lengthening of the lap for a wide gap between its bars.
    l_void : float or ndarray [mm]
        Bonded length that voids take, those below the ring.
    l_b_need : float or ndarray [mm]
        Bonded length that is needed.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return l_v - delta_l - l_void - l_b_need


# A full hole that only just reaches the force may leave a ring of minus the last bit.
@formula(symbol="V_least", source=MODEL, limits={"V_req": _VOLUME, "d_0": (0.0, 1e3), "phi": (0.0, 1e3), "u_max": (-1e-3, 1e5)}, relations=("phi < d_0",))
def dose_for_ring(*, V_req: Mm3, d_0: Mm, phi: Mm, u_max: Mm) -> Mm3:
    """Dose that leaves an empty ring of a given length at the mouth.

    Parameters
    ----------
    V_req : float or ndarray [mm³]
        Required volume.
    d_0 : float or ndarray [mm]
        Diameter of the hole.
    phi : float or ndarray [mm]
        Nominal diameter of the bar.
    u_max : float or ndarray [mm]
        Longest empty ring with which the bar still reaches its design force.

    Returns
    -------
    float or ndarray [mm³]

    Raises
    ------
    RangeError
        A value outside its range, or a bar that is not smaller than the hole.
    """
    return V_req - pi / 4 * (d_0**2 - phi**2) * u_max


# --- the law of one bar: what its code gives for a length ------------------------------------------------------------


@dataclass(frozen=True)
class BondLaw:
    """Force against bonded length for one bar by one code; made by `law_2004`, `law_2023` or `law_aci`.

    Attributes
    ----------
    code
        Code and edition.
    bond, need
        Formulas from length to force and back.
    reference
        What the code gives, with the formulas that led there; by symbol: phi, A_s, sigma_ref, l_ref, l_min, N_y, c_e, delta_l.
    """

    code: Code
    bond: Formula
    need: Formula
    reference: Chain

    @property
    def yield_force(self) -> float:
        """Design yield force of the bar [N]."""
        return self.reference.known["N_y"]

    @property
    def least_length(self) -> float:
        """Length under which nothing is counted on [mm]."""
        return self.reference.known["l_min"]

    @property
    def start(self) -> float:
        """Depth from which the bond counts in a full hole [mm]."""
        return self.reference.known["c_e"]

    @property
    def idle(self) -> float:
        """Part of a lap that a wide gap between the bars takes up [mm]."""
        return self.reference.known["delta_l"]


def _common(chain: Chain, *, phi: float, A_s: float | None, c_e: float, delta_l: float) -> None:
    for name, value in (("c_e", c_e), ("delta_l", delta_l)):
        if not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{name} = {value:g} mm must be a length that is not negative")
    chain.known["phi"] = phi
    if A_s is None:
        chain.use(bar_area, "cross-section of the bar")
    else:
        chain.choose("A_s", A_s, "area of the bar's table")
    chain.choose("c_e", c_e, "lap: end cover of the existing bar" if c_e else "the bar is bonded from the mouth on")
    chain.choose("delta_l", delta_l, "lap with a wide gap" if delta_l else "no wide gap between lapped bars")


def law_2004(*, chain: Chain, f_yd: float, A_s: float | None = None) -> BondLaw:
    """Force against bonded length by EN 1992-1-1:2004: in proportion.

    Parameters
    ----------
    chain
        Anchorage or lap of `calc.strength.en1992_2004` (``anchorage_chain``, ``lap_chain``, ``post_installed_lap_chain``).
    f_yd
        Design yield strength of the steel [MPa].
    A_s
        Cross-section of the bar [mm²]; from the nominal diameter when it is not given.

    Returns
    -------
    BondLaw

    Raises
    ------
    ValueError
        No stress to be anchored, or one above the yield strength.

    Notes
    -----
    The least length is the one at the design stress; where the code ties it to the stress, that is the safe reading.
    """
    known, lap = chain.known, "l_0_min" in chain.known
    if not 0 < known["sigma_sd"] <= f_yd * (1 + _SAME):
        raise ValueError(f"sigma_sd = {known['sigma_sd']:g} MPa must be above 0 and at most the yield strength f_yd = {f_yd:g} MPa")
    names = ("alpha_1", "alpha_235", "alpha_6", "l_b_rqd") if lap else ("alpha_1", "alpha_235", "l_b_rqd")
    found = Chain(f_yd=f_yd)
    for name in names:
        found.choose(name, known[name], f"{EN_2004}, {'lap' if lap else 'anchorage'} of this bar")
    _common(found, phi=known["phi"], A_s=A_s, c_e=known.get("c_e", 0.0), delta_l=known.get("delta_l", 0.0))
    found.choose("sigma_ref", known["sigma_sd"], "design stress of the bar")
    found.use(reference_lap_2004 if lap else reference_anchorage_2004, "length that the stress needs")
    found.choose("l_min", known["l_0_min" if lap else "l_b_min"], f"{EN_2004}, {'(8.11)' if lap else '(8.6), (8.7)'}: least length at the design stress")
    found.use(yield_force, "yield force of the bar")
    return BondLaw("EN 1992-1-1:2004", bond_force, needed_length, found)


def law_2023(*, chain: Chain, f_yd: float, c_e: float = 0.0, A_s: float | None = None) -> BondLaw:
    """Force against bonded length by EN 1992-1-1:2023: with the power 2/3 of the length.

    Parameters
    ----------
    chain
        Post-installed anchorage or lap: `calc.strength.en1992_2023.post_installed_chain`.
    f_yd
        Design yield strength of the steel [MPa].
    c_e
        Cover at the end of the existing bar of a lap [mm].
    A_s
        Cross-section of the bar [mm²]; from the nominal diameter when it is not given.

    Returns
    -------
    BondLaw

    Raises
    ------
    ValueError
        A chain that is not one of a post-installed bar, or a value outside the code's range.
    """
    known, lap = chain.known, "l_sd_pi" in chain.known
    if "l_bd_pi" not in known:
        raise ValueError("the 2023 edition's chain must be the one of a post-installed bar: its approval's bond factor is part of the law")
    found = Chain(f_yd=f_yd)
    for name in ("k_lb", "k_cp", "f_ck", "c_d", "k_b_pi", "alpha_lb"):
        found.choose(name, known[name], chain.reasons.get(name, "anchorage of this bar"))
    _common(found, phi=known["phi"], A_s=A_s, c_e=c_e, delta_l=0.0)
    found.choose("sigma_ref", STRESS_2023, f"{EN_2023}, (11.3)")
    found.use(reference_lap_2023 if lap else reference_anchorage_2023, "length that 435 MPa needs")
    found.use(least_lap_2023 if lap else least_anchorage_2023, "least length")
    found.use(yield_force, "yield force of the bar")
    return BondLaw("EN 1992-1-1:2023", bond_force_2023, needed_length_2023, found)


def law_aci(
    *, chain: Chain, splice: Literal["none", "A", "B"] = "none", phi_t: float = 0.9, c_e: float = 0.0, A_s: float | None = None
) -> BondLaw:  # fmt: skip
    """Force against bonded length by ACI 318-19: in proportion, as its 25.4.10 reduces a development length.

    Parameters
    ----------
    chain
        Development length in in and psi: `calc.strength.aci318_19.development_chain`.
    splice
        ``"none"`` for a bar that is developed, ``"A"`` or ``"B"`` for a lap splice of that class.
    phi_t
        Strength reduction factor for tension; 0.9 is the code's for tension (21.2; from memory).
    c_e
        Cover at the end of the existing bar of a splice [mm].
    A_s
        Cross-section of the bar [mm²], such as its table gives; from the nominal diameter when it is not given.

    Returns
    -------
    BondLaw
        In mm, MPa and N.

    Raises
    ------
    ValueError
        Unknown splice class, or a value outside its range.

    Notes
    -----
    The code's text was not seen; 25.4.2 and 25.5.2 were read in a textbook, 25.4.10 is from memory.
    """
    if splice not in ("none", "A", "B"):
        raise ValueError(f"splice is '{splice}'; accepted are none, A and B")
    known = chain.known
    factor = 1.3 if splice == "B" else 1.0
    found = Chain(f_y=convert(known["f_y"], "psi", "MPa"))
    found.choose("phi_t", phi_t, f"{ACI}, 21.2 (from memory)" if phi_t == 0.9 else "input")
    _common(found, phi=convert(known["d_b"], "in", "mm"), A_s=A_s, c_e=c_e, delta_l=0.0)
    found.use(design_stress_aci, "design stress of the bar")
    asked = f"{plain_text(known['l_d_calc'], 5)} in, {ACI}, 25.4.2, before its least length"
    found.choose("l_ref", convert(factor * known["l_d_calc"], "in", "mm"), asked if factor == 1.0 else f"1.3 times {asked} (25.5.2.1, Class B)")
    found.choose("l_min", convert(LEAST_ACI, "in", "mm"), f"12 in: {ACI}, {'25.4.2.1' if splice == 'none' else '25.5.2.1'}")
    found.use(yield_force_aci, "yield force of the bar")
    return BondLaw("ACI 318-19", bond_force, needed_length, found)


# --- callers ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Void:
    """A stretch of the bar without adhesive: depth below the mouth where it begins, and its length [mm]."""

    depth: float
    length: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.depth) and self.depth >= 0 and math.isfinite(self.length) and self.length > 0):
            raise ValueError(f"a void begins at a depth of 0 or more and is longer than 0; this one: depth {self.depth:g} mm, length {self.length:g} mm")


Voids = Sequence[Void]


def _merged(voids: Voids) -> list[tuple[float, float]]:
    """Put voids in order from the mouth, and those that overlap together, so that no length is lost twice."""
    spans: list[tuple[float, float]] = []
    for begin, end in sorted((v.depth, v.depth + v.length) for v in voids):
        if spans and begin <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((begin, end))
    return spans


def lost_length_mouth(*, V_short: Any, d_0: Any, phi: Any) -> Any:
    """Length of bar at the mouth that a missing volume leaves without adhesive.

    Parameters
    ----------
    V_short : float or ndarray [mm³]
        Volume missing from a full hole.
    d_0, phi : float or ndarray [mm]
        Diameter of the hole, nominal diameter of the bar.

    Returns
    -------
    float or ndarray [mm]
        It can exceed the embedment: then the back of the hole lacks adhesive as well.

    Raises
    ------
    ValueError
        A missing volume that is negative, or a bar that is not smaller than the hole.

    Examples
    --------
    >>> round(lost_length_mouth(V_short=1130.9734, d_0=20.0, phi=16.0), 3)
    10.0
    """
    _refuse("V_short", V_short, "mm³")
    return length_of_shortfall(V_short=V_short, d_0=d_0, phi=phi)


def _refuse(name: str, value: Any, unit: str) -> None:
    array = np.asarray(value, dtype=float)
    if array.size == 0 or not np.all(np.isfinite(array) & (array >= 0)):
        raise ValueError(f"{name} must be numbers in {unit} that are not negative; at least one is")


def bonded_length_left(*, u: Any, l_v: Any, c_e: Any = 0.0, delta_l: Any = 0.0, voids: Voids = ()) -> Any:
    """Bonded length that is left below an empty ring, without the voids inside it.

    Parameters
    ----------
    u : float or ndarray [mm]
        Unfilled length at the mouth.
    l_v : float or ndarray [mm]
        Embedment.
    c_e, delta_l : float or ndarray [mm]
        End cover of the existing bar of a lap, and what a wide gap adds to the lap; neither carries.
    voids
        Voids of stated position and length; where two overlap, the length is lost once.

    Returns
    -------
    float or ndarray [mm]
        At least 0.

    Raises
    ------
    ValueError
        A length that is negative or not a number.

    Examples
    --------
    >>> bonded_length_left(u=30.0, l_v=200.0, voids=[Void(100.0, 20.0), Void(110.0, 20.0), Void(190.0, 40.0)])
    130.0
    """
    for name, value in (("u", u), ("l_v", l_v), ("c_e", c_e), ("delta_l", delta_l)):
        _refuse(name, value, "mm")
    z_b = bond_begins.function(u=u, c_e=c_e)
    l_void: Any = 0.0
    for begin, end in _merged(voids):
        l_void = l_void + void_loss.function(x_void=begin, h_void=end - begin, l_v=l_v, z_b=z_b)
    return bonded_length_wide_gap.function(l_v=l_v, z_b=z_b, l_void=l_void, delta_l=delta_l)


def capacity(*, law: BondLaw, l_b: Any) -> Any:
    """Force that the bar resists with a bonded length, by its code; for tables and pictures.

    Parameters
    ----------
    law
        What the code gives for a length.
    l_b : float or ndarray [mm]
        Bonded length.

    Returns
    -------
    float or ndarray [N]
        Never above yield; 0 below the code's least length.

    Raises
    ------
    ValueError
        A length that is negative or not a number.
    """
    _refuse("l_b", l_b, "mm")
    known, length = law.reference.known, np.asarray(l_b, dtype=float)
    bond = law.bond.function(A_s=known["A_s"], sigma_ref=known["sigma_ref"], l_b=length, l_ref=known["l_ref"])
    force = np.where(length >= known["l_min"] * (1 - _SAME), np.minimum(bond, known["N_y"]), 0.0)
    return float(force) if np.ndim(l_b) == 0 else force


@dataclass(frozen=True)
class ShortBar:
    """What one bar with a missing volume still carries.

    Attributes
    ----------
    chain
        Every formula from volume to force; its notices carry the assumption.
    u, l_b
        Unfilled length at the mouth and bonded length that is left [mm].
    N_R
        Force that the bar resists [N]; 0 below the code's least length.
    """

    chain: Chain
    u: float
    l_b: float
    N_R: float


def _continued(chain: Chain) -> Chain:
    """Copy a chain, so that a law can be used for many bars."""
    found = Chain(**chain.known)
    found.reasons, found.links, found.notices = dict(chain.reasons), list(chain.links), list(chain.notices)
    return found


def _use_voids(chain: Chain, voids: Voids) -> None:
    known, spans = chain.known, _merged(voids)
    if len(spans) == 1:
        known["x_void"], known["h_void"] = spans[0][0], spans[0][1] - spans[0][0]
        chain.use(void_loss, "bonded length that the void takes")
        return
    lost = 0.0
    for begin, end in spans:
        lost += void_loss(x_void=begin, h_void=end - begin, l_v=known["l_v"], z_b=known["z_b"])
    named = ", ".join(f"{begin:g} to {end:g} mm" for begin, end in spans)
    chain.choose("l_void", lost, f"what the voids ({named} below the mouth) take of the bonded length, one after the other" if spans else "no void stated")


def short_chain(*, law: BondLaw, V_short: float, d_0: float, l_v: float, voids: Voids = ()) -> ShortBar:
    """Follow one bar from the missing volume to the lost length to the force that is left.

    Parameters
    ----------
    law
        What the code gives for a length.
    V_short
        Volume missing from a full hole [mm³].
    d_0, l_v
        Diameter of the hole, embedment [mm].
    voids
        Voids of stated position and length. Their own room is not taken off the missing volume: the safe reading.

    Returns
    -------
    ShortBar

    Raises
    ------
    ValueError
        A value outside its range, or a bar that is not smaller than the hole.
    """
    _refuse("V_short", V_short, "mm³")
    chain = _continued(law.reference)
    chain.known |= {"V_short": V_short, "d_0": d_0, "l_v": l_v}
    chain.note(ASSUMPTION)
    if V_short > 0 or voids:
        chain.note(NOT_CONFORMING)
    u = chain.use(length_of_shortfall, "length of bar that the missing volume leaves bare")
    chain.use(bond_begins, "depth from which the bar is bonded")
    _use_voids(chain, voids)
    l_b = chain.use(bonded_length_wide_gap if law.idle else bonded_length, "bonded length that is left")
    if l_b < law.least_length * (1 - _SAME):
        sentence = f"the bonded length of {l_b:.4g} mm is under the least length of {law.code}, {law.least_length:.4g} mm: nothing is counted on"
        chain.choose("N_R", 0.0, sentence)
        chain.note(sentence[0].upper() + sentence[1:])
        return ShortBar(chain, u, l_b, 0.0)
    chain.use(law.bond, "force that the bonded length carries")
    return ShortBar(chain, u, l_b, chain.use(bar_resistance, "force that the bar resists"))


@dataclass(frozen=True)
class LossRow:
    """One line of a table of losses: mm³, mm, mm, N, and the design force over the resistance (None when nothing is left)."""

    V_short: float
    u: float
    l_b: float
    N_R: float
    utilisation: float | None
    reaches: bool


def loss_table(*, law: BondLaw, V_short: ArrayLike, d_0: float, l_v: float, N_Ed: float, voids: Voids = ()) -> tuple[LossRow, ...]:
    """List what missing volumes cost in length and in force.

    Parameters
    ----------
    law
        What the code gives for a length.
    V_short
        Volumes missing from a full hole [mm³].
    d_0, l_v
        Diameter of the hole, embedment [mm].
    N_Ed
        Design force of the bar [N].
    voids
        Voids of stated position and length.

    Returns
    -------
    tuple of LossRow
        In the order of the volumes.

    Raises
    ------
    ValueError
        A value outside its range.
    """
    _demand(N_Ed)
    volumes = np.atleast_1d(np.asarray(V_short, dtype=float))
    u = lost_length_mouth(V_short=volumes, d_0=d_0, phi=law.reference.known["phi"])
    l_b = bonded_length_left(u=u, l_v=l_v, c_e=law.start, delta_l=law.idle, voids=voids)
    rows = np.column_stack((volumes, np.minimum(u, l_v), l_b, capacity(law=law, l_b=l_b))).tolist()
    return tuple(LossRow(v, bare, left, N_R, N_Ed / N_R if N_R > 0 else None, bool(_reaches(N_R, N_Ed))) for v, bare, left, N_R in rows)


def capacity_check(*, id: str, law: BondLaw, l_b: float, N_Ed: float) -> Check:
    """Judge the design force against what the bonded length carries.

    Parameters
    ----------
    id
        Stable name of the check.
    law
        What the code gives for a length.
    l_b
        Bonded length [mm].
    N_Ed
        Design force of the bar [N].

    Returns
    -------
    Check
        In kN. It fails, whatever the force, where the bonded length is under the code's least length.

    Raises
    ------
    ValueError
        A value outside its range.
    """
    _demand(N_Ed)
    resistance = capacity(law=law, l_b=l_b)
    # A length that was cut to carry exactly this force must not fail by the last bits of its way back.
    resistance = N_Ed if math.isclose(resistance, N_Ed, rel_tol=_SAME) else resistance
    needed = _needed(law, N_Ed)
    advice = f"the code in use needs {needed:.0f} mm of bonded length for this force; {l_b:.0f} mm are counted"
    if N_Ed > law.yield_force * (1 + _SAME):
        advice = f"the bar itself yields at {convert(law.yield_force, 'N', 'kN'):.1f} kN: choose a larger bar or more of them"
    return Check.compare(
        id=id,
        title=f"Design force against what the bonded length carries ({law.code})",
        demand=convert(N_Ed, "N", "kN"),
        resistance=convert(resistance, "N", "kN"),
        unit="kN",
        advice=advice,
    )


@dataclass(frozen=True)
class LeastDose:
    """The dose below which a bar no longer reaches its design force [mm³]; None when no dose is enough, and why."""

    V_least: float | None
    reason: str
    chain: Chain


def least_dose(*, law: BondLaw, N_Ed: float, V_req: float, d_0: float, l_v: float, voids: Voids = ()) -> LeastDose:
    """Find the dose below which the bar no longer reaches its design force.

    Parameters
    ----------
    law
        What the code gives for a length.
    N_Ed
        Design force of the bar [N].
    V_req
        Required volume: what fills the hole with the bar home [mm³].
    d_0, l_v
        Diameter of the hole, embedment [mm].
    voids
        Voids of stated position and length. Their own room is not taken off the dose: the safe reading.

    Returns
    -------
    LeastDose
        Closed form. It is a line not to be crossed, not a dose to aim at: a hole that is not full does not conform.

    Raises
    ------
    ValueError
        A value outside its range, a bar that is not smaller than the hole, or a required volume smaller than the ring's.
    """
    _demand(N_Ed)
    for name, value, unit in (("V_req", V_req, "mm³"), ("l_v", l_v, "mm")):
        _refuse(name, value, unit)
    chain = _continued(law.reference)
    chain.known |= {"N_Ed": N_Ed, "V_req": V_req, "d_0": d_0, "l_v": l_v}
    chain.note(ASSUMPTION)
    chain.note(NOT_CONFORMING)
    if N_Ed > law.yield_force * (1 + _SAME):
        force, strength = (f"{convert(n, 'N', 'kN'):.1f} kN" for n in (N_Ed, law.yield_force))
        return LeastDose(None, f"no dose is enough: the bar yields at {strength}, its design force is {force}", chain)
    chain.use(law.need, "bonded length that the force needs")
    needed = chain.use(needed_bond, "bonded length that is needed")
    full = float(bonded_length_left(u=0.0, l_v=l_v, c_e=law.start, delta_l=law.idle, voids=voids))
    if needed > full * (1 + _SAME):
        return LeastDose(None, f"no dose is enough: {needed:.1f} mm of bonded length are needed, a full hole has {full:.1f} mm", chain)
    _use_voids_below(chain, law, voids, min(needed, full))
    chain.use(longest_ring, "longest empty ring that still does")
    least = chain.use(dose_for_ring, "dose below which the force is no longer reached")
    if least < 0:
        raise ValueError(f"V_req = {amount(V_req, 'mm³', 'metric')} is less than the ring around the bar: volume and hole do not go together")
    return LeastDose(least, "", chain)


def _use_voids_below(chain: Chain, law: BondLaw, voids: Voids, needed: float) -> None:
    """Go up from the bar's end until enough of it is bonded; the voids passed on the way are what the ring's formula takes off.

    A full hole bonds enough, so the way ends at or below the depth where the bond begins.
    """
    left, top, passed = needed + law.idle, chain.known["l_v"], 0.0
    for begin, end in reversed([s for s in _merged(voids) if s[0] < top]):
        if top - min(end, top) >= left * (1 - _SAME):
            break
        left -= top - min(end, top)
        passed += min(end, top) - begin
        top = begin
    chain.choose("l_void", passed, "what voids below the ring take of the bonded length" if voids else "no void stated")


def share_below(*, law: BondLaw, unfilled: ArrayLike, l_v: ArrayLike, N_Ed: float, voids: Voids = ()) -> float:
    """Share of simulated bars that no longer reach their design force.

    Parameters
    ----------
    law
        What the code gives for a length.
    unfilled
        Unfilled length at the mouth of each simulated bar [mm], such as `calc.fill.level.unfilled_length` gives for scattered
        holes and doses.
    l_v
        Embedment [mm], one for all or one for each bar.
    N_Ed
        Design force of the bar [N].
    voids
        Voids of stated position and length, in every bar.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    ValueError
        No bar, or a length that is negative or not a number.
    """
    _demand(N_Ed)
    u: NDArray[np.float64] = np.asarray(unfilled, dtype=float)
    l_b = bonded_length_left(u=u, l_v=np.asarray(l_v, dtype=float), c_e=law.start, delta_l=law.idle, voids=voids)
    return float(np.mean(~_reaches(capacity(law=law, l_b=np.asarray(l_b)), N_Ed)))


def _demand(N_Ed: float) -> None:
    if not (math.isfinite(N_Ed) and N_Ed > 0):
        raise ValueError(f"N_Ed = {N_Ed:g} N must be a force above 0")


def _reaches(N_R: Any, N_Ed: float) -> Any:
    return np.asarray(N_R) >= N_Ed * (1 - _SAME)


def _needed(law: BondLaw, N_Ed: float) -> float:
    known = law.reference.known
    values = {name: known[name] for name in ("l_ref", "A_s", "sigma_ref")}
    return float(needed_bond(l_need=law.need(N_Ed=N_Ed, **values), l_min=known["l_min"]))
