"""The day book's rows add up to what results.json says of packs, volumes, hours and waiting times.

They are read as a reviewer reads them: from the CSV file, by the names of its columns.
"""

import csv
import io
import math

import pytest

from calc.files.job import demo_job
from calc.work.load import load_job
from calc.work.plan.dayrows import DAY_COLUMNS, day_book_csv, day_rows
from calc.work.plan.planned import PlanWork
from calc.work.plan.volumes import CAUSES, VOLUMES
from calc.work.results import compute


@pytest.fixture(scope="module", params=["metric", "us"])
def told(request):
    """results.json and the rows of the day book."""
    results = compute(load_job(demo_job(request.param)))
    text = day_book_csv(results.part(PlanWork))
    assert "\r" not in text
    return results.data(), list(csv.DictReader(io.StringIO(text)))


def litres(rows, **wanted):
    chosen = [row for row in rows if all(row[key.replace("_", " ")] == value for key, value in wanted.items())]
    return math.fsum(float(row["volume [mL]"]) for row in chosen) / 1000


def test_the_columns_are_as_named(told):
    _, rows = told
    assert tuple(rows[0]) == DAY_COLUMNS
    assert [row["row"] for row in rows] == [str(i + 1) for i in range(len(rows))]
    assert {row["goes to"] for row in rows if float(row["volume [mL]"])} <= {name.words for name in VOLUMES.values()}


def test_packs_and_volumes(told):
    data, rows = told
    totals = data["totals"]
    assert sum(row["what"] == "pack" for row in rows) == totals["packs"]
    assert sum(row["what"] == "mixer" for row in rows) == totals["mixers"]
    for key in ("dose", "discard", "left_in_mixers", "residual", "lost"):
        assert litres(rows, goes_to=VOLUMES[key].words) == pytest.approx(totals[f"{key}_L"], rel=1e-8), key
    # all that was opened is somewhere
    opened = totals["bought_L"] - totals["left_over_L"]
    assert litres(rows) == pytest.approx(opened, rel=1e-8)
    by_cause = {
        "first_discard": litres(rows, goes_to="initial discard", because="with a new pack"),
        "mixer_content": litres(rows, goes_to="left in mixers", because="with a new pack"),
        "pause": litres(rows, because="after a pause"),
        "shift_end": litres(rows, because="after a night"),
        "rest": litres(rows, because=CAUSES["rest"]),
        "part_packs": litres(rows, because=CAUSES["part_packs"]),
        "residual": litres(rows, goes_to=VOLUMES["residual"].words),
    }
    for key, volume in by_cause.items():
        assert volume == pytest.approx(totals[f"waste_{key}_L"], rel=1e-8, abs=1e-9), key


def test_times(told):
    data, rows = told
    totals = data["totals"]
    done = [row for row in rows if row["what"] not in ("break", "night", "at the end")]
    assert max(float(row["to [s]"]) for row in done) == pytest.approx(3600 * totals["finish_h"])
    checks = {check["id"]: check for sheet in data["sheets"] for check in sheet["checks"]}
    wait = 0.0
    for group in data["groups"]:
        bars = [row for row in rows if row["what"] == "set" and row["mark"] == group["mark"]]
        assert len(bars) == group["count"]
        ages = [float(row["to [s]"]) - float(row["oldest adhesive mixed [s]"]) for row in bars]
        times = [float(row["working time [s]"]) for row in bars]
        late = sum(age > allowed * (1 + 1e-9) for age, allowed in zip(ages, times, strict=True))
        assert late == group["bars_late"]
        share, age, allowed = max((a / t, a, t) for a, t in zip(ages, times, strict=True))
        check = checks[f"05.{group['mark']}.working_time"]
        assert (age / 60, allowed / 60) == pytest.approx((check["demand"], check["resistance"]))
        assert share == pytest.approx(check["utilisation"])
        assert min(times) / 60 == pytest.approx(group["working_time_min"])
        cured = [float(row["curing time [s]"]) for row in bars]
        assert max(cured) / 60 == pytest.approx(group["curing_time_min"])
        assert max(float(row["to [s]"]) for row in bars) / 3600 == pytest.approx(group["last_set_h"])
        loaded = max(float(row["to [s]"]) + time for row, time in zip(bars, cured, strict=True)) / 3600
        wait = group["earliest_load_h"] - loaded  # what the job file adds, the same for all groups
        assert wait * 60 == pytest.approx(round(wait * 60), abs=1e-4)


def test_a_plan_without_days_has_no_rows():
    plan = compute(load_job(demo_job("failing"))).part(PlanWork)
    assert plan.timeline is None
    assert day_rows(plan) == []
