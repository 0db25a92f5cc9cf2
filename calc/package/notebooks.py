"""Running the calculation notebooks: for a package, and to refresh the committed outputs."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import matplotlib

from calc.base.command import safe_environment
from calc.base.errors import CalcError
from calc.show.view import BLOCK_TYPE

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
REVIEW = "06_review"  # about a package, so no part of one
_LANGUAGE = {"name": "python"}
_WIDGET = "application/vnd.jupyter.widget-view+json"


class NotebookError(CalcError):
    """A notebook did not run to its end."""


def numbered_notebooks() -> list[Path]:
    """List the notebooks whose outputs are kept, in order: the calculation notebooks and the reviewer's."""
    return sorted(FOLDER.glob("[0-9][0-9]_*.ipynb"))


def calculation_notebooks() -> list[Path]:
    """List the calculation notebooks in order: those that a package is built from."""
    found = [path for path in numbered_notebooks() if path.stem != REVIEW]
    if not found:
        raise NotebookError(
            f"no calculation notebook in {FOLDER}: install the workbook from its checkout with 'pip install -e .'"
        )
    return found


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
    return safe_environment() | {"IPYTHONDIR": settings, "MATPLOTLIBRC": plain}


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
        cell.metadata = nbformat.from_dict({"tags": cell.metadata["tags"]} if cell.metadata.get("tags") else {})
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
