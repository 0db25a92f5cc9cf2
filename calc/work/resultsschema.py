"""The form of results.json, schema 2, written out as a JSON schema for those who read it with programs of their own."""

from __future__ import annotations

from typing import Any, get_args

from calc.base.sheet import VERDICTS, Way

Schema = dict[str, Any]

_MAYBE = {"type": ["number", "null"]}
_UNITS = {
    "mm": "length or depth [mm]",
    "mL": "volume [mL]",
    "L": "volume [L]",
    "kN": "force [kN]",
    "MPa": "stress [MPa]",
    "min": "time [min]",
    "h": "time [h]",
    "kg": "mass [kg]",
}


def _text(words: str, **more: Any) -> Schema:
    return {"type": "string", "description": words, **more}


def _number(words: str, **more: Any) -> Schema:
    return {"type": "number", "description": words, **more}


def _list(items: Schema, words: str) -> Schema:
    return {"type": "array", "items": items, "description": words}


def _record(words: str, properties: dict[str, Schema], optional: tuple[str, ...] = (), **more: Any) -> Schema:
    """An object that has these keys and no other, the optional ones aside."""
    required = [key for key in properties if key not in optional]
    closed = {"additionalProperties": False}
    return {"type": "object", "description": words, "properties": properties, "required": required, **closed, **more}


def _place() -> dict[str, Schema]:
    return {
        "notebook": _text("stem of the notebook that answers for it, such as 01_dose_per_hole"),
        "mark": {"type": ["string", "null"], "description": "bar group; null for the whole job"},
        "name": _text("what it is called there; notebook, mark and name together are its identity"),
    }


def _given() -> Schema:
    return _record(
        "A value that a result was worked or found from",
        {
            "name": _text("the parameter's name in the formula, or what it is called"),
            "value": _number("in the unit beside it"),
            "unit": _text("empty for a pure number"),
            "shown": _text("as printed"),
            "origin": _text("where it comes from, in words"),
            "step": {"type": ["string", "null"], "description": "id of the step or the found result that it is"},
            "general": _text("the origin, said the same for every group"),
            "row": {"type": "integer", "description": "row of the schedule"},
        },
        ("general", "row"),
    )


def _found() -> Schema:
    return _record(
        "A result that no formula gives",
        {
            "id": _text("made of notebook, mark and name"),
            **_place(),
            "label": _text("what was found, in words"),
            "value": _number("in the unit beside it"),
            "unit": _text("empty for a pure number"),
            "shown": _text("as printed"),
            "way": _text("how it was found", enum=[*get_args(Way)]),
            "how": _text("what was done with the inputs, so that it can be found again"),
            "inputs": _list(_given(), "what it was found from"),
        },
    )


def _side(words: str) -> Schema:
    ids = _list(
        _text("id of a step or a found result"), "what the number is; where there are words, what they speak of"
    )
    return _record(words, {"words": _text("how it comes about; empty where it is the step"), "steps": ids})


def _step() -> Schema:
    return _record(
        "One formula applied once",
        {
            "id": _text("made of notebook, mark and name"),
            **_place(),
            "label": _text("what is worked out, in words"),
            "symbol": _text("its symbol, with an underscore before the subscript"),
            "value": _number("result, in the unit beside it"),
            "unit": _text("empty for a pure number"),
            "shown": _text("as printed: in the job's units, rounded"),
            "formula": _text(
                "identity of the formula, the same in every version; empty where plain arithmetic was used"
            ),
            "expression": _text("the formula's right side, as it ran"),
            "latex": _text("formula, numbers put in, and result, in LaTeX"),
            "alt": _text("the same in plain words, for those who cannot see it"),
            "inputs": _list(_given(), "every value that went in"),
            "source": _text("standard and clause, or what else the formula rests on"),
            "notices": _list(_text("one sentence"), "what a reader has to know of this step"),
        },
    )


