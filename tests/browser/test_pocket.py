"""The page for a phone, with a finger and with keys: it fills, asks, and gives a job's doses for a hole as measured."""

import math
import re
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pocketpoints
import pytest

from calc.files.job import demo_job
from calc.fill.dose import dose, rounded_dose
from calc.fill.hole import required_volume
from calc.lesson.exercises import exercises
from calc.lesson.pocket.page import write_pocket
from calc.lesson.texts import Texts, languages
from calc.work.load import load_job
from calc.work.results import compute

PHONE = {"width": 360, "height": 740}
Open = Callable[..., Any]


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Open]:
    pages: list[Any] = []
    wrong: list[str] = []

    def open_page(*, size: dict[str, int] = PHONE, **said: Any) -> Any:
        path = write_pocket(tmp_path / f"pocket-{len(pages)}.html", **said)
        page = browser.new_page(viewport=size, has_touch=True)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
        page.on("request", lambda request: None if request.url.startswith("file:") else wrong.append(request.url))
        page.goto(path.as_uri())
        pages.append(page)
        return page

    yield open_page
    for page in pages:
        page.close()
    assert wrong == []


def numbers(page: Any) -> dict[str, str]:
    words = page.locator("#numbers dt").all_inner_texts()
    return dict(zip(words, page.locator("#numbers dd").all_inner_texts(), strict=True))


def value(text: str) -> float:
    return float(re.sub(r"[^\d.]", "", text.replace(",", ".")))


def pushed(page: Any, key: str) -> None:
    page.locator("#pushed").focus()
    page.keyboard.press(key)


def test_the_hole_fills_as_the_workbook_says(opened: Open) -> None:
    page = opened()
    assert value(numbers(page)["Needed to be just full"]) == pytest.approx(22.6, abs=0.05)
    pushed(page, "End")
    assert page.locator("#seen").inner_text() == "Just full."
    page.locator("#given").fill("900")
    assert value(numbers(page)["Bare bar at the mouth"]) == pytest.approx(20.0, abs=0.05)
    assert "20.0" in page.locator("#seen").inner_text()
    page.locator("#given").fill("1100")
    assert value(numbers(page)["Comes out at the mouth"]) == pytest.approx(2.3, abs=0.05)


