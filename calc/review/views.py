"""What the reviewer's notebook shows.

The verdict, the way back from a result, a step worked again, two revisions, comments.
"""

from __future__ import annotations

from collections.abc import Mapping

from calc.base.errors import CalcError
from calc.base.sheet import Step
from calc.package.manifest import MANIFEST, shown
from calc.review.comments import comments as written
from calc.review.compare import Comparison
from calc.review.figures import chain_picture
from calc.review.review import Redone, Review, readable, waiting
from calc.show.view import View, notices_view, picture_view, plain_symbol, steps_view, table_view, told

MORE = 0.01  # by which each input is made larger, one at a time
_LINES = 12
_FOR_PRACTICE = (
    "No package was named, so this is a small one for practice, made of the metric demo a moment ago: inputs, results"
    " and dose list, without documents. Name yours in the cell of parameters, or choose it in the panel."
)


def opened(review: Review) -> list[View]:
    """Show which package is under review."""
    manifest, job = review.package.manifest, review.package.results.get("job")
    about = job if isinstance(job, dict) else {}
    files = manifest.get("files")
    rows = [
        ("Number and revision", review.package.name),
        ("Title", shown(about.get("title", "none"))),
        ("Data", "invented" if about.get("invented") else "as given"),
        ("Files that the manifest lists", str(len(files)) if isinstance(files, dict) else "none"),
        ("Steps, checks", f"{len(review.steps)}, {len(review.checks)}"),
    ]
    if not review.practice:  # what changes from day to day would say nothing of a package made a moment ago
        rows += [
            ("Built", shown(manifest.get("made", "?"), 40)),
            (f"Digest of {MANIFEST}", shown(review.package.digest)),
        ]
        rows += [("Folder", str(review.package.folder.resolve()))]
    return [
        *([told(_FOR_PRACTICE)] if review.practice else []),
        table_view("Package under review", ("", "As found"), rows),
    ]


def verdict(review: Review) -> list[View]:
    """Show what the recheck found."""
    found = review.verdict
    head = notices_view("Verdict", found.lines)
    return [head, *(notices_view(title, lines) for title, lines in found.sections())]


def picture(review: Review, identity: str = "") -> View:
    """Draw the way back from a result; an empty id begins with the largest dose."""
    readable(review)
    return picture_view(chain_picture(review, identity or review.governing()))


def followed(review: Review, identity: str = "") -> list[View]:
    """Show every step behind a result as the installed formulas work it, and whether the package has the same values.

    Parameters
    ----------
    review
        The package.
    identity
        Id of a step; empty begins with the largest dose.

    Returns
    -------
    list of View

    Raises
    ------
    PackageError
        The package cannot be followed, or has no such step.
    """
    readable(review)
    identity = identity or review.governing()
    chain = review.chain(identity)
    redone = [review.redo(step.id) for step in chain]
    views = [steps_view("Worked here, from the package's inputs", [one.step for one in redone if one.step is not None])]
    views.append(
        table_view(
            "The package's values beside them",
            ("Step", "In the package", "Worked here", ""),
            [_row(one) for one in redone],
            "lrrl",
        )
    )
    views.append(_outside(review, chain))
    users = waiting([f"{step.id}: {step.label}, {step.shown}" for step in review.users(identity)], _LINES)
    views.append(
        notices_view(
            f"What takes {shown(identity, 60)} as an input",
            users or ["Nothing: it is an end of the calculation, or checks and lists alone use it."],
        )
    )
    return views


def _row(one: Redone) -> tuple[str, str, str, str]:
    if one.step is None:
        return one.packaged.id, shown(one.packaged.shown, 40), "none", one.why
    return one.packaged.id, shown(one.packaged.shown, 40), one.step.shown, "✓ the same" if one.agrees else "✗ DIFFERS"


def _outside(review: Review, chain: list[Step]) -> View:
    """Show what came in from outside, each with the place to look it up."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for step in chain:
        for link in review.links(step):
            if not link.step:
                found.setdefault(
                    (plain_symbol(link.name) if link.name.isidentifier() else link.name, link.shown, link.origin), []
                ).append(step.id)
    rows = [(*key, ", ".join(ids)) for key, ids in found.items()]
    return table_view("Inputs from outside", ("Input", "Value", "Where from", "Goes into"), rows, "lrll")


def by_hand(review: Review, identity: str = "", other: Mapping[str, str] | None = None, result: str = "") -> list[View]:
    """Show one step worked again, with other inputs; and how much each of its inputs matters.

    Parameters
    ----------
    review
        The package.
    identity
        Id of a step; empty takes the first one behind the result.
    other
        Inputs to change, as text with a unit.
    result
        Id of the result's step; empty takes the largest dose.

    Returns
    -------
    list of View

    Raises
    ------
    PackageError
        The package cannot be followed, or has no such step.
    UnitError, RangeError
        An input is refused.
    """
    readable(review)
    identity = identity or review.chain(result or review.governing())[0].id
    one = review.redo(identity, other)
    views = [told(f"{one.packaged.label}. {one.words}")]
    if one.step is not None:
        views += [steps_view("", [one.step]), sensitivity(review, identity)]
    return views


def sensitivity(review: Review, identity: str) -> View:
    """Show how a step's result moves when each input is one per cent larger, the others as they are."""
    rows = []
    for one in review.step(identity).inputs:
        larger = (
            f"{one.value * (1 + MORE)!r} {one.unit}" if one.unit not in ("", "pcs") else repr(one.value * (1 + MORE))
        )
        base = (plain_symbol(one.name) if one.name.isidentifier() else one.name, one.shown)
        try:
            redone = review.redo(identity, {one.name: larger})
        except CalcError as error:
            rows.append((*base, "refused", shown(str(error), 80)))
            continue
        step, packaged = redone.step, redone.packaged
        if step is None or not packaged.value:
            rows.append((*base, "none" if step is None else step.shown, "no share of zero"))
            continue
        rows.append((*base, step.shown, f"{(step.value - packaged.value) / abs(packaged.value):+.2%}"))
    return table_view(
        "One per cent more of each input, one at a time",
        ("Input", "In the package", "Result then", "Change"),
        rows,
        "lrrr",
    )


def revisions(found: Comparison | None) -> list[View]:
    """Show what changed since an earlier revision."""
    if found is None:
        return [told("No earlier revision was named, so nothing is compared.")]
    return [
        told(found.summary),
        *(notices_view(f"{title} ({len(lines)})", waiting(lines, _LINES)) for title, lines in found.sections()),
    ]


def comments(review: Review) -> View:
    """Show the review comments beside the package."""
    found, wrong = written(review.package)
    if wrong:
        return notices_view("Review comments", [f"The comments file does not count: {wrong}."])
    lines = [one.words(review.package) for one in found]
    return notices_view("Review comments", lines or ["None yet."])
