"""What is true of anchors whatever the numbers: edge distance, spacing and depth help; what cannot be is refused."""

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from calc.base import maths
from calc.base.collector import Steps
from calc.base.units import convert
from calc.strength import aci318_19_17 as aci
from calc.strength import en1992_4 as en4

FAR = (None, None, None, None)
SINGLE = (0.0, 1, 0.0, 1)
# What rounding may take off where two results are equal in exact arithmetic.
LESS = 1 - 1e-12

# A busy machine takes its time; each example is a chain of some twenty formulas.
some = settings(deadline=None, max_examples=50)

depth = st.floats(60, 400)
strength = st.floats(20, 50)
diameter = st.sampled_from([8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 32.0])
bond = st.floats(4, 20)
edge = st.one_of(st.none(), st.floats(30, 1200))
edges = st.tuples(edge, edge, edge, edge)
number = st.integers(1, 3)
more = st.floats(1.001, 3)


def cone(h_ef: float, at: Any, spacings: Any, **rest: Any) -> float:
    return en4.cone_resistance(k_1=7.7, f_ck=30, h_ef=h_ef, edges=at, spacings=spacings, **rest)


def pullout(h_ef: float, at: Any, spacings: Any, d: float = 16, tau: float = 8, **rest: Any) -> float:
    return en4.pullout_resistance(
        tau_Rk=tau, tau_Rk_uncr=1.4 * tau, d=d, h_ef=h_ef, f_ck=30, k_3=7.7, edges=at, spacings=spacings, **rest
    )


def splitting(h_ef: float, at: Any, spacings: Any) -> float:
    return en4.splitting_chain(
        c_cr_sp=2 * h_ef, h=1.5 * h_ef, h_min=1.3 * h_ef, h_ef=h_ef, edges=at, spacings=spacings, N_Rk_sp_0=100000
    ).value


def breakout(h_ef: float, at: Any, spacings: Any, **rest: Any) -> float:
    return aci.breakout_resistance(k_c=17, f_c=4000, h_ef=h_ef, edges=at, spacings=spacings, **rest)


def aci_bond(h_ef: float, at: Any, spacings: Any, **rest: Any) -> float:
    return aci.bond_resistance(tau=900, tau_uncr=1500, d_a=0.75, h_ef=h_ef, edges=at, spacings=spacings, **rest)


# Each takes a depth, edges and spacings in the unit of its code.
EN = [cone, pullout, splitting]
ALL = [*EN, breakout, aci_bond]


def scaled(function: Any, at: Any, spacings: Any, h_ef: float) -> tuple[Any, Any, float]:
    """Bring millimetres to the size that a function is written for."""
    if function in EN:
        return at, spacings, h_ef
    return (
        tuple(None if c is None else c / 25 for c in at),
        (spacings[0] / 25, spacings[1], spacings[2] / 25, spacings[3]),
        h_ef / 25,
    )


@pytest.mark.parametrize("function", ALL)
@some
@given(at=edges, which=st.integers(0, 3), factor=more, h_ef=depth, s=st.floats(60, 900), n_x=number, n_y=number)
def test_grows_with_an_edge_distance(
    function: Any, at: Any, which: int, factor: float, h_ef: float, s: float, n_x: int, n_y: int
) -> None:
    assume(at[which] is not None)
    spacings = (s, n_x, s, n_y)
    # The reduced depth of a narrow member has a step of its own where a third edge comes near; it is looked at below.
    wide = [at[:which] + (c,) + at[which + 1 :] for c in (at[which], at[which] * factor, None)]
    assume(all(sum(c is not None and c < 1.5 * h_ef for c in one) < 3 for one in wide))
    found = [function(h, e, sp) for e, sp, h in (scaled(function, one, spacings, h_ef) for one in wide)]
    assert found[0] * LESS <= found[1]
    assert found[1] * LESS <= found[2]


