"""The hole record: what was done to each hole, written by pen on site, typed into a CSV file, and held against the plan.

A line stands for one hole (``7``) or for several that were done together (``1 to 96``). A line whose cells are all empty was not
done. What cannot be read is refused with row and column; what was not written down is a finding, since nobody can write it later.
"""

from __future__ import annotations

import bisect
import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Literal

from calc.base.formula import RangeError
from calc.base.sheet import amount, plain_text, round_text, with_unit
from calc.base.units import UnitError, convert, parse_number, same_kind, units_like
from calc.fill.cure import read_safe
from calc.fill.hole import hole_area
from calc.job.doses import Worked, work
from calc.job.jobfile import Job
from calc.job.problems import InputErrors, Problem, nearest, without_value
from calc.job.schedule import LENGTH_UNITS, LONGEST_MARK, LONGEST_NOTE, decode, read_bytes, split_records, tidy
from calc.job.wholejob import chosen_case

By = Literal["hole", "group"]
# Up to this number of holes the record has a line for each; about a dozen sheets of paper.
MOST_BY_HOLE = 300
_LONGEST_NAME = 60

PLANNED = ("planned_depth", "planned_dose", "planned_strokes")
TEXTS = ("batch", "initials", "note")
COLUMNS = (
    *("mark", "hole", "bar", *PLANNED, "date", "batch", "expiry", "concrete_temperature", "pack_temperature", "depth", "cleaned"),
    *("dose", "strokes", "injected", "set", "initials", "note"),
)
_NEEDED = ("mark", "hole", "date", "batch", "expiry", "concrete_temperature", "pack_temperature", "depth", "cleaned", "injected", "set", "initials")
_DONE = tuple(name for name in COLUMNS if name not in ("mark", "hole", "bar", *PLANNED, "note"))
_TITLE = re.compile(r"(?P<name>[^\[\]]*?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
_HOLES = re.compile(r"(\d{1,7})(?: to (\d{1,7}))?", re.ASCII)
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::[0-5]\d)?", re.ASCII)
_DAY = 1440.0

SHORT_RULE = (
    "Pull the bar, add adhesive and set the bar again while the adhesive is workable (Ohio DOT specification 510); "
    "after that leave the bar alone, mark it, and let the engineer decide."
)
# What is found, in the order in which it is told: title, and what to do about it.
KINDS: Mapping[str, tuple[str, str]] = {
    "short": ("short of adhesive", SHORT_RULE),
    "late": ("set after the working time", "The adhesive may have gelled before the bar was home: mark the bar, and let the engineer decide."),
    "expired": ("expired packs", "Set the batch aside, keep it, and let the engineer decide on these bars; the approval's date governs."),
    "temperature": ("outside the temperature range", "The approval's range governs: mark the bars, and let the engineer decide."),
    "depth": ("hole not deep enough", "The bar is not embedded as planned: compare with the mark on the bar, and let the engineer decide."),
    "uncleaned": ("not cleaned", "Dust in the hole takes the bond away: mark the bars, and let the engineer decide."),
    "missing": ("not recorded at all", "Find out whether the holes were done: a hole without a record counts as not shown to be filled."),
    "incomplete": ("written down in part", "Ask who made the hole, today; do not fill in what nobody saw."),
    "plan": ("recorded against another plan", "Find out which revision the crew worked by; the present one is compared here."),
    "under plan": (
        "below the planned dose, not below what the hole needs",
        "The overfill that was to cover scatter was not given in full: look at the dispenser.",
    ),
}
SERIOUS = tuple(kind for kind in KINDS if kind not in ("plan", "under plan", "incomplete"))


@dataclass(frozen=True)
class _Quantity:
    """A column with numbers: unit inside, units of the header, accepted range in the unit inside."""

    unit: str
    units: tuple[str, ...]
    low: float
    high: float


