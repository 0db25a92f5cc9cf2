"""Sign-off: who prepared, checked or approved a package, bound to the digest of its manifest.

It is a record and no cryptographic signature: whoever can write to the folder can write it. A detached signature, made
with the user's own tool, may lie beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import calc
from calc.package.manifest import SIGNOFF, Package, shown
from calc.review.companion import CompanionError, add, checked_name, read_entries

ROLES = ("prepared", "checked", "approved")
RECORD_ONLY = (
    "A sign-off record says who signed off what, and is no cryptographic signature: whoever can write to the package's"
    " folder can write it. A detached signature made with your own tool may lie beside it (.sig, .asc, .p7s)."
)
PART = "records"


@dataclass(frozen=True)
class Record:
    """One sign-off: role, name, the date that the person gives, when it was written down.

    And the manifest's digest then.
    """

    role: str
    name: str
    date: str
    recorded: str
    calc: str
    manifest_digest: str

    def holds(self, package: Package) -> bool:
        """Whether the package is still what was signed off."""
        return self.manifest_digest == package.digest and not package.damage

    def words(self, package: Package) -> str:
        """Return the record as a sentence that says whether it still holds."""
        state = "holds" if self.holds(package) else "STALE: the package was changed after this sign-off"
        return f"{self.role} by {shown(self.name)}, {shown(self.date)}: {state}"


def records(package: Package) -> tuple[list[Record], str]:
    """Read the sign-off records beside the manifest.

    Parameters
    ----------
    package
        The package as found.

    Returns
    -------
    list of Record, str
        The records, oldest first; and what is wrong with their file, or nothing.
    """
    return read_entries(package, SIGNOFF, PART, Record)


def sign(folder: Path, *, role: str, name: str, day: str | None = None) -> Record:
    """Write a sign-off record into a package's folder, beside its manifest.

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

    Returns
    -------
    Record

    Raises
    ------
    CompanionError
        Role, name or date are not accepted, the package was changed, or its sign-off file was.
    PackageError
        There is no package that can be read.
    """
    if role not in ROLES:
        raise CompanionError(f"'{shown(role)}' is no role; accepted: {', '.join(ROLES)}")
    name = checked_name(name)
    signed = _day(day)

    def make(package: Package, _: Sequence[Record]) -> Record:
        made = built_on(package)
        if made is not None and date.fromisoformat(signed) < made - timedelta(
            days=1
        ):  # a day, since the two clocks may lie a time zone apart
            raise CompanionError(
                f"{signed} is before the package was built ({made.isoformat()}); accepted: a date from then on"
            )
        now = datetime.now(UTC).isoformat(timespec="seconds")
        return Record(role, name, signed, now, calc.__version__, package.digest)

    return add(folder, SIGNOFF, PART, RECORD_ONLY, "is not signed off", Record, make)


def remarks(all_records: Sequence[Record]) -> list[str]:
    """Say what a reader of the records should know: one name in two roles, or a role signed twice.

    Parameters
    ----------
    all_records
        The records that hold.

    Returns
    -------
    list of str
    """
    roles: dict[str, list[str]] = {}
    for one in all_records:
        roles.setdefault(one.name.casefold(), []).append(one.role)
    several = [(name, list(dict.fromkeys(own))) for name, own in roles.items()]
    found = [
        f"{shown(name, 60)} signed as {' and as '.join(own)}: a second pair of eyes is what these roles are for"
        for name, own in several
        if len(own) > 1
    ]
    twice = [role for role in ROLES if sum(one.role == role for one in all_records) > 1]
    return found + [f"{role} is signed more than once" for role in twice]


def built_on(package: Package) -> date | None:
    """Day on which the manifest says that the package was built, where it says one."""
    try:
        return datetime.fromisoformat(str(package.manifest.get("made", ""))).date()
    except ValueError:
        return None


def _day(text: str | None) -> str:
    if text is None:
        return datetime.now().astimezone().date().isoformat()
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise CompanionError(f"'{shown(text, 40)}' is no date; accepted: YYYY-MM-DD, such as 2026-11-25") from None
    if text != found.isoformat():
        raise CompanionError(f"'{shown(text, 40)}' is not written as YYYY-MM-DD; accepted: {found.isoformat()}")
    if found > datetime.now(UTC).date() + timedelta(days=1):
        raise CompanionError(f"{text} lies in the future; accepted: a date up to today")
    return text
