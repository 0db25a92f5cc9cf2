"""The numbers of the lesson.

Every one comes from a function of `calc.fill`, `calc.strength` or `calc.work`; nothing is computed twice.

Lengths in mm, volumes in mm³, forces in N, times in min, temperatures in °C. Holes of the lesson have a flat bottom, so
that they can be worked by hand; the holes that are simulated, and one exercise, have the drill's tip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from calc.base.bars import find_bar
from calc.base.display import Display, System
from calc.base.sheet import Given, Step, apply
from calc.base.units import convert
from calc.evidence.limits import Limit, overfill_of, upper_limits, volume_of_mass
from calc.evidence.readings import Summary, ratios, summary
from calc.files.job import Job, demo_job
from calc.files.schedule import read_values
from calc.files.strict import tidy
from calc.fill.bits import STATES, bit_limits, bit_sizes
from calc.fill.cure import Reading, read_safe
from calc.fill.dose import dose
from calc.fill.dust import Control, controls, drilled_mass
from calc.fill.hole import annular_volume, bar_area, hole_area, required_volume
from calc.fill.level import (
    full_fraction,
    length_of_shortfall,
    overflow,
    shortfall,
    surface_depth,
    surplus,
    unfilled_length,
)
from calc.scatter.simulated import SimulatedHoles, left_for_hole, needed_dose
from calc.scatter.ways import amount_of_dose, amount_of_first_hole, filled_to, outcome
from calc.strength.aci318_19 import development_chain
from calc.strength.en1992_2004 import anchorage_chain
from calc.strength.short.bar import ShortBar, short_chain
from calc.strength.short.law import BondLaw, capacity_check, law_2004, law_aci
from calc.strength.short.length import Void, bonded_length_left
from calc.work.load import load_job
from calc.work.overfill.setting import hole_scatter

CONCRETE = 2400.0  # kg/m³, density of common concrete; common practice, no source
SHARE, CONFIDENCE = 0.95, 0.95
LEAST_SHOT, MOST_SHOT = 0.5, 1.5  # of its setting: what `needed_dose` takes
SERIES = 200  # simulated classes, over which a share of short holes is taken


@dataclass(frozen=True)
class Pair:
    """A bar in its hole: designation, diameter of the bar, diameter of the hole, embedment [mm]."""

    bar: str
    d_0: float
    l_v: float

    @property
    def phi(self) -> float:
        """Nominal diameter of the bar [mm]."""
        return find_bar(self.bar).diameter

    @property
    def size(self) -> dict[str, float]:
        """The arguments that the functions of `calc.fill` take."""
        return {"d_0": self.d_0, "phi": self.phi, "l_v": self.l_v}


def pairs_of(
    system: System, metric: Sequence[tuple[str, float, float]], us: Sequence[tuple[str, float, float]]
) -> list[Pair]:
    """Return bars with their holes, listed as designation, hole and embedment in mm or in inches."""
    unit = Display(system).length_unit
    sizes = Display(system).usual(metric, us)
    return [Pair(bar, tidy(convert(hole, unit, "mm")), tidy(convert(depth, unit, "mm"))) for bar, hole, depth in sizes]


def _inch(value: float) -> float:
    return tidy(convert(value, "in", "mm"))


@dataclass(frozen=True)
class Examples:
    """The bars and holes that the lesson is told with, in sizes that are sold."""

    main: Pair
    small: Pair
    deep: Pair
    pushed: Pair
    others: tuple[Pair, ...]
    small_step: float
    widest: float


def examples(system: System) -> Examples:
    """Return the lesson's bars and holes in metric or US sizes [mm].

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    """
    others = (Pair("12", 16.0, 150.0), Pair("20", 25.0, 250.0), Pair("25", 32.0, 300.0))
    metric = Examples(
        Pair("16", 20.0, 200.0),
        Pair("8", 12.0, 100.0),
        Pair("16", 20.0, 320.0),
        Pair("20", 24.0, 200.0),
        others,
        0.1,
        25.0,
    )
    us = Examples(
        Pair("#5", _inch(3 / 4), _inch(8)),
        Pair("#3", _inch(9 / 16), _inch(4)),
        Pair("#5", _inch(3 / 4), _inch(16)),
        Pair("#7", _inch(1.0), _inch(8)),
        (Pair("#4", _inch(5 / 8), _inch(6)), Pair("#6", _inch(7 / 8), _inch(9)), Pair("#8", _inch(9 / 8), _inch(12))),
        _inch(1 / 64),
        _inch(1.0),
    )
    return Display(system).usual(metric, us)


@lru_cache(maxsize=4)
def demo(system: System) -> Job:
    """Return the demo job that the lesson takes its invented adhesive and its scatter from."""
    return load_job(demo_job(system))


# ---- what is in the hole -------------------------------------------------------------------------


@dataclass(frozen=True)
class Ring:
    """Volumes of the hole without the bar, of the bar in it, and of what is left: the ring [mm³]."""

    hole: float
    bar: float
    ring: float


def content(*, d_0: float, length: float, share: float = 1.0) -> float:
    """Volume of a straight hole that is filled to a share of its length [mm³]."""
    return float(filled_to(V_t=0.0, d_0=d_0, l_hole=length, f_fill=share))


def ring(pair: Pair) -> Ring:
    """Return what a hole, its bar, and the ring between them hold."""
    return Ring(
        content(d_0=pair.d_0, length=pair.l_v),
        content(d_0=pair.phi, length=pair.l_v),
        float(annular_volume(**pair.size)),
    )


def ring_steps(pair: Pair, system: System, origin: str) -> tuple[Step, ...]:
    """Work the ring by hand: hole, bar, and the ring between them, typeset."""
    given = {name: Given(value, "mm", origin) for name, value in pair.size.items()}
    return (
        apply(hole_area, name="A_0", label="hole", inputs={"d_0": given["d_0"]}, display=Display(system)),
        apply(bar_area, name="A_s", label="bar", inputs={"phi": given["phi"]}, display=Display(system)),
        apply(annular_volume, name="V_a", label="ring", inputs=given, display=Display(system)),
    )


# ---- same bar, other hole ------------------------------------------------------------------------


def more(value: float, than: float) -> float:
    """Return how much more one volume is than another, as a share [-]."""
    return float(overfill_of(V_dose=value, V_req=than))


@dataclass(frozen=True)
class OtherHole:
    """A hole that is not the one that was planned.

    What it needs, how much more that is, and what the planned dose does in it.
    """

    needed: float
    planned: float
    more: float
    bare: float
    spilt: float


def other_hole(pair: Pair, d_0: float) -> OtherHole:
    """Give a hole of another diameter the volume that the planned one takes.

    Parameters
    ----------
    pair
        Bar and planned hole.
    d_0 : float [mm]
        Diameter that was drilled.

    Returns
    -------
    OtherHole
    """
    planned, needed = required_volume(**pair.size), required_volume(d_0=d_0, phi=pair.phi, l_v=pair.l_v)
    drilled = {"d_0": d_0, "phi": pair.phi, "l_v": pair.l_v}
    return OtherHole(
        needed,
        planned,
        more(needed, planned),
        unfilled_length(V=planned, **drilled),
        overflow(V=planned, x=pair.l_v, **drilled),
    )


def bit_rows(pair: Pair) -> tuple[tuple[str, float, float, OtherHole], ...]:
    """Return for each state of the bit its limits [mm] and what its largest hole does.

    None where the size is not listed. Bits from memory.
    """
    if pair.d_0 not in bit_sizes():
        return ()
    found = [(state, *bit_limits(nominal=pair.d_0, state=state)) for state in STATES]
    return tuple((state, low, high, other_hole(pair, high)) for state, low, high in found)


# ---- half full or two thirds ---------------------------------------------------------------------


@dataclass(frozen=True)
class Filled:
    """A hole filled to a share of its depth before the bar: what that is, and what it is against what is needed."""

    volume: float
    needed_share: float
    more: float
    bare: float
    spilt: float


def filled(pair: Pair, share: float) -> Filled:
    """Fill a hole to a share of its depth, then push the bar home.

    Parameters
    ----------
    pair
        Bar and hole.
    share : float [-]
        Share of the hole's depth that is filled before the bar.

    Returns
    -------
    Filled
    """
    volume = content(d_0=pair.d_0, length=pair.l_v, share=share)
    return Filled(
        volume,
        float(full_fraction(d_0=pair.d_0, phi=pair.phi)),
        more(volume, required_volume(**pair.size)),
        unfilled_length(V=volume, **pair.size),
        overflow(V=volume, x=pair.l_v, **pair.size),
    )


def between(pairs: Sequence[Pair], low: float = 1 / 2, high: float = 2 / 3) -> list[tuple[Pair, float]]:
    """Return the pairs whose right share of the depth lies within a rule of thumb's, with that share [-]."""
    shares = [(pair, float(full_fraction(d_0=pair.d_0, phi=pair.phi))) for pair in pairs]
    return [(pair, share) for pair, share in shares if low <= share <= high]


