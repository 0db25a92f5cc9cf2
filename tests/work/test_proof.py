"""Which bars are pulled to which load, and what is said where the job file does not have what it takes."""

import math

import pytest
from jobparts import with_actions, with_keys

from calc.files.design import lines_to_add
from calc.files.job import demo_job
from calc.work.load import load_job
from calc.work.results import compute
from calc.work.site.proof import ProofError, ProofRule, draw_bars, plan_proof_loads


@pytest.fixture(scope="module")
def job():
    return load_job(demo_job())


def by_mark(plan):
    return {group.mark: group for group in plan.groups}


def test_a_group_with_an_action_has_load_cap_and_check(job):
    plan = plan_proof_loads(job=with_actions(job, {"W3": 28e3}))
    group = by_mark(plan)["W3"]  # 48 bars of 16 mm, f_yk 500 MPa
    assert group.number == 3
    assert group.load == pytest.approx(42e3)
    assert group.held == pytest.approx(37.8e3)
    assert group.cap == pytest.approx(0.7 * math.pi * 64 * 500)
    (check,) = group.checks
    assert check.utilisation == pytest.approx(42e3 / (0.7 * math.pi * 64 * 500))
    assert group.may_be_tested
    assert [step.formula.rsplit(".", 1)[-1] for step in group.steps] == [
        "bars_tested",
        "proof_load",
        "proof_load_cap",
        "load_after_hold",
    ]
    assert group.steps[1].inputs[0].origin == "rule of the proof loads: 2.5 % are tested"


def test_a_group_without_an_action_says_what_is_missing(job):
    plan = plan_proof_loads(job=job)
    silent = by_mark(plan)["W3"]
    if silent.missing:  # the demo has no characteristic action
        assert silent.load is None
        assert not silent.may_be_tested
        assert "characteristic action" in silent.missing.text
        assert "force_characteristic" in silent.missing.text
        assert silent.missing in plan.sheet.notices
    assert len(silent.drawn) == 3


def test_a_shear_along_a_joint_is_not_a_pull(job):
    assert "shear along the joint" in by_mark(plan_proof_loads(job=job))["W4"].missing.text


def test_the_characteristic_action_is_taken_from_the_job_file(job):
    group = by_mark(plan_proof_loads(job=job))["S2"]
    assert group.load == pytest.approx(1.5 * 10.7e3)
    assert group.steps[1].inputs[1].origin == "job.toml, design.group.S2.force_characteristic"


def test_above_the_cap_no_load_is_offered(job):
    # 25 mm bar: 0.7 * 490.874 * 500 = 171.806 kN; 120 kN * 1.5 = 180 kN is above it, * 1.25 = 150 kN is not
    plan = plan_proof_loads(job=with_actions(job, {"P5": 120e3, "B6": 300e3}))
    group, hopeless = by_mark(plan)["P5"], by_mark(plan)["B6"]
    assert not group.may_be_tested
    assert not group.checks[0].passes
    assert "5 % of the bars to 1.25 times" in group.checks[0].advice
    # 32 mm: cap 281.49 kN, and even 1.25 * 300 = 375 kN is above
    assert "engineer" in hopeless.checks[0].advice
    assert plan.sheet.checks == (
        *by_mark(plan)["S2"].checks,
        *group.checks,
        *hopeless.checks,
    )  # the demo gives S2 an action of its own


def test_a_load_at_the_cap_passes(job):
    cap = 0.7 * math.pi / 4 * 25**2 * 500
    at, above = (
        by_mark(plan_proof_loads(job=with_actions(job, {"P5": cap / 1.5 * factor})))["P5"]
        for factor in (1 - 1e-12, 1 + 1e-9)
    )
    assert at.may_be_tested
    assert not above.may_be_tested


def test_the_rule_of_five_per_cent(job):
    group = by_mark(plan_proof_loads(job=with_actions(job, {"S1": 4e3}), rule=ProofRule(share=0.05)))["S1"]
    assert group.number == 5  # 4.8 of 96, rounded up
    assert group.load == pytest.approx(5e3)


