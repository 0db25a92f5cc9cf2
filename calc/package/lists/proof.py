"""The proof loads, for the inspector."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from calc.base.sheet import Check
from calc.files.job import Job
from calc.package.lists.setting import NOTHING, list_head
from calc.work.cautions import DEFER
from calc.work.results import Results
from calc.work.site.proof import ProofGroup, ProofPlan, ProofRule

_MOST_RESULTS = 150


def proof_loads(results: Results, plan: ProofPlan, *, stamp: str) -> dict[str, Any]:
    """Return what the page of proof loads shows, as texts."""
    job = results.job
    total = sum(group.number for group in plan.groups if group.may_be_tested)
    return list_head(results, "Proof loads", stamp) | {
        "words": [[name, words[:1].upper() + words[1:]] for name, words in plan.words],
        "rows": [_proof_row(group, job, plan.rule) for group in plan.groups],
        "missing": _missing(plan),
        "failed": [_objection(check) for group in plan.groups for check in group.checks if not check.passes],
        "drawn": [[group.mark, _listed(group.drawn)] for group in plan.groups],
        "results": (
            [
                [g.mark, str(n), _force(g.load, job), _force(g.held, job)]
                for g in plan.groups
                if g.may_be_tested
                for n in g.drawn
            ]
            if 0 < total <= _MOST_RESULTS
            else []
        ),
        "many": (
            f"{total} bars are to be pulled; copy the columns of the table below as often as it takes."
            if total > _MOST_RESULTS
            else ""
        ),
        "hold": f"{plan.rule.hold:g} s",
        "defer": DEFER,
    }


def _objection(check: Check) -> str:
    """Say what stands against a pull."""
    reason = f" {check.reason[:1].upper()}{check.reason[1:]}." if check.verdict == "owed" else ""
    said = "is owed" if check.verdict == "owed" else "FAILS"
    return f"{check.title}: {said}.{reason} {check.advice[:1].upper()}{check.advice[1:]}."


def _missing(plan: ProofPlan) -> list[str]:
    """Say once, for all groups that it holds for, what is missing."""
    found: dict[str, list[str]] = {}
    for group in plan.groups:
        if group.lacks:
            found.setdefault(group.lacks, []).append(group.mark)
    return [f"{', '.join(marks)}: {words}" for words, marks in found.items()]


def _force(value: float | None, job: Job) -> str:
    return NOTHING if value is None else job.display.given_force(value)


def _proof_row(group: ProofGroup, job: Job, rule: ProofRule) -> list[str]:
    fails = any(check.verdict == "fails" for check in group.checks)
    verdict = "✓ may be pulled" if group.may_be_tested else "✗ DO NOT PULL" if fails else "○ owed: do not pull yet"
    if not group.checks:
        verdict = "no load, see below"
    load = _force(group.load, job) if group.may_be_tested or not group.checks else f"({_force(group.load, job)})"
    return [
        group.mark,
        group.bar.text,
        f"{group.number} of {group.count}",
        _force(group.action, job),
        load,
        _force(group.cap, job),
        _force(group.held, job) if group.may_be_tested else NOTHING,
        verdict,
    ]


def _listed(drawn: Sequence[int]) -> str:
    return ", ".join(map(str, drawn))
