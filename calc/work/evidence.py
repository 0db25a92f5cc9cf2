"""What the measured holes of a job say about its overfill: the sheet of notebook 03.

A group is measured when the job file has ``[evidence.<mark>]``. With a CSV of the holes its own numbers count, and the
numbers that the job file states beside it are compared with them; without one, the stated numbers count and nothing can
be drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from calc.base.collector import Steps
from calc.base.display import round_text, with_unit
from calc.base.errors import CalcError, NotAccepted
from calc.base.identity import DOSE, EVIDENCE, OVERFILL
from calc.base.sheet import Check, Found, Given, Notice, Origin, Sheet, Step, result_of
from calc.base.units import UnitError, convert
from calc.evidence.agreement import LIMIT, least_series, uncertainty_of_difference, zeta_score
from calc.evidence.limits import (
    COUNTS,
    ConfidenceTable,
    Limits,
    confidence_with_n,
    limit_of,
    not_enough,
    overfill_of,
    scatter_with_resolution,
    upper_limits,
)
from calc.evidence.normality import NormalPlot, normal_plot
from calc.evidence.outliers import Outliers, outliers
from calc.evidence.readings import ONE_HOLE, Kept, Point, Summary, as_sentence, leave_out, summary
from calc.evidence.runorder import RunOrder, run_order
from calc.files.evidence import Measurements, digit_of, measured_holes, read_file, resolution_of
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.scatter import Evidence
from calc.scatter.factors import prediction_factor, tolerance_factor
from calc.scatter.simulated import needed_dose
from calc.work.dose import Worked
from calc.work.overfill.formulas import combined
from calc.work.overfill.group import GroupScatter
from calc.work.overfill.setting import WORDS, factor_inputs

_STEP = 0.001  # an overfill to be written down is rounded up to a tenth of a per cent
_SAME_HOLE = 1e-3  # measured holes whose required volume differs by a larger share are of another size
_SMALL = 3  # holes that a normal plot and a search for outliers need


def percent(share: float, digits: int = 6) -> str:
    """Write a share in per cent, such as a stated probability."""
    return f"{100 * share:.{digits}g} %"


def overfill_text(share: float) -> str:
    """Write an overfill that was worked out, to a tenth of a per cent."""
    return f"{100 * share:.1f} %"


def up_to_tenth(share: float) -> float:
    """Round an overfill up to a tenth of a per cent; never below nothing."""
    return max(0.0, round(math.ceil(round(share / _STEP, 6)) * _STEP, 6))


# ---- one row of measured holes -------------------------------------------------------------------


@dataclass(frozen=True)
class Study:
    """What measured holes of one kind say; volumes in ``unit``.

    ``values`` and ``names`` are all holes in run order, also those left out; everything else is of those kept. ``plot``
    and ``apart`` are None for fewer than three holes. ``too_few`` says that the holes kept are too few for an overfill,
    and is empty where they are enough; ``limit`` and what follows from it are there only then.
    """

    unit: str
    values: tuple[float, ...]
    names: tuple[str, ...]
    kept: Kept
    V_req: float
    share: float
    confidence: float
    resolution: float
    too_few: str
    summary: Summary
    order: RunOrder
    plot: NormalPlot | None
    apart: Outliers | None
    limits: Limits
    growth: ConfidenceTable

    @property
    def n(self) -> int:
        """Number of holes that are kept."""
        return self.summary.n

    @property
    def limit(self) -> float:
        """Volume that the stated share of holes does not exceed, at the stated confidence."""
        assert self.limits.tolerance.high is not None, self.too_few
        return self.limits.tolerance.high

    @property
    def overfill(self) -> float:
        """Overfill that follows [-], not rounded up."""
        return self.overfill_at(self.limit)

    def overfill_at(self, volume: float) -> float:
        """Overfill that a volume is over the required one [-]."""
        return float(overfill_of(V_dose=volume, V_req=self.V_req))

    def enough(self, dose: float) -> bool:
        """Whether a dose is as much as the holes ask for."""
        return dose >= self.limit

    def short_of(self, dose: float) -> tuple[Point, ...]:
        """The kept holes that needed more than a dose."""
        kept = zip(self.kept.names, self.kept.values, strict=True)
        return tuple(Point(name, i, value) for i, (name, value) in enumerate(kept) if value > dose * (1 + 1e-12))

    def text(self, volume: float, digits: int = 4) -> str:
        """Write a volume with its unit."""
        return with_unit(round_text(volume, digits), self.unit)

    @property
    def sentence(self) -> str:
        """The overfill that follows, in one sentence; or why none does."""
        if self.too_few:
            return as_sentence(self.too_few)
        return (
            f"{self.n} measured holes ask for {self.text(self.limit)} in each hole, an overfill of"
            f" {overfill_text(self.overfill)}, so that {percent(self.share)} of all such holes are full with confidence"
            f" {percent(self.confidence)}."
        )


def study(
    *,
    values: Sequence[float],
    names: Sequence[str],
    reasons: Mapping[str, str],
    V_req: float,
    share: float,
    confidence: float,
    unit: str = "mL",
    resolution: float = 0.0,
) -> Study:
    """Look at measured holes from every side: run order, shape, outliers, limits, and what more holes would be worth.

    Parameters
    ----------
    values : sequence of float [``unit``]
        Measured volumes in run order.
    names : sequence of str
        Name of each hole.
    reasons : mapping of str to str
        Name to reason of the holes that are left out.
    V_req : float [``unit``]
        Required volume of the nominal hole.
    share, confidence : float
        Share of all holes that is to be full, and probability that the statement holds [-].
    unit : str
        Unit of all volumes.
    resolution : float [``unit``]
        Step of a reading.

    Returns
    -------
    Study
        In the same unit; without a limit where the holes are too few for one.

    Raises
    ------
    NotAccepted
        Fewer than two holes that are kept, a value that is not finite, a name that no hole has, a reason that is empty,
        or a share or confidence outside (0, 1).

    Examples
    --------
    >>> found = study(values=[14.0, 14.4, 13.8], names="123", reasons={}, V_req=13.0, share=0.9, confidence=0.9)
    >>> found.sentence
    'Not enough holes: 3 are measured, and a share of 90 % with confidence 90 % takes 8 or more.'
    >>> nine = [14.0, 14.4, 13.8] * 3
    >>> found = study(values=nine, names="123456789", reasons={}, V_req=13.0, share=0.9, confidence=0.9)
    >>> found.n, round(found.limit, 3)
    (9, 14.631)
    """
    kept = leave_out(values=values, reasons=reasons, names=names)
    if len(kept.values) < 2:
        raise NotAccepted(f"{ONE_HOLE}; accepted: two holes or more")
    found, n = summary(values=kept.values), len(kept.values)
    drawn = n >= _SMALL
    too_few = not_enough(n=n, share=share, confidence=confidence)
    sd = float(scatter_with_resolution(s_r=found.sd or 0.0, delta_V=resolution))
    return Study(
        unit=unit,
        values=tuple(float(value) for value in values),
        names=tuple(names),
        kept=kept,
        V_req=V_req,
        share=share,
        confidence=confidence,
        resolution=resolution,
        too_few=too_few,
        summary=found,
        order=run_order(values=kept.values, names=kept.names),
        plot=normal_plot(values=kept.values, names=kept.names) if drawn else None,
        apart=outliers(values=kept.values, names=kept.names) if drawn else None,
        limits=upper_limits(values=kept.values, share=share, confidence=confidence, resolution=resolution).withheld(n),
        growth=_growth(share, confidence, n, found.mean, sd, V_req),
    )


def _growth(share: float, confidence: float, n: int, mean: float, sd: float, V_req: float) -> ConfidenceTable:
    """What more holes are worth.

    The mean and the scatter of too few holes are not carried on to other numbers of them.
    """
    counts = sorted({*COUNTS, n})
    if not_enough(n=n, share=share, confidence=confidence):
        return confidence_with_n(share=share, confidence=confidence, counts=counts)
    return confidence_with_n(share=share, confidence=confidence, mean=mean, sd=sd, V_req=V_req, counts=counts)


def stated(job: Job) -> tuple[float, float]:
    """Share of the holes that is to be full, and confidence, as the job file states them."""
    return 1 - job.overfill.short_probability, job.overfill.confidence


def growth_of(job: Job) -> ConfidenceTable:
    """What numbers of measured holes are worth for this job, before any is measured."""
    share, confidence = stated(job)
    return confidence_with_n(share=share, confidence=confidence)


# ---- one measured bar group ----------------------------------------------------------------------


@dataclass(frozen=True)
class MeasuredGroup:
    """A measured bar group: its numbers [mm³, -], steps and checks, and what its holes say where a CSV lists them.

    ``overfill`` follows from the measured holes and is not rounded up; with ``limit`` it is None where they are too
    few, as ``too_few`` then says. ``dispensed`` is what the rounded dose comes to; ``sd`` is that of the readings,
    without the share of their resolution. ``differences`` are sentences about numbers of the job file that are not
    those of the CSV. ``check`` is that the dose is enough, ``agrees`` that the holes agree with the scatter that is
    assumed of them, where any is.
    """

    worked: Worked
    evidence: Evidence
    file: Measurements | None
    study: Study | None
    n: int
    mean: float
    sd: float
    share: float
    confidence: float
    resolution: float
    too_few: str
    limit: float | None
    overfill: float | None
    dispensed: float
    growth: ConfidenceTable
    differences: tuple[str, ...]
    steps: tuple[Step, ...]
    found_by: tuple[Found, ...]
    check: Check
    agrees: tuple[Check, ...]
    notices: tuple[Notice, ...]

    @property
    def mark(self) -> str:
        """The bar group."""
        return self.worked.case.mark

    @property
    def nominal(self) -> float:
        """Required volume that the measured holes refer to [mm³]."""
        return self.worked.required if self.evidence.nominal is None else self.evidence.nominal

    def text(self, volume: float, digits: int = 4) -> str:
        """Write a volume [mm³] in the job's units."""
        unit = self.worked.case.display.volume_unit
        return with_unit(round_text(convert(volume, "mm³", unit), digits), unit)

    def entry(self) -> dict[str, Any]:
        """Return what results.json says of the measured holes."""
        left_out = {} if self.study is None else {point.name: reason for point, reason in self.study.kept.left_out}
        return {
            "holes": self.n,
            "left_out": left_out,
            "mean_mL": convert(self.mean, "mm³", "mL"),
            "sd_mL": convert(self.sd, "mm³", "mL"),
            "share": self.share,
            "confidence": self.confidence,
            "resolution_mL": convert(self.resolution, "mm³", "mL"),
            "limit_mL": None if self.limit is None else convert(self.limit, "mm³", "mL"),
            "overfill": self.overfill,
            "file": None if self.file is None else self.file.file,
            "sha256": None if self.file is None else self.file.sha256,
        }


