"""What a calculation leaves behind: steps, checks and the sheet that orders them. All frozen; display is a view.

A step keeps the unrounded value; its ``shown`` text is rounded for people, from the canonical value that leaves the
program as data. Comparisons use the unrounded one: what stands on both sides comes from sums, products, quotients and
square roots, which every processor rounds alike, and from functions that are not chosen by processor
(`calc.base.maths`). So a verdict is the same everywhere without being forgiven anything.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

from calc.base.canonical import canonical
from calc.base.display import (
    METRIC,
    Display,
    latex_value,
    plain_text,
    round_text,
    shown_apart,
    shown_text,
    utilisation_text,
    with_unit,
)
from calc.base.formula import Formula
from calc.base.identity import identity
from calc.base.maths import PRINTED, translate
from calc.base.nomenclature import latex_of
from calc.base.units import convert, same_kind

ROW = (  # stands for a row's number where origins of many groups are told as one; private use, so no user's text has it
    "\ue000"
)


@dataclass(frozen=True)
class Origin:
    """Where a value comes from: words for people, or the id of the step whose result it is, or both.

    ``general`` says the same for every bar group: with `ROW` in place of the row, and without the group's mark or bar.
    It is empty where ``text`` does so already.
    """

    text: str = ""
    step: str | None = None
    general: str = ""
    row: int | None = None

    @classmethod
    def of_row(cls, file: str, row: int, what: str) -> Origin:
        """Return a cell of a table: file, number of the row, column."""
        return cls(f"{file} row {row}, {what}", None, f"{file} {ROW}, {what}", row)

    def told(self, words: str) -> Origin:
        """Return the same origin within a sentence, in which ``{}`` stands for it."""
        general = words.replace("{}", self.general) if self.general else ""
        return replace(self, text=words.replace("{}", self.words), general=general)

    def joined(self, other: Origin) -> Origin:
        """Return this origin with another one behind it."""
        general = (self.general or self.words) + (other.general or other.words) if self.general or other.general else ""
        return replace(self, text=self.words + other.words, general=general, row=self.row or other.row)

    @property
    def words(self) -> str:
        """The origin in words."""
        return self.text or (f"step {self.step}" if self.step else "")

    def __str__(self) -> str:
        """Return the words."""
        return self.words


@dataclass(frozen=True)
class Given:
    """A value that comes into a step from outside: with its unit and where it comes from."""

    value: float
    unit: str
    origin: str | Origin

    @property
    def source(self) -> Origin:
        """Where it comes from."""
        return self.origin if isinstance(self.origin, Origin) else Origin(self.origin)


def result_of(notebook: str, mark: str | None, name: str) -> Origin:
    """Return the result of a step, often one of another notebook, as the origin of a value."""
    return Origin(step=identity(notebook, mark, name))


@dataclass(frozen=True)
class StepInput:
    """One argument of a step as it was used; see `Origin` for ``step``, ``general`` and ``row``."""

    name: str
    value: float
    unit: str
    shown: str
    origin: str
    step: str | None = None
    general: str = ""
    row: int | None = None


@dataclass(frozen=True)
class Step:
    """One formula applied once; ``mark`` is that of its bar group, None for the whole job."""

    notebook: str
    mark: str | None
    name: str
    label: str
    symbol: str
    value: float
    unit: str
    shown: str
    formula: str
    expression: str
    latex: str
    alt: str
    inputs: tuple[StepInput, ...]
    source: str
    notices: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """Stable id, made of notebook, mark and name."""
        return identity(self.notebook, self.mark, self.name)


Way = Literal["counted", "summed", "read", "simulated", "numerical"]


@dataclass(frozen=True)
class Found:
    """A result that no formula gives; ``way`` says how it was found, ``how`` how to find it again.

    ``inputs`` are what it was found from, each with its origin; steps that take the result name it by its id.
    """

    notebook: str
    mark: str | None
    name: str
    label: str
    value: float
    unit: str
    shown: str
    way: Way
    how: str
    inputs: tuple[StepInput, ...]

    @property
    def id(self) -> str:
        """Stable id, made of notebook, mark and name, as a step has one."""
        return identity(self.notebook, self.mark, self.name)


Verdict = Literal["passes", "fails", "owed"]
VERDICTS: Mapping[str, str] = {"passes": "✓ passes", "fails": "✗ FAILS", "owed": "○ owed"}


@dataclass(frozen=True)
class Check:
    """A demand against a resistance. At most 1 passes; what cannot be judged fails and says why.

    ``title`` names the bar group, ``what`` says the same without it. A check that is owed lacks an input, and is not
    passed; ``missing`` names table and key of what would close it.
    """

    notebook: str
    mark: str | None
    name: str
    title: str
    demand: float
    resistance: float
    unit: str
    utilisation: float | None
    verdict: Verdict
    reason: str = ""
    advice: str = ""
    what: str = ""
    missing: tuple[tuple[str, str], ...] = ()

    @classmethod
    def compare(
        cls,
        *,
        name: str,
        title: str,
        demand: float,
        resistance: float,
        unit: str,
        advice: str = "",
        notebook: str = "",
        mark: str | None = None,
        group: str = "",
    ) -> Check:
        """Judge ``demand`` against ``resistance``, unrounded.

        Parameters
        ----------
        name
            What the check is called in its notebook and bar group.
        title
            What is judged, in words.
        demand, resistance
            The two numbers, in one unit.
        unit
            Their unit.
        advice
            What would help.
        notebook, mark
            What it belongs to; a library leaves both out and `placed` fills them in.
        group
            The bar group in words; it stands in front of the title.

        Returns
        -------
        Check
            ``utilisation`` is None, and the check fails with a reason, when either number is NaN or infinite, the
            demand is negative, or the resistance is zero or negative.
        """
        ratio: float | None = None
        verdict: Verdict = "fails"
        if not (math.isfinite(demand) and math.isfinite(resistance)):
            reason = "demand or resistance is not a finite number"
        elif resistance <= 0:
            reason = "the resistance is zero or negative"
        elif demand < 0:
            reason = "the demand is negative"
        else:
            ratio = demand / resistance
            verdict, reason = ("passes", "") if ratio <= 1.0 else ("fails", "demand exceeds resistance")
        whole = f"{group}: {title}" if group else title
        help_wanted = "" if verdict == "passes" else advice
        return cls(notebook, mark, name, whole, demand, resistance, unit, ratio, verdict, reason, help_wanted, title)

    def placed(self, notebook: str, mark: str | None, group: str = "") -> Check:
        """Return the check as one of a notebook and a bar group, named in front of its title."""
        return replace(self, notebook=notebook, mark=mark, title=f"{group}: {self.what}" if group else self.title)

    @property
    def sides(self) -> tuple[str, str]:
        """Demand and resistance in words; where the demand is more, never two alike."""
        unit = "" if self.unit == "pcs" else self.unit
        if (self.utilisation or 0.0) > 1.0:
            return shown_apart(self.demand, self.resistance, unit)
        return shown_text(self.demand, unit), shown_text(self.resistance, unit)

    @property
    def used(self) -> str:
        """The utilisation in words, rounded up."""
        return utilisation_text(self.utilisation)

    @property
    def id(self) -> str:
        """Stable id, made of notebook, mark and name."""
        return identity(self.notebook, self.mark, self.name)

    @property
    def passes(self) -> bool:
        """Whether it passes; one that is owed does not."""
        return self.verdict == "passes"

    @property
    def verdict_words(self) -> str:
        """Word and sign, never colour alone."""
        return VERDICTS[self.verdict]


@dataclass(frozen=True)
class Notice:
    """What a reader has to know beside the numbers; ``text`` leaves out the bar group's mark.

    ``lead`` puts the mark in front. Notices that differ in ``share`` alone, which stands for ``{share}`` in the text,
    say the same.
    """

    notebook: str
    mark: str | None
    name: str
    text: str
    share: int | None = None
    lead: str = "{mark}: "

    @property
    def sentence(self) -> str:
        """The sentence without what it is about."""
        return self.text if self.share is None else self.text.replace("{share}", str(self.share))

    @property
    def words(self) -> str:
        """The whole sentence."""
        return self.sentence if self.mark is None else self.lead.replace("{mark}", self.mark) + self.sentence


def joined(notices: Sequence[Notice]) -> Joined:
    """Join notices that say the same: all their marks in front, shares from the smallest to the largest."""
    first = notices[0]
    shares = sorted({notice.share for notice in notices if notice.share is not None})
    text = first.text
    if shares:
        text = text.replace("{share}", str(shares[0]) if len(shares) == 1 else f"{shares[0]} to {shares[-1]}")
    return Joined(tuple(dict.fromkeys(notice.mark for notice in notices if notice.mark is not None)), text, first.lead)


@dataclass(frozen=True)
class Joined:
    """What several bar groups are told alike; ``marks`` is empty for the whole job."""

    marks: tuple[str, ...]
    text: str
    lead: str = "{mark}: "

    @property
    def words(self) -> str:
        """The whole sentence."""
        return self.lead.replace("{mark}", ", ".join(self.marks)) + self.text if self.marks else self.text


@dataclass(frozen=True)
class Sheet:
    """The ordered steps and checks of one notebook, and its results that no formula gives."""

    notebook: str
    steps: tuple[Step, ...] = ()
    checks: tuple[Check, ...] = ()
    notices: tuple[Notice, ...] = ()
    found: tuple[Found, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """The notices as sentences."""
        return tuple(notice.words for notice in self.notices)

    def step(self, id: str) -> Step:
        """Return a step by its id; raises `KeyError`."""
        return {step.id: step for step in self.steps}[id]

    @classmethod
    def of(cls, notebook: str, sheets: Iterable[Sheet]) -> Sheet:
        """Join the sheets of a notebook's bar groups in order, naming each notice once."""
        listed = tuple(sheets)
        return cls(
            notebook,
            tuple(step for sheet in listed for step in sheet.steps),
            tuple(check for sheet in listed for check in sheet.checks),
            tuple(dict.fromkeys(notice for sheet in listed for notice in sheet.notices)),
            tuple(found for sheet in listed for found in sheet.found),
        )


