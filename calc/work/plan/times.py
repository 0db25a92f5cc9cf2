"""Times of the plan: working and curing time read at the concrete's temperature, and the crew's days with them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from calc.base.collector import Steps
from calc.base.formula import RangeError
from calc.base.identity import PLAN
from calc.base.sheet import Given, result_of
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.site import Site
from calc.fill.cure import (
    GAS_CONSTANT,
    Reading,
    TimeTable,
    activation_energy,
    arrhenius_time,
    read_arrhenius,
    read_safe,
    wet_time,
)
from calc.work.days.daybook import Timeline
from calc.work.days.timeline import dispensing_of, simulate_site, work_of
from calc.work.days.workday import TimelineError
from calc.work.dose import Worked

_NIGHT_LOW = ".night_low"

Read = Callable[..., Reading]  # of a table at T [°C], both by name: `read_safe`, or `arrhenius_reading`


def arrhenius_reading(*, table: TimeTable, T: float) -> Reading:
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


def stated_temperatures(job: Job) -> tuple[tuple[float, str], ...]:
    """Temperatures of the concrete that the job states, by day and by night.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    tuple of (float [°C], str)
        Each with the key of the job file that states it; that of the concrete first.
    """
    concrete = () if job.concrete.temperature is None else ((job.concrete.temperature, "concrete.temperature"),)
    found = list(concrete)
    for key, course, low in dict.fromkeys(job.site.courses) if job.site is not None else ():
        assert job.site is not None
        found += [(point.temperature, f"{key}.temperature") for point in course]
        if low is not None:
            found.append((low, job.site.key_of_low(key)))
    return tuple(found)


def warmest(job: Job) -> tuple[float, str] | None:
    """Temperature at which the working time is read.

    The warmest that the job states, so that it is the shortest of the day.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    (float [°C], str) or None
        With its key; None when the job file states no temperature.
    """
    by_day = (one for one in stated_temperatures(job) if not one[1].endswith(_NIGHT_LOW))
    return max(by_day, key=lambda one: one[0], default=None)


def coldest(job: Job) -> tuple[float, str] | None:
    """Temperature at which the curing time is read.

    The coldest that the job states, nights among them, so that it is the longest.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    (float [°C], str) or None
        With its key; None when the job file states no temperature.
    """
    return min(stated_temperatures(job), key=lambda one: one[0], default=None)


def at_the_concrete(job: Job, *, table: TimeTable | None, at: tuple[float, str] | None, read: Read) -> Reading | None:
    """Read a table of times at the least favourable temperature that the job states.

    Parameters
    ----------
    job
        A validated job; its file is named where the temperature is outside the table.
    table
        The product's table, if it has one.
    at : (float [°C], str) or None
        Temperature of the concrete and its key, if one is stated.
    read
        How the table is read.

    Returns
    -------
    Reading or None
        Time [min]; None without a table or a temperature, and where the day's course leaves the table, which
        `time_checks` judges.

    Raises
    ------
    InputErrors
        ``concrete.temperature`` is outside the table.
    """
    if table is None or at is None:
        return None
    concrete = job.concrete.temperature
    try:
        if concrete is not None:
            read(table=table, T=concrete)
        return read(table=table, T=at[0]) if table.low <= at[0] <= table.high else None
    except RangeError as error:
        said = str(error)
        if concrete is not None and not table.low <= concrete <= table.high:
            shown, accepted = job.display.temperature(concrete), job.display.temperatures(table.low, table.high)
            said = f"{shown} is outside the table of {table.kind} times; accepted: {accepted}"
        raise InputErrors([Problem(job.path.name, "key concrete.temperature", "", said)]) from None


def arrhenius_steps(book: Steps, *, table: TimeTable, reading: Reading, at: tuple[float, str], job: Job) -> None:
    """Typeset how a time was read between two rows of a table.

    Parameters
    ----------
    book
        Takes the steps.
    table
        The product's table.
    reading
        What `arrhenius_reading` read from it, between two of its rows.
    at : (float [°C], str)
        The temperature that it was read at, with its key.
    job
        A validated job, for the origins of the inputs.
    """
    points = table.points
    i = next(i for i in range(len(points) - 1) if reading.T <= points[i + 1][0])
    (T_1, t_1), (T_2, t_2) = points[i], points[i + 1]
    origin = f"{job.adhesive_path.name}, {table.kind}_time"
    R = Given(GAS_CONSTANT, "J/(mol·K)", "exact in the SI since 2019")
    cold, warm = Given(T_1, "°C", origin), Given(T_2, "°C", origin)
    first = Given(t_1, "min", origin)
    kind = table.kind
    E_a = book.use(
        activation_energy,
        f"Energy implied by the {kind} times",
        f"E_a.{kind}",
        R_gas=R,
        t_1=first,
        t_2=Given(t_2, "min", origin),
        T_1=cold,
        T_2=warm,
    )
    T = Given(reading.T, "°C", f"{job.path.name}, {at[1]}")
    book.use(
        arrhenius_time,
        f"{kind.capitalize()} time at the concrete's temperature",
        f"t.{kind}",
        R_gas=R,
        t_1=first,
        T_1=cold,
        E_a=E_a,
        T=T,
    )


def wet_step(book: Steps, *, reading: Reading, f_wet: float, job: Job) -> Reading:
    """Return the curing time in the concrete of the holes.

    And typeset it where that is wet and the record makes a difference.

    Parameters
    ----------
    book
        Takes the step.
    reading
        What was read from the table.
    f_wet : float [-]
        What its time is multiplied by.
    job
        A validated job, for the origins of the inputs.

    Returns
    -------
    Reading
        Time [min].
    """
    if f_wet == 1.0:
        return reading
    file = job.adhesive_path.name
    t_1 = Given(reading.time, "min", result_of(PLAN, None, "t.curing"))
    book.use(
        wet_time, "Curing time in wet concrete", "t.wet", t_1=t_1, f_wet=Given(f_wet, "", f"{file}, wet_curing_factor")
    )
    return reading.in_wet(f_wet)


def days(
    *,
    job: Job,
    site: Site,
    worked: Sequence[Worked],
    depths: Mapping[str, float],
    content: float,
    read: Read,
    f_wet: float,
    progress: Callable[[int, int], None] | None,
    cancel: Callable[[], bool] | None,
) -> Timeline:
    """Simulate the crew's days of a job.

    Parameters
    ----------
    job
        A validated job whose adhesive record has working times.
    site
        Its ``[site]``.
    worked
        Its worked groups, in the order of the work.
    depths
        Depth of the hole by mark [mm].
    content : float [mm³]
        What a mixer holds.
    read
        How the tables of times are read.
    f_wet : float [-]
        What the curing times of the table are multiplied by, for wet concrete.
    progress, cancel
        As in `calc.work.days.timeline.simulate`.

    Returns
    -------
    Timeline
        Times [s], volumes [mm³].

    Raises
    ------
    InputErrors
        A temperature outside a table, or times with which no crew could work.
    """
    working, curing = job.adhesive.working, job.adhesive.curing
    assert working is not None
    try:
        return simulate_site(
            site=site,
            groups=[
                work_of(site, mark=one.case.mark, holes=one.case.count, dose=one.rounded, depth=depths[one.case.mark])
                for one in sorted(worked, key=lambda one: min(site.days_of(one.case.mark), default=0))
            ],
            dispensing=dispensing_of(
                site,
                pack_volume=job.equipment.pack_volume,
                residual=job.equipment.residual,
                discard_per_pack=job.adhesive.discard_per_pack or 0.0,
                discard_per_mixer=job.equipment.discard_per_mixer,
                mixer_content=content,
            ),
            working_time=lambda T: read(table=working, T=T).time * 60,
            curing_time=None if curing is None else lambda T: read(table=curing, T=T).in_wet(f_wet).time * 60,
            progress=progress,
            cancel=cancel,
        )
    except RangeError as error:
        raise InputErrors([Problem(job.path.name, "key site.temperature", "", str(error))]) from None
    except TimelineError as error:
        raise InputErrors([Problem(job.path.name, "key site", "", str(error))]) from None
