"""Four holes, one rule: the same lines at half and two thirds across four pairs of bar and hole, and what follows."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from calc.base.display import Display, percent_text
from calc.fill.filling import Filling
from calc.show.drawing import (
    ADHESIVE,
    ALARM,
    FIRM,
    INK,
    LETTERS,
    PAPER,
    STEEL,
    THIN,
    WIDTH,
    Picture,
    concrete,
    listed,
    paper,
    say,
    sheet,
    strokes,
    svg_of,
)  # fmt: skip
from calc.show.view import View, picture_view, standing, table_view
from calc.work.overfill.thumb import SHARES, RuledHole, four_holes

RULE = "half to two thirds: a rule of thumb (common practice, no source)"
_NAMES = ("half", "two thirds")
_LEFT, _DEEP, _WIDEST, _STUB = 0.72, 1.15, 0.36, 0.14  # inches: words at the left, a hole, the widest hole, bar outside
_UPPER, _LOWER, _HIGH = 2.52, 0.58, 4.30  # where the holes end, and the paper
_PITCH = (WIDTH - _LEFT) / 4
_APART = 0.36  # between the middles of two holes of one pair, from the pair's middle


def _hole(ax: Axes, middle: float, bottom: float, half: float, share: float) -> None:
    """Draw a hole that is filled to a share of its depth."""
    ax.add_artist(Rectangle((middle - half, bottom), 2 * half, _DEEP, facecolor=PAPER, edgecolor="none", zorder=3))
    ax.add_artist(Rectangle((middle - half, bottom), 2 * half, share * _DEEP, facecolor=ADHESIVE, edgecolor="none",
                            zorder=4))  # fmt: skip
    rim = [(middle - half, bottom + _DEEP), (middle - half, bottom), (middle + half, bottom),
           (middle + half, bottom + _DEEP)]  # fmt: skip
    strokes(ax, [rim], linewidth=FIRM, zorder=6)


def _home(ax: Axes, middle: float, one: RuledHole, filling: Filling, scale: float) -> None:
    """Draw what a filling becomes with the bar home: full to a gap at the mouth, or over it as a bead."""
    half, bar = one.d_0 * scale / 2, one.bar.diameter * scale / 2
    mouth = _LOWER + _DEEP
    _hole(ax, middle, _LOWER, half, 1 - filling.home.surface / one.l_v)
    ax.add_artist(Rectangle((middle - bar, _LOWER), 2 * bar, _DEEP + _STUB, facecolor=STEEL, edgecolor="none",
                            zorder=8))  # fmt: skip
    if filling.finding == "overflow":
        size = math.sqrt(filling.home.spilt / filling.volume)
        turn = np.linspace(0.0, math.pi, 25)
        wide, high = half + 0.03 + 0.12 * size, 0.04 + 0.12 * size
        outline = [(middle + wide * math.cos(a), mouth + high * math.sin(a) ** 0.8) for a in turn]
        ax.add_artist(Polygon(outline, facecolor=ADHESIVE, edgecolor=INK, linewidth=THIN, zorder=7))
    if filling.finding == "short":
        level = mouth - filling.gap / one.l_v * _DEEP
        strokes(ax, [[(middle - half - 0.06, level), (middle + half + 0.06, level)]], edgecolor=ALARM, linewidth=FIRM,
                zorder=9)  # fmt: skip


def _outcome(filling: Filling, display: Display) -> str:
    if filling.finding == "short":
        return f"{display.length(filling.gap)}\nbare"
    return "full" if filling.finding == "full" else f"{display.volume(filling.home.spilt)}\nout"


def _pair(ax: Axes, number: int, one: RuledHole, display: Display, scale: float) -> None:
    middle = _LEFT + (number + 0.5) * _PITCH
    say(ax, middle, _HIGH - 0.12, f"{one.bar.text} in {display.size(one.d_0)}", fontweight="bold")
    say(ax, middle, _HIGH - 0.28, f"needs {percent_text(one.needed)} of its depth")
    _hole(ax, middle, _UPPER, one.d_0 * scale / 2, SHARES[0])
    for side, (name, filling) in zip((-1, 1), zip(_NAMES, one.fillings, strict=True), strict=True):
        at = middle + side * _APART
        _home(ax, at, one, filling, scale)
        look = {"color": ALARM, "fontweight": "bold"} if filling.finding == "short" else {}
        say(ax, at, _LOWER - 0.2, _outcome(filling, display), **look)
        say(ax, at, _LOWER + _DEEP + 0.3, name)


def thumb_picture(holes: Sequence[RuledHole], display: Display, *, figure: Figure | None = None) -> Picture:
    """Draw four holes under one rule of thumb, and below what each becomes with the bar home.

    Parameters
    ----------
    holes
        The holes, of one depth.
    display
        How quantities are shown.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    scale = _WIDEST / max(one.d_0 for one in holes)
    alt = _finding(holes)
    with paper(figure, _HIGH) as target:
        ax = sheet(target)
        for bottom in (_UPPER, _LOWER):
            concrete(ax, (_LEFT, bottom - 0.06), (WIDTH - 0.02, bottom + _DEEP))
        for number, one in enumerate(holes):
            _pair(ax, number, one, display, scale)
        for share, name in zip(SHARES, _NAMES, strict=True):
            y = _UPPER + share * _DEEP
            strokes(ax, [[(_LEFT, y), (WIDTH - 0.02, y)]], linewidth=FIRM, linestyle=(0, (4, 2)), zorder=9)
            say(ax, _LEFT - 0.06, y, name, ha="right")
        say(ax, _LEFT - 0.06, _UPPER + _DEEP - 0.1, "before\nthe bar", ha="right", fontweight="bold")
        say(ax, _LEFT - 0.06, _LOWER + 0.5 * _DEEP, "with the\nbar home", ha="right", fontweight="bold")
        foot = f"All {display.size(holes[0].l_v)} deep; widths are drawn wider. Above, the holes are half full."
        say(ax, 0.04, 0.1, foot, ha="left", fontsize=LETTERS)
        svg = svg_of(target, alt)
    rows = [(f"{one.bar.text} in {display.size(one.d_0)}", _numbers(one, display)) for one in holes]
    return Picture(svg, alt, f"Four holes, {RULE}. {alt}", tuple(rows))


