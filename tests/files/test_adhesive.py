"""The adhesive record: optional keys, time tables, and what is refused."""

import datetime

import pytest

from calc.files.adhesive import equipment_notices
from calc.files.job import demo_job
from calc.files.problems import InputErrors
from calc.work.load import load_job

RECORD = """\
name = "Nothing"
invented = true
density = "1600 kg/m³"
pack_volume = "400 mL"
residual = "10 mL"
discard_per_mixer = "20 mL"
discard_per_pack = "5 mL"
mixer_volume = "12 mL"
extension_volume = "40 mL"
extension_length = "1 m"
nozzle_reach = "200 mm"
extension_reach = "700 mm"
working_time = [{ from = "0 °C", to = "10 °C", time = "40 min" }, { from = "10 °C", to = "20 °C", time = "22 min" }]
curing_time = [{ at = "0 °C", time = "20 h" }, { at = "10 °C", time = "9 h" }, { at = "20 °C", time = "270 min" }]
base_temperature = { from = "0 °C", to = "20 °C" }
pack_temperature = { from = "5 °C", to = "30 °C" }
hole_conditions = ["dry", "damp"]
expiry = 2027-06-30
price_per_pack = 21.5
currency = "EUR"
"""


@pytest.fixture
def full(folder):
    folder.write("adhesive.toml", RECORD)
    return folder


def test_a_record_of_before_still_loads(folder):
    record = folder.load().adhesive
    assert (record.name, record.invented, record.approval) == ("Nothing", True, "")
    assert record.working is None
    assert record.curing is None
    assert record.reach is None
    assert record.content_of_mixer(300.0) == 0.0
    assert not record.expired(datetime.date(2100, 1, 1))
    assert record.notices() == ()
    assert equipment_notices(record, pack_volume=4e5, residual=1e4, discard_per_mixer=2e4) == ()


def test_a_full_record(full):
    record = full.load().adhesive
    assert record.density == 1600.0
    assert (record.pack_volume, record.residual, record.discard_per_mixer, record.discard_per_pack) == (
        4e5,
        1e4,
        2e4,
        5e3,
    )
    assert [(r.low, r.high, r.time) for r in record.working.rows] == [(0.0, 10.0, 40.0), (10.0, 20.0, 22.0)]
    assert [(r.low, r.high, r.time) for r in record.curing.rows] == [
        (0.0, 0.0, 1200.0),
        (10.0, 10.0, 540.0),
        (20.0, 20.0, 270.0),
    ]
    assert record.hole_conditions == ("dry", "damp")
    assert record.base_temperature.holds(20.0)
    assert not record.base_temperature.holds(20.1)
    assert (record.price_per_pack, record.currency) == (21.5, "EUR")
    assert record.reach == 700.0


def test_the_last_day_is_still_good(full):
    record = full.load().adhesive
    assert not record.expired(datetime.date(2027, 6, 30))
    assert record.expired(datetime.date(2027, 7, 1))


@pytest.mark.parametrize(("depth", "volume"), [(0.0, 12e3), (200.0, 12e3), (450.0, 22e3), (700.0, 32e3)])
def test_a_tube_adds_to_what_the_mixer_holds(full, depth, volume):
    assert full.load().adhesive.content_of_mixer(depth) == pytest.approx(volume)


def test_the_job_file_governs_and_the_difference_is_told(full):
    full.edit('residual = "10 mL"', 'residual = "8 mL"', "adhesive.toml")
    job = full.load()
    own = job.equipment
    assert own.residual == 1e4
    told = equipment_notices(
        job.adhesive, pack_volume=own.pack_volume, residual=own.residual, discard_per_mixer=own.discard_per_mixer
    )
    assert told == (
        "equipment.residual of the job file, 10.000 mL, is used in place of the adhesive record's 8.0000 mL.",
    )


def test_notices_of_a_doubtful_record(full):
    full.edit('time = "22 min"', 'time = "39 min"', "adhesive.toml")
    full.edit(
        'base_temperature = { from = "0 °C", to = "20 °C" }',
        'base_temperature = { from = "-5 °C", to = "20 °C" }',
        "adhesive.toml",
    )
    told = full.load().adhesive.notices()
    assert len(told) == 3
    assert "working times between 10 °C and 20 °C imply" in told[0]
    assert told[1] == "The record allows -5 to 20 °C, but its working times cover 0 to 20 °C only."
    assert "curing times cover 0 to 20 °C only" in told[2]


