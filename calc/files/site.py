"""Tables of the job file about the site: crew, times, temperatures and how holes are prepared.

Every time is the user's own; none has a default that claims to be right. Times are seconds inside, times of day seconds
after midnight, temperatures °C of the base material.
"""

from __future__ import annotations

import datetime
import itertools
import re
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema, field_validator, model_validator

from calc.base.errors import CalcError, NotAccepted
from calc.files.adhesive import HoleCondition
from calc.files.fields import Line, Part, Share, Temperature, as_tuple, number, quantity, whole

DAY = 86_400.0
_CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)", re.ASCII)

# What may be done to a hole before adhesive goes in; "other" for anything else the user times.
Action = Literal["drill", "blow", "brush", "vacuum", "flush", "other"]


def _clock(value: object) -> float:
    accepted = 'accepted: hours and minutes of a 24-hour clock in quotation marks, such as "07:00"'
    if not isinstance(value, str):
        raise NotAccepted(f"is not a text; {accepted}")
    match = _CLOCK.fullmatch(value.strip())
    if match is None:
        raise NotAccepted(f"is not a time of day; {accepted}")
    return 3600.0 * int(match[1]) + 60.0 * int(match[2])


def _list_of(example: str) -> BeforeValidator:
    """Return what takes a list of TOML as a tuple, and says how one looks to who writes something else."""

    def read(value: object) -> object:
        if not isinstance(value, (list, tuple)):
            raise NotAccepted(f"is not a list; accepted: {example}")
        return as_tuple(value)

    return BeforeValidator(read)


def _tables(value: object) -> object:
    if not isinstance(value, dict):
        raise NotAccepted(
            "is not a table; accepted: one table for each way of preparing a hole, such as [site.ways.brushed]"
        )
    return value


TimeOfDay = Annotated[
    float,
    BeforeValidator(_clock),
    WithJsonSchema({"type": "string", "pattern": f"^{_CLOCK.pattern}$", "examples": ["07:00"]}),
]
StepTime = Annotated[float, quantity("s", low=0.0, high=36_000.0, example="30 s")]
Length = Annotated[float, quantity("s", low=0.0, high=DAY, open_low=True, example="20 min")]
Wait = Annotated[float, quantity("s", low=0.0, high=60 * DAY, example="2 h")]
Density = Annotated[float, quantity("kg/m³", low=300.0, high=5000.0, example="2400 kg/m³")]
BagVolume = Annotated[float, quantity("mm³", low=0.0, high=2e9, open_low=True, example="5000 mL")]
Holes = Annotated[int, whole(1, 1_000_000, "at least one hole")]


class Break(Part):
    """A break in every shift: when it begins [s after midnight] and how long it is [s]."""

    at: TimeOfDay = Field(description="When the break begins")
    length: Length = Field(description="How long it is")


class TemperaturePoint(Part):
    """Temperature [°C] of the base material at a time of day [s after midnight]."""

    at: TimeOfDay = Field(description="Time of day")
    temperature: Temperature = Field(description="Temperature of the base material then, not of the air")


class Times(Part):
    """The crew's own times [s] for one hole. Measure them; there are no defaults."""

    drill: StepTime | None = Field(default=None, description="Drilling a hole; or give drill_per_metre")
    drill_per_metre: StepTime | None = Field(default=None, description="Drilling a metre of hole; or give drill")
    blow: StepTime | None = Field(default=None, description="Blowing a hole out once")
    brush: StepTime | None = Field(default=None, description="Brushing a hole once")
    vacuum: StepTime | None = Field(default=None, description="Vacuuming a hole once")
    flush: StepTime | None = Field(default=None, description="Flushing a hole with water once")
    other: StepTime | None = Field(default=None, description="Whatever else is done to a hole")
    inject: StepTime = Field(description="Injecting a hole")
    set: StepTime = Field(description="Setting a bar; pushing and turning it home")
    walk: StepTime = Field(default=0.0, description="Going to the next hole; with the tools")
    mixer_change: StepTime = Field(description="Fitting a new mixer; and discarding its first part")
    pack_change: StepTime = Field(description="Putting in a new pack; into the dispenser")

    @model_validator(mode="after")
    def _one_drilling_time(self) -> Times:
        if self.drill is not None and self.drill_per_metre is not None:
            raise NotAccepted('drill and drill_per_metre are both given; accepted: one of them, such as drill = "60 s"')
        return self

    def of(self, action: str, depth: float) -> float | None:
        """Return the time [s] that an action takes on a hole of a depth [mm], or None when the user gave none."""
        if action == "drill" and self.drill_per_metre is not None:
            return self.drill_per_metre * depth / 1000
        time: float | None = getattr(self, action)
        return time


