"""Reading a PDF back: the words of each page, a digest of what is drawn on it, and the files attached to it.

Words of drawings within drawings, of notes and of links that lead out belong to their page.

A PDF is read as data and by few rules, those by which this workbook's are written. Objects are found where they begin,
so a damaged table of them does not matter; the last one of a number counts. What is read is no proof of what a viewer
shows.
"""

from __future__ import annotations

import hashlib
import re
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from calc.base.errors import CalcError

_MOST = 1 << 28  # bytes of a stream unpacked
_ALL = 1 << 30  # bytes of all streams unpacked
_CODES = 1 << 20  # letters that a font may have
_DEEPEST = 40
_FAR = 4000  # bytes in which an object says what it is
_OBJECT = re.compile(rb"(?<![0-9])([0-9]{1,9}) ([0-9]{1,5}) obj\b")
_SPACE = b"\0\t\n\f\r "
_BLANK, _PLAIN = rb"[\0\t\n\f\r ]", rb"[^\0\t\n\f\r ()<>\[\]{}/%]"


def _brackets(levels: int) -> bytes:
    """The pattern of a string in brackets, which may stand in it as well, in pairs, so many levels deep."""
    inner = rb"|" + _brackets(levels - 1) if levels else b""
    return rb"\((?:[^\\()]|\\." + inner + rb")*+\)"


# Nothing is tried twice, whatever stands there: every repetition keeps what it has taken.
_TEXT = _brackets(4) + rb"|<(?:[0-9A-Fa-f]|" + _BLANK + rb")*+>"
_NAME = rb"/" + _PLAIN + rb"*+"
_GAP = _BLANK + rb"*+(?:%[^\n\r]*+" + _BLANK + rb"*+)*+"
_STRING = re.compile(_TEXT, re.DOTALL)
_TOKEN = re.compile(_GAP + rb"(" + b"|".join((rb"<<|>>", _TEXT, rb"[\[\]{}]", _NAME, _PLAIN)) + rb"++)", re.DOTALL)
# What a page draws, an operation at a time: its operands, and the word.
_LIST, _TABLE = rb"\[(?:[^\]()<]|" + _TEXT + rb")*+\]", rb"<<(?:[^()>]|" + _TEXT + rb"|>(?!>))*+>>"
_OPERAND = rb"(?:" + b"|".join((_NAME, rb"[-+.0-9]++", _TEXT, _LIST, _TABLE)) + rb")" + _BLANK + rb"*+"
_OPERATION = re.compile(rb"((?:" + _OPERAND + rb")*+)([A-Za-z'\"][A-Za-z0-9*]*+)", re.DOTALL)
_NUMBER = re.compile(rb"[-+]?(?:[0-9]{1,30}\.?[0-9]{0,30}|\.[0-9]{1,30})")
_SHOWS = (b"Tj", b"TJ", b"'", b'"')
_OF_WORDS = (b"BT", b"ET", b"Tm", b"Td", b"Tr", b"BDC", b"BMC", b"EMC")  # marks and places of words are no drawing
_ESCAPED = re.compile(rb"\\([0-7]{1,3}|\r\n|.)", re.DOTALL)
_ESCAPES = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f", b"\n": b"", b"\r": b"", b"\r\n": b""}


class PdfError(CalcError):
    """A file that cannot be read as a PDF; the message says why."""


@dataclass(frozen=True)
class Ref:
    """A reference to another object."""

    number: int


@dataclass(frozen=True)
class PdfPage:
    """A page as it was read: its lines of words from first to last, and a digest of all that is drawn beside them."""

    lines: tuple[str, ...]
    drawn: str


@dataclass(frozen=True)
class PdfContent:
    """What a PDF holds."""

    pages: tuple[PdfPage, ...]
    attached: Mapping[str, bytes]


def read_pdf(raw: bytes) -> PdfContent:
    """Read a PDF.

    Parameters
    ----------
    raw
        The file's content; it may come from anybody.

    Returns
    -------
    PdfContent

    Raises
    ------
    PdfError
        It is no PDF, is encrypted, or is damaged where something is needed.
    """
    with _read_by_few_rules():
        return _reader(raw).content()


def attached_files(raw: bytes) -> Mapping[str, bytes]:
    """Read the files that are attached to a PDF, and none of its pages; raises `PdfError`."""
    with _read_by_few_rules():
        return _reader(raw).attached()


@contextmanager
def _read_by_few_rules() -> Iterator[None]:
    """Whatever stands where something else belongs is told as damage: a file may come from anybody."""
    try:
        yield
    except (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError) as error:
        raise PdfError(f"something in it is not what belongs there ({type(error).__name__}: {error})") from None


