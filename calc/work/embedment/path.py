"""What takes a bar's force in the old concrete: each load path asks for what it needs; its word alone is not enough."""

from __future__ import annotations

from dataclasses import dataclass

from calc.base.identity import EMBEDMENT
from calc.base.sheet import Check, Notice
from calc.base.units import convert
from calc.files.loadpath import PATH_WORDS
from calc.files.strict import tidy
from calc.strength.codes import ACI
from calc.strength.statics import end_support_tie, least_support_steel
from calc.work.embedment.case import DesignCase
from calc.work.embedment.steps import DesignSteps, allowed, held_against, in_length_unit, owed, owned

LEAST_AGE = 21.0  # days
# Share of the span's bars that an end support has to have.
_SHARE = {
    False: (
        0.25,
        "EN 1992-1-1, 9.2.1.4(1) of 2004: recommended value for beams (slabs: half, 9.3.1.2(1); from memory)",
    ),
    True: (1 / 3, "ACI 318-19, 9.7.3.8.1: simple supports (from memory)"),
}


def in_force_unit(value: float, case: DesignCase) -> float:
    """Convert a force [N] to the unit in which forces are shown."""
    return tidy(convert(value, "N", case.display.force_unit))


# --- the load path ----------------------------------------------------------------------------------------------------


def path_checks(steps: DesignSteps, required: float) -> tuple[Check, ...]:
    """Judge the load path of a bar that is developed or lapped; ``required`` is its embedment by the code [mm]."""
    case = steps.case
    if not case.path:
        return (owed(case, "force_path", "what takes the force in the old concrete", ["force_path"]),)
    if case.path == "compression":
        advice = "state compression = true where that is so for every action, or what takes the tension"
        return (
            allowed(
                case,
                "compression",
                "the bar is in compression alone, as its load path says",
                bool(case["compression"]),
                advice,
            ),
        )
    if case.path == "tension_line" and case["tension_line_by"] is None:
        return (owed(case, "tension_line", "the member's own truss and links take the force", ["tension_line_by"]),)
    return _end_support(steps, required) if case.path == "end_support" else ()


def _end_support(steps: DesignSteps, required: float) -> tuple[Check, ...]:
    case = steps.case
    found, unit = [], case.display.force_unit
    title = "force of the bar against the strut from the support, V_Ed a_l/z (2004: 9.2.1.4(2); from memory)"
    if missing := [name for name in ("support_shear", "shift_ratio") if case[name] is None]:
        found.append(owed(case, "support_tie", title, missing))
    else:
        steps.key("V_sup", "support_shear", "N", source="N")
        steps.give("a_l_z", case["shift_ratio"], "", case.origin("shift_ratio"))
        tie = steps.use(end_support_tie, "Tie force of the strut from the support").value
        advice = "design the bar for this force, and for the axial force of the member beside it"
        found.append(
            held_against(
                case, "support_tie", title, in_force_unit(tie, case), in_force_unit(steps.force, case), unit, advice
            )
        )
    share, said = _SHARE[case.code == ACI]
    title = f"bar against {share:.3g} of the span's bars ({said.split(':')[0]}; from memory)"
    if case["span_steel"] is None:
        found.append(owed(case, "support_steel", title, ["span_steel"]))
    else:
        area = case.display.area_unit
        steps.give("beta_sup", share, "", said)
        steps.key("A_span", "span_steel", "mm²", source="mm²")
        least = steps.use(least_support_steel, "Least area of the bar at the support").value
        resistance = convert(case.bar.stress_area, "mm²", area)
        found.append(
            held_against(
                case,
                "support_steel",
                title,
                convert(least, "mm²", area),
                resistance,
                area,
                "more or larger bars at the support",
            )
        )
    title = "length bonded beyond the support's face, where the strut meets the bar"
    if case["support_face"] is None:
        found.append(owed(case, "support_length", title, ["support_face"]))
    else:
        there = case.embedment - case["support_face"]
        advice = "drill deeper: what lies before the support's face does not count"
        found.append(
            held_against(
                case,
                "support_length",
                title,
                in_length_unit(required, case),
                in_length_unit(there, case),
                case.display.length_unit,
                advice,
            )
        )
    return tuple(found)


# --- what a standard demands of the work ------------------------------------------------------------------------------


def site_checks(case: DesignCase) -> tuple[Check, ...]:
    """Judge age of the concrete, installer and inspection where the code of the job demands them (ACI 318-19)."""
    if case.code != ACI:
        return ()
    title = "age of the concrete when the adhesive goes in (ACI 318-19, 17.2.2)"
    if case["concrete_age"] is None:
        found = [owed(case, "age", title, ["concrete_age"], demand=LEAST_AGE, unit="d")]
    else:
        found = [
            held_against(
                case,
                "age",
                title,
                LEAST_AGE,
                case["concrete_age"],
                "d",
                "wait: bond in younger concrete is not covered",
            )
        ]
    if case.direction == "down" or case["compression"] or case["alpha_sus"] == 0:
        return tuple(found)
    hole = "horizontal" if case.direction == "horizontal" else "overhead"
    assumed = " (all of it assumed sustained)" if case["alpha_sus"] is None else ""
    for name, key, what, clause in (
        ("installer", "certified_installer", "certified installer", "26.7"),
        ("inspection", "continuous_inspection", "continuous inspection", "26.13"),
    ):
        title = f"{what} for a hole that is {hole} and holds sustained tension{assumed} (ACI 318-19, {clause})"
        if case[key] is None:
            found.append(owed(case, name, title, [key]))
        else:
            found.append(allowed(case, name, title, case[key], "the documents have to call for it"))
    return tuple(found)


# --- what is done elsewhere -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Closed:
    """Checks of a case without those that somebody does elsewhere, and the sentences that page 1 then carries."""

    checks: tuple[Check, ...]
    outside: tuple[Notice, ...]
    notices: tuple[Notice, ...]


def by_reference(case: DesignCase, checks: tuple[Check, ...]) -> Closed:
    """Take out the owed checks that the job file gives to others by name; what was judged here stays.

    Parameters
    ----------
    case
        The bar group.
    checks
        All its checks.

    Returns
    -------
    Closed
    """
    reasons = dict(case["elsewhere"] or ())
    taken = {check.name: check for check in checks if check.verdict == "owed" and check.name in reasons}
    outside = [
        _told(case, f"elsewhere.{name}", f"not judged here: {check.what}. Reference: {_ended(reasons[name])}")
        for name, check in taken.items()
    ]
    if case.path == "tension_line" and case["tension_line_by"] is not None:
        outside.append(
            _told(case, "tension_line", f"{PATH_WORDS['tension_line']}: shown by {_ended(case['tension_line_by'])}")
        )
    idle = [name for name in reasons if name not in taken] if case.origin("elsewhere").general else []
    notices = [
        owned(
            case,
            f"elsewhere.{name}",
            f"elsewhere.{name} closes nothing: that check was judged here, or does not belong to this case.",
        )
        for name in idle
    ]
    return Closed(tuple(check for check in checks if check.name not in taken), tuple(outside), tuple(notices))


def _told(case: DesignCase, name: str, text: str) -> Notice:
    return Notice(EMBEDMENT, case.mark, name, text)


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def not_designed(mark: str) -> Notice:
    """Say of a bar group that it has no force, so that nothing was designed."""
    text = (
        "not designed, because no force is given: its embedment is as the schedule says, and what takes its force is"
        " not known."
    )
    return Notice(EMBEDMENT, mark, "no_force", text)
