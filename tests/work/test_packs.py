"""Packs and mixers of a whole job: small cases worked by hand, a walk from hole to hole beside it, and conservation."""

import dataclasses
import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.base.collector import Steps
from calc.base.display import Display
from calc.base.identity import PLAN
from calc.work.packs.need import Need, PlanError
from calc.work.packs.packs import (
    discarded,
    group_steps,
    holes_per_pack,
    left_in_mixers,
    left_in_packs,
    pack_end,
    packs_for_holes,
    packs_for_volume,
    packs_per_hole,
    plan_packs,
    plan_steps,
    to_order,
    yield_with_kept_mixer,
    yield_with_new_mixer,
)
from calc.work.packs.run import PackRun, whole_down, whole_up

ML = 1000.0
# Of 400 mL a pack keeps 15, its mixer costs 20 and holds 10, the pack itself costs 5: 350 mL reach the holes.
PACK = {
    "pack_volume": 400 * ML,
    "residual": 15 * ML,
    "discard_per_mixer": 20 * ML,
    "discard_per_pack": 5 * ML,
    "mixer_volume": 10 * ML,
}


def plan(*needs, **options):
    made = plan_packs(
        needs=[Need(mark, count, dose * ML, over * ML) for mark, count, dose, over in needs], **(PACK | options)
    )
    assert made.bought == pytest.approx(made.in_holes + made.waste.total + made.left_over, rel=1e-9)
    return made


def wasted(made):
    return {name: round(value / ML, 6) for name, value in dataclasses.asdict(made.waste).items()}


# ---- by hand ----


def test_seven_holes_with_residual_and_discard():
    """7 holes of 100 mL: a pack gives 350, so 3 holes; packs serve 3, 3 and 1.

    Twice 50 mL are too little, 250 mL are over at the end.

    Bought 1200 = 700 in holes + 60 + 15 discarded + 30 in mixers + 45 residual + 100 too little + 250 part pack.
    """
    made = plan(("B1", 7, 100, 0))
    assert (made.packs, made.mixers, made.shifts, made.holes) == (3, 3, 1, 7)
    assert made.in_holes == pytest.approx(700 * ML)
    assert wasted(made) == {
        "overflow": 0,
        "discard_mixer": 60,
        "discard_pack": 15,
        "mixer_content": 30,
        "residual": 45,
        "pack_ends": 100,
        "part_packs": 250,
    }
    assert (made.packs_to_order, made.left_over) == (3, 0.0)
    assert [(g.mark, g.holes_per_pack, g.packs_per_hole) for g in made.groups] == [("B1", 3, 1)]


def test_a_pack_that_ends_mid_hole():
    """Two packs give 700 mL: the first ends in the middle of the fourth hole.

    The second is used up exactly by the seventh.
    """
    made = plan(("B1", 7, 100, 0), split=True)
    assert (made.packs, made.mixers) == (2, 2)
    assert wasted(made)["pack_ends"] == 0
    assert wasted(made)["part_packs"] == 0
    # One millilitre more in each hole, 707 mL, takes a third pack, of which 343 mL are left.
    more = plan(("B1", 7, 101, 0), split=True)
    assert more.packs == 3
    assert wasted(more)["part_packs"] == 343


def test_a_shift_end():
    """4 holes a shift: packs serve 3 and 1, then 3.

    50 mL are too little once; 250 and 50 mL are in the part packs of the evenings.
    """
    made = plan(("B1", 7, 100, 0), holes_per_shift=4)
    assert (made.packs, made.mixers, made.shifts) == (3, 3, 2)
    assert (wasted(made)["pack_ends"], wasted(made)["part_packs"]) == (50, 300)
    # 5 holes and 2: packs serve 3 and 2, then 2. In both evenings 150 mL are left.
    listed = plan(("B1", 7, 100, 0), shifts=[5, 2])
    assert (listed.packs, wasted(listed)["pack_ends"], wasted(listed)["part_packs"]) == (3, 50, 300)
    # Finishing holes from the next pack: 500 mL take 2 packs with 200 left, 200 mL take 1 with 150 left.
    split = plan(("B1", 7, 100, 0), holes_per_shift=5, split=True)
    assert (split.packs, wasted(split)["pack_ends"], wasted(split)["part_packs"]) == (3, 0, 350)


