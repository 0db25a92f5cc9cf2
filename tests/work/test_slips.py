"""Doses that no careful person means, and holes that are wider than their bit: worked by hand."""

import math

import pytest
from jobparts import worked_groups

from calc.base.identity import DOSE
from calc.work.overfill.setting import read_setting
from calc.work.results import compute

HEADER = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"
SLOPE = math.tan(math.radians(25))  # of a tip with an included angle of 130°
SCATTER = '[scatter]\nbit = "medium"\nbar_mass = "standard"\n'


def checks(folder, row="S1,96,8,12,110,,overhead,0.20,"):
    folder.schedule(HEADER, row)
    (worked,) = worked_groups(folder.load())
    return {check.name: check for check in worked.sheet.checks}, worked


def with_scatter(folder, *lines):
    """Load the job with a table of scatter; group B gets a bar and a bit that the tables know."""
    folder.schedule(HEADER, "A,12,16,20,200,,down,,", "B,8,12,16,220,10,overhead,0.2,")
    folder.write("job.toml", folder.read("job.toml") + SCATTER + "".join(f"{line}\n" for line in lines))
    return folder.load()


# ---- slips ----


def test_a_dispenser_that_gives_forty_times_the_dose_fails(folder):
    folder.edit('"1 mL"', '"300 mL"')
    found, worked = checks(folder)
    # pi/4 (144 - 64) 110 + 105.5 = 7017; with 20 per cent 8420 mm³; the empty hole holds pi/4 144 110 + 105.5 = 12546
    # mm³
    tip = math.pi / 24 * 12**3 * SLOPE
    assert worked.dose == pytest.approx(1.2 * (math.pi / 4 * 80 * 110 + tip))
    assert worked.rounded == 300_000
    holds, rounding = found["holds"], found["rounding"]
    assert (holds.demand, holds.resistance) == (
        pytest.approx(300.0),
        pytest.approx((math.pi / 4 * 144 * 110 + tip) / 1000),
    )
    assert holds.resistance == pytest.approx(12.546, abs=5e-4)
    assert rounding.demand == pytest.approx(100 * (300 / 8.420376 - 1), rel=1e-6)
    assert (holds.verdict, rounding.verdict) == ("fails", "fails")
    assert "graduation" in rounding.advice
    assert "equipment.rounding_share" in rounding.advice


def test_rounding_up_by_the_stated_share(folder):
    folder.edit('"1 mL"', '"12 mL"')
    assert checks(folder)[0]["rounding"].used == "0.86"  # 12/8.4204 is 42.5 per cent more, of 50
    folder.edit("point_angle", "rounding_share = 0.4\npoint_angle")
    found, worked = checks(folder)
    assert found["rounding"].resistance == pytest.approx(40)
    assert found["rounding"].verdict == "fails"
    assert worked.sheet.step("01.S1.f_round").value == pytest.approx(12 / 8.4203762 - 1, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "said"),
    [("0", "above 0 to 2"), ("2.5", "above 0 to 2"), ("-0.1", "above 0 to 2"), ('"0.5"', "rounding_share")],
)
def test_a_share_that_cannot_be_is_refused(folder, text, said):
    folder.edit("point_angle", f"rounding_share = {text}\npoint_angle")
    assert said in folder.only()


@pytest.mark.parametrize(("row", "name", "used", "verdict"), [
    ("A,1,16,20,16,,down,,", "depth", "1.00", "passes"),
    ("A,1,16,20,15.9,,down,,", "depth", "1.01", "fails"),
    ("A,1,16,48,200,,down,,", "width", "1.00", "passes"),
    ("A,1,16,48.5,200,,down,,", "width", "1.02", "fails"),
])  # fmt: skip
def test_a_hole_too_shallow_or_too_wide(folder, row, name, used, verdict):
    check = checks(folder, row)[0][name]
    assert (check.used, check.verdict) == (used, verdict)


