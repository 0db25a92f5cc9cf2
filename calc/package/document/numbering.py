"""What all parts of a document draw on.

Numbers and link targets, equations to be converted at once, numbered tables.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from calc.package.document import markup
from calc.package.document.parts import IN_RECORD, Block, Document, numbered, steps_of
from calc.work.trace import Trace

_PROSE = 24
# Letters of mathematics that a column of the record holds, and that a fraction may have: more cannot be wrapped.
_LINE, _WIDEST, _IN_LONG_LINES = 60, 52, 14


def anchor(identity: str) -> str:
    """A step's id as a link target: letters, digits, dot, hyphen; anything else by its code point."""
    return "step-" + "".join(
        letter if (letter.isascii() and letter.isalnum()) or letter in ".-" else f"_{ord(letter):x}_"
        for letter in identity
    )


@dataclass
class Places:
    """Numbers and link targets of everything that can be pointed at, found before anything is drawn.

    Attributes
    ----------
    steps
        Number of each step and the id of the one that is typeset for all that are alike, by its id.
    numbers
        Number of each table and figure by the identity of its block: 1, 2, … and in the record R2a, R2b, …
    behind
        Numbers of the tables of inputs, sources, results without a formula and sides of checks behind each notebook.
    found
        Number of the table in which a result without a formula stands, by its id.
    parts
        Number of each notebook's part, by the notebook's name.
    tabled, figured, lettered
        Tables and figures counted so far, and tables of each section of the record.
    """

    steps: dict[str, tuple[str, str]] = field(default_factory=dict)
    numbers: dict[int, str] = field(default_factory=dict)
    behind: dict[str, tuple[str, ...]] = field(default_factory=dict)
    found: dict[str, str] = field(default_factory=dict)
    parts: dict[str, str] = field(default_factory=dict)
    tabled: int = 0
    figured: int = 0
    lettered: dict[str, int] = field(default_factory=dict)

    def next_table(self) -> str:
        """Count one more table; returns its number."""
        self.tabled += 1
        return str(self.tabled)

    def next_figure(self) -> str:
        """Count one more figure; returns its number."""
        self.figured += 1
        return str(self.figured)

    def next_in_record(self, section: str) -> str:
        """Count one more table of a section of the record; returns its number, such as R2c."""
        count = self.lettered.get(section, 0)
        self.lettered[section] = count + 1
        before = chr(ord("a") + count // 26 - 1) if count >= 26 else ""
        return f"{section}{before}{chr(ord('a') + count % 26)}"

    def of(self, identity: str) -> dict[str, Any] | None:
        """Where a step stands; None when nowhere."""
        if identity in self.found:
            number = f"Table {self.found[identity]}"
            return {"text": number, "target": f"table-{self.found[identity]}", "number": number}
        if identity not in self.steps:
            return None
        number, typeset = self.steps[identity]
        return {"text": f"step {number}", "target": anchor(typeset), "number": number}


def find_places(document: Document, trace: Trace | None, places: Places) -> None:
    """Number tables and figures in the order in which they stand, so that PDF and HTML have the same.

    Parameters
    ----------
    document : Document
        The document.
    trace : Trace or None
        Its trace; with one, each notebook has up to four tables more behind its steps.
    places : Places
        Takes the numbers; it may have counted the tables of page 1 already.
    """
    for index, section in numbered(document):
        if section.notebook:
            places.parts[section.notebook] = index
        for block in section.blocks:
            if block["kind"] in ("table", "values", "inputs") and block.get("caption"):
                in_record = section.notebook and block.get("place") == IN_RECORD
                places.numbers[id(block)] = places.next_in_record(index) if in_record else places.next_table()
            if block["kind"] in ("figure", "photo") and block.get("caption"):
                places.numbers[id(block)] = places.next_figure()
        if trace is not None and section.notebook and trace.sources(section.notebook):
            kinds = (True, True, trace.found(section.notebook), trace.sides(section.notebook))
            numbers = tuple(places.next_in_record(index) if kind else "" for kind in kinds)
            places.behind[section.notebook] = numbers
            places.found |= {identity: numbers[2] for use in trace.found(section.notebook) for identity in use.ids}
    for number, step in steps_of(document):
        for identity in step.get("alike") or [step["id"]]:
            places.steps.setdefault(str(identity), (number, str(step["id"])))


def _group(text: str, start: int) -> int:
    """Where the group in braces that opens at ``start`` ends."""
    depth = 0
    for index in range(start, len(text)):
        depth += {"{": 1, "}": -1}.get(text[index], 0)
        if depth == 0:
            return index + 1
    return len(text)


def _breakable(line: str) -> str:
    """Write a fraction with a slash where the line could not be wrapped otherwise: it is wider than a column."""
    widest = _WIDEST if _letters(line) <= _LINE else _IN_LONG_LINES
    start = line.find(r"\frac{")
    while start >= 0:
        middle = _group(line, start + 5)
        end = _group(line, middle)
        above, below = line[start + 6 : middle - 1], line[middle + 1 : end - 1]
        if max(_letters(above), _letters(below)) > widest:
            line = rf"{line[:start]}\left( {above} \right) / \left( {below} \right){line[end:]}"
        start = line.find(r"\frac{", start + 6)
    return line


def _letters(latex: str) -> int:
    """About how many letters wide it is."""
    shown = latex.replace(r"\left", "").replace(r"\right", "").replace(r"\mathrm", "").replace(r"\frac", "")
    return len("".join(sign for sign in shown if sign not in "{} \\"))


class Equations:
    """LaTeX that is wanted, converted by pandoc all at once when the whole document is known."""

    def __init__(self) -> None:
        self.wanted: list[dict[str, Any]] = []

    def __call__(self, latex: str, alt: str) -> dict[str, Any]:
        """Ask for an equation [LaTeX, words for it]; what it is converted to is filled in by `convert`."""
        equation = {"latex": latex, "typst": None, "mathml": None, "alt": alt or latex}
        self.wanted.append(equation)
        return equation

    def lines(self, latex: str, alt: str) -> list[dict[str, Any]]:
        """Ask for the lines of a step one by one: symbol = expression, = numbers; and = result where it is converted.

        The words for them stand at the first, so that they are read aloud once.
        """
        body = latex.partition(r"\begin{aligned}")[2].partition(r"\end{aligned}")[0] or latex
        parts = (" ".join(line.replace("&", " ").split()) for line in body.split(r"\\"))
        lines = list(dict.fromkeys(_breakable(line) for line in parts if line))
        if len(lines) > 1 and lines[-1].count("=") == 1:
            del lines[-1]  # the result stands beside the step's name
        return [self(line, alt if index == 0 else "with numbers") for index, line in enumerate(lines)]

    def convert(self) -> None:
        """Fill in Typst and MathML of every equation that was asked for."""
        done = markup.convert_all(equation["latex"] for equation in self.wanted if equation["latex"])
        for equation in self.wanted:
            equation["typst"], equation["mathml"] = done.get(equation["latex"], (None, None))


def _pads(cells: list[str]) -> list[list[str] | None]:
    """Where decimals are missing for the points of a column to stand under each other: before, what is missing, behind.

    None where nothing is missing, and in the whole column where its numbers have several units.
    """
    found = [_number(cell) for cell in cells]
    numbers = [one for one in found if one]
    most = max((len(decimals) for _, decimals, _ in numbers), default=0)
    if not most or len({unit for _, _, unit in numbers}) > 1:
        return [None] * len(cells)
    return [_padded(*one, most) if one else None for one in found]


def _number(cell: str) -> tuple[str, str, str] | None:
    """Take a number apart: what stands before the point, the point with its decimals, the unit; None for words."""
    head = cell.replace("\u00a0", " ").partition(" ")[0]
    whole, point, decimals = head.partition(".")
    if not whole.lstrip("+-").isdecimal() or (point and not decimals.isdecimal()):
        return None
    unit = cell[len(head) :]
    return None if any(letter.isdecimal() for letter in unit) else (whole, point + decimals, unit)


def _padded(whole: str, decimals: str, unit: str, most: int) -> list[str] | None:
    missing = "0" * (most - len(decimals)) if decimals else "." + "0" * (most - 1)
    return [whole + decimals, missing, unit] if missing else None


def numbered_table(block: Block, number: str | None = None) -> dict[str, Any]:
    """A table as a writer draws it.

    Parameters
    ----------
    block : dict
        Caption, columns, rows and alignment, one letter for a column.
    number : str or None
        Number of the table; None for one that is not numbered.

    Returns
    -------
    dict

    Raises
    ------
    ValueError
        A row whose cells do not fit the columns.
    """
    columns = [str(name) for name in block["columns"]]
    rows = [[str(cell) for cell in row] for row in block["rows"]]
    for row in rows:
        if len(row) != len(columns):
            raise ValueError(
                f"table {block.get('caption', '')!r}: a row has {len(row)} cells, the table has {len(columns)} columns"
            )
    align = (str(block.get("align") or "") + "l" * len(columns))[: len(columns)]
    # The widest texts that each column has to hold on one line: the PDF picks widths and type size by them. Prose may
    # wrap.
    probe = []
    pads = [
        _pads([row[index] for row in rows]) if letter == "r" else [None] * len(rows)
        for index, letter in enumerate(align)
    ]
    for index, letter in enumerate(align):
        cells = [row[index] if pad is None else "".join(pad) for row, pad in zip(rows, pads[index], strict=True)]
        longest = max(cells, key=len, default="")
        long = letter == "l" and len(longest) > _PROSE
        probe.append(
            {
                "head": max(columns[index].split() or [""], key=len),
                "cell": longest[:_PROSE] if long else longest,
                "long": long,
            }
        )
    caption = str(block.get("caption") or "")
    return {
        "kind": "table",
        "caption": caption,
        "number": number,
        "anchor": f"table-{number}" if number else None,
        "columns": columns,
        "rows": rows,
        "align": align,
        "probe": probe,
        "pads": [list(row) for row in zip(*pads, strict=True)],
        "large": list(block.get("large", ())),
        "place": block.get("place", ""),
    }


def _key(name: str, key: str) -> str:
    """Leave out of a group's key what its line begins with: the table of the group."""
    mark = name.partition(": ")[0]
    own = key.removeprefix(f"design.group.{mark}.")
    return key if own == key else f"….{own}"


def inputs_table(block: Block, number: str | None) -> dict[str, Any]:
    """A table of inputs as a writer draws it: the file that most come from is named once.

    Parameters
    ----------
    block : dict
        Its rows have name, value, and file and key.
    number : str or None
        Number of the table.

    Returns
    -------
    dict
    """
    table = numbered_table(block, number)
    files = [row[2].partition(", ")[0] for row in table["rows"]]
    file = max(files, key=files.count, default="")
    rows = [[*row[:2], _key(row[0], row[2].removeprefix(f"{file}, "))] for row in table["rows"]]
    caption = f"{table['caption']}: keys of {file}" if file else table["caption"]
    if any(row[2].startswith("…") for row in rows):
        caption += "; … is the table of the group that is named"
    return table | {"kind": "inputs", "caption": caption, "rows": rows}
