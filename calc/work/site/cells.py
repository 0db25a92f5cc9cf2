"""Columns of the hole record, and what may stand in their cells.

Texts, numbers with the unit of the header, dates, times of day.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date

from calc.base.units import UnitError, parse_number, units_like
from calc.files.problems import without_value
from calc.files.strict import LENGTH_UNITS, LONGEST_NOTE, Numbers, wrong_text

# Depths are told and measured from the face to the drill's point; a record may say them at full diameter instead.
PLANNED = ("planned_depth_to_tip", "planned_depth", "planned_dose", "planned_strokes")
FULL_DIAMETER = ("planned_depth", "depth")
TEXTS = ("batch", "initials", "note")
RECORD_COLUMNS = (
    *(
        "mark",
        "hole",
        "bar",
        "drawing",
        *PLANNED,
        "date",
        "batch",
        "expiry",
        "concrete_temperature",
        "pack_temperature",
        "depth_to_tip",
        "depth",
        "cleaned",
    ),
    *("dose", "strokes", "full", "injected", "set", "initials", "note"),
)
_LONGEST_NAME = 60
DATES = ("date", "expiry")
YES_OR_NO = ("cleaned", "full")
_KNOWN = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::[0-5]\d)?(?: ([ap])\.?m\.?)?", re.ASCII | re.IGNORECASE)
_DATE = re.compile(r"(?P<y>\d{4})-(?P<m>\d{1,2})-(?P<d>\d{1,2})|(\d{1,2})([./])(\d{1,2})\5(\d{4})", re.ASCII)


# Ranges are wide on purpose: they catch a slip of a unit; a value that is merely bad is a finding.
_LENGTH = Numbers("mm", LENGTH_UNITS, 0.0, 10_500.0)
_VOLUME = Numbers("mm³", units_like("mL"), 0.0, 2e8, written="mL")
_TEMPERATURE = Numbers("°C", units_like("°C"), -60.0, 100.0)
NUMBERS: Mapping[str, Numbers] = {
    **dict.fromkeys(("planned_depth_to_tip", "planned_depth", "depth_to_tip", "depth"), _LENGTH),
    "planned_dose": _VOLUME,
    "dose": _VOLUME,
    "concrete_temperature": _TEMPERATURE,
    "pack_temperature": _TEMPERATURE,
}
STROKE_COLUMNS = ("planned_strokes", "strokes")


def read_cell(*, name: str, text: str, unit: str, month_first: bool | None = None) -> tuple[object, str]:
    """Read a cell.

    Parameters
    ----------
    name
        Name of its column.
    text
        What stands in it.
    unit
        Unit of the column's title.
    month_first
        Whether 11/12/2026 is the twelfth of November; None where the file does not tell.

    Returns
    -------
    tuple of object and str
        Its value (None when it is empty) [mm, mm³, °C, min after midnight], and what is wrong with it.
    """
    if name in TEXTS:
        return text, wrong_text(text, LONGEST_NOTE if name == "note" else _LONGEST_NAME)
    if not text:
        return None, ""
    if name in DATES:
        return _read_date(text, month_first)
    if name in YES_OR_NO:
        known = _KNOWN.get(text.casefold())
        accepted = "accepted: yes, no, or an empty cell when it was not written down"
        return known, "" if known is not None else f"is neither yes nor no; {accepted}"
    if name in ("injected", "set"):
        return _read_clock(text)
    return _read_strokes(text) if name in STROKE_COLUMNS else NUMBERS[name].read(text, unit)


def _read_clock(text: str) -> tuple[float | None, str]:
    """Read a time of day, of 24 hours or with am and pm, as a spreadsheet may write it [min]."""
    match = _CLOCK.fullmatch(text)
    hours = int(match[1]) if match else 0
    if match is None or (match[3] and not 1 <= hours <= 12):
        return None, "is not a time of day; accepted: hours and minutes of 24, such as 07:45"
    if match[3]:
        hours = hours % 12 + (12 if match[3].lower() == "p" else 0)
    return 60.0 * hours + int(match[2]), ""


def says_month_first(texts: Iterable[str]) -> bool | None:
    """Say whether dates with slashes begin with the month: by those of a file that have one meaning only.

    Parameters
    ----------
    texts
        All cells of dates of a file.

    Returns
    -------
    bool or None
        None where no date tells, or where two contradict each other.

    Examples
    --------
    >>> says_month_first(["11/12/2026", "11/25/2026"]), says_month_first(["11/12/2026"])
    (True, None)
    """
    found = set()
    for match in filter(None, map(_DATE.fullmatch, texts)):
        if match[5] == "/":
            found |= ({True} if int(match[6]) > 12 else set()) | ({False} if int(match[4]) > 12 else set())
    return found.pop() if len(found) == 1 else None


def _read_date(text: str, month_first: bool | None) -> tuple[date | None, str]:
    accepted = "accepted: year-month-day, such as 2027-06-30"
    match = _DATE.fullmatch(text)
    if match is None:
        return None, f"is not a date that has one meaning; {accepted}"
    if match["y"]:
        year, month, day = (int(match[part]) for part in ("y", "m", "d"))
    elif match[5] == "/" and month_first is None:
        return None, f"may be day and month, or month and day; {accepted}"
    else:
        year, month, day = int(match[7]), int(match[6]), int(match[4])
        if match[5] == "/" and month_first:
            month, day = day, month
    try:
        return date(year, month, day), ""
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
