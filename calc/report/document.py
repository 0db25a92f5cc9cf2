"""The document of a calculation package: what stands in it, before any file format.

`Document` holds plain data. `view` turns it into what both writers draw: steps numbered and linked, equations converted, checks put
into words, headings without a gap in their levels. A writer decides only how it looks.
"""

from __future__ import annotations

import copy
import math
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from calc.report import maths
from calc.report.trace import Trace, first_line, governing, identity_parts, symbol_latex

Block = dict[str, Any]

_PROSE = 24
_WHOLE = 2500  # a step with more text than this may be split over pages, for it might not fit on one
INVENTED = "Demo with invented data: not for construction"
KINDS = ("prose", "steps", "table", "figure", "checks", "notices")
_ALL_CHECKS = 250  # more checks than this stand as utilisations in a table of groups, and each with its numbers in the XLSX file
_ON_FIRST_PAGE = 40
_CUT_TITLE = 160
_MATRIX = 7


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
    """One part of the document, mostly one notebook, whose stem is then given."""

    title: str
    blocks: tuple[Block, ...]
    notebook: str = ""


@dataclass(frozen=True)
class Document:
    """A whole document; `job` has number, revision, title, invented, site, prepared_by, checked_by, adhesive and date.

    With `results`, the content of results.json, each notebook gets its inputs and sources, and the document a trace index.
    """

    title: str
    job: dict[str, Any]
    front: Front | None
    sections: tuple[Section, ...]
    stamp: str
    results: Mapping[str, Any] | None = None


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


# ------------------------------------------------------------------------------------------------------- where things stand


@dataclass
class _Places:
    """Numbers and link targets of everything that can be pointed at, found before anything is drawn."""

    steps: dict[str, str] = field(default_factory=dict)
    tables: dict[str, int] = field(default_factory=dict)
    numbers: dict[int, int] = field(default_factory=dict)
    behind: dict[str, tuple[int, int]] = field(default_factory=dict)
    tabled: int = 0
    figured: int = 0

    def next_table(self) -> int:
        self.tabled += 1
        return self.tabled

    def next_figure(self) -> int:
        self.figured += 1
        return self.figured

    def of(self, identity: str) -> dict[str, Any] | None:
        """Where a step stands: by itself, or in a table; None when nowhere."""
        if identity in self.steps:
            return {"text": f"step {self.steps[identity]}", "target": anchor(identity)}
        if identity in self.tables:
            return {"text": f"Table {self.tables[identity]}", "target": f"table-{self.tables[identity]}"}
        return None


def _find_places(document: Document, trace: Trace | None, places: _Places) -> None:
    """Number tables and figures in the order in which they stand, so that PDF and HTML have the same."""
    for section in document.sections:
        for block in section.blocks:
            if block["kind"] == "table" and block.get("caption"):
                places.numbers[id(block)] = table = places.next_table()
                places.tables |= {str(identity): table for identity in block.get("ids") or () if str(identity) not in places.tables}
            if block["kind"] == "figure" and block.get("caption"):
                places.numbers[id(block)] = places.next_figure()
        if trace is not None and section.notebook and trace.sources(section.notebook):
            places.behind[section.notebook] = (places.next_table(), places.next_table())
    for number, step in _steps(document):
        places.steps.setdefault(str(step["id"]), number)


def _steps(document: Document) -> Iterator[tuple[str, dict[str, Any]]]:
    for index, section in enumerate(document.sections, start=1):
        number = 0
        for block in section.blocks:
            for step in block.get("steps", []) if block["kind"] == "steps" else []:
                number += 1
                yield f"{index}.{number}", step


