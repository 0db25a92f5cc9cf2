"""The table [site] of the job file.

Times, breaks, temperatures, ways of preparing the hole, and sentences for bad input.
"""

import tomllib

import pytest
from jobparts import JOB, SITE
from pydantic import ValidationError

from calc.files.site import Site, clock_text


@pytest.fixture
def site_folder(folder):
    folder.write("job.toml", JOB + SITE)
    return folder


def test_a_good_site(site_folder):
    site = site_folder.load().site
    assert (site.crews, site.drills, site.batch, site.ahead, site.seed) == (2, 1, 4, None, 7)
    assert (site.start, site.shift, site.load_wait) == (7 * 3600, 9 * 3600, 7200)
    assert [(b.at, b.length) for b in site.breaks] == [(34200, 1200), (43200, 1800)]
    assert [(p.at, p.temperature) for p in site.temperature] == [(25200, 8.0), (50400, 16.0)]
    assert site.times.brush == 30.0
    assert site.chosen == "drawn"
    assert site.way.extraction is True
    assert site.dust.bag_volume == 5e6
    assert site.dust.density == pytest.approx(2400.0)


def test_times_of_steps(site_folder):
    site = site_folder.load().site
    brushed = site.ways["brushed"]
    # 0.2 m at 300 s per metre, then 15, 30, and its own 25 s
    assert [step.seconds(site.times, 200.0) for step in brushed.steps] == pytest.approx([60.0, 15.0, 30.0, 25.0])
    assert site.way.steps[0].seconds(site.times, 200.0) == pytest.approx(80.0)
    assert site.way.steps[0].name == "drill with extraction"
    assert brushed.steps[1].name == "blow"


def test_one_way_needs_no_choice(site_folder):
    text = site_folder.read("job.toml")
    start, end = text.index("[site.ways.drawn]"), text.index("[site.dust]")
    site_folder.write("job.toml", text[:start] + text[end:])
    assert site_folder.load().site.chosen == "brushed"


def test_a_night_shift(site_folder):
    site_folder.edit('start = "07:00"', 'start = "21:30"')
    site_folder.edit(
        '{ at = "09:30", length = "20 min" }, { at = "12:00", length = "30 min" }',
        '{ at = "01:00", length = "30 min" }',
    )
    site = site_folder.load().site
    assert site.offset(site.breaks[0].at) == 3.5 * 3600


def test_no_site_is_none(folder):
    assert folder.load().site is None


EDITS = [
    ("crews = 2", "crews = 0", "site.crews", ["'0' is too few: somebody has to do the work", "from 1 to 200"]),
    ("crews = 2", "crews = 2.5", "site.crews", ["'2.5' is not a whole number", "from 1 to 200"]),
    ("crews = 2", 'crews = "2"', "site.crews", ["'2' is not a whole number without quotation marks"]),
    ("crews = 2", "crews = true", "site.crews", ["not a whole number"]),
    ("crews = 2\n", "", "site.crews", ["the key site.crews is missing"]),
    ("drills = 1", "drills = 0", "site.drills", ["'0' is too few: no hole is made without a machine"]),
    ("drills = 1", "drils = 1", "site.drils", ["did you mean drills?"]),
    ('start = "07:00"', 'start = "7:00"', "site.start", ["'7:00' is not a time of day", '"07:00"']),
    ('start = "07:00"', 'start = "24:00"', "site.start", ["not a time of day"]),
    ('start = "07:00"', "start = 7", "site.start", ["'7' is not a text", '"07:00"']),
    ('shift = "9 h"', 'shift = "9"', "site.shift", ["'9' has no unit"]),
    ('shift = "9 h"', 'shift = "25 h"', "site.shift", ["'25 h' is out of range", "up to 24 h"]),
    ('shift = "9 h"', 'shift = "0 h"', "site.shift", ["out of range"]),
    ('at = "09:30"', 'at = "06:30"', "site", ["the break at 06:30 is not inside the shift", "07:00 to 16:00"]),
    ('at = "12:00"', 'at = "15:45"', "site", ["the break at 15:45 is not inside the shift"]),
    ('at = "12:00"', 'at = "09:45"', "site", ["the break at 09:45 begins before the one before it ends"]),
    ('length = "20 min"', 'length = "20 mm"', "site.breaks[0].length", ["wrong kind of unit 'mm'"]),
    ('length = "20 min"', 'lenght = "20 min"', "site.breaks[0].lenght", ["did you mean length?"]),
    ('"8 °C"', '"8"', "site.temperature[0].temperature", ["'8' has no unit"]),
    ('"8 °C"', '"80 °C"', "site.temperature[0].temperature", ["'80 °C' is out of range", "from -40 to 60 °C"]),
    ('at = "14:00"', 'at = "06:00"', "site.temperature", ["06:00 stands after 07:00", "rising"]),
    ('at = "14:00"', 'at = "07:00"', "site.temperature", ["each time once"]),
    ("batch = 4", "batch = 0", "site.batch", ["'0' is too few: a batch is at least one hole"]),
    ("reserve = 0.05", "reserve = -0.1", "site.reserve", ["'-0.1' is out of range"]),
    (
        "reserve = 0.05",
        "reserve = 0.05\nvariation = -0.1",
        "site.variation",
        ["'-0.1' is out of range", "from 0 to 1, such as 0.2"],
    ),
    ("reserve = 0.05", "reserve = 0.05\nvariation = nan", "site.variation", ["accepted"]),
    ("seed = 7", "seed = -7", "site.seed", ["a seed is not negative"]),
    ("seed = 7", "seed = 7\nahead = 0", "site.ahead", ["'0' is too few: at least one hole"]),
    ('load_wait = "2 h"', 'load_wait = "-2 h"', "site.load_wait", ["out of range"]),
    ('inject = "20 s"\n', "", "site.times.inject", ["missing", "Injecting a hole"]),
    ('inject = "20 s"', 'inject = "20,5 s"', "site.times.inject", ["has a comma"]),
    (
        'drill_per_metre = "300 s"',
        'drill_per_metre = "300 s"\ndrill = "60 s"',
        "site.times",
        ["drill and drill_per_metre are both given"],
    ),
    (
        'drill_per_metre = "300 s"\n',
        "",
        "site",
        ["ways.brushed.steps[0]", "the step 'drill' has no time", "drill in [site.times]"],
    ),
    ('blow = "15 s"\n', "", "site", ["ways.brushed.steps[1]", "'blow' has no time"]),
    ('{ do = "drill" }, ', "", "site.ways.brushed", ["steps holds no drilling"]),
    (
        'do = "brush"',
        'do = "polish"',
        "site.ways.brushed.steps[2].do",
        ["'polish' is not accepted", "'drill'", "'brush'"],
    ),
    (
        'do = "blow", time = "25 s"',
        'do = "blow", time = "25 s", per_metre = "9 s"',
        "site.ways.brushed.steps[3]",
        ["time and per_metre are both given"],
    ),
    ("extraction = false", "holes_per_bag = 5\nextraction = false", "site.ways.brushed", ["nothing here fills a bag"]),
    ("extraction = false\n", "", "site.ways.brushed.extraction", ["missing"]),
    ("holes_per_charge = 30", "holes_per_charge = 0", "site.ways.brushed.holes_per_charge", ["'0' is too few"]),
    ('way = "drawn"', 'way = "dry"', "site", ["preparation.way 'dry' is none of the ways", "brushed, drawn"]),
    ('[site.preparation]\nway = "drawn"\n', "", "site", ["several ways and none is chosen", "brushed, drawn"]),
    ("bulking = 1.5", "bulking = 0.5", "site.dust.bulking", ["'0.5' is out of range", "from 1 to 5"]),
    ('"2400 kg/m³"', '"2.4 kg/m³"', "site.dust.density", ["out of range"]),
    ('bag_volume = "5 L"', 'bag_volume = "0 L"', "site.dust.bag_volume", ["out of range"]),
]