# Ranges are wide on purpose: they catch a slip of a unit; a value that is merely bad is a finding.
_LENGTH = _Quantity("mm", LENGTH_UNITS, 0.0, 10_500.0)
_VOLUME = _Quantity("mm³", units_like("mL"), 0.0, 2e8)
_TEMPERATURE = _Quantity("°C", units_like("°C"), -60.0, 100.0)
_QUANTITIES: Mapping[str, _Quantity] = {
    "planned_depth": _LENGTH,
    "depth": _LENGTH,
    "planned_dose": _VOLUME,
    "dose": _VOLUME,
    "concrete_temperature": _TEMPERATURE,
    "pack_temperature": _TEMPERATURE,
}
_COUNTS = ("planned_strokes", "strokes")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the record. Lengths [mm], volumes [mm³], temperatures [°C], times [min after midnight]; None was not written down."""

    mark: str
    first: int
    last: int
    row: int
    done: bool
    day: date | None = None
    batch: str = ""
    expiry: date | None = None
    concrete: float | None = None
    pack: float | None = None
    depth: float | None = None
    cleaned: bool | None = None
    dose: float | None = None
    injected: float | None = None
    set: float | None = None
    initials: str = ""
    note: str = ""
    given: Mapping[str, str] = field(default_factory=dict, compare=False)

    @property
    def count(self) -> int:
        """Number of holes that the line stands for."""
        return self.last - self.first + 1

    @property
    def holes(self) -> str:
        """The holes, for a sentence."""
        return f"hole {self.first}" if self.first == self.last else f"holes {self.first} to {self.last}"


@dataclass(frozen=True)
class Finding:
    """Something about holes that somebody has to look at."""

    kind: str
    mark: str
    first: int
    last: int
    row: int
    sentence: str

    @property
    def holes(self) -> int:
        """Number of holes that it is about."""
        return self.last - self.first + 1

    @property
    def advice(self) -> str:
        """What the rules say about it."""
        return KINDS[self.kind][1]


@dataclass(frozen=True)
class GroupSummary:
    """Planned against done for one bar group; volumes [mm³]."""

    mark: str
    planned: int
    done: int
    planned_volume: float
    volume: float
    found: Mapping[str, int]


@dataclass(frozen=True)
class HoleRecord:
    """A hole record that was read, and what is found when it is held against the job."""

    file: str
    lines: tuple[Line, ...]
    findings: tuple[Finding, ...]
    groups: tuple[GroupSummary, ...]
    notices: tuple[str, ...]
    system: Literal["metric", "us"] = "metric"

    @property
    def planned(self) -> int:
        """Holes of the job."""
        return sum(group.planned for group in self.groups)

    @property
    def done(self) -> int:
        """Holes with a record."""
        return sum(group.done for group in self.groups)

    @property
    def passes(self) -> bool:
        """Whether every hole is recorded and nothing was found that decides on a bar."""
        return not any(finding.kind in SERIOUS for finding in self.findings)

    def of(self, kind: str) -> tuple[Finding, ...]:
        """Return the findings of one kind.

        Parameters
        ----------
        kind
            A key of `KINDS`.

        Returns
        -------
        tuple of Finding

        Raises
        ------
        KeyError
            For another kind.
        """
        if kind not in KINDS:
            raise KeyError(f"'{kind}' is no kind of finding; there are: {', '.join(KINDS)}")
        return tuple(finding for finding in self.findings if finding.kind == kind)

    def holes_with(self, kind: str) -> int:
        """Return the number of holes that a kind of finding is about, each hole counted once."""
        spans: dict[str, list[tuple[int, int]]] = {}
        for finding in self.of(kind):
            spans.setdefault(finding.mark, []).append((finding.first, finding.last))
        return sum(_covered(part) for part in spans.values())

    def table(self) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
        """Return the summary as a table: header, and a row for each bar group, volumes in the job's units."""
        kinds = [kind for kind in KINDS if self.of(kind)]
        unit = "in³" if self.system == "us" else "L"
        head = ("Mark", "Holes", "Recorded", f"Planned [{unit}]", f"Recorded [{unit}]", *(KINDS[kind][0] for kind in kinds), "Verdict")
        rows = []
        for group in self.groups:
            volumes = (round_text(convert(value, "mm³", unit), 4) for value in (group.planned_volume, group.volume))
            numbers = (str(group.found.get(kind, 0)) for kind in kinds)
            bad = any(group.found.get(kind, 0) for kind in SERIOUS)
            verdict = "✗ look at it" if bad else "✓ nothing serious found"
            rows.append((group.mark, str(group.planned), str(group.done), *volumes, *numbers, verdict))
        return head, rows

    def sentences(self) -> tuple[str, ...]:
        """Return what a command prints: a headline, every finding, and once for each kind what the rules say."""
        said = [f"{self.done} of {self.planned} holes are recorded."]
        for kind, (title, advice) in KINDS.items():
            found = self.of(kind)
            if found:
                said.append(f"{title.capitalize()}: {_holes(self.holes_with(kind))}. {advice}")
                said += [f"  {finding.sentence}" for finding in found]
        if not self.findings:
            said.append("Nothing was found. The record shows what was written down, not what is in the concrete.")
        return (*said, *self.notices)


