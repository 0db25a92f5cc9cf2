"""The lists for the site: what stands on the pages is what was computed.

And no text of a user can become anything else.
"""

import csv
import io
import json
import re
import shutil
import subprocess
from datetime import date, datetime, time
from pathlib import Path

import openpyxl
import pytest
from jobparts import with_actions

from calc.base.display import Display, duration
from calc.base.units import convert
from calc.files.job import demo_job
from calc.package.lists.doses import dose_list, dose_texts, failing
from calc.package.lists.files import write_lists
from calc.package.lists.holes import hole_record
from calc.package.lists.order import order_csv
from calc.package.lists.proof import proof_loads
from calc.package.lists.setting import compile_list
from calc.package.lists.times import site_times
from calc.show.plan.views import dust
from calc.work.load import load_job
from calc.work.packs.need import Need
from calc.work.packs.packs import plan_packs
from calc.work.plan.planned import PlanWork
from calc.work.plan.volumes import use_of
from calc.work.results import Results, compute
from calc.work.site.findings import SHORT_RULE, SHORT_RULE_SOURCE
from calc.work.site.proof import plan_proof_loads
from calc.work.site.record import read_hole_record

ROWS = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction,overfill,note"


def text_of(body: bytes, tmp_path: Path, *options: str) -> str:
    if shutil.which("pdftotext") is None:
        pytest.fail("pdftotext (poppler) is needed to read the PDF: apt-get install poppler-utils")
    (tmp_path / "page.pdf").write_bytes(body)
    done = subprocess.run(
        ["pdftotext", "-layout", *options, str(tmp_path / "page.pdf"), "-"], capture_output=True, check=True
    )
    return done.stdout.decode("utf-8")


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def packs(results: Results):
    e = results.job.equipment
    needs = [Need(one.case.mark, one.case.count, one.rounded, one.overflow) for one in results.worked]
    plan = plan_packs(
        needs=needs,
        pack_volume=e.pack_volume,
        residual=e.residual,
        discard_per_mixer=e.discard_per_mixer,
        holes_per_shift=60,
        split=True,
        reserve=0.1,
    )
    return use_of(plan, None)


@pytest.fixture(scope="module", params=["metric", "us"])
def demo(request):
    return compute(load_job(demo_job(request.param)))


@pytest.fixture
def small(tmp_path):
    """A small job of one's own rows, from the files of `package`'s kind."""
    folder = tmp_path / "job"
    folder.mkdir()

    def make(
        *rows: str, job: str = "", adhesive: str = "", title: str = "A job for tests", edit=(), head: str = ROWS
    ) -> Results:
        text = (
            f'schema = 1\n[job]\nnumber = "T-1"\nrevision = "A"\ntitle = {json.dumps(title)}\ninvented ='
            ' false\n[display]\nunits = "metric"\n[adhesive]\nrecord = "adhesive.toml"\n[equipment]\npack_volume ='
            ' "400 mL"\nresidual = "10 mL"\ndiscard_per_mixer = "20 mL"\ngraduation = "1 mL"\npoint_angle = "130'
            f' °"\n[overfill]\nshare = 0.10\nreason = "for tests"\n[schedule]\nfile = "schedule.csv"\n{job}'
        )
        for old, new in edit:
            assert old in text
            text = text.replace(old, new)
        (folder / "job.toml").write_text(text, encoding="utf-8")
        (folder / "adhesive.toml").write_text(f'name = "Nothing"\ninvented = false\n{adhesive}', encoding="utf-8")
        (folder / "schedule.csv").write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
        return compute(load_job(folder))

    return make


def test_every_file_is_written_and_named(demo, tmp_path):
    written = write_lists(demo, tmp_path / "lists", plan=packs(demo))
    assert [path.name for path in written] == [
        "dose-list.pdf",
        "dose-list.html",
        "depth-stick-card.pdf",
        "hole-record.pdf",
        "hole-record.xlsx",
        "hole-record.csv",
        "proof-loads.pdf",
        "order.csv",
        "day-book.csv",
    ]
    assert sorted(path.name for path in (tmp_path / "lists").iterdir()) == sorted(path.name for path in written)
    for path in written:
        if path.suffix == ".pdf":
            body = path.read_bytes()
            assert re.search(rb"pdfaid:part>3<.*?pdfaid:conformance>A<", body, re.DOTALL)
            assert b"pdfuaid:part>1<" in body
    without = write_lists(demo, tmp_path / "without")
    assert "order.csv" not in [path.name for path in without]


