"""The projector view in headless Chromium.

Every scene, every control, right and wrong answers, a class of twelve, both sizes of screen.
"""

import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import psutil
import pytest

from calc.base.units import convert
from calc.lesson.exercises import exercises
from calc.lesson.projector import SCENES
from calc.lesson.room import STAGES
from calc.lesson.server import command, environment, page

(
    pytest.importorskip("voila", reason="the projector view's extra is not installed")
    if not os.environ.get("WORKBOOK_NO_SKIP")
    else None
)

SMALL, LARGE = {"width": 1024, "height": 768}, {"width": 1920, "height": 1080}
TWELVE = ["14 mL", "17 mL", "18 cm³", "20 mL", "21 mL", "22 mL", "23 mL", "25 mL", "26 mL", "1.8 in³", "33 mL", "40 mL"]
ERROR = re.compile(r"Traceback|\bnan\b|\binf\b|undefined|Error|\{\w+\}", re.IGNORECASE)


@pytest.fixture(scope="module")
def projector(tmp_path_factory):
    home = tmp_path_factory.mktemp("projector")
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    env = environment(home) | {"JUPYTER_CONFIG_DIR": str(home / "config"), "JUPYTER_DATA_DIR": str(home / "data")}
    log = (home / "log").open("w")
    book = page(home, keep=home / "lesson-class-1.json")
    server = subprocess.Popen(command(book, port=port, browser=False), env=env, stdout=log, stderr=subprocess.STDOUT)
    try:
        for _ in range(240):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/voila/static/none", timeout=2)
                break
            except urllib.error.HTTPError:
                break
            except OSError:
                assert server.poll() is None, (home / "log").read_text()
                time.sleep(0.25)
        yield f"http://127.0.0.1:{port}/", server
    finally:
        server.terminate()
        server.wait(timeout=20)
        log.close()


@pytest.fixture(scope="module")
def deck(projector, browser):
    context = browser.new_context(viewport=SMALL, has_touch=True)
    page = context.new_page()
    page.set_default_timeout(10_000)
    page.outside, page.complaints = [], []

    def guard(route):
        url = route.request.url
        if url.startswith(("http://127.0.0.1", "data:", "blob:")):
            route.continue_()
        else:
            page.outside.append(url)
            route.abort()

    page.route("**/*", guard)
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.goto(projector[0], timeout=60_000)
    page.wait_for_selector(".ls-deck .ls-output .ls-out", timeout=60_000)
    yield page
    context.close()


def settle(page):
    """Wait until what is shown has not changed for a moment and is there."""
    page.wait_for_function("""async () => {
           const all = () => document.querySelector('.ls-deck').innerHTML, one = all();
           await new Promise(r => setTimeout(r, 110));
           const out = document.querySelector('.ls-output .ls-out');
           const now = [...document.querySelectorAll('.ls-stage')].findIndex(e => e.classList.contains('ls-now'));
           const fits = () => now < 0 || out.matches('.ls-out-' + ['predict', 'try', 'reveal'][now])
             || out.querySelector('.ls-wrong');
           return one === all() && out && !!fits(); }""")


def go(page, key, stage="predict"):
    number = [one.key for one in SCENES].index(key)
    page.select_option(".ls-jump select", index=number)
    page.wait_for_selector(f".ls-scene.ls-{key}")
    if key != "exercises":
        page.click(f".ls-stage >> nth={STAGES.index(stage)}")
        page.wait_for_selector(f".ls-out-{stage}")
    settle(page)


def keep(page, name):
    folder = os.environ.get("WORKBOOK_SCREENSHOTS")
    if folder:
        page.screenshot(path=str(Path(folder) / f"lesson_{name}.png"))


def field(page, words):
    return page.locator(f'.ls-side .widget-text:has(label:has-text("{words}")) input')


def shown(page):
    return page.inner_text(".ls-output")


WHERE = """() => document.querySelector('.ls-scene').className
  + [...document.querySelectorAll('.ls-stage')].findIndex(e => e.classList.contains('ls-now'))"""