def _volumes_only(units: Iterable[str]) -> bool:
    return all(same_kind(unit, "mm³") or unit in ("", "pcs", "%") for unit in units)


def arithmetic(step: Step, display: Display) -> str:
    """Write a step of a homogeneous formula as a line to be keyed in: its numbers, and the result with its unit."""
    volumes_only = _volumes_only(one.unit for one in step.inputs)
    numbers = {
        one.name: plain_text(display.split(one.value, one.unit, volumes_only=volumes_only)[0]) for one in step.inputs
    }
    text = translate(step.expression, numbers, PRINTED)
    for sign, printed in (("*", " × "), ("/", " ÷ "), ("+", " + "), ("-", " − ")):
        text = text.replace(sign, printed)
    number, unit = display.split(step.value, step.unit, volumes_only=volumes_only)
    result = with_unit(round_text(number), unit)
    return f"{text} = {result}" + ("" if result == step.shown else f" = {step.shown}")


def apply(
    formula: Formula,
    *,
    name: str,
    label: str,
    inputs: Mapping[str, Given],
    display: Display = METRIC,
    symbol: str | None = None,
    notebook: str = "",
    mark: str | None = None,
) -> Step:
    """Run a formula once and keep everything that a reader needs to run it again.

    Parameters
    ----------
    formula
        What to apply.
    name
        What the step is called in its notebook and bar group, mostly its symbol.
    label
        What the step finds, in words.
    inputs
        Each argument with unit and origin; converted to the unit that the formula declares, or refused by dimension.
    display
        How quantities are shown.
    symbol
        Another symbol of the nomenclature for the result.
    notebook, mark
        What the step belongs to.

    Returns
    -------
    Step

    Raises
    ------
    RangeError
        A value is outside the formula's validity.
    UnitError
        A value has the wrong dimension.
    """
    values = {name: convert(inputs[name].value, inputs[name].unit, unit) for name, unit in formula.parameters.items()}
    result = float(formula(**values))
    volumes_only = _volumes_only(formula.parameters.values())

    def split(value: float, unit: str) -> tuple[float, str]:
        """An expression that holds only in its own units is shown in those."""
        return display.split(value, unit, volumes_only=volumes_only) if formula.homogeneous else (value, unit)

    shown_inputs = {name: split(values[name], unit) for name, unit in formula.parameters.items()}
    final, typeset = display.result(result, formula.unit, split(result, formula.unit))
    if formula.unit == "pcs":
        final = typeset = plain_text(result)
    name_shown = symbol or formula.symbol
    substituted = ", ".join(f"{n} = {with_unit(plain_text(v), u)}" for n, (v, u) in shown_inputs.items())
    return Step(
        notebook=notebook,
        mark=mark,
        name=name,
        label=label,
        symbol=name_shown,
        value=result,
        unit=formula.unit,
        shown=final,
        formula=formula.id,
        expression=formula.expression,
        # An empirical expression holds for bare numbers: (25 MPa)^(2/3) is nonsense, and the result carries the unit.
        latex=formula.latex(
            {n: latex_value(v, u if formula.homogeneous else "") for n, (v, u) in shown_inputs.items()},
            typeset,
            name_shown,
        ),
        alt=f"{name_shown} = {formula.expression} = {final}, with {substituted}",
        inputs=tuple(
            _used(
                n,
                values[n],
                formula.parameters[n],
                display.given(values[n], formula.parameters[n], shown_inputs[n]),
                inputs[n].source,
            )
            for n in shown_inputs
        ),
        source=formula.source,
        notices=formula.warnings(values),
    )


