"""The results as a workbook for people who live in spreadsheets: cells that compute, lists that filter."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from calc.base.canonical import DIGITS
from calc.base.display import Display
from calc.base.identity import number_of
from calc.base.sheet import ROW, VERDICTS
from calc.base.units import convert
from calc.package.cells import INPUT_SHEET, LINKED, WHOLE, Live, Spot, in_unit
from calc.package.manifest import Made, write_whole
from calc.package.xlsx import (
    CENTRE,
    RIGHT,
    UNIT,
    WRAP,
    WRONG,
    Book,
    BookCell,
    ListColumn,
    address,
    number_format,
    numbers,
)
from calc.work.plan.dayrows import DAY_COLUMNS, day_rows
from calc.work.plan.planned import PlanWork
from calc.work.results import Results
from calc.work.trace import Trace, governing, mark_of, stem_of_key, unit_of_key

_UNDATED = datetime(2000, 1, 1)
# What a group's row holds of results.json, so that it fits a page; the sheet of the trace has the rest.
_GROUP_KEYS = (
    *("bar", "count", "bar_diameter", "hole_diameter", "embedment", "overdrill", "overfill", "required_volume", "dose"),
    *("rounded_dose", "strokes", "required_embedment", "design_force"),
)
_FIRST, _LISTS, _DAYS = ("Groups", INPUT_SHEET), ("Checks", "Order", "Trace"), "Day book"
# Widths and formats of the day book's columns, of which the first are printed: seconds are for sums.
_SECONDS = (12, {"num_format": "#,##0.0"})
_DAY_LOOKS: tuple[tuple[float, Mapping[str, Any]], ...] = (
    *((7, CENTRE), (15, {}), (15, {}), (7, CENTRE), (12, {}), (10, WRAP), (7, CENTRE)),
    *((11, {"num_format": number_format("mL")}), (24, WRAP | UNIT), (30, WRAP)),
    *[_SECONDS] * 5,
)
_DAY_PRINTED, _VOLUME = 10, "volume [mL]"
_FIRST_ROW = 2  # below state and head
_COUNTED = dict.fromkeys(("count", "strokes"), "pcs")
_SHEETS = {
    "Groups": "one row for each bar group: what is drilled, what is dispensed, which check governs",
    INPUT_SHEET: "every value from outside, once; yellow cells may be typed over",
    "Checks": "demand, resistance and verdict of every check",
    "Order": "totals of the whole job, and how each comes about",
    "Trace": "every number of results.json, and the step or the place behind it",
    _DAYS: "what the crews do on the simulated days, row by row",
}
_STEPS = "every step as a cell that computes, with what it takes"

_Rows = list[list[Any]]


def write_xlsx(results: Results, path: Path, made: Made | None = None) -> None:
    """Write the results as a workbook.

    Parameters
    ----------
    results
        What was computed.
    path
        The file to write; it appears whole or not at all. The same results, made at the same time, give the same bytes.
    made
        When and with what it is made, which the file and its sheet "About" say.
    """
    trace = Trace(results.unrounded())
    display = results.job.display
    live = Live(trace, display)
    book = Book(f"Calculation {results.job.number}, revision {results.job.revision}", _when(made), display.paper)
    plan = results.part(PlanWork)
    days = [] if plan is None else day_rows(plan)
    names = [*_FIRST, *live.sheets, *_LISTS, *([_DAYS] if days else [])]
    _about(book, results, trace, live, names, made)
    _groups(book, trace, live, display)
    live.add_inputs(book)
    live.add_steps(book)
    _checks(book, trace, live)
    _order(book, trace, live)
    _trace(book, trace, live)
    if days:
        _days(book, days, display)
    write_whole(path, book.content())


def _when(made: Made | None) -> datetime:
    try:
        return datetime.fromisoformat(made.when).astimezone(UTC) if made else _UNDATED
    except ValueError:  # a manifest's date that is none
        return _UNDATED


# ---- About ----


def _about(book: Book, results: Results, trace: Trace, live: Live, sheets: Sequence[str], made: Made | None) -> None:
    digest = hashlib.sha256(results.text().encode()).hexdigest()
    rows: _Rows = [["state of this file", live.state]]
    rows += [[key, value] for key, value in trace.results["job"].items()]
    rows += [
        ["results.json", f"SHA-256 {digest}, schema {trace.results['schema']}"],
        ["what is signed", "calculation.pdf; this workbook is a copy that computes, to check and to try with"],
    ]
    rows += [["caution", text] for text in results.cautions]
    rows += [[BookCell(name, target=address(0, 0, name), style=LINKED), _SHEETS.get(name, _STEPS)] for name in sheets]
    rows += [
        [
            "yellow cell",
            f"an input, on the sheet {INPUT_SHEET}: type over it, and what follows from it is computed anew",
        ],
        ["grey number", "taken from another sheet or block"],
        ["bold number", "computed in its cell, by the formula that stands beside it"],
        ["✓", f"computed here and in results.json alike, which holds {DIGITS} digits of each number"],
        [
            "what does not follow",
            "what was simulated, counted or found numerically comes in as an input, and so does what a clause or a"
            " condition chose: where its formula changes with an input, the formula here stays the one that was"
            " chosen. What a changed job comes to, the workbook computes from a changed job file",
        ],
        ["filter, do not sort", "on the sheets of steps, whose formulas read the rows above them"],
    ]
    rows += [["notice", notice.words] for notice in results.notices]
    rows += [["not covered", text] for text in results.not_covered]
    rows += [["not judged here", notice.words] for notice in results.outside]
    rows += [[name, value] for name, value in (made.rows() if made else [])]
    sheet = book.table("About", [ListColumn("about", 22, WRAP), ListColumn("this calculation", 110, WRAP)], rows)
    live.mark_state(book, sheet, 1, 1)


def _stated(
    book: Book, live: Live, name: str, columns: Sequence[ListColumn], rows: _Rows, last: Sequence[object] = ()
) -> None:
    """Add a table with the state of the file above it, so that no copy of it is taken for the calculation."""
    live.mark_state(book, book.table(name, columns, rows, above=[live.state], last=last), 0, 0)


# ---- groups ----


def _flat(entry: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in entry.items():
        if isinstance(value, Mapping):
            found |= _flat(value, f"{before}{key}.")
        else:
            found[before + key] = "; ".join(str(item) for item in value) if isinstance(value, (list, tuple)) else value
    return found


def _groups(book: Book, trace: Trace, live: Live, display: Display) -> None:
    entries: list[dict[str, Any]] = [_flat(group) for group in trace.groups]
    places = {str(answer["key"]): answer for answer in trace.answers}
    keys = {stem_of_key(key): key for entry in entries for key, value in entry.items() if value is not None}
    kept = [keys[stem] for stem in _GROUP_KEYS if stem in keys]
    checks: dict[str, list[Mapping[str, Any]]] = {}
    for sheet in trace.sheets:
        for check in sheet["checks"]:
            checks.setdefault(mark_of(check), []).append(check)
    litres = display.job_volume_unit
    units = {key: display.unit(unit_of_key(key)[1]) for key in kept}
    columns = [
        ListColumn("bar group", 9, WRAP),
        *(
            ListColumn(key, 8, WRAP)
            if key == "bar"
            else numbers(unit_of_key(key)[0], units[key] or _COUNTED.get(key, ""), 9)
            for key in kept
        ),
        numbers("all holes", litres, 9),
        numbers("highest utilisation", "", 10),
        ListColumn("governing check", 30, WRAP | UNIT),
        ListColumn("checks", 10),
    ]
    holes, dose = (1 + kept.index(keys[stem]) for stem in ("count", "rounded_dose"))
    rows: _Rows = []
    for place, entry in enumerate(entries):
        mark = str(entry["mark"])
        own = checks.get(mark, [])
        most = governing(own)
        worst = min((check["verdict"] for check in own), key=("fails", "owed", "passes").index, default="")
        verdict = VERDICTS.get(worst, "no checks")
        one = in_unit(address(_FIRST_ROW + place, dose), units[keys["rounded_dose"]], litres)
        total = convert(entry["count"] * entry[keys["rounded_dose"]], unit_of_key(keys["rounded_dose"])[1], litres)
        rows.append(
            [
                mark,
                *(_of_group(entry.get(key), mark, places.get(key), units[key], live) for key in kept),
                BookCell(total, f"={address(_FIRST_ROW + place, holes)}*{one}"),
                most["utilisation"] if most else None,
                most["what"] or most["title"] if most else None,
                BookCell(verdict, style=WRONG if worst == "fails" else {}),
            ]
        )
    last: list[object] = [BookCell(WHOLE, style={"bold": True}), *[None] * (len(columns) - 1)]
    for column in (holes, len(kept) + 1):
        values = math.fsum(row[column].value for row in rows)
        span = f"{address(_FIRST_ROW, column)}:{address(_FIRST_ROW + len(rows) - 1, column)}"
        last[column] = BookCell(values, f"=SUM({span})", style={"bold": True, "top": 1})
    _stated(book, live, "Groups", columns, rows, last)


def _of_group(value: object, mark: str, answer: Mapping[str, Any] | None, unit: str, live: Live) -> BookCell:
    """A number of a group, read from the cell where it is computed or given, in the unit that people use."""
    if answer is None or not isinstance(value, (int, float)) or isinstance(value, bool):
        return BookCell(value)
    spot = _behind(answer, mark, live)
    own = str(answer["unit"])
    return BookCell(convert(float(value), own, unit), f"={spot.seen_from('Groups', unit)}" if spot else "")


def _behind(answer: Mapping[str, Any], mark: str, live: Live) -> Spot | None:
    """Where the step or the input stands that a number of results.json is; None where it is neither."""
    if mark in answer["steps"]:
        return live.spot(answer["steps"][mark])
    return next(
        (live.given(mark, name, place) for (name, place), marks in answer["given"].items() if mark in marks), None
    )


# ---- lists ----


def _checks(book: Book, trace: Trace, live: Live) -> None:
    rows: _Rows = [
        [
            check["id"],
            mark_of(check),
            check["what"] or check["title"],
            _of_check(check["demand"], check["unit"]),
            _of_check(check["resistance"], check["unit"]),
            check["unit"],
            check["utilisation"],
            BookCell(VERDICTS[check["verdict"]], style=WRONG if check["verdict"] == "fails" else {}),
            "; ".join(filter(None, (check["reason"], check["advice"]))),
        ]
        for sheet in trace.sheets
        for check in sheet["checks"]
    ]
    columns = [
        ListColumn("check", 22, WRAP),
        ListColumn("bar group", 8, WRAP),
        ListColumn("what", 46, WRAP),
        ListColumn("demand", 12, RIGHT),
        ListColumn("resistance", 12, RIGHT),
        ListColumn("unit", 7, UNIT),
        numbers("utilisation (at most 1 passes)", "", 12),
        ListColumn("verdict", 11, UNIT),
        ListColumn("reason and advice", 46, WRAP),
    ]
    _stated(book, live, "Checks", columns, rows)


def _of_check(value: float | None, unit: str) -> BookCell:
    """One side of a check; nothing where it is owed."""
    return BookCell(None) if value is None else _formatted(value, unit)


def _order(book: Book, trace: Trace, live: Live) -> None:
    rows: _Rows = []
    for total in trace.totals:
        how: object = total["sum"] or f"{total['otherwise']}, notebook {number_of(total['notebook'])}"
        if total["steps"]:
            how = _linked(total["steps"][0], trace, live)
        rows.append([total["words"], _formatted(total["value"], total["unit"]), total["unit"], how])
    columns = [
        ListColumn("total of the whole job", 40),
        ListColumn("value", 14, RIGHT),
        ListColumn("unit", 8, UNIT),
        ListColumn("how it comes about", 70, WRAP),
    ]
    _stated(book, live, "Order", columns, rows)


def _linked(step: str, trace: Trace, live: Live) -> object:
    """A step with the way to its cell; a result that no formula gives says how it was found."""
    spot, record = live.spot(step), trace.by_id[step]
    return (
        f"{step}: {record['way']}, {record['how']}"
        if spot is None
        else BookCell(step, target=spot.target, style=LINKED)
    )


def _formatted(value: float, unit: str) -> BookCell:
    """A number that no formula stands behind; what is counted has no unit and no decimals."""
    return BookCell(value, style={"num_format": number_format(unit if unit or value % 1 else "pcs")})


def _trace(book: Book, trace: Trace, live: Live) -> None:
    """Every number of results.json: of each group, then of the whole job."""
    rows: _Rows = []
    entries = {str(group["mark"]): _flat(group) for group in trace.groups}
    for answer in trace.answers:
        for mark, entry in entries.items():
            if entry.get(answer["key"]) is None:
                continue
            how: object = answer["otherwise"]
            if mark in answer["steps"]:
                how = _linked(answer["steps"][mark], trace, live)
            elif spot := _behind(answer, mark, live):
                place = next(place for (_, place), marks in answer["given"].items() if mark in marks)
                how = BookCell(place.replace(ROW, "row of the group"), target=spot.target, style=LINKED)
            value = _formatted(entry[answer["key"]], answer["unit"])
            rows.append(
                [answer["words"], mark, value, answer["unit"], number_of(answer["notebook"]), how, answer["key"]]
            )
    for total in trace.totals:
        how = _linked(total["steps"][0], trace, live) if total["steps"] else total["sum"] or total["otherwise"]
        value = _formatted(total["value"], total["unit"])
        rows.append(
            [total["words"], WHOLE, value, total["unit"], number_of(total["notebook"]), how, f"totals.{total['key']}"]
        )
    columns = [
        ListColumn("result", 34, WRAP),
        ListColumn("bar group", 9, WRAP),
        ListColumn("value", 14, RIGHT),
        ListColumn("unit", 7, UNIT),
        ListColumn("notebook", 9),
        ListColumn("step or place behind it", 56, WRAP),
        ListColumn("key in results.json", 36),
    ]
    book.table("Trace", columns, rows)


def _days(book: Book, days: Sequence[Sequence[Any]], display: Display) -> None:
    """The day book as it is written beside the package, volumes in the unit that people use as well."""
    unit = display.volume_unit
    volume = DAY_COLUMNS.index(_VOLUME)
    more = [] if unit == "mL" else [numbers("volume", unit, 11)]
    columns = [ListColumn(name, width, style) for name, (width, style) in zip(DAY_COLUMNS, _DAY_LOOKS, strict=True)]
    rows: _Rows = [
        [*row[: volume + 1], *(_volumes(row[volume], unit) if more else ()), *row[volume + 1 :]] for row in days
    ]
    book.table(_DAYS, [*columns[: volume + 1], *more, *columns[volume + 1 :]], rows, printed=_DAY_PRINTED + len(more))


def _volumes(value: object, unit: str) -> list[object]:
    return [convert(value, "mL", unit) if isinstance(value, float) else None]
