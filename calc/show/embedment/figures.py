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
    BOLD,
    FIRM,
    HAIRLINE,
    HEAVY,
    INK,
    PAPER,
    QUIET,
    SHADE,
    THIN,
    TITLE,
    WIDTH,
    Picture,
    axes,
    listed,
    name_rows,
    note,
    note_heights,
    paper,
    say,
    sheet,
    strokes,
    svg_of,
)
from calc.show.embedment.loadpath import Drawn
from calc.strength.codes import ACI
from calc.strength.short.bar import LossRow
from calc.strength.short.formulas import ASSUMPTION, NOT_CONFORMING
from calc.work.embedment.codes import CodeLength
from calc.work.embedment.group import GroupDesign

_ROW, _COLUMN = ("axes fraction", "data"), ("data", "axes fraction")  # places that are named beside or over the axes
_TITLE, _CHECK = 0.26, 0.19  # inches of a title, of a check
_LEFT, _RIGHT = 0.55, 1.95  # inches beside the picture of resistance
_WRAP = 118  # letters of a line under it
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
        0.16 / WIDTH, 1 - 0.17 / height, title, fontsize=TITLE, fontweight="bold", color=INK, ha="left", va="center"
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
    with paper(figure, 0.62 + _CHECK * (len(checks) + 1.45 * len(designs))) as target:
        _draw_utilisation(target, designs)
    numbers = tuple(
        (f"{one.case.mark}: {check_name(check)}", _outcome(check)) for one in designs for check in by_weight(one)
    )
    caption = f"{_governs(designs)} Utilisation is demand over resistance, at most 1; the check that governs is marked."
    return Picture(svg_of(target, alt), alt, caption, numbers)


def by_weight(one: Drawn) -> list[Check]:
    """Sort a group's checks: those that fail, those that are owed, then the most used first.

    Parameters
    ----------
    one
        A designed bar group.

    Returns
    -------
    list of Check
    """
    weight = {"fails": 0, "owed": 1}

    def key(check: Check) -> tuple[int, float]:
        return weight.get(check.verdict, 2), -(math.inf if check.utilisation is None else check.utilisation)

    return sorted(one.sheet.checks, key=key)


def _governs(designs: Sequence[Drawn]) -> str:
    """Say which check governs which groups, what fails first."""
    marks: dict[tuple[bool, str], list[str]] = {}
    for one in designs:
        first = by_weight(one)[0]
        marks.setdefault((first.passes, check_name(first)), []).append(one.case.mark)
    told = [
        f"{name} {'governs' if passes else 'does not pass in'} {listed(names)}"
        for (passes, name), names in sorted(marks.items(), key=lambda item: item[0][0])
    ]
    words = "; ".join(told)
    return f"{words[:1].upper()}{words[1:]}."


def _used(check: Check) -> str:
    return "no number" if check.utilisation is None else check.used


def _outcome(check: Check) -> str:
    if check.passes:
        return f"✓ {_used(check)}"
    if check.verdict == "owed":
        return f"{check.verdict_words}: {check.reason}"
    return f"✗ {_used(check)} FAILS" if check.utilisation is not None else f"✗ FAILS: {check.reason}"


def _draw_utilisation(figure: Figure, designs: Sequence[Drawn]) -> None:
    ax = axes(figure, 2.10, 1.75, 0.42, 0.20)
    known = [c.utilisation for one in designs for c in one.sheet.checks if c.utilisation is not None]
    end = max(1.12, min(1.06 * max(known, default=1.0), 2.0))
    y, labels = 0.0, []
    start = -(2.10 - 0.05) / (WIDTH - 2.10 - 1.75)  # of headings, at the paper's edge: they may be long
    for one in designs:
        y += 0.45
        words = f"{one.case.mark}: {one.case.bar.text}, {use_words(one)}"
        note(ax, words, (start, y), 0.1, xycoords=_ROW, fontweight="bold")
        for number, check in enumerate(by_weight(one)):
            y += 1.0
            labels.append((y, check_name(check)))
            _utilisation_bar(ax, y, check, end, governs=not number)
        y += 1.0
    ax.set(ylim=(y - 0.2, -0.15), xlim=(0.0, end))
    ax.axvline(1.0, color=INK, linewidth=FIRM, zorder=5)
    note(ax, "1.0", (1.0, 1.0), dy=3.0, xycoords=_COLUMN)
    name_rows(ax, *zip(*labels, strict=True))
    ax.set_xticks([tick for tick in (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0) if tick <= end + 1e-9])
    ax.set_xlabel("utilisation: demand over resistance")


