"""Pictures of measured holes.

Run order with limits, normal plot, what the holes ask for, and what more holes would be worth.

Drawn on paper measured in inches like the fill picture. Marks differ by shape as well as by ink: a dot is a hole, a
diamond a hole that stands out, a cross a hole that is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from calc.base.display import round_text
from calc.base.errors import NotAccepted
from calc.evidence.limits import ConfidenceRow, ConfidenceTable
from calc.evidence.normality import SHARE_SCORES, NormalPlot
from calc.show.drawing import (
    ALARM,
    BOLD,
    FIRM,
    HAIR,
    HEAVY,
    INK,
    PAPER,
    QUIET,
    SHADE,
    THIN,
    Picture,
    axes,
    name_rows,
    note,
    note_heights,
    paper,
    svg_of,
)
from calc.work.evidence import Study, overfill_text, percent

_DOT: dict[str, Any] = {
    "marker": "o",
    "markersize": 5.0,
    "color": INK,
    "markeredgecolor": PAPER,
    "markeredgewidth": THIN,
    "linestyle": "none",
}
_DIAMOND: dict[str, Any] = {
    "marker": "D",
    "markersize": 6.2,
    "color": INK,
    "markeredgecolor": PAPER,
    "markeredgewidth": THIN,
    "linestyle": "none",
}
_CROSS: dict[str, Any] = {
    "marker": "x",
    "markersize": 6.0,
    "color": QUIET,
    "markeredgewidth": FIRM,
    "linestyle": "none",
}
_ROWS = 7  # names of holes that a picture can carry before it becomes a list


def _holes(names: Sequence[str]) -> str:
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f"hole{'s' if len(names) > 1 else ''} {listed}"


def _few(names: Sequence[str]) -> str:
    return _holes(names) if len(names) <= _ROWS else f"{len(names)} holes"


# ---- run order -----------------------------------------------------------------------------------


def run_order_picture(found: Study, *, mark: str, figure: Figure | None = None) -> Picture:
    """Draw the measured volumes in run order, with the limits that the moving range gives.

    Parameters
    ----------
    found
        The measured holes.
    mark
        Their bar group.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    chart = found.order
    alt = _run_alt(found, mark)
    with paper(figure, 2.3) as target:
        _draw_run(target, found)
    left_out = [f"{point.name} ({found.text(point.value)}): {reason}" for point, reason in found.kept.left_out]
    numbers = (
        ("mean", found.text(chart.centre)),
        ("upper limit", found.text(chart.high)),
        ("lower limit", found.text(chart.low)),
        ("mean moving range", found.text(chart.mean_moving_range)),
        ("holes outside the limits", ", ".join(f"{p.name} ({found.text(p.value)})" for p in chart.outside) or "none"),
        ("holes left out", "; ".join(left_out) or "none"),
    )
    caption = f"{alt} The limits lie three sigma from the mean, by the mean moving range."
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _run_alt(found: Study, mark: str) -> str:
    chart = found.order
    limits = f"the limits {found.text(chart.low)} to {found.text(chart.high)}"
    if chart.outside:
        lie = "lies" if len(chart.outside) == 1 else "lie"
        return (
            f"Of {found.n} measured holes of {mark} in run order, {_few([p.name for p in chart.outside])} {lie} outside"
            f" {limits}."
        )
    return f"All {found.n} measured holes of {mark}, in run order, lie within {limits}."


