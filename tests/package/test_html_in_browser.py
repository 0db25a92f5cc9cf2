"""calculation.html in Chromium with the network cut off.

Complete, readable at every width, in light and dark, and on paper.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import subprocess
from importlib.resources import files

import pytest

from calc.package.document.html import write_html
from calc.package.document.parts import Document, Section
from calc.show.drawing import LETTERS

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
if CHROMIUM is None and not os.environ.get("WORKBOOK_NO_SKIP"):
    pytest.skip("no Chromium on this machine", allow_module_level=True)

CONTRAST = """() => {
  const parse = text => (text.match(/[\\d.]+/g) || []).map(Number);
  const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
    .map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = element => { for (let e = element; e; e = e.parentElement) {
    const c = parse(getComputedStyle(e).backgroundColor);
    if (c.length === 3 || c[3] > 0) return c; } return [255, 255, 255]; };
  const bad = [];
  for (const element of document.body.querySelectorAll('*')) {
    if (![...element.childNodes].some(node => node.nodeType === 3 && node.data.trim())) continue;
    const [a, b] = [light(parse(getComputedStyle(element).color)), light(ground(element))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) bad.push(element.tagName + ' ' + element.textContent.slice(0, 30) + ' ' + ratio.toFixed(2));
  }
  return bad;
}"""


@pytest.fixture
def opened(browser, demo_package):
    """Open the demo's page, with all its sections open; returns the page and what it complained about."""
    contexts = []

    def open_page(width=1280, scheme="light", closed=False):
        context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme, offline=True)
        contexts.append(context)
        page = context.new_page()
        seen = {"requests": [], "failed": [], "console": []}
        page.on("request", lambda request: seen["requests"].append(request.url))
        page.on("requestfailed", lambda request: seen["failed"].append(request.url))
        page.on("console", lambda message: seen["console"].append(message.text))
        page.on("pageerror", lambda error: seen["console"].append(str(error)))
        page.goto((demo_package / "calculation.html").as_uri())
        page.wait_for_load_state("load")
        if not closed:
            page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        return page, seen

    yield open_page
    for context in contexts:
        context.close()


def shoot(page, name):
    folder = os.environ.get("WORKBOOK_SCREENSHOTS")
    if folder:
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


def test_no_request_leaves_the_file_and_nothing_complains(opened):
    page, seen = opened()
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    page.wait_for_timeout(300)
    leaving = [url for url in seen["requests"] if not url.startswith(("file:", "data:"))]
    assert leaving == []
    assert len([url for url in seen["requests"] if url.startswith("file:")]) == 1
    assert seen["failed"] == []
    assert seen["console"] == []


def test_every_formula_and_every_picture_is_drawn(opened):
    page, _ = opened()
    sizes = page.evaluate(
        "[...document.querySelectorAll('math')].map(m => { const b = m.getBoundingClientRect(); return [b.width,"
        " b.height, m.textContent]; })"
    )
    assert len(sizes) > 100
    assert [words for width, height, words in sizes if width < 2 or height < 5] == []
    fractions = page.evaluate(
        "[...document.querySelectorAll('mfrac')].map(m => [m.children[0].getBoundingClientRect(),"
        " m.children[1].getBoundingClientRect()])"
    )
    assert len(fractions) > 20
    assert all(top["bottom"] <= bottom["top"] + 2 for top, bottom in fractions), (
        "a fraction is set on one line: the browser draws no MathML"
    )
    pictures = page.evaluate(
        "[...document.images].map(i => [i.complete && i.naturalWidth > 0, i.alt.trim().split(/\\s+/).length])"
    )
    assert pictures
    assert all(drawn and words >= 3 for drawn, words in pictures)
    assert page.evaluate("document.body.innerText.match(/\\\\(frac|cdot|mathrm|begin)/)") is None


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_nothing_runs_off_the_screen(opened, width, scheme):
    page, _ = opened(width, scheme)
    shoot(page, f"calculation-{width}-{scheme}")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # What is wider than the screen scrolls inside a box of its own that the keyboard can reach.
    loose = page.evaluate(
        """() => [...document.querySelectorAll('table, math, img, pre')].filter(e =>
           e.getBoundingClientRect().width > innerWidth
        && !e.closest('.wide, .eq, pre')).map(e => e.outerHTML.slice(0, 80))"""
    )
    assert loose == []
    boxes = page.evaluate(
        "[...document.querySelectorAll('.wide, .eq, pre')].filter(e => e.scrollWidth > e.clientWidth + 1).map(e =>"
        " e.tabIndex)"
    )
    assert all(index == 0 for index in boxes)
    if width <= 390:
        assert boxes


