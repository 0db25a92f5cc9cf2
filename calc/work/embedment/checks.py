"""Checks and sentences of a designed bar group.

Its embedment, its approval, and whether bar and hole fit into the old concrete.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from calc.base.bars import find_bar
from calc.base.identity import EMBEDMENT
from calc.base.sheet import Check, Notice
from calc.files.strict import tidy
from calc.strength import detailing, en1992_2023
from calc.strength.codes import ACI, EN23
from calc.strength.short.bar import LeastDose
from calc.work.embedment.case import DesignCase
from calc.work.embedment.materials import strength_notices
from calc.work.embedment.steps import DesignSteps, in_length_unit, owned, rounded_up, titled


def embedment_check(case: DesignCase, required: float) -> Check:
    """Judge the embedment of the schedule against the one that is required."""
    enough, own = (
        case.display.plain(length, "mm", 6) for length in (rounded_up(required, case.display), case.embedment)
    )
    advice = f"the embedment that would do is {enough} (schedule: {own})"
    return Check.compare(
        notebook=EMBEDMENT,
        mark=case.mark,
        name="embedment",
        group=titled(case),
        title=f"embedment of the schedule, {case.use} ({case.code})",
        demand=in_length_unit(required, case),
        resistance=in_length_unit(case.embedment, case),
        unit=case.display.length_unit,
        advice=advice,
    )


def approval_checks(case: DesignCase) -> tuple[Check, ...]:
    """Judge the embedment against the longest that the approval covers, where it says one."""
    longest = case["approval.longest_embedment"]
    if longest is None:
        return ()
    return (
        Check.compare(
            notebook=EMBEDMENT,
            mark=case.mark,
            name="longest",
            group=titled(case),
            title=f"longest embedment that approval {case['approval.number'] or '(not named)'} covers",
            demand=in_length_unit(case.embedment, case),
            resistance=in_length_unit(longest, case),
            unit=case.display.length_unit,
            advice="choose more or larger bars, or a product whose approval covers this depth",
        ),
    )


def notices_of_concrete(case: DesignCase) -> list[Notice]:
    """Say which factors, which strength and which approval the design took."""
    found = []
    if case.defaults_used:
        found.append(_whole("defaults", f"Factors that the job file does not give: {'; '.join(case.defaults_used)}."))
    if case["strength_from"] == "assumed":
        found.append(
            owned(
                case,
                "strength_from",
                "the old concrete's strength is assumed; cores or drawings must confirm it before bars are set.",
            )
        )
    found += strength_notices(case)
    if case.approval:
        found.append(_whole("approval", f"Product values of approval {case.approval}."))
    return found


def notices_of(case: DesignCase, least: LeastDose) -> list[Notice]:
    """Say what the design took for granted, and what has still to be confirmed."""
    found = notices_of_concrete(case)
    if not case.approval:
        found.append(
            owned(
                case,
                "approval",
                "no approval is named; the product must be qualified for bars designed as cast-in ones.",
            )
        )
    if case.code == ACI and case["coating"] == "epoxy":
        found.append(
            owned(
                case,
                "coating",
                "a coated bar bonds to the adhesive by its coating; the product's report must cover it.",
            )
        )
    if case["spacing"] is not None and case.use == "anchorage" and case["compression"]:
        found.append(
            owned(
                case,
                "compression",
                "in compression the bar's end presses on the concrete behind it; look at the member's back face.",
            )
        )
    if case.measured:
        found.append(
            owned(
                case,
                "measured",
                "strength when short takes the nominal hole, whose ring is narrower than the measured one: a missing"
                " volume then bares more bar.",
            )
        )
    if least.reason:
        found.append(owned(case, "least_dose", f"{least.reason}."))
    return found


def _whole(name: str, text: str) -> Notice:
    return Notice(EMBEDMENT, None, name, text)


def detailing_of(steps: DesignSteps) -> tuple[tuple[Check, ...], list[Notice]]:
    """Whether bar and hole fit into the old concrete; the bar's ribs through the hole are checked with its dose."""
    case, show = steps.case, steps.case.display
    phi, d_0, l_v, cover = case.bar.diameter, case.hole_diameter, case.embedment, case["cover"]
    edge = None if case["edge"] is None else tidy(case["edge"] - phi / 2)
    found: list[Check] = []
    if case.code == ACI:
        beta, said = (
            detailing.LEAN_LIMITS["ACI 355.2"][0],
            "one bar diameter; ACI 318-19, 20.5.1.3, may ask for more (from memory)",
        )
        faces = [("cover", cover, "nearest face"), *((("edge", edge, "edge"),) if edge is not None else ())]
        for part, c, face in faces:
            found.append(
                detailing.end_cover_check(
                    name=part,
                    c=c,
                    l_v=l_v,
                    beta=beta,
                    c_least=phi,
                    source=said,
                    face=face,
                    aid=bool(case["drilling_aid"]),
                    display=show,
                )
            )
    else:
        beta = detailing.LEAN_LIMITS["EOTA"][0]
        drilling: en1992_2023.Drilling = "air" if case["drilling"] == "air" else "rotary"
        need: dict[str, Any] = {
            "code": case.code,
            "phi": phi,
            "l_v": l_v,
            "drilling": drilling,
            "aid": case["drilling_aid"],
        }
        if case.code == EN23:
            # The table ties the cover to the design length; a hole that is deeper than that drifts further.
            need["l_bd_pi"] = max(l_v, steps.known["l_bd_pi"])
            if l_v > steps.known["l_bd_pi"]:
                steps.give(
                    "l_bd_pi",
                    l_v,
                    "mm",
                    case.origin("embedment").told("{}, in place of the shorter design length: the safe reading"),
                )
        steps.take(detailing.cover_need_chain(**need))
        found.append(detailing.drilled_cover_check(name="cover", c=cover, display=show, **need))
        if edge is not None:
            check = detailing.drilled_cover_check(name="edge", c=edge, display=show, **need)
            found.append(replace(check, what=f"{check.what}, at the edge"))
        found.append(detailing.spacing_check(name="spacing", s=case["spacing"], phi=phi, d_0=d_0, display=show))
    said_of = [_whole("anchor", detailing.anchor_notice(code=case.code, lapped=case.use == "lap"))]
    if edge is not None:
        corner = detailing.corner_notice(c_x=cover, c_y=edge, phi=phi, display=show)
        said_of += [owned(case, "corner", corner)] if corner else []
    checks, more = _hole(steps, beta)
    return tuple(_in_units(check, case) for check in (*found, *checks)), [*said_of, *more]


