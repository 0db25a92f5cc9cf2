"""The law of one bar: what its code gives for a bonded length, as a force and as a check of the design force.

The formulas, and the assumption under which they stand, are in `calc.strength.short.formulas`. Lengths are in mm,
stresses in MPa, forces in N; values of an ACI calculation are converted, not rewritten.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from calc.base.collector import Steps
from calc.base.display import METRIC, Display, plain_text
from calc.base.errors import NotAccepted
from calc.base.formula import Formula
from calc.base.sheet import Check, Given
from calc.base.units import convert
from calc.fill.hole import bar_area
from calc.strength.codes import Code
from calc.strength.short.formulas import (
    ACI,
    EN_2004,
    EN_2023,
    LEAST_ACI,
    STRESS_2023,
    bond_force,
    bond_force_2023,
    design_stress_aci,
    least_anchorage_2023,
    least_lap_2023,
    needed_bond,
    needed_length,
    needed_length_2023,
    reference_anchorage_2004,
    reference_anchorage_2023,
    reference_lap_2004,
    reference_lap_2023,
    yield_force,
    yield_force_aci,
)
from calc.strength.short.length import Position, refuse_negative

# Lengths and forces that differ by less than this share are the same number: floating point, not a missing bond.
SAME = 1e-9


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
        What the code gives, with the formulas that led there; by symbol: phi, A_s, sigma_ref, l_ref, l_min, N_y, c_e,
        delta_l.
    position
        Where a short hole lacks its adhesive.
    display
        How its sentences write quantities.
    """

    code: Code
    bond: Formula
    need: Formula
    reference: Steps
    position: Position = "unknown"
    display: Display = METRIC

    @property
    def ring(self) -> bool:
        """Whether what is missing is an empty ring at the mouth.

        Without an end cover its place costs the same length.
        """
        return self.position == "mouth" or not self.start

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


# --- the law by each code -------------------------------------------------------------------------


def _common(chain: Steps, *, phi: float, A_s: float | None, c_e: float, delta_l: float) -> None:
    for name, value in (("c_e", c_e), ("delta_l", delta_l)):
        if not (math.isfinite(value) and value >= 0):
            raise NotAccepted(f"{name} = {value:g} mm must be a length that is not negative")
    chain.ask("phi", phi)
    if A_s is None:
        chain.use(bar_area, "cross-section of the bar")
    else:
        chain.ask("A_s", A_s, "area of the bar's table")
    if c_e:
        chain.ask("c_e", c_e, "lap: end cover of the existing bar")
    else:
        chain.choose("c_e", 0.0, "the bar is bonded from the mouth on")
    if delta_l:
        chain.ask("delta_l", delta_l, "lap with a wide gap")
    else:
        chain.choose("delta_l", 0.0, "no wide gap between lapped bars")


def law_2004(*, chain: Steps, f_yd: float, A_s: float | None = None) -> BondLaw:
    """Force against bonded length by EN 1992-1-1:2004: in proportion.

    Parameters
    ----------
    chain
        Anchorage or lap of `calc.strength.en1992_2004` (``anchorage_chain``, ``lap_chain``).
    f_yd
        Design yield strength of the steel [MPa].
    A_s
        Cross-section of the bar [mm²]; from the nominal diameter when it is not given.

    Returns
    -------
    BondLaw

    Raises
    ------
    NotAccepted
        No stress to be anchored, or one above the yield strength.

    Notes
    -----
    The least length is the one at the design stress; where the code ties it to the stress, that is the safe reading.
    """
    known, lap = chain.known, "l_0_min" in chain.known
    if not 0 < known["sigma_sd"] <= f_yd * (1 + SAME):
        raise NotAccepted(
            f"sigma_sd = {known['sigma_sd']:g} MPa must be above 0 and at most the yield strength f_yd = {f_yd:g} MPa"
        )
    names = ("alpha_1", "alpha_235", "alpha_6", "l_b_rqd") if lap else ("alpha_1", "alpha_235", "l_b_rqd")
    found = Steps(f_yd=f_yd)
    found.carry(chain, *names)
    _common(found, phi=known["phi"], A_s=A_s, c_e=known.get("c_e", 0.0), delta_l=known.get("delta_l", 0.0))
    found.carry(chain, *(name for name in ("c_e", "delta_l") if known.get(name)))
    found.also("sigma_ref", chain.last("sigma_sd"), "design stress of the bar")
    found.use(reference_lap_2004 if lap else reference_anchorage_2004, "length that the stress needs")
    found.also(
        "l_min",
        chain.last("l_0_min" if lap else "l_b_min"),
        f"{EN_2004}, {'(8.11)' if lap else '(8.6), (8.7)'}: least length at the design stress",
    )
    found.use(yield_force, "yield force of the bar")
    return BondLaw("EN 1992-1-1:2004", bond_force, needed_length, found)