def _with_governing(document: Document, trace: Trace) -> Document:
    """Give each notebook the steps of its governing group in full, where the notebook itself has them only in a table."""
    shown = {str(step["id"]) for _, step in _steps(document)}
    sheets = {str(sheet["notebook"]): sheet for sheet in trace.sheets}
    sections = []
    for section in document.sections:
        sheet = sheets.get(section.notebook)
        most = governing(sheet["checks"]) if sheet else None
        mark = identity_parts(str(most["id"]), trace.marks)[1] if most else ""
        own = [step for notebook, _, step in trace.by_mark[mark] if notebook == section.notebook] if mark else []
        if own and not any(str(step["id"]) in shown for step in own):
            blocks = list(section.blocks)
            last = max((place for place, block in enumerate(blocks) if block["kind"] == "steps" or block.get("ids")), default=len(blocks) - 1)
            blocks.insert(last + 1, {"kind": "steps", "title": f"{mark} governs: every step", "steps": [_step_block(step) for step in own]})
            section = replace(section, blocks=tuple(blocks))
        sections.append(section)
    return replace(document, sections=tuple(sections))


def _step_block(step: Mapping[str, Any]) -> dict[str, Any]:
    inputs = [dict(given) | {"latex": symbol_latex(str(given["name"]))} for given in step["inputs"]]
    return dict(step) | {"symbol_latex": symbol_latex(str(step["symbol"])), "inputs": inputs}


class _Equations:
    """LaTeX that is wanted, converted by pandoc all at once when the whole document is known."""

    def __init__(self) -> None:
        self.wanted: list[dict[str, Any]] = []

    def __call__(self, latex: str, alt: str) -> dict[str, Any]:
        equation = {"latex": latex, "typst": None, "mathml": None, "alt": alt or latex}
        self.wanted.append(equation)
        return equation

    def convert(self) -> None:
        done = maths.convert_all(equation["latex"] for equation in self.wanted if equation["latex"])
        for equation in self.wanted:
            equation["typst"], equation["mathml"] = done.get(equation["latex"], (None, None))


# ---------------------------------------------------------------------------------------------------------------- steps


def _step_view(number: str, step: dict[str, Any], places: _Places, equation: _Equations) -> dict[str, Any]:
    inputs: list[dict[str, Any]] = []
    for entry in step.get("inputs", []):
        origin = str(entry.get("origin", ""))
        target = origin.removeprefix("step:").removeprefix("step ").strip()
        place = places.of(target) if target != step["id"] else None
        shown = place["text"] if place and place["text"].startswith("step ") else f"{origin}, {place['text']}" if place else origin
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
        "anchor": anchor(identity) if places.steps.get(identity) == number else None,
        "label": str(step.get("label", "")),
        "symbol": equation(str(step.get("symbol_latex") or ""), str(step.get("symbol", ""))),
        "equation": equation(str(step.get("latex") or ""), str(step.get("alt") or "")),
        "shown": str(step.get("shown", "")),
        "source": str(step.get("source") or ""),
        "inputs": inputs,
        "notices": [str(text) for text in step.get("notices", [])],
    }


def _table_view(block: Block, number: int | None = None) -> dict[str, Any]:
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
    caption = str(block.get("caption") or "")
    return {
        "kind": "table",
        "caption": caption,
        "number": number,
        "anchor": f"table-{number}" if number else None,
        "columns": columns,
        "rows": rows,
        "align": align,
        "probe": probe,
    }


# ---------------------------------------------------------------------------------------------------------------- trace


def _inputs_table(trace: Trace, notebook: str, places: _Places, equation: _Equations) -> dict[str, Any]:
    rows: list[list[dict[str, Any]]] = []
    for given in trace.inputs(notebook):
        place = next((places.of(identity) for identity in given.ids if identity in places.steps), None) or places.of(given.ids[0])
        rows.append(
            [
                {"eq": equation(symbol_latex(given.name), given.name)},
                {"s": given.shown},
                {"s": given.place},
                {"links": _with_count(place, len(given.ids), "steps")},
            ]
        )
    columns = ["Symbol", "Value", "Where from", "First used in"]
    return _rich("Inputs of the steps, and where each came from", columns, rows, ["auto", "1.1fr", "2fr", "auto"], places.behind[notebook][0])


