"""The simulated days: hand-worked small cases, the closed form where nothing pauses.

And the books that must balance.
"""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jobparts import site_of

from calc.base.errors import NotAccepted
from calc.work.days.crew import ASIDE, BREAK, CAUSES, DRILL, INJECT, KINDS, MIXER, NIGHT, PACK, SET, WAIT
from calc.work.days.daybook import fitting_batch, longest_age
from calc.work.days.timeline import (
    clock,
    dispensing_of,
    shift_of,
    simulate,
    simulate_site,
    temperature_of,
    work_of,
    working_time_check,
)
from calc.work.days.workday import Calendar, DayTemperature, Dispensing, GroupWork, Shift, TimelineError

DAY = 86_400.0
CONSTANT = DayTemperature([(0.0, 15.0)])
PACKS = Dispensing(pack_volume=400.0, residual=12.0, discard_per_mixer=20.0, mixer_content=10.0)


def group(holes=7, *, mark="A", dose=100.0, drill=60.0, clean=30.0, inject=20.0, set_=10.0):
    return GroupWork(mark, holes, dose, ((True, drill), (False, clean)), inject, set_)


def run(*groups, working=1e6, **settings):
    given_ = {"dispensing": PACKS, "temperature": CONSTANT, "working_time": lambda _: working} | settings
    return simulate(groups=groups, **given_)


def waste(result):
    """Volume that went into no hole, by cause; what is in packs that are open at the end is not in it."""
    return {name: result.volume_of(range(len(KINDS)), (i,)) for i, name in enumerate(CAUSES)}


def still_in_packs(result, residual=PACKS.residual):
    """What is in the packs that are open at the end."""
    return sum(value + residual for value in result.open_packs.values())


def balance(result, dispensing=PACKS):
    bought = result.packs * dispensing.pack_volume
    return bought - result.in_holes - sum(waste(result).values()) - still_in_packs(result, dispensing.residual)


def rows(result, kind):
    chosen = result.kind == kind
    return list(
        zip(
            result.start[chosen].tolist(),
            result.end[chosen].tolist(),
            result.hole[chosen].tolist(),
            result.volume[chosen].tolist(),
            strict=True,
        )
    )


# ---- packs and mixers by hand ----


def test_seven_holes_by_hand():
    dispensing = Dispensing(
        400.0, residual=12.0, discard_per_mixer=20.0, mixer_content=10.0, pack_change=25.0, mixer_change=35.0
    )
    result = run(group(), dispensing=dispensing, walk=5.0)
    # 400 - 12 - 20 - 10 = 358 from a pack: 700 takes two, and 16 can still be had from the second
    assert (result.packs, result.mixers) == (2, 2)
    assert result.in_holes == pytest.approx(700.0)
    assert waste(result) == pytest.approx(
        {
            "first discard": 40.0,
            "mixer content": 20.0,
            "pause": 0.0,
            "shift end": 0.0,
            "residual": 12.0,
            "rest too small": 0.0,
        }
    )
    assert result.open_packs == {0: pytest.approx(16.0)}
    # 7 x (5 + 60 + 30), 7 x (5 + 20 + 10), two changes of 25 + 35
    assert result.finish == pytest.approx(7 * 95 + 7 * 35 + 120)
    assert result.complete
    assert result.days == 1
    # the first pack is in place after its 25 s, once all holes are drilled and the crew has walked to the first
    assert result.packs_at[0] == pytest.approx(7 * 95 + 5 + 25)
    assert result.mixers_at[0] == pytest.approx(7 * 95 + 5 + 60)


def test_a_pack_that_ends_in_the_middle_of_a_hole():
    dispensing = Dispensing(
        400.0, residual=12.0, discard_per_mixer=20.0, mixer_content=10.0, pack_change=25.0, mixer_change=35.0
    )
    result = run(group(), dispensing=dispensing)
    fourth = [(start, end, volume) for start, end, hole, volume in rows(result, INJECT) if hole == 3]
    # three holes took 300 of 358: 58 go in, the pack is changed in 60 s, 42 follow; 20 s for 100
    begin = 7 * 90 + 60 + 3 * 30
    assert fourth == [
        pytest.approx((begin, begin + 11.6, 58.0)),
        pytest.approx((begin + 71.6, begin + 80.0, 42.0)),
    ]
    # so that bar waits for the change too: 20 + 60 + 10, and its first tenth went into the mixer at the end of the hole
    # before, 2 + 10 earlier
    assert result.groups[0].longest_wait == pytest.approx(102.0)


def test_where_no_hole_may_be_filled_from_two_packs():
    """Of 358 a pack fills three holes of 100 and puts 58 aside: 3, 3 and 1 of seven, and 258 are left."""
    dispensing = dataclasses.replace(PACKS, split=False, pack_change=25.0, mixer_change=35.0)
    result = run(group(), dispensing=dispensing)
    assert (result.packs, result.mixers) == (3, 3)
    assert waste(result)["rest too small"] == pytest.approx(2 * 58.0)
    assert result.open_packs == {0: pytest.approx(258.0)}
    assert [volume for *_, volume in rows(result, INJECT)] == [100.0] * 7
    assert balance(result, dispensing) == pytest.approx(0.0, abs=1e-9)
    # no change falls within a hole: the longest wait is that of a hole whose first tenth stood in the mixer
    assert result.groups[0].longest_wait == pytest.approx(2.0 + 10.0 + 20.0 + 10.0)


