"""The exercises: any unit of the right kind, hints from the mistake itself, no answer before the second wrong try.

A safe result sheet.
"""

import csv
import io
import math
import random
import re

import pytest

from calc.base.units import convert
from calc.lesson.classroom import ExerciseScene
from calc.lesson.exercises import CLOSE, KINDS, Attempt, check, exercises, result_sheet, safe_cell
from calc.lesson.scene import Classroom
from calc.lesson.texts import Texts

EN = Texts()
SYSTEMS = ["metric", "us"]


def of_kind(kind, system="metric", seed=1):
    return next(one for one in exercises(system, seed) if one.kind == kind)


def typed(exercise, value, unit=None):
    if exercise.unit == "pcs":
        return f"{value:g}"
    unit = unit or exercise.unit
    return f"{convert(value, exercise.unit, unit):.12f} {unit}"


def answered(scene, text):
    """Type an answer and press the button, as leaving the field and a click do."""
    scene.fields["answer"].value = text
    scene.check.click()


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("seed", range(30))
def test_every_variant_is_sound(system, seed):
    for one in exercises(system, seed):
        assert math.isfinite(one.answer)
        assert one.answer > 0
        assert check(one, typed(one, one.answer), EN).right
        assert one.mistakes
        for mistake in one.mistakes:
            assert not math.isclose(mistake.value, one.answer, rel_tol=CLOSE)
            verdict = check(one, typed(one, mistake.value), EN)
            assert not verdict.right
            assert verdict.read
            assert verdict.mistake in {m.key for m in one.mistakes}
            # two mistakes may lead to one value; the first of them is named
            first = next(m for m in one.mistakes if math.isclose(m.value, mistake.value, rel_tol=CLOSE))
            assert verdict.mistake == first.key
        asked = EN.say(f"exercises.{one.kind}", **one.values)
        assert "{" not in asked
        assert one.unit == "pcs" or one.answer_text not in asked


def test_every_hint_has_words_and_says_no_number():
    keys = {m.key for system in SYSTEMS for seed in range(60) for one in exercises(system, seed) for m in one.mistakes}
    assert {
        "radius_for_diameter",
        "forgot_bar",
        "forgot_tip",
        "forgot_overfill",
        "rounded_down",
        "subtracted_first",
    } <= keys
    for key in keys | {"thousand", "ten", "mixed_inches", "other_unit", "percent_as_share"}:
        assert not re.search(r"\d\.\d|\d{2}", EN.say(f"hints.{key}").replace("mm³", ""))


def test_classes_differ_and_a_class_repeats():
    assert exercises("metric", 4) == exercises("metric", 4)
    assert len({tuple(one.answer for one in exercises("metric", seed)) for seed in range(12)}) == 12
    assert [one.kind for one in exercises("us", 2)] == [kind for kind, _ in KINDS]


@pytest.mark.parametrize("unit", ["mL", "ml", "cm³", "cm3", "mm³", "in³", "fl oz", "L"])
def test_any_unit_of_the_right_kind(unit):
    one = of_kind("ring")
    assert check(one, typed(one, one.answer, unit), EN).right


_NO_ANSWERS = [
    ("22.6", "no unit"),
    ("22,619 mL", "two ways; write 22619 mL or 22.619 mL"),
    ("22.6 mm", "wrong kind"),
    ("", "not a number"),
    ("=1+1", "not a number"),
]


@pytest.mark.parametrize(("text", "said"), _NO_ANSWERS)
def test_what_is_not_an_answer_is_no_try(text, said):
    one = Attempt(of_kind("ring"), 1)
    verdict = one.answer(text, EN)
    assert not verdict.read
    assert said in verdict.message
    assert one.tries == 0


def test_the_hint_names_the_mistake():
    ring = of_kind("ring")
    assert check(ring, typed(ring, ring.answer * 1000), EN).mistake == "thousand"
    assert check(ring, typed(ring, ring.answer / 10), EN).mistake == "ten"
    # the radius put where the diameter belongs: a quarter; the other way round: four times
    assert check(ring, typed(ring, ring.answer / 4), EN).mistake == "radius_for_diameter"
    assert check(ring, typed(ring, ring.answer * 4), EN).mistake == "diameter_for_radius"
    in_cubic_inches = convert(ring.answer, "mm³", "in³")
    assert check(ring, f"{in_cubic_inches:.4f} mL", EN).mistake == "mixed_inches"
    millilitres = convert(ring.answer, "mm³", "mL")
    assert check(ring, f"{millilitres:.4f} in³", EN).mistake == "mixed_inches"
    assert check(ring, f"{ring.answer * 1.37:.3f} mm³", EN).message == EN.say("hints.smaller")
    assert check(ring, f"{ring.answer * 0.71:.3f} mm³", EN).message == EN.say("hints.larger")


