"""What can be typed into each key of a job's files, from the models' own schema: words, kind, what is accepted.

A table that stands on one line of the file is typed on one line here, as names and values apart by commas, such as
``mean 0.3 mm, sd 0.1 mm``; a list of such tables has one of them on each line.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from calc.base.errors import NotAccepted
from calc.base.units import UnitError, parse_number
from calc.files.fields import Part
from calc.files.reading import Place
from calc.files.typed import name_of
from calc.work.save import Setting

_Kind = Literal["text", "number", "whole", "truth", "choice", "date", "list", "lines", "parts", "rows"]
YES, NO = "yes", "no"
_SHORT = 4  # keys of a table that is typed on one line


@dataclass(frozen=True)
class KeyField:
    """A key of a table: where it stands below it, how people call it, and how it is typed."""

    key: str
    words: str
    help: str
    kind: _Kind
    needed: bool = False
    choices: tuple[str, ...] = ()
    parts: tuple[KeyField, ...] = ()
    example: str = ""
    word: str = ""  # may be typed in place of the parts


@cache
def _schema(model: type[Part]) -> dict[str, Any]:
    return model.model_json_schema(by_alias=True)


def _resolved(schema: Mapping[str, Any], node: Mapping[str, Any]) -> dict[str, Any]:
    """Follow a reference, and of a choice take what is not nothing; the outer description stays."""
    found = dict(node)
    if "anyOf" in found:
        options = [one for one in found.pop("anyOf") if one.get("type") != "null"]
        word = next((one["const"] for one in options if "const" in one), "")
        found = {**options[-1], **found} | ({"word": word} if word else {})
        if "description" in options[-1] and "description" in node:
            found["accepted"] = options[-1]["description"]
    if "$ref" in found:
        found = {**schema["$defs"][found.pop("$ref").rpartition("/")[2]], **found}
    return found


def _table(model: type[Part], table: Sequence[str]) -> dict[str, Any]:
    """Find the node of a table; of a mapping, the one of its values."""
    schema = _schema(model)
    here = dict(schema)
    for key in table:
        node = here.get("properties", {}).get(key) or here["additionalProperties"]
        here = _resolved(schema, node)
    return here


def keys_of(model: type[Part], table: Sequence[str] = ()) -> list[KeyField]:
    """List what can be typed into a table.

    Parameters
    ----------
    model
        The file.
    table
        Keys that lead to the table; the name that a user chose stands for itself.

    Returns
    -------
    list of KeyField
        Not tables under names that the user chooses, which have forms of their own.
    """
    return list(_entries(_schema(model), _table(model, table)))


def _entries(schema: Mapping[str, Any], node: Mapping[str, Any], before: str = "") -> Iterator[KeyField]:
    needed = set(node.get("required", ()))
    for key, raw in node["properties"].items():
        inner = _resolved(schema, raw)
        if "properties" in inner and len(inner["properties"]) > _SHORT:
            yield from _entries(schema, inner, f"{before}{key}.")
        elif "properties" in inner or inner.get("type") != "object":
            yield _entry(schema, f"{before}{key}", inner, needed=key in needed and not before)


def _entry(schema: Mapping[str, Any], key: str, node: Mapping[str, Any], *, needed: bool) -> KeyField:
    description = str(node.get("description", key))
    after = description.partition(";")[2].strip()
    accepted = str(node.get("accepted", "")).partition("; ")[2]
    kind, inner = _kind(schema, node)
    return KeyField(
        key,
        name_of(description),
        "; ".join(filter(None, (after, accepted))),
        kind,
        needed,
        tuple(map(str, node.get("enum", ()))),
        tuple(_entries(schema, inner)) if inner else (),
        str(next(iter(node.get("examples", ())), "")),
        str(node.get("word", "")),
    )


def _kind(schema: Mapping[str, Any], node: Mapping[str, Any]) -> tuple[_Kind, Mapping[str, Any] | None]:
    if "enum" in node:
        return "choice", None
    if "properties" in node:
        return "parts", node
    if node.get("type") == "array":
        items = _resolved(schema, node.get("items", {}))
        return ("rows", items) if "properties" in items else ("list" if "enum" in items else "lines", None)
    if node.get("format") == "date":
        return "date", None
    kinds: dict[str, _Kind] = {"number": "number", "integer": "whole", "boolean": "truth"}
    return kinds.get(str(node.get("type")), "text"), None


# ---- from the file to the field ----


def typed_text(entry: KeyField, typed: Mapping[Place, str], table: Place) -> str:
    """Write what a file says of a key as it is typed here; empty where it says nothing.

    Parameters
    ----------
    entry
        The key.
    typed
        What was typed into the file, by place.
    table
        Keys that lead to the table.

    Returns
    -------
    str
    """
    place = (*table, *entry.key.split("."))
    own = {at[len(place) :]: text for at, text in typed.items() if at[: len(place)] == place}
    if () in own:
        return {"true": YES, "false": NO}.get(own[()], own[()]) if entry.kind == "truth" else own[()]
    if entry.kind == "list":
        return ", ".join(own.values())
    if entry.kind == "lines":
        return "\n".join(own.values())
    if entry.kind == "parts":
        return ", ".join(_said(key, text) for key, text in own.items())
    rows: dict[Any, list[str]] = {}
    for (row, *key), text in own.items():
        rows.setdefault(row, []).append(_said(key, text))
    return "\n".join(", ".join(parts) for parts in rows.values())


def _said(key: Sequence[object], text: str) -> str:
    return f"{' '.join(map(str, key)).replace('_', ' ')} {text}"


# ---- from the field to the file ----


def value_of(entry: KeyField, text: str) -> Setting:
    """Read what was typed as the file holds it; its range is the file's business.

    Parameters
    ----------
    entry
        The key.
    text
        What stands in the field; empty takes the key away.

    Returns
    -------
    Setting

    Raises
    ------
    NotAccepted
        A sentence with what is accepted.
    """
    text = text.strip()
    if not text:
        return None
    match entry.kind:
        case "number" | "whole":
            return _number(entry, text)
        case "truth":
            return _truth(entry, text)
        case "date":
            return _date(entry, text)
        case "list":
            return [part.strip() for part in text.split(",") if part.strip()]
        case "lines":
            return [line.strip() for line in text.splitlines() if line.strip()]
        case "parts":
            return text if text == entry.word else _parts(entry, text)
        case "rows":
            return [_parts(entry, line) for line in text.splitlines() if line.strip()]
        case _:
            return text


def _number(entry: KeyField, text: str) -> float | int:
    try:
        value = parse_number(text)
    except UnitError as error:
        raise NotAccepted(f"{entry.words}: {error}") from None
    if entry.kind == "whole" and not value.is_integer():
        raise NotAccepted(f"{entry.words}: '{text}' is not a whole number; accepted: such as 3")
    return int(value) if entry.kind == "whole" else value


def _truth(entry: KeyField, text: str) -> bool:
    if text not in (YES, NO):
        raise NotAccepted(f"{entry.words}: '{text}' is not accepted; accepted: {YES} or {NO}")
    return text == YES


def _date(entry: KeyField, text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        accepted = "accepted: year, month and day such as 2027-06-30"
        raise NotAccepted(f"{entry.words}: '{text}' is not a date; {accepted}") from None


def _parts(entry: KeyField, text: str) -> dict[str, Any]:
    """Read names and values apart by commas; a comma within a value belongs to it where no name follows."""
    names = {part.key.replace("_", " "): part for part in entry.parts}
    accepted = f"accepted: {', '.join(names)}, each with its value, apart by commas"
    found: dict[str, Any] = {}
    for piece in text.split(","):
        part = piece.strip()
        name = max((one for one in names if part == one or part.startswith(f"{one} ")), key=len, default="")
        value = part[len(name) :].strip()
        if not name or not value or names[name].key in found:
            raise NotAccepted(f"{entry.words}: '{part}' cannot be read; {accepted}")
        found[names[name].key] = value_of(names[name], value)
    return found
