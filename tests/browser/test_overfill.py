"""The notebook of overfill and waste in JupyterLab: run all cells, drag the dose, change the bit, enter nonsense."""

import pytest

RESULT = ".dosepanel .widget-html:has(.dp-result), .dosepanel .widget-html:has(.dp-sentence)"
OVERFILL = '.dp-fields .widget-text:has(label:has-text("Overfill [share]")) input'
VOIDS = '.dp-fields .widget-text:has(label:has-text("Loss into voids")) input'
SLIDER = '.dp-fields .widget-slider:has(label:has-text("Drag the overfill")) .noUi-handle'
GROUP = '.dp-fields .widget-dropdown:has(label:has-text("Bar group")) select'
BIT = '.dp-fields .widget-dropdown:has(label:has-text("State of the bit")) select'
DOT = ".dp-paper svg .dp-marker circle >> nth=0"


@pytest.fixture(scope="module")
def page(run_notebook):
    page = run_notebook("02_overfill_and_waste", OVERFILL)
    shown = page.inner_text(RESULT)
    page.select_option(GROUP, label="P5: ø25")
    changed(page, shown)
    return page


def changed(page, before):
    page.wait_for_function(
        "([s, old]) => document.querySelector(s).innerText !== old", arg=[RESULT, before], timeout=30_000
    )


def enter(page, field, text):
    page.fill(field, text)
    page.press(field, "Enter")


def numbers(page):
    return [page.inner_text(f".dp-dose >> nth={i}") for i in range(4)]


def test_dragging_the_dose_moves_numbers_and_marker(page, shoot):
    shown = page.inner_text(RESULT)
    enter(page, OVERFILL, "0.10")
    changed(page, shown)
    short, waste, place = float(numbers(page)[2]), float(numbers(page)[3].split()[0]), page.get_attribute(DOT, "cx")
    handle = page.locator(SLIDER)
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    shown = page.inner_text(RESULT)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 25, y, steps=8)
    changed(page, shown)  # while the button is still held
    page.mouse.up()
    page.wait_for_timeout(500)
    assert float(numbers(page)[2]) < short
    assert float(numbers(page)[3].split()[0]) > waste
    assert float(page.get_attribute(DOT, "cx")) > float(place)
    assert page.locator(".dp-paper svg").count() == 1
    shoot(page, "overfill_panel")


def test_another_bit_is_another_curve(page):
    before = page.inner_text(RESULT)
    page.select_option(BIT, label="worn")
    changed(page, before)
    worn = page.inner_text(RESULT)
    page.select_option(BIT, label="medium")
    changed(page, worn)
    assert page.inner_text(RESULT) == before


@pytest.mark.parametrize("nonsense", ["low 0,01, high 0.02", "0.02", "lots", "low 0.2, high 0.1"])
def test_nonsense_gets_a_sentence_and_no_stale_number(page, shoot, nonsense):
    shown = page.inner_text(RESULT)
    enter(page, VOIDS, nonsense)
    changed(page, shown)
    said = page.inner_text(RESULT)
    shoot(page, "overfill_nonsense")
    assert said.startswith("No result.")
    assert len(said.split()) >= 8
    assert "Traceback" not in said
    assert page.locator(".dp-dose").count() == 0
    assert page.locator(".dp-paper svg").count() == 0
    enter(page, VOIDS, "low 0.0, high 0.02")
    page.wait_for_selector(".dp-dose", timeout=30_000)


def test_no_cell_shows_an_error(page):
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
