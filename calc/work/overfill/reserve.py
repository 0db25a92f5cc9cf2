"""The reserve of every group's dose, as shares of the volume that its hole requires: for whoever signs for the doses.

Need, least dose, dose and measured holes are results of the other notebooks; here they stand on one scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from calc.work.dose import Worked
from calc.work.embedment.work import Embedment
from calc.work.evidence import MeasuredWork
from calc.work.overfill.group import GroupScatter
from calc.work.overfill.work import OverfillWork
from calc.work.results import Results

MOST = 30  # groups that one picture holds
_WIDEST = 0.25  # least share that is left out at each end of the needs that are shown
Carried = Literal["least", "none is enough", "anchor", "not designed"]


@dataclass(frozen=True)
class Reserve:
    """What one group's dose has in hand; all but the probability as shares of the required volume [-].

    Attributes
    ----------
    mark, bar
        The group and its bar.
    dispensed
        The rounded dose.
    need
        Lower end, median and upper end of what the simulated holes need; None where no scatter is stated.
    between
        Share of the holes that need something between its ends; as many need more as less.
    least
        Least dose that carries the bar's force; None where ``carried`` says why there is none.
    carried
        ``"least"``, or why there is no least dose.
    measured, left_out
        Measured holes, and those that were left out with a reason.
    short
        Probability of a short hole with the rounded dose; None where no scatter is stated.
    stated
        The greatest that is accepted.
    """

    mark: str
    bar: str
    dispensed: float
    need: tuple[float, float, float] | None
    between: float
    least: float | None
    carried: Carried
    measured: tuple[float, ...]
    left_out: tuple[float, ...]
    short: float | None
    stated: float

    @property
    def too_often_short(self) -> bool:
        """Whether more holes stay short than is accepted."""
        return self.short is not None and self.short > self.stated

    @property
    def too_weak(self) -> bool:
        """Whether the dose does not carry the force."""
        return self.carried == "none is enough" or (self.least is not None and self.dispensed < self.least)


@dataclass(frozen=True)
class Reserves:
    """The groups whose doses have the least in hand, and how many there are.

    Those that fail stand first, then those most often short, then those with the smallest dose for what is required.
    """

    rows: tuple[Reserve, ...]
    groups: int

    @property
    def whole(self) -> bool:
        """Whether all groups are among them."""
        return len(self.rows) == self.groups

    @property
    def most_often_short(self) -> Reserve | None:
        """The group that is short most often; None where that is known of none, or none ever is."""
        return max((one for one in self.rows if one.short), key=lambda one: one.short or 0.0, default=None)

    @property
    def nearest(self) -> Reserve | None:
        """The group whose dose has least above what carries its force."""
        carrying = [one for one in self.rows if one.least is not None]
        return min(carrying, key=lambda one: one.dispensed - (one.least or 0.0), default=None)

    @property
    def failing(self) -> tuple[Reserve, ...]:
        """The groups that are short too often, or whose dose does not carry the force."""
        return tuple(one for one in self.rows if one.too_often_short or one.too_weak)


def _need(group: GroupScatter, required: float) -> tuple[tuple[float, float, float], float]:
    tail = min(group.stated, _WIDEST)
    low, middle, high = (float(group.need.quantile(p)) / required for p in (tail, 0.5, 1 - tail))
    return (low, middle, high), 1 - 2 * tail


def _measured(work: MeasuredWork | None, mark: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    found = None if work is None or mark not in work.groups else work.groups[mark].study
    if found is None:
        return (), ()
    kept = tuple(value / found.V_req for value in found.kept.values)
    return kept, tuple(point.value / found.V_req for point, _ in found.kept.left_out)


def _carried(work: Embedment | None, mark: str) -> tuple[float | None, Carried]:
    if work is None:
        return None, "not designed"
    if any(one.case.mark == mark for one in work.anchors):
        return None, "anchor"
    one = work.get(mark)
    if one is None:
        return None, "not designed"
    return one.least_dose, "none is enough" if one.least_dose is None else "least"


def _reserve(results: Results, one: Worked) -> Reserve:
    mark, scatter = one.case.mark, results.part(OverfillWork)
    group = None if scatter is None else scatter.groups.get(mark)
    need, between = (None, 0.0) if group is None else _need(group, one.required)
    least, carried = _carried(results.part(Embedment), mark)
    measured, left_out = _measured(results.part(MeasuredWork), mark)
    return Reserve(
        mark=mark,
        bar=one.case.bar.text,
        dispensed=one.rounded / one.required,
        need=need,
        between=between,
        least=None if least is None else least / one.required,
        carried=carried,
        measured=measured,
        left_out=left_out,
        short=None if group is None else group.probability,
        stated=results.job.overfill.short_probability,
    )


def reserves_of(results: Results, most: int = MOST) -> Reserves:
    """Return the groups with the least reserve, that with the least first.

    Parameters
    ----------
    results
        The computed job.
    most
        The greatest number of groups.

    Returns
    -------
    Reserves
    """

    def order(one: Reserve) -> tuple[bool, bool, float, float]:
        return not one.too_often_short, not one.too_weak, -(one.short or 0.0), one.dispensed

    every: Sequence[Reserve] = sorted((_reserve(results, one) for one in results.worked), key=order)
    return Reserves(tuple(every[:most]), len(every))