def test_a_shift_that_ends_with_the_job_is_one_shift():
    assert plan(("B1", 8, 100, 0), holes_per_shift=4).shifts == 2
    assert plan(("B1", 8, 100, 0), shifts=[8, 5]).shifts == 1


def test_a_mixer_that_stays_for_the_shift():
    """The first pack gives 350, the others 380 mL: 3, 3 and 1 holes; 50 and 80 mL are too little, 280 mL are over.

    One mixer.
    """
    made = plan(("B1", 7, 100, 0), new_mixer_with_pack=False)
    assert (made.packs, made.mixers) == (3, 1)
    assert wasted(made) == {
        "overflow": 0,
        "discard_mixer": 20,
        "discard_pack": 15,
        "mixer_content": 10,
        "residual": 45,
        "pack_ends": 130,
        "part_packs": 280,
    }


def test_a_pack_goes_on_with_the_next_group():
    """2 holes of 100, then 3 of 150.

    The first pack serves 100 + 100 + 150 exactly, the second 150 + 150 with 50 mL over.
    """
    made = plan(("A", 2, 100, 0), ("B", 3, 150, 0))
    assert (made.packs, wasted(made)["pack_ends"], wasted(made)["part_packs"]) == (2, 0, 50)


def test_overflow_is_waste():
    made = plan(("B1", 7, 100, 8))
    assert made.in_holes == pytest.approx(644 * ML)
    assert wasted(made)["overflow"] == 56


def test_the_reserve_is_ordered_and_left_over():
    made = plan(("B1", 7, 100, 0), reserve=0.10)
    assert (made.packs, made.packs_to_order, made.mixers_to_order) == (3, 4, 4)
    assert made.left_over == pytest.approx(400 * ML)
    assert made.bought == pytest.approx(1600 * ML)


def test_a_hole_bigger_than_a_pack():
    """No pack fills it, so it is finished from the next one in any case, and the dose's own check fails."""
    for split in (True, False):
        made = plan(("B6", 2, 900, 0), split=split)  # 1800 mL of 350: 6 packs, 300 mL over
        assert (made.packs, wasted(made)["part_packs"], made.groups[0].packs_per_hole) == (6, 300, 3)
        assert made.groups[0].holes_per_pack == 0
    # the holes of the next group are whole ones again: 3 from the 300 mL that are left, 3 and 1 from packs of 350
    mixed = plan(("B6", 2, 900, 0), ("B1", 7, 100, 0))
    assert (mixed.packs, wasted(mixed)["pack_ends"], wasted(mixed)["part_packs"]) == (8, 50, 250)
    assert worked(plan(("B6", 2, 900, 0)), groups=True) == {"05.B6.n_h": 0.0, "05.B6.n_hole": 3.0, "05.B6.n_p": 6.0}


def test_eight_holes_at_one_hole_a_pack_are_eight_packs():
    assert plan(("B6", 8, 200, 0)).packs == 8
    assert plan(("B6", 8, 200, 0), split=True).packs == 5


def test_doses_that_floats_miss():
    """Three doses of 0.7 mL are a yield of 2.1 mL; 24 strokes of 0.5 fl oz are one of 12 fl oz."""
    assert plan_packs(needs=[("A", 3, 0.7)], pack_volume=2.1, residual=0.0, discard_per_mixer=0.0).packs == 1
    ounce = 29573.5295625
    made = plan_packs(
        needs=[("A", 3, 7 * 0.5 * ounce)], pack_volume=11.9 * ounce, residual=0.6 * ounce, discard_per_mixer=0.8 * ounce
    )
    assert made.packs == 1
    assert made.waste.part_packs == pytest.approx(0.0, abs=1e-6)


def test_totals_for_results():
    """With overflow 8 mL a hole and the case of 7 holes above."""
    assert plan(("B1", 7, 100, 8), reserve=0.10).totals() == pytest.approx(
        {
            "discard_L": 0.075,
            "overflow_L": 0.056,
            "mixer_content_L": 0.03,
            "residual_L": 0.045,
            "pack_ends_L": 0.1,
            "part_packs_L": 0.25,
            "packs": 3,
            "mixers": 3,
            "packs_to_order": 4,
            "mixers_to_order": 4,
            "shifts": 1,
        }
    )


