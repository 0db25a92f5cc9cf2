"""The reviewer's notebook in JupyterLab: run all cells, follow a result, work its step, ask, compare, comment."""

import pytest

SHEET = ".widget-tab .lm-TabBar-tab:has-text('{}')"
PACKAGE = '.dosepanel .widget-text:has(label:has-text("or its folder, as a path")) input >> nth=0'


@pytest.fixture(scope="module")
def page(run_notebook):
    page = run_notebook("06_review", PACKAGE)
    page.wait_for_selector(".dp-paper svg", timeout=60_000)
    return page


def keep(page, name):
    import os
    from pathlib import Path

    if folder := os.environ.get("WORKBOOK_SCREENSHOTS"):
        page.locator(".widget-tab").scroll_into_view_if_needed()
        page.screenshot(path=str(Path(folder) / f"review_{name}.png"))


def test_the_verdict_and_a_result_to_follow(page):
    assert page.inner_text(".dp-dose >> nth=0") == "Numbers: identical"
    keep(page, "walk")
    assert page.locator(".dp-result math").count() >= 1


def test_a_button_leads_to_the_step_before(page):
    page.click("button:has-text('from 01.B6.n_g')")
    page.click("button:has-text('from 01.B6.V_dose')")
    page.click("button:has-text('from 01.B6.V_req')")
    page.click("button:has-text('from 01.B6.V_a')")
    field = '.dp-fields .widget-text:has(label:has-text("d_0")) input'
    page.wait_for_selector(field)
    page.fill(field, "41 mm")
    page.press(field, "Enter")
    page.wait_for_selector("text=With d_0 = 41 mm: 216.72 mL", timeout=60_000)
    keep(page, "by_hand")
    page.fill(field, "wide")
    page.press(field, "Enter")
    page.wait_for_selector('.dp-sentence:has-text("d_0")', timeout=60_000)
    page.fill(field, "40 mm")
    page.press(field, "Enter")
    page.wait_for_selector(".dp-sentence", state="detached", timeout=60_000)


def test_two_revisions_side_by_side(page):
    page.click(SHEET.format("Two revisions"))
    page.wait_for_selector("text=W4, hole diameter: 25 mm → 28 mm >> visible=true", timeout=60_000)
    keep(page, "revisions")


def test_what_would_change(page):
    page.click(SHEET.format("What would change"))
    page.select_option(
        '.widget-dropdown:has(label:has-text("Input")) select >> visible=true', label="P5, embedment = 360 mm"
    )
    field = '.widget-text:has(label:has-text("New value")) input >> visible=true'
    page.wait_for_function(
        "(s) => [...document.querySelectorAll('.widget-text input')].some(i => i.value === '360 mm')",
        arg=None,
        timeout=60_000,
    )
    page.fill(field, "400 mm")
    page.press(field, "Enter")
    page.wait_for_selector("text=P5, embedment: 360 mm → 400 mm >> visible=true", timeout=90_000)
    keep(page, "question")


def test_a_comment(page):
    page.click(SHEET.format("Comments"))
    page.click("button:has-text('Take the step')")
    page.fill('.widget-text:has(label:has-text("Your name")) input', "R. Viewer")
    page.press('.widget-text:has(label:has-text("Your name")) input', "Enter")
    page.fill(".widget-textarea textarea", "Which drawing says so?")
    page.click("button:has-text('Add the comment')")
    page.wait_for_selector("text=question on 01.B6.V_a: Which drawing says so? >> visible=true", timeout=60_000)
    keep(page, "comment")


def test_no_cell_shows_an_error(page):
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
