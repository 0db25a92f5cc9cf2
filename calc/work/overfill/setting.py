"""What is simulated for a bar group, and the numbers that come of it: equal groups are simulated once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq

from calc.base.errors import CalcError
from calc.base.identity import OVERFILL
from calc.base.sheet import Given, Notice, Origin
from calc.evidence.limits import overfill_of
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.scatter import ARGUMENTS, BarMass, GroupKeys, bit_deviation
from calc.files.schedule import BarGroup
from calc.fill import bits, hole
from calc.scatter.accepted import Array
from calc.scatter.costs import best_dose, best_dose_per_hole
from calc.scatter.inputs import Input, limits, normal
from calc.scatter.propagate import samples
from calc.scatter.shortfall import SeriesRisk, series_risk, short_probability
from calc.scatter.simulated import HoleScatter, NominalHole
from calc.scatter.spread import Spread
from calc.scatter.variance import Budget, gum_budget

HOLES = 2**15  # simulated holes: the quantile of a dose is then good to a few parts in ten thousand
_POINTS = 2**12  # points of the integration: the probability is then good to 1e-4
_SERIES, _WITHIN = 2**8, 2**5
_STEP = 0.001  # a chosen overfill is rounded up to a tenth of a per cent
_UNSEEN = 5e-7  # the integration does not resolve smaller probabilities; they are called 0
_ROUNDING = 1e-9  # a hole that misses its fill by a smaller share is full

WORDS: Mapping[str, str] = {
    "d_0": "hole diameter",
    "mass_deviation": "bar mass",
    "l_v": "embedment",
    "overdrill": "overdrill",
    "voids": "loss into voids",
    "repeat": "repeatability of the dispenser",
}
LENGTHS = ("d_0", "l_v", "overdrill")


@dataclass(frozen=True)
class Setting:
    """All that decides what is simulated for a group, and nothing else.

    Equal settings are simulated once [mm, mm³, °, -].

    ``spreads`` holds for each given input its name, then mean and sd, or least and greatest value with True.
    """

    d_0: float
    phi: float
    l_v: float
    overdrill: float
    theta: float
    spreads: tuple[tuple[str, float, float, bool], ...]
    common: tuple[str, ...]
    correlation: tuple[tuple[str, str, float], ...]
    series: int
    seed: int


def how_found(setting: Setting) -> str:
    """Say how a simulated number came about."""
    scatters = any(part.u > 0 for part in budget_of(setting).parts)
    return f"simulated: {HOLES} holes, seed {setting.seed}" if scatters else "computed, nothing scatters"


@dataclass(frozen=True)
class Simulation:
    """Simulated holes of a setting.

    Needed dose [mm³], what a shot gives of its set dose [-], ring [mm²], embedment [mm].
    """

    need: Spread
    gives: Array
    ring: Array
    l_v: Array

    def mean_overflow(self, dose: float) -> float:
        """Mean of what comes out at the mouth, over all holes [mm³]."""
        return float(np.mean(np.maximum(dose - self.need.values, 0.0) * self.gives))

    def mean_unfilled(self, dose: float) -> float:
        """Mean length of bar at the mouth that stays without adhesive, over all holes [mm]."""
        return float(np.mean(np.minimum(np.maximum(self.need.values - dose, 0.0) * self.gives / self.ring, self.l_v)))


@lru_cache(maxsize=1024)
def holes_of(setting: Setting) -> HoleScatter:
    """Return the holes of a setting; raises ValueError for scatter that reaches what cannot be."""
    given: dict[str, Input] = {}
    for name, first, second, limited in setting.spreads:
        given[name] = limits(low=first, high=second) if limited else normal(mean=first, sd=second)
    nominal = NominalHole(
        d_0=setting.d_0, phi=setting.phi, l_v=setting.l_v, overdrill=setting.overdrill, theta=setting.theta
    )
    return HoleScatter(nominal=nominal, common=setting.common, **given)


@lru_cache(maxsize=32)  # a megabyte and a half each
def simulated(setting: Setting) -> Simulation:
    """Simulate the holes of a setting, once."""
    holes = holes_of(setting)
    columns: dict[str, list[Array]] = {"need": [], "gives": [], "ring": [], "l_v": []}
    together = {(one, other): r for one, other, r in setting.correlation}
    for chunk in samples(holes.inputs, n=HOLES, seed=setting.seed, correlation=together):
        phi = bits.diameter_of_mass.function(phi=setting.phi, mass_deviation=chunk["mass_deviation"])
        columns["need"].append(holes.need(**chunk))
        columns["gives"].append(1 + chunk["repeat"])
        columns["ring"].append(hole.hole_area.function(d_0=chunk["d_0"]) - hole.bar_area.function(phi=phi))
        columns["l_v"].append(chunk["l_v"])
    whole = {name: np.concatenate(parts) for name, parts in columns.items()}
    return Simulation(Spread(whole["need"]), whole["gives"], whole["ring"], whole["l_v"])


# Single numbers are kept for far more settings than the simulated holes that they come from.


@lru_cache(maxsize=8192)
def quantile_of(setting: Setting, p: float) -> float:
    """Dose [mm³] that a share ``p`` of the simulated holes does not need more than."""
    return float(simulated(setting).need.quantile(p))


@lru_cache(maxsize=8192)
def cheapest_dose(setting: Setting, rule: str, short: float, waste: float) -> float:
    """Dose of least expected cost [mm³]; costs per mm³, that of a short hole per hole."""
    need = simulated(setting).need
    return float(best_dose(need, short, waste)) if rule == "cost_volume" else best_dose_per_hole(need, short, waste)


@lru_cache(maxsize=8192)
def mean_outcome(setting: Setting, dose: float) -> tuple[float, float]:
    """Mean overflow [mm³] and mean unfilled length [mm]."""
    holes = simulated(setting)
    return holes.mean_overflow(dose), holes.mean_unfilled(dose)


@lru_cache(maxsize=1024)
def budget_of(setting: Setting) -> Budget:
    """First-order budget of the needed dose [mm³]."""
    holes = holes_of(setting)
    return gum_budget(holes.need, holes.inputs)


@lru_cache(maxsize=8192)
def probability_of(setting: Setting, dose: float) -> float:
    """Probability that a hole stays short: one input integrated, or counted where inputs go together."""
    holes, enough = holes_of(setting), dose * (1 + _ROUNDING)
    if setting.correlation:
        chance = float(simulated(setting).need.short_probability(enough))
    else:
        chance = float(short_probability(holes.need, holes.inputs, dose=enough, n=_POINTS, seed=setting.seed))
    return chance if chance >= _UNSEEN else 0.0


@lru_cache(maxsize=4096)
def series_of(setting: Setting, dose: float) -> SeriesRisk | None:
    """Risk of short series; None where inputs go together, because then they cannot be drawn apart."""
    if setting.correlation:
        return None
    holes = holes_of(setting)
    return series_risk(
        holes.need,
        holes.inputs,
        dose=dose * (1 + _ROUNDING),
        common=setting.common,
        holes=setting.series,
        n=_SERIES,
        inner=_WITHIN,
        seed=setting.seed,
    )


@lru_cache(maxsize=4096)
def stated_overfill(setting: Setting, probability: float) -> float:
    """Least overfill, in tenths of a per cent, with which at most this share of holes stays short.

    The nominal hole is always filled.
    """
    required = holes_of(setting).nominal.required
    share = rounded_up(overfill_of(V_dose=quantile_of(setting, 1 - probability), V_req=required))
    # The quantile is simulated, the probability integrated: a last step or two may be needed for the check to hold.
    while probability_of(setting, required * (1 + share)) > probability:
        share = rounded_up(share + _STEP / 2)
    return share


def rounded_up(share: float) -> float:
    """Return a share rounded up to a tenth of a per cent.

    Below zero it is zero, because the nominal hole is always filled.
    """
    return round(max(0.0, math.ceil(round(share / _STEP, 6)) * _STEP), 6)


# ---- what the job file states ---------------------------------------------------------------------


def stated_probability(job: Job) -> Given:
    """Return the share of short holes that is accepted, with its place in the job file."""
    key = "overfill.short_probability"
    said = f"{job.path.name}, {key}" if key in job.origins else f"not given in {job.path.name}: the default"
    return Given(job.overfill.short_probability, "", said)


def factor_inputs(job: Job, n: int, holes: Origin) -> dict[str, Given]:
    """What a tolerance factor is found from: number of holes, accepted share of short holes, confidence."""
    key = "overfill.confidence"
    said = f"{job.path.name}, {key}" if key in job.origins else f"not given in {job.path.name}: the default"
    return {
        "n_hole": Given(float(n), "pcs", holes),
        "p_short": stated_probability(job),
        "confidence": Given(job.overfill.confidence, "", said),
    }


# ---- from the job to settings --------------------------------------------------------------------


@dataclass(frozen=True)
class Read:
    """A group's setting, and for each of its inputs where it comes from."""

    setting: Setting
    origins: Mapping[str, Origin]
    notices: tuple[Notice, ...]


