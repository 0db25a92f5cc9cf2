"""Write a panel's values back into the job file or the schedule: checked first, then replaced in one step.

The edited copy is loaded in a temporary folder together with the job's other files. Only when that succeeds does it
take the place of the old file, so a refused value changes nothing on disk.
"""

from __future__ import annotations

import csv
import datetime
import io
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import tomlkit
import tomlkit.exceptions

from calc.base.units import UnitError, convert, parse_number, parse_quantity
from calc.files.foreign.proposing import Proposal
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem, nearest, without_value
from calc.files.schedule import COLUMNS, REQUIRED, BarGroup, read_header, read_values
from calc.files.strict import Column, decode, read_bytes, split_records
from calc.fill.hole import tip_depth
from calc.work.load import load_job
from calc.work.undo import UNDO_FILE, forget, keep, last_save

_OPTIONAL = tuple(name for name in COLUMNS if name not in REQUIRED)
BY_MARK = (
    "measured",
    "evidence",
    "scatter.group",
    "design.group",
)  # tables of the job file that hold one table for each mark
Setting = str | float | int | bool | list[str] | datetime.date | dict[str, Any] | list[dict[str, Any]] | None


def save_group(job: Job, *, mark: str, values: Mapping[str, str]) -> Path:
    """Write cells of one bar group into the job's schedule; a new mark becomes a new row.

    Parameters
    ----------
    job
        A job that was loaded from files.
    mark
        The group's mark.
    values
        Column name to text. A length may carry a unit (``"1-1/8 in"``) and is then converted to the column's; a bare
        number is in the column's unit. Columns that are left out keep what they hold.

    Returns
    -------
    Path
        The schedule that was written.

    Raises
    ------
    InputErrors
        When the schedule would not load with these values; nothing is changed then.
    """
    path = job.schedule_path
    name = path.relative_to(job.folder).as_posix()
    refuse_foreign(job, name)
    unknown = [column for column in values if column not in COLUMNS]
    if unknown:
        raise InputErrors(
            Problem(name, f"column {c}", c, f"is not a column{_hint(c)}; accepted: {', '.join(COLUMNS)}")
            for c in unknown
        )
    old = next((group for group in job.groups if group.mark == mark), None)
    cells = {"mark": mark} | {column: text.strip() for column, text in values.items()}
    edit = _edited_xlsx if path.suffix.lower() == ".xlsx" else _edited_csv
    replace_files(job, {path: edit(path, name, mark, cells, job, old)})
    return path


def refuse_foreign(job: Job, name: str) -> None:
    """Refuse to write a schedule that another program keeps; raises `InputErrors`."""
    if keys := {str(place[1]) for place in job.typed if place[0] == "schedule"} - {"file"}:
        message = (
            f"another program's table is read here by {', '.join(sorted(keys))} of [schedule], and is not written;"
            " accepted: change it in that program"
        )
        raise InputErrors([Problem(name, "", "", message)])


def save_values(job: Job, *, values: Mapping[str, Setting], record: bool = False, beside: Sequence[Path] = ()) -> Path:
    """Write several values into the job file at once, such as a stroke in place of a graduation.

    Parameters
    ----------
    job
        A job that was loaded from files.
    values
        Dotted key to new value; None removes the key.
    record
        Whether they are keys of the adhesive record in place of the job file.
    beside
        Files in the job's folder that it names with these values, and did not before.

    Returns
    -------
    Path
        The file that was written.

    Raises
    ------
    InputErrors
        When the job would not load with these values; nothing is changed then.
    """
    path = job.adhesive_path if record else job.path
    name = path.relative_to(job.folder).as_posix()
    document = tomlkit.parse(decode(read_bytes(path)))
    for key, value in values.items():
        *tables, last = key_parts(key, [group.mark for group in job.groups])
        here: Any = document
        if value is None and not _there(document, tables):
            continue
        for table in tables:
            if table not in here:
                here[table] = tomlkit.table()
            here = here[table]
            if not isinstance(here, dict):
                raise InputErrors(
                    [Problem(name, f"key {key}", "", f"{table} is not a table, so it cannot hold {last}")]
                )
        if value is None:
            here.pop(last, None)
            continue
        if isinstance(value, (dict, list)):
            here[last] = _inline(value)
            continue
        if isinstance(value, str) and isinstance(here.get(last), (int, float)) and not isinstance(here.get(last), bool):
            try:
                number = parse_number(value)
            except UnitError as error:
                raise InputErrors([Problem(name, f"key {key}", str(value), without_value(str(error)))]) from None
            value = int(number) if isinstance(here.get(last), int) and number.is_integer() else number
        here[last] = value
    replace_files(job, {path: tomlkit.dumps(document).encode("utf-8")}, beside=beside)
    return path


