"""The panel of the fifth notebook: temperature, crew, pack and way of preparing in.

Order, finish, late bars and waste out.

The fields are tried on a copy of the job file, by the same rules as the file itself, and the copy is planned. A large
job is planned in the background, with its progress and a button to cancel; a plan that was cancelled shows no number.
The second sheet is the schedule.
"""

from __future__ import annotations

import datetime
import tempfile
import threading
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import ipywidgets as widgets
import tomlkit
from matplotlib.figure import Figure

from calc.base.display import duration
from calc.base.units import UnitError, parse_number
from calc.files.adhesive import HoleCondition
from calc.files.job import Job
from calc.files.site import clock_text
from calc.show.dose.grid import ScheduleGrid
from calc.show.drawing import Picture
from calc.show.panel import Panel, button, choice_field, result_html, styled, text_field
from calc.show.plan.figures import days_picture, waste_picture
from calc.work.dose import Worked
from calc.work.load import load_job
from calc.work.plan.notices import CURING, JOB_FILE, RECORD, WORKING
from calc.work.plan.planned import PlanWork
from calc.work.plan.volumes import volumes_text
from calc.work.plan.work import work_plan
from calc.work.results import compute
from calc.work.save import Setting, copied, save_values

BACKGROUND = 3_000  # holes from which the days are simulated in the background
_WHOLE = ("crews", "drills", "batch")
_LABELS = {
    "temperature": "Concrete, all day",
    "crews": "Crews",
    "drills": "Drilling machines",
    "batch": "Batch",
    "pack": "Content of a pack",
    "way": "Way of preparing the holes",
    "condition": "Condition of the holes",
    "day": "Day of the work",
}
_SAFE, _BETWEEN = "safe", "between"  # how times are read between two rows of a table
_KEYS = {
    "concrete.temperature": "temperature",
    "site.temperature": "temperature",
    "site.crews": "crews",
    "site.drills": "drills",
    "site.batch": "batch",
    "equipment.pack_volume": "pack",
    "site.preparation.way": "way",
    "site.date": "day",
    "site.hole_condition": "condition",
}