@pytest.mark.parametrize("function", ALL)
@some
@given(at=edges, h_ef=depth, s=st.floats(80, 900), t=st.floats(80, 900), factor=more, n_x=st.integers(2, 3), n_y=number)
def test_grows_with_spacing(
    function: Any, at: Any, h_ef: float, s: float, t: float, factor: float, n_x: int, n_y: int
) -> None:
    assume(sum(c is not None and c < 1.5 * h_ef for c in at) < 3)
    near, apart = (
        function(h, e, sp) for e, sp, h in (scaled(function, at, (d, n_x, t, n_y), h_ef) for d in (s, s * factor))
    )
    assert near * LESS <= apart


@some
@given(h_ef=depth, s=st.floats(80, 900), factor=more, n=st.integers(4, 30), d=diameter, tau=bond)
def test_a_long_row_grows_with_spacing_and_never_bears_more_than_its_bars_apart(
    h_ef: float, s: float, factor: float, n: int, d: float, tau: float
) -> None:
    assume(s >= 5 * d)
    near, apart, far = (pullout(h_ef, FAR, (one, n, 0, 1), d, tau) for one in (s, s * factor, 1e5))
    assert near * LESS <= apart
    assert apart * LESS <= far == pytest.approx(n * pullout(h_ef, FAR, SINGLE, d, tau), rel=1e-9)


@pytest.mark.parametrize("function", [cone, breakout, pullout, aci_bond])
@some
@given(h_ef=depth, factor=more)
def test_grows_with_depth_far_from_edges(function: Any, h_ef: float, factor: float) -> None:
    one, two = (function(h, e, sp) for e, sp, h in (scaled(function, FAR, SINGLE, x) for x in (h_ef, h_ef * factor)))
    cut = function in (pullout, aci_bond)  # from 20 diameters on, more depth does not count in bond
    assert one < two or (cut and one == two)


@some
@given(c=st.floats(60, 200), h_ef=st.floats(140, 400), factor=more)
def test_between_four_edges_depth_no_longer_helps_the_cone(c: float, h_ef: float, factor: float) -> None:
    assume(c < 1.5 * h_ef)
    at = (c, c, c, c)
    assert cone(h_ef, at, SINGLE) == pytest.approx(cone(h_ef * factor, at, SINGLE), rel=1e-12)
    full = [
        en4.cone_chain(k_1=7.7, f_ck=30, h_ef=h, edges=at, spacings=SINGLE, reduced=False).value
        for h in (h_ef, h_ef * factor)
    ]
    assert full[0] > full[1]


@some
@given(at=st.tuples(*[st.floats(30, 1200)] * 4), h_ef=depth, s=st.floats(60, 400), n=number)
def test_the_reduced_depth_goes_over_without_a_step(at: Any, h_ef: float, s: float, n: int) -> None:
    # Where the third edge comes near, the reduced depth equals the full one: no jump in the resistance.
    nearest = sorted(at)
    assume(nearest[1] < 1.4 * h_ef)
    just = 1.5 * h_ef
    below, above = (cone(h_ef, (nearest[0], nearest[1], c, None), (s, n, 0, 1)) for c in (just * (1 - 1e-9), just))
    assert below == pytest.approx(above, rel=1e-6)


@pytest.mark.parametrize("function", ALL)
@some
@given(h_ef=depth, n_x=st.integers(1, 6), n_y=st.integers(1, 4))
def test_bars_far_apart_are_single_bars(function: Any, h_ef: float, n_x: int, n_y: int) -> None:
    group = function(h_ef if function in EN else h_ef / 25, FAR, (1e5, n_x, 1e5, n_y))
    single = function(h_ef if function in EN else h_ef / 25, FAR, SINGLE)
    assert group == pytest.approx(n_x * n_y * single, rel=1e-9)


