"""The first page in JupyterLab, in short: begin a job, change a row, take it back; the whole is in tests/long."""

import pytest

FIELD = '.dp-fields .widget-inline-hbox:has(label:text-is("{}")) :is(input, select)'
HEAD = 'button.fp-head:has-text("{}")'
COUNT = "input[title='Holes, row 1']"


@pytest.fixture(scope="module")
def page(run_notebook):
    return run_notebook("00_job", FIELD.format("Folder of the new job"))


def test_a_job_is_begun_and_its_doses_follow_what_is_typed(page, lab_home):
    page.fill(FIELD.format("Folder of the new job"), "begun")
    page.select_option(FIELD.format("Units"), "US customary")
    page.click('button:has-text("Begin")')
    page.click(HEAD.format("Bar schedule: 1 group"), timeout=60_000)
    page.wait_for_selector(COUNT, timeout=30_000)
    page.fill(COUNT, "7")
    page.press(COUNT, "Enter")
    page.wait_for_selector('.dp-saved:has-text("1 row changed")', timeout=30_000)
    page.click('button:has-text("Save to the schedule")')
    page.wait_for_selector('.dp-result:has-text("Dispensed into all 7 holes")', timeout=60_000)
    assert ",7,#5," in (lab_home / "begun" / "schedule.csv").read_text(encoding="utf-8")


def test_the_save_is_taken_back(page, lab_home):
    page.click('button:has-text("Take the last save back")')
    page.wait_for_selector('.dp-result:has-text("Dispensed into all 1 holes")', timeout=60_000)
    assert ",1,#5," in (lab_home / "begun" / "schedule.csv").read_text(encoding="utf-8")


def test_every_control_has_a_name(page):
    for head in page.locator("button.fp-head").all():
        head.scroll_into_view_if_needed()
    nameless = page.evaluate(
        """() => [...document.querySelectorAll('.dosepanel :is(input, select, textarea, button)')].filter(e =>
          e.offsetParent && !(e.labels && e.labels.length) && !e.title && !e.getAttribute('aria-label')
          && !e.innerText.trim()).map(e => e.outerHTML.slice(0, 120))"""
    )
    assert nameless == []