def law_2023(*, chain: Steps, f_yd: float, c_e: float = 0.0, A_s: float | None = None) -> BondLaw:
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
    NotAccepted
        A chain that is not one of a post-installed bar, or a value outside the code's range.
    """
    known, lap = chain.known, "l_sd_pi" in chain.known
    if "l_bd_pi" not in known:
        raise NotAccepted(
            "the 2023 edition's chain must be the one of a post-installed bar: its approval's bond factor is part of"
            " the law"
        )
    found = Steps(f_yd=f_yd)
    found.carry(chain, "k_lb", "k_cp", "f_ck", "c_d", "k_b_pi", "alpha_lb")
    _common(found, phi=known["phi"], A_s=A_s, c_e=c_e, delta_l=0.0)
    found.choose("sigma_ref", STRESS_2023, f"{EN_2023}, (11.3)")
    found.use(reference_lap_2023 if lap else reference_anchorage_2023, "length that 435 MPa needs")
    found.use(least_lap_2023 if lap else least_anchorage_2023, "least length")
    found.use(yield_force, "yield force of the bar")
    return BondLaw("EN 1992-1-1:2023", bond_force_2023, needed_length_2023, found)


def law_aci(
    *,
    chain: Steps,
    splice: Literal["none", "A", "B"] = "none",
    phi_t: float = 0.9,
    c_e: float = 0.0,
    A_s: float | None = None,
) -> BondLaw:
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
    NotAccepted
        Unknown splice class, or a value outside its range.

    Notes
    -----
    The code's text was not seen; 25.4.2 and 25.5.2 were read in a textbook, 25.4.10 is from memory.
    """
    if splice not in ("none", "A", "B"):
        raise NotAccepted(f"splice is '{splice}'; accepted are none, A and B")
    known = chain.known
    factor = 1.3 if splice == "B" else 1.0
    found = Steps(f_y=convert(known["f_y"], "psi", "MPa"))
    found.ask("phi_t", phi_t, f"{ACI}, 21.2 (from memory)" if phi_t == 0.9 else "input")
    _common(found, phi=convert(known["d_b"], "in", "mm"), A_s=A_s, c_e=c_e, delta_l=0.0)
    found.use(design_stress_aci, "design stress of the bar")
    asked = f"{plain_text(known['l_d_calc'], 5)} in, {ACI}, 25.4.2, before its least length"
    length = convert(factor * known["l_d_calc"], "in", "mm")
    if factor == 1.0:
        found.also("l_ref", Given(length, "mm", chain.last("l_d_calc").origin), asked)
    else:
        found.choose("l_ref", length, f"1.3 times {asked} (25.5.2.1, Class B)")
    found.choose(
        "l_min", convert(LEAST_ACI, "in", "mm"), f"12 in: {ACI}, {'25.4.2.1' if splice == 'none' else '25.5.2.1'}"
    )
    found.use(yield_force_aci, "yield force of the bar")
    return BondLaw("ACI 318-19", bond_force, needed_length, found)


def beside(law: BondLaw, *, l_ref: Given, l_min: Given, N_y: Given | None, position: Position) -> BondLaw:
    """Return the law of a lap: the bar in the old concrete needs a length of its own, and has a strength of its own.

    Parameters
    ----------
    law
        The law of the new bar.
    l_ref, l_min
        Length [mm] that the existing bar needs for the force at ``sigma_ref`` of the new one, and its least length.
    N_y
        Force of the new bar [N] at which the existing one yields; None when its steel is not known.
    position
        Where a short hole lacks its adhesive.

    Returns
    -------
    BondLaw
        Force and length are in the same relation for both bars, so the longer of the two lengths stands for the lap.
    """
    found = law.reference.copy()
    for symbol, given in (("l_ref", l_ref), ("l_min", l_min)):
        if given.value > found.known[symbol]:
            found.put(symbol, given)
    if N_y is not None and N_y.value < law.yield_force:
        found.put("N_y", N_y)
    return replace(law, reference=found, position=position)


# --- force by the law -----------------------------------------------------------------------------


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
    NotAccepted
        A length that is negative or not a number.
    """
    refuse_negative("l_b", l_b, "mm")
    known, length = law.reference.known, np.asarray(l_b, dtype=float)
    bond = law.bond.function(A_s=known["A_s"], sigma_ref=known["sigma_ref"], l_b=length, l_ref=known["l_ref"])
    force = np.where(length >= known["l_min"] * (1 - SAME), np.minimum(bond, known["N_y"]), 0.0)
    return float(force) if np.ndim(l_b) == 0 else force


def capacity_check(*, name: str, law: BondLaw, l_b: float, N_Ed: float) -> Check:
    """Judge the design force against what the bonded length carries.

    Parameters
    ----------
    name
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
    NotAccepted
        A value outside its range.
    """
    require_force(N_Ed)
    resistance = capacity(law=law, l_b=l_b)
    # A length that was cut to carry exactly this force must not fail by the last bits of its way back.
    resistance = N_Ed if math.isclose(resistance, N_Ed, rel_tol=SAME) else resistance
    needed = _needed(law, N_Ed)
    write = law.display
    advice = (
        f"the code in use needs {write.about(needed)} of bonded length for this force; {write.about(l_b)} are counted"
    )
    if N_Ed > law.yield_force * (1 + SAME):
        advice = f"the bar itself yields at {write.force(law.yield_force)}: choose a larger bar or more of them"
    return Check.compare(
        name=name,
        title=f"Design force against what the bonded length carries ({law.code})",
        demand=convert(N_Ed, "N", "kN"),
        resistance=convert(resistance, "N", "kN"),
        unit="kN",
        advice=advice,
    )


def require_force(N_Ed: float) -> None:
    """Refuse a design force that is not a finite number above 0 [N]."""
    if not (math.isfinite(N_Ed) and N_Ed > 0):
        raise NotAccepted(f"N_Ed = {N_Ed:g} N must be a force above 0")


def _needed(law: BondLaw, N_Ed: float) -> float:
    known = law.reference.known
    values = {name: known[name] for name in ("l_ref", "A_s", "sigma_ref")}
    return float(needed_bond(l_need=law.need(N_Ed=N_Ed, **values), l_min=known["l_min"]))
