"""What takes the force, drawn into the section along the bar, to scale: the cone of an anchor, the strut, or the lap.

The governing mode is named, and drawn strong; the others of an anchor are left thin or out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import FancyArrowPatch, Polygon, Rectangle

from calc.base.bars import find_bar
from calc.base.sheet import Check
from calc.show.drawing import (
    ALARM,
    BOLD,
    FIRM,
    HEAVY,
    INK,
    Point,
    say,
    strokes,
)
from calc.work.embedment.anchor import AnchorDesign
from calc.work.embedment.group import GroupDesign
from calc.work.embedment.modes import CONE, MODE_STEEL, PULLOUT, SPLITTING, mode_words

Drawn = GroupDesign | AnchorDesign

# Checks of a developed or lapped bar that are about its force, in words.
_OF_FORCE = {
    "embedment": "the embedment",
    "support_tie": "the strut at the support",
    "support_steel": "the steel at the support",
    "support_length": "the length beyond the support's face",
    "joint": "the shear across the joint",
    "existing": "the existing bar's steel",
    "gap": "the gap between the spliced bars",
}
_PATHS = {
    "": "load path not stated",
    "lap": "lap",
    "joint": "joint",
    "end_support": "strut of the end support",
    "tension_line": "tension line of the member",
    "compression": "compression",
    "concrete": "anchor",
}


@dataclass(frozen=True)
class Frame:
    """The old concrete on the paper [in]: its sides, and where a depth and a height [mm] lie on it.

    ``start`` is where the new concrete begins.
    """

    x: Callable[[float], float]
    y: Callable[[float], float]
    left: float
    right: float
    bottom: float
    top: float
    start: float


def governing_mode(one: Drawn) -> Check | None:
    """Return the check of a bar's force that is used most; None where none has a number."""
    if isinstance(one, AnchorDesign):
        return one.governing
    known = [check for check in one.sheet.checks if check.name in _OF_FORCE and check.utilisation is not None]
    return max(known, key=lambda check: check.utilisation or 0.0, default=None)


def path_words(one: Drawn) -> str:
    """Name the load path and what governs, in one line.

    Parameters
    ----------
    one
        A designed bar group.

    Returns
    -------
    str
    """
    check = governing_mode(one)
    if check is None:
        return f"{_PATHS[one.case.path]}; nothing could be judged"
    name = mode_words(check.name, one.case) if isinstance(one, AnchorDesign) else _OF_FORCE[check.name]
    return f"{_PATHS[one.case.path]}; {name} governs, {check.used}"


def draw_path(ax: Axes, one: Drawn, frame: Frame, rows: Sequence[float]) -> None:
    """Draw what takes the force.

    Parameters
    ----------
    ax
        The paper.
    one
        The designed bar group.
    frame
        The old concrete on it.
    rows
        Heights of the rows of bars [mm].
    """
    case = one.case
    if isinstance(one, AnchorDesign):
        _anchor(ax, one, frame, rows)
    elif case.path == "end_support" and case["shift_ratio"] and case["support_face"] is not None:
        _strut(ax, frame, case["support_face"], case["shift_ratio"])
    elif case.path == "lap" and case["existing_bar"] is not None:
        _lap(ax, one, frame)


def path_ink(one: Drawn) -> str:
    """Colour in which the load path is named: alarm where what governs fails."""
    check = governing_mode(one)
    return INK if check is None or check.passes else ALARM


def _clip(ax: Axes, artist: Artist, frame: Frame) -> None:
    """Keep an artist inside the old concrete."""
    inside = Rectangle((frame.left, frame.bottom), frame.right - frame.left, frame.top - frame.bottom)
    inside.set_transform(ax.transData)
    artist.set_clip_path(inside)


def _lines(ax: Axes, frame: Frame, points: Sequence[Sequence[Point]], **look: Any) -> None:
    _clip(ax, strokes(ax, points, **look), frame)


# --- an anchor -------------------------------------------------------------------------------------------------------


