"""The joint of one bar group, drawn to scale.

A section along the bar and the drilled face beside it, both in one scale.

Everything is drawn on paper measured in inches, so that lettering keeps its size. The section is drawn lying, whichever
way the hole points; what is too long for the paper is broken off, and the foot then says what is not to scale.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle

from calc.base.bars import Bar, find_bar
from calc.base.display import Display
from calc.base.units import convert
from calc.show.drawing import (
    ADHESIVE,
    ALARM,
    CONCRETE,
    FIRM,
    FRESH,
    FRESH_GRAIN,
    HAIRLINE,
    HEAVY,
    INK,
    PAPER,
    QUIET,
    RIB,
    STEEL,
    TEXTURE,
    THIN,
    TITLE,
    WIDTH,
    Picture,
    Point,
    concrete,
    dimension,
    long,
    paper,
    say,
    sheet,
    strokes,
    svg_of,
    unitless,
)
from calc.show.embedment.loadpath import Drawn, Frame, draw_path, path_ink, path_words
from calc.work.embedment.anchor import AnchorDesign
from calc.work.embedment.case import DesignCase

_HIDDEN, _AXIS = (0, (4, 2.2)), (0, (9, 2, 2, 2))
# The paper, in inches.
_LEFT, _BETWEEN, _RIGHT = 0.10, 0.50, 0.55
_LINE, _VIEW, _BELOW, _ROW, _TOP = 0.14, 0.20, 0.36, 0.17, 0.26
_EDGE_ROW = 0.22  # under the spacing
_TALLEST, _OF_ANCHOR = 1.15, 2.0  # of what is drawn to scale
_WRAP = 87  # letters of a line beside the scale bar


@dataclass(frozen=True)
class _Joint:
    """What is drawn, in mm: x is the depth below the face, y the height over the bar's axis.

    U the place along the row.
    """

    one: Drawn

    @property
    def anchor(self) -> AnchorDesign | None:
        return self.one if isinstance(self.one, AnchorDesign) else None

    @property
    def case(self) -> DesignCase:
        return self.one.case

    @property
    def display(self) -> Display:
        return self.case.display

    @property
    def phi(self) -> float:
        return self.case.bar.diameter

    @property
    def d_0(self) -> float:
        return self.case.hole_diameter

    @property
    def l_v(self) -> float:
        return self.case.embedment

    @property
    def end(self) -> float:
        """Depth at which the hole's full diameter ends."""
        return self.l_v + self.case.overdrill

    @cached_property
    def tip(self) -> float:
        return self.one.tip

    @property
    def required(self) -> float:
        """Embedment that the code asks for; an anchor has its own."""
        return self.l_v if isinstance(self.one, AnchorDesign) else self.one.required

    @property
    def long_enough(self) -> bool:
        return isinstance(self.one, AnchorDesign) or self.one.long_enough

    @property
    def existing(self) -> Bar | None:
        name = self.case["existing_bar"]
        return find_bar(name) if name else None

    @property
    def lapped(self) -> bool:
        return self.case.use == "lap"

    # ---- how much of it is drawn ----

    @property
    def thickness(self) -> float:
        return float(self.case["member_thickness"])

    @property
    def reach(self) -> float:
        """What has to be seen: the hole, or the embedment that would do."""
        return max(self.tip, min(self.required, 1.6 * self.tip))

    @cached_property
    def depth(self) -> float:
        """Depth of old concrete that is drawn."""
        return self.thickness if self.thickness <= 2.6 * self.reach else 1.3 * self.reach

    @property
    def stub(self) -> float:
        """Length of new concrete that is drawn."""
        return max(0.24 * self.depth, 2.5 * self.d_0)

    @property
    def beside(self) -> float:
        """Axis of the bar to the nearest face."""
        return float(self.case["cover"]) + self.phi / 2

    @cached_property
    def low(self) -> float:
        """Lowest place that is drawn: the nearest face, or where the concrete is broken off above it."""
        most = max(0.75 * self.depth, 6 * self.d_0)
        return -min(self.beside, most if self.anchor is None else max(most, 1.6 * self.anchor.depth))

    @property
    def face_seen(self) -> bool:
        return self.beside <= -self.low * (1 + 1e-9)

    @cached_property
    def rows(self) -> tuple[float, ...]:
        """Heights of the rows of bars: a joint has so many over its width, at the same distance from both faces."""
        many, width = int(self.case["bar_rows"] or 1), self.case["joint_width"]
        if self.anchor is not None:
            apart = self.case["row_spacing"]
            return (0.0, float(apart)) if many > 1 and apart is not None else (0.0,)
        if self.case.use != "joint" or width is None or many == 1:
            return (0.0,)
        step = (width - 2 * self.beside) / (many - 1)
        return tuple(i * step for i in range(many)) if step > self.d_0 else (0.0,)

    @cached_property
    def width_seen(self) -> bool:
        """Whether the joint's other face is drawn."""
        width = self.case["joint_width"]
        return (
            self.case.use == "joint"
            and self.face_seen
            and width is not None
            and self.d_0 < width - self.beside <= 1.3 * self.depth
        )

    @cached_property
    def high(self) -> float:
        """Highest place that is drawn."""
        if self.width_seen:
            return float(self.case["joint_width"]) - self.beside
        top = max(-0.95 * self.low, 3.2 * self.d_0, 0.22 * self.depth)
        if self.anchor is not None:
            # Enough to see the cone, up to the other edge.
            above, last = self.case["edge_above"], self.rows[-1]
            edge = math.inf if above is None else float(above)
            top = max(
                last + max(2 * self.d_0, 0.4 * self.anchor.depth),
                min(last + min(1.55 * self.anchor.depth, edge), 1.25 * self.depth),
            )
        if self.lapped and self.existing is not None:
            top = max(top, self.lap_axis + self.existing.diameter / 2 + 0.12 * self.depth)
        return top

    @property
    def lap_axis(self) -> float:
        """Height of the existing bar that a lap runs beside."""
        assert self.existing is not None
        return float(self.case["gap"]) + (self.phi + self.existing.diameter) / 2

    # ---- the drilled face ----

    @cached_property
    def pitch(self) -> float:
        """Spacing as it is drawn."""
        return min(float(self.case["spacing"]), 1.1 * self.depth + 8 * self.d_0)

    @property
    def pitch_true(self) -> bool:
        return self.pitch == self.case["spacing"]

    @cached_property
    def margins(self) -> tuple[float, float]:
        """Concrete that is drawn left and right of the two bars on the drilled face."""
        usual = max(1.1 * self.d_0, 0.22 * self.pitch)
        edge = self.case["edge"]
        return (min(float(edge), 1.2 * self.pitch), usual) if edge is not None else (usual, usual)

    @property
    def edge_seen(self) -> bool:
        return self.case["edge"] is not None and self.margins[0] == self.case["edge"]

    @property
    def breadth(self) -> float:
        return self.margins[0] + self.pitch + self.margins[1]

    @cached_property
    def layer(self) -> tuple[float, ...]:
        """Places along the row of the existing bars under the face, as far as possible from the new ones.

        Empty where there is none.
        """
        s_ex = self.case["existing_spacing"]
        if self.existing is None or self.lapped or s_ex is None or not self.case["existing_cover"]:
            return ()
        bars = (self.margins[0], self.margins[0] + self.pitch)

        def places(start: float) -> list[float]:
            return [p for p in np.arange(start, self.breadth, s_ex) if p > self.existing_radius]

        def nearest(start: float) -> float:
            return min((abs(p - b) for p in places(start) for b in bars), default=0.0)

        best = max(np.linspace(0.0, s_ex, 121)[:-1], key=lambda start: round(nearest(start), 6))
        return tuple(float(p) for p in places(best))

    @property
    def existing_radius(self) -> float:
        return self.existing.diameter / 2 if self.existing is not None else 0.0

    @property
    def broken_off(self) -> str:
        """What is not to scale, as the end of a sentence that says the scale."""
        said = [("member", self.depth == self.thickness), ("cover", self.face_seen), ("spacing", self.pitch_true)]
        edge = self.case["edge"]
        said.append(("edge", edge is None or self.edge_seen))
        if self.case.use == "joint":
            said.append(("joint width", self.width_seen))
        if self.anchor is not None:
            said.append(("other rows", int(self.case["bar_rows"] or 1) <= len(self.rows)))
        broken = [words for words, seen in said if not seen]
        return f" but for what is broken off: {', '.join(broken)}" if broken else ""


