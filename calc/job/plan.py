"""The plan of a whole job: packs and mixers to order, the crew's days, working time, ways of preparing the holes, dust.

Nothing is reckoned twice: packs come from `calc.job.packs`, the days from `calc.job.timeline`, times from `calc.fill.cure`, ways from
`calc.job.preparation`. Packs can be planned for every job, from ``[equipment]``; the days need ``[site]`` and working times in the
adhesive record. What is then not covered is said in a notice.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from calc.base.formula import RangeError, formula
from calc.base.sheet import Check, Given, Sheet, Step, StepWriter, System, amount, plain_text, shown_unit, with_unit
from calc.base.units import Minute, Mm, Mm3, Whole, convert
from calc.fill.cure import GAS_CONSTANT, Reading, TimeTable, activation_energy, arrhenius_time, read_arrhenius, read_safe
from calc.fill.dust import bags, bulked_volume, drilled_mass
from calc.fill.level import hole_depth
from calc.job.adhesivefile import HoleCondition, equipment_notices
from calc.job.doses import Worked
from calc.job.jobfile import Job
from calc.job.packs import Need, PackPlan, PlanError, group_steps, left_in_packs, plan_packs, plan_steps, to_order
from calc.job.preparation import Holes, WayCost, compare_ways, share_saved, used_up
from calc.job.problems import InputErrors, Problem
from calc.job.sitefile import Site
from calc.job.timeline import (
    BREAK,
    KINDS,
    NIGHT,
    GroupTimes,
    Timeline,
    TimelineError,
    clock,
    dispensing_of,
    simulate_site,
    work_of,
    working_time_check,
)

NOTEBOOK = "05_job_plan"
TIMELINE_HOLES = 20_000  # more are planned without their days, unless somebody asks for them and watches the progress
_BALANCE = 1e-6
_NOISE = 1e-12
_PRACTICE = "common practice, no source"
_MINUTES = (0.0, 1e7)

# What becomes of adhesive that is bought and stays in no hole: key of results.json and words.
CAUSES = {
    "overflow": "overflow at the mouth",
    "first_discard": "first discard of mixers and packs",
    "mixer_content": "left in mixers",
    "pause": "mixers lost to a pause",
    "shift_end": "thrown away at the end of a shift",
    "residual": "residual in packs",
    "rest": "rest of a pack, too small to use",
    "part_packs": "part packs at the end of the job",
}


@formula(symbol="V_mix", source="definition", limits={"l_tube": (1e-9, 1e5)}, relations=("l_reach < l_hole",))
def mixer_with_tube(*, V_mixer: Mm3, V_tube: Mm3, l_tube: Mm, l_hole: Mm, l_reach: Mm) -> Mm3:
    """What a mixer holds together with the tube that reaches a hole's end.

    Parameters
    ----------
    V_mixer : float [mm³]
        What the mixer holds without a tube.
    V_tube : float [mm³]
        What an extension tube holds.
    l_tube : float [mm]
        Length of that tube.
    l_hole : float [mm]
        Depth of the hole.
    l_reach : float [mm]
        Depth that the nozzle reaches without a tube.

    Returns
    -------
    float [mm³]

    Raises
    ------
    RangeError
        A hole that the nozzle reaches without a tube.

    Examples
    --------
    >>> round(mixer_with_tube(V_mixer=11000.0, V_tube=38000.0, l_tube=1000.0, l_hole=430.0, l_reach=230.0), 6)
    18600.0
    """
    return V_mixer + V_tube / l_tube * (l_hole - l_reach)


@formula(symbol="t_one", source=_PRACTICE, limits={"t_inj": _MINUTES, "t_set": _MINUTES, "t_chg": _MINUTES, "n_p": (0.0, 1e9)})
def hole_time(*, t_inj: Minute, t_set: Minute, n_p: Whole, t_chg: Minute) -> Minute:
    """Time from the beginning of one hole's injection to its bar set, with every change of pack that may fall into it.

    Parameters
    ----------
    t_inj : float [min]
        Injecting the hole.
    t_set : float [min]
        Setting the bar.
    n_p : float [-]
        Packs that the hole takes.
    t_chg : float [min]
        Changing pack and mixer.

    Returns
    -------
    float [min]

    Examples
    --------
    >>> hole_time(t_inj=0.5, t_set=0.75, n_p=1.0, t_chg=1.5)
    2.75
    """
    return t_inj + t_set + n_p * t_chg


@formula(symbol="V_drill", source="geometry", limits={"n_hole": (0.0, 1e9), "phi": (0.0, 1e3), "l_v": (0.0, 1e5)})
def drilled_volume(*, n_hole: Whole, V_req: Mm3, phi: Mm, l_v: Mm) -> Mm3:
    """Concrete that is drilled out for a group: what fills each hole with the bar home, and the bar's own volume.

    Parameters
    ----------
    n_hole : float [-]
        Number of holes.
    V_req : float [mm³]
        Required volume of one hole.
    phi : float [mm]
        Nominal diameter of the bar.
    l_v : float [mm]
        Embedment.

    Returns
    -------
    float [mm³]

    Raises
    ------
    RangeError
        A value outside its range.

    Examples
    --------
    >>> round(drilled_volume(n_hole=10.0, V_req=22619.467, phi=16.0, l_v=200.0))
    628319
    """
    return n_hole * (V_req + 3.141592653589793 / 4 * phi**2 * l_v)


@dataclass(frozen=True)
class Use:
    """What the work uses and what is bought, volumes [mm³]: bought = in holes + waste + left over.

    ``waste`` has the keys of `CAUSES`. ``left_over`` is in packs that are not opened.
    """

    packs: int
    mixers: int
    packs_to_order: int
    mixers_to_order: int
    discard: float
    in_holes: float
    waste: Mapping[str, float]
    left_over: float
    bought: float

    @property
    def wasted(self) -> float:
        """All causes together [mm³]."""
        return math.fsum(self.waste.values())


@dataclass(frozen=True)
class PlanWork:
    """The worked plan of a job: numbers for tables and pictures, and the sheet of its steps, checks and notices.

    Attributes
    ----------
    packs
        Packs without the days: one dispenser, no pause, no night. The least that the job can take.
    timeline
        The crew's days; None when the job file or the adhesive record has not what they need.
    use
        What to order and what is lost: by the days where there are any, else by `packs`.
    working, curing
        Readings at the concrete's temperature [min]; None where it cannot be read.
    """

    job: Job
    worked: tuple[Worked, ...]
    packs: PackPlan
    timeline: Timeline | None
    use: Use
    working: Reading | None
    curing: Reading | None
    ways: tuple[WayCost, ...]
    sheet: Sheet

    @property
    def way(self) -> WayCost | None:
        """The way of preparing the hole that the plan takes."""
        site = self.job.site
        return next((way for way in self.ways if site is not None and way.name == site.chosen), None)

    @cached_property
    def times(self) -> Mapping[str, GroupTimes]:
        """What became of each group in the days, by mark."""
        return {} if self.timeline is None else {told.mark: told for told in self.timeline.groups}

    @cached_property
    def _uses(self) -> Mapping[str, Any]:
        return {use.mark: use for use in self.packs.groups}

    @property
    def late(self) -> int | None:
        """Bars that were not set within the working time; None without the days."""
        return None if self.timeline is None else sum(told.late for told in self.timeline.groups)

    def clock(self, seconds: float) -> str:
        """Return a time of the days [s] as day and time of day; ``not known`` for NaN."""
        site = self.job.site
        return "not known" if site is None or not math.isfinite(seconds) else clock(seconds, site.start)

    @cached_property
    def hours(self) -> Mapping[str, float]:
        """Hours of all crews by what was done; what is left of their time is walking [h]."""
        timeline = self.timeline
        if timeline is None:
            return {}
        spent = timeline.end - timeline.start
        found = {KINDS[kind]: float(spent[timeline.kind == kind].sum()) / 3600 for kind in np.unique(timeline.kind) if kind not in (BREAK, NIGHT)}
        off = np.isin(timeline.kind, (BREAK, NIGHT))
        total = 0.0
        for crew in np.unique(timeline.crew):
            own = timeline.crew == crew
            last = timeline.end[own & ~off].max(initial=0.0)
            total += (last - spent[own & off & (timeline.end <= last)].sum()) / 3600
        named = {name: hours for name, hours in found.items() if hours > 0}
        return named | {"walk": max(float(total) - sum(named.values()), 0.0)}

    @property
    def crew_hours(self) -> float:
        """Working hours of all crews together, breaks and nights left out [h]."""
        return sum(self.hours.values())

    def entry(self, mark: str, /) -> dict[str, Any]:
        """Return the plan's keys of a group's entry in results.json."""
        use, told = self._uses[mark], self.times.get(mark)
        found: dict[str, Any] = {"holes_per_pack": use.holes_per_pack, "packs_per_hole": use.packs_per_hole}
        if told is not None:
            found |= {
                "bars_late": told.late,
                "last_set_h": _number(told.last_set / 3600),
                "earliest_load_h": _number(told.earliest_load / 3600),
                "earliest_load": self.clock(told.earliest_load),
                "batch_that_would_do": told.batch_that_would_do,
            }
        return found

    def totals(self) -> dict[str, Any]:
        """Return the plan's keys of the totals in results.json; volumes [L], times [h or min]."""
        use = self.use
        found: dict[str, Any] = {
            "discard_L": convert(use.discard, "mm³", "L"),
            "residual_L": convert(use.waste["residual"], "mm³", "L"),
            "packs": use.packs,
            "mixers": use.mixers,
            "packs_to_order": use.packs_to_order,
            "mixers_to_order": use.mixers_to_order,
            "bought_L": convert(use.bought, "mm³", "L"),
            "in_holes_L": convert(use.in_holes, "mm³", "L"),
            "left_over_L": convert(use.left_over, "mm³", "L"),
            "waste_L": convert(use.wasted, "mm³", "L"),
        }
        found |= {f"waste_{key}_L": convert(volume, "mm³", "L") for key, volume in use.waste.items()}
        found |= {"working_time_min": None if self.working is None else self.working.time, "curing_time_min": None if self.curing is None else self.curing.time}
        if self.timeline is not None:
            found |= {
                "days": self.timeline.days,
                "finish_h": self.timeline.finish / 3600,
                "finish": self.clock(self.timeline.finish),
                "crew_hours": self.crew_hours,
                "overtime_h": self.timeline.overtime / 3600,
                "bars_late": self.late,
            }
        way = self.way
        if way is not None:
            found |= {"preparation": way.name, "preparation_h": way.hours, "charges": way.charges, "bits": way.bits, "bags": way.bags}
            found |= {"dust_kg": None if way.dust_mass is None else way.dust_mass / 1000}
        return found


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


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
        As in `calc.job.timeline.simulate`.
    most
        Jobs of more holes are planned without their days.

    Returns
    -------
    PlanWork
        Lengths [mm], volumes [mm³], times of the days [s], readings [min].

    Raises
    ------
    InputErrors
        A temperature outside a table, a pack that gives nothing, or times with which no crew could work.
    """
    worked = tuple(worked)
    depths = {one.case.mark: float(hole_depth.function(l_v=one.case.embedment, overdrill=one.case.overdrill)) for one in worked}
    book = StepWriter("05", job.display.units)
    read = arrhenius_reading if arrhenius else _safe_reading
    working, curing = (_at_the_concrete(job, table, T, read) for table, T in ((job.adhesive.working, _warmest(job)), (job.adhesive.curing, _coldest(job))))
    for reading, table in ((working, job.adhesive.working), (curing, job.adhesive.curing)):
        if reading is not None and table is not None and reading.E_a is not None:
            _arrhenius_steps(book, table, reading, job)
    content, content_from = _mixer_content(book, job, worked, depths)
    packs = _packs(job, worked, content)
    timeline = None
    if job.site is not None and job.adhesive.working is not None and packs.holes <= most:
        timeline = _days(job, job.site, worked, depths, content, read, progress, cancel)
    use = _use(packs, timeline)
    _pack_steps(book, job, worked, packs, use, content_from, timeline is not None)
    one_hole = _hole_steps(book, job, worked, packs)
    ways = _ways(book, job, worked, depths)
    checks = [*_time_checks(job, working, one_hole, timeline), *_record_checks(job, depths, on, condition), _balance(use, job.display.units)]
    notices = _notices(job, packs, timeline, working, curing, on, condition, most)
    return PlanWork(job, worked, packs, timeline, use, working, curing, ways, Sheet(NOTEBOOK, tuple(book.steps), tuple(checks), tuple(dict.fromkeys(notices))))


# ---- times and temperatures ------------------------------------------------------------------------------------------------

_Read = Callable[[TimeTable, float], Reading]


def _safe_reading(table: TimeTable, T: float) -> Reading:
    return read_safe(table=table, T=T)


def arrhenius_reading(table: TimeTable, T: float) -> Reading:
    """Read a table by interpolation, and on the safe side where it has one row only or the points do not reach.

    Parameters
    ----------
    table
        The product's table.
    T : float [°C]
        Temperature of the base material.

    Returns
    -------
    Reading
        Time [min].

    Raises
    ------
    RangeError
        The temperature is outside the table.
    """
    points = table.points
    if len(points) < 2 or not points[0][0] <= T <= points[-1][0]:
        return read_safe(table=table, T=T)
    return read_arrhenius(table=table, T=T)


def _warmest(job: Job) -> float | None:
    """Temperature at which the working time is read: the concrete's, else the warmest of the day."""
    if job.concrete.temperature is not None or job.site is None:
        return job.concrete.temperature
    return max(point.temperature for point in job.site.temperature)


