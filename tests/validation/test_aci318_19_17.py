"""ACI 318-19, chapter 17, bars as anchors in tension.

No worked example of the open literature for adhesive anchors by this edition could be read; guides of makers are no
source here. What there is:

- ACI 349.2R-07, Guide to the Concrete Capacity Design Method, Example A1 (single stud in tension, no edges): the same
  basic formulas with the factor 24 of studs that are cast in. Its numbers were read in the verification tests of an
  open library (xcfem/xc, verif/tests/materials/aci/test_aci_anchor_tension.py). Tolerance: half the last digit.
- A second derivation of ours: the area is counted cell by cell (a tenth of an inch) from the bars' positions, and the
  rest is written out once more, apart from the code. Equal to rounding.
"""

import math

import numpy as np
import pytest

from calc.strength import aci318_19_17 as aci

FAR = (None, None, None, None)
SINGLE = (0.0, 1, 0.0, 1)
CELLS = 10  # to an inch


def test_349_2r_example_a1_breakout() -> None:
    assert aci.breakout_basic(k_c=24, f_c=4000, h_ef=4.69) / 1000 == pytest.approx(15.41702, abs=5e-6)
    # 12 in from two edges, beyond 1.5 x 4.69 in.
    found = aci.breakout_resistance(k_c=24, f_c=4000, h_ef=4.69, edges=(12, None, 12, None), spacings=SINGLE)
    assert found / 1000 == pytest.approx(15.4170, abs=5e-5)


def test_349_2r_example_a1_steel() -> None:
    # Stud of 1/2 in with 65,000 psi; the yield strength of 51,000 psi is that of its standard and does not govern.
    chain = aci.steel_chain(A_se_N=math.pi * 0.5**2 / 4, f_uta=65000, f_ya=51000, ductile=True)
    assert chain.known["N_sa"] / 1000 == pytest.approx(12.7627, abs=5e-5)


# --- second derivation (ours) ---------------------


def counted_area(c_cr: float, edges: tuple[float | None, ...], s_x: float, n_x: int, s_y: float, n_y: int) -> float:
    """Count the cells within ``c_cr`` of any bar, along both axes, and inside the edges; whole tenths of an inch."""
    left, right, below, above = (10**6 if c is None else round(c * CELLS) for c in edges)
    r, dx, dy = round(c_cr * CELLS), round(s_x * CELLS), round(s_y * CELLS)
    x = np.arange(-r - 1, (n_x - 1) * dx + r + 1) + 0.5
    y = np.arange(-r - 1, (n_y - 1) * dy + r + 1) + 0.5
    inside = ((x > -left) & (x < (n_x - 1) * dx + right))[:, None] & ((y > -below) & (y < (n_y - 1) * dy + above))[
        None, :
    ]
    taken = np.zeros((x.size, y.size), dtype=bool)
    for i in range(n_x):
        for j in range(n_y):
            taken |= (abs(x - i * dx) < r)[:, None] & (abs(y - j * dy) < r)[None, :]
    return int(np.count_nonzero(taken & inside)) / CELLS**2


CASES = [
    ((None, None, None, None), (0, 1, 0, 1)),
    ((3, None, None, None), (0, 1, 0, 1)),
    ((4.5, None, 6, None), (0, 1, 0, 1)),
    ((4, 5.5, None, None), (8, 3, 0, 1)),
    ((None, None, 3.5, None), (6, 3, 7.5, 2)),
    ((5, None, None, 20), (30, 2, 6, 4)),
    ((3.2, None, None, None), (9, 12, 0, 1)),
    ((None, 40, None, None), (9, 2, 0, 1)),
    ((None, 2.5, None, 4), (5, 2, 30, 3)),
    ((11, None, None, None), (0, 1, 0, 1)),
]


@pytest.mark.parametrize("cracked", [True, False])
@pytest.mark.parametrize(("edges", "spacings"), CASES)
def test_breakout_by_counted_area(
    edges: tuple[float | None, ...], spacings: tuple[float, int, float, int], cracked: bool
) -> None:
    h_ef, f_c, e_x, e_y = 7.0, 4000.0, 0.75, 1.25
    c_cr = 10.5
    stated = [c for c in edges if c is not None]
    nearest = min((c for c in stated if c < c_cr), default=c_cr)
    share = counted_area(c_cr, edges, *spacings) / 21**2
    split = 1.0 if cracked or not stated else min(1.0, max(min(stated), 10.5) / 14)
    by_hand = 17 * math.sqrt(f_c) * math.sqrt(h_ef**3) * share * (0.7 + 0.3 * nearest / c_cr)
    by_hand /= (1 + e_x / 10.5) * (1 + e_y / 10.5)
    by_hand *= 1.0 if cracked else 1.4 * split
    found = aci.breakout_resistance(
        k_c=17, f_c=f_c, h_ef=h_ef, edges=edges, spacings=spacings, cracked=cracked, eccentricity=(e_x, e_y)
    )
    assert found == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize("cracked", [True, False])
