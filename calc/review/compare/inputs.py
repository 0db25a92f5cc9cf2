"""What somebody changed: inputs as they were typed, by what they are about."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from pathlib import Path

from calc.base.sheet import Origin
from calc.files.adhesive import AdhesiveRecord
from calc.files.job import Job
from calc.files.reading import Place, dotted
from calc.files.schedule import BarGroup
from calc.files.tables import JobFile
from calc.files.typed import Typed, typed_keys
from calc.package.manifest import shown
from calc.review.compare.change import Change
from calc.review.compare.tables import cell_changes

_ABOUT = "job."  # number, revision, title: what a revision is called is told last
_BY_MARK = ("group", "measured", "evidence")  # tables whose keys are marks


def renamed_marks(before: Job, after: Job) -> dict[str, str]:
    """Return the marks that are others now, by what they were: groups of the same bars, holes and depth.

    Parameters
    ----------
    before, after
        Two jobs.

    Returns
    -------
    dict
        A mark that both jobs have is none of them; of several groups alike, the first is the first.
    """
    marks = [{group.mark for group in job.groups} for job in (before, after)]
    gone, new = (
        [group for group in job.groups if group.mark not in others]
        for job, others in ((before, marks[1]), (after, marks[0]))
    )
    found: dict[str, str] = {}
    for group in gone:
        same = next((one for one in new if _shape(one) == _shape(group) and one.mark not in found.values()), None)
        if same is not None:
            found[group.mark] = same.mark
    return found


def _shape(group: BarGroup) -> tuple[object, ...]:
    return (
        group.count,
        group.bar.designation,
        group.hole_diameter,
        group.embedment,
        group.overdrill,
        group.direction,
    )


def input_changes(before: Job, after: Job, renamed: Mapping[str, str] | None = None) -> tuple[Change, ...]:
    """Compare the inputs of two jobs as they were typed.

    Parameters
    ----------
    before, after
        The jobs.
    renamed
        Of `renamed_marks`, if it was asked before.

    Returns
    -------
    tuple of Change
        Rows of the schedule by mark, keys of the job file and the adhesive record by name, rows of their tables by the
        temperature or the like that they are about, rows of other files by their first cells. What the revision is
        called comes last.
    """
    names = renamed_marks(before, after) if renamed is None else renamed
    found = [*_of_schedule(before, after, names)]
    old, new = (typed_keys(JobFile, typed, 1) for typed in (_renamed(before.typed, names), after.typed))
    keys = [*_of_keys(after.path.name, old, new)]
    about = [one for one in keys if one.name.startswith(_ABOUT)]
    found += [one for one in keys if one not in about]
    old, new = (typed_keys(AdhesiveRecord, job.typed_record) for job in (before, after))
    found += _of_keys(after.adhesive_path.name, old, new)
    files = [
        {_name(job, path): path for path in job.files if path not in (job.path, job.adhesive_path, job.schedule_path)}
        for job in (before, after)
    ]
    for name in sorted({*files[0], *files[1]}):
        found += _of_file(name, files[0].get(name), files[1].get(name), names)
    return (*found, *about)


def _name(job: Job, path: Path) -> str:
    return path.relative_to(job.folder).as_posix()


def _renamed(typed: Mapping[Place, str], renamed: Mapping[str, str]) -> dict[Place, str]:
    def part(place: Place, at: int) -> str | int:
        is_mark = at > 0 and place[at - 1] in _BY_MARK
        return renamed.get(str(place[at]), place[at]) if is_mark else place[at]

    return {tuple(part(place, at) for at in range(len(place))): text for place, text in typed.items()}


# ---- keys ----


def _of_keys(file: str, before: Mapping[Place, Typed], after: Mapping[Place, Typed]) -> Iterator[Change]:
    for place in dict.fromkeys((*before, *after)):
        old, new = before.get(place), after.get(place)
        if old == new:
            continue
        key = f"{file}, {dotted(place)}"
        known = new or old
        if old is not None and new is not None and old.rows and new.rows:
            yield from _of_rows(key, old, new)
        elif known is not None:
            what = "added" if old is None else "removed" if new is None else "value"
            yield _typed(key, what, known.words, _text(old), _text(new), dotted(place))


def _of_rows(key: str, before: Typed, after: Typed) -> Iterator[Change]:
    """Compare two lists of rows, each known by all but its last value: a time by its temperatures."""
    old, new = ({tuple(text for _, text in item[:-1]): item for item in typed.items} for typed in (before, after))
    alike = all(len(some) == len(typed.items) for some, typed in ((old, before), (new, after)))
    if not alike or not {*old} & {*new}:
        yield _typed(key, "value", after.words, before.text, after.text)
        return
    for head in dict.fromkeys((*old, *new)):
        one, other = old.get(head), new.get(head)
        if one != other:
            name = (other or one or (("", ""),))[:-1]
            row = " ".join(f"{word} {text}" if word else text for word, text in name)
            what = "added" if one is None else "removed" if other is None else "value"
            yield _typed(key, what, f"{after.words}, {row}", _last(one), _last(other))
    if not _same_order([*old], [*new]):
        yield _typed(key, "moved", f"{after.words}, order of its rows", before.text, after.text)


def _text(typed: Typed | None) -> str | None:
    return None if typed is None else typed.text


def _last(item: tuple[tuple[str, str], ...] | None) -> str | None:
    return None if item is None else item[-1][1]


def _same_order(one: list[tuple[str, ...]], other: list[tuple[str, ...]]) -> bool:
    return [head for head in one if head in other] == [head for head in other if head in one]


def _typed(id: str, what: str, where: str, before: str | None, after: str | None, name: str = "") -> Change:
    one, other = ("" if text is None else shown(text) or "empty" for text in (before, after))
    return Change("input", what, id, shown(where, 120), one, other, name=name)


# ---- tables ----


def _of_schedule(earlier: Job, later: Job, renamed: Mapping[str, str]) -> Iterator[Change]:
    file = later.schedule_path.name
    old, new = (
        {renamed.get(group.mark, group.mark): group for group in earlier.groups},
        {g.mark: g for g in later.groups},
    )
    for mark in dict.fromkeys((*old, *new)):
        if mark not in old or mark not in new:
            group = old.get(mark) or new[mark]
            row = {column: text for column, text in group.given.items() if text and column != "mark"}
            text = ", ".join(f"{column.replace('_', ' ')} {value}" for column, value in row.items())
            gone = mark in old
            before, after = (text, None) if gone else (None, text)
            yield _typed(f"{file}, {mark}", "removed" if gone else "added", f"Group {mark}", before, after, mark)
            continue
        one, other = old[mark], new[mark]
        if one.mark != mark:
            yield _typed(f"{file}, {mark}", "renamed", "Group, same bars, holes and depth", one.mark, mark, mark)
        for column in dict.fromkeys((*one.given, *other.given)):
            texts = one.given.get(column, ""), other.given.get(column, "")
            if column != "mark" and texts[0] != texts[1]:
                place = Origin.of_row(file, other.row, column).text
                yield _typed(place, "value", f"{mark}, {column.replace('_', ' ')}", *texts, name=f"{mark}.{column}")
    marks = [[mark for mark in side if mark in old and mark in new] for side in (old, new)]
    if marks[0] != marks[1]:
        yield _typed(f"{file}, order", "moved", "Order of the groups", ", ".join(marks[0]), ", ".join(marks[1]))


def _of_file(name: str, before: Path | None, after: Path | None, renamed: Mapping[str, str]) -> Iterator[Change]:
    tables = [None if path is None else table_of(path.read_bytes()) for path in (before, after)]
    if tables[0] is None or tables[1] is None:
        what = "removed" if tables[1] is None else "added"
        old, new = (None if rows is None else f"{len(rows)} lines" for rows in tables)
        yield _typed(name, what, f"File {name}", old, new)
        return
    header = next(iter(tables[1]), ())
    for cell in cell_changes(tables[0], tables[1], header, renamed):
        what = "removed" if cell.after is None else "added" if cell.before is None else "value"
        where = ", ".join(filter(None, (name, cell.row, cell.column)))
        yield _typed(f"{name}, {cell.row}", what, where, cell.before, cell.after)


def table_of(raw: bytes) -> list[tuple[str, ...]]:
    """Read a CSV file as rows of texts; anything that is none is rows of one cell."""
    lines = raw.decode("utf-8-sig", "replace").splitlines()
    try:
        return [tuple(row) for row in csv.reader(lines) if row]
    except csv.Error:  # a cell that is too long: mostly a quotation mark that nothing closes
        return [(line,) for line in lines]
