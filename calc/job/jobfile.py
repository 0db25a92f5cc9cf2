"""The job file: a TOML file that names everything a job needs, read strictly into frozen models.

`load_job` reads the job file, the adhesive record and the bar schedule, and raises `InputErrors` with everything that is wrong
in all of them. Quantities are texts with a unit (``"330 mL"``); they become floats in mm, mm³, ° and °C, and `Job.origins` keeps
what was typed. Nothing in the files is ever evaluated.
"""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar, get_args, get_origin

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationError, field_validator, model_validator

from calc.fill.hole import MeasuredHole
from calc.job.adhesivefile import AdhesiveRecord
from calc.job.designfile import Design, design_problems
from calc.job.fields import (
    Angle,
    Code,
    Depth,
    Diameter,
    Line,
    Note,
    PackVolume,
    Part,
    PartVolume,
    ScheduleName,
    StrokeVolume,
    Temperature,
    Title,
    TomlName,
    as_tuple,
)
from calc.job.problems import InputErrors, Problem, nearest
from calc.job.scatterfile import Cost, Evidence, Judgement, Overfill, Scatter, scatter_problems
from calc.job.schedule import BarGroup, decode, read_bytes, read_schedule
from calc.job.sitefile import Site

Model = TypeVar("Model", bound="Part")
JOB_FILE = "job.toml"
_DEMOS = {"metric": "metric", "us": "us"}


# For reading one key when its table as a whole was refused; made once, because making one is slow.
_ANGLE_ALONE: TypeAdapter[float] = TypeAdapter(Angle)
_TOML_ALONE: TypeAdapter[str] = TypeAdapter(TomlName)
_SCHEDULE_ALONE: TypeAdapter[str] = TypeAdapter(ScheduleName)


class About(Part):
    """What the job is and who answers for it."""

    number: Code = Field(description="Job number; part of the package's folder name")
    revision: Code = Field(description="Revision of this calculation")
    title: Title = Field(description="One line that says what is calculated")
    invented: bool = Field(description="true for a demonstration; every page then says so")
    prepared_by: Line = Field(default="", description="Who prepared the calculation")
    checked_by: Line = Field(default="", description="Who checked it")
    site: Line = Field(default="", description="Where the bars are set")
    note: Note = Field(default="", description="Free text for the reader")


class Display(Part):
    """How results are shown; the calculation is the same in both."""

    units: Literal["metric", "us"] = Field(description="metric (mm, mL) or us (in, fl oz)")


class Concrete(Part):
    """The base material."""

    temperature: Temperature | None = Field(default=None, description="Temperature of the concrete, not of the air [°C]")
    description: Line = Field(default="", description="Free text, such as the strength class")


class AdhesiveFile(Part):
    """Where the adhesive record is."""

    record: TomlName = Field(description="TOML file in the job's folder")


class Equipment(Part):
    """The pack, the dispenser and the drill bit. Volumes [mm³], angle [°]."""

    pack_volume: PackVolume = Field(description="Volume in a full pack")
    residual: PartVolume = Field(description="Volume that stays in an empty pack")
    discard_per_mixer: PartVolume = Field(description="Volume thrown away at the start of each mixer")
    graduation: StrokeVolume | None = Field(default=None, description="Smallest volume that the dispenser can be set to")
    stroke: StrokeVolume | None = Field(default=None, description="Volume of one stroke of the dispenser")
    point_angle: Angle = Field(description="Included angle of the drill bit's point; 180 ° is a flat bottom")

    @property
    def step(self) -> float:
        """What the dispenser gives at a time [mm³]: its stroke or its graduation."""
        return self.stroke if self.stroke is not None else self.graduation or 0.0

    @model_validator(mode="after")
    def _one_dispenser(self) -> Equipment:
        if (self.graduation is None) == (self.stroke is None):
            found = "neither is" if self.graduation is None else "both are"
            accepted = 'accepted: graduation = "1 mL" or stroke = "10 mL"'
            raise ValueError(f"give exactly one of graduation and stroke, here {found} given; {accepted}")
        if self.residual + self.discard_per_mixer >= self.pack_volume:
            raise ValueError("residual and discard_per_mixer leave nothing of the pack; accepted: together less than pack_volume")
        return self


