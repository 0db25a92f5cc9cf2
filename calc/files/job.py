"""A job that has been read and checked: the tables of its files, and what was typed, as one frozen record."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from calc.base.display import SYSTEMS, Display
from calc.base.errors import NotAccepted, NotListed
from calc.files.adhesive import AdhesiveRecord
from calc.files.design import Design
from calc.files.notes.text import EngineersNote
from calc.files.reading import Place, dotted
from calc.files.scatter import Cost, Evidence, Judgement, Overfill, Scatter
from calc.files.schedule import BarGroup
from calc.files.site import Site
from calc.files.tables import About, Concrete, Equipment
from calc.fill.hole import MeasuredHole

JOB_FILE = "job.toml"
_DEMOS = (*SYSTEMS, "failing")


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
    typed: Mapping[Place, str]
    typed_record: Mapping[Place, str]
    path: Path
    adhesive_path: Path
    schedule_path: Path
    ribs: Mapping[str, float] = field(default_factory=dict)
    scatter: Scatter | None = None
    evidence: Mapping[str, Evidence] = field(default_factory=dict)
    judgement: Judgement | None = None
    cost: Cost | None = None
    design: Design | None = None
    site: Site | None = None
    notes: tuple[EngineersNote, ...] = ()
    read: str = field(default="", compare=False)

    @property
    def changed(self) -> bool:
        """Whether any of the input files holds something else than when it was read, or is gone."""
        return self.read != digest_of(self.files)

    @cached_property
    def origins(self) -> Mapping[str, str]:
        """What was typed into the job file, by dotted key."""
        return {dotted(place): text for place, text in self.typed.items()}

    @property
    def dispenser_unit(self) -> str:
        """The unit in which the file gives the dispenser's graduation, or the volume of its stroke."""
        key = "stroke" if self.equipment.stroke is not None else "graduation"
        return self.origins.get(f"equipment.{key}", "").partition(" ")[2].strip()

    @cached_property
    def _by_mark(self) -> Mapping[str, BarGroup]:
        return {group.mark: group for group in self.groups}

    def depth(self, group: BarGroup) -> float:
        """Depth of a group's holes at full diameter [mm]: as measured, or as drawn."""
        profile = self.measured.get(group.mark)
        return profile.end if profile else group.embedment + group.overdrill

    @cached_property
    def deepest(self) -> float:
        """The deepest of all holes [mm]."""
        return max(map(self.depth, self.groups), default=0.0)

    @property
    def folder(self) -> Path:
        """The folder that holds the job file."""
        return self.path.parent

    @property
    def files(self) -> tuple[Path, ...]:
        """The input files that were read."""
        measurements = {self.folder / one.file: None for one in self.evidence.values() if one.file is not None}
        noted = {path: None for note in self.notes for path in (note.path, *(one.path for one in note.pictures))}
        return (self.path, self.adhesive_path, self.schedule_path, *measurements, *noted)

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
        return self.display.system

    def group(self, mark: str) -> BarGroup:
        """Return the bar group with this mark; raises `NotListed` when there is none."""
        if mark in self._by_mark:
            return self._by_mark[mark]
        raise NotListed(f"no bar group has the mark '{mark}'; there are: {', '.join(g.mark for g in self.groups[:20])}")

    def over_bit(self, group: BarGroup) -> float | None:
        """Return what a group's holes are wider than the bit cuts [mm]; None where nobody says so.

        A measured hole, and a stated deviation of the hole's diameter, hold it already: then it is nothing.
        """
        keys = None if self.scatter is None else self.scatter.of(group.mark)
        if group.mark in self.measured or (keys is not None and "hole_diameter" in keys.spreads):
            return 0.0
        return None if keys is None else keys.over_bit

    def bored(self, group: BarGroup) -> float:
        """Return the diameter that a group's holes are planned with [mm].

        That of the drill, and what they are over the bit.
        """
        return group.hole_diameter + (self.over_bit(group) or 0.0)

    def overfill_of(self, group: BarGroup) -> float:
        """Return the share that holds for a group: its own, or the job's."""
        return self.overfill.share if group.overfill is None else group.overfill


def digest_of(files: Iterable[Path]) -> str:
    """Return one digest of what files hold; a file that is gone or cannot be read counts as such."""
    whole = hashlib.sha256()
    for path in files:
        try:
            whole.update(hashlib.sha256(path.read_bytes()).digest())
        except OSError:
            whole.update(b"gone")
    return whole.hexdigest()


def demo_job(units: str = "metric") -> Path:
    """Return the path of a demo job file that comes with the project; all its data are invented.

    Parameters
    ----------
    units
        ``"metric"``, ``"us"``, or ``"failing"``: a job in which each kind of check fails or is owed.

    Returns
    -------
    Path
        The ``job.toml`` of the demo.

    Raises
    ------
    NotAccepted
        For any other ``units``.
    """
    if units not in _DEMOS:
        raise NotAccepted(f"'{units}' is not a demo; accepted: {', '.join(_DEMOS)}")
    return Path(__file__).resolve().parent / "demo" / units / JOB_FILE


def copy_files(source: Path, folder: Path) -> None:
    """Copy a folder's files into a new folder, where they may be written: an installation's may be nobody's to write.

    Parameters
    ----------
    source
        A folder without folders in it, such as a demo's.
    folder
        The new one.
    """
    folder.mkdir(parents=True)
    for path in sorted(source.iterdir()):
        if path.is_file():
            shutil.copyfile(path, folder / path.name)


def is_demo(job: Job) -> bool:
    """Whether a job is a demo that comes with the project, which nobody is to write to."""
    return job.path.resolve() in {demo_job(units).resolve() for units in _DEMOS}
