"""What is wrong with an input file, one sentence each, and the exception that carries all of them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from calc.base.errors import CalcError

_LONGEST_SHOWN = 80
_LONGEST_FILE = 200
_MOST_TOLD = 50
_QUOTED = re.compile(r"'.*?' (?=has |is |needs |divides |cannot )", re.DOTALL)


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: ``schedule.csv, row 4, column hole_diameter: '16,5' has a comma; write …``.

    Parameters
    ----------
    file
        Name of the file, as the job file calls it.
    place
        Row and column, or key; empty when the whole file is meant.
    value
        What was found there; empty when nothing was.
    message
        The rest of the sentence: what is wrong with the value and what is accepted.
    """

    file: str
    place: str
    value: str
    message: str

    def __str__(self) -> str:
        """Return the sentence."""
        where = ", ".join(part for part in (_shown(self.file, _LONGEST_FILE), self.place) if part)
        what = f"'{_shown(self.value)}' {self.message}" if self.value else self.message
        return f"{where}: {what}"


class InputErrors(CalcError):
    """Everything that is wrong with the files of a job, told at once."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        """Return one sentence per line, of the first fifty."""
        lines = [str(problem) for problem in self.problems[:_MOST_TOLD]]
        if (more := len(self.problems) - _MOST_TOLD) > 0:
            lines.append(f"… and {more} more, told when these are gone.")
        return "\n".join(lines)


def _shown(text: str, longest: int = _LONGEST_SHOWN) -> str:
    """Return text that fits into a sentence: on one line, and cut when it is long."""
    line = "".join(c if c.isprintable() else " " for c in text)
    return line if len(line) <= longest else line[: longest - 1] + "…"


def without_value(message: str) -> str:
    """Return a message without the quoted value that it starts with, because a `Problem` puts its own in front."""
    return _QUOTED.sub("", message, count=1) if message.startswith("'") else message


def unknown_marks(file: str, table: str, marks: Iterable[str], known: Collection[str]) -> list[Problem]:
    """Name the tables of the job file whose mark no bar group of the schedule has."""
    found = []
    for mark in marks:
        if mark not in known:
            near = nearest(mark, known)
            hint = f"; did you mean {near}?" if near else ""
            message = f"is not the mark of a bar group in the schedule{hint}"
            found.append(Problem(file, f"key {table}.{mark}", mark, message))
    return found


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that looks most like ``name``, or None when none is close."""
    by_fold = {k.casefold(): k for k in known}
    close = difflib.get_close_matches(name.casefold().strip().replace(" ", "_"), list(by_fold), n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None
