"""What a dose and its waste react to: each input's range, the sizes of the hole, a tenth of a millimetre on the bit."""

from __future__ import annotations

import math
import numbers
from dataclasses import dataclass
from typing import Any

import numpy as np

from calc.base.errors import NotAccepted
from calc.fill.dose import dose as dose_of
from calc.fill.hole import required_volume
from calc.fill.level import shortfall, surplus
from calc.scatter.accepted import Array, require_at_least, require_finite
from calc.scatter.inputs import Inputs
from calc.scatter.points import Model
from calc.scatter.simulated import HoleScatter, NominalHole, left_for_hole
from calc.scatter.variance import gum_budget


@dataclass(frozen=True)
class Swing:
    """One bar of a tornado: an input's low and high value, and the model there with all others at their means."""

    name: str
    low: float
    high: float
    at_low: float
    at_high: float
    middle: float

    @property
    def width(self) -> float:
        """Distance between the two results [unit of the model]."""
        return abs(self.at_high - self.at_low)


def tornado(model: Model, inputs: Inputs, *, share: float = 0.9) -> tuple[Swing, ...]:
    """How far each input alone moves a result.

    Parameters
    ----------
    model : callable
        Called as ``model(**arrays)``.
    inputs : mapping of str to frozen distribution or float
        Distribution or number by name of the model's argument.
    share : float [-]
        Share of its values between an input's low and high end, as much left out on either side.

    Returns
    -------
    tuple of Swing
        One for each input that scatters, the widest first; the same width in alphabetical order.

    Raises
    ------
    NotAccepted
        A share outside (0, 1), unusable inputs, or a model that gives no finite number.
    """
    if not isinstance(share, numbers.Real) or isinstance(share, bool) or not 0 < share < 1:
        raise NotAccepted(f"share must be between 0 and 1, both excluded (0.9 for 90 per cent), not {share!r}")
    # With all gradients given the budget only looks at the middle: it checks the inputs and knows their means.
    budget = gum_budget(model, inputs, gradients=dict.fromkeys(inputs, 0.0))
    means = {part.name: part.value for part in budget.parts}
    swings = []
    for part in budget.parts:
        if part.u > 0:
            given: Any = inputs[part.name]
            low, high = float(given.ppf((1 - share) / 2)), float(given.isf((1 - share) / 2))
            at_low, at_high = (_single(model, means | {part.name: value}) for value in (low, high))
            swings.append(Swing(part.name, low, high, at_low, at_high, budget.value))
    return tuple(sorted(swings, key=lambda swing: (-swing.width, swing.name)))


def waste_model(scatter: HoleScatter, *, V_dose: float) -> Model:
    """Waste of one hole at a set dose, as a model of the six inputs of `HoleScatter`.

    Parameters
    ----------
    scatter : HoleScatter
        Actual holes.
    V_dose : float [mm³]
        Set dose.

    Returns
    -------
    callable
        What comes out at the mouth [mm³]; what goes into voids is not waste.

    Raises
    ------
    NotAccepted
        A dose that is negative or not finite.
    """
    require_at_least("the dose", V_dose, 0.0)

    def waste(*, voids: Any, repeat: Any, **hole: Any) -> Any:
        V_req = scatter.required(**hole)
        return surplus.function(
            V=left_for_hole.function(V_dose=V_dose, repeat=repeat, V_req=V_req, voids=voids), V_req=V_req
        )

    return waste


def waste_tornado(scatter: HoleScatter, *, V_dose: float, share: float = 0.9) -> tuple[Swing, ...]:
    """How far each input alone moves the waste at a set dose.

    Parameters
    ----------
    scatter : HoleScatter
        Actual holes.
    V_dose : float [mm³]
        Set dose.
    share : float [-]
        Share of its values between an input's low and high end.

    Returns
    -------
    tuple of Swing
        Waste [mm³], the widest first.
    """
    return tornado(waste_model(scatter, V_dose=V_dose), scatter.inputs, share=share)


@dataclass(frozen=True)
class WasteLine:
    """Waste and what is missing against one size of the hole, the others as drawn: [mm], [mm³], [mm³]."""

    x: Array
    waste: Array
    missing: Array

    @property
    def short_from(self) -> float | None:
        """Size from which on the dose is too little [mm]; None when it always is enough."""
        short = np.flatnonzero(self.missing > 0)
        return None if short.size == 0 else float(self.x[short[0]])


