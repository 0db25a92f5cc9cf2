"""What a notebook shows of a calculation: each view is plain data with a face for JupyterLab.

The plain data travels in the notebook's output under a MIME type of its own, so that the package's PDF and HTML draw
from exactly what the notebook showed.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, ParamSpec, TypeVar, cast

from matplotlib.figure import Figure

from calc.base.canonical import canonical
from calc.base.nomenclature import latex_of
from calc.base.sheet import Check, Joined, Notice, Step, as_data, check_block, step_block
from calc.files.job import Job
from calc.files.reading import Place
from calc.files.tables import JobFile
from calc.files.typed import Row, typed_rows
from calc.fill.filling import Filling
from calc.show.dose.figures import fill_picture
from calc.show.drawing import Picture
from calc.work.dose import Case, Worked, work
from calc.work.results import Results
from calc.work.trace import governing, mark_of

__all__ = ["BLOCK_TYPE", "Case", "View", "Worked", "work"]

BLOCK_TYPE = "application/x-workbook-block+json"
SCREEN = "screen"
_Made = TypeVar("_Made", "View", "list[View]")
_Given = ParamSpec("_Given")


def plain(text: object) -> str:
    """Make a text safe to stand in Markdown: what a user typed is shown, never interpreted."""
    out = str(text)
    for sign in "\\`*_{}[]<>#|$~&":
        out = out.replace(sign, "\\" + sign if sign not in "<>&" else {"<": "&lt;", ">": "&gt;", "&": "&amp;"}[sign])
    return out.replace("\n", " ")


@dataclass(frozen=True)
class View:
    """A block of the record: data for the package, Markdown (or a picture) for JupyterLab."""

    block: Mapping[str, Any]
    markdown: str
    svg: str = ""

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> dict[str, Any]:
        block = {key: value for key, value in self.block.items() if key != "svg"}
        bundle: dict[str, Any] = {"text/plain": f"[{self.block['kind']}]", BLOCK_TYPE: canonical(block)}
        if self.svg:
            bundle["image/svg+xml"] = self.svg
        else:
            bundle["text/markdown"] = self.markdown
        return bundle

    def at(self, place: str) -> View:
        """Say where it stands in the document, where it does not say so already."""
        return self if self.block.get("place") else replace(self, block={**self.block, "place": place})


def standing(place: str = SCREEN, **kinds: str) -> Callable[[Callable[_Given, _Made]], Callable[_Given, _Made]]:
    """Say where what a function shows stands in the document.

    Parameters
    ----------
    place
        A part of the calculation that is signed, by its name in `calc.package.document.calculation.PARTS`; or
        ``screen``: in notebook and HTML alone.
    kinds
        Another place for blocks of one kind, such as ``figure="drawings"``.

    Returns
    -------
    Callable
        The decorator.
    """

    def wrap(show: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
        @functools.wraps(show)
        def shown(*given: _Given.args, **named: _Given.kwargs) -> _Made:
            def at(view: View) -> View:
                return view.at(kinds.get(view.block["kind"], place))

            made: Any = show(*given, **named)
            found: Any = at(made) if isinstance(made, View) else [at(view) for view in made]
            return cast("_Made", found)

        return shown

    return wrap


def told(*sentences: str) -> View:
    """Show sentences that were computed."""
    text = "\n\n".join(plain(sentence) for sentence in sentences)
    return View({"kind": "prose", "markdown": text}, text)


@standing("record")
def steps_view(title: str, steps: Sequence[Step]) -> View:
    """Show steps in full: label, typeset expression with units, result, each input with its origin, source."""
    parts = [f"**{plain(title)}**"] if title else []
    for number, step in enumerate(steps, start=1):
        inputs = "; ".join(f"${latex_of(i.name)}$ = {plain(i.shown)} ({plain(i.origin)})" for i in step.inputs)
        notes = "".join(f"\n\n⚠ {plain(note)}" for note in step.notices)
        parts.append(
            f"{number}. **{plain(step.label)}** · {plain(step.shown)}\n\n$$\n{step.latex}\n$$\n\n"
            f"<small>{inputs}. Source: {plain(step.source)}. Step `{step.id.replace('`', '')}`</small>{notes}"
        )
    return View({"kind": "steps", "title": title, "steps": [step_block(step) for step in steps]}, "\n\n".join(parts))


def plain_symbol(name: str) -> str:
    """Write a symbol where nothing is typeset, with the same letters as the typeset one."""
    text = latex_of(name).replace("\\mathrm", "").replace("{", "").replace("}", "").replace(",", "")
    for command, letter in (("\\phi", "φ"), ("\\theta", "θ"), ("\\", "")):
        text = text.replace(command, letter)
    return text


def table_view(
    caption: str, columns: Sequence[str], rows: Sequence[Sequence[object]], align: str = "", ids: Sequence[str] = ()
) -> View:
    """Show a table; ``align`` has one letter for each column, l or r. ``ids`` names the steps that stand in it."""
    align = align or "l" * len(columns)
    text = [[str(cell) for cell in row] for row in rows]
    rule = "|".join("---:" if a == "r" else ":---" for a in align)
    lines = [
        "|" + "|".join(plain(c) for c in columns) + "|",
        f"|{rule}|",
        *("|" + "|".join(plain(c) for c in row) + "|" for row in text),
    ]
    block = {
        "kind": "table",
        "caption": caption,
        "columns": list(columns),
        "rows": text,
        "align": align,
        "ids": list(ids),
    }
    return View(block, (f"**{plain(caption)}**\n\n" if caption else "") + "\n".join(lines))


@standing("checks")
def checks_view(title: str, checks: Sequence[Check]) -> View:
    """Show checks with demand, resistance, utilisation and verdict by word and sign."""
    blocks = [check_block(check) for check in checks]
    rows = [
        (
            b["title"],
            b["demand"],
            b["resistance"],
            b["shown"],
            check.verdict_words + (f": {b['reason']}" if b["reason"] else ""),
        )
        for b, check in zip(blocks, checks, strict=True)
    ]
    view = table_view(title, ("Check", "Demand", "Limit", "Utilisation", "Verdict"), rows, "lrrrl")
    return View({"kind": "checks", "title": title, "checks": blocks}, view.markdown)


@standing("checks")
def notices_view(title: str, notices: Sequence[str | Joined | Notice]) -> View:
    """Show notices or cautions as a list."""
    items = [notice if isinstance(notice, str) else notice.words for notice in notices]
    body = "\n".join(f"- {plain(item)}" for item in items) or "None."
    return View({"kind": "notices", "title": title, "items": items}, f"**{plain(title)}**\n\n{body}")


def picture_view(picture: Picture) -> View:
    """Show a picture with its alt text and caption."""
    block = {
        "kind": "figure",
        "svg": picture.svg,
        "alt": picture.alt,
        "caption": picture.caption,
        "place": picture.place,
    }
    return View(block, "", picture.svg)


@standing()
def numbers_view(title: str, picture: Picture) -> View:
    """Show as numbers what a picture shows."""
    return table_view(title, ("Value", "Number"), picture.numbers, "lr")


def picture_of(worked: Worked, filling: Filling | None = None, figure: Figure | None = None) -> Picture:
    """Draw the fill picture of a worked group, by default for its rounded dose.

    A figure that is given is drawn anew, without a title.
    """
    case = worked.case
    drawn = fill_picture(
        worked.filling if filling is None else filling,
        display=case.display,
        direction=case.direction,
        title="" if figure else f"{case.mark}: {case.bar.text} in {case.display.size(case.hole_diameter)}",
        figure=figure,
    )
    return replace(drawn, place="fill", caption=f"{case.mark}: {drawn.caption}")


DOSE_COLUMNS = (
    "Mark",
    "Holes",
    "Bar",
    "Hole",
    "Embedment",
    "Direction",
    "Required",
    "Overfill",
    "Dispense",
    "Surface before the bar",
)


def dose_rows(worked: Sequence[Worked]) -> list[tuple[str, ...]]:
    """Return one row for each group: what goes into its holes and how full they look before the bar."""
    rows: list[tuple[str, ...]] = []
    for one in worked:
        case, display = one.case, one.case.display
        measured = " measured" if case.measured else ""
        hole = display.size(case.hole_diameter) + measured
        rows.append(
            (
                case.mark,
                str(case.count),
                case.bar.text,
                hole,
                display.size(case.embedment),
                case.direction,
                display.volume(one.required),
                f"{case.overfill * 100:.4g} %",
                one.dispense_text,
                display.surface(one.level_before_bar) + " below the mouth",
            )
        )
    return rows


@standing("doses")
def dose_table(worked: Sequence[Worked], caption: str = "Dose for each hole, by bar group") -> View:
    """Show the dose of every group; it is what the document sets large."""
    view = table_view(caption, DOSE_COLUMNS, dose_rows(worked), "lrlrrlrrrr")
    return replace(view, block={**view.block, "large": [DOSE_COLUMNS.index("Dispense")]})


def one_per_direction(worked: Sequence[Worked]) -> list[Worked]:
    """Pick the first group of each direction, for the pictures."""
    first: dict[str, Worked] = {}
    for one in worked:
        first.setdefault(one.case.direction, one)
    return list(first.values())


@standing()
def picture_numbers(marks: Sequence[str], pictures: Sequence[Picture]) -> View:
    """Show as numbers what pictures show: one row for each value, one column for each picture."""
    rows = [(name, *(dict(picture.numbers)[name] for picture in pictures)) for name, _ in pictures[0].numbers]
    return table_view("What the pictures show", ("Value", *marks), rows, "l" + "r" * len(marks))


@dataclass(frozen=True)
class Recorded:
    """The steps of one bar group, to be shown.

    ``governs`` when no check of the notebook is used more than one of its own.
    """

    mark: str
    title: str
    steps: Sequence[Step]
    governs: bool = False


def governing_mark(checks: Sequence[Check]) -> str:
    """Return the mark of the group whose check governs, empty when it is one of the whole job or there is none.

    Parameters
    ----------
    checks
        All checks of a notebook.

    Returns
    -------
    str
    """
    most = governing([as_data(check) for check in checks])
    return mark_of(most) if most else ""


def alike(groups: Sequence[Recorded]) -> list[list[Recorded]]:
    """Gather groups that ran the same formulas in the same order.

    The first of each kind is shown in full, the one that governs before others.
    """
    kinds: dict[tuple[str, ...], list[Recorded]] = {}
    for one in groups:
        kinds.setdefault(tuple(f"{step.formula} {step.symbol}" for step in one.steps), []).append(one)
    return [sorted(kind, key=lambda one: not one.governs) for kind in kinds.values()]


def values_table(groups: Sequence[Recorded], caption: str) -> View:
    """Show the steps of groups that ran the same formulas: one row for each step, one column for each group."""
    columns = ("Step", "Symbol", *(one.mark for one in groups))
    rows = [
        (step.label, plain_symbol(step.symbol), *(one.steps[i].shown for one in groups))
        for i, step in enumerate(groups[0].steps)
    ]
    ids = [step.id for one in groups for step in one.steps]
    return table_view(caption, columns, rows, "ll" + "r" * len(groups), ids)


@standing("record")
def record_groups(groups: Sequence[Recorded]) -> list[View]:
    """Show every step of every group: each kind in full once, the others' values in tables of at most five groups."""
    views = []
    for kind in alike([one for one in groups if one.steps]):
        head, rest = kind[0], kind[1:]
        views.append(steps_view(head.title, head.steps))
        for start in range(0, len(rest), 5):
            part = rest[start : start + 5]
            marks = ", ".join(one.mark for one in part)
            views.append(values_table(part, f"The same formulas for {marks}"))
    return views


