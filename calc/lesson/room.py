"""What one class shares, and the file that keeps it.

A page that is loaded again, a browser that crashed, a lid that was closed: the class goes on where it was. What it
typed stands in one file in the working folder, which the trainer can read and delete.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, TypeAdapter, ValidationError

from calc.base.display import System
from calc.base.errors import CalcError
from calc.lesson.exercises import Attempt, exercises, result_sheet
from calc.lesson.numbers import Pair
from calc.lesson.texts import Texts

Stage = Literal["predict", "try", "reveal"]
STAGES: tuple[Stage, ...] = ("predict", "try", "reveal")
MOST_ENTRIES = 40
LARGEST_SEED = 999_999

_Volume = Annotated[float, Field(gt=0, allow_inf_nan=False)]
_Count = Annotated[int, Field(ge=0)]
_Seed = Annotated[int, Field(ge=0, le=LARGEST_SEED)]


class ClassFileError(CalcError):
    """The file that keeps a class cannot be read or written; the message is one sentence."""


@dataclass(frozen=True)
class Guess:
    """An amount [mm³] that was named for a hole: it is never judged against another one."""

    volume: _Volume
    hole: Pair


@dataclass(frozen=True)
class _Tries:
    """What one person did with one exercise."""

    tries: _Count
    solved: bool
    shown: bool
    mistakes: list[str]
    last: str


@dataclass(frozen=True)
class _Person:
    """One person's tries at the exercises of a class number, in the order of the exercises."""

    who: str
    system: System
    seed: _Seed
    tries: list[_Tries]


@dataclass(frozen=True)
class KeptClass:
    """What the file holds.

    ``page`` counts the pages that were opened, ``started`` is what the command was started with: units and language.
    """

    __pydantic_config__ = ConfigDict(extra="forbid")

    page: _Count
    started: list[str]
    system: System
    language: str
    seed: _Seed
    at: _Count
    stage: Stage
    guesses: list[Guess]
    votes: dict[str, str]
    shots: str
    setting: str
    density: str
    who: str
    people: list[_Person]


_KEPT = TypeAdapter(KeptClass)


def class_file(seed: int, folder: Path) -> Path:
    """Return the file that keeps a class with this number."""
    return folder / f"lesson-class-{seed}.json"


def read_class(path: Path) -> KeptClass | None:
    """Read what is kept of a class.

    Parameters
    ----------
    path
        The class's file.

    Returns
    -------
    KeptClass or None
        None when there is no such file.

    Raises
    ------
    ClassFileError
        The file cannot be read, or is none of these.
    """
    anew = "delete it or move it away, and the class starts anew"
    try:
        return _KEPT.validate_json(path.read_bytes())
    except FileNotFoundError:
        return None
    except OSError as error:
        raise ClassFileError(f"{path} cannot be read ({error.strerror}); {anew}") from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise ClassFileError(f"{path}: {f'{where}: ' if where else ''}{first['msg']}; {anew}") from None


def _write(path: Path, kept: KeptClass) -> None:
    try:
        handle, part = tempfile.mkstemp(prefix=".lesson-", dir=path.parent)
        try:
            with open(handle, "wb") as file:
                file.write(_KEPT.dump_json(kept, indent=1))
            os.replace(part, path)
        finally:
            Path(part).unlink(missing_ok=True)
    except OSError as error:
        raise ClassFileError(f"{path} cannot be written ({error.strerror})") from error


@dataclass
class Classroom:
    """What one class shares: units, language, its number, and what it typed.

    Without a ``file`` it is kept in memory only. ``trouble`` says why something could not be kept.
    """

    system: System = "metric"
    texts: Texts = field(default_factory=Texts)
    seed: int = 1
    guesses: list[Guess] = field(default_factory=list)
    votes: dict[str, str] = field(default_factory=dict)
    shots: str = ""
    setting: str = ""
    density: str = ""
    who: str = ""
    tried: dict[tuple[str, System, int], list[Attempt]] = field(default_factory=dict)
    at: int = 0
    stage: Stage = STAGES[0]
    file: Path | None = None
    trouble: str = ""
    page: int = 0
    started: list[str] = field(default_factory=list)
    told: Callable[[], None] = lambda: None  # called when there is something to say of the file

    # ---- the exercises, each person's own ----

    @property
    def attempts(self) -> list[Attempt]:
        """What the person at the keyboard tried with this class's exercises; a new name starts anew."""
        key = (self.who, self.system, self.seed)
        if key not in self.tried:
            self.tried[key] = [Attempt(one, number) for number, one in enumerate(exercises(*key[1:]), 1)]
        return self.tried[key]

    def sheet(self) -> str:
        """Write everybody's tries at this class's exercises as CSV."""
        here = {
            who: attempts
            for (who, *rest), attempts in self.tried.items()
            if rest == [self.system, self.seed] and (who == self.who or any(one.tries for one in attempts))
        }
        return result_sheet(here or {self.who: self.attempts}, seed=self.seed, texts=self.texts)

    # ---- the file ----

    def open(self, path: Path) -> None:
        """Go on with what a file keeps of the class, and keep in it from now on.

        A file that is none of these is left as it is, and nothing is kept.
        """
        self.started = [self.system, self.texts.language]
        try:
            kept = read_class(path)
        except ClassFileError as error:
            self.trouble = str(error)
            return
        self.file, self.page = path, 1
        if kept is not None:
            self._take(kept)
        self.keep()

    def _take(self, kept: KeptClass) -> None:
        self.page = kept.page + 1
        if kept.started == self.started:
            # Another command line is a wish of its own; a page that is loaded again is not.
            self.system, self.texts = kept.system, Texts(kept.language)
        self.guesses, self.votes = list(kept.guesses), dict(kept.votes)
        for name in ("seed", "at", "stage", "shots", "setting", "density", "who"):
            setattr(self, name, getattr(kept, name))
        for one in kept.people:
            made = exercises(one.system, one.seed)
            self.tried[one.who, one.system, one.seed] = [
                Attempt(exercise, number, did.tries, did.solved, did.shown, list(did.mistakes), did.last)
                for number, (exercise, did) in enumerate(zip(made, one.tries, strict=False), 1)
            ]

    def keep(self) -> None:
        """Write what the class shares; a page that was opened later has the file to itself."""
        if self.file is not None:
            try:
                self.trouble = self._written(self.file)
            except ClassFileError as error:
                self.trouble = str(error)
        self.told()

    def _written(self, file: Path) -> str:
        there = read_class(file)
        if there is not None and there.page > self.page:
            return self.texts.say("deck.other_page")
        _write(file, self._kept())
        return ""

    def _kept(self) -> KeptClass:
        people = [_Person(*key, _tries(attempts)) for key, attempts in self.tried.items()]
        return KeptClass(
            self.page, self.started, self.system, self.texts.language, self.seed, self.at, self.stage, self.guesses,
            self.votes, self.shots, self.setting, self.density, self.who, people,
        )  # fmt: skip


def _tries(attempts: Sequence[Attempt]) -> list[_Tries]:
    return [_Tries(one.tries, one.solved, one.shown, one.mistakes, one.last) for one in attempts]
