"""Loading a job: the job file, the adhesive record and the bar schedule, with everything that is wrong in all of them.

What was typed is kept in `Job.typed` and `Job.typed_record`.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from calc.base.display import Display
from calc.files.adhesive import AdhesiveRecord
from calc.files.design import design_problems
from calc.files.fields import (
    Angle,
    ScheduleName,
    TomlName,
)
from calc.files.foreign.proposing import Proposal
from calc.files.foreign.reading import ScheduleFile
from calc.files.job import JOB_FILE, Job, digest_of
from calc.files.notes.text import EngineersNote, read_notes
from calc.files.problems import InputErrors, Problem, unknown_marks
from calc.files.reading import dotted, leaves, read_toml, validated
from calc.files.scatter import scatter_problems
from calc.files.schedule import BarGroup, propose_reading, read_schedule
from calc.files.tables import JobFile, MeasuredTable
from calc.fill.hole import MeasuredHole

# For reading one key when its table as a whole was refused; made once, because making one is slow.
_ANGLE_ALONE: TypeAdapter[float] = TypeAdapter(Angle)


_TOML_ALONE: TypeAdapter[str] = TypeAdapter(TomlName)


_SCHEDULE_ALONE: TypeAdapter[str] = TypeAdapter(ScheduleName)


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
    if place != file and not os.path.exists(file):
        message = f"the folder has no {JOB_FILE}; accepted: a job file, or a folder that holds {JOB_FILE}"
        raise InputErrors([Problem(str(place), "", "", message)])
    problems: list[Problem] = []
    raw = read_toml(file, file.name if os.path.exists(file) else str(path), problems)
    if raw is None:
        raise InputErrors(problems)
    typed = leaves(raw)
    head = validated(JobFile, raw, file.name, problems)
    folder = file.parent
    adhesive_path = _linked(raw, "adhesive", "record", _TOML_ALONE, folder, file.name, problems)
    adhesive: AdhesiveRecord | None = None
    record: dict[str, Any] | None = None
    if adhesive_path is not None:
        name = adhesive_path.relative_to(folder).as_posix()
        record = read_toml(adhesive_path, name, problems)
        adhesive = None if record is None else validated(AdhesiveRecord, record, name, problems)
    schedule_path = _linked(raw, "schedule", "file", _SCHEDULE_ALONE, folder, file.name, problems)
    groups: tuple[BarGroup, ...] = ()
    if schedule_path is not None:
        groups, wrong = read_schedule(
            schedule_path,
            name=schedule_path.relative_to(folder).as_posix(),
            point_angle=_point_angle(raw),
            how=_reading(raw),
        )
        problems += wrong
        if head is not None and not wrong:
            problems += _measured_problems(head.measured, raw, groups, file.name)
            problems += scatter_problems(
                overfill=head.overfill,
                scatter=head.scatter,
                cost=head.cost,
                evidence=head.evidence,
                groups=groups,
                folder=folder,
                file=file.name,
            )
            if head.site is not None:
                marks = {mark: None for day in head.site.days for mark in day.groups}
                problems += unknown_marks(file.name, "site.days.groups", marks, {group.mark for group in groups})
            if head.design is not None:
                origins = {dotted(place): text for place, text in typed.items()}
                problems += design_problems(head.design, groups, origins, file.name)
    notes = _notes(head, folder, file.name, problems)
    if problems or head is None or adhesive is None or record is None or adhesive_path is None or schedule_path is None:
        raise InputErrors(problems)
    job = Job(
        job=head.job,
        display=Display(head.display.units),
        concrete=head.concrete,
        adhesive=adhesive,
        equipment=head.equipment,
        overfill=head.overfill,
        measured={
            mark: MeasuredHole(table.depth, table.diameter, head.equipment.point_angle)
            for mark, table in head.measured.items()
        },
        groups=groups,
        typed=typed,
        typed_record=leaves(record),
        path=file,
        adhesive_path=adhesive_path,
        schedule_path=schedule_path,
        ribs=head.ribs,
        scatter=head.scatter,
        evidence=head.evidence,
        judgement=head.judgement,
        cost=head.cost,
        design=head.design,
        site=head.site,
        notes=notes,
    )
    job = replace(job, read=digest_of(job.files))
    if job.scatter is not None:
        from calc.work.overfill.setting import refuse_impossible

        refuse_impossible(job)
    return job


def reading_to_agree(path: str | os.PathLike[str]) -> tuple[Path, Proposal] | None:
    """Look whether a job's schedule is in another form than the workbook's own, and how it could be read.

    Parameters
    ----------
    path
        A job file, or its folder.

    Returns
    -------
    tuple or None
        The job file, and what to agree to; None where the job file cannot be read, says already how, or nothing is
        found.
    """
    file = Path(path) / JOB_FILE if Path(path).is_dir() else Path(path)
    raw = read_toml(file, file.name, []) or {}
    if not isinstance(raw.get("schedule"), dict) or raw["schedule"].keys() != {"file"}:
        return None
    schedule = _linked(raw, "schedule", "file", _SCHEDULE_ALONE, file.parent, file.name, [])
    found = None if schedule is None else propose_reading(schedule)
    return None if found is None else (file, found)


def _notes(head: JobFile | None, folder: Path, file: str, problems: list[Problem]) -> tuple[EngineersNote, ...]:
    """Read the engineer's notes, whose files have names that no other input has: the PDF carries all by their names."""
    if head is None or head.notes is None:
        return ()
    notes = read_notes(folder / head.notes.folder, job=folder, file=file, problems=problems)
    taken = {path.name: path for path in (folder / file, folder / head.adhesive.record, folder / head.schedule.file)}
    for note in notes:
        for path in (note.path, *(one.path for one in note.pictures)):
            if taken.setdefault(path.name, path) != path:
                said = "has the name of another input; accepted: a name that no other input has"
                problems.append(Problem(note.path.relative_to(folder).as_posix(), "", path.name, said))
    return notes