def _coldest(job: Job) -> float | None:
    if job.concrete.temperature is not None or job.site is None:
        return job.concrete.temperature
    return min(point.temperature for point in job.site.temperature)


def _at_the_concrete(job: Job, table: TimeTable | None, T: float | None, read: _Read) -> Reading | None:
    if table is None or T is None:
        return None
    try:
        return read(table, T)
    except RangeError as error:
        key = "concrete.temperature" if job.concrete.temperature is not None else "site.temperature"
        raise InputErrors([Problem(job.path.name, f"key {key}", "", str(error))]) from None


def _arrhenius_steps(book: StepWriter, table: TimeTable, reading: Reading, job: Job) -> None:
    points = table.points
    i = next(i for i in range(len(points) - 1) if reading.T <= points[i + 1][0])
    (T_1, t_1), (T_2, t_2) = points[i], points[i + 1]
    origin = f"{job.adhesive_path.name}, {table.kind}_time"
    R = Given(GAS_CONSTANT, "J/(mol·K)", "exact in the SI since 2019")
    cold, warm = Given(T_1, "°C", origin), Given(T_2, "°C", origin)
    first = Given(t_1, "min", origin)
    kind = table.kind
    E_a = book.add(
        activation_energy, f"Energy implied by the {kind} times", f"job.E_a.{kind}", R_gas=R, t_1=first, t_2=Given(t_2, "min", origin), T_1=cold, T_2=warm
    )
    T = Given(reading.T, "°C", f"{job.path.name}, concrete.temperature")
    book.add(arrhenius_time, f"{kind.capitalize()} time at the concrete's temperature", f"job.t.{kind}", R_gas=R, t_1=first, T_1=cold, E_a=E_a, T=T)


