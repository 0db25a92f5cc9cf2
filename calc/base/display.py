"""How quantities are shown: one rounding rule for each kind, in the units of the job. The only place that asks which units.

What is computed stays in mm, mm³, N, MPa and °C; a `Display` turns it into text. A sentence is built from quantities with
one; nothing is converted by rewriting a sentence, which would round a second time and take every number for a length.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeVar

from calc.base.units import convert, same_kind

System = Literal["metric", "us"]
_T = TypeVar("_T")

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


def latex_value(value: float, unit: str) -> str:
    """Typeset a value that is put into an expression; a negative one in brackets, so that the arithmetic can be read."""
    text = latex_with_unit(plain_text(value), unit)
    return rf"\left({text}\right)" if value < 0 else text


@dataclass(frozen=True)
class Display:
    """Turns quantities into text for people who work in one system of units.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    """

    system: System

    def usual(self, metric: _T, us: _T) -> _T:
        """Take what is usual where these units are used: an example to type, a round step, a code."""
        return us if self.system == "us" else metric

    def unit(self, declared: str) -> str:
        """Return the unit in which a quantity declared in another is shown."""
        return self.usual(declared, _US.get(declared, declared))

    def amount(self, value: float, unit: str, digits: int = RESULT_DIGITS) -> str:
        """Write any quantity to so many digits; volumes in mm³ become mL in a metric job."""
        target = self.volume_unit if unit == "mm³" else self.unit(unit)
        return with_unit(round_text(convert(value, unit, target), digits), target)

    @property
    def volume_unit(self) -> str:
        """Unit of what goes into a hole."""
        return self.usual("mL", "in³")

    def split(self, value: float, unit: str, *, volumes_only: bool) -> tuple[float, str]:
        """Return number and unit as a step shows them: all of one step alike, so that the printed arithmetic holds."""
        target = self.volume_unit if volumes_only and unit == "mm³" and self.volume_unit == "mL" else self.unit(unit)
        return convert(value, unit, target), target

    def result(self, value: float, unit: str, split: tuple[float, str]) -> tuple[str, str]:
        """Write a step's result and typeset it; a volume is said in mL as well."""
        number, shown = split
        text, typeset = with_unit(round_text(number), shown), latex_with_unit(round_text(number), shown)
        if not same_kind(unit, "mm³") or shown == "mL":
            return text, typeset
        millilitres = round_text(convert(value, unit, "mL"))
        text = self.usual(with_unit(millilitres, "mL"), f"{text} ({millilitres} mL)")
        return text, rf"{typeset} = {latex_with_unit(millilitres, 'mL')}"


METRIC = Display("metric")


def shown_unit(unit: str, system: System) -> str:
    """Return the unit in which a job of this system shows a quantity declared in ``unit``."""
    return Display(system).unit(unit)


def amount(value: float, unit: str, system: System, digits: int = RESULT_DIGITS) -> str:
    """Write a quantity for people in the job's units; volumes in mm³ become mL in a metric job."""
    return Display(system).amount(value, unit, digits)