LOOK = """() => {
  const found = [], box = e => e.getBoundingClientRect();
  const name = e => (e.className.baseVal ?? e.className) + ' ' + (e.textContent || '').slice(0, 30);
  const boxes = ['.ls-head', '.ls-stagebox', '.ls-foot', '.ls-side', '.ls-output', '.ls-out', '.ls-out > *',
    '.ls-tell > *', '.ls-formula'];
  for (const s of boxes) for (const e of document.querySelectorAll('.ls-deck ' + s)) {
    if (e.scrollHeight > e.clientHeight + 1 || e.scrollWidth > e.clientWidth + 1) {
      found.push(`${s} scrolls: ${e.scrollWidth}x${e.scrollHeight} in ${e.clientWidth}x${e.clientHeight}`); }
  }
  const groups = ['.ls-deck .ls-side > *', '.ls-deck .ls-out > *', '.ls-deck .ls-tell > *', '.ls-deck .ls-look > *',
    '.ls-deck .ls-head > *', '.ls-deck .ls-foot > *', '.ls-deck .ls-paper svg text'];
  for (const s of groups) {
    const all = [...document.querySelectorAll(s)].filter(e => box(e).width > 0 && box(e).height > 0);
    for (let i = 0; i < all.length; i++) for (let j = i + 1; j < all.length; j++) {
      const a = box(all[i]), b = box(all[j]);
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (wide > 1.5 && high > (s.includes('text') ? 4 : 1.5)) {
        found.push(`overlap in ${s}: ${name(all[i])} | ${name(all[j])} by ${wide.toFixed(0)}x${high.toFixed(0)}`); }
    }
  }
  const svg = document.querySelector('.ls-deck .ls-paper svg');
  if (svg) for (const e of svg.querySelectorAll('text')) {
    const t = box(e), r = box(svg);
    if (t.left < r.left - 1 || t.right > r.right + 1) found.push('cut off: ' + e.textContent);
  }
  for (const e of document.querySelectorAll('.ls-deck button')) {
    const r = box(e);
    if (r.width && (r.height < 30 || r.right > innerWidth + 1 || r.bottom > innerHeight + 1))
      found.push('button: ' + name(e));
    if (e.scrollWidth > e.clientWidth + 1) found.push('words of a button cut: ' + name(e));
  }
  // Read from 6 m off a screen 2 m wide, 16 minutes of arc are 28 mm: 1.4 % of the width, .73 of the size of letters.
  const large = '.ls-answer, .ls-finding, .ls-guess, .ls-good, .ls-bad, .ls-choice, .ls-question p';
  const texts = document.createTreeWalker(document.querySelector('.ls-deck'), NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const e = texts.currentNode.parentElement, words = texts.currentNode.textContent.trim();
    if (!words || e.closest('style, script, [hidden], annotation, option') || !box(e).width) continue;
    const size = parseFloat(getComputedStyle(e).fontSize) * (e.closest('.ls-paper svg') ? e.getScreenCTM().d : 1);
    if (size < 13.99) found.push(`small: ${size.toFixed(1)} px, ${words}`);
    if (e.closest(large) && size * .73 < .0139 * innerWidth) found.push(`not large: ${size.toFixed(1)} px, ${words}`);
  }
  return found;
}"""


def test_every_scene_by_the_keyboard_on_a_small_projector(deck):
    seen = []
    for _ in range(60):
        settle(deck)
        key = next(one.key for one in SCENES if deck.locator(f".ls-scene.ls-{one.key}").count())
        stage = deck.evaluate(
            "() => [...document.querySelectorAll('.ls-stage')].findIndex(e => e.classList.contains('ls-now'))"
        )
        seen.append((key, stage))
        assert not ERROR.search(deck.inner_text(".ls-deck")), seen[-1]
        assert deck.evaluate(LOOK) == [], seen[-1]
        keep(deck, f"1024_{len(seen):02d}_{key}_{stage}")
        if deck.is_disabled(".ls-next"):
            break
        before = deck.evaluate(WHERE)
        deck.keyboard.press("PageDown" if len(seen) % 2 else "ArrowRight")
        deck.wait_for_function(f"old => ({WHERE})() !== old", arg=before)
    assert [key for key, _ in dict.fromkeys(seen)] == [
        one.key for one in SCENES for _ in ((0, 1, 2) if one.key != "exercises" else (0,))
    ]
    assert deck.outside == []
    assert deck.complaints == []