def test_the_dose_list_shows_every_group(demo, tmp_path):
    body, pages = compile_list("lists-dose.typ", dose_list(demo, stamp="results 0123456789ab"))
    text = text_of(body, tmp_path)
    tight = squeezed(text)
    data = dose_list(demo, stamp="x")
    for one, shown in zip(demo.worked, data["groups"], strict=True):
        dose, _ = dose_texts(one, demo.job)
        assert shown["dose"] == dose
        # Rounded dose or strokes, as the rest of the package says it.
        assert one.dispense_text.startswith(dose)
        for part in (
            shown["mark"],
            shown["bar"],
            shown["hole"],
            shown["depth"],
            shown["dose"],
            shown["level"],
            shown["direction"].split()[-1],
        ):
            assert squeezed(part) in tight, part
    assert text.count("INVENTED DATA") == pages
    assert all(f"page {n} of {pages}" in text for n in range(1, pages + 1))
    assert text.count("job DEMO-") == pages
    assert text.count("results 0123456789ab") == pages
    times = site_times(demo.job)
    assert times.working in text
    assert times.load in text
    assert "▸" in text


def test_times_are_the_worst_of_the_day():
    """Metric demo, 9 to 16 °C: 20 min from the band 15 to 22 °C, 15 h from 8 to 15 °C and twice that in damp concrete.

    And the load_wait.
    """
    job = load_job(demo_job())
    times = site_times(job)
    wait = job.site.load_wait / 60 if job.site else 0.0
    assert (times.temperature, times.working, times.load) == ("9 to 16 °C", "20 min", duration(2 * 900 + wait))


def test_us_times_are_read_on_the_safe_side():
    """US demo, 50 to 60 °F: working from the row at 60 °F (32 min), curing from that at 50 °F.

    (16 h), 1.5 times that where nobody says that it is dry.
    """
    job = load_job(demo_job("us"))
    wait = job.site.load_wait / 60 if job.site else 0.0
    times = site_times(job)
    assert (times.temperature, times.working, times.load) == ("50 to 60 °F", "32 min", duration(1.5 * 960 + wait))


def test_the_warmest_time_of_the_day_is_told(small, tmp_path):
    adhesive = (
        'working_time = [{ at = "4 °C", time = "70 min" }, { at = "10 °C", time = "40 min" }, { at = "20 °C", time ='
        ' "20 min" }, { at = "30 °C", time = "9 min" }]\ncuring_time = [{ at = "5 °C", time = "24 h" }, { at = "10 °C",'
        ' time = "15 h" }, { at = "30 °C", time = "5 h" }]\nbase_temperature = { from = "6 °C", to = "30 °C" }\n'
    )
    site = (
        '[site]\ncrews = 1\ndrills = 1\nstart = "07:00"\nshift = "8 h"\nload_wait = "1 h"\ntemperature = [{ at ='
        ' "07:00", temperature = "5 °C" }, { at = "14:00", temperature = "24 °C" }]\n[site.times]\ndrill = "60'
        ' s"\ninject = "20 s"\nset = "20 s"\nmixer_change = "60 s"\npack_change = "60 s"\n[site.ways.plain]\nsteps = [{'
        ' do = "drill" }]\nextraction = true\n'
    )
    results = small("A,4,16,20,200,,down,,", job='[concrete]\ntemperature = "12 °C"\n' + site, adhesive=adhesive)
    times = site_times(results.job)
    # 12 °C is stated as well: 20 min and 16 h would be read there, which the morning and the afternoon do not keep.
    assert (times.temperature, times.working, times.load) == ("5 to 24 °C", "9 min", "25 h")
    totals = results.data()["totals"]
    assert (totals["working_time_min"], totals["curing_time_min"]) == (9.0, 1440.0)
    assert times.stop == ("DO NOT INJECT around 07:00 (5 °C): the adhesive record allows 6 °C to 30 °C.",)
    text = text_of(compile_list("lists-dose.typ", dose_list(results, stamp="s"))[0], tmp_path)
    assert squeezed("9 min") in squeezed(text)
    # Without a stated temperature of the concrete the day decides alone.
    alone = site_times(small("A,4,16,20,200,,down,,", job=site, adhesive=adhesive).job)
    assert (alone.temperature, alone.working, alone.load) == ("5 to 24 °C", "9 min", "25 h")


