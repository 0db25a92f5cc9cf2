"""Published bar tables, loaded once; for volumes the diameter counts, since a table's area is rounded."""

from __future__ import annotations

import csv
import difflib
import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from calc.base.units import convert

DENSITY_STEEL = 7850.0  # kg/m³, EN 10080 and ISO 6935-2
_FOLDER = Path(__file__).parent / "data"
_FROM_MEMORY = "1.20 times the nominal diameter, from memory"


class UnknownBar(ValueError):
    """A bar designation that stands in none of the tables."""


class TableError(ValueError):
    """A bar table contradicts itself."""


@dataclass(frozen=True)
class Bar:
    """One line of a bar table: nominal diameter [mm], area [mm²], mass [kg/m], diameter over the ribs [mm]."""

    designation: str
    diameter: float
    area: float
    mass: float
    rib_diameter: float
    rib_source: str
    standard: str

    @property
    def text(self) -> str:
        """The bar as people write it."""
        return f"ø{self.designation}" if self.designation.isdigit() else self.designation


_TABLES = (
    ("bars_en10080.csv", "EN 10080 / ISO 6935-2", _FROM_MEMORY),
    ("bars_astm_a615.csv", "ASTM A615 Table 1", "published diameter over the ribs of US bars"),
    ("bars_csa_g3018.csv", "CSA G30.18", _FROM_MEMORY),
)


def load_table(path: Path, standard: str, rib_source: str) -> list[Bar]:
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
            rib_source=rib_source,
            standard=standard,
        )
        exact = math.pi / 4 * bar.diameter**2
        if not math.isclose(bar.mass, exact * 1e-6 * DENSITY_STEEL, rel_tol=0.01):
            raise TableError(f"{path.name}, row {number}: bar {bar.designation} has a mass that does not fit its diameter")
        if not math.isclose(bar.area, exact, rel_tol=0.02):
            raise TableError(f"{path.name}, row {number}: bar {bar.designation} has an area that does not fit its diameter")
        bars.append(bar)
    return bars


@lru_cache(maxsize=1)
def all_bars() -> dict[str, Bar]:
    """Return every bar of the three tables by its designation."""
    return {bar.designation: bar for name, standard, ribs in _TABLES for bar in load_table(_FOLDER / name, standard, ribs)}


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
    raise UnknownBar(f"'{text}' is not a bar of the tables{hint} (accepted: 6 to 50 mm, #3 to #18, 10M to 55M)")
