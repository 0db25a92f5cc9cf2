"""The notebook of measured holes in JupyterLab.

Run all cells, ask for a larger share, paste volumes, enter nonsense.
"""

import re

import pytest

RESULT = ".dosepanel .widget-html:has(.dp-result), .dosepanel .widget-html:has(.dp-sentence)"
SHARE = '.dp-fields .widget-text:has(label:has-text("Share of holes that are full")) input'
VOLUMES = ".dp-fields .widget-textarea textarea"
LARGE = ".dp-dose >> nth=0"


@pytest.fixture(scope="module")
def page(run_notebook):
    return run_notebook("03_measured_holes", SHARE)


@pytest.fixture
def reset(page):
    yield
    enter(page, "0.95")
    page.wait_for_selector('.dp-result:has-text("so that 95 % of all such holes")', timeout=30_000)


def overfill(page):
    return float(re.fullmatch(r"([\d.]+) %", page.inner_text(LARGE))[1])


def enter(page, share):
    page.fill(SHARE, share)
    page.press(SHARE, "Enter")


def changed(page, before):
    page.wait_for_function(
        "([s, old]) => document.querySelector(s).innerText !== old", arg=[RESULT, before], timeout=30_000
    )


def test_a_larger_share_asks_for_a_larger_overfill(page, shoot, reset):
    before, shown = overfill(page), page.inner_text(RESULT)
    shoot(page, "measured_panel")
    enter(page, "0.99")
    changed(page, shown)
    assert overfill(page) > before
    assert "99 % of all such holes" in page.inner_text(RESULT)
    assert page.locator(".dp-paper svg").count() == 3
    shown = page.inner_text(RESULT)
    enter(page, "0.95")
    changed(page, shown)
    assert overfill(page) == before


@pytest.mark.parametrize("nonsense", ["0,95", "95", "all of them", "1"])
def test_nonsense_gets_a_sentence_and_no_stale_number(page, shoot, reset, nonsense):
    shown = page.inner_text(RESULT)
    enter(page, nonsense)
    changed(page, shown)
    said = page.inner_text(RESULT)
    shoot(page, "measured_nonsense")
    assert said.startswith("No result.")
    assert len(said.split()) >= 8
    assert "Traceback" not in said
    assert page.locator(".dp-dose").count() == 0
    assert page.locator(".dp-paper svg").count() == 0


def test_an_emptied_field_brings_back_what_the_job_says(page, reset):
    shown = page.inner_text(RESULT)
    enter(page, "0.99")
    changed(page, shown)
    shown_99 = page.inner_text(RESULT)
    enter(page, "")
    changed(page, shown_99)
    assert page.inner_text(RESULT) == shown


def test_pasted_volumes_count_in_place_of_the_file(page, shoot):
    page.wait_for_selector(LARGE)
    shown = page.inner_text(RESULT)
    page.fill(VOLUMES, ", ".join(["14.2 mL", "13.9 mL", "14.4 mL", "14.0 mL", "14.1 mL"] * 3))
    page.press(VOLUMES, "Tab")
    changed(page, shown)
    assert "15 measured holes ask for" in page.inner_text(RESULT)
    shown = page.inner_text(RESULT)
    page.fill(VOLUMES, "14.2 mL, 13.9 mL, 14.4 mL")
    page.press(VOLUMES, "Tab")
    changed(page, shown)
    assert "Not enough holes: 3" in page.inner_text(RESULT)
    shoot(page, "measured_pasted")
    shown = page.inner_text(RESULT)
    page.fill(VOLUMES, "14.2 mL")
    page.press(VOLUMES, "Tab")
    changed(page, shown)
    assert "one weighed hole tells nothing about scatter" in page.inner_text(RESULT)
    assert page.locator(".dp-dose").count() == 0


def test_no_cell_shows_an_error(page):
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
