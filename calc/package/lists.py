"""Lists that a site uses, as PDF and CSV.

Dose list for the crew, hole record to fill in, proof loads, what to order, and the simulated days row by row.

They go to people who stand at a wall with gloves on: large type, strong contrast, nothing said by colour alone. The
templates are fixed; what a user wrote reaches them as strings in a JSON file.
"""

from __future__ import annotations

import csv
import hashlib
import importlib.resources
import io
import json
import math
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import typst

from calc.base.display import plain_text, safe_text, with_unit
from calc.base.formula import RangeError
from calc.base.sheet import Check
from calc.base.signs.fonts import as_printed
from calc.base.units import convert
from calc.files.job import Job
from calc.files.site import clock_text
from calc.fill.cure import TimeTable, read_safe
from calc.package.document import pdf
from calc.package.document.parts import DocumentError
from calc.work.cautions import DEFER, cautions
from calc.work.dose import Worked
from calc.work.packs.need import PackPlan
from calc.work.plan.dayrows import DAY_BOOK, day_book_csv
from calc.work.plan.planned import PlanWork
from calc.work.plan.preparation import Holes, bits_used
from calc.work.plan.times import coldest, warmest
from calc.work.plan.volumes import VOLUMES, Use
from calc.work.results import Results
from calc.work.site.findings import SHORT_RULE
from calc.work.site.proof import ProofGroup, ProofPlan, ProofRule, plan_proof_loads
from calc.work.site.template import By, choose_lines, dose_unit, template_csv

DOSE_LIST, HOLE_RECORD, HOLE_RECORD_CSV = "dose-list.pdf", "hole-record.pdf", "hole-record.csv"
PROOF_LOADS, ORDER = "proof-loads.pdf", "order.csv"
INVENTED = "INVENTED DATA: A DEMONSTRATION, NOT FOR USE ON SITE"
_NOTHING = "—"
_SIXTEENTHS = 16
# With a line for each group: holes that one line of the paper record is meant for, and lines that a group gets at least
# and at most.
_HOLES_PER_LINE, _LINES = 20, (3, 12)
_MOST_RESULTS = 150
_DIRECTIONS = {"down": "↓ down", "horizontal": "→ horizontal", "overhead": "↑ overhead"}


class SiteTimes(NamedTuple):
    """Shortest working time and latest first load at the temperatures of the concrete, as text.

    And what has to be said about them.
    """

    temperature: str
    working: str
    load: str
    notes: tuple[str, ...]
    stop: tuple[str, ...] = ()


def list_names(results: Results, plan: PackPlan | Use | None) -> tuple[str, ...]:
    """Return the names of the files that `write_lists` writes for a job and its plan."""
    there = {ORDER: plan is not None, DAY_BOOK: _days(results) is not None}
    return (
        DOSE_LIST,
        HOLE_RECORD,
        HOLE_RECORD_CSV,
        PROOF_LOADS,
        *(name for name, is_there in there.items() if is_there),
    )


def _days(results: Results) -> PlanWork | None:
    """The plan of a job whose days were worked out."""
    days = results.part(PlanWork)
    return days if days is not None and days.timeline is not None else None


def write_lists(
    results: Results,
    folder: Path,
    *,
    plan: PackPlan | Use | None = None,
    stamp: str | None = None,
    by: By | None = None,
    rule: ProofRule | None = None,
    day: str = "",
) -> list[Path]:
    """Write every list into a folder.

    Parameters
    ----------
    results
        The computed job.
    folder
        Where the files go; it is made when it is not there.
    plan
        Packs and mixers of the job; without it there is no order list.
    stamp
        What ties the pages to their results; by default the hash of results.json, as on the calculation.
    by
        A line of the hole record for every ``"hole"`` or ``"group"``; None chooses by the number of holes.
    rule
        Rule of the proof loads; None takes the plain one.
    day
        Date that the PDF files carry, as ``YYYY-MM-DD``; today without it.

    Returns
    -------
    list of Path
        The files that were written.

    Raises
    ------
    DocumentError
        When a page cannot be set.
    """
    folder.mkdir(parents=True, exist_ok=True)
    stamp = stamp or f"results {hashlib.sha256(results.text().encode()).hexdigest()[:12]}"
    by = by or choose_lines(holes=results.holes)
    proof = plan_proof_loads(job=results.job, rule=rule)
    files: dict[str, bytes] = {
        DOSE_LIST: compile_list("lists-dose.typ", dose_list(results, stamp=stamp), day)[0],
        HOLE_RECORD: compile_list("lists-record.typ", hole_record(results, stamp=stamp, by=by), day)[0],
        HOLE_RECORD_CSV: template_csv(job=results.job, worked=results.worked, by=by).encode(),
        PROOF_LOADS: compile_list("lists-proof.typ", proof_loads(results, proof, stamp=stamp), day)[0],
    }
    if plan is not None:
        files[ORDER] = order_csv(results, plan).encode()
    days = _days(results)
    if days is not None:
        files[DAY_BOOK] = day_book_csv(days).encode()
    for name, body in files.items():
        (folder / name).write_bytes(body)
    return [folder / name for name in files]


