"""Files that people add beside a package after it was made.

Entries in order, sealed with a digest, each bound to the manifest it was made for.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any, TypeVar

from calc.base.errors import CalcError
from calc.package.manifest import Package, open_package, sealed, shown, unsealed, write_whole

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

_SCHEMA = 1
_LONGEST_NAME = 200
_Entry = TypeVar("_Entry")


class CompanionError(CalcError):
    """Nothing can be added beside a package: its entry is not accepted, or it was changed.

    The message is a sentence.
    """


def checked_name(name: str) -> str:
    """Return who signs or writes; raises `CompanionError` for what is no name on one line."""
    if not name.strip() or not name.isprintable() or len(name) > _LONGEST_NAME:
        raise CompanionError(f"'{shown(name, 60)}' is no name; accepted: one line of 1 to {_LONGEST_NAME} characters")
    return name.strip()


def read_entries(package: Package, file: str, part: str, kind: type[_Entry]) -> tuple[list[_Entry], str]:
    """Read a file beside the manifest.

    Parameters
    ----------
    package
        The package as found.
    file
        The file's name.
    part
        The key that holds the entries.
    kind
        A dataclass whose fields are all text.

    Returns
    -------
    list of kind, str
        The entries, oldest first; and what is wrong with the file, or nothing.
    """
    raw = package.companions.get(file)
    if raw is None:
        return [], ""
    content, wrong = unsealed(raw)
    if wrong:
        return [], wrong
    found = content.get(part)
    names = {field.name for field in fields(kind)}  # type: ignore[arg-type]
    if content.get("schema") != _SCHEMA or not isinstance(found, list):
        return [], f"it has another form than this calc knows (schema {_SCHEMA})"
    if not all(
        isinstance(one, dict) and set(one) == names and all(isinstance(value, str) for value in one.values())
        for one in found
    ):
        return [], "an entry in it is not complete"
    return [kind(**one) for one in found], ""


def add(
    folder: Path,
    file: str,
    part: str,
    note: str,
    refused: str,
    kind: type[_Entry],
    make: Callable[[Package, Sequence[_Entry]], _Entry],
) -> _Entry:
    """Add an entry to a file beside a package's manifest; the file appears whole or stays as it was.

    Parameters
    ----------
    folder
        The package.
    file
        The file's name.
    part
        The key that holds the entries.
    note
        What the file says about itself.
    refused
        What does not happen to a package that was changed, in words.
    kind
        A dataclass whose fields are all text.
    make
        Makes the entry from the package and the entries so far; what it raises is passed on, and nothing is written.

    Returns
    -------
    kind
        The entry that was added.

    Raises
    ------
    CompanionError
        The package was changed after it was built, or the file was after it was written.
    PackageError
        There is no package that can be read.
    OSError
        The folder cannot be written.
    """
    with _one_at_a_time(folder):
        package = open_package(folder)
        if package.damage:
            raise CompanionError(f"the package is not what was built, and {refused}: {package.damage[0]}")
        before, wrong = read_entries(package, file, part, kind)
        if wrong:
            raise CompanionError(f"{file}: {wrong}; move it away to start a new one")
        entry = make(package, before)
        _write(package.folder, file, {"schema": _SCHEMA, "note": note, part: [asdict(one) for one in (*before, entry)]})  # type: ignore[call-overload]
    return entry


def _write(folder: Path, file: str, content: dict[str, Any]) -> None:
    left_behind = re.compile(rf"\.{re.escape(file)}\.\w+\.part")  # by a process that was killed
    for left in folder.glob(f".{file}.*.part"):
        if left_behind.fullmatch(left.name):
            left.unlink(missing_ok=True)
    write_whole(folder / file, sealed(content))


@contextmanager
def _one_at_a_time(folder: Path) -> Iterator[None]:
    """Two people who write at once must not lose one entry."""
    if fcntl is None or not folder.is_dir():
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # a file system without locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
