"""The dose of every bar group, with each formula step, each check and what a site needs to know."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Protocol

from calc.base.bars import Bar
from calc.base.collector import Steps
from calc.base.display import METRIC, Display, plain_text, with_unit
from calc.base.identity import DOSE, PLAN
from calc.base.sheet import Check, Given, Origin, Sheet, result_of
from calc.base.units import convert
from calc.files.job import Job
from calc.files.schedule import BarGroup
from calc.fill import dose as dosing
from calc.fill import hole, level
from calc.fill.filling import Filling, filled
from calc.fill.hole import MeasuredHole
from calc.work.packs.packs import MOST_OF_A_PACK, yield_with_new_mixer

TYPED = Origin("typed in the panel")


@dataclass(frozen=True)
class Case:
    """All that decides the dose of one bar group; lengths in mm, volumes in mm³, the angle in degrees.

    ``over_bit`` is what the hole is wider than the bit cuts; a measured hole takes the place of both.
    ``rounding_share`` is the most that rounding up may add to the dose; ``two_packs`` says that a hole may be finished
    from the next pack, and ``dispenser_unit`` what the dispenser is marked in.
    """

    mark: str
    count: int
    bar: Bar
    hole_diameter: float
    embedment: float
    overdrill: float
    theta: float
    direction: str
    overfill: float
    graduation: float
    by_strokes: bool
    pack_volume: float
    residual: float
    discard: float
    discard_per_pack: float
    mixer_content: float
    origins: Mapping[str, Origin]
    display: Display = METRIC
    measured: MeasuredHole | None = None
    ribs: float | None = None
    over_bit: float = 0.0
    rounding_share: float = 0.5
    dispenser_unit: str = ""
    two_packs: bool = False

    @property
    def rib_diameter(self) -> float:
        """Diameter of the bar over its ribs [mm].

        As the job states it for the bar's standard, or as the bar table has it.
        """
        return self.bar.rib_diameter if self.ribs is None else self.ribs * self.bar.diameter

    @property
    def ribs_known(self) -> bool:
        """Whether that diameter is stated or published; what is only remembered is no ground for a verdict."""
        return self.ribs is not None or not self.bar.standard.ribs.from_memory

    @property
    def bored(self) -> float:
        """Diameter that the straight hole is planned with [mm]."""
        return self.hole_diameter + self.over_bit

    @property
    def depth(self) -> float:
        """Depth of the hole at full diameter [mm]: as measured, or as drawn."""
        return self.measured.end if self.measured else self.embedment + self.overdrill

    @property
    def depth_to_tip(self) -> float:
        """Depth from the mouth to the drill's point [mm], which is what a drill's stop is set to."""
        width = self.measured.diameters[-1] if self.measured else self.hole_diameter
        return self.depth + float(hole.tip_depth(d_0=width, theta=self.theta))

    @property
    def drilled_to(self) -> float:
        """The same as the lists tell it [mm]: up to what a tape shows."""
        return self.display.tape_up(self.depth_to_tip)

    def origin(self, name: str) -> Origin:
        """Where a value comes from."""
        return self.origins.get(name, TYPED)


@dataclass(frozen=True)
class Worked:
    """A worked bar group: its sheet, and the numbers that tables, pictures and results.json draw from [mm, mm³]."""

    case: Case
    sheet: Sheet
    annular: float
    tip: float
    overdrill: float
    required: float
    dose: float
    rounded: float
    number: int
    level_before_bar: float
    overflow: float
    unfilled: float

    @cached_property
    def filling(self) -> Filling:
        """What becomes of the rounded dose in the hole, to be drawn and told."""
        return self.filled_with(self.rounded)

    def filled_with(self, volume: float) -> Filling:
        """What becomes of another volume in the same hole [mm³]."""
        case = self.case
        return filled(
            d_0=case.bored,
            phi=case.bar.diameter,
            l_v=case.embedment,
            volume=volume,
            overdrill=case.overdrill,
            theta=case.theta,
            measured=case.measured,
            least_gap=case.display.least_length,
            least_overflow=case.display.least_volume,
        )

    @property
    def full_before_bar(self) -> bool:
        """Whether the adhesive stands at the mouth before the bar goes in, as well as a stick can tell."""
        return self.level_before_bar < 0.5

    @property
    def strokes(self) -> int | None:
        """Number of strokes; None when the dispenser is set by volume."""
        return self.number if self.case.by_strokes else None

    @property
    def dispense_text(self) -> str:
        """What the person at the dispenser does: in its own unit first, then in the job's."""
        volume, case = self.case.display.dose(self.rounded), self.case
        strokes = f"{self.number} stroke{'s' if self.number != 1 else ''}"
        if case.dispenser_unit in ("", case.display.volume_unit):
            return f"{strokes} ({volume})" if case.by_strokes else volume
        own = with_unit(plain_text(convert(self.rounded, "mm³", case.dispenser_unit), 4), case.dispenser_unit)
        return f"{strokes}, {own} ({volume})" if case.by_strokes else f"{own} ({volume})"

    def entry(self) -> dict[str, object]:
        """Return the group's entry in results.json."""
        case = self.case

        def in_ml(value: float) -> float:
            return convert(value, "mm³", "mL")

        return {
            "mark": case.mark,
            "count": case.count,
            "bar": case.bar.designation,
            "direction": case.direction,
            "hole_diameter_mm": case.hole_diameter,
            "bar_diameter_mm": case.bar.diameter,
            "embedment_mm": case.embedment,
            "overdrill_mm": case.overdrill,
            "annular_volume_mL": in_ml(self.annular),
            "tip_volume_mL": in_ml(self.tip),
            "overdrill_volume_mL": in_ml(self.overdrill),
            "required_volume_mL": in_ml(self.required),
            "overfill": case.overfill,
            "dose_mL": in_ml(self.dose),
            "rounded_dose_mL": in_ml(self.rounded),
            "strokes": self.strokes,
            "measured": case.measured is not None,
            "level_before_bar_mm": self.level_before_bar,
            "overflow_mL": in_ml(self.overflow),
            "unfilled_length_mm": self.unfilled,
            "short_fill_probability": None,
        }


