"""The document as PDF/A-3a and PDF/UA-1: Typst from its wheel, no TeX, no browser, no font of the machine.

The template is fixed. What a user wrote reaches it as strings in a JSON file, so that no text is ever read as Typst.
"""

from __future__ import annotations

import functools
import importlib.resources
import json
import mimetypes
import os
import re
import tempfile
import unicodedata
from datetime import date
from pathlib import Path, PurePosixPath
from typing import Any, Literal

import matplotlib
import typst

from calc.base.display import display_of
from calc.package.document import document as contents
from calc.package.document.parts import Document, DocumentError
from calc.package.manifest import MADE, RESULTS

PDF_STANDARDS: list[Literal["a-3a", "ua-1"]] = ["a-3a", "ua-1"]
_RUNNING = 64
_FACT, _SIGNER, _TITLE = 84, 44, 160
_METADATA = 2000  # PDF/A takes a text of at most 32767 bytes there
_LEFT_TO_RIGHT = "\u200e"


@functools.lru_cache(maxsize=1)
def _fallback_font() -> Path:
    """DejaVu Sans as matplotlib ships it: signs, Hebrew, Arabic and the plain emoji that the serif face lacks."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"


@functools.lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(_fallback_font().parent)]
    )


@functools.lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # slow to import, wanted only here

    with TTFont(_fallback_font(), lazy=True) as font:
        return frozenset(font.getBestCmap())


def printable(text: str) -> str:
    """The text with every character that the fonts lack, or that hides or turns what follows, written by its code.

    PDF/A refuses a character without a shape; a silent gap or a turned line would be worse.
    """
    return "".join(_character(letter) for letter in text) if not text.isascii() or not text.isprintable() else text


def _character(letter: str) -> str:
    if letter in "\n\t " or (letter.isascii() and letter.isprintable()):
        return " " if letter == "\t" else letter
    if letter in "\u00ad\ufe0e\ufe0f":  # soft hyphen and variation selectors have no shape of their own
        return ""
    if letter == "\r":
        return "\n"
    if unicodedata.category(letter) in ("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp") or ord(letter) not in _letters():
        return (  # the mark keeps the bracket in its place beside right-to-left words
            f"{_LEFT_TO_RIGHT}[U+{ord(letter):04X}]"
        )
    return letter


# Equations stay untouched: pandoc wrote them for Typst, and the mathematics font has their letters.
_UNTOUCHED = frozenset({"typst", "svg", "file", "anchor", "target", "href", "mathml", "widths", "level"})


def _printable_all(value: Any) -> Any:
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, list):
        return [_printable_all(item) for item in value]
    if isinstance(value, dict):
        return {
            key: item if key in _UNTOUCHED else _printable_all(item) for key, item in value.items() if key != "mathml"
        }
    return value


def _cut(text: str, length: int) -> str:
    line = " ".join(text.split())
    return line if len(line) <= length else line[: length - 1].rstrip() + "…"


def _date(text: str) -> list[int] | None:
    try:
        day = date.fromisoformat(text[:10])
    except ValueError:
        return None
    return [day.year, day.month, day.day]


_DESCRIPTIONS = {RESULTS: "Results of this calculation", MADE: "When and with what this calculation was made"}


def _attachment(index: int, name: str) -> dict[str, str]:
    clean = PurePosixPath(name.replace("\\", "/")).name or f"file-{index}"
    mime = {".toml": "application/toml", ".csv": "text/csv", ".json": "application/json"}.get(
        Path(clean).suffix.lower()
    )
    data = _DESCRIPTIONS.get(clean)
    return {
        "name": clean,
        "file": f"attachment-{index}",
        "mime": mime or mimetypes.guess_type(clean)[0] or "application/octet-stream",
        "relationship": "data" if data else "source",
        "description": data or "Input of this calculation, as used",
    }


def _facts(shown: dict[str, Any]) -> list[tuple[str, str]]:
    job = shown["job"]
    pairs = [
        ("Job", job["number"]),
        ("Revision", job["revision"]),
        ("Title", job["title"] if job["title"] != shown["title"] else ""),
        ("Date", job["date"]),
        ("Site", job["site"]),
        ("Adhesive", job["adhesive"]),
        ("Prepared by", job["prepared_by"]),
        ("Checked by", job["checked_by"]),
    ]
    return [(name, value) for name, value in pairs if value]


def _cuts(title: str, facts: list[tuple[str, str]]) -> list[tuple[str, str, int]]:
    """Texts of page 1 and how long they may be there; a name that the sign-off block cuts counts as cut."""
    most = {"Prepared by": _SIGNER, "Checked by": _SIGNER}
    return [("Title", title, _TITLE), *((name, value, most.get(name, _FACT)) for name, value in facts)]


def _data(document: Document, attachments: list[dict[str, str]]) -> dict[str, Any]:
    shown = contents.view(document)
    job = shown["job"]
    facts = _facts(shown)
    before = shown
    shown = {key: _printable_all(value) for key, value in before.items()}
    length = len(document.title)
    return shown | {
        "paper": display_of(document.job.get("units")).paper,
        "authors": [printable(job["prepared_by"])] if job["prepared_by"] else [],
        "keywords": [printable(f"job {job['number']}"), printable(f"revision {job['revision']}")],
        "date": _date(job["date"]),
        "running_job": printable(_cut(f"Job {job['number']} · revision {job['revision']}", 48)),
        "running_title": _cut(printable(job["title"] or document.title), _RUNNING),
        "title_size": 19 if length <= 70 else 14,
        # Cut as it is printed: a sign that the fonts lack takes eight.
        "short_title": _cut(printable(document.title), _TITLE),
        "title": _cut(printable(document.title), _METADATA),
        "signers": [_cut(printable(job[role]), _SIGNER) for role in ("prepared_by", "checked_by")],
        "facts": [[name, _cut(printable(value), _FACT)] for name, value in facts],
        # What page 1 cuts off stands in full behind it.
        "long": [
            [name, printable(value)]
            for name, value, most in _cuts(document.title, facts)
            if _cut(printable(value), most) != printable(value)
        ],
        "attachments": attachments,
        "replaced": _codes(shown) > _codes(before),
    }


def _codes(value: Any) -> int:
    return len(re.findall(r"\[U\+[0-9A-F]{4,6}\]", json.dumps(value, ensure_ascii=False)))


def _broken(equation: str) -> bool:
    """Does Typst refuse this equation? Asked only after a document failed."""
    source = '#eval(json(bytes(sys.inputs.at("eq"))), mode: "math")'
    try:
        typst.compile(source.encode(), format="pdf", sys_inputs={"eq": json.dumps(equation)}, font_paths=_fonts())
    except typst.TypstError:
        return True
    return False


def _drop_broken(value: Any, known: dict[str, bool]) -> None:
    """Show the LaTeX of an equation as text where Typst does not understand what pandoc wrote."""
    if isinstance(value, dict):
        source = value.get("typst")
        if isinstance(source, str) and known.setdefault(source, _broken(source)):
            value["typst"] = None
    for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else []:
        _drop_broken(item, known)


def _compile(folder: Path, data: dict[str, Any]) -> tuple[bytes, int]:
    (folder / "data.json").write_text(json.dumps(data), encoding="utf-8")
    compiler = typst.Compiler(str(folder / "calculation.typ"), root=str(folder), font_paths=_fonts())
    made = compiler.compile(format="pdf", pdf_standards=[*PDF_STANDARDS])
    pages = json.loads(compiler.query("<pages>", field="value", one=True))
    if not isinstance(made, bytes):
        raise DocumentError("Typst gave back no single file for the document.")
    return made, int(pages)


def write_pdf(document: Document, path: Path, attachments: dict[str, bytes]) -> int:
    """Write the document as PDF/A-3a and PDF/UA-1.

    Parameters
    ----------
    document : Document
        The document.
    path : Path
        The file to write; it appears whole or not at all.
    attachments : dict of bytes
        Files to carry inside the PDF, by name.

    Returns
    -------
    int
        Number of pages.

    Raises
    ------
    DocumentError
        When Typst refuses the document.
    ValueError
        When a block of the document is not of a known kind.
    """
    entries = [_attachment(index, name) for index, name in enumerate(attachments)]
    data = _data(document, entries)
    with tempfile.TemporaryDirectory(prefix="calculation-") as name:
        folder = Path(name)
        template = importlib.resources.files("calc.package") / "templates" / "calculation.typ"
        (folder / "calculation.typ").write_bytes(template.read_bytes())
        for entry, body in zip(entries, attachments.values(), strict=True):
            (folder / entry["file"]).write_bytes(body)
        try:
            made, pages = _compile(folder, data)
        except typst.TypstError:
            _drop_broken(data, {})
            try:
                made, pages = _compile(folder, data)
            except typst.TypstError as error:
                raise DocumentError(f"Typst refused the document: {' '.join(str(error).split())[:500]}") from error
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(made)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    return pages