def read_setting(job: Job, group: BarGroup) -> Read:
    """Read what decides what is simulated for a group of a job with scatter."""
    assert job.scatter is not None
    keys = job.scatter.of(group.mark)
    profile = job.measured.get(group.mark)
    hole_now = nominal_hole(job, group)
    nominal = {
        "d_0": hole_now.d_0,
        "l_v": hole_now.l_v,
        "overdrill": hole_now.overdrill,
        "mass_deviation": 0.0,
        "voids": 0.0,
        "repeat": 0.0,
    }
    columns = {"d_0": "hole_diameter", "l_v": "embedment", "overdrill": "overdrill"}
    origins = {name: Origin.of_row(job.schedule_path.name, group.row, column) for name, column in columns.items()}
    origins |= dict.fromkeys(("mass_deviation", "voids", "repeat"), Origin(f"not given in {job.path.name}: none"))
    if job.over_bit(group):
        over = Origin(
            f"{job.path.name}, {keys.place['over_bit']}", general=f"{job.path.name}, {keys.general_place('over_bit')}"
        )
        origins["d_0"] = origins["d_0"].joined(over.told(" and {}"))
    notices: list[Notice] = []
    if profile is not None:
        measured = Origin(f"{job.path.name}, measured.{group.mark}", general=f"{job.path.name}, measured.(mark)")
        origins |= {
            "d_0": measured.told("straight hole that needs as much as the measured one ({})"),
            "overdrill": measured,
        }
    spreads = []
    for key in keys.given:
        name = ARGUMENTS[key]
        first, second, limited = _numbers(keys, key, group)
        origin = _described(job, keys, key, group)
        if name == "d_0" and profile is not None:
            middle = (first + second) / 2 if limited else first
            first, second = (first - middle, second - middle) if limited else (0.0, second)
            origin = origins["d_0"].joined(origin.told("; {}, about its own middle"))
            text = (
                "one hole was measured. The other holes are taken to scatter about it as far as stated, "
                "and the mean deviation of the bit is left out, because the measured hole holds it already."
            )
            notices.append(Notice(OVERFILL, group.mark, "measured_hole", text))
        start = nominal[name]
        spreads.append((name, start + first, start + second if limited else second, limited))
        origins[name] = (
            origins[name].joined(origin.told("; {}"))
            if name == "d_0" and profile is None and job.over_bit(group)
            else origin
        )
    origins["series"] = Origin(
        f"{job.path.name}, {keys.place['series']}" if "series" in keys.place else f"not given in {job.path.name}"
    )
    given = {name for name, *_ in spreads}
    setting = Setting(
        d_0=nominal["d_0"],
        phi=group.bar.diameter,
        l_v=nominal["l_v"],
        overdrill=nominal["overdrill"],
        theta=job.equipment.point_angle,
        spreads=tuple(spreads),
        common=tuple(ARGUMENTS[key] for key in keys.common if ARGUMENTS[key] in given),
        correlation=tuple((ARGUMENTS[one], ARGUMENTS[other], r) for one, other, r in keys.correlation),
        series=keys.series,
        seed=job.scatter.seed,
    )
    return Read(setting, origins, tuple(notices))


