"""How sure a dose is: scatter of the inputs carried through the formulas, and doses chosen from it.

Inputs are frozen ``scipy.stats`` distributions (or plain numbers, which do not scatter), by the names of the model's
arguments. A model is any function called as ``model(**arrays)``; the formulas of ``calc.fill.hole`` are such functions,
so what a reviewer reads is what is simulated. Points are scrambled Sobol points (Owen, 1997): the same seed gives the
same digits, whatever the order in which the inputs are written.
"""

from __future__ import annotations

import math
import numbers
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats
from scipy.optimize import brentq, elementwise
from scipy.stats import qmc

Array = NDArray[np.float64]
Model = Callable[..., Any]

_CHUNK = 2**15  # points at a time: three inputs and their temporaries stay in the processor's cache
_HALF_CELL = 2.0**-31  # Sobol points lie on a grid of 2**-30; its cells' middles keep 0 and 1, hence infinity, out
_TAIL = 1e-9  # probability left outside on either side where a search needs finite ends


class Distribution(Protocol):
    """What is used of a frozen ``scipy.stats`` distribution."""

    def ppf(self, q: Any, /) -> Any:
        """Quantile."""

    def isf(self, q: Any, /) -> Any:
        """Quantile counted from above."""

    def cdf(self, x: Any, /) -> Any:
        """Probability of at most x."""

    def sf(self, x: Any, /) -> Any:
        """Probability of more than x."""

    def pdf(self, x: Any, /) -> Any:
        """Density at x."""

    def mean(self) -> Any:
        """Mean."""

    def std(self) -> Any:
        """Standard deviation."""


Input = Distribution | float
Inputs = Mapping[str, Input]


# ---- what comes in -------------------------------------------------------------------------------------------------------


def normal(*, mean: float, sd: float) -> Input:
    """Input given as mean and standard deviation; with sd 0 it does not scatter.

    Parameters
    ----------
    mean, sd : float
        Mean and standard deviation [unit of the input].

    Returns
    -------
    Input
        Normal distribution, or the mean itself when ``sd`` is zero.

    Raises
    ------
    ValueError
        For a negative or not finite ``sd``, or a mean that is not finite.
    """
    _finite("mean", mean)
    _at_least("sd", sd, 0.0)
    return stats.norm(mean, sd) if sd > 0 else mean


def limits(*, low: float, high: float) -> Input:
    """Input of which only the limits are known: every value between them is as likely (JCGM 101, 6.4.2).

    Parameters
    ----------
    low, high : float
        Limits [unit of the input].

    Returns
    -------
    Input
        Rectangular distribution, or the value itself when both limits are the same.

    Raises
    ------
    ValueError
        When the limits are reversed or not finite.
    """
    _finite("low", low)
    _finite("high", high)
    if low > high:
        raise ValueError(f"the limits are reversed: low is {low:g}, high is {high:g}")
    return stats.uniform(low, high - low) if high > low else low


def misfit_probability(*, hole: Input, bar: Input) -> float:
    """Probability that a bar is thicker than its hole, both scattering independently.

    Parameters
    ----------
    hole, bar : float or frozen distribution
        Diameters [mm, or any one unit].

    Returns
    -------
    float
        Probability [-].

    Raises
    ------
    ValueError
        For a diameter that is neither a finite number nor a usable distribution.

    Notes
    -----
    The integral of F_hole over the bar's distribution, by the trapezoidal rule over its normal score.
    """
    random, fixed = _split({"hole": hole, "bar": bar})
    if len(random) < 2:
        if "hole" in random:
            return float(random["hole"].cdf(fixed["bar"]))
        return float(random["bar"].sf(fixed["hole"])) if "bar" in random else float(fixed["hole"] <= fixed["bar"])
    score = np.linspace(-8.5, 8.5, 4001)
    diameter = np.where(score < 0, random["bar"].ppf(special.ndtr(score)), random["bar"].isf(special.ndtr(-score)))
    return float(np.trapezoid(random["hole"].cdf(diameter) * np.exp(-(score**2) / 2), score) / math.sqrt(2 * math.pi))


def require_fit(*, hole: Input, bar: Input, at_most: float = 1e-6) -> float:
    """Refuse scatter that lets the bar become thicker than the hole, naming how probable that is.

    Parameters
    ----------
    hole, bar : float or frozen distribution
        Diameters [mm, or any one unit].
    at_most : float
        Probability that is still accepted [-]; a normal distribution never gives exactly zero.

    Returns
    -------
    float
        Probability of a misfit [-].

    Raises
    ------
    ValueError
        When it is greater than ``at_most``.
    """
    chance = misfit_probability(hole=hole, bar=bar)
    if chance > at_most:
        raise ValueError(f"with this scatter the bar is thicker than its hole with probability {chance:.2g}; at most {at_most:g} is accepted")
    return chance