# ---- push the bar in -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Pushed:
    """A bar on its way in: what was injected, where the mortar stands, what came out, and how it will end."""

    volume: float
    surface: float
    spilt: float
    bare_home: float


def given(needed: float, overfill: float) -> float:
    """Volume of a shot that gives a share more, or with a negative share less, than what is needed [mm³].

    -0.5 to 0.5.
    """
    return float(left_for_hole(V_dose=needed, repeat=overfill, V_req=needed, voids=0.0))


def pushed(pair: Pair, x: float, overfill: float) -> Pushed:
    """Push a bar to a depth into a hole that got its dose.

    Parameters
    ----------
    pair
        Bar and hole.
    x : float [mm]
        Depth of the bar's end.
    overfill : float [-]
        Share that was injected beyond what the hole needs; negative for too little.

    Returns
    -------
    Pushed
    """
    needed = required_volume(**pair.size)
    volume = given(needed, overfill)
    return Pushed(
        volume,
        surface_depth(V=volume, x=x, **pair.size),
        overflow(V=volume, x=x, **pair.size),
        unfilled_length(V=volume, **pair.size),
    )


# ---- the air pocket ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Pocket:
    """What is shut in at the back of the hole, by the assumption that none of it gets out.

    Volume of it [mm³], length of bar that it takes [mm], what comes out at the mouth with it [mm³],
    bonded length that is left [mm].
    """

    volume: float
    bare: float
    spilt: float
    bonded: float


