"""Signing a package off: what stands in the way of it, what is recorded, and the signature that may go with it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

import calc
from calc.base.errors import CalcError
from calc.package.manifest import MANIFEST, SIGNOFF, Package, shown, unpacked, write_whole
from calc.review.comments import comments, open_comments
from calc.review.companion import CompanionError, add, chained, checked_name, checked_reason, same_person
from calc.review.keys import fingerprint, signature_of
from calc.review.recheck import Verdict, recheck
from calc.review.signoff import (
    APPROVES,
    CHECKS,
    PART,
    PREPARES,
    RECORD_ONLY,
    ROLES,
    Record,
    built_on,
    earliest_day,
    latest_day,
    signature_file,
)
from calc.work.load import load_job


def sign(
    folder: Path,
    *,
    role: str,
    name: str,
    day: str | None = None,
    anyway: str = "",
    key: Path | None = None,
    rebuilt: Path | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> Record:
    """Write a sign-off record into a package's folder, beside its manifest, once the package rechecks.

    Parameters
    ----------
    folder
        The package.
    role
        ``"prepared"``, ``"checked"`` or ``"approved"``.
    name
        Who signs off.
    day
        Date as ``YYYY-MM-DD``; today without it.
    anyway
        Why it is signed although something stands in the way; recorded together with that, and told by every later
        recheck.
    key
        A key of OpenSSH to sign the manifest with as well.
    rebuilt
        A folder in which the package's files were made again; see `calc.review.recheck.recheck`.
    progress
        Called with the name of each stage of making them again.

    Returns
    -------
    Record

    Raises
    ------
    CompanionError
        Role, name, date or reason are not accepted, the package was changed, its sign-off file was, or something stands
        in the way and no reason is given.
    SignatureError
        The key cannot be used.
    PackageError
        There is no package that can be read.
    """
    if role not in ROLES:
        raise CompanionError(f"'{shown(role)}' is no role; accepted: {', '.join(ROLES)}")
    name, signed = checked_name(name), _day(day)
    reason = checked_reason(anyway) if anyway else ""
    mark = "" if key is None else fingerprint(key)
    verdict = recheck(folder, rebuilt=rebuilt, progress=progress)
    put: list[Path] = []

    def make(package: Package, before: Sequence[Record]) -> Record:
        made = built_on(package)
        if made is not None and date.fromisoformat(signed) < earliest_day(made):
            raise CompanionError(
                f"{signed} is before the package was built ({made.date().isoformat()}); accepted: a date from then on"
            )
        against = _in_the_way(package, before, role, name, verdict)
        if against and not reason:
            raise CompanionError(
                f"not signed: {'; '.join(against)}. To sign all the same, give the reason with --anyway"
            )
        said, _ = comments(package)
        record = Record(
            role=role,
            name=name,
            date=signed,
            recorded=datetime.now(UTC).isoformat(timespec="seconds"),
            calc=calc.__version__,
            manifest_digest=package.digest,
            before=chained(before),
            comments=chained(said),
            reason=reason if against else "",
            despite="; ".join(against),
            key=mark,
        )
        if key is not None:
            body = signature_of((package.folder / MANIFEST).read_bytes(), key=key, namespace=record.namespace)
            put.append(package.folder / signature_file(len(before) + 1))
            write_whole(put[0], body)
        return record

    try:
        return add(folder, SIGNOFF, PART, RECORD_ONLY, "is not signed off", Record, make)
    except BaseException:
        _take_away(put)  # a signature of a sign-off that there is not
        raise


def _take_away(files: Sequence[Path]) -> None:
    for file in files:
        file.unlink(missing_ok=True)


def _in_the_way(package: Package, before: Sequence[Record], role: str, name: str, verdict: Verdict) -> list[str]:
    """Say what speaks against a sign-off."""
    held = [one for one in before if one.holds(package)]
    found = []
    if verdict.package is None or verdict.package.digest != package.digest or verdict.differs:
        found.append(f"the package does not recheck ({'; '.join(shown(line, 160) for line in verdict.lines)})")
    asked = [one.number for one in open_comments(comments(package)[0]) if one.kind == "must change"]
    found += [f"comment {shown(number, 9)} asks for a change and is open" for number in asked]
    if role == APPROVES and not any(one.role == CHECKS for one in held):
        found.append(f"nobody has signed as {CHECKS} what is to be {APPROVES}")
    if role != PREPARES and same_person(_prepared_by(package), name):
        found.append(f"{shown(name, 60)} is who prepared it, says the job file, and one person signs in one role")
    others = sorted({one.role for one in held if same_person(one.name, name)} - {role})
    found += [f"{shown(name, 60)} has signed as {other}, and one person signs in one role" for other in others]
    return found


def _prepared_by(package: Package) -> str:
    """Who prepared a package by its job file; nobody where that cannot be read, which the recheck tells."""
    try:
        with unpacked(package) as job_file:
            return load_job(job_file).job.prepared_by
    except CalcError:
        return ""


def _day(text: str | None) -> str:
    if text is None:
        return datetime.now().astimezone().date().isoformat()
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise CompanionError(f"'{shown(text, 40)}' is no date; accepted: YYYY-MM-DD, such as 2026-11-25") from None
    if text != found.isoformat():
        raise CompanionError(f"'{shown(text, 40)}' is not written as YYYY-MM-DD; accepted: {found.isoformat()}")
    if found > latest_day():
        raise CompanionError(f"{text} lies in the future; accepted: a date up to today")
    return text
