"""All that is computed for a job, in the order in which one part needs another's result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from calc.base.sheet import Sheet
from calc.files.job import Job
from calc.files.schedule import BarGroup, without_collection
from calc.work.dose import Case, Worked, case_of, work
from calc.work.embedment.work import design_job

_SIMULATED = 10_000  # holes of a group whose unfilled lengths tell the share of bars below their design force


class Part(Protocol):
    """What a notebook beside the first one contributes."""

    @property
    def sheet(self) -> Sheet:
        """Its steps, checks and notices."""

    def entry(self, mark: str, /) -> dict[str, Any]:
        """Its keys of a group's entry in results.json."""

    def totals(self) -> dict[str, Any]:
        """Its keys of the totals in results.json."""


def chosen_case(job: Job, group: BarGroup) -> Case:
    """Take what decides one bar group's dose, its overfill by the rule of the job file.

    Parameters
    ----------
    job
        A validated job.
    group
        A bar group, of the schedule or typed in a panel.

    Returns
    -------
    Case

    Raises
    ------
    InputErrors
        The job's rule finds no overfill for this group.
    """
    if job.scatter is None and not job.evidence:
        return case_of(job, group)
    from calc.work.overfill.work import choose

    return case_of(job, group, choose(job, group))


@without_collection()
def work_whole(job: Job) -> tuple[tuple[Worked, ...], tuple[Part, ...]]:
    """Work every bar group, and every part for which the job file has what it needs.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    tuple
        The worked groups in the schedule's order, and the parts of the other notebooks.

    Raises
    ------
    RangeError
        A value outside a formula's validity.
    InputErrors
        Scatter that reaches what cannot be, a rule that finds no overfill, or a file of measurements with errors.
    """
    unfilled: Mapping[str, NDArray[np.float64]] = {}
    parts: list[Part | None] = []
    expected: float | None = None
    if job.scatter is None and not job.evidence:
        worked = tuple(work(case_of(job, group)) for group in job.groups)
    else:
        # Imported when it is needed, because scipy's distributions take their time.
        from calc.work.evidence import work_measured
        from calc.work.overfill.work import choose_overfills, work_overfills

        choices = choose_overfills(job)
        worked = tuple(work(case_of(job, group, choices[group.mark])) for group in job.groups)
        overfills = work_overfills(job, worked, choices)
        parts += [overfills, work_measured(job, worked, overfills.groups)]
        expected = overfills.expected_overflow
        if job.design is not None:
            unfilled = {
                one.case.mark: _unfilled(overfills.groups[one.case.mark], one.rounded)
                for one in worked
                if one.case.mark in overfills.groups
            }
    from calc.work.plan.work import work_plan

    parts += [
        design_job(job, worked, unfilled),
        work_plan(job, worked, expected_overflow=expected, **_plan_of_site(job)),
    ]
    return worked, tuple(part for part in parts if part is not None)


def _plan_of_site(job: Job) -> dict[str, Any]:
    """What the job file says of the day, the holes and how the tables are read."""
    site = job.site
    return (
        {} if site is None else {"on": site.day_one, "condition": site.hole_condition, "arrhenius": site.between_rows}
    )


def _unfilled(group: Any, dose: float) -> NDArray[np.float64]:
    """Unfilled length [mm] of simulated holes that get the rounded dose [mm³]."""
    from calc.scatter.ways import amount_of_dose, outcome

    holes = group.scatter.simulate(
        series=-(-_SIMULATED // group.setting.series), holes=group.setting.series, seed=group.setting.seed
    )
    return np.asarray(
        outcome(holes=holes, injected=amount_of_dose(holes=holes, V_dose=dose)).unfilled, dtype=float
    ).ravel()