# ---- the template ----


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet runs as a formula: an apostrophe stands before a sign that would start one.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    str

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("W3")
    ("'=1+1", 'W3')
    """
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")) else text


def _plain(text: str) -> str:
    """Take off the apostrophe that `safe_text` puts in front."""
    return text[1:] if text.startswith("'") and safe_text(text[1:]) == text else text


def choose_lines(*, holes: int) -> By:
    """Choose whether the record has a line for every hole or for every group.

    Parameters
    ----------
    holes
        Number of holes of the job.

    Returns
    -------
    str
        ``"hole"`` up to `MOST_BY_HOLE` holes, ``"group"`` above.
    """
    return "hole" if holes <= MOST_BY_HOLE else "group"


def dose_unit(job: Job) -> str:
    """Return the unit that the dispenser is set in: the one in which the job file gives its graduation; mL or in³ with strokes."""
    typed = job.origins.get("equipment.graduation", "")
    unit = typed.split(" ", 1)[1].strip() if " " in typed else ""
    return unit if unit and same_kind(unit, "mm³") else ("in³" if job.display.units == "us" else "mL")


def template_columns(job: Job) -> tuple[str, ...]:
    """Return the header of the template, units in square brackets, in the job's units."""
    length, temperature = ("in", "°F") if job.display.units == "us" else ("mm", "°C")
    units = dict.fromkeys(("planned_depth", "depth"), length) | dict.fromkeys(("concrete_temperature", "pack_temperature"), temperature)
    units |= dict.fromkeys(("planned_dose", "dose"), dose_unit(job))
    left_out = ("planned_dose", "dose") if job.equipment.stroke is not None else _COUNTS
    return tuple(f"{name} [{units[name]}]" if name in units else name for name in COLUMNS if name not in left_out)


def template_csv(*, job: Job, worked: Sequence[Worked] | None = None, by: By | None = None) -> str:
    """Return the hole record as CSV with the planned values filled in and the rest empty.

    Parameters
    ----------
    job
        A validated job.
    worked
        Its worked groups; worked out here when they are not at hand.
    by
        A line for every ``"hole"`` or ``"group"``; None chooses by the number of holes.

    Returns
    -------
    str
        Text that `read_hole_record` reads back.
    """
    groups = tuple(worked) if worked is not None else planned_groups(job)
    by = by or choose_lines(holes=sum(one.case.count for one in groups))
    header = template_columns(job)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    blank = [""] * (len(header) - 5)
    length, volume = ("in" if job.display.units == "us" else "mm"), dose_unit(job)
    for one in groups:
        case = one.case
        depth = plain_text(convert(case.embedment + case.overdrill, "mm", length), 6)
        dose = str(one.number) if case.by_strokes else plain_text(convert(one.rounded, "mm³", volume), 7)
        # "1 to 96" and not "1-96", which spreadsheets take for a date.
        names = [str(n) for n in range(1, case.count + 1)] if by == "hole" else [f"1 to {case.count}" if case.count > 1 else "1"]
        writer.writerows([safe_text(case.mark), name, safe_text(case.bar.designation), depth, dose, *blank] for name in names)
    return out.getvalue()


