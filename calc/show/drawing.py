"""What all pictures share: paper, ink and lettering, texts of sizes, and how a drawing becomes a picture with words."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from typing import Any

from matplotlib import rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

PAPER, INK, QUIET = "#ffffff", "#23282d", "#6d747b"
CONCRETE, GRAIN, ADHESIVE, ADHESIVE_PALE, STEEL, RIB = "#eceae4", "#b9b5aa", "#58a39b", "#dcecea", "#4b5157", "#aab0b6"
DEPTH_INK, ALARM = "#0f534d", "#9c2f12"


_STYLE: Any = {
    "font.family": ["DejaVu Sans"],
    "font.size": 8.0,
    "mathtext.fontset": "dejavusans",
    "svg.fonttype": "path",
    "svg.hashsalt": "fill picture",
    "path.simplify": False,
    "text.usetex": False,
    "axes.unicode_minus": True,
    "figure.constrained_layout.use": False,
}


@dataclass(frozen=True)
class Picture:
    """A drawn fill picture together with what it says in words and numbers."""

    svg: str
    alt: str
    caption: str
    numbers: tuple[tuple[str, str], ...]

    def _repr_html_(self) -> str:
        return f'<div role="img" aria-label="{escape(self.alt)}">{self.svg}</div>'


def _trim(svg: str, alt: str) -> str:
    """Keep the drawing alone, sized by its box, with the finding as its text for those who cannot see it."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>\s*", "", body, flags=re.DOTALL)
    body = re.sub(r"^<svg ([^>]*?)width=\"([\d.]+)pt\"([^>]*?)height=\"[\d.]+pt\"", r"<svg \1\3", body, count=1)
    size = re.search(r"<svg ([^>]*)>", body)
    assert size is not None
    return f'<svg role="img" aria-label="{escape(alt)}" {" ".join(size[1].split())}>' + body[size.end() :]


@contextmanager
def house_style() -> Iterator[None]:
    """Draw with the workbook's lettering while this lasts."""
    with rc_context(_STYLE):
        yield


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
    paper = io.StringIO()
    with house_style():
        figure.savefig(paper, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None}, facecolor=PAPER)
    return _trim(paper.getvalue(), alt)


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
