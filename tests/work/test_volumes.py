"""Each volume has one name and one number, wherever it is told, and all of them add up on one page.

By hand nothing is summed here that the workbook sums: the demos' results.json, their tables and sentences are held
against each other, and jobs drawn with a seed against the same balance.
"""

import csv
import io
import random
import re

import pytest
from balances import adds_up

from calc.files.job import demo_job
from calc.package.lists.order import order_csv
from calc.show.plan import views
from calc.show.plan.figures import adhesive_picture, waste_picture
from calc.work.load import load_job
from calc.work.plan.planned import PlanWork
from calc.work.plan.volumes import CAUSES, VOLUMES
from calc.work.results import compute

PARTS = {
    "dose": ("in_holes", "waste_overflow"),
    "bought": ("dose", "discard", "left_in_mixers", "left_in_packs", "lost"),
    "left_in_packs": ("residual", "left_over"),
    "waste": tuple(f"waste_{key}" for key in CAUSES),
    "lost": ("waste_rest", "waste_part_packs"),  # and the part packs at the end of a shift
}


@pytest.fixture(scope="module", params=["metric", "us", "failing"])
def results(request):
    return compute(load_job(demo_job(request.param)))


def test_results_json_adds_up(results):
    totals = results.data()["totals"]
    for whole, parts in PARTS.items():
        found = sum(totals[f"{part}_L"] for part in parts)
        if whole == "lost":
            assert found <= totals["lost_L"] + 1e-9
        else:
            assert found == pytest.approx(totals[f"{whole}_L"], rel=1e-9), whole
    # what the groups' own numbers come to
    groups = results.data()["groups"]
    assert sum(one["count"] * one["rounded_dose_mL"] for one in groups) == pytest.approx(1000 * totals["dose_L"])
    assert sum(one["count"] * one["overflow_mL"] for one in groups) == pytest.approx(1000 * totals["waste_overflow_L"])


def test_every_place_tells_the_same_number_by_the_same_name(results):
    plan = results.part(PlanWork)
    write = results.job.display.job_volume
    told = {VOLUMES[term.key].words: write(term.volume) for term in plan.use.balance}
    assert len(told) == len(VOLUMES)
    table = {row[0].strip(): row[1] for row in views.volumes(plan).block["rows"]}
    assert told.items() <= table.items()
    # page 1, the opening of part 5, the picture of adhesive against time, the order list
    for text in (results.headline, (views.opening(plan).markdown,)):
        text = " ".join(text)
        for key in ("dose", "in_holes", "waste_overflow"):
            assert re.search(rf"{re.escape(told[VOLUMES[key].words])} (is )?{VOLUMES[key].words}", text) or (
                key == "dose" and f"Dispensed into all {results.holes} holes: {told['dispensed']}" in text
            )
    if plan.timeline is not None:
        assert dict(adhesive_picture(plan).numbers)["dispensed"] == told["dispensed"]
    waste = dict(waste_picture(plan).numbers)
    assert {words: waste[words] for words in waste.keys() & told.keys()} == {
        words: told[words] for words in waste.keys() & told.keys()
    }
    (packs, *_) = csv.DictReader(io.StringIO(order_csv(results, plan.use)))
    assert all(VOLUMES[key].words in packs["note"] for key in ("dose", "in_holes", "waste_overflow", "discard", "lost"))


def test_one_name_means_one_volume():
    words = [name.words for name in VOLUMES.values()]
    assert len(set(words)) == len(words)
    shared = {"overflow": "waste_overflow", "residual": "residual"}
    for key, cause in CAUSES.items():
        assert (cause in words) == (key in shared)
        if key in shared:
            assert cause == VOLUMES[shared[key]].words


def test_a_pack_gives_the_same_in_the_first_part_as_in_the_plan(results):
    whole = results.part(PlanWork).sheet.step("05.job.yield")
    for one in results.worked:
        (most,) = [step for step in one.sheet.steps if step.name == "V_max"]
        assert (most.value, most.formula) == (whole.value, whole.formula)
        (check,) = [check for check in one.sheet.checks if check.name == "pack"]
        assert check.passes == (one.rounded <= whole.value)


SITE = """
[site]
crews = {crews}
drills = 1
start = "07:00"
shift = "{shift} h"
temperature = [{{ at = "07:00", temperature = "15 °C" }}]
reserve = {reserve}
keep_part_packs = {keep}
breaks = [{{ at = "08:00", length = "{pause} min" }}]
[site.times]
drill = "60 s"
inject = "{inject} s"
set = "10 s"
mixer_change = "40 s"
pack_change = "20 s"
[site.ways.plain]
steps = [{{ do = "drill" }}]
extraction = false
[site.preparation]
way = "plain"
"""
RECORD = """\
name = "Nothing"
invented = true
discard_per_pack = "{per_pack} mL"
mixer_volume = "{mixer} mL"
working_time = [{{ at = "5 °C", time = "60 min" }}, {{ at = "25 °C", time = "{working} min" }}]
"""


@pytest.mark.parametrize("seed", range(12))
def test_own_jobs_balance(folder, seed):
    draw = random.Random(seed)
    rows = [
        f"G{i},{draw.randint(1, 60)},16,20,{draw.randint(100, 320)},{draw.choice(('down', 'overhead'))}"
        for i in range(draw.randint(1, 4))
    ]
    folder.schedule("mark,count,bar,hole_diameter [mm],embedment [mm],direction", *rows)
    folder.write(
        "adhesive.toml",
        RECORD.format(per_pack=draw.randint(0, 9), mixer=draw.randint(0, 20), working=draw.randint(8, 30)),
    )
    site = SITE.format(
        crews=draw.randint(1, 3),
        shift=draw.choice((2, 5, 9)),
        reserve=draw.choice((0, 0.1, 0.35)),
        keep=draw.choice(("true", "false")),
        pause=draw.randint(5, 55),
        inject=draw.randint(10, 60),
    )
    folder.write("job.toml", folder.read("job.toml") + (site if seed % 4 else ""))
    results = compute(folder.load())
    plan = results.part(PlanWork)
    assert (plan.timeline is None) == (seed % 4 == 0)
    adds_up(plan.use)
    (check,) = [check for check in plan.sheet.checks if check.name == "balance"]
    assert check.passes
    test_results_json_adds_up(results)
    test_every_place_tells_the_same_number_by_the_same_name(results)
    test_a_pack_gives_the_same_in_the_first_part_as_in_the_plan(results)
