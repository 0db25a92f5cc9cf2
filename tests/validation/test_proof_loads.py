"""Proof loads: BS 8539:2012+A1:2021, Annex B.3, and AEFAC TN05, Volume 2, as public summaries have them.

N_p = 1.5 x characteristic action when 2.5 % are tested, 1.25 x when 5 % are, at least 3 in an area (BS 8539); hold 30
s, drop at most 10 %, no more than 0.7 of the yield force (AEFAC TN05). Written for anchors, applied to bars by analogy;
workmanship only. No worked example was found: the numbers below are worked by hand.
"""

import math

import pytest

from calc.work.site.proof import FACTORS, ProofRule, bars_tested, load_after_hold, proof_load, proof_load_cap


def test_factors_and_defaults():
    assert dict(FACTORS) == {0.025: 1.5, 0.05: 1.25}
    rule = ProofRule()
    assert (rule.share, rule.factor, rule.least, rule.hold, rule.drop) == (0.025, 1.5, 3, 30.0, 0.10)
    assert ProofRule(share=0.05).factor == 1.25


@pytest.mark.parametrize(("action", "factor", "load"), [(20e3, 1.5, 30e3), (20e3, 1.25, 25e3)])
def test_load(action, factor, load):
    assert proof_load(k_p=factor, N_k=action) == pytest.approx(load)


def test_cap_of_a_16_mm_bar():
    # pi/4 * 16² = 201.0619 mm²; 201.0619 * 500 N/mm² = 100,530.96 N; seven tenths of it 70,371.68 N
    assert proof_load_cap(A_s=math.pi * 64, f_yk=500.0) == pytest.approx(70371.68, abs=0.005)


def test_cap_of_a_number_8_bar():
    # 0.79 in² * 60 ksi = 47.4 kip; seven tenths 33.18 kip, at 4448.2216 N each
    assert proof_load_cap(A_s=0.79 * 645.16, f_yk=60000 * 0.006894757293) == pytest.approx(33.18 * 4448.2216, rel=1e-6)


def test_a_tenth_may_be_lost():
    assert load_after_hold(N_p=30e3, f_drop=0.10) == pytest.approx(27e3)


@pytest.mark.parametrize(
    ("bars", "share", "tested"),
    [
        (2, 0.025, 2),
        (3, 0.05, 3),
        (40, 0.025, 3),
        (120, 0.025, 3),
        (121, 0.025, 4),
        (200, 0.025, 5),
        (60, 0.05, 3),
        (61, 0.05, 4),
        (1000, 0.05, 50),
    ],
)
def test_number(bars, share, tested):
    assert bars_tested(n_hole=float(bars), n_least=3.0, f_test=share) == tested
