"""Sign-offs: who prepared, checked or approved a package, bound to the digest of its manifest and to those before it.

A record is no cryptographic signature: whoever can write to the folder can write it. A signature of OpenSSH over the
manifest may go with it (`calc.review.keys`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from calc.package.manifest import MANIFEST, SIGNOFF, Damage, Package, shown
from calc.review.comments import comments
from calc.review.companion import chained, read_entries, same_person
from calc.review.compare.change import list_of, mapping_of
from calc.review.keys import ARMOUR, PLAIN, PROGRAM, SignatureError, Verified, verified

PREPARES, CHECKS, APPROVES = ROLES = ("prepared", "checked", "approved")
RECORD_ONLY = (
    "A sign-off record says who signed off what, and is no cryptographic signature: whoever can write to the package's"
    " folder can write it. A signature made with a key of your own (sign --key) is one."
)
PART = "records"
_DOMAIN = "bonded-bar-workbook"
_FIRST_DAY = date(2026, 1, 1)  # there was no workbook before
_ZONES = timedelta(hours=12), timedelta(hours=14)  # by which a local date may lie behind UTC, and before it


@dataclass(frozen=True)
class Record:
    """One sign-off: role, name, the date that the person gives, when it was written down.

    ``manifest_digest``, ``before`` and ``comments`` are digests of the manifest, of the records before it, and of the
    comments that there were. ``reason`` says why it was given although something stood in the way, and ``despite`` what
    that was. ``key`` is the fingerprint of the key that signed as well, or empty.
    """

    role: str
    name: str
    date: str
    recorded: str
    calc: str
    manifest_digest: str
    before: str = ""
    comments: str = ""
    reason: str = ""
    despite: str = ""
    key: str = ""

    def holds(self, package: Package) -> bool:
        """Whether the package is still what was signed off."""
        return self.manifest_digest == package.digest and not package.damage

    def words(self, package: Package) -> str:
        """Return the record as a sentence that says whether it still holds."""
        state = "STALE: the package was changed after this sign-off"
        if self.holds(package):
            state = "; ".join(filter(None, ("holds", unpassed(package))))
        anyway = (
            f"; signed anyway, for the reason “{shown(self.reason)}”, although {shown(self.despite, 400)}"
            if self.reason
            else ""
        )
        return f"{self.role} by {shown(self.name)}, {shown(self.date)}: {state}{anyway}"

    @property
    def namespace(self) -> str:
        """What a signature of this sign-off is made for: its role, and a digest of all that it says."""
        text = json.dumps(asdict(self), sort_keys=True, ensure_ascii=False)
        digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
        return f"{self.role}-{digest}@{_DOMAIN}"


def signature_file(number: int) -> str:
    """Return the name of the file that holds the signature of a sign-off, the first being number 1."""
    return f"signoff-{number}.sig"


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
    found, wrong = read_entries(package, SIGNOFF, PART, Record)
    strange = next((one.role for one in found if one.role not in ROLES), None)
    return (found, wrong) if strange is None else ([], f"'{shown(strange, 40)}' in it is no role")


def unpassed(package: Package) -> str:
    """Return how many checks of a package fail and are owed, in words; nothing where all pass."""
    sheets = map(mapping_of, list_of(package.results.get("sheets")))
    told = [str(mapping_of(check).get("verdict")) for sheet in sheets for check in list_of(sheet.get("checks"))]
    fail, owed = told.count("fails"), told.count("owed")
    return f"of its {len(told)} checks {fail} fail and {owed} are owed" if fail or owed else ""


@dataclass(frozen=True)
class SignOffs:
    """What the sign-offs beside a package say: in words, what speaks against them, and whether all of them count.

    ``damage`` names what was forged; ``sound`` is False when one is stale, or a wanted signature is not there.
    """

    lines: tuple[str, ...] = ()
    damage: tuple[Damage, ...] = ()
    sound: bool = True


NO_SIGNOFFS = SignOffs()


def signoffs(package: Package, signers: Path | None = None) -> SignOffs:
    """Judge the sign-offs beside a package, and the signatures that go with them.

    Parameters
    ----------
    package
        The package as found.
    signers
        OpenSSH's file of allowed signers; with it, one of them must have signed.

    Returns
    -------
    SignOffs

    Raises
    ------
    SignatureError
        The file of signers cannot be read, or signatures cannot be verified although one is wanted.
    """
    if signers is not None and not signers.is_file():
        raise SignatureError(f"{shown(signers)} is no file of allowed signers: name one, with a key in each line")
    found, wrong = records(package)
    if wrong:
        return SignOffs((f"{SIGNOFF}: {wrong}; nothing in it counts",), (Damage(SIGNOFF, wrong),), False)
    lines, damage, owners = [], [], set()
    sound = all(one.holds(package) for one in found)
    for number, one in enumerate(found, 1):
        said, forged, owner = _signature(package, one, number, signers) if one.key else ("", "", "")
        lines.append(one.words(package) + said)
        damage += [Damage(signature_file(number), forged)] if forged else []
        owners |= {owner} - {""}
    written, known = comments(package)[0], {one.comments for one in found if one.comments}
    if known - {chained(written[:count]) for count in range(len(written) + 1)}:
        damage.append(Damage(SIGNOFF, "comments that were there when it was signed were removed, moved or edited"))
    own = {signature_file(number) for number, one in enumerate(found, 1) if one.key}
    for name in package.signatures:
        if name not in own:
            more, owner, strange = _beside(package, name, signers)
            lines.append(more)
            sound = sound and not strange
            owners |= {owner} - {""}
    lines += remarks([one for one in found if one.holds(package)]) + odd_dates(package, found)
    if any(not one.before for one in found):
        lines.append(
            "written by an older calc, and not chained: a sign-off removed, moved or edited would not be found"
        )
    if signers is not None and not owners:
        lines.append(f"nobody named in {shown(signers)} has signed this manifest")
        sound = False
    return SignOffs(tuple(lines) or ("no sign-off record",), tuple(damage), sound)


def _signature(package: Package, one: Record, number: int, signers: Path | None) -> tuple[str, str, str]:
    """What a record's signature is, in words; how it was forged, or nothing; and whose key it is."""
    name = signature_file(number)
    raw = package.companions.get(name)
    if raw is None:
        return "; its signature is missing", f"the signature of the sign-off by {shown(one.name, 60)} is missing", ""
    if not one.holds(package):
        return "; its signature is not verified, for it was made of another state", "", ""
    try:
        told = verified(_manifest(package), raw, namespace=one.namespace, signers=signers)
    except SignatureError as error:
        if signers is not None:
            raise
        return f"; a signature by the key {shown(one.key, 60)} is NOT VERIFIED: {error}", "", ""
    if not told.fits or told.key != one.key:
        return "; its signature does NOT FIT", f"is no signature of the sign-off by {shown(one.name, 60)}", ""
    return f"; signed with {_whose(told, signers)}, namespace {one.namespace}", "", told.owner


