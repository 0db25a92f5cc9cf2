"""The panel of the first notebook: typed values in, the dose of one hole out, with its picture.

The panel collects text, has it read by the rules of the bar schedule, and calls `calc.show.view.work`. It computes
nothing itself, and it never shows a result that does not belong to what stands in its fields.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from html import escape
from typing import Any

from matplotlib.figure import Figure

from calc.base.bars import accepted_bars
from calc.base.display import Display, plain_text
from calc.base.sheet import Origin
from calc.base.units import UnitError, convert, parse_number, parse_quantity, units_like
from calc.files.job import Job
from calc.files.problems import InputErrors
from calc.files.schedule import DIRECTIONS, BarGroup, read_values
from calc.files.strict import tidy
from calc.fill.filling import Filling
from calc.show.drawing import Picture
from calc.show.panel import BY_RULE, Panel, choice_field, closed, slider_field, text_field
from calc.show.view import picture_of
from calc.work.dose import Case, Worked, case_of, work
from calc.work.load import load_job
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
    picture : Picture or None
        The picture of the result.
    widget : VBox
        The panel itself.
    """

    def __init__(self, job: Job) -> None:
        self.result: Worked | None = None
        self.picture: Picture | None = None
        self._figure = Figure()
        self._loaded: dict[str, str] = {}
        self._kept: tuple[Job, dict[str, Case]] | None = None
        super().__init__(job, _fields(job))
        self._fill(self.fields["group"].value)
        self._name_fields()
        self.start()

    # ---- what is on the screen ----

    def _name_fields(self) -> None:
        """Write unit and range into each label, in the units that are chosen."""
        display = Display(self.fields["units"].value)
        length, volume = display.length_unit, display.volume_unit

        def upto(value: float, unit: str, target: str) -> str:
            return f"{plain_text(convert(value, unit, target), 4)} {target}"

        lengths, volumes = display.both("mm", "in"), display.both("mL", "in³")
        labels = {
            "hole_diameter": f"Hole diameter [{lengths}], up to {upto(200, 'mm', length)}",
            "embedment": f"Embedment [{lengths}], up to {upto(5000, 'mm', length)}",
            "overdrill": f"Overdrill [{lengths}], 0 to {upto(5000, 'mm', length)}",
            "dispense": f"One step or stroke [{volumes}], up to {upto(_LARGEST_VOLUME, 'mm³', volume)}",
            "injected": f"Injected instead [{volumes}], may be empty",
        }
        for name, label in labels.items():
            self.fields[name].description = label

    # ---- from the job into the fields ----

    def _group(self) -> BarGroup | None:
        mark = self.fields["group"].value
        return next((group for group in self.job.groups if group.mark == mark), None)

    def _fill(self, mark: str) -> None:
        """Put a bar group's values into the fields; own values start from what stands there, without the mark."""
        group = self._group()
        with self.silence():
            if group is None:
                self._loaded = {}
                self.fields["mark"].value = ""
            else:
                self._loaded = _texts(self.job, group, self._chosen(group).overfill)
                for name, text in self._loaded.items():
                    self.fields[name].value = text
            self._move_slider()

    def _move_slider(self) -> None:
        try:
            share = parse_number(self.fields["overfill"].value)
        except UnitError:
            return
        slider = self.fields["overfill_slider"]
        if slider.min <= share <= slider.max:
            slider.value = share

    def changed(self, name: str) -> None:
        """Let one field follow another, then work anew."""
        if name == "group":
            self._fill(self.fields["group"].value)
        elif name == "units":
            self._name_fields()
        with self.silence():
            if name == "overfill_slider":
                self.fields["overfill"].value = f"{self.fields['overfill_slider'].value:.2f}"
            elif name == "overfill":
                self._move_slider()
        self.update()

    def stated(self, name: str) -> str:
        """What the job's files say of a field; the size of a step says nothing about a stroke."""
        kind, volume = _dispenser(self.job)
        if name == "dispense":
            return volume if self.fields["dispenser"].value == kind else ""
        return self._loaded.get(name, "")

    # ---- from the fields to the result ----

    def _typed(self) -> dict[str, str]:
        typed = {name: str(self.fields[name].value).strip() for name in _ROW}
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
        dispense = _volume(self.fields["dispense"].value, "One step or stroke", _LARGEST_VOLUME)
        read = read_values({**typed, "mark": typed["mark"] or "own values"}, point_angle=self.job.equipment.point_angle)
        same = {name for name, text in self._loaded.items() if name in typed and text == typed[name]}
        base = self._chosen(group) if group is not None else case_of(self.job, read)
        overfill = chosen_case(self.job, read).overfill if read.overfill is None else read.overfill
        by_strokes = self.fields["dispenser"].value == "stroke"
        origins = {name: where for name, where in base.origins.items() if name not in _ROW or (group is not None and name in same)}
        if not typed["overfill"]:
            origins["overfill"] = Origin(f"{self.job.path.name}, overfill.{'share' if self.job.overfill.rule == 'share' else 'rule'}")
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
            origins=origins,
            display=Display(self.fields["units"].value),
            measured=measured,
        )

    def compute(self) -> str:
        """Work what stands in the fields."""
        case, injected = self._case(), self._injected()
        worked = work(case)
        filling = worked.filling if injected is None else worked.filled_with(injected)
        self.picture = picture_of(worked, filling, figure=self._figure)
        self.result = worked
        return _shown(worked, filling, self.picture)

    def clear(self) -> None:
        """Forget the last result."""
        self.result, self.picture = None, None

    def _injected(self) -> float | None:
        text = self.fields["injected"].value.strip()
        return _volume(text, "Injected instead", _LARGEST_INJECTED) if text else None

    # ---- from the fields into the job file ----

    def write(self) -> None:
        """Write what differs from the job's files; say where, or why not."""
        typed = self._typed()
        if not typed["mark"]:
            self.say("Nothing was saved: type a mark that names the group, such as B1.")
            return
        written = []
        try:
            settings = self._settings()
            if settings:
                written.append(save_values(self.job, values=settings))
                self.job = load_job(self.job.path)
            cells = self._cells(typed)
            if cells:
                written.append(save_group(self.job, mark=typed["mark"], values=cells))
                self.job = load_job(self.job.path)
        except InputErrors as errors:
            done = f" {written[0]} was saved before." if written else ""
            self.say("Not saved: " + " ".join(closed(str(p)) for p in errors.problems) + done)
            return
        with self.silence():
            self.fields["group"].options = _choices(self.job)
            self.fields["group"].value = typed["mark"]
            self._fill(typed["mark"])
        self.update()
        self.say(f"Saved to {' and '.join(str(path) for path in written)}." if written else "Nothing to save: the job file says the same.")

    def _settings(self) -> dict[str, Any]:
        """Keys of the job file that the panel holds differently."""
        settings: dict[str, Any] = {}
        if self.fields["units"].value != self.job.display.system:
            settings["display.units"] = self.fields["units"].value
        kind, text = self.fields["dispenser"].value, self.fields["dispense"].value.strip()
        if (kind, text) != _dispenser(self.job):
            other = "graduation" if kind == "stroke" else "stroke"
            settings |= {f"equipment.{kind}": text, f"equipment.{other}": None}
        return settings

    def _cells(self, typed: Mapping[str, str]) -> dict[str, str]:
        """Columns of the schedule that the panel holds differently; all of them for a mark that is new."""
        known = {group.mark: group for group in self.job.groups}
        group = known.get(typed["mark"])
        old = _texts(self.job, group, self._chosen(group).overfill) if group else {"overdrill": "", "overfill": _usual_overfill(self.job)}
        return {name: text for name, text in typed.items() if name != "mark" and text != old.get(name)}