def record(worked: Sequence[Worked]) -> list[View]:
    """Show every step of the dose of every group."""
    most = governing_mark([check for one in worked for check in one.sheet.checks])
    return record_groups([recorded(one, one.sheet.steps, most) for one in worked])


def recorded(worked: Worked, steps: Sequence[Step], governs: str = "") -> Recorded:
    """Name the steps of a group; ``governs`` is the mark of the group that does."""
    case = worked.case
    title = f"{case.mark}: {case.bar.text}, every step" + ("; this group governs" if case.mark == governs else "")
    return Recorded(case.mark, title, steps, case.mark == governs)


def steps_by_mark(results: Results, notebook: str) -> list[Recorded]:
    """Return a notebook's steps by bar group; those of the whole job are left out."""
    kept: dict[str | None, list[Step]] = {one.case.mark: [] for one in results.worked}
    for step in results.sheet_of(notebook).steps:
        if step.mark is not None:
            kept[step.mark].append(step)
    most = governing_mark(results.sheet_of(notebook).checks)
    return [recorded(one, kept[one.case.mark], most) for one in results.worked]


def inputs_view(rows: Sequence[Row], caption: str = "What goes in", place: str = "inputs") -> View:
    """Show what went in: name, value as typed, and the file and key it comes from.

    Values may be long, so they stand to the left and wrap; the document sets each input as a line of its own.
    """
    view = table_view(caption, ("Input", "Value", "Where from"), rows)
    return replace(view, block={**view.block, "kind": "inputs", "place": place})


