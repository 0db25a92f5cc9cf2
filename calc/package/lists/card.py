"""The depth-stick card: a strip for each bar group, its depths at full size, to hold a stick and a bar against.

Lengths on paper are those of results.json divided by the strip's scale; the template draws them and works out nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from calc.package.lists.doses import DIRECTIONS, dose_texts, failing
from calc.package.lists.setting import list_head
from calc.work.dose import Worked
from calc.work.results import Results

# Sheets lying on their long side [mm] (ISO 216; ANSI/ASME Y14.1), by the name that Typst has for them.
_SHEETS = {"a4": (297.0, 210.0), "us-letter": (279.4, 215.9)}
_MOUTH, _SIDE, _LEFT_OVER = 20.0, 7.0, 5.0  # mouth from the sheet's left edge; margin; adhesive seen behind a surface
_REDUCED = (2, 5, 10, 20, 50)  # ISO 5455
_STOP = "STOP: a check of this group fails or is owed. Ask the engineer first."


def _rim(one: Worked, start: float, end: float) -> list[tuple[float, float]]:
    """Depths [mm] and half widths of the hole, its widest as 1, between two depths."""
    hole = one.filling
    depths, diameters = (list(row) for row in zip(*hole.profile, strict=True))
    if hole.cone > 0:
        depths, diameters = [*depths, hole.bottom], [*diameters, 0.0]
    inside = [start, *(depth for depth in depths if start < depth < end), end]
    return [(depth, float(np.interp(depth, depths, diameters)) / hole.widest) for depth in inside]


def _scale(one: Worked, room: float) -> int:
    """How many times smaller than life: 1 where the surface lies on the sheet, else so that the whole hole does."""
    if one.level_before_bar <= room - _LEFT_OVER:
        return 1
    return next((n for n in _REDUCED if one.filling.bottom <= n * room), _REDUCED[-1])


def _strip(one: Worked, dose: tuple[str, str], room: float, stopped: bool) -> dict[str, Any]:
    scale, hole, case = _scale(one, room), one.filling, one.case
    off = case.embedment > scale * room
    end = min(hole.bottom, scale * room)
    depth, level = case.display.planned(case.embedment), case.display.read_off(one.level_before_bar)
    stick, surface = f"stick {level}", f"the adhesive's surface before the bar lies {level} below the mouth"
    if one.full_before_bar:
        stick, surface = "full to the mouth: no stick", "the adhesive fills the hole to the mouth before the bar"
    if case.measured is not None:
        stick += ", for the hole that was measured"

    def on_paper(rim: Sequence[tuple[float, float]]) -> list[list[float]]:
        return [[depth / scale, half] for depth, half in rim]

    return {
        "mark": case.mark,
        "count": f"{case.count} hole{'s' if case.count != 1 else ''}",
        "bar": case.bar.text,
        "hole": case.display.planned(case.hole_diameter),
        "direction": DIRECTIONS[case.direction],
        "dose": dose[0],
        "same": dose[1],
        "stick": stick,
        "tape": f"tape {depth}" + (": measure it along the bar, whose end is not on this sheet" if off else ""),
        "stopped": _STOP if stopped else "",
        "scale": scale,
        "surface": one.level_before_bar / scale,
        "shown": not one.full_before_bar,
        "bar_end": min(case.embedment / scale, room),
        "off": off,
        "hole_off": hole.bottom > scale * room,
        "rim": on_paper(_rim(one, 0.0, end)),
        "filled": on_paper(_rim(one, min(one.level_before_bar, end), end)),
        "alt": (
            f"{case.mark}, {'at full size' if scale == 1 else f'at a scale of 1 to {scale}'}: dose {dose[0]};"
            f" {surface}; the tape is {depth} from the bar's end."
        ),
    }


def depth_card(results: Results, *, stamp: str) -> dict[str, Any]:
    """Return what the depth-stick card shows, as texts and as lengths on paper [mm] from the mouth.

    Strips whose surface lies on the sheet are at full size, the others stand behind them at a scale that is said.
    """
    job, display, failed = results.job, results.job.display, failing(results)
    wide, high = _SHEETS[display.paper]
    room = wide - _MOUTH - _SIDE
    parts: dict[int, list[dict[str, Any]]] = {}
    directions: dict[int, set[str]] = {}
    for one in results.worked:
        strip = _strip(one, dose_texts(one, job), room, one.case.mark in failed)
        parts.setdefault(strip["scale"], []).append(strip)
        directions.setdefault(strip["scale"], set()).add(one.case.direction)
    return list_head(results, "Depth-stick card", stamp) | {
        "sheet": [wide, high],
        "mouth": _MOUTH,
        "side": _SIDE,
        "room": room,
        "parts": [{"scale": n, "how": _how(n, directions[n]), "strips": parts[n]} for n in sorted(parts)],
        "check": display.usual(
            {"length": 100.0, "ticks": 10, "words": "100 mm", "named": [[0, "0"], [5, "50"], [10, "100 mm"]]},
            {
                "length": 101.6,
                "ticks": 8,
                "words": "4 in",
                "named": [[0, "0"], [2, "1"], [4, "2"], [6, "3"], [8, "4 in"]],
            },
        ),
    }


def _how(scale: int, directions: Collection[str]) -> list[str]:
    """Say how to use it, and what a depth means in holes that do not point down."""
    lay = "lay it on the strip, its end at the surface, and mark it at the mouth"
    tape = "lay it on the strip, end on end, and tape it up to the mouth"
    if scale != 1:
        lay, tape = "mark it at the depth that the strip names", "tape it at the length that the strip names"
    said = [
        f"Stick: {lay}. Dose in, no bar yet, mark at the concrete's face: its end must touch adhesive. If it does not,"
        " there is too little.",
        f"Bar: {tape}. It is home when the tape is at the concrete.",
    ]
    if "horizontal" in directions:
        said.append("→ Wall: the surface may lean; the depth is that at its middle.")
    if "overhead" in directions:
        said.append(
            "↑ Overhead: eye protection on, keep out from under the hole. No stick goes through a plug: there dose and"
            " tape count."
        )
    return said
