"""A new job: a folder with files to be changed into one's own, short with what is needed, or with everything."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from calc.base.errors import NotAccepted
from calc.files.job import JOB_FILE, copy_files, demo_job

NEW_JOBS: Mapping[str, str] = {"minimal": "what is needed, on fifteen lines", "full": "everything, from the demo"}


def new_job(folder: Path, *, units: str = "metric", kind: str = "full") -> Path:
    """Make the folder of a new job.

    Parameters
    ----------
    folder
        A folder that is not there yet.
    units
        ``"metric"`` or ``"us"``.
    kind
        One of `NEW_JOBS`.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    NotAccepted
        The folder exists.
    OSError
        It cannot be written.
    """
    if folder.exists():
        raise NotAccepted(f"{folder} exists and is not overwritten: name a new folder")
    demos = demo_job(units).parent.parent
    copy_files(demos / "minimal" / units if kind == "minimal" else demos / units, folder)
    return folder / JOB_FILE
