"""What all pictures share: paper, ink and lettering, texts of sizes, and how a drawing becomes a picture with words."""

from __future__ import annotations

import io
import itertools
import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from html import escape, unescape
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.textpath import TextToPath
from scipy.optimize import isotonic_regression

from calc.base.look.tokens import COLOUR, LETTER, LINE, PICTURE_WIDTH
from calc.base.signs.fonts import for_pictures

PAPER, INK, QUIET, HAIR, SHADE = (COLOUR[name] for name in ("paper", "ink", "quiet", "hair", "shade"))
ADHESIVE, ADHESIVE_INK, ALARM = COLOUR["adhesive"], COLOUR["adhesive_ink"], COLOUR["failure"]
CONCRETE, GRAIN, STEEL, RIB = (COLOUR[name] for name in ("concrete", "grain", "steel", "rib"))
FRESH, FRESH_GRAIN = COLOUR["fresh"], COLOUR["fresh_grain"]
WIDTH = PICTURE_WIDTH / 25.4  # inches of paper, as printed
LETTERS, TITLE = LETTER["picture"], LETTER["title"]  # points
HAIRLINE, THIN, FIRM, HEAVY, BOLD = (LINE[name] for name in ("hair", "thin", "firm", "heavy", "bold"))  # points
TEXTURE = "texture"  # label of what is a ground and no line: specks of concrete, ribs of a bar
Point = tuple[float, float]
_LETTERER = TextToPath()

_TICKS = {
    "labelsize": LETTERS,
    "major.size": 2.5,
    "major.width": HAIRLINE,
    "color": QUIET,
    "labelcolor": INK,
    "major.pad": 2.5,
}
_STYLE: Any = {
    "font.size": LETTERS,
    "mathtext.fontset": "dejavusans",  # of symbols on the screen; what is printed has words alone
    "svg.fonttype": "none",
    "svg.hashsalt": "fill picture",
    "path.simplify": False,
    "text.usetex": False,
    "axes.unicode_minus": True,
    "axes.edgecolor": QUIET,
    "axes.labelpad": 3.0,
    "axes.labelsize": LETTERS,
    "axes.linewidth": HAIRLINE,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "figure.constrained_layout.use": False,
} | {f"{axis}tick.{name}": value for axis in "xy" for name, value in _TICKS.items()}


@dataclass(frozen=True)
class Picture:
    """A drawn fill picture together with what it says in words and numbers."""

    svg: str
    alt: str
    caption: str
    numbers: tuple[tuple[str, str], ...]
    place: str = ""  # where it stands in the document, if that is always the same

    def _repr_html_(self) -> str:
        return f'<div role="img" aria-label="{escape(self.alt)}">{self.svg}</div>'


_TEXT = re.compile(r"<text style=\"([^\"]*font-size: ([\d.]+)px[^\"]*)\"([^>]*)>([^<]+)</text>")


def _with_length(found: re.Match[str]) -> str:
    """Say how long a text is drawn, so that a reader without our fonts sees it in its place; they fall back by kind."""
    look, size, rest, words = found.groups()
    width = 72 * long(unescape(words), float(size), "bold" if "700" in look else "normal")
    families = ", ".join(f"'{name}'" for name in for_pictures())
    look = look.replace(families, f"{families}, Verdana, sans-serif")
    return f'<text style="{look}"{rest} textLength="{width:.2f}" lengthAdjust="spacingAndGlyphs">{words}</text>'


def _trim(svg: str, alt: str) -> str:
    """Keep the drawing alone, sized by its box, with the finding as its text for those who cannot see it."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>\s*", "", body, flags=re.DOTALL)
    body = re.sub(r"^<svg ([^>]*?)width=\"([\d.]+)pt\"([^>]*?)height=\"[\d.]+pt\"", r"<svg \1\3", body, count=1)
    body = _TEXT.sub(_with_length, body)
    size = re.search(r"<svg ([^>]*)>", body)
    assert size is not None
    return f'<svg role="img" aria-label="{escape(alt)}" {" ".join(size[1].split())}>' + body[size.end() :]


@contextmanager
def house_style() -> Iterator[None]:
    """Draw with the workbook's lettering while this lasts."""
    with rc_context(_STYLE | {"font.family": for_pictures()}):
        yield


