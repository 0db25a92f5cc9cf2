"""Page 1 of a document: the answer for each group, what governs, what is open, and room to sign.

And how to make it fit on one page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.base.display import display_of, first_sentence, unbroken
from calc.base.identity import EMBEDMENT
from calc.base.sheet import Joined
from calc.package.document.numbering import Equations, Places, numbered_table
from calc.package.document.parts import Block, Document, Front, notebook_names
from calc.package.document.wording import check_row, check_rows, count_line, cut_text, few_names
from calc.work.trace import Trace, governing, mark_of, symbol_latex

_ALL_GROUPS = 10  # groups that page 1 answers one by one; of more, the governing eight
_GOVERNING = 8
_STRENGTH = ("f_ck", "f_c")
NO_BREAK = "\u00a0"
DEVELOPMENT = "Development of the bars in the new concrete is not covered."
OUTSIDE, _ASSUMED, _NOT_COVERED = "Not judged here", "Assumed or from memory", "Not covered"


def _governing_rows(scopes: Mapping[str, Sequence[dict[str, Any]]]) -> list[dict[str, Any]]:
    rows = []
    for scope, checks in scopes.items():
        most = governing(checks)
        if most is not None:
            good = sum(check.get("verdict") == "passes" for check in checks)
            of = f"{len(checks)}" if good == len(checks) else f"{good} of {len(checks)} pass"
            rows.append(check_row(dict(most)) | {"scope": scope, "of": of})
    return rows


def _failed_kinds(checks: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Of the failed checks of each kind the worst, with their number, then of those that are owed.

    Hundreds of groups may fail alike.
    """
    kinds: dict[tuple[bool, str, str], list[dict[str, Any]]] = {}
    for check in checks:
        if check.get("verdict") != "passes":
            kinds.setdefault(
                (check.get("verdict") == "owed", str(check.get("notebook", "")), str(check.get("name", ""))), []
            ).append(check)
    words = {False: "worst of {} that fail", True: "first of {} that are owed"}
    failed, owed = ([kind for kind in kinds if kind[0] is missing] for missing in (False, True))
    rows = []
    # One that is owed comes second, so that page 1 shows what that is however much fails.
    for kind in (*failed[:1], *owed[:1], *failed[1:], *owed[1:]):
        of = words[kind[0]].format(len(kinds[kind]))
        rows += [row | {"of": of} for row in _governing_rows({"": kinds[kind]})]
    return rows


def _wanting(checks: Sequence[dict[str, Any]]) -> str:
    """Name the keys of the job file that would close what is owed."""
    keys = list(dict.fromkeys(key for check in checks for key in check.get("missing", ())))
    return f"Owed for want of: {few_names(keys, 12)}." if keys else ""


def brief(items: Sequence[Joined]) -> list[str]:
    """The first sentence of each item; one that several groups share is said once, with their marks before it."""
    shared: dict[tuple[str, str], list[str]] = {}
    for item in items:
        shared.setdefault((cut_text(first_sentence(item.text), 150), item.lead), []).extend(item.marks)
    out = []
    for (sentence, lead), marks in shared.items():
        out.append(lead.replace("{mark}", few_names(list(dict.fromkeys(marks)), 8)) + sentence if marks else sentence)
    return out


def _in_full(item: Joined) -> str:
    """The whole sentence, with a few marks before it: who answers for something is not cut off."""
    return (item.lead.replace("{mark}", few_names(item.marks, 30)) if item.marks else "") + item.text


def front_view(document: Document, front: Front, places: Places, equation: Equations) -> dict[str, Any]:
    """Page 1 as a writer draws it.

    Parameters
    ----------
    document : Document
        The document, for names, marks and totals.
    front : Front
        What stands on its page 1.
    places : Places
        Takes the number of the table.
    equation : Equations
        Takes the symbols to be converted.

    Returns
    -------
    dict
        With ``levels``: how many rows and lines page 1 may hold, from everything to the least.
    """
    names = notebook_names(document)
    failed = [check for check in front.checks if check.get("verdict") != "passes"]
    kinds = _failed_kinds(front.checks)
    by_part: dict[str, list[dict[str, Any]]] = {}
    for check in front.checks:
        by_part.setdefault(names.get(str(check.get("notebook", "")), ""), []).append(check)
    answer = _answer(document, front)
    return {
        "question": front.question,
        "headline": [line for line in (*front.headline, _order(document)) if line],
        "basis": _basis(document, equation),
        "answer": numbered_table(answer, places.next_table() if answer.get("caption") else None) if answer else None,
        "groups": len(front.doses) or (len(front.answer["rows"]) if front.answer else 0),
        "failed": kinds,
        "by_part": [row for row in _governing_rows(by_part) if row["passes"]],
        "count": count_line(check_rows(front.checks)),
        "all_pass": not failed,
        "open": _open(front),
        "levels": [{"failed": most, "items": items} for most, items in _LEVELS],
    }


