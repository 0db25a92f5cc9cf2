"""Pictures of strength: how far each check is used, force against bonded length when a hole is short.

And three codes side by side.

Drawn on paper measured in inches like the others. What fails is said by word and sign, and by a hatch, never by ink
alone.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from calc.base.display import Display, plain_text
from calc.base.sheet import Check
from calc.base.units import convert
from calc.show.drawing import (
    ALARM,
    INK,
    PAPER,
    QUIET,
    SHADE,
    WIDTH,
    Picture,
    axes,
    name_rows,
    note,
    note_heights,
    paper,
    say,
    svg_of,
)
from calc.show.embedment.loadpath import Drawn
from calc.strength.codes import ACI
from calc.strength.short.bar import LossRow
from calc.strength.short.formulas import ASSUMPTION, NOT_CONFORMING
from calc.work.embedment.codes import CodeLength
from calc.work.embedment.group import GroupDesign

_ROW, _COLUMN = ("axes fraction", "data"), ("data", "axes fraction")  # places that are named beside or over the axes
_TITLE = 0.30
ROWS = 26  # checks that one picture carries
NAMES = {
    "embedment": "embedment of the schedule",
    "longest": "longest embedment of the approval",
    "joint": "shear across the joint",
    "gap": "distance of the spliced bars",
    "cover": "cover along the hole",
    "edge": "cover at the edge",
    "spacing": "clear distance of the bars",
    "drift": "leaning holes do not meet",
    "thickness": "member behind the hole",
    "oversize": "oversize of the hole",
    "between": "hole between existing bars",
    "existing": "steel of the existing bar",
    "arrangement": "arrangement of the lapped bars",
    "adjacent": "distance of neighbouring laps",
    "lap_cover": "cover of both lapped bars",
    "transverse": "transverse bars across the lap",
    "links": "links across the lap",
    "thick": "lap of a thick bar",
    "strength": "what the tested strength is",
    "joint_concrete": "strength of the new concrete",
    "force_path": "what takes the force",
    "compression": "compression alone",
    "tension_line": "tension line of the member",
    "support_tie": "strut at the support",
    "support_steel": "steel at the support",
    "support_length": "length beyond the support's face",
    "age": "age of the concrete",
    "installer": "certified installer",
    "inspection": "continuous inspection",
    "steel": "steel of the bar",
    "cone": "cone of concrete",
    "pullout": "bond of the anchors",
    "splitting": "splitting of the concrete",
    "sustained": "bond under sustained tension",
    "eccentricity": "eccentricity of the pull",
    "c_min": "least edge distance",
    "s_min": "least spacing",
    "h_min": "least thickness of the member",
    "depth": "least depth of an anchor",
    "shear": "shear on the anchors",
}


def check_name(check: Check) -> str:
    """Name a check in few words; one that is not known keeps its title.

    Parameters
    ----------
    check
        A check of a designed bar group.

    Returns
    -------
    str
    """
    return NAMES.get(check.name, check.title)


def _titled(figure: Figure, title: str) -> float:
    """Write a title, where there is one; returns the height that it takes."""
    if not title:
        return 0.0
    height = figure.get_size_inches()[1]
    figure.text(
        0.16 / WIDTH, 1 - 0.17 / height, title, fontsize=9.4, fontweight="bold", color=INK, ha="left", va="center"
    )
    return _TITLE


# ---- utilisation ---------------------------------------------------------------------------------


def use_words(one: Drawn) -> str:
    """Say what a bar does: an anchorage, a lap, a joint, or an anchor.

    Parameters
    ----------
    one
        A designed bar group.

    Returns
    -------
    str
    """
    return "anchor" if one.case.anchor else one.case.use


def utilisation_pictures(designs: Sequence[Drawn]) -> tuple[Picture, ...]:
    """Draw the utilisation of every check of every group, as many groups to a picture as it carries.

    Parameters
    ----------
    designs
        Designed bar groups.

    Returns
    -------
    tuple of Picture
    """
    parts: list[list[Drawn]] = []
    for one in designs:
        if parts and sum(len(other.sheet.checks) + 1 for other in (*parts[-1], one)) <= ROWS:
            parts[-1].append(one)
        else:
            parts.append([one])
    return tuple(utilisation_picture(part) for part in parts)


def utilisation_picture(designs: Sequence[Drawn], *, figure: Figure | None = None) -> Picture:
    """Draw the utilisation of every check of some groups.

    Parameters
    ----------
    designs
        Designed bar groups.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    checks = [check for one in designs for check in one.sheet.checks]
    marks = ", ".join(one.case.mark for one in designs)
    failed = [check for check in checks if check.verdict == "fails"]
    owed = len(checks) - len(failed) - sum(check.passes for check in checks)
    tail = f", and {owed} {'is' if owed == 1 else 'are'} owed" if owed else ""
    most = max((c for c in checks if c.utilisation is not None), key=lambda c: c.utilisation or 0.0, default=checks[0])
    if failed:
        fail = "fails" if len(failed) == 1 else "fail"
        alt = (
            f"Of {len(checks)} checks of {marks}, {len(failed)} {fail}, the first of them {check_name(failed[0])} at"
            f" {_used(failed[0])}{tail}."
        )
    elif owed:
        alt = f"Of {len(checks)} checks of {marks}, {owed} {'is' if owed == 1 else 'are'} owed and the rest pass."
    else:
        alt = f"All {len(checks)} checks of {marks} pass, and the most used is {check_name(most)} at {_used(most)}."
    with paper(figure, 0.62 + 0.215 * len(checks) + 0.315 * len(designs)) as target:
        _draw_utilisation(target, designs)
    numbers = tuple(
        (f"{one.case.mark}: {check_name(check)}", _outcome(check)) for one in designs for check in one.sheet.checks
    )
    return Picture(
        svg_of(target, alt), alt, f"Utilisation of every check of {marks}: demand over resistance, at most 1.", numbers
    )


