"""The calculation: the pages that are signed, in their order, gathered from what the notebooks show and results.json.

Nothing is computed here. A view says by its place which of `PARTS` it belongs to; what no view shows, such as one dose
worked with its numbers, is taken from the steps of results.json. Whatever else the notebooks show stays in the HTML
page and the spreadsheet; every step stands in the record.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from calc.base.identity import DOSE, EMBEDMENT
from calc.package.document.numbering import Equations, Places
from calc.package.document.parts import Block, Document, Front, Section
from calc.package.document.wording import check_rows
from calc.work.trace import Trace, Use, governing, mark_of, symbol_latex

PARTS: Mapping[str, str] = {
    "inputs": "Inputs, and where they come from",
    "doses": "Doses",
    "worked": "One dose worked, and a measured hole",
    "fill": "The hole while the bar goes in",
    "overfill": "Overfill",
    "embedment": "Embedment, forces and what is not designed",
    "full": "One full calculation for each use",
    "drawings": "Drawings",
    "short": "What a short hole costs",
    "days": "The crew's days, temperatures and loads",
    "order": "Order, cleaning and dust",
    "checks": "Checks, cautions and notices",
}
_USES = ("anchorage", "lap", "joint", "anchor")
_BESIDE = 8  # groups whose values stand beside the one that is worked in full; the record has them all
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
    parts = [
        Section(title, tuple(placed[part]), part=part) for part, title in PARTS.items() if placed[part]
    ]
    return replace(document, sections=(*parts, *rest))


def _chain(title: str, steps: Iterable[Mapping[str, Any]], others: Block | None = None) -> Iterator[Block]:
    yield {"kind": "chain", "title": title, "steps": list(steps)}
    if others is not None:
        yield others


def _steps(trace: Trace, notebook: str, mark: str) -> list[Mapping[str, Any]]:
    return [step for own, _, step in trace.by_mark[mark] if own == notebook]


def _worked(trace: Trace) -> Iterator[Block]:
    """The dose of the group that governs, and what a measured hole adds to it."""
    measured = [str(group["mark"]) for group in trace.groups if group.get("measured")]
    straight = [check for check in _checks_of(trace, DOSE) if mark_of(check) and mark_of(check) not in measured]
    most = governing(straight)
    shown = _steps(trace, DOSE, mark_of(most)) if most else []
    if most:
        yield from _chain(f"{mark_of(most)}, a straight hole", shown)
    known = {(step["name"], step["formula"]) for step in shown}
    for mark in measured[:1]:
        own = [step for step in _steps(trace, DOSE, mark) if (step["name"], step["formula"]) not in known]
        yield from _chain(f"{mark}, a measured hole: what differs", own)


def _checks_of(trace: Trace, notebook: str) -> list[Mapping[str, Any]]:
    return [check for sheet in trace.sheets if sheet["notebook"] == notebook for check in sheet["checks"]]


def _use_of(group: Mapping[str, Any]) -> str:
    return "anchor" if group.get("force_path") == "concrete" else str(group.get("use") or "")


def _full(trace: Trace) -> Iterator[Block]:
    """For each use the group that governs it, with every number; the others beside each other in a table."""
    checks = _checks_of(trace, EMBEDMENT)
    for use in _USES:
        marks = [str(group["mark"]) for group in trace.groups if _use_of(group) == use]
        most = governing(check for check in checks if mark_of(check) in marks)
        if most is None:
            continue
        mark = mark_of(most)
        steps = _steps(trace, EMBEDMENT, mark)
        others = [other for other in marks if other != mark]
        yield from _chain(f"{mark}, {use}; it governs", steps, _beside(trace, use, steps, others[:_BESIDE]))


def _beside(trace: Trace, use: str, steps: Iterable[Mapping[str, Any]], others: list[str]) -> Block | None:
    """Values of the other groups of a use, a row for each result by the symbol that it has."""
    own: dict[tuple[str, str], dict[str, str]] = {(s["name"], s["formula"]): {} for s in steps}
    uses = {(step["name"], step["formula"]): step for step in steps}
    for mark in others:
        for step in _steps(trace, EMBEDMENT, mark):
            key = (step["name"], step["formula"])
            own.setdefault(key, {})[mark] = str(step["shown"])
            uses.setdefault(key, step)
    rows = [
        {"step": uses[key]["id"], "symbol": str(uses[key]["symbol"]), "cells": [cells.get(m, "–") for m in others]}
        for key, cells in own.items()
        if cells
    ]
    caption = f"The same for the other groups in use as {use}"
    return {"kind": "values", "caption": caption, "columns": others, "rows": rows} if rows else None


def _checks(front: Front) -> Iterator[Block]:
    """Checks that fail, are owed or use much; then cautions and notices, the weightiest first."""
    much = [check for check in front.checks if check.get("verdict") != "passes" or (check.get("utilisation") or 0) > _HALF]
    yield {"kind": "checks", "title": "Checks that fail, are owed or use more than half", "checks": much, "all": front.checks}
    for title, items in (("Cautions", front.cautions), ("Notices", [one.words for one in front.notices])):
        if items:
            yield {"kind": "notices", "title": title, "items": list(items)}


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
