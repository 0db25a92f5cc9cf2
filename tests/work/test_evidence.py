"""Measured holes of a job: what follows from them, whether the doses give it.

And whether the job file says the same as its CSV.
"""

import csv
import math
import re
import shutil
import statistics

import pytest
from jobparts import worked_groups

from calc.base.units import convert
from calc.files.job import demo_job
from calc.files.problems import InputErrors
from calc.show.evidence import views as evidence_views
from calc.work.evidence import MeasuredWork, growth_of, stated, study, up_to_tenth, work_measured
from calc.work.load import load_job
from calc.work.results import compute

K_30 = 2.220  # Montgomery & Runger, 7th edition, Table XII: n 30, share 0.95, confidence 0.95
TABLE = re.compile(r"\[evidence\.S2\]\n(?:.+\n)*")


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(demo_job().parent, tmp_path / "job")
    return tmp_path / "job"


def load(folder, table=None, replacing=()):
    """Load the demo with another evidence table, and other texts replaced."""
    path = folder / "job.toml"
    text = path.read_text(encoding="utf-8")
    assert TABLE.search(text)
    if table is not None:
        text = TABLE.sub(lambda _: table, text)
    for old, new in replacing:
        assert old in text, old
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return load_job(path)


def measure(job):
    return work_measured(job, compute(job).worked)


def volumes():
    with (demo_job().parent / "measurements.csv").open(encoding="utf-8") as file:
        return {row["hole"]: float(row["volume [mL]"]) for row in csv.DictReader(file)}


def test_the_demo_by_other_means(folder):
    group = measure(load(folder)).groups["S2"]
    values = list(volumes().values())
    mean, sd = statistics.mean(values), statistics.stdev(values)
    # The volumes are printed to a tenth of a millilitre: a rectangular share of 0.1/√12 (JCGM 100, F.2.2.1, from
    # memory).
    assert group.resolution == pytest.approx(100.0)
    scatter = math.hypot(sd, 0.1 / math.sqrt(12))
    assert convert(group.limit, "mm³", "mL") == pytest.approx(mean + K_30 * scatter, abs=0.0005 * sd + 1e-9)
    required = group.worked.required
    assert group.overfill == pytest.approx(group.limit / required - 1, abs=1e-12)
    assert group.dispensed == pytest.approx(group.worked.rounded / required - 1, abs=1e-12)
    assert group.check.passes == (group.worked.rounded >= group.limit)
    assert group.differences == ()


def test_steps_carry_ids_and_origins(folder):
    sheet = measure(load(folder)).sheet
    assert [step.id for step in sheet.steps] == [
        "03.S2.s_V",
        "03.S2.V_lim",
        "03.S2.overfill",
        "03.S2.V_lim.next",
        "03.S2.overfill.dispensed",
    ]
    scatter, limit, overfill, _, dispensed = sheet.steps
    assert {i.name: i.origin for i in scatter.inputs}["delta_V"] == "last printed digit in measurements.csv"
    assert {i.name: i.origin for i in limit.inputs}["V_m"] == "step 03.S2.V_m"
    found = {one.name: one for one in sheet.found}
    assert found["V_m"].inputs[0].origin == "measurements.csv, rows of this group that are not left out"
    assert (found["n_hole"].value, found["V_m"].way) == (30.0, "summed")
    assert {i.name: i.origin for i in overfill.inputs} == {"V_dose": "step 03.S2.V_lim", "V_req": "step 01.S2.V_req"}
    assert {i.name: i.origin for i in dispensed.inputs}["V_dose"] == "step 01.S2.V_round"
    assert sheet.notebook == "03_measured_holes"


def test_the_rule_measured_takes_the_same_overfill(folder):
    # Every other group gets an overfill of its own, so that the rule needs no evidence of it.
    path = folder / "schedule.csv"
    rows = list(csv.DictReader(path.open(encoding="utf-8")))
    for row in rows:
        row["overfill"] = "" if row["mark"] == "S2" else row["overfill"] or "0.2"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    job = load(folder, replacing=[('rule = "probability"', 'rule = "measured"')])
    group = measure(job).groups["S2"]
    assert group.worked.case.overfill == up_to_tenth(group.overfill)
    assert group.check.passes


def test_results_entry(folder):
    work = measure(load(folder))
    assert isinstance(work, MeasuredWork)
    assert work.totals() == {}
    assert work.entry("W3") == {}
    entry = work.entry("S2")["measurements"]
    assert (entry["holes"], entry["left_out"], entry["share"], entry["confidence"]) == (30, {}, 0.95, 0.95)
    assert entry["mean_mL"] == pytest.approx(statistics.mean(volumes().values()), rel=1e-12)
    assert entry["overfill"] == work.groups["S2"].overfill
    assert len(entry["sha256"]) == 64