def _sources_table(trace: Trace, notebook: str, places: _Places) -> dict[str, Any]:
    rows = []
    for source, ids in trace.sources(notebook).items():
        place = next((places.of(identity) for identity in ids if identity in places.steps), None) or places.of(ids[0])
        rows.append([{"s": source}, {"links": _with_count(place, len(ids), "steps")}])
    columns = ["Source and clause", "First used in"]
    return _rich("Sources of the steps", columns, rows, ["3fr", "auto"], places.behind[notebook][1])


def _with_count(place: dict[str, Any] | None, count: int, words: str) -> list[dict[str, Any]]:
    more = [{"text": f"and {count - 1} more {words if count > 2 else words.rstrip('s')}", "target": None}] if count > 1 else []
    return [*([place] if place else []), *more]


def _rich(caption: str, columns: list[str], rows: list[Any], widths: list[str], number: int) -> dict[str, Any]:
    """A table whose cells hold text `s`, an equation `eq` or links `links`; `widths` are Typst's."""
    return {"kind": "rich", "caption": caption, "columns": columns, "rows": rows, "widths": widths, "number": number, "anchor": f"table-{number}"}


def _pages(ids: Sequence[str], trace: Trace, places: _Places, most: int = 3) -> list[dict[str, Any]]:
    """Where these steps stand: each step that stands by itself with its mark, each table once; of many the first, and the last."""
    found: dict[str, dict[str, Any]] = {}
    for identity in ids:
        place = places.of(identity)
        if place is None:
            continue
        mark = identity_parts(identity, trace.marks)[1]
        text = f"{mark}: {place['text']}" if mark and place["text"].startswith("step") else place["text"]
        found.setdefault(place["target"], {"text": text, "target": place["target"], "page": True})
    alone = [place for place in found.values() if not place["text"].startswith("Table")]
    tables = [place for place in found.values() if place["text"].startswith("Table")]
    return [*_some(alone, most), *_some(tables, most)]


def _some(places: list[dict[str, Any]], most: int) -> list[dict[str, Any]]:
    if len(places) <= most:
        return places
    return [*places[: most - 1], {"text": f"… ({len(places) - most} more)", "target": None}, places[-1]]


def _answers_table(trace: Trace, places: _Places) -> dict[str, Any] | None:
    rows = []
    for answer in trace.answers:
        name = answer["words"] + (f" [{answer['unit']}]" if answer["unit"] else "")
        behind, where = [], []
        labels: dict[str, str] = {}
        for mark, identity in answer["steps"].items():
            number, _, short = identity_parts(identity, trace.marks)
            step = next(step for _, _, step in trace.by_mark[mark] if step["id"] == identity)
            labels.setdefault(f"{number} {step['symbol']}, {step['label'].lower() if step['label'][1:2].islower() else step['label']}", short)
        behind += list(labels)[:3] + ([f"and {len(labels) - 3} more like it"] if len(labels) > 3 else [])
        where += _pages(list(answer["steps"].values()), trace, places)
        for what, count in list(answer["given"].items())[:3]:
            symbol, _, origin = what.partition("\n")
            behind.append(f"given ({symbol}; {count} {'group' if count == 1 else 'groups'}): {origin.replace(chr(0xE000), 'row of the group')}")
        if answer["rest"]:
            behind.append("no formula of its own" + (f" for {_few(answer['rest'])}" if len(answer["rest"]) < answer["count"] else "") + ": see the notebook")
        rows.append([{"s": f"{name}\n{answer['key']}"}, {"s": "; ".join(behind)}, {"links": where}])
    for total in trace.totals:
        name = total["words"] + (f" [{total['unit']}]" if total["unit"] else "")
        steps = [f"{identity.partition('.')[0]} {identity.partition('.')[2]}" for identity in total["steps"]]
        behind_total = steps[0] if steps else total["sum"] or "no formula of its own: see the notebook"
        where = _pages(total["steps"], trace, places)
        rows.append([{"s": f"{name}, whole job\ntotals.{total['key']}"}, {"s": behind_total}, {"links": where}])
    if not rows:
        return None
    columns = ["Result and its key in results.json", "Notebook and step behind it, or where it was given", "Stands at"]
    return _rich("Results of results.json", columns, rows, ["1.15fr", "1.9fr", "1fr"], places.next_table())


