"""Simulated holes: what really is drilled and delivered, series by series.

What a series shares (a bit, a batch of bars, a day) is drawn once for the series, the rest once for every hole: a worn
bit moves all its holes together, and only so is the risk of a whole short series seen.
"""

from __future__ import annotations

import numbers
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import max
from calc.base.units import Mm3, Ratio
from calc.fill.bits import diameter_of_mass
from calc.fill.hole import annular_volume, overdrill_volume, required_volume, tip_volume, total_volume
from calc.scatter.accepted import Array
from calc.scatter.inputs import Distribution, Input, require_fit
from calc.scatter.variance import gum_budget

AT_MOST = (
    1e-6  # probability of an impossible value that is still accepted; a normal distribution never gives exactly zero
)
_MOST_HOLES = 2_000_000

# argument of the models: (what it is, its least value, whether the least value itself is possible)
_LEAST: Mapping[str, tuple[str, float, bool]] = {
    "l_v": ("the embedment", 0.0, False),
    "overdrill": ("the overdrill", 0.0, True),
    "voids": ("the loss into voids", 0.0, True),
    "repeat": ("the deviation of a shot from the set dose", -1.0, False),
    "mass_deviation": ("the deviation of the bar's mass", -1.0, False),
}
INPUTS = ("d_0", "mass_deviation", "l_v", "overdrill", "voids", "repeat")
# Each drawn quantity has a stream of its own: scatter added to one input leaves the draws of the others as they were.
_STREAMS = {name: i for i, name in enumerate((*INPUTS, "eye_series", "eye_hole", "level"))}


@formula(
    symbol="V_need",
    source="definition: what fills hole and voids, over what a shot gives of its set dose",
    limits={"V_req": (0.0, 1e10), "voids": (0.0, 5.0), "repeat": (-0.5, 0.5)},
)
def needed_dose(*, V_req: Mm3, voids: Ratio, repeat: Ratio) -> Mm3:
    """Set dose at which this hole is just full.

    Notes
    -----
    ``V_req`` is that of this hole and ``repeat`` that of this shot. Volumes may be in any one unit; the result is in
    the same.

    Examples
    --------
    >>> round(needed_dose(V_req=20.0, voids=0.02, repeat=-0.01), 4)
    20.6061
    """
    return V_req * (1 + voids) / (1 + repeat)


@formula(
    symbol="V",
    source="definition: voids and cracks fill first",
    limits={"V_dose": (0.0, 1e10), "V_req": (0.0, 1e10), "voids": (0.0, 5.0), "repeat": (-0.5, 0.5)},
)
def left_for_hole(*, V_dose: Mm3, repeat: Ratio, V_req: Mm3, voids: Ratio) -> Mm3:
    """Adhesive that is left for the hole itself, once its voids and cracks have taken their part of a shot.

    Notes
    -----
    ``V_req`` is that of this hole and ``repeat`` that of this shot. Volumes may be in any one unit; the result is in
    the same.

    Examples
    --------
    >>> round(left_for_hole(V_dose=22.0, repeat=0.01, V_req=20.0, voids=0.02), 2)
    21.82
    """
    return max(V_dose * (1 + repeat) - V_req * voids, 0)


@dataclass(frozen=True, kw_only=True)
class NominalHole:
    """A hole and its bar as drawn.

    Attributes
    ----------
    d_0, phi, l_v : float [mm]
        Diameter of the hole, nominal diameter of the bar, embedment.
    overdrill : float [mm]
        Full-diameter hole beyond the bar's end.
    theta : float [°]
        Included point angle; 180° is a flat bottom.
    """

    d_0: float
    phi: float
    l_v: float
    overdrill: float = 0.0
    theta: float = 180.0

    def __post_init__(self) -> None:
        """Refuse a hole that cannot be."""
        if not self.required > 0:
            raise NotAccepted(
                f"a hole with an embedment of {self.l_v:g} mm takes no adhesive; give an embedment above zero"
            )

    @cached_property
    def required(self) -> float:
        """Required volume from the nominal sizes [mm³]."""
        return float(
            required_volume(d_0=self.d_0, phi=self.phi, l_v=self.l_v, overdrill=self.overdrill, theta=self.theta)
        )


