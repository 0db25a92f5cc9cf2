"""The projector view: one scene at a time, large, without code.

Arrow keys, the keys of a presenter (page up, page down), buttons and touch lead on. The same scenes stand one by one in
the notebook.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as widgets

from calc.base.command import COMMAND
from calc.base.display import System
from calc.base.errors import NotAccepted
from calc.base.look.tokens import css_colours
from calc.base.sheet import Step
from calc.lesson import numbers
from calc.lesson.classroom import DiscardScene, DustScene, ExerciseScene, EyeScene, FirstScene, ShotsScene
from calc.lesson.room import LARGEST_SEED, STAGES, Classroom, Stage
from calc.lesson.scene import Scene
from calc.lesson.scenes import HalfFullScene, OtherHoleScene, PocketScene, PushScene, RingScene, ShortScene
from calc.lesson.texts import Texts, languages
from calc.show.panel import OnScreen, button

SCENES: tuple[type[Scene], ...] = (
    RingScene,
    OtherHoleScene,
    HalfFullScene,
    PushScene,
    PocketScene,
    ShortScene,
    EyeScene,
    FirstScene,
    DiscardScene,
    DustScene,
    ExerciseScene,
    ShotsScene,  # after the lesson: it belongs to the practice block
)
_FOLDER = Path(__file__).parent


def _asset(name: str) -> str:
    return (_FOLDER / name).read_text(encoding="utf-8")


def _style() -> str:
    return f"<style>:root {{{css_colours('ls-')}}}\n{_asset('lesson.css')}</style>"


def partly_translated(language: str = "") -> list[tuple[str, str]]:
    """Say which scenes each further language has, in that language and in English.

    Parameters
    ----------
    language
        Only this one, where it is named.

    Returns
    -------
    list of tuple
        Language of the sentence, and the sentence. Nothing of a language that has all scenes.
    """
    english, told = Texts(), []
    for other in (Texts(one) for one in languages() if one != english.language and language in ("", one)):
        numbered = list(enumerate((one.key for one in SCENES), 1))
        whole = [
            number
            for number, key in numbered
            if all(other.language_of(k) == other.language for k in english.keys if k.startswith(f"{key}."))
        ]
        if len(whole) < len(numbered):
            said: dict[str, object] = {"scenes": ", ".join(map(str, whole)), "language": other.say("deck.in_english")}
            told += [(one.language, one.say("deck.partly", **said)) for one in (other, english)]
    return told


class Lesson:
    """A class's lesson: its scenes by name, and all of them as one deck.

    Parameters
    ----------
    units
        ``"metric"`` or ``"us"``.
    language
        Short name of a language of `calc.lesson.texts`.
    seed
        Number of the class: another one gives other exercises and other simulated holes.
    keep
        File that keeps what the class types; in memory only without it.

    Raises
    ------
    NotAccepted
        Units, a language or a seed that is not accepted.
    """

    def __init__(self, units: str = "metric", language: str = "en", seed: int = 1, keep: str = "") -> None:
        if units not in ("metric", "us"):
            raise NotAccepted(f"units '{units}' are not known; accepted: metric, us")
        if not 0 <= seed <= LARGEST_SEED:
            raise NotAccepted(
                f"the class number {seed} is out of range; accepted: whole numbers from 0 to {LARGEST_SEED}"
            )
        system: System = "us" if units == "us" else "metric"
        self.room = Classroom(system, Texts(language), seed)
        if keep:
            self.room.open(Path(keep))

    def scene(self, key: str) -> Shown:
        """Return one scene for a notebook cell, such as ``"ring"``."""
        known = {one.key: one for one in SCENES}
        if key not in known:
            raise NotAccepted(f"scene '{key}' is not known; accepted: {', '.join(known)}")
        return Shown(known[key](self.room))

    def ring_steps(self) -> tuple[Step, ...]:
        """Return the first scene's sum, step by step, for the notebook's record."""
        return numbers.ring_steps(numbers.examples(self.room.system).main, self.room.system, "the lesson's example")

    def deck(self) -> Deck:
        """Return all scenes, one at a time."""
        return Deck(self.room)


class Shown(OnScreen):
    """A scene in a notebook cell, with the lesson's look."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.widget = widgets.VBox([widgets.HTML(_style()), scene.widget]).add_class("ls-room")

    def _ipython_display_(self) -> None:
        _display(self.widget)


def _display(widget: widgets.Widget) -> None:
    """Show a widget with the script that gives Enter its meaning."""
    from IPython.display import Javascript, display

    display(widget)
    display(Javascript(_asset("lesson.js")))