def test_bar_and_mortar_follow_the_finger(opened: Open) -> None:
    for way in ("down", "wall", "overhead"):
        page = opened()
        page.check(f"input[name=way][value={way}]")
        page.locator("#hole").scroll_into_view_if_needed()
        bar = page.locator("#bar rect").bounding_box()
        step = {"down": (0, 60), "wall": (60, 0), "overhead": (0, -60)}[way]
        # Held near the end that goes in, since the other one is beyond the picture.
        x, y = bar["x"] + bar["width"] / 2, bar["y"] + bar["height"] / 2
        x += (bar["width"] / 2 - 12) * (way == "wall")
        y += {"down": bar["height"] / 2 - 12, "wall": 0, "overhead": 12 - bar["height"] / 2}[way]
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + step[0], y + step[1], steps=4)
        page.mouse.up()
        assert 30 < value(page.locator("#pushed-said").inner_text()) < 90, way
        mortar = page.locator("#mortar").bounding_box()
        x, y = mortar["x"] + mortar["width"] / 2, mortar["y"] + mortar["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x - step[0] / 2, y - step[1] / 2, steps=4)
        page.mouse.up()
        assert value(page.locator("#given-said").inner_text().split(",")[1]) > 120, way
        assert page.locator("#overhead-care").is_visible() == (way == "overhead")


@pytest.mark.parametrize("units", ["metric", "us"])
def test_exercises_are_judged_as_in_the_lesson(opened: Open, units: Any) -> None:
    page = opened(units=units, seed=7)
    texts = Texts()
    for i, one in enumerate(exercises(units, 7)):
        box = page.locator("#questions .group").nth(i)
        assert texts.say(f"exercises.{one.kind}", **one.values) in box.inner_text()
        unit = {"mm³": "mL", "mm": "mm", "%": "%", "pcs": ""}[one.unit]
        scale = 1000 if unit == "mL" else 1
        for wrong in one.mistakes:
            box.locator("input").fill(f"{wrong.value / scale:.9g} {unit}".strip())
            box.locator("button[type=submit]").click()
            told = box.locator(".said").inner_text()
            same = [other.key for other in one.mistakes if math.isclose(other.value, wrong.value, rel_tol=0.015)]
            assert any(texts.say(f"hints.{key}") in told for key in same), (one.kind, wrong.key, told)
        assert box.locator("button[type=button]").is_visible()
        box.locator("input").fill(f"{one.answer / scale:.9g} {unit}".strip())
        box.locator("button[type=submit]").click()
        assert one.answer_text in box.locator(".said").inner_text()


@pytest.mark.parametrize(
    ("typed", "said"),
    [("13,2 mL", None), ("13.2mL", None), ("13.2", "no unit"), ("13,200 mL", "two ways"), ("much", "no number"),
     ("13 kg", "another unit"), ("", "Type a number"), ("-3 mL", "no number"), ("1e400 mL", "unit")],
)  # fmt: skip
def test_what_is_typed_is_read_or_told(opened: Open, typed: str, said: str | None) -> None:
    box = opened().locator("#questions .group").first
    box.locator("input").fill(typed)
    box.locator("button[type=submit]").click()
    told = box.locator(".said").inner_text()
    assert ("Not yet" in told or "Right" in told) if said is None else said in told


def test_a_hole_of_ones_own(opened: Open) -> None:
    page = opened()
    for key, text in (("phi", "16 mm"), ("d_0", "20 mm"), ("l_v", "20 cm"), ("overfill", "10 %"), ("step", "5 mL")):
        page.fill(f"#own-{key}", text)
    assert page.locator("#own-said .dose").inner_text() == "25.0\u00a0mL"
    assert "5 strokes of 5.0" in page.locator("#own-said").inner_text()
    page.fill("#own-d_0", "16 mm")
    assert page.locator("#own-said .dose").count() == 0
    assert "No such hole" in page.locator("#own-said").inner_text()
    page.fill("#own-d_0", "")
    assert page.locator("#own-said .dose").count() == 0


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_jobs_doses_and_a_hole_measured_otherwise(opened: Open, units: Any) -> None:
    results = compute(load_job(demo_job(units)))
    page = opened(job=demo_job(units))
    tried = 0
    for i, one in enumerate(results.worked):
        box = page.locator("#groups .group").nth(i)
        case = one.case
        assert case.mark in box.inner_text()
        if case.measured is not None:
            assert box.locator("details").count() == 0
            continue
        box.locator("summary").click()
        wider, deeper = case.bored + 1, case.embedment + 20
        page.fill(f"#d-{i}", f"{wider:.6g} mm")
        page.fill(f"#l-{i}", f"{deeper:.6g} mm")
        need = required_volume(d_0=wider, phi=case.bar.diameter, l_v=deeper, overdrill=case.overdrill, theta=case.theta)
        given = rounded_dose(V_dose=dose(V_req=need, overfill=case.overfill), graduation=case.graduation)
        shown = box.locator("details .dose").inner_text()
        assert shown.split("\u00a0")[0] == results.job.display.volume(given).split()[0]
        page.fill(f"#l-{i}", f"{case.embedment - 20:.6g} mm")
        assert "may not hold" in box.inner_text()
        tried += 1
    assert tried > 2


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("width", [360, 390])
def test_nothing_runs_off_a_phone(opened: Open, language: str, width: int) -> None:
    page = opened(size={"width": width, "height": 800}, language=language, job=demo_job("us"))
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        "[...document.querySelectorAll('button, input, select, summary, nav a')]"
        ".filter(e => e.offsetParent && e.type !== 'radio' && e.getBoundingClientRect().height < 40)"
        ".map(e => e.outerHTML)"
    )
    assert small == []


def test_no_serious_finding_of_axe(opened: Open) -> None:
    for scheme in ("light", "dark"):
        page = opened(job=demo_job("metric"))
        page.emulate_media(color_scheme=scheme)
        page.evaluate((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8"))
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
        assert [(one["id"], one["impact"]) for one in found if one["impact"] in ("serious", "critical")] == []


def test_text_of_a_job_ends_no_element(opened: Open, tmp_path: Path) -> None:
    import shutil

    shutil.copytree(demo_job("metric").parent, tmp_path / "job")
    file = tmp_path / "job" / "job.toml"
    text = file.read_text(encoding="utf-8")
    title = re.search(r'^title = "(.*)"$', text, flags=re.MULTILINE)[1]
    file.write_text(text.replace(title, "</script><b id='x'>{{ 7 * 7 }}", 1), encoding="utf-8")
    page = opened(job=tmp_path / "job")
    assert page.locator("#x").count() == 0
    assert "</script><b id='x'>{{ 7 * 7 }}" in page.locator("header").inner_text()


def test_the_arithmetic_is_the_workbooks_in_a_browser_too(browser: Any) -> None:
    page = browser.new_page()
    page.set_content("<p></p>")
    page.add_script_tag(content=pocketpoints.program() + "\nwindow.found = found;")
    pocketpoints.hold(page.evaluate("window.found"))
    page.close()
