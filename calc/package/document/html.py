"""The document as one HTML file that asks no network for anything.

MathML, embedded pictures, style for screen, paper and phone.
"""

from __future__ import annotations

import base64
import os
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from calc.package.document import document as contents
from calc.package.document import markup
from calc.package.document.parts import Document


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


def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("calc.package", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(picture=_picture, equation=_equation, nodes=_nodes, css_text=_css_text)
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
    text = _environment().get_template("calculation.html.j2").render(**contents.view(document))
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8", errors="replace", newline="\n")
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
