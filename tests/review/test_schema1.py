"""Packages of schema 1, built before steps and checks said what they belong to.

Read, compared in one form, each difference named.
"""

import copy
import json
import shutil
from pathlib import Path

import pytest

from calc.cli import main
from calc.package import schema1
from calc.package.manifest import open_package
from calc.review.compare import compare
from calc.review.recheck import AGREES, DIFFERS, IDENTICAL, TAMPERED, UNREADABLE, recheck
from calc.review.review import open_review, readable, small_package
from calc.work.load import load_job

DATA = Path(__file__).parent / "data"
PLAIN, FULL = DATA / "schema1-plain", DATA / "schema1-full"  # without and with [design] and [site]
BOTH = pytest.mark.parametrize("package", [PLAIN, FULL], ids=["plain", "full"])


@BOTH
def test_it_is_as_built_and_every_difference_has_a_name(package, capsys):
    verdict = recheck(package, quick=True)
    assert verdict.word in (AGREES, DIFFERS), verdict.sentence
    assert verdict.damage == ()
    assert verdict.exit_code == (1 if verdict.changes else 0) == main(["recheck", "--quick", str(package)])
    out = capsys.readouterr().out
    for change in verdict.changes:
        assert change.rules, f"no named change of a rule explains: {change.words}"
        assert change.words.endswith(f"[{', '.join(change.rules)}]")
        assert all(rule in out for rule in change.rules)
    assert ("Changes of rules that explain differences" in out) == bool(verdict.changes)
    assert "forged" not in out
    assert "Traceback" not in out


def test_a_difference_that_no_rule_explains_is_the_first_cause(tmp_path, reseal):
    package = tmp_path / "package"
    shutil.copytree(FULL, package)
    content = json.loads((package / "results.json").read_text(encoding="utf-8"))
    step = next(step for step in content["sheets"][0]["steps"] if step["id"].endswith(".V_req"))
    step["value"] *= 1.5
    (package / "results.json").write_text(json.dumps(content), encoding="utf-8")
    reseal(package)
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == (DIFFERS, 1)
    assert step["id"] in verdict.sentence
    assert verdict.changes[0].rules == ()
    assert any("no named change of a rule explains 1 of the differences" in line for line in verdict.rules) == any(
        one.rules for one in verdict.changes
    )


@BOTH
def test_it_is_compared_with_what_is_computed_from_its_inputs_today(package, tmp_path, capsys):
    shutil.copytree(package / "inputs", tmp_path / "inputs")
    today = small_package(load_job(tmp_path / "inputs"), tmp_path / "today")
    assert json.loads((today / "results.json").read_text(encoding="utf-8"))["schema"] == 2
    for before, after in ((package, today), (today, package)):
        found = compare(before, after)
        assert found.inputs == ()
        assert all(change.rules for change in found.changes)
    assert main(["compare", str(package), str(today)]) in (0, 1)
    assert "Traceback" not in capsys.readouterr().out
    assert compare(package, package).changes == ()


def test_two_old_packages_are_compared():
    found = compare(PLAIN, FULL)
    assert found.inputs
    assert {"04.W4.N_Ed", "05.job.t_one"} <= {change.id for change in found.changes if change.what == "added"}


@BOTH
def test_the_reviewers_notebook_follows_it(package):
    review = open_review(package)
    assert review.verdict.word not in (TAMPERED, UNREADABLE, IDENTICAL)
    readable(review)
    assert review.marks == ["S2", "W4"]
    for mark in ("", *review.marks):
        assert review.answers_of(mark)
        assert all((step.mark or "") == mark for step in review.steps_of(mark))
    for name in review.steps:
        assert review.redo(name).agrees, name
    chain = review.chain("01.W4.V_round")
    assert {step.name for step in chain} >= {"V_a", "V_req", "V_dose", "n_g", "V_round"}
    assert {step.mark for step in chain} == {"W4"}


@BOTH
def test_the_canonical_form_is_that_of_schema_2(package):
    content = open_package(package).results
    assert content["schema"] == 2
    raw = json.loads((package / "results.json").read_text(encoding="utf-8"))
    for sheet, old in zip(content["sheets"], raw["sheets"], strict=True):
        assert [one["text"] for one in sheet["notices"]] == old["notices"]
        for part in ("steps", "checks"):
            for record, before in zip(sheet[part], old[part], strict=True):
                assert record["notebook"] == sheet["notebook"]
                assert record["mark"] in ("S2", "W4", None)
                assert before["id"] == record["id"]  # these marks are written as they were
                assert record["id"].endswith(f".{record['name']}")
        assert all(
            check["verdict"] == ("passes" if before["passes"] else "fails")
            for check, before in zip(sheet["checks"], old["checks"], strict=True)
        )
        known = {step["id"] for one in content["sheets"] for step in one["steps"]}
        for given in (given for step in sheet["steps"] for given in step["inputs"]):
            assert given["step"] is None or given["step"] in known
            assert (given["step"] is not None) == (given["origin"].removeprefix("step ") in known)


def test_marks_with_dots_are_found_the_longest_first():
    def step(name: str, *origins: str) -> dict[str, object]:
        return {
            "id": name,
            "formula": "calc.fill.hole.annular_volume",
            "inputs": [{"name": "x", "origin": origin} for origin in origins],
        }

    steps = [
        step("01.A.V_a"),
        step("01.A.1.V_a", "step 01.A.V_a"),
        step("01.job.V_a", "step 01.A.1.V_a"),
        step("01.A.u.d_0", "file, key"),
    ]
    content = {
        "schema": 1,
        "groups": [{"mark": "A"}, {"mark": "A.1"}],
        "sheets": [{"notebook": "01_dose_per_hole", "steps": steps, "checks": []}],
    }
    before = copy.deepcopy(content)
    found = schema1.as_schema_2(content)["sheets"][0]["steps"]
    assert content == before
    assert [(one["mark"], one["name"]) for one in found] == [
        ("A", "V_a"),
        ("A.1", "V_a"),
        (None, "V_a"),
        ("A", "u.d_0"),
    ]
    assert [one["id"] for one in found] == ["01.A.V_a", '01."A.1".V_a', "01.job.V_a", "01.A.u.d_0"]
    assert found[2]["inputs"] == [{"name": "x", "origin": 'step 01."A.1".V_a', "step": '01."A.1".V_a'}]
    assert found[3]["inputs"] == [{"name": "x", "origin": "file, key", "step": None}]
    assert {one["formula"] for one in found} == {"annular_volume"}


@pytest.mark.parametrize(
    "content",
    [
        {},
        {"sheets": 3, "groups": "x"},
        {"sheets": [1, {"notebook": 5}, {"steps": 3, "checks": [2, {}], "notices": 7}], "groups": [{"mark": 4}, 5]},
        {
            "sheets": [
                {
                    "notebook": None,
                    "steps": [{"id": None, "inputs": [3, {"origin": 5}]}, {"id": "01.", "formula": 9, "inputs": 1}],
                }
            ]
        },
    ],
)
def test_what_is_no_result_is_left_to_its_reader(content):
    found = schema1.as_schema_2(content)
    assert found["schema"] == 2
    schema1.comparable(found)