def test_long_equations_are_one_stop_of_the_keyboard_for_each_list_of_steps(opened):
    page, _ = opened(390)
    assert page.evaluate("document.querySelectorAll('.eq[tabindex], math[tabindex]').length") == 0
    lists = page.evaluate("document.querySelectorAll('.steps').length")
    stops = page.evaluate("document.querySelectorAll('.wide[tabindex=\"0\"]:has(> .steps)').length")
    assert lists == stops > 0
    # Moved to the end of the longest equation, the words beside it are still in view.
    places = page.evaluate(
        """() => { const box = [...document.querySelectorAll('.wide:has(> .steps)')]
             .find(e => e.scrollWidth > e.clientWidth + 40);
           box.focus(); box.scrollLeft = box.scrollWidth;
           return [box.scrollLeft, ...[...box.querySelectorAll('.line, .with')].slice(0, 9)
             .flatMap(e => { const b = e.getBoundingClientRect(); return [b.left, innerWidth - b.right]; })]; }"""
    )
    assert places[0] > 0
    assert all(place >= 0 for place in places)


# On a narrow screen what depends on its width; contrast, its slowest rule, is measured below in light and dark.
@pytest.mark.parametrize(
    ("width", "rules", "closed"),
    [(1280, None, False), (1280, None, True), (390, ["target-size", "scrollable-region-focusable"], False)],
)
def test_an_independent_checker_of_accessibility_finds_nothing_serious(opened, width, rules, closed):
    # axe-core 4.12.1, carried by axe-playwright-python: WCAG 2.2 A and AA, and its own practices.
    page, _ = opened(width, closed=closed)
    page.evaluate((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8"))
    only = (
        {"runOnly": {"type": "rule", "values": rules}} if rules else {"rules": {"color-contrast": {"enabled": False}}}
    )
    found = page.evaluate("only => axe.run(document, {...only, resultTypes: ['violations']})", only)
    assert found["testEngine"]["version"]
    assert len(found["passes"]) >= (2 if rules else 20)
    told = {one["id"]: one["impact"] for one in found["violations"]}
    # It does not read MathML, and takes a row's head that is a symbol for an empty one.
    assert told == {"empty-table-header": "minor"} or told == {}


SCRIPTS = {"he": "קיר צפוני", "ar": "الجدار الشمالي", "ja": "北側壁のアンカー", "ko": "북측 벽체"}


def test_every_script_is_drawn_with_the_shapes_that_the_file_carries(browser, tmp_path):
    about = {"number": "D-1", "revision": "A", "title": f"{SCRIPTS['he']} 3", "date": "2026-11-25", "invented": True}
    about |= {"site": SCRIPTS["ja"], "prepared_by": SCRIPTS["ar"], "checked_by": SCRIPTS["ko"], "adhesive": "16 mm"}
    table = {"kind": "table", "caption": "Doses", "columns": ["Mark", "Dose [mL]"], "align": "lr"}
    table |= {"rows": [[f"{SCRIPTS['he']} 3: 24", "25"]]}
    path = tmp_path / "a.html"
    write_html(Document(about["title"], about, None, (Section("Part", (table,)),), "s"), path)
    page = browser.new_context(offline=True).new_page()
    page.goto(path.as_uri())
    page.evaluate("document.fonts.ready.then(() => 0)")
    drawn = page.evaluate("[...document.fonts].map(f => f.family.replaceAll('\"', '') + ' ' + f.status)")
    assert set(drawn) == {"Workbook Signs loaded"}
    for language, words in SCRIPTS.items():
        assert page.evaluate("code => document.querySelector(`[lang|=${code}]`).innerText", language).find(words) >= 0
        # With the embedded family alone, no letter falls back to another font: its width does not depend on that.
        assert page.evaluate(
            """words => { const canvas = document.createElement('canvas').getContext('2d');
                 const width = last => { canvas.font = `40px "Workbook Signs", ${last}`;
                   return canvas.measureText(words.replaceAll(' ', '')).width; };
                 return width('serif') === width('monospace') && width('serif') > 0; }""",
            words,
        )
    # In a line that runs left, the first number of the text stands right of the second.
    places = page.evaluate(
        """() => { const node = document.querySelector('tbody th').firstChild, text = node.data;
             return ['3', '24'].map(word => { const range = document.createRange(), at = text.indexOf(word);
               range.setStart(node, at); range.setEnd(node, at + word.length);
               return range.getBoundingClientRect().left; }); }"""
    )
    assert places[0] > places[1]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_has_contrast(opened, scheme):
    page, _ = opened(scheme=scheme)
    dark = page.evaluate("getComputedStyle(document.body).backgroundColor") != "rgb(255, 255, 255)"
    assert dark == (scheme == "dark")
    assert page.evaluate(CONTRAST) == []


def test_headings_landmarks_and_the_keyboard(opened):
    page, _ = opened()
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => +h.tagName[1])")
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    for landmark in ("main", "body > header", "body > footer", "nav:visible"):
        assert page.locator(landmark).count() == 1, landmark
    assert page.evaluate("document.documentElement.lang") == "en"
    assert page.evaluate(
        "[...document.querySelectorAll('nav, [role=region]')].every(e => e.getAttribute('aria-label') ||"
        " e.getAttribute('aria-labelledby'))"
    )
    assert page.evaluate("[...document.querySelectorAll('th')].every(e => ['col', 'row'].includes(e.scope))")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    box = page.locator(".skip").bounding_box()
    assert box
    assert box["x"] >= 0
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    # In a table the way goes along each row, so that its cells count as one place.
    tops = page.evaluate(
        "[['main a[href], main [tabindex=\"0\"]'], ['nav.side a']].map(which => [...document.querySelectorAll(which)]"
        ".filter(e => e.checkVisibility()).map(e => (e.closest('tr') || e).getBoundingClientRect().top))"
    )
    for walk in tops:
        assert len(walk) > 20
        assert all(after >= before - 40 for before, after in itertools.pairwise(walk)), (
            "the keyboard does not walk down the page"
        )


SEEN = """id => { const e = document.getElementById(id), box = e.getBoundingClientRect();
  return e.checkVisibility({contentVisibilityAuto: true}) && box.top >= 0 && box.top < innerHeight; }"""


def test_links_open_the_section_that_they_lead_into(opened):
    page, _ = opened(closed=True)
    broken = page.evaluate(
        "[...document.querySelectorAll('a[href^=\"#\"]')].filter(a =>"
        " !document.getElementById(a.getAttribute('href').slice(1))).length"
    )
    assert broken == 0
    page.click("nav.side a[href='#trace-index']")
    top = page.evaluate("document.getElementById('head-trace').getBoundingClientRect().top")
    note = page.evaluate("document.querySelector('.invented').getBoundingClientRect().bottom")
    assert note <= top < 200
    # From the trace index into the record: the section and the part of it that hold the step are opened.
    for nth in (0, -1):
        links = page.locator("#trace-index a[href^='#step-']:visible")
        target = links.nth(nth).get_attribute("href")[1:]
        assert not page.evaluate(SEEN, target)
        links.nth(nth).click()
        assert page.evaluate(SEEN, target), target
    for target in page.evaluate("[...document.querySelectorAll('#trace-index a')].map(a => a.hash.slice(1))")[::40]:
        page.goto(f"{page.url.partition('#')[0]}#{target}")
        assert page.evaluate(SEEN, target), target


def test_what_is_longer_than_a_few_screens_is_folded_and_opens_by_the_keyboard(opened):
    page, _ = opened(closed=True)
    assert page.evaluate("document.documentElement.scrollHeight") < 6000
    assert page.evaluate("document.querySelectorAll('details.part[open]').length") == 0
    heads = page.locator("details.part > summary")
    assert heads.count() == page.locator("nav.side a:not([href='#answer'])").count() > 15
    heads.first.focus()
    page.keyboard.press("Enter")
    assert page.locator("#part-1 table").first.is_visible()
    shown = page.evaluate(
        "[...document.querySelectorAll('section:has(.part) details.fold[open]')].map(e => e.querySelector('.steps'))"
    )
    assert shown
    assert not any(shown), "steps are long, and closed until somebody asks for them"


@pytest.mark.parametrize("width", [1440, 1024, 390])
def test_the_answer_comes_before_the_contents_or_beside_it(opened, width):
    page, _ = opened(width, closed=True)
    shoot(page, f"calculation-closed-{width}")
    places = page.evaluate(
        """() => ['#answer', '#signoff', 'nav.side', 'nav.inside', '.parts'].map(which => {
             const b = document.querySelector(which).getBoundingClientRect(); return [b.left, b.top, b.width]; })"""
    )
    answer, signoff, side, inside, parts = places
    assert answer[1] < 700
    if width >= 1280:
        assert side[0] + side[2] < answer[0]
        assert side[1] < answer[1]
        assert inside[2] == 0
        page.evaluate("document.querySelector('#part-4').scrollIntoView()")
        assert 0 <= page.evaluate("document.querySelector('nav.side').getBoundingClientRect().top") < 200
    else:
        assert side[2] == 0
        assert answer[1] < signoff[1] < inside[1] < parts[1]


def test_a_phone_shows_the_dose_beside_each_group_and_whose_row_it_is(opened):
    page, _ = opened(390)
    cells = page.evaluate(
        """() => [...document.querySelectorAll('#answer ~ .wide tr')].map(row => [row.cells[1].innerText,
             row.cells[1].getBoundingClientRect().right, row.cells[0].innerText])"""
    )
    assert [cells[0][0], cells[0][2]] == ["Dose", "Group"]
    assert len(cells) == 7
    assert all("mL" in words and right < 390 and mark for words, right, mark in cells[1:])
    places = page.evaluate(
        """() => { const box = document.querySelector('#answer ~ .wide'); box.scrollLeft = 400;
             return [box.scrollLeft, ...[box.querySelector('tbody th'), box.querySelector('caption span')]
               .map(e => e.getBoundingClientRect().left - box.getBoundingClientRect().left)]; }"""
    )
    assert places[0] > 100
    assert places[1:] == [0, 0]


def test_a_phone_shows_every_dose_and_every_verdict(opened):
    page, _ = opened(390)
    doses = page.evaluate(
        """() => [...document.querySelectorAll('#part-2 tbody tr')].map(row => [row.cells[1].innerText,
             row.cells[1].getBoundingClientRect().right])"""
    )
    assert len(doses) == 6
    assert all("mL" in words and right < 390 for words, right in doses)
    verdicts = page.evaluate(
        """() => [...document.querySelectorAll('table.checks td.verdict')].map(e => [e.innerText,
             e.getBoundingClientRect().right])"""
    )
    assert len(verdicts) > 100
    assert all(words and right < 390 for words, right in verdicts)


@pytest.mark.parametrize("width", [1440, 390])
def test_letters_of_pictures_are_never_smaller_than_ten_pixels(opened, width):
    page, _ = opened(width)
    scales = page.evaluate(
        """() => [...document.images].map(i => i.getBoundingClientRect().width
             / +atob(i.src.split(',')[1]).match(/viewBox="\\S+ \\S+ (\\S+) /)[1])"""
    )
    assert len(scales) > 10
    assert min(scales) * LETTERS >= 10


def test_it_prints(opened, tmp_path):
    page, _ = opened(scheme="dark", closed=True)
    page.pdf(path=str(tmp_path / "printed.pdf"), prefer_css_page_size=True)
    done = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "printed.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    pages = done.split("\f")[:-1]
    assert 5 < len(pages) < 150
    assert "Sign-off" in done
    assert "Trace index" in done
    assert "Skip to the calculation" not in done
    assert "Contents" not in done
    steps = page.locator("li.step .number").all_inner_texts()
    assert {number for number in steps if number} <= set(done.split()), (
        "a section that is closed is printed all the same"
    )
    assert sum("DEMO-M1" in page and re.search(r"page \d+ of \d+", page) is not None for page in pages) == len(pages)
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate(CONTRAST) == []