def _fields(job: Job) -> dict[str, Any]:
    """Make the fields, in the order in which they stand on the screen."""
    kind, volume = _dispenser(job)
    slider = slider_field("Overfill [share]", 0.0, 2.0, 0.01)
    fields = {
        "group": choice_field("Bar group", _choices(job), job.groups[0].mark),
        "units": choice_field("Results in", [("mm, mL", "metric"), ("in, in³", "us")], job.display.system),
        "mark": text_field("Mark, up to 40 characters", "B1"),
        "count": text_field("Number of holes, 1 to 1000000", "12"),
        "bar": text_field(f"Bar: {accepted_bars()}", "16"),
        "hole_diameter": text_field("Hole diameter", "20 mm"),
        "embedment": text_field("Embedment", "200 mm"),
        "overdrill": text_field("Overdrill", "0 mm"),
        "direction": choice_field("Direction of the hole", list(DIRECTIONS), DIRECTIONS[0]),
        "dispenser": choice_field("The dispenser works in", [("scale steps", "graduation"), ("strokes", "stroke")], kind),
        "overfill": text_field(f"Overfill [share], 0 to 2, or {BY_RULE}", _usual_overfill(job)),
        "overfill_slider": slider,
        "dispense": text_field("One step or stroke", "1 mL"),
        "injected": text_field("Injected", "18 mL"),
    }
    fields["dispense"].value = volume
    return fields


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
    """Return a group's fields as they were typed in the schedule; an overfill that the job sets is shown as its share."""
    texts = {name: group.given.get(name, "") for name in _ROW} | {"mark": group.mark}
    if not texts["overdrill"] and group.overdrill:  # the schedule has the depth to the tip instead
        texts["overdrill"] = f"{plain_text(group.overdrill)} mm"
    if not texts["overfill"]:
        texts["overfill"] = plain_text(overfill)
    return texts