def _utilisation_bar(ax: Axes, y: float, check: Check, end: float, *, governs: bool) -> None:
    used = 0.0 if check.utilisation is None else check.utilisation
    look: dict[str, Any] = (
        {"facecolor": INK if governs else QUIET, "edgecolor": "none"}
        if check.passes
        else {"facecolor": PAPER, "edgecolor": ALARM, "hatch": "////", "linewidth": THIN}
    )
    ax.barh(y, min(used, end), height=0.56, zorder=3, **look)
    if used > end:  # the bar goes on: it is drawn broken
        for shift in (0.0, 0.018):
            at = (0.95 + shift) * end
            strokes(ax, [[(at, y + 0.4), (at + 0.012 * end, y - 0.4)]], edgecolor=PAPER, linewidth=HEAVY, zorder=4)
    words = _outcome(check) if check.utilisation is not None else check.verdict_words
    words += " ◂ governs" if governs else ""
    weight = "normal" if check.passes and not governs else "bold"
    ink: dict[str, Any] = {"color": INK if check.passes else ALARM, "fontweight": weight}
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
    with paper(figure, 2.26 + 0.135 * len(_notes()) + (_TITLE if title else 0.0)) as target:
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
    caption = f"{alt} Force against bonded length: a model, not a measurement."
    return Picture(svg_of(target, alt), alt, caption, tuple(numbers))


def _draw_resistance(figure: Figure, one: GroupDesign, missing: LossRow | None, head: float) -> None:
    display, law, curve = one.case.display, one.law, one.resistance
    needed, end = curve.needed, curve.end
    unit_l, unit_n = display.length_unit, display.force_unit
    notes, paper_of = _notes(), sheet(figure)
    foot = 0.135 * len(notes)
    ax = axes(figure, _LEFT, _RIGHT, foot + 0.46, 0.44 + head)
    high = 1.16 * max(curve.most, one.force)

    def x(value: Any) -> Any:
        return convert(1.0, "mm", unit_l) * value

    def n(value: Any) -> Any:
        return convert(1.0, "N", unit_n) * value

    ax.set(xlim=(0.0, x(end)), ylim=(0.0, n(high)))
    ax.axvspan(0.0, x(law.least_length), color=SHADE, linewidth=0, zorder=1)
    ax.axvline(x(law.least_length), color=INK, linewidth=THIN, linestyle=(0, (5, 3)), zorder=2)
    if one.least_dose is not None:
        ax.axvspan(x(needed), x(one.bonded_full), color=SHADE, linewidth=0, zorder=1)
    ax.axhline(
        n(one.force),
        color=ALARM if one.least_dose is None else INK,
        linewidth=FIRM,
        linestyle=(0, (7, 2, 1.5, 2)),
        zorder=3,
    )
    ax.plot(
        x(curve.lengths[~curve.inside]),
        n(curve.forces[~curve.inside]),
        color=QUIET,
        linewidth=FIRM,
        linestyle=(0, (2, 2)),
        zorder=3,
    )
    ax.plot(
        x(curve.lengths[curve.inside]),
        n(curve.forces[curve.inside]),
        color=INK,
        linewidth=HEAVY,
        zorder=4,
        solid_capstyle="butt",
    )
    ax.plot(
        [0.0, x(min(law.least_length, one.bonded_full))],
        [0.0, 0.0],
        color=INK,
        linewidth=BOLD,
        zorder=4,
        clip_on=False,
        solid_capstyle="butt",
    )
    if missing is not None:
        at, left = x(missing.l_b), n(missing.N_R)
        look: dict[str, Any] = {"marker": "v", "markersize": 7.0, "markeredgecolor": PAPER, "linestyle": "none"}
        ax.plot([at, at], [0.0, left], color=ALARM, linewidth=HAIRLINE, zorder=4.5)
        ax.plot([at], [left], color=ALARM, zorder=7, clip_on=False, **look)
    _force_labels(ax, one, high, n, missing)
    _length_marks(ax, one, x, n, high)
    _missing_axis(ax, one, x)
    for number, line in enumerate(reversed(notes)):
        say(paper_of, 0.05, 0.07 + 0.135 * number, line, ha="left")
    ax.set_xlabel(f"bonded length [{unit_l}]")
    ax.set_ylabel(f"force resisted [{unit_n}]", labelpad=4)


