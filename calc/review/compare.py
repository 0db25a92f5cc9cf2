"""What changed between two calculations: inputs as typed, steps by value and by formula, checks, groups, order.

`changes` compares two contents of results.json and puts causes before what follows from them; `compare` sets two
packages side by side. Steps have stable ids, so a formula that moved is still the same step.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import jinja2

from calc.base.canonical import DIGITS, canonical
from calc.files.job import Job
from calc.package import schema1
from calc.package.manifest import RESULTS, Package, PackageError, known_schema, open_package, shown, unpacked
from calc.review.rules import Touched, rule_of
from calc.work.load import load_job
from calc.work.results import RESULTS_SCHEMA

# One unit of the last digit of a canonical number. People are shown five digits, so a difference that could reach paper
# is 10 000 times this large.
TOLERANCE = 10.0 ** (1 - DIGITS)
# What is zero on one machine may be the last bit of a subtraction on another; no quantity of a package is meaningful
# this small.
FLOOR = 1e-12
_KEYS = ("id", "mark", "notebook", "name", "hole", "title")
_WHENCE = ("origin", "general", "row")  # of an input: where it comes from
_NUMBER = (int, float)
_FIRST = ("rounded_dose_mL", "strokes", "dose_mL", "count", "required_volume_mL")
_KINDS = {"step": "Steps", "check": "Checks", "group": "Groups", "total": "Order and totals", "other": "Other content"}


@dataclass(frozen=True)
class Field:
    """One value that is not as before; None where there is none. ``relative`` is a share of the value before."""

    place: tuple[str, ...]
    before: Any
    after: Any
    relative: float | None = None

    @property
    def name(self) -> str:
        """The place in one word, as people write it."""
        return ".".join(self.place)

    @property
    def words(self) -> str:
        """Return it as ``name: before → after``."""
        return f"{shown(self.name, 60)}: {self._pair}{by(self.relative)}"

    @property
    def _pair(self) -> str:
        one, other = _text(self.before), _text(self.after)
        if one == other and one != "none":
            one, other = repr(self.before), repr(self.after)
        return f"{one} → {other}"


@dataclass(frozen=True)
class Change:
    """One step, check, group or total that is not as before.

    ``what`` is ``added``, ``removed``, ``formula``, ``value``, ``flipped``, ``inputs`` or ``text``; ``follows`` names
    the changed steps that a step takes its values from; ``unit`` is that of a check's demand and resistance; ``rules``
    names the changes of rules of this calc that all of it comes from, see `calc.review.rules`.
    """

    kind: str
    id: str
    label: str
    what: str
    fields: tuple[Field, ...]
    follows: tuple[str, ...] = ()
    unit: str = ""
    rules: tuple[str, ...] = ()
    notebook: str = ""
    name: str = ""
    formula: str = ""

    @property
    def words(self) -> str:
        """Return it as one line, the rules behind it in brackets."""
        return f"{self._line} [{', '.join(self.rules)}]" if self.rules else self._line

    @property
    def _line(self) -> str:
        name = f"{shown(self.id, 80)}{f' ({shown(self.label, 80)})' if self.label else ''}"
        if self.what in ("added", "removed"):
            return f"{name}: {self.what}"
        if self.kind in ("total", "other"):
            return self.fields[0].words
        picked = self._telling()
        more = len(self.fields) - len(picked)
        tail = f"; follows from {', '.join(shown(one, 60) for one in self.follows[:3])}" if self.follows else ""
        return f"{name}: {'; '.join(picked)}{f'; and {more} more' if more and not self._step_or_check else ''}{tail}"

    @property
    def _step_or_check(self) -> bool:
        return self.kind in ("step", "check")

    def _telling(self) -> list[str]:
        by_name = {field.name: field for field in self.fields}
        if self.what == "flipped":
            field = by_name["verdict"]
            used = by_name.get("utilisation")
            return [f"{_verdict(field.before)} → {_verdict(field.after)}", *([used.words] if used else [])]
        if self.kind == "step":
            parts = [by_name[name].words for name in ("formula", "expression") if name in by_name]
            if "value" in by_name:
                # As people read it, with its unit; the unrounded number only where that looks the same.
                parts.append(by_name.get("shown", by_name["value"])._pair + by(by_name["value"].relative))
            if not self.follows or not parts:
                by_place = {field.place: field for field in self.fields}
                changed = [field for field in self.fields if field.place[0] == "inputs" and field.place[-1] == "value"]
                parts += [f"{f.place[1]} {by_place.get((*f.place[:-1], 'shown'), f)._pair}" for f in changed]
            return parts or [field.words for field in self.fields[:2]]
        # What is dispensed before what it follows from: a reader of a group's line wants to know the dose.
        fields = sorted(
            self.fields, key=lambda field: _FIRST.index(field.name) if field.name in _FIRST else len(_FIRST)
        )
        unit = self._unit
        return [
            f"{field.words}{unit if field.name in ('demand', 'resistance') else ''}"
            for field in fields[: 4 if self.kind == "group" else 3]
        ]

    @property
    def _unit(self) -> str:
        return f" [{shown(self.unit, 12)}]" if self.unit not in ("", "pcs") else ""


@dataclass(frozen=True)
class InputChange:
    """One input that is not as before: file, key or row, and both texts as typed."""

    file: str
    place: str
    before: str | None
    after: str | None

    @property
    def words(self) -> str:
        """Return it as one line."""
        where = ", ".join(shown(part, 80) for part in (self.file, self.place) if part)
        if self.before is None or self.after is None:
            text = self.after if self.before is None else self.before
            return f"{where}: {'added' if self.before is None else 'removed'}{f' ({shown(text)})' if text else ''}"
        return f"{where}: {shown(self.before)} → {shown(self.after)}"


@dataclass(frozen=True)
class Comparison:
    """Two calculations side by side."""

    before: str
    after: str
    inputs: tuple[InputChange, ...]
    changes: tuple[Change, ...]
    versions: tuple[Field, ...] = ()

    @property
    def summary(self) -> str:
        """Return one sentence that counts what changed."""
        if not self.inputs and not self.changes:
            return "Nothing changed: inputs and results are the same."
        count = Counter((one.kind, one.what) for one in self.changes)
        of_kind = Counter(one.kind for one in self.changes)
        inputs, values = len(self.inputs), count["step", "value"]
        parts = [
            _count(inputs, "input"),
            _count(values, "step") + " by value",
            _count(count["step", "formula"], "step") + " by formula",
            _count(count["check", "flipped"], "check") + " flipped",
            f"{_count(count['group', 'added'], 'group')} added and {count['group', 'removed']} removed",
            _count(of_kind["total"], "total"),
        ]
        for kind in ("step", "check"):
            gone, new = count[kind, "removed"], count[kind, "added"]
            parts += [f"{_count(new, kind)} added and {gone} removed"] if gone or new else []
        words = of_kind["step"] - sum(count["step", what] for what in ("value", "formula", "added", "removed"))
        parts += [f"{_count(words, 'step')} in inputs or words alone"] if words else []
        return f"Changed: {', '.join(parts)}."

    def sections(self) -> list[tuple[str, list[str]]]:
        """Return title and lines of every section that has something to say; flipped checks first among the checks."""
        found = [("Inputs", [one.words for one in self.inputs])]
        found += [(title, [one.words for one in self.changes if one.kind == kind]) for kind, title in _KINDS.items()]
        found += [("Versions", [one.words for one in self.versions])]
        return [(title, lines) for title, lines in found if lines]

    def text(self, most: int = 40) -> str:
        """Return it in words, at most ``most`` lines for each section."""
        lines = [f"Before: {self.before}", f"After:  {self.after}", self.summary]
        for title, all_lines in self.sections():
            lines += ["", f"{title} ({len(all_lines)})", *(f"  {line}" for line in all_lines[:most])]
            if len(all_lines) > most:
                lines.append(f"  and {len(all_lines) - most} more")
        return "\n".join(lines)

    def json(self) -> str:
        """Return everything as JSON text."""
        content: dict[str, Any] = {"schema": 1, "before": self.before, "after": self.after, "summary": self.summary}
        content |= {"inputs": [asdict(one) for one in self.inputs], "changes": [asdict(one) for one in self.changes]}
        content |= {"versions": [asdict(one) for one in self.versions]}
        return json.dumps(canonical(content), indent=1, ensure_ascii=False) + "\n"

    def html(self) -> str:
        """Return it as one HTML page that asks no network for anything; every text in it is escaped."""
        environment = jinja2.Environment(
            autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
        )
        return environment.from_string(_PAGE).render(this=self, sections=self.sections())


def compare(before: Path, after: Path, *, tolerance: float = TOLERANCE) -> Comparison:
    """Compare two packages, mostly two revisions of a job.

    Parameters
    ----------
    before
        Folder of one package.
    after
        Folder of the other.
    tolerance
        Relative difference of numbers that counts as none.

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
    one, other = (_sound(path) for path in (before, after))
    with unpacked(one) as old, unpacked(other) as new:
        inputs = input_changes(load_job(old), load_job(new))
    found = attributed(
        changes(*in_one_form(one, other.results, other.schema), tolerance=tolerance, moved=False),
        one.schema,
        other.schema,
    )
    return Comparison(_called(one), _called(other), inputs, found, version_changes(one.manifest, other.manifest))


