"""Overfill by rule, and the sheet of notebook 02: against plain simulation, closed forms and hand arithmetic."""

import json
import math
import re
import time
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from calc.base.identity import OVERFILL
from calc.files.job import demo_job
from calc.work.dose import case_of, work
from calc.work.load import load_job
from calc.work.overfill import setting
from calc.work.overfill import work as overfill
from calc.work.overfill.setting import hole_scatter, read_setting
from calc.work.overfill.work import choose_overfills, judgement_of, ways_of, work_overfills
from calc.work.results import compute

SHARE = 'share = 0.10     # ten per cent\nreason = "for tests"\n'
SCATTER = """\
[scatter]
hole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}
bar_mass = {low = -0.045, high = 0.045}
embedment = {mean = "0 mm", sd = "3 mm"}
voids = {low = 0.0, high = 0.02}
dispenser = {mean = 0.0, sd = 0.01}
"""
COST = (
    '[cost]\ncurrency = "cost units"\nadhesive = {price = 20.0, per = "400 mL"}\nshort_per_mL = 1.0\nshort_per_hole ='
    " 25.0\n"
)
EVIDENCE = '[evidence.A]\nholes = 30\nmean = "24.5 mL"\nsd = "1 mL"\n'


def write(folder, rule="probability", more="", tables=SCATTER + COST):
    folder.edit(SHARE, f'share = 0.10\nreason = "for tests"\nrule = "{rule}"\n{more}')
    folder.write("job.toml", folder.read("job.toml") + tables)
    return folder.load()


def part_of(job):
    return compute(job).parts[0]


@pytest.fixture
def plain():
    """Group A of `SCATTER`, drawn once more with plain random numbers and formulas typed anew.

    Needed dose [mm³] and its inputs.
    """
    n, random = 2_000_000, np.random.default_rng(5)
    d_0, length = random.normal(20.3, 0.1, n), random.normal(200.0, 3.0, n)
    bar = 16.0 * np.sqrt(1 + random.uniform(-0.045, 0.045, n))
    voids, shot = random.uniform(0.0, 0.02, n), 1 + random.normal(0.0, 0.01, n)
    ring = math.pi / 4 * (d_0**2 - bar**2)
    tip = math.pi / 24 * d_0**3 * math.tan(math.radians(25))
    return {"need": (ring * length + tip) * (1 + voids) / shot, "shot": shot, "ring": ring}


# ---- formulas ------------------------------------------------------------------------------------


def test_formulas_by_hand():
    assert overfill.part_of_length(c_l=6377.0, u_l=0.1) == pytest.approx(637.7)
    assert overfill.part_of_share(c_s=41000.0, u_s=0.03) == pytest.approx(1230.0)
    assert overfill.combined(u_c=5.0, u_i=12.0) == 13.0
    assert overfill.first_order_dose(V_need=25000.0, z_p=1.6449, u_c=1000.0) == pytest.approx(26644.9)
    assert overfill.short_holes(n_hole=48.0, p_short=0.125) == 6.0
    assert overfill.waste_of_holes(n_hole=12.0, V_over=2500.0) == 30000.0


# ---- the rules -----------------------------------------------------------------------------------


def test_stated_probability_against_plain_simulation(folder, plain):
    job = write(folder)
    choice = choose_overfills(job)["A"]
    required = math.pi / 4 * (20.0**2 - 16.0**2) * 200 + math.pi / 24 * 8000 * math.tan(math.radians(25))
    exact = float(np.quantile(plain["need"], 0.95)) / required - 1
    assert choice.rule == "probability"
    assert exact <= choice.share + 3e-4
    assert choice.share - exact < 0.0015  # rounded up to a tenth of a per cent
    assert choice.share * 1000 == pytest.approx(round(choice.share * 1000))
    assert "job.toml, overfill.rule" in choice.origin.words
    assert "5 %" in choice.reason


