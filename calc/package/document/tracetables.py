"""Tables that lead from a result to the steps behind it.

Inputs and sources of each notebook, and the trace index of the document.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.base.identity import number_of
from calc.base.nomenclature import NOMENCLATURE
from calc.base.sheet import ROW
from calc.package.document.numbering import Equations, Places
from calc.package.document.parts import IN_RECORD
from calc.package.document.wording import few_names
from calc.work.trace import Trace, symbol_latex

_MOST = 6  # inputs of a result that are named in its row


def _inputs_table(trace: Trace, notebook: str, places: Places, equation: Equations) -> dict[str, Any]:
    rows = [
        [
            {"eq": equation(symbol_latex(given.name), given.name)},
            {"s": given.shown, "from": given.place},
            {"links": _first(given.ids, places)},
        ]
        for given in trace.inputs(notebook)
    ]
    columns = ["Symbol", "Value: where from", "First used"]
    return _rich("Inputs of the steps", columns, rows, ["auto", "1fr", "auto"], places.behind[notebook][0])


def _sources_table(trace: Trace, notebook: str, places: Places) -> dict[str, Any]:
    rows = [[{"s": source}, {"links": _first(ids, places)}] for source, ids in trace.sources(notebook).items()]
    columns = ["Source and clause", "First used"]
    return _rich("Sources of the steps", columns, rows, ["1fr", "auto"], places.behind[notebook][1])


def _found_table(trace: Trace, notebook: str, places: Places, equation: Equations) -> dict[str, Any]:
    """Results that no formula gives: value, how it was found, and what it was found from."""
    rows = []
    for use in trace.found(notebook):
        one, shown = use.step, [str(trace.by_id[identity]["shown"]) for identity in use.ids]
        value = shown[0] if len(set(shown)) == 1 else f"{shown[0]} and {len(shown) - 1} more"
        rows.append(
            [
                {"s": f"{one['label']}\n{use.name}"},
                {"s": value, "from": f"{one['way']}, {one['how']}"},
                {"links": _from(one["inputs"], places, equation)},
            ]
        )
    columns = ["Result", "Value: how it was found", "From"]
    number = places.behind[notebook][2]
    return _rich("Results that no formula gives", columns, rows, ["1fr", "1.6fr", "1.2fr"], number) | {"listed": True}


def _symbol(name: str, equation: Equations) -> dict[str, Any]:
    """What a symbol's name is drawn from: the equation of a symbol, and the words of what is none."""
    stem, _, rest = name.partition(".")
    if stem not in NOMENCLATURE:
        return {"words": name.replace("_", " ").replace(".", " ")}
    return {"eq": equation(symbol_latex(stem), stem), "words": f" ({rest})" if rest else ""}


def _from(inputs: Sequence[Mapping[str, Any]], places: Places, equation: Equations) -> list[dict[str, Any]]:
    """Each input of a result once: linked where it is a result, else with its origin; of many like ones the first."""
    found: dict[str, dict[str, Any]] = {}
    for given in inputs:
        place = places.of(str(given["step"])) if given.get("step") else None
        name = str(given["name"])
        stem = name.partition(".")[0]
        if place:
            found.setdefault(
                place["target"], {**place, "symbol": _symbol(stem, equation), "text": f": {place['text']}"}
            )
        else:
            origin = str(given["origin"])
            told = f" = {given['shown']}: {origin}"
            found.setdefault(f"{stem} {origin}", {"symbol": _symbol(name, equation), "text": told, "target": None})
    kept = list(found.values())
    return kept if len(kept) <= _MOST else [*kept[:_MOST], {"text": f"and {len(kept) - _MOST} more", "target": None}]


def _sides_table(trace: Trace, notebook: str, places: Places) -> dict[str, Any]:
    """Where demand and resistance of each kind of check come from."""
    rows = [
        [
            {"s": f"{one.what}\n{one.name}"},
            _side(one.demand_words, one.demand, places),
            _side(one.resistance_words, one.resistance, places),
        ]
        for one in trace.sides(notebook)
    ]
    columns = ["Check", "Demand", "Limit"]
    caption = "Where demand and limit of the checks come from"
    table = _rich(caption, columns, rows, ["1.4fr", "1fr", "1fr"], places.behind[notebook][3])
    return table | {"listed": True}


def _side(words: str, ids: Sequence[str], places: Places) -> dict[str, Any]:
    told = [{"text": words, "target": None}] if words else []
    return {"links": [*told, *_pages(ids, places)]} if ids else {"s": words}


