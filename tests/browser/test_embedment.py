"""The notebook of embedment in JupyterLab: run all, another force, another code, missing adhesive, nonsense."""

import re

import pytest

RESULT = ".dosepanel .widget-html:has(.dp-result), .dosepanel .widget-html:has(.dp-sentence)"
FIELD = '.dp-fields .widget-text:has(label:has-text("{}")) input'
FORCE, MISSING, BOND = (FIELD.format(words) for words in ("Design force", "Adhesive missing", "Bond factor"))
CODE = '.dp-fields .widget-dropdown:has(label:has-text("Code")) select'
LARGE = ".dp-dose >> nth={}"


@pytest.fixture(scope="module")
def page(run_notebook):
    return run_notebook("04_embedment", FORCE)


@pytest.fixture
def reset(page):
    yield
    enter(page, FORCE, "8 kN")
    enter(page, MISSING, "1 mL")
    page.wait_for_selector('.dp-result:has-text("for 8 kN"):has-text("1.0 mL missing")', timeout=30_000)


def enter(page, field, text):
    page.fill(field, text)
    page.press(field, "Enter")


def changed(page, before):
    page.wait_for_function(
        "([s, old]) => document.querySelector(s).innerText !== old", arg=[RESULT, before], timeout=30_000
    )


def required(page):
    return float(re.fullmatch(r"([\d.]+) mm", page.inner_text(LARGE.format(0)))[1])


def test_a_larger_force_needs_a_longer_bar(page, shoot, reset):
    before, shown = required(page), page.inner_text(RESULT)
    shoot(page, "embedment_panel")
    enter(page, FORCE, "20 kN")
    changed(page, shown)
    assert required(page) > before
    said = page.inner_text(RESULT)
    assert "✗ FAILS" in said
    assert "the embedment that would do is" in said
    assert page.locator(".dp-paper svg").count() == 3
    shoot(page, "embedment_too_short")


def test_missing_adhesive_costs_force(page, reset):
    shown = page.inner_text(RESULT)
    enter(page, MISSING, "0.2 mL")
    changed(page, shown)
    little = float(page.inner_text(LARGE.format(1)).split()[0])
    said = page.inner_text(RESULT)
    assert "does not conform to its specification" in said
    assert "no public test gives bond against void share" in said
    enter(page, MISSING, "0.4 mL")
    changed(page, said)
    assert 0 < float(page.inner_text(LARGE.format(1)).split()[0]) < little


def test_another_edition_asks_for_its_own_factor(page, reset):
    shown = page.inner_text(RESULT)
    page.select_option(CODE, label="EN 1992-1-1:2023")
    changed(page, shown)
    said = page.inner_text(RESULT)
    assert said.startswith("No result.")
    assert "never assumed" in said
    page.select_option(CODE, label="EN 1992-1-1:2004")
    page.wait_for_selector(LARGE.format(0), timeout=30_000)


@pytest.mark.parametrize("nonsense", ["8,5 kN", "8", "a lot", "-3 kN", "5 mm", "900 kN"])
def test_nonsense_gets_a_sentence_and_no_stale_number(page, shoot, reset, nonsense):
    shown = page.inner_text(RESULT)
    enter(page, FORCE, nonsense)
    changed(page, shown)
    said = page.inner_text(RESULT)
    shoot(page, "embedment_nonsense")
    assert said.startswith("No result.")
    assert "Design force" in said
    assert len(said.split()) >= 8
    assert "Traceback" not in said
    assert page.locator(".dp-dose").count() == 0
    assert page.locator(".dp-paper svg").count() == 0


def test_no_cell_shows_an_error(page):
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
