"""Jobs and packages for the tests.

A small job's folder, the demos, the metric demo built once, a small package without a build.
"""

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import jobparts
import pytest
from jobparts import Folder
from labserver import browser

from calc.files.job import demo_job
from calc.package.build import build, doses_csv, package_files
from calc.package.manifest import COMPANIONS, MADE, MANIFEST, RESULTS, SCHEMA, Made, hashes, sealed, software
from calc.work.load import load_job
from calc.work.results import compute

__all__ = ["browser"]  # one for all tests of a process, since two playwrights in one do not go
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


AGAIN = """
import json, sys
from pathlib import Path
from calc.package.build import build
from calc.package.manifest import Made
package, out = map(Path, sys.argv[1:])
manifest = json.loads((package / "manifest.json").read_text(encoding="utf-8"))
print(build(package / "inputs" / manifest["job_file"], out=out, made=Made.of(manifest))[0])
"""


@pytest.fixture(scope="session")
def rebuilt(demo_package, tmp_path_factory):
    """The demo's package made again from its own inputs.

    In another folder, with another home, time zone, order of sets and number of threads, and by a person who draws
    thick lines and lets IPython begin otherwise.
    """
    home = tmp_path_factory.mktemp("another place, ä")
    own = {
        ".config/matplotlib/matplotlibrc": "lines.linewidth: 9\n",
        ".ipython/profile_default/startup/1.py": "1 / 0\n",
    }
    for name, text in own.items():
        (home / name).parent.mkdir(parents=True)
        (home / name).write_text(text, encoding="utf-8")
    other = {
        "TZ": "Pacific/Kiritimati",
        "PYTHONHASHSEED": "7",
        "HOME": str(home),
        "LC_ALL": "C",
        "OMP_NUM_THREADS": "3",
    }
    command = [sys.executable, "-P", "-c", AGAIN, str(demo_package), str(home / "out")]
    done = subprocess.run(
        command,
        cwd=home,
        env=os.environ | other | {"OMP_NUM_THREADS": "3", "PYTHONPATH": str(Path(__file__).parents[1])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return Path(done.stdout.strip())


@pytest.fixture
def demo_copy(demo_package, tmp_path):
    return shutil.copytree(demo_package, tmp_path / "demo")


STAND_IN = b"stand-in"


def carry(folder, made):
    """Write a calculation.pdf without a page that carries what a build attaches."""
    inputs = folder / "inputs"
    attached = {path.relative_to(inputs).as_posix(): path.read_bytes() for path in inputs.rglob("*") if path.is_file()}
    attached |= {RESULTS: (folder / RESULTS).read_bytes(), MADE: made.text().encode()}
    objects = [b"<</Pages 2 0 R/Names<</EmbeddedFiles<</Names[%s]>>>>/Type/Catalog>>", b"<</Kids[]>>"]
    names = []
    for name, body in attached.items():
        objects.append(b"<</UF(%s)/EF<</F %d 0 R>>>>" % (name.encode(), len(objects) + 2))
        names.append(b"(%s) %d 0 R" % (name.encode(), len(objects)))
        objects.append(b"<</Length %d>>\nstream\n%s\nendstream" % (len(body), body))
    objects[0] = objects[0] % b" ".join(names)
    written = b"".join(b"%d 0 obj\n%s\nendobj\n" % one for one in enumerate(objects, 1))
    (folder / "calculation.pdf").write_bytes(b"%PDF-1.7\n" + written)


@pytest.fixture
def reseal():
    """Write a package's manifest anew, as somebody would who changes a whole package and not one file."""

    def write(folder, **changed):
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        (folder / MANIFEST).unlink()
        content = {key: value for key, value in manifest.items() if key != "digest"} | changed
        if (folder / "hand-check.pdf").exists() and (folder / "hand-check.pdf").read_bytes() == STAND_IN:
            carry(folder, Made.of(content))
        files = {
            name: digest
            for name, digest in hashes(folder).items()
            if name not in COMPANIONS and not name.endswith(".sig")
        }
        content["files"] = changed.get("files", files)
        (folder / MANIFEST).write_text(sealed(content), encoding="utf-8", newline="\n")

    return write


@pytest.fixture
def recomputed(reseal):
    """Make results and manifest fit changed inputs, as a build of another revision would."""

    def write(folder, **changed):
        job = load_job(folder / "inputs")
        results = compute(job)
        for name in package_files(job, results):
            (folder / name).parent.mkdir(exist_ok=True)
            if not (folder / name).exists():
                (folder / name).write_bytes(STAND_IN)
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
def sign():
    """Sign a package off that is held against a copy of itself, so that nothing has to be made again."""

    return jobparts.sign


@pytest.fixture
def edit():
    """Replace a text in a file, once."""

    def write(file, old, new):
        text = file.read_bytes().decode("utf-8")
        assert old in text, old
        file.write_bytes(text.replace(old, new, 1).encode("utf-8"))

    return write
