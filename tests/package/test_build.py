"""The package of the metric demo, built once: what stands in it, and what a build must never do."""

import csv
import hashlib
import html
import io
import json
import math
import re
import shutil
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

from calc.cli import main
from calc.files.job import demo_job
from calc.package import build as building
from calc.package.build import BuildError, build
from calc.package.document.calculation import PARTS
from calc.package.manifest import sealed
from calc.show.view import BLOCK_TYPE
from calc.work.load import load_job
from calc.work.results import compute


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    folder, _ = build(demo_job(), out=tmp_path_factory.mktemp("out"))
    return folder


@pytest.fixture(scope="module")
def results(package):
    return json.loads((package / "results.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def pages(package):
    assert shutil.which("pdftotext"), "poppler-utils is needed for this test"
    done = subprocess.run(
        ["pdftotext", "-layout", package / "calculation.pdf", "-"], capture_output=True, text=True, check=True
    )
    return done.stdout.rstrip("\f").split("\f")


def test_one_group_by_hand(results):
    """P5 of the metric demo: bar 25 in 32, 360 mm, point angle 130°, 16.5 % on top by the job's rule, 1 mL graduation.

    Worked on paper.

    Ring: pi/4 (32² - 25²) = 313.3739 mm²; times 360 mm = 112 814.6 mm³. Tip: 16/tan 65° = 7.460923 mm high, a third of
    804.2477 mm² times that = 2000.14 mm³. Together 114 814.74 mm³; times 1.165 = 133 759.17 mm³; up to 134 mL. Before
    the bar
    the surface stands at 360 - (134 000 - 2000.14)/804.2477 = 195.872 mm; 19.18526 mL come out.
    """
    (group,) = [g for g in results["groups"] if g["mark"] == "P5"]
    assert group["annular_volume_mL"] == pytest.approx(112.81459, abs=1e-5)
    assert group["tip_volume_mL"] == pytest.approx(2.00014, abs=5e-6)
    assert group["required_volume_mL"] == pytest.approx(114.81474, abs=1e-5)
    assert group["dose_mL"] == pytest.approx(133.75917, abs=1e-5)
    assert group["rounded_dose_mL"] == 134.0
    assert group["strokes"] is None
    assert group["level_before_bar_mm"] == pytest.approx(195.872, abs=5e-4)
    assert group["overflow_mL"] == pytest.approx(19.18526, abs=1e-5)


def test_schema_two_has_the_agreed_keys(results):
    assert results["schema"] == 2
    wanted = {
        "mark",
        "count",
        "bar",
        "hole_diameter_mm",
        "bar_diameter_mm",
        "embedment_mm",
        "annular_volume_mL",
        "tip_volume_mL",
        "overdrill_volume_mL",
        "required_volume_mL",
        "overfill",
        "dose_mL",
        "rounded_dose_mL",
        "strokes",
        "measured",
        "level_before_bar_mm",
        "overflow_mL",
        "short_fill_probability",
    }
    assert all(wanted <= set(group) for group in results["groups"])
    assert {"holes", "dose_L", "discard_L", "residual_L", "packs", "mixers"} <= set(results["totals"])
    assert "null" in results["note"]
    assert results["totals"]["holes"] == sum(g["count"] for g in results["groups"])
    litres = sum(g["count"] * g["rounded_dose_mL"] for g in results["groups"]) / 1000
    assert results["totals"]["dose_L"] == pytest.approx(litres, rel=1e-12)


def test_the_measured_group_is_integrated(results):
    (group,) = [g for g in results["groups"] if g["measured"]]
    nominal = (
        math.pi / 4 * (group["hole_diameter_mm"] ** 2 - group["bar_diameter_mm"] ** 2) * group["embedment_mm"] / 1000
    )
    assert group["annular_volume_mL"] > 1.05 * nominal


def test_every_step_stands_in_pdf_and_html(package, results, pages):
    text = re.sub(r"\s+", "", "".join(pages))
    page = html.unescape((package / "calculation.html").read_text(encoding="utf-8"))
    bare = re.sub(r"\s+", "", page)
    steps = [step for sheet in results["sheets"] for step in sheet["steps"]]
    assert len(steps) > 60
    for step in steps:
        shown = re.sub(r"\s+", "", step["shown"])
        assert shown in text, f"{step['id']} is not in the PDF"
        assert shown in bare, f"{step['id']} is not in the HTML"


def test_the_calculation_has_sixteen_pages_and_the_record_twenty_four(pages, capsys):
    """Two parts in one file, each numbered by itself in the foot line."""
    parts = [re.search(r"(calculation|record) (\d+) of (\d+)", page).groups() for page in pages]
    counts = {part: sum(own == part for own, _, _ in parts) for part in ("calculation", "record")}
    with capsys.disabled():
        print(f"\ndemo: {counts['calculation']} pages of calculation, {counts['record']} of record")
    assert counts["calculation"] <= 16
    assert counts["record"] <= 24
    assert [(part, int(number), int(last)) for part, number, last in parts] == [
        (part, number, last) for part, last in counts.items() for number in range(1, last + 1)
    ]


def test_every_view_says_where_it_stands(package):
    """In a part of the calculation, in the record, or on the screen alone: what is signed is decided, not left over."""
    known = {*PARTS, "record", "screen"}
    seen = 0
    for path in sorted((package / "notebooks").glob("*.ipynb")):
        for cell in nbformat.read(path, as_version=4)["cells"]:
            for output in cell.get("outputs", ()):
                block = output.get("data", {}).get(BLOCK_TYPE)
                if block is not None:
                    seen += 1
                    assert block.get("place") in known, (path.name, block.get("caption") or block.get("title"))
    assert seen > 80


def test_page_one_answers_and_every_page_names_the_job(pages, results):
    first = pages[0]
    for words in ("How much adhesive", "Prepared", "Approved"):
        assert words in "".join(pages[:2]), words
    checks = sum(len(sheet["checks"]) for sheet in results["sheets"])
    assert f"{checks} of {checks} checks pass" in first
    assert "Not judged here" in first
    assert "Order: 54 packs, 66 mixers." in first  # 49 and 60 are used; a tenth more is ordered, rounded up
    assert "none of which is finished from the next pack" in first
    for number, page in enumerate(pages, start=1):
        assert "DEMO-M1" in page
        assert re.search(rf"page {number} of {len(pages)}", page)
        assert "invented" in page


def test_pdf_says_it_is_pdf_a(package):
    raw = (package / "calculation.pdf").read_bytes()
    assert b"pdfaid:part" in raw
    info = subprocess.run(["pdfinfo", package / "calculation.pdf"], capture_output=True, text=True, check=True).stdout
    assert "Tagged:          yes" in info
    attached = subprocess.run(
        ["pdfdetach", "-list", package / "calculation.pdf"], capture_output=True, text=True, check=True
    ).stdout
    assert "results.json" in attached
    assert "job.toml" in attached


def test_html_needs_no_network(package):
    page = (package / "calculation.html").read_text(encoding="utf-8")
    assert page.count("<h1") == 1
    assert not re.findall(r"""(?:src|href)=["']?(?:https?:)?//""", page)
    assert "<math" in page
    assert all('alt="' in tag for tag in re.findall(r"<img[^>]*>", page))


def test_manifest_lists_every_file_with_its_hash(package):
    manifest = json.loads((package / "manifest.json").read_text(encoding="utf-8"))
    found = {p.relative_to(package).as_posix() for p in package.rglob("*") if p.is_file()} - {"manifest.json"}
    assert set(manifest["files"]) == found
    assert all(
        hashlib.sha256((package / name).read_bytes()).hexdigest() == digest
        for name, digest in manifest["files"].items()
    )
    content = {k: v for k, v in manifest.items() if k != "digest"}
    assert (
        hashlib.sha256(json.dumps(content, sort_keys=True, ensure_ascii=False).encode()).hexdigest()
        == manifest["digest"]
    )


def test_the_inputs_in_the_package_give_its_results(package):
    again = compute(load_job(package / "inputs" / "job.toml"))
    assert again.text() == (package / "results.json").read_text(encoding="utf-8")


def test_dose_list_is_the_results(package, results):
    rows = list(csv.DictReader(io.StringIO((package / "doses.csv").read_text(encoding="utf-8"))))
    assert [(r["mark"], float(r["rounded_dose [mL]"])) for r in rows] == [
        (g["mark"], g["rounded_dose_mL"]) for g in results["groups"]
    ]


def test_hand_check_is_one_page_and_agrees(package):
    info = subprocess.run(["pdfinfo", package / "hand-check.pdf"], capture_output=True, text=True, check=True).stdout
    assert re.search(r"Pages:\s+1\n", info)
    text = subprocess.run(
        ["pdftotext", "-layout", package / "hand-check.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    assert text.count("agrees within 0.1 %") == 2
    assert "DIFFERS" not in text


def test_an_existing_package_is_not_overwritten(package):
    before = (package / "manifest.json").read_bytes()
    with pytest.raises(BuildError, match="raise the revision"):
        build(demo_job(), out=package.parent)
    assert (package / "manifest.json").read_bytes() == before


def test_a_failure_half_way_leaves_nothing_and_keeps_the_old(package, monkeypatch):
    before = (package / "manifest.json").read_bytes()

    def fails(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(building, "write_html", fails)
    with pytest.raises(BuildError, match="No space left"):
        build(demo_job(), out=package.parent, replace=True)
    assert (package / "manifest.json").read_bytes() == before
    assert [p.name for p in package.parent.iterdir()] == [package.name]


def test_a_notebook_that_disagrees_stops_the_build(tmp_path, monkeypatch):
    true = building.blocks

    def other(notebook):
        for block in true(notebook):
            if block["kind"] == "steps":
                block["steps"][0]["shown"] = "1.0000 mL"
            yield block

    monkeypatch.setattr(building, "blocks", other)
    with pytest.raises(BuildError, match="disagree at step"):
        build(demo_job(), out=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_us_demo_builds_from_the_command_line(tmp_path, capsys):
    assert main(["start", str(tmp_path / "job"), "--units", "us"]) == 0
    assert main(["build", str(tmp_path / "job"), "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[-1].endswith("calculation.pdf")
    assert Path(said[-1].removeprefix("Calculation: ")).exists()
    assert "strokes" in said[-4]


def test_wrong_input_is_a_sentence_exit_2_and_nothing_written(tmp_path, capsys):
    assert main(["start", str(tmp_path / "job")]) == 0
    schedule = tmp_path / "job" / "schedule.csv"
    schedule.write_text(
        schedule.read_text(encoding="utf-8").replace("S1,96,8,12,", 'S1,96,8,"12,5",'), encoding="utf-8"
    )
    capsys.readouterr()
    assert main(["build", str(tmp_path / "job"), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "schedule.csv" in said
    assert "hole_diameter" in said
    assert "12,5" in said
    assert "Traceback" not in said
    assert not (tmp_path / "out").exists()


def test_an_output_folder_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("")
    done = subprocess.run(
        [sys.executable, "-m", "calc", "build", "--out", str(tmp_path / "file" / "x")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_samples_are_fresh():
    from calc.package.sample import leading, sample_folder, source_digest

    kept = json.loads((sample_folder() / "source.json").read_text(encoding="utf-8"))["source"]
    assert kept == source_digest(compute(load_job(demo_job()))), "run: bonded-bar-workbook sample"
    assert leading(compute(load_job(demo_job()))).case.direction == "down"
    assert (sample_folder() / "page-1.png").exists()
    assert (sample_folder() / "calculation.pdf").exists()


def test_a_failed_check_comes_first_and_sets_the_exit_code(tmp_path, capsys):
    assert main(["start", str(tmp_path / "job"), "--units", "us"]) == 0
    schedule = tmp_path / "job" / "schedule.csv"
    schedule.write_text(
        schedule.read_text(encoding="utf-8").replace("A6,36,#6,1,", "A6,36,#6,13/16,"), encoding="utf-8"
    )
    capsys.readouterr()
    assert main(["check", str(tmp_path / "job")]) == 1
    said = capsys.readouterr().out.splitlines()
    assert re.match(r"[1-9] of \d+ checks FAIL", said[0])
    assert any("drill at least 7/8 in" in line for line in said)
    rows = building.doses_csv(compute(load_job(tmp_path / "job"))).splitlines()
    assert [row.split(",")[-2] for row in rows[1:]] == ["pass", "pass", "FAIL", "pass", "pass"]


def test_the_job_file_of_the_readme_works(tmp_path):
    """What the README prints, typed into three files, gives doses."""
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(re.search(r"```toml\n(.*?)```", text, re.S)[1], encoding="utf-8")
    (tmp_path / "schedule.csv").write_text(re.search(r"```csv\n(.*?)```", text, re.S)[1], encoding="utf-8")
    (tmp_path / "adhesive.toml").write_text('name = "Resin"\napproval = ""\ninvented = false\n', encoding="utf-8")
    results = compute(load_job(tmp_path))
    assert [one.case.mark for one in results.worked] == ["N1", "N2"]
    assert results.worked[0].case.measured is not None
    assert results.passes
    assert any("names no approval" in notice.text for notice in results.notices)


def test_another_jobs_package_is_never_replaced(tmp_path):
    """Number DEMO with revision M1-A, and number DEMO-M1 with revision A, share the name of a folder."""
    job = shutil.copytree(demo_job().parent, tmp_path / "job") / "job.toml"
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace('"DEMO-M1"', '"DEMO"').replace('revision = "A"', 'revision = "M1-A"'), encoding="utf-8")
    there = tmp_path / "out" / "DEMO-M1-A"
    there.mkdir(parents=True)
    (there / "manifest.json").write_text(sealed({"schema": 1, "number": "DEMO-M1", "revision": "A"}), encoding="utf-8")
    with pytest.raises(BuildError, match="holds another job's package, number DEMO-M1 revision A"):
        build(job, out=tmp_path / "out", replace=True)
    assert [path.name for path in there.iterdir()] == ["manifest.json"]


def test_what_is_for_the_screen_alone_is_not_printed(package):
    text = (package / "calculation.html").read_text(encoding="utf-8")
    assert "Drag the overfill" not in text
    assert "The buttons write" not in text
    assert "Drag the overfill" in (package / "notebooks" / "02_overfill_and_waste.ipynb").read_text(encoding="utf-8")


def test_what_cannot_be_shown_is_said_before_anything_is_written(tmp_path, monkeypatch):
    class Computing(Exception):
        pass

    def stop(_):
        raise Computing

    job = shutil.copytree(demo_job().parent, tmp_path / "job") / "job.toml"
    text = job.read_text(encoding="utf-8")
    title = re.search(r'(?m)^title = "', text)
    assert title is not None
    monkeypatch.setattr(building, "compute", stop)
    for words, told in (("ก外 ", ["ก (U+0E01)"]), ("北側 קיר ", [])):
        job.write_text(text[: title.end()] + words + text[title.end() :], encoding="utf-8")
        said: list[str] = []
        with pytest.raises(Computing):
            build(job, out=tmp_path / "out", say=said.append)
        assert [one for one in said if all(sign in one for sign in told)] == said
        assert len(said) == len(told)
        assert not (tmp_path / "out").exists()