CURING = (
    'working_time = [{ from = "0 °C", to = "10 °C", time = "60 min" }, { from = "10 °C", to = "30 °C", time = "20 min"'
    ' }]\ncuring_time = [{ from = "2 °C", to = "5 °C", time = "36 h" }, { from = "5 °C", to = "10 °C", time = "21 h" },'
    ' { from = "10 °C", to = "30 °C", time = "8 h" }]\n'
)


def course(*points):
    day = ", ".join(f'{{ at = "{at}", temperature = "{T} °C" }}' for at, T in points)
    return (
        '[concrete]\ntemperature = "12 °C"\n[site]\ncrews = 1\ndrills = 1\nstart = "09:00"\nshift = "8 h"\nload_wait ='
        f' "2 h"\ntemperature = [{day}]\n[site.times]\ndrill = "60 s"\ninject = "20 s"\nset = "20 s"\nmixer_change ='
        ' "60 s"\npack_change = "60 s"\n[site.ways.plain]\nsteps = [{ do = "drill" }]\nextraction = true\n'
    )


def test_a_cold_night_after_a_warm_shift_makes_the_box_and_the_totals_longest(small):
    """12 °C is measured and the shift sees no less than 11 °C, but at 05:00 the concrete has 3 °C.

    36 h and 2 h, not 8 h and 2 h.
    """
    results = small(
        "A,4,16,20,200,,down,,", job=course(("05:00", 3), ("09:00", 11), ("17:00", 13), ("20:00", 11)), adhesive=CURING
    )
    assert site_times(results.job).load == "38 h"
    totals, group = results.data()["totals"], results.data()["groups"][0]
    assert (totals["working_time_min"], totals["curing_time_min"]) == (20.0, 36 * 60)
    # As planned, A is set in the morning and cured by the end of the shift; who is late meets the night.
    assert (group["working_time_min"], group["curing_time_min"]) == (20.0, 8 * 60)


def test_a_group_that_meets_no_night_has_its_own_times(small):
    """Warm until the evening: 8 h are over before it is cold, so that A's own load comes sooner than the box says."""
    results = small(
        "A,4,16,20,200,,down,,", job=course(("04:00", 3), ("08:00", 15), ("20:00", 15), ("23:00", 3)), adhesive=CURING
    )
    group = results.data()["groups"][0]
    assert group["curing_time_min"] == 8 * 60
    shown = dose_list(results, stamp="s")
    assert shown["load"] == "38 h"
    own = " ".join(shown["groups"][0]["own"].split())
    assert own.startswith("Planned day 1, 09:")
    assert own.endswith("home within 20 min, no load before 10 h.")
    assert any("at another time those of the box hold" in note for note in shown["notes"])


def test_a_night_below_the_table_fails(small):
    results = small("A,4,16,20,200,,down,,", job=course(("05:00", 1), ("09:00", 11), ("17:00", 13)), adhesive=CURING)
    times = site_times(results.job)
    assert times.load == "—"
    assert times.stop == (
        (
            "DO NOT LOAD: no curing time at 1 °C. The adhesive record's table covers 2 °C to 30 °C. Ask the engineer"
            " first."
        ),
    )
    (check,) = [one for one in results.checks if one.id == "05.job.table_curing"]
    assert not check.passes
    assert not results.passes
    assert "2 °C to 30 °C, holds concrete at 1 °C (job.toml, site.temperature)" in check.title
    assert results.data()["totals"]["curing_time_min"] is None