def _used(check: Check) -> str:
    return "no number" if check.utilisation is None else check.used


def _outcome(check: Check) -> str:
    if check.passes:
        return f"✓ {_used(check)}"
    if check.verdict == "owed":
        return f"{check.verdict_words}: {check.reason}"
    return f"✗ {_used(check)} FAILS" if check.utilisation is not None else f"✗ FAILS: {check.reason}"


def _draw_utilisation(figure: Figure, designs: Sequence[Drawn]) -> None:
    ax = axes(figure, 2.55, 1.35, 0.44, 0.22)
    known = [c.utilisation for one in designs for c in one.sheet.checks if c.utilisation is not None]
    end = max(1.12, min(1.06 * max(known, default=1.0), 2.0))
    y, labels = 0.0, []
    for one in designs:
        y += 0.45
        words = f"{one.case.mark}: {one.case.bar.text}, {use_words(one)}"
        note(ax, words, (0.0, y), -6.0, xycoords=_ROW, fontsize=8.2, fontweight="bold")
        for check in one.sheet.checks:
            y += 1.0
            labels.append((y, check_name(check)))
            _utilisation_bar(ax, y, check, end)
        y += 1.0
    ax.set(ylim=(y - 0.2, -0.15), xlim=(0.0, end))
    ax.axvline(1.0, color=INK, linewidth=1.1, zorder=5)
    note(ax, "1.0", (1.0, 1.0), dy=3.0, xycoords=_COLUMN)
    name_rows(ax, *zip(*labels, strict=True))
    ax.set_xticks([tick for tick in (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0) if tick <= end + 1e-9])
    ax.set_xlabel("utilisation: demand over resistance")


def _utilisation_bar(ax: Axes, y: float, check: Check, end: float) -> None:
    used = 0.0 if check.utilisation is None else check.utilisation
    look: dict[str, Any] = (
        {"color": INK} if check.passes else {"facecolor": PAPER, "edgecolor": ALARM, "hatch": "////", "linewidth": 0.8}
    )
    ax.barh(y, min(used, end), height=0.56, zorder=3, **look)
    cut = ", cut" if used > end else ""
    words = f"{_outcome(check) if check.utilisation is not None else check.verdict_words}{cut}"
    ink: dict[str, Any] = {"color": INK} if check.passes else {"color": ALARM, "fontweight": "bold"}
    note(ax, words, (1.0, y), 6.0, xycoords=_ROW, **ink)


