"""Which input brings how much of the scatter: the first-order budget of JCGM 100, and Sobol indices."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from calc.base.errors import NotAccepted
from calc.scatter.accepted import require_finite
from calc.scatter.inputs import Inputs, split_inputs
from calc.scatter.points import Model, column_of, evaluate, points_needed, sobol_engine, sobol_points


@dataclass(frozen=True)
class Part:
    """One line of a first-order budget."""

    name: str
    value: float
    u: float
    gradient: float
    contribution: float
    share: float


@dataclass(frozen=True)
class Budget:
    """First-order budget: the model at the means, its standard uncertainty, and each input's part in it."""

    value: float
    u: float
    parts: tuple[Part, ...]

    def effective_degrees(self, degrees: Mapping[str, float]) -> float:
        """Degrees of freedom of ``u`` by Welch and Satterthwaite (JCGM 100, G.2b).

        An input that is left out is known exactly.
        """
        names = {part.name for part in self.parts}
        for name, value in degrees.items():
            if name not in names or not value > 0:
                raise NotAccepted(
                    f"degrees of freedom must be above zero and belong to an input of the budget, not '{name}':"
                    f" {value!r}"
                )
        total = sum(part.contribution**4 / degrees.get(part.name, math.inf) for part in self.parts)
        return self.u**4 / total if total > 0 else math.inf


def gum_budget(model: Model, inputs: Inputs, *, gradients: Mapping[str, float] | None = None) -> Budget:
    """First-order budget: how much of the result's scatter each input brings (JCGM 100, 5.1).

    Parameters
    ----------
    model : callable
        Called as ``model(**arrays)``.
    inputs : mapping of str to frozen distribution or float
        Distribution or number by name of the model's argument; independent of each other.
    gradients : mapping of str to float, optional
        Partial derivatives at the means [unit of the model per unit of the input]; central differences where left out.

    Returns
    -------
    Budget
        Value at the means, standard uncertainty, and per input its mean, sd, gradient, contribution |c| u and share of
        the variance.

    Raises
    ------
    NotAccepted
        For unusable inputs or gradients, or when the model gives no finite number near the means.
    """
    random, fixed = split_inputs(inputs)
    given = dict(gradients or {})
    for name, gradient in given.items():
        if name not in inputs:
            raise NotAccepted(f"a gradient is given for '{name}', which is not an input")
        require_finite(f"the gradient of '{name}'", gradient)
    centre = fixed | {name: float(d.mean()) for name, d in random.items()}
    scatter = {name: float(d.std()) for name, d in random.items()}
    # Wide enough for rounding not to matter, narrow enough for curvature not to.
    step = {name: max(1e-3 * u, 6e-6 * abs(centre[name])) for name, u in scatter.items()}
    asked = [name for name in random if name not in given]
    columns = {name: np.full(1 + 2 * len(asked), value) for name, value in centre.items()}
    for i, name in enumerate(asked):
        columns[name][1 + 2 * i] += step[name]
        columns[name][2 + 2 * i] -= step[name]
    result = evaluate(model, columns)
    for i, name in enumerate(asked):
        run = columns[name][1 + 2 * i] - columns[name][2 + 2 * i]
        given[name] = float(result[1 + 2 * i] - result[2 + 2 * i]) / float(run)
    contribution = {name: abs(given[name]) * scatter[name] for name in random}
    u = math.hypot(*contribution.values())
    parts = tuple(
        Part(
            name=name,
            value=centre[name],
            u=scatter.get(name, 0.0),
            gradient=given.get(name, 0.0),
            contribution=contribution.get(name, 0.0),
            share=(contribution.get(name, 0.0) / u) ** 2 if u > 0 else 0.0,
        )
        for name in inputs
    )
    return Budget(float(result[0]), u, parts)


@dataclass(frozen=True)
class Indices:
    """Sobol indices by name: ``first``, what an input does alone; ``total``, what it has a hand in."""

    first: dict[str, float]
    total: dict[str, float]
    mean: float
    variance: float
    evaluations: int


def sobol(model: Model, inputs: Inputs, *, n: int = 2**15, seed: int = 1) -> Indices:
    """Share of the result's variance that each input brings, alone and together with others.

    Parameters
    ----------
    model : callable
        Called as ``model(**arrays)``.
    inputs : mapping of str to frozen distribution or float
        Distribution or number by name of the model's argument; independent of each other.
    n : int
        Number of base points, rounded up to a power of two; the model is evaluated n (inputs + 2) times.
    seed : int
        Whole number; the same seed gives the same digits.

    Returns
    -------
    Indices
        ``.first`` and ``.total`` by name [-]; all zero when the result does not scatter.

    Raises
    ------
    NotAccepted
        For unusable inputs, or when the model gives no finite number somewhere.

    References
    ----------
    Saltelli et al., Computer Physics Communications 181 (2010) 259, Table 2: (b) for the first order, (f), Jansen's,
    for the total.
    """
    random, fixed = split_inputs(inputs)
    count, d = points_needed(n), len(random)
    zero = dict.fromkeys(inputs, 0.0)
    if not random:
        sobol_engine(1, seed)
        return Indices(
            zero, dict(zero), float(evaluate(model, {k: np.array([v]) for k, v in fixed.items()})[0]), 0.0, 1
        )
    names = list(random)
    middle = gum_budget(
        model, inputs
    ).value  # taken off every result, so that a small scatter on a large mean keeps its digits
    product, change, square = np.zeros(d), np.zeros(d), np.zeros(d)
    total, squares, total_b = 0.0, 0.0, 0.0
    for u in sobol_points(2 * d, count, seed):
        rest = {name: np.full(len(u), value) for name, value in fixed.items()}
        a = {name: column_of(random[name], u[:, i]) for i, name in enumerate(names)}
        b = {name: column_of(random[name], u[:, d + i]) for i, name in enumerate(names)}
        f_a, f_b = evaluate(model, a | rest) - middle, evaluate(model, b | rest) - middle
        total += float(f_a.sum() + f_b.sum())
        total_b += float(f_b.sum())
        squares += float(
            (f_a**2).sum() + (f_b**2).sum()
        )  # no `@`: its order of adding depends on processor and threads
        for i, name in enumerate(names):
            step = evaluate(model, {**a, **rest, name: b[name]}) - middle - f_a
            product[i] += (f_b * step).sum()
            change[i] += step.sum()
            square[i] += (step**2).sum()
    mean = total / (2 * count)
    variance = squares / (2 * count) - mean**2
    evaluations = count * (d + 2)
    if not variance > 1e-24 * middle**2:
        return Indices(zero, dict(zero), middle + mean, 0.0, evaluations)
    # Centred on the mean of the b points: the estimator's error is smallest there.
    first = (product - total_b / count * change) / count / variance
    whole = square / (2 * count) / variance
    found_first, found_total = (
        dict(zip(names, first.tolist(), strict=True)),
        dict(zip(names, whole.tolist(), strict=True)),
    )
    return Indices(zero | found_first, zero | found_total, float(middle + mean), float(variance), evaluations)
