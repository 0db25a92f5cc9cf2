"""What a wider bit takes over a job, when the dose of every hole follows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from calc.files.job import Job
from calc.scatter.sensitivity import HoleCount, cost_of_diameter
from calc.work.dose import Worked
from calc.work.overfill.setting import nominal_hole

WIDENING = 0.1  # mm on the bit whose price is told


@dataclass(frozen=True)
class Widened:
    """What a wider bit takes in the holes of a group, or of all.

    Adhesive more [mm³], and its share of the doses [-].
    """

    mark: str
    count: int
    extra: float
    share: float


def wider_bit(job: Job, worked: Sequence[Worked]) -> tuple[tuple[Widened, ...], Widened]:
    """Work what `WIDENING` on the bit takes, for each group and for all of them."""
    groups = []
    for one in worked:
        case = one.case
        count = HoleCount(mark=case.mark, count=case.count, nominal=nominal_hole(job, job.group(case.mark)))
        more, share = cost_of_diameter(group=count, overfill=case.overfill, widening=WIDENING)
        groups.append(Widened(case.mark, case.count, more, share))
    extra, before = sum(one.extra for one in groups), sum(one.extra / one.share for one in groups)
    return tuple(groups), Widened("all", sum(one.count for one in groups), extra, extra / before)
