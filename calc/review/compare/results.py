"""What follows in two contents of results.json: steps, checks, groups, totals, notices, by what they are.

Steps and checks have stable ids, so a formula that moved is still the same step; a bar group whose mark is another one
now is still the same group; a notice is known by the notebook, the group and the name that it has there.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from calc.base.canonical import DIGITS, canonical
from calc.base.display import Display, display_of, duration, percent_text, utilisation_text
from calc.base.identity import identity, number_of
from calc.package import schema1
from calc.package.manifest import Package, shown
from calc.review.compare.change import (
    Change,
    Field,
    count_of,
    is_number,
    list_of,
    mapping_of,
    relative,
    text_of,
    told_apart,
    unique,
)
from calc.review.rules import Touched, rule_of
from calc.work.evidence import percent
from calc.work.results import RESULTS_SCHEMA
from calc.work.trace import stem_of_key, unit_of_key
from calc.work.tracekeys import Home, home_of_group, home_of_total

# One unit of the last digit of a canonical number. People are shown five digits, so a difference that could reach paper
# is 10 000 times this large.
TOLERANCE = 10.0 ** (1 - DIGITS)
# What is zero on one machine may be the last bit of a subtraction on another; no quantity of a package is meaningful
# this small.
FLOOR = 1e-12
_KEYS = ("id", "mark", "notebook", "name", "hole", "title")
_WHENCE = ("origin", "general", "row")  # of an input: where it comes from
_SIDES = ("demand_from", "resistance_from")  # of a check: where its two sides come from
_PARTS = ("steps", "checks", "notices", "found")
# What people look for first: of a group what is dispensed, of the job what is ordered and when it is done.
_FIRST = (
    *("rounded_dose", "strokes", "dose", "count", "required_volume", "required_embedment"),
    *("packs_to_order", "mixers_to_order", "holes", "finish", "working_time", "curing_time"),
)
# Keys whose numbers are shares, which people write in per cent: those that are stated or chosen, and those that follow.
_STATED = ("overfill", "measurements.share", "measurements.confidence", "measurements.overfill")
_SHARES = (
    "short_fill_probability",
    "series_any_short_probability",
    "series_short_share_95",
    "share_below_design_force",
)
_DOSES = ("rounded_dose_mL", "dose_mL")
_UNITS = {"crew_hours": "h"}  # where the key does not end with its unit
_MINUTES = {"min": 1.0, "h": 60.0}
_Records = Mapping[str, Any]


def changes(
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    *,
    moved: bool = True,
    renamed: Mapping[str, str] | None = None,
    places: Collection[str] = (),
) -> tuple[Change, ...]:
    """Compare two contents of results.json, in canonical form: what was built before that form existed has more digits.

    Parameters
    ----------
    before
        One content.
    after
        The other.
    moved
        Whether a step counts that only says another place of origin, such as another row of the schedule.
    renamed
        Marks that are others now, by what they were.
    places
        Where inputs stand that were changed, as origins name them: what a step follows from.

    Returns
    -------
    tuple of Change
        Steps first: one that rests on no other changed step before those that follow from it. Then checks, the flipped
        ones first and those that are used most otherwise, values of groups, totals, notices and the rest.
    """
    before, after = _called_now(canonical(before), renamed or {}), canonical(after)
    display = display_of(mapping_of(after.get("job")).get("units"))
    sheets = [_by_key(content.get("sheets"), "notebook") for content in (before, after)]
    pairs = [_joined(one, "steps", "found") for one in sheets]
    steps = _causes_first([*_records("step", pairs, moved, _step)], pairs, places)
    causes = _Causes(steps, places)
    before_checks, standing = (_joined(one, "checks") for one in sheets)
    checks = _records("check", (before_checks, standing), moved, _check)
    groups = [_by_key(content.get("groups"), "mark") for content in (before, after)]
    totals = [mapping_of(content.get("totals")) for content in (before, after)]
    rest = [_rest(content) for content in (before, after)]
    return (
        *steps,
        *sorted((causes.of_check(one, standing.get(one.id)) for one in checks), key=_weight),
        *sorted((causes.of_key(one, home_of_group) for one in _groups(groups, display)), key=_later),
        *(causes.of_key(one, home_of_total) for one in _values("total", "", totals, display)),
        *sorted(_notices(sheets), key=lambda one: one.what == "reworded"),
        *(_other(field) for field in _fields(rest[0], rest[1])),
    )


def in_one_form(
    package: Package, results: Mapping[str, Any], schema: int = RESULTS_SCHEMA
) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """Return the results of a package and others in one form: with no more in them than the older schema knew."""
    if min(package.schema, schema) == RESULTS_SCHEMA:
        return package.results, results
    return schema1.comparable(package.results), schema1.comparable(results)


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
    return unique(rule.name for rule in rules if rule) if all(rules) else ()


def same(one: Any, other: Any) -> bool:
    """Whether two values of results.json count as the same.

    Parameters
    ----------
    one, other
        Numbers may differ by `TOLERANCE` of the larger, or by `FLOOR`, 5 and 5.0 are alike; NaN is like nothing, itself
        included; null is like null only, and so are true and false; texts must be equal.

    Returns
    -------
    bool
    """
    if is_number(one) and is_number(other):
        try:
            return one == other or math.isclose(one, other, rel_tol=TOLERANCE, abs_tol=FLOOR)
        except OverflowError:  # a whole number beyond what a float holds
            return False
    return type(one) is type(other) and bool(one == other)


# ---- contents ----


def _called_now(content: Mapping[str, Any], renamed: Mapping[str, str]) -> Mapping[str, Any]:
    """Return a content in which groups have the marks that they have now, and steps and checks the ids."""
    if not renamed:
        return content
    ids: dict[str, str] = {}

    def placed(record: Any) -> Any:
        mark = record.get("mark") if isinstance(record, dict) else None
        if not isinstance(mark, str) or mark not in renamed:
            return record
        now = renamed[mark]
        found = {**record, "mark": now}
        if "id" in record:
            found["id"] = identity(str(record.get("notebook")), now, str(record.get("name")))
            ids[str(record["id"])] = found["id"]
        for key in ("title", "text"):  # the mark stands in front of what is said of a group
            if isinstance(record.get(key), str) and record[key].startswith(mark):
                found[key] = now + record[key].removeprefix(mark)
        return found

    sheets = [
        {**sheet, **{part: [placed(one) for one in list_of(sheet[part])] for part in _PARTS if part in sheet}}
        if isinstance(sheet, dict)
        else sheet
        for sheet in list_of(content.get("sheets"))
    ]
    for sheet in sheets:
        for step in (*list_of(mapping_of(sheet).get("steps")), *list_of(mapping_of(sheet).get("found"))):
            for one in list_of(mapping_of(step).get("inputs")):
                if isinstance(one, dict) and one.get("step") in ids:
                    one |= {"step": ids[one["step"]]}
        for check in map(mapping_of, list_of(mapping_of(sheet).get("checks"))):
            for side in (mapping_of(check.get(side)) for side in _SIDES):
                if isinstance(side, dict):
                    side |= {"steps": [ids.get(one, one) for one in map(str, list_of(side.get("steps")))]}
    return {**content, "sheets": sheets, "groups": [placed(one) for one in list_of(content.get("groups"))]}


def _by_key(value: Any, key: str) -> dict[str, Any]:
    """Return the entries of a list by their name; what has none, or one that is taken, by its place."""
    found: dict[str, Any] = {}
    for place, entry in enumerate(list_of(value)):
        name = entry.get(key) if isinstance(entry, dict) else None
        name = (
            name
            if isinstance(name, str) and name not in found
            else f"[{place}] {name if isinstance(name, str) else ''}".strip()
        )
        found[name] = entry
    return found


def _joined(sheets: Mapping[str, Any], *parts: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for notebook, sheet in sheets.items():
        for part in parts:
            for name, entry in _by_key(mapping_of(sheet).get(part), "id").items():
                found[name if name not in found else f"{notebook}/{name}"] = entry
    return found


def _rest(content: Mapping[str, Any]) -> dict[str, Any]:
    """Everything that is not compared piece by piece."""
    rest = {key: value for key, value in content.items() if key not in ("sheets", "groups", "totals")}
    for notebook, sheet in _by_key(content.get("sheets"), "notebook").items():
        rest[notebook] = (
            {key: value for key, value in sheet.items() if key not in _PARTS} if isinstance(sheet, dict) else sheet
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


def _fields(before: Any, after: Any) -> list[Field]:
    old, new = dict(_leaves(before)), dict(_leaves(after))
    found = []
    for place in dict.fromkeys((*old, *new)):
        one, other = old.get(place), new.get(place)
        if place in old and place in new and same(one, other):
            continue
        found.append(Field(place, one, other, relative(one, other)))
    return found


# ---- steps and checks ----


def _records(
    kind: str,
    pair: Sequence[_Records],
    moved: bool,
    told: Callable[[Change, _Records], Change],
) -> Iterator[Change]:
    before, after = pair
    for name in dict.fromkeys((*before, *after)):
        one, other = before.get(name), after.get(name)
        record = mapping_of(one if other is None else other)
        label = shown(record.get("label") or record.get("title") or "", 120)
        keys: Any = {key: str(record.get(key) or "") for key in ("notebook", "mark", "name", "formula")}
        whole = shown(name, 80) if kind == "step" else label or shown(name, 80)
        where = f"{whole} ({label})" if kind == "step" and label else whole
        if name not in before or name not in after:
            text = _standing(record) if kind == "check" else shown(record.get("shown") or "")
            gone = name in before
            what, texts = ("removed", (text, "")) if gone else ("added", ("", text))
            yield Change(kind, what, name, where, *texts, **keys)
            continue
        fields = tuple(_fields(one, other))
        if fields and (moved or not all(map(_only_whence, fields))):
            yield told(Change(kind, "text", name, where, fields=fields, **keys), mapping_of(other))


def _only_whence(field: Field) -> bool:
    return bool({*field.place[-1:]} & {*_WHENCE} or {*field.place[:1]} & {*_SIDES})


def _step(change: Change, record: _Records) -> Change:
    """Say how a step is not as before: its value as people read it, its formula, what comes into it from outside."""
    by_place = {field.place: field for field in change.fields}
    value, unit = by_place.get(("value",)), _text(record.get("unit"))
    more = [by_place[key,].words for key in ("formula", "expression") if (key,) in by_place]
    names = {str(one.get("name")) for one in list_of(record.get("inputs")) if isinstance(one, dict) and one.get("step")}
    given = [f for f in change.fields if f.place[:1] == ("inputs",) and f.place[-1] == "value"]
    for one in given:
        if one.place[1] not in names or value is None:
            pair = by_place.get((*one.place[:-1], "shown"), one)
            more.append(f"{shown(one.place[1], 40)} {' → '.join(told_apart(pair.before, pair.after))}")
    texts = ("", "")
    if value is not None:
        read = by_place.get(("shown",))
        apart = told_apart(value.before, value.after, unit)
        texts = (text_of(read.before), text_of(read.after)) if read is not None else apart
    what = (
        "formula"
        if {("formula",), ("expression",)} & {*by_place}
        else "value"
        if value
        else "inputs"
        if given
        else "text"
    )
    if not any((*texts, *more)):
        more = [field.words for field in change.fields[:2]]
    return replace(change, what=what, before=texts[0], after=texts[1], unit=unit, more=tuple(more))


def _check(change: Change, record: _Records) -> Change:
    """Say how a check is not as before: its verdict, how far it is used, and from what."""
    by_name = {field.name: field for field in change.fields}
    unit, verdict, used = _text(record.get("unit")), by_name.get("verdict"), by_name.get("utilisation")
    pair = [
        f"{key} {' → '.join(told_apart(by_name[key].before, by_name[key].after, unit))}"
        for key in ("demand", "resistance")
        if key in by_name
    ]
    sentences = [by_name[key].words for key in ("title", "reason", "advice", "what") if key in by_name]
    if verdict is not None:
        more = [f"used {_used(used.before)} → {_used(used.after)}"] if used else []
        texts = _verdict(verdict.before), _verdict(verdict.after)
        return replace(change, what="flipped", before=texts[0], after=texts[1], more=(*more, *pair))
    if used is not None:
        texts = _used(used.before), _used(used.after)
        texts = texts if texts[0] != texts[1] else told_apart(used.before, used.after)
        return replace(change, what="value", before=texts[0], after=texts[1], unit=unit, more=tuple(pair))
    more = pair or sentences or [field.words for field in change.fields[:2]]
    return replace(change, what="value" if pair else "text", unit=unit, more=tuple(more[:3]))


def _weight(change: Change) -> tuple[bool, float]:
    """Flipped checks first, then those whose utilisation moved most."""
    used = next((one for one in change.fields if one.name == "utilisation"), None)
    known = used is not None and is_number(used.before) and is_number(used.after)
    return change.what != "flipped", -abs(used.after - used.before) if known and used else 0.0


def _text(value: Any) -> str:
    return shown(value, 12) if isinstance(value, str) and value != "pcs" else ""


def _standing(check: _Records) -> str:
    """How a check stands that has no other beside it: its verdict, and how far it is used."""
    return f"{_verdict(check.get('verdict'))}, used {_used(check.get('utilisation'))}"


def _verdict(verdict: Any) -> str:
    return "FAILS" if verdict == "fails" else shown(verdict)


def _used(value: Any) -> str:
    return utilisation_text(value) if is_number(value) and math.isfinite(value) else text_of(value)


def _causes_first(found: list[Change], steps: Sequence[_Records], places: Collection[str]) -> list[Change]:
    """Order changed steps by dependency, and note what each follows from in the end.

    Only a changed value carries over to another step. The cause is an input that was changed, by its place; where a
    step changed and nothing known that goes into it did, the step itself is the cause of what follows.
    """
    carries = {
        one.id
        for one in found
        if one.what in ("added", "removed") or any(field.name == "value" for field in one.fields)
    }
    takes = {
        one.id: [
            o for o in unique(o for side in steps for o in _origins(side.get(one.id))) if o in carries and o != one.id
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
    roots: dict[str, tuple[str, ...]] = {}
    told = []
    for name in order:
        own = (place for place in _places(by_id[name], steps[1].get(name)) if place in places)
        roots[name] = unique((*own, *(root for source in takes[name] for root in roots.get(source) or (source,))))
        told.append(replace(by_id[name], because=roots[name], follows=tuple(takes[name])))
    return sorted(told, key=lambda one: one.what == "text")  # words cause nothing


def _origins(step: Any) -> Iterator[str]:
    for entry in list_of(mapping_of(step).get("inputs")):
        source = mapping_of(entry).get("step")
        if isinstance(source, str):
            yield source


def _places(change: Change, step: Any) -> Iterator[str]:
    """Where the inputs come from that are not as before and no result of another step."""
    changed = {f.place[1] for f in change.fields if f.place[:1] == ("inputs",) and f.place[-1] == "value"}
    for entry in map(mapping_of, list_of(mapping_of(step).get("inputs"))):
        if entry.get("name") in changed and "step" in entry and entry["step"] is None:
            yield str(entry.get("origin"))


class _Causes:
    """What changed steps follow from, for what is told beside them of the same notebook and group.

    A result that is one of the steps has that step's causes. Any other has a cause only where all the changed steps of
    its notebook and group have one and the same: a guess among several would be worse than none.
    """

    def __init__(self, steps: Collection[Change], places: Collection[str]) -> None:
        self.places = places
        self.steps = {
            (one.notebook, one.mark, one.name): one.because or (one.id,) for one in steps if one.what != "text"
        }
        self.by_id = {one.id: one.because for one in steps}
        self.sheets: dict[tuple[str, str], set[tuple[str, ...]]] = {}
        for (notebook, mark, _), because in self.steps.items():
            self.sheets.setdefault((notebook, mark), set()).add(because)

    def _only(self, notebook: str, mark: str) -> tuple[str, ...]:
        ways = self.sheets.get((notebook, mark), set())
        return self._known(next(iter(ways))) if len(ways) == 1 else ()

    def _known(self, because: Iterable[str]) -> tuple[str, ...]:
        return unique(one for one in because if one in self.places)

    def of_check(self, change: Change, check: Any) -> Change:
        """The causes of the steps that a check's two sides come from, where it names them."""
        sides = [mapping_of(mapping_of(check).get(side)) for side in _SIDES]
        if not any(sides):
            return replace(change, because=self._only(change.notebook, change.mark))
        named = [str(one) for side in sides for one in (side.get("words"), *list_of(side.get("steps")))]
        found = (cause for one in named for cause in (one, *self.by_id.get(one, ())))
        return replace(change, because=self._known(found))

    def of_key(self, change: Change, home: Callable[[str], Home | None]) -> Change:
        known = home(stem_of_key(change.name))
        if known is None or change.what != "value":
            return change
        named = [one for name in known.steps for one in self.steps.get((known.notebook, change.mark, name), ())]
        return replace(change, because=self._known(named) if named else self._only(known.notebook, change.mark))