def _used(name: str, value: float, unit: str, shown: str, origin: Origin) -> StepInput:
    return StepInput(name, value, unit, shown, origin.words, origin.step, origin.general, origin.row)


def found_by(
    way: Way,
    *,
    notebook: str,
    mark: str | None,
    name: str,
    label: str,
    value: float,
    unit: str,
    how: str,
    inputs: Mapping[str, Given],
    display: Display = METRIC,
) -> Found:
    """Keep a result that no formula gives, with everything that a reader needs to find it again.

    Parameters
    ----------
    way
        How it was found.
    notebook, mark, name
        What it belongs to, and what it is called there.
    label
        What was found, in words.
    value, unit
        The result.
    how
        In a sentence, what was done with the inputs.
    inputs
        What it was found from, by symbol, with unit and origin.
    display
        How quantities are shown.

    Returns
    -------
    Found
    """
    return Found(
        notebook=notebook,
        mark=mark,
        name=name,
        label=label,
        value=value,
        unit=unit,
        shown=_plainly(value, unit, display),
        way=way,
        how=how,
        inputs=tuple(
            _used(one, given.value, given.unit, _plainly(given.value, given.unit, display), given.source)
            for one, given in inputs.items()
        ),
    )


def _plainly(value: float, unit: str, display: Display) -> str:
    if unit in ("", "pcs", "%", "s", "min", "h") or not math.isfinite(value):
        return with_unit(plain_text(value), "" if unit == "pcs" else unit)
    return display.amount(value, unit)


