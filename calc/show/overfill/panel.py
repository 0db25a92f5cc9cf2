"""The panel of the second notebook: drag the dose, and see short holes and waste trade against each other at once.

The scatter is typed in the words of the job file. The panel calls `calc.work.overfill.work.study` when the scatter
changes, and the curve is drawn then; while the dose is dragged only its numbers change, and a marker on the drawing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure
from pydantic import ValidationError

from calc.base.display import plain_text
from calc.base.errors import NotAccepted
from calc.base.units import UnitError, convert, parse_number
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.reading import refuse_faults
from calc.files.scatter import STANDARD, Scatter, ScatterKeys
from calc.files.schedule import BarGroup
from calc.fill.bits import STATES
from calc.show.overfill.figures import CurveDrawing, curve_drawing, share_text, short_text
from calc.show.panel import (
    BY_RULE,
    Panel,
    choice_field,
    group_field,
    read_number,
    result_html,
    slider_field,
    text_field,
)
from calc.work.overfill.group import DoseOutcome, GroupScatter
from calc.work.overfill.work import choose, hole_left_out, study
from calc.work.save import Setting, save_group, save_values

TYPED = ""  # the state of the bit when the hole's deviation is typed instead
UNSTATED = "unstated"  # offered only where the job's files say nothing about the hole's diameter
_SPREADS = ("hole_diameter", "bar_mass", "voids", "dispenser")
_WORDS = ("mean", "sd", "low", "high")
_DEVIATIONS = "mean … and sd …, or low … and high …, apart by commas"
_ACCEPTED = f"accepted: {_DEVIATIONS}"
AS_TYPED = "as typed below"
_LABELS = {
    "bit": "State of the bit",
    "hole_diameter": "Hole diameter, deviation",
    "bar_mass": "Bar mass, deviation",
    "voids": "Loss into voids",
    "dispenser": "Dispenser",
    "target": "Short holes accepted",
    "overfill": "Overfill",
}


class OverfillPanel(Panel):
    """Fields for the scatter of one bar group and for its dose, with what the dose then does.

    Parameters
    ----------
    job
        The job that bar groups and scatter come from.

    Attributes
    ----------
    fields : dict of str to Widget
        What is typed or chosen, by name.
    result : GroupScatter or None
        The group as it was studied last; None while an entry is wrong.
    share : float or None
        The overfill that is looked at [-].
    drawing : CurveDrawing or None
        The curve, without the marker.
    message : str
        The sentence about a wrong entry; empty while there is none.
    """

    names = _LABELS
    result: GroupScatter | None
    sliders: Mapping[str, Any] = {"overfill": ".3f"}
    chooser = "mark"
    first = ("mark", "bit", "overfill", "overfill_slider")

    def __init__(self, job: Job) -> None:
        self.share: float | None = None
        self.drawing: CurveDrawing | None = None
        self._figure = Figure()
        self._kept: tuple[tuple[str, ...], Job, GroupScatter, CurveDrawing] | None = None
        super().__init__(job, _fields(job))
        self.start()

    # ---- from the job into the fields ----

    @property
    def group(self) -> BarGroup:
        """The bar group that is chosen."""
        return self.job.group(str(self.fields["mark"].value))

    def texts(self) -> dict[str, str]:
        """What the job's files say of the group; the bit's states follow."""
        texts = _texts(self.job, self.group)
        with self.silence():
            self.fields["bit"].options = _bits(unstated=texts["bit"] == UNSTATED)
        return texts

    def changed(self, name: str) -> None:
        """Let the bit and the typed deviation take each other's place, then look anew."""
        with self.silence():
            if name == "bit":
                self.fields["hole_diameter"].value = self.stated("hole_diameter") if self.text("bit") == TYPED else ""
            elif name == "hole_diameter":
                self.fields["bit"].value = TYPED if self.text("hole_diameter") else self.stated("bit")
        super().changed(name)

    # ---- from the fields to the result ----

    def compute(self) -> str:
        """Study the group when its scatter changed, then say what the dose does."""
        job, group, drawing = self._studied()
        share = self._share(job)
        self.result, self.share, self.drawing = group, share, drawing
        return _shown(job, group, share, drawing)

    def _studied(self) -> tuple[Job, GroupScatter, CurveDrawing]:
        key = tuple(self.text(name) for name in ("mark", "bit", *_SPREADS, "target"))
        if self._kept is None or self._kept[0] != key or self._kept[1].path != self.job.path:
            self._kept = None
            job = self._job()
            group = _study(job, self.group)
            self._kept = (key, job, group, curve_drawing(group, job.display, figure=self._figure))
        return self._kept[1:]

    def _job(self) -> Job:
        """Return the job with the scatter and the accepted share of short holes as they stand in the fields."""
        if self.text("bit") == TYPED and not self.text("hole_diameter"):
            raise UnitError(
                f"{_LABELS['hole_diameter']}: the field is empty, and '{AS_TYPED}' is chosen; accepted: {_DEVIATIONS},"
                " or a state of the bit. For holes that do not vary: mean 0 mm, sd 0 mm"
            )
        values = self._values()
        if not any(values.values()) and self.job.scatter is None:
            raise NotAccepted(
                "Nothing varies yet: choose the state of the bit, or type a deviation such as mean 0.3 mm, sd 0.1 mm"
            )
        keys = _read_keys(values)
        scatter = Scatter() if self.job.scatter is None else self.job.scatter
        own = scatter.group.get(self.group.mark, ScatterKeys())
        own = own.model_copy(update={name: getattr(keys, name) for name in self._touched()})
        scatter = scatter.model_copy(update={"group": {**scatter.group, self.group.mark: own}})
        return replace(
            self.job,
            scatter=scatter,
            overfill=self.job.overfill.model_copy(update={"short_probability": self._target()}),
        )

    def _touched(self) -> set[str]:
        """Name the keys whose fields say something else than the job's files.

        Bit and diameter are two ways to say one thing.
        """
        names = {name for name in ("bit", *_SPREADS) if self.differs(name)}
        return names | {"bit", "hole_diameter"} if names & {"bit", "hole_diameter"} else names

    def _values(self) -> dict[str, Any]:
        """Return the keys of the group's table as a job file would hold them."""
        bit = self.text("bit")
        return {"bit": None if bit in (TYPED, UNSTATED) else bit} | {
            name: spread_of(self.text(name), name) for name in _SPREADS
        }

    def _target(self) -> float:
        accepted = "accepted: above 0 and below 1, such as 0.05 for one hole in twenty"
        return read_number(_LABELS["target"], self.text("target"), accepted, lambda share: 0 < share < 1)

    def _share(self, job: Job) -> float:
        """Return the overfill that is typed; where none is, the one that the job's rule finds."""
        text = self.text("overfill")
        if text in ("", BY_RULE):
            return choose(job, replace(self.group, overfill=None)).share
        accepted = f"accepted: 0 to 2, such as 0.15 for fifteen per cent more, or {BY_RULE} for the job's rule"
        return read_number(_LABELS["overfill"], text, accepted, lambda share: 0 <= share <= 2)

    def clear(self) -> None:
        """Forget the last result."""
        super().clear()
        self.share, self.drawing = None, None

    # ---- from the fields into the job's files ----

    def write(self) -> Iterator[Path]:
        """Write the scatter, the accepted share and the overfill where they differ."""
        yield from self.put(save_values, self._settings())
        own = "" if self.text("overfill") == BY_RULE else self.text("overfill")
        cells = {"overfill": own} if own != self.loaded["overfill"] else {}
        yield from self.put(save_group, cells, mark=self.group.mark)

    def follow_saved(self) -> None:
        """Study what was saved."""
        self._kept = None
        super().follow_saved()

    def _settings(self) -> dict[str, Setting]:
        """Keys of the job file that the panel holds differently."""
        touched = self._touched()
        place = "scatter" if self.job.scatter is None else f"scatter.group.{self.group.mark}"
        values = self._values()
        settings: dict[str, Setting] = {}
        tables: dict[str, Setting] = {}
        if "bit" in touched:
            settings |= self._gone(f"{place}.bit") | self._gone(f"{place}.hole_diameter")
            if values["bit"]:
                settings[f"{place}.bit"] = values["bit"]
            tables |= _flat(f"{place}.hole_diameter", values["hole_diameter"])
        for name in _SPREADS[1:]:
            if name in touched:
                settings |= self._gone(f"{place}.{name}")
                if isinstance(values[name], str):
                    settings[f"{place}.{name}"] = values[name]
                tables |= _flat(f"{place}.{name}", values[name])
        if self.differs("target"):
            settings["overfill.short_probability"] = self._target()
        return settings | tables  # a table's plain keys go before the tables in it

    def _gone(self, key: str) -> dict[str, Setting]:
        """Take a key away, if it is there."""
        return {key: None} if any(k == key or k.startswith(f"{key}.") for k in self.job.origins) else {}


