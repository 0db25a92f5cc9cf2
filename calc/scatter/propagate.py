"""How sure a dose is: scatter of the inputs carried through the formulas, and doses chosen from it.

Inputs are frozen ``scipy.stats`` distributions (or plain numbers, which do not scatter), by the names of the model's
arguments. A model is any function called as ``model(**arrays)``; the formulas of ``calc.fill.hole`` are such functions,
so what a reviewer reads is what is simulated. Points are scrambled Sobol points (Owen, 1997): the same seed gives the
same digits, whatever the order in which the inputs are written.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np
from scipy import special

from calc.base.errors import NotAccepted
from calc.scatter.accepted import Array, require_each
from calc.scatter.inputs import (
    Distribution,
    Inputs,
    split_inputs,
)
from calc.scatter.points import Model, column_of, evaluate, points_needed, sobol_engine, sobol_points
from calc.scatter.spread import Spread


def _mixing(correlation: Mapping[tuple[str, str], float] | None, random: Mapping[str, Distribution]) -> Array | None:
    """Cholesky factor that gives normal scores the wanted correlations; None without any."""
    if not correlation:
        return None
    names, matrix = list(random), np.eye(len(random))
    for (one, other), r in correlation.items():
        if one == other or one not in random or other not in random:
            raise NotAccepted(
                f"the correlation between '{one}' and '{other}' must join two of the inputs that scatter:"
                f" {', '.join(names)}"
            )
        require_each(
            f"the correlation between '{one}' and '{other}'",
            r,
            lambda x: np.abs(x) < 1,
            "between -1 and 1, both excluded",
        )
        i, j = names.index(one), names.index(other)
        matrix[i, j] = matrix[j, i] = r
    # By hand, because LAPACK's last digits depend on the processor.
    factor = np.zeros_like(matrix)
    for i, j in zip(*map(np.ndarray.tolist, np.tril_indices(len(names))), strict=True):
        rest = matrix[i, j] - math.fsum(factor[i, :j] * factor[j, :j])
        if i == j and rest <= 0:
            raise NotAccepted("these correlations contradict each other: no set of inputs can have them all")
        factor[i, j] = math.sqrt(rest) if i == j else rest / factor[j, j]
    return factor


def samples(
    inputs: Inputs, *, n: int = 2**20, seed: int = 1, correlation: Mapping[tuple[str, str], float] | None = None
) -> Iterator[dict[str, Array]]:
    """Simulated inputs in chunks, the very ones that `propagate` uses.

    Parameters
    ----------
    inputs : mapping of str to frozen distribution or float
        Distribution or number by name of the model's argument.
    n : int
        Number of points, rounded up to a power of two.
    seed : int
        Whole number; the same seed gives the same points.
    correlation : mapping of pairs of str to float, optional
        Correlation of the normal scores of pairs of inputs, ``{("d_0", "phi"): 0.3}`` (Gaussian copula) [-].

    Yields
    ------
    dict of str to array
        Values by name.

    Raises
    ------
    NotAccepted
        For inputs that are not distributions, have a negative or infinite scatter, or contradict each other.
    """
    random, fixed = split_inputs(inputs)
    count, mix = points_needed(n), _mixing(correlation, random)
    if not random:
        sobol_engine(1, seed)
        yield {name: np.array([value]) for name, value in fixed.items()}
        return
    for u in sobol_points(len(random), count, seed):
        if mix is not None:
            scores = special.ndtri(u)
            # Column by column, because the order in which `@` adds depends on the processor.
            u = special.ndtr(
                np.column_stack(
                    [sum(part * scores[:, j] for j, part in enumerate(row[: i + 1])) for i, row in enumerate(mix)]
                )
            )
        values = {name: column_of(distribution, u[:, i]) for i, (name, distribution) in enumerate(random.items())}
        yield values | {name: np.full(len(u), value) for name, value in fixed.items()}


def propagate(
    model: Model,
    inputs: Inputs,
    *,
    n: int = 2**20,
    seed: int = 1,
    correlation: Mapping[tuple[str, str], float] | None = None,
) -> Spread:
    """Carry the scatter of the inputs through a model (JCGM 101, with Sobol points in place of random ones).

    Parameters
    ----------
    model : callable
        Called as ``model(**arrays)``.
    inputs : mapping of str to frozen distribution or float
        Distribution or number by name of the model's argument.
    n : int
        Number of points, rounded up to a power of two.
    seed : int
        Whole number; the same seed gives the same digits.
    correlation : mapping of pairs of str to float, optional
        Correlation of the normal scores of pairs of inputs, ``{("d_0", "phi"): 0.3}`` [-]; none when left out.

    Returns
    -------
    Spread
        ``.mean``, ``.sd``, ``.quantile(p)``, ``.interval(p)`` and more [unit of the model].

    Raises
    ------
    NotAccepted
        For unusable inputs, or when the model gives no finite number somewhere.

    Notes
    -----
    About a million points, as JCGM 101, 7.2.2, advises for a 95 % interval; for mean and sd, 2**14 are plenty.
    The model sees a chunk at a time; only its results are kept, 8 bytes a point, and a sorted copy once a quantile is
    asked for.

    Examples
    --------
    >>> from scipy import stats
    >>> spread = propagate(lambda a, b: a + b, {"a": stats.norm(10, 3), "b": stats.norm(5, 4)})
    >>> round(spread.mean, 3), round(spread.sd, 3)
    (15.0, 5.0)
    """
    results = np.empty(points_needed(n))
    filled = 0
    for chunk in samples(inputs, n=n, seed=seed, correlation=correlation):
        part = evaluate(model, chunk)
        results[filled : filled + len(part)] = part
        filled += len(part)
    return Spread(results[:filled])