def test_missing_times_are_a_dash_and_a_sentence(small):
    times = site_times(small("A,4,16,20,200,,down,,").job)
    assert (times.temperature, times.working, times.load) == ("—", "—", "—")
    assert "gives no temperature of the concrete" in times.notes[0]
    at_ten = small("A,4,16,20,200,,down,,", job='[concrete]\ntemperature = "10 °C"\n').job
    assert [note.split(":")[0] for note in site_times(at_ten).notes] == [
        "adhesive.toml has no working times",
        "adhesive.toml has no curing times",
    ]


def test_outside_the_range_the_list_stops_the_crew(small, tmp_path):
    adhesive = (
        'working_time = [{ at = "10 °C", time = "40 min" }, { at = "40 °C", time = "5 min" }]\nbase_temperature = {'
        ' from = "5 °C", to = "30 °C" }\n'
    )
    results = small("A,4,16,20,200,,down,,", job='[concrete]\ntemperature = "35 °C"\n', adhesive=adhesive)
    times = site_times(results.job)
    assert times.stop == ("DO NOT INJECT at 35 °C: the adhesive record allows 5 °C to 30 °C.",)
    assert times.working == "5 min"
    text = text_of(compile_list("lists-dose.typ", dose_list(results, stamp="s"))[0], tmp_path)
    assert "DO NOT INJECT at 35 °C" in text


def test_a_failed_check_stops_the_crew(small, tmp_path):
    results = small("A,4,16,19,200,,down,,", "A.1,4,16,20,200,,down,,", job='[ribs]\n"EN 10080" = 1.2\n')
    assert [*failing(results)] == ["A"]
    text = text_of(compile_list("lists-dose.typ", dose_list(results, stamp="s"))[0], tmp_path)
    assert text.count("STOP: a check FAILS. Ask the engineer first.") == 1
    # Page 1 names the group at its head, the record at its lines.
    assert "STOP at A: checks fail or are owed." in text.split("\f")[0]
    data = hole_record(results, stamp="s", by="group")
    assert [group["stops"] for group in data["groups"]] == [["STOP: a check FAILS. Ask the engineer first."], []]
    record = text_of(compile_list("lists-record.typ", data)[0], tmp_path)
    assert record.count("STOP: a check FAILS. Ask the engineer first.") == 1
    assert "STOP at A" in record


def test_reach_and_direction_are_told(small):
    adhesive = 'nozzle_reach = "150 mm"\nextension_reach = "400 mm"\n'
    results = small("A,4,16,20,120,,down,,", "B,4,16,20,200,10,overhead,,", "C,4,16,20,500,,down,,", adhesive=adhesive)
    a, b, c = dose_list(results, stamp="s")["groups"]
    assert (a["cautions"], a["stops"]) == ([], [])
    assert [line.split(":")[0].split(" ")[0] for line in b["cautions"]] == ["Extension", "The", "Overhead"]
    assert b["cautions"][1] == "The hole goes 10 mm beyond the bar's end."
    assert c["cautions"] == []
    assert [stop for stop in c["stops"] if "nozzle" in stop] == [
        "STOP: the nozzle reaches 400 mm, the hole is 500 mm deep. Ask the engineer first."
    ]


@pytest.mark.parametrize(("units", "tip", "drill"), [("us", "16-1/8 in", "16-1/8 in"), ("us", "410 mm", "16-3/16 in")])
def test_the_drill_goes_to_its_point_by_a_tape(small, units, tip, drill):
    """A depth to the tip comes back as it was typed, or up to the next sixteenth: 410 mm are 16.142 in."""
    number, unit = tip.split()
    head = ROWS.replace("overdrill [mm]", f"depth_to_tip [{unit}]")
    results = small(f"A,4,#5,22,380,{number},down,,", head=head, edit=[('units = "metric"', f'units = "{units}"')])
    (card,) = dose_list(results, stamp="s")["groups"]
    (line,) = hole_record(results, stamp="s", by="group")["groups"]
    assert card["drill"] == line["depth"] == drill


def test_a_measured_hole_has_one_instruction(small):
    measured = '[measured.A]\ndepth = ["0 mm", "230 mm"]\ndiameter = ["20.5 mm", "20.2 mm"]\n'
    (card,) = dose_list(small("A,4,16,20,200,30,down,,", job=measured), stamp="s")["groups"]
    assert [line for line in card["cautions"] if "hole" in line] == [
        "A hole was measured: the dose is for holes like it. Does one look otherwise? Ask first."
    ]
    # 230 mm and the cone of a point of 130° in a hole of 20.2 mm: 230 + 10.1 / tan 65° = 234.71
    assert card["drill"] == "235 mm"


