"""Reading results.json of schema 1.

It is turned into the form that the rest of the workbook knows, and nothing of it is computed.

Schema 1 told by ids and sentences alone what belongs to which bar group, and named a formula by the module that it
stood in. This is the one place that still takes such texts apart, because nothing else stands in these packages.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from calc.base.identity import identity, number_of
from calc.base.ledger import id_of

SCHEMA = 1
_WHOLE = "job"
_STEP = "step "


def as_schema_2(results: Mapping[str, Any]) -> dict[str, Any]:
    """Return results of schema 1 as schema 2 writes them.

    Parameters
    ----------
    results
        What results.json holds; it may come from anybody. What is not as schema 1 has it stays as it is, for its reader
        to refuse.

    Returns
    -------
    dict
        A content of its own. Inputs say neither ``general`` nor ``row``, checks no ``what`` and notices no name: see
        `comparable`.
    """
    marks = [str(one["mark"]) for one in _dicts(results.get("groups")) if "mark" in one]
    marks.sort(key=len, reverse=True)  # the longest mark that fits: a mark may hold dots, and begin like another one
    parts: dict[str, tuple[str, str | None, str]] = {}
    for sheet in _dicts(results.get("sheets")):
        for record in (*_dicts(sheet.get("steps")), *_dicts(sheet.get("checks"))):
            parts[str(record.get("id"))] = _parts(str(sheet.get("notebook")), str(record.get("id")), marks)
    return {**_each(results, sheets=lambda sheet: _sheet(sheet, parts)), "schema": 2}


def comparable(results: Mapping[str, Any]) -> dict[str, Any]:
    """Return results of schema 2 with no more in them than schema 1 knew, so that the two can be compared."""
    return _each(
        results,
        sheets=lambda sheet: _each(
            sheet,
            steps=lambda step: _each(step, inputs=lambda given: _without(given, "step", "general", "row")),
            checks=lambda check: _without(check, "what"),
            notices=lambda notice: notice.get("text"),
        ),
    )


def _without(record: Mapping[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in record.items() if key not in keys}


def _dicts(value: Any) -> list[dict[str, Any]]:
    """The records of a list; none of what is no list."""
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def _each(record: Mapping[str, Any], **made: Callable[[Mapping[str, Any]], Any]) -> dict[str, Any]:
    """Return a record with every record in the lists under these keys made anew.

    What is no list, or no record in one, stays.
    """
    lists = {key: value for key, value in record.items() if key in made and isinstance(value, list)}
    return {
        **record,
        **{key: [made[key](one) if isinstance(one, dict) else one for one in value] for key, value in lists.items()},
    }


def _parts(notebook: str, old: str, marks: Sequence[str]) -> tuple[str, str | None, str]:
    start = f"{number_of(notebook)}."
    rest = old.removeprefix(start) if old.startswith(start) else old
    for mark in (*marks, _WHOLE):
        if rest.startswith(f"{mark}."):
            return notebook, mark if mark in marks else None, rest.removeprefix(f"{mark}.")
    return notebook, None, rest


def _sheet(sheet: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    found = _each(sheet, steps=lambda step: _step(step, parts), checks=lambda check: _check(check, parts))
    if isinstance(sheet.get("notices"), list):
        found["notices"] = [
            {"notebook": sheet.get("notebook"), "mark": None, "name": "", "text": text} for text in sheet["notices"]
        ]
    return found


def _belongs(record: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    notebook, mark, name = parts[str(record.get("id"))]
    return {"id": identity(notebook, mark, name), "notebook": notebook, "mark": mark, "name": name}


def _step(step: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    found = {**_each(step, inputs=lambda given: _input(given, parts)), **_belongs(step, parts)}
    if isinstance(step.get("formula"), str):
        found["formula"] = id_of(step["formula"])
    return found


def _input(given: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    origin = given.get("origin")
    if not isinstance(origin, str) or not origin.startswith(_STEP) or origin.removeprefix(_STEP) not in parts:
        return {**given, "step": None}
    step = identity(*parts[origin.removeprefix(_STEP)])
    return {**given, "origin": f"{_STEP}{step}", "step": step}


def _check(check: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    found = _without(check, "passes") | _belongs(check, parts)
    return found | (
        {"verdict": "passes" if check["passes"] is True else "fails"} if isinstance(check.get("passes"), bool) else {}
    )
