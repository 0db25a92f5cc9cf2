"""A lap of a new bar with one in the old concrete.

What the existing bar has to carry and needs, the room between pairs, links.
"""

from __future__ import annotations

import math
from typing import Any

from calc.base.bars import Bar, find_bar
from calc.base.collector import Steps
from calc.base.formula import Formula
from calc.base.identity import EMBEDMENT
from calc.base.maths import max, min
from calc.base.sheet import Check, Given, Origin
from calc.base.units import convert
from calc.files.design import STEELS, TOUCHING
from calc.strength import aci318_19, en1992_2004, en1992_2023, laps
from calc.strength.codes import ACI
from calc.strength.short import formulas as short
from calc.strength.short import law as bondlaw
from calc.strength.short.length import Position
from calc.strength.statics import centre_cover, centre_cover_edge
from calc.work.embedment.case import DesignCase
from calc.work.embedment.steps import DesignSteps, ExistingLap, allowed, held_against, in_length_unit, owed

_PART = "existing."
_LEAD = "Existing bar: "


def existing_bar(case: DesignCase) -> Bar:
    """Return the bar in the old concrete that the new one laps with."""
    return find_bar(case["existing_bar"])


def layer_of(case: DesignCase) -> tuple[str, str]:
    """Return how the two bars lie, and in words why, where the job file does not say it."""
    stated = case["lap_arrangement"]
    if stated is not None:
        return stated, ""
    if case["spacing"] - case.bar.diameter - existing_bar(case).diameter - case["gap"] <= TOUCHING:
        return laps.BEHIND, "the pairs do not fit into one layer, so the new bars are taken to lie behind"
    return laps.SAME_LAYER, "the same layer is taken, which needs the longer lap"


def clear_of_pairs(case: DesignCase) -> float:
    """Return the clear distance between neighbouring laps [mm]."""
    spacing, phi, phi_ex = case["spacing"], case.bar.diameter, existing_bar(case).diameter
    if layer_of(case)[0] == laps.SAME_LAYER:
        return float(laps.clear_of_pairs_in_one_layer(s=spacing, phi=phi, phi_ex=phi_ex, s_l=case["gap"]))
    return float(laps.clear_of_pairs_behind(s=spacing, phi=phi, phi_ex=phi_ex))


def smallest_cover_of_lap(steps: DesignSteps) -> float:
    """Give what lies around the pairs and return the smallest cover that counts for the new bar (EN) [mm]."""
    case = steps.case
    bar, layer = existing_bar(case), layer_of(case)[0]
    steps.key("s", "spacing", "mm")
    steps.key("c", "cover", "mm")
    steps.key("s_l", "gap", "mm")
    steps.give("phi_ex", bar.diameter, "mm", case.origin("existing_bar"))
    same = layer == laps.SAME_LAYER
    formula = laps.clear_of_pairs_in_one_layer if same else laps.clear_of_pairs_behind
    steps.use(
        formula,
        f"Clear distance between neighbouring laps, {'bars side by side' if same else 'one bar behind the other'}",
    )
    if case["edge"] is None:
        return steps.use(laps.lap_cover, "Smallest cover that counts").value
    steps.key("c_edge", "edge", "mm")
    return steps.use(laps.lap_cover_edge, "Smallest cover that counts").value


# --- the existing bar ------------------------------------------------------------------------------------------------


def give_existing_force(steps: DesignSteps) -> None:
    """Give force, stress and, where its steel is known, strength of the existing bar."""
    case, bar = steps.case, existing_bar(steps.case)
    origin = case.origin("existing_bar")
    steps.give("A_ex", bar.stress_area, "mm²", origin.told("{}, area of the bar"))
    if case["existing_spacing"] is None:
        steps.give("s_ex", case["spacing"], "mm", case.origin("spacing").told("as that of the new bars: {}"))
    else:
        steps.key("s_ex", "existing_spacing", "mm")
    steps.use(laps.force_of_existing_bar, "Force that one existing bar takes over")
    steps.use(laps.stress_of_existing_bar, "Stress of the existing bar")
    if case.code == ACI:
        if case["existing_f_y"] is not None:
            steps.key("f_y_ex", "existing_f_y", "MPa", source="MPa")
            steps.use(laps.existing_bar_strength_aci, "Design yield force of the existing bar")
    elif case["existing_f_yk"] is not None:
        steps.key("f_yk_ex", "existing_f_yk", "MPa", source="MPa")
        steps.use(laps.existing_yield_strength, "Design yield strength of the existing bar")
        steps.use(laps.existing_bar_strength, "Design yield force of the existing bar")


