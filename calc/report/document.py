"""The document of a calculation package: what stands in it, before any file format.

`Document` holds plain data. `view` turns it into what both writers draw: steps numbered and linked, equations converted, checks put
into words, headings without a gap in their levels. A writer decides only how it looks.
"""

from __future__ import annotations

import copy
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from calc.report import maths

Block = dict[str, Any]

_PROSE = 24
_WHOLE = 2500  # a step with more text than this may be split over pages, for it might not fit on one
INVENTED = "Demo with invented data: not for construction"
KINDS = ("prose", "steps", "table", "figure", "checks", "notices", "trace")


@dataclass(frozen=True)
class Front:
    """Page 1: what was asked, the answer, every check, and what a signature covers."""

    question: str
    answer: Block
    headline: tuple[str, ...]
    checks: list[dict[str, Any]]
    notices: list[str]
    cautions: list[str]
    not_covered: list[str]


@dataclass(frozen=True)
class Section:
    """One part of the document, mostly one notebook."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Document:
    """A whole document; `job` has number, revision, title, invented, site, prepared_by, checked_by, adhesive and date."""

    title: str
    job: dict[str, Any]
    front: Front | None
    sections: tuple[Section, ...]
    stamp: str


class DocumentError(RuntimeError):
    """The document could not be written; the message is one sentence."""


def number_text(value: object) -> str:
    """A number for people, four significant digits; a text stays as it is; a dash for nothing."""
    if value is None:
        return "–"
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    if not math.isfinite(value):
        return "not a number" if math.isnan(value) else "infinite"
    if isinstance(value, int) or value == 0:
        return str(value)
    magnitude = math.floor(math.log10(abs(value)))
    if not -4 <= magnitude < 7:
        return f"{value:.3e}"
    text = f"{value:.{max(0, 3 - magnitude)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def utilisation_text(utilisation: float | None, passes: bool) -> str:
    """Two decimals, and never a printed 1.00 or less beside a failure that exceeds it."""
    if utilisation is None or not math.isfinite(utilisation):
        return "–"
    text = f"{utilisation:.2f}"
    if not passes and utilisation > 1 and text == "1.00":
        return "> 1.00"
    return text


def check_row(check: dict[str, Any]) -> dict[str, Any]:
    """A check in words: what is compared, the verdict by word and sign."""
    unit = str(check.get("unit") or "")

    def amount(key: str) -> str:
        value = check.get(key)
        text = number_text(value)
        is_number = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
        return f"{text}\u00a0{unit}" if is_number and unit else text

    passes = check.get("passes") is True
    return {
        "id": str(check.get("id", "")),
        "title": str(check.get("title", "")),
        "demand": amount("demand"),
        "resistance": amount("resistance"),
        "utilisation": utilisation_text(check.get("utilisation"), passes),
        "passes": passes,
        "verdict": "✓ passes" if passes else "✗ FAILS",
        "reason": str(check.get("reason") or ""),
        "shown": str(check.get("shown") or ""),
    }


def check_rows(checks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """All checks, the failed ones first, otherwise in the order given."""
    return sorted((check_row(check) for check in checks), key=lambda row: row["passes"])


def count_line(rows: list[dict[str, Any]]) -> str:
    """How many pass, in words."""
    good = sum(row["passes"] for row in rows)
    if not rows:
        return "No checks."
    tail = "." if good == len(rows) else f"; {len(rows) - good} {'fails' if len(rows) - good == 1 else 'fail'}."
    return f"{good} of {len(rows)} {'check passes' if len(rows) == 1 else 'checks pass'}{tail}"


def anchor(identity: str) -> str:
    """A step's id as a link target: letters, digits, dot, hyphen; anything else by its code point."""
    return "step-" + re.sub(r"[^A-Za-z0-9.-]", lambda found: f"_{ord(found.group()):x}_", identity)


def _steps(document: Document) -> Iterator[tuple[str, dict[str, Any]]]:
    for index, section in enumerate(document.sections, start=1):
        number = 0
        for block in section.blocks:
            for step in block.get("steps", []) if block["kind"] == "steps" else []:
                number += 1
                yield f"{index}.{number}", step


def _equation(latex: str, alt: str, done: dict[str, tuple[str | None, str | None]]) -> dict[str, Any]:
    typst, mathml = done.get(latex, (None, None))
    return {"latex": latex, "typst": typst, "mathml": mathml, "alt": alt or latex}


def _step_view(number: str, step: dict[str, Any], numbers: dict[str, str], done: dict[str, tuple[str | None, str | None]]) -> dict[str, Any]:
    inputs: list[dict[str, Any]] = []
    for entry in step.get("inputs", []):
        origin = str(entry.get("origin", ""))
        target = origin.removeprefix("step:").removeprefix("step ").strip()
        linked = target in numbers and target != step["id"]
        inputs.append(
            {
                "name": _equation(str(entry.get("latex") or ""), str(entry.get("name", "")), done),
                "shown": str(entry.get("shown", "")),
                "origin": f"step {numbers[target]}" if linked else origin,
                "target": anchor(target) if linked else None,
            }
        )
    identity = str(step["id"])
    length = len(str(step.get("label", ""))) + sum(len(str(text)) for text in step.get("notices", []))
    length += sum(len(entry["shown"]) + len(entry["origin"]) for entry in inputs)
    return {
        "whole": length < _WHOLE and str(step.get("latex", "")).count(r"\\") < 20,
        "number": number,
        "id": identity,
        "anchor": anchor(identity) if numbers.get(identity) == number else None,
        "label": str(step.get("label", "")),
        "symbol": _equation(str(step.get("symbol_latex") or ""), str(step.get("symbol", "")), done),
        "equation": _equation(str(step.get("latex") or ""), str(step.get("alt") or ""), done),
        "shown": str(step.get("shown", "")),
        "source": str(step.get("source") or ""),
        "inputs": inputs,
        "notices": [str(text) for text in step.get("notices", [])],
    }


