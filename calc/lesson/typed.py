"""Reading a typed share: a percentage, or a number up to 1."""

from __future__ import annotations

from calc.base.units import UnitError, convert, parse_number, parse_quantity
from calc.lesson.texts import Texts

_LIKE = 0.5  # the example in the sentence about a wrong entry


class NoPercentError(UnitError):
    """A bare number above 1, where a share was asked for."""


def parse_share(text: str, texts: Texts) -> float:
    """Read a share.

    Parameters
    ----------
    text
        What was typed, such as ``"50 %"``, ``"0.5"`` or ``"1/2"``.
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
    stripped = text.strip()
    if stripped.endswith(" %"):
        return parse_quantity(stripped, "%").to("")
    head, _, tail = stripped.partition(" ")
    number = parse_number(head if tail and "/" not in tail else stripped.removesuffix("%"))
    if (tail and "/" not in tail) or stripped.endswith("%"):
        raise UnitError(texts.say("deck.bad_share", **said))
    if abs(number) > 1:
        raise NoPercentError(texts.say("deck.no_percent", **said))
    return number
