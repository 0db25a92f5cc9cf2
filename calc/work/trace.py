"""The trace: which formula, inputs and notebook stand behind each number of results.json.

And where inputs and sources come from.

It reads results.json alone. Where a step stands on paper or on screen is the document's business.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

from calc.base.canonical import TWICE_ROUNDED, canonical
from calc.base.nomenclature import NOMENCLATURE, latex_of
from calc.base.sheet import ROW
from calc.base.units import convert, same_kind
from calc.work.tracekeys import SUMS, Home, home_of_group, home_of_total

_SUFFIXES = {
    "mL": "mL",
    "L": "L",
    "mm": "mm",
    "mm2": "mm²",
    "mm3": "mm³",
    "kN": "kN",
    "N": "N",
    "MPa": "MPa",
    "min": "min",
    "h": "h",
    "kg": "kg",
}
_LIST = 4


def symbol_latex(name: str) -> str:
    """Return the LaTeX of a symbol; a name that is not in the nomenclature stands upright."""
    if name in NOMENCLATURE:
        return latex_of(name)
    return r"\mathrm{" + "".join(letter for letter in name if letter.isascii() and letter.isalnum()) + "}"


def unit_of_key(key: str) -> tuple[str, str]:
    """Split a key of results.json into words and unit: ``rounded_dose_mL`` into ``rounded dose`` and ``mL``."""
    head, _, tail = key.rpartition("_")
    if head and tail in _SUFFIXES:
        return head.replace("_", " "), _SUFFIXES[tail]
    return key.replace("_", " "), ""


def stem_of_key(key: str) -> str:
    """Return a key of results.json without its unit: ``measurements.mean_mL`` gives ``measurements.mean``."""
    head, _, tail = key.rpartition("_")
    return head if head and tail in _SUFFIXES else key


def numbers_of(entry: Mapping[str, Any], before: str = "") -> dict[str, float]:
    """Return every number of an entry of results.json by its key, those of an inner table with both keys."""
    found: dict[str, float] = {}
    for key, value in entry.items():
        if isinstance(value, Mapping):
            found |= numbers_of(value, f"{before}{key}.")
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            found[before + key] = float(value)
    return found


@lru_cache(maxsize=512)
def _factor(unit: str, target: str) -> float | None:
    if unit == target or (not target and unit in ("", "pcs", "%")):
        return 0.01 if unit == "%" and not target else 1.0
    if not unit or not target or not same_kind(unit, target):
        return None
    return convert(1.0, unit, target)


def _equal(value: float, unit: str, wanted: float, target: str) -> bool:
    factor = _factor(unit, target)
    return factor is not None and math.isclose(value * factor, wanted, rel_tol=TWICE_ROUNDED, abs_tol=1e-15)


@dataclass
class Use:
    """A result that several groups have alike: one formula in one place of the chain."""

    notebook: str
    name: str
    step: Mapping[str, Any]
    ids: list[str] = field(default_factory=list)


@dataclass
class Sourced:
    """Checks of one kind whose demand and resistance come from the same places."""

    name: str
    what: str
    demand: list[str] = field(default_factory=list)
    resistance: list[str] = field(default_factory=list)
    demand_words: str = ""
    resistance_words: str = ""
    ids: list[str] = field(default_factory=list)


@dataclass
class Gathered:
    """Inputs alike but for the row, the mark or the bar that they come from."""

    name: str
    origin: str
    values: dict[str, float] = field(default_factory=dict)
    rows: set[int] = field(default_factory=set)
    ids: list[str] = field(default_factory=list)

    @property
    def shown(self) -> str:
        """The values: each of a few, the smallest and the largest of many."""
        if len(self.values) <= _LIST:
            return ", ".join(self.values)
        low, high = min(self.values, key=self.values.__getitem__), max(self.values, key=self.values.__getitem__)
        return f"{low} to {high} ({len(self.values)} values)"

    @property
    def place(self) -> str:
        """Where from, with the rows that it was read from."""
        if not self.rows:
            return self.origin
        first, last = min(self.rows), max(self.rows)
        return self.origin.replace(ROW, f"row {first}" if first == last else f"rows {first} to {last}", 1)


def mark_of(record: Mapping[str, Any]) -> str:
    """Return the mark of the bar group that a step or a check of results.json belongs to; empty for the whole job."""
    return str(record.get("mark") or "")


def records_of(sheet: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return a sheet's steps and its results that no formula gives; packages of earlier versions have none of these."""
    return [*sheet["steps"], *sheet.get("found", ())]


