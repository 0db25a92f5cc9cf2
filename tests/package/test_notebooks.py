"""Working copies: what people write in them is never lost, and touches no package."""

import os
import shutil

import nbformat
import pytest

from calc.base.errors import NotAccepted
from calc.files.job import demo_job
from calc.package import notebooks
from calc.package.notebooks import (
    ASKED,
    FIRST,
    FOLDER,
    NOTED,
    NotebookError,
    calculation_notebooks,
    numbered_notebooks,
    run,
    working_copies,
)
from calc.show.view import BLOCK_TYPE
from calc.work.load import load_job
from calc.work.places import SESSION, located, open_job


@pytest.fixture
def job(folder):
    return folder.load()


def _changed(path, change):
    book = nbformat.read(path, as_version=4)
    change(book)
    nbformat.write(book, path)
    return path.read_bytes()


def test_copies_open_the_job_they_stand_beside(job, monkeypatch):
    place = working_copies(job)
    assert place == job.folder / "notebooks"
    names = {path.name for path in place.glob("*.ipynb")}
    assert names == {path.name for path in numbered_notebooks()} | {f"{FIRST}.ipynb"}
    assert (place / "lesson" / "why_fill_volume_matters.ipynb").is_file()
    book = nbformat.read(place / "01_dose_per_hole.ipynb", as_version=4)
    assert not any(cell.get("outputs") for cell in book.cells)
    assert (book.cells[-1].source, book.cells[-1].metadata.tags) == (ASKED, [NOTED])
    nbformat.validate(book)
    parameter = next(cell.source for cell in book.cells if "parameters" in cell.metadata.get("tags", ()))
    monkeypatch.chdir(place)
    assert eval(parameter.partition("=")[2].partition("#")[0]) == "../job.toml"
    assert open_job("../job.toml").path.resolve() == job.path.resolve()


def test_the_first_notebook_runs_as_a_copy(job):
    place = working_copies(job)
    done = run(place / "01_dose_per_hole.ipynb", cwd=place)
    (table,) = [cell for cell in done.cells if cell.source.startswith("view.dose_table")]
    rows = table.outputs[0].data[BLOCK_TYPE]["rows"]
    assert [row[0] for row in rows] == ["A", "B"]


def test_what_somebody_wrote_stays(job, monkeypatch, tmp_path_factory):
    place = working_copies(job)
    mine = place / "01_dose_per_hole.ipynb"
    theirs = _changed(mine, lambda book: book.cells.append(nbformat.v4.new_markdown_cell("mine")))
    run_once = _changed(place / "02_overfill_and_waste.ipynb", lambda book: book.cells[1].update(execution_count=7))
    assert working_copies(job) == place
    assert mine.read_bytes() == theirs
    assert (place / "02_overfill_and_waste.ipynb").read_bytes() == run_once

    newer = tmp_path_factory.mktemp("newer") / "notebooks"
    shutil.copytree(FOLDER, newer)
    for path in newer.glob("0[12]_*.ipynb"):
        _changed(path, lambda book: book.cells.append(nbformat.v4.new_markdown_cell("newer in the workbook")))
    monkeypatch.setattr(notebooks, "FOLDER", newer)
    told = []
    working_copies(job, told.append)
    assert (place / "01_dose_per_hole-kept-1.ipynb").read_bytes() == theirs
    assert "newer in the workbook" in mine.read_text(encoding="utf-8")
    assert "newer in the workbook" in (place / "02_overfill_and_waste.ipynb").read_text(encoding="utf-8")
    assert not (place / "02_overfill_and_waste-kept-1.ipynb").exists()
    (one,) = told
    assert "01_dose_per_hole-kept-1.ipynb" in one


@pytest.mark.parametrize(
    "text", ["", "{", '{"cells": 3}', '{"nbformat": 4, "nbformat_minor": 5, "metadata": {}}', "\udcff"]
)
def test_a_copy_that_is_no_notebook_any_longer_is_kept_aside(job, text):
    place = working_copies(job) / "01_dose_per_hole.ipynb"
    place.write_bytes(text.encode("utf-8", "surrogateescape"))
    working_copies(job)
    assert place.with_name("01_dose_per_hole-kept-1.ipynb").read_bytes() == text.encode("utf-8", "surrogateescape")
    nbformat.validate(nbformat.read(place, as_version=4))


def test_no_copies_beside_a_demo():
    with pytest.raises(NotebookError, match="is a demo"):
        working_copies(load_job(demo_job()))
    assert not (demo_job().parent / "notebooks").exists()


def test_a_path_is_looked_for_at_the_copy_the_job_and_here(job, monkeypatch, tmp_path_factory):
    place, here = working_copies(job), tmp_path_factory.mktemp("here")
    monkeypatch.chdir(here)
    for folder in (here, job.folder, place):
        (folder / "x.toml").write_text(str(folder), encoding="utf-8")
        monkeypatch.setenv(SESSION, str(place / "01_dose_per_hole.ipynb"))
        assert located("x.toml").read_text(encoding="utf-8") == str(folder)
    monkeypatch.delenv(SESSION)
    assert located("x.toml").read_text(encoding="utf-8") == str(here)
    assert located(here / "nowhere") == here / "nowhere"  # a whole path means itself; its reader refuses it
    monkeypatch.setenv(SESSION, str(place / "01_dose_per_hole.ipynb"))
    with pytest.raises(NotAccepted) as refused:
        open_job("nowhere/job.toml")
    said = str(refused.value)
    for folder, what in (
        (place, "the notebook's folder"),
        (job.folder, "the job's folder"),
        (here, "the current folder"),
    ):
        assert f"{folder.resolve()} ({what})" in said
    monkeypatch.setenv(SESSION, "")
    with pytest.raises(NotAccepted) as refused:
        located("nowhere")
    assert str(refused.value).count(os.fspath(here.resolve())) == 1


def test_a_package_is_made_of_the_workbooks_own_notebooks(job, monkeypatch):
    place = working_copies(job)
    for path in place.glob("*.ipynb"):
        _changed(path, lambda book: book.cells.insert(0, nbformat.v4.new_code_cell("1/0")))
    monkeypatch.chdir(place)
    monkeypatch.setenv(SESSION, str(place / "01_dose_per_hole.ipynb"))
    paths = calculation_notebooks()
    assert [path.parent for path in paths] == [FOLDER] * 5
    done = run(paths[0], cwd=place, parameters={"job_file": "../job.toml"})
    assert "ZeroDivisionError" not in nbformat.writes(done)
    asks = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(f"import os\nprint(os.environ.get({SESSION!r}))")])
    nbformat.write(asks, place / "asks.ipynb")
    assert run(place / "asks.ipynb", cwd=place).cells[0].outputs[0].text == "None\n"
