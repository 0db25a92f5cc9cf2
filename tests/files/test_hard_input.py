"""Input that is damaged, endless or absurd ends in a sentence with file and place, and never in a traceback."""

import io
import os
import random
import shutil
import zipfile
from pathlib import Path

import openpyxl
import pytest

from calc.files.job import Job, demo_job
from calc.files.problems import InputErrors
from calc.files.schedule import read_schedule
from calc.package.build import put_numbers
from calc.work.load import load_job
from calc.work.results import compute

HEADER = ["mark", "count", "bar", "hole_diameter [mm]", "embedment [mm]", "direction"]


@pytest.fixture
def job_folder(tmp_path):
    return Path(shutil.copytree(demo_job().parent, tmp_path / "job"))


def saved(path, rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


@pytest.fixture
def workbook(tmp_path):
    return saved(tmp_path / "schedule.xlsx", [HEADER, *([f"B{i}", 4, "16", 20, 200, "down"] for i in range(40))])


def test_a_damaged_workbook_ends_in_a_sentence(workbook):
    whole = workbook.read_bytes()
    chosen = random.Random(18)
    refused = 0
    for _ in range(120):
        broken = bytearray(whole)
        for _ in range(chosen.choice((1, 3, 20))):
            broken[chosen.randrange(len(broken))] = chosen.randrange(256)
        workbook.write_bytes(broken[: chosen.choice((len(broken), chosen.randrange(len(broken))))])
        _, wrong = read_schedule(workbook)
        refused += bool(wrong)
        assert all(problem.file == "schedule.xlsx" and "accepted" in problem.message for problem in wrong)
    assert refused > 60


def with_sheet(path, change):
    """Write the workbook anew with the XML of its first sheet changed."""
    data, out = path.read_bytes(), io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            text = old.read(part)
            new.writestr(part, change(text) if part.filename == "xl/worksheets/sheet1.xml" else text)
    path.write_bytes(out.getvalue())


def test_a_row_far_down_is_refused_and_fills_no_memory(workbook):
    with_sheet(workbook, lambda text: text.replace(b'<row r="41"', b'<row r="99999999"'))
    _, (problem,) = read_schedule(workbook)
    assert "1048576" in problem.message


def test_xml_that_ends_early_says_how_far_it_was_read(workbook):
    with_sheet(workbook, lambda text: text[: text.index(b'<row r="30"') + 20])
    _, (problem,) = read_schedule(workbook)
    assert "after row" in problem.message


def test_a_workbook_that_unpacks_without_end_is_refused(workbook):
    with_sheet(workbook, lambda text: text.replace(b"<sheetData>", b" " * 210 * 2**20 + b"<sheetData>"))
    _, (problem,) = read_schedule(workbook)
    assert "200 MB" in problem.message


def test_a_formula_without_a_result_is_not_an_empty_cell(tmp_path):
    path = saved(tmp_path / "schedule.xlsx", [HEADER, ["B1", 4, "16", 20, "=D2*10", "down"]])
    _, (problem,) = read_schedule(path)
    assert (problem.place, problem.value) == ("row 2, column embedment", "=D2*10")
    assert "formula" in problem.message


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_or_a_device_is_not_read(job_folder):
    (job_folder / "schedule.csv").unlink()
    os.mkfifo(job_folder / "schedule.csv")
    with pytest.raises(InputErrors, match=r"schedule\.csv: the file cannot be read: it is a device or a pipe"):
        load_job(job_folder)


@pytest.mark.parametrize("number", ["1" * 400, "1/" + "7" * 400, "-" + "9" * 400])
@pytest.mark.parametrize(
    ("key", "written"),
    [
        ("short_probability", "{}"),
        ("bar_mass", "{{low = {}, high = 0.045}}"),
        ("pack_volume", '"{} mL"'),
    ],
)
def test_numbers_of_four_hundred_digits(job_folder, number, key, written):
    file = job_folder / "job.toml"
    lines = file.read_text(encoding="utf-8").splitlines()
    place = next(i for i, line in enumerate(lines) if line.startswith(f"{key} = "))
    lines[place] = f"{key} = {written.format(number)}"
    file.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(InputErrors, match=r"job\.toml, .*accepted"):
        load_job(job_folder)


def test_a_mixed_number_without_its_unit_lacks_a_unit():
    from calc.base.units import UnitError, parse_quantity

    with pytest.raises(UnitError, match="has no unit"):
        parse_quantity("1 1/8", "mm")


def test_values_that_leave_a_formula_together_name_the_group(job_folder):
    file = job_folder / "job.toml"
    text = file.read_text(encoding="utf-8")
    at = text.index("force = ", text.index("[design.group."))
    file.write_text(f'{text[:at]}force = "2 N"{text[text.index(chr(10), at) :]}', encoding="utf-8")
    with pytest.raises(InputErrors, match=r"job\.toml, design of .*: the values of this group"):
        compute(load_job(job_folder))


def test_fifty_problems_are_told_and_the_rest_counted(job_folder):
    rows = "".join(f"B{i},4,16,20,-1,,down,,\n" for i in range(80))
    header = (job_folder / "schedule.csv").read_text(encoding="utf-8").splitlines()[0]
    (job_folder / "schedule.csv").write_text(f"{header}\n{rows}", encoding="utf-8")
    with pytest.raises(InputErrors) as refused:
        load_job(job_folder)
    lines = str(refused.value).splitlines()
    assert len(refused.value.problems) == 80
    assert (len(lines), lines[-1]) == (51, "… and 30 more, told when these are gone.")


def test_a_path_that_no_system_takes_is_refused_in_a_line(tmp_path):
    with pytest.raises(InputErrors, match="cannot be read") as refused:
        load_job(tmp_path / ("a" * 5000))
    assert len(str(refused.value)) < 400


def test_a_link_inside_the_folder_is_built_as_it_is_checked(job_folder, tmp_path):
    (job_folder / "schedule.csv").rename(job_folder / "rows.csv")
    (job_folder / "schedule.csv").symlink_to("rows.csv")
    job = load_job(job_folder)
    put_numbers(tmp_path / "package", job, compute(job))
    inputs = tmp_path / "package" / "inputs"
    assert not (inputs / "schedule.csv").is_symlink()
    assert load_job(inputs).groups == job.groups


def test_a_range_is_told_in_the_unit_that_was_typed(job_folder):
    file = job_folder / "job.toml"
    text = file.read_text(encoding="utf-8").replace('temperature = "12 °C"', 'temperature = "200 °F"', 1)
    file.write_text(text.replace('pack_volume = "400 mL"', 'pack_volume = "90000 fl oz"', 1), encoding="utf-8")
    with pytest.raises(InputErrors) as refused:
        load_job(job_folder)
    said = {problem.place: problem.message for problem in refused.value.problems}
    assert said["key concrete.temperature"] == "is out of range; accepted: from -40 to 140 °F"
    assert said["key equipment.pack_volume"].endswith("to 1690.7 fl oz")


def test_a_column_without_its_unit_is_offered_that_of_its_neighbours(job_folder):
    schedule = job_folder / "schedule.csv"
    rows = schedule.read_text(encoding="utf-8")
    schedule.write_text(rows.replace("hole_diameter [mm],embedment [mm]", "hole_diameter [in],embedment", 1), "utf-8")
    with pytest.raises(InputErrors, match=r"write 'embedment \[in\]'"):
        load_job(job_folder)


def test_the_deepest_hole_is_looked_for_once(job_folder, monkeypatch):
    asked = []
    monkeypatch.setattr(Job, "depth", lambda job, group, depth=Job.depth: asked.append(group.mark) or depth(job, group))
    job = load_job(job_folder)
    compute(job)
    assert len(asked) <= 4 * len(job.groups)