def place_of(given: Mapping[str, Any]) -> str:
    """Return where an input of a step comes from, alike for all bar groups that have it from the same place."""
    return str(given.get("general") or given.get("origin", ""))


class Trace:
    """Walks results.json from a result to the steps and inputs behind it."""

    def __init__(self, results: Mapping[str, Any]) -> None:
        self.results = results
        self.sheets: list[Mapping[str, Any]] = list(results.get("sheets", ()))
        self.groups: list[Mapping[str, Any]] = list(results.get("groups", ()))
        self.marks = dict.fromkeys(str(group.get("mark", "")) for group in self.groups).keys()

    @cached_property
    def by_mark(self) -> dict[str, list[tuple[str, str, Mapping[str, Any]]]]:
        """Results of each mark as notebook, name and record; of the whole job under an empty mark."""
        found: dict[str, list[tuple[str, str, Mapping[str, Any]]]] = {mark: [] for mark in ("", *self.marks)}
        for sheet in self.sheets:
            for step in records_of(sheet):
                found.setdefault(mark_of(step), []).append((str(sheet["notebook"]), str(step["name"]), step))
        return found

    @cached_property
    def by_id(self) -> dict[str, Mapping[str, Any]]:
        """Every step, and every result without a formula, by its id."""
        return {str(one["id"]): one for sheet in self.sheets for one in records_of(sheet)}

    def uses(self, notebook: str) -> list[Use]:
        """Gather the steps of a notebook that are the same result by the same formula, in order."""
        found: dict[tuple[str, str, str], Use] = {}
        for sheet in self.sheets:
            for step in sheet["steps"] if sheet["notebook"] == notebook else ():
                name = str(step["name"])
                key = (name, str(step.get("formula", "")), str(step.get("source", "")))
                found.setdefault(key, Use(notebook, name, step)).ids.append(str(step["id"]))
        return list(found.values())

    def found(self, notebook: str) -> list[Use]:
        """Gather a notebook's results that no formula gives and that were found alike, in order."""
        found: dict[tuple[str, str], Use] = {}
        for sheet in self.sheets:
            for one in sheet.get("found", ()) if sheet["notebook"] == notebook else ():
                use = found.setdefault((str(one["name"]), str(one["how"])), Use(notebook, str(one["name"]), one))
                use.ids.append(str(one["id"]))
        return list(found.values())

    def sides(self, notebook: str) -> list[Sourced]:
        """Gather a notebook's checks by kind and by where their demand and resistance come from."""
        found: dict[tuple[Any, ...], Sourced] = {}
        for sheet in self.sheets:
            for check in sheet["checks"] if sheet["notebook"] == notebook else ():
                sides = [check.get(f"{side}_from") or {"words": "", "steps": []} for side in ("demand", "resistance")]
                names = [[str(self.by_id[one]["name"]) for one in side["steps"] if one in self.by_id] for side in sides]
                key = (check["name"], *(side["words"] for side in sides), *map(tuple, names))
                one = found.setdefault(key, Sourced(str(check["name"]), str(check.get("what") or check["title"])))
                one.demand += sides[0]["steps"]
                one.resistance += sides[1]["steps"]
                one.demand_words, one.resistance_words = (str(side["words"]) for side in sides)
                one.ids.append(str(check["id"]))
        return list(found.values())

    def inputs(self, notebook: str) -> list[Gathered]:
        """Gather what comes into a notebook's steps from outside, each with where it came from."""
        found: dict[tuple[str, str], Gathered] = {}
        for sheet in self.sheets:
            for step in sheet["steps"] if sheet["notebook"] == notebook else ():
                for given in step.get("inputs", ()):
                    if given.get("step"):
                        continue
                    general, row = place_of(given), given.get("row")
                    one = found.setdefault((str(given["name"]), general), Gathered(str(given["name"]), general))
                    one.values.setdefault(str(given["shown"]), float(given["value"]))
                    one.ids.append(str(step["id"]))
                    if row is not None:
                        one.rows.add(row)
        return list(found.values())

    def sources(self, notebook: str) -> dict[str, list[str]]:
        """Gather a notebook's sources, each with the ids of the steps that rest on it."""
        found: dict[str, list[str]] = {}
        for sheet in self.sheets:
            for step in sheet["steps"] if sheet["notebook"] == notebook else ():
                found.setdefault(str(step.get("source") or "no source given"), []).append(str(step["id"]))
        return found

    @cached_property
    def answers(self) -> list[dict[str, Any]]:
        """Every number of results.json's groups, one entry for each key.

        Each has key, words, unit, count (groups that have it), notebook, steps (ids by mark), given (where it comes
        from, as symbol and place, with the marks), rest (marks of groups whose value is neither) and otherwise (what it
        is for these).
        """
        found = []
        entries = {str(group.get("mark", "")): numbers_of(group) for group in self.groups}
        keys = dict.fromkeys(key for numbers in entries.values() for key in numbers)
        for key in keys:
            words, unit = unit_of_key(key.rpartition(".")[2])
            values = {mark: numbers[key] for mark, numbers in entries.items() if key in numbers}
            home = home_of_group(stem_of_key(key)) or Home("")
            found.append(
                {"key": key, "words": words, "unit": unit, "count": len(values)} | self._explain(home, unit, values)
            )
        return found

    def _named(self, home: Home, value: float, unit: str, mark: str) -> str:
        """Id of the step of this home that has the value, empty when none has."""
        at_home = {name: step for notebook, name, step in self.by_mark[mark] if notebook == home.notebook}
        fits = (at_home[name] for name in home.steps if name in at_home)
        return next(
            (str(step["id"]) for step in fits if _equal(float(step["value"]), str(step["unit"]), value, unit)), ""
        )

    def _place(self, home: Home, value: float, unit: str, mark: str) -> tuple[str, str] | None:
        """Symbol and place of an input of this home that has the value; None when none has."""
        for _, _, step in self.by_mark[mark] if home.inputs else ():
            for one in step.get("inputs", ()):
                if (
                    one["name"] in home.inputs
                    and not one.get("step")
                    and _equal(float(one["value"]), str(one["unit"]), value, unit)
                ):
                    return str(one["name"]), place_of(one)
        return None

    def _explain(self, home: Home, unit: str, values: Mapping[str, float]) -> dict[str, Any]:
        steps: dict[str, str] = {}
        given: dict[tuple[str, str], list[str]] = {}
        rest = []
        for mark, value in values.items():
            if step := self._named(home, value, unit, mark):
                steps[mark] = step
            elif place := self._place(home, value, unit, mark):
                given.setdefault(place, []).append(mark)
            else:
                rest.append(mark)
        return {
            "notebook": home.notebook,
            "steps": steps,
            "given": given,
            "rest": sorted(rest),
            "otherwise": home.otherwise,
        }

    @cached_property
    def totals(self) -> list[dict[str, Any]]:
        """Every number of results.json's totals.

        Key, words, unit, value, notebook, steps (ids), sum over groups in words, and what it is otherwise.
        """
        found = []
        entries = [numbers_of(group) for group in self.groups]
        for key, value in numbers_of(self.results.get("totals", {})).items():
            words, unit = unit_of_key(key)
            home = home_of_total(stem_of_key(key))
            step = self._named(home, value, unit, "")
            total = "" if step else _sum(stem_of_key(key), value, unit, entries)
            entry = {
                "key": key,
                "words": words,
                "unit": unit,
                "value": value,
                "notebook": home.notebook,
                "steps": [step] if step else [],
            }
            found.append(entry | {"sum": total, "otherwise": home.otherwise})
        return found


