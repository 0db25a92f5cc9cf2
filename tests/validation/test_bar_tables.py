"""Bars against published tables.

EN 10080:2005 and ISO 6935-2 (mass = pi d²/4 x 7850 kg/m³); ASTM A615/A615M Table 1; CSA G30.18, as listed at
seaintarchive.org/mailarchive/2002c/msg01442.html. Tolerance: half of the last printed digit for metric masses; 0.3 %
for the US masses, which are printed from another density (pi d²/4 x 3.40 lb/(ft·in²)).
"""

import math

import pytest

from calc.base import bars
from calc.base.bars import STANDARDS, Ribs, Standard, TableError, UnknownBar, find_bar, load_table
from calc.base.units import convert

METRIC = {
    6: 0.222,
    8: 0.395,
    10: 0.617,
    12: 0.888,
    14: 1.208,
    16: 1.578,
    20: 2.466,
    25: 3.853,
    28: 4.834,
    32: 6.313,
    40: 9.865,
    50: 15.413,
}
US = {
    "#3": (0.375, 0.376),
    "#4": (0.5, 0.668),
    "#5": (0.625, 1.043),
    "#6": (0.75, 1.502),
    "#7": (0.875, 2.044),
    "#8": (1.0, 2.670),
    "#9": (1.128, 3.400),
    "#10": (1.270, 4.303),
    "#11": (1.410, 5.313),
    "#14": (1.693, 7.65),
    "#18": (2.257, 13.60),
}


@pytest.mark.parametrize(("size", "mass"), METRIC.items())
def test_metric_mass_is_area_times_density(size, mass):
    assert find_bar(str(size)).mass == mass
    assert math.pi / 4 * size**2 * 7850e-6 == pytest.approx(mass, abs=0.0005001)


def test_a_standard_says_what_its_bars_share():
    """EN 10080: ±6 % up to 8 mm, ±4.5 % above, area of the diameter; the numbered bars take the area of their table."""
    metric, us, csa = (find_bar(name).standard for name in ("16", "#5", "15M"))
    assert [find_bar(name).text for name in ("16", "#5", "15M")] == ["ø16", "#5", "15M"]
    assert metric.mass_tolerance is not None
    assert [metric.mass_tolerance.share(size) for size in (8.0, 10.0)] == [0.06, 0.045]
    assert us.mass_tolerance is None
    assert csa.mass_tolerance is None
    assert [one.ribs.from_memory for one in (metric, us, csa)] == [True, False, True]
    assert find_bar("20").stress_area == pytest.approx(math.pi * 100)
    assert find_bar("20M").stress_area == 300.0


def test_a_further_standard_is_a_table_and_an_entry(tmp_path, monkeypatch):
    """Invented bars of an invented standard: found, named and judged without a line of code more."""
    (tmp_path / "bars_invented.csv").write_text(
        "designation,diameter_mm,area_mm2,mass_kg_per_m,rib_diameter_mm\nZ16,16.0,201.1,1.578,18.0\n"
    )
    own = Standard(
        name="Invented 1",
        key="Invented",
        table="bars_invented.csv",
        sizes="Z16",
        ribs=Ribs("invented", from_memory=False),
    )
    for one in STANDARDS:
        (tmp_path / one.table).write_text((bars._FOLDER / one.table).read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.setattr(bars, "_FOLDER", tmp_path)
    monkeypatch.setattr(bars, "STANDARDS", (*STANDARDS, own))
    bars.all_bars.cache_clear(), find_bar.cache_clear()
    try:
        bar = find_bar("z16")
        assert (bar.text, bar.origin.text, bar.stress_area) == ("Z16", "Invented 1, bar Z16", 201.1)
        assert bar.origin.general == "Invented 1, bar of the group"
        with pytest.raises(UnknownBar, match=r"10M to 55M, Z16\)"):
            find_bar("Z99")
    finally:
        bars.all_bars.cache_clear(), find_bar.cache_clear()


@pytest.mark.parametrize(("name", "row"), US.items())
def test_us_diameter_and_mass(name, row):
    bar = find_bar(name)
    assert convert(bar.diameter, "mm", "in") == pytest.approx(row[0], abs=1e-12)
    assert math.pi / 4 * row[0] ** 2 * 3.40 == pytest.approx(row[1], rel=0.003)


def test_csa_diameters():
    assert [find_bar(f"{n}M").diameter for n in (10, 15, 20, 25, 30, 35, 45, 55)] == [
        11.3,
        16.0,
        19.5,
        25.2,
        29.9,
        35.7,
        43.7,
        56.4,
    ]


def test_a_wrong_row_is_refused(tmp_path):
    """A public table prints 55M as 49.5 mm and 2000 mm² beside 19.625 kg/m."""
    path = tmp_path / "bars.csv"
    path.write_text("designation,diameter_mm,area_mm2,mass_kg_per_m,rib_diameter_mm\n55M,49.5,2000,19.625,59.4\n")
    with pytest.raises(TableError, match=r"bars\.csv, row 2: bar 55M"):
        load_table(path, STANDARDS[2])


def test_an_unknown_bar_gets_near_names():
    with pytest.raises(UnknownBar, match="15M"):
        find_bar("15")
