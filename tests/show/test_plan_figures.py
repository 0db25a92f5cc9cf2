"""The pictures of a plan: what they say in words agrees with the plan, and they are drawn the same each time."""

import re
from dataclasses import replace

import pytest
from jobparts import worked_groups
from matplotlib.figure import Figure

from calc.files.job import demo_job
from calc.show.plan.figures import (
    _blocks,
    adhesive_picture,
    days_picture,
    steps_of,
    waste_picture,
    ways_picture,
)
from calc.work.days.crew import BREAK, INJECT
from calc.work.load import load_job
from calc.work.plan.volumes import CAUSES
from calc.work.plan.work import work_plan

DRAW = (days_picture, adhesive_picture, waste_picture, ways_picture)


@pytest.fixture(scope="module", params=["metric", "us"])
def plan(request):
    job = load_job(demo_job(request.param))
    return work_plan(job, worked_groups(job))


@pytest.mark.parametrize("draw", DRAW)
def test_says_its_finding_and_is_the_same_each_time(plan, draw):
    first, again = draw(plan), draw(plan, figure=Figure())
    assert first.svg == again.svg
    assert len(first.alt) > 40
    assert first.alt.endswith(".")
    assert first.svg.startswith("<svg")
    assert first.numbers
    assert len(first.svg) < 250_000


def test_days_say_when_the_last_bar_is_set(plan):
    picture = days_picture(plan)
    assert plan.clock(plan.timeline.finish) in picture.alt
    assert "every bar is set within the working time" in picture.alt


def test_blocks_hold_all_of_the_injecting_and_the_breaks(plan):
    timeline = plan.timeline
    blocks = _blocks(timeline, 0.0)
    breaks = sum(b.end - b.begin for b in blocks if b.kind == "break")
    kind = timeline.kind == BREAK
    assert breaks == pytest.approx(float((timeline.end - timeline.start)[kind].sum()))
    joined = _blocks(timeline, 120.0)
    assert len(joined) < 60 < (timeline.kind == INJECT).sum()


def test_late_bars_are_said(plan):
    late = replace(plan.timeline, groups=(replace(plan.timeline.groups[0], late=3), *plan.timeline.groups[1:]))
    assert "but 3 bars are late" in days_picture(replace(plan, timeline=late)).alt


def test_waste_is_told_by_cause(plan):
    picture = waste_picture(plan)
    told = dict(picture.numbers)
    for key, words in CAUSES.items():
        assert told[words] == plan.job.display.job_volume(plan.use.waste[key])
    largest = max(plan.use.waste, key=plan.use.waste.get)
    assert CAUSES[largest] in picture.alt


def test_steps_that_are_done_several_times_are_gathered(plan):
    (brushed,) = [way for way in plan.ways if way.name == "brushed"]
    names = [many for _, many, _ in steps_of(brushed)]
    assert names == ["drill", "3 × blow", "2 × brush"]
    assert sum(hours for *_, hours in steps_of(brushed)) == pytest.approx(brushed.hours)


def test_without_days_there_is_nothing_to_draw(plan):
    bare = replace(plan, timeline=None, ways=())
    for draw in (days_picture, adhesive_picture, ways_picture):
        with pytest.raises(ValueError, match=re.escape("needs [site]")):
            draw(bare)
    assert waste_picture(bare).svg.startswith("<svg")