def _finite(name: str, value: Any) -> None:
    if not isinstance(value, numbers.Real) or isinstance(value, bool) or not math.isfinite(value):
        raise ValueError(f"{name} must be a finite number, not {value!r}")


def _at_least(name: str, value: float, least: float) -> None:
    _finite(name, value)
    if value < least:
        raise ValueError(f"{name} must not be less than {least:g}, but is {value:g}")


def _each(name: str, value: Any, accepted: Callable[[Array], Any], rule: str) -> Array:
    """``value`` as an array of numbers that are all ``accepted``."""
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise ValueError(f"{name} must be {rule}, not {value!r}") from None
    wrong = ~(np.isfinite(array) & np.asarray(accepted(array), dtype=bool))
    if array.size == 0 or wrong.any():
        raise ValueError(f"{name} must be {rule}, not {array[wrong].flat[0]:g}" if array.size else f"{name} must be {rule}, but is empty")
    return array


def _part(name: str, value: Any) -> Array:
    return _each(name, value, lambda x: (x > 0) & (x < 1), "between 0 and 1, both excluded (0.95 for 95 per cent)")


def _cost(name: str, value: Any) -> Array:
    return _each(name, value, lambda x: x > 0, "a finite cost above zero")


def _measurements(n: Any, least: int, what: str) -> Array:
    return _each("n", n, lambda x: (x >= least) & (x == np.floor(x)), f"a whole number of at least {least}, because {what}")


def _plain(result: Any) -> Any:
    """A float for a single result, an array for several."""
    return float(result) if np.ndim(result) == 0 else result


def _split(inputs: Inputs) -> tuple[dict[str, Distribution], dict[str, float]]:
    """Scattering and fixed inputs, each in alphabetical order so that the order of writing does not change a digit."""
    if not inputs:
        raise ValueError("no inputs were given; the model needs at least one")
    random: dict[str, Distribution] = {}
    fixed: dict[str, float] = {}
    for name in sorted(inputs):
        given: Any = inputs[name]
        if isinstance(given, numbers.Real):
            _finite(f"input '{name}'", given)
            fixed[name] = float(given)
        elif not hasattr(given, "ppf"):
            raise ValueError(f"input '{name}' must be a number or a frozen scipy.stats distribution, not {type(given).__name__}")
        elif (constant := _constant(name, given)) is None:
            random[name] = given
        else:
            fixed[name] = constant
    return random, fixed


def _constant(name: str, given: Any) -> float | None:
    """The value of a distribution without scatter, None for one that scatters; a broken one is refused."""
    family = getattr(given, "dist", None)
    if isinstance(family, stats.rv_continuous):
        # scipy answers NaN for a scale of zero, which is a legitimate "does not scatter" here, so look before asking.
        place = (*given.args[family.numargs :], None, None)
        location = given.kwds.get("loc", place[0])
        scale = given.kwds.get("scale", place[1])
        if scale is not None and np.ndim(scale) == 0 and scale < 0:
            raise ValueError(f"input '{name}' has a negative standard deviation or width, {scale:g}")
        if scale is not None and np.ndim(scale) == 0 and scale == 0:
            _finite(f"input '{name}'", float(location or 0.0))
            return float(location or 0.0)
    mean, sd = given.mean(), given.std()
    if np.ndim(mean) or np.ndim(sd):
        raise ValueError(f"input '{name}' holds several distributions; one is expected")
    if not (np.isfinite(mean) and np.isfinite(sd)):
        raise ValueError(f"input '{name}' has no finite mean and sd (they are {float(mean):g} and {float(sd):g}); check its parameters")
    return float(mean) if sd == 0 else None


def _points_needed(n: Any) -> int:
    """``n`` rounded up to a power of two, without which Sobol points lose their balance."""
    count = int(_each("n", n, lambda x: (x >= 2) & (x <= 2**26) & (x == np.floor(x)), "a whole number of points from 2 to 2**26"))
    return 1 << (count - 1).bit_length()


def _engine(dimensions: int, seed: int) -> Any:
    if not isinstance(seed, numbers.Integral) or isinstance(seed, bool) or seed < 0:
        raise ValueError(f"seed must be a whole number, not negative, but is {seed!r}")
    return qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(int(seed)))