def test_the_draw_is_the_same_everywhere():
    drawn = draw_bars(mark="S1", count=96, number=5, seed=7, number_of_job="DEMO")
    assert drawn == draw_bars(mark="S1", count=96, number=5, seed=7, number_of_job="DEMO")
    assert len(set(drawn)) == 5
    assert all(1 <= bar <= 96 for bar in drawn)
    assert list(drawn) == sorted(drawn)
    assert drawn != draw_bars(mark="S1", count=96, number=5, seed=8, number_of_job="DEMO")
    assert drawn != draw_bars(mark="S2", count=96, number=5, seed=7, number_of_job="DEMO")


def test_the_draw_by_hand():
    """The first three bars, from SHA-256 itself."""
    import hashlib

    expected, turn = [], 0
    while len(expected) < 3:
        bar = int(hashlib.sha256(f"0\nJ\nA\n{turn}".encode()).hexdigest(), 16) % 40 + 1
        expected += [bar] if bar not in expected else []
        turn += 1
    assert draw_bars(mark="A", count=40, number=3, number_of_job="J") == tuple(sorted(expected))


def test_a_larger_share_keeps_the_drawn_bars():
    few, more = (draw_bars(mark="S1", count=400, number=n) for n in (10, 20))
    assert set(few) < set(more)