@pytest.mark.parametrize(
    ("old", "new", "key", "parts"),
    [
        ('density = "1600 kg/m³"', 'density = "1.6 kg"', "density", ["wrong kind of unit", "from 500 to 4000 kg/m³"]),
        ('density = "1600 kg/m³"', 'density = "16000 kg/m³"', "density", ["out of range"]),
        ('"12 mL"', '"12,5 mL"', "mixer_volume", ["has a comma"]),
        ('"40 min"', '"40"', "working_time[0].time", ["has no unit", "min"]),
        ('"40 min"', '"0 min"', "working_time[0].time", ["out of range", "above 0"]),
        ('"40 min"', '"20 min"', "working_time", ["the time grows with the temperature"]),
        ('to = "10 °C", time = "40 min"', 'to = "11 °C", time = "40 min"', "working_time", ["overlap"]),
        ('to = "10 °C", time = "40 min"', 'to = "9 °C", time = "40 min"', "working_time", ["leave a gap"]),
        (
            'to = "10 °C", time = "40 min"',
            'time = "40 min"',
            "working_time[0]",
            ["one form", "accepted: at, or from and to"],
        ),
        ('{ from = "0 °C", to = "10 °C", time', '{ at = "5 °C", time', "working_time", ["mixes rows"]),
        (
            'from = "0 °C", to = "10 °C", time',
            'from = "10 °C", to = "0 °C", time',
            "working_time[0]",
            ["from is not below to"],
        ),
        (
            'from = "0 °C", to = "10 °C", time',
            'form = "0 °C", to = "10 °C", time',
            "working_time[0].form",
            ["did you mean from?"],
        ),
        (
            '{ at = "0 °C", time = "20 h" }, { at = "10 °C", time = "9 h" }, { at = "20 °C", time = "270 min" }',
            "",
            "curing_time",
            ["no row"],
        ),
        ('curing_time = [{ at = "0 °C", time = "20 h" }, ', "curing_time = [7, ", "curing_time", ["not a time table"]),
        (
            '{ at = "0 °C", time = "20 h" }, { at = "10 °C"',
            '{ at = "10 °C", time = "20 h" }, { at = "10 °C"',
            "curing_time",
            ["at the same temperature"],
        ),
        (
            'base_temperature = { from = "0 °C", to = "20 °C" }',
            'base_temperature = { from = "20 °C", to = "0 °C" }',
            "base_temperature",
            ["from is not below to"],
        ),
        ('["dry", "damp"]', '["dry", "wet"]', "hole_conditions[1]", ["'wet'", "'damp'", "'flooded'"]),
        ('["dry", "damp"]', '["dry", "dry"]', "hole_conditions", ["one twice"]),
        ('["dry", "damp"]', "[]", "hole_conditions", ["names no condition"]),
        ("2027-06-30", '"2027-06-30"', "expiry", ["is not a date", "2027-06-30"]),
        ("2027-06-30", "2027-06-30T10:00:00", "expiry", ["is not a date"]),
        ("21.5", "-1.0", "price_per_pack", ["'-1.0' is out of range", "its currency is a key of its own"]),
        ("21.5", "nan", "price_per_pack", ["is not a finite number"]),
        ("21.5", '"21.50 EUR"', "price_per_pack", ["without quotation marks"]),
        ("mixer_volume", "mixer_volum", "mixer_volum", ["did you mean mixer_volume?"]),
    ],
)
def test_refused_keys(full, old, new, key, parts):
    full.edit(old, new, "adhesive.toml")
    message = full.only()
    assert message.startswith(f"adhesive.toml, key {key}: ")
    for part in parts:
        assert part in message


@pytest.mark.parametrize(
    ("old", "new", "parts"),
    [
        ('extension_length = "1 m"\n', "", ["extension_volume and extension_length belong together"]),
        ('extension_reach = "700 mm"', 'extension_reach = "200 mm"', ["not deeper than nozzle_reach"]),
        ('currency = "EUR"\n', "", ["price_per_pack has no currency"]),
        ('mixer_volume = "12 mL"', 'mixer_volume = "370 mL"', ["leave nothing of the pack"]),
        (
            'time = "270 min"',
            'time = "21 min"',
            ["at 20 °C curing_time gives 21 min and working_time 22 min", "not shorter"],
        ),
    ],
)
def test_keys_that_do_not_go_together(full, old, new, parts):
    full.edit(old, new, "adhesive.toml")
    message = full.only()
    assert message.startswith("adhesive.toml: ")
    for part in parts:
        assert part in message


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_demo_records_are_invented_complete_and_plausible(units):
    job = load_job(demo_job(units))
    record = job.adhesive
    assert record.invented
    assert record.approval == ""
    assert "nvented" in record.note
    assert record.notices() == ()
    assert record.working.low <= job.concrete.temperature <= record.working.high
    assert record.base_temperature.holds(job.concrete.temperature)
    assert record.reach >= max(group.embedment + group.overdrill for group in job.groups)
    unset = {name for name in type(record).model_fields if getattr(record, name) is None}
    assert unset == {"pack_volume", "residual", "discard_per_mixer"}


def test_cleaning_is_kept_in_its_order(folder):
    folder.write(
        "adhesive.toml", 'name = "Nothing"\ninvented = true\ncleaning = ["Blow twice", "Brush", "Blow twice"]\n'
    )
    assert folder.load().adhesive.cleaning == ("Blow twice", "Brush", "Blow twice")


@pytest.mark.parametrize("typed", ['"Blow"', "[]", '[""]', '["Blow\\nBrush"]', "[2]"])
def test_cleaning_is_a_list_of_lines(folder, typed):
    folder.write("adhesive.toml", f'name = "Nothing"\ninvented = true\ncleaning = {typed}\n')
    with pytest.raises(InputErrors) as caught:
        folder.load()
    assert "key cleaning" in str(caught.value)