@contextmanager
def paper(figure: Figure | None, height: float, width: float = WIDTH) -> Iterator[Figure]:
    """Draw on clean paper of so many inches with the workbook's lettering; a figure that is given is drawn on again."""
    target = Figure() if figure is None else figure
    with house_style():
        target.clear()
        target.set_facecolor(PAPER)
        target.set_size_inches(width, height)
        yield target


def axes(figure: Figure, left: float, right: float, bottom: float, top: float) -> Axes:
    """Make axes with so many inches of margin."""
    width, height = figure.get_size_inches()
    return figure.add_axes(
        (left / width, bottom / height, (width - left - right) / width, (height - bottom - top) / height)
    )


def sheet(figure: Figure) -> Axes:
    """Take the whole paper for a drawing that is measured in inches."""
    ax = figure.add_axes((0, 0, 1, 1))
    width, height = figure.get_size_inches()
    ax.set(xlim=(0, width), ylim=(0, height))
    ax.axis("off")
    return ax


def name_rows(ax: Axes, places: Sequence[float], names: Sequence[str]) -> None:
    """Name rows at the left, where no line stands."""
    ax.set_yticks(places, names)
    ax.tick_params(axis="y", length=0, labelsize=LETTERS)
    ax.spines["left"].set_visible(False)


def note(ax: Axes, words: str, at: Point, dx: float = 0.0, dy: float = 0.0, **look: Any) -> None:
    """Write so many points beside a place in the axes: to the left of it, to the right, above or over it."""
    style: dict[str, Any] = {
        "ha": "left" if dx > 0 else "right" if dx < 0 else "center",
        "va": "bottom" if dy > 0 else "center",
        "fontsize": LETTERS,
        "color": INK,
        "annotation_clip": False,
    }
    ax.annotate(words, at, xytext=(dx, dy), textcoords="offset points", **(style | look))


def unitless(text: str) -> str:
    """Write a quantity without its unit, in a picture that says the unit once.

    Examples
    --------
    >>> unitless("66.7 mm"), unitless("5-11/16 in"), unitless("none")
    ('66.7', '5-11/16', 'none')
    """
    return text.rpartition(" ")[0] or text


def listed(names: Sequence[str], most: int = 8) -> str:
    """Write names as a sentence does, the first ones of many.

    Examples
    --------
    >>> listed(["S1", "S2", "W3"]), listed(["S1"]), listed(["S1", "S2", "W3"], 1)
    ('S1, S2 and W3', 'S1', 'S1 and 2 others')
    """
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} others"
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def long(words: str, size: float = LETTERS, weight: str = "normal") -> float:
    """Inches of paper that a line of words takes."""
    font = FontProperties(family=for_pictures(), size=size, weight=weight)
    width, _, _ = _LETTERER.get_text_width_height_descent(words, font, ismath=False)
    return float(width) / 72


def moved_apart(places: Sequence[float], least: float) -> list[float]:
    """Move places as little as possible so that they are at least so far from each other, keeping their order."""
    order = np.argsort(places, kind="stable")
    steps = least * np.arange(len(places))
    moved = np.empty(len(places))
    moved[order] = isotonic_regression(np.asarray(places)[order] - steps).x + steps
    return [float(place) for place in moved]


def stacked(wanted: Sequence[tuple[float, float]], step: float) -> list[float]:
    """Move labels apart as little as possible: place and size of each, in the order of their places."""
    offsets = np.cumsum([0.0] + [(a + b) / 2 for (_, a), (_, b) in itertools.pairwise(wanted)]) * step
    return [float(y) for y in isotonic_regression(np.array([y for y, _ in wanted]) - offsets).x + offsets]


def note_heights(
    ax: Axes, labels: Sequence[tuple[float, str, str]], points: float = 11.5, least: float = -math.inf
) -> None:
    """Write words in an ink for heights, at the right of the axes, each with a short leader.

    Moved apart where they would touch.

    Parameters
    ----------
    ax
        Axes whose limits are set.
    labels
        Height, words and ink of each.
    points
        Height that a line of a label takes.
    least
        Height under which no words stand.
    """
    low, high = ax.get_ylim()
    inches = ax.get_window_extent().height / ax.figure.dpi
    # A label of several lines takes so many places, and stands in their middle.
    lines = [1 + words.count("\n") for _, words, _ in labels]
    order = np.argsort([y for y, _, _ in labels], kind="stable")
    apart = stacked([(labels[i][0], lines[i]) for i in order], points * (high - low) / (72 * inches))
    apart = [apart[int(np.flatnonzero(order == i)[0])] for i in range(len(labels))]
    where: dict[str, Any] = {
        "xycoords": ("axes fraction", "data"),
        "textcoords": ("axes fraction", "data"),
        "annotation_clip": False,
    }
    arrow = {"arrowstyle": "-", "color": QUIET, "linewidth": HAIRLINE, "shrinkA": 1.0, "shrinkB": 0.0}
    lift = max(0.0, least - min(apart, default=0.0))
    for (y, words, colour), place in zip(labels, apart, strict=True):
        ax.annotate(
            words,
            (1.0, y),
            xytext=(1.025, place + lift),
            va="center",
            fontsize=LETTERS,
            color=colour,
            arrowprops=arrow,
            **where,
        )