def _there(document: Any, tables: Sequence[str]) -> bool:
    for table in tables:
        if not isinstance(document, dict) or table not in document:
            return False
        document = document[table]
    return True


def _inline(value: Any) -> Any:
    """Write tables and lists of them on one line, or a list with one table on each line."""
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        table.update(value)
        return table
    if isinstance(value, list):
        rows = tomlkit.array()
        rows.extend(_inline(one) for one in value)
        return rows.multiline(any(isinstance(one, dict) for one in value))
    return value


def take_back(job: Job) -> str:
    """Take the last save back; returns when it was made.

    Parameters
    ----------
    job
        The job as its files say it now.

    Returns
    -------
    str
        Day and time of the save.

    Raises
    ------
    NotAccepted
        There is no save, or a file was changed since by something else.
    InputErrors
        The job would not load as it was before.
    """
    last, before = last_save(job.folder)
    replace_files(job, before, noted=False)
    forget(job.folder)
    return last.at


def take_reading(path: Path, proposal: Proposal) -> None:
    """Write into a job file how its schedule is read, once somebody has agreed to it.

    Parameters
    ----------
    path
        The job file.
    proposal
        What `calc.files.schedule.propose_reading` found; nothing of it may be open.

    Raises
    ------
    InputErrors
        When something is open, or the file cannot be written.
    """
    if proposal.open:
        message = f"what only you can say is still open: {'; '.join(proposal.open)}; accepted: these lines by hand"
        raise InputErrors([Problem(path.name, "key schedule", "", message)])
    document = tomlkit.parse(decode(read_bytes(path), path.name))
    section: Any = document["schedule"]
    section.update(proposal.keys)
    if proposal.columns:
        columns = section.setdefault("columns", tomlkit.table())
        columns.update(proposal.columns)
    _write(path, tomlkit.dumps(document).encode("utf-8"))


def key_parts(key: str, marks: Sequence[str]) -> list[str]:
    """Take a dotted key apart; a mark in it may hold dots of its own.

    Parameters
    ----------
    key
        Such as ``evidence.S1.file``.
    marks
        Marks of the job's groups.

    Returns
    -------
    list of str
        Tables, and the key itself last.
    """
    for head in BY_MARK:
        if key.startswith(f"{head}."):
            rest = key[len(head) + 1 :]
            mark = max(
                (one for one in marks if rest == one or rest.startswith(f"{one}.")),
                key=len,
                default=rest.partition(".")[0],
            )
            tail = rest[len(mark) + 1 :]
            # What is left out is named by its hole, and such a name may hold dots as well.
            inner = ["excluded", tail.removeprefix("excluded.")] if tail.startswith("excluded.") else tail.split(".")
            return [*head.split("."), mark, *filter(None, inner)]
    return key.split(".")


def _hint(name: str) -> str:
    near = nearest(name, COLUMNS)
    return f"; did you mean {near}?" if near else ""


def copied(job: Job, folder: Path, beside: Sequence[Path] = ()) -> dict[Path, Path]:
    """Copy a job's files, and more, into a folder, where each keeps its place; returns where each went."""
    moved = {file: folder / file.relative_to(job.folder) for file in (*job.files, *beside)}
    for file, copy in moved.items():
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(file, copy)
    return moved


def replace_files(job: Job, changes: Mapping[Path, bytes], *, beside: Sequence[Path] = (), noted: bool = True) -> None:
    """Load the job with other contents of its files in a temporary folder, then replace each in one step.

    Parameters
    ----------
    job
        A job that was loaded from files.
    changes
        File to what it is going to hold.
    beside
        Files in the job's folder that it names now, and did not before.
    noted
        Whether the save can be taken back.

    Raises
    ------
    InputErrors
        When the job would not load so, or a file cannot be written.
    """
    with tempfile.TemporaryDirectory() as scratch:
        moved = copied(job, Path(scratch), beside)
        for path, data in changes.items():
            moved[path].write_bytes(data)
        load_job(moved[job.path])
    try:
        if noted:
            keep(job.folder, changes)
    except OSError as error:
        _refuse_writing(UNDO_FILE, error)
    for path, data in changes.items():
        _write(path, data)


