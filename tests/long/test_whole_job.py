"""One whole job from an empty folder, in JupyterLab alone: begun, filled, built, changed, compared and signed."""

import base64
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from calc.work.load import load_job

IDLE = '.jp-Notebook-ExecutionIndicator[data-status="idle"]'
FIELD = '.dp-fields .widget-inline-hbox:has(label:text-is("{}")) :is(input, textarea, select)'
NINE = "\n".join(
    f"P{i}\t{10 * i}\t#{bar}\t{hole}\t{deep}\t\tdown\t\trow {i}"
    for i, (bar, hole, deep) in enumerate(
        [(4, "5/8", 5), (4, "5/8", 6), (5, "3/4", 7), (5, "3/4", 8), (6, "1", 9), (6, "1", 10), (7, "1-1/8", 11)]
        + [(7, "1-1/8", 12), (8, "1-1/4", 12)],
        start=1,
    )
)


@pytest.fixture(scope="module")
def page(browser, tmp_path_factory):
    folder = tmp_path_factory.mktemp("empty")
    home = tmp_path_factory.mktemp("home")
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    config = home / "config"
    config.mkdir()
    (config / "jupyter_server_config.py").write_text(
        f"c.ServerApp.port = {port}\nc.ServerApp.port_retries = 0\nc.ServerApp.allow_root = True\n"
        "c.IdentityProvider.token = ''\nc.ServerApp.password = ''\nc.LabApp.news_url = None\n"
    )
    settings = home / "s" / "@jupyterlab" / "notebook-extension" / "tracker.jupyterlab-settings"
    settings.parent.mkdir(parents=True)
    settings.write_text('{"windowingMode": "none"}')
    env = os.environ | {
        "JUPYTER_CONFIG_DIR": str(config),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "w"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "s"),
    }
    with (home / "log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, "-P", "-m", "calc", "lab", "--no-browser"],
            cwd=folder, env=env, stdout=log, stderr=subprocess.STDOUT, start_new_session=True,
        )  # fmt: skip
    try:
        for _ in range(240):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/api/status", timeout=2)
                break
            except OSError:
                assert server.poll() is None, (home / "log").read_text()
                time.sleep(0.5)
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.address, page.folder = f"http://127.0.0.1:{port}", folder
        page.goto(f"{page.address}/")
        page.wait_for_selector(IDLE, timeout=120_000)
        page.wait_for_timeout(2_000)
        page.click(".lm-MenuBar-item >> text=Run")
        page.click(".lm-Menu-item[data-command='runmenu:run-all']")
        page.wait_for_selector(FIELD.format("Folder of the new job"), timeout=120_000)
        yield page
        page.close()
    finally:
        os.killpg(server.pid, 15)
        server.wait(timeout=30)


def keep(page, name):
    if folder := os.environ.get("WORKBOOK_SCREENSHOTS"):
        page.screenshot(path=str(Path(folder) / f"job_{name}.png"))


def fill(page, label, text):
    field = page.locator(FIELD.format(label)).locator("visible=true").first
    if field.evaluate("e => e.tagName") == "SELECT":
        field.select_option(text)
    else:
        field.fill(text)
        field.press("Tab")


def section(page, title):
    head = page.locator(f'button.fp-head:has-text("{title}:")')
    if "chevron-right" in head.inner_html():
        head.click()
        page.wait_for_timeout(1_500)
        for more in page.locator('.fp-body button:has-text("more"):visible').all():
            if re.fullmatch(r"\s*\d+ more\s*", more.inner_text()) and "mod-active" not in more.get_attribute("class"):
                more.click()
    page.wait_for_timeout(300)
    return page.locator(f'.widget-vbox:has(> button.fp-head:has-text("{title}:"))').last


def save(page, title):
    part = section(page, title)
    part.locator('button:text-matches("^ ?Save$"):visible').first.click()
    try:
        part.locator('.dp-saved:has-text("Saved to"):visible').first.wait_for(timeout=60_000)
    except Exception:
        keep(page, "not_saved")
        raise
    assert page.locator(".dp-sentence:visible").count() == 0, page.inner_text(".dp-sentence")


def done(page, words, timeout=300_000):
    page.wait_for_selector(f'.dp-saved:has-text("{words}")', timeout=timeout)


def test_a_job_is_begun(page):
    keep(page, "begin")
    fill(page, "Folder of the new job", "pump-house")
    fill(page, "Units", "US customary")
    page.click('button:has-text("Begin")')
    page.wait_for_selector('button.fp-head:has-text("The job:")', timeout=60_000)
    page.wait_for_timeout(2_000)
    keep(page, "opened")
    assert (page.folder / "pump-house" / "notebooks" / "01_dose_per_hole.ipynb").is_file()


