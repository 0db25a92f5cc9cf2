"""Ways of dosing, side by side on the same simulated holes: short holes, waste, adhesive and cost.

How people dose without a computed dose is an assumption, so it is an input: `Judgement`. Nothing in it has a default.
What goes into voids and cracks is neither waste nor fill: it is counted as used, and it is gone before the hole fills.
Waste is what comes out at the mouth with the bar home. The initial discard of a pack or mixer is not part of this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import exp, pi
from calc.base.units import Mm, Mm3, Ratio
from calc.fill.dose import dose, rounded_dose
from calc.fill.hole import tip_volume
from calc.fill.level import hole_depth, surplus, unfilled_length
from calc.scatter.accepted import Array
from calc.scatter.simulated import SimulatedHoles, even_shares, left_for_hole

BLOCK = 100  # holes over which the worst one is looked for
_ROUNDING = 1e-12  # a hole that misses its fill by less is full


@formula(symbol="V", source="geometry", limits={"f_fill": (0.0, 2.0), "d_0": (0.0, 1_000.0)})
def filled_to(*, V_t: Mm3, d_0: Mm, l_hole: Mm, f_fill: Ratio) -> Mm3:
    """Adhesive in a hole that is filled to a share of its full-diameter depth before the bar; the tip cone is full.

    Examples
    --------
    >>> round(filled_to(V_t=0.0, d_0=12.0, l_hole=100.0, f_fill=0.5), 2)
    5654.87
    """
    return V_t + pi / 4 * d_0**2 * l_hole * f_fill


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """How somebody doses without a computed dose: assumptions of the user, every one of them in plain sight.

    Attributes
    ----------
    margin : float [-]
        Share that is added by feel at every hole.
    sd_hole : float [-]
        Scatter of the amount from hole to hole, as a share of it.
    sd_series : float [-]
        Scatter between persons or days, as a share of the amount; one person fills a series.
    sees : float [-]
        Share of a hole's true difference from nominal that the eye follows: 0 none, 1 all of it.
    level_sd : float [-]
        Scatter of the level in "filled to half", as a share of the depth.
    first_margin : float [-]
        Share added to what filled the first hole when its amount is used again.
    """

    margin: float
    sd_hole: float
    sd_series: float
    sees: float
    level_sd: float
    first_margin: float

    def __post_init__(self) -> None:
        """Refuse what no person does."""
        for name, low, high in (
            ("margin", -0.5, 5.0),
            ("sd_hole", 0.0, 1.0),
            ("sd_series", 0.0, 1.0),
            ("sees", 0.0, 1.0),
            ("level_sd", 0.0, 0.5),
            ("first_margin", -0.5, 5.0),
        ):
            _between(f"{name} of the judgement", getattr(self, name), low, high)


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way of dosing on simulated holes.

    ``injected`` is what goes into each hole [mm³]; ``dose`` the set dose [mm³], None where none is set; ``habit`` is
    true for what people do and nobody should set up as a mode.
    """

    key: str
    name: str
    injected: Array
    dose: float | None = None
    habit: bool = False


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What an injected amount does in each hole, arrays of the shape (series, holes): [-], [mm], [mm³], [mm³]."""

    short: NDArray[np.bool_]
    unfilled: Array
    waste: Array
    injected: Array


@dataclass(frozen=True, kw_only=True)
class WayResult:
    """One way of dosing in numbers.

    Attributes
    ----------
    key, name : str
        Short name, and the name for people.
    short_per_100 : float
        Short holes in a hundred.
    worst_shortfall : float [mm]
        Longest bare length of bar in a hundred holes: mean over all blocks of a hundred holes in the order of the
        simulation.
    worst_share : float [-]
        The greatest share of its embedment that a bar is bare over, in a hundred holes; mean over the same blocks.
    short_series : float [-]
        Share of the series in which more than half of the holes are short.
    waste : float [mm³]
        What comes out at the mouth, mean per hole.
    waste_share : float [-]
        Share of the adhesive used that comes out at the mouth.
    used : float [mm³]
        Adhesive injected, mean per hole.
    cost, waste_cost : float or None [currency]
        Price of what is used and of what is wasted, mean per hole; None without a price.
    dose : float or None [mm³]
        Set dose, where one is set.
    habit : bool
        True for the reuse of the first hole's amount.
    """

    key: str
    name: str
    short_per_100: float
    worst_shortfall: float
    worst_share: float
    short_series: float
    waste: float
    waste_share: float
    used: float
    cost: float | None
    waste_cost: float | None
    dose: float | None
    habit: bool


def amount_by_eye(*, holes: SimulatedHoles, judgement: Judgement) -> Array:
    """What somebody injects by eye.

    Parameters
    ----------
    holes : SimulatedHoles
        Actual holes.
    judgement : Judgement
        How that person judges.

    Returns
    -------
    array [mm³]

    Notes
    -----
    Nominal requirement, plus the part of each hole's true difference from it that the eye follows (voids counted in),
    times 1 + margin, times two deviations of mean 1: one for the series, one for the hole. They are lognormal, so that
    no amount is negative however wide the scatter.
    """
    nominal = holes.scatter.nominal.required
    true = holes.required * (1 + holes.voids)
    seen = nominal + judgement.sees * (true - nominal)
    person = _deviation(even_shares("eye_series", (holes.series, 1), holes.seed), judgement.sd_series)
    hole = _deviation(even_shares("eye_hole", (holes.series, holes.holes), holes.seed), judgement.sd_hole)
    return np.asarray(seen * (1 + judgement.margin) * person * hole, dtype=float)


def amount_to_level(*, holes: SimulatedHoles, judgement: Judgement, level: float) -> Array:
    """What is injected when the hole is filled to a share of its depth before the bar.

    Parameters
    ----------
    holes : SimulatedHoles
        Actual holes.
    judgement : Judgement
        How that person judges; its ``level_sd`` is used.
    level : float [-]
        Share of the full-diameter depth; the level is seen in the hole, after voids have filled.

    Returns
    -------
    array [mm³]

    Raises
    ------
    NotAccepted
        A level outside 0 to 1, or one that scatters below the bottom of the hole.
    """
    _between("the level to which a hole is filled", level, 0.0, 1.0)
    reached = level + judgement.level_sd * special.ndtri(even_shares("level", (holes.series, holes.holes), holes.seed))
    if (reached < 0).any():
        raise NotAccepted(
            f"with a level_sd of {judgement.level_sd:g} a hole filled to {level:g} of its depth would at times stay"
            " below empty; give a smaller level_sd"
        )
    V_t = tip_volume(d_0=holes.d_0, theta=holes.scatter.nominal.theta)
    l_hole = hole_depth(l_v=holes.l_v, overdrill=holes.overdrill)
    return np.asarray(
        filled_to.function(V_t=V_t, d_0=holes.d_0, l_hole=l_hole, f_fill=reached) + holes.required * holes.voids,
        dtype=float,
    )


def amount_of_dose(*, holes: SimulatedHoles, V_dose: Any) -> Array:
    """What a set dose injects, shot by shot.

    Parameters
    ----------
    holes : SimulatedHoles
        Actual holes, with the deviation of each shot.
    V_dose : float or ndarray [mm³]
        Set dose, one for all holes or one for each.

    Returns
    -------
    array [mm³]
    """
    return np.asarray(V_dose * (1 + holes.repeat), dtype=float)


def amount_of_first_hole(*, holes: SimulatedHoles, first_margin: float) -> Array:
    """What is injected when each series repeats the amount of its first hole: a habit.

    Parameters
    ----------
    holes : SimulatedHoles
        Actual holes.
    first_margin : float [-]
        Share added to what filled the first hole.

    Returns
    -------
    array [mm³]

    Notes
    -----
    The first hole is filled until it is seen to be full; what the dispenser counts for it, plus the margin, is set for
    the series.
    """
    return amount_of_dose(holes=holes, V_dose=holes.need[:, :1] * (1 + first_margin))


def outcome(*, holes: SimulatedHoles, injected: Array) -> Outcome:
    """What an injected amount does in each hole.

    Parameters
    ----------
    holes : SimulatedHoles
        Actual holes.
    injected : array [mm³]
        Amount for each hole.

    Returns
    -------
    Outcome
        Voids and cracks have taken their part before the hole fills.
    """
    V = left_for_hole.function(V_dose=injected, repeat=0.0, V_req=holes.required, voids=holes.voids)
    short = V < holes.required * (1 - _ROUNDING)
    size = {
        "d_0": holes.d_0,
        "phi": holes.phi,
        "l_v": holes.l_v,
        "overdrill": holes.overdrill,
        "theta": holes.scatter.nominal.theta,
    }
    unfilled = np.where(short, unfilled_length(V=V, **size), 0.0)
    return Outcome(short=short, unfilled=unfilled, waste=surplus.function(V=V, V_req=holes.required), injected=injected)


def all_ways(
    *,
    holes: SimulatedHoles,
    judgement: Judgement,
    overfill: float,
    stroke: float | None = None,
    graduation: float | None = None,
    levels: Sequence[float] = (1 / 2, 2 / 3),
) -> tuple[Way, ...]:
    """Every way of dosing with what it injects in each hole; parameters as for `compare_ways`.

    Parameters
    ----------
    holes : SimulatedHoles
        Actual holes.
    judgement : Judgement
        How people dose without a computed dose.
    overfill : float [-]
        Chosen overfill of the computed dose.
    stroke, graduation : float or None [mm³]
        Volume of a stroke, graduation of the dispenser; without a stroke that way is left out, without a graduation the
        dose is not rounded.
    levels : sequence of float [-]
        Shares of the depth to which a hole is filled.

    Returns
    -------
    tuple of Way
    """
    nominal = holes.scatter.nominal.required
    ways = [Way(key="eye", name="by eye, with a margin", injected=amount_by_eye(holes=holes, judgement=judgement))]
    for level in levels:
        part = Fraction(level).limit_denominator(20)
        injected = amount_to_level(holes=holes, judgement=judgement, level=level)
        ways.append(Way(key=f"level {part}", name=f"filled to {part} of the depth before the bar", injected=injected))
    set_doses = [
        ("nominal", "dose from nominal sizes", nominal),
        ("overfill", "dose from nominal sizes and the chosen overfill", _computed(nominal, overfill, graduation)),
    ]
    if stroke is not None:
        set_doses.insert(
            0,
            ("strokes", "nominal requirement in whole strokes", float(rounded_dose(V_dose=nominal, graduation=stroke))),
        )
    ways += [
        Way(key=key, name=name, injected=amount_of_dose(holes=holes, V_dose=V), dose=V) for key, name, V in set_doses
    ]
    first = amount_of_first_hole(holes=holes, first_margin=judgement.first_margin)
    return (*ways, Way(key="first hole", name="the first hole's amount again (a habit)", injected=first, habit=True))


def compare_ways(
    *,
    holes: SimulatedHoles,
    judgement: Judgement,
    overfill: float,
    stroke: float | None = None,
    graduation: float | None = None,
    levels: Sequence[float] = (1 / 2, 2 / 3),
    price: float | None = None,
) -> tuple[WayResult, ...]:
    """Ways of dosing, all on the same simulated holes.

    Parameters
    ----------
    holes : SimulatedHoles
        Actual holes, at least a hundred.
    judgement : Judgement
        How people dose without a computed dose.
    overfill : float [-]
        Chosen overfill of the computed dose.
    stroke : float or None [mm³]
        Volume of a stroke; without one, counted strokes are left out.
    graduation : float or None [mm³]
        Graduation to which the computed dose is rounded up; not rounded without one.
    levels : sequence of float [-]
        Shares of the depth to which a hole is filled.
    price : float or None [currency per mm³]
        Price of the adhesive; no costs without one.

    Returns
    -------
    tuple of WayResult
        By eye; filled to each level; whole strokes; nominal dose; nominal dose with overfill, rounded; the first hole's
        amount again.

    Raises
    ------
    NotAccepted
        Fewer than a hundred holes, a negative price, or values outside their ranges.
    """
    if holes.need.size < BLOCK:
        raise NotAccepted(f"ways of dosing are compared on at least {BLOCK} simulated holes, not {holes.need.size}")
    if price is not None:
        _between("the price of the adhesive", price, 0.0, math.inf)
    ways = all_ways(
        holes=holes, judgement=judgement, overfill=overfill, stroke=stroke, graduation=graduation, levels=levels
    )
    return tuple(_result(way, holes, price) for way in ways)


def _computed(nominal: float, overfill: float, graduation: float | None) -> float:
    V_dose = dose(V_req=nominal, overfill=overfill)
    return float(V_dose if graduation is None else rounded_dose(V_dose=V_dose, graduation=graduation))


def _result(way: Way, holes: SimulatedHoles, price: float | None) -> WayResult:
    done = outcome(holes=holes, injected=way.injected)
    used, waste = float(done.injected.mean()), float(done.waste.mean())
    return WayResult(
        key=way.key,
        name=way.name,
        short_per_100=100 * float(done.short.mean()),
        worst_shortfall=_worst(done.unfilled),
        worst_share=_worst(done.unfilled / holes.l_v),
        short_series=float((done.short.mean(axis=1) > 0.5).mean()),
        waste=waste,
        waste_share=waste / used if used > 0 else 0.0,
        used=used,
        cost=None if price is None else price * used,
        waste_cost=None if price is None else price * waste,
        dose=way.dose,
        habit=way.habit,
    )


def _worst(values: Array) -> float:
    """Mean over blocks of a hundred holes of the greatest value; holes that make no whole block are left out."""
    blocks = values.size // BLOCK
    return float(values.ravel()[: blocks * BLOCK].reshape(blocks, BLOCK).max(axis=1).mean())


def _deviation(shares: Array, sd: float) -> Array:
    """Lognormal factors of mean 1 and the given sd."""
    log_sd = math.sqrt(math.log1p(sd**2))
    return exp(log_sd * special.ndtri(shares) - log_sd**2 / 2)


def _between(name: str, value: Any, low: float, high: float) -> None:
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or not (low <= value <= high and math.isfinite(value))
    ):
        raise NotAccepted(
            f"{name} must be a number {f'from {low:g} to {high:g}' if math.isfinite(high) else f'of at least {low:g}'},"
            f" not {value!r}"
        )