def _scores(dimensions: int, n: int, seed: int) -> Iterator[Array]:
    """Sobol points in the unit cube, as chunks of rows."""
    engine = _engine(dimensions, seed)
    for start in range(0, n, _CHUNK):
        yield engine.random(min(_CHUNK, n - start)) + _HALF_CELL


def _column(distribution: Distribution, u: Array) -> Array:
    return np.asarray(distribution.ppf(np.ascontiguousarray(u)), dtype=float)


def _evaluate(model: Model, values: dict[str, Array]) -> Array:
    """The model's results for one chunk, refused unless they are one finite number per point."""
    count = len(next(iter(values.values())))
    result = np.asarray(model(**values), dtype=float)
    if result.ndim == 0:
        result = np.full(count, float(result))
    if result.shape != (count,):
        raise ValueError(f"the model returned an array of shape {result.shape} for {count} points; one number for each point is expected")
    if not np.isfinite(result.sum()) and not (finite := np.isfinite(result)).all():
        where = int(np.argmin(finite))
        point = ", ".join(f"{name} = {column[where]:g}" for name, column in values.items())
        raise ValueError(f"the model gave no finite number for {int((~finite).sum())} of {count} points, for example at {point}")
    return result


def _mixing(correlation: Mapping[tuple[str, str], float] | None, random: Mapping[str, Distribution]) -> Array | None:
    """Cholesky factor that gives normal scores the wanted correlations; None without any."""
    if not correlation:
        return None
    names, matrix = list(random), np.eye(len(random))
    for (one, other), r in correlation.items():
        if one == other or one not in random or other not in random:
            raise ValueError(f"the correlation between '{one}' and '{other}' must join two of the inputs that scatter: {', '.join(names)}")
        _each(f"the correlation between '{one}' and '{other}'", r, lambda x: np.abs(x) < 1, "between -1 and 1, both excluded")
        i, j = names.index(one), names.index(other)
        matrix[i, j] = matrix[j, i] = r
    try:
        return np.asarray(np.linalg.cholesky(matrix), dtype=float)
    except np.linalg.LinAlgError:
        raise ValueError("these correlations contradict each other: no set of inputs can have them all") from None


