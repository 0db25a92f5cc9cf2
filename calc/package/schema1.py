"""Reading results.json of schema 1: it is turned into the form that the rest of the workbook knows, and nothing of it is computed.

Schema 1 told by ids and sentences alone what belongs to which bar group, and named a formula by the module that it stood in. This is
the one place that still takes such texts apart, because nothing else stands in these packages.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.base.identity import identity, number_of
from calc.base.ledger import id_of

SCHEMA = 1
_WHOLE = "job"
_STEP = "step "


def canonical(results: Mapping[str, Any]) -> dict[str, Any]:
    """Return results of schema 1 as schema 2 writes them.

    Parameters
    ----------
    results
        What results.json holds; it may come from anybody. What is not as schema 1 has it stays as it is, for its reader to refuse.

    Returns
    -------
    dict
        A content of its own. Inputs say neither ``general`` nor ``row``, checks no ``what`` and notices no name: see `comparable`.
    """
    groups = results.get("groups")
    marks = [str(one["mark"]) for one in groups if isinstance(one, dict) and "mark" in one] if isinstance(groups, list) else []
    marks.sort(key=len, reverse=True)  # the longest mark that fits: a mark may hold dots, and begin like another one
    sheets = results.get("sheets")
    if not isinstance(sheets, list):
        return {**results, "schema": 2}
    parts: dict[str, tuple[str, str | None, str]] = {}
    for sheet in sheets:
        for part in ("steps", "checks"):
            for record in _records(sheet, part):
                parts[str(record.get("id"))] = _parts(str(sheet.get("notebook")), str(record.get("id")), marks)
    return {**results, "schema": 2, "sheets": [_sheet(sheet, parts) if isinstance(sheet, dict) else sheet for sheet in sheets]}


def comparable(results: Mapping[str, Any]) -> dict[str, Any]:
    """Return results of schema 2 with no more in them than schema 1 knew, so that the two can be compared."""
    sheets = results.get("sheets")
    return {**results, "sheets": [_known(sheet) if isinstance(sheet, dict) else sheet for sheet in sheets]} if isinstance(sheets, list) else dict(results)


def _known(sheet: Mapping[str, Any]) -> dict[str, Any]:
    found = dict(sheet)
    if isinstance(sheet.get("steps"), list):
        found["steps"] = [_less(step) if isinstance(step, dict) else step for step in sheet["steps"]]
    if isinstance(sheet.get("checks"), list):
        found["checks"] = [{key: value for key, value in one.items() if key != "what"} if isinstance(one, dict) else one for one in sheet["checks"]]
    if isinstance(sheet.get("notices"), list):
        found["notices"] = [one.get("text") if isinstance(one, dict) else one for one in sheet["notices"]]
    return found


def _less(step: Mapping[str, Any]) -> dict[str, Any]:
    inputs = step.get("inputs")
    if not isinstance(inputs, list):
        return dict(step)
    return {**step, "inputs": [{key: value for key, value in one.items() if key not in ("step", "general", "row")} for one in inputs if isinstance(one, dict)]}


def _records(sheet: Any, part: str) -> Sequence[Mapping[str, Any]]:
    records = sheet.get(part) if isinstance(sheet, dict) else None
    return [one for one in records if isinstance(one, dict)] if isinstance(records, list) else []


def _parts(notebook: str, old: str, marks: Sequence[str]) -> tuple[str, str | None, str]:
    start = f"{number_of(notebook)}."
    rest = old.removeprefix(start) if old.startswith(start) else old
    for mark in (*marks, _WHOLE):
        if rest.startswith(f"{mark}."):
            return notebook, mark if mark in marks else None, rest.removeprefix(f"{mark}.")
    return notebook, None, rest


def _sheet(sheet: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    found = dict(sheet)
    if isinstance(sheet.get("steps"), list):
        found["steps"] = [_step(step, parts) if isinstance(step, dict) else step for step in sheet["steps"]]
    if isinstance(sheet.get("checks"), list):
        found["checks"] = [_check(check, parts) if isinstance(check, dict) else check for check in sheet["checks"]]
    if isinstance(sheet.get("notices"), list):
        found["notices"] = [{"notebook": sheet.get("notebook"), "mark": None, "name": "", "text": text} for text in sheet["notices"]]
    return found


def _belongs(record: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    notebook, mark, name = parts[str(record.get("id"))]
    return {"id": identity(notebook, mark, name), "notebook": notebook, "mark": mark, "name": name}


def _step(step: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    found = {**step, **_belongs(step, parts)}
    if isinstance(step.get("formula"), str):
        found["formula"] = id_of(step["formula"])
    if isinstance(step.get("inputs"), list):
        found["inputs"] = [_input(one, parts) if isinstance(one, dict) else one for one in step["inputs"]]
    return found


def _input(given: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    origin = given.get("origin")
    if not isinstance(origin, str) or not origin.startswith(_STEP) or origin.removeprefix(_STEP) not in parts:
        return {**given, "step": None}
    step = identity(*parts[origin.removeprefix(_STEP)])
    return {**given, "origin": f"{_STEP}{step}", "step": step}


def _check(check: Mapping[str, Any], parts: Mapping[str, tuple[str, str | None, str]]) -> dict[str, Any]:
    found = {key: value for key, value in check.items() if key != "passes"} | _belongs(check, parts)
    return found | ({"verdict": "passes" if check["passes"] is True else "fails"} if isinstance(check.get("passes"), bool) else {})