def _few(names: Sequence[str], most: int = 5) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def _formulas_table(trace: Trace, notebook: str, title: str, places: _Places, equation: _Equations) -> dict[str, Any] | None:
    rows = []
    for use in trace.uses(notebook):
        step = use.step
        line = first_line(str(step.get("latex") or ""))
        inputs: list[dict[str, Any]] = []
        for given in step.get("inputs", ()):
            origin = str(given.get("origin", ""))
            target = origin.removeprefix("step ") if origin.startswith("step ") else ""
            place = places.of(target) if target else None
            text = place["text"] if place else "given" if not target else origin
            inputs.append({"eq": equation(symbol_latex(str(given["name"])), str(given["name"])), "text": text, "target": place["target"] if place else None})
        formula = {"eq": equation(line, f"{step['symbol']} = {step['expression']}")} if line else {"s": f"{step['symbol']} = {step['expression']}"}
        rows.append([{"s": f"{step['label']}\n{use.name}"}, formula, {"inputs": inputs}, {"links": _pages(use.ids, trace, places)}])
    if not rows:
        return None
    columns = ["Result", "Formula", "From", "Stands at"]
    return _rich(f"Trace of {title}", columns, rows, ["1.2fr", "1.7fr", "1.25fr", "1fr"], places.next_table())


def _groups_table(trace: Trace, titles: Mapping[str, str], places: _Places) -> dict[str, Any] | None:
    """Where each group's steps stand in each notebook: the way from a mark to its page, for any number of groups."""
    notebooks = [str(sheet["notebook"]) for sheet in trace.sheets if sheet["steps"]]
    by_mark: dict[str, dict[str, list[str]]] = {mark: {notebook: [] for notebook in notebooks} for mark in ("", *trace.marks)}
    for mark, steps in trace.by_mark.items():
        for notebook, _, step in steps:
            by_mark[mark][notebook].append(str(step["id"]))
    alike: dict[tuple[str, ...], tuple[list[str], list[dict[str, Any]]]] = {}
    for mark in (*(str(group.get("mark", "")) for group in trace.groups), ""):
        if any(by_mark[mark].values()):
            cells = [{"links": _range(by_mark[mark][notebook], places)} for notebook in notebooks]
            key = tuple(str(link["text"]) for cell in cells for link in cell["links"])
            alike.setdefault(key, ([], cells))[0].append(mark or "the whole job")
    rows = [[{"s": ", ".join(names)}, *cells] for names, cells in alike.values()]
    if not rows:
        return None
    columns = ["Group", *(titles.get(notebook, notebook) for notebook in notebooks)]
    return _rich("Where each group stands", columns, rows, ["1.3fr", *["1fr"] * len(notebooks)], places.next_table())


def _range(ids: Sequence[str], places: _Places) -> list[dict[str, Any]]:
    """Where a group's steps stand in one notebook: first and last step, and its tables."""
    kept = {place["target"]: {**place, "page": True} for identity in ids if (place := places.of(identity))}
    alone = [place for place in kept.values() if place["text"].startswith("step")]
    tables = [place for place in kept.values() if place["text"].startswith("Table")]
    if len(alone) > 1:
        alone = [{**alone[0], "text": f"steps {alone[0]['text'][5:]} to {alone[-1]['text'][5:]}"}]
    return [*alone, *_some(tables, 3)]


def _trace_blocks(document: Document, trace: Trace, places: _Places, equation: _Equations) -> list[dict[str, Any]]:
    titles = _notebook_names(document)
    tables = [_answers_table(trace, places)]
    for sheet in trace.sheets:
        notebook = str(sheet["notebook"])
        tables.append(_formulas_table(trace, notebook, titles.get(notebook, notebook), places, equation))
    tables.append(_groups_table(trace, titles, places))
    return [table for table in tables if table]


