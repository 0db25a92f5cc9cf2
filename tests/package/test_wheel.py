"""The wheel, installed where nobody may write, used from an empty folder: every notebook, demo and template is in it.

It has an environment of its own, in which nothing but the wheel is installed; what it depends on is that of the
environment that the tests run in. tests/long installs all of it from the registry.
"""

import importlib.util
import json
import subprocess
import zipfile
from pathlib import Path

import nbformat
import pytest
from installedwheel import ROOT, UNPRIVILEGED, Installed, build_wheel, fetch, may_not_write

from calc.package.notebooks import FOLDER


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    return build_wheel(tmp_path_factory.mktemp("wheel"))


def test_everything_is_in_it_that_a_checkout_has(wheel):
    """Each file of the code, tracked by git, and each notebook; and nothing else."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "calc", "notebooks"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split("\n")
    wanted = {name if name.startswith("calc/") else f"calc/{name}" for name in listed if (ROOT / name).is_file()}
    with zipfile.ZipFile(wheel) as file:
        found = {name for name in file.namelist() if ".dist-info/" not in name}
    assert found == wanted
    assert sum(name.startswith("calc/notebooks/") for name in found) >= 7


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    may_not_write()
    made = Installed(tmp_path_factory.mktemp("installed"), wheel)
    yield made
    made.release()


def test_what_runs_is_the_wheel_and_cannot_be_written(installed):
    asks = "import calc, calc.package.notebooks as n; print(calc.__file__); print(n.FOLDER)"
    done = subprocess.run(
        [*UNPRIVILEGED, str(installed.python), "-P", "-c", asks],
        env=installed.env,
        capture_output=True,
        text=True,
        check=True,
    )
    code, notebooks = map(Path, done.stdout.split("\n")[:2])
    assert code.is_relative_to(installed.home / "env")
    assert notebooks == code.parent / "notebooks"
    assert {path.name for path in notebooks.glob("*.ipynb")} == {path.name for path in FOLDER.glob("*.ipynb")}
    touched = subprocess.run([*UNPRIVILEGED, "touch", str(code.parent / "x")], capture_output=True, check=False)
    assert touched.returncode != 0


def test_start_check_build_and_recheck(installed):
    installed.run("start", "job")
    assert "checks pass" in installed.run("check", "job")
    assert "36 %" in installed.run("dose", "16", "20", "200")
    installed.run("build", "job")
    (package,) = (installed.place / "exports").iterdir()
    assert {path.name for path in (package / "notebooks").iterdir()} == {
        path.name for path in FOLDER.glob("0[1-5]_*.ipynb")
    }
    said = installed.run("recheck", package)
    assert "numbers: IDENTICAL" in said
    assert "documents: AS BUILT" in said


def test_working_copies_run_beside_the_job(installed):
    installed.run("start", "copied", "--units", "us")
    asks = (
        "from calc.package.notebooks import run, working_copies; from calc.work.load import load_job; import nbformat\n"
        "place = working_copies(load_job('copied'))\n"
        "nbformat.write(run(place / '01_dose_per_hole.ipynb', cwd=place), place / 'ran.ipynb')\n"
        "run(place / '06_review.ipynb', cwd=place)\n"  # which makes packages out of the demo, for practice
    )
    done = subprocess.run(
        [*UNPRIVILEGED, str(installed.python), "-P", "-c", asks],
        cwd=installed.place,
        env=installed.env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    ran = nbformat.read(installed.place / "copied" / "notebooks" / "ran.ipynb", as_version=4)
    assert "#4" in nbformat.writes(ran)


def test_the_lab_serves(installed):
    with installed.served("lab", address=r"http://(localhost|127\.0\.0\.1):\d+/lab\S*") as address:
        base = address.partition("/lab")[0]
        assert json.loads(fetch(f"{base}/api/contents?token=seen"))["content"]
        assert b"jupyter-config-data" in fetch(f"{base}/lab?token=seen")


def test_the_lesson_serves(installed):
    if importlib.util.find_spec("voila") is None:
        pytest.skip("the lesson's server, voila, is not installed")
    with installed.served("lesson", address=r"http://(localhost|127\.0\.0\.1):\d+") as address:
        assert b"Lesson" in fetch(address)
