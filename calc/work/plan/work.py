"""The plan of a whole job: packs and mixers to order, the crew's days, working time, ways of preparing the holes, dust.

Nothing is reckoned twice: packs come from `calc.work.packs.packs`, the days from `calc.work.days.timeline`, times from
`calc.fill.cure`, ways from `calc.work.plan.preparation`. Packs can be planned for every job, from ``[equipment]``; the
days need ``[site]`` and working times in the adhesive record. What is then not covered is said in a notice. The result
stands in `calc.work.plan.planned`; times, checks and notices have modules of their own, `calc.work.plan.times`,
`calc.work.plan.checks` and `calc.work.plan.notices`.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from calc.base.collector import Steps
from calc.base.errors import CalcError
from calc.base.formula import formula
from calc.base.identity import DOSE, PLAN
from calc.base.maths import pi
from calc.base.sheet import Given, Origin, Sheet, result_of
from calc.base.units import Minute, Mm, Mm3, Whole
from calc.files.adhesive import HoleCondition
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.site import Site
from calc.fill.cure import read_safe
from calc.fill.dust import bags, bulked_volume, drilled_mass
from calc.fill.level import hole_depth
from calc.work.days.daybook import Timeline
from calc.work.days.timeline import last_injection
from calc.work.dose import Worked, mixer_content
from calc.work.packs.need import Need, PackPlan, PlanError
from calc.work.packs.packs import group_steps, plan_packs, plan_steps
from calc.work.plan.checks import balance, day_checks, record_checks, table_checks, time_checks, two_packs_check
from calc.work.plan.counted import Counted, keep_reading
from calc.work.plan.notices import plan_notices
from calc.work.plan.planned import PlanWork
from calc.work.plan.preparation import (
    Holes,
    WayCost,
    compare_preparations,
    of_diameters,
    share_saved,
    used_up,
)
from calc.work.plan.times import (
    arrhenius_reading,
    arrhenius_steps,
    at_the_concrete,
    coldest,
    days,
    warmest,
    wet_step,
)
from calc.work.plan.volumes import Use, use_of
from calc.work.site.proof import plan_proof_loads

TIMELINE_HOLES = 20_000  # more are planned without their days, unless somebody asks for them and watches the progress
_PRACTICE = "common practice, no source"
_MINUTES = (0.0, 1e7)


@formula(symbol="V_mix", source="definition", limits={"l_tube": (1e-9, 1e5)}, relations=("l_reach < l_hole",))
def mixer_with_tube(*, V_mixer: Mm3, V_tube: Mm3, l_tube: Mm, l_hole: Mm, l_reach: Mm) -> Mm3:
    """What a mixer holds together with the tube that reaches a hole's end.

    Examples
    --------
    >>> round(mixer_with_tube(V_mixer=11000.0, V_tube=38000.0, l_tube=1000.0, l_hole=430.0, l_reach=230.0), 6)
    18600.0
    """
    return V_mixer + V_tube / l_tube * (l_hole - l_reach)


@formula(
    symbol="t_one",
    source=_PRACTICE,
    limits={"t_inj": _MINUTES, "t_set": _MINUTES, "t_chg": _MINUTES, "n_p": (0.0, 1e9)},
)
def hole_time(*, t_inj: Minute, t_set: Minute, n_p: Whole, t_chg: Minute) -> Minute:
    """Time from the beginning of one hole's injection to its bar set, with every change of pack that may fall into it.

    Notes
    -----
    ``n_p`` is the number of packs that may have to be opened for the hole while it is filled.

    Examples
    --------
    >>> hole_time(t_inj=0.5, t_set=0.75, n_p=1.0, t_chg=1.5)
    2.75
    """
    return t_inj + t_set + n_p * t_chg


@formula(symbol="V_drill", source="geometry", limits={"n_hole": (0.0, 1e9), "phi": (0.0, 1e3), "l_v": (0.0, 1e5)})
def drilled_volume(*, n_hole: Whole, V_req: Mm3, phi: Mm, l_v: Mm) -> Mm3:
    """Concrete that is drilled out for a group: what fills each hole with the bar home, and the bar's own volume.

    Examples
    --------
    >>> round(drilled_volume(n_hole=10.0, V_req=22619.467, phi=16.0, l_v=200.0))
    628319
    """
    return n_hole * (V_req + pi / 4 * phi**2 * l_v)


class Unfinished(CalcError):
    """A plan was cancelled: packs, days and checks of a part of the job read like those of the whole.

    So there are none.
    """

    def __init__(self, done: int, holes: int) -> None:
        part = f"the plan was cancelled after {done} of {holes} holes"
        super().__init__(f"{part}: no order, no load day and no check follow from it; change a field to plan anew")


def work_plan(
    job: Job,
    worked: Sequence[Worked],
    *,
    arrhenius: bool = False,
    on: datetime.date | None = None,
    condition: HoleCondition | None = None,
    progress: Callable[[int, int], None] | None = None,
    cancel: Callable[[], bool] | None = None,
    most: int = TIMELINE_HOLES,
    expected_overflow: float | None = None,
) -> PlanWork:
    """Plan a whole job.

    Parameters
    ----------
    job
        A validated job; its ``[site]`` and the adhesive record decide how much can be planned.
    worked
        Its worked groups, in the order of the work.
    arrhenius
        True reads the tables of times between their rows, by ln t against 1/T; false takes the row on the safe side.
    on
        Day of the work, to be compared with the date of the packs; never today's by itself.
    condition
        Condition of the holes, to be compared with what the record allows.
    progress, cancel
        As in `calc.work.days.timeline.simulate`.
    most
        Jobs of more holes are planned without their days.
    expected_overflow : float [mm³]
        What notebook 02 expects at the mouths with the stated scatter, to be told beside the planned overflow.

    Returns
    -------
    PlanWork
        Of the whole job: a run that was cancelled gives none. Lengths [mm], volumes [mm³], times of the days [s],
        readings [min].

    Raises
    ------
    InputErrors
        A temperature outside a table, a pack that gives nothing, or times with which no crew could work.
    Unfinished
        It was cancelled.
    """
    worked = tuple(worked)
    depths = {
        one.case.mark: float(hole_depth.function(l_v=one.case.embedment, overdrill=one.case.overdrill))
        for one in worked
    }
    book = Steps(PLAN, None, job.display)
    read = arrhenius_reading if arrhenius else read_safe
    tables = ((job.adhesive.working, warmest(job)), (job.adhesive.curing, coldest(job)))
    working, curing = (at_the_concrete(job, table=table, at=at, read=read) for table, at in tables)
    for reading, (table, at) in zip((working, curing), tables, strict=True):
        if reading is not None and table is not None and at is not None and reading.E_a is not None:
            arrhenius_steps(book, table=table, reading=reading, at=at, job=job)
        elif reading is not None and at is not None:
            keep_reading(book, job, reading, at)
    f_wet = job.adhesive.wet_factor(condition)
    curing = None if curing is None else wet_step(book, reading=curing, f_wet=f_wet, job=job)
    content, content_from = _mixer_content(book, job, worked, depths)
    packs = _packs(job, worked, content)
    timeline = None
    if job.site is not None and job.adhesive.working is not None and packs.holes <= most:
        timeline = days(
            job=job,
            site=job.site,
            worked=worked,
            depths=depths,
            content=content,
            read=read,
            f_wet=f_wet,
            progress=progress,
            cancel=cancel,
        )
        if not timeline.complete:
            raise Unfinished(timeline.holes_done, packs.holes)
    use = use_of(packs, timeline)
    counted = Counted(book, job, worked, packs, timeline)
    _pack_steps(book, job, packs, use, content_from, counted)
    one_hole = _hole_steps(book, job, packs)
    ways = _ways(book, job, worked, depths, counted)
    for told in () if timeline is None else timeline.groups:
        counted.group_times(told)
    proof = [group for group in plan_proof_loads(job=job).groups if group.checks]
    checks = [
        *time_checks(working=working, one_hole=one_hole, timeline=timeline),
        *table_checks(job),
        *record_checks(job=job, depths=depths, on=_last_day(job, timeline, on), condition=condition),
        balance(use, display=job.display),
        *two_packs_check(job, use),
        *day_checks(job, timeline),
        *(check for group in proof for check in group.checks),
    ]
    notices = plan_notices(
        job=job, plan=packs, timeline=timeline, working=working, curing=curing, on=on, condition=condition, most=most
    )
    plan = PlanWork(job, worked, packs, timeline, use, working, curing, ways, Sheet(PLAN), expected_overflow)
    counted.whole_job(plan)
    steps = (*book.steps, *(step for group in proof for step in group.steps))
    return replace(plan, sheet=Sheet(PLAN, steps, tuple(checks), tuple(dict.fromkeys(notices)), book.found))


def _last_day(job: Job, timeline: Timeline | None, on: datetime.date | None) -> datetime.date | None:
    """Day of the last injection, counted from the day of the work; that day itself where there are no days."""
    if on is None or timeline is None or job.site is None:
        return on
    return last_injection(timeline, job.site.start, on)


# ---- packs ---------------------------------------------------------------------------------------


def _mixer_content(
    book: Steps, job: Job, worked: Sequence[Worked], depths: Mapping[str, float]
) -> tuple[float, Origin]:
    """What a mixer holds, with the tube that the deepest hole takes: one for all, so that it is never too little."""
    record, file = job.adhesive, job.adhesive_path.name
    deepest = max(worked, key=lambda one: depths[one.case.mark]).case.mark
    depth = depths[deepest]
    content, origin = mixer_content(job, depth)
    if origin.step is None:
        return content, origin
    # A content that only a tube makes: the record then has its three numbers.
    assert record.extension_volume is not None
    assert record.extension_length is not None
    assert record.nozzle_reach is not None
    result = book.use(
        mixer_with_tube,
        "What a mixer holds, with the tube for the deepest hole",
        "V_mix",
        V_mixer=Given(
            record.mixer_volume or 0.0,
            "mm³",
            f"{file}, mixer_volume" if record.mixer_volume is not None else f"not given in {file}: none",
        ),
        V_tube=Given(record.extension_volume, "mm³", f"{file}, extension_volume"),
        l_tube=Given(record.extension_length, "mm", f"{file}, extension_length"),
        l_hole=Given(depth, "mm", result_of(DOSE, deepest, hole_depth.symbol)),
        l_reach=Given(record.nozzle_reach, "mm", f"{file}, nozzle_reach"),
    )
    return result.value, result.source


def _packs(job: Job, worked: Sequence[Worked], content: float) -> PackPlan:
    equipment = job.equipment
    try:
        return plan_packs(
            needs=[Need(one.case.mark, one.case.count, one.rounded, max(one.overflow, 0.0)) for one in worked],
            pack_volume=equipment.pack_volume,
            residual=equipment.residual,
            discard_per_mixer=equipment.discard_per_mixer,
            discard_per_pack=job.adhesive.discard_per_pack or 0.0,
            mixer_volume=content,
            split=job.site is not None and job.site.hole_from_two_packs is True,
            reserve=0.0 if job.site is None else job.site.reserve,
        )
    except PlanError as error:
        raise InputErrors(
            [
                Problem(
                    job.path.name, "key equipment.pack_volume", job.origins.get("equipment.pack_volume", ""), str(error)
                )
            ]
        ) from None


def _pack_steps(book: Steps, job: Job, plan: PackPlan, use: Use, content_from: Origin, counted: Counted) -> None:
    """Typeset what a pack gives, what is lost and what is ordered, for the numbers that the work uses."""
    file = job.path.name
    per_pack = "discard_per_pack" if job.adhesive.discard_per_pack is not None else ""
    origins: dict[str, str | Origin] = {
        "V_pack": f"{file}, equipment.pack_volume",
        "V_res": f"{file}, equipment.residual",
        "V_disc": f"{file}, equipment.discard_per_mixer",
        "V_disc_p": (
            f"{job.adhesive_path.name}, {per_pack}"
            if per_pack
            else f"not given in {job.adhesive_path.name}: taken as none"
        ),
        "V_mix": content_from,
        **counted.packs(use),
        "reserve": f"{file}, site.reserve" if "site.reserve" in job.origins else f"not given in {file}: none",
    }
    plan_steps(book, replace(plan, packs=use.packs, mixers=use.mixers), origins=origins)
    group_steps(
        book,
        plan,
        counts={group.mark: Origin.of_row(job.schedule_path.name, group.row, "count") for group in job.groups},
    )
    counted.balance(use)


def _hole_steps(book: Steps, job: Job, plan: PackPlan) -> float | None:
    """Time for one hole, for the group whose holes take the most packs: the others' are not longer."""
    site, file = job.site, job.path.name
    if site is None:
        return None
    times = site.times
    hardest = max(plan.groups, key=lambda use: use.packs_per_hole)
    change = Given(
        (times.pack_change + times.mixer_change) / 60,
        "min",
        f"{file}, site.times.pack_change and mixer_change together",
    )
    changes = Given(float(hardest.packs_per_hole), "pcs", result_of(PLAN, hardest.mark, "n_hole"))
    if not plan.split and hardest.packs_per_hole == 1:
        key = "site.hole_from_two_packs"
        said = f"{file}, {key}" if key in job.origins else f"not given in {file}"
        changes = Given(0.0, "pcs", f"{said}: a hole is filled from one pack")
    return book.use(
        hole_time,
        f"Time for one hole, with the changes of pack that may fall into it ({hardest.mark})",
        "t_one",
        t_inj=Given(times.inject / 60, "min", f"{file}, site.times.inject"),
        t_set=Given(times.set / 60, "min", f"{file}, site.times.set"),
        n_p=changes,
        t_chg=change,
    ).value


