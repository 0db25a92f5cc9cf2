"""Working time and curing time against the temperature of the base material.

The product's own table governs. `read_safe` takes the less favourable row; `read_arrhenius` interpolates ln t against
1/T between two neighbouring rows. Neither goes outside the table. What the rows imply as activation energy only judges
whether a table is plausible.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import Annotated, Literal

from calc.base.display import METRIC, Display
from calc.base.errors import NotAccepted
from calc.base.formula import RangeError, formula
from calc.base.maths import exp, log
from calc.base.units import Celsius, Minute, Ratio

Kind = Literal["working", "curing"]
KiloJoulePerMole = Annotated[float, "kJ/mol"]
JoulePerMoleKelvin = Annotated[float, "J/(mol·K)"]

GAS_CONSTANT = 8.314462618  # exact in the SI since 2019, cut after ten digits [J/(mol·K)]
PLAUSIBLE = (
    35.0,
    100.0,
)  # implied activation energy outside this range is flagged [kJ/mol]; common practice, no source
_ARRHENIUS = "Arrhenius: ln t is linear in 1/T; textbook relation"
_WARM = (-60.0, 100.0)
_TIMES = (1e-6, 1e7)
_R = (8.314, 8.315)


@formula(
    symbol="E_a",
    source=_ARRHENIUS,
    limits={"R_gas": _R, "t_1": _TIMES, "t_2": _TIMES, "T_1": _WARM, "T_2": _WARM},
    relations=("T_1 < T_2",),
    homogeneous=False,
)
def activation_energy(
    *, R_gas: JoulePerMoleKelvin, t_1: Minute, t_2: Minute, T_1: Celsius, T_2: Celsius
) -> KiloJoulePerMole:
    """Activation energy that two rows of a time table imply.

    Examples
    --------
    >>> round(activation_energy(R_gas=8.314462618, t_1=30.0, t_2=15.0, T_1=15.0, T_2=25.0), 2)
    49.51
    """
    return R_gas * log(t_1 / t_2) / (1 / (T_1 + 273.15) - 1 / (T_2 + 273.15)) / 1000


@formula(
    symbol="t",
    source=_ARRHENIUS,
    limits={"R_gas": _R, "t_1": _TIMES, "T_1": _WARM, "T": _WARM, "E_a": (0.0, 1000.0)},
    homogeneous=False,
)
def arrhenius_time(
    *, R_gas: JoulePerMoleKelvin, t_1: Minute, T_1: Celsius, E_a: KiloJoulePerMole, T: Celsius
) -> Minute:
    """Time at a temperature, from one row and an activation energy.

    Notes
    -----
    ``T`` is the temperature that is asked for, ``T_1`` and ``t_1`` are those of the row.

    Examples
    --------
    >>> round(arrhenius_time(R_gas=8.314462618, t_1=30.0, T_1=23.0, E_a=60.0, T=33.0), 1)
    13.5
    """
    return t_1 * exp(1000 * E_a / R_gas * (1 / (T + 273.15) - 1 / (T_1 + 273.15)))


@formula(symbol="t", source="the product's own factor", limits={"t_1": _TIMES, "f_wet": (1.0, 20.0)})
def wet_time(*, t_1: Minute, f_wet: Ratio) -> Minute:
    """Curing time in wet concrete, from that of the product's table.

    Examples
    --------
    >>> wet_time(t_1=900.0, f_wet=2.0)
    1800.0
    """
    return t_1 * f_wet


class TableError(NotAccepted):
    """A time table that cannot be used; the message is the end of a sentence that starts with the table's name."""


@dataclass(frozen=True)
class TimeRow:
    """One row of a time table: a time [min] at one temperature, or over a band from ``low`` to ``high`` [°C]."""

    low: float
    high: float
    time: float

    @property
    def is_band(self) -> bool:
        """Whether the row holds over a band of temperatures."""
        return self.low != self.high

    @property
    def text(self) -> str:
        """The row's temperature, as the adhesive record's problems name it."""
        return METRIC.temperatures(self.low, self.high)

    def point(self, kind: Kind) -> tuple[float, float]:
        """Temperature [°C] and time [min] between which and the next row's is interpolated.

        On the safe side of a band.
        """
        return self.high if kind == "working" else self.low, self.time


