"""The bar schedule as rows of fields, twenty at a time: checked like the file, and saved to it as a whole.

Plain fields on purpose: they carry a label for each cell, say what is wrong in words, and need no package beside
ipywidgets.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from html import escape
from typing import Any

import ipywidgets as widgets

from calc.base.display import plain_text
from calc.base.errors import NotAccepted
from calc.base.look.tokens import COLOUR
from calc.base.units import UnitError, parse_number, parse_quantity
from calc.files.job import Job, is_demo
from calc.files.problems import InputErrors
from calc.files.schedule import COLUMNS, DIRECTIONS, BarGroup, read_values
from calc.files.strict import LONGEST_NOTE
from calc.show.panel import BY_RULE, CHANGED, DEMO_STAYS, NAMES, NOT_YET, OnScreen, button, closed, sentence
from calc.work.load import load_job
from calc.work.rows import GridRow, save_rows

PAGE = 20
_TOLD = 12  # rows of which it is said what is wrong
_WRONG = f"2px solid {COLOUR['failure']}"
_LENGTH_COLUMNS = ("hole_diameter", "embedment", "overdrill", "depth_to_tip")
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


@dataclass(frozen=True)
class _Line:
    """A row as it stands here: the mark that its group has in the schedule, empty for a new one, and all its cells."""

    was: str
    cells: Mapping[str, str]


class ScheduleGrid(OnScreen):
    """The rows of a job's schedule: typed, pasted, added, renamed, sorted, deleted, undone, and saved as a whole.

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
        self._where: dict[int, set[str]] = {}  # the cells of a row that are wrong
        self._past: list[list[_Line]] = []
        self.columns = _columns(job)
        self._original = {group.mark: _texts(group, self.columns) for group in job.groups}
        self.lines = self._of_job()
        self.cells = [self._row() for _ in range(PAGE)]
        self._build()
        self.show()

    # ---- what is on the screen ----

    def _of_job(self) -> list[_Line]:
        return [_Line(mark, cells) for mark, cells in self._original.items()]

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
        small = {"layout": widgets.Layout(width="2.4rem")}
        self._deletes = [button("", partial(self._delete, i), "trash", **small) for i in range(PAGE)]
        self._lines = [
            widgets.HBox([*cells.values(), delete]) for cells, delete in zip(self.cells, self._deletes, strict=True)
        ]
        self.back = button("Back", lambda: self.turn(self.page - 1), "arrow-left", layout=widgets.Layout(width="6rem"))
        self.on = button("On", lambda: self.turn(self.page + 1), "arrow-right", layout=widgets.Layout(width="6rem"))
        self.place = widgets.HTML()
        self.find = widgets.Text(description="Find mark", continuous_update=False, layout=widgets.Layout(width="15rem"))
        self.add = button("Add a group", self.add_group, "plus", layout=widgets.Layout(width="9rem"))
        sorts = [("as they stand", ""), *((_HEADS[name], name) for name in self.columns)]
        self.sort = widgets.Dropdown(description="Sort by", options=sorts, layout=widgets.Layout(width="15rem"))
        self.undo = button("Undo", self.take_back, "undo", layout=widgets.Layout(width="6rem"))
        self.save = button("Save to the schedule", self.write, "save", layout=widgets.Layout(width="12rem"))
        self.pasted = widgets.Textarea(
            description="Rows from a spreadsheet",
            placeholder="Copy the cells there, paste them here: " + ", ".join(_HEADS[name] for name in self.columns),
            layout=widgets.Layout(width="46rem", height="4rem"),
        )
        self.pasted.style.description_width = "11rem"
        self.take = button("Take these rows", self._paste, "paste", layout=widgets.Layout(width="10rem"))
        self.said = widgets.HTML()
        self.find.observe(lambda change: self._find(str(change["new"]).strip()), names="value")
        self.sort.observe(lambda change: self._sort(str(change["new"])), names="value")
        how = widgets.HTML(
            '<div class="dp-saved">Lengths carry their unit, such as 200 mm or 5/8 in. A row is checked when you'
            " leave a cell. An emptied cell gets back what the schedule says; 'rule' takes a group's own overfill"
            " away. A new mark is changed in every table of the job that has it.</div>"
        )
        top = widgets.HBox([self.back, self.on, self.place, self.find, self.add, self.sort]).add_class("dp-actions")
        paste = widgets.HBox([self.pasted, self.take]).add_class("dp-actions")
        bottom = widgets.HBox([self.save, self.undo]).add_class("dp-actions")
        rows = widgets.VBox([widgets.HBox(heads), *self._lines], layout=widgets.Layout(overflow="auto"))
        self.widget = widgets.VBox([how, top, rows, bottom, self.said, paste]).add_class("dp-grid")

    @property
    def rows(self) -> int:
        """Number of rows, those that were added among them."""
        return len(self.lines)

    def texts(self, index: int) -> Mapping[str, str]:
        """Return what stands in a row."""
        return self.lines[index].cells

    def show(self) -> None:
        """Put the rows of the page into the fields; what is wrong with one is said in place."""
        first = self.page * PAGE
        with self.silence():
            for i, (cells, line) in enumerate(zip(self.cells, self._lines, strict=True)):
                index = first + i
                line.layout.display = "flex" if index < self.rows else "none"
                if index < self.rows:
                    self._show_row(index, cells)
                    self._deletes[i].tooltip = f"Delete row {index + 1}"
        last = min(first + PAGE, self.rows)
        self.place.value = f'<span class="dp-saved">&nbsp;groups {first + 1} to {last} of {self.rows}&nbsp;</span>'
        self.back.disabled, self.on.disabled = self.page == 0, last >= self.rows
        self.undo.disabled = not self._past

    def _show_row(self, index: int, cells: dict[str, Any]) -> None:
        for name, text in self.texts(index).items():
            cells[name].tooltip = f"{_HEADS[name]}, row {index + 1}"
            if name != "direction" or text in DIRECTIONS:
                cells[name].value = text
            cells[name].layout.border = _WRONG if index in self.wrong and name in self._where.get(index, ()) else None

    def turn(self, page: int) -> None:
        """Show another page; what is typed is kept."""
        self.page = min(max(page, 0), max(self.rows - 1, 0) // PAGE)
        self.show()

    def _find(self, mark: str) -> None:
        if not mark:
            return
        index = next((i for i in range(self.rows) if self.texts(i)["mark"] == mark), None)
        if index is None:
            self.say(f"No group has the mark '{mark}'.")
        else:
            self.turn(index // PAGE)

    # ---- what is done to rows ----

    def _become(self, lines: list[_Line], page: int | None = None) -> None:
        """Take other rows in place of those that stand here, which can be undone."""
        self._past.append(self.lines)
        self.lines = lines
        self._check_all()
        self.turn(self.page if page is None else page)
        self._tell_wrong()

    def take_back(self) -> None:
        """Undo what was last done here and is not saved."""
        if self._past:
            self.lines = self._past.pop()
            self._check_all()
            self.turn(self.page)
            self._tell_wrong()

    def add_group(self) -> None:
        """Add an empty row at the end and show it."""
        self._become([*self.lines, self._new({})], self.rows // PAGE)

    def _new(self, cells: Mapping[str, str]) -> _Line:
        return _Line("", dict.fromkeys(self.columns, "") | {"count": "1", "direction": "down"} | dict(cells))

    def _delete(self, i: int) -> None:
        index = self.page * PAGE + i
        self._become([line for place, line in enumerate(self.lines) if place != index])

    def _sort(self, column: str) -> None:
        if column:
            self._become(sorted(self.lines, key=lambda line: _order(column, line.cells[column])), 0)

    def _paste(self) -> None:
        """Take rows from a spreadsheet: under its own titles, or in the order of the columns here."""
        try:
            found = pasted_rows(str(self.pasted.value), self.columns, self.job.display.length_unit)
        except NotAccepted as error:
            self.said.value = f'<div class="dp-sentence" role="alert">{escape(closed(str(error)))}</div>'
            return
        lines = list(self.lines)
        places = {line.cells["mark"]: place for place, line in enumerate(lines)}
        for cells in found:
            place = places.get(cells.get("mark", ""))
            if place is None:
                lines.append(self._new(cells))
            else:
                lines[place] = _Line(lines[place].was, dict(lines[place].cells) | cells)
        self.pasted.value = ""
        self._become(lines, (len(lines) - 1) // PAGE)

    # ---- from the fields to the schedule ----

    def _changed(self, cells: dict[str, Any], name: str) -> None:
        if self._quiet:
            return
        index = self.page * PAGE + next(i for i, one in enumerate(self.cells) if one is cells)
        text = str(cells[name].value).strip()
        before = self._original.get(self.lines[index].was, {}).get(name, "")
        if not text and before:
            # As in the panels: emptying a cell brings back what the schedule says, so that no overfill is lost by the
            # way.
            text = before
        elif name == "overfill" and text == BY_RULE:
            text = ""
        if text != self.texts(index)[name]:
            line = self.lines[index]
            changed = [*self.lines]
            changed[index] = _Line(line.was, dict(line.cells) | {name: text})
            self._become(changed)
        else:
            self.show()

    def _check_all(self) -> None:
        """Read every changed row by the rules of the file, and see that each mark stands once."""
        self.wrong, self._where = {}, {}
        first: dict[str, int] = {}
        for index, line in enumerate(self.lines):
            if line.cells != self._original.get(line.was):
                self._check(index)
            twin = first.setdefault(line.cells["mark"], index)
            if twin != index and line.cells["mark"] and index not in self.wrong:
                mark = line.cells["mark"]
                self._where[index] = {"mark"}
                self.wrong[index] = (
                    f"{self._who(index)}, Mark: '{mark}' is already the mark of row {twin + 1}; accepted: a mark that"
                    " no other row has."
                )

    def _who(self, index: int) -> str:
        mark = self.texts(index)["mark"]
        return f"Row {index + 1}" + (f" ({mark})" if mark else "")

    def _check(self, index: int) -> None:
        try:
            read_values(self.texts(index), point_angle=self.job.equipment.point_angle, source="grid")
        except InputErrors as errors:
            who = self._who(index)
            self._where[index] = {problem.place.removeprefix("field ") for problem in errors.problems}
            self.wrong[index] = " ".join(
                f"{who}, {sentence(p.place, p.value, p.message, _HEADS)}" for p in errors.problems
            )

    def _tell_wrong(self) -> None:
        if self.wrong:
            listed = "".join(f"<li>{escape(text)}</li>" for _, text in sorted(self.wrong.items())[:_TOLD])
            more = f"<li>And {len(self.wrong) - _TOLD} more rows.</li>" if len(self.wrong) > _TOLD else ""
            self.said.value = (
                f'<div class="dp-sentence" role="alert"><b>Cannot be saved yet.</b><ul>{listed}{more}</ul></div>'
            )
        else:
            changed = sum(line.cells != self._original.get(line.was) for line in self.lines)
            gone = len(self._original.keys() - {line.was for line in self.lines})
            said = [f"{changed} row{'s' if changed != 1 else ''} changed"] if changed else []
            said += [f"{gone} deleted"] if gone else []
            said = said or (["the order changed"] if self.lines != self._of_job() else [])
            self.say(f"{', '.join(said)}, not saved yet." if said else "")

    def say(self, text: str) -> None:
        """Say below the grid what was done."""
        self.said.value = f'<div class="dp-saved" role="status">{escape(text)}</div>' if text else ""

    def write(self) -> None:
        """Write all rows at once; a refused one changes nothing."""
        if self.job.changed:
            self.say(CHANGED)
        elif self.wrong:
            self._tell_wrong()
        elif is_demo(self.job):
            self.say(DEMO_STAYS)
        elif self.lines == self._of_job():
            self.say("Nothing to save: the schedule says the same.")
        else:
            self._write_rows()

    def _write_rows(self) -> None:
        rows = [GridRow(line.was, self._told(line)) for line in self.lines]
        changed = sum(bool(row.cells) for row in rows)
        try:
            save_rows(self.job, rows)
        except InputErrors as errors:
            told = " ".join(closed(str(p)) for p in errors.problems)
            self.said.value = f'<div class="dp-sentence" role="alert">Not saved: {escape(told)}</div>'
            return
        self._past = []
        self._take(load_job(self.job.path))
        many = f"{changed} row{'s' if changed != 1 else ''}"
        self.say(f"{many} written to {self.job.schedule_path}. {NOT_YET}")
        if self._tell is not None:
            self._tell(self.job)

    def _told(self, line: _Line) -> dict[str, str]:
        before = self._original.get(line.was, {})
        return {name: text for name, text in line.cells.items() if text != before.get(name, "")}

    def _take(self, job: Job) -> None:
        self.job = job
        self._original = {group.mark: _texts(group, self.columns) for group in job.groups}
        self.lines = self._of_job()
        self.wrong, self._where = {}, {}
        self.turn(self.page)

    def reload(self, job: Job) -> None:
        """Take a job that was changed elsewhere; what is typed here and not saved stays."""
        typed = self.lines if self.lines != self._of_job() else None
        before = self._original
        self._take(job)
        if typed is not None and before.keys() == self._original.keys():
            self.lines = [
                _Line(
                    line.was,
                    {
                        name: text if text != before.get(line.was, {}).get(name, "") else self._original[line.was][name]
                        for name, text in line.cells.items()
                    }
                    if line.was
                    else line.cells,
                )
                for line in typed
            ]
            self._check_all()
            self.show()


def pasted_rows(text: str, columns: Sequence[str], unit: str) -> list[dict[str, str]]:
    """Read cells that were copied from a spreadsheet.

    Parameters
    ----------
    text
        Rows apart by line breaks, cells by tabs. A first row with titles, such as ``mark`` and ``embedment [in]``, says
        what stands where and in which unit.
    columns
        Columns in the order that holds without titles.
    unit
        Unit of a bare length.

    Returns
    -------
    list of dict of str to str
        Column to text, one for each row; cells that are empty are left out.

    Raises
    ------
    NotAccepted
        Nothing is there, a title is no column, or a row has more cells than there are columns.
    """
    rows = [[cell.strip() for cell in line.split("\t")] for line in text.splitlines() if line.strip()]
    if not rows:
        raise NotAccepted("nothing is pasted; accepted: cells that were copied from a spreadsheet")
    order, units = list(columns), dict.fromkeys(_LENGTH_COLUMNS, unit)
    if rows[0][0].partition("[")[0].strip().lower() in COLUMNS:
        order = [head.partition("[")[0].strip().lower().replace(" ", "_") for head in rows[0]]
        units |= {
            name: head.partition("[")[2].rstrip("] ")
            for name, head in zip(order, rows[0], strict=True)
            if name in _LENGTH_COLUMNS and "[" in head
        }
        rows = rows[1:]
    if unknown := [name for name in order if name not in columns]:
        raise NotAccepted(f"the title '{unknown[0]}' is no column here; accepted: {', '.join(columns)}")
    if long := [row for row in rows if len(row) > len(order)]:
        raise NotAccepted(f"the row '{' '.join(long[0])[:60]}' has more cells than there are columns: {len(order)}")
    return [
        {name: _with_unit(name, cell, units) for name, cell in zip(order, row, strict=False) if cell} for row in rows
    ]


def _with_unit(name: str, cell: str, units: Mapping[str, str]) -> str:
    bare = name in units and not cell[-1].isalpha() and cell[-1] not in "\"'″′"
    return f"{cell} {units[name]}" if bare else cell


def _order(column: str, text: str) -> tuple[bool, float, str]:
    """Sort numbers by size and texts by letters; what is empty comes last."""
    try:
        value = parse_quantity(text, "mm").to("mm") if column in _LENGTH_COLUMNS else parse_number(text.lstrip("#"))
    except UnitError:
        return not text, 0.0, text
    return False, value, text


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
