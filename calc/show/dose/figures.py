"""The fill picture: a drilled hole in section while the bar goes in, and where the adhesive's surface stands.

Everything is drawn on paper measured in inches, so that lettering keeps its size and its distance from the lines whatever
the hole's proportions are. Depths share one scale in the four sections and in the curve beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Polygon, Rectangle
from matplotlib.path import Path

from calc.base.display import METRIC, Display
from calc.base.units import convert
from calc.fill.filling import Filling
from calc.show.drawing import (
    ADHESIVE,
    ADHESIVE_PALE,
    ALARM,
    CONCRETE,
    DEPTH_INK,
    GRAIN,
    INK,
    PAPER,
    QUIET,
    RIB,
    STEEL,
    Picture,
    house_style,
    svg_of,
)

STAGES = ("injected", "a third in", "two thirds in", "home")
DIRECTIONS = ("down", "horizontal", "overhead", "up")

# The paper, in inches.
_WIDTH, _PITCH, _FIRST, _SLAB = 8.3, 1.22, 0.96, (0.54, 5.62)
_CURVE = (6.22, 7.98)
_DRAWN_DEPTH, _DRAWN_HOLE, _PAD, _AIR, _STUB = 2.55, 0.5, 0.17, 0.74, 0.36
_FOOT, _CAPTION, _TITLE, _TOP = 0.30, 0.44, 0.30, 0.08


@dataclass(frozen=True)
class _Case:
    """What became of the volume in the hole, and how it is shown."""

    filling: Filling
    display: Display
    direction: str

    @property
    def hole_text(self) -> str:
        return "measured hole" if self.filling.measured else f"{self.display.size(self.filling.mouth)} hole"


@dataclass(frozen=True)
class _Plan:
    """Where things lie on the paper: ``s`` inches of paper per millimetre of depth, widths ``wider`` times that."""

    case: _Case
    titled: bool

    @property
    def s(self) -> float:
        return _DRAWN_DEPTH / self.case.filling.bottom

    @property
    def wider(self) -> float:
        """Widths against depths, in steps that are easily said; below one for a hole nearly as wide as deep."""
        exact = _DRAWN_HOLE / (self.case.filling.widest * self.s)
        if 0.85 <= exact < 1:
            return 1.0
        step = 1.0 if exact >= 3 else 0.5 if exact >= 1 else 0.05
        return step * math.floor(exact / step + 1e-9)

    @property
    def up(self) -> bool:
        return self.case.direction in ("up", "overhead")

    @property
    def block(self) -> float:
        """Height of the concrete that is drawn."""
        return _DRAWN_DEPTH + _PAD

    @property
    def height(self) -> float:
        return _FOOT + _CAPTION + self.block + _AIR + (_TITLE if self.titled else 0.0) + _TOP

    @property
    def mouth(self) -> float:
        return _FOOT + _CAPTION + (_AIR if self.up else self.block)

    @property
    def inwards(self) -> int:
        return 1 if self.up else -1

    def y(self, depth: float) -> float:
        """Height on the paper of a depth [mm] below the mouth."""
        return self.mouth + self.inwards * depth * self.s

    def out(self, inches: float) -> float:
        """Height on the paper of a point so far outside the mouth."""
        return self.mouth - self.inwards * inches

    def half(self, diameter: float) -> float:
        return diameter * self.s * self.wider / 2


def _say(ax: Axes, x: float, y: float, text: str, **look: Any) -> None:
    backing = look.pop("backing", None)
    if backing:
        look["bbox"] = {"facecolor": backing, "edgecolor": "none", "pad": 1.2}
    plain: dict[str, Any] = {"ha": "center", "va": "center", "color": INK, "fontsize": 8.0, "linespacing": 1.25, "zorder": 9}
    ax.text(x, y, text, **(plain | look))


def _lines(ax: Axes, segments: list[list[tuple[float, float]]], **look: Any) -> None:
    """Draw many short lines as one path."""
    vertices = [point for segment in segments for point in segment]
    codes = [code for segment in segments for code in [Path.MOVETO] + [Path.LINETO] * (len(segment) - 1)]
    if vertices:
        ax.add_artist(PathPatch(Path(vertices, codes), **{"facecolor": "none", "edgecolor": INK, "linewidth": 0.7} | look))


def _dimension(ax: Axes, start: tuple[float, float], end: tuple[float, float], colour: str = INK) -> None:
    """Draw a dimension line with slashes at its ends."""
    t = 0.035
    slashes = [[(x - t, y - t), (x + t, y + t)] for x, y in (start, end)]
    _lines(ax, [[start, end]], edgecolor=colour, linewidth=0.7, zorder=7)
    _lines(ax, slashes, edgecolor=colour, linewidth=1.2, zorder=7)


@lru_cache(maxsize=8)
def _grains(width: float, height: float) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Scatter the marks by which a draughtsman says concrete: specks and a few small stones; always the same ones."""
    rng = np.random.default_rng(20)
    marks: list[tuple[tuple[float, float], ...]] = []
    for number in range(int(width * height * 30)):
        x, y, turn = rng.uniform(0.05, width - 0.05), rng.uniform(0.05, height - 0.05), rng.uniform(0, 2 * math.pi)
        if number % 7:
            marks.append(((x, y), (x + 0.016 * math.cos(turn), y + 0.016 * math.sin(turn))))
        else:
            corners = [(x + 0.032 * math.cos(turn + k * 2.1), y + 0.026 * math.sin(turn + k * 2.1)) for k in (0, 1, 2, 0)]
            marks.append(tuple(corners))
    return tuple(marks)


