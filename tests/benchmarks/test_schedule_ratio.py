"""Speed of reading a schedule, against pydantic's bare validation of the same rows. Not part of the test command."""

import shutil
import time

import pytest
from pydantic import BaseModel, TypeAdapter

ROWS = 100_000
JOB = """\
schema = 1
job = {number = "M-1", revision = "A", title = "Many unlike groups", invented = true}
display = {units = "metric"}
adhesive = {record = "adhesive.toml"}
schedule = {file = "schedule.csv"}
overfill = {share = 0.10, reason = "for a measurement"}
[concrete]
temperature = "15 °C"
[equipment]
pack_volume = "400 mL"
residual = "10 mL"
discard_per_mixer = "20 mL"
graduation = "1 mL"
point_angle = "130 °"
"""
MANY = (1_000, 10_000, 100_000)
HEADER = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"


class Row(BaseModel):
    mark: str
    count: int
    bar: str
    hole_diameter: float
    embedment: float
    overdrill: float | None
    direction: str
    overfill: float | None
    note: str


def best(action, repeat=5):
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def test_a_hundred_thousand_rows(benchmark, tmp_path):
    from calc.files.schedule import read_schedule

    rows = [f"M{i},{i % 90 + 1},16,20,{150 + i % 200},,horizontal,," for i in range(ROWS)]
    path = tmp_path / "schedule.csv"
    path.write_text("\n".join([HEADER, *rows, ""]), encoding="utf-8")
    cells = [
        dict(zip(Row.model_fields, row.split(","), strict=True)) | {"overdrill": None, "overfill": None} for row in rows
    ]
    adapter = TypeAdapter(list[Row])
    bare = best(lambda: adapter.validate_python(cells))
    groups, problems = benchmark.pedantic(lambda: read_schedule(path, name="schedule.csv", point_angle=130.0), rounds=5)
    assert (len(groups), problems) == (ROWS, [])
    ratio = benchmark.stats.stats.min / bare
    print(
        f"\nreading and checking {ROWS} rows of a schedule: {ratio:.2f} times pydantic's bare validation of the same"
        " rows"
    )
    assert ratio <= 3.0


def seconds_for_a_row(folder, rows):
    """Processor time of ``check`` for one row of unlike groups, in a process that has loaded what it takes."""
    from calc.work.load import load_job
    from calc.work.results import compute

    lines = [f"M{i},{i % 7 + 1},16,20,{150 + i % 2000 / 10},,down,," for i in range(rows)]
    (folder / "schedule.csv").write_text("\n".join([HEADER, *lines, ""]), encoding="utf-8")
    start = time.process_time()
    assert len(compute(load_job(folder)).headline) == 3
    return (time.process_time() - start) / rows


def test_check_takes_as_long_for_each_of_many_rows(tmp_path):
    from calc.files.job import demo_job

    shutil.copy(demo_job().parent / "adhesive.toml", tmp_path)
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    seconds_for_a_row(tmp_path, 100)
    each = {rows: min(seconds_for_a_row(tmp_path, rows) for _ in range(3 if rows < 1e5 else 1)) for rows in MANY}
    print("\ncheck, each row: " + ", ".join(f"{time * 1e3:.2f} ms of {rows}" for rows, time in each.items()))
    assert max(each.values()) <= 1.5 * min(each.values())


if __name__ == "__main__":
    pytest.main([__file__, "-s", "-q"])
