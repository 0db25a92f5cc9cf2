"""Units at the edge: a strict grammar for what people type, and the project's only pint registry.

Inside ``calc`` every quantity is a plain float (or array) in the unit that its parameter declares. Text becomes such a
float here and nowhere else, so that a decimal comma or a forgotten unit is refused instead of being read as something
a hundred times larger.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any

import pint

from calc.base.errors import NotAccepted

_registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=False)

# Declared units of formula parameters and results. A scalar or an array in that unit.
Mm = Annotated[float, "mm"]
Mm2 = Annotated[float, "mm²"]
Mm3 = Annotated[float, "mm³"]
ML = Annotated[float, "mL"]
Degree = Annotated[float, "°"]
MPa = Annotated[float, "MPa"]
Newton = Annotated[float, "N"]
NewtonPerMm = Annotated[float, "N/mm"]
Ratio = Annotated[float, ""]
Percent = Annotated[float, "%"]
Whole = Annotated[float, "pcs"]
Inch = Annotated[float, "in"]
Inch2 = Annotated[float, "in²"]
Psi = Annotated[float, "psi"]
Lbf = Annotated[float, "lbf"]
LbfPerInch = Annotated[float, "lbf/in"]
Celsius = Annotated[float, "°C"]
Minute = Annotated[float, "min"]
Kilogram = Annotated[float, "kg"]
KgPerM3 = Annotated[float, "kg/m³"]
Gram = Annotated[float, "g"]
GramPerML = Annotated[float, "g/mL"]

# What people may type (left) and how the registry calls it (right). Nothing outside this list reaches pint.
_ACCEPTED: dict[str, str] = {
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "in": "inch",
    "ft": "foot",
    "mm²": "mm**2",
    "mm2": "mm**2",
    "cm²": "cm**2",
    "cm2": "cm**2",
    "m²": "m**2",
    "m2": "m**2",
    "in²": "inch**2",
    "in2": "inch**2",
    "mm³": "mm**3",
    "mm3": "mm**3",
    "cm³": "cm**3",
    "cm3": "cm**3",
    "mL": "mL",
    "ml": "mL",
    "L": "L",
    "l": "L",
    "in³": "inch**3",
    "in3": "inch**3",
    "fl oz": "fluid_ounce",
    "gal": "gallon",
    "ft³": "foot**3",
    "ft3": "foot**3",
    "lb/gal": "lb/gallon",
    "lb/ft³": "lb/foot**3",
    "lb/ft3": "lb/foot**3",
    "°": "degree",
    "deg": "degree",
    "N": "N",
    "kN": "kN",
    "lbf": "lbf",
    "kip": "kip",
    "MPa": "MPa",
    "N/mm²": "N/mm**2",
    "N/mm2": "N/mm**2",
    "psi": "psi",
    "ksi": "ksi",
    "°C": "degC",
    "degC": "degC",
    "°F": "degF",
    "degF": "degF",
    "s": "s",
    "min": "min",
    "h": "hour",
    "d": "day",
    "g": "g",
    "kg": "kg",
    "lb": "lb",
    "kg/m³": "kg/m**3",
    "kg/m3": "kg/m**3",
    "g/mL": "g/mL",
    "g/cm³": "g/cm**3",
    "kg/m": "kg/m",
    "lb/ft": "lb/foot",
    "N/m": "N/m",
    "kN/m": "kN/m",
    "N/mm": "N/mm",
    "lbf/ft": "lbf/foot",
    "kip/ft": "kip/foot",
    "lbf/in": "lbf/inch",
    "%": "percent",
}
_PLAIN = {"": "dimensionless", "pcs": "dimensionless"}

_LONGEST_FRACTION = 40  # characters; longer ones are no measure, and Python would work them for hours
_NUMBER = r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?"
_DECIMAL = re.compile(_NUMBER, re.ASCII)
_FRACTION = re.compile(r"(?P<sign>-?)(?:(?P<whole>\d+)[- ])?(?P<top>\d+)/(?P<bottom>\d+)", re.ASCII)
_QUANTITY = re.compile(rf"(?P<number>{_FRACTION.pattern.replace('P<', 'P<f_')}|{_NUMBER}) (?P<unit>\S.*)", re.ASCII)


class UnitError(NotAccepted):
    """Text that the grammar does not accept; the message is a sentence for the person who typed it."""


@dataclass(frozen=True)
class Quantity:
    """A number with the unit it was given in."""

    value: float
    unit: str
    text: str

    def to(self, unit: str) -> float:
        """Return the value in ``unit``; raises `UnitError` when the dimensions differ."""
        return convert(self.value, self.unit, unit)


def _name(unit: str) -> str:
    try:
        return _ACCEPTED.get(unit) or _PLAIN[unit]
    except KeyError:
        raise UnitError(f"'{unit}' is not a unit that is read here") from None


def _exact(slope: float, noise: float) -> float:
    """Take off the last bits that the registry adds: 1 mL is 1000 mm³, not 1000.0000000000002, and 1 in is 25.4 mm.

    A slope between two scales with a start is a difference, whose ``noise`` is greater.
    """
    for candidate in (float(f"{slope:.12g}"), 1 / float(f"{1 / slope:.12g}")):
        if math.isclose(candidate, slope, rel_tol=noise):
            return candidate
    return slope


@cache
def _line(source: str, target: str) -> tuple[float, float]:
    """Slope and offset that take a number in ``source`` to ``target``."""
    one, two = _registry.Quantity(0.0, _name(source)), _registry.Quantity(1.0, _name(source))
    try:
        zero = float(one.to(_name(target)).magnitude)
        slope = _exact(float(two.to(_name(target)).magnitude) - zero, 2e-13 if zero else 2e-15)
        return slope, _start(zero, float(_registry.Quantity(0.0, _name(target)).to(_name(source)).magnitude), slope)
    except pint.DimensionalityError:
        raise UnitError(
            f"'{source}' cannot be converted to '{target}': these are different kinds of quantity"
        ) from None


def _start(zero: float, back: float, slope: float) -> float:
    """Take off the last bits of a scale's start: 0 °C is 32 °F, not 31.999999999999936, and 32 °F is 0 °C."""
    short = float(f"{zero:.12g}")
    return short if math.isclose(short, zero, rel_tol=1e-14) else -float(f"{back:.12g}") * slope


