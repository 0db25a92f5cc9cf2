"""The command that opens the projector view, and the page that it shows.

A page of one notebook cell, made for the occasion and shown by voila, so that nothing of a notebook is in sight. It is
reached from this machine only, and ends with everything that it started.
"""

from __future__ import annotations

import importlib.util
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import nbformat
from jupyter_core.paths import jupyter_path

from calc.base.command import COMMAND, safe_environment
from calc.base.errors import CalcError
from calc.lesson.projector import Lesson
from calc.lesson.room import class_file, read_class

# voila's own page asks the network for the letters of icons that the lesson does not use; a class room may have none.
_ALONE = 60  # seconds after which a page's program ends, once no page holds it
_PATIENCE = 15  # seconds for the server to end what it started
_TEMPLATE = """{%- extends 'voila/templates/lab/index.html.j2' -%}
{%- block notebook_css -%}
{{ super() | replace("https://cdn.jsdelivr.net", "data:text/css,") }}
{%- endblock notebook_css -%}
"""


def page(folder: Path, *, units: str = "metric", language: str = "en", seed: int = 1, keep: Path | None = None) -> Path:
    """Write the one-cell notebook that the projector shows.

    Parameters
    ----------
    folder
        Where it is written.
    units, language, seed, keep
        As for `Lesson`.

    Returns
    -------
    Path

    Raises
    ------
    NotAccepted
        Units, a language or a seed that is not accepted.
    """
    Lesson(units, language, seed)
    given = {"units": units, "language": language, "seed": seed, "keep": str(keep.resolve()) if keep else ""}
    code = f"from calc.lesson import Lesson\n\nLesson(**{given!r}).deck()"
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(code)])
    book.metadata = {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "title": "Lesson",
    }
    path = folder / "lesson.ipynb"
    nbformat.write(book, path)
    look = folder / "voila" / "templates" / "lesson"
    look.mkdir(parents=True, exist_ok=True)
    (look / "conf.json").write_text('{"base_template": "lab", "mimetypes": {"text/html": true}}', encoding="utf-8")
    (look / "index.html.j2").write_text(_TEMPLATE, encoding="utf-8")
    return path


def environment(folder: Path) -> dict[str, str]:
    """Return the environment in which `command` finds the page's look.

    Parameters
    ----------
    folder
        As for `page`.

    Returns
    -------
    dict of str to str
    """
    paths = [str(folder), *filter(None, [os.environ.get("JUPYTER_PATH")])]
    return {**safe_environment(), "PYDEVD_DISABLE_FILE_VALIDATION": "1", "JUPYTER_PATH": os.pathsep.join(paths)}


def _not_needed() -> list[str]:
    """Name the extensions of this JupyterLab that the page does without."""
    found = []
    for place in jupyter_path("labextensions"):
        for manifest in sorted(Path(place).glob("**/package.json")):
            name = manifest.parent.relative_to(place).as_posix()
            if name.count("/") <= name.startswith("@") and name != "@jupyter-widgets/jupyterlab-manager":
                found.append(name)
    return found


def command(notebook: Path, *, port: int | None = None, browser: bool = True) -> list[str]:
    """Return the command that shows the page.

    Parameters
    ----------
    notebook
        Of `page`.
    port
        Port on this machine; a free one without it.
    browser
        Whether a browser is opened.

    Returns
    -------
    list of str
    """
    words = [
        sys.executable,
        "-m",
        "voila",
        str(notebook),
        "--Voila.ip=127.0.0.1",
        "--VoilaConfiguration.show_tracebacks=False",
        # As JupyterLab: a page of another address that points here is refused. voila lets any in, and refuses its own
        # page's request to end its kernel, because it sends no form token; a page elsewhere does not know the kernel.
        "--Voila.tornado_settings={'allow_remote_access': False, 'disable_check_xsrf': True}",
        # What a page cannot end that crashed, ends by itself.
        f"--MappingKernelManager.cull_idle_timeout={_ALONE}",
        f"--MappingKernelManager.cull_interval={_ALONE // 4}",
    ]
    # Only the widgets are needed; other extensions of this JupyterLab would slow the page down.
    words += [*(f"--VoilaConfiguration.extension_denylist={name}" for name in _not_needed()), "--template=lesson"]
    words += [f"--port={port}"] if port else []
    return words if browser else [*words, "--no-browser"]


def serve(
    *, units: str = "metric", language: str = "en", seed: int = 1, port: int | None = None, browser: bool = True
) -> int:
    """Open the projector view and stay until it is stopped.

    Parameters
    ----------
    units, language, seed
        As for `Lesson`.
    port, browser
        As for `command`.

    Returns
    -------
    int
        Exit code of the server.

    Raises
    ------
    CalcError
        The file that keeps the class cannot be read, or voila is not installed; says how to get it, and what shows
        the lesson without it.
    """
    if importlib.util.find_spec("voila") is None:
        raise CalcError(
            "the projector view needs one more package: pip install -e '.[lesson]'. "
            f"Without it, '{COMMAND} lab' opens lesson/why_fill_volume_matters.ipynb with the same scenes."
        )
    keep = class_file(seed, Path.cwd())
    if read_class(keep) is not None:
        print(f"Class {seed} goes on with what {keep.name} keeps; delete it to start anew.", flush=True)
    with tempfile.TemporaryDirectory(prefix="lesson-") as folder:
        notebook = page(Path(folder), units=units, language=language, seed=seed, keep=keep)
        with _stopped_by_signals():
            words = command(notebook, port=port, browser=browser)
            server = subprocess.Popen(words, cwd=folder, env=environment(Path(folder)))
            try:
                return server.wait()
            except KeyboardInterrupt:
                return 0
            finally:
                _end(server)


@contextmanager
def _stopped_by_signals() -> Iterator[None]:
    """Take a request to end, or a terminal that closes, as Ctrl+C: the server must not outlive its command."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {getattr(signal, name): signal.signal(getattr(signal, name), stop) for name in names}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _end(server: subprocess.Popen[bytes]) -> None:
    """End the server, which ends its pages' programs."""
    if server.poll() is None:
        server.terminate()
        try:
            server.wait(timeout=_PATIENCE)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
