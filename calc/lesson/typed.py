"""Reading what people type in the lesson, where more is taken than in a job file, as long as it has one meaning.

A comma is a decimal mark here; the space before the unit may be missing; cl, cc and ccm are volumes; a bare number is
taken in a field whose label has the unit. What could be read in two ways is refused.
"""

from __future__ import annotations

import re

from calc.base.units import UnitError, convert, parse_number, parse_quantity
from calc.lesson.texts import Texts

_LIKE = 0.5  # the example in the sentence about a wrong entry
_COMMA = re.compile(r"(?P<whole>[+-]?\d+),(?P<part>\d+)(?P<rest>(?:\s*[^\d\s.,].*)?)", re.ASCII)
_GLUED = re.compile(r"(?P<number>[+-]?(?:\d[\d./ -]*)?\d(?:[eE][+-]?\d+)?)\s*(?P<unit>[^\d\s.,/+-].*)", re.ASCII)
_HOUSEHOLD = {"dl": (100.0, "mL"), "cl": (10.0, "mL"), "cL": (10.0, "mL"), "cc": (1.0, "cm³"), "ccm": (1.0, "cm³")}


def strict(text: str, texts: Texts, unit: str = "") -> str:
    """Write what was typed as the grammar of the job file has it; what is something else is left as it is.

    Parameters
    ----------
    text
        What was typed, such as ``"3,5 mL"``, ``"13.2mL"`` or ``"2 cl"``.
    texts
        The lesson's sentences.
    unit
        What stands in the field's label; a bare number is taken to be in it.

    Returns
    -------
    str

    Raises
    ------
    UnitError
        A comma before three digits, which some people write for thousands.
    """
    plain = text.strip()
    if comma := _COMMA.fullmatch(plain):
        if len(comma["part"]) == 3 and int(comma["whole"]):
            whole, point = (f"{comma['whole']}{mark}{comma['part']}{comma['rest']}" for mark in ("", "."))
            raise UnitError(texts.say("deck.two_ways", text=plain, whole=whole, point=point))
        plain = f"{comma['whole']}.{comma['part']}{comma['rest']}"
    if glued := _GLUED.fullmatch(plain):
        number, named = glued["number"], glued["unit"]
        if named in _HOUSEHOLD:
            times, named = _HOUSEHOLD[named]
            number = f"{parse_number(number) * times:.12g}"
        return f"{number} {named}"
    return f"{plain} {unit}" if unit and re.fullmatch(r"[+-]?[\d./ -]*\d", plain, re.ASCII) else plain


class NoPercentError(UnitError):
    """A bare number above 1, where a share was asked for."""


def parse_share(text: str, texts: Texts) -> float:
    """Read a share.

    Parameters
    ----------
    text
        What was typed, such as ``"50 %"``, ``"50%"``, ``"0,5"`` or ``"1/2"``.
    texts
        The lesson's sentences.

    Returns
    -------
    float [-]

    Raises
    ------
    NoPercentError
        A number above 1 without the sign.
    UnitError
        No number, or another unit; an angle is no share.
    """
    said = {"text": text, "example": f"{convert(_LIKE, '', '%'):g} %", "share": f"{_LIKE:g}"}
    stripped = strict(text, texts)
    if stripped.endswith(" %"):
        return parse_quantity(stripped, "%").to("")
    head, _, tail = stripped.partition(" ")
    number = parse_number(head if tail and "/" not in tail else stripped)
    if tail and "/" not in tail:
        raise UnitError(texts.say("deck.bad_share", **said))
    if abs(number) > 1:
        raise NoPercentError(texts.say("deck.no_percent", **said))
    return number
