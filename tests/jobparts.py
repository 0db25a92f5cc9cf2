"""A small job in a folder of its own, to be broken in one place at a time; and a package signed off quickly."""

import math
import shutil
import tempfile
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from scipy import special

from calc.files.design import GroupValues
from calc.files.problems import InputErrors
from calc.files.site import Site
from calc.package.manifest import COMPANIONS
from calc.review import signing
from calc.strength import en1992_2004
from calc.work.dose import case_of, work
from calc.work.load import load_job

HEADER = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"
ROWS = ("A,12,16,20,200,,down,,", "B,8,#5,22,220,10,overhead,0.2,ceiling")
SITE = """\
[site]
crews = 2
drills = 1
start = "07:00"
shift = "9 h"
breaks = [{ at = "09:30", length = "20 min" }, { at = "12:00", length = "30 min" }]
temperature = [{ at = "07:00", temperature = "8 °C" }, { at = "14:00", temperature = "16 °C" }]
batch = 4
hole_from_two_packs = true
night_low = "8.5 °C"
reserve = 0.05
load_wait = "2 h"
seed = 7
[site.times]
drill_per_metre = "300 s"
blow = "15 s"
brush = "0.5 min"
inject = "20 s"
set = "15 s"
walk = "10 s"
mixer_change = "40 s"
pack_change = "30 s"
[site.ways.brushed]
steps = [{ do = "drill" }, { do = "blow" }, { do = "brush" }, { do = "blow", time = "25 s" }]
extraction = false
holes_per_charge = 30
[site.ways.drawn]
steps = [{ do = "drill", per_metre = "400 s", label = "drill with extraction" }]
extraction = true
holes_per_bag = 50
[site.preparation]
way = "drawn"
[site.dust]
density = "2400 kg/m³"
bulking = 1.5
bag_volume = "5 L"
"""
JOB = """\
schema = 1
[job]
number = "T-1"   # a comment that stays
revision = "0"
title = "A job for tests"
invented = true
[display]
units = "metric"
[concrete]
temperature = "15 °C"
[adhesive]
record = "adhesive.toml"
[equipment]
pack_volume = "400 mL"
residual = "10 mL"
discard_per_mixer = "20 mL"
graduation = "1 mL"
point_angle = "130 °"
[overfill]
share = 0.10     # ten per cent
reason = "for tests"
[schedule]
file = "schedule.csv"
"""


class Folder:
    """A job's folder and what loading it says."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.write("job.toml", JOB)
        self.write("adhesive.toml", 'name = "Nothing"\ninvented = true\n')
        self.schedule(HEADER, *ROWS)

    def write(self, name: str, data: str | bytes) -> Path:
        file = self.path / name
        file.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
        return file

    def read(self, name: str) -> str:
        return (self.path / name).read_bytes().decode("utf-8")

    def schedule(self, *lines: str) -> None:
        self.write("schedule.csv", "\n".join(lines) + "\n")

    def edit(self, old: str, new: str, name: str = "job.toml") -> None:
        text = self.read(name)
        assert old in text
        self.write(name, text.replace(old, new))

    def load(self):
        return load_job(self.path)

    def problems(self) -> list[str]:
        with pytest.raises(InputErrors) as caught:
            self.load()
        assert str(caught.value) == "\n".join(map(str, caught.value.problems))
        return [str(p) for p in caught.value.problems]

    def only(self) -> str:
        found = self.problems()
        assert len(found) == 1, found
        return found[0]


def site_of(text=SITE):
    return Site.model_validate(tomllib.loads(text)["site"])


def with_keys(job, keys):
    """Return a job with keys of bar groups, by mark, beside those that its file gives."""
    groups = dict(job.design.group)
    for mark, own in keys.items():
        groups[mark] = groups.get(mark, GroupValues()).model_copy(update=own)
    return replace(job, design=job.design.model_copy(update={"group": groups}))


def with_actions(job, actions, test="confined"):
    """Return a job with characteristic actions on one bar [N] by mark, and the way in which its bars are tested."""
    return with_keys(job, {m: {"force_characteristic": N, "proof_test": test} for m, N in actions.items()})


def worked_groups(job):
    """Work every bar group of a job by the job's share or the group's own, in the schedule's order."""
    return [work(case_of(job, group)) for group in job.groups]


def lap_with_end_cover(*, c_e, s_l, alpha_lb=1.5, **lap):
    """A post-installed lap by EN 1992-1-1:2004 with its gap and end cover, as a design puts it together."""
    chain = en1992_2004.lap_chain(alpha_lb=alpha_lb, **lap)
    chain.ask_each({"s_l": s_l, "c_e": c_e})
    chain.use(en1992_2004.gap_extension, "lengthening for the gap between the lapped bars")
    chain.use(en1992_2004.lap_embedment, "embedment that the lap needs")
    return chain


def repeated_short(margin, sd):
    """Probability that the next hole stays short when the first one's amount plus a margin is used again.

    Two holes differ with sd √2, so without a margin every second one is short: Φ(−margin/(sd √2)).
    """
    return float(special.ndtr(-margin / (sd * math.sqrt(2))))


def sign(folder, **how):
    """Sign a package off that is held against a copy of itself, so that nothing has to be made again."""
    with tempfile.TemporaryDirectory() as scratch:
        beside = shutil.ignore_patterns(*COMPANIONS, "*.sig", "*.asc", "*.p7s", ".*.part")
        again = shutil.copytree(folder, Path(scratch) / "again", ignore=beside, symlinks=True)
        return signing.sign(folder, rebuilt=again, **how)
