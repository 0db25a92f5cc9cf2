"""Building a calculation package: everything is written beside its place and moved there as one, or not at all."""

from __future__ import annotations

import csv
import hashlib
import io
import shutil
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from calc.base.canonical import canonical
from calc.base.display import plain_text, unbroken
from calc.base.errors import CalcError
from calc.base.sheet import Sheet, check_block
from calc.base.signs.fonts import codes_to_come
from calc.base.units import convert
from calc.files.job import Job
from calc.files.notes.text import NotedPicture
from calc.package.document.html import write_html
from calc.package.document.parts import IN_RECORD, MADE_OF, Document, Front, GroupDose, Section
from calc.package.document.pdf import write_pdf
from calc.package.handcheck import hand_check
from calc.package.lists.files import list_names, write_lists
from calc.package.manifest import COMPANIONS, MADE, MANIFEST, RESULTS, SIGNATURES, Made, hashes, sealed, shown, unsealed
from calc.package.manifest import SCHEMA as MANIFEST_SCHEMA
from calc.package.notebooks import blocks, calculation_notebooks, run_all
from calc.package.place import move, workplace
from calc.package.spreadsheet import write_xlsx
from calc.show.view import dose_table, table_view
from calc.work.dose import Worked
from calc.work.load import load_job
from calc.work.plan.planned import PlanWork
from calc.work.results import ASSUMED, Results, compute, gathered

CALCULATION = "calculation.pdf"
DOSES = "doses.csv"
WITHOUT_DOCUMENTS = (RESULTS, DOSES)  # what a package holds besides its inputs when nobody wants documents
QUESTION = "How much adhesive goes into each drilled hole, so that it is full with the bar home?"


class BuildError(CalcError):
    """A package could not be built; the message is a sentence."""


def default_out() -> Path:
    """Return ``exports`` of the checkout, or of the present folder when calc is installed elsewhere."""
    checkout = Path(__file__).resolve().parents[2]
    return (checkout if (checkout / "pyproject.toml").exists() else Path.cwd()) / "exports"


