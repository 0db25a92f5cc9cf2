"""Shear in joints between old and new concrete, against what two open libraries give.

Sources
-------
1. EN 1992-1-1:2004, 6.2.5, computed by two open libraries: rough joint, C25/30, f_ctd 1.2 MPa, rho 0.005, f_yd 434.78
MPa, 90°:
   2.0017 MPa. No worked example in a publication was found.
2. EN 1992-1-1:2023, 8.2.6, computed by the fib's structuralcodes (draft) and a second open library: f_ck 25, f_cd
16.667 MPa, rough (0.15, 0.7), rho 0.005,
   f_yd 434.78 MPa, 90°, gamma_C 1.5: 2.02173 MPa.
3. ACI 318-19, Table 22.9.4.4, from memory; the worked example is in test_mccormac_brown.py.

Tolerance: half the last printed digit. Cases without a printed value are redone by hand: exact but for floating point.
"""

import math

import pytest

from calc.base.formula import RangeError
from calc.strength import interface as joint

CASE_04 = {
    "c": 0.4,
    "f_ctd": 1.2,
    "mu": 0.7,
    "sigma_n": 0.0,
    "rho": 0.005,
    "f_yd": 434.78,
    "alpha": 90.0,
    "nu": 0.54,
    "f_cd": 16.667,
}
CASE_23 = {
    "c_v1": 0.15,
    "mu_v": 0.7,
    "f_ck": 25.0,
    "gamma_C": 1.5,
    "sigma_n": 0.0,
    "rho": 0.005,
    "f_yd": 434.78,
    "alpha": 90.0,
    "f_cd": 16.667,
}


def without(case: dict[str, float], *names: str) -> dict[str, float]:
    return {name: value for name, value in case.items() if name not in names}


def resistance_2023(**case: float) -> float:
    return joint.en1992_2023_chain(**case).value


def test_2004_printed() -> None:
    assert joint.en1992_resistance(**CASE_04) == pytest.approx(2.0017, abs=0.00005)


def test_2023_printed() -> None:
    assert resistance_2023(**CASE_23) == pytest.approx(2.02173, abs=0.000005)


def test_the_coefficients_are_those_of_a_rough_joint() -> None:
    assert joint.SURFACES_2004["rough"] == (CASE_04["c"], CASE_04["mu"])
    assert joint.SURFACES_2023["rough"] == (CASE_23["c_v1"], CASE_23["mu_v"])


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"sigma_n": 2.0}, 0.48 + 0.7 * 2.0 + 0.005 * 434.78 * 0.7),
        ({"sigma_n": 5.0, "rho": 0.0, "nu": 1.0}, 0.48 + 3.5),
        ({"alpha": 45.0}, 0.48 + 0.005 * 434.78 * 1.7 * math.sqrt(0.5)),
        ({"sigma_n": -0.5}, -0.35 + 0.005 * 434.78 * 0.7),
        ({"sigma_n": -0.5, "rho": 0.0}, 0.0),
        ({"rho": 0.02}, 0.5 * 0.54 * 16.667),
        ({"sigma_n": 15.0, "rho": 0.0, "mu": 0.1}, 0.48 + 0.1 * 0.6 * 16.667),
    ],
)
def test_2004_by_hand(changed: dict[str, float], expected: float) -> None:
    assert joint.en1992_resistance(**{**CASE_04, **changed}) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"f_ck": 36.0, "rho": 0.0}, 0.15 * 6 / 1.5),
        ({"sigma_n": 2.0}, 0.5 + 1.4 + 0.005 * 434.78 * 0.7),
        ({"sigma_n": -0.5}, -0.35 + 0.005 * 434.78 * 0.7),
        ({"rho": 0.03}, 0.30 * 16.667),
        ({"rho": 0.03, "alpha": 60.0}, 0.30 * 16.667 + 0.03 * 434.78 * 0.5),
        ({"sigma_n": -3.0, "rho": 0.001}, 0.0),
    ],
)
def test_2023_by_hand(changed: dict[str, float], expected: float) -> None:
    assert resistance_2023(**{**CASE_23, **changed}) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("f_ck", "nu"), [(25, 0.54), (50, 0.48)])
def test_strength_reduction(f_ck: float, nu: float) -> None:
    assert joint.strength_reduction(f_ck=f_ck) == pytest.approx(nu, rel=1e-12)


@pytest.mark.parametrize("alpha", [45.0, 60.0, 90.0])
@pytest.mark.parametrize("sigma_n", [-0.5, 0.0, 1.0])
def test_the_bars_asked_for_give_the_resistance_asked_for(alpha: float, sigma_n: float) -> None:
    pull = sigma_n < 0
    given = {**without(CASE_04, "rho"), "alpha": alpha, "sigma_n": sigma_n}
    common = {name: given[name] for name in ("mu", "sigma_n", "f_yd", "alpha")}
    rho = (
        joint.required_bar_ratio_in_tension(v_Edi=2.5, **common)
        if pull
        else joint.required_bar_ratio(v_Edi=2.5, c_adh=given["c"], f_ctd=given["f_ctd"], f_cd=given["f_cd"], **common)
    )
    assert rho > 0
    assert joint.en1992_resistance(rho=rho, **given) == pytest.approx(2.5, rel=1e-12)
    given = {**without(CASE_23, "rho"), "alpha": alpha, "sigma_n": sigma_n}
    common = {name: given[name] for name in ("mu_v", "sigma_n", "f_yd", "alpha")}
    rho = (
        joint.required_bar_ratio_in_tension_2023(tau_Edi=2.5, **common)
        if pull
        else joint.required_bar_ratio_2023(tau_Edi=2.5, **given)
    )
    assert rho > 0
    assert resistance_2023(rho=rho, **given) == pytest.approx(2.5, rel=1e-12)