@pytest.mark.parametrize(("edges", "spacings"), CASES)
def test_bond_by_counted_area(
    edges: tuple[float | None, ...], spacings: tuple[float, int, float, int], cracked: bool
) -> None:
    # tau_uncr chosen so that c_Na is a whole 8 in: 1100 x (8 / 6.25)².
    tau, d_a, h_ef, c_Na, e_x, e_y = 900.0, 0.625, 7.5, 8.0, 0.8, 1.1
    stated = [c for c in edges if c is not None]
    nearest = min((c for c in stated if c < c_Na), default=c_Na)
    share = counted_area(c_Na, edges, *spacings) / 16**2
    split = 1.0 if cracked or not stated else min(1.0, max(min(stated), 8) / 15)
    by_hand = (
        tau * math.pi * d_a * h_ef * share * (0.7 + 0.3 * nearest / c_Na) / (1 + e_x / c_Na) / (1 + e_y / c_Na) * split
    )
    found = aci.bond_resistance(
        tau=tau,
        tau_uncr=1100 * (8 / 6.25) ** 2,
        d_a=d_a,
        h_ef=h_ef,
        edges=edges,
        spacings=spacings,
        cracked=cracked,
        eccentricity=(e_x, e_y),
    )
    assert found == pytest.approx(by_hand, rel=1e-9)


# --- orders of size and single clauses, worked out by hand (ours) ---------------------


def test_a_bar_far_from_edges_and_near_one() -> None:
    # 17 x 63.246 x 18.520 lbf; 3 in from an edge: (3 + 10.5)/21 x (0.7 + 0.3 x 3/10.5) = 0.5051.
    assert aci.breakout_resistance(k_c=17, f_c=4000, h_ef=7, edges=FAR, spacings=SINGLE) / 1000 == pytest.approx(
        19.9, abs=0.05
    )
    near = aci.breakout_resistance(k_c=17, f_c=4000, h_ef=7, edges=(3, None, None, None), spacings=SINGLE)
    assert near / 1000 == pytest.approx(10.1, abs=0.05)


def test_strength_counts_to_8000_psi() -> None:
    at, beyond = (aci.breakout_basic(k_c=17, f_c=f, h_ef=7) for f in (8000, 12000))
    assert at == beyond
    chain = aci.breakout_chain(k_c=17, f_c=12000, h_ef=7, edges=FAR, spacings=SINGLE)
    assert chain.known["f_c"] == 8000
    assert any("8,000 psi" in n.text for n in chain.notices)


def test_depth_counts_to_20_diameters_in_bond() -> None:
    at, beyond = (aci.bond_basic(tau=1000, d_a=0.5, h_ef=h) for h in (10, 14))
    assert at == beyond == pytest.approx(1000 * math.pi * 0.5 * 10, rel=1e-12)
    chain = aci.bond_chain(tau=1000, tau_uncr=1500, d_a=0.5, h_ef=14, edges=FAR, spacings=SINGLE)
    assert "counted_depth_aci318" in chain.choices
    assert any("20 bar diameters" in n.text for n in chain.notices)


@pytest.mark.parametrize(("h_ef", "said"), [(2.0, False), (1.99, True)])
def test_depth_under_4_diameters_is_said(h_ef: float, said: bool) -> None:
    chain = aci.bond_chain(tau=1000, tau_uncr=1500, d_a=0.5, h_ef=h_ef, edges=FAR, spacings=SINGLE)
    assert any("4 d_a" in n.text for n in chain.notices) is said


def test_narrow_member_concerns_breakout_and_not_bond_or_splitting() -> None:
    edges = (4, 5, 6, None)
    breakout = aci.breakout_chain(k_c=17, f_c=4000, h_ef=7, edges=edges, spacings=SINGLE, cracked=False)
    assert breakout.known["h_ef_r"] == pytest.approx(4, rel=1e-12)
    assert breakout.known["N_b_n"] == pytest.approx(17 * 4000**0.5 * 8, rel=1e-12)
    # c_ac = 2 x 7, floor 1.5 x 7: with the depth as it is.
    assert breakout.known["psi_cp_N"] == pytest.approx(10.5 / 14, rel=1e-12)
    bond = aci.bond_chain(tau=900, tau_uncr=1500, d_a=0.625, h_ef=7, edges=edges, spacings=SINGLE)
    assert bond.known["h_ef"] == 7


