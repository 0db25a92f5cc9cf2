"""What has to add up in the balance of a job's volumes."""

import math

import pytest

from calc.work.plan.volumes import CAUSES


def adds_up(use):
    """Hold every volume of the balance against those that it is the sum of, and the causes of waste against both."""
    terms = use.balance
    for place, term in enumerate(terms):
        below = []
        for one in terms[place + 1 :]:
            if one.level <= term.level:
                break
            below += [one.volume] if one.level == term.level + 1 else []
        for parts in (below, list(term.parts.values())):
            if parts:
                assert math.fsum(parts) == pytest.approx(term.volume, rel=1e-9, abs=1e-6 * use.bought), term.words
    assert min(term.volume for term in terms) >= 0
    assert abs(use.gap) <= 1e-9 * use.bought
    assert set(use.waste) == set(CAUSES)
    assert use.bought == pytest.approx(use.in_holes + use.wasted + use.left_over)