def test_the_rounded_dose_against_plain_simulation(folder, plain):
    group = part_of(write(folder)).groups["A"]
    need, dose = plain["need"], group.dose
    assert dose % 1000 == 0
    assert group.probability == pytest.approx(float(np.mean(need > dose)), abs=2.5e-4)  # its own error: 9e-5 of one sd
    assert group.mean_overflow == pytest.approx(float(np.mean(np.maximum(dose - need, 0) * plain["shot"])), rel=2e-3)
    unfilled = np.maximum(need - dose, 0) * plain["shot"] / plain["ring"]
    assert group.mean_unfilled == pytest.approx(float(unfilled.mean()), rel=0.03)
    assert group.need.sd == pytest.approx(float(need.std()), rel=2e-3)


def test_least_cost_per_volume_is_the_critical_fractile(folder, plain):
    job = write(folder, "cost_volume", more="short_probability = 0.2\n")
    choice, required = choose_overfills(job)["A"], 23107.78
    fractile = 1.0 / (1.0 + 20.0 / 400)  # per mL both
    exact = float(np.quantile(plain["need"], fractile)) / required - 1
    assert choice.rule == "cost_volume"
    assert choice.share == pytest.approx(exact + 5e-4, abs=1.2e-3)


def test_least_cost_per_hole_beats_its_neighbours(folder, plain):
    choice = choose_overfills(write(folder, "cost_hole"))["A"]
    need = plain["need"][:400_000]

    def cost(share):
        dose = 23107.78 * (1 + share)
        return 25.0 * np.mean(need > dose) + 20.0 / 400e3 * np.mean(np.maximum(dose - need, 0))

    assert cost(choice.share) < min(cost(choice.share - 0.02), cost(choice.share + 0.02))


def test_economy_does_not_undercut_the_stated_probability(folder):
    cheap = COST.replace("short_per_mL = 1.0", "short_per_mL = 0.05")  # as dear as adhesive: the median would do
    choices = choose_overfills(write(folder, "cost_volume", tables=SCATTER + cheap))
    option = choices["A"].option("cost_volume")
    assert choices["A"].share == option.share == choices["A"].option("probability").share
    assert "economy does not undercut" in choices["A"].reason


def test_measured_holes_by_hand(folder):
    # k for 30 holes, 95 % and 95 %: 2.220 (Montgomery and Runger, 7th ed., Table XII): 24.5 + 2.220 x 1.0 = 26.720 mL
    # over 23.10778 mL
    job = write(folder, "measured", tables=EVIDENCE)
    choice = choose_overfills(job)["A"]
    assert choice.share == 0.157
    assert 26.720 / 23.10778 - 1 == pytest.approx(0.1563, abs=1e-4)
    assert choice.option("measured_free").share is None
    assert "59 measured holes are needed" in choice.option("measured_free").reason
    part = part_of(job)
    assert part.sheet.step("02.A.V_lim").value == pytest.approx(26720, abs=1)
    assert (
        part.entry("A")["short_fill_probability"],
        part.entry("A")["overfill_rule"],
        part.entry("B")["overfill_rule"],
    ) == (None, "measured", "own")
    assert compute(job).worked[0].case.overfill == 0.157


def test_measured_without_normality(folder):
    enough = EVIDENCE.replace("holes = 30", 'holes = 59\nlargest = "27 mL"')
    option = choose_overfills(write(folder, "measured", tables=enough))["A"].option("measured_free")
    assert option.share == pytest.approx(27 / 23.10778 - 1, abs=1e-3)
    folder.edit('largest = "27 mL"', "")
    assert "neither the largest" in choose_overfills(folder.load())["A"].option("measured_free").reason
    # of 93 holes the second largest does (binomial: P(at most 91 of 93 below) is just above 0.95)
    folder.edit("holes = 59\n", 'holes = 93\nrank = 92\nordered = "26 mL"\n')
    assert stats.binom.cdf(91, 93, 0.95) >= 0.95 > stats.binom.cdf(90, 92, 0.95)
    assert choose_overfills(folder.load())["A"].option("measured_free").share == pytest.approx(
        26 / 23.10778 - 1, abs=1e-3
    )
    folder.edit("rank = 92", "rank = 91")
    assert choose_overfills(folder.load())["A"].option("measured_free").share is None


