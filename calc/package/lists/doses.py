"""The dose list for the crew: what each group's holes get, and what has to be known at the wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from calc.base.display import duration, plain_text, with_unit
from calc.base.sheet import Check
from calc.base.units import convert
from calc.files.job import Job
from calc.package.lists.setting import list_head
from calc.package.lists.times import SiteTimes, site_times
from calc.work.cautions import DEFER, cautions
from calc.work.dose import Worked
from calc.work.plan.planned import PlanWork
from calc.work.results import Results
from calc.work.site.findings import SHORT_RULE
from calc.work.site.template import dose_unit

DIRECTIONS = {"down": "↓ down", "horizontal": "→ horizontal", "overhead": "↑ overhead"}


def dose_texts(one: Worked, job: Job) -> tuple[str, str]:
    """Return what the dispenser is set to, and the same as a volume for who measures it.

    Strokes are counted; a dispenser with a graduation is set in the unit in which the job file gives the graduation.
    """
    unit = dose_unit(job)
    volume = with_unit(plain_text(convert(one.rounded, "mm³", unit), 6), unit)
    ml = with_unit(plain_text(convert(one.rounded, "mm³", "mL"), 4), "mL")
    if one.case.by_strokes:
        same = ", ".join(dict.fromkeys((job.display.dose(one.rounded), ml)))
        return f"{one.number} stroke{'s' if one.number != 1 else ''}", same
    return volume, ml if unit not in ("mL", "ml", "cm³", "cm3") else ""


def failing(results: Results) -> dict[str, list[Check]]:
    """Return the failed checks of every notebook, by the mark of the group that they are about.

    Parameters
    ----------
    results
        The computed job.

    Returns
    -------
    dict of list of Check
    """
    found: dict[str, list[Check]] = {}
    for check in results.checks:
        if not check.passes:
            found.setdefault(check.mark or "", []).append(check)
    return found


def group_cautions(one: Worked, job: Job, failed: Sequence[Check] = ()) -> list[str]:
    """Return what the crew has to know about one group, beside its dose; what stops the work comes first.

    Parameters
    ----------
    one
        The worked group.
    job
        Its job.
    failed
        Checks of the group that fail or are owed.

    Returns
    -------
    list of str
    """
    case, record = one.case, job.adhesive
    said = [
        f"STOP: a check {'is owed' if check.verdict == 'owed' else 'FAILS'}: {check.what}. Ask the engineer first."
        for check in failed
    ]
    depth = case.embedment + case.overdrill
    if record.reach is not None and depth > record.reach + 1e-6:
        said.append(
            f"STOP: the nozzle reaches {job.display.read_off(record.reach)}, the hole is {job.display.planned(depth)}"
            " deep. Ask the engineer first."
        )
    elif record.nozzle_reach is not None and depth > record.nozzle_reach + 1e-6:
        said.append(f"Extension tube: the nozzle alone reaches {job.display.read_off(record.nozzle_reach)}.")
    if case.overdrill and case.measured is None:
        said.append(
            f"Drill {job.display.planned(depth)} deep, which is {job.display.planned(case.overdrill)} more than the bar"
            " goes in."
        )
    if case.direction == "overhead":
        said.append(
            "Overhead: a plug that fits the hole, or what the approval names; hold the bar until it is set; keep out"
            " from under the hole."
        )
    if case.measured is not None:
        said.append("The hole was measured: this dose is for that hole.")
    return said


def dose_list(results: Results, *, stamp: str) -> dict[str, Any]:
    """Return what the dose list shows, as texts."""
    job, times = results.job, site_times(results.job)
    groups, failed = [], failing(results)
    plan = results.part(PlanWork)
    for one in results.worked:
        case = one.case
        dose, same = dose_texts(one, job)
        full = one.full_before_bar
        groups.append(
            {
                "mark": case.mark,
                "count": f"{case.count} hole{'s' if case.count != 1 else ''}",
                "bar": case.bar.text,
                "hole": job.display.planned(case.hole_diameter),
                "depth": job.display.planned(case.embedment),
                "dose": dose,
                "same": same,
                "level": "full" if full else job.display.read_off(one.level_before_bar),
                "level_words": "to the mouth" if full else "below the mouth",
                "direction": DIRECTIONS[case.direction],
                "cautions": [*group_cautions(one, job, failed.get(case.mark, ())), *_own_times(plan, case.mark, times)],
            }
        )
    general = [
        caution for caution in cautions(()) if caution != DEFER
    ]  # overhead work stands with the groups that it is about
    return list_head(results, "Dose list", stamp) | {
        "temperature": times.temperature,
        "working": times.working,
        "load": times.load,
        "notes": list(times.notes),
        "stop": list(times.stop),
        "groups": groups,
        "holes": f"{results.holes} holes in {len(results.worked)} groups",
        "how": _how(),
        "general": general,
        "defer": DEFER,
    }


def _own_times(plan: PlanWork | None, mark: str, times: SiteTimes) -> list[str]:
    """Say which times one group has when it is injected as planned, where they are not those of the box."""
    told = None if plan is None else plan.times.get(mark)
    if plan is None or told is None or not told.done:
        return []
    wait = 0.0 if plan.job.site is None else plan.job.site.load_wait
    own = [
        (words, duration(seconds / 60), usual)
        for words, seconds, usual in (
            ("home within", told.working, times.working),
            ("no load before", told.curing + wait, times.load),
        )
        if math.isfinite(seconds)
    ]
    said = ", ".join(f"{words} {text}" for words, text, _ in own)
    when = f"{plan.clock(told.first_injected)} to {plan.clock(told.last_injected)}"
    return (
        [f"Injected as planned, {when}: {said}. At another time the box above holds."]
        if any(text != usual for _, text, usual in own)
        else []
    )


def _how() -> list[str]:
    return [
        (
            "Mark the bar: measure the depth mark from the end that goes in. With the bar home the mark is at the"
            " concrete's face."
        ),
        (
            "Throw away the first adhesive of every mixer until its colour is even. What stands in a mixer ages: the"
            " time for the next bar runs already."
        ),
        "Inject from the back of the hole, and draw the nozzle out as the hole fills.",
        (
            "Before the bar goes in, hold a stick to the surface now and then: deeper below the mouth than the list"
            " says is too little. It is the depth for a hole drilled as the list says."
        ),
        "Turn the bar while you push it in. Adhesive must come up to the mouth all around.",
        f"Not full? {SHORT_RULE}",
    ]
