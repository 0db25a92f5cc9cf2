"""Forms for the tables of a job's files, each made from the descriptions of its keys, and saved into the same file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from calc.base.errors import CalcError, NotAccepted
from calc.files.adhesive import AdhesiveRecord
from calc.files.fields import Part
from calc.files.job import Job, is_demo
from calc.files.problems import InputErrors
from calc.files.tables import JobFile
from calc.firstpage.entries import NO, YES, KeyField, keys_of, typed_text, value_of
from calc.show.panel import CHANGED, DEMO_STAYS, OnScreen, button, closed, text_field, wide
from calc.work.save import Setting, save_values

PAGES = "pages"  # table of the adhesive record: page of the approval by key
_HOUSE = ("adhesive", "schedule", "schema")


@dataclass(frozen=True)
class Form:
    """A table of the job: what people call it, where it stands, and which notebook has nothing to show without it."""

    title: str
    table: tuple[str, ...]
    without: str = ""
    record: bool = False
    named: str = ""  # what the user's own names stand for, where each has a table of its own

    @property
    def model(self) -> type[Part]:
        """The file's model."""
        return AdhesiveRecord if self.record else JobFile


FORMS: Mapping[str, Sequence[Form]] = {
    "The job": (Form("The job", ("job",)), Form("Units", ("display",))),
    "The product's record": (Form("The product's record", (), record=True),),
    "Equipment": (Form("Equipment", ("equipment",)),),
    "Concrete": (Form("Concrete", ("concrete",)),),
    "Site": (
        Form("Site", ("site",), "05 Job plan has no days"),
        Form("Ways of preparing the hole", ("site", "ways"), named="way"),
    ),
    "Overfill and scatter": (
        Form("Overfill", ("overfill",)),
        Form("Scatter", ("scatter",), "02 Overfill and waste has nothing to study"),
        Form("Scatter of one group, in place of the job's", ("scatter", "group"), named="mark"),
        Form("Dosing by eye", ("judgement",), "02 Overfill and waste does not compare ways of dosing"),
    ),
    "Measured holes": (
        Form("Sizes of a measured hole", ("measured",), named="mark"),
        Form("Volumes from which an overfill follows", ("evidence",), "03 Measured holes has no holes", named="mark"),
    ),
    "Cost": (Form("Cost", ("cost",), "02 Overfill and waste has no least cost"),),
    "Design": (
        Form("Design", ("design",), "04 Embedment designs nothing"),
        Form("Design of one group, in place of the job's", ("design", "group"), named="mark"),
    ),
}


def missing_of(job: Job, form: Form) -> list[str]:
    """Name what has to be typed before a table can be read; nothing for one that is whole."""
    if form.named:
        return []
    typed = job.typed_record if form.record else job.typed
    return [
        one.words for one in keys_of(form.model, form.table) if one.needed and not typed_text(one, typed, form.table)
    ]


def is_there(job: Job, form: Form) -> bool:
    """Whether the job has a table."""
    return form.record or any(place[: len(form.table)] == form.table for place in job.typed)


