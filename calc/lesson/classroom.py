"""The scenes that the class fills: by eye, the first hole again, breaks, dust, ten shots, and the exercises.

One class each.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Sequence
from functools import partial
from html import escape
from typing import Any

import ipywidgets as widgets

from calc.base.units import UnitError, convert, parse_quantity, units_like
from calc.fill.dust import Control
from calc.lesson import numbers, pictures
from calc.lesson.exercises import Attempt
from calc.lesson.pictures import Note, Row
from calc.lesson.room import LARGEST_SEED, MOST_ENTRIES, Guess, Stage
from calc.lesson.scene import Range, Scene, nearest_choice, percent, signed
from calc.show.drawing import Picture
from calc.show.panel import button, choice_field, closed, text_field

_MOST_VOLUME = 1e6  # mm³: a litre is no amount for one hole
_LEAST_SHOTS = 3
# What a trainer rehearses with: invented.
_GUESSES = (
    "14 mL; 17 mL; 18 mL; 20 mL; 21 mL; 22 mL; 23 mL; 25 mL; 26 mL; 30 mL; 33 mL; 40 mL",
    "; ".join(f"{amount} fl oz" for amount in (0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.8, 0.9, 1, 1.1, 1.3)),
)
_SET = (
    ("25 mL", "39.8 g; 40.4 g; 40.1 g; 39.5 g; 40.6 g; 40 g; 39.7 g; 40.2 g; 40.5 g; 39.9 g"),
    ("0.83 fl oz", "39.1 g; 39.7 g; 39.4 g; 38.8 g; 39.9 g; 39.3 g; 39 g; 39.5 g; 39.8 g; 39.2 g"),
)
DENSITY = 1.6  # g/mL
_FEW = 2.0  # of a hundred: fewer are said of a thousand, since nobody has half a hole
_AT_THE_BIT = ("at the bit", "filter", "air flow")  # lines of the table of controls that extraction is about


def parts(text: str) -> list[str]:
    """Take apart what has a semicolon between each two."""
    return [part.strip() for part in text.split(";") if part.strip()]


class AmountScene(Scene):
    """What scenes have in common that take amounts, as volumes or weighed."""

    def density_field(self) -> None:
        """Add the field for the density."""
        self._controls["density"] = text_field(
            f"{self.room.texts.say('names.density')} [g/mL]", "1.6 g/mL", self.room.density
        )

    def density(self) -> float | None:
        """Read the density [g/mL]; None when the field is empty."""
        text = str(self.fields["density"].value).strip()
        if not text:
            return None
        found = parse_quantity(self.strict(text, "g/mL"), "g/mL").to("g/mL")
        if not 0.2 <= found <= 5:
            words = self.room.texts.say("names.density")
            raise UnitError(self.deck("out_of_range", name=words, text=text, low="0.2 g/mL", high="5 g/mL"))
        return found

    def read_amount(self, text: str) -> float:
        """Read an amount [mm³]: a volume, or a mass where the density is known.

        Raises
        ------
        UnitError
            No amount, none for a hole, or weighed without a density.
        """
        plain = self.strict(text)
        if plain.partition(" ")[2] in units_like("g"):
            density = self.density()
            if density is None:
                raise UnitError(self.room.texts.say("eye.no_density", text=text.strip()))
            found = numbers.weighed(parse_quantity(plain, "g").to("g"), density)
        else:
            found = self._volume(plain)
        if not 0 < found <= _MOST_VOLUME:
            raise UnitError(self.room.texts.say("eye.too_much", text=text.strip(), most=self.volume(_MOST_VOLUME)))
        return found

    @staticmethod
    def _volume(text: str) -> float:
        try:
            return parse_quantity(text, "mL").to("mm³")
        except UnitError as error:
            # The sentence lists what the field takes: volumes, and masses too.
            volumes = ", ".join(units_like("mL"))
            raise UnitError(str(error).replace(volumes, ", ".join((volumes, *units_like("g"))))) from None

    def read_amounts(self, text: str) -> list[float]:
        """Read amounts with a semicolon between each two."""
        return [self.read_amount(part) for part in parts(text)]


class EyeScene(AmountScene):
    """By eye: everybody's amount, the class's spread, short and wasted holes, and the first one's amount for all.

    An amount is taken by the button or by Enter, not by leaving its field.
    """

    key = "eye"

    def make_fields(self) -> None:
        """The entry and the density."""
        self._wrong, self._comma = "", False
        self._controls["entry"] = text_field(
            self.room.texts.say("names.entry"), self.display.usual("18 mL", "0.6 fl oz")
        ).add_class("ls-enter")
        self.density_field()

    def _build(self) -> None:
        super()._build()
        self.take = button(self.tell("take"), self._take).add_class("ls-take")
        self.pick = choice_field(self.tell("pick"), [], None)
        self.take_back = button(self.tell("take_back"), self._take_back).add_class("ls-small")
        self.start_over = button(self.tell("clear"), partial(self._ask_clear, True)).add_class("ls-small")
        self.sure = button("", self._clear).add_class("ls-small").add_class("ls-sure")
        self.unsure = button(self.tell("keep"), partial(self._ask_clear, False)).add_class("ls-small")
        self.rehearsal = button(self.deck("rehearse"), self.rehearse).add_class("ls-small")
        self._enter_row = widgets.HBox([self.fields["entry"], self.take]).add_class("ls-row")
        self._back_row = widgets.HBox([self.pick, self.take_back, self.start_over]).add_class("ls-row")
        self._sure_row = widgets.HBox([self.sure, self.unsure]).add_class("ls-stages")
        self._ask_clear(False)

    @property
    def guesses(self) -> list[Guess]:
        """The amounts that were named for this hole; one for another hole is not judged here."""
        return [one for one in self.room.guesses if one.hole == self.pair]

    @property
    def volumes(self) -> list[float]:
        """Those amounts [mm³]."""
        return [one.volume for one in self.guesses]

    def shown_fields(self, stage: Stage) -> Sequence[str]:
        """The scene's own rows hold them."""
        return ()

    def extra(self, stage: Stage) -> Sequence[Any]:
        """Take an amount while nobody sees the others', take any of them back, start over."""
        self._ask_clear(False)
        enter = (self._enter_row, self.fields["density"], self.rehearsal) if stage == "predict" else ()
        return (*enter, self._back_row, self._sure_row)

    def _look_after_buttons(self) -> None:
        """Name the amounts that can be taken back; while others may still guess, by their number alone."""
        found = self.volumes
        hidden = self.stage == "predict"
        self.pick.options = [
            (f"{number}" if hidden else f"{number}: {self.volume(value)}", number - 1)
            for number, value in enumerate(found, 1)
        ]
        self.pick.value = len(found) - 1 if found else None
        self._back_row.layout.display = "" if found and not self._asked else "none"
        self._sure_row.layout.display = "" if self._asked else "none"
        self.rehearsal.layout.display = "none" if found else ""
        self.sure.description = self.tell("sure", count=len(found))

    def _ask_clear(self, asked: bool) -> None:
        self._asked = asked
        self._look_after_buttons()

    def _clear(self) -> None:
        self._keep_only([])

    def _take_back(self) -> None:
        if self.pick.value is not None:
            kept = self.guesses
            del kept[self.pick.value]
            self._keep_only(kept)

    def _keep_only(self, kept: Sequence[Guess]) -> None:
        self.room.guesses[:] = [*(one for one in self.room.guesses if one.hole != self.pair), *kept]
        self._wrong = ""
        self._ask_clear(False)
        self.room.keep()
        self.update()

    def rehearse(self) -> str:
        """Take invented amounts; says which."""
        text = self.display.usual(*_GUESSES)
        self._enter(text)
        return text

    def changed(self, name: str) -> None:
        """Leaving a field takes nothing."""
        self._wrong, self._comma = "", False
        if name == "density":
            self.room.density = str(self.fields["density"].value)
            self.room.keep()
        self.update()

    def _take(self) -> None:
        """Take an entry; a wrong one stays in the field, with a sentence about it."""
        self.comma = False
        self._enter(str(self.fields["entry"].value))

    def _enter(self, text: str) -> None:
        self._wrong = ""
        try:
            found = self.read_amounts(text)
            if len(self.guesses) + len(found) > MOST_ENTRIES:
                raise UnitError(self.tell("full_class", most=MOST_ENTRIES))
        except UnitError as error:
            self._wrong = str(error)
        else:
            self.room.guesses += [Guess(value, self.pair) for value in found]
            with self.silence():
                self.fields["entry"].value = ""
            self._ask_clear(False)
            self.room.keep()
        self._comma = self.comma
        self.update()

    def compute(self) -> str:
        """As every scene, unless the last entry was not read."""
        self._look_after_buttons()
        if self._wrong:
            raise UnitError(self._wrong)
        if self.stage == "predict":
            self.density()
            self.comma = self.comma or self._comma
        return super().compute()

    def _none(self) -> str:
        return self.line(self.tell("none", example=self.display.usual("18 mL", "0.6 fl oz")), "quiet")

    def _others(self) -> str:
        """Say how many amounts were named for another hole."""
        count = len(self.room.guesses) - len(self.guesses)
        return self.line(self.tell("other_hole", count=count), "quiet") if count else ""

    def predict_html(self) -> str:
        """Say how many are in, and nothing of what they are."""
        count = len(self.guesses)
        asked = pictures.section(
            self.pair,
            x=self.pair.l_v,
            surface=self.pair.l_v,
            notes=[Note(self.pair.l_v / 2, "?", strong=True)],
            foot=self.deck("not_to_scale"),
            alt=self.ask(),
        )
        told = self.line(self.tell("entered", count=count), "answer") if count else self._none()
        return self.paper(asked) + told + self.line(self.tell("gloves")) + self._others()

    def _found(self) -> numbers.Guesses | None:
        return numbers.guesses(self.system, self.volumes, self.room.seed) if self.guesses else None

    def _dots(self, found: numbers.Guesses, line: bool) -> str:
        texts = [self.volume(value) for value in found.values]
        least, most = self.volume(min(found.values)), self.volume(max(found.values))
        spilt = self.volume(found.total_spilt)
        alt = self.tell("finding", count=len(texts), least=least, most=most, short=found.count_short, spilt=spilt)
        middle = self.volume(found.median)
        counts = (
            self.tell("counts_short", count=found.count_short),
            self.tell("counts_full", count=len(texts) - found.count_short),
        )
        drawn = pictures.dots(
            values=found.values,
            texts=texts,
            bad=found.short,
            line=found.needed if line else None,
            line_words=self.tell("line", needed=self.volume(found.needed)),
            axis=(self.tell("axis_low"), self.tell("axis_high")),
            counts=counts,
            alt=alt if line else self.tell("spread", least=least, most=most, middle=middle),
            middle=found.median,
            again_words=self.tell("again", first=texts[0]),
        )
        return self.paper(drawn)

    def try_html(self) -> str:
        """Show the spread."""
        found = self._found()
        if found is None:
            return self._none() + self._others()
        return self._dots(found, line=False) + self.line(self.picture.alt if self.picture else "") + self._others()

    def reveal_html(self) -> str:
        """Show what the hole needs, and what each amount did."""
        found = self._found()
        if found is None:
            return self._none() + self._others()
        count = len(found.values)
        answer = self.tell("answer", short=found.count_short, count=count, spilt=self.volume(found.total_spilt))
        real = self.tell("drilled", short=found.drilled_short, count=count)
        wasted = self.volume(found.again_spilt) if found.again_spilt else self.tell("nothing")
        again = self.tell(
            "reused", first=self.volume(found.values[0]), short=found.again_short, count=count, spilt=wasted
        )
        return (
            self._dots(found, line=True) + self.line(answer, "answer") + self.line(f"{real} {again}") + self._others()
        )


