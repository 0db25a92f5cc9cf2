"""The steps of a calculation as cells that compute: each step a formula over the cells of its inputs.

What comes in from outside stands once, on the sheet of inputs. Each bar group's block shows what it takes from there or
from another block, and then its steps. The formulas are the workbook's own, translated from where they stand.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from calc.base.display import Display
from calc.base.identity import number_of, words_of
from calc.base.look.tokens import COLOUR
from calc.base.maths import SPREADSHEET, translate
from calc.base.nomenclature import NOMENCLATURE
from calc.base.units import convert, same_kind
from calc.package.xlsx import CENTRE, RIGHT, UNIT, WRAP, WRONG, Book, BookCell, ListColumn, address, number_format
from calc.work.trace import Trace, mark_of, place_of

INPUT_SHEET, WHOLE = "Inputs", "whole job"
_CHANGED, _DIFFERS, _SAME = "changed", "differs", "✓"
_ABOVE = 3  # rows above the first one: title, state, head
_VALUE, _STATE, _KEPT = 3, 9, 10  # columns
_PRINTED = 10
_NEAR, _NOUGHT = "1E-9", "1E-12"  # as near as ten digits let two numbers be; what is nothing to another program
_TYPED = {"font_color": COLOUR["link"], "bg_color": COLOUR["typed"], "border": 1, "border_color": COLOUR["hair"]}
_TAKEN = {"font_color": COLOUR["quiet"]}
_STEP = {"bold": True}
_TITLE = {"bold": True, "font_size": 12}
_GROUP = {"bold": True, "bg_color": COLOUR["shade"], "top": 1, "top_color": COLOUR["quiet"]}
LINKED = {"font_color": COLOUR["link"], "text_wrap": True}
_WHAT_IF = "a what-if, and not the calculation. What was simulated, counted or chosen stands as it was."

_Given = Mapping[str, Any]


@dataclass(frozen=True)
class Spot:
    """Where a value stands: sheet, row counted from nought, unit."""

    sheet: str
    row: int
    unit: str

    def seen_from(self, sheet: str, unit: str) -> str:
        """Return the value in a unit, as a formula of a sheet has it."""
        return in_unit(address(self.row, _VALUE, "" if sheet == self.sheet else self.sheet), self.unit, unit)

    @property
    def target(self) -> str:
        """Where a link leads."""
        return address(self.row, _VALUE, self.sheet)


@dataclass
class Outside:
    """A value from outside, with all the bar groups and steps that take it from the same place."""

    name: str
    origin: str
    value: float
    unit: str
    marks: dict[str, None] = field(default_factory=dict)
    steps: list[str] = field(default_factory=list)


@dataclass
class Block:
    """The steps of one bar group in one notebook, and before them what they take from elsewhere."""

    mark: str
    taken: dict[tuple[Any, ...], _Given] = field(default_factory=dict)
    steps: list[Mapping[str, Any]] = field(default_factory=list)

    def has(self, given: _Given) -> bool:
        """Say whether an input is the result of one of its steps, in the same unit."""
        return any(step["id"] == given["step"] and step["unit"] == given["unit"] for step in self.steps)

    @property
    def height(self) -> int:
        """Rows that it takes, with its title."""
        return 1 + len(self.taken) + len(self.steps)


def in_unit(cell: str, source: str, target: str) -> str:
    """Write the conversion of a cell from one unit to another.

    >>> in_unit("D4", "mm", "in"), in_unit("D4", "in", "mm"), in_unit("D4", "°C", "°F"), in_unit("D4", "pcs", "")
    ('D4/25.4', 'D4*25.4', 'D4*1.8+32', 'D4')
    """
    if source == target:
        return cell
    offset = convert(0.0, source, target)
    slope = convert(1.0, source, target) - offset
    times, by = f"{slope:.15g}", f"{1 / slope:.12g}"
    exact = math.isclose(slope * float(by), 1.0, rel_tol=1e-15)
    scaled = cell if slope == 1.0 else f"{cell}/{by}" if exact and len(by) < len(times) else f"{cell}*{times}"
    return f"{scaled}+{offset:.12g}" if offset else scaled


def sheet_of_notebook(notebook: str) -> str:
    """Return what a notebook's sheet is called: its number and its name in words."""
    return f"{number_of(notebook)} {words_of(notebook)}"[:31]


