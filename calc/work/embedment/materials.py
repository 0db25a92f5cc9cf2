"""What the stated strengths of old and new concrete count for.

Tested after 28 days, in the structure, or the weaker of two.
"""

from __future__ import annotations

from calc.base.sheet import Check, Notice
from calc.files.design import TESTED
from calc.strength import materials
from calc.strength.codes import ACI, EN04, EN23
from calc.work.embedment.case import DEFAULTS, DesignCase
from calc.work.embedment.steps import DesignSteps, owed, owned

_LATER = {"alpha_ct": materials.later_tension_factor, "alpha_cc": materials.later_compression_factor}
_WHAT = {
    "alpha_ct": "Long-term factor on the tensile strength",
    "alpha_cc": "Long-term factor on the compressive strength",
}


def tested(case: DesignCase) -> bool:
    """Whether the strength was found on the structure, after 28 days."""
    return case["strength_from"] in TESTED


def give_concrete(steps: DesignSteps) -> None:
    """Give the characteristic strength of the old concrete (EN)."""
    if steps.case["in_situ_by"] == "strength":
        steps.key("f_ck_is", "f_ck", "MPa", source="MPa")
        steps.use(materials.strength_from_in_situ, "Characteristic strength, from that in the structure")
        return
    steps.key("f_ck", "f_ck", "MPa", source="MPa")


def give_gamma_C(steps: DesignSteps) -> None:
    """Give the partial factor for the old concrete, smaller where that makes up for a strength in situ."""
    steps.put("gamma_C", steps.case.default("gamma_C"))
    if steps.case["in_situ_by"] == "gamma_C":
        steps.put("gamma_C", steps.use(materials.partial_factor_in_situ, "Partial factor for a strength in situ"))


def give_long_term(steps: DesignSteps, name: str) -> None:
    """Give alpha_ct or alpha_cc (EN 1992-1-1:2004), smaller for a strength that was tested after 28 days."""
    case = steps.case
    steps.put(name, case.default(name))
    if tested(case):
        steps.put("k_t", case.default("k_t"))
        steps.put(name, steps.use(_LATER[name], f"{_WHAT[name]}, of concrete tested at a later age"))


def counted(case: DesignCase, code: str) -> tuple[float, float, float]:
    """Return f_ck [MPa], alpha_ct and gamma_C that the bond counts on, for a comparison of codes."""
    f_ck = case["f_ck"] if case["f_ck"] is not None else case["f_c"]
    if case["in_situ_by"] == "strength":
        f_ck = materials.strength_from_in_situ(f_ck_is=f_ck)
    own = case.code == code == EN04
    alpha_ct, gamma_C = (
        case.default(name).value if own else value for name, value in (("alpha_ct", 1.0), ("gamma_C", 1.5))
    )
    if code == EN04 and tested(case):
        k_t = DEFAULTS[EN04]["k_t"][0] if case["k_t"] is None else case["k_t"]
        alpha_ct = materials.later_tension_factor(k_t=k_t, alpha_ct=alpha_ct)
    if own and case["in_situ_by"] == "gamma_C":
        gamma_C = materials.partial_factor_in_situ(gamma_C=gamma_C)
    return f_ck, alpha_ct, gamma_C


def give_joint_concrete(steps: DesignSteps) -> None:
    """Give the strength that a joint counts on: that of the weaker concrete, where the new one's is known."""
    case, aci = steps.case, steps.case.code == ACI
    old, new, unit = ("f_c", "f_c_new", "psi") if aci else ("f_ck", "f_ck_new", "MPa")
    if case[new] is None:
        return
    steps.give(f"{old}_old", steps.last(old).value, unit, steps.last(old).origin)
    steps.key(new, new, unit, source="MPa")
    formula = materials.weaker_concrete_aci if aci else materials.weaker_concrete
    steps.use(formula, "Strength of the weaker concrete", name=f"joint.{old}")


def bond_of_approval(steps: DesignSteps) -> tuple[float | None, float | None]:
    """Give k_b, or the bond strength that the approval tabulates for this bar (EN 1992-1-1:2004); return both."""
    case = steps.case
    said = f"approval {case.approval}"
    row = case.tabulated_bond
    if row is None:
        return steps.give("k_b", case["approval.k_b"], "", case.origin("approval.k_b").told("{}: " + said)).value, None
    found = case.origin("approval.f_bd").told(f"{{}}: {said}, bar {case.bar.designation}, C{row[0]:g}, good bond")
    if case["gamma_C"] not in (None, 1.5) or case["in_situ_by"] == "gamma_C":
        steps.note(
            "gamma_C_table",
            "gamma_C changes nothing in the bond: the approval's table of f_bd has its partial factor inside.",
        )
    return None, steps.give("f_bd_tab", row[1], "MPa", found).value


def strength_checks(case: DesignCase) -> tuple[Check, ...]:
    """Ask what a tested strength is, and in a joint for that of the new concrete."""
    found = []
    if case.code != ACI and tested(case) and case["strength_is"] is None:
        title = f"what the strength from {case['strength_from']} is: in situ, or the class assessed from it"
        found.append(owed(case, "strength", title, ["strength_is"]))
    if case.use == "joint":
        key = "f_c_new" if case.code == ACI else "f_ck_new"
        if case[key] is None:
            found.append(
                owed(case, "joint_concrete", "the weaker concrete of the joint: strength of the new one", [key])
            )
    return tuple(found)


def strength_notices(case: DesignCase) -> list[Notice]:
    """Say which factor was used on a strength that was found in the structure."""
    if not tested(case):
        return []
    source = case["strength_from"]
    if case.code == ACI:
        return [
            owned(
                case,
                "strength_from",
                f"f'c from {source}: it has to be the specified strength that the results stand for (ACI 562; from"
                " memory).",
            )
        ]
    kind = {
        None: "taken as a class, the safe reading",
        "class": "the class assessed from it",
        "in situ": "characteristic in situ",
    }[case["strength_is"]]
    done = {
        None: "nothing makes up for the structure's against the specimens' strength",
        "strength": "f_ck,is is divided by 0.85 (EN 13791; from memory), and gamma_C is not reduced",
        "gamma_C": "gamma_C is multiplied by 0.85, not below 1.3 (A.2.3; from memory), and the strength is not raised",
    }[case["in_situ_by"]]
    if case.code == EN23:
        later = f"k_tc = {case.default('k_tc').value:g} in f_cd alone"
    else:
        later = f"k_t = {case.default('k_t').value:g} on alpha_ct and alpha_cc ({EN04}, 3.1.2(4))"
    told = later if case["strength_is"] == "class" else f"{later}; {done}"
    return [owned(case, "strength_from", f"strength from {source}, {kind}: {told}.")]