def _reader(raw: bytes) -> _Reader:
    if not raw.startswith(b"%PDF-"):
        raise PdfError("it does not begin as a PDF does")
    return _Reader(raw)


def _tokens(text: bytes, at: int = 0) -> Iterator[tuple[bytes, int]]:
    """Yield each token of PDF's syntax, and where it ends."""
    while found := _TOKEN.match(text, at):
        at = found.end()
        yield found[1], at


def _string(token: bytes) -> bytes:
    if token[:1] == b"<":
        digits = token[1:-1].translate(None, _SPACE)
        return bytes.fromhex((digits + b"0" * (len(digits) % 2)).decode())

    def plain(found: re.Match[bytes]) -> bytes:
        sign = found[1]
        return bytes([int(sign, 8) & 255]) if sign[:1].isdigit() else _ESCAPES.get(sign, sign)

    return _ESCAPED.sub(plain, token[1:-1])


def _value(token: bytes, tokens: Iterator[tuple[bytes, int]], depth: int = 0) -> Any:
    """Read one value: a dictionary, list, name as text, string as bytes, number; anything else stays bytes."""
    if depth > _DEEPEST:
        raise PdfError(f"its values are nested more than {_DEEPEST} deep")
    if token == b"<<":
        items = _items(tokens, b">>", depth)
        return {key: value for key, value in zip(items[::2], items[1::2], strict=False) if isinstance(key, str)}
    if token == b"[":
        return _items(tokens, b"]", depth)
    if token[:1] in b"(<":
        return _string(token)
    if token[:1] == b"/":
        return token[1:].decode("latin-1")
    if not _NUMBER.fullmatch(token):
        return token
    return float(token) if b"." in token else int(token)


def _items(tokens: Iterator[tuple[bytes, int]], end: bytes, depth: int) -> list[Any]:
    found: list[Any] = []
    for token, _ in tokens:
        if token == end:
            return found
        if token == b"R" and len(found) > 1 and isinstance(found[-2], int):
            found[-2:] = [Ref(found[-2])]
        else:
            found.append(_value(token, tokens, depth + 1))
    raise PdfError("it ends within a value")


@dataclass(frozen=True)
class _Stream:
    about: Mapping[str, Any]
    raw: bytes


