"""What `lab` opens: a job's first page beside it, or a page to choose one; and the short job of `start`."""

import pytest

from calc import cli
from calc.files.job import demo_job
from calc.package.notebooks import FIRST, FOLDER


@pytest.fixture
def opened(monkeypatch):
    """The server's arguments, in place of the server."""
    calls = []
    monkeypatch.setattr(cli.subprocess, "call", lambda command, **_: calls.append(command) or 0)
    return calls


def test_a_job_is_served_with_its_packages_and_copies(tmp_path, opened):
    assert cli.main(["start", str(tmp_path / "job"), "--units", "us", "--minimal"]) == 0
    assert cli.main(["lab", str(tmp_path / "job"), "--no-browser"]) == 0
    assert f"--ServerApp.root_dir={tmp_path / 'job'}" in opened[0]
    assert f"--LabApp.default_url=/lab/tree/notebooks/{FIRST}.ipynb" in opened[0]
    copies = {path.name for path in (tmp_path / "job" / "notebooks").glob("*.ipynb")}
    assert {path.name for path in FOLDER.glob("*.ipynb")} <= copies


def test_without_a_job_the_page_offers_one_and_what_is_there_stays(tmp_path, opened, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "notebooks").mkdir()
    (tmp_path / "notebooks" / "01_dose_per_hole.ipynb").write_text("mine")
    for arguments in (["lab"], ["lab", str(demo_job())]):
        assert cli.main(arguments) == 0
        assert f"--ServerApp.root_dir={tmp_path}" in opened[-1]
    assert (tmp_path / "notebooks" / f"{FIRST}.ipynb").is_file()
    assert (tmp_path / "notebooks" / "01_dose_per_hole.ipynb").read_text() == "mine"


def test_a_job_with_errors_is_told_before_anything_opens(tmp_path, opened, capsys):
    cli.main(["start", str(tmp_path / "job"), "--minimal"])
    (tmp_path / "job" / "job.toml").write_text("schema = 1\n")
    assert cli.main(["lab", str(tmp_path / "job")]) == 2
    assert "job.toml" in capsys.readouterr().err
    assert not opened