# ---- fields and what they say --------------------------------------------------------------------


def _fields(job: Job) -> dict[str, Any]:
    length = job.display.both("mm", "in")
    hole = job.display.usual("mean 0.3 mm, sd 0.1 mm", "mean 0.004 in, sd 0.002 in")
    slider = slider_field("Drag the overfill, 0 to 0.6", 0.0, 0.6, 0.001)
    slider.continuous_update = True  # the numbers follow while it is dragged
    return {
        "mark": group_field(job, job.groups[0].mark),
        "bit": choice_field("State of the bit, from memory", _bits(unstated=False), TYPED),
        "hole_diameter": text_field(f"or hole diameter, deviation [{length}]", hole),
        "bar_mass": text_field("Bar mass, deviation [share], −0.5 to 2", "standard"),
        "voids": text_field("Loss into voids [share], up to 2", "low 0, high 0.02"),
        "dispenser": text_field("Dispenser, deviation [share], −0.5 to 2", "mean 0, sd 0.01"),
        "target": text_field("Short holes accepted [share], 0 to 1", "0.05"),
        "overfill": text_field(f"Overfill [share], 0 to 2, or {BY_RULE}", "by the job's rule"),
        "overfill_slider": slider,
    }


def _bits(*, unstated: bool) -> list[tuple[str, str]]:
    """What can be chosen for the bit.

    Nobody can choose that nothing is said; it only stays so where the job's files say nothing.
    """
    return [
        *((state, state) for state in STATES),
        (AS_TYPED, TYPED),
        *([("not stated: the hole does not vary", UNSTATED)] if unstated else []),
    ]


