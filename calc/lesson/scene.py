"""What all scenes share: a question at the left with guesses or controls, a picture at the right.

And the three steps guess, try, answer.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from html import escape
from typing import Any

import ipywidgets as widgets

from calc.base.display import Display, System, plain_text
from calc.base.sheet import Step
from calc.base.units import UnitError, convert, parse_number, parse_quantity
from calc.files.strict import tidy
from calc.lesson import numbers
from calc.lesson.room import STAGES, Classroom, Stage
from calc.lesson.typed import NoPercentError, parse_share, strict
from calc.package.document.markup import MathError, convert_all, equation_html
from calc.show.drawing import Picture
from calc.show.panel import Panel, button, slider_field, text_field


@dataclass(frozen=True)
class Range:
    """What a typed field takes: its name in the texts, unit, least and greatest value, and the slider's step."""

    name: str
    unit: str
    low: float
    high: float
    step: float
    whole: bool = False

    def text(self, value: float) -> str:
        """Write a value of this range."""
        number = f"{value:.0f}" if self.whole else plain_text(value, 4)
        return f"{number} {self.unit}" if self.unit else number


def percent(share: float, digits: int = 2) -> str:
    """Write a share as a percentage for people, without an exponent."""
    value = convert(share, "", "%")
    return f"{value:.0f} %" if abs(value) >= 9.95 else f"{plain_text(value, digits)} %"


def signed(share: float) -> str:
    """Write a share as so much more or less."""
    text = percent(abs(share))
    return f"+{text}" if share > 0 else f"−{text}" if share < 0 else text


