"""Columns of the hole record, and what may stand in their cells.

Texts, numbers with the unit of the header, dates, times of day.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

from calc.base.units import UnitError, parse_number, units_like
from calc.files.problems import without_value
from calc.files.strict import LENGTH_UNITS, LONGEST_NOTE, Numbers, wrong_text

PLANNED = ("planned_depth", "planned_dose", "planned_strokes")
TEXTS = ("batch", "initials", "note")
RECORD_COLUMNS = (
    *(
        "mark",
        "hole",
        "bar",
        *PLANNED,
        "date",
        "batch",
        "expiry",
        "concrete_temperature",
        "pack_temperature",
        "depth",
        "cleaned",
    ),
    *("dose", "strokes", "injected", "set", "initials", "note"),
)
_LONGEST_NAME = 60
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::[0-5]\d)?", re.ASCII)


# Ranges are wide on purpose: they catch a slip of a unit; a value that is merely bad is a finding.
_LENGTH = Numbers("mm", LENGTH_UNITS, 0.0, 10_500.0)
_VOLUME = Numbers("mm³", units_like("mL"), 0.0, 2e8, written="mL")
_TEMPERATURE = Numbers("°C", units_like("°C"), -60.0, 100.0)
NUMBERS: Mapping[str, Numbers] = {
    "planned_depth": _LENGTH,
    "depth": _LENGTH,
    "planned_dose": _VOLUME,
    "dose": _VOLUME,
    "concrete_temperature": _TEMPERATURE,
    "pack_temperature": _TEMPERATURE,
}
STROKE_COLUMNS = ("planned_strokes", "strokes")


def read_cell(*, name: str, text: str, unit: str) -> tuple[object, str]:
    """Read a cell.

    Parameters
    ----------
    name
        Name of its column.
    text
        What stands in it.
    unit
        Unit of the column's title.

    Returns
    -------
    tuple of object and str
        Its value (None when it is empty) [mm, mm³, °C, min after midnight], and what is wrong with it.
    """
    if name in TEXTS:
        return text, wrong_text(text, LONGEST_NOTE if name == "note" else _LONGEST_NAME)
    if not text:
        return None, ""
    if name in ("date", "expiry"):
        return _read_date(text)
    if name == "cleaned":
        known = {"yes": True, "y": True, "no": False, "n": False}.get(text.casefold())
        return known, (
            ""
            if known is not None
            else "is neither yes nor no; accepted: yes, no, or an empty cell when it was not written down"
        )
    if name in ("injected", "set"):
        match = _CLOCK.fullmatch(text)
        return (
            (60.0 * int(match[1]) + int(match[2]), "")
            if match
            else (None, "is not a time of day; accepted: hours and minutes of 24, such as 07:45")
        )
    return _read_strokes(text) if name in STROKE_COLUMNS else NUMBERS[name].read(text, unit)


def _read_date(text: str) -> tuple[date | None, str]:
    accepted = "accepted: year-month-day, such as 2027-06-30"
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        return None, f"is not a date that has one meaning; {accepted}"
    try:
        return date.fromisoformat(text), ""
    except ValueError:
        return None, f"is no day of the calendar; {accepted}"


def _read_strokes(text: str) -> tuple[float | None, str]:
    accepted = "accepted: a whole number from 0 to 100000"
    try:
        number = parse_number(text)
    except UnitError as error:
        return None, f"{without_value(str(error))}; {accepted}"
    if number != int(number) or not 0 <= number <= 100_000:
        return None, f"is no number of strokes; {accepted}"
    return number, ""
