"""Jobs and packages for the tests.

A small job's folder, the demos, the metric demo built once, a small package without a build.
"""

import json
import shutil
import time

import pytest
from jobparts import Folder

from calc.files.job import demo_job
from calc.package.build import build, doses_csv
from calc.package.manifest import COMPANIONS, MANIFEST, SCHEMA, hashes, sealed, software
from calc.work.load import load_job
from calc.work.results import compute

JOB = """\
schema = 1
[job]
number = "T-1"
revision = "A"
title = "A job for tests"
invented = true
[display]
units = "metric"
[adhesive]
record = "adhesive.toml"
[equipment]
pack_volume = "400 mL"
residual = "10 mL"
discard_per_mixer = "20 mL"
graduation = "1 mL"
point_angle = "130 °"
[overfill]
share = 0.10
reason = "for tests"
[schedule]
file = "schedule.csv"
"""
SCHEDULE = """\
mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note
S1,96,8,12,110,,overhead,0.20,
W4,40,20,25,300,20,horizontal,,
P5,24,25,32,360,,down,,
"""


@pytest.fixture
def folder(tmp_path):
    return Folder(tmp_path)


@pytest.fixture(params=["metric", "us"])
def demo(request, tmp_path):
    shutil.copytree(demo_job(request.param).parent, tmp_path / "demo")
    return load_job(tmp_path / "demo")


@pytest.fixture(scope="session")
def demo_package(tmp_path_factory):
    start = time.monotonic()
    folder, _ = build(demo_job(), out=tmp_path_factory.mktemp("built"))
    (folder.parent / "seconds").write_text(f"{time.monotonic() - start}", encoding="utf-8")
    return folder


@pytest.fixture
def demo_copy(demo_package, tmp_path):
    return shutil.copytree(demo_package, tmp_path / "demo")


@pytest.fixture
def reseal():
    """Write a package's manifest anew, as somebody would who changes a whole package and not one file."""

    def write(folder, **changed):
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        (folder / MANIFEST).unlink()
        files = {name: digest for name, digest in hashes(folder).items() if name not in COMPANIONS}
        content = {key: value for key, value in manifest.items() if key != "digest"} | {"files": files} | changed
        (folder / MANIFEST).write_text(sealed(content), encoding="utf-8", newline="\n")

    return write


@pytest.fixture
def recomputed(reseal):
    """Make results and manifest fit changed inputs, as a build of another revision would."""

    def write(folder, **changed):
        results = compute(load_job(folder / "inputs"))
        (folder / "results.json").write_text(results.text(), encoding="utf-8", newline="\n")
        (folder / "doses.csv").write_text(doses_csv(results), encoding="utf-8", newline="\n")
        reseal(folder, **changed)

    return write


@pytest.fixture
def package(tmp_path, recomputed):
    """A small package: its documents are stand-ins, its inputs, results and manifest are real."""
    folder = tmp_path / "package"
    (folder / "inputs").mkdir(parents=True)
    (folder / "inputs" / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "inputs" / "adhesive.toml").write_text('name = "Nothing"\ninvented = true\n', encoding="utf-8")
    (folder / "inputs" / "schedule.csv").write_text(SCHEDULE, encoding="utf-8")
    (folder / "notebooks").mkdir()
    (folder / "notebooks" / "01_dose.ipynb").write_text('{"cells": []}', encoding="utf-8")
    (folder / "hand-check.pdf").write_bytes(b"%PDF")
    about = {
        "schema": SCHEMA,
        "number": "T-1",
        "revision": "A",
        "job_file": "job.toml",
        "made": "2026-11-25T12:00:00+00:00",
    }
    (folder / MANIFEST).write_text(sealed(about | software() | {"files": {}}), encoding="utf-8", newline="\n")
    recomputed(folder)
    return folder


@pytest.fixture
def edit():
    """Replace a text in a file, once."""

    def write(file, old, new):
        text = file.read_bytes().decode("utf-8")
        assert old in text, old
        file.write_bytes(text.replace(old, new, 1).encode("utf-8"))

    return write
