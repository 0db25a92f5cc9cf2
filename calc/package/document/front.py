"""Page 1 of a document: the answer, the checks that fail or govern, cautions and notices.

And how to make it fit on one page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from calc.base.display import first_sentence
from calc.base.identity import number_of
from calc.base.sheet import Joined
from calc.package.document.numbering import Places, numbered_table
from calc.package.document.parts import Block, Document, Front, notebook_names
from calc.package.document.wording import check_row, check_rows, count_line, cut_text, few_names, number_text
from calc.work.trace import governing, mark_of

_ALL_CHECKS = (
    250  # more checks than this stand as utilisations in a table of groups, and each with its numbers in the XLSX file
)
_ON_FIRST_PAGE = 40
_MATRIX = 7
OUTSIDE = "Not judged here"


def _scopes(checks: list[dict[str, Any]]) -> tuple[dict[str, list[dict[str, Any]]], dict[str, list[dict[str, Any]]]]:
    by_group: dict[str, list[dict[str, Any]]] = {}
    by_notebook: dict[str, list[dict[str, Any]]] = {}
    for check in checks:
        by_group.setdefault(mark_of(check), []).append(check)
        by_notebook.setdefault(str(check.get("notebook", "")), []).append(check)
    return by_group, by_notebook


def _governing_rows(
    scopes: Mapping[str, list[dict[str, Any]]], names: Mapping[str, str] | None
) -> list[dict[str, Any]]:
    rows = []
    for scope, checks in scopes.items():
        most = governing(checks)
        if most is not None:
            row = check_row(dict(most))
            good = sum(check.get("verdict") == "passes" for check in checks)
            row["scope"] = names.get(scope, "") if names is not None else ""
            row["of"] = f"{len(checks)}" if good == len(checks) else f"{good} of {len(checks)} pass"
            rows.append(row)
    return rows


def _failed_kinds(checks: list[dict[str, Any]]) -> list[dict[str, Any]]:
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
        rows += [row | {"of": of} for row in _governing_rows({"": kinds[kind]}, None)]
    return rows


def _wanting(checks: list[dict[str, Any]]) -> str:
    """Name the keys of the job file that would close what is owed."""
    keys = list(dict.fromkeys(key for check in checks for key in check.get("missing", ())))
    return f"Owed for want of: {few_names(keys, 12)}." if keys else ""


def _plain(texts: Iterable[str]) -> list[Joined]:
    return [Joined((), text) for text in texts]


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


def _matrices(checks: list[dict[str, Any]], places: Places) -> list[dict[str, Any]]:
    """Utilisations of very many checks.

    A row for each group, a column for each kind of check, a few columns to a table.
    """
    heads: dict[tuple[str, str], str] = {}
    cells: dict[str | None, dict[tuple[str, str], str]] = {}
    for check in checks:
        row = check_row(check)
        notebook, name = row["notebook"], row["name"]
        heads.setdefault((notebook, name), f"{number_of(notebook)} {cut_text(row['what'] or name, 44)}")
        cells.setdefault(row["mark"] or None, {})[notebook, name] = (
            row["utilisation"] if row["passes"] else f"{row['utilisation']} ✗"
        )
    found = []
    columns = list(heads)
    for start in range(0, len(columns), _MATRIX):
        part = columns[start : start + _MATRIX]
        block = {
            "caption": "Utilisation of every check; ✗ marks one that fails" + (", continued" if start else ""),
            "columns": ["Group", *(heads[key] for key in part)],
            "rows": [
                [mark or "whole job", *(own.get(key, "–") for key in part)]
                for mark, own in cells.items()
                if any(key in own for key in part)
            ],
            "align": "l" + "r" * len(part),
        }
        found.append(numbered_table(block, places.next_table()))
    return found


def front_view(document: Document, front: Front, places: Places) -> dict[str, Any]:
    """Page 1 as a writer draws it.

    Parameters
    ----------
    document : Document
        The document, for names, marks and totals.
    front : Front
        What stands on its page 1.
    places : Places
        Takes the numbers of the tables.

    Returns
    -------
    dict
        With ``levels``: how much of it page 1 may hold, from everything to the least.
    """
    rows = check_rows(front.checks)
    names = notebook_names(document)
    by_group, by_notebook = _scopes(front.checks)
    failed = [row for row in rows if not row["passes"]]
    known = {row["id"] for row in failed}
    answer = (
        numbered_table(front.answer, places.next_table() if front.answer.get("caption") else None)
        if front.answer
        else None
    )
    group_rows = [row for row in _governing_rows(by_group, None) if row["id"] not in known]
    notebook_rows = [row for row in _governing_rows(by_notebook, names) if row["id"] not in known]
    lists = [
        {
            "title": title,
            "items": [item.words for item in items],
            "brief": [_in_full(item) for item in items] if title == OUTSIDE else brief(items),
            "whole": title == OUTSIDE,
        }
        for title, items in (
            (OUTSIDE, front.outside),
            ("Cautions", _plain(front.cautions)),
            ("Notices", front.notices),
            ("Not covered", _plain(front.not_covered)),
        )
        if items
    ]
    many = len(rows) > _ALL_CHECKS
    return {
        "question": front.question,
        "headline": [line for line in (*front.headline, _order(document, front)) if line],
        "answer": answer,
        "excerpt": _excerpt(front.answer, [*failed, *notebook_rows]) if front.answer else None,
        "checks": rows,
        "failed": [row | {"scope": "", "of": "1"} for row in failed],
        "failed_kinds": _failed_kinds(front.checks),
        "by_group": group_rows,
        "by_notebook": notebook_rows,
        "many": many,
        "matrices": _matrices(front.checks, places) if many else [],
        "count": count_line(rows),
        "wanting": _wanting(front.checks),
        "all_pass": not failed,
        "lists": lists,
        "levels": _levels(answer, rows, group_rows, lists),
    }


def _order(document: Document, front: Front) -> str:
    totals = document.results.get("totals", {}) if document.results else {}
    # What is ordered has the user's reserve; what the work uses stands in the plan.
    packs, mixers = (
        totals.get("packs_to_order", totals.get("packs")),
        totals.get("mixers_to_order", totals.get("mixers")),
    )
    if packs is None or any("pack" in line and str(packs) in line for line in front.headline):
        return ""
    return f"Order: {number_text(packs)} packs" + (f", {number_text(mixers)} mixers." if mixers is not None else ".")


def _excerpt(answer: Block, rows: list[dict[str, Any]]) -> dict[str, Any]:
    """The rows of the groups whose checks fail or govern, at most eight."""
    wanted = dict.fromkeys(row["mark"] for row in rows)
    # Where very much fails, the checks need the room.
    most = 8 if len(wanted) <= 8 else 4
    kept = [row for row in answer["rows"] if str(row[0]) in wanted][:most] or answer["rows"][:4]
    return numbered_table({**answer, "rows": kept, "caption": ""})


def _levels(
    answer: dict[str, Any] | None, rows: list[Any], groups: list[Any], lists: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """How much page 1 may hold, from everything to the least; the PDF takes the first that fits on one page."""
    long_answer = answer is not None and len(answer["rows"]) > _ON_FIRST_PAGE
    full: list[dict[str, Any]] = []
    if (
        not long_answer
        and len(rows) <= _ON_FIRST_PAGE
        and len(lists) < 4
        and sum(len(item) for one in lists for item in one["items"]) < 6000
    ):
        full = [
            {"answer": "all", "checks": "all", "lists": "all", "items": 99, "others": 99, "failed": 99, "text": 9.4}
        ]
    found = [*full]
    sizes = {"all": len(rows), "group": len(groups), "notebook": 0}
    for table in ("few",) if long_answer else ("all", "few"):
        for items in (99, 12, 9, 7, 5, 4, 3, 2):
            for checks in ("all", "group", "notebook"):
                if sizes[checks] <= _ON_FIRST_PAGE and not (checks == "all" and items < 99):
                    found.append(
                        {
                            "answer": table,
                            "checks": checks,
                            "lists": "brief",
                            "items": items,
                            "others": {3: 9, 2: 6}.get(items, 99),
                            "failed": 10,
                            "text": 8.6,
                        }
                    )
    least = {"answer": "few", "checks": "notebook", "lists": "brief", "items": 1, "text": 8.2}
    shrinking = (("few", 5, 6), ("few", 3, 4), ("few", 2, 3), ("none", 2, 4), ("none", 2, 3), ("none", 1, 2))
    fewer = [least | {"answer": few, "others": others, "failed": failed} for few, others, failed in shrinking]
    return [*found, *fewer]