def test_every_bar_can_be_drawn():
    counts = [0] * 10
    for seed in range(2000):
        counts[draw_bars(mark="A", count=10, number=1, seed=seed)[0] - 1] += 1
    # 200 expected each; 13.4 is the standard deviation
    assert all(abs(count - 200) < 5 * 13.5 for count in counts)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: ProofRule(share=0.03), "0.025 .factor 1.5. or 0.05 .factor 1.25."),
        (lambda: ProofRule(least=0), "least is 0; accepted: a whole number from 1"),
        (lambda: ProofRule(seed=-1), "seed is -1"),
        (lambda: ProofRule(seed=1.5), "seed is 1.5"),
        (lambda: ProofRule(hold=0), "hold is 0 s"),
        (lambda: ProofRule(hold=math.nan), "hold is nan s"),
        (lambda: ProofRule(drop=0.9), "drop is 0.9"),
        (lambda: draw_bars(mark="A", count=3, number=4), "4 bars cannot be drawn from the 3 of group A"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(ProofError, match=words):
        call()


def test_a_job_without_strength_says_so(folder):
    plan = plan_proof_loads(job=folder.load())
    assert all("no table [design]" in group.missing.text for group in plan.groups)
    assert plan.sheet.checks == ()


def test_the_rules_say_what_must_be_said():
    from calc.work.site.proof import rules_in_words

    words = " ".join(f"{head}: {said}" for head, said in rules_in_words(ProofRule()))
    for needed in (
        "never raises a design value",
        "concrete cone",
        "at least 3",
        "30 s",
        "10 %",
        "0.7 times",
        "1.5 times",
        "engineer decides",
        "seed 0",
    ):
        assert needed in words, needed


# ---- unconfined: cone and bond of one bar ----


def judged(results, mark):
    return {check.name: check for check in results.checks if check.name.startswith("proof") and check.mark == mark}


def test_a_proof_load_above_what_may_be_pulled_fails_on_page_one():
    """K1: a bar of 16 mm, 250 mm deep, 68 mm and 80 mm from two edges, f_ck 25 MPa, pulled with 1.5 times 55 kN."""
    results = compute(load_job(demo_job("failing")))
    found = judged(results, "K1")
    assert {name: check.verdict for name, check in found.items()} == dict.fromkeys(
        ("proof", "proof_cone", "proof_bond"), "fails"
    )
    assert [check.demand for check in found.values()] == [pytest.approx(82.5)] * 3
    assert found["proof"].resistance == pytest.approx(0.7 * 201.06 * 500 / 1e3, rel=1e-4)
    # EN 1992-4, 7.2.1.4: cone of 7.7 sqrt(25) 250^1.5 N, cut to (80 + 375) (68 + 375) of 750² mm², and the nearest
    # edge's factor; dense reinforcement takes nothing from a bar of 100 mm and more
    cone = 7.7 * 5 * 250**1.5 * (80 + 375) * (68 + 375) / 750**2 * (0.7 + 0.3 * 68 / 375)
    assert found["proof_cone"].resistance == pytest.approx(cone / 1e3)
    # 7.2.1.6: s_cr,Np = 7.3 * 16 * sqrt(11) mm; the bond of 6 MPa over 250 mm
    c = 7.3 * 16 * math.sqrt(11) / 2
    bond = 6 * math.pi * 16 * 250 * (80 + c) * (68 + c) / (2 * c) ** 2 * (0.7 + 0.3 * 68 / c)
    assert found["proof_bond"].resistance == pytest.approx(bond / 1e3)
    group = by_mark(plan_proof_loads(job=results.job))["K1"]
    assert group.cap == pytest.approx(bond)
    assert not group.may_be_tested
    (least,) = [step for step in group.steps if step.name == "proof_most"]
    assert (least.value, least.formula) == (pytest.approx(bond), "most_of_a_pull")


def test_the_same_by_aci():
    """A #4 bar, 5 in deep, far from edges, 4000 psi: breakout 17 sqrt(4000) 5^1.5 lbf, bond 600 psi over 5 in."""
    results = compute(load_job(demo_job("us")))
    found = judged(results, "A4")
    assert found["proof_cone"].resistance == pytest.approx(17 * math.sqrt(4000) * 5**1.5 / 1e3)
    assert found["proof_bond"].resistance == pytest.approx(600 * math.pi * 0.5 * 5 / 1e3)
    assert found["proof"].resistance == pytest.approx(0.7 * 0.2 * 60, rel=1e-3)
    assert all(check.passes for check in found.values())
    assert (found["proof_cone"].unit, found["proof_cone"].demand) == ("kip", pytest.approx(0.9))


def test_a_confined_pull_is_held_against_yield_alone(job):
    assert [check.name for check in by_mark(plan_proof_loads(job=job))["S2"].checks] == ["proof"]


def test_what_an_unconfined_pull_lacks_is_owed_and_the_rest_is_judged():
    results = compute(load_job(demo_job("failing")))
    found = judged(results, "C2")
    assert {name: check.verdict for name, check in found.items()} == {
        "proof": "passes",
        "proof_cone": "owed",
        "proof_bond": "owed",
    }
    own = "design.group.C2"
    assert found["proof_cone"].missing == ((own, "edge"), (own, "edge_right"), (own, "edge_above"))
    assert found["proof_bond"].missing[3:] == ((f"{own}.approval", "tau_Rk"), (f"{own}.approval", "tau_Rk_uncr"))
    lines = lines_to_add(found.values())
    assert lines[0] == f"[{own}]"
    assert lines.count(f"[{own}.approval]") == 1


def test_whether_the_test_is_confined_is_owed_where_there_is_a_load(job):
    results = compute(load_job(demo_job("failing")))
    owed = judged(results, "D1")["proof_test"]
    assert (owed.verdict, owed.missing) == ("owed", (("design.group.D1", "proof_test"),))
    assert not by_mark(plan_proof_loads(job=results.job))["D1"].may_be_tested
    (line,) = [line for line in lines_to_add([owed]) if line.startswith("proof_test")]
    assert "confined, unconfined" in line
    # without a load there is nothing to test
    assert by_mark(plan_proof_loads(job=job))["S1"].checks == ()


@pytest.mark.parametrize(
    ("keys", "factor"),
    [
        ({}, 1.0),
        ({"cracked": False}, 11.0 / 7.7),
        # four edges within 1.5 times the depth: it counts with the farthest of them over 1.5 (7.2.1.4(8))
        ({"edge": 80.0, "edge_right": 90.0, "edge_above": 120.0}, None),
    ],
)
def test_the_cone_follows_what_is_said_of_the_concrete(keys, factor):
    job = load_job(demo_job("failing"))
    before, after = (judged(compute(one), "K1")["proof_cone"] for one in (job, with_keys(job, {"K1": keys})))
    if factor is not None:
        assert after.resistance / before.resistance == pytest.approx(factor)
    else:
        h, c = 120 / 1.5, 1.5 * 120 / 1.5
        cone = 7.7 * 5 * h**1.5 * (80 + 90) * (68 + 120) / (2 * c) ** 2 * (0.7 + 0.3 * 68 / c) * (0.5 + h / 200)
        assert after.resistance == pytest.approx(cone / 1e3)
