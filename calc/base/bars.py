"""Published bar tables, loaded once; for volumes the diameter counts, since a table's area is rounded.

What differs from one bar standard to another is said by its `Standard`, and by nothing else: a further standard is one
table in the folder ``data`` and one entry in `STANDARDS`.
"""

from __future__ import annotations

import csv
import difflib
import math
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from calc.base.errors import NotAccepted
from calc.base.sheet import Origin
from calc.base.units import convert

DENSITY_STEEL = 7850.0  # kg/m³, EN 10080 and ISO 6935-2
_FOLDER = Path(__file__).parent / "data"


class UnknownBar(NotAccepted):
    """A bar designation that stands in none of the tables."""


class TableError(NotAccepted):
    """A bar table contradicts itself."""


@dataclass(frozen=True)
class Ribs:
    """Where the diameters over the ribs in a standard's table come from; what is only remembered is said to be so."""

    source: str
    from_memory: bool


@dataclass(frozen=True)
class MassTolerance:
    """By which share the mass of a bar may deviate: one up to a diameter [mm], another above; and where that stands."""

    up_to: float
    small: float
    large: float
    source: str

    def share(self, diameter: float) -> float:
        """The share that holds for a nominal diameter [mm]."""
        return self.small if diameter <= self.up_to else self.large


@dataclass(frozen=True)
class Standard:
    """A bar standard: what its tables say, and what the rest of the workbook has to know of its bars.

    Attributes
    ----------
    name
        As it is quoted.
    key
        Its name in a job file: what ``name`` begins with.
    table
        The file of its bars in the folder ``data``; in its heading stands how it was read.
    sizes
        The first and the last size, as people write them.
    ribs
        Where the diameters over the ribs come from.
    area_from_diameter
        Whether a force is divided by the area of the nominal diameter, and not by the rounded area of the table.
    mass_tolerance
        None when none is at hand.
    sign
        What people write before a bare number.
    """

    name: str
    key: str
    table: str
    sizes: str
    ribs: Ribs
    area_from_diameter: bool = False
    mass_tolerance: MassTolerance | None = None
    sign: str = ""

    @property
    def any_bar(self) -> str:
        """An origin that holds for every bar of the standard."""
        return f"{self.name}, bar of the group"


_TIMES_1_20 = Ribs("1.20 times the nominal diameter, from memory", from_memory=True)

STANDARDS = (
    Standard(
        name="EN 10080 / ISO 6935-2",
        key="EN 10080",
        table="bars_en10080.csv",
        sizes="6 to 50",
        ribs=_TIMES_1_20,
        area_from_diameter=True,
        mass_tolerance=MassTolerance(8.0, 0.06, 0.045, "EN 10080: mass of a bar within ±6 % up to 8 mm, ±4.5 % above"),
        sign="ø",
    ),
    Standard(
        name="ASTM A615 Table 1",
        key="ASTM A615",
        table="bars_astm_a615.csv",
        sizes="#3 to #18",
        ribs=Ribs("published diameter over the ribs of US bars", from_memory=False),
    ),
    Standard(name="CSA G30.18", key="CSA G30.18", table="bars_csa_g3018.csv", sizes="10M to 55M", ribs=_TIMES_1_20),
)


@dataclass(frozen=True)
class Bar:
    """One line of a bar table: nominal diameter [mm], area [mm²], mass [kg/m], diameter over the ribs [mm]."""

    designation: str
    diameter: float
    area: float
    mass: float
    rib_diameter: float
    standard: Standard = field(repr=False)

    @property
    def text(self) -> str:
        """The bar as people write it."""
        return f"{self.standard.sign}{self.designation}"

    @property
    def origin(self) -> Origin:
        """Where the bar's values stand."""
        return Origin(f"{self.standard.name}, bar {self.designation}", general=self.standard.any_bar)

    @property
    def stress_area(self) -> float:
        """Area that a force is divided by [mm²], as the bar's standard means it."""
        return math.pi / 4 * self.diameter**2 if self.standard.area_from_diameter else self.area


def load_table(path: Path, standard: Standard) -> list[Bar]:
    """Read a bar table and refuse a row whose diameter, area and mass do not belong together.

    Raises
    ------
    TableError
        Naming file, row and what disagrees: mass against area x density by more than 1 %, or area against diameter
        by more than 2 %.
    """
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("# ")]
    bars = []
    for number, row in enumerate(csv.DictReader(lines), start=2):
        us = "diameter_in" in row
        length, area_unit, mass_unit = ("in", "in²", "lb/ft") if us else ("mm", "mm²", "kg/m")
        end = "in" if us else "mm"
        bar = Bar(
            designation=row["designation"],
            diameter=convert(float(row[f"diameter_{end}"]), length, "mm"),
            area=convert(float(row[f"area_{end}2"]), area_unit, "mm²"),
            mass=convert(float(row["mass_lb_per_ft" if us else "mass_kg_per_m"]), mass_unit, "kg/m"),
            rib_diameter=convert(float(row[f"rib_diameter_{end}"]), length, "mm"),
            standard=standard,
        )
        exact = math.pi / 4 * bar.diameter**2
        if not math.isclose(bar.mass, exact * 1e-6 * DENSITY_STEEL, rel_tol=0.01):
            raise TableError(
                f"{path.name}, row {number}: bar {bar.designation} has a mass that does not fit its diameter"
            )
        if not math.isclose(bar.area, exact, rel_tol=0.02):
            raise TableError(
                f"{path.name}, row {number}: bar {bar.designation} has an area that does not fit its diameter"
            )
        bars.append(bar)
    return bars


@lru_cache(maxsize=1)
def all_bars() -> dict[str, Bar]:
    """Return every bar of the tables by its designation; two standards with the same designation are refused."""
    found: dict[str, Bar] = {}
    for standard in STANDARDS:
        for bar in load_table(_FOLDER / standard.table, standard):
            if bar.designation in found:
                raise TableError(
                    f"{standard.table}: bar {bar.designation} is listed before, by"
                    f" {found[bar.designation].standard.name}"
                )
            found[bar.designation] = bar
    return found


def accepted_bars(unit: str = "") -> str:
    """Say which bars are known; bare numbers take the unit behind them, if one is given."""
    return ", ".join(f"{one.sizes}{unit if one.sign else ''}" for one in STANDARDS)


@lru_cache(maxsize=4096)
def find_bar(text: str) -> Bar:
    """Find a bar as people write it: ``16``, ``16 mm``, ``ø16``, ``#5``, ``15M``.

    Raises
    ------
    UnknownBar
        A sentence with the near designations and what is accepted.
    """
    bars = all_bars()
    name = text.strip().removesuffix(" mm").lstrip("øØ").removesuffix(".0")
    if name in bars:
        return bars[name]
    if name.upper() in bars:
        return bars[name.upper()]
    near = difflib.get_close_matches(name, list(bars), n=3, cutoff=0.5)
    hint = f"; did you mean {' or '.join(near)}?" if near else ""
    raise UnknownBar(f"'{text}' is not a bar of the tables{hint} (accepted: {accepted_bars(' mm')})")
