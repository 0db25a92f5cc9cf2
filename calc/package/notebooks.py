"""The workbook's own notebooks: where they are, how they run, and the copies of them that people write in.

A package is built from those that were installed with the code. What somebody writes into a working copy beside a job,
a sketch of an idea or a cell that fails, touches no package.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import matplotlib

import calc
from calc.base.command import COMMAND, safe_environment
from calc.base.errors import CalcError
from calc.files.job import Job, is_demo
from calc.package.manifest import write_whole
from calc.show.view import BLOCK_TYPE
from calc.work.places import COPIES, SESSION

_INSTALLED = Path(calc.__file__).resolve().parent / "notebooks"  # so in a wheel; a checkout has them beside the code
FOLDER = _INSTALLED if _INSTALLED.is_dir() else _INSTALLED.parents[1] / "notebooks"
FIRST = "00_job"  # the first page: forms and buttons, without a number of its own
NO_PART = (FIRST, "06_review")  # about a job's files and about a package, so no part of one
NOTED = "note"  # tag of a cell that may be taken into the package as an engineer's note
ASKED = "*Write an engineer's note here.*"
_OURS = "bonded_bar_workbook"  # in a copy's metadata: what it was made from, and what it held then
_LANGUAGE = {"name": "python"}
# Of a cell's metadata: its tags, a code that is folded, an output that scrolls, a heading that is folded on the screen.
_KEPT = ("tags", "jupyter", "scrolled", "jp-MarkdownHeadingCollapsed")
_WIDGET = "application/vnd.jupyter.widget-view+json"


class NotebookError(CalcError):
    """A notebook did not run to its end."""


def numbered_notebooks() -> list[Path]:
    """List the notebooks whose outputs are kept, in order: the calculation notebooks and the reviewer's."""
    return sorted(path for path in FOLDER.glob("[0-9][0-9]_*.ipynb") if path.stem != FIRST)


def calculation_notebooks() -> list[Path]:
    """List the calculation notebooks in order: those that a package is built from."""
    found = [path for path in numbered_notebooks() if path.stem not in NO_PART]
    if not found:
        raise NotebookError(f"no calculation notebook in {FOLDER}: the workbook is not whole, install it anew")
    return found


def working_copies(job: Job, say: Callable[[str], None] = lambda _: None) -> Path:
    """Put copies of all notebooks beside a job, for people to write in; what they wrote is never lost.

    A copy that is as it was made follows the workbook when that has a newer notebook. One that somebody wrote in is
    left alone; when the workbook has a newer notebook, it stays under another name.

    Parameters
    ----------
    job
        The job, which the copies open.
    say
        Called with a sentence for each copy that got another name.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    NotebookError
        The job is a demo of the workbook, beside which nobody writes.
    OSError
        The folder cannot be written.
    """
    import nbformat

    if is_demo(job):
        raise NotebookError(
            f"{job.folder} is a demo, beside which nothing is written: copy it with '{COMMAND} start my-job' first"
        )
    folder = job.folder / COPIES
    for path in sorted([*FOLDER.glob("*.ipynb"), *FOLDER.glob("lesson/*.ipynb")]):
        place = folder / path.relative_to(FOLDER)
        original = nbformat.read(path, as_version=4)
        state = _state(place)
        if state is not None and state[0] == _held(original):
            continue
        if place.exists() and not (state and state[1]):
            say(f"{place.name} is newer in the workbook; what you wrote in yours is kept in {_aside(place).name}")
        place.parent.mkdir(parents=True, exist_ok=True)
        write_whole(place, nbformat.writes(_copy_of(original, path.name, f"../{job.path.name}")) + "\n")
    return folder


def first_page(folder: Path) -> Path:
    """Put the notebooks into a folder's `notebooks`, for whoever has no job yet; what is there stays.

    Parameters
    ----------
    folder
        Where the server is started.

    Returns
    -------
    Path
        The first page.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    copies = folder / COPIES
    copies.mkdir(exist_ok=True)
    for path in FOLDER.glob("*.ipynb"):
        if not (copies / path.name).exists():
            shutil.copyfile(path, copies / path.name)
    return copies / f"{FIRST}.ipynb"


def _copy_of(original: Any, file: str, job_file: str) -> Any:
    """Turn a notebook into a working copy: without the demo's outputs, with its job, and with room for a note."""
    import nbformat

    made_from = _held(original)
    for cell in original.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    if _has(original, "job_file"):
        _set(original, file, "job_file", job_file)
        note = nbformat.v4.new_markdown_cell(ASKED, metadata={"tags": [NOTED]}, id=NOTED)
        original.cells.append(note)
    original.metadata[_OURS] = {"of": made_from, "held": _held(original)}
    return original


