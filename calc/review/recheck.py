"""Recheck: whether the installed calc gets a package's numbers and its documents from its inputs.

Two verdicts: one on the numbers, computed anew, and one on the documents, made again. Nothing of the package is run:
its notebooks are compared with those that the installed ones give, its TOML and tables are read by `calc.files`, its
JSON as data.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import calc
from calc.base.canonical import DIGITS
from calc.base.errors import CalcError
from calc.files.job import Job
from calc.package.manifest import (
    COMMENTS,
    MANIFEST,
    RESULTS,
    Damage,
    Package,
    PackageError,
    known_schema,
    open_package,
    parse,
    shown,
    software,
    unpacked,
)
from calc.review.comments import comments, open_comments
from calc.review.compare import (
    FLOOR,
    TOLERANCE,
    Change,
    Comparison,
    Field,
    as_before,
    attributed,
    called,
    changes,
    in_one_form,
    sound,
    version_changes,
    with_causes,
)
from calc.review.held import (
    AS_BUILT,
    NO_DOCUMENTS,
    NOT_REBUILT,
    SAME_CONTENT,
    DocumentVerdict,
    judged_against,
    made_again,
    not_rebuilt,
)
from calc.review.rules import RULE_CHANGES
from calc.review.signoff import NO_SIGNOFFS, RECORD_ONLY, SignOffs, built_on, signoffs
from calc.work.load import load_job
from calc.work.results import RESULTS_SCHEMA, Results, compute

IDENTICAL, AGREES, DIFFERS, TAMPERED, UNREADABLE = (
    "identical",
    "same within tolerance",
    "differs",
    "tampered",
    "unreadable",
)
_EXIT = {IDENTICAL: 0, AGREES: 0, DIFFERS: 1, AS_BUILT: 0, SAME_CONTENT: 0, NOT_REBUILT: 0, NO_DOCUMENTS: 1}
_ON_ONE_PAGE = 12
_CUT = 230
LIMITS = (
    (
        "What only a signature finds, or the manifest's digest noted elsewhere: a whole package that somebody built"
        " anew from other inputs, and a last or only sign-off or comment that was taken away."
    ),
)


@dataclass(frozen=True)
class Verdict:
    """What a recheck found; at most one page of it is shown.

    ``word`` and ``sentence`` are the verdict on the numbers, ``documents`` that on the documents.
    """

    word: str
    sentence: str
    documents: DocumentVerdict
    package: Package | None = None
    damage: tuple[Damage, ...] = ()
    changes: tuple[Change, ...] = ()
    versions: tuple[Field, ...] = ()
    compared: int = 0
    signed: SignOffs = NO_SIGNOFFS

    @property
    def exit_code(self) -> int:
        """0 when all is well, 1 when something differs or a sign-off is stale, 2 when tampered with or unreadable."""
        return max(_EXIT.get(self.word, 2), _EXIT.get(self.documents.word, 2), int(not self.signed.sound))

    @property
    def differs(self) -> bool:
        """Whether numbers or documents are not what the inputs give, whatever was signed."""
        return bool(_EXIT.get(self.word, 2) or _EXIT.get(self.documents.word, 2))

    @property
    def lines(self) -> list[str]:
        """The two verdicts, a line for each."""
        return [
            f"numbers: {self.word.upper()}: {self.sentence}",
            f"documents: {self.documents.word.upper()}: {self.documents.sentence}",
        ]

    @property
    def signoffs(self) -> list[str]:
        """Sign-offs, signatures and odd dates, in words."""
        return list(self.signed.lines)

    @property
    def comments(self) -> list[str]:
        """The review comments beside the package, in words, those that wait for somebody first.

        None when there are none.
        """
        if self.package is None:
            return []
        found, wrong = comments(self.package)
        if wrong:
            return [f"{COMMENTS}: {wrong}; nothing in it counts"]
        waiting = open_comments(found)
        rest = len(found) - len(waiting)
        lines = [one.words(self.package) for one in (*waiting, *(one for one in found if one.reason))]
        rest -= len(lines) - len(waiting)
        return [*lines, f"{rest} that ask for nothing, or are settled"] if rest else lines

    @property
    def rules(self) -> list[str]:
        """The named changes of rules that explain differences, in words, and how many differences none explains."""
        counts = Counter(name for change in self.changes for name in change.rules)
        lines = [
            f"{rule.name}, since schema {rule.since}: {rule.words} ({counts[rule.name]} of the differences)"
            for rule in RULE_CHANGES
            if counts[rule.name]
        ]
        unexplained = sum(not change.rules for change in self.changes)
        return (
            [*lines, f"no named change of a rule explains {unexplained} of the differences: look into them"]
            if lines and unexplained
            else lines
        )

    def sections(self) -> list[tuple[str, list[str]]]:
        """Return title and lines of every section."""
        found = [("Changed files", [str(one) for one in self.damage])]
        found.append(("Documents that are not as built", list(self.documents.files)))
        found.append(
            ("Differences, first cause first: in the package → computed now", [one.words for one in self.changes])
        )
        found.append(("Changes of rules that explain differences", self.rules))
        found.append(("Software, then and now", [one.words for one in self.versions]))
        found.append(("Sign-off", self.signoffs))
        found.append(("Review comments", self.comments))
        found.append(("What this tells", [*self._rules(), *LIMITS, RECORD_ONLY] if self.package else []))
        return [(title, _page(lines)) for title, lines in found if lines]

    def _rules(self) -> list[str]:
        if not self.compared:
            return []
        return [
            (
                f"{self.compared} values were compared: numbers to {TOLERANCE:g} of the larger, or {FLOOR:g};"
                f" texts, true, false and null exactly. results.json has {DIGITS} digits and people are shown five:"
                " machines differ below this, results do not."
            ),
            (
                "Documents are as built when the installed calc makes the same file from the package's inputs, byte for"
                " byte, with the date and the software that the manifest states. Nothing of the package was run."
            ),
        ]

    def text(self) -> str:
        """Return the verdict as text."""
        lines = self.lines
        if self.package is not None:
            lines.append(
                f"Package {self.package.name}, built {shown(self.package.manifest.get('made', '?'), 40)}, manifest"
                f" {shown(self.package.digest[:12])}"
            )
        for title, all_lines in self.sections():
            lines += ["", title, *(f"  {line}" for line in all_lines)]
        return "\n".join(lines)

    def write_pdf(self, path: Path) -> int:
        """Write the verdict as PDF.

        Parameters
        ----------
        path
            The file to write.

        Returns
        -------
        int
            Number of pages.

        Raises
        ------
        DocumentError
            The document could not be written.
        """
        from calc.package.document.parts import Document, Section
        from calc.package.document.pdf import write_pdf

        manifest: Any = self.package.manifest if self.package else {}
        job = self.package.results.get("job") if self.package else None
        about: dict[str, Any] = job if isinstance(job, dict) else {}
        facts = {
            "number": manifest.get("number", "?"),
            "revision": manifest.get("revision", "?"),
            "title": about.get("title", ""),
        }
        facts |= {
            "units": about.get("units"),
            "invented": about.get("invented"),
            "date": datetime.now(UTC).date().isoformat(),
        }
        facts = {key: shown(value) if isinstance(value, str) else value for key, value in facts.items()}
        head = {"kind": "notices", "title": "Verdict", "items": self.lines}
        blocks = (head, *({"kind": "notices", "title": title, "items": lines} for title, lines in self.sections()))
        stamp = (
            f"recheck with calc {calc.__version__} · manifest {self.package.digest[:12] if self.package else 'none'}"
        )
        return write_pdf(
            Document(
                title="Recheck of a calculation package",
                job=facts,
                front=None,
                sections=(Section("Recheck", blocks),),
                stamp=stamp,
            ),
            path,
            {},
        )


def _page(lines: list[str]) -> list[str]:
    short = [
        line if len(line) <= _CUT else line[: _CUT - 1] + "…" if index >= 3 else line
        for index, line in enumerate(lines)
    ]
    return short if len(short) <= _ON_ONE_PAGE else [*short[:_ON_ONE_PAGE], f"and {len(short) - _ON_ONE_PAGE} more"]


def recheck(
    folder: Path,
    *,
    quick: bool = False,
    rebuilt: Path | None = None,
    signers: Path | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> Verdict:
    """Recheck a package with the installed calc.

    Parameters
    ----------
    folder
        The package's folder.
    quick
        Do not make the documents again; the verdict says so.
    rebuilt
        A folder in which the package's files were made again earlier (`calc.review.held.made_again`), from the same
        inputs and with the same date and software; without it they are made now.
    signers
        OpenSSH's file of allowed signers, one of whom must have signed.
    progress
        Called with the name of each stage of making them.

    Returns
    -------
    Verdict
        What is wrong with a package is never raised: that is the verdict.

    Raises
    ------
    SignatureError
        Signers are given, and nothing can be verified.
    """
    try:
        package = open_package(folder)
    except PackageError as error:
        return Verdict(UNREADABLE, f"{error}.", _unjudged(UNREADABLE, "there is nothing to be judged"))
    signed = signoffs(package, signers)
    wrong = comments(package)[1]
    damage = (*package.damage, *signed.damage, *((Damage(COMMENTS, wrong),) if wrong else ()))
    found = _tampered(package, damage) if damage else _judged(package, quick, rebuilt, progress)
    return replace(found, signed=signed)


def _judged(package: Package, quick: bool, rebuilt: Path | None, progress: Callable[[str], None]) -> Verdict:
    versions = version_changes(package.manifest, software())
    try:
        known_schema(package.results, RESULTS, RESULTS_SCHEMA)
        with unpacked(package) as job_file:
            job = load_job(job_file)
            results = compute(job)
            if wrong_names := _called_otherwise(package, job):
                return _tampered(package, wrong_names)
            numbers = _numbers(package, results, versions)
            documents = _documents(package, job, results, versions, quick, rebuilt, progress)
    except PackageError as error:
        return _unreadable(f"{error}.", package, versions)
    except CalcError as error:
        lines = "; ".join(shown(line) for line in str(error).splitlines()[:3])
        return _unreadable(f"this calc does not take the package's inputs: {lines}.", package, versions)
    return replace(numbers, documents=documents)


def _unjudged(word: str, why: str) -> DocumentVerdict:
    return DocumentVerdict(word, f"not judged, since {why}.")


def _tampered(package: Package, damage: tuple[Damage, ...]) -> Verdict:
    return Verdict(
        TAMPERED,
        f"nothing was computed: the package is not what its manifest says: {damage[0]}.",
        _unjudged(TAMPERED, "the package is not what its manifest says"),
        package,
        damage,
    )


def _unreadable(sentence: str, package: Package, versions: tuple[Field, ...]) -> Verdict:
    return Verdict(
        UNREADABLE, sentence, _unjudged(UNREADABLE, "no numbers could be computed"), package, versions=versions
    )


def _called_otherwise(package: Package, job: Job) -> tuple[Damage, ...]:
    called = {"number": job.number, "revision": job.revision}
    return tuple(
        Damage(
            MANIFEST,
            f"says {key} {shown(package.manifest.get(key), 40)}, and {job.path.name} in the package says"
            f" {shown(own, 40)}",
        )
        for key, own in called.items()
        if package.manifest.get(key) != own
    )


def _documents(
    package: Package,
    job: Job,
    results: Results,
    versions: tuple[Field, ...],
    quick: bool,
    rebuilt: Path | None,
    progress: Callable[[str], None],
) -> DocumentVerdict:
    if quick:
        return not_rebuilt(package, job, results)
    if built_on(package) is None:
        made = shown(package.manifest.get("made"), 40)
        return DocumentVerdict(
            DIFFERS, f"{MANIFEST} says that the package was made {made}, which is no date of a build."
        )
    try:
        with made_again(package, job, results, progress) if rebuilt is None else nullcontext(rebuilt) as again:
            return judged_against(package, again, versions)
    except (CalcError, OSError) as error:
        return _unjudged(UNREADABLE, f"they could not be made again: {shown(error)}")


def _numbers(package: Package, results: Results, versions: tuple[Field, ...]) -> Verdict:
    """The verdict on the numbers; that on the documents is left open."""
    text = results.text()
    content = parse(text.encode())
    compared = _count_values(content)
    later = _unjudged(UNREADABLE, "nobody has looked yet")
    if text == package.results_text:
        tail = "" if not versions else " The software differs and the results do not."
        sentence = f"the inputs, computed anew, give the same results.json to the last digit.{tail}"
        return Verdict(IDENTICAL, sentence, later, package, (), (), versions, compared)
    found = attributed(changes(*in_one_form(package, content)), package.schema)
    if not _weighty(found, versions):
        why = "the software differs" if versions else "the machine, or the way of writing, differs"
        typeset = " Some formulas are typeset differently." if found else ""
        sentence = f"computed anew, every number agrees to {TOLERANCE:g}; {why}.{typeset}"
        return Verdict(AGREES, sentence, later, package, (), (), versions, compared)
    return Verdict(DIFFERS, _first(found), later, package, (), found, versions, compared)


def _weighty(found: tuple[Change, ...], versions: tuple[Field, ...]) -> bool:
    """Whether anything but the typesetting by other software differs.

    A step's numbers stand in its value and inputs, not in its LaTeX.
    """
    if not found:
        return False
    return not (
        versions
        and all(
            one.kind == "step" and one.fields and all(field.place == ("latex",) for field in one.fields)
            for one in found
        )
    )


def _first(found: tuple[Change, ...]) -> str:
    steps = sum(one.kind == "step" for one in found)
    many = "1 result comes" if len(found) == 1 else f"{len(found)} results come"
    count = f"{steps} of them {'a step' if steps == 1 else 'steps'}" if steps else "none of them a step"
    if all(change.rules for change in found):
        rules = ", ".join(dict.fromkeys(name for change in found for name in change.rules))
        return (
            f"computed anew, {many} out differently, {count}, and all of it by named changes of this calc's"
            f" rules since then: {rules}."
        )
    first = next(change for change in found if not change.rules)
    return f"computed anew, {many} out differently, {count}; first cause, in the package → computed now: {first.words}."


def _count_values(content: Any) -> int:
    if isinstance(content, dict):
        return sum(_count_values(value) for value in content.values())
    if isinstance(content, (list, tuple)):
        return sum(_count_values(value) for value in content)
    return 1


def what_if(folder: Path, job: Path) -> Comparison:
    """Compute changed inputs and list what would change against a package.

    Parameters
    ----------
    folder
        The package.
    job
        A job file, or its folder: mostly a copy of the package's inputs with one value changed.

    Returns
    -------
    Comparison

    Raises
    ------
    PackageError
        The package cannot be read, or was changed after it was built.
    InputErrors
        The changed inputs, or the package's, are refused.
    """
    package = sound(folder)
    changed = load_job(job)
    now = parse(compute(changed).text().encode())
    with unpacked(package) as job_file:
        inputs, found, every = with_causes(load_job(job_file), changed, package, now)
    return Comparison(
        called(package),
        f"{shown(changed.path)} computed now",
        inputs,
        found,
        unchanged=as_before(now, every),
    )