class Live:
    """Inputs and steps of results.json, each with its place in the workbook.

    Parameters
    ----------
    trace
        The results.
    display
        Units that people use; a value in another one has these beside it.
    """

    def __init__(self, trace: Trace, display: Display) -> None:
        self._trace, self._display = trace, display
        self._entry_of: dict[tuple[Any, ...], Outside] = {}
        self._places: dict[tuple[str, str, str], Outside] = {}
        self._inputs = self._gather()
        self._rows = {id(entry): Spot(INPUT_SHEET, _ABOVE + row, entry.unit) for row, entry in enumerate(self._inputs)}
        self._blocks = {
            sheet_of_notebook(str(sheet["notebook"])): self._cut(sheet) for sheet in trace.sheets if sheet["steps"]
        }
        self._steps: dict[str, Spot] = {}
        for name, blocks in self._blocks.items():
            row = _ABOVE
            for block in blocks:
                row += 1 + len(block.taken)
                for step in block.steps:
                    self._steps[str(step["id"])] = Spot(name, row, str(step["unit"]))
                    row += 1

    # ---- where things stand ----

    @property
    def sheets(self) -> list[str]:
        """Names of the sheets of steps, in order."""
        return list(self._blocks)

    def spot(self, step: str) -> Spot | None:
        """Return where a step stands, by its id; None for a result that no formula gives."""
        return self._steps.get(step)

    def given(self, mark: str, name: str, place: str) -> Spot | None:
        """Return where an input of a bar group stands, by its symbol and where it comes from; None if it is none."""
        entry = self._places.get((mark, name, place))
        return self._rows[id(entry)] if entry else None

    @property
    def state(self) -> BookCell:
        """What the workbook says of itself: that it is as it was calculated, or what in it is not."""
        return self._told(self._blocks)

    def mark_state(self, book: Book, sheet: Any, row: int, column: int) -> None:
        """Have the state stand out where it is not that of the calculation."""
        _stands_out(book, sheet, row, column, "=inputs_changed>0")

    # ---- what there is ----

    def _gather(self) -> list[Outside]:
        """Find each value from outside once: one symbol from one place, and of each group where groups differ."""
        uses: dict[tuple[str, str], list[tuple[str, str, _Given]]] = {}
        for sheet in self._trace.sheets:
            for step in sheet["steps"]:
                for given in step["inputs"]:
                    if self._source(given) is None:
                        key = (str(given["name"]), str(given["origin"]))
                        uses.setdefault(key, []).append((mark_of(step), str(step["id"]), given))
        entries: list[Outside] = []
        for (name, origin), found in uses.items():
            unit = str(found[0][2]["unit"])
            digits = [_digits(given, unit) for _, _, given in found]
            apart = len(set(digits)) > 1
            own: dict[tuple[object, ...], Outside] = {}
            for (mark, step, given), same in zip(found, digits, strict=True):
                entry = own.setdefault(
                    (mark if apart else "", same), Outside(name, origin, given["value"], given["unit"])
                )
                if len(repr(given["value"])) < len(repr(entry.value)):  # in the unit in which it was given
                    entry.value, entry.unit = given["value"], given["unit"]
                entry.marks[mark] = None
                entry.steps.append(step)
                self._entry_of[_use(mark, given)] = entry
                self._places.setdefault((mark, name, place_of(given)), entry)
            entries += own.values()
        order = {mark: place for place, mark in enumerate(self._trace.marks)}
        return sorted(entries, key=lambda one: order.get(next(iter(one.marks)), -1) if len(one.marks) == 1 else -1)

    def _source(self, given: _Given) -> str | None:
        """Id of the step whose result an input is; None where it comes from outside, or no formula gives it."""
        step = given.get("step")
        return str(step) if "formula" in self._trace.by_id.get(str(step), {}) else None

    def _cut(self, sheet: Mapping[str, Any]) -> list[Block]:
        blocks: dict[str, Block] = {}
        for step in sheet["steps"]:
            blocks.setdefault(mark_of(step), Block(mark_of(step))).steps.append(step)
        for mark, block in blocks.items():
            for step in block.steps:
                for given in step["inputs"]:
                    if not block.has(given):
                        block.taken.setdefault(self._from(mark, given), given)
        order = {mark: place for place, mark in enumerate(("", *self._trace.marks))}
        return sorted(blocks.values(), key=lambda block: order.get(block.mark, len(order)))

    def _from(self, mark: str, given: _Given) -> tuple[Any, ...]:
        """What tells apart the values that a block takes from elsewhere."""
        return (given["name"], given["unit"], self._source(given) or id(self._entry_of[_use(mark, given)]))

    def _origin(self, mark: str, given: _Given) -> Spot:
        source = self._source(given)
        return self._steps[source] if source else self._rows[id(self._entry_of[_use(mark, given)])]

    # ---- sheets ----

    def add_inputs(self, book: Book) -> None:
        """Add the sheet of inputs, whose values may be typed over."""
        rows = [self._input_row(entry, _ABOVE + place) for place, entry in enumerate(self._inputs)]
        heads = ("Bar group", "Input", "Where from", "Used in", "As calculated", "In the calculation")
        told = "Type over a yellow cell: doses and lengths follow. The calculation itself is not changed by it."
        sheet = book.table(
            INPUT_SHEET,
            _columns(*heads),
            rows,
            above=(BookCell("Inputs", style=_TITLE), told),
            printed=_PRINTED,
        )
        _mark_wrong(book, sheet, len(rows), _CHANGED)
        book.define("inputs_changed", f"={_count(INPUT_SHEET, len(rows), _CHANGED)}")

    def add_steps(self, book: Book) -> None:
        """Add the sheet of each notebook's steps."""
        heads = (
            "Bar group",
            "Result, or what it takes",
            "Formula, or where from",
            "Source",
            "As in results",
            "results.json",
        )
        for name, blocks in self._blocks.items():
            rows = [row for block in blocks for row in self._block_rows(name, block)]
            above = (BookCell(name, style=_TITLE), self._told({name: blocks}))
            sheet = book.table(name, [*_columns(*heads), ListColumn("Step", 18)], rows, above=above, printed=_PRINTED)
            _mark_wrong(book, sheet, len(rows), _DIFFERS)

    def _told(self, sheets: Mapping[str, Sequence[Block]]) -> BookCell:
        steps = sum(len(block.steps) for blocks in sheets.values() for block in blocks)
        heights = {name: sum(block.height for block in blocks) for name, blocks in sheets.items()}
        differ = "+".join(_count(name, height, _DIFFERS) for name, height in heights.items()) or "0"
        fine = f"The {steps} values that are computed here are those of results.json."
        formula = (
            f'=IF(inputs_changed>0,inputs_changed&" of the inputs changed: {_WHAT_IF}",'
            f'IF({differ}=0,"{fine}",({differ})&" values differ from results.json."))'
        )
        return BookCell(fine, formula)

    def _input_row(self, entry: Outside, row: int) -> list[object]:
        marks = [mark for mark in entry.marks if mark]
        whose = "all" if len(marks) == len(self._trace.marks) > 1 else ", ".join(marks) or WHOLE
        first = self._steps[entry.steps[0]]
        more = f" and {len(entry.steps) - 1} more" if len(entry.steps) > 1 else ""
        value, kept = address(row, _VALUE), address(row, _KEPT)
        return [
            whose,
            *self._quantity(
                _meaning(entry.name), entry.name, BookCell(entry.value, style=_TYPED, exact=True), entry.unit, row
            ),
            entry.origin,
            BookCell(f"{entry.steps[0]}{more}", target=first.target, style=LINKED),
            BookCell(_SAME, f'=IF({value}={kept},"{_SAME}","{_CHANGED}")'),
            BookCell(entry.value, style={"num_format": number_format(entry.unit)}, exact=True),
        ]

    def _block_rows(self, sheet: str, block: Block) -> Iterator[Sequence[object]]:
        row = self._steps[str(block.steps[0]["id"])].row - len(block.taken)
        title = f"Bar group {block.mark}" if block.mark else None
        yield [BookCell(text, style=_GROUP) for text in (block.mark or WHOLE, title, *[None] * 10)]
        taken: dict[tuple[Any, ...], str] = {}
        for key, given in block.taken.items():
            taken[key] = address(row, _VALUE)
            yield self._taken_row(sheet, block.mark, given, row)
            row += 1
        for step in block.steps:
            cells = {
                str(given["name"]): address(self._steps[given["step"]].row, _VALUE)
                if block.has(given)
                else taken[self._from(block.mark, given)]
                for given in step["inputs"]
            }
            yield self._step_row(block.mark, step, cells, row)
            row += 1

    def _taken_row(self, sheet: str, mark: str, given: _Given, row: int) -> list[object]:
        spot, name, unit = self._origin(mark, given), str(given["name"]), str(given["unit"])
        value = BookCell(given["value"], f"={spot.seen_from(sheet, unit)}", style=_TAKEN)
        return [
            mark or WHOLE,
            *self._quantity(_meaning(name), name, value, unit, row),
            given["origin"],
            BookCell(f"{spot.sheet}, row {spot.row + 1}", target=spot.target, style=LINKED),
        ]

    def _step_row(self, mark: str, step: Mapping[str, Any], cells: Mapping[str, str], row: int) -> list[object]:
        value = BookCell(step["value"], f"={translate(step['expression'], cells, SPREADSHEET)}", style=_STEP)
        here, kept = address(row, _VALUE), address(row, _KEPT)
        same = f'=IF(ABS({here}-{kept})<=MAX({_NEAR}*ABS({kept}),{_NOUGHT}),"{_SAME}","{_DIFFERS}")'
        return [
            mark or WHOLE,
            *self._quantity(step["label"], step["symbol"], value, str(step["unit"]), row),
            f"{step['symbol']} = {step['expression'].replace(' ** ', '^')}",
            "; ".join((step["source"], *step["notices"])),
            BookCell(_SAME, same),
            step["value"],
            step["id"],
        ]

    def _quantity(self, what: str, symbol: str, value: BookCell, unit: str, row: int) -> list[object]:
        """What it is, its symbol, value and unit, and the value in the unit that people use where that is another."""
        shown = self._display.usual_unit(unit)
        own = replace(value, style={"num_format": number_format(unit)} | dict(value.style))
        beside: list[object] = [None, None]
        if shown != unit and isinstance(value.value, (int, float)):
            look = {"num_format": number_format(shown)}
            beside = [
                BookCell(
                    convert(value.value, unit, shown), f"={in_unit(address(row, _VALUE), unit, shown)}", style=look
                ),
                shown,
            ]
        return [what, symbol, own, unit, *beside]