@dataclass(frozen=True)
class MeasuredWork:
    """Notebook 03's part of the results.

    Its sheet, its keys of results.json, and its groups for pictures and tables.
    """

    sheet: Sheet
    groups: Mapping[str, MeasuredGroup] = field(default_factory=dict)

    def entry(self, mark: str, /) -> dict[str, Any]:
        """Its key of a group's entry in results.json; none for a group that was not measured."""
        return {"measurements": self.groups[mark].entry()} if mark in self.groups else {}

    def totals(self) -> dict[str, Any]:
        """Its keys of the totals in results.json: none."""
        return {}


def work_measured(
    job: Job, worked: Iterable[Worked], assumed: Mapping[str, GroupScatter] | None = None
) -> MeasuredWork | None:
    """Work what the measured holes of a job ask for, and whether its doses give that.

    Parameters
    ----------
    job
        A validated job.
    worked
        Its groups with their doses.
    assumed
        What is assumed of the scatter of its groups, by mark; the measured holes are compared with it.

    Returns
    -------
    MeasuredWork or None
        None when nothing was measured.

    Raises
    ------
    InputErrors
        A CSV that cannot be read or has no hole of the group, a hole to be left out that is not there, or fewer than
        two that stay.
    """
    if not job.evidence:
        return None
    groups: dict[str, MeasuredGroup] = {}
    files: dict[str, Measurements] = {}
    for one in worked:
        if one.case.mark in job.evidence:
            groups[one.case.mark] = _group(
                job, one, job.evidence[one.case.mark], files, (assumed or {}).get(one.case.mark)
            )
    sheet = Sheet(
        EVIDENCE,
        tuple(step for group in groups.values() for step in group.steps),
        tuple(check for group in groups.values() for check in (group.check, *group.agrees)),
        tuple(
            dict.fromkeys([*(notice for group in groups.values() for notice in group.notices), *_unused(job, files)])
        ),
        tuple(found for group in groups.values() for found in group.found_by),
    )
    return MeasuredWork(sheet, groups)