def test_every_slider_moves_what_is_shown(deck):
    for scene in SCENES:
        go(deck, scene.key, "try")
        for number in range(deck.locator(".ls-slider .noUi-handle").count()):
            if not deck.locator(".ls-slider .noUi-handle").nth(number).is_visible():
                continue
            before = shown(deck)
            handle = deck.locator(".ls-slider .noUi-handle").nth(number)
            rail = deck.locator(".ls-slider .noUi-target").nth(number).bounding_box()
            start = handle.bounding_box()
            deck.mouse.move(start["x"] + 14, start["y"] + 14)
            deck.mouse.down()
            deck.mouse.move(rail["x"] + rail["width"] * 0.45, start["y"] + 14, steps=4)
            deck.mouse.move(rail["x"] + rail["width"] * 0.83, start["y"] + 14, steps=4)
            deck.mouse.up()
            deck.wait_for_function("old => document.querySelector('.ls-output').innerText !== old", arg=before)
            settle(deck)
            assert not ERROR.search(shown(deck))
            assert deck.evaluate(LOOK) == [], (scene.key, number)
        keep(deck, f"moved_{scene.key}")


def test_every_list_changes_what_is_shown(deck):
    for key in ("ring", "halffull", "dust"):
        go(deck, key, "try")
        for number in range(deck.locator(".ls-side select").count()):
            choices = deck.locator(".ls-side select").nth(number)
            for option in range(choices.locator("option").count()):
                choices.select_option(index=option)
                settle(deck)
                assert not ERROR.search(shown(deck))
                assert deck.evaluate(LOOK) == [], (key, number, option)


def test_a_guess_by_touch_is_judged(deck):
    go(deck, "ring")
    deck.tap(".ls-choice >> nth=2")
    deck.wait_for_selector(".ls-choice.ls-chosen >> nth=0")
    deck.tap(".ls-next")
    deck.wait_for_selector(".ls-out-try")
    deck.tap(".ls-next")
    deck.wait_for_selector(".ls-out-reveal .ls-guess")
    assert "A surprise" in shown(deck)
    assert deck.locator(".ls-formula math").count() == 1
    assert deck.evaluate(LOOK) == []


def test_nonsense_leaves_no_number_on_the_screen(deck):
    go(deck, "push", "try")
    entry = field(deck, "Bar pushed in")
    for wrong in ("5,500 mm", "ten", "900 mm"):
        entry.fill(wrong)
        entry.press("Enter")
        deck.wait_for_selector(".ls-wrong")
        assert deck.locator(".ls-paper").count() == 0
        assert not ERROR.search(shown(deck))
    entry.fill("100 mm")
    entry.press("Enter")
    deck.wait_for_selector(".ls-paper svg")
    entry.press("ArrowRight")  # the field keeps its arrow keys
    assert deck.locator(".ls-scene.ls-push .ls-out-try").count() == 1


def test_a_class_of_twelve(deck):
    go(deck, "eye")
    entry = field(deck, "Amounts")
    for number, text in enumerate(TWELVE, 1):
        entry.fill(text)
        entry.press("Enter")
        deck.wait_for_function(
            "n => document.querySelector('.ls-output').innerText.includes(n + ' entered.')", arg=number
        )
    entry.fill("20")
    entry.press("Enter")
    deck.wait_for_selector(".ls-wrong")
    entry.fill("")
    entry.press("Enter")
    deck.wait_for_selector(".ls-paper svg")
    deck.click(".ls-next")
    deck.wait_for_selector(".ls-out-try .ls-paper svg")
    settle(deck)
    assert "22.6" not in deck.inner_html(".ls-output")  # what is needed comes last
    assert deck.evaluate(LOOK) == []
    deck.click(".ls-next")
    deck.wait_for_selector(".ls-out-reveal .ls-paper svg")
    settle(deck)
    assert "needed: 22.6 mL" in deck.inner_html(".ls-output")
    assert "6 of 12 holes stay short" in shown(deck)
    assert "Had all used the first one's amount, 14.0 mL: 12 of 12 short" in shown(deck)
    assert deck.evaluate(LOOK) == []
    keep(deck, "class_of_twelve")