def _of_existing(steps: DesignSteps, *shared: str) -> Steps:
    """Return a calculation of its own for the existing bar, which knows these values of the new one's."""
    case = steps.case
    scope = Steps(EMBEDMENT, case.mark, case.display)
    scope.carry(steps, *shared)
    scope.give("phi", existing_bar(case).diameter, "mm", case.origin("existing_bar"))
    sigma = steps.last("sigma_ex")
    # No length anchors more than yield; that the bar cannot carry the force is said by a check of its own.
    most = steps.known.get("f_yd_ex", STEELS[case.code][1])
    most = min(most, STEELS[case.code][1])
    if sigma.value > most:
        words = "all that the existing bar's steel carries"
        known = "f_yd_ex" in steps.known and steps.known["f_yd_ex"] == most
        scope.also("sigma_sd", steps.last("f_yd_ex") if known else Given(most, "MPa", Origin(case.code)), words)
    else:
        scope.put("sigma_sd", sigma)
    if case["existing_cover"] is None:
        own = case.origin("cover").told("cover of the existing bar not stated, as that of the new one: {}")
        scope.give("c", case["cover"], "mm", own)
    else:
        scope.give("c", case["existing_cover"], "mm", case.origin("existing_cover"))
    scope.use(laps.lap_cover, f"{_LEAD}smallest cover that counts", name=f"{_PART}c_d")
    return scope


def existing_lap_2004(steps: DesignSteps) -> ExistingLap:
    """Work the lap that the existing bar needs by itself, cast in, by EN 1992-1-1:2004."""
    case = steps.case
    give_existing_force(steps)
    scope = _of_existing(steps, "a_l", "f_ck", "alpha_ct", "gamma_C", "rho_1", "alpha_1", "alpha_3", "alpha_5")
    known = scope.known
    chain = en1992_2004.lap_chain(
        phi=known["phi"],
        f_ck=known["f_ck"],
        sigma_sd=known["sigma_sd"],
        rho_1=known["rho_1"],
        good_bond=case["bond"] == "good",
        c_d=known["c_d"],
        alpha_ct=known["alpha_ct"],
        gamma_C=known["gamma_C"],
    )
    reference = short.reference_lap_2004(**{name: chain.known[name] for name in short.reference_lap_2004.parameters})
    return _taken(steps, scope, chain, "l_0", reference, chain.known["l_0_min"])


def existing_lap_2023(steps: DesignSteps) -> ExistingLap:
    """Work the lap that the existing bar needs by itself, cast in, by EN 1992-1-1:2023."""
    give_existing_force(steps)
    scope = _of_existing(steps, "a_l", "f_ck", "k_lb", "k_cp")
    known = scope.known
    chain = en1992_2023.anchorage_chain(
        phi=known["phi"], f_ck=known["f_ck"], sigma_sd=known["sigma_sd"], c_d=known["c_d"], k_cp=known["k_cp"]
    )
    chain.use(en1992_2023.design_lap, "design lap length")
    at_435 = short.reference_lap_2023(
        **{name: known[name] for name in ("k_lb", "k_cp", "phi", "f_ck", "c_d")}, k_b_pi=1.0
    )
    # The law of the new bar has its length at 435 MPa of that bar: the existing one then has this many times as much.
    times = steps.known["N_ex"] / steps.force * steps.case.bar.stress_area / steps.known["A_ex"]
    return _taken(steps, scope, chain, "l_sd", at_435 * times**1.5, 15 * known["phi"])


def _taken(steps: DesignSteps, scope: Steps, chain: Steps, symbol: str, reference: float, least: float) -> ExistingLap:
    _take_existing(steps, scope, chain)
    length = scope.last(symbol)
    told = length.source.told("existing bar, with its lap length by {}")
    return ExistingLap(length, Given(reference, "mm", told), Given(least, "mm", told))


