"""The panel of the first notebook: typed values in, the dose of one hole out, with its picture.

The panel collects text, has it read by the rules of the bar schedule, and calls `calc.show.view.work`. It computes
nothing itself, and it never shows a result that does not belong to what stands in its fields.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from calc.base.bars import accepted_bars
from calc.base.display import Display, plain_text
from calc.base.errors import NotAccepted
from calc.base.sheet import Origin
from calc.base.units import convert
from calc.files.job import Job
from calc.files.schedule import DIRECTIONS, BarGroup, read_values
from calc.fill.filling import Filling
from calc.show.drawing import Picture
from calc.show.panel import BY_RULE, Panel, choice_field, read_volume, result_html, slider_field, text_field
from calc.show.view import picture_of
from calc.work.dose import Case, Worked, case_of, work
from calc.work.save import save_group, save_values
from calc.work.whole import chosen_case

OWN = ""
_ROW = ("mark", "count", "bar", "hole_diameter", "embedment", "overdrill", "direction", "overfill")
_LARGEST_VOLUME = 1e6  # mm³, what the job file accepts for a graduation or a stroke
_LARGEST_INJECTED = 5e7


class DosePanel(Panel):
    """Fields for one bar group, its dose, and a button that writes the fields to the job file.

    Parameters
    ----------
    job
        The job that the bar groups, the pack and the drill's point come from.

    Attributes
    ----------
    fields : dict of str to Widget
        What is typed or chosen, by name.
    result : Worked or None
        The last calculation; None while an entry is wrong.
    message : str
        The sentence about a wrong entry; empty while there is none.
    pictures : tuple of Picture
        The picture of the result.
    widget : VBox
        The panel itself.
    """

    result: Worked | None
    sliders: Mapping[str, Any] = {"overfill": ".2f"}
    chooser = "group"
    first = ("group", "bar", "hole_diameter", "embedment")

    def __init__(self, job: Job) -> None:
        self._figure = Figure()
        self._kept: tuple[Job, dict[str, Case]] | None = None
        super().__init__(job, _fields(job))
        self._name_fields()
        self.start()

    # ---- what is on the screen ----

    def _name_fields(self) -> None:
        """Write unit and range into each label, in the units that are chosen."""
        display = Display(self.fields["units"].value)
        length, volume = display.length_unit, display.volume_unit

        def upto(value: float, unit: str, target: str) -> str:
            return f"{plain_text(convert(value, unit, target), 4)} {target}"

        lengths, volumes = display.both("mm", "in"), display.both("mL", "fl oz")
        labels = {
            "hole_diameter": f"Hole diameter [{lengths}], up to {upto(200, 'mm', length)}",
            "embedment": f"Embedment [{lengths}], up to {upto(5000, 'mm', length)}",
            "overdrill": f"Overdrill [{lengths}], 0 to {upto(5000, 'mm', length)}",
            "dispense": f"One graduation or stroke [{volumes}], up to {upto(_LARGEST_VOLUME, 'mm³', volume)}",
            "injected": f"Injected instead [{volumes}], may be empty",
        }
        for name, label in labels.items():
            self.fields[name].description = label
        for name, text in _examples(display).items():
            self.fields[name].placeholder = text

    # ---- from the job into the fields ----

    def _group(self) -> BarGroup | None:
        mark = self.fields["group"].value
        return next((group for group in self.job.groups if group.mark == mark), None)

    def texts(self) -> dict[str, str]:
        """A bar group's values; own values start from what stands there, without the mark."""
        group = self._group()
        return {"mark": ""} if group is None else _texts(self.job, group, self._chosen(group).overfill)

    def changed(self, name: str) -> None:
        """Let the labels follow the units, then work anew."""
        if name == "units":
            self._name_fields()
        super().changed(name)

    def stated(self, name: str) -> str:
        """What the job's files say of a field; the size of a step says nothing about a stroke."""
        kind, volume = _dispenser(self.job)
        if name == "dispense":
            return volume if self.fields["dispenser"].value == kind else ""
        return super().stated(name)

    # ---- from the fields to the result ----

    def _typed(self) -> dict[str, str]:
        typed = {name: self.text(name) for name in _ROW}
        return typed | {"overfill": "" if typed["overfill"] == BY_RULE else typed["overfill"]}

    def _chosen(self, group: BarGroup) -> Case:
        """Return a group as the job file has it, worked once for each job: a rule simulates many holes."""
        if self._kept is None or self._kept[0] is not self.job:
            self._kept = (self.job, {})
        cases = self._kept[1]
        if group.mark not in cases:
            cases[group.mark] = chosen_case(self.job, group)
        return cases[group.mark]

    def _case(self) -> Case:
        """Read the fields by the rules of the schedule; each value keeps its origin while it is what the file says."""
        typed, group = self._typed(), self._group()
        dispense = read_volume("One graduation or stroke", self.text("dispense"), _LARGEST_VOLUME)
        read = read_values({**typed, "mark": typed["mark"] or "own values"}, point_angle=self.job.equipment.point_angle)
        same = {name for name, text in self.loaded.items() if name in typed and text == typed[name]}
        base = self._chosen(group) if group is not None else case_of(self.job, read)
        overfill = chosen_case(self.job, read).overfill if read.overfill is None else read.overfill
        by_strokes = self.fields["dispenser"].value == "stroke"
        origins = {
            name: where
            for name, where in base.origins.items()
            if name not in _ROW or (group is not None and name in same)
        }
        if not typed["overfill"]:
            origins["overfill"] = Origin(
                f"{self.job.path.name}, overfill.{'share' if self.job.overfill.rule == 'share' else 'rule'}"
            )
        if (by_strokes, dispense) != (base.by_strokes, base.graduation):
            origins = {name: where for name, where in origins.items() if name not in ("graduation", "stroke")}
        measured = base.measured if {"bar", "hole_diameter", "embedment", "overdrill"} <= same else None
        return replace(
            base,
            mark=read.mark,
            count=read.count,
            bar=read.bar,
            hole_diameter=read.hole_diameter,
            embedment=read.embedment,
            overdrill=base.overdrill if measured else read.overdrill,
            direction=read.direction,
            overfill=overfill,
            graduation=dispense,
            by_strokes=by_strokes,
            dispenser_unit=self.text("dispense").partition(" ")[2].strip(),
            origins=origins,
            display=Display(self.fields["units"].value),
            measured=measured,
        )

    def compute(self) -> str:
        """Work what stands in the fields."""
        worked, injected = work(self._case()), self.text("injected")
        filling = (
            worked.filled_with(read_volume("Injected instead", injected, _LARGEST_INJECTED))
            if injected
            else worked.filling
        )
        self.pictures = (picture_of(worked, filling, figure=self._figure),)
        self.result = worked
        return _shown(worked, filling, self.pictures[0])

    # ---- from the fields into the job file ----

    def write(self) -> Iterator[Path]:
        """Write what differs from the job's files."""
        typed = self._typed()
        if not typed["mark"]:
            raise NotAccepted("type a mark that names the group, such as B1")
        yield from self.put(save_values, self._settings())
        yield from self.put(save_group, self._cells(typed), mark=typed["mark"])

    def follow_saved(self) -> None:
        """Choose the group that was saved."""
        mark = self.text("mark")
        with self.silence():
            self.fields["group"].options = _choices(self.job)
            self.fields["group"].value = mark
        super().follow_saved()

    def _settings(self) -> dict[str, Any]:
        """Keys of the job file that the panel holds differently."""
        settings: dict[str, Any] = {}
        if self.fields["units"].value != self.job.display.system:
            settings["display.units"] = self.fields["units"].value
        kind, text = self.fields["dispenser"].value, self.text("dispense")
        if (kind, text) != _dispenser(self.job):
            other = "graduation" if kind == "stroke" else "stroke"
            settings |= {f"equipment.{kind}": text, f"equipment.{other}": None}
        return settings

    def _cells(self, typed: Mapping[str, str]) -> dict[str, str]:
        """Columns of the schedule that the panel holds differently; all of them for a mark that is new."""
        known = {group.mark: group for group in self.job.groups}
        group = known.get(typed["mark"])
        old = (
            _texts(self.job, group, self._chosen(group).overfill)
            if group
            else {"overdrill": "", "overfill": _usual_overfill(self.job)}
        )
        return {name: text for name, text in typed.items() if name != "mark" and text != old.get(name)}