def test_a_share_is_as_good_as_a_percentage():
    share = of_kind("share")
    assert check(share, f"{share.answer / 100:.5f}", EN).right
    assert check(share, f"{share.answer:.4f} %", EN).right
    assert check(share, f"{share.answer:.2f}%".replace(".", ","), EN).right
    assert check(share, f"{share.answer / 100:.5f} %", EN).mistake == "percent_as_share"


def test_a_share_without_its_sign_is_told_so_and_is_no_try():
    share = of_kind("share")
    for text in (f"{share.answer:.0f}", "12", "50/3"):
        verdict = check(share, text, EN)
        assert (verdict.right, verdict.read, verdict.mistake) == (False, False, "no_percent")
        assert "% sign is missing" in verdict.message
    for text in ("40 °", "40 mm"):
        verdict = check(share, text, EN)
        assert not verdict.read
        assert "°," not in verdict.message
        assert "50 %" in verdict.message
    assert check(share, "1/1000", EN).read


def test_strokes_are_whole_and_have_no_unit():
    one = of_kind("strokes")
    assert check(one, f"{one.answer - 0.65:g}", EN).mistake == "whole_strokes"
    assert "round up" in check(one, f"{one.answer - 0.65:g}", EN).message
    assert check(one, "0.157", EN).mistake == "inverted"
    assert check(one, f"{one.answer + 5:g}", EN).mistake == "strokes_other"
    unit = check(one, "7 mL", EN)
    assert not unit.read
    assert "no unit" in unit.message
    assert "no unit" in check(one, "7,5 mL", EN).message


def test_the_result_sheet_names_mistakes_in_words():
    one = Attempt(of_kind("ring"), 1)
    one.answer(typed(one.exercise, one.exercise.answer / 4), EN)
    one.answer("1 mL", EN)
    (row,) = csv.DictReader(io.StringIO(result_sheet({"": [one]}, seed=1)))
    assert row["mistakes"].split("; ")[0] == "half the diameter for the diameter"
    assert "_" not in row["mistakes"]
    keys = {m.key for system in SYSTEMS for seed in range(60) for e in exercises(system, seed) for m in e.mistakes}
    for key in keys | {
        "thousand",
        "ten",
        "mixed_inches",
        "other_unit",
        "percent_as_share",
        "whole_strokes",
        "strokes_other",
        "other",
    }:
        assert EN.say(f"mistakes.{key}")


def test_rounding_by_hand_is_right_and_more_is_not():
    ring = of_kind("ring")
    assert check(ring, typed(ring, ring.answer * 1.01), EN).right
    assert not check(ring, typed(ring, ring.answer * 1.02), EN).right
    strokes = of_kind("strokes")
    assert not check(strokes, f"{strokes.answer + 0.5}", EN).right


def test_no_answer_before_the_second_wrong_try():
    one = Attempt(of_kind("dose"), 1)
    with pytest.raises(ValueError, match="after the second wrong try"):
        one.show()
    one.answer("1 mL", EN)
    with pytest.raises(ValueError, match="after the second wrong try"):
        one.show()
    one.answer("2 mL", EN)
    assert one.may_show
    assert one.show() == one.exercise.answer_text
    one.answer(typed(one.exercise, one.exercise.answer), EN)
    assert not one.solved  # once shown, it cannot be solved any more


def test_the_scene_offers_the_answer_only_then():
    scene = ExerciseScene(Classroom())
    answer = scene.attempt.exercise.answer_text
    digits = answer.split()[0]
    assert scene.show.layout.display == "none"
    for tries, hidden in ((1, "none"), (2, "")):
        answered(scene, f"{tries}.07 mL")
        assert scene.show.layout.display == hidden
        assert digits not in re.sub(r"base64,[^\"]*", "", scene.output.value)
    scene.show.click()
    assert answer in scene.output.value
    scene.following.click()
    assert scene.fields["answer"].value == ""
    assert answer not in re.sub(r"base64,[^\"]*", "", scene.output.value)


