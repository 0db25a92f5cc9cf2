"""Engineer's notes: taken on purpose, kept among the inputs, shown as typed in part two, and never run."""

import base64
import html
import json
import shutil
import subprocess
import sys

import nbformat
import pytest
from picturefiles import PNG, SVG, exif, picture

from calc.cli import main
from calc.files.job import demo_job
from calc.package.notebooks import NOTED, working_copies
from calc.package.takennotes import NoteError, take_notes
from calc.review.compare import compare
from calc.work.load import load_job

JPEG = picture("JPEG", exif=exif(6))
TEXT = """\
# Seen on site
- Water in B, *left side*; <script>alert(1)</script> $x^2$ #strong[typst]
"""


@pytest.fixture
def copies(folder):
    return working_copies(folder.load())


def write(copies, source=TEXT, name="01_dose_per_hole", *, attached=None, code=False, tags=(NOTED,)):
    path = copies / f"{name}.ipynb"
    book = nbformat.read(path, as_version=4)
    new = nbformat.v4.new_code_cell if code else nbformat.v4.new_markdown_cell
    cell = new(source, metadata={"tags": list(tags)})
    if attached:
        cell["attachments"] = attached
    book.cells.append(cell)
    nbformat.write(book, path)
    return path


def attachment(body, kind="image/png"):
    return {"image.png": {kind: base64.b64encode(body).decode()}}


def test_marked_cells_are_taken_and_others_stay(folder, copies):
    write(
        copies, attached=attachment(JPEG, "image/jpeg"), source=f"{TEXT}\nWall: ![image.png](attachment:image.png) so"
    )
    (copies / "sketch.svg").write_text(SVG.format("<g/>"), encoding="utf-8")
    folder.write("wall 1.png", PNG)
    write(copies, "![A sketch](sketch.svg)\n\n![](wall%201.png)", "04_embedment")
    write(copies, "a scratch note", "02_overfill_and_waste", tags=())
    write(copies, "1/0", code=True)
    taken = take_notes(folder.load())
    names = [path.relative_to(folder.path).as_posix() for path in taken.written]
    assert sorted(names) == [
        *("notes/01_dose_per_hole-1.jpg", "notes/01_dose_per_hole.md"),
        *("notes/04_embedment-1.svg", "notes/04_embedment-2.png", "notes/04_embedment.md"),
    ]
    (left,) = taken.left
    assert "is code and was left" in left
    assert folder.read(names[1]) == f"{TEXT}\nWall:\n![](01_dose_per_hole-1.jpg)\nso\n"
    assert "# a comment that stays" in folder.read("job.toml")
    first, second = folder.load().notes
    assert [len(note.pictures) for note in (first, second)] == [1, 2]
    assert [one.caption for one in second.pictures] == ["A sketch", ""]


def test_what_is_no_longer_marked_goes_away(folder, copies):
    path = write(copies, attached=attachment(PNG), source="![](attachment:image.png)")
    take_notes(folder.load())
    folder.write("notes/own.md", "written by hand")
    book = nbformat.read(path, as_version=4)
    del book.cells[-1]
    nbformat.write(book, path)
    taken = take_notes(folder.load())
    assert sorted(one.name for one in taken.removed) == ["01_dose_per_hole-1.png", "01_dose_per_hole.md"]
    assert [note.path.name for note in folder.load().notes] == ["own.md"]
    (folder.path / "notes" / "own.md").unlink()
    folder.edit('[notes]\nfolder = "notes"\n', "")
    write(copies, "again")
    take_notes(folder.load())
    book = nbformat.read(path, as_version=4)
    del book.cells[-1]
    nbformat.write(book, path)
    take_notes(folder.load())
    assert folder.load().notes == ()
    assert "notes" not in folder.read("job.toml").split("[schedule]")[1]


