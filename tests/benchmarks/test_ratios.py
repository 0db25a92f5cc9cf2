"""Speed as ratios within one run. Not part of the test command; `bonded-bar-workbook ratios` prints them."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pytest


def best(action, repeat=7):
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def say(name, ratio, of):
    print(f"\n{name}: {ratio:.2f} times {of}")


def test_formulas_on_a_million_holes(benchmark):
    from calc.fill.hole import annular_volume

    rng = np.random.default_rng(1)
    d_0, phi, l_v = rng.uniform(18, 22, 1_000_000), rng.uniform(15, 16, 1_000_000), rng.uniform(190, 210, 1_000_000)
    bare = best(lambda: np.pi / 4 * (d_0**2 - phi**2) * l_v)
    benchmark.pedantic(lambda: annular_volume(d_0=d_0, phi=phi, l_v=l_v), rounds=7)
    say(
        "annular_volume with range checks on a million holes",
        benchmark.stats.stats.min / bare,
        "the same expression in bare NumPy",
    )
    unchecked = best(lambda: annular_volume.function(d_0=d_0, phi=phi, l_v=l_v))
    say("annular_volume.function on a million holes", unchecked / bare, "the same expression in bare NumPy")


def test_a_panel_update(benchmark):
    from matplotlib.figure import Figure

    from calc.files.job import demo_job
    from calc.fill.filling import filled
    from calc.show.dose.figures import fill_picture
    from calc.show.dose.panel import DosePanel
    from calc.show.drawing import redraw_bare
    from calc.work.load import load_job

    panel = DosePanel(load_job(demo_job()))
    figure = Figure()
    fill_picture(filled(d_0=16.0, phi=12.0, l_v=150.0, theta=130.0, volume=1.6e4), figure=figure)
    bare = best(lambda: redraw_bare(figure))
    sizes = iter(f"{14 + i / 10:.1f} mm" for i in range(1000))

    def change():
        panel.fields["hole_diameter"].value = next(sizes)

    benchmark.pedantic(change, rounds=7)
    assert panel.result is not None
    say("one panel update", benchmark.stats.stats.min / bare, "a bare redraw of the same figure")


def _python(code):
    return best(lambda: subprocess.run([sys.executable, "-c", code], check=True), repeat=5)


def test_import(benchmark):
    empty = _python("pass")
    libraries = _python("import numpy, pint, scipy.optimize, pydantic, matplotlib.figure")
    benchmark.pedantic(lambda: subprocess.run([sys.executable, "-c", "import calc"], check=True), rounds=5)
    say("import calc", benchmark.stats.stats.min / empty, "an empty Python")
    everything = _python("import calc.work.results")
    say("import calc.work.results", everything / libraries, "importing the libraries it needs")


def test_build(benchmark):
    from calc.files.job import demo_job
    from calc.package.build import build
    from calc.package.notebooks import calculation_notebooks

    notebooks = [str(p) for p in calculation_notebooks()]
    command = [
        sys.executable,
        "-m",
        "jupyter",
        "nbconvert",
        "--execute",
        "--to",
        "html",
        "--log-level",
        "ERROR",
        "--output-dir",
    ]
    with tempfile.TemporaryDirectory() as scratch:
        plain = best(lambda: subprocess.run([*command, scratch, *notebooks], check=True), repeat=2)
        benchmark.pedantic(lambda: build(demo_job(), out=Path(scratch), replace=True), rounds=2)
    say("build of the demo", benchmark.stats.stats.min / plain, "nbconvert --execute --to html of the same notebooks")


if __name__ == "__main__":
    pytest.main([__file__, "-s", "-q"])
