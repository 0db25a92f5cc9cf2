"""The wheel in an environment of its own, with everything that it depends on, fetched from the registry."""

import json

import pytest
from installedwheel import Installed, build_wheel, fetch, may_not_write


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    may_not_write()
    made = Installed(tmp_path_factory.mktemp("whole"), build_wheel(tmp_path_factory.mktemp("wheel")), whole=True)
    yield made
    made.release()


def test_from_an_empty_folder_to_a_rechecked_package(installed):
    installed.run("start", "job")
    installed.run("check", "job")
    installed.run("build", "job")
    (package,) = (installed.place / "exports").iterdir()
    assert "documents: AS BUILT" in installed.run("recheck", package)


def test_lab_and_lesson_serve(installed):
    with installed.served("lab", address=r"http://(localhost|127\.0\.0\.1):\d+") as address:
        assert json.loads(fetch(f"{address}/api/contents?token=seen"))["content"]
    with installed.served("lesson", address=r"http://(localhost|127\.0\.0\.1):\d+") as address:
        assert b"Lesson" in fetch(address)