# Rows that fail or are owed, and sentences on what is open: from everything to the least.
_LEVELS = tuple(
    (failed, items)
    for failed, most in ((99, 99), (12, 30), (8, 20), (6, 14), (5, 10), (4, 8), (3, 6), (2, 6), (1, 6))
    for items in range(most, most // 2, -2 if most < 20 else -8)
) + ((1, 3), (1, 2), (1, 1))


def _open(front: Front) -> list[dict[str, Any]]:
    """What is open, the weightiest first: owed, not judged here, assumed, not covered; each with its sentences."""
    wanting = _wanting(front.checks)
    found = {
        "Owed": [wanting] if wanting else [],
        OUTSIDE: [_in_full(one) for one in front.outside],
        _ASSUMED: brief(front.assumed),
        _NOT_COVERED: [DEVELOPMENT, *front.not_covered],
    }
    return [{"title": title, "items": items} for title, items in found.items() if items]


def _basis(document: Document, equation: Equations) -> dict[str, Any]:
    """Code and strength of the old concrete, with where it came from."""
    if document.results is None:
        return {"codes": [], "strengths": []}
    codes = dict.fromkeys(str(group["code"]) for group in document.results["groups"] if group.get("code"))
    strengths = [
        {"eq": equation(symbol_latex(one.name), one.name), "text": f"{one.shown} ({one.place})"}
        for one in Trace(document.results).inputs(EMBEDMENT)
        if one.name in _STRENGTH
    ]
    return {"codes": list(codes), "strengths": strengths[:2]}


_COLUMNS = ("Group", "Holes", "Bar in hole", "Required", "Drawn", "Dose", "Surface", "Governs", "Used")


def _answer(document: Document, front: Front) -> Block:
    """The answer of every group; of more than ten that of the groups whose checks govern, with the dose set large."""
    if document.results is None or not front.doses:
        return _few(front.answer, front.checks) if front.answer else {}
    display = display_of(document.results["job"]["units"])
    by_mark: dict[str, list[dict[str, Any]]] = {}
    for check in front.checks:
        by_mark.setdefault(mark_of(check), []).append(check)
    groups = {str(group["mark"]): group for group in document.results["groups"]}
    rows = []
    for one in front.doses:
        group, most = groups[one.mark], check_row(dict(governing(by_mark.get(one.mark, ())) or {}))
        needed = group.get("required_embedment_mm")
        undesigned = "as anchor" if group.get("force_path") == "concrete" else "not designed"
        rows.append(
            [
                one.mark,
                one.holes,
                unbroken(f"{one.bar} in {one.hole}"),
                undesigned if needed is None else display.length(needed),
                one.embedment,
                one.dose,
                one.surface,
                most["what"] if most["passes"] else f"{most['what']}: {most['verdict'].replace(' ', NO_BREAK)}",
                most["utilisation"],
            ]
        )
    return _few(
        {
            "caption": "Embedment required and drawn, dose of a hole, depth of its surface before the bar",
            "columns": _COLUMNS,
            "rows": rows,
            "align": "lrlrrrrlr",
            "large": [5],
        },
        front.checks,
    )


def _few(answer: Block, checks: Sequence[dict[str, Any]]) -> Block:
    """All groups up to ten; of more the eight whose checks govern, failed ones first."""
    if len(answer["rows"]) <= _ALL_GROUPS:
        return answer
    by_mark: dict[str, list[dict[str, Any]]] = {str(row[0]): [] for row in answer["rows"]}
    for check in checks:
        by_mark.get(mark_of(check), []).append(check)
    order = sorted(_governing_rows(by_mark), key=lambda row: (row["passes"], row["owed"], -(row["weight"] or 0)))
    kept = {row["scope"] for row in order[:_GOVERNING]} or set(list(by_mark)[:_GOVERNING])
    return {**answer, "rows": [row for row in answer["rows"] if str(row[0]) in kept]}


def _order(document: Document) -> str:
    totals = document.results.get("totals", {}) if document.results else {}
    # What is ordered has the user's reserve; what the work uses stands in the plan.
    packs, mixers = (
        totals.get("packs_to_order", totals.get("packs")),
        totals.get("mixers_to_order", totals.get("mixers")),
    )
    if packs is None:
        return ""
    counted = totals.get("packs_counted")
    many = f"Order: {packs} packs" + (f", {mixers} mixers." if mixers is not None else ".")
    return f"{many} {counted}." if counted else many