# ---- strength when short -------------------------------------------------------------------------


def resistance_picture(
    one: GroupDesign, *, missing: LossRow | None = None, title: str = "", figure: Figure | None = None
) -> Picture:
    """Draw the force that a bar resists against its bonded length, by the code in use.

    Parameters
    ----------
    one
        A designed bar group.
    missing
        What a volume missing from the full hole costs, to be marked; none by default.
    title
        Written above the picture; none when it is empty.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    case, display, law = one.case, one.case.display, one.law
    needed = one.resistance.needed
    full, design = display.force(one.capacity_full), display.given_force(one.force)
    if one.least_dose is None:
        tail = f"which does not reach the design force of {design}"
    else:
        tail = f"and its design force of {design} down to {display.length(needed)} of bonded length"
    alt = (
        f"By {case.code}, a full hole of {case.mark} lets the bar carry {full}, {tail}; below"
        f" {display.length(law.least_length)} nothing is counted on."
    )
    with paper(figure, 3.95 + (_TITLE if title else 0.0)) as target:
        _draw_resistance(target, one, missing, _titled(target, title))
    numbers = [
        ("bonded length of the full hole", display.length(one.bonded_full)),
        ("force with the hole full", full),
        ("design force", design),
        ("bonded length that it needs", display.length(needed)),
        ("least length of the code", display.length(law.least_length)),
        ("yield force of the bar", display.force(law.yield_force)),
        (
            "least dose that still carries the force",
            "none" if one.least_dose is None else display.volume(one.least_dose),
        ),
    ]
    if missing is not None:
        numbers += [
            ("volume missing", display.volume(missing.V_short)),
            ("force that is left", display.force(missing.N_R)),
        ]
    return Picture(
        svg_of(target, alt),
        alt,
        f"Force against bonded length for {case.mark}, by {case.code}. A model, not a measurement.",
        tuple(numbers),
    )


def _draw_resistance(figure: Figure, one: GroupDesign, missing: LossRow | None, head: float) -> None:
    display, law, curve = one.case.display, one.law, one.resistance
    needed, end = curve.needed, curve.end
    unit_l, unit_n = display.length_unit, display.force_unit
    notes = [*textwrap.wrap(ASSUMPTION, 158), *textwrap.wrap(NOT_CONFORMING, 158)]
    foot = 0.14 + 0.135 * len(notes)
    bottom, top = foot + 0.48, 0.46 + head
    ax = axes(figure, 0.62, 1.95, bottom, top)
    high = 1.16 * max(curve.most, one.force)

    def x(value: Any) -> Any:
        return convert(1.0, "mm", unit_l) * value

    def n(value: Any) -> Any:
        return convert(1.0, "N", unit_n) * value

    ax.set(xlim=(0.0, x(end)), ylim=(0.0, n(high)))
    ax.axvspan(0.0, x(law.least_length), color=SHADE, linewidth=0, zorder=1)
    ax.axvline(x(law.least_length), color=INK, linewidth=0.8, linestyle=(0, (5, 3)), zorder=2)
    if one.least_dose is not None:
        ax.axvspan(x(needed), x(one.bonded_full), color=SHADE, linewidth=0, zorder=1)
    ax.axhline(
        n(one.force),
        color=ALARM if one.least_dose is None else INK,
        linewidth=1.0,
        linestyle=(0, (7, 2, 1.5, 2)),
        zorder=3,
    )
    ax.plot(
        x(curve.lengths[~curve.inside]),
        n(curve.forces[~curve.inside]),
        color=QUIET,
        linewidth=1.0,
        linestyle=(0, (2, 2)),
        zorder=3,
    )
    ax.plot(
        x(curve.lengths[curve.inside]),
        n(curve.forces[curve.inside]),
        color=INK,
        linewidth=1.9,
        zorder=4,
        solid_capstyle="butt",
    )
    ax.plot(
        [0.0, x(min(law.least_length, one.bonded_full))],
        [0.0, 0.0],
        color=INK,
        linewidth=3.0,
        zorder=4,
        clip_on=False,
        solid_capstyle="butt",
    )
    _force_labels(ax, one, high, n)
    _length_marks(ax, one, x, n, high)
    if missing is not None:
        at, left = x(missing.l_b), n(missing.N_R)
        ax.plot(
            [at],
            [left],
            marker="v",
            markersize=7.0,
            color=ALARM,
            markeredgecolor=PAPER,
            linestyle="none",
            zorder=7,
            clip_on=False,
        )
        _told(
            ax,
            at,
            left,
            0.13 * n(one.force),
            f"{display.volume(missing.V_short)} missing: {display.force(missing.N_R)}",
            ALARM,
            x(end),
        )
    _missing_axis(ax, one, x)
    ax.set_xlabel(f"bonded length [{unit_l}]")
    ax.set_ylabel(f"force that the bar resists [{unit_n}]", labelpad=4)
    for number, line in enumerate(notes):
        y = (foot - 0.06 - 0.135 * number) / (3.95 + head)
        figure.text(0.16 / WIDTH, y, line, fontsize=7.0, color=INK, ha="left", va="top")


def _force_labels(ax: Axes, one: GroupDesign, high: float, n: Any) -> None:
    """Name the heights at the right: design force, full hole, and yield where it is in sight."""
    display, law = one.case.display, one.law
    labels = [
        (n(one.force), f"design force {display.given_force(one.force)}", INK),
        (n(one.capacity_full), f"full hole {display.force(one.capacity_full)}", INK),
    ]
    if law.yield_force <= high and abs(law.yield_force - one.capacity_full) > 1e-6 * high:
        labels.append((n(law.yield_force), f"bar yields {display.force(law.yield_force)}", QUIET))
    note_heights(ax, labels, 11.2)


def _told(ax: Axes, at: float, top: float, height: float, words: str, colour: str, end: float) -> None:
    """Say what a mark means, beside a thin line under it, on the side where there is room."""
    if top > 0:
        ax.plot([at, at], [0.0, top], color=colour, linewidth=0.6, zorder=4.5)
    room = (1 - at / end) * (WIDTH - 0.62 - 1.95)
    right = room > 1.35
    patch = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.85}
    note(ax, words, (at, height), 5.0 if right else -5.0, color=colour, linespacing=1.2, zorder=8, bbox=patch)


def _length_marks(ax: Axes, one: GroupDesign, x: Any, n: Any, high: float) -> None:
    display, law, curve = one.case.display, one.law, one.resistance
    needed, end = curve.needed, curve.end
    ax.plot(
        [x(one.bonded_full)],
        [n(one.capacity_full)],
        marker="o",
        markersize=6.4,
        color=INK,
        markeredgecolor=PAPER,
        zorder=6,
        linestyle="none",
    )
    if one.least_dose is not None:
        at = curve.at_needed
        ax.plot(
            [x(needed)],
            [n(at)],
            marker="D",
            markersize=6.2,
            color=INK,
            markeredgecolor=PAPER,
            zorder=6,
            linestyle="none",
        )
        words = f"needs {display.length(needed)},\nleast dose {display.volume(one.least_dose)}"
        _told(ax, x(needed), n(at), 0.40 * n(one.force), words, INK, x(end))
    wide = law.least_length / end
    words = f"under the least length, {display.length(law.least_length)}:\nnothing is counted on"
    turned = wide * (WIDTH - 0.62 - 1.95) < 2.1
    height = 0.5 * n(high) if turned else 0.70 * n(one.force)
    say(ax, x(law.least_length) / 2, height, words, rotation=90 if turned else 0, backing=SHADE, zorder=5)


def _missing_axis(ax: Axes, one: GroupDesign, x: Any) -> None:
    """Write over the picture how much adhesive is missing where the bond has become so short."""
    law, ring = one.law, one.resistance.ring
    unit = one.case.display.volume_unit
    # Volumes up to the existing bar's end cover cost no lapped length.
    free, total = ring * law.start, ring * (law.start + one.bonded_full)
    whole = convert(total, "mm³", unit)
    raw = whole / 7
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= raw)
    ticks = [(one.bonded_full, "0" if law.start == 0 else f"0 to {plain_text(convert(free, 'mm³', unit), 2)}")]
    value = step
    while value <= whole * (1 + 1e-9):
        volume = convert(value, unit, "mm³")
        if volume > free * 1.000001 + 0.55 * convert(step, unit, "mm³") * (law.start > 0):
            ticks.append((law.start + one.bonded_full - volume / ring, plain_text(value, 4)))
        value += step
    over = ax.secondary_xaxis("top")
    over.set_xticks([x(place) for place, _ in ticks], [words for _, words in ticks])
    over.set_xlabel(f"adhesive missing at the mouth [{unit}]", labelpad=4)


# ---- three codes ---------------------------------------------------------------------------------


def codes_picture(
    one: GroupDesign, found: Sequence[CodeLength], *, title: str = "", figure: Figure | None = None
) -> Picture:
    """Draw the length that each code asks for the same bar.

    As if cast in, and post-installed where its approval's values are known.

    Parameters
    ----------
    one
        A designed bar group.
    found
        The same bar by each code.
    title
        Written above the picture; none when it is empty.
    figure
        Figure that is cleared and drawn on again; a new one by default.

    Returns
    -------
    Picture
    """
    case, display = one.case, one.case.display
    known = [(code.code, code.cast_in) for code in found if code.cast_in is not None]
    listed = ", ".join(f"{display.length(length)} by {name}" for name, length in known)
    alt = (
        f"Cast in, the bar of {case.mark} would need {listed}."
        if known
        else f"None of the codes covers the bar of {case.mark}."
    )
    with paper(figure, 0.78 + 0.58 * len(found) + (_TITLE if title else 0.0)) as target:
        _draw_codes(target, one, found, _titled(target, title))
    what = "lap length" if case.use == "lap" else "anchorage length"
    numbers = tuple(row for code in found for row in _code_numbers(code, display))
    return Picture(
        svg_of(target, alt), alt, f"The same bar of {case.mark} by three codes: {what} for the same force.", numbers
    )


def _code_numbers(code: CodeLength, display: Display) -> list[tuple[str, str]]:
    rows = [(f"{code.code}, cast in", "none" if code.cast_in is None else display.length(code.cast_in))]
    if code.post_installed is not None:
        rows.append((f"{code.code}, post-installed", display.length(code.post_installed)))
    return rows


def _draw_codes(figure: Figure, one: GroupDesign, found: Sequence[CodeLength], head: float) -> None:
    display = one.case.display
    unit = display.length_unit

    def shown(length: float) -> float:
        return convert(length, "mm", unit)

    ax = axes(figure, 1.55, 0.35, 0.44, 0.26 + head)
    lengths = [value for code in found for value in (code.cast_in, code.post_installed) if value is not None]
    end = 1.6 * max([*lengths, one.bonded_full])  # room for the words behind the bars
    for i, code in enumerate(found):
        pairs = [
            (code.cast_in, "cast in", SHADE, -0.19),
            (code.post_installed, "post-installed", QUIET, 0.19),
        ]
        if code.post_installed is None:
            pairs = [
                (
                    code.cast_in,
                    "as cast in" if code.code == ACI else "cast in; post-installed not known",
                    SHADE,
                    0.0,
                )
            ]
        for value, words, colour, shift in pairs:
            if value is None:
                say(ax, shown(0.01 * end), i + shift, "not covered here; the table says why", ha="left", color=QUIET)
                continue
            wide = shown(value)
            ax.barh(i + shift, wide, height=0.32, color=colour, edgecolor=INK, linewidth=0.6, zorder=3)
            patch = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8}
            note(ax, f"{display.length(value)}, {words}", (wide, i + shift), 5.0, zorder=6, bbox=patch)
    ax.set(ylim=(len(found) - 0.5, -0.55), xlim=(0.0, shown(end)))
    ax.axvline(shown(one.bonded_full), color=INK, linewidth=1.0, linestyle=(0, (5, 3)), zorder=2)
    place = "lapped in the schedule" if one.case.use == "lap" else "schedule"
    note(ax, f"{place}: {display.size(one.bonded_full)}", (shown(one.bonded_full), 1.0), dy=3.0, xycoords=_COLUMN)
    names = [f"{code.code}\n(this job)" if code.code == one.case.code else code.code for code in found]
    name_rows(ax, range(len(found)), names)
    ax.set_xlabel(f"{'lap' if one.case.use == 'lap' else 'anchorage'} length [{unit}]")
