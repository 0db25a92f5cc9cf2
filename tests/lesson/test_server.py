"""The page of the projector and the command that serves it; the rest of it is tried in tests/browser."""

import re

import nbformat
import pytest

from calc.lesson.room import ClassFileError, class_file
from calc.lesson.server import command, environment, page, serve

_WRONG = [
    ({"units": "feet"}, "accepted: metric, us"),
    ({"language": "xx"}, "accepted: en, de"),
    ({"seed": -1}, "0 to 999999"),
]


@pytest.mark.parametrize(("given", "said"), _WRONG)
def test_a_wrong_start_is_refused(given, said, tmp_path):
    with pytest.raises(ValueError, match=said):
        page(tmp_path, **given)


def test_the_page_is_one_cell_and_found_by_the_command(tmp_path):
    book = page(tmp_path, units="us", language="de", seed=7, keep=class_file(7, tmp_path))
    (cell,) = nbformat.read(book, as_version=4).cells
    assert "'us'" in cell.source
    assert "'seed': 7" in cell.source
    assert f"{tmp_path}/lesson-class-7.json" in cell.source
    words = command(book, port=9999, browser=False)
    assert str(book) in words
    assert "--no-browser" in words
    assert any("'allow_remote_access': False" in word for word in words)
    assert environment(tmp_path)["JUPYTER_PATH"].startswith(str(tmp_path))
    assert "cdn" in (tmp_path / "voila/templates/lesson/index.html.j2").read_text()


def test_a_class_that_cannot_be_read_is_told_before_anything_starts(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lesson-class-3.json").write_text("{}")
    with pytest.raises(ClassFileError, match=re.escape(f"{tmp_path}/lesson-class-3.json: page")):
        serve(seed=3, browser=False)