def compile_list(template: str, data: Mapping[str, Any], day: str = "") -> tuple[bytes, int]:
    """Set one list as PDF/A-3a and PDF/UA-1.

    Parameters
    ----------
    template
        Name of a template beside this module.
    data
        Texts for it; characters without a shape in the fonts are written by their code.
    day
        Date that the file carries, as ``YYYY-MM-DD``; today without it.

    Returns
    -------
    tuple of (bytes, int)
        The file and its number of pages.

    Raises
    ------
    DocumentError
        When Typst refuses the page.
    """
    parts = importlib.resources.files("calc.package") / "templates"
    printed = as_printed(data, [data.get("job_title", "")])
    with tempfile.TemporaryDirectory(prefix="lists-") as name:
        folder = Path(name)
        for part in ("lists.typ", template):
            (folder / part).write_bytes((parts / part).read_bytes())
        data = printed | {"date": pdf.date_parts(day)} | pdf.script(printed)
        (folder / "data.json").write_text(json.dumps(data), encoding="utf-8")
        try:
            compiler = typst.Compiler(str(folder / template), root=str(folder), font_paths=pdf.fonts())
            made = compiler.compile(format="pdf", pdf_standards=[*pdf.PDF_STANDARDS])
            pages = json.loads(compiler.query("<pages>", field="value", one=True))
        except typst.TypstError as error:
            raise DocumentError(f"Typst refused {template}: {' '.join(str(error).split())[:500]}") from error
    if not isinstance(made, bytes):
        raise DocumentError(f"Typst gave back no single file for {template}.")
    return pdf.compressed(made), int(pages)


def _head(results: Results, title: str, stamp: str) -> dict[str, Any]:
    about, display = results.job.job, results.job.display
    return {
        "title": title,
        "job": f"Job {about.number} · revision {about.revision}",
        "job_title": _cut(about.title, 90),
        "document_title": f"{title}: job {about.number}, revision {about.revision}",
        "authors": [about.prepared_by] if about.prepared_by else [],
        "paper": display.paper,
        "half_paper": display.half_paper,
        "invented": INVENTED if results.invented else None,
        "stamp": f"job {about.number} · revision {about.revision} · {stamp}",
        "adhesive": results.job.adhesive.name,
    }


def _cut(text: str, length: int) -> str:
    line = " ".join(text.split())
    return line if len(line) <= length else line[: length - 1].rstrip() + "…"


# ---- quantities as people on site read them ----


