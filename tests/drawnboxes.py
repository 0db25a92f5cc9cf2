"""What a drawn figure's words touch: each other, a line, or the frame. Measured on the boxes that are drawn."""

from __future__ import annotations

from contextlib import contextmanager

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import Collection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import FancyArrowPatch, Patch
from matplotlib.text import Annotation, Text
from matplotlib.transforms import Bbox

from calc.show.drawing import TEXTURE

NEAR = 0.4  # points that a box is drawn in by: the room above letters is no ink


def _artists(artist, seen):
    for child in artist.get_children():
        if child.get_visible():
            seen.append(child)
            _artists(child, seen)
    return seen


def _shown(text):
    return text.get_text().strip() != ""


def _inked(one):
    look = one.get_edgecolor()
    return one.get_linewidth() > 0 and len(look) == 4 and look[3] > 0


def _segments(artist, renderer):
    """The drawn lines of an artist as an array of segments in pixels, n x 4."""
    if artist.get_label() == TEXTURE:
        return np.empty((0, 4))
    if isinstance(artist, Line2D):
        if artist.get_linestyle() in ("None", "none", "", " "):
            return np.empty((0, 4))
        paths = [artist.get_transform().transform_path(artist.get_path())]
    elif isinstance(artist, FancyArrowPatch):
        paths = [artist.get_transform().transform_path(artist.get_path())]
    elif isinstance(artist, Patch):
        if not _inked(artist):
            return np.empty((0, 4))
        paths = [artist.get_transform().transform_path(artist.get_path())]
    elif isinstance(artist, Collection):
        return np.empty((0, 4))
    else:
        return np.empty((0, 4))
    found = []
    for path in paths:
        for polygon in path.to_polygons(closed_only=False):
            if len(polygon) > 1:
                found.append(np.hstack([polygon[:-1], polygon[1:]]))
    rows = np.vstack(found) if found else np.empty((0, 4))
    clip = artist.get_clip_box() if artist.get_clip_on() else None
    if clip is not None:
        low, high = np.array([clip.x0, clip.y0]), np.array([clip.x1, clip.y1])
        a, b = rows[:, :2], rows[:, 2:]
        inside = np.all((np.maximum(a, b) >= low - 1) & (np.minimum(a, b) <= high + 1), axis=1)
        rows = rows[inside]
        rows = np.hstack([np.clip(rows[:, :2], low, high), np.clip(rows[:, 2:], low, high)]) if len(rows) else rows
    return rows


def _crossed(box, rows):
    """Which segments go through a box (Liang and Barsky's test, all at once)."""
    if not len(rows):
        return np.zeros(0, dtype=bool)
    x0, y0, x1, y1 = rows.T
    dx, dy = x1 - x0, y1 - y0
    enter, leave = np.zeros(len(rows)), np.ones(len(rows))
    ok = np.ones(len(rows), dtype=bool)
    with np.errstate(divide="ignore", invalid="ignore"):
        for p, q in ((-dx, x0 - box.x0), (dx, box.x1 - x0), (-dy, y0 - box.y0), (dy, box.y1 - y0)):
            ok &= ~((p == 0) & (q < 0))
            r = q / p
            enter = np.where(p < 0, np.maximum(enter, r), enter)
            leave = np.where(p > 0, np.minimum(leave, r), leave)
    return ok & (enter < leave)


def _beyond(figure):
    """Labels of ticks beyond the ends of their axes, which are kept and not drawn."""
    found = set()
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
                if not low - 1e-9 * abs(low) <= tick.get_loc() <= high + 1e-9 * abs(high):
                    found |= {tick.label1, tick.label2}
    return found


def touching(figure):
    """Every clash of a figure in words."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    near = NEAR * figure.dpi / 72
    artists = _artists(figure, [])
    words = []
    hidden = _beyond(figure)
    for text in artists:
        if isinstance(text, Text) and _shown(text) and text not in hidden:
            if isinstance(text, Annotation):
                box = Text.get_window_extent(text, renderer)
            else:
                box = text.get_window_extent(renderer)
            words.append((text, box))
    frame = Bbox([[0, 0], [figure.bbox.width, figure.bbox.height]])
    found = []
    inner = [(text, Bbox([[b.x0 + near, b.y0 + near], [b.x1 - near, b.y1 - near]])) for text, b in words]
    for text, box in words:
        if box.x0 < frame.x0 - 0.5 or box.y0 < frame.y0 - 0.5 or box.x1 > frame.x1 + 0.5 or box.y1 > frame.y1 + 0.5:
            found.append(f"'{text.get_text()}' leaves the paper")
    for i, (text, box) in enumerate(inner):
        for other, second in inner[i + 1 :]:
            if box.x0 < second.x1 and second.x0 < box.x1 and box.y0 < second.y1 and second.y0 < box.y1:
                found.append(f"'{text.get_text()}' meets '{other.get_text()}'")
    lines = [(one, _segments(one, renderer)) for one in artists if not isinstance(one, Text)]
    for text, box in inner:
        own = {getattr(text, "arrow_patch", None), text.get_bbox_patch()}
        back = text.get_bbox_patch()
        for one, rows in lines:
            if one in own or (
                back is not None and back.get_alpha() in (None, 1) and one.get_zorder() < text.get_zorder()
            ):
                continue
            if _crossed(box, rows).any():
                found.append(f"'{text.get_text()}' is crossed by {type(one).__name__} {one.get_label() or ''}")
                break
    return found


def letters(figure):
    """The smallest letters of a figure, points."""
    texts = [one for one in _artists(figure, []) if isinstance(one, Text) and _shown(one)]
    return min((one.get_fontsize() for one in texts), default=None)


@contextmanager
def watched(look):
    """Show every figure that is written as SVG while this lasts."""
    before = Figure.savefig

    def savefig(self, *given, **named):
        look(self)
        return before(self, *given, **named)

    Figure.savefig = savefig
    try:
        yield
    finally:
        Figure.savefig = before
