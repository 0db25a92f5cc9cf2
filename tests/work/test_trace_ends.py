"""A trace that ends: from every number of results.json a reader comes to formula, inputs and origin in two steps.

Read from results.json alone, as somebody outside would read it.
"""

import json
import random

import pytest

from calc.files.job import demo_job
from calc.work.checkkeys import SIDES
from calc.work.load import load_job
from calc.work.results import compute
from calc.work.trace import Trace, numbers_of, records_of

FILES = ("job.toml", "schedule.csv", "adhesive.toml", "measurements.csv")
# What an input that no file states may be: a value of a standard or a table, an assumption that says so, or a name for
# nothing at all. A result of the workbook is none of these.
STATED = (
    "EN 1", "EN 10080", "ACI ", "ASTM ", "EOTA ", "CSA ", "recommended value", "assumed", "not given", "not stated",
    "not counted on", "no ", "none", "one ", "a little ", "straight bar", "holes perpendicular", "the pull", "the bar",
    "the mouth", "12 in: ACI", "rule of the proof loads", "nothing", "exact in the SI", "anchors count on", "brittle",
    "ductile", "normal-weight", "lightweight", "check 04.",
)  # fmt: skip
DIGITS = 6  # a value with more digits than people type is a result


@pytest.fixture(scope="module", params=["metric", "us", "failing"])
def content(request):
    return json.loads(compute(load_job(demo_job(request.param))).text())


def records(content):
    return {record["id"]: record for sheet in content["sheets"] for record in records_of(sheet)}


def checks(content):
    return {check["id"]: check for sheet in content["sheets"] for check in sheet["checks"]}


def from_a_file(given):
    return any(name in given["origin"] for name in FILES)


def test_every_input_that_is_a_result_names_it(content):
    known = records(content)
    assert len(known) == sum(len(records_of(sheet)) for sheet in content["sheets"]), "two records share an id"
    wrong = []
    for record in known.values():
        assert record["inputs"], record["id"]
        for given in record["inputs"]:
            if given["step"]:
                assert given["step"] in known, (record["id"], given["step"])
                assert given["step"] != record["id"]
                continue
            told = from_a_file(given) or given["origin"].startswith(STATED) or "from memory" in given["origin"]
            typed = float(f"{given['value']:.{DIGITS - 1}e}") == given["value"]
            area = given["name"].startswith("A_") and given["origin"].startswith(("EN 10080", "ASTM "))  # of a standard
            if not told or not (typed or from_a_file(given) or area or given["origin"].startswith("check ")):
                wrong.append((record["id"], given["name"], given["value"], given["origin"]))
    assert wrong == []


def test_a_named_result_has_the_value_that_is_taken(content):
    known = records(content)
    wrong = []
    for record in known.values():
        for given in record["inputs"]:
            source = known.get(given["step"] or "")
            if source is not None and source["unit"] == given["unit"] and source["value"] != given["value"]:
                close = abs(source["value"] - given["value"]) <= 1e-8 * abs(given["value"])
                if not close and not given["origin"].strip().startswith("existing bar"):
                    wrong.append((record["id"], given["name"], given["value"], source["id"], source["value"]))
    assert wrong == []


def test_no_trace_runs_in_a_ring(content):
    known, done = records(content), set()

    def walk(identity, above):
        assert identity not in above, (*above, identity)
        if identity not in done:
            for given in known[identity]["inputs"]:
                if given["step"]:
                    walk(given["step"], (*above, identity))
            done.add(identity)

    for identity in known:
        walk(identity, ())


def test_every_side_of_every_check_has_a_source(content):
    known = records(content)
    for check in checks(content).values():
        for side in ("demand", "resistance"):
            told = check[f"{side}_from"]
            assert told["words"] or told["steps"], (check["id"], side)
            assert set(told["steps"]) <= set(known), check["id"]
            if told["steps"] and not told["words"]:  # then it is the result itself
                (identity,) = told["steps"]
                source = known[identity]
                if source["unit"] == check["unit"]:
                    assert source["value"] == pytest.approx(check[side], rel=1e-9, abs=1e-12), check["id"]


def test_every_kind_of_check_that_is_listed_has_two_sides():
    assert all(one.words or one.steps for sides in SIDES.values() for one in sides)


def test_every_number_of_groups_and_totals_leads_to_a_result_or_an_input(content):
    trace = Trace(content)
    ends = []
    for answer in trace.answers:
        ends += [(answer["key"], mark) for mark in answer["rest"]]
    for total in trace.totals:
        if not total["steps"] and not total["sum"]:
            ends.append((total["key"], total["value"]))
    # no bags are filled where the way of preparing the holes draws nothing off
    assert [end for end in ends if end != ("bags", 0.0)] == []


def numbers(content):
    """Every number of results.json, with what stands behind it at once: ids of records, and origins in words."""
    trace, known = Trace(content), records(content)
    for identity in known:
        yield f"{identity}", [identity], []
    for check in checks(content).values():
        for side in ("demand", "resistance"):
            if check[side] is not None:
                told = check[f"{side}_from"]
                yield f"{check['id']} {side}", told["steps"], [told["words"]] if told["words"] else []
    for answer in trace.answers:
        for mark in (*answer["steps"], *(mark for marks in answer["given"].values() for mark in marks)):
            origins = [place for (_, place), marks in answer["given"].items() if mark in marks]
            yield f"{answer['key']} of {mark}", [answer["steps"][mark]] if mark in answer["steps"] else [], origins
    for total in trace.totals:
        if total["steps"] or total["sum"]:
            yield f"totals.{total['key']}", total["steps"], [total["sum"]] if total["sum"] else []


@pytest.mark.parametrize("seed", range(3))
def test_twenty_numbers_end_in_two_steps(content, seed):
    """First step: the number's record, with formula or how it was found, and its inputs. Second: where each is from."""
    known, every = records(content), list(numbers(content))
    by_notebook = {}
    for name, ids, origins in every:
        by_notebook.setdefault(next(iter(ids), name)[:2], []).append((name, ids, origins))
    draw = random.Random(seed)
    chosen = draw.sample(every, 20 - len(by_notebook)) + [draw.choice(some) for some in by_notebook.values()]
    assert len(chosen) == 20
    for name, ids, origins in chosen:
        assert ids or origins, name
        for identity in ids:
            record = known[identity]
            assert record.get("expression") or record.get("how"), name
            assert record.get("source") or record.get("way"), name
            for given in record["inputs"]:
                assert (given["step"] in known) if given["step"] else given["origin"].strip(), (name, given["name"])


def test_seeds_and_rules_stand_in_one_list(content):
    """Whatever was simulated says with which seed, or names the simulation that does."""
    known = records(content)
    simulated = [record for record in known.values() if record.get("way") == "simulated"]
    for record in simulated:
        names = {given["name"] for given in record["inputs"]}
        behind = {known[given["step"]]["name"] for given in record["inputs"] if given["step"]}
        assert "seed" in names or behind & {"holes", "days"}, record["id"]
        assert len(record["how"]) > 20
    if any(key.startswith("series") or key == "finish_h" for key in numbers_of(content["totals"])):
        assert simulated