@dataclass(frozen=True)
class _Plan:
    """Where things lie on the paper."""

    joint: _Joint

    @property
    def s(self) -> float:
        """Inches of paper for each millimetre."""
        joint = self.joint
        whole = WIDTH - _BETWEEN - _RIGHT
        across = (whole - self.left) / (joint.stub + joint.depth + joint.breadth)
        if self.left + joint.stub * across < self.names:
            across = (whole - self.names) / (joint.depth + joint.breadth)
        tall = _TALLEST if joint.anchor is None else _OF_ANCHOR
        return min(across, tall / (joint.high - joint.low))

    @property
    def left(self) -> float:
        """Room left of the new concrete, where a strut is named."""
        return _LEFT + (long("strut, 00°") + 0.06 if self.joint.case.path == "end_support" else 0.0)

    @cached_property
    def names(self) -> float:
        """Room left of the face for the words of the depths over it."""
        return max(1.0, *(long(words) + 0.15 for _, _, words, _ in _depths(self.joint)))

    @property
    def face(self) -> float:
        """Place of the joint on the paper."""
        return max(self.left + self.joint.stub * self.s, self.names)

    @property
    def wall(self) -> float:
        """Left side of the drilled face's view: half of the paper that is left over stands before it."""
        left = self.x(self.joint.depth) + _BETWEEN
        return left + max(0.0, WIDTH - _RIGHT - left - self.joint.breadth * self.s) / 2

    @property
    def foot(self) -> list[str]:
        """What stands beside the scale bar, line by line."""
        return textwrap.wrap(_foot_text(self.joint), _WRAP)

    @property
    def views(self) -> float:
        """Height at which the views are named."""
        return _LINE * len(self.foot) + 0.16

    @property
    def axis(self) -> float:
        """Height of the bar's axis on the paper."""
        edge = _EDGE_ROW if self.joint.case["edge"] is not None else 0.0
        return self.views + _VIEW + _BELOW + edge - self.joint.low * self.s

    @property
    def height(self) -> float:
        return self.axis + self.joint.high * self.s + 0.12 + _ROW * len(_depths(self.joint))

    def x(self, depth: float) -> float:
        return self.face + depth * self.s

    def y(self, height: float) -> float:
        return self.axis + height * self.s

    def u(self, place: float) -> float:
        return self.wall + place * self.s


