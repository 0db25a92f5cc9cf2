"""The timeline's cost grows with the holes and no faster.

Not part of the test command; `bonded-bar-workbook ratios` prints it.
"""

import time

import pytest

from calc.work.days.timeline import simulate
from calc.work.days.workday import DayTemperature, Dispensing, GroupWork, Shift


def seconds(holes, repeat):
    """Best time of a job of groups of 50 holes with breaks, nights, pauses and a temperature that changes."""
    groups = [GroupWork(f"G{i}", 50, 50.0, ((True, 60.0), (False, 30.0)), 15.0, 10.0) for i in range(holes // 50)]
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        result = simulate(
            groups=groups,
            dispensing=Dispensing(
                400.0, residual=12.0, discard_per_mixer=20.0, mixer_content=10.0, pack_change=20.0, mixer_change=10.0
            ),
            working_time=lambda t: 900.0 - 20.0 * t,
            curing_time=lambda t: 36_000.0 - 500.0 * t,
            temperature=DayTemperature([(25_200.0, 8.0), (50_400.0, 18.0)], start=25_200.0),
            shift=Shift(28_800.0, ((10_800.0, 1200.0),)),
            crews=2,
            ahead=20,
            batch=4,
            walk=5.0,
        )
        times.append(time.perf_counter() - start)
    assert result.holes_done == holes
    return min(times)


def test_linear_in_holes(benchmark):
    curve = {100: seconds(100, 15), 1000: seconds(1000, 7)}
    benchmark.pedantic(lambda: seconds(10_000, 1), rounds=3)
    curve[10_000] = benchmark.stats.stats.min
    print()
    for holes, took in curve.items():
        print(
            f"timeline of {holes:6d} holes: {took / holes / (curve[100] / 100):.2f} times as long per hole as with 100"
            " holes"
        )
    # ten times the holes in at most sixteen times the time; quadratic growth would be a hundred
    assert curve[1000] < 16 * curve[100]
    assert curve[10_000] < 16 * curve[1000]


if __name__ == "__main__":
    pytest.main([__file__, "-s", "-q"])