def shut_in(pair: Pair, volume: float) -> float:
    """Length of the ring that a volume takes at the back of the hole [mm], at most the embedment."""
    return min(float(length_of_shortfall(V_short=volume, d_0=pair.d_0, phi=pair.phi)), pair.l_v)


def pocket(pair: Pair, start: float, overfill: float) -> Pocket:
    """Start injecting a distance away from the back of the hole; the air behind stays there.

    Parameters
    ----------
    pair
        Bar and hole.
    start : float [mm]
        Distance from the back of the hole to the nozzle when injecting began.
    overfill : float [-]
        Share that was injected beyond what the hole needs.

    Returns
    -------
    Pocket
        An assumption drives it: all of that air stays at the back, none gets past the mortar.
    """
    air = content(d_0=pair.d_0, length=start)
    needed = required_volume(**pair.size)
    volume = dose(V_req=needed, overfill=overfill)
    bare = shut_in(pair, air)
    return Pocket(
        air,
        bare,
        # Air and mortar together are more than the hole holds; the mortar gives way at the mouth.
        float(surplus(V=volume + air, V_req=needed)),
        bonded_length_left(u=0.0, l_v=pair.l_v, voids=[Void(pair.l_v - bare, bare)] if bare else []),
    )


# ---- the short hole ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Held:
    """What the bar of the short hole must carry [N], the law that it carries by.

    And what the code says of the full hole.
    """

    law: BondLaw
    N_Ed: float


@lru_cache(maxsize=4)
def held(system: System) -> Held:
    """Return the bar of the short hole: invented load, concrete and cover, no product's bond factor.

    Parameters
    ----------
    system
        ``"metric"``: EN 1992-1-1:2004; ``"us"``: ACI 318-19.

    Returns
    -------
    Held
    """
    return Display(system).usual(_held_2004, _held_aci)(examples(system).deep)


def _held_2004(pair: Pair) -> Held:
    chain = anchorage_chain(phi=pair.phi, f_ck=25.0, sigma_sd=200.0, good_bond=True, k_b=1.0, alpha_lb=1.5)
    return Held(law_2004(chain=chain, f_yd=500 / 1.15), 40_000.0)


def _held_aci(pair: Pair) -> Held:
    chain = development_chain(d_b=convert(pair.phi, "mm", "in"), f_y=60_000.0, f_c=4_000.0, c_b=1.6, psi_s=0.8)
    return Held(law_aci(chain=chain), convert(15_500.0, "lbf", "N"))


@dataclass(frozen=True)
class Short:
    """A hole with some of its mortar missing.

    Volume that is missing, bare and bonded length, force that is left, and the check.
    """

    missing: float
    bar: ShortBar
    full: float
    N_Ed: float
    passes: bool
    utilisation: float | None
    advice: str


