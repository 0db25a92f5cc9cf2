"""JupyterLab in headless Chromium, one server for all notebooks: what the tests with a browser share."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from calc.package.notebooks import FOLDER

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
IDLE = '.jp-Notebook-ExecutionIndicator[data-status="idle"]'
RESULT = ".dosepanel .widget-html:has(.dp-result), .dosepanel .widget-html:has(.dp-sentence)"


@pytest.fixture(scope="session")
def lab_home(tmp_path_factory):
    home = tmp_path_factory.mktemp("lab")
    shutil.copytree(FOLDER, home / "notebooks")
    return home


@pytest.fixture(scope="session")
def lab(lab_home):
    home = lab_home
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        "--no-browser",
        "--allow-root",
        f"--port={port}",
        "--ServerApp.port_retries=0",
        "--IdentityProvider.token=",
        "--ServerApp.password=",
        f"--ServerApp.root_dir={home / 'notebooks'}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.news_url=None",
    ]
    env = {
        **os.environ,
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "w"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "s"),
    }
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


@pytest.fixture(scope="session")
def browser():
    from playwright.sync_api import sync_playwright

    if CHROMIUM is None and not os.environ.get("WORKBOOK_NO_SKIP"):
        pytest.skip("no Chromium on this machine")
    flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]  # fmt: skip
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=flags)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def shoot():
    """Keep a screenshot, when a folder for them is named."""

    def take(page, name):
        folder = os.environ.get("WORKBOOK_SCREENSHOTS")
        if folder:
            if page.locator(RESULT).count():
                page.locator(RESULT).scroll_into_view_if_needed()
            page.screenshot(path=str(Path(folder) / f"{name}.png"))

    return take


@pytest.fixture(scope="module")
def run_notebook(browser, lab, shoot):
    """Open a notebook in a workspace of its own, run all cells, and wait until a field of its panel is there."""
    pages = []

    def run(name, field, folder=""):
        page = browser.new_page(viewport={"width": 1500, "height": 1600})
        pages.append(page)
        page.goto(f"{lab}/lab/workspaces/{name}/tree/{folder}{name}.ipynb")
        page.wait_for_selector(".jp-Notebook", timeout=90_000)
        page.wait_for_selector(IDLE, timeout=90_000)
        page.wait_for_timeout(2_000)
        for left in (1, 0):  # on a busy machine the kernel may come up after the click
            if page.locator("dialog, .jp-Dialog").count():  # JupyterLab may ask which kernel to start
                page.click(".jp-Dialog .jp-mod-accept")
                page.wait_for_selector(".jp-Dialog", state="detached")
            page.click("text=Run >> nth=0")
            page.click("text=Run All Cells >> nth=0")
            try:
                page.wait_for_selector(".dosepanel .dp-fields, .ls-scene", timeout=90_000)
                for fold in page.locator('button:has-text("More fields"):visible').all():
                    fold.click()
                page.wait_for_selector(field, timeout=90_000)
                break
            except Exception:
                shoot(page, f"failed_{name}")
                if not left:
                    raise
        page.wait_for_selector(IDLE, timeout=90_000)
        return page

    yield run
    for page in pages:
        page.close()