# ---- groups and totals ----


def _groups(pair: Sequence[_Records], display: Display) -> Iterator[Change]:
    before, after = pair
    for mark in dict.fromkeys((*before, *after)):
        if mark not in before or mark not in after:
            what = "removed" if mark in before else "added"
            entry = mapping_of(before.get(mark) or after.get(mark))
            text = ", ".join(
                f"{unit_of_key(key)[0]} {_quantity(key, entry[key], display)}"
                for key in ("rounded_dose_mL", "count")
                if key in entry
            )
            texts = (text, "") if mark in before else ("", text)
            yield Change("group", what, mark, f"Group {shown(mark, 60)}", *texts, mark=mark)
            continue
        yield from _values("group", mark, (before[mark], after[mark]), display)


def _later(change: Change) -> bool:
    """Whether a value can wait: doses, and groups that are new or gone, come before all else."""
    return change.what not in ("added", "removed") and stem_of_key(change.name) not in _FIRST[:2]


def _values(kind: str, mark: str, pair: Sequence[_Records], display: Display) -> Iterator[Change]:
    """Compare the values of a group, or the totals; what is dispensed comes before what it follows from."""
    fields = _fields(pair[0], pair[1])
    stems = {field.name: stem_of_key(field.name) for field in fields}
    fields.sort(key=lambda field: _FIRST.index(stems[field.name]) if stems[field.name] in _FIRST else len(_FIRST))
    said = {field.name for field in fields}
    dispensed, dose = _dispensed(pair[1], said, display), next((one for one in _DOSES if one in said), "")
    for field in fields:
        if stems[field.name] != field.name and stems[field.name] in said:
            continue  # a time in hours, which stands beside as day and clock
        inner, _, key = field.name.rpartition(".")
        words = f"{inner}: {unit_of_key(key)[0]}".replace("_", " ") if inner else unit_of_key(key)[0]
        where = f"{shown(mark, 60)}: {words}" if mark else words[:1].upper() + words[1:]
        texts = (_quantity(field.name, field.before, display), _quantity(field.name, field.after, display))
        unit = unit_of_key(key)[1]
        if texts[0] == texts[1]:
            texts = told_apart(field.before, field.after, unit)
        what = "value" if is_number(field.before) or is_number(field.after) else "text"
        yield Change(
            kind,
            what,
            mark or field.name,
            where,
            *texts,
            display.unit(unit),
            dispensed if field.name == dose else (),
            fields=(field,),
            mark=mark,
            name=field.name,
        )