def test_one_hole_of_a_pack_takes_as_many_packs_as_holes_and_over_a_night():
    dispensing = dataclasses.replace(PACKS, split=False)
    big = group(8, dose=200.0, drill=300.0, inject=60.0, set_=60.0)
    assert run(big, dispensing=dispensing).packs == 8
    assert run(big).packs == 5
    # a shift of an hour ends after eight holes; a part pack that is kept has too little for a ninth hole
    night = run(dataclasses.replace(big, holes=9), dispensing=dispensing, ahead=1, shift=Shift(3600.0))
    assert (night.packs, night.days) == (9, 2)
    assert balance(night, dispensing) == pytest.approx(0.0, abs=1e-9)


def test_a_new_mixer_may_leave_too_little_for_a_whole_hole():
    """After the night 358 less 2 holes of 110 are 138, of which a new mixer takes 30: 108 are no hole of 110."""
    kept = dataclasses.replace(PACKS, split=False, keep_part_packs=True)
    work = group(3, dose=110.0, drill=1200.0, clean=0.0, inject=60.0, set_=60.0)
    result = run(work, working=1e4, ahead=1, shift=Shift(2700.0), dispensing=kept)
    assert (result.packs, result.mixers) == (2, 2)
    assert waste(result)["rest too small"] == pytest.approx(138.0)
    assert balance(result, kept) == pytest.approx(0.0, abs=1e-9)


def test_a_pack_that_ends_with_a_hole_opens_no_other():
    result = run(group(2, dose=179.0))
    assert result.packs == 1
    assert result.open_packs == {0: pytest.approx(0.0, abs=1e-9)}
    # doses that floats do not add up to the pack
    tenths = run(group(10, dose=0.1), dispensing=Dispensing(1.0))
    assert tenths.packs == 1


def test_a_hole_that_takes_several_packs():
    result = run(group(1, dose=1000.0))
    assert result.packs == 3  # 1000 / 358
    assert balance(result) == pytest.approx(0.0, abs=1e-9)


def test_a_mixer_that_is_moved_to_the_next_pack():
    dispensing = Dispensing(
        400.0, residual=12.0, discard_per_pack=8.0, discard_per_mixer=20.0, mixer_content=10.0, mixer_per_pack=False
    )
    result = run(group(), dispensing=dispensing)
    # 350 from the first, 380 from the second
    assert (result.packs, result.mixers) == (2, 1)
    assert waste(result)["first discard"] == pytest.approx(8 + 20 + 8)
    assert still_in_packs(result) == pytest.approx(350 + 380 - 700 + 12)


# ---- pauses ----


@pytest.mark.parametrize(("minutes", "mixers", "lost"), [(-1, 1, 0.0), (0, 1, 0.0), (1, 2, 30.0)])
def test_a_pause_about_the_working_time(minutes, mixers, lost):
    # one hole at a time: what stands in the mixer went in during the last 3 s; then setting (60 s) and preparing the
    # next hole,
    # its injection (30 s) and setting (60 s): 153 s and the drilling are to be within 600 s
    work = group(2, drill=600.0 - 153.0 + 60.0 * minutes, clean=0.0, inject=30.0, set_=60.0)
    result = run(work, working=600.0, ahead=1)
    assert (result.packs, result.mixers) == (1, mixers)
    assert waste(result)["pause"] == pytest.approx(lost)
    assert waste(result)["first discard"] + waste(result)["mixer content"] == 30.0
    assert result.groups[0].late == 0
    assert balance(result) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("length", "lost"), [(390.0, 0.0), (391.0, 30.0)])
def test_a_break_is_a_pause(length, lost):
    # 30 + 70 s a hole: the tenth bar is set when the break is due at 1000 s
    work = group(12, dose=10.0, drill=0.0, clean=0.0, inject=30.0, set_=70.0)
    result = run(work, working=590.0, shift=Shift(DAY, ((1000.0, length),)))
    assert [(start, end) for start, end, _, _ in rows(result, BREAK)] == [(1000.0, 1000.0 + length)]
    # the mixer holds a dose: what was mixed from 900 s on would be home at 1100 s and the break's length, 200 s and
    # that after it was mixed
    assert waste(result)["pause"] == pytest.approx(lost)
    assert result.finish == pytest.approx(1200.0 + length)


def test_what_is_in_hand_is_finished_before_a_break():
    work = group(3, drill=100.0, clean=0.0, inject=10.0, set_=10.0)
    result = run(work, ahead=1, batch=1, shift=Shift(DAY, ((50.0, 600.0),)))
    assert [(start, end) for start, end, _, _ in rows(result, BREAK)] == [(100.0, 700.0)]
    assert result.finish == pytest.approx(3 * 120 + 600)


def test_a_rest_too_small_for_a_new_mixer_is_put_aside():
    # 358 - 340 = 18 is less than the 30 that a new mixer takes
    work = group(2, dose=340.0, drill=700.0, clean=0.0)
    result = run(work, working=600.0, ahead=1)
    assert (result.packs, result.mixers) == (2, 2)
    assert waste(result)["rest too small"] == pytest.approx(18.0)
    assert waste(result)["pause"] == 0.0
    assert balance(result) == pytest.approx(0.0, abs=1e-9)


def test_the_warmest_hour_of_a_pause_counts():
    warm = DayTemperature([(0.0, 10.0), (3600.0, 20.0), (7200.0, 10.0)])
    assert warm.warmest(0.0, 7200.0) == 20.0
    assert warm.coldest(1800.0, 5400.0) == 15.0
    # a pause from 1830 to 5400 s, at 15 °C at both ends and 20 °C between
    work = [
        group(1, drill=1800.0, clean=0.0, inject=30.0, set_=30.0),
        group(1, drill=3540.0, clean=0.0, inject=30.0, set_=30.0),
    ]

    def working(temperature):
        return 4000.0 if temperature <= 18 else 1000.0

    assert run(*work, temperature=warm, working_time=working).mixers == 2
    assert run(*work, temperature=CONSTANT, working_time=working).mixers == 1