_bare = unitless


def _depths(joint: _Joint) -> list[tuple[float, float, str, str]]:
    """Depth dimensions over the section, the lowest first: from, to, words, colour."""
    display, rows = joint.display, []
    if joint.lapped and joint.existing is not None:
        c_e = float(joint.case["end_cover"])
        if c_e > 0:
            rows.append((0.0, c_e, f"existing bar from {_bare(display.size(c_e))}", INK))
    elif joint.layer:
        c_ex = float(joint.case["existing_cover"])
        rows.append((0.0, c_ex, f"existing bar at {_bare(display.size(c_ex))}", INK))
    if joint.anchor is not None:
        counted = joint.anchor.depth
        if counted < joint.l_v * (1 - 1e-9):
            rows.append((0.0, counted, f"effective {_bare(display.size(counted))}", INK))
        return [*rows, (0.0, joint.l_v, f"embedment {_bare(display.size(joint.l_v))}", INK)]
    colour = INK if joint.long_enough else ALARM
    beyond = joint.required > joint.depth
    words = f"required {_bare(display.length(joint.required))}{' →' if beyond else ''}"
    rows.append((0.0, min(joint.required, joint.depth), words, colour))
    rows.append((0.0, joint.l_v, f"embedment {_bare(display.size(joint.l_v))}", INK))
    return rows


# ---- small parts ---------------------------------------------------------------------------------


def _break_line(ax: Axes, start: Point, end: Point, place: float = 0.5) -> None:
    """Draw the zigzag line along which something is broken off."""
    (x0, y0), (x1, y1) = start, end
    length = math.hypot(x1 - x0, y1 - y0)
    along, across = ((x1 - x0) / length, (y1 - y0) / length), (-(y1 - y0) / length, (x1 - x0) / length)
    middle = length * place
    places = [
        (0.0, 0.0),
        (middle - 0.06, 0.0),
        (middle - 0.025, 0.07),
        (middle + 0.025, -0.07),
        (middle + 0.06, 0.0),
        (length, 0.0),
    ]
    points = [(x0 + a * along[0] + b * across[0], y0 + a * along[1] + b * across[1]) for a, b in places]
    strokes(ax, [points], edgecolor=QUIET, linewidth=THIN, zorder=4)


