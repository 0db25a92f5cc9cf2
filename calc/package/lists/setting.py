"""Setting a list as PDF, and the head that all lists have."""

from __future__ import annotations

import importlib.resources
import json
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typst

from calc.base.look.tokens import TOKENS
from calc.base.signs.fonts import as_printed
from calc.package.document import pdf
from calc.package.document.parts import DocumentError
from calc.work.results import Results

INVENTED = "INVENTED DATA: A DEMONSTRATION, NOT FOR USE ON SITE"
NOTHING = "—"


def compile_list(template: str, data: Mapping[str, Any], day: str = "") -> tuple[bytes, int]:
    """Set one list as PDF/A-3a and PDF/UA-1.

    Parameters
    ----------
    template
        Name of a template beside this module.
    data
        Texts for it; characters without a shape in the fonts are written by their code.
    day
        Date that the file carries, as ``YYYY-MM-DD``; today without it.

    Returns
    -------
    tuple of (bytes, int)
        The file and its number of pages.

    Raises
    ------
    DocumentError
        When Typst refuses the page.
    """
    parts = importlib.resources.files("calc.package") / "templates"
    printed = as_printed(data, [data.get("job_title", "")])
    with tempfile.TemporaryDirectory(prefix="lists-") as name:
        folder = Path(name)
        for part in ("lists.typ", template):
            (folder / part).write_bytes((parts / part).read_bytes())
        shutil.copy(TOKENS, folder)
        data = printed | {"date": pdf.date_parts(day)} | pdf.script(printed)
        (folder / "data.json").write_text(json.dumps(data), encoding="utf-8")
        try:
            compiler = typst.Compiler(str(folder / template), root=str(folder), font_paths=pdf.fonts())
            made = compiler.compile(format="pdf", pdf_standards=[*pdf.PDF_STANDARDS])
            pages = json.loads(compiler.query("<pages>", field="value", one=True))
        except typst.TypstError as error:
            raise DocumentError(f"Typst refused {template}: {' '.join(str(error).split())[:500]}") from error
    if not isinstance(made, bytes):
        raise DocumentError(f"Typst gave back no single file for {template}.")
    return pdf.compressed(made), int(pages)


def list_head(results: Results, title: str, stamp: str) -> dict[str, Any]:
    """Return what the head and foot of every list say."""
    about, display = results.job.job, results.job.display
    return {
        "title": title,
        "job": f"Job {about.number} · revision {about.revision}",
        "job_title": pdf.cut_line(about.title, 90),
        "document_title": f"{title}: job {about.number}, revision {about.revision}",
        "authors": [about.prepared_by] if about.prepared_by else [],
        "paper": display.paper,
        "invented": INVENTED if results.invented else None,
        "stamp": f"job {about.number} · revision {about.revision} · {stamp}",
        "adhesive": results.job.adhesive.name,
    }