def _unused(job: Job, files: Mapping[str, Measurements]) -> list[Notice]:
    """Say which groups a CSV measures without the job file taking notice."""
    found = []
    for name, read in files.items():
        marks = [mark for mark in read.marks if mark not in job.evidence or job.evidence[mark].file != name]
        if marks:
            text = (
                f"{name} also holds measured holes of {', '.join(marks)}, for which {job.path.name} has no evidence"
                " with this file."
            )
            found.append(Notice(EVIDENCE, None, "unused", text))
    return found


def _group(
    job: Job, one: Worked, evidence: Evidence, files: dict[str, Measurements], assumed: GroupScatter | None
) -> MeasuredGroup:
    mark = one.case.mark
    share, confidence = stated(job)
    file = None if evidence.file is None else _measured(job, mark, evidence.file, files)
    found = None if file is None else _study(job, one, evidence, file)
    places = {
        key: Origin(f"{job.path.name}, evidence.{mark}.{key}", general=f"{job.path.name}, evidence.(mark).{key}")
        for key in ("mean", "sd", "nominal", "holes")
    }
    writer = _Writer(one)
    if found is None:
        n, mean, sd = evidence.holes, evidence.mean, evidence.sd
        origins = (places["mean"], places["sd"], places["holes"])
    else:
        assert file is not None
        n, mean, sd = (
            found.n,
            convert(found.summary.mean, found.unit, "mm³"),
            convert(found.summary.sd or 0.0, found.unit, "mm³"),
        )
        origins = _of_file(writer, file, n, mean, sd)
    V_m, s_r = Given(mean, "mm³", origins[0]), Given(sd, "mm³", origins[1])
    holes = origins[2]
    resolution, from_where = resolution_of(job=job, mark=mark, measured=file)
    too_few = not_enough(n=n, share=share, confidence=confidence)
    required = Given(one.required, "mm³", result_of(DOSE, mark, "V_req"))
    nominal = required if evidence.nominal is None else Given(evidence.nominal, "mm³", places["nominal"])
    s_V = writer.scatter(s_r, Given(resolution, "mm³", from_where))
    limit, overfill = (None, None) if too_few else writer.limits(V_m, s_V, nominal, factor_inputs(job, n, holes))
    agrees = (
        []
        if assumed is None
        else _agreement(
            writer, one, assumed, V_m=V_m, s_V=s_V, holes=Given(float(n), "pcs", holes), other=evidence.nominal
        )
    )
    rounded = Given(one.rounded, "mm³", result_of(DOSE, mark, "V_round"))
    dispensed = writer.use(
        overfill_of, "Overfill that the rounded dose comes to", "overfill.dispensed", V_dose=rounded, V_req=required
    ).value
    unit = one.case.display.volume_unit
    growth = (
        found.growth
        if found is not None
        else _growth(
            share,
            confidence,
            n,
            convert(mean, "mm³", unit),
            convert(s_V.value, "mm³", unit),
            convert(nominal.value, "mm³", unit),
        )
    )
    differences = () if file is None or found is None else _differences(job, mark, evidence, file, found)
    return MeasuredGroup(
        worked=one,
        evidence=evidence,
        file=file,
        study=found,
        n=n,
        mean=mean,
        sd=sd,
        share=share,
        confidence=confidence,
        resolution=resolution,
        too_few=too_few,
        limit=None if limit is None else limit.value,
        overfill=None if overfill is None else overfill.value,
        dispensed=dispensed,
        growth=growth,
        differences=differences,
        steps=tuple(writer.steps),
        found_by=writer.found,
        check=_check(one, None if overfill is None else overfill.value, dispensed, share, confidence, n, too_few),
        agrees=tuple(agrees),
        notices=(
            *_notices(job, mark, found, None if overfill is None else overfill.value),
            *writer.notices,
            *(Notice(EVIDENCE, None, "differs", text) for text in differences),
        ),
    )


