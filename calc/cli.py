"""The command line: ``bonded-bar-workbook COMMAND``, or ``python -P -m calc COMMAND``."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from calc.base.command import COMMAND, import_nothing_from_here, safe_environment
from calc.base.errors import FAULT, CalcError, NotAccepted

_STAGES = 17
# Options of `dose`, and the column of the schedule that each is read as.
_ASKED = {
    "bar": "bar",
    "hole": "hole_diameter",
    "depth": "embedment",
    "overdrill": "overdrill",
    "overfill": "overfill",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command.

    Returns 0, 1 when a check fails or a recheck differs, 2 when the input or the place to write to must be changed
    first, 3 for a bug.
    """
    import_nothing_from_here()
    parser = argparse.ArgumentParser(
        prog=COMMAND, description="Adhesive doses for bonded reinforcing bars, every step shown."
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    build = commands.add_parser("build", help="make the calculation package of a job (the metric demo without JOB)")
    build.add_argument("job", nargs="?", metavar="JOB", help="a job file, or the folder that holds job.toml")
    build.add_argument("--out", metavar="DIR", type=Path, help="where the package's folder is made (default: exports)")
    build.add_argument(
        "--replace", action="store_true", help="replace an existing package of the same number and revision"
    )
    check = commands.add_parser("check", help="read a job's files and name every error in them")
    check.add_argument("job", metavar="JOB")
    check.add_argument(
        "--take-columns",
        action="store_true",
        help="write into the job file how another program's schedule is read, as check has proposed it",
    )
    asked = commands.add_parser(
        "dose",
        help="answer one question: how much goes into a hole, as in --bar 16 --hole 20 --depth 200, or '#5' 3/4 8 in",
    )
    asked.add_argument("values", nargs="*", metavar="VALUE", help="bar, hole and depth, and the unit of bare numbers")
    for name in _ASKED:
        asked.add_argument(f"--{name}", nargs="+", default=[], metavar="VALUE")
    asked.add_argument(
        "--point-angle", nargs="+", default=[], metavar="ANGLE", help="of the drill's tip; flat without it"
    )
    asked.add_argument("--job", metavar="JOB", help="take dispenser, drill and overfill from this job")
    start = commands.add_parser("start", help="copy a demo job into a new folder, to be changed into your own")
    start.add_argument("folder", metavar="DIR", type=Path)
    start.add_argument("--units", choices=("metric", "us"), default="metric")
    start.add_argument("--minimal", action="store_true", help="what a job needs alone, on fifteen lines")
    again = commands.add_parser(
        "recheck", help="compute a package and make its documents again from its own inputs, and compare"
    )
    again.add_argument("package", metavar="PACKAGE", type=Path, help="the folder of a calculation package")
    again.add_argument(
        "--quick", action="store_true", help="do not make the documents again, which takes as long as a build"
    )
    again.add_argument(
        "--signers", metavar="FILE", type=Path, help="OpenSSH's file of allowed signers, one of whom must have signed"
    )
    again.add_argument("--pdf", metavar="FILE", type=Path, help="write the verdict as PDF too")
    again.add_argument(
        "--what-if", metavar="JOB", type=Path, help="list what changed inputs would change against the package"
    )
    sides = commands.add_parser("compare", help="say what changed from one package to another")
    sides.add_argument("before", metavar="A", type=Path)
    sides.add_argument("after", metavar="B", type=Path)
    sides.add_argument("--html", metavar="FILE", type=Path, help="write it as one HTML page too")
    sides.add_argument("--json", metavar="FILE", type=Path, help="write it as JSON too")
    sides.add_argument("--pdf", metavar="FILE", type=Path, help="write it as a sheet to be filed with the revision")
    sign = commands.add_parser(
        "sign", help="write a sign-off record, which is no cryptographic signature, into a package's folder"
    )
    sign.add_argument("package", metavar="PACKAGE", type=Path)
    sign.add_argument("--as", dest="role", required=True, choices=("prepared", "checked", "approved"))
    sign.add_argument("--name", required=True, help="who signs off")
    sign.add_argument("--date", metavar="YYYY-MM-DD", help="today without it")
    sign.add_argument("--key", metavar="FILE", type=Path, help="sign the manifest with this key of OpenSSH as well")
    sign.add_argument(
        "--anyway", default="", metavar="REASON", help="sign although something stands in the way; both are recorded"
    )
    note = commands.add_parser("comment", help="write a review comment into the comments file beside a package")
    note.add_argument("package", metavar="PACKAGE", type=Path)
    note.add_argument("--name", required=True, help="who writes it")
    note.add_argument("--text", required=True, help="what there is to say")
    note.add_argument(
        "--kind", default="question", help="'must change', question, remark or settled; question without it"
    )
    note.add_argument("--about", default="", metavar="ID", help="id of a step or check")
    note.add_argument(
        "--anyway", default="", metavar="REASON", help="why it settles what somebody else asked to be changed"
    )
    note.add_argument("--answers", default="", metavar="N", help="number of the comment that it answers or settles")
    lesson = commands.add_parser("lesson", help="open the lesson for a projector, one scene at a time")
    lesson.add_argument("--units", choices=("metric", "us"), default="metric")
    lesson.add_argument("--language", default="en", help="a language of calc/lesson/texts")
    _of_class(lesson, "--class", help="number of the class: other exercises, other simulated holes")
    pocket = commands.add_parser(
        "pocket", help="write one page for a phone: fill a hole, exercises, practice sheet; with JOB its doses first"
    )
    pocket.add_argument("job", metavar="JOB", nargs="?", type=Path)
    pocket.add_argument("--units", choices=("metric", "us"), default="metric", help="without JOB")
    pocket.add_argument("--language", default="en", help="a language of calc/lesson/texts")
    _of_class(pocket, "--class", help="number of the class: other exercises, other simulated holes")
    pocket.add_argument("--out", metavar="FILE", type=Path, help="default: pocket.html in exports, where build writes")
    handouts = commands.add_parser(
        "handouts", help="make the lesson's printed sheets: for the apprentice, and the trainer's notes"
    )
    handouts.add_argument("--units", choices=("metric", "us"), default="metric")
    handouts.add_argument("--language", default="en", help="a language of calc/lesson/texts")
    _of_class(handouts, "--class", "--seed", help="number of the class, as in lesson: its exercises")
    handouts.add_argument(
        "--out", metavar="DIR", type=Path, help="folder for the two PDF files (default: exports/handouts)"
    )
    record = commands.add_parser("record", help="compare a filled-in hole record (.xlsx or .csv) with what was planned")
    record.add_argument("job", metavar="JOB")
    record.add_argument("file", metavar="FILE", type=Path)
    noted = commands.add_parser(
        "notes", help="take the cells tagged 'note' of a job's working copies into its package: text and pictures"
    )
    noted.add_argument("job", metavar="JOB")
    lab = commands.add_parser(
        "lab", help="open the first page of a job in JupyterLab; without JOB, choose or begin one"
    )
    lab.add_argument("job", nargs="?", metavar="JOB", help="a job file, or the folder that holds job.toml")
    lab.add_argument("--no-browser", action="store_true", help="serve only; the address is printed")
    schema = commands.add_parser("schema", help="print the job file's JSON schema, for editors")
    schema.add_argument("--results", action="store_true", help="the schema of results.json instead, for other programs")
    commands.add_parser("refresh", help="run the notebooks from the top and keep their outputs")
    commands.add_parser("sample", help="remake exports/sample from the metric demo")
    commands.add_parser("ratios", help="measure speed as ratios (tests/benchmarks)")
    options = parser.parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        os.getcwd()
    except FileNotFoundError:
        print("The folder that this command runs in was deleted: change into one that exists.", file=sys.stderr)
        return 2
    try:
        status = int(_COMMANDS[options.command](options))
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        # What is left unwritten would be written again at exit, and fail again.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        print("Nobody reads the output any longer: the rest of it was not written.", file=sys.stderr)
        return 2
    except (CalcError, OSError) as error:
        if os.environ.get("CALC_TRACEBACK"):
            raise
        print(error, file=sys.stderr)
        return 2
    except Exception:
        # Its own status, since 1 means that a check fails or that a package differs.
        traceback.print_exc()
        print(FAULT, file=sys.stderr)
        return 3


@contextmanager
def _progress(stages: int) -> Iterator[tuple[Callable[[str], None], Callable[[str], None]]]:
    """Show a bar on a terminal, by hand rather than by counting: each stage names itself before it starts."""
    from tqdm import tqdm

    bar = tqdm(total=stages, bar_format="{bar:24} {n_fmt}/{total_fmt} {desc}", file=sys.stderr, disable=None)

    def progress(stage: str) -> None:
        bar.set_description_str(stage)
        bar.update()

    def say(sentence: str) -> None:
        bar.write(sentence, file=sys.stderr)

    try:
        yield progress, say
    finally:
        bar.set_description_str("")
        bar.close()


def _of_class(command: argparse.ArgumentParser, *names: str, help: str) -> None:
    """Add the number of the class."""
    command.add_argument(*names, dest="seed", type=int, default=1, metavar="N", help=help)


def _build(options: argparse.Namespace) -> int:
    from calc.files.job import demo_job
    from calc.package.build import build

    job = Path(options.job) if options.job else demo_job()
    with _progress(_STAGES) as (progress, say):
        package, results = build(job, out=options.out, replace=options.replace, progress=progress, say=say)
    for line in results.headline:
        print(line)
    print(f"Calculation: {package / 'calculation.pdf'}")
    return 0 if results.passes else 1


def _check(options: argparse.Namespace) -> int:
    from calc.files.design import lines_to_add
    from calc.files.problems import InputErrors
    from calc.work.load import load_job
    from calc.work.results import compute

    try:
        job = load_job(options.job)
    except InputErrors:
        _propose_reading(options)
        if not options.take_columns:
            raise
        job = load_job(options.job)
    results = compute(job)
    for line in results.headline:
        print(line)
    for check in results.checks:
        if not check.passes:
            print(f"{'OWED' if check.verdict == 'owed' else 'FAILS'}: {check.title}: {check.reason}; {check.advice}")
    if lines := lines_to_add(results.checks):
        print(
            f"\nLines to add to {job.path.name}, with a value in place of …; what others verify may stand in elsewhere,"
            " by name, with a reference:"
        )
        print("\n".join(lines))
    return 0 if results.passes else 1


def _propose_reading(options: argparse.Namespace) -> None:
    """Print how a schedule of another program could be read, and write it where the user has agreed."""
    from calc.files.foreign.proposing import lines_of
    from calc.work.load import reading_to_agree
    from calc.work.save import take_reading

    found = reading_to_agree(options.job)
    if found is None:
        return
    file, proposal = found
    if options.take_columns:
        take_reading(file, proposal)
        return
    print(f"The schedule's titles look like these columns. If that is right, add to [schedule] of {file.name}:\n")
    print("\n".join(lines_of(proposal)))
    for one in proposal.open:
        print(f"Only you can say: {one}")
    if not proposal.open:
        print(f"\nOr let it be written: {COMMAND} check {options.job} --take-columns")
    print()


def _dose(options: argparse.Namespace) -> int:
    from calc.work.asked.question import reply
    from calc.work.load import load_job

    values = {column: " ".join(getattr(options, name)) for name, column in _ASKED.items()}
    plain = dict(zip(("bar", "hole_diameter", "embedment", "unit"), options.values, strict=False))
    if options.values and (len(options.values) not in (3, 4) or any(values[name] for name in plain if name != "unit")):
        raise NotAccepted(
            f"'{' '.join(options.values)}' cannot be read; accepted: bar, hole and depth, and a unit where that is not"
            " the usual one, such as 16 20 200 or '#5' 3/4 8 in (a bar with # in quotation marks); or --bar, --hole"
            " and --depth"
        )
    unit = plain.pop("unit", "")
    said = reply(
        values | plain,
        unit=unit,
        point_angle=" ".join(options.point_angle),
        options={column: f"--{name}" for name, column in _ASKED.items()},
        job=load_job(options.job) if options.job else None,
    )
    print("\n".join(said.lines))
    return 0 if said.passes else 1


def _start(options: argparse.Namespace) -> int:
    from calc.package.starting import new_job

    job = new_job(options.folder, units=options.units, kind="minimal" if options.minimal else "full")
    print(f"Edit {job} and the files beside it, then: {COMMAND} build {options.folder}")
    return 0


def _outside(file: Path | None, *packages: Path) -> None:
    """Refuse to write into a package, whichever it is, or into a folder that is not there."""
    if file is None:
        return
    place = file.resolve()
    inside = next(
        (
            folder
            for folder in (*packages, *place.parents)
            if place.is_relative_to(folder.resolve()) and (folder / "manifest.json").is_file()
        ),
        None,
    )
    if inside is not None:
        raise NotAccepted(
            f"{file} lies inside the package {inside}, which would no longer be what was built: name a file elsewhere"
        )
    if not place.parent.is_dir():
        raise NotAccepted(
            f"{file} cannot be written, since the folder {file.parent} does not exist: name a file in a folder that"
            " does"
        )


def _recheck(options: argparse.Namespace) -> int:
    from calc.review.recheck import recheck, what_if

    _outside(options.pdf, options.package)
    if options.signers is not None and options.signers.resolve().is_relative_to(options.package.resolve()):
        raise NotAccepted(f"{options.signers} came with the package and proves nothing: name a list of your own")
    if options.what_if is not None:
        if options.pdf is not None:
            raise NotAccepted("--pdf writes a verdict, and --what-if gives none: use one of them")
        print(what_if(options.package, options.what_if).text())
        return 0
    with _progress(_STAGES) as (progress, _):
        verdict = recheck(options.package, quick=options.quick, signers=options.signers, progress=progress)
    print(verdict.text())
    if options.pdf is not None:
        verdict.write_pdf(options.pdf)
        print(f"\nVerdict: {options.pdf}")
    return verdict.exit_code


def _compare(options: argparse.Namespace) -> int:
    from calc.package.manifest import write_whole
    from calc.review.compare import compare
    from calc.review.compare.page import page_of, write_sheet

    for file in (options.html, options.json, options.pdf):
        _outside(file, options.before, options.after)
    found = compare(options.before, options.after)
    print(found.text())
    if options.html is not None:
        write_whole(options.html, page_of(found))
    if options.json is not None:
        write_whole(options.json, found.json())
    if options.pdf is not None:
        write_sheet(found, options.pdf)
        print(f"\nSheet: {options.pdf}")
    return found.exit_code


def _sign(options: argparse.Namespace) -> int:
    from calc.package.manifest import open_package
    from calc.review.signing import sign
    from calc.review.signoff import RECORD_ONLY, unpassed

    how = {"role": options.role, "name": options.name, "day": options.date, "anyway": options.anyway}
    with _progress(_STAGES) as (progress, _):
        record = sign(options.package, **how, key=options.key, progress=progress)
    print(f"{record.role} by {record.name}, {record.date}, for the manifest {record.manifest_digest[:12]}")
    if open_ := unpassed(open_package(options.package)):
        print(f"what was signed does not pass: {open_}")
    if record.reason:
        print(f"signed although {record.despite}; this and the reason stand in every later verdict")
    elif options.anyway:
        print("nothing stood in the way, so the reason was not recorded")
    print(f"signed with the key {record.key}" if record.key else RECORD_ONLY)
    return 0


def _comment(options: argparse.Namespace) -> int:
    from calc.review.comments import comment

    written = comment(
        options.package,
        text=options.text,
        name=options.name,
        kind=options.kind,
        about=options.about,
        answers=options.answers,
        anyway=options.anyway,
    )
    print(f"comment {written.number} stands in {options.package / 'comments.json'}; the package itself is as it was")
    return 0


def _notes(options: argparse.Namespace) -> int:
    from calc.package.takennotes import take_notes
    from calc.work.load import load_job

    taken = take_notes(load_job(options.job))
    for path in taken.written:
        print(f"wrote {path}")
    for path in taken.removed:
        print(f"removed {path}, since its notebook has no such note any longer")
    for sentence in taken.left:
        print(sentence)
    if not taken.written:
        print("no note was found: write into the last cell of a working copy, or tag a Markdown cell 'note'")
    return 0


def _lab(options: argparse.Namespace) -> int:
    from calc.files.job import JOB_FILE, is_demo
    from calc.package.notebooks import FIRST, FOLDER, first_page, working_copies
    from calc.work.load import load_job

    here = Path.cwd()
    given = options.job or (here if (here / JOB_FILE).is_file() else None)
    job = load_job(given) if given else None
    if job is not None and not is_demo(job):
        # Beside the job: it, its packages and the copies are what the server shows.
        first = working_copies(job, say=print) / f"{FIRST}.ipynb"
    elif here == FOLDER.parent:
        first = FOLDER / f"{FIRST}.ipynb"  # in the workbook's own checkout there is nothing to copy
    else:
        first = first_page(here)
    root = first.resolve().parent.parent
    # Not from the present folder: the servers of JupyterLab and Voilà run a configuration file that lies there.
    command = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={root}"]
    command += [f"--LabApp.default_url=/lab/tree/{first.parent.name}/{first.name}"]
    command += ["--no-browser"] if options.no_browser else []
    return subprocess.call(command, cwd=FOLDER, env=safe_environment())


def _lesson(options: argparse.Namespace) -> int:
    from calc.lesson.server import serve

    print(f"Printed sheets and trainer's notes: {COMMAND} handouts", flush=True)
    return serve(units=options.units, language=options.language, seed=options.seed)


def _pocket(options: argparse.Namespace) -> int:
    from calc.lesson.pocket.page import write_pocket

    _outside(options.out)
    said = {"units": options.units, "language": options.language, "seed": options.seed, "job": options.job}
    print(write_pocket(options.out, **said))
    return 0


def _handouts(options: argparse.Namespace) -> int:
    from calc.lesson.handouts import write_handouts

    for path in write_handouts(units=options.units, language=options.language, seed=options.seed, out=options.out):
        print(path)
    return 0


def _record(options: argparse.Namespace) -> int:
    from calc.work.load import load_job
    from calc.work.site.record import read_hole_record

    done = read_hole_record(options.file, job=load_job(options.job))
    for sentence in done.sentences():
        print(sentence)
    return 0 if done.passes else 1


def _schema(options: argparse.Namespace) -> int:
    from calc.files.tables import json_schema
    from calc.work.resultsschema import results_schema

    print(json.dumps(results_schema() if options.results else json_schema(), indent=1, ensure_ascii=False))
    return 0


def _refresh(_: argparse.Namespace) -> int:
    import nbformat

    from calc.package.notebooks import numbered_notebooks, run, tidied
    from calc.package.typesetting import keep_ids, keep_templates

    print(f"refreshed {keep_ids().name}")
    print(f"refreshed {keep_templates().name}")
    for path in numbered_notebooks():
        nbformat.write(tidied(run(path, cwd=path.parent)), path)
        print(f"refreshed {path.name}")
    return 0


def _sample(_: argparse.Namespace) -> int:
    from calc.package.sample import make_sample

    for path in make_sample():
        print(f"made {path}")
    return 0


def _ratios(_: argparse.Namespace) -> int:
    checkout = Path(__file__).resolve().parents[1]
    plain = ["-q", "-s", "-p", "no:nbval", "-c", os.devnull, "--rootdir", str(checkout)]
    return subprocess.call([sys.executable, "-m", "pytest", *plain, "tests/benchmarks"], cwd=checkout)


_COMMANDS = {
    "build": _build,
    "check": _check,
    "dose": _dose,
    "start": _start,
    "recheck": _recheck,
    "compare": _compare,
    "sign": _sign,
    "comment": _comment,
    "lab": _lab,
    "lesson": _lesson,
    "handouts": _handouts,
    "pocket": _pocket,
    "record": _record,
    "notes": _notes,
    "schema": _schema,
    "refresh": _refresh,
    "sample": _sample,
    "ratios": _ratios,
}