def planned_groups(job: Job) -> tuple[Worked, ...]:
    """Work every bar group with the overfill that the job's rule chooses for it."""
    return tuple(work(chosen_case(job, group)) for group in job.groups)


# ---- reading ----


def read_hole_record(path: str | Path, *, job: Job, worked: Sequence[Worked] | None = None, name: str = "") -> HoleRecord:
    """Read a hole record and hold it against the job.

    Parameters
    ----------
    path
        A CSV file with the columns of `template_csv`; the planned ones may be left out, and units may be others of their kind.
    job
        The job that the holes belong to.
    worked
        Its worked groups; worked out here when they are not at hand.
    name
        What the file is called in sentences; its own name by default.

    Returns
    -------
    HoleRecord
        Lines, findings, and a summary by bar group; volumes [mm³].

    Raises
    ------
    InputErrors
        With everything that cannot be read, row and column each.
    """
    path = Path(path)
    reader = _Reader(name or path.name, job)
    try:
        if path.suffix.lower() in (".xlsx", ".xls", ".ods"):
            reader.stop("is not read here; save the sheet as CSV, UTF-8", path.name)
        text = decode(read_bytes(path))
    except InputErrors as error:
        raise InputErrors(replace(problem, file=reader.file) for problem in error.problems) from None
    lines = reader.read(text)
    if reader.problems:
        raise InputErrors(reader.problems)
    return compare(lines, job=job, worked=tuple(worked) if worked is not None else planned_groups(job), file=reader.file)