def nominal_hole(job: Job, group: BarGroup) -> NominalHole:
    """Return the hole that a group's holes scatter about.

    As drawn, or the straight one that needs as much as the measured one.
    """
    theta, phi, l_v = job.equipment.point_angle, group.bar.diameter, group.embedment
    profile = job.measured.get(group.mark)
    if profile is None:
        return NominalHole(d_0=job.bored(group), phi=phi, l_v=l_v, overdrill=group.overdrill, theta=theta)
    overdrill = profile.end - l_v
    d_0 = _straight_diameter(profile.required(phi=phi, l_v=l_v), phi, l_v, overdrill, theta, max(profile.diameters))
    return NominalHole(d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta)


def _straight_diameter(target: float, phi: float, l_v: float, overdrill: float, theta: float, widest: float) -> float:
    def surplus(d_0: float) -> float:
        return float(hole.required_volume(d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta)) - target

    return float(brentq(surplus, phi * (1 + 1e-12), widest * 1.5, xtol=1e-11, rtol=1e-14))


def _numbers(keys: GroupKeys, key: str, group: BarGroup) -> tuple[float, float, bool]:
    """Return a deviation as mean and sd, or as limits and True."""
    if key == "hole_diameter" and keys.bit is not None:
        return (*bit_deviation(group.hole_diameter, keys.bit), True)
    spread = keys.spreads[key]
    if isinstance(spread, BarMass) and spread.standard:
        return (*bits.mass_tolerance(bar=group.bar), True)
    return spread.numbers


