"""The picture of a trace: the steps behind a result, each to the right of those that it takes from."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from itertools import pairwise

from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch, FancyBboxPatch

from calc.base.nomenclature import NOMENCLATURE, latex_of
from calc.base.sheet import Step
from calc.package.manifest import shown
from calc.review.review import Review
from calc.show.drawing import (
    INK,
    PAPER,
    QUIET,
    SHADE,
    THIN,
    TITLE,
    Picture,
    paper,
    sheet,
    svg_of,
)

_COLUMNS, _ROWS = 5, 9  # as many as one picture carries
_BOX, _GAP, _HIGH, _BETWEEN, _EDGE = 1.46, 0.42, 0.78, 0.16, 0.12  # in


def _levels(review: Review, identity: str, chain: Sequence[Step]) -> dict[str, int]:
    """How many steps lie between each step and the result, by the longest way."""
    level = {identity: 0}
    inside = {step.id for step in chain}
    for step in reversed(chain):  # those that take from a step come before it here
        for link in review.links(step):
            if link.step in inside and link.step != step.id:
                level[link.step] = max(level.get(link.step, 0), level.get(step.id, 0) + 1)
    return level


def _columns(review: Review, chain: Sequence[Step], level: Mapping[str, int]) -> list[list[Step]]:
    """Steps by their distance from the result, the nearest first, each near the ones that it feeds."""
    found = [[step for step in chain if level.get(step.id) == number] for number in range(_COLUMNS)]
    found = [column[:_ROWS] for column in found if column]
    for near, far in pairwise(found):
        place = {link.step: row for row, step in reversed(list(enumerate(near))) for link in review.links(step)}
        far.sort(key=lambda step, place=place: place.get(step.id, _ROWS))  # type: ignore[misc]
    return found


def _symbol(step: Step) -> str:
    return f"${latex_of(step.symbol)}$" if step.symbol in NOMENCLATURE else shown(step.symbol, 12).replace("$", r"\$")


def _arrow(source: tuple[float, float], target: tuple[float, float]) -> FancyArrowPatch:
    """Lead from one box to another; over a column in between in a bow, so that it does not seem to go through a box."""
    (x0, y0), (x1, y1) = source, target
    far = x1 - x0 > 1.5 * (_BOX + _GAP)
    start, end = (x0 + _BOX, y0 + _HIGH / 2), (x1, y1 + _HIGH / 2)
    style = f"arc3,rad={-0.28 if y1 >= y0 else 0.28}" if far else "arc3,rad=0"
    return FancyArrowPatch(
        start, end, connectionstyle=style, arrowstyle="-|>", mutation_scale=7, color=QUIET, linewidth=THIN
    )


def chain_picture(review: Review, identity: str, figure: Figure | None = None) -> Picture:
    """Draw the steps behind a result.

    Parameters
    ----------
    review
        The package.
    identity
        Id of the result's step.
    figure
        A figure that is drawn anew.

    Returns
    -------
    Picture
        At most `_COLUMNS` steps deep and `_ROWS` high; the caption says what is left out.

    Raises
    ------
    PackageError
        The package has no such step.
    """
    chain = review.chain(identity)
    columns = _columns(review, chain, _levels(review, identity, chain))
    drawn = [step for column in columns for step in column]
    width = _COLUMNS * _BOX + (_COLUMNS - 1) * _GAP + 2 * _EDGE  # always, so that a box has one size
    height = max(map(len, columns)) * (_HIGH + _BETWEEN) - _BETWEEN + 2 * _EDGE
    with paper(figure, height, width) as target:
        ax = sheet(target)
        place: dict[str, tuple[float, float]] = {}
        for number, column in enumerate(columns):
            x = _EDGE + (len(columns) - 1 - number) * (_BOX + _GAP)
            free = height - len(column) * (_HIGH + _BETWEEN) + _BETWEEN
            for row, step in enumerate(column):
                place[step.id] = x, height - free / 2 - row * (_HIGH + _BETWEEN) - _HIGH
        for step in drawn:
            for link in review.links(step):
                if link.step in place and link.step != step.id:
                    ax.add_patch(_arrow(place[link.step], place[step.id]))
        for step in drawn:
            x, y = place[step.id]
            last = step.id == identity
            face, line = (SHADE, 1.6) if last else (PAPER, 0.9)
            ax.add_patch(
                FancyBboxPatch(
                    (x, y),
                    _BOX,
                    _HIGH,
                    boxstyle="round,pad=0,rounding_size=0.05",
                    facecolor=face,
                    edgecolor=INK,
                    linewidth=line,
                )
            )
            ax.text(x + 0.07, y + _HIGH - 0.06, _symbol(step), fontsize=TITLE, color=INK, ha="left", va="top")
            value = shown(step.shown, 16)
            ax.text(
                x + _BOX - 0.07,
                y + _HIGH - 0.08,
                value,
                color=INK,
                ha="right",
                va="top",
                fontweight="bold",
                parse_math=False,
            )
            words = textwrap.wrap(shown(step.label, 90), 21, max_lines=3, placeholder=" …")
            ax.text(
                x + 0.07,
                y + 0.06,
                "\n".join(words),
                color=QUIET,
                ha="left",
                va="bottom",
                linespacing=1.15,
                parse_math=False,
            )
    caption, alt = _words(review, chain, drawn)
    return Picture(svg_of(target, alt), alt, caption, tuple((step.id, shown(step.shown, 40)) for step in drawn))


def _words(review: Review, chain: Sequence[Step], drawn: Sequence[Step]) -> tuple[str, str]:
    last = chain[-1]
    given = {(link.name, link.origin) for step in chain for link in review.links(step) if not link.step}
    behind = len(chain) - 1
    steps = "no other step" if not behind else f"{behind} other step{'' if behind == 1 else 's'}"
    left = len(chain) - len(drawn)
    tail = (
        f" {left} step{'' if left == 1 else 's'} further back {'is' if left == 1 else 'are'} not drawn." if left else ""
    )
    caption = f"What stands behind {shown(last.id, 60)}: each arrow carries a value to the step that takes it.{tail}"
    inputs = f"{len(given)} input{'' if len(given) == 1 else 's'} from outside"
    return caption, f"{shown(last.label, 80)}, {shown(last.shown, 40)}, rests on {steps} and {inputs}.{tail}"
