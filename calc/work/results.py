"""results.json: the numbers of a job, computed from the job file alone."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from calc.base.canonical import canonical
from calc.base.display import utilisation_text
from calc.base.errors import NotAccepted
from calc.base.identity import DOSE
from calc.base.sheet import Check, Joined, Notice, Sheet, as_data, joined
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.strength.cautions import DEFERRING
from calc.work.cautions import cautions, not_covered, weight_of
from calc.work.checkkeys import Sources
from calc.work.dose import Worked
from calc.work.plan.planned import PlanWork
from calc.work.plan.volumes import VOLUMES, Use
from calc.work.whole import Part, work_whole

RESULTS_SCHEMA = 2
NULLS = (
    "null means that the job file does not give what it takes: short_fill_probability needs [scatter], a force needs"
    " [design], times need [site]"
)
# Notices of values that nobody stated, or that are from memory: page 1 lists them as open.
ASSUMED = frozenset(
    {"defaults", "assumed", "strength_from", "bit", "approval", "job_lacks", "record_lacks", "first_order"}
)

_Kind = TypeVar("_Kind")


def gathered(notices: Iterable[Notice]) -> list[Joined]:
    """Name each notice once: those that say the same of several bar groups are joined.

    With all the groups' marks in front.

    Notices that differ in a share alone count as the same, and the joined one gives the smallest and the largest.
    """
    alike: dict[tuple[str, str], list[Notice]] = {}
    for notice in notices:
        alike.setdefault((notice.text, notice.lead if notice.mark is not None else ""), []).append(notice)
    return [joined(several) for several in alike.values()]


def _said(check: Check) -> str:
    reason = check.reason[:1].upper() + check.reason[1:]
    return "; ".join(filter(None, (reason, check.advice)))


def _counted(failed: Sequence[Check], owed: Sequence[Check], among: int) -> str:
    """Count the checks that fail and those that are owed, in words."""
    fail = f"{len(failed)} of {among} checks FAIL"
    if not owed:
        return fail
    lack = f"{len(owed)}{'' if failed else f' of {among} checks'} {'is' if len(owed) == 1 else 'are'} owed"
    return f"{fail} and {lack}" if failed else lack


@dataclass(frozen=True)
class Results:
    """Everything that was computed for a job."""

    job: Job
    worked: tuple[Worked, ...]
    parts: tuple[Part, ...] = ()

    @cached_property
    def sheet(self) -> Sheet:
        """All steps, checks and notices of the dose notebook."""
        return Sheet.of(DOSE, (one.sheet for one in self.worked))

    @cached_property
    def sheets(self) -> tuple[Sheet, ...]:
        """The sheet of every notebook, in order."""
        return tuple(sorted((self.sheet, *(part.sheet for part in self.parts)), key=lambda sheet: sheet.notebook))

    def part(self, kind: type[_Kind]) -> _Kind | None:
        """Return the part of one notebook; None when the job gives it nothing to compute."""
        return next((part for part in self.parts if isinstance(part, kind)), None)

    def sheet_of(self, notebook: str) -> Sheet:
        """Return a notebook's sheet, empty when the job gives it nothing to compute."""
        return next((sheet for sheet in self.sheets if sheet.notebook == notebook), Sheet(notebook))

    @property
    def checks(self) -> tuple[Check, ...]:
        """The checks of every notebook."""
        return tuple(check for sheet in self.sheets for check in sheet.checks)

    @property
    def holes(self) -> int:
        """Number of holes of the job."""
        return sum(one.case.count for one in self.worked)

    @property
    def use(self) -> Use:
        """What the work uses, what becomes of it, and what is bought."""
        plan = self.part(PlanWork)
        assert plan is not None, "every computed job has a plan"
        return plan.use

    @property
    def verdict(self) -> str:
        """How many checks pass, and the first that does not."""
        checks = self.checks
        failed = [check for check in checks if check.verdict == "fails"]
        owed = [check for check in checks if check.verdict == "owed"]
        first = next(iter((*failed, *owed)), None)
        most = max((c.utilisation for c in checks if c.utilisation is not None), default=0.0)
        if first is None:
            return f"All {len(checks)} checks pass; highest utilisation {utilisation_text(most)}."
        return f"{_counted(failed, owed, len(checks))}, first: {first.title}. {_said(first)}."

    @property
    def dispensed(self) -> str:
        """What goes into all holes, and what becomes of it."""
        write, use = self.job.display.job_volume, self.use
        return (
            f"{VOLUMES['dose'].words.capitalize()} into all {self.holes} holes: {write(use.dispensed)}, of which"
            f" {write(use.in_holes)} {VOLUMES['in_holes'].words} and {write(use.overflow)}"
            f" {VOLUMES['waste_overflow'].words}."
        )

    @property
    def headline(self) -> tuple[str, str, str]:
        """The three lines that a hurried person needs."""
        doses = "; ".join(f"{one.case.mark} {one.dispense_text}" for one in self.worked[:8])
        more = f"; and {len(self.worked) - 8} more groups" if len(self.worked) > 8 else ""
        dose = f"Dose for each hole: {doses}{more}."
        if all(check.passes for check in self.checks):
            return dose, self.dispensed, self.verdict
        return self.verdict, dose, self.dispensed

    @property
    def passes(self) -> bool:
        """Whether every check passes."""
        return all(check.passes for check in self.checks)

    @property
    def notices(self) -> list[Joined]:
        """Notices of all groups, each once, the weightiest first."""
        job = self.job
        first: list[str] = []
        extra = []
        if job.overfill.rule == "share":
            extra.append(f"Overfill {job.overfill.share * 100:.4g} %: {job.overfill.reason or 'no reason stated'}.")
        own = [f"{g.mark} {g.overfill * 100:.4g} %" for g in job.groups if g.overfill is not None]
        if own:
            extra.append(f"Overfill set in {job.schedule_path.name} in place of the job's: {', '.join(own)}.")
        if not job.adhesive.approval:
            first.append(
                f"{job.adhesive_path.name} names no approval: the product's approval must allow this bar, hole and"
                " depth."
            )
        made_up = [
            words
            for words, true in (("the job", job.job.invented), ("the adhesive record", job.adhesive.invented))
            if true
        ]
        if made_up:
            first.insert(0, f"Invented: {' and '.join(made_up)}.")
        outside = set(self._outside)
        every = sorted(
            (notice for sheet in self.sheets for notice in sheet.notices if notice not in outside),
            key=lambda notice: weight_of(notice.name),
        )
        stops = [notice for notice in every if weight_of(notice.name) == 0]
        ours = [Joined((), text) for text in first]
        return [*gathered(stops), *ours, *gathered(every[len(stops) :]), *(Joined((), text) for text in extra)]

    @property
    def _outside(self) -> list[Notice]:
        return [notice for part in self.parts for notice in getattr(part, "outside", ())]

    @property
    def outside(self) -> list[Joined]:
        """What is not judged here: bar groups that are not designed, checks that others do, by name.

        And what no anchor's design covers.
        """
        return gathered(self._outside)

    @property
    def cautions(self) -> list[str]:
        """Cautions for this job."""
        # The first caution of all defers to approval, code and engineer; those of strength need not say it again.
        own = (caution for part in self.parts for caution in getattr(part, "cautions", ()) if caution not in DEFERRING)
        return list(dict.fromkeys((*cautions(one.case.direction for one in self.worked), *own)))

    @property
    def not_covered(self) -> list[str]:
        """What a signature under this package does not cover."""
        marks = [group.mark for group in self.job.groups if self.job.over_bit(group) is None]
        more = f" and {len(marks) - 8} more groups" if len(marks) > 8 else ""
        return not_covered((part.sheet.notebook for part in self.parts), ", ".join(marks[:8]) + more)

    @property
    def invented(self) -> bool:
        """Whether job or adhesive are invented, which every page then says."""
        return self.job.job.invented or self.job.adhesive.invented

    def data(self) -> dict[str, Any]:
        """Return the content of results.json, schema 2, its numbers in canonical form."""
        return dict(canonical(self.unrounded()))

    def unrounded(self) -> dict[str, Any]:
        """Return the content of results.json with all digits of its numbers.

        Of which the last may be another one on another machine.
        """
        about, sources = self.job.job, Sources(self.sheets)
        return {
            "schema": RESULTS_SCHEMA,
            "note": NULLS,
            "job": {
                "number": about.number,
                "revision": about.revision,
                "title": about.title,
                "invented": self.invented,
                "units": self.job.display.system,
                "adhesive": self.job.adhesive.name,
                "approval": self.job.adhesive.approval,
            },
            "sheets": [
                {
                    "notebook": sheet.notebook,
                    "steps": [as_data(step) for step in sheet.steps],
                    "checks": [as_data(check) | sources.of(check) for check in sheet.checks],
                    "notices": [as_data(notice) for notice in sheet.notices],
                    "found": [as_data(found) for found in sheet.found],
                }
                for sheet in self.sheets
            ],
            "groups": [self._entry(one) for one in self.worked],
            "totals": {
                "holes": self.holes,
                "dose_L": None,
                "discard_L": None,
                "residual_L": None,
                "packs_counted": None,
                "packs_good_until": None,
                "packs": None,
                "mixers": None,
            }
            | {key: value for part in self.parts for key, value in part.totals().items()},
        }

    def _entry(self, one: Worked) -> dict[str, Any]:
        entry = one.entry()
        for part in self.parts:
            entry |= part.entry(one.case.mark)
        return entry

    def text(self) -> str:
        """Return results.json as text, the same on every machine."""
        return json.dumps(self.data(), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def compute(job: Job) -> Results:
    """Compute a job.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    Results

    Raises
    ------
    InputErrors
        Scatter that reaches what cannot be, a rule that finds no overfill, or values that each are accepted and that
        together leave the range of a formula.
    """
    try:
        worked, parts = work_whole(job)
    except InputErrors:
        raise
    except NotAccepted as error:
        together = "its values, each accepted alone, lead together to what cannot be calculated"
        raise InputErrors([Problem(job.path.name, "", "", f"{together}: {error}")]) from error
    return Results(job, worked, parts)