# ---- ways of preparing the holes, and dust -------------------------------------------------------


def _ways(
    book: Steps, job: Job, worked: Sequence[Worked], depths: Mapping[str, float], counted: Counted
) -> tuple[WayCost, ...]:
    site = job.site
    if site is None:
        return ()
    file, volumes = job.path.name, dict[str, float]()
    rows = {group.mark: group.row for group in job.groups}
    for one in worked:
        case = one.case
        volumes[case.mark] = (
            book.of(case.mark)
            .use(
                drilled_volume,
                "Concrete drilled out for the group",
                n_hole=Given(
                    float(case.count),
                    "pcs",
                    Origin.of_row(job.schedule_path.name, rows[case.mark], "count"),
                ),
                V_req=Given(one.required, "mm³", result_of(DOSE, case.mark, "V_req")),
                phi=Given(case.bar.diameter, "mm", case.bar.origin),
                l_v=Given(case.embedment, "mm", case.origin("embedment")),
            )
            .value
        )
    holes = [
        Holes(one.case.count, depths[one.case.mark], volume / one.case.count, one.case.hole_diameter)
        for one, volume in zip(worked, volumes.values(), strict=True)
    ]
    ways = compare_preparations(site=site, holes=holes)
    _dust_steps(book, site, file, counted.drilled(volumes), next(way for way in ways if way.name == site.chosen))
    longest = max(ways, key=lambda way: way.hours)
    times = {way.name: counted.way_time(way) for way in ways}
    for way in ways:
        if way is not longest and longest.hours > 0:
            book.use(
                share_saved,
                f"Share of the preparation time that '{way.name}' saves against '{longest.name}'",
                f"f_save.{way.name}",
                t_way=times[way.name],
                t_other=times[longest.name],
            )
    count = counted.holes()
    chosen = site.way
    for what, per in (
        ("charge", chosen.holes_per_charge),
        ("bag", chosen.holes_per_bag),
    ):
        if per is not None:
            origin = f"{file}, site.ways.{site.chosen}.holes_per_{what}"
            book.use(
                used_up,
                f"{what.capitalize()}s used up",
                f"n_{what}",
                n_hole=count,
                n_per=Given(float(per), "pcs", origin),
            )
    if chosen.holes_per_bit is not None:
        lasts = Given(float(chosen.holes_per_bit), "pcs", f"{file}, site.ways.{site.chosen}.holes_per_bit")
        _bit_steps(book, job, holes, lasts)
    return ways


