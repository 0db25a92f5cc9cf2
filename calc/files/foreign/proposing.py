"""What the titles of another program's schedule probably mean: lines for a job file, for somebody to agree to."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from calc.files.foreign.reading import DECIMAL_COMMA, FURTHEST_HEADER, ScheduleFile
from calc.files.strict import LENGTH_UNITS, Table

# What schedules call our columns; longer names first, since "hole size" is no "size".
_WORDS: Mapping[str, tuple[str, ...]] = {
    "mark": ("bar mark", "mark", "group", "item", "position", "pos", "ref"),
    "count": (
        "number of bars",
        "number of holes",
        "no of bars",
        "no of holes",
        "quantity",
        "qty",
        "count",
        "pcs",
        "nos",
    ),
    "hole_diameter": (
        "hole diameter",
        "hole dia",
        "hole size",
        "drill diameter",
        "drill dia",
        "drill size",
        "bit size",
        "hole",
    ),
    "embedment": ("embedment depth", "embedment length", "embedment", "setting depth", "embed depth", "embed"),
    "depth_to_tip": ("depth to tip", "hole depth", "drill depth", "drilled depth"),
    "overdrill": ("overdrill",),
    "bar": ("bar size", "bar diameter", "bar dia", "rebar size", "rebar", "bar", "size"),
    "direction": ("direction", "orientation"),
    "overfill": ("overfill",),
    "drawing": ("drawing", "dwg", "grid"),
    "note": ("note", "notes", "remarks", "remark", "comment", "comments"),
}
_UNITS: Mapping[str, str] = {
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "millimetres": "mm",
    "millimeters": "mm",
}
_UNIT = re.compile(r"^(?P<name>.*?)[\s,/]*[\[(]?(?P<unit>[A-Za-z]+\.?|\"|″)[\])]?$")
_OPEN = "…"
_LEAST_KNOWN = 3  # titles that make a row a header


@dataclass(frozen=True)
class Proposal:
    """How a schedule could be read: keys of ``[schedule]``, titles, and what nobody but the user can say."""

    keys: Mapping[str, int | str]
    columns: Mapping[str, str]
    open: Sequence[str] = field(default=())


def propose(
    records: Sequence[Sequence[str]], how: ScheduleFile, required: Sequence[str], table: Table
) -> Proposal | None:
    """Look for a row of titles near enough to ours.

    Parameters
    ----------
    records
        The rows of the file.
    how
        The encoding and separator that they were read with.
    required
        Columns that a schedule must have.
    table
        The columns and their units.

    Returns
    -------
    Proposal or None
        None where no row of the first fifty names three columns.
    """
    rows = records[:FURTHEST_HEADER]
    found, row = max(
        ((_named(titles, table), number) for number, titles in enumerate(rows, 1)), key=_names, default=({}, 1)
    )
    if len(found) < _LEAST_KNOWN:
        return None
    titles = [title for title in records[row - 1] if title]
    columns = {title: found.get(title, "") for title in titles if found.get(title) != title}
    keys: dict[str, int | str] = {"header_row": row, "separator": how.separator, "encoding": how.encoding}
    if how.separator != "comma" and _commas(records[row:], titles, found, table):
        keys["decimal"] = "comma"
    keys = {key: value for key, value in keys.items() if value != ScheduleFile.model_fields[key].default}
    named = {written.partition(" ")[0] for written in found.values()}
    owed = [
        f'[schedule.every_row]: {name} = "…", where no title stands for it' for name in required if name not in named
    ]
    units = [title for title, written in found.items() if _OPEN in written]
    return Proposal(keys, columns, owed + [f"the unit of '{title}' in place of {_OPEN}" for title in units])


def _names(one: tuple[Mapping[str, str], int]) -> int:
    return len(one[0])


def _commas(rows: Sequence[Sequence[str]], titles: Sequence[str], found: Mapping[str, str], table: Table) -> bool:
    """Whether a cell below a title of numbers has a decimal comma."""
    places = [i for i, title in enumerate(titles) if found.get(title, "").partition(" ")[0] in table.numbers]
    return any(DECIMAL_COMMA.fullmatch(cells[i]) for cells in rows for i in places if i < len(cells))


def _named(titles: Sequence[str], table: Table) -> dict[str, str]:
    """Return title to the column of ours that it probably is, each column once."""
    found: dict[str, str] = {}
    taken: set[str] = set()
    for title in titles:
        name, unit = _apart(title)
        ours = next((own for own, words in _WORDS.items() if own not in taken and name in (*words, own)), "")
        if not ours:
            continue
        taken.add(ours)
        found[title] = f"{ours} [{unit or _OPEN}]" if ours in table.numbers else ours
    return found


def _apart(title: str) -> tuple[str, str]:
    """Split a title into its name, in small letters without marks, and its unit."""
    match = _UNIT.match(title.strip())
    unit = "" if match is None else _UNITS.get(match["unit"].lower().rstrip("."), match["unit"].lower().rstrip("."))
    name = match["name"] if match and unit in LENGTH_UNITS and match["name"].strip() else title
    words = re.sub(r"[^a-z0-9]+", " ", name.lower().replace("ø", "dia").replace("_", " ")).strip()
    return words, unit if unit in LENGTH_UNITS else ""


def lines_of(proposal: Proposal) -> list[str]:
    """Write a proposal as lines of a job file."""
    keys = [f"{key} = {value if isinstance(value, int) else _quoted(value)}" for key, value in proposal.keys.items()]
    columns = [f"{_quoted(theirs)} = {_quoted(ours)}" for theirs, ours in proposal.columns.items()]
    return [*keys, "[schedule.columns]", *columns] if columns else keys


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