def _texts(job: Job, group: BarGroup) -> dict[str, str]:
    """Return the fields as the job's files say them."""
    found = dict.fromkeys(("bit", *_SPREADS), "")
    if job.scatter is not None:
        keys = job.scatter.of(group.mark)
        found["bit"] = keys.bit or ""
        for name in _SPREADS:
            if name in keys.spreads:
                place = keys.place[name]
                typed = [
                    f"{word} {job.origins[f'{place}.{word}']}" for word in _WORDS if f"{place}.{word}" in job.origins
                ]
                found[name] = ", ".join(typed) or str(job.origins.get(place, ""))
    if not found["bit"] and not found["hole_diameter"]:
        found["bit"] = UNSTATED
    own = group.given.get("overfill", "") or ("" if group.overfill is None else plain_text(group.overfill))
    return found | {"target": plain_text(job.overfill.short_probability), "overfill": own}


def spread_of(text: str, name: str) -> dict[str, Any] | str | None:
    """Read a deviation as the job file would hold it.

    Parameters
    ----------
    text
        Such as ``"mean 0.3 mm, sd 0.1 mm"`` or ``"low 0, high 0.02"``; empty does not vary.
    name
        Key of the job file.

    Returns
    -------
    dict, str or None
        Words and values; ``"standard"`` for a bar's mass; None for an empty text.

    Raises
    ------
    InputErrors
        A sentence that says what is accepted.

    Examples
    --------
    >>> spread_of("low 0, high 0.02", "voids")
    {'low': 0.0, 'high': 0.02}
    """
    if not text:
        return None
    if name == "bar_mass" and text == STANDARD:
        return STANDARD
    found: dict[str, Any] = {}
    for part in re.split(r",(?!\d)", text):
        word, _, value = part.strip().partition(" ")
        if word not in _WORDS or word in found or not value.strip():
            _refuse(name, text, f"cannot be read; {_ACCEPTED}{' or standard' if name == 'bar_mass' else ''}")
        found[word] = value.strip() if name == "hole_diameter" else _relative(value.strip(), text, name)
    return found