def _edge(ax: Axes, start: Point, end: Point, *, seen: bool, place: float = 0.16) -> None:
    """Draw a face of the concrete, or the line along which it is broken off."""
    if seen:
        strokes(ax, [[start, end]], linewidth=FIRM, zorder=4)
    else:
        _break_line(ax, start, end, place)


def _bar(
    ax: Axes, start: float, end: float, centre: float, half: float, *, new: bool, broken: str = "", zorder: float = 6.0
) -> None:
    """Draw a lying bar with its ribs; an end that is broken off is a wave."""
    waves = np.linspace(-1.0, 1.0, 9)
    swing = min(0.022, 0.8 * half)
    left = [(start + (swing * math.sin(math.pi * t) if "left" in broken else 0.0), centre + half * t) for t in waves]
    right = [(end + (swing * math.sin(math.pi * t) if "right" in broken else 0.0), centre - half * t) for t in waves]
    look: dict[str, Any] = {"facecolor": STEEL, "edgecolor": INK, "linewidth": HAIRLINE}
    if not new:
        look = {"facecolor": "none", "edgecolor": INK, "linewidth": THIN, "linestyle": _HIDDEN}
    ax.add_artist(Polygon([*left, *right], zorder=zorder, **look))
    if half < 0.03 or not new:
        return
    step, tick = min(max(1.1 * half, 0.06), 0.11), 0.34 * half
    ribs = []
    for x in np.arange(start + 0.05, end - 0.05, step):
        ribs += [
            [(x, centre + half), (x + 0.35 * step, centre + half - tick)],
            [(x, centre - half + tick), (x + 0.35 * step, centre - half)],
        ]
    strokes(ax, ribs, edgecolor=RIB, linewidth=HAIRLINE, zorder=zorder + 0.1, label=TEXTURE)


def _centre(ax: Axes, start: Point, end: Point, ink: str = INK, zorder: float = 7.0) -> None:
    """Draw a centre line, or a part of it in another ink where it lies on steel."""
    strokes(ax, [[start, end]], edgecolor=ink, linewidth=HAIRLINE, linestyle=_AXIS, zorder=zorder)


# ---- section along the bar -----------------------------------------------------------------------


def _section(ax: Axes, plan: _Plan) -> None:
    joint = plan.joint
    left, face, back = plan.x(-joint.stub), plan.x(0.0), plan.x(joint.depth)
    bottom, top = plan.y(joint.low), plan.y(joint.high)
    concrete(ax, (left, bottom), (face, top), FRESH, FRESH_GRAIN, 14)
    concrete(ax, (face, bottom), (back, top))
    _edge(ax, (left, bottom), (back, bottom), seen=joint.face_seen, place=0.93)
    _edge(ax, (left, top), (back, top), seen=joint.width_seen, place=0.93)
    _edge(ax, (back, bottom), (back, top), seen=joint.depth == joint.thickness)
    _break_line(ax, (left, bottom), (left, top), 0.16)
    strokes(ax, [[(face, bottom), (face, top)]], linewidth=HEAVY, zorder=5)
    if joint.layer:
        _layer_in_section(ax, plan, bottom, top)
    if joint.lapped and joint.existing is not None:
        _lapped_bar(ax, plan)
    for height in joint.rows:
        _drilled_bar(ax, plan, height)
    draw_path(ax, joint.one, Frame(plan.x, plan.y, face, back, bottom, top, left), joint.rows)
    _depth_dimensions(ax, plan, top)
    _section_words(ax, plan, bottom, top)


def _drilled_bar(ax: Axes, plan: _Plan, height: float) -> None:
    joint, half, ring = plan.joint, plan.joint.phi * plan.s / 2, plan.joint.d_0 * plan.s / 2
    y = plan.y(height)
    hole = [
        (plan.x(0.0), y - ring),
        (plan.x(joint.end), y - ring),
        (plan.x(joint.tip), y),
        (plan.x(joint.end), y + ring),
        (plan.x(0.0), y + ring),
    ]
    ax.add_artist(Polygon(hole, facecolor=ADHESIVE, edgecolor=INK, linewidth=THIN, zorder=5.5))
    start, end = plan.x(-joint.stub) + 0.005, plan.x(joint.l_v)
    _bar(ax, start, end, y, half, new=True, broken="left")
    _centre(ax, (start - 0.06, y), (plan.x(joint.tip) + 0.12, y), zorder=5.8)
    _centre(ax, (start, y), (end, y), PAPER if half > 0.02 else INK)