@some
@given(h_ef=depth, f_ck=strength)
def test_a_single_bar_far_from_edges_is_the_basic_value(h_ef: float, f_ck: float) -> None:
    basic = en4.cone_basic(k_1=7.7, f_ck=f_ck, h_ef=h_ef)
    assert en4.cone_resistance(k_1=7.7, f_ck=f_ck, h_ef=h_ef, edges=FAR, spacings=SINGLE) == pytest.approx(
        basic, rel=1e-12
    )
    assert pullout(h_ef, FAR, SINGLE) == pytest.approx(en4.pullout_basic(tau_Rk=8, d=16, h_ef=h_ef), rel=1e-12)
    inches = h_ef / 25.4
    assert breakout(inches, FAR, SINGLE) == pytest.approx(aci.breakout_basic(k_c=17, f_c=4000, h_ef=inches), rel=1e-12)
    assert aci_bond(inches, FAR, SINGLE) == pytest.approx(aci.bond_basic(tau=900, d_a=0.75, h_ef=inches), rel=1e-12)


@pytest.mark.parametrize("function", ALL)
@some
@given(at=edges, h_ef=depth, s=st.floats(60, 900), n_x=number, n_y=number)
def test_turning_and_mirroring_the_group_changes_nothing(
    function: Any, at: Any, h_ef: float, s: float, n_x: int, n_y: int
) -> None:
    left, right, below, above = at
    seen = []
    for one, spacings in (
        (at, (s, n_x, 2 * s, n_y)),
        ((right, left, below, above), (s, n_x, 2 * s, n_y)),
        ((below, above, left, right), (2 * s, n_y, s, n_x)),
    ):
        e, sp, h = scaled(function, one, spacings, h_ef)
        seen.append(function(h, e, sp))
    assert seen[1:] == pytest.approx([seen[0]] * 2, rel=1e-12)


@pytest.mark.parametrize("function", [cone, pullout, breakout, aci_bond])
@some
@given(h_ef=depth, s=st.floats(60, 400), e=st.floats(0.001, 200))
def test_an_eccentric_pull_never_helps(function: Any, h_ef: float, s: float, e: float) -> None:
    at, spacings, h = scaled(function, FAR, (s, 2, s, 2), h_ef)
    e = e if function in EN else e / 25
    centred, one, both = (function(h, at, spacings, eccentricity=x) for x in ((0.0, 0.0), (e, 0.0), (e, -e)))
    assert both < one < centred
    assert both / centred == pytest.approx((one / centred) ** 2, rel=1e-9)


@some
@given(f_c=st.floats(2500, 8000), h_ef=st.floats(2.5, 16), c=st.floats(1.5, 30), s=st.floats(3, 30), n=number)
def test_aci_in_metric_units_is_the_same_formula(f_c: float, h_ef: float, c: float, s: float, n: int) -> None:
    """Written for MPa, mm and N, the factor 17 becomes 7.11: 17 x 4.448 N / sqrt(0.006895 MPa) / 25.4^1.5 mm^1.5."""
    k_c = convert(17.0, "lbf", "N") / math.sqrt(convert(1.0, "psi", "MPa")) / 25.4**1.5
    # The factor that the metric edition would print with two decimals; the edition itself rounds it to 7.
    assert k_c == pytest.approx(7.1, abs=0.05)
    f, h, edge_mm, s_mm = convert(f_c, "psi", "MPa"), 25.4 * h_ef, 25.4 * c, 25.4 * s
    reach = 1.5 * h
    share = (min(edge_mm, reach) + (n - 1) * min(s_mm, 2 * reach) + reach) / (2 * reach)
    metric = k_c * math.sqrt(f) * h**1.5 * share * min(1, 0.7 + 0.3 * edge_mm / reach)
    us = aci.breakout_resistance(k_c=17, f_c=f_c, h_ef=h_ef, edges=(c, None, None, None), spacings=(s, n, 0, 1))
    assert convert(us, "lbf", "N") == pytest.approx(metric, rel=1e-9)