def test_ten_weighed_shots(deck):
    go(deck, "shots", "try")
    typed = {
        "The dispenser": "25 mL",
        "Density": "1.6 g/mL",
        "Ten shots": "40 g; 40.2 g; 39.8 g; 40.1 g; 39.9 g; 40.6 g; 40.3 g; 39.1 g; 40 g; 40.4 g",
    }
    for words, text in typed.items():
        field(deck, words).fill(text)
        field(deck, words).press("Enter")
    deck.wait_for_selector(".ls-paper svg")
    settle(deck)
    assert "Overfill for this scatter alone" in shown(deck)
    assert deck.evaluate(LOOK) == []
    keep(deck, "ten_shots")


def test_exercises_right_and_wrong(deck):
    go(deck, "exercises")
    entry = field(deck, "Your answer")
    ring = exercises("metric", 1)[0]
    for tries, text in ((1, f"{convert(ring.answer, 'mm³', 'mL') / 4:.4f} mL"), (2, "1 mL")):
        entry.fill(text)
        entry.press("Enter")
        deck.wait_for_function(
            "n => document.querySelector('.ls-output').innerText.includes('Wrong tries: ' + n)", arg=tries
        )
        if tries == 1:
            assert "half the diameter" in shown(deck)
            assert not deck.locator(".ls-show").is_visible()
        assert ring.answer_text not in shown(deck)
    deck.click(".ls-show")
    deck.wait_for_function(
        "t => document.querySelector('.ls-output').innerText.includes(t)", arg=f"The answer is {ring.answer_text}"
    )
    keep(deck, "exercise_shown")
    deck.click("text=Exercise ▶")
    deck.wait_for_function("() => document.querySelector('.ls-output').innerText.includes('Exercise 2 of 6')")
    assert ring.answer_text not in shown(deck)
    share = exercises("metric", 1)[1]
    entry.fill(f"{share.answer:.3f} %")
    entry.press("Enter")
    deck.wait_for_function("() => document.querySelector('.ls-output').innerText.includes('✓ Right')")
    assert deck.evaluate(LOOK) == []
    keep(deck, "exercise_right")
    sheet = deck.get_attribute(".ls-sheet", "href")
    assert sheet.startswith("data:text/csv")


@pytest.mark.parametrize(("units", "language"), [("us", "en"), ("metric", "de")])
def test_every_scene_on_a_large_screen(deck, units, language):
    """With the class's dots and shots still in it, in the other units and the other language.

    All of its scenes.
    """
    deck.set_viewport_size(LARGE)
    deck.select_option(".ls-language select", label={"en": "English", "de": "Deutsch"}[language])
    settle(deck)
    deck.select_option(".ls-units select", label={"us": "in, fl oz", "metric": "mm, mL"}[units])
    settle(deck)
    seen = []
    for scene in SCENES:
        for stage in STAGES if scene.key != "exercises" else STAGES[:1]:
            go(deck, scene.key, stage)
            assert not ERROR.search(deck.inner_text(".ls-deck")), (scene.key, stage)
            seen += [(scene.key, stage, one) for one in deck.evaluate(LOOK)]
            if units == "us" and scene.key not in ("dust", "exercises", "shots"):
                assert not re.search(r"\d m[mL]\b", shown(deck)), (scene.key, stage)
            keep(deck, f"1920_{units}_{language}_{scene.key}_{stage}")
    deck.set_viewport_size(SMALL)
    settle(deck)
    small = deck.evaluate(LOOK)
    deck.select_option(".ls-language select", label="English")
    settle(deck)
    assert not seen, "\n".join(map(str, seen))
    assert small == []
    assert deck.complaints == []