def _draw_run(figure: Figure, found: Study) -> None:
    chart, unit = found.order, found.unit
    ax = axes(figure, 0.55, 1.55, 0.42, 0.10)
    place = {name: i + 1 for i, name in enumerate(found.names)}
    x = [place[name] for name in chart.names]
    every = (*found.values, chart.low, chart.high)
    room = 0.09 * (max(every) - min(every)) or 0.1 * abs(chart.centre) or 1.0
    ax.set(ylim=(min(every) - room, max(every) + room), xlim=(0.3, len(found.values) + 0.7))
    ax.axhspan(chart.low, chart.high, color=SHADE, linewidth=0, zorder=1)
    ax.axhline(chart.centre, color=INK, linewidth=THIN, zorder=2)
    for edge in (chart.low, chart.high):
        ax.axhline(edge, color=INK, linewidth=THIN, linestyle=(0, (5, 3)), zorder=2)
    ax.plot(x, chart.values, color=QUIET, linewidth=FIRM, zorder=3)
    outside = {point.name for point in chart.outside}
    inner = [(i, v) for i, v, name in zip(x, chart.values, chart.names, strict=True) if name not in outside]
    ax.plot([i for i, _ in inner], [v for _, v in inner], zorder=4, **_DOT)
    ax.plot([place[p.name] for p in chart.outside], [p.value for p in chart.outside], zorder=5, **_DIAMOND)
    ax.plot(
        [place[p.name] for p, _ in found.kept.left_out], [p.value for p, _ in found.kept.left_out], zorder=4, **_CROSS
    )
    named = [(p.name, p.value, "", INK) for p in chart.outside] + [
        (p.name, p.value, ", left out", QUIET) for p, _ in found.kept.left_out
    ]
    if len(named) <= _ROWS:
        for name, value, tail, colour in named:
            _beside_point(ax, place[name], value, f"hole {name}: {found.text(value)}{tail}", colour, len(found.values))
    heights = (("upper limit", chart.high), ("mean", chart.centre), ("lower limit", chart.low))
    note_heights(ax, [(height, f"{name} {found.text(height)}", INK) for name, height in heights])
    step = next(s for s in (1, 5, 10, 20, 50, 100, 200, 500, 10**6) if len(found.values) / s <= 16)
    ticks = [i for i in range(1, len(found.values) + 1) if i == 1 or i % step == 0]
    ax.set_xticks(ticks, [found.names[i - 1] if len(found.names[i - 1]) <= 5 else str(i) for i in ticks])
    ax.set_xlabel("hole, in run order")
    ax.set_ylabel(f"volume [{unit}]", labelpad=4)


def _beside_point(ax: Axes, x: float, y: float, words: str, colour: str, count: int) -> None:
    """Write beside a point, on the side where there is room."""
    patch = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85}
    note(ax, words, (x, y), 7.0 if x < 0.6 * count else -7.0, color=colour, zorder=6, bbox=patch)


# ---- normal plot ---------------------------------------------------------------------------------


def normal_picture(found: Study, *, mark: str, figure: Figure | None = None) -> Picture:
    """Draw the ordered volumes against normal scores, with the line that a normal scatter would follow.

    Parameters
    ----------
    found
        At least three measured holes.
    mark
        Their bar group.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture

    Raises
    ------
    NotAccepted
        Fewer than three holes.
    """
    if found.plot is None:
        raise NotAccepted("a normal plot needs at least three holes that are kept")
    plot = found.plot
    alt = _normal_alt(found, plot, mark)
    with paper(figure, 2.3) as target:
        _draw_normal(target, found, plot)
    numbers = (
        ("mean", found.text(plot.mean)),
        ("standard deviation", found.text(plot.sd)),
        (
            "correlation of the dots with a straight line",
            "none" if plot.correlation is None else f"{plot.correlation:.4f}",
        ),
        ("Shapiro–Wilk W", "none" if plot.statistic is None else f"{plot.statistic:.4f}"),
        ("p of the test", "none" if plot.p is None else f"{plot.p:.2g}"),
    )
    caption = f"{alt} From the smallest to the largest volume, against what a normal scatter would give."
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _normal_alt(found: Study, plot: NormalPlot, mark: str) -> str:
    apart = [p.name for p in found.apart.outliers] if found.apart else []
    if plot.looks_normal is None:
        return (
            f"{found.n} measured holes of {mark} are too few, or too much alike, to judge the shape of their scatter."
        )
    if plot.looks_normal:
        return (
            f"The {found.n} measured holes of {mark} follow the line of a normal scatter, and the test does not object."
        )
    tail = f", and {_few(apart)} {'stands' if len(apart) == 1 else 'stand'} apart" if apart else ""
    return f"The {found.n} measured holes of {mark} do not follow the line of a normal scatter{tail}."


