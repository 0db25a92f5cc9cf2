"""The bar schedule as rows of fields, twenty at a time: checked like the file, and saved to it row by row.

Plain fields on purpose: they carry a label for each cell, say what is wrong in words, and need no package beside
ipywidgets.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as widgets

from calc.base.display import plain_text
from calc.files.job import Job, is_demo
from calc.files.problems import InputErrors
from calc.files.schedule import DIRECTIONS, BarGroup, read_values
from calc.files.strict import LONGEST_NOTE
from calc.show.panel import BY_RULE, CHANGED, DEMO_STAYS, NAMES, NOT_YET, OnScreen, button, closed, sentence
from calc.work.load import load_job
from calc.work.save import save_group

PAGE = 20
_AT_ONCE = 5  # more changed rows are written in the background, with progress and a way to stop
_WIDTHS = {
    "mark": "5.2rem",
    "count": "4.4rem",
    "bar": "4.2rem",
    "hole_diameter": "6.6rem",
    "embedment": "6.6rem",
    "overdrill": "6.6rem",
    "depth_to_tip": "6.6rem",
    "direction": "7.2rem",
    "overfill": "5rem",
    "note": "13rem",
}
_HEADS = NAMES | {"note": "Note", "depth_to_tip": "Depth to the tip", "hole_diameter": "Hole", "count": "Holes"}


class ScheduleGrid(OnScreen):
    """Fields for the rows of a job's schedule, and a button that writes the changed ones.

    Parameters
    ----------
    job
        The job whose schedule is edited.
    saved
        Called with the job as it reads after rows were written.

    Attributes
    ----------
    cells : list of dict of str to Widget
        The fields of the page that is shown, one dict for each row.
    wrong : dict of int to str
        What is wrong with a changed row, by its place; empty while all can be saved.
    widget : VBox
        The grid itself.
    """

    def __init__(self, job: Job, saved: Callable[[Job], None] | None = None) -> None:
        self.job = job
        self._tell = saved
        self.page = 0
        self.wrong: dict[int, str] = {}
        self._typed: dict[int, dict[str, str]] = {}
        self._added = 0
        self._stop = threading.Event()
        self._worker: threading.Thread | None = None
        self.columns = _columns(job)
        self.cells = [self._row() for _ in range(PAGE)]
        self._build()
        self.show()

    # ---- what is on the screen ----

    def _row(self) -> dict[str, Any]:
        cells: dict[str, Any] = {}
        for name in self.columns:
            layout = widgets.Layout(width=_WIDTHS[name], margin="0 2px 2px 0")
            if name == "direction":
                cells[name] = widgets.Dropdown(options=DIRECTIONS, layout=layout)
            else:
                cells[name] = widgets.Text(continuous_update=False, layout=layout)
            cells[name].observe(lambda change, cells=cells, name=name: self._changed(cells, name), names="value")
        return cells

    def _build(self) -> None:
        heads = [
            widgets.HTML(f"<b>{_HEADS[name]}</b>", layout=widgets.Layout(width=_WIDTHS[name], margin="0 2px 0 0"))
            for name in self.columns
        ]
        self._lines = [widgets.HBox(list(cells.values())) for cells in self.cells]
        self.back = button("Back", lambda: self.turn(self.page - 1), "arrow-left", layout=widgets.Layout(width="6rem"))
        self.on = button("On", lambda: self.turn(self.page + 1), "arrow-right", layout=widgets.Layout(width="6rem"))
        self.place = widgets.HTML()
        self.find = widgets.Text(description="Find mark", continuous_update=False, layout=widgets.Layout(width="15rem"))
        self.add = button("Add a group", self.add_group, "plus", layout=widgets.Layout(width="9rem"))
        self.save = button("Save to the schedule", self.write, "save", layout=widgets.Layout(width="12rem"))
        self.cancel = button("Stop", self._stop.set, "stop", layout=widgets.Layout(width="6rem", display="none"))
        self.bar = widgets.IntProgress(layout=widgets.Layout(width="12rem", display="none"))
        self.said = widgets.HTML()
        self.find.observe(lambda change: self._find(str(change["new"]).strip()), names="value")
        how = widgets.HTML(
            '<div class="dp-saved">Lengths carry their unit, such as 200 mm or 5/8 in. A row is checked when you'
            " leave a cell. An emptied cell gets back what the schedule says; 'rule' takes a group's own overfill"
            " away.</div>"
        )
        top = widgets.HBox([self.back, self.on, self.place, self.find, self.add])
        bottom = widgets.HBox([self.save, self.cancel, self.bar])
        self.widget = widgets.VBox([how, top, widgets.HBox(heads), *self._lines, bottom, self.said]).add_class(
            "dp-grid"
        )

    @property
    def rows(self) -> int:
        """Number of rows, those that were added among them."""
        return len(self.job.groups) + self._added

    def texts(self, index: int) -> dict[str, str]:
        """Return what stands in a row: as typed here, else as in the schedule."""
        groups = self.job.groups
        own = (
            _texts(groups[index], self.columns)
            if index < len(groups)
            else dict.fromkeys(self.columns, "") | {"count": "1", "direction": "down"}
        )
        return own | self._typed.get(index, {})

    def show(self) -> None:
        """Put the rows of the page into the fields."""
        first = self.page * PAGE
        with self.silence():
            for i, (cells, line) in enumerate(zip(self.cells, self._lines, strict=True)):
                index = first + i
                line.layout.display = "flex" if index < self.rows else "none"
                if index >= self.rows:
                    continue
                for name, text in self.texts(index).items():
                    # The mark is what a row is found by, so it is typed once.
                    cells[name].disabled = name == "mark" and index < len(self.job.groups)
                    cells[name].tooltip = f"{_HEADS[name]}, row {index + 1}"
                    if name != "direction" or text in DIRECTIONS:
                        cells[name].value = text
        last = min(first + PAGE, self.rows)
        self.place.value = f'<span class="dp-saved">&nbsp;groups {first + 1} to {last} of {self.rows}&nbsp;</span>'
        self.back.disabled, self.on.disabled = self.page == 0, last >= self.rows

    def turn(self, page: int) -> None:
        """Show another page; what is typed is kept."""
        self.page = min(max(page, 0), (self.rows - 1) // PAGE)
        self.show()

    def _find(self, mark: str) -> None:
        if not mark:
            return
        index = next((i for i in range(self.rows) if self.texts(i)["mark"] == mark), None)
        if index is None:
            self.say(f"No group has the mark '{mark}'.")
        else:
            self.turn(index // PAGE)

    def add_group(self) -> None:
        """Add an empty row at the end and show it."""
        self._added += 1
        self._typed[self.rows - 1] = {}
        self._check(self.rows - 1)
        self.turn((self.rows - 1) // PAGE)

    # ---- from the fields to the schedule ----

    def _changed(self, cells: dict[str, Any], name: str) -> None:
        if self._quiet:
            return
        index = self.page * PAGE + next(i for i, one in enumerate(self.cells) if one is cells)
        text = str(cells[name].value).strip()
        before = _texts(self.job.groups[index], self.columns)[name] if index < len(self.job.groups) else ""
        if not text and before:
            # As in the panels: emptying a cell brings back what the schedule says, so that no overfill is lost by the
            # way.
            text = before
            with self.silence():
                cells[name].value = text
        elif name == "overfill" and text == BY_RULE:
            text = ""
        own = self._typed.setdefault(index, {})
        own[name] = text
        if index < len(self.job.groups) and before == text:
            own.pop(name)
            if not own:
                self._typed.pop(index)
                self.wrong.pop(index, None)
        if index in self._typed:
            self._check(index)
        self._tell_wrong()

    def _check(self, index: int) -> None:
        """Read a row by the rules of the file; keep the sentence when it is refused."""
        typed = self.texts(index)
        self.wrong.pop(index, None)
        who = f"Row {index + 1}" + (f" ({typed['mark']})" if typed["mark"] else "")
        try:
            group = read_values(typed, point_angle=self.job.equipment.point_angle, source="grid")
        except InputErrors as errors:
            self.wrong[index] = " ".join(
                f"{who}, {sentence(p.place, p.value, p.message, _HEADS)}" for p in errors.problems
            )
            return
        twin = (
            next((i for i in range(self.rows) if i != index and self.texts(i)["mark"] == group.mark), None)
            if index >= len(self.job.groups)
            else None
        )
        if twin is not None:
            self.wrong[index] = (
                f"{who}, Mark: '{group.mark}' is already the mark of row {twin + 1}; accepted: a mark that no other row"
                " has."
            )

    def _tell_wrong(self) -> None:
        if self.wrong:
            listed = "".join(f"<li>{escape(text)}</li>" for _, text in sorted(self.wrong.items()))
            self.said.value = (
                f'<div class="dp-sentence" role="alert"><b>Cannot be saved yet.</b><ul>{listed}</ul></div>'
            )
        else:
            changed = len(self._typed)
            self.say(f"{changed} row{'s' if changed != 1 else ''} changed, not saved yet." if changed else "")

    def say(self, text: str) -> None:
        """Say below the grid what was done."""
        self.said.value = f'<div class="dp-saved" role="status">{escape(text)}</div>' if text else ""

    def write(self) -> None:
        """Write every changed row; many are written in the background."""
        if self._worker is not None and self._worker.is_alive():
            self.say("The rows are being written.")
        elif self.job.changed:
            self.say(CHANGED)
        elif self.wrong:
            self._tell_wrong()
        elif is_demo(self.job):
            self.say(DEMO_STAYS)
        elif not self._typed:
            self.say("Nothing to save: the schedule says the same.")
        elif len(self._typed) <= _AT_ONCE:
            self._write_rows()
        else:
            self._stop.clear()
            self._worker = threading.Thread(target=self._write_rows, daemon=True)
            self._worker.start()

    def _write_rows(self) -> None:
        """Write row by row; each is written whole or not at all, so that stopping loses nothing."""
        todo = sorted(self._typed)
        self._busy(len(todo))
        done, refused = 0, ""
        job = self.job
        for index in todo:
            if self._stop.is_set():
                break
            cells = (
                self._typed[index]
                if index < len(self.job.groups)
                else {n: t for n, t in self.texts(index).items() if n != "mark" and t}
            )
            try:
                save_group(job, mark=self.texts(index)["mark"], values=cells)
                job = load_job(job.path)
            except InputErrors as errors:
                refused = " ".join(closed(str(p)) for p in errors.problems)
                break
            done += 1
            self.bar.value = done
        self._settle(job, todo[:done])
        rest = f" {len(todo) - done} changed rows are still here, not saved." if done < len(todo) else ""
        stopped = (
            " Stopped." if self._stop.is_set() and done < len(todo) else f" Not saved: {refused}" if refused else ""
        )
        many = f"{done} row{'s' if done != 1 else ''}"
        self._busy(0)
        self.say(f"{many} written to {job.schedule_path}.{stopped}{rest}" + (f" {NOT_YET}" if done else ""))
        self._stop.clear()
        if done and self._tell is not None:
            self._tell(self.job)

    def _busy(self, total: int) -> None:
        self.bar.max, self.bar.value = max(total, 1), 0
        show = "flex" if total > _AT_ONCE else "none"
        self.bar.layout.display, self.cancel.layout.display = show, show
        for cells in self.cells:
            for name, cell in cells.items():
                cell.disabled = bool(total) or (name == "mark")

    def _settle(self, job: Job, written: list[int]) -> None:
        """Take the job as it reads now; rows that were not written stay as typed, added ones behind the groups."""
        old = len(self.job.groups)
        kept = {index: own for index, own in self._typed.items() if index not in written}
        new_rows = [index for index in range(old, old + self._added) if index not in written]
        self.job = job
        self._added = len(new_rows)
        self._typed = {index: own for index, own in kept.items() if index < old}
        self._typed |= {len(job.groups) + i: kept.get(index, {}) for i, index in enumerate(new_rows)}
        self.wrong = {}
        self.turn(self.page)

    def reload(self, job: Job) -> None:
        """Take a job that was changed elsewhere; what is typed here is kept where its row is still the same."""
        if [g.mark for g in job.groups] == [g.mark for g in self.job.groups]:
            self.job = job
            self.show()


def _columns(job: Job) -> list[str]:
    """Columns to show: the depth to the tip in place of the overdrill where the schedule has that, or beside it."""
    typed = {name for group in job.groups for name in group.given}
    deep = [name for name in ("overdrill", "depth_to_tip") if name in typed] or ["overdrill"]
    return ["mark", "count", "bar", "hole_diameter", "embedment", *deep, "direction", "overfill", "note"]


def _texts(group: BarGroup, columns: list[str]) -> dict[str, str]:
    own = {
        "mark": group.mark,
        "count": str(group.count),
        "bar": group.given.get("bar", group.bar.designation),
        "direction": group.direction,
        "overfill": "" if group.overfill is None else plain_text(group.overfill),
        "note": group.note[:LONGEST_NOTE],
    }
    return {name: own.get(name, group.given.get(name, "")) for name in columns}
