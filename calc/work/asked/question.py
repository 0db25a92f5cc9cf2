"""One question, asked in passing: how much goes into a hole of this bar, this width and this depth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from calc.base.collector import Steps
from calc.base.display import METRIC, SYSTEMS, Display, percent_text
from calc.base.errors import NotAccepted
from calc.base.identity import DOSE
from calc.base.sheet import Given, Step, arithmetic
from calc.base.units import UnitError, parse_number, parse_quantity
from calc.files.fields import Angle, Part
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.reading import validated
from calc.files.schedule import BarGroup, read_values
from calc.fill import dose as dosing
from calc.fill import hole, level
from calc.work.dose import straight_hole, surface_before_bar, work
from calc.work.whole import chosen_case

ASKED_VALUES = ("bar", "hole_diameter", "embedment", "overdrill", "overfill")
_LENGTHS = ("hole_diameter", "embedment", "overdrill")
_TYPED = "as asked"


@dataclass(frozen=True)
class Reply:
    """What is said to one question, line by line; and whether nothing speaks against it."""

    lines: tuple[str, ...]
    passes: bool = True


def reply(
    values: Mapping[str, str], *, unit: str = "", point_angle: str = "", options: Mapping[str, str], job: Job | None
) -> Reply:
    """Say how much adhesive one hole takes, how full it looks before the bar, and how that is worked.

    Parameters
    ----------
    values
        `ASKED_VALUES` as typed, by the grammar of the schedule; what is left out is empty.
    unit
        Unit of lengths that are bare numbers; by default the job's, or mm.
    point_angle
        Included angle of the drill's tip, as typed; with a job, the job's.
    options
        What each value is called where it was typed, for sentences that refuse one.
    job
        Gives dispenser, drill and overfill; without it the volume is told unrounded.

    Returns
    -------
    Reply

    Raises
    ------
    CalcError
        A value is not accepted.
    """
    unit = unit or (job.display.length_unit if job else METRIC.length_unit)
    typed = {name: _with_unit(values[name], unit) if name in _LENGTHS else values[name] for name in values}
    if job is not None and point_angle:
        raise NotAccepted("--point-angle: the drill is the job's; leave the angle out, or ask without a job")
    try:
        group = read_values({name: text for name, text in typed.items() if text}, source="dose")
    except InputErrors as error:
        places = {f"field {name}": option for name, option in options.items()}
        raise InputErrors(replace(one, place=places.get(one.place, one.place)) for one in error.problems) from None
    return _by_job(group, job) if job is not None else _alone(group, typed, _tip(point_angle) if point_angle else None)


class _Tip(Part):
    point_angle: Angle


def _tip(text: str) -> float:
    problems: list[Problem] = []
    read = validated(_Tip, {"point_angle": _with_unit(text, "°")}, "dose", problems)
    if read is None:
        raise InputErrors(replace(one, place="--point-angle") for one in problems)
    return read.point_angle


def _with_unit(text: str, unit: str) -> str:
    try:
        parse_number(text)
    except UnitError:
        return text
    return f"{text} {unit}"


def _alone(group: BarGroup, typed: Mapping[str, str], theta: float | None) -> Reply:
    unit = parse_quantity(typed["embedment"], "mm").unit
    display = next((one for one in map(Display, SYSTEMS) if one.length_unit == unit), METRIC)
    steps = Steps(DOSE, group.mark, display)
    given = {
        "d_0": Given(group.hole_diameter, "mm", _TYPED),
        "phi": Given(group.bar.diameter, "mm", group.bar.origin),
        "l_v": Given(group.embedment, "mm", _TYPED),
        "overdrill": Given(group.overdrill, "mm", _TYPED),
        "theta": Given(180.0, "°", "a flat bottom") if theta is None else Given(theta, "°", _TYPED),
    }
    V_a, V_o, V_t = straight_hole(steps, given)
    required = steps.use(hole.total_volume, "Required volume", V_a=V_a, V_o=V_o, V_t=V_t)
    share = Given(group.overfill or 0.0, "", _TYPED)
    dose = steps.use(dosing.dose, "Dose", V_req=required, overfill=share)
    fraction = steps.use(level.full_fraction, "Share to fill", d_0=given["d_0"], phi=given["phi"])
    surface = surface_before_bar(steps, given, dose, V_t)
    missing = ["the drill's tip"] if theta is None else []
    missing += [] if group.overfill else ["anything on top"]
    left = f", without {' or '.join(missing)}" if missing else ""
    return Reply(
        (
            _what(group, display),
            # What fills the hole exactly is no dose to be set: it has nothing in reserve.
            f"{'Dose' if group.overfill else 'Bare minimum'}: {display.volume(dose.value)} for each hole{left}",
            _before(display, surface, fraction.value),
            *_worked(steps.steps, display),
            "This is the bar and its hole alone: no dispenser, no scatter, no check. --job takes those of a job.",
        )
    )


def _by_job(group: BarGroup, job: Job) -> Reply:
    one = work(chosen_case(job, group))
    fraction = next(step.value for step in one.sheet.steps if step.name == "f_full")
    failing = [check for check in one.sheet.checks if not check.passes]
    return Reply(
        (
            _what(group, job.display),
            f"Dispense into each hole: {one.dispense_text}, with an overfill of {percent_text(one.case.overfill)}",
            _before(job.display, one.level_before_bar, fraction),
            *_worked(one.sheet.steps, job.display),
            *(f"FAILS: {check.title}: {check.reason}; {check.advice}" for check in failing),
        ),
        passes=not failing,
    )


def _what(group: BarGroup, display: Display) -> str:
    size, deep = display.size(group.hole_diameter), display.size(group.embedment)
    return f"Bar {group.bar.text} in a hole of {size}, {deep} deep"


def _before(display: Display, surface: float, fraction: float) -> str:
    low = f"surface {display.surface(surface)} below the mouth"
    return f"Before the bar: {low}; {percent_text(fraction)} of the straight hole makes it full"


def _worked(steps: tuple[Step, ...], display: Display) -> list[str]:
    """The lines of arithmetic that have something to say: parts that the hole has, and how they come to the dose."""
    told = [step for step in steps if step.name in ("V_a", "V_o", "V_t", "V_dose", "V_round") and step.value]
    return [f"{step.label}: {arithmetic(step, display)}" for step in told]