def test_depth_of_a_narrow_member_by_spacing() -> None:
    chain = aci.breakout_chain(k_c=17, f_c=4000, h_ef=7, edges=(2, 2, 3, None), spacings=(9, 2, 0, 1))
    assert chain.known["h_ef_r"] == 3  # 9 / 3 is more than 3 / 1.5
    wide = aci.breakout_chain(k_c=17, f_c=4000, h_ef=7, edges=(2, 2, 3, None), spacings=(40, 2, 0, 1))
    assert wide.known["h_ef_r"] == 7


def test_splitting_matters_in_uncracked_concrete_without_supplementary_reinforcement_only() -> None:
    common = {"k_c": 17, "f_c": 4000, "h_ef": 7, "edges": (5, None, None, None), "spacings": SINGLE}
    assert aci.breakout_chain(**common).known["psi_cp_N"] == 1
    assert aci.breakout_chain(**common, cracked=False, supplementary=True).known["psi_cp_N"] == 1
    assert aci.breakout_chain(**common, cracked=False, c_ac=21).known["psi_cp_N"] == pytest.approx(0.5, rel=1e-12)


def test_factor_for_uncracked_concrete_goes_with_the_codes_own_k_c() -> None:
    common = {"f_c": 4000, "h_ef": 7, "edges": FAR, "spacings": SINGLE, "cracked": False}
    assert aci.breakout_chain(k_c=17, **common).known["psi_c_N"] == 1.4
    assert aci.breakout_chain(k_c=24, **common).known["psi_c_N"] == 1.0


@pytest.mark.parametrize(
    ("f_uta", "f_ya", "counted"), [(90000, 60000, 90000), (130000, 100000, 125000), (60000, 30000, 57000)]
)
def test_steel_that_counts(f_uta: float, f_ya: float, counted: float) -> None:
    assert aci.steel_chain(A_se_N=0.31, f_uta=f_uta, f_ya=f_ya, ductile=True).known["f_uta_c"] == counted


def test_reduction_factors_and_sustained_pull() -> None:
    assert aci.steel_chain(A_se_N=0.31, f_uta=90000, f_ya=60000, ductile=False).value == pytest.approx(
        0.65 * 27900, rel=1e-12
    )
    chain = aci.bond_chain(tau=900, tau_uncr=1500, d_a=0.625, h_ef=7, edges=FAR, spacings=SINGLE)
    nominal = chain.value
    assert aci.design(chain, category=2, supplementary=False).value == pytest.approx(0.55 * nominal, rel=1e-12)
    chain = aci.breakout_chain(k_c=17, f_c=4000, h_ef=7, edges=FAR, spacings=SINGLE)
    assert aci.design(chain, category=1, supplementary=True).value == pytest.approx(0.75 * 17 * 4000**0.5 * 7**1.5)
    sustained = aci.sustained_chain(tau=900, d_a=0.625, h_ef=7, category=1, supplementary=True).value
    assert sustained == pytest.approx(0.55 * 0.75 * nominal, rel=1e-12)


@pytest.mark.parametrize(("lambda_", "breakout", "bond"), [(1.0, 1.0, 1.0), (0.75, 0.6, 0.45)])
def test_lightweight_concrete(lambda_: float, breakout: float, bond: float) -> None:
    assert aci.lightweight_chain(lambda_=lambda_, bond=False).known["lambda_a"] == pytest.approx(breakout, rel=1e-12)
    assert aci.lightweight_chain(lambda_=lambda_, bond=True).known["lambda_a"] == pytest.approx(bond, rel=1e-12)
    for one in (breakout, bond):
        common = {"edges": (3, None, None, None), "spacings": SINGLE}
        full, light = (aci.breakout_resistance(k_c=17, f_c=4000, h_ef=7, lambda_a=x, **common) for x in (1.0, one))
        assert light / full == pytest.approx(one, rel=1e-12)
        full, light = (aci.bond_basic(tau=900, d_a=0.5, h_ef=7, lambda_a=x) for x in (1.0, one))
        assert light / full == pytest.approx(one, rel=1e-12)


def test_least_distances_without_tests() -> None:
    assert aci.least_edge(d_a=0.625) == aci.least_spacing(d_a=0.625) == 3.75
    assert aci.least_depth(d_a=0.625) == 2.5
