"""Files of notes: plain text, and lines that name a picture, ``![caption](picture.png)``.

Nothing else in them is read as a mark: what looks like a heading, a link or HTML is shown as it was typed.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from calc.files.notes.pictures import ACCEPTED, KINDS_OF_PICTURE, PictureError, cleaned
from calc.files.problems import InputErrors, Problem
from calc.files.strict import decode, read_bytes

NOTES_ENDING = ".md"
MOST_LETTERS, MOST_PICTURES = 50_000, 60
_PICTURE = re.compile(r"!\[(.*)\]\(([^()]+)\)")
_NOT_PRINTED = {chr(code) for code in (*range(9), *range(11, 32), 127)}


@dataclass(frozen=True)
class NotedPicture:
    """A picture of a note: its file, the caption as typed, and what is left of its content when it is cleaned."""

    path: Path
    caption: str
    body: bytes

    @property
    def ending(self) -> str:
        """How its name ends, in small letters and without the dot: png, jpg or svg."""
        return self.path.suffix.lower().lstrip(".").replace("jpeg", "jpg")


@dataclass(frozen=True)
class EngineersNote:
    """A file of notes: paragraphs, each a tuple of lines, and pictures, in the order in which they stand."""

    path: Path
    parts: tuple[tuple[str, ...] | NotedPicture, ...]

    @property
    def pictures(self) -> list[NotedPicture]:
        """The pictures among its parts."""
        return [part for part in self.parts if isinstance(part, NotedPicture)]


def read_notes(folder: Path, *, job: Path, file: str, problems: list[Problem]) -> tuple[EngineersNote, ...]:
    """Read all notes of a folder, in the order of their names.

    Parameters
    ----------
    folder
        The folder, inside that of the job.
    job
        The job's folder.
    file
        Name of the job file, for a problem with the folder.
    problems
        Takes what is wrong.

    Returns
    -------
    tuple of EngineersNote
    """
    paths = sorted(folder.glob(f"*{NOTES_ENDING}")) if folder.is_dir() else []
    if not paths:
        said = f"holds no file that ends in {NOTES_ENDING}; accepted: a folder with notes, or no key of this name"
        problems.append(Problem(file, "key notes.folder", folder.relative_to(job).as_posix(), said))
    found = []
    for path in paths:
        try:
            found.append(_read_note(path, job, problems))
        except InputErrors as error:
            problems += error.problems
    if sum(len(note.pictures) for note in found) > MOST_PICTURES:
        said = f"holds more than {MOST_PICTURES} pictures; accepted: fewer"
        problems.append(Problem(file, "key notes.folder", folder.relative_to(job).as_posix(), said))
    return tuple(found)


def _read_note(path: Path, job: Path, problems: list[Problem]) -> EngineersNote:
    name = path.relative_to(job).as_posix()
    _refuse_link(path, job, name)
    text = decode(read_bytes(path, name), name)
    if len(text) > MOST_LETTERS:
        said = f"the note is too long; accepted: up to {MOST_LETTERS} characters in a file"
        raise InputErrors([Problem(name, "", "", said)])
    parts: list[tuple[str, ...] | NotedPicture] = []
    lines: list[str] = []
    for number, line in enumerate([*text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), ""], start=1):
        if sign := next((sign for sign in line if sign in _NOT_PRINTED), ""):
            said = f"holds the control character U+{ord(sign):04X}; accepted: text"
            problems.append(Problem(name, f"line {number}", "", said))
        picture = _PICTURE.fullmatch(line.strip())
        if line.strip() and not picture:
            lines.append(line.rstrip())
            continue
        if lines:
            parts.append(tuple(lines))
            lines = []
        if picture:
            try:
                parts.append(_picture(path, picture[1], picture[2], job))
            except PictureError as error:
                problems.append(Problem(name, f"line {number}", picture[2], str(error)))
    return EngineersNote(path, tuple(parts))


def _picture(note: Path, caption: str, text: str, job: Path) -> NotedPicture:
    plain = PurePosixPath(text)
    if plain.is_absolute() or ".." in plain.parts or ":" in text or "\\" in text or not text.isprintable():
        raise PictureError("is no plain relative path; accepted: a picture beside the note")
    if plain.suffix.lower() not in KINDS_OF_PICTURE:
        raise PictureError(f"is no picture that is taken; {ACCEPTED}")
    path = note.parent / plain
    try:
        _refuse_link(path, job, text)
        body = read_bytes(path, text)
    except InputErrors as error:
        raise PictureError(error.problems[0].message) from None
    return NotedPicture(path, caption, cleaned(body, path.suffix))


def _refuse_link(path: Path, job: Path, name: str) -> None:
    if os.path.exists(path) and not path.resolve().is_relative_to(job.resolve()):
        said = "leads out of the job's folder by a link; accepted: a file inside the job's folder"
        raise InputErrors([Problem(name, "", "", said)])