def _draw_normal(figure: Figure, found: Study, plot: NormalPlot) -> None:
    ax = axes(figure, 0.55, 1.75, 0.42, 0.10)
    scores, values = np.array(plot.scores), np.array(plot.ordered)
    reach = max(abs(scores[0]), abs(scores[-1])) * 1.08
    line = plot.mean + plot.sd * np.array([-reach, reach])
    low, high = min(values[0], line[0]), max(values[-1], line[1])
    room = 0.07 * (high - low) or 0.1 * abs(plot.mean) or 1.0
    ax.set(xlim=(-reach, reach), ylim=(low - room, high + room))
    ax.plot([-reach, reach], line, color=INK, linewidth=FIRM, zorder=2)
    apart = {p.name for p in found.apart.outliers} if found.apart else set()
    plain = [(s, v) for s, v, name in zip(scores, values, plot.names, strict=True) if name not in apart]
    ax.plot([s for s, _ in plain], [v for _, v in plain], zorder=4, **_DOT)
    far = [(s, v, name) for s, v, name in zip(scores, values, plot.names, strict=True) if name in apart]
    ax.plot([s for s, _, _ in far], [v for _, v, _ in far], zorder=5, **_DIAMOND)
    if len(far) <= _ROWS:
        for s, v, name in far:
            note(
                ax,
                f"hole {name}: {found.text(v)}",
                (s, v),
                7.0 if s < 0 else -7.0,
                color=INK,
                fontweight="bold",
                zorder=6,
            )
    note_heights(ax, [(float(line[1]), "normal scatter with this\nmean and deviation", INK)])
    ticks = [(score, share) for share, score in SHARE_SCORES if abs(score) < reach]
    ax.set_xticks([score for score, _ in ticks], [percent(share) for _, share in ticks])
    ax.set_xlabel("share of holes that need no more, if the scatter is normal")
    ax.set_ylabel(f"volume [{found.unit}]", labelpad=4)


# ---- what the holes ask for ----------------------------------------------------------------------


