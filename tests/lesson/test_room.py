"""What a class typed outlives its page: kept in one file, read strictly, never written by a page that was overtaken."""

import json

import pytest

from calc.lesson.classroom import EyeScene, ShotsScene
from calc.lesson.projector import Lesson
from calc.lesson.room import ClassFileError, class_file, read_class


@pytest.fixture
def kept(tmp_path):
    return class_file(4, tmp_path)


def opened(kept, **given):
    return Lesson(seed=4, keep=str(kept), **given).deck()


def go_through(deck):
    """Vote, guess, type shots, and try exercises under two names."""
    deck.scene.choose("bar")
    deck.units.value = "us"
    deck.scene.choose("hole")
    deck.show(6)
    deck.scene.rehearse()
    deck.show(11, "try")
    deck.scene.rehearse()
    deck.show(10, "try")
    for who, answers in (("Table 1", ["1 in³", "2 in³"]), ("Table 2", ["3 in³"])):
        deck.scene.fields["who"].value = who
        for answer in answers:
            deck.scene.fields["answer"].value = answer
            deck.scene.check.click()
    deck.scene.fields["who"].value = "Table 1"
    deck.scene.show.click()


def test_a_page_that_is_loaded_again_goes_on_where_the_class_was(kept):
    before = opened(kept)
    go_through(before)
    again = opened(kept)
    assert (again.at, again.room.system, again.room.who) == (10, "us", "Table 1")
    for name in ("guesses", "votes", "shots", "setting", "density", "tried"):
        assert getattr(again.room, name) == getattr(before.room, name)
        assert getattr(again.room, name)
    assert again.room.sheet() == before.room.sheet()
    again.show(0, "reveal")
    assert "✗ A surprise" in again.scene.output.value
    assert len(EyeScene(again.room).guesses) == 12
    assert ShotsScene(again.room)._found().under > 0


def test_the_command_given_otherwise_is_a_wish_of_its_own(kept):
    go_through(opened(kept))
    assert opened(kept, units="metric", language="de").room.texts.language == "de"
    assert json.loads(kept.read_text())["system"] == "metric"


def test_the_screen_says_where_it_is_kept(kept):
    assert "kept in lesson-class-4.json; delete it" in opened(kept).notes.value
    assert "json" not in Lesson().deck().notes.value


def test_a_page_that_was_overtaken_writes_nothing(kept):
    first, second = opened(kept), opened(kept)
    second.scene.choose("bar")
    first.scene.choose("hole")
    assert json.loads(kept.read_text())["votes"] == {"metric ring": "bar"}
    assert "another page" in first.notes.value
    assert "kept in" in second.notes.value


@pytest.mark.parametrize(
    ("text", "said"), [("", "JSON"), ("{}", "page: "), ('{"page": 1, "x": 2}', "started: "), ("[1]", "object")]
)
def test_a_file_that_is_none_of_these_is_left_as_it_is(kept, text, said):
    kept.write_text(text)
    with pytest.raises(ClassFileError, match="delete it or move it away") as error:
        read_class(kept)
    assert str(kept) in str(error.value)
    assert said in str(error.value)
    deck = opened(kept)
    deck.scene.choose("bar")
    assert kept.read_text() == text
    assert "Not kept" in deck.notes.value


def test_a_folder_that_cannot_be_written_is_told_and_the_lesson_goes_on(tmp_path):
    deck = opened(tmp_path / "none" / "lesson-class-4.json")
    deck.scene.choose("bar")
    assert "cannot be written" in deck.notes.value
    assert deck.scene.said == "bar"


def test_a_file_that_cannot_take_its_place_leaves_nothing_behind(kept, monkeypatch):
    deck = opened(kept)
    before = kept.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("calc.lesson.room.os.replace", full)
    deck.scene.choose("bar")
    assert "cannot be written (No space left on device)" in deck.notes.value
    assert [path.name for path in kept.parent.iterdir()] == [kept.name]
    assert kept.read_bytes() == before
