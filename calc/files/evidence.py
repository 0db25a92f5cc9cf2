"""Site measurements: a CSV table with one measured hole in each row, in the order in which the holes were made, read strictly.

The header gives the units in square brackets, as in the bar schedule. A file holds one kind of measurement: the volume that
filled the hole, or the mass with a density, or the hole's diameter and depth. Nothing is guessed; all problems are collected.
"""

from __future__ import annotations

import csv
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from calc.base.errors import NotListed
from calc.base.formula import RangeError
from calc.base.units import UnitError, convert, parse_number, parse_quantity, same_kind, units_like
from calc.evidence.limits import volume_of_mass
from calc.evidence.readings import Kept, leave_out, ratios
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem, nearest, without_value
from calc.files.schedule import (
    LENGTH_UNITS,
    LONGEST_MARK,
    LONGEST_NOTE,
    BarGroup,
    decode,
    read_bytes,
    split_records,
    tidy,
)
from calc.fill.hole import required_volume

COLUMNS = ("hole", "mark", "volume", "mass", "density", "hole_diameter", "depth", "exclude", "note")
HEADER = "hole,mark,volume [mL],exclude,note"

# What each kind of measurement needs, in the order in which the kinds are told.
KINDS: dict[str, tuple[str, ...]] = {"volume": ("volume",), "mass": ("mass",), "size": ("hole_diameter", "depth")}
_WORDS = {"volume": "the volume", "mass": "the mass, with its density", "size": "the hole's diameter and depth"}


@dataclass(frozen=True)
class _Quantity:
    """A column with numbers: unit inside, units of the header, accepted range in the unit inside."""

    unit: str
    units: tuple[str, ...]
    low: float
    high: float


