"""Forged packages: each attack on a copy of the demo, its manifest sealed anew, held against one package made again."""

import re
import shutil
import zipfile

import pytest

from calc.cli import main
from calc.package.document.parts import Document, Section
from calc.package.document.pdf import write_pdf
from calc.package.manifest import Made, open_package
from calc.review import recheck as module
from calc.review.recheck import recheck
from calc.work.load import load_job
from calc.work.results import compute


@pytest.fixture
def judged(demo_copy, rebuilt, reseal):
    """Seal the copy's manifest anew and recheck it against the package that was made again."""

    def judge(**changed):
        reseal(demo_copy, **changed)
        return recheck(demo_copy, rebuilt=rebuilt)

    return judge


def files_of(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def told(verdict, name):
    """The lines of the verdict on the documents that name a file."""
    return [line for line in verdict.documents.files if name in line]


def test_a_build_is_the_same_byte_for_byte_wherever_and_whenever(demo_package, rebuilt):
    names = files_of(demo_package)
    assert names == files_of(rebuilt)
    differing = [name for name in names if (demo_package / name).read_bytes() != (rebuilt / name).read_bytes()]
    assert differing == []


def test_what_nobody_touched_is_as_built(demo_package, rebuilt):
    verdict = recheck(demo_package, rebuilt=rebuilt)
    assert (verdict.word, verdict.documents.word, verdict.exit_code) == ("identical", "as built", 0)
    count = len(files_of(demo_package)) - 2  # all but the manifest and results.json, which the first line is about
    assert verdict.documents.sentence.startswith(f"{count} files were made again from the inputs")
    assert "What only a signature finds" in verdict.text()


def test_each_file_edited_is_named(demo_package, rebuilt, tmp_path, reseal):
    """Of every file of the package one byte turned; one exchanged whole is the word hello below."""
    missed = []
    for name in files_of(demo_package):
        if name == "manifest.json":
            continue
        folder = shutil.copytree(demo_package, tmp_path / "forged")
        raw = bytearray((folder / name).read_bytes())
        raw[len(raw) // 2] ^= 1
        (folder / name).write_bytes(raw)
        reseal(folder)
        verdict = recheck(folder, rebuilt=rebuilt)
        unseen = verdict.exit_code == 0 or verdict.documents.word == "as built"
        if unseen or name.split("/")[-1] not in verdict.text():
            missed.append((name, verdict.lines))
        shutil.rmtree(folder)
    assert missed == []


def test_a_hand_check_of_one_word(demo_copy, judged):
    (demo_copy / "hand-check.pdf").write_bytes(b"hello")
    verdict = judged()
    assert (verdict.word, verdict.documents.word, verdict.exit_code) == ("identical", "differs", 1)
    assert "hand-check.pdf cannot be read as a PDF" in verdict.lines[1]


@pytest.mark.parametrize(
    ("name", "before", "after", "said"),
    [
        ("calculation.html", "134 mL", "104 mL", "104 mL"),
        ("doses.csv", "P5,24,25,32,360", "P5,24,25,32,350", "P5,24,25,32,350"),
        ("notebooks/01_dose_per_hole.ipynb", "134 mL", "104 mL", "cell "),
        ("lists/hole-record.csv", "P5", "P6", "line "),
        ("lists/order.csv", "54", "44", "44"),
    ],
)
def test_one_number_in_a_text(demo_copy, judged, edit, name, before, after, said):
    edit(demo_copy / name, before, after)
    (line,) = told(judged(), name)
    assert "in the package → made again" in line
    assert said in line


def test_one_cell_of_the_workbook(demo_copy, judged):
    path = demo_copy / "calculation.xlsx"
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    shown = rb"(?<=</f><v>)134\.0(?=</v>)"  # what a cell that computes shows until somebody computes it again
    sheet = next(name for name in sorted(parts) if re.search(shown, parts[name]))
    parts[sheet] = re.sub(shown, b"104.0", parts[sheet], count=1)
    with zipfile.ZipFile(path, "w") as book:
        for name, body in parts.items():
            book.writestr(name, body)
    (line,) = told(judged(), "calculation.xlsx")
    assert re.search(r"\w+!\w+\d+: '104\.0' → '134\.0'", line), line


def test_the_same_workbook_packed_otherwise_is_not_as_built(demo_copy, judged):
    path = demo_copy / "calculation.xlsx"
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    with zipfile.ZipFile(path, "w") as book:
        for name, body in parts.items():
            book.writestr(name, body)
    verdict = judged()
    assert verdict.exit_code == 1
    assert "is another file" in told(verdict, "calculation.xlsx")[0]


def test_a_pdf_of_another_revision(demo_copy, demo_package, judged, edit, tmp_path):
    inputs = shutil.copytree(demo_package / "inputs", tmp_path / "inputs")
    edit(inputs / "job.toml", 'revision = "A"', 'revision = "B"')
    results = compute(load_job(inputs))
    attached = {path.name: path.read_bytes() for path in inputs.iterdir()} | {"results.json": results.text().encode()}
    facts = {"number": "DEMO-M1", "revision": "B", "title": "t", "units": "metric", "date": "2026-11-25"}
    page = Section("Page", ({"kind": "prose", "markdown": "Revision B."},))
    document = Document(title="t", job=facts, front=None, sections=(page,), stamp="results 0")
    write_pdf(document, demo_copy / "calculation.pdf", attached)
    verdict = judged()
    assert verdict.documents.word == "differs"
    assert "the results.json that it carries is not the package's" in verdict.documents.sentence
    assert any("page 1: " in line for line in told(verdict, "calculation.pdf"))
    quick = recheck(demo_copy, quick=True)
    assert (quick.exit_code, quick.documents.word) == (1, "differs")
    assert "carries another job.toml" in quick.text()


def test_a_picture_drawn_over_a_page(demo_copy, judged):
    """The words stay what they were: a rectangle in the margin, put where the first page's content begins."""
    import pikepdf

    path = demo_copy / "calculation.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as file:
        file.pages[0].contents_add(b"q 0 0 1 rg 1 1 9 9 re f Q", prepend=True)
        file.save(path)
    (line,) = told(judged(), "calculation.pdf")
    assert "drawn otherwise on page 1" in line


def test_a_note_laid_over_a_page_is_no_matter_of_other_software(demo_copy, rebuilt, monkeypatch, reseal):
    """A viewer shows it above the dose; the words of the page beneath are what they were."""
    import pikepdf

    path = demo_copy / "calculation.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as file:
        note = pikepdf.Dictionary(Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.FreeText, Rect=[90, 500, 200, 520])
        note.Contents = pikepdf.String("P5: 104 mL")
        file.pages[0].Annots = file.make_indirect(pikepdf.Array([file.make_indirect(note)]))
        file.save(path)
    reseal(demo_copy)
    monkeypatch.setattr(module, "software", lambda: {"calc": "0.0.1", "versions": {}})
    verdict = recheck(demo_copy, rebuilt=rebuilt)
    assert verdict.documents.word == "differs"
    assert any(
        "page 1: 'laid over the page, FreeText: P5: 104 mL'" in line for line in told(verdict, "calculation.pdf")
    )


@pytest.mark.parametrize(
    "name", ["hand-check.pdf", "calculation.pdf", "notebooks/04_embedment.ipynb", "lists/order.csv"]
)
def test_a_file_left_out_and_unlisted(demo_copy, judged, name):
    (demo_copy / name).unlink()
    verdict = judged()
    assert (verdict.exit_code, verdict.documents.sentence) == (1, f"missing, and not listed: {name}.")
    quick = recheck(demo_copy, quick=True)
    assert quick.exit_code == 1
    assert quick.documents.sentence.startswith(f"missing, and not listed: {name}. Nothing was rebuilt")


@pytest.mark.parametrize("name", ["approval.pdf", "inputs/note.txt", "lists/.hidden"])
def test_a_file_too_many_that_is_listed(demo_copy, judged, name):
    (demo_copy / name).write_text("Approved.", encoding="utf-8")
    verdict = judged()
    assert verdict.exit_code == 1
    assert f"{name}: is listed in the manifest and is no part of a build" in verdict.documents.files
    assert f"{name}: is listed" in "".join(recheck(demo_copy, quick=True).documents.files)


def test_inputs_and_results_changed_together_and_the_documents_left(demo_copy, recomputed, edit):
    """Everything that a forger can compute fits; the documents are made again for this one, as for a user."""
    edit(demo_copy / "inputs" / "schedule.csv", "P5,24,25,32,360", "P5,24,25,32,350")
    recomputed(demo_copy)
    verdict = recheck(demo_copy)
    assert (verdict.word, verdict.documents.word, verdict.exit_code) == ("identical", "differs", 1)
    named = {line.split(": ")[0] for line in verdict.documents.files}
    assert named >= {
        *("calculation.pdf", "calculation.html", "calculation.xlsx"),
        *("lists/dose-list.pdf", "lists/hole-record.pdf", "lists/hole-record.csv", "notebooks/01_dose_per_hole.ipynb"),
    }
    assert "the results.json that it carries is not the package's" in recheck(demo_copy, quick=True).documents.sentence


@pytest.mark.parametrize(
    "changed",
    [
        {"made": "2026-11-24T12:00:00+00:00"},
        {"commit": "0" * 40},
        {"calc": "9.9.9"},
        {"versions": {"numpy": "1.0"}},
        {"python": "3.0.0"},
        {"approved": "by everybody"},
    ],
)
def test_a_manifest_that_states_something_else(demo_copy, judged, changed):
    verdict = judged(**changed)
    assert (verdict.word, verdict.documents.word, verdict.exit_code) == ("identical", "differs", 1)
    said = "calculation.pdf: the manifest states another date or other software than it carries"
    assert verdict.documents.sentence.startswith(said)
    assert recheck(demo_copy, quick=True).documents.sentence.startswith(said)


def test_the_documents_print_what_the_manifest_states(demo_package, tmp_path):
    """Another date or release is on every page: whoever changes the manifest would have to make all documents anew."""
    manifest = open_package(demo_package).manifest
    made = Made.of(manifest)
    other = Made.of(manifest | {"commit": "0" * 40})
    assert made.stamp != other.stamp
    assert made.stamp != Made.of(manifest | {"made": made.when.replace("T", "T0", 1)[:25]}).stamp
    page = (demo_package / "calculation.html").read_text(encoding="utf-8")
    for value in (made.stamp, made.when, str(manifest["commit"]), manifest["versions"]["numpy"], manifest["platform"]):
        assert value in page
    for name in ("calculation.pdf", "hand-check.pdf", "lists/dose-list.pdf", "lists/hole-record.pdf"):
        lines = [line for page in module_pages(demo_package / name) for line in page]
        assert any(made.stamp in line for line in lines), name


def module_pages(path):
    from calc.package.document.pdftext import read_pdf

    return [page.lines for page in read_pdf(path.read_bytes()).pages]


@pytest.mark.parametrize(("key", "said"), [("number", "OTHER-9"), ("revision", "Z")])
def test_a_manifest_of_another_name(demo_copy, judged, key, said):
    verdict = judged(**{key: said})
    assert (verdict.word, verdict.documents.word, verdict.exit_code) == ("tampered", "tampered", 2)
    assert f"says {key} {said}" in verdict.sentence


def test_a_date_that_is_none(demo_copy, judged):
    verdict = judged(made="yesterday")
    assert (verdict.documents.word, verdict.exit_code) == ("differs", 1)
    assert "yesterday, which is no date of a build" in verdict.documents.sentence


@pytest.mark.parametrize("name", ["results.json", "notebooks/05_job_plan.ipynb"])
def test_a_key_said_twice(demo_copy, judged, name):
    """Readers of JSON disagree which of the two counts."""
    text = (demo_copy / name).read_text(encoding="utf-8")
    key = "note" if name == "results.json" else "metadata"
    (demo_copy / name).write_text("{" + f'"{key}": "another",' + text.lstrip()[1:], encoding="utf-8")
    verdict = judged()
    assert verdict.exit_code >= 1
    assert f"it says '{key}' twice" in verdict.text()


def test_a_key_said_twice_in_the_manifest(demo_copy):
    text = (demo_copy / "manifest.json").read_text(encoding="utf-8")
    (demo_copy / "manifest.json").write_text(text.replace("{", '{\n "revision": "Z",', 1), encoding="utf-8")
    verdict = recheck(demo_copy, quick=True)
    assert verdict.exit_code == 2
    assert "it says 'revision' twice" in verdict.text()


def test_quick_says_that_nothing_was_made_again(demo_copy, edit, reseal, capsys):
    """What it cannot find, it does not call as built."""
    edit(demo_copy / "calculation.html", "134 mL", "104 mL")
    reseal(demo_copy)
    assert main(["recheck", "--quick", str(demo_copy)]) == 0
    numbers, documents, *_ = capsys.readouterr().out.splitlines()
    assert numbers.startswith("numbers: IDENTICAL: ")
    assert documents.startswith("documents: NOT REBUILT: ")
    assert "as built" not in documents


def test_other_software_is_held_by_what_it_says(demo_copy, rebuilt, tmp_path, monkeypatch, edit, reseal):
    """Another release packs a workbook otherwise, moves a picture's lines by a hundredth, and changes no word."""
    again = shutil.copytree(rebuilt, tmp_path / "again")
    with zipfile.ZipFile(again / "calculation.xlsx") as book:
        parts = {name: book.read(name) for name in book.namelist()}
    with zipfile.ZipFile(again / "calculation.xlsx", "w") as book:
        for name, body in parts.items():
            book.writestr(name, body)
    notebook = again / "notebooks" / "01_dose_per_hole.ipynb"
    text = notebook.read_text(encoding="utf-8")
    moved, count = re.subn(r"(?<=M )\d+\.\d+", lambda found: f"{float(found[0]) + 0.01:.6g}", text, count=3)
    assert count == 3
    notebook.write_text(moved, encoding="utf-8")
    assert recheck(demo_copy, rebuilt=again).documents.word == "differs"
    monkeypatch.setattr(module, "software", lambda: {"calc": "0.0.1", "versions": {}})
    verdict = recheck(demo_copy, rebuilt=again)
    assert (verdict.documents.word, verdict.exit_code) == ("same content", 0)
    assert "how they are drawn is not held" in verdict.documents.sentence
    assert "calc" in verdict.documents.sentence
    named = {line.split(": ")[0] for line in verdict.documents.files}
    assert named == {"calculation.xlsx", "notebooks/01_dose_per_hole.ipynb"}
    edit(demo_copy / "calculation.html", "134 mL", "104 mL")
    reseal(demo_copy)
    verdict = recheck(demo_copy, rebuilt=again)
    assert (verdict.documents.word, verdict.exit_code) == ("differs", 1)
    assert "and may be the cause" in verdict.documents.sentence


def test_every_document_left_out_and_unlisted(demo_copy, reseal):
    for path in [path for path in demo_copy.rglob("*") if path.is_file()]:
        name = path.relative_to(demo_copy).as_posix()
        if name not in ("manifest.json", "results.json", "doses.csv") and not name.startswith("inputs/"):
            path.unlink()
    reseal(demo_copy)
    verdict = recheck(demo_copy, quick=True)
    assert (verdict.word, verdict.documents.word, verdict.exit_code) == ("identical", "none", 1)
