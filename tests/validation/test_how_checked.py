"""The tables that tell how the workbook was checked leave out no test of this folder that compares numbers."""

import ast
import re
from pathlib import Path

import pytest

HERE = Path(__file__).parent
FILES = sorted(path.name for path in HERE.glob("test_*.py") if "approx(" in path.read_text(encoding="utf-8"))
FILES.remove(Path(__file__).name)


def comparing(file: str) -> list[str]:
    tree = ast.parse((HERE / file).read_text(encoding="utf-8"))
    tests = [one for one in ast.walk(tree) if isinstance(one, ast.FunctionDef) and one.name.startswith("test_")]
    return [one.name.removeprefix("test_").replace("_", " ") for one in tests if "approx(" in ast.unparse(one)]


@pytest.mark.parametrize("file", FILES)
def test_every_test_that_compares_has_its_row(file: str) -> None:
    page = (HERE / "README.md").read_text(encoding="utf-8")
    section = page.split(f"]({file})\n")[1].split("\n## ")[0]
    rows = {row.split(" | ")[0].removeprefix("| ") for row in section.splitlines()}
    assert set(comparing(file)) <= rows
    assert f"](tests/validation/{file})" in (HERE.parents[1] / "README.md").read_text(encoding="utf-8")


def test_no_row_is_beyond_what_its_test_allows() -> None:
    page = (HERE / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| .* \| (\S+) \| (\S+) \|$", page, flags=re.MULTILINE)
    numbers = [(float(difference), float(limit)) for difference, limit in rows if limit[0].isdigit()]
    assert len(numbers) > 130
    assert [one for one in numbers if abs(one[0]) > 1.05 * one[1]] == []  # both are shown with two digits
