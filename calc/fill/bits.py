"""How far a drilled hole and a delivered bar may be from their names.

Bits by state, bars by the tolerance on their mass.
"""

from __future__ import annotations

import csv
import itertools
from functools import lru_cache
from pathlib import Path

from calc.base.bars import Bar
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import sqrt
from calc.base.units import Mm, Ratio

SOURCE = (
    "cutting diameters of hammer bits: from memory; EOTA documents and ISO 5468 hold the published table, which was not"
    " at hand"
)
STATES = ("worn", "medium", "new")

_TABLE = Path(__file__).parent / "data" / "bits.csv"
_OTHERWISE = "give the hole's limits, or its mean and sd"


class BitTableError(NotAccepted):
    """The table of bits contradicts itself."""


def load_bits(path: Path) -> dict[tuple[float, str], tuple[float, float]]:
    """Read a table of cutting diameters.

    Parameters
    ----------
    path : Path
        CSV with the columns nominal_mm, state, low_mm, high_mm.

    Returns
    -------
    dict
        Limits [mm] by nominal size [mm] and state.

    Raises
    ------
    BitTableError
        Naming the file and the size: limits reversed, a bit smaller than its name, states that are missing or overlap.
    """
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    table = {
        (float(r["nominal_mm"]), r["state"]): (float(r["low_mm"]), float(r["high_mm"])) for r in csv.DictReader(lines)
    }
    for nominal in {size for size, _ in table}:
        if any((nominal, state) not in table for state in STATES):
            raise BitTableError(f"{path.name}: the {nominal:g} mm bit needs a row for each of {', '.join(STATES)}")
        edges = [nominal, *(edge for state in STATES for edge in table[nominal, state])]
        if any(a >= b for a, b in itertools.pairwise(edges)):
            raise BitTableError(
                f"{path.name}: the diameters of the {nominal:g} mm bit do not rise from its name over worn and medium"
                " to new"
            )
    return table


@lru_cache(maxsize=1)
def _bits() -> dict[tuple[float, str], tuple[float, float]]:
    return load_bits(_TABLE)


def bit_sizes() -> tuple[float, ...]:
    """Nominal sizes in the table, rising.

    Returns
    -------
    tuple of float [mm]
    """
    return tuple(sorted({size for size, _ in _bits()}))


def bit_limits(*, nominal: float, state: str) -> tuple[float, float]:
    """Cutting diameter of a hammer bit, from memory (see `SOURCE`).

    Parameters
    ----------
    nominal : float [mm]
        Nominal size of the bit.
    state : str
        "worn", "medium" or "new".

    Returns
    -------
    tuple of float [mm]
        Least and greatest cutting diameter.

    Raises
    ------
    NotAccepted
        A state or a size that is not in the table, naming those that are.

    Examples
    --------
    >>> bit_limits(nominal=20.0, state="new")
    (20.5, 20.55)
    """
    if state not in STATES:
        raise NotAccepted(f"the state of a bit is one of {', '.join(STATES)}, not {state!r}")
    sizes = bit_sizes()
    if nominal not in sizes:
        listed = ", ".join(f"{size:g}" for size in sizes)
        raise NotAccepted(
            f"a {nominal!r} mm bit is not in the table (it lists {listed} mm; inch sizes are not in it): {_OTHERWISE}"
        )
    return _bits()[nominal, state]


def mass_tolerance(*, bar: Bar) -> tuple[float, float]:
    """Limits within which a bar's mass may deviate from the nominal.

    Parameters
    ----------
    bar : Bar
        A bar of the tables.

    Returns
    -------
    tuple of float [-]
        Lowest and highest deviation, as shares of the nominal mass, by the bar's standard.

    Raises
    ------
    NotAccepted
        A bar of another standard, of which no tolerance is at hand.

    Examples
    --------
    >>> from calc.base.bars import find_bar
    >>> mass_tolerance(bar=find_bar("16"))
    (-0.045, 0.045)
    """
    tolerance = bar.standard.mass_tolerance
    if tolerance is None:
        raise NotAccepted(
            f"bar {bar.designation}: no tolerance on the mass of {bar.standard.name} bars is at hand; give limits, or"
            " mean and sd, of the mass deviation"
        )
    share = tolerance.share(bar.diameter)
    return -share, share


@formula(
    symbol="phi_m",
    source="geometry: mass goes with the square of the diameter",
    limits={"phi": (0.0, 1_000.0), "mass_deviation": (-0.5, 0.5)},
)
def diameter_of_mass(*, phi: Mm, mass_deviation: Ratio) -> Mm:
    """Mass-equivalent diameter of a bar as delivered.

    Examples
    --------
    >>> round(diameter_of_mass(phi=16.0, mass_deviation=-0.045), 4)
    15.6359
    """
    return phi * sqrt(1 + mass_deviation)


def bit_note(*, nominal: float, state: str) -> str:
    """Sentence that says where a bit's limits come from, for a record.

    Parameters
    ----------
    nominal : float [mm]
        Nominal size of the bit.
    state : str
        "worn", "medium" or "new".

    Returns
    -------
    str
    """
    low, high = bit_limits(nominal=nominal, state=state)
    return f"{state} bit of {nominal:g} mm: {low:.2f} to {high:.2f} mm, every value as likely ({SOURCE})"
