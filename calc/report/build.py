"""Building a calculation package: everything is written beside its place and moved there as one, or not at all."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import platform
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import nbformat

import calc
from calc.base.sheet import Sheet, check_block
from calc.base.units import convert
from calc.job.jobfile import Job, load_job
from calc.report.document import Document, Front, Section
from calc.report.handcheck import hand_check
from calc.report.html import write_html
from calc.report.notebooks import blocks, calculation_notebooks, run
from calc.report.pdf import write_pdf
from calc.report.record import dose_table
from calc.report.results import Results, compute

_VERSIONED = ("handcalcs", "pint", "numpy", "scipy", "matplotlib", "pydantic", "nbclient", "typst", "pypandoc_binary")
QUESTION = "How much adhesive goes into each drilled hole, so that it is full with the bar home?"


class BuildError(RuntimeError):
    """A package could not be built; the message is a sentence."""


def default_out() -> Path:
    """Return ``exports`` of the checkout, or of the present folder when calc is installed elsewhere."""
    checkout = Path(__file__).resolve().parents[2]
    return (checkout if (checkout / "pyproject.toml").exists() else Path.cwd()) / "exports"


def build(job_path: Path, *, out: Path | None = None, replace: bool = False, progress: Callable[[str], None] = lambda _: None) -> tuple[Path, Results]:
    """Build the calculation package of a job.

    Parameters
    ----------
    job_path
        The job file, or its folder.
    out
        Folder in which ``<number>-<revision>`` is made.
    replace
        Whether an existing package of the same number and revision may be replaced.
    progress
        Called with the name of each stage as it starts.

    Returns
    -------
    Path, Results
        The package's folder, and what was computed.

    Raises
    ------
    InputErrors
        The job's files have errors; all of them.
    BuildError
        The package exists, the folder cannot be written, or a notebook disagrees with the results.
    """
    progress("reading the job")
    job = load_job(job_path)
    folder = out or default_out()
    target = folder / f"{job.number}-{job.revision}"
    if target.exists() and not replace:
        raise BuildError(
            f"{target} exists and is not overwritten: raise the revision in {job.path.name}, or build elsewhere with --out DIR, "
            "or add --replace to put a new package in its place"
        )
    progress("computing")
    results = compute(job)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=folder))
    except OSError as error:
        raise BuildError(f"{folder} cannot be written ({error.strerror}): name another folder with --out DIR") from error
    try:
        _fill(work, job, results, progress)
        progress("moving the package to its place")
        _move(work, target, replace)
    except OSError as error:
        raise BuildError(f"the package could not be written to {folder} ({error.strerror}); nothing was left behind") from error
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return target, results


def _fill(work: Path, job: Job, results: Results, progress: Callable[[str], None]) -> None:
    inputs = work / "inputs"
    for path in job.files:
        copy = inputs / path.resolve().relative_to(job.folder.resolve())
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, copy)
    text = results.text()
    (work / "results.json").write_text(text, encoding="utf-8", newline="\n")
    (work / "doses.csv").write_text(doses_csv(results), encoding="utf-8", newline="\n")
    stamp = f"results {hashlib.sha256(text.encode()).hexdigest()[:12]}"
    notebooks = work / "notebooks"
    notebooks.mkdir()
    sections = []
    for path in calculation_notebooks():
        progress(f"running {path.stem}")
        done = run(path, cwd=notebooks, parameters={"job_file": f"../inputs/{job.path.name}"})
        nbformat.write(done, notebooks / path.name)
        parts = list(blocks(done))
        _agree(parts, results.sheet_of(path.stem), path.name)
        sections.append(_section(parts))
    facts = _facts(job, results)
    document = Document(title=job.title, job=facts, front=_front(results), sections=tuple(sections), stamp=stamp)
    attached = {f"inputs/{p.name}": p.read_bytes() for p in sorted(inputs.rglob("*")) if p.is_file()} | {"results.json": text.encode()}
    progress("writing calculation.pdf")
    write_pdf(document, work / "calculation.pdf", attached)
    progress("writing calculation.html")
    write_html(document, work / "calculation.html")
    progress("writing hand-check.pdf")
    page = Section("Hand check", tuple(dict(view.block) for view in hand_check(results.worked)))
    write_pdf(Document(title=f"Hand check: {job.title}", job=facts, front=None, sections=(page,), stamp=stamp), work / "hand-check.pdf", {})
    progress("writing the manifest")
    _manifest(work, facts)


def _front(results: Results) -> Front:
    return Front(
        question=QUESTION,
        answer=dict(dose_table(results.worked).block),
        headline=tuple(re.sub(r"(?<=\d) (?=mL|L|in³|strokes?|of|holes)", "\u00a0", line) for line in results.headline),
        checks=[check_block(check) for check in results.checks],
        notices=results.notices,
        cautions=results.cautions,
        not_covered=results.not_covered,
    )


def _section(parts: list[dict[str, Any]]) -> Section:
    """Take a notebook's own title as the section's, and leave the rest as it stands."""
    head, *rest = parts
    title, _, body = head["markdown"].partition("\n")
    # Checks and notices stand on page 1, for all notebooks together.
    rest = [part for part in rest if part["kind"] not in ("checks", "notices")]
    opening = ({"kind": "prose", "markdown": body.strip()},) if body.strip() else ()
    return Section(title.lstrip("# ").strip(), (*opening, *rest))


def _agree(parts: list[dict[str, Any]], sheet: Sheet, name: str) -> None:
    """Refuse a package whose notebook shows another value than results.json holds, or leaves out a step."""
    expected = {step.id: step.shown for step in sheet.steps}
    shown: dict[str, str] = {}
    for part in parts:
        if part["kind"] == "steps":
            shown |= {step["id"]: step["shown"] for step in part["steps"]}
        elif part["kind"] == "table" and part.get("ids"):
            rows, ids = part["rows"], part["ids"]
            columns = len(ids) // len(rows)
            shown |= {ids[c * len(rows) + r]: row[2 + c] for r, row in enumerate(rows) for c in range(columns)}
    differing = sorted(id for id in expected | shown if expected.get(id) != shown.get(id))
    if differing:
        raise BuildError(f"{name} and the results disagree at step {differing[0]}: {shown.get(differing[0])} against {expected.get(differing[0])}")


def _facts(job: Job, results: Results) -> dict[str, Any]:
    about = job.job
    approval = f", approval {job.adhesive.approval}" if job.adhesive.approval else ""
    return {
        "number": about.number,
        "revision": about.revision,
        "title": about.title,
        "units": job.display.units,
        "invented": results.invented,
        "site": about.site,
        "prepared_by": about.prepared_by,
        "checked_by": about.checked_by,
        "adhesive": job.adhesive.name + approval,
        "date": datetime.now(UTC).date().isoformat(),
    }


def doses_csv(results: Results) -> str:
    """Return the dose list as CSV, units in the header; a text that a spreadsheet would run as a formula is quoted."""
    units = results.job.display.units
    length, volume = ("in", "in³") if units == "us" else ("mm", "mL")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    lengths = [f"hole_diameter [{length}]", f"embedment [{length}]"]
    writer.writerow(
        ["mark", "count", "bar", *lengths, "direction", f"rounded_dose [{volume}]", "strokes", f"surface_before_bar [{length}]", "overfill", "checks", "data"]
    )
    for one in results.worked:
        case = one.case
        numbers = [f"{convert(v, 'mm', length):.6g}" for v in (case.hole_diameter, case.embedment)]
        dose = f"{convert(one.rounded, 'mm³', volume):.6g}"
        mark = "'" + case.mark if case.mark[:1] in "=+-@\t\r" else case.mark
        verdict = "pass" if all(check.passes for check in one.sheet.checks) else "FAIL"
        surface = f"{convert(one.level_before_bar, 'mm', length):.4g}"
        writer.writerow(
            [
                mark,
                case.count,
                case.bar.designation,
                *numbers,
                case.direction,
                dose,
                one.strokes or "",
                surface,
                case.overfill,
                verdict,
                "invented" if results.invented else "as given",
            ]
        )
    return out.getvalue()


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def _commit() -> str | None:
    try:
        done = subprocess.run(["git", "rev-parse", "HEAD"], cwd=Path(__file__).parent, capture_output=True, text=True, timeout=10, check=True)
    except (OSError, subprocess.SubprocessError):
        return None
    return done.stdout.strip()


def _manifest(work: Path, facts: Mapping[str, Any]) -> None:
    files = {path.relative_to(work).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(work.rglob("*")) if path.is_file()}
    content = {
        "schema": 1,
        "number": facts["number"],
        "revision": facts["revision"],
        "made": datetime.now(UTC).isoformat(timespec="seconds"),
        "calc": calc.__version__,
        "commit": _commit(),
        "python": platform.python_version(),
        "platform": platform.platform(),
        "versions": {name: _version(name) for name in _VERSIONED},
        "files": files,
    }
    digest = hashlib.sha256(json.dumps(content, sort_keys=True, ensure_ascii=False).encode()).hexdigest()
    text = json.dumps(content | {"digest": digest}, indent=1, ensure_ascii=False) + "\n"
    (work / "manifest.json").write_text(text, encoding="utf-8", newline="\n")


def _move(work: Path, target: Path, replace: bool) -> None:
    os.chmod(work, 0o755)
    if target.exists():
        if not replace:
            raise BuildError(f"{target} was made by another build meanwhile; this one wrote nothing")
        old = Path(tempfile.mkdtemp(prefix=f".{target.name}-old-", dir=target.parent))
        os.replace(target, old / "package")
        try:
            os.replace(work, target)
        except OSError:
            os.replace(old / "package", target)
            raise
        finally:
            shutil.rmtree(old, ignore_errors=True)
        return
    os.rename(work, target)