def _concrete(ax: Axes, plan: _Plan) -> None:
    left, right = _SLAB
    bottom = plan.mouth if plan.up else plan.mouth - plan.block
    ax.add_artist(Rectangle((left, bottom), right - left, plan.block, facecolor=CONCRETE, edgecolor="none", zorder=1))
    marks = [[(left + x, bottom + y) for x, y in mark] for mark in _grains(right - left, round(plan.block, 6))]
    _lines(ax, marks, edgecolor=GRAIN, linewidth=0.7, zorder=2)
    _lines(ax, [[(left, plan.mouth), (right, plan.mouth)]], linewidth=1.3, zorder=3)


def _below(plan: _Plan, centre: float, depth: float) -> list[tuple[float, float]]:
    """Outline of the hole from a depth to its bottom, the tip cone included."""
    hole = plan.case.filling
    tip = (centre, plan.y(hole.bottom))
    depths, diameters = zip(*hole.profile, strict=True)
    if depth >= hole.wall:
        share = (hole.bottom - depth) / hole.cone if hole.cone > 0 else 0.0
        edge = [(depth, diameters[-1] * share)]
    else:
        edge = [(depth, float(np.interp(depth, depths, diameters))), *((d, w) for d, w in hole.profile if d > depth)]
    left = [(centre - plan.half(w), plan.y(d)) for d, w in edge]
    return [*left, tip, *((2 * centre - x, y) for x, y in reversed(left))]


def _bar(ax: Axes, plan: _Plan, centre: float, end: float) -> None:
    """Draw the bar with its end at a depth, cut off outside the mouth by a break line."""
    half, foot, head = plan.half(plan.case.filling.phi), plan.y(end), plan.out(_STUB)
    away = -plan.inwards
    wave = [(centre - half + 2 * half * t, head + away * 0.03 * math.sin(2 * math.pi * t)) for t in np.linspace(0, 1, 13)]
    outline = [(centre - half, foot), *wave, (centre + half, foot)]
    ax.add_artist(Polygon(outline, facecolor=STEEL, edgecolor=INK, linewidth=0.7, zorder=5))
    reach, tick = abs(head - foot), 0.32 * half
    ribs = []
    for step in np.arange(0.06, reach - 0.05, 0.085):
        y = foot + away * step
        ribs += [[(centre - half, y), (centre - half + tick, y + 0.03)], [(centre + half, y + 0.03), (centre + half - tick, y)]]
    _lines(ax, ribs, edgecolor=RIB, linewidth=0.8, zorder=6)


