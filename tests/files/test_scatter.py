"""The tables about scatter in the job file: what is read, and every sentence about what is wrong."""

import tomllib

import jsonschema
import pytest
from scipy import stats

from calc.files.job import demo_job
from calc.files.scatter import Overfill, bit_deviation
from calc.files.tables import json_schema
from calc.work.load import load_job

OVERFILL = 'share = 0.10     # ten per cent\nreason = "for tests"\n'
SCATTER = """\
[scatter]
hole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}
bar_mass = {low = -0.02, high = 0.02}
embedment = {low = "-2 mm", high = "2 mm"}
voids = {low = 0.0, high = 0.02}
dispenser = {mean = 0.0, sd = 0.01}
common = ["hole_diameter"]
series = 10
seed = 3
correlation = [{between = ["hole_diameter", "embedment"], r = 0.3}]
[scatter.group.B]
bar_mass = {mean = 0.01, sd = 0.0}
series = 4
"""
COST = """\
[cost]
currency = "cost units"
adhesive = {price = 20.0, per = "400 mL"}
short_per_mL = 0.2
short_per_hole = 25.0
"""
JUDGEMENT = """\
[judgement]
margin = 0.3
sd_hole = 0.1
sd_series = 0.1
sees = 0.5
level_sd = 0.03
first_margin = 0.05
"""
EVIDENCE = """\
[evidence.A]
holes = 10
mean = "24 mL"
sd = "1 mL"
largest = "26 mL"
[evidence.A.excluded]
"hole 4" = "broke out"
"""
ALL = SCATTER + COST + JUDGEMENT + EVIDENCE


@pytest.fixture
def full(folder):
    folder.write("job.toml", folder.read("job.toml") + ALL)
    return folder


def test_what_is_read(full):
    job = full.load()
    for_a, for_b = job.scatter.of("A"), job.scatter.of("B")
    assert for_a.spreads["hole_diameter"].numbers == (0.3, 0.1, False)
    assert for_a.spreads["bar_mass"].numbers == (-0.02, 0.02, True)
    assert for_b.spreads["bar_mass"].numbers == (0.01, 0.0, False)
    assert for_b.spreads["hole_diameter"] == for_a.spreads["hole_diameter"]
    assert (for_a.series, for_b.series, for_b.common, job.scatter.seed) == (10, 4, ("hole_diameter",), 3)
    assert (for_a.key_of("bar_mass"), for_b.key_of("bar_mass")) == ("scatter.bar_mass", "scatter.group.B.bar_mass")
    assert for_a.correlation == (("hole_diameter", "embedment", 0.3),)
    assert job.cost.waste == pytest.approx(20.0 / 400_000)
    assert job.judgement.sees == 0.5
    assert (job.evidence["A"].mean, job.evidence["A"].excluded) == (24_000.0, {"hole 4": "broke out"})
    jsonschema.validate(tomllib.loads(full.read("job.toml")), json_schema())


def test_deviations_become_distributions(full):
    full.edit('{mean = "0.3 mm", sd = "0.1 mm"}', '{mean = "0.01 in", sd = "0.002 in"}')
    spreads = full.load().scatter.of("A").spreads
    around = spreads["hole_diameter"].around(20.0)
    assert (around.mean(), around.std()) == (pytest.approx(20.254), pytest.approx(0.0508))
    limited = spreads["embedment"].around(200.0)
    assert (limited.support(), limited.dist.name) == ((198.0, 202.0), stats.uniform.name)
    assert full.load().scatter.of("B").spreads["bar_mass"].around(0.0) == 0.01  # sd zero: a number


def test_a_group_replaces_bit_by_diameter_and_back(full):
    full.edit('hole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}', 'bit = "new"')
    full.edit("[scatter.group.B]\n", '[scatter.group.B]\nhole_diameter = {mean = "0 mm", sd = "0.1 mm"}\n')
    full.edit("22,220", "20,220", "schedule.csv")
    scatter = full.load().scatter
    assert (scatter.of("A").bit, "hole_diameter" in scatter.of("A").spreads) == ("new", False)
    assert (scatter.of("B").bit, scatter.of("B").key_of("hole_diameter")) == (None, "scatter.group.B.hole_diameter")
    assert scatter.of("A").key_of("hole_diameter") == "scatter.bit"
    assert bit_deviation(20.0, "new") == (pytest.approx(0.5), pytest.approx(0.55))