def test_measured_refers_to_its_own_nominal(folder):
    job = write(folder, "measured", tables=EVIDENCE + 'nominal = "25 mL"\n')
    assert choose_overfills(job)["A"].share == pytest.approx(26.720 / 25 - 1, abs=1e-3)


def test_nothing_is_taken_off_the_nominal_hole(folder):
    job = write(folder, "measured", tables=EVIDENCE.replace("24.5", "15"))
    choice = choose_overfills(job)["A"]
    assert choice.share == 0.0
    assert "nothing is taken off" in choice.reason
    smaller = SCATTER.replace('mean = "0.3 mm"', 'mean = "-1 mm"')
    folder.write("job.toml", folder.read("job.toml").replace('"measured"', '"probability"') + smaller)
    choice = choose_overfills(folder.load())["A"]
    assert choice.share == 0.0
    assert "nothing is taken off" in choice.reason


def test_own_overfill_wins(folder):
    choice = choose_overfills(write(folder))["B"]
    assert (choice.share, choice.rule, choice.origin.words) == (0.2, "own", "schedule.csv row 3, overfill")
    assert choice.option("probability").share > 0


# ---- jobs with little or no scatter --------------------------------------------------------------


def test_without_scatter_all_is_as_before(folder):
    job = folder.load()
    results = compute(job)
    assert [part.sheet.notebook for part in results.parts] == ["05_job_plan"]
    assert results.worked == tuple(work(case_of(job, group)) for group in job.groups)
    assert {entry["short_fill_probability"] for entry in results.data()["groups"]} == {None}
    choice = choose_overfills(job)["A"]
    assert (choice.share, choice.rule, choice.origin.words, choice.reason) == (
        0.10,
        "share",
        "job.toml, overfill.share",
        "for tests",
    )
    assert case_of(job, job.group("A"), choice) == case_of(job, job.group("A"))


@pytest.mark.parametrize(
    "tables",
    ["[scatter]\n", '[scatter]\nhole_diameter = {mean = "0 mm", sd = "0 mm"}\nbar_mass = {low = 0, high = 0}\n'],
)
def test_what_does_not_scatter_is_certain(folder, tables):
    part = part_of(write(folder, tables=tables))
    group = part.groups["A"]
    assert (group.choice.share, group.probability, group.mean_unfilled) == (0.0, 0.0, 0.0)
    assert group.mean_overflow == pytest.approx(24_000 - group.required)
    assert all(check.passes for check in part.sheet.checks)


def test_a_sure_shift_is_followed(folder):
    part = part_of(write(folder, tables='[scatter]\nhole_diameter = {mean = "0.5 mm", sd = "0 mm"}\n'))
    exact = hole_scatter_required(20.5) / hole_scatter_required(20.0) - 1
    assert part.choices["A"].share == pytest.approx(math.ceil(exact * 1000) / 1000)


def hole_scatter_required(d_0):
    return math.pi / 4 * (d_0**2 - 256) * 200 + math.pi / 24 * d_0**3 * math.tan(math.radians(25))


# ---- the sheet -----------------------------------------------------------------------------------


def test_budget_against_the_published_annulus_case(folder):
    # An invented annulus: D ~ N(20.3, 0.10), phi ~ N(16.0, 0.18), L ~ N(200, 3) mm: first-order shares .298863,
    # .601572, .099363 (no tip).
    # The bar's mass goes with phi squared: to first order sd(m)/m = 2 x 0.18/16.
    scatter = (
        '[scatter]\nhole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}\nbar_mass = {mean = 0.0, sd ='
        f" {2 * 0.18 / 16}}}\n"
    )
    folder.edit('"130 °"', '"180 °"')
    part = part_of(write(folder, tables=scatter + 'embedment = {mean = "0 mm", sd = "3 mm"}\n'))
    shares = {one.name: one.share for one in part.groups["A"].budget.parts if one.u}
    assert shares == pytest.approx({"d_0": 0.298863, "mass_deviation": 0.601572, "l_v": 0.099363}, abs=1e-3)
    assert part.sheet.step("02.A.u_c.l_v").value == pytest.approx(1166.574, rel=1e-3)


