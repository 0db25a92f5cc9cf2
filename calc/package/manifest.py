"""The manifest of a calculation package: what it holds, and whether it still holds that.

A package is read as data only: no file of it is imported or run, no link is followed, and no name that stands in it is
opened unless it was found in its folder.
"""

from __future__ import annotations

import hashlib
import json
import os
import platform
import re
import stat
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import calc
from calc.base.errors import CalcError
from calc.base.signs import fonts
from calc.package import schema1

SCHEMA = 1
MANIFEST, RESULTS, SIGNOFF, COMMENTS = "manifest.json", "results.json", "signoff.json", "comments.json"
MADE = "made.json"  # attached to the PDF: what the manifest says of its making
# What may lie beside the manifest without being listed in it: it is added after the package was made.
COMPANIONS = (SIGNOFF, COMMENTS)
SIGNATURES = (".sig", ".asc", ".p7s")
COMPANION_PART = re.compile(
    r"\.(signoff|comments)\.json\.\w+\.part"
)  # left behind by a process that was killed while it wrote one
VERSIONED = (
    *("handcalcs", "pint", "numpy", "scipy", "matplotlib", "pydantic", "nbclient", "typst", "pypandoc_binary"),
    *("pikepdf", "fonttools", "brotli", "xlsxwriter"),
)
_DEEPEST, _LARGEST, _MOST_FILES = 40, 1 << 28, 10_000
_LONGEST = 200


class PackageError(CalcError):
    """A package that cannot be read; the message is a sentence."""


_ABOUT = ("schema", "number", "revision", "job_file", "made", "files", "digest")


@dataclass(frozen=True)
class Made:
    """When and with what a package is made: its manifest says it, and its documents print it.

    So a manifest that says something else contradicts the documents. ``when`` is ISO 8601 with its offset from UTC,
    and ``software`` what `software` returns.
    """

    when: str
    software: Mapping[str, Any]

    @classmethod
    def now(cls) -> Made:
        """Return the present time and the installed software."""
        return cls(datetime.now(UTC).isoformat(timespec="seconds"), software())

    @classmethod
    def of(cls, manifest: Mapping[str, Any]) -> Made:
        """Return what a manifest says."""
        return cls(str(manifest.get("made", "")), {key: manifest[key] for key in manifest if key not in _ABOUT})

    @property
    def day(self) -> str:
        """The date as ``YYYY-MM-DD``."""
        return self.when[:10]

    @property
    def stamp(self) -> str:
        """The date and a digest of all of it, short enough for the foot of a page."""
        return f"made {self.day}, {hashlib.sha256(self.text().encode()).hexdigest()[:8]}"

    def text(self) -> str:
        """Return all of it as JSON."""
        return json.dumps({"made": self.when, **self.software}, ensure_ascii=False, indent=1, sort_keys=True) + "\n"

    def rows(self) -> list[tuple[str, str]]:
        """Return all of it as name and value."""
        found = [("made", self.when)]
        for key, value in self.software.items():
            found += [(str(k), str(v)) for k, v in value.items()] if isinstance(value, Mapping) else [(key, str(value))]
        return found


@dataclass(frozen=True)
class Damage:
    """A file that is not as the manifest says, and why."""

    file: str
    reason: str

    def __str__(self) -> str:
        """Return the sentence."""
        return f"{shown(self.file)}: {self.reason}"


@dataclass(frozen=True)
class Package:
    """A package as found: its manifest and results, its input files as bytes, and everything that speaks against it.

    ``results`` are in the present form, whatever the ``schema`` in which they were written; ``results_text`` is what
    was written.
    """

    folder: Path
    manifest: Mapping[str, Any]
    results: Mapping[str, Any]
    results_text: str
    inputs: Mapping[str, bytes]
    damage: tuple[Damage, ...]
    companions: Mapping[str, bytes]
    schema: Any = None

    @property
    def digest(self) -> str:
        """The manifest's digest of its own content."""
        return str(self.manifest.get("digest", ""))

    @property
    def listed(self) -> Mapping[str, Any]:
        """Hash of each file by its name, as the manifest lists them."""
        files = self.manifest.get("files")
        return files if isinstance(files, dict) else {}

    @property
    def name(self) -> str:
        """Job number and revision."""
        return f"{shown(self.manifest.get('number', '?'))} revision {shown(self.manifest.get('revision', '?'))}"

    @property
    def signatures(self) -> list[str]:
        """Names of the detached signature files beside the manifest."""
        return sorted(name for name in self.companions if name.lower().endswith(SIGNATURES))


def shown(text: object, longest: int = _LONGEST) -> str:
    """Write a text on one line as it is, what does not print or turns the line by its code, and a long one cut."""
    full = str(text)
    line = full if len(full) <= longest else full[: longest - 1] + "…"
    return line if line.isprintable() else "".join(c if c.isprintable() else f"[U+{ord(c):04X}]" for c in line)


