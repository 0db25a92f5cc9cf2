"""The projector view: one scene at a time, large, without code; and the command that opens it.

A page of one notebook cell, made for the occasion and shown by voila, so that nothing of a notebook is in sight. Arrow
keys, the keys of a presenter (page up, page down), buttons and touch lead on. The same scenes stand one by one in the
notebook.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import ipywidgets as widgets
import nbformat
from jupyter_core.paths import jupyter_path

from calc.base.command import COMMAND, safe_environment
from calc.base.display import System
from calc.base.errors import CalcError, NotAccepted
from calc.base.sheet import Step
from calc.lesson import numbers
from calc.lesson.classroom import DiscardScene, DustScene, ExerciseScene, EyeScene, FirstScene, ShotsScene
from calc.lesson.scene import STAGES, Classroom, Scene
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
    ShotsScene,
    ExerciseScene,
)
_FOLDER = Path(__file__).parent
# voila's own page asks the network for the letters of icons that the lesson does not use; a class room may have none.
_TEMPLATE = """{%- extends 'voila/templates/lab/index.html.j2' -%}
{%- block notebook_css -%}
{{ super() | replace("https://cdn.jsdelivr.net", "data:text/css,") }}
{%- endblock notebook_css -%}
"""


def _asset(name: str) -> str:
    return (_FOLDER / name).read_text(encoding="utf-8")


def partly_translated() -> list[tuple[str, str]]:
    """Say which scenes each further language has, in that language and in English.

    Returns
    -------
    list of tuple
        Language of the sentence, and the sentence. Nothing of a language that has all scenes.
    """
    english, told = Texts(), []
    for other in (Texts(one) for one in languages() if one != english.language):
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

    Raises
    ------
    NotAccepted
        Units, a language or a seed that is not accepted.
    """

    def __init__(self, units: str = "metric", language: str = "en", seed: int = 1) -> None:
        if units not in ("metric", "us"):
            raise NotAccepted(f"units '{units}' are not known; accepted: metric, us")
        if not 0 <= seed <= 999_999:
            raise NotAccepted(f"the class number {seed} is out of range; accepted: whole numbers from 0 to 999999")
        system: System = "us" if units == "us" else "metric"
        self.room = Classroom(system, Texts(language), seed)

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
        self.widget = widgets.VBox([widgets.HTML(f"<style>{_asset('lesson.css')}</style>"), scene.widget]).add_class(
            "ls-room"
        )


class Deck:
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
        self.at = 0
        self._scenes: dict[int, Scene] = {}
        self._quiet = False
        self._bars()
        self._name()
        self.show(0)

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
        self.partly = widgets.HTML().add_class("ls-partly")
        foot = widgets.HBox([self.back, self.place, self.next]).add_class("ls-foot")
        self.stage = widgets.Box([]).add_class("ls-stagebox")
        style = widgets.HTML(f"<style>{_asset('lesson.css')}</style>")
        self.widget = (
            widgets.VBox([style, head, self.partly, self.stage, foot]).add_class("ls-room").add_class("ls-deck")
        )

    def _name(self) -> None:
        """Write bars and lists in the class's language."""
        say = self.room.texts.say
        self._quiet = True
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
        self.partly.value = "".join(f'<span lang="{name}">{text}</span> ' for name, text in partly_translated())
        self.back.description, self.next.description = say("deck.back"), say("deck.next")
        self._quiet = False

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
            self._name()
            self.show(self.at, stage)

    def show(self, at: int, stage: str = STAGES[0]) -> None:
        """Show a scene at one of its steps."""
        self.at = at
        self.scene.set_stage(stage)
        self.stage.children = (self.scene.widget,)
        self._where()

    def _where(self) -> None:
        self._quiet = True
        self.jump.value = self.at
        self._quiet = False
        say = self.room.texts.say
        self.back.disabled = self._target(-1) is None
        self.next.disabled = self._target(1) is None
        self.place.value = (
            f"<p>{say('deck.place', number=self.at + 1, count=len(SCENES))} · <small>{say('deck.footer')}</small></p>"
        )

    def _target(self, way: int) -> tuple[int, str] | None:
        """Find the step before or after the present one."""
        stages = ("try",) if SCENES[self.at].key == "exercises" else STAGES
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
        from IPython.display import Javascript, display

        display(self.widget)
        display(Javascript(_asset("lesson.js")))