def test_the_scene_says_right_and_wrong():
    scene = ExerciseScene(Classroom())
    right = typed(scene.attempt.exercise, scene.attempt.exercise.answer, "mL")
    answered(scene, "1 mL")
    assert "Not yet" in scene.output.value
    answered(scene, right)
    assert "✓ Right" in scene.output.value
    assert scene.attempt.solved
    scene.fields["seed"].value = "77"
    assert scene.room.seed == 77
    assert "✓ Right" not in scene.output.value
    scene.fields["seed"].value = "x"
    assert "no class number" in scene.message
    assert "Exercise" not in scene.output.value


def test_actions_are_counted_not_events():
    """Leaving the field is no try, nor is a second click on the same answer."""
    scene = ExerciseScene(Classroom())
    scene.fields["answer"].value = "1 mL"
    assert (scene.attempt.tries, "Not yet" in scene.output.value) == (0, False)
    for _ in range(2):
        scene.check.click()
    assert scene.attempt.tries == 1
    assert scene.show.layout.display == "none"
    answered(scene, "2 mL")
    assert scene.attempt.tries == 2
    answered(scene, "1 mL")
    assert scene.attempt.tries == 3  # another answer than the last one


def test_tries_belong_to_a_person():
    scene = ExerciseScene(Classroom())
    scene.fields["who"].value = "Table 1"
    answered(scene, typed(scene.attempt.exercise, scene.attempt.exercise.answer, "mL"))
    assert scene.attempt.solved
    scene.fields["who"].value = " Table  2 "
    assert (scene.attempt.solved, scene.fields["answer"].value) == (False, "")
    assert "✓ Right" not in scene.output.value
    answered(scene, "1 mL")
    rows = list(csv.DictReader(io.StringIO(scene.room.sheet())))
    first = {row["who"]: (row["solved"], row["tries"]) for row in rows if row["exercise"] == "1"}
    assert first == {"Table 1": ("yes", "1"), "Table 2": ("no", "1")}
    scene.fields["who"].value = "Table 1"
    assert scene.attempt.solved


@pytest.mark.parametrize(
    "evil", ["=1+1", "+x", "-2", "@SUM(A1)", "\t=1", "\r=1", "|calc", "%0", " =HYPERLINK(1)", "\n=2"]
)
def test_the_result_sheet_runs_no_formula(evil):
    cell = safe_cell(evil)
    assert cell[:1] not in tuple("=+-@|%\t\r\n")
    attempts = [Attempt(one, n) for n, one in enumerate(exercises("metric", 1), 1)]
    rows = list(csv.reader(io.StringIO(result_sheet({evil: attempts}, seed=1))))
    assert all(len(row) == len(rows[0]) for row in rows)
    assert not any(text[:1] in tuple("=+-@|%\t\r\n") for row in rows for text in row)


def test_the_result_sheet_keeps_nobody_unless_typed():
    attempts = [Attempt(one, n) for n, one in enumerate(exercises("metric", 9), 1)]
    attempts[0].answer("1 mL", EN)
    rows = list(csv.DictReader(io.StringIO(result_sheet({"": attempts}, seed=9))))
    assert "who" not in rows[0]
    assert (rows[0]["tries"], rows[0]["solved"], rows[0]["class_seed"]) == ("1", "no", "9")
    assert [row["kind"] for row in rows] == [kind for kind, _ in KINDS]
    named = list(csv.DictReader(io.StringIO(result_sheet({"Table 3": attempts}, seed=9))))
    assert {row["who"] for row in named} == {"Table 3"}


def test_random_answers_never_break_it():
    draw = random.Random(5)
    pool = ["1", "22.6", "mL", " ", "in³", "%", "5/8", "-", "1e9", ",", "mm³", "g", "<", "nan"]
    for one in (*exercises("metric", 3), *exercises("us", 3)):
        for _ in range(200):
            text = "".join(draw.choice(pool) for _ in range(draw.randrange(1, 5)))
            verdict = check(one, text, EN)
            assert verdict.message