class _Reader:
    """Reads one file and collects what is wrong with it."""

    def __init__(self, file: str, job: Job) -> None:
        self.file, self.job = file, job
        self.problems: list[Problem] = []
        self.counts = {group.mark: group.count for group in job.groups}

    def wrong(self, place: str, value: str, message: str) -> None:
        self.problems.append(Problem(self.file, place, value, message))

    def stop(self, message: str, value: str = "", place: str = "") -> None:
        raise InputErrors([*self.problems, Problem(self.file, place, value, message)])

    def read(self, text: str) -> tuple[Line, ...]:
        if "\0" in text:
            self.stop("the file holds a zero byte; accepted: CSV text saved as UTF-8")
        records: list[list[str]] = []
        try:
            records = [cells for _, cells in split_records(text)]
        except csv.Error as error:
            accepted = "accepted: a cell in one pair of marks, a mark inside it doubled"
            self.stop(f"the quotation marks of the row do not match; {accepted}", place=f"row {error.args[1]}")
        if not records or not any(records[0]):
            self.stop(f"there is no record; row 1 must be the header of the template: {', '.join(template_columns(self.job))}")
        header = records[0]
        if len(header) == 1 and (mark := next((m for m in (";", "\t", "|") if m in header[0]), "")):
            words = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}[mark]
            accepted = "accepted: commas between cells and a decimal point in numbers"
            self.stop(f"cannot be split into columns: the cells are separated by {words}; {accepted}", header[0], "row 1")
        columns = self._header(header)
        lines: list[Line] = []
        seen: dict[str, list[tuple[int, int, int]]] = {}
        for number, cells in enumerate(records[1:], start=2):
            if not any(cells):
                continue
            if len(cells) != len(header):
                fewer = "few" if len(cells) < len(header) else "many"
                hint = "; write decimals with a point, and put text that holds a comma in quotation marks" if fewer == "many" else ""
                self.wrong(f"row {number}", "", f"the row has too {fewer} cells: {len(cells)}, and the header has {len(header)}{hint}")
                continue
            row = {column: (_plain(cells[index]), unit) for column, (index, unit) in columns.items()}
            line = self._line(row, number, seen)
            if line is not None:
                lines.append(line)
        return tuple(lines)

    # ---- the header ----

    def _header(self, titles: list[str]) -> dict[str, tuple[int, str]]:
        columns: dict[str, tuple[int, str]] = {}
        blamed: set[str] = set()
        for index, title in enumerate(titles):
            match = _TITLE.fullmatch(title)
            name, unit = (match["name"], match["unit"]) if match else (title, None)
            bare = re.split(r"[\s(\[{]", name)[0]
            if name in columns or name in blamed:
                self.wrong(f"row 1, column {index + 1}", title, "is there twice; accepted: each column once")
            elif name in COLUMNS:
                message = _wrong_unit(name, unit)
                if message:
                    blamed.add(name)
                    self.wrong(f"row 1, column {name}", title, message)
                else:
                    columns[name] = (index, unit or "")
            elif bare in _QUANTITIES:
                blamed.add(bare)
                self.wrong(f"row 1, column {index + 1}", title, _bracket_sentence(bare))
            else:
                near = nearest(name, COLUMNS)
                blamed.update([near] if near else [])
                hint = f"did you mean {near}? " if near else ""
                message = f"is not a column that is read here; {hint}Accepted columns: {', '.join(COLUMNS)}" if title else "the header cell is empty"
                self.wrong(f"row 1, column {index + 1}", title, message)
        named = set(columns) | blamed
        for name in _NEEDED:
            if name not in named:
                self.wrong(f"row 1, column {name}", "", f"the column {name} is missing; add '{_example(name)}' to the header")
        given = named & {"dose", "strokes"}
        if not given:
            self.wrong("row 1", "", "no column says how much was injected; add 'dose [mL]', or strokes when the job has a stroke")
        elif len(given) == 2:
            self.wrong("row 1", "", "dose and strokes stand side by side; accepted: one of them")
        elif "strokes" in columns and self.job.equipment.stroke is None:
            self.wrong("row 1, column strokes", "strokes", f"needs the volume of a stroke, and {self.job.path.name} has a graduation; accepted: 'dose [mL]'")
        return columns

    # ---- one row ----

    def _line(self, row: Mapping[str, tuple[str, str]], number: int, seen: dict[str, list[tuple[int, int, int]]]) -> Line | None:
        before = len(self.problems)
        mark = self._mark(row.get("mark", ("", ""))[0], number)
        span = self._holes(row.get("hole", ("", ""))[0], number, mark, seen)
        values: dict[str, object] = {}
        for name, (text, unit) in row.items():
            if name in ("mark", "hole", "bar"):
                continue
            value, message = _read(name, text, unit)
            if message:
                self.wrong(f"row {number}, column {name}", text, message)
            values[name] = value
        done = any(row[name][0] for name in row if name in _DONE)
        injected, was_set = values.get("injected"), values.get("set")
        if isinstance(injected, float) and isinstance(was_set, float) and (was_set - injected) % _DAY > _DAY / 2:
            message = f"is before the time of injection, {row['injected'][0]}; accepted: a time after it, within twelve hours"
            self.wrong(f"row {number}, column set", row["set"][0], message)
        if len(self.problems) > before or mark is None or span is None:
            return None
        if (strokes := values.get("strokes")) is not None and self.job.equipment.stroke is not None:
            values["dose"] = float(str(strokes)) * self.job.equipment.stroke
        names = {"date": "day", "concrete_temperature": "concrete", "pack_temperature": "pack"}
        kept = {names.get(name, name): value for name, value in values.items() if name not in (*PLANNED, "strokes")}
        given = {name: f"{text} {unit}".strip() for name, (text, unit) in row.items() if text}
        return Line(mark=mark, first=span[0], last=span[1], row=number, done=done, given=given, **kept)  # type: ignore[arg-type]

    def _mark(self, mark: str, number: int) -> str | None:
        if mark in self.counts:
            return mark
        place = f"row {number}, column mark"
        if not mark:
            self.wrong(place, "", f"the cell is empty; write the mark of a bar group, up to {LONGEST_MARK} characters")
            return None
        near = nearest(mark, self.counts)
        hint = f"did you mean {near}? " if near else ""
        self.wrong(place, mark, f"is not a bar group of the schedule; {hint}Accepted: {', '.join([*self.counts][:20])}")
        return None

    def _holes(self, text: str, number: int, mark: str | None, seen: dict[str, list[tuple[int, int, int]]]) -> tuple[int, int] | None:
        place = f"row {number}, column hole"
        accepted = "accepted: a hole's number such as 7, or several such as 1 to 12"
        match = _HOLES.fullmatch(text)
        if match is None:
            self.wrong(place, text, f"is no number of a hole; {accepted}" if text else f"the cell is empty; {accepted}")
            return None
        first, last = int(match[1]), int(match[2] or match[1])
        if first < 1 or last < first:
            self.wrong(place, text, f"does not run upwards from 1; {accepted}")
            return None
        if mark is None:
            return first, last
        if last > self.counts[mark]:
            self.wrong(place, text, f"is beyond the {self.counts[mark]} holes of {mark}; accepted: from 1 to {self.counts[mark]}")
            return None
        # Spans of a mark never overlap, so only the two neighbours can be in the way.
        spans = seen.setdefault(mark, [])
        at = bisect.bisect(spans, (first, last, 0))
        other = next((row for a, b, row in spans[max(at - 1, 0) : at + 1] if first <= b and a <= last), 0)
        if other:
            self.wrong(place, text, f"is in row {other} already; accepted: each hole of {mark} once")
            return None
        spans.insert(at, (first, last, number))
        return first, last