def dose_picture(found: Study, *, mark: str, dose: float | None = None, figure: Figure | None = None) -> Picture:
    """Draw the measured holes, the limits that follow from them, and the dose, one under the other on one scale.

    Parameters
    ----------
    found
        The measured holes.
    mark
        Their bar group.
    dose
        Rounded dose of the job, in the unit of the holes; left away when None.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    alt = _dose_alt(found, mark, dose)
    rows = _dose_rows(found, dose)
    with paper(figure, 0.55 + 0.25 * (len(rows) + 1.6)) as target:
        _draw_dose(target, found, rows)
    numbers = tuple((name.replace("\n", " "), text) for name, _, _, text, _ in rows)
    caption = f"{alt} Measured holes, limits and dose on one scale."
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _dose_alt(found: Study, mark: str, dose: float | None) -> str:
    if found.too_few:
        return f"By measured holes of {mark} no dose can be named: {found.too_few}."
    asked = f"{found.text(found.limit)} is needed so that {percent(found.share)} of the holes of {mark} are full"
    if dose is None:
        return f"By {found.n} measured holes, {asked}, with confidence {percent(found.confidence)}."
    enough = found.enough(dose)
    verdict = "is enough" if enough else "is too little"
    short = found.short_of(dose)
    tail = f", though {_few([p.name for p in short])} of those measured took more" if short and enough else ""
    return f"By {found.n} measured holes, {asked}, so the rounded dose of {found.text(dose)} {verdict}{tail}."


_Row = tuple[str, float | None, tuple[float, float] | None, str, str]


def _dose_rows(found: Study, dose: float | None) -> list[_Row]:
    """Label, value, interval, text, and kind of mark of each row under the holes."""
    limits, share = found.limits, percent(found.share)
    mean = (limits.mean.low, limits.mean.high)
    free = limits.without_normality
    rows: list[_Row] = [
        ("nominal hole needs", found.V_req, None, found.text(found.V_req), "|"),
        (
            "mean of all holes",
            found.summary.mean,
            (mean[0] or 0.0, mean[1] or 0.0),
            f"{found.text(mean[0] or 0.0)} to {found.text(mean[1] or 0.0)}",
            "o",
        ),
    ]
    if found.too_few:
        rows.append((f"{share} of all holes", None, None, f"not enough holes: takes {limits.tolerance.needed}", "s"))
    else:
        asked = f"up to {found.text(found.limit)}: overfill {overfill_text(found.overfill)}"
        rows += [
            (
                "the very next hole",
                limits.prediction.high,
                None,
                f"up to {found.text(limits.prediction.high or 0.0)}",
                "o",
            ),
            (f"{share} of all holes", found.limit, None, asked, "s"),
        ]
    words = f"takes {free.needed} measured holes" if free.high is None else f"up to {found.text(free.high)}"
    rows.append((f"{share}, whatever the shape", free.high, None, words, "o"))
    if dose is not None:
        over = overfill_text(found.overfill_at(dose))
        rows.append(("rounded dose", dose, None, f"{found.text(dose)}: overfill {over}", "^"))
    return rows


def _draw_dose(figure: Figure, found: Study, rows: Sequence[_Row]) -> None:
    ax = axes(figure, 1.66, 2.3, 0.50, 0.12)
    values = [v for _, v, _, _, _ in rows if v is not None] + list(found.values)
    low, high = min(values), max(values)
    room = 0.05 * (high - low) or 0.1 * abs(high) or 1.0
    ax.set(xlim=(low - room, high + room), ylim=(-len(rows) - 0.55, 0.85))
    kept, cross = _stacked(found.kept.values, high - low), [(p.value, 0.0) for p, _ in found.kept.left_out]
    over = () if found.too_few else found.short_of(found.limit)
    more = {point.value for point in over}
    above, plain = [(v, y) for v, y in kept if v in more], [(v, y) for v, y in kept if v not in more]
    ax.plot([v for v, _ in plain], [y for _, y in plain], zorder=4, **(_DOT | {"markersize": 4.2}))
    ax.plot([v for v, _ in above], [y for _, y in above], zorder=4, **(_DIAMOND | {"markersize": 5.0}))
    if len(over) == 1:
        note(ax, f"hole {over[0].name}", above[0], dy=6.0, fontweight="bold")
    ax.plot([v for v, _ in cross], [y for _, y in cross], zorder=4, **_CROSS)
    if not found.too_few:
        ax.axvline(found.limit, ymax=1.0, color=INK, linewidth=THIN, linestyle=(0, (5, 3)), zorder=2)
    names = [f"{found.n} measured holes"]
    for i, (name, value, interval, text, shape) in enumerate(rows, start=1):
        names.append(name)
        strong = shape in ("s", "^")
        colour = (
            INK
            if shape == "s"
            else ALARM
            if shape == "^" and value is not None and not found.too_few and not found.enough(value)
            else INK
        )
        ax.axhline(-i, color=HAIR, linewidth=THIN, zorder=1)
        if interval is not None:
            ax.plot(interval, (-i, -i), color=INK, linewidth=BOLD, solid_capstyle="butt", zorder=3)
        if value is not None:
            look: dict[str, Any] = {
                "marker": shape,
                "markersize": 9 if shape == "|" else 6.2 if strong else 5.2,
                "color": colour,
                "linestyle": "none",
            }
            ax.plot(
                [value],
                [-i],
                zorder=5,
                **look,
                markeredgewidth=HEAVY if shape == "|" else 0.7,
                markeredgecolor=colour if shape == "|" else PAPER,
            )
        ink = colour if value is not None else QUIET
        note(
            ax,
            text,
            (1.0, -i),
            8.0,
            xycoords=("axes fraction", "data"),
            color=ink,
            fontweight="bold" if strong else "normal",
        )
    if found.kept.left_out:
        note(
            ax,
            f"{len(found.kept.left_out)} left out (×)",
            (1.0, 0.0),
            8.0,
            xycoords=("axes fraction", "data"),
            color=QUIET,
        )
    name_rows(ax, [-float(i) for i in range(len(names))], names)
    ax.set_xlabel(f"volume in a hole [{found.unit}]")


def _stacked(values: Sequence[float], span: float) -> list[tuple[float, float]]:
    """Place dots of nearly the same value one above the other."""
    width = span / 75 or 1.0
    heap: dict[int, list[float]] = {}
    for value in sorted(values):
        heap.setdefault(round(value / width), []).append(value)
    tallest = max(len(column) for column in heap.values())
    step = min(0.17, 0.95 / max(tallest - 1, 1))
    return [(value, -0.12 + step * i) for column in heap.values() for i, value in enumerate(column)]


# ---- what more holes are worth -------------------------------------------------------------------


def growth_picture(
    table: ConfidenceTable, *, measured: int | None = None, mark: str = "", figure: Figure | None = None
) -> Picture:
    """Draw how the overfill, or where nothing is measured the factor, comes down as more holes are measured.

    Parameters
    ----------
    table
        Rows for rising numbers of holes.
    measured
        Number of holes that were measured.
    mark
        Their bar group.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    overfill = all(row.overfill is not None for row in table.rows if row.n > 1)
    alt = _growth_alt(table, measured, mark, overfill)
    with paper(figure, 2.3) as target:
        _draw_growth(target, table, measured, overfill)
    what = "Overfill that follows" if overfill else "Standard deviations above the mean that it takes"
    stays = ", if mean and scatter stay as measured" if overfill else ""
    caption = (
        f"{alt} {what}, against the number of measured holes{stays}: share {percent(table.share)}, confidence"
        f" {percent(table.confidence)}."
    )
    numbers = tuple((f"{row.n} hole{'s' if row.n > 1 else ''}", _growth_text(row, overfill)) for row in table.rows)
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _worth(row: ConfidenceRow, overfill: bool) -> float:
    value = row.overfill if overfill else row.factor
    assert value is not None
    return 100 * value if overfill else value


