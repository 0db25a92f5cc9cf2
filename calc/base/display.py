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

from calc.base.canonical import DIGITS, canonical
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
    "mL": "fl oz",
    "L": "fl oz",
    "°C": "°F",
    "MPa": "psi",
    "N": "lbf",
    "kN": "kip",
}
# What a formula that holds in its own units alone has beside them.
_US_BESIDE = _US | {"mm³": "fl oz", "g": "lb", "kg/m³": "lb/ft³"}
RESULT_DIGITS = 5
INPUT_DIGITS = 8
_SIXTEENTHS = 16  # to an inch
# Decimals of what was worked out, by the unit in which it is shown: the rounding rule of the house, for results,
# checks and sentences. A step alone shows more, so that its arithmetic can be redone. Other units have two.
_DECIMALS = {
    **dict.fromkeys(("mm", "mL", "kN", "N/mm", "kN/m", "kg", "lb"), 1),
    **dict.fromkeys(("mm²", "mm³", "N", "lbf", "psi", "°C", "°F"), 0),
}
_MANY = {"L": 10.0, "fl oz": 100.0}  # from here on one decimal does
_SMALLER = {"kN": ("N", 1000.0), "kip": ("lbf", 1000.0)}  # of what would read as none
_MINUTES = {"s": 1 / 60, "min": 1.0, "h": 60.0}
_COUNTED = ("pcs", "days")


def round_text(value: float, digits: int = RESULT_DIGITS) -> str:
    """Write a number with ``digits`` significant digits and no exponent, from its canonical form."""
    value = canonical(float(value))
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    power = int(f"{value:.{digits - 1}e}".rpartition("e")[2])  # once rounded: 0.99999999 counts as 1
    return f"{value:.{max(0, digits - 1 - power)}f}"


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
    base = base.replace("%", r"\%").replace("°", r"{}^{\circ}").replace(" ", r"\ ")
    return rf"{text}\ \mathrm{{{base}}}{power}"


def latex_value(value: float, unit: str) -> str:
    """Typeset a value that is put into an expression.

    A negative one in brackets, so that the arithmetic can be read.
    """
    text = latex_with_unit(plain_text(value), unit)
    return rf"\left({text}\right)" if value < 0 else text


def percent_text(share: float) -> str:
    """Write a share or a probability in per cent, to two digits.

    >>> percent_text(0.0402), percent_text(0.00716), percent_text(1.246), percent_text(0.0), percent_text(1e-7)
    ('4.0 %', '0.72 %', '125 %', '0 %', 'under 0.01 %')
    """
    if 0 < share < 1e-4:
        return "under 0.01 %"
    return f"{round_text(100 * share, 2) if abs(share) < 1 else fixed_text(100 * share, 0)} %"


def utilisation_text(ratio: float | None) -> str:
    """Write how far a check is used: two decimals, rounded up, so that none looks better than it is.

    >>> utilisation_text(0.9012), utilisation_text(0.9), utilisation_text(1.0000004), utilisation_text(None)
    ('0.91', '0.90', '1.01', 'none')
    """
    if ratio is None or not math.isfinite(ratio):
        return "none"
    hundredths = math.ceil(canonical(ratio) * 100 - 1e-6)
    return fixed_text((max(hundredths, 101) if ratio > 1 else hundredths) / 100, 2)


def duration(minutes: float) -> str:
    """Write a time: minutes, with seconds below ten; hours and minutes from two hours on.

    >>> duration(6.417), duration(32.63), duration(1530.0), duration(2100.0), duration(0.0), duration(-0.5)
    ('6 min 25 s', '33 min', '25 h 30 min', '35 h', '0 min', '-30 s')
    """
    if minutes < 0:
        return f"-{duration(-minutes)}" if round(canonical(minutes) * 60) else duration(0.0)
    seconds = round(canonical(minutes) * 60)
    if seconds < 600 and seconds % 60:
        whole, rest = divmod(seconds, 60)
        return f"{whole} min {rest} s" if whole else f"{rest} s"
    hours, rest = divmod(round(seconds / 60), 60)
    if hours < 2:
        return f"{60 * hours + rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def shown_apart(one: float, other: float, unit: str) -> tuple[str, str]:
    """Write two numbers that differ, with as many digits as it takes to see it; by the rule of their kind if that does.

    >>> shown_apart(0.563, 0.5625, "in"), shown_apart(0.563, 0.5, "in")
    (('0.563 in', '0.562 in'), ('0.56 in', '0.50 in'))
    """
    said = shown_text(one, unit), shown_text(other, unit)
    for digits in range(3, DIGITS + 1):
        if said[0] != said[1]:
            break
        said = with_unit(round_text(one, digits), unit), with_unit(round_text(other, digits), unit)
    return said


def shown_text(value: float, unit: str) -> str:
    """Write a number that was worked out, in the unit in which it is shown: by the one rule for its kind.

    >>> shown_text(62.8319, "kN"), shown_text(23.0, "mm"), shown_text(1.4, "%"), shown_text(32.63, "min")
    ('62.8 kN', '23.0 mm', '1.4 %', '33 min')
    >>> shown_text(0.004, "kip"), shown_text(0.0, "kip"), shown_text(0.73, "fl oz")
    ('4 lbf', '0.00 kip', '0.73 fl oz')
    """
    if not math.isfinite(value):
        return "not known"
    if unit in _MINUTES:
        return duration(value * _MINUTES[unit])
    if unit == "%":
        return percent_text(value / 100)
    if unit in _COUNTED or unit == "":
        return with_unit(plain_text(value, 4), "" if unit == "pcs" else unit)
    decimals = 1 if abs(value) >= _MANY.get(unit, math.inf) else shown_decimals(unit)
    if unit in _SMALLER and value and abs(value) < 0.5 / 10**decimals:
        smaller, times = _SMALLER[unit]
        return shown_text(value * times, smaller)
    return with_unit(fixed_text(value, decimals), unit)