def short(system: System, missing_share: float) -> Short:
    """Take a share of the mortar away and see what the bar still holds.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    missing_share : float [-]
        Share of the mortar that is missing.

    Returns
    -------
    Short
    """
    pair, bar = examples(system).deep, held(system)
    needed = required_volume(**pair.size)
    missing = float(shortfall(V_req=needed, V=given(needed, -missing_share)))
    one = short_chain(law=bar.law, V_short=missing, d_0=pair.d_0, l_v=pair.l_v)
    full = short_chain(law=bar.law, V_short=0.0, d_0=pair.d_0, l_v=pair.l_v)
    check = capacity_check(name="N", law=bar.law, l_b=one.l_b, N_Ed=bar.N_Ed)
    return Short(missing, one, full.N_R, bar.N_Ed, check.passes, check.utilisation, check.advice)


def lost_at(system: System) -> float:
    """Find the share of missing mortar at which the bar no longer reaches its force.

    In the steps of the scene's slider.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.

    Returns
    -------
    float [-]
    """
    steps = (convert(float(step), "%", "") for step in range(51))
    return next(share for share in steps if not short(system, share).passes)


# ---- by eye --------------------------------------------------------------------------------------


def weighed(mass: float, density: float) -> float:
    """Volume [mm³] of a mass [g] at a density [g/mL]."""
    return convert(float(volume_of_mass(mass=mass, density=density)), "mL", "mm³")


@dataclass(frozen=True)
class Guesses:
    """What a class injected by eye, against the hole as drawn and against holes as they are drilled. Volumes [mm³].

    ``drilled_short`` is for holes that were simulated, one for each entry; ``again_…`` for the
    first entry's amount in all of them.
    """

    values: tuple[float, ...]
    needed: float
    short: tuple[bool, ...]
    bare: tuple[float, ...]
    spilt: tuple[float, ...]
    median: float
    drilled_short: int
    again_short: int
    again_spilt: float

    @property
    def count_short(self) -> int:
        """Number of holes, as drawn, that stay short."""
        return sum(self.short)

    @property
    def total_spilt(self) -> float:
        """What came out at the mouths of the holes as drawn [mm³]."""
        return sum(self.spilt)


@lru_cache(maxsize=16)
def drilled(system: System, *, series: int, holes: int, seed: int) -> SimulatedHoles:
    """Simulate the holes of classes: the demo's bit, bars and depth scatter, drilled for the lesson's main bar."""
    pair = examples(system).main
    typed = {"bar": pair.bar, "hole_diameter": f"{pair.d_0:.10g} mm", "embedment": f"{pair.l_v:.10g} mm"}
    return hole_scatter(demo(system), read_values(typed)).simulate(series=series, holes=holes, seed=seed)


def guesses(system: System, values: Sequence[float], seed: int) -> Guesses:
    """Judge what a class injected.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    values : sequence of float [mm³]
        Amounts in the order in which they were given, at least one.
    seed
        Of the simulated holes.

    Returns
    -------
    Guesses
    """
    pair = examples(system).main
    needed = required_volume(**pair.size)
    amounts = np.asarray(values, dtype=float)
    bare = np.asarray(unfilled_length(V=amounts, **pair.size))
    spilt = np.asarray(overflow(V=amounts, x=pair.l_v, **pair.size))
    holes = drilled(system, series=1, holes=len(amounts), seed=seed)
    done = outcome(holes=holes, injected=amounts.reshape(1, -1))
    again = outcome(holes=holes, injected=amount_of_dose(holes=holes, V_dose=float(amounts[0])))
    return Guesses(
        tuple(amounts.tolist()),
        needed,
        tuple((bare > 0).tolist()),
        tuple(bare.tolist()),
        tuple(spilt.tolist()),
        float(np.median(amounts)),
        int(done.short.sum()),
        int(again.short.sum()),
        float(again.waste.sum()),
    )


# ---- the first hole again ------------------------------------------------------------------------


@dataclass(frozen=True)
class Again:
    """Many series in which the first hole's amount was used again.

    Short holes in a hundred, waste per hole and unfilled worst [mm³, mm]; of one row in the middle, what stays bare
    [mm] and what comes out [mm³] at each hole.
    """

    short_per_100: float
    waste: float
    worst: float
    one_bare: tuple[float, ...]
    one_spilt: tuple[float, ...]


