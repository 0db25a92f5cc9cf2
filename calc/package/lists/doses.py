"""The dose list for the crew: what each group's holes get, and the order of the work.

One sheet with two sides, and the same cards for a phone (`calc.package.lists.phone`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

from calc.base.display import duration, plain_text, unbroken, with_unit
from calc.base.sheet import Check
from calc.base.units import convert
from calc.files.job import Job
from calc.package.lists.setting import list_head
from calc.package.lists.times import site_times
from calc.work.cautions import DEFER, cautions
from calc.work.dose import Worked
from calc.work.packs.need import GroupUse
from calc.work.plan.planned import PlanWork
from calc.work.results import Results
from calc.work.site.findings import SHORT_RULE
from calc.work.site.template import dose_unit, drawing_of

DIRECTIONS = {"down": "↓ down", "horizontal": "→ horizontal", "overhead": "↑ overhead"}
ASK = "Ask the engineer first."
# More boxes than this are no longer ticked but counted: for the strokes of a hole, and for the batches of a group.
_MOST_STROKES, _MOST_BATCHES = 20, 60
_NOISE = 1e-6  # mm


def dose_texts(one: Worked, job: Job) -> tuple[str, str]:
    """Return what the dispenser is set to, and the volume of so many strokes.

    Strokes are counted; a dispenser with a graduation is set in the unit in which the job file gives the graduation.
    """
    unit = dose_unit(job)
    volume = with_unit(plain_text(convert(one.rounded, "mm³", unit), 4 if one.case.by_strokes else 6), unit)
    return (f"{one.number} stroke{'s' if one.number != 1 else ''}", volume) if one.case.by_strokes else (volume, "")


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


def stop_line(failed: Sequence[Check]) -> str:
    """Tell the crew to stop where checks fail or are owed; which they are stands in the calculation."""
    count = Counter("owed" if check.verdict == "owed" else "fails" for check in failed)
    words = {"fails": ("a check FAILS", "{} checks FAIL"), "owed": ("a check is owed", "{} checks are owed")}
    said = [one if count[kind] == 1 else many.format(count[kind]) for kind, (one, many) in words.items() if count[kind]]
    return f"STOP: {', '.join(said)}. {ASK}"


def stops(results: Results) -> list[str]:
    """Say at the head of a list which groups stop, and what holds the whole job up."""
    failed = failing(results)
    marks = [one.case.mark for one in results.worked if one.case.mark in failed]
    lacking = results.job.adhesive.cleaning is None
    return [
        *([f"STOP at {', '.join(marks)}: checks fail or are owed. {ASK}"] if marks else []),
        *([f"STOP, the whole job: {stop_line(failed['']).removeprefix('STOP: ')}"] if failed.get("") else []),
        *(
            [f"OWED: how this product cleans a hole; {results.job.adhesive_path.name} has no cleaning."]
            if lacking
            else []
        ),
    ]


def group_stops(one: Worked, job: Job, failed: Sequence[Check] = ()) -> list[str]:
    """Return what stops the work on one group: checks of it that fail or are owed, and a hole that nothing reaches.

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
    reach, depth = job.adhesive.reach, one.case.depth
    said = [stop_line(failed)] if failed else []
    if reach is not None and depth > reach + _NOISE:
        said.append(
            f"STOP: the nozzle reaches {job.display.read_off(reach)}, the hole is {job.display.drilled(depth)} deep."
            f" {ASK}"
        )
    return said


def group_cautions(one: Worked, job: Job) -> list[str]:
    """Return what the crew has to know about one group, beside its dose.

    Parameters
    ----------
    one
        The worked group.
    job
        Its job.

    Returns
    -------
    list of str
    """
    case, record, said = one.case, job.adhesive, []
    reached = record.reach is None or case.depth <= record.reach + _NOISE
    if reached and record.nozzle_reach is not None and case.depth > record.nozzle_reach + _NOISE:
        said.append(f"Extension tube: the nozzle alone reaches {job.display.read_off(record.nozzle_reach)}.")
    if case.measured is not None:
        said.append("A hole was measured: the dose is for holes like it. Does one look otherwise? Ask first.")
    elif case.overdrill:
        said.append(f"The hole goes {job.display.drilled(case.overdrill)} beyond the bar's end.")
    if case.direction == "overhead":
        said.append(
            "Overhead: a plug that fits the hole, or what the approval names; hold the bar until it is set; keep out"
            " from under the hole."
        )
    return said