def as_data(record: Step | Found | Check | Notice) -> dict[str, Any]:
    """Return a record as results.json has it: what it belongs to, its id where it has one, and everything else."""
    if isinstance(record, Notice):
        return {"notebook": record.notebook, "mark": record.mark, "name": record.name, "text": record.words}
    data = {"id": record.id} | asdict(record)
    if isinstance(record, Check):
        # A check that is owed has no resistance yet, and sometimes no demand.
        data |= {key: None for key in ("demand", "resistance") if not math.isfinite(data[key])}
    if not data.get("missing", True):
        del data["missing"]
    for one in data.get("inputs", ()):
        for key in ("general", "row"):  # of use only where many groups share an origin
            if not one[key]:
                del one[key]
    return data


def step_block(step: Step) -> dict[str, Any]:
    """Return the step as the plain data that notebooks, PDF and HTML draw from."""
    return {
        "id": step.id,
        "mark": step.mark,
        "label": step.label,
        "symbol": step.symbol,
        "symbol_latex": latex_of(step.symbol),
        "latex": step.latex,
        "shown": step.shown,
        "alt": step.alt,
        "source": step.source,
        "inputs": [
            {"name": i.name, "latex": latex_of(i.name), "shown": i.shown, "origin": i.origin, "step": i.step}
            for i in step.inputs
        ],
        "notices": list(step.notices),
    }


def check_block(check: Check) -> dict[str, Any]:
    """Return the check as the plain data that notebooks, PDF and HTML draw from."""
    demand, resistance = check.sides
    return {
        "id": check.id,
        "notebook": check.notebook,
        "mark": check.mark,
        "name": check.name,
        "title": check.title,
        "what": check.what,
        "demand": demand,
        "resistance": resistance,
        "unit": "" if check.unit == "pcs" else check.unit,
        "utilisation": canonical(check.utilisation),
        "verdict": check.verdict,
        "reason": "; ".join(filter(None, (check.reason, check.advice))),
        "shown": check.used,
        "missing": [key for _, key in check.missing],
    }
