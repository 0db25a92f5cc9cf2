"""The command line: ``python -m calc COMMAND``."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from calc.job.problems import InputErrors

STAGES = 9


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns 0, 1 when a check fails, or 2 when the input or the place to write to must be changed first."""
    parser = argparse.ArgumentParser(prog="python -m calc", description="Adhesive doses for bonded reinforcing bars, every step shown.")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    build = commands.add_parser("build", help="make the calculation package of a job (the metric demo without JOB)")
    build.add_argument("job", nargs="?", metavar="JOB", help="a job file, or the folder that holds job.toml")
    build.add_argument("--out", metavar="DIR", type=Path, help="where the package's folder is made (default: exports)")
    build.add_argument("--replace", action="store_true", help="replace an existing package of the same number and revision")
    check = commands.add_parser("check", help="read a job's files and name every error in them")
    check.add_argument("job", metavar="JOB")
    start = commands.add_parser("start", help="copy a demo job into a new folder, to be changed into your own")
    start.add_argument("folder", metavar="DIR", type=Path)
    start.add_argument("--units", choices=("metric", "us"), default="metric")
    commands.add_parser("lab", help="open the notebooks in JupyterLab")
    commands.add_parser("schema", help="print the job file's JSON schema, for editors")
    commands.add_parser("refresh", help="run the notebooks from the top and keep their outputs")
    commands.add_parser("sample", help="remake exports/sample from the metric demo")
    commands.add_parser("ratios", help="measure speed as ratios (tests/benchmarks)")
    options = parser.parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        return int(_COMMANDS[options.command](options))
    except InputErrors as errors:
        print(errors, file=sys.stderr)
    except (ValueError, OSError, RuntimeError) as error:
        if os.environ.get("CALC_TRACEBACK"):
            raise
        print(error, file=sys.stderr)
    return 2


def _build(options: argparse.Namespace) -> int:
    from tqdm import tqdm

    from calc.job.jobfile import demo_job
    from calc.report.build import build

    job = Path(options.job) if options.job else demo_job()
    # Made by hand rather than by counting: each stage names itself before it starts.
    bar = tqdm(total=STAGES, bar_format="{bar:24} {n_fmt}/{total_fmt} {desc}", file=sys.stderr, disable=None)

    def progress(stage: str) -> None:
        bar.set_description_str(stage)
        bar.update()

    try:
        package, results = build(job, out=options.out, replace=options.replace, progress=progress)
    finally:
        bar.set_description_str("")
        bar.close()
    for line in results.headline:
        print(line)
    print(f"Calculation: {package / 'calculation.pdf'}")
    return 0 if results.passes else 1


def _check(options: argparse.Namespace) -> int:
    from calc.job.jobfile import load_job
    from calc.report.results import compute

    job = load_job(options.job)
    results = compute(job)
    for line in results.headline:
        print(line)
    for check in results.checks:
        if not check.passes:
            print(f"FAILS: {check.title}: {check.reason}; {check.advice}")
    return 0 if results.passes else 1


def _start(options: argparse.Namespace) -> int:
    from calc.job.jobfile import demo_job

    if options.folder.exists():
        raise ValueError(f"{options.folder} exists and is not overwritten: name a new folder")
    shutil.copytree(demo_job(options.units).parent, options.folder)
    print(f"Edit {options.folder / 'job.toml'} and the files beside it, then: python -m calc build {options.folder}")
    return 0


def _lab(_: argparse.Namespace) -> int:
    from calc.report.notebooks import FOLDER

    return subprocess.call([sys.executable, "-m", "jupyterlab", "--notebook-dir", str(FOLDER)])


def _schema(_: argparse.Namespace) -> int:
    from calc.job.jobfile import json_schema

    print(json.dumps(json_schema(), indent=1, ensure_ascii=False))
    return 0


def _refresh(_: argparse.Namespace) -> int:
    import nbformat

    from calc.report.notebooks import calculation_notebooks, run, tidy

    for path in calculation_notebooks():
        nbformat.write(tidy(run(path, cwd=path.parent)), path)
        print(f"refreshed {path.name}")
    return 0


def _sample(_: argparse.Namespace) -> int:
    from calc.report.sample import make_sample

    for path in make_sample():
        print(f"made {path}")
    return 0


def _ratios(_: argparse.Namespace) -> int:
    checkout = Path(__file__).resolve().parents[2]
    plain = ["-q", "-s", "-p", "no:nbval", "-c", os.devnull, "--rootdir", str(checkout)]
    return subprocess.call([sys.executable, "-m", "pytest", *plain, "tests/benchmarks"], cwd=checkout)


_COMMANDS = {
    "build": _build,
    "check": _check,
    "start": _start,
    "lab": _lab,
    "schema": _schema,
    "refresh": _refresh,
    "sample": _sample,
    "ratios": _ratios,
}
