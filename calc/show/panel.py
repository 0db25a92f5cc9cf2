"""What all panels share: fields above, one composed result below, and a sentence in its place while an entry is wrong.

A panel collects text, has it read by the grammar of the job file, calls one function of `calc` and shows what it
returns. It never shows a result that does not belong to what stands in its fields, and it never writes the demos that
come with the project.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from html import escape
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets as widgets

from calc.base.command import COMMAND
from calc.base.display import plain_text
from calc.base.errors import FAULT, CalcError
from calc.base.look.tokens import css_colours
from calc.base.units import UnitError, convert, parse_number, parse_quantity, units_like
from calc.files.job import Job, is_demo
from calc.files.problems import InputErrors, without_value
from calc.files.strict import tidy
from calc.show.drawing import Picture
from calc.work.load import load_job

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
DEMO_STAYS = (
    f"Nothing was saved: this is the demo. Make a job of your own with '{COMMAND} start my-job' and set job_file to its"
    " folder."
)
# What a field takes on the screen: with its label, the label alone, a letter (rather a wide one), a list's arrow.
_FIELD_REM, _LABEL_REM, _LETTER_REM, _ARROW_REM = 26.2, 18.6, 0.55, 2.0
_LABEL = f"{_LABEL_REM}rem"
CHANGED = "Nothing was saved: the job's files were changed since they were read here. Reload them first."
NOT_YET = "The other cells of this page, and other notebooks, show the job as it was until they are run again."

STYLE = (
    f"<style>.dosepanel, .dp-result, .dp-sentence, .dp-saved {{{css_colours('dp-')}}}"
    + """
.dosepanel {max-width: 76rem; color: var(--jp-ui-font-color1, var(--dp-ink));
  font-family: var(--jp-ui-font-family, sans-serif); --dp-height: clamp(16.5rem, 35vh, 27rem)}
.dosepanel .dp-fields {display: grid; grid-template-columns: repeat(auto-fit, minmax(14rem, 1fr));
  gap: .2rem 1rem; overflow: visible; align-items: end}
.dosepanel .dp-fields > .widget-inline-hbox {flex-direction: column; align-items: stretch; height: auto; margin: 0;
  width: auto !important; min-width: 0}
.dosepanel .dp-fields > .dp-wide {grid-column: 1 / -1}
.dosepanel .dp-fields .widget-label {width: auto !important; height: auto; line-height: 1.5; text-align: left;
  white-space: normal}
.dosepanel .dp-fields .widget-inline-hbox > :not(.widget-label) {flex: none; width: 100%; min-height: 28px; margin: 0;
  box-sizing: border-box}
.dosepanel .dp-fields .widget-inline-hbox.widget-slider > .slider-container {padding: .5rem .6rem 0}
.dosepanel .dp-actions {align-items: center; flex-flow: row wrap; overflow: visible; margin-top: .2rem}
.dosepanel .dp-out {min-height: var(--dp-height); overflow: visible}
.dosepanel .dp-out.dp-rows2 {min-height: calc(var(--dp-height) + 18rem)}
.dp-result {border-top: 2px solid var(--dp-ink); padding-top: .4rem; line-height: 1.45;
  color: var(--jp-ui-font-color1, var(--dp-ink)); font-size: 14px}
.dp-result .dp-what {opacity: .8}
.dp-result .dp-split {display: grid; grid-template-columns: minmax(0, 2fr) minmax(0, 3fr); gap: 1rem;
  height: calc(var(--dp-height) - 1rem)}
.dp-result .dp-answer {overflow-y: auto}
.dp-result .dp-doses {display: flex; flex-wrap: wrap; gap: .3rem 2rem; margin: .2rem 0 .5rem}
.dp-result .dp-dose {font-size: 1.9rem; line-height: 1.15; font-weight: 600; font-variant-numeric: tabular-nums}
.dp-result ul {margin: .3rem 0; padding-left: 1.2rem; list-style: disc}
.dp-result .dp-paper {background: var(--dp-paper); border-radius: 4px; padding: .3rem; box-sizing: border-box;
  min-height: 0}