def _dispensed(group: Any, said: Collection[str], display: Display) -> tuple[str, ...]:
    """Say what is dispensed where only the dose behind it is another one: nobody at the hole changes anything."""
    entry = mapping_of(group)
    by_strokes = is_number(entry.get("strokes"))
    key = "strokes" if by_strokes else _DOSES[0]
    if key in said or not is_number(entry.get(key)):
        return ()
    told = count_of(entry[key], "stroke") if by_strokes else _quantity(key, entry[key], display)
    return (f"dispensed: {told}, as before",)


def _quantity(key: str, value: Any, display: Display) -> str:
    """Write a value of results.json as people write it: in the job's units, shares in per cent, times in hours."""
    if not is_number(value) or not math.isfinite(value):
        return text_of(value)
    unit = _UNITS.get(key) or unit_of_key(key)[1]
    if key in _STATED or key.startswith("overfill_options."):
        return percent(value, 4)
    if key in _SHARES:
        return percent_text(value)
    if unit in _MINUTES:
        return duration(value * _MINUTES[unit])
    if unit == "kg":
        return display.mass(value * 1000)
    return display.plain(value, unit, 5) if unit else text_of(value)


# ---- notices and the rest ----


def _notices(sheets: Sequence[_Records]) -> Iterator[Change]:
    """Pair notices by notebook, group and name; those without a name, of schema 1, by what they say alone."""
    told: list[dict[tuple[str, str, str], Counter[str]]] = [{}, {}]
    for side, found in zip(sheets, told, strict=True):
        for notebook, sheet in side.items():
            for one in list_of(mapping_of(sheet).get("notices")):
                record = mapping_of(one)
                key = (notebook, str(record.get("mark") or ""), str(record.get("name") or ""))
                text = record.get("text") if record else one
                found.setdefault(key, Counter())[text if isinstance(text, str) else repr(text)] += 1
    for key in dict.fromkeys((*told[0], *told[1])):
        old, new = (found.get(key, Counter()) for found in told)
        gone, come = ([*(some - others).elements()] for some, others in ((old, new), (new, old)))
        pairs = min(len(gone), len(come)) if key[2] else 0
        place = (*key[:1], "notices", *filter(None, key[1:]))
        for one, other in zip(gone[:pairs], come[:pairs], strict=True):
            yield _notice(key, "reworded", Field(place, one, other))
        for one in gone[pairs:]:
            yield _notice(key, "removed", Field(place, one, None))
        for one in come[pairs:]:
            yield _notice(key, "added", Field(place, None, one))


def _notice(key: tuple[str, str, str], what: str, field: Field) -> Change:
    notebook, mark, name = key
    about = " of ".join(shown(one.replace("_", " "), 40) for one in (name, mark) if one)
    where = f"Notice{f' on {about}' if about else ''} ({number_of(notebook)})"
    before, after = ("" if text is None else shown(text) for text in (field.before, field.after))
    return Change(
        "notice",
        what,
        identity(notebook, mark or None, name),
        where,
        before,
        after,
        fields=(field,),
        notebook=notebook,
        mark=mark,
        name=name,
    )


def _other(field: Field) -> Change:
    texts = told_apart(field.before, field.after)
    return Change("other", "text", field.name, shown(field.name, 60), *texts, fields=(field,))