@dataclass(frozen=True, kw_only=True)
class HoleScatter:
    """What the actual holes of one bar group are like, against their nominal sizes.

    Frozen ``scipy.stats`` distributions or plain numbers, by the names of the models' arguments; what is left out is
    nominal.

    Attributes
    ----------
    nominal : NominalHole
        Sizes as drawn.
    d_0, l_v, overdrill : distribution or float [mm]
        Actual diameter of the hole, embedment, and full-diameter hole beyond the bar's end.
    mass_deviation : distribution or float [-]
        Relative deviation of the bar's mass from the nominal.
    voids : distribution or float [-]
        Share of the required volume that is lost into voids and cracks.
    repeat : distribution or float [-]
        Relative deviation of a shot from the set dose.
    common : tuple of str
        Names of those that all holes of a series share.
    """

    nominal: NominalHole
    d_0: Input | None = None
    mass_deviation: Input = 0.0
    l_v: Input | None = None
    overdrill: Input | None = None
    voids: Input = 0.0
    repeat: Input = 0.0
    common: tuple[str, ...] = ("d_0", "mass_deviation")

    def __post_init__(self) -> None:
        """Refuse scatter that reaches impossible values, naming the probability."""
        for name in self.common:
            if name not in INPUTS:
                raise NotAccepted(
                    f"'{name}' is called common to a series but is not an input; the inputs are: {', '.join(INPUTS)}"
                )
        for name in _LEAST:
            _require_possible(name, self.inputs[name])
        require_fit(hole=self.inputs["d_0"], bar=self.bar, at_most=AT_MOST)

    @cached_property
    def inputs(self) -> dict[str, Input]:
        """All six inputs by name; those without scatter as plain numbers."""
        drawn = {"d_0": self.nominal.d_0, "l_v": self.nominal.l_v, "overdrill": self.nominal.overdrill}
        given: dict[str, Any] = {
            name: drawn[name] if getattr(self, name) is None else getattr(self, name) for name in INPUTS
        }
        # The budget of a model that looks at nothing but its first argument: each input checked, with its mean and sd.
        parts = gum_budget(lambda d_0, **_: d_0, given, gradients=dict.fromkeys(INPUTS, 0.0)).parts
        return {part.name: part.value if part.u == 0 else given[part.name] for part in parts}

    @cached_property
    def hole_inputs(self) -> dict[str, Input]:
        """The inputs of `required` by name."""
        return {name: self.inputs[name] for name in ("d_0", "mass_deviation", "l_v", "overdrill")}

    @cached_property
    def bar(self) -> Input:
        """Mass-equivalent diameter of the bar [mm]."""
        given, phi = self.inputs["mass_deviation"], self.nominal.phi
        if isinstance(given, numbers.Real):
            return float(diameter_of_mass.function(phi=phi, mass_deviation=float(given)))
        return _BarDiameter(phi, given)  # type: ignore[arg-type]  # a Real was returned above

    def required(self, *, d_0: Any, mass_deviation: Any, l_v: Any, overdrill: Any) -> Any:
        """Required volume of actual holes, by the formulas of ``calc.fill.hole``.

        Parameters
        ----------
        d_0, l_v, overdrill : float or ndarray [mm]
            Actual diameter of the hole, embedment, full-diameter hole beyond the bar's end.
        mass_deviation : float or ndarray [-]
            Relative deviation of the bar's mass from the nominal.

        Returns
        -------
        float or ndarray [mm³]
        """
        phi = diameter_of_mass.function(phi=self.nominal.phi, mass_deviation=mass_deviation)
        return total_volume.function(
            V_a=annular_volume.function(d_0=d_0, phi=phi, l_v=l_v),
            V_o=overdrill_volume.function(d_0=d_0, overdrill=overdrill),
            V_t=tip_volume.function(d_0=d_0, theta=self.nominal.theta),
        )

    def need(self, *, voids: Any, repeat: Any, **hole: Any) -> Any:
        """Set dose at which actual holes are just full: `needed_dose` of `required`.

        Parameters
        ----------
        voids, repeat : float or ndarray [-]
            Share lost into voids and cracks, relative deviation of the shot.
        **hole : float or ndarray
            The arguments of `required`.

        Returns
        -------
        float or ndarray [mm³]
        """
        return needed_dose.function(V_req=self.required(**hole), voids=voids, repeat=repeat)

    def simulate(self, *, series: int, holes: int, seed: int) -> SimulatedHoles:
        """Draw actual holes.

        Parameters
        ----------
        series : int
            Number of series.
        holes : int
            Number of holes in each.
        seed : int
            Whole number, not negative; the same seed gives the same digits.

        Returns
        -------
        SimulatedHoles
            Arrays of the shape (series, holes).

        Raises
        ------
        NotAccepted
            For numbers that are not whole or too large, or a drawn bar that does not fit its hole.

        Notes
        -----
        A seeded generator, not Sobol points: ways of dosing compare the holes of a series with each other, so every
        hole needs draws of its own, and a point set would need as many dimensions as there are holes. The draws of an
        input are spread evenly over its distribution (Latin hypercube: one in each of as many equal shares as there are
        draws, in random order), which leaves the holes free of each other and steadies what is averaged.
        """
        for name, value, least in (("series", series, 1), ("holes", holes, 1), ("seed", seed, 0)):
            _whole(name, value, least)
        if series * holes > _MOST_HOLES:
            raise NotAccepted(
                f"{series} series of {holes} holes are more than the {_MOST_HOLES} holes that are simulated at most"
            )
        drawn = {name: self._draw(name, series, holes, seed) for name in INPUTS}
        phi = diameter_of_mass.function(phi=self.nominal.phi, mass_deviation=drawn["mass_deviation"])
        tight = int((phi >= drawn["d_0"]).sum())
        if tight:
            raise NotAccepted(
                f"{tight} of {series * holes} simulated bars do not fit their holes; give narrower limits of the hole's"
                " diameter"
            )
        required = self.required(**{name: drawn[name] for name in self.hole_inputs})
        return SimulatedHoles(scatter=self, seed=seed, phi=phi, required=required, need=self.need(**drawn), **drawn)

    def _draw(self, name: str, series: int, holes: int, seed: int) -> Array:
        given: Any = self.inputs[name]
        per_series = name in self.common
        shape = (series, 1) if per_series else (series, holes)
        if isinstance(given, numbers.Real):
            return np.full((series, holes), float(given))
        shares = even_shares(name, shape, seed)
        if name in _LEAST:
            # At most AT_MOST of the distribution lies where nothing can be: the draws are of the rest.
            below = _chance_impossible(name, given)
            shares = below + shares * (1 - below)
        values = np.asarray(given.ppf(shares.ravel()), dtype=float).reshape(shape)
        return np.repeat(values, holes, axis=1) if per_series else values


