"""Speed of the plan without a timeline: its cost grows with the groups, not with the holes.

Not part of the test command.
"""

import time

import pytest

GROUPS = 1_000
WAYS = {
    "one shift": {},
    "shifts of 80 holes": {"holes_per_shift": 80},
    "shifts of 77 holes": {"holes_per_shift": 77},
    "shifts of 77 holes, holes split": {"holes_per_shift": 77, "split": True},
}


def seconds(action):
    start = time.process_time()
    action()
    return time.process_time() - start


@pytest.mark.parametrize("way", WAYS)
def test_a_thousand_groups(benchmark, way):
    from calc.work.packs.packs import plan_packs

    def plan(each):
        needs = [(f"G{i}", each, 5_000.0 + 97.0 * i) for i in range(GROUPS)]
        return plan_packs(
            needs=needs,
            pack_volume=4e5,
            residual=1.2e4,
            discard_per_mixer=2e4,
            discard_per_pack=4e3,
            mixer_volume=1.1e4,
            **WAYS[way],
        )

    assert plan(10_000).holes == 10_000_000
    # In turn and in processor time, so that other work on the machine weighs on both alike.
    few, many = zip(*((seconds(lambda: plan(10)), seconds(lambda: plan(10_000))) for _ in range(25)), strict=True)
    benchmark.pedantic(lambda: plan(10_000), rounds=3)
    ratio = min(many) / min(few)
    print(f"\nplan of 1,000 groups with 10 million holes, {way}: {ratio:.2f} times 1,000 groups with 10,000 holes")
    assert ratio <= 2.0


if __name__ == "__main__":
    pytest.main([__file__, "-s", "-q"])