def dose_list(results: Results, *, stamp: str) -> dict[str, Any]:
    """Return what the dose list shows, as texts."""
    job, times, failed = results.job, site_times(results.job), failing(results)
    plan = results.part(PlanWork)
    uses = {} if plan is None else {use.mark: use for use in plan.packs.groups}
    general = [
        caution for caution in cautions(()) if caution != DEFER
    ]  # overhead work stands with the groups that it is about
    return list_head(results, "Dose list", stamp) | {
        "temperature": times.temperature,
        "working": times.working,
        "load": times.load,
        "notes": [*times.notes, *_calendar(plan)],
        "stop": [*stops(results), *times.stop],
        "groups": [
            _card(one, job, failed.get(one.case.mark, ()), plan, uses.get(one.case.mark)) for one in results.worked
        ],
        "holes": f"{results.holes} holes in {len(results.worked)} groups",
        "work": order_of_work(job),
        "general": general,
        "defer": DEFER,
    }


def _card(
    one: Worked, job: Job, failed: Sequence[Check], plan: PlanWork | None, use: GroupUse | None
) -> dict[str, Any]:
    """What one group's card shows."""
    case, display, full = one.case, job.display, one.full_before_bar
    dose, same = dose_texts(one, job)
    batch = None if job.site is None else min(job.site.batch, case.count)
    batches = 0 if batch is None else -(-case.count // batch)
    strokes = one.strokes or 0
    return {
        "mark": case.mark,
        "count": f"{case.count} hole{'s' if case.count != 1 else ''}",
        "drawing": drawing_of(job, case.mark),
        "bar": case.bar.text,
        "hole": display.size(case.hole_diameter),
        "drill": display.drilled(case.drilled_to),
        "depth": display.drilled(case.embedment),
        "dose": dose,
        "same": same,
        "strokes": strokes if strokes <= _MOST_STROKES else 0,
        "level": "full" if full else display.read_off(one.level_before_bar),
        "level_words": "to the mouth" if full else "below the mouth",
        "direction": DIRECTIONS[case.direction],
        "pack": _pack(use),
        "batch": "" if batch is None else "set each bar at once" if batch == 1 else f"{batch} holes, then their bars",
        "batches": batches if batches <= _MOST_BATCHES else 0,
        "own": _own_times(plan, case.mark),
        "stops": group_stops(one, job, failed),
        "cautions": group_cautions(one, job),
    }


def _pack(use: GroupUse | None) -> str:
    if use is None:
        return ""
    if use.packs_per_hole > 1:
        return f"one hole takes {use.packs_per_hole} packs"
    return f"one pack fills {use.holes_per_pack} hole{'s' if use.holes_per_pack != 1 else ''}"


def _own_times(plan: PlanWork | None, mark: str) -> str:
    """Say which times one group has when it is injected as planned."""
    told = None if plan is None else plan.times.get(mark)
    if plan is None or told is None or not told.done:
        return ""
    wait = 0.0 if plan.job.site is None else plan.job.site.load_wait
    own = [
        f"{words} {duration(seconds / 60)}"
        for words, seconds in (("home within", told.working), ("no load before", told.curing + wait))
        if math.isfinite(seconds)
    ]
    first, last = plan.clock(told.first_injected), plan.clock(told.last_injected)
    return unbroken(f"Planned {first} to {last}: {', '.join(own)}.") if own else ""


def _calendar(plan: PlanWork | None) -> list[str]:
    """Say until when the packs are good by their record, and until when they have to be."""
    if plan is None:
        return []
    expiry, until = plan.job.adhesive.expiry, plan.good_until
    said = [] if until is None else [f"The last injection is on {until.isoformat()}: packs have to be good until then."]
    if expiry is not None:
        said.append(f"Packs are good until {expiry.isoformat()} by the record; an earlier date on a pack counts.")
    return said


def order_of_work(job: Job) -> list[dict[str, Any]]:
    """Return what is done at every hole, in its order; cleaning is the product's own."""
    cleaning = list(job.adhesive.cleaning or ())
    owed = [f"OWED: {job.adhesive_path.name} has no cleaning. {ASK}"]
    return [
        {
            "title": "Drill and mark",
            "owed": False,
            "lines": [
                "Drill to the depth of the list: from the concrete's face to the drill's point.",
                "Mark the bar: measure from the end that goes in. With the bar home the mark is at the face.",
            ],
        },
        {"title": f"Clean, as {job.adhesive.name} asks", "lines": cleaning or owed, "owed": not cleaning},
        {
            "title": "Inject",
            "owed": False,
            "lines": [
                (
                    "Throw away the first adhesive of every mixer until its colour is even. What stands in a mixer"
                    " ages: the time for the next bar runs already."
                ),
                "Inject the dose from the back of the hole, and draw the nozzle out as the hole fills.",
                (
                    "Now and then hold a stick to the surface before the bar goes in: deeper below the mouth than the"
                    " list says is too little."
                ),
            ],
        },
        {
            "title": "Set the bar",
            "owed": False,
            "lines": [
                "Turn the bar while you push it in. Adhesive must come up to the mouth all around.",
                f"Not full? {SHORT_RULE}",
                "No load before the time in the box. Write the hole record.",
            ],
        },
    ]