def _take_existing(steps: DesignSteps, scope: Steps, chain: Steps) -> None:
    """Take over what was worked for the existing bar; the new bar keeps its own cover."""
    scope.take(chain, part=_PART, lead=_LEAD)
    own = {symbol: steps.last(symbol) for symbol in ("c_d", "c_b") if symbol in steps.known}
    steps.take(scope)
    for symbol, given in own.items():
        steps.put(symbol, given)


def finish_lap(steps: DesignSteps, chain: Steps, existing: ExistingLap, own: str, embedment: Formula) -> float:
    """Carry a lap on to its embedment: the longer length of both bars, the wide gap, the end cover.

    Works in ``chain``.
    """
    case = steps.case
    chain.ask("s_l", steps.key("s_l", "gap", "mm").value)
    chain.ask("c_e", steps.key("c_e", "end_cover", "mm").value)
    lap = chain.use(laps.governing_lap, "lap length that serves both bars", l_0=chain.last(own), l_0_ex=existing.length)
    thin = Given(existing_bar(case).diameter, "mm", case.origin("existing_bar").told("{}, the thinner bar"))
    thinner: dict[str, Any] = {"phi": thin} if thin.value < chain.known["phi"] else {}
    # The gap at which a lap grows is the code's, or the approval's.
    by_approval = case["approval.gap_of_4_phi"]
    rule = en1992_2004.gap_extension_post_installed if by_approval else en1992_2004.gap_extension
    chain.use(rule, "lengthening for the gap between the lapped bars", **thinner)
    lengths: dict[str, Any] = {own: lap}
    return chain.use(embedment, "embedment that the lap needs", **lengths).value


# --- ACI 318-19 ------------------------------------------------------------------------------------------------------


def splice_of_sizes(
    steps: DesignSteps, chain: Steps, factors: list[tuple[str, float, str | Origin]], class_a: bool
) -> ExistingLap | None:
    """Work the splice of bars of two sizes in ``chain`` (25.5.2.2).

    Return what the existing bar needs, None where the sizes are one.
    """
    case, bar = steps.case, existing_bar(steps.case)
    phi, phi_ex = case.bar.diameter, bar.diameter
    splice = aci318_19.splice_class_a if class_a else aci318_19.splice_class_b
    name = f"length of the lap splice, Class {'A' if class_a else 'B'}"
    if math.isclose(phi, phi_ex, rel_tol=1e-9):
        chain.use(splice, name)
        return None
    scope = Steps(EMBEDMENT, case.mark, case.display)
    scope.carry(steps, "f_c", "s")
    scope.give("d_b", convert(phi_ex, "mm", "in"), "in", case.origin("existing_bar"))
    scope.give("K_tr", 0.0, "in", "not counted on; the code allows zero")
    if case["existing_f_y"] is None:
        scope.give("f_y", steps.known["f_y"], "psi", "not stated: as that of the new bar")
    else:
        scope.give("f_y", convert(case["existing_f_y"], "MPa", "psi"), "psi", case.origin("existing_f_y"))
    cover = "cover" if case["existing_cover"] is None else "existing_cover"
    scope.give("c", convert(case[cover], "mm", "in"), "in", case.origin(cover))
    if case["edge"] is not None:
        scope.carry(steps, "c_edge")
    scope.use(
        centre_cover if case["edge"] is None else centre_cover_edge,
        f"{_LEAD}smallest cover that counts",
        name=f"{_PART}c_b",
    )
    for symbol, value, said in factors:
        scope.give(symbol, value, "", said)
    known = scope.known
    other = aci318_19.development_chain(
        d_b=known["d_b"],
        f_y=known["f_y"],
        f_c=known["f_c"],
        c_b=known["c_b"],
        K_tr=0.0,
        **{symbol: value for symbol, value, _ in factors},
    )
    thinner = phi < phi_ex
    calculated = other.known["l_d_calc"]
    if not thinner:
        other.use(splice, name)
        calculated *= 1.0 if class_a else 1.3
    _take_existing(steps, scope, other)
    if thinner:
        chain.use(splice, name)
        chain.use(aci318_19.splice_of_two_sizes, "lap of two bar sizes", l_d_l=scope.last("l_d"))
    else:
        chain.use(
            aci318_19.splice_of_two_sizes, "lap of two bar sizes", l_st=scope.last("l_st"), l_d_l=chain.last("l_d")
        )
    # A thin existing bar yields before the new one: at the new bar's force its length would be longer in proportion.
    times = max(
        1.0,
        steps.known["f_y"]
        * case.bar.stress_area
        * steps.known["N_ex"]
        / (steps.force * known["f_y"] * bar.stress_area),
    )
    told = scope.last("l_st" if not thinner else "l_d").source.told("existing bar, with its length by {}")
    least = Given(convert(short.LEAST_ACI, "in", "mm"), "mm", f"12 in: {ACI}, 25.5.2.1")
    return ExistingLap(scope.last("l_d"), Given(convert(calculated * times, "in", "mm"), "mm", told), least)


