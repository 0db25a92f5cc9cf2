"""The embedment that every bar group needs by the code of its job, its detailing checks.

And what a short hole costs in force.

A bar group with a force becomes a `DesignCase`; `design` works it into a `GroupDesign`: steps, checks, notices, and the
numbers that the notebook draws from. Each step shows its quantities in units of one family: a force per length keeps
its step in N and mm, and ACI's own formulas run and are shown in in, psi and lbf. Sentences and checks are in the job's
units.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from calc.base.formula import RangeError
from calc.base.identity import DOSE, EMBEDMENT
from calc.base.sheet import Given, Notice, Origin, Sheet, found_by, result_of
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.strength.cautions import strength_cautions
from calc.strength.short import bar as shortbar
from calc.work import dose as doses
from calc.work.embedment.anchor import AnchorDesign, design_anchor
from calc.work.embedment.case import case_of
from calc.work.embedment.group import GroupDesign, design
from calc.work.embedment.path import not_designed


@dataclass(frozen=True)
class Embedment:
    """The designed bar groups of a job, as a part of its results."""

    job: Job
    designs: tuple[GroupDesign, ...]
    not_designed: tuple[str, ...] = ()
    anchors: tuple[AnchorDesign, ...] = ()
    _by_mark: Mapping[str, GroupDesign] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_mark", {one.case.mark: one for one in self.designs})

    @cached_property
    def sheet(self) -> Sheet:
        """Steps, checks and notices of the notebook."""
        total = Sheet.of(EMBEDMENT, (one.sheet for one in self.in_order))
        return replace(total, notices=(*total.notices, *self.outside))

    @property
    def in_order(self) -> tuple[GroupDesign | AnchorDesign, ...]:
        """Developed bars and anchors in the order of the schedule."""
        by_mark: dict[str, GroupDesign | AnchorDesign] = {one.case.mark: one for one in self.designs}
        by_mark |= {one.case.mark: one for one in self.anchors}
        return tuple(by_mark[group.mark] for group in self.job.groups if group.mark in by_mark)

    @property
    def outside(self) -> tuple[Notice, ...]:
        """What is not judged here, and who answers for it."""
        return (
            *(not_designed(mark) for mark in self.not_designed),
            *(notice for one in self.in_order for notice in one.outside),
        )

    @property
    def cautions(self) -> list[str]:
        """Cautions of the code, for the directions of all holes."""
        assert self.job.design is not None
        return strength_cautions(code=self.job.design.code, directions=[group.direction for group in self.job.groups])

    def get(self, mark: str) -> GroupDesign | None:
        """Return a group's design as a developed bar; None when it has no force or is an anchor."""
        return self._by_mark.get(mark)

    def entry(self, mark: str) -> dict[str, Any]:
        """Return a group's keys in results.json; nulls for a group without a force."""
        one = next((one for one in self.in_order if one.case.mark == mark), None)
        return (
            one.entry()
            if one
            else {"code": self.job.design.code if self.job.design else None, "required_embedment_mm": None}
        )

    def totals(self) -> dict[str, Any]:
        """Return the keys of the totals: none."""
        return {}


def _with_share(one: GroupDesign, share: float, holes: int, dosed: doses.Worked | None, job: Job) -> GroupDesign:
    """Keep the share of simulated bars below their design force, with what it was counted from."""
    seed = {} if job.scatter is None else {"seed": Given(float(job.scatter.seed), "", f"{job.path.name}, scatter.seed")}
    dose = {} if dosed is None else {"V_round": Given(dosed.rounded, "mm³", result_of(DOSE, one.case.mark, "V_round"))}
    mark, force = one.case.mark, next(found for found in one.sheet.found if found.name == "sigma.all").inputs[0]
    below = found_by(
        "simulated",
        notebook=EMBEDMENT,
        mark=mark,
        name="p_below",
        label="Share of the simulated bars below their design force",
        value=share,
        unit="",
        how=(
            f"{holes} holes of notebook 02 with the rounded dose, each bar's force by the code at the length that its"
            " hole leaves bonded"
        ),
        inputs={
            **dose,
            **seed,
            "N_Ed": Given(force.value, force.unit, Origin(force.origin, force.step, force.general, force.row)),
            "N_full": Given(one.capacity_full, "N", result_of(EMBEDMENT, mark, "N_R.full")),
        },
        display=one.case.display,
    )
    return replace(one, share_below=share, sheet=replace(one.sheet, found=(*one.sheet.found, below)))


def design_job(
    job: Job, worked: Sequence[doses.Worked] = (), unfilled: Mapping[str, ArrayLike] | None = None
) -> Embedment | None:
    """Design every bar group of a job that has a force.

    Parameters
    ----------
    job
        A validated job.
    worked
        Its worked doses, when they are at hand already.
    unfilled
        Unfilled lengths [mm] of simulated holes by mark, for the share of bars below their design force.

    Returns
    -------
    Embedment or None
        None when the job file has no table of strength.

    Raises
    ------
    InputErrors
        A value outside a formula's validity.
    """
    if job.design is None:
        return None
    by_mark = {one.case.mark: one for one in worked}
    designs, anchors, left = [], [], []
    for group in job.groups:
        with _of_group(job, group.mark):
            case = case_of(job, group, by_mark.get(group.mark))
            if case is None:
                left.append(group.mark)
                continue
            if case.anchor:
                anchors.append(design_anchor(case))
                continue
            one = design(case)
        if unfilled is not None and group.mark in unfilled:
            share = shortbar.share_below(law=one.law, unfilled=unfilled[group.mark], l_v=case.embedment, N_Ed=one.force)
            one = _with_share(one, share, np.size(unfilled[group.mark]), by_mark.get(group.mark), job)
        designs.append(one)
    return Embedment(job, tuple(designs), tuple(left), tuple(anchors))


@contextmanager
def _of_group(job: Job, mark: str) -> Iterator[None]:
    """Name the bar group whose values, each accepted alone, leave the range of a formula together."""
    try:
        yield
    except RangeError as error:
        message = f"the values of this group lead out of the range of a formula: {error}"
        raise InputErrors([Problem(job.path.name, f"design of {mark}", "", message)]) from error