def hole_checks(steps: DesignSteps) -> tuple[Check, ...]:
    """Whether the holes of anchors meet no hole, no face behind them, no existing bar; notices go to the steps."""
    case = steps.case
    steps.give("d_0", case.hole_diameter, "mm", case.origin("hole_diameter"))
    steps.give("l_v", case.embedment, "mm", case.origin("embedment"))
    checks, said = _hole(steps, detailing.LEAN_LIMITS["ACI 355.2" if case.code == ACI else "EOTA"][0])
    steps.notices += said
    return tuple(_in_units(check, case) for check in checks)


def _hole(steps: DesignSteps, beta: float) -> tuple[list[Check], list[Notice]]:
    """Look at the hole itself; ``beta`` is how far it may lean [°]."""
    case, show = steps.case, steps.case.display
    phi, d_0, l_v = case.bar.diameter, case.hole_diameter, case.embedment
    found, said_of = list[Check](), list[Notice]()
    aid = bool(case["drilling_aid"])
    found.append(
        detailing.end_spacing_check(
            name="drift", s=case["spacing"], phi=phi, d_0=d_0, l_v=l_v, beta=beta, aid=aid, display=show
        )
    )
    hole: dict[str, Any] = {
        "l_v": l_v,
        "d_0": d_0,
        "overdrill": case.overdrill,
        "theta": case.tip,
        "remainder": case["remainder"],
    }
    steps.give("overdrill", case.overdrill, "mm", case.origin("overdrill"))
    steps.give("theta", case.tip, "°", case.origin("point_angle"))
    if case["remainder"] is not None:
        steps.key("h_rem", "remainder", "mm")
    thickness = detailing.thickness_chain(**hole)
    steps.take(thickness)
    found.append(detailing.thickness_check(name="thickness", thickness=case["member_thickness"], display=show, **hole))
    if case["oversize_rule"] is not None:
        found.append(
            detailing.oversize_check(
                name="oversize", d_0=d_0, phi=phi, limit=detailing.OVERSIZE[case["oversize_rule"]], display=show
            )
        )
    if case["existing_bar"] is not None and case["existing_spacing"] is not None:
        phi_ex, s_ex = find_bar(case["existing_bar"]).diameter, case["existing_spacing"]
        found.append(detailing.existing_gap_check(name="between", d_0=d_0, phi_ex=phi_ex, s_ex=s_ex))
        if case["existing_cover"]:
            depth = thickness.known["l_tot"]
            steel, share = detailing.existing_steel_notice(
                c_ex=case["existing_cover"], phi_ex=phi_ex, s_ex=s_ex, d_0=d_0, l_tot=depth, display=show
            )
            said_of.append(replace(owned(case, "existing_steel", steel), share=share))
    else:
        said_of.append(owned(case, "existing_bars", "the existing bars are not stated; locate them before drilling."))
    if case["drilling"] == "diamond":
        said_of.append(
            owned(case, "cored", "a cored hole is smooth; the approval must cover diamond drilling for this product.")
        )
    return found, said_of


def _in_units(check: Check, case: DesignCase) -> Check:
    check = replace(check, what=f"{check.what[0].lower()}{check.what[1:]}").placed(EMBEDMENT, case.mark, titled(case))
    unit = case.display.unit(check.unit)
    if unit == check.unit:
        return check
    return replace(
        check, demand=in_length_unit(check.demand, case), resistance=in_length_unit(check.resistance, case), unit=unit
    )
