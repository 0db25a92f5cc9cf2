"""What a reviewer does with a package.

Open it, follow a result back to the inputs, work a step again with other values.

A package may come from anybody. Its steps are read as data; a formula is looked up among those of the installed calc by
id, and what is typeset is always the installed formula.
"""

from __future__ import annotations

import atexit
import shutil
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

import calc
from calc.base.canonical import DIGITS
from calc.base.display import Display, display_of, with_unit
from calc.base.errors import CalcError
from calc.base.formula import Formula
from calc.base.identity import number_of
from calc.base.nomenclature import NOMENCLATURE
from calc.base.sheet import ROW, Check, Found, Given, Origin, Step, apply
from calc.base.units import UnitError, parse_number, parse_quantity
from calc.files.job import Job, copy_files, demo_job
from calc.package.build import default_out, put_manifest, put_numbers
from calc.package.manifest import MANIFEST, Made, Package, PackageError, shown, software, unpacked
from calc.package.typesetting import every_formula
from calc.review.compare import Comparison, compare, same
from calc.review.recheck import TAMPERED, UNREADABLE, Verdict, recheck, what_if
from calc.work.load import load_job
from calc.work.places import located, tried
from calc.work.results import compute
from calc.work.save import save_group, save_values
from calc.work.trace import Trace, numbers_of, unit_of_key
from calc.work.tracekeys import INPUT

_PRACTICE_MARK, _PRACTICE_HOLE = "W4", "28"
_STEPS, _CHECKS = TypeAdapter(tuple[Step, ...]), TypeAdapter(tuple[Check, ...])
_FOUND = TypeAdapter(tuple[Found, ...])
_GROUPS, _TOTALS, _SHEETS = (
    TypeAdapter(list[dict[str, Any]]),
    TypeAdapter(dict[str, Any]),
    TypeAdapter(list[dict[str, Any]]),
)


@cache
def known_formulas() -> Mapping[str, Formula]:
    """Return the formulas of the installed calc by id."""
    return {one.id: one for one in every_formula()}


@dataclass(frozen=True)
class Redone:
    """A step of a package and the same step as the installed formula works it.

    ``step`` is None where that is not possible, and ``why`` says why.

    ``room`` is how far rounded inputs may move the result, and ``text`` is how the package's own value is written.
    """

    packaged: Step
    step: Step | None
    why: str = ""
    changed: tuple[str, ...] = ()
    room: float = 0.0
    text: str = ""

    @property
    def agrees(self) -> bool:
        """Whether the installed formula gives the package's value."""
        if self.step is None or self.step.unit != self.packaged.unit:
            return False
        return same(self.packaged.value, self.step.value) or abs(self.packaged.value - self.step.value) <= self.room

    @property
    def misprints(self) -> list[str]:
        """What the package shows otherwise than its own numbers come out when they are written."""
        if self.step is None or self.changed:
            return []
        pairs = [(self.packaged.symbol, self.packaged.shown, self.text)] if self.agrees else []
        inputs = {one.name: one.shown for one in self.step.inputs}
        pairs += [(one.name, one.shown, inputs.get(one.name, "")) for one in self.packaged.inputs]
        return [
            f"{shown(name, 40)} is shown as {shown(there, 60)} and is {here}"
            for name, there, here in pairs
            if there != here
        ]

    @property
    def words(self) -> str:
        """Say in a sentence what came out."""
        if self.step is None:
            return f"Not worked here: {self.why}."
        if self.misprints:
            return f"The package shows other numbers than it holds: {'; '.join(self.misprints)}."
        if not self.changed:
            found = (
                "the same value"
                if self.agrees
                else f"{self.step.shown}, where the package has {shown(self.packaged.shown, 60)}"
            )
            return f"Worked here from the package's own inputs: {found}."
        share = (
            ""
            if not self.packaged.value
            else f" ({(self.step.value - self.packaged.value) / abs(self.packaged.value):+.2%})"
        )
        return f"With {', '.join(self.changed)}: {self.step.shown} in place of {shown(self.packaged.shown, 60)}{share}."


