"""The notebook in JupyterLab, in headless Chromium: run all cells, change a control, enter nonsense."""

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

from calc.report.notebooks import FOLDER

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
if CHROMIUM is None and not os.environ.get("WORKBOOK_NO_SKIP"):
    pytest.skip("no Chromium on this machine", allow_module_level=True)


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    home = tmp_path_factory.mktemp("lab")
    shutil.copytree(FOLDER, home / "notebooks")
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", f"--port={port}", "--ServerApp.port_retries=0",
               "--IdentityProvider.token=", "--ServerApp.password=", f"--ServerApp.root_dir={home / 'notebooks'}",
               "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.news_url=None"]  # fmt: skip
    env = {**os.environ, "JUPYTER_CONFIG_DIR": str(home / "config"), "JUPYTER_DATA_DIR": str(home / "data"), "JUPYTERLAB_WORKSPACES_DIR": str(home / "w"),
           "JUPYTERLAB_SETTINGS_DIR": str(home / "s")}  # fmt: skip
    # JupyterLab draws only the cells in view unless told otherwise.
    settings = home / "s" / "@jupyterlab" / "notebook-extension" / "tracker.jupyterlab-settings"
    settings.parent.mkdir(parents=True)
    settings.write_text('{"windowingMode": "none"}')
    log = (home / "log").open("w")
    server = subprocess.Popen(command, env=env, stdout=log, stderr=subprocess.STDOUT)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(240):
            try:
                urllib.request.urlopen(f"{address}/api/status", timeout=2)
                break
            except OSError:
                assert server.poll() is None, (home / "log").read_text()
                time.sleep(0.5)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)
        log.close()


@pytest.fixture(scope="module")
def page(lab):
    from playwright.sync_api import sync_playwright

    flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]  # fmt: skip
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=flags)
        page = browser.new_page(viewport={"width": 1500, "height": 1600})
        page.goto(f"{lab}/lab/tree/01_dose_per_hole.ipynb")
        page.wait_for_selector(".jp-Notebook", timeout=90_000)
        page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]', timeout=90_000)
        page.wait_for_timeout(2_000)
        if page.locator("dialog, .jp-Dialog").count():  # JupyterLab may ask which kernel to start
            page.click(".jp-Dialog .jp-mod-accept")
            page.wait_for_selector(".jp-Dialog", state="detached")
        page.click("text=Run >> nth=0")
        page.click("text=Run All Cells >> nth=0")
        try:
            page.wait_for_selector(FIELD["hole_diameter"], timeout=90_000)
        except Exception:
            shoot(page, "failed")
            raise
        page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]', timeout=90_000)
        yield page
        browser.close()


FIELD = {"hole_diameter": '.dp-fields .widget-text:has(label:has-text("Hole diameter")) input'}
RESULT = ".dosepanel .widget-html:has(.dp-result), .dosepanel .widget-html:has(.dp-sentence)"
PICTURE = ".dp-paper svg"


def result(page) -> str:
    return page.inner_text(RESULT)


def enter(page, name: str, text: str) -> None:
    page.fill(FIELD[name], text)
    page.press(FIELD[name], "Enter")


def shoot(page, name: str) -> None:
    folder = os.environ.get("WORKBOOK_SCREENSHOTS")
    if folder:
        if page.locator(RESULT).count():
            page.locator(RESULT).scroll_into_view_if_needed()
        page.screenshot(path=str(Path(folder) / f"{name}.png"))


def test_changing_the_hole_changes_the_dose(page):
    before = result(page)
    shoot(page, "panel")
    assert re.search(r"\d+ mL", before)
    enter(page, "hole_diameter", "14 mm")
    page.wait_for_function("([s, old]) => document.querySelector(s).innerText !== old", arg=[RESULT, before], timeout=30_000)
    after = result(page)
    assert re.search(r"\d+ mL", after)
    assert page.locator(PICTURE).count() == 1


@pytest.mark.parametrize("nonsense", ["14,5 mm", "14", "a fist", "7 mm", "-3 mm"])
def test_nonsense_gets_a_sentence_in_place_of_the_result(page, nonsense):
    enter(page, "hole_diameter", "14 mm")
    page.wait_for_function("s => /\\d mL/.test(document.querySelector(s).innerText)", arg=RESULT, timeout=30_000)
    enter(page, "hole_diameter", nonsense)
    page.wait_for_function("s => !/\\d mL/.test(document.querySelector(s).innerText)", arg=RESULT, timeout=30_000)
    shoot(page, "nonsense")
    said = result(page)
    assert "Traceback" not in said
    assert len(said.split()) >= 5
    assert page.locator(PICTURE).count() == 0


def test_no_cell_shows_an_error(page):
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert "Traceback" not in page.inner_text(".jp-Notebook")