def _check() -> Schema:
    pair = {"type": "array", "prefixItems": [_text("table"), _text("key")], "minItems": 2, "maxItems": 2}
    return _record(
        "A demand against a resistance; it passes where the utilisation, unrounded, is at most 1",
        {
            "id": _text("made of notebook, mark and name"),
            **_place(),
            "title": _text("what is judged, with the bar group"),
            "demand": _MAYBE | {"description": "null where an owed check does not know it"},
            "resistance": _MAYBE | {"description": "null where an owed check does not know it"},
            "unit": _text("of demand and resistance"),
            "utilisation": _MAYBE | {"description": "demand over resistance; null where there is no such ratio"},
            "verdict": _text("owed: an input is missing, and the check is not passed", enum=[*VERDICTS]),
            "reason": _text("why it fails or is owed"),
            "advice": _text("what would help"),
            "what": _text("the title without the bar group"),
            "demand_from": _side("where the demand comes from"),
            "resistance_from": _side("where the resistance comes from"),
            "missing": _list(pair, "table and key of the job file that would close it; only where it is owed"),
        },
        ("missing",),
    )


def _table(words: str, properties: dict[str, Schema]) -> Schema:
    """An object that has at least these keys; a further key that ends with a unit is a number in it, or null."""
    ends = {f"_{unit}$": _MAYBE | {"description": what} for unit, what in _UNITS.items()}
    required = [*properties]
    return {"type": "object", "description": words, "properties": properties, "required": required} | {
        "patternProperties": ends
    }


def _group() -> Schema:
    return _table(
        "One bar group, by mark; keys of parts that the job file does not feed are null or absent",
        {
            "mark": _text("its mark in the schedule"),
            "count": {"type": "integer", "minimum": 1, "description": "holes"},
            "bar": _text("designation"),
            "direction": _text("of the hole", enum=["down", "horizontal", "overhead"]),
            "hole_diameter_mm": _number("of the drill bit"),
            "bar_diameter_mm": _number("nominal"),
            "embedment_mm": _number("length of the bar in the hole"),
            "overdrill_mm": _number("full-diameter hole beyond the bar's end"),
            "annular_volume_mL": _number("between bar and hole"),
            "tip_volume_mL": _number("in the cone of the drill's tip"),
            "overdrill_volume_mL": _number("beyond the bar's end"),
            "required_volume_mL": _number("fills the hole with the bar home"),
            "overfill": _number("share on top of the required volume"),
            "dose_mL": _number("required volume and overfill"),
            "rounded_dose_mL": _number("rounded up to what the dispenser can give: the dose to inject"),
            "strokes": {"type": ["integer", "null"], "description": "of the dispenser; null where it has a scale"},
            "level_before_bar_mm": _number("depth of the surface below the mouth, before the bar goes in"),
        },
    )


def results_schema() -> Schema:
    """Return the JSON schema of results.json.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. Lengths in mm, volumes in mL or L; a key says its unit at its end.
    """
    notice = _record("What a reader has to know beside the numbers", {**_place(), "text": _text("one sentence")})
    sheet = _record(
        "What one notebook works out",
        {
            "notebook": _place()["notebook"],
            "steps": _list(_step(), "in the order in which they were worked"),
            "checks": _list(_check(), ""),
            "notices": _list(notice, ""),
            "found": _list(_found(), "what was counted, summed, read, simulated or found numerically"),
        },
    )
    job = {key: _text("as the job file has it") for key in ("number", "revision", "title", "adhesive", "approval")}
    job |= {
        "invented": {"type": "boolean", "description": "whether any file says that its data are invented"},
        "units": _text("in which the documents show the numbers; the numbers here do not change with it"),
    }
    totals = {
        "holes": {"type": "integer", "minimum": 1, "description": "of all groups"},
        "dose_L": _number("dispensed into all holes"),
        "discard_L": _MAYBE | {"description": "initial discard of all packs and mixers, thrown away"},
        "residual_L": _MAYBE | {"description": "stays in emptied packs"},
        "packs_counted": {
            "type": ["string", "null"],
            "description": "whether a hole may be finished from the next pack",
        },
        "packs": {"type": ["integer", "null"], "description": "that the holes take"},
        "mixers": {"type": ["integer", "null"], "description": "that the holes take"},
    }
    top = _record(
        "Results of a calculation of adhesive for bonded bars; every number has at most ten digits",
        {
            "schema": {"const": 2, "description": "raised when the form changes so that a reader has to know"},
            "note": _text("what null means"),
            "job": _record("", job),
            "sheets": _list(sheet, "one for each notebook"),
            "groups": _list(_group(), "in the schedule's order"),
            "totals": _table("Of the whole job", totals),
        },
    )
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "results.json, schema 2", **top}