class TableForm(OnScreen):
    """Fields for one table, those that say something first, and a button that saves what was changed.

    Parameters
    ----------
    job
        The job.
    form
        Which table.
    saved
        Called after the file was written.

    Attributes
    ----------
    fields : dict of str to Widget
        By key.
    """

    def __init__(self, job: Job, form: Form, saved: Callable[[Path], None]) -> None:
        self.job, self.form, self._saved = job, form, saved
        self.together: list[TableForm] = [self]  # forms of one file that are saved at once: a table may need another
        self.fields: dict[str, Any] = {}
        self.loaded: dict[str, str] = {}
        self._entries: dict[str, KeyField] = {}
        self.said = widgets.HTML()
        self.save = button("Save", self.write, "save", tooltip=f"Save: {form.title}")
        self.body = widgets.VBox()
        self.name = _name_field(job, form) if form.named else None
        if self.name is not None:
            self.name.observe(lambda _: self._renamed(), names="value")
        self.widget = widgets.VBox([self.body, widgets.HBox([self.save, self.said]).add_class("dp-actions")])
        self.fill()

    @property
    def table(self) -> tuple[str, ...]:
        """Keys that lead to the table; with the name that is chosen."""
        return self.form.table if self.name is None else (*self.form.table, str(self.name.value).strip())

    def fill(self) -> None:
        """Make the fields and put into them what the file says."""
        typed = self.job.typed_record if self.form.record else self.job.typed
        self.fields, self.loaded, self._entries = {}, {}, {}
        for one in keys_of(self.form.model, (*self.form.table, *(["*"] if self.name is not None else []))):
            self._put(one, typed_text(one, typed, self.table))
            if self.form.record and one.key not in ("name", "approval", "invented", "note"):
                page = KeyField(f"{PAGES}.{one.key}", f"{one.words}: approval and page", "", "text")
                self._put(page, typed_text(page, typed, ()))
        self.body.children = self._sorted()

    def _put(self, one: KeyField, text: str) -> None:
        field = _field(one, self.job)
        _set(field, text)
        field.observe(lambda _: setattr(self.said, "value", ""), names="value")
        self.fields[one.key], self.loaded[one.key], self._entries[one.key] = field, text, one

    def _sorted(self) -> list[Any]:
        """What is needed or says something, and the rest behind a button."""
        seen = {key for key, one in self._entries.items() if one.needed or self.loaded[key]}
        seen |= {key.removeprefix(f"{PAGES}.") for key in seen if key.startswith(f"{PAGES}.")}
        seen |= {key for key in self.fields if key.startswith(f"{PAGES}.") and key[len(PAGES) + 1 :] in seen}
        first = widgets.Box([field for key, field in self.fields.items() if key in seen]).add_class("dp-fields")
        rest = widgets.Box([field for key, field in self.fields.items() if key not in seen]).add_class("dp-fields")
        head = [] if self.name is None else [widgets.Box([self.name]).add_class("dp-fields")]
        if not rest.children:
            return [*head, first]
        fold = widgets.ToggleButton(description=f"{len(rest.children)} more", icon="chevron-down", value=not seen)
        fold.tooltip = f"What else may be said: {self.form.title}"
        rest.layout.display = "" if fold.value else "none"
        fold.observe(lambda change: setattr(rest.layout, "display", "" if change["new"] else "none"), names="value")
        return [*head, first, fold, rest]

    def follow(self, job: Job) -> None:
        """Take the job as it reads now, each field in its place; what is typed here and not saved stays."""
        self.job = job
        if isinstance(self.name, widgets.Dropdown) and self.name.options != (marks := tuple(_marks(job))):
            chosen = self.name.value
            self.name.options = marks
            self.name.value = chosen if chosen in {mark for _, mark in marks} else marks[0][1]
        self._follow()

    def _renamed(self) -> None:
        """Show the table of another group; or of another name, where what was typed before the name stays."""
        if isinstance(self.name, widgets.Dropdown):
            self.fill()
        else:
            self._follow()

    def _follow(self) -> None:
        typed = self.job.typed_record if self.form.record else self.job.typed
        for key, one in self._entries.items():
            text = typed_text(one, typed, () if key.startswith(f"{PAGES}.") else self.table)
            if text != self.loaded[key]:
                kept = str(self.fields[key].value).strip() != self.loaded[key].strip()
                self.loaded[key] = text
                if not kept:
                    _set(self.fields[key], text)

    def changes(self) -> dict[str, Setting]:
        """Keys that were typed otherwise; raises `NotAccepted` for what cannot be read."""
        typed = [key for key, field in self.fields.items() if str(field.value).strip() != self.loaded[key].strip()]
        if typed and self.name is not None and not self.table[-1]:
            raise NotAccepted(f"{self.form.title}: type a name for the {self.form.named} first")
        return {
            ".".join((*map(str, self.table if not key.startswith(f"{PAGES}.") else ()), key)): value_of(
                self._entries[key], str(self.fields[key].value)
            )
            for key in typed
        }

    def write(self) -> None:
        """Save what was changed; a refused value changes nothing and is told in the words of its field."""
        if self.job.changed:
            self._say(CHANGED, wrong=True)
            return
        if is_demo(self.job):
            self._say(DEMO_STAYS, wrong=True)
            return
        try:
            values = {key: value for form in self.together for key, value in form.changes().items()}
            path = save_values(self.job, values=values, record=self.form.record) if values else None
        except InputErrors as errors:
            self._say("Not saved. " + " ".join(closed(self._told(p)) for p in errors.problems), wrong=True)
            return
        except CalcError as error:
            self._say(f"Not saved. {closed(str(error))}", wrong=True)
            return
        if path is None:
            self._say("Nothing to save: the file says the same.")
            return
        for form in self.together:
            form.said.value = ""
            form.loaded = {key: str(field.value) for key, field in form.fields.items()}
        self._saved(path)
        self._say(f"Saved to {path.name}.")

    def _told(self, problem: Any) -> str:
        """Name a key as its field is named."""
        words = ""
        for form in self.together:
            before = ".".join(form.table)
            key = problem.place.removeprefix("key ").removeprefix(f"{before}." if before else "")
            words = form._entries[key].words if key in form._entries else words
        value = f"'{problem.value}' " if problem.value else ""
        return f"{words}: {value}{problem.message}" if words else str(problem)

    def _say(self, text: str, *, wrong: bool = False) -> None:
        kind = 'dp-sentence" role="alert' if wrong else 'dp-saved" role="status'
        self.said.value = f'<div class="{kind}">{escape(text)}</div>'


