"""The adhesive record: a TOML file that the user fills in from their product's approval.

No product's values ship with the workbook.

Pack volume, residual and discard per mixer may stand in the record and stand in the job file's ``[equipment]`` in any
case. The job file's value governs, because it says what is on this site; `equipment_notices` names every difference.

A time table has one form throughout: a row for each temperature, ``{ at = "10 °C", time = "40 min" }``, or a row for
each band, ``{ from = "5 °C", to = "10 °C", time = "40 min" }``, where each band starts at the end of the one before.
Coldest row first.
"""

from __future__ import annotations

import datetime
import math
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema, field_validator, model_validator

from calc.base.display import METRIC, Display
from calc.base.errors import NotAccepted
from calc.files.fields import (
    Depth,
    FilledLine,
    Line,
    Note,
    PackVolume,
    Part,
    PartVolume,
    Temperature,
    as_tuple,
    number,
    quantity,
)
from calc.fill.cure import TimeRow, TimeTable, implausible_rows, read_safe, table_problem

HoleCondition = Literal["dry", "damp", "flooded"]

Time = Annotated[float, quantity("min", low=0.0, high=86400.0, open_low=True)]
Density = Annotated[float, quantity("kg/m³", low=500.0, high=4000.0, example="1700 kg/m³")]
Length = Annotated[float, quantity("mm", low=1.0, high=11000.0)]


def _date(value: object) -> object:
    if isinstance(value, datetime.datetime) or not isinstance(value, datetime.date):
        raise NotAccepted("is not a date; accepted: year, month and day without quotation marks, such as 2027-06-30")
    return value


def _rows(value: object) -> object:
    accepted = (
        'accepted: a list of rows such as [{ at = "10 °C", time = "40 min" }] or [{ from = "5 °C", to = "10 °C", time ='
        ' "40 min" }]'
    )
    if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
        raise NotAccepted(f"is not a time table; {accepted}")
    return tuple(value)


def _lines(value: object) -> object:
    accepted = 'accepted: a list of at least one line, such as ["Blow from the back, twice", "Brush, twice", "Blow"]'
    if not isinstance(value, list) or not value:
        raise NotAccepted(f"is not a list of steps; {accepted}")
    return tuple(value)


def _pages(value: object) -> object:
    """Check that pages are told of keys that the record has."""
    accepted = 'accepted: a page for each key, such as density = "ABC-1, Table 2"'
    if not isinstance(value, dict):
        raise NotAccepted(f"is not a table; {accepted}")
    known = [field.alias or name for name, field in AdhesiveRecord.model_fields.items()]
    if unknown := [key for key in value if key not in known]:
        raise NotAccepted(f"has '{unknown[0]}', which is no key of the record; {accepted}")
    return value


Expiry = Annotated[datetime.date, BeforeValidator(_date), WithJsonSchema({"type": "string", "format": "date"})]
Price = Annotated[float, number(0.0, 1e9, example="21.50; its currency is a key of its own")]


WetFactor = Annotated[float, number(1.0, 20.0, example="2 for twice the time of the table")]


class Row(Part):
    """A row of a time table: temperature of the base material [°C] and time [min]."""

    at: Temperature | None = Field(default=None, description="One temperature")
    low: Temperature | None = Field(default=None, alias="from", description="Lower end of a band of temperatures")
    high: Temperature | None = Field(default=None, alias="to", description="Upper end of the band")
    time: Time = Field(description="Working or curing time")

    @model_validator(mode="after")
    def _one_form(self) -> Row:
        if (self.at is None) == (self.low is None) or (self.low is None) != (self.high is None):
            raise NotAccepted("the row needs its temperature in one form; accepted: at, or from and to")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise NotAccepted("from is not below to; accepted: a band from the colder to the warmer temperature")
        return self

    @property
    def row(self) -> TimeRow:
        """The row as the readings take it."""
        return (
            TimeRow(self.low or 0.0, self.high or 0.0, self.time)
            if self.at is None
            else TimeRow(self.at, self.at, self.time)
        )


class TemperatureRange(Part):
    """From and to, both included [°C]."""

    low: Temperature = Field(alias="from", description="Lowest temperature")
    high: Temperature = Field(alias="to", description="Highest temperature")

    @model_validator(mode="after")
    def _upwards(self) -> TemperatureRange:
        if self.low >= self.high:
            raise NotAccepted("from is not below to; accepted: the lower temperature first")
        return self

    def holds(self, T: float) -> bool:
        """Whether a temperature [°C] lies within the range."""
        return self.low <= T <= self.high


