"""Reading site measurements: three ways of measuring, and every sentence about what is wrong."""

import hashlib
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from calc.base.units import convert
from calc.evidence.limits import upper_limits
from calc.evidence.outliers import outliers
from calc.files.evidence import read_measurements
from calc.files.job import demo_job
from calc.files.problems import InputErrors
from calc.fill.hole import required_volume
from calc.work.load import load_job

VOLUME, MASS, SIZE = (
    "hole,mark,volume [mL]",
    "hole,mark,mass [g],density [g/mL]",
    "hole,mark,hole_diameter [mm],depth [mm]",
)
# The groups of the schedule in jobparts: A is bar 16 in 20 × 200, B is bar #5 in 22 × 220 with 10 mm overdrill.


@pytest.fixture
def site(folder):
    job = folder.load()

    def read(*lines, **options):
        return read_measurements(folder.write("site.csv", "\n".join(lines) + "\n"), job=job, **options)

    read.job, read.folder = job, folder
    return read


def problems(site, *lines, **options):
    with pytest.raises(InputErrors) as caught:
        site(*lines, **options)
    return [str(problem) for problem in caught.value.problems]


def only(site, *lines, **options):
    found = problems(site, *lines, **options)
    assert len(found) == 1, found
    return found[0]


# ---- what is read ----


def test_volumes(site):
    found = site(
        VOLUME + ",exclude,note", "1,A,24.1,,", "2,A,31,ran into a void,seen at the mouth", ",,,,", "1,B,40.5 mL,,"
    )
    assert found.kind == "volume"
    assert [(r.hole, r.mark, r.volume, r.excluded, r.row) for r in found.rows] == [
        ("1", "A", 24100.0, "", 2),
        ("2", "A", 31000.0, "ran into a void", 3),
        ("1", "B", 40500.0, "", 5),
    ]
    assert found.rows[0].given["volume"] == "24.1 mL"
    assert found.rows[2].given["volume"] == "40.5 mL"
    assert found.marks == ("A", "B")
    assert found.names == ("A 1", "A 2", "B 1")
    of_a = found.of("A")
    assert of_a.names == ("1", "2")
    assert of_a.volumes() == (24.1, 31.0)
    kept = of_a.kept()
    assert kept.values == (24.1,)
    assert [(p.name, reason) for p, reason in kept.left_out] == [("2", "ran into a void")]
    with pytest.raises(KeyError, match="no measured hole of 'C'; it holds: A, B"):
        found.of("C")
    assert found.sha256 == hashlib.sha256((site.folder.path / "site.csv").read_bytes()).hexdigest()


def nominal(job, mark):
    group = job.group(mark)
    sizes = {
        "d_0": group.hole_diameter,
        "phi": group.bar.diameter,
        "l_v": group.embedment,
        "overdrill": group.overdrill,
    }
    return required_volume(**sizes, theta=job.equipment.point_angle)


def test_masses(site):
    found = site(MASS, "1,A,40,1.6", "2,A,42,1.5")
    assert [r.volume for r in found.rows] == pytest.approx([25000.0, 28000.0])
    assert {r.kind for r in found.rows} == {"mass"}
    assert site("hole,mark,mass [kg]", "1,A,0.040", density=1.6).rows[0].volume == pytest.approx(25000.0)
    assert site("hole,mark,mass [g],density [kg/m³]", "1,A,40,1600").rows[0].volume == pytest.approx(25000.0)
    assert [r.volume for r in site(MASS, "1,A,40,", "2,A,40,2", density=1.6).rows] == pytest.approx([25000.0, 20000.0])


def test_sizes(site):
    # A: bar 16, 200 deep. 22 mm and 215 deep: annulus π/4 (22² − 16²) 200 = 35814.2, 15 mm beyond the bar π/4 22² 15 =
    # 5702.0,
    # cone of 130°: height 11/tan 65° = 5.1294, π/12 22² 5.1294 = 649.95.
    found = site(SIZE, "1,A,22,215")
    assert found.rows[0].volume == pytest.approx(35814.16 + 5701.99 + 649.95, abs=0.5)
    assert found.rows[0].volume == pytest.approx(
        required_volume(d_0=22.0, phi=16.0, l_v=200.0, overdrill=15.0, theta=130.0)
    )
    assert found.rows[0].kind == "size"
    assert site("hole,mark,hole_diameter [in],depth [cm]", "1,A,7/8,21.5").rows[0].volume == pytest.approx(
        required_volume(d_0=22.225, phi=16.0, l_v=200.0, overdrill=15.0, theta=130.0)
    )
    assert site(SIZE, "1,A,20,200").rows[0].volume == pytest.approx(nominal(site.job, "A"))