class Deck(OnScreen):
    """The scenes one at a time, with a bar over and a bar under them.

    Parameters
    ----------
    room
        What the class shares.

    Attributes
    ----------
    scene : Scene
        The one on the screen.
    widget : VBox
        The page.
    """

    def __init__(self, room: Classroom) -> None:
        self.room = room
        self.at = min(room.at, len(SCENES) - 1)
        self._scenes: dict[int, Scene] = {}
        room.told = self._tell_kept
        self._bars()
        self._name()
        self.show(self.at, room.stage)

    @property
    def scene(self) -> Scene:
        """The scene on the screen."""
        if self.at not in self._scenes:
            self._scenes[self.at] = SCENES[self.at](self.room)
        return self._scenes[self.at]

    def _bars(self) -> None:
        self.title = widgets.HTML().add_class("ls-title")
        self.jump = widgets.Dropdown(options=[("", 0)])
        self.units = widgets.Dropdown(options=[("", self.room.system)], value=self.room.system)
        self.language = widgets.Dropdown(
            options=[(Texts(one).say("deck.name"), one) for one in languages()], value=self.room.texts.language
        )
        for field, look in ((self.jump, "ls-jump"), (self.units, "ls-units"), (self.language, "ls-language")):
            field.add_class(look)
            field.observe(lambda _: self._chosen(), names="value")
        self.back = button("", lambda: self.step(-1)).add_class("ls-back")
        self.next = button("", lambda: self.step(1)).add_class("ls-next")
        self.place = widgets.HTML().add_class("ls-place")
        head = widgets.HBox([self.title, self.jump, self.units, self.language]).add_class("ls-head")
        self.notes = widgets.HTML().add_class("ls-notes")
        self.gone = widgets.HTML().add_class("ls-gone")
        foot = widgets.HBox([self.back, self.place, self.next]).add_class("ls-foot")
        self.stage = widgets.Box([]).add_class("ls-stagebox")
        style = widgets.HTML(_style())
        self.widget = (
            widgets.VBox([style, head, self.notes, self.stage, self.gone, foot])
            .add_class("ls-room")
            .add_class("ls-deck")
        )

    def _name(self) -> None:
        """Write bars and lists in the class's language."""
        say = self.room.texts.say
        with self.silence():
            self.title.value = f"<h1>{say('deck.title')}</h1>"
            self.jump.options = [
                (f"{number}. {say(f'{one.key}.title')}", number - 1) for number, one in enumerate(SCENES, 1)
            ]
            self.jump.value = self.at
            self.units.options = [(say("deck.metric"), "metric"), (say("deck.us"), "us")]
            self.units.value = self.room.system
            self.jump.tooltip, self.units.tooltip, self.language.tooltip = (
                say("deck.scene"),
                say("deck.units"),
                say("deck.language"),
            )
            # Shown by the page itself, when nobody else can.
            self.gone.value = "".join(
                f'<p class="ls-alarm ls-{name}" role="alert" hidden>{escape(say(f"deck.{name}", command=COMMAND))}</p>'
                for name in ("gone", "silent")
            )
            self.back.description, self.next.description = say("deck.back"), say("deck.next")

    def _chosen(self) -> None:
        if self._quiet:
            return
        if self.jump.value != self.at:
            self.show(self.jump.value)
        elif (self.units.value, self.language.value) != (self.room.system, self.room.texts.language):
            # Every number on the screen and behind it is made anew: none may stay in the other units.
            self.room.system, self.room.texts = self.units.value, Texts(self.language.value)
            stage = self.scene.stage
            self._scenes.clear()
            self.room.keep()
            self._name()
            self.show(self.at, stage)

    def show(self, at: int, stage: Stage = STAGES[0]) -> None:
        """Show a scene at one of its steps."""
        self.at = at
        self.scene.set_stage(stage)
        self.stage.children = (self.scene.widget,)
        self._where()

    def _where(self) -> None:
        with self.silence():
            self.jump.value = self.at
        say = self.room.texts.say
        self.back.disabled = self._target(-1) is None
        self.next.disabled = self._target(1) is None
        self.place.value = (
            f"<p>{say('deck.place', number=self.at + 1, count=len(SCENES))} · <small>{say('deck.footer')}</small></p>"
        )
        self.room.at, self.room.stage = self.at, self.scene.stage
        self.room.keep()

    def _tell_kept(self) -> None:
        """Say where what is typed is kept, or why it is not; and how far the language goes."""
        say, room = self.room.texts.say, self.room
        kept = say("deck.not_kept", why=room.trouble) if room.trouble else ""
        if room.file is not None and not kept:
            kept = say("deck.kept", file=room.file.name)
        partly = partly_translated(room.texts.language)
        self.notes.value = f'<span class="{"ls-bad" if room.trouble else ""}">{escape(kept)}</span> ' + " ".join(
            f'<span lang="{name}">{escape(text)}</span>' for name, text in partly
        )

    def _target(self, way: int) -> tuple[int, Stage] | None:
        """Find the step before or after the present one."""
        stages: tuple[Stage, ...] = ("try",) if SCENES[self.at].key == "exercises" else STAGES
        place = stages.index(self.scene.stage) + way
        if 0 <= place < len(stages):
            return self.at, stages[place]
        at = self.at + way
        return (at, STAGES[0] if way > 0 else STAGES[-1]) if 0 <= at < len(SCENES) else None

    def step(self, way: int) -> None:
        """Go one step on, or back."""
        target = self._target(way)
        if target is None:
            return
        if target[0] == self.at:
            self.scene.set_stage(target[1])
            self._where()
        else:
            self.show(*target)

    def _ipython_display_(self) -> None:
        _display(self.widget)