# ---- packs -----------------------------------------------------------------------------------------------------------------


def _mixer_content(book: StepWriter, job: Job, worked: Sequence[Worked], depths: Mapping[str, float]) -> tuple[float, str]:
    """What a mixer holds, with the tube that the deepest hole takes: one for all, so that it is never too little."""
    record, file = job.adhesive, job.adhesive_path.name
    deepest = max(worked, key=lambda one: depths[one.case.mark]).case.mark
    depth = depths[deepest]
    if not (record.extension_volume and record.extension_length and record.nozzle_reach is not None and depth > record.nozzle_reach):
        content = record.content_of_mixer(depth)
        return content, f"{file}, mixer_volume" if record.mixer_volume is not None else f"not given in {file}: taken as none"
    straight = next(one for one in worked if one.case.mark == deepest).case
    how = f"deepest hole, {deepest}: embedment {amount(straight.embedment, 'mm', book.system)} and overdrill {amount(straight.overdrill, 'mm', book.system)}"
    result = book.add(
        mixer_with_tube,
        "What a mixer holds, with the tube for the deepest hole",
        "job.V_mix",
        V_mixer=Given(record.mixer_volume or 0.0, "mm³", f"{file}, mixer_volume" if record.mixer_volume is not None else f"not given in {file}: none"),
        V_tube=Given(record.extension_volume, "mm³", f"{file}, extension_volume"),
        l_tube=Given(record.extension_length, "mm", f"{file}, extension_length"),
        l_hole=Given(depth, "mm", how),
        l_reach=Given(record.nozzle_reach, "mm", f"{file}, nozzle_reach"),
    )
    return result.value, result.origin


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
            split=True,
            reserve=0.0 if job.site is None else job.site.reserve,
        )
    except PlanError as error:
        raise InputErrors([Problem(job.path.name, "key equipment.pack_volume", job.origins.get("equipment.pack_volume", ""), str(error))]) from None