def _of_file(writer: _Writer, file: Measurements, n: int, mean: float, sd: float) -> tuple[Origin, Origin, Origin]:
    """Number, mean and standard deviation of the holes of a file, as results that its rows give again."""
    rows = Given(float(n), "pcs", f"{file.file}, rows of this group that are not left out")
    holes = writer.find(
        "counted", "n_hole", "Measured holes", float(n), "pcs", how="number of the file's rows", inputs={"rows": rows}
    )
    V_m = writer.find(
        "summed", "V_m", "Mean of the measured volumes", mean, "mm³", how="arithmetic mean", inputs={"rows": rows}
    )
    s_r = writer.find(
        "summed",
        "s_r",
        "Standard deviation of the measured volumes",
        sd,
        "mm³",
        how="with n − 1",
        inputs={"rows": rows, "V_m": V_m},
    )
    return V_m.source, s_r.source, holes.source


def _measured(job: Job, mark: str, name: str, files: dict[str, Measurements]) -> Measurements:
    if name not in files:
        files[name] = read_file(job, name)
    return measured_holes(job=job, mark=mark, read=files[name])


def _study(job: Job, one: Worked, evidence: Evidence, file: Measurements) -> Study:
    share, confidence = stated(job)
    unit = one.case.display.volume_unit
    nominal = one.required if evidence.nominal is None else evidence.nominal
    try:
        return study(
            values=file.volumes(unit),
            names=file.names,
            reasons=file.reasons | dict(evidence.excluded),
            V_req=convert(nominal, "mm³", unit),
            share=share,
            confidence=confidence,
            unit=unit,
            resolution=convert(resolution_of(job=job, mark=one.case.mark, measured=file)[0], "mm³", unit),
        )
    except CalcError as error:
        message = f"{error} ({file.file})"
        raise InputErrors([Problem(job.path.name, f"key evidence.{one.case.mark}", "", message)]) from None