def _table_view(block: Block) -> dict[str, Any]:
    columns = [str(name) for name in block["columns"]]
    rows = [[str(cell) for cell in row] for row in block["rows"]]
    for row in rows:
        if len(row) != len(columns):
            raise ValueError(f"table {block.get('caption', '')!r}: a row has {len(row)} cells, the table has {len(columns)} columns")
    align = (str(block.get("align") or "") + "l" * len(columns))[: len(columns)]
    # The widest texts that each column has to hold on one line: the PDF picks widths and type size by them. Prose may wrap.
    probe = []
    for index, letter in enumerate(align):
        longest = max((row[index] for row in rows), key=len, default="")
        long = letter == "l" and len(longest) > _PROSE
        probe.append({"head": max(columns[index].split() or [""], key=len), "cell": longest[:_PROSE] if long else longest, "long": long})
    return {"kind": "table", "caption": str(block.get("caption") or ""), "columns": columns, "rows": rows, "align": align, "probe": probe}


def _trace(document: Document, numbers: dict[str, str]) -> list[dict[str, Any]]:
    rows = []
    for number, step in _steps(document):
        identity = str(step["id"])
        names = ", ".join(f"{entry.get('name', '')} = {entry.get('shown', '')}" for entry in step.get("inputs", []))
        rows.append(
            {
                "number": number,
                "label": str(step.get("label", "")),
                "result": f"{step.get('symbol', '')} = {step.get('shown', '')}",
                "inputs": names,
                "source": str(step.get("source") or ""),
                "anchor": anchor(identity) if numbers.get(identity) == number else None,
            }
        )
    return rows


def _latex_of(document: Document) -> Iterator[str]:
    for _, step in _steps(document):
        yield str(step.get("latex") or "")
        yield str(step.get("symbol_latex") or "")
        for entry in step.get("inputs", []):
            yield str(entry.get("latex") or "")


def _close_gaps(sections: list[dict[str, Any]]) -> None:
    """No heading may lie more than one level under the one before it: a screen reader would announce a missing part."""
    for section in sections:
        last = 2
        for block in section["blocks"]:
            if block.get("title"):
                last = 3
            for node in maths.walk(block.get("nodes", [])):
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
            if block.get("kind") not in KINDS:
                raise ValueError(f"unknown kind of block {block.get('kind')!r} in section {section.title!r}; known are {', '.join(KINDS)}")
    numbered = list(_steps(document))
    numbers: dict[str, str] = {}
    for number, step in numbered:
        numbers.setdefault(str(step["id"]), number)
    done = maths.convert_all(latex for latex in _latex_of(document) if latex)
    texts = [str(block["markdown"]) for section in document.sections for block in section.blocks if block["kind"] == "prose"]
    trees = iter(copy.deepcopy(maths.prose(texts)))
    steps = iter([_step_view(number, step, numbers, done) for number, step in numbered])
    sections = []
    for index, section in enumerate(document.sections, start=1):
        blocks = [_block_view(block, trees, steps, document, numbers) for block in section.blocks]
        sections.append({"number": index, "title": section.title, "blocks": blocks})
    _close_gaps(sections)
    job = {key: document.job.get(key) for key in ("number", "revision", "title", "site", "prepared_by", "checked_by", "adhesive", "date")}
    return {
        "title": document.title,
        "job": {key: "" if value is None else str(value) for key, value in job.items()},
        "invented": INVENTED if document.job.get("invented") else None,
        "front": _front_view(document.front) if document.front else None,
        "sections": sections,
        "stamp": document.stamp,
    }


def _front_view(front: Front) -> dict[str, Any]:
    rows = check_rows(front.checks)
    return {
        "question": front.question,
        "headline": [line for line in front.headline if line],
        "answer": _table_view(front.answer) if front.answer else None,
        "checks": rows,
        "count": count_line(rows),
        "all_pass": all(row["passes"] for row in rows),
        "lists": [
            {"title": title, "items": [str(item) for item in items]}
            for title, items in (("Cautions", front.cautions), ("Notices", front.notices), ("Not covered", front.not_covered))
            if items
        ],
    }


def _block_view(block: Block, trees: Iterator[Any], steps: Iterator[Any], document: Document, numbers: dict[str, str]) -> dict[str, Any]:
    kind, title = block["kind"], str(block.get("title") or "")
    if kind == "prose":
        return {"kind": kind, "nodes": next(trees)}
    if kind == "steps":
        return {"kind": kind, "title": title, "steps": [next(steps) for _ in block["steps"]]}
    if kind == "table":
        return _table_view(block)
    if kind == "figure":
        caption = str(block.get("caption") or "")
        return {
            "kind": kind,
            "svg": block["svg"],
            "alt": str(block.get("alt") or caption or "Figure without a description"),
            "caption": caption,
        }
    if kind == "checks":
        rows = check_rows(block["checks"])
        return {"kind": kind, "title": title, "checks": rows, "count": count_line(rows)}
    if kind == "trace":
        return {"kind": kind, "title": title, "rows": _trace(document, numbers)}
    return {"kind": kind, "title": title, "items": [str(item) for item in block["items"]]}