def _sum(stem: str, value: float, unit: str, entries: Sequence[Mapping[str, float]]) -> str:
    """In words, the sum over the groups that a total is; empty when it is none, or does not add up."""
    if stem not in SUMS or not entries:
        return ""
    if not SUMS[stem]:
        return "sum over all groups of count" if math.fsum(one.get("count", 0.0) for one in entries) == value else ""
    key = next((key for key in entries[0] if stem_of_key(key) == SUMS[stem]), "")
    factor = _factor(unit_of_key(key)[1], unit)
    if not key or factor is None or any(key not in one for one in entries):
        return ""
    total = math.fsum(one[key] * factor * one.get("count", 1.0) for one in entries)
    return (
        f"sum over all groups of count × {key}"
        if math.isclose(total, value, rel_tol=TWICE_ROUNDED, abs_tol=1e-15)
        else ""
    )


def governing(checks: Iterable[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """Return the check with the highest utilisation; one without a utilisation that fails governs over all."""

    def weight(check: Mapping[str, Any]) -> tuple[bool, float]:
        ratio = check.get("utilisation")
        known = isinstance(ratio, (int, float)) and math.isfinite(ratio)
        return (check.get("verdict") != "passes", canonical(float(ratio)) if known and ratio is not None else math.inf)

    return max(checks, key=weight, default=None)
