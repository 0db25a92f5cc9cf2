"""What `help` says of a formula beyond what its author wrote: source, parameters, result and what is refused.

All of it stands in the declaration and the nomenclature already, and a second writing could only come to disagree.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Mapping

from calc.base.nomenclature import NOMENCLATURE

WRITTEN = ("Parameters", "Returns", "Raises")
_SECTION = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)
_WORDS = {"<": "below", "<=": "at most"}


def sections_of(text: str) -> list[str]:
    """Return the titles of a docstring's sections, in order."""
    return _SECTION.findall(inspect.cleandoc(text))


def documented(
    written: str,
    *,
    source: str,
    parameters: Mapping[str, str],
    result: tuple[str, str],
    limits: Mapping[str, tuple[float, float]],
    soft: Mapping[str, tuple[float, float]],
    relations: Iterable[str],
) -> str:
    """Return a formula's docstring with what nobody writes, before the sections that its author wrote.

    Parameters
    ----------
    written
        Docstring of the author.
    source
        Document and clause.
    parameters
        Unit by name.
    result
        Symbol and unit.
    limits, soft, relations
        As `calc.base.formula.formula` takes them.

    Returns
    -------
    str
        In the sections of numpydoc.
    """
    text = inspect.cleandoc(written)
    first = _SECTION.search(text)
    head, tail = (text[: first.start()], text[first.start() :]) if first else (text, "")
    ranges = {name: _range(limits.get(name), soft.get(name)) for name in parameters}
    made = [
        f"Source: {source}.",
        _section("Parameters", [_entry(name, unit, ranges[name]) for name, unit in parameters.items()]),
        _section("Returns", [_entry(*result)]),
        _section("Raises", _refused(bool(limits), relations)),
    ]
    return "\n\n".join(part for part in (head.strip(), *made, tail.strip()) if part) + "\n"


def _section(title: str, entries: list[str]) -> str:
    return "\n".join((title, "-" * len(title), *entries)) if entries else ""


def _entry(name: str, unit: str, more: str = "") -> str:
    return f"{name} : float or ndarray [{unit or '-'}]\n    {NOMENCLATURE[name][1]}{more}"


def _range(hard: tuple[float, float] | None, soft: tuple[float, float] | None) -> str:
    accepted = f"; accepted: {hard[0]:g} to {hard[1]:g}" if hard else ""
    return accepted + (f"; outside {soft[0]:g} to {soft[1]:g} it gives a notice" if soft else "")


def _refused(limited: bool, relations: Iterable[str]) -> list[str]:
    why = [
        f"``{left}`` not {_WORDS[sign]} ``{right}``"
        for left, sign, right in (relation.split() for relation in relations)
    ]
    reasons = [*(["a value outside its range, or NaN"] if limited else []), *why]
    return [f"RangeError\n    {'; '.join(reasons)}"] if reasons else []