def test_nothing_measured_is_none_and_still_says_what_n_is_worth(folder):
    job = load(folder, table="")
    assert measure(job) is None
    rows = {row.n: row for row in growth_of(job).rows}
    assert rows[1].factor is None
    assert rows[30].factor == pytest.approx(K_30, abs=0.0005)
    assert stated(job) == (0.95, 0.95)


def test_a_hole_that_stands_apart_stays_and_is_named(folder):
    work = measure(load(folder))
    assert work.groups["S2"].n == 30
    assert any("hole 19 (19.60 mL) stands apart from the others and is kept" in notice for notice in work.sheet.words)
    assert any("do not look normal" in notice and "59 measured holes" in notice for notice in work.sheet.words)


def test_a_hole_is_left_out_with_its_reason_from_either_file(folder):
    table = (
        '[evidence.S2]\nfile = "measurements.csv"\nholes = 29\nmean = "14.21 mL"\nsd = "0.41 mL"\nexcluded = {"19" ='
        ' "ran into a drain"}\n'
    )
    group = measure(load(folder, table=table)).groups["S2"]
    rest = [value for name, value in volumes().items() if name != "19"]
    assert group.n == 29
    assert group.differences == ()
    assert convert(group.mean, "mm³", "mL") == pytest.approx(statistics.mean(rest), rel=1e-12)
    assert group.entry()["left_out"] == {"19": "ran into a drain"}
    assert any(
        "Left out: hole 19 (19.6): ran into a drain" in notice for notice in (one.words for one in group.notices)
    )
    path = folder / "measurements.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("25,S2,13.3,,", "25,S2,13.3,spilled,"), encoding="utf-8")
    both = measure(load_job(folder)).groups["S2"]
    assert both.entry()["left_out"] == {"19": "ran into a drain", "25": "spilled"}
    assert any("holes = 29, and 28 are kept" in told for told in both.differences)


@pytest.mark.parametrize(
    ("key", "wrong", "said"),
    [
        ("mean", 'mean = "14.40 mL"', 'mean = "14.40 mL", and 14.3933 mL is measured'),
        ("sd", 'sd = "1.07 mL"', 'sd = "1.07 mL", and 1.06283 mL is measured'),
        ("holes", "holes = 31", "holes = 31, and 30 are kept"),
        ("largest", 'mean = "14.39 mL"\nlargest = "19.5 mL"', 'largest = "19.5 mL", and 19.6000 mL is measured'),
    ],
)
def test_numbers_that_are_not_those_of_the_file_are_told_and_the_file_counts(folder, key, wrong, said):
    good = {"holes": "holes = 30", "mean": 'mean = "14.39 mL"', "sd": 'sd = "1.063 mL"'}
    lines = good | {("mean" if key == "largest" else key): wrong}
    work = measure(
        load(folder, table="[evidence.S2]\n" + 'file = "measurements.csv"\n' + "\n".join(lines.values()) + "\n")
    )
    (told,) = work.groups["S2"].differences
    assert said in told
    assert told in work.sheet.words
    assert work.groups["S2"].n == 30


def test_rounded_numbers_are_no_difference(folder):
    table = '[evidence.S2]\nfile = "measurements.csv"\nholes = 30\nmean = "14.4 mL"\nsd = "1 mL"\nlargest = "19.6 mL"\n'
    assert measure(load(folder, table=table)).groups["S2"].differences == ()


def test_numbers_alone_count_when_no_file_is_named(folder):
    work = measure(
        load(folder, table='[evidence.S2]\nholes = 20\nmean = "14 mL"\nsd = "0.5 mL"\nresolution = "0.001 mL"\n')
    )
    group = work.groups["S2"]
    assert group.study is None
    assert convert(group.limit, "mm³", "mL") == pytest.approx(
        14 + 2.396 * 0.5, abs=0.0003
    )  # Montgomery & Runger: n 20, 0.95, 0.95
    assert any("states number, mean and standard deviation alone" in notice for notice in work.sheet.words)
    assert work.entry("S2")["measurements"]["sha256"] is None


def test_too_little_fails_and_the_advice_names_the_overfill(folder):
    table = '[evidence.S2]\nholes = 20\nmean = "16.00 mL"\nsd = "1 mL"\n'
    work = measure(load(folder, table=table, replacing=[('rule = "probability"', 'rule = "share"')]))
    (check,) = work.sheet.checks
    assert not check.passes
    needed = up_to_tenth(work.groups["S2"].overfill)
    assert f"an overfill of {100 * needed:.6g} % follows from the measured holes" in check.advice
    assert check.demand == pytest.approx(100 * (16 + 2.396 * 1) / 13.444707, abs=0.01)