@some
@given(tau=st.floats(300, 2500), d_a=st.floats(0.375, 1.25), c=st.floats(1.5, 30), s=st.floats(3, 30), n=number)
def test_aci_bond_in_metric_units_is_the_same_formula(tau: float, d_a: float, c: float, s: float, n: int) -> None:
    tau_uncr, h_ef = 1.4 * tau, 10 * d_a
    c_Na = 10 * 25.4 * d_a * math.sqrt(convert(tau_uncr, "psi", "MPa") / convert(1100.0, "psi", "MPa"))
    share = (min(25.4 * c, c_Na) + (n - 1) * min(25.4 * s, 2 * c_Na) + c_Na) / (2 * c_Na)
    metric = convert(tau, "psi", "MPa") * math.pi * 25.4**2 * d_a * h_ef * share * min(1, 0.7 + 0.3 * 25.4 * c / c_Na)
    us = aci.bond_resistance(
        tau=tau, tau_uncr=tau_uncr, d_a=d_a, h_ef=h_ef, edges=(c, None, None, None), spacings=(s, n, 0, 1)
    )
    assert convert(us, "lbf", "N") == pytest.approx(metric, rel=1e-9)


# --- what a chain keeps is what ran ---

ROW: dict[str, Any] = {"edges": (90, None, 110, None), "spacings": (150, 5, 200, 2)}
CHAINS: dict[str, Steps] = {
    "cone": en4.design(
        en4.cone_chain(k_1=7.7, f_ck=70, h_ef=80, dense=True, eccentricity=(9, 0), **ROW), gamma_inst=1.2
    ),
    "narrow cone": en4.cone_chain(k_1=7.7, f_ck=30, h_ef=180, edges=(90, 100, 110, None), spacings=(150, 2, 0, 1)),
    "pull-out": en4.design(
        en4.pullout_chain(tau_Rk=8, tau_Rk_uncr=12, d=16, h_ef=400, f_ck=30, k_3=7.7, psi_sus=0.9, **ROW),
        gamma_inst=1.0,
    ),
    "splitting": en4.design(
        en4.splitting_chain(c_cr_sp=300, h=300, h_min=250, h_ef=180, N_Rk_p_0=9e4, N_Rk_c_0=8e4, **ROW), gamma_inst=1.4
    ),
    "steel": en4.steel_chain(A_s=201, f_uk=540, f_yk=500),
    "sustained": en4.sustained_chain(alpha_sus=0.8),
    "ACI breakout": aci.design(
        aci.breakout_chain(k_c=17, f_c=9000, h_ef=7, edges=(3, None, 4, None), spacings=(6, 5, 8, 2), cracked=False),
        category=1,
        supplementary=False,
    ),
    "ACI narrow": aci.breakout_chain(k_c=17, f_c=4000, h_ef=7, edges=(3, 4, 5, None), spacings=SINGLE, cracked=False),
    "ACI bond": aci.design(
        aci.bond_chain(
            tau=900, tau_uncr=1500, d_a=0.5, h_ef=12, edges=(3, None, 4, None), spacings=(6, 5, 8, 2), cracked=False
        ),
        category=2,
        supplementary=True,
    ),
    "ACI steel": aci.steel_chain(A_se_N=0.31, f_uta=90000, f_ya=60000, ductile=True),
    "ACI sustained": aci.sustained_chain(tau=900, d_a=0.5, h_ef=12, category=3, supplementary=False),
}


@pytest.mark.parametrize("name", CHAINS)
def test_steps_of_a_chain_lead_to_its_number(name: str) -> None:
    chain = CHAINS[name]
    steps = chain.steps
    assert len(steps) == len(chain.links)
    assert steps[-1].value == chain.value
    for step in steps:
        found = eval(
            step.expression,
            {"__builtins__": {}},
            {**maths.FUNCTIONS, **maths.CONSTANTS, **{i.name: i.value for i in step.inputs}},
        )
        assert found == pytest.approx(step.value, rel=1e-12)


