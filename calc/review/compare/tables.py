"""Two tables side by side, by what their rows are about and not by where they stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from calc.package.manifest import shown

Row = tuple[str, ...]
_LEADING = 3  # so many cells at most say what a row is about


@dataclass(frozen=True)
class CellChange:
    """A cell that is not as before, or a whole row, whose ``column`` is empty; None where there is none."""

    row: str
    column: str
    before: str | None
    after: str | None

    @property
    def words(self) -> str:
        """Return it as one line."""
        where = ", ".join(filter(None, (self.row, self.column)))
        if self.column and self.before is not None and self.after is not None:
            return f"{where}: {self.before or 'empty'} → {self.after or 'empty'}"
        return f"{where}: {'added' if self.before is None else 'removed'}"


def cell_changes(
    before: Sequence[Row], after: Sequence[Row], columns: Sequence[str], renamed: Mapping[str, str]
) -> list[CellChange]:
    """Compare two tables.

    Parameters
    ----------
    before, after
        Their rows.
    columns
        What the columns are called.
    renamed
        Marks that are others now; a cell that holds one is read as the other.

    Returns
    -------
    list of CellChange
        Rows that are there twice alike are no change, wherever they stand. The others are paired by their first cells,
        as few as tell them apart.
    """
    old = [tuple(renamed.get(cell, cell) for cell in row) for row in before]
    new = [tuple(row) for row in after]
    both = old, new
    old, new = _without(old, Counter(new)), _without(new, Counter(old))
    leads = range(1, _LEADING + 1)
    whole = (n for n in leads if all(_apart(rows, n) for rows in both))
    lead = next(whole, next((n for n in leads if _apart(old, n) and _apart(new, n)), 0))
    if not lead:
        return [CellChange(_called(row), "", ", ".join(row), None) for row in old] + [
            CellChange(_called(row), "", None, ", ".join(row)) for row in new
        ]
    found: list[CellChange] = []
    rows = {row[:lead]: row for row in new}
    for row in old:
        other = rows.pop(row[:lead], None)
        if other is None:
            found.append(CellChange(_called(row, lead), "", ", ".join(row), None))
            continue
        for place in range(max(len(row), len(other))):
            one, two = (cells[place] if place < len(cells) else "" for cells in (row, other))
            if one != two:
                name = columns[place] if place < len(columns) else f"column {place + 1}"
                found.append(CellChange(_called(row, lead), name, one, two))
    return found + [CellChange(_called(row, lead), "", None, ", ".join(row)) for row in rows.values()]


def _without(rows: Sequence[Row], others: Counter[Row]) -> list[Row]:
    """The rows that the other table does not have, as often as it lacks them."""
    left = others.copy()
    found = []
    for row in rows:
        if left[row] > 0:
            left[row] -= 1
        else:
            found.append(row)
    return found


def _apart(rows: Sequence[Row], lead: int) -> bool:
    return len({row[:lead] for row in rows}) == len(rows)


def _called(row: Row, lead: int = 2) -> str:
    return f"row {shown(' '.join(filter(None, row[:lead])), 60)}"