class _Writer(Steps):
    """Collects the steps of one group."""

    def __init__(self, worked: Worked) -> None:
        super().__init__(EVIDENCE, worked.case.mark, worked.case.display)
        self.case = worked.case

    def scatter(self, s_r: Given, delta_V: Given) -> Given:
        """Work the scatter with the share of the readings' resolution."""
        return self.use(
            scatter_with_resolution,
            "Scatter of the measured holes, with the resolution of a reading",
            "s_V",
            s_r=s_r,
            delta_V=delta_V,
        )

    def limits(self, V_m: Given, s_V: Given, nominal: Given, known: Mapping[str, Given]) -> tuple[Given, Given]:
        """Work the three limits that take the scatter as normal.

        And the overfill that follows from the first of them.
        """
        n, confidence = round(known["n_hole"].value), known["confidence"].value
        stated_share = 1 - known["p_short"].value
        self.find(
            "numerical",
            "share",
            "Share of the holes that the limit covers",
            stated_share,
            "",
            how="1 less the accepted share of short holes",
            inputs={"p_short": known["p_short"]},
        )
        k = self.find(
            "numerical",
            "k",
            "One-sided tolerance factor",
            float(tolerance_factor(n=n, share=stated_share, confidence=confidence)),
            "",
            how="exact, from the non-central t distribution (ISO 16269-6)",
            inputs=known,
        )
        limit = self.use(
            limit_of,
            "Tolerance limit: the stated share of all holes does not exceed it",
            "V_lim",
            V_m=V_m,
            k=k,
            s_V=s_V,
        )
        overfill = self.use(
            overfill_of,
            "Overfill that follows from the measured holes, not rounded up",
            "overfill",
            V_dose=limit,
            V_req=nominal,
        )
        ahead = self.find(
            "numerical",
            "k.next",
            "One-sided prediction factor for one more hole",
            float(prediction_factor(n=n, confidence=confidence)),
            "",
            how="from the t distribution",
            inputs={name: known[name] for name in ("n_hole", "confidence")},
        )
        self.use(
            limit_of, "Prediction limit: the very next hole does not exceed it", "V_lim.next", V_m=V_m, k=ahead, s_V=s_V
        )
        return limit, overfill


