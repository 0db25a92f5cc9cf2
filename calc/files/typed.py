"""What was typed into a file, key by key, each named by the description of its field.

A new key needs no words elsewhere.

A description begins with the name of the field; behind a semicolon stands what a writer of the file has to know
besides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from calc.files.fields import Part
from calc.files.reading import Place, dotted, is_mapping, table_in

Row = tuple[str, str, str]


@dataclass(frozen=True)
class Typed:
    """What stands under a key: its name in words, and what was typed.

    ``items`` are those of a list, or the one value; each has parts, name and text, of which the first has no name.
    ``rows`` says that the items are rows of a table.
    """

    words: str
    items: tuple[tuple[tuple[str, str], ...], ...]
    rows: bool = False

    @property
    def text(self) -> str:
        """All of it on one line."""
        return ("; " if self.rows else ", ").join(
            ", ".join(f"{name} {text}" if name else text for name, text in item) for item in self.items
        )


def typed_keys(model: type[Part], typed: Mapping[Place, str], sections: int = 0) -> dict[Place, Typed]:
    """Name every key that was typed.

    Parameters
    ----------
    model
        The file's table.
    typed
        What was typed, by keys and places in lists; an empty text says nothing and is left out.
    sections
        So many tables deep it is divided; what stands in a section need not say its name.

    Returns
    -------
    dict of Place to Typed
        A list is one key.
    """
    found: dict[Place, dict[Place, str]] = {}
    for place, text in typed.items():
        cut = next((i for i, part in enumerate(place) if isinstance(part, int)), len(place))
        if text:
            found.setdefault(place[:cut], {})[place[cut:]] = text
    return {place: Typed(words_of_key(model, place, sections), *_items(parts)) for place, parts in found.items()}


def typed_rows(model: type[Part], typed: Mapping[Place, str], file: str, sections: int = 0) -> list[Row]:
    """Return words, text and place of every key that was typed, see `typed_keys`; ``file`` is the file's name."""
    return [
        (one.words, one.text, f"{file}, {dotted(place)}") for place, one in typed_keys(model, typed, sections).items()
    ]


def words_of_key(model: type[Part], place: Place, sections: int = 0) -> str:
    """Name a key: by the description of its field, behind what it belongs to, such as the mark of a bar group."""
    here, before, parts = model, [], list(place)
    while parts:
        key = str(parts.pop(0))
        field = next((field for name, field in here.model_fields.items() if (field.alias or name) == key), None)
        own = name_of(key if field is None or field.description is None else field.description)
        inner = None if field is None else table_in(field.annotation)
        if field is not None and parts and is_mapping(field.annotation):
            # The next key is a name that the user chose.
            name = str(parts.pop(0))
            before.append(name if parts else own)
            own = own if parts else name
        elif parts and len(place) - len(parts) > sections:
            before.append(own)
        if inner is None or not parts:
            return _behind(before, ", ".join((own, *map(str, parts))))
        here = inner
    raise ValueError("no key is given")


def name_of(description: str) -> str:
    """Return the name in words with which a field's description begins."""
    return description.split(";")[0].split(", such as")[0].split(" [")[0]


def _behind(before: Iterable[str], words: str) -> str:
    first, *rest = *before, words
    # A symbol such as f_ck keeps its letters.
    return ": ".join((first, *(one[:1].lower() + one[1:] if one[1:2].islower() else one for one in rest)))


def _items(parts: Mapping[Place, str]) -> tuple[tuple[tuple[tuple[str, str], ...], ...], bool]:
    """Take a value apart into its items, and say whether they are tables."""
    if () in parts:
        return ((("", parts[()]),),), False
    inner: dict[str | int, dict[Place, str]] = {}
    for (first, *rest), text in parts.items():
        inner.setdefault(first, {})[tuple(rest)] = text
    return tuple(_parts(one) for one in inner.values()), any(() not in one for one in inner.values())


def _parts(parts: Mapping[Place, str]) -> tuple[tuple[str, str], ...]:
    """The parts of an item; of a table, what stands first needs no name."""
    if () in parts:
        return (("", parts[()]),)
    inner: dict[str | int, dict[Place, str]] = {}
    for (first, *rest), text in parts.items():
        inner.setdefault(first, {})[tuple(rest)] = text
    texts = [(str(key).replace("_", " "), Typed("", *_items(one)).text) for key, one in inner.items()]
    return (("", texts[0][1]), *texts[1:])