def minutes_text(value: float) -> str:
    """Write a time as people say it.

    Parameters
    ----------
    value : float [min]
        The time.

    Returns
    -------
    str

    Examples
    --------
    >>> minutes_text(33.0), minutes_text(60.0), minutes_text(165.0), minutes_text(900.0)
    ('33 min', '1 h', '2 h 45 min', '15 h')
    """
    if value < 100 and value != 60:
        return f"{plain_text(value, 4)} min"
    hours, rest = divmod(round(value), 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


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


def site_times(job: Job) -> SiteTimes:
    """Read working time and earliest load on the safe side; a dash and a sentence where that cannot be done.

    One box serves the whole day: working time at the warmest, curing time at the coldest concrete that the job states.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    SiteTimes
    """
    record, where = job.adhesive, job.adhesive_path.name
    hot, cold = warmest(job), coldest(job)
    if hot is None or cold is None:
        words = (
            f"{job.path.name} gives no temperature of the concrete: measure it in a hole, and read both times in the"
            " approval's tables."
        )
        return SiteTimes(_NOTHING, _NOTHING, _NOTHING, (words,))
    warm, chill = job.display.temperature(hot[0]), job.display.temperature(cold[0])
    notes: list[str] = []
    stop = _stops(job)
    working = _time(record.working, "working", hot[0], job, where, notes, stop)
    curing = _time(record.curing, "curing", cold[0], job, where, notes, stop)
    f_wet = record.wet_factor(None if job.site is None else job.site.hole_condition)
    if curing is not None and f_wet != 1.0:
        curing *= f_wet
        notes.append(f"Curing time is that in wet concrete, {f_wet:g} times that of the table.")
    wait = job.site.load_wait / 60 if job.site is not None else 0.0
    if hot[0] != cold[0]:
        notes.append(
            f"Working time at {warm}, curing time at {chill}: the warmest and the coldest concrete that the job file"
            " states, by day and by night."
        )
    if wait and curing is not None:
        notes.append(
            f"Earliest load: curing time {minutes_text(curing)}, and {minutes_text(wait)} that the job file adds."
        )
    if working is not None or curing is not None:
        notes.append(
            "Measure the concrete in a hole before you start: warmer concrete leaves less working time, colder concrete"
            " takes longer to cure."
        )
    return SiteTimes(
        temperature=job.display.temperatures(cold[0], hot[0]),
        working=_NOTHING if working is None else minutes_text(working),
        load=_NOTHING if curing is None else minutes_text(curing + wait),
        notes=tuple(notes),
        stop=tuple(stop),
    )


def _stops(job: Job) -> list[str]:
    """Say when it is too warm or too cold for the adhesive: as stated, and at the times of the day."""
    allowed = job.adhesive.base_temperature
    if allowed is None:
        return []
    span = (
        f"the adhesive record allows {job.display.temperature(allowed.low)} to {job.display.temperature(allowed.high)}"
    )
    T, day = job.concrete.temperature, () if job.site is None else job.site.temperature
    said = [f"DO NOT INJECT at {job.display.temperature(T)}: {span}."] if T is not None and not allowed.holds(T) else []
    late = [
        f"{clock_text(point.at)} ({job.display.temperature(point.temperature)})"
        for point in day
        if not allowed.holds(point.temperature)
    ]
    return [*said, *([f"DO NOT INJECT around {', '.join(late)}: {span}."] if late else [])]


def _time(
    table: TimeTable | None, words: str, T: float, job: Job, where: str, notes: list[str], stop: list[str]
) -> float | None:
    if table is None:
        notes.append(f"{where} has no {words} times: read the {words} time in the approval's table.")
        return None
    try:
        return read_safe(table=table, T=T).time
    except RangeError:
        what = {"working": "DO NOT INJECT", "curing": "DO NOT LOAD"}[words]
        span = f"{job.display.temperature(table.low)} to {job.display.temperature(table.high)}"
        stop.append(
            f"{what}: no {words} time at {job.display.temperature(T)}. The adhesive record's table covers {span}. Ask"
            " the engineer first."
        )
        return None


# ---- dose list ----


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
                "direction": _DIRECTIONS[case.direction],
                "cautions": [*group_cautions(one, job, failed.get(case.mark, ())), *_own_times(plan, case.mark, times)],
            }
        )
    general = [
        caution for caution in cautions(()) if caution != DEFER
    ]  # overhead work stands with the groups that it is about
    return _head(results, "Dose list", stamp) | {
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
        (words, minutes_text(seconds / 60), usual)
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


# ---- hole record ----


def hole_record(results: Results, *, stamp: str, by: By) -> dict[str, Any]:
    """Return what the hole record shows, as texts."""
    job, times = results.job, site_times(results.job)
    groups = []
    for one in results.worked:
        case = one.case
        dose, same = dose_texts(one, job)
        depth = job.display.planned(case.embedment + case.overdrill)
        least, most = _LINES
        lines = (
            [str(n) for n in range(1, case.count + 1)]
            if by == "hole"
            else [""] * min(max(-(-case.count // _HOLES_PER_LINE), least), most, case.count)
        )
        bar = f"{case.bar.text} in {job.display.planned(case.hole_diameter)}"
        words = f"{case.count} hole{'s' if case.count != 1 else ''} · {bar} · {_DIRECTIONS[case.direction]}"
        planned = (
            f"drill {depth} · bar {job.display.planned(case.embedment)} in · dose {dose}{f' ({same})' if same else ''}"
        )
        groups.append(
            {"mark": case.mark, "words": words, "planned": planned, "depth": depth, "dose": dose, "lines": lines}
        )
    record = job.adhesive
    limits = (
        [f"bar home within {times.working} of mixing at {times.temperature}, what stands in the mixer included"]
        if times.working != _NOTHING
        else []
    )
    limits += [sentence.rstrip(".") for sentence in times.stop]
    for allowed, words in ((record.base_temperature, "concrete"), (record.pack_temperature, "pack")):
        if allowed is not None:
            limits.append(f"{words} {job.display.temperature(allowed.low)} to {job.display.temperature(allowed.high)}")
    if record.expiry is not None:
        limits.append(f"packs good until {record.expiry.isoformat()} by the record: the date on the pack counts")
    return _head(results, "Hole record", stamp) | {
        "by": by,
        "groups": groups,
        "limits": " · ".join(limits),
        "temperature_unit": job.display.temperature_unit,
        "depth_unit": job.display.length_unit,
        "dose_unit": "strokes" if job.equipment.stroke is not None else dose_unit(job),
        "rule": SHORT_RULE,
        "how": (
            "Write it at the hole, when it is done. Depth: to where the full diameter ends. Cleaned: yes or no. Times:"
            " 24-hour clock. A cell that nobody wrote stays empty."
            + (
                ""
                if by == "hole"
                else (
                    " One line for holes done together: first injection, last bar home, the least depth, the least"
                    " dose."
                )
            )
        ),
        "typed": f"To be compared with the plan: type it into {HOLE_RECORD_CSV}, same columns.",
    }


# ---- proof loads ----


def proof_loads(results: Results, plan: ProofPlan, *, stamp: str) -> dict[str, Any]:
    """Return what the page of proof loads shows, as texts."""
    job = results.job
    total = sum(group.number for group in plan.groups if group.may_be_tested)
    return _head(results, "Proof loads", stamp) | {
        "words": [[name, words[:1].upper() + words[1:]] for name, words in plan.words],
        "rows": [_proof_row(group, job, plan.rule) for group in plan.groups],
        "missing": _missing(plan),
        "failed": [
            f"{g.check.title}: FAILS. {g.check.advice.capitalize()}."
            for g in plan.groups
            if g.check is not None and not g.check.passes
        ],
        "drawn": [[group.mark, _listed(group.drawn)] for group in plan.groups],
        "results": (
            [
                [g.mark, str(n), _force(g.load, job), _force(g.held, job)]
                for g in plan.groups
                if g.may_be_tested
                for n in g.drawn
            ]
            if 0 < total <= _MOST_RESULTS
            else []
        ),
        "many": (
            f"{total} bars are to be pulled; copy the columns of the table below as often as it takes."
            if total > _MOST_RESULTS
            else ""
        ),
        "hold": f"{plan.rule.hold:g} s",
        "defer": DEFER,
    }


def _missing(plan: ProofPlan) -> list[str]:
    """Say once, for all groups that it holds for, what is missing."""
    found: dict[str, list[str]] = {}
    for group in plan.groups:
        if group.lacks:
            found.setdefault(group.lacks, []).append(group.mark)
    return [f"{', '.join(marks)}: {words}" for words, marks in found.items()]


def _force(value: float | None, job: Job) -> str:
    return _NOTHING if value is None else job.display.given_force(value)


def _proof_row(group: ProofGroup, job: Job, rule: ProofRule) -> list[str]:
    verdict = (
        "no load, see below" if group.check is None else "✓ may be pulled" if group.check.passes else "✗ DO NOT PULL"
    )
    load = _force(group.load, job) if group.check is None or group.check.passes else f"({_force(group.load, job)})"
    return [
        group.mark,
        group.bar.text,
        f"{group.number} of {group.count}",
        _force(group.action, job),
        load,
        _force(group.cap, job),
        _force(group.held, job) if group.may_be_tested else _NOTHING,
        verdict,
    ]


def _listed(drawn: Sequence[int]) -> str:
    return ", ".join(map(str, drawn))


# ---- order ----


def order_csv(results: Results, plan: PackPlan | Use) -> str:
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
    writer.writerow(["item", "what", "used", "to_order", "used [L]", "to_order [L]", "note", "data"])
    data = "invented" if results.invented else "as given"
    each = job.equipment.pack_volume
    typed = job.origins.get("equipment.pack_volume", "")
    pack = f"{job.adhesive.name}, pack of {typed or with_unit(plain_text(convert(each, 'mm³', 'mL'), 6), 'mL')}"

    def litres(value: float) -> str:
        return plain_text(convert(value, "mm³", "L"), 5)

    spilt = results.volume - plan.in_holes
    became = ", ".join(VOLUMES[key].words for key in ("discard", "left_in_mixers", "residual", "lost"))
    waste = (
        f"of what is used {litres(results.volume)} L is {VOLUMES['dose'].words} into {results.holes} holes:"
        f" {litres(plan.in_holes)} L {VOLUMES['in_holes'].words} and {litres(spilt)} L"
        f" {VOLUMES['waste_overflow'].words}; the rest is {became}"
    )
    reserve = 0.0 if job.site is None else job.site.reserve
    with_reserve = f"to_order has a reserve of {reserve * 100:g} %" if reserve else "to_order has no reserve"
    volumes = [litres(plan.packs * each), litres(plan.packs_to_order * each)]
    writer.writerow(
        ["packs", safe_text(pack), plan.packs, plan.packs_to_order, *volumes, f"{waste}; {with_reserve}", data]
    )
    note = f"more when a pause outlasts the working time; {with_reserve}"
    writer.writerow(
        ["mixers", "mixing nozzles that fit the pack", plan.mixers, plan.mixers_to_order, "", "", note, data]
    )
    for item, what, used, note in _by_diameter(results):
        number = "" if used is None else used
        writer.writerow([item, safe_text(what), number, number, "", "", note, data])
    return out.getvalue()


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
