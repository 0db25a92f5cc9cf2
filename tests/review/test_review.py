"""The reviewer's tools: a result followed back to the inputs, a step worked again, an input changed in a copy."""

import json
import math
import os
import shutil
from html import unescape

import pytest

from calc.base.formula import RangeError
from calc.base.units import UnitError
from calc.files.job import demo_job
from calc.files.problems import InputErrors
from calc.package.manifest import PackageError
from calc.review import views as show
from calc.review.figures import chain_picture
from calc.review.panel import ReviewPanel
from calc.review.review import asked, compared, found_packages, job_keys, open_review, practice_pair, small_package
from calc.work.load import load_job
from calc.work.results import compute


@pytest.fixture(scope="module")
def practice():
    return open_review("")


@pytest.fixture(scope="module")
def american(tmp_path_factory):
    return open_review(small_package(load_job(demo_job("us")), tmp_path_factory.mktemp("us") / "package"))


@pytest.fixture
def rewritten(package, reseal):
    """Change results.json of the small package, and make the manifest fit, as a forger would."""

    def write(change):
        path = package / "results.json"
        content = json.loads(path.read_text(encoding="utf-8"))
        change(content["sheets"][0]["steps"])
        path.write_text(json.dumps(content, ensure_ascii=False), encoding="utf-8")
        reseal(package)
        return open_review(package)

    return write


def test_the_practice_pair_is_identical_to_the_demo_but_for_one_hole(practice):
    assert practice.practice
    assert practice.verdict.word == "identical"
    first = open_review(practice_pair()[0])
    assert json.loads(first.package.results_text) == json.loads(compute(load_job(demo_job())).text())
    found = compared(practice, "")
    assert [one.words for one in found.inputs] == [
        "W4, hole diameter: 25 mm → 28 mm",
        "Revision of this calculation: A → B",
    ]


def test_every_step_is_worked_again_to_the_same_value(practice, american):
    for review in (practice, american):
        assert len(review.steps) > 100
        assert [name for name in review.steps if not review.redo(name).agrees] == []
        assert [name for name in review.steps if review.redo(name).step.shown != review.steps[name].shown] == []


def test_a_result_is_followed_back_to_every_step_behind_it(practice):
    ids = [step.id for step in practice.chain("01.B6.V_round")]
    assert ids[-1] == "01.B6.V_round"
    assert set(ids) == {f"01.B6.{name}" for name in ("V_a", "V_o", "V_t", "V_req", "V_dose", "n_g", "V_round")}
    for name in practice.steps:  # each step after the ones that it takes from
        chain = [step.id for step in practice.chain(name)]
        place = {one: number for number, one in enumerate(chain)}
        assert all(
            place[link.step] < place[step.id]
            for step in practice.chain(name)
            for link in practice.links(step)
            if link.step
        )


def test_users_are_the_other_way_round(practice):
    for name in practice.steps:
        for user in practice.users(name):
            assert name in [link.step for link in practice.links(user)]
    assert "01.B6.V_req" in [user.id for user in practice.users("01.B6.V_a")]


def test_every_number_of_results_json_is_told(practice):
    groups = practice.package.results["groups"]
    for group in groups:
        answers = practice.answers_of(group["mark"])
        assert all(bool(one.step) != bool(one.note) for one in answers)
        steps = {one.step for one in answers if one.step}
        assert f"01.{group['mark']}.V_round" in steps
        assert all(f".{group['mark']}." in step for step in steps)
    totals = {one.text: one for one in practice.answers_of("")}
    assert totals["packs to order 64"].step == "05.job.order_packs"
    assert totals["holes 284"].note == "summed: sum over all groups"
    assert totals["days 2"].step == ""  # two bits are worn out too, and that is no reason
    assert totals["days 2"].note.startswith("counted: lists/day-book.csv: ")
    overfill = next(one for one in practice.answers_of("S1") if one.text.startswith("overfill 0.2"))
    assert overfill.note == "an input: schedule.csv its row, overfill"


def test_a_step_worked_with_other_inputs(practice):
    done = practice.redo("01.B6.V_a", {"d_0": "41 mm", "l_v": "0.42 m"})
    assert math.isclose(done.step.value, math.pi / 4 * (41**2 - 32**2) * 420)
    assert done.words.startswith("With d_0 = 41 mm, l_v = 0.42 m: 216.72 mL in place of 190.00 mL (+14.06%)")
    assert done.packaged.value == practice.steps["01.B6.V_a"].value
    assert practice.redo("01.B6.V_dose", {"overfill": "0.2"}).step.value == pytest.approx(
        practice.steps["01.B6.V_req"].value * 1.2
    )


