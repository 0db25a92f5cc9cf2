"""Whether results.json has the same digits everywhere: both demos under many settings of the machine.

``python tests/long/digits.py`` runs all settings, some with the oldest and the newest numpy and scipy that
pyproject.toml allows, which pip puts into a folder that is thrown away; ``--notebooks`` runs the notebooks under each
as well, and compares what they show. A test runs the first three.
"""

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import tomllib
from fractions import Fraction
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# Older releases of numpy know the same instructions by other names; names that one does not know are passed over.
NO_AVX512 = "X86_V4 AVX512_ICL AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL"
NO_AVX2 = f"X86_V3 {NO_AVX512} AVX2 FMA3"
QUICK = {
    "as it is": {},
    "without AVX-512": {"NPY_DISABLE_CPU_FEATURES": NO_AVX512},
    "without AVX2": {"NPY_DISABLE_CPU_FEATURES": NO_AVX2},
}
SETTINGS = QUICK | {
    "BLAS for Haswell, 1 thread": {"OPENBLAS_CORETYPE": "Haswell", "OPENBLAS_NUM_THREADS": "1"},
    "BLAS for SSE3, 2 threads": {"OPENBLAS_CORETYPE": "Prescott", "OPENBLAS_NUM_THREADS": "2"},
    "hash seed 0": {"PYTHONHASHSEED": "0"},
    "hash seed 77, other place": {
        "PYTHONHASHSEED": "77",
        "TZ": "Pacific/Chatham",
        "LANG": "de_DE.UTF-8",
        "LC_ALL": "de_DE.UTF-8",
    },
    "C library without FMA": {"GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX2,-FMA,-FMA4,-AVX512F"},
}
# Greatest relative difference of a number between any two settings, before it is rounded: a binomial tail of two
# releases of scipy.
SPREAD = 2e-16
ROOM = 100  # how many times the spread a number must be away from the edge at which it would be rounded the other way


def child():
    """Print both demos' results.json, the same with all digits.

    And how far the nearest of counted samples is from being counted otherwise.
    """
    import numpy as np

    from calc.files.job import demo_job
    from calc.strength.short import bar as shortbar
    from calc.work.load import load_job
    from calc.work.results import compute

    nearest, reaches = [], shortbar._reaches

    def watched(N_R, N_Ed):
        ratio = np.abs(np.atleast_1d(N_R) / (N_Ed * (1 - shortbar.SAME)) - 1)
        nearest.append(float(ratio.min()))
        return reaches(N_R, N_Ed)

    shortbar._reaches = watched
    found = {}
    for units in ("metric", "us"):
        nearest.clear()
        results = compute(load_job(demo_job(units)))
        found[units] = {"text": results.text(), "unrounded": results.unrounded(), "counted": list(nearest)}
    json.dump(found, sys.stdout)


def environment(setting, path):
    """Return the environment for a setting; ``path`` holds other packages than the installed ones."""
    drop = (
        "NPY_DISABLE_CPU_FEATURES",
        "OPENBLAS_CORETYPE",
        "OPENBLAS_NUM_THREADS",
        "OMP_NUM_THREADS",
        "PYTHONHASHSEED",
        "GLIBC_TUNABLES",
    )
    env = {key: value for key, value in os.environ.items() if key not in drop}
    return env | {"PYTHONPATH": os.pathsep.join(filter(None, (path, str(ROOT), env.get("PYTHONPATH"))))} | setting


