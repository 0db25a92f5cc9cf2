"""Equations and prose for the document: LaTeX and Markdown in, checked data out.

Pandoc reads both. Equations travel as its JSON tree and never as Markdown, so that no character in them can end the
equation. Prose comes back as a small tree of our own, in which raw HTML, raw TeX, remote pictures and script links are
plain text; the writers draw that tree.
"""

from __future__ import annotations

import functools
import html
import json
import re
import subprocess
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import pypandoc

from calc.base.errors import CalcError
from calc.base.signs.scripts import directed

Node = dict[str, Any]

# raw_html and its relations off: what looks like markup is text. smart and emoji off: the reader sees what was typed.
_MARKDOWN = (
    "commonmark_x-raw_html-raw_attribute-attributes-smart-emoji-footnotes-yaml_metadata_block-fenced_divs"
    "+tex_math_dollars"
)
_API = [1, 23, 1]
_SENTINEL = "qzqpart{}qzq"
_FIRST_LEVEL = 3


class MathError(CalcError):
    """Pandoc is missing or refused its input."""


def _pandoc(text: str, *arguments: str) -> str:
    try:
        command = [pypandoc.get_pandoc_path(), "--sandbox", "--wrap=preserve", *arguments]
        done = subprocess.run(
            command, input=text.encode("utf-8", "replace"), capture_output=True, timeout=300, check=True
        )
    except (OSError, subprocess.SubprocessError) as error:
        detail = getattr(error, "stderr", b"") or str(error).encode()
        raise MathError(
            f"pandoc could not convert the text of the document: {detail.decode('utf-8', 'replace').strip()[:400]}"
        ) from error
    return done.stdout.decode("utf-8").replace("\r\n", "\n")


def _tree(blocks: list[Any]) -> str:
    return json.dumps({"pandoc-api-version": _API, "meta": {}, "blocks": blocks})


def _parts(text: str, opening: str, closing: str, count: int) -> list[str]:
    """Cut the text at its numbered sentinels, which must all be there."""
    pieces = re.split(re.escape(opening) + r"qzqpart\d+qzq" + re.escape(closing), text)
    if len(pieces) != count + 1:
        raise MathError(f"pandoc gave back {len(pieces) - 1} equations of {count}")
    return [piece.strip() for piece in pieces[1:]]


@functools.lru_cache(maxsize=64)
def _convert(latex: tuple[str, ...]) -> tuple[tuple[str | None, str | None], ...]:
    blocks: list[Any] = []
    for number, source in enumerate(latex):
        blocks.append({"t": "Para", "c": [{"t": "Str", "c": _SENTINEL.format(number)}]})
        blocks.append({"t": "Para", "c": [{"t": "Math", "c": [{"t": "DisplayMath"}, source]}]})
    tree = _tree(blocks)
    typst = _parts(_pandoc(tree, "-f", "json", "-t", "typst"), "", "", len(latex))
    mathml = _parts(_pandoc(tree, "-f", "json", "-t", "html5", "--mathml"), "<p>", "</p>", len(latex))
    return tuple((_typst_body(one), _mathml_body(two)) for one, two in zip(typst, mathml, strict=True))


def _typst_body(text: str) -> str | None:
    """Inside of `$ … $`; None when pandoc did not understand the LaTeX and wrote it as text."""
    found = re.fullmatch(r"\$ (.*) \$", text, flags=re.DOTALL)
    return found.group(1) if found else None


def _mathml_body(text: str) -> str | None:
    """The `<math>` element without namespace (HTML needs none) and without the copy of the LaTeX."""
    found = re.search(r"<math .*</math>", text, flags=re.DOTALL)
    if not found:
        return None
    body = found.group(0).replace(' xmlns="http://www.w3.org/1998/Math/MathML"', "")
    body = re.sub(r"<annotation .*?</annotation>", "", body, flags=re.DOTALL)
    return body.replace("<semantics>", "").replace("</semantics>", "")


def clean_latex(latex: str) -> str:
    """The LaTeX without its dollar signs and without a line break that nothing follows."""
    text = latex.strip().strip("$").strip()
    return re.sub(r"\\\\(?:\[[^\]]*\])?\s*(\\end\{aligned\})", r"\n\1", text)


def convert_all(latex: Iterable[str]) -> dict[str, tuple[str | None, str | None]]:
    """Typst and MathML of many equations, with one pandoc call for each of the two.

    Parameters
    ----------
    latex : iterable of str
        Equations without dollar signs. Doubles are converted once.

    Returns
    -------
    dict
        LaTeX as given: (Typst mathematics, MathML). None where pandoc does not know a command: show the LaTeX as text
        then.

    Raises
    ------
    MathError
        When pandoc cannot be run.
    """
    unique = tuple(dict.fromkeys(latex))
    if not unique:
        return {}
    return dict(zip(unique, _convert(tuple(clean_latex(source) for source in unique)), strict=True))