def _sound(path: Path) -> Package:
    package = open_package(path)
    if package.damage:
        raise PackageError(f"{shown(path)} is not what was built, and is not compared: {package.damage[0]}")
    known_schema(package.results, RESULTS, RESULTS_SCHEMA)
    return package


def in_one_form(
    package: Package, results: Mapping[str, Any], schema: int = RESULTS_SCHEMA
) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """Return the results of a package and others in one form: with no more in them than the older schema knew."""
    if min(package.schema, schema) == RESULTS_SCHEMA:
        return package.results, results
    return schema1.comparable(package.results), schema1.comparable(results)


def _called(package: Package) -> str:
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
    old, new = (_mapping(m.get("versions")) for m in (before, after))
    pairs += [(key, old.get(key), new.get(key)) for key in sorted({*old, *new})]
    old, new = (_mapping(m.get("fonts")) for m in (before, after))
    if old and new:  # packages of before this was listed say nothing of fonts
        pairs += [(f"font {key}", _short(old.get(key)), _short(new.get(key))) for key in sorted({*old, *new})]
    return tuple(Field((key,), one, other) for key, one, other in pairs if one != other)


def _short(digest: Any) -> str:
    return str(digest or "not there")[:16]


def _mapping(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


# ---- inputs ----


def input_changes(before: Job, after: Job) -> tuple[InputChange, ...]:
    """Compare the inputs of two jobs as they were typed.

    Parameters
    ----------
    before
        One job.
    after
        The other.

    Returns
    -------
    tuple of InputChange
        Keys of the job file and the adhesive record, rows of the schedule by mark, lines of other files.
    """
    found = list(_of_keys("job.toml", before.origins, after.origins))
    pair = (_typed_leaves(job.adhesive.model_dump(mode="json")) for job in (before, after))
    found += _of_keys("adhesive record", *pair)
    found += _of_rows(before, after)
    files = [
        {_name(job, path): path for path in job.files if path not in (job.path, job.adhesive_path, job.schedule_path)}
        for job in (before, after)
    ]
    for name in sorted({*files[0], *files[1]}):
        found += _of_lines(name, *(_lines(one.get(name)) for one in files))
    return tuple(found)


def _name(job: Job, path: Path) -> str:
    return path.resolve().relative_to(job.folder.resolve()).as_posix()


def _typed_leaves(record: Mapping[str, Any]) -> dict[str, str]:
    return {".".join(place): _text(value) for place, value in _leaves(record) if value is not None}


def _of_keys(file: str, before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[InputChange]:
    for key in dict.fromkeys((*before, *after)):
        if before.get(key) != after.get(key):
            yield InputChange(file, key, before.get(key), after.get(key))


def _of_rows(before: Job, after: Job) -> Iterator[InputChange]:
    old, new = ({group.mark: {**group.given} for group in job.groups} for job in (before, after))
    for mark in dict.fromkeys((*old, *new)):
        place = f"row {mark}"
        if mark not in old or mark not in new:
            row = old.get(mark) or new.get(mark) or {}
            text = ", ".join(f"{column} {value}" for column, value in row.items() if value and column != "mark")
            yield InputChange("schedule", place, text if mark in old else None, text if mark in new else None)
            continue
        for column in dict.fromkeys((*old[mark], *new[mark])):
            one, other = (rows[mark].get(column, "") for rows in (old, new))
            if one != other:
                yield InputChange("schedule", f"{place}, {column}", one or "empty", other or "empty")


def _lines(path: Path | None) -> list[str] | None:
    return None if path is None else path.read_bytes().decode("utf-8", "replace").splitlines()


def _of_lines(name: str, before: list[str] | None, after: list[str] | None) -> Iterator[InputChange]:
    if before is None or after is None:
        yield InputChange(
            name,
            "",
            None if before is None else f"{len(before)} lines",
            None if after is None else f"{len(after)} lines",
        )
        return
    for number in range(max(len(before), len(after))):
        one, other = (lines[number] if number < len(lines) else None for lines in (before, after))
        if one != other:
            yield InputChange(name, f"line {number + 1}", one, other)


# ---- results ----


def changes(
    before: Mapping[str, Any], after: Mapping[str, Any], *, tolerance: float = TOLERANCE, moved: bool = True
) -> tuple[Change, ...]:
    """Compare two contents of results.json, in canonical form: what was built before that form existed has more digits.

    Parameters
    ----------
    before
        One content.
    after
        The other.
    tolerance
        Relative difference of numbers that counts as none.
    moved
        Whether a step counts that only says another place of origin, such as another row of the schedule.

    Returns
    -------
    tuple of Change
        Steps first: one that rests on no other changed step before those that follow from it. Then checks, the flipped
        ones first, groups, totals and the rest.
    """
    before, after = canonical(before), canonical(after)
    found: list[Change] = []
    sheets = [_by_key(content.get("sheets"), "notebook") for content in (before, after)]
    steps = [_joined(one, "steps") for one in sheets]
    found += _causes_first(_changed("step", steps, tolerance, moved), steps)
    checks = [_joined(one, "checks") for one in sheets]
    found += sorted(_changed("check", checks, tolerance, moved), key=lambda one: one.what != "flipped")
    found += _changed(
        "group", [_by_key(content.get("groups"), "mark") for content in (before, after)], tolerance, moved
    )
    found += _totals(before.get("totals"), after.get("totals"), tolerance)
    rest = [_rest(content) for content in (before, after)]
    found += [Change("other", field.name, "", "text", (field,)) for field in _fields(rest[0], rest[1], tolerance)]
    return tuple(found)


def _by_key(value: Any, key: str) -> dict[str, Any]:
    """Return the entries of a list by their name; what has none, or one that is taken, by its place."""
    found: dict[str, Any] = {}
    for place, entry in enumerate(value if isinstance(value, list) else []):
        name = entry.get(key) if isinstance(entry, dict) else None
        name = (
            name
            if isinstance(name, str) and name not in found
            else f"[{place}] {name if isinstance(name, str) else ''}".strip()
        )
        found[name] = entry
    return found


def _joined(sheets: Mapping[str, Any], part: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for notebook, sheet in sheets.items():
        for name, entry in _by_key(sheet.get(part) if isinstance(sheet, dict) else None, "id").items():
            found[name if name not in found else f"{notebook}/{name}"] = entry
    return found


def _rest(content: Mapping[str, Any]) -> dict[str, Any]:
    """Everything that is not compared piece by piece."""
    rest = {key: value for key, value in content.items() if key not in ("sheets", "groups", "totals")}
    for notebook, sheet in _by_key(content.get("sheets"), "notebook").items():
        rest[notebook] = (
            {key: value for key, value in sheet.items() if key not in ("steps", "checks")}
            if isinstance(sheet, dict)
            else sheet
        )
    # Where a part is no list of records, it is compared as it stands.
    return rest | {
        key: content[key] for key in ("sheets", "groups") if key in content and not isinstance(content[key], list)
    }


def _leaves(value: Any, place: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    if isinstance(value, Mapping) and value:
        for key, inner in value.items():
            yield from _leaves(inner, (*place, str(key)))
    elif isinstance(value, (list, tuple)) and value:
        names = _names(value)
        for name, inner in zip(names, value, strict=True):
            yield from _leaves(inner, (*place, name))
    else:
        yield place, value


def _names(entries: Sequence[Any]) -> list[str]:
    """Name the entries of a list by what names them, or by their place."""
    for key in _KEYS:
        names = [entry.get(key) if isinstance(entry, Mapping) else None for entry in entries]
        if all(isinstance(name, str) for name in names) and len(set(names)) == len(names):
            return [str(name) for name in names]
    return [f"[{place}]" for place in range(len(entries))]


def _fields(before: Any, after: Any, tolerance: float) -> list[Field]:
    old, new = dict(_leaves(before)), dict(_leaves(after))
    found = []
    for place in dict.fromkeys((*old, *new)):
        one, other = old.get(place), new.get(place)
        if place in old and place in new and same(one, other, tolerance):
            continue
        found.append(Field(place, one, other, relative(one, other)))
    return found


def _is_number(value: Any) -> bool:
    return isinstance(value, _NUMBER) and not isinstance(value, bool)


def same(one: Any, other: Any, tolerance: float = TOLERANCE) -> bool:
    """Whether two values of results.json count as the same.

    Parameters
    ----------
    one, other
        Numbers are compared with the tolerance, 5 and 5.0 alike; NaN is like nothing, itself included; null is like
        null only, and so are true and false; texts must be equal.
    tolerance
        Relative difference that counts as none; absolutely, it is `FLOOR`.

    Returns
    -------
    bool
    """
    if _is_number(one) and _is_number(other):
        try:
            return one == other or math.isclose(one, other, rel_tol=tolerance, abs_tol=FLOOR)
        except OverflowError:  # a whole number beyond what a float holds
            return False
    return type(one) is type(other) and bool(one == other)


def relative(one: Any, other: Any) -> float | None:
    """Return by which share of ``one`` the two numbers differ, or None where that says nothing."""
    if not (_is_number(one) and _is_number(other)) or one == 0:
        return None
    try:
        share = (other - one) / abs(one)
    except OverflowError:
        return None
    return float(share) if math.isfinite(share) else None


def _changed(kind: str, pair: Sequence[Mapping[str, Any]], tolerance: float, moved: bool) -> list[Change]:
    before, after = pair
    found = []
    for name in dict.fromkeys((*before, *after)):
        one, other = before.get(name), after.get(name)
        if name not in before or name not in after:
            what = "removed" if name in before else "added"
            found.append(Change(kind, name, _label(other or one), what, (), **_belongs(other or one)))
            continue
        fields = _fields(one, other, tolerance)
        if fields and (moved or not all(field.place[-1] in _WHENCE for field in fields)):
            unit = other.get("unit") if kind == "check" and isinstance(other, Mapping) else ""
            found.append(
                Change(
                    kind,
                    name,
                    _label(other),
                    _what(kind, fields),
                    tuple(fields),
                    unit=unit if isinstance(unit, str) else "",
                    **_belongs(other),
                )
            )
    return found


def _belongs(record: Any) -> dict[str, Any]:
    keys = ("notebook", "name", "formula")
    return {key: str(record.get(key) or "") for key in keys} if isinstance(record, Mapping) else {}


def attributed(found: Iterable[Change], *schemas: object) -> tuple[Change, ...]:
    """Name for each change the rules of this calc that explain all of it.

    Parameters
    ----------
    found
        What differs.
    *schemas
        Schemas in which the results were written; the oldest one decides.

    Returns
    -------
    tuple of Change
    """
    oldest = min((one for one in schemas if isinstance(one, int)), default=None)
    return tuple(replace(change, rules=_rules(change, oldest)) for change in found)


def _rules(change: Change, schema: int | None) -> tuple[str, ...]:
    places = [field.place for field in change.fields] or [()]
    rules = [
        rule_of(Touched(change.kind, change.notebook, change.name, change.formula, place), schema) for place in places
    ]
    return tuple(dict.fromkeys(rule.name for rule in rules if rule)) if all(rules) else ()


def _label(record: Any) -> str:
    return str(record.get("label") or record.get("title") or "") if isinstance(record, Mapping) else ""


def _what(kind: str, fields: Iterable[Field]) -> str:
    names = {field.name for field in fields}
    if kind == "check" and "verdict" in names:
        return "flipped"
    if kind == "step":
        if names & {"formula", "expression"}:
            return "formula"
        if "value" in names:
            return "value"
        return "inputs" if any(field.place[-1] == "value" for field in fields) else "text"
    return "value" if any(_is_number(field.before) or _is_number(field.after) for field in fields) else "text"


def _totals(before: Any, after: Any, tolerance: float) -> list[Change]:
    return [
        Change("total", field.name, "", "value", (field,)) for field in _fields(before or {}, after or {}, tolerance)
    ]


def _origins(step: Any) -> Iterator[str]:
    for entry in step.get("inputs") or () if isinstance(step, Mapping) else ():
        source = entry.get("step") if isinstance(entry, Mapping) else None
        if isinstance(source, str):
            yield source


def _causes_first(found: list[Change], steps: Sequence[Mapping[str, Any]]) -> list[Change]:
    """Order changed steps by dependency, and note what each follows from.

    Only a changed value carries over to another step.
    """
    carries = {
        one.id
        for one in found
        if one.what in ("added", "removed") or any(field.name == "value" for field in one.fields)
    }
    takes = {
        one.id: [
            o
            for o in dict.fromkeys(o for side in steps for o in _origins(side.get(one.id)))
            if o in carries and o != one.id
        ]
        for one in found
    }
    waiting = {one.id: len(takes[one.id]) for one in found}
    users: dict[str, list[str]] = {}
    for name, sources in takes.items():
        for source in sources:
            users.setdefault(source, []).append(name)
    by_id = {one.id: one for one in found}
    level = [one.id for one in found if not waiting[one.id]]
    order: list[str] = []
    while level:
        order += level
        following = []
        for name in level:
            for user in users.get(name, ()):
                waiting[user] -= 1
                if not waiting[user]:
                    following.append(user)
        level = following
    done = set(order)
    order += [name for name in by_id if name not in done]  # steps that name each other in a ring
    told = [replace(by_id[name], follows=tuple(takes[name])) for name in order]
    return sorted(told, key=lambda one: one.what == "text")  # words cause nothing


# ---- words ----


def by(share: float | None) -> str:
    """Write a relative difference for people, with a space before it; nothing for None."""
    if share is None:
        return ""
    percent = abs(share) * 100
    text = (
        f"{percent:.0f} %" if percent >= 1000 else f"{percent:.3g} %" if percent >= 0.001 else f"{abs(share):.1e} of it"
    )
    return f" ({text} {'more' if share > 0 else 'less'})"


def _text(value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.7g}"
    if isinstance(value, (dict, list, tuple)):
        return "empty"
    return shown(value)


def _verdict(verdict: Any) -> str:
    return "FAILS" if verdict == "fails" else shown(verdict)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


_PAGE = """\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="color-scheme" content="light dark">
<title>Comparison of two calculation packages</title>
<style>
body { max-width: 62rem; margin: 0 auto; padding: 0 1.25rem 2rem; font: 1rem/1.5 Georgia, "Times New Roman", serif;
       overflow-wrap: anywhere; }
dl { display: grid; grid-template-columns: auto 1fr; gap: .2rem 1rem; } dd { margin: 0; }
.summary { font-weight: bold; } li { margin: .2rem 0; } h2 { font-size: 1.25rem; }
</style>
</head>
<body>
<main>
<h1>Comparison of two calculation packages</h1>
<dl><dt>Before</dt><dd>{{ this.before }}</dd><dt>After</dt><dd>{{ this.after }}</dd></dl>
<p class="summary">{{ this.summary }}</p>
{% for title, lines in sections %}
<section aria-labelledby="part-{{ loop.index }}"><h2 id="part-{{ loop.index }}">{{ title }} ({{ lines|length }})</h2>
<ul>
{% for line in lines %}
<li>{{ line }}</li>
{% endfor %}
</ul></section>
{% endfor %}
</main>
</body>
</html>
"""
