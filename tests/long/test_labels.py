"""The labels of all figures in many more sizes than the suite has time for; see tests/show/test_labels.py."""

import importlib.util
from pathlib import Path

import pytest
from drawnjobs import SIZES, draw_all, many_groups

from calc.base.display import METRIC, display_of
from calc.work.load import load_job
from calc.work.results import compute

_spec = importlib.util.spec_from_file_location("labels", Path(__file__).parents[1] / "show" / "test_labels.py")
labels = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(labels)


@pytest.mark.parametrize("mark", ["{}", "pier {} north and upper row"])
@pytest.mark.parametrize("groups", [2, 5, 12, 30])
def test_the_figures_of_many_groups(tmp_path, groups, mark):
    assert not labels.seen(lambda: draw_all(compute(load_job(many_groups(tmp_path / "job", groups, mark)))))[0]


@pytest.mark.parametrize(("phi", "d_0"), SIZES)
@pytest.mark.parametrize("display", [METRIC, display_of("us")], ids=["metric", "us"])
def test_the_hole_in_every_size(phi, d_0, display):
    assert not labels.seen(lambda: labels.holes(phi, d_0, display, depths=(3, 5, 8, 14, 25, 60)))[0]