def _beside(package: Package, name: str, signers: Path | None) -> tuple[str, str, bool]:
    """Say what a signature is that belongs to no record; whose key it is; and whether it is of something else."""
    raw = package.companions[name]
    if not raw.startswith(ARMOUR):
        return f"{shown(name)}: a detached signature, listed and not verified here", "", False
    try:
        told = verified(_manifest(package), raw, namespace=PLAIN, signers=signers)
    except SignatureError as error:
        return f"{shown(name)}: NOT VERIFIED: {error}", "", False
    if not told.fits:
        return f"{shown(name)}: NO SIGNATURE of this manifest, nor of a sign-off that is still there", "", True
    return f"{shown(name)}: the manifest, signed with {_whose(told, signers)}", told.owner, False


def _whose(told: Verified, signers: Path | None) -> str:
    if told.owner:
        return f"the key of {shown(told.owner, 80)} ({told.key}), verified by {PROGRAM}"
    if signers is None:
        return f"the key {told.key}, verified by {PROGRAM}; whose key that is, only recheck --signers FILE can tell"
    return f"the key {told.key}, which stands for nobody in {shown(signers)}"


def _manifest(package: Package) -> bytes:
    return (package.folder / MANIFEST).read_bytes()


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
    found = []
    for number, one in enumerate(all_records):
        roles = [other.role for other in all_records if same_person(other.name, one.name)]
        first = not any(same_person(other.name, one.name) for other in all_records[:number])
        if first and len(set(roles)) > 1:
            several = " and as ".join(dict.fromkeys(roles))
            found.append(
                f"{shown(one.name, 60)} signed as {several}: a second pair of eyes is what these roles are for"
            )
    twice = [role for role in ROLES if sum(one.role == role for one in all_records) > 1]
    return found + [f"{role} is signed more than once" for role in twice]


def built_on(package: Package) -> datetime | None:
    """When the manifest says that the package was built, where it says a time."""
    try:
        made = datetime.fromisoformat(str(package.manifest.get("made", "")))
    except ValueError:
        return None
    return made if made.tzinfo is not None else made.replace(tzinfo=UTC)


def earliest_day(made: datetime) -> date:
    """Return the date that it was in the last zone of the world at a time; the nearest there is at the ends of time."""
    try:
        return (made.astimezone(UTC) - _ZONES[0]).date()
    except OverflowError:
        return made.date()


def latest_day() -> date:
    """Return the date that it is now in the first zone of the world."""
    return (datetime.now(UTC) + _ZONES[1]).date()


def odd_dates(package: Package, all_records: Sequence[Record]) -> list[str]:
    """Tell dates that cannot be: of the package and of the sign-offs.

    Parameters
    ----------
    package
        The package.
    all_records
        Its sign-offs.

    Returns
    -------
    list of str
    """
    made = built_on(package)
    days = [("the package's date", made.date(), _FIRST_DAY)] if made is not None else []
    found = []
    for one in all_records:
        who = f"the date of the sign-off by {shown(one.name, 60)}"
        try:
            first = earliest_day(made) if made is not None and one.holds(package) else _FIRST_DAY
            days.append((who, date.fromisoformat(one.date), first))
        except ValueError:
            found.append(f"{who}, {shown(one.date, 40)}, is none")
    for what, day, first in days:
        if day > latest_day():
            found.append(f"{what}, {day.isoformat()}, lies in the future")
        elif day < first:
            since = "the package was built" if first > _FIRST_DAY else "this workbook was written"
            found.append(f"{what}, {day.isoformat()}, lies before {since}")
    return found
