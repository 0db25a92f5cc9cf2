"""Pictures of overfill and waste.

The budget of the scatter, short holes against waste, series, ways of dosing, sensitivities.

Drawn on paper measured in inches like the fill picture. Whatever is told by ink is told by shape, place or words as
well.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from calc.base.display import Display, plain_text, round_text
from calc.base.units import convert
from calc.scatter.sensitivity import Swing
from calc.scatter.shortfall import SeriesCount, SeriesRisk
from calc.scatter.ways import WayResult
from calc.show.drawing import (
    ALARM,
    FIRM,
    HAIRLINE,
    HEAVY,
    INK,
    PAPER,
    QUIET,
    SHADE,
    THIN,
    Picture,
    axes,
    moved_apart,
    name_rows,
    note,
    note_heights,
    paper,
    say,
    sheet,
    svg_of,
)  # fmt: skip
from calc.work.overfill.group import LEAST_SHORT, RULES, SWING_SHARE, DoseOutcome, GroupScatter, Settled
from calc.work.overfill.setting import LENGTHS, WORDS

_MOST = 1.0  # share of short holes up to which the curve is drawn
_TICKS = (1e-4, 1e-3, 0.01, 0.1, 1.0)
LETTERS = dict(zip(RULES, "ABCDEF", strict=True))
_SHAPES = "os^DvP*XphH8<>d"  # of the ways of dosing
_COLUMNS, _PANELS, _PANEL, _KEY = 3, 9, 1.32, 0.165  # small pictures: in a row, in all; inches of a row, of a line
_OF_VARIANCE, _ROOT = " of the variance", ", root of the sum of squares"
_ROUNDED = ("▲", "the job's rounded dose")


def short_text(chance: float) -> str:
    """Say how many holes in a hundred stay short."""
    if chance < 5e-5:
        return "fewer than 0.005"
    return plain_text(100 * chance, 2)


def share_text(share: float) -> str:
    """Write an overfill in per cent."""
    return f"{100 * share:.1f} %"


def input_text(name: str, value: float, display: Display) -> str:
    """Write the value of one of the six inputs: a length, or a share in per cent."""
    if name in LENGTHS:
        return display.fine_length(value)
    return f"{100 * value:+.2f} %".replace("-", "−")


def _placed(figure: Figure, left: float, bottom: float, wide: float, high: float) -> Axes:
    """Make axes at a place in inches."""
    width, height = figure.get_size_inches()
    return axes(figure, left, width - left - wide, bottom, height - bottom - high)


def _rows(ax: Axes, names: Sequence[str]) -> None:
    """Name rows that run downwards from 0."""
    ax.set_ylim(len(names) - 0.45, -0.6)
    name_rows(ax, range(len(names)), names)


# ---- the budget ----------------------------------------------------------------------------------


def budget_picture(group: GroupScatter, display: Display, *, figure: Figure | None = None) -> Picture:
    """Draw what each input brings to the scatter of the dose.

    Parameters
    ----------
    group
        A studied bar group.
    display
        How quantities are shown.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    parts = sorted((part for part in group.budget.parts if part.u > 0), key=lambda part: -part.contribution)
    rows = [
        (f"{WORDS[p.name]}{', common to a series' if p.name in group.setting.common else ''}", p.contribution, p.share)
        for p in parts
    ]
    texts = [f"{display.volume(value)}, {100 * share:.0f} %{_OF_VARIANCE}" for _, value, share in rows]
    rows.append(("all together", group.budget.u, 1.0))
    texts.append(f"{display.volume(group.budget.u)}{_ROOT}")
    if parts:
        alt = (
            f"Of the inputs that scatter, {WORDS[parts[0].name]} brings most to the scatter of the dose of"
            f" {group.mark}: {texts[0]}."
        )
    else:
        alt = f"Nothing scatters in {group.mark}, so its dose does not scatter either."
    with paper(figure, 0.62 + 0.27 * len(rows)) as target:
        ax = _placed(target, 2.5, 0.48, 2.55, 0.27 * len(rows))
        _rows(ax, [name for name, _, _ in rows])
        unit = display.volume_unit
        for i, ((name, value, _), text) in enumerate(zip(rows, texts, strict=True)):
            last = i == len(rows) - 1
            own = SHADE if "common" not in name else QUIET
            ax.barh(
                i,
                convert(value, "mm³", unit),
                height=0.62,
                color=INK if last else own,
                edgecolor=INK,
                linewidth=HAIRLINE,
            )
            said = text.removesuffix(_OF_VARIANCE).removesuffix(_ROOT)
            note(ax, said, (convert(value, "mm³", unit), i), 4.0, fontweight="bold" if last else "normal")
        ax.set(
            xlim=(0, convert(group.budget.u, "mm³", unit) * 1.02 or 1.0),
            xlabel=f"standard deviation of the needed dose [{unit}]",
        )
    caption = f"{alt} Darker bars are common to a series; the shares are of the variance."
    return Picture(
        svg_of(target, alt), alt, caption, tuple((name, text) for (name, _, _), text in zip(rows, texts, strict=True))
    )


