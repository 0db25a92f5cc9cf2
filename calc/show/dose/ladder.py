"""The reserve ladder: a row for each bar group, with what its holes need, what they get, and what carries the force.

Everything stands on one axis, as a share of the volume that the group's hole requires.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from calc.base.display import percent_text
from calc.show.drawing import (
    ADHESIVE,
    ALARM,
    FIRM,
    HAIR,
    HAIRLINE,
    INK,
    LETTERS,
    PAPER,
    QUIET,
    SHADE,
    THIN,
    WIDTH,
    Picture,
    axes,
    listed,
    long,
    name_rows,
    paper,
    sheet,
    strokes,
    svg_of,
)  # fmt: skip
from calc.show.view import View, picture_view, standing, table_view
from calc.work.overfill.reserve import Reserve, Reserves, reserves_of
from calc.work.results import Results

_HEAD, _FOOT, _KEY, _ROW = 0.32, 0.36, 0.17, 0.168  # inches
_EDGE_OF_KEY, _BEFORE, _LONGEST = 0.08, 0.26, 2.2
_COLUMNS = ((0.0, "a hole\nis short"), (0.88, "dispensed"), (1.60, "least for\nthe force"))  # from the right edge
_AXIS_ENDS = 2.74  # inches from the right edge
_LEAST, _MOST = 0.4, 2.0  # ends of the axis; what lies beyond is an arrow there, and a number at the right
_GRID = 0.05
_MARKS = {"D": (5.6, ADHESIVE), "o": (3.0, PAPER), "x": (3.6, INK), "[": (5.0, INK)}  # size [points], and ink inside
_EDGE: dict[str, Any] = {"markeredgecolor": INK, "markeredgewidth": THIN}
_NAMED = 6


def _limits(rows: Sequence[Reserve]) -> tuple[float, float]:
    """Ends of the axis: what is drawn and the whole requirement, in whole steps."""
    seen = [1.0]
    for one in rows:
        seen += [one.dispensed, *one.measured, *one.left_out, *(one.need or ()), *([one.least] if one.least else [])]
    low = math.floor(max(min(seen) - 0.02, _LEAST) / _GRID) * _GRID
    return low, max(math.ceil(min(max(seen) + 0.02, _MOST) / _GRID) * _GRID, 1.0 + _GRID)


def _mark(ax: Axes, share: float, y: float, kind: str) -> None:
    """Draw a mark at a share; one beyond the axis is an arrow at its end."""
    (low, high), (size, face) = ax.get_xlim(), _MARKS[kind]
    at = 100 * share
    kind, at = ("<", low) if at < low else (">", high) if at > high else (kind, at)
    ax.plot([at], [y], kind, markersize=size, markerfacecolor=face, clip_on=False, zorder=6, **_EDGE)


def _bracket(ax: Axes, share: float, y: float) -> None:
    """Open a bracket at the least dose: from here on the force is carried."""
    low, high = ax.get_xlim()
    if not low <= 100 * share <= high:
        _mark(ax, share, y, "[")
        return
    foot = 0.012 * (high - low)
    x = 100 * share
    strokes(ax, [[(x + foot, y - 0.36), (x, y - 0.36), (x, y + 0.36), (x + foot, y + 0.36)]], linewidth=FIRM, zorder=5)


def _row(ax: Axes, one: Reserve, y: float) -> None:
    ax.axhline(y, color=HAIR, linewidth=HAIRLINE, zorder=1)
    low, high = ax.get_xlim()
    if one.need is not None:
        start, middle, end = (min(max(100 * share, low), high) for share in one.need)
        ax.barh(y, end - start, left=start, height=0.5, color=SHADE, edgecolor=QUIET, linewidth=THIN, zorder=2)
        strokes(ax, [[(middle, y - 0.25), (middle, y + 0.25)]], edgecolor=QUIET, linewidth=FIRM, zorder=3)
    if one.least is not None:
        _bracket(ax, one.least, y)
    for share in one.measured:
        _mark(ax, share, y, "o")
    for share in one.left_out:
        _mark(ax, share, y, "x")
    _mark(ax, one.dispensed, y, "D")


def _least_text(one: Reserve) -> str:
    words = {"anchor": "an anchor", "not designed": "no force"}
    return percent_text(one.least) if one.least is not None else words.get(one.carried, one.carried)


def _short_text(one: Reserve) -> str:
    return "not known" if one.short is None else percent_text(one.short)


def _texts(one: Reserve) -> tuple[tuple[str, bool], ...]:
    """What stands at the right, from the right: words, and whether they tell of a failure."""
    return (
        (_short_text(one), one.too_often_short),
        (percent_text(one.dispensed), False),
        (_least_text(one), one.too_weak),
    )


def _items(rows: Sequence[Reserve]) -> list[list[tuple[str, str]]]:
    """Marks that are drawn and what they are, in lines that fit the paper."""
    between = next((percent_text(one.between) for one in rows if one.need), "")
    items = (
        ("need", f"what the middle {between} of holes need", bool(between)),
        ("[", "least dose for the force", any(one.least is not None for one in rows)),
        ("D", "dispensed", True),
        ("o", "measured hole", any(one.measured for one in rows)),
        ("x", "measured, left out", any(one.left_out for one in rows)),
    )
    lines: list[list[tuple[str, str]]] = [[]]
    for kind, words in ((kind, words) for kind, words, there in items if there):
        if lines[-1] and _EDGE_OF_KEY + sum(map(_taken, lines[-1])) + _taken((kind, words)) > WIDTH:
            lines.append([])
        lines[-1].append((kind, words))
    return lines


def _taken(item: tuple[str, str]) -> float:
    """Inches that a mark and its words take in the key."""
    return _BEFORE + long(item[1]) + 0.16


def _key(ax: Axes, lines: Sequence[Sequence[tuple[str, str]]]) -> None:
    """Say what the marks are."""
    for up, line in enumerate(reversed(lines)):
        x, y = _EDGE_OF_KEY, (up + 0.5) * _KEY
        for kind, words in line:
            if kind == "need":
                ax.barh(y, 0.2, left=x, height=0.1, color=SHADE, edgecolor=QUIET, linewidth=THIN)
                strokes(ax, [[(x + 0.1, y - 0.05), (x + 0.1, y + 0.05)]], edgecolor=QUIET, linewidth=FIRM)
            elif kind == "[":
                hook = [(x + 0.13, y - 0.06), (x + 0.09, y - 0.06), (x + 0.09, y + 0.06), (x + 0.13, y + 0.06)]
                strokes(ax, [hook], linewidth=FIRM)
            else:
                size, face = _MARKS[kind]
                ax.plot([x + 0.1], [y], kind, markersize=size, markerfacecolor=face, **_EDGE)
            ax.text(x + _BEFORE, y, words, fontsize=LETTERS, color=INK, va="center")
            x += _taken((kind, words))


def _name(one: Reserve) -> str:
    """Name a row; a name that is too long loses its middle, since marks mostly differ at their ends."""
    words = f"{one.mark}, {one.bar}"
    while long(words, weight="bold") > _LONGEST:
        half = len(words) // 2
        words = f"{words[: half - 1].rstrip('…')}…{words[half + 1 :].lstrip('…')}"
    return words


def ladder_picture(shown: Reserves, *, figure: Figure | None = None) -> Picture:
    """Draw the reserve of each group.

    Parameters
    ----------
    shown
        The groups, that with the least reserve first.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    rows, most = shown.rows, shown.most_often_short
    names = [_name(one) for one in rows]
    left = 0.12 + max(long(name, weight="bold") for name in names)
    high, key = _ROW * len(rows), _items(rows)
    foot = _FOOT + _KEY * len(key)
    with paper(figure, _HEAD + high + foot) as target:
        page = sheet(target)
        ax = axes(target, left, _AXIS_ENDS, foot, _HEAD)
        low, end = _limits(rows)
        ax.set(xlim=(100 * low, 100 * end), ylim=(len(rows) - 0.5, -0.5))
        ax.axvline(100, color=INK, linewidth=FIRM, zorder=4)
        ax.annotate("required", (100, -0.5), xytext=(0, 2), textcoords="offset points", ha="center", va="bottom")
        for y, one in enumerate(rows):
            _row(ax, one, y)
        name_rows(ax, range(len(rows)), names)
        for label, one in zip(ax.get_yticklabels(), rows, strict=True):
            label.set_fontweight("bold" if one is most or one in shown.failing else "normal")
        ax.set_xlabel("share of the required volume [%]")
        top = foot + high
        for place, words in _COLUMNS:
            page.text(WIDTH - place, top + 0.04, words, ha="right", va="bottom", fontsize=LETTERS, linespacing=1.1)
        for y, one in enumerate(rows):
            for (place, _), (words, fails) in zip(_COLUMNS, _texts(one), strict=True):
                look: dict[str, Any] = {"color": ALARM, "fontweight": "bold"} if fails else {"color": INK}
                height = top - (y + 0.5) * high / len(rows)
                page.text(WIDTH - place, height, f"✗ {words}" if fails else words, ha="right", va="center",
                          fontsize=LETTERS, **look)  # fmt: skip
        _key(page, key)
        svg = svg_of(target, _finding(shown))
    return Picture(svg, _finding(shown), _finding(shown), tuple((one.mark, _numbers(one)) for one in rows))


