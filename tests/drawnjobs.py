"""Every figure of a job, and jobs of many sizes and groups whose figures are looked at."""

from __future__ import annotations

import re
import shutil

from calc.files.job import demo_job
from calc.show import view
from calc.show.dose.ladder import reserve_ladder
from calc.show.dose.thumb import rule_of_thumb
from calc.show.embedment import views as embedment
from calc.show.evidence import views as evidence
from calc.show.overfill import views as overfill
from calc.show.plan import views as plan
from calc.work.evidence import MeasuredWork
from calc.work.plan.planned import PlanWork

# bar and hole [mm]
SIZES = ((8, 12), (10, 14), (12, 16), (14, 18), (16, 20), (20, 25), (25, 32), (28, 35), (32, 40), (40, 50), (50, 60))
HEAD = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction\n"
DESIGN = """
[design]
code = "EN 1992-1-1:2004"
f_ck = "25 MPa"
f_yk = "500 MPa"
strength_from = "drawings"
bond = "good"
drilling = "rotary"
drilling_aid = false
cover = "70 mm"
spacing = "220 mm"
member_thickness = "1200 mm"
use = "anchorage"
force_path = "tension_line"
force = "20 kN"
existing_bar = "16"
existing_cover = "45 mm"
existing_spacing = "150 mm"
[design.approval]
number = "T-1"
page = "Table 1"
k_b = 0.9
alpha_lb = 1.5
invented = true
"""


def many_groups(folder, groups, mark="G{}"):
    """Write a job of so many groups, through all sizes, depths and directions; returns its folder."""
    folder.mkdir()
    text = demo_job().read_text(encoding="utf-8")
    parts = re.split(r"\n(?=\[)", text)
    kept = [part for part in parts if not part.startswith(("[design", "[evidence", "[measured", "[scatter.group"))]
    bit = 'hole_diameter = {mean = "0.3 mm", sd = "0.1 mm"}  #'
    (folder / "job.toml").write_text("\n".join(kept).replace("bit =", bit, 1) + DESIGN, encoding="utf-8")
    rows = []
    for i in range(groups):
        phi, d_0 = SIZES[(3 * i) % len(SIZES)]
        depth = int(phi * (8, 14, 20)[i % 3])
        rows.append(
            f"{mark.format(i + 1)},{4 + i % 5},{phi},{d_0},{depth},,{('down', 'horizontal', 'overhead')[i % 3]}"
        )
    (folder / "schedule.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    shutil.copyfile(demo_job().parent / "adhesive.toml", folder / "adhesive.toml")
    return folder


def draw_all(results):
    """Draw every figure that notebooks and package show of a job."""
    job = results.job
    for one in results.worked:
        view.picture_of(one)
    reserve_ladder(results)
    rule_of_thumb(job.display)
    look = overfill.look(job, results)
    for show in (overfill.budget, overfill.curve, overfill.series, overfill.ways, overfill.swings, overfill.lines):
        show(look)
    if (measured := results.part(MeasuredWork)) is not None:
        for show in (evidence.run_order, evidence.shape, evidence.limits):
            show(measured)
        evidence.what_follows(job, measured)
        evidence.growth(job, measured)
    strength = embedment.part_of(results)
    for show in (embedment.joints, embedment.utilisation, embedment.strength, embedment.codes):
        show(job, strength)
    if (planned := results.part(PlanWork)) is not None:
        for show in (plan.days, plan.adhesive, plan.waste, plan.ways):
            show(planned)
