"""Every list of a job, written into a folder."""

from __future__ import annotations

import hashlib
from pathlib import Path

from calc.package.lists.book import HOLE_RECORD_BOOK, hole_record_book
from calc.package.lists.card import depth_card
from calc.package.lists.doses import dose_list
from calc.package.lists.holes import HOLE_RECORD_CSV, hole_record
from calc.package.lists.order import order_csv
from calc.package.lists.phone import DOSE_PAGE, dose_page
from calc.package.lists.proof import proof_loads
from calc.package.lists.setting import compile_list
from calc.work.plan.dayrows import DAY_BOOK, day_book_csv
from calc.work.plan.planned import PlanWork
from calc.work.plan.volumes import Use
from calc.work.results import Results
from calc.work.site.proof import ProofRule, plan_proof_loads
from calc.work.site.template import By, choose_lines, template_csv

DOSE_LIST, DEPTH_CARD, HOLE_RECORD = "dose-list.pdf", "depth-stick-card.pdf", "hole-record.pdf"
PROOF_LOADS, ORDER = "proof-loads.pdf", "order.csv"


def list_names(results: Results, plan: Use | None) -> tuple[str, ...]:
    """Return the names of the files that `write_lists` writes for a job and its plan."""
    there = {ORDER: plan is not None, DAY_BOOK: _days(results) is not None}
    return (
        DOSE_LIST,
        DOSE_PAGE,
        DEPTH_CARD,
        HOLE_RECORD,
        HOLE_RECORD_BOOK,
        HOLE_RECORD_CSV,
        PROOF_LOADS,
        *(name for name, is_there in there.items() if is_there),
    )


def _days(results: Results) -> PlanWork | None:
    """The plan of a job whose days were worked out."""
    days = results.part(PlanWork)
    return days if days is not None and days.timeline is not None else None


def write_lists(
    results: Results,
    folder: Path,
    *,
    plan: Use | None = None,
    stamp: str | None = None,
    by: By | None = None,
    rule: ProofRule | None = None,
    day: str = "",
) -> list[Path]:
    """Write every list into a folder.

    Parameters
    ----------
    results
        The computed job.
    folder
        Where the files go; it is made when it is not there.
    plan
        Packs and mixers of the job; without it there is no order list.
    stamp
        What ties the pages to their results; by default the hash of results.json, as on the calculation.
    by
        A line of the hole record for every ``"hole"`` or ``"group"``; None chooses by the number of holes.
    rule
        Rule of the proof loads; None takes the plain one.
    day
        Date that the PDF files carry, as ``YYYY-MM-DD``; today without it.

    Returns
    -------
    list of Path
        The files that were written.

    Raises
    ------
    DocumentError
        When a page cannot be set.
    """
    folder.mkdir(parents=True, exist_ok=True)
    stamp = stamp or f"results {hashlib.sha256(results.text().encode()).hexdigest()[:12]}"
    by = by or choose_lines(results.job)
    proof = plan_proof_loads(job=results.job, rule=rule)
    files: dict[str, bytes] = {
        DOSE_LIST: compile_list("lists-dose.typ", dose_list(results, stamp=stamp), day)[0],
        DOSE_PAGE: dose_page(results, stamp=stamp, by=by).encode("utf-8", "replace"),
        DEPTH_CARD: compile_list("lists-card.typ", depth_card(results, stamp=stamp), day)[0],
        HOLE_RECORD: compile_list("lists-record.typ", hole_record(results, stamp=stamp, by=by), day)[0],
        HOLE_RECORD_BOOK: hole_record_book(results, by=by, day=day),
        HOLE_RECORD_CSV: template_csv(job=results.job, worked=results.worked, by=by).encode(),
        PROOF_LOADS: compile_list("lists-proof.typ", proof_loads(results, proof, stamp=stamp), day)[0],
    }
    if plan is not None:
        files[ORDER] = order_csv(results, plan).encode()
    days = _days(results)
    if days is not None:
        files[DAY_BOOK] = day_book_csv(days).encode()
    for name, body in files.items():
        (folder / name).write_bytes(body)
    return [folder / name for name in files]