def _refuse_writing(name: str, error: OSError) -> None:
    reason = error.strerror or str(error)
    message = f"the file cannot be written: {reason}; accepted: a folder that you may write to"
    raise InputErrors([Problem(name, "", "", message)]) from None


def _write(path: Path, data: bytes) -> None:
    """Replace a file in one step."""
    target = path.resolve()  # a link stays a link
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=target.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            shutil.copymode(target, temporary)
            os.replace(temporary, target)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        _refuse_writing(path.name, error)


# ---- cells ----


def writable_columns(
    titles: list[str], name: str, rows: Sequence[Mapping[str, str]]
) -> tuple[list[str], dict[str, Column]]:
    """Return the titles of a schedule with the optional columns that some row needs, and its columns.

    Parameters
    ----------
    titles
        As they stand in the file.
    name
        The file's name, for sentences.
    rows
        Cells by column.

    Returns
    -------
    list of str, dict of str to Column
    """
    columns = _columns(titles, name)
    tip = {"overdrill", "depth_to_tip"}
    wanted = dict.fromkeys(column for cells in rows for column in _missing_columns(cells, columns))
    added = [column for column in wanted if not (column in tip and tip & set(columns))]
    titles = [*titles, *(_titled(column, columns) for column in added)]
    return titles, _columns(titles, name)


def told_cells(was: str, cells: Mapping[str, str], columns: Mapping[str, Column], job: Job) -> dict[str, str]:
    """Return what is to be written into a row, each length in its column's unit.

    Parameters
    ----------
    was
        The row's mark as it stands in the job; empty for a new row.
    cells
        What was typed, by column.
    columns
        The schedule's columns.
    job
        The job.

    Returns
    -------
    dict of str to str
    """
    old = next((group for group in job.groups if group.mark == was), None)
    told = {"mark": was} | {column: text.strip() for column, text in cells.items()}
    _fit_depth(told, columns, job, old)
    return {column: _in_unit(text, columns[column].unit) for column, text in told.items() if column in columns}


def _columns(titles: list[str], name: str) -> dict[str, Column]:
    columns, problems = read_header(titles, file=name)
    if problems:
        raise InputErrors(problems)
    return columns


def _in_unit(text: str, unit: str | None) -> str:
    """Return the cell's text for a column in ``unit``.

    What cannot be read is kept, and refused when the copy is loaded.
    """
    if unit is None:
        return text
    try:
        parse_number(text)
        return text
    except UnitError:
        pass
    try:
        quantity = parse_quantity(text, unit)
    except UnitError:
        return text
    if quantity.unit == unit:
        return text.rpartition(" ")[0]
    return f"{convert(quantity.value, quantity.unit, unit):.10g}"


def _fit_depth(cells: dict[str, str], columns: Mapping[str, Column], job: Job, old: BarGroup | None) -> None:
    """Express an overdrill as a depth to the tip, or the other way round, when the schedule has the other column."""
    other = {"overdrill": "depth_to_tip", "depth_to_tip": "overdrill"}
    for have, want in other.items():
        if cells.get(have) and {have, want} <= columns.keys():
            cells.setdefault(want, "")  # a row says one of the two
        if have not in cells or have in columns or want not in columns:
            continue
        units = {name: column.unit for name, column in columns.items()}
        typed = dict(old.given) if old else {}
        if want in cells:
            cells.pop(have)
            continue
        typed = {k: v for k, v in typed.items() if k not in other}
        typed |= {k: _with_unit(v, units.get(k)) for k, v in cells.items() if k != "mark"}
        typed[have] = _with_unit(cells[have] or "0", units[want])
        if have == "depth_to_tip" and not cells[have]:
            typed.pop(have)
        group = read_values(
            typed, point_angle=job.equipment.point_angle, source=f"{job.schedule_path.name}, mark {cells['mark']}"
        )
        cone = float(tip_depth(d_0=group.hole_diameter, theta=job.equipment.point_angle))
        length = group.overdrill if want == "overdrill" else group.embedment + group.overdrill + cone
        cells.pop(have)
        cells[want] = f"{convert(length, 'mm', units[want] or 'mm'):.10g}"


