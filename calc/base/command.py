"""How the workbook is called, and where its processes take their code from.

Python looks for modules in the folder in which it is started, and that folder may be a package that anybody filled.
This module imports what Python itself has loaded by then, and nothing else: a ``re.py`` there would come first.
"""

from __future__ import annotations

import os
import sys

COMMAND = "bonded-bar-workbook"

_HOME = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))


def _is_here(entry: str) -> bool:
    """Whether a place of modules is the present folder, and not by chance the one that the workbook runs from."""
    try:
        here = os.path.realpath(os.curdir)
    except FileNotFoundError:  # the present folder was deleted, so that nothing can lie in it
        return entry in ("", os.curdir)
    return os.path.realpath(entry or os.curdir) == here != os.path.realpath(_HOME)


def import_nothing_from_here() -> None:
    """Take the present folder out of the places where this process looks for modules and for programs."""
    sys.path[:] = [entry for entry in sys.path if not _is_here(entry)]
    os.environ["NODEFAULTCURRENTDIRECTORYINEXEPATH"] = "1"  # Windows would look here for git and pandoc first


def safe_environment() -> dict[str, str]:
    """Return the environment of a process that is started: its own folder, a kernel's mostly, gives it no code.

    Returns
    -------
    dict of str to str
        ``PYTHONSAFEPATH`` is heeded by Python and IPython; ``PYTHONPATH`` keeps what it says, from here, and not its
        empty entries, which mean whatever folder the process is started in.
    """
    places = [os.path.abspath(entry) for entry in os.environ.get("PYTHONPATH", "").split(os.pathsep) if entry]
    kept = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"} | {"PYTHONSAFEPATH": "1"}
    places = [place for place in places if not _is_here(place)]
    return kept | ({"PYTHONPATH": os.pathsep.join(places)} if places else {})