def _use(plan: PackPlan, timeline: Timeline | None) -> Use:
    if timeline is None:
        own = plan.waste
        parts = (own.overflow, own.discard_mixer + own.discard_pack, own.mixer_content, 0.0, 0.0, own.residual, own.pack_ends, own.part_packs)
        waste = dict(zip(CAUSES, parts, strict=True))
        discard = own.discard_mixer + own.discard_pack
        return Use(plan.packs, plan.mixers, plan.packs_to_order, plan.mixers_to_order, discard, plan.in_holes, waste, plan.left_over, plan.bought)
    lost = timeline.waste
    residual = float(left_in_packs.function(n_p=timeline.packs, V_res=plan.residual))
    # A cancelled run has not let everything out at the mouths that the plan has.
    out = plan.waste.overflow * (timeline.holes_done / plan.holes if not timeline.complete else 1.0)
    # The timeline leaves the residual of packs that are still open with what these still give.
    part_packs = timeline.left_over - (residual - lost["residual"])
    parts = (out, lost["first discard"], lost["mixer content"], lost["pause"], lost["shift end"], residual, lost["rest too small"], part_packs)
    order = int(to_order(n_use=float(timeline.packs), reserve=plan.reserve))
    return Use(
        packs=timeline.packs,
        mixers=timeline.mixers,
        packs_to_order=order,
        mixers_to_order=int(to_order(n_use=float(timeline.mixers), reserve=plan.reserve)),
        discard=timeline.mixers * plan.discard_per_mixer + timeline.packs * plan.discard_per_pack,
        in_holes=timeline.in_holes - out,
        waste=dict(zip(CAUSES, parts, strict=True)),
        left_over=(order - timeline.packs) * plan.pack_volume,
        bought=order * plan.pack_volume,
    )