def work(case: Case) -> Worked:
    """Work one bar group: every formula step, the checks and the notices.

    Parameters
    ----------
    case
        Bar, hole, dispenser and pack, each value with its origin.

    Returns
    -------
    Worked

    Raises
    ------
    RangeError
        A value outside a formula's validity, in a sentence.
    """
    steps = Steps(DOSE, case.mark, case.display)
    given = {
        "d_0": Given(case.hole_diameter, "mm", case.origin("hole_diameter")),
        "phi": Given(case.bar.diameter, "mm", case.bar.origin),
        "l_v": Given(case.embedment, "mm", case.origin("embedment")),
        "overdrill": Given(case.overdrill, "mm", case.origin("overdrill")),
        "theta": Given(case.theta, "°", case.origin("point_angle")),
    }
    if case.measured is None:
        if case.over_bit:
            e_bit = Given(case.over_bit, "mm", case.origin("over_bit"))
            given["d_0"] = steps.use(
                hole.bored_diameter, "Diameter of the hole, wider than the bit", d_bit=given["d_0"], e_bit=e_bit
            )
        V_a, V_o, V_t = straight_hole(steps, given)
    else:
        V_a, V_o, V_t = _measured(steps, given, case, case.measured)
        steps.note(
            "measured",
            "measured diameters replace the drill's nominal diameter; the surface before the bar is found numerically"
            " from the measured profile.",
        )
    required = steps.use(hole.total_volume, "Required volume", V_a=V_a, V_o=V_o, V_t=V_t)
    V_dose = steps.use(dosing.dose, "Dose", V_req=required, overfill=Given(case.overfill, "", case.origin("overfill")))
    unit_volume = Given(case.graduation, "mm³", case.origin("stroke" if case.by_strokes else "graduation"))
    count_label = "Whole strokes" if case.by_strokes else "Whole graduations of the dispenser"
    number = steps.use(dosing.graduations, count_label, V_dose=V_dose, graduation=unit_volume)
    rounded = steps.use(dosing.graduated_dose, "Rounded dose", n_g=number, graduation=unit_volume)
    extra = steps.use(
        dosing.rounding_extra, "Extra that rounding up costs at each hole", V_round=rounded, V_dose=V_dose
    )
    added = steps.use(dosing.rounding_share, "Share of the dose that rounding up adds", V_extra=extra, V_dose=V_dose)
    holds = steps.use(
        hole.empty_volume, "What the empty hole holds", V_req=required, phi=given["phi"], l_v=given["l_v"]
    )
    width = given["d_0"]
    if case.measured is not None:
        length = steps.use(
            level.hole_depth, "Depth of the full-diameter hole", l_v=given["l_v"], overdrill=given["overdrill"]
        )
        width = steps.use(
            hole.even_diameter, "Diameter of the straight hole that holds as much", V_hole=holds, V_t=V_t, l_hole=length
        )
    if case.measured is None:
        steps.use(
            level.full_fraction, "Share of a straight hole to fill before the bar", d_0=given["d_0"], phi=given["phi"]
        )
        z_0 = surface_before_bar(steps, given, rounded, V_t)
    else:
        z_0 = _surface(
            steps, given, case.measured, rounded, "z_0", "Surface below the mouth before the bar goes in", 0.0
        )
    overflow = steps.use(level.surplus, "Overflow with the bar home", V=rounded, V_req=required)
    missing = steps.use(level.shortfall, "Shortfall with the bar home", V_req=required, V=rounded)
    if case.measured is None:
        gap = steps.use(
            level.length_of_shortfall,
            "Unfilled length at the mouth",
            V_short=missing,
            d_0=given["d_0"],
            phi=given["phi"],
        ).value
    else:
        label = "Unfilled length at the mouth"
        gap = _surface(steps, given, case.measured, rounded, "u", label, case.embedment)
    most = steps.use(
        yield_with_new_mixer,
        MOST_OF_A_PACK,
        V_pack=Given(case.pack_volume, "mm³", case.origin("pack_volume")),
        V_res=Given(case.residual, "mm³", case.origin("residual")),
        V_disc=Given(case.discard, "mm³", case.origin("discard_per_mixer")),
        V_disc_p=Given(case.discard_per_pack, "mm³", case.origin("discard_per_pack")),
        V_mix=Given(case.mixer_content, "mm³", case.origin("mixer_content")),
    )
    exact_rounded = dosing.rounded_dose(V_dose=V_dose.value, graduation=case.graduation)
    _note_ribs(steps, case)
    checks = (
        *_checks(case, required.value, exact_rounded, most.value),
        *_slips(case, rounded=exact_rounded, holds=holds.value, added=added.value, width=width.value),
    )
    return Worked(
        case=case,
        sheet=Sheet(DOSE, steps.steps, checks, tuple(steps.notices), steps.found),
        annular=V_a.value,
        tip=V_t.value,
        overdrill=V_o.value,
        required=required.value,
        dose=V_dose.value,
        rounded=exact_rounded,
        number=round(number.value),
        level_before_bar=z_0,
        overflow=overflow.value,
        unfilled=min(gap, case.embedment),
    )


