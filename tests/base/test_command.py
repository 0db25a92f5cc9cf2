"""Code never comes from where one stands: not for a command, and not for a kernel that runs there."""

import os
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

from calc import cli
from calc.base.command import COMMAND, import_nothing_from_here, safe_environment
from calc.package.notebooks import FOLDER, run

ROOT = Path(__file__).resolve().parents[2]
# What Python, the command and a kernel import by these names is never what lies beside a package's manifest.
PLANTED = ("json", "numpy", "calc", "argparse", "re", "typing", "sitecustomize", "ipykernel_launcher")
# What pip writes for the entry point of pyproject.toml.
LAUNCHER = "import sys\nfrom calc.cli import main\nif __name__ == '__main__':\n    sys.exit(main())\n"


@pytest.fixture
def mark(package, tmp_path):
    """A package in which modules lie that leave a mark when anybody runs them; returns the mark's place."""
    place = tmp_path / "ran"
    for name in PLANTED:
        (package / f"{name}.py").write_text(f"open({str(place)!r}, 'a').write('{name} ')\n", encoding="utf-8")
    return place


@pytest.fixture
def ways(tmp_path):
    """The ways to call the workbook: its console script, as installed or as pip would write it, and ``-P``."""
    script = Path(sys.executable).with_name(COMMAND)
    if script.exists() and not os.environ.get("PYTHONPATH"):
        return [[str(script)], [sys.executable, "-P", "-m", "calc"]]
    launcher = tmp_path / "bin" / COMMAND
    launcher.parent.mkdir()
    launcher.write_text(LAUNCHER, encoding="utf-8")
    return [[sys.executable, str(launcher)], [sys.executable, "-P", "-m", "calc"]]


def _said(command, cwd):
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False)
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout + done.stderr


def test_what_lies_in_a_package_is_never_run(package, mark, ways):
    outside = _said([*ways[0], "recheck", "--quick", str(package)], ROOT)
    assert "json.py" in outside[1]  # told as a file that nobody built
    for way in ways:
        assert _said([*way, "recheck", "--quick", "."], package) == outside
    assert not mark.exists(), mark.read_text(encoding="utf-8")


def test_without_p_only_a_module_of_our_own_name_is_run(package, mark):
    """What `python -m calc` cannot help: Python takes a calc.py of the present folder before any line of ours."""
    assert _said([sys.executable, "-m", "calc", "recheck", "--quick", "."], package) == (0, "")
    assert mark.read_text(encoding="utf-8") == "calc "
    mark.unlink()
    (package / "calc.py").unlink()
    assert "json.py" in _said([sys.executable, "-m", "calc", "recheck", "--quick", "."], package)[1]
    assert not mark.exists(), mark.read_text(encoding="utf-8")


def test_a_kernel_imports_nothing_from_its_folder(package, mark, tmp_path, monkeypatch):
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join((str(ROOT), "")))
    lines = "import json, numpy, calc.base.command\nprint(calc.base.command.__file__)"
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(lines)])
    nbformat.write(notebook, tmp_path / "asks.ipynb")
    (cell,) = run(tmp_path / "asks.ipynb", cwd=package).cells
    assert cell.outputs[0].text.strip() == str(ROOT / "calc" / "base" / "command.py")
    assert not mark.exists(), mark.read_text(encoding="utf-8")


def test_the_lab_is_not_started_where_one_stands(package, monkeypatch):
    started = []
    monkeypatch.setattr(cli.subprocess, "call", lambda command, **how: started.append((command, how)) or 0)
    monkeypatch.chdir(package)
    assert cli.main(["lab"]) == 0
    ((_, how),) = started
    assert how["cwd"] == FOLDER
    assert how["env"]["PYTHONSAFEPATH"] == "1"


def test_the_checkout_stays_a_place_of_modules(monkeypatch, ways):
    """`recheck .` in the checkout, or above the environment, ends in a sentence and not in a missing module."""
    for folder, way in ((ROOT, [sys.executable, "-m", "calc"]), (Path(sys.prefix), ways[0])):
        code, said = _said([*way, "recheck", "--quick", "."], folder)
        assert (code, said.split(" ")[:2]) == (2, ["numbers:", "UNREADABLE:"])
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(sys, "path", ["", str(ROOT), "/elsewhere"])
    import_nothing_from_here()
    assert sys.path == ["", str(ROOT), "/elsewhere"]


def test_a_place_that_means_the_present_folder_is_left_out(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", ["", ".", str(tmp_path), str(tmp_path / "below")])
    import_nothing_from_here()
    assert sys.path == [str(tmp_path / "below")]
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(("", ".", "below", "/elsewhere")))
    assert safe_environment()["PYTHONPATH"] == os.pathsep.join((str(tmp_path / "below"), "/elsewhere"))
    monkeypatch.setenv("PYTHONPATH", "")
    assert "PYTHONPATH" not in safe_environment()


def test_the_command_has_one_name(capsys):
    with pytest.raises(SystemExit):
        cli.main(["--help"])
    assert capsys.readouterr().out.startswith(f"usage: {COMMAND} ")
    assert f'{COMMAND} = "calc.cli:main"' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for name in ("README.md", "DEVELOPERS.md"):
        assert "python -m calc" not in (ROOT / name).read_text(encoding="utf-8")