def table_problem(rows: tuple[TimeRow, ...]) -> str:
    """Say what is wrong with the rows of a time table.

    Parameters
    ----------
    rows
        Rows as given, temperatures [°C], times [min].

    Returns
    -------
    str
        Empty when the table can be used; otherwise what is wrong and what is accepted.
    """
    if not rows:
        return "the table has no row; accepted: at least one row with a temperature and a time"
    for i, row in enumerate(rows, 1):
        if not all(map(math.isfinite, (row.low, row.high, row.time))) or row.time <= 0:
            return f"row {i} ({row.text}) has no time above zero; accepted: finite temperatures and a time above 0 min"
        if row.low > row.high:
            return f"row {i} starts at {row.low:.5g} °C and ends at {row.high:.5g} °C; accepted: from below to"
    if len({row.is_band for row in rows}) > 1:
        return (
            "mixes rows at one temperature with rows over a band; accepted: at in every row, or from and to in"
            " every row"
        )
    return next(
        (wrong for i, (a, b) in enumerate(itertools.pairwise(rows), 1) if (wrong := _pair_problem(a, b, i))), ""
    )


def _pair_problem(cold: TimeRow, warm: TimeRow, number: int) -> str:
    """Judge two rows that follow each other."""
    names = f"rows {number} and {number + 1} ({cold.text}, {warm.text})"
    if warm.low < cold.low:
        return f"{names} are out of order; accepted: rows from the coldest to the warmest"
    if not cold.is_band and warm.low == cold.low:
        return f"{names} are at the same temperature; accepted: one row for each temperature"
    if cold.is_band and warm.low < cold.high:
        return f"{names} overlap; accepted: each row starts where the one before it ends"
    if cold.is_band and warm.low > cold.high:
        return f"{names} leave a gap; accepted: each row starts where the one before it ends"
    if warm.time > cold.time:
        return (
            f"{names} go from {cold.time:.5g} to {warm.time:.5g} min: the time grows with the temperature; accepted:"
            " times that fall or stay equal"
        )
    return ""


@dataclass(frozen=True)
class TimeTable:
    """A product's table of working or curing times, coldest row first.

    Raises
    ------
    TableError
        Empty, out of order, overlapping, with a gap, or with a time that grows with the temperature.
    """

    kind: Kind
    rows: tuple[TimeRow, ...]

    def __post_init__(self) -> None:
        if wrong := table_problem(self.rows):
            raise TableError(f"{self.kind} times: {wrong}")

    @property
    def low(self) -> float:
        """Coldest temperature that the table covers [°C]."""
        return self.rows[0].low

    @property
    def high(self) -> float:
        """Warmest temperature that the table covers [°C]."""
        return self.rows[-1].high

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """Temperature [°C] and time [min] of each row.

        A band's time must hold at its less favourable end: the warm end for working, the cold end for curing.
        """
        return tuple(row.point(self.kind) for row in self.rows)


@dataclass(frozen=True)
class Reading:
    """A time read from a table: the time [min], from what it was found, and what deserves a notice.

    ``rows`` are the one or two rows that were used. ``E_a`` [kJ/mol] is None when no interpolation was made. ``f_wet``
    is what the table's time was multiplied by.
    """

    time: float
    T: float
    kind: Kind
    rows: tuple[TimeRow, ...]
    E_a: float | None = None
    notices: tuple[str, ...] = ()
    f_wet: float = 1.0

    def in_wet(self, f_wet: float) -> Reading:
        """Return the same reading for wet concrete."""
        return replace(self, time=float(wet_time(t_1=self.time, f_wet=f_wet)), f_wet=f_wet) if f_wet != 1.0 else self

    def how(self, display: Display = METRIC) -> str:
        """Say how the time was found."""
        return self._row(display) + (f", times {self.f_wet:g} for wet concrete" if self.f_wet != 1.0 else "")

    def _row(self, display: Display) -> str:
        if self.E_a is not None:
            between = " and ".join(
                f"{t:.5g} min at {display.temperature(T)}" for T, t in (row.point(self.kind) for row in self.rows)
            )
            return f"between {between}, ln t against 1/T ({self.E_a:.3g} kJ/mol)"
        (row,) = self.rows
        span = display.temperatures(row.low, row.high)
        if row.low <= self.T <= row.high:
            return f"row of the table for {span}"
        return f"next {'warmer' if self.kind == 'working' else 'colder'} row of the table, {span}: the safe side"


def _refuse_outside(T: float, low: float, high: float, what: str) -> None:
    if not low <= T <= high:
        raise RangeError(
            f"the base material's temperature {T:.5g} °C is outside {what}; accepted: {low:.5g} to {high:.5g} °C"
        )