def _by(one: Mapping[str, Any]) -> str:
    """Say what a number is that is no step, and which notebook says more."""
    return f"{one['otherwise']}{'; notebook ' + number_of(one['notebook']) if one['notebook'] else ''}"


@dataclass(frozen=True)
class Answer:
    """One number of results.json in words, and the id of the step that it is; without a step, where it comes from."""

    text: str
    step: str = ""
    note: str = ""


@dataclass(frozen=True)
class Whence:
    """One input of a step: where it comes from, and the step that it is the result of, if it is one."""

    name: str
    shown: str
    origin: str
    step: str = ""


@dataclass(frozen=True)
class Review:
    """A package under review."""

    package: Package
    verdict: Verdict
    practice: bool = False

    @cached_property
    def _sheets(self) -> list[Mapping[str, Any]]:
        found: list[Mapping[str, Any]] = _read(_SHEETS, self.package.results.get("sheets"), "sheets")
        for number, sheet in enumerate(found):
            if (
                not isinstance(sheet.get("notebook"), str)
                or not isinstance(sheet.get("steps"), list)
                or not isinstance(sheet.get("checks"), list)
            ):
                raise PackageError(
                    f"results.json: sheet {number} cannot be read; accepted: one with notebook, steps and checks"
                )
        return found

    @cached_property
    def steps(self) -> Mapping[str, Step]:
        """The package's steps by id, in order; raises `PackageError` where they cannot be read."""
        found: dict[str, Step] = {}
        for sheet in self._sheets:
            for record, step in zip(sheet["steps"], _read(_STEPS, sheet["steps"], "steps"), strict=True):
                if record.get("id") != step.id:
                    told = shown(record.get("id"), 80)
                    raise PackageError(
                        f"results.json: the step {told} says that it is {shown(step.id, 80)}; accepted: an id made of"
                        " notebook, mark and name"
                    )
                found[step.id] = step
        return found

    @cached_property
    def checks(self) -> tuple[Check, ...]:
        """The package's checks in order; raises `PackageError` where they cannot be read."""
        return tuple(check for sheet in self._sheets for check in _read(_CHECKS, sheet.get("checks", ()), "checks"))

    @cached_property
    def trace(self) -> Trace:
        """The trace of the package's results; raises `PackageError` where its steps cannot be read."""
        assert self.steps is not None
        for sheet in self._sheets:
            _read(_FOUND, sheet.get("found", ()), "found")
        return Trace(self.package.results)

    @property
    def marks(self) -> list[str]:
        """Marks of the bar groups, in order."""
        return list(self.trace.marks)

    @property
    def display(self) -> Display:
        """Units in which the package shows its steps."""
        job = self.package.results.get("job")
        return display_of(job.get("units") if isinstance(job, dict) else None)

    def steps_of(self, mark: str) -> list[Step]:
        """Return the steps of a bar group, or under an empty mark those of the whole job."""
        return [step for step in self.steps.values() if (step.mark or "") == mark]

    def answers_of(self, mark: str) -> list[Answer]:
        """Return each number of results.json for a bar group, or under an empty mark for the whole job.

        Parameters
        ----------
        mark
            Of the group.

        Returns
        -------
        list of Answer
        """
        if not mark:
            return [
                self._of(_told(one["key"], one["value"]), "".join(one["steps"]))
                if one["steps"]
                else Answer(_told(one["key"], one["value"]), "", one["sum"] or _by(one))
                for one in self.trace.totals
            ]
        entry = next((numbers_of(group) for group in self.trace.groups if group.get("mark") == mark), {})
        by_key = {one["key"]: one for one in self.trace.answers}
        return [self._answer(key, value, by_key[key], mark) for key, value in entry.items()]

    def _answer(self, key: str, value: float, one: Mapping[str, Any], mark: str) -> Answer:
        if mark in one["steps"]:
            return self._of(_told(key, value), one["steps"][mark])
        place = next((place for (_, place), marks in one["given"].items() if mark in marks), "")
        return Answer(_told(key, value), "", f"{INPUT}: {place.replace(ROW, 'its row')}" if place else _by(one))

    def _of(self, text: str, identity: str) -> Answer:
        """A number that is a step, or a result that no formula gives, which says how it was found."""
        if identity in self.steps:
            return Answer(text, identity)
        found = self.trace.by_id[identity]
        return Answer(text, "", shown(f"{found['way']}: {found['how']}", 400))

    def links(self, step: Step) -> list[Whence]:
        """Return where each input of a step comes from."""
        found = []
        for one in step.inputs:
            found.append(
                Whence(
                    one.name, one.shown, one.origin, one.step if one.step is not None and one.step in self.steps else ""
                )
            )
        return found

    def chain(self, identity: str) -> list[Step]:
        """Return the steps behind a result, each before those that take from it, and the result's own step last.

        Parameters
        ----------
        identity
            Id of the step.

        Returns
        -------
        list of Step

        Raises
        ------
        PackageError
            The package has no such step.
        """
        self.step(identity)
        order: list[str] = []
        waiting = [(identity, False)]
        seen: set[str] = set()
        while waiting:  # by hand: a package may name steps in a ring, or in a chain longer than Python's stack
            name, done = waiting.pop()
            if done:
                order.append(name)
            elif name not in seen:
                seen.add(name)
                waiting.append((name, True))
                waiting += [(link.step, False) for link in reversed(self.links(self.steps[name])) if link.step]
        return [self.steps[name] for name in order]

    def step(self, identity: str) -> Step:
        """Return a step by its id; raises `PackageError`."""
        if identity not in self.steps:
            example = next(iter(self.steps), "none")
            raise PackageError(
                f"'{shown(identity, 80)}' is no step of this package; accepted: an id from its results.json, such as"
                f" {example}"
            )
        return self.steps[identity]

    @cached_property
    def _users(self) -> Mapping[str, list[Step]]:
        found: dict[str, list[Step]] = {}
        for step in self.steps.values():
            for source in dict.fromkeys(link.step for link in self.links(step) if link.step):
                found.setdefault(source, []).append(step)
        return found

    def users(self, identity: str) -> list[Step]:
        """Return the steps that take a step's result."""
        return self._users.get(identity, [])

    def redo(self, identity: str, changed: Mapping[str, str] | None = None) -> Redone:
        """Work a step with the installed formula.

        Parameters
        ----------
        identity
            Id of the step.
        changed
            Inputs by name, as text with a unit such as ``"26 mm"``; a bare number where the input has no unit. The
            others are the package's.

        Returns
        -------
        Redone

        Raises
        ------
        PackageError
            The package has no such step.
        UnitError
            A text is not a quantity of the input's kind, or names no input of the step.
        RangeError
            A changed value is outside the formula's validity.
        """
        packaged = self.step(identity)
        formula = known_formulas().get(packaged.formula)
        if formula is None:
            return Redone(
                packaged, None, f"the installed calc {calc.__version__} has no formula {shown(packaged.formula, 80)}"
            )
        given = {one.name: Given(one.value, one.unit, Origin(one.origin, one.step)) for one in packaged.inputs}
        words = []
        for name, text in (changed or {}).items():
            if name not in given:
                raise UnitError(f"'{shown(name, 40)}' is no input of {packaged.id}; accepted: {', '.join(given)}")
            given[name], told = _typed(name, text, given[name].unit)
            words.append(told)
        if set(given) != set(formula.parameters):
            return Redone(
                packaged,
                None,
                f"the installed {formula.id} takes {', '.join(formula.parameters)}, and the step has"
                f" {', '.join(given)}",
            )
        symbol = packaged.symbol if packaged.symbol in NOMENCLATURE else formula.symbol
        try:
            step = apply(
                formula,
                name=packaged.name,
                label=packaged.label,
                inputs=given,
                display=self.display,
                symbol=symbol,
                notebook=packaged.notebook,
                mark=packaged.mark,
            )
            # How the package's own value is written: worked from rounded inputs, a result may be another one in the
            # last digit shown.
            own = replace(formula, function=lambda **_: packaged.value)
            text = apply(own, name="", label="", inputs=given, display=self.display, symbol=symbol).shown
        except CalcError as error:
            if words:
                raise
            return Redone(packaged, None, f"the installed formula refuses the step's inputs: {shown(str(error))}")
        return Redone(packaged, step, "", tuple(words), _room(formula, step), text)

    def governing(self) -> str:
        """Return the id of the step to begin with.

        The rounded dose of the group whose dose is the largest, or the first step there is.
        """
        best = max(self.trace.groups, key=lambda group: float(group.get("rounded_dose_mL") or 0.0), default={})
        by_key = {one["key"]: one["steps"] for one in self.trace.answers}
        return by_key.get("rounded_dose_mL", {}).get(str(best.get("mark", "")), "") or next(iter(self.steps), "")