def _check(
    one: Worked, overfill: float | None, dispensed: float, share: float, confidence: float, n: int, too_few: str
) -> Check:
    """Check that the dose covers what the measured holes ask for; owed where they are too few to ask for anything."""
    case = one.case
    group, title = (
        f"{case.mark} ({case.bar.text})",
        f"rounded dose over required volume covers {percent(share)} of the holes, by {n} measured ones",
    )
    resistance = 100 * (1 + dispensed)
    if overfill is None:
        return Check(
            EVIDENCE,
            case.mark,
            "measured",
            f"{group}: {title}",
            math.nan,
            resistance,
            "%",
            None,
            "owed",
            too_few,
            "measure more",
            title,
        )
    return Check.compare(
        notebook=EVIDENCE,
        mark=case.mark,
        name="measured",
        group=group,
        title=title,
        demand=100 * (1 + overfill),
        resistance=resistance,
        unit="%",
        advice=(
            f"an overfill of {percent(up_to_tenth(overfill))} follows from the measured holes, with confidence"
            f" {percent(confidence)}; or measure more"
        ),
    )


def _agreement(
    writer: _Writer, one: Worked, assumed: GroupScatter, *, V_m: Given, s_V: Given, holes: Given, other: float | None
) -> list[Check]:
    """Check that measured holes agree with what is assumed of them: their means, by the zeta score."""
    case = one.case
    if other is not None and not math.isclose(other, one.required, rel_tol=_SAME_HOLE):
        writer.note(
            "other_holes",
            "the measured holes are not of the group's size, and are not compared with the scatter that is assumed"
            " of it.",
        )
        return []
    common: Given | None = None
    for part in assumed.budget.parts:
        if part.name in assumed.setting.common and part.u > 0:
            own = Given(abs(part.gradient) * part.u, "mm³", result_of(OVERFILL, case.mark, f"u_i.{part.name}"))
            words = f"Common to a series, with {WORDS[part.name]}"
            common = own if common is None else writer.use(combined, words, f"u_com.{part.name}", u_c=common, u_i=own)
    u_com = common or Given(0.0, "mm³", "nothing that scatters is common to a series")
    series = Given(float(assumed.setting.series), "pcs", assumed.origins["series"])
    n_ser = writer.use(least_series, "Series that the measured holes come from, at least", n_hole=holes, n_each=series)
    u_dif = writer.use(
        uncertainty_of_difference,
        "Uncertainty of the difference from the assumed mean",
        s_V=s_V,
        n_hole=holes,
        u_com=u_com,
        n_ser=n_ser,
    )
    V_need = Given(assumed.budget.value, "mm³", result_of(OVERFILL, case.mark, needed_dose.symbol))
    if u_dif.value > 0:
        zeta = abs(
            writer.use(zeta_score, "Measured mean against the assumed one", V_m=V_m, V_need=V_need, u_dif=u_dif).value
        )
    else:
        zeta = 0.0 if V_m.value == V_need.value else math.inf
    means = (
        f"{case.display.amount(V_m.value, 'mm³', 4)} measured and {case.display.amount(V_need.value, 'mm³', 4)} assumed"
    )
    return [
        Check.compare(
            notebook=EVIDENCE,
            mark=case.mark,
            name="agrees",
            group=f"{case.mark} ({case.bar.text})",
            title=f"measured and assumed mean differ by no more than {LIMIT:g} standard uncertainties (zeta score)",
            demand=zeta,
            resistance=LIMIT,
            unit="",
            advice=f"{means}: find out why, and state in [scatter.group.{case.mark}] what these holes are like",
        )
    ]


