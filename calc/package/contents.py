"""What a file of a package says, piece by piece, so that two files of one name can be held against each other.

A file may come from anybody: it is read as data, and what cannot be read is told.
"""

from __future__ import annotations

import base64
import io
import json
import lzma
import re
import xml.etree.ElementTree as ET
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import pairwise, takewhile
from pathlib import PurePosixPath
from typing import Any

from calc.package.document.pdftext import PdfError, read_pdf
from calc.package.manifest import PackageError, parse, shown

_LARGEST = 1 << 28  # bytes that a workbook's parts may have together
_PICTURE = "data:image/svg+xml;base64,"
_NUMBER = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?)")
_NEAR = 0.051  # px: a picture's numbers are written to a tenth or finer, and releases that draw it differ in the last
_SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_CUT, _DIGITS = 70, 12
_CALLED = {".html": "a page of HTML", ".xlsx": "a workbook"}
_OF_LIBRARIES = (ET.ParseError, lzma.LZMAError, zipfile.BadZipFile, zlib.error)

Piece = tuple[str, str]


def pieces(name: str, raw: bytes) -> list[Piece]:
    """Read what a file says.

    Parameters
    ----------
    name
        The file's name; its ending says how it is read.
    raw
        Its content.

    Returns
    -------
    list of Piece
        Place and text, in order: lines of a page, tags and texts of a page of HTML, cells of a workbook, values of a
        notebook, lines of anything else.

    Raises
    ------
    PackageError
        It cannot be read as what its name says.
    """
    kind = PurePosixPath(name).suffix.lower()
    try:
        match kind:
            case ".pdf":
                return [(f"page {n}", line) for n, page in enumerate(read_pdf(raw).pages, 1) for line in page.lines]
            case ".html":
                return _Tags(raw.decode("utf-8", "replace")).found
            case ".xlsx":
                return list(_workbook(raw))
            case ".ipynb" | ".json":
                return list(_leaves(parse(raw), ()))
    except PdfError as error:
        raise PackageError(f"{shown(name)} cannot be read as a PDF: {error}") from None
    except PackageError as error:
        raise PackageError(f"{shown(name)} {error}") from None
    except (
        *(ArithmeticError, AttributeError, EOFError, LookupError, MemoryError, OSError, RuntimeError),
        *(TypeError, ValueError),
        *_OF_LIBRARIES,
    ) as error:  # a file may be made to trip what reads it
        why = shown(error, 80) or type(error).__name__
        raise PackageError(
            f"{shown(name)} cannot be read as {_CALLED.get(kind, 'what its name says')}: {why}"
        ) from None
    return [(f"line {n}", line) for n, line in enumerate(raw.decode("utf-8", "replace").splitlines(), 1)]


def difference(name: str, one: bytes, other: bytes) -> str:
    """Say in what two files of one name differ.

    Parameters
    ----------
    name
        Their name.
    one, other
        Their contents.

    Returns
    -------
    str
        Where they differ first, in words, and how often; or nothing where they say the same: texts and numbers exactly,
        and the numbers of a picture to a twentieth of its unit.

    Raises
    ------
    PackageError
        One of them cannot be read.
    """
    before, after = pieces(name, one), pieces(name, other)
    ahead = sum(1 for _ in takewhile(lambda pair: _same(*pair), zip(before, after, strict=False)))
    before, after = before[ahead:], after[ahead:]
    behind = sum(1 for _ in takewhile(lambda pair: _same(*pair), zip(before[::-1], after[::-1], strict=False)))
    before, after = before[: len(before) - behind], after[: len(after) - behind]
    if not before and not after:
        return ""
    place = (before or after)[0][0]
    texts = [some[0][1] if some else "" for some in (before, after)]
    gone = Counter(text for _, text in before) - Counter(text for _, text in after)
    new = Counter(text for _, text in after) - Counter(text for _, text in before)
    more = max(gone.total(), new.total()) - 1
    return f"{place}: {' → '.join(_window(*texts))}{f', and {more} more' if more > 0 else ''}"


def drawn_otherwise(one: bytes, other: bytes) -> list[int]:
    """Return the numbers of the pages of two PDF files that are drawn differently, whatever their words.

    Raises
    ------
    PdfError
        One of them cannot be read.
    """
    pairs = zip(read_pdf(one).pages, read_pdf(other).pages, strict=False)
    return [number for number, (before, after) in enumerate(pairs, 1) if before.drawn != after.drawn]