class _Reader:
    def __init__(self, raw: bytes) -> None:
        self.raw = raw
        self.places = {int(found[1]): found.end() for found in _OBJECT.finditer(raw)}
        self.known: dict[int, Any] = {}
        self.packed: dict[int, Any] = {}
        self.letters: dict[int, Mapping[bytes, str]] = {}
        self.left = _ALL
        for number, at in self.places.items():
            if raw.find(b"/ObjStm", at, at + _FAR) >= 0:
                self._unpack(self.get(Ref(number)))

    def get(self, value: Any) -> Any:
        """Follow references to what they stand for."""
        for _ in range(_DEEPEST):
            if not isinstance(value, Ref):
                return value
            if value.number not in self.known:
                self.known[value.number] = self._read(value.number)
            value = self.known[value.number]
        return None

    def mapping(self, value: Any) -> Mapping[str, Any]:
        """Follow references to a dictionary, that of a stream too; an empty one where there is none."""
        found = self.get(value)
        found = found.about if isinstance(found, _Stream) else found
        return found if isinstance(found, dict) else {}

    def several(self, value: Any) -> list[Any]:
        """Follow references to a list; a single value is one of a list."""
        found = self.get(value)
        return found if isinstance(found, list) else [] if found is None else [found]

    def _read(self, number: int) -> Any:
        if number not in self.places:
            return self.packed.get(number)
        tokens = _tokens(self.raw, self.places[number])
        value = _value(next(tokens, (b"null", 0))[0], tokens)
        word, at = next(tokens, (b"", 0))
        if word != b"stream" or not isinstance(value, dict):
            return value
        at += 2 if self.raw[at : at + 2] == b"\r\n" else 1
        length = self.get(value.get("Length"))
        end = at + length if isinstance(length, int) else self.raw.find(b"endstream", at)
        return _Stream(value, self.raw[at:end])

    def bytes_of(self, value: Any) -> bytes:
        """The content of a stream, unpacked."""
        stream = self.get(value)
        if not isinstance(stream, _Stream):
            return b""
        filters = self.several(stream.about.get("Filter"))
        if not filters:
            return stream.raw
        if filters != ["FlateDecode"] or "DecodeParms" in stream.about:
            return b""  # a picture, of which the packed bytes are compared
        try:
            body = zlib.decompressobj().decompress(stream.raw, _MOST)
        except zlib.error as error:
            raise PdfError(f"a part of it cannot be unpacked ({error})") from None
        self.left -= len(body)
        if self.left < 0:
            raise PdfError(f"its parts together are larger than {_ALL >> 20} MiB")
        return body

    def _unpack(self, stream: Any) -> None:
        """Take in the objects of an object stream."""
        body, about = self.bytes_of(stream), self.mapping(stream)
        first, count = about.get("First"), about.get("N")
        if not isinstance(first, int) or not isinstance(count, int):
            return
        numbers = [int(word) for word in body[:first].split() if word.isdigit()][: 2 * count]
        for number, at in zip(numbers[::2], numbers[1::2], strict=False):
            tokens = _tokens(body, first + at)
            self.packed[number] = _value(next(tokens, (b"null", 0))[0], tokens)

    @cached_property
    def _catalog(self) -> Mapping[str, Any]:
        if re.search(rb"/Encrypt\b", self.raw[-4096:]):
            raise PdfError("it is encrypted")
        for number in (*self.packed, *self.places):
            at = self.places.get(number, 0)
            if number in self.packed or self.raw.find(b"/Catalog", at, at + _FAR) >= 0:
                found = self.get(Ref(number))
                if isinstance(found, dict) and found.get("Type") == "Catalog":
                    return found
        raise PdfError("no list of its pages is found: it is encrypted or damaged")

    def content(self) -> PdfContent:
        """Read pages and attachments."""
        found = self._pages(self._catalog.get("Pages"), {}, set())
        pages = tuple(self._page(page, inherited) for page, inherited in found)
        return PdfContent(pages, self.attached())

    def attached(self) -> Mapping[str, bytes]:
        """Read attachments."""
        names = self.mapping(self.mapping(self._catalog.get("Names")).get("EmbeddedFiles"))
        return dict(self._attached(names, set()))

    def _pages(
        self, node: Any, inherited: Mapping[str, Any], seen: set[int]
    ) -> Iterator[tuple[Mapping[str, Any], Mapping[str, Any]]]:
        """Every page once, whatever leads back to it."""
        if _known(node, seen):
            return
        about = self.mapping(node)
        resources = self.mapping(about.get("Resources")) or inherited
        if "Kids" not in about:
            yield about, resources
        else:
            for kid in self.several(about["Kids"]):
                yield from self._pages(kid, resources, seen)

    def _attached(self, node: Mapping[str, Any], seen: set[int]) -> Iterator[tuple[str, bytes]]:
        names = self.several(node.get("Names"))
        for _, value in zip(names[::2], names[1::2], strict=False):
            spec = self.mapping(value)
            name = self.get(spec.get("UF", spec.get("F", b"")))
            yield _words(name) if isinstance(name, bytes) else "", self.bytes_of(self.mapping(spec.get("EF")).get("F"))
        for kid in self.several(node.get("Kids")):
            if not _known(kid, seen):
                yield from self._attached(self.mapping(kid), seen)

    def _page(self, page: Mapping[str, Any], resources: Mapping[str, Any]) -> PdfPage:
        body = b"\n".join(self.bytes_of(part) for part in self.several(page.get("Contents")))
        lines: list[str] = []
        drawn = hashlib.sha256()
        seen: set[int] = set()
        self._take(body, resources, lines, drawn, seen)
        for note in self.several(page.get("Annots")):
            self._take_note(self.mapping(note), lines, drawn, seen)
        return PdfPage(tuple(lines), drawn.hexdigest())

    def _take(self, body: bytes, resources: Mapping[str, Any], lines: list[str], drawn: Any, seen: set[int]) -> None:
        """Take in the words of a drawing and what else it draws; then those of the drawings that it may use."""
        fonts = {name: self._letters(font) for name, font in self.mapping(resources.get("Font")).items()}
        own, rest = _lines(body, fonts)
        lines += own
        drawn.update(rest)
        for name, value in sorted(self.mapping(resources.get("XObject")).items()):
            found = self.get(value)
            if not isinstance(found, _Stream) or _known(value, seen):
                continue
            drawn.update(name.encode())
            if found.about.get("Subtype") == "Form":
                self._take_form(value, resources, lines, drawn, seen)
            else:
                drawn.update(self.bytes_of(value) or found.raw)

    def _take_form(self, form: Any, resources: Mapping[str, Any], lines: list[str], drawn: Any, seen: set[int]) -> None:
        about = self.mapping(form)
        drawn.update(repr([about.get("Matrix"), about.get("BBox")]).encode())
        self._take(self.bytes_of(form), self.mapping(about.get("Resources")) or resources, lines, drawn, seen)

    def _take_note(self, note: Mapping[str, Any], lines: list[str], drawn: Any, seen: set[int]) -> None:
        """Take in what is laid over a page: a link within the file says nothing, all else what it is."""
        kind, action = str(note.get("Subtype")), self.mapping(note.get("A"))
        drawn.update(repr([kind, note.get("Rect")]).encode())
        texts = [note.get("Contents"), note.get("V"), action.get("URI"), action.get("JS")]
        said = [_words(text) for text in map(self.get, texts) if isinstance(text, bytes)]
        if kind == "Link" and action.get("S", "GoTo") == "GoTo":
            return
        lines.append(" ".join([f"laid over the page, {kind}:", *said]))
        looks = self.mapping(note.get("AP"))
        for look in (one for value in looks.values() for one in [value, *self.mapping(value).values()]):
            if isinstance(self.get(look), _Stream) and not _known(look, seen):
                self._take_form(look, {}, lines, drawn, seen)

    def _letters(self, font: Any) -> Mapping[bytes, str]:
        """Read which letters the codes of a font stand for; codes of two bytes, as every font here has them."""
        stream = self.mapping(font).get("ToUnicode")
        if not isinstance(stream, Ref):
            return {}
        if stream.number not in self.letters:
            self.letters[stream.number] = _code_map(self.bytes_of(stream))
        return self.letters[stream.number]


