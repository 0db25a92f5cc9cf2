"""Recheck against build of the same job, as commands and inside one process. Not part of the test command."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path


def seconds(action):
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def test_recheck_takes_a_build_and_quick_a_fifth_of_one():
    from calc.files.job import demo_job
    from calc.package.build import build
    from calc.review.recheck import recheck
    from calc.work.load import load_job

    job = load_job(demo_job())
    with tempfile.TemporaryDirectory() as scratch:
        package = Path(scratch) / f"{job.number}-{job.revision}"
        command = [sys.executable, "-m", "calc"]
        made = min(
            seconds(
                lambda: subprocess.run(
                    [*command, "build", "--out", scratch, "--replace"], check=False, capture_output=True
                )
            )
            for _ in range(2)
        )

        def rechecked(*how):
            return lambda: subprocess.run([*command, "recheck", *how, str(package)], check=True, capture_output=True)

        again = min(seconds(rechecked()) for _ in range(2))
        quick = min(seconds(rechecked("--quick")) for _ in range(4))
        inside = min(seconds(lambda: build(demo_job(), out=Path(scratch), replace=True)) for _ in range(2))
        inside_quick = min(seconds(lambda: recheck(package, quick=True)) for _ in range(4))
        assert recheck(package, quick=True).word == "identical"
    print(f"\nbuild of the demo: {made:.1f} s; recheck: {again:.1f} s; recheck --quick: {quick:.1f} s, as commands")
    print(f"recheck: {again / made:.3f}, --quick: {quick / made:.3f} times build, as commands")
    print(f"recheck --quick: {inside_quick / inside:.3f} times build, inside one process")
    assert again / made <= 1.3
    assert quick / made <= 0.2
    assert inside_quick / inside <= 0.2