def _surface(
    steps: Steps, given: Mapping[str, Given], profile: MeasuredHole, rounded: Given, name: str, label: str, x: float
) -> float:
    """Find where the adhesive stands in a measured hole with the bar's end at a depth ``x`` [mm]."""
    l_v = given["l_v"]
    depth = profile.surface_depth(V=rounded.value, phi=given["phi"].value, l_v=l_v.value, x=x)
    last = next(link.name for link in reversed(steps.links) if link.formula is hole.volume_down_to)
    steps.find(
        "numerical",
        name,
        label,
        min(depth, l_v.value) if x else depth,
        "mm",
        how="depth above which the measured hole, less the bar in it, is empty: the rounded dose fills what lies below",
        inputs={
            "V_round": rounded,
            "V_h": Given(steps.known["V_h"], "mm³", result_of(DOSE, steps.mark, last)),
            "phi": given["phi"],
            "l_v": l_v,
            "x": Given(x, "mm", l_v.source if x else "the bar is not in yet"),
        },
    )
    return depth


def _note_ribs(steps: Steps, case: Case) -> None:
    """Say where the diameter over the ribs comes from, and where the ribs are in the way."""
    ribs, over = case.bar.standard.ribs, case.display.amount(case.rib_diameter, "mm", 4)
    narrowest = min(case.measured.diameters) if case.measured else case.hole_diameter
    if case.ribs is not None:
        said = (
            f"Diameter over the ribs of bars by {case.bar.standard.key}: {case.ribs:g} times the nominal one, as the"
            " job states."
        )
    elif ribs.from_memory:
        said = (
            f"Diameter over the ribs of bars by {case.bar.standard.key}: {ribs.source}; it is not checked. "
            "A measurement or the bar's data sheet, stated in [ribs], makes it a check."
        )
    else:
        said = f"{case.bar.text}: {ribs.source}, {over}."
    steps.note("ribs", said, whole=True)
    if not case.ribs_known and case.rib_diameter > narrowest:
        hole_words = case.display.amount(narrowest, "mm", 4)
        steps.note(
            "ribs_in_the_way",
            f"with the figure from memory, {over} over the ribs, the bar does not go into the hole of {hole_words}: try"
            " one first.",
        )
    if case.rib_diameter <= narrowest < case.rib_diameter * 1.01:
        steps.note(
            "ribs_touch", "the bar's ribs touch the hole or nearly so; no room is left for adhesive at the ribs."
        )