def test_a_broken_mouth_does_not_make_a_hole_too_wide(folder):
    folder.write(
        "job.toml",
        folder.read("job.toml")
        + '[measured.A]\ndepth = ["0 mm", "10 mm", "200 mm"]\ndiameter = ["60 mm", "20 mm", "20 mm"]\n',
    )
    check = checks(folder, "A,1,16,20,200,,down,,")[0]["width"]
    # a frustum of pi/12 10 (3600 + 1200 + 400), and pi/4 400 190: as much as a straight hole of 21.60 mm
    volume = math.pi / 12 * 10 * 5200 + math.pi / 4 * 400 * 190
    assert check.demand == pytest.approx(math.sqrt(4 / math.pi * volume / 200), rel=1e-9)
    assert check.demand == pytest.approx(21.60, abs=5e-3)
    assert check.passes


def test_all_that_is_given_passes_as_before(folder):
    names = [check.name for check in compute(folder.load()).sheet_of(DOSE).checks]
    every = ["full", "pack", "holds", "rounding", "depth", "width"]
    assert [name for name in names if name != "fit"] == every * 2


# ---- wider than the bit ----


def required(d_0):
    return math.pi / 4 * (d_0**2 - 256) * 200 + math.pi / 24 * d_0**3 * SLOPE


def test_what_a_hole_is_over_its_bit_is_in_the_dose_and_in_the_scatter(folder):
    job = with_scatter(folder, 'over_bit = "0.2 mm"')
    results = compute(job)
    worked = results.worked[0]
    assert worked.required == pytest.approx(required(20.2))
    assert worked.required / required(20.0) == pytest.approx(1.0553, abs=5e-5)
    step = results.sheet_of(DOSE).step("01.A.d_0")
    assert (step.value, [given.origin for given in step.inputs]) == (
        pytest.approx(20.2), ["schedule.csv row 2, hole_diameter", "job.toml, scatter.over_bit"],
    )  # fmt: skip
    # a medium bit of 20 mm cuts 20.30 to 20.40 mm
    assert [given for given in read_setting(job, job.groups[0]).setting.spreads if given[0] == "d_0"] == [
        ("d_0", pytest.approx(20.5), pytest.approx(20.6), True)
    ]
    assert worked.entry()["hole_diameter_mm"] == 20
    assert not any("over_bit" in sentence for sentence in results.not_covered)


def test_a_little_more_on_the_hole_makes_few_short_ones_many(folder):
    rule = 'rule = "probability"\nshort_probability = 0.05\nshare = 0.10 '
    folder.edit("share = 0.10 ", rule)
    plain = compute(with_scatter(folder)).parts[0].groups["A"]
    dose = float(plain.need.quantile(0.95))
    assert plain.probability_of(dose) == pytest.approx(0.05, abs=1e-3)
    folder.edit('bit = "medium"', 'bit = "medium"\nover_bit = "0.2 mm"')
    wide = compute(folder.load()).parts[0].groups["A"]
    assert wide.probability_of(dose) == pytest.approx(1 / 3, abs=0.1)
    assert wide.probability <= 0.05
    assert wide.dose > plain.dose


@pytest.mark.parametrize(
    ("more", "marks"),
    [
        ((), "A, B"),
        (('over_bit = "0 mm"',), None),
        (('[scatter.group.B]\nover_bit = "0.1 mm"',), "A"),
        (('[scatter.group.A]\nhole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}',), "B"),
    ],
)
def test_a_hole_that_nobody_says_is_wider_is_not_covered(folder, more, marks):
    told = [
        sentence for sentence in compute(with_scatter(folder, *more)).not_covered if "wider than their bit" in sentence
    ]
    assert len(told) == (marks is not None)
    if marks:
        assert f"for {marks}, and none is taken" in told[0]


def test_without_scatter_nobody_says_either(folder):
    assert any("for A, B, and none is taken" in sentence for sentence in compute(folder.load()).not_covered)


def test_a_deviation_of_the_hole_holds_it_already(folder):
    folder.write(
        "job.toml",
        folder.read("job.toml") + '[scatter]\nhole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}\nover_bit = "0.1 mm"\n',
    )
    assert "over_bit beside bit, or hole_diameter alone" in folder.only()


def test_a_group_says_in_its_own_way(folder):
    job = with_scatter(
        folder, 'over_bit = "0.2 mm"', '[scatter.group.A]\nhole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}'
    )
    assert (job.over_bit(job.groups[0]), job.bored(job.groups[0])) == (0.0, 20.0)
    assert [given for given in read_setting(job, job.groups[0]).setting.spreads if given[0] == "d_0"] == [
        ("d_0", pytest.approx(20.3), 0.1, False)
    ]