def _room(formula: Formula, step: Step) -> float:
    """How far a result may move because the inputs that it is worked from were rounded to canonical form.

    Much where large ones nearly cancel.
    """
    values, unit = (
        {one.name: one.value for one in step.inputs},
        10.0 ** (1 - DIGITS),
    )  # twice what rounding moves a number at most

    def moved(name: str) -> float:
        try:
            return abs(float(formula.function(**values | {name: values[name] * (1 + unit)})) - step.value)
        except (ArithmeticError, ValueError):  # it stood at the end of what the formula can work
            return 0.0

    return unit * abs(step.value) + sum(moved(name) for name in values)


def _told(key: str, value: float) -> str:
    words, unit = unit_of_key(key.rpartition(".")[2])
    inner = key.rpartition(".")[0]
    return f"{inner + ': ' if inner else ''}{words} {with_unit(f'{value:.5g}', unit)}"


def _typed(name: str, text: str, unit: str) -> tuple[Given, str]:
    """Read a value that a reviewer typed, in the input's kind of unit."""
    try:
        value = parse_number(text) if unit in ("", "pcs") else parse_quantity(text, unit).to(unit)
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None
    return Given(value, unit, "typed by the reviewer"), f"{name} = {text.strip()}"


def _read(adapter: TypeAdapter[Any], records: object, what: str) -> Any:
    try:
        return adapter.validate_python(records)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise PackageError(
            f"results.json: {what} cannot be read at {shown(place, 80)}: {shown(first['msg'], 80)}"
        ) from None


