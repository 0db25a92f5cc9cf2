"""Tables of the job file about scatter.

How much is added, what varies, what is assumed of dosing by eye, what it costs.

Scatter is written as a deviation from the nominal, as mean and sd or as limits. `scatter_problems` looks at what needs
several tables at once; everything that is wrong is told in one go.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from calc.base.errors import CalcError, NotAccepted
from calc.files.fields import FilledLine, Line, Part, Share, as_tuple, inside, number, quantity, whole
from calc.files.problems import Problem, unknown_marks

if TYPE_CHECKING:
    from calc.files.schedule import BarGroup
    from calc.scatter.inputs import Input

Rule = Literal["share", "probability", "cost_volume", "cost_hole", "measured"]
Named = Literal["hole_diameter", "bar_mass", "embedment", "overdrill", "voids", "dispenser"]
Spreading = TypeVar("Spreading", bound="_Spread")

# Key of the job file: argument of the models of calc.scatter.simulated.
ARGUMENTS: Mapping[str, str] = {
    "hole_diameter": "d_0",
    "bar_mass": "mass_deviation",
    "embedment": "l_v",
    "overdrill": "overdrill",
    "voids": "voids",
    "dispenser": "repeat",
}
STANDARD = "standard"


# ---- kinds of numbers, each with its sentence ----------------------------------------------------


Deviation = Annotated[float, quantity("mm", low=-500.0, high=500.0, example="0.3 mm")]
DeviationSd = Annotated[float, quantity("mm", low=0.0, high=100.0, example="0.1 mm")]
OverBit = Annotated[float, quantity("mm", low=0.0, high=20.0, example="0.2 mm")]
Volume = Annotated[float, quantity("mm³", low=0.0, high=1e8, open_low=True, example="24.5 mL")]
VolumeSd = Annotated[float, quantity("mm³", low=0.0, high=1e8, example="1.2 mL")]
Relative = Annotated[float, number(-0.5, 2.0, example="0.02")]
RelativeSd = Annotated[float, number(0.0, 1.0, example="0.01")]
Probability = Annotated[float, number(0.0, 1.0, open_low=True, open_high=True, example="0.05")]
Price = Annotated[float, number(0.0, 1e9, open_low=True, example="20.0")]
CsvName = Annotated[str, inside(".csv")]


# ---- what is added -------------------------------------------------------------------------------


class Overfill(Part):
    """The share added to the required volume, or the rule that finds it for each group."""

    share: Share = Field(
        default=0.0,
        description=(
            "Overfill, where a fixed share is wanted; 0.10 is ten per cent more than the required volume; with another"
            " rule it is shown beside it"
        ),
    )
    reason: Line = Field(default="", description="Reason; why this share, or why this rule")
    rule: Rule = Field(
        default="share",
        description="Rule for the overfill; the share above, a stated probability, least cost, or measured holes",
    )
    short_probability: Probability = Field(
        default=0.05, description="Stated probability of a short hole; the greatest that is accepted"
    )
    confidence: Probability = Field(default=0.95, description="Stated confidence; of what follows from measured holes")

    @property
    def fixed(self) -> float | None:
        """The share when the job file gives one."""
        return self.share if "share" in self.model_fields_set else None

    @model_validator(mode="after")
    def _share_for_its_rule(self) -> Overfill:
        if self.rule == "share" and self.fixed is None:
            raise NotAccepted(
                "share is missing; accepted: share = 0.10 for ten per cent more, or another rule, such as rule ="
                ' "probability"'
            )
        return self


# ---- what varies ---------------------------------------------------------------------------------


class _Spread(Part):
    """A deviation from the nominal: mean and sd, or limits."""

    def _check(self: Spreading, example: str) -> Spreading:
        given = {name for name in ("mean", "sd", "low", "high") if getattr(self, name) is not None}
        accepted = f"accepted: {example}"
        if given not in ({"mean", "sd"}, {"low", "high"}):
            found = ", ".join(sorted(given)) or "nothing"
            raise NotAccepted(f"give mean and sd, or low and high, here {found} given; {accepted}")
        low, high = getattr(self, "low", None), getattr(self, "high", None)
        if low is not None and high is not None and low > high:
            raise NotAccepted(f"the limits are reversed: low is above high; {accepted}")
        return self

    @property
    def numbers(self) -> tuple[float, float, bool]:
        """Mean and sd and False, or low and high and True [mm or -]."""
        low, high = getattr(self, "low", None), getattr(self, "high", None)
        if low is not None and high is not None:
            return float(low), float(high), True
        # Declared in the classes below.
        return float(self.mean), float(self.sd), False  # type: ignore[attr-defined]

    def around(self, nominal: float) -> Input:
        """Return the distribution of nominal plus deviation."""
        from calc.scatter.inputs import limits, normal

        first, second, limited = self.numbers
        return (
            limits(low=nominal + first, high=nominal + second) if limited else normal(mean=nominal + first, sd=second)
        )


class LengthScatter(_Spread):
    """Deviation of a length from the nominal."""

    mean: Deviation | None = Field(default=None, description="Mean deviation from the nominal")
    sd: DeviationSd | None = Field(default=None, description="Standard deviation; 0 does not scatter")
    low: Deviation | None = Field(default=None, description="Least deviation from the nominal")
    high: Deviation | None = Field(default=None, description="Greatest deviation from the nominal")

    @model_validator(mode="after")
    def _whole_pair(self) -> LengthScatter:
        return self._check('{mean = "0.3 mm", sd = "0.1 mm"} or {low = "0.2 mm", high = "0.4 mm"}')


class ShareScatter(_Spread):
    """Relative deviation."""

    mean: Relative | None = Field(default=None, description="Mean relative deviation; 0.01 is one per cent")
    sd: RelativeSd | None = Field(default=None, description="Standard deviation; 0 does not scatter")
    low: Relative | None = Field(default=None, description="Least relative deviation")
    high: Relative | None = Field(default=None, description="Greatest relative deviation")

    @model_validator(mode="after")
    def _whole_pair(self) -> ShareScatter:
        return self._check("{mean = 0.0, sd = 0.01} or {low = -0.02, high = 0.02}")


class BarMass(ShareScatter):
    """Relative deviation of the bars' mass: the tolerance of their standard, or as stated."""

    standard: bool = Field(default=False, description="Set by the text standard")

    @model_validator(mode="after")
    def _whole_pair(self) -> BarMass:
        return (
            self
            if self.standard
            else self._check('"standard", {low = -0.045, high = 0.045} or {mean = 0.0, sd = 0.02}')
        )