# ---------------------------------------------------------------------------------------------------------------- page 1


def _notebook_names(document: Document) -> dict[str, str]:
    names = {section.notebook: section.title for section in document.sections if section.notebook}
    for sheet in document.results.get("sheets", ()) if document.results else ():
        names.setdefault(str(sheet["notebook"]), str(sheet["notebook"]).partition("_")[2].replace("_", " ").capitalize())
    return names


def _scopes(checks: list[dict[str, Any]], marks: Collection[str]) -> tuple[dict[str, list[dict[str, Any]]], dict[str, list[dict[str, Any]]]]:
    by_group: dict[str, list[dict[str, Any]]] = {}
    by_notebook: dict[str, list[dict[str, Any]]] = {}
    for check in checks:
        number, mark, _ = identity_parts(str(check.get("id", "")), marks)
        by_group.setdefault(mark, []).append(check)
        by_notebook.setdefault(number, []).append(check)
    return by_group, by_notebook


def _governing_rows(scopes: Mapping[str, list[dict[str, Any]]], names: Mapping[str, str] | None) -> list[dict[str, Any]]:
    rows = []
    for scope, checks in scopes.items():
        most = governing(checks)
        if most is not None:
            row = check_row(dict(most))
            good = sum(check.get("passes") is True for check in checks)
            row["scope"] = names.get(scope, "") if names is not None else ""
            row["of"] = f"{len(checks)}" if good == len(checks) else f"{good} of {len(checks)} pass"
            rows.append(row)
    return rows


def _failed_kinds(checks: list[dict[str, Any]], marks: Collection[str]) -> list[dict[str, Any]]:
    """Of the failed checks of each kind the worst, with their number: hundreds of groups may fail alike."""
    kinds: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for check in checks:
        if check.get("passes") is not True:
            number, _, name = identity_parts(str(check.get("id", "")), marks)
            kinds.setdefault((number, name), []).append(check)
    return [row | {"of": f"worst of {len(alike)} that fail"} for alike in kinds.values() for row in _governing_rows({"": alike}, None)]


def _marks(document: Document) -> Collection[str]:
    if document.results is not None:
        return Trace(document.results).marks
    answer = document.front.answer if document.front else None
    return {str(row[0]) for row in answer["rows"]} if answer else set()


def _first_sentence(text: str) -> str:
    sentence = re.split(r"(?<=\.)\s+(?=[A-Z0-9ø#])", text.strip(), maxsplit=1)[0]
    return _cut(sentence, 150)


def _cut(text: str, length: int) -> str:
    """Shorten a text to at most so many letters, at the end of a part of the sentence or at least of a word."""
    if len(text) <= length:
        return text
    kept = text[: length - 1]
    clause = max(kept.rfind(sign) for sign in ";:,")
    end = clause if clause > length // 2 else max(kept.rfind(" "), length // 2)
    return kept[:end].rstrip() + "…"


def brief(items: Sequence[str], marks: Collection[str]) -> list[str]:
    """The first sentence of each item; one that several groups share is said once, with their marks before it."""
    shared: dict[str, list[str]] = {}
    for item in items:
        mark = item.partition(": ")[0] if item.partition(": ")[0] in marks else ""
        shared.setdefault(_first_sentence(item[len(mark) + 2 :] if mark else item), []).append(mark)
    out = []
    for sentence, found in shared.items():
        names = [mark for mark in dict.fromkeys(found) if mark]
        out.append(f"{_few(names, 8)}: {sentence}" if names else sentence)
    return out


