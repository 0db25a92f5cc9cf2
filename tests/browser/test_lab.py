"""The first notebook in JupyterLab, in headless Chromium: run all cells, change a control, enter nonsense."""

import re

import pytest
from firstscreen import assert_first_screen

FIELD = {"hole_diameter": '.dp-fields .widget-text:has(label:has-text("Hole diameter")) input'}
RESULT = ".dosepanel .widget-html:has(.dp-result), .dosepanel .widget-html:has(.dp-sentence)"
PICTURE = ".dp-paper svg"


def result(page) -> str:
    return page.inner_text(RESULT)


def enter(page, name: str, text: str) -> None:
    page.fill(FIELD[name], text)
    page.press(FIELD[name], "Enter")


@pytest.fixture(scope="module")
def page(run_notebook):
    return run_notebook("01_dose_per_hole", FIELD["hole_diameter"])


def test_changing_the_hole_changes_the_dose(page, shoot):
    before = result(page)
    shoot(page, "panel")
    assert re.search(r"\d+ mL", before)
    enter(page, "hole_diameter", "14 mm")
    page.wait_for_function(
        "([s, old]) => document.querySelector(s).innerText !== old", arg=[RESULT, before], timeout=30_000
    )
    after = result(page)
    assert re.search(r"\d+ mL", after)
    assert page.locator(PICTURE).count() == 1


@pytest.mark.parametrize("nonsense", ["14,5 mm", "14", "a fist", "7 mm", "-3 mm"])
def test_nonsense_gets_a_sentence_in_place_of_the_result(page, shoot, nonsense):
    enter(page, "hole_diameter", "14 mm")
    page.wait_for_function("s => /\\d mL/.test(document.querySelector(s).innerText)", arg=RESULT, timeout=30_000)
    enter(page, "hole_diameter", nonsense)
    page.wait_for_function("s => !/\\d mL/.test(document.querySelector(s).innerText)", arg=RESULT, timeout=30_000)
    shoot(page, "nonsense")
    said = result(page)
    assert "Traceback" not in said
    assert len(said.split()) >= 5
    assert page.locator(PICTURE).count() == 0


def test_a_wrong_entry_moves_nothing_below(page):
    enter(page, "hole_diameter", "14 mm")
    page.wait_for_function("s => /\\d mL/.test(document.querySelector(s).innerText)", arg=RESULT, timeout=30_000)
    below = "() => document.querySelectorAll('.jp-Cell')[3].offsetTop"
    before = page.evaluate(below)
    enter(page, "hole_diameter", "a fist")
    page.wait_for_selector(".dosepanel .dp-sentence", timeout=30_000)
    assert page.evaluate(below) == before


def test_run_all_ends_at_the_answer_with_the_record_folded(page):
    for fold in page.locator('button:has-text("Fewer fields")').all():
        fold.click()
    enter(page, "hole_diameter", "14 mm")
    page.wait_for_selector(".dp-split .dp-paper svg", timeout=30_000)
    assert_first_screen(page, "01_dose_per_hole")


def test_no_cell_shows_an_error(page):
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
