"""A bug is a fault of the workbook: command line, panel and reader say so, and never that an entry is wrong."""

import shlex
import subprocess
import sys

import pydantic
import pytest

from calc import cli
from calc.base.errors import FAULT, CalcError, NotAccepted, NotListed
from calc.base.formula import RangeError
from calc.files.job import demo_job
from calc.files.reading import validated
from calc.fill.level import level_in_tip
from calc.show.dose.panel import DosePanel
from calc.work.load import load_job


def _bug(*_):
    raise ValueError("math domain error")


def test_the_command_line_tells_a_bug_apart(monkeypatch, capsys):
    monkeypatch.setitem(cli._COMMANDS, "schema", _bug)
    assert cli.main(["schema"]) == 3
    said = capsys.readouterr().err
    assert FAULT in said
    assert "Traceback" in said


def test_the_command_line_says_a_refusal_and_no_more(monkeypatch, capsys):
    def refuse(_):
        raise NotAccepted("'7' is too many; accepted: up to 6")

    monkeypatch.setitem(cli._COMMANDS, "schema", refuse)
    assert cli.main(["schema"]) == 2
    assert capsys.readouterr().err == "'7' is too many; accepted: up to 6\n"


def _called(shell, folder):
    return subprocess.run(["bash", "-c", shell], cwd=folder, capture_output=True, text=True, timeout=60)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows deletes no folder that somebody stands in")
def test_a_closed_pipe_and_a_deleted_folder_end_in_a_sentence(tmp_path):
    command = f"{shlex.quote(sys.executable)} -P -m calc schema"
    done = _called(f"set -o pipefail; {command} | true", tmp_path)
    assert (done.returncode, done.stderr) == (
        2,
        "Nobody reads the output any longer: the rest of it was not written.\n",
    )
    done = _called(f"mkdir gone; cd gone; rmdir ../gone; {command}", tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith("The folder that this command runs in was deleted")
    assert "Traceback" not in done.stderr


def test_a_panel_tells_a_bug_apart_and_shows_no_old_result(monkeypatch):
    panel = DosePanel(load_job(demo_job()))
    assert panel.result is not None
    monkeypatch.setattr(panel, "compute", _bug)
    with pytest.raises(ValueError, match="math domain"):
        panel.update()
    assert panel.result is None
    assert panel.message == FAULT
    assert "math domain" not in panel.output.value


class _Table(pydantic.BaseModel):
    value: float = 0.0
    wrong: float = 0.0

    @pydantic.field_validator("value")
    @classmethod
    def _refused(cls, value: float) -> float:
        raise NotAccepted("is no good; accepted: nothing")

    @pydantic.field_validator("wrong")
    @classmethod
    def _stumbles(cls, value: float) -> float:
        return float("no number")


def test_a_validator_that_stumbles_is_no_wrong_entry():
    problems = []
    assert validated(_Table, {"value": 1.0}, "job.toml", problems) is None
    assert [p.message for p in problems] == ["is no good; accepted: nothing"]
    with pytest.raises(ValueError, match="could not convert") as caught:
        validated(_Table, {"value": 1.0, "wrong": 1.0}, "job.toml", [])
    assert not isinstance(caught.value, CalcError)


def test_a_formula_without_a_result_names_what_it_was_given():
    with pytest.raises(RangeError, match=r"^level_in_tip has no result for V = 1, V_t = 0, .*division by zero"):
        level_in_tip(V=1.0, V_t=0.0, h_t=4.0, l_hole=100.0)


def test_what_is_not_listed_is_said_without_quotation_marks():
    job = load_job(demo_job())
    with pytest.raises(NotListed) as caught:
        job.group("no such mark")
    assert str(caught.value).startswith("no bar group has the mark 'no such mark'; there are: ")
