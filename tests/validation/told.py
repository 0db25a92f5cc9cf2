"""How this was checked: every comparison of tests/validation with a printed or otherwise derived value, as tables.

``python tests/validation/told.py`` runs the tests of this folder, listens to what they compare, and writes the table of
sources into the README and the table of cases into the README of this folder. Nothing is typed a second time: printed
value and tolerance are the test's, the source is the first line of its file.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
CASES = HERE / "README.md"
START, END = "<!-- made by tests/validation/told.py -->", "<!-- end of what it made -->"
OPTIONS = ["-q", "--no-header", "-o", "addopts=--import-mode=importlib -p no:cacheprovider", str(HERE)]
OPTIONS.append(f"--ignore={HERE / 'test_how_checked.py'}")  # which looks whether this was done


@dataclass(frozen=True)
class Case:
    """One number against another: the test's file and name, what is printed, what we get, and what may lie between."""

    file: str
    name: str
    printed: float
    ours: float
    tolerance: float

    @property
    def difference(self) -> float:
        """Ours less the printed value."""
        return self.ours - self.printed

    @property
    def used(self) -> float:
        """The part of the tolerance that the difference takes."""
        return abs(self.difference) / self.tolerance if self.tolerance else float(self.difference != 0)


class Listener:
    """A plugin of pytest that stands in for ``pytest.approx`` and keeps what is compared."""

    def __init__(self) -> None:
        self.cases: list[Case] = []
        self._approx = pytest.approx
        self._file = self._name = ""

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """Remember which test speaks."""
        self._file, self._name = item.path.name, item.name

    def approx(self, expected: object, rel: float | None = None, abs: float | None = None, **other: bool) -> object:
        """Give what pytest gives, one that also tells this listener."""
        one = self._approx(expected, rel=rel, abs=abs, **other)
        listener = self

        class Heard(type(one)):  # type: ignore[misc]
            def __eq__(self, actual: object) -> bool:
                listener.hear(expected, actual, rel, abs)
                return bool(super().__eq__(actual))

            __hash__ = None  # type: ignore[assignment]

        one.__class__ = Heard
        return one

    def hear(self, expected: object, actual: object, rel: float | None, abs: float | None) -> None:
        """Keep each pair of numbers."""
        for printed, ours in _pairs(expected, actual):
            relative = 1e-6 if rel is None and abs is None else rel or 0.0
            tolerance = max(relative * np.abs(printed), 1e-12 if abs is None else abs)
            self.cases.append(Case(self._file, self._name, printed, ours, float(tolerance)))


def _pairs(expected: object, actual: object) -> Iterator[tuple[float, float]]:
    if isinstance(expected, dict) and isinstance(actual, dict):
        expected, actual = list(expected.values()), [actual[key] for key in expected]
    if isinstance(expected, (int, float, list, tuple, np.ndarray, np.number)):
        printed, ours = np.ravel(np.asarray(expected, float)), np.ravel(np.asarray(actual, float))
        yield from zip(printed.tolist(), ours.tolist(), strict=True)


def heard() -> list[Case]:
    """Run the tests of this folder; end with their status where one fails."""
    listener = Listener()
    pytest.approx = listener.approx  # type: ignore[assignment]
    try:
        status = pytest.main(OPTIONS, plugins=[listener])
    finally:
        pytest.approx = listener._approx
    if status:
        sys.exit(int(status))
    return listener.cases


def source(file: str) -> str:
    """Say what a file compares with: the first line of its docstring."""
    text = ast.get_docstring(ast.parse((HERE / file).read_text(encoding="utf-8"))) or ""
    return text.splitlines()[0].rstrip(".")


def tightest(cases: list[Case]) -> Case:
    """Give the case that comes nearest to its tolerance."""
    return max(cases, key=lambda one: one.used)


def by(cases: list[Case], key: str) -> dict[str, list[Case]]:
    """Put cases with one name, or of one file, together."""
    found: dict[str, list[Case]] = {}
    for one in cases:
        found.setdefault(getattr(one, key).split("[")[0], []).append(one)
    return found


def number(value: float, digits: int = 7) -> str:
    """Write a number for a table."""
    return f"{value:.{digits}g}"


def words(name: str) -> str:
    """Read a test's name."""
    return name.removeprefix("test_").replace("_", " ")


def _row(cells: list[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _table(head: list[str], right: int, rows: list[list[str]]) -> str:
    rule = ["---"] * (len(head) - right) + ["---:"] * right
    return "\n".join(_row(one) for one in [head, rule, *rows])


def _numbers(one: Case) -> list[str]:
    return [number(one.printed), number(one.ours), number(one.difference, 2), number(one.tolerance, 2)]


HEADING = """# How this was checked

Made by `python tests/validation/told.py`. Each file names at its top the source, its edition, what was not to be had,
and why a tolerance is what it is; where a source prints rounded values it is half of the last printed digit. Of each
test the number nearest to its tolerance is shown."""
HEAD = ["expected", "ours", "difference", "allowed"]


def sources_table(cases: list[Case]) -> str:
    """One row for a source: how many numbers, and the case nearest to its tolerance."""
    rows = []
    for file, group in by(cases, "file").items():
        one = tightest(group)
        link = f"[{source(file)}](tests/validation/{file})"
        rows.append([link, str(len(group)), words(one.name.split("[")[0]), *_numbers(one)])
    return _table(["source", "numbers", "nearest to its tolerance", *HEAD], 4, rows)


def cases_page(cases: list[Case]) -> str:
    """Every test of every source, each with the number nearest to its tolerance."""
    parts = [HEADING]
    for file, group in by(cases, "file").items():
        rows = [[words(name), str(len(same)), *_numbers(tightest(same))] for name, same in by(group, "name").items()]
        parts.append(f"## [{source(file)}]({file})\n\n" + _table(["case", "numbers", *HEAD], 4, rows))
    return "\n\n".join(parts) + "\n"


def main() -> None:
    """Run, and write both tables."""
    cases = heard()
    readme = ROOT / "README.md"
    text = readme.read_text(encoding="utf-8")
    made = f"{START}\n{sources_table(cases)}\n{END}"
    readme.write_text(re.sub(f"{START}.*{END}", lambda _: made, text, flags=re.DOTALL), encoding="utf-8")
    CASES.write_text(cases_page(cases), encoding="utf-8")


if __name__ == "__main__":
    main()
