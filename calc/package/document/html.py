"""The document as one HTML file that asks no network for anything.

MathML, embedded pictures, style for screen, paper and phone.
"""

from __future__ import annotations

import base64
import io
import json
import os
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
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

_DRAWN = re.compile(r'viewBox="[-0-9.]+ [-0-9.]+ ([0-9.]+) ')
_HEADING = 3
_BEHIND = "What stands behind the steps"


def _picture(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode("utf-8")).decode("ascii")


def _drawn_width(svg: str) -> str:
    """The width at which a picture was drawn, as CSS has it: at less, its letters are smaller than they are printed."""
    found = _DRAWN.search(svg)
    return f"{float(found[1]):.0f}pt" if found else "0"


_MIME = {"png": "image/png", "jpg": "image/jpeg", "svg": "image/svg+xml"}


def _photo(block: dict[str, Any]) -> Markup:
    """Where a picture of a note is: in the page itself, drawn as a picture, so that nothing in it acts."""
    return Markup("data:{};base64,{}").format(_MIME[block["ending"]], block["data"])


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


def faces_of(text: str) -> Markup:
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


def _folds(section: dict[str, Any]) -> list[dict[str, Any]]:
    """Part a section at its headings, each part to be opened by itself; what stands before the first is always seen.

    What is signed is open, but for steps, which are long; so is nothing of the record.
    """
    folds: list[dict[str, Any]] = [{"head": None, "blocks": []}]
    for block in section["blocks"]:
        for head, part in _headed(block, behind=folds[-1]["head"] == _BEHIND):
            if head is not None:
                folds.append({"head": head, "blocks": []})
            folds[-1]["blocks"].append(part)
    for fold in folds:
        long = any(block["kind"] in ("steps", "chain") for block in fold["blocks"])
        fold["open"] = not section["notebook"] and not long
    return folds


def _headed(block: dict[str, Any], behind: bool) -> Iterator[tuple[Markup | str | None, dict[str, Any]]]:
    """Parts of a block, each with the heading that it stands under where a new one begins."""
    if block["kind"] == "prose":
        places = [n for n, node in enumerate(block["nodes"]) if node["t"] == "h" and node["level"] == _HEADING]
        for start, end in pairwise(sorted({0, *places, len(block["nodes"])})):
            nodes = block["nodes"][start:end]
            if start in places:
                yield Markup(markup.to_html(nodes[0]["c"])), block | {"nodes": nodes[1:]}
            elif nodes:
                yield None, block | {"nodes": nodes}
    elif block["kind"] == "rich" and not behind:
        yield _BEHIND, block
    elif block["kind"] == "values" and not block["place"]:
        yield block["caption"], block  # of the calculation, where it is none of the steps before it
    else:
        yield block.get("title") or None, block


def _dose_first(table: dict[str, Any]) -> dict[str, Any]:
    """Put what is to be read first, the dose, beside the name of its row, where a narrow screen shows it."""
    if not table.get("large"):
        return table
    order = sorted(range(len(table["columns"])), key=lambda n: (n > 0, n not in table["large"], n))
    return table | {
        "columns": [table["columns"][n] for n in order],
        "rows": [[row[n] for n in order] for row in table["rows"]],
        "align": "".join(table["align"][n] for n in order),
        "large": [order.index(n) for n in table["large"]],
    }


def page_templates(own: Sequence[str]) -> jinja2.Environment:
    """Return what fills the templates of pages; ``own`` are texts of the job whose scripts may run left."""
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
        picture=_picture,
        photo=_photo,
        drawn_width=_drawn_width,
        equation=_equation,
        nodes=_nodes,
        css_text=_css_text,
        language=_language,
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
    for section in view["sections"]:
        section["blocks"] = [_dose_first(block) for block in section["blocks"]]
        section["folds"] = _folds(section)
    if view["front"] and view["front"]["answer"]:
        view["front"]["answer"] = _dose_first(view["front"]["answer"])
    own = [value for value in document.job.values() if isinstance(value, str)]
    faces = faces_of(json.dumps(view, ensure_ascii=False))
    text = page_templates(own).get_template("calculation.html.j2").render(**view, **_LOOK, faces=faces)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8", errors="replace", newline="\n")
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