@pytest.mark.parametrize(
    ("old", "new", "key", "parts"), EDITS, ids=[f"{key}-{i}" for i, (_, _, key, _) in enumerate(EDITS)]
)
def test_bad_input(site_folder, old, new, key, parts):
    site_folder.edit(old, new)
    message = site_folder.only()
    assert message.startswith(f"job.toml, key {key}: "), message
    for part in parts:
        assert part in message


@pytest.mark.parametrize(
    ("key", "value", "part"),
    [
        ("breaks", "10:00", 'is not a list; accepted: a list of breaks, such as [{ at = "10:00"'),
        ("temperature", {"at": "07:00"}, "is not a list"),
        ("temperature", [], "is empty; accepted: at least one point"),
        ("ways", [], "is not a table; accepted: one table for each way"),
        ("ways", {}, "is empty; accepted: at least one way"),
    ],
)
def test_other_shapes(key, value, part):
    raw = tomllib.loads(SITE)["site"] | {key: value}
    with pytest.raises(ValidationError) as caught:
        Site.model_validate(raw)
    assert any(part in error["msg"] for error in caught.value.errors())


@pytest.mark.parametrize(
    ("at", "text"), [(0.0, "00:00"), (59.0, "00:00"), (86_340.0, "23:59"), (86_400.0 + 3600.0, "01:00")]
)
def test_clock(at, text):
    assert clock_text(at) == text


DAYS = """\
[site.kinds.cold]
temperature = [{ at = "07:00", temperature = "3 °C" }]
night_low = "1 °C"
[[site.days]]
date = 2026-12-04
groups = ["A"]
[[site.days]]
date = 2026-12-07
kind = "cold"
groups = ["A", "B"]
[[site.days]]
"""


def test_days_of_the_work(site_folder):
    site_folder.edit("[site.times]", DAYS + "[site.times]")
    site = site_folder.load().site
    assert (site.day_one.isoformat(), site.calendar) == ("2026-12-04", (0, 3, 4))
    assert [(key, course[0].temperature, low) for key, course, low in site.courses] == [
        ("site", 8.0, 8.5),
        ("site.kinds.cold", 3.0, 1.0),
        ("site", 8.0, 8.5),
    ]
    assert (site.days_of("A"), site.days_of("B"), site.days_of("C")) == ((0, 3), (3,), ())
    assert (site.is_night(3 * 3600.0), site.is_night(8 * 3600.0), site.is_night(17 * 3600.0)) == (True, False, True)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('kind = "cold"', 'kind = "icy"', "day 2 is of the kind 'icy', which is none of the kinds; accepted: cold"),
        ("date = 2026-12-07", "date = 2026-12-04", "day 2 is not after the day before it; accepted: dates in order"),
        ("date = 2026-12-04\n", "", "day 2 has a date and the first day has none; accepted: the first day's date too"),
        ('groups = ["A"]', 'groups = ["X"]', "'X' is not the mark of a bar group in the schedule"),
        ("[site.kinds.cold]", "date = 2026-12-05\n[site.kinds.cold]", "date is not that of the first of the days"),
        ('groups = ["A"]', 'groups = "A"', "is not a list; accepted: a list of marks"),
    ],
)
def test_days_that_cannot_be(site_folder, old, new, words):
    site_folder.edit("[site.times]", DAYS + "[site.times]")
    site_folder.edit(old, new)
    assert words in site_folder.only()
