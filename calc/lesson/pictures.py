"""The lesson's pictures: few lines, large lettering, words beside what they name.

Written as SVG, in the colours of the house.

They are read from the back of a room, so a picture says one thing. Status is told by shape and word, never by colour
alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from calc.lesson.numbers import Pair
from calc.show.drawing import ADHESIVE, ADHESIVE_INK, ALARM, CONCRETE, GRAIN, INK, PAPER, QUIET, RIB, STEEL, Picture

_FONT = "DejaVu Sans, Verdana, sans-serif"


def _text(
    x: float,
    y: float,
    words: str,
    *,
    size: float = 19,
    anchor: str = "start",
    colour: str = INK,
    bold: bool = False,
    clear: bool = False,
) -> str:
    """Write words; ``clear`` keeps a rim around them free of what is drawn below."""
    weight = ' font-weight="600"' if bold else ""
    if clear:
        weight += f' stroke="{PAPER}" stroke-width="8" stroke-linejoin="round" paint-order="stroke"'
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}"'
        f' fill="{colour}"{weight}>{escape(words)}</text>'
    )


def _box(x: float, y: float, wide: float, high: float, fill: str, extra: str = "") -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{max(wide, 0):.1f}" height="{max(high, 0):.1f}" fill="{fill}" {extra}/>'
    )


def _line(x_1: float, y_1: float, x_2: float, y_2: float, colour: str = INK, width: float = 1.5, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x_1:.1f}" y1="{y_1:.1f}" x2="{x_2:.1f}" y2="{y_2:.1f}" stroke="{colour}"'
        f' stroke-width="{width:g}"{dashed}/>'
    )


def _disc(x: float, y: float, radius: float, fill: str, stroke: str = INK) -> str:
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="{fill}" stroke="{stroke}" stroke-width="1.5"/>'


def _svg(wide: float, high: float, alt: str, parts: Sequence[str]) -> str:
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" role="img" aria-label="{escape(alt)}"'
        f' font-family="{_FONT}">'
    )
    return head + _box(0, 0, wide, high, PAPER) + "".join(parts) + "</svg>"


def _picture(wide: float, high: float, alt: str, parts: Sequence[str], numbers: Sequence[tuple[str, str]]) -> Picture:
    return Picture(_svg(wide, high, alt, parts), alt, alt, tuple(numbers))


# ---- the sum: hole less bar is ring --------------------------------------------------------------


def sum_picture(
    *, d_0: float, phi: float, names: Sequence[str], values: Sequence[str], alt: str, widest: float = 0.0
) -> Picture:
    """Draw hole, bar and ring as discs to one scale, with what each holds.

    Parameters
    ----------
    d_0, phi
        Diameters of hole and bar [mm].
    names, values
        Words and volumes for hole, bar and ring.
    alt
        The finding in one sentence.
    widest
        Diameter that fills a disc's place [mm]; the hole's without it.

    Returns
    -------
    Picture
    """
    high, middle, place = 330.0, 152.0, 94.0
    scale = place / max(d_0, widest)
    outer, inner = d_0 * scale, phi * scale
    parts = []
    for number, x in enumerate((110.0, 350.0, 590.0)):
        if number != 1:
            parts.append(_disc(x, middle, outer, ADHESIVE))
        if number == 1:
            parts.append(_disc(x, middle, inner, STEEL))
        if number == 2:
            parts.append(_disc(x, middle, inner, PAPER))
        parts.append(_text(x, 34, names[number], size=26, anchor="middle", bold=True))
        parts.append(
            _text(
                x,
                296,
                values[number],
                size=34,
                anchor="middle",
                bold=number == 2,
                colour=ADHESIVE_INK if number == 2 else INK,
            )
        )
    parts += [
        _text(230, middle + 14, "−", size=38, anchor="middle"),
        _text(470, middle + 14, "=", size=38, anchor="middle"),
    ]
    return _picture(700, high, alt, parts, list(zip(names, values, strict=True)))


# ---- the section ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Note:
    """Words beside the section at a depth [mm]; ``strong`` for what the scene is about, ``alarm`` for what is wrong."""

    depth: float
    words: str
    strong: bool = False
    alarm: bool = False


_HIGH, _MOUTH, _FLOOR, _CENTRE, _BROAD, _SECTION = 520.0, 118.0, 480.0, 140.0, 140.0, 600.0
_EDGE, _WORDS, _LINE = 270.0, 292.0, 29.0  # right edge of the concrete; where words begin; from line to line


def section(
    pair: Pair,
    *,
    x: float,
    surface: float,
    spilt_share: float = 0.0,
    pocket: float = 0.0,
    pocket_look: str = "air",
    notes: Sequence[Note] = (),
    foot: str = "",
    alt: str,
    bar: bool = True,
) -> Picture:
    """Draw the hole cut open, with the bar at a depth and the mortar at its level.

    Parameters
    ----------
    pair
        Bar and hole.
    x
        Depth of the bar's end [mm].
    surface
        Depth of the mortar's surface below the mouth [mm].
    spilt_share
        What came out, as a share of what was injected; it sets the size of the bead.
    pocket
        Length at the back that holds something else than good mortar [mm].
    pocket_look
        ``"air"`` or ``"old"``.
    notes
        Words beside the drawing; those that would touch are moved apart.
    foot
        Line under the drawing.
    alt
        The finding in one sentence.
    bar
        Whether the bar is there.

    Returns
    -------
    Picture
    """
    l_v = pair.l_v
    scale = (_FLOOR - _MOUTH) / l_v
    half, thick = _BROAD / 2, _BROAD / 2 * pair.phi / pair.d_0
    left, right = _CENTRE - half, _CENTRE + half

    def y(depth: float) -> float:
        return _MOUTH + depth * scale

    parts = [_box(10, _MOUTH, _EDGE - 10, _FLOOR + 26 - _MOUTH, CONCRETE)]
    parts += [_disc(20 + (37 * k) % 240, _MOUTH + 14 + (61 * k) % 370, 2.2, GRAIN, "none") for k in range(44)]
    parts.append(_box(left, _MOUTH, _BROAD, _FLOOR - _MOUTH, PAPER))
    parts.append(_box(left, y(surface), _BROAD, _FLOOR - y(surface), ADHESIVE))
    if pocket > 0:
        fill = PAPER if pocket_look == "air" else GRAIN
        parts.append(
            _box(
                left,
                y(l_v - pocket),
                _BROAD,
                pocket * scale,
                fill,
                f'stroke="{ALARM}" stroke-width="2.5" stroke-dasharray="7 5"',
            )
        )
    if spilt_share > 0:
        size = 8 + 34 * min(1.0, math.sqrt(spilt_share))
        for side in (-1, 1):
            middle = _CENTRE + side * (half + size * 0.3)
            wide, tall = size * 1.3, _MOUTH - size * 1.7
            curve = f"M {middle - wide:.1f} {_MOUTH} Q {middle:.1f} {tall:.1f} {middle + wide:.1f} {_MOUTH} Z"
            parts.append(f'<path d="{curve}" fill="{ADHESIVE}"/>')
    if bar:
        end = y(x)
        parts.append(_box(_CENTRE - thick, 22, 2 * thick, end - 22, STEEL, f'stroke="{INK}" stroke-width="1.5"'))
        parts += [
            _line(_CENTRE - thick + 4, at, _CENTRE + thick - 4, at - 9, RIB, 2) for at in range(44, int(end) - 6, 22)
        ]
    outline = f"M 10 {_MOUTH} H {left:.1f} V {_FLOOR} H {right:.1f} V {_MOUTH} H {_EDGE}"
    parts.append(f'<path d="{outline}" fill="none" stroke="{INK}" stroke-width="2.5"/>')
    parts += _notes(notes, y, right)
    if foot:
        parts.append(_text(10, _HIGH + 5, foot, size=22, colour=QUIET))
    return _picture(
        _SECTION, _HIGH + 12, alt, parts, [(str(number), note.words) for number, note in enumerate(notes, 1)]
    )


def _notes(notes: Sequence[Note], y: Callable[[float], float], right: float) -> list[str]:
    """Write the notes at the right of the section, in the order of their depths and never over each other."""
    told = [(note, _wrap(note.words, 18)) for note in sorted(notes, key=lambda one: one.depth)]
    places, last = [], -1e9
    for note, lines in told:
        places.append(max(y(note.depth), last + _LINE - 3))
        last = places[-1] + _LINE * len(lines)
    # What would stand below the drawing goes up again, and what it meets with it.
    limit = _HIGH
    for number in reversed(range(len(told))):
        places[number] = min(places[number], limit - _LINE * len(told[number][1]))
        limit = places[number] - _LINE + 3
    parts = []
    for (note, lines), at in zip(told, places, strict=True):
        bold = note.strong or note.alarm
        colour = ALARM if note.alarm else ADHESIVE_INK if note.strong else INK
        parts.append(_line(right, y(note.depth), _WORDS - 7, at, colour, 1.6, "" if bold else "4 4"))
        for number, line in enumerate(lines):
            parts.append(_text(_WORDS, at + 9 + _LINE * number, line, size=25, colour=colour, bold=bold))
    return parts


def _wrap(words: str, width: int) -> list[str]:
    lines = [""]
    # A number keeps its unit beside it.
    for word in re.sub(r"(\d) (?=\D)", "\\1\u00a0", words).split(" "):
        if lines[-1] and len(lines[-1]) + 1 + len(word) > width:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


# ---- lengths side by side ------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """One bar of `lengths`: name, size, what stands at its end; ``bad`` draws it hatched."""

    name: str
    value: float
    words: str
    bad: bool = False


@dataclass(frozen=True)
class Mark:
    """A line across the bars at a value, with words over it."""

    value: float
    words: str


def lengths(*, rows: Sequence[Row], marks: Sequence[Mark] = (), alt: str, most: float = 0.0) -> Picture:
    """Draw values as lengths, one under the other, with lines to hold them against.

    Parameters
    ----------
    rows
        What is drawn.
    marks
        Lines across.
    alt
        The finding in one sentence.
    most
        Value that takes the whole width; the largest without it.

    Returns
    -------
    Picture
    """
    few = len(rows) <= 2
    left, wide, pitch, thick, size_of_words, top = (
        (10.0, 575.0, 140.0, 62.0, 26.0, 70.0) if few else (10.0, 575.0, 88.0, 38.0, 22.0, 66.0)
    )
    whole = max([most, 1e-12, *(row.value for row in rows), *(mark.value for mark in marks)])
    high = top + pitch * len(rows) + 8
    parts = [
        '<defs><pattern id="ls-bad" width="10" height="10" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<rect width="10" height="10" fill="{PAPER}"/><rect width="4" height="10" fill="{ALARM}"/></pattern></defs>'
    ]
    for number, row in enumerate(rows):
        fill = "url(#ls-bad)" if row.bad else ADHESIVE
        extra = f'stroke="{ALARM if row.bad else INK}" stroke-width="1.5"'
        parts.append(_box(left, top + pitch * number + 40, wide * row.value / whole, thick, fill, extra))
    parts += _marks(marks, lambda value: left + wide * value / whole, high - 12)
    for number, row in enumerate(rows):
        y, ink = top + pitch * number + 28, ALARM if row.bad else INK
        parts.append(_text(left, y, row.name, size=size_of_words, clear=True))
        parts.append(
            _text(left + wide, y, row.words, size=size_of_words, anchor="end", bold=True, colour=ink, clear=True)
        )
    return _picture(600, high, alt, parts, [(row.name, row.words) for row in rows])


def _marks(marks: Sequence[Mark], place: Callable[[float], float], floor: float) -> list[str]:
    """Draw lines across the bars, with their words over them."""
    parts: list[str] = []
    taken: list[tuple[float, float]] = []
    for mark in sorted(marks, key=lambda one: one.value):
        x = place(mark.value)
        # Words that would run into their neighbour's go one line higher.
        reach = 7.2 * len(mark.words)
        start = min(max(x - reach, 4.0), 596 - 2 * reach)
        y = 54.0 if not any(start < b and a < start + 2 * reach for a, b in taken) else 26.0
        taken.append((start, start + 2 * reach + 8))
        parts.append(_line(x, y + 6, x, floor, ADHESIVE_INK, 2.5, "8 5"))
        parts.append(_text(start + reach, y, mark.words, size=23, anchor="middle", colour=ADHESIVE_INK, bold=True))
    return parts


# ---- the class as dots ---------------------------------------------------------------------------


_SPAN = 3.0  # times the middle, or a part of it: what lies further out would flatten all the rest
_DOT, _PITCH = 13.0, 28.0
_BELOW, _BEYOND = 130.0, 570.0  # where those stand


def dots(
    *,
    values: Sequence[float],
    texts: Sequence[str],
    bad: Sequence[bool],
    line: float | None,
    line_words: str,
    axis: tuple[str, str],
    counts: tuple[str, str],
    alt: str,
    middle: float | None = None,
    again_words: str = "",
) -> Picture:
    """Draw what a class injected: one sign for each, a triangle for a hole that stays short and a disc for a full one.

    Parameters
    ----------
    values, texts
        Amounts, and the amounts in words.
    bad
        Which of them leave the hole short.
    line, line_words
        What the hole needs and its words; None hides it.
    axis
        Words at the left and right end of the axis, before the amounts there.
    counts
        Words under the short and under the full side.
    alt
        The finding in one sentence.
    middle
        The middle of the class; an amount more than three times as large, or as small, is drawn at the edge with its
        number. None draws all to scale.
    again_words
        Words about the first one's amount, which is then pointed at.

    Returns
    -------
    Picture
    """
    side = [0 if middle is None else (value > _SPAN * middle) - (value * _SPAN < middle) for value in values]
    inside = [number for number, off in enumerate(side) if not off]
    left, right = 180.0 if -1 in side else 60.0, 520.0 if 1 in side else 640.0
    known = [*(values[number] for number in inside), *([line] if line is not None else [])]
    low, top = min(known), max(known)
    room = (top - low) * 0.06 or abs(top) * 0.1
    low, top = low - room, top + room

    def place(value: float) -> float:
        return left + (right - left) * (value - low) / (top - low)

    # Dots stand in columns that begin at the line, so that none is drawn on the wrong side of it.
    origin = place(line) if line is not None else left
    centres = [
        origin + (math.floor((place(value) - origin) / _PITCH) + 0.5) * _PITCH
        if not off
        else _BELOW
        if off < 0
        else _BEYOND
        for value, off in zip(values, side, strict=True)
    ]
    stacked = max(centres.count(one) for one in centres)
    step = min(_PITCH, 236 / stacked)
    floor = 110 + step * max(3, stacked)
    parts = _axis(
        floor,
        side,
        (left, right),
        [_at_end(words, texts, values, inside, end) for words, end in zip(axis, (min, max), strict=True)],
    )
    if line is not None:
        x = place(line)
        parts.append(_line(x, 62, x, floor + 16, ADHESIVE_INK, 3, "9 6"))
        parts.append(
            _text(min(max(x, 160), 540), 46, line_words, size=24, anchor="middle", bold=True, colour=ADHESIVE_INK)
        )
        parts.append(_text(40, floor + 84, f"▽ {counts[0]}", size=24, bold=True, colour=ALARM))
        parts.append(_text(660, floor + 84, f"● {counts[1]}", size=24, bold=True, anchor="end", colour=ADHESIVE_INK))
    for number, (cx, off, short) in enumerate(zip(centres, side, bad, strict=True)):
        under = centres[:number].count(cx)
        cy = floor - under * step
        parts.append(_dot(cx, cy, line is not None and short))
        # Numbers keep their distance when many lie beyond the scale.
        if off and under % math.ceil(20 / step) == 0:
            x, anchor = (cx + 20, "start") if off > 0 else (cx - 20, "end")
            parts.append(_text(x, cy + 6, texts[number], size=19, anchor=anchor, bold=True))
        if again_words and number == 0:
            parts.append(
                f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="{_DOT + 5}" fill="none" stroke="{INK}" stroke-width="2.5"/>'
            )
    if again_words:
        parts.append(_text(350, floor + 118, again_words, size=21, anchor="middle"))
    return _picture(700, floor + 130, alt, parts, [(str(number), text) for number, text in enumerate(texts, 1)])


def _at_end(
    words: str, texts: Sequence[str], values: Sequence[float], inside: Sequence[int], end: Callable[..., int]
) -> str:
    """Say the least or the greatest amount on the scale."""
    amount = texts[end(inside, key=lambda number: values[number])]
    return f"{words} ({amount})" if words else amount


def _axis(floor: float, side: Sequence[int], ends: tuple[float, float], words: Sequence[str]) -> list[str]:
    """Draw the axis with its words; it breaks off before what lies beyond the scale."""
    left, right = ends
    parts = [_line(left - 20, floor + 16, right + 20, floor + 16, INK, 2)]
    parts += [
        _text(left - 20, floor + 48, words[0], size=22),
        _text(right + 20, floor + 48, words[1], size=22, anchor="end"),
    ]
    for off, x in ((-1, _BELOW), (1, _BEYOND)):
        if off in side:
            parts.append(_line(x - 20, floor + 16, x + 20, floor + 16, INK, 2, "4 5"))
    return parts


def _dot(cx: float, cy: float, short: bool) -> str:
    if not short:
        return _disc(cx, cy, _DOT, ADHESIVE)
    shape = f"M {cx - _DOT:.1f} {cy - _DOT:.1f} H {cx + _DOT:.1f} L {cx:.1f} {cy + _DOT:.1f} Z"
    return f'<path d="{shape}" fill="{PAPER}" stroke="{ALARM}" stroke-width="3"/>'


def row_of_holes(
    *, bare: Sequence[float], spilt_share: Sequence[float], words: Sequence[str], foot: str, alt: str
) -> Picture:
    """Draw a series of holes in a row: a gap at the mouth for a short one, to scale, a bead for one that overflows.

    Parameters
    ----------
    bare
        Which share of its depth stays bare at the mouth of each hole.
    spilt_share
        What came out of each, as a share of the largest.
    words
        What stands under each hole.
    foot
        Line under the row.
    alt
        The finding in one sentence.

    Returns
    -------
    Picture
    """
    count = len(bare)
    pitch = 660 / count
    wide = min(34.0, pitch * 0.62)
    lines = [line for part in foot.split("\n") for line in _wrap(part, 50)]
    parts = [_box(10, 110, 680, 160, CONCRETE)]
    for number in range(count):
        x = 20 + pitch * (number + 0.5)
        gap = 130 * bare[number]
        parts.append(_box(x - wide / 2, 110, wide, 130, PAPER))
        parts.append(_box(x - wide / 2, 110 + gap, wide, 130 - gap, ADHESIVE))
        if spilt_share[number] > 0:
            size = 5 + 12 * spilt_share[number]
            parts.append(
                f'<path d="M {x - wide / 2 - size:.1f} 110 Q {x:.1f} {110 - 2 * size:.1f} {x + wide / 2 + size:.1f} 110'
                f' Z" fill="{ADHESIVE}"/>'
            )
        parts.append(_box(x - wide * 0.36, 50, wide * 0.72, 184, STEEL))
        outline = f"M {x - wide / 2:.1f} 110 V 240 H {x + wide / 2:.1f} V 110"
        parts.append(
            f'<path d="{outline}" fill="none" stroke="{ALARM if bare[number] else INK}"'
            f' stroke-width="{3 if bare[number] else 1.5}"/>'
        )
        parts.append(
            _text(
                x,
                300,
                words[number],
                size=24,
                anchor="middle",
                bold=bare[number] > 0,
                colour=ALARM if bare[number] else ADHESIVE_INK,
            )
        )
    parts.append(_line(10, 110, 690, 110, INK, 2))
    parts += [_text(350, 345 + 30 * number, line, size=23, anchor="middle") for number, line in enumerate(lines)]
    return _picture(
        700, 336 + 30 * len(lines), alt, parts, [(str(number), word) for number, word in enumerate(words, 1)]
    )