def _finding(shown: Reserves) -> str:
    """Say which groups fail, which is short most often, and which is nearest to the dose that carries its force."""
    parts = []
    most, near = shown.most_often_short, shown.nearest
    if weak := [one for one in shown.rows if one.too_weak]:
        parts.append(f"the doses of {listed([one.mark for one in weak], _NAMED)} do not carry their force")
    if most is not None:
        often = [one for one in shown.rows if one.too_often_short]
        accepted, share = percent_text(most.stated), _short_text(most)
        if often:
            who = f"{listed([one.mark for one in often], _NAMED)} {'stays' if len(often) == 1 else 'stay'}"
            worst = f"{most.mark} in {share} of its holes"
            parts.append(f"{who} short more often than the {accepted} that is accepted, {worst}")
        else:
            parts.append(f"{most.mark} is short most often, in {share} of its holes, where {accepted} is accepted")
    if near is not None:
        parts.append(
            f"{near.mark} has least above the dose that carries its force: {percent_text(near.dispensed)} against"
            f" {_least_text(near)} of what is required"
        )
    if not parts:
        parts.append(
            "doses against what holes require; how often one is short, and what carries the force, is not known"
        )
    said = "; ".join(parts)
    rest = "" if shown.whole else f" Drawn are the {len(shown.rows)} of {shown.groups} groups with the least reserve."
    return f"{said[0].upper()}{said[1:]}.{rest}"


def _numbers(one: Reserve) -> str:
    need = "need not known" if one.need is None else f"need {percent_text(one.need[0])} to {percent_text(one.need[2])}"
    return f"{need}; least {_least_text(one)}; dispensed {percent_text(one.dispensed)}; short {_short_text(one)}"


@standing(figure="doses")
def reserve_ladder(results: Results) -> list[View]:
    """Show what each dose has in hand, drawn and as numbers."""
    shown = reserves_of(results)
    rows = [
        (
            one.mark,
            "not known" if one.need is None else f"{percent_text(one.need[0])} to {percent_text(one.need[2])}",
            *(words for words, _ in reversed(_texts(one))),
            str(len(one.measured)),
        )
        for one in shown.rows
    ]
    columns = ("Mark", "Holes need", "Least for the force", "Dispensed", "A hole is short", "Measured holes")
    return [
        picture_view(ladder_picture(shown)),
        table_view("Reserve of each dose, as shares of the required volume", columns, rows, "lrrrrr"),
    ]