# ---- formulas, each by hand ----


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (yield_with_new_mixer(V_pack=400.0, V_res=15.0, V_disc=20.0, V_disc_p=5.0, V_mix=10.0), 350.0),
        (yield_with_kept_mixer(V_pack=400.0, V_res=15.0, V_disc_p=5.0), 380.0),
        (holes_per_pack(V_max=350.0, V_round=100.0), 3.0),
        (holes_per_pack(V_max=99.9, V_round=100.0), 0.0),
        (holes_per_pack(V_max=2.1, V_round=0.7), 3.0),
        (packs_per_hole(V_round=351.0, V_max=350.0), 2.0),
        (packs_per_hole(V_round=350.0, V_max=350.0), 1.0),
        (packs_for_holes(n_hole=7.0, n_h=3.0), 3.0),
        (packs_for_holes(n_hole=6.0, n_h=3.0), 2.0),
        (packs_for_volume(V_sum=700.0, V_max=350.0), 2.0),
        (packs_for_volume(V_sum=700.1, V_max=350.0), 3.0),
        (pack_end(V_max=350.0, n_h=3.0, V_round=100.0), 50.0),
        (discarded(n_m=3.0, V_disc=20.0, n_p=4.0, V_disc_p=5.0), 80.0),
        (left_in_packs(n_p=3.0, V_res=15.0), 45.0),
        (left_in_mixers(n_m=3.0, V_mix=10.0), 30.0),
        (to_order(n_use=20.0, reserve=0.10), 22.0),
        (to_order(n_use=21.0, reserve=0.10), 24.0),
        (to_order(n_use=21.0, reserve=0.0), 21.0),
    ],
)
def test_formulas(value, expected):
    assert value == expected


def worked(made, units="metric", groups=False):
    book = Steps(PLAN, None, Display(units))
    if groups:
        group_steps(book, made)
    else:
        plan_steps(book, made)
    return {step.id: step.value for step in book.steps}


def test_steps_carry_the_plan():
    made = plan(("B1", 7, 100, 0), reserve=0.10, new_mixer_with_pack=False)
    steps = worked(made)
    waste = made.waste
    assert steps == {
        "05.job.yield": made.first_yield,
        "05.job.yield_kept": made.later_yield,
        "05.job.discard": waste.discard_mixer + waste.discard_pack,
        "05.job.residual": waste.residual,
        "05.job.mixers": waste.mixer_content,
        "05.job.order_packs": made.packs_to_order,
        "05.job.order_mixers": made.mixers_to_order,
    }
    assert "05.job.yield_kept" not in worked(plan(("B1", 7, 100, 0)), "us")


@given(
    st.one_of(
        st.tuples(st.floats(0.0, 1e6), st.floats(0.1, 1e5)),
        st.tuples(st.integers(0, 10**6), st.integers(1, 1000)).map(lambda p: (p[0] * 0.7, p[1] * 0.7)),
    )
)
def test_counting_rounds_as_the_formulas_do(pair):
    most, dose = pair
    assert whole_down(most / dose) == holes_per_pack(V_max=most, V_round=dose)
    assert whole_up(most / dose) == packs_for_volume(V_sum=most, V_max=dose)