def display(mathml: str, block: bool) -> str:
    """The same MathML, set as a displayed or as an inline equation."""
    return mathml if block else mathml.replace('display="block"', 'display="inline"', 1)


# ---------------------------------------------------------------------------------------------------------------- prose


@functools.lru_cache(maxsize=64)
def _read(markdowns: tuple[str, ...]) -> tuple[str, ...]:
    """Pandoc's blocks of each text, as JSON.

    One call for all; one call each when a text swallows the mark that follows it.
    """
    joined = "".join(f"\n\n{_SENTINEL.format(number)}\n\n{text}" for number, text in enumerate(markdowns))
    blocks = json.loads(_pandoc(joined, "-f", _MARKDOWN, "-t", "json"))["blocks"]
    parts: list[list[Any]] = []
    for block in blocks:
        words = block.get("c")
        if block["t"] == "Para" and len(words) == 1 and words[0].get("c") == _SENTINEL.format(len(parts)):
            parts.append([])
        elif parts:
            parts[-1].append(block)
    if len(parts) == len(markdowns):
        return tuple(json.dumps(part) for part in parts)
    return tuple(json.dumps(json.loads(_pandoc(text, "-f", _MARKDOWN, "-t", "json"))["blocks"]) for text in markdowns)


def prose(markdowns: Sequence[str]) -> list[list[Node]]:
    """Read Markdown texts into trees that hold text, emphasis, lists, tables, links and equations.

    And nothing that runs.

    Parameters
    ----------
    markdowns : sequence of str
        Texts in CommonMark with pipe tables and `$…$` equations.

    Returns
    -------
    list of list of dict
        Blocks of each text. Equations are nodes `{"t": "math", "latex", "typst", "mathml", "block"}`.

    Raises
    ------
    MathError
        When pandoc cannot be run.
    """
    if not markdowns:
        return []
    trees = [_blocks(json.loads(part)) for part in _read(tuple(markdowns))]
    equations = [node for tree in trees for node in walk(tree) if node["t"] == "math"]
    done = convert_all(node["latex"] for node in equations)
    for node in equations:
        node["typst"], node["mathml"] = done[node["latex"]]
    return trees


def walk(nodes: Any) -> Iterator[Node]:
    """Every node of a tree, outermost first."""
    if isinstance(nodes, dict):
        if "t" in nodes:
            yield nodes
        for value in nodes.values():
            yield from walk(value)
    elif isinstance(nodes, list):
        for item in nodes:
            yield from walk(item)


def _blocks(blocks: list[Any]) -> list[Node]:
    return [node for block in blocks for node in _block(block)]


def _block(block: Node) -> list[Node]:
    content: Any = block.get("c")
    match block["t"]:
        case "Para" | "Plain":
            inline = _inlines(content)
            return [{"t": "p", "c": inline}] if inline else []
        case "Header":
            return [{"t": "h", "level": max(_FIRST_LEVEL, content[0] + 1), "c": _inlines(content[2])}]
        case "BulletList":
            return [{"t": "ul", "c": [_blocks(item) for item in content]}]
        case "OrderedList":
            return [{"t": "ol", "start": content[0][0], "c": [_blocks(item) for item in content[1]]}]
        case "DefinitionList":
            return [node for term, items in content for node in _definition(term, items)]
        case "CodeBlock" | "RawBlock":
            return [{"t": "pre", "s": content[1]}]
        case "BlockQuote":
            return [{"t": "quote", "c": _blocks(content)}]
        case "LineBlock":
            return [{"t": "p", "c": _inlines(line)} for line in content]
        case "Table":
            return [_table(content)]
        case "Div" | "Figure":
            return _blocks(content[-1])
    return []  # a horizontal rule says nothing


def _definition(term: list[Any], items: list[Any]) -> list[Node]:
    return [{"t": "p", "c": [{"t": "b", "c": _inlines(term)}]}, *[node for item in items for node in _blocks(item)]]


def _table(content: list[Any]) -> Node:
    def cells(row: list[Any]) -> list[list[Node]]:
        return [[node for block in _blocks(cell[4]) for node in block.get("c", [])] for cell in row[1]]

    letters = {"AlignRight": "r", "AlignCenter": "c"}
    head = [cells(row) for row in content[3][1]]
    rows = [cells(row) for body in content[4] for row in body[3]]
    return {
        "t": "table",
        "head": head[0] if head else [],
        "rows": rows,
        "align": "".join(letters.get(spec[0]["t"], "l") for spec in content[2]),
    }