def run(setting, path=""):
    """Run `child` under a setting."""
    done = subprocess.run(
        [sys.executable, __file__, "--child"],
        capture_output=True,
        env=environment(setting, path),
        check=False,
        encoding="utf-8",
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def numbers(value, place=()):
    """Yield every float of a JSON value with its place."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from numbers(inner, (*place, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            name = (
                next((inner[key] for key in ("id", "mark", "name") if key in inner), index)
                if isinstance(inner, dict)
                else index
            )
            yield from numbers(inner, (*place, str(name)))
    elif isinstance(value, float):
        yield ".".join(place), value


def edge(value):
    """Return how far a number is from where its canonical form would be another one, as a share of the number."""
    from calc.base.canonical import DIGITS, UP

    if value == 0:
        return math.inf
    exact = Fraction(abs(value)) * Fraction(UP)
    unit = Fraction(10) ** (int(f"{float(exact):e}".partition("e")[2]) - DIGITS + 1)
    return float(abs(exact / unit % 1 - Fraction(1, 2)) * unit / exact)


def spread(runs, units):
    """Return the greatest relative difference of each number that differs between runs, before it is rounded."""
    columns = [dict(numbers(run[units]["unrounded"])) for run in runs]
    assert all(column.keys() == columns[0].keys() for column in columns), (
        "not the same numbers are there in every setting"
    )
    rows = {place: [column[place] for column in columns] for place in columns[0]}
    return {place: (max(row) - min(row)) / max(map(abs, row)) for place, row in rows.items() if max(row) > min(row)}


def judged(values):
    """Return the unrounded utilisations of checks that are not exactly 1, as distances from 1."""
    return {place: abs(value - 1) for place, value in values if place.endswith(".utilisation") and value != 1}


def faults(runs):
    """Return a sentence for everything that is not as it should be, and the lines of the report."""
    wrong, lines = [], []
    first = next(iter(runs.values()))
    for units in first:
        other = [name for name, run in runs.items() if run[units]["text"] != first[units]["text"]]
        wrong += [f"{units}, {name}: results.json differs from that of '{next(iter(runs))}'" for name in other]
        values = list(numbers(first[units]["unrounded"]))
        between = spread(list(runs.values()), units)
        widest = max(between.values(), default=0.0)
        if widest > SPREAD:
            wrong.append(
                f"{units}: {max(between, key=between.get)} differs by {widest:.1e} of itself between settings, more"
                f" than {SPREAD:.0e}"
            )
        edges = sorted((edge(value), place, value) for place, value in values)
        needed = ROOM * SPREAD
        near = [
            f"{place} = {value!r} is within {far:.1e} of its rounding edge"
            for far, place, value in edges
            if far < needed
        ]
        verdicts = judged(values)
        near += [f"{place} is within {far:.1e} of 1" for place, far in verdicts.items() if far < needed]
        counted = min(first[units]["counted"], default=math.inf)
        near += [f"a counted sample is within {counted:.1e} of being counted otherwise"] if counted < needed else []
        wrong += [f"{units}: {sentence}, less than {needed:.0e}" for sentence in near]
        lines += [
            f"{units}: {len(values)} numbers; {len(between)} differ before rounding, by {widest:.1e} at most",
            f"  nearest to a rounding edge: {edges[0][0]:.1e}, {edges[0][1]} = {edges[0][2]!r}; needed {needed:.0e}",
            (
                f"  nearest utilisation to 1: {min(verdicts.values(), default=math.inf):.1e}; nearest counted sample:"
                f" {counted:.1e}"
            ),
        ]
    return wrong, lines


def every_distance(run):
    """Return one line for each number of each demo: distance to its rounding edge, place, value; nearest first."""
    rows = sorted(
        (edge(value), f"{units} {place}", value) for units in run for place, value in numbers(run[units]["unrounded"])
    )
    return [f"{far:.2e}  {place} = {value!r}" for far, place, value in rows]


def bounds():
    """Return numpy and scipy at the lower bounds of pyproject.toml, and the ranges, for pip."""
    named = [
        text
        for text in tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
        if text.startswith(("numpy", "scipy"))
    ]
    oldest = [text.partition(",")[0].replace(">=", "==") for text in named]
    return {"oldest numpy and scipy": oldest, "newest numpy and scipy": named}


def main():
    """Run every setting and say what differs; exit code 1 when something does."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--child", action="store_true", help="what each setting runs")
    asked.add_argument("--notebooks", action="store_true", help="run the notebooks under each setting too")
    asked.add_argument("--every", action="store_true", help="print the distance of every number to its rounding edge")
    options = asked.parse_args()
    if options.child:
        return child()
    sys.path.insert(0, str(ROOT))
    runs, wrong = {}, []
    with tempfile.TemporaryDirectory(prefix="digits-") as scratch:
        plan = [(name, setting, "") for name, setting in SETTINGS.items()]
        for words, wanted in bounds().items():
            path = str(Path(scratch, words.replace(" ", "-")))
            subprocess.run(
                [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", path, *wanted], check=True
            )
            plan += [(f"{words}, {name}", setting, path) for name, setting in QUICK.items()]
        for name, setting, path in plan:
            runs[name] = run(setting, path)
            print(f"ran {name}", flush=True)
            if options.notebooks:
                wrong += notebooks(name, setting, path)
    found, lines = faults(runs)
    if options.every:
        print(*every_distance(next(iter(runs.values()))), sep="\n")
    print(
        *lines,
        *wrong,
        *found,
        f"{len(runs)} settings: {'the same digits everywhere' if not wrong + found else 'NOT the same'}",
        sep="\n",
    )
    return int(bool(wrong + found))


def notebooks(name, setting, path):
    """Run the notebooks' own comparison under a setting."""
    command = [sys.executable, "-m", "pytest", "notebooks"]
    done = subprocess.run(
        command, cwd=ROOT, env=environment(setting, path), capture_output=True, encoding="utf-8", check=False
    )
    print(f"  notebooks: {'the same' if done.returncode == 0 else 'NOT the same'}", flush=True)
    return [] if done.returncode == 0 else [f"notebooks, {name}: {done.stdout[-2000:]}"]


if __name__ == "__main__":
    sys.exit(main())