@dataclass(frozen=True)
class WasteLines:
    """Waste against the hole's diameter and against the embedment."""

    against_d_0: WasteLine
    against_l_v: WasteLine


def waste_lines(
    *, nominal: NominalHole, d_0: Any, l_v: Any, V_dose: float | None = None, overfill: float | None = None
) -> WasteLines:
    """Waste of one hole against its diameter and its embedment.

    Parameters
    ----------
    nominal : NominalHole
        The hole as drawn; it gives the sizes that stay.
    d_0, l_v : ndarray [mm]
        Diameters and embedments to look at.
    V_dose : float [mm³]
        A fixed dose: the hole differs from the drawing, the dose does not follow. Or else:
    overfill : float [-]
        An overfill: the hole is drawn like this, the dose follows.

    Returns
    -------
    WasteLines

    Raises
    ------
    NotAccepted
        Neither or both of dose and overfill, or a size outside its range.
    """
    if (V_dose is None) == (overfill is None):
        raise NotAccepted("give either a fixed dose or an overfill, not both and not none")
    if V_dose is not None:
        require_at_least("the dose", V_dose, 0.0)

    def line(name: str, values: Any) -> WasteLine:
        x = np.asarray(values, dtype=float)
        sizes = {"d_0": nominal.d_0, "l_v": nominal.l_v} | {name: x}
        V_req = required_volume(**sizes, phi=nominal.phi, overdrill=nominal.overdrill, theta=nominal.theta)
        V = dose_of(V_req=V_req, overfill=overfill) if overfill is not None else np.full(x.shape, V_dose)
        return WasteLine(x, surplus(V=V, V_req=V_req), shortfall(V_req=V_req, V=V))

    return WasteLines(line("d_0", d_0), line("l_v", l_v))


@dataclass(frozen=True, kw_only=True)
class HoleCount:
    """So many holes of one kind."""

    mark: str
    count: int
    nominal: NominalHole

    def __post_init__(self) -> None:
        """Refuse a count that is none."""
        if not isinstance(self.count, numbers.Integral) or isinstance(self.count, bool) or self.count < 1:
            raise NotAccepted(f"group {self.mark}: the count must be a whole number of at least 1, not {self.count!r}")


def cost_of_diameter(*, group: HoleCount, overfill: float, widening: float = 0.1) -> tuple[float, float]:
    """What a wider bit takes in the holes of a group, when the dose follows the hole.

    Parameters
    ----------
    group : HoleCount
        The holes.
    overfill : float [-]
        Overfill of the dose.
    widening : float [mm]
        By how much every hole is wider than drawn; negative for narrower.

    Returns
    -------
    tuple of float [mm³] and float [-]
        Adhesive more, and its share of the doses.

    Raises
    ------
    NotAccepted
        A hole that becomes smaller than its bar, or a widening that is not finite.
    """
    require_finite("the widening of the hole", widening)
    volumes = (group.nominal.required, _widened(group, widening))
    before, after = (group.count * float(dose_of(V_req=V_req, overfill=overfill)) for V_req in volumes)
    return after - before, (after - before) / before


def _widened(group: HoleCount, widening: float) -> float:
    hole = group.nominal
    if hole.d_0 + widening <= hole.phi:
        raise NotAccepted(
            f"group {group.mark}: a hole of {hole.d_0:g} mm changed by {widening:g} mm does not take its bar of"
            f" {hole.phi:g} mm"
        )
    return float(
        required_volume(d_0=hole.d_0 + widening, phi=hole.phi, l_v=hole.l_v, overdrill=hole.overdrill, theta=hole.theta)
    )


def _single(model: Model, values: dict[str, float]) -> float:
    result = float(
        np.asarray(model(**{name: np.array([value]) for name, value in values.items()}), dtype=float).ravel()[0]
    )
    if not math.isfinite(result):
        raise NotAccepted(
            f"the model gave no finite number at {', '.join(f'{name} = {value:g}' for name, value in values.items())}"
        )
    return result
