"""A step's label stands over all groups of a table, so a value in it would be that of one group alone."""

import re
import shutil

import pytest

from calc.files.job import demo_job
from calc.work.load import load_job
from calc.work.results import compute


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_label_of_a_step_holds_a_value(units, tmp_path):
    shutil.copytree(demo_job(units).parent, tmp_path / "job")
    path = tmp_path / "job" / "job.toml"
    if units == "metric":  # a second measured hole, with other depths
        hole = (
            '[measured.S1]\ndepth = ["0 mm", "30 mm", "110 mm"]\ndiameter = ["13 mm", "12 mm", "12'
            ' mm"]\n\n[measured.W3]'
        )
        path.write_text(path.read_text(encoding="utf-8").replace("[measured.W3]", hole), encoding="utf-8")
    job = load_job(path)
    steps = [step for sheet in compute(job).sheets for step in sheet.steps]
    marks = [group.mark for group in job.groups]
    assert len(marks) >= 3
    assert {step.id[:2] for step in steps} >= {"01", "02", "04", "05"}
    labels: dict[tuple[str, ...], set[str]] = {}
    for step in steps:
        words = re.sub(r"\bslice \d+\b", "slice", step.label)  # counted, as the rows of the job file
        for mark in marks:  # the group that a step of the whole job was worked for
            words = words.replace(f"({mark})", "")
        assert not re.search(r"\d", words), (step.id, step.label)
        number, _, rest = step.id.partition(".")
        mark = next((mark for mark in marks if rest.startswith(f"{mark}.")), "")
        labels.setdefault((number, rest.removeprefix(f"{mark}."), step.formula), set()).add(step.label)
    # And one formula under one name says the same for every group.
    assert {name: found for name, found in labels.items() if len(found) > 1 and not name[1].startswith("u_c.")} == {}


def test_the_shares_of_the_variance_are_steps_of_their_own():
    results = compute(load_job(demo_job()))
    sheet = results.sheet_of("02_overfill_and_waste")
    for mark in ("S1", "S2", "P5"):
        shares = {step.id: step.value for step in sheet.steps if step.id.startswith(f"02.{mark}.w_i.")}
        assert len(shares) == 6
        assert sum(shares.values()) == pytest.approx(1.0)
    bar_mass = [next(s.value for s in sheet.steps if s.id == f"02.{mark}.w_i.mass_deviation") for mark in ("S1", "P5")]
    assert bar_mass == pytest.approx([0.424, 0.839], abs=5e-4)


def test_the_depths_of_a_measured_hole_are_steps_of_their_own():
    steps = {step.id: step.value for step in compute(load_job(demo_job())).sheet.steps}
    assert [steps[f"01.W3.z_h.{n}"] for n in range(1, 6)] == [15.0, 40.0, 150.0, 250.0, 260.0]