def _lapped_bar(ax: Axes, plan: _Plan) -> None:
    joint = plan.joint
    assert joint.existing is not None
    start, end = plan.x(float(joint.case["end_cover"])), plan.x(joint.depth)
    broken = "" if joint.depth == joint.thickness else "right"
    stop = end if broken else end - min(joint.case["end_cover"] or 30.0, 0.1 * joint.depth) * plan.s
    _bar(ax, start, stop, plan.y(joint.lap_axis), joint.existing.diameter * plan.s / 2, new=False, broken=broken)


def _layer_in_section(ax: Axes, plan: _Plan, bottom: float, top: float) -> None:
    """Draw the existing bar that lies across, hidden behind the section's plane; it breaks off at a hole."""
    joint = plan.joint
    assert joint.existing is not None
    start, wide = plan.x(float(joint.case["existing_cover"])), joint.existing.diameter * plan.s
    reach = joint.d_0 * plan.s / 2 + 0.05
    gaps = [(plan.y(height) - reach, plan.y(height) + reach) for height in sorted(joint.rows)]
    feet = [bottom + (0.04 if joint.face_seen else 0.0), *(high for _, high in gaps)]
    heads = [*(low for low, _ in gaps), top - (0.04 if joint.width_seen else 0.0)]
    sides = [
        [(x, foot), (x, head)]
        for foot, head in zip(feet, heads, strict=True)
        if head > foot
        for x in (start, start + wide)
    ]
    strokes(ax, sides, edgecolor=INK, linewidth=THIN, linestyle=_HIDDEN, zorder=3.1)


def _depth_dimensions(ax: Axes, plan: _Plan, top: float) -> None:
    rows, face = _depths(plan.joint), plan.x(0.0)
    lowest = top + 0.13
    highest = lowest + _ROW * (len(rows) - 1)
    strokes(ax, [[(face, top + 0.03), (face, highest + 0.05)]], linewidth=HAIRLINE, zorder=9)
    for number, (start, end, words, colour) in enumerate(rows):
        y, x0, x1 = lowest + _ROW * number, plan.x(start), plan.x(end)
        strokes(ax, [[(x1, top + 0.03), (x1, y + 0.05)]], edgecolor=colour, linewidth=HAIRLINE, zorder=9)
        dimension(ax, (x0, y), (x1, y), colour)
        say(ax, face - 0.09, y, words, ha="right", color=colour)
    if plan.joint.anchor is not None or plan.joint.required > plan.joint.depth:
        return
    # Where the required embedment ends, down to the bar.
    _, end, _, colour = rows[-2]
    down = [(plan.x(end), top + 0.03), (plan.x(end), plan.axis + plan.joint.d_0 * plan.s / 2 + 0.03)]
    strokes(ax, [down], edgecolor=colour, linewidth=THIN, linestyle=(0, (5, 2)), zorder=8)


