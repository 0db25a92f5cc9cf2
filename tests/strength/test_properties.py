"""What must hold for every bar and every concrete, and what must be refused."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from jobparts import lap_with_end_cover

from calc.base import maths
from calc.base.collector import Steps
from calc.base.units import convert
from calc.strength import aci318_19 as aci
from calc.strength import en1992_2004 as en04
from calc.strength import en1992_2023 as en23
from calc.strength import interface

bars = st.floats(6, 50)
stresses = st.floats(0, 550)
concretes = st.floats(12, 90)
covers = st.none() | st.floats(10, 300)
yes_no = st.booleans()
# Larger by enough that floating point cannot hide it.
more = st.floats(1.001, 3)


# --- EN 1992-1-1:2004 ---


@given(bars, more, concretes, stresses, yes_no, covers, yes_no)
def test_2004_longer_for_a_larger_bar(
    phi: float, factor: float, f_ck: float, sigma_sd: float, good: bool, c_d: float | None, compression: bool
) -> None:
    assume(phi * factor <= 60)
    one, two = (
        en04.anchorage_length(phi=p, f_ck=f_ck, sigma_sd=sigma_sd, good_bond=good, c_d=c_d, compression=compression)
        for p in (phi, phi * factor)
    )
    assert two > one or (two == one == 100)


@given(
    bars,
    st.sampled_from([(12.0, 50.0), (50.001, 60.0)]),
    st.floats(0, 0.9),
    st.floats(1, 550),
    yes_no,
    st.floats(25, 100),
)
def test_2004_longer_for_weaker_concrete(
    phi: float, span: tuple[float, float], place: float, sigma_sd: float, good: bool, rho_1: float
) -> None:
    # Within each branch of Table 3.1: the two do not meet at 50 MPa. The basic length shows it free of any floor.
    strong, weak = span[1], span[0] + place * (span[1] - span[0])
    a, b = (en04.lap_chain(phi=phi, f_ck=f, sigma_sd=sigma_sd, rho_1=rho_1, good_bond=good) for f in (strong, weak))
    assert b.known["l_b_rqd"] > a.known["l_b_rqd"]
    assert b.value >= a.value


def test_2004_branches_miss_each_other_by_a_fifth_of_a_per_cent() -> None:
    below, above = en04.f_ctm(f_ck=50), en04.f_ctm(f_ck=50.0001)
    assert above < below
    assert above == pytest.approx(below, rel=0.002)


@given(bars, concretes, st.floats(1, 550), covers, yes_no)
def test_2004_longer_for_poor_bond(
    phi: float, f_ck: float, sigma_sd: float, c_d: float | None, compression: bool
) -> None:
    good, poor = (
        en04.anchorage_chain(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, good_bond=g, c_d=c_d, compression=compression)
        for g in (True, False)
    )
    assert poor.known["l_b_rqd"] == pytest.approx(good.known["l_b_rqd"] / 0.7, rel=1e-12)
    assert poor.value >= good.value


@given(bars, concretes, stresses, yes_no, covers, yes_no, st.floats(0.7, 1), st.floats(0.7, 1))
def test_2004_anchorage_never_under_its_floor(
    phi: float,
    f_ck: float,
    sigma_sd: float,
    good: bool,
    c_d: float | None,
    compression: bool,
    alpha_3: float,
    alpha_5: float,
) -> None:
    chain = en04.anchorage_chain(
        phi=phi,
        f_ck=f_ck,
        sigma_sd=sigma_sd,
        good_bond=good,
        c_d=c_d,
        compression=compression,
        alpha_3=alpha_3,
        alpha_5=alpha_5,
    )
    basic = chain.known["l_b_rqd"]
    assert chain.value >= max((0.6 if compression else 0.3) * basic, 10 * phi, 100)
    assert chain.value >= 0.7 * basic * (1 - 1e-12)


@given(bars, concretes, stresses, yes_no, covers, st.floats(1, 100), st.floats(0.5, 1), st.floats(1, 1.5))
def test_2004_lap_never_under_its_floor_and_never_shorter_than_the_anchorage(
    phi: float, f_ck: float, sigma_sd: float, good: bool, c_d: float | None, rho_1: float, k_b: float, alpha_lb: float
) -> None:
    common = {"phi": phi, "f_ck": f_ck, "sigma_sd": sigma_sd, "good_bond": good, "c_d": c_d}
    lap = en04.lap_length(rho_1=rho_1, **common)  # type: ignore[arg-type]
    assert lap >= max(15 * phi, 200)
    assert lap >= en04.anchorage_length(**common) * (1 - 1e-12)  # type: ignore[arg-type]
    chain = lap_with_end_cover(rho_1=rho_1, k_b=k_b, alpha_lb=alpha_lb, c_e=30, s_l=0, **common)  # type: ignore[arg-type]
    assert chain.value >= max(lap, alpha_lb * 15 * phi, alpha_lb * 200) * (1 - 1e-12) + 30


@given(bars, concretes, stresses, st.floats(1, 300))
def test_2004_compression_ignores_cover(phi: float, f_ck: float, sigma_sd: float, c_d: float) -> None:
    one, two = (
        en04.anchorage_length(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, good_bond=True, compression=True, c_d=c, alpha_1=a)
        for c, a in ((None, 1.0), (c_d, 0.7))
    )
    assert one == two


# --- EN 1992-1-1:2023 ---


@given(bars, more, st.floats(12, 100), st.floats(0, 600), st.floats(10, 300))
def test_2023_longer_for_a_larger_bar(phi: float, factor: float, f_ck: float, sigma_sd: float, c_d: float) -> None:
    assume(phi * factor <= 60)
    one, two = (en23.anchorage_length(phi=p, f_ck=f_ck, sigma_sd=sigma_sd, c_d=c_d) for p in (phi, phi * factor))
    assert two > one


@given(bars, st.floats(12, 60), more, st.floats(0, 600), st.floats(10, 300), st.floats(1, 1.4))
def test_2023_longer_for_weaker_concrete_and_poor_bond(
    phi: float, f_ck: float, factor: float, sigma_sd: float, c_d: float, k_cp: float
) -> None:
    assume(f_ck * factor <= 100)
    good = en23.anchorage_length(phi=phi, f_ck=f_ck * factor, sigma_sd=sigma_sd, c_d=c_d)
    floor = 10 * phi
    assert good >= floor
    for other in (
        en23.anchorage_length(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, c_d=c_d),
        en23.anchorage_length(phi=phi, f_ck=f_ck * factor, sigma_sd=sigma_sd, c_d=c_d, k_cp=1 + k_cp / 10),
    ):
        assert other > good or other == good == floor


@given(st.floats(100, 350), st.floats(1.01, 1.7))
def test_2023_length_grows_with_the_stress_to_the_power_1_5(sigma_sd: float, factor: float) -> None:
    one, two = (en23.anchorage_length(phi=16, f_ck=20, sigma_sd=s, c_d=16) for s in (sigma_sd, sigma_sd * factor))
    assume(one > 160)
    assert two / one == pytest.approx(factor**1.5, rel=1e-9)


@given(bars, st.floats(50, 3000), st.floats(0.3, 1), st.floats(1, 1.5))
def test_2023_post_installed_never_shorter(phi: float, l_bd: float, k: float, alpha_lb: float) -> None:
    length = en23.post_installed_length(l_bd=l_bd, phi=phi, k_b_pi=k, alpha_lb=alpha_lb)
    assert length >= l_bd
    assert length >= 10 * phi * alpha_lb
    assert en23.post_installed_lap(l_bd_pi=length, phi=phi, alpha_lb=alpha_lb) >= max(length, 15 * phi * alpha_lb)


@given(bars, st.floats(50, 3000), more)
def test_2023_cover_grows_with_depth_and_less_with_an_aid(phi: float, l: float, factor: float) -> None:  # noqa: E741
    for drilling in ("rotary", "air"):
        plain, aided, deeper = (
            en23.minimum_cover(phi=phi, l_bd_pi=x, drilling=drilling, aid=a)  # type: ignore[arg-type]
            for x, a in ((l, False), (l, True), (l * factor, False))
        )
        assert aided <= plain <= deeper
        assert aided >= 2 * phi


# --- ACI 318-19 ---

inches = st.floats(0.375, 2.257)
psi = st.floats(2500, 12000)


@given(inches, psi, st.floats(1.2, 6), st.floats(0, 1), st.sampled_from([60000.0, 80000.0, 100000.0]))
def test_aci_metric_and_us_input_agree(d_b: float, f_c: float, c_b: float, K_tr: float, f_y: float) -> None:
    us = aci.development_length(d_b=d_b, f_y=f_y, f_c=f_c, c_b=c_b, K_tr=K_tr)
    # Backing off the yield strength's upper limit by a rounding error keeps the conversion inside it.
    metric = aci.development_length_metric(
        d_b=convert(d_b, "in", "mm"),
        f_y=convert(f_y * (1 - 1e-12), "psi", "MPa"),
        f_c=convert(f_c, "psi", "MPa"),
        c_b=convert(c_b, "in", "mm"),
        K_tr=convert(K_tr, "in", "mm"),
    )
    assert metric / 25.4 == pytest.approx(us, rel=1e-9)


@given(inches, more, psi, st.floats(1.2, 6))
def test_aci_longer_for_a_larger_bar(d_b: float, factor: float, f_c: float, c_b: float) -> None:
    assume(d_b * factor <= 2.4)
    one, two = (aci.development_length(d_b=d, f_y=60000, f_c=f_c, c_b=c_b) for d in (d_b, d_b * factor))
    assert two > one or two == one == 12
    assert one >= 12


@given(inches, st.floats(2500, 9000), more, st.floats(1.2, 6))
def test_aci_longer_for_weaker_concrete_up_to_10000_psi(d_b: float, f_c: float, factor: float, c_b: float) -> None:
    weak, strong = (aci.development_chain(d_b=d_b, f_y=60000, f_c=f, c_b=c_b) for f in (f_c, min(f_c * factor, 10000)))
    assert weak.known["l_d_calc"] > strong.known["l_d_calc"]
    assert weak.value >= strong.value
    at_cap, beyond = (aci.development_length(d_b=d_b, f_y=60000, f_c=f, c_b=c_b) for f in (10000, 15000))
    assert at_cap == beyond


@given(inches, psi, st.floats(1.2, 6))
def test_aci_position_coating_grade_and_light_concrete_lengthen(d_b: float, f_c: float, c_b: float) -> None:
    def calculated(**factors: float) -> float:
        return aci.development_chain(d_b=d_b, f_y=60000, f_c=f_c, c_b=c_b, **factors).known["l_d_calc"]

    plain = calculated()
    assert calculated(psi_t=1.3) / plain == pytest.approx(1.3, rel=1e-12)
    assert calculated(psi_t=1.3, psi_e=1.5) / plain == pytest.approx(1.7, rel=1e-12)
    assert calculated(psi_g=1.15) / plain == pytest.approx(1.15, rel=1e-12)
    assert calculated(psi_s=0.8) / plain == pytest.approx(0.8, rel=1e-12)
    assert calculated(lambda_=0.75) / plain == pytest.approx(1 / 0.75, rel=1e-12)


@pytest.mark.parametrize(("l_d", "class_b", "length"), [(20, True, 26), (20, False, 20), (5, True, 12), (5, False, 12)])
def test_aci_splices(l_d: float, class_b: bool, length: float) -> None:
    assert aci.splice_length(l_d=l_d, class_b=class_b) == pytest.approx(length, rel=1e-12)


def test_aci_class_b_is_the_default() -> None:
    assert aci.splice_length(l_d=20) == pytest.approx(26, rel=1e-12)


# --- what a chain keeps is what ran ---

CHAINS: dict[str, tuple[Steps, float]] = {
    "2004 anchorage": (
        en04.anchorage_chain(phi=40, f_ck=80, sigma_sd=435, good_bond=False, c_d=35),
        en04.anchorage_length(phi=40, f_ck=80, sigma_sd=435, good_bond=False, c_d=35),
    ),
    "2004 compression": (
        en04.anchorage_chain(phi=12, f_ck=25, sigma_sd=435, good_bond=True, compression=True, tabulated=True),
        en04.anchorage_length(phi=12, f_ck=25, sigma_sd=435, good_bond=True, compression=True, tabulated=True),
    ),
    "2023 post-installed": (
        en23.post_installed_chain(phi=16, f_ck=25, sigma_sd=435, c_d=30, k_b_pi=0.9),
        en23.post_installed_length(
            l_bd=en23.anchorage_length(phi=16, f_ck=25, sigma_sd=435, c_d=30), phi=16, k_b_pi=0.9
        ),
    ),
    "2023 cover": (
        en23.cover_chain(phi=20, l_bd_pi=400, drilling="air", aid=False),
        en23.minimum_cover(phi=20, l_bd_pi=400, drilling="air", aid=False),
    ),
    "ACI development": (
        aci.development_chain(d_b=0.75, f_y=60000, f_c=4000, c_b=1.5, psi_s=0.8),
        aci.development_length(d_b=0.75, f_y=60000, f_c=4000, c_b=1.5, psi_s=0.8),
    ),
    "2004 joint": (
        interface.en1992_chain(
            c=0.4, f_ctd=1.2, mu=0.7, sigma_n=-0.2, rho=0.005, f_yd=435, alpha=90, nu=0.54, f_cd=16.7
        ),
        interface.en1992_resistance(
            c=0.4, f_ctd=1.2, mu=0.7, sigma_n=-0.2, rho=0.005, f_yd=435, alpha=90, nu=0.54, f_cd=16.7
        ),
    ),
}


@pytest.mark.parametrize("name", CHAINS)
def test_steps_of_a_chain_lead_to_the_callers_number(name: str) -> None:
    chain, value = CHAINS[name]
    steps = chain.steps
    assert len(steps) == len(chain.links)
    assert steps[-1].value == value
    for step in steps:
        found = eval(
            step.expression, {"__builtins__": {}}, {**maths.FUNCTIONS, **{i.name: i.value for i in step.inputs}}
        )
        assert found == pytest.approx(step.value, rel=1e-12)
        # An input that an earlier step found says so: nothing is typed twice.
        for one in step.inputs:
            earlier = [s for s in steps[: steps.index(step)] if s.symbol == one.name]
            assert (
                (one.origin == f"step {earlier[0].id}" and one.value == earlier[0].value)
                if earlier
                else not one.origin.startswith("step")
            )


def test_a_chain_names_the_branch_that_ran() -> None:
    common = {"f_ck": 30.0, "sigma_sd": 435.0, "good_bond": True}
    thin, thick = (en04.anchorage_chain(phi=p, **common) for p in (32.0, 40.0))  # type: ignore[arg-type]
    assert "thick_bar_factor" in thick.choices
    assert "thick_bar_factor" not in thin.choices
    high = en04.anchorage_chain(phi=16, f_ck=55, sigma_sd=435, good_bond=True)
    assert high.choices[0] == "mean_tensile_strength_high"
    assert thin.choices[0] == "mean_tensile_strength"


def test_thin_cover_is_a_notice_and_not_a_refusal() -> None:
    thin = en04.anchorage_chain(phi=20, f_ck=25, sigma_sd=435, good_bond=True, c_d=15)
    assert any("less than one bar diameter" in n.text for n in thin.notices)
    assert not en04.anchorage_chain(phi=20, f_ck=25, sigma_sd=435, good_bond=True, c_d=20).notices
    assert any(
        "less than one bar diameter" in n.text
        for n in en23.anchorage_chain(phi=20, f_ck=25, sigma_sd=435, c_d=15).notices
    )


# --- what is refused ---

OK_04 = {"phi": 16.0, "f_ck": 25.0, "sigma_sd": 435.0, "good_bond": True}
OK_23 = {"phi": 16.0, "f_ck": 25.0, "sigma_sd": 435.0, "c_d": 24.0}
OK_ACI = {"d_b": 0.75, "f_y": 60000.0, "f_c": 4000.0, "c_b": 1.5}


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        ({"f_ck": 11.9}, "f_ck = 11.9"),
        ({"f_ck": 90.1}, "f_ck = 90.1"),
        ({"f_ck": math.nan}, "f_ck"),
        ({"f_ck": 27.0, "tabulated": True}, "not listed"),
        ({"phi": 0.0}, "phi = 0"),
        ({"phi": math.nan}, "phi"),
        ({"sigma_sd": -1.0}, "sigma_sd"),
        ({"sigma_sd": 601.0}, "sigma_sd"),
        ({"sigma_sd": math.nan}, "sigma_sd"),
        ({"good_bond": None}, "must be stated"),
        ({"c_d": 0.0}, "c_d"),
        ({"c_d": math.nan}, "c_d"),
        ({"alpha_1": 0.69}, "alpha_1"),
        ({"alpha_3": 1.1}, "alpha_3"),
        ({"alpha_5": 0.5}, "alpha_5"),
        ({"gamma_C": 0.9}, "gamma_C"),
        ({"alpha_ct": 1.1}, "alpha_ct"),
    ],
)
def test_2004_refuses(bad: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        en04.anchorage_length(**{**OK_04, **bad})  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=message):
        en04.lap_length(rho_1=50, **{**OK_04, **bad})  # type: ignore[arg-type]


@pytest.mark.parametrize("rho_1", [-1.0, 101.0, math.nan])
def test_2004_lap_refuses_a_share_beyond_all_bars(rho_1: float) -> None:
    with pytest.raises(ValueError, match="rho_1"):
        en04.lap_length(rho_1=rho_1, **OK_04)  # type: ignore[arg-type]


@pytest.mark.parametrize("k", [None, 1.01, 0.0, -0.5, math.nan])
def test_the_approvals_factor_is_never_assumed(k: float | None) -> None:
    with pytest.raises(ValueError, match="k_b_pi"):
        en23.post_installed_length(l_bd=500, phi=16, k_b_pi=k)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "bad",
    [
        {"f_ck": 11.0},
        {"f_ck": 101.0},
        {"sigma_sd": 701.0},
        {"sigma_sd": -1.0},
        {"c_d": 0.0},
        {"phi": math.nan},
        {"k_cp": 0.9},
        {"k_lb": 5.0},
    ],
)
def test_2023_refuses(bad: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=next(iter(bad))):
        en23.anchorage_length(**{**OK_23, **bad})


def test_2023_refuses_an_unknown_drilling_method_and_an_aid_left_open() -> None:
    with pytest.raises(ValueError, match="'rotary'"):
        en23.minimum_cover(phi=20, l_bd_pi=200, drilling="laser", aid=False)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="aid must be stated"):
        en23.minimum_cover(phi=20, l_bd_pi=200, drilling="air", aid=None)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        ({"c_b": 0.37}, "stick out"),
        ({"c_b": math.nan}, "c_b"),
        ({"f_y": 120000.0}, "f_y"),
        ({"f_c": 500.0}, "f_c"),
        ({"d_b": 16.0, "c_b": 30.0}, "d_b"),
        ({"K_tr": -0.1}, "K_tr"),
        ({"psi_t": 0.9}, "psi_t"),
        ({"psi_e": 1.6}, "psi_e"),
        ({"psi_s": 0.7}, "psi_s"),
        ({"psi_g": 1.4}, "psi_g"),
        ({"lambda_": 1.2}, "lambda_"),
    ],
)
def test_aci_refuses(bad: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        aci.development_length(**{**OK_ACI, **bad})


def test_aci_refuses_more_required_than_provided() -> None:
    with pytest.raises(ValueError, match="A_req"):
        aci.reduced_development(l_d_calc=30.0, A_req=3.0, A_prov=2.0)


def test_aci_notices() -> None:
    assert any("K_tr" in n.text for n in aci.development_chain(**{**OK_ACI, "f_y": 80000.0}).notices)
    assert any("psi_s" in n.text for n in aci.development_chain(**{**OK_ACI, "d_b": 1.0, "psi_s": 0.8}).notices)
    assert not aci.development_chain(**OK_ACI).notices


def test_notices_begin_exactly_past_their_threshold() -> None:
    assert not en23.anchorage_chain(phi=20, f_ck=25, sigma_sd=435, c_d=20).notices
    high = {**OK_ACI, "f_y": 80000.0}
    assert not aci.development_chain(**high, K_tr=0.375).notices
    assert aci.development_chain(**high, K_tr=0.3749).notices
    assert not aci.development_chain(**OK_ACI, psi_s=0.8).notices
    assert aci.development_chain(**{**OK_ACI, "d_b": 0.7501}, psi_s=0.8).notices
    assert not aci.development_chain(**{**OK_ACI, "d_b": 1.0}).notices


def test_a_bar_at_the_face_is_still_geometry() -> None:
    assert aci.development_chain(**{**OK_ACI, "c_b": 0.375}).known["k_conf"] == 0.5


def test_aci_excess_bars_do_not_take_it_below_12_in() -> None:
    assert aci.reduced_development(l_d_calc=14.0, A_req=1.0, A_prov=2.0) == 12


def test_a_cover_says_which_row_of_the_table_it_took() -> None:
    origins = {
        phi: {
            i.name: i.origin for i in en23.cover_chain(phi=phi, l_bd_pi=400, drilling="air", aid=True).steps[0].inputs
        }
        for phi in (24.9, 25.0)
    }
    assert "below 25 mm" in origins[24.9]["c_base"]
    assert "of 25 mm or more" in origins[25.0]["c_base"]
    assert "compressed air" in origins[25.0]["c_base"]
    assert "with a drilling aid" in origins[25.0]["k_drift"]