def _matrices(checks: list[dict[str, Any]], marks: Collection[str], places: _Places) -> list[dict[str, Any]]:
    """Utilisations of very many checks: a row for each group, a column for each kind of check, a few columns to a table."""
    heads: dict[tuple[str, str], str] = {}
    cells: dict[str, dict[tuple[str, str], str]] = {}
    for check in checks:
        number, mark, name = identity_parts(str(check.get("id", "")), marks)
        row = check_row(check)
        text = row["title"].partition(": ")[2] if mark and row["title"].startswith(mark) else row["title"]
        heads.setdefault((number, name), f"{number} {_cut(text or name, 44)}")
        cells.setdefault(mark or "whole job", {})[number, name] = row["utilisation"] if row["passes"] else f"{row['utilisation']} ✗"
    found = []
    columns = list(heads)
    for start in range(0, len(columns), _MATRIX):
        part = columns[start : start + _MATRIX]
        block = {
            "caption": "Utilisation of every check; ✗ marks one that fails" + (", continued" if start else ""),
            "columns": ["Group", *(heads[key] for key in part)],
            "rows": [[mark, *(own.get(key, "–") for key in part)] for mark, own in cells.items() if any(key in own for key in part)],
            "align": "l" + "r" * len(part),
        }
        found.append(_table_view(block, places.next_table()))
    return found


def _front_view(document: Document, front: Front, places: _Places) -> dict[str, Any]:
    rows = check_rows(front.checks)
    marks = _marks(document)
    names = {notebook.partition("_")[0]: title for notebook, title in _notebook_names(document).items()}
    by_group, by_notebook = _scopes(front.checks, marks)
    failed = [row for row in rows if not row["passes"]]
    known = {row["id"] for row in failed}
    answer = _table_view(front.answer, places.next_table() if front.answer.get("caption") else None) if front.answer else None
    group_rows = [row for row in _governing_rows(by_group, None) if row["id"] not in known]
    notebook_rows = [row for row in _governing_rows(by_notebook, names) if row["id"] not in known]
    lists = [
        {"title": title, "items": [str(item) for item in items], "brief": brief([str(item) for item in items], marks)}
        for title, items in (("Cautions", front.cautions), ("Notices", front.notices), ("Not covered", front.not_covered))
        if items
    ]
    many = len(rows) > _ALL_CHECKS
    return {
        "question": front.question,
        "headline": [line for line in (*front.headline, _order(document, front)) if line],
        "answer": answer,
        "excerpt": _excerpt(front.answer, [*failed, *notebook_rows], marks) if front.answer else None,
        "checks": rows,
        "failed": [row | {"scope": "", "of": "1"} for row in failed],
        "failed_kinds": _failed_kinds(front.checks, marks),
        "by_group": group_rows,
        "by_notebook": notebook_rows,
        "many": many,
        "matrices": _matrices(front.checks, marks, places) if many else [],
        "count": count_line(rows),
        "all_pass": not failed,
        "lists": lists,
        "levels": _levels(answer, rows, group_rows, lists),
    }


def _order(document: Document, front: Front) -> str:
    totals = document.results.get("totals", {}) if document.results else {}
    # What is ordered has the user's reserve; what the work uses stands in the plan.
    packs, mixers = totals.get("packs_to_order", totals.get("packs")), totals.get("mixers_to_order", totals.get("mixers"))
    if packs is None or any("pack" in line and str(packs) in line for line in front.headline):
        return ""
    return f"Order: {number_text(packs)} packs" + (f", {number_text(mixers)} mixers." if mixers is not None else ".")


def _excerpt(answer: Block, rows: list[dict[str, Any]], marks: Collection[str]) -> dict[str, Any]:
    """The rows of the groups whose checks fail or govern, at most eight."""
    wanted = dict.fromkeys(identity_parts(row["id"], marks)[1] for row in rows)
    kept = [row for row in answer["rows"] if str(row[0]) in wanted][:8] or answer["rows"][:4]
    return _table_view({**answer, "rows": kept, "caption": ""})