def _fields(job: Job) -> dict[str, Any]:
    """Make the fields, in the order in which they stand on the screen."""
    kind, volume = _dispenser(job)
    return {
        "group": choice_field("Bar group", _choices(job), job.groups[0].mark),
        "units": choice_field("Results in", [("mm, mL", "metric"), ("in, fl oz", "us")], job.display.system),
        "mark": text_field("Mark, up to 40 characters", "B1"),
        "count": text_field("Number of holes, 1 to 1000000", "12"),
        "bar": text_field(f"Bar: {accepted_bars()}"),
        "hole_diameter": text_field("Hole diameter"),
        "embedment": text_field("Embedment"),
        "overdrill": text_field("Overdrill"),
        "direction": choice_field("Direction of the hole", list(DIRECTIONS), DIRECTIONS[0]),
        "dispenser": choice_field(
            "The dispenser works in", [("whole graduations", "graduation"), ("strokes", "stroke")], kind
        ),
        "overfill": text_field(f"Overfill [share], 0 to 2, or {BY_RULE}", _usual_overfill(job)),
        "overfill_slider": slider_field("Overfill [share]", 0.0, 2.0, 0.01),
        "dispense": text_field("One graduation or stroke", value=volume),
        "injected": text_field("Injected"),
    }


def _examples(display: Display) -> dict[str, str]:
    """What may be typed, in the units that are chosen."""
    usual = display.usual
    return {
        "bar": usual("16", "#5"),
        "hole_diameter": usual("20 mm", "3/4 in"),
        "embedment": usual("200 mm", "8 in"),
        "overdrill": usual("10 mm", "1/2 in"),
        "dispense": usual("1 mL", "0.5 fl oz"),
        "injected": usual("18 mL", "1.1 in³"),
    }


