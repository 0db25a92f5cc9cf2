"""Tables of the job file as models: what may stand in it, key by key, each with its description.

Quantities are texts with a unit (``"330 mL"``); they become floats in mm, mm³, ° and °C. Nothing in a file is ever
evaluated.
"""

from __future__ import annotations

import itertools
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, field_validator, model_validator

from calc.base.bars import STANDARDS
from calc.base.errors import NotAccepted
from calc.files.design import Design
from calc.files.fields import (
    Angle,
    Code,
    Depth,
    Diameter,
    FolderName,
    Line,
    Note,
    PackVolume,
    Part,
    PartVolume,
    RoundingShare,
    StrokeVolume,
    Temperature,
    Title,
    TomlName,
    as_tuple,
)
from calc.files.foreign.reading import ScheduleFile
from calc.files.scatter import Cost, Evidence, Judgement, Overfill, Scatter
from calc.files.site import Site


class About(Part):
    """What the job is and who answers for it."""

    number: Code = Field(description="Job number; part of the package's folder name")
    revision: Code = Field(description="Revision of this calculation")
    title: Title = Field(description="Title; one line that says what is calculated")
    invented: bool = Field(description="Invented; true for a demonstration, and every page then says so")
    prepared_by: Line = Field(default="", description="Who prepared the calculation")
    checked_by: Line = Field(default="", description="Who checked it")
    site: Line = Field(default="", description="Where the bars are set")
    note: Note = Field(default="", description="Note; free text for the reader")


class DisplayTable(Part):
    """How results are shown; the calculation is the same in both."""

    units: Literal["metric", "us"] = Field(description="Units; metric (mm, mL) or us (in, fl oz)")


class Concrete(Part):
    """The base material."""

    temperature: Temperature | None = Field(
        default=None, description="Temperature of the concrete; not of the air [°C]"
    )
    description: Line = Field(default="", description="The concrete; free text, such as the strength class")


class AdhesiveFile(Part):
    """Where the adhesive record is."""

    record: TomlName = Field(description="Adhesive record; TOML file in the job's folder")


class Equipment(Part):
    """The pack, the dispenser and the drill bit. Volumes [mm³], angle [°]."""

    pack_volume: PackVolume = Field(description="Content of a pack; the volume in a full one")
    residual: PartVolume = Field(description="What stays in an emptied pack")
    discard_per_mixer: PartVolume = Field(description="Initial discard for each mixer")
    graduation: StrokeVolume | None = Field(
        default=None, description="Graduation of the dispenser; the smallest volume that it can be set to"
    )
    stroke: StrokeVolume | None = Field(
        default=None, description="Volume of one stroke; of a dispenser that is worked in strokes"
    )
    point_angle: Angle = Field(description="Point angle of the drill; the included angle, 180 ° is a flat bottom")
    rounding_share: RoundingShare = Field(
        default=0.5,
        description="Most that rounding up may add; share of the dose, 0.5 when left out (common practice, no source)",
    )

    @property
    def step(self) -> float:
        """What the dispenser gives at a time [mm³]: its stroke or its graduation."""
        return self.stroke if self.stroke is not None else self.graduation or 0.0

    @model_validator(mode="after")
    def _one_dispenser(self) -> Equipment:
        if (self.graduation is None) == (self.stroke is None):
            found = "neither is" if self.graduation is None else "both are"
            accepted = 'accepted: graduation = "1 mL" or stroke = "10 mL"'
            raise NotAccepted(f"give exactly one of graduation and stroke, here {found} given; {accepted}")
        if self.residual + self.discard_per_mixer >= self.pack_volume:
            raise NotAccepted(
                "residual and discard_per_mixer leave nothing of the pack; accepted: together less than pack_volume"
            )
        return self


class NotesFolder(Part):
    """What the engineer adds to the package, as typed: text and pictures, which nothing computes or checks."""

    folder: FolderName = Field(
        description="Engineer's notes; folder in the job's folder, with plain text in .md files and pictures"
    )


class MeasuredTable(Part):
    """A hole as measured: diameters [mm] at depths [mm] below the mouth."""

    depth: Annotated[tuple[Depth, ...], BeforeValidator(as_tuple)] = Field(
        description="Depths from the mouth; increasing from 0"
    )
    diameter: Annotated[tuple[Diameter, ...], BeforeValidator(as_tuple)] = Field(description="Diameter at each depth")

    @field_validator("depth")
    @classmethod
    def _increasing(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if len(value) < 2:
            raise NotAccepted("has fewer than two depths; accepted: at least two, the first 0 mm")
        if value[0] != 0.0:
            raise NotAccepted("does not start at the mouth; accepted: depths that start with 0 mm")
        if any(deeper <= depth for depth, deeper in itertools.pairwise(value)):
            raise NotAccepted("does not increase from each depth to the next; accepted: depths in increasing order")
        return value

    @model_validator(mode="after")
    def _same_length(self) -> MeasuredTable:
        if len(self.depth) != len(self.diameter):
            found = f"{len(self.depth)} depths and {len(self.diameter)} diameters do not match"
            raise NotAccepted(f"{found}; accepted: one diameter for each depth")
        return self


_RIBS = tuple(standard.key for standard in STANDARDS)


def _ribs(value: object) -> object:
    """Check the shares of a table of ribs: by standard, over the nominal diameter."""
    if not isinstance(value, dict):
        raise NotAccepted(
            f'is not a table; accepted: diameters over the ribs over the nominal ones, such as "{_RIBS[0]}" = 1.15'
        )
    for key, share in value.items():
        if key not in _RIBS:
            raise NotAccepted(f"has '{key}', which is no bar standard of the tables; accepted: {', '.join(_RIBS)}")
        if isinstance(share, bool) or not isinstance(share, (int, float)) or not 1.0 <= share <= 1.3:
            raise NotAccepted(f"has '{share}' for {key}; accepted: a number without quotation marks, from 1 to 1.3")
    return {key: float(share) for key, share in value.items()}


RibDiameters = Annotated[dict[str, float], BeforeValidator(_ribs)]


class JobFile(Part):
    """What stands in the job file itself."""

    schema_version: Literal[1] = Field(alias="schema", description="Version of this file format")
    job: About
    display: DisplayTable
    concrete: Concrete = Field(default_factory=Concrete)
    adhesive: AdhesiveFile
    equipment: Equipment
    overfill: Overfill
    schedule: ScheduleFile
    notes: NotesFolder | None = Field(default=None, description="Engineer's notes, for the package's second part")
    measured: dict[str, MeasuredTable] = Field(
        default_factory=dict, description="Measured holes, by the mark of their bar group"
    )
    ribs: RibDiameters = Field(
        default_factory=dict, description="Diameter of the bars over their ribs over the nominal one, by bar standard"
    )
    scatter: Scatter | None = Field(default=None, description="How much holes, bars and dispensing vary")
    evidence: dict[str, Evidence] = Field(
        default_factory=dict, description="Measured holes from which an overfill follows, by mark"
    )
    judgement: Judgement | None = Field(
        default=None, description="What is assumed of dosing by eye, to compare ways of dosing"
    )
    cost: Cost | None = Field(default=None, description="What adhesive and a short hole cost")
    design: Design | None = Field(
        default=None, description="Code, materials and forces, for the embedment that each bar needs"
    )
    site: Site | None = Field(default=None, description="Crew, times and temperatures, for the job's plan")


def json_schema() -> dict[str, Any]:
    """Return the JSON schema of the job file, for editors."""
    schema = JobFile.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "Job file"}
