"""The dose list as one page for a phone: the same cards, ticks that stay on the phone, and the hole record to fill in.

The page asks no network for anything and brings no font; its script keeps what is ticked and typed, and works out
nothing.
"""

from __future__ import annotations

import base64
import hashlib
import importlib.resources
import json
from typing import Any

from markupsafe import Markup

from calc.base.look.tokens import COLOUR, DARK, css_colours
from calc.files.job import Job
from calc.package.document.html import faces_of, page_templates
from calc.package.lists.doses import dose_list
from calc.package.lists.holes import HOLE_RECORD_CSV
from calc.work.results import Results
from calc.work.site.cells import DATES, NUMBERS, STROKE_COLUMNS, YES_OR_NO
from calc.work.site.template import By, template_columns, template_rows, template_units

DOSE_PAGE = "dose-list.html"
# What the form calls the columns of the record that are written on site.
_WORDS = {
    "date": "Date",
    "batch": "Batch of the pack",
    "expiry": "Good until, on the pack",
    "concrete_temperature": "Concrete",
    "pack_temperature": "Pack",
    "depth_to_tip": "Least depth, to the point",
    "cleaned": "Cleaned",
    "dose": "Least dose of a hole",
    "strokes": "Least strokes of a hole",
    "full": "Full at the mouth, all",
    "injected": "First injected",
    "set": "Last bar home",
    "initials": "Initials",
    "note": "Note",
}
_KEPT = ("date", "batch", "expiry", "concrete_temperature", "pack_temperature", "initials")  # from one line to the next


def dose_page(results: Results, *, stamp: str, by: By) -> str:
    """Return the page.

    Parameters
    ----------
    results
        The computed job.
    stamp
        What ties the page to its results; ticks are kept under a digest of both.
    by
        What a line of the hole record stands for.

    Returns
    -------
    str
        HTML, one file.
    """
    job, data = results.job, dose_list(results, stamp=stamp)
    script = _asset("lists-dose.js")
    rows = list(template_rows(job=job, worked=results.worked, by=by))
    record: dict[str, Any] = {"columns": template_columns(job), "rows": rows, "file": HOLE_RECORD_CSV}
    record["marks"] = [one.case.mark for one in results.worked]
    own = [job.title, data["adhesive"], *(group["mark"] for group in data["groups"])]
    return (
        page_templates(own)
        .get_template("lists-dose.html.j2")
        .render(
            **data,
            key=hashlib.sha256(f"{results.text()}{stamp}".encode()).hexdigest(),
            fields=_fields(job),
            record=record,
            per_line="hole" if by == "hole" else "batch",
            script=Markup(script),
            script_digest=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii"),
            day=Markup(css_colours(colours=COLOUR)),
            dark=Markup(css_colours(colours=DARK)),
            faces=faces_of(json.dumps(data, ensure_ascii=False)),
        )
    )


def _asset(name: str) -> str:
    return (importlib.resources.files("calc.package") / "templates" / name).read_text(encoding="utf-8")


def _fields(job: Job) -> list[dict[str, Any]]:
    """The fields of a line: column of the record with its unit, words, and what kind of entry it is."""
    found = []
    for column, (name, unit) in zip(template_columns(job), template_units(job).items(), strict=True):
        if name not in _WORDS:
            continue
        found.append(
            {
                "column": column,
                "words": f"{_WORDS[name]} [{unit}]" if unit else _WORDS[name],
                "kind": "date"
                if name in DATES
                else "time"
                if name in ("injected", "set")
                else "choice"
                if name in YES_OR_NO
                else "number"
                if name in NUMBERS or name in STROKE_COLUMNS
                else "text",
                "kept": name in _KEPT,
            }
        )
    return found
