"""Pictures that people add: PNG, JPEG and SVG, cleaned of all that is not seen, or refused in a sentence.

What is taken off: texts, dates, places and thumbnails that a camera or a program wrote, colour profiles, further
frames, and whatever stands behind the end. The pixels stay byte for byte, so that cleaning a clean picture changes
nothing. An SVG with a script, an animation, a text of another document or an address to elsewhere is refused.
"""

from __future__ import annotations

import io
import struct
import xml.etree.ElementTree as ET
import zlib
from collections.abc import Iterator

from PIL import Image

from calc.base.errors import CalcError

KINDS_OF_PICTURE = (".png", ".jpg", ".jpeg", ".svg")
ACCEPTED = "accepted: PNG, JPEG (grey or RGB) and SVG (shapes and text alone)"
MOST_BYTES, MOST_PIXELS = 8 * 2**20, 40_000_000
_MOST_SHAPES = 20_000
_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND")
_ORIENTATION = 0x0112  # EXIF: how the camera was held, without which a photograph lies on its side
_JFIF = b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0"
_SOI, _EOI, _SOS, _APP0, _APP1, _APP14, _COMMENT = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xEE, 0xFE
_FRAMES = (0xC0, 0xC1, 0xC2)  # baseline, extended and progressive; not lossless, hierarchical or arithmetic
_OTHER_FRAMES = (0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF)
_SVG, _XLINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}href"
_DEEPEST = 100
_SHAPES = {
    *("svg", "g", "defs", "symbol", "use", "title", "desc", "style", "text", "tspan", "marker", "pattern", "mask"),
    *("path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "clipPath"),
    *("linearGradient", "radialGradient", "stop"),
}


class PictureError(CalcError):
    """A picture that is not taken; the text says why and what is accepted."""


def cleaned(body: bytes, suffix: str) -> bytes:
    """Return a picture without anything that is not seen.

    Parameters
    ----------
    body
        The file's content.
    suffix
        How its name ends, with the dot.

    Returns
    -------
    bytes
        The same for what is clean already.

    Raises
    ------
    PictureError
        It is none of the three kinds, not of the kind that its name says, damaged, too large, or holds what acts.
    """
    if len(body) > MOST_BYTES:
        raise PictureError(f"is larger than {MOST_BYTES >> 20} MiB; save it smaller")
    match suffix.lower():
        case ".png":
            return _shown(b"".join([_PNG, *_png_parts(body)]))
        case ".jpg" | ".jpeg":
            return _shown(_jpeg(body))
        case ".svg":
            return _svg(body)
    raise PictureError(f"is no picture that is taken; {ACCEPTED}")


def _shown(body: bytes) -> bytes:
    """Refuse pixels that cannot be drawn."""
    try:
        with Image.open(io.BytesIO(body)) as image:
            if image.width * image.height > MOST_PIXELS:
                raise Image.DecompressionBombError
            image.load()
    except Image.DecompressionBombError:
        raise PictureError(f"has more than {MOST_PIXELS // 1_000_000} million pixels; save it smaller") from None
    except Exception as error:
        raise PictureError(f"is damaged: its pixels cannot be read; {ACCEPTED}") from error
    return body


def _png_parts(body: bytes) -> Iterator[bytes]:
    if not body.startswith(_PNG):
        raise PictureError(f"is no PNG, as its name says; {ACCEPTED}")
    at, kind = len(_PNG), b""
    while kind != b"IEND":
        head = body[at : at + 8]
        length, kind = struct.unpack(">I4s", head) if len(head) == 8 else (0, b"")
        part = body[at : at + 12 + length]
        if len(part) < 12 + length or not kind or zlib.crc32(part[4:-4]) != struct.unpack(">I", part[-4:])[0]:
            raise PictureError(f"is damaged, or cut short; {ACCEPTED}")
        if kind in _PNG_KEPT:
            yield part
        elif kind[0] & 0x20 == 0:
            raise PictureError(f"holds a part that is not known and cannot be left out; {ACCEPTED}")
        at += len(part)


def _jpeg(body: bytes) -> bytes:
    """Keep tables, frame and scans; of a camera's notes how it was held, in a block of its own."""
    start = bytes((0xFF, _SOI))
    named = body.startswith(start + b"\xff\xe0") and body[6:11] == _JFIF[:5]
    kept = [start, *([_segment(_APP0, _JFIF)] if named else []), *_held_how(body)]
    at = 2
    if not body.startswith(start):
        raise PictureError(f"is no JPEG, as its name says; {ACCEPTED}")
    while True:
        while body[at : at + 2] == b"\xff\xff":
            at += 1
        if at + 2 > len(body) or body[at] != 0xFF:
            raise PictureError(f"is damaged, or cut short; {ACCEPTED}")
        kind = body[at + 1]
        if kind == _EOI:
            return b"".join([*kept, bytes((0xFF, _EOI))])
        length = int.from_bytes(body[at + 2 : at + 4], "big")
        part = body[at + 4 : at + 2 + length]
        if length < 2 or len(part) != length - 2:
            raise PictureError(f"is damaged, or cut short; {ACCEPTED}")
        if kind in _OTHER_FRAMES or (kind in _FRAMES and (len(part) < 6 or part[5] not in (1, 3))):
            raise PictureError(f"is a JPEG of a rare kind, such as for print in four colours; {ACCEPTED}")
        at += 2 + length
        if kind == _APP14 or not (_APP0 <= kind < _APP0 + 16 or kind == _COMMENT):
            kept.append(_segment(kind, part))
        if kind == _SOS:
            end = _scan_end(body, at)
            kept.append(body[at:end])
            at = end


def _scan_end(body: bytes, at: int) -> int:
    """Where the pixels of a scan end: at the first mark that is neither a stuffed byte nor a restart."""
    while (at := body.find(b"\xff", at)) >= 0 and at + 1 < len(body):
        if body[at + 1] not in (0x00, 0xFF, *range(0xD0, 0xD8)):
            return at
        at += 1 if body[at + 1] == 0xFF else 2
    raise PictureError(f"is damaged, or cut short; {ACCEPTED}")


def _segment(kind: int, part: bytes) -> bytes:
    return bytes((0xFF, kind)) + (len(part) + 2).to_bytes(2, "big") + part


def _held_how(body: bytes) -> Iterator[bytes]:
    try:
        with Image.open(io.BytesIO(body)) as image:
            turned = image.getexif().get(_ORIENTATION)
    except Exception:
        return  # what is wrong with it is told where the pixels are read
    if isinstance(turned, int) and 2 <= turned <= 8:
        entry = struct.pack("<HHHIHH", 1, _ORIENTATION, 3, 1, turned, 0)  # one entry: a short, once
        yield _segment(_APP1, b"Exif\0\0II*\0" + struct.pack("<I", 8) + entry + struct.pack("<I", 0))


def _svg(body: bytes) -> bytes:
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PictureError(f"is not UTF-8 text, as an SVG is; {ACCEPTED}") from None
    plain = _without_doctype(text)
    if "<!DOCTYPE" in plain or "<!ENTITY" in plain:
        raise PictureError(f"declares entities, which can stand for anything; {ACCEPTED}")
    try:
        root = ET.fromstring(plain)
    except ET.ParseError:
        raise PictureError(f"cannot be read as an SVG; {ACCEPTED}") from None
    if root.tag != f"{_SVG}svg":
        raise PictureError(f"is no SVG, as its name says; {ACCEPTED}")
    if sum(1 for _ in root.iter()) > _MOST_SHAPES:
        raise PictureError(f"has more than {_MOST_SHAPES} shapes; save it as PNG")
    _clean(root)
    _refuse_nesting(root)
    ET.register_namespace("", _SVG[1:-1])
    ET.register_namespace("xlink", _XLINK[1:].partition("}")[0])
    return ET.tostring(root, encoding="unicode").encode("utf-8") + b"\n"


def _without_doctype(text: str) -> str:
    """Leave out the declaration that many programs write: a name and two addresses, which nothing here follows."""
    head, mark, tail = text.partition("<!DOCTYPE")
    declared, end, rest = tail.partition(">")
    return head + rest if mark and end and "[" not in declared and "<svg" not in head else text


def _clean(element: ET.Element, depth: int = 0) -> None:
    """Leave out what other programs keep for themselves, and refuse what acts or leads elsewhere."""
    if depth > _DEEPEST:
        raise PictureError("has groups in groups without end; save it as PNG")
    for inner in list(element):
        name = inner.tag.removeprefix(_SVG) if isinstance(inner.tag, str) else ""
        if not isinstance(inner.tag, str) or not inner.tag.startswith(_SVG) or name == "metadata":
            element.remove(inner)
            continue
        if name not in _SHAPES:
            raise PictureError(f"holds <{name}>, which is more than a shape or a text; {ACCEPTED}")
        _clean(inner, depth + 1)
        if name == "style" and _leads_out(inner.text or "", style=True):
            raise PictureError(f"has a style that leads elsewhere; {ACCEPTED}")
    for key, value in list(element.attrib.items()):
        if key in ("href", _XLINK):
            if not value.startswith("#"):
                raise PictureError(f"leads to '{value[:40]}', which is outside of it; {ACCEPTED}")
        elif key.startswith("{"):
            del element.attrib[key]
        elif key.lower().startswith("on"):
            raise PictureError(f"acts by itself ({key}); {ACCEPTED}")
        elif _leads_out(value):
            raise PictureError(f"leads elsewhere by its {key}; {ACCEPTED}")


def _leads_out(value: str, *, style: bool = False) -> bool:
    """Whether a value names what is not in the picture; a style may hide that behind its own way of writing letters."""
    text = "".join(value.lower().split())
    inner = text.replace("url(#", "").replace("url('#", "").replace('url("#', "")
    return "url(" in inner or "\\" in text or "javascript:" in text or (style and "@" in text)


def _refuse_nesting(root: ET.Element) -> None:
    """A shape that is used may use no other: ten shapes that each use the next one ten times never end."""
    by_id = {one.get("id"): one for one in root.iter() if one.get("id")}
    for use in root.iter(f"{_SVG}use"):
        target = by_id.get((use.get("href") or use.get(_XLINK) or "")[1:])
        if target is not None and any(True for _ in target.iter(f"{_SVG}use")):
            raise PictureError(f"uses shapes that use others; {ACCEPTED}")
