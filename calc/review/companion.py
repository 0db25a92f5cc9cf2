"""Files that people add beside a package after it was made.

Entries in order, sealed with a digest, each bound to the manifest it was made for and to the entries before it: one
that is removed, moved or edited breaks the chain behind it. Whoever can write the file can chain it anew; what stands
against that is a signature.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import MISSING, asdict, fields
from pathlib import Path
from typing import Any, TypeVar

from calc.base.errors import CalcError
from calc.package.manifest import Package, open_package, sealed, shown, unsealed, write_whole

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

_SCHEMA, _UNCHAINED = 2, 1
_LONGEST_NAME, _LONGEST_REASON = 200, 500
_Entry = TypeVar("_Entry")


class CompanionError(CalcError):
    """Nothing can be added beside a package: its entry is not accepted, or it was changed.

    The message is a sentence.
    """


def chained(before: Sequence[Any]) -> str:
    """Return the digest that an entry holds of those before it."""
    text = json.dumps([asdict(one) for one in before], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def checked_name(name: str) -> str:
    """Return who signs or writes; raises `CompanionError` for what is no name on one line."""
    if not name.strip() or not name.isprintable() or len(name) > _LONGEST_NAME:
        raise CompanionError(f"'{shown(name, 60)}' is no name; accepted: one line of 1 to {_LONGEST_NAME} characters")
    return name.strip()


def same_person(one: str, other: str) -> bool:
    """Whether two names are one, however they are spaced and capitalised."""
    first, second = (" ".join(unicodedata.normalize("NFKC", name).casefold().split()) for name in (one, other))
    return first == second


def checked_reason(text: str) -> str:
    """Return a reason on one line; raises `CompanionError` for what is none."""
    reason = text.strip()
    if not reason or not reason.isprintable() or len(reason) > _LONGEST_REASON:
        raise CompanionError(
            f"'{shown(reason, 60)}' is no reason; accepted: --anyway with one line of 1 to {_LONGEST_REASON} characters"
        )
    return reason


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
        A dataclass whose fields are all text; those with a default are younger than schema 1. Its ``before`` holds what
        `chained` gives for the entries before it.

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
    schema = content.get("schema")
    if schema not in (_SCHEMA, _UNCHAINED) or isinstance(schema, bool) or not isinstance(found, list):
        return [], f"it has another form than this calc knows (schema {_SCHEMA})"
    names = {one.name for one in fields(kind) if schema == _SCHEMA or one.default is MISSING}  # type: ignore[arg-type]
    if not all(
        isinstance(one, dict) and set(one) == names and all(isinstance(value, str) for value in one.values())
        for one in found
    ):
        return [], "an entry in it is not complete"
    entries = [kind(**one) for one in found]
    return (entries, "") if _in_order(entries) else ([], "an entry in it was removed, moved or edited")


def _in_order(entries: Sequence[Any]) -> bool:
    """Whether each entry holds the digest of those before it; those of an older calc, which hold none, come first."""
    begun = False
    for number, one in enumerate(entries):
        begun = begun or bool(one.before)
        if begun and one.before != chained(entries[:number]):
            return False
    return True


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
