"""The hole record held against the plan.

Dose, working time, packs, temperatures, hole, and what was not written down.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from calc.base.display import plain_text, round_text, with_unit
from calc.base.formula import RangeError
from calc.base.units import convert, parse_number
from calc.files.job import Job
from calc.fill.cure import read_safe
from calc.fill.hole import hole_area
from calc.work.dose import Worked
from calc.work.site.findings import (
    FINDINGS,
    MINUTES_OF_DAY,
    GroupSummary,
    HoleRecord,
    RecordLine,
    SiteFinding,
    covered,
    holes_in_words,
)


def judged(lines: Iterable[RecordLine], *, job: Job, worked: Sequence[Worked], file: str = "hole record") -> HoleRecord:
    """Hold the lines of a hole record against the plan.

    Parameters
    ----------
    lines
        Lines of the record.
    job
        The job.
    worked
        Its worked groups.
    file
        What the record is called in sentences.

    Returns
    -------
    HoleRecord
        Volumes [mm³].
    """
    lines = tuple(lines)
    by_mark = {one.case.mark: one for one in worked}
    findings = [found for line in lines if line.done for found in _Judge(job, by_mark[line.mark], line).all()]
    for one in worked:
        mark, spans = (
            one.case.mark,
            [(line.first, line.last) for line in lines if line.done and line.mark == one.case.mark],
        )
        for first, last in _gaps(spans, one.case.count):
            words = f"{mark}, {holes_in_words(first, last)}: not in {file}, or on a line that is empty."
            findings.append(SiteFinding("missing", mark, first, last, 0, words))
    order = {kind: i for i, kind in enumerate(FINDINGS)}
    findings.sort(key=lambda f: (order[f.kind], [*by_mark].index(f.mark), f.first))
    groups = tuple(_summary(one, [line for line in lines if line.mark == one.case.mark], findings) for one in worked)
    return HoleRecord(file, lines, tuple(findings), groups, _notices(job), job.display)


def _summary(one: Worked, lines: list[RecordLine], findings: list[SiteFinding]) -> GroupSummary:
    found = Counter[str]()
    for kind in FINDINGS:
        own = [(f.first, f.last) for f in findings if f.kind == kind and f.mark == one.case.mark]
        if own:
            found[kind] = covered(own)
    done = [line for line in lines if line.done]
    volume = sum(line.count * line.dose for line in done if line.dose is not None)
    return GroupSummary(
        one.case.mark,
        one.case.count,
        sum(line.count for line in done),
        one.case.count * one.rounded,
        volume,
        dict(found),
    )


def _notices(job: Job) -> tuple[str, ...]:
    """Say what could not be judged because the adhesive record is silent."""
    record, name = job.adhesive, job.adhesive_path.name
    silent = []
    if record.base_temperature is None:
        silent.append("the concrete's temperature")
    if record.pack_temperature is None:
        silent.append("the pack's temperature")
    if record.working is None:
        silent.append("the working time")
    return (f"Not judged, because {name} does not give it: {', '.join(silent)}.",) if silent else ()


_NOISE = 1e-6  # mm


class _Judge:
    """Holds one line against the plan."""

    def __init__(self, job: Job, one: Worked, line: RecordLine) -> None:
        self.job, self.one, self.line, self.case = job, one, line, one.case
        self.display = job.display
        self.found: list[SiteFinding] = []

    def say(self, kind: str, words: str) -> None:
        line = self.line
        self.found.append(
            SiteFinding(
                kind, line.mark, line.first, line.last, line.row, f"{line.mark}, {line.holes} (row {line.row}): {words}"
            )
        )

    def all(self) -> list[SiteFinding]:
        self.dose()
        self.time()
        self.packs()
        self.temperatures()
        self.hole()
        self.completeness()
        self.plan()
        return self.found

    @property
    def depth(self) -> float | None:
        """Depth at full diameter [mm]: what the drill's point made deeper is no room for the bar."""
        line, case = self.line, self.case
        return line.depth if line.depth_to_tip is None else line.depth_to_tip - (case.depth_to_tip - case.depth)

    def volume(self, value: float) -> str:
        return self.display.amount(value, "mm³", 4)

    def temperature(self, value: float) -> str:
        return self.display.temperature(value)

    def dose(self) -> None:
        """A hole drilled deeper than planned needs more than the plan says."""
        line, case = self.line, self.case
        if line.dose is None:
            return
        # What a tape cannot show is no hole that is deeper than planned.
        told = line.depth_to_tip is not None and line.depth_to_tip <= case.drilled_to + _NOISE
        extra = 0.0 if told else max((self.depth or 0.0) - case.depth, 0.0)
        bottom = case.measured.diameters[-1] if case.measured else case.hole_diameter
        needed = self.one.required + hole_area(d_0=bottom) * extra
        deeper = f", being {self.display.length(extra)} deeper than planned" if extra else ""
        if line.dose < needed * (1 - 1e-9):
            share = (1 - line.dose / needed) * 100
            words = (
                f"{self.volume(line.dose)} injected, but the hole needs {self.volume(needed)}{deeper}:"
                f" {round_text(share, 2)} % short."
            )
            self.say("short", words)
        elif line.dose < self.one.rounded * (1 - 1e-9):
            words = (
                f"{self.volume(line.dose)} injected, {self.volume(self.one.rounded)} planned; the hole needs"
                f" {self.volume(needed)}{deeper}."
            )
            self.say("under plan", words)

    def time(self) -> None:
        line, table = self.line, self.job.adhesive.working
        if line.injected is None or line.set is None or table is None:
            return
        T = line.concrete if line.concrete is not None else self.job.concrete.temperature
        if T is None:
            return
        where = f"at {self.temperature(T)}" + (
            "" if line.concrete is not None else " (the job file's; none was written down)"
        )
        try:
            limit = read_safe(table=table, T=T).time
        except RangeError:
            span = f"{self.temperature(table.low)} to {self.temperature(table.high)}"
            self.say("late", f"no working time is known {where}; the record's table covers {span}.")
            return
        taken = (line.set - line.injected) % MINUTES_OF_DAY
        if taken > limit:
            which = "set" if line.count == 1 else "the last bar was set"
            self.say(
                "late",
                f"{which} {taken:g} min after {'the ' if line.count == 1 else 'the first '}injection; the working time"
                f" {where} is {limit:g} min.",
            )

    def packs(self) -> None:
        line = self.line
        limits = [
            (day, words)
            for day, words in ((line.expiry, "the pack"), (self.job.adhesive.expiry, self.job.adhesive_path.name))
            if day is not None
        ]
        if line.day is None or not limits:
            return
        day, words = min(limits)
        if line.day > day:
            batch = f", batch {line.batch}" if line.batch else ""
            self.say("expired", f"used on {line.day.isoformat()}{batch}; good until {day.isoformat()} by {words}.")

    def temperatures(self) -> None:
        record = self.job.adhesive
        for value, allowed, words in (
            (self.line.concrete, record.base_temperature, "concrete"),
            (self.line.pack, record.pack_temperature, "pack"),
        ):
            if value is not None and allowed is not None and not allowed.holds(value):
                span = f"{self.temperature(allowed.low)} to {self.temperature(allowed.high)}"
                self.say("temperature", f"{words} at {self.temperature(value)}; the adhesive record allows {span}.")

    def hole(self) -> None:
        line, case = self.line, self.case
        depth = self.depth
        if depth is not None and depth < case.embedment - _NOISE:
            write = self.display.length
            to_tip = "" if line.depth_to_tip is None else f"{write(line.depth_to_tip)} to the point, "
            self.say(
                "depth",
                f"{to_tip}{write(depth)} deep for an embedment of {write(case.embedment)}:"
                f" {write(case.embedment - depth)} too little.",
            )
        if line.full is False:
            self.say("short", f"not full at the mouth with the bar{'s' if line.count > 1 else ''} home.")
        if line.cleaned is False:
            self.say("uncleaned", "the hole was not cleaned." if line.count == 1 else "the holes were not cleaned.")

    def completeness(self) -> None:
        line = self.line
        values = {
            "date": line.day,
            "batch": line.batch,
            "expiry": line.expiry,
            "temperature of the concrete": line.concrete,
            "temperature of the pack": line.pack,
            "depth": self.depth,
            "cleaned": line.cleaned,
            "dose": line.dose,
            "full at the mouth": line.full,
            "time of injection": line.injected,
            "time of setting": line.set,
            "initials": line.initials,
        }
        lacking = [name for name, value in values.items() if value is None or value == ""]
        if lacking:
            self.say("incomplete", f"not written down: {', '.join(lacking)}.")

    def plan(self) -> None:
        """The planned values that were printed on the record belong to a plan; say when it is not this one."""
        given, case = self.line.given, self.case
        plan: list[tuple[str, float, str]] = [
            ("planned_depth_to_tip", case.drilled_to, "mm"),
            ("planned_depth", case.depth, "mm"),
            ("planned_dose", self.one.rounded, "mm³"),
        ]
        for name, value, inside in plan:
            if name in given:
                number, _, unit = given[name].partition(" ")
                typed = convert(parse_number(number), unit, inside)
                if abs(typed - value) > 1e-4 * value:
                    shown = (
                        self.display.length(value)
                        if inside == "mm"
                        else with_unit(plain_text(convert(value, "mm³", unit), 7), unit)
                    )
                    self.say("plan", f"{name.replace('_', ' ')} {given[name]} stands there; this job says {shown}.")
        if "planned_strokes" in given and parse_number(given["planned_strokes"]) != self.one.number:
            self.say(
                "plan", f"planned strokes {given['planned_strokes']} stands there; this job says {self.one.number}."
            )


def _gaps(spans: Iterable[tuple[int, int]], count: int) -> list[tuple[int, int]]:
    """Return the holes from 1 to ``count`` that lie in none of the spans, as spans."""
    found, after = [], 1
    for first, last in sorted(spans):
        if first > after:
            found.append((after, first - 1))
        after = max(after, last + 1)
    return [*found, (after, count)] if after <= count else found