def _first(ids: Sequence[str], places: Places) -> list[dict[str, Any]]:
    """The first step that uses it, and how many others do."""
    place = places.of(ids[0])
    more = f" +{len(ids) - 1}" if ids[1:] else ""
    return [{**place, "text": f"{place['number']}{more}"}] if place else []


def _rich(caption: str, columns: list[str], rows: list[Any], widths: list[str], number: str) -> dict[str, Any]:
    """A table whose cells hold text `s`, an equation `eq` or links `links`; `widths` are Typst's.

    On paper one that is `listed` is no table but a list of its rows, since narrow columns would break its words.
    """
    return {
        "kind": "rich",
        "listed": False,
        "place": IN_RECORD,
        "caption": caption,
        "columns": columns,
        "rows": rows,
        "widths": widths,
        "number": number,
        "anchor": f"table-{number}",
    }


def _pages(ids: Sequence[str], places: Places, most: int = 3) -> list[dict[str, Any]]:
    """Where these steps stand, each place once; of many the first, and the last."""
    found = {place["target"]: {**place, "page": True} for identity in ids if (place := places.of(identity))}
    kept = list(found.values())
    if len(kept) <= most:
        return kept
    return [*kept[: most - 1], {"text": f"… ({len(kept) - most} more)", "target": None}, kept[-1]]


def _notebook(notebook: str, places: Places) -> list[dict[str, Any]]:
    """Where a number that is no step is answered for: the part of its notebook."""
    part = places.parts.get(notebook)
    return [{"text": f"part {part}", "target": f"part-{part}", "page": True}] if part else []


def answers_table(trace: Trace, places: Places) -> dict[str, Any] | None:
    """The trace index: every result of results.json, the step behind it and where that stands; None without results.

    Parameters
    ----------
    trace : Trace
        The document's trace.
    places : Places
        Where the steps stand; takes the number of this table.

    Returns
    -------
    dict or None
    """
    rows = []
    for answer in trace.answers:
        name = answer["words"]
        behind, where = [], []
        labels: dict[str, None] = {}
        for identity in answer["steps"].values():
            step = trace.by_id[identity]
            label = step["label"].lower() if step["label"][1:2].islower() else step["label"]
            labels.setdefault(f"{number_of(step['notebook'])} {step.get('symbol', step['name'])}, {label}")
        behind += list(labels)[:3] + ([f"and {len(labels) - 3} more like it"] if len(labels) > 3 else [])
        where += _pages(list(answer["steps"].values()), places)
        for (symbol, origin), marks in list(answer["given"].items())[:3]:
            count = f"{len(marks)} {'group' if len(marks) == 1 else 'groups'}"
            behind.append(f"given ({symbol}; {count}): {origin.replace(ROW, 'row of the group')}")
        if answer["rest"]:
            whose = f" for {few_names(answer['rest'])}" if len(answer["rest"]) < answer["count"] else ""
            behind.append(f"{answer['otherwise']}{whose}")
        where += _notebook(answer["notebook"], places) if not where else []
        rows.append([{"s": f"{name}\n{answer['key']}"}, {"s": "; ".join(behind)}, {"links": where}])
    for total in trace.totals:
        name = total["words"]
        steps = [
            f"{number_of(step['notebook'])} {step['name']}"
            for step in (trace.by_id[identity] for identity in total["steps"])
        ]
        behind_total = steps[0] if steps else total["sum"] or total["otherwise"]
        where = _pages(total["steps"], places) or _notebook(total["notebook"], places)
        rows.append([{"s": f"{name}, whole job\ntotals.{total['key']}"}, {"s": behind_total}, {"links": where}])
    if not rows:
        return None
    columns = ["Result and its key in results.json", "Notebook and step behind it, or where it was given", "Stands at"]
    number = places.next_in_record(f"R{len(places.parts) + 1}")
    return _rich("Results of results.json", columns, rows, ["1.15fr", "1.9fr", "0.8fr"], number)


def appendix(trace: Trace, notebook: str, places: Places, equation: Equations) -> list[dict[str, Any]]:
    """What stands behind a notebook's steps, at the end of its part.

    Parameters
    ----------
    trace : Trace
        The document's trace.
    notebook : str
        Stem of the notebook.
    places : Places
        Where the steps stand; has the numbers of these tables.
    equation : Equations
        Takes the symbols to be converted.

    Returns
    -------
    list of dict
        Tables of inputs and of sources; of results that no formula gives and of the sides of checks where there are
        any.
    """
    tables = [_inputs_table(trace, notebook, places, equation), _sources_table(trace, notebook, places)]
    if places.behind[notebook][2]:
        tables.append(_found_table(trace, notebook, places, equation))
    if places.behind[notebook][3]:
        tables.append(_sides_table(trace, notebook, places))
    return tables