def _from(steps: Iterable[Step], origins: Mapping[str, str]) -> list[Step]:
    """Say of each input by its name where it comes from."""
    return [replace(step, inputs=tuple(replace(one, origin=origins.get(one.name, one.origin)) for one in step.inputs)) for step in steps]


def _pack_steps(book: StepWriter, job: Job, worked: Sequence[Worked], plan: PackPlan, use: Use, content_from: str, days: bool) -> None:
    """Typeset what a pack gives, what is lost and what is ordered, for the numbers that the work uses."""
    file, system = job.path.name, book.system
    per_pack = "discard_per_pack" if job.adhesive.discard_per_pack is not None else ""
    counted = "counted in the simulated days" if days else "volume of all holes over what a pack gives, one dispenser and no pause"
    origins = {
        "V_pack": f"{file}, equipment.pack_volume",
        "V_res": f"{file}, equipment.residual",
        "V_disc": f"{file}, equipment.discard_per_mixer",
        "V_disc_p": f"{job.adhesive_path.name}, {per_pack}" if per_pack else f"not given in {job.adhesive_path.name}: taken as none",
        "V_mix": content_from,
        "n_p": counted,
        "n_m": counted,
        "n_use": counted,
        "reserve": f"{file}, site.reserve" if "site.reserve" in job.origins else f"not given in {file}: none",
    }
    book.steps += _from(plan_steps(replace(plan, packs=use.packs, mixers=use.mixers), prefix="05.job", system=system), origins)
    rows = {one.case.mark: f"{job.schedule_path.name} row {job.group(one.case.mark).row}" for one in worked} if len(worked) <= 200 else {}
    known = rows or {group.mark: f"{job.schedule_path.name} row {group.row}" for group in job.groups}
    for step in group_steps(plan, prefix="05", system=system):
        mark = step.id.removeprefix("05.").rpartition(".")[0]
        own = {"V_max": "step 05.job.yield", "V_round": f"step 01.{mark}.V_round", "n_hole": f"{known.get(mark, 'schedule')}, count"}
        own["V_sum"] = f"{known.get(mark, 'schedule')}, count, times step 01.{mark}.V_round"
        book.steps += _from([step], own)


def _hole_steps(book: StepWriter, job: Job, worked: Sequence[Worked], plan: PackPlan) -> Step | None:
    """Time for one hole, for the group whose holes take the most packs: the others' are not longer."""
    site, file = job.site, job.path.name
    if site is None:
        return None
    times = site.times
    hardest = max(plan.groups, key=lambda use: use.packs_per_hole)
    change = Given((times.pack_change + times.mixer_change) / 60, "min", f"{file}, site.times.pack_change and mixer_change together")
    book.add(
        hole_time,
        f"Time for one hole, with the changes of pack that may fall into it ({hardest.mark})",
        "job.t_one",
        t_inj=Given(times.inject / 60, "min", f"{file}, site.times.inject"),
        t_set=Given(times.set / 60, "min", f"{file}, site.times.set"),
        n_p=Given(float(hardest.packs_per_hole), "pcs", f"step 05.{hardest.mark}.n_hole"),
        t_chg=change,
    )
    return book.steps[-1]


# ---- the days --------------------------------------------------------------------------------------------------------------


def _days(
    job: Job,
    site: Site,
    worked: Sequence[Worked],
    depths: Mapping[str, float],
    content: float,
    read: _Read,
    progress: Callable[[int, int], None] | None,
    cancel: Callable[[], bool] | None,
) -> Timeline:
    working, curing = job.adhesive.working, job.adhesive.curing
    assert working is not None
    try:
        return simulate_site(
            site=site,
            groups=[work_of(site, mark=one.case.mark, holes=one.case.count, dose=one.rounded, depth=depths[one.case.mark]) for one in worked],
            dispensing=dispensing_of(
                site,
                pack_volume=job.equipment.pack_volume,
                residual=job.equipment.residual,
                discard_per_pack=job.adhesive.discard_per_pack or 0.0,
                discard_per_mixer=job.equipment.discard_per_mixer,
                mixer_content=content,
            ),
            working_time=lambda T: read(working, T).time * 60,
            curing_time=None if curing is None else lambda T: read(curing, T).time * 60,
            progress=progress,
            cancel=cancel,
        )
    except RangeError as error:
        raise InputErrors([Problem(job.path.name, "key site.temperature", "", str(error))]) from None
    except TimelineError as error:
        raise InputErrors([Problem(job.path.name, "key site", "", str(error))]) from None