def _window(one: str, other: str) -> list[str]:
    """Both texts, cut to where they differ."""
    start = max(
        0, sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False))) - _CUT // 2
    )
    return [
        f"'{'…' if start and text else ''}{shown(text[start : start + _CUT])}{'…' if len(text) > start + _CUT else ''}'"
        if text
        else "nothing"
        for text in (one, other)
    ]


def _same(one: Piece, other: Piece) -> bool:
    if one == other:
        return True
    if one[0] != other[0] or not ("<svg" in one[1] and "<svg" in other[1]):
        return False
    before, after = _NUMBER.split(one[1]), _NUMBER.split(other[1])
    return (
        len(before) == len(after)
        and before[::2] == after[::2]
        and all(abs(float(a) - float(b)) <= _NEAR for a, b in zip(before[1::2], after[1::2], strict=True))
    )


class _Tags(HTMLParser):
    """Each tag with what stands in it, and each text; a place is the title above it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[Piece] = []
        self._place, self._within = "head", ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._within = tag
        told = [f'{key}="{_unpacked_picture(value or "")}"' for key, value in attrs]
        self.found.append((self._place, f"<{' '.join([tag, *told])}>"))

    def handle_endtag(self, tag: str) -> None:
        self.found.append((self._place, f"</{tag}>"))

    def handle_data(self, data: str) -> None:
        if self._within in ("h1", "h2", "h3") and data.strip():
            self._place = f"under {shown(data.strip(), 40)}"
        self.found.append((self._place, data))

    def handle_comment(self, data: str) -> None:
        self.found.append((self._place, f"<!--{data}-->"))

    def handle_decl(self, decl: str) -> None:
        self.found.append((self._place, f"<!{decl}>"))


def _unpacked_picture(value: str) -> str:
    if not value.startswith(_PICTURE):
        return value
    return base64.b64decode(value.removeprefix(_PICTURE) + "==").decode("utf-8", "replace")


def _leaves(value: Any, place: tuple[str, ...]) -> Iterator[Piece]:
    if isinstance(value, list) and len(value) > 1 and all(isinstance(one, str) for one in value):
        value = "".join(value)  # as notebooks keep a text of several lines
    if isinstance(value, (dict, list)):
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _leaves(inner, (*place, str(key)))
        if not value:
            yield _named(place), "nothing in it"
    else:
        yield _named(place), value if isinstance(value, str) else json.dumps(value)


def _named(place: tuple[str, ...]) -> str:
    """A place in a notebook as people count: its cells from one."""
    head = [f"cell {int(number) + 1}" for part, number in pairwise(place[:2]) if part == "cells" and _counted(number)]
    return shown(" ".join([*head, *place[2 * len(head) :]]), 80)


def _counted(text: str) -> bool:
    """Whether a text is a number that one counts with, in digits as they are typed."""
    return text.isascii() and text.isdecimal() and len(text) < _DIGITS


def _workbook(raw: bytes) -> Iterator[Piece]:
    """Each cell of each sheet, and the other parts of the file as they are."""
    with zipfile.ZipFile(io.BytesIO(raw)) as book:
        entries = book.infolist()
        if sum(entry.file_size for entry in entries) > _LARGEST or any(entry.flag_bits & 1 for entry in entries):
            raise zipfile.BadZipFile("it is encrypted, or larger than any workbook of a package")
        parts = {entry.filename: book.read(entry) for entry in entries}
    shared = parts.get("xl/sharedStrings.xml")
    strings = ["".join(one.itertext()) for one in ET.fromstring(shared).findall(f"{_SHEET}si")] if shared else []
    names = [
        str(one.get("name")) for one in ET.fromstring(parts.get("xl/workbook.xml", b"<x/>")).iter(f"{_SHEET}sheet")
    ]
    titles = {f"xl/worksheets/sheet{number}.xml": name for number, name in enumerate(names, 1)}
    for part, body in parts.items():
        if part not in titles:
            yield part, body.decode("utf-8", "replace")
            continue
        for cell in ET.fromstring(body).iter(f"{_SHEET}c"):
            place = f"{shown(titles[part], 40)}!{cell.get('r')}"
            for formula in cell.findall(f"{_SHEET}f"):
                yield f"{place}, formula", "".join(formula.itertext())
                cell.remove(formula)
            text = "".join(cell.itertext())
            if cell.get("t") == "s" and _counted(text) and int(text) < len(strings):
                text = strings[int(text)]
            yield place, text
        rest = ET.fromstring(body)
        for inner in rest.iter(f"{_SHEET}sheetData"):
            inner.clear()
        yield part, ET.tostring(rest, encoding="unicode")
