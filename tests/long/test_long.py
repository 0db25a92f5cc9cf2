"""The hard cases of packages, many times over.

200 flipped bytes, 20 killed builds, three full disks, two whole builds at once.
"""

import importlib.util
import shutil
import time
from pathlib import Path

import pytest
from jobparts import sign

from calc.files.job import demo_job
from calc.package.build import build
from calc.package.manifest import open_package
from calc.review.comments import comment
from calc.review.recheck import recheck

_SPEC = importlib.util.spec_from_file_location(
    "hard_cases", Path(__file__).parents[1] / "package" / "test_hard_cases.py"
)
hard = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(hard)


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    start = time.monotonic()
    folder, _ = build(demo_job(), out=tmp_path_factory.mktemp("long"))
    return folder, time.monotonic() - start


def test_200_flipped_bytes(built, tmp_path):
    folder = shutil.copytree(built[0], tmp_path / "package")
    sign(folder, role="checked", name="A")
    comment(folder, text="Which drawing?", name="A")
    for seed in range(4):
        assert hard.flip_bytes(folder, 50, seed=seed) == []
    assert recheck(folder, quick=True).word == "identical"


def test_20_killed_builds(built, tmp_path):
    target = shutil.copytree(built[0], tmp_path / "out" / built[0].name)
    killed = hard.kill_builds(demo_job(), target, 20, built[1], seed=20)
    assert killed >= 10
    build(demo_job(), out=target.parent, replace=True)
    assert [path.name for path in target.parent.iterdir()] == [target.name]
    assert recheck(target, quick=True).word == "identical"


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_disk_that_fills_up_later(built, tmp_path, share):
    hard.fill_disk(built[0], tmp_path / "disk", share)


def test_two_whole_builds_at_once(tmp_path):
    running = [hard.start_build(demo_job(), tmp_path / "out") for _ in range(2)]
    codes = [process.wait() for process in running]
    assert set(codes) <= {0, 1}, codes  # 1: a check of the demo fails
    (target,) = (tmp_path / "out").iterdir()
    assert open_package(target).damage == ()
    assert recheck(target, quick=True).word == "identical"