def _described(job: Job, keys: GroupKeys, key: str, group: BarGroup) -> Origin:
    """Say where a deviation comes from: the key, and what it says."""
    place = keys.key_of(key)
    origin = Origin(f"{job.path.name}, {place}", general=f"{job.path.name}, {keys.general_key_of(key)}")
    if key == "hole_diameter" and keys.bit is not None:
        return origin.told(f"{{}}: {bits.bit_note(nominal=group.hole_diameter, state=keys.bit)}")
    if key == "bar_mass" and place in job.origins:
        low, high = bits.mass_tolerance(bar=group.bar)
        tolerance = group.bar.standard.mass_tolerance
        assert tolerance is not None
        return origin.told(f"{{}}: standard, {low:g} to {high:g}, every value as likely ({tolerance.source})")
    typed = {
        name: job.origins[f"{place}.{name}"]
        for name in ("mean", "sd", "low", "high")
        if f"{place}.{name}" in job.origins
    }
    return origin.told(f"{{}}: deviation {', '.join(f'{name} {text}' for name, text in typed.items())}")


def hole_scatter(job: Job, group: BarGroup) -> HoleScatter:
    """Return what the actual holes of a group are like; raises `InputErrors` when that cannot be."""
    return holes_of(read_setting(job, group).setting)


def refuse_impossible(job: Job, groups: Iterable[BarGroup] | None = None) -> None:
    """Raise `InputErrors` for scatter that reaches what cannot be, such as a bar thicker than its hole.

    With its probability.
    """
    problems: dict[str, Problem] = {}
    for group in job.groups if groups is None else groups:
        read = read_setting(job, group)
        try:
            holes_of(read.setting)
        except CalcError as error:
            key, message = _blamed(job, group, str(error)), f"{error} (group {group.mark})"
            problems.setdefault(f"{key}: {error}", Problem(job.path.name, f"key {key}", "", message))
    if problems:
        raise InputErrors(problems.values())


def _blamed(job: Job, group: BarGroup, message: str) -> str:
    """Return the key that most likely has to change."""
    assert job.scatter is not None
    keys = job.scatter.of(group.mark)
    named = next((key for key, name in ARGUMENTS.items() if f"('{name}')" in message and key in keys.given), None)
    if named is None:
        named = next((key for key in ("hole_diameter", "bar_mass") if key in keys.given), None)
    return "scatter" if named is None else keys.key_of(named)