def _known(value: Any, seen: set[int]) -> bool:
    """Whether an object was met before; it is from now on."""
    if not isinstance(value, Ref):
        return False
    met = value.number in seen
    seen.add(value.number)
    return met


def _words(raw: bytes) -> str:
    return raw[2:].decode("utf-16-be", "replace") if raw[:2] == b"\xfe\xff" else raw.decode("utf-8", "replace")


def _code_map(body: bytes) -> Mapping[bytes, str]:
    found: dict[bytes, str] = {}
    kept: list[Any] = []
    left, tokens = _CODES, _tokens(body)
    for token, _ in tokens:
        if token == b"endbfchar":
            for code, letters in zip(kept[::2], kept[1::2], strict=False):
                found[code] = letters.decode("utf-16-be", "replace")
        elif token == b"endbfrange":
            for low, high, letters in zip(kept[::3], kept[1::3], kept[2::3], strict=False):
                first, last = int.from_bytes(low, "big"), int.from_bytes(high, "big")
                left -= max(0, last - first)
                if left < 0:
                    raise PdfError(f"a font of it has more than {_CODES} letters")
                for place, code in enumerate(range(first, min(last, first + 0xFFFF) + 1)):
                    many = isinstance(letters, list)
                    own = letters[place] if many and place < len(letters) else b"" if many else _next(letters, place)
                    found[code.to_bytes(len(low), "big")] = own.decode("utf-16-be", "replace")
        elif token in (b"beginbfchar", b"beginbfrange"):
            kept = []
        elif token[:1] in b"<[" and token != b"<<":
            kept.append(_value(token, tokens))
    return found


def _next(letters: bytes, steps: int) -> bytes:
    return letters[:-2] + ((int.from_bytes(letters[-2:], "big") + steps) & 0xFFFF).to_bytes(2, "big")


def _lines(body: bytes, fonts: Mapping[str, Mapping[bytes, str]]) -> tuple[tuple[str, ...], bytes]:
    """Read the words of a page; those in a row that stand at one height are a line. What is no word comes second."""
    lines: list[str] = []
    rest: list[bytes] = []
    letters: Mapping[bytes, str] = {}
    height, last = b"", None
    for found in _OPERATION.finditer(body):
        operands, word = found[1], found[2]
        if word in _SHOWS:
            codes = b"".join(_string(one) for one in _STRING.findall(operands))
            words = "".join(letters.get(codes[at : at + 2], "") for at in range(0, len(codes), 2))
            if height == last:
                lines[-1] += f" {words}"
            else:
                lines.append(words)
            last = height
        elif word == b"Tf":
            letters = fonts.get(operands.split()[0][1:].decode("latin-1"), {})
        elif word == b"cm":
            height = operands.split()[-1]
        elif word not in _OF_WORDS:
            rest.append(found[0])
    return tuple(" ".join(line.split()) for line in lines if line.strip()), b"".join(rest)