def straight_hole(steps: Steps, given: Mapping[str, Given]) -> tuple[Given, Given, Given]:
    """Work annulus, overdrilled part and tip of a hole as drawn."""
    return (
        steps.use(
            hole.annular_volume, "Annular volume around the bar", d_0=given["d_0"], phi=given["phi"], l_v=given["l_v"]
        ),
        steps.use(
            hole.overdrill_volume, "Volume of the overdrilled part", d_0=given["d_0"], overdrill=given["overdrill"]
        ),
        steps.use(hole.tip_volume, "Volume of the tip cone", d_0=given["d_0"], theta=given["theta"]),
    )


def _measured(
    steps: Steps, given: Mapping[str, Given], case: Case, profile: MeasuredHole
) -> tuple[Given, Given, Given]:
    origin = case.origin("measured")
    total, number, marks = Given(0.0, "mm³", "nothing above the mouth"), 0, {}
    depth = Given(0.0, "mm", "the mouth")
    for end in (given["l_v"].value, profile.end):
        for d_1, d_2, h in profile.slices(end, depth.value) if end > depth.value else ():
            number += 1
            height = Given(h, "mm", origin)
            depth = steps.use(
                hole.depth_down_to, f"Depth of slice {number}, lower end", name=f"z_h.{number}", z_above=depth, h=height
            )
            total = steps.use(
                hole.volume_down_to,
                f"Measured hole down to the end of slice {number}",
                name=f"V_h.{number}",
                V_above=total,
                d_1=Given(d_1, "mm", origin),
                d_2=Given(d_2, "mm", origin),
                h=height,
            )
        marks[end] = total
    bar_end, hole_end = marks[given["l_v"].value], total
    return (
        steps.use(
            hole.annular_volume_measured,
            "Annular volume around the bar",
            V_h=bar_end,
            phi=given["phi"],
            l_v=given["l_v"],
        ),
        steps.use(hole.overdrill_volume_measured, "Volume of the overdrilled part", V_h=hole_end, V_above=bar_end),
        steps.use(
            hole.tip_volume,
            "Volume of the tip cone",
            d_0=Given(profile.diameters[-1], "mm", origin),
            theta=given["theta"],
        ),
    )