@cache
def same_kind(one: str, other: str) -> bool:
    """Say whether two units measure the same kind of quantity."""
    try:
        return _kind(one) == _kind(other)
    except UnitError:
        return False


@cache
def _kind(unit: str) -> Any:
    return _registry.Unit(_name(unit)).dimensionality


def convert(value: float, source: str, target: str) -> float:
    """Convert ``value`` (a number or an array) from one accepted unit to another."""
    if source == target:
        return value
    slope, offset = _line(source, target)
    return value * slope + offset if offset else value * slope


@cache
def units_like(unit: str) -> tuple[str, ...]:
    """List the accepted units of the same kind as ``unit``, each once, in the order of the allow-list."""
    seen: dict[str, str] = {}
    for text, name in _ACCEPTED.items():
        if same_kind(text, unit):
            seen.setdefault(name, text)
    return tuple(seen.values())


def parse_number(text: str) -> float:
    """Read a bare number: decimal point optional, or a fraction such as ``5/8`` or ``1-1/8``.

    Raises
    ------
    UnitError
        For a decimal comma, NaN, infinity, or anything else that is not such a number.
    """
    stripped = text.strip()
    if _DECIMAL.fullmatch(stripped):
        value = float(stripped)
        if math.isfinite(value):
            return value
        raise UnitError(f"'{text}' is too large a number")
    if match := _FRACTION.fullmatch(stripped):
        if len(stripped) > _LONGEST_FRACTION:
            raise UnitError(f"'{text}' is too long a fraction; write a number with a decimal point")
        top, bottom = int(match["top"]), int(match["bottom"])
        if bottom == 0:
            raise UnitError(f"'{text}' divides by zero")
        if match["whole"] and top >= bottom:
            raise UnitError(
                f"'{text}' is not a proper mixed number; write it as a whole number and a fraction below one, such as"
                " 1-1/8"
            )
        value = int(match["whole"] or 0) + top / bottom
        return -value if match["sign"] else value
    if re.fullmatch(r"[+-]?\d+(?:,\d+)+(?:\.\d+)?", stripped):
        raise UnitError(f"'{text}' has a comma; write a decimal point and no thousands separators, such as 16.5")
    if stripped.lower().lstrip("+-") in {"nan", "inf", "infinity"}:
        raise UnitError(f"'{text}' is not a finite number")
    raise UnitError(
        f"'{text}' is not a number; write digits with a decimal point, such as 16.5, or a fraction such as 1-1/8"
    )


def parse_quantity(text: str, unit: str) -> Quantity:
    """Read ``"16.5 mm"`` or ``"1-1/8 in"``: a number, one space, a unit of the same kind as ``unit``.

    Parameters
    ----------
    text
        What was typed.
    unit
        A unit of the kind that is expected.

    Returns
    -------
    Quantity
        Number and unit as typed; ``.to(unit)`` converts.

    Raises
    ------
    UnitError
        A sentence that names the text and what is accepted.
    """
    accepted = ", ".join(units_like(unit))
    stripped = text.strip()
    match = _QUANTITY.fullmatch(stripped)
    if match is None:
        head, _, tail = stripped.partition(" ")
        glued = re.fullmatch(rf"(?P<number>{_NUMBER})(?P<unit>[^\d\s/.,-].*)", stripped)
        if glued:
            raise UnitError(f"'{text}' needs one space between number and unit; accepted units: {accepted}")
        parse_number(head if tail and not re.fullmatch(r"\d+/\d+.*", tail) else stripped)
        if tail.strip():
            raise UnitError(f"'{text}' needs exactly one space between number and unit; accepted units: {accepted}")
        raise UnitError(f"'{text}' has no unit; accepted units: {accepted}")
    number, given = parse_number(match["number"]), match["unit"]
    if re.fullmatch(r"\d+/\d+", given, re.ASCII):
        raise UnitError(f"'{text}' has no unit; accepted units: {accepted}")
    if given not in _ACCEPTED:
        raise UnitError(f"'{text}' has the unknown unit '{given}'; accepted units: {accepted}")
    if not same_kind(given, unit):
        raise UnitError(f"'{text}' has the wrong kind of unit '{given}'; accepted units: {accepted}")
    return Quantity(number, given, stripped)
