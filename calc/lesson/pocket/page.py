"""Write the page for a phone: one HTML file, without a network and without Python, for an apprentice or for a crew."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from calc import __version__
from calc.base.display import Display, System, shown_decimals
from calc.base.errors import NotAccepted
from calc.base.look.tokens import COLOUR, DARK, css_colours
from calc.base.units import convert, units_like
from calc.fill.dose import dose, rounded_dose, strokes
from calc.fill.hole import annular_volume, bar_area, required_volume, tip_depth
from calc.fill.level import full_fraction, overflow, surface_depth, unfilled_length
from calc.lesson.exercises import CLOSE, TRIES_BEFORE_ANSWER, Exercise, exercises
from calc.lesson.handouts import ADDED_EXAMPLE, CARE, common_pairs
from calc.lesson.numbers import Pair, examples
from calc.lesson.pocket.script import in_javascript
from calc.lesson.texts import RIGHT_TO_LEFT, Texts
from calc.package.build import default_out
from calc.package.lists.doses import dose_texts, failing, group_cautions, group_stops
from calc.work.dose import Worked
from calc.work.load import load_job
from calc.work.results import Results, compute

_HERE = Path(__file__).parent
CALLERS = (
    required_volume, annular_volume, tip_depth, bar_area, full_fraction, surface_depth, overflow, unfilled_length, dose,
    rounded_dose, strokes,
)  # fmt: skip
_KINDS = {"volume": "mm³", "length": "mm"}
_SMALLER, _WIDER = 0.03, 0.25  # of the hole's diameter: how far its slider goes
_TAPE = 16  # parts of an inch that a tape shows
_EXAMPLE = "10 %"
_SECTIONS = ("doses", "fill", "tasks", "sheet", "own", "care")
_STEPS = "abcdefg"
_HINTS = ("larger", "smaller", "whole_strokes", "mixed_inches", "other_unit", "thousand", "ten", "no_percent")


def pocket_page(
    *, units: System = "metric", language: str = "en", seed: int = 1, job: Path | None = None, made: str = ""
) -> str:
    """Write the page.

    Parameters
    ----------
    units
        Those of the exercises and of the pairs; a job's own stand in their place.
    language
        A language of the lesson.
    seed
        Number of the class, which draws the exercises.
    job
        A job file or its folder, whose groups stand first.
    made
        Date for the foot; today's without it.

    Returns
    -------
    str
        HTML.

    Raises
    ------
    InputErrors
        What is wrong with the job's files.
    NotAccepted
        A language that there is no file for.
    """
    texts = Texts(language)
    results = None if job is None else compute(load_job(job))
    if results is not None:
        units = results.job.display.system
    environment = Environment(
        loader=FileSystemLoader(_HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    groups = [] if results is None else [_group(one, results, texts) for one in results.worked]
    css = (_HERE / "pocket.css").read_text(encoding="utf-8").replace("%DARK%", css_colours("", DARK))
    paper = css_colours("", {name: COLOUR[name] for name in ("paper", "ink", "quiet", "hair", "failure", "link")})
    return environment.get_template("pocket.html.j2").render(
        lang=language,
        dir="rtl" if language in RIGHT_TO_LEFT else "ltr",
        t={key: texts.raw(f"phone.{key}") for key in _plain()}
        | {
            "tasks_seed": texts.say("phone.tasks_seed", seed=seed),
            "added": texts.say("phone.added", example=_EXAMPLE),
        },
        lead=_lead(results, texts),
        groups=groups,
        sections=[(key, texts.say(f"phone.{key}")) for key in _SECTIONS if groups or key != "doses"],
        css=Markup(f":root {{ {paper} --page-ink: {COLOUR['ink']}; --page-paper: {COLOUR['paper']}; }}\n{css}"),
        steps=[texts.say(f"apprentice.do.{key}") for key in _STEPS],
        cautions=[texts.say(f"apprentice.care.{key}") for key in (*CARE, "defer")],
        footer=texts.say("deck.footer"),
        made=texts.say(
            "phone.made",
            software=f"bonded-bar-workbook {__version__}",
            date=made or datetime.now(UTC).date().isoformat(),
        ),
        arithmetic=Markup(in_javascript(*CALLERS)),
        data=Markup(_json(_data(units, texts, seed, groups))),
        behaviour=Markup((_HERE / "pocket.js").read_text(encoding="utf-8")),
    )


def _plain() -> list[str]:
    """The sentences of the page; their places are filled in by it."""
    return [key.removeprefix("phone.") for key in Texts().keys if key.startswith("phone.")]


def _json(data: object) -> str:
    """Data inside a page: no text of a job may end the element that it stands in."""
    return json.dumps(data, ensure_ascii=False).replace("<", "\\u003c")


def _lead(results: Results | None, texts: Texts) -> str:
    if results is None:
        return texts.say("phone.lead")
    about = results.job.job
    said = texts.say("phone.lead_job", title=about.title, number=about.number, revision=about.revision)
    return f"{said} {texts.say('phone.invented')}" if about.invented else said


def _data(units: System, texts: Texts, seed: int, groups: list[dict[str, Any]]) -> dict[str, Any]:
    display = Display(units)
    volume, length = display.volume_unit, display.length_unit
    first = examples(units).main
    return {
        "texts": {key: texts.raw(f"phone.{key}") for key in _plain()}
        | {key: texts.raw(f"exercises.{key}") for key in ("number", "check", "show", "right", "wrong", "shown")}
        | {key: texts.raw(f"deck.{key}") for key in ("two_ways", "no_percent")}
        | {"answer": texts.raw("exercises.field")},
        "hints": {key: texts.raw(f"hints.{key}") for key in _hints(units, seed)},
        "colour": COLOUR,
        "decimal": texts.say("deck.decimal"),
        "shown": {
            "volume": _shown(volume),
            "length": _shown(length) | {"tape": display.usual(0, _TAPE)},
            "width": _shown(length),
        },
        "units": {kind: {one: convert(1.0, one, unit) for one in units_like(unit)} for kind, unit in _KINDS.items()}
        | {"share": {"": 1.0, "%": convert(1.0, "%", "")}, "count": {}},
        "example": {"volume": f"25 {volume}", "length": display.size(first.d_0), "share": _EXAMPLE, "count": "7"},
        "inches": ["in", "in³", "ft", "fl oz"],
        "least": {"length": display.least_length, "volume": display.least_volume},
        "pairs": [_pair(pair, display, texts) for pair in common_pairs(units)],
        "start": [pair.bar for pair in common_pairs(units)].index(examples(units).main.bar),
        "tasks": [_task(one, texts) for one in exercises(units, seed)],
        "close": CLOSE,
        "tries": TRIES_BEFORE_ANSWER,
        "more": ADDED_EXAMPLE,
        "own": {
            "phi": display.size(first.phi),
            "d_0": display.size(first.d_0),
            "l_v": display.size(first.l_v),
            "overfill": _EXAMPLE,
            "step": "",
        },
        "groups": groups,
    }


def _shown(unit: str) -> dict[str, Any]:
    kind = next(one for one in _KINDS.values() if unit in units_like(one))
    return {"name": unit, "factor": convert(1.0, unit, kind), "decimals": shown_decimals(unit)}


def _pair(pair: Pair, display: Display, texts: Texts) -> dict[str, Any]:
    hole = {"d_0": display.size(pair.d_0), "l_v": display.size(pair.l_v)}
    narrow, wide = max(pair.d_0 * (1 - _SMALLER), pair.phi * (1 + _SMALLER)), pair.d_0 * (1 + _WIDER)
    return {
        "name": texts.say("phone.pair_name", phi=display.usual(display.size(pair.phi), pair.bar), **hole),
        **pair.size,
        "narrow": narrow,
        "wide": wide,
        "usual": (pair.d_0 - narrow) / (wide - narrow),
    }


def _hints(units: System, seed: int) -> list[str]:
    return sorted({*_HINTS, *(wrong.key for one in exercises(units, seed) for wrong in one.mistakes)})


def _task(one: Exercise, texts: Texts) -> dict[str, Any]:
    """An exercise with all that its checking compares with, worked here."""
    slips = [("thousand", 1000.0), ("thousand", 1e-3), ("ten", 10.0), ("ten", 0.1), ("ten", 100.0), ("ten", 0.01)]
    physical = one.unit in ("mm³", "mm")
    scale = convert(1.0, "%", "") if one.unit == "%" else 1.0  # shares are read as numbers
    return {
        "ask": texts.say(f"exercises.{one.kind}", **one.values),
        "unit": one.unit,
        "kind": {"mm³": "volume", "mm": "length", "%": "share", "pcs": "count"}[one.unit],
        "answer": one.answer * scale,
        "answer_text": texts.local(one.answer_text),
        "mistakes": [(wrong.key, wrong.value * scale) for wrong in one.mistakes]
        + [(key, one.answer * times) for key, times in slips if physical],
        "others": [{"unit": unit, "number": convert(one.answer, one.unit, unit)} for unit in units_like(one.unit)]
        if physical
        else [],
    }


def _group(one: Worked, results: Results, texts: Texts) -> dict[str, Any]:
    """A group of the job: its dose as the list has it, and what another hole of it is worked with."""
    case, job = one.case, results.job
    hole, depth = job.display.size(case.hole_diameter), job.display.size(case.embedment)
    text, same = dose_texts(one, job)
    failed = failing(results).get(case.mark, [])
    return {
        "title": f"{case.mark}: {case.bar.text}, {hole}, {depth}",
        "where": texts.say("phone.count", count=case.count, direction=texts.say(f"phone.direction_{case.direction}")),
        "dose": text,
        "lines": [*filter(None, [same]), *group_cautions(one, job)],
        "stop": group_stops(one, job, failed),
        "straight": case.measured is None,
        "phi": case.bar.diameter,
        "l_v": case.embedment,
        "overdrill": case.overdrill,
        "theta": case.theta,
        "overfill": case.overfill,
        "step": case.graduation,
        "strokes": case.by_strokes,
        "rule": job.overfill.rule != "share" and not job_share(one, results),
        "d_0_text": job.display.size(case.bored),
        "l_v_text": depth,
    }


def job_share(one: Worked, results: Results) -> bool:
    """Whether a group's overfill was typed for it in the schedule."""
    return any(group.mark == one.case.mark and group.overfill is not None for group in results.job.groups)


def write_pocket(path: Path | None = None, **said: Any) -> Path:
    """Write the page into a file; see `pocket_page`.

    Parameters
    ----------
    path
        The file; without it ``pocket.html`` in the folder that `build` writes into.
    **said
        As for `pocket_page`.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    NotAccepted
        A place that cannot be written to.
    """
    file = default_out() / "pocket.html" if path is None else path
    page = pocket_page(**said)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(page, encoding="utf-8")
    except OSError as error:
        raise NotAccepted(f"{file} cannot be written ({error.strerror}): name another file with --out FILE") from None
    return file