@dataclass(frozen=True, kw_only=True)
class SimulatedHoles:
    """Actual holes, arrays of the shape (series, holes); lengths [mm], volumes [mm³], shares [-].

    ``need`` is the set dose at which a hole is just full, ``required`` the volume that fills it without voids.
    """

    scatter: HoleScatter
    seed: int
    d_0: Array
    mass_deviation: Array
    l_v: Array
    overdrill: Array
    voids: Array
    repeat: Array
    phi: Array
    required: Array
    need: Array

    @property
    def series(self) -> int:
        """Number of series."""
        return self.need.shape[0]

    @property
    def holes(self) -> int:
        """Number of holes in each series."""
        return self.need.shape[1]


def even_shares(name: str, shape: tuple[int, int], seed: int) -> Array:
    """Shares between 0 and 1, both excluded, spread evenly and in random order; one stream for each drawn quantity.

    Parameters
    ----------
    name : str
        Drawn quantity.
    shape : tuple of int
        Series and holes.
    seed : int
        Whole number, not negative.

    Returns
    -------
    array [-]
    """
    count = shape[0] * shape[1]
    generator = np.random.default_rng([seed, _STREAMS[name]])
    within = (
        generator.integers(2**30, size=count) + 0.5
    ) / 2**30  # the middles of cells keep 0 and 1, hence infinity, out
    return np.asarray((generator.permutation(count) + within) / count, dtype=float).reshape(shape)


class _BarDiameter:
    """Distribution of the mass-equivalent diameter, from that of the mass."""

    def __init__(self, phi: float, mass_deviation: Distribution) -> None:
        self._phi, self._mass = phi, mass_deviation

    def _diameter(self, mass_deviation: Any) -> Any:
        return diameter_of_mass.function(phi=self._phi, mass_deviation=np.maximum(mass_deviation, -1.0))

    def _deviation(self, diameter: Any) -> Any:
        return (np.maximum(diameter, 0.0) / self._phi) ** 2 - 1

    def ppf(self, q: Any, /) -> Any:
        return self._diameter(self._mass.ppf(q))

    def isf(self, q: Any, /) -> Any:
        return self._diameter(self._mass.isf(q))

    def cdf(self, x: Any, /) -> Any:
        return self._mass.cdf(self._deviation(x))

    def sf(self, x: Any, /) -> Any:
        return self._mass.sf(self._deviation(x))

    def pdf(self, x: Any, /) -> Any:
        return self._mass.pdf(self._deviation(x)) * 2 * x / self._phi**2

    def _middles(self) -> Any:
        return self.ppf((np.arange(1024) + 0.5) / 1024)

    def mean(self) -> float:
        return float(np.mean(self._middles()))

    def std(self) -> float:
        return float(np.std(self._middles()))


def _chance_impossible(name: str, given: Input) -> float:
    _, least, reached = _LEAST[name]
    edge = float(np.nextafter(least, -np.inf)) if reached else least
    if isinstance(given, numbers.Real):
        return float(float(given) <= edge)
    return float(given.cdf(edge))  # type: ignore[union-attr]


def _require_possible(name: str, given: Input) -> None:
    what, least, reached = _LEAST[name]
    chance = _chance_impossible(name, given)
    if chance > AT_MOST:
        rule = f"cannot be {'below' if reached else 'at or below'} {least:g}"
        where = (
            f"it is {given:g}"
            if isinstance(given, numbers.Real)
            else f"with this scatter it is with probability {chance:.2g}; at most {AT_MOST:g} is accepted"
        )
        raise NotAccepted(f"{what} ('{name}') {rule}, but {where}; give limits, or a smaller sd")


def _whole(name: str, value: Any, least: int) -> None:
    if not isinstance(value, numbers.Integral) or isinstance(value, bool) or value < least:
        raise NotAccepted(f"{name} must be a whole number of at least {least}, not {value!r}")