def _example(name: str) -> str:
    units = {"mm³": "mL"}
    return f"{name} [{units.get(_QUANTITIES[name].unit, _QUANTITIES[name].unit)}]" if name in _QUANTITIES else name


def _bracket_sentence(name: str) -> str:
    return f"has no unit in square brackets; write '{_example(name)}'; accepted units: {', '.join(_QUANTITIES[name].units)}"


def _wrong_unit(name: str, unit: str | None) -> str:
    if name not in _QUANTITIES:
        return f"takes no unit; write '{name}'" if unit is not None else ""
    if unit is None:
        return _bracket_sentence(name)
    quantity = _QUANTITIES[name]
    return "" if same_kind(unit, quantity.unit) else f"has the unit [{unit}], which is not read here; accepted units: {', '.join(quantity.units)}"


def _read(name: str, text: str, unit: str) -> tuple[object, str]:
    """Read a cell; return its value (None when it is empty) and what is wrong."""
    if name in TEXTS:
        return text, _wrong_text(name, text)
    if not text:
        return None, ""
    if name in ("date", "expiry"):
        return _read_date(text)
    if name == "cleaned":
        known = {"yes": True, "y": True, "no": False, "n": False}.get(text.casefold())
        return known, "" if known is not None else "is neither yes nor no; accepted: yes, no, or an empty cell when it was not written down"
    if name in ("injected", "set"):
        match = _CLOCK.fullmatch(text)
        return (60.0 * int(match[1]) + int(match[2]), "") if match else (None, "is not a time of day; accepted: hours and minutes of 24, such as 07:45")
    return _read_number(name, text, unit)


def _read_date(text: str) -> tuple[date | None, str]:
    accepted = "accepted: year-month-day, such as 2027-06-30"
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        return None, f"is not a date that has one meaning; {accepted}"
    try:
        return date.fromisoformat(text), ""
    except ValueError:
        return None, f"is no day of the calendar; {accepted}"


