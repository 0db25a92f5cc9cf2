"""Keys about the load path: what is read, what follows from what, and what does not go together."""

import math

import pytest
from pydantic import ValidationError

from calc.files.design import Design, GroupValues, Values, choose, lines_to_add
from calc.files.job import demo_job
from calc.files.loadpath import IMPLIED, PATH_WORDS, PATHS, agree, line_to_add
from calc.files.reading import read_toml
from calc.work.load import load_job
from calc.work.results import compute


def design(own=None, **job):
    return Design.model_validate({"code": "EN 1992-1-1:2004", **job, "group": {"A": own} if own else {}})


def test_every_path_has_its_words():
    assert set(PATH_WORDS) == set(PATHS)
    line = line_to_add("force_path", Values.model_fields["force_path"])
    assert all(f"{path}: " in line for path in PATHS if path not in IMPLIED)


@pytest.mark.parametrize(
    ("job", "own", "found"),
    [
        ({}, {}, (None, None)),
        ({"use": "anchorage"}, {}, ("anchorage", None)),
        ({"use": "lap"}, {}, ("lap", "lap")),
        ({"force_path": "joint"}, {}, ("joint", "joint")),
        ({"force_path": "concrete"}, {}, ("anchorage", "concrete")),
        ({"use": "anchorage", "force_path": "tension_line"}, {"use": "joint"}, ("joint", "joint")),
        ({"use": "lap"}, {"force_path": "concrete"}, ("anchorage", "concrete")),
        (
            {"use": "anchorage", "force_path": "tension_line"},
            {"force_path": "compression"},
            ("anchorage", "compression"),
        ),
        ({"use": "anchorage", "force_path": "tension_line"}, {"use": "anchorage"}, ("anchorage", "tension_line")),
    ],
)
def test_use_and_path_follow_from_one_another_and_a_group_restates_them(job, own, found):
    chosen = choose(design(own, **job), "A")
    assert (chosen["use"], chosen["force_path"]) == found


@pytest.mark.parametrize(
    ("use", "path", "together"),
    [("lap", "lap", True), ("lap", "concrete", False), ("anchorage", "joint", False), (None, "lap", True)],
)
def test_what_goes_together(use, path, together):
    assert agree(use, path) is together


def test_a_far_edge_is_said_and_no_number():
    chosen = choose(design({"edge": "far", "edge_right": "far"}, edge="200 mm"), "A")
    assert (chosen["edge"], chosen["edge_far"], chosen["edge_right"]) == (None, True, math.inf)
    back = choose(design({"edge": "120 mm"}, edge="far"), "A")
    assert (back["edge"], back["edge_far"]) == (120.0, None)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("edge_above", "near", 'or "far"'),
        ("force_path", "magic", "Input should be"),
        ("alpha_sus", 1.2, "from 0 to 1"),
        ("elsewhere", {}, "is not a table of references"),
        ("elsewhere", {"steel": "x" * 201}, "1 to 200 characters"),
        ("elsewhere", {"steel": "two\nlines"}, "one line of text"),
        ("concrete_age", 30, "is not a text with a unit"),
        ("bars_in_row", 0, "greater than or equal to 1"),
    ],
)
def test_what_cannot_be_is_refused(key, value, said):
    with pytest.raises(ValidationError, match="(?s)" + said.replace("(", r"\(")):
        GroupValues.model_validate({key: value})


def test_the_lines_to_add_are_read_by_the_job_file(tmp_path):
    """With a value in its place, each line is TOML of a key that the model knows."""
    lines = lines_to_add(compute(load_job(demo_job("failing"))).checks)
    file = tmp_path / "lines.toml"
    file.write_text("\n".join(line.replace("= …", '= "x"') for line in lines), encoding="utf-8")
    problems = []
    tables = read_toml(file, "lines.toml", problems)["design"]["group"]
    assert problems == []
    known = set(Values.model_fields)
    for table in tables.values():
        approval = table.pop("approval", {})
        assert set(table) <= known
        assert set(approval) <= set(GroupValues.model_fields["approval"].annotation.__args__[0].model_fields)
