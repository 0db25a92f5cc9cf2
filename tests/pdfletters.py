"""How large the letters of a PDF are printed, read from what it draws: font, text matrix and every scale before it."""

from __future__ import annotations

import math

import pikepdf

_UNITS = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


def _times(one, other):
    """The matrix that first does one, then the other, as PDF counts them."""
    a, b, c, d, e, f = one
    g, h, i, j, k, m = other
    return (a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + m)


def letters(pdf, family):
    """Sizes [pt] at which letters of a family are printed, by page: (page, size) for each piece of text."""
    found = []
    with pikepdf.open(pdf) as file:
        for number, page in enumerate(file.pages, start=1):
            for size in _drawn(page, page.get("/Resources", {}), family, _UNITS):
                found.append((number, size))
    return found


def _drawn(stream, resources, family, matrix):
    kept, text, size, ours = [], _UNITS, 0.0, False
    for operands, operator in pikepdf.parse_content_stream(stream):
        name = str(operator)
        if name == "q":
            kept.append(matrix)
        elif name == "Q":
            matrix = kept.pop()
        elif name == "cm":
            matrix = _times(tuple(map(float, operands)), matrix)
        elif name == "BT":
            text = _UNITS
        elif name == "Tm":
            text = tuple(map(float, operands))
        elif name == "Tf":
            size = float(operands[1])
            ours = family in str(resources["/Font"][operands[0]].get("/BaseFont", ""))
        elif name in ("Tj", "TJ", "'", '"') and ours:
            _, _, c, d, _, _ = _times(text, matrix)
            yield size * math.hypot(c, d)
        elif name == "Do":
            form = resources["/XObject"][operands[0]]
            if form.get("/Subtype") == "/Form":
                inner = _times(tuple(map(float, form.get("/Matrix", _UNITS))), matrix)
                yield from _drawn(form, form.get("/Resources", resources), family, inner)
