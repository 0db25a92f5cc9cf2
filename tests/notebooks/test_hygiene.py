"""What nbval does not see: a notebook without outputs, run out of order, or with something personal in it."""

import re
from pathlib import Path

import nbformat
import pytest

from calc.package.notebooks import FOLDER, blocks, numbered_notebooks
from calc.show.view import BLOCK_TYPE

NOTEBOOKS = numbered_notebooks()
EVERY = sorted(FOLDER.rglob("*.ipynb"))


@pytest.fixture(params=NOTEBOOKS, ids=lambda p: p.stem)
def notebook(request):
    return nbformat.read(request.param, as_version=4)


def code(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def test_is_run_from_the_top(notebook):
    assert [cell.execution_count for cell in code(notebook)] == list(range(1, len(code(notebook)) + 1))


def test_has_outputs_to_compare(notebook):
    compared = [
        cell for cell in code(notebook) if cell.outputs and "nbval-ignore-output" not in cell.metadata.get("tags", ())
    ]
    assert len(compared) >= 5
    assert not any(output.output_type in ("error", "stream") for cell in code(notebook) for output in cell.outputs)


def test_only_a_panel_is_left_uncompared(notebook):
    ignored = [cell for cell in code(notebook) if "nbval-ignore-output" in cell.metadata.get("tags", ())]
    assert len(ignored) <= 1
    assert all("Panel(" in cell.source for cell in ignored)


def test_one_title_and_a_question(notebook):
    prose = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    assert len(re.findall(r"(?m)^# ", prose)) == 1
    assert "**The question:**" in prose


def test_numbers_in_prose_are_computed(notebook):
    """Prose that is typed carries no quantity: those come from views."""
    prose = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    assert not re.findall(r"\d+(?:\.\d+)? ?(?:mm|mL|in³|kN|MPa)\b", prose)


def test_the_record_is_folded_on_the_screen_and_what_comes_after_leads_back(notebook):
    (place,) = [i for i, cell in enumerate(notebook.cells) if cell.metadata.get("jp-MarkdownHeadingCollapsed")]
    behind = notebook.cells[place + 1 :]
    assert notebook.cells[place].source.startswith("## Behind the answer")
    assert sum(cell.source.startswith("## ") for cell in behind) == 1
    assert "back_to_top()" in behind[-1].source
    assert "Panel(" in code(notebook)[1].source  # the panel is the first thing that is shown


def test_parameters_cell_points_at_the_demo(notebook):
    (cell,) = [cell for cell in code(notebook) if "parameters" in cell.metadata.get("tags", ())]
    assert cell.source.startswith(('job_file = ""', 'package = ""'))


def test_every_picture_has_a_finding_as_alt_text(notebook):
    figures = [block for block in blocks(notebook) if block["kind"] == "figure"]
    assert figures
    assert all(len(f["alt"]) > 40 and f["alt"].endswith(".") and f["svg"].startswith("<") for f in figures)


def test_nothing_machine_bound_is_kept(notebook):
    text = nbformat.writes(notebook)
    assert str(Path.home()) not in text
    assert "/tmp/" not in text
    assert BLOCK_TYPE in text
    assert set(notebook.metadata) == {"kernelspec", "language_info"}


@pytest.mark.parametrize("path", EVERY, ids=lambda p: p.stem)
def test_cells_are_short(path):
    notebook = nbformat.read(path, as_version=4)
    assert max(len(cell.source.splitlines()) for cell in code(notebook)) <= 10
