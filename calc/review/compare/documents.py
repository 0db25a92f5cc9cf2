"""What the files of two packages say: each against the one of the same name."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath

from calc.base.identity import identity
from calc.package.contents import difference, drawn_otherwise, pieces
from calc.package.manifest import RESULTS, Package, PackageError, shown
from calc.review.compare.change import Change, count_of
from calc.review.compare.inputs import table_of
from calc.review.compare.tables import CellChange, Row, cell_changes

_NAMED, _LINE = 3, 90
_AMONG, _NO_BREAK = 40, "\u00a0"
_OFTEN = 2  # times that a line may stand in a document without being a head or a foot of its pages
_WORDS = (".pdf", ".html", ".ipynb")
_INPUTS = "inputs/"


def document_changes(
    before: Package, after: Package, renamed: Mapping[str, str]
) -> tuple[tuple[Change, ...], tuple[str, ...]]:
    """Compare the files of two packages, but for their inputs and results, which are compared as such.

    Parameters
    ----------
    before, after
        The packages, undamaged.
    renamed
        Marks that are others now.

    Returns
    -------
    tuple of Change, tuple of str
        A record for each file that is not the same byte for byte, saying what it says otherwise; and the names of those
        that are the same.
    """
    old, new = (_files(one) for one in (before, after))
    found, alike = [], []
    renamed = {**renamed, **_ids(before, renamed)}
    for name in dict.fromkeys((*old, *new)):
        if name in old and name in new and old[name] == new[name]:
            alike.append(name)
        elif name not in old or name not in new:
            found.append(Change("document", "added" if name in new else "removed", name, shown(name)))
        else:
            more = _otherwise(name, before.folder / name, after.folder / name, renamed)
            found.append(Change("document", "text", name, shown(name), more=tuple(more)))
    return tuple(found), tuple(alike)


def _ids(package: Package, renamed: Mapping[str, str]) -> dict[str, str]:
    """The ids of steps and checks of a group that is called otherwise now, as they are and as they would be."""
    sheets = package.results.get("sheets")
    records = [
        record
        for sheet in (sheets if isinstance(sheets, list) else ())
        for part in ("steps", "checks")
        for record in (sheet.get(part) or () if isinstance(sheet, dict) else ())
        if isinstance(record, dict) and record.get("mark") in renamed
    ]
    return {
        str(one.get("id")): identity(str(one.get("notebook")), renamed[one["mark"]], str(one.get("name")))
        for one in records
    }


def _files(package: Package) -> dict[str, str]:
    listed = package.manifest.get("files")
    return {
        name: str(digest)
        for name, digest in (listed.items() if isinstance(listed, dict) else ())
        if name != RESULTS and not name.startswith(_INPUTS)
    }


def _otherwise(name: str, before: Path, after: Path, renamed: Mapping[str, str]) -> list[str]:
    """In what a file is another one, in words."""
    one, other = before.read_bytes(), after.read_bytes()
    kind = PurePosixPath(name).suffix.lower()
    try:
        if kind == ".csv":
            old, new = table_of(one), table_of(other)
            return _cells(cell_changes(old, new, new[0] if new else (), renamed))
        if kind == ".xlsx" and (cells := _workbooks(_sheets(name, one), _sheets(name, other), renamed)):
            return cells
        if kind in _WORDS and (found := _words_otherwise(*(_words(name, raw) for raw in (one, other)))):
            return [found]
        if found := difference(name, one, other):
            return [found]
        pages = drawn_otherwise(one, other) if kind == ".pdf" else []
    except PackageError as error:
        return [f"another file; {error}"]
    if pages:
        where = f"page{'s' if len(pages) > 1 else ''} {', '.join(map(str, pages[:_NAMED]))}"
        return [f"the same words, drawn otherwise on {where}{' and more' if len(pages) > _NAMED else ''}"]
    return ["says the same, and is another file byte for byte"]


def _words(name: str, raw: bytes) -> list[tuple[str, str]]:
    """What a person reads in a document, each line with its page, title or cell; what repeats itself is left out.

    A head or a foot of a page says the same on each, and so does the revision in it.
    """
    kind = PurePosixPath(name).suffix.lower()
    read = pieces(name, raw)
    if kind == ".html":
        read = [(place, text) for place, text in read if place != "head" and text.strip() and text[:1] != "<"]
    if kind == ".ipynb":
        read = [(" ".join(place.split()[:2]), text) for place, text in read if place.startswith("cell ")]
    often = {text for text, number in Counter(text for _, text in read).items() if number > _OFTEN}
    return [(place, text) for place, text in read if text not in often]


def _words_otherwise(before: Sequence[tuple[str, str]], after: Sequence[tuple[str, str]]) -> str:
    """How many lines are others and where, and the first of them; nothing where the same lines stand in any order."""
    counts = [Counter(text for _, text in read) for read in (before, after)]
    only = counts[0] - counts[1], counts[1] - counts[0]
    gone, come = ([one for one in read if one[1] in other] for read, other in zip((before, after), only, strict=True))
    if not gone and not come:
        return ""
    places = list(dict.fromkeys(place for place, _ in come or gone))
    where = ", ".join(places[:_NAMED]) + (f" and {len(places) - _NAMED} more" if len(places) > _NAMED else "")
    number = count_of(max(len(gone), len(come)), "line")
    return f"{number} of text otherwise ({where}); the first: {_pair(gone, come)}"


def _pair(gone: Sequence[tuple[str, str]], come: Sequence[tuple[str, str]]) -> str:
    """The first line that is new, with the one among the lines that are gone that it is most like."""
    first = (come or gone)[0][1]
    like = difflib.get_close_matches(first, [text for _, text in gone[:_AMONG]], 1) if come and gone else []
    lines = [like[0], first] if like else [first]
    return " → ".join(f"'{shown(line.replace(_NO_BREAK, ' '), _LINE)}'" for line in lines)


def _cells(found: Sequence[CellChange], sheet: str = "") -> list[str]:
    """The first cells that are not as before, and how many more there are."""
    rows_first = sorted(found, key=lambda one: bool(one.column))
    few = "; ".join(f"{sheet}{one.words}" for one in rows_first[:_NAMED])
    if not found:
        return ["the same rows in another order, or written otherwise"]
    more = len(found) - _NAMED
    return [
        few + (f"; and {count_of(more, 'more cell or row')}" if more == 1 else f"; and {more} more" if more > 0 else "")
    ]


def _workbooks(
    before: Mapping[str, list[Row]], after: Mapping[str, list[Row]], renamed: Mapping[str, str]
) -> list[str]:
    said = []
    for sheet in dict.fromkeys((*before, *after)):
        if sheet not in before or sheet not in after:
            said.append(f"sheet {shown(sheet, 40)} {'added' if sheet in after else 'removed'}")
            continue
        found = cell_changes(before[sheet], after[sheet], _header(after[sheet]), renamed)
        said += _cells(found, f"sheet {shown(sheet, 40)}, ") if found else []
    rest = len(said) - _NAMED
    return [*said[:_NAMED], *([f"and {count_of(rest, 'more sheet')}"] if rest > 0 else [])]


def _sheets(name: str, raw: bytes) -> dict[str, list[Row]]:
    """The rows of each sheet of a workbook, cells without anything left out behind."""
    found: dict[str, dict[str, dict[str, str]]] = {}
    for place, text in pieces(name, raw):
        sheet, is_cell, cell = place.rpartition("!")
        letters = cell.rstrip("0123456789")
        if is_cell and letters.isalpha():
            found.setdefault(sheet, {}).setdefault(cell.removeprefix(letters), {})[letters] = text
    return {sheet: [_row(cells) for cells in rows.values()] for sheet, rows in found.items()}


def _header(rows: Sequence[Row]) -> Row:
    """The first row of names: three or more of them, and no number."""
    return next((row for row in rows if sum(map(bool, row)) >= _NAMED and not any(_numeric(cell) for cell in row)), ())


def _numeric(cell: str) -> bool:
    return cell.replace(".", "", 1).lstrip("-").isdigit()


def _row(cells: Mapping[str, str]) -> Row:
    def column(letters: str) -> int:
        number = 0
        for letter in letters:
            number = 26 * number + ord(letter.upper()) - 64
        return number

    width = min(max(map(column, cells), default=0), 1000)
    by_column = {column(letters): text for letters, text in cells.items()}
    return tuple(by_column.get(place, "") for place in range(1, width + 1))
