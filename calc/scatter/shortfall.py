"""A dose and the holes that stay short of it.

Of single holes, of whole series, and of a first hole's amount used again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special, stats
from scipy.optimize import elementwise

from calc.base.errors import NotAccepted
from calc.scatter.accepted import Array, plain, require_at_least, require_each, require_finite
from calc.scatter.inputs import Distribution, Inputs, split_inputs
from calc.scatter.points import Model, column_of, evaluate, points_needed, sobol_engine, sobol_points
from calc.scatter.spread import Spread
from calc.scatter.variance import gum_budget

_TAIL = 1e-9  # probability left outside on either side where a search needs finite ends


def short_probability(
    model: Model, inputs: Inputs, *, dose: Any, along: str | None = None, n: int = 2**9, seed: int = 1
) -> Any:
    """Probability that a hole needs more than the dose, one input integrated exactly.

    Parameters
    ----------
    model : callable
        Required volume, called as ``model(**arrays)``; rising or falling throughout in the input ``along``.
    inputs : mapping of str to frozen distribution or float
        Distribution or number by name of the model's argument; independent of each other.
    dose : float or ndarray
        Volume injected [unit of the model]; a number or an array.
    along : str, optional
        Input that is integrated; the one with the greatest first-order share when left out.
    n : int
        Number of Sobol points over the other inputs, rounded up to a power of two.
    seed : int
        Whole number; the same seed gives the same digits.

    Returns
    -------
    float or array
        Probability [-].

    Raises
    ------
    NotAccepted
        For unusable inputs, a dose that is not finite, an unknown ``along``, or a model that turns back in it.

    Notes
    -----
    Given the other inputs, the model equals the dose at one value of the input ``along``; its distribution function
    there is that point's probability. What is averaged is smooth. A straight-line model in the normal scores, whose
    probability is known exactly, is averaged over the same points and its error taken off (control variate), so that a
    few hundred points do what plain simulation needs millions for.
    """
    doses = require_each("dose", dose, np.isfinite, "a finite number")
    random, fixed = split_inputs(inputs)
    chosen = _along(model, inputs, along, random)
    others = {name: d for name, d in random.items() if name != chosen}
    size, points = _grid([(others, points_needed(n))], fixed, seed)
    if chosen is None or not others:
        chances = [float(_short_given(model, points, size, chosen, random, float(q)).mean()) for q in doses.flat]
        return plain(np.array(chances).reshape(doses.shape))
    centre, slopes = _straight_line(model, random, fixed)
    scores = special.ndtri(np.concatenate(list(sobol_points(len(others), size, seed))))
    line = centre + sum(slopes[name] * scores[:, i] for i, name in enumerate(others))
    spread, whole = abs(slopes[chosen]), math.hypot(*slopes.values())
    chances = []
    for q in doses.flat:
        chance = _short_given(model, points, size, chosen, random, float(q))
        if spread > 0:
            rough = special.ndtr((line - q) / spread)
            variance = float(rough.var())
            weight = float(np.mean((chance - chance.mean()) * rough)) / variance if variance > 0 else 0.0
            chance = chance - weight * (rough - special.ndtr((centre - q) / whole))
        chances.append(min(1.0, max(0.0, float(chance.mean()))))
    return plain(np.array(chances).reshape(doses.shape))


def _straight_line(
    model: Model, random: Mapping[str, Distribution], fixed: Mapping[str, float]
) -> tuple[float, dict[str, float]]:
    """The model at the medians, and its slope in the normal score of each input, between one sd below and above."""
    names = list(random)
    scores = np.zeros((1 + 2 * len(names), len(names)))
    for i in range(len(names)):
        scores[1 + 2 * i, i], scores[2 + 2 * i, i] = 1.0, -1.0
    columns = {name: column_of(d, special.ndtr(scores[:, i])) for i, (name, d) in enumerate(random.items())}
    result = evaluate(model, columns | {name: np.full(len(scores), value) for name, value in fixed.items()})
    # Curvature moves the mean away from the model at the medians; the line goes through the moved point.
    bends = sum((result[1 + 2 * i] + result[2 + 2 * i]) / 2 - result[0] for i in range(len(names)))
    return float(result[0] + bends), {
        name: float(result[1 + 2 * i] - result[2 + 2 * i]) / 2 for i, name in enumerate(names)
    }


def _along(model: Model, inputs: Inputs, along: str | None, allowed: Mapping[str, Distribution]) -> str | None:
    """The input to integrate; None when none of the allowed ones scatters continuously."""
    smooth = {
        name
        for name, d in allowed.items()
        if hasattr(d, "pdf") and not isinstance(getattr(d, "dist", None), stats.rv_discrete)
    }
    if along is not None:
        if along not in smooth:
            raise NotAccepted(
                f"'{along}' is not an input that scatters continuously here; these are:"
                f" {', '.join(sorted(smooth)) or 'none'}"
            )
        return along
    if not smooth:
        return None
    parts = [part for part in gum_budget(model, inputs).parts if part.name in smooth]
    return max(parts, key=lambda part: (part.contribution, part.name)).name


def _grid(
    blocks: Sequence[tuple[Mapping[str, Distribution], int]], fixed: Mapping[str, float], seed: int
) -> tuple[int, dict[str, Array]]:
    """Every point of each block of inputs with every point of the others, and how many.

    The first block changes slowest.
    """
    columns: dict[str, Array] = {}
    size = 1
    for step, (block, n) in enumerate(blocks):
        count = n if block else 1
        u = np.concatenate(list(sobol_points(len(block), n, seed + step))) if block else np.empty((1, 0))
        columns = {name: np.repeat(column, count) for name, column in columns.items()}
        columns |= {name: np.tile(column_of(d, u[:, i]), size) for i, (name, d) in enumerate(block.items())}
        size *= count
    sobol_engine(1, seed)  # a wrong seed is refused even when there is nothing to draw
    return size, columns | {name: np.full(size, value) for name, value in fixed.items()}


def _short_given(
    model: Model,
    points: dict[str, Array],
    size: int,
    along: str | None,
    random: Mapping[str, Distribution],
    dose: float,
) -> Array:
    """Probability of needing more than ``dose`` at each point, over the input ``along``."""
    if along is None:
        return (evaluate(model, points) > dose).astype(float)
    distribution = random[along]

    def missing(x: Array, *columns: Array) -> Array:
        values = dict(zip(points, (np.broadcast_to(c, x.shape).ravel() for c in columns), strict=True))
        return (evaluate(model, values | {along: x.ravel()}) - dose).reshape(x.shape)

    low, high = float(distribution.ppf(_TAIL)), float(distribution.isf(_TAIL))
    _refuse_turning(missing, distribution, [column[:4] for column in points.values()], along)
    below, above = missing(np.full(size, low), *points.values()), missing(np.full(size, high), *points.values())
    chance = ((below > 0) & (above > 0)).astype(float)
    cross = (below > 0) != (above > 0)
    if cross.any():
        width = 1e-6 * float(distribution.std())
        start = np.full(int(cross.sum()), low), np.full(int(cross.sum()), high)
        root = elementwise.find_root(
            missing, start, args=tuple(c[cross] for c in points.values()), tolerances={"xatol": width}
        )
        if not np.all(root.success):
            raise NotAccepted(f"no value of '{along}' was found at which the model equals the dose {dose:g}")
        chance[cross] = np.where(above[cross] > 0, distribution.sf(root.x), distribution.cdf(root.x))
    return chance


def _refuse_turning(
    missing: Callable[..., Array], distribution: Distribution, columns: list[Array], along: str
) -> None:
    ladder = np.asarray(distribution.ppf(np.array([_TAIL, 0.02, 0.2, 0.5, 0.8, 0.98, 1 - _TAIL])), dtype=float)
    count = len(columns[0]) if columns else 1
    # One call for the whole ladder, the first few points on every rung.
    x = np.repeat(ladder, count)
    rungs = missing(x, *(np.tile(column, len(ladder)) for column in columns)).reshape(len(ladder), count)
    steps = np.diff(rungs, axis=0)
    slack = 1e-12 * (np.abs(rungs).max() + 1e-300)
    if ((steps.max(axis=0) > slack) & (steps.min(axis=0) < -slack)).any():
        raise NotAccepted(f"the model both rises and falls in '{along}'; name another input to integrate along")


_COUNTS, _NEVER = 8, 5e-4  # short holes in a series that are told apart, and what is too rare to be told


@dataclass(frozen=True)
class SeriesCount:
    """How often a series has so many short holes, or with ``or_more`` at least so many.

    As it is, and if its holes shared nothing [-].
    """

    count: int
    or_more: bool
    together: float
    alone: float


@dataclass(frozen=True)
class SeriesRisk:
    """Short holes in series that share a bit, a batch of bars or a day.

    ``shares`` is the probability of a short hole in each simulated series.
    """

    shares: Array
    holes: int

    @property
    def short(self) -> float:
        """Probability that a hole taken from any series is short [-]."""
        return float(self.shares.mean())

    def more_than(self, count: int) -> float:
        """Probability that more than ``count`` holes of one series are short [-]."""
        require_at_least("count", count, 0)
        return float(stats.binom.sf(count, self.holes, self.shares).mean())

    def counts(self, alone: float) -> tuple[SeriesCount, ...]:
        """How often so many holes of one series are short; ``alone`` is the probability of a short hole by itself [-].

        Counts that never come up are left out, and from some count on they are taken together.
        """
        chances = (self.shares, np.array([alone]))
        seen = (
            k for k in range(2, _COUNTS) if max(stats.binom.sf(k - 1, self.holes, p).mean() for p in chances) < _NEVER
        )
        last = min(next(seen, _COUNTS), self.holes)
        found = []
        for k in range(last + 1):
            more = 0 < k == last < self.holes
            exact = stats.binom.sf if more else stats.binom.pmf
            together, apart = (float(exact(k - 1 if more else k, self.holes, p).mean()) for p in chances)
            found.append(SeriesCount(k, more, together, apart))
        return tuple(found)

    def quantile(self, p: Any) -> Any:
        """Share of short holes that a part ``p`` of the series stays below in the long run [-]."""
        return Spread(self.shares).quantile(p)


def series_risk(
    model: Model,
    inputs: Inputs,
    *,
    dose: float,
    common: Sequence[str],
    holes: int,
    along: str | None = None,
    n: int = 2**9,
    inner: int = 2**6,
    seed: int = 1,
) -> SeriesRisk:
    """Risk of a whole short series: what all its holes share is kept apart from what varies from hole to hole.

    Parameters
    ----------
    model : callable
        Required volume, called as ``model(**arrays)``; rising or falling throughout in the input ``along``.
    inputs : mapping of str to frozen distribution or float
        Distribution or number by name of the model's argument; independent of each other.
    dose : float
        Volume injected in every hole [unit of the model].
    common : sequence of str
        Names of the inputs that one series shares.
    holes : int
        Number of holes in a series.
    along : str, optional
        Input that is integrated; the one with the greatest first-order share among those that vary from hole to hole
        when left out.
    n, inner : int
        Number of simulated series, and of points within each, rounded up to powers of two.
    seed : int
        Whole number; the same seed gives the same digits.

    Returns
    -------
    SeriesRisk
        Probability of a short hole, of more than so many in a series, and how it differs between series.

    Raises
    ------
    NotAccepted
        For unusable inputs, unknown names, or a number of holes that is not a whole number above zero.
    """
    random, fixed = split_inputs(inputs)
    require_finite("dose", dose)
    count = int(require_each("holes", holes, lambda x: (x >= 1) & (x == np.floor(x)), "a whole number above zero"))
    for name in common:
        if name not in inputs:
            raise NotAccepted(
                f"'{name}' is called common to a series but is not an input; the inputs are: {', '.join(inputs)}"
            )
    shared = {name: d for name, d in random.items() if name in common}
    own = {name: d for name, d in random.items() if name not in common}
    chosen = _along(model, inputs, along, own)
    rest = {name: d for name, d in own.items() if name != chosen}
    # Nothing shared: all series are alike, and all points go into the one.
    within = points_needed(inner) if shared else points_needed(n * inner)
    size, points = _grid([(shared, points_needed(n)), (rest, within)], fixed, seed)
    chance = _short_given(model, points, size, chosen, random, dose)
    return SeriesRisk(chance.reshape(-1, within if rest else 1).mean(axis=1), count)