def build(
    job_path: Path,
    *,
    out: Path | None = None,
    replace: bool = False,
    made: Made | None = None,
    progress: Callable[[str], None] = lambda _: None,
    say: Callable[[str], None] = lambda _: None,
) -> tuple[Path, Results]:
    """Build the calculation package of a job.

    Parameters
    ----------
    job_path
        The job file, or its folder.
    out
        Folder in which ``<number>-<revision>`` is made.
    replace
        Whether an existing package of the same number and revision may be replaced.
    made
        When and with what the package says that it was made; the present by default. The same job with the same of
        these gives the same files, byte for byte.
    progress
        Called with the name of each stage as it starts.
    say
        Called with a sentence on what the package cannot show, before anything is written.

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
            f"{target} exists and is not overwritten: raise the revision in {job.path.name}, or build elsewhere with"
            " --out DIR, or add --replace to put a new package in its place"
        )
    if target.exists():
        _same_job(target, job)
    words = [text for group in job.groups for text in (group.mark, group.note)]
    if codes := codes_to_come("".join([*job.typed.values(), *job.typed_record.values(), *words])):
        say(codes)
    progress("computing")
    results = compute(job)
    with ExitStack() as stack:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            work = stack.enter_context(workplace(target))
        except OSError as error:
            raise BuildError(
                f"{folder} cannot be written ({error.strerror}): name another folder with --out DIR"
            ) from error
        try:
            fill_package(work, job, results, made or Made.now(), progress)
            progress("moving the package to its place")
            _keep_companions(target, work)
            move(work, target, replace=replace)
        except FileExistsError as error:
            raise BuildError(f"{error}; this one wrote nothing") from error
        except OSError as error:
            raise BuildError(
                f"the package could not be written to {folder} ({error.strerror}); nothing was left behind"
            ) from error
    return target, results


def _same_job(target: Path, job: Job) -> None:
    """Refuse to replace another job's package.

    Number DEMO with revision M1-A and number DEMO-M1 with revision A share a folder's name.
    """
    try:
        there = unsealed((target / MANIFEST).read_bytes())[0]
    except OSError:
        return
    if there and (there.get("number"), there.get("revision")) != (job.number, job.revision):
        found = f"number {shown(there.get('number'), 40)} revision {shown(there.get('revision'), 40)}"
        raise BuildError(
            f"{target} holds another job's package, {found}, and is not replaced: build elsewhere with --out DIR, or"
            " change the number"
        )


def fill_package(work: Path, job: Job, results: Results, made: Made, progress: Callable[[str], None]) -> None:
    """Write every file of a package into an empty folder.

    Parameters
    ----------
    work
        The folder.
    job
        The job.
    results
        What was computed from it.
    made
        When and with what, which the documents print.
    progress
        Called with the name of each stage as it starts.

    Raises
    ------
    BuildError, NotebookError, DocumentError
        A notebook did not run or disagrees with the results, or a document could not be written.
    OSError
        The folder cannot be written.
    """
    import nbformat  # takes two seconds, which a recheck that makes nothing again need not wait for

    text = put_numbers(work, job, results)
    stamp = f"results {hashlib.sha256(text.encode()).hexdigest()[:12]} · {made.stamp}"
    notebooks = work / "notebooks"
    notebooks.mkdir()
    sections = []
    paths = calculation_notebooks()
    progress(f"running {len(paths)} notebooks")
    ran = run_all(paths, cwd=notebooks, parameters={"job_file": f"../inputs/{job.path.name}"}, progress=progress)
    for path, done in zip(paths, ran, strict=True):
        nbformat.write(done, notebooks / path.name)
        parts = list(blocks(done))
        _agree(parts, results.sheet_of(path.stem), path.name)
        sections.append(_section(parts, path.stem))
    facts = _facts(job, results) | {"date": made.day}
    if job.notes:
        sections.append(_notes_of(job, {section.notebook: section.title for section in sections}))
    sections.append(_how_made(made))
    document = Document(
        title=job.title, job=facts, front=_front(results), sections=tuple(sections), stamp=stamp, results=results.data()
    )
    inputs = sorted(path for path in (work / "inputs").rglob("*") if path.is_file())
    attached = {path.relative_to(work).as_posix(): path.read_bytes() for path in inputs} | {
        RESULTS: text.encode(),
        MADE: made.text().encode(),
    }
    progress(f"writing {CALCULATION}")
    write_pdf(document, work / CALCULATION, attached)
    progress("writing calculation.html")
    write_html(document, work / "calculation.html")
    progress("writing calculation.xlsx")
    write_xlsx(results, work / "calculation.xlsx", made)
    progress("writing hand-check.pdf")
    page = Section("Hand check", tuple(dict(view.block) for view in hand_check(results.worked)))
    write_pdf(
        Document(title=f"Hand check: {job.title}", job=facts, front=None, sections=(page,), stamp=stamp),
        work / "hand-check.pdf",
        {},
    )
    progress("writing the lists for the site")
    write_lists(results, work / "lists", plan=results.use, stamp=stamp, day=made.day)
    progress("writing the manifest")
    put_manifest(work, job, made)


def package_files(job: Job, results: Results) -> set[str]:
    """Return the names of all files that a build of a job lists in its manifest.

    Parameters
    ----------
    job
        The job.
    results
        What was computed from it.

    Returns
    -------
    set of str
    """
    inputs = {path.relative_to(job.folder).as_posix() for path in job.files}
    return {
        *(CALCULATION, "calculation.html", "calculation.xlsx", "hand-check.pdf", *WITHOUT_DOCUMENTS),
        *(f"inputs/{name}" for name in inputs),
        *(f"notebooks/{path.name}" for path in calculation_notebooks()),
        *(f"lists/{name}" for name in list_names(results, results.use)),
    }


def put_numbers(work: Path, job: Job, results: Results) -> str:
    """Write inputs, results and dose list of a package; returns the text of the results."""
    for path in job.files:
        # By its name, not by what it may be linked to: the copy is read under the name that the job file gives.
        copy = work / "inputs" / path.relative_to(job.folder)
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, copy)
    for picture in (one for note in job.notes for one in note.pictures):
        (work / "inputs" / picture.path.relative_to(job.folder)).write_bytes(picture.body)
    text = results.text()
    (work / RESULTS).write_text(text, encoding="utf-8", newline="\n")
    (work / DOSES).write_text(doses_csv(results), encoding="utf-8", newline="\n")
    return text


def _notes_of(job: Job, titles: Mapping[str, str]) -> Section:
    """What the engineer added, told apart from what was computed; a note to a notebook has its title."""
    said = (
        "Written by the engineer and not by the workbook: nothing in this part was computed, and nothing in it was"
        " checked. Text stands as it was typed."
    )
    blocks: list[dict[str, Any]] = [{"kind": "prose", "markdown": said}]
    for note in job.notes:
        name = note.path.relative_to(job.folder).as_posix()
        title = titles.get(note.path.stem)
        blocks.append({"kind": "note", "title": f"{title}: {name}" if title else name, "lines": ()})
        for part in note.parts:
            blocks.append(
                {"kind": "photo", "body": part.body, "ending": part.ending, "caption": part.caption}
                if isinstance(part, NotedPicture)
                else {"kind": "note", "title": "", "lines": part}
            )
    return Section("Engineer's notes", tuple(blocks))


def _how_made(made: Made) -> Section:
    said = (
        "The same inputs give the same files, byte for byte, when they are made again with the same software and"
        " this date. The foot of each page holds the first digits of a digest of results.json, and of this table."
    )
    table = table_view("When and with what this was made", ("", "As the manifest says"), made.rows())
    blocks = ({"kind": "prose", "markdown": said}, dict(table.block))
    return Section("How this was made", tuple(block | {"place": IN_RECORD} for block in blocks), MADE_OF)


def _front(results: Results) -> Front:
    return Front(
        question=QUESTION,
        answer=dict(dose_table(results.worked).block),
        headline=tuple(unbroken(line) for line in (results.dispensed, _loaded(results)) if line),
        checks=[check_block(check) for check in results.checks],
        notices=results.notices,
        cautions=results.cautions,
        not_covered=results.not_covered,
        outside=results.outside,
        assumed=gathered(notice for sheet in results.sheets for notice in sheet.notices if notice.name in ASSUMED),
        doses=tuple(_dose_of(one) for one in results.worked),
    )


def _dose_of(one: Worked) -> GroupDose:
    case, display = one.case, one.case.display
    return GroupDose(
        mark=case.mark,
        holes=str(case.count),
        bar=case.bar.text,
        hole=display.size(case.hole_diameter) + (" measured" if case.measured else ""),
        embedment=display.size(case.embedment),
        dose=one.dispense_text,
        surface=display.surface(one.level_before_bar),
    )


def _loaded(results: Results) -> str:
    """When all bars may be loaded, in words; empty where the days are not simulated."""
    plan = results.part(PlanWork)
    return plan.loaded if plan else ""


def _section(parts: list[dict[str, Any]], notebook: str) -> Section:
    """Take a notebook's own title as the section's, and leave the rest as it stands."""
    head, *rest = parts
    title, _, body = head["markdown"].partition("\n")
    # Checks and notices stand on page 1, for all notebooks together.
    rest = [part for part in rest if part["kind"] not in ("checks", "notices")]
    opening = ({"kind": "prose", "markdown": body.strip()},) if body.strip() else ()
    return Section(title.lstrip("# ").strip(), (*opening, *rest), notebook)


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
        raise BuildError(
            f"{name} and the results disagree at step {differing[0]}: {shown.get(differing[0])} against"
            f" {expected.get(differing[0])}"
        )


def _facts(job: Job, results: Results) -> dict[str, Any]:
    about = job.job
    approval = f", approval {job.adhesive.approval}" if job.adhesive.approval else ""
    return {
        "number": about.number,
        "revision": about.revision,
        "title": about.title,
        "units": job.display.system,
        "invented": results.invented,
        "site": about.site,
        "prepared_by": about.prepared_by,
        "checked_by": about.checked_by,
        "adhesive": job.adhesive.name + approval,
    }


def doses_csv(results: Results) -> str:
    """Return the dose list as CSV, units in the header; a text that a spreadsheet would run as a formula is quoted."""
    length, volume = results.job.display.length_unit, results.job.display.volume_unit
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    lengths = [f"hole_diameter [{length}]", f"embedment [{length}]"]
    writer.writerow(
        [
            "mark",
            "count",
            "bar",
            *lengths,
            "direction",
            f"rounded_dose [{volume}]",
            "strokes",
            f"surface_before_bar [{length}]",
            "overfill",
            "checks",
            "data",
        ]
    )
    for one in results.worked:
        case = one.case
        numbers = [plain_text(convert(v, "mm", length), 6) for v in (case.hole_diameter, case.embedment)]
        dose = plain_text(convert(one.rounded, "mm³", volume), 6)
        mark = "'" + case.mark if case.mark[:1] in "=+-@\t\r" else case.mark
        verdict = "pass" if all(check.passes for check in one.sheet.checks) else "FAIL"
        surface = plain_text(convert(one.level_before_bar, "mm", length), 4)
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
                canonical(case.overfill),
                verdict,
                "invented" if results.invented else "as given",
            ]
        )
    return out.getvalue()


def put_manifest(work: Path, job: Job, made: Made) -> None:
    """Write the manifest of everything that lies in a package's folder."""
    about = {
        "schema": MANIFEST_SCHEMA,
        "number": job.number,
        "revision": job.revision,
        "job_file": job.path.name,
        "made": made.when,
    }
    (work / MANIFEST).write_text(
        sealed(about | dict(made.software) | {"files": hashes(work)}), encoding="utf-8", newline="\n"
    )


def _keep_companions(target: Path, work: Path) -> None:
    """Carry sign-offs and comments over to the package that takes the place of theirs.

    They say by themselves that they are stale.
    """
    for path in target.iterdir() if target.is_dir() else ():
        if (
            (path.name in COMPANIONS or path.name.lower().endswith(SIGNATURES))
            and path.is_file()
            and not path.is_symlink()
        ):
            shutil.copyfile(path, work / path.name)