# Tables of the job file that belong to one notebook. The first one shows all others, so that a new table is shown
# somewhere.
TABLES = {"02": ("scatter", "cost", "judgement"), "03": ("evidence",), "04": ("design",), "05": ("site",)}
_ON_EVERY_PAGE = ("schema", "job.number", "job.revision", "job.title", "job.invented")


def rows_of(job: Job, *tables: str, without: Sequence[str] = ()) -> list[Row]:
    """Return what was typed into tables of the job file, ``site.times`` and the like, each key with its place."""

    def inside(place: Place, names: Sequence[str]) -> bool:
        return any(place[: len(parts)] == parts for parts in (tuple(name.split(".")) for name in names))

    typed = {place: text for place, text in job.typed.items() if inside(place, tables) and not inside(place, without)}
    return typed_rows(JobFile, typed, job.path.name, sections=1)


def input_rows(job: Job) -> list[Row]:
    """Return what the job file says of all that the other notebooks do not show, as typed.

    And the name of the adhesive.
    """
    others = [table for tables in TABLES.values() for table in tables]
    tables = [field.alias or name for name, field in JobFile.model_fields.items()]
    rows = rows_of(job, *(table for table in tables if table not in others), without=_ON_EVERY_PAGE)
    return [*rows, ("Adhesive", job.adhesive.name, job.adhesive_path.name)]


@standing("inputs")
def schedule_view(job: Job) -> View:
    """Show the bar schedule as it was typed."""
    columns = list(dict.fromkeys(name for group in job.groups for name in group.given))
    rows = [[str(group.row), *(group.given.get(name, "") for name in columns)] for group in job.groups]
    return table_view(f"Bar schedule, {job.schedule_path.name}", ("Row", *(c.replace("_", " ") for c in columns)), rows)
