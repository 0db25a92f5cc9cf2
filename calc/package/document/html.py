"""The document as one HTML file that asks no network for anything.

MathML, embedded pictures, style for screen, paper and phone.
"""

from __future__ import annotations

import base64
import io
import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from calc.base.look.tokens import COLOUR, DARK, css_colours
from calc.base.signs.fonts import Cut, cuts
from calc.base.signs.scripts import directed, language_of
from calc.package.document import document as contents
from calc.package.document import markup
from calc.package.document.parts import Document

_LOOK = {"colour": COLOUR, "day": Markup(css_colours()), "dark": Markup(css_colours(colours=DARK))}


def _picture(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode("utf-8")).decode("ascii")


def _equation(equation: dict[str, Any], block: bool = False) -> Markup:
    return Markup(
        markup.equation_html(equation["latex"], equation["mathml"], block)
    )  # pandoc's MathML, or escaped text


def _nodes(nodes: list[Any]) -> Markup:
    return Markup(markup.to_html(nodes))  # every text in it is escaped by to_html


def _css_text(text: str) -> Markup:
    """A text inside a CSS string: every character by its code, so that none can end the string or the style."""
    return Markup("".join(f"\\{ord(letter):06x}" for letter in " ".join(text.split())[:80]))


def _language(text: str) -> Markup:
    """The attribute that says which language a text is in, where its script tells."""
    tag = language_of(text)
    return Markup(f' lang="{tag}"') if tag else Markup("")


def _faces(text: str) -> Markup:
    """CSS with the shapes of those letters of a text that a browser may have no font for: a few, cut from the fonts.

    The family stands before the others and serves these letters alone; what the workbook's fonts lack too is left to
    the reader's machine.
    """
    return Markup("\n").join(
        Markup(
            '@font-face {{ font-family: "Workbook Signs"; src: url(data:font/woff2;base64,{}) format("woff2"); '
            "font-weight: {}; unicode-range: {}; }}"
        ).format(
            base64.b64encode(_cut_out(cut)).decode("ascii"),
            cut.weight,
            ", ".join(f"U+{ord(letter):X}" for letter in cut.letters),
        )
        for cut in cuts(text)
    )


def _cut_out(cut: Cut) -> bytes:
    from fontTools import subset  # slow to import, wanted for some scripts only

    options = subset.Options(flavor="woff2", hinting=False, notdef_outline=True, font_number=cut.place)
    options.drop_tables += ["FFTM"]  # the editor's own time stamp
    with subset.load_font(cut.path, options) as font:
        cutter = subset.Subsetter(options)
        cutter.populate(text=cut.letters)
        cutter.subset(font)
        out = io.BytesIO()
        subset.save_font(font, out, options)
    return out.getvalue()


def _environment(own: Sequence[str]) -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("calc.package", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        # Every text keeps its order beside words that run from right to left; markup was seen to already.
        finalize=lambda value: directed(value, own) if type(value) is str else value,
    )
    environment.filters.update(
        picture=_picture, equation=_equation, nodes=_nodes, css_text=_css_text, language=_language
    )
    return environment


def write_html(document: Document, path: Path) -> None:
    """Write the document as one self-contained HTML file.

    Parameters
    ----------
    document : Document
        The document.
    path : Path
        The file to write; it appears whole or not at all.

    Raises
    ------
    ValueError
        When a block of the document is not of a known kind.
    """
    view = contents.view(document)
    own = [value for value in document.job.values() if isinstance(value, str)]
    faces = _faces(json.dumps(view, ensure_ascii=False))
    text = _environment(own).get_template("calculation.html.j2").render(**view, **_LOOK, faces=faces)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8", errors="replace", newline="\n")
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
