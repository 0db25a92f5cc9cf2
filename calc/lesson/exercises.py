"""Exercises that the notebook checks.

Variants from a seed, answers in any unit of the right kind, hints that name the likely mistake.

The right answer and what each mistake leads to are worked by the same functions of `calc`; a mistake's answer is those
functions given what somebody who makes it would give them.
"""

from __future__ import annotations

import csv
import io
import math
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from calc.base.display import Display, System
from calc.base.errors import NotAccepted
from calc.base.units import UnitError, convert, parse_number, parse_quantity, units_like
from calc.fill.dose import dose, strokes
from calc.fill.hole import annular_volume, bar_area, required_volume, tip_volume
from calc.fill.level import full_fraction, length_of_shortfall
from calc.lesson import numbers
from calc.lesson.texts import Texts
from calc.lesson.typed import NoPercentError, parse_share, strict

CLOSE = 0.015  # share by which an answer may differ: worked by hand, with a rounded pi
_APART = 0.04  # a mistake nearer than this to the right answer cannot be told from rounding
TRIES_BEFORE_ANSWER = 2

Unit = Literal["mm³", "mm", "%", "pcs"]


@dataclass(frozen=True)
class Mistake:
    """What a likely mistake leads to: its key in the texts, and the value in the answer's unit."""

    key: str
    value: float


@dataclass(frozen=True)
class Exercise:
    """One question with its right answer.

    Attributes
    ----------
    kind : str
        Key in the texts.
    values : mapping of str to str
        What stands in the question's places.
    answer : float
        In ``unit``.
    unit : str
        mm³, mm, % or pcs.
    mistakes : tuple of Mistake
        Likely ones, each away from the right answer.
    system : str
        Units that the question is asked in.
    pair : Pair
        Bar and hole.
    """

    kind: str
    values: Mapping[str, str]
    answer: float
    unit: Unit
    mistakes: tuple[Mistake, ...]
    system: System
    pair: numbers.Pair

    @property
    def answer_text(self) -> str:
        """The right answer for people."""
        if self.unit == "mm³":
            return Display(self.system).volume(self.answer)
        if self.unit == "mm":
            return Display(self.system).length(self.answer)
        return f"{self.answer:.3g} %" if self.unit == "%" else f"{self.answer:g}"


# None has the share of the lesson's main pair, which stands on the first page of the apprentice's sheet. Examples, no
# source.
_METRIC = (
    ("8", 12.0, 110.0),
    ("10", 14.0, 130.0),
    ("12", 16.0, 150.0),
    ("14", 18.0, 170.0),
    ("16", 22.0, 190.0),
    ("20", 24.0, 240.0),
    ("25", 32.0, 300.0),
    ("28", 34.0, 320.0),
)
_INCH = (
    ("#3", 0.5, 4.0),
    ("#4", 0.625, 5.0),
    ("#6", 0.875, 9.0),
    ("#7", 1.0, 10.0),
    ("#8", 1.125, 12.0),
    ("#9", 1.375, 13.0),
    ("#10", 1.5, 15.0),
)


def _sizes(pair: numbers.Pair, system: System) -> dict[str, str]:
    display = Display(system)
    return {
        "bar": display.usual("", f" ({pair.bar})"),
        "phi": display.size(pair.phi),
        "d_0": display.size(pair.d_0),
        "l_v": display.size(pair.l_v),
        "unit": display.volume_unit,
        "length": display.length_unit,
    }


def _volume_mistakes(volume: Callable[[float, float, float], float], pair: numbers.Pair) -> list[Mistake]:
    """Mistakes that any sum of volumes invites; ``volume`` takes the diameters of hole and bar, and the depth."""
    d_0, phi, l_v = pair.d_0, pair.phi, pair.l_v
    return [
        Mistake("radius_for_diameter", volume(d_0 / 2, phi / 2, l_v)),
        Mistake("diameter_for_radius", volume(d_0 * 2, phi * 2, l_v)),
        Mistake("forgot_bar", numbers.content(d_0=d_0, length=l_v)),
        Mistake("only_bar", numbers.content(d_0=phi, length=l_v)),
        Mistake("subtracted_first", numbers.content(d_0=d_0 - phi, length=l_v)),
        Mistake("forgot_pi", volume(d_0, phi, l_v) / math.pi),
    ]