def _read_number(name: str, text: str, unit: str) -> tuple[float | None, str]:
    try:
        number = parse_number(text)
    except UnitError as error:
        return None, f"{without_value(str(error))}; {_accepted(name, unit)}"
    if name in _COUNTS:
        return (number, "") if number == int(number) and 0 <= number <= 100_000 else (None, f"is no number of strokes; {_accepted(name, unit)}")
    quantity = _QUANTITIES[name]
    value = tidy(convert(number, unit, quantity.unit))
    if not quantity.low <= value <= quantity.high:
        return None, f"is out of range; {_accepted(name, unit)}"
    return value, ""


def _accepted(name: str, unit: str) -> str:
    if name in _COUNTS:
        return "accepted: a whole number from 0 to 100000"
    quantity = _QUANTITIES[name]
    low, high = (convert(edge, quantity.unit, unit) for edge in (quantity.low, quantity.high))
    return f"accepted: from {low:.6g} to {high:.6g} {unit}"


def _wrong_text(name: str, text: str) -> str:
    longest = LONGEST_NOTE if name == "note" else _LONGEST_NAME
    if len(text) > longest:
        return f"is too long; accepted: up to {longest} characters"
    return "" if text.isprintable() else "has a line break or another character that does not print; accepted: one line of text"


# ---- planned against done ----


def compare(lines: Iterable[Line], *, job: Job, worked: Sequence[Worked], file: str = "hole record") -> HoleRecord:
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
        mark, spans = one.case.mark, [(line.first, line.last) for line in lines if line.done and line.mark == one.case.mark]
        for first, last in _gaps(spans, one.case.count):
            words = f"{mark}, {_span(first, last)}: not in {file}, or on a line that is empty."
            findings.append(Finding("missing", mark, first, last, 0, words))
    order = {kind: i for i, kind in enumerate(KINDS)}
    findings.sort(key=lambda f: (order[f.kind], [*by_mark].index(f.mark), f.first))
    groups = tuple(_summary(one, [line for line in lines if line.mark == one.case.mark], findings) for one in worked)
    return HoleRecord(file, lines, tuple(findings), groups, _notices(job), job.display.units)


def _summary(one: Worked, lines: list[Line], findings: list[Finding]) -> GroupSummary:
    found = Counter[str]()
    for kind in KINDS:
        own = [(f.first, f.last) for f in findings if f.kind == kind and f.mark == one.case.mark]
        if own:
            found[kind] = _covered(own)
    done = [line for line in lines if line.done]
    volume = sum(line.count * line.dose for line in done if line.dose is not None)
    return GroupSummary(one.case.mark, one.case.count, sum(line.count for line in done), one.case.count * one.rounded, volume, dict(found))


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


