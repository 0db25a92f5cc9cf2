"""Speed of scatter and overfill as ratios within one run: evaluations, propagation, indices, the panel.

Not part of the test command.
"""

import math
import time

import numpy as np
import pytest
from scipy import integrate, special, stats
from scipy.stats import qmc

# An invented annulus: D ~ N(20.3, 0.10), phi ~ N(16.0, 0.18), L ~ N(200, 3) mm.
INPUTS = {"d_0": stats.norm(20.3, 0.10), "phi": stats.norm(16.0, 0.18), "l_v": stats.norm(200.0, 3.0)}
DOSE = 26_500.0
POINTS = 2**20


def annulus():
    from calc.fill.hole import annular_volume

    return annular_volume.function


def best_of_pairs(one, other, repeat=9):
    """Least processor time of each, in turn, so that other work on the machine weighs on both alike."""
    times = ([], [])
    for _ in range(repeat):
        for action, kept in zip((one, other), times, strict=True):
            start = time.process_time()
            action()
            kept.append(time.process_time() - start)
    return min(times[0]), min(times[1])


def say(name, ratio, of):
    print(f"\n{name}: {ratio:.3g} times {of}")


# ---- probability of a short hole -----------------------------------------------------------------


def reference(dose):
    """The same probability by quadrature: L integrated in closed form, D and phi by Gauss–Hermite."""
    nodes, weights = special.roots_hermitenorm(120)
    d = 20.3 + 0.10 * nodes[:, None]
    phi = 16.0 + 0.18 * nodes[None, :]
    needs = stats.norm(200.0, 3.0).sf(dose / (math.pi / 4 * (d**2 - phi**2)))
    return float((weights[:, None] * weights[None, :] * needs).sum() / (2 * math.pi))


def test_short_probability_against_plain_monte_carlo(benchmark):
    from calc.scatter.shortfall import short_probability

    model, counted = annulus(), []

    def counting(**values):
        counted.append(np.broadcast_shapes(*(np.shape(v) for v in values.values())))
        return model(**values)

    exact = reference(DOSE)
    other = integrate.quad(
        lambda phi: stats.norm(16.0, 0.18).pdf(phi) * _given(phi),
        16.0 - 9 * 0.18,
        16.0 + 9 * 0.18,
        epsabs=1e-11,
        epsrel=1e-10,
    )[0]
    assert exact == pytest.approx(other, abs=1e-9)
    errors, needed = [], []
    for seed in range(1, 21):
        counted.clear()
        errors.append(abs(short_probability(counting, INPUTS, dose=DOSE, seed=seed) - exact))
        needed.append(sum(math.prod(shape) for shape in counted))
    # Plain Monte Carlo needs p(1 − p)/e² evaluations for a standard error of e.
    plain = exact * (1 - exact) / 1e-4**2
    benchmark.pedantic(lambda: short_probability(model, INPUTS, dose=DOSE), rounds=5)
    print(
        f"\nshort_probability: at most {max(errors):.1e} off with at most {max(needed)} evaluations; plain Monte Carlo"
        f" needs {plain:.3g}"
    )
    say("evaluations of short_probability", max(needed) / plain, "those of plain Monte Carlo for the same accuracy")
    assert max(errors) <= 1e-4
    assert max(needed) <= plain / 50


def _given(phi):
    def inner(d):
        return stats.norm(20.3, 0.10).pdf(d) * stats.norm(200.0, 3.0).sf(DOSE / (math.pi / 4 * (d**2 - phi**2)))

    return integrate.quad(inner, 20.3 - 0.9, 20.3 + 0.9, epsabs=1e-12, epsrel=1e-11)[0]


# ---- propagation ---------------------------------------------------------------------------------


def test_propagate_at_a_million_points(benchmark):
    """The whole call, with mean, scatter and quantiles, against the simplest thing that a person would write."""
    from calc.scatter.propagate import propagate

    model = annulus()

    def simplest():
        points = qmc.Sobol(len(INPUTS), scramble=True, rng=np.random.default_rng(1)).random(POINTS)
        columns = {name: one.ppf(points[:, i]) for i, (name, one) in enumerate(INPUTS.items())}
        values = np.pi / 4 * (columns["d_0"] ** 2 - columns["phi"] ** 2) * columns["l_v"]
        return values.mean(), values.std(), np.quantile(values, (0.025, 0.95, 0.975))

    def whole():
        spread = propagate(model, INPUTS, n=POINTS)
        return spread.mean, spread.sd, (spread.quantile(0.025), spread.quantile(0.95), spread.quantile(0.975))

    for own, other in zip(whole(), simplest(), strict=True):
        np.testing.assert_allclose(own, other, rtol=1e-5)
    ours, theirs = best_of_pairs(whole, simplest, repeat=7)
    benchmark.pedantic(whole, rounds=5)
    say("propagate at 2**20 points, summary included", ours / theirs, "scipy.stats.qmc and NumPy, written plainly")
    assert ours < theirs


# ---- indices -------------------------------------------------------------------------------------


def test_sobol_against_salib(benchmark):
    from SALib.analyze import sobol as analyze
    from SALib.sample import sobol as sample

    from calc.scatter.variance import sobol

    model, n = annulus(), 2**15
    problem = {
        "num_vars": 3,
        "names": list(INPUTS),
        "bounds": [[20.3, 0.10], [16.0, 0.18], [200.0, 3.0]],
        "dists": ["norm"] * 3,
    }

    def theirs():
        values = sample.sample(problem, n, calc_second_order=False, seed=1)
        results = model(d_0=values[:, 0], phi=values[:, 1], l_v=values[:, 2])
        return analyze.analyze(problem, results, calc_second_order=False, num_resamples=2, seed=1)

    def ours():
        return sobol(model, INPUTS, n=n)

    found = theirs()
    for i, name in enumerate(INPUTS):
        assert ours().first[name] == pytest.approx(found["S1"][i], abs=5e-3)
    mine, other = best_of_pairs(ours, theirs, repeat=5)
    benchmark.pedantic(ours, rounds=3)
    say("sobol at 2**15 base points", mine / other, "SALib with the same number, its bootstrap kept to two resamples")
    assert mine <= other


# ---- the panel -----------------------------------------------------------------------------------


def test_dragging_the_dose(benchmark):
    from matplotlib.figure import Figure

    from calc.base.display import METRIC
    from calc.files.job import demo_job
    from calc.show.drawing import redraw_bare
    from calc.show.overfill.figures import curve_drawing
    from calc.show.overfill.panel import OverfillPanel
    from calc.work.load import load_job

    panel = OverfillPanel(load_job(demo_job()))
    figure = Figure()
    curve_drawing(panel.result, METRIC, figure=figure)
    shares = iter(0.001 * (50 + i % 500) for i in range(10_000))

    def drag():
        panel.fields["overfill_slider"].value = next(shares)

    dragged, bare = best_of_pairs(drag, lambda: redraw_bare(figure), repeat=25)
    benchmark.pedantic(drag, rounds=25)
    assert panel.result is not None
    say("dragging the dose in the panel, numbers and picture", dragged / bare, "a bare redraw of the same figure")
    assert dragged <= 1.5 * bare


if __name__ == "__main__":
    pytest.main([__file__, "-s", "-q"])