def _set(field: Any, text: str) -> None:
    """Put a text into a field; a choice that is not among the others is offered too."""
    if isinstance(field, widgets.Dropdown) and text not in dict(field.options).values():
        field.options = [*field.options, (text, text)]
    field.value = text


def _marks(job: Job) -> list[tuple[str, str]]:
    return [(f"{group.mark}: {group.bar.text}", group.mark) for group in job.groups]


def _name_field(job: Job, form: Form) -> Any:
    """Choose a group, or type a name: of what is there, or a new one."""
    if form.named == "mark":
        field = widgets.Dropdown(description="Bar group", options=_marks(job))
        field.add_class("dp-choice")
        return field
    depth = len(form.table)
    names = list(dict.fromkeys(str(place[depth]) for place in job.typed if place[:depth] == form.table))
    return widgets.Combobox(
        description="Name, of one that is there or a new one",
        options=names,
        value=names[0] if names else "",
        continuous_update=False,
    )


def _field(one: KeyField, job: Job) -> Any:
    words = one.words + ("" if not one.needed else ", needed")
    if one.kind in ("choice", "truth"):
        options = one.choices or (YES, NO)
        field = widgets.Dropdown(description=words, options=[("not stated", ""), *((o, o) for o in options)], value="")
    elif one.kind in ("rows", "lines"):
        names = ", ".join(f"{part.key.replace('_', ' ')} …" for part in one.parts)
        field = wide(widgets.Textarea(description=f"{words}: one on each line{names and ', '}{names}", rows=3))
    else:
        names = ", ".join(f"{part.key.replace('_', ' ')} …" for part in one.parts)
        field = text_field(words, names or _example(one.example, job))
    field.tooltip = one.help or one.words
    return field


def _example(text: str, job: Job) -> str:
    """An example in the units of the job."""
    pairs = {
        "330 mL": "11 fl oz",
        "200 mm": "8 in",
        "300 mm": "12 in",
        "15 °C": "59 °F",
        "25 MPa": "3600 psi",
        "500 MPa": "60 ksi",
        "30 kN": "7 kip",
        "0.3 mm": "0.01 in",
        "0.1 mm": "0.004 in",
        "5000 mL": "0.2 ft³",
    }
    return job.display.usual(text, pairs.get(text, text))