EDITS = [
    ('sd = "0.1 mm"', 'sd = "-0.1 mm"', "scatter.hole_diameter.sd", ["'-0.1 mm' is out of range", "from 0"]),
    ('sd = "0.1 mm"', 'sd = "0,1 mm"', "scatter.hole_diameter.sd", ["has a comma"]),
    ('sd = "0.1 mm"', 'sd = "0.1"', "scatter.hole_diameter.sd", ["has no unit", "accepted"]),
    ('sd = "0.1 mm"', "sd = 0.1", "scatter.hole_diameter.sd", ["'0.1' is not a text with a unit"]),
    ('sd = "0.1 mm"', 'sd = "0.1 mL"', "scatter.hole_diameter.sd", ["wrong kind of unit"]),
    (
        '{mean = "0.3 mm", sd = "0.1 mm"}',
        '{mean = "0.3 mm"}',
        "scatter.hole_diameter",
        ["mean and sd, or low and high, here mean given"],
    ),
    (
        '{mean = "0.3 mm", sd = "0.1 mm"}',
        '{mean = "0.3 mm", high = "1 mm"}',
        "scatter.hole_diameter",
        ["here high, mean given"],
    ),
    ('{low = "-2 mm", high = "2 mm"}', '{low = "2 mm", high = "-2 mm"}', "scatter.embedment", ["limits are reversed"]),
    ("{low = -0.02, high = 0.02}", "{low = 0.02, high = -0.02}", "scatter.bar_mass", ["limits are reversed"]),
    ("{low = -0.02, high = 0.02}", '"usual"', "scatter.bar_mass", ["'usual' is not accepted", '"standard"']),
    ("{low = -0.02, high = 0.02}", "{standard = true}", "scatter.bar_mass", ['bar_mass = "standard"']),
    ("sd = 0.01}", "sd = -0.01}", "scatter.dispenser.sd", ["'-0.01' is out of range", "from 0 to 1"]),
    ("sd = 0.01}", "sd = nan}", "scatter.dispenser.sd", ["not a finite number"]),
    ("sd = 0.01}", 'sd = "0.01"}', "scatter.dispenser.sd", ["not a bare number"]),
    (
        "[scatter]\n",
        '[scatter]\nbit = "blunt"\n',
        "scatter.bit",
        ["'blunt' is not accepted", "'worn', 'medium', 'new'"],
    ),
    ("[scatter]\n", '[scatter]\nbit = "new"\n', "scatter", ["bit and hole_diameter are both given"]),
    (
        'common = ["hole_diameter"]',
        'common = ["weather"]',
        "scatter.common[0]",
        ["'weather' is not accepted", "'hole_diameter'"],
    ),
    ("series = 10", "series = 0", "scatter.series", ["'0' is out of range", "from 1"]),
    ("series = 10", "series = 1.5", "scatter.series", ["not a whole number"]),
    ("seed = 3", "seed = -1", "scatter.seed", ["out of range"]),
    ("r = 0.3", "r = 1.0", "scatter.correlation[0].r", ["out of range", "below 1"]),
    (
        '["hole_diameter", "embedment"]',
        '["embedment", "embedment"]',
        "scatter.correlation[0]",
        ["two different inputs"],
    ),
    (
        '["hole_diameter", "embedment"]',
        '["hole_diameter", "overdrill"]',
        "scatter.correlation",
        ["overdrill does not scatter"],
    ),
    (
        "[scatter.group.B]",
        "[scatter.group.BB]",
        "scatter.group.BB",
        ["'BB' is not the mark of a bar group", "did you mean B?"],
    ),
    (
        "[scatter.group.B]\n",
        "[scatter.group.B]\nhole_diametre = 1\n",
        "scatter.group.B.hole_diametre",
        ["did you mean hole_diameter?"],
    ),
    ("price = 20.0", "price = 0.0", "cost.adhesive.price", ["out of range", "above 0"]),
    ('per = "400 mL"', 'per = "400 g"', "cost.adhesive.per", ["wrong kind of unit"]),
    ("short_per_mL = 0.2", "short_per_mL = -1.0", "cost.short_per_mL", ["'-1.0' is out of range"]),
    ('currency = "cost units"\n', "", "cost.currency", ["missing"]),
    ("sees = 0.5", "sees = 1.5", "judgement.sees", ["'1.5' is out of range", "from 0 to 1"]),
    ("margin = 0.3\n", "", "judgement.margin", ["the key judgement.margin is missing"]),
    (
        "holes = 10",
        "holes = 1",
        "evidence.A.holes",
        ["'1' is too few", "from 2", "one hole tells nothing about scatter"],
    ),
    ('sd = "1 mL"', 'sd = "-1 mL"', "evidence.A.sd", ["out of range"]),
    ('largest = "26 mL"', 'largest = "23 mL"', "evidence.A", ["largest is below the mean"]),
    ('largest = "26 mL"', 'ordered = "26 mL"', "evidence.A", ["rank and ordered together"]),
    ('largest = "26 mL"', 'rank = 11\nordered = "26 mL"', "evidence.A", ["rank is above the number of holes, 10"]),
    ('largest = "26 mL"', 'file = "site.csv"', "evidence.A.file", ["'site.csv' is not there"]),
    ('largest = "26 mL"', 'file = "../site.csv"', "evidence.A.file", ["leads out of the job's folder"]),
    (
        "[evidence.A]\n",
        "[evidence.C]\nholes = 3\nmean = '1 mL'\nsd = '0 mL'\n[evidence.A]\n",
        "evidence.C",
        ["'C' is not the mark"],
    ),
    (OVERFILL, 'reason = "x"\n', "overfill", ["share is missing", 'rule = "probability"']),
    (OVERFILL, 'rule = "feel"\n', "overfill.rule", ["'feel' is not accepted", "'probability'"]),
    (
        OVERFILL,
        'rule = "probability"\nshort_probability = 0.0\n',
        "overfill.short_probability",
        ["out of range", "above 0 and below 1"],
    ),
    (OVERFILL, 'rule = "probability"\nshort_probability = 1.0\n', "overfill.short_probability", ["out of range"]),
    (OVERFILL, 'rule = "probability"\nconfidence = 95.0\n', "overfill.confidence", ["'95.0' is out of range"]),
]


