"""The record: every step of every bar group, each formula typeset once and the values of all groups in tables.

It is made from results.json, which holds every step, and takes the place of the steps that the notebooks show; `build`
has held those against the same results before.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from calc.package.document.numbering import Equations, Places
from calc.package.document.parts import IN_RECORD, Block, Document, Section
from calc.package.document.wording import few_names
from calc.work.trace import Trace, Use, governing, mark_of, symbol_latex

_WIDTH = 92  # letters that the columns of values may have beside each other
_HEAD = "Numbers of {mark}, which governs, where it has the formula; else of the first group that has it."


def with_record(document: Document, trace: Trace) -> Document:
    """Give each notebook its record in the place of the steps and the tables of steps that it shows.

    Parameters
    ----------
    document : Document
        The document.
    trace : Trace
        Its trace.

    Returns
    -------
    Document
    """
    checks = {str(sheet["notebook"]): sheet["checks"] for sheet in trace.sheets if sheet["steps"]}
    sections = [
        _with_steps(section, trace, mark_of(governing(checks[section.notebook]) or {}))
        if section.notebook in checks
        else section
        for section in document.sections
    ]
    return replace(document, sections=tuple(sections))


def _with_steps(section: Section, trace: Trace, governs: str) -> Section:
    kept = [block for block in section.blocks if not (block["kind"] == "steps" or block.get("ids"))]
    place = next(
        (index for index, block in enumerate(section.blocks) if block["kind"] == "steps" or block.get("ids")), len(kept)
    )
    # As the record is printed: what goes in before the steps, tables of results before those of all groups' values.
    behind = [block for block in kept[place:] if block.get("place") == IN_RECORD]
    kept[place:] = [block for block in kept[place:] if block.get("place") != IN_RECORD]
    uses = trace.uses(section.notebook)
    steps: Block = {
        "kind": "steps",
        "title": "",
        "place": IN_RECORD,
        "note": _HEAD.format(mark=governs) if governs else "",
        "steps": [_step(use, trace, governs) for use in uses],
    }
    kept[place:place] = [steps, *behind, *_values(uses, trace, section.title)]
    return replace(section, blocks=tuple(kept))


def _step(use: Use, trace: Trace, governs: str) -> dict[str, Any]:
    """The step as it is typeset: that of the governing group where it has one, with the ids of all that are alike."""
    steps = [trace.by_id[identity] for identity in use.ids]
    chosen = next((step for step in steps if mark_of(step) == governs), steps[0])
    inputs = [dict(given) | {"latex": symbol_latex(str(given["name"]))} for given in chosen["inputs"]]
    marks = [mark_of(step) for step in steps if mark_of(step)]
    notices: dict[str, list[str]] = {}
    for step in steps:
        for text in step["notices"]:
            notices.setdefault(text, []).append(mark_of(step))
    return dict(chosen) | {
        "symbol_latex": symbol_latex(str(chosen["symbol"])),
        "inputs": inputs,
        "alike": use.ids,
        "whose": few_names(sorted(marks, key=lambda mark: mark != mark_of(chosen))),
        "notices": [f"{few_names(told)}: {text}" if any(told) else text for text, told in notices.items()],
    }


def _values(uses: list[Use], trace: Trace, title: str) -> Iterator[Block]:
    """Tables of values: a row for each formula that several groups ran, as many groups beside each other as fit."""
    shown: dict[str, dict[int, str]] = {}
    for row, use in enumerate(uses):
        for identity in use.ids if len(use.ids) > 1 else ():
            step = trace.by_id[identity]
            shown.setdefault(mark_of(step), {})[row] = str(step["shown"])
    for marks in _beside(shown):
        rows = sorted({row for mark in marks for row in shown[mark]})
        yield {
            "kind": "values",
            "place": IN_RECORD,
            "caption": f"{title}: values of {few_names(marks)}",
            "columns": marks,
            "rows": [
                {
                    "step": uses[row].ids[0],
                    "symbol": str(uses[row].step["symbol"]),
                    "cells": [shown[mark].get(row, "–") for mark in marks],
                }
                for row in rows
            ],
        }


def _beside(shown: Mapping[str, Mapping[int, str]]) -> Iterator[list[str]]:
    """Part the groups so that the columns of each part fit beside each other."""
    part: list[str] = []
    width = 0
    for mark, values in shown.items():
        own = 2 + max(len(mark), *(len(text) for text in values.values()))
        if part and width + own > _WIDTH:
            yield part
            part, width = [], 0
        part, width = [*part, mark], width + own
    if part:
        yield part


def values_view(block: Block, number: str | None, places: Places, equation: Equations) -> dict[str, Any]:
    """Tables of values as a writer draws them: number and symbol of each step, linked, and each group's value."""
    rows = [
        {
            "place": places.of(row["step"]),
            "symbol": equation(symbol_latex(row["symbol"]), row["symbol"]),
            "cells": row["cells"],
        }
        for row in block["rows"]
    ]
    return {
        "kind": "values",
        "place": block.get("place", ""),
        "caption": block["caption"],
        "number": number,
        "anchor": f"table-{number}",
        "columns": block["columns"],
        "rows": rows,
    }
