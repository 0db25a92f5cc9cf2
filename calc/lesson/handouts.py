"""The lesson on paper: a sheet of two pages for the apprentice, and notes that a trainer can start from.

All words come from the texts of the lesson, all values from `numbers`, `exercises` and the scenes themselves: what the
notes give as an answer is read off the scene that says it on the screen.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from calc.base.display import Display, System, plain_text
from calc.base.errors import CalcError
from calc.base.maths import pi
from calc.base.nomenclature import latex_of
from calc.base.sheet import Given, Step, apply
from calc.base.units import convert
from calc.evidence.limits import volume_of_mass
from calc.fill.hole import required_volume
from calc.fill.level import full_fraction, surface_depth
from calc.lesson import numbers, pictures
from calc.lesson.classroom import DENSITY, EyeScene, ShotsScene
from calc.lesson.exercises import CLOSE, Exercise, exercises, result_sheet
from calc.lesson.pictures import Note
from calc.lesson.projector import SCENES, Lesson, partly_translated
from calc.lesson.room import Stage
from calc.lesson.scene import Scene, percent
from calc.lesson.scenes import PocketScene, said_between
from calc.lesson.texts import FALLBACK, Texts
from calc.package.build import default_out
from calc.package.document import markup
from calc.package.lists.setting import compile_list
from calc.show.drawing import Picture
from calc.work.cautions import cautions

TEMPLATE = "handouts.typ"
KINDS = ("apprentice", "trainer")
# Bars in holes as they are often drilled, with depths that the exercises do not ask about; common practice, no source.
_METRIC = (
    ("8", 10.0, 80.0),
    ("8", 12.0, 100.0),
    ("10", 14.0, 100.0),
    ("12", 16.0, 120.0),
    ("14", 18.0, 140.0),
    ("16", 20.0, 200.0),
    ("20", 25.0, 200.0),
    ("25", 32.0, 250.0),
    ("28", 35.0, 280.0),
    ("32", 40.0, 320.0),
)
_INCH = (
    ("#3", 1 / 2, 3.0),
    ("#3", 9 / 16, 4.0),
    ("#4", 5 / 8, 6.0),
    ("#5", 3 / 4, 8.0),
    ("#6", 7 / 8, 8.0),
    ("#7", 1.0, 9.0),
    ("#8", 9 / 8, 10.0),
    ("#9", 11 / 8, 12.0),
    ("#10", 3 / 2, 14.0),
)
_STAGES = (0.0, 0.5, 0.85, 1.0)  # of the depth, for the pictures of the bar on its way in
_SHOTS = 10
ADDED_EXAMPLE = 0.10  # the share added in the sheet's table, beside the bare minimum and the job's own
_MEASURED = ("hole", "depth", "shots", "level", "spilt", "time")
_HOLES = 12  # blank lines for the results of the practice block
CARE = ("dust", "skin", "jam", "steel", "over", "heat", "load")
_MASS = 40.0  # g, of the shot that is turned into a volume for an example
_UNIX, _WINDOWS = ".venv/bin/python", r".venv\Scripts\python"
# Hints that any exercise can give; the others belong to what is asked.
_GENERAL = (
    "thousand",
    "ten",
    "mixed_inches",
    "other_unit",
    "percent_as_share",
    "no_percent",
    "whole_strokes",
    "strokes_other",
)
_UNNAMED = ("larger", "smaller", "stroke_unit")  # the last names what was typed


class HandoutError(CalcError):
    """The handouts could not be written; the message is one sentence."""


def write_handouts(
    *, units: str = "metric", language: str = "en", seed: int = 1, out: Path | None = None
) -> list[Path]:
    """Write the apprentice's sheet and the trainer's notes.

    Parameters
    ----------
    units
        ``"metric"`` or ``"us"``; it also chooses the paper.
    language
        Short name of a language of `calc.lesson.texts`.
    seed
        Number of the class, for the exercises and the simulated holes.
    out
        Folder for the files; without it ``handouts`` in the folder that `build` writes into.

    Returns
    -------
    list of Path
        ``apprentice-<units>.pdf`` and ``trainer-<units>.pdf``. Both are made before either is put in its place.

    Raises
    ------
    NotAccepted
        Units, a language or a class number that is not accepted.
    HandoutError
        The folder cannot be written.
    """
    lesson = Lesson(units, language, seed)
    folder = default_out() / "handouts" if out is None else out
    if folder.exists() and not folder.is_dir():
        raise HandoutError(f"{folder} is a file: name a folder with --out DIR")
    made = {
        f"{kind}-{units}.pdf": compile_list(TEMPLATE, data)[0]
        for kind, data in zip(KINDS, (apprentice(lesson), trainer(lesson)), strict=True)
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".handouts-", dir=folder) as hidden:
            for name, body in made.items():
                (Path(hidden) / name).write_bytes(body)
            for name in made:
                os.replace(Path(hidden) / name, folder / name)
    except OSError as error:
        raise HandoutError(
            f"{folder} cannot be written ({error.strerror}): name another folder with --out DIR"
        ) from error
    return [folder / name for name in made]


# ---- words ---------------------------------------------------------------------------------------


def _in(text: str, language: str) -> dict[str, str]:
    """A text with its language, which a screen reader needs."""
    return {"t": text, "l": language}


@dataclass(frozen=True)
class _Words:
    """The sentences of one language with the values that many of them take."""

    texts: Texts
    values: dict[str, object]

    def __call__(self, key: str, /, **values: object) -> dict[str, str]:
        return _in(self.texts.say(key, **{**self.values, **values}), self.texts.language_of(key))

    def every(self, section: str) -> list[dict[str, str]]:
        """Say all sentences of a section that have a one-letter key."""
        return [
            self(key) for key in Texts().keys if key.rpartition(".")[0] == section and len(key.rpartition(".")[2]) == 1
        ]


def _words(lesson: Lesson) -> _Words:
    texts, system = lesson.room.texts, lesson.room.system
    pair = numbers.examples(system).main
    needed = required_volume(**pair.size)
    titles: dict[str, object] = {one.key: texts.say(f"{one.key}.title") for one in SCENES}
    buttons: dict[str, object] = {
        key: texts.say(f"deck.{key}") for key in ("back", "next", "predict", "try", "reveal", "title")
    }
    return _Words(
        texts,
        {
            **titles,
            **buttons,
            "phi": Display(system).size(pair.phi),
            "d_0": Display(system).size(pair.d_0),
            "l_v": Display(system).size(pair.l_v),
            "surface": Display(system).length(surface_depth(V=needed, x=0.0, **pair.size)),
            "share": percent(float(full_fraction(d_0=pair.d_0, phi=pair.phi))),
            "more": percent(ADDED_EXAMPLE),
            "surface_more": Display(system).length(numbers.pushed(pair, 0.0, ADDED_EXAMPLE).surface),
            "pi": plain_text(pi, 5),
            "seed": lesson.room.seed,
            "units": texts.say(f"deck.{system}"),
            "count": len(SCENES) - 1,  # weighing comes after the lesson
            "minutes": sum(taken for key, taken in minutes(texts).items() if key != ShotsScene.key),
            "sheet": texts.say("exercises.sheet"),
            "take_back": texts.say("eye.take_back"),
            "close": percent(CLOSE),
            "columns": _columns(lesson),
            "lost": percent(numbers.lost_at(system)),
            "overfill": percent(PocketScene.overfill),
            **_grown(lesson),
            "mass": f"{_MASS:g} g",
            "density": f"{DENSITY:g} g/mL",
        },
    )


def _grown(lesson: Lesson) -> dict[str, str]:
    """Say by which shares hole and ring grow in a hole that is a small step wider."""
    some = numbers.examples(lesson.room.system)
    wider = replace(some.main, d_0=some.main.d_0 + some.small_step)
    before, after = numbers.ring(some.main), numbers.ring(wider)
    shares = {
        f"grown_{key}": percent(numbers.more(getattr(after, key), getattr(before, key))) for key in ("hole", "ring")
    }
    step = lesson.scene("other_hole").scene.values()["step"]
    return {"step": step, **shares}


def minutes(texts: Texts) -> dict[str, int]:
    """Return the minutes of each scene, by its key, in the lesson's order.

    Parameters
    ----------
    texts
        The lesson's sentences, where the timing stands.

    Returns
    -------
    dict of int
    """
    return {one.key: int(texts.say(f"minutes.{one.key}")) for one in SCENES}


def _columns(lesson: Lesson) -> str:
    """Name the columns of the result sheet as it has them."""
    head = result_sheet({}, seed=lesson.room.seed).strip().split(",")
    return ", ".join(name.replace("_", " ") for name in head)


def _head(lesson: Lesson, words: _Words, kind: str) -> dict[str, Any]:
    texts, display = lesson.room.texts, Display(lesson.room.system)
    return {
        "kind": kind,
        "paper": display.paper,
        "roomy": display.usual(True, False),  # a dose in two units takes more of the table's width
        "lang": texts.language_of(f"{kind}.kind"),
        "title": words("deck.title"),
        "subtitle": words(f"{kind}.kind"),
        "intro": words(f"{kind}.intro"),
        "footer": words("deck.footer"),
        "document_title": f"{texts.say('deck.title')}: {texts.say(f'{kind}.kind')}",
    }


def _image(picture: Picture, language: str, box: str = "") -> dict[str, str]:
    """A picture for the page; ``box`` shows a part of it."""
    svg = picture.svg
    if box:
        start = svg.index('viewBox="') + len('viewBox="')
        svg = svg[:start] + box + svg[svg.index('"', start) :]
    return {"svg": svg, "alt": picture.alt, "l": language}


def _equation(step: Step) -> dict[str, Any]:
    return {"typst": markup.convert_all([step.latex])[step.latex][0], "latex": step.latex, "alt": step.alt}


# ---- the apprentice's sheet ----------------------------------------------------------------------


def common_pairs(system: System) -> list[numbers.Pair]:
    """List the bars and holes of the sheet's table.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.

    Returns
    -------
    list of Pair
    """
    return numbers.pairs_of(system, _METRIC, _INCH)


def apprentice(lesson: Lesson) -> dict[str, Any]:
    """Gather what stands on the apprentice's sheet.

    Parameters
    ----------
    lesson
        Units, language and class number.

    Returns
    -------
    dict
        Texts, pictures and equations for the template.
    """
    words, system = _words(lesson), lesson.room.system
    step = numbers.ring_steps(numbers.examples(system).main, system, "lesson")[-1]
    symbols = _symbols(words, [step.symbol, *(given.name for given in step.inputs)])
    keys = ("h_ring", "h_formula", "formula_words", "h_symbols", "own", "h_stages", "h_table", "table_note", "h_do")
    shots = ("title", "how", "shot", "mass", "setting", "density", "lightest", "heaviest", "who")
    return (
        _head(lesson, words, "apprentice")
        | {key: words(f"apprentice.{key}") for key in keys}
        | {
            "section": _section(words, system),
            "sum": _sum(words, system),
            "ring": _ring_answer(words, system),
            "equation": _equation(step),
            "thousand": Display(system).usual(words("apprentice.thousand"), None),
            "scale": words("deck.not_to_scale"),
            "symbols": symbols,
            # To fill in for a hole of one's own: what goes in, and what comes out.
            "blanks": [*symbols[1:-1], symbols[0]],
            "stages": [_stage(words, system, share) for share in _STAGES],
            "columns": [
                words(f"apprentice.c_{name}")
                for name in ("bar", "hole", "depth", "share", "surface", "volume", "more", "own")
            ],
            "rows": [_row(words, pair, system) for pair in common_pairs(system)],
            "span": _span(words, system),
            "rule": _rule(lesson),
            "do": words.every("apprentice.do"),
            "care": {
                "title": words("apprentice.care.title"),
                "items": [words(f"apprentice.care.{key}") for key in CARE],
                "defer": words("apprentice.care.defer"),
            },
            "shots": {key: words(f"apprentice.shots.{key}") for key in shots} | {"count": _SHOTS},
        }
    )


def _symbols(words: _Words, names: Sequence[str]) -> list[dict[str, Any]]:
    """Say each symbol of a formula in words; the symbol itself is typeset as in the formula."""
    told = {latex_of(name): words(f"symbols.{name}") for name in names} | {r"\pi": words("apprentice.pi")}
    typeset = markup.convert_all(told)
    # The texts begin with the symbol as it can be typed; what follows says it.
    return [
        {
            "typst": typeset[latex][0],
            "alt": said["t"].split()[0].rstrip(":"),
            "words": _in(re.sub(r"^[^\s:]+", "", said["t"]), said["l"]),
        }
        for latex, said in told.items()
    ]


def _section(words: _Words, system: System) -> dict[str, str]:
    pair = numbers.examples(system).main
    places = (("hole", 0.04, False), ("bar", 0.27, False), ("ring", 0.5, True), ("depth", 1.0, False))
    notes = [Note(pair.l_v * at, words(f"apprentice.note_{name}")["t"], strong=strong) for name, at, strong in places]
    alt = words("apprentice.section_alt")
    return _image(pictures.section(pair, x=pair.l_v, surface=0.0, notes=notes, alt=alt["t"]), alt["l"])


def _sum(words: _Words, system: System) -> dict[str, str]:
    pair = numbers.examples(system).main
    found = numbers.ring(pair)
    values = [words.texts.local(Display(system).volume(one)) for one in (found.hole, found.bar, found.ring)]
    alt = words("ring.finding", hole=values[0], bar=values[1], ring=values[2])
    names = [words(f"ring.{name}")["t"] for name in ("hole", "bar", "left")]
    return _image(pictures.sum_picture(d_0=pair.d_0, phi=pair.phi, names=names, values=values, alt=alt["t"]), alt["l"])


def _ring_answer(words: _Words, system: System) -> dict[str, str]:
    found = numbers.ring(numbers.examples(system).main)
    return words(
        "ring.answer", **{name: Display(system).volume(getattr(found, name)) for name in ("hole", "bar", "ring")}
    )


def _stage(words: _Words, system: System, share: float) -> dict[str, Any]:
    """Draw the bar on its way in with the right dose, and say what the mortar does."""
    pair = numbers.examples(system).main
    now, start = (numbers.pushed(pair, pair.l_v * at, 0.0) for at in (share, 0.0))
    home = share == _STAGES[-1]
    key = "start" if share == 0 else "home" if home else "still" if now.surface == start.surface else "rising"
    told = words(
        f"apprentice.stage_{key}", x=Display(system).size(pair.l_v * share), surface=Display(system).length(now.surface)
    )
    # The section is drawn at the left of its paper; its room for notes is not needed here.
    picture = pictures.section(pair, x=pair.l_v * share, surface=now.surface, alt=told["t"], bar=share > 0)
    return {"picture": _image(picture, told["l"], "-41 14 362 498"), "words": told}


def _row(words: _Words, pair: numbers.Pair, system: System) -> list[dict[str, str]]:
    needed, display = required_volume(**pair.size), Display(system)
    cells = [
        display.usual(display.size(pair.phi), pair.bar),
        display.size(pair.d_0),
        display.size(pair.l_v),
        percent(float(full_fraction(d_0=pair.d_0, phi=pair.phi))),
        display.length(surface_depth(V=needed, x=0.0, **pair.size)),
        display.volume(needed) + display.usual("", f" = {convert(needed, 'mm³', 'fl oz'):.2f} fl oz"),
    ]
    more = numbers.pushed(pair, 0.0, ADDED_EXAMPLE)
    # The last is to be filled in: the share of the job is known at the job.
    cells += [
        words("apprentice.more", volume=display.volume(more.volume), surface=display.length(more.surface))["t"],
        "",
    ]
    return [_in(words.texts.local(cell), words.texts.language) for cell in cells]


def _span(words: _Words, system: System) -> dict[str, str]:
    shares = [float(full_fraction(d_0=pair.d_0, phi=pair.phi)) for pair in common_pairs(system)]
    return words("apprentice.table_span", least=percent(min(shares)), most=percent(max(shares)))


def _rule(lesson: Lesson) -> list[dict[str, str]]:
    """What half and two thirds do to two pairs, and which pairs of the table they suit."""
    scene, texts = lesson.scene("halffull").scene, lesson.room.texts
    language = texts.language_of("halffull.answer")
    lines = [line for line in screen_lines(scene, "reveal", ("answer", "quiet")) if line != texts.say("deck.unsaid")]
    lines.insert(1, said_between(texts, Display(lesson.room.system), common_pairs(lesson.room.system)))
    return [_in(line, language) for line in lines]


# ---- what a scene says ---------------------------------------------------------------------------


class _Lines(HTMLParser):
    """The paragraphs of a scene's screen with their looks."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str]] = []
        self._look = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "p":
            self._look = (dict(attrs).get("class") or "").removeprefix("ls-")
            self.found.append((self._look, ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "p":
            self._look = ""

    def handle_data(self, data: str) -> None:
        if self._look:
            look, text = self.found[-1]
            self.found[-1] = (look, text + data)


def screen_lines(scene: Scene, stage: Stage, looks: Sequence[str]) -> list[str]:
    """Read off what a scene says at one of its steps.

    Parameters
    ----------
    scene
        A scene.
    stage
        One of its steps.
    looks
        Which kinds of sentences, such as ``"answer"``.

    Returns
    -------
    list of str
    """
    scene.set_stage(stage)
    reader = _Lines()
    reader.feed(scene.output.value)
    return [text for look, text in reader.found if look in looks]


# ---- the trainer's notes -------------------------------------------------------------------------


def trainer(lesson: Lesson) -> dict[str, Any]:
    """Gather what stands in the trainer's notes.

    Parameters
    ----------
    lesson
        Units, language and class number.

    Returns
    -------
    dict
        Texts and equations for the template.
    """
    words = _words(lesson)
    sections = {
        "move": ("title", "mouse", "keys", "presenter", "touch"),
        "time": ("title", "note", "row_scene", "row_minutes", "row_from", "sheet"),
        "scene": ("title", "note", "ask", "choices", "expect", "answer", "do", "watch", "invented"),
        "lay": ("title", "lesson", "practice", "note"),
        "practice": ("title", "note", "results", "hole", "measure", "weigh", "what", "how"),
        "task": ("title", "note", "again", "ask", "answer", "wrong", "hints", "always"),
    }
    told = {name: {key: words(f"trainer.{name}.{key}") for key in keys} for name, keys in sections.items()}
    other = _command(lesson, "handouts", (lesson.room.seed + 1) % 1_000_000)
    return (
        _head(lesson, words, "trainer")
        | told
        | {
            "start": {
                **{key: words(f"trainer.{key}") for key in ("h_start", "once", "each", "unix", "windows")},
                "install": [
                    _install(python) for python in (("python3 -m venv .venv", _UNIX), ("py -m venv .venv", _WINDOWS))
                ],
                "run": [f"{python} {_command(lesson, 'lesson', lesson.room.seed)}" for python in (_UNIX, _WINDOWS)],
                "items": [
                    words("trainer.start.a", first=words("ring.title")["t"]),
                    *words.every("trainer.start")[1:],
                    *(_in(text, language) for language, text in partly_translated()),
                ],
            },
            "task": told["task"] | {"command": [f"{python} {other}" for python in (_UNIX, _WINDOWS)]},
            "without": {
                "title": words("trainer.without.title"),
                "items": words.every("trainer.without"),
                "lab": [f"{python} -m calc lab" for python in (_UNIX, _WINDOWS)],
            },
            "timing": [
                [_plain(words, row["number"]), row["title"], _plain(words, row["minutes"]), _plain(words, row["start"])]
                for row in _clock(lesson, words)
            ],
            "scenes": [_scene(lesson, words, row) for row in _clock(lesson, words)],
            "show": words.every("trainer.show"),
            "bring": words.every("trainer.bring"),
            "measure": _measure(words),
            # What is measured at a hole, to be written down for each; shots have their table on the apprentice's sheet.
            "results": [row[0] for key, row in zip(_MEASURED, _measure(words), strict=True) if key != "shots"],
            "holes": _HOLES,
            "volume": _equation(_weighed_step(lesson.room.system)),
            **_tasks(lesson, words),
            "care": {
                "title": words("apprentice.care.title"),
                "items": _cautions(words),
            },
        }
    )


def _cautions(words: _Words) -> list[dict[str, str]]:
    """The calculation's own cautions in its language, and those of the sheet in another one."""
    if words.texts.language == FALLBACK:
        return [_in(text, FALLBACK) for text in cautions(["overhead"])]
    return [words(f"apprentice.care.{key}") for key in (*CARE, "defer")]


def _plain(words: _Words, value: object) -> dict[str, str]:
    return _in(str(value), words.texts.language)


def _install(python: tuple[str, str]) -> list[str]:
    make, found = python
    return [make, f'{found} -m pip install -e ".[lesson]"']


def _command(lesson: Lesson, name: str, seed: int) -> str:
    language = "" if lesson.room.texts.language == "en" else f" --language {lesson.room.texts.language}"
    return f"-m calc {name} --units {lesson.room.system}{language} --class {seed}"


def _clock(lesson: Lesson, words: _Words) -> list[dict[str, Any]]:
    """Say when each scene starts and how long it takes."""
    taken = minutes(lesson.room.texts)
    starts = [sum(list(taken.values())[:number]) for number in range(len(taken))]
    return [
        {"number": number, "key": key, "title": words(f"{key}.title"), "minutes": taken[key], "start": start}
        for number, (key, start) in enumerate(zip(taken, starts, strict=True), 1)
    ]


def _scene(lesson: Lesson, words: _Words, row: dict[str, Any]) -> dict[str, Any]:
    """Say of one scene what to ask, what is offered and answered, and what to watch for."""
    key = row["key"]
    scene = lesson.scene(key).scene
    language = lesson.room.texts.language_of(f"{key}.ask")
    right = scene.right() if scene.options and key != "shots" else ""
    # The two scenes that wait for the class take invented values, and say which.
    typed = scene.rehearse() if isinstance(scene, EyeScene | ShotsScene) else ""
    answers = [] if key == "exercises" else screen_lines(scene, "reveal", ("answer", "finding"))
    notes = [(name, words(f"trainer.{name}.{key}")) for name in ("expect", "do", "watch")]
    lesson.room.guesses.clear()
    return {
        "title": _in(f"{row['number']}. {row['title']['t']}", row["title"]["l"]),
        "minutes": words("trainer.scene.minutes", minutes=row["minutes"], start=row["start"]),
        "ask": _in(scene.ask(), language),
        "choices": [{"words": _in(text, language), "right": name == right} for name, text in scene.options],
        "answers": [_in(text, language) for text in answers],
        "rehearse": words("trainer.scene.rehearse", typed=typed) if typed else None,
        **dict(notes),
    }


def _measure(words: _Words) -> list[list[dict[str, str]]]:
    rows = [words(f"trainer.measure.{key}") for key in _MEASURED]
    return [[_in(part, row["l"]) for part in row["t"].split("|")] for row in rows]


def _weighed_step(system: System) -> Step:
    inputs = {"mass": Given(_MASS, "g", "an example"), "density": Given(DENSITY, "g/mL", "an example")}
    return apply(volume_of_mass, name="V", label="volume of a shot", inputs=inputs, display=Display(system))


def _tasks(lesson: Lesson, words: _Words) -> dict[str, Any]:
    """List the class's exercises with their answers, and the mistakes that they know."""
    texts = lesson.room.texts
    keys = [key.partition(".")[2] for key in Texts().keys if key.startswith("hints.")]
    named = {
        key: chr(ord("A") + number)
        for number, key in enumerate(key for key in keys if key not in (*_GENERAL, *_UNNAMED))
    }
    found = exercises(lesson.room.system, lesson.room.seed)
    return {
        "tasks": [
            {
                "number": number,
                "ask": _in(
                    texts.say(f"exercises.{one.kind}", **one.values), texts.language_of(f"exercises.{one.kind}")
                ),
                "answer": texts.local(one.answer_text),
                "wrong": [
                    {"value": texts.local(_value(one, mistake.value)), "letter": named[mistake.key]}
                    for mistake in one.mistakes
                ],
            }
            for number, one in enumerate(found, 1)
        ],
        "hints": [{"letter": letter, "text": words(f"hints.{key}")} for key, letter in named.items()],
        "general": [words(f"hints.{key}") for key in _GENERAL],
    }


def _value(exercise: Exercise, value: float) -> str:
    """Write a wrong answer as the right one is written."""
    return replace(exercise, answer=value).answer_text