class FirstScene(Scene):
    """The first hole's amount again: about half of the others stay short."""

    key = "first"
    holes = 12

    def make_fields(self) -> None:
        """The margin, and how many holes there are."""
        self.add_range("margin", Range("margin", "%", 0.0, 30.0, 1.0), 30.0)
        self.add_range("holes", Range("holes", "", 2.0, 20.0, 1.0, whole=True), float(self.holes))

    def _shares(self) -> list[tuple[str, float]]:
        return [("none", 4.0), ("half", 50.0), ("all", 96.0)]

    def choices(self) -> list[tuple[str, str]]:
        """Hardly any, half, nearly all."""
        return [(key, self.tell(f"choice_{key}")) for key, _ in self._shares()]

    def _found(self, margin: float, holes: int) -> numbers.Again:
        return numbers.first_again(self.system, margin=margin, holes=holes, seed=self.room.seed)

    def right(self) -> str:
        """What the simulated rows say."""
        rate = self._found(0.0, self.holes).short_per_100
        return min(self._shares(), key=lambda one: abs(one[1] - rate))[0]

    def _said(self, found: numbers.Again, margin: float) -> dict[str, str]:
        return {
            "margin": percent(margin),
            "short": self._rate(found.short_per_100),
            "waste": self.volume(found.waste),
            "worst": self.display.length(found.worst),
        }

    def _rate(self, rate: float) -> str:
        """Write so many of a hundred; few of them as so many of a thousand, and very few are not none."""
        if rate == 0 or rate >= _FEW:
            return self.tell("of_hundred", count=f"{rate:.0f}")
        of_thousand = rate * 10
        return self.tell("of_thousand", count=f"{of_thousand:.0f}") if of_thousand >= 1 else self.tell("fewer")

    def _drawn(self, margin: float, holes: int, hidden: bool = False) -> str:
        found = self._found(margin, holes)
        bare = [0.0] * holes if hidden else [value / self.pair.l_v for value in found.one_bare]
        most = max(found.one_spilt) or 1.0
        spilt = [0.0] * holes if hidden else [value / most for value in found.one_spilt]
        words = ["1", *(["?"] * (holes - 1))] if hidden else ["▽" if one else "●" for one in bare]
        alt = self.ask() if hidden else self.tell("finding", **self._said(found, margin))
        foot = self.tell("row_foot", holes=holes, series=numbers.SERIES)
        if not hidden:
            foot = f"{foot}.\n▽ {self.tell('short_word')} · ● {self.tell('full_word')} · {self.tell('to_scale')}"
        return self.paper(pictures.row_of_holes(bare=bare, spilt_share=spilt, words=words, foot=foot, alt=alt))

    def predict_html(self) -> str:
        """Draw the row without its outcome."""
        return self._drawn(0.0, self.holes, hidden=True)

    def try_html(self) -> str:
        """Draw a row for the margin."""
        margin, holes = self.share("margin"), int(self.value("holes"))
        return (
            self._drawn(margin, holes)
            + self.line(self.tell("rate", **self._said(self._found(margin, holes), margin)))
            + self.line(self.tell("source"), "quiet")
        )

    def hint_values(self) -> dict[str, object]:
        """Over how many rows the number is taken."""
        return {"series": numbers.SERIES}

    def reveal_html(self) -> str:
        """Say why it is half."""
        answer = self.tell("answer", **self._said(self._found(0.0, self.holes), 0.0))
        told = self.line(answer, "answer") + self.line(self.tell("answer_do")) + self.line(self.tell("source"), "quiet")
        return self._drawn(0.0, self.holes) + self.guess_line() + told


