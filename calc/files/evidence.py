"""Site measurements: a CSV table with one measured hole in each row.

In the order in which the holes were made, read strictly.

The header gives the units in square brackets, as in the bar schedule. A file holds one kind of measurement: the volume
that filled the hole, or the mass with a density, or the hole's diameter and depth. Nothing is guessed; all problems are
collected.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from calc.base.errors import NotListed
from calc.base.formula import RangeError
from calc.base.sheet import Origin
from calc.base.units import convert, parse_quantity, units_like
from calc.evidence.limits import volume_of_mass
from calc.evidence.readings import Kept, leave_out
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.schedule import BarGroup
from calc.files.strict import (
    LENGTH_UNITS,
    LONGEST_MARK,
    LONGEST_NOTE,
    Column,
    Numbers,
    Table,
    tidy,
    with_unit_of,
    wrong_text,
)
from calc.fill.hole import required_volume

_COLUMNS = ("hole", "mark", "volume", "mass", "density", "hole_diameter", "depth", "exclude", "note")
HEADER = "hole,mark,volume [mL],exclude,note"

# What each kind of measurement needs, in the order in which the kinds are told.
_KINDS: dict[str, tuple[str, ...]] = {"volume": ("volume",), "mass": ("mass",), "size": ("hole_diameter", "depth")}
_WORDS = {"volume": "the volume", "mass": "the mass, with its density", "size": "the hole's diameter and depth"}


# Ranges are wide on purpose: they catch a slip of a unit, not an unusual hole.
_NUMBERS: Mapping[str, Numbers] = {
    "volume": Numbers("mm³", units_like("mL"), 0.0, 2e8, above=True, written="mL"),
    "mass": Numbers("g", units_like("g"), 0.0, 5e5, above=True),
    "density": Numbers("g/mL", units_like("g/mL"), 0.2, 10.0),
    "hole_diameter": Numbers("mm", LENGTH_UNITS, 0.0, 200.0, above=True),
    "depth": Numbers("mm", LENGTH_UNITS, 0.0, 10_000.0, above=True),
}
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
    resolution
        What the last printed digits of the row stand for, as a volume [mm³].
    """

    hole: str
    mark: str
    volume: float
    kind: str
    excluded: str = ""
    note: str = ""
    row: int = 0
    given: Mapping[str, str] = field(default_factory=dict, compare=False)
    resolution: float = 0.0


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

    @property
    def resolution(self) -> float:
        """Resolution of the readings [mm³]: the last digit of the row that shows most.

        The others may have lost a nought at their end.
        """
        return min(row.resolution for row in self.rows)

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


# ---- the resolution of a reading -----------------------------------------------------------------


def last_digit(number: str) -> float:
    """Return what the last printed digit of a typed number stands for.

    Parameters
    ----------
    number
        Digits with or without a decimal point, or a fraction.

    Returns
    -------
    float

    Examples
    --------
    >>> last_digit("14"), last_digit("14.0"), last_digit("5-1/8")
    (1.0, 0.1, 0.125)
    """
    if "/" in number:
        return 1 / int(number.rpartition("/")[2])
    digits, _, exponent = number.lower().partition("e")
    return float(f"1e{int(exponent or 0) - len(digits.partition('.')[2])}")


def digit_of(text: str) -> float:
    """Return what the last printed digit of a typed volume stands for [mm³]; raises `UnitError` for anything else.

    Examples
    --------
    >>> digit_of("14.0 mL")
    100.0
    """
    unit = parse_quantity(text, "mm³").unit
    return tidy(convert(last_digit(text.strip().removesuffix(unit).strip()), unit, "mm³"))


def resolution_of(*, job: Job, mark: str, measured: Measurements | None) -> tuple[float, Origin]:
    """Return the resolution of the readings of a group and where it comes from.

    Parameters
    ----------
    job
        The job.
    mark
        A bar group with evidence.
    measured
        Its holes, where a file lists them.

    Returns
    -------
    tuple of float [mm³] and Origin
        As the job file states it; or the last printed digit of the file, or of a volume that the job file states.
    """
    evidence, place = job.evidence[mark], f"{job.path.name}, evidence"
    if evidence.resolution is not None:
        return evidence.resolution, Origin(f"{place}.{mark}.resolution", general=f"{place}.(mark).resolution")
    if measured is not None:
        return measured.resolution, Origin(f"last printed digit in {measured.file}")
    key = next((key for key in ("ordered", "largest") if getattr(evidence, key) is not None), "mean")
    own, general = (f"last printed digit of {place}.{which}.{key}" for which in (mark, "(mark)"))
    return digit_of(job.origins[f"evidence.{mark}.{key}"]), Origin(own, general=general)


