"""The reserve of each dose: shares of the required volume that follow from results.json, those that fail first."""

import csv
import shutil

import pytest

from calc.files.job import demo_job
from calc.work.load import load_job
from calc.work.overfill.reserve import reserves_of
from calc.work.results import compute


@pytest.mark.parametrize("name", ["metric", "us", "failing"])
def test_shares_are_those_of_the_results(name):
    results = compute(load_job(demo_job(name)))
    shown = reserves_of(results)
    groups = {group["mark"]: group for group in results.data()["groups"]}
    assert (shown.whole, shown.groups) == (True, len(groups))
    assert sorted(one.mark for one in shown.rows) == sorted(groups)
    for one in shown.rows:
        group = groups[one.mark]
        required = group["required_volume_mL"]
        assert one.dispensed == pytest.approx(group["rounded_dose_mL"] / required, rel=1e-9)
        chance = group["short_fill_probability"]
        assert one.short is chance is None or one.short == pytest.approx(chance, rel=1e-9, abs=1e-12)
        least = group.get("least_dose_mL")
        assert (one.least is None) is (least is None)
        assert one.least is None or one.least == pytest.approx(least / required, rel=1e-9)
        assert (one.carried == "least") is (least is not None)
        assert (one.carried == "anchor") is (group.get("force_path") == "concrete")
        assert (one.need is None) is (results.job.scatter is None)


def test_needs_span_all_but_what_may_be_short():
    """With one hole in twenty accepted, the span ends where a dose leaves one in twenty short, and starts likewise."""
    results = compute(load_job(demo_job()))
    (one,) = (one for one in reserves_of(results).rows if one.mark == "P5")
    low, middle, high = one.need
    assert one.between == pytest.approx(0.9)
    assert low < middle < high < one.dispensed  # so fewer than one in twenty are short
    assert 0 < one.short < one.stated == 0.05


def test_measured_holes_are_those_of_the_file():
    job = load_job(demo_job())
    results = compute(job)
    rows = {one.mark: one for one in reserves_of(results).rows}
    with (job.folder / "measurements.csv").open(encoding="utf-8") as file:
        typed = list(csv.DictReader(line for line in file if not line.startswith("#")))
    (volume,) = (name for name in typed[0] if name.startswith("volume"))
    own = [float(row[volume]) for row in typed if row.get("mark", "S2") == "S2"]
    required = next(one.required for one in results.worked if one.case.mark == "S2") / 1000
    assert sorted((*rows["S2"].measured, *rows["S2"].left_out)) == pytest.approx(sorted(v / required for v in own))
    assert not rows["W3"].measured


def test_what_fails_stands_first_then_what_is_short_most_often():
    rows = reserves_of(compute(load_job(demo_job()))).rows
    assert [one.short for one in rows] == sorted((one.short for one in rows), reverse=True)
    failing = reserves_of(compute(load_job(demo_job("failing"))))
    assert {one.mark for one in failing.rows[: len(failing.failing)]} == {"L1", "L3", "L4", "T1"}
    assert all(one.too_weak and not one.too_often_short for one in failing.failing)
    assert failing.most_often_short is None


def test_of_many_groups_those_with_the_least_reserve_are_kept(tmp_path):
    """A third of the needed overfill makes a group fail, and it comes first of all, wherever its row stands."""
    folder = shutil.copytree(demo_job().parent, tmp_path / "job")
    head, *rows = (folder / "schedule.csv").read_text(encoding="utf-8").splitlines()
    more = [f"X{n},4,16,20,{200 + n},,down,,," for n in range(40)]
    (folder / "schedule.csv").write_text("\n".join([head, *rows, *more, "Z,4,16,20,200,,down,0.05,,"]) + "\n")
    shown = reserves_of(compute(load_job(folder)))
    assert (len(shown.rows), shown.groups, shown.whole) == (30, 47, False)
    assert shown.rows[0].mark == "Z" == shown.most_often_short.mark
    assert [one.mark for one in shown.failing] == ["Z"]
    assert all(one.need is not None for one in shown.rows)
