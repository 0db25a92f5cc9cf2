"""The last saves of a job, to be taken back one after another: in a file beside the job file, which hides nothing.

What a save replaced is kept as text, or by its bytes where it is no text; a file that was new is taken away again.
"""

from __future__ import annotations

import base64
import datetime
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from calc.base.errors import NotAccepted

UNDO_FILE = "undo.json"
MOST = 20


@dataclass(frozen=True)
class Before:
    """A file before a save: what it held, as text or in base 64, and the digest of what the save wrote."""

    file: str
    after: str
    text: str = ""
    base64: str = ""

    @property
    def data(self) -> bytes:
        """What it held."""
        return base64.b64decode(self.base64) if self.base64 else self.text.encode("utf-8")


@dataclass(frozen=True)
class Saved:
    """One save: when, and its files as they were before."""

    at: str
    files: tuple[Before, ...]


_SAVES = TypeAdapter(list[Saved])


def keep(folder: Path, changes: Mapping[Path, bytes]) -> None:
    """Note what files hold before they are replaced; of so many saves, the oldest goes.

    Parameters
    ----------
    folder
        The job's folder.
    changes
        File to what it is going to hold.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    files = tuple(_before(folder, path, data) for path, data in changes.items() if path.read_bytes() != data)
    if files:
        now = datetime.datetime.now().isoformat(sep=" ", timespec="seconds")
        _write(folder, [*saves(folder), Saved(now, files)][-MOST:])


def saves(folder: Path) -> list[Saved]:
    """List the saves that can be taken back, the oldest first; a file that cannot be read offers none."""
    try:
        return _SAVES.validate_json((folder / UNDO_FILE).read_bytes())
    except (OSError, ValidationError):
        return []


def last_save(folder: Path) -> tuple[Saved, dict[Path, bytes]]:
    """Return the last save, and what its files held before.

    Parameters
    ----------
    folder
        The job's folder.

    Returns
    -------
    Saved, dict of Path to bytes

    Raises
    ------
    NotAccepted
        There is none, or a file was changed since by something else.
    """
    kept = saves(folder)
    if not kept:
        raise NotAccepted(f"there is no save to take back in {UNDO_FILE}")
    last = kept[-1]
    for one in last.files:
        path = folder / one.file
        if not path.is_file() or _digest(path.read_bytes()) != one.after:
            raise NotAccepted(
                f"{one.file} was changed by something else since it was saved at {last.at}, and that is not thrown"
                " away: change it by hand"
            )
    return last, {folder / one.file: one.data for one in last.files}


def forget(folder: Path) -> None:
    """Strike the last save off the list, after it was taken back."""
    _write(folder, saves(folder)[:-1])


def _before(folder: Path, path: Path, data: bytes) -> Before:
    held, name = path.read_bytes(), path.relative_to(folder).as_posix()
    try:
        return Before(name, _digest(data), text=held.decode("utf-8"))
    except UnicodeDecodeError:
        return Before(name, _digest(data), base64=base64.b64encode(held).decode("ascii"))


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _write(folder: Path, kept: list[Saved]) -> None:
    text = json.dumps(_SAVES.dump_python(kept), indent=1, ensure_ascii=False)
    (folder / UNDO_FILE).write_text(text + "\n", encoding="utf-8", newline="\n")
