"""Points at which a model is evaluated.

Scrambled Sobol points (Owen, 1997), so that the same seed gives the same digits.
"""

from __future__ import annotations

import numbers
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from scipy import special, stats
from scipy.stats import qmc

from calc.base.errors import NotAccepted
from calc.scatter.accepted import Array, require_each
from calc.scatter.inputs import Distribution

Model = Callable[..., Any]

_CHUNK = 2**15  # points at a time: three inputs and their temporaries stay in the processor's cache
_HALF_CELL = 2.0**-31  # Sobol points lie on a grid of 2**-30; its cells' middles keep 0 and 1, hence infinity, out


def points_needed(n: Any) -> int:
    """``n`` rounded up to a power of two, without which Sobol points lose their balance."""
    count = int(
        require_each(
            "n", n, lambda x: (x >= 2) & (x <= 2**26) & (x == np.floor(x)), "a whole number of points from 2 to 2**26"
        )
    )
    return 1 << (count - 1).bit_length()


def sobol_engine(dimensions: int, seed: int) -> Any:
    """Source of scrambled Sobol points; a seed that is not a whole number is refused."""
    if not isinstance(seed, numbers.Integral) or isinstance(seed, bool) or seed < 0:
        raise NotAccepted(f"seed must be a whole number, not negative, but is {seed!r}")
    return qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(int(seed)))


def sobol_points(dimensions: int, n: int, seed: int) -> Iterator[Array]:
    """Sobol points in the unit cube, as chunks of rows."""
    engine = sobol_engine(dimensions, seed)
    for start in range(0, n, _CHUNK):
        yield engine.random(min(_CHUNK, n - start)) + _HALF_CELL


def column_of(distribution: Distribution, u: Array) -> Array:
    """Values of one input at its coordinate of the Sobol points."""
    if isinstance(getattr(distribution, "dist", None), type(stats.norm)):
        # The same digits as its own `ppf`, which looks for shapes and limits that a normal distribution does not have.
        return np.asarray(special.ndtri(u) * distribution.std() + distribution.mean())
    return np.asarray(distribution.ppf(np.ascontiguousarray(u)), dtype=float)


def evaluate(model: Model, values: dict[str, Array]) -> Array:
    """The model's results for one chunk, refused unless they are one finite number per point."""
    count = len(next(iter(values.values())))
    result = np.asarray(model(**values), dtype=float)
    if result.ndim == 0:
        result = np.full(count, float(result))
    if result.shape != (count,):
        raise NotAccepted(
            f"the model returned an array of shape {result.shape} for {count} points; one number for each point is"
            " expected"
        )
    if not np.isfinite(result.sum()) and not (finite := np.isfinite(result)).all():
        where = int(np.argmin(finite))
        point = ", ".join(f"{name} = {column[where]:g}" for name, column in values.items())
        raise NotAccepted(
            f"the model gave no finite number for {int((~finite).sum())} of {count} points, for example at {point}"
        )
    return result