class Scene(Panel):
    """One scene. Its own gives the choices of the guess, which of them is right, and the three pictures.

    Parameters
    ----------
    room
        What the class shares.

    Attributes
    ----------
    stage : str
        ``"predict"``, ``"try"`` or ``"reveal"``.
    picture : Picture or None
        The picture that is shown; None while an entry is wrong or where there is none.
    """

    key = ""
    correct = ""  # key of the guess that is right, where it is always the same one

    def __init__(self, room: Classroom) -> None:
        self.room = room
        self.stage: Stage = STAGES[0]
        self.picture: Picture | None = None
        self.comma = False
        self._looked: list[str] = []
        self.ranges: dict[str, Range] = {}
        self.sliders = self.ranges
        self._controls: dict[str, Any] = {}
        self.make_fields()
        super().__init__(numbers.demo(room.system), self._controls, saves="")
        self.options = [(key, room.texts.local(words)) for key, words in self.choices()]
        self._build()
        self.start()
        self.set_stage(STAGES[0])

    # ---- for the scene's own ----

    def make_fields(self) -> None:
        """Add the controls, by `add_range` or into ``_controls``."""

    def choices(self) -> list[tuple[str, str]]:
        """Give the guesses: key and words."""
        return []

    def right(self) -> str:
        """Give the key of the guess that is right."""
        return self.correct

    def predict_html(self) -> str:
        """Show the situation, without the answer."""
        return ""

    def try_html(self) -> str:
        """Show what the controls say."""
        return ""

    def reveal_html(self) -> str:
        """Show the answer."""
        return ""

    def ask(self) -> str:
        """Say the question."""
        return self.tell("ask", **self.values())

    def values(self) -> dict[str, str]:
        """Give what stands in the question's places."""
        pair = self.pair
        return {"phi": self.size(pair.phi), "d_0": self.size(pair.d_0), "l_v": self.size(pair.l_v)}

    def shown_fields(self, stage: Stage) -> Sequence[str]:
        """Name the controls that stand on the screen in a step."""
        return tuple(self.fields) if stage == "try" else ()

    # ---- words and numbers ----

    @property
    def system(self) -> System:
        """The class's units."""
        return self.room.system

    @property
    def display(self) -> Display:
        """How the class's quantities are shown."""
        return Display(self.system)

    @property
    def examples(self) -> numbers.Examples:
        """The lesson's bars and holes."""
        return numbers.examples(self.system)

    @property
    def pair(self) -> numbers.Pair:
        """The scene's bar and hole."""
        return self.examples.main

    @property
    def length_unit(self) -> str:
        """Millimetres or inches."""
        return self.display.length_unit

    def tell(self, key: str, /, **values: object) -> str:
        """Say one of the scene's sentences."""
        return self.room.texts.say(f"{self.key}.{key}", **values)

    def deck(self, key: str, /, **values: object) -> str:
        """Say one of the sentences that all scenes share."""
        return self.room.texts.say(f"deck.{key}", **values)

    def size(self, value: float) -> str:
        """Write a given length."""
        return self.room.texts.local(self.display.size(value))

    def volume(self, value: float) -> str:
        """Write a volume."""
        return self.room.texts.local(self.display.volume(value))

    # ---- typed fields with their sliders ----

    def add_range(self, name: str, one: Range, value: float) -> None:
        """Add a typed field and the slider beside it."""
        words = self.room.texts.say(f"names.{one.name}")
        unit = f" [{one.unit}]" if one.unit else ""
        label = f"{words}{unit}, {self.deck('range', low=plain_text(one.low, 4), high=plain_text(one.high, 4))}"
        self.ranges[name] = one
        self._controls[name] = text_field(label, value=self.room.texts.local(one.text(value)))
        slider = slider_field("", one.low, one.high, one.step, value)
        slider.continuous_update = True  # a lesson's picture follows the finger; it is drawn in a few milliseconds
        slider.tooltip = words
        self._controls[f"{name}_slider"] = slider.add_class("ls-slider")

    def value(self, name: str) -> float:
        """Read a typed field, in the unit of its range.

        Raises
        ------
        UnitError
            What is typed is no such quantity, or out of range.
        """
        one, text = self.ranges[name], str(self.fields[name].value)
        words = self.room.texts.say(f"names.{one.name}")
        try:
            found = self._read(text, one.unit)
        except UnitError as error:
            raise UnitError(f"{words}: {error}") from None
        slack = 1e-9 * max(abs(one.low), abs(one.high))
        if not one.low - slack <= found <= one.high + slack or (one.whole and found != round(found)):
            raise UnitError(
                self.deck("out_of_range", name=words, text=text, low=one.text(one.low), high=one.text(one.high))
            )
        return found

    def _read(self, text: str, unit: str) -> float:
        if unit == "%":
            plain = self.strict(text)
            try:
                return convert(parse_share(plain, self.room.texts), "", "%")
            except NoPercentError:
                return parse_number(plain)  # the label has the sign
        plain = self.strict(text, unit)
        return parse_quantity(plain, unit).to(unit) if unit else parse_number(plain)

    def strict(self, text: str, unit: str = "") -> str:
        """Write what was typed as it is read; a comma in it is told to be a decimal mark."""
        plain = strict(text, self.room.texts, unit)
        self.comma = self.comma or "," in text
        return plain

    def mm(self, name: str) -> float:
        """Read a typed length [mm]."""
        return tidy(convert(self.value(name), self.ranges[name].unit, "mm"))

    def share(self, name: str) -> float:
        """Read a typed percentage as a share [-]."""
        return convert(self.value(name), "%", "")

    def place(self, name: str) -> float:
        """Read a typed field for its slider."""
        return self.value(name)

    def typed(self, name: str, place: float) -> str:
        """Write a slider's place with its unit."""
        return self.ranges[name].text(place)

    # ---- the screen ----

    @property
    def said(self) -> str:
        """The choice that the class made for these units; empty before."""
        return self.room.votes.get(f"{self.system} {self.key}", "")

    def _build(self) -> None:
        self.question = widgets.HTML().add_class("ls-question")
        self.stage_buttons = {
            stage: button(self.deck(stage), partial(self.go, stage)).add_class("ls-stage") for stage in STAGES
        }
        self.choice_buttons = {
            key: button(words, partial(self.choose, key)).add_class("ls-choice") for key, words in self.options
        }
        self._mark_chosen()
        self.hint = widgets.HTML().add_class("ls-hint")
        self._steps = widgets.HBox(list(self.stage_buttons.values())).add_class("ls-stages")
        self.side = widgets.VBox([]).add_class("ls-side")
        self.output.add_class("ls-output")
        self.widget = widgets.HBox([self.side, self.output]).add_class("ls-scene").add_class(f"ls-{self.key}")

    def choose(self, key: str) -> None:
        """Take the class's guess."""
        self.room.votes[f"{self.system} {self.key}"] = key
        self._mark_chosen()
        self.room.keep()
        self.update()

    def _mark_chosen(self) -> None:
        for name, one in self.choice_buttons.items():
            (one.add_class if name == self.said else one.remove_class)("ls-chosen")

    def set_stage(self, stage: Stage) -> None:
        """Go to one of the three steps."""
        # What belongs to another step goes before the new one is worked.
        self.output.value = ""
        self.stage = stage
        for name, one in self.stage_buttons.items():
            (one.add_class if name == stage else one.remove_class)("ls-now")
        language = self.room.texts.language_of(f"{self.key}.ask")
        self.question.value = (
            f'<h2 lang="{language}">{escape(self.tell("title"))}</h2><p lang="{language}">{escape(self.ask())}</p>'
        )
        hint = f"{self.key}.try_hint"
        self.hint.value = (
            f"<p>{escape(self.room.texts.say(hint, **self.hint_values()))}</p>"
            if stage == "try" and self.room.texts.has(hint)
            else ""
        )
        shown = [self.fields[name] for name in self.shown_fields(stage)]
        guesses = list(self.choice_buttons.values()) if stage == "predict" else []
        self.side.children = (self.question, self._steps, *guesses, *shown, *self.extra(stage), self.hint)
        self.update()

    def go(self, stage: Stage) -> None:
        """Go to one of the three steps, for the class: a page that is loaded again stands there."""
        self.set_stage(stage)
        self.room.stage = stage
        self.room.keep()

    def hint_values(self) -> dict[str, object]:
        """Give what stands in the hint's places."""
        return {}

    def extra(self, stage: Stage) -> Sequence[Any]:
        """Give further widgets that stand under the controls in a step."""
        return ()

    def compute(self) -> str:
        """Show the present step."""
        shown = {"predict": self.predict_html, "try": self.try_html, "reveal": self.reveal_html}[self.stage]()
        return self.composed(shown + self._takeaway() + self._about_comma())

    def _takeaway(self) -> str:
        known = self.stage == "reveal" and self.room.texts.has(f"{self.key}.takeaway")
        return self.line(self.tell("takeaway"), "takeaway") if known else ""

    def composed(self, told: str) -> str:
        """Put what is looked at beside what is said."""
        looked = f'<div class="ls-look">{"".join(self._looked)}</div>' if self._looked else ""
        return f'<div class="ls-out ls-out-{self.stage}">{looked}<div class="ls-tell">{told}</div></div>'

    def _about_comma(self) -> str:
        return self.line(self.deck("comma"), "quiet") if self.comma else ""

    def clear(self) -> None:
        """Forget the picture."""
        self.picture = None

    def update(self) -> None:
        """As every panel; the sentence about a wrong entry stands where the result would."""
        self.comma, self._looked = False, []
        super().update()
        if self.message:
            self.output.value = (
                f'<div class="ls-out"><div class="ls-wrong" role="alert"><b>{escape(self.deck("no_result"))}</b>'
                f" {escape(self.message)}</div></div>"
            )

    # ---- pieces of what is shown ----

    def paper(self, picture: Picture) -> str:
        """Show a picture and keep it; it stands beside what is said, not in it."""
        self.picture = picture
        self._looked.append(f'<div class="ls-paper">{picture.svg}</div>')
        return ""

    @staticmethod
    def line(text: str, look: str = "finding") -> str:
        """Show a sentence."""
        return f'<p class="ls-{look}">{escape(text)}</p>'

    def guess_line(self) -> str:
        """Say what the class guessed, and how that went."""
        words = dict(self.options)
        if not words:
            return ""
        if self.said not in words:
            return self.line(self.deck("unsaid"), "quiet")
        verdict = self.deck("right") if self.said == self.right() else self.deck("wrong", choice=words[self.right()])
        return self.line(f"{self.deck('said', choice=words[self.said])}. {verdict}", "guess")

    def formulas(self, steps: Sequence[Step]) -> str:
        """Typeset steps, with their numbers, below the picture."""
        try:
            found = convert_all([step.latex for step in steps])
        except MathError:
            found = {}
        sets = "".join(
            f"<div>{equation_html(step.latex, found.get(step.latex, (None, None))[1], True)}</div>" for step in steps
        )
        head = f'<span class="ls-quiet">{escape(self.deck("formula"))}</span>'
        self._looked.append(f'<div class="ls-formula">{head}{sets}</div>')
        return ""

    def symbols(self, *names: str) -> str:
        """Say what symbols mean, in words."""
        items = "".join(f"<li>{escape(self.room.texts.say(f'symbols.{name}'))}</li>" for name in names)
        return f'<ul class="ls-symbols">{items}</ul>'


def nearest_choice(options: Sequence[tuple[str, float]], value: float) -> str:
    """Return the key of the choice that comes nearest to a value, by ratio."""
    return min(options, key=lambda one: abs(math.log(max(one[1], 1e-9) / max(value, 1e-9))))[0]
