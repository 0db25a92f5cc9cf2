"""All rows of a schedule at once: order, marks wherever they stand, deleted groups; and saves that are taken back."""

import pytest
from jobparts import HEADER

from calc.base.errors import NotAccepted
from calc.files.problems import InputErrors
from calc.work.load import load_job
from calc.work.rows import GridRow, save_rows
from calc.work.save import save_group, save_values, take_back
from calc.work.undo import MOST, UNDO_FILE, saves

MEASURED = """
[measured.A]     # of hole 3
depth = ["0 mm", "120 mm", "260 mm"]
diameter = ["21 mm", "20 mm", "20 mm"]

[scatter]
bit = "medium"

[scatter.group.A]
bit = "new"      # changed on the first day

[scatter.group.B]
bit = "worn"
"""


@pytest.fixture
def job(folder):
    folder.schedule(HEADER, "A,12,16,20,200,,down,,", "B,8,#5,20,220,10,overhead,0.2,kept")
    folder.write("job.toml", folder.read("job.toml") + MEASURED)
    return folder.load()


def test_order_new_rows_and_what_is_unchanged(folder, job):
    new = GridRow(
        "",
        {"mark": "C", "count": "3", "bar": "20", "hole_diameter": "2.5 cm", "embedment": "250 mm", "direction": "down"},
    )
    assert save_rows(job, [GridRow("B", {}), new, GridRow("A", {"embedment": "8 in"})]) == (
        folder.path / "schedule.csv",
    )
    assert folder.read("schedule.csv").splitlines()[1:] == [
        "B,8,#5,20,220,10,overhead,0.2,kept",
        "C,3,20,25,250,,down,,",
        "A,12,16,20,203.2,,down,,",
    ]


def test_marks_are_swapped_in_every_table_and_comments_stay(folder, job):
    save_rows(job, [GridRow("A", {"mark": "B"}), GridRow("B", {"mark": "A"})])
    after = folder.load()
    assert (after.group("B").count, after.group("A").count) == (12, 8)
    assert (after.scatter.of("B").bit, after.scatter.of("A").bit) == ("new", "worn")
    assert list(after.measured) == ["B"]
    text = folder.read("job.toml")
    assert "# of hole 3" in text
    assert "# changed on the first day" in text


def test_a_deleted_group_takes_its_tables_along(folder, job):
    save_rows(job, [GridRow("B", {})])
    after = folder.load()
    assert [group.mark for group in after.groups] == ["B"]
    assert not after.measured
    assert list(after.scatter.group) == ["B"]


def test_a_refused_row_changes_nothing(folder, job):
    before = {name: folder.read(name) for name in ("schedule.csv", "job.toml")}
    with pytest.raises(InputErrors, match="hole_diameter"):
        save_rows(job, [GridRow("A", {"mark": "Z", "hole_diameter": "3 mm"}), GridRow("B", {})])
    assert before == {name: folder.read(name) for name in before}
    assert not (folder.path / UNDO_FILE).exists()


def test_saves_are_taken_back_one_after_another_over_several_files(folder, job):
    before = {name: folder.read(name) for name in ("schedule.csv", "job.toml")}
    save_rows(job, [GridRow("A", {"mark": "Z"}), GridRow("B", {})])
    renamed = folder.read("job.toml")
    save_values(load_job(job.path), values={"overfill.share": 0.3})
    take_back(load_job(job.path))
    assert folder.read("job.toml") == renamed
    take_back(load_job(job.path))
    assert before == {name: folder.read(name) for name in before}
    with pytest.raises(NotAccepted, match="no save"):
        take_back(load_job(job.path))


def test_so_many_saves_are_kept_and_nobody_elses_change_is_lost(folder, job):
    for number in range(MOST + 3):
        save_group(load_job(job.path), mark="A", values={"count": str(number + 20)})
    assert len(saves(folder.path)) == MOST
    folder.write("schedule.csv", folder.read("schedule.csv").replace("kept", "by hand"))
    with pytest.raises(NotAccepted, match="changed by something else"):
        take_back(load_job(job.path))
    assert "by hand" in folder.read("schedule.csv")
    folder.write(UNDO_FILE, "no list")
    assert saves(folder.path) == []


def test_the_key_of_a_table_that_is_not_there_is_not_looked_for_elsewhere(folder, job):
    save_values(job, values={"scatter.group.C.bit": None, "cost.currency": None})
    assert folder.load().scatter.bit == "medium"