class ScheduleFile(Part):
    """Where the bar schedule is."""

    file: ScheduleName = Field(description="CSV or XLSX file in the job's folder")


class MeasuredTable(Part):
    """A hole as measured: diameters [mm] at depths [mm] below the mouth."""

    depth: Annotated[tuple[Depth, ...], BeforeValidator(as_tuple)] = Field(description="Depths from the mouth, increasing from 0")
    diameter: Annotated[tuple[Diameter, ...], BeforeValidator(as_tuple)] = Field(description="Diameter at each depth")

    @field_validator("depth")
    @classmethod
    def _increasing(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if len(value) < 2:
            raise ValueError("has fewer than two depths; accepted: at least two, the first 0 mm")
        if value[0] != 0.0:
            raise ValueError("does not start at the mouth; accepted: depths that start with 0 mm")
        if any(deeper <= depth for depth, deeper in itertools.pairwise(value)):
            raise ValueError("does not increase from each depth to the next; accepted: depths in increasing order")
        return value

    @model_validator(mode="after")
    def _same_length(self) -> MeasuredTable:
        if len(self.depth) != len(self.diameter):
            found = f"{len(self.depth)} depths and {len(self.diameter)} diameters do not match"
            raise ValueError(f"{found}; accepted: one diameter for each depth")
        return self


class JobFile(Part):
    """What stands in the job file itself."""

    schema_version: Literal[1] = Field(alias="schema", description="Version of this file format")
    job: About
    display: Display
    concrete: Concrete = Field(default_factory=Concrete)
    adhesive: AdhesiveFile
    equipment: Equipment
    overfill: Overfill
    schedule: ScheduleFile
    measured: dict[str, MeasuredTable] = Field(default_factory=dict, description="Measured holes, by the mark of their bar group")
    scatter: Scatter | None = Field(default=None, description="How much holes, bars and dispensing vary")
    evidence: dict[str, Evidence] = Field(default_factory=dict, description="Measured holes from which an overfill follows, by mark")
    judgement: Judgement | None = Field(default=None, description="What is assumed of dosing by eye, to compare ways of dosing")
    cost: Cost | None = Field(default=None, description="What adhesive and a short hole cost")
    design: Design | None = Field(default=None, description="Code, materials and forces, for the embedment that each bar needs")
    site: Site | None = Field(default=None, description="Crew, times and temperatures, for the job's plan")


@dataclass(frozen=True)
class Job:
    """A job that has been read and checked: volumes [mm³], lengths [mm], angle [°], temperature [°C]."""

    job: About
    display: Display
    concrete: Concrete
    adhesive: AdhesiveRecord
    equipment: Equipment
    overfill: Overfill
    measured: Mapping[str, MeasuredHole]
    groups: tuple[BarGroup, ...]
    origins: Mapping[str, str]
    path: Path
    adhesive_path: Path
    schedule_path: Path
    scatter: Scatter | None = None
    evidence: Mapping[str, Evidence] = field(default_factory=dict)
    judgement: Judgement | None = None
    cost: Cost | None = None
    design: Design | None = None
    site: Site | None = None

    @property
    def folder(self) -> Path:
        """The folder that holds the job file."""
        return self.path.parent

    @property
    def files(self) -> tuple[Path, ...]:
        """The input files that were read."""
        measurements = {self.folder / one.file: None for one in self.evidence.values() if one.file is not None}
        return (self.path, self.adhesive_path, self.schedule_path, *measurements)

    @property
    def schedule_file(self) -> Path:
        """The bar schedule."""
        return self.schedule_path

    @property
    def number(self) -> str:
        """The job number."""
        return self.job.number

    @property
    def revision(self) -> str:
        """The revision."""
        return self.job.revision

    @property
    def title(self) -> str:
        """The title."""
        return self.job.title

    @property
    def units(self) -> str:
        """Units for display: ``"metric"`` or ``"us"``."""
        return self.display.units

    def group(self, mark: str) -> BarGroup:
        """Return the bar group with this mark; raises KeyError with a sentence when there is none."""
        for group in self.groups:
            if group.mark == mark:
                return group
        raise KeyError(f"no bar group has the mark '{mark}'; there are: {', '.join(g.mark for g in self.groups[:20])}")

    def overfill_of(self, group: BarGroup) -> float:
        """Return the share that holds for a group: its own, or the job's."""
        return self.overfill.share if group.overfill is None else group.overfill


def json_schema() -> dict[str, Any]:
    """Return the JSON schema of the job file, for editors."""
    schema = JobFile.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "Job file"}


