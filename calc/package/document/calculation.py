"""The calculation: the pages that are signed, in their order, gathered from what the notebooks show and results.json.

Nothing is computed here. A view says by its place which of `PARTS` it belongs to; what no view shows, such as one dose
worked with its numbers, is taken from the steps of results.json. Whatever else the notebooks show stays in the HTML
page and the spreadsheet; every step stands in the record.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from calc.base.identity import DOSE, EMBEDMENT, number_of
from calc.package.document.numbering import Equations, Places
from calc.package.document.parts import EVERY_CHECK, IN_RECORD, MADE_OF, Block, Document, Front, Section
from calc.package.document.wording import check_row, cut_text
from calc.work.trace import Trace, governing, mark_of, symbol_latex

PARTS: Mapping[str, str] = {
    "inputs": "Inputs, and where they come from",
    "doses": "Doses",
    "worked": "One dose worked, and a measured hole",
    "fill": "The hole while the bar goes in",
    "overfill": "Overfill",
    "embedment": "Embedment and forces",
    "full": "One full calculation for each use",
    "drawings": "Drawings",
    "short": "What a short hole costs",
    "days": "The crew's days, temperatures and loads",
    "order": "Order, cleaning and dust",
    "checks": "Checks, cautions and notices",
}
_USES = ("anchorage", "lap", "joint", "anchor")
_BESIDE = 8  # groups whose values stand beside the one that is worked in full; the record has them all
_ALL_CHECKS = 250  # of more, the numbers of those that pass stand in results.json and the spreadsheet alone
_MATRIX = 7
_HALF = 0.5  # checks that use more than this are signed one by one


def with_calculation(document: Document, trace: Trace | None) -> Document:
    """Put the parts of the calculation in front of the notebooks' sections, and leave there what no part takes.

    Parameters
    ----------
    document : Document
        The document.
    trace : Trace or None
        Its trace; without one there are only the parts that page 1 leads to.

    Returns
    -------
    Document
    """
    placed: dict[str, list[Block]] = {part: [] for part in PARTS}
    rest = []
    for section in document.sections:
        for block in section.blocks:
            placed.get(str(block.get("place", "")), []).append(block)
        rest.append(replace(section, blocks=tuple(b for b in section.blocks if b.get("place") not in PARTS)))
    if trace is not None:
        placed["worked"] += _worked(trace)
        placed["full"] += _full(trace)
    if document.front is not None:
        placed["checks"] += _checks(document.front)
        every = Section("Every check", tuple(_every_check(document.front)), EVERY_CHECK)
        at = next((index for index, section in enumerate(rest) if section.notebook == MADE_OF), len(rest))
        rest.insert(at, every)
    parts = [Section(title, tuple(placed[part]), part=part) for part, title in PARTS.items() if placed[part]]
    return replace(document, sections=(*parts, *rest) if trace is not None else (*rest, *parts))


def _steps(trace: Trace, notebook: str, mark: str) -> list[Mapping[str, Any]]:
    return [step for own, _, step in trace.by_mark[mark] if own == notebook and "formula" in step]


def _worked(trace: Trace) -> Iterator[Block]:
    """The dose of the group that governs, and what a measured hole adds to it."""
    measured = [str(group["mark"]) for group in trace.groups if group.get("measured")]
    straight = [check for check in _checks_of(trace, DOSE) if mark_of(check) and mark_of(check) not in measured]
    most = governing(straight)
    shown = _steps(trace, DOSE, mark_of(most)) if most else []
    if most:
        yield {"kind": "chain", "title": f"{mark_of(most)}, a straight hole", "steps": shown}
    known = {_same(step) for step in shown}
    for mark in measured[:1]:
        own = [step for step in _steps(trace, DOSE, mark) if _same(step) not in known]
        yield {"kind": "chain", "title": f"{mark}, a measured hole: what differs", "steps": own}


def _checks_of(trace: Trace, notebook: str) -> list[Mapping[str, Any]]:
    return [check for sheet in trace.sheets if sheet["notebook"] == notebook for check in sheet["checks"]]


def _use_of(group: Mapping[str, Any]) -> str:
    return "anchor" if group.get("force_path") == "concrete" else str(group.get("use") or "")


def _full(trace: Trace) -> Iterator[Block]:
    """For each use the group that governs it, with every number; all groups beside each other in one table.

    A formula that a use before it had is not typeset again: its value stands in the table.
    """
    checks = _checks_of(trace, EMBEDMENT)
    known: dict[tuple[str, str], Mapping[str, Any]] = {}
    worked, groups = [], []
    for use in _USES:
        marks = [str(group["mark"]) for group in trace.groups if _use_of(group) == use]
        most = governing(check for check in checks if mark_of(check) in marks)
        if most is not None:
            mark = mark_of(most)
            own = {_same(step): step for step in _steps(trace, EMBEDMENT, mark)}
            new = [step for key, step in own.items() if key not in known]
            title = f"{mark}, {use}; it governs" + ("" if len(new) == len(own) else ": what the uses before have not")
            yield {"kind": "chain", "title": title, "steps": new}
            known = own | known
            worked.append(mark)
            groups += [other for other in marks if other != mark]
    if worked and len(worked) + len(groups) > 1:
        yield _beside(trace, known, [*worked, *groups][:_BESIDE])


def _same(step: Mapping[str, Any]) -> tuple[str, str]:
    """What two groups have alike: the place in the chain, and the formula."""
    return str(step["name"]), str(step["formula"])


def _beside(trace: Trace, known: Mapping[tuple[str, str], Mapping[str, Any]], marks: list[str]) -> Block:
    """Values of the groups, a row for each result."""
    uses = dict(known)
    cells: dict[tuple[str, str], dict[str, str]] = {key: {} for key in known}
    for mark in marks:
        for step in _steps(trace, EMBEDMENT, mark):
            uses.setdefault(_same(step), step)
            cells.setdefault(_same(step), {})[mark] = str(step["shown"])
    rows = [
        {"step": step["id"], "symbol": str(step["symbol"]), "cells": [cells[key].get(mark, "–") for mark in marks]}
        for key, step in uses.items()
        if len(cells[key]) > 1
    ]
    return {"kind": "values", "caption": "The groups beside each other", "columns": marks, "rows": rows}


def _checks(front: Front) -> Iterator[Block]:
    """Checks that fail, are owed or use much; then cautions and notices, the weightiest first."""
    much = [one for one in front.checks if one.get("verdict") != "passes" or (one.get("utilisation") or 0) > _HALF]
    title = "Checks that fail, are owed or use more than half"
    if len(front.checks) > _ALL_CHECKS:
        by_mark: dict[str, list[Mapping[str, Any]]] = {}
        for check in much:
            by_mark.setdefault(mark_of(check), []).append(check)
        worst = [governing(checks) for checks in by_mark.values()]
        much = [check for check in much if check.get("verdict") != "passes" or check in worst]
        title = "Checks that fail or are owed, and of each group the one that uses most"
    yield {"kind": "checks", "title": title, "checks": much, "among": front.checks}
    for title, items in (("Cautions", front.cautions), ("Notices", [one.words for one in front.notices])):
        if items:
            yield {"kind": "notices", "title": title, "items": list(items)}


def _every_check(front: Front) -> Iterator[Block]:
    """All checks with their numbers; of very many the utilisations, a row for each group, a few kinds to a table."""
    if len(front.checks) <= _ALL_CHECKS:
        yield {"kind": "checks", "title": "", "checks": front.checks, "place": IN_RECORD}
        return
    heads: dict[tuple[str, str], str] = {}
    cells: dict[str, dict[tuple[str, str], str]] = {}
    for check in front.checks:
        row = check_row(check)
        kind = row["notebook"], row["name"]
        heads.setdefault(kind, f"{number_of(row['notebook'])} {cut_text(row['what'] or row['name'], 44)}")
        cells.setdefault(row["mark"], {})[kind] = row["utilisation"] + ("" if row["passes"] else " ✗")
    columns = list(heads)
    for start in range(0, len(columns), _MATRIX):
        part = columns[start : start + _MATRIX]
        yield {
            "kind": "table",
            "place": IN_RECORD,
            "caption": "Utilisation of every check; ✗ marks one that fails" + (", continued" if start else ""),
            "columns": ["Group", *(heads[key] for key in part)],
            "rows": [
                [mark or "whole job", *(own.get(key, "–") for key in part)]
                for mark, own in cells.items()
                if any(key in own for key in part)
            ],
            "align": "l" + "r" * len(part),
        }


def chain_view(block: Block, places: Places, equation: Equations) -> dict[str, Any]:
    """Steps with their numbers, each linked to its place in the record, which has origins and sources."""
    steps = []
    for step in block["steps"]:
        latex, alt = str(step.get("latex") or ""), str(step.get("alt") or "")
        steps.append(
            {
                "place": places.of(str(step["id"])),
                "label": str(step["label"]),
                "symbol": equation(symbol_latex(str(step["symbol"])), str(step["symbol"])),
                "equation": equation(latex, alt),
                "lines": equation.lines(latex, alt),
                "shown": str(step["shown"]),
            }
        )
    return {"kind": "chain", "title": block["title"], "steps": steps}
