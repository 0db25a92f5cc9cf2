"""The first page: a job to choose or to begin, its forms in the order of the work, what follows, and its package."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from calc.base.errors import CalcError
from calc.files.job import JOB_FILE, Job, demo_job, is_demo
from calc.firstpage.forms import FORMS, Form, TableForm, is_there, missing_of
from calc.firstpage.making import Making
from calc.package.notebooks import FIRST, working_copies
from calc.package.starting import NEW_JOBS, new_job
from calc.show.dose.grid import ScheduleGrid
from calc.show.panel import OnScreen, button, choice_field, closed, styled, text_field
from calc.show.view import dose_table
from calc.work.load import load_job
from calc.work.places import located
from calc.work.results import Results, compute
from calc.work.save import take_back
from calc.work.undo import saves

BARS = "Bar schedule"
_NEAR = 40  # jobs that are listed
_STYLE = """<style>
.dosepanel .fp-head {width: 100%; text-align: left; margin: .35rem 0 0; font-weight: 600}
.dosepanel .fp-body {border-left: 3px solid var(--jp-border-color2, #bbb); padding: .2rem 0 .4rem .8rem}
.fp-table {border-collapse: collapse; margin: .4rem 0; font-variant-numeric: tabular-nums}
.fp-table th, .fp-table td {text-align: left; padding: .1rem 1.2rem .1rem 0; vertical-align: top}
.fp-scroll {max-height: 24rem; overflow: auto}
</style>"""


class JobPage(OnScreen):
    """A job from its first value to its signature, or the choice of one.

    Parameters
    ----------
    job_file
        The job file or its folder; empty offers the demos, a new job, and those nearby.

    Attributes
    ----------
    job : Job or None
        The job; None while none is chosen.
    forms : dict of str to list of TableForm
        The forms that were opened, by section.
    """

    def __init__(self, job_file: str = "") -> None:
        self.job: Job | None = None
        self.forms: dict[str, list[TableForm]] = {}
        self.sections: dict[str, Any] = {}
        self.widget = widgets.VBox().add_class("dosepanel")
        self.said = widgets.HTML()
        self.open(located(job_file)) if job_file else self._choose()

    def focus(self) -> None:
        """Stay: the page is the only thing on its notebook."""

    # ---- no job yet ----

    def _choose(self) -> None:
        self.folder = text_field("Folder of the new job", "my-job")
        self.units = choice_field("Units", [("metric", "metric"), ("US customary", "us")], "metric")
        self.kind = choice_field("Begin with", [(words, name) for name, words in NEW_JOBS.items()], "minimal")
        near = _near(Path.cwd())
        self.near = choice_field("Jobs nearby", [("choose one", ""), *near], "")
        demos = [("choose one", ""), *((f"demo, {one}", str(demo_job(one))) for one in ("metric", "us", "failing"))]
        self.demo = choice_field("Demos, to look at", demos, "")
        for field in (self.near, self.demo):
            field.observe(self._picked, names="value")
        self.begin = button("Begin", self._begin, "file", tooltip="Make the new job and open it")
        self.widget.children = (
            styled(),
            styled(_STYLE),
            _heading("A new job"),
            _fields([self.folder, self.units, self.kind]),
            widgets.HBox([self.begin, self.said]).add_class("dp-actions"),
            _heading("Or one that is there"),
            _fields([self.near, self.demo]),
        )

    def _picked(self, change: Any) -> None:
        if change["new"]:
            self.open(Path(change["new"]))

    def _begin(self) -> None:
        name = str(self.folder.value).strip()
        if not name:
            self._say("Type a name for the folder of the new job.", wrong=True)
            return
        try:
            self.open(new_job(_base() / name, units=self.units.value, kind=self.kind.value))
        except (CalcError, OSError) as error:
            self._say(closed(str(error)), wrong=True)

    # ---- a job ----

    def open(self, path: Path) -> None:
        """Open a job; one whose files have errors is told with all of them."""
        try:
            self.job = load_job(path)
            copies = None if is_demo(self.job) else working_copies(self.job)
        except (CalcError, OSError) as error:
            lines = "".join(f"<li>{escape(line)}</li>" for line in str(error).splitlines())
            again = button("Read it again", lambda: self.open(path), "refresh")
            said = f"<b>{escape(str(path))} cannot be read.</b><ul>{lines}</ul>"
            wrong = f'<div class="dp-sentence" role="alert">{said}</div>'
            self.widget.children = (styled(), styled(_STYLE), widgets.HTML(wrong), again)
            return
        self.status, self.links, self.answer = widgets.HTML(), widgets.Output(), widgets.HTML()
        self.undo = button("Take the last save back", self._undo, "undo", layout=widgets.Layout(width="auto"))
        self.reload = button("Read the files again", self._reload, "refresh", layout=widgets.Layout(width="auto"))
        self.making = Making(self.job)
        self.said.value = ""
        self._link(copies)
        sections = []
        for title in _order():
            sections.append(self._section(title, self._bars if title == BARS else partial(self._tables, title)))
        self.widget.children = (
            styled(),
            styled(_STYLE),
            self.status,
            self.links,
            widgets.HBox([self.undo, self.reload, self.said]).add_class("dp-actions"),
            *sections,
            _heading("What follows"),
            self.answer,
            _heading("The package"),
            self.making.widget,
        )
        self._follow()

    def _link(self, copies: Path | None) -> None:
        if copies is None:
            self.links.outputs = ()
            return
        place = Path(os.path.relpath(copies, Path.cwd())).as_posix()
        names = [path.stem for path in sorted(copies.glob("[0-9][0-9]_*.ipynb")) if path.stem != FIRST]
        text = " · ".join(f"[{name.replace('_', ' ')}]({place}/{name}.ipynb)" for name in names)
        data = {"text/markdown": f"Notebooks of this job: {text}", "text/plain": text}
        self.links.outputs = ({"output_type": "display_data", "data": data, "metadata": {}},)

    def _section(self, title: str, make: Callable[[], list[Any]]) -> Any:
        """A heading that opens its forms, which are made when somebody looks."""
        body = widgets.VBox().add_class("fp-body")
        body.layout.display = "none"
        head = widgets.ToggleButton(description=title, icon="chevron-right").add_class("fp-head")

        def turn(change: Any) -> None:
            if change["new"] and not body.children:
                body.children = tuple(make())
            body.layout.display = "" if change["new"] else "none"
            head.icon = "chevron-down" if change["new"] else "chevron-right"

        head.observe(turn, names="value")
        self.sections[title] = head
        return widgets.VBox([head, body])

    def _tables(self, title: str) -> list[Any]:
        assert self.job is not None
        self.forms[title] = [TableForm(self.job, form, self._saved) for form in FORMS[title]]
        for form in self.forms[title]:
            form.together = self.forms[title]
        for form in self.forms[title][:-1]:
            form.save.layout.display = "none"  # one button saves the section
        return [part for one in self.forms[title] for part in (_heading(one.form.title), one.widget)]

    def _bars(self) -> list[Any]:
        assert self.job is not None
        self.grid = ScheduleGrid(self.job, lambda job: self._saved(job.schedule_path))
        return [self.grid.widget]

    # ---- after a save ----

    def _saved(self, path: Path) -> None:
        """Read the job again, and let everything on the page follow."""
        assert self.job is not None
        self.job = load_job(self.job.path)
        self._say(f"Saved to {path.name}.")
        self._follow()

    def _reload(self) -> None:
        assert self.job is not None
        try:
            self.job = load_job(self.job.path)
        except CalcError as error:
            self._say(f"Not read: {closed(str(error))}", wrong=True)
            return
        self._follow()
        self._say("Read again.")

    def _undo(self) -> None:
        assert self.job is not None
        try:
            at = take_back(self.job)
            self.job = load_job(self.job.path)
        except CalcError as error:
            self._say(closed(str(error)), wrong=True)
            return
        self._follow()
        self._say(f"Taken back: the save of {at}.")

    def _follow(self) -> None:
        assert self.job is not None
        job = self.job
        for one in (form for forms in self.forms.values() for form in forms):
            one.follow(job)
        if hasattr(self, "grid"):
            self.grid.reload(job)
        for title, forms in FORMS.items():
            self.sections[title].description = f"{title}: {_state(job, forms)}"
        self.sections[BARS].description = f"{BARS}: {_groups(job)}"
        self.undo.disabled = not saves(job.folder)
        self.making.follow(job)
        results = compute(job)
        self.status.value = _status(job, results)
        self.answer.value = _answer(results)

    def _say(self, text: str, *, wrong: bool = False) -> None:
        kind = 'dp-sentence" role="alert' if wrong else 'dp-saved" role="status'
        self.said.value = f'<div class="{kind}">{escape(text)}</div>'


def _order() -> list[str]:
    """The sections in the order of the work; the bars come behind the equipment."""
    titles = list(FORMS)
    place = titles.index("Equipment") + 1
    return [*titles[:place], BARS, *titles[place:]]


def _state(job: Job, forms: Sequence[Form]) -> str:
    """Say in one line what a section has, and what is missing for which notebook."""
    absent = [form for form in forms if form.without and not is_there(job, form)]
    lacking = [words for form in forms if is_there(job, form) for words in missing_of(job, form)]
    said = [f"no {form.title.lower()} yet, {form.without}" for form in absent]
    said += [f"missing {', '.join(lacking)}"] if lacking else []
    return "; ".join(said) or "complete"


def _groups(job: Job) -> str:
    return f"{len(job.groups)} group{'s' if len(job.groups) != 1 else ''}"


def _status(job: Job, results: Results) -> str:
    owed = sum(check.verdict == "owed" for check in results.checks)
    fails = sum(not check.passes for check in results.checks) - owed
    counted = f"{_groups(job)}, {len(results.checks)} checks, {fails} fail, {owed} owed"
    demo = " This is a demo: nothing is saved." if is_demo(job) else ""
    return (
        f'<div class="dp-result" role="status"><b>{escape(job.number)} revision {escape(job.revision)}:'
        f" {escape(job.title)}</b><br>{counted}; in {escape(str(job.folder))}.{demo}</div>"
    )


def _answer(results: Results) -> str:
    """Doses at once, then what fails and what is owed."""
    block = dose_table(results.worked).block
    head = "".join(f"<th>{escape(name)}</th>" for name in block["columns"])
    rows = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in block["rows"])
    table = f'<div class="fp-scroll" tabindex="0"><table class="fp-table"><tr>{head}</tr>{rows}</table></div>'
    told = [
        f"{'Owed' if check.verdict == 'owed' else 'Fails'}: {check.title}: {check.reason}; {check.advice}"
        for check in results.checks
        if not check.passes
    ]
    items = "".join(f"<li>{escape(closed(line))}</li>" for line in told) or "<li>Every check passes.</li>"
    first = "".join(f"<p>{escape(line)}</p>" for line in results.headline)
    return f'<div class="dp-result">{first}{table}<div class="fp-scroll" tabindex="0"><ul>{items}</ul></div></div>'


def _heading(words: str) -> widgets.HTML:
    return widgets.HTML(f"<h3>{escape(words)}</h3>")


def _fields(fields: Sequence[Any]) -> widgets.Box:
    return widgets.Box(list(fields)).add_class("dp-fields")


def _base() -> Path:
    """Where new jobs are made: the folder that the server was started in, beside its folder of notebooks."""
    here = Path.cwd()
    return here.parent if (here / f"{FIRST}.ipynb").is_file() else here


def _near(here: Path) -> list[tuple[str, str]]:
    base = here.parent if (here / f"{FIRST}.ipynb").is_file() else here
    found = sorted({*base.glob(JOB_FILE), *base.glob(f"*/{JOB_FILE}"), *base.glob(f"*/*/{JOB_FILE}")})
    kept = [path for path in found if path.parent.name != "inputs"][:_NEAR]
    return [(path.parent.relative_to(base).as_posix(), str(path)) for path in kept]
