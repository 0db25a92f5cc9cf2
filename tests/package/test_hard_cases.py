"""What must not break a package.

Hostile text, links, flipped bytes, kills, a full disk, two builds at once, another place.

`tests/long` runs the same with many more repetitions: python -m pytest tests/long
"""

import contextlib
import csv
import hashlib
import html.parser
import io
import json
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from jobparts import sign

from calc.base.errors import CalcError
from calc.files.job import demo_job
from calc.files.problems import InputErrors
from calc.package import build as building
from calc.package import place
from calc.package.build import BuildError, build
from calc.package.manifest import PackageError, open_package
from calc.review.comments import comment
from calc.review.compare import compare
from calc.review.compare.page import page_of
from calc.review.recheck import recheck
from calc.work.load import load_job

TITLE = (
    r'<script>alert(1)</script> $x$ \input{/etc/passwd} #read("data.json") **b** [l](javascript:alert(1)) =1+1 $(touch'
    r" pwned) {{ 7*7 }} مرحبا 😀"
)
MARKS = (
    "<b>M1</b><img src=x>",
    "=HYPERLINK(1)",
    "@SUM(A1)",
    "$(touch pwned) `id`",
    '#import "x"; $y$',
    r"\input{x}%&_^~",
    "**bold** [a](b:c)",
    "שלום مرحبا 😀",
)
NOTE = "<script>alert(2)</script> =cmd|' /C calc'!A0 | # $ \\ ` \u202eturned " + "long " * 150


# ---- flipped bytes ----


def flip_bytes(folder, times, seed):
    """Change one byte in every file of a package, then in ``times`` more places.

    Return the places that were not found.
    """
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    order = random.Random(seed)
    missed = []
    for number in range(len(files) + times):
        path = files[number] if number < len(files) else order.choice([*files, folder / "manifest.json"])
        raw = path.read_bytes()
        where = order.randrange(len(raw))
        byte = raw[where] ^ order.randrange(1, 256)
        path.write_bytes(raw[:where] + bytes([byte]) + raw[where + 1 :])
        verdict = recheck(folder, quick=True)
        name = path.relative_to(folder).as_posix()
        if verdict.exit_code != 2 or name not in verdict.sentence:
            missed.append((name, where, byte, verdict.sentence))
        path.write_bytes(raw)
    return missed


def test_one_flipped_byte_is_found_in_every_file(demo_copy):
    sign(demo_copy, role="checked", name="A")
    comment(demo_copy, text="Which drawing?", name="A")
    assert flip_bytes(demo_copy, 25, seed=6) == []
    assert recheck(demo_copy, quick=True).word == "identical"


# ---- kills ----


def start_build(job, out):
    command = [sys.executable, "-m", "calc", "build", str(job), "--out", str(out), "--replace"]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def kill_builds(job, target, times, seconds, seed, latest=0.9):
    """Kill builds at random moments; after each, what stands in the target's place must be whole.

    Return how many were killed.
    """
    order = random.Random(seed)
    killed = 0
    for _ in range(times):
        process = start_build(job, target.parent)
        try:
            process.wait(timeout=order.uniform(0.2, latest) * seconds)
        except subprocess.TimeoutExpired:
            os.kill(process.pid, signal.SIGKILL)
            process.wait()
            killed += 1
        assert visible(target.parent) == [target.name]
        assert open_package(target).damage == ()
    return killed


def visible(folder):
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))