def _levels(answer: dict[str, Any] | None, rows: list[Any], groups: list[Any], lists: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """How much page 1 may hold, from everything to the least; the PDF takes the first that fits on one page."""
    long_answer = answer is not None and len(answer["rows"]) > _ON_FIRST_PAGE
    full: list[dict[str, Any]] = []
    if not long_answer and len(rows) <= _ON_FIRST_PAGE and len(lists) < 4 and sum(len(item) for one in lists for item in one["items"]) < 6000:
        full = [{"answer": "all", "checks": "all", "lists": "all", "items": 99, "others": 99, "failed": 99, "text": 9.4}]
    found = [*full]
    sizes = {"all": len(rows), "group": len(groups), "notebook": 0}
    for table in ("few",) if long_answer else ("all", "few"):
        for items in (99, 12, 9, 7, 5, 4, 3, 2):
            for checks in ("all", "group", "notebook"):
                if sizes[checks] <= _ON_FIRST_PAGE and not (checks == "all" and items < 99):
                    found.append(
                        {"answer": table, "checks": checks, "lists": "brief", "items": items, "others": {3: 9, 2: 6}.get(items, 99), "failed": 10, "text": 8.6}
                    )
    least = {"answer": "few", "checks": "notebook", "lists": "brief", "items": 1, "text": 8.2}
    return [*found, *(least | {"others": others, "failed": failed} for others, failed in ((5, 6), (3, 4), (2, 3)))]


# ---------------------------------------------------------------------------------------------------------------- view


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
    places, equation = _Places(), _Equations()
    trace = Trace(document.results) if document.results is not None else None
    if trace is not None:
        document = _with_governing(document, trace)
    front = _front_view(document, document.front, places) if document.front else None
    _find_places(document, trace, places)
    texts = [str(block["markdown"]) for section in document.sections for block in section.blocks if block["kind"] == "prose"]
    trees = iter(copy.deepcopy(maths.prose(texts)))
    steps = iter([_step_view(number, step, places, equation) for number, step in _steps(document)])
    sections = []
    for index, section in enumerate(document.sections, start=1):
        blocks = [_block_view(block, trees, steps, places) for block in section.blocks]
        if trace is not None and section.notebook in places.behind:
            blocks += _appendix(trace, section.notebook, places, equation)
        sections.append({"number": index, "title": section.title, "anchor": f"part-{index}", "blocks": blocks})
    tables = _trace_blocks(document, trace, places, equation) if trace is not None else []
    equation.convert()
    _close_gaps(sections)
    job = {key: document.job.get(key) for key in ("number", "revision", "title", "site", "prepared_by", "checked_by", "adhesive", "date")}
    return {
        "title": document.title,
        "short_title": _cut(document.title, _CUT_TITLE),
        "job": {key: "" if value is None else str(value) for key, value in job.items()},
        "invented": INVENTED if document.job.get("invented") else None,
        "front": front,
        "sections": sections,
        "trace": tables,
        "stamp": document.stamp,
    }


def _appendix(trace: Trace, notebook: str, places: _Places, equation: _Equations) -> list[dict[str, Any]]:
    """What stands behind a notebook's steps, at the end of its part."""
    inputs = _inputs_table(trace, notebook, places, equation) | {"title": "Inputs and sources of the steps"}
    return [inputs, _sources_table(trace, notebook, places)]


def _block_view(block: Block, trees: Iterator[Any], steps: Iterator[Any], places: _Places) -> dict[str, Any]:
    kind, title = block["kind"], str(block.get("title") or "")
    if kind == "prose":
        return {"kind": kind, "nodes": next(trees)}
    if kind == "steps":
        return {"kind": kind, "title": title, "steps": [next(steps) for _ in block["steps"]]}
    if kind == "table":
        return _table_view(block, places.numbers.get(id(block)))
    if kind == "figure":
        caption = str(block.get("caption") or "")
        return {
            "kind": kind,
            "svg": block["svg"],
            "alt": str(block.get("alt") or caption or "Figure without a description"),
            "caption": caption,
            "number": places.numbers.get(id(block)),
        }
    if kind == "checks":
        rows = check_rows(block["checks"])
        return {"kind": kind, "title": title, "checks": rows, "count": count_line(rows)}
    return {"kind": kind, "title": title, "items": [str(item) for item in block["items"]]}
