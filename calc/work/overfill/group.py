"""What is known of the overfill of one bar group: the ways to find it, the one that is chosen, and what doses then do.

These are results: the pictures, panels and pages of notebook 02 read them and work nothing out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from calc.base.sheet import Notice, Origin
from calc.fill.dose import rounded_dose
from calc.scatter.accepted import Array
from calc.scatter.sensitivity import Swing, WasteLines, tornado, waste_lines, waste_tornado
from calc.scatter.shortfall import SeriesRisk
from calc.scatter.simulated import HoleScatter
from calc.scatter.spread import Spread
from calc.scatter.variance import Budget
from calc.work.overfill.setting import Setting, budget_of, holes_of, probability_of, simulated

RULES: Mapping[str, str] = {
    "share": "fixed share",
    "probability": "stated probability of a short hole",
    "cost_volume": "least cost, each missing volume counted",
    "cost_hole": "least cost, each short hole counted",
    "measured": "measured holes, taken as normal",
    "measured_free": "measured holes, whatever their distribution",
}

LEAST_SHORT = 1e-4  # smallest share of short holes that a curve follows
SWING_SHARE = 0.9  # share of an input's values between the ends of its swing
_CURVE_POINTS, _LINE_POINTS = 161, 121


@dataclass(frozen=True)
class Option:
    """One way to find an overfill: its share, or None and the reason why the job gives nothing for it."""

    rule: str
    share: float | None
    reason: str

    @property
    def name(self) -> str:
        """The way in words."""
        return RULES[self.rule]


@dataclass(frozen=True)
class Choice:
    """The overfill that a group gets: its share, where it comes from, why, by which rule.

    ``options`` are all ways side by side.

    ``rule`` is a key of `RULES`, or ``"own"`` for the share in the group's row of the schedule.
    """

    share: float
    origin: Origin
    reason: str
    rule: str
    options: tuple[Option, ...] = field(default=(), repr=False)

    def option(self, rule: str) -> Option:
        """Return one of the ways; raises `KeyError`."""
        return {option.rule: option for option in self.options}[rule]


@dataclass(frozen=True)
class Curve:
    """What doses do: overfill [-], dose [mm³], probability of a short hole [-], mean overflow [mm³].

    Mean unfilled length [mm].
    """

    overfill: Array
    dose: Array
    short: Array
    overflow: Array
    unfilled: Array


@dataclass(frozen=True)
class DoseOutcome:
    """What one dose [mm³] does: the overfill that it is [-], share of short holes [-], mean waste of a hole [mm³]."""

    dose: float
    share: float
    short: float
    waste: float


@dataclass(frozen=True)
class Settled(DoseOutcome):
    """One overfill that the job gives: the rule that finds it, and whether it is the one chosen."""

    rule: str
    chosen: bool

    @property
    def name(self) -> str:
        """The rule in words."""
        return RULES[self.rule]


@dataclass(frozen=True)
class GroupScatter:
    """Scatter of one bar group and what its rounded dose does with it; volumes [mm³], lengths [mm].

    ``probability`` is that of a short hole with the rounded dose, ``stated`` the greatest one that is accepted.
    """

    mark: str
    count: int
    setting: Setting
    origins: Mapping[str, Origin]
    choice: Choice
    required: float
    dose: float
    stated: float
    probability: float
    mean_overflow: float
    mean_unfilled: float
    series: SeriesRisk | None
    notices: tuple[Notice, ...] = ()

    @property
    def scatter(self) -> HoleScatter:
        """The holes, for other models such as ways of dosing and sensitivities."""
        return holes_of(self.setting)

    @property
    def need(self) -> Spread:
        """The simulated dose that each hole needs."""
        return simulated(self.setting).need

    @property
    def budget(self) -> Budget:
        """The first-order budget of the needed dose."""
        return budget_of(self.setting)

    @property
    def options(self) -> tuple[Option, ...]:
        """All ways to find an overfill, side by side."""
        return self.choice.options

    def probability_of(self, dose: float) -> float:
        """Return the probability of a short hole with another dose [mm³], integrated."""
        return probability_of(self.setting, float(dose))

    def outcome(self, dose: float) -> tuple[float, float, float]:
        """Return for another dose [mm³].

        Probability of a short hole [-], mean overflow [mm³], mean unfilled length [mm]; simulated.
        """
        holes = simulated(self.setting)
        return float(holes.need.short_probability(dose)), holes.mean_overflow(dose), holes.mean_unfilled(dose)

    @cached_property
    def settled(self) -> tuple[Settled, ...]:
        """Every overfill that the job gives, with short holes (integrated) and mean waste (simulated)."""
        chosen = "share" if self.choice.rule == "own" else self.choice.rule
        found = []
        for option in self.options:
            if option.share is not None:
                dose = self.required * (1 + option.share)
                short, waste = self.probability_of(dose), self.outcome(dose)[1]
                found.append(Settled(dose, option.share, short, waste, option.rule, option.rule == chosen))
        return tuple(found)

    @property
    def rounded(self) -> DoseOutcome:
        """What the job's rounded dose does."""
        return DoseOutcome(self.dose, self.dose / self.required - 1, self.probability, self.mean_overflow)

    def at_overfill(self, share: float) -> DoseOutcome:
        """What the dose of an overfill [-] does, before it is rounded; simulated."""
        dose = self.required * (1 + share)
        short, waste, _ = self.outcome(dose)
        return DoseOutcome(dose, share, short, waste)

    def rounded_up(self, dose: float, step: float) -> DoseOutcome:
        """What a dose does once it is rounded up to whole steps of the dispenser [mm³].

        Its short holes are integrated.
        """
        rounded = float(rounded_dose(V_dose=dose, graduation=step))
        return DoseOutcome(rounded, rounded / self.required - 1, self.probability_of(rounded), self.outcome(rounded)[1])

    def keeps(self, outcome: DoseOutcome) -> bool:
        """Whether a dose keeps the share of short holes that is accepted."""
        return outcome.short <= self.stated

    @cached_property
    def whole_curve(self) -> Curve:
        """The curve past all overfills that the job gives and past the last short hole, but not for ever."""
        last = float(self.need.quantile(1 - LEAST_SHORT / 2)) / self.required - 1
        high, rounded = 1.12 * max(last, *(one.share for one in self.settled), 0.05), self.rounded.share
        if rounded < 2.5 * high:
            high = max(high, 1.06 * rounded)
        return self.curve(np.linspace(0.0, high, _CURVE_POINTS))

    @property
    def series_alone(self) -> float | None:
        """Probability that a series has a short hole, if nothing were common to its holes."""
        return None if self.series is None else 1 - (1 - self.probability) ** self.series.holes

    @cached_property
    def swings(self) -> tuple[tuple[Swing, ...], tuple[Swing, ...]]:
        """How far each input alone moves the needed dose, and the waste of the rounded one."""
        holes = self.scatter
        return (
            tornado(holes.need, holes.inputs, share=SWING_SHARE),
            waste_tornado(holes, V_dose=self.dose, share=SWING_SHARE),
        )

    @cached_property
    def lines(self) -> tuple[WasteLines, WasteLines]:
        """Waste against diameter and embedment: for the rounded dose, and for a dose that follows the hole."""
        hole = self.scatter.nominal
        narrow = max(0.975 * hole.d_0, hole.phi + 0.1 * (hole.d_0 - hole.phi))
        d_0 = np.linspace(narrow, 1.06 * hole.d_0, _LINE_POINTS)
        l_v = np.linspace(0.85 * hole.l_v, 1.30 * hole.l_v, _LINE_POINTS)
        return (
            waste_lines(nominal=hole, d_0=d_0, l_v=l_v, V_dose=self.dose),
            waste_lines(nominal=hole, d_0=d_0, l_v=l_v, overfill=self.choice.share),
        )

    def curve(self, overfills: Any) -> Curve:
        """Return what each overfill [-] does, the dose not rounded; simulated."""
        shares = np.atleast_1d(np.asarray(overfills, dtype=float))
        doses = self.required * (1 + shares)
        rows = np.array([self.outcome(float(dose)) for dose in doses]).reshape(len(doses), 3)
        return Curve(shares, doses, rows[:, 0], rows[:, 1], rows[:, 2])