class DiscardScene(Scene):
    """Discard and gel: what the mixer holds goes into the next hole first."""

    key = "discard"
    correct = "share"
    minutes = 30.0

    @property
    def celsius(self) -> float:
        """Temperature of the question [°C]."""
        return self.display.usual(18.0, convert(65.0, "°F", "°C"))

    def make_fields(self) -> None:
        """Break and temperature."""
        self.add_range("pause", Range("pause", "min", 0.0, 90.0, 1.0), 0.0)
        unit, low, high, now = self.display.usual(("°C", 2.0, 38.0, 18.0), ("°F", 45.0, 85.0, 65.0))
        self.add_range("temperature", Range("temperature", unit, low, high, 1.0), now)

    def values(self) -> dict[str, str]:
        """What the mixer holds, and the hole needs."""
        needed = self.volume(numbers.ring(self.pair).ring)
        return {"mixer": self.volume(self._paused().mixer), "needed": needed}

    def _paused(self) -> numbers.Paused:
        return numbers.paused(self.system, minutes=self.minutes, T=self.celsius)

    def choices(self) -> list[tuple[str, str]]:
        """A little, the true share, and the whole hole."""
        return [("little", percent(0.05)), ("share", percent(self._paused().share)), ("all", percent(1.0))]

    def _said(self, found: numbers.Paused, minutes: float) -> dict[str, str]:
        T = found.reading.T
        unit = self.display.temperature_unit
        shown = f"{convert(T, '°C', unit):.0f} {unit}"
        return {
            "time": f"{found.reading.time:.3g} min",
            "T": shown,
            "pause": f"{minutes:.3g} min",
            "mixer": self.volume(found.mixer),
            "discard": self.volume(found.discard),
            "share": percent(found.share),
            "start": percent(found.start_share),
            "bare": self.display.length(found.bare),
        }

    def _drawn(self, found: numbers.Paused, minutes: float) -> str:
        pair, said = self.pair, self._said(found, minutes)
        pocket = found.bare if found.stiff else 0.0
        notes = [Note((pair.l_v - pocket) / 2, self.tell("note_good"), strong=True)]
        if found.stiff:
            notes.append(Note(pair.l_v - pocket / 2, self.tell("note_old", **said), alarm=True))
        alt = self.tell("finding_stiff" if found.stiff else "finding_fine", **said)
        return self.paper(
            pictures.section(
                pair,
                x=pair.l_v,
                surface=0.0,
                pocket=pocket,
                pocket_look="old",
                notes=notes,
                foot=self.deck("not_to_scale"),
                alt=alt,
            )
        )

    def predict_html(self) -> str:
        """Draw what the mixer holds beside what the hole needs, the former hidden."""
        needed = numbers.ring(self.pair).ring
        names = self.room.texts
        rows = [Row(names.say("ring.left"), needed, self.volume(needed))]
        return self.paper(pictures.lengths(rows=rows, alt=self.ask())) + self.line(self.tell("source"), "quiet")

    def try_html(self) -> str:
        """Draw the next hole after the typed break."""
        minutes = self.value("pause")
        found = numbers.paused(
            self.system, minutes=minutes, T=convert(self.value("temperature"), self.ranges["temperature"].unit, "°C")
        )
        verdict = self.line(
            self.tell("stiff" if found.stiff else "fine", **self._said(found, minutes)),
            "bad" if found.stiff else "good",
        )
        return self._drawn(found, minutes) + verdict + self.line(self.tell("source"), "quiet")

    def reveal_html(self) -> str:
        """Say where the old mortar ends up."""
        found = self._paused()
        said = self._said(found, self.minutes)
        told = (
            self.line(self.tell("answer", **said), "answer")
            + self.line(self.tell("answer_start", **said))
            + self.line(self.tell("source"), "quiet")
        )
        return self._drawn(found, self.minutes) + self.guess_line() + told


