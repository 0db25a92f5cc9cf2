"""How many pages a package has, and how long it stays readable: nine unlike groups from scratch, and 300 alike.

The demo's pages are counted in tests/package/test_build.py, with the same words of the foot line.
"""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
from pathlib import Path

from calc.files.job import demo_job
from calc.package.build import build

NINE = """
[design.group.L1]
use = "lap"
force = "60 kN"
percent_lapped = 50
end_cover = "30 mm"
gap = "30 mm"
existing_bar = "20"
existing_f_yk = "500 MPa"
existing_spacing = "200 mm"
existing_cover = "60 mm"
lap_arrangement = "same layer"
transverse_bar = "12"
transverse_count = 6
cover = "100 mm"
member_thickness = "1500 mm"

[design.group.J2]
use = "joint"
force_per_length = "120 kN/m"
surface = "smooth"
joint_width = "350 mm"
f_ck_new = "30 MPa"

[design.group.T3]
force = "12 kN"
bond = "poor"
force_path = "tension_line"
tension_line_by = "truss model, calculation D-9 (invented)"
"""
ROWS = "L1,20,20,25,900,,horizontal,,,\nJ2,30,16,20,520,,horizontal,0.25,,\nT3,14,10,14,200,10,down,,,\n"


def pages_of(package: Path) -> tuple[int, int, str]:
    """Pages of the calculation and of the record, as the foot lines say, and all words."""
    text = subprocess.run(
        ["pdftotext", "-layout", package / "calculation.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    counted = [int((re.findall(rf"{part} \d+ of (\d+)", text) or [0])[0]) for part in ("calculation", "record")]
    return counted[0], counted[1], text


def test_nine_unlike_groups_have_sixteen_pages(tmp_path, capsys):
    job = shutil.copytree(demo_job().parent, tmp_path / "job")
    for name, more in (("job.toml", NINE), ("schedule.csv", ROWS)):
        (job / name).write_text((job / name).read_text(encoding="utf-8").rstrip() + "\n" + more, encoding="utf-8")
    calculation, record, _ = pages_of(build(job, out=tmp_path / "out")[0])
    with capsys.disabled():
        print(f"\nnine unlike groups: {calculation} pages of calculation, {record} of record")
    assert calculation <= 16
    assert record <= 34


def test_six_further_groups_have_one_page_more(tmp_path, capsys):
    more = [(f"F{n}", sizes) for n, sizes in enumerate(("8,12,110", "12,16,150", "16,20,260") * 4)]
    counted = []
    for groups in (0, 6, 12):
        job = shutil.copytree(demo_job().parent, tmp_path / f"job {groups}")
        kept = more[:groups]
        tables = [f'[design.group.{mark}]\nforce = "6 kN"\nforce_path = "compression"\n' for mark, _ in kept]
        rows = [f"{mark},12,{sizes},,down,,,\n" for mark, sizes in kept]
        for name, said in (("job.toml", NINE + "\n".join(["", *tables])), ("schedule.csv", ROWS + "".join(rows))):
            text = (job / name).read_text(encoding="utf-8").rstrip()
            (job / name).write_text(f"{text}\n{said}", encoding="utf-8")
        counted.append(pages_of(build(job, out=tmp_path / f"out {groups}")[0])[0])
    with capsys.disabled():
        print(f"\nnine, fifteen and twenty-one groups: {counted} pages of calculation")
    assert counted[1] <= counted[0] + 1
    assert counted[2] <= counted[0] + 2


def test_300_groups_have_seventy_pages(tmp_path, capsys):
    job = shutil.copytree(demo_job().parent, tmp_path / "job")
    text = (job / "job.toml").read_text(encoding="utf-8")
    head, *tables = text.split("\n[")
    dropped = ("evidence.", "measured.", "scatter.group.", "design.group.", "site")
    kept = [table for table in tables if not table.startswith(dropped)]
    sizes = [("8", 12, 110), ("12", 16, 150), ("16", 20, 250), ("20", 25, 300), ("25", 32, 360)]
    forces = [
        f'design.group.G{n}]\nforce = "{5 + n % 5} kN"\nforce_path = "tension_line"\ntension_line_by = "model"'
        for n in range(300)
    ]
    (job / "job.toml").write_text("\n[".join([head, *kept, *forces]) + "\n", encoding="utf-8")
    with (job / "schedule.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["mark", "count", "bar", "hole_diameter [mm]", "embedment [mm]", "direction"])
        writer.writerows([f"G{n}", 1 + n % 9, *sizes[n % 5], ("down", "horizontal")[n % 2]] for n in range(300))
    package, made = build(job, out=tmp_path / "out")
    calculation, record, words = pages_of(package)
    with capsys.disabled():
        print(f"\n300 groups: {calculation} pages of calculation, {record} of record")
    assert calculation <= 70
    bare = "".join(words.split())
    assert all("".join(step.shown.split()) in bare for sheet in made.sheets for step in sheet.steps)
