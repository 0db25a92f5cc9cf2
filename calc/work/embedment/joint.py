"""The shear across a joint that a bar group has to carry, and how far apart spliced bars may lie."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from calc.base.bars import find_bar
from calc.base.collector import Steps
from calc.base.display import plain_text
from calc.base.identity import EMBEDMENT
from calc.base.maths import min
from calc.base.sheet import Check, Given
from calc.base.units import convert
from calc.strength import en1992_2004, interface
from calc.strength.codes import ACI, EN04, EN23
from calc.strength.statics import (
    design_compressive_strength,
    design_compressive_strength_2023,
    design_shear_friction,
    joint_area_of_pitch,
    joint_bar_ratio,
    joint_steel_of_pitch,
    joint_stress,
    row_width,
    shear_of_pitch,
    spacing_of_shear_aci,
)
from calc.work.embedment.materials import give_joint_concrete, give_long_term
from calc.work.embedment.steps import DesignSteps, in_length_unit, rounded_down, titled

_MOST_F_Y = 60000.0  # psi; the formulas of shear friction hold it inside


@dataclass(frozen=True)
class Joint:
    """Shear across a joint: stresses [MPa], spacings [mm]; None where no bars are needed or none would do."""

    demand: float
    resistance: float
    ratio: float
    spacing_needed: float | None


def joint_of(steps: DesignSteps) -> tuple[Joint | None, tuple[Check, ...]]:
    """Work the shear across a joint; for a lap by ACI, the distance of its bars."""
    if steps.case.use == "lap" and steps.case.code == ACI:
        return None, (_gap_check(steps),)
    if steps.case.use != "joint":
        return None, ()
    return _joint_aci(steps) if steps.case.code == ACI else _joint_en(steps)


def _gap_check(steps: DesignSteps) -> Check:
    """Spliced bars that do not touch may not lie further apart than a fifth of the lap or 6 in (25.5.1.3.

    From memory).
    """
    case = steps.case
    apart = case["gap"] + (case.bar.diameter + find_bar(case["existing_bar"]).diameter) / 2
    most = min(convert(steps.known["l_st"], "in", "mm") / 5, 6 * 25.4)
    return Check.compare(
        notebook=EMBEDMENT,
        mark=case.mark,
        name="gap",
        group=titled(case),
        title="centre distance of the spliced bars (ACI 318-19, 25.5.1.3; from memory)",
        demand=in_length_unit(apart, case),
        resistance=in_length_unit(most, case),
        unit=case.display.length_unit,
        advice=(
            f"drill closer to the existing bar: at most {case.display.amount(most, 'mm', 4)} between the bars' centres"
        ),
    )


def _joint_en(steps: DesignSteps) -> tuple[Joint, tuple[Check, ...]]:
    case, old = steps.case, steps.case.code == EN04
    steps.key("b_j", "joint_width", "mm")
    steps.key("s", "spacing", "mm")
    steps.give(
        "n_r",
        float(case["bar_rows"] or 1),
        "pcs",
        case.origin("bar_rows") if case["bar_rows"] else "not given: one row",
    )
    demand = steps.use(joint_stress, "Shear stress in the joint", symbol=None if old else "tau_Edi")
    s_1 = steps.use(row_width, "Spacing of the bars across the joint")
    rho = steps.use(joint_bar_ratio, "Area of bars per area of joint", s_1=s_1, s_2=steps.last("s"))
    sigma_n = _normal(steps)
    # The factor holds for the new concrete as well: what makes up for a strength in situ does not reduce it here.
    steps.put("gamma_C", case.default("gamma_C"))
    concrete = steps.last("f_ck")
    give_joint_concrete(steps)
    steel = steps.last("f_yd")
    counted = steps.last("sigma_sd").source.told("stress counted on in the joint: {}")
    f_yd = steps.give("f_yd", steps.known["sigma_sd"], "MPa", counted).value
    steps.give("alpha", 90.0, "°", "holes perpendicular to the joint")
    f_ck, tau = steps.known["f_ck"], demand.value
    if old:
        f_cd, f_ctd = _strengths_2004(steps)
        nu = steps.use(interface.strength_reduction, "Strength reduction of cracked concrete").value
        c, mu = interface.SURFACES_2004[case["surface"]]
        row = case.origin("surface").told(f"{EN04}, 6.2.5(2): {case['surface']} surface ({{}})")
        steps.give("c_adh", c, "", row)
        steps.give("mu", mu, "", row)
        given: dict[str, Any] = {
            "c": c,
            "f_ctd": f_ctd,
            "mu": mu,
            "sigma_n": sigma_n,
            "f_yd": f_yd,
            "alpha": 90.0,
            "nu": nu,
            "f_cd": f_cd,
        }
        chain = interface.en1992_chain(rho=rho.value, **given)
        formula = interface.required_bar_ratio_in_tension if sigma_n < 0 else interface.required_bar_ratio
    else:
        steps.put("k_tc", case.default("k_tc"))
        f_cd = steps.use(design_compressive_strength_2023, "Design compressive strength of the concrete").value
        c, mu = interface.SURFACES_2023[case["surface"]]
        row = case.origin("surface").told(f"{EN23}, Table 8.2: {case['surface']} surface ({{}})")
        steps.give("c_v1", c, "", row)
        steps.give("mu_v", mu, "", row)
        given = {
            "c_v1": c,
            "mu_v": mu,
            "f_ck": f_ck,
            "gamma_C": steps.known["gamma_C"],
            "sigma_n": sigma_n,
            "f_yd": f_yd,
            "alpha": 90.0,
            "f_cd": f_cd,
        }
        chain = interface.en1992_2023_chain(rho=rho.value, **given)
        formula = interface.required_bar_ratio_in_tension_2023 if sigma_n < 0 else interface.required_bar_ratio_2023
    steps.take(chain)
    # The joint alone may count on less steel, and on another concrete.
    steps.put("f_yd", steel)
    limit = chain.known["v_Rdi_max" if old else "tau_Rdi_max"]
    spacing = None
    advice = "only a larger joint or stronger concrete helps: the concrete's own limit is passed, whatever the bars"
    if tau <= limit:
        needed = steps.use(
            formula, "Area of bars per area of joint that the shear needs", f_yd=Given(f_yd, "MPa", counted)
        ).value
        if needed > 1e-6:
            spacing = steps.use(interface.bar_spacing, "Spacing of these bars that follows", s_1=s_1).value
            advice = f"set these bars at {rounded_down(spacing, case)} or closer, or choose larger ones"
    steps.put("f_ck", concrete)
    steps.note(
        "joint_other_side",
        "the joint's bars must be anchored for the same force on the other side of the joint as well.",
    )
    check = Check.compare(
        notebook=EMBEDMENT,
        mark=case.mark,
        name="joint",
        group=titled(case),
        title=f"shear across the joint ({case['surface']})",
        demand=convert(tau, "MPa", case.display.stress_unit),
        resistance=convert(chain.value, "MPa", case.display.stress_unit),
        unit=case.display.stress_unit,
        advice=advice,
    )
    return Joint(tau, chain.value, rho.value, spacing), (check,)


def _normal(steps: DesignSteps) -> float:
    case = steps.case
    if case["normal_stress"] is None:
        return steps.give("sigma_n", 0.0, "MPa", "not given: no normal stress is counted on").value
    return steps.key("sigma_n", "normal_stress", "MPa", source="MPa").value


def _strengths_2004(steps: DesignSteps) -> tuple[float, float]:
    f_ck = steps.known["f_ck"]
    for name in ("alpha_cc", "alpha_ct"):
        give_long_term(steps, name)
    f_cd = steps.use(design_compressive_strength, "Design compressive strength of the concrete").value
    tension = Steps(f_ck=f_ck, alpha_ct=steps.known["alpha_ct"], gamma_C=steps.known["gamma_C"])
    mean = en1992_2004.mean_tensile_strength if f_ck <= 50 else en1992_2004.mean_tensile_strength_high
    tension.use(mean, "Mean tensile strength")
    tension.use(en1992_2004.characteristic_tensile_strength, "Characteristic tensile strength")
    tension.use(en1992_2004.design_tensile_strength, "Design tensile strength")
    # Where bond and joint count on the same concrete, these are the anchorage's own steps.
    bond = steps.length.known
    same = all(math.isclose(tension.known[name], bond[name], rel_tol=1e-9) for name in ("f_ck", "alpha_ct", "gamma_C"))
    steps.take(tension, part="" if same else "joint.")
    return f_cd, tension.value


def _joint_aci(steps: DesignSteps) -> tuple[Joint, tuple[Check, ...]]:
    case, surface = steps.case, steps.case["surface"]
    steps.key("b_j", "joint_width", "in")
    steps.key("s", "spacing", "in")
    steps.give(
        "n_r",
        float(case["bar_rows"] or 1),
        "pcs",
        case.origin("bar_rows") if case["bar_rows"] else "not given: one row",
    )
    steps.give(
        "mu",
        interface.SURFACES_ACI[surface],
        "",
        case.origin("surface").told(f"{ACI}, Table 22.9.4.2: {surface} ({{}})"),
    )
    steps.put("phi_v", case.default("phi_v"))
    if steps.known["f_y"] > _MOST_F_Y:
        steps.note(
            "f_y_counted",
            f"f_y = {plain_text(steps.known['f_y'], 6)} psi counts as {_MOST_F_Y:.0f} psi in shear friction (22.9.1.3;"
            " from memory).",
        )
    concrete = steps.last("f_c")
    give_joint_concrete(steps)
    V_u = steps.use(shear_of_pitch, "Factored shear on one spacing of the bars")
    A_c = steps.use(joint_area_of_pitch, "Area of joint of one spacing")
    A_prov = steps.use(joint_steel_of_pitch, "Area of bars of one spacing")
    steps.give("A_vf", A_prov.value, "in²", A_prov.origin)
    steps.use(interface.aci318_shear_friction, "Nominal shear friction strength")
    limit = interface.aci318_limit_other if surface == "not roughened" else interface.aci318_limit_roughened
    V_max = steps.use(limit, "Limit of the nominal strength")
    V_d = steps.use(design_shear_friction, "Design shear friction strength")
    spacing = None
    advice = "only a larger joint or stronger concrete helps: the concrete's own limit is passed, whatever the bars"
    if case["normal_stress"]:
        steps.note(
            "normal_stress",
            "normal_stress is not counted on in shear friction here; net tension across the joint needs bars of its own"
            " (22.9.4.5; from memory).",
        )
    if V_u.value <= steps.known["phi_v"] * V_max.value:
        steps.use(interface.aci318_required_area, "Area of bars that the shear needs", symbol="A_req")
        spacing = convert(steps.use(spacing_of_shear_aci, "Spacing of these bars that follows").value, "in", "mm")
        advice = f"set these bars at {rounded_down(spacing, case)} or closer, or choose larger ones"
    steps.put("f_c", concrete)
    check = Check.compare(
        notebook=EMBEDMENT,
        mark=case.mark,
        name="joint",
        group=titled(case),
        title=f"shear across the joint on one spacing of bars ({surface})",
        demand=convert(V_u.value, "lbf", case.display.force_unit),
        resistance=convert(V_d.value, "lbf", case.display.force_unit),
        unit=case.display.force_unit,
        advice=advice,
    )
    area = A_c.value
    demand, resistance = (convert(v / area, "psi", "MPa") for v in (V_u.value, V_d.value))
    return Joint(demand, resistance, A_prov.value / area, spacing), (check,)