class _Judge:
    """Holds one line against the plan."""

    def __init__(self, job: Job, one: Worked, line: Line) -> None:
        self.job, self.one, self.line, self.case = job, one, line, one.case
        self.system = job.display.units
        self.found: list[Finding] = []

    def say(self, kind: str, words: str) -> None:
        line = self.line
        self.found.append(Finding(kind, line.mark, line.first, line.last, line.row, f"{line.mark}, {line.holes} (row {line.row}): {words}"))

    def all(self) -> list[Finding]:
        self.dose()
        self.time()
        self.packs()
        self.temperatures()
        self.hole()
        self.completeness()
        self.plan()
        return self.found

    def volume(self, value: float) -> str:
        return amount(value, "mm³", self.system, 4)

    def length(self, value: float) -> str:
        return with_unit(plain_text(convert(value, "mm", "in"), 5), "in") if self.system == "us" else with_unit(plain_text(value, 5), "mm")

    def temperature(self, value: float) -> str:
        unit = "°F" if self.system == "us" else "°C"
        return with_unit(plain_text(convert(value, "°C", unit), 4), unit)

    def dose(self) -> None:
        """A hole drilled deeper than planned needs more than the plan says."""
        line, case = self.line, self.case
        if line.dose is None:
            return
        planned_depth = case.embedment + case.overdrill
        extra = max((line.depth or 0.0) - planned_depth, 0.0)
        bottom = case.measured.diameters[-1] if case.measured else case.hole_diameter
        needed = self.one.required + hole_area(d_0=bottom) * extra
        deeper = f", being {self.length(extra)} deeper than planned" if extra else ""
        if line.dose < needed * (1 - 1e-9):
            share = (1 - line.dose / needed) * 100
            words = f"{self.volume(line.dose)} injected, but the hole needs {self.volume(needed)}{deeper}: {round_text(share, 2)} % short."
            self.say("short", words)
        elif line.dose < self.one.rounded * (1 - 1e-9):
            words = f"{self.volume(line.dose)} injected, {self.volume(self.one.rounded)} planned; the hole needs {self.volume(needed)}{deeper}."
            self.say("under plan", words)

    def time(self) -> None:
        line, table = self.line, self.job.adhesive.working
        if line.injected is None or line.set is None or table is None:
            return
        T = line.concrete if line.concrete is not None else self.job.concrete.temperature
        if T is None:
            return
        where = f"at {self.temperature(T)}" + ("" if line.concrete is not None else " (the job file's; none was written down)")
        try:
            limit = read_safe(table=table, T=T).time
        except RangeError:
            span = f"{self.temperature(table.low)} to {self.temperature(table.high)}"
            self.say("late", f"no working time is known {where}; the record's table covers {span}.")
            return
        taken = (line.set - line.injected) % _DAY
        if taken > limit:
            which = "set" if line.count == 1 else "the last bar was set"
            self.say("late", f"{which} {taken:g} min after {'the ' if line.count == 1 else 'the first '}injection; the working time {where} is {limit:g} min.")

    def packs(self) -> None:
        line = self.line
        limits = [(day, words) for day, words in ((line.expiry, "the pack"), (self.job.adhesive.expiry, self.job.adhesive_path.name)) if day is not None]
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
        if line.depth is not None and line.depth < case.embedment - 1e-6:
            missing = case.embedment - line.depth
            self.say("depth", f"{self.length(line.depth)} deep for an embedment of {self.length(case.embedment)}: {self.length(missing)} too little.")
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
            "depth": line.depth,
            "cleaned": line.cleaned,
            "dose": line.dose,
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
        plan: list[tuple[str, float, str]] = [("planned_depth", case.embedment + case.overdrill, "mm"), ("planned_dose", self.one.rounded, "mm³")]
        for name, value, inside in plan:
            if name in given:
                number, _, unit = given[name].partition(" ")
                typed = convert(parse_number(number), unit, inside)
                if abs(typed - value) > 1e-4 * value:
                    shown = self.length(value) if inside == "mm" else with_unit(plain_text(convert(value, "mm³", unit), 7), unit)
                    self.say("plan", f"{name.replace('_', ' ')} {given[name]} stands there; this job says {shown}.")
        if "planned_strokes" in given and parse_number(given["planned_strokes"]) != self.one.number:
            self.say("plan", f"planned strokes {given['planned_strokes']} stands there; this job says {self.one.number}.")


def _span(first: int, last: int) -> str:
    return f"hole {first}" if first == last else f"holes {first} to {last}"


def _holes(number: int) -> str:
    return f"{number} hole{'s' if number != 1 else ''}"


def _gaps(spans: Iterable[tuple[int, int]], count: int) -> list[tuple[int, int]]:
    """Return the holes from 1 to ``count`` that lie in none of the spans, as spans."""
    found, after = [], 1
    for first, last in sorted(spans):
        if first > after:
            found.append((after, first - 1))
        after = max(after, last + 1)
    return [*found, (after, count)] if after <= count else found


def _covered(spans: Iterable[tuple[int, int]]) -> int:
    """Return the number of holes that lie in at least one of the spans."""
    total, after = 0, 0
    for first, last in sorted(spans):
        total += max(last - max(first, after + 1) + 1, 0)
        after = max(after, last)
    return total
