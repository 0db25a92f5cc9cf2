"""Fixtures of the job file's tests."""

import shutil

import pytest
from jobparts import Folder

from calc.job.jobfile import demo_job, load_job


@pytest.fixture
def folder(tmp_path):
    return Folder(tmp_path)


@pytest.fixture(params=["metric", "us"])
def demo(request, tmp_path):
    shutil.copytree(demo_job(request.param).parent, tmp_path / "demo")
    return load_job(tmp_path / "demo")