# ---- ways of preparing the holes, and dust ----------------------------------------------------------------------------------


def _ways(book: StepWriter, job: Job, worked: Sequence[Worked], depths: Mapping[str, float]) -> tuple[WayCost, ...]:
    site = job.site
    if site is None:
        return ()
    file, volumes = job.path.name, []
    for one in worked:
        case = one.case
        volumes.append(
            book.add(
                drilled_volume,
                "Concrete drilled out for the group",
                f"{case.mark}.V_drill",
                n_hole=Given(float(case.count), "pcs", f"{job.schedule_path.name}, count of {case.mark}"),
                V_req=Given(one.required, "mm³", f"step 01.{case.mark}.V_req"),
                phi=Given(case.bar.diameter, "mm", f"{case.bar.standard}, bar {case.bar.designation}"),
                l_v=Given(case.embedment, "mm", case.origin("embedment")),
            ).value
        )
    holes = [Holes(one.case.count, depths[one.case.mark], volume / one.case.count) for one, volume in zip(worked, volumes, strict=True)]
    ways = compare_ways(site=site, holes=holes)
    _dust_steps(book, site, file, math.fsum(volumes), next(way for way in ways if way.name == site.chosen))
    longest = max(ways, key=lambda way: way.hours)
    for way in ways:
        if way is not longest and longest.hours > 0:
            book.add(
                share_saved,
                f"Share of the preparation time that '{way.name}' saves against '{longest.name}'",
                f"job.f_save.{way.name}",
                t_way=Given(way.hours * 60, "min", f"sum of the steps of {file}, site.ways.{way.name}, over all holes"),
                t_other=Given(longest.hours * 60, "min", f"sum of the steps of {file}, site.ways.{longest.name}, over all holes"),
            )
    count = Given(float(sum(one.case.count for one in worked)), "pcs", f"sum of the counts of {job.schedule_path.name}")
    chosen = site.way
    for what, per in (("charge", chosen.holes_per_charge), ("bit", chosen.holes_per_bit), ("bag", chosen.holes_per_bag)):
        if per is not None:
            origin = f"{file}, site.ways.{site.chosen}.holes_per_{what}"
            book.add(used_up, f"{what.capitalize()}s used up", f"job.n_{what}", n_hole=count, n_per=Given(float(per), "pcs", origin))
    return ways


def _dust_steps(book: StepWriter, site: Site, file: str, drilled: float, chosen: WayCost) -> None:
    dust = site.dust
    if dust is None:
        return
    V_drill = Given(drilled, "mm³", "sum of the steps 05.….V_drill of all groups")
    book.add(
        drilled_mass,
        "Concrete drilled out for the whole job",
        "job.m_dust",
        V_drill=V_drill,
        rho_con=Given(dust.density, "kg/m³", f"{file}, site.dust.density"),
    )
    if dust.bulking is None:
        return
    loose = book.add(bulked_volume, "Volume of the loose dust", "job.V_dust", V_drill=V_drill, k_bulk=Given(dust.bulking, "", f"{file}, site.dust.bulking"))
    if dust.bag_volume is not None and site.way.holes_per_bag is None and chosen.bags:
        bag = Given(dust.bag_volume, "mm³", f"{file}, site.dust.bag_volume")
        book.add(bags, "Bags that the dust fills", "job.n_bag", V_dust=loose, V_bag=bag)


# ---- checks ----------------------------------------------------------------------------------------------------------------


def _time_checks(job: Job, working: Reading | None, one_hole: Step | None, timeline: Timeline | None) -> list[Check]:
    checks = []
    if working is not None and one_hole is not None:
        checks.append(
            Check.compare(
                id="05.job.one_hole",
                title="One hole's injection and setting within the working time",
                demand=one_hole.value,
                resistance=working.time,
                unit="min",
                advice="inject and set faster, use a larger pack, or choose an adhesive with a longer working time",
            )
        )
    if timeline is not None:
        checks += [replace(working_time_check(told), id=f"05.{told.mark}.working_time") for told in timeline.groups]
    return checks