# Ranges are wide on purpose: they catch a slip of a unit, not an unusual hole.
_QUANTITIES: dict[str, _Quantity] = {
    "volume": _Quantity("mm³", units_like("mL"), 0.0, 2e8),
    "mass": _Quantity("g", units_like("g"), 0.0, 5e5),
    "density": _Quantity("g/mL", units_like("g/mL"), 0.2, 10.0),
    "hole_diameter": _Quantity("mm", LENGTH_UNITS, 0.0, 200.0),
    "depth": _Quantity("mm", LENGTH_UNITS, 0.0, 10_000.0),
}
_TITLE = re.compile(r"(?P<name>[^\[\]]*?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
_NOISE = 1e-6  # mm


@dataclass(frozen=True, slots=True)
class Measurement:
    """One measured hole.

    Parameters
    ----------
    hole
        Name or number of the hole, each once for its mark.
    mark
        Its bar group.
    volume
        Volume that the hole needed [mm³].
    kind
        ``"volume"``, ``"mass"`` or ``"size"``: what was measured.
    excluded
        Reason for leaving the hole out; empty when it is kept.
    note
        Free text.
    row
        Row of the spreadsheet; the header is row 1.
    given
        Column to text as typed, with the unit.
    """

    hole: str
    mark: str
    volume: float
    kind: str
    excluded: str = ""
    note: str = ""
    row: int = 0
    given: Mapping[str, str] = field(default_factory=dict, compare=False)


@dataclass(frozen=True)
class Measurements:
    """Measured holes in run order, the file that they come from, and its SHA-256."""

    file: str
    kind: str
    rows: tuple[Measurement, ...]
    sha256: str = ""

    @property
    def marks(self) -> tuple[str, ...]:
        """The bar groups that were measured, each once, in the order of the file."""
        return tuple(dict.fromkeys(row.mark for row in self.rows))

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the holes; with the mark in front where there are several marks."""
        return tuple(row.hole if len(self.marks) == 1 else f"{row.mark} {row.hole}" for row in self.rows)

    @property
    def reasons(self) -> dict[str, str]:
        """Name to reason of the holes that are left out."""
        return {name: row.excluded for name, row in zip(self.names, self.rows, strict=True) if row.excluded}

    def of(self, mark: str) -> Measurements:
        """Return the holes of one bar group; raises `NotListed` when none was measured."""
        rows = tuple(row for row in self.rows if row.mark == mark)
        if not rows:
            raise NotListed(f"{self.file} holds no measured hole of '{mark}'; it holds: {', '.join(self.marks)}")
        return replace(self, rows=rows)

    def volumes(self, unit: str = "mL") -> tuple[float, ...]:
        """Return all measured volumes in run order, those left out as well."""
        return tuple(tidy(convert(row.volume, "mm³", unit)) for row in self.rows)

    def kept(self, unit: str = "mL") -> Kept:
        """Return the volumes that are kept, and those left out with their reasons."""
        return leave_out(values=self.volumes(unit), names=self.names, reasons=self.reasons)


def nominal_volume(*, job: Job, mark: str) -> float:
    """Volume that the nominal sizes of a bar group require.

    Parameters
    ----------
    job
        The job.
    mark
        The bar group.

    Returns
    -------
    float [mm³]

    Raises
    ------
    NotListed
        No bar group has this mark.
    """
    return _required(job.group(mark), job, job.group(mark).hole_diameter, job.group(mark).overdrill)


def nominal_ratios(*, measured: Measurements, job: Job) -> tuple[float, ...]:
    """Each measured volume as a share of what the nominal sizes of its own group require, to look at several groups together.

    Parameters
    ----------
    measured
        Measured holes.
    job
        The job.

    Returns
    -------
    tuple of float [-]
        In run order, those left out as well.
    """
    nominal = {mark: nominal_volume(job=job, mark=mark) for mark in measured.marks}
    return ratios(values=[row.volume for row in measured.rows], V_req=[nominal[row.mark] for row in measured.rows])


def _required(group: BarGroup, job: Job, diameter: float, overdrill: float) -> float:
    return float(required_volume(d_0=diameter, phi=group.bar.diameter, l_v=group.embedment, overdrill=overdrill, theta=job.equipment.point_angle))


# ---- the file ------------------------------------------------------------------------------------------------------------


def read_measurements(path: str | Path, *, job: Job, name: str | None = None, density: float | None = None) -> Measurements:
    """Read the site measurements of a job.

    Parameters
    ----------
    path
        A ``.csv`` file, UTF-8; the order of its rows is the run order.
    job
        The job whose bar groups the marks name.
    name
        What a `Problem` calls the file; its own name by default.
    density
        Density of the mixed adhesive [g/mL], for masses without a density of their own.

    Returns
    -------
    Measurements
        Volumes in [mm³].

    Raises
    ------
    InputErrors
        With everything that is wrong in the file, row and column each.
    """
    path = Path(path)
    reader = _Reader(name or path.name, job, density)
    try:
        data = read_bytes(path)
        text = (
            decode(data) if path.suffix.lower() not in (".xlsx", ".xls", ".ods") else reader.stop("is not read here; save the sheet as CSV, UTF-8", path.name)
        )
    except InputErrors as error:
        raise InputErrors(replace(problem, file=reader.file) for problem in error.problems) from None
    rows = reader.read(text)
    if reader.problems:
        raise InputErrors(reader.problems)
    return Measurements(reader.file, reader.kind, rows, hashlib.sha256(data).hexdigest())


class _Reader:
    """Reads one file and collects what is wrong with it."""

    def __init__(self, file: str, job: Job, density: float | None) -> None:
        self.file, self.job, self.density = file, job, density
        self.problems: list[Problem] = []
        self.kind = ""
        quantity = _QUANTITIES["density"]
        if density is not None and not quantity.low <= density <= quantity.high:
            raise InputErrors([Problem(file, "density", f"{density:g} g/mL", f"is out of range; {_accepted(quantity, 'g/mL')}")])

    def wrong(self, place: str, value: str, message: str) -> None:
        self.problems.append(Problem(self.file, place, value, message))

    def stop(self, message: str, value: str = "") -> str:
        raise InputErrors([*self.problems, Problem(self.file, "", value, message)])

    def read(self, text: str) -> tuple[Measurement, ...]:
        if "\0" in text:
            self.stop("the file holds a zero byte; accepted: CSV text saved as UTF-8")
        try:
            records = [cells for _, cells in split_records(text)]
        except csv.Error as error:
            accepted = "accepted: a cell in one pair of marks, a mark inside it doubled"
            raise InputErrors([Problem(self.file, f"row {error.args[1]}", "", f"the quotation marks of the row do not match; {accepted}")]) from None
        if not records or not any(records[0]):
            self.stop(f"there are no measurements; row 1 must be a header such as {HEADER}")
        header = records[0]
        if len(header) == 1 and (mark := next((m for m in (";", "\t", "|") if m in header[0]), "")):
            words = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}[mark]
            message = f"cannot be split into columns: the cells are separated by {words}; accepted: commas between cells and a decimal point in numbers"
            raise InputErrors([Problem(self.file, "row 1", header[0], message)])
        columns = self._header(header)
        units = {column: unit for column, (_, unit) in columns.items()}
        rows: list[Measurement] = []
        filled, seen = 0, dict[tuple[str, str], int]()
        for number, cells in enumerate(records[1:], start=2):
            if not any(cells):
                continue
            filled += 1
            if len(cells) != len(header):
                fewer = "few" if len(cells) < len(header) else "many"
                hint = "; write decimals with a point, and put text that holds a comma in quotation marks" if fewer == "many" else ""
                self.wrong(f"row {number}", "", f"the row has too {fewer} cells: {len(cells)}, and the header has {len(header)}{hint}")
                continue
            row = self._row({column: cells[index] for column, (index, _) in columns.items()}, units, number)
            if row is None:
                continue
            first = seen.setdefault((row.mark, row.hole), number)
            if first != number:
                message = f"is already the hole of row {first}, mark {row.mark}; accepted: a name that no other hole of the mark has"
                self.wrong(f"row {number}, column hole", row.hole, message)
            rows.append(row)
        if not filled:
            self.wrong("", "", "there are no measurements below the header; accepted: one row for each measured hole, at least 1")
        for mark in dict.fromkeys(row.mark for row in rows):
            if all(row.excluded for row in rows if row.mark == mark):
                self.wrong("column exclude", "", f"every hole of {mark} is left out; at least 1 must stay")
        return tuple(rows)

    # ---- the header ----

    def _header(self, titles: list[str]) -> dict[str, tuple[int, str]]:
        """Read the header: name of the column to its position and unit."""
        columns: dict[str, tuple[int, str]] = {}
        blamed: set[str] = set()
        for index, title in enumerate(titles):
            match = _TITLE.fullmatch(title)
            name, unit = (match["name"], match["unit"]) if match else (title, None)
            place = f"row 1, column {index + 1}"
            bare = re.split(r"[\s(\[{]", name)[0]
            if name in columns or name in blamed:
                self.wrong(place, title, "is there twice; accepted: each column once")
            elif name in COLUMNS:
                message = _wrong_unit(name, unit)
                if message:
                    blamed.add(name)
                    self.wrong(f"row 1, column {name}", title, message)
                else:
                    columns[name] = (index, unit or "")
            elif bare in _QUANTITIES:  # such as "volume (mL)": the name is right, the unit is not in square brackets
                blamed.add(bare)
                self.wrong(place, title, _bracket_sentence(bare))
            else:
                near = nearest(name, COLUMNS)
                blamed.update([near] if near else [])
                hint = f"did you mean {near}? " if near else ""
                self.wrong(
                    place, title, f"is not a column that is read here; {hint}Accepted columns: {', '.join(COLUMNS)}" if title else "the header cell is empty"
                )
        self._complete(columns, set(columns) | blamed)
        return columns

    def _complete(self, columns: Mapping[str, tuple[int, str]], named: set[str]) -> None:
        """Find out what was measured, and say what is missing."""
        for name in ("hole", "mark"):
            if name not in named:
                self.wrong(f"row 1, column {name}", "", f"the column {name} is missing; add '{name}' to the header")
        found = [kind for kind, needs in KINDS.items() if named & set(needs)]
        if not found:
            ways = "'volume [mL]', or 'mass [g]' with 'density [g/mL]', or 'hole_diameter [mm]' and 'depth [mm]'"
            self.wrong("row 1", "", f"no column says what was measured; accepted: {ways}")
        elif len(found) > 1:
            mixed = " and ".join(_WORDS[kind] for kind in found)
            self.wrong("row 1", "", f"two ways of measuring stand side by side: {mixed}; accepted: one way in one file, since each scatters in its own way")
        else:
            self.kind = found[0]
            for name in KINDS[self.kind]:
                if name not in named:
                    self.wrong(f"row 1, column {name}", "", f"the column {name} is missing; add '{_example(name)}' to the header")
        if "density" in named and "mass" not in named and found:
            self.wrong("row 1, column density", "density", "stands without a mass; add 'mass [g]' or take the density away")
        if found == ["mass"] and "density" not in named and self.density is None:
            self.wrong(
                "row 1, column density", "", "a mass needs the density of the mixed adhesive; add 'density [g/mL]' to the header, or give it for the whole file"
            )

    # ---- one row ----

    def _row(self, cells: Mapping[str, str], units: Mapping[str, str], number: int) -> Measurement | None:
        before = len(self.problems)
        for name in ("hole", "mark", "exclude", "note"):
            if name in cells and (message := _wrong_text(name, cells[name])):
                self.wrong(f"row {number}, column {name}", cells[name], message)
        group = self._group(cells.get("mark", ""), number)
        values: dict[str, float] = {}
        for name in (n for n in _QUANTITIES if n in cells):
            if name == "density" and not cells[name] and self.density is not None:
                continue
            value, message = _read(cells[name], _QUANTITIES[name], units[name])
            if message:
                self.wrong(f"row {number}, column {name}", cells[name], message)
            else:
                values[name] = value
        volume = self._volume(values, cells, units, group, number) if len(self.problems) == before and group is not None and self.kind else None
        if volume is None or "hole" not in cells or group is None:
            return None
        given = {name: f"{text} {units[name]}" if units[name] and text and not text.endswith(units[name]) else text for name, text in cells.items()}
        return Measurement(cells["hole"], group.mark, volume, self.kind, cells.get("exclude", ""), cells.get("note", ""), number, given)

    def _group(self, mark: str, number: int) -> BarGroup | None:
        if not mark:
            return None
        try:
            return self.job.group(mark)
        except NotListed:
            marks = [group.mark for group in self.job.groups]
            near = nearest(mark, marks)
            hint = f"did you mean {near}? " if near else ""
            self.wrong(f"row {number}, column mark", mark, f"is not a bar group of the schedule; {hint}Accepted: {', '.join(marks[:20])}")
            return None

    def _volume(self, values: Mapping[str, float], cells: Mapping[str, str], units: Mapping[str, str], group: BarGroup, number: int) -> float | None:
        """Volume that the hole needed [mm³]."""
        if any(name not in values for name in KINDS[self.kind]):
            return None
        if self.kind == "volume":
            return values["volume"]
        if self.kind == "mass":
            density = values.get("density", self.density)
            return None if density is None else tidy(convert(float(volume_of_mass(mass=values["mass"], density=density)), "mL", "mm³"))
        return self._of_size(values, cells, units, group, number)

    def _of_size(self, values: Mapping[str, float], cells: Mapping[str, str], units: Mapping[str, str], group: BarGroup, number: int) -> float | None:
        """Volume that a hole of this diameter and depth needs with the bar home; the depth is that of the full-diameter hole."""
        diameter, depth = values["hole_diameter"], values["depth"]
        fits: list[tuple[str, bool, str, float]] = [
            (
                "hole_diameter",
                diameter > group.bar.diameter + _NOISE,
                f"is not larger than the bar {group.bar.designation} of {group.mark}",
                group.bar.diameter,
            ),
            ("depth", depth >= group.embedment - _NOISE, f"is less than the embedment of {group.mark}", group.embedment),
        ]
        for name, fine, message, least in fits:
            if not fine:
                edge = f"{convert(least, 'mm', units[name]):.6g} {units[name]}"
                accepted = f"a hole above {edge}" if name == "hole_diameter" else f"{edge} or more, down to the end of the full-diameter hole"
                self.wrong(f"row {number}, column {name}", cells[name], f"{message}, {edge}; accepted: {accepted}")
        if not all(fine for _, fine, _, _ in fits):
            return None
        try:
            return _required(group, self.job, diameter, max(depth - group.embedment, 0.0))
        except RangeError as error:
            self.wrong(f"row {number}", "", f"the volume of the hole cannot be computed: {error}")
            return None


# ---- single cells --------------------------------------------------------------------------------------------------------


def _example(name: str) -> str:
    unit = "mL" if name == "volume" else _QUANTITIES[name].unit
    return f"{name} [{unit}]"


def _bracket_sentence(name: str) -> str:
    return f"has no unit in square brackets; write '{_example(name)}'; accepted units: {', '.join(_QUANTITIES[name].units)}"


def _wrong_unit(name: str, unit: str | None) -> str:
    if name not in _QUANTITIES:
        return f"takes no unit; write '{name}'" if unit is not None else ""
    if unit is None:
        return _bracket_sentence(name)
    if not same_kind(unit, _QUANTITIES[name].unit):
        return f"has the unit [{unit}], which is not read here; accepted units: {', '.join(_QUANTITIES[name].units)}"
    return ""


def _accepted(quantity: _Quantity, unit: str) -> str:
    low, high = (convert(edge, quantity.unit, unit) for edge in (quantity.low, quantity.high))
    return f"accepted: {'above 0 up' if not low else f'from {low:.6g}'} to {high:.6g} {unit}"


def _read(text: str, quantity: _Quantity, unit: str) -> tuple[float, str]:
    """Read a cell; return the value in the unit inside and nothing, or NaN and what is wrong."""
    nothing, accepted = float("nan"), _accepted(quantity, unit)
    if not text:
        return nothing, f"the cell is empty; write a number; {accepted}"
    try:
        number = _number(text, unit)
    except UnitError as error:
        return nothing, f"{without_value(str(error))}; {accepted}"
    value = tidy(convert(number, unit, quantity.unit))
    if value <= 0:
        return nothing, f"is {'negative' if value < 0 else 'zero'}; {accepted}"
    if not quantity.low <= value <= quantity.high:
        return nothing, f"is too {'small' if value < quantity.low else 'large'}; {accepted}"
    return value, ""


def _number(text: str, unit: str) -> float:
    """Read a bare number, or one with the unit of the header; any other unit would mix units in a column."""
    try:
        return parse_number(text)
    except UnitError as error:
        if not re.search(r"\d.*[^\d\s.,/+-]", text) or re.fullmatch(r"[+-]?\d.*[eE][+-]?\d+", text):
            raise error
    quantity = parse_quantity(text, unit)
    if quantity.unit != unit:
        raise UnitError(f"'{text}' has the unit {quantity.unit}, but the header of this column says [{unit}]; write all cells of a column in one unit")
    return quantity.value


def _wrong_text(name: str, text: str) -> str:
    longest = LONGEST_MARK if name in ("hole", "mark") else LONGEST_NOTE
    if name in ("hole", "mark") and not text:
        example = "a name or number for the hole" if name == "hole" else "the mark of its bar group"
        return f"the cell is empty; write {example}, up to {longest} characters"
    if len(text) > longest:
        return f"is too long; accepted: up to {longest} characters"
    if not text.isprintable():
        return "has a line break or another character that does not print; accepted: one line of text"
    return ""