def write_job(folder):
    """A job whose every text is hostile, under the demo's number and revision."""
    shutil.copytree(demo_job().parent, folder)
    about = load_job(demo_job()).job
    text = (folder / "job.toml").read_text(encoding="utf-8")
    head = text[text.index("schema = 1") : text.index("[job]")]
    tables = {
        name: re.search(rf"^\[{name}\]\n.*?(?=^\[|\Z)", text, re.M | re.S)[0]
        for name in ("display", "adhesive", "equipment", "overfill", "schedule")
    }
    said = json.dumps(TITLE, ensure_ascii=False)
    job = f'[job]\nnumber = "{about.number}"\nrevision = "{about.revision}"\ntitle = {said}\ninvented = true\n'
    job += f"prepared_by = {said}\nchecked_by = {said}\nsite = {said}\nnote = {json.dumps(NOTE)}\n"
    tables["overfill"] = f"[overfill]\nshare = 0.1\nreason = {said}\n"
    (folder / "job.toml").write_text(head + job + "".join(tables.values()), encoding="utf-8")
    for path in folder.glob("*.csv"):
        if path.name != "schedule.csv":
            path.unlink()
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        [
            "mark",
            "count",
            "bar",
            "hole_diameter [mm]",
            "embedment [mm]",
            "overdrill [mm]",
            "direction",
            "overfill",
            "note",
        ]
    )
    writer.writerows([mark, 4, 16, 20, 200 + 10 * number, "", "down", "", NOTE] for number, mark in enumerate(MARKS))
    (folder / "schedule.csv").write_text(out.getvalue(), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def hostile(demo_package, tmp_path_factory):
    """A signed package; three builds of the hostile job killed on top of it; then one that is let through."""
    out = tmp_path_factory.mktemp("hostile") / "out"
    target = shutil.copytree(demo_package, out / demo_package.name)
    before = open_package(target).digest
    sign(target, role="checked", name="A. Reviewer")
    comment(target, text=NOTE[:4000], name="A. Reviewer")
    job = write_job(out.parent / "job")
    seconds = float((demo_package.parent / "seconds").read_text(encoding="utf-8"))
    killed = kill_builds(job, target, 3, seconds, seed=26, latest=0.6)
    assert killed > 0
    build(job, out=out, replace=True)
    assert open_package(target).digest != before
    return target


def test_after_kills_the_next_build_works_and_sweeps(hostile):
    assert [path.name for path in hostile.parent.iterdir()] == [hostile.name]
    assert recheck(hostile, quick=True).word == "identical"


def test_a_sign_off_outlives_its_package_and_says_that_it_is_stale(hostile):
    assert recheck(hostile, quick=True).signoffs[0].startswith("checked by A. Reviewer")
    assert "STALE" in recheck(hostile, quick=True).signoffs[0]


# ---- hostile text, through a whole build ----


class Page(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.words = [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def handle_data(self, data):
        self.words.append(data)


def squeezed(text):
    return re.sub(r"\s+", "", text)


def test_hostile_text_is_text_in_the_page(hostile):
    page = Page((hostile / "calculation.html").read_text(encoding="utf-8"))
    assert not [tag for tag, _ in page.tags if tag in ("script", "iframe", "object")]
    assert not [
        value
        for _, attributes in page.tags
        for value in attributes.values()
        if value and value.lower().startswith(("javascript:", "http", "x"))
    ]
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    # Words that run from right to left are kept apart by signs of direction, which nobody typed.
    words = squeezed("".join(page.words)).translate(dict.fromkeys((0x200E, *range(0x2066, 0x206A))))
    for text in (TITLE, *MARKS):
        assert squeezed(text) in words, text


def test_hostile_text_is_text_in_the_pdf(hostile):
    done = subprocess.run(
        ["pdftotext", "-layout", hostile / "calculation.pdf", "-"], capture_output=True, text=True, check=True
    )
    words = squeezed(done.stdout)
    for text in (TITLE[:60], *MARKS[:-1]):
        assert squeezed(text) in words, text
    assert "root:" not in done.stdout


def test_hostile_text_is_data_in_results_and_lists(hostile):
    content = json.loads((hostile / "results.json").read_text(encoding="utf-8"))
    assert content["job"]["title"] == TITLE
    assert [group["mark"] for group in content["groups"]] == list(MARKS)
    for path in hostile.glob("*.csv"):
        cells = [cell for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"))) for cell in row]
        assert not [cell for cell in cells if cell[:1] in "=@+\t\r" and cell], path.name
    for path in hostile.glob("*.xlsx"):
        import openpyxl

        book = openpyxl.load_workbook(path)
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
        formulas = "\n".join(str(cell.value) for cell in cells if cell.data_type == "f")
        assert "PI()" in formulas
        assert not [text for text in (TITLE, *MARKS) if text in formulas], path.name
        assert {cell.data_type for cell in cells if cell.value in MARKS} == {"s"}


def test_nothing_of_it_was_run(hostile):
    assert not list(hostile.parent.parent.rglob("pwned*"))
    assert not Path("pwned").exists()


def test_hostile_text_in_verdict_and_comparison(hostile, demo_package, tmp_path):
    found = compare(demo_package, hostile)
    page = Page(page_of(found))
    assert not [tag for tag, _ in page.tags if tag in ("script", "img", "a", "b")]
    for text in (recheck(hostile, quick=True).text(), found.text()):
        assert all(letter.isprintable() or letter == "\n" for letter in text)
    assert recheck(hostile, quick=True).write_pdf(tmp_path / "v.pdf") == 1


def test_ten_thousand_characters_are_a_title(tmp_path):
    """How they are printed: tests/package/test_document.py."""
    job = shutil.copytree(demo_job().parent, tmp_path / "job") / "job.toml"
    title = ("👩\u200d🔧 می\u200cخواهم " * 800)[:10_000]
    job.write_text(
        re.sub(r"^title = .*$", f'title = "{title}"', job.read_text(encoding="utf-8"), count=1, flags=re.M),
        encoding="utf-8",
    )
    assert load_job(job).job.title == title


@pytest.mark.parametrize(
    ("old", "key"), [("title = ", "job.title"), ("number = ", "job.number"), ("site = ", "job.site")]
)
def test_more_characters_than_have_a_place_are_refused(tmp_path, old, key):
    job = shutil.copytree(demo_job().parent, tmp_path / "job") / "job.toml"
    text = re.sub(rf"^{old}.*$", f'{old}"{"x" * 10_001}"', job.read_text(encoding="utf-8"), count=1, flags=re.M)
    job.write_text(text, encoding="utf-8")
    with pytest.raises(InputErrors) as caught:
        load_job(job)
    (problem,) = caught.value.problems
    assert problem.place == f"key {key}"
    assert "accepted" in problem.message
    assert len(str(problem)) < 400


@pytest.mark.parametrize("key", ["number", "revision"])
@pytest.mark.parametrize(
    "trick",
    ["../x", "..", "/tmp/x", "a/b", r"a\\b", "C:x", "NUL", "com1.txt", "a.", " a", "~", "-rf", ".hidden", "a b", "é"],
)
def test_path_tricks_write_nothing(tmp_path, key, trick):
    job = shutil.copytree(demo_job().parent, tmp_path / "in" / "job") / "job.toml"
    text, count = re.subn(
        rf'^{key} = ".*?"', lambda _: f'{key} = "{trick}"', job.read_text(encoding="utf-8"), count=1, flags=re.M
    )
    assert count == 1
    job.write_text(text, encoding="utf-8")
    with pytest.raises(InputErrors, match=f"job.{key}"):
        build(job, out=tmp_path / "out" / "exports")
    assert not (tmp_path / "out").exists()


# ---- what a package may hold ----


def test_links_are_refused_and_not_followed(package, tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("x", encoding="utf-8")
    (package / "doses.csv").unlink()
    (package / "doses.csv").symlink_to(secret)
    (package / "folder").symlink_to(tmp_path)
    verdict = recheck(package, quick=True)
    assert verdict.exit_code == 2
    assert {one.file: one.reason for one in verdict.damage}["doses.csv"] == "is a link, and links are not followed"
    assert "folder" in {one.file for one in verdict.damage}
    with pytest.raises(CalcError, match="not signed off"):
        sign(package, role="checked", name="A")


def test_a_link_to_the_same_content_is_refused_too(package):
    copied = package.parent / "same.json"
    for name in ("results.json", "inputs/job.toml", "manifest.json"):
        path = package / name
        shutil.move(path, copied)
        path.symlink_to(copied)
        verdict = recheck(package, quick=True)
        assert verdict.exit_code == 2
        assert name in verdict.text()
        assert "link" in verdict.text()
        path.unlink()
        shutil.move(copied, path)
    assert recheck(package, quick=True).word == "identical"


def test_added_missing_and_special_files(package):
    (package / "inputs" / "extra.toml").write_text("", encoding="utf-8")
    (package / "hand-check.pdf").unlink()
    os.mkfifo(package / "pipe")
    found = {one.file: one.reason for one in recheck(package, quick=True).damage}
    assert set(found) == {"inputs/extra.toml", "hand-check.pdf", "pipe"}
    assert "not listed" in found["inputs/extra.toml"]
    assert "missing" in found["hand-check.pdf"]
    assert "no plain file" in found["pipe"]


@pytest.mark.parametrize("name", ["../../outside", "/etc/passwd", "inputs/../../x"])
def test_a_manifest_cannot_name_what_lies_outside(package, reseal, name):
    (package.parent.parent / "outside").write_text("x", encoding="utf-8")
    manifest = json.loads((package / "manifest.json").read_text(encoding="utf-8"))
    reseal(package, files=manifest["files"] | {name: hashlib.sha256(b"x").hexdigest()})
    verdict = recheck(package, quick=True)
    assert verdict.word == "tampered"
    assert [one.file for one in verdict.damage] == [name]
    reseal(package, job_file="../../outside")
    assert "has no job file" in recheck(package, quick=True).sentence


def test_a_zip_unpacked_elsewhere_rechecks(demo_copy, tmp_path):
    sign(demo_copy, role="checked", name="A")
    comment(demo_copy, text="Well laid out.", name="A")
    archive = shutil.make_archive(str(tmp_path / "sent"), "zip", demo_copy)
    with zipfile.ZipFile(archive) as sent:
        sent.extractall(tmp_path / "other place ü" / "renamed")
    verdict = recheck(tmp_path / "other place ü" / "renamed", quick=True)
    assert verdict.word == "identical"
    assert verdict.signoffs[0].endswith("holds")
    assert verdict.comments == ["1 that ask for nothing, or are settled"]


# ---- a full disk ----


@contextlib.contextmanager
def small_disk(folder, size):
    """A tmpfs of ``size`` bytes where the system lets us mount one, else a limit on the size of files.

    Both refuse real writes.
    """
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)]
    if shutil.which("mount") and subprocess.run(mount, capture_output=True, check=False).returncode == 0:
        try:
            yield "tmpfs"
        finally:
            subprocess.run(["umount", str(folder)], check=True)
        return
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    old = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        yield "limit"
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, old)


def fill_disk(package, folder, share):
    """Build onto a disk that has room for ``share`` of a second package; the first one must stay whole, and alone."""
    size = sum(path.stat().st_size for path in package.rglob("*") if path.is_file())
    with small_disk(folder, int(size * (1 + share)) + 80_000) as kind:
        target = shutil.copytree(package, folder / package.name)
        if kind == "limit":
            resource.setrlimit(
                resource.RLIMIT_FSIZE, (int(size * share / 4), resource.getrlimit(resource.RLIMIT_FSIZE)[1])
            )
        with pytest.raises(BuildError, match=r"could not be written .*(No space left|File too large)"):
            build(demo_job(), out=folder, replace=True)
        assert [path.name for path in folder.iterdir()] == [package.name]
        assert open_package(target).damage == ()


def test_a_full_disk_leaves_the_old_package_and_nothing_else(demo_package, tmp_path):
    fill_disk(demo_package, tmp_path / "disk", 0.02)


# ---- two builds at once, and where locks and swaps fail ----


def light_fill(work, job, results, made, progress):
    """Stand in for the slow part of a build: three files and a manifest, with pauses between them."""
    for name in ("results.json", "a.txt", "b.txt"):
        (work / name).write_text(json.dumps({"schema": 1, "where": work.name}), encoding="utf-8")
        time.sleep(0.05)
    building.put_manifest(work, job, made)


@pytest.mark.parametrize("swap", [True, False])
def test_builds_at_once_with_replace_leave_one_whole_package(tmp_path, monkeypatch, swap):
    monkeypatch.setattr(building, "fill_package", light_fill)
    if not swap:
        monkeypatch.setattr(place, "_exchange", lambda *_: False)

    def one(_):
        try:
            return build(demo_job(), out=tmp_path / "out", replace=True)[0]
        except BuildError as error:
            return error

    with ThreadPoolExecutor(4) as pool:
        told = list(pool.map(one, range(8)))
    (target,) = {entry for entry in told if isinstance(entry, Path)}
    assert swap is False or all(entry == target for entry in told)
    assert [path.name for path in target.parent.iterdir()] == [target.name]
    assert open_package(target).damage == ()


def test_of_two_builds_at_once_without_replace_one_wins(tmp_path, monkeypatch):
    monkeypatch.setattr(building, "fill_package", light_fill)

    def one(_):
        try:
            return build(demo_job(), out=tmp_path / "out")[0]
        except BuildError as error:
            return str(error)

    with ThreadPoolExecutor(2) as pool:
        told = list(pool.map(one, range(2)))
    assert sorted(isinstance(entry, Path) for entry in told) == [False, True]
    (sentence,) = [entry for entry in told if isinstance(entry, str)]
    assert "another build" in sentence or "exists and is not overwritten" in sentence
    (target,) = [entry for entry in told if isinstance(entry, Path)]
    assert [path.name for path in target.parent.iterdir()] == [target.name]
    assert open_package(target).damage == ()


def test_a_build_in_progress_is_not_swept(tmp_path):
    target = tmp_path / "J-1"
    with place.workplace(target) as work:
        (work / "x").write_text("x", encoding="utf-8")
        place.clean(target)
        assert (work / "x").exists()
        with place.workplace(target) as other:
            assert other != work
        assert (work / "x").exists()
    assert list(tmp_path.iterdir()) == []


def test_a_kill_between_two_moves_is_healed(tmp_path):
    """Where the system cannot swap: the old package was moved aside, and the process ended there."""
    target = tmp_path / "J-1"
    aside = tmp_path / ".J-1~old-abc" / "package"
    aside.mkdir(parents=True)
    (aside / "whole").write_text("x", encoding="utf-8")
    (tmp_path / ".J-1~build-abc").mkdir()
    (tmp_path / ".J-1-2~build-abc").mkdir()  # another job's: not ours to judge
    place.clean(target)
    assert (target / "whole").exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == [".J-1-2~build-abc", "J-1"]


def test_a_failed_move_puts_the_old_one_back(tmp_path, monkeypatch):
    target, work = tmp_path / "J-1", tmp_path / "new"
    for folder in (target, work):
        folder.mkdir()
        (folder / folder.name).write_text("x", encoding="utf-8")
    true = os.replace

    def breaks(source, goal):
        if Path(source) == work:
            raise OSError(5, "Input/output error")
        true(source, goal)

    monkeypatch.setattr(place, "_exchange", lambda *_: False)
    monkeypatch.setattr(place.os, "replace", breaks)
    with pytest.raises(OSError, match="Input/output"):
        place.move(work, target, replace=True)
    assert (target / "J-1").exists()


# ---- another clock, locale, time zone and hash seed ----

_ELSEWHERE = """
import locale, sys, time
for name in ("de_DE.UTF-8", "tr_TR.UTF-8", ""):
    try:
        locale.setlocale(locale.LC_ALL, name)
        break
    except locale.Error:
        pass
time.time = lambda: 4102444800.0
from calc.work.load import load_job
from calc.work.results import compute
sys.stdout.buffer.write(compute(load_job(sys.argv[1])).text().encode())
"""


def test_another_clock_locale_and_time_zone_give_the_same_results(demo_package, tmp_path):
    places = (
        {"TZ": "Pacific/Kiritimati", "LC_ALL": "de_DE.UTF-8", "PYTHONHASHSEED": "1", "OMP_NUM_THREADS": "1"},
        {"TZ": "America/St_Johns", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONHASHSEED": "4711"},
    )
    command = [sys.executable, "-c", _ELSEWHERE, str(demo_package / "inputs")]
    running = [
        subprocess.Popen(command, env=os.environ | there, cwd=tmp_path, stdout=subprocess.PIPE) for there in places
    ]
    expected = (demo_package / "results.json").read_bytes()
    for process in running:
        found, _ = process.communicate()
        assert process.returncode == 0
        assert found == expected


def test_a_changed_manifest_is_told_before_anything_is_believed(package, edit):
    edit(package / "manifest.json", '"schema": 1', '"schema": 3')
    with pytest.raises(PackageError, match=r"newer than schema 1.*its own digest does not fit"):
        open_package(package)