def _bead(ax: Axes, plan: _Plan, centre: float, spilt: float) -> None:
    """Draw what came out as a bead on the concrete; its size grows with the volume but is not to scale."""
    size = min(1.0, math.sqrt(spilt / plan.case.filling.volume))
    wide, high = plan.half(plan.case.filling.mouth) + 0.05 + 0.10 * size, 0.06 + 0.16 * size
    turn = np.linspace(0.0, math.pi, 25)
    outline = [(centre + wide * math.cos(a), plan.out(high * math.sin(a) ** 0.8)) for a in turn]
    ax.add_artist(Polygon(outline, facecolor=ADHESIVE, edgecolor=INK, linewidth=0.7, zorder=4))


def _stage(ax: Axes, plan: _Plan, number: int) -> None:
    case, filling, moment = plan.case, plan.case.filling, plan.case.filling.moments[number]
    centre, x = _FIRST + number * _PITCH, moment.x
    half, depth, spilt = plan.half(filling.mouth), moment.surface, moment.spilt
    home = moment is filling.home
    outline = _below(plan, centre, 0.0)
    ax.add_artist(Polygon(outline, facecolor=PAPER, edgecolor="none", zorder=3))
    ax.add_artist(Polygon(_below(plan, centre, depth), facecolor=ADHESIVE, edgecolor=INK, linewidth=0.6, zorder=4))
    _lines(ax, [outline], linewidth=1.1, zorder=4)
    _lines(ax, [[(centre - half, plan.mouth), (centre + half, plan.mouth)]], edgecolor=PAPER, linewidth=1.6, zorder=3)
    if number:
        _bar(ax, plan, centre, x)
    beside = centre + plan.half(filling.widest) + 0.10
    if spilt >= 0.5:
        _bead(ax, plan, centre, spilt)
        _say(ax, beside + 0.10, plan.out(0.27), f"overflow\n{case.display.volume(spilt)}", ha="left", color=DEPTH_INK)
    elif home and filling.finding == "full":
        _say(ax, beside - 0.03, plan.out(0.16), "full", ha="left", color=DEPTH_INK)
    if depth * plan.s > 0.004 and not (home and filling.finding == "full"):
        short = home and filling.finding == "short"
        colour = ALARM if short else DEPTH_INK
        level = plan.y(depth)
        _lines(ax, [[(centre + half + 0.02, level), (beside + 0.06, level)]], edgecolor=colour, linewidth=0.7, zorder=7)
        _dimension(ax, (beside, plan.mouth), (beside, level), colour)
        middle = plan.mouth + plan.inwards * max(depth * plan.s / 2, 0.17)
        label = f"gap\n{case.display.length(filling.gap)}" if short else f"z\n{case.display.length(depth)}"
        # A clear patch for the number, under the outline of the next hole.
        ax.add_artist(Rectangle((beside + 0.05, middle - 0.17), 0.56, 0.34, facecolor=CONCRETE, edgecolor="none", zorder=2.2))
        _say(ax, beside + (0.08 if depth * plan.s > 0.1 else 0.13), middle, label, ha="left", color=colour)
    row = _FOOT + _CAPTION - 0.14
    _say(ax, centre, row, STAGES[number], fontsize=8.6, fontweight="bold")
    _say(ax, centre, row - 0.17, f"bar {case.display.length(x)} deep" if number else "no bar yet", color=QUIET, fontsize=7.6)


def _measures(ax: Axes, plan: _Plan) -> None:
    """Draw the dimensions that were given: embedment at the left, hole over the first section, bar over the last."""
    filling, display = plan.case.filling, plan.case.display
    left, end = _SLAB[0] - 0.16, plan.y(filling.l_v)
    _lines(ax, [[(left - 0.07, plan.mouth), (_SLAB[0], plan.mouth)], [(left - 0.07, end), (_SLAB[0], end)]], linewidth=0.6)
    _dimension(ax, (left, plan.mouth), (left, end))
    _say(ax, left, (plan.mouth + end) / 2, f"$l_v$ = {display.size(filling.l_v)}", rotation=90, backing=PAPER)
    _lines(ax, [[(_SLAB[0], end), (_SLAB[1], end)]], edgecolor=QUIET, linewidth=0.6, linestyle=(0, (7, 2, 1.5, 2)), zorder=2.5)
    lift = 0.22 if filling.before.spilt >= 0.5 else 0.0  # over the bead
    half, over = plan.half(filling.mouth), plan.out(0.13 + lift)
    _lines(ax, [[(_FIRST + k * half, plan.out(0.03)), (_FIRST + k * half, plan.out(0.19 + lift))] for k in (-1, 1)], linewidth=0.6)
    _dimension(ax, (_FIRST - half, over), (_FIRST + half, over))
    name = "mouth" if filling.measured else "$d_0$ ="
    _say(ax, _FIRST, plan.out(0.33 + lift), f"{name} {display.size(filling.mouth)}", zorder=10)
    last, half, over = _FIRST + 3 * _PITCH, plan.half(filling.phi), plan.out(_STUB + 0.11)
    _lines(ax, [[(last + k * half, plan.out(_STUB + 0.05)), (last + k * half, plan.out(_STUB + 0.17))] for k in (-1, 1)], linewidth=0.6)
    _dimension(ax, (last - half, over), (last + half, over))
    _say(ax, last, plan.out(_STUB + 0.28), f"$\\phi$ = {display.size(filling.phi)}")