def surface_before_bar(steps: Steps, given: Mapping[str, Given], rounded: Given, V_t: Given) -> float:
    """Work how far below the mouth a volume stands in a straight hole before the bar goes in [mm]."""
    depth = steps.use(
        level.hole_depth, "Depth of the full-diameter hole", l_v=given["l_v"], overdrill=given["overdrill"]
    )
    label = "Surface below the mouth before the bar goes in"
    if rounded.value > V_t.value:
        z_0 = steps.use(level.level_before_bar, label, V=rounded, V_t=V_t, d_0=given["d_0"], l_hole=depth)
    else:
        height = steps.use(hole.tip_depth, "Height of the tip cone", d_0=given["d_0"], theta=given["theta"])
        z_0 = steps.use(level.level_in_tip, label, V=rounded, V_t=V_t, h_t=height, l_hole=depth)
    return max(z_0.value, 0.0)


def _checks(case: Case, required: float, rounded: float, most: float) -> tuple[Check, ...]:
    length, volume = case.display.length_unit, case.display.volume_unit
    d_0 = min(case.measured.diameters) if case.measured else case.hole_diameter
    compare = partial(Check.compare, notebook=DOSE, mark=case.mark, group=f"{case.mark} ({case.bar.text})")
    packs = -(-rounded // most) if most > 0 else float("nan")
    over = case.display.drilled(case.rib_diameter)
    fit = compare(
        name="fit",
        title="bar over its ribs fits the hole",
        demand=convert(case.rib_diameter, "mm", length),
        resistance=convert(d_0, "mm", length),
        unit=length,
        advice=f"drill at least {over} with room for adhesive at the ribs, if the approval allows",
    )
    one_pack = compare(
        name="pack",
        title="one pack gives the rounded dose",
        demand=convert(rounded, "mm³", volume),
        resistance=convert(most, "mm³", volume),
        unit=volume,
        advice=(
            f"one hole takes {packs:.0f} packs: use a larger pack, or, where the approval allows it, write"
            " hole_from_two_packs = true into [site]"
        ),
    )
    return (
        *((fit,) if case.ribs_known else ()),
        compare(
            name="full",
            title="rounded dose fills the hole",
            demand=convert(required, "mm³", volume),
            resistance=convert(rounded, "mm³", volume),
            unit=volume,
            advice="raise the overfill: a hole that is planned short does not conform",
        ),
        *((one_pack,) if one_pack.passes or not case.two_packs else ()),
    )


def _slips(case: Case, *, rounded: float, holds: float, added: float, width: float) -> tuple[Check, ...]:
    """Check for what no careful person would do on purpose: a unit that slipped, a dispenser of the wrong size."""
    length, volume = case.display.length_unit, case.display.volume_unit
    compare = partial(Check.compare, notebook=DOSE, mark=case.mark, group=f"{case.mark} ({case.bar.text})")
    dispenser = "stroke" if case.by_strokes else "graduation"
    phi = convert(case.bar.diameter, "mm", length)
    return (
        compare(
            name="holds",
            title="rounded dose is no more than the empty hole holds",
            demand=convert(rounded, "mm³", volume),
            resistance=convert(holds, "mm³", volume),
            unit=volume,
            advice=f"most of it runs out at the mouth: look for a slip in the hole, the overfill or the {dispenser}",
        ),
        compare(
            name="rounding",
            title="rounding up adds no more than the stated share of the dose",
            demand=100 * max(added, 0.0),
            resistance=100 * case.rounding_share,
            unit="%",
            advice=f"use a dispenser with a smaller {dispenser}, or state another share: equipment.rounding_share",
        ),
        compare(
            name="depth",
            title="embedment is one bar diameter or more",
            demand=phi,
            resistance=convert(case.embedment, "mm", length),
            unit=length,
            advice="no bar is bonded over so little: look for a slip in the embedment or its unit",
        ),
        compare(
            name="width",
            title="hole is no wider than three bar diameters",
            demand=convert(width, "mm", length),
            resistance=3 * phi,
            unit=length,
            advice=(
                "look for a slip in the hole's diameter, the bar or a unit; the approval names the hole for each bar"
            ),
        ),
    )


class Chosen(Protocol):
    """An overfill that was chosen for a group, and where it comes from."""

    @property
    def share(self) -> float:
        """The share added."""

    @property
    def origin(self) -> Origin:
        """Where it comes from."""


def mixer_content(job: Job, depth: float) -> tuple[float, Origin]:
    """Return what a mixer holds, with the tube that a hole of this depth takes, and where that comes from.

    Parameters
    ----------
    job
        A validated job.
    depth : float [mm]
        Depth of the hole.

    Returns
    -------
    (float [mm³], Origin)
    """
    record, file = job.adhesive, job.adhesive_path.name
    content = record.content_of_mixer(depth)
    if content != (record.mixer_volume or 0.0):
        return content, result_of(PLAN, None, "V_mix")
    return content, _record_origin(file, "mixer_volume", record.mixer_volume)


def overdrill_origin(job: Job, group: BarGroup) -> Origin:
    """Return where a group's overdrill stands in the schedule, which may have the depth to the tip in its place."""
    column = next((name for name in ("overdrill", "depth_to_tip") if group.given.get(name)), "")
    given = Origin.of_row(job.schedule_path.name, group.row, column)
    return given if column else Origin("not given in the schedule: none")


def _record_origin(file: str, key: str, value: float | None) -> Origin:
    return Origin(f"{file}, {key}" if value is not None else f"not given in {file}: taken as none")


def case_of(job: Job, group: BarGroup, choice: Chosen | None = None) -> Case:
    """Take from the job file what decides one bar group's dose, each value with its place in the files.

    The overfill is the chosen one; without a choice it is the group's own share, or the job's.
    """
    equipment = job.equipment
    by_strokes = equipment.stroke is not None
    origins = {name: Origin.of_row(job.schedule_path.name, group.row, name) for name in ("hole_diameter", "embedment")}
    origins["overdrill"] = overdrill_origin(job, group)
    parts = ("graduation", "stroke", "pack_volume", "residual", "discard_per_mixer", "point_angle")
    origins |= {name: Origin(f"{job.path.name}, equipment.{name}") for name in parts}
    own, share = (
        Origin.of_row(job.schedule_path.name, group.row, "overfill"),
        Origin(f"{job.path.name}, overfill.share"),
    )
    origins["overfill"] = choice.origin if choice is not None else own if group.overfill is not None else share
    origins["measured"] = Origin(f"{job.path.name}, measured.{group.mark}", general=f"{job.path.name}, measured.(mark)")
    per_pack = job.adhesive.discard_per_pack
    origins["discard_per_pack"] = _record_origin(job.adhesive_path.name, "discard_per_pack", per_pack)
    # One mixer, with the tube that the job's deepest hole takes, so that a pack gives the same wherever it is asked.
    content, origins["mixer_content"] = mixer_content(job, max(job.deepest, job.depth(group)))
    profile = job.measured.get(group.mark)
    over = job.over_bit(group) or 0.0
    if over and job.scatter is not None:
        keys = job.scatter.of(group.mark)
        origins["over_bit"] = Origin(
            f"{job.path.name}, {keys.place['over_bit']}", general=f"{job.path.name}, {keys.general_place('over_bit')}"
        )
    return Case(
        mark=group.mark,
        count=group.count,
        bar=group.bar,
        hole_diameter=group.hole_diameter,
        embedment=group.embedment,
        overdrill=(profile.end - group.embedment) if profile else group.overdrill,
        theta=equipment.point_angle,
        direction=group.direction,
        overfill=job.overfill_of(group) if choice is None else choice.share,
        graduation=next(v for v in (equipment.stroke, equipment.graduation) if v is not None),
        by_strokes=by_strokes,
        pack_volume=equipment.pack_volume,
        residual=equipment.residual,
        discard=equipment.discard_per_mixer,
        discard_per_pack=per_pack or 0.0,
        mixer_content=content,
        origins=origins,
        display=job.display,
        measured=profile,
        ribs=job.ribs.get(group.bar.standard.key),
        over_bit=over,
        rounding_share=equipment.rounding_share,
        dispenser_unit=job.dispenser_unit,
        two_packs=job.site is not None and job.site.hole_from_two_packs is True,
    )