def samples(inputs: Inputs, *, n: int = 2**20, seed: int = 1, correlation: Mapping[tuple[str, str], float] | None = None) -> Iterator[dict[str, Array]]:
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
    ValueError
        For inputs that are not distributions, have a negative or infinite scatter, or contradict each other.
    """
    random, fixed = _split(inputs)
    count, mix = _points_needed(n), _mixing(correlation, random)
    if not random:
        _engine(1, seed)
        yield {name: np.array([value]) for name, value in fixed.items()}
        return
    for u in _scores(len(random), count, seed):
        if mix is not None:
            u = special.ndtr(special.ndtri(u) @ mix.T)
        values = {name: _column(distribution, u[:, i]) for i, (name, distribution) in enumerate(random.items())}
        yield values | {name: np.full(len(u), value) for name, value in fixed.items()}


# ---- propagation ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Spread:
    """Simulated results of a model.

    ``values`` are in the order of the points, so that runs with one seed can be compared hole by hole.
    """

    values: Array

    @property
    def n(self) -> int:
        """Number of points; 1 when nothing scatters."""
        return len(self.values)

    @cached_property
    def mean(self) -> float:
        """Mean [unit of the model]."""
        return float(np.mean(self.values))

    @cached_property
    def sd(self) -> float:
        """Standard deviation [unit of the model]."""
        return float(np.std(self.values)) if np.ptp(self.values) > 0 else 0.0  # equal values must not give 1e-17

    @cached_property
    def _sorted(self) -> Array:
        return np.sort(self.values)

    @cached_property
    def _sums(self) -> Array:
        """Sums of the smallest 0, 1, 2 … values."""
        return np.concatenate(([0.0], np.cumsum(self._sorted)))

    def quantile(self, p: Any) -> Any:
        """Value that a share ``p`` of the results does not exceed [unit of the model]; linear between the middles of the steps."""
        position = _part("p", p) * self.n - 0.5
        low = np.clip(np.floor(position), 0, self.n - 1).astype(int)
        high = np.minimum(low + 1, self.n - 1)
        weight = np.clip(position - low, 0.0, 1.0)
        return _plain(self._sorted[low] * (1 - weight) + self._sorted[high] * weight)

    def interval(self, p: Any) -> tuple[Any, Any]:
        """Probabilistically symmetric interval that holds a share ``p`` of the results (JCGM 101, 7.7)."""
        share = _part("p", p)
        return self.quantile((1 - share) / 2), self.quantile((1 + share) / 2)

    def short_probability(self, dose: Any) -> Any:
        """Share of the results above ``dose`` [-]."""
        return _plain(1.0 - self._rank(dose) / self.n)

    def mean_shortfall(self, dose: Any) -> Any:
        """Mean of what is missing, over all holes, those that are full included [unit of the model]."""
        rank = self._rank(dose)
        return _plain(np.maximum((self._sums[-1] - self._sums[rank]) - (self.n - rank) * np.asarray(dose, dtype=float), 0.0) / self.n)

    def mean_excess(self, dose: Any) -> Any:
        """Mean of what is too much, over all holes, those that are short included [unit of the model]."""
        rank = self._rank(dose)
        return _plain(np.maximum(rank * np.asarray(dose, dtype=float) - self._sums[rank], 0.0) / self.n)

    def _rank(self, dose: Any) -> Any:
        return np.searchsorted(self._sorted, _each("dose", dose, np.isfinite, "a finite number"), side="right")


def propagate(model: Model, inputs: Inputs, *, n: int = 2**20, seed: int = 1, correlation: Mapping[tuple[str, str], float] | None = None) -> Spread:
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
    ValueError
        For unusable inputs, or when the model gives no finite number somewhere.

    Notes
    -----
    About a million points, as JCGM 101, 7.2.2, advises for a 95 % interval; for mean and sd, 2**14 are plenty.
    The model sees a chunk at a time; only its results are kept, 8 bytes a point, and a sorted copy once a quantile is asked for.

    Examples
    --------
    >>> from scipy import stats
    >>> spread = propagate(lambda a, b: a + b, {"a": stats.norm(10, 3), "b": stats.norm(5, 4)})
    >>> round(spread.mean, 3), round(spread.sd, 3)
    (15.0, 5.0)
    """
    results = np.empty(_points_needed(n))
    filled = 0
    for chunk in samples(inputs, n=n, seed=seed, correlation=correlation):
        part = _evaluate(model, chunk)
        results[filled : filled + len(part)] = part
        filled += len(part)
    return Spread(results[:filled])


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
        """Degrees of freedom of ``u`` by Welch and Satterthwaite (JCGM 100, G.2b); an input that is left out is known exactly."""
        names = {part.name for part in self.parts}
        for name, value in degrees.items():
            if name not in names or not value > 0:
                raise ValueError(f"degrees of freedom must be above zero and belong to an input of the budget, not '{name}': {value!r}")
        total = sum(part.contribution**4 / degrees.get(part.name, math.inf) for part in self.parts)
        return self.u**4 / total if total > 0 else math.inf

    def expanded(self, confidence: float, degrees: Mapping[str, float] | None = None) -> float:
        """Half-width of the interval with this confidence, Student's t with whole degrees of freedom, rounded down (JCGM 100, G.6.4)."""
        p = float(_part("confidence", confidence))
        effective = self.effective_degrees(degrees or {})
        if not math.isfinite(effective):
            return float(special.ndtri((1 + p) / 2)) * self.u
        return float(stats.t.ppf((1 + p) / 2, max(1, math.floor(effective)))) * self.u


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
        Value at the means, standard uncertainty, and per input its mean, sd, gradient, contribution |c| u and share of the variance.

    Raises
    ------
    ValueError
        For unusable inputs or gradients, or when the model gives no finite number near the means.
    """
    random, fixed = _split(inputs)
    given = dict(gradients or {})
    for name, gradient in given.items():
        if name not in inputs:
            raise ValueError(f"a gradient is given for '{name}', which is not an input")
        _finite(f"the gradient of '{name}'", gradient)
    centre = fixed | {name: float(d.mean()) for name, d in random.items()}
    scatter = {name: float(d.std()) for name, d in random.items()}
    # Wide enough for rounding not to matter, narrow enough for curvature not to.
    step = {name: max(1e-3 * u, 6e-6 * abs(centre[name])) for name, u in scatter.items()}
    asked = [name for name in random if name not in given]
    columns = {name: np.full(1 + 2 * len(asked), value) for name, value in centre.items()}
    for i, name in enumerate(asked):
        columns[name][1 + 2 * i] += step[name]
        columns[name][2 + 2 * i] -= step[name]
    result = _evaluate(model, columns)
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
    ValueError
        For unusable inputs, or when the model gives no finite number somewhere.

    References
    ----------
    Saltelli et al., Computer Physics Communications 181 (2010) 259, Table 2: (b) for the first order, (f), Jansen's, for the total.
    """
    random, fixed = _split(inputs)
    count, d = _points_needed(n), len(random)
    zero = dict.fromkeys(inputs, 0.0)
    if not random:
        _engine(1, seed)
        return Indices(zero, dict(zero), float(_evaluate(model, {k: np.array([v]) for k, v in fixed.items()})[0]), 0.0, 1)
    names = list(random)
    middle = gum_budget(model, inputs).value  # taken off every result, so that a small scatter on a large mean keeps its digits
    product, change, square = np.zeros(d), np.zeros(d), np.zeros(d)
    total, squares, total_b = 0.0, 0.0, 0.0
    for u in _scores(2 * d, count, seed):
        rest = {name: np.full(len(u), value) for name, value in fixed.items()}
        a = {name: _column(random[name], u[:, i]) for i, name in enumerate(names)}
        b = {name: _column(random[name], u[:, d + i]) for i, name in enumerate(names)}
        f_a, f_b = _evaluate(model, a | rest) - middle, _evaluate(model, b | rest) - middle
        total += float(f_a.sum() + f_b.sum())
        total_b += float(f_b.sum())
        squares += float(f_a @ f_a + f_b @ f_b)
        for i, name in enumerate(names):
            step = _evaluate(model, {**a, **rest, name: b[name]}) - middle - f_a
            product[i] += f_b @ step
            change[i] += step.sum()
            square[i] += step @ step
    mean = total / (2 * count)
    variance = squares / (2 * count) - mean**2
    evaluations = count * (d + 2)
    if not variance > 1e-24 * middle**2:
        return Indices(zero, dict(zero), middle + mean, 0.0, evaluations)
    # Centred on the mean of the b points: the estimator's error is smallest there.
    first = (product - total_b / count * change) / count / variance
    whole = square / (2 * count) / variance
    found_first, found_total = dict(zip(names, first.tolist(), strict=True)), dict(zip(names, whole.tolist(), strict=True))
    return Indices(zero | found_first, zero | found_total, float(middle + mean), float(variance), evaluations)