def test_no_bars_where_adhesion_carries() -> None:
    given = {"c_adh" if name == "c" else name: value for name, value in CASE_04.items() if name not in ("rho", "nu")}
    assert joint.required_bar_ratio(v_Edi=0.3, **given) == 0
    assert joint.required_bar_ratio_2023(tau_Edi=0.3, **without(CASE_23, "rho")) == 0


def test_spacing() -> None:
    # 12 mm bars at 0.5 % of the joint, 200 mm across: pi 36 mm² / (0.005 × 200 mm).
    assert joint.bar_spacing(A_s=math.pi * 36, rho_req=0.005, s_1=200) == pytest.approx(113.09734, abs=0.000005)


@pytest.mark.parametrize(
    ("f_c", "roughened", "per_square_inch"),
    [
        (3000, True, 600),
        (4000, True, 800),
        (6000, True, 960),
        (14000, True, 1600),
        (16000, True, 1600),
        (3000, False, 600),
        (6000, False, 800),
    ],
)
def test_aci_limits(f_c: float, roughened: bool, per_square_inch: float) -> None:
    assert joint.aci318_limit(f_c=f_c, A_c=100, roughened=roughened) == pytest.approx(100 * per_square_inch, rel=1e-12)


def test_aci_counts_on_no_more_than_60_ksi() -> None:
    assert joint.aci318_shear_friction(mu=1.0, A_vf=1.0, f_y=60000.0) == 60000
    assert joint.aci318_shear_friction(mu=1.0, A_vf=1.0, f_y=80000.0) == 60000
    with pytest.raises(RangeError, match="f_y = 200000 psi"):
        joint.aci318_shear_friction(mu=1.0, A_vf=1.0, f_y=200000.0)


@pytest.mark.parametrize(
    "bad",
    [
        {"alpha": 30.0},
        {"alpha": 100.0},
        {"c": -0.1},
        {"c": math.nan},
        {"rho": -0.001},
        {"f_cd": 0.0},
        {"sigma_n": math.nan},
    ],
)
@pytest.mark.parametrize("sigma_n", [0.0, -0.5])
def test_2004_refuses(bad: dict[str, float], sigma_n: float) -> None:
    with pytest.raises(ValueError):
        joint.en1992_resistance(**{**CASE_04, "sigma_n": sigma_n, **bad})


@pytest.mark.parametrize(
    "bad",
    [{"alpha": 30.0}, {"alpha": 140.0}, {"c_v1": -0.1}, {"gamma_C": math.nan}, {"f_yd": -1.0}, {"f_cd": math.nan}],
)
@pytest.mark.parametrize("sigma_n", [0.0, -0.5])
def test_2023_refuses(bad: dict[str, float], sigma_n: float) -> None:
    with pytest.raises(ValueError):
        resistance_2023(**{**CASE_23, "sigma_n": sigma_n, **bad})


def test_bars_that_lean_against_the_shear_are_refused() -> None:
    with pytest.raises(ValueError, match="add nothing"):
        resistance_2023(**{**CASE_23, "alpha": 130.0})


def test_the_surface_must_be_stated() -> None:
    with pytest.raises(ValueError, match="must be stated"):
        joint.aci318_limit(f_c=3000, A_c=100, roughened=None)  # type: ignore[arg-type]


def test_compression_counts_up_to_0_6_f_cd_everywhere() -> None:
    # f_cd 5 MPa: 3.0 of the 4.0 MPa count. By hand.
    low = {"sigma_n": 4.0, "f_cd": 5.0}
    ratio = joint.required_bar_ratio(v_Edi=4.0, c_adh=0.4, f_ctd=1.0, mu=0.7, f_yd=400.0, alpha=90.0, **low)
    assert ratio == pytest.approx((4.0 - 0.4 - 2.1) / 280, rel=1e-12)
    given = {"c_v1": 0.15, "f_ck": 25.0, "gamma_C": 1.5, "mu_v": 0.7, "f_yd": 400.0, "alpha": 90.0, **low}
    assert joint.required_bar_ratio_2023(tau_Edi=4.0, **given) == pytest.approx((4.0 - 0.5 - 2.1) / 280, rel=1e-12)
    assert joint.joint_shear_2023(rho=0.001, **given) == pytest.approx(0.5 + 2.1 + 0.28, rel=1e-12)


def test_bars_that_lean_but_still_help_are_accepted() -> None:
    lean = 0.7 * math.sin(math.radians(120)) - 0.5
    found = resistance_2023(**{**CASE_23, "alpha": 120.0})
    assert found == pytest.approx(0.5 + 0.005 * 434.78 * lean, rel=1e-12)


def test_the_2023_limit_never_falls_below_zero() -> None:
    assert joint.joint_shear_limit_2023(f_cd=1.0, rho=0.05, f_yd=400.0, alpha=120.0) == 0