class DustScene(Scene):
    """Dust and skin: what comes out, and the controls."""

    key = "dust"
    correct = "true"
    count = 12.0

    def make_fields(self) -> None:
        """How many holes, how drilled, how cleaned."""
        self.add_range("count", Range("count", "", 1.0, 200.0, 1.0, whole=True), self.count)
        ways = [(self.tell("extraction"), "drill with extraction"), (self.tell("drill"), "drill")]
        self._controls["method"] = choice_field(self.room.texts.say("names.method"), ways, ways[0][1])
        self._controls["blown"] = choice_field(
            self.room.texts.say("names.blown"), [(self.tell("vacuum"), False), (self.tell("blow"), True)], False
        )

    def _mass(self, count: int) -> float:
        return numbers.dust(self.system, count=count, method="drill", blown=False).mass

    def mass(self, grams: float) -> str:
        """Write a mass."""
        metric = f"{convert(grams, 'g', 'kg'):.1f} kg" if grams >= 1000 else f"{float(f'{grams:.3g}'):g} g"
        return self.display.usual(metric, f"{convert(grams, 'g', 'lb'):.2g} lb")

    def choices(self) -> list[tuple[str, str]]:
        """A tenth, the true mass, ten times."""
        true = self._mass(1)
        return [("tenth", self.mass(true / 10)), ("true", self.mass(true)), ("ten", self.mass(true * 10))]

    def predict_html(self) -> str:
        """Draw the hole, empty."""
        pair = self.pair
        notes = [Note(pair.l_v / 2, "?", strong=True)]
        return self.paper(
            pictures.section(
                pair, x=0.0, surface=pair.l_v, notes=notes, foot=self.deck("not_to_scale"), alt=self.ask(), bar=False
            )
        )

    def _controls_html(self, method: str, blown: bool) -> str:
        found = numbers.dust(self.system, count=1, method=method, blown=blown).controls
        topics = {one.topic: one for one in found}
        extraction = method != "drill"
        if extraction and not blown:
            return self._table("controls", [topics[name] for name in (*_AT_THE_BIT, "holes", "respirator", "scope")])
        # What the choice does not have must not read as if it had it; and only the whole table frees of the respirator.
        bit = [topics[name] for name in _AT_THE_BIT]
        here = bit if extraction else [] if blown else [topics["holes"]]
        away = ([] if extraction else bit) + ([topics["holes"]] if blown else [])
        cloud = [Control(self.tell("cloud_topic"), self.tell("cloud"), "common practice, no source")] if blown else []
        tables = (self._table("in_place", here) if here else "") + self._table(
            "lacking", [*away, *cloud, topics["scope"]]
        )
        return self.line(self.tell("unmet"), "bad") + tables

    def _table(self, title: str, lines: Sequence[Control]) -> str:
        rows = "".join(f"<tr><th>{escape(one.topic)}</th><td>{escape(one.asks)}</td></tr>" for one in lines)
        return f'<table class="ls-table" lang="en"><caption>{escape(self.tell(title))}</caption>{rows}</table>'

    def try_html(self) -> str:
        """List the controls for what is chosen."""
        count = int(self.value("count"))
        # Nothing of the answer before somebody asks for it.
        moved = count != self.count
        told = self.tell("mass", count=count, mass=self.mass(self._mass(count))) if moved else self.tell("no_mass")
        said = self.line(told, "answer")
        return (
            said
            + self._controls_html(self.fields["method"].value, self.fields["blown"].value)
            + self.line(self.tell("source"), "quiet")
        )

    def reveal_html(self) -> str:
        """Say what helps, for lungs, skin and eyes."""
        answer = self.line(self.tell("answer", mass=self.mass(self._mass(1))), "answer")
        key = "apprentice.care.dust"
        dust = f'<p class="ls-finding" lang="{self.room.texts.language_of(key)}">{escape(self.room.texts.say(key))}</p>'
        return (
            self.guess_line()
            + answer
            + dust
            + self.line(self.tell("skin"), "answer")
            + self.line(self.tell("source"), "quiet")
        )


