"""Kinds of fields of the job file's tables: quantities typed as text with a unit, names, shares.

And `Part`, a table.
"""

from __future__ import annotations

import math
import re
from pathlib import PurePosixPath
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from calc.base.errors import NotAccepted
from calc.base.units import UnitError, convert, parse_quantity
from calc.files.problems import without_value
from calc.files.strict import tidy

_RESERVED = {"CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in range(1, 10))}
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")
_EXAMPLES = {
    "mm³": "330 mL",
    "mm": "200 mm",
    "°": "130 °",
    "°C": "15 °C",
    "MPa": "25 MPa",
    "kN": "30 kN",
    "min": "20 min",
    "h": "8 h",
}


def quantity(unit: str, *, low: float, high: float, open_low: bool = False, example: str = "") -> BeforeValidator:
    """Return what makes a float field read a text with a unit, within a range given in ``unit``."""

    def within(shown: str) -> str:
        least, most = (f"{convert(edge, unit, shown):.6g}" for edge in (low, high))
        return f"accepted: {'above' if open_low else 'from'} {least} {'up ' if open_low else ''}to {most} {shown}"

    accepted = within("mL" if unit == "mm³" else unit)
    example = example or _EXAMPLES.get(unit) or f"{high:.10g} {unit}"

    def read(value: object) -> float:
        if not isinstance(value, str):
            raise NotAccepted(
                f'is not a text with a unit; write a number and a unit in quotation marks, such as "{example}";'
                f" {accepted}"
            )
        try:
            typed = parse_quantity(value, unit)
        except UnitError as error:
            raise NotAccepted(f"{without_value(str(error))}; {accepted}") from None
        result = tidy(typed.to(unit))
        if result < low or result > high or (open_low and result == low):
            raise NotAccepted(f"is out of range; {within(typed.unit)}")  # in the unit of whoever typed it
        return result

    written = Field(description=f"Number, space, unit; {accepted}", examples=[example])
    return BeforeValidator(read, json_schema_input_type=Annotated[str, written])


def number(
    low: float, high: float, *, open_low: bool = False, open_high: bool = False, why: str = "", example: str = ""
) -> BeforeValidator:
    """Return what makes a float field take a bare number of a range; ``why`` is said to who writes more."""
    accepted = (
        f"accepted: a number without quotation marks, {'above' if open_low else 'from'} {low:g}"
        f" {'and below' if open_high else 'to'} {high:g}{f', such as {example}' if example else ''}"
    )

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise NotAccepted(f"is not a bare number; {accepted}")
        if isinstance(value, float) and not math.isfinite(value):
            raise NotAccepted(f"is not a finite number; {accepted}")
        if not low <= value <= high or (open_low and value == low) or (open_high and value == high):
            raise NotAccepted(f"is out of range{': ' + why if why and value > high else ''}; {accepted}")
        return float(value)

    edges: dict[str, Any] = {"gt" if open_low else "ge": low, "lt" if open_high else "le": high}
    return BeforeValidator(read, json_schema_input_type=Annotated[float, Field(**edges)])


def whole(low: int, high: int, why: str = "") -> BeforeValidator:
    """Return what makes an int field take a whole number of a range; ``why`` is said to who writes less."""
    accepted = f"accepted: a whole number from {low} to {high}"

    def read(value: object) -> int:
        if not isinstance(value, int) or isinstance(value, bool):
            raise NotAccepted(f"is not a whole number without quotation marks; {accepted}")
        if not low <= value <= high:
            raise NotAccepted(f"{f'is too few: {why}' if why and value < low else 'is out of range'}; {accepted}")
        return value

    return BeforeValidator(read)


# Ranges are wide on purpose: they catch a slip of a unit, not an unusual product.

PackVolume = Annotated[float, quantity("mm³", low=0.0, high=5e7, open_low=True)]
PartVolume = Annotated[float, quantity("mm³", low=0.0, high=5e7)]
StrokeVolume = Annotated[float, quantity("mm³", low=1.0, high=1e6)]
Depth = Annotated[float, quantity("mm", low=0.0, high=11000.0)]
Diameter = Annotated[float, quantity("mm", low=0.0, high=200.0, open_low=True)]
Angle = Annotated[float, quantity("°", low=60.0, high=180.0)]
Temperature = Annotated[float, quantity("°C", low=-40.0, high=60.0)]


def as_tuple(value: object) -> object:
    """Take a list of TOML as a tuple."""
    return tuple(value) if isinstance(value, list) else value


# Zero-width characters that scripts and joined emoji need, and marks of direction; what turns the line itself is not
# among them.
_INVISIBLE = str.maketrans("", "", "\u200b\u200c\u200d\u200e\u200f\u00a0\u202f\u3000\ufe0f")


def one_line(value: object) -> object:
    """Refuse a text that has more than one line."""
    if isinstance(value, str) and not value.translate(_INVISIBLE).isprintable():
        raise NotAccepted("has a line break or another character that does not print; accepted: one line of text")
    return value


def _code(value: object) -> object:
    """Check a job number or revision: it becomes part of a folder's name on any system."""
    accepted = "accepted: 1 to 40 letters a-z, digits, dots, underscores and hyphens, starting with a letter or digit"
    if not isinstance(value, str):
        raise NotAccepted(f"is not a text; write it in quotation marks; {accepted}")
    if not _CODE.fullmatch(value):
        raise NotAccepted(f"cannot be part of a folder's name; {accepted}")
    if value.endswith("."):
        raise NotAccepted(f"ends with a dot, which Windows drops from a folder's name; {accepted}")
    if value.split(".")[0].upper() in _RESERVED:
        raise NotAccepted(f"is a name that Windows keeps for itself; {accepted}")
    return value


def inside(*suffixes: str) -> BeforeValidator:
    """Return what accepts the name of a file inside the job's folder that ends in one of ``suffixes``."""

    def check(value: object) -> object:
        accepted = (
            f"accepted: a file inside the job's folder that ends in {' or '.join(suffixes)}, such as"
            f' "parts/file{suffixes[0]}"'
        )
        if not isinstance(value, str):
            raise NotAccepted(f"is not a text; {accepted}")
        path = PurePosixPath(value)
        if path.is_absolute() or ".." in path.parts or "\\" in value or ":" in value or not value.isprintable():
            raise NotAccepted(f"leads out of the job's folder or is not a plain relative path; {accepted}")
        if path.suffix.lower() not in suffixes:
            raise NotAccepted(f"does not end in {' or '.join(suffixes)}; {accepted}")
        return value

    return BeforeValidator(check)


def _folder(value: object) -> object:
    """Check the name of a folder inside the job's folder."""
    accepted = 'accepted: a folder inside the job\'s folder, such as "notes"'
    if not isinstance(value, str):
        raise NotAccepted(f"is not a text; {accepted}")
    path = PurePosixPath(value)
    led_out = path.is_absolute() or ".." in path.parts or "\\" in value or ":" in value or not value.isprintable()
    if led_out or not path.parts:
        raise NotAccepted(f"leads out of the job's folder or is not a plain relative path; {accepted}")
    return value


_LONGEST_TEXT = 10_000
Title = Annotated[str, Field(min_length=1, max_length=_LONGEST_TEXT), BeforeValidator(one_line)]


def _no_control(value: object) -> object:
    if isinstance(value, str) and any((ord(sign) < 32 and sign not in "\n\t") or ord(sign) == 127 for sign in value):
        raise NotAccepted("has a control character; accepted: text, with line breaks and tabs")
    return value


Note = Annotated[str, Field(max_length=_LONGEST_TEXT), BeforeValidator(_no_control)]
Line = Annotated[str, Field(max_length=200), BeforeValidator(one_line)]
FilledLine = Annotated[str, Field(min_length=1, max_length=200), BeforeValidator(one_line)]
Code = Annotated[str, BeforeValidator(_code), WithJsonSchema({"type": "string", "pattern": f"^{_CODE.pattern}$"})]
Share = Annotated[float, number(0.0, 2.0, example="0.10 for ten per cent more")]
RoundingShare = Annotated[float, number(0.0, 2.0, open_low=True, example="0.5 for half of the dose")]
TomlName = Annotated[str, inside(".toml")]
ScheduleName = Annotated[str, inside(".csv", ".xlsx")]
FolderName = Annotated[str, BeforeValidator(_folder)]


class Part(BaseModel):
    """A table of the job file: frozen, and no key that is not known."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, populate_by_name=False)
