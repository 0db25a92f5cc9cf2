"""Pictures of a job's plan: the crews' days, adhesive used against time, waste by cause, ways of preparing the holes.

Drawn on paper measured in inches like the other pictures. What differs in ink differs in hatching or shape as well.
"""

from __future__ import annotations

import itertools
import math
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from calc.base.display import Display, duration, round_text, with_unit
from calc.base.errors import NotAccepted
from calc.base.units import convert
from calc.files.site import DAY, Site, clock_text
from calc.show.drawing import (
    ADHESIVE,
    CONCRETE,
    FIRM,
    GRAIN,
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
    long,
    name_rows,
    note,
    note_heights,
    paper,
    say,
    sheet,
    stacked,
    svg_of,
)  # fmt: skip
from calc.work.days.crew import ASIDE, BREAK, DRILL, FILL, INJECT, MIXER, NIGHT, PACK, PREPARE, SET, WAIT
from calc.work.days.daybook import Timeline
from calc.work.plan.planned import PlanWork
from calc.work.plan.preparation import WayCost
from calc.work.plan.volumes import CAUSES, VOLUMES

_LANES = 12  # lanes that a page can carry; more days are told in words
_SIDES, _APART, _LINE, _WRAP = (0.98, 0.3), 0.10, 0.14, 112  # inches; letters of a line of the key
_POINTS = 700  # of a line; more would only make the file larger
_KINDS = {
    DRILL: "prepare",
    PREPARE: "prepare",
    INJECT: "bond",
    SET: "bond",
    PACK: "bond",
    MIXER: "bond",
    WAIT: "wait",
    BREAK: "break",
}
_WORDS = {"prepare": "drill and clean", "bond": "inject and set", "wait": "wait for a machine", "break": "break"}
_LOOK: dict[str, dict[str, Any]] = {
    "prepare": {"facecolor": CONCRETE, "edgecolor": GRAIN, "linewidth": HAIRLINE},
    "bond": {"facecolor": QUIET, "edgecolor": INK, "linewidth": HAIRLINE},
    "wait": {"facecolor": PAPER, "edgecolor": INK, "hatch": "xxxx", "linewidth": HAIRLINE},
    "break": {"facecolor": PAPER, "edgecolor": QUIET, "hatch": "////", "linewidth": HAIRLINE},
}


# ---- the crews' days -----------------------------------------------------------------------------


@dataclass(frozen=True)
class _Block:
    """A stretch of one kind of work on one lane, times since the beginning of its day [s]."""

    day: int
    crew: int
    kind: str
    group: int
    begin: float
    end: float


