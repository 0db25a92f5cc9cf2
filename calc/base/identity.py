"""What a step, a check or a notice belongs to: notebook, bar group, name.

An id is made from these here and is never taken apart.

A mark may be any text, also one that looks like a part of an id: see `identity`.
"""

from __future__ import annotations

DOSE = "01_dose_per_hole"
OVERFILL = "02_overfill_and_waste"
EVIDENCE = "03_measured_holes"
EMBEDMENT = "04_embedment"
PLAN = "05_job_plan"

_WHOLE = "job"
_QUOTE = '"'


def number_of(notebook: str) -> str:
    """Return the number in front of a notebook's name, which is how people call it.

    >>> number_of("05_job_plan")
    '05'
    """
    return notebook.partition("_")[0]


def words_of(notebook: str) -> str:
    """Return a notebook's name without its number, in words.

    >>> words_of("05_job_plan")
    'Job plan'
    """
    return notebook.partition("_")[2].replace("_", " ").capitalize()


def identity(notebook: str, mark: str | None, name: str) -> str:
    """Return the id of a step or a check: unlike for anything that differs in notebook, mark or name.

    Parameters
    ----------
    notebook
        Name of the notebook; its number stands in front.
    mark
        Mark of the bar group; None for the whole job, which is written ``job``.
    name
        What it is called there, mostly its symbol; may hold dots.

    Returns
    -------
    str

    Notes
    -----
    A mark stands in quotation marks where it holds a dot or a quotation mark (then doubled), or is ``job``; so the mark
    ends at the first dot, or at its closing quotation mark, and no mark can be taken for the whole job.

    Examples
    --------
    >>> identity("01_dose_per_hole", "W4", "V_req"), identity("05_job_plan", None, "yield")
    ('01.W4.V_req', '05.job.yield')
    >>> identity("02_overfill_and_waste", "A", "u_i.d_0"), identity("02_overfill_and_waste", "A.u_i", "d_0")
    ('02.A.u_i.d_0', '02."A.u_i".d_0')
    """
    if mark is None:
        written = _WHOLE
    elif mark == _WHOLE or "." in mark or _QUOTE in mark:
        written = _QUOTE + mark.replace(_QUOTE, 2 * _QUOTE) + _QUOTE
    else:
        written = mark
    return f"{number_of(notebook)}.{written}.{name}"
