"""results.json of both demos is the same, byte for byte, on processors that know fewer instructions.

`tests/long/digits.py` tries more.
"""

import copy
import importlib.util
import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from calc.base.canonical import UP, canonical

_SPEC = importlib.util.spec_from_file_location("digits", Path(__file__).parents[1] / "long" / "digits.py")
digits = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(digits)


@pytest.fixture(scope="module")
def runs():
    with ThreadPoolExecutor(2) as pool:
        return dict(zip(digits.QUICK, pool.map(digits.run, digits.QUICK.values()), strict=True))


def test_every_processor_writes_the_same_bytes(runs):
    first, *others = runs.values()
    for units in first:
        assert len(first[units]["text"]) > 100_000
        assert all(other[units]["text"] == first[units]["text"] for other in others)


def test_no_number_is_near_its_rounding_edge_and_no_verdict_near_one(runs):
    """Says how far every number is from its edge.

    A number that comes too near is to be computed otherwise, or the demo changed.
    """
    wrong, lines = digits.faults(runs)
    print(*lines, *digits.every_distance(runs["as it is"]), sep="\n")
    assert not wrong


def test_a_number_near_its_edge_is_found(runs):
    """A value, a verdict, a sample and a byte that are not as they should be are each told."""
    broken = copy.deepcopy(runs["as it is"])
    broken["metric"]["text"] += " "
    sheet = broken["metric"]["unrounded"]["sheets"][0]
    sheet["steps"][0]["value"] = 1.0000000005 / UP  # ten digits and a half
    sheet["checks"][0]["utilisation"] = 1 + 1e-15
    wrong, _ = digits.faults({"broken": broken, **runs})
    for words in ("results.json differs", "of its rounding edge", "of 1, less than", "between settings, more than"):
        assert any(words in sentence for sentence in wrong), words
    broken["metric"]["counted"] = [1e-15]
    assert any("counted sample" in sentence for sentence in digits.faults({"broken": broken})[0])


def test_all_that_is_written_is_canonical(runs):
    for units in ("metric", "us"):
        written, unrounded = json.loads(runs["as it is"][units]["text"]), runs["as it is"][units]["unrounded"]
        assert written == canonical(unrounded)
        values = list(digits.numbers(written))
        assert len(values) > 900
        assert all(value == canonical(value) for _, value in values)
