"""The parts of a calculation package's document, as plain data: page 1, sections, blocks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from calc.base.errors import CalcError
from calc.base.identity import words_of
from calc.base.sheet import Joined

Block = dict[str, Any]

INVENTED = "Demo with invented data: not for construction"
BLOCK_KINDS = ("prose", "steps", "chain", "values", "table", "inputs", "figure", "photo", "note", "checks", "notices")
IN_RECORD = "record"  # place of what stands behind the calculation
EVERY_CHECK, MADE_OF = "checks", "made"  # sections of the record that are no notebook's


@dataclass(frozen=True)
class GroupDose:
    """What is done in a hole of one bar group, in words: how many there are, what goes in, how full it looks."""

    mark: str
    holes: str
    bar: str
    hole: str
    embedment: str
    dose: str
    surface: str


@dataclass(frozen=True)
class Front:
    """Page 1: what was asked, the answer, every check, what is done elsewhere by whom, and what a signature covers.

    ``answer`` is shown as it is where there are no ``doses``. ``assumed`` tells which values nobody stated; cautions
    and notices stand behind, the weightiest first.
    """

    question: str
    answer: Block
    headline: tuple[str, ...]
    checks: list[dict[str, Any]]
    notices: list[Joined]
    cautions: list[str]
    not_covered: list[str]
    outside: list[Joined] = field(default_factory=list)
    assumed: list[Joined] = field(default_factory=list)
    doses: tuple[GroupDose, ...] = ()


@dataclass(frozen=True)
class Section:
    """One part of the document: of the calculation, by its name there; or one notebook, whose stem is then given."""

    title: str
    blocks: tuple[Block, ...]
    notebook: str = ""
    part: str = ""


@dataclass(frozen=True)
class Document:
    """A whole document; `job` has number, revision, title, invented, site, prepared_by, checked_by, adhesive and date.

    With `results`, the content of results.json, each notebook gets its inputs and sources, and the document a trace
    index.
    """

    title: str
    job: dict[str, Any]
    front: Front | None
    sections: tuple[Section, ...]
    stamp: str
    results: Mapping[str, Any] | None = None


class DocumentError(CalcError):
    """The document could not be written; the message is one sentence."""


def numbered(document: Document) -> list[tuple[str, Section]]:
    """Number the sections: 1, 2, … and R1, R2, … for the notebooks, whose steps are the record.

    Parameters
    ----------
    document : Document
        The document.

    Returns
    -------
    list of tuple of str and Section
    """
    found: list[tuple[str, Section]] = []
    counted = {True: 0, False: 0}
    for section in document.sections:
        counted[bool(section.notebook)] += 1
        found.append((f"{'R' if section.notebook else ''}{counted[bool(section.notebook)]}", section))
    return found


def steps_of(document: Document) -> Iterator[tuple[str, dict[str, Any]]]:
    """Go through the steps of a document in the order in which they stand.

    Parameters
    ----------
    document : Document
        The document.

    Yields
    ------
    tuple of str and dict
        The step's number, such as ``R2.14``, and the step.
    """
    for index, section in numbered(document):
        number = 0
        for block in section.blocks:
            for step in block.get("steps", []) if block["kind"] == "steps" else []:
                number += 1
                yield f"{index}.{number}", step


def notebook_names(document: Document) -> dict[str, str]:
    """Return what the notebooks are called for people.

    Parameters
    ----------
    document : Document
        The document; a notebook without a section of its own is named after its stem.

    Returns
    -------
    dict
        Title by the notebook's stem.
    """
    names = {section.notebook: section.title for section in document.sections if section.notebook}
    for sheet in document.results.get("sheets", ()) if document.results else ():
        names.setdefault(str(sheet["notebook"]), words_of(str(sheet["notebook"])))
    return names
