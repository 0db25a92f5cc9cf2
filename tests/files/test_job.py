"""The job file: keys, quantities, names; and the two demos."""

import json
import tomllib

import jsonschema
import pytest

from calc.files.job import demo_job
from calc.files.problems import InputErrors
from calc.files.tables import json_schema
from calc.work.load import load_job

# what is replaced in the good job file, by what, the key that is blamed, and what the sentence must hold
EDITS = [
    ('"400 mL"', '"400"', "equipment.pack_volume", ["'400' has no unit", "mL"]),
    ('"400 mL"', '"400 mm"', "equipment.pack_volume", ["wrong kind of unit 'mm'", "mL"]),
    ('"400 mL"', '"400 liters"', "equipment.pack_volume", ["unknown unit 'liters'", "mL"]),
    ('"400 mL"', '"400,5 mL"', "equipment.pack_volume", ["has a comma", "accepted"]),
    ('"400 mL"', "400", "equipment.pack_volume", ["'400'", "quotation marks", "accepted"]),
    ('"400 mL"', '"-1 mL"', "equipment.pack_volume", ["'-1 mL' is out of range", "above 0 up to 50000 mL"]),
    ('"400 mL"', '"nan mL"', "equipment.pack_volume", ["accepted"]),
    ('"400 mL"', '"25 mL"', "equipment", ["leave nothing of the pack"]),
    ('"130 °"', '"45 °"', "equipment.point_angle", ["'45 °' is out of range", "from 60 to 180 °"]),
    (
        'graduation = "1 mL"',
        'graduation = "1 mL"\nstroke = "5 mL"',
        "equipment",
        ["exactly one of graduation and stroke", "both"],
    ),
    ('graduation = "1 mL"\n', "", "equipment", ["exactly one of graduation and stroke", "neither"]),
    ('graduation = "1 mL"', 'graduation = "0 mL"', "equipment.graduation", ["'0 mL' is out of range", "from 0.001 to"]),
    (
        "pack_volume",
        "pack_volum",
        "equipment.pack_volum",
        ["'pack_volum'", "did you mean pack_volume?", "Accepted keys"],
    ),
    ('title = "A job for tests"\n', "", "job.title", ["the key job.title is missing"]),
    ("[overfill]", "[overfil]", "overfil", ["'overfil'", "did you mean overfill?"]),
    ("schema = 1", "schema = 2", "schema", ["'2' is not accepted", "accepted: 1"]),
    ("schema = 1\n", "", "schema", ["missing"]),
    ("share = 0.10", 'share = "0.10"', "overfill.share", ["not a bare number", "0.10"]),
    ("share = 0.10", "share = 2.5", "overfill.share", ["'2.5' is out of range", "from 0 to 2"]),
    ("share = 0.10", "share = nan", "overfill.share", ["'nan'", "accepted"]),
    ('units = "metric"', 'units = "imperial"', "display.units", ["'imperial'", "'metric'", "'us'"]),
    ("invented = true", 'invented = "yes"', "job.invented", ["'yes'", "true or false"]),
    ('revision = "0"', "revision = 0", "job.revision", ["'0' is not a text", "quotation marks"]),
    ('number = "T-1"', 'number = "T/1"', "job.number", ["'T/1'", "accepted: 1 to 40"]),
    ('number = "T-1"', 'number = ""', "job.number", ["accepted: 1 to 40"]),
    ('number = "T-1"', 'number = "../x"', "job.number", ["accepted: 1 to 40"]),
    ('number = "T-1"', 'number = "con.1"', "job.number", ["Windows keeps for itself"]),
    ('number = "T-1"', 'number = "T."', "job.number", ["ends with a dot"]),
    ('number = "T-1"', f'number = "{"T" * 41}"', "job.number", ["accepted: 1 to 40"]),
    ('"15 °C"', '"15"', "concrete.temperature", ["no unit", "°F"]),
    ('"15 °C"', '"150 °C"', "concrete.temperature", ["out of range", "from -40 to 60 °C"]),
    ('"schedule.csv"', '"../schedule.csv"', "schedule.file", ["out of the job's folder"]),
    ('"schedule.csv"', '"/etc/schedule.csv"', "schedule.file", ["out of the job's folder"]),
    ('"schedule.csv"', '"schedule.txt"', "schedule.file", [".csv or .xlsx"]),
    ('"adhesive.toml"', '"adhesive.csv"', "adhesive.record", [".toml"]),
    ('[display]\nunits = "metric"\n', "", "display", ["missing", "add the table [display]"]),
    ('title = "A job for tests"', 'title = "two\\nlines"', "job.title", ["line break"]),
    ('title = "A job for tests"', 'title = ""', "job.title", ["empty"]),
]


@pytest.mark.parametrize(
    ("old", "new", "key", "parts"), EDITS, ids=[f"{k}-{i}" for i, (_, _, k, _) in enumerate(EDITS)]
)
def test_key(folder, old, new, key, parts):
    folder.edit(old, new)
    message = folder.only()
    assert message.startswith(f"job.toml, key {key}: ")
    for part in parts:
        assert part in message


@pytest.mark.parametrize(
    ("data", "parts"),
    [
        (b"\xef\xbb\xbfschema = 1\n", ["byte-order mark", "plain UTF-8"]),
        (b'schema = 1\ntitle = "Stra\xdfe"\n', ["not UTF-8", "line 2"]),
        (b"schema = 1\n[job\n", ["line 2", "cannot be read", "accepted"]),
        (b"title = Wall 3\n", ["line 1, column 9", "quotation marks"]),
    ],
)
def test_text_of_the_file(folder, data, parts):
    folder.write("job.toml", data)
    message = folder.only()
    assert message.startswith("job.toml")
    for part in parts:
        assert part in message