def _linked(
    raw: Mapping[str, Any],
    table: str,
    key: str,
    kind: TypeAdapter[str],
    folder: Path,
    file: str,
    problems: list[Problem],
) -> Path | None:
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


def _reading(raw: Mapping[str, Any]) -> ScheduleFile | None:
    """Return how the schedule is read; None where that was refused already."""
    try:
        return ScheduleFile.model_validate(raw["schedule"])
    except ValidationError:
        return None


def _point_angle(raw: Mapping[str, Any]) -> float | None:
    try:
        return _ANGLE_ALONE.validate_python(raw["equipment"]["point_angle"])
    except (ValidationError, KeyError, TypeError):
        return None


def _measured_problems(
    measured: Mapping[str, MeasuredTable], raw: Mapping[str, Any], groups: tuple[BarGroup, ...], file: str
) -> list[Problem]:
    by_mark = {group.mark: group for group in groups}
    problems = unknown_marks(file, "measured", measured, by_mark)
    for mark, hole in measured.items():
        if mark not in by_mark:
            continue
        group, place = by_mark[mark], f"key measured.{mark}"
        typed = raw["measured"][mark]
        needed = group.embedment + group.overdrill
        if hole.depth[-1] < needed - 1e-6:
            message = (
                f"does not reach the end of the hole; accepted: a last depth of {needed:.5g} mm (embedment and"
                " overdrill) or more"
            )
            problems.append(Problem(file, f"{place}.depth[{len(hole.depth) - 1}]", typed["depth"][-1], message))
        for i, diameter in enumerate(hole.diameter):
            if diameter <= group.bar.diameter:
                phi = f"{group.bar.diameter:.5g} mm"
                message = f"is not larger than the bar {group.bar.designation}, {phi}; accepted: a diameter above {phi}"
                problems.append(Problem(file, f"{place}.diameter[{i}]", typed["diameter"][i], message))
    return problems