class PlanPanel(Panel):
    """Fields for the plan of a job, its result, a button that writes to the job file.

    And the bar schedule on a second sheet.

    Parameters
    ----------
    job
        The job that is planned.
    background
        Jobs of this many holes or more are planned in the background.

    Attributes
    ----------
    fields : dict of str to Widget
        What is typed or chosen, by name.
    result : PlanWork or None
        The last plan; None while an entry is wrong, the days are being simulated, or after they were cancelled.
    grid : ScheduleGrid
        The bar schedule.
    """

    first = ("temperature", "pack", "crews", "batch")
    names = {f"key {key}": _LABELS[field] for key, field in _KEYS.items()} | {"key site": "Site"}

    result: PlanWork | None

    def __init__(self, job: Job, *, background: int = BACKGROUND) -> None:
        self._figures = (Figure(), Figure())
        self._background = background
        self._worked: tuple[Worked, ...] = compute(job).worked
        self._cancelled = threading.Event()
        self._worker: threading.Thread | None = None
        super().__init__(job, _fields(job))
        self.output.add_class("dp-rows2")
        self.bar = widgets.IntProgress(description="Holes", layout=widgets.Layout(width="20rem", display="none"))
        self.cancel = button("Cancel", self._cancelled.set, "stop", layout=widgets.Layout(display="none"))
        plan = self.widget
        plan.children = (*plan.children[:-1], widgets.HBox([self.bar, self.cancel]), plan.children[-1])
        self.grid = ScheduleGrid(job, self._rescheduled)
        self.widget = widgets.VBox(
            [styled(), widgets.Tab(children=[plan, self.grid.widget], titles=("Plan", "Bar schedule"))]
        )
        self.start()

    # ---- from the job into the fields ----

    def texts(self) -> dict[str, str]:
        """What the job file says."""
        return _texts(self.job)

    def _rescheduled(self, job: Job) -> None:
        """Plan anew after the schedule was written."""
        self.job, self._worked = job, compute(job).worked
        self.update()

    # ---- from the fields to the result ----

    def _settings(self) -> dict[str, Any]:
        """Keys of the job file that the fields hold differently."""
        differs = {name for name in self.loaded if self.differs(name)}
        found: dict[str, Any] = {}
        site = self.job.site
        if "temperature" in differs:
            text = self.text("temperature")
            found["concrete.temperature"] = text or None
            if site is not None and text:
                found["site.temperature"] = _one_temperature(clock_text(site.start), text)
        for name in _WHOLE:
            if name in differs:
                found[f"site.{name}"] = _whole(self.text(name), _LABELS[name])
        if "pack" in differs:
            found["equipment.pack_volume"] = self.text("pack")
        if "way" in differs:
            found["site.preparation.way"] = self.text("way")
        # Without a site these three are asked of the plan alone: the job file has no place for them.
        if site is not None:
            if "reading" in differs:
                found["site.between_rows"] = self.text("reading") == _BETWEEN
            if "condition" in differs:
                found["site.hole_condition"] = self.text("condition") or None
            if "day" in differs:
                found["site.date"] = _day(self.text("day"))
        return found

    def _trial(self) -> Job:
        """Return the job as it would be with what stands in the fields; nothing is written beside a temporary copy."""
        settings = self._settings()
        if not settings:
            return self.job
        with tempfile.TemporaryDirectory() as scratch:
            job, moved = self.job, copied(self.job, Path(scratch))
            there = replace(
                job,
                path=moved[job.path],
                adhesive_path=moved[job.adhesive_path],
                schedule_path=moved[job.schedule_path],
            )
            save_values(there, values=cast("Mapping[str, Setting]", settings))
            return replace(
                load_job(there.path), path=job.path, adhesive_path=job.adhesive_path, schedule_path=job.schedule_path
            )

    def compute(self) -> str:
        """Plan the job as the fields have it."""
        job = self._trial()
        condition = self.text("condition")
        plan = work_plan(
            job,
            self._worked,
            arrhenius=self.text("reading") == _BETWEEN,
            on=_day(self.text("day")),
            condition=cast("HoleCondition", condition) if condition else None,
            progress=self._progress,
            cancel=self._cancelled.is_set,
            most=10**9,
        )
        self.pictures = tuple(
            draw(plan, figure=figure)
            for draw, figure in zip((days_picture, waste_picture), self._figures, strict=True)
            if plan.timeline is not None or draw is waste_picture
        )
        self.result = plan
        return _shown(plan, self.pictures)

    def update(self) -> None:
        """Plan anew: a large job in the background, after the run before it has stopped."""
        self.finish(cancel=True)
        self._cancelled.clear()
        holes = sum(one.case.count for one in self._worked)
        if holes < self._background or self.job.site is None:
            super().update()
            return
        self.clear()
        self.message = "The days are still being simulated."
        self.output.value = '<div class="dp-result" role="status">The days are being simulated.</div>'
        self.bar.max, self.bar.value = holes, 0
        self.bar.layout.display = self.cancel.layout.display = "flex"
        self._worker = threading.Thread(target=self._in_background, daemon=True)
        self._worker.start()

    def _in_background(self) -> None:
        try:
            super().update()
        finally:
            self.bar.layout.display = self.cancel.layout.display = "none"

    def _progress(self, done: int, total: int) -> None:
        self.bar.value = done

    def finish(self, *, cancel: bool = False, timeout: float = 600.0) -> None:
        """Wait until nothing runs in the background any more; with ``cancel``, stop it first."""
        if self._worker is not None and self._worker.is_alive() and self._worker is not threading.current_thread():
            if cancel:
                self._cancelled.set()
            self._worker.join(timeout)
        self._worker = None

    # ---- from the fields into the job file ----

    def write(self) -> Iterator[Path]:
        """Write what differs from the job file."""
        yield from self.put(save_values, self._settings())

    def follow_saved(self) -> None:
        """Plan what was saved."""
        self._worked = compute(self.job).worked
        self.grid.reload(self.job)
        super().follow_saved()