def first_again(system: System, *, margin: float, holes: int, seed: int) -> Again:
    """Use the first hole's amount, with a margin, for the holes after it.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    margin : float [-]
        Share that is added to what filled the first hole.
    holes
        Number of holes in a series, the first one included.
    seed
        Of the simulation.

    Returns
    -------
    Again
        Of the holes after the first.
    """
    found = drilled(system, series=SERIES, holes=holes, seed=seed)
    done = outcome(holes=found, injected=amount_of_first_hole(holes=found, first_margin=margin))
    after = done.short[:, 1:]
    middle = int(
        np.argmin(np.abs(after.mean(axis=1) - after.mean()))
    )  # the row to draw: not a lucky one and not an unlucky one
    return Again(
        100 * float(after.mean()),
        float(done.waste[:, 1:].mean()),
        float(done.unfilled[:, 1:].max()),
        tuple(done.unfilled[middle].tolist()),
        tuple(done.waste[middle].tolist()),
    )


# ---- discard and gel -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Paused:
    """A break with a mixer on the pack: how long the mortar stays workable, and what becomes of the mixer's content."""

    reading: Reading
    stiff: bool
    mixer: float
    discard: float
    share: float
    start_share: float
    bare: float


def paused(system: System, *, minutes: float, T: float) -> Paused:
    """Take a break; when it is longer than the working time, the mixer's content is what the next hole would get first.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``: which of the demo's two invented adhesives.
    minutes : float [min]
        Length of the break.
    T : float [°C]
        Temperature of mixer and concrete.

    Returns
    -------
    Paused
    """
    job, pair = demo(system), examples(system).main
    assert job.adhesive.working is not None
    reading = read_safe(table=job.adhesive.working, T=T)
    mixer, needed = job.adhesive.content_of_mixer(pair.l_v), required_volume(**pair.size)
    discard = float(job.equipment.discard_per_mixer or 0.0)
    share, start = ratios(values=[mixer, discard], V_req=needed)
    return Paused(reading, minutes >= reading.time, mixer, discard, share, start, shut_in(pair, mixer))


# ---- dust and skin -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Drilled:
    """Concrete that comes out of holes [g], and the controls that the rule lists for a way of drilling."""

    mass: float
    controls: tuple[Control, ...]


def dust(system: System, *, count: int, method: str, blown: bool) -> Drilled:
    """Return what drilling brings out, and what is asked for against it.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    count
        Number of holes.
    method
        ``"drill"`` or ``"drill with extraction"``.
    blown
        Whether the holes are blown out.

    Returns
    -------
    Drilled
    """
    pair = examples(system).main
    volume = content(d_0=pair.d_0, length=pair.l_v)
    mass = float(drilled_mass(V_drill=volume * count, rho_con=CONCRETE))
    return Drilled(mass, controls(method=method, actions=("blow",) if blown else ()))  # type: ignore[arg-type]


# ---- ten shots -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Shots:
    """Weighed shots of one setting.

    What they were, how they scatter, and the overfill that this scatter alone asks for.

    ``limit`` is the set dose [mm³] at which, with the stated confidence, the stated share of such shots fills the hole;
    ``overfill`` is that dose over what the hole needs.
    """

    values: tuple[float, ...]
    setting: float
    summary: Summary
    spread: float
    offset: float
    limit: Limit
    overfill: float

    @cached_property
    def under(self) -> int:
        """Number of shots below the setting."""
        return sum(value < self.setting for value in self.values)


def shots(system: System, values: Sequence[float], setting: float) -> Shots:
    """Read scatter and overfill off weighed shots.

    Parameters
    ----------
    system
        ``"metric"`` or ``"us"``.
    values : sequence of float [mm³]
        What was weighed, at least two.
    setting : float [mm³]
        What the dispenser was set to.

    Returns
    -------
    Shots

    Raises
    ------
    NotAccepted
        Fewer than two shots, or a shot that is less than half or more than one and a half times its setting.

    Notes
    -----
    Each shot says what set dose would have just filled the hole (`needed_dose`); a tolerance limit of these doses
    covers the shots to come.
    """
    pair = examples(system).main
    needed = required_volume(**pair.size)
    found = np.asarray(values, dtype=float)
    doses = needed_dose(V_req=needed, voids=0.0, repeat=overfill_of(V_dose=found, V_req=setting))
    told = summary(values=found)
    limit = upper_limits(values=doses, share=SHARE, confidence=CONFIDENCE).tolerance
    assert limit.high is not None
    (spread,) = ratios(values=[told.sd or 0.0], V_req=told.mean)
    return Shots(
        tuple(found.tolist()), setting, told, spread, more(told.mean, setting), limit, more(limit.high, needed)
    )