# ---- short holes against waste -------------------------------------------------------------------


def _called(outcome: DoseOutcome) -> tuple[str, str]:
    """Return the letter and the name of an overfill on the curve."""
    return (LETTERS[outcome.rule], outcome.name) if isinstance(outcome, Settled) else _ROUNDED


def _chosen(outcome: DoseOutcome) -> bool:
    return isinstance(outcome, Settled) and outcome.chosen


@dataclass(frozen=True)
class CurveDrawing:
    """The curve as a picture, and where on it an overfill stands: a marker is put in without drawing anew."""

    picture: Picture
    low: float
    high: float
    left: float
    right: float
    panels: tuple[
        tuple[float, float, float, float], ...
    ]  # of short holes and of waste: value and place of the lower and upper end

    def marked(self, share: float, short: float, waste: float) -> str:
        """Return the drawing with a marker at an overfill [-].

        With its share of short holes [-] and its waste [unit of the picture].
        """
        x = self.left + (self.right - self.left) * min(max((share - self.low) / (self.high - self.low), 0.0), 1.0)
        places = []
        for (bottom, y_0, top, y_1), value in zip(
            self.panels, (float(np.log10(max(short, LEAST_SHORT))), waste), strict=True
        ):
            places.append(y_0 + (y_1 - y_0) * min(max((value - bottom) / (top - bottom), 0.0), 1.0))
        line = (
            f'<line x1="{x:.2f}" x2="{x:.2f}" y1="{self.panels[0][3]:.2f}" y2="{self.panels[1][1]:.2f}"'
            f' stroke="{INK}" stroke-width="1.1"/>'
        )
        dots = "".join(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="4" fill="{INK}" stroke="{PAPER}" stroke-width="1.2"/>'
            for y in places
        )
        return (
            self.picture.svg.removesuffix("\n").removesuffix("</svg>") + f'<g class="dp-marker">{line}{dots}</g></svg>'
        )


def curve_drawing(group: GroupScatter, display: Display, *, figure: Figure | None = None) -> CurveDrawing:
    """Draw short holes and waste against the overfill, to be marked afterwards.

    Parameters
    ----------
    group
        A studied bar group.
    display
        How quantities are shown.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    CurveDrawing
    """
    marks, rounded, unit = group.settled, group.rounded, display.volume_unit
    curve = group.whole_curve
    high = float(curve.overfill[-1])
    alt = _curve_alt(group, display, marks, rounded)
    with paper(figure, 2.95) as target:
        upper, lower = _placed(target, 0.55, 1.62, 3.30, 1.05), _placed(target, 0.55, 0.42, 3.30, 0.95)
        _draw_short(upper, curve.overfill, curve.short, group.stated)
        # convert takes arrays as well
        waste = np.asarray(convert(curve.overflow, "mm³", unit))  # type: ignore[arg-type]
        lower.plot(100 * curve.overfill, waste, color=INK, linewidth=HEAVY, zorder=4)
        lower.set(
            ylim=(0, float(waste[-1]) * 1.06 or 1.0),
            ylabel=f"waste [{unit}]",
            xlabel="overfill [%], dose not rounded",
        )
        for ax in (upper, lower):
            ax.set_xlim(0, 100 * high)
        upper.tick_params(labelbottom=False)
        _draw_marks(upper, lower, marks, rounded, unit)
        _key(target, marks, rounded, display, group.stated)
        picture_svg = svg_of(target, alt)
        drawing = _places(target, upper, lower, high)
    caption = f"{alt} Against the overfill; the letters stand for the ways to choose it."
    numbers = tuple((" ".join(_called(m)), _mark_text(m, display)) for m in (*marks, rounded))
    return CurveDrawing(Picture(picture_svg, alt, caption, numbers), 0.0, high, *drawing)