@pytest.mark.parametrize(
    ("source", "attached", "said"),
    [
        ("![](attachment:image.png)", None, "is not attached"),
        ("![](attachment:image.png)", {"image.png": {"image/gif": "R0lG"}}, "is not attached"),
        ("![](attachment:image.png)", attachment(JPEG), "is no PNG"),
        ("![](attachment:image.png)", {"image.png": {"image/png": "a"}}, "is damaged"),
        ("![](https://x.invalid/a.png)", None, "leads elsewhere"),
        (
            "![](nowhere.png)",
            None,
            r"tried from: .*notebooks \(the notebook's folder\); .*the job's folder",
        ),
        ("![](../schedule.csv)", None, "is no picture"),
    ],
)
def test_a_picture_that_is_refused_changes_nothing(folder, copies, source, attached, said):
    before = folder.read("job.toml")
    write(copies, "a note", "02_overfill_and_waste")
    write(copies, source, attached=attached)
    with pytest.raises(NoteError, match=said):
        take_notes(folder.load())
    assert folder.read("job.toml") == before
    assert not (folder.path / "notes").exists()


def test_the_command_says_what_it_did(folder, copies, capsys):
    assert main(["notes", str(folder.path)]) == 0
    assert "no note was found" in capsys.readouterr().out
    write(copies)
    assert main(["notes", str(folder.path)]) == 0
    assert capsys.readouterr().out == f"wrote {folder.path}/notes/01_dose_per_hole.md\n"
    assert main(["notes", str(demo_job())]) == 2
    assert "is a demo" in capsys.readouterr().err


@pytest.fixture(scope="module")
def packages(tmp_path_factory):
    """Two revisions of one job: with a note, and with another one."""
    home = tmp_path_factory.mktemp("noted")
    shutil.copytree(demo_job("us").parent, home / "job")
    copies = working_copies(load_job(home / "job"))
    write(copies, f"{TEXT}\n![The wall](attachment:image.png)", attached=attachment(JPEG, "image/jpeg"))
    write(copies, "1/0", code=True, tags=())
    take_notes(load_job(home / "job"))
    job = home / "job" / "job.toml"
    (home / "job" / "notes" / "own.md").write_text("![](own.png)\n", encoding="utf-8")
    (home / "job" / "notes" / "own.png").write_bytes(picture("PNG", exif=exif(3)))
    command("build", job, "--out", home / "out")
    job.write_text(job.read_text(encoding="utf-8").replace('revision = "A"', 'revision = "B"'), encoding="utf-8")
    (home / "job" / "notes" / "own.md").write_text("Pumped dry.\n", encoding="utf-8")
    command("build", job, "--out", home / "out")
    first, second = sorted((home / "out").iterdir())
    return first, second


def command(name, *arguments):
    """A command as a user gives it, in a process of its own: what other tests left in this one is not in its bytes."""
    done = subprocess.run(
        [sys.executable, "-P", "-m", "calc", name, *map(str, arguments)], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_package_with_notes_rechecks_byte_for_byte(packages):
    for package in packages:
        command("recheck", package)
    clean = (packages[0] / "inputs" / "notes" / "own.png").read_bytes()
    assert b"eXIf" in picture("PNG", exif=exif(3))
    assert b"eXIf" not in clean


def test_notes_stand_in_part_two_as_typed_and_marked(packages):
    page = (packages[0] / "calculation.html").read_text(encoding="utf-8")
    for line in TEXT.splitlines():
        assert html.escape(line, quote=False) in page
    assert "<script" not in page
    assert page.count('<img src="data:image/jpeg') == 1
    done = subprocess.run(
        ["pdftotext", "-layout", packages[0] / "calculation.pdf", "-"], capture_output=True, text=True, check=True
    )
    (where,) = [text for text in done.stdout.split("\f") if "Written by the engineer and not by the workbook" in text]
    assert "record " in where.strip().splitlines()[-1]
    for words in ("# Seen on site", "<script>alert(1)</script> $x^2$ #strong[typst]", "The wall"):
        assert words in where
    for name in (packages[0] / "notebooks").iterdir():
        assert "1/0" not in name.read_text(encoding="utf-8")


def test_another_note_is_told_by_a_comparison(packages):
    found = compare(*packages)
    assert "notes/own.md" in found.text()
    assert "Pumped dry." in found.text()
    assert json.loads(found.json())