def _ring(pair: numbers.Pair, system: System, _: random.Random) -> Exercise:
    def volume(d_0: float, phi: float, l_v: float) -> float:
        return float(annular_volume(d_0=d_0, phi=phi, l_v=l_v))

    return _made(
        "ring",
        _sizes(pair, system),
        volume(pair.d_0, pair.phi, pair.l_v),
        "mm³",
        _volume_mistakes(volume, pair),
        system,
        pair,
    )


def _tip(pair: numbers.Pair, system: System, draw: random.Random) -> Exercise:
    theta = draw.choice((118.0, 130.0))

    def volume(d_0: float, phi: float, l_v: float) -> float:
        return required_volume(d_0=d_0, phi=phi, l_v=l_v, theta=theta)

    wrong = [
        Mistake("forgot_tip", volume_flat(pair)),
        Mistake("only_tip", float(tip_volume(d_0=pair.d_0, theta=theta))),
        *_volume_mistakes(volume, pair),
    ]
    shown = _sizes(pair, system) | {
        "tip": Display(system).volume(float(tip_volume(d_0=pair.d_0, theta=theta))),
        "theta": f"{theta:g}°",
    }
    return _made("tip", shown, volume(pair.d_0, pair.phi, pair.l_v), "mm³", wrong, system, pair, apart=CLOSE)


def volume_flat(pair: numbers.Pair) -> float:
    """Volume that a hole without a tip needs [mm³]."""
    return required_volume(**pair.size)


def _share(pair: numbers.Pair, system: System, _: random.Random) -> Exercise:
    def percent(d_0: float, phi: float) -> float:
        return convert(float(full_fraction(d_0=d_0, phi=phi)), "", "%")

    rest = convert(float(bar_area(phi=pair.phi) / bar_area(phi=pair.d_0)), "", "%")
    # Whoever forgets the squares works the same sum with square roots of the diameters.
    unsquared = percent(math.sqrt(pair.d_0), math.sqrt(pair.phi))
    wrong = [Mistake("bar_share", rest), Mistake("not_squared", unsquared)]
    return _made("share", _sizes(pair, system), percent(pair.d_0, pair.phi), "%", wrong, system, pair)


def _dose(pair: numbers.Pair, system: System, draw: random.Random) -> Exercise:
    overfill = draw.choice((0.10, 0.15, 0.20, 0.25))

    def volume(d_0: float, phi: float, l_v: float) -> float:
        return dose(V_req=required_volume(d_0=d_0, phi=phi, l_v=l_v), overfill=overfill)

    needed = volume_flat(pair)
    wrong = [
        Mistake("forgot_overfill", needed),
        Mistake("overfill_alone", volume(pair.d_0, pair.phi, pair.l_v) - needed),
        Mistake("divided_by_rest", needed / (1 - overfill)),
        *_volume_mistakes(volume, pair),
    ]
    shown = _sizes(pair, system) | {"overfill": f"{convert(overfill, '', '%'):g} %"}
    return _made("dose", shown, volume(pair.d_0, pair.phi, pair.l_v), "mm³", wrong, system, pair)


def _strokes(pair: numbers.Pair, system: System, draw: random.Random) -> Exercise:
    display = Display(system)
    size = convert(draw.choice(display.usual((4.0, 5.0, 6.0, 8.0), (0.2, 0.25, 0.3, 0.4))), display.volume_unit, "mm³")
    wanted = dose(V_req=volume_flat(pair), overfill=0.15)
    right = float(strokes(V_dose=wanted, stroke=size))
    wrong = [Mistake("rounded_down", right - 1), Mistake("inverted", float(strokes(V_dose=size, stroke=wanted)))]
    shown = _sizes(pair, system) | {"dose": display.volume(wanted), "stroke": display.volume(size)}
    return _made("strokes", shown, right, "pcs", wrong, system, pair)