.dp-result .dp-paper svg {display: block; width: 100%; height: auto}
.dp-result .dp-split > .dp-paper svg {height: 100%}
.dp-result .dp-others {display: grid; grid-template-columns: repeat(auto-fit, minmax(17rem, 1fr)); gap: 1rem;
  margin-top: .6rem}
.dp-result .dp-others .dp-paper {height: 16.5rem}
.dp-result .dp-others .dp-paper svg {height: 100%}
.dp-sentence {border-left: 4px solid var(--dp-failure); padding: .35rem .8rem; margin-top: .8rem;
  font-size: 15px; line-height: 1.45;
  color: var(--jp-ui-font-color1, var(--dp-ink))}
.dp-saved {font-size: 13px; line-height: 1.4; color: var(--jp-ui-font-color1, var(--dp-ink))}
@media print {.dp-result .dp-split, .dp-result .dp-others .dp-paper {height: auto}}
</style>"""
)


def _wide() -> widgets.Layout:
    return widgets.Layout(width=f"{_FIELD_REM}rem")


def styled(css: str = STYLE) -> widgets.HTML:
    """Carry a style sheet in a widget that takes no room."""
    return widgets.HTML(css, layout=widgets.Layout(display="none"))


def wide(field: Any) -> Any:
    """Give a field the whole line of a panel, for what is long."""
    return field.add_class("dp-wide")


def button(words: str, act: Callable[[], object], icon: str = "", **look: Any) -> widgets.Button:
    """Make a button that does something."""
    made = widgets.Button(description=words, icon=icon, **look)
    made.on_click(lambda _: act())
    return made


def text_field(label: str, placeholder: str = "", value: str = "") -> widgets.Text:
    """Make a field for typed text; its label carries unit and range."""
    field = widgets.Text(
        description=label, placeholder=placeholder, value=value, continuous_update=False, layout=_wide()
    )
    field.style.description_width = _LABEL
    return field


def choice_field(label: str, options: Sequence[Any], value: Any) -> widgets.Dropdown:
    """Make a field to choose from a list, in which the longest option can be read to its end.

    Editions of a code differ in their last letters. Where it takes more room, the label has less.
    """
    field = widgets.Dropdown(description=label, options=options, value=value, layout=_wide())
    texts = [str(one[0] if isinstance(one, tuple) else one) for one in options]
    longest = max(map(len, texts), default=0)
    room = _FIELD_REM - _ARROW_REM - _LETTER_REM * longest
    field.style.description_width = f"{max(min(_LABEL_REM, room), _LETTER_REM * (len(label) + 1)):.1f}rem"
    return field


def slider_field(label: str, least: float, most: float, step: float, value: float | None = None) -> widgets.FloatSlider:
    """Make a slider that stands beside a typed field; the typed field says the number."""
    start = least if value is None else value
    field = widgets.FloatSlider(
        description=label,
        min=least,
        max=most,
        step=step,
        value=start,
        continuous_update=False,
        readout=False,
        layout=_wide(),
    )
    field.style.description_width = _LABEL
    return field


def group_field(job: Job, mark: str) -> widgets.Dropdown:
    """Make a field to choose a bar group."""
    return choice_field("Bar group", [(f"{group.mark}: {group.bar.text}", group.mark) for group in job.groups], mark)


def closed(text: str) -> str:
    """End a sentence with a full stop."""
    return text if text.endswith(".") else f"{text}."


def sentence(place: str, value: str, message: str, names: Mapping[str, str] = NAMES) -> str:
    """Say what is wrong with a field in the words of its label."""
    name = place.removeprefix("field ")
    what = f"'{value}' {without_value(message)}" if value else message
    return closed(f"{names.get(name, name)}: {what}")


def listed(paths: Iterable[Path]) -> str:
    """Name files, each once."""
    return " and ".join(str(path) for path in dict.fromkeys(paths))


def read_number(label: str, text: str, accepted: str, inside: Callable[[float], bool]) -> float:
    """Read a bare number that has to be there; whatever is wrong is told with what is accepted."""
    if not text:
        raise UnitError(f"{label}: the field is empty; {accepted}")
    try:
        value = parse_number(text)
    except UnitError as error:
        raise UnitError(f"{label}: {error}; {accepted}") from None
    if not inside(value):
        raise UnitError(f"{label}: '{text}' is out of range; {accepted}")
    return value


def read_volume(label: str, text: str, most: float, *, or_none: bool = False) -> float:
    """Read a volume [mm³] above zero, or from zero on."""
    try:
        value = tidy(parse_quantity(text, "mL").to("mm³"))
    except UnitError as error:
        raise UnitError(f"{label}: {error}") from None
    if not 0 <= value <= most or (value == 0 and not or_none):
        span = f"{'from 0 to' if or_none else 'above 0 up to'} {plain_text(convert(most, 'mm³', 'mL'))} mL"
        raise UnitError(
            f"{label}: '{text}' is out of range; accepted: {span}, or the same in {', '.join(units_like('mL'))}"
        )
    return value


def result_html(large: Sequence[tuple[str, str]], lines: Iterable[str], drawings: Iterable[str], what: str = "") -> str:
    """Compose a result: what it is about, its main values in large figures, sentences, and drawings.

    The first drawing stands beside the answer, the others below, all in a height of their own: what stands below the
    panel keeps its place whatever is typed.
    """
    about = f'<div class="dp-what">{escape(what)}</div>' if what else ""
    figures = "".join(
        f'<div><div>{escape(name)}</div><div class="dp-dose">{escape(text)}</div></div>' for name, text in large
    )
    items = "".join(f"<li>{escape(closed(line))}</li>" for line in lines)
    drawn = [f'<div class="dp-paper">{drawing}</div>' for drawing in drawings]
    more = f'<div class="dp-others">{"".join(drawn[1:])}</div>' if drawn[1:] else ""
    return (
        f'<div class="dp-result"><div class="dp-split"><div class="dp-answer" role="status" tabindex="0">{about}<div'
        f' class="dp-doses">{figures}</div><ul>{items}</ul></div>{"".join(drawn[:1])}</div>{more}</div>'
    )


def _box(fields: Sequence[Any]) -> widgets.Box:
    return widgets.Box(list(fields)).add_class("dp-fields")


class OnScreen:
    """Something that a notebook shows as its widget."""

    widget: Any
    _latest: ClassVar[OnScreen | None] = None
    _quiet = False  # while fields are set by the program and not by somebody

    @contextmanager
    def silence(self) -> Iterator[None]:
        """Set fields without an update for each of them."""
        before, self._quiet = self._quiet, True
        try:
            yield
        finally:
            self._quiet = before

    def focus(self) -> None:
        """Bring it back on the screen."""
        self.widget.focus()

    @classmethod
    def back_to_top(cls) -> None:
        """Go back to what was shown last: JupyterLab stays at the last cell when all were run."""
        if cls._latest is not None:
            cls._latest.focus()

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        OnScreen._latest = self
        return self.widget._repr_mimebundle_(include=include, exclude=exclude)


class FieldPanel(OnScreen):
    """Fields and a result below them.

    A panel of its own gives `compute`, which reads the fields and returns the result as HTML, or raises what the
    readers raise; and `clear`, which forgets the last result.

    Parameters
    ----------
    fields
        The controls by name, in the order in which they stand on the screen.
    below
        Widgets between the fields and the result.
    """

    names: Mapping[str, str] = NAMES
    first: Sequence[str] = ()  # fields that are always seen; the others are folded, and none is without these
    sliders: Mapping[str, Any] = {}  # typed fields that have a slider beside them, and the format of what it types
    result: Any = None
    pictures: tuple[Picture, ...] = ()

    def __init__(self, fields: dict[str, Any], below: Sequence[Any] = ()) -> None:
        self.fields = fields
        self.message = ""
        self.output = widgets.HTML(value="")
        self.output.add_class("dp-out")
        self.widget = widgets.VBox([styled(), *self._boxes(below), self.output]).add_class("dosepanel")

    def _boxes(self, below: Sequence[Any]) -> list[Any]:
        """The fields that are always seen, the folded ones, and the line of buttons that opens those."""
        always = [field for name, field in self.fields.items() if name in self.first or not self.first]
        folded = [field for field in self.fields.values() if field not in always]
        if not folded:
            return [_box(always), *below]
        rest, fold = _box(folded), widgets.ToggleButton(description="More fields", icon="chevron-down")
        rest.layout.display = "none"

        def turn(change: Mapping[str, Any]) -> None:
            opened = bool(change["new"])
            rest.layout.display = "" if opened else "none"
            fold.description, fold.icon = ("Fewer fields", "chevron-up") if opened else ("More fields", "chevron-down")

        fold.observe(turn, names="value")
        return [_box(always), rest, widgets.HBox([fold, *below]).add_class("dp-actions")]

    def focus(self) -> None:
        """Go to the first field."""
        next(iter(self.fields.values())).focus()

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
        self.result, self.pictures = None, ()

    def changed(self, name: str) -> None:
        """Let one field follow another; by default only the result is worked anew."""
        self.update()

    def stated(self, name: str) -> str:
        """What the job's files say of a typed field; nothing where they say nothing."""
        return ""

    def place(self, name: str) -> float:
        """Where the slider of a typed field belongs.

        `UnitError` for a wrong entry, which leaves the slider where it is.
        """
        return parse_number(self.text(name))

    def typed(self, name: str, place: float) -> str:
        """What a place of the slider means in its typed field."""
        return format(place, self.sliders[name])

    # ---- the same for all ----

    def text(self, name: str) -> str:
        """What stands in a field."""
        return str(self.fields[name].value or "").strip()

    def move_slider(self, name: str) -> None:
        """Let a slider follow its typed field."""
        slider = self.fields[f"{name}_slider"]
        with self.silence(), suppress(UnitError):
            place = self.place(name)
            if slider.min <= place <= slider.max:
                slider.value = place

    def _follow(self, name: str) -> None:
        """Let a typed field and its slider follow each other."""
        base = name.removesuffix("_slider")
        if base in self.sliders and base == name:
            self.move_slider(name)
        elif base in self.sliders:
            with self.silence():
                self.fields[base].value = self.typed(base, self.fields[name].value)

    def _restore(self, name: str) -> None:
        """Bring back what the job's files say into a field that was emptied.

        An empty field must never say less than the job does: somebody who types, thinks again and clears wants what was
        there before.
        """
        field = self.fields[name]
        if isinstance(field, (widgets.Text, widgets.Textarea)) and not field.value.strip():
            with self.silence():
                field.value = self.stated(name)

    def _changed(self, name: str) -> None:
        if not self._quiet:
            self._restore(name)
            self._follow(name)
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
            # A bug of ours: no entry is to blame, the old result must not stay, and the traceback goes where the
            # notebook keeps it.
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

    chooser = ""  # field that chooses what the others show
    kept: Sequence[str] = ()  # fields that still say what was typed when something was saved

    def __init__(self, job: Job, fields: dict[str, Any], saves: str = "Save to job file") -> None:
        self.job = job
        self.loaded: dict[str, str] = {}
        self.save = button(saves, self._save, "save", tooltip="Write what the panel holds")
        self.saved = widgets.HTML(value="")
        self.stale = button("Job files changed: reload", self.reload, "refresh", tooltip="Read the job's files again")
        self.stale.layout.display = "none"
        super().__init__(fields, [widgets.HBox([self.save, self.saved]).add_class("dp-actions")] if saves else [])
        self.widget.children = (self.widget.children[0], self.stale, *self.widget.children[1:])

    # ---- for the panel's own ----

    def texts(self) -> dict[str, str]:
        """What the job's files say, by field."""
        return {}

    def write(self) -> Iterator[Path]:
        """Write what differs and give each file when it is written.

        Called only while there is a result and the job is the user's own.
        """
        yield from ()

    def about_saved(self) -> str:
        """What is said of the saved behind the files."""
        return ""

    # ---- the same for all ----

    def start(self) -> None:
        """Put what the job's files say into the fields, then watch them."""
        self.fill()
        super().start()

    def fill(self) -> None:
        """Put what the job's files say into the fields."""
        self.loaded = self.texts()
        with self.silence():
            for name, text in self.loaded.items():
                self.fields[name].value = text
        for name in self.sliders.keys() & self.loaded.keys():
            self.move_slider(name)

    def stated(self, name: str) -> str:
        """What the job's files say of a field; nothing where they say nothing."""
        return self.loaded.get(name, "")

    def differs(self, name: str) -> bool:
        """Whether a field says something else than the job's files."""
        return self.text(name) != self.loaded.get(name, "")

    def changed(self, name: str) -> None:
        """Fill the fields for what is chosen, then work anew."""
        if name == self.chooser:
            self.fill()
        self.update()

    def put(self, write: Callable[..., Path], values: Mapping[str, Any], **where: str) -> Iterator[Path]:
        """Write by a function of `calc.work.save` what there is to write; gives the file."""
        if values:
            yield write(self.job, values=values, **where)
            self.job = load_job(self.job.path)

    def follow_saved(self) -> None:
        """Let the fields say what the job's files say now."""
        kept = {name: self.fields[name].value for name in self.kept}
        self.fill()
        with self.silence():
            for name, text in kept.items():
                self.fields[name].value = text
        for name in kept:
            self.move_slider(name)

    def look(self) -> bool:
        """Whether the job's files changed since they were read; shows the bar that says so, or takes it away."""
        changed = self.job.changed
        self.stale.layout.display = "" if changed else "none"
        return changed

    def reload(self) -> None:
        """Read the job's files again and start anew from them; what was typed and not saved goes."""
        try:
            job = load_job(self.job.path)
        except CalcError as error:
            self.say(f"Not read: {closed(str(error))}")
            return
        # Every panel of its own takes the job alone.
        widget, fresh = self.widget, type(self)(job)  # type: ignore[call-arg]
        widget.children = fresh.widget.children
        # What a notebook or a test holds of this panel is the new one from here on.
        fresh.widget = widget
        self.__dict__ = fresh.__dict__
        self.say(f"Read again. {NOT_YET}")

    def _changed(self, name: str) -> None:
        if not self._quiet:
            self.saved.value = ""
            self.look()
        super()._changed(name)

    def say(self, text: str) -> None:
        """Say beside the save button what was done."""
        self.saved.value = f'<div class="dp-saved" role="status">{escape(text)}</div>'

    def _save(self) -> None:
        self.saved.value = ""
        written: list[Path] = []
        if self.look():
            self.say(CHANGED)
        elif self.message:
            self.say(f"Nothing was saved: {self.message}")
        elif is_demo(self.job):
            self.say(DEMO_STAYS)
        else:
            try:
                written.extend(self.write())
            except InputErrors as errors:
                done = f" {listed(written)} was saved before." if written else ""
                self.say("Not saved: " + " ".join(closed(str(p)) for p in errors.problems) + done)
            except CalcError as error:
                self.say(f"Nothing was saved: {closed(str(error))}")
            else:
                self._tell_saved(written)

    def _tell_saved(self, written: Sequence[Path]) -> None:
        if not written:
            self.say("Nothing to save: the job's files say the same.")
            return
        self.follow_saved()
        self.update()
        self.say(f"Saved to {listed(written)}{self.about_saved()}. {NOT_YET}")
