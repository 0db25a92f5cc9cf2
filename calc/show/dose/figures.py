"""The fill picture: a drilled hole in section while the bar goes in, and where the adhesive's surface stands.

Everything is drawn on paper measured in inches, so that lettering keeps its size and its distance from the lines
whatever the hole's proportions are. Depths share one scale in the four sections and in the curve beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from calc.base.display import METRIC, Display
from calc.base.units import convert
from calc.fill.filling import Filling
from calc.show.drawing import (
    ADHESIVE,
    ADHESIVE_INK,
    ALARM,
    CONCRETE,
    INK,
    PAPER,
    QUIET,
    RIB,
    SHADE,
    STEEL,
    WIDTH,
    Picture,
    axes,
    concrete,
    dimension,
    note,
    paper,
    say,
    sheet,
    strokes,
    svg_of,
)  # fmt: skip

STAGES = ("injected", "a third in", "two thirds in", "home")
DIRECTIONS = ("down", "horizontal", "overhead", "up")

# The paper, in inches.
_PITCH, _FIRST, _SLAB = 1.22, 0.96, (0.54, 5.62)
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


def _concrete(ax: Axes, plan: _Plan) -> None:
    left, right = _SLAB
    bottom = plan.mouth if plan.up else plan.mouth - plan.block
    concrete(ax, (left, bottom), (right, bottom + plan.block))
    strokes(ax, [[(left, plan.mouth), (right, plan.mouth)]], linewidth=1.3, zorder=3)


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
    wave = [
        (centre - half + 2 * half * t, head + away * 0.03 * math.sin(2 * math.pi * t)) for t in np.linspace(0, 1, 13)
    ]
    outline = [(centre - half, foot), *wave, (centre + half, foot)]
    ax.add_artist(Polygon(outline, facecolor=STEEL, edgecolor=INK, linewidth=0.7, zorder=5))
    reach, tick = abs(head - foot), 0.32 * half
    ribs = []
    for step in np.arange(0.06, reach - 0.05, 0.085):
        y = foot + away * step
        ribs += [
            [(centre - half, y), (centre - half + tick, y + 0.03)],
            [(centre + half, y + 0.03), (centre + half - tick, y)],
        ]
    strokes(ax, ribs, edgecolor=RIB, linewidth=0.8, zorder=6)


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
    strokes(ax, [outline], linewidth=1.1, zorder=4)
    strokes(ax, [[(centre - half, plan.mouth), (centre + half, plan.mouth)]], edgecolor=PAPER, linewidth=1.6, zorder=3)
    if number:
        _bar(ax, plan, centre, x)
    beside = centre + plan.half(filling.widest) + 0.10
    if spilt >= 0.5:
        _bead(ax, plan, centre, spilt)
        say(ax, beside + 0.10, plan.out(0.27), f"overflow\n{case.display.volume(spilt)}", ha="left", color=ADHESIVE_INK)
    elif home and filling.finding == "full":
        say(ax, beside - 0.03, plan.out(0.16), "full", ha="left", color=ADHESIVE_INK)
    if depth * plan.s > 0.004 and not (home and filling.finding == "full"):
        short = home and filling.finding == "short"
        colour = ALARM if short else ADHESIVE_INK
        level = plan.y(depth)
        strokes(
            ax, [[(centre + half + 0.02, level), (beside + 0.06, level)]], edgecolor=colour, linewidth=0.7, zorder=7
        )
        dimension(ax, (beside, plan.mouth), (beside, level), colour)
        middle = plan.mouth + plan.inwards * max(depth * plan.s / 2, 0.17)
        label = f"gap\n{case.display.length(filling.gap)}" if short else f"z\n{case.display.length(depth)}"
        # A clear patch for the number, under the outline of the next hole.
        ax.add_artist(
            Rectangle((beside + 0.05, middle - 0.17), 0.56, 0.34, facecolor=CONCRETE, edgecolor="none", zorder=2.2)
        )
        say(ax, beside + (0.08 if depth * plan.s > 0.1 else 0.13), middle, label, ha="left", color=colour)
    row = _FOOT + _CAPTION - 0.14
    say(ax, centre, row, STAGES[number], fontsize=8.6, fontweight="bold")
    say(
        ax,
        centre,
        row - 0.17,
        f"bar {case.display.length(x)} deep" if number else "no bar yet",
        color=QUIET,
        fontsize=7.6,
    )


def _measures(ax: Axes, plan: _Plan) -> None:
    """Draw the dimensions that were given: embedment at the left, hole over the first section, bar over the last."""
    filling, display = plan.case.filling, plan.case.display
    left, end = _SLAB[0] - 0.16, plan.y(filling.l_v)
    strokes(
        ax, [[(left - 0.07, plan.mouth), (_SLAB[0], plan.mouth)], [(left - 0.07, end), (_SLAB[0], end)]], linewidth=0.6
    )
    dimension(ax, (left, plan.mouth), (left, end))
    say(ax, left, (plan.mouth + end) / 2, f"$l_v$ = {display.size(filling.l_v)}", rotation=90, backing=PAPER)
    strokes(
        ax,
        [[(_SLAB[0], end), (_SLAB[1], end)]],
        edgecolor=QUIET,
        linewidth=0.6,
        linestyle=(0, (7, 2, 1.5, 2)),
        zorder=2.5,
    )
    lift = 0.22 if filling.before.spilt >= 0.5 else 0.0  # over the bead
    half, over = plan.half(filling.mouth), plan.out(0.13 + lift)
    strokes(
        ax,
        [[(_FIRST + k * half, plan.out(0.03)), (_FIRST + k * half, plan.out(0.19 + lift))] for k in (-1, 1)],
        linewidth=0.6,
    )
    dimension(ax, (_FIRST - half, over), (_FIRST + half, over))
    name = "mouth" if filling.measured else "$d_0$ ="
    say(ax, _FIRST, plan.out(0.33 + lift), f"{name} {display.size(filling.mouth)}", zorder=10)
    last, half, over = _FIRST + 3 * _PITCH, plan.half(filling.phi), plan.out(_STUB + 0.11)
    strokes(
        ax,
        [[(last + k * half, plan.out(_STUB + 0.05)), (last + k * half, plan.out(_STUB + 0.17))] for k in (-1, 1)],
        linewidth=0.6,
    )
    dimension(ax, (last - half, over), (last + half, over))
    say(ax, last, plan.out(_STUB + 0.28), f"$\\phi$ = {display.size(filling.phi)}")


def _foot(case: _Case, plan: _Plan) -> str:
    """Say the scale and what the hole has beyond the bar's end."""
    scale = "Drawn to scale" if plan.wider == 1 else f"Depths to scale, widths drawn {plan.wider:g} times as wide"
    hole = case.filling
    overdrill = hole.wall - hole.l_v
    beyond = f"overdrilled {case.display.size(overdrill)}" if overdrill > 1e-6 else "not overdrilled"
    tip = f"tip {hole.theta:g}°, {case.display.length(hole.cone)} deep" if hole.cone else "flat bottom"
    shape = "; hole as measured" if hole.measured else ""
    turned = (
        "; overhead hole" if plan.up else "; horizontal hole, drawn upright" if case.direction == "horizontal" else ""
    )
    return f"{scale}; {beyond}, {tip}{shape}{turned}."


