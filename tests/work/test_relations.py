"""What must come out the same, or larger, or so many times as much, when a job is changed in one way.

None of them knows a number: each compares a job with itself, written otherwise. They hold whatever the formulas are, so
they find what a test that repeats a formula does not.
"""

from __future__ import annotations

import copy
import math
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from jobparts import JOB, SITE

from calc.work.load import load_job
from calc.work.results import compute

RECORD = """\
name = "Nothing"
invented = true
mixer_volume = "8 mL"
nozzle_reach = "300 mm"
working_time = [{ at = "5 °C", time = "25 min" }, { at = "20 °C", time = "10 min" }]
curing_time = [{ at = "5 °C", time = "10 h" }, { at = "20 °C", time = "4 h" }]
"""
SCATTER = """\
[scatter]
hole_diameter = { mean = "0.2 mm", sd = "0.1 mm" }
bar_mass = { low = -0.03, high = 0.03 }
dispenser = { mean = 0.0, sd = 0.01 }
seed = 1
"""
DESIGN = """\
[design]
code = "EN 1992-1-1:2004"
f_ck = "30 MPa"
f_yk = "500 MPa"
strength_from = "drawings"
use = "anchorage"
bond = "good"
cover = "100 mm"
spacing = "200 mm"
member_thickness = "900 mm"
drilling = "rotary"
drilling_aid = false
force = "40 kN"
force_path = "tension_line"
tension_line_by = "another calculation"
[design.approval]
number = "M-0"
page = "1"
k_b = 1.0
alpha_lb = 1.0
"""
COLUMNS = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"
ROWS = (
    ("A", 12, "16", 20.0, 200.0, 0.0, "down", "", "first"),
    ("B", 8, "20", 25.0, 330.0, 10.0, "overhead", "0.2", ""),
    ("C", 30, "12", 16.0, 150.0, 0.0, "horizontal", "", ""),
)


@dataclass(frozen=True)
class Written:
    """A job as its files have it."""

    job: str = JOB
    tables: tuple[str, ...] = (SITE, SCATTER, DESIGN)
    record: str = RECORD
    columns: str = COLUMNS
    rows: tuple[tuple[Any, ...], ...] = ROWS

    def edit(self, old: str, new: str) -> Written:
        """Replace a text of the job file or of a table that is there."""
        assert any(old in one for one in (self.job, *self.tables, self.record)), old
        tables = tuple(one.replace(old, new) for one in self.tables)
        return replace(self, job=self.job.replace(old, new), tables=tables, record=self.record.replace(old, new))

    def row(self, mark: str, /, **values: Any) -> Written:
        """Change cells of a row, by the names of the columns."""
        names = [one.partition(" ")[0] for one in self.columns.split(",")]
        rows = [
            tuple(values.get(name, cell) for name, cell in zip(names, cells, strict=True))
            if cells[0] == mark
            else cells
            for cells in self.rows
        ]
        return replace(self, rows=tuple(rows))