def both_class_a(steps: DesignSteps) -> bool:
    """Whether the existing bar, too, has twice the area that its force requires (25.5.2.1)."""
    case = steps.case
    f_y = case["f_y"] if case["existing_f_y"] is None else case["existing_f_y"]
    return bool(steps.known["A_ex"] * f_y * steps.known["phi_t"] >= 2 * steps.known["N_ex"])


# --- strength when short ---------------------------------------------------------------------------------------------


def law_of_lap(steps: DesignSteps, law: bondlaw.BondLaw, existing: ExistingLap | None) -> bondlaw.BondLaw:
    """Return the law of the lap from that of the new bar.

    The existing bar limits length and force, and a void has a place.
    """
    case = steps.case
    position: Position = case["void_position"] or "unknown"
    where = {
        "mouth": "an empty ring at the mouth, as the job says: l_v - max(u, c_e) is bonded",
        "back": "the back of the hole, as the job says: l_v - u - c_e is bonded",
        "unknown": (
            "a place that is not stated (void_position): it counts as the back of the hole, l_v - u - c_e is bonded"
        ),
    }[position]
    steps.note("void_position", f"a short hole of this lap lacks its adhesive at {where}.")
    strength = None
    if "N_ex_Rd" in steps.known:
        each = steps.known["N_ex"] / steps.force
        strength = Given(
            steps.known["N_ex_Rd"] / each, "N", steps.last("N_ex_Rd").source.told("the existing bar yields: {}")
        )
    if existing is None:
        reference = law.reference
        return bondlaw.beside(
            law, l_ref=reference.last("l_ref"), l_min=reference.last("l_min"), N_y=strength, position=position
        )
    return bondlaw.beside(law, l_ref=existing.reference, l_min=existing.least, N_y=strength, position=position)


# --- checks ----------------------------------------------------------------------------------------------------------


def lap_checks(steps: DesignSteps) -> tuple[Check, ...]:
    """Judge the lap: the existing bar's steel.

    And by the EN codes the arrangement, the room, the covers and the links.
    """
    found = [_steel_check(steps)]
    if steps.case.code == ACI:
        return tuple(found)
    if steps.case["lap_arrangement"] is None:
        why = layer_of(steps.case)[1]
        found.append(
            owed(
                steps.case, "arrangement", f"how the lapped bars lie, same layer or behind ({why})", ["lap_arrangement"]
            )
        )
    return (*found, _pairs_check(steps), _cover_check(steps), *_transverse_checks(steps), *_thick_check(steps))


def _steel_check(steps: DesignSteps) -> Check:
    case, unit = steps.case, steps.case.display.force_unit
    steel = "existing_f_y" if case.code == ACI else "existing_f_yk"
    title = f"the existing bar {existing_bar(case).text} takes over the force (statics)"
    demand = convert(steps.known["N_ex"], "N", unit)
    missing = [name for name in (steel, "existing_spacing") if case[name] is None]
    if case[steel] is not None:
        advice = (
            "choose more and thinner new bars, each beside an existing one; what the old bars cannot take has no lap"
        )
        check = held_against(case, "existing", title, demand, convert(steps.known["N_ex_Rd"], "N", unit), unit, advice)
        if not missing or not check.passes:
            return check
    return owed(case, "existing", title, missing, demand=demand, unit=unit)


def _pairs_check(steps: DesignSteps) -> Check:
    case = steps.case
    least = steps.use(laps.least_clear_of_pairs, "Least clear distance between neighbouring laps", phi=_thicker(steps))
    title = "clear distance between neighbouring laps (2004: 8.7.2(3); from memory)"
    return held_against(
        case,
        "adjacent",
        title,
        in_length_unit(least.value, case),
        in_length_unit(steps.known["a_l"], case),
        case.display.length_unit,
        "space the bars further apart, or set the new bars behind the existing ones",
    )


