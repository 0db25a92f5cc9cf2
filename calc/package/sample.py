"""exports/sample: the metric demo's PDF and the two pictures of the README, remade by one command."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from pathlib import Path

from calc.base.errors import CalcError
from calc.files.job import demo_job
from calc.package.build import build, default_out
from calc.show.view import picture_of
from calc.work.dose import Worked
from calc.work.load import load_job
from calc.work.results import Results, compute


def sample_folder() -> Path:
    """Return the folder of the samples."""
    return default_out() / "sample"


def source_digest(results: Results) -> str:
    """Return a digest of what the samples depend on: every shown value, and the code that draws.

    The same on any machine.
    """
    calc = Path(__file__).resolve().parents[1]
    show = [calc / "show" / name for name in ("drawing.py", "view.py", "dose/figures.py")]
    pages = sorted((calc / "package" / "document").glob("*.py"))
    code = [
        *show,
        *sorted((calc / "base" / "look").glob("*.py")),
        *pages,
        *sorted((calc / "package" / "templates").glob("*.typ")),
    ]
    shown = (
        [f"{step.id} {step.shown}" for sheet in results.sheets for step in sheet.steps]
        + list(results.headline)
        + results.cautions
        + results.not_covered
    )
    return hashlib.sha256(
        "\n".join([*shown, *(path.read_text(encoding="utf-8") for path in code)]).encode()
    ).hexdigest()


def leading(results: Results) -> Worked:
    """Return the group that the README shows first: the first whose holes point down, as one thinks of a hole."""
    return next((one for one in results.worked if one.case.direction == "down"), results.worked[0])


def make_sample() -> list[Path]:
    """Build the metric demo and keep its PDF, its first page and its fill picture.

    Returns
    -------
    list of Path
        What was made. ``source.json`` tells a test when the samples are stale.

    Raises
    ------
    RuntimeError
        ``pdftoppm`` (poppler) is not installed.
    """
    if shutil.which("pdftoppm") is None:
        raise CalcError("pdftoppm is not installed: it turns the first page into a picture (package poppler-utils)")
    import subprocess

    folder = sample_folder()
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        package, results = build(demo_job(), out=Path(scratch))
        shutil.copyfile(package / "calculation.pdf", folder / "calculation.pdf")
        first = [str(folder / "calculation.pdf"), str(folder / "page-1")]
        subprocess.run(["pdftoppm", "-png", "-r", "80", "-singlefile", "-f", "1", "-l", "1", *first], check=True)
    (folder / "fill-picture.svg").write_text(picture_of(leading(results)).svg, encoding="utf-8", newline="\n")
    digest = {"source": source_digest(compute(load_job(demo_job())))}
    (folder / "source.json").write_text(json.dumps(digest) + "\n", encoding="utf-8", newline="\n")
    return sorted(folder.iterdir())