def _curve_alt(group: GroupScatter, display: Display, marks: Sequence[Settled], rounded: DoseOutcome) -> str:
    stated = next((m for m in marks if m.rule == "probability"), None)
    asked = (
        f"{share_text(stated.share)} overfill keeps at most {100 * group.stated:.4g} holes in a hundred short; "
        if stated
        else ""
    )
    return (
        f"For {group.mark}, {asked}the rounded dose comes to {share_text(rounded.share)}, "
        f"with {short_text(rounded.short)} short in a hundred and {display.volume(rounded.waste)} of waste a hole."
    )


def _draw_short(ax: Axes, overfill: Any, short: Any, stated: float) -> None:
    ax.set_yscale("log")
    ax.set_ylim(LEAST_SHORT, _MOST * 1.3)
    ax.set_yticks(_TICKS, [f"{100 * t:g}" for t in _TICKS])
    ax.set_yticks([], minor=True)
    ax.axhline(stated, color=QUIET, linewidth=THIN, linestyle=(0, (5, 3)), zorder=2)
    seen = short > 0
    ax.plot(100 * overfill[seen], short[seen], color=INK, linewidth=HEAVY, zorder=4)
    ax.set_ylabel("short in 100 holes")


def _draw_marks(upper: Axes, lower: Axes, marks: Sequence[Settled], rounded: DoseOutcome, unit: str) -> None:
    """Draw each marked overfill through both axes; its letter stands above, moved aside where letters would touch."""
    low, high = upper.get_xlim()
    spread = moved_apart([100 * m.share for m in marks], (high - low) * 0.036)
    for m, at in zip(marks, spread, strict=True):
        colour, wide = (INK, 1.3) if m.chosen else (QUIET, 0.7)
        for ax, y in ((upper, m.short), (lower, convert(m.waste, "mm³", unit))):
            ax.axvline(100 * m.share, color=colour, linewidth=wide, zorder=2)
            if ax is upper and y < LEAST_SHORT:  # below the paper
                continue
            ax.plot(
                [100 * m.share],
                [y],
                marker="o",
                markersize=5.0,
                color=colour,
                markeredgecolor=PAPER,
                markeredgewidth=THIN,
                zorder=5,
                clip_on=False,
            )
        upper.annotate(
            LETTERS[m.rule],
            xy=(100 * m.share, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(at, 1.11),
            textcoords=("data", "axes fraction"),
            ha="center",
            va="center",
            color=colour,
            fontweight="bold" if m.chosen else "normal",
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": wide, "shrinkA": 0.5, "shrinkB": 0.0},
        )
    if 100 * rounded.share <= high:
        for ax, y in ((upper, rounded.short), (lower, convert(rounded.waste, "mm³", unit))):
            if ax is upper and y < LEAST_SHORT:
                continue
            ax.plot(
                [100 * rounded.share],
                [y],
                marker="^",
                markersize=7.5,
                color=INK,
                markeredgecolor=PAPER,
                markeredgewidth=THIN,
                zorder=6,
                clip_on=False,
            )


def _mark_text(m: DoseOutcome, display: Display) -> str:
    return f"{share_text(m.share)}: {short_text(m.short)} short in 100, {display.volume(m.waste)} waste"


def _key(figure: Figure, marks: Sequence[Settled], rounded: DoseOutcome, display: Display, stated: float) -> None:
    """Write what the letters stand for, to the right of the curves."""
    width, height = figure.get_size_inches()
    y = height - 0.12
    head = "overfill: short in 100, waste a hole; ◂ chosen"
    figure.text(4.02 / width, y / height, head, color=QUIET, va="center")
    for m in (*marks, rounded):
        y -= 0.37
        letter, name = _called(m)
        chosen = _chosen(m)
        weight = "bold" if chosen else "normal"
        look: dict[str, Any] = {"color": INK, "fontweight": weight, "va": "center"}
        figure.text(4.02 / width, (y + 0.14) / height, letter, **look)
        figure.text(4.20 / width, (y + 0.14) / height, name + (" ◂" if chosen else ""), **look)
        said = f"{share_text(m.share)}: {short_text(m.short)}, {display.volume(m.waste)}"
        figure.text(4.20 / width, y / height, said, color=INK, va="center")
    words = f"dashed: {100 * stated:.4g} in 100 short, as accepted"
    figure.text(4.02 / width, (y - 0.22) / height, words, color=QUIET, va="center")


def _places(
    figure: Figure, upper: Axes, lower: Axes, high: float
) -> tuple[float, float, tuple[tuple[float, float, float, float], ...]]:
    """Return where the axes stand on the drawing, in points from its upper left corner."""
    wide, tall = (72.0 * float(inches) for inches in figure.get_size_inches())
    panels = []
    for ax in (upper, lower):
        box, (bottom, top) = ax.get_position(), ax.get_ylim()
        ends = (float(np.log10(bottom)), float(np.log10(top))) if ax is upper else (float(bottom), float(top))
        panels.append((ends[0], tall * (1 - box.y0), ends[1], tall * (1 - box.y1)))
    box = upper.get_position()
    return wide * box.x0, wide * box.x1, tuple(panels)


# ---- a whole series ------------------------------------------------------------------------------


def _count_name(one: SeriesCount) -> str:
    return "none" if one.count == 0 else f"{one.count} or more" if one.or_more else str(one.count)


def series_picture(group: GroupScatter, risk: SeriesRisk, *, figure: Figure | None = None) -> Picture:
    """Draw how many holes of one series are short, beside what it would be if nothing were common to them.

    Parameters
    ----------
    group
        A studied bar group.
    risk
        Its risk of short series.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    rows = [(_count_name(one), one.together, one.alone) for one in risk.counts(group.probability)]
    alt = (
        f"In {_per_cent(rows[0][1])} of the series of {risk.holes} holes of {group.mark} no hole is short, and in"
        f" {_per_cent(rows[-1][1])} {rows[-1][0]} are; if nothing were common to a series it would be"
        f" {_per_cent(rows[0][2])} and {_per_cent(rows[-1][2])}."
    )
    with paper(figure, 0.78 + 0.36 * len(rows)) as target:
        ax = _placed(target, 0.95, 0.42, 4.9, 0.36 * len(rows))
        for i, (_, together, alone) in enumerate(rows):
            for dy, value, colour in ((-0.2, together, INK), (0.2, alone, SHADE)):
                ax.barh(i + dy, 100 * value, height=0.38, color=colour, edgecolor=INK, linewidth=HAIRLINE)
                if value >= 0.0005:
                    note(ax, _per_cent(value), (100 * value, i + dy), 3.0)
        _rows(ax, [name for name, _, _ in rows])
        ax.set_xlim(0, 100 * max(max(a, b) for _, a, b in rows))
        ax.set_xlabel("share of the series [%]")
        high = 0.78 + 0.36 * len(rows)
        key = sheet(target)
        say(key, 0.06, high - 0.12, f"short of {risk.holes}", ha="left")
        for x, colour, words in ((0.95, INK, _common_words(group)), (4.55, SHADE, "if every hole were on its own")):
            look: dict[str, Any] = {"marker": "s", "markersize": 7, "color": colour, "markeredgecolor": INK}
            key.plot([x + 0.05], [high - 0.12], markeredgewidth=HAIRLINE, **look)
            say(key, x + 0.15, high - 0.12, words, ha="left")
    caption = f"{alt} What is common to a series makes good series better and bad ones worse."
    numbers = tuple((name, f"{_per_cent(a)}; {_per_cent(b)} if every hole were on its own") for name, a, b in rows)
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _common_words(group: GroupScatter) -> str:
    return f"as it is: {' and '.join(WORDS[name] for name in group.setting.common)} common to the series"


def _per_cent(share: float) -> str:
    return "<0.1 %" if 0 < share < 0.0005 else f"{100 * share:.1f} %" if share < 0.0995 else f"{100 * share:.0f} %"


# ---- ways of dosing ------------------------------------------------------------------------------


def ways_picture(
    compared: Mapping[str, Sequence[WayResult]], display: Display, *, figure: Figure | None = None
) -> Picture:
    """Draw short holes against waste for every way of dosing: a small picture for each bar group, all to one scale.

    Parameters
    ----------
    compared
        What was compared, by the bar group's mark; the same ways in each.
    display
        How quantities are shown.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    shown = dict(itertools.islice(compared.items(), _PANELS))
    named = next(iter(shown.values()))
    alt = _ways_alt(compared)
    rows, keys = math.ceil(len(shown) / _COLUMNS), math.ceil(len(named) / 2)
    foot = 0.52 + _KEY * keys
    with paper(figure, foot + _PANEL * rows) as target:
        most_short = max(way.short_per_100 for ways in shown.values() for way in ways) or 1.0
        most_waste = max(way.waste_share for ways in shown.values() for way in ways) or 0.01
        ticks = _root_ticks(1.08 * most_short)
        for number, (mark, ways) in enumerate(shown.items()):
            row, column = divmod(number, _COLUMNS)
            ax = _placed(target, 0.55 + 2.1 * column, foot + _PANEL * (rows - 1 - row), 1.86, _PANEL - 0.32)
            _way_marks(ax, ways)
            ax.set_yscale("function", functions=(_root, np.square))  # few short holes matter as much as many
            ax.set(xlim=(0, 108 * most_waste), ylim=(0, 1.08 * most_short))
            ax.set_yticks(ticks, [f"{tick:g}" for tick in ticks])
            note(ax, mark, (0.0, 1.0), 3.0, 4.0, xycoords="axes fraction", fontweight="bold")
            ax.tick_params(labelleft=not column, labelbottom=number + _COLUMNS >= len(shown))
            ax.xaxis.set_major_locator(MaxNLocator(4))
        _ways_key(target, named, foot)
    caption = f"{alt} Every way doses the same simulated holes, with the assumptions of the job file."
    if len(shown) < len(compared):
        caption += f" The first {len(shown)} of {len(compared)} groups are drawn; the table has them all."
    numbers = tuple(
        (f"{mark}: {way.name}", f"{_hundred(way)} short in 100; {100 * way.waste_share:.1f} % waste")
        for mark, ways in compared.items()
        for way in ways
    )
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _ways_alt(compared: Mapping[str, Sequence[WayResult]]) -> str:
    groups = list(compared.values())
    names = [way.name for way in groups[0]]
    short = [sum(ways[i].short_per_100 for ways in groups) / len(groups) for i in range(len(names))]
    worst, best = max(range(len(names)), key=short.__getitem__), min(range(len(names)), key=short.__getitem__)
    of = next(iter(compared)) if len(groups) == 1 else f"{len(groups)} groups"
    return (
        f"Over the holes of {of}, '{names[worst]}' leaves most short, {plain_text(short[worst], 2)} in a hundred, and"
        f" '{names[best]}' fewest, {plain_text(short[best], 2)}; further left is less waste."
    )


def _root(values: Any) -> Any:
    return np.sqrt(np.maximum(values, 0.0))


def _root_ticks(top: float) -> list[float]:
    """Round numbers up to a top, from 0, with room for a line of letters between them on a scale of roots."""
    ticks = [0.0]
    for tick in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0):
        if tick <= top and _root(tick) - _root(ticks[-1]) > 0.18 * _root(top):
            ticks.append(tick)
    return ticks