@given(st.integers(1, 10**7), st.integers(1, 10**4))
def test_whole_packs_are_counted_exactly(count, whole):
    assert -(-count // whole) == packs_for_holes(n_hole=float(count), n_h=float(whole))


def test_the_steps_of_a_group_done_alone_are_its_plan():
    whole, split = plan(("B1", 7, 100, 0)), plan(("B1", 7, 101, 0), split=True)
    steps = worked(whole, groups=True)
    assert steps == {"05.B1.n_h": 3.0, "05.B1.n_hole": 1.0, "05.B1.V_end": 50 * ML, "05.B1.n_p": whole.packs}
    assert whole.waste.pack_ends == (whole.packs - 1) * steps["05.B1.V_end"]
    assert worked(split, "us", groups=True) == {
        "05.B1.n_h": 3.0,
        "05.B1.n_hole": 1.0,
        "05.B1.n_p": split.packs,
    }


# ---- from hole to hole, exactly, without any of the code's shortcuts ----


def walk(groups, pack, residual, mixer, per_pack, content, sizes, split, renew):
    """Return packs, mixers, shifts, pack ends and part packs."""
    n_packs = n_mixers = n_shifts = 0
    ends = parts = Fraction(0)
    left, mixed, room = None, False, next(sizes)

    def open_pack():
        nonlocal n_packs, n_mixers, mixed
        n_packs += 1
        gives = Fraction(pack) - residual - per_pack
        if renew or not mixed:
            n_mixers, mixed = n_mixers + 1, True
            gives -= mixer + content
        return gives

    for count, dose in groups:
        for _ in range(count):
            if room == 0:
                parts, left, mixed, n_shifts, room = parts + left, None, False, n_shifts + 1, next(sizes)
            need = Fraction(dose)
            if left is None:
                left = open_pack()
            while left < need:
                if split:
                    need -= left
                else:
                    ends += left
                left = open_pack()
            left, room = left - need, room - 1
    return n_packs, n_mixers, n_shifts + 1, ends, parts + left


def endless(size):
    while True:
        yield size


jobs = st.fixed_dictionaries(
    {
        "groups": st.lists(st.tuples(st.integers(1, 60), st.integers(1, 250)), min_size=1, max_size=6),
        "residual": st.integers(0, 40),
        "mixer": st.integers(0, 40),
        "per_pack": st.integers(0, 30),
        "content": st.integers(0, 40),
        "size": st.one_of(st.none(), st.integers(1, 40)),
        "split": st.booleans(),
        "renew": st.booleans(),
    }
)


@given(jobs)
def test_the_count_is_that_of_a_walk_from_hole_to_hole(job):
    size = job["size"]
    made = plan_packs(
        needs=[(f"G{i}", count, float(dose)) for i, (count, dose) in enumerate(job["groups"])],
        pack_volume=400.0,
        residual=job["residual"],
        discard_per_mixer=job["mixer"],
        discard_per_pack=job["per_pack"],
        mixer_volume=job["content"],
        holes_per_shift=size,
        split=job["split"],
        new_mixer_with_pack=job["renew"],
    )
    sizes = endless(math.inf if size is None else size)
    found = walk(
        job["groups"],
        400,
        job["residual"],
        job["mixer"],
        job["per_pack"],
        job["content"],
        sizes,
        job["split"],
        job["renew"],
    )
    assert (made.packs, made.mixers, made.shifts) == found[:3]
    assert (made.waste.pack_ends, made.waste.part_packs) == pytest.approx((float(found[3]), float(found[4])), abs=1e-9)


@given(jobs)
def test_listed_shifts_are_counted_as_equal_ones(job):
    size = job["size"] or 7
    needs = [(f"G{i}", count, float(dose)) for i, (count, dose) in enumerate(job["groups"])]
    total = sum(count for count, _ in job["groups"])
    same = {
        "needs": needs,
        "pack_volume": 400.0,
        "residual": 15.0,
        "discard_per_mixer": 20.0,
        "split": job["split"],
        "new_mixer_with_pack": job["renew"],
    }
    one, other = plan_packs(**same, holes_per_shift=size), plan_packs(**same, shifts=[size] * (-(-total // size)))
    assert (one.packs, one.mixers, one.shifts) == (other.packs, other.mixers, other.shifts)
    assert one.waste.total == pytest.approx(other.waste.total, rel=1e-12)


@given(
    needs=st.lists(
        st.tuples(st.integers(1, 5_000_000), st.floats(10.0, 2.5e5), st.floats(0.0, 1.0)), min_size=1, max_size=8
    ),
    volumes=st.tuples(
        st.floats(3.5e5, 2e6), st.floats(0, 2e4), st.floats(0, 3e4), st.floats(0, 2e4), st.floats(0, 2e4)
    ),
    size=st.one_of(st.none(), st.integers(1, 500)),
    split=st.booleans(),
    renew=st.booleans(),
    reserve=st.floats(0.0, 0.5),
)
def test_bought_is_in_holes_and_wasted_and_left_over(needs, volumes, size, split, renew, reserve):
    names = ("pack_volume", "residual", "discard_per_mixer", "discard_per_pack", "mixer_volume")
    made = plan_packs(
        needs=[(f"G{i}", count, dose, dose * share) for i, (count, dose, share) in enumerate(needs)],
        holes_per_shift=size,
        split=split,
        new_mixer_with_pack=renew,
        reserve=reserve,
        **dict(zip(names, volumes, strict=True)),
    )
    assert made.in_holes + made.waste.total + made.left_over == pytest.approx(made.bought, rel=3e-9)
    assert made.bought == made.packs_to_order * made.pack_volume
    assert all(value >= 0 for value in dataclasses.asdict(made.waste).values())
    assert made.left_over >= 0
    assert made.mixers == (made.packs if renew else made.shifts)
    assert made.shifts == (1 if size is None else -(-made.holes // size))


@given(jobs)
def test_splitting_and_keeping_the_mixer_never_cost_a_pack(job):
    same = {
        "needs": [(f"G{i}", c, float(d)) for i, (c, d) in enumerate(job["groups"])],
        "pack_volume": 400.0,
        "residual": 15.0,
        "discard_per_mixer": 20.0,
    }
    same |= {"mixer_volume": 9.0, "holes_per_shift": job["size"]}
    most = plan_packs(**same).packs
    assert plan_packs(**same, split=True).packs <= most
    assert plan_packs(**same, new_mixer_with_pack=False).packs <= most


@pytest.mark.parametrize(
    "options", [{}, {"holes_per_shift": 80}, {"holes_per_shift": 77}, {"holes_per_shift": 77, "split": True}]
)
def test_the_work_grows_with_groups_and_not_with_holes(monkeypatch, options):
    calls = []
    use = PackRun.use
    monkeypatch.setattr(PackRun, "use", lambda run, count, dose: (calls.append(count), use(run, count, dose)))
    plan(*((f"G{i}", 10_000, 20 + i % 90, 0) for i in range(200)), **options)
    assert len(calls) <= 3 * 200 + 1


# ---- what is refused ----


@pytest.mark.parametrize(
    ("needs", "options", "words"),
    [
        ([], {}, "no group; accepted"),
        ([("A", 0, 100.0)], {}, "group A has 0 holes; accepted: a whole number from 1"),
        ([("A", 1.5, 100.0)], {}, "group A has 1.5 holes"),
        ([("A", True, 100.0)], {}, "accepted: a whole number from 1"),
        ([("A", 1, 0.0)], {}, "dose of 0 mm³"),
        ([("A", 1, math.nan)], {}, "dose of nan mm³"),
        ([("A", 1, math.inf)], {"split": True}, "dose of inf mm³"),
        ([("A", 1, 100.0, 101.0)], {}, "overflow of 101 mm³; accepted: from 0 to its dose, 100 mm³"),
        ([("A", 1, 100.0, -1.0)], {}, "overflow of -1 mm³"),
        ([("A", 1, 100.0)], {"pack_volume": 0.0}, "pack_volume is 0 mm³"),
        ([("A", 1, 100.0)], {"pack_volume": math.nan}, "pack_volume is nan mm³"),
        ([("A", 1, 100.0)], {"residual": -1.0}, "residual is -1 mm³; accepted"),
        ([("A", 1, 100.0)], {"mixer_volume": math.inf}, "mixer_volume is inf mm³"),
        ([("A", 1, 100.0)], {"mixer_volume": 360 * ML}, "a pack of 400 mL loses 400 mL to residual, discard_per_mixer"),
        ([("A", 1, 100.0)], {"reserve": -0.1}, "reserve is -0.1; accepted: from 0 to 10"),
        ([("A", 1, 100.0)], {"reserve": math.nan}, "reserve is nan"),
        ([("A", 1, 100.0)], {"holes_per_shift": 0}, "holes_per_shift is 0; accepted: a whole number of holes from 1"),
        ([("A", 1, 100.0)], {"holes_per_shift": 2.5}, "holes_per_shift is 2.5"),
        (
            [("A", 5, 100.0)],
            {"shifts": [2, 2]},
            "the 2 shifts hold 4 holes and the job has 5; accepted: shifts that hold every hole",
        ),
        ([("A", 5, 100.0)], {"shifts": [5, 0]}, "shift 2 has 0 holes"),
        ([("A", 5, 100.0)], {"shifts": []}, "the 0 shifts hold 0 holes"),
        ([("A", 5, 100.0)], {"shifts": [5], "holes_per_shift": 5}, "both given; accepted: one of them"),
    ],
)
def test_refused(needs, options, words):
    with pytest.raises(PlanError) as caught:
        plan_packs(needs=needs, **(PACK | options))
    assert words in str(caught.value)
    assert "accepted" in str(caught.value)


def test_a_hole_of_exactly_one_pack_passes_and_just_above_does_not():
    assert plan(("A", 3, 350, 0)).packs == 3
    (above,) = plan(("A", 3, 350.001, 0)).groups
    assert (above.holes_per_pack, above.packs_per_hole) == (0, 2)