# ---- a dose and the holes that stay short --------------------------------------------------------------------------------


def short_probability(model: Model, inputs: Inputs, *, dose: Any, along: str | None = None, n: int = 2**9, seed: int = 1) -> Any:
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
    ValueError
        For unusable inputs, a dose that is not finite, an unknown ``along``, or a model that turns back in it.

    Notes
    -----
    Given the other inputs, the model equals the dose at one value of the input ``along``; its distribution function there is
    that point's probability. What is averaged is smooth. A straight-line model in the normal scores, whose probability is
    known exactly, is averaged over the same points and its error taken off (control variate), so that a few hundred points do
    what plain simulation needs millions for.
    """
    doses = _each("dose", dose, np.isfinite, "a finite number")
    random, fixed = _split(inputs)
    chosen = _along(model, inputs, along, random)
    others = {name: d for name, d in random.items() if name != chosen}
    size, points = _grid([(others, _points_needed(n))], fixed, seed)
    if chosen is None or not others:
        chances = [float(_short_given(model, points, size, chosen, random, float(q)).mean()) for q in doses.flat]
        return _plain(np.array(chances).reshape(doses.shape))
    centre, slopes = _straight_line(model, random, fixed)
    scores = special.ndtri(np.concatenate(list(_scores(len(others), size, seed))))
    line = centre + scores @ np.array([slopes[name] for name in others])
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
    return _plain(np.array(chances).reshape(doses.shape))


def _straight_line(model: Model, random: Mapping[str, Distribution], fixed: Mapping[str, float]) -> tuple[float, dict[str, float]]:
    """The model at the medians, and its slope in the normal score of each input, between one sd below and above."""
    names = list(random)
    scores = np.zeros((1 + 2 * len(names), len(names)))
    for i in range(len(names)):
        scores[1 + 2 * i, i], scores[2 + 2 * i, i] = 1.0, -1.0
    columns = {name: _column(d, special.ndtr(scores[:, i])) for i, (name, d) in enumerate(random.items())}
    result = _evaluate(model, columns | {name: np.full(len(scores), value) for name, value in fixed.items()})
    # Curvature moves the mean away from the model at the medians; the line goes through the moved point.
    bends = sum((result[1 + 2 * i] + result[2 + 2 * i]) / 2 - result[0] for i in range(len(names)))
    return float(result[0] + bends), {name: float(result[1 + 2 * i] - result[2 + 2 * i]) / 2 for i, name in enumerate(names)}


def _along(model: Model, inputs: Inputs, along: str | None, allowed: Mapping[str, Distribution]) -> str | None:
    """The input to integrate; None when none of the allowed ones scatters continuously."""
    smooth = {name for name, d in allowed.items() if hasattr(d, "pdf") and not isinstance(getattr(d, "dist", None), stats.rv_discrete)}
    if along is not None:
        if along not in smooth:
            raise ValueError(f"'{along}' is not an input that scatters continuously here; these are: {', '.join(sorted(smooth)) or 'none'}")
        return along
    if not smooth:
        return None
    parts = [part for part in gum_budget(model, inputs).parts if part.name in smooth]
    return max(parts, key=lambda part: (part.contribution, part.name)).name


def _grid(blocks: Sequence[tuple[Mapping[str, Distribution], int]], fixed: Mapping[str, float], seed: int) -> tuple[int, dict[str, Array]]:
    """Every point of each block of inputs with every point of the others, and how many; the first block changes slowest."""
    columns: dict[str, Array] = {}
    size = 1
    for step, (block, n) in enumerate(blocks):
        count = n if block else 1
        u = np.concatenate(list(_scores(len(block), n, seed + step))) if block else np.empty((1, 0))
        columns = {name: np.repeat(column, count) for name, column in columns.items()}
        columns |= {name: np.tile(_column(d, u[:, i]), size) for i, (name, d) in enumerate(block.items())}
        size *= count
    _engine(1, seed)  # a wrong seed is refused even when there is nothing to draw
    return size, columns | {name: np.full(size, value) for name, value in fixed.items()}


def _short_given(model: Model, points: dict[str, Array], size: int, along: str | None, random: Mapping[str, Distribution], dose: float) -> Array:
    """Probability of needing more than ``dose`` at each point, over the input ``along``."""
    if along is None:
        return (_evaluate(model, points) > dose).astype(float)
    distribution = random[along]

    def missing(x: Array, *columns: Array) -> Array:
        values = dict(zip(points, (np.broadcast_to(c, x.shape).ravel() for c in columns), strict=True))
        return (_evaluate(model, values | {along: x.ravel()}) - dose).reshape(x.shape)

    low, high = float(distribution.ppf(_TAIL)), float(distribution.isf(_TAIL))
    _refuse_turning(missing, distribution, [column[:4] for column in points.values()], along)
    below, above = missing(np.full(size, low), *points.values()), missing(np.full(size, high), *points.values())
    chance = ((below > 0) & (above > 0)).astype(float)
    cross = (below > 0) != (above > 0)
    if cross.any():
        width = 1e-6 * float(distribution.std())
        start = np.full(int(cross.sum()), low), np.full(int(cross.sum()), high)
        root = elementwise.find_root(missing, start, args=tuple(c[cross] for c in points.values()), tolerances={"xatol": width})
        if not np.all(root.success):
            raise ValueError(f"no value of '{along}' was found at which the model equals the dose {dose:g}")
        chance[cross] = np.where(above[cross] > 0, distribution.sf(root.x), distribution.cdf(root.x))
    return chance


def _refuse_turning(missing: Callable[..., Array], distribution: Distribution, columns: list[Array], along: str) -> None:
    ladder = np.asarray(distribution.ppf(np.array([_TAIL, 0.02, 0.2, 0.5, 0.8, 0.98, 1 - _TAIL])), dtype=float)
    count = len(columns[0]) if columns else 1
    # One call for the whole ladder, the first few points on every rung.
    x = np.repeat(ladder, count)
    rungs = missing(x, *(np.tile(column, len(ladder)) for column in columns)).reshape(len(ladder), count)
    steps = np.diff(rungs, axis=0)
    slack = 1e-12 * (np.abs(rungs).max() + 1e-300)
    if ((steps.max(axis=0) > slack) & (steps.min(axis=0) < -slack)).any():
        raise ValueError(f"the model both rises and falls in '{along}'; name another input to integrate along")


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
        _at_least("count", count, 0)
        return float(stats.binom.sf(count, self.holes, self.shares).mean())

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
        Input that is integrated; the one with the greatest first-order share among those that vary from hole to hole when left out.
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
    ValueError
        For unusable inputs, unknown names, or a number of holes that is not a whole number above zero.
    """
    random, fixed = _split(inputs)
    _finite("dose", dose)
    count = int(_each("holes", holes, lambda x: (x >= 1) & (x == np.floor(x)), "a whole number above zero"))
    for name in common:
        if name not in inputs:
            raise ValueError(f"'{name}' is called common to a series but is not an input; the inputs are: {', '.join(inputs)}")
    shared = {name: d for name, d in random.items() if name in common}
    own = {name: d for name, d in random.items() if name not in common}
    chosen = _along(model, inputs, along, own)
    rest = {name: d for name, d in own.items() if name != chosen}
    # Nothing shared: all series are alike, and all points go into the one.
    within = _points_needed(inner) if shared else _points_needed(n * inner)
    size, points = _grid([(shared, _points_needed(n)), (rest, within)], fixed, seed)
    chance = _short_given(model, points, size, chosen, random, dose)
    return SeriesRisk(chance.reshape(-1, within if rest else 1).mean(axis=1), count)