def sealed(content: Mapping[str, Any]) -> str:
    """Return ``content`` as JSON text that carries a digest of itself; there is one such text for a content.

    Parameters
    ----------
    content
        Anything that JSON holds, without the key ``digest``.

    Returns
    -------
    str
        Read back by `unsealed`, which finds a change of any byte.
    """
    digest = hashlib.sha256(
        json.dumps(content, sort_keys=True, ensure_ascii=False).encode("utf-8", "surrogatepass")
    ).hexdigest()
    return json.dumps({**content, "digest": digest}, indent=1, ensure_ascii=False) + "\n"


def unsealed(raw: bytes) -> tuple[dict[str, Any], str]:
    """Read what `sealed` wrote.

    Parameters
    ----------
    raw
        The file's content.

    Returns
    -------
    dict, str
        The content with its digest, empty when nothing could be read; and what is wrong with it, or nothing.
    """
    try:
        content = parse(raw)
    except PackageError as error:
        return {}, str(error)
    # The text itself is compared too: a space turned into a tab would leave the content as it is.
    if (
        sealed({key: value for key, value in content.items() if key != "digest"}).encode("utf-8", "surrogatepass")
        != raw
    ):
        return content, "its own digest does not fit its content: it was changed after it was written"
    return content, ""


def parse(raw: bytes) -> dict[str, Any]:
    """Read a JSON file that holds an object; strictly, for it may come from anybody.

    Parameters
    ----------
    raw
        The file's content.

    Returns
    -------
    dict

    Raises
    ------
    PackageError
        It is no JSON object, says a key twice, holds NaN or an infinite number, or is nested without end.
    """

    def refuse(word: str) -> Any:
        raise ValueError(f"it holds {word}, which is no number of JSON")

    def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            twice = next(key for at, (key, _) in enumerate(pairs) if key in dict(pairs[:at]))
            raise ValueError(f"it says '{shown(twice, 40)}' twice")
        return found

    try:
        content = json.loads(raw.decode("utf-8"), parse_constant=refuse, object_pairs_hook=unique)
    except (ValueError, RecursionError) as error:
        reason = shown(error) if isinstance(error, ValueError) else "it is nested without end"
        raise PackageError(f"cannot be read as JSON ({reason})") from None
    if not isinstance(content, dict):
        raise PackageError("cannot be read: it holds no JSON object")
    level: list[Any] = [content]
    for _ in range(_DEEPEST):
        level = [
            inner
            for value in level
            if isinstance(value, (dict, list))
            for inner in (value.values() if isinstance(value, dict) else value)
        ]
    if level:
        raise PackageError(f"cannot be read: it is nested more than {_DEEPEST} deep")
    return content


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file that appears whole or not at all; raises OSError."""
    handle, part = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content if isinstance(content, bytes) else content.encode("utf-8", "replace"))
        os.chmod(part, 0o644)
        os.replace(part, path)
    finally:
        Path(part).unlink(missing_ok=True)


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal text."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def hashes(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every file below ``folder``, by its path from there, in order."""
    return {
        path.relative_to(folder).as_posix(): file_digest(path) for path in sorted(folder.rglob("*")) if path.is_file()
    }


def software() -> dict[str, Any]:
    """Return what a manifest says about the software and the machine it runs on."""

    def installed(name: str) -> str:
        try:
            return version(name)
        except PackageNotFoundError:
            return "not installed"

    return {
        "calc": calc.__version__,
        "commit": _commit(),
        "python": platform.python_version(),
        "platform": platform.platform(),
        "versions": {name: installed(name) for name in VERSIONED},
        "fonts": fonts.digests(),
    }