def _face(way: WayResult) -> str:
    return INK if way.dose is not None else PAPER


def _way_marks(ax: Axes, ways: Sequence[WayResult]) -> None:
    """Draw one sign for each way; a way that sets a dose is filled, one by eye is not."""
    for way, shape in zip(ways, _SHAPES, strict=False):
        at = ([100 * way.waste_share], [way.short_per_100])
        ax.plot(*at, shape, markersize=6.5, color=INK, markerfacecolor=_face(way), clip_on=False, zorder=4)


def _ways_key(figure: Figure, ways: Sequence[WayResult], foot: float) -> None:
    """Name the axes once, under all panels, and the signs of the ways."""
    ax = sheet(figure)
    high = float(figure.get_size_inches()[1])
    say(ax, 0.55 + 3.03, foot - 0.32, "waste [% of the adhesive used]")
    say(ax, 0.10, (foot + high - 0.32) / 2, "short in 100 holes", rotation=90)
    for number, (way, shape) in enumerate(zip(ways, _SHAPES, strict=False)):
        column, row = divmod(number, math.ceil(len(ways) / 2))
        x, y = 0.62 + 3.15 * column, foot - 0.56 - _KEY * row
        ax.plot([x], [y], shape, markersize=6.5, color=INK, markerfacecolor=_face(way))
        say(ax, x + 0.13, y, way.name, ha="left")