def _foot(case: _Case, plan: _Plan) -> str:
    """Say the scale and what the hole has beyond the bar's end."""
    scale = "Drawn to scale" if plan.wider == 1 else f"Depths to scale, widths drawn {plan.wider:g} times as wide"
    hole = case.filling
    overdrill = hole.wall - hole.l_v
    beyond = f"overdrilled {case.display.size(overdrill)}" if overdrill > 1e-6 else "not overdrilled"
    tip = f"tip {hole.theta:g}°, {case.display.length(hole.cone)} deep" if hole.cone else "flat bottom"
    shape = "; hole as measured" if hole.measured else ""
    turned = "; overhead hole" if plan.up else "; horizontal hole, drawn upright" if case.direction == "horizontal" else ""
    return f"{scale}; {beyond}, {tip}{shape}{turned}."


def _curve(figure: Figure, plan: _Plan) -> None:
    """Draw surface depth against bar depth, at the same height and scale as the sections."""
    filling, display = plan.case.filling, plan.case.display
    unit = display.length_unit
    left, right = _CURVE
    air = 0.30
    low = plan.out(air) if plan.up else plan.mouth - filling.bottom * plan.s
    ax = figure.add_axes((left / _WIDTH, low / plan.height, (right - left) / _WIDTH, (filling.bottom * plan.s + air) / plan.height))
    shown = convert(1.0, "mm", unit)
    deep, high, long = filling.bottom * shown, -air / plan.s * shown, filling.l_v * shown
    ax.set_ylim((high, deep) if plan.up else (deep, high))
    ax.set_xlim(0.0, long)
    x, z = filling.depths, filling.surfaces
    ax.fill_between(x * shown, z * shown, deep, color=ADHESIVE_PALE, linewidth=0, zorder=1)
    ax.axhline(0.0, color=INK, linewidth=1.3, zorder=2)
    ax.plot(x * shown, z * shown, color=DEPTH_INK, linewidth=1.7, zorder=3, clip_on=False, solid_capstyle="round")
    stages = [(words, moment.x, moment.surface) for words, moment in zip(STAGES, filling.moments, strict=True)]
    ax.plot([s[1] * shown for s in stages], [s[2] * shown for s in stages], "o", color=DEPTH_INK, markersize=5.5,
            markeredgecolor=PAPER, markeredgewidth=1.0, clip_on=False, zorder=5)  # fmt: skip
    for number, (words, at, depth) in enumerate(stages):
        # The surface only rises while the bar goes in, so there is room deeper than each dot; the last one has its room outside.
        last, floor = number == 3, (filling.bottom - depth) * plan.s < 0.24
        under_mouth = depth * plan.s * 72 if last and depth * plan.s < 0.25 else 0.0
        step = -20.0 if last and floor else -9.0 - under_mouth if last or floor else 9.0
        ax.annotate(words, (at * shown, depth * shown), xytext=(3.0 if last else 1.0 if number else 4.0, step * plan.inwards),
                    textcoords="offset points", ha="right" if last else "left", va="center", fontsize=7.6, color=INK,
                    annotation_clip=False, zorder=6)  # fmt: skip
    ax.set_xlabel(f"depth of the bar's end [{unit}]", fontsize=7.8, labelpad=3)
    ax.set_ylabel(f"depth z of the adhesive's surface [{unit}]", fontsize=7.8, labelpad=4)
    ax.tick_params(labelsize=7.2, length=2.5, width=0.6, color=QUIET, labelcolor=INK, pad=2)
    ticks = [tick for tick in ax.get_yticks() if 0.0 <= tick <= deep]
    ax.set_yticks(ticks)
    ax.set_xticks([k * long / 3 for k in range(4)], [_tick(display.about(filling.l_v * k / 3)) for k in range(4)])
    for side, spine in ax.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(QUIET)
        spine.set_linewidth(0.6)