def _relative(value: str, text: str, name: str) -> float:
    try:
        return parse_number(value)
    except UnitError as error:
        _refuse(name, text, f"holds {error}; accepted: bare numbers such as 0.02 for two per cent")
        raise


def _refuse(name: str, value: str, message: str) -> None:
    raise InputErrors([Problem("", f"field {name}", value, message)])


def _read_keys(values: Mapping[str, Any]) -> ScatterKeys:
    """Read the keys by the rules of the job file."""
    try:
        return ScatterKeys.model_validate({name: value for name, value in values.items() if value is not None})
    except ValidationError as error:
        refuse_faults(error)
        problems = []
        for item in error.errors(include_url=False):
            given = item["input"]
            said = str(item["msg"]).removeprefix("Value error, ")
            shown = (
                ""
                if isinstance(given, dict) or said.startswith("'")
                else plain_text(given)
                if isinstance(given, float)
                else str(given)
            )
            problems.append(Problem("", f"field {item['loc'][0]}", shown, said))
        raise InputErrors(problems) from None


def _flat(place: str, value: Any) -> dict[str, Setting]:
    return {f"{place}.{word}": number for word, number in value.items()} if isinstance(value, dict) else {}


def _study(job: Job, group: BarGroup) -> GroupScatter:
    """Study a group; what cannot be is told in the words of the panel's labels."""
    try:
        return study(job, group)
    except InputErrors as errors:
        told = [replace(problem, place=f"field {problem.place.rpartition('.')[2]}") for problem in errors.problems]
        raise InputErrors(told) from None


# ---- the result ----------------------------------------------------------------------------------


def _shown(job: Job, group: GroupScatter, share: float, drawing: CurveDrawing) -> str:
    """Compose the result: what the dose does in large figures, what its rounding makes of it.

    The curve with a marker.
    """
    display, found = job.display, group.at_overfill(share)
    given = group.rounded_up(found.dose, job.equipment.step)
    large = [
        ("Dispense into each hole", _dispensed(job, given.dose)),
        ("Overfill", share_text(given.share)),
        ("Short in 100 holes", short_text(given.short).replace("fewer than", "<")),
        ("Waste a hole", display.volume(given.waste)),
    ]
    marked = drawing.marked(share, found.short, convert(found.waste, "mm³", display.volume_unit))
    what = f"{group.mark}, {group.count} holes, each needs {display.amount(group.required, 'mm³', 4)} as drawn"
    return result_html(large, _lines(job, group, found, given), [marked], what)


def _dispensed(job: Job, dose: float) -> str:
    """Say a rounded dose as the dispenser is worked."""
    text = job.display.volume(dose)
    if job.equipment.stroke is None:
        return text
    strokes = round(dose / job.equipment.step)
    return f"{strokes} stroke{'s' if strokes != 1 else ''}, {text}"


def _lines(job: Job, group: GroupScatter, asked: DoseOutcome, rounded: DoseOutcome) -> list[str]:
    display = job.display
    stated = f"{100 * group.stated:.4g} short in 100"
    verdict = "that is kept" if group.keeps(rounded) else "that is NOT kept"
    least = next(option.share for option in group.options if option.rule == "probability")
    lines = [
        (
            f"Before it is rounded up to what the dispenser gives: {share_text(asked.share)} overfill,"
            f" {display.amount(asked.dose, 'mm³', 4)}, {short_text(asked.short)} short in 100,"
            f" {display.volume(asked.waste)} waste a hole"
        ),
        f"Accepted: {stated}; with the rounded dose {verdict}. It takes {share_text(least or 0.0)} overfill",
        f"Over all {group.count} holes: {_expected(group.count * rounded.short)} short,"
        f" {display.volume(group.count * rounded.waste)} of waste"
        + (
            ""
            if job.cost is None
            else f", worth {group.count * rounded.waste * job.cost.waste:.2f} {job.cost.currency}"
        ),
    ]
    gone = hole_left_out(job, [job.group(group.mark)])
    return [*(notice.words for notice in gone), *lines, *(notice.words for notice in group.notices)]


def _expected(holes: float) -> str:
    return "practically none" if holes < 0.005 else plain_text(holes, 2)
