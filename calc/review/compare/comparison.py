"""Two calculations side by side: what was changed on purpose, what follows, what files say, what is as before."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from calc.base.canonical import canonical
from calc.base.identity import number_of
from calc.files.job import Job
from calc.package.manifest import (
    RESULTS,
    Package,
    PackageError,
    known_schema,
    open_package,
    shown,
    unpacked,
)
from calc.review.compare.change import Change, Field, count_of, list_of, mapping_of
from calc.review.compare.documents import document_changes
from calc.review.compare.inputs import input_changes, renamed_marks
from calc.review.compare.results import attributed, changes, in_one_form
from calc.work.load import load_job
from calc.work.results import RESULTS_SCHEMA
from calc.work.trace import stem_of_key

ON_PURPOSE, DOCUMENTS = "Changed on purpose", "Documents"
GROUPS, NOTICES, STEPS = "Bar groups", "Notices", "Steps"
_KINDS = {
    "check": "Checks",
    "group": GROUPS,
    "total": "Order and totals",
    "notice": NOTICES,
    "other": "Other content",
    "step": STEPS,
}
# What results.json repeats of the inputs: the key that a change of it is told by.
_SAID = {
    "job.number": "job.number",
    "job.revision": "job.revision",
    "job.title": "job.title",
    "job.units": "display.units",
    "job.invented": "job.invented",
    "job.adhesive": "name",
    "job.approval": "approval",
}
_SCHEMA = 2
_AGAINST = ("FAILS", "owed")


@dataclass(frozen=True)
class Part:
    """What changed of one kind."""

    title: str
    changes: tuple[Change, ...]
    lines: list[str]


@dataclass(frozen=True)
class Comparison:
    """Two calculations side by side.

    Attributes
    ----------
    before, after
        Which they are, in words.
    inputs
        What was changed on purpose.
    changes
        What is not as before in the results.
    versions
        Software.
    documents
        Files that are not the same.
    files
        How many other files are the same; none are compared where a calculation is no package.
    unchanged
        What is as before, in words.
    facts
        Number, revision, title and date of the later one, for the head of a sheet.
    """

    before: str
    after: str
    inputs: tuple[Change, ...]
    changes: tuple[Change, ...]
    versions: tuple[Field, ...] = ()
    documents: tuple[Change, ...] = ()
    files: int = 0
    unchanged: tuple[str, ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def exit_code(self) -> int:
        """0 when nothing changed, 1 when anything did."""
        return int(bool(self.inputs or self.changes or self.documents))

    @property
    def numbers(self) -> Mapping[str, int]:
        """The number of each input that was changed, by its id."""
        return {one.id: number for number, one in reversed([*enumerate(self.inputs, 1)])}

    @property
    def summary(self) -> str:
        """Return one sentence that says how much changed."""
        if not self.exit_code:
            files = f", results and {count_of(self.files, 'file')}" if self.files else " and results"
            return f"Nothing changed: inputs{files} are the same."
        told = (
            [f"{count_of(len(self.documents), 'document')} {'differs' if len(self.documents) == 1 else 'differ'}"]
            if self.documents
            else []
        )
        if not self.inputs and not self.changes:
            names = ", ".join(one.where for one in self.documents[:3])
            more = len(self.documents) - 3
            return f"Inputs and results are the same, but {told[0]}: {names}{f' and {more} more' if more > 0 else ''}."
        count = Counter((one.kind, one.what) for one in self.changes)
        kinds = Counter(one.kind for one in self.changes)
        parts = [
            f"{count_of(len(self.inputs), 'input')} changed on purpose",
            count_of(count["check", "flipped"], "check") + " flipped",
            *self._came_and_went(count),
            *(
                f"{count_of(number, 'value')} of {noun}"
                for noun, number in (
                    ("bar groups", count["group", "value"]),
                    ("the job", kinds["total"]),
                    ("steps", count["step", "value"]),
                )
                if number
            ),
        ]
        parts += [f"{count_of(count['step', 'formula'], 'step')} by formula"] if count["step", "formula"] else []
        return f"{', '.join([*parts, *told])}."

    def _came_and_went(self, count: Counter[tuple[str, str]]) -> list[str]:
        nouns = {"group": "bar group", "check": "check", "notice": "notice", "step": "step"}
        return [
            f"{count_of(count[kind, what], noun)} {'dropped' if (kind, what) == ('notice', 'removed') else what}"
            for kind, noun in nouns.items()
            for what in ("added", "removed")
            if count[kind, what]
        ]

    def parts(self) -> list[Part]:
        """Return what changed, kind by kind: what was changed on purpose first, what follows from it below."""
        found = [(ON_PURPOSE, self.inputs)]
        found += [(title, tuple(one for one in self.changes if one.kind == kind)) for kind, title in _KINDS.items()]
        found += [(DOCUMENTS, self.documents)]
        numbers = self.numbers
        return [
            Part(
                title,
                some,
                [f"{n}. {one.words}{_address(one)}" for n, one in enumerate(some, 1)]
                if title == ON_PURPOSE
                else [one.line(numbers) for one in some],
            )
            for title, some in found
            if some
        ]

    def sections(self) -> list[tuple[str, list[str]]]:
        """Return title and lines of every part, the software, and in one line what is as before."""
        found = [(part.title, part.lines) for part in self.parts()]
        found += [("Software", [one.words for one in self.versions])]
        found += [("As before", [f"{'; '.join(self.unchanged)}."] if self.unchanged else [])]
        return [(title, lines) for title, lines in found if lines]

    def text(self, most: int = 40) -> str:
        """Return it in words, at most ``most`` lines for each section."""
        lines = [f"Before: {self.before}", f"After:  {self.after}", self.summary]
        for title, all_lines in self.sections():
            few = most // 4 if title == STEPS else most
            lines += ["", f"{title} ({len(all_lines)})", *(f"  {line}" for line in all_lines[:few])]
            if len(all_lines) > few:
                lines.append(f"  and {len(all_lines) - few} more: --html and --json have all of them")
        return "\n".join(lines)

    def json(self) -> str:
        """Return everything as JSON text."""
        content: dict[str, Any] = {
            "schema": _SCHEMA,
            "before": self.before,
            "after": self.after,
            "summary": self.summary,
        }
        kinds = {"inputs": self.inputs, "changes": self.changes, "documents": self.documents}
        content |= {name: [one.data() for one in some] for name, some in kinds.items()}
        content |= {"versions": [asdict(one) for one in self.versions], "unchanged": list(self.unchanged)}
        return json.dumps(canonical(content), indent=1, ensure_ascii=False) + "\n"


def _address(one: Change) -> str:
    return f" ({shown(one.id, 80)})"


def compare(before: Path, after: Path) -> Comparison:
    """Compare two packages, mostly two revisions of a job.

    Parameters
    ----------
    before
        Folder of one package.
    after
        Folder of the other.

    Returns
    -------
    Comparison

    Raises
    ------
    PackageError
        One of them cannot be read, or was changed after it was built.
    InputErrors
        The inputs of one are refused by this version.
    """
    one, other = (sound(path) for path in (before, after))
    with unpacked(one) as old_file, unpacked(other) as new_file:
        old, new = load_job(old_file), load_job(new_file)
        inputs, found, every = with_causes(old, new, one, other.results, other.schema)
    documents, alike = document_changes(one, other, renamed_marks(old, new))
    facts: dict[str, Any] = {"number": new.number, "revision": new.revision, "title": new.title, "units": new.units}
    facts |= {"earlier": old.revision, "invented": new.job.invented, "date": _day(other)}
    return Comparison(
        called(one),
        called(other),
        inputs,
        found,
        version_changes(one.manifest, other.manifest),
        documents,
        len(alike),
        as_before(other.results, every, alike),
        {key: shown(value) if isinstance(value, str) else value for key, value in facts.items()},
    )


def with_causes(
    before: Job,
    after: Job,
    package: Package,
    results: Mapping[str, Any],
    schema: int = RESULTS_SCHEMA,
) -> tuple[tuple[Change, ...], tuple[Change, ...], tuple[Change, ...]]:
    """Compare inputs and results, each result with the inputs that it follows from.

    Parameters
    ----------
    before, after
        The jobs.
    package
        The package of the earlier one.
    results, schema
        What results.json holds, or would hold, of the later one.

    Returns
    -------
    tuple of Change, tuple of Change, tuple of Change
        Inputs; results without what only repeats an input: the revision, the depth of a group, and steps and passing
        checks of a group that is new or gone; and results with all that.
    """
    renamed = renamed_marks(before, after)
    inputs = input_changes(before, after, renamed)
    pair = in_one_form(package, results, schema)
    places = {one.id for one in inputs}
    found = changes(*pair, moved=False, renamed=renamed, places=places)
    names = {one.name for one in inputs}
    whole = {one.mark for one in found if one.kind == "group" and one.what in ("added", "removed")}
    every = attributed(found, package.schema, schema)
    return inputs, tuple(one for one in every if not _repeats(one, names, whole)), every


def _repeats(one: Change, names: Collection[str], whole: Collection[str]) -> bool:
    """Whether a change of the results only says what a change of an input or of a whole group says already."""
    if one.kind == "other":
        return _SAID.get(one.id) in names
    if one.kind == "group":
        return f"{one.mark}.{stem_of_key(one.name)}" in names
    in_whole = one.mark in whole and one.what in ("added", "removed")
    return in_whole and (one.kind == "step" or (one.kind == "check" and not one.after.startswith(_AGAINST)))


def sound(path: Path) -> Package:
    """Open a package that was not changed since it was built; raises `PackageError` for any other."""
    package = open_package(path)
    if package.damage:
        raise PackageError(f"{shown(path)} is not what was built, and is not compared: {package.damage[0]}")
    known_schema(package.results, RESULTS, RESULTS_SCHEMA)
    return package


def _day(package: Package) -> str:
    made = str(package.manifest.get("made", ""))
    return made[:10] if made[4:5] == made[7:8] == "-" else ""


def called(package: Package) -> str:
    """Say which package it is, for the head of a comparison."""
    return (
        f"{package.name}, built {shown(package.manifest.get('made', '?'), 40)}, manifest {shown(package.digest[:12])}"
    )


def version_changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Field, ...]:
    """Return what differs between two manifests about the software and the machine.

    Parameters
    ----------
    before
        One manifest.
    after
        Another, or the same entries of the present machine.

    Returns
    -------
    tuple of Field
    """
    keys = ("calc", "commit", "python", "platform")
    pairs = [(key, before.get(key), after.get(key)) for key in keys]
    old, new = (mapping_of(m.get("versions")) for m in (before, after))
    pairs += [(key, old.get(key), new.get(key)) for key in sorted({*old, *new})]
    old, new = (mapping_of(m.get("fonts")) for m in (before, after))
    if old and new:  # packages of before this was listed say nothing of fonts
        pairs += [(f"font {key}", _short(old.get(key)), _short(new.get(key))) for key in sorted({*old, *new})]
    return tuple(Field((key,), one, other) for key, one, other in pairs if one != other)


def _short(digest: Any) -> str:
    return str(digest or "not there")[:16]


def as_before(results: Mapping[str, Any], found: Sequence[Change], files: Sequence[str] = ()) -> tuple[str, ...]:
    """Say what is as before: groups by mark, how many checks, notices and steps of each notebook, files by name.

    Parameters
    ----------
    results
        The later content of results.json.
    found
        All that is not as before in it, also what only repeats an input.
    files
        Names of files that are the same.

    Returns
    -------
    tuple of str
    """
    touched = {one.mark for one in found if one.kind != "notice"}
    marks = [str(mapping_of(one).get("mark")) for one in list_of(results.get("groups"))]
    same = [shown(mark, 40) for mark in marks if mark not in touched]
    said = [f"bar groups {', '.join(same)}" if len(same) > 1 else f"bar group {same[0]}"] if same else []
    for kind, parts in (("check", ("checks",)), ("notice", ("notices",)), ("step", ("steps", "found"))):
        told = []
        for sheet in map(mapping_of, list_of(results.get("sheets"))):
            notebook, every = str(sheet.get("notebook")), sum(len(list_of(sheet.get(part))) for part in parts)
            other = sum(one.kind == kind and one.notebook == notebook and one.what != "removed" for one in found)
            told += [f"{max(every - other, 0)} of {every} in {number_of(notebook)}"] if every else []
        said += [f"{parts[0]}: {', '.join(told)}"] if told else []
    return (*said, *([f"files: {', '.join(shown(name, 60) for name in files)}"] if files else []))