def _growth_text(row: ConfidenceRow, overfill: bool) -> str:
    if row.factor is None:
        return "nothing"
    return f"{_worth(row, overfill):.1f} %" if overfill else round_text(row.factor, 3)


def _growth_alt(table: ConfidenceTable, measured: int | None, mark: str, overfill: bool) -> str:
    by_n = {row.n: row for row in table.rows}
    few = by_n.get(2 if measured and measured <= 5 else 5, table.rows[-1])
    many = by_n.get(measured if measured and measured > 2 else 100, table.rows[-1])
    tell = "an overfill of " if overfill else ""
    tail = "" if overfill else " standard deviations above the mean"
    group = f" of {mark}" if mark else ""
    first, second = _growth_text(few, overfill), _growth_text(many, overfill)
    return (
        f"One measured hole{group} gives no limit at all, {few.n} ask for {tell}{first}{tail}, and {many.n} for"
        f" {second}, at a share of {percent(table.share)} and a confidence of {percent(table.confidence)}."
    )


def _draw_growth(figure: Figure, table: ConfidenceTable, measured: int | None, overfill: bool) -> None:
    ax = axes(figure, 0.55, 1.2, 0.42, 0.22)
    rows = [row for row in table.rows if row.n > 1]
    end = 100 * table.endless_overfill if overfill and table.endless_overfill is not None else table.endless
    inside = [row for row in rows if row.n != 2 or measured == 2]
    values = [_worth(row, overfill) for row in inside]
    top = max(values) + 0.12 * ((max(values) - end) or 1.0)
    ax.set_ylim(end - 0.08 * (top - end), top)
    ax.set_xscale("log")
    ax.set_xlim(0.8, rows[-1].n * 1.12)
    ax.axvspan(0.8, 1.42, color=SHADE, linewidth=0, zorder=1)
    ax.text(
        1.065,
        0.5,
        "one hole says nothing\nabout scatter",
        transform=ax.get_xaxis_transform(),
        rotation=90,
        ha="center",
        va="center",
        color=INK,
    )
    ax.axhline(end, color=INK, linewidth=THIN, linestyle=(0, (5, 3)), zorder=2)
    ax.plot([r.n for r in rows], [_worth(r, overfill) for r in rows], color=QUIET, linewidth=HEAVY, zorder=3)
    ax.plot([r.n for r in inside], values, zorder=4, **_DOT)
    # The label of the own number is long: its neighbours, above all to the right, give way.
    crowded = {row.n for row in rows if measured and row.n != measured and -0.6 < math.log(row.n / measured) < 1.6}
    shown = {3, 5, 10, 20, 50, 100} - crowded
    for row in inside:
        own = row.n == measured
        if own:
            ax.plot([row.n], [_worth(row, overfill)], zorder=5, **(_DIAMOND | {"color": INK, "markersize": 7.0}))
        if own or row.n in shown:
            words = f"{row.n} measured: {_growth_text(row, overfill)}" if own else _growth_text(row, overfill)
            look = {"color": INK, "fontweight": "bold"} if own else {}
            note(ax, words, (row.n, _worth(row, overfill)), 4.0, 7.0, zorder=6, **look)
    if measured != 2:
        words = f"2 holes: {_growth_text(rows[0], overfill)} ↑"
        note(ax, words, (2.9, 1.0), dy=4.0, xycoords=("data", "axes fraction"), ha="right")
    text = f"{end:.1f} %" if overfill else round_text(end, 3)
    note_heights(ax, [(end, f"endlessly many:\n{text}", INK)])
    ticks = [n for n in (1, 2, 3, 5, 10, 20, 30, 50, 100, 200) if n <= rows[-1].n]
    ax.set_xticks(ticks, [str(n) for n in ticks])
    ax.set_xticks([], minor=True)
    ax.set_xlabel("number of measured holes")
    ax.set_ylabel("overfill that follows [%]" if overfill else "standard deviations above the mean", labelpad=4)