def _anchor(ax: Axes, one: AnchorDesign, frame: Frame, rows: Sequence[float]) -> None:
    mode = one.governing
    name = mode.name if mode is not None else ""
    colour = ALARM if mode is not None and not mode.passes else INK
    strong, wide = name == CONE, 1.5 * one.depth
    for height in rows:
        corners = [
            (frame.x(one.depth), frame.y(height)),
            (frame.x(0.0), frame.y(height - wide)),
            (frame.x(0.0), frame.y(height + wide)),
        ]
        cone = Polygon(corners, facecolor=colour, alpha=0.13, edgecolor="none", zorder=3.4)
        ax.add_artist(cone)
        _clip(ax, cone, frame)
        style = {"linewidth": HEAVY if strong else 0.9, "linestyle": "-" if strong else (0, (4, 2))}
        _lines(ax, frame, [[corners[1], corners[0], corners[2]]], edgecolor=colour, zorder=5.2, **style)
    ring = one.case.hole_diameter / 2
    for height in rows:
        if name == PULLOUT:
            sides = [[(frame.x(d), frame.y(height + side)) for d in (0.0, one.depth)] for side in (-ring, ring)]
            _lines(ax, frame, sides, edgecolor=colour, linewidth=BOLD, zorder=7)
        if name == MODE_STEEL:
            place = frame.x(0.0)
            ends = [(place, frame.y(height + side)) for side in (-2 * ring, 2 * ring)]
            strokes(ax, [ends], edgecolor=colour, linewidth=BOLD, zorder=8)
    if name == SPLITTING:
        _crack(ax, one, frame, min(rows) - ring, colour)


def _crack(ax: Axes, one: AnchorDesign, frame: Frame, start: float, colour: str) -> None:
    """A crack from the bar to the nearest face, at half of the depth."""
    place, top, end = frame.x(0.5 * one.depth), frame.y(start), frame.bottom
    steps = 9
    points = [
        (place + (0.035 if i % 2 else -0.035) * (0 < i < steps), top + (end - top) * i / steps)
        for i in range(steps + 1)
    ]
    _lines(ax, frame, [points], edgecolor=colour, linewidth=HEAVY, zorder=7)


# --- a strut and a lap -----------------------------------------------------------------------------------------------


def _strut(ax: Axes, frame: Frame, support: float, shift: float) -> None:
    """The strut from the member down to the bar at the support's face; a_l/z is half the cotangent of its angle."""
    angle = math.atan(1 / (2 * shift))
    node = (frame.x(support), frame.y(0.0))
    # As long as the new concrete that is drawn.
    length = min((node[0] - frame.start) / math.cos(angle), (frame.top - node[1]) / math.sin(angle))
    start = (node[0] - length * math.cos(angle), node[1] + length * math.sin(angle))
    arrow = FancyArrowPatch(
        start,
        node,
        arrowstyle="simple,head_width=9,head_length=8,tail_width=4.5",
        shrinkA=0,
        shrinkB=0,
        facecolor=INK,
        alpha=0.75,
        edgecolor="none",
        zorder=9,
    )
    ax.add_artist(arrow)
    words = f"strut, {math.degrees(angle):.0f}°"
    say(ax, frame.start - 0.06, start[1] - 0.14, words, ha="right")


def _lap(ax: Axes, one: GroupDesign, frame: Frame) -> None:
    """Short struts between the bars, over the length on which they lap."""
    case = one.case
    existing = find_bar(case["existing_bar"]).diameter
    low, high = case.bar.diameter / 2, float(case["gap"]) + case.bar.diameter / 2
    begin, end = float(case["end_cover"] or 0.0), min(case.embedment, float(case["member_thickness"]))
    room = max(high - low, 0.25 * existing)
    step = max((end - begin) / 14, 1.0)
    struts, place = [], begin + step / 2
    while place + room <= end:
        struts.append([(frame.x(place), frame.y(low + room)), (frame.x(place + room), frame.y(low))])
        place += step
    _lines(ax, frame, struts, edgecolor=INK, linewidth=FIRM, zorder=7.5)
