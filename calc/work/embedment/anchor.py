"""A bar that concrete in tension holds, designed as an anchor by EN 1992-4 or ACI 318-19, chapter 17.

The resistance of the bars that pull together meets their force; the steel meets the most loaded bar's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from calc.base.display import plain_text
from calc.base.identity import EMBEDMENT
from calc.base.sheet import Check, Given, Notice, Sheet
from calc.strength import aci318_19_17 as aci
from calc.strength import en1992_4 as en
from calc.strength.anchors import NOT_COVERED, TAU
from calc.strength.codes import ACI
from calc.strength.statics import force_of_line, shear_of_pitch
from calc.work.embedment.case import DesignCase, Designed
from calc.work.embedment.checks import approval_checks, hole_checks, notices_of_concrete
from calc.work.embedment.length import cross_section
from calc.work.embedment.modes import MODES, Lay, ModesAci, ModesEn, lay_of, mode_words
from calc.work.embedment.path import by_reference, site_checks
from calc.work.embedment.steps import DesignSteps, allowed, owned

ANCHORS_OF = {True: aci.ACI17 + ", chapter 17", False: en.EN4}
_FULL = (
    "An anchor counts on a full hole: what a short one still holds is not calculated, and a short hole is reported and "
    "redone."
)


@dataclass(frozen=True)
class AnchorDesign(Designed):
    """A bar group designed as anchors; forces [N], lengths [mm].

    ``modes`` are the checks of the modes of failure, the governing one first.
    """

    outside: tuple[Notice, ...]
    lay: Lay
    depth: float
    force: float
    worst: float
    modes: tuple[Check, ...]

    @property
    def governing(self) -> Check | None:
        """The mode that is used most; None while none could be judged."""
        return next((mode for mode in self.modes if mode.utilisation is not None), None)

    @property
    def per_bar(self) -> float | None:
        """Design resistance of the governing mode for each bar [N]."""
        mode = self.governing
        return None if mode is None else self.force / mode.utilisation if mode.utilisation else None

    @property
    def standard(self) -> str:
        """The standard for anchors that goes with the code of the job."""
        return ANCHORS_OF[self.case.code == ACI]

    def entry(self) -> dict[str, Any]:
        """Return the group's keys in results.json."""
        mode = self.governing
        return {
            "code": self.case.code,
            "use": self.case.use,
            "force_path": self.case.path,
            "required_embedment_mm": None,
            "design_force_kN": self.force / 1000,
            "anchor_mode": None if mode is None else mode.name,
            "anchor_utilisation": None if mode is None else mode.utilisation,
        }


@lru_cache(maxsize=512)
def design_anchor(case: DesignCase) -> AnchorDesign:
    """Design the bars of one group as anchors in tension.

    Parameters
    ----------
    case
        Code, bar, hole, forces and what is known of the old concrete; its load path is ``concrete``.

    Returns
    -------
    AnchorDesign

    Raises
    ------
    ValueError
        A value outside a formula's validity, in a sentence.
    """
    steps = DesignSteps(case)
    cross_section(steps)
    steps.give("l_v", case.embedment, "mm", case.origin("embedment"))
    lay = lay_of(case)
    _give_force(steps)
    force = steps.last("N_Ed")
    if force.source.step is None:
        label = "Design force of one bar"
        steps.find("read", "N_Ed", label, force.value, force.unit, how="as stated", inputs={"N_Ed": force})
    work = ModesAci(steps, lay) if case.code == ACI else ModesEn(steps, lay)
    modes = tuple(sorted(work.modes(), key=_governs))
    others = (
        *work.limits(),
        *work.eccentric(),
        *_shear(case),
        *site_checks(case),
        *approval_checks(case),
        *hole_checks(steps),
    )
    left = by_reference(case, (*modes, *others))
    told = [
        *notices_of_concrete(case),
        *work.assumed(),
        owned(case, "full_hole", _FULL),
        Notice(EMBEDMENT, None, "tau", TAU),
    ]
    judged = [check for check in left.checks if check.name in MODES and check.utilisation is not None]
    if judged:
        most = judged[0]
        steps.find(
            "numerical",
            "eta.anchor",
            f"Utilisation of the mode that governs: {mode_words(most.name, case)}",
            float(most.utilisation or 0.0),
            "",
            how=f"demand over resistance of the check {most.id}",
            inputs={
                "demand": Given(most.demand, most.unit, f"check {most.id}"),
                "resistance": Given(most.resistance, most.unit, f"check {most.id}"),
            },
        )
    outside = (*_outside(case), *left.outside)
    notices = tuple(dict.fromkeys([*told, *steps.notices, *left.notices]))
    return AnchorDesign(
        case=case,
        sheet=Sheet(EMBEDMENT, steps.steps, left.checks, notices, steps.found),
        outside=outside,
        lay=lay,
        depth=work.depth,
        force=steps.force,
        worst=work.worst,
        modes=tuple(check for check in left.checks if check.name in MODES),
    )