def test_inches_in_an_american_package(american):
    name = next(name for name in american.steps if name.endswith(".V_a"))
    step = american.redo(name, {"d_0": "1-1/8 in"}).step
    assert any(one.shown == "1.125 in" for one in step.inputs)


@pytest.mark.parametrize(
    ("changed", "error", "said"),
    [
        ({"d_0": "41"}, UnitError, "d_0"),
        ({"d_0": "41,5 mm"}, UnitError, "d_0"),
        ({"d_0": "41 mL"}, UnitError, "d_0"),
        ({"d_0": "20 mm"}, RangeError, "smaller than d_0"),
        ({"d_1": "41 mm"}, UnitError, "accepted: d_0, phi, l_v"),
    ],
)
def test_a_wrong_entry_gets_a_sentence(practice, changed, error, said):
    with pytest.raises(error, match=said):
        practice.redo("01.B6.V_a", changed)


def test_an_unknown_step_gets_a_sentence(practice):
    with pytest.raises(
        PackageError, match=r"no step of this package; accepted: an id from its results\.json, such as 01\."
    ):
        practice.redo("01.B9.V_a")


def test_a_forged_value_is_seen_at_its_step(rewritten):
    def forge(steps):
        steps[0]["value"] *= 1.1
        steps[0]["shown"] = "9.999 mL"

    review = rewritten(forge)
    assert review.verdict.word == "differs"
    name = next(iter(review.steps))
    assert not review.redo(name).agrees
    assert "where the package has 9.999 mL" in review.redo(name).words
    assert "✗ DIFFERS" in show.followed(review, name)[1].markdown


@pytest.mark.parametrize(
    "name", ["os.system", "calc.package.build.build", "calc.fill.hole.nothing", "__import__('os')", "subprocess.run"]
)
def test_a_formula_is_looked_up_among_the_installed_ones_and_nowhere_else(rewritten, name):
    review = rewritten(lambda steps: steps[0].update(formula=name))
    done = review.redo(next(iter(review.steps)))
    assert done.step is None
    assert "has no formula" in done.words


def test_latex_of_the_package_is_never_drawn(rewritten):
    review = rewritten(
        lambda steps: steps[0].update(latex=r"\href{javascript:alert(1)}{x}", label="<img src=x onerror=alert(1)>")
    )
    name = next(iter(review.steps))
    text = "".join(view.markdown for view in (*show.followed(review, name), *show.by_hand(review, name)))
    assert "javascript" not in text
    assert "<img" not in text


def test_steps_in_a_ring_end(rewritten):
    def ring(steps):
        steps[0]["inputs"][0]["step"] = steps[1]["id"]
        steps[1]["inputs"][0]["step"] = steps[0]["id"]

    review = rewritten(ring)
    first, second = list(review.steps)[:2]
    assert {step.id for step in review.chain(first)} == {first, second}
    assert chain_picture(review, first).svg.startswith("<svg")


@pytest.mark.parametrize(
    "change",
    [lambda steps: steps[0].pop("symbol"), lambda steps: steps[0].update(value="much"), lambda steps: steps.append(3)],
)
def test_steps_that_are_no_steps_get_a_sentence(rewritten, change):
    review = rewritten(change)
    with pytest.raises(PackageError, match=r"results\.json: steps cannot be read"):
        show.picture(review)


def test_a_tampered_package_is_not_followed(package):
    (package / "doses.csv").write_bytes(b"x")
    review = open_review(package)
    assert review.verdict.word == "tampered"
    for view in (show.picture, show.followed, show.by_hand):
        with pytest.raises(PackageError, match=r"cannot be followed: .*doses\.csv"):
            view(review)


def test_what_is_no_package_gets_a_sentence(tmp_path):
    with pytest.raises(PackageError, match="no calculation package"):
        open_review(tmp_path)