def _curve(figure: Figure, plan: _Plan) -> None:
    """Draw surface depth against bar depth, at the same height and scale as the sections."""
    filling, display = plan.case.filling, plan.case.display
    unit = display.length_unit
    left, right = _CURVE
    air = 0.30
    low = plan.out(air) if plan.up else plan.mouth - filling.bottom * plan.s
    ax = axes(figure, left, WIDTH - right, low, plan.height - low - filling.bottom * plan.s - air)
    shown = convert(1.0, "mm", unit)
    deep, high, long = filling.bottom * shown, -air / plan.s * shown, filling.l_v * shown
    ax.set(ylim=(high, deep) if plan.up else (deep, high), xlim=(0.0, long))
    x, z = filling.depths, filling.surfaces
    ax.fill_between(x * shown, z * shown, deep, color=SHADE, linewidth=0, zorder=1)
    ax.axhline(0.0, color=INK, linewidth=1.3, zorder=2)
    ax.plot(x * shown, z * shown, color=ADHESIVE_INK, linewidth=1.7, zorder=3, clip_on=False, solid_capstyle="round")
    stages = [(words, moment.x, moment.surface) for words, moment in zip(STAGES, filling.moments, strict=True)]
    ax.plot([s[1] * shown for s in stages], [s[2] * shown for s in stages], "o", color=ADHESIVE_INK, markersize=5.5,
            markeredgecolor=PAPER, markeredgewidth=1.0, clip_on=False, zorder=5)  # fmt: skip
    for number, (words, at, depth) in enumerate(stages):
        # The surface only rises while the bar goes in, so there is room deeper than each dot; the last one has its room
        # outside.
        last, floor = number == 3, (filling.bottom - depth) * plan.s < 0.24
        under_mouth = depth * plan.s * 72 if last and depth * plan.s < 0.25 else 0.0
        step = -20.0 if last and floor else -9.0 - under_mouth if last or floor else 9.0
        dx = 3.0 if last else 1.0 if number else 4.0
        note(
            ax,
            words,
            (at * shown, depth * shown),
            dx,
            step * plan.inwards,
            ha="right" if last else "left",
            va="center",
            fontsize=7.6,
            zorder=6,
        )
    ax.set_xlabel(f"depth of the bar's end [{unit}]")
    ax.set_ylabel(f"depth z of the adhesive's surface [{unit}]", labelpad=4)
    ticks = [tick for tick in ax.get_yticks() if 0.0 <= tick <= deep]
    ax.set_yticks(ticks)
    ax.set_xticks([k * long / 3 for k in range(4)], [_tick(display.about(filling.l_v * k / 3)) for k in range(4)])