def _bit_steps(book: Steps, job: Job, holes: Sequence[Holes], lasts: Given) -> None:
    """Show the bits of each diameter, and their sum."""
    used = {}
    for diameter, count in of_diameters(holes).items():
        name = f"n_bit.{diameter:g}"
        origin = f"{job.schedule_path.name}, counts of all holes of {job.display.size(diameter)}"
        step = book.use(
            used_up, "Bits used up, of one diameter", name, n_hole=Given(float(count), "pcs", origin), n_per=lasts
        )
        used[name] = Given(step.value, "pcs", result_of(PLAN, None, name))
    how = "sum over the diameters: a bit drills one diameter only, so each begins with a bit of its own"
    book.find("summed", "n_bit", "Bits used up", sum(one.value for one in used.values()), "pcs", how=how, inputs=used)


def _dust_steps(book: Steps, site: Site, file: str, V_drill: Given, chosen: WayCost) -> None:
    dust = site.dust
    if dust is None:
        return
    book.use(
        drilled_mass,
        "Concrete drilled out for the whole job",
        "m_dust",
        V_drill=V_drill,
        rho_con=Given(dust.density, "kg/m³", f"{file}, site.dust.density"),
    )
    if dust.bulking is None:
        return
    loose = book.use(
        bulked_volume,
        "Volume of the loose dust",
        "V_dust",
        V_drill=V_drill,
        k_bulk=Given(dust.bulking, "", f"{file}, site.dust.bulking"),
    )
    if dust.bag_volume is not None and site.way.holes_per_bag is None and chosen.bags:
        bag = Given(dust.bag_volume, "mm³", f"{file}, site.dust.bag_volume")
        book.use(bags, "Bags that the dust fills", "n_bag", V_dust=loose, V_bag=bag)
