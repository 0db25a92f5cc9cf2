"""The fill picture: a drilled hole in section while the bar goes in, and where the adhesive's surface stands.

Everything is drawn on paper measured in inches, so that lettering keeps its size and its distance from the lines
whatever the hole's proportions are. Depths share one scale in the four sections and in the curve beside them.
"""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from calc.base.display import METRIC, Display
from calc.base.units import convert
from calc.fill.filling import Filling
from calc.show.drawing import (
    ADHESIVE,
    ADHESIVE_INK,
    ALARM,
    CONCRETE,
    FIRM,
    HAIRLINE,
    HEAVY,
    INK,
    PAPER,
    QUIET,
    RIB,
    SHADE,
    STEEL,
    TEXTURE,
    THIN,
    TITLE,
    WIDTH,
    Picture,
    axes,
    concrete,
    dimension,
    paper,
    say,
    sheet,
    strokes,
    svg_of,
    unitless,
)  # fmt: skip

STAGES = ("injected", "a third in", "two thirds in", "home")
DIRECTIONS = ("down", "horizontal", "overhead", "up")

# The paper, in inches.
_PITCH, _FIRST, _SLAB = 1.05, 0.84, (0.46, 4.78)
_CURVE = (5.36, 6.50)
_DRAWN_DEPTH, _DRAWN_HOLE, _PAD, _AIR, _STUB = 1.36, 0.4, 0.12, 0.60, 0.28
_FOOT, _LINE, _CAPTION, _TITLE, _TOP = 0.20, 0.14, 0.36, 0.26, 0.05
_SEEN = 0.5  # mm³ that are drawn as an overflow
_WRAP = 115  # letters of a line under the drawing


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
    def foot(self) -> list[str]:
        """What stands under the drawing, line by line."""
        return textwrap.wrap(_foot(self.case, self), _WRAP)

    @property
    def floor(self) -> float:
        """Height under which nothing but that stands."""
        return _FOOT + _LINE * len(self.foot)

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
        # Over a hole that is open at the top a title finds its room beside the bar.
        title = _TITLE if self.titled and (self.up or self.case.filling.before.spilt >= _SEEN) else 0.0
        return self.floor + _CAPTION + self.block + _AIR + title + _TOP

    @property
    def mouth(self) -> float:
        return self.floor + _CAPTION + (_AIR if self.up else self.block)

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
    strokes(ax, [[(left, plan.mouth), (right, plan.mouth)]], linewidth=FIRM, zorder=3)


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
    ax.add_artist(Polygon(outline, facecolor=STEEL, edgecolor=INK, linewidth=THIN, zorder=5))
    reach, tick = abs(head - foot), 0.32 * half
    ribs = []
    for step in np.arange(0.06, reach - 0.05, 0.085):
        y = foot + away * step
        ribs += [
            [(centre - half, y), (centre - half + tick, y + 0.03)],
            [(centre + half, y + 0.03), (centre + half - tick, y)],
        ]
    strokes(ax, ribs, edgecolor=RIB, linewidth=THIN, zorder=6, label=TEXTURE)


def _bead(ax: Axes, plan: _Plan, centre: float, spilt: float) -> None:
    """Draw what came out as a bead on the concrete; its size grows with the volume but is not to scale."""
    size = min(1.0, math.sqrt(spilt / plan.case.filling.volume))
    wide, high = plan.half(plan.case.filling.mouth) + 0.05 + 0.10 * size, 0.06 + 0.16 * size
    turn = np.linspace(0.0, math.pi, 25)
    outline = [(centre + wide * math.cos(a), plan.out(high * math.sin(a) ** 0.8)) for a in turn]
    ax.add_artist(Polygon(outline, facecolor=ADHESIVE, edgecolor=INK, linewidth=THIN, zorder=4))


def _stage(ax: Axes, plan: _Plan, number: int) -> None:
    case, filling, moment = plan.case, plan.case.filling, plan.case.filling.moments[number]
    centre, x = _FIRST + number * _PITCH, moment.x
    half, depth, spilt = plan.half(filling.mouth), moment.surface, moment.spilt
    home = moment is filling.home
    outline = _below(plan, centre, 0.0)
    ax.add_artist(Polygon(outline, facecolor=PAPER, edgecolor="none", zorder=3))
    ax.add_artist(Polygon(_below(plan, centre, depth), facecolor=ADHESIVE, edgecolor=INK, linewidth=HAIRLINE, zorder=4))
    strokes(ax, [outline], linewidth=FIRM, zorder=4)
    strokes(
        ax, [[(centre - half, plan.mouth), (centre + half, plan.mouth)]], edgecolor=PAPER, linewidth=HEAVY, zorder=3
    )
    if number:
        _bar(ax, plan, centre, x)
    beside = centre + plan.half(filling.widest) + 0.09
    if spilt >= _SEEN:
        _bead(ax, plan, centre, spilt)
    if spilt >= _SEEN and (home or not number):
        words = f"overflow\n{case.display.volume(spilt)}"
        say(ax, beside + 0.10, plan.out(0.36), words, ha="left", color=ADHESIVE_INK)
    elif home and filling.finding == "full":
        say(ax, beside - 0.03, plan.out(0.12), "full", ha="left", color=ADHESIVE_INK)
    if depth * plan.s > 0.004 and not (home and filling.finding == "full"):
        short = home and filling.finding == "short"
        colour = ALARM if short else ADHESIVE_INK
        level = plan.y(depth)
        edge = [[(centre + half + 0.02, level), (beside + 0.05, level)]]
        strokes(ax, edge, edgecolor=colour, linewidth=THIN, zorder=7)
        dimension(ax, (beside, plan.mouth), (beside, level), colour)
        middle = plan.mouth + plan.inwards * max(depth * plan.s / 2, 0.18)
        words = f"gap\n{unitless(case.display.length(filling.gap))}" if short else unitless(case.display.length(depth))
        clear = {"backing": CONCRETE, "weight": "bold"} if short else {"backing": CONCRETE}
        say(ax, beside + 0.07, middle, words, ha="left", color=colour, **clear)
    row = plan.floor + _CAPTION - 0.11
    say(ax, centre, row, f"{number + 1} {STAGES[number]}", fontweight="bold")
    words = f"bar at {unitless(case.display.length(x))}" if number else "no bar yet"
    say(ax, centre, row - 0.155, words, color=QUIET)