class ShotsScene(AmountScene):
    """Ten weighed shots: the class's own scatter, and the overfill that it asks for."""

    key = "shots"

    def make_fields(self) -> None:
        """Setting, shots, density."""
        self._controls["setting"] = text_field(
            self.room.texts.say("names.setting"), self.display.usual("25 mL", "0.8 fl oz"), self.room.setting
        )
        self._controls["shots"] = text_field(
            self.room.texts.say("names.shots"), "39.8 g; 40.4 g; 40.1 g", self.room.shots
        )
        self.density_field()

    def _build(self) -> None:
        super()._build()
        self.rehearsal = button(self.deck("rehearse"), self.rehearse).add_class("ls-small")

    def extra(self, stage: Stage) -> Sequence[Any]:
        """Values to rehearse with, while there are none."""
        return (self.rehearsal,) if stage == "try" and not self.room.shots.strip() else ()

    def rehearse(self) -> str:
        """Type invented shots; says which."""
        setting, shots = self.display.usual(*_SET)
        typed = {"setting": setting, "shots": shots, "density": f"{DENSITY:g} g/mL"}
        with self.silence():
            for name, text in typed.items():
                self.fields[name].value = text
        self.changed("shots")
        return " · ".join(typed.values())

    def _shares(self) -> list[tuple[str, float]]:
        return [("one", 0.01), ("five", 0.05), ("twenty", 0.20)]

    def choices(self) -> list[tuple[str, str]]:
        """One, five, twenty per cent."""
        return [(key, self.tell("choice", share=percent(share))) for key, share in self._shares()]

    def right(self) -> str:
        """The nearest to the scatter that was weighed."""
        found = self._found()
        return nearest_choice(self._shares(), found.spread) if found else ""

    def changed(self, name: str) -> None:
        """Keep what was typed, so that a change of units does not lose it."""
        for kept in ("shots", "setting", "density"):
            setattr(self.room, kept, str(self.fields[kept].value))
        self.room.keep()
        self.set_stage(self.stage)

    def _found(self) -> numbers.Shots | None:
        """Read the shots; None while there are none."""
        texts = {name: str(self.fields[name].value).strip() for name in ("setting", "shots")}
        if not all(texts.values()):
            return None
        values = self.read_amounts(texts["shots"])
        if len(values) < _LEAST_SHOTS:
            raise UnitError(self.tell("too_few", count=len(values), least=_LEAST_SHOTS))
        setting = self.read_amount(texts["setting"])
        least, most = setting * numbers.LEAST_SHOT, setting * numbers.MOST_SHOT
        for number, (text, value) in enumerate(zip(parts(texts["shots"]), values, strict=True), 1):
            if not least <= value <= most:
                said = {"setting": self.volume(setting), "least": self.volume(least), "most": self.volume(most)}
                raise UnitError(self.tell("odd_shot", number=number, text=text, **said))
        return numbers.shots(self.system, values, setting)

    def predict_html(self) -> str:
        """Say what is needed."""
        return self.line(self.tell("need"), "answer")

    def _drawn(self, found: numbers.Shots) -> str:
        texts = [self.volume(value) for value in found.values]
        least, most, setting = (
            self.volume(min(found.values)),
            self.volume(max(found.values)),
            self.volume(found.setting),
        )
        alt = self.tell("finding", count=len(texts), least=least, most=most, setting=setting)
        counts = (self.tell("low_side", count=found.under), self.tell("high_side", count=len(texts) - found.under))
        drawn = pictures.dots(
            values=found.values, texts=texts, bad=[value < found.setting for value in found.values], line=found.setting,
            line_words=self.tell("line", setting=setting), axis=("", ""), counts=counts, alt=alt,
        )  # fmt: skip
        return self.paper(drawn)

    def _lines(self, found: numbers.Shots) -> str:
        told = self.tell(
            "told",
            mean=self.volume(found.summary.mean),
            offset=signed(found.offset),
            sd=self.volume(found.summary.sd or 0.0),
            spread=percent(found.spread),
        )
        assert found.limit.high is not None
        dose, needed = self.volume(found.limit.high), self.volume(numbers.ring(self.pair).ring)
        asks = self.tell("overfill", overfill=signed(found.overfill), dose=dose, needed=needed)
        sure = {"share": percent(numbers.SHARE), "confidence": percent(numbers.CONFIDENCE), "n": len(found.values)}
        return self.line(told) + self.line(asks, "answer") + self.line(self.tell("meaning", **sure), "quiet")

    def try_html(self) -> str:
        """Draw the shots and read them."""
        found = self._found()
        return self._drawn(found) + self._lines(found) if found else self.line(self.tell("try_hint"), "quiet")

    def reveal_html(self) -> str:
        """Say what the scatter asks for."""
        found = self._found()
        if found is None:
            return self.line(self.tell("waiting"), "quiet")
        answer = self.tell("answer", spread=percent(found.spread), overfill=percent(found.overfill))
        return self._drawn(found) + self.guess_line() + self.line(answer, "answer") + self._lines(found)