def test_budget_adds_up_and_every_step_is_named_once(folder):
    part = part_of(write(folder))
    ids = [step.id for step in part.sheet.steps]
    assert len(ids) == len(set(ids))
    assert all(re.match(r"02\.[AB]\.", name) for name in ids)
    step = part.sheet.step
    parts = [step(f"02.A.u_i.{name}").value for name in ("d_0", "mass_deviation", "l_v", "voids", "repeat")]
    last = step("02.A.u_c.repeat")
    assert last.value == pytest.approx(math.hypot(*parts))
    assert last.value == pytest.approx(part.groups["A"].budget.u)
    assert last.inputs[0].origin == "step 02.A.u_c.voids"
    first = step("02.A.V_first")
    assert first.value == pytest.approx(step("02.A.V_need").value + stats.norm.ppf(0.95) * last.value)
    assert step("02.A.n_short").value == pytest.approx(12 * part.groups["A"].probability)
    assert step("02.A.V_waste").value == pytest.approx(12 * part.groups["A"].mean_overflow)
    assert step("02.A.overfill").inputs[0].step == "02.A.V_dose.quantile"
    found = {one.id: one for one in part.sheet.found}
    assert [one.step for one in found["02.A.V_dose.quantile"].inputs] == [None, "02.A.holes"]
    assert "simulated: 32768 holes, seed 1" in found["02.A.holes"].how
    assert part.sheet.notebook == OVERFILL
    assert {step.id for step in part.sheet.steps if step.mark == "B"} == {
        name for name in ids if name.startswith("02.B.")
    }


def test_check_fails_when_too_many_stay_short(folder):
    job = write(folder, "share")
    checks = {check.id: check for check in part_of(job).sheet.checks}
    group = part_of(job).groups["A"]
    assert group.dose == 26_000
    assert not checks["02.A.short"].passes
    assert checks["02.A.short"].demand == pytest.approx(100 * group.probability)
    needed = float(re.search(r"an overfill of ([\d.]+) % would do", checks["02.A.short"].advice)[1]) / 100
    again = replace(job, overfill=job.overfill.model_copy(update={"share": needed}))
    assert part_of(again).groups["A"].probability <= 0.05


def test_notices(folder):
    more = SCATTER + 'common = ["bar_mass"]\nseries = 8\n'
    notices = part_of(write(folder, "share", tables=more)).sheet.words
    assert any(
        "Common to a series of 8 holes: bar mass. In the worst one of twenty series" in notice for notice in notices
    )
    assert not any("First order" in notice for notice in notices)


def test_notice_when_first_order_fails(folder):
    lopsided = "[scatter]\nvoids = {low = 0.0, high = 1.0}\ncommon = []\n"
    notices = part_of(write(folder, tables=lopsided)).sheet.words
    assert any(
        notice.startswith("First order and simulation differ by more than 1 % of the dose: A ") for notice in notices
    )


def test_bits_are_said_to_be_from_memory(folder):
    folder.edit("22,220", "20,220", "schedule.csv")
    folder.edit("#5", "14", "schedule.csv")
    job = write(folder, tables='[scatter]\nbit = "new"\nbar_mass = "standard"\n')
    assert any("from memory" in notice for notice in part_of(job).sheet.words)
    origins = {name: origin.words for name, origin in read_setting(job, job.group("A")).origins.items()}
    assert "scatter.bit: new bit of 20 mm: 20.50 to 20.55 mm" in origins["d_0"]
    assert "from memory" in origins["d_0"]
    assert "EN 10080" in origins["mass_deviation"]
    assert origins["voids"] == "not given in job.toml: none"
    inputs = hole_scatter(job, job.group("A")).inputs
    assert inputs["d_0"].support() == (pytest.approx(20.5), pytest.approx(20.55))
    assert inputs["mass_deviation"].support() == (pytest.approx(-0.045), pytest.approx(0.045))