@pytest.mark.parametrize("path", ["nowhere", "nowhere/job.toml", "bad\0name"])
def test_unreadable_path(tmp_path, path):
    with pytest.raises(InputErrors, match="cannot be read"):
        load_job(tmp_path / path)


def test_folder_without_job_file(tmp_path):
    with pytest.raises(InputErrors, match="the folder has no job"):
        load_job(tmp_path)


def test_link_out_of_the_folder(folder, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "schedule.csv"
    outside.write_text("secret")
    (folder.path / "schedule.csv").unlink()
    try:
        (folder.path / "schedule.csv").symlink_to(outside)
    except OSError:
        pytest.skip("links need a right that this account has not")
    assert "leads out of the job's folder by a link" in folder.only()


def test_adhesive_record(folder):
    folder.write("adhesive.toml", 'name = "X"\ninvente = true\n')
    message = folder.only()
    assert message.startswith("adhesive.toml, key invente: 'invente' is not a key")
    assert "did you mean invented?" in message


MEASURED = '[measured.A]\ndepth = ["0 mm", "100 mm", "200 mm"]\ndiameter = ["21 mm", "20.5 mm", "20 mm"]\n'


def test_measured(folder):
    folder.edit("[schedule]", MEASURED + "[schedule]")
    hole = folder.load().measured["A"]
    assert (hole.depths, hole.diameters, hole.theta) == ((0.0, 100.0, 200.0), (21.0, 20.5, 20.0), 130.0)


@pytest.mark.parametrize(
    ("old", "new", "place", "parts"),
    [
        ("measured.A", "measured.AA", "measured.AA", ["'AA' is not the mark"]),
        ('"200 mm"', '"199 mm"', "measured.A.depth[2]", ["'199 mm' does not reach", "200 mm"]),
        ('"100 mm"', '"300 mm"', "measured.A.depth", ["increas"]),
        ('"0 mm"', '"1 mm"', "measured.A.depth", ["start with 0 mm"]),
        ('"20 mm"]', '"16 mm"]', "measured.A.diameter[2]", ["'16 mm' is not larger than the bar 16"]),
        (', "20 mm"]', "]", "measured.A", ["3 depths and 2 diameters"]),
        ('"100 mm"', '"100"', "measured.A.depth[1]", ["'100' has no unit"]),
        ("diameter", "diametre", "measured.A.diametre", ["did you mean diameter?"]),
    ],
)
def test_measured_problems(folder, old, new, place, parts):
    folder.edit("[schedule]", MEASURED.replace(old, new) + "[schedule]")
    message = folder.only()
    assert message.startswith(f"job.toml, key {place}: ")
    for part in parts:
        assert part in message


def test_quantities_and_origins(folder):
    job = folder.load()
    assert (job.equipment.pack_volume, job.equipment.graduation, job.equipment.stroke) == (400_000.0, 1000.0, None)
    assert (job.equipment.step, job.equipment.point_angle, job.concrete.temperature) == (1000.0, 130.0, 15.0)
    assert job.origins["equipment.pack_volume"] == "400 mL"
    assert job.files == tuple(job.folder / n for n in ("job.toml", "adhesive.toml", "schedule.csv"))
    assert job.overfill_of(job.group("A")) == 0.10
    assert job.overfill_of(job.group("B")) == 0.2


def test_frozen(folder):
    job = folder.load()
    with pytest.raises(ValueError, match="frozen"):
        job.overfill.share = 1.0
    with pytest.raises(AttributeError):
        job.groups[0].count = 2


def test_nothing_is_evaluated(folder):
    folder.edit('"400 mL"', "\"__import__('os').getpid() mL\"")
    assert "equipment.pack_volume" in folder.only()


@pytest.mark.parametrize("units", ["metric", "us"])
def test_demo(units):
    path = demo_job(units)
    job = load_job(path)
    assert job == load_job(path.parent) == load_job(str(path))
    assert job.units == units
    assert job.job.invented
    assert job.adhesive.invented
    assert {g.direction for g in job.groups} == {"down", "horizontal", "overhead"}
    assert sum(g.overdrill > 0 for g in job.groups) == 1
    # JSON has no dates: an editor shows a schema a date of TOML as its text.
    jsonschema.validate(json.loads(json.dumps(tomllib.loads(path.read_text("utf-8")), default=str)), json_schema())


def test_demo_contents():
    metric, us = load_job(demo_job()), load_job(demo_job("us"))
    assert [g.bar.designation for g in metric.groups] == ["8", "12", "16", "20", "25", "32"]
    assert [g.bar.designation for g in us.groups] == ["#4", "#5", "#6", "#7", "#8"]
    assert [g.hole_diameter for g in us.groups] == [15.875, 19.05, 25.4, 28.575, 31.75]
    assert (metric.number, us.number, list(metric.measured)) == ("DEMO-M1", "DEMO-U1", ["W3"])
    assert us.equipment.stroke == pytest.approx(0.5 * 29573.5295625)  # 1 US fl oz is 231/128 in³
    with pytest.raises(ValueError, match="accepted: metric, us"):
        demo_job("imperial")


def test_schema_is_json_and_refuses_unknown_keys():
    schema = json.loads(json.dumps(json_schema()))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"schema": 1, "extra": 2}, schema)