def test_the_work_is_numbered_with_the_products_own_cleaning(small, tmp_path):
    steps = ["Blow three times", "Brush twice", "Blow three times"]
    results = small("A,4,16,20,200,,down,,", adhesive=f"cleaning = {json.dumps(steps)}\n")
    data = dose_list(results, stamp="s")
    assert [part["title"] for part in data["work"]] == [
        "Drill and mark",
        "Clean, as Nothing asks",
        "Inject",
        "Set the bar",
    ]
    assert data["work"][1]["lines"] == steps
    assert not any("cleaning" in stop for stop in data["stop"])
    front, back = text_of(compile_list("lists-dose.typ", data)[0], tmp_path).split("\f")[:2]
    assert re.findall(r"^ *(\d+) +(?:Blow|Brush|Drill|Turn)", back, re.MULTILINE) == ["1", "3", "4", "5", "9"]
    assert "DOSE for one hole" in front
    without = dose_list(small("A,4,16,20,200,,down,,"), stamp="s")
    assert without["work"][1]["lines"] == ["OWED: adhesive.toml has no cleaning. Ask the engineer first."]
    assert "OWED: how this product cleans a hole; adhesive.toml has no cleaning." in without["stop"]


def test_the_dose_list_is_one_sheet(demo):
    assert compile_list("lists-dose.typ", dose_list(demo, stamp="x"))[1] == 2


def test_a_card_tells_packs_batch_and_boxes(demo):
    plan = demo.part(PlanWork)
    for one, card, use in zip(demo.worked, dose_list(demo, stamp="x")["groups"], plan.packs.groups, strict=True):
        assert card["pack"].startswith(f"one pack fills {use.holes_per_pack} hole")
        assert card["batch"] == f"{demo.job.site.batch} holes, then their bars"
        assert card["batches"] * demo.job.site.batch >= one.case.count > (card["batches"] - 1) * demo.job.site.batch
        assert card["strokes"] == (one.strokes or 0)


def test_sixty_groups_flow_with_their_head_on_every_page(small, tmp_path):
    results = small(
        *(f"W{n},{5 + n},16,20,{150 + n},,{('down', 'horizontal', 'overhead')[n % 3]},," for n in range(1, 61))
    )
    body, pages = compile_list("lists-dose.typ", dose_list(results, stamp="s"))
    text = text_of(body, tmp_path)
    assert pages >= 6
    marks = re.findall(r"^ *(W\d+) ", text, re.MULTILINE)
    assert marks == [f"W{n}" for n in range(1, 61)]
    listing = [page for page in text.split("\f") if re.search(r"^ *W\d+ ", page, re.MULTILINE)]
    assert all("Bar home within" in page and "DOSE for one hole" in page for page in listing)
    assert "INVENTED" not in text


def test_the_paper_fits_the_units(demo, tmp_path):
    write_lists(demo, tmp_path)
    sizes = {}
    for name in ("dose-list", "depth-stick-card", "hole-record", "proof-loads"):
        said = subprocess.run(
            ["pdfinfo", str(tmp_path / f"{name}.pdf")], capture_output=True, check=True
        ).stdout.decode()
        sizes[name] = [round(float(n)) for n in re.search(r"Page size: +([\d.]+) x ([\d.]+)", said).groups()]
    us = demo.job.display.system == "us"
    broad, high = ([792, 612], [612, 792]) if us else ([842, 595], [595, 842])
    expected = [high, broad, broad, high]
    assert [*sizes.values()] == expected


def test_the_hole_record_has_a_line_for_every_hole(demo, tmp_path):
    data = hole_record(demo, stamp="s", by="hole")
    assert [len(group["lines"]) for group in data["groups"]] == [one.case.count for one in demo.worked]
    text = text_of(compile_list("lists-record.typ", data)[0], tmp_path)
    # Cleaned, and full at the mouth.
    assert len(re.findall(r"yes / no", text.replace("\u00a0", " "))) == 2 * demo.holes
    for words in (
        "Batch",
        "Expiry",
        "Concrete",
        "Pack",
        "Depth",
        "Cleaned",
        "Dose",
        "Injected",
        "Bar",
        "Initials",
        "engineer decide",
    ):
        assert words in text