def _governs(check: Check) -> tuple[bool, float]:
    return (check.utilisation is None, -(check.utilisation or 0.0))


def _give_force(steps: DesignSteps) -> None:
    case, imperial = steps.case, steps.case.code == ACI
    if case["force"] is not None:
        steps.key("N_Ed", "force", "lbf" if imperial else "N", source="N")
        return
    steps.key("q_Ed", "force_per_length", "lbf/in" if imperial else "N/mm", source="N/m")
    steps.key("s", "spacing", "in" if imperial else "mm")
    if imperial:
        steps.use(shear_of_pitch, "Factored force of one bar", symbol="N_Ed")
    else:
        steps.use(force_of_line, "Design force of one bar")


def _outside(case: DesignCase) -> list[Notice]:
    shear, *rest = NOT_COVERED
    if case["shear_by"] is not None:
        shear = f"shear on the bars is not covered here. Verified by: {case['shear_by'].rstrip('.')}."
    told = {"shear_by": shear, "not_covered": " ".join(rest)}
    return [Notice(EMBEDMENT, case.mark, name, text) for name, text in told.items()]


def _shear(case: DesignCase) -> tuple[Check, ...]:
    check = allowed(
        case,
        "shear",
        "shear on the bars, which is not covered here",
        case["shear_by"] is not None,
        "name who verifies it, with shear_by",
    )
    return (
        (
            check
            if check.passes
            else replace(check, reason="shear on an anchor is not covered, and nobody is named who verifies it")
        ),
    )


# --- beside a bar that is too short, or whose load path is not stated ---


@lru_cache(maxsize=512)
def as_anchor(case: DesignCase) -> tuple[AnchorDesign, str]:
    """Work a bar that is not stated to be an anchor as one, to show what concrete alone would hold.

    Parameters
    ----------
    case
        The bar group as it stands.

    Returns
    -------
    tuple of AnchorDesign and str
        The design, and what was taken for it where the job file says nothing; resistances are then upper bounds.
    """
    lay = lay_of(case)
    values, told = dict(case.values), []
    if "bars_in_row" in lay.missing:
        values["bars_in_row"] = max(1, case.count // (case["bar_rows"] or 1))
        told.append(f"{values['bars_in_row']} bars in a row")
    if "row_spacing" in lay.missing:
        values["row_spacing"] = case["spacing"]
        told.append("rows as far apart as the bars")
    far = [name for name in ("edge", "edge_right", "edge_above") if name in lay.missing]
    values |= {f"{name}_far" if name == "edge" else name: True if name == "edge" else float("inf") for name in far}
    told += ["edges that are not stated are far"] if far else []
    key, best = ("approval.category", 1) if case.code == ACI else ("approval.gamma_inst", 1.0)
    if case[key] is None:
        values[key] = best
        told.append(f"{key.removeprefix('approval.')} = {plain_text(best)}")
    values |= {name: "not named" for name in ("approval.number", "approval.page") if case[name] is None}
    values |= {"force_path": "concrete", "use": "anchorage", "compression": None}
    return design_anchor(replace(case, values=tuple(values.items()))), "; ".join(told)


def concrete_alone(case: DesignCase, one: AnchorDesign, told: str) -> list[Notice]:
    """Say what concrete alone would hold of a bar that is no anchor; empty where no mode could be judged."""
    mode = one.governing
    if mode is None or one.per_bar is None:
        return []
    most, force = case.display.force(one.per_bar), case.display.given_force(one.force)
    taken = f" (taken for it: {told})" if told else ""
    text = (
        f"as an anchor by {one.standard} the bar would hold at most {most}, by {mode_words(mode.name, case)}{taken}; "
        f"its force is {force}. "
        'It is designed as an anchor only when force_path = "concrete" says so.'
    )
    return [owned(case, "concrete_alone", text)]