def test_head_and_record(page):
    section(page, "The job")
    fill(page, "Job number, needed", "Q-7")
    fill(page, "Title, needed", "Ties of a pump house (invented)")
    save(page, "The job")
    section(page, "The product's record")
    keep(page, "record")
    fill(page, "Name of the product, needed", "Invented resin")
    fill(page, "Density of the mixed adhesive", "98 lb/ft³")
    fill(page, "Density of the mixed adhesive: approval and page", "U-0, Table 7")
    rows = page.locator('.dp-fields .widget-textarea:has(label:text-matches("^Working time")) textarea:visible')
    rows.fill("at 40 °F, time 70 min\nat 90 °F, time 11 min")
    rows.press("Tab")
    rows = page.locator('.dp-fields .widget-textarea:has(label:text-matches("^Curing time:")) textarea:visible').first
    rows.fill("at 40 °F, time 26 h\nat 90 °F, time 3 h")
    rows.press("Tab")
    save(page, "The product's record")
    assert 'density = "U-0, Table 7"' in (page.folder / "pump-house" / "adhesive.toml").read_text(encoding="utf-8")


def test_nine_groups_are_pasted(page):
    section(page, "Bar schedule")
    page.locator(".dp-grid textarea:visible").fill(NINE)
    page.locator(".dp-grid textarea:visible").press("Tab")
    page.click('.dp-grid button:has-text("Take these rows")')
    page.wait_for_timeout(1_500)
    page.click('.dp-grid button[title="Delete row 1"]')
    page.click('.dp-grid button:has-text("Save to the schedule")')
    page.wait_for_selector('button.fp-head:has-text("9 groups")', timeout=60_000)
    keep(page, "bars")
    assert len(load_job(page.folder / "pump-house").groups) == 9


def test_scatter_and_site_then_doses(page):
    section(page, "Overfill and scatter")
    fill(page, "Hole diameter, deviation", "mean 0.004 in, sd 0.002 in")
    fill(page, "A shot, relative deviation from the set dose", "mean 0, sd 0.01")
    save(page, "Overfill and scatter")
    section(page, "Site")
    for label, text in {
        "Crews, needed": "1",
        "Drilling machines, needed": "1",
        "Beginning of the shift, needed": "07:00",
        "Length of the shift, needed": "8 h",
        "Injecting a hole": "45 s",
        "Setting a bar": "40 s",
        "Fitting a new mixer": "30 s",
        "Putting in a new pack": "45 s",
        "Name, of one that is there or a new one": "drawn",
        "Dust drawn off at the bit while drilling, needed": "yes",
    }.items():
        fill(page, label, text)
    for label, text in {
        "^Temperature of the concrete": "at 07:00, temperature 54 °F",
        "^What is done to a hole": "do drill, per metre 7 min\ndo vacuum, time 15 s",
    }.items():
        rows = page.locator(f'.dp-fields .widget-textarea:has(label:text-matches("{label}")) textarea:visible').first
        rows.fill(text)
        rows.press("Tab")
    keep(page, "site")
    save(page, "Site")
    answer = page.inner_text(".fp-scroll >> nth=0")
    assert "fl oz" in answer
    assert "P9" in answer
    assert load_job(page.folder / "pump-house").site is not None


def test_the_package_is_built_and_its_pdf_opened(page):
    page.click('button:has-text("Build the package")')
    done(page, "Built: Q-7-A")
    keep(page, "built")
    link = page.locator('a:has-text("Open the PDF of Q-7-A")')
    link.click()
    page.wait_for_selector('.lm-TabBar-tab:has-text("calculation.pdf")', timeout=60_000)
    page.click('.lm-TabBar-tab:has-text("00_job") >> nth=0')
    pdf = page.folder / "pump-house" / "exports" / "Q-7-A" / "calculation.pdf"
    served = page.request.get(f"{page.address}/api/contents/pump-house/exports/Q-7-A/calculation.pdf?content=1").json()
    assert base64.b64decode(served["content"]) == pdf.read_bytes()
    if shutil.which("pdftotext"):
        text = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
        assert "Ties of a pump house" in text
        assert "P9" in text


def test_a_change_is_revision_b_compared_and_signed(page):
    fill(page, "Revision of this calculation, needed", "B")
    save(page, "The job")
    section(page, "Overfill and scatter")
    fill(page, "Overfill, where a fixed share is wanted", "0.15")
    save(page, "Overfill and scatter")
    page.click('button:has-text("Build the package")')
    done(page, "Built: Q-7-B")
    page.wait_for_timeout(1_000)
    fill(page, "Earlier revision", "Q-7-A")
    page.click('button:text-is("Compare")')
    done(page, "overfill")
    keep(page, "compared")
    fill(page, "Your name", "A. Person")
    page.click('button:text-is("Sign")')
    done(page, "prepared by A. Person")
    keep(page, "signed")
    assert (page.folder / "pump-house" / "exports" / "Q-7-B" / "signoff.json").is_file() or list(
        (page.folder / "pump-house" / "exports" / "Q-7-B").glob("*sign*")
    )