def _bar_mass(value: object) -> object:
    if isinstance(value, str):
        if value != STANDARD:
            raise NotAccepted(
                'is not accepted; accepted: "standard" (the tolerance of the bar\'s standard), {low = -0.045, high ='
                " 0.045} or {mean = 0.0, sd = 0.02}"
            )
        return {"standard": True}
    if isinstance(value, dict) and "standard" in value:
        raise NotAccepted('standard is not a key of this table; accepted: bar_mass = "standard"')
    return value


_RELATIVE_SCHEMA = {
    "type": "object",
    "properties": {name: {"type": "number"} for name in ("mean", "sd", "low", "high")},
    "additionalProperties": False,
}
_BAR_MASS_SCHEMA = {"anyOf": [{"const": STANDARD}, _RELATIVE_SCHEMA]}


class Correlation(Part):
    """Two inputs that go together."""

    between: Annotated[tuple[Named, ...], BeforeValidator(as_tuple)] = Field(
        description="Two of the inputs that scatter"
    )
    r: Annotated[float, number(-1.0, 1.0, open_low=True, open_high=True, example="0.3")] = Field(
        description="Correlation, between -1 and 1"
    )

    @model_validator(mode="after")
    def _two(self) -> Correlation:
        if len(self.between) != 2 or self.between[0] == self.between[1]:
            raise NotAccepted(
                'between does not name two different inputs; accepted: between = ["hole_diameter", "bar_mass"]'
            )
        return self


class ScatterKeys(Part):
    """What varies, for the job or for one group."""

    bit: Literal["worn", "medium", "new"] | None = Field(
        default=None, description="State of the bit; limits by nominal size, from memory"
    )
    over_bit: OverBit | None = Field(
        default=None, description="What the hole is wider than the bit cuts; it stands beside bit and is in every dose"
    )
    hole_diameter: LengthScatter | None = Field(
        default=None, description="Hole diameter, deviation; in place of bit and over_bit"
    )
    bar_mass: Annotated[BarMass, BeforeValidator(_bar_mass), WithJsonSchema(_BAR_MASS_SCHEMA)] | None = Field(
        default=None, description='Bar mass, relative deviation; or "standard"'
    )
    embedment: LengthScatter | None = Field(default=None, description="Embedment, deviation")
    overdrill: LengthScatter | None = Field(
        default=None, description="Overdrill, deviation; of the depth beyond the bar's end"
    )
    voids: ShareScatter | None = Field(default=None, description="Loss into voids, share of the requirement")
    dispenser: ShareScatter | None = Field(default=None, description="A shot, relative deviation from the set dose")
    common: Annotated[tuple[Named, ...], BeforeValidator(as_tuple)] | None = Field(
        default=None,
        description=(
            "Common to a series; what the holes of one bit, batch or day share, hole_diameter and bar_mass when"
            " left out"
        ),
    )
    series: Annotated[int, whole(1, 100_000)] | None = Field(
        default=None, description="Holes in a series; 20 when left out"
    )
    correlation: Annotated[tuple[Correlation, ...], BeforeValidator(as_tuple)] | None = Field(
        default=None, description="Inputs that go together"
    )

    @model_validator(mode="after")
    def _one_diameter(self) -> ScatterKeys:
        if self.bit is not None and self.hole_diameter is not None:
            raise NotAccepted('bit and hole_diameter are both given; accepted: one of them, such as bit = "medium"')
        if self.over_bit is not None and self.hole_diameter is not None:
            found = (
                "over_bit and hole_diameter are both given, and a deviation of the hole holds what it is over the bit"
                " already"
            )
            raise NotAccepted(f"{found}; accepted: over_bit beside bit, or hole_diameter alone")
        return self