def repeat_short_probability(*, margin: Any, sd: Any) -> Any:
    """Probability that the next hole stays short when the first hole's amount plus a margin is used again.

    Parameters
    ----------
    margin : float or ndarray
        Amount added to what filled the first hole [mL, or any one unit].
    sd : float or ndarray
        Standard deviation from hole to hole of the volume needed, normal [the same unit].

    Returns
    -------
    float or array
        Φ(−margin/(sd √2)) [-]: two holes differ with sd √2, so without a margin every second one is short.

    Raises
    ------
    ValueError
        For a negative or not finite sd, or a margin that is not finite.

    Examples
    --------
    >>> repeat_short_probability(margin=0.0, sd=1.2)
    0.5
    """
    extra = _each("margin", margin, np.isfinite, "a finite number")
    scatter = _each("sd", sd, lambda x: x >= 0, "a finite number, not negative")
    extra, scatter = np.broadcast_arrays(extra, scatter)
    safe = np.where(scatter > 0, scatter, 1.0)
    # Without scatter every hole takes the same: exactly full is not short.
    return _plain(np.where(scatter > 0, special.ndtr(-extra / (safe * math.sqrt(2))), np.where(extra < 0, 1.0, 0.0)))


# ---- doses from costs ----------------------------------------------------------------------------------------------------


