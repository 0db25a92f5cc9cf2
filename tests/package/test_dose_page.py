"""The dose list for a phone, in Chromium with the network cut off: it fits, ticks stay, and its record is read back."""

import base64
import csv
import hashlib
import io
import os
import re
import shutil

import pytest

from calc.files.job import demo_job
from calc.package.lists.doses import dose_list
from calc.package.lists.phone import dose_page
from calc.work.load import load_job
from calc.work.results import compute
from calc.work.site.record import read_hole_record
from calc.work.site.template import choose_lines

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
needs_browser = pytest.mark.skipif(
    CHROMIUM is None and not os.environ.get("WORKBOOK_NO_SKIP"), reason="no Chromium on this machine"
)


@pytest.fixture(scope="module", params=["metric", "us", "failing"])
def results(request):
    return compute(load_job(demo_job(request.param)))


def page_of(results, stamp="s"):
    return dose_page(results, stamp=stamp, by=choose_lines(results.job))


def test_one_file_asks_nothing_of_anybody(results):
    text = page_of(results)
    assert text == page_of(results)
    assert not re.search(r"https?:|//|@import|\b(src|href)=\"(?!#)", re.sub(r"(?m)^ *// .*$", "", text))
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"default-src 'none'; font-src data:; style-src 'unsafe-inline'; script-src 'sha256-{digest}'" in text
    assert "@font-face" not in text


def test_it_says_what_the_sheet_says(results):
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page_of(results)))
    data = dose_list(results, stamp="s")
    for card in data["groups"]:
        for part in ("mark", "dose", "same", "drill", "depth", "level", "bar", "own", "pack", "drawing"):
            assert " ".join(card[part].split()) in text.replace("&#39;", "'"), (card["mark"], part)
    for words in (*data["stop"], *(line for part in data["work"] for line in part["lines"]), *data["notes"]):
        assert words in text.replace("&#39;", "'")


@pytest.fixture
def opened(browser, tmp_path):
    """Open a page from its file at a phone's width, offline; nothing may be told on the console."""
    contexts, said = [], []

    def open_at(text, width=360, name="dose-list.html"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        if not contexts:
            contexts.append(browser.new_context(viewport={"width": width, "height": 780}, offline=True))
        page = contexts[0].new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto((tmp_path / name).as_uri())
        return page

    yield open_at
    for context in contexts:
        context.close()
    assert said == []


def load_again(page):
    """Load a page again when the browser has had time to hand on what the page kept, which it does behind its back."""
    page.wait_for_timeout(300)
    page.reload()


@needs_browser
@pytest.mark.parametrize("width", [360, 390])
def test_it_fits_a_phone(results, opened, width):
    page = opened(page_of(results), width)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    small = page.evaluate(
        "[...document.querySelectorAll('.ticks label, nav a, button, select, form input')]"
        ".filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML)"
    )
    assert small == []


@needs_browser
def test_ticks_stay_on_the_phone_with_their_package(results, opened):
    page = opened(page_of(results))
    boxes = page.locator("input[data-tick]")
    assert (boxes.count() == 0) == (results.job.site is None)
    if not boxes.count():
        return
    boxes.first.check(force=True)
    boxes.last.check(force=True)
    load_again(page)
    ticked = "n => document.querySelectorAll('input[data-tick]:checked').length === n"
    page.wait_for_function(ticked, arg=2, timeout=10_000)
    other = opened(page_of(results, "another build"), name="other.html")
    assert other.locator("input[data-tick]:checked").count() == 0
    boxes.last.uncheck(force=True)
    load_again(page)
    page.wait_for_function(ticked, arg=1, timeout=10_000)


@needs_browser
def test_a_record_written_on_the_phone_is_read_back(results, opened, tmp_path):
    page = opened(page_of(results))
    one, form = results.worked[0], page.locator("#line")
    typed = {"batch": "B-7", "initials": "=AP", "note": 'wet, "cold"', "date": "2026-12-03", "expiry": "2027-03-31"}
    dose = "9" if results.job.equipment.stroke is None else str(one.number)
    depth = page.evaluate("JSON.parse(document.getElementById('record').textContent).rows[0][4]")
    typed |= {"depth_to_tip": depth, "injected": "09:00", "set": "09:05", "cleaned": "yes", "full": "yes"}
    typed |= {"concrete_temperature": "55" if results.job.units == "us" else "12", "pack_temperature": "20"}
    typed |= {"dose": dose, "strokes": dose}

    def fill():
        for field in form.locator("[data-column]").all():
            name = field.get_attribute("data-column").split(" [")[0]
            choose = field.evaluate("e => e.tagName") == "SELECT"
            field.select_option(typed[name]) if choose else field.fill(typed[name])
        form.locator("button").click()

    first = form.locator("[name=holes]").input_value()
    fill()
    load_again(page)
    assert page.locator("#lines li").count() == 1
    assert form.locator("[name=holes]").input_value() != first
    assert form.locator("[data-column=batch]").input_value() == "B-7"
    fill()
    page.locator("#lines button").last.click()  # a line is taken back
    with page.expect_download() as caught:
        page.locator("#save").click()
    path = tmp_path / caught.value.suggested_filename
    caught.value.save_as(path)
    assert path.name == "hole-record.csv"
    text = path.read_text(encoding="utf-8")
    assert page.locator("#text").input_value() == text
    assert not any(cell[:1] in ("=", "+", "-", "@") for row in csv.reader(io.StringIO(text)) for cell in row)
    record = read_hole_record(path, job=results.job, worked=results.worked)
    (line,) = record.lines
    assert (line.mark, line.batch, line.initials, line.note) == (one.case.mark, "B-7", "=AP", 'wet, "cold"')
    assert (line.full, line.cleaned, line.injected, line.set) == (True, True, 540.0, 545.0)
    assert line.depth_to_tip == pytest.approx(one.case.drilled_to, abs=1e-3)
    assert not record.of("plan")
    assert not record.of("incomplete")


def test_a_users_text_is_no_markup(folder):
    folder.schedule(
        "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,drawing,note",
        'A</script><b>,4,16,20,200,,down,,"""><img src=x>",',
    )
    text = page_of(compute(folder.load()))
    assert "<b>," not in text
    assert "<img" not in text
    assert text.count("</script>") == 2
    assert "A&lt;/script&gt;&lt;b&gt;" in text