# ---- series, correlation, measured hole ----------------------------------------------------------


def test_series_share_what_is_common(folder):
    apart = part_of(write(folder, "share", tables=SCATTER + "common = []\n")).entry("A")
    folder.edit("common = []", 'common = ["hole_diameter", "bar_mass"]')
    together = part_of(folder.load()).entry("A")
    assert together["short_fill_probability"] == apart["short_fill_probability"]
    assert together["series_short_share_95"] > apart["series_short_share_95"] + 0.2
    assert together["series_any_short_probability"] < apart["series_any_short_probability"]
    p = apart["short_fill_probability"]
    assert apart["series_any_short_probability"] == pytest.approx(1 - (1 - p) ** 20, abs=2e-3)


def test_correlated_inputs(folder):
    tied = SCATTER + 'correlation = [{between = ["hole_diameter", "embedment"], r = 0.9}]\n'
    alone = part_of(write(folder, tables=SCATTER)).groups["A"]
    folder.write("job.toml", folder.read("job.toml").replace(SCATTER, tied))
    part = part_of(folder.load())
    group = part.groups["A"]
    assert group.need.sd > alone.need.sd * 1.02
    assert group.probability == float(group.need.short_probability(group.dose))
    assert group.series is None
    assert part.entry("A")["series_any_short_probability"] is None
    assert any("Inputs go together in A, B" in notice for notice in part.sheet.words)


def test_a_measured_hole_is_the_middle_of_the_scatter(folder):
    measured = '[measured.A]\ndepth = ["0 mm", "200 mm"]\ndiameter = ["21 mm", "20.6 mm"]\n'
    part = part_of(write(folder, tables=measured + SCATTER))
    group = part.groups["A"]
    assert group.scatter.nominal.required == pytest.approx(group.required)
    assert 20.6 < group.setting.d_0 < 21.0
    assert group.scatter.inputs["d_0"].mean() == pytest.approx(group.setting.d_0)
    assert group.scatter.inputs["d_0"].std() == pytest.approx(0.1)
    assert "measured.A" in group.origins["d_0"].words
    assert any(notice.startswith("A: one hole was measured") for notice in part.sheet.words)


# ---- what the panel draws from -------------------------------------------------------------------


def test_curve_falls_and_rises(folder):
    group = part_of(write(folder)).groups["A"]
    curve = group.curve(np.linspace(0.0, 0.5, 26))
    assert (np.diff(curve.short) <= 0).all()
    assert (np.diff(curve.overflow) >= 0).all()
    assert (np.diff(curve.unfilled) <= 0).all()
    assert curve.short[0] > 0.5
    assert curve.short[-1] == 0.0
    at = group.curve(group.dose / group.required - 1)
    assert (at.short[0], at.overflow[0]) == (
        pytest.approx(group.probability, abs=1e-3),
        pytest.approx(group.mean_overflow),
    )
    assert group.probability_of(group.dose) == group.probability
    assert group.outcome(group.dose)[1:] == (group.mean_overflow, group.mean_unfilled)


def test_same_seed_same_digits_and_units_do_not_matter(folder):
    first = compute(write(folder))
    setting.simulated.cache_clear()
    setting.stated_overfill.cache_clear()
    assert compute(folder.load()).text() == first.text()
    inches = {'"0.3 mm"': f'"{0.3 / 25.4!r} in"', '"0.1 mm"': f'"{0.1 / 25.4!r} in"', '"3 mm"': f'"{3 / 25.4!r} in"'}
    for old, new in inches.items():
        folder.edit(old, new)
    again = part_of(folder.load())
    assert again.choices["A"].share == first.parts[0].choices["A"].share
    assert again.groups["A"].probability == pytest.approx(first.parts[0].groups["A"].probability, rel=1e-6)