def _thicker(steps: DesignSteps) -> Given:
    new, old = Given(steps.case.bar.diameter, "mm", steps.case.origin("bar")), steps.last("phi_ex")
    return new if new.value >= old.value else old


def _cover_check(steps: DesignSteps) -> Check:
    """The bond of a ribbed bar needs one diameter of cover (4.4.1.2, Table 4.2 of 2004; from memory)."""
    case, phi = steps.case, _thicker(steps).value
    title = "cover of both lapped bars, one diameter for their bond (2004: Table 4.2; from memory)"
    if case["existing_cover"] is None:
        return owed(
            case,
            "lap_cover",
            title,
            ["existing_cover"],
            demand=in_length_unit(phi, case),
            unit=case.display.length_unit,
        )
    cover = min(case["cover"], case["existing_cover"])
    advice = (
        "durability and fire may ask for more; where the old cover is too thin for its own bar, the lap cannot count"
        " on it"
    )
    return held_against(
        case,
        "lap_cover",
        title,
        in_length_unit(phi, case),
        in_length_unit(cover, case),
        case.display.length_unit,
        advice,
    )


def _transverse_checks(steps: DesignSteps) -> tuple[Check, ...]:
    case, share = steps.case, steps.case["percent_lapped"]
    thick = _thicker(steps)
    if thick.value < laps.TRANSVERSE_FROM_PHI or share < laps.TRANSVERSE_FROM_SHARE:
        return ()
    area = max(case.bar.stress_area, existing_bar(case).stress_area)
    unit = case.display.area_unit
    title = "transverse bars across the lap have the area of one lapped bar (2004: 8.7.4.1(3); from memory)"
    missing = [name for name in ("transverse_bar", "transverse_count") if case[name] is None]
    if missing:
        found = [owed(case, "transverse", title, missing, demand=convert(area, "mm²", unit), unit=unit)]
    else:
        steps.give("n_st", float(case["transverse_count"]), "pcs", case.origin("transverse_count"))
        steps.give("A_t", find_bar(case["transverse_bar"]).stress_area, "mm²", case.origin("transverse_bar"))
        there = steps.use(laps.transverse_area, "Area of the transverse bars across the lap").value
        advice = "lap fewer bars at one place, thinner ones, or where more transverse steel lies"
        found = [
            held_against(
                case, "transverse", title, convert(area, "mm²", unit), convert(there, "mm²", unit), unit, advice
            )
        ]
    if share > laps.LINKS_ABOVE_SHARE and steps.known["a_l"] <= laps.LINKS_BELOW_DIAMETERS * thick.value:
        title = (
            "transverse bars are links or U bars, with more than half lapped and pairs within 10 diameters (2004:"
            " 8.7.4.1(3); from memory)"
        )
        if case["transverse_links"] is None:
            found.append(owed(case, "links", title, ["transverse_links"]))
        else:
            found.append(
                allowed(
                    case,
                    "links",
                    title,
                    case["transverse_links"],
                    "lap half of the bars at most, or space the pairs further apart",
                )
            )
    return tuple(found)


def _thick_check(steps: DesignSteps) -> tuple[Check, ...]:
    case = steps.case
    if _thicker(steps).value <= laps.THICK:
        return ()
    title = "lap of a bar above 32 mm: at most 0.8 of its strength, or a section of 1 m (2004: 8.8(4); from memory)"
    stress, most = steps.known["sigma_sd"], laps.THICK_STRESS * steps.known["f_yd"]
    advice = "choose bars up to 32 mm, or leave the lap to a coupler"
    if stress <= most or (case["least_dimension"] is not None and case["least_dimension"] < laps.THICK_SECTION):
        unit = case.display.stress_unit
        return (
            held_against(case, "thick", title, convert(stress, "MPa", unit), convert(most, "MPa", unit), unit, advice),
        )
    if case["least_dimension"] is None:
        return (
            owed(
                case,
                "thick",
                title,
                ["least_dimension"],
                demand=in_length_unit(laps.THICK_SECTION, case),
                unit=case.display.length_unit,
            ),
        )
    section = in_length_unit(case["least_dimension"], case)
    return (
        held_against(
            case, "thick", title, in_length_unit(laps.THICK_SECTION, case), section, case.display.length_unit, advice
        ),
    )