def _state(place: Path) -> tuple[str, bool] | None:
    """Return what a copy was made from and whether it holds what it held then; None when it is no notebook."""
    import nbformat

    try:
        copy = nbformat.read(place, as_version=4)
        made = copy.metadata.get(_OURS) or {}
        return str(made.get("of")), made.get("held") == _held(copy)
    except Exception:
        return None


def tagged_cells(place: Path, tag: str) -> list[tuple[int, Any]]:
    """Return the cells of a notebook that have a tag, each with its number; raises `NotebookError`."""
    import nbformat

    try:
        notebook = nbformat.read(place, as_version=4)
        return [(n, cell) for n, cell in enumerate(notebook.cells, start=1) if tag in cell.metadata.get("tags", ())]
    except Exception as error:
        raise NotebookError(f"{place} cannot be read as a notebook") from error


def _aside(place: Path) -> Path:
    """Give a file another name beside it that nothing has."""
    number = 1
    while (aside := place.with_name(f"{place.stem}-kept-{number}.ipynb")).exists():
        number += 1
    os.rename(place, aside)
    return aside


def _held(notebook: Any) -> str:
    """Digest what is written in a notebook's cells, whatever they showed when they ran."""
    cells = [(cell.cell_type, cell.source, cell.get("attachments", {})) for cell in notebook.cells]
    return hashlib.sha256(json.dumps(cells, sort_keys=True).encode()).hexdigest()


def _has(notebook: Any, name: str) -> bool:
    """Whether a notebook has a parameter of this name."""
    return any(
        line.split("=")[0].strip() == name
        for cell in notebook.cells
        if "parameters" in cell.metadata.get("tags", ())
        for line in cell.source.splitlines()
    )


def run(path: Path, *, cwd: Path, parameters: dict[str, Any] | None = None) -> Any:
    """Run a notebook from the top and return it with its outputs.

    Parameters
    ----------
    path
        The notebook; it is not changed.
    cwd
        Folder in which it runs.
    parameters
        New values for names that its cell tagged ``parameters`` sets.

    Returns
    -------
    nbformat.NotebookNode

    Raises
    ------
    NotebookError
        A cell failed; names notebook, cell and error.
    """
    import nbformat
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    notebook = nbformat.read(path, as_version=4)
    for name, value in (parameters or {}).items():
        _set(notebook, path.name, name, value)
    os.environ.setdefault("PYDEVD_DISABLE_FILE_VALIDATION", "1")
    client = NotebookClient(
        notebook,
        timeout=300,
        record_timing=False,
        kernel_name="python3",
        extra_arguments=["--log-level=40"],
        resources={"metadata": {"path": str(cwd)}},
    )
    try:
        with tempfile.TemporaryDirectory(prefix="kernel-") as settings:
            client.execute(env=_environment(settings))
    except CellExecutionError as error:
        raise NotebookError(f"{path.name} stopped: {error.ename}: {error.evalue}") from error
    except (CellTimeoutError, DeadKernelError) as error:
        raise NotebookError(f"{path.name} stopped: {error}") from error
    for number, cell in enumerate(notebook.cells, start=1):
        for output in cell.get("outputs", ()):
            if output.output_type == "error":
                raise NotebookError(f"{path.name}, cell {number}: {output.ename}: {output.evalue}")
    return _reproducible(notebook)