def test_the_demo_has_one_outlier():
    job = load_job(demo_job())
    found = read_measurements(job.folder / "measurements.csv", job=job).of("S2")
    kept = found.kept()
    assert len(kept.values) == 30
    assert kept.left_out == ()
    assert [p.name for p in outliers(values=kept.values, names=kept.names).outliers] == ["19"]
    assert upper_limits(values=kept.values).tolerance.high > convert(nominal(job, "S2"), "mm³", "mL")
    assert "Invented" in found.rows[0].note


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(5.0, 90.0), st.sampled_from(["mL", "ml", "mm³", "L", "in³", "in3", "fl oz", "cm³"]))
def test_the_unit_of_the_header_changes_nothing(site, volume, unit):
    typed = f"{convert(volume, 'mL', unit):.12g}"
    assert site(f"hole,mark,volume [{unit}]", f"1,A,{typed}").rows[0].volume == pytest.approx(1000 * volume, rel=1e-9)


# ---- what is refused: cells ----

CELLS = [
    (VOLUME, '1,A,"24,1"', "volume", ["'24,1' has a comma", "decimal point", "accepted"]),
    (VOLUME, "1,A,about 24", "volume", ["'about 24' is not a number", "accepted: above 0 up to"]),
    (VOLUME, "1,A,", "volume", ["the cell is empty", "accepted"]),
    (VOLUME, "1,A,nan", "volume", ["not a finite number"]),
    (VOLUME, "1,A,1e999", "volume", ["too large"]),
    (VOLUME, "1,A,0", "volume", ["'0' is zero", "above 0"]),
    (VOLUME, "1,A,-3", "volume", ["'-3' is negative", "above 0"]),
    (VOLUME, "1,A,1e9", "volume", ["'1e9' is too large", "mL"]),
    (VOLUME, "1,A,0.024 L", "volume", ["has the unit L", "header of this column says [mL]", "in one unit"]),
    (VOLUME, "1,A,24 g", "volume", ["wrong kind of unit 'g'", "accepted"]),
    (VOLUME, "1,A,24mL", "volume", ["one space"]),
    (VOLUME, ",A,24", "hole", ["the cell is empty", "name or number"]),
    (VOLUME, "1,,24", "mark", ["the cell is empty", "mark of its bar group"]),
    (VOLUME, "1,a,24", "mark", ["'a' is not a bar group of the schedule", "did you mean A?", "Accepted: A, B"]),
    (VOLUME, "1,W9,24", "mark", ["'W9' is not a bar group", "Accepted: A, B"]),
    (VOLUME, f"{'x' * 41},A,24", "hole", ["is too long", "40 characters"]),
    (VOLUME, '"1\n2",A,24', "hole", ["does not print"]),
    (MASS, "1,A,0,1.6", "mass", ["'0' is zero"]),
    (MASS, "1,A,40,", "density", ["the cell is empty"]),
    (MASS, "1,A,40,1600", "density", ["'1600' is too large", "from 0.2 to 10 g/mL"]),
    (MASS, "1,A,40,0.1", "density", ["'0.1' is too small"]),
    (MASS, "1,A,0.04 kg,1.6", "mass", ["has the unit kg", "says [g]"]),
    (
        SIZE,
        "1,A,16,200",
        "hole_diameter",
        ["'16' is not larger than the bar 16 of A, 16 mm", "accepted: a hole above 16 mm"],
    ),
    (SIZE, "1,A,20,199", "depth", ["'199' is less than the embedment of A, 200 mm", "accepted: 200 mm or more"]),
    (SIZE, "1,A,201,200", "hole_diameter", ["too large", "200 mm"]),
    (SIZE, "1,A,20,", "depth", ["the cell is empty"]),
]


@pytest.mark.parametrize(("header", "row", "column", "parts"), CELLS, ids=[f"{c}-{r[:12]}" for _, r, c, _ in CELLS])
def test_cell(site, header, row, column, parts):
    message = only(site, header, row)
    assert message.startswith(f"site.csv, row 2, column {column}: ")
    for part in parts:
        assert part in message