def _notices(job: Job, mark: str, found: Study | None, overfill: float | None) -> list[Notice]:
    less = "the measured holes ask for less than the nominal hole; nothing is taken off the nominal requirement."
    below = [Notice(EVIDENCE, mark, "less", less)] if overfill is not None and overfill < 0 else []
    if found is None:
        unseen = (
            f"{job.path.name} states number, mean and standard deviation alone; run order, shape and outliers of the"
            " measured holes stay unseen."
        )
        return [Notice(EVIDENCE, mark, "unseen", unseen), *below]
    notices = []
    if found.kept.left_out:
        notices.append(
            Notice(EVIDENCE, mark, "left_out", found.kept.sentence, lead=f"{{mark}}, volumes in {found.unit}: ")
        )
    if found.apart is not None and found.apart.outliers:
        many = len(found.apart.outliers) > 1
        listed = ", ".join(f"{point.name} ({found.text(point.value)})" for point in found.apart.outliers)
        text = (
            f"measured hole{'s' if many else ''} {listed} stand{'' if many else 's'} apart from the others "
            f"and {'are' if many else 'is'} kept, since no reason to leave {'them' if many else 'it'} out is written."
        )
        notices.append(Notice(EVIDENCE, mark, "outliers", text))
    if found.plot is not None and found.plot.looks_normal is False:
        free = found.limits.without_normality
        without = (
            "the limit without it stands beside"
            if free.high is not None
            else f"without it {free.needed} measured holes would be needed"
        )
        text = f"the measured volumes do not look normal, which the tolerance limit takes them to be; {without}."
        notices.append(Notice(EVIDENCE, mark, "not_normal", text))
    return [*notices, *below]


# ---- does the job file say what the CSV gives? ---------------------------------------------------


def _differences(job: Job, mark: str, evidence: Evidence, file: Measurements, found: Study) -> tuple[str, ...]:
    """Compare what the job file states with the CSV, each number to the digits in which it was typed."""
    ordered = sorted(found.kept.values)
    gives: dict[str, tuple[float | None, float]] = {
        "mean": (evidence.mean, found.summary.mean),
        "sd": (evidence.sd, found.summary.sd or 0.0),
        "largest": (evidence.largest, ordered[-1]),
    }
    if evidence.rank is not None and evidence.rank <= found.n:
        gives["ordered"] = (evidence.ordered, ordered[evidence.rank - 1])
    told = []
    if evidence.holes != found.n:
        told.append(f"holes = {evidence.holes}, and {found.n} are kept")
    for name, (says, value) in gives.items():
        typed = job.origins.get(f"evidence.{mark}.{name}", "")
        if says is not None and abs(says - convert(value, found.unit, "mm³")) > _half_digit(typed, says):
            told.append(f'{name} = "{typed}", and {found.text(value, 6)} is measured')
    return tuple(
        f"{job.path.name}, evidence.{mark}, does not say what {file.file} gives: {one}. The file counts here."
        for one in told
    )


def _half_digit(typed: str, value: float) -> float:
    """Half of the last digit that was typed [mm³]; a millionth of the value where the text cannot tell."""
    try:
        return 0.5 * digit_of(typed) * (1 + 1e-6)
    except UnitError:
        return 1e-6 * abs(value)