def test_asking_what_would_change(package):
    review = open_review(package)
    keys = job_keys(review.package)
    assert keys["overfill.share"] == "0.1"
    assert keys["P5, embedment"] == "360 mm"
    before = (package / "inputs" / "schedule.csv").read_bytes()
    found = asked(review.package, "P5, embedment", "400")
    assert [one.words for one in found.inputs] == ["P5, embedment: 360 mm → 400 mm"]
    assert {one.id.split(".")[1] for one in found.changes if one.kind == "step"} == {"P5", "job"}
    found = asked(review.package, "overfill.share", "0.2")
    assert {one.id.split(".")[1] for one in found.changes if one.kind == "step"} == {
        "W4",
        "P5",
        "job",
    }  # S1 has an overfill of its own
    assert (package / "inputs" / "schedule.csv").read_bytes() == before
    assert open_review(package).verdict.word == "identical"
    with pytest.raises(InputErrors, match="embedment"):
        asked(review.package, "P5, embedment", "36o")


def test_packages_are_found_the_newest_first(package, tmp_path):
    folder = tmp_path / "exports"
    for number, name in enumerate(("old", "new")):
        copy = shutil.copytree(package, folder / name)
        os.utime(copy / "manifest.json", (1000 + number, 1000 + number))
    (folder / "no package").mkdir()
    assert [path.name for path in found_packages(folder)] == ["new", "old"]
    assert found_packages(tmp_path / "nowhere") == []


def test_the_views_say_what_stands_behind(practice):
    head, *rest = show.verdict(practice)
    assert head.block["items"][0].startswith("numbers: IDENTICAL: ")
    assert [view.block["title"] for view in rest] == ["Sign-off", "What this tells"]
    views = show.followed(practice)
    assert [step["id"] for step in views[0].block["steps"]] == [
        step.id for step in practice.chain(practice.governing())
    ]
    assert all(row[3] == "✓ the same" for row in views[1].block["rows"])
    assert ["d_0", "40 mm", "schedule.csv row 7, hole_diameter", "01.B6.V_a, 01.B6.V_o, 01.B6.V_t"] in views[2].block[
        "rows"
    ]
    table = show.by_hand(practice)[-1].block
    change = {row[0]: row[3] for row in table["rows"]}
    assert change["l_v"] == "+1.00%"
    assert change["d_0"] == f"{(40.4**2 - 32**2) / (40**2 - 32**2) - 1:+.2%}"
    assert "2 inputs" in show.revisions(compared(practice, ""))[0].markdown
    assert show.comments(practice).block["items"] == ["None yet."]


def test_the_picture_has_every_step_or_says_how_many_it_leaves_out(practice):
    for name in [name for name in practice.steps if ".B6." in name or ".job." in name][::6]:
        chain = practice.chain(name)
        picture = chain_picture(practice, name)
        left = len(chain) - len(picture.numbers)
        assert name in dict(picture.numbers)
        assert (f"{left} step" in picture.caption) == (left > 0)
        assert picture.alt.endswith(".")
    deep = max(practice.steps, key=lambda one: len(practice.chain(one)))
    picture = chain_picture(practice, deep)
    assert f"{len(practice.chain(deep)) - len(picture.numbers)} steps further back are not drawn" in picture.alt


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("groups", 5),
        ("groups", ["x", None, {}]),
        ("totals", "x"),
        ("sheets", 3),
        ("sheets", [{"notebook": "01"}]),
        ("sheets", [{"notebook": "01", "steps": 2}]),
    ],
)
def test_parts_that_are_none_get_a_sentence(package, reseal, part, value):
    path = package / "results.json"
    content = json.loads(path.read_text(encoding="utf-8")) | {part: value}
    path.write_text(json.dumps(content), encoding="utf-8")
    reseal(package)
    review = open_review(package)
    for view in (show.picture, show.followed, show.by_hand):
        with pytest.raises(PackageError, match=r"results\.json"):
            view(review)
    panel = ReviewPanel(review)
    assert all("results.json" in unescape(sheet.output.value) for sheet in (panel.walk, panel.question))


def test_numbers_that_are_shown_otherwise_than_they_are_get_told(rewritten):
    review = rewritten(lambda steps: (steps[0].update(shown="999.00 mL"), steps[0]["inputs"][0].update(shown="80 mm")))
    words = review.redo(next(iter(review.steps))).words
    assert "V_a is shown as 999.00 mL and is 6.9115 mL" in words
    assert "d_0 is shown as 80 mm and is 12 mm" in words


def test_a_step_by_hand_begins_behind_the_result_that_is_followed(practice):
    table = show.by_hand(practice, result="01.S1.V_round")[-1].block
    assert table["rows"][0][1] == "12 mm"