def _fields(job: Job) -> dict[str, Any]:
    display, site = job.display, job.site
    ways = [("not in the job file", "")] if site is None else [(name, name) for name in site.ways]
    fields = {
        "temperature": text_field(f"{_LABELS['temperature']} [{display.both('°C', '°F')}]", _course(job)),
        "pack": text_field(f"{_LABELS['pack']} [{display.both('mL', 'fl oz')}], above 0"),
        "crews": text_field("Crews, 1 to 200"),
        "drills": text_field("Drilling machines, 1 to 200"),
        "batch": text_field("Batch: holes injected before setting, from 1"),
        "way": choice_field(_LABELS["way"], ways, ways[0][1] if site is None else site.chosen),
        "reading": choice_field(
            "Between two rows of the tables", [("safe row", _SAFE), ("ln t to 1/T", _BETWEEN)], _SAFE
        ),
        "condition": choice_field(
            "Holes are", [("not stated", ""), ("dry", "dry"), ("damp", "damp"), ("flooded", "flooded")], ""
        ),
        "day": text_field("Day of the work, year-month-day", "may be empty"),
    }
    if site is None:
        for name in (*_WHOLE, "way"):
            fields[name].disabled = True
    return fields


def _course(job: Job) -> str:
    """What the job file says of the concrete over the day; it holds until one temperature for all day is typed."""
    site = job.site
    if site is None:
        return "as in the job file"
    read = job.display.temperature
    return ", ".join(f"{read(point.temperature)} at {clock_text(point.at)}" for point in site.temperature)


def _texts(job: Job) -> dict[str, str]:
    """What the job file says, by field.

    With a site its course of temperatures holds until one for the whole day is typed.
    """
    site = job.site
    pack = {"pack": job.origins["equipment.pack_volume"]}
    if site is None:
        bare = {"temperature": job.origins.get("concrete.temperature", ""), "reading": _SAFE}
        return pack | bare | dict.fromkeys((*_WHOLE, "way", "condition", "day"), "")
    return pack | {
        "reading": _BETWEEN if site.between_rows else _SAFE,
        "condition": site.hole_condition or "",
        "day": "" if site.date is None else site.date.isoformat(),
        "temperature": "",
        "crews": str(site.crews),
        "drills": str(site.drills),
        "batch": str(site.batch),
        "way": site.chosen,
    }


def _whole(text: str, label: str) -> int:
    """Read a whole number; its range is the job file's business."""
    try:
        value = parse_number(text)
    except UnitError as error:
        raise UnitError(f"{label}: {error}; accepted: a whole number from 1") from None
    if value != int(value):
        raise UnitError(f"{label}: '{text}' is not a whole number; accepted: a whole number from 1")
    return int(value)


def _day(text: str) -> datetime.date | None:
    if not text:
        return None
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise UnitError(
            f"{_LABELS['day']}: '{text}' is not a date; accepted: empty, or year, month and day such as 2027-06-30"
        ) from None


def _one_temperature(at: str, text: str) -> Any:
    """Make the list of the day's temperatures with one point, as the job file writes it."""
    point = tomlkit.inline_table()
    point.update({"at": at, "temperature": text})
    points = tomlkit.array()
    points.append(point)
    return points


def _shown(plan: PlanWork, pictures: tuple[Picture, ...]) -> str:
    use, display, timeline = plan.use, plan.job.display, plan.timeline
    large = [("Packs to order", str(use.packs_to_order)), ("Mixers to order", str(use.mixers_to_order))]
    if timeline is not None:
        large += [("Last bar set", plan.clock(timeline.finish)), ("Late bars", str(plan.late))]
    lines = [f"The work uses {use.packs} packs and {use.mixers} mixers. {volumes_text(use, display)}"]
    if timeline is not None:
        loads = [told.earliest_load for told in timeline.groups if told.earliest_load == told.earliest_load]
        lines.append(
            f"{duration(60 * plan.crew_hours)} of work of all crews in {plan.worked_days}"
            f" day{'s' if (plan.worked_days or 0) > 1 else ''}"
        )
        if loads:
            lines.append(f"All bars may be loaded from {plan.clock(max(loads))}")
    lines += [
        f"Check fails: {c.title}. {(c.advice or c.reason).capitalize()}" for c in plan.sheet.checks if not c.passes
    ][:6]
    wanted = (WORKING, CURING) if timeline is not None else (WORKING, CURING, RECORD, JOB_FILE)
    lines += [notice.words for notice in plan.sheet.notices if notice.name in wanted]
    return result_html(large, lines, [picture.svg for picture in pictures])