def demo_job(units: str = "metric") -> Path:
    """Return the path of a demo job file that comes with the project; all its data are invented.

    Parameters
    ----------
    units
        ``"metric"`` or ``"us"``.

    Returns
    -------
    Path
        The ``job.toml`` of the demo.

    Raises
    ------
    ValueError
        For any other ``units``.
    """
    if units not in _DEMOS:
        raise ValueError(f"'{units}' is not a demo; accepted: {', '.join(_DEMOS)}")
    return Path(__file__).resolve().parent / "demo" / _DEMOS[units] / JOB_FILE


def load_job(path: str | Path) -> Job:
    """Read a job file, its adhesive record and its bar schedule.

    Parameters
    ----------
    path
        The job file, or a folder that holds a ``job.toml``.

    Returns
    -------
    Job
        Frozen; lengths [mm], volumes [mm³], angle [°], temperature [°C].

    Raises
    ------
    InputErrors
        With everything that is wrong in the three files.
    """
    place = Path(path)
    try:
        file = place / JOB_FILE if place.is_dir() else place
    except (OSError, ValueError):
        file = place
    if place != file and not file.exists():
        message = f"the folder has no {JOB_FILE}; accepted: a job file, or a folder that holds {JOB_FILE}"
        raise InputErrors([Problem(str(place), "", "", message)])
    problems: list[Problem] = []
    raw = _read_toml(file, str(path) if not file.exists() else file.name, problems)
    if raw is None:
        raise InputErrors(problems)
    head = _validated(JobFile, raw, file.name, problems)
    folder = file.parent
    adhesive_path = _linked(raw, "adhesive", "record", _TOML_ALONE, folder, file.name, problems)
    adhesive: AdhesiveRecord | None = None
    if adhesive_path is not None:
        name = adhesive_path.relative_to(folder).as_posix()
        record = _read_toml(adhesive_path, name, problems)
        adhesive = None if record is None else _validated(AdhesiveRecord, record, name, problems)
    schedule_path = _linked(raw, "schedule", "file", _SCHEDULE_ALONE, folder, file.name, problems)
    groups: tuple[BarGroup, ...] = ()
    if schedule_path is not None:
        groups, wrong = read_schedule(schedule_path, name=schedule_path.relative_to(folder).as_posix(), point_angle=_point_angle(raw))
        problems += wrong
        if head is not None and not wrong:
            problems += _measured_problems(head.measured, raw, groups, file.name)
            problems += scatter_problems(
                overfill=head.overfill, scatter=head.scatter, cost=head.cost, evidence=head.evidence, groups=groups, folder=folder, file=file.name
            )
            if head.design is not None:
                problems += design_problems(head.design, groups, _origins(raw), file.name)
    if problems or head is None or adhesive is None or adhesive_path is None or schedule_path is None:
        raise InputErrors(problems)
    job = Job(
        job=head.job,
        display=head.display,
        concrete=head.concrete,
        adhesive=adhesive,
        equipment=head.equipment,
        overfill=head.overfill,
        measured={mark: MeasuredHole(table.depth, table.diameter, head.equipment.point_angle) for mark, table in head.measured.items()},
        groups=groups,
        origins=_origins(raw),
        path=file,
        adhesive_path=adhesive_path,
        schedule_path=schedule_path,
        scatter=head.scatter,
        evidence=head.evidence,
        judgement=head.judgement,
        cost=head.cost,
        design=head.design,
        site=head.site,
    )
    if job.scatter is not None:
        from calc.job.overfill import refuse_impossible

        refuse_impossible(job)
    return job


