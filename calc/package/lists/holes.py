"""The hole record to fill in by pen."""

from __future__ import annotations

from typing import Any

from calc.package.lists.book import HOLE_RECORD_BOOK
from calc.package.lists.doses import DIRECTIONS, dose_texts, failing, group_stops, stops
from calc.package.lists.setting import NOTHING, list_head
from calc.package.lists.times import site_times
from calc.work.results import Results
from calc.work.site.findings import SHORT_RULE
from calc.work.site.template import By, dose_unit, drawing_of, line_spans, span_text

HOLE_RECORD_CSV = "hole-record.csv"
# With a line for each group: holes that one line of the paper record is meant for, and lines that a group gets at least
# and at most.
_HOLES_PER_LINE, _LINES = 20, (3, 12)


def hole_record(results: Results, *, stamp: str, by: By) -> dict[str, Any]:
    """Return what the hole record shows, as texts."""
    job, times, failed = results.job, site_times(results.job), failing(results)
    groups = []
    for one in results.worked:
        case = one.case
        dose, same = dose_texts(one, job)
        depth = job.display.drilled(case.drilled_to)
        least, most = _LINES
        lines = (
            [span_text(*span) for span in line_spans(case.count, by, 1 if job.site is None else job.site.batch)]
            if by != "group"
            else [""] * min(max(-(-case.count // _HOLES_PER_LINE), least), most, case.count)
        )
        bar = f"{case.bar.text}, hole {job.display.size(case.hole_diameter)}"
        count = f"{case.count} hole{'s' if case.count != 1 else ''}"
        words = " · ".join(filter(None, (count, bar, DIRECTIONS[case.direction], drawing_of(job, case.mark))))
        same = f" ({same})" if same else ""
        planned = f"drill {depth} to the point · bar embedded {job.display.drilled(case.embedment)} · dose {dose}{same}"
        groups.append(
            {
                "mark": case.mark,
                "words": words,
                "planned": planned,
                "depth": depth,
                "dose": dose,
                "stops": group_stops(one, job, failed.get(case.mark, ())),
                "lines": lines,
            }
        )
    record = job.adhesive
    limits = (
        [f"bar home within {times.working} of mixing at {times.temperature}, what stands in the mixer included"]
        if times.working != NOTHING
        else []
    )
    limits += [sentence.rstrip(".") for sentence in times.stop]
    for allowed, words in ((record.base_temperature, "concrete"), (record.pack_temperature, "pack")):
        if allowed is not None:
            limits.append(f"{words} {job.display.temperature(allowed.low)} to {job.display.temperature(allowed.high)}")
    if record.expiry is not None:
        limits.append(f"packs good until {record.expiry.isoformat()} by the record: the date on the pack counts")
    return list_head(results, "Hole record", stamp) | {
        "by": by,
        "stop": stops(results),
        "groups": groups,
        "limits": " · ".join(limits),
        "temperature_unit": job.display.temperature_unit,
        "depth_unit": job.display.length_unit,
        "dose_unit": "strokes" if job.equipment.stroke is not None else dose_unit(job),
        "rule": SHORT_RULE,
        "how": (
            "Write it at the hole, when it is done. Depth: from the face to the drill's point. Cleaned, full at the"
            " mouth: yes or no. Times: 24-hour clock. A cell that nobody wrote stays empty."
            + (
                ""
                if by == "hole" or (job.site is not None and job.site.batch == 1)
                else (
                    " One line for holes done together: first injection, last bar home, the least depth, the least"
                    " dose."
                )
            )
        ),
        "typed": (
            f"To be compared with the plan: type it into {HOLE_RECORD_BOOK} or {HOLE_RECORD_CSV}, same columns, or into"
            " the page for the phone."
        ),
    }