class Scatter(ScatterKeys):
    """How much holes, bars and dispensing vary: deviations from the nominal."""

    seed: Annotated[int, whole(0, 2**31 - 1)] = Field(
        default=1, description="Seed of the simulation; the same seed gives the same digits"
    )
    group: dict[str, ScatterKeys] = Field(
        default_factory=dict, description="The same keys for one group, by its mark; each replaces the job's"
    )

    def of(self, mark: str) -> GroupKeys:
        """Return what holds for a group: its own keys in place of the job's, each with the table it comes from."""
        own = self.group.get(mark)
        values: dict[str, Any] = {}
        place: dict[str, str] = {}
        for name in ScatterKeys.model_fields:
            mine = None if own is None else getattr(own, name)
            values[name] = getattr(self, name) if mine is None else mine
            place[name] = f"scatter.{name}" if mine is None else f"scatter.group.{mark}.{name}"
        # Bit with over_bit, and hole_diameter, are two ways to say one thing: a group's own replaces either.
        if own is not None and own.hole_diameter is not None:
            values["bit"] = values["over_bit"] = None
        elif own is not None and (own.bit is not None or own.over_bit is not None):
            values["hole_diameter"] = None
        return GroupKeys(
            spreads={name: values[name] for name in ARGUMENTS if values[name] is not None},
            bit=values["bit"],
            over_bit=values["over_bit"],
            common=("hole_diameter", "bar_mass") if values["common"] is None else values["common"],
            series=20 if values["series"] is None else values["series"],
            correlation=tuple((c.between[0], c.between[1], c.r) for c in values["correlation"] or ()),
            place=place,
            own=frozenset(
                name for name in ScatterKeys.model_fields if own is not None and getattr(own, name) is not None
            ),
        )


@dataclass(frozen=True)
class GroupKeys:
    """What varies in one group, and what its holes are over the bit [mm], by the keys of the job file.

    ``place`` names the key that each comes from, ``own`` those of the group's own table.
    """

    spreads: Mapping[str, LengthScatter | ShareScatter]
    bit: str | None
    over_bit: float | None
    common: tuple[str, ...]
    series: int
    correlation: tuple[tuple[str, str, float], ...]
    place: Mapping[str, str]
    own: frozenset[str]

    @property
    def given(self) -> tuple[str, ...]:
        """The inputs that are given, in the order of the nomenclature."""
        return tuple(
            name for name in ARGUMENTS if name in self.spreads or (name == "hole_diameter" and self.bit is not None)
        )

    def key_of(self, name: str) -> str:
        """Return the dotted key that an input was given by."""
        return self.place[self._typed(name)]

    def general_key_of(self, name: str) -> str:
        """Return the same key without the group's mark, so that many groups have it alike."""
        return self.general_place(self._typed(name))

    def general_place(self, typed: str) -> str:
        """Return the dotted key of the job file without the group's mark."""
        return f"scatter.group.(mark).{typed}" if typed in self.own else self.place[typed]

    def _typed(self, name: str) -> str:
        return "bit" if name == "hole_diameter" and self.bit is not None else name


# ---- what is assumed, what it costs, what was measured -------------------------------------------