def _bare(pair: numbers.Pair, system: System, draw: random.Random) -> Exercise:
    part = numbers.given(volume_flat(pair), -0.5) * draw.choice((0.4, 0.6, 0.8))
    unit = Display(system).volume_unit
    # A volume as it would be said: two digits.
    missing = convert(float(f"{convert(part, 'mm³', unit):.2g}"), unit, "mm³")

    def length(d_0: float, phi: float) -> float:
        return float(length_of_shortfall(V_short=missing, d_0=d_0, phi=phi))

    hole = float(missing / bar_area(phi=pair.d_0))
    wrong = [
        Mistake("whole_hole", hole),
        Mistake("radius_for_diameter", length(pair.d_0 / 2, pair.phi / 2)),
        Mistake("diameter_for_radius", length(pair.d_0 * 2, pair.phi * 2)),
        Mistake("forgot_pi", length(pair.d_0, pair.phi) * math.pi),
        Mistake("bonded_length", pair.l_v - length(pair.d_0, pair.phi)),
    ]
    return _made(
        "bare",
        _sizes(pair, system) | {"missing": Display(system).volume(missing)},
        length(pair.d_0, pair.phi),
        "mm",
        wrong,
        system,
        pair,
    )


def _made(
    kind: str,
    values: Mapping[str, str],
    answer: float,
    unit: Unit,
    wrong: Sequence[Mistake],
    system: System,
    pair: numbers.Pair,
    apart: float = _APART,
) -> Exercise:
    kept = tuple(one for one in wrong if one.value > 0 and not math.isclose(one.value, answer, rel_tol=apart))
    return Exercise(kind, values, answer, unit, kept, system, pair)


KINDS: tuple[tuple[str, Callable[[numbers.Pair, System, random.Random], Exercise]], ...] = (
    ("ring", _ring), ("share", _share), ("dose", _dose), ("tip", _tip), ("strokes", _strokes), ("bare", _bare)
)  # fmt: skip


def exercises(system: System, seed: int) -> tuple[Exercise, ...]:
    """Draw one exercise of each kind.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    seed
        Of the class: the same seed gives the same exercises.

    Returns
    -------
    tuple of Exercise
    """
    draw = random.Random(seed)
    chosen = draw.sample(numbers.pairs_of(system, _METRIC, _INCH), len(KINDS))
    return tuple(make(pair, system, draw) for (_, make), pair in zip(KINDS, chosen, strict=True))


# ---- checking ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Verdict:
    """What is said to an answer: whether it is right, whether it was read at all, and which mistake it looks like."""

    right: bool
    read: bool
    mistake: str
    message: str


def _typed(text: str, unit: Unit, texts: Texts) -> tuple[float, float, str]:
    """Return an answer in the exercise's unit, the bare number, and the unit as typed."""
    if unit == "pcs":
        number = _count(text, texts)
        return number, number, ""
    if unit == "%":
        # A share is as good as a percentage.
        value = convert(parse_share(text, texts), "", "%")
        return value, value, unit
    found = parse_quantity(strict(text, texts), unit)
    return found.to(unit), found.value, found.unit


def _count(text: str, texts: Texts) -> float:
    """Read a bare number; a sentence of its own for one that has a unit."""
    text = strict(text, texts)
    head, _, tail = text.partition(" ")
    if tail and not tail[:1].isdigit():
        parse_number(head)
        raise UnitError(texts.say("hints.stroke_unit", text=text))
    return parse_number(text)


def _same(one: float, other: float, unit: Unit) -> bool:
    return one == other if unit == "pcs" else math.isclose(one, other, rel_tol=CLOSE)


def _mistake(exercise: Exercise, value: float, number: float, unit: str) -> str:
    """Name the mistake that leads to a value: a known one, a slip of the unit, or a thousand."""
    found = next((one.key for one in exercise.mistakes if _same(value, one.value, exercise.unit)), "")
    if found:
        return found
    if exercise.unit == "pcs":
        # Less than one stroke: whoever divides the wrong way round and does not round.
        return "strokes_other" if number == round(number) else "inverted" if 0 < number < 1 else "whole_strokes"
    if exercise.unit == "%":
        return "percent_as_share" if math.isclose(value, convert(exercise.answer, "%", ""), rel_tol=CLOSE) else ""
    for factor, key in (
        (1000.0, "thousand"),
        (1e-3, "thousand"),
        (10.0, "ten"),
        (0.1, "ten"),
        (100.0, "ten"),
        (0.01, "ten"),
    ):
        if math.isclose(value, exercise.answer * factor, rel_tol=CLOSE):
            return key
    inches = {"in", "in³", "ft", "fl oz"}
    for other in units_like(exercise.unit):
        if other != unit and math.isclose(number, convert(exercise.answer, exercise.unit, other), rel_tol=CLOSE):
            return "mixed_inches" if (other in inches) != (unit in inches) else "other_unit"
    return ""