def _reproducible(notebook: Any) -> Any:
    """Take out what differs from run to run: Python's release, and the random ids of the panels' parts."""
    import nbformat

    notebook.metadata["language_info"] = nbformat.from_dict(dict(_LANGUAGE))
    states = notebook.metadata.get("widgets", {}).values()
    names = {old: f"{new:032x}" for new, old in enumerate(key for state in states for key in state["state"])}
    names |= {f"IPY_MODEL_{old}": f"IPY_MODEL_{new}" for old, new in names.items()}

    def renamed(value: Any) -> Any:
        if isinstance(value, dict):
            return nbformat.from_dict({names.get(key, key): renamed(item) for key, item in value.items()})
        if isinstance(value, list):
            return [renamed(item) for item in value]
        return names.get(value, value) if isinstance(value, str) else value

    if names:
        notebook.metadata["widgets"] = renamed(notebook.metadata["widgets"])
    for cell in notebook.cells if names else ():
        for output in cell.get("outputs", ()):
            if _WIDGET in output.get("data", {}):
                output["data"][_WIDGET] = renamed(output["data"][_WIDGET])
    return notebook


def _environment(settings: str) -> dict[str, str]:
    """A kernel runs in a folder of a package, and takes neither code from there nor a person's settings."""
    plain = str(Path(matplotlib.get_data_path(), "matplotlibrc"))
    # Asked for from a notebook, a build runs in its kernel, whose copy is none of the package's business.
    outside = {key: value for key, value in safe_environment().items() if key != SESSION}
    return outside | {"IPYTHONDIR": settings, "MATPLOTLIBRC": plain}


def run_all(
    paths: Sequence[Path],
    *,
    cwd: Path,
    parameters: dict[str, Any] | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> list[Any]:
    """Run notebooks side by side, as many at once as the machine has processors; see `run`.

    Parameters
    ----------
    paths
        The notebooks.
    cwd
        Folder in which they run.
    parameters
        New values for names that their cells tagged ``parameters`` set.
    progress
        Called with the name of each notebook that is done.

    Returns
    -------
    list of nbformat.NotebookNode
        In the order of ``paths``.

    Raises
    ------
    NotebookError
        The first one, in that order, that failed.
    """
    with ThreadPoolExecutor(max_workers=max(1, os.cpu_count() or 1)) as pool:
        waiting = [pool.submit(run, path, cwd=cwd, parameters=parameters) for path in paths]
        try:
            done = []
            for path, one in zip(paths, waiting, strict=True):
                done.append(one.result())
                progress(f"ran {path.stem}")
            return done
        except BaseException:
            for one in waiting:
                one.cancel()
            raise


def _set(notebook: Any, file: str, name: str, value: Any) -> None:
    for cell in notebook.cells:
        if "parameters" in cell.metadata.get("tags", ()):
            lines = cell.source.splitlines()
            for i, line in enumerate(lines):
                if line.split("=")[0].strip() == name:
                    lines[i] = f"{name} = {value!r}"
                    cell.source = "\n".join(lines)
                    return
    raise NotebookError(f"{file} has no parameter '{name}' in a cell tagged 'parameters'")


def tidied(notebook: Any) -> Any:
    """Strip what varies from run to run, so that a difference in a committed notebook means something."""
    import nbformat

    notebook.metadata = nbformat.from_dict(
        {
            "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
            "language_info": dict(_LANGUAGE),
        }
    )
    for number, cell in enumerate(notebook.cells):
        cell["id"] = f"cell-{number:02d}"
        cell.metadata = nbformat.from_dict({name: cell.metadata[name] for name in _KEPT if cell.metadata.get(name)})
        if cell.cell_type != "code":
            continue
        if "nbval-ignore-output" in cell.metadata.get("tags", ()):
            cell.outputs = []
        for output in cell.outputs:
            output.pop("metadata", None)
            if output.output_type in ("display_data", "execute_result"):
                output["metadata"] = {}
    notebook.nbformat_minor = 5
    return notebook


def blocks(notebook: Any) -> Iterator[dict[str, Any]]:
    """Yield what the notebook says, in order: its prose and the views that it shows.

    Not what is tagged ``screen``, for paper has no buttons.
    """
    for cell in notebook.cells:
        if "screen" in cell.metadata.get("tags", ()):
            continue
        if cell.cell_type == "markdown":
            yield {"kind": "prose", "markdown": cell.source}
            continue
        for output in cell.get("outputs", ()):
            block = output.get("data", {}).get(BLOCK_TYPE)
            if block:
                yield dict(block) | ({"svg": output.data["image/svg+xml"]} if "image/svg+xml" in output.data else {})