class Step(Part):
    """One thing done to a hole; its time [s] is its own, or that of [site.times]."""

    do: Action = Field(description="drill, blow, brush, vacuum, flush or other")
    time: StepTime | None = Field(default=None, description="Time for one hole; left out, the one of [site.times]")
    per_metre: StepTime | None = Field(default=None, description="Time for one metre of hole, in place of time")
    label: Line = Field(default="", description="What the lists call it")

    @model_validator(mode="after")
    def _one_time(self) -> Step:
        if self.time is not None and self.per_metre is not None:
            raise NotAccepted('time and per_metre are both given; accepted: one of them, such as time = "30 s"')
        return self

    @property
    def name(self) -> str:
        """What the lists call the step."""
        return self.label or self.do

    def seconds(self, times: Times, depth: float) -> float:
        """Return how long the step takes on a hole of a depth [mm].

        Parameters
        ----------
        times : Times
            The job's own times, for a step that has none.
        depth : float [mm]
            Depth of the hole.

        Returns
        -------
        float [s]

        Raises
        ------
        NotAccepted
            When neither the step nor [site.times] has a time.
        """
        if self.per_metre is not None:
            return self.per_metre * depth / 1000
        time = self.time if self.time is not None else times.of(self.do, depth)
        if time is None:
            raise NotAccepted(
                f"the step '{self.name}' has no time; accepted: a time of its own, or {self.do} in [site.times]"
            )
        return time


class Way(Part):
    """A way of preparing the hole: what is done, in order, and what it uses up."""

    steps: Annotated[
        tuple[Step, ...], _list_of('a list of steps, such as [{ do = "drill", time = "60 s" }, { do = "blow" }]')
    ] = Field(description="What is done to a hole, in order")
    extraction: bool = Field(description="Dust drawn off at the bit while drilling; true or false")
    holes_per_charge: Holes | None = Field(
        default=None, description="Holes that one charge lasts for; of the machine's battery"
    )
    holes_per_bit: Holes | None = Field(default=None, description="Holes that one drill bit lasts for")
    holes_per_bag: Holes | None = Field(default=None, description="Holes that fill one bag of the vacuum cleaner")
    note: Line = Field(default="", description="Note; free text, such as where the approval allows this way")

    @model_validator(mode="after")
    def _plausible(self) -> Way:
        done = [step.do for step in self.steps]
        if "drill" not in done:
            raise NotAccepted('steps holds no drilling; accepted: at least one step with do = "drill"')
        if self.holes_per_bag is not None and not self.extraction and "vacuum" not in done:
            raise NotAccepted(
                "holes_per_bag is given, but nothing here fills a bag; accepted: extraction = true, or a step that"
                " vacuums"
            )
        return self


class Preparation(Part):
    """Which way of preparing the hole the plan takes."""

    way: Line = Field(description="Way of preparing the hole; one of those in [site.ways]")


class Dust(Part):
    """What the drilled concrete weighs [kg/m³] and how it fills a bag [mm³]."""

    density: Density = Field(description="Density of the base material")
    bulking: (
        Annotated[float, number(1.0, 5.0, example="1.5 for loose dust that takes half as much room again")] | None
    ) = Field(default=None, description="Volume of the loose dust over that of the drilled hole")
    bag_volume: BagVolume | None = Field(default=None, description="Dust that one bag holds")


Course = Annotated[tuple[TemperaturePoint, ...], _list_of('a list, such as [{ at = "07:00", temperature = "8 °C" }]')]


def _rising(value: tuple[TemperaturePoint, ...]) -> tuple[TemperaturePoint, ...]:
    """Refuse temperatures that are not in the order of one day."""
    if not value:
        raise NotAccepted('is empty; accepted: at least one point, such as { at = "07:00", temperature = "8 °C" }')
    for one, other in itertools.pairwise(value):
        if other.at <= one.at:
            raise NotAccepted(
                f"is not in the order of the day: {clock_text(other.at)} stands after {clock_text(one.at)};"
                " accepted: each time once, rising"
            )
    return value


class DayKind(Part):
    """A kind of day, such as a cold one: temperature [°C] of the base material over it, and in the night after it."""

    temperature: Course = Field(description="Temperature of the concrete over such a day")
    night_low: Temperature | None = Field(
        default=None, description="Lowest temperature of the concrete in the night after such a day; curing counts it"
    )

    @field_validator("temperature")
    @classmethod
    def _in_order(cls, value: tuple[TemperaturePoint, ...]) -> tuple[TemperaturePoint, ...]:
        return _rising(value)


