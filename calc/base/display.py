"""How quantities are shown: one rounding rule for each kind, in the units of the job.

The only place that asks which units.

What is computed stays in mm, mm³, N, MPa and °C; a `Display` turns it into text. A sentence is built from quantities
with one; nothing is converted by rewriting a sentence, which would round a second time and take every number for a
length.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal, TypeVar, get_args

from calc.base.canonical import canonical
from calc.base.errors import NotAccepted
from calc.base.units import convert, same_kind

System = Literal["metric", "us"]
SYSTEMS: tuple[System, ...] = get_args(System)
_T = TypeVar("_T")

# Units that a job in US customary units shows in place of the declared ones.
_US = {
    "mm": "in",
    "mm²": "in²",
    "mm³": "in³",
    "mL": "in³",
    "L": "in³",
    "°C": "°F",
    "MPa": "psi",
    "N": "lbf",
    "kN": "kip",
}
RESULT_DIGITS = 5
INPUT_DIGITS = 8
_SIXTEENTHS = 16  # to an inch


def round_text(value: float, digits: int = RESULT_DIGITS) -> str:
    """Write a number with ``digits`` significant digits and no exponent, from its canonical form."""
    value = canonical(float(value))
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


def fixed_text(value: float, decimals: int) -> str:
    """Write a number with so many decimals, from its canonical form."""
    return f"{canonical(float(value)):.{decimals}f}"


def plain_text(value: float, digits: int = INPUT_DIGITS) -> str:
    """Write a number with at most ``digits`` significant digits, without trailing zeros."""
    text = round_text(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def unbroken(text: str) -> str:
    """Keep each number on one line with the unit or the word behind it.

    >>> unbroken("17 mL for 3 holes") == "17\u00a0mL for 3\u00a0holes"
    True
    """
    return re.sub(r"(?<=\d) (?=[^\W\d])", "\u00a0", text)


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


def first_sentence(text: str) -> str:
    """Return the first sentence of a text, for a place where there is no room for more.

    >>> first_sentence("Drill deeper, to 12.5 mm. The bar ends there.")
    'Drill deeper, to 12.5 mm.'
    """
    return re.split(r"(?<=\.)\s+(?=[A-Z0-9ø#])", text.strip(), maxsplit=1)[0]


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
    """Typeset a value that is put into an expression.

    A negative one in brackets, so that the arithmetic can be read.
    """
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

    def __post_init__(self) -> None:
        if self.system not in SYSTEMS:
            raise NotAccepted(f"units '{self.system}' are not known; accepted: {', '.join(SYSTEMS)}")

    def usual(self, metric: _T, us: _T) -> _T:
        """Take what is usual where these units are used: an example to type, a round step, a code."""
        return us if self.system == "us" else metric

    def unit(self, declared: str) -> str:
        """Return the unit in which a quantity declared in another is shown."""
        return self.usual(declared, _US.get(declared, declared))

    def usual_unit(self, unit: str) -> str:
        """Return the unit that people use for what stands in this one: a volume of a hole, a force of a bar."""
        kinds = {"mm³": self.volume_unit, "N": self.force_unit, "lbf": self.force_unit}
        return kinds.get(unit) or self.unit(unit)

    def both(self, metric: str, us: str) -> str:
        """Name the units that a field takes, the usual one first."""
        return self.usual(f"{metric} or {us}", f"{us} or {metric}")

    # ---- units, by kind of quantity ----

    @property
    def length_unit(self) -> str:
        """Unit of sizes and depths."""
        return self.unit("mm")

    @property
    def area_unit(self) -> str:
        """Unit of cross sections."""
        return self.unit("mm²")

    @property
    def volume_unit(self) -> str:
        """Unit of what goes into a hole."""
        return self.usual("mL", "in³")

    @property
    def job_volume_unit(self) -> str:
        """Unit of what goes into many holes, or comes out of them."""
        return self.usual("L", "in³")

    @property
    def force_unit(self) -> str:
        """Unit of what a bar carries."""
        return self.usual("kN", "kip")

    @property
    def stress_unit(self) -> str:
        """Unit of strengths and stresses."""
        return self.unit("MPa")

    @property
    def temperature_unit(self) -> str:
        """Unit of temperatures."""
        return self.unit("°C")

    # ---- any quantity ----

    def amount(self, value: float, unit: str, digits: int = RESULT_DIGITS) -> str:
        """Write any quantity that was worked out, to so many digits."""
        target = self.volume_unit if unit == "mm³" else self.unit(unit)
        return with_unit(round_text(convert(value, unit, target), digits), target)

    def plain(self, value: float, unit: str, digits: int = INPUT_DIGITS) -> str:
        """Write any quantity as short as it can be said with so many digits."""
        return with_unit(plain_text(convert(value, unit, self.unit(unit)), digits), self.unit(unit))

    # ---- lengths [mm] ----

    def length(self, value: float) -> str:
        """Write a length that was worked out: millimetres (to a tenth below 100), or inches to a hundredth."""
        return self.usual(
            f"{fixed_text(value, 1)} mm" if value < 99.95 else f"{fixed_text(value, 0)} mm",
            f"{fixed_text(convert(value, 'mm', 'in'), 2)} in",
        )

    def fine_length(self, value: float) -> str:
        """Write a length whose small differences matter, such as a bit's diameter."""
        return self.usual(f"{fixed_text(value, 2)} mm", f"{fixed_text(convert(value, 'mm', 'in'), 3)} in")

    def size(self, value: float) -> str:
        """Write a length that was given: as short as it can be said, inches as a fraction where they are one."""
        metric = f"{round(value, 2):g} mm" if value < 1000 else f"{round(value, 1):.10g} mm"
        inches = convert(value, "mm", "in")
        sixteenths = round(inches * _SIXTEENTHS)
        whole = sixteenths == 0 or abs(inches - sixteenths / _SIXTEENTHS) > 5e-4
        return self.usual(metric, f"{round(inches, 3):g} in" if whole else _fraction(sixteenths))

    def planned(self, value: float) -> str:
        """Write a length to be drilled, exactly: a fraction of an inch where it is one, else decimals."""
        exact = convert(value, "mm", "in") * _SIXTEENTHS
        is_fraction = abs(exact - round(exact)) < 1e-6
        return self.usual(
            self.plain(value, "mm", 5), _fraction(round(exact)) if is_fraction else self.plain(value, "mm", 5)
        )

    def read_off(self, value: float) -> str:
        """Write a length that is read off a stick or a tape: whole millimetres, or the nearest sixteenth of an inch."""
        return self.usual(f"{fixed_text(value, 0)} mm", _fraction(round(convert(value, "mm", "in") * _SIXTEENTHS)))

    def about(self, value: float) -> str:
        """Write a length that is known roughly: whole millimetres, or hundredths of an inch."""
        return self.usual(f"{fixed_text(value, 0)} mm", f"{fixed_text(convert(value, 'mm', 'in'), 2)} in")

    def at_least(self, value: float) -> str:
        """Write a length that must not be fallen short of: rounded up to a millimetre, or a hundredth of an inch."""
        inches = math.ceil(convert(value, "mm", "in") * 100 - 1e-6) / 100
        return self.usual(f"{math.ceil(value - 1e-9)} mm", f"{fixed_text(inches, 2)} in")

    @property
    def drawn_step(self) -> float:
        """Step of the lengths that a drawing would say [mm]: 5 mm, or a quarter of an inch."""
        return self.usual(5.0, 6.35)

    # ---- volumes [mm³] ----

    def volume(self, value: float) -> str:
        """Write a volume to three figures or better."""
        number = convert(value, "mm³", self.volume_unit)
        digits = self.usual(1, 2) if number >= 10 else self.usual(2, 3)
        return with_unit(fixed_text(number, digits), self.volume_unit)

    def dose(self, value: float) -> str:
        """Write a dose as it is set at the dispenser, as short as it can be said."""
        return with_unit(plain_text(convert(value, "mm³", self.volume_unit), 4), self.volume_unit)

    def job_volume(self, value: float) -> str:
        """Write the adhesive of a whole job."""
        return with_unit(
            fixed_text(convert(value, "mm³", self.job_volume_unit), self.usual(2, 1)), self.job_volume_unit
        )

    def loose_volume(self, value: float) -> str:
        """Write a volume of loose dust."""
        return with_unit(round_text(convert(value, "mm³", self.job_volume_unit), 4), self.job_volume_unit)

    def lost_volume(self, value: float) -> str:
        """Write a volume that is expected to be lost."""
        number = convert(value, "mm³", self.job_volume_unit)
        return with_unit(self.usual(plain_text(number, 3), round_text(number, 3)), self.job_volume_unit)

    # ---- forces [N], masses [g], temperatures [°C] ----

    def force(self, value: float) -> str:
        """Write a force that was worked out."""
        return with_unit(round_text(convert(value, "N", self.force_unit), 4), self.force_unit)

    def given_force(self, value: float) -> str:
        """Write a force that was given, as short as it can be said."""
        return with_unit(plain_text(convert(value, "N", self.force_unit), 4), self.force_unit)

    def mass(self, value: float) -> str:
        """Write the mass of drilled concrete."""
        unit = self.usual("kg", "lb")
        return with_unit(round_text(convert(value, "g", unit), 4), unit)

    def temperature(self, value: float) -> str:
        """Write a temperature as short as it can be said."""
        return self.plain(value, "°C", 4)

    def temperatures(self, low: float, high: float) -> str:
        """Write a span of temperatures; one temperature where its ends are the same."""
        return (
            self.temperature(low)
            if low == high
            else f"{self.temperature(low).split(' ')[0]} to {self.temperature(high)}"
        )

    # ---- what is too small to be shown ----

    @property
    def least_length(self) -> float:
        """Half of the last digit of a length below 100 mm [mm]; what is shorter reads as none."""
        return self.usual(0.05, 0.127)

    @property
    def least_volume(self) -> float:
        """Half of the last digit of a small volume [mm³]; what is smaller reads as none."""
        return self.usual(5.0, 8.2)

    # ---- paper ----

    @property
    def paper(self) -> str:
        """Sheet on which a document is printed, by the name that Typst has for it."""
        return self.usual("a4", "us-letter")

    @property
    def half_paper(self) -> str:
        """Sheet for a list that is carried in a pocket."""
        return self.usual("a5", "us-statement")

    # ---- steps of a record ----

    def split(self, value: float, unit: str, *, volumes_only: bool) -> tuple[float, str]:
        """Return number and unit as a step shows them: all of one step alike, so that the printed arithmetic holds."""
        target = self.volume_unit if volumes_only and unit == "mm³" else self.unit(unit)
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


def _fraction(sixteenths: int) -> str:
    """Write sixteenths of an inch as a tape shows them."""
    whole, rest = divmod(sixteenths, _SIXTEENTHS)
    shrink = math.gcd(rest, _SIXTEENTHS)
    part = f"{rest // shrink}/{_SIXTEENTHS // shrink}" if rest else ""
    return f"{'-'.join(filter(None, (str(whole) if whole or not part else '', part)))} in"


def display_of(units: object) -> Display:
    """Return the display of a package's ``units``; metric where they say nothing that is known."""
    return Display("us" if units == "us" else "metric")


METRIC = Display("metric")