class Judgement(Part):
    """What is assumed of dosing by eye; see ``calc.scatter.ways.Judgement``. Every one is the user's own assumption."""

    margin: Annotated[float, number(-0.5, 5.0, example="0.30")] = Field(
        description="Share that is added by feel at every hole"
    )
    sd_hole: Annotated[float, number(0.0, 1.0, example="0.10")] = Field(
        description="Scatter of the amount from hole to hole, standard deviation as a share of it"
    )
    sd_series: Annotated[float, number(0.0, 1.0, example="0.10")] = Field(
        description="Scatter between persons or days, standard deviation as a share of it"
    )
    sees: Annotated[float, number(0.0, 1.0, example="0.5")] = Field(
        description="Share of a hole's difference from nominal that the eye follows; 0 to 1"
    )
    level_sd: Annotated[float, number(0.0, 0.5, example="0.03")] = Field(
        description="Scatter of the level in a hole filled to a share, standard deviation as a share of its depth"
    )
    first_margin: Annotated[float, number(-0.5, 5.0, example="0.05")] = Field(
        description="Share added when the first hole's amount is used again"
    )


class AdhesivePrice(Part):
    """Price of an amount of adhesive."""

    price: Price = Field(description="Price; in the currency of this table")
    per: Volume = Field(description='Amount that it buys; such as "400 mL"')


class Cost(Part):
    """What adhesive and a short hole cost; the user's own figures."""

    currency: FilledLine = Field(description="Currency; its name, for the page")
    adhesive: AdhesivePrice = Field(description='Adhesive; {price = 20.0, per = "400 mL"}')
    short_per_mL: Price | None = Field(default=None, description="Cost of each missing mL; in a short hole")
    short_per_hole: Price | None = Field(default=None, description="Cost of a short hole; however little is missing")

    @property
    def waste(self) -> float:
        """Cost of adhesive that is wasted [currency per mm³]."""
        return self.adhesive.price / self.adhesive.per


class Evidence(Part):
    """Measured holes of a group, from which its overfill may follow; volumes as they were needed to fill the hole."""

    holes: Annotated[int, whole(2, 100_000, "one hole tells nothing about scatter")] = Field(
        description="Number of measured holes; left-out ones not counted"
    )
    mean: Volume = Field(description="Mean of the volumes that filled them")
    sd: VolumeSd = Field(description="Their standard deviation; with n - 1")
    nominal: Volume | None = Field(
        default=None, description="Required volume that they refer to; the group's own when left out"
    )
    largest: Volume | None = Field(default=None, description="Largest of the volumes; for the limit without normality")
    rank: Annotated[int, whole(1, 100_000)] | None = Field(
        default=None, description="Place of ordered; counted from the smallest"
    )
    ordered: Volume | None = Field(
        default=None, description="Measured volume at that place; for the limit without normality"
    )
    resolution: Volume | None = Field(
        default=None, description="Resolution of a reading; the last digit that was typed when left out"
    )
    file: CsvName | None = Field(default=None, description="File with the measurements; CSV in the job's folder")
    excluded: dict[str, FilledLine] = Field(
        default_factory=dict, description="Measurements left out; by name, each with the reason"
    )
    note: Line = Field(default="", description="Note; free text, such as who measured and when")

    @model_validator(mode="after")
    def _ordered(self) -> Evidence:
        if (self.rank is None) != (self.ordered is None):
            raise NotAccepted('give rank and ordered together or neither; accepted: rank = 58, ordered = "26.1 mL"')
        if self.rank is not None and self.rank > self.holes:
            raise NotAccepted(
                f"rank is above the number of holes, {self.holes}; accepted: a place from 1 to {self.holes}"
            )
        for name in ("largest", "ordered"):
            value = getattr(self, name)
            if name == "largest" and value is not None and value < self.mean:
                raise NotAccepted("largest is below the mean; accepted: the largest of the measured volumes")
            if name == "ordered" and value is not None and self.largest is not None and value > self.largest:
                raise NotAccepted("ordered is above largest; accepted: the measured volume at that rank")
        return self

    def value_at(self, rank: int) -> float | None:
        """Return a volume that stands at this place or higher [mm³]; None when none was given."""
        if self.ordered is not None and self.rank is not None and self.rank >= rank:
            return self.ordered
        return self.largest


# ---- what needs several tables at once -----------------------------------------------------------