@lru_cache(maxsize=200)
def computed(written: Written) -> dict[str, Any]:
    """Compute it, as results.json has it."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "job.toml").write_text("".join([written.job, *written.tables]), encoding="utf-8")
        (folder / "adhesive.toml").write_text(written.record, encoding="utf-8")
        lines = [",".join(str(cell) for cell in row) for row in written.rows]
        (folder / "schedule.csv").write_text("\n".join([written.columns, *lines]) + "\n", encoding="utf-8")
        return compute(load_job(folder)).data()


BASE = Written()
MANY = replace(BASE, rows=tuple((row[0], row[1] * 40, *row[2:]) for row in ROWS))
FIXED = replace(BASE, tables=(SITE, DESIGN))


def groups(written: Written) -> dict[str, dict[str, Any]]:
    return {one["mark"]: one for one in computed(written)["groups"]}


def totals(written: Written) -> dict[str, Any]:
    return computed(written)["totals"]


def numbers(values: Mapping[str, Any]) -> dict[str, float]:
    return {
        key: value for key, value in values.items() if isinstance(value, (int, float)) and not isinstance(value, bool)
    }


def same(one: Mapping[str, Any], other: Mapping[str, Any], *, but: Sequence[str] = ()) -> None:
    a, b = numbers(one), numbers(other)
    assert a.keys() == b.keys()
    for key in a.keys() - set(but):
        assert a[key] == pytest.approx(b[key], rel=1e-9, abs=1e-12), key


def same_groups(one: Written, other: Written, *, but: Sequence[str] = ()) -> None:
    for mark, entry in groups(one).items():
        same(entry, groups(other)[mark], but=but)


VOLUMES = (
    "annular_volume_mL",
    "tip_volume_mL",
    "overdrill_volume_mL",
    "required_volume_mL",
    "dose_mL",
    "rounded_dose_mL",
)


# ---- the same, written otherwise -----------------------------------------------------------------


def test_the_order_of_rows_changes_no_group() -> None:
    same_groups(BASE, replace(BASE, rows=ROWS[::-1]), but=["last_set_h", "earliest_load_h"])


def test_the_order_of_columns_changes_nothing() -> None:
    order = (4, 0, 8, 2, 1, 7, 3, 6, 5)
    names = COLUMNS.split(",")
    moved = replace(
        BASE, columns=",".join(names[i] for i in order), rows=tuple(tuple(row[i] for i in order) for row in ROWS)
    )
    same(totals(BASE), totals(moved))
    same_groups(BASE, moved)


def test_titles_notes_and_names_change_no_number() -> None:
    other = BASE.edit("A job for tests", "Another title").edit('revision = "0"', 'revision = "7"').row("A", note="x")
    same(totals(BASE), totals(other))
    same_groups(BASE, other)


def test_a_mark_is_only_a_name() -> None:
    renamed = BASE.row("B", mark="Z9")
    same(totals(BASE), totals(renamed))
    same(groups(BASE)["B"], groups(renamed)["Z9"])


def test_the_units_of_display_change_no_number() -> None:
    same(totals(BASE), totals(BASE.edit('units = "metric"', 'units = "us"')))
    # The advice is rounded up to what a tape shows: five millimetres, or a quarter of an inch.
    same_groups(BASE, BASE.edit('units = "metric"', 'units = "us"'), but=["advised_embedment_mm"])


def test_lengths_typed_in_another_unit_are_the_same() -> None:
    inches = replace(BASE, columns=COLUMNS.replace("[mm]", "[cm]"), rows=tuple(
        (*row[:3], row[3] / 10, row[4] / 10, row[5] / 10, *row[6:]) for row in ROWS
    ))  # fmt: skip
    same(totals(BASE), totals(inches))
    same_groups(BASE, inches)


def test_volumes_and_times_typed_in_another_unit_are_the_same() -> None:
    other = BASE.edit('"400 mL"', '"0.4 L"').edit('"20 mL"', '"20 cm³"').edit('"15 °C"', '"59 °F"')
    other = other.edit('shift = "9 h"', 'shift = "540 min"').edit('"0.5 min"', '"30 s"')
    same(totals(BASE), totals(other))


def test_a_depth_to_the_tip_is_the_overdrill_that_follows_from_it() -> None:
    cone = 25.0 / 2 * math.tan(math.radians((180 - 130) / 2))
    depth = replace(
        BASE, columns=COLUMNS.replace("overdrill", "depth_to_tip"),
        rows=tuple((*row[:5], 330.0 + 10.0 + cone if row[0] == "B" else "", *row[6:]) for row in ROWS),
    )  # fmt: skip
    same_groups(BASE, depth)


def test_a_stroke_gives_what_a_graduation_of_its_size_gives() -> None:
    graduated, stroked = (
        BASE.edit('graduation = "1 mL"', 'graduation = "5 mL"'),
        BASE.edit('graduation = "1 mL"', 'stroke = "5 mL"'),
    )
    same(totals(graduated), totals(stroked))
    for mark, one in groups(graduated).items():
        assert one["rounded_dose_mL"] == groups(stroked)[mark]["rounded_dose_mL"]


def test_a_hole_measured_as_straight_is_the_straight_one() -> None:
    measured = replace(
        FIXED,
        tables=(
            *FIXED.tables,
            '[measured.A]\ndepth = ["0 mm", "70 mm", "200 mm"]\ndiameter = ["20 mm", "20 mm", "20 mm"]\n',
        ),
    )
    for key in VOLUMES:
        assert groups(measured)["A"][key] == pytest.approx(groups(FIXED)["A"][key], rel=1e-9), key


def test_the_jobs_share_and_the_groups_own_are_one() -> None:
    own = FIXED.row("A", overfill="0.10").row("C", overfill="0.10")
    same_groups(FIXED, own)


# ---- parts and wholes ----------------------------------------------------------------------------


def test_a_group_split_in_two_takes_the_same_adhesive() -> None:
    rows = (("A", 5, *ROWS[0][2:]), ("A2", 7, *ROWS[0][2:]), *ROWS[1:])
    split = replace(BASE, rows=rows)
    for key in ("holes", "dose_L"):
        assert totals(split)[key] == pytest.approx(totals(BASE)[key], rel=1e-9)
    for mark in ("A", "A2"):
        for key in VOLUMES:
            assert groups(split)[mark][key] == groups(BASE)["A"][key]


def test_twice_the_holes_take_twice_the_adhesive() -> None:
    twice = replace(BASE, rows=tuple((row[0], row[1] * 2, *row[2:]) for row in ROWS))
    assert totals(twice)["dose_L"] == pytest.approx(2 * totals(BASE)["dose_L"], rel=1e-9)
    assert totals(twice)["holes"] == 2 * totals(BASE)["holes"]
    assert totals(twice)["packs"] >= totals(BASE)["packs"]
    for key in VOLUMES:
        assert groups(twice)["C"][key] == groups(BASE)["C"][key]


def test_another_group_leaves_the_others_alone() -> None:
    for mark in ("A", "B"):
        fewer = replace(BASE, rows=ROWS[:2])
        for key in (*VOLUMES, "overfill", "level_before_bar_mm", "overflow_mL", "short_fill_probability"):
            assert groups(fewer)[mark][key] == pytest.approx(groups(BASE)[mark][key], rel=1e-9), key


def test_an_overdrill_adds_the_cylinder_below_the_bar() -> None:
    for over in (5.0, 12.5):
        more = FIXED.row("A", overdrill=over)
        added = groups(more)["A"]["required_volume_mL"] - groups(FIXED)["A"]["required_volume_mL"]
        assert added == pytest.approx(math.pi / 4 * 20.0**2 * over / 1000, rel=1e-7)


def test_a_hole_of_all_lengths_twice_holds_eight_times_as_much() -> None:
    rows = tuple(
        ("A", 12, bar, hole, depth, 0.0, "down", "", "")
        for bar, hole, depth in (("16", 20.0, 200.0), ("32", 40.0, 400.0))
    )
    small, large = (groups(replace(FIXED, rows=(row,)))["A"] for row in rows)
    for key in ("annular_volume_mL", "tip_volume_mL", "required_volume_mL", "dose_mL"):
        assert large[key] == pytest.approx(8 * small[key], rel=1e-9), key
    assert large["level_before_bar_mm"] == pytest.approx(2 * small["level_before_bar_mm"], rel=0.02)  # whole mL


def test_a_flat_bottom_has_no_tip_and_takes_less_by_just_that() -> None:
    flat = FIXED.edit('"130 °"', '"180 °"')
    for mark, one in groups(FIXED).items():
        other = groups(flat)[mark]
        assert other["tip_volume_mL"] == 0
        assert one["required_volume_mL"] - other["required_volume_mL"] == pytest.approx(one["tip_volume_mL"], rel=1e-6)


def test_the_way_a_hole_points_changes_no_volume() -> None:
    for way in ("down", "horizontal", "overhead"):
        turned = FIXED.row("A", direction=way)
        for key in VOLUMES:
            assert groups(turned)["A"][key] == groups(FIXED)["A"][key], key


# ---- more of this, no less of that ---------------------------------------------------------------


@dataclass(frozen=True)
class Rising:
    """A job written with more and more of something, and what may not fall with it."""

    name: str
    steps: tuple[Written, ...]
    read: Callable[[Written], float] = field(compare=False)


def of_group(key: str, mark: str = "A") -> Callable[[Written], float]:
    return lambda written: groups(written)[mark][key]


def of_total(key: str) -> Callable[[Written], float]:
    return lambda written: totals(written)[key]


def required(written: Written) -> float:
    """The embedment that group A needs [mm]."""
    found = [
        step["value"] for sheet in computed(written)["sheets"] for step in sheet["steps"]
        if step["mark"] == "A" and step["name"] == "l_bd"
    ]  # fmt: skip
    return found[-1]


VOLUME, ROUNDED, PACKS = of_group("required_volume_mL"), of_group("rounded_dose_mL"), of_total("packs")
THIN = FIXED.edit('"40 kN"', '"15 kN"')
RISING = (
    Rising("wider holes", tuple(BASE.row("A", hole_diameter=d) for d in (18, 20, 22, 25)), VOLUME),
    Rising("deeper holes", tuple(BASE.row("A", embedment=d) for d in (150, 200, 320)), VOLUME),
    Rising("thinner bars", tuple(THIN.row("A", bar=b) for b in ("16", "14", "12", "10")), VOLUME),
    Rising("more on top", tuple(FIXED.edit("= 0.10", f"= {s}") for s in (0.0, 0.1, 0.25)), of_group("dose_mL")),
    Rising("coarser steps", tuple(FIXED.edit('"1 mL"', f'"{g} mL"') for g in (1, 2, 4, 8)), ROUNDED),
    Rising("more left in packs", tuple(MANY.edit('"10 mL"', f'"{v} mL"') for v in (0, 10, 40)), PACKS),
    Rising("more discarded", tuple(MANY.edit('"20 mL"', f'"{v} mL"') for v in (5, 20, 60)), PACKS),
    Rising("smaller packs", tuple(MANY.edit('"400 mL"', f'"{v} mL"') for v in (800, 400, 300)), PACKS),
    Rising("more reserve", tuple(MANY.edit("= 0.05", f"= {r}") for r in (0.0, 0.05, 0.3)), of_total("packs_to_order")),
    Rising("more force", tuple(BASE.edit('"40 kN"', f'"{f} kN"') for f in (20, 35, 48)), required),
    Rising("weaker concrete", tuple(BASE.edit('"30 MPa"', f'"{f} MPa"') for f in (40, 30, 20)), required),
    Rising(
        "a less steady dispenser",
        tuple(BASE.edit("sd = 0.01", f"sd = {s}") for s in (0.005, 0.01, 0.05)),
        of_group("short_fill_probability"),
    ),
)  # fmt: skip


@pytest.mark.parametrize("one", RISING, ids=[one.name.replace(" ", "-") for one in RISING])
def test_more_of_this_is_no_less_of_that(one: Rising) -> None:
    values = [one.read(step) for step in one.steps]
    assert values == sorted(values)
    assert values[0] < values[-1]


# ---- the days ------------------------------------------------------------------------------------


def test_an_hour_later_the_same_work_takes_as_much() -> None:
    later = (
        BASE.edit('start = "07:00"', 'start = "08:00"')
        .edit('at = "09:30"', 'at = "10:30"')
        .edit('at = "12:00"', 'at = "13:00"')
    )
    later = later.edit('at = "07:00"', 'at = "08:00"').edit('at = "14:00"', 'at = "15:00"')
    same(totals(BASE), totals(later), but=[key for key in totals(BASE) if "time" in key or "load" in key])


def test_the_seed_of_the_scatter_changes_no_volume_of_the_hole() -> None:
    other = BASE.edit("seed = 1", "seed = 2")
    for mark in groups(BASE):
        for key in VOLUMES:
            assert groups(other)[mark][key] == groups(BASE)[mark][key], key


def test_a_job_computed_twice_is_the_same_to_the_last_digit() -> None:
    once = copy.deepcopy(computed(BASE))
    computed.cache_clear()
    assert computed(BASE) == once