def _tick(length: str) -> str:
    """Write a length on an axis, which names its unit."""
    return length.split(" ")[0].removesuffix(".00")


def _draw(figure: Figure, case: _Case, title: str) -> None:
    plan = _Plan(case, bool(title))
    figure.clear()
    figure.set_facecolor(PAPER)
    figure.set_size_inches(_WIDTH, plan.height)
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_xlim(0.0, _WIDTH)
    ax.set_ylim(0.0, plan.height)
    ax.set_axis_off()
    _concrete(ax, plan)
    for number in range(len(STAGES)):
        _stage(ax, plan, number)
    _measures(ax, plan)
    _curve(figure, plan)
    _say(ax, 0.12, 0.15, _foot(case, plan), ha="left", fontsize=7.4, color=QUIET)
    if title:
        _say(ax, 0.12, plan.height - _TOP - 0.10, title, ha="left", fontsize=10, fontweight="bold")


def _alt(case: _Case) -> str:
    """State the finding in one sentence."""
    filling, display = case.filling, case.display
    dose, hole, bar = display.volume(filling.volume), case.hole_text, display.size(filling.phi)
    if filling.finding == "short":
        gap = display.length(filling.gap)
        return f"A dose of {dose} is too little for the {bar} bar in the {hole}: with the bar home, {gap} at the mouth stays empty."
    before = f"before the bar the adhesive stands {display.length(filling.before.surface)} below the mouth"
    if filling.finding == "full":
        return f"A dose of {dose} just fills the {hole} around the {bar} bar: {before}, with the bar home it stands at the mouth."
    spilt = display.volume(filling.home.spilt)
    start = "it overflows even before the bar goes in" if filling.before.spilt > 0 else before
    return f"A dose of {dose} fills the {hole} around the {bar} bar and {spilt} of it overflows; {start}."


def _numbers(case: _Case) -> tuple[tuple[str, str], ...]:
    filling, display = case.filling, case.display
    rows = [(f"surface below the mouth, {words}", display.length(moment.surface)) for words, moment in zip(STAGES, filling.moments, strict=True)]
    rows.append(("overflow, home", display.volume(filling.home.spilt)))
    rows.append(("gap at the mouth, home", display.length(filling.gap)))
    return tuple(rows)


def _caption(case: _Case) -> str:
    filling, display = case.filling, case.display
    hole = f"{display.size(filling.phi)} bar, {case.hole_text}, embedment {display.size(filling.l_v)}"
    return f"Section through the hole while the bar goes in: {hole}, dose {display.volume(filling.volume)}."


def fill_picture(
    filling: Filling,
    *,
    display: Display = METRIC,
    direction: str = "down",
    title: str = "",
    figure: Figure | None = None,
) -> Picture:
    """Draw the hole in section at four stages, beside the curve of surface depth against bar depth.

    Parameters
    ----------
    filling
        What became of a volume in the hole.
    display
        How quantities are shown.
    direction
        ``"down"``, ``"horizontal"`` or ``"overhead"`` (or ``"up"``): the way the hole was drilled.
    title
        Line over the drawing; none by default.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
        The drawing as SVG, its one-sentence alt text, its caption, and the numbers that it shows.

    Raises
    ------
    ValueError
        For a direction that is not listed here.
    """
    if direction not in DIRECTIONS:
        raise ValueError(f"direction '{direction}' is not known; accepted: {', '.join(DIRECTIONS)}")
    case = _Case(filling, display, direction)
    alt = _alt(case)
    target = Figure() if figure is None else figure
    with house_style():
        _draw(target, case, title)
    return Picture(svg_of(target, alt), alt, _caption(case), _numbers(case))
