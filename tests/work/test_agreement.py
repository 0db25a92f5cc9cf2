"""Measured holes against assumed ones: by hand, and that the larger need governs or fails."""

import math

import pytest

from calc.base.identity import EVIDENCE
from calc.files.job import demo_job
from calc.work.load import load_job
from calc.work.results import compute

# 16 mm in 20 mm, 200 mm, flat: at the mean diameter of 20.3 mm pi/4 (412.09 - 256) 200 = 24.5186 mL; 0.1 mm is pi/2
# 20.3 200 0.1 = 0.6377 mL.
NEED, COMMON = math.pi / 4 * (20.3**2 - 256) * 0.2, math.pi / 2 * 20.3 * 0.2 * 0.1
NOMINAL = math.pi / 4 * 144 * 0.2
OWN = 1 + 0.1**2 / 12  # variance from hole to hole for a standard deviation of 1 mL, read to 0.1 mL
RULE = 'rule = "probability"\nshort_probability = 0.05\nshare = 0.10 '


def results_of(folder, *, mean, rule=RULE, common='["hole_diameter"]', holes=30, sd="1 mL", more=""):
    folder.schedule("mark,count,bar,hole_diameter [mm],embedment [mm],direction", "A,12,16,20,200,down")
    folder.edit("share = 0.10 ", rule)
    folder.edit('"130 °"', '"180 °"')
    tables = f'[scatter]\nhole_diameter = {{mean = "0.3 mm", sd = "0.1 mm"}}\ncommon = {common}\nseries = 20\n'
    tables += f'[evidence.A]\nholes = {holes}\nmean = "{mean} mL"\nsd = "{sd}"\n{more}'
    folder.write("job.toml", folder.read("job.toml") + tables)
    return compute(folder.load())


def checks(results):
    return {check.name: check for check in results.sheet_of(EVIDENCE).checks}


@pytest.mark.parametrize(
    ("mean", "verdict"), [(24.6, "passes"), (25.4, "passes"), (25.6, "fails"), (23.6, "passes"), (23.4, "fails")]
)
def test_the_means_by_hand(folder, mean, verdict):
    results = results_of(folder, mean=mean)
    # 30 holes come from two series at least: what a hole has of its own averages out over 30, the common diameter over
    # two
    u = math.sqrt(OWN / 30 + COMMON**2 / 2)
    assert u == pytest.approx(0.4865, abs=5e-5)
    check = checks(results)["agrees"]
    assert check.demand == pytest.approx(abs(mean - NEED) / u, rel=1e-6)
    assert (check.resistance, check.verdict) == (2.0, verdict)
    step = results.sheet_of(EVIDENCE).step
    assert step("03.A.n_ser").value == 2
    assert step("03.A.u_dif").value == pytest.approx(1000 * u, rel=1e-6)
    assert step("03.A.zeta").value == pytest.approx((mean - NEED) / u, rel=1e-6)
    if verdict == "fails":
        assert f"{mean:.2f} mL measured and 24.52 mL assumed" in check.advice


def test_without_anything_in_common_all_averages_out(folder):
    check = checks(results_of(folder, mean=25.4, common="[]"))["agrees"]
    assert check.demand == pytest.approx((25.4 - NEED) * math.sqrt(30 / OWN), rel=1e-6)  # 4.8 standard errors
    assert check.verdict == "fails"


def test_holes_alike_are_known_to_the_resolution_of_a_reading(folder):
    check = checks(results_of(folder, mean=25.4, common="[]", sd="0 mL"))["agrees"]
    assert check.demand == pytest.approx((25.4 - NEED) / (0.1 / math.sqrt(12 * 30)), rel=1e-6)
    assert check.verdict == "fails"


def test_holes_of_another_size_are_not_compared(folder):
    results = results_of(folder, mean=12.3, sd="0.1 mL", more='nominal = "12 mL"\n')
    assert "agrees" not in checks(results)
    assert any("not of the group's size" in words for words in results.sheet_of(EVIDENCE).words)


def test_where_the_measured_holes_ask_for_more_they_govern(folder):
    results = results_of(folder, mean=25.0)
    group = results.parts[0].groups["A"]
    # 25 + 2.220 x 1 (n 30, 0.95, 0.95) over 22.619: 20.34 per cent, rounded up; by the assumed scatter 24.52 + 1.645 x
    # 0.638: 13.1 per cent
    assert group.choice.rule == "measured"
    assert group.choice.share == pytest.approx(math.ceil(1000 * ((25 + 2.220) / NOMINAL - 1)) / 1000, abs=1.1e-3)
    assert group.choice.option("probability").share == pytest.approx((NEED + 1.6449 * COMMON) / NOMINAL - 1, abs=2e-3)
    assert checks(results)["measured"].passes
    assert any("govern: A 20.4 %" in words or "govern: A 20.3 %" in words for words in results.sheets[1].words)


def test_where_they_ask_for_less_the_assumed_scatter_stays(folder):
    group = results_of(folder, mean=24.0, sd="0.1 mL").parts[0].groups["A"]
    assert (group.choice.rule, group.choice.share) == ("probability", group.choice.option("probability").share)


def test_a_fixed_share_that_is_too_little_fails(folder):
    results = results_of(folder, mean=25.0, rule="share = 0.10 ")
    assert results.parts[0].groups["A"].choice.rule == "share"
    assert checks(results)["measured"].verdict == "fails"


def test_the_demo_says_that_its_bit_was_worn(tmp_path):
    """With the medium bit of the other groups the means of the demo, 14.39 and 15.17 mL, do not agree."""
    job = load_job(demo_job())
    assert checks(compute(job))["agrees"].passes
    for file in job.folder.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert '[scatter.group.S2]\nbit = "worn"\n' in text
    (tmp_path / "job.toml").write_text(text.replace('[scatter.group.S2]\nbit = "worn"\n', ""), encoding="utf-8")
    check = checks(compute(load_job(tmp_path)))["agrees"]
    # 0.776 mL; 1.0628/sqrt(30) = 0.194 and, of bit and bars, sqrt(0.115² + 0.445²)/sqrt(2) = 0.325 mL
    assert check.demand == pytest.approx(0.776 / math.hypot(0.194, 0.325), abs=0.01)
    assert check.verdict == "fails"
