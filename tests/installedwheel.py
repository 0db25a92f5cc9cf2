"""The wheel, built and installed as somebody who may not write to the installation would have it."""

import importlib.util
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
import venv
from contextlib import contextmanager
from pathlib import Path

import pytest

from calc.base.command import COMMAND

ROOT = Path(__file__).parents[1]
PATIENCE = 120  # s
# Root may write anywhere; without its privileges it may not, as anybody else who did not install the workbook.
UNPRIVILEGED = ["setpriv", "--bounding-set=-all", "--inh-caps=-all"] if getattr(os, "geteuid", lambda: 1)() == 0 else []


def build_wheel(out):
    """Build it from the checkout; skips where hatchling is missing."""
    if importlib.util.find_spec("hatchling") is None:
        if os.environ.get("WORKBOOK_NO_SKIP"):
            raise AssertionError("hatchling is not installed")
        pytest.skip("hatchling, which builds the wheel, is not installed")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(out)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (made,) = out.glob("*.whl")
    return made


def fetch(address):
    """Return what a server answers; one says where it will be before it is there."""
    end = time.monotonic() + PATIENCE
    while True:
        try:
            with urllib.request.urlopen(address, timeout=PATIENCE) as answer:
                return answer.read()
        except urllib.error.URLError as error:
            if isinstance(error, urllib.error.HTTPError) or time.monotonic() > end:
                raise
            time.sleep(0.5)


def may_not_write():
    """Skip where the one who runs the tests may write anywhere."""
    if UNPRIVILEGED and shutil.which("setpriv") is None:
        pytest.skip("root may write anywhere, and setpriv, which takes that away, is not there")


class Installed:
    """The command of an environment in which the wheel is installed, as somebody who may not write there."""

    def __init__(self, home, wheel, *, whole=False):
        """Install the wheel: ``whole`` with all that it depends on, from the registry; else beside what is here."""
        self.home, self.place = home, home / "empty"
        self.place.mkdir()
        venv.create(home / "env", with_pip=whole)
        pip = [sys.executable, "-m", "pip", "--python", str(home / "env"), "install", "-q"]
        if whole:
            pinned = ["-c", str(ROOT / ".constraints.txt"), f"{wheel}[lesson]"]
            subprocess.run([*pip, *pinned], check=True, capture_output=True)
        else:
            subprocess.run([*pip, "--no-deps", "--no-index", str(wheel)], check=True, capture_output=True)
            # Folders that such a file names are places of modules; files of this kind in them are not followed.
            (packages,) = (home / "env").glob("[lL]ib/python*/site-packages")
            own = [entry for entry in sys.path if entry.endswith("site-packages")]
            (packages / "dependencies.pth").write_text("\n".join(own) + "\n", encoding="utf-8")
        self.python = home / "env" / "bin" / "python"
        config = home / "config"
        config.mkdir()
        quiet = {"ServerApp": {"allow_root": True, "open_browser": False, "port_retries": 50, "token": "seen"}}
        (config / "jupyter_server_config.json").write_text(json.dumps(quiet), encoding="utf-8")
        self.env = {key: value for key, value in os.environ.items() if key not in ("PYTHONPATH", "VIRTUAL_ENV")} | {
            "HOME": str(home / "home"),
            "PYTHONDONTWRITEBYTECODE": "1",
            "BROWSER": "true",
            "JUPYTER_CONFIG_DIR": str(config),
        }
        if not whole:
            self.env |= {
                "JUPYTER_CONFIG_PATH": str(Path(sys.prefix, "etc", "jupyter")),
                "JUPYTER_PATH": str(Path(sys.prefix, "share", "jupyter")),
                "JUPYTERLAB_DIR": str(Path(sys.prefix, "share", "jupyter", "lab")),
            }
        (home / "home").mkdir()
        for path in (home / "env", *(home / "env").rglob("*")):
            if not path.is_symlink():
                path.chmod(path.stat().st_mode & ~0o222)

    def release(self):
        """Let the folders be removed again."""
        for path in (self.home / "env", *(self.home / "env").rglob("*")):
            if path.is_dir() and not path.is_symlink():
                path.chmod(0o755)

    def words(self, *words):
        return [*UNPRIVILEGED, str(self.python.with_name(COMMAND)), *map(str, words)]

    def run(self, *words, status=0):
        done = subprocess.run(
            self.words(*words), cwd=self.place, env=self.env, capture_output=True, text=True, check=False
        )
        assert done.returncode == status, (words, done.stdout, done.stderr)
        assert "Traceback" not in done.stderr
        return done.stdout

    @contextmanager
    def served(self, *words, address):
        """Start a command that serves until it is stopped; yields the address that it says."""
        log = self.home / f"{words[0]}.log"
        with log.open("w") as out:
            server = subprocess.Popen(
                self.words(*words), cwd=self.place, env=self.env, stdout=out, stderr=out, start_new_session=True
            )
        try:
            end = time.monotonic() + PATIENCE
            while not (found := re.search(address, log.read_text(encoding="utf-8"))):
                assert server.poll() is None, log.read_text(encoding="utf-8")
                assert time.monotonic() < end, log.read_text(encoding="utf-8")
                time.sleep(0.3)
            yield found[0]
        finally:
            for end_by in (signal.SIGINT, signal.SIGTERM, signal.SIGKILL):
                try:
                    os.killpg(server.pid, end_by)
                    server.wait(timeout=20)
                    break
                except (ProcessLookupError, subprocess.TimeoutExpired):
                    continue
