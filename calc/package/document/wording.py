"""How a document words numbers, checks and lists, the same in every place: page 1, sections, trace."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from calc.base.display import shown_apart, shown_text, unbroken, utilisation_text
from calc.base.sheet import VERDICTS
from calc.work.trace import mark_of

NOTHING = "–"


def check_row(check: dict[str, Any]) -> dict[str, Any]:
    """A check in words: what is compared, the verdict by word and sign."""
    unit = str(check.get("unit") or "")
    sides = [check.get(key) for key in ("demand", "resistance")]
    texts = [
        shown_text(side, unit) if isinstance(side, (int, float)) else NOTHING if side is None else str(side)
        for side in sides
    ]
    if (check.get("utilisation") or 0.0) > 1.0 and all(isinstance(side, (int, float)) for side in sides):
        texts = [*shown_apart(float(sides[0] or 0), float(sides[1] or 0), unit)]
    demand, resistance = (unbroken(text) for text in texts)
    verdict = str(check.get("verdict") or "fails")
    passes = verdict == "passes"
    return {
        "id": str(check.get("id", "")),
        "title": str(check.get("title", "")),
        "demand": demand,
        "resistance": resistance,
        "utilisation": NOTHING if check.get("utilisation") is None else utilisation_text(check["utilisation"]),
        "weight": check["utilisation"] if isinstance(check.get("utilisation"), float) else None,
        "notebook": str(check.get("notebook") or ""),
        "mark": mark_of(check),
        "name": str(check.get("name") or ""),
        "what": str(check.get("what") or check.get("title", "")),
        "passes": passes,
        "owed": verdict == "owed",
        "verdict": VERDICTS.get(verdict, VERDICTS["fails"]),
        "reason": str(check.get("reason") or ""),
        "shown": str(check.get("shown") or ""),
    }


def check_rows(checks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """All checks, the failed ones first, then those that are owed, otherwise in the order given."""
    return sorted((check_row(check) for check in checks), key=lambda row: (row["passes"], row["owed"]))


def count_line(rows: list[dict[str, Any]]) -> str:
    """How many pass, in words."""
    good = sum(row["passes"] for row in rows)
    if not rows:
        return "No checks."
    owed = sum(row["owed"] for row in rows)
    failed = len(rows) - good - owed
    tail = (f"; {failed} {'fails' if failed == 1 else 'fail'}" if failed else "") + (
        f"; {owed} {'is' if owed == 1 else 'are'} owed" if owed else ""
    )
    return f"{good} of {len(rows)} {'check passes' if len(rows) == 1 else 'checks pass'}{tail}."


def few_names(names: Sequence[str], most: int = 5) -> str:
    """List names for a sentence, and of many only how many more there are.

    Parameters
    ----------
    names : sequence of str
        All names.
    most : int [-]
        So many are listed.

    Returns
    -------
    str

    Examples
    --------
    >>> few_names(["W3", "W4", "P5"], 2)
    'W3, W4 and 1 more'
    """
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def cut_text(text: str, length: int) -> str:
    """Shorten a text to at most so many letters, at the end of a part of the sentence or at least of a word.

    Parameters
    ----------
    text : str
        Any text.
    length : int [-]
        Most letters that it may have.

    Returns
    -------
    str
        With an ellipsis where something was left out.

    Examples
    --------
    >>> cut_text("Deep holes; wide ones", 14)
    'Deep holes…'
    """
    if len(text) <= length:
        return text
    kept = text[: length - 1]
    clause = max(kept.rfind(sign) for sign in ";:,")
    end = clause if clause > length // 2 else max(kept.rfind(" "), length // 2)
    return kept[:end].rstrip() + "…"