def _hundred(way: WayResult) -> str:
    return "none" if way.short_per_100 == 0 else plain_text(way.short_per_100, 2)


# ---- what dose and waste react to ----------------------------------------------------------------


def tornado_picture(group: GroupScatter, display: Display, *, figure: Figure | None = None) -> Picture:
    """Draw how far each input alone moves the needed dose and the waste.

    Parameters
    ----------
    group
        A studied bar group; something scatters in it.
    display
        How quantities are shown.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    dose, waste = group.swings
    names = [swing.name for swing in dose]
    widest = dose[0]
    ends = [f"{display.volume(value)}" for value in sorted((widest.at_low, widest.at_high))]
    alt = (
        f"The dose that a hole of {group.mark} needs reacts most to {WORDS[widest.name]}, which alone moves it from"
        f" {ends[0]} to {ends[1]}."
    )
    high = 0.34 * len(names) + 0.1
    with paper(figure, 0.58 + high) as target:
        for left, swings, what, told in (
            (1.42, dose, "dose that a hole needs", True),
            (4.12, waste, "waste at the rounded dose", False),
        ):
            ax = _placed(target, left, 0.42, 2.34, high)
            _rows(ax, [WORDS[name].replace(" of the ", "\nof the ") if told else "" for name in names])
            _draw_swings(ax, {swing.name: swing for swing in swings}, names, display, told)
            ax.set_xlabel(f"{what} [{display.volume_unit}]")
    caption = (
        f"{alt} Each input over the middle {100 * SWING_SHARE:g} % of its values, the others at their means; the pale"
        " half is the input's low end."
    )
    numbers = tuple(
        (
            WORDS[s.name],
            (
                f"{input_text(s.name, s.low, display)} to {input_text(s.name, s.high, display)}:"
                f" {display.volume(s.at_low)} to {display.volume(s.at_high)}"
            ),
        )
        for s in dose
    )
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _draw_swings(ax: Axes, swings: Mapping[str, Swing], names: Sequence[str], display: Display, told: bool) -> None:
    """Draw one bar for each input about the result at the means.

    ``told`` names the ends of the inputs, else the results there.
    """
    unit = display.volume_unit

    def volume(value: float) -> float:
        return float(convert(value, "mm³", unit))

    values = [volume(v) for s in swings.values() for v in (s.at_low, s.at_high, s.middle)]
    least, most = min(values), max(values)
    room = 0.66 * (most - least) or 1.0  # for the words at the ends
    ax.set_xlim(least - room, most + room)
    middle = volume(next(iter(swings.values())).middle)
    ax.axvline(middle, color=INK, linewidth=THIN, zorder=3)
    for i, name in enumerate(names):
        if name not in swings:
            continue
        swing = swings[name]
        for end, value, colour in (
            (swing.low, volume(swing.at_low), SHADE),
            (swing.high, volume(swing.at_high), QUIET),
        ):
            ax.barh(
                i, value - middle, left=middle, height=0.58, color=colour, edgecolor=INK, linewidth=HAIRLINE, zorder=2
            )
            right = value > middle or (value == middle and end == swing.high)
            note(
                ax,
                input_text(name, end, display) if told else round_text(value, 3),
                (value, i),
                3.0 if right else -3.0,
            )


def lines_picture(group: GroupScatter, display: Display, *, figure: Figure | None = None) -> Picture:
    """Draw waste against the hole's diameter and the embedment.

    For a dose that is set once and for one that follows the hole.

    Parameters
    ----------
    group
        A studied bar group.
    display
        How quantities are shown.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    unit, length = display.volume_unit, display.length_unit
    nominal, (fixed, follows) = group.scatter.nominal, group.lines
    full = [line.short_from for line in (fixed.against_d_0, fixed.against_l_v)]
    alt = _lines_alt(group, display, full)
    with paper(figure, 2.4) as target:
        axes = (_placed(target, 0.55, 0.42, 2.05, 1.72), _placed(target, 3.02, 0.42, 2.05, 1.72))
        pairs = (
            (fixed.against_d_0, follows.against_d_0, nominal.d_0, "hole diameter"),
            (fixed.against_l_v, follows.against_l_v, nominal.l_v, "embedment"),
        )
        top = (
            max(
                float(convert(v.max(), "mm³", unit))
                for one, two, _, _ in pairs
                for v in (one.waste, one.missing, two.waste)
            )
            * 1.08
            or 1.0
        )
        for ax, (one, two, drawn, name) in zip(axes, pairs, strict=True):
            x = np.array([convert(float(v), "mm", length) for v in one.x])
            styles: tuple[dict[str, Any], ...] = (
                {"color": INK, "linewidth": HEAVY},
                {"color": ALARM, "linewidth": HEAVY, "linestyle": (0, (5, 2))},
                {"color": INK, "linewidth": FIRM, "linestyle": (0, (1, 1.5))},
            )
            for values, style in zip((one.waste, one.missing, two.waste), styles, strict=True):
                ax.plot(x, [convert(float(v), "mm³", unit) for v in values], **style)
            ax.axvline(convert(drawn, "mm", length), color=QUIET, linewidth=THIN, zorder=1)
            note(
                ax,
                f"as drawn: {display.size(drawn)}",
                (convert(drawn, "mm", length), 1.0),
                dy=3.0,
                xycoords=("data", "axes fraction"),
            )
            ax.set(xlim=(float(x[0]), float(x[-1])), ylim=(0, top), xlabel=f"{name} [{length}]")
        axes[0].set_ylabel(f"volume a hole [{unit}]")
        _line_labels(axes[1], pairs[1][0], pairs[1][1], unit, top)
    caption = f"{alt} Waste and missing adhesive of a hole against its diameter and its embedment."
    return Picture(svg_of(target, alt), alt, caption, _line_numbers(pairs, display))