def _use(mark: str, given: _Given) -> tuple[Any, ...]:
    return (mark, given["name"], given["origin"], given["value"], given["unit"])


def _digits(given: _Given, unit: str) -> str:
    """An input's value in a unit, to fewer digits than its rounding and a conversion leave in doubt."""
    own = str(given["unit"])
    return (
        f"{convert(given['value'], own, unit):.8e}"
        if own == unit or same_kind(own, unit)
        else f"{given['value']} {own}"
    )


def _meaning(name: str) -> str:
    words = NOMENCLATURE[name][1] if name in NOMENCLATURE else name
    return words[:1].upper() + words[1:]


def _columns(whose: str, what: str, origin: str, source: str, same: str, kept: str) -> list[ListColumn]:
    return [
        ListColumn(whose, 9, WRAP),
        ListColumn(what, 40, WRAP),
        ListColumn("Symbol", 10),
        ListColumn("Value", 13, RIGHT),
        ListColumn("Unit", 8, UNIT),
        ListColumn("Shown as", 11, RIGHT),
        ListColumn("Unit", 6, UNIT),
        ListColumn(origin, 52, WRAP),
        ListColumn(source, 34, WRAP),
        ListColumn(same, 8, CENTRE),
        ListColumn(kept, 15),
    ]


def _count(sheet: str, rows: int, word: str) -> str:
    first, last = (address(_ABOVE + row, _STATE, fixed=True) for row in (0, max(rows, 1) - 1))
    return f"COUNTIF('{sheet}'!{first}:{last},\"{word}\")"


def _mark_wrong(book: Book, sheet: Any, rows: int, word: str) -> None:
    """Have what is not as calculated stand out, and the state above it."""
    cell = address(_ABOVE, _STATE)
    _stands_out(book, sheet, _ABOVE, _STATE, f'={cell}="{word}"', rows)
    _stands_out(book, sheet, 1, 0, "=inputs_changed>0")


def _stands_out(book: Book, sheet: Any, row: int, column: int, where: str, rows: int = 1) -> None:
    look = {"type": "formula", "criteria": where, "format": book.style(WRONG)}
    sheet.conditional_format(row, column, row + max(rows, 1) - 1, column, look)
