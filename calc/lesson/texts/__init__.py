"""The sentences of the lesson: one TOML file per language beside this one; what a language lacks is said in English."""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from calc.base.errors import NotAccepted

_FOLDER = Path(__file__).parent
FALLBACK = "en"
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
RIGHT_TO_LEFT = frozenset({"ar", "fa", "he", "ur"})


def languages() -> tuple[str, ...]:
    """List the languages that there is a file for.

    Returns
    -------
    tuple of str
        English first.
    """
    return (FALLBACK, *sorted(path.stem for path in _FOLDER.glob("*.toml") if path.stem != FALLBACK))


@lru_cache(maxsize=8)
def _read(language: str) -> dict[str, str]:
    if language not in languages():
        raise NotAccepted(f"language '{language}' is not known; accepted: {', '.join(languages())}")
    found: dict[str, str] = {}

    def gather(table: Mapping[str, Any], before: str) -> None:
        for key, value in table.items():
            if isinstance(value, dict):
                gather(value, f"{before}{key}.")
            else:
                found[before + key] = str(value).strip()

    gather(tomllib.loads((_FOLDER / f"{language}.toml").read_text(encoding="utf-8")), "")
    return found


def places(text: str) -> set[str]:
    """Name the places in a sentence that take a value.

    Parameters
    ----------
    text
        A sentence of a language's file.

    Returns
    -------
    set of str
    """
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


@dataclass(frozen=True)
class Texts:
    """The sentences of one language.

    Parameters
    ----------
    language
        Short name of the language, such as ``"en"``.
    """

    language: str = FALLBACK

    def __post_init__(self) -> None:
        """Refuse a language that there is no file for."""
        _read(self.language)

    @property
    def keys(self) -> tuple[str, ...]:
        """Every key that this language's own file has."""
        return tuple(_read(self.language))

    def has(self, key: str) -> bool:
        """Whether there is such a sentence, in this language or in English."""
        return key in _read(self.language) or key in _read(FALLBACK)

    def language_of(self, key: str) -> str:
        """In which language a sentence is said."""
        return self.language if key in _read(self.language) else FALLBACK

    def raw(self, key: str) -> str:
        """Return a sentence with its places still open, for a page that fills them in."""
        return _read(self.language if key in _read(self.language) else FALLBACK)[key]

    def say(self, key: str, /, **values: object) -> str:
        """Say a sentence with its values.

        Parameters
        ----------
        key
            Which one, such as ``"ring.ask"``.
        **values
            What stands in its places.

        Returns
        -------
        str

        Raises
        ------
        KeyError
            No such sentence, or a place without a value.
        """
        return self.raw(key).format(**{k: self.local(v) if isinstance(v, str) else v for k, v in values.items()})

    def local(self, shown: str) -> str:
        """Write the decimals of a shown quantity with this language's mark.

        >>> Texts("de").local("22.6 mL")
        '22,6 mL'
        """
        mark = self.raw("deck.decimal")
        return shown if mark == "." else _POINT.sub(mark, shown)
