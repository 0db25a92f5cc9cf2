"""The panel of the plan and its schedule grid.

Each calls one function, refuses in a sentence, and writes only what may be written.
"""

import re
import shutil

import pytest

from calc.files.job import demo_job
from calc.show.dose.grid import PAGE, ScheduleGrid
from calc.show.plan.panel import PlanPanel
from calc.work.load import load_job


@pytest.fixture
def own(tmp_path):
    shutil.copytree(demo_job().parent, tmp_path / "job")
    return load_job(tmp_path / "job")


@pytest.fixture
def panel(own):
    panel = PlanPanel(own)
    yield panel
    panel.finish(cancel=True)


def test_starts_with_the_plan_of_the_job(panel):
    assert panel.message == ""
    assert str(panel.result.use.packs_to_order) in panel.output.value
    assert "<svg" in panel.output.value
    assert panel.result.job is panel.job


def test_more_crews_finish_sooner_and_leave_the_files_alone(panel, own):
    before, text = panel.result.timeline.finish, own.path.read_text(encoding="utf-8")
    panel.fields["drills"].value = "4"
    panel.fields["crews"].value = "4"
    assert panel.result.job.site.crews == 4
    assert panel.result.timeline.finish < before
    assert own.path.read_text(encoding="utf-8") == text


def test_a_warm_day_shortens_the_working_time(panel):
    panel.fields["temperature"].value = "35 °C"
    assert panel.result.working.time == 7.0
    assert {told.allowed for told in panel.result.timeline.groups} == {420.0}


def test_way_pack_condition_and_day_reach_the_plan(panel):
    panel.fields["way"].value = "drawn"
    assert panel.result.way.name == "drawn"
    panel.fields["pack"].value = "600 mL"
    assert panel.result.packs.pack_volume == 600_000
    panel.fields["condition"].value = "flooded"
    panel.fields["day"].value = "2028-01-01"
    failed = {check.id for check in panel.result.sheet.checks if not check.passes}
    assert {"05.job.condition", "05.job.expiry"} <= failed
    assert "Check fails: The record allows a flooded hole" in panel.output.value


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("temperature", "12,5 °C", "Concrete, all day: "),
        ("temperature", "41 °C", "41 °C is outside the table of working times; accepted: 2 to 38 °C"),
        ("crews", "0", "Crews: '0' is too few"),
        ("crews", "two", "Crews: 'two'"),
        ("drills", "1.5", "Drilling machines: '1.5' is not a whole number"),
        ("pack", "400", "Content of a pack: '400' has no unit"),
        ("pack", "25 mL", "leave nothing of the pack"),
        ("day", "tomorrow", "Day of the work: 'tomorrow' is not a date"),
    ],
)
def test_nonsense_gets_a_sentence_in_place_of_the_result(panel, field, text, said):
    panel.fields[field].value = text
    assert said in panel.message
    assert panel.result is None
    assert "<svg" not in panel.output.value
    assert "dp-dose" not in panel.output.value


def test_saving_writes_the_changed_keys_to_the_users_own_file(panel, own):
    panel.fields["crews"].value = "3"
    panel.fields["temperature"].value = "10 °C"
    panel.fields["pack"].value = "500 mL"
    panel._save()
    assert "Saved to" in panel.saved.value
    read = load_job(own.path)
    assert (read.site.crews, read.equipment.pack_volume, read.concrete.temperature) == (3, 500_000, 10.0)
    assert [point.temperature for point in read.site.temperature] == [10.0]
    assert "# the one that the plan takes" in own.path.read_text(encoding="utf-8")
    panel._save()
    assert "Nothing to save" in panel.saved.value


def test_the_demo_and_a_wrong_entry_are_never_written():
    path = demo_job()
    before = path.read_bytes()
    panel = PlanPanel(load_job(path))
    panel.fields["crews"].value = "3"
    panel._save()
    assert "this is the demo" in panel.saved.value
    panel.fields["crews"].value = "0"
    panel._save()
    assert "Nothing was saved: Crews" in panel.saved.value
    panel.grid.cells[0]["count"].value = "97"
    panel.grid.write()
    assert "this is the demo" in panel.grid.said.value
    assert path.read_bytes() == before


def test_a_job_without_a_site_still_gets_its_order(own):
    text = own.path.read_text(encoding="utf-8")
    own.path.write_text(text[: text.index("# The site:")], encoding="utf-8")
    panel = PlanPanel(load_job(own.path))
    assert panel.result.timeline is None
    assert panel.fields["crews"].disabled
    assert "has no table site" in panel.output.value


def test_a_large_job_runs_in_the_background_and_can_be_cancelled(own):
    panel = PlanPanel(own, background=10)
    panel.finish()
    assert panel.result.timeline.complete
    assert panel.bar.value == panel.bar.max == 284
    assert panel.bar.layout.display == "none"
    # cancel as soon as the first holes are reported
    panel._progress = lambda done, total: panel.cancel.click()
    panel.fields["batch"].value = "3"
    panel.finish()
    # Nothing that could be ordered from, loaded by or relied on: a part of the job reads like the whole.
    assert panel.result is None
    assert panel.pictures == ()
    assert re.search(r"cancelled after \d+ of 284 holes: no order, no load day and no check", panel.output.value)
    for word in ("Packs to order", "dp-dose", "Late bars", "may be loaded", "Check fails", "<svg"):
        assert word not in panel.output.value
    panel.save.click()
    assert "Nothing was saved" in panel.saved.value
    # planned again, it is all there
    panel._progress = lambda done, total: None
    panel.fields["batch"].value = "2"
    panel.finish()
    assert "Packs to order" in panel.output.value


