"""The length that a bar group needs by the code of its job, from its force.

And the law of force against bonded length.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from calc.base.identity import DOSE
from calc.base.sheet import Given, Origin, result_of
from calc.base.units import convert
from calc.files.strict import tidy
from calc.fill.hole import bar_area
from calc.strength import aci318_19, en1992_2004, en1992_2023
from calc.strength.codes import ACI, EN04, EN23
from calc.strength.short import law as bondlaw
from calc.strength.statics import (
    centre_cover,
    centre_cover_edge,
    design_yield_strength,
    force_of_line,
    force_of_stress,
    lap_embedment_2023,
    required_bar_area_aci,
    shear_of_pitch,
    smallest_cover,
    smallest_cover_edge,
    splice_embedment,
    stress_of_force,
)
from calc.work.embedment import laps
from calc.work.embedment.case import DEFAULTS, DesignCase
from calc.work.embedment.materials import bond_of_approval, give_concrete, give_gamma_C, give_long_term
from calc.work.embedment.steps import DesignSteps


def cross_section(steps: DesignSteps) -> None:
    """Find the area of the bar, from its diameter or its table."""
    case, aci = steps.case, steps.case.code == ACI
    steps.give("phi", case.bar.diameter, "mm", case.origin("bar"))
    if case.bar.standard.area_from_diameter:
        steps.use(bar_area, "Cross-section of the bar")
        if aci:
            steps.give("A_s", convert(steps.known["A_s"], "mm²", "in²"), "in²", steps.last("A_s").origin)
        return
    origin = case.origin("bar").told("{}, area of the table")
    steps.give("A_s", case.bar.area, "mm²", origin)
    if aci:
        steps.give("A_s", tidy(convert(case.bar.area, "mm²", "in²")), "in²", origin)


def _force_and_stress(steps: DesignSteps) -> None:
    """EN: force and stress of the bar, from the force or, in a joint, from the stress that is counted on."""
    case = steps.case
    steps.key("f_yk", "f_yk", "MPa", source="MPa")
    steps.put("gamma_S", case.default("gamma_S"))
    steps.use(design_yield_strength, "Design yield strength of the steel")
    if case["force_per_length"] is not None:
        steps.key("q_Ed", "force_per_length", "N/mm", source="N/m")
        steps.key("s", "spacing", "mm")
    if case.use == "joint":
        counted = case["bar_stress"]
        if counted is None:
            steps.give(
                "sigma_sd",
                steps.known["f_yd"],
                "MPa",
                steps.last("f_yd").source.told("{}: the joint counts on the yield strength"),
            )
        else:
            steps.key("sigma_sd", "bar_stress", "MPa", source="MPa")
        steps.use(force_of_stress, "Force that the joint's bar is anchored for")
        return
    if case["force"] is not None:
        steps.key("N_Ed", "force", "N", source="N")
    else:
        steps.use(force_of_line, "Design force of one bar")
    steps.use(stress_of_force, "Design stress of the bar")


def _smallest_cover(steps: DesignSteps) -> float:
    case, aci = steps.case, steps.case.code == ACI
    unit = "in" if aci else "mm"
    steps.key("s", "spacing", unit)
    steps.key("c", "cover", unit)
    if case["edge"] is not None:
        steps.key("c_edge", "edge", unit)
        return steps.use(centre_cover_edge if aci else smallest_cover_edge, "Smallest cover that counts").value
    return steps.use(centre_cover if aci else smallest_cover, "Smallest cover that counts").value


def length_2004(steps: DesignSteps) -> tuple[float, float]:
    """Return required embedment and smallest cover [mm] by EN 1992-1-1:2004."""
    case, lap = steps.case, steps.case.use == "lap"
    _force_and_stress(steps)
    c_d = laps.smallest_cover_of_lap(steps) if lap else _smallest_cover(steps)
    give_concrete(steps)
    give_gamma_C(steps)
    give_long_term(steps, "alpha_ct")
    said = f"approval {case.approval}"
    k_b, f_bd_tab = bond_of_approval(steps)
    alpha_lb = steps.give(
        "alpha_lb", case["approval.alpha_lb"], "", case.origin("approval.alpha_lb").told("{}: " + said)
    ).value
    straight = "straight bar, no transverse bars or pressure counted on"
    for name in ("alpha_1", "alpha_3", "alpha_5"):
        steps.give(name, 1.0, "", straight)
    common: dict[str, Any] = {
        "phi": case.bar.diameter,
        "f_ck": steps.known["f_ck"],
        "sigma_sd": steps.known["sigma_sd"],
        "good_bond": case["bond"] == "good",
        "c_d": c_d,
        "alpha_ct": steps.known["alpha_ct"],
        "gamma_C": steps.known["gamma_C"],
        "k_b": k_b,
        "f_bd_tab": f_bd_tab,
        "alpha_lb": alpha_lb,
    }
    if lap:
        rho_1 = steps.give("rho_1", case["percent_lapped"], "%", case.origin("percent_lapped")).value
        steps.existing = laps.existing_lap_2004(steps)
        chain = en1992_2004.lap_chain(rho_1=rho_1, **common)
        laps.finish_lap(steps, chain, steps.existing, "l_0", en1992_2004.lap_embedment)
    else:
        chain = en1992_2004.anchorage_chain(compression=bool(case["compression"]), **common)
    steps.take(chain)
    steps.length = chain
    return chain.value, c_d


def length_2023(steps: DesignSteps) -> tuple[float, float]:
    """Return required embedment and smallest cover [mm] by EN 1992-1-1:2023."""
    case, lap = steps.case, steps.case.use == "lap"
    _force_and_stress(steps)
    c_d = laps.smallest_cover_of_lap(steps) if lap else _smallest_cover(steps)
    give_concrete(steps)
    said = f"approval {case.approval}"
    k_b_pi = steps.give("k_b_pi", case["approval.k_b_pi"], "", case.origin("approval.k_b_pi").told("{}: " + said)).value
    alpha_lb = steps.give(
        "alpha_lb", case["approval.alpha_lb"], "", case.origin("approval.alpha_lb").told("{}: " + said)
    ).value
    steps.give("k_lb", 50.0, "", f"{EN23}, 11.4.2(3): persistent and transient situations")
    k_cp = 1.0 if case["bond"] == "good" else 1.2
    steps.give("k_cp", k_cp, "", case.origin("bond").told(f"{EN23}, 11.4.2: {case['bond']} bond condition ({{}})"))
    if lap:
        steps.existing = laps.existing_lap_2023(steps)
    chain = en1992_2023.post_installed_chain(
        phi=case.bar.diameter,
        f_ck=steps.known["f_ck"],
        sigma_sd=steps.known["sigma_sd"],
        c_d=c_d,
        k_b_pi=k_b_pi,
        alpha_lb=alpha_lb,
        k_cp=k_cp,
        lap=lap,
    )
    if steps.existing is not None:
        laps.finish_lap(steps, chain, steps.existing, "l_sd_pi", lap_embedment_2023)
    steps.take(chain)
    steps.length = chain
    if case["gamma_C"] not in (None, 1.5) and case.use != "joint":
        steps.note(
            "gamma_C",
            f"gamma_C = {case['gamma_C']:g} changes nothing here: formula (11.3) of {EN23} has the factor 1.5 inside"
            " its coefficient.",
        )
    return chain.value, c_d


def length_aci(steps: DesignSteps) -> tuple[float, float]:
    """Return required embedment and smallest cover [mm] by ACI 318-19."""
    case = steps.case
    _factored_force(steps)
    steps.give("d_b", tidy(convert(case.bar.diameter, "mm", "in")), "in", case.origin("bar"))
    c_b = _smallest_cover(steps)
    steps.key("f_c", "f_c", "psi", source="MPa")
    factors = {name: steps.give(name, value, "", said).value for name, value, said in aci_factors(case)}
    chain = aci318_19.development_chain(
        d_b=steps.known["d_b"], f_y=steps.known["f_y"], f_c=steps.known["f_c"], c_b=c_b, K_tr=0.0, **factors
    )
    steps.give("K_tr", 0.0, "in", "not counted on; the code allows zero")
    if case.use == "anchorage" and case["excess_reduction"]:
        chain.put("A_req", steps.last("A_req"))
        chain.put("A_prov", steps.last("A_s"))
        # The reduced length takes the place of the full one: its symbol is the same.
        chain.drop(aci318_19.least_development)
        chain.use(aci318_19.reduced_development, "development length, reduced by the force")
        chain.note(
            "excess_reduction",
            "the development length is shortened for the force (ACI 318-19, 25.4.10): not allowed where the bar must"
            " reach its yield strength",
        )
    if case.use == "lap":
        laps.give_existing_force(steps)
        bar = laps.existing_bar(case)
        f_y = case["f_y"] if case["existing_f_y"] is None else case["existing_f_y"]
        steps.existing = laps.splice_of_sizes(steps, chain, aci_factors(case, bar.diameter, f_y), class_a(steps))
    steps.take(chain)
    steps.length = chain
    if case.use != "lap":
        return convert(chain.value, "in", "mm"), convert(c_b, "in", "mm")
    steps.key("c_e", "end_cover", "in")
    steps.put("l_st", steps.last(chain.links[-1].symbol))
    return convert(steps.use(splice_embedment, "Embedment that the lap splice needs").value, "in", "mm"), convert(
        c_b, "in", "mm"
    )


def _factored_force(steps: DesignSteps) -> None:
    case = steps.case
    steps.key("f_y", "f_y", "psi", source="MPa")
    steps.put(
        "phi_t",
        (
            case.default("phi_t")
            if case.use != "joint"
            else Given(*DEFAULTS[ACI]["phi_t"][:1], "", DEFAULTS[ACI]["phi_t"][1])
        ),
    )
    if case["force_per_length"] is not None:
        steps.key("q_Ed", "force_per_length", "lbf/in", source="N/m")
        steps.key("s", "spacing", "in")
    if case.use == "joint":
        strength = steps.known["phi_t"] * steps.known["f_y"] * steps.known["A_s"]
        steps.give("N_Ed", strength, "lbf", f"{ACI}, 22.9.5.1 (from memory): bars of a joint are developed for f_y")
        return
    if case["force"] is not None:
        steps.key("N_Ed", "force", "lbf", source="N")
    else:
        label = "Factored force of one bar"
        steps.use(shear_of_pitch, label, symbol="N_Ed")
    steps.use(required_bar_area_aci, "Bar area that the force requires")


def aci_factors(
    case: DesignCase, existing: float | None = None, strength: float | None = None
) -> list[tuple[str, float, str | Origin]]:
    """Return the factors of the development length: name, value, and why.

    Parameters
    ----------
    case
        The bar group.
    existing, strength
        Diameter [mm] and yield strength [MPa] of the uncoated bar in the old concrete, for its own length.
    """
    phi, top = case.bar.diameter if existing is None else existing, case["bond"] == "poor"
    coated = case["coating"] == "epoxy" and existing is None
    close = case["cover"] < 3 * phi or case["spacing"] - phi < 6 * phi
    f_y = convert(case["f_y"] if strength is None else strength, "MPa", "psi")
    # Grades are named in rounded numbers: 420 MPa is Grade 60 although it is 60 915 psi.
    grade = 1.0 if f_y <= 60000 * 1.02 else 1.15 if f_y <= 80000 * 1.02 else 1.3
    small = phi <= 0.75 * 25.4 * (1 + 1e-9)
    fresh = "as with" if top else "not"
    why = "cover below 3 d_b or clear spacing below 6 d_b" if close else "cover and clear spacing wide"
    return [
        (
            "psi_t",
            1.3 if top else 1.0,
            case.origin("bond").told(f"{ACI}, Table 25.4.2.5: {fresh} more than 12 in of fresh concrete below ({{}})"),
        ),
        (
            "psi_e",
            (1.5 if close else 1.2) if coated else 1.0,
            f"{ACI}, Table 25.4.2.5: {'epoxy-coated, ' + why if coated else 'uncoated or zinc-coated'}",
        ),
        ("psi_s", 0.8 if small else 1.0, f"{ACI}, Table 25.4.2.5: {'up to No. 6' if small else 'above No. 6'}"),
        ("psi_g", grade, f"{ACI}, Table 25.4.2.5: f_y = {f_y:.6g} psi"),
        (
            "lambda_",
            0.75 if case["lightweight"] else 1.0,
            f"{ACI}, 25.4.2.5: {'lightweight' if case['lightweight'] else 'normal-weight'} concrete",
        ),
    ]


def class_a(steps: DesignSteps) -> bool:
    """Class A: twice the steel that the force requires in both bars, and at most half of them spliced (25.5.2.1)."""
    return (
        steps.known["A_s"] >= 2 * steps.known["A_req"]
        and laps.both_class_a(steps)
        and steps.case["percent_lapped"] <= 50
    )


def law_of(steps: DesignSteps) -> bondlaw.BondLaw:
    """Return force against bonded length, by the code of the length."""
    law = replace(_law_of_bar(steps), display=steps.case.display)
    return laps.law_of_lap(steps, law, steps.existing) if steps.case.use == "lap" else law


def _law_of_bar(steps: DesignSteps) -> bondlaw.BondLaw:
    case, chain = steps.case, steps.length
    area = None if case.bar.standard.area_from_diameter else case.bar.area
    if case.code == EN04:
        return bondlaw.law_2004(chain=chain, f_yd=steps.known["f_yd"], A_s=area)
    if case.code == EN23:
        law = bondlaw.law_2023(
            chain=chain, f_yd=steps.known["f_yd"], c_e=case["end_cover"] if case.use == "lap" else 0.0, A_s=area
        )
        if case.use == "lap":
            law.reference.choose("delta_l", steps.known["delta_l"], steps.last("delta_l").origin)
        return law
    kind: Any = "none"
    # Of two sizes the thinner bar is spliced and the thicker one developed.
    if case.use == "lap" and case.bar.diameter <= laps.existing_bar(case).diameter * (1 + 1e-9):
        kind = "A" if class_a(steps) else "B"
    law = bondlaw.law_aci(
        chain=chain,
        splice=kind,
        phi_t=steps.known["phi_t"],
        c_e=case["end_cover"] if case.use == "lap" else 0.0,
        A_s=area,
    )
    law.reference.choose("l_min", tidy(law.reference.known["l_min"]), law.reference.last("l_min").origin)
    return law


def given_of_short(steps: DesignSteps) -> None:
    """Give what strength when short starts from."""
    case = steps.case
    steps.give("d_0", case.hole_diameter, "mm", case.origin("hole_diameter"))
    steps.give("l_v", case.embedment, "mm", case.origin("embedment"))
    steps.give("V_req", case.required_volume, "mm³", result_of(DOSE, case.mark, "V_req"))
    steps.give("V_short", 1000.0, "mm³", "a little missing, to show what it costs")
    if case.code == ACI:
        steps.key("f_y", "f_y", "MPa", source="MPa")
        steps.give("A_s", case.bar.stress_area, "mm²", steps.last("A_s").origin)
        steps.give("N_Ed", convert(steps.known["N_Ed"], "lbf", "N"), "N", steps.last("N_Ed").origin)
    if case.use == "lap":
        steps.key("c_e", "end_cover", "mm")