@pytest.mark.parametrize(
    ("old", "new", "key", "parts"), EDITS, ids=[f"{i}-{key}" for i, (_, _, key, _) in enumerate(EDITS)]
)
def test_sentences(full, old, new, key, parts):
    full.edit(old, new)
    message = full.only()
    assert message.startswith(f"job.toml, key {key}: "), message
    for part in parts:
        assert part in message


@pytest.mark.parametrize(
    ("rule", "tables", "parts"),
    [
        ("probability", COST, ["needs the table [scatter]"]),
        ("cost_volume", SCATTER, ["needs the table [cost]", "short_per_mL"]),
        (
            "cost_hole",
            SCATTER + COST.replace("short_per_hole = 25.0\n", ""),
            ["cost of a short hole", "cost.short_per_hole is missing"],
        ),
        (
            "cost_volume",
            SCATTER + COST.replace("short_per_mL = 0.2\n", ""),
            ["each mL that is missing", "cost.short_per_mL is missing"],
        ),
        ("measured", SCATTER, ["none of A;", "[evidence.A]", "overfill of its own"]),
    ],
)
def test_what_a_rule_needs(folder, rule, tables, parts):
    folder.edit(OVERFILL, f'rule = "{rule}"\n')
    folder.write("job.toml", folder.read("job.toml") + tables)
    message = folder.only()
    assert message.startswith(f"job.toml, key overfill.rule: '{rule}' needs ")
    for part in parts:
        assert part in message


