"""Where a path leads that is written into a notebook: beside the copy, at its job, or where the program runs.

JupyterLab runs a notebook in its own folder, papermill in the folder where papermill was called.
"""

from __future__ import annotations

import os
from pathlib import Path

from calc.base.errors import NotAccepted
from calc.files.job import Job, demo_job
from calc.work.load import load_job

COPIES = "notebooks"  # beside a job file: the folder of the working copies
SESSION = "JPY_SESSION_NAME"  # Jupyter Server names here the notebook that a kernel belongs to


def tried(job: Job | None = None, copy: Path | None = None) -> dict[Path, str]:
    """Return the folders in which a notebook's paths are looked for, in this order, each with what it is.

    Parameters
    ----------
    job
        The job that the notebook shows; without it the one that the folder of working copies stands beside.
    copy
        The folder that the notebook stands in; without it that of the notebook that runs here.

    Returns
    -------
    dict of Path to str
    """
    here = Path.cwd()
    session = Path(os.environ.get(SESSION, ""))
    copy = copy or (session.parent if session.is_absolute() else here)
    beside = copy.parent if copy.name == COPIES else None
    folders = (
        (copy, "the notebook's folder"),
        (job.folder if job else beside, "the job's folder"),
        (here, "the current folder"),
    )
    found: dict[Path, str] = {}
    for folder, words in folders:
        if folder is not None:
            found.setdefault(folder.resolve(), words)
    return found


def located(text: str | Path, job: Job | None = None, copy: Path | None = None) -> Path:
    """Follow a path that is written into a notebook.

    Parameters
    ----------
    text
        The path; one that is not absolute is looked for in the folders of `tried`.
    job, copy
        As for `tried`.

    Returns
    -------
    Path
        Of something that is there; an absolute one as it was given.

    Raises
    ------
    NotAccepted
        Nothing is there; names the folders that were tried.
    """
    path = Path(os.path.expanduser(text))
    if path.is_absolute():
        return path
    folders = tried(job, copy)
    for folder in folders:
        if os.path.exists(folder / path):
            return folder / path
    words = "; ".join(f"{folder} ({what})" for folder, what in folders.items())
    raise NotAccepted(
        f"'{text}' is not there; tried from: {words}; accepted: a path from one of these folders, or a whole path"
    )


def open_job(text: str | Path) -> Job:
    """Read the job that a notebook names.

    Parameters
    ----------
    text
        The job file or its folder, as for `located`; empty is the metric demo.

    Returns
    -------
    Job

    Raises
    ------
    NotAccepted
        Nothing is there.
    InputErrors
        As for `load_job`.
    """
    return load_job(located(text) if str(text) else demo_job())