def _text(inlines: list[Any]) -> str:
    return "".join(node.get("s") or _text(node.get("c", [])) for node in inlines)


def _inlines(inlines: list[Any]) -> list[Node]:
    nodes: list[Node] = []
    for item in inlines:
        for node in _inline(item):
            if node["t"] == "s" and nodes and nodes[-1]["t"] == "s":
                nodes[-1]["s"] += node["s"]
            else:
                nodes.append(node)
    return nodes


_WRAPPERS = {
    "Strong": "b",
    "Emph": "i",
    "Underline": "i",
    "Strikeout": "del",
    "Superscript": "sup",
    "Subscript": "sub",
    "SmallCaps": "span",
}


def _inline(item: Node) -> list[Node]:
    content: Any = item.get("c")
    match item["t"]:
        case "Str":
            return [{"t": "s", "s": content}]
        case "Space" | "SoftBreak":
            return [{"t": "s", "s": " "}]
        case "LineBreak":
            return [{"t": "br"}]
        case "Code" | "RawInline":
            return [{"t": "code", "s": content[1]}]
        case "Math":
            return [{"t": "math", "latex": content[1], "block": content[0]["t"] == "DisplayMath"}]
        case "Quoted":
            return [{"t": "s", "s": '"'}, *_inlines(content[1]), {"t": "s", "s": '"'}]
        case kind if kind in _WRAPPERS:
            return [{"t": _WRAPPERS[kind], "c": _inlines(content)}]
        case "Link":
            return _link(_inlines(content[1]), content[2][0])
        case "Image":  # a picture in prose would be a request or a missing file: its description stays
            return [{"t": "i", "c": _inlines(content[1])}]
        case "Span" | "Cite":
            return _inlines(content[1])
    return []


def _link(words: list[Node], target: str) -> list[Node]:
    if re.match(r"(https?://|mailto:)", target, flags=re.IGNORECASE):
        return [{"t": "a", "href": target, "c": words}]
    shown = target if _text(words) != target else ""
    return [*words, {"t": "s", "s": f" ({shown})"}] if shown else words


def to_html(nodes: Sequence[Node]) -> str:
    """HTML of a tree; every text in it is escaped."""
    return "".join(_node_html(node) for node in nodes)


def equation_html(latex: str, mathml: str | None, block: bool) -> str:
    """An equation as MathML, or its LaTeX as text when it could not be converted."""
    if mathml is None:
        return f"<code>{html.escape(latex)}</code>"
    return f'<span class="eq">{display(mathml, True)}</span>' if block else display(mathml, False)


def _escaped(text: str) -> str:
    return html.escape(directed(text))


def _node_html(node: Node) -> str:
    match node["t"]:
        case kind if kind in _SIMPLE:
            return f"<{kind}>{to_html(node['c'])}</{kind}>"
        case "s":
            return _escaped(node["s"])
        case "br":
            return "<br>"
        case "code":
            return f"<code>{_escaped(node['s'])}</code>"
        case "pre":
            return f'<pre tabindex="0"><code>{_escaped(node["s"])}</code></pre>'
        case "math":
            return equation_html(node["latex"], node["mathml"], node["block"])
        case "h":
            return f"<h{node['level']}>{to_html(node['c'])}</h{node['level']}>"
        case "a":
            return f'<a href="{html.escape(node["href"])}" rel="noreferrer">{to_html(node["c"])}</a>'
        case "quote":
            return f"<blockquote>{to_html(node['c'])}</blockquote>"
        case "ul" | "ol" as kind:
            start = f' start="{int(node["start"])}"' if kind == "ol" and node["start"] != 1 else ""
            return f"<{kind}{start}>" + "".join(f"<li>{to_html(item)}</li>" for item in node["c"]) + f"</{kind}>"
        case "table":
            return _table_html(node)
        case kind:
            raise ValueError(f"unknown node {kind!r}")


_SIMPLE = frozenset({"p", "b", "i", "del", "sup", "sub", "span"})


def _table_html(node: Node) -> str:
    def row(cells: list[list[Node]], tag: str) -> str:
        scope = ' scope="col"' if tag == "th" else ""
        return (
            "<tr>"
            + "".join(
                f'<{tag}{scope} class="{a}">{to_html(c)}</{tag}>' for c, a in zip(cells, node["align"], strict=False)
            )
            + "</tr>"
        )

    head = f"<thead>{row(node['head'], 'th')}</thead>" if node["head"] else ""
    return (
        '<div class="wide" tabindex="0" role="group" aria-label="Table">'
        f"<table>{head}<tbody>{''.join(row(cells, 'td') for cells in node['rows'])}</tbody></table></div>"
    )