def test_sheets_for_the_crew_cite_no_rule_of_elsewhere(demo, tmp_path):
    write_lists(demo, tmp_path)
    for name in ("dose-list", "hole-record"):
        text = text_of((tmp_path / f"{name}.pdf").read_bytes(), tmp_path)
        assert "set the bar again" in " ".join(text.split())
        assert re.findall(r"\b(DOT|CFR|UFC|EH40|TRGS)\b", text) == []
    told = [one.markdown for one in dust(demo.parts[-1])]
    assert any(SHORT_RULE in one and SHORT_RULE_SOURCE in one for one in told)


def test_the_hole_record_by_group_has_lines_to_share(small, tmp_path):
    results = small("A,400,16,20,200,,down,,", "B,45,16,20,200,,down,,", "C,2,16,20,200,,down,,")
    data = hole_record(results, stamp="s", by="group")
    assert [len(group["lines"]) for group in data["groups"]] == [12, 3, 2]
    text = text_of(compile_list("lists-record.typ", data)[0], tmp_path)
    assert len(re.findall(r"_{5} to _{5}", text)) == 17
    # The heading of a group that runs over stands on every page that it has lines on.
    for page in text.split("\f")[:-1]:
        assert {m for m in "ABC" if re.search(rf"^ *{m} +_", page, re.MULTILINE)} <= {
            m for m in "ABC" if re.search(rf"^ *{m} · ", page, re.MULTILINE)
        }


def test_the_written_csv_reads_back(demo, tmp_path):
    write_lists(demo, tmp_path)
    read = [
        read_hole_record(tmp_path / f"hole-record.{kind}", job=demo.job, worked=demo.worked) for kind in ("csv", "xlsx")
    ]
    for record in read:
        assert {finding.kind for finding in record.findings} == {"missing"}
        assert record.planned == demo.holes
    spans = [[(line.mark, line.first, line.last) for line in record.lines] for record in read]
    assert spans[0] == spans[1]


def test_a_workbook_that_was_filled_in_is_read_back(demo, tmp_path):
    """Dates and times as a spreadsheet program keeps them, in the cells that the package gives it."""
    write_lists(demo, tmp_path)
    book = openpyxl.load_workbook(tmp_path / "hole-record.xlsx")
    sheet = book.active
    at = {cell.value.split(" [")[0]: cell.column for cell in sheet[1]}
    assert {min(part.min_col for part in one.sqref.ranges) for one in sheet.data_validations.dataValidation} == {
        at["cleaned"],
        at["full"],
    }
    told = {"date": datetime(2026, 12, 3), "expiry": datetime(2027, 3, 1), "batch": "B-7", "initials": "AP"}
    told |= {"injected": time(9, 0), "set": time(9, 5), "cleaned": "yes", "full": "yes"}
    cold = demo.job.units == "us"
    told |= {"concrete_temperature": 55 if cold else 12, "pack_temperature": 65 if cold else 18}
    for name in ("depth_to_tip", "dose", "strokes"):
        if name in at:
            told[name] = sheet.cell(2, at[f"planned_{name}"]).value
    for name, value in told.items():
        sheet.cell(2, at[name]).value = value
        assert name not in ("date", "expiry") or sheet.cell(2, at[name]).number_format == "yyyy-mm-dd"
    book.save(tmp_path / "filled.xlsx")
    record = read_hole_record(tmp_path / "filled.xlsx", job=demo.job, worked=demo.worked)
    assert {finding.kind for finding in record.findings} == {"missing"}
    (line,) = [line for line in record.lines if line.done]
    assert (line.day, line.injected, line.set, line.full) == (date(2026, 12, 3), 540.0, 545.0, True)
    assert line.depth_to_tip == pytest.approx(demo.worked[0].case.drilled_to, abs=1e-3)