def read_safe(*, table: TimeTable, T: float) -> Reading:
    """Read a table on the safe side: a working time from the next warmer row, a curing time from the next colder one.

    Parameters
    ----------
    table
        The product's table.
    T : float [°C]
        Temperature of the base material.

    Returns
    -------
    Reading
        Time in [min]. At a border between two bands it is the less favourable of the two.

    Raises
    ------
    RangeError
        The temperature is outside the table.

    Examples
    --------
    >>> table = TimeTable("working", (TimeRow(10.0, 10.0, 40.0), TimeRow(20.0, 20.0, 20.0)))
    >>> read_safe(table=table, T=12.0).time
    20.0
    """
    _refuse_outside(T, table.low, table.high, f"the table of {table.kind} times")
    if table.kind == "working":
        within = [row for row in table.rows if row.low <= T <= row.high]
        row = within[-1] if within else next(row for row in table.rows if row.low > T)
    else:
        row = (
            next((row for row in table.rows if row.low <= T <= row.high), None)
            or [row for row in table.rows if row.high < T][-1]
        )
    return Reading(row.time, T, table.kind, (row,))


def read_arrhenius(*, table: TimeTable, T: float) -> Reading:
    """Interpolate ln t against 1/T between the two neighbouring rows.

    Parameters
    ----------
    table
        The product's table, with two rows or more.
    T : float [°C]
        Temperature of the base material.

    Returns
    -------
    Reading
        Time in [min], the activation energy that the two rows imply [kJ/mol], and a notice when that is implausible.

    Raises
    ------
    RangeError
        The temperature is outside the points of the table, or the table has one row only.

    Examples
    --------
    >>> table = TimeTable("working", (TimeRow(10.0, 10.0, 40.0), TimeRow(20.0, 20.0, 20.0)))
    >>> round(read_arrhenius(table=table, T=12.0).time, 1)
    34.7
    """
    points = table.points
    if len(points) < 2:
        raise RangeError(
            f"the table of {table.kind} times has one row; accepted: two rows or more to interpolate between"
        )
    _refuse_outside(
        T, points[0][0], points[-1][0], f"the points of the table of {table.kind} times, and nothing is extrapolated"
    )
    i = next(i for i in range(len(points) - 1) if T <= points[i + 1][0])
    (T_1, t_1), (T_2, t_2) = points[i], points[i + 1]
    E_a = activation_energy(R_gas=GAS_CONSTANT, t_1=t_1, t_2=t_2, T_1=T_1, T_2=T_2)
    time = arrhenius_time(R_gas=GAS_CONSTANT, t_1=t_1, T_1=T_1, E_a=E_a, T=T)
    wrong = _implausible(table.kind, T_1, T_2, E_a)
    return Reading(time, T, table.kind, table.rows[i : i + 2], E_a, (wrong,) if wrong else ())


def _implausible(kind: Kind, T_1: float, T_2: float, E_a: float, display: Display = METRIC) -> str:
    low, high = PLAUSIBLE
    if low <= E_a <= high:
        return ""
    between = f"between {display.temperature(T_1)} and {display.temperature(T_2)}"
    return (
        f"The {kind} times {between} imply an activation energy of {E_a:.3g} kJ/mol, outside {low:g} to {high:g}:"
        " compare the table with the approval."
    )


def implied_energies(*, table: TimeTable) -> tuple[tuple[float, float, float], ...]:
    """Return the activation energy that every two neighbouring rows imply.

    Parameters
    ----------
    table
        The product's table.

    Returns
    -------
    tuple of (float, float, float)
        Colder temperature [°C], warmer temperature [°C], activation energy [kJ/mol].

    Examples
    --------
    >>> table = TimeTable("curing", (TimeRow(10.0, 20.0, 600.0), TimeRow(20.0, 30.0, 300.0)))
    >>> [round(value, 1) for value in implied_energies(table=table)[0]]
    [10.0, 20.0, 47.8]
    """
    return tuple(
        (T_1, T_2, activation_energy(R_gas=GAS_CONSTANT, t_1=t_1, t_2=t_2, T_1=T_1, T_2=T_2))
        for (T_1, t_1), (T_2, t_2) in itertools.pairwise(table.points)
    )


def implausible_rows(*, table: TimeTable, display: Display = METRIC) -> tuple[str, ...]:
    """Return a sentence for every two neighbouring rows whose implied activation energy is implausible.

    Parameters
    ----------
    table
        The product's table.
    display
        How temperatures are written.

    Returns
    -------
    tuple of str
        Empty when every value [kJ/mol] lies within `PLAUSIBLE`.
    """
    found = (_implausible(table.kind, *values, display) for values in implied_energies(table=table))
    return tuple(sentence for sentence in found if sentence)