# ---- the grid ----


@pytest.fixture
def grid(own):
    return ScheduleGrid(own)


def test_grid_shows_the_schedule(grid):
    assert [cells["mark"].value for cells in grid.cells[:6]] == ["S1", "S2", "W3", "W4", "P5", "B6"]
    assert grid.cells[3]["overdrill"].value == "20 mm"
    assert grid._lines[6].layout.display == "none"


def test_grid_refuses_like_the_file_and_saves_what_is_right(grid, own):
    grid.cells[1]["hole_diameter"].value = "11 mm"
    grid.cells[2]["count"].value = "4,5"
    assert "Row 2 (S2), Hole: '11 mm' is not larger than the bar 12" in grid.said.value.replace("&#x27;", "'")
    assert set(grid.wrong) == {1, 2}
    grid.write()
    assert "Cannot be saved yet" in grid.said.value
    assert load_job(own.path).group("S2").hole_diameter == 16.0
    grid.cells[1]["hole_diameter"].value = "18 mm"
    grid.cells[2]["count"].value = "50"
    assert not grid.wrong
    grid.write()
    assert "2 rows written" in grid.said.value
    read = load_job(own.path)
    assert (read.group("S2").hole_diameter, read.group("W3").count) == (18.0, 50)
    assert read.group("S1") == own.group("S1")


def test_a_cell_typed_back_is_no_change(grid):
    grid.cells[0]["count"].value = "97"
    assert "1 row changed" in grid.said.value
    grid.cells[0]["count"].value = "96"
    grid.write()
    assert "Nothing to save" in grid.said.value


def test_grid_adds_a_group(grid, own):
    grid.add_group()
    new = grid.cells[6]
    assert grid.wrong
    for name, text in {"mark": "S1", "bar": "16", "hole_diameter": "20 mm", "embedment": "180 mm"}.items():
        new[name].value = text
    assert "is already the mark of row 1" in grid.said.value
    new["mark"].value = "N7"
    assert not grid.wrong
    grid.write()
    assert load_job(own.path).group("N7").embedment == 180.0
    assert grid.rows == 7


def _many(own, count):
    text = own.schedule_path.read_text(encoding="utf-8")
    rows = "".join(f"X{i},2,16,20,150,,down,,,\n" for i in range(count))
    own.schedule_path.write_text(text + rows, encoding="utf-8")
    return load_job(own.path)


def test_grid_turns_pages_and_keeps_what_is_typed(own):
    grid = ScheduleGrid(_many(own, 30))
    grid.cells[0]["count"].value = "90"
    grid.turn(1)
    assert grid.cells[0]["mark"].value == f"X{PAGE - 6}"
    assert grid.on.disabled
    grid.find.value = "S2"
    assert grid.page == 0
    assert grid.cells[0]["count"].value == "90"
    grid.find.value = "nobody"
    assert "No group has the mark" in grid.said.value


def test_rows_are_pasted_with_and_without_titles_and_saved_at_once(own):
    told = []
    grid = ScheduleGrid(own, told.append)
    many = "\n".join(f"X{i}\t2\t16\t20\t150\t\tdown" for i in range(1000))
    grid.pasted.value = many
    grid.take.click()
    assert (grid.rows, grid.wrong) == (1006, {})
    grid.pasted.value = "mark\tembedment [in]\nX3\t8"
    grid.take.click()
    grid.write()
    read = load_job(own.path)
    assert len(read.groups) == 1006
    assert (read.group("X3").embedment, read.group("X4").embedment) == (203.2, 150.0)
    assert len(told) == 1


def test_what_is_pasted_is_refused_in_place(grid):
    grid.pasted.value = "mark\tsize\nA\t3"
    grid.take.click()
    assert "the title 'size' is no column here" in grid.said.value.replace("&#x27;", "'")
    grid.pasted.value = "N8\t2\t16\t12\t150"
    grid.take.click()
    assert "is not larger than the bar 16" in grid.said.value
    assert grid.cells[6]["hole_diameter"].layout.border
    grid.take_back()
    assert (grid.rows, grid.wrong) == (6, {})


def test_rows_are_renamed_sorted_deleted_and_undone(grid, own):
    grid.cells[0]["mark"].value = "T1"
    grid.sort.value = "hole_diameter"
    assert grid.texts(5)["mark"] == "B6"
    grid._deletes[5].click()
    assert grid.texts(0)["mark"] == "T1"
    assert grid.rows == 5
    grid.take_back()
    assert grid.rows == 6
    grid.write()
    read = load_job(own.path)
    assert [group.mark for group in read.groups] == [line.cells["mark"] for line in grid.lines]
    assert read.group("T1").count == own.group("S1").count
    assert "S1" not in {group.mark for group in read.groups}


def test_a_saved_schedule_is_planned_anew(panel, own):
    before = panel.result.packs.holes
    panel.grid.cells[0]["count"].value = "10"
    panel.grid.write()
    panel.finish()
    assert panel.result.packs.holes == before - 86
