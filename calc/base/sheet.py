"""What a calculation leaves behind: steps, checks and the sheet that orders them. All frozen; display is a view.

A step keeps the unrounded value; its ``shown`` text is rounded for people, from the canonical value that leaves the program as data.
Comparisons use the unrounded one: what stands on both sides comes from sums, products, quotients and square roots, which every processor
rounds alike, and from functions that are not chosen by processor (`calc.base.maths`). So a verdict is the same everywhere without being forgiven anything.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from calc.base.canonical import canonical
from calc.base.display import METRIC, Display, fixed_text, latex_value, plain_text, round_text, with_unit
from calc.base.formula import Formula
from calc.base.nomenclature import latex_of
from calc.base.units import convert, same_kind


@dataclass(frozen=True)
class Given:
    """A value that comes into a step from outside: with its unit and where it comes from."""

    value: float
    unit: str
    origin: str


@dataclass(frozen=True)
class StepInput:
    """One argument of a step as it was used."""

    name: str
    value: float
    unit: str
    shown: str
    origin: str


@dataclass(frozen=True)
class Step:
    """One formula applied once."""

    id: str
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

    def as_given(self) -> Given:
        """Return the step's result as the input of another step."""
        return Given(self.value, self.unit, f"step {self.id}")


@dataclass(frozen=True)
class Check:
    """A demand against a resistance. At most 1 passes; what cannot be judged fails and says why."""

    id: str
    title: str
    demand: float
    resistance: float
    unit: str
    utilisation: float | None
    passes: bool
    reason: str = ""
    advice: str = ""

    @classmethod
    def compare(cls, *, id: str, title: str, demand: float, resistance: float, unit: str, advice: str = "") -> Check:
        """Judge ``demand`` against ``resistance``, unrounded.

        Returns
        -------
        Check
            ``utilisation`` is None, and the check fails with a reason, when either number is NaN or infinite, the
            demand is negative, or the resistance is zero or negative.
        """
        if not (math.isfinite(demand) and math.isfinite(resistance)):
            return cls(id, title, demand, resistance, unit, None, False, "demand or resistance is not a finite number", advice)
        if resistance <= 0:
            return cls(id, title, demand, resistance, unit, None, False, "the resistance is zero or negative", advice)
        if demand < 0:
            return cls(id, title, demand, resistance, unit, None, False, "the demand is negative", advice)
        ratio = demand / resistance
        if ratio <= 1.0:
            return cls(id, title, demand, resistance, unit, ratio, True)
        return cls(id, title, demand, resistance, unit, ratio, False, "demand exceeds resistance", advice)

    @property
    def used(self) -> str:
        """The utilisation with three decimals, from its canonical form."""
        return "none" if self.utilisation is None else fixed_text(self.utilisation, 3)

    @property
    def verdict(self) -> str:
        """Word and sign, never colour alone."""
        return "✓ passes" if self.passes else "✗ FAILS"


@dataclass(frozen=True)
class Sheet:
    """The ordered steps and checks of one notebook."""

    notebook: str
    steps: tuple[Step, ...] = ()
    checks: tuple[Check, ...] = ()
    notices: tuple[str, ...] = ()

    def step(self, id: str) -> Step:
        """Return a step by its id; raises `KeyError`."""
        return {step.id: step for step in self.steps}[id]

    def __add__(self, other: Sheet) -> Sheet:
        """Join two sheets of one notebook in order, naming each notice once."""
        notices = dict.fromkeys((*self.notices, *other.notices))
        return Sheet(self.notebook, self.steps + other.steps, self.checks + other.checks, tuple(notices))


def apply(
    formula: Formula,
    *,
    id: str,
    label: str,
    inputs: Mapping[str, Given],
    display: Display = METRIC,
    symbol: str | None = None,
) -> Step:
    """Run a formula once and keep everything that a reader needs to run it again.

    Parameters
    ----------
    formula
        What to apply.
    id
        Stable name of the step, such as ``01.F1.V_a``.
    label
        What the step finds, in words.
    inputs
        Each argument with unit and origin; converted to the unit that the formula declares, or refused by dimension.
    display
        How quantities are shown.
    symbol
        Another symbol of the nomenclature for the result.

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
    volumes_only = all(same_kind(unit, "mm³") or unit in ("", "pcs", "%") for unit in formula.parameters.values())

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
        id=id,
        label=label,
        symbol=name_shown,
        value=result,
        unit=formula.unit,
        shown=final,
        formula=formula.id,
        expression=formula.expression,
        # An empirical expression holds for bare numbers: (25 MPa)^(2/3) is nonsense, and the result carries the unit.
        latex=formula.latex({n: latex_value(v, u if formula.homogeneous else "") for n, (v, u) in shown_inputs.items()}, typeset, name_shown),
        alt=f"{name_shown} = {formula.expression} = {final}, with {substituted}",
        inputs=tuple(
            StepInput(n, values[n], formula.parameters[n], with_unit(plain_text(v), u if u != "pcs" else ""), inputs[n].origin)
            for n, (v, u) in shown_inputs.items()
        ),
        source=formula.source,
        notices=formula.warnings(values),
    )


class StepWriter:
    """Collects steps as they are worked; a step's result is the next one's input with its origin kept.

    Parameters
    ----------
    prefix
        Start of every step's id, such as ``01.F1``.
    display
        How quantities are shown.
    """

    def __init__(self, prefix: str, display: Display) -> None:
        self.prefix = prefix
        self.display = display
        self.steps: list[Step] = []

    def add(self, formula: Formula, label: str, name: str = "", symbol: str | None = None, **inputs: Given) -> Given:
        """Work a formula; its id ends in ``name``, or else in the symbol of the result."""
        end = name or symbol or formula.symbol
        self.steps.append(apply(formula, id=f"{self.prefix}.{end}", label=label, inputs=inputs, display=self.display, symbol=symbol))
        return self.steps[-1].as_given()


def step_block(step: Step) -> dict[str, Any]:
    """Return the step as the plain data that notebooks, PDF and HTML draw from."""
    return {
        "id": step.id,
        "label": step.label,
        "symbol": step.symbol,
        "symbol_latex": latex_of(step.symbol),
        "latex": step.latex,
        "shown": step.shown,
        "alt": step.alt,
        "source": step.source,
        "inputs": [{"name": i.name, "latex": latex_of(i.name), "shown": i.shown, "origin": i.origin} for i in step.inputs],
        "notices": list(step.notices),
    }


def check_block(check: Check) -> dict[str, Any]:
    """Return the check as the plain data that notebooks, PDF and HTML draw from."""
    unit = "" if check.unit == "pcs" else check.unit
    return {
        "id": check.id,
        "title": check.title,
        "demand": with_unit(round_text(check.demand, 4), unit),
        "resistance": with_unit(round_text(check.resistance, 4), unit),
        "unit": unit,
        "utilisation": canonical(check.utilisation),
        "passes": check.passes,
        "reason": "; ".join(filter(None, (check.reason, check.advice))),
        "shown": check.used,
    }