def _read_toml(path: Path, name: str, problems: list[Problem]) -> dict[str, Any] | None:
    try:
        return tomllib.loads(decode(read_bytes(path)))
    except InputErrors as error:
        problems += [Problem(name, p.place, p.value, p.message) for p in error.problems]
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        where = re.search(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)", str(error))
        place = f"line {where[1]}, column {where[2]}" if where and where[1] else "last line" if where else ""
        reason = str(error)[: where.start()] if where else str(error)
        hint = 'accepted: TOML, such as title = "Wall 3", with every text in quotation marks'
        problems.append(Problem(name, place, "", f"the line cannot be read ({reason[:1].lower()}{reason[1:]}); {hint}"))
    return None


def _linked(raw: Mapping[str, Any], table: str, key: str, kind: TypeAdapter[str], folder: Path, file: str, problems: list[Problem]) -> Path | None:
    """Return the path of a file that the job file names, or None when the name was refused already."""
    section = raw.get(table)
    text = section.get(key) if isinstance(section, dict) else None
    try:
        path = folder / kind.validate_python(text)
    except ValidationError:
        return None
    if path.exists() and not path.resolve().is_relative_to(folder.resolve()):
        message = "leads out of the job's folder by a link; accepted: a file inside the job's folder"
        problems.append(Problem(file, f"key {table}.{key}", str(text), message))
        return None
    return path


def _point_angle(raw: Mapping[str, Any]) -> float | None:
    try:
        return _ANGLE_ALONE.validate_python(raw["equipment"]["point_angle"])
    except (ValidationError, KeyError, TypeError):
        return None


def _origins(raw: Mapping[str, Any], prefix: str = "") -> dict[str, str]:
    """List what was typed, by dotted key."""
    found: dict[str, str] = {}
    for key, value in raw.items():
        if isinstance(value, dict):
            found |= _origins(value, f"{prefix}{key}.")
        elif isinstance(value, list):
            found |= {f"{prefix}{key}[{i}]": _typed(item) for i, item in enumerate(value)}
        else:
            found[f"{prefix}{key}"] = _typed(value)
    return found