def _numbers(one: RuledHole, display: Display) -> str:
    became = zip(_NAMES, one.fillings, strict=True)
    said = "; ".join(f"{name}: {_outcome(filling, display)}".replace("\n", " ") for name, filling in became)
    return f"needs {percent_text(one.needed)}; {said}"


def _finding(holes: Sequence[RuledHole]) -> str:
    """Say which holes stay short when half full, and which run over."""
    parts = []
    for name, at in zip(_NAMES, (0, 1), strict=True):
        for finding, verb in (("short", "leaves {} short"), ("overflow", "runs over at {}")):
            found = [one.bar.text for one in holes if one.fillings[at].finding == finding]
            if found:
                parts.append(f"{name} full {verb.format(listed(found))}")
    said = "; ".join(parts)
    return f"{said[0].upper()}{said[1:]}: each pair of bar and hole has its own share."


@standing()
def rule_of_thumb(display: Display) -> list[View]:
    """Show what half and two thirds do to four holes, drawn and as numbers."""
    holes = four_holes(display)
    picture = thumb_picture(holes, display)
    rows = [
        (
            f"{one.bar.text} in {display.size(one.d_0)}",
            percent_text(one.needed),
            *(_outcome(filling, display).replace("\n", " ") for filling in one.fillings),
        )
        for one in holes
    ]
    columns = ("Bar and hole", "Share of the depth that fills it", "From half", "From two thirds")
    return [picture_view(picture), table_view("Four holes, one rule of thumb", columns, rows, "lrrr")]
