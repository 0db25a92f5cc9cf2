"""What the two codes for anchors share: how a group of bars lies between its edges, and what is said of every anchor.

A bar is an anchor when concrete in tension takes its force: no bar laps with it and no strut meets it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.sheet import Given

Edges = Sequence[float | None]
Spacings = tuple[float, int, float, int]

NOT_COVERED = (
    "Shear on the bars is not covered: whoever verifies it has to be named.",
    "Seismic action, fatigue and fire are not covered.",
    "The member that carries the pull is not checked here, for shear or for bending (EN 1992-4, Annex A).",
    "The method for bond splitting of bars set in old concrete (EOTA TR 069) is not used.",
)
TAU = (
    "The bond strength is the one that the product's assessment gives for anchors (EAD 330499; ACI 355.4 in the US). "
    "The bond strength or the bond efficiency factor of an assessment for post-installed bars (EAD 330087) is another "
    "quantity and must not take its place."
)
BLOW_OUT = "Blow-out at the side face does not apply: a straight bar has no head that bears on the concrete."
NO_PLATE = "No compressed plate is counted on: the factor psi_M,N of EN 1992-4 stays 1."
EXTENDED = (
    "More than three bars in a line: EN 1992-4 knows groups of up to 3 by 3; "
    "the same formulas are extended to this one."
)
DEPTH = (
    "Embedment beyond 20 bar diameters counts as 20 diameters: longer anchors are outside what the tests behind the "
    "formulas cover."
)

_AT = ("left", "right", "below", "above")
_KEYS = ("c_x1", "c_x2", "c_y1", "c_y2")


@dataclass(frozen=True)
class Group:
    """A single bar, a row or a grid of bars between up to four edges; lengths in the unit of the code that is used.

    Attributes
    ----------
    edges
        Distances of the outer bars' centres from the edges left, right, below and above; None is far.
    s_x, n_x, s_y, n_y
        Centre spacing and number of bars in a line, in the two directions; the spacing is 0 where there is one bar.
    e_x, e_y
        Distances of the resultant pull from the centre of the bars.
    """

    edges: tuple[float | None, float | None, float | None, float | None]
    s_x: float
    n_x: int
    s_y: float
    n_y: int
    e_x: float = 0.0
    e_y: float = 0.0

    @property
    def bars(self) -> int:
        """Number of bars."""
        return self.n_x * self.n_y

    @property
    def extended(self) -> bool:
        """True beyond the groups of 3 by 3 that EN 1992-4 knows."""
        return max(self.n_x, self.n_y) > 3

    @property
    def nearest(self) -> float | None:
        """Distance of the nearest edge; None when all are far."""
        return min((c for c in self.edges if c is not None), default=None)

    def nearer_than(self, c_cr: float) -> list[float]:
        """Distances of the edges that are nearer than ``c_cr``."""
        return [c for c in self.edges if c is not None and c < c_cr]

    def largest_spacing(self, most: float) -> float:
        """Largest spacing in the group, at most ``most``; 0 for a single bar."""
        return min(max(self.s_x, self.s_y), most)

    def largest(self, chain: Steps, c: float, most: float, words: str) -> None:
        """Make the edge that is farthest of those near, and the largest spacing, at most ``most``, known to a chain."""
        chain.ask("c_max", c, words, of=_KEYS[self.edges.index(c)])
        size = self.largest_spacing(most)
        if size < max(self.s_x, self.s_y):
            chain.choose("s_max", size, "three times the embedment depth: a larger spacing does not count")
        else:
            of = "s_x" if size == self.s_x else "s_y"
            chain.ask("s_max", size, "the largest spacing in the group; 0 for a single bar", of=of)

    def into(self, chain: Steps, c_cr: Given, name: str, nearest: str = "c_near") -> None:
        """Make the group known to a chain; a far edge counts with the distance from which an edge no longer matters.

        Parameters
        ----------
        chain
            Gets ``c_x1, c_x2, c_y1, c_y2, s_x, n_x, s_y, n_y, e_x, e_y`` and the distance of the nearest edge.
        c_cr
            That distance.
        name
            Its symbol, for the reason.
        nearest
            Name in the nomenclature under which the code has the distance of the nearest edge.
        """
        for key, c, at in zip(_KEYS, self.edges, _AT, strict=True):
            if c is None:
                chain.also(key, c_cr, f"no edge {at} within {name}")
            else:
                chain.ask(key, c)
        for s, n, size, number in (("s_x", "n_x", self.s_x, self.n_x), ("s_y", "n_y", self.s_y, self.n_y)):
            chain.ask(n, float(number))
            if number == 1:
                chain.choose(s, size, "one bar in this direction")
            else:
                chain.ask(s, size)
        chain.ask_each({"e_x": self.e_x, "e_y": self.e_y})
        if self.nearest is None:
            chain.also(nearest, c_cr, f"no edge within {name}")
        else:
            chain.also(nearest, chain.last(_KEYS[self.edges.index(self.nearest)]), "the nearest edge")


def group_of(edges: Edges, spacings: Spacings, eccentricity: tuple[float, float] = (0.0, 0.0)) -> Group:
    """Check how the bars are said to lie.

    Parameters
    ----------
    edges
        Distances from the outer bars' centres: left, right, below, above; None (or infinity) is far.
    spacings
        ``(s_x, n_x, s_y, n_y)``; a spacing is not looked at where there is one bar.
    eccentricity
        Distances of the resultant pull from the centre of the bars, in both directions; the sign does not matter.

    Raises
    ------
    NotAccepted
        A sentence that names the value and what is accepted.
    """
    if len(edges) != 4:
        raise NotAccepted(
            f"edges has {len(edges)} values; accepted are four: left, right, below, above, None where the edge is far"
        )
    found: list[float | None] = []
    for c, at in zip(edges, _AT, strict=True):
        if c is None or c == math.inf:
            found.append(None)
        elif c > 0:
            found.append(float(c))
        else:
            raise NotAccepted(
                f"the distance to the edge {at} is {c:g}; accepted is a distance above 0, or None where the edge is far"
            )
    if len(spacings) != 4:
        raise NotAccepted(f"spacings has {len(spacings)} values; accepted are four: s_x, n_x, s_y, n_y")
    s_x, n_x, s_y, n_y = spacings
    for name, n in (("n_x", n_x), ("n_y", n_y)):
        if not (n >= 1 and n == int(n)):
            raise NotAccepted(f"{name} = {n:g}; accepted is a whole number of bars, 1 or more")
    for name, s, n in (("s_x", s_x, n_x), ("s_y", s_y, n_y)):
        if n > 1 and not (s is not None and 0 < s < math.inf):
            raise NotAccepted(
                f"{name} = {s}; accepted is a spacing above 0, for there are {n:g} bars in this direction"
            )
    e_x, e_y = eccentricity
    if not (math.isfinite(e_x) and math.isfinite(e_y)):
        raise NotAccepted(f"eccentricity = ({e_x}, {e_y}); accepted are two finite distances")
    sizes = (float(s_x) if n_x > 1 else 0.0, int(n_x), float(s_y) if n_y > 1 else 0.0, int(n_y))
    return Group((found[0], found[1], found[2], found[3]), *sizes, abs(float(e_x)), abs(float(e_y)))