def test_proof_loads_stand_on_their_page(tmp_path):
    results = compute(load_job(demo_job()))
    plan = plan_proof_loads(job=with_actions(results.job, {"W3": 28e3, "P5": 120e3}))
    text = text_of(compile_list("lists-proof.typ", proof_loads(results, plan, stamp="s"))[0], tmp_path)
    line = next(line for line in text.splitlines() if line.strip().startswith("W3"))
    assert " ".join(line.split()) == "W3 ø16 3 of 48 28 kN 42 kN 70.37 kN 37.8 kN ✓ may be pulled"
    assert "✗ DO NOT PULL" in text
    for words in ("What is missing", "force_characteristic", "concrete cone", "raises a design value"):
        assert words in text
    drawn = next(group for group in plan.groups if group.mark == "W3").drawn
    assert ", ".join(map(str, drawn)) in text
    # Lines to fill in: for the bars that may be pulled, and for no others.
    assert len([line for line in text.splitlines() if re.match(r"\s*W3 +\d+ +42 kN +37.8 kN\s*$", line)]) == 3
    assert not re.search(r"^\s*P5 +\d+ +\(?180 kN", text, re.MULTILINE)


def test_us_proof_loads_are_in_kip():
    results = compute(load_job(demo_job("us")))
    plan = plan_proof_loads(job=with_actions(results.job, {"A8": convert(10.0, "kip", "N")}))
    row = next(row for row in proof_loads(results, plan, stamp="s")["rows"] if row[0] == "A8")
    # 0.7 * 0.79 in² * 60 ksi = 33.18 kip
    assert row[3:] == ["10 kip", "15 kip", "33.18 kip", "13.5 kip", "✓ may be pulled"]


def test_the_order_adds_up(demo):
    plan = packs(demo)
    rows = list(csv.DictReader(io.StringIO(order_csv(demo, plan))))
    assert [row["item"] for row in rows][:2] == ["packs", "mixers"]
    assert (int(rows[0]["used"]), int(rows[0]["to_order"])) == (plan.packs, plan.packs_to_order)
    assert (int(rows[1]["used"]), int(rows[1]["to_order"])) == (plan.mixers, plan.mixers_to_order)
    unit = demo.job.display.ordered_unit
    each = convert(demo.job.equipment.pack_volume, "mm³", unit)
    assert float(rows[0][f"to_order [{unit}]"]) == pytest.approx(plan.packs_to_order * each, rel=1e-4)
    assert float(rows[0][f"used [{unit}]"]) == pytest.approx(plan.packs * each, rel=1e-4)
    assert all(row["data"] == "invented" for row in rows)


def test_the_order_is_in_the_units_of_the_job_and_says_until_when_packs_have_to_be_good():
    results = compute(load_job(demo_job("us")))
    pack = next(csv.DictReader(io.StringIO(order_csv(results, results.use))))
    each = convert(results.job.equipment.pack_volume, "mm³", "fl oz")
    assert float(pack["to_order [fl oz]"]) == pytest.approx(results.use.packs_to_order * each, rel=1e-4)
    assert "pack of 18 fl oz" in pack["what"]
    assert not re.search(r"\d m?L\b", pack["note"])
    assert pack["note"].startswith("good until the day of the last injection at least: the job file has no date of the")
    metric = compute(load_job(demo_job()))
    pack = next(csv.DictReader(io.StringIO(order_csv(metric, metric.use))))
    day = metric.data()["totals"]["packs_good_until"]
    assert pack["note"].startswith(f"good until {day} at least, the day of the last injection; of what is used")
    assert metric.job.site.date.isoformat() <= day


def test_brushes_and_tubes_are_ordered_by_diameter(demo):
    rows = list(csv.DictReader(io.StringIO(order_csv(demo, packs(demo)))))
    reach = demo.job.adhesive.nozzle_reach
    deep = sorted({g.hole_diameter for g in demo.job.groups if g.embedment + g.overdrill > reach})
    brushed = any(step.do == "brush" for step in demo.job.site.way.steps)
    every = sorted({g.hole_diameter for g in demo.job.groups}) if brushed else []
    assert deep
    for item, sizes in (("brushes", every), ("extension tubes", deep)):
        found = [row["what"].split(":")[0] for row in rows if row["item"] == item]
        assert found == [f"holes of {demo.job.display.size(d)}" for d in sizes]


