"""The job plan in JupyterLab: run all cells, add a crew, enter nonsense, edit the schedule on the second sheet."""

import os
from pathlib import Path

import pytest

CREWS = '.dp-fields .widget-text:has(label:has-text("Crews, 1 to 200")) input'
RESULT = ".dosepanel .widget-html:has(.dp-result), .dosepanel .widget-html:has(.dp-sentence)"
SECOND_SHEET = ".lm-TabBar-tab:has-text('Bar schedule')"
FIRST_SHEET = ".widget-tab .lm-TabBar-tab:has-text('Plan')"
HOLE = "input[title='Hole, row 2']"


@pytest.fixture(scope="module")
def page(run_notebook):
    page = run_notebook("05_job_plan", CREWS)
    page.wait_for_selector(".dp-paper svg", timeout=60_000)
    return page


def enter(page, field, text):
    page.fill(field, text)
    page.press(field, "Enter")


def test_another_number_of_crews_plans_anew(page, shoot):
    shoot(page, "plan_panel")
    before = page.inner_text(RESULT)
    assert "Packs to order" in before
    enter(page, CREWS, "3")
    page.wait_for_function(
        "([s, old]) => document.querySelector(s).innerText !== old", arg=[RESULT, before], timeout=60_000
    )
    page.wait_for_selector(".dp-dose", timeout=60_000)
    assert page.locator(".dp-paper svg").count() == 2


@pytest.mark.parametrize("nonsense", ["0", "two", "1,5"])
def test_nonsense_gets_a_sentence_in_place_of_the_result(page, shoot, nonsense):
    enter(page, CREWS, nonsense)
    page.wait_for_selector('.dp-sentence:has-text("Crews")', timeout=60_000)
    shoot(page, "plan_nonsense")
    assert "accepted" in page.inner_text(".dp-sentence")
    assert page.locator(".dp-paper svg").count() == 0
    enter(page, CREWS, "2")
    page.wait_for_selector(".dp-paper svg", timeout=60_000)


def test_the_schedule_is_edited_on_the_second_sheet(page):
    page.click(SECOND_SHEET)
    page.wait_for_selector(HOLE, timeout=30_000)
    assert page.input_value(HOLE) == "16 mm"
    enter(page, HOLE, "11 mm")
    page.wait_for_selector('.dp-sentence:has-text("Row 2 (S2), Hole")', timeout=30_000)
    if folder := os.environ.get(
        "WORKBOOK_SCREENSHOTS"
    ):  # the shared way scrolls to a result, and that is on the other sheet
        page.screenshot(path=str(Path(folder) / "plan_grid.png"))
    enter(page, HOLE, "16 mm")
    page.wait_for_selector('.dp-sentence:has-text("Row 2 (S2), Hole")', state="detached", timeout=30_000)
    page.click(FIRST_SHEET)


def test_no_cell_shows_an_error(page):
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
