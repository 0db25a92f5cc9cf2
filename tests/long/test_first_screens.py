"""Every notebook as it stands after Run All, at two sizes: the answer first, the record folded, also of 300 groups."""

import shutil

import pytest
from firstscreen import assert_first_screen

from calc.files.job import demo_job
from calc.package.notebooks import numbered_notebooks

NAMES = [path.stem for path in numbered_notebooks()]
PANEL = ".dosepanel .dp-fields"


def folded(page):
    for fold in page.locator('button:has-text("Fewer fields"):visible').all():
        fold.click()
    page.wait_for_selector(".dp-paper svg", timeout=120_000)
    page.wait_for_timeout(1_000)
    return page


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_stands_first(run_notebook, name):
    assert_first_screen(folded(run_notebook(name, PANEL)), name)


@pytest.fixture(scope="module")
def many(lab_home):
    """Copies of the notebooks that open a job of 300 groups."""
    job, copies = lab_home / "many-job", lab_home / "notebooks" / "many"
    shutil.copytree(demo_job().parent, job)
    rows = "".join(f"G{i},2,16,20,200,,down,,\n" for i in range(295))
    (job / "schedule.csv").write_text((job / "schedule.csv").read_text(encoding="utf-8").rstrip("\n") + "\n" + rows)
    copies.mkdir()
    for path in numbered_notebooks():
        text = path.read_text(encoding="utf-8")
        (copies / path.name).write_text(text.replace('job_file = \\"\\"', f'job_file = \\"{job}\\"'), encoding="utf-8")
    return "many/"


@pytest.mark.parametrize("name", [name for name in NAMES if not name.startswith("06")])
def test_also_of_300_groups(run_notebook, many, name):
    assert_first_screen(folded(run_notebook(name, PANEL, many)), f"{name}_many")
