"""The document as PDF/A-3a and PDF/UA-1: Typst from its wheel, no TeX, no browser, no font of the machine.

The template is fixed. What a user wrote reaches it as strings in a JSON file, so that no text is ever read as Typst.
"""

from __future__ import annotations

import base64
import functools
import importlib.resources
import io
import json
import mimetypes
import os
import re
import shutil
import tempfile
from datetime import date
from pathlib import Path
from typing import Any, Literal

import pikepdf
import typst

from calc.base.display import display_of
from calc.base.look.tokens import TOKENS
from calc.base.signs.fonts import as_printed, folders, printable
from calc.base.signs.scripts import directed, east_of, tongues
from calc.package.document import document as contents
from calc.package.document.parts import Document, DocumentError
from calc.package.manifest import MADE, RESULTS

PDF_STANDARDS: list[Literal["a-3a", "ua-1"]] = ["a-3a", "ua-1"]
_RUNNING = 64
_FACT, _SIGNER, _TITLE = 84, 44, 160
_METADATA = 2000  # PDF/A takes a text of at most 32767 bytes there


@functools.lru_cache(maxsize=1)
def fonts() -> typst.Fonts:
    """Return the workbook's fonts; no font of the machine is among them."""
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=folders())


# Equations stay untouched: pandoc wrote them for Typst, and the mathematics font has their letters.
_UNTOUCHED = frozenset({"typst", "svg", "data", "ending", "file", "anchor", "target", "href", "widths", "level"})


def cut_line(text: str, length: int) -> str:
    """Return a text on one line, cut to a length where it is longer."""
    line = " ".join(text.split())
    return line if len(line) <= length else line[: length - 1].rstrip() + "…"


def date_parts(text: str) -> list[int] | None:
    """Return year, month and day of an ISO date, as the templates take it; None for what is none."""
    try:
        day = date.fromisoformat(text[:10])
    except ValueError:
        return None
    return [day.year, day.month, day.day]


_DESCRIPTIONS = {RESULTS: "Results of this calculation", MADE: "When and with what this calculation was made"}


def _attachment(index: int, name: str) -> dict[str, str]:
    clean = name.removeprefix("inputs/") or f"file-{index}"
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
    before = {key: _without_mathml(value) for key, value in shown.items()}
    own = [text for text in job.values() if isinstance(text, str)]
    shown = as_printed(before, own, _UNTOUCHED)
    length = len(document.title)

    def line(text: str, most: int) -> str:
        """One line as it is printed: cut first, since a sign that the fonts lack takes eight."""
        return directed(cut_line(printable(text), most), own)

    return shown | {
        "paper": display_of(document.job.get("units")).paper,
        **script(shown),
        "authors": [printable(job["prepared_by"])] if job["prepared_by"] else [],
        "keywords": [printable(f"job {job['number']}"), printable(f"revision {job['revision']}")],
        "date": date_parts(job["date"]),
        "running_job": line(f"Job {job['number']} · revision {job['revision']}", 48),
        "running_title": line(job["title"] or document.title, _RUNNING),
        "title_size": 19 if length <= 70 else 14,
        "short_title": line(document.title, _TITLE),
        "title": cut_line(printable(document.title), _METADATA),
        "signers": [line(job[role], _SIGNER) for role in ("prepared_by", "checked_by")],
        "facts": [[name, line(value, _FACT)] for name, value in facts],
        # What page 1 cuts off stands in full behind it.
        "long": [
            [name, as_printed(value, own)]
            for name, value, most in _cuts(document.title, facts)
            if cut_line(printable(value), most) != printable(value)
        ],
        "attachments": attachments,
        "replaced": _codes(shown) > _codes(before),
    }


def script(data: Any) -> dict[str, Any]:
    """What a template has to know of the scripts in its texts: the face of Han characters, and languages by script."""
    text = json.dumps(data, ensure_ascii=False)
    return {"han": east_of(text).font, "tongues": tongues(text)}


def _without_mathml(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_mathml(item) for key, item in value.items() if key != "mathml"}
    return [_without_mathml(item) for item in value] if isinstance(value, list) else value


def _codes(value: Any) -> int:
    return len(re.findall(r"\[U\+[0-9A-F]{4,6}\]", json.dumps(value, ensure_ascii=False)))


def _broken(equation: str) -> bool:
    """Does Typst refuse this equation? Asked only after a document failed."""
    source = '#eval(json(bytes(sys.inputs.at("eq"))), mode: "math")'
    try:
        typst.compile(source.encode(), format="pdf", sys_inputs={"eq": json.dumps(equation)}, font_paths=fonts())
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


def compressed(made: bytes) -> bytes:
    """Pack a PDF's objects into compressed streams, which halves it: tags are many small objects.

    Nothing else changes, and the identifier follows from the content: the same file comes out every time.
    """
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(made)) as file:
        file.save(out, object_stream_mode=pikepdf.ObjectStreamMode.generate, deterministic_id=True)
    return out.getvalue()


def _compile(folder: Path, data: dict[str, Any]) -> tuple[bytes, int]:
    (folder / "data.json").write_text(json.dumps(data), encoding="utf-8")
    compiler = typst.Compiler(str(folder / "calculation.typ"), root=str(folder), font_paths=fonts())
    made = compiler.compile(format="pdf", pdf_standards=[*PDF_STANDARDS])
    pages = json.loads(compiler.query("<pages>", field="value", one=True))
    if not isinstance(made, bytes):
        raise DocumentError("Typst gave back no single file for the document.")
    return compressed(made), int(pages)


def _put_photos(data: dict[str, Any], folder: Path) -> None:
    """Put the pictures of notes beside the template, which takes their place in the data by name."""
    photos = (block for section in data["sections"] for block in section["blocks"] if block["kind"] == "photo")
    for index, block in enumerate(photos):
        block["file"] = f"photo-{index}.{block['ending']}"
        (folder / block["file"]).write_bytes(base64.b64decode(block.pop("data")))


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
        shutil.copy(TOKENS, folder)
        _put_photos(data, folder)
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
