"""Tables that lead from a result to the steps behind it.

Inputs and sources of each notebook, and the trace index of the document.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from calc.base.identity import number_of
from calc.base.sheet import ROW
from calc.package.document.numbering import Equations, Places
from calc.package.document.parts import Document, notebook_names, steps_of
from calc.package.document.wording import few_names
from calc.work.trace import Trace, first_line, governing, mark_of, symbol_latex


def with_governing(document: Document, trace: Trace) -> Document:
    """Give each notebook the steps of its governing group in full, where the notebook itself has them only in a table.

    Parameters
    ----------
    document : Document
        The document.
    trace : Trace
        Its trace.

    Returns
    -------
    Document
        With a block of steps more in some sections.
    """
    shown = {str(step["id"]) for _, step in steps_of(document)}
    sheets = {str(sheet["notebook"]): sheet for sheet in trace.sheets}
    sections = []
    for section in document.sections:
        sheet = sheets.get(section.notebook)
        most = governing(sheet["checks"]) if sheet else None
        mark = mark_of(most) if most else ""
        own = [step for notebook, _, step in trace.by_mark[mark] if notebook == section.notebook] if mark else []
        if own and not any(str(step["id"]) in shown for step in own):
            blocks = list(section.blocks)
            last = max(
                (place for place, block in enumerate(blocks) if block["kind"] == "steps" or block.get("ids")),
                default=len(blocks) - 1,
            )
            blocks.insert(
                last + 1,
                {"kind": "steps", "title": f"{mark} governs: every step", "steps": [_step_block(step) for step in own]},
            )
            section = replace(section, blocks=tuple(blocks))
        sections.append(section)
    return replace(document, sections=tuple(sections))


def _step_block(step: Mapping[str, Any]) -> dict[str, Any]:
    inputs = [dict(given) | {"latex": symbol_latex(str(given["name"]))} for given in step["inputs"]]
    return dict(step) | {"symbol_latex": symbol_latex(str(step["symbol"])), "inputs": inputs}


def _inputs_table(trace: Trace, notebook: str, places: Places, equation: Equations) -> dict[str, Any]:
    rows: list[list[dict[str, Any]]] = []
    for given in trace.inputs(notebook):
        place = next((places.of(identity) for identity in given.ids if identity in places.steps), None) or places.of(
            given.ids[0]
        )
        rows.append(
            [
                {"eq": equation(symbol_latex(given.name), given.name)},
                {"s": given.shown},
                {"s": given.place},
                {"links": _with_count(place, len(given.ids), "steps")},
            ]
        )
    columns = ["Symbol", "Value", "Where from", "First used in"]
    return _rich(
        "Inputs of the steps, and where each came from",
        columns,
        rows,
        ["auto", "1.1fr", "2fr", "auto"],
        places.behind[notebook][0],
    )


def _sources_table(trace: Trace, notebook: str, places: Places) -> dict[str, Any]:
    rows = []
    for source, ids in trace.sources(notebook).items():
        place = next((places.of(identity) for identity in ids if identity in places.steps), None) or places.of(ids[0])
        rows.append([{"s": source}, {"links": _with_count(place, len(ids), "steps")}])
    columns = ["Source and clause", "First used in"]
    return _rich("Sources of the steps", columns, rows, ["3fr", "auto"], places.behind[notebook][1])


def _with_count(place: dict[str, Any] | None, count: int, words: str) -> list[dict[str, Any]]:
    more = (
        [{"text": f"and {count - 1} more {words if count > 2 else words.rstrip('s')}", "target": None}]
        if count > 1
        else []
    )
    return [*([place] if place else []), *more]


def _rich(caption: str, columns: list[str], rows: list[Any], widths: list[str], number: int) -> dict[str, Any]:
    """A table whose cells hold text `s`, an equation `eq` or links `links`; `widths` are Typst's."""
    return {
        "kind": "rich",
        "caption": caption,
        "columns": columns,
        "rows": rows,
        "widths": widths,
        "number": number,
        "anchor": f"table-{number}",
    }


def _pages(ids: Sequence[str], trace: Trace, places: Places, most: int = 3) -> list[dict[str, Any]]:
    """Where these steps stand: each step that stands by itself with its mark, each table once.

    Of many the first, and the last.
    """
    found: dict[str, dict[str, Any]] = {}
    for identity in ids:
        place = places.of(identity)
        if place is None:
            continue
        mark = mark_of(trace.by_id[identity])
        text = f"{mark}: {place['text']}" if mark and place["step"] else place["text"]
        found.setdefault(
            place["target"], {"text": text, "target": place["target"], "page": True, "step": place["step"]}
        )
    alone = [place for place in found.values() if place["step"]]
    tables = [place for place in found.values() if not place["step"]]
    return [*_some(alone, most), *_some(tables, most)]


def _notebook(notebook: str, places: Places) -> list[dict[str, Any]]:
    """Where a number that is no step is answered for: the part of its notebook."""
    part = places.parts.get(notebook)
    return [{"text": f"part {part}", "target": f"part-{part}", "page": True}] if part else []


def _some(places: list[dict[str, Any]], most: int) -> list[dict[str, Any]]:
    if len(places) <= most:
        return places
    return [*places[: most - 1], {"text": f"… ({len(places) - most} more)", "target": None}, places[-1]]


