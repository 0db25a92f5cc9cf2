"""Taking what an engineer wrote in working copies into the job's notes, on purpose: text and pictures, never code.

A Markdown cell tagged ``note`` is taken; each working copy ends with one. What is taken stands as files beside the job,
so that a package holds it among its inputs and a rebuild inserts the same.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from calc.base.errors import CalcError
from calc.files.job import Job, is_demo
from calc.files.notes.pictures import PictureError, cleaned
from calc.files.notes.text import NOTES_ENDING
from calc.files.problems import InputErrors
from calc.files.strict import read_bytes
from calc.package.manifest import write_whole
from calc.package.notebooks import ASKED, NOTED, tagged_cells
from calc.work.load import load_job
from calc.work.places import COPIES, located
from calc.work.save import save_values

FOLDER_OF_NOTES = "notes"  # where notes go when the job file names no folder
_PICTURE = re.compile(r"!\[([^\]]*)\]\(([^()]+)\)")
_ATTACHED = "attachment:"
_ENDINGS = {"image/png": ".png", "image/jpeg": ".jpg", "image/svg+xml": ".svg"}


class NoteError(CalcError):
    """A note cannot be taken; the text says which and why."""


@dataclass(frozen=True)
class Taken:
    """What was taken: the notes' files that were written, those that went away, and sentences on what was left."""

    written: tuple[Path, ...]
    removed: tuple[Path, ...]
    left: tuple[str, ...]


def take_notes(job: Job) -> Taken:
    """Take the marked cells of all working copies into the job's notes, and name their folder in the job file.

    A copy's notes go into the file of its own name, which is written anew each time, and goes away when the copy has
    no note any longer. Files of other names in the folder are left alone.

    Parameters
    ----------
    job
        The job, with working copies beside it.

    Returns
    -------
    Taken

    Raises
    ------
    CalcError
        The job is a demo, a picture is refused, or the job would not load with its notes; these are then as they were.
    OSError
        The folder cannot be written.
    """
    if is_demo(job):
        raise NoteError(f"{job.folder} is a demo, beside which nothing is written: copy it with 'start' first")
    named = job.origins.get("notes.folder")
    folder = job.folder / (named or FOLDER_OF_NOTES)
    wanted: dict[Path, bytes] = {}
    left: list[str] = []
    ours: set[Path] = set()
    for copy in sorted((job.folder / COPIES).glob("*.ipynb")):
        ours |= {path for path in folder.glob(f"{copy.stem}*") if _is_of(path, copy.stem)}
        wanted |= _notes_of(copy, folder, job, left)
    before = {path: path.read_bytes() for path in ours}
    gone = tuple(sorted(ours - set(wanted)))
    remaining = {path for path in {*folder.glob(f"*{NOTES_ENDING}"), *wanted} - {*gone} if path.suffix == NOTES_ENDING}
    if named is not None and not remaining:
        save_values(job, values={"notes": None})
    try:
        _put(wanted, gone)
        if named is None and remaining:
            save_values(job, values={"notes.folder": FOLDER_OF_NOTES}, beside=tuple({*wanted, *remaining}))
        load_job(job.path)
    except BaseException:
        _put(before, tuple(path for path in wanted if path not in before))
        raise
    return Taken(tuple(wanted), gone, tuple(left))


def _put(written: Mapping[Path, bytes], removed: tuple[Path, ...]) -> None:
    for path in removed:
        path.unlink(missing_ok=True)
    for path, body in written.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, body)


def _is_of(path: Path, stem: str) -> bool:
    """Whether a file of the folder is one that a copy's notes were written to."""
    rest = path.name.removeprefix(stem)
    number, _, ending = rest.removeprefix("-").partition(".")
    return rest == NOTES_ENDING or (rest[:1] == "-" and number.isdecimal() and f".{ending}" in _ENDINGS.values())


def _notes_of(copy: Path, folder: Path, job: Job, left: list[str]) -> dict[Path, bytes]:
    """What a copy's notes are: its file of text, and its pictures, cleaned and numbered."""
    found: dict[Path, bytes] = {}
    texts = []
    for number, cell in tagged_cells(copy, NOTED):
        if cell.cell_type != "markdown":
            left.append(f"{copy.name}, cell {number} is code and was left: only text and pictures go into a package")
            continue
        lines: list[str] = []
        for line in cell.source.replace(ASKED, "").splitlines():
            at = 0
            for picture in _PICTURE.finditer(line):
                lines += filter(None, [line[at : picture.start()].strip()])
                at = picture.end()
                try:
                    caption, body, ending = _picture(picture[1], picture[2], cell, copy, job)
                except CalcError as error:
                    raise NoteError(f"{copy.name}, cell {number}, picture '{picture[2][:80]}': {error}") from None
                path = folder / f"{copy.stem}-{len(found) + 1}{ending}"
                found[path] = body
                lines.append(f"![{caption}]({path.name})")
            lines += filter(None, [line[at:].strip()]) if at else [line]
        if text := "\n".join(lines).strip("\n"):
            texts.append(text)
    return found | ({folder / f"{copy.stem}{NOTES_ENDING}": ("\n\n".join(texts) + "\n").encode()} if texts else {})


def _picture(caption: str, target: str, cell: Any, copy: Path, job: Job) -> tuple[str, bytes, str]:
    """Return caption, cleaned content and ending of a picture that a cell shows."""
    name = unquote(target.partition(' "')[0].strip().strip("<>"))
    if name.startswith(_ATTACHED):
        name = name.removeprefix(_ATTACHED)
        kinds = dict(cell.get("attachments", {}).get(name, {}))
        kind = next((kind for kind in _ENDINGS if kind in kinds), "")
        if not kind:
            raise PictureError("is not attached as PNG, JPEG or SVG")
        try:
            body, ending = base64.b64decode("".join(kinds[kind])), _ENDINGS[kind]
        except binascii.Error:
            raise PictureError("is damaged") from None
    elif ":" in name:
        raise PictureError("leads elsewhere; accepted: a picture that was dropped into the cell, or a file")
    else:
        path = located(name, job, copy.parent)
        try:
            body, ending = read_bytes(path), path.suffix.lower().replace("jpeg", "jpg")
        except InputErrors as error:
            raise PictureError(error.problems[0].message) from None
    # Programs that paste a picture write the file's name where its caption would stand.
    return "" if caption == name else caption, cleaned(body, ending), ending