FEW = [
    '[evidence.S2]\nholes = 2\nmean = "14 mL"\nsd = "5 mL"\n',
    '[evidence.S2]\nholes = 3\nmean = "14 mL"\nsd = "0 mL"\n',
    '[evidence.S2]\nholes = 13\nmean = "14 mL"\nsd = "0.1 mL"\n',
]


@pytest.mark.parametrize("table", FEW)
def test_too_few_holes_give_no_number(folder, table):
    """Three readings of 14 mL are no proof that all holes are alike: there is no overfill, and the check is owed."""
    job = load(folder, table=table)
    results = compute(job)
    work = work_measured(job, results.worked)
    group = work.groups["S2"]
    assert (group.limit, group.overfill) == (None, None)
    assert group.too_few.startswith("not enough holes")
    assert "share of 95 % with confidence 95 % takes 14 or more" in group.too_few
    assert (group.check.verdict, group.check.reason) == ("owed", group.too_few)
    assert "owed" in results.headline[0]
    assert not results.passes
    assert (work.entry("S2")["measurements"]["limit_mL"], work.entry("S2")["measurements"]["overfill"]) == (None, None)
    assert [step.name for step in work.sheet.steps] == ["s_V", "overfill.dispensed"]
    assert not any("measured" in step.name for step in results.sheets[1].steps)
    assert [(row.limit, row.overfill) for row in group.growth.rows] == [(None, None)] * len(group.growth.rows)
    shown = " ".join(
        view.markdown for view in (evidence_views.opening(job, work), *evidence_views.what_follows(job, work))
    )
    assert "not enough holes" in shown
    assert "measured holes ask for an overfill" not in shown


@pytest.mark.parametrize("table", FEW)
def test_the_rule_measured_refuses_too_few_holes(folder, table):
    path = folder / "schedule.csv"
    rows = list(csv.DictReader(path.open(encoding="utf-8")))
    for row in rows:
        row["overfill"] = "" if row["mark"] == "S2" else "0.2"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    job = load(folder, table=table, replacing=[('rule = "probability"', 'rule = "measured"')])
    with pytest.raises(
        InputErrors, match=r"gives no overfill for group S2: not enough holes: \d+ are measured.* takes 14 or more"
    ):
        compute(job)


def test_the_resolution_is_stated_or_read_off_the_last_digit(folder):
    def group(table, rows=None):
        if rows is not None:
            header = "hole,mark,volume [mL],exclude,note\n"
            lines = "".join(f"{i},S2,{row},,\n" for i, row in enumerate(rows))
            (folder / "measurements.csv").write_text(header + lines, encoding="utf-8")
        return measure(load(folder, table=table)).groups["S2"]

    numbers = 'holes = 20\nmean = "14 mL"\nsd = "0 mL"\n'
    whole = group(f'[evidence.S2]\nfile = "measurements.csv"\n{numbers}', ["14"] * 20)
    assert whole.resolution == 1000.0
    # Nothing scatters but the reading: 2.396 (Montgomery and Runger, n 20) of 1 mL/√12 more than 14 mL.
    assert convert(whole.limit, "mm³", "mL") == pytest.approx(14 + 2.396 / math.sqrt(12), abs=2e-4)
    assert whole.study.limit == pytest.approx(convert(whole.limit, "mm³", "mL"))
    assert whole.sd == 0
    # A spreadsheet drops the nought of 14.0: the row that shows most says what was read.
    assert group(f'[evidence.S2]\nfile = "measurements.csv"\n{numbers}', ["14"] * 19 + ["14.1"]).resolution == 100.0
    # What is stated counts, with a file and without.
    assert group(f'[evidence.S2]\nfile = "measurements.csv"\n{numbers}resolution = "0.5 mL"\n').resolution == 500.0
    assert group(f"[evidence.S2]\n{numbers}").resolution == 1000.0
    assert group(f'[evidence.S2]\n{numbers}largest = "14.0 mL"\n').resolution == 100.0


def test_less_than_nominal_takes_nothing_off(folder):
    work = measure(load(folder, table='[evidence.S2]\nholes = 30\nmean = "12 mL"\nsd = "0 mL"\n'))
    assert work.groups["S2"].overfill < 0
    assert work.sheet.checks[0].passes
    assert any("nothing is taken off" in notice for notice in work.sheet.words)
    assert up_to_tenth(work.groups["S2"].overfill) == 0


