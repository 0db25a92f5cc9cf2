"""EN 1992-1-1:2023, 11.4 and Tables 11.1 and 11.2.

Source: a draft of the fib library structuralcodes (branch on section 11, module _section11_detailing_steel, not
released), which carries the cells of Table 11.1 and the rows of Table 11.2. The standard itself was not at hand.

Tolerance: half a diameter for Table 11.1, which is printed in whole diameters. The covers are whole numbers of
millimetres plus a share of the length: exact but for floating point.
"""

import math

import pytest

from calc.strength import en1992_2023 as en

HALF_A_DIAMETER = 0.5
F_CK = (20, 25, 30, 35, 40, 45, 50, 60)
# l_bd / phi for good bond, c_d = 1.5 phi, sigma_sd = 435 MPa.
TABLE_11_1 = {
    12: (47, 42, 38, 36, 33, 31, 30, 27),
    14: (50, 44, 41, 38, 35, 33, 31, 29),
    16: (52, 46, 42, 39, 37, 35, 33, 30),
    20: (56, 50, 46, 42, 40, 37, 35, 32),
    25: (60, 54, 49, 46, 43, 40, 38, 35),
    28: (63, 56, 51, 47, 44, 42, 40, 36),
    32: (65, 58, 53, 49, 46, 44, 41, 38),
}
CELLS = [(phi, f_ck, printed) for phi, row in TABLE_11_1.items() for f_ck, printed in zip(F_CK, row, strict=True)]


@pytest.mark.parametrize(("phi", "f_ck", "printed"), CELLS)
def test_table_11_1(phi: float, f_ck: float, printed: int) -> None:
    length = en.anchorage_length(phi=phi, f_ck=f_ck, sigma_sd=435, c_d=1.5 * phi)
    assert length / phi == pytest.approx(printed, abs=HALF_A_DIAMETER)


@pytest.mark.parametrize(("phi", "f_ck", "printed"), [(16, 25, 46), (20, 30, 46)])
def test_cells_of_the_reference_sheet(phi: float, f_ck: float, printed: int) -> None:
    assert round(en.anchorage_length(phi=phi, f_ck=f_ck, sigma_sd=435, c_d=1.5 * phi) / phi) == printed


# The formula's own limits, by hand: exact but for floating point. phi 20 at f_ck 25, 435 MPa and c_d = 1.5 phi is 50
# phi = 1000 mm.


@pytest.mark.parametrize(
    ("changed", "length"),
    [
        ({}, 1000.0),
        ({"k_cp": 1.2}, 1200.0),
        ({"k_cp": 1.4}, 1400.0),
        ({"k_lb": 35}, 700.0),
        ({"c_d": 75}, 1000 * math.sqrt(0.4)),
        ({"c_d": 200}, 1000 * math.sqrt(0.4)),
        ({"f_ck": 100}, 1000 * math.sqrt(0.3)),
        ({"f_ck": 90}, 1000 * math.sqrt(0.3)),
        ({"sigma_sd": 217.5}, 1000 * 0.5**1.5),
        ({"sigma_sd": 50}, 200.0),
        ({"phi": 10, "c_d": 15}, 500 * 0.6 ** (1 / 3)),
    ],
)
def test_limits_of_the_formula(changed: dict[str, float], length: float) -> None:
    given = {"phi": 20.0, "f_ck": 25.0, "sigma_sd": 435.0, "c_d": 30.0, **changed}
    assert en.anchorage_length(**given) == pytest.approx(length, rel=1e-12)


@pytest.mark.parametrize(
    ("phi", "l_bd_pi", "drilling", "aid", "cover"),
    [
        (20, 200, "rotary", False, 42),
        (20, 1000, "rotary", True, 50),
        (25, 200, "rotary", False, 52),
        (24.9, 1000, "rotary", False, 90),
        (25, 1000, "rotary", True, 60),
        (20, 200, "air", False, 66),
        (20, 200, "air", True, 54),
        (25, 200, "air", False, 76),
        (25, 200, "air", True, 64),
    ],
)
def test_table_11_2(phi: float, l_bd_pi: float, drilling: str, aid: bool, cover: float) -> None:
    assert en.minimum_cover(phi=phi, l_bd_pi=l_bd_pi, drilling=drilling, aid=aid) == pytest.approx(cover, rel=1e-12)  # type: ignore[arg-type]


def test_cover_is_at_least_two_diameters() -> None:
    # Remembered from the EOTA document, not in the source above: the safe reading.
    assert en.minimum_cover(phi=32, l_bd_pi=320, drilling="rotary", aid=True) == 64


@pytest.mark.parametrize(
    ("l_bd", "k_b_pi", "alpha_lb", "length"),
    [(800, 0.8, 1.5, 1000), (800, 1.0, 1.5, 800), (200, 1.0, 1.5, 300), (200, 1.0, 1.0, 200)],
)
def test_post_installed_length(l_bd: float, k_b_pi: float, alpha_lb: float, length: float) -> None:
    assert en.post_installed_length(l_bd=l_bd, phi=20, k_b_pi=k_b_pi, alpha_lb=alpha_lb) == pytest.approx(
        length, rel=1e-12
    )


def test_post_installed_floor_is_one_and_a_half_by_default() -> None:
    assert en.post_installed_length(l_bd=200, phi=20, k_b_pi=1.0) == 300


@pytest.mark.parametrize(("l_bd_pi", "alpha_lb", "lap"), [(1000, 1.5, 1200), (300, 1.5, 450), (200, 1.0, 300)])
def test_post_installed_lap(l_bd_pi: float, alpha_lb: float, lap: float) -> None:
    assert en.post_installed_lap(l_bd_pi=l_bd_pi, phi=20, alpha_lb=alpha_lb) == pytest.approx(lap, rel=1e-12)


@pytest.mark.parametrize(("l_bd", "lap"), [(1000, 1200), (200, 300)])
def test_lap(l_bd: float, lap: float) -> None:
    assert en.lap_length(l_bd=l_bd, phi=20) == pytest.approx(lap, rel=1e-12)