def _blocks(timeline: Timeline, gap: float) -> list[_Block]:
    """Join what follows each other closely: the picture has a stretch where the books have hundreds of rows."""
    found: list[_Block] = []
    order = np.lexsort((timeline.start, timeline.crew))
    open_: _Block | None = None
    for i in order:
        kind = _KINDS.get(int(timeline.kind[i]))
        if kind is None:
            continue
        start, end, crew, group = (
            float(timeline.start[i]),
            float(timeline.end[i]),
            int(timeline.crew[i]),
            int(timeline.group[i]),
        )
        day = int(start // DAY)
        begin, stop = start - day * DAY, end - day * DAY
        if (
            open_
            and (open_.day, open_.crew, open_.kind, open_.group) == (day, crew, kind, group)
            and begin - open_.end <= gap
        ):
            open_ = _Block(day, crew, kind, group, open_.begin, max(stop, open_.end))
            continue
        if open_:
            found.append(open_)
        open_ = _Block(day, crew, kind, group, begin, stop)
    return found + ([open_] if open_ else [])


def days_picture(plan: PlanWork, *, figure: Figure | None = None) -> Picture:
    """Draw what each crew does on each day, with the concrete's temperature above.

    Parameters
    ----------
    plan
        A plan with its days.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture

    Raises
    ------
    NotAccepted
        The plan has no days.
    """
    timeline, site = plan.timeline, plan.job.site
    if timeline is None or site is None:
        raise NotAccepted(
            "the plan has no days to draw: the job file needs [site], and the adhesive record working times"
        )
    blocks = _blocks(timeline, 90.0 + 2 * site.times.walk)
    worked = sorted({block.day for block in blocks})
    lanes = list(itertools.islice(((day, crew) for day in worked for crew in range(site.crews)), _LANES))
    shown_days = lanes[-1][0] + 1
    alt = _days_alt(plan, timeline)
    place = {lane: i for i, lane in enumerate(lanes)}
    _, key = _group_names(_begun([b for b in blocks if (b.day, b.crew) in place], place), timeline.marks)
    with paper(figure, 1.46 + 0.36 * len(lanes) + _LINE * len(key)) as target:
        _draw_days(target, plan, timeline, site, blocks, lanes, key)
    more = (
        ""
        if len(lanes) == len(worked) * site.crews
        else f" The first {len(lanes)} of {len(worked) * site.crews} lanes are drawn, day 1 to {shown_days}."
    )
    warmth = ", under the temperature of the concrete" if plan.temperatures(site.shift) else ""
    caption = f"{alt} By bar group, over the day{warmth}; dashed: the end of the shift.{more}"
    numbers = tuple((f"{name}, all crews", duration(60 * hours)) for name, hours in plan.hours.items())
    return Picture(svg_of(target, alt), alt, caption, (("finish", plan.clock(timeline.finish)), *numbers))


def _days_alt(plan: PlanWork, timeline: Timeline) -> str:
    crews = plan.job.site.crews if plan.job.site else 0
    who = "one crew sets" if crews == 1 else f"{crews} crews set"
    days = "one day" if plan.worked_days == 1 else f"{plan.worked_days} days"
    late = plan.late or 0
    tail = (
        "and every bar is set within the working time"
        if not late
        else f"but {late} bar{'s are' if late > 1 else ' is'} late"
    )
    done = f"the last of {timeline.holes_done} bars is set on {plan.clock(timeline.finish)}"
    return f"In {days} {who} the bars; {done}, {tail}."


def _draw_days(
    figure: Figure,
    plan: PlanWork,
    timeline: Timeline,
    site: Site,
    blocks: Sequence[_Block],
    lanes: Sequence[tuple[int, int]],
    key: Sequence[str],
) -> None:
    place = {lane: i for i, lane in enumerate(lanes)}
    drawn = [b for b in blocks if (b.day, b.crew) in place]
    last = max((b.end for b in drawn), default=site.shift)
    span = max(last, 0.0 if timeline.days == 1 else site.shift)
    left, right = _SIDES
    ax = axes(figure, left, right, 0.44 + _LINE * len(key), 1.02)
    for number, line in enumerate(reversed(key)):
        say(sheet(figure), 0.05, 0.07 + _LINE * number, line, ha="left", color=QUIET)
    ax.set(xlim=(0, span / 3600), ylim=(len(lanes) - 0.4, -0.6))
    for block in drawn:
        y = place[block.day, block.crew]
        ax.add_patch(
            Rectangle(
                (block.begin / 3600, y - 0.27), (block.end - block.begin) / 3600, 0.54, zorder=3, **_LOOK[block.kind]
            )
        )
    begun = _begun(drawn, place)
    names_of, _ = _group_names(begun, timeline.marks)
    _name_groups(ax, begun, names_of, span)
    if site.shift < DAY and site.shift <= span + 1:
        ax.axvline(site.shift / 3600, color=QUIET, linewidth=THIN, linestyle=(0, (4, 3)), zorder=2)
    names = [f"day {day + 1}" + (f", crew {crew + 1}" if site.crews > 1 else "") for day, crew in lanes]
    name_rows(ax, range(len(lanes)), names)
    ticks = _hour_ticks(site.start, span)
    ax.set_xticks([(t - site.start) / 3600 for t in ticks], [clock_text(t) for t in ticks])
    ax.set_xlabel("time of day")
    if plan.temperatures(span):
        _draw_temperature(figure, plan, span, left, right)
    _draw_key(figure, sorted({b.kind for b in drawn}, key=list(_WORDS).index), left)


def _hour_ticks(start: float, span: float) -> list[float]:
    step = next(s for s in (1800, 3600, 7200, 10800, 14400) if span / s <= 12 or s == 14400)
    first = math.ceil(start / step) * step
    return [float(t) for t in range(first, int(start + span) + 1, step)]


def _begun(drawn: Sequence[_Block], place: Mapping[tuple[int, int], int]) -> dict[int, list[tuple[float, int]]]:
    """Where each group's work begins on each lane: hours and group."""
    lanes: dict[int, list[tuple[float, int]]] = {}
    seen: set[tuple[int, int]] = set()
    for block in sorted((b for b in drawn if b.group >= 0), key=lambda b: b.begin):
        y = place[block.day, block.crew]
        if (y, block.group) not in seen:
            seen.add((y, block.group))
            lanes.setdefault(y, []).append((block.begin / 3600, block.group))
    return lanes


def _group_names(lanes: Mapping[int, list[tuple[float, int]]], marks: Sequence[str]) -> tuple[list[str], list[str]]:
    """What stands on the lanes for each group, and the key's lines: marks, or numbers where marks find no room."""
    room = WIDTH - sum(_SIDES)
    if all(sum(long(marks[group]) + _APART for _, group in lane) < room for lane in lanes.values()):
        return list(marks), []
    told = "; ".join(f"{number}: {mark}" for number, mark in enumerate(marks, start=1))
    return [str(number) for number in range(1, len(marks) + 1)], textwrap.wrap(told, _WRAP)


def _name_groups(ax: Axes, lanes: Mapping[int, list[tuple[float, int]]], names: Sequence[str], span: float) -> None:
    """Write each group's name once on each lane, over where its work begins there, moved aside where names meet."""
    hour = (WIDTH - sum(_SIDES)) / (span / 3600)  # inches
    for y, lane in lanes.items():
        wide = [long(names[group]) + _APART for _, group in lane]
        wanted = [x + 0.5 * w / hour for (x, _), w in zip(lane, wide, strict=True)]
        ends = list(stacked(list(zip(wanted, wide, strict=True)), 1 / hour))
        limit = span / 3600 + _SIDES[1] / hour
        for i in reversed(range(len(ends))):
            ends[i] = min(ends[i], limit - 0.5 * wide[i] / hour)
            limit = ends[i] - 0.5 * wide[i] / hour
        for (x, group), middle, w in zip(lane, ends, wide, strict=True):
            foot = middle - 0.5 * (w - _APART) / hour
            ax.plot([x, min(max(x, foot), foot + (w - _APART) / hour)], [y - 0.27, y - 0.37], color=INK,
                    linewidth=HAIRLINE, zorder=4, clip_on=False)  # fmt: skip
            look: dict[str, Any] = {"ha": "center", "va": "bottom", "clip_on": False}
            ax.text(middle, y - 0.38, names[group], color=INK, zorder=5, **look)


def _draw_temperature(figure: Figure, plan: PlanWork, span: float, left: float, right: float) -> None:
    display = plan.job.display
    unit = display.temperature_unit
    height = float(figure.get_size_inches()[1])
    ax = axes(figure, left, right, height - 0.84, 0.40)
    # A bend beside an end has no room for its label.
    shown = [(t, value) for t, value in plan.temperatures(span) if t in (0.0, span) or 0.06 * span < t < 0.94 * span]
    nodes, values = [t for t, _ in shown], [convert(value, "°C", unit) for _, value in shown]
    ax.plot(
        [t / 3600 for t in nodes],
        values,
        color=INK,
        linewidth=FIRM,
        marker="o",
        markersize=2.6,
        zorder=3,
        clip_on=False,
    )
    gap = (max(values) - min(values)) or 1.0
    ax.set(ylim=(min(values) - 0.35 * gap, max(values) + 0.75 * gap), xlim=(0, span / 3600))
    for t, value in zip(nodes, values, strict=True):
        align = "left" if t == 0 else "right" if t == span else "center"
        note(ax, f"{value:.3g} {unit}", (t / 3600, value), dy=4.0, ha=align)
    ax.set_axis_off()
    note(ax, "concrete", (0.0, 0.4), -5.0, xycoords="axes fraction")


def _draw_key(figure: Figure, kinds: Sequence[str], left: float) -> None:
    height = float(figure.get_size_inches()[1])
    ax = axes(figure, left, 0.0, height - 0.3, 0.1)
    ax.set(xlim=(0, WIDTH - left), ylim=(0, 0.2))
    ax.set_axis_off()
    x = 0.0
    for kind in kinds:
        ax.add_patch(Rectangle((x, 0.04), 0.26, 0.13, **_LOOK[kind]))
        ax.text(x + 0.33, 0.1, _WORDS[kind], fontsize=LETTERS, color=INK, va="center", ha="left")
        x += 0.33 + long(_WORDS[kind]) + 0.22


# ---- adhesive against time -----------------------------------------------------------------------


def _thinned(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    if len(x) <= _POINTS:
        return x, y
    keep = np.unique(np.linspace(0, len(x) - 1, _POINTS).astype(int))
    return x[keep], y[keep]


def adhesive_picture(plan: PlanWork, *, figure: Figure | None = None) -> Picture:
    """Draw how much adhesive has left the packs and how much of it is in holes, over the working time.

    With every pack and mixer.

    Parameters
    ----------
    plan
        A plan with its days.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture

    Raises
    ------
    NotAccepted
        The plan has no days.
    """
    timeline, display = plan.timeline, plan.job.display
    if timeline is None:
        raise NotAccepted(
            "the plan has no days to draw: the job file needs [site], and the adhesive record working times"
        )
    out = float(timeline.used[1][-1]) if timeline.used[1].size else 0.0
    given = timeline.in_holes
    numbers = (
        ("used up", display.job_volume(out)),
        (VOLUMES["dose"].words, display.job_volume(given)),
        ("packs opened", str(timeline.packs)),
        ("mixers fitted", str(timeline.mixers)),
        ("last pack in place", plan.clock(float(timeline.packs_at[-1])) if timeline.packs else "none"),
    )
    lost = display.job_volume(out - given)
    alt = (
        f"Of {timeline.packs} packs, {display.job_volume(given)} is {VOLUMES['dose'].words} through {timeline.mixers}"
        f" mixers, and {lost} is discarded, left behind or lost with part packs."
    )
    with paper(figure, 2.55) as target:
        _draw_adhesive(target, plan, timeline)
    caption = f"{alt} Over the working hours, nights left out; hatched is what lies between used up and dispensed."
    return Picture(svg_of(target, alt), alt, caption, numbers)


def _draw_adhesive(figure: Figure, plan: PlanWork, timeline: Timeline) -> None:
    display, site = plan.job.display, plan.job.site
    assert site is not None
    unit = display.job_volume_unit
    work = ~np.isin(timeline.kind, (BREAK, NIGHT, ASIDE, FILL))
    offsets = timeline.end[work] % DAY if timeline.days > 1 else timeline.end[work]
    length = float(max(offsets.max(initial=0.0), site.shift if timeline.days > 1 else 0.0))

    def at(t: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        # What is put aside at the beginning of a day belongs to its first second, not to the night.
        day = np.minimum(np.floor(t / DAY), timeline.days - 1)
        return np.asarray((day * length + np.minimum(t - day * DAY, length)) / 3600)

    (all_t, all_v), (into_t, into_v) = timeline.used, timeline.filled
    total = at(all_t), np.array([convert(float(v), "mm³", unit) for v in all_v])
    holes = at(into_t), np.array([convert(float(v), "mm³", unit) for v in into_v])
    ax = axes(figure, 0.55, 1.35, 0.98, 0.16)
    right = float(at(np.array([timeline.finish]))[0])
    grid = np.linspace(0, right, 500)
    upper, lower = (np.interp(grid, np.r_[0.0, x], np.r_[0.0, y]) for x, y in (total, holes))
    ax.fill_between(grid, lower, upper, facecolor=PAPER, hatch="////", edgecolor=ADHESIVE, linewidth=0, zorder=1)
    for (x, y), colour, width in ((total, INK, 1.2), (holes, ADHESIVE, 2.0)):
        ax.step(*_thinned(np.r_[0.0, x], np.r_[0.0, y]), where="post", color=colour, linewidth=width, zorder=3)
    top = float(total[1][-1]) if total[1].size else 1.0
    ax.set(ylim=(0, top * 1.05), xlim=(0, right))
    into = f"{VOLUMES['dose'].words}:\n{display.job_volume(timeline.in_holes)}"
    note_heights(
        ax,
        [
            (float(holes[1][-1]), into, INK),
            (top, f"used up:\n{display.job_volume(float(all_v[-1]))}", INK),
        ],
    )
    ax.set_ylabel(f"adhesive [{unit}]", labelpad=4)
    ax.set_xticks([])
    rug = axes(figure, 0.55, 1.35, 0.52, 2.55 - 0.92)
    rug.set(xlim=(0, right), ylim=(-0.6, 1.6))
    thin = timeline.packs > 120
    for row, times, shape, colour, words in (
        (1.0, timeline.packs_at, "s", INK, f"{timeline.packs} packs"),
        (0.0, timeline.mixers_at, "^", QUIET, f"{timeline.mixers} mixers"),
    ):
        where = at(np.sort(times))
        look: dict[str, Any] = {"marker": "|", "markersize": 5} if thin else {"marker": shape, "markersize": 3.6}
        rug.plot(where, np.full(len(where), row), linestyle="none", color=colour, clip_on=False, zorder=3, **look)
        note(rug, words, (1.0, row), 7.0, xycoords=("axes fraction", "data"), color=colour)
    rug.set_yticks([])
    rug.spines["left"].set_visible(False)
    for axis in (ax, rug):
        for day in range(1, timeline.days):
            axis.axvline(day * length / 3600, color=QUIET, linewidth=THIN, linestyle=(0, (4, 3)), zorder=2)
    _day_ticks(rug, site, timeline.days, length, right)


def _day_ticks(ax: Axes, site: Site, days: int, length: float, right: float) -> None:
    if days > 4:
        step = math.ceil(days / 12)
        ax.set_xticks(
            [day * length / 3600 for day in range(0, days, step)], [f"day {day + 1}" for day in range(0, days, step)]
        )
        ax.set_xlabel("working hours of each day")
        return
    step = 2 if days < 3 else 4
    ticks, names = [], []
    for day in range(days):
        first = math.ceil(site.start / 3600)
        for hour in range(first, int((site.start + length) // 3600) + 1, step):
            place = day * length / 3600 + hour - site.start / 3600
            # The next day's first label needs the room at the end of this one.
            if place > right or (hour > first and place > (day + 1) * length / 3600 - 0.06 * right):
                continue
            ticks.append(place)
            names.append(clock_text(hour * 3600.0) + (f"\nday {day + 1}" if hour == first and days > 1 else ""))
    ax.set_xticks(ticks, names)
    ax.set_xlabel("time of day", labelpad=0 if days > 1 else 3)


# ---- waste ---------------------------------------------------------------------------------------


def waste_picture(plan: PlanWork, *, figure: Figure | None = None) -> Picture:
    """Draw the adhesive that is bought and stays in no hole, by cause.

    Parameters
    ----------
    plan
        A plan.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    use, display = plan.use, plan.job.display
    rows = [(CAUSES[key], volume) for key, volume in use.waste.items() if volume > 1e-3 * use.bought]
    rows.sort(key=lambda row: -row[1])
    used = use.opened
    share = f"{100 * use.wasted / used:.0f} %" if used else "nothing"
    if rows:
        most = f"most of it is {rows[0][0]}, {display.job_volume(rows[0][1])}"
        alt = f"{display.job_volume(use.wasted)}, {share} of what is in the packs used, stays in no hole; {most}."
    else:
        alt = "Nothing is wasted: all of what is in the packs used stays in the holes."
    with paper(figure, 0.52 + 0.22 * max(len(rows), 1)) as target:
        _draw_waste(target, rows, used, display)
    caption = (
        f"{alt} Adhesive that stays in no hole, by cause, of {display.job_volume(used)} in the packs that are used."
    )
    numbers = tuple((words, display.job_volume(use.waste[key])) for key, words in CAUSES.items())
    return Picture(
        svg_of(target, alt), alt, caption, (*numbers, ("all causes together", display.job_volume(use.wasted)))
    )


def _draw_waste(figure: Figure, rows: Sequence[tuple[str, float]], used: float, display: Display) -> None:
    unit = display.job_volume_unit
    ax = axes(figure, 2.75, 1.3, 0.42, 0.06)
    for i, (_, volume) in enumerate(rows):
        value = convert(volume, "mm³", unit)
        ax.barh(i, value, height=0.6, facecolor=PAPER, edgecolor=ADHESIVE, hatch="////", linewidth=HAIRLINE, zorder=3)
        note(ax, f"{display.job_volume(volume)}  ({100 * volume / used:.1f} %)", (value, i), 5.0)
    name_rows(ax, range(len(rows)), [words for words, _ in rows])
    ax.set(
        ylim=(max(len(rows), 1) - 0.5, -0.5),
        xlim=(0, None),
        xlabel=f"adhesive [{unit}], share of what is in the packs used",
    )


# ---- ways of preparing the holes -----------------------------------------------------------------


def steps_of(way: WayCost) -> list[tuple[str, str, float]]:
    """Gather what is done several times: what is done, the same with its number, and hours for all holes.

    Parameters
    ----------
    way
        One way of preparing the holes.

    Returns
    -------
    list of (str, str, float) [h]
        In the order in which each is done first.
    """
    counts: dict[str, int] = {}
    hours: dict[str, float] = {}
    for name, seconds in way.steps:
        counts[name] = counts.get(name, 0) + 1
        hours[name] = hours.get(name, 0.0) + seconds / 3600
    return [(name, f"{counts[name]} × {name}" if counts[name] > 1 else name, time) for name, time in hours.items()]


def ways_picture(plan: PlanWork, *, figure: Figure | None = None) -> Picture:
    """Draw the hours that each way of preparing the holes takes, step by step.

    Parameters
    ----------
    plan
        A plan whose job has ways of preparing the holes.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture

    Raises
    ------
    NotAccepted
        The job has no ways.
    """
    if not plan.ways:
        raise NotAccepted("the job has no ways of preparing the holes: the job file needs [site]")
    least, longest = (pick(plan.ways, key=lambda way: way.hours) for pick in (min, max))
    if least is longest:
        alt = f"Preparing all holes by '{least.name}' takes {duration(60 * least.hours)} of work."
    else:
        both = f"{duration(60 * least.hours)} by '{least.name}' and {duration(60 * longest.hours)} by '{longest.name}'"
        alt = f"Preparing all holes takes {both}: the first saves {100 * least.saved:.0f} %."
    with paper(figure, 0.55 + 0.36 * len(plan.ways)) as target:
        _draw_ways(target, plan)
    numbers = tuple(
        (f"{way.name}: {name}", duration(60 * hours))
        for way in plan.ways
        for _, name, hours in (*steps_of(way), ("", "together", way.hours))
    )
    return Picture(svg_of(target, alt), alt, f"{alt} Step by step, with the times of the job file.", numbers)


def _draw_ways(figure: Figure, plan: PlanWork) -> None:
    ax = axes(figure, 1.35, 1.35, 0.42, 0.06)
    longest = max(way.hours for way in plan.ways)
    room = WIDTH - 2.7
    looks = (
        {"facecolor": CONCRETE},
        {"facecolor": PAPER},
        {"facecolor": PAPER, "hatch": "////"},
        {"facecolor": SHADE, "hatch": "xx"},
    )
    kinds = list(dict.fromkeys(done for way in plan.ways for done, _, _ in steps_of(way)))
    for i, way in enumerate(plan.ways):
        x = 0.0
        for done, name, hours in steps_of(way):
            look: dict[str, Any] = looks[kinds.index(done) % len(looks)]
            ax.barh(i, hours, left=x, height=0.56, edgecolor=GRAIN, linewidth=HAIRLINE, zorder=3, **look)
            if hours / (longest or 1.0) * room > 0.068 * len(name) + 0.06:
                box = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.0, "alpha": 0.9}
                ax.text(x + hours / 2, i, name, ha="center", va="center", color=INK, zorder=5, bbox=box)
            x += hours
        tail = f", {100 * way.saved:.0f} % less" if way.saved > 0.005 else ""
        note(ax, f"{duration(60 * way.hours)}{tail}", (x, i), 5.0)
    chosen = plan.way.name if plan.way else ""
    names = [f"{way.name[:18]}{' (taken)' if way.name == chosen else ''}" for way in plan.ways]
    name_rows(ax, range(len(plan.ways)), names)
    ax.set(
        ylim=(len(plan.ways) - 0.5, -0.5),
        xlim=(0, longest or 1.0),
        xlabel="hours of work for all holes, without walking",
    )


def wanted(value: float | int | None, unit: str = "") -> str:
    """Write a number that the user's figures may not give.

    Examples
    --------
    >>> wanted(None), wanted(3)
    ('not given', '3')
    """
    return (
        "not given"
        if value is None
        else with_unit(round_text(value, 4) if isinstance(value, float) else str(value), unit)
    )