def test_the_dose_list_says_until_when_packs_must_be_good(demo):
    notes = dose_list(demo, stamp="x")["notes"]
    until = demo.part(PlanWork).good_until
    assert (until is None) == (demo.job.site.date is None)
    said = [note for note in notes if note.startswith("The last injection is on ")]
    assert said == (
        [] if until is None else [f"The last injection is on {until.isoformat()}: packs have to be good until then."]
    )
    assert f"Packs are good until {demo.job.adhesive.expiry.isoformat()} by the record" in " ".join(notes)


def test_what_fits_one_diameter_is_ordered_by_diameter(demo):
    rows = list(csv.DictReader(io.StringIO(order_csv(demo, packs(demo)))))
    bits = [row for row in rows if row["item"] == "drill bits"]
    sizes = sorted({group.hole_diameter for group in demo.job.groups})
    assert [row["what"].split(":")[0] for row in bits] == [f"holes of {demo.job.display.size(d)}" for d in sizes]
    per_bit = demo.job.site.way.holes_per_bit
    holes = [sum(group.count for group in demo.job.groups if group.hole_diameter == size) for size in sizes]
    worn = ["" if per_bit is None else str(-(-count // per_bit)) for count in holes]
    assert [row["used"] for row in bits] == [row["to_order"] for row in bits] == worn
    plugs = [row["what"] for row in rows if row["item"].startswith("plugs")]
    overhead = {group.mark for group in demo.job.groups if group.direction == "overhead"}
    assert {mark for what in plugs for mark in what.split(": ")[1].split(", ")} == overhead


HOSTILE = [
    '"=HYPERLINK(1)",4,16,20,200,,down,,',
    "+1+1,4,16,20,200,,down,,",
    "-2,4,16,20,200,,down,,",
    "@x,4,16,20,200,,down,,",
    "#panic()*_$x$,4,16,20,200,,down,,",
]


def test_no_text_becomes_a_formula_or_markup(small, tmp_path):
    results = small(*HOSTILE, title="#panic() *bold* $x$ <a> @ref \u4e2d", adhesive='nozzle_reach = "50 mm"\n')
    write_lists(results, tmp_path / "lists", plan=packs(results))
    for name in ("order.csv", "hole-record.csv"):
        with (tmp_path / "lists" / name).open(encoding="utf-8", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert cells
        assert not [cell for cell in cells if cell[:1] in ("=", "+", "-", "@", "\t", "\r", "|", "%")]
    for name in ("dose-list", "depth-stick-card", "hole-record", "proof-loads"):
        tight = squeezed(text_of((tmp_path / "lists" / f"{name}.pdf").read_bytes(), tmp_path))
        assert "=HYPERLINK(1)" in tight
        assert "#panic()*_$x$" in tight
        assert "@ref\u4e2d" in tight


def test_lists_are_the_same_twice(demo, tmp_path):
    one, two = (write_lists(demo, tmp_path / name, plan=packs(demo)) for name in ("one", "two"))
    for a, b in zip(one, two, strict=True):
        if a.suffix != ".pdf":
            assert a.read_bytes() == b.read_bytes()
        else:
            assert text_of(a.read_bytes(), tmp_path) == text_of(b.read_bytes(), tmp_path)


def test_a_graduation_in_fluid_ounces_is_shown_in_them(small):
    results = small(
        "A,4,16,20,200,,down,,",
        edit=[('graduation = "1 mL"', 'graduation = "0.25 fl oz"'), ('units = "metric"', 'units = "us"')],
    )
    # 25.418 mL / 29.5735 mL = 0.8595 fl oz, up to the next quarter
    assert dose_texts(results.worked[0], results.job) == ("1 fl oz", "")


@pytest.mark.parametrize(
    ("value", "text"),
    [(25.4, "1 in"), (31.75, "1-1/4 in"), (1.5875, "1/16 in"), (25.4 * 15.97, "16 in"), (0.0, "0 in")],
)
def test_inches(value, text):
    assert Display("us").read_off(value) == text
