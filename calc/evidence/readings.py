"""Measured holes as they come in: read, named, left out for a reason, summed up, and set against the nominal hole."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.base.errors import NotAccepted

Values = Sequence[float] | NDArray[np.float64]

ONE_HOLE = (
    "one weighed hole tells nothing about scatter: it takes at least 2 holes for a guess and many more for a sure one"
)


def read_numbers(values: Values, least: int, what: str = "") -> NDArray[np.float64]:
    """The measurements as one row of finite numbers, at least so many; ``what`` says why so many."""
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise NotAccepted("the measurements must all be numbers") from None
    if array.ndim != 1:
        raise NotAccepted("the measurements must be one row of numbers")
    wrong = np.flatnonzero(~np.isfinite(array))
    if wrong.size:
        raise NotAccepted(f"measurement {wrong[0] + 1} is {array[wrong[0]]}; accepted: finite numbers")
    if len(array) < least:
        tail = f", because {what}" if what else ""
        holes = "hole is" if least == 1 else "holes are"
        raise NotAccepted(f"{len(array)} measured, but at least {least} {holes} needed{tail}")
    return array


def read_names(names: Sequence[str] | None, count: int) -> tuple[str, ...]:
    """Names of the holes, each once; 1, 2, 3 … when none are given."""
    if names is None:
        return tuple(str(i) for i in range(1, count + 1))
    if len(names) != count:
        raise NotAccepted(f"{count} measurements, but {len(names)} names; accepted: one name for each")
    twice = [name for name, times in Counter(names).items() if times > 1]
    if twice:
        raise NotAccepted(f"the name '{twice[0]}' is there twice; accepted: each hole named once")
    return tuple(names)


def read_share(name: str, value: float) -> float:
    """``value`` as a share between 0 and 1, both excluded."""
    if not 0 < value < 1:
        raise NotAccepted(f"{name} must be between 0 and 1, both excluded (0.95 for 95 per cent), not {value:g}")
    return float(value)


def moments(array: NDArray[np.float64]) -> tuple[float, float | None]:
    """Mean and standard deviation (n − 1), exactly zero where all values are the same."""
    mean = math.fsum(array) / len(array)
    if np.ptp(array) == 0:
        return float(array[0]), 0.0 if len(array) > 1 else None
    return mean, math.sqrt(math.fsum((array - mean) ** 2) / (len(array) - 1))


def joined(items: Iterable[str]) -> str:
    """Items as they are read out: a, b and c."""
    parts = list(items)
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def as_sentence(text: str) -> str:
    """Begin with a capital and end with a full stop."""
    return f"{text[0].upper()}{text[1:]}."


def percent(share: float) -> str:
    """Share in per cent, as text."""
    return f"{100 * share:.6g} %"


@dataclass(frozen=True)
class Point:
    """One measured hole that a result names: its name, its place in the row (from 0), its value."""

    name: str
    index: int
    value: float


def points_at(array: NDArray[np.float64], names: tuple[str, ...], where: Iterable[int]) -> tuple[Point, ...]:
    """The measured holes at these places in the row."""
    return tuple(Point(names[int(i)], int(i), float(array[i])) for i in where)


def holes_named(points: Sequence[Point]) -> str:
    """Holes by their names, in words."""
    return f"hole{'s' if len(points) > 1 else ''} {joined(p.name for p in points)}"


# ---- leaving out, with a reason ------------------------------------------------------------------


@dataclass(frozen=True)
class Kept:
    """The holes that stay, and those left out, each with its reason."""

    values: tuple[float, ...]
    names: tuple[str, ...]
    left_out: tuple[tuple[Point, str], ...]

    @property
    def sentence(self) -> str:
        """What was left out and why."""
        if not self.left_out:
            return f"All {len(self.values)} measured holes are kept."
        return (
            f"{len(self.values)} measured holes are kept. Left out: "
            + "; ".join(f"hole {p.name} ({p.value:.5g}): {reason}" for p, reason in self.left_out)
            + "."
        )


def leave_out(*, values: Values, reasons: Mapping[str, str], names: Sequence[str] | None = None) -> Kept:
    """Leave holes out, each for a reason that is written down; a hole without one stays.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes in run order.
    reasons : mapping of str to str
        Name of the hole to the reason.
    names : sequence of str, optional
        Names of the holes; 1, 2, 3 … when left out.

    Returns
    -------
    Kept
        Values [same unit].

    Raises
    ------
    NotAccepted
        A name that no hole has, an empty reason, or nothing that stays.

    Examples
    --------
    >>> leave_out(values=[14.0, 30.0, 14.5], reasons={"2": "ran into a void"}).values
    (14.0, 14.5)
    """
    array = read_numbers(values, 1)
    called = read_names(names, len(array))
    for name, reason in reasons.items():
        if name not in called:
            raise NotAccepted(f"no measured hole is named '{name}', so it cannot be left out")
        if not reason.strip():
            raise NotAccepted(f"hole {name} cannot be left out without a reason; write what was wrong with it")
    stay = [i for i, name in enumerate(called) if name not in reasons]
    if not stay:
        raise NotAccepted("every measured hole is left out; at least one must stay")
    gone = points_at(array, called, (i for i, name in enumerate(called) if name in reasons))
    return Kept(
        tuple(array[stay].tolist()), tuple(called[i] for i in stay), tuple((p, reasons[p.name].strip()) for p in gone)
    )


# ---- summary -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Summary:
    """Number, mean, standard deviation (None for one hole), smallest and largest; in the unit of the values."""

    n: int
    mean: float
    sd: float | None
    min: float
    max: float
    sentence: str


def summary(*, values: Values) -> Summary:
    """Number, mean, standard deviation and range of the measured volumes.

    Parameters
    ----------
    values : sequence of float [any one unit]
        Measured volumes.

    Returns
    -------
    Summary
        ``sd`` with n − 1 [same unit]; None for a single hole.

    Raises
    ------
    NotAccepted
        No value, or one that is not finite.

    Examples
    --------
    >>> summary(values=[14.0]).sd is None
    True
    """
    array = read_numbers(values, 1)
    mean, sd = moments(array)
    n = len(array)
    if sd is None:
        sentence = as_sentence(ONE_HOLE)
    elif sd == 0:
        sentence = (
            f"All {n} holes measured the same: either they do not scatter, or the reading is too coarse to show it."
        )
    else:
        sentence = f"{n} holes, mean {mean:.5g}, standard deviation {sd:.3g}" + (
            f", {percent(float(f'{sd / mean:.3g}'))} of the mean." if mean > 0 else "."
        )
    return Summary(n, mean, sd, float(array.min()), float(array.max()), sentence)


# ---- against the nominal hole --------------------------------------------------------------------


def ratios(*, values: Values, V_req: Any) -> tuple[float, ...]:
    """Measured volumes as shares of what the nominal sizes require.

    So that holes of several groups can be looked at together.

    Parameters
    ----------
    values : sequence of float [any one volume unit]
        Measured volumes.
    V_req : float or sequence of float [same unit]
        Required volume of the nominal hole: one for all, or one for each.

    Returns
    -------
    tuple of float [-]
        1.10 needs ten per cent more than the nominal hole.

    Raises
    ------
    NotAccepted
        A volume that is not finite, or a required volume that is not above zero.

    Notes
    -----
    Holes of several groups may be pooled only where their ratios scatter alike; small holes mostly scatter more.

    Examples
    --------
    >>> ratios(values=[11.0, 42.0], V_req=[10.0, 40.0])
    (1.1, 1.05)
    """
    measured = read_numbers(values, 1)
    required = (
        np.broadcast_to(np.asarray(V_req, dtype=float), measured.shape)
        if np.size(V_req) in (1, len(measured))
        else None
    )
    if required is None:
        raise NotAccepted(
            f"{len(measured)} measured volumes, but {np.size(V_req)} required volumes; accepted: one for all or one for"
            " each"
        )
    if not (np.isfinite(required) & (required > 0)).all():
        raise NotAccepted("the required volume must be a finite number above zero")
    return tuple((measured / required).tolist())