def _section_words(ax: Axes, plan: _Plan, bottom: float, top: float) -> None:
    joint, display, s = plan.joint, plan.joint.display, plan.s
    ring = joint.d_0 * s / 2
    y = plan.axis
    left, face, back = plan.x(-joint.stub), plan.x(0.0), plan.x(joint.depth)
    # Cover, from the bar's lower side to the nearest face.
    place = plan.x(0.70 * joint.l_v)
    foot = bottom if joint.face_seen else bottom - 0.1
    dimension(ax, (place, y - joint.phi * s / 2), (place, foot))
    words = f"cover {_bare(display.size(float(joint.case['cover'])))}"
    room = y - ring - bottom
    # In a thin cover the words stand under the concrete, beside the line drawn on.
    at = (y - ring + bottom) / 2 if room > 0.15 else bottom - 0.10
    if room <= 0.15:
        strokes(ax, [[(place, bottom), (place, at - 0.04)]], linewidth=HAIRLINE, zorder=10)
    say(ax, place + 0.07, at, words, ha="left", backing=CONCRETE if room > 0.15 else None)
    # What stays behind the hole, or the member's thickness.
    under = bottom - 0.30
    strokes(ax, [[(face, bottom - 0.03), (face, under - 0.05)]], linewidth=HAIRLINE)
    if joint.depth == joint.thickness:
        strokes(ax, [[(back, bottom - 0.03), (back, under - 0.05)]], linewidth=HAIRLINE)
        dimension(ax, (face, under), (back, under))
    else:
        strokes(ax, [[(face, under), (back, under)]], linewidth=HAIRLINE)
        strokes(ax, [[(face - 0.033, under - 0.033), (face + 0.033, under + 0.033)]], linewidth=FIRM)
    words = f"old concrete {_bare(display.size(joint.thickness))}"
    fits = room > 0.15 and long(words) < back - face - 0.1
    say(ax, (face + back) / 2, under + (0.09 if fits else -0.12), words)
    words = "new concrete" if face - left > long("new concrete") + 0.1 else "new"
    say(ax, min((left + face) / 2, face - long(words) / 2 - 0.06), under + 0.09, words, color=QUIET)
    if joint.lapped and joint.existing is not None:
        _gap(ax, plan, plan.y(joint.lap_axis) + joint.existing.diameter * s / 2)


def _gap(ax: Axes, plan: _Plan, upper: float) -> None:
    """Draw the clear distance of the lapped bars; where the text does not fit between them, over the existing one."""
    joint, s = plan.joint, plan.s
    assert joint.existing is not None
    low, high = plan.axis + joint.phi * s / 2, plan.y(joint.lap_axis) - joint.existing.diameter * s / 2
    place, words = plan.x(joint.l_v) + 0.10, f"gap {_bare(joint.display.size(float(joint.case['gap'])))}"
    middle = upper + 0.12
    strokes(ax, [[(place, high), (place, upper + 0.20)]], linewidth=HAIRLINE, zorder=10)
    reach = [(plan.x(joint.l_v) - 0.02, low), (place + 0.05, low)]
    strokes(ax, [reach], linewidth=HAIRLINE, zorder=10)
    dimension(ax, (place, low), (place, high))
    say(ax, place + 0.06, middle, f"{words}; existing bar {joint.existing.text}", ha="left", backing=CONCRETE)


# ---- the drilled face ----------------------------------------------------------------------------


def _drilled_face(ax: Axes, plan: _Plan) -> None:
    joint, s = plan.joint, plan.s
    left, right = plan.u(0.0), plan.u(joint.breadth)
    bottom, top = plan.y(joint.low), plan.y(joint.high)
    concrete(ax, (left, bottom), (right, top))
    _edge(ax, (left, bottom), (right, bottom), seen=joint.face_seen)
    _edge(ax, (left, top), (right, top), seen=joint.width_seen)
    _edge(ax, (left, bottom), (left, top), seen=joint.edge_seen)
    _break_line(ax, (right, bottom), (right, top), 0.16)
    wide = 2 * joint.existing_radius * s
    for place in joint.layer:
        x = plan.u(place) - wide / 2
        strokes(
            ax,
            [[(x, bottom), (x, top)], [(x + wide, bottom), (x + wide, top)]],
            edgecolor=INK,
            linewidth=THIN,
            linestyle=_HIDDEN,
            zorder=3,
        )
    bars = (joint.margins[0], joint.margins[0] + joint.pitch)
    for place in bars:
        for height in joint.rows:
            centre = (plan.u(place), plan.y(height))
            ax.add_artist(
                Circle(centre, joint.d_0 * s / 2, facecolor=ADHESIVE, edgecolor=INK, linewidth=THIN, zorder=5)
            )
            ax.add_artist(
                Circle(centre, joint.phi * s / 2, facecolor=STEEL, edgecolor=INK, linewidth=HAIRLINE, zorder=6)
            )
            reach, (x, y) = joint.d_0 * s / 2 + 0.05, centre
            _centre(ax, (x - reach, y), (x + reach, y), zorder=5.8)
            _centre(ax, (x, y - reach), (x, y + reach), zorder=5.8)
        if joint.lapped and joint.existing is not None:
            centre = (plan.u(place), plan.y(joint.lap_axis))
            ax.add_artist(
                Circle(
                    centre,
                    joint.existing_radius * s,
                    facecolor="none",
                    edgecolor=INK,
                    linewidth=THIN,
                    linestyle=(0, (2.5, 1.5)),
                    zorder=6,
                )
            )
    _face_words(ax, plan, bars, bottom, top)


