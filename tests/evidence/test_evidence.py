"""Statistics of measured holes: small cases worked by hand, refusals, and what must not change with the unit."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from calc.base.formula import RangeError
from calc.evidence.limits import (
    confidence_with_n,
    limit_of,
    overfill_of,
    upper_limits,
    volume_of_mass,
)
from calc.evidence.normality import normal_plot, normal_scores
from calc.evidence.outliers import outliers
from calc.evidence.readings import ONE_HOLE, leave_out, ratios, summary
from calc.evidence.runorder import run_order
from calc.fill.dose import dose
from calc.fill.hole import MeasuredHole

NAMES = ("a", "b", "c", "d", "e")


def sample(n, seed=3):
    return np.random.default_rng(seed).normal(14.3, 0.4, n)


# ---- formulas ----


def test_formulas_by_hand():
    assert volume_of_mass(mass=22.4, density=1.6) == pytest.approx(14.0)
    assert limit_of(V_m=10.0, k=3.0, s_V=0.5) == 11.5
    assert overfill_of(V_dose=13.0, V_req=10.0) == pytest.approx(0.3)
    assert overfill_of(V_dose=9.0, V_req=10.0) == pytest.approx(-0.1)


@given(st.floats(1, 1e6), st.floats(-0.5, 3))
def test_overfill_is_the_way_back_from_the_dose(V_req, overfill):
    assert overfill_of(V_dose=dose(V_req=V_req, overfill=overfill), V_req=V_req) == pytest.approx(overfill, abs=1e-12)


@pytest.mark.parametrize(
    "wrong", [{"V_dose": -1.0, "V_req": 1.0}, {"V_dose": 1.0, "V_req": 0.0}, {"V_dose": math.nan, "V_req": 1.0}]
)
def test_overfill_refuses(wrong):
    with pytest.raises(RangeError):
        overfill_of(**wrong)


def test_profile_of_a_cone_by_hand():
    # A frustum of diameters 24 and 18 over 100 mm: π/12 · 100 (24² + 24·18 + 18²) = 34871.68 mm³; the bar of 12:
    # 11309.73 mm³.
    assert MeasuredHole((0, 100), (24, 18), 180.0).required(phi=12, l_v=100) == pytest.approx(
        34871.6785 - 11309.7336, abs=1e-3
    )
    with pytest.raises(RangeError, match="smaller than every measured diameter"):
        MeasuredHole((0, 100), (24, 18), 180.0).required(phi=20, l_v=100)


def test_ratios():
    assert ratios(values=[11.0, 12.0], V_req=10.0) == pytest.approx((1.1, 1.2))
    for required, says in [
        ([1.0, 2.0, 3.0], "one for all or one for each"),
        (0.0, "above zero"),
        (math.nan, "above zero"),
    ]:
        with pytest.raises(ValueError, match=says):
            ratios(values=[11.0, 12.0], V_req=required)


# ---- summary ----


def test_summary_by_hand():
    found = summary(values=[13.0, 15.0, 14.0, 18.0])
    assert (found.n, found.mean, found.min, found.max) == (4, 15.0, 13.0, 18.0)
    assert found.sd == pytest.approx(math.sqrt(14 / 3))  # squares 4, 0, 1, 9


def test_one_hole_tells_nothing_about_scatter():
    found = summary(values=[14.2])
    assert found.sd is None
    assert "tells nothing about scatter" in found.sentence
    limits = upper_limits(values=[14.2])
    for limit in (limits.tolerance, limits.prediction, limits.mean):
        assert limit.high is None
        assert limit.needed == 2
        assert "tells nothing about scatter" in limit.sentence
    assert limits.without_normality.high is None
    assert limits.without_normality.needed == 59


def test_no_scatter_at_all():
    found = summary(values=[0.1] * 3)
    assert found.sd == 0
    assert found.mean == 0.1
    assert "do not scatter" in found.sentence
    chart = run_order(values=[0.1] * 3)
    assert (chart.low, chart.high, chart.outside) == (0.1, 0.1, ())
    plot = normal_plot(values=[0.1] * 9)
    assert plot.statistic is None
    assert plot.looks_normal is None
    assert outliers(values=[0.1] * 9).outliers == ()
    assert upper_limits(values=[0.1] * 9).tolerance.high == 0.1


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ([], "at least 1 hole"),
        ([1.0, math.nan], "measurement 2 is nan"),
        ([math.inf], "measurement 1 is inf"),
        ([[1.0]], "one row"),
        (["x"], "numbers"),
    ],
)
@pytest.mark.parametrize("function", [summary, upper_limits])
def test_refused_values(function, values, says):
    with pytest.raises(ValueError, match=says):
        function(values=values)


@pytest.mark.parametrize(("function", "least"), [(run_order, 2), (normal_plot, 3), (outliers, 3)])
def test_too_few(function, least):
    with pytest.raises(ValueError, match=f"at least {least} holes are needed, because"):
        function(values=[14.0] * (least - 1))
    function(values=[14.0, 15.0, 14.5][:least])


@pytest.mark.parametrize("function", [run_order, normal_plot, outliers])
def test_names_must_fit(function):
    with pytest.raises(ValueError, match="3 measurements, but 2 names"):
        function(values=[1.0, 2.0, 3.0], names=["a", "b"])
    with pytest.raises(ValueError, match="'a' is there twice"):
        function(values=[1.0, 2.0, 3.0], names=["a", "b", "a"])


# ---- run order ----


def test_run_order_by_hand():
    # Ranges 1, 1, 1, 1, 12; their mean 3.2; centre 16; 3/1.128 · 3.2 = 8.5106; 3.267 · 3.2 = 10.454.
    chart = run_order(values=[14.0, 15.0, 14.0, 15.0, 14.0, 26.0])
    assert chart.centre == pytest.approx(98 / 6)
    assert chart.high - chart.centre == pytest.approx(8.5106, abs=1e-4)
    assert chart.centre - chart.low == pytest.approx(8.5106, abs=1e-4)
    assert [p.name for p in chart.outside] == ["6"]
    assert [(p.index, p.value) for p in chart.jumps] == [(5, 26.0)]
    assert chart.sentence.startswith("Hole 6 lies outside the limits 7.8227 to 24.844")
    assert "fewer than 20 holes" in chart.sentence


def test_drift_is_seen_as_a_long_run():
    values = [14.9, 14.8, 14.9, 14.8, 14.9, 14.8, 14.9, 14.8, 14.1, 14.0, 14.1, 14.0, 14.1, 14.0, 14.1, 14.0]
    chart = run_order(values=values)
    assert [p.name for p in chart.longest_run] == [str(i) for i in range(1, 9)]
    assert "Holes 1 to 8, 8 in a row, lie above the centre" in chart.sentence
    assert "in a row" not in run_order(values=[14.0, 14.2] * 8).sentence


def test_the_limits_hold_for_a_normal_scatter():
    chart = run_order(values=sample(20000))
    # Three sigma on both sides: 0.27 per cent lie outside in the long run.
    assert len(chart.outside) / 20000 == pytest.approx(2 * stats.norm.sf(3), abs=0.001)
    assert chart.high - chart.centre == pytest.approx(3 * 0.4, rel=0.02)


# ---- normal plot ----


@pytest.mark.parametrize("n", [3, 8, 30])
def test_scores_and_line_as_in_scipy(n):
    values = sample(n)
    plot = normal_plot(values=values)
    (scores, ordered), (_, _, correlation) = stats.probplot(values)  # Filliben's estimate, of its own code
    assert plot.scores == pytest.approx(scores, abs=1e-12)
    assert plot.ordered == pytest.approx(ordered)
    assert plot.correlation == pytest.approx(correlation)
    assert [float(values[int(name) - 1]) for name in plot.names] == list(plot.ordered)


def test_scores_are_symmetrical():
    assert normal_scores(n=1) == (0.0,)
    scores = normal_scores(n=6)
    assert [-s for s in reversed(scores)] == list(scores)
    with pytest.raises(ValueError, match="at least 1"):
        normal_scores(n=0)


def test_too_few_to_judge_is_said():
    plot = normal_plot(values=[14.0, 14.1, 14.2, 14.1, 19.0])
    assert plot.looks_normal is None
    assert "too few to judge" in plot.sentence


def test_shape_is_judged():
    assert normal_plot(values=sample(40)).looks_normal is True
    skewed = normal_plot(values=np.random.default_rng(5).exponential(1.0, 40))
    assert skewed.looks_normal is False
    assert "does not look normal" in skewed.sentence
    with pytest.raises(ValueError, match="alpha must be between 0 and 1"):
        normal_plot(values=sample(40), alpha=1.0)


@pytest.mark.filterwarnings("error")
def test_more_than_5000_values_are_said_to_be_rough():
    assert "p is rough" in normal_plot(values=sample(5001)).sentence


# ---- outliers ----


def test_outlier_statistic_by_hand():
    # 1, 2, 3, 4, 10: mean 4, sd √12.5, so R = 6/3.5355 = 1.6971; critical by Grubbs for 5 at 0.05, two-sided: 1.7150.
    found = outliers(values=[1.0, 2.0, 3.0, 4.0, 10.0], names=NAMES, most=1)
    assert found.steps[0].point.name == "e"
    assert found.steps[0].statistic == pytest.approx(6 / math.sqrt(12.5))
    assert found.steps[0].critical == pytest.approx(1.715, abs=5e-4)
    assert found.outliers == ()


def test_one_outlier_is_named_and_kept():
    values = [*sample(29), 19.6]
    found = outliers(values=values)
    assert [p.name for p in found.outliers] == ["30"]
    assert found.most == 3
    assert "Hole 30 (19.6) stands apart" in found.sentence
    assert "stays in unless a reason" in found.sentence


def test_two_outliers_do_not_hide_each_other():
    values = [*sample(18, seed=1), 17.0, 17.1]
    alone = outliers(values=values, most=1)
    both = outliers(values=values, most=2)
    assert {p.name for p in both.outliers} == {"19", "20"}
    assert len(alone.outliers) <= 1


def test_false_alarms_come_at_the_level():
    """Of samples without outliers, about the stated share is blamed.

    Critical values checked by simulation, not by formula.
    """
    random = np.random.default_rng(11)
    alarms = sum(bool(outliers(values=random.normal(size=25), most=2, alpha=0.10).outliers) for _ in range(1500))
    assert alarms / 1500 == pytest.approx(0.10, abs=0.025)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"most": 0}, "from 1 to 8"),
        ({"most": 9}, "from 1 to 8"),
        ({"most": 1.5}, "whole number"),
        ({"alpha": 0}, "alpha"),
    ],
)
def test_outliers_refuses(change, says):
    with pytest.raises(ValueError, match=says):
        outliers(values=sample(10), **change)


def test_leaving_out_needs_a_reason():
    kept = leave_out(values=[1.0, 2.0, 9.0], names=["a", "b", "c"], reasons={"c": " ran into a void "})
    assert kept.values == (1.0, 2.0)
    assert kept.names == ("a", "b")
    assert [(p.name, p.value, reason) for p, reason in kept.left_out] == [("c", 9.0, "ran into a void")]
    assert "hole c (9): ran into a void" in kept.sentence
    assert "All 2 measured holes are kept" in leave_out(values=[1.0, 2.0], reasons={}).sentence
    for reasons, says in [
        ({"d": "x"}, "no measured hole is named 'd'"),
        ({"a": " "}, "without a reason"),
        (dict.fromkeys("abc", "x"), "at least one must stay"),
    ]:
        with pytest.raises(ValueError, match=says):
            leave_out(values=[1.0, 2.0, 9.0], names=["a", "b", "c"], reasons=reasons)


# ---- limits ----


def test_limits_by_hand():
    # Mean 15, sd √(10/4) = 1.581139 of 13, 14, 15, 16, 17. Factors for n = 5: tolerance 95/95 4.203 (Montgomery and
    # Runger, Table XII);
    # t(0.95; 4) = 2.1318, times √1.2; t(0.975; 4) = 2.7764, over √5 (any table of Student's t).
    found = upper_limits(values=[15.0, 13.0, 14.0, 17.0, 16.0])
    sd = math.sqrt(2.5)
    assert found.tolerance.high == pytest.approx(15 + 4.203 * sd, abs=0.001)
    assert found.prediction.high == pytest.approx(15 + 2.1318 * math.sqrt(1.2) * sd, abs=0.001)
    assert (found.mean.low, found.mean.high) == pytest.approx(
        (15 - 2.7764 * sd / math.sqrt(5), 15 + 2.7764 * sd / math.sqrt(5)), abs=0.001
    )
    assert found.without_normality.high is None
    assert "at least 59 measured holes, and there are 5" in found.without_normality.sentence
    assert [limit.kind for limit in found] == ["tolerance", "prediction", "mean", "without_normality"]
    assert len({limit.question for limit in found}) == 4
    assert all("?" in limit.question for limit in found)


def test_without_normality_with_just_enough_holes():
    values = [float(v) for v in range(59, 0, -1)]
    limit = upper_limits(values=values).without_normality
    assert (limit.rank, limit.high) == (59, 59.0)
    assert "the largest of the 59" in limit.sentence
    assert upper_limits(values=values[1:]).without_normality.high is None
    more = upper_limits(values=[float(v) for v in range(200)]).without_normality
    # The rank that covers: P(Binomial(200, 0.95) < rank) reaches 0.95, and one rank lower does not.
    assert stats.binom.cdf(more.rank - 1, 200, 0.95) >= 0.95 > stats.binom.cdf(more.rank - 2, 200, 0.95)
    assert more.high == more.rank - 1


def test_each_limit_answers_its_own_question():
    """Simulated: the tolerance limit covers the share with the confidence.

    The next hole stays below the prediction limit, the interval holds the mean.
    """
    random = np.random.default_rng(2)
    share, confidence, runs = 0.90, 0.80, 3000
    hits = np.zeros(3)
    for _ in range(runs):
        values = random.normal(size=8)
        found = upper_limits(values=values, share=share, confidence=confidence)
        hits += [
            stats.norm.cdf(found.tolerance.high) >= share,
            random.normal() <= found.prediction.high,
            found.mean.low <= 0 <= found.mean.high,
        ]
    assert hits / runs == pytest.approx([confidence] * 3, abs=0.03)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"share": 0}, "share must"),
        ({"share": 1}, "share must"),
        ({"confidence": 1.2}, "confidence must"),
        ({"share": math.nan}, "share must"),
    ],
)
def test_limits_refuse(change, says):
    with pytest.raises(ValueError, match=says):
        upper_limits(values=[14.0, 14.2], **change)


# ---- what more holes are worth ----


def test_confidence_grows_with_n():
    table = confidence_with_n(share=0.95, confidence=0.95, mean=14.4, sd=0.4, V_req=13.445)
    first, *rest = table.rows
    assert (first.n, first.factor, first.limit, first.overfill) == (1, None, None, None)
    assert first.sentence[1:] == f"{ONE_HOLE[1:]}."
    factors = [row.factor for row in rest]
    assert factors == sorted(factors, reverse=True)
    assert factors[-1] > table.endless == pytest.approx(1.644854, abs=1e-6)
    assert [row.overfill for row in rest] == sorted((row.overfill for row in rest), reverse=True)
    ten = next(row for row in rest if row.n == 10)
    assert ten.factor == pytest.approx(2.911, abs=5e-4)  # Montgomery and Runger, Table XII
    assert ten.overfill == pytest.approx((14.4 + 2.911 * 0.4) / 13.445 - 1, abs=1e-4)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"mean": 1.0}, "both the mean and"),
        ({"mean": 1.0, "sd": -1.0}, "zero or more"),
        ({"counts": (0,)}, "at least 1"),
        ({"counts": (2.5,)}, "whole number"),
        ({"share": 1.0}, "share must"),
        ({"confidence": 0.0}, "confidence must"),
    ],
)
def test_confidence_table_refuses(change, says):
    with pytest.raises(ValueError, match=says):
        confidence_with_n(**({"share": 0.95, "confidence": 0.95} | change))


# ---- what must not change ----

VOLUMES = st.lists(st.integers(1000, 3000).map(lambda v: v / 100), min_size=4, max_size=40)


@settings(max_examples=60, deadline=None)
@given(VOLUMES, st.sampled_from([1000.0, 0.001, 0.0610237, 29.5735]))
def test_the_unit_changes_nothing(values, scale):
    other = [v * scale for v in values]
    assert [p.name for p in outliers(values=values).outliers] == [p.name for p in outliers(values=other).outliers]
    assert [p.name for p in run_order(values=values).outside] == [p.name for p in run_order(values=other).outside]
    a, b = upper_limits(values=values), upper_limits(values=other)
    assert b.tolerance.high == pytest.approx(a.tolerance.high * scale, rel=1e-9)
    assert b.prediction.high == pytest.approx(a.prediction.high * scale, rel=1e-9)
    p, q = normal_plot(values=values), normal_plot(values=other)
    assert (p.p is None) == (q.p is None)
    if p.p is not None:
        assert q.p == pytest.approx(p.p, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(VOLUMES, st.randoms())
def test_only_the_run_order_depends_on_the_order(values, random):
    mixed = values.copy()
    random.shuffle(mixed)
    assert summary(values=mixed) == summary(values=values)
    assert upper_limits(values=mixed) == upper_limits(values=values)
    assert normal_plot(values=mixed).ordered == normal_plot(values=values).ordered
    assert outliers(values=mixed).steps[:1] == () or outliers(values=mixed).steps[0].statistic == pytest.approx(
        outliers(values=values).steps[0].statistic
    )


@settings(max_examples=60, deadline=None)
@given(VOLUMES)
def test_a_safer_statement_needs_more(values):
    loose, share, sure = (
        upper_limits(values=values, share=s, confidence=c).tolerance.high
        for s, c in [(0.9, 0.9), (0.99, 0.9), (0.9, 0.99)]
    )
    assert loose <= share
    assert loose <= sure
