"""The document of a calculation package: what stands in it, before any file format.

`Document` holds plain data. `view` turns it into what both writers draw: steps numbered and linked, equations
converted, checks put into words, headings without a gap in their levels. A writer decides only how it looks.

The data stand in `parts`, page 1 in `front`, the tables of the trace in `tracetables`, numbers and links in
`numbering`, words in `wording`, beside this module.
"""

from __future__ import annotations

import base64
import copy
from collections.abc import Iterator
from typing import Any

from calc.base.sheet import Origin
from calc.package.document import markup
from calc.package.document.calculation import chain_view, with_calculation
from calc.package.document.front import front_view
from calc.package.document.numbering import Equations, Places, anchor, find_places, inputs_table, numbered_table
from calc.package.document.parts import BLOCK_KINDS, INVENTED, Block, Document, numbered, steps_of
from calc.package.document.record import values_view, with_record
from calc.package.document.tracetables import answers_table, appendix
from calc.package.document.wording import check_rows, count_line, cut_text
from calc.work.trace import Trace

_WHOLE = 2500  # a step with more text than this may be split over pages, for it might not fit on one
_CUT_TITLE = 160


def _step_view(number: str, step: dict[str, Any], places: Places, equation: Equations) -> dict[str, Any]:
    inputs: list[dict[str, Any]] = []
    for entry in step.get("inputs", []):
        origin, source = str(entry.get("origin", "")), entry.get("step")
        place = places.of(source) if source and source != step["id"] else None
        alone = origin == Origin(step=source).words  # nothing is said but the step
        shown = origin if place is None else place["text"] if alone else f"{origin}, {place['text']}"
        inputs.append(
            {
                "name": equation(str(entry.get("latex") or ""), str(entry.get("name", ""))),
                "shown": str(entry.get("shown", "")),
                "origin": shown,
                "target": place["target"] if place else None,
            }
        )
    identity = str(step["id"])
    length = len(str(step.get("label", ""))) + sum(len(str(text)) for text in step.get("notices", []))
    length += sum(len(entry["shown"]) + len(entry["origin"]) for entry in inputs)
    return {
        "whole": length < _WHOLE and str(step.get("latex", "")).count(r"\\") < 20,
        "number": number,
        "id": identity,
        "anchor": anchor(identity) if places.steps.get(identity, ("",))[0] == number else None,
        "label": str(step.get("label", "")),
        "symbol": equation(str(step.get("symbol_latex") or ""), str(step.get("symbol", ""))),
        "equation": equation(str(step.get("latex") or ""), str(step.get("alt") or "")),
        "lines": equation.lines(str(step.get("latex") or ""), str(step.get("alt") or "")),
        "shown": str(step.get("shown", "")),
        "whose": str(step.get("whose", "")),
        "source": str(step.get("source") or ""),
        "inputs": inputs,
        "notices": [str(text) for text in step.get("notices", [])],
    }


def _close_gaps(sections: list[dict[str, Any]]) -> None:
    """No heading may lie more than one level under the one before it: a screen reader would announce a missing part."""
    for section in sections:
        last = 2
        for block in section["blocks"]:
            if block.get("title"):
                last = 3
            for node in markup.walk(block.get("nodes", [])):
                if node["t"] == "h":
                    node["level"] = last = min(node["level"], last + 1, 6)


def view(document: Document) -> dict[str, Any]:
    """Everything that a writer needs, as JSON-able data.

    Parameters
    ----------
    document : Document
        The document.

    Returns
    -------
    dict
        title, job, front, sections and stamp, with numbers, links, equations and verdicts worked out.

    Raises
    ------
    ValueError
        For an unknown kind of block, or a table whose rows do not fit its columns.
    """
    for section in document.sections:
        for block in section.blocks:
            if block.get("kind") not in BLOCK_KINDS:
                raise ValueError(
                    f"unknown kind of block {block.get('kind')!r} in section {section.title!r}; known are"
                    f" {', '.join(BLOCK_KINDS)}"
                )
    places, equation = Places(), Equations()
    trace = Trace(document.results) if document.results is not None else None
    if trace is not None:
        document = with_record(document, trace)
    document = with_calculation(document, trace)
    front = front_view(document, document.front, places, equation) if document.front else None
    find_places(document, trace, places)
    texts = [
        str(block["markdown"]) for section in document.sections for block in section.blocks if block["kind"] == "prose"
    ]
    trees = iter(copy.deepcopy(markup.prose(texts)))
    steps = iter([_step_view(number, step, places, equation) for number, step in steps_of(document)])
    sections = []
    for index, section in numbered(document):
        blocks = [_block_view(block, trees, steps, places, equation) for block in section.blocks]
        if trace is not None and section.notebook in places.behind:
            blocks += appendix(trace, section.notebook, places, equation)
        heads = {"number": index, "title": section.title, "anchor": f"part-{index}", "part": section.part}
        sections.append(heads | {"notebook": section.notebook, "blocks": blocks})
    results_table = answers_table(trace, places) if trace is not None else None
    equation.convert()
    _close_gaps(sections)
    job = {
        key: document.job.get(key)
        for key in ("number", "revision", "title", "site", "prepared_by", "checked_by", "adhesive", "date")
    }
    return {
        "title": document.title,
        "short_title": cut_text(document.title, _CUT_TITLE),
        "job": {key: "" if value is None else str(value) for key, value in job.items()},
        "invented": INVENTED if document.job.get("invented") else None,
        "front": front,
        "sections": sections,
        "trace": [results_table] if results_table else [],
        "stamp": document.stamp,
    }


def _block_view(
    block: Block, trees: Iterator[Any], steps: Iterator[Any], places: Places, equation: Equations
) -> dict[str, Any]:
    kind, title = block["kind"], str(block.get("title") or "")
    match kind:
        case "prose":
            return {"kind": kind, "place": block.get("place", ""), "nodes": next(trees)}
        case "steps":
            own = [next(steps) for _ in block["steps"]]
            return {"kind": kind, "title": title, "place": block.get("place", ""), "note": block.get("note", "")} | {
                "steps": own
            }
        case "chain":
            return chain_view(block, places, equation)
        case "values":
            return values_view(block, places.numbers[id(block)], places, equation)
        case "table":
            return numbered_table(block, places.numbers.get(id(block)))
        case "inputs":
            return inputs_table(block, places.numbers.get(id(block)))
        case "figure":
            caption = str(block.get("caption") or "")
            alt = str(block.get("alt") or caption or "Figure without a description")
            return {
                "kind": kind,
                "place": block.get("place", ""),
                "svg": block["svg"],
                "alt": alt,
                "caption": caption,
                "number": places.numbers.get(id(block)),
            }
        case "photo":
            caption = str(block["caption"])
            return {
                "kind": kind,
                "data": base64.b64encode(block["body"]).decode("ascii"),
                "ending": block["ending"],
                "alt": caption or "Picture of an engineer's note, without a caption",
                "caption": caption,
                "number": places.numbers.get(id(block)),
            }
        case "note":
            return {"kind": kind, "title": title, "lines": [str(line) for line in block["lines"]]}
        case "checks":
            rows = check_rows(block["checks"])
            count = count_line(check_rows(block.get("among") or block["checks"]))
            return {"kind": kind, "title": title, "place": block.get("place", ""), "checks": rows, "count": count}
    return {"kind": kind, "title": title, "items": [str(item) for item in block["items"]]}