def _answers_table(trace: Trace, places: Places) -> dict[str, Any] | None:
    rows = []
    for answer in trace.answers:
        name = answer["words"] + (f" [{answer['unit']}]" if answer["unit"] else "")
        behind, where = [], []
        labels: dict[str, None] = {}
        for identity in answer["steps"].values():
            step = trace.by_id[identity]
            label = step["label"].lower() if step["label"][1:2].islower() else step["label"]
            labels.setdefault(f"{number_of(step['notebook'])} {step['symbol']}, {label}")
        behind += list(labels)[:3] + ([f"and {len(labels) - 3} more like it"] if len(labels) > 3 else [])
        where += _pages(list(answer["steps"].values()), trace, places)
        for (symbol, origin), marks in list(answer["given"].items())[:3]:
            count = f"{len(marks)} {'group' if len(marks) == 1 else 'groups'}"
            behind.append(f"given ({symbol}; {count}): {origin.replace(ROW, 'row of the group')}")
        if answer["rest"]:
            whose = f" for {few_names(answer['rest'])}" if len(answer["rest"]) < answer["count"] else ""
            behind.append(f"{answer['otherwise']}{whose}")
        where += _notebook(answer["notebook"], places) if not where else []
        rows.append([{"s": f"{name}\n{answer['key']}"}, {"s": "; ".join(behind)}, {"links": where}])
    for total in trace.totals:
        name = total["words"] + (f" [{total['unit']}]" if total["unit"] else "")
        steps = [
            f"{number_of(step['notebook'])} {step['name']}"
            for step in (trace.by_id[identity] for identity in total["steps"])
        ]
        behind_total = steps[0] if steps else total["sum"] or total["otherwise"]
        where = _pages(total["steps"], trace, places) or _notebook(total["notebook"], places)
        rows.append([{"s": f"{name}, whole job\ntotals.{total['key']}"}, {"s": behind_total}, {"links": where}])
    if not rows:
        return None
    columns = ["Result and its key in results.json", "Notebook and step behind it, or where it was given", "Stands at"]
    return _rich("Results of results.json", columns, rows, ["1.15fr", "1.9fr", "1fr"], places.next_table())


def _formulas_table(
    trace: Trace, notebook: str, title: str, places: Places, equation: Equations
) -> dict[str, Any] | None:
    rows = []
    for use in trace.uses(notebook):
        step = use.step
        line = first_line(str(step.get("latex") or ""))
        inputs: list[dict[str, Any]] = []
        for given in step.get("inputs", ()):
            place = places.of(given["step"]) if given.get("step") else None
            text = place["text"] if place else "given" if not given.get("step") else str(given["origin"])
            inputs.append(
                {
                    "eq": equation(symbol_latex(str(given["name"])), str(given["name"])),
                    "text": text,
                    "target": place["target"] if place else None,
                }
            )
        formula = (
            {"eq": equation(line, f"{step['symbol']} = {step['expression']}")}
            if line
            else {"s": f"{step['symbol']} = {step['expression']}"}
        )
        rows.append(
            [
                {"s": f"{step['label']}\n{use.name}"},
                formula,
                {"inputs": inputs},
                {"links": _pages(use.ids, trace, places)},
            ]
        )
    if not rows:
        return None
    columns = ["Result", "Formula", "From", "Stands at"]
    return _rich(f"Trace of {title}", columns, rows, ["1.2fr", "1.7fr", "1.25fr", "1fr"], places.next_table())


def _groups_table(trace: Trace, titles: Mapping[str, str], places: Places) -> dict[str, Any] | None:
    """Where each group's steps stand in each notebook: the way from a mark to its page, for any number of groups."""
    notebooks = [str(sheet["notebook"]) for sheet in trace.sheets if sheet["steps"]]
    by_mark: dict[str, dict[str, list[str]]] = {
        mark: {notebook: [] for notebook in notebooks} for mark in ("", *trace.marks)
    }
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


def _range(ids: Sequence[str], places: Places) -> list[dict[str, Any]]:
    """Where a group's steps stand in one notebook: first and last step, and its tables."""
    kept = {place["target"]: {**place, "page": True} for identity in ids if (place := places.of(identity))}
    alone = [place for place in kept.values() if place["step"]]
    tables = [place for place in kept.values() if not place["step"]]
    if len(alone) > 1:
        alone = [{**alone[0], "text": f"steps {alone[0]['number']} to {alone[-1]['number']}"}]
    return [*alone, *_some(tables, 3)]


def trace_tables(document: Document, trace: Trace, places: Places, equation: Equations) -> list[dict[str, Any]]:
    """The trace index at the end of a document: results, formulas of each notebook, groups.

    Parameters
    ----------
    document : Document
        The document.
    trace : Trace
        Its trace.
    places : Places
        Where the steps stand; takes the numbers of these tables.
    equation : Equations
        Takes the formulas to be converted.

    Returns
    -------
    list of dict
        Tables that are not empty.
    """
    titles = notebook_names(document)
    tables = [_answers_table(trace, places)]
    for sheet in trace.sheets:
        notebook = str(sheet["notebook"])
        tables.append(_formulas_table(trace, notebook, titles.get(notebook, notebook), places, equation))
    tables.append(_groups_table(trace, titles, places))
    return [table for table in tables if table]


def appendix(trace: Trace, notebook: str, places: Places, equation: Equations) -> list[dict[str, Any]]:
    """What stands behind a notebook's steps, at the end of its part.

    Parameters
    ----------
    trace : Trace
        The document's trace.
    notebook : str
        Stem of the notebook.
    places : Places
        Where the steps stand; has the numbers of these two tables.
    equation : Equations
        Takes the symbols to be converted.

    Returns
    -------
    list of dict
        The table of inputs and the table of sources.
    """
    inputs = _inputs_table(trace, notebook, places, equation) | {"title": "Inputs and sources of the steps"}
    return [inputs, _sources_table(trace, notebook, places)]
