"""What goes in: every key of the job file shows up in a notebook by itself, named by the description of its field."""

from dataclasses import replace

import pytest

from calc.files.adhesive import AdhesiveRecord
from calc.files.job import demo_job
from calc.files.reading import is_mapping, table_in
from calc.files.tables import JobFile
from calc.files.typed import typed_rows
from calc.show import view
from calc.show.embedment import views as embedment
from calc.show.evidence import views as evidence
from calc.show.overfill import views as overfill
from calc.show.plan import views as plan
from calc.work.evidence import work_measured
from calc.work.load import load_job
from calc.work.results import compute

MARK = "S2"  # the demo's measured group


def places(model, at=()):
    """Every key that a file may hold, tables in lists and under a mark once."""
    for name, field in model.model_fields.items():
        inner = table_in(field.annotation)
        here = (*at, field.alias or name, *((MARK,) if is_mapping(field.annotation) else ()))
        if inner is None:
            yield here
        else:
            listed = "tuple[" in str(field.annotation)
            yield from places(inner, (*here, 0) if listed else here)


def fields(model, seen=()):
    for name, field in model.model_fields.items():
        yield model, name, field
        if (inner := table_in(field.annotation)) and inner not in seen:
            yield from fields(inner, (*seen, inner))


@pytest.fixture(scope="module")
def metric():
    job = load_job(demo_job())
    return job, compute(job)


def shown(job, results):
    measured = work_measured(job, results.worked)
    look = overfill.look(job, results)
    views = [
        view.inputs_view(view.input_rows(job)),
        *overfill.inputs(look),
        overfill.assumptions(look),
        *evidence.holes(job, measured),
    ]
    views += [embedment.inputs(job, embedment.part_of(results)), *plan.inputs(job)]
    return [row for one in views if one.block["kind"] in ("table", "inputs") for row in one.block["rows"]]


def test_every_key_of_the_job_file_shows_up_by_itself(metric):
    """One job in which all keys stand at once, those that exclude each other as well.

    What is typed is shown, whatever it says.
    """
    job, results = metric
    kept = [place for place in places(JobFile) if ".".join(map(str, place)) not in view._ON_EVERY_PAGE]
    assert len(kept) > 190
    assert ("site", "ways", MARK, "steps", 0, "label") in kept
    typed = {place: f"‹{number}›" for number, place in enumerate(kept)}
    rows = shown(replace(job, typed=typed), results)
    for place, text in typed.items():
        end = next((i for i, part in enumerate(place) if isinstance(part, int)), len(place))
        where = f"job.toml, {'.'.join(place[:end])}"
        found = [row for row in rows if row[2] == where and text in row[1]]
        assert found, f"{place} is nowhere"
        assert all(row[0][0].isupper() for row in found)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_all_that_the_demos_say_is_shown_as_typed(units):
    job = load_job(demo_job(units))
    rows = shown(job, compute(job))
    by_place = {row[2]: row for row in rows if len(row) == 3}
    for words, text, place in typed_rows(JobFile, job.typed, "job.toml", sections=1):
        if place.removeprefix("job.toml, ") not in view._ON_EVERY_PAGE:
            assert by_place[place] == [words, text, place]
    for place, text in job.typed_record.items():
        if text and place[0] not in ("working_time", "curing_time"):
            assert text in by_place[f"adhesive.toml, {'.'.join(part for part in place if isinstance(part, str))}"][1]


def test_words_of_lists_tables_and_marks():
    typed = {
        ("site", "breaks", 0, "at"): "09:30",
        ("site", "breaks", 0, "length"): "20 min",
        ("site", "breaks", 1, "at"): "12:30",
        ("site", "ways", "a.b", "steps", 0, "do"): "drill",
        ("site", "ways", "a.b", "steps", 0, "per_metre"): "7 min",
        ("site", "ways", "a.b", "steps", 1, "do"): "blow",
        ("measured", "W.3", "depth", 0): "0 mm",
        ("measured", "W.3", "depth", 1): "40 mm",
        ("evidence", "S2", "excluded", "H 7"): "a void",
        ("scatter", "correlation", 0, "between", 0): "voids",
        ("scatter", "correlation", 0, "between", 1): "embedment",
        ("scatter", "correlation", 0, "r"): "0.3",
        ("scatter", "group", "W3", "embedment", "sd"): "2 mm",
        ("job", "note"): "",
    }
    assert typed_rows(JobFile, typed, "job.toml", sections=1) == [
        ("Breaks of every shift", "09:30, length 20 min; 12:30", "job.toml, site.breaks"),
        ("a.b: what is done to a hole, in order", "drill, per metre 7 min; blow", "job.toml, site.ways.a.b.steps"),
        ("W.3: depths from the mouth", "0 mm, 40 mm", "job.toml, measured.W.3.depth"),
        ("S2: measurements left out: H 7", "a void", "job.toml, evidence.S2.excluded.H 7"),
        ("Inputs that go together", "voids, embedment, r 0.3", "job.toml, scatter.correlation"),
        ("W3: embedment, deviation: standard deviation", "2 mm", "job.toml, scatter.group.W3.embedment.sd"),
    ]


@pytest.mark.parametrize("model", [JobFile, AdhesiveRecord])
def test_every_field_says_what_it_is(model):
    for owner, name, field in fields(model):
        section = owner is JobFile and table_in(field.annotation)
        assert field.description or section, f"{owner.__name__}.{name} has no description, and a table cannot name it"


def test_each_table_of_the_job_file_has_one_notebook():
    claimed = [table for tables in view.TABLES.values() for table in tables]
    assert len(set(claimed)) == len(claimed)
    assert set(claimed) <= set(JobFile.model_fields)