def shown_decimals(unit: str) -> int:
    """Return the decimals of what was worked out, shown in a unit.

    >>> shown_decimals("mL"), shown_decimals("in")
    (1, 2)
    """
    return _DECIMALS.get(unit, 2)


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
        return self.usual("mL", "fl oz")

    @property
    def ordered_unit(self) -> str:
        """Unit of what is ordered in packs."""
        return self.usual("L", "fl oz")

    @property
    def job_volume_unit(self) -> str:
        """Unit of what goes into many holes."""
        return self.usual("L", "fl oz")

    @property
    def dust_unit(self) -> str:
        """Unit of what comes out of many holes."""
        return self.usual("L", "ft³")

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

    def _shown(self, value: float, unit: str, target: str) -> str:
        return shown_text(convert(value, unit, target), target)

    # ---- lengths [mm] ----

    def surface(self, value: float) -> str:
        """Write a depth that is read on site: a tenth of a millimetre, or the nearest sixteenth of an inch."""
        return self.usual(self.length(value), self.read_off(value))

    def length(self, value: float) -> str:
        """Write a length that was worked out: a tenth of a millimetre, or a hundredth of an inch."""
        return self._shown(value, "mm", self.length_unit)

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

    def drilled(self, value: float) -> str:
        """Write a length that is drilled by a tape or a stop, never less: up to a millimetre, or a sixteenth."""
        up = self.tape_up(value)
        return self.usual(f"{fixed_text(up, 0)} mm", _fraction(round(convert(up, "mm", "in") * _SIXTEENTHS)))

    def tape_up(self, value: float) -> float:
        """Return a length rounded up to what a tape shows [mm]: to a millimetre, or to a sixteenth of an inch."""
        step = self.usual(1.0, convert(1.0, "in", "mm") / _SIXTEENTHS)
        return math.ceil(value / step - 1e-6) * step

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
        """Write a volume in a hole."""
        return self._shown(value, "mm³", self.volume_unit)

    def dose(self, value: float) -> str:
        """Write a dose as it is set at the dispenser, as short as it can be said."""
        return with_unit(plain_text(convert(value, "mm³", self.volume_unit), 4), self.volume_unit)

    def job_volume(self, value: float) -> str:
        """Write the adhesive of a whole job."""
        return self._shown(value, "mm³", self.job_volume_unit)

    def loose_volume(self, value: float) -> str:
        """Write a volume of loose dust."""
        return self._shown(value, "mm³", self.dust_unit)

    def lost_volume(self, value: float) -> str:
        """Write a volume that is expected to be lost."""
        return self.job_volume(value)

    # ---- forces [N], masses [g], temperatures [°C] ----

    def force(self, value: float) -> str:
        """Write a force that was worked out."""
        return self._shown(value, "N", self.force_unit)

    def given_force(self, value: float) -> str:
        """Write a force that was given, as short as it can be said."""
        return with_unit(plain_text(convert(value, "N", self.force_unit), 4), self.force_unit)

    def mass(self, value: float) -> str:
        """Write the mass of drilled concrete."""
        return self._shown(value, "g", self.usual("kg", "lb"))

    def temperature(self, value: float) -> str:
        """Write a temperature: whole where it is whole, else with one decimal, or two where one would read as whole.

        So that what lies outside a range never reads as its edge.
        """
        number = canonical(convert(value, "°C", self.temperature_unit))
        decimals = 0 if number % 1 == 0 else 1 if round(number, 1) % 1 else 2
        return with_unit(fixed_text(number, decimals), self.temperature_unit)

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
        """Half of the last digit of a length [mm]; what is shorter reads as none."""
        return self.usual(0.05, 0.127)

    @property
    def least_volume(self) -> float:
        """Half of the last digit of a volume [mm³]; what is smaller reads as none."""
        return self.usual(50.0, 148.0)

    # ---- paper ----

    @property
    def paper(self) -> str:
        """Sheet on which a document is printed, by the name that Typst has for it."""
        return self.usual("a4", "us-letter")

    # ---- steps of a record ----

    def split(self, value: float, unit: str, *, volumes_only: bool) -> tuple[float, str]:
        """Return number and unit as a step shows them: all of one step alike, so that the printed arithmetic holds."""
        target = self.volume_unit if volumes_only and unit == "mm³" else self.unit(unit)
        return convert(value, unit, target), target

    def given(self, value: float, unit: str, split: tuple[float, str]) -> str:
        """Write what goes into a step; in the unit that people use first, where the step needs another."""
        text = with_unit(plain_text(split[0]), "" if unit == "pcs" else split[1])
        beside = self.usual(split[1], _US_BESIDE.get(unit, split[1]))
        return text if beside == split[1] else f"{with_unit(plain_text(convert(value, unit, beside)), beside)} ({text})"

    def result(self, value: float, unit: str, split: tuple[float, str]) -> tuple[str, str]:
        """Write a step's result and typeset it; beside the unit of the arithmetic in the one that people use."""
        number, shown = split
        text, typeset = with_unit(round_text(number), shown), latex_with_unit(round_text(number), shown)
        beside = self.volume_unit if same_kind(unit, "mm³") else self.usual(shown, _US_BESIDE.get(unit, shown))
        if shown == beside:
            return text, typeset
        said = round_text(convert(value, unit, beside))
        return with_unit(said, beside), rf"{typeset} = {latex_with_unit(said, beside)}"


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
