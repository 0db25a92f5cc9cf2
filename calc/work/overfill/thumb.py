"""Half to two thirds, a rule of thumb (common practice, no source): what it does to four pairs of bar and hole."""

from __future__ import annotations

from dataclasses import dataclass

from calc.base.bars import Bar, find_bar
from calc.base.display import Display
from calc.base.units import convert
from calc.fill.filling import Filling, filled
from calc.fill.level import full_fraction
from calc.scatter.ways import filled_to

SHARES = (1 / 2, 2 / 3)
# Holes drilled for bars, from wide for their bar to narrow; invented as examples, each in sizes that exist.
_METRIC = (("8", 12.0), ("12", 16.0), ("20", 25.0), ("25", 30.0))
_US = (("#4", 0.75), ("#6", 1.0), ("#8", 1.25), ("#9", 1.375))


@dataclass(frozen=True)
class RuledHole:
    """A straight hole and its bar, filled to each of `SHARES` of its depth; lengths [mm], volumes [mm³].

    ``needed`` is the share of the depth that fills it exactly [-].
    """

    bar: Bar
    d_0: float
    l_v: float
    needed: float
    fillings: tuple[Filling, ...]


def four_holes(display: Display) -> tuple[RuledHole, ...]:
    """Fill four holes of one depth to half and to two thirds, then push their bars home.

    Parameters
    ----------
    display
        Whose sizes are usual.

    Returns
    -------
    tuple of RuledHole
        From the hole that needs most of its depth to that which needs least.
    """
    pairs, unit, l_v = display.usual((_METRIC, "mm", 200.0), (_US, "in", 203.2))
    holes = []
    for name, size in pairs:
        bar, d_0 = find_bar(name), convert(size, unit, "mm")
        volumes = [float(filled_to(V_t=0.0, d_0=d_0, l_hole=l_v, f_fill=share)) for share in SHARES]
        fillings = tuple(
            filled(
                d_0=d_0,
                phi=bar.diameter,
                l_v=l_v,
                volume=volume,
                least_gap=display.least_length,
                least_overflow=display.least_volume,
            )
            for volume in volumes
        )
        holes.append(RuledHole(bar, d_0, l_v, float(full_fraction(d_0=d_0, phi=bar.diameter)), fillings))
    return tuple(sorted(holes, key=lambda one: -one.needed))