def _tick(length: str) -> str:
    """Write a length on an axis, which names its unit."""
    return length.split(" ")[0].removesuffix(".00")


def _draw(figure: Figure, plan: _Plan, title: str) -> None:
    ax = sheet(figure)
    _concrete(ax, plan)
    for number in range(len(STAGES)):
        _stage(ax, plan, number)
    _measures(ax, plan)
    _curve(figure, plan)
    say(ax, 0.12, 0.15, _foot(plan.case, plan), ha="left", fontsize=7.4, color=QUIET)
    if title:
        say(ax, 0.12, plan.height - _TOP - 0.10, title, ha="left", fontsize=10, fontweight="bold")


def _alt(case: _Case) -> str:
    """State the finding in one sentence."""
    filling, display = case.filling, case.display
    dose, hole, bar = display.volume(filling.volume), case.hole_text, display.size(filling.phi)
    if filling.finding == "short":
        gap = display.length(filling.gap)
        return (
            f"A dose of {dose} is too little for the {bar} bar in the {hole}: with the bar home, {gap} at the mouth"
            " stays empty."
        )
    before = f"before the bar the adhesive stands {display.length(filling.before.surface)} below the mouth"
    if filling.finding == "full":
        return (
            f"A dose of {dose} just fills the {hole} around the {bar} bar: {before}, with the bar home it stands at the"
            " mouth."
        )
    spilt = display.volume(filling.home.spilt)
    start = "it overflows even before the bar goes in" if filling.before.spilt > 0 else before
    return f"A dose of {dose} fills the {hole} around the {bar} bar and {spilt} of it overflows; {start}."


def _numbers(case: _Case) -> tuple[tuple[str, str], ...]:
    filling, display = case.filling, case.display
    rows = [
        (f"surface below the mouth, {words}", display.length(moment.surface))
        for words, moment in zip(STAGES, filling.moments, strict=True)
    ]
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
    plan = _Plan(case, bool(title))
    with paper(figure, plan.height) as target:
        _draw(target, plan, title)
    return Picture(svg_of(target, alt), alt, _caption(case), _numbers(case))