def test_judgement_and_ways(folder):
    job = write(folder)
    assert judgement_of(job) is None
    group = part_of(job).groups["A"]
    assert ways_of(job, group) == ()
    table = (
        "[judgement]\nmargin = 0.3\nsd_hole = 0.1\nsd_series = 0.1\nsees = 0.5\nlevel_sd = 0.03\nfirst_margin = 0.0\n"
    )
    folder.write("job.toml", folder.read("job.toml") + table)
    ways = {way.key: way for way in ways_of(folder.load(), group)}
    assert ways["overfill"].dose == group.dose
    assert ways["overfill"].short_per_100 == pytest.approx(100 * group.probability, abs=1.5)
    assert ways["overfill"].waste == pytest.approx(group.mean_overflow, rel=0.02)
    assert ways["eye"].cost == pytest.approx(ways["eye"].used * 20 / 400_000)


# ---- results.json and the demos ------------------------------------------------------------------


@pytest.mark.parametrize("units", ["metric", "us"])
def test_demos(units):
    results = compute(load_job(demo_job(units)))
    assert results.passes, [check for check in results.checks if not check.passes]
    data = json.loads(results.text())
    assert [sheet["notebook"] for sheet in data["sheets"]][:2] == ["01_dose_per_hole", OVERFILL]
    for entry in data["groups"]:
        assert 0 <= entry["short_fill_probability"] <= 0.05
        assert entry["overfill_reason"]
        assert entry["overfill_rule"] in ("own", "probability", "measured", "share")
        assert set(entry["overfill_options"]) == set(overfill.RULES)
    assert data["totals"]["expected_waste_L"] > 0
    cost = data["totals"]["expected_waste_cost"]
    assert (cost is None) == (units == "us")
    if cost is not None:
        assert cost == pytest.approx(data["totals"]["expected_waste_L"] * 18.0 / 0.4)


def test_three_hundred_groups_stay_feasible(folder):
    header = folder.read("schedule.csv").splitlines()[0]
    folder.schedule(header, *(f"G{i},4,16,20,{200 + i % 50},,down,," for i in range(300)))
    job = write(folder)
    start = time.perf_counter()
    part = part_of(job)
    assert (
        time.perf_counter() - start < 60
    )  # about 3 s: fifty kinds of groups are simulated, the others are equal to one of them
    assert part.groups["G0"].probability == part.groups["G250"].probability
    assert setting.stated_overfill.cache_info().hits >= 250


def test_work_overfills_needs_no_particular_order(folder):
    job = write(folder)
    choices = choose_overfills(job)
    worked = tuple(work(case_of(job, group, choices[group.mark])) for group in job.groups)
    forward, backward = work_overfills(job, worked, choices), work_overfills(job, worked[::-1], choices)
    assert forward.entry("B") == backward.entry("B")
    assert set(forward.sheet.steps) == set(backward.sheet.steps)


def test_scatter_without_the_hole_is_told_first(folder):
    job = write(
        folder,
        tables=(
            '[scatter]\ndispenser = {mean = 0.0, sd = 0.01}\n[scatter.group.B]\nhole_diameter = {mean = "0.2 mm", sd ='
            ' "0.1 mm"}\n'
        ),
    )
    said = "Scatter of the hole's diameter is left out for A: overfill and short holes may come out too small."
    assert part_of(job).sheet.words[0].startswith(said)
    assert compute(job).notices[0].words.startswith(said)
    assert sum("is left out for" in notice.words for notice in compute(job).notices) == 1


def test_a_hole_that_is_told_not_to_vary_counts_as_left_out(folder):
    still = write(
        folder,
        tables='[scatter]\nhole_diameter = {mean = "0.2 mm", sd = "0 mm"}\ndispenser = {mean = 0.0, sd = 0.01}\n',
    )
    assert "left out for A, B" in part_of(still).sheet.words[0]