def test_actions_are_counted_not_events(deck):
    """A click that leaves the field is one try, Tab is none, Enter is one."""
    go(deck, "exercises")
    deck.locator("text=/Exercise ▶|Aufgabe ▶/").click()
    field(deck, "Name").fill("Table 7")
    field(deck, "Name").press("Tab")
    entry = field(deck, "Your answer")
    tries = "n => document.querySelector('.ls-output').innerText.includes('Wrong tries: ' + n)"
    deck.wait_for_function("() => document.querySelector('.ls-output').innerText.includes('Exercise 1 of 6')")
    entry.fill("1 mL")
    deck.click(".ls-take")
    deck.wait_for_function(tries, arg=1)
    entry.fill("2 mL")
    entry.press("Tab")
    entry.fill("3 mL")
    entry.press("Enter")
    deck.wait_for_function(tries, arg=2)
    settle(deck)
    assert "Wrong tries: 2" in shown(deck)


def kernels(server):
    return [one for one in psutil.Process(server.pid).children() if any("ipykernel" in word for word in one.cmdline())]


def test_a_page_loaded_again_goes_on_and_leaves_no_kernel(deck, projector):
    go(deck, "eye", "reveal")
    settle(deck)
    before = shown(deck)
    for _ in range(2):
        deck.reload(timeout=60_000)
        deck.wait_for_selector(".ls-eye .ls-out-reveal .ls-paper svg", timeout=60_000)
    settle(deck)
    assert shown(deck) == before
    assert "lesson-class-1.json" in deck.inner_text(".ls-notes")
    for _ in range(50):
        if len(kernels(projector[1])) == 1:
            break
        time.sleep(0.1)
    assert len(kernels(projector[1])) == 1


def test_a_foreign_host_is_refused(projector):
    asked = urllib.request.Request(projector[0], headers={"Host": "elsewhere.example"})
    with pytest.raises(urllib.error.HTTPError, match="403"):
        urllib.request.urlopen(asked, timeout=10)


def test_a_page_without_its_program_says_so(deck, projector):
    projector[1].terminate()
    projector[1].wait(timeout=20)
    deck.click(".ls-back")
    deck.wait_for_selector("p.ls-gone:visible")
    assert "does not answer" in deck.inner_text("p.ls-gone")  # the class was left in German above


@pytest.mark.skipif(os.name == "nt", reason="no such signal")
def test_a_request_to_end_ends_everything(tmp_path):
    code = "import sys; from calc.lesson.server import serve; sys.exit(serve(browser=False, seed=5))"
    run = subprocess.Popen(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={**os.environ, "JUPYTER_CONFIG_DIR": str(tmp_path / "config"), "JUPYTER_DATA_DIR": str(tmp_path / "data")},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    address = next(found.group() for line in run.stdout if (found := re.search(r"http://127\S+", line)))
    urllib.request.urlopen(address, timeout=60).read()  # starts a kernel
    started = psutil.Process(run.pid).children(recursive=True)
    assert len(started) >= 2
    run.terminate()
    assert run.wait(timeout=30) == 0
    _, alive = psutil.wait_procs(started, timeout=5)
    assert alive == []
    assert [path.name for path in tmp_path.glob("lesson-*")] == ["lesson-class-5.json"]


def test_the_answers_pictures_have_a_height_in_jupyterlab(run_notebook):
    page = run_notebook("why_fill_volume_matters", ".ls-scene", "lesson/")
    for scene in SCENES:
        if scene.key in ("exercises", "eye", "dust", "shots"):  # no picture before the class typed, or none at all
            continue
        page.locator(f".ls-{scene.key} .ls-stage").nth(2).click()
        picture = page.locator(f".ls-{scene.key} .ls-out-reveal .ls-paper svg")
        picture.wait_for()
        assert picture.bounding_box()["height"] > 200, scene.key