def test_an_overfill_measured_on_another_hole_is_carried_over(folder):
    table = '[evidence.S2]\nholes = 20\nmean = "28.00 mL"\nsd = "1 mL"\nnominal = "26.889415 mL"\n'
    group = measure(load(folder, table=table)).groups["S2"]
    assert group.overfill == pytest.approx((28 + 2.396) / 26.889415 - 1, abs=5e-5)
    assert group.check.demand == pytest.approx(100 * (1 + group.overfill))
    assert group.check.resistance == pytest.approx(100 * group.worked.rounded / group.worked.required)


@pytest.mark.parametrize(
    ("rows", "extra", "said"),
    [
        ("1,W3,40.1,,\n2,W3,40.7,,\n", "", "holds no measured hole of 'S2'"),
        ("1,S2,14.1,,\n", "", "one weighed hole tells nothing about scatter"),
        ("1,S2,14.1,,\n2,S2,14.3,spilled,\n", "", "one weighed hole tells nothing about scatter"),
        ("1,S2,14.1,,\n2,S2,14.3,,\n", 'excluded = {"7" = "spilled"}\n', "no measured hole is named '7'"),
        ('1,S2,"14,1",,\n2,S2,14.3,,\n', "", "row 2, column volume"),
    ],
)
def test_files_that_give_nothing_are_refused_in_a_sentence(folder, rows, extra, said):
    (folder / "measurements.csv").write_text("hole,mark,volume [mL],exclude,note\n" + rows, encoding="utf-8")
    job = load(
        folder, table='[evidence.S2]\nfile = "measurements.csv"\nholes = 2\nmean = "14.2 mL"\nsd = "0.1 mL"\n' + extra
    )
    with pytest.raises(InputErrors, match=re.escape(said)):
        work_measured(job, worked_groups(job))


def test_masses_take_the_density_of_the_adhesive_record(folder):
    (folder / "measurements.csv").write_text("hole,mark,mass [g]\n1,S2,23.1\n2,S2,24.75\n3,S2,23.1\n", encoding="utf-8")
    group = measure(
        load(folder, table='[evidence.S2]\nfile = "measurements.csv"\nholes = 3\nmean = "14.3 mL"\nsd = "0.6 mL"\n')
    ).groups["S2"]
    assert group.study.values == pytest.approx((14.0, 15.0, 14.0))  # the demo's adhesive: 1650 kg/m³


def test_holes_of_groups_without_evidence_are_told(folder):
    path = folder / "measurements.csv"
    path.write_text(path.read_text(encoding="utf-8") + "1,W3,40.1,,\n", encoding="utf-8")
    work = measure(load(folder))
    assert any("also holds measured holes of W3" in notice for notice in work.sheet.words)
    assert work.groups["S2"].study.names[18] == "19"


def test_a_job_in_us_units_shows_its_own_and_asks_for_the_same(folder):
    metric = measure(load(folder)).groups["S2"]
    us = measure(load(folder, replacing=[('units = "metric"', 'units = "us"')])).groups["S2"]
    assert us.study.unit == "fl oz"
    assert us.overfill == pytest.approx(metric.overfill, rel=1e-8)
    assert us.text(us.limit).endswith(" fl oz")
    assert us.differences == ()


def test_study_does_not_depend_on_the_unit():
    values, names = [14.1, 13.9, 14.4, 15.2, 13.8] * 3, "abcdefghijklmno"
    given = {"names": names, "reasons": {}, "share": 0.9, "confidence": 0.95}
    ml = study(values=values, V_req=13.0, resolution=0.1, **given)
    mm3 = study(values=[1000 * v for v in values], V_req=13000.0, unit="mm³", resolution=100.0, **given)
    assert mm3.overfill == pytest.approx(ml.overfill, rel=1e-12)
    assert [p.name for p in ml.short_of(14.3)] == list("cdhimn")


def test_study_asks_more_for_a_larger_share_or_confidence():
    def overfill(share, confidence):
        values, names = [14.1, 13.9, 14.4, 15.2] * 15, [str(i) for i in range(60)]
        return study(values=values, names=names, reasons={}, V_req=13.0, share=share, confidence=confidence).overfill

    assert overfill(0.9, 0.9) < overfill(0.95, 0.9) < overfill(0.99, 0.9) < overfill(0.99, 0.99)
    with pytest.raises(ValueError, match="share must be between 0 and 1"):
        overfill(1.0, 0.9)


@pytest.mark.parametrize(
    ("share", "rounded"), [(0.24604, 0.247), (0.247, 0.247), (-0.1, 0.0), (0.0, 0.0), (1.00001, 1.001)]
)
def test_rounding_up(share, rounded):
    assert up_to_tenth(share) == rounded