def _measures(ax: Axes, plan: _Plan) -> None:
    """Draw the dimensions that were given: embedment at the left, hole over the first section, bar over the last."""
    filling, display = plan.case.filling, plan.case.display
    left, end = _SLAB[0] - 0.13, plan.y(filling.l_v)
    reach = [[(left - 0.05, y), (_SLAB[0] - 0.02, y)] for y in (plan.mouth, end)]
    strokes(ax, reach, linewidth=HAIRLINE)
    dimension(ax, (left, plan.mouth), (left, end))
    words = f"embedment {unitless(display.size(filling.l_v))}"
    say(ax, left - 0.10, (plan.mouth + end) / 2, words, rotation=90)
    bottom = [[(_SLAB[0], end), (_SLAB[1], end)]]
    strokes(ax, bottom, edgecolor=QUIET, linewidth=HAIRLINE, linestyle=(0, (7, 2, 1.5, 2)), zorder=2.5)
    lift = 0.18 if filling.before.spilt >= _SEEN else 0.0  # over the bead
    name = "mouth" if filling.measured else "hole"
    _across(ax, plan, _FIRST, filling.mouth, 0.10 + lift, f"{name} {unitless(display.size(filling.mouth))}")
    words = f"bar {unitless(display.size(filling.phi))}"
    _across(ax, plan, _FIRST + 3 * _PITCH, filling.phi, _STUB + 0.09, words)


def _across(ax: Axes, plan: _Plan, centre: float, width: float, out: float, words: str) -> None:
    """Draw the dimension of a width so far outside the mouth, its words beyond the line."""
    half = plan.half(width)
    reach = [[(centre + k * half, plan.out(out - 0.05)), (centre + k * half, plan.out(out + 0.05))] for k in (-1, 1)]
    strokes(ax, reach, linewidth=HAIRLINE)
    dimension(ax, (centre - half, plan.out(out)), (centre + half, plan.out(out)))
    say(ax, centre, plan.out(out + 0.12), words)


def _foot(case: _Case, plan: _Plan) -> str:
    """Say the scale and what the hole has beyond the bar's end."""
    scale = "Drawn to scale" if plan.wider == 1 else f"Depths to scale, widths drawn {plan.wider:g} times as wide"
    unit = case.display.length_unit
    hole = case.filling
    overdrill = hole.wall - hole.l_v
    beyond = f"overdrilled {unitless(case.display.size(overdrill))}" if overdrill > 1e-6 else "not overdrilled"
    tip = f"tip {hole.theta:g}°, {unitless(case.display.length(hole.cone))} deep" if hole.cone else "flat bottom"
    shape = "; hole as measured" if hole.measured else ""
    turned = (
        "; overhead hole" if plan.up else "; horizontal hole, drawn upright" if case.direction == "horizontal" else ""
    )
    return f"Lengths [{unit}]. {scale}; {beyond}, {tip}{shape}{turned}."


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
    ax.axhline(0.0, color=INK, linewidth=FIRM, zorder=2)
    ax.plot(x * shown, z * shown, color=ADHESIVE, linewidth=HEAVY, zorder=3, clip_on=False, solid_capstyle="round")
    for number, moment in enumerate(filling.moments, start=1):
        at = (moment.x * shown, moment.surface * shown)
        disc = {"boxstyle": "circle,pad=0.18", "facecolor": ADHESIVE_INK, "edgecolor": PAPER, "linewidth": THIN}
        ax.annotate(str(number), at, ha="center", va="center", color=PAPER, fontweight="bold", zorder=6, bbox=disc,
                    annotation_clip=False)  # fmt: skip
    ax.set_xlabel(f"bar's end at [{unit}]")
    ax.set_ylabel(f"surface at [{unit}]", labelpad=4)
    ticks = [tick for tick in ax.get_yticks() if 0.0 <= tick <= deep]
    ax.set_yticks(ticks)
    ax.tick_params(axis="y", pad=6)
    ends = ["0", "", "", unitless(display.about(filling.l_v))]
    ax.set_xticks([k * long / 3 for k in range(4)], ends)
    ax.tick_params(axis="x", pad=5)


def _draw(figure: Figure, plan: _Plan, title: str) -> None:
    ax = sheet(figure)
    _concrete(ax, plan)
    for number in range(len(STAGES)):
        _stage(ax, plan, number)
    _measures(ax, plan)
    _curve(figure, plan)
    for number, line in enumerate(reversed(plan.foot)):
        say(ax, 0.05, 0.10 + _LINE * number, line, ha="left", color=QUIET)
    if title:
        say(ax, 0.05, plan.height - _TOP - 0.09, title, ha="left", fontsize=TITLE, fontweight="bold")


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


def _caption(case: _Case, alt: str) -> str:
    turned = {"down": "downwards"}.get(case.direction, case.direction)
    return f"{alt} Embedment {case.display.size(case.filling.l_v)}, hole {turned}."


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
    return Picture(svg_of(target, alt), alt, _caption(case, alt), _numbers(case))
