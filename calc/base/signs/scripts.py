"""Scripts and languages: how words that run from right to left keep their place, and what a text is written in."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import NamedTuple

_RIGHT_TO_LEFT_RUN, _LEFT_TO_RIGHT_RUN, _END = "\u2067", "\u2066", "\u2069"

# Hebrew, Arabic and their relations, with points, digits and presentation forms; no sign of direction.
_RTL = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff"
RUNS_LEFT = re.compile(f"[{_RTL}]")
_RTL_WORDS = re.compile(f"[{_RTL}](?:[\\s'\"\u2019\u201d-]*[{_RTL}])*")
# A value with its unit, "-5 °C": in a line that runs from right to left it would be turned, unit first.
_VALUE = re.compile("[-+\u2212]?\\d[\\d.,/]*(?:[ \u00a0\u202f]?[A-Za-zµ°²³%]+)+")
KANA, _HANGUL = (
    re.compile("[\u3041-\u30ff\u31f0-\u31ff\uff66-\uff9f]"),
    re.compile("[\u1100-\u11ff\u3131-\u318e\uac00-\ud7a3]"),
)
_HAN = re.compile("[\u2e80-\u2fdf\u3005-\u3007\u3400-\u4dbf\u4e00-\u9fff\uf900-\ufaff\U00020000-\U000323af]")


class East(NamedTuple):
    """How Han characters are drawn: the font's name, its place in the file, and the language's tag."""

    font: str
    place: int
    language: str


JAPANESE, _KOREAN = East("Noto Sans CJK JP", 0, "ja"), East("Noto Sans CJK KR", 1, "ko")
_SIMPLIFIED, _TRADITIONAL = East("Noto Sans CJK SC", 2, "zh-Hans"), East("Noto Sans CJK TC", 3, "zh-Hant")


def east_of(text: str) -> East:
    """Choose how Han characters are drawn, since Japanese, Korean and Chinese share some whose shapes differ.

    Kana mean Japanese, Hangul Korean; else it is the Chinese that can write the text.

    Examples
    --------
    >>> [east_of(text).language for text in ("壁のアンカー", "钢筋", "鋼筋", "벽체 壁")]
    ['ja', 'zh-Hans', 'zh-Hant', 'ko']
    """
    if KANA.search(text):
        return JAPANESE
    if _HANGUL.search(text):
        return _KOREAN
    han = "".join(_HAN.findall(text))
    return _TRADITIONAL if not _written_by(han, "gb2312") and _written_by(han, "big5") else _SIMPLIFIED


def _written_by(text: str, code: str) -> bool:
    try:
        text.encode(code)
    except UnicodeEncodeError:
        return False
    return True


# ---- direction -----------------------------------------------------------------------------------


def directed(text: str, own: Iterable[str] = ()) -> str:
    """Keep words that run from right to left, and what stands beside them, in their order.

    In a line of English, "24" behind a Hebrew name would be drawn before it, and two numbers would change places. So
    such words are isolated, by the signs that Unicode has for it; a text of their own that is mostly of them runs from
    right to left as a whole, in which a value keeps its unit behind it.

    Parameters
    ----------
    text
        Text of one or more lines.
    own
        Texts that somebody wrote, such as a title: found in a line, they are isolated as a whole.

    Returns
    -------
    str
        The text, with signs of direction if it has words that run left.
    """
    if text.isascii() or not RUNS_LEFT.search(text):
        return text
    return "\n".join(_directed_line(line, own) for line in text.split("\n"))


def _directed_line(line: str, own: Iterable[str]) -> str:
    if _runs_left(line):
        return _isolated(line)
    for words in own:
        before, found, after = line.partition(words) if _runs_left(words) else (line, "", "")
        if found:
            return _directed_line(before, own) + _isolated(words) + _directed_line(after, own)
    return _RTL_WORDS.sub(lambda run: f"{_RIGHT_TO_LEFT_RUN}{run[0]}{_END}", line)


def _isolated(words: str) -> str:
    kept = _VALUE.sub(lambda value: f"{_LEFT_TO_RIGHT_RUN}{value[0]}{_END}", words)
    return f"{_RIGHT_TO_LEFT_RUN}{kept}{_END}"


def _runs_left(text: str) -> bool:
    """Whether a text is somebody's own in such a script: it begins with it, and more letters are of it than not."""
    strong = [kind in ("R", "AL") for kind in map(unicodedata.bidirectional, text) if kind in ("L", "R", "AL")]
    return bool(strong) and strong[0] and 2 * sum(strong) > len(strong)


# ---- languages -----------------------------------------------------------------------------------

_SCRIPTS = {
    "he": re.compile("[\u0590-\u05ff\ufb1d-\ufb4f]"),
    "ar": re.compile("[\u0600-\u06ff\u0750-\u077f\ufb50-\ufdff\ufe70-\ufefc]"),
    "el": re.compile("[\u0370-\u03ff\u1f00-\u1fff]"),
}
_OF = _SCRIPTS | {"ko": _HANGUL}


def language_of(text: str) -> str:
    """Tell a text's language from its script, as far as that can be told, for those who have it read to them.

    Returns
    -------
    str
        A tag such as "he" or "zh-Hans"; empty for Latin letters and for a text that is mostly of them.
    """
    if text.isascii():
        return ""
    letters = [letter for letter in text if letter.isalpha()]
    for name, script in _SCRIPTS.items():
        if 2 * sum(bool(script.match(letter)) for letter in letters) > len(letters):
            return name
    east = sum(any(script.match(letter) for script in (_HAN, KANA, _HANGUL)) for letter in letters)
    return east_of(text).language if 2 * east > len(letters) else ""


_TONGUES = {"he": "Hebrew", "ar": "Arabic", "ko": "Hangul"}


def tongues(text: str) -> list[tuple[str, str]]:
    r"""Tell which scripts of a document are in which language, so that a PDF says so of each word.

    Returns
    -------
    list of tuple
        Pattern of Typst and language, such as ``("\p{Hangul}+", "ko")``, of the scripts that occur.
    """
    east = (r"[\p{Han}\p{Hiragana}\p{Katakana}\u{30FC}]+", east_of(text).language[:2])
    found = [(rf"\p{{{name}}}+", code) for code, name in _TONGUES.items() if _OF[code].search(text)]
    return found + ([east] if _HAN.search(text) or KANA.search(text) else [])