def _face_words(ax: Axes, plan: _Plan, bars: tuple[float, float], bottom: float, top: float) -> None:
    joint, display, s = plan.joint, plan.joint.display, plan.s
    first, second = (plan.u(place) for place in bars)
    under, ring = bottom - 0.30, joint.d_0 * s / 2
    for x in (first, second):
        _centre(ax, (x, plan.axis - ring - 0.05), (x, under - 0.05), zorder=4)
    dimension(ax, (first, under), (second, under))
    words = f"spacing {_bare(display.size(float(joint.case['spacing'])))}"
    fits = long(words) < second - first - 0.08
    at = ((first + second) / 2, under + 0.09) if fits else (second + 0.08, under)
    say(ax, *at, words, ha="center" if fits else "left")
    if joint.case["edge"] is not None:
        left, lower = plan.u(0.0), under - _EDGE_ROW
        reach = [[(left, bottom - 0.03), (left, lower - 0.05)], [(first, under - 0.05), (first, lower - 0.05)]]
        strokes(ax, reach, linewidth=HAIRLINE)
        dimension(ax, (left, lower), (first, lower))
        say(ax, first + 0.08, lower, f"edge {_bare(display.size(float(joint.case['edge'])))}", ha="left")
    right = plan.u(joint.breadth)
    if joint.width_seen:
        strokes(ax, [[(right + 0.03, y), (right + 0.20, y)] for y in (bottom, top)], linewidth=HAIRLINE)
        dimension(ax, (right + 0.15, bottom), (right + 0.15, top))
        words = f"joint {_bare(display.size(float(joint.case['joint_width'])))}"
        say(ax, right + 0.26, (bottom + top) / 2, words, rotation=90)
    if joint.layer and joint.existing is not None:
        every = _bare(display.size(float(joint.case["existing_spacing"])))
        words = f"existing {joint.existing.text}, every {every}"
        middle = min(plan.u(joint.breadth / 2), WIDTH - 0.04 - long(words) / 2)
        say(ax, middle, top + 0.20, words)
        near = plan.u(min(joint.layer, key=lambda p: abs(plan.u(p) - middle)))
        strokes(ax, [[(near, top + 0.11), (near, top - 0.03)]], linewidth=HAIRLINE, zorder=11)


# ---- the whole -----------------------------------------------------------------------------------


def _scale_bar(ax: Axes, plan: _Plan) -> float:
    """Draw a scale bar in the foot; returns where it ends."""
    display, s = plan.joint.display, plan.s
    lengths = display.usual((10, 20, 50, 100, 200, 500, 1000, 2000), (1, 2, 4, 8, 12, 24, 48))
    choices = [convert(float(n), display.length_unit, "mm") for n in lengths]
    length = max((c for c in choices if c * s <= 1.0), default=choices[0])
    x, y, high = 0.05, _LINE * len(plan.foot) - 0.06, 0.055
    for part, colour in ((0, INK), (1, PAPER)):
        ax.add_artist(
            Rectangle(
                (x + part * length * s / 2, y - high / 2),
                length * s / 2,
                high,
                facecolor=colour,
                edgecolor=INK,
                linewidth=HAIRLINE,
            )
        )
    say(ax, x + length * s + 0.07, y, display.size(length), ha="left")
    return x + length * s + 0.07 + long(display.size(length)) + 0.12


def _foot_text(joint: _Joint) -> str:
    points = {"down": "the hole points down", "horizontal": "the hole is horizontal"}.get(
        joint.case.direction, "the hole points overhead"
    )
    found = [f"Lengths [{joint.display.length_unit}]; drawn to scale{joint.broken_off}; {points}, drawn lying."]
    if joint.anchor is not None:
        found.append("The cone is the code's, 1.5 effective depths to each side.")
    if joint.layer:
        found.append("Existing bars (dashed) pass the holes; where they lie along the row is not known.")
    return " ".join(found)