def test_the_warmest_moment_between_injection_and_setting_counts():
    warm = DayTemperature([(0.0, 10.0), (300.0, 20.0), (600.0, 10.0)])
    work = group(1, drill=0.0, clean=0.0, inject=300.0, set_=300.0)
    told = run(work, temperature=warm, working_time=lambda t: 900.0 - 20.0 * t).groups[0]
    assert (told.wait, told.allowed, told.late) == (600.0, 500.0, 1)


# ---- the end of the shift ----


@pytest.mark.parametrize(
    ("keep", "packs", "shift_end", "kept"), [(False, 2, 278.0, 348.0 + 12.0), (True, 1, 30.0, 238.0 + 12.0)]
)
def test_a_shift_end_by_hand(keep, packs, shift_end, kept):
    # 420 s a hole: eight are done after 3360 s; the ninth is drilled until 3660 s, a minute over, and injected next
    # morning
    dispensing = Dispensing(400.0, residual=12.0, discard_per_mixer=20.0, mixer_content=10.0, keep_part_packs=keep)
    work = group(9, dose=10.0, drill=300.0, clean=0.0, inject=60.0, set_=60.0)
    result = run(work, working=600.0, ahead=1, shift=Shift(3600.0), dispensing=dispensing)
    assert [(start, end) for start, end, _, _ in rows(result, NIGHT)] == [(3660.0, DAY)]
    assert result.finish == DAY + 120.0
    assert result.days == 2
    assert result.overtime == pytest.approx(60.0)
    assert (result.packs, result.mixers) == (packs, 2)
    # a pack that is put aside has given 80 of 358; one that is kept loses a mixer's 30
    assert waste(result)["shift end"] == pytest.approx(shift_end)
    assert still_in_packs(result) == pytest.approx(kept)
    assert balance(result) == pytest.approx(0.0, abs=1e-9)


def test_days_that_differ_and_their_nights():
    """A warm day and then cold ones: 15 °C at 07:00 of day 1, 5 °C at 07:00 of every later one."""
    course = DayTemperature([(25_200.0, 15.0)], start=25_200.0, later=[[(25_200.0, 5.0)]], lows=[None, 1.0])
    assert [course.at(t) for t in (0.0, DAY / 2, DAY, 1.5 * DAY, 9 * DAY)] == [15.0, 10.0, 5.0, 5.0, 5.0]
    assert course.at(-3600.0) == 15.0  # the night before the first day is like the first day
    assert course.coldest(0.0, DAY / 2) == 10.0
    # the night after day 1 is told by the points, those after it have a lowest of their own
    assert (course.coldest(0.0, DAY), course.coldest(0.0, DAY + 1.0), course.coldest(8 * DAY, 9.5 * DAY)) == (5, 1, 1)
    assert (course.warmest(0.0, 3 * DAY), course.warmest(DAY, 3 * DAY)) == (15.0, 5.0)


def test_a_night_counts_from_the_last_point_of_a_day_to_the_first_of_the_next():
    course = DayTemperature([(28_800.0, 9.0), (72_000.0, 9.0)], lows=[2.0])  # 08:00 and 20:00
    assert [course.coldest(*(h * 3600.0 for h in span)) for span in ((8, 20), (8, 20.5), (7, 9), (2, 3))] == [
        9,
        2,
        2,
        2,
    ]
    assert course.warmest(0.0, DAY) == 9.0


@given(
    begin=st.floats(0.0, 5 * DAY),
    length=st.floats(0.0, 30 * DAY),
    values=st.lists(st.floats(-5.0, 30.0), min_size=2, max_size=3),
)
def test_spans_over_days_hold_what_is_met_within_them(begin, length, values):
    course = DayTemperature(
        [(21_600.0, values[0])], start=25_200.0, later=[[(21_600.0, value)] for value in values[1:]]
    )
    met = [course.at(begin + length * i / 200) for i in range(201)]
    assert course.coldest(begin, begin + length) <= min(met) + 1e-9
    assert course.warmest(begin, begin + length) >= max(met) - 1e-9