def _with_unit(text: str, unit: str | None) -> str:
    if unit is None:
        return text
    try:
        parse_number(text)
    except UnitError:
        return text
    return f"{text} {unit}"


def _missing_columns(cells: Mapping[str, str], columns: Mapping[str, Column]) -> list[str]:
    """Optional columns that the schedule has not yet, and that get something to hold."""
    return [name for name in _OPTIONAL if cells.get(name) and name not in columns]


def _titled(name: str, columns: Mapping[str, Column]) -> str:
    return f"{name} [{columns['embedment'].unit}]" if name in ("overdrill", "depth_to_tip") else name


def _edited_csv(path: Path, name: str, mark: str, cells: dict[str, str], job: Job, old: BarGroup | None) -> bytes:
    records = split_records(decode(read_bytes(path)))
    raw = [text for text, _ in records]
    rows = [row for _, row in records]
    columns = _columns(rows[0], name)
    end = "\r\n" if raw[0].endswith("\r\n") else "\n"
    _fit_depth(cells, columns, job, old)
    if added := _missing_columns(cells, columns):
        titles = [_titled(column, columns) for column in added]
        raw = [
            _extended(text, titles if i == 0 else [""] * len(added)) if rows[i] else text for i, text in enumerate(raw)
        ]
        rows = [row + (titles if i == 0 else [""] * len(added)) if row else row for i, row in enumerate(rows)]
        columns = _columns(rows[0], name)
    place = next((i for i, row in enumerate(rows) if i and row and row[columns["mark"].index] == mark), None)
    row = list(rows[place]) if place is not None else [""] * len(rows[0])
    for column, text in cells.items():
        if column in columns:
            row[columns[column].index] = _in_unit(text, columns[column].unit)
    buffer = io.StringIO(newline="")
    csv.writer(buffer, lineterminator=end).writerow(row)
    if place is None:
        if not raw[-1].endswith(("\n", "\r")):
            raw[-1] += end
        raw.append(buffer.getvalue())
    else:
        raw[place] = buffer.getvalue() if raw[place].endswith(("\n", "\r")) else buffer.getvalue().removesuffix(end)
    return "".join(raw).encode("utf-8")


def _extended(record: str, cells: list[str]) -> str:
    body = record.rstrip("\r\n")
    return body + "".join(f",{cell}" for cell in cells) + record[len(body) :]


def _edited_xlsx(path: Path, name: str, mark: str, cells: dict[str, str], job: Job, old: BarGroup | None) -> bytes:
    book = openpyxl.load_workbook(path)
    sheet = book.worksheets[0]
    for line in sheet.iter_rows():
        for cell in line:
            if cell.data_type == "f":
                message = (
                    "is a formula, and saving from here would lose its result; change the workbook in a spreadsheet"
                    " program instead"
                )
                raise InputErrors(
                    [Problem(name, f"row {cell.row}, column {cell.column_letter}", str(cell.value), message)]
                )
    titles = [str(cell.value).strip() for cell in sheet[1] if cell.value is not None]
    columns = _columns(titles, name)
    _fit_depth(cells, columns, job, old)
    for column in _missing_columns(cells, columns):
        title = _titled(column, columns)
        sheet.cell(row=1, column=len(titles) + 1).value = title
        titles.append(title)
    columns = _columns(titles, name)
    last = old.row if old else _last_row(sheet) + 1
    for column, text in cells.items():
        if column not in columns:
            continue
        cell = sheet.cell(row=last, column=columns[column].index + 1)
        new = _in_unit(text, columns[column].unit)
        number = None if column in ("mark", "bar", "note", "direction") else _plain(new)
        if number is None:
            cell.value = new or None
            cell.data_type = "s" if new else "n"
            cell.number_format = "@"
        else:
            cell.value = number
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _last_row(sheet: Any) -> int:
    return max((cell.row for line in sheet.iter_rows() for cell in line if cell.value is not None), default=1)


def _plain(text: str) -> float | None:
    """Return a decimal as a number; a fraction stays text, as it was typed."""
    try:
        return None if "/" in text else parse_number(text)
    except UnitError:
        return None
