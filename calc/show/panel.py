"""What all panels share: fields above, one composed result below, and a sentence in its place while an entry is wrong.

A panel collects text, has it read by the grammar of the job file, calls one function of `calc` and shows what it returns. It
never shows a result that does not belong to what stands in its fields, and it never writes the demos that come with the project.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from html import escape
from typing import Any

import ipywidgets as widgets

from calc.base.errors import FAULT, CalcError
from calc.files.job import Job, is_demo
from calc.files.problems import InputErrors, without_value

NAMES = {
    "count": "Holes",
    "bar": "Bar",
    "hole_diameter": "Hole diameter",
    "embedment": "Embedment",
    "overdrill": "Overdrill",
    "direction": "Direction",
    "overfill": "Overfill",
    "mark": "Mark",
}
BY_RULE = "rule"  # typed in place of a group's own overfill: the job's rule finds it
_LABEL = "18.6rem"

STYLE = """<style>
.dosepanel {max-width: 62rem; color: var(--jp-ui-font-color1, #23282d); font-family: var(--jp-ui-font-family, sans-serif)}
.dosepanel .dp-fields {gap: .15rem 1rem; flex-flow: row wrap}
.dosepanel .widget-label {text-align: left}
.dp-result {border-top: 2px solid #58a39b; margin-top: .6rem; padding-top: .7rem; line-height: 1.45;
  color: var(--jp-ui-font-color1, #23282d); font-size: 14px}
.dp-result .dp-what {opacity: .8}
.dp-result .dp-doses {display: flex; flex-wrap: wrap; gap: .3rem 3rem; margin: .3rem 0 .5rem}
.dp-result .dp-dose {font-size: 2.3rem; line-height: 1.15; font-weight: 600; font-variant-numeric: tabular-nums}
.dp-result ul {margin: .3rem 0; padding-left: 1.2rem; list-style: disc}
.dp-result .dp-paper {background: #fff; border-radius: 4px; padding: .3rem; margin-top: .6rem; max-width: 58rem}
.dp-result .dp-paper svg {display: block; width: 100%; height: auto}
.dp-sentence {border-left: 4px solid #c0562f; padding: .35rem .8rem; margin-top: .8rem; font-size: 15px; line-height: 1.45;
  color: var(--jp-ui-font-color1, #23282d)}
.dp-saved {font-size: 13px; line-height: 1.4; color: var(--jp-ui-font-color1, #23282d)}
</style>"""


def _wide() -> widgets.Layout:
    return widgets.Layout(width="26.2rem")


def text_field(label: str, placeholder: str = "") -> widgets.Text:
    """Make a field for typed text; its label carries unit and range."""
    field = widgets.Text(description=label, placeholder=placeholder, continuous_update=False, layout=_wide())
    field.style.description_width = _LABEL
    return field


def choice_field(label: str, options: Sequence[Any], value: Any) -> widgets.Dropdown:
    """Make a field to choose from a list."""
    field = widgets.Dropdown(description=label, options=options, value=value, layout=_wide())
    field.style.description_width = _LABEL
    return field


def slider_field(label: str, least: float, most: float, step: float, value: float | None = None) -> widgets.FloatSlider:
    """Make a slider that stands beside a typed field; the typed field says the number."""
    start = least if value is None else value
    field = widgets.FloatSlider(description=label, min=least, max=most, step=step, value=start, continuous_update=False, readout=False, layout=_wide())
    field.style.description_width = _LABEL
    return field


def closed(text: str) -> str:
    """End a sentence with a full stop."""
    return text if text.endswith(".") else f"{text}."


def sentence(place: str, value: str, message: str, names: Mapping[str, str] = NAMES) -> str:
    """Say what is wrong with a field in the words of its label."""
    name = place.removeprefix("field ")
    what = f"'{value}' {without_value(message)}" if value else message
    return closed(f"{names.get(name, name)}: {what}")


class FieldPanel:
    """Fields and a result below them.

    A panel of its own gives `compute`, which reads the fields and returns the result as HTML, or raises what the readers raise; and
    `clear`, which forgets the last result.

    Parameters
    ----------
    fields
        The controls by name, in the order in which they stand on the screen.
    below
        Widgets between the fields and the result.
    """

    names: Mapping[str, str] = NAMES

    def __init__(self, fields: dict[str, Any], below: Sequence[Any] = ()) -> None:
        self.fields = fields
        self.message = ""
        self._quiet = False
        self.output = widgets.HTML(value="")
        box = widgets.Box(list(fields.values()))
        box.add_class("dp-fields")
        self.widget = widgets.VBox([widgets.HTML(STYLE), box, *below, self.output])
        self.widget.add_class("dosepanel")

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        return self.widget._repr_mimebundle_(include=include, exclude=exclude)

    def start(self) -> None:
        """Watch the fields and show the first result."""
        for name, field in self.fields.items():
            field.observe(lambda change, name=name: self._changed(name), names="value")
        self.update()

    # ---- for the panel's own ----

    def compute(self) -> str:
        """Work what stands in the fields; returns the result as HTML, raises for a wrong entry."""
        raise NotImplementedError

    def clear(self) -> None:
        """Forget the last result."""

    def changed(self, name: str) -> None:
        """Let one field follow another; by default only the result is worked anew."""
        self.update()

    def stated(self, name: str) -> str:
        """What the job's files say of a typed field; nothing where they say nothing."""
        return ""

    # ---- the same for all ----

    def _restore(self, name: str) -> None:
        """Bring back what the job's files say into a field that was emptied.

        An empty field must never say less than the job does: somebody who types, thinks again and clears wants what was there before.
        """
        field = self.fields[name]
        if isinstance(field, (widgets.Text, widgets.Textarea)) and not field.value.strip():
            with self.silence():
                field.value = self.stated(name)

    @contextmanager
    def silence(self) -> Iterator[None]:
        """Set fields without an update for each of them."""
        before, self._quiet = self._quiet, True
        try:
            yield
        finally:
            self._quiet = before

    def _changed(self, name: str) -> None:
        if not self._quiet:
            self._restore(name)
            self.changed(name)

    def update(self) -> None:
        """Forget the old result, then show the new one or the sentence that says why there is none."""
        self.message = ""
        self.clear()
        try:
            self.output.value = self.compute()
            return
        except InputErrors as errors:
            self.message = " ".join(sentence(p.place, p.value, p.message, self.names) for p in errors.problems)
        except CalcError as error:
            self.message = closed(str(error))
        except Exception:
            # A bug of ours: no entry is to blame, the old result must not stay, and the traceback goes where the notebook keeps it.
            self.clear()
            self.message = FAULT
            self.output.value = f'<div class="dp-sentence" role="alert"><b>No result.</b> {escape(FAULT)}</div>'
            raise
        self.clear()
        self.output.value = f'<div class="dp-sentence" role="alert"><b>No result.</b> {escape(self.message)}</div>'


class Panel(FieldPanel):
    """Fields, a result below them, and optionally a button that writes to the job file.

    Where it saves, a panel of its own gives `write` as well.

    Parameters
    ----------
    job
        What the panel starts from.
    fields
        The controls by name, in the order in which they stand on the screen.
    saves
        What the save button says; no button without it.
    """

    def __init__(self, job: Job, fields: dict[str, Any], saves: str = "Save to job file") -> None:
        self.job = job
        self.save = widgets.Button(description=saves, icon="save", tooltip="Write what the panel holds")
        self.saved = widgets.HTML(value="")
        self.save.on_click(lambda _: self._save())
        super().__init__(fields, [widgets.HBox([self.save, self.saved])] if saves else [])

    def write(self) -> None:
        """Write to the job file; called only while there is a result and the job is the user's own."""

    def _changed(self, name: str) -> None:
        if not self._quiet:
            self.saved.value = ""
        super()._changed(name)

    def say(self, text: str) -> None:
        """Say beside the save button what was done."""
        self.saved.value = f'<div class="dp-saved" role="status">{escape(text)}</div>'

    def _save(self) -> None:
        self.saved.value = ""
        if self.message:
            self.say(f"Nothing was saved: {self.message}")
        elif is_demo(self.job):
            self.say("Nothing was saved: this is the demo. Make a job of your own with 'python -m calc start my-job' and set job_file to its folder.")
        else:
            self.write()