class ExerciseScene(Scene):
    """The exercises, one at a time. The answer is offered only after the second wrong try.

    A try is the button, or Enter in the field; leaving the field is none.
    """

    key = "exercises"

    def make_fields(self) -> None:
        """Who, answer, class number."""
        self._feedback: tuple[str, str] = ("", "")
        self.at = 0
        self._controls["who"] = text_field(self.room.texts.say("exercises.who"), value=self.room.who)
        self._controls["answer"] = text_field(
            self.room.texts.say("exercises.field"), self.display.usual("12.3 mL", "0.6 fl oz")
        ).add_class("ls-enter")
        self._controls["seed"] = text_field(self.room.texts.say("exercises.seed"), value=str(self.room.seed))

    @property
    def attempt(self) -> Attempt:
        """The one on the screen."""
        return self.room.attempts[self.at]

    def _build(self) -> None:
        super()._build()
        self.check = button(self.tell("check"), self._check).add_class("ls-take")
        self.show = button(self.tell("show"), self._show).add_class("ls-show")
        self.previous = button(self.tell("previous"), lambda: self._go(-1)).add_class("ls-small")
        self.following = button(self.tell("following"), lambda: self._go(1)).add_class("ls-small")

    def set_stage(self, stage: Stage) -> None:
        """There is one step."""
        self.stage = "try"
        self.question.value = f"<h2>{escape(self.tell('title'))}</h2><p>{escape(self.ask())}</p>"
        walk = widgets.HBox([self.previous, self.following]).add_class("ls-stages")
        self.side.children = (
            self.question,
            self.fields["who"],
            walk,
            self.fields["answer"],
            self.check,
            self.show,
            self.fields["seed"],
        )
        self.update()

    def changed(self, name: str) -> None:
        """What was said to another answer goes; another name or class number starts its own exercises."""
        if name == "answer":
            self._feedback = ("", "")
        elif name == "who":
            who = " ".join(str(self.fields["who"].value).split())
            if who != self.room.who:
                self.room.who = who
                self._restart()
        elif (seed := self._seed()) is None:
            self._feedback = ("", "")
        else:
            self.room.seed = seed
            self._restart()
        self.room.keep()
        self.update()

    def _seed(self) -> int | None:
        """Read the class number; None when it is none."""
        text = self.text("seed")
        return int(text) if re.fullmatch(r"\d+", text, re.ASCII) and int(text) <= LARGEST_SEED else None

    def _restart(self) -> None:
        self.at, self._feedback = 0, ("", "")
        with self.silence():
            self.fields["answer"].value = ""

    def _go(self, step: int) -> None:
        at = min(max(self.at + step, 0), len(self.room.attempts) - 1)
        self._restart()
        self.at = at
        self.update()

    def _check(self) -> None:
        verdict = self.attempt.answer(str(self.fields["answer"].value), self.room.texts)
        said = closed(verdict.message)
        if verdict.read and "," in self.text("answer"):
            said = f"{said} {self.deck('comma')}"
        self._feedback = ("good" if verdict.right else "bad" if verdict.read else "unread", said)
        self.room.keep()
        self.update()

    def _show(self) -> None:
        self._feedback = ("shown", self.tell("shown", answer=self.attempt.show()))
        self.room.keep()
        self.update()

    def compute(self) -> str:
        """Show the exercise, what was said to the answer, and the way to the result sheet."""
        if self._seed() is None:
            raise UnitError(self.tell("bad_seed", text=self.text("seed")))
        one = self.attempt
        if hasattr(self, "show"):
            self.show.layout.display = "" if one.may_show and not one.shown else "none"
        place = self.line(self.tell("number", number=one.number, count=len(self.room.attempts)), "quiet")
        asked = self.line(self.tell(one.exercise.kind, **one.exercise.values), "answer")
        self.paper(self._sketch(one.exercise.pair))
        return self.composed(place + asked + self._said() + self._standing(one) + self._sheet())

    def _sketch(self, pair: numbers.Pair) -> Picture:
        """Draw what is asked about, with its sizes."""
        notes = [
            Note(pair.l_v * at, words)
            for at, words in (
                (0.1, f"d₀ = {self.size(pair.d_0)}"),
                (0.4, f"φ = {self.size(pair.phi)}"),
                (0.95, f"l_v = {self.size(pair.l_v)}"),
            )
        ]
        alt = self.tell(self.attempt.exercise.kind, **self.attempt.exercise.values)
        return pictures.section(pair, x=pair.l_v, surface=0.0, notes=notes, foot=self.deck("not_to_scale"), alt=alt)

    def _said(self) -> str:
        look, text = self._feedback
        if not look:
            return ""
        before = f"{self.tell('wrong')} " if look == "bad" else ""
        return f'<div role="status">{self.line(before + text, "bad" if look in ("bad", "unread") else "good")}</div>'

    def _standing(self, one: Attempt) -> str:
        wrong = len(one.mistakes)
        if one.solved:
            return self.line(self.tell("solved", tries=wrong) if wrong else self.tell("solved_first"), "quiet")
        return self.line(self.tell("tries", tries=wrong), "quiet") if wrong else ""

    def _sheet(self) -> str:
        data = base64.b64encode(self.room.sheet().encode("utf-8")).decode("ascii")
        link = (
            f'<a class="ls-sheet" download="lesson-{self.room.seed}.csv"'
            f' href="data:text/csv;charset=utf-8;base64,{data}">{escape(self.tell("sheet"))}</a>'
        )
        return f'<p class="ls-quiet">{link}<br>{escape(self.tell("sheet_note"))}</p>'