def test_a_chain_names_the_branch_that_ran() -> None:
    assert "reduced_depth" in CHAINS["narrow cone"].choices
    assert "reduced_depth_aci318" in CHAINS["ACI narrow"].choices
    assert "group_factor_extended" in CHAINS["pull-out"].choices
    assert "counted_depth" in CHAINS["pull-out"].choices
    assert "counted_depth_aci318" in CHAINS["ACI bond"].choices
    assert "splitting_of_one" in CHAINS["splitting"].choices
    assert "far" not in CHAINS["cone"].last("c_x2").source.words
    assert CHAINS["cone"].last("c_x2").source.words.startswith("no edge right")
    assert CHAINS["ACI breakout"].last("psi_c_N").source.words.endswith("uncracked concrete, k_c = 17")


def test_what_has_to_be_said_is_said() -> None:
    def says(name: str, words: str) -> bool:
        return any(words in notice.text for notice in CHAINS[name].notices)

    assert says("cone", "extended")
    assert not says("narrow cone", "extended")
    assert says("cone", "70 MPa count as 60 MPa")
    assert says("narrow cone", "psi_M,N")
    assert says("pull-out", "20 bar diameters")
    for name in ("cone", "pull-out", "splitting", "ACI breakout", "ACI bond"):
        assert says(name, "no head")


# --- what is refused ---


@pytest.mark.parametrize("function", ALL)
@pytest.mark.parametrize(
    ("at", "spacings", "message"),
    [
        ((0.0, None, None, None), SINGLE, "edge left is 0"),
        ((None, -5.0, None, None), SINGLE, "edge right is -5"),
        ((None, None, math.nan, None), SINGLE, "edge below is nan"),
        ((None, None, None), SINGLE, "edges has 3 values"),
        (FAR, (100, 0, 0, 1), "n_x = 0"),
        (FAR, (100, 2.5, 0, 1), "n_x = 2.5"),
        (FAR, (100, 2, 0, math.nan), "n_y = nan"),
        (FAR, (0, 2, 0, 1), "s_x = 0"),
        (FAR, (100, 1, -3, 2), "s_y = -3"),
        (FAR, (100, 1, None, 2), "s_y = None"),
        (FAR, (math.nan, 2, 0, 1), "s_x = nan"),
    ],
)
def test_refuses_a_group_that_cannot_be(function: Any, at: Any, spacings: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        function(7.0, at, spacings)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: cone(math.nan, FAR, SINGLE), "h_ef"),
        (lambda: cone(0.0, FAR, SINGLE), "h_ef"),
        (lambda: cone(180, FAR, SINGLE, dense=None), "dense"),
        (lambda: cone(180, FAR, SINGLE, eccentricity=(math.nan, 0)), "eccentricity"),
        (lambda: en4.cone_basic(k_1=7.7, f_ck=math.nan, h_ef=180), "f_ck"),
        (lambda: pullout(math.nan, FAR, SINGLE), "h_ef"),
        (lambda: pullout(180, FAR, SINGLE, psi_sus=1.1), "psi_sus"),
        (lambda: pullout(180, FAR, SINGLE, tau=-1), "tau_Rk"),
        (lambda: en4.steel_chain(A_s=201, f_uk=450, f_yk=500), "f_yk must be at most f_uk"),
        (lambda: en4.sustained_chain(alpha_sus=1.2), "alpha_sus"),
        (
            lambda: en4.splitting_chain(c_cr_sp=300, h=300, h_min=250, h_ef=180, edges=FAR, spacings=SINGLE),
            "N_Rk_sp_0 is missing",
        ),
        (lambda: breakout(math.nan, FAR, SINGLE), "h_ef"),
        (lambda: breakout(7, FAR, SINGLE, lambda_a=1.2), "lambda_a"),
        (lambda: aci.breakout_basic(k_c=17, f_c=math.nan, h_ef=7), "f_c"),
        (lambda: aci_bond(math.nan, FAR, SINGLE), "h_ef"),
        (lambda: aci.bond_basic(tau=0, d_a=0.5, h_ef=7), "tau_a"),
        (lambda: aci.phi_concrete(category=4, supplementary=False), "category = 4"),
        (lambda: aci.steel_chain(A_se_N=0.3, f_uta=9e4, f_ya=6e4, ductile=None), "ductile"),
    ],
)
def test_refuses(call: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
