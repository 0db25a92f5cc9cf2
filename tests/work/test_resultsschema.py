"""The schema that outsiders get is the form that results.json has."""

from copy import deepcopy

import pytest
from jsonschema import Draft202012Validator

from calc.files.job import demo_job
from calc.work.load import load_job
from calc.work.results import RESULTS_SCHEMA, compute
from calc.work.resultsschema import results_schema


@pytest.fixture(scope="module", params=["metric", "us", "failing"])
def data(request):
    return compute(load_job(demo_job(request.param))).data()


def wrong(data):
    return [error.json_path for error in Draft202012Validator(results_schema()).iter_errors(data)]


def test_the_results_of_every_demo_have_this_form(data):
    Draft202012Validator.check_schema(results_schema())
    assert results_schema()["properties"]["schema"]["const"] == RESULTS_SCHEMA
    assert wrong(data) == []
    for change in (
        lambda d: d.update(schema=3),
        lambda d: d["totals"].update(waste_L="a lot"),
        lambda d: d["groups"][0].pop("rounded_dose_mL"),
        lambda d: d["sheets"][0]["steps"][0].update(value="12"),
        lambda d: d["sheets"][0]["checks"][0].update(verdict="fine"),
        lambda d: d["sheets"][0]["steps"][0]["inputs"][0].update(guessed=True),
    ):
        other = deepcopy(data)
        change(other)
        assert len(wrong(other)) == 1