def best_dose(requirement: Distribution | Spread, cost_short: Any, cost_waste: Any) -> Any:
    """Dose of least expected cost when both what is missing and what is wasted cost by volume: the critical fractile.

    Parameters
    ----------
    requirement : frozen distribution or Spread
        Volume needed [any one volume unit]: a frozen distribution, or simulated.
    cost_short, cost_waste : float or ndarray
        Cost of a unit of volume that is missing, and of one that is wasted [currency per the same unit].

    Returns
    -------
    float or array
        F⁻¹(cost_short/(cost_short + cost_waste)) [the same unit].

    Raises
    ------
    ValueError
        For costs that are not finite and above zero, or an unusable distribution.

    Examples
    --------
    >>> from scipy import stats
    >>> round(best_dose(stats.uniform(350, 270), 20.0, 9.0), 3)
    536.207
    """
    short, waste = _cost("cost_short", cost_short), _cost("cost_waste", cost_waste)
    fractile = short / (short + waste)
    if isinstance(requirement, Spread):
        return requirement.quantile(fractile)
    random, fixed = _split({"requirement": requirement})
    return _plain(random["requirement"].ppf(fractile) if random else np.full(np.shape(fractile), fixed["requirement"]))


def best_dose_per_hole(requirement: Distribution | Spread, cost_hole: float, cost_waste: float) -> float:
    """Dose of least expected cost when a short hole costs a fixed amount, however little is missing.

    Parameters
    ----------
    requirement : frozen distribution or Spread
        Volume needed [any one volume unit]: a frozen distribution, or simulated.
    cost_hole : float
        Cost of a short hole [currency].
    cost_waste : float
        Cost of a unit of volume that is wasted [currency per the same unit].

    Returns
    -------
    float
        Dose Q with K f(Q) = c_w F(Q), K and c_w the costs; the cheapest one where there are several [the same unit].

    Raises
    ------
    ValueError
        For costs that are not finite and above zero, or an unusable distribution.

    Notes
    -----
    The expected cost K (1 − F(Q)) + c_w E max(Q − V, 0) has the derivative c_w F(Q) − K f(Q). A short hole that costs less than
    its filling gives the lower end of the distribution: such costs are not worth a dose, and are to be looked at again.
    """
    hole, waste = float(_cost("cost_hole", cost_hole)), float(_cost("cost_waste", cost_waste))
    if isinstance(requirement, Spread):
        candidates = requirement._sorted
        cost = hole * requirement.short_probability(candidates) + waste * requirement.mean_excess(candidates)
        return float(candidates[np.argmin(cost)])
    random, fixed = _split({"requirement": requirement})
    if not random:
        return fixed["requirement"]
    need = random["requirement"]
    score = np.linspace(-8.0, 8.0, 4001)
    grid = np.unique(np.where(score < 0, need.ppf(special.ndtr(score)), need.isf(special.ndtr(-score))))
    below = need.cdf(grid)
    excess = np.concatenate(([0.0], np.cumsum(np.diff(grid) * (below[1:] + below[:-1]) / 2)))
    best = int(np.argmin(hole * need.sf(grid) + waste * excess))
    low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, len(grid) - 1)])

    def slope(q: float) -> float:
        return waste * float(need.cdf(q)) - hole * float(need.pdf(q))

    if slope(low) < 0 < slope(high):
        return float(brentq(slope, low, high, xtol=1e-12 * (abs(high) + (high - low))))
    return float(grid[best])  # at an end of a limited distribution, or where its density jumps