# ---- the file ------------------------------------------------------------------------------------


def read_file(job: Job, file: str) -> Measurements:
    """Read a CSV of measured holes in the job's folder; masses without a density take that of the adhesive record.

    Raises `InputErrors`.
    """
    density = None if job.adhesive.density is None else convert(job.adhesive.density, "kg/m³", "g/mL")
    return read_measurements(job.folder / file, job=job, name=file, density=density)


def measured_holes(*, job: Job, mark: str, read: Measurements) -> Measurements:
    """Return a group's holes from the file that its evidence names; raises `InputErrors` when it has none."""
    try:
        return read.of(mark)
    except NotListed as error:
        message = f"{error}; accepted: a file with holes of {mark}, or no key 'file'"
        raise InputErrors([Problem(job.path.name, f"key evidence.{mark}.file", read.file, message)]) from None


def read_measurements(
    path: str | Path, *, job: Job, name: str | None = None, density: float | None = None
) -> Measurements:
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
    rows = reader.read(reader.csv_alone(path))
    if reader.problems:
        raise InputErrors(reader.problems)
    return Measurements(reader.file, reader.kind, rows, reader.sha256)


class _Reader(Table):
    """Reads one file of measurements."""

    def __init__(self, file: str, job: Job, density: float | None) -> None:
        super().__init__(file, _COLUMNS, _NUMBERS)
        self.job, self.density = job, density
        self.kind = ""
        if density is not None and not _NUMBERS["density"].low <= density <= _NUMBERS["density"].high:
            self.stop(f"is out of range; {_NUMBERS['density'].accepted('g/mL')}", f"{density:g} g/mL", "density")

    def read(self, records: list[list[str]]) -> tuple[Measurement, ...]:
        if not records or not any(records[0]):
            self.stop(f"there are no measurements; row 1 must be a header such as {HEADER}")
        columns = self.header(records[0])
        self._complete()
        rows: list[Measurement] = []
        seen: dict[tuple[str, str], int] = {}
        for number, cells in self.rows(records):
            row = self._row({name: cells[column.index] for name, column in columns.items()}, columns, number)
            if row is None:
                continue
            first = seen.setdefault((row.mark, row.hole), number)
            if first != number:
                message = (
                    f"is already the hole of row {first}, mark {row.mark}; accepted: a name that no other hole of the"
                    " mark has"
                )
                self.wrong(f"row {number}, column hole", row.hole, message)
            rows.append(row)
        if not any(map(any, records[1:])):
            self.wrong(
                "",
                "",
                "there are no measurements below the header; accepted: one row for each measured hole, at least 1",
            )
        for mark in dict.fromkeys(row.mark for row in rows):
            if all(row.excluded for row in rows if row.mark == mark):
                self.wrong("column exclude", "", f"every hole of {mark} is left out; at least 1 must stay")
        return tuple(rows)

    def _complete(self) -> None:
        """Find out what was measured, and say what is missing."""
        self.owed(("hole", "mark"))
        found = [kind for kind, needs in _KINDS.items() if self.named & set(needs)]
        if not found:
            ways = "'volume [mL]', or 'mass [g]' with 'density [g/mL]', or 'hole_diameter [mm]' and 'depth [mm]'"
            self.wrong("row 1", "", f"no column says what was measured; accepted: {ways}")
        elif len(found) > 1:
            mixed = " and ".join(_WORDS[kind] for kind in found)
            self.wrong(
                "row 1",
                "",
                f"two ways of measuring stand side by side: {mixed}; accepted: one way in one file, since each scatters"
                " in its own way",
            )
        else:
            self.kind = found[0]
            self.owed(_KINDS[self.kind])
        if "density" in self.named and "mass" not in self.named and found:
            self.wrong(
                "row 1, column density", "density", "stands without a mass; add 'mass [g]' or take the density away"
            )
        if found == ["mass"] and "density" not in self.named and self.density is None:
            message = (
                "a mass needs the density of the mixed adhesive; add 'density [g/mL]' to the header, or give it for the"
                " whole file"
            )
            self.wrong("row 1, column density", "", message)

    # ---- one row ----

    def _row(self, cells: Mapping[str, str], columns: Mapping[str, Column], number: int) -> Measurement | None:
        before = len(self.problems)
        units = {name: column.unit or "" for name, column in columns.items()}
        for name in ("hole", "mark", "exclude", "note"):
            if name in cells and (message := _wrong_text(name, cells[name])):
                self.wrong(f"row {number}, column {name}", cells[name], message)
        mark = cells.get("mark", "")
        group = (
            self.job.group(mark)
            if mark and self.known_mark(mark, number, [one.mark for one in self.job.groups])
            else None
        )
        values: dict[str, float] = {}
        for name in (n for n in _NUMBERS if n in cells):
            if name == "density" and not cells[name] and self.density is not None:
                continue
            values[name], message = _NUMBERS[name].read(cells[name], units[name])
            if message:
                self.wrong(f"row {number}, column {name}", cells[name], message)
        volume = (
            self._volume(values, cells, units, group, number)
            if len(self.problems) == before and group is not None and self.kind
            else None
        )
        if volume is None or "hole" not in cells or group is None:
            return None
        given = {name: with_unit_of(text, units[name]) for name, text in cells.items()}
        step = self._step(values, cells, units, group)
        return Measurement(
            cells["hole"],
            group.mark,
            volume,
            self.kind,
            cells.get("exclude", ""),
            cells.get("note", ""),
            number,
            given,
            step,
        )

    def _step(
        self, values: Mapping[str, float], cells: Mapping[str, str], units: Mapping[str, str], group: BarGroup
    ) -> float:
        """What the last printed digits of a row stand for, as a volume [mm³]; those of diameter and depth together."""
        digits = {
            name: convert(last_digit(cells[name].removesuffix(units[name]).strip()), units[name], _NUMBERS[name].unit)
            for name in ("volume", "mass", "hole_diameter", "depth")
            if name in values
        }
        if self.kind == "volume":
            return tidy(digits["volume"])
        if self.kind == "mass":
            density = values.get("density", self.density)
            assert density is not None
            return tidy(convert(float(volume_of_mass(mass=digits["mass"], density=density)), "mL", "mm³"))
        diameter, over = values["hole_diameter"], max(values["depth"] - group.embedment, 0.0)
        here = self._required(group, diameter, over)
        wider = self._required(group, diameter + digits["hole_diameter"], over)
        deeper = self._required(group, diameter, over + digits["depth"])
        return tidy(math.hypot(wider - here, deeper - here))

    def _required(self, group: BarGroup, diameter: float, overdrill: float) -> float:
        sizes = {"d_0": diameter, "phi": group.bar.diameter, "l_v": group.embedment, "overdrill": overdrill}
        return float(required_volume(**sizes, theta=self.job.equipment.point_angle))

    def _volume(
        self,
        values: Mapping[str, float],
        cells: Mapping[str, str],
        units: Mapping[str, str],
        group: BarGroup,
        number: int,
    ) -> float | None:
        """Volume that the hole needed [mm³]."""
        if any(name not in values for name in _KINDS[self.kind]):
            return None
        if self.kind == "volume":
            return values["volume"]
        if self.kind == "mass":
            density = values.get("density", self.density)
            return (
                None
                if density is None
                else tidy(convert(float(volume_of_mass(mass=values["mass"], density=density)), "mL", "mm³"))
            )
        return self._of_size(values, cells, units, group, number)

    def _of_size(
        self,
        values: Mapping[str, float],
        cells: Mapping[str, str],
        units: Mapping[str, str],
        group: BarGroup,
        number: int,
    ) -> float | None:
        """Volume that a hole of this diameter and depth needs with the bar home.

        The depth is that of the full-diameter hole.
        """
        diameter, depth = values["hole_diameter"], values["depth"]
        fits: list[tuple[str, bool, str, float]] = [
            (
                "hole_diameter",
                diameter > group.bar.diameter + _NOISE,
                f"is not larger than the bar {group.bar.designation} of {group.mark}",
                group.bar.diameter,
            ),
            (
                "depth",
                depth >= group.embedment - _NOISE,
                f"is less than the embedment of {group.mark}",
                group.embedment,
            ),
        ]
        for name, fine, message, least in fits:
            if not fine:
                edge = f"{convert(least, 'mm', units[name]):.6g} {units[name]}"
                accepted = (
                    f"a hole above {edge}"
                    if name == "hole_diameter"
                    else f"{edge} or more, down to the end of the full-diameter hole"
                )
                self.wrong(f"row {number}, column {name}", cells[name], f"{message}, {edge}; accepted: {accepted}")
        if not all(fine for _, fine, _, _ in fits):
            return None
        try:
            return self._required(group, diameter, max(depth - group.embedment, 0.0))
        except RangeError as error:
            self.wrong(f"row {number}", "", f"the volume of the hole cannot be computed: {error}")
            return None


def _wrong_text(name: str, text: str) -> str:
    longest = LONGEST_MARK if name in ("hole", "mark") else LONGEST_NOTE
    if name in ("hole", "mark") and not text:
        example = "a name or number for the hole" if name == "hole" else "the mark of its bar group"
        return f"the cell is empty; write {example}, up to {longest} characters"
    return wrong_text(text, longest)