def scatter_problems(
    *,
    overfill: Overfill,
    scatter: Scatter | None,
    cost: Cost | None,
    evidence: Mapping[str, Evidence],
    groups: Iterable[BarGroup],
    folder: Path,
    file: str,
) -> list[Problem]:
    """Return what is wrong between the tables about scatter and the bar schedule; empty when all is well."""
    groups = tuple(groups)
    marks = [group.mark for group in groups]
    problems = [
        *unknown_marks(file, "scatter.group", scatter.group if scatter else (), marks),
        *unknown_marks(file, "evidence", evidence, marks),
        *_rule_problems(overfill, scatter, cost, evidence, groups, file),
    ]
    for mark, one in evidence.items():
        if one.file is None:
            continue
        path = folder / one.file
        if not path.is_file():
            problems.append(
                Problem(
                    file,
                    f"key evidence.{mark}.file",
                    one.file,
                    "is not there; accepted: a CSV file in the job's folder",
                )
            )
        elif not path.resolve().is_relative_to(folder.resolve()):
            problems.append(
                Problem(
                    file,
                    f"key evidence.{mark}.file",
                    one.file,
                    "leads out of the job's folder by a link; accepted: a file inside it",
                )
            )
    if scatter is not None:
        # Groups alike in what matters say the same sentence: it is told for the first of them.
        told: set[tuple[str, str]] = set()
        for group in groups:
            for problem in _group_problems(scatter.of(group.mark), group, file):
                if (problem.place, problem.message) not in told:
                    told.add((problem.place, problem.message))
                    problems.append(problem)
    return problems


def _rule_problems(
    overfill: Overfill,
    scatter: Scatter | None,
    cost: Cost | None,
    evidence: Mapping[str, Evidence],
    groups: tuple[BarGroup, ...],
    file: str,
) -> list[Problem]:
    rule, place = overfill.rule, "key overfill.rule"
    found = []
    if rule in ("probability", "cost_volume", "cost_hole") and scatter is None:
        message = (
            'needs the table [scatter], which is missing; accepted: [scatter] with what varies, such as bit = "medium",'
            ' or rule = "share"'
        )
        found.append(Problem(file, place, rule, message))
    if rule in ("cost_volume", "cost_hole"):
        key = "short_per_mL" if rule == "cost_volume" else "short_per_hole"
        if cost is None:
            message = (
                "needs the table [cost], which is missing; accepted: [cost] with currency, adhesive = {price = 20.0,"
                f' per = "400 mL"}} and {key}'
            )
            found.append(Problem(file, place, rule, message))
        elif getattr(cost, key) is None:
            what = "each mL that is missing" if rule == "cost_volume" else "a short hole"
            found.append(
                Problem(
                    file,
                    place,
                    rule,
                    f"needs the cost of {what}, and cost.{key} is missing; accepted: {key} = 50.0 in the table [cost]",
                )
            )
    if rule == "measured":
        lacking = [group.mark for group in groups if group.overfill is None and group.mark not in evidence]
        if lacking:
            listed = ", ".join(lacking[:20]) + (f" and {len(lacking) - 20} more" if len(lacking) > 20 else "")
            message = (
                f"needs measured holes of each group, and there are none of {listed}; accepted: a table"
                f" [evidence.{lacking[0]}] with holes, mean and sd, or an overfill of its own in the schedule"
            )
            found.append(Problem(file, place, rule, message))
    return found


def _group_problems(keys: GroupKeys, group: BarGroup, file: str) -> list[Problem]:
    from calc.fill.bits import bit_limits, mass_tolerance

    found = []
    if keys.bit is not None:
        try:
            bit_limits(nominal=group.hole_diameter, state=keys.bit)
        except CalcError as error:
            found.append(
                Problem(
                    file, f"key {keys.place['bit']}", keys.bit, f"has no limits for the holes of {group.mark}: {error}"
                )
            )
    mass = keys.spreads.get("bar_mass")
    if isinstance(mass, BarMass) and mass.standard:
        try:
            mass_tolerance(bar=group.bar)
        except CalcError as error:
            found.append(
                Problem(file, f"key {keys.place['bar_mass']}", STANDARD, f"has no limits for {group.mark}: {error}")
            )
    for one, other, r in keys.correlation:
        missing = [name for name in (one, other) if not scatters(keys, name)]
        if missing:
            message = (
                f"joins {one} and {other}, but {' and '.join(missing)} does not scatter; accepted: two inputs of this"
                " table that scatter"
            )
            found.append(Problem(file, f"key {keys.place['correlation']}", f"{r:g}", message))
    return found


def scatters(keys: GroupKeys, name: str) -> bool:
    """Return whether an input varies at all; a spread of nothing does not."""
    if name == "hole_diameter" and keys.bit is not None:
        return True
    spread = keys.spreads.get(name)
    if spread is None:
        return False
    if isinstance(spread, BarMass) and spread.standard:
        return True
    first, second, limited = spread.numbers
    return second > first if limited else second > 0


@lru_cache(maxsize=64)
def bit_deviation(nominal: float, state: str) -> tuple[float, float]:
    """Return the least and greatest deviation of a bit's cutting diameter from its name [mm]."""
    from calc.fill.bits import bit_limits

    low, high = bit_limits(nominal=nominal, state=state)
    return low - nominal, high - nominal