def open_review(folder: Path | str) -> Review:
    """Open a package for review and recheck it, without making its documents again.

    Parameters
    ----------
    folder
        The package; empty makes one out of the metric demo, for practice.

    Returns
    -------
    Review

    Raises
    ------
    PackageError
        There is no package that can be read.
    """
    place, practice = (located(folder), False) if str(folder) else (practice_pair()[1], True)
    verdict = recheck(place, quick=True)
    if verdict.package is None:
        raise PackageError(verdict.sentence.rstrip("."))
    return Review(verdict.package, verdict, practice)


def readable(review: Review) -> None:
    """Refuse to walk a package whose files do not belong together; raises `PackageError`."""
    if review.verdict.word in (TAMPERED, UNREADABLE):
        raise PackageError(f"the package cannot be followed: {review.verdict.sentence.rstrip('.')}")
    assert review.steps is not None
    _read(_GROUPS, review.package.results.get("groups", []), "groups")
    _read(_TOTALS, review.package.results.get("totals", {}), "totals")


def found_packages(folder: Path | None = None) -> list[Path]:
    """List the packages in a folder, the newest first; by default where `build` puts them and at the notebook's job."""
    default = default_out()
    places = {default.resolve(), *(one / default.name for one in tried())} if folder is None else {folder}
    packages = [path.parent for place in places if place.is_dir() for path in place.glob(f"*/{MANIFEST}")]
    return sorted(packages, key=lambda path: (-(path / MANIFEST).stat().st_mtime, path.name))


