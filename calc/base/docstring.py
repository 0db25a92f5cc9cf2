"""What `help` says of a formula beyond what its author wrote: source, parameters, result and what is refused.

All of it stands in the declaration and the nomenclature already, and a second writing could only come to disagree.
"""

from __future__ import annotations

import inspect
import re
from typing import TYPE_CHECKING

from calc.base.nomenclature import NOMENCLATURE

if TYPE_CHECKING:
    from calc.base.formula import Formula

WRITTEN = ("Parameters", "Returns", "Raises")
_SECTION = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)
_WORDS = {"<": "below", "<=": "at most"}


def sections_of(text: str) -> list[str]:
    """Return the titles of a docstring's sections, in order."""
    return _SECTION.findall(inspect.cleandoc(text))


def documented(one: Formula) -> str:
    """Return a formula's docstring with the sections that nobody writes, before those that its author wrote."""
    text = inspect.cleandoc(one.function.__doc__ or "")
    first = _SECTION.search(text)
    head, tail = (text[: first.start()], text[first.start() :]) if first else (text, "")
    made = [
        f"Source: {one.source}.",
        _section("Parameters", [_entry(name, unit, _range(one, name)) for name, unit in one.parameters.items()]),
        _section("Returns", [_entry(one.symbol, one.unit)]),
        _section("Raises", _refused(one)),
    ]
    return "\n\n".join(part for part in (head.strip(), *made, tail.strip()) if part) + "\n"


def _section(title: str, entries: list[str]) -> str:
    return "\n".join((title, "-" * len(title), *entries)) if entries else ""


def _entry(name: str, unit: str, more: str = "") -> str:
    return f"{name} : float or ndarray [{unit or '-'}]\n    {NOMENCLATURE[name][1]}{more}"


def _range(one: Formula, name: str) -> str:
    limits = f"; accepted: {one.limits[name][0]:g} to {one.limits[name][1]:g}" if name in one.limits else ""
    return limits + (f"; outside {one.soft[name][0]:g} to {one.soft[name][1]:g} it gives a notice" if name in one.soft else "")


def _refused(one: Formula) -> list[str]:
    relations = (relation.split() for relation in one.relations)
    why = [f"``{left}`` not {_WORDS[sign]} ``{right}``" for left, sign, right in relations]
    reasons = [*(["a value outside its range, or NaN"] if one.limits else []), *why]
    return [f"RangeError\n    {'; '.join(reasons)}"] if reasons else []