class WorkDay(Part):
    """One day of the work, in order."""

    date: datetime.date | None = Field(
        default=None, description="Date of the day; without quotation marks, left out: the day after the one before"
    )
    kind: Line = Field(default="", description="Kind of the day; one of [site.kinds], left out: site.temperature holds")
    groups: Annotated[tuple[Line, ...], _list_of('a list of marks, such as ["W3", "W4"]')] = Field(
        default=(), description="Bar groups of the day, by their marks; they are begun no earlier"
    )


class Site(Part):
    """Crew, times and temperatures. Times [s], times of day [s after midnight], temperature [°C]."""

    crews: Annotated[int, whole(1, 200, "somebody has to do the work")] = Field(
        description="Crews; they drill, inject and set, each with a dispenser"
    )
    drills: Annotated[int, whole(1, 200, "no hole is made without a machine")] = Field(
        description="Drilling machines; the crews share them"
    )
    start: TimeOfDay = Field(description="Beginning of the shift")
    shift: Length = Field(description="Length of the shift; from its beginning to its end, with its breaks")
    breaks: Annotated[
        tuple[Break, ...], _list_of('a list of breaks, such as [{ at = "10:00", length = "20 min" }]')
    ] = Field(default=(), description="Breaks of every shift")
    temperature: Course = Field(
        description=(
            "Temperature of the concrete over the day; linear between, and through the night from the last to the first"
        )
    )
    night_low: Temperature | None = Field(
        default=None, description="Lowest temperature of the concrete at night; curing counts it"
    )
    kinds: dict[str, DayKind] = Field(default_factory=dict, description="Kinds of days, such as cold ones, by name")
    days: Annotated[tuple[WorkDay, ...], _list_of("a table for each day, headed [[site.days]]")] = Field(
        default=(), description="Days of the work; in order, later ones are like the last"
    )
    batch: Annotated[int, whole(1, 100_000, "a batch is at least one hole")] = Field(
        default=1, description="Holes injected before their bars are set"
    )
    record_lines: Literal["batch", "hole"] = Field(
        default="batch", description="A line of the hole record; for each batch, or for each hole"
    )
    ahead: Holes | None = Field(
        default=None,
        description="Holes prepared before they are injected; by each crew; left out: its share of the group",
    )
    keep_part_packs: bool = Field(
        default=False, description="Part packs kept for the next day; true: they are used then, with a new mixer"
    )
    hole_from_two_packs: bool | None = Field(
        default=None,
        description=(
            "A hole filled from two packs; true where one may be finished from the next pack, false where it may not:"
            " packs then serve whole holes, as they do when it is not stated"
        ),
    )
    reserve: Share = Field(
        default=0.0, description="Reserve, as a share; packs ordered on top, 0.10 is ten per cent more"
    )
    load_wait: Wait = Field(default=0.0, description="Waited on top of the curing time; before bars are loaded")
    variation: Annotated[float, number(0.0, 1.0, example="0.2")] = Field(
        default=0.0,
        description="Random variation of every time, as a share; its standard deviation, 0 takes the times as given",
    )
    date: datetime.date | None = Field(
        default=None, description="Day of the work; without quotation marks: the packs must not have expired by then"
    )
    hole_condition: HoleCondition | None = Field(
        default=None, description="Condition of the holes when they are injected; dry, damp or flooded"
    )
    between_rows: bool = Field(
        default=False,
        description="Times read between the rows of the record's tables; true by Arrhenius, false takes the safe row",
    )
    seed: Annotated[int, whole(0, 2**31, "a seed is not negative")] = Field(
        default=0, description="Seed of the random times; the same on every machine"
    )
    times: Times = Field(description="Time; the crew's own for each thing that is done")
    ways: Annotated[dict[str, Way], BeforeValidator(_tables)] = Field(description="Ways of preparing the hole, by name")
    preparation: Preparation | None = Field(default=None, description="Preparation; the way that the plan takes")
    dust: Dust | None = Field(default=None, description="Dust; what it weighs and how it fills a bag")

    @field_validator("temperature")
    @classmethod
    def _in_order(cls, value: tuple[TemperaturePoint, ...]) -> tuple[TemperaturePoint, ...]:
        return _rising(value)

    @field_validator("ways")
    @classmethod
    def _some_way(cls, value: dict[str, Way]) -> dict[str, Way]:
        if not value:
            raise NotAccepted("is empty; accepted: at least one way of preparing a hole, such as [site.ways.brushed]")
        return value

    @model_validator(mode="after")
    def _together(self) -> Site:
        self._check_breaks()
        self._check_way()
        self._check_days()
        for name, way in self.ways.items():
            for i, step in enumerate(way.steps):
                try:
                    step.seconds(self.times, 1000.0)
                except CalcError as error:
                    raise NotAccepted(f"ways.{name}.steps[{i}]: {error}") from None
        return self

    def _check_breaks(self) -> None:
        end = 0.0
        for one in sorted(self.breaks, key=lambda b: self.offset(b.at)):
            begin, shown = self.offset(one.at), f"the break at {clock_text(one.at)}"
            if begin + one.length >= self.shift or begin <= 0:
                span = f"{clock_text(self.start)} to {clock_text(self.start + self.shift)}"
                raise NotAccepted(f"{shown} is not inside the shift; accepted: breaks that begin and end within {span}")
            if begin < end:
                raise NotAccepted(f"{shown} begins before the one before it ends; accepted: breaks that do not overlap")
            end = begin + one.length

    def _check_way(self) -> None:
        names = ", ".join(self.ways)
        if self.preparation is None and len(self.ways) > 1:
            raise NotAccepted(
                f"there are several ways and none is chosen; accepted: [site.preparation] with way = one of {names}"
            )
        if self.preparation is not None and self.preparation.way not in self.ways:
            raise NotAccepted(f"preparation.way '{self.preparation.way}' is none of the ways; accepted: {names}")

    def _check_days(self) -> None:
        names = ", ".join(self.kinds) or "none, so far: [site.kinds.cold], for one, adds a kind"
        before = -1
        for i, (one, at) in enumerate(zip(self.days, self.calendar, strict=True), 1):
            if one.kind and one.kind not in self.kinds:
                raise NotAccepted(f"day {i} is of the kind '{one.kind}', which is none of the kinds; accepted: {names}")
            if one.date is not None and self.day_one is None:
                raise NotAccepted(f"day {i} has a date and the first day has none; accepted: the first day's date too")
            if at <= before:
                raise NotAccepted(f"day {i} is not after the day before it; accepted: dates in order, each once")
            before = at
        if self.date is not None and self.days and self.days[0].date not in (None, self.date):
            raise NotAccepted("date is not that of the first of the days; accepted: one of the two, or both alike")

    @property
    def day_one(self) -> datetime.date | None:
        """Date of the first day of the work, where it is stated."""
        return self.days[0].date if self.days and self.days[0].date is not None else self.date

    @property
    def calendar(self) -> tuple[int, ...]:
        """Days after the first one on which the listed days of the work lie."""
        found: list[int] = []
        for one in self.days:
            first = self.day_one
            dated = one.date is not None and first is not None
            after = found[-1] + 1 if found else 0
            found.append((one.date - first).days if dated and one.date and first else after)
        return tuple(found)

    @property
    def courses(self) -> tuple[tuple[str, Course, float | None], ...]:
        """Key, temperatures over the day and lowest of the night [°C], of each listed day; one where none is listed."""
        own = ("site", self.temperature, self.night_low)
        found = []
        for one in self.days or (WorkDay(),):
            if not one.kind:
                found.append(own)
                continue
            kind = self.kinds[one.kind]
            low = self.night_low if kind.night_low is None else kind.night_low
            found.append((f"site.kinds.{one.kind}", kind.temperature, low))
        return tuple(found)

    def key_of_low(self, key: str) -> str:
        """Key of the lowest temperature at night that holds for days whose temperatures stand under a key."""
        kind = self.kinds.get(key.removeprefix("site.kinds."))
        return f"{key}.night_low" if kind is not None and kind.night_low is not None else "site.night_low"

    def is_night(self, at: float) -> bool:
        """Whether a time of day lies outside the shift."""
        return self.offset(at) > self.shift

    def days_of(self, mark: str) -> tuple[int, ...]:
        """Days after the first one that a bar group is assigned to; none for one that may be worked on any day."""
        return tuple(at for one, at in zip(self.days, self.calendar, strict=True) if mark in one.groups)

    def offset(self, at: float) -> float:
        """Return how long after the beginning of the shift a time of day comes [s]; shifts may run past midnight."""
        return (at - self.start) % DAY

    @property
    def chosen(self) -> str:
        """Name of the way that the plan takes."""
        return self.preparation.way if self.preparation is not None else next(iter(self.ways))

    @property
    def way(self) -> Way:
        """The way that the plan takes."""
        return self.ways[self.chosen]


def clock_text(at: float) -> str:
    """Return a time of day [s after midnight] as people write it.

    Examples
    --------
    >>> clock_text(26100.0)
    '07:15'
    """
    minutes = int(at % DAY // 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