def say(ax: Axes, x: float, y: float, text: str, **look: Any) -> None:
    """Write at a place; ``backing`` is the ink of a patch behind the words."""
    backing = look.pop("backing", None)
    if backing:
        look["bbox"] = {"facecolor": backing, "edgecolor": "none", "pad": 1.0}
    plain: dict[str, Any] = {
        "ha": "center",
        "va": "center",
        "color": INK,
        "fontsize": LETTERS,
        "linespacing": 1.2,
        "zorder": 12,
    }
    ax.text(x, y, text, **(plain | look))


def strokes(ax: Axes, segments: Sequence[Sequence[Point]], **look: Any) -> Artist:
    """Draw many short lines as one path."""
    path = Path.make_compound_path(*map(Path, segments))
    return ax.add_artist(PathPatch(path, **{"facecolor": "none", "edgecolor": INK, "linewidth": THIN} | look))


def dimension(ax: Axes, start: Point, end: Point, colour: str = INK) -> None:
    """Draw a dimension line with slashes at its ends."""
    t = 0.033
    slashes = [[(x - t, y - t), (x + t, y + t)] for x, y in (start, end)]
    strokes(ax, [[start, end]], edgecolor=colour, linewidth=HAIRLINE, zorder=10)
    strokes(ax, slashes, edgecolor=colour, linewidth=FIRM, zorder=10)


@lru_cache(maxsize=16)
def _grains(width: float, height: float, many: int) -> tuple[tuple[Point, ...], ...]:
    """Scatter the specks and small stones by which a draughtsman says concrete; always the same ones."""
    rng = np.random.default_rng(31)
    marks: list[tuple[Point, ...]] = []
    for number in range(int(width * height * many)):
        x, y, turn = (
            rng.uniform(0.04, max(width - 0.04, 0.05)),
            rng.uniform(0.04, max(height - 0.04, 0.05)),
            rng.uniform(0, 2 * math.pi),
        )
        if number % 7:
            marks.append(((x, y), (x + 0.014 * math.cos(turn), y + 0.014 * math.sin(turn))))
        else:
            marks.append(
                tuple(
                    (x + 0.028 * math.cos(turn + k * 2.1), y + 0.023 * math.sin(turn + k * 2.1)) for k in (0, 1, 2, 0)
                )
            )
    return tuple(marks)


def concrete(ax: Axes, corner: Point, opposite: Point, face: str = CONCRETE, ink: str = GRAIN, many: int = 30) -> None:
    """Draw a block of concrete between its lower left and its upper right corner.

    With so many grains to a square inch.
    """
    (left, bottom), (right, top) = corner, opposite
    ax.add_artist(Rectangle(corner, right - left, top - bottom, facecolor=face, edgecolor="none", zorder=1))
    marks = _grains(round(right - left, 4), round(top - bottom, 4), many)
    specks = [[(left + x, bottom + y) for x, y in mark] for mark in marks]
    strokes(ax, specks, edgecolor=ink, linewidth=HAIRLINE, zorder=2, label=TEXTURE)


def svg_of(figure: Figure, alt: str) -> str:
    """Write a drawn figure as SVG, the same on every machine.

    Parameters
    ----------
    figure
        What was drawn, under `house_style`.
    alt
        The finding in one sentence, for those who cannot see the picture.

    Returns
    -------
    str
        The drawing alone, sized by its box.
    """
    written = io.StringIO()
    with house_style():
        figure.savefig(
            written,
            format="svg",
            metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
            facecolor=PAPER,
        )
    return _trim(written.getvalue(), alt)


def redraw_bare(figure: Figure) -> None:
    """Draw a figure's canvas once more and do nothing else: what a panel's update is measured against.

    Parameters
    ----------
    figure
        A figure that was drawn on.
    """
    with house_style():
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