# ---- doses from measured holes -------------------------------------------------------------------------------------------


def tolerance_factor(*, n: Any, share: Any, confidence: Any) -> Any:
    """One-sided tolerance factor k: mean + k s of n normal measurements is not exceeded by the share, with the confidence.

    Parameters
    ----------
    n : int
        Number of measured holes.
    share : float or ndarray
        Share of all holes that are to be covered [-].
    confidence : float or ndarray
        Probability that the statement holds [-].

    Returns
    -------
    float or array
        k [-], exact: the non-central t quantile t'(confidence; n − 1, z_share √n)/√n.

    Raises
    ------
    ValueError
        For fewer than two measurements, or a share or confidence outside (0, 1).

    References
    ----------
    ISO 16269-6:2014; Montgomery and Runger, Applied Statistics and Probability for Engineers, 7th ed., Table XII.

    Examples
    --------
    >>> round(tolerance_factor(n=10, share=0.95, confidence=0.95), 3)
    2.911
    """
    count = _measurements(n, 2, "one hole tells nothing about scatter")
    z, root = special.ndtri(_part("share", share)), np.sqrt(count)
    k = stats.nct.ppf(_part("confidence", confidence), count - 1, z * root) / root
    if not np.all(np.isfinite(k)):
        raise ValueError("this tolerance factor cannot be computed; take a share and a confidence farther from 0 and 1")
    return _plain(k)


def prediction_factor(*, n: Any, confidence: Any) -> Any:
    """One-sided prediction factor: mean + k s of n normal measurements is not exceeded by the next single hole.

    Parameters
    ----------
    n : int
        Number of measured holes.
    confidence : float or ndarray
        Probability that the next hole stays below [-].

    Returns
    -------
    float or array
        k = t(confidence; n − 1) √(1 + 1/n) [-].

    Raises
    ------
    ValueError
        For fewer than two measurements, or a confidence outside (0, 1).
    """
    count = _measurements(n, 2, "one hole tells nothing about scatter")
    return _plain(special.stdtrit(count - 1, _part("confidence", confidence)) * np.sqrt(1 + 1 / count))


def holes_without_normality(*, share: Any, confidence: Any) -> Any:
    """Fewest measured holes of which the largest covers the share with the confidence, whatever the distribution.

    Parameters
    ----------
    share : float or ndarray
        Share of all holes that are to be covered [-].
    confidence : float or ndarray
        Probability that the statement holds [-].

    Returns
    -------
    int or array
        Smallest n with 1 − shareⁿ ≥ confidence.

    Raises
    ------
    ValueError
        For a share or confidence outside (0, 1).

    Examples
    --------
    >>> holes_without_normality(share=0.95, confidence=0.95)
    59
    """
    exact = np.log1p(-_part("confidence", confidence)) / np.log(_part("share", share))
    # The quotient of two logarithms misses whole numbers by a few bits: 0.75 at 0.5 is 2 holes, not 3.
    count = np.maximum(1, np.ceil(exact * (1 - 1e-12))).astype(int)
    return int(count) if np.ndim(count) == 0 else count


def rank_without_normality(*, n: int, share: float, confidence: float) -> int:
    """Rank, counted from the smallest, of the measurement that covers the share with the confidence, whatever the distribution.

    Parameters
    ----------
    n : int
        Number of measured holes.
    share : float or ndarray
        Share of all holes that are to be covered [-].
    confidence : float or ndarray
        Probability that the statement holds [-].

    Returns
    -------
    int
        Smallest rank r with P(Binomial(n, share) < r) ≥ confidence.

    Raises
    ------
    ValueError
        When n is too small, saying how many holes are needed.
    """
    needed = int(holes_without_normality(share=share, confidence=confidence))
    count = int(_measurements(n, needed, f"with fewer, not even the largest covers {share:g} with confidence {confidence:g}"))
    ranks = np.arange(1, count + 1)
    enough = stats.binom.cdf(ranks - 1, count, share) >= confidence * (1 - 1e-12)
    return int(ranks[np.argmax(enough)])
