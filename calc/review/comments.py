"""Review comments: what a reviewer asks or finds.

In a file beside the package, each bound to the digest of its manifest.

Comments change nothing of the package and carry no signature. Each may name the step or check that it is about, and may
answer an earlier one; nothing is ever taken out of the file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from calc.package.manifest import COMMENTS, Package, shown
from calc.review.companion import CompanionError, add, chained, checked_name, checked_reason, read_entries, same_person

COMMENT_KINDS = ("must change", "question", "remark", "settled")
_LONGEST_TEXT = 4000
NOTE = (
    "Review comments, oldest first. They change nothing of the package, and are no cryptographic record: whoever can"
    " write to the folder can write them. A comment that was written for another manifest says so when it is shown."
)
PART = "comments"


@dataclass(frozen=True)
class Comment:
    """One comment: its number, kind, what it is about, text, name, when it was written, and the manifest's digest then.

    ``about`` is the id of a step or check, a key of results.json such as ``totals.packs``, or empty for the whole
    package; ``answers`` the number of an earlier comment, or empty. ``before`` is a digest of the comments before it,
    and ``reason`` says why somebody settles what another asked to be changed.
    """

    number: str
    kind: str
    about: str
    answers: str
    text: str
    name: str
    written: str
    manifest_digest: str
    before: str = ""
    reason: str = ""

    def fits(self, package: Package) -> bool:
        """Whether it was written for the package as it is."""
        return self.manifest_digest == package.digest

    def words(self, package: Package) -> str:
        """Return it as a sentence that says whether it was written for this package."""
        about = f" on {shown(self.about, 80)}" if self.about else ""
        answer = f", answers {shown(self.answers, 9)}" if self.answers else ""
        other = "" if self.fits(package) else " (written for another state of the package)"
        text = shown(self.text.replace("\n", " / "), 300)
        why = f"; settled for somebody else, for the reason “{shown(self.reason)}”" if self.reason else ""
        who = f"({shown(self.name, 60)}, {shown(self.written[:10])}{why}){other}"
        return f"{shown(self.number, 9)}. {shown(self.kind, 20)}{about}{answer}: {text} {who}"


def comments(package: Package) -> tuple[list[Comment], str]:
    """Read the comments beside a package.

    Parameters
    ----------
    package
        The package as found.

    Returns
    -------
    list of Comment, str
        The comments, oldest first; and what is wrong with their file, or nothing.
    """
    return read_entries(package, COMMENTS, PART, Comment)


def open_comments(all_comments: Sequence[Comment]) -> list[Comment]:
    """Return the comments that wait for somebody.

    Those that must change something or ask, and that no later comment settles.

    Parameters
    ----------
    all_comments
        The comments, oldest first.

    Returns
    -------
    list of Comment
    """
    settled = {one.answers for one in all_comments if one.kind == "settled"}
    return [one for one in all_comments if one.kind in ("must change", "question") and one.number not in settled]


def comment(
    folder: Path, *, text: str, name: str, kind: str = "remark", about: str = "", answers: str = "", anyway: str = ""
) -> Comment:
    """Write a comment into the comments file beside a package.

    Parameters
    ----------
    folder
        The package.
    text
        What there is to say.
    name
        Who says it.
    kind
        One of `COMMENT_KINDS`; ``"settled"`` closes the comment that it answers.
    about
        Id of a step or check, key of a group or of the totals, or empty.
    answers
        Number of an earlier comment, or empty.
    anyway
        Why it settles what another person asked to be changed; only who asked settles it without a reason.

    Returns
    -------
    Comment

    Raises
    ------
    CompanionError
        An entry is not accepted, the package was changed, or its comments file was.
    PackageError
        There is no package that can be read.
    """
    if kind not in COMMENT_KINDS:
        raise CompanionError(f"'{shown(kind, 40)}' is no kind of comment; accepted: {', '.join(COMMENT_KINDS)}")
    body = "\n".join(line.rstrip() for line in text.strip().splitlines())
    if not body or len(body) > _LONGEST_TEXT:
        raise CompanionError(f"a comment of {len(body)} characters is not accepted; accepted: 1 to {_LONGEST_TEXT}")
    name = checked_name(name)

    def make(package: Package, before: Sequence[Comment]) -> Comment:
        if about and about not in _ids(package.results):
            accepted = f"an id such as {_example(package.results)}, a key such as totals.packs, or nothing"
            raise CompanionError(
                f"'{shown(about, 80)}' is no step, check or result of this package; accepted: {accepted}"
            )
        numbers = [one.number for one in before]
        if answers and answers not in numbers:
            accepted = f"1 to {len(numbers)}, or nothing" if numbers else "nothing, for there is no comment yet"
            raise CompanionError(f"'{shown(answers, 40)}' is no comment that could be answered; accepted: {accepted}")
        if kind == "settled" and not answers:
            raise CompanionError("a comment that settles another one must name its number")
        reason = _reason(before[numbers.index(answers)], name, anyway) if kind == "settled" else ""
        now = datetime.now(UTC).isoformat(timespec="seconds")
        number = str(len(before) + 1)
        return Comment(number, kind, about, answers, body, name, now, package.digest, chained(before), reason)

    return add(folder, COMMENTS, PART, NOTE, "takes no comment", Comment, make)


def _reason(asked: Comment, name: str, anyway: str) -> str:
    """Return why somebody else than its author settles a comment that asks for a change; empty where none is needed."""
    if asked.kind != "must change" or same_person(asked.name, name):
        return ""
    if not anyway:
        raise CompanionError(
            f"comment {shown(asked.number, 9)} asks for a change: {shown(asked.name, 60)} settles it, or somebody else"
            " who gives the reason with --anyway"
        )
    return checked_reason(anyway)


def _ids(results: Any) -> list[str]:
    """Every id of a step or a check, and every key of a group (``S1.dose_mL``) and of the totals (``totals.packs``)."""
    sheets = _listed(results.get("sheets"))
    found = [
        str(one["id"])
        for sheet in sheets
        for part in ("steps", "checks")
        for one in _listed(sheet.get(part))
        if isinstance(one.get("id"), str)
    ]
    for group in _listed(results.get("groups")):
        found += [f"{group.get('mark')}.{key}" for key in group]
    totals = results.get("totals")
    return [*found, *(f"totals.{key}" for key in totals)] if isinstance(totals, dict) else found


def _listed(value: Any) -> list[dict[str, Any]]:
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def _example(results: Any) -> str:
    return next(iter(_ids(results)), "01.F1.V_a")