def _typed(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _measured_problems(measured: Mapping[str, MeasuredTable], raw: Mapping[str, Any], groups: tuple[BarGroup, ...], file: str) -> list[Problem]:
    problems: list[Problem] = []
    by_mark = {group.mark: group for group in groups}
    for mark, hole in measured.items():
        group = by_mark.get(mark)
        place = f"key measured.{mark}"
        if group is None:
            near = nearest(mark, by_mark)
            hint = f"; did you mean {near}?" if near else ""
            problems.append(Problem(file, place, mark, f"is not the mark of a bar group in the schedule{hint}"))
            continue
        typed = raw["measured"][mark]
        needed = group.embedment + group.overdrill
        if hole.depth[-1] < needed - 1e-6:
            message = f"does not reach the end of the hole; accepted: a last depth of {needed:.5g} mm (embedment and overdrill) or more"
            problems.append(Problem(file, f"{place}.depth[{len(hole.depth) - 1}]", typed["depth"][-1], message))
        for i, diameter in enumerate(hole.diameter):
            if diameter <= group.bar.diameter:
                phi = f"{group.bar.diameter:.5g} mm"
                message = f"is not larger than the bar {group.bar.designation}, {phi}; accepted: a diameter above {phi}"
                problems.append(Problem(file, f"{place}.diameter[{i}]", typed["diameter"][i], message))
    return problems


# ---- from the validator's errors to sentences ----


def _validated(model: type[Model], raw: Mapping[str, Any], file: str, problems: list[Problem]) -> Model | None:
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        found = [_problem(dict(item), model, file) for item in error.errors(include_url=False)]
    misspelt = {near for problem, near in found if near}
    # A misspelt key is told once, not a second time as missing.
    problems += [p for p, near in found if near or p.message[:7] != "the key" or p.place.removeprefix("key ") not in misspelt]
    return None


def _dotted(location: tuple[int | str, ...]) -> str:
    text = ""
    for part in location:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _table_in(annotation: Any) -> type[Part] | None:
    """Return the table that a field holds, alone, as one of several kinds, or as what a mapping or a list is made of."""
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    if get_origin(annotation) is Literal:
        return None
    return next((found for part in get_args(annotation) if (found := _table_in(part))), None)


def _is_mapping(annotation: Any) -> bool:
    return get_origin(annotation) is dict or any(get_origin(part) is dict for part in get_args(annotation))


def _find(model: type[Part], location: tuple[int | str, ...]) -> tuple[type[Part] | None, Any]:
    """Return the table that the last part of ``location`` stands in, and the field that it names there."""
    here, field, named = model, None, True
    for part in location:
        if field is not None:
            inner = _table_in(field.annotation)
            if inner is None:
                return here, field
            # The key after a mapping's own is a name that the user chose, or a place in a list.
            if named and (_is_mapping(field.annotation) or isinstance(part, int)):
                named = False
                continue
            here = inner
        found = next((f for name, f in here.model_fields.items() if (f.alias or name) == part), None)
        field, named = found, True
        if found is None:
            return here, None
    return here, field


def _keys(model: type[Part], location: tuple[int | str, ...]) -> list[str]:
    """Return the keys that the table that holds the last part of ``location`` knows."""
    here, _ = _find(model, location)
    return [] if here is None else [field.alias or name for name, field in here.model_fields.items()]


def _problem(item: dict[str, Any], model: type[Part], file: str) -> tuple[Problem, str]:
    """Return the sentence for one error, and the dotted key that a misspelt one probably means."""
    location: tuple[int | str, ...] = item["loc"]
    # Behind a key of type "this or nothing" the validator appends the type's name; people did not type that.
    key, kind, value = _dotted(location), item["type"], item.get("input")
    place = f"key {key}" if key else ""
    if kind == "missing":
        return Problem(file, place, "", f"the key {key} is missing; {_wanted(model, location)}"), ""
    if kind == "extra_forbidden":
        keys = _keys(model, location)
        near = nearest(str(location[-1]), keys)
        hint = f"did you mean {near}? " if near else ""
        message = f"is not a key that is read here; {hint}Accepted keys: {', '.join(keys)}"
        return Problem(file, place, str(location[-1]), message), _dotted((*location[:-1], near)) if near else ""
    text = "" if isinstance(value, (dict, list, tuple, Part)) else _typed(value)
    return Problem(file, place, text, _sentence(kind, item)), ""


def _wanted(model: type[Part], location: tuple[int | str, ...]) -> str:
    _, field = _find(model, location)
    if field is not None and isinstance(field.annotation, type) and issubclass(field.annotation, Part):
        return f"add the table [{_dotted(location)}]"
    description = field.description if field is not None else None
    return f"add it: {description}" if description else "add it"


def _sentence(kind: str, item: dict[str, Any]) -> str:
    context = item.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind == "literal_error":
        return f"is not accepted; accepted: {str(context['expected']).replace(' or ', ', ')}"
    simple = {
        "string_type": "is not a text; accepted: text in quotation marks",
        "bool_type": "is not accepted; accepted: true or false, without quotation marks",
        "float_type": "is not a bare number; accepted: a number without quotation marks, such as 0.10",
        "model_type": "a table is expected here; write its keys below a line with its name in square brackets",
        "dict_type": "tables are expected here, one for each mark, such as [measured.B1]",
        "tuple_type": 'a list is expected here, such as ["0 mm", "200 mm"]',
        "finite_number": "is not a finite number; accepted: a number such as 0.10",
    }
    if kind in simple:
        return simple[kind]
    edges = {"greater_than_equal": ("ge", "or more"), "less_than_equal": ("le", "or less"), "greater_than": ("gt", "above"), "less_than": ("lt", "below")}
    if kind in edges:
        key, words = edges[kind]
        edge = f"{context[key]:g}"
        return f"is out of range; accepted: {f'{words} {edge}' if words in ('above', 'below') else f'{edge} {words}'}"
    if kind == "string_too_long":
        return f"is too long; accepted: up to {context['max_length']} characters"
    if kind == "string_too_short":
        return "the text is empty; accepted: a line of text"
    return f"is not accepted: {item['msg']}"
