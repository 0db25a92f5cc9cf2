"""Which bars are pulled to which load, and what is said where the job file does not have what it takes."""

import math

import pytest

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
    plan = plan_proof_loads(job=job, actions={"W3": 28e3})
    group = by_mark(plan)["W3"]  # 48 bars of 16 mm, f_yk 500 MPa
    assert group.number == 3
    assert group.load == pytest.approx(42e3)
    assert group.held == pytest.approx(37.8e3)
    assert group.cap == pytest.approx(0.7 * math.pi * 64 * 500)
    assert group.check.utilisation == pytest.approx(42e3 / (0.7 * math.pi * 64 * 500))
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
    assert "shear along the joint" in by_mark(plan_proof_loads(job=job, actions={}))["W4"].missing.text


def test_the_characteristic_action_is_taken_from_the_job_file(job, monkeypatch):
    """As soon as the table of strength has the key; the number is worked as if it had been given."""
    import calc.work.site.proof as proof

    real = proof.choose

    def choose(design, mark):
        chosen = real(design, mark)
        key = f"design.group.{mark}.{proof.KEY}"
        return type(chosen)(chosen.code, mark, {**chosen.values, proof.KEY: 10e3}, {**chosen.keys, proof.KEY: key})

    monkeypatch.setattr(proof, "choose", choose)
    group = by_mark(plan_proof_loads(job=job))["S2"]
    assert group.load == pytest.approx(15e3)
    assert group.steps[1].inputs[1].origin.endswith("design.group.S2.force_characteristic")


def test_above_the_cap_no_load_is_offered(job):
    # 25 mm bar: 0.7 * 490.874 * 500 = 171.806 kN; 120 kN * 1.5 = 180 kN is above it, * 1.25 = 150 kN is not
    plan = plan_proof_loads(job=job, actions={"P5": 120e3, "B6": 300e3})
    group, hopeless = by_mark(plan)["P5"], by_mark(plan)["B6"]
    assert not group.may_be_tested
    assert not group.check.passes
    assert "5 % of the bars to 1.25 times" in group.check.advice
    # 32 mm: cap 281.49 kN, and even 1.25 * 300 = 375 kN is above
    assert "engineer" in hopeless.check.advice
    assert plan.sheet.checks == (
        by_mark(plan)["S2"].check,
        group.check,
        hopeless.check,
    )  # the demo gives S2 an action of its own


def test_a_load_at_the_cap_passes(job):
    cap = 0.7 * math.pi / 4 * 25**2 * 500
    at, above = (
        by_mark(plan_proof_loads(job=job, actions={"P5": cap / 1.5 * factor}))["P5"] for factor in (1 - 1e-12, 1 + 1e-9)
    )
    assert at.may_be_tested
    assert not above.may_be_tested


def test_the_rule_of_five_per_cent(job):
    group = by_mark(plan_proof_loads(job=job, rule=ProofRule(share=0.05), actions={"S1": 4e3}))["S1"]
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


@pytest.mark.parametrize(
    ("actions", "words"),
    [({"Z": 1e3}, "'Z', which is no bar group"), ({"W3": math.nan}, "W3 is nan N"), ({"W3": 0.0}, "above 0")],
)
def test_refused_actions(job, actions, words):
    with pytest.raises(ProofError, match=words):
        plan_proof_loads(job=job, actions=actions)


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


def test_a_proof_load_above_what_the_bar_may_be_pulled_with_fails_on_page_one():
    results = compute(load_job(demo_job("failing")))
    (check,) = (check for check in results.checks if check.name == "proof")
    assert (check.mark, check.verdict) == ("K1", "fails")
    assert check.demand == pytest.approx(1.5 * 55)
    assert check.resistance == pytest.approx(0.7 * 201 * 500 / 1e3, rel=2e-3)  # kN: bar 16, B500