# ---- the command ---------------------------------------------------------------------------------


def page(folder: Path, *, units: str = "metric", language: str = "en", seed: int = 1) -> Path:
    """Write the one-cell notebook that the projector shows.

    Parameters
    ----------
    folder
        Where it is written.
    units, language, seed
        As for `Lesson`.

    Returns
    -------
    Path

    Raises
    ------
    NotAccepted
        Units, a language or a seed that is not accepted.
    """
    Lesson(units, language, seed)
    code = f"from calc.lesson import Lesson\n\nLesson(units={units!r}, language={language!r}, seed={seed!r}).deck()"
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(code)])
    book.metadata = {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "title": "Lesson",
    }
    path = folder / "lesson.ipynb"
    nbformat.write(book, path)
    look = folder / "voila" / "templates" / "lesson"
    look.mkdir(parents=True, exist_ok=True)
    (look / "conf.json").write_text('{"base_template": "lab", "mimetypes": {"text/html": true}}', encoding="utf-8")
    (look / "index.html.j2").write_text(_TEMPLATE, encoding="utf-8")
    return path


def environment(folder: Path) -> dict[str, str]:
    """Return the environment in which `command` finds the page's look.

    Parameters
    ----------
    folder
        As for `page`.

    Returns
    -------
    dict of str to str
    """
    paths = [str(folder), *filter(None, [os.environ.get("JUPYTER_PATH")])]
    return {**safe_environment(), "PYDEVD_DISABLE_FILE_VALIDATION": "1", "JUPYTER_PATH": os.pathsep.join(paths)}


def _not_needed() -> list[str]:
    """Name the extensions of this JupyterLab that the page does without."""
    found = []
    for place in jupyter_path("labextensions"):
        for manifest in sorted(Path(place).glob("**/package.json")):
            name = manifest.parent.relative_to(place).as_posix()
            if name.count("/") <= name.startswith("@") and name != "@jupyter-widgets/jupyterlab-manager":
                found.append(name)
    return found


def command(notebook: Path, *, port: int | None = None, browser: bool = True) -> list[str]:
    """Return the command that shows the page.

    Parameters
    ----------
    notebook
        Of `page`.
    port
        Port on this machine; a free one without it.
    browser
        Whether a browser is opened.

    Returns
    -------
    list of str
    """
    words = [
        sys.executable,
        "-m",
        "voila",
        str(notebook),
        "--Voila.ip=127.0.0.1",
        "--VoilaConfiguration.show_tracebacks=False",
    ]
    # Only the widgets are needed; other extensions of this JupyterLab would slow the page down.
    words += [*(f"--VoilaConfiguration.extension_denylist={name}" for name in _not_needed()), "--template=lesson"]
    words += [f"--port={port}"] if port else []
    return words if browser else [*words, "--no-browser"]


def serve(
    *, units: str = "metric", language: str = "en", seed: int = 1, port: int | None = None, browser: bool = True
) -> int:
    """Open the projector view and stay until it is stopped.

    Parameters
    ----------
    units, language, seed
        As for `Lesson`.
    port, browser
        As for `command`.

    Returns
    -------
    int
        Exit code of the server.

    Raises
    ------
    RuntimeError
        voila is not installed; says how to get it, and what shows the lesson without it.
    """
    if importlib.util.find_spec("voila") is None:
        raise CalcError(
            "the projector view needs one more package: pip install -e '.[lesson]'. "
            f"Without it, '{COMMAND} lab' opens lesson/why_fill_volume_matters.ipynb with the same scenes."
        )
    with tempfile.TemporaryDirectory(prefix="lesson-") as folder:
        notebook = page(Path(folder), units=units, language=language, seed=seed)
        try:
            words = command(notebook, port=port, browser=browser)
            return subprocess.call(words, cwd=folder, env=environment(Path(folder)))
        except KeyboardInterrupt:
            return 0