def _line_labels(ax: Axes, one: Any, two: Any, unit: str, top: float) -> None:
    words = ("waste, dose set once", "missing, dose set once", "waste, dose follows\nthe drawing")
    ends = [float(convert(float(v[-1]), "mm³", unit)) for v in (one.waste, one.missing, two.waste)]
    note_heights(ax, list(zip(ends, words, (INK, ALARM, INK), strict=True)), least=0.03 * top)


def _lines_alt(group: GroupScatter, display: Display, full: Sequence[float | None]) -> str:
    dose = display.volume(group.dose)
    names = ("a hole diameter", "an embedment")
    told = [
        f"from {name} of about {display.size(round(at, 2))}"
        for name, at in zip(names, full, strict=True)
        if at is not None
    ]
    if not told:
        return (
            f"The rounded dose of {group.mark}, {dose}, stays enough over all diameters and embedments shown, and the"
            " waste falls as they grow."
        )
    return f"The rounded dose of {group.mark}, {dose}, turns from waste to shortage {' or '.join(told)} on."


def _line_numbers(pairs: Sequence[tuple[Any, Any, float, str]], display: Display) -> tuple[tuple[str, str], ...]:
    numbers = []
    for one, two, _, name in pairs:
        for i in np.linspace(0, len(one.x) - 1, 5).astype(int):
            texts = [display.volume(float(v[i])) for v in (one.waste, one.missing, two.waste)]
            numbers.append(
                (
                    f"{name} {display.size(float(one.x[i]))}",
                    f"waste {texts[0]}, missing {texts[1]}; dose follows: waste {texts[2]}",
                )
            )
    return tuple(numbers)
