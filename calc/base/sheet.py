"""What a calculation leaves behind: steps, checks and the sheet that orders them. All frozen; display is a view.

A step keeps the unrounded value; its ``shown`` text is rounded for people. Comparisons use the unrounded one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from calc.base.formula import Formula
from calc.base.nomenclature import latex_of
from calc.base.units import convert, same_kind

System = Literal["metric", "us"]

# Units that a job in US customary units shows in place of the declared ones.
_US = {"mm": "in", "mm²": "in²", "mm³": "in³", "mL": "in³", "°C": "°F", "MPa": "psi", "N": "lbf"}
RESULT_DIGITS = 5
INPUT_DIGITS = 8


def round_text(value: float, digits: int = RESULT_DIGITS) -> str:
    """Write a number with ``digits`` significant digits and no exponent."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


def plain_text(value: float, digits: int = INPUT_DIGITS) -> str:
    """Write a number with at most ``digits`` significant digits, without trailing zeros."""
    text = round_text(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(text: str, unit: str) -> str:
    """Join a number and its unit; ° and a missing unit take no space."""
    return text + unit if unit in ("", "°") else f"{text} {unit}"


def latex_with_unit(text: str, unit: str) -> str:
    """Typeset a number with its unit upright."""
    if unit in ("", "pcs"):
        return text
    if unit == "°":
        return rf"{text}^{{\circ}}"
    base = unit.rstrip("²³")
    power = {"²": "^{2}", "³": "^{3}"}.get(unit[-1], "")
    base = base.replace("%", r"\%").replace("°", r"{}^{\circ}")
    return rf"{text}\ \mathrm{{{base}}}{power}"


def _latex_value(value: float, unit: str) -> str:
    """Typeset a value that is put into an expression; a negative one in brackets, so that the arithmetic can be read."""
    text = latex_with_unit(plain_text(value), unit)
    return rf"\left({text}\right)" if value < 0 else text


def shown_unit(unit: str, system: System) -> str:
    """Return the unit in which a job of this system shows a quantity declared in ``unit``."""
    return _US.get(unit, unit) if system == "us" else unit


def amount(value: float, unit: str, system: System, digits: int = RESULT_DIGITS) -> str:
    """Write a quantity for people in the job's units; volumes in mm³ become mL in a metric job."""
    target = "mL" if unit == "mm³" and system == "metric" else shown_unit(unit, system)
    return with_unit(round_text(convert(value, unit, target), digits), target)


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
    system: System = "metric",
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
    system
        Units to show; a formula that holds only in its own units is shown in those.
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
    scale = _Scale(system if formula.homogeneous else "metric", volumes_only, formula.homogeneous)
    shown_inputs = {name: scale.split(values[name], unit) for name, unit in formula.parameters.items()}
    number, unit = scale.split(result, formula.unit)
    final, typeset = with_unit(round_text(number), unit), latex_with_unit(round_text(number), unit)
    if same_kind(formula.unit, "mm³") and unit != "mL":
        millilitres = round_text(convert(result, formula.unit, "mL"))
        typeset += rf" = {latex_with_unit(millilitres, 'mL')}"
        final = with_unit(millilitres, "mL") if system == "metric" else f"{final} ({millilitres} mL)"
    if formula.unit in ("pcs",):
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
        formula=formula.name,
        expression=formula.expression,
        # An empirical expression holds for bare numbers: (25 MPa)^(2/3) is nonsense, and the result carries the unit.
        latex=formula.latex({n: _latex_value(v, u if formula.homogeneous else "") for n, (v, u) in shown_inputs.items()}, typeset, name_shown),
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
    system
        Units to show.
    """

    def __init__(self, prefix: str, system: System) -> None:
        self.prefix = prefix
        self.system: System = system
        self.steps: list[Step] = []

    def add(self, formula: Formula, label: str, name: str = "", symbol: str | None = None, **inputs: Given) -> Given:
        """Work a formula; its id ends in ``name``, or else in the symbol of the result."""
        end = name or symbol or formula.symbol
        self.steps.append(apply(formula, id=f"{self.prefix}.{end}", label=label, inputs=inputs, system=self.system, symbol=symbol))
        return self.steps[-1].as_given()


@dataclass(frozen=True)
class _Scale:
    """In which unit one step shows its quantities: all of one step alike, so that the printed arithmetic holds."""

    system: System
    volumes_only: bool
    convertible: bool

    def split(self, value: float, unit: str) -> tuple[float, str]:
        if not self.convertible:
            return value, unit
        target = shown_unit(unit, self.system)
        if self.system == "metric" and self.volumes_only and unit == "mm³":
            target = "mL"
        return convert(value, unit, target), target


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
        "utilisation": check.utilisation,
        "passes": check.passes,
        "reason": "; ".join(filter(None, (check.reason, check.advice))),
        "shown": "none" if check.utilisation is None else f"{check.utilisation:.3f}",
    }