def _wraps(title: str, words: str) -> bool:
    """Whether the words behind a title take a line of their own; letters on a screen are a little wider."""
    return 1.04 * (long(title, TITLE, "bold") + long(words)) + 0.3 > WIDTH


def _draw(ax: Axes, plan: _Plan, title: str, top: float) -> None:
    _section(ax, plan)
    _drilled_face(ax, plan)
    joint = plan.joint
    words = f"section along the bar {joint.case.bar.text}, hole {_bare(joint.display.size(joint.d_0))}"
    say(ax, max(plan.x(-joint.stub), 0.05), plan.views, words, fontweight="bold", ha="left")
    # Under the other view, or as near to it as the first one's name lets it.
    start = max(plan.x(-joint.stub), 0.05) + long(words, weight="bold") + 0.15
    middle = (plan.u(0.0) + plan.u(joint.breadth)) / 2
    half = long("drilled face", weight="bold") / 2
    say(ax, max(start + half, min(middle, WIDTH - 0.05 - half)), plan.views, "drilled face", fontweight="bold")
    after = _scale_bar(ax, plan)
    for number, line in enumerate(reversed(plan.foot)):
        say(ax, after, _LINE * number + 0.08, line, ha="left", color=QUIET)
    words, y = path_words(joint.one), top - 0.10
    if title:
        say(ax, 0.05, y, title, ha="left", fontsize=TITLE, fontweight="bold")
        after = 0.05 + long(title, TITLE, "bold") + 0.2
        after, y = (0.05, y - 0.17) if _wraps(title, words) else (after, y)
    say(ax, after if title else 0.05, y, words, ha="left", color=path_ink(joint.one))


def _numbers(joint: _Joint) -> Iterator[tuple[str, str]]:
    case, display = joint.case, joint.display
    yield "bar", case.bar.text
    yield "hole", display.size(joint.d_0)
    yield "embedment of the schedule", display.size(joint.l_v)
    if joint.anchor is None:
        yield "required embedment", display.length(joint.required)
    else:
        yield "embedment that counts", display.length(joint.anchor.depth)
        yield "bars that pull together", str(joint.anchor.lay.bars)
    yield "load path", path_words(joint.one)
    yield "hole to its tip", display.length(joint.tip)
    yield "thickness of the old member", display.size(joint.thickness)
    yield "cover", display.size(float(case["cover"]))
    yield "spacing", display.size(float(case["spacing"]))
    existing = case["existing_bar"]
    yield "existing bar", find_bar(existing).text if existing else "not stated"
    for name, words in (
        ("edge", "bar's axis to the edge"), ("row_spacing", "spacing of the rows"),
        ("existing_cover", "cover of the existing bars"), ("existing_spacing", "spacing of the existing bars"),
        ("end_cover", "end cover of the existing bar"), ("gap", "gap between the lapped bars"),
        ("joint_width", "width of the joint"),
    ):  # fmt: skip
        if case[name] is not None:
            yield words, display.size(float(case[name]))


def joint_picture(one: Drawn, *, title: str = "", figure: Figure | None = None) -> Picture:
    """Draw the joint of one bar group to scale: section along the bar, and the drilled face.

    Parameters
    ----------
    one
        The designed bar group.
    title
        Written above the drawing; none when it is empty.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
        Its numbers are those that the drawing shows.
    """
    joint = _Joint(one)
    case, display = one.case, one.case.display
    if joint.anchor is None:
        verdict = (
            f"{'long enough' if joint.long_enough else 'too short'} for the required {display.length(joint.required)}"
        )
    else:
        verdict = "held by the concrete alone"
    alt = (
        f"Bar {case.bar.text} of {case.mark} sits {display.size(joint.l_v)} deep in a hole of"
        f" {display.size(joint.d_0)}, {verdict}, with {display.size(float(case['cover']))} of cover and"
        f" {display.size(float(case['spacing']))} from bar to bar; load path: {path_words(one)}."
    )
    plan = _Plan(joint)
    top = plan.height + _TOP + (0.17 if title and _wraps(title, path_words(one)) else 0.0)
    with paper(figure, top) as target:
        _draw(sheet(target), plan, title, top)
    governs = path_words(one)
    caption = f"{case.mark}: {governs}. The joint, drawn to scale{joint.broken_off}."
    return Picture(svg_of(target, alt), alt, caption, tuple(_numbers(joint)))