def _record_checks(job: Job, depths: Mapping[str, float], on: datetime.date | None, condition: HoleCondition | None) -> list[Check]:
    """Compare the job with what the record allows: reach, temperature, condition of the hole, date."""
    record, checks = job.adhesive, []
    if record.reach is not None:
        checks.append(_reach(job, record.reach, depths))
    if record.base_temperature is not None and (found := _temperature_check(job)) is not None:
        checks.append(found)
    if record.hole_conditions is not None and condition is not None:
        allowed = condition in record.hole_conditions
        listed = " and ".join(record.hole_conditions)
        advice = f"the record allows {listed} holes: bring the hole into that condition, or choose another adhesive"
        checks.append(_allowed("05.job.condition", f"The record allows a {condition} hole", allowed, advice))
    if record.expiry is not None and on is not None:
        title = f"The packs, good until {record.expiry.isoformat()}, may be used on {on.isoformat()}"
        checks.append(_allowed("05.job.expiry", title, not record.expired(on), "do not use them: order packs with a later date"))
    return checks


def _allowed(id: str, title: str, allowed: bool, advice: str) -> Check:
    """Make a check of something that is allowed or not: no objection to one permission, or one objection and no permission."""
    return Check.compare(id=id, title=title, demand=0.0 if allowed else 1.0, resistance=1.0 if allowed else 0.0, unit="", advice=advice)


def _reach(job: Job, reach: float, depths: Mapping[str, float]) -> Check:
    system = job.display.units
    deepest = max(depths, key=lambda mark: depths[mark])
    unit = shown_unit("mm", system)
    beyond = [mark for mark, depth in depths.items() if depth > reach]
    listed = ", ".join(beyond[:8]) + (" and others" if len(beyond) > 8 else "")
    return Check.compare(
        id="05.job.reach",
        title=f"The nozzle reaches the end of the deepest hole ({deepest})",
        demand=convert(depths[deepest], "mm", unit),
        resistance=convert(reach, "mm", unit),
        unit=unit,
        advice=f"{listed} cannot be filled from the back: use a longer tube that the approval allows" if beyond else "",
    )


def _temperature_check(job: Job) -> Check | None:
    """Judge the stated temperature that lies farthest out, as its distance from the middle of the range."""
    allowed, unit = job.adhesive.base_temperature, shown_unit("°C", job.display.units)
    stated = [] if job.concrete.temperature is None else [job.concrete.temperature]
    stated += [] if job.site is None else [point.temperature for point in job.site.temperature]
    if allowed is None or not stated:
        return None
    low, high = (convert(edge, "°C", unit) for edge in (allowed.low, allowed.high))
    middle = (low + high) / 2
    worst = max((convert(T, "°C", unit) for T in stated), key=lambda T: abs(T - middle))
    return Check.compare(
        id="05.job.temperature",
        title=f"Concrete at {plain_text(worst, 4)} {unit} lies within {plain_text(low, 4)} to {plain_text(high, 4)} {unit}: distance from the middle",
        demand=abs(worst - middle),
        resistance=(high - low) / 2,
        unit=unit,
        advice="wait for another temperature, or choose an adhesive that allows this one",
    )


def _balance(use: Use, system: System) -> Check:
    """Check the books: what is bought is in the holes, wasted or left over."""
    gap = abs(use.bought - use.in_holes - use.wasted - use.left_over)
    unit = "in³" if system == "us" else "mL"
    if gap < _NOISE * use.bought:
        gap = 0.0  # the last bits of long sums
    return Check.compare(
        id="05.job.balance",
        title="Bought is in the holes, wasted by a named cause, or left over: what is missing, against a millionth of it",
        demand=convert(gap, "mm³", unit),
        resistance=convert(_BALANCE * use.bought, "mm³", unit),
        unit=unit,
        advice="the books do not balance: do not order by this plan",
    )


# ---- notices ---------------------------------------------------------------------------------------------------------------