def check(exercise: Exercise, text: str, texts: Texts) -> Verdict:
    """Judge an answer; never says the right one.

    Parameters
    ----------
    exercise
        What was asked.
    text
        What was typed.
    texts
        The lesson's sentences.

    Returns
    -------
    Verdict
        Not ``read``: the text is no number with a unit of the right kind; that is no try.
    """
    try:
        value, number, unit = _typed(text, exercise.unit, texts)
    except NoPercentError:
        return Verdict(False, False, "no_percent", texts.say("hints.no_percent"))
    except UnitError as error:
        return Verdict(False, False, "", str(error))
    if _same(value, exercise.answer, exercise.unit):
        return Verdict(True, True, "", texts.say("exercises.right", answer=exercise.answer_text))
    mistake = _mistake(exercise, value, number, unit)
    hint = (
        texts.say(f"hints.{mistake}")
        if mistake
        else texts.say("hints.larger" if value < exercise.answer else "hints.smaller")
    )
    return Verdict(False, True, mistake, hint)


@dataclass
class Attempt:
    """What one person or table did with one exercise."""

    exercise: Exercise
    number: int
    tries: int = 0
    solved: bool = False
    shown: bool = False
    mistakes: list[str] = field(default_factory=list)
    last: str = ""

    def answer(self, text: str, texts: Texts) -> Verdict:
        """Take a try; the same answer once more is none, and after it is solved or shown nothing counts any more."""
        verdict = check(self.exercise, text, texts)
        again, self.last = text.split() == self.last.split(), text
        if verdict.read and not (again or self.solved or self.shown):
            self.tries += 1
            self.solved = verdict.right
            if not verdict.right:
                self.mistakes.append(verdict.mistake or "other")
        return verdict

    @property
    def may_show(self) -> bool:
        """Whether the answer may be shown: after the second wrong try."""
        return not self.solved and self.tries >= TRIES_BEFORE_ANSWER

    def show(self) -> str:
        """Show the answer.

        Raises
        ------
        NotAccepted
            Before the second wrong try.
        """
        if not self.may_show:
            raise NotAccepted("the answer is shown after the second wrong try, not before")
        self.shown = True
        return self.exercise.answer_text


def safe_cell(text: str) -> str:
    """Make a typed text safe for a spreadsheet, which would run it as a formula.

    Parameters
    ----------
    text
        What was typed.

    Returns
    -------
    str
    """
    flat = " ".join(text.split())
    return f"'{flat}" if flat[:1] in tuple("=+-@|%") else flat


def result_sheet(people: Mapping[str, Sequence[Attempt]], *, seed: int, texts: Texts | None = None) -> str:
    """Write what was tried as CSV for the trainer; nobody's name unless it was typed.

    Parameters
    ----------
    people
        Each one's attempts, in the order of the exercises, by the name that was typed; empty for nobody's.
    seed
        Of the class.
    texts
        The lesson's sentences, for the names of mistakes; English without them.

    Returns
    -------
    str
    """
    out, say = io.StringIO(), (texts or Texts()).say
    writer = csv.writer(out, lineterminator="\n")
    head = ["class_seed", "exercise", "kind", "units", "tries", "solved", "answer_shown", "mistakes", "right_answer"]
    named = any(people)
    writer.writerow([*head, "who"] if named else head)
    for who, one in ((who, one) for who, attempts in people.items() for one in attempts):
        row: list[object] = [
            seed,
            one.number,
            one.exercise.kind,
            one.exercise.system,
            one.tries,
            "yes" if one.solved else "no",
            "yes" if one.shown else "no",
            "; ".join(say(f"mistakes.{key}") for key in one.mistakes),
            one.exercise.answer_text,
        ]
        writer.writerow([*row, safe_cell(who)] if named else row)
    return out.getvalue()