def test_own_overfill_needs_no_measured_holes(full):
    full.edit(OVERFILL, 'rule = "measured"\n')  # B has an overfill of its own
    assert full.load().overfill.rule == "measured"


def test_unknown_bit_size_names_the_sizes(full):
    full.edit('hole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}', 'bit = "medium"')
    message = full.only()  # 22 mm is not in the table, 20 mm is
    assert message.startswith("job.toml, key scatter.bit: 'medium' has no limits for the holes of B")
    assert "22.0 mm bit is not in the table" in message
    assert "16, 18, 20, 25" in message


def test_standard_tolerance_only_where_one_is_at_hand(full):
    full.edit("bar_mass = {low = -0.02, high = 0.02}", 'bar_mass = "standard"')
    full.edit("bar_mass = {mean = 0.01, sd = 0.0}\n", "")
    message = full.only()
    assert message.startswith("job.toml, key scatter.bar_mass: 'standard' has no limits for B")
    assert "ASTM A615" in message


@pytest.mark.parametrize(
    ("old", "new", "key", "chance"),
    [
        # N(20.3, 2) against a bar of 16 mm whose mass deviates by ±2 %: Φ(−2.15), widened a little by the bar
        ('sd = "0.1 mm"', 'sd = "2 mm"', "scatter.hole_diameter", "0.016"),
        ('{low = "-2 mm", high = "2 mm"}', '{low = "-300 mm", high = "100 mm"}', "scatter.embedment", "0.25"),
        ("voids = {low = 0.0,", "voids = {low = -0.02,", "scatter.voids", "0.5"),
    ],
)
def test_impossible_scatter_is_refused_with_its_probability(full, old, new, key, chance):
    full.edit(old, new)
    messages = full.problems()
    assert all(message.startswith(f"job.toml, key {key}: ") for message in messages)
    assert f"probability {chance}" in messages[0]
    assert "(group A)" in messages[0]


def test_sd_zero_is_allowed(full):
    full.edit('sd = "0.1 mm"', 'sd = "0 mm"')
    full.edit('correlation = [{between = ["hole_diameter", "embedment"], r = 0.3}]\n', "")
    assert full.load().scatter.of("A").spreads["hole_diameter"].around(20.0) == 20.3


def test_several_problems_are_told_at_once(full):
    full.edit(OVERFILL, 'rule = "measured"\n')
    full.edit("[evidence.A]", "[evidence.C]")
    full.edit("[evidence.A.excluded]", "[evidence.C.excluded]")
    full.edit("[scatter.group.B]", "[scatter.group.D]")
    assert len(full.problems()) == 3


def test_the_file_of_the_measurements_belongs_to_the_job(full):
    full.edit('largest = "26 mL"', 'file = "site/first.csv"')
    (full.path / "site").mkdir()
    (full.path / "site" / "first.csv").write_text("hole,mark,volume [mL]\n", encoding="utf-8")
    job = full.load()
    assert job.files == (
        *(job.folder / n for n in ("job.toml", "adhesive.toml", "schedule.csv")),
        job.folder / "site/first.csv",
    )


def test_fixed_share_only_when_it_was_given():
    assert Overfill(share=0.0).fixed == 0.0
    assert Overfill(rule="probability").fixed is None


def test_demos():
    metric, us = load_job(demo_job()), load_job(demo_job("us"))
    assert (metric.overfill.rule, us.overfill.rule) == ("probability", "share")
    assert metric.judgement is not None
    assert metric.cost is not None
    assert us.scatter.of("A5").spreads["hole_diameter"].numbers == (pytest.approx(0.1016), pytest.approx(0.0508), False)


def test_evidence_of_the_demo_is_what_its_file_says():
    from calc.evidence.readings import summary
    from calc.files.evidence import read_measurements

    job = load_job(demo_job())
    evidence = job.evidence["S2"]
    found = summary(values=read_measurements(job.folder / evidence.file, job=job).of("S2").kept("mL").values)
    assert (evidence.holes, evidence.mean) == (found.n, pytest.approx(found.mean * 1000, abs=0.05))
    assert evidence.sd == pytest.approx(found.sd * 1000, abs=0.05)