def test_a_hole_is_named_once_for_its_mark(site):
    assert "row 3, column hole: '1' is already the hole of row 2, mark A" in only(site, VOLUME, "1,A,24", "1,A,25")
    assert len(site(VOLUME, "1,A,24", "1,B,25").rows) == 2


def test_not_all_may_be_left_out(site):
    assert "column exclude: every hole of B is left out" in only(site, VOLUME + ",exclude", "1,A,24,", "1,B,25,wet")


def test_all_problems_are_told_at_once(site):
    found = problems(site, VOLUME, "1,A,x", "2,C,24", "3,A,-1,4", ",A,0", name="holes.csv")
    assert [text.split(": ")[0] for text in found] == [
        "holes.csv, row 2, column volume",
        "holes.csv, row 3, column mark",
        "holes.csv, row 4",
        "holes.csv, row 5, column hole",
        "holes.csv, row 5, column volume",
    ]
    assert "too many cells: 4, and the header has 3" in found[2]


# ---- what is refused: headers ----

HEADERS = [
    ("hole,mark,volume", ["row 1, column volume", "no unit in square brackets", "volume [mL]"]),
    ("hole,mark,volume (mL)", ["no unit in square brackets", "volume [mL]"]),
    ("hole,mark,volume [g]", ["has the unit [g], which is not read here", "mL"]),
    ("hole,mark,volume [cubic]", ["has the unit [cubic]"]),
    ("hole,mark [mm],volume [mL]", ["takes no unit; write 'mark'"]),
    ("mark,volume [mL]", ["the column hole is missing"]),
    ("hole,volume [mL]", ["the column mark is missing"]),
    ("hole,mark", ["no column says what was measured", "mass [g]"]),
    ("hole,mark,volum [mL]", ["did you mean volume?", "Accepted columns"]),
    ("hole,mark,volume [mL],volume [mL]", ["is there twice"]),
    ("hole,mark,volume [mL],mass [g],density [g/mL]", ["two ways of measuring", "the volume and the mass"]),
    ("hole,mark,mass [g]", ["needs the density", "density [g/mL]"]),
    ("hole,mark,volume [mL],density [g/mL]", ["stands without a mass"]),
    ("hole,mark,depth [mm]", ["the column hole_diameter is missing", "hole_diameter [mm]"]),
    ("hole,mark,volume [mL],", ["the header cell is empty"]),
    ("hole;mark;volume [mL]", ["separated by semicolons", "commas between cells"]),
]


@pytest.mark.parametrize(("header", "parts"), HEADERS, ids=[h for h, _ in HEADERS])
def test_header(site, header, parts):
    count = header.count(",") + 1
    cells = ["1", "A", "24", "1.6", "5"][:count]
    text = "\n".join(problems(site, header, ",".join(cells)))
    assert text.startswith("site.csv, row 1")
    for part in parts:
        assert part in text


# ---- what is refused: files ----


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "no measurements; row 1 must be a header"),
        (VOLUME.encode() + b"\n", "no measurements below the header"),
        (b"\xef\xbb\xbfhole", "byte-order mark"),
        (b"hole,mark\n\xff", "not UTF-8"),
        (VOLUME.encode() + b'\n"1,A,3\n', "quotation marks"),
        (b"hole\0", "zero byte"),
    ],
)
def test_file(site, data, says):
    path = site.folder.write("site.csv", data)
    with pytest.raises(InputErrors, match=says) as caught:
        read_measurements(path, job=site.job)
    assert str(caught.value).startswith("site.csv")


def test_no_file_and_no_csv(site):
    with pytest.raises(InputErrors, match=r"site\.csv: the file cannot be read: there is no such file"):
        read_measurements(site.folder.path / "site.csv", job=site.job)
    with pytest.raises(InputErrors, match="save the sheet as CSV"):
        read_measurements(site.folder.write("site.xlsx", b"PK"), job=site.job)


@pytest.mark.parametrize("density", [0.0, -1.0, 1600.0, math.nan])
def test_density_for_the_whole_file(site, density):
    assert "out of range; accepted: from 0.2 to 10 g/mL" in "\n".join(
        problems(site, "hole,mark,mass [g]", "1,A,40", density=density)
    )
