"""The register of formulas: what each was called when it was born, for good.

A formula is known by its id, never by the module in which it stands: results.json names ids, so modules can be split
and formulas moved without a package of last year coming out differently. ``data/formula_ids.json`` is only ever added
to, at its end. Packages of schema 1 name a formula by the address at which it was born; that is why the address is
kept, too.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import cache
from importlib import resources
from typing import TypedDict

from calc.base.formula import DeclarationError, Formula

IDS = "formula_ids.json"


class _Required(TypedDict):
    id: str
    born_as: str


class Entry(_Required, total=False):
    """One formula: its id, the address of the function at its birth, and why it is no longer there, if it is not."""

    retired: str


def entries() -> list[Entry]:
    """Read the register, oldest first."""
    file = resources.files("calc.base").joinpath("data", IDS)
    return list(json.loads(file.read_text(encoding="utf-8")))


@cache
def _by_address() -> dict[str, str]:
    return {entry["born_as"]: entry["id"] for entry in entries()}


def id_of(named: str) -> str:
    """Return the id of a formula as a package names it: by its id, or in schema 1 by the address of its birth."""
    return _by_address().get(named, named)


def with_newborn(formulas: Iterable[Formula]) -> list[Entry]:
    """Return the register with the formulas that it does not hold yet at its end.

    Parameters
    ----------
    formulas
        Every formula of the workbook.

    Returns
    -------
    list of Entry

    Raises
    ------
    DeclarationError
        Two formulas have one id, or one takes an id that is retired.
    """
    known = {entry["id"]: entry for entry in entries()}
    found: dict[str, Formula] = {}
    for one in formulas:
        if one.id in found:
            raise DeclarationError(
                f"{one.address} and {found[one.id].address} are both '{one.id}'; give the newer one another:"
                " @formula(id=…)"
            )
        if "retired" in known.get(one.id, {}):
            raise DeclarationError(
                f"{one.address}: '{one.id}' was the id of a retired formula; give another: @formula(id=…)"
            )
        found[one.id] = one
    return [*known.values(), *(Entry(id=one.id, born_as=one.address) for one in found.values() if one.id not in known)]


def as_text(register: Iterable[Entry]) -> str:
    """Write a register, one formula a line, so that two people who each add one see it in the difference."""
    return "[\n" + ",\n".join(json.dumps(entry, ensure_ascii=False) for entry in register) + "\n]\n"