@cache
def practice_pair() -> tuple[Path, Path]:
    """Make two small packages out of the metric demo, revision A and B, for as long as this process lives.

    The hole of one group differs.
    """
    folder = Path(tempfile.mkdtemp(prefix="practice-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    job = load_job(demo_job())
    first = folder / "inputs-A"
    copy_files(job.folder, first)
    second = shutil.copytree(first, folder / "inputs-B")
    save_values(load_job(second), values={"job.revision": "B"})
    save_group(load_job(second), mark=_PRACTICE_MARK, values={"hole_diameter": _PRACTICE_HOLE})
    return small_package(load_job(first), folder / "revision-A"), small_package(load_job(second), folder / "revision-B")


def small_package(job: Job, folder: Path) -> Path:
    """Write a package that holds inputs, results, dose list and manifest alone, without documents and notebooks.

    Parameters
    ----------
    job
        The job.
    folder
        Where; it must not exist.

    Returns
    -------
    Path
        The folder.
    """
    put_numbers(folder, job, compute(job))
    put_manifest(folder, job, Made("for practice", software()))
    return folder


def compared(review: Review, earlier: Path | str) -> Comparison | None:
    """Compare an earlier revision with the package under review.

    Parameters
    ----------
    review
        The package.
    earlier
        The other one's folder; empty takes the practice pair's, or none.

    Returns
    -------
    Comparison or None
        None when there is nothing to compare with.

    Raises
    ------
    PackageError
        One of the two cannot be read, or was changed.
    """
    place = located(earlier) if str(earlier) else (practice_pair()[0] if review.practice else None)
    return None if place is None else compare(place, review.package.folder)


def job_keys(package: Package) -> dict[str, str]:
    """Return the keys of a package's job file with what is typed there, for asking what would change.

    Raises `PackageError`, `InputErrors`.
    """
    with unpacked(package) as job_file:
        job = load_job(job_file)
    cells = {key: job.group(mark).given[column] for key, (mark, column) in _cells(job).items()}
    values = {
        key: str(text)
        for key, text in job.origins.items()
        if not key.startswith("job.") and "[" not in key and str(text) not in ("true", "false")
    }
    return {key: text for key, text in (cells | values).items() if text}


def _cells(job: Job) -> dict[str, tuple[str, str]]:
    """Return mark and column of each cell of the schedule, by what it is called."""
    return {
        f"{group.mark}, {column}": (group.mark, column)
        for group in job.groups
        for column in group.given
        if column not in ("mark", "note")
    }


def asked(package: Package, key: str, text: str) -> Comparison:
    """Change one input in a copy, compute it, and list what would change.

    Parameters
    ----------
    package
        The package; it is not touched.
    key
        A key of the job file, or ``mark, column`` for a cell of the schedule; see `job_keys`.
    text
        The new value.

    Returns
    -------
    Comparison

    Raises
    ------
    PackageError
        The package cannot be read, or was changed.
    InputErrors
        The new value is refused.
    """
    with unpacked(package) as job_file:
        job = load_job(job_file)
        if key in _cells(job):
            mark, column = _cells(job)[key]
            save_group(job, mark=mark, values={column: text})
        else:
            save_values(job, values={key: text})
        return what_if(package.folder, job_file)


def waiting(texts: Iterable[str], most: int = 30) -> list[str]:
    """Return the first lines of a list, and how many more there are."""
    every: Sequence[str] = list(texts)
    return [*every[:most], f"and {len(every) - most} more"] if len(every) > most else list(every)
