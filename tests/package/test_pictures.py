"""Pictures in the printed calculation: letters of eight points at least, as text that can be searched, not scaled."""

import subprocess
from dataclasses import replace

import pytest
from documents import sample
from pdfletters import letters

from calc.base.look.tokens import LETTER
from calc.base.signs.fonts import DEJAVU
from calc.files.job import demo_job
from calc.package.document.parts import Section
from calc.package.document.pdf import write_pdf
from calc.show import view
from calc.show.embedment import views as embedment
from calc.show.overfill import views as overfill
from calc.show.plan import views as plan
from calc.work.load import load_job
from calc.work.plan.planned import PlanWork
from calc.work.results import compute


def figures(results):
    """Blocks of one figure of each part."""
    shown = [view.picture_view(view.picture_of(results.worked[0]))]
    shown += overfill.curve(overfill.look(results.job, results))
    shown += embedment.joints(results.job, embedment.part_of(results))
    shown += plan.days(results.part(PlanWork))
    return [one.block for one in shown if one.block["kind"] == "figure"]


@pytest.mark.parametrize("demo", ["metric", "us"])
def test_letters_in_the_pictures_of_the_pdf(tmp_path, demo):
    blocks = figures(compute(load_job(demo_job(demo))))
    document = replace(sample(front=False), sections=(Section("Pictures", tuple(blocks)),))
    document = replace(document, job=dict(document.job) | {"units": demo})
    write_pdf(document, tmp_path / "pictures.pdf", {})
    # The text of the pages is of another family, so these letters are the pictures'.
    sizes = {round(size, 2) for _, size in letters(tmp_path / "pictures.pdf", DEJAVU.replace(" ", ""))}
    assert sizes == {LETTER["picture"], LETTER["title"]}
    assert min(sizes) >= 8.0
    read = subprocess.run(["pdftotext", tmp_path / "pictures.pdf", "-"], capture_output=True, text=True, check=True)
    for words in ("two thirds in", "time of day", "drilled face", "short in 100 holes"):
        assert words in read.stdout
