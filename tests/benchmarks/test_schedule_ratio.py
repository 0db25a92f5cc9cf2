"""Speed of reading a schedule, against pydantic's bare validation of the same rows. Not part of the test command."""

import time

import pytest
from pydantic import BaseModel, TypeAdapter

ROWS = 100_000
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


if __name__ == "__main__":
    pytest.main([__file__, "-s", "-q"])