def test_a_group_waits_for_its_day_and_nobody_works_on_days_between():
    first = group(2, mark="A")
    second = dataclasses.replace(group(2, mark="B"), day=4)
    result = run(first, second, shift=Shift(3600.0), calendar=Calendar((0, 4)))
    assert [told.first_injected // DAY for told in result.groups] == [0, 4]
    assert result.groups[1].last_set == pytest.approx(4 * DAY + 2 * 90 + 2 * 30)
    # what does not fit on the first day goes on on the next day of work
    long = run(group(50, mark="A"), shift=Shift(3600.0), calendar=Calendar((0, 4)), ahead=1)
    days = {start // DAY for start, *_ in rows(long, SET)}
    assert days == {0, 4}
    assert balance(long) == pytest.approx(0.0, abs=1e-9)


def test_a_hot_evening_need_not_be_in_the_table():
    # 15 °C while there is work, 45 °C at midnight; the mixer is lost to the night whatever the table says of 45 °C
    evening = DayTemperature([(0.0, 45.0), (6 * 3600.0, 15.0), (10 * 3600.0, 15.0)], start=7 * 3600.0)

    def working(temperature):
        if temperature > 35:
            raise ValueError("outside the table")
        return 600.0

    result = run(
        group(2, drill=3000.0, clean=0.0), temperature=evening, working_time=working, ahead=1, shift=Shift(3600.0)
    )
    assert (result.days, result.packs) == (2, 2)


def test_work_that_runs_through_the_night():
    # the shift is an hour; the first hole takes 30 h, so the crew comes back at the third day's start
    result = run(group(2, drill=30 * 3600.0, clean=0.0), ahead=2, shift=Shift(3600.0))
    assert next((start, end) for start, end, _, _ in rows(result, NIGHT)) == (30 * 3600.0, 2 * DAY)
    assert rows(result, DRILL)[1][0] == 2 * DAY


def test_a_pause_on_the_second_day_is_a_pause():
    # one pack, kept overnight: the first mixer of the second day is lost to the night, the second to a pause of 720 s
    dispensing = Dispensing(1000.0, discard_per_mixer=20.0, keep_part_packs=True)
    work = [
        group(1, dose=1.0, drill=3600.0, clean=0.0),
        group(2, dose=1.0, drill=700.0, clean=0.0, inject=10.0, set_=20.0),
    ]
    result = run(*work, working=600.0, ahead=1, shift=Shift(3610.0), dispensing=dispensing)
    assert (result.days, result.packs, result.mixers) == (2, 1, 3)
    assert (waste(result)["shift end"], waste(result)["pause"], waste(result)["first discard"]) == pytest.approx(
        (20.0, 20.0, 20.0)
    )


def test_overtime_of_the_last_day():
    result = run(group(1, drill=3000.0, clean=0.0, inject=300.0, set_=400.0), shift=Shift(3600.0))
    assert result.days == 1
    assert result.overtime == pytest.approx(100.0)


def test_no_night_without_a_shift():
    result = run(group(40, drill=3600.0, clean=0.0), working=1e7)
    assert result.finish > DAY
    assert not rows(result, NIGHT)
    assert waste(result)["shift end"] == 0.0


def test_breaks_come_every_day():
    result = run(group(30, drill=600.0, clean=0.0), shift=Shift(7200.0, ((3600.0, 600.0),)))
    nights = {start // DAY for start, _, _, _ in rows(result, NIGHT)}
    breaks = [start // DAY for start, _, _, _ in rows(result, BREAK)]
    assert len(breaks) >= len(nights) >= 2
    assert len(breaks) == len(set(breaks))
    assert result.days == len(nights) + 1


# ---- bars that are late ----


def test_late_bars_by_hand():
    # ten holes at 60 s, then bars at 30 s: the first waits 630 s, the second exactly 600 s
    work, plain = group(10, dose=1.0, inject=60.0, set_=30.0), Dispensing(1000.0)
    result = run(work, working=600.0, batch=10, dispensing=plain)
    [told] = result.groups
    assert told.late == 1
    assert told.longest_wait == told.wait == pytest.approx(630.0)
    assert told.allowed == 600.0
    assert told.batch_that_would_do == 9
    better = run(work, working=600.0, batch=9, dispensing=plain).groups[0]
    assert (better.late, better.batch_that_would_do) == (0, None)
    assert better.wait == pytest.approx(570.0)


def test_no_batch_would_do():
    told = run(group(3, inject=500.0, set_=200.0), working=600.0, batch=3).groups[0]
    assert told.late == 3
    assert told.batch_that_would_do == 0
    assert "no batch is small enough" in working_time_check(told).advice


def test_the_check():
    work = group(10, dose=1.0, inject=60.0, set_=30.0)
    failed, passed = (
        working_time_check(run(work, working=600.0, batch=batch, dispensing=Dispensing(1000.0)).groups[0])
        for batch in (10, 9)
    )
    assert (failed.passes, failed.demand, failed.resistance) == (False, pytest.approx(10.5), 10.0)
    assert failed.utilisation == pytest.approx(1.05)
    assert failed.advice == "1 of 10 bars are late with a batch of 10: inject no more than 9 before their bars are set"
    assert (passed.passes, passed.advice) == (True, "")
    nothing = working_time_check(run(work, cancel=lambda: True).groups[0])
    assert not nothing.passes
    assert nothing.utilisation is None


def test_a_bar_exactly_at_the_working_time_passes():
    # 0.1 s and 0.2 s add up to a little more than 0.3 s in floats
    told = run(
        group(40, drill=0.7, clean=0.0, inject=0.1, set_=0.2), working=0.3, batch=1, dispensing=Dispensing(1e6)
    ).groups[0]
    assert told.late == 0
    check = working_time_check(told)
    assert check.passes
    assert check.utilisation == pytest.approx(1.0, abs=1e-9)


# ---- adhesive that ages in the mixer ----


LASTS = Dispensing(1e6, mixer_content=11.0)


def ageing(holes, *, batch, working=600.0, dose=110.0, inject=60.0, set_=60.0, drill=0.0, **settings):
    """One group, a mixer of 11, a pack that lasts."""
    work = group(holes, dose=dose, drill=drill, clean=0.0, inject=inject, set_=set_)
    return run(work, working=working, batch=batch, dispensing=LASTS, **settings)


def test_the_first_adhesive_of_the_second_batch_is_old():
    # six holes from 0 to 6 min, six bars from 6 to 12 min; hole 7 from 12 to 13 min, its bar home at 19 min.
    # What comes out first there went in when 11 of 110 were missing from hole 6, 0.1 min before the sixth minute: 13.1
    # min old
    result = ageing(12, batch=6)
    [told] = result.groups
    assert told.longest_wait == told.wait == pytest.approx(13.1 * 60)
    # bar 1: 7 min; bars 2 to 6 as well; bar 8 is home at 20 min, and what fills its hole went in from 12.9 min on: 7.1
    # min
    assert told.late == 1
    assert result.mixers == 1
    # 2 n + 1.1 min is within 10 min up to four
    assert told.batch_that_would_do == 4
    check = working_time_check(told)
    assert not check.passes
    assert check.demand == pytest.approx(13.1)
    assert ageing(12, batch=4).groups[0].longest_wait == pytest.approx(9.1 * 60)


def test_small_doses_take_what_was_mixed_several_holes_before():
    # a mixer of 11 and doses of 4: at hole 4 the first has been mixed a quarter through hole 1 (12 - 11 = 1 of 4)
    told = ageing(4, batch=4, dose=4.0, working=1e6).groups[0]
    # holes 1 to 3 get what was mixed before the first injection; bar 3 is home at 4 + 3 min
    assert told.longest_wait == pytest.approx(max(7.0, 8.0 - 0.25) * 60)


def test_a_mixer_that_is_said_to_hold_nothing_counts_from_injection():
    told = run(
        group(12, dose=110.0, drill=0.0, clean=0.0, inject=60.0, set_=60.0), batch=6, dispensing=Dispensing(1e6)
    ).groups[0]
    assert told.longest_wait == pytest.approx(7 * 60)


@pytest.mark.parametrize(("drill", "mixers", "wait"), [(300.0, 1, 7.1), (480.0, 2, 2.0)])
def test_after_a_pause_the_crew_looks_at_the_clock(drill, mixers, wait):
    # one hole at a time: mixed until 1 min, bar home at 2 min, the next hole drilled and its bar home 2 min later.
    # 5 min of drilling: 0.1 + 1 + 5 + 2 min is 8.1; 8 min would be 11.1 and too much, so the mixer is replaced,
    # although it stood 9 min only
    result = ageing(2, batch=1, drill=drill, ahead=1)
    assert result.mixers == mixers
    assert waste(result)["pause"] == pytest.approx(11.0 * (mixers - 1))
    assert result.groups[0].late == 0
    assert result.groups[0].longest_wait == pytest.approx((8.1 if mixers == 1 else wait) * 60)
    assert balance(result, LASTS) == pytest.approx(0.0, abs=1e-6)


def test_late_by_a_change_of_pack_is_not_blamed_on_the_batch():
    told = run(group(2, inject=60.0, set_=60.0), working=600.0, batch=2).groups[0]
    late = dataclasses.replace(told, late=1, batch_that_would_do=2, wait=700.0, allowed=600.0)
    assert "a pause or a change of pack" in working_time_check(late).advice


@given(
    inject=st.integers(1, 200).map(float),
    set_=st.integers(1, 200).map(float),
    walk=st.integers(0, 60).map(float),
    batch=st.integers(1, 7),
    stands=st.sampled_from((0.0, 0.1, 0.5, 1.0, 1.25, 2.0, 3.75, 5.0)),
)
@settings(max_examples=60, deadline=None)
def test_the_longest_age_by_simulation(inject, set_, walk, batch, stands):
    work = group(8 * batch, dose=64.0, drill=0.0, clean=0.0, inject=inject, set_=set_)
    result = run(work, batch=batch, walk=walk, working=1e9, dispensing=Dispensing(1e6, mixer_content=64.0 * stands))
    longest = longest_age(n=batch, inject=inject, set_=set_, walk=walk, stands=stands)
    assert result.groups[0].longest_wait == pytest.approx(longest, abs=1e-6)


times = st.integers(1, 300).map(float)


@given(inject=times, set_=times, walk=st.integers(0, 60).map(float), working=st.integers(400, 4000).map(float))
@settings(max_examples=60, deadline=None)
def test_the_batch_that_would_do_is_the_largest(inject, set_, walk, working):
    mixer = Dispensing(1e6, mixer_content=25.0)
    best = fitting_batch(
        working_time=working,
        inject=inject,
        set_=set_,
        walk=walk,
        dose=40.0,
        dispensing=mixer,
    )
    for batch, late in ((best, False), (best + 1, True)):
        if batch:
            work = group(3 * batch, dose=40.0, drill=0.0, clean=0.0, inject=inject, set_=set_)
            result = run(work, working=working, batch=batch, walk=walk, dispensing=mixer)
            # a mixer that is past its working time is replaced: then too the batch was too large
            assert (result.groups[0].late > 0 or waste(result)["pause"] > 0) == late


def test_the_batch_that_would_do_counts_changes_of_pack():
    slow = Dispensing(400.0, pack_change=100.0, mixer_change=50.0)
    work = group(8, dose=100.0, inject=20.0, set_=20.0)
    told = run(work, dispensing=slow, working=300.0, batch=8).groups[0]
    assert told.late
    assert 0 < told.batch_that_would_do < 8
    assert run(work, dispensing=slow, working=300.0, batch=told.batch_that_would_do).groups[0].late == 0


# ---- loading ----


def test_earliest_load_by_hand():
    # 20 °C at 07:00 falls to 8 °C at 19:00: 14 °C is met at 13:00
    falling = DayTemperature([(7 * 3600.0, 20.0), (19 * 3600.0, 8.0)], start=7 * 3600.0)
    assert falling.at(6 * 3600.0) == pytest.approx(14.0)

    def cure(temperature):
        return 2 * 3600.0 if temperature >= 14.0 else 5 * 3600.0

    early = run(
        group(1, drill=3600.0, clean=0.0, inject=0.0, set_=0.0), temperature=falling, curing_time=cure, load_wait=60.0
    )
    assert early.groups[0].earliest_load == pytest.approx(3600 + 2 * 3600 + 60)
    # set at 12:00, it gets colder than 14 °C before the two hours are over
    late = run(group(1, drill=5 * 3600.0, clean=0.0, inject=0.0, set_=0.0), temperature=falling, curing_time=cure)
    assert late.groups[0].earliest_load == pytest.approx(10 * 3600)


def test_a_bar_set_in_the_cold_may_be_the_last_to_carry():
    warming = DayTemperature([(7 * 3600.0, 4.0), (8 * 3600.0, 20.0), (20 * 3600.0, 20.0)], start=7 * 3600.0)
    result = run(
        group(2, drill=3600.0, clean=0.0, inject=0.0, set_=0.0),
        ahead=1,
        temperature=warming,
        curing_time=lambda t: 20 * 3600.0 if t < 10 else 3600.0,
    )
    assert result.groups[0].earliest_load == pytest.approx(2 * 3600 + 3600)
    cold = run(
        group(2, drill=600.0, clean=0.0, inject=0.0, set_=0.0),
        ahead=1,
        temperature=warming,
        curing_time=lambda t: 20 * 3600.0 if t < 7 else 3600.0,
    )
    # at 10 min it is 6.7 °C, at 20 min 9.3 °C: the first bar is the last to carry
    assert cold.groups[0].earliest_load == pytest.approx(600 + 20 * 3600)


def test_a_curing_time_that_the_table_refuses_is_told():
    def refuse(_):
        raise NotAccepted("2 °C is below the table")

    result = run(group(1), curing_time=refuse)
    assert math.isnan(result.groups[0].earliest_load)
    assert tuple(one.words for one in result.notices) == (
        "group A: the earliest load is not known: 2 °C is below the table",
    )
    assert math.isnan(run(group(1)).groups[0].earliest_load)


# ---- several crews ----


def test_crews_wait_for_the_machine():
    result = run(group(6, drill=100.0, clean=0.0, inject=10.0, set_=10.0), crews=2, drills=1)
    drilled = sorted((start, end) for start, end, _, _ in rows(result, DRILL))
    # one machine: six holes one after the other, without a gap
    assert drilled == [(100.0 * i, 100.0 * (i + 1)) for i in range(6)]
    assert rows(result, WAIT)
    # the crew that drilled last has three holes to inject
    assert result.finish == pytest.approx(660.0)
    assert not rows(run(group(6), crews=2, drills=2), WAIT)
    assert run(group(6, drill=100.0, clean=0.0, inject=10.0, set_=10.0), crews=2, drills=2).finish == pytest.approx(
        360.0
    )


def test_a_machine_that_comes_free_in_a_break_is_not_used_there():
    result = run(group(4, drill=500.0, clean=0.0), crews=2, drills=1, shift=Shift(DAY, ((400.0, 300.0),)))
    assert all(not 400.0 <= start < 700.0 for start, _, _, _ in rows(result, DRILL))


def test_groups_are_worked_in_order():
    result = run(group(3, mark="A"), group(2, mark="B"), ahead=2)
    assert result.group[result.kind == SET].tolist() == [0, 0, 0, 1, 1]
    assert [told.done for told in result.groups] == [3, 2]
    assert result.groups[0].last_injected < result.groups[1].first_injected


# ---- against the closed form, and the books ----

works = st.builds(
    group,
    st.integers(1, 25),
    mark=st.sampled_from("ABC"),
    dose=st.integers(1, 900).map(lambda v: v / 2),
    drill=st.integers(0, 900).map(float),
    clean=st.integers(0, 300).map(float),
    inject=st.integers(1, 200).map(float),
    set_=st.integers(1, 200).map(float),
)
dispensers = st.builds(
    Dispensing,
    st.integers(200, 900).map(float),
    residual=st.integers(0, 30).map(float),
    discard_per_pack=st.integers(0, 20).map(float),
    discard_per_mixer=st.integers(0, 40).map(float),
    mixer_content=st.integers(0, 30).map(float),
    mixer_per_pack=st.booleans(),
    keep_part_packs=st.booleans(),
    pack_change=st.integers(0, 90).map(float),
    mixer_change=st.integers(0, 90).map(float),
)


@given(
    groups=st.lists(works, min_size=1, max_size=4),
    dispensing=dispensers,
    batch=st.integers(1, 6),
    ahead=st.none() | st.integers(1, 30),
    walk=st.integers(0, 60).map(float),
)
@settings(max_examples=60, deadline=None)
def test_closed_form_where_nothing_pauses(groups, dispensing, batch, ahead, walk):
    result = simulate(
        groups=groups,
        dispensing=dispensing,
        working_time=lambda _: 1e9,
        temperature=CONSTANT,
        batch=batch,
        ahead=ahead,
        walk=walk,
    )
    need = sum(one.holes * one.dose for one in groups)
    first = dispensing.net
    later = first if dispensing.mixer_per_pack else first + dispensing.discard_per_mixer + dispensing.mixer_content
    packs = 1 + max(0, math.ceil((need - first) / later - 1e-9))
    mixers = packs if dispensing.mixer_per_pack else 1
    seconds = packs * dispensing.pack_change + mixers * dispensing.mixer_change
    for one in groups:
        seconds += one.holes * (2 * walk + sum(time for _, time in one.steps) + one.inject + one.set_)
        # bars are walked to once more unless each is set at once: so a batch of one at the end of a round is not
        size = ahead or one.holes
        whole, rest = divmod(one.holes, size)
        alone = whole * (batch == 1 or size % batch == 1) * (size if batch == 1 else 1) + (
            rest if batch == 1 else rest % batch == 1
        )
        seconds += walk * (one.holes - alone)
    assert (result.packs, result.mixers) == (packs, mixers)
    assert result.finish == pytest.approx(seconds, rel=1e-12)
    assert result.in_holes == pytest.approx(need)
    assert waste(result)["pause"] == waste(result)["shift end"] == 0.0
    assert balance(result, dispensing) == pytest.approx(0.0, abs=1e-9 * packs * dispensing.pack_volume)


job = {
    "groups": st.lists(works, min_size=1, max_size=3),
    "dispensing": st.builds(dataclasses.replace, dispensers, split=st.booleans()),
    "batch": st.integers(1, 6),
    "ahead": st.none() | st.integers(1, 30),
    "crews": st.integers(1, 3),
    "drills": st.integers(1, 3),
    "walk": st.integers(0, 60).map(float),
    "variation": st.sampled_from([0.0, 0.3]),
    "seed": st.integers(0, 99),
    "shift": st.sampled_from(
        [None, Shift(7200.0), Shift(20_000.0, ((3600.0, 900.0), (9000.0, 1800.0))), Shift(DAY, ((3600.0, 900.0),))]
    ),
    "temperature": st.sampled_from([CONSTANT, DayTemperature([(0.0, 5.0), (43_200.0, 25.0)], start=25_200.0)]),
}


def random_job(settings, **more):
    # injections of 200 s with a variation of 0.3 stay far below it
    return simulate(
        working_time=lambda t: 1500.0 - 20.0 * t, curing_time=lambda t: 40_000.0 - 1000.0 * t, **settings, **more
    )


@given(settings_=st.fixed_dictionaries(job), stop=st.none() | st.integers(0, 400))
@settings(max_examples=120, deadline=None)
def test_books_balance_whatever_happens(settings_, stop):
    left = [stop]

    def cancel():
        left[0] -= 1
        return left[0] < 0

    result = random_job(settings_, cancel=None if stop is None else cancel)
    dispensing = settings_["dispensing"]
    bought = result.packs * dispensing.pack_volume
    assert balance(result, dispensing) == pytest.approx(0.0, abs=1e-9 * max(bought, 1.0))
    assert min([*waste(result).values(), still_in_packs(result, dispensing.residual), result.in_holes]) >= 0
    # two ways to the same sums: the rows, and the counts
    assert (len(result.packs_at), len(result.mixers_at)) == (result.packs, result.mixers)
    assert np.count_nonzero(result.kind == SET) == result.holes_done == sum(told.done for told in result.groups)
    # what has left the packs, and what is left in them
    gone = result.used[1][-1] if result.used[1].size else 0.0
    assert gone + still_in_packs(result, dispensing.residual) == pytest.approx(bought, rel=1e-9, abs=1e-6)
    if result.complete:
        need = sum(one.holes * one.dose for one in settings_["groups"])
        assert result.in_holes == pytest.approx(need)
        assert result.holes_done == sum(one.holes for one in settings_["groups"])


@given(settings_=st.fixed_dictionaries(job))
@settings(max_examples=60, deadline=None)
def test_nobody_does_two_things_at_once(settings_):
    result = random_job(settings_)
    for crew in range(settings_["crews"]):
        mine = result.crew == crew
        start, end = result.start[mine], result.end[mine]
        assert np.all(end >= start)
        assert np.all(start[1:] >= end[:-1] - 1e-6)
    drilled = result.kind == DRILL
    edges = sorted([(t, 1) for t in result.start[drilled]] + [(t, -1) for t in result.end[drilled]])
    assert max(np.cumsum([step for _, step in edges])) <= settings_["drills"]
    # every hole is drilled before it is injected, and injected before its bar is set
    when = {}
    for kind in (DRILL, INJECT, SET):
        for g, hole, end in zip(
            result.group[result.kind == kind],
            result.hole[result.kind == kind],
            result.end[result.kind == kind],
            strict=True,
        ):
            when.setdefault((g, hole), {})[kind] = end
    assert all(one[DRILL] <= one[INJECT] <= one[SET] for one in when.values())


@given(settings_=st.fixed_dictionaries(job), stop=st.integers(0, 400))
@settings(max_examples=30, deadline=None, derandomize=True)
def test_cancelling_loses_nothing(settings_, stop):
    whole = random_job(settings_)
    asked = iter(range(10**9))
    part = random_job(settings_, cancel=lambda: next(asked) >= stop)
    n = part.start.size
    for name in ("start", "end", "kind", "crew", "group", "hole", "volume", "cause"):
        assert np.array_equal(getattr(part, name), getattr(whole, name)[:n])
    assert n == whole.start.size if part.complete else next(asked) > stop
    assert part.holes_done == np.count_nonzero(whole.kind[:n] == SET)


def test_same_seed_same_days():
    one, same, other = (run(group(30), variation=0.2, seed=seed) for seed in (1, 1, 2))
    assert np.array_equal(one.end, same.end)
    assert one.finish != other.finish


def test_variation_keeps_the_mean():
    result = run(group(4000, dose=1.0, clean=0.0), variation=0.25, seed=3)
    drilled = result.kind == DRILL
    lengths = result.end[drilled] - result.start[drilled]
    # 4000 draws: the mean is known to 0.25/sqrt(4000) = 0.4 %, the standard deviation to about 1.2 %; three times that
    assert lengths.mean() == pytest.approx(60.0, rel=0.012)
    assert lengths.std() == pytest.approx(15.0, rel=0.045)


def test_adhesive_used_against_time():
    result = run(group())
    time, used = result.used
    assert np.all(np.diff(time) >= 0)
    # all but what is left in the second pack
    assert used[-1] == pytest.approx(800.0 - 28.0)
    assert used[0] == pytest.approx(20.0)


def test_progress():
    told = []
    run(group(500, dose=1.0), progress=lambda done, total: told.append((done, total)))
    assert told[-1] == (500, 500)
    assert [done for done, _ in told] == sorted({done for done, _ in told})
    assert len(told) <= 251


def test_cancelled_at_once():
    result = run(group(), cancel=lambda: True)
    assert not result.complete
    assert (result.holes_done, result.packs, result.finish) == (0, 0, 0.0)
    assert math.isnan(result.groups[0].first_injected)


# ---- refusals ----


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: run(), "there is no bar group to work on"),
        (lambda: run(group(), crews=0), "crews = 0 is too few; accepted: at least 1"),
        (lambda: run(group(), drills=0), "drills = 0 is too few"),
        (lambda: run(group(), batch=0), "batch = 0 is too few"),
        (lambda: run(group(), ahead=0), "ahead = 0 is too few"),
        (lambda: run(group(), walk=-1.0), "walk = -1 s is not a time"),
        (lambda: run(group(), variation=float("nan")), "variation = nan is out of range"),
        (lambda: group(0), "group A: holes = 0 is too few"),
        (lambda: group(dose=0.0), "group A: dose = 0 cannot be injected"),
        (lambda: group(set_=-1.0), "group A: set_ = -1 s is not a time"),
        (lambda: group(clean=float("nan")), r"group A: steps\[1\] = nan s is not a time"),
        (lambda: Dispensing(30.0, residual=12.0, discard_per_mixer=20.0), "a pack of 30 gives nothing"),
        (lambda: Dispensing(300.0, residual=-12.0), "residual = -12 is negative"),
        (lambda: Shift(100_000.0), "a shift of 100000 s does not fit into a day"),
        (lambda: Shift(3600.0, ((3000.0, 900.0),)), "the break at 3000 s"),
        (lambda: DayTemperature([]), "no temperature is given"),
        (lambda: DayTemperature([(10.0, 1.0), (5.0, 2.0)]), "not in the order of one day"),
        (
            lambda: run(group(inject=200.0), working=180.0),
            "group A: injecting one hole takes 200 s, longer than the working time of 180 s at 15 °C",
        ),
    ],
)
def test_refused(call, sentence):
    with pytest.raises(TimelineError, match=sentence):
        call()


def test_what_the_table_refuses_goes_through():
    def refuse(temperature):
        raise ValueError(f"{temperature:g} °C is outside the table")

    with pytest.raises(ValueError, match="15 °C is outside the table"):
        run(group(), working_time=refuse)


# ---- temperature, clock, site ----


def test_temperature_through_the_night():
    day = DayTemperature([(6 * 3600.0, 4.0), (18 * 3600.0, 16.0)], start=6 * 3600.0)
    assert [day.at(h * 3600.0) for h in (0, 6, 12, 18, 24, 30)] == pytest.approx([4, 10, 16, 10, 4, 10])
    assert day.warmest(0.0, DAY) == 16.0
    assert (day.coldest(20 * 3600.0, 26 * 3600.0), day.warmest(20 * 3600.0, 22 * 3600.0)) == pytest.approx((4.0, 8.0))


@pytest.mark.parametrize(
    ("t", "text"), [(0.0, "day 1, 07:00"), (61_199.9999, "day 2, 00:00"), (86_400.0, "day 2, 07:00")]
)
def test_clock(t, text):
    assert clock(t, 25_200.0) == text


def test_a_job_with_its_site():
    site = site_of()
    shift, day = shift_of(site), temperature_of(site)
    assert (shift.length, shift.breaks) == (9 * 3600.0, ((9000.0, 1200.0), (18_000.0, 1800.0)))
    assert (day.at(0.0), day.at(7 * 3600.0)) == (8.0, 16.0)
    work = work_of(site, mark="W", holes=40, dose=25.0, depth=200.0)
    assert work == GroupWork("W", 40, 25.0, ((True, 80.0),), 20.0, 15.0)
    assert work_of(site, mark="W", holes=40, dose=25.0, depth=200.0, way="brushed").steps[0] == (
        True,
        pytest.approx(60.0),
    )
    dispensing = dispensing_of(site, pack_volume=400.0, residual=12.0, discard_per_mixer=20.0)
    assert (dispensing.pack_change, dispensing.mixer_change, dispensing.keep_part_packs) == (30.0, 40.0, False)
    result = simulate_site(
        site=site, groups=[work], dispensing=dispensing, working_time=lambda _: 900.0, curing_time=lambda _: 36_000.0
    )
    same = simulate(
        groups=[work],
        dispensing=dispensing,
        working_time=lambda _: 900.0,
        curing_time=lambda _: 36_000.0,
        temperature=day,
        shift=shift,
        crews=2,
        drills=1,
        batch=4,
        walk=10.0,
        load_wait=7200.0,
        seed=7,
    )
    assert np.array_equal(result.end, same.end)
    assert result.groups == same.groups
    assert result.groups[0].earliest_load == pytest.approx(result.groups[0].last_set + 36_000.0 + 7200.0)
    assert {PACK, MIXER, ASIDE} & set(result.kind.tolist()) >= {PACK, MIXER}
