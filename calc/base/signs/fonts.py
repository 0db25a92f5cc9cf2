"""The fonts of the workbook: which one has a letter, and what is written by its code.

The fonts come from packages, never from the machine: DejaVu Sans with matplotlib, Noto Sans CJK (SIL Open Font License)
with noto-cjk-sans-otc, whose file is byte for byte the one of Debian's fonts-noto-cjk; the serif face and the
mathematics are bundled with typst. So the same text gives the same file everywhere, and the manifest lists digests.
"""

from __future__ import annotations

import functools
import hashlib
import unicodedata
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

import matplotlib

from calc.base.signs.scripts import JAPANESE, KANA, RUNS_LEFT, directed, east_of

DEJAVU = "DejaVu Sans"
_DEJAVU_FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSans-Oblique.ttf", "DejaVuSansMono.ttf")
_CJK_FILE = "NotoSansCJK-Regular.ttc"
_DEBIAN = Path("/usr/share/fonts/opentype/noto") / _CJK_FILE  # the same file, for whoever has it without the package
_LEFT_TO_RIGHT = "\u200e"


def dejavu() -> Path:
    """Return the file of DejaVu Sans, which has signs, Hebrew, Arabic and plain emoji."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / _DEJAVU_FILES[0]


def cjk() -> Path | None:
    """Return the file of Noto Sans CJK: the package's, or Debian's; None where neither is installed."""
    found = find_spec("noto_cjk_sans_otc")
    places = [Path(place) / _CJK_FILE for place in (found.submodule_search_locations or ())] if found else []
    return next((path for path in (*places, _DEBIAN) if path.is_file()), None)


def folders() -> list[str]:
    """Return the folders in which the fonts lie."""
    east = cjk()
    return [str(path.parent) for path in (dejavu(), east) if path is not None]


@functools.cache
def for_pictures() -> list[str]:
    """Return the names of the fonts of pictures, the first one first; the second is made known to matplotlib."""
    from matplotlib.font_manager import fontManager  # slow to import

    east = cjk()
    if east is None:
        return [DEJAVU]
    fontManager.addfont(east)
    # One weight for all: without an entry of its own, bold would be looked for, and missed aloud, in every figure.
    fontManager.ttflist += [replace(one, weight=700) for one in fontManager.ttflist if one.name == JAPANESE.font]
    return [DEJAVU, JAPANESE.font]


@functools.cache
def digests() -> dict[str, str]:
    """Return the SHA-256 of every font file that is used, by its name."""
    east = cjk()
    files = [dejavu().with_name(name) for name in _DEJAVU_FILES] + ([] if east is None else [east])
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


# ---- what has no shape ---------------------------------------------------------------------------


@functools.cache
def _shapes(path: Path, place: int) -> frozenset[int]:
    from fontTools.ttLib import TTFont  # slow to import, wanted only here

    with TTFont(path, lazy=True, fontNumber=place if path.suffix == ".ttc" else -1) as font:
        return frozenset(font.getBestCmap())


def has_shape(letter: str) -> bool:
    """Whether a font of the workbook has this character."""
    if ord(letter) in _shapes(dejavu(), 0):
        return True
    east = cjk()  # opened for those who need it: four milliseconds, and 65 thousand characters
    return east is not None and ord(letter) in _shapes(east, 0)


def printable(text: str) -> str:
    """The text with every character that the fonts lack, or that hides or turns what follows, written by its code.

    PDF/A refuses a character without a shape; a silent gap or a turned line would be worse.
    """
    return "".join(map(_character, text)) if not text.isascii() or not text.isprintable() else text


@functools.lru_cache(maxsize=4096)
def _character(letter: str) -> str:
    if letter in "\n\t " or (letter.isascii() and letter.isprintable()):
        return " " if letter == "\t" else letter
    if letter == "\r":
        return "\n"
    # Soft hyphens, marks of direction and variation selectors have no shape; joiners shape their neighbours.
    if letter in "\u00ad\u200b\u200e\u200f\ufe0e\ufe0f":
        return ""
    if letter in "\u200c\u200d":
        return letter
    if unicodedata.category(letter) in ("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp") or not has_shape(letter):
        return (
            f"{_LEFT_TO_RIGHT}[U+{ord(letter):04X}]"  # the mark keeps the bracket in place beside words that run left
        )
    return letter


def codes_to_come(text: str) -> str:
    """Say which characters of a text a PDF can only show by their code, and what would give them a shape; or nothing.

    Examples
    --------
    >>> codes_to_come("Ω 壁 שלום"), codes_to_come("ก")[:43]
    ('', 'No font of this workbook has ก (U+0E01): in')
    """
    lacking = [
        letter
        for letter in dict.fromkeys(text)
        if not letter.isascii() and unicodedata.category(letter)[0] in "LMNPS" and not has_shape(letter)
    ]
    if not lacking:
        return ""
    named = ", ".join(f"{letter} (U+{ord(letter):04X})" for letter in lacking[:8])
    more = f" and {len(lacking) - 8} more" if len(lacking) > 8 else ""
    cure = "; the package noto-cjk-sans-otc, or Debian's fonts-noto-cjk, has Chinese, Japanese and Korean"
    return (
        f"No font of this workbook has {named}{more}: in PDFs such a character is written by its code"
        f"{cure if cjk() is None else ''}."
    )


class Cut(NamedTuple):
    """Letters to be cut out of a font: its file, its place in the file, its weight in CSS."""

    path: Path
    place: int
    weight: str
    letters: str


def cuts(text: str) -> list[Cut]:
    """Sort letters beyond Latin, Greek and Cyrillic, for which a browser may have no font, by who draws them."""
    east = cjk()
    far = [letter for letter in sorted(set(text)) if unicodedata.category(letter)[0] in "LMNPS" and _far(letter)]
    near = "".join(letter for letter in far if ord(letter) in _shapes(dejavu(), 0))
    rest = "".join(letter for letter in far if letter not in near and has_shape(letter))
    faces = [(dejavu(), 0, "normal", near), (dejavu().with_name(_DEJAVU_FILES[1]), 0, "bold", near)]
    faces += [] if east is None else [(east, east_of(text).place, "normal", rest)]
    return [Cut(*face) for face in faces if face[-1]]


def _far(letter: str) -> bool:
    return bool(RUNS_LEFT.match(letter)) or unicodedata.east_asian_width(letter) in "WF" or bool(KANA.match(letter))


def as_printed(value: Any, own: Sequence[str] = (), untouched: Collection[str] = ()) -> Any:
    """Every text in nested lists and tables, `printable` and `directed`, but what stands under an untouched key."""
    if isinstance(value, str):
        return directed(printable(value), own)
    if isinstance(value, Mapping):
        return {key: item if key in untouched else as_printed(item, own, untouched) for key, item in value.items()}
    return [as_printed(item, own, untouched) for item in value] if isinstance(value, (list, tuple)) else value