def _commit() -> str | None:
    try:
        done = subprocess.run(
            ["git", "rev-parse", "HEAD"],
            cwd=Path(__file__).parent,
            capture_output=True,
            text=True,
            timeout=10,
            check=True,
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return done.stdout.strip()


def open_package(folder: Path) -> Package:
    """Read a package and hold every file of it against the manifest.

    Parameters
    ----------
    folder
        The package's folder.

    Returns
    -------
    Package
        Its ``damage`` is empty when nothing was changed, added or taken away.

    Raises
    ------
    PackageError
        There is no package to judge, or its manifest is of a schema that this version does not know.
    """
    if not folder.is_dir():
        kind = "is a file; unpack it and name the folder" if folder.is_file() else "does not exist"
        raise PackageError(
            f"{shown(folder)} {kind}: accepted is the folder of a calculation package, with {MANIFEST} in it"
        )
    files, damage = _scan(folder)
    if MANIFEST not in files:
        said = next((f" ({one.reason})" for one in damage if one.file == MANIFEST), "")
        raise PackageError(f"{shown(folder)} is no calculation package: it has no {MANIFEST}{said}")
    manifest, wrong = unsealed(_read(files.pop(MANIFEST)))
    if wrong:
        damage.append(Damage(MANIFEST, wrong))
    if not manifest:  # nothing can be held against it
        return Package(folder, {}, {}, "", {}, tuple(damage), {})
    known_schema(manifest, MANIFEST, SCHEMA, f"; {wrong}" if wrong else "")
    listed = manifest.get("files")
    listed = listed if isinstance(listed, dict) else {}
    companions = {
        name: path
        for name, path in files.items()
        if name not in listed and (name in COMPANIONS or ("/" not in name and name.lower().endswith(SIGNATURES)))
    }
    refused = {one.file for one in damage}
    found, kept = _hold(files, listed, companions)
    damage += [one for one in found if one.file not in refused]
    results, text = _results(kept.pop(RESULTS, None), damage)
    beside = {name: _read(path) for name, path in companions.items()}
    inputs = {name.removeprefix("inputs/"): body for name, body in kept.items()}
    schema = results.get("schema")
    old = schema == schema1.SCHEMA and not isinstance(schema, bool)
    return Package(
        folder, manifest, schema1.as_schema_2(results) if old else results, text, inputs, tuple(damage), beside, schema
    )


def _hold(
    files: Mapping[str, Path], listed: Mapping[str, Any], companions: Mapping[str, Path]
) -> tuple[list[Damage], dict[str, bytes]]:
    """Compare files with hashes; keep the content of the inputs and the results as it was hashed."""
    damage = [Damage(name, "is listed in the manifest and missing") for name in listed if name not in files]
    kept: dict[str, bytes] = {}
    for name, path in files.items():
        if name in companions or COMPANION_PART.fullmatch(name):
            continue
        if name not in listed:
            damage.append(Damage(name, "is not listed in the manifest: take it out if you put it there"))
            continue
        keep = name == RESULTS or name.startswith("inputs/")
        body = _read(path) if keep else b""
        found = hashlib.sha256(body).hexdigest() if keep else file_digest(path)
        if found != listed[name]:
            damage.append(Damage(name, "was changed: its content does not have the hash that the manifest lists"))
        if keep:
            kept[name] = body
    return damage, kept


def _results(raw: bytes | None, damage: list[Damage]) -> tuple[dict[str, Any], str]:
    if raw is None:
        if not any(one.file == RESULTS for one in damage):
            damage.append(Damage(RESULTS, "is missing"))
        return {}, ""
    try:
        return parse(raw), raw.decode("utf-8")
    except PackageError as error:
        damage.append(Damage(RESULTS, str(error)))
        return {}, ""


def known_schema(content: Mapping[str, Any], name: str, known: int, more: str = "") -> None:
    """Refuse a file of a schema that this version does not know.

    Parameters
    ----------
    content
        What the file holds.
    name
        Its name, for the sentence.
    known
        The schema number that is known.
    more
        What else there is to say.

    Raises
    ------
    PackageError
        In a sentence: the schema is newer, older or none.
    """
    found = content.get("schema")
    if found == known and not isinstance(found, bool):
        return
    if isinstance(found, int) and not isinstance(found, bool) and found > known:
        raise PackageError(
            f"{name} has schema {shown(found, 20)}, which is newer than schema {known} that this calc knows: use a"
            f" newer calc{more}"
        )
    what = (
        "no schema number"
        if found is None
        else f"the unknown schema {shown(json.dumps(found, ensure_ascii=False), 40)}"
    )
    raise PackageError(f"{name} has {what}; this calc knows schema {known}{more}")


def _scan(folder: Path) -> tuple[dict[str, Path], list[Damage]]:
    """List regular files; a link or a special file is damage and is not opened."""
    files: dict[str, Path] = {}
    damage: list[Damage] = []
    waiting = [folder]
    while waiting:
        place = waiting.pop()
        for entry in sorted(os.scandir(place), key=lambda entry: entry.name):
            name = Path(entry.path).relative_to(folder).as_posix()
            if entry.is_symlink() or getattr(entry, "is_junction", bool)():
                damage.append(Damage(name, "is a link, and links are not followed"))
            elif entry.is_dir(follow_symlinks=False):
                waiting.append(Path(entry.path))
            elif not stat.S_ISREG(entry.stat(follow_symlinks=False).st_mode):
                damage.append(Damage(name, "is no plain file"))
            else:
                files[name] = Path(entry.path)
            if len(files) + len(damage) + len(waiting) > _MOST_FILES:
                raise PackageError(
                    f"{shown(folder)} holds more than {_MOST_FILES} files: name the folder of one package"
                )
    return dict(sorted(files.items())), damage


def _read(path: Path) -> bytes:
    if path.stat().st_size > _LARGEST:
        raise PackageError(
            f"{shown(path.name)} is larger than {_LARGEST >> 20} MiB: no package holds such a file there"
        )
    return path.read_bytes()


@contextmanager
def unpacked(package: Package) -> Iterator[Path]:
    """Put the inputs, as they were hashed, into a folder of their own.

    Parameters
    ----------
    package
        An undamaged package.

    Yields
    ------
    Path
        The job file there.

    Raises
    ------
    PackageError
        The package has no job file.
    """
    name = package.manifest.get("job_file", "job.toml")
    if not isinstance(name, str) or name not in package.inputs:
        raise PackageError(f"the package has no job file {shown(name)} in its inputs")
    with tempfile.TemporaryDirectory(prefix="recheck-") as scratch:
        for place, body in package.inputs.items():
            target = Path(scratch, *place.split("/"))  # names come from the folder's own listing, so none leads out
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(body)
        yield Path(scratch, name)
