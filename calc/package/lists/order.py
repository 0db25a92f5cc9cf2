"""What to order, as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from calc.base.display import plain_text, safe_text, with_unit
from calc.base.units import convert
from calc.work.plan.planned import PlanWork
from calc.work.plan.preparation import Holes, bits_used
from calc.work.plan.volumes import VOLUMES, Use
from calc.work.results import Results


def order_csv(results: Results, plan: Use) -> str:
    """Return what to order as CSV, units in the header; no text can be run as a formula by a spreadsheet.

    Parameters
    ----------
    results
        The computed job.
    plan
        Packs and mixers of the job.

    Returns
    -------
    str
    """
    job = results.job
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    unit = job.display.ordered_unit
    writer.writerow(["item", "what", "used", "to_order", f"used [{unit}]", f"to_order [{unit}]", "note", "data"])
    data = "invented" if results.invented else "as given"
    each = job.equipment.pack_volume
    typed = job.origins.get("equipment.pack_volume", "")
    in_a_pack = job.display.volume_unit
    content = typed or with_unit(plain_text(convert(each, "mm³", in_a_pack), 6), in_a_pack)
    pack = f"{job.adhesive.name}, pack of {content}"

    def amount(value: float) -> str:
        return plain_text(convert(value, "mm³", unit), 5)

    became = ", ".join(VOLUMES[key].words for key in ("discard", "left_in_mixers", "residual", "lost"))
    waste = (
        f"of what is used {amount(plan.dispensed)} {unit} is {VOLUMES['dose'].words} into {results.holes} holes:"
        f" {amount(plan.in_holes)} {unit} {VOLUMES['in_holes'].words} and {amount(plan.overflow)} {unit}"
        f" {VOLUMES['waste_overflow'].words}; the rest is {became}"
    )
    reserve = 0.0 if job.site is None else job.site.reserve
    with_reserve = f"to_order has a reserve of {reserve * 100:g} %" if reserve else "to_order has no reserve"
    plan_of_all = results.part(PlanWork)
    counted = "" if plan_of_all is None else plan_of_all.packs.counted
    volumes = [amount(plan.packs * each), amount(plan.packs_to_order * each)]
    writer.writerow(
        [
            "packs",
            safe_text(pack),
            plan.packs,
            plan.packs_to_order,
            *volumes,
            "; ".join(filter(None, (_good_until(results), waste, with_reserve, counted))),
            data,
        ]
    )
    note = f"more when a pause outlasts the working time; {with_reserve}"
    writer.writerow(
        ["mixers", "mixing nozzles that fit the pack", plan.mixers, plan.mixers_to_order, "", "", note, data]
    )
    for item, what, used, note in _by_diameter(results):
        number = "" if used is None else used
        writer.writerow([item, safe_text(what), number, number, "", "", note, data])
    return out.getvalue()


def _good_until(results: Results) -> str:
    """Say until when the packs have to be good."""
    plan, site = results.part(PlanWork), results.job.site
    until = None if plan is None else plan.good_until
    if until is not None:
        return f"good until {until.isoformat()} at least, the day of the last injection"
    lacks = "no table site" if site is None else "no date of the work"
    return f"good until the day of the last injection at least: the job file has {lacks}"


_UNCOUNTED = "the number is not counted"


def _by_diameter(results: Results) -> Iterator[tuple[str, str, int | None, str]]:
    """Give what fits one hole diameter only: item, the holes that it is for, how many where counted, a note."""
    job = results.job
    reach, way = job.adhesive.nozzle_reach, None if job.site is None else job.site.way
    per_bit = None if way is None else way.holes_per_bit
    for diameter in sorted({one.case.hole_diameter for one in results.worked}):
        cases = [one.case for one in results.worked if one.case.hole_diameter == diameter]
        deep = [] if reach is None else [case for case in cases if case.embedment + case.overdrill > reach + 1e-6]
        holes = Holes(sum(case.count for case in cases), 0.0, 0.0, diameter)
        bits = None if per_bit is None else bits_used([holes], per_bit)[diameter]
        lasts = _UNCOUNTED if per_bit is None else f"one lasts for {per_bit} holes; no reserve"
        brushed = cases if way is not None and any(step.do == "brush" for step in way.steps) else []
        overhead = [case for case in cases if case.direction == "overhead"]
        for item, of, number, note in (
            ("drill bits", cases, bits, lasts),
            ("brushes", brushed, None, f"as the product's instructions name them; {_UNCOUNTED}"),
            ("plugs that fit the hole", overhead, None, f"overhead; {_UNCOUNTED}"),
            ("extension tubes", deep, None, f"these holes are deeper than the nozzle reaches; {_UNCOUNTED}"),
        ):
            if of:
                yield (
                    item,
                    f"holes of {job.display.size(diameter)}: {', '.join(case.mark for case in of)}",
                    number,
                    note,
                )