def _choices(job: Job) -> list[tuple[str, str]]:
    return [*((f"{g.mark}: {g.bar.text}", g.mark) for g in job.groups), ("own values", OWN)]


def _usual_overfill(job: Job) -> str:
    """The share that holds for every group without one of its own; empty when a rule finds one for each group."""
    return plain_text(job.overfill.share) if job.overfill.rule == "share" else ""


def _dispenser(job: Job) -> tuple[str, str]:
    """Return how the job's dispenser is set, and by how much, as the job file says it."""
    kind = "stroke" if job.equipment.stroke is not None else "graduation"
    return kind, str(job.origins[f"equipment.{kind}"])


def _texts(job: Job, group: BarGroup, overfill: float) -> dict[str, str]:
    """Return a group's fields as they were typed in the schedule.

    An overfill that the job sets is shown as its share.
    """
    texts = {name: group.given.get(name, "") for name in _ROW} | {"mark": group.mark}
    if not texts["overdrill"] and group.overdrill:  # the schedule has the depth to the tip instead
        texts["overdrill"] = f"{plain_text(group.overdrill)} mm"
    if not texts["overfill"]:
        texts["overfill"] = plain_text(overfill)
    return texts


def _shown(worked: Worked, filling: Filling, picture: Picture) -> str:
    """Compose the result: what to dispense in large figures, what to look for at the hole, the picture."""
    case, display = worked.case, worked.case.display
    hole = "the measured hole" if case.measured else f"a hole of {display.size(case.hole_diameter)}"
    many = f"{case.count} hole" if case.count == 1 else f"{case.count} holes"
    what = f"{case.mark}: {case.bar.text} in {hole}, bar {display.size(case.embedment)} deep, {case.direction}, {many}"
    # What is dispensed leads, and it alone: a second large figure beside it has been taken for the dose.
    doses = [("Dispense into each hole", worked.dispense_text)]
    lines = [
        (
            f"Required to fill the hole: {display.amount(worked.required, 'mm³', 4)}; with"
            f" {case.overfill * 100:.4g} % overfill {display.amount(worked.dose, 'mm³', 4)}, rounded up to what the"
            " dispenser gives."
        ),
        f"Surface before the bar: {display.length(filling.before.surface)} below the mouth (measure with a stick).",
        _outcome(filling, display),
    ]
    if filling is not worked.filling:
        lines.insert(
            1, f"Judged below: {display.amount(filling.volume, 'mm³', 4)} injected in place of the rounded dose."
        )
    lines += [f"Check fails: {check.title}. {check.reason}" for check in worked.sheet.checks if not check.passes]
    return result_html(doses, lines, [picture.svg], what)


def _outcome(filling: Filling, display: Display) -> str:
    if filling.finding == "short":
        return f"With the bar home: short, {display.length(filling.gap)} at the mouth stays unfilled."
    if filling.finding == "full":
        return "With the bar home: full to the mouth, nothing overflows."
    return f"With the bar home: full, {display.volume(filling.home.spilt)} overflows."