def _volume(text: str, name: str, most: float) -> float:
    """Read a volume above zero [mm³]."""
    accepted = f"accepted: above 0 up to {plain_text(convert(most, 'mm³', 'mL'))} mL, or the same in {', '.join(units_like('mL'))}"
    try:
        value = tidy(parse_quantity(text, "mL").to("mm³"))
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None
    if not 0 < value <= most:
        raise UnitError(f"{name}: '{text}' is out of range; {accepted}")
    return value


def _shown(worked: Worked, filling: Filling, picture: Picture) -> str:
    """Compose the result: the doses in large figures, what to look for at the hole, the picture."""
    case, display = worked.case, worked.case.display
    hole = "the measured hole" if case.measured else f"a hole of {display.size(case.hole_diameter)}"
    many = f"{case.count} hole" if case.count == 1 else f"{case.count} holes"
    what = f"{case.mark}: {case.bar.text} in {hole}, bar {display.size(case.embedment)} deep, {case.direction}, {many}"
    given = "Strokes" if case.by_strokes else "Rounded dose"
    doses = [("Dose for each hole", display.amount(worked.dose, "mm³", 4)), (given, worked.dispense_text)]
    large = "".join(f'<div><div>{escape(name)}</div><div class="dp-dose">{escape(text)}</div></div>' for name, text in doses)
    lines = [
        f"Required to fill the hole: {display.amount(worked.required, 'mm³', 4)}; the dose has {case.overfill * 100:.4g} % overfill.",
        f"Surface before the bar: {display.length(filling.before.surface)} below the mouth (measure with a stick).",
        _outcome(filling, display),
    ]
    if filling is not worked.filling:
        lines.insert(1, f"Judged below: {display.amount(filling.volume, 'mm³', 4)} injected in place of the rounded dose.")
    lines += [f"Check fails: {check.title}. {check.reason}" for check in worked.sheet.checks if not check.passes]
    listed = "".join(f"<li>{escape(closed(line))}</li>" for line in lines)
    return (
        f'<div class="dp-result" role="status"><div class="dp-what">{escape(what)}</div><div class="dp-doses">{large}</div>'
        f'<ul>{listed}</ul><div class="dp-paper">{picture.svg}</div></div>'
    )


def _outcome(filling: Filling, display: Display) -> str:
    if filling.finding == "short":
        return f"With the bar home: short, {display.length(filling.gap)} at the mouth stays unfilled."
    if filling.finding == "full":
        return "With the bar home: full to the mouth, nothing overflows."
    return f"With the bar home: full, {display.volume(filling.home.spilt)} overflows."
