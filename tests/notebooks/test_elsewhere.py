"""A working copy under what else runs notebooks: papermill with its parameter, Voilà, Notebook 7."""

import importlib.util
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import nbformat
import pytest

from calc.files.job import demo_job
from calc.package.notebooks import calculation_notebooks, working_copies
from calc.show.view import BLOCK_TYPE
from calc.work.load import load_job

PATIENCE = 120  # s
ROOT = Path(__file__).parents[2]


def needs(name):
    return pytest.mark.skipif(importlib.util.find_spec(name) is None, reason=f"{name} is not installed")


@pytest.fixture
def copies(tmp_path):
    shutil.copytree(demo_job("us").parent, tmp_path / "job")
    return working_copies(load_job(tmp_path / "job"))


@needs("papermill")
@pytest.mark.parametrize("path", calculation_notebooks(), ids=lambda path: path.stem)
def test_papermill_runs_each_with_its_parameter(copies, path, tmp_path, monkeypatch):
    """From a third folder, whose paths the parameter is in."""
    import papermill

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]))
    out = tmp_path / "ran.ipynb"
    papermill.execute_notebook(
        str(copies / path.name), str(out), parameters={"job_file": "job"}, kernel_name="python3", progress_bar=False
    )
    book = nbformat.read(out, as_version=4)
    assert not any(one.output_type == "error" for cell in book.cells for one in cell.get("outputs", ()))
    shown = [one for cell in book.cells for one in cell.get("outputs", ()) if BLOCK_TYPE in one.get("data", {})]
    assert len(shown) > 4
    assert load_job("job").groups[0].mark in nbformat.writes(book)


@contextmanager
def served(*words, cwd):
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    env = os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])}
    command = [sys.executable, "-m", *words, f"--port={port}", "--no-browser"]
    log = (cwd / "server.log").open("w")
    server = subprocess.Popen(command, cwd=cwd, env=env, stdout=log, stderr=log)
    address = f"http://127.0.0.1:{port}"
    try:
        end = time.monotonic() + PATIENCE
        while True:
            with socket.socket() as s:
                if s.connect_ex(("127.0.0.1", port)) == 0:
                    break
            assert server.poll() is None, (cwd / "server.log").read_text()
            assert time.monotonic() < end, (cwd / "server.log").read_text()
            time.sleep(0.3)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)
        log.close()


@needs("voila")
def test_voila_shows_a_copy_with_its_job(copies):
    with (
        served("voila", str(copies / "01_dose_per_hole.ipynb"), "--Voila.ip=127.0.0.1", cwd=copies.parent) as address,
        urllib.request.urlopen(address, timeout=PATIENCE) as answer,
    ):
        page = answer.read().decode()
    assert answer.status == 200
    assert "Traceback" not in page
    job = load_job(copies.parent)
    assert all(group.mark in page for group in job.groups)


@needs("notebook")
def test_notebook_7_opens_a_copy(copies):
    quiet = ("--allow-root", "--IdentityProvider.token=seen", f"--ServerApp.root_dir={copies.parent}")
    with served("notebook", *quiet, cwd=copies.parent) as address:
        name = "notebooks/01_dose_per_hole.ipynb"
        with urllib.request.urlopen(f"{address}/notebooks/{name}?token=seen", timeout=PATIENCE) as answer:
            assert re.search(r"<title>[^<]*Notebook", answer.read().decode())
        with urllib.request.urlopen(f"{address}/api/contents/{name}?token=seen", timeout=PATIENCE) as answer:
            cells = json.load(answer)["content"]["cells"]
        assert "../job.toml" in "".join(cell["source"] for cell in cells)