def _notices(
    job: Job,
    plan: PackPlan,
    timeline: Timeline | None,
    working: Reading | None,
    curing: Reading | None,
    on: datetime.date | None,
    condition: HoleCondition | None,
    most: int,
) -> list[str]:
    record, equipment, file = job.adhesive, job.equipment, job.adhesive_path.name
    found = list(record.notices())
    found += equipment_notices(
        record, pack_volume=equipment.pack_volume, residual=equipment.residual, discard_per_mixer=equipment.discard_per_mixer, system=job.display.units
    )
    none = [key for key in ("discard_per_pack", "mixer_volume") if getattr(record, key) is None]
    if none:
        found.append(f"{file} does not state {' and '.join(none)}: taken as none, so the order may be short.")
    found += _read_notices(job, working, curing)
    found += _missing_notices(job, plan, timeline, most)
    several = [use for use in plan.groups if use.packs_per_hole > 1]
    if several:
        listed = ", ".join(f"{use.mark} {use.packs_per_hole}" for use in several[:8])
        found.append(f"One hole takes more than one pack (packs: {listed}): allowed only if it is finished from the next pack within the working time.")
    if record.hole_conditions is not None and condition is None:
        found.append(f"{file} allows {' and '.join(record.hole_conditions)} holes; what the holes are like is not compared here: look into them.")
    if record.expiry is not None and on is None:
        found.append(f"Packs are good until {record.expiry.isoformat()} ({file}); that is compared on the day, with the date on the pack.")
    if record.pack_temperature is not None:
        low, high = (degrees(edge, job.display.units) for edge in (record.pack_temperature.low, record.pack_temperature.high))
        found.append(f"Packs are to be between {low} and {high} when they are used ({file}); their temperature is not known here.")
    return found


def _read_notices(job: Job, working: Reading | None, curing: Reading | None) -> list[str]:
    found = []
    for kind, reading in (("Working", working), ("Curing", curing)):
        if reading is not None:
            T = degrees(reading.T, job.display.units)
            found += [f"{kind} time {time_text(reading.time)} with the concrete at {T}: {_how(reading, kind, job.display.units)}.", *reading.notices]
    return found


def _how(reading: Reading, kind: str, system: System) -> str:
    """Say which row was read, in the job's units; the reading's own words are in °C."""
    if reading.E_a is not None or system == "metric":
        return reading.how
    (row,) = reading.rows
    text = " to ".join(dict.fromkeys(degrees(edge, system) for edge in (row.low, row.high)))
    if row.low <= reading.T <= row.high:
        return f"row of the table for {text}"
    return f"next {'warmer' if kind == 'Working' else 'colder'} row of the table, {text}: the safe side"


def degrees(T: float, system: System) -> str:
    """Write a temperature as short as it can be said.

    Parameters
    ----------
    T : float [°C]
        The temperature.
    system
        Units to show.

    Returns
    -------
    str

    Examples
    --------
    >>> degrees(10.0, "us")
    '50 °F'
    """
    unit = shown_unit("°C", system)
    return with_unit(plain_text(convert(T, "°C", unit), 4), unit)


def time_text(minutes: float) -> str:
    """Write a time for people: minutes below two hours, else hours.

    Parameters
    ----------
    minutes : float [min]
        The time.

    Returns
    -------
    str

    Examples
    --------
    >>> time_text(33.0), time_text(900.0)
    ('33 min', '15 h')
    """
    return f"{plain_text(minutes, 3)} min" if minutes < 120 else f"{plain_text(minutes / 60, 3)} h"


def _missing_notices(job: Job, plan: PackPlan, timeline: Timeline | None, most: int) -> list[str]:
    """Say what is not covered because the files do not hold it, and what the days are like where they were simulated."""
    record, file, site = job.adhesive, job.adhesive_path.name, job.site
    found = []
    if record.working is None:
        found.append(f"{file} has no table of working times: whether bars are set in time is not covered.")
    if record.curing is None:
        found.append(f"{file} has no table of curing times: when bars may be loaded is not covered.")
    if job.concrete.temperature is None:
        also = "" if site is None else " Times are read at the warmest and the coldest temperature of the day in its place."
        found.append(f"{job.path.name} states no temperature of the concrete.{also}")
    if record.reach is None:
        found.append(f"{file} does not say how deep the nozzle reaches: that the holes can be filled from the back is not covered.")
    if site is None:
        found.append(f"{job.path.name} has no table site: crew, pauses, working time and dust are not covered, and no reserve is ordered.")
    elif timeline is None and record.working is not None:
        found.append(
            f"{plan.holes} holes are more than the {most} whose days are simulated here: working time and pauses are not covered; the panel can do it."
        )
    if timeline is None:
        found.append("Packs are counted for one dispenser that is never laid down: every pause, night and further crew takes more.")
        return found
    found += timeline.notices
    if not timeline.complete:
        found.append(f"The days were cancelled after {timeline.holes_done} of {plan.holes} holes: every number holds for what was done until then.")
    if site is not None and site.variation:
        found.append(f"Times vary at random by {plain_text(100 * site.variation, 3)} % (seed {site.seed}): another seed gives other days.")
    if timeline.overtime > 60:
        found.append(f"What is in hand is finished after the shift's end: {plain_text(timeline.overtime / 60, 3)} min of overtime in all.")
    return found