Rows = Annotated[tuple[Row, ...], BeforeValidator(_rows)]


class AdhesiveRecord(Part):
    """The adhesive, filled in by the user from their product's approval.

    Volumes [mm³], lengths [mm], times [min], temperatures [°C].
    """

    name: FilledLine = Field(description="Name of the product")
    approval: Line = Field(default="", description="Approval; number and date of the one that the values come from")
    invented: bool = Field(
        description="Invented; true when the record describes no real product, and every page then says so"
    )
    note: Note = Field(default="", description="Note; free text for the reader")
    density: Density | None = Field(default=None, description="Density of the mixed adhesive")
    pack_volume: PackVolume | None = Field(
        default=None, description="Volume in a full pack; the job file's value governs"
    )
    residual: PartVolume | None = Field(
        default=None, description="Volume that stays in an empty pack; the job file's value governs"
    )
    discard_per_mixer: PartVolume | None = Field(
        default=None, description="Thrown away at the start of each mixer; the job file's value governs"
    )
    discard_per_pack: PartVolume | None = Field(
        default=None, description="Discard of each pack; thrown away at its start, beside what each mixer costs"
    )
    mixer_volume: PartVolume | None = Field(default=None, description="What a mixer holds; and is lost with it")
    extension_volume: PartVolume | None = Field(
        default=None, description="What an extension tube holds; one of the length extension_length"
    )
    extension_length: Length | None = Field(default=None, description="Length of tube that extension_volume belongs to")
    nozzle_reach: Length | None = Field(
        default=None, description="Deepest point of a hole that the mixer's nozzle reaches without a tube"
    )
    extension_reach: Length | None = Field(
        default=None, description="Deepest point that it reaches with an extension tube"
    )
    working_time: Rows | None = Field(
        default=None, description="Working time; against the temperature of the base material"
    )
    curing_time: Rows | None = Field(
        default=None, description="Curing time; against the temperature of the base material"
    )
    wet_curing_factor: WetFactor | None = Field(
        default=None,
        description="Curing time in wet concrete; over that of the table, 1 when the approval makes no difference",
    )
    base_temperature: TemperatureRange | None = Field(
        default=None, description="Base material; temperatures that the approval allows"
    )
    pack_temperature: TemperatureRange | None = Field(
        default=None, description="Pack; temperatures that the approval allows"
    )
    hole_conditions: Annotated[tuple[HoleCondition, ...], BeforeValidator(as_tuple)] | None = Field(
        default=None, description="Conditions of the hole that the approval allows; dry, damp, flooded"
    )
    cleaning: Annotated[tuple[FilledLine, ...], BeforeValidator(_lines)] | None = Field(
        default=None,
        description="Cleaning; what the product's instructions do to a drilled hole, in their order and in their words",
    )
    expiry: Expiry | None = Field(default=None, description="Last day on which the packs may be used")
    pages: Annotated[dict[str, Line], BeforeValidator(_pages)] = Field(
        default_factory=dict, description="Pages of the approval that the values stand on, by key"
    )
    price_per_pack: Price | None = Field(default=None, description="Price of one pack")
    currency: Line = Field(default="", description="Currency of the price")

    @field_validator("working_time", "curing_time")
    @classmethod
    def _usable(cls, value: tuple[Row, ...] | None) -> tuple[Row, ...] | None:
        if value is not None and (wrong := table_problem(tuple(row.row for row in value))):
            raise NotAccepted(wrong)
        return value

    @field_validator("hole_conditions")
    @classmethod
    def _each_once(cls, value: tuple[HoleCondition, ...] | None) -> tuple[HoleCondition, ...] | None:
        if value is not None and (not value or len(set(value)) < len(value)):
            raise NotAccepted(
                "names no condition, or one twice; accepted: dry, damp and flooded, each at most once, at least one"
            )
        return value

    @model_validator(mode="after")
    def _together(self) -> AdhesiveRecord:
        if (self.extension_volume is None) != (self.extension_length is None):
            raise NotAccepted("extension_volume and extension_length belong together; accepted: both keys or neither")
        if (
            self.nozzle_reach is not None
            and self.extension_reach is not None
            and self.extension_reach <= self.nozzle_reach
        ):
            raise NotAccepted(
                "extension_reach is not deeper than nozzle_reach; accepted: a depth beyond that of the nozzle alone"
            )
        if self.price_per_pack is not None and not self.currency:
            raise NotAccepted('price_per_pack has no currency; accepted: a line such as currency = "EUR"')
        lost = sum(
            part or 0.0 for part in (self.residual, self.discard_per_mixer, self.discard_per_pack, self.mixer_volume)
        )
        if self.pack_volume is not None and lost >= self.pack_volume:
            parts = "residual, discard_per_mixer, discard_per_pack and mixer_volume"
            raise NotAccepted(f"{parts} leave nothing of the pack; accepted: together less than pack_volume")
        self._compare_times()
        return self

    def _compare_times(self) -> None:
        """Refuse a curing time that is shorter than the working time at the same temperature."""
        working, curing = self.working, self.curing
        if working is None or curing is None:
            return
        for T in sorted({edge for table in (working, curing) for row in table.rows for edge in (row.low, row.high)}):
            if all(table.low <= T <= table.high for table in (working, curing)):
                soft, hard = read_safe(table=working, T=T).time, read_safe(table=curing, T=T).time
                if hard < soft:
                    found = f"at {T:.5g} °C curing_time gives {hard:.5g} min and working_time {soft:.5g} min"
                    raise NotAccepted(f"{found}; accepted: a curing time that is not shorter than the working time")

    @property
    def working(self) -> TimeTable | None:
        """Table of working times, or None when the record has none."""
        return None if self.working_time is None else TimeTable("working", tuple(row.row for row in self.working_time))

    @property
    def curing(self) -> TimeTable | None:
        """Table of curing times, or None when the record has none."""
        return None if self.curing_time is None else TimeTable("curing", tuple(row.row for row in self.curing_time))

    def wet_factor(self, condition: HoleCondition | None) -> float:
        """Return what the curing times of the table are multiplied by.

        Holes of which nothing is known are taken to be wet, the safe reading.
        """
        return 1.0 if condition == "dry" or self.wet_curing_factor is None else self.wet_curing_factor

    @property
    def reach(self) -> float | None:
        """Deepest point that can be injected [mm], with a tube when there is one; None when the record does not say."""
        return self.extension_reach if self.extension_reach is not None else self.nozzle_reach

    def content_of_mixer(self, depth: Depth = 0.0) -> float:
        """Return what a mixer holds, and the tube that it takes to reach a depth.

        Parameters
        ----------
        depth : float [mm]
            Depth of the hole.

        Returns
        -------
        float [mm³]
            Without a tube when the nozzle alone reaches, or when the record says nothing of tubes.
        """
        beyond = max(depth - self.nozzle_reach, 0.0) if self.nozzle_reach is not None else 0.0
        per_length = (
            self.extension_volume / self.extension_length if self.extension_volume and self.extension_length else 0.0
        )
        return (self.mixer_volume or 0.0) + per_length * beyond

    def expired(self, on: datetime.date) -> bool:
        """Whether the packs are past their date on a day; False when the record has no date."""
        return self.expiry is not None and on > self.expiry

    def notices(self, display: Display = METRIC) -> tuple[str, ...]:
        """Return what a reader has to know of the record.

        Implausible tables, and temperatures that a table does not cover.
        """
        found: list[str] = []
        for table in (self.working, self.curing):
            if table is None:
                continue
            found += implausible_rows(table=table, display=display)
            allowed = self.base_temperature
            if allowed is not None and (allowed.low < table.low or allowed.high > table.high):
                span = display.temperatures(allowed.low, allowed.high)
                covered = display.temperatures(table.low, table.high)
                found.append(f"The record allows {span}, but its {table.kind} times cover {covered} only.")
        return tuple(found)


def equipment_notices(
    record: AdhesiveRecord, *, pack_volume: float, residual: float, discard_per_mixer: float, display: Display = METRIC
) -> tuple[str, ...]:
    """Name every value on which the adhesive record and the job file differ; the job file's value governs.

    Parameters
    ----------
    record
        The adhesive record.
    pack_volume, residual, discard_per_mixer : float [mm³]
        From the job file's ``[equipment]``.
    display
        How quantities are shown.

    Returns
    -------
    tuple of str
        One sentence for each difference; none for a key that the record does not hold.
    """
    used = {"pack_volume": pack_volume, "residual": residual, "discard_per_mixer": discard_per_mixer}
    pairs = ((key, value, getattr(record, key)) for key, value in used.items())
    return tuple(
        f"equipment.{key} of the job file, {display.amount(value, 'mm³')}, is used in place of the adhesive record's"
        f" {display.amount(own, 'mm³')}."
        for key, value, own in pairs
        if own is not None and not math.isclose(own, value, rel_tol=1e-9, abs_tol=1e-6)
    )