def _notes() -> list[str]:
    """What is assumed, in lines: it stands in the picture, which may be cut out and passed on."""
    return [*textwrap.wrap(ASSUMPTION, _WRAP), *textwrap.wrap(NOT_CONFORMING, _WRAP)]


def _force_labels(ax: Axes, one: GroupDesign, high: float, n: Any, missing: LossRow | None) -> None:
    """Name the heights at the right: design force, full hole, and yield where it is in sight."""
    display, law = one.case.display, one.law
    design = f"design force {display.given_force(one.force)}"
    if one.least_dose is not None:
        length, dose = display.length(one.resistance.needed), display.volume(one.least_dose)
        design += f":\n◆ needs {length} bonded,\nleast dose {dose}"
    labels = [
        (n(one.force), design, ALARM if one.least_dose is None else INK),
        (n(one.capacity_full), f"● full hole {display.force(one.capacity_full)}", INK),
    ]
    if law.yield_force <= high and abs(law.yield_force - one.capacity_full) > 1e-6 * high:
        labels.append((n(law.yield_force), f"bar yields {display.force(law.yield_force)}", QUIET))
    if missing is not None:
        lost, left = display.volume(missing.V_short), display.force(missing.N_R)
        labels.append((n(missing.N_R), f"▼ {lost} missing:\n{left}", ALARM))
    note_heights(ax, labels)


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
        ax.plot([x(needed)] * 2, [0.0, n(at)], color=INK, linewidth=HAIRLINE, zorder=4.5)
    wide = _across(law.least_length / end)
    least = display.length(law.least_length)
    words = (
        f"under the least length, {least}:\nnothing is counted on" if wide > 2.3 else f"under {least}\nnothing counts"
    )
    turned, height = (90, 0.5 * n(high)) if wide < 1.15 else (0, 0.45 * n(one.force))
    if wide > 0.36:  # in a narrower stretch there is no room
        say(ax, x(law.least_length) / 2, height, words, rotation=turned, zorder=5)


def _across(share: float) -> float:
    """Inches of the picture that a share of its axis takes."""
    return share * (WIDTH - _LEFT - _RIGHT)


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
    # Numbers that would run into one another go, the one of the full hole last of all.
    taken = [ticks[0]]
    for place, words in ticks[1:]:
        room = [_across(abs(place - other) / one.resistance.end) for other, _ in taken]
        if min(room) > 0.035 * (len(words) + max(len(said) for _, said in taken)) + 0.1:
            taken.append((place, words))
    ticks = taken
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
    with paper(figure, 0.72 + 0.42 * len(found) + (_TITLE if title else 0.0)) as target:
        _draw_codes(target, one, found, _titled(target, title))
    what = "lap length" if case.use == "lap" else "anchorage length"
    numbers = tuple(row for code in found for row in _code_numbers(code, display))
    caption = f"{alt} The same {what} for the same force; why they differ stands in the table."
    return Picture(svg_of(target, alt), alt, caption, numbers)


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

    ax = axes(figure, 1.32, 2.72, 0.42, 0.24 + head)
    lengths = [value for code in found for value in (code.cast_in, code.post_installed) if value is not None]
    end = 1.04 * max([*lengths, one.bonded_full])
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
                note(ax, "not covered here; the table says why", (1.0, i + shift), 6.0, xycoords=_ROW, color=QUIET)
                continue
            wide = shown(value)
            ax.barh(i + shift, wide, height=0.32, color=colour, edgecolor=INK, linewidth=HAIRLINE, zorder=3)
            note(ax, f"{display.length(value)}, {words}", (1.0, i + shift), 6.0, xycoords=_ROW)
    ax.set(ylim=(len(found) - 0.5, -0.55), xlim=(0.0, shown(end)))
    ax.axvline(shown(one.bonded_full), color=INK, linewidth=FIRM, linestyle=(0, (5, 3)), zorder=2)
    place = "lapped in the schedule" if one.case.use == "lap" else "schedule"
    note(ax, f"{place}: {display.size(one.bonded_full)}", (shown(one.bonded_full), 1.0), dy=3.0, xycoords=_COLUMN)
    names = [f"{code.code}\n(this job)" if code.code == one.case.code else code.code for code in found]
    name_rows(ax, range(len(found)), names)
    ax.set_xlabel(f"{'lap' if one.case.use == 'lap' else 'anchorage'} length [{unit}]")
