"""EN 1992-4:2018, 7.2.1, bars as anchors in tension.

No worked example of the open literature for bonded bars by this edition could be read; guides of makers are no source
here. What there is:

- An outside calculation: "Alternative C - base and anchor design note, Rev 3" (bases_C.md, public on GitHub; the index
  in which it was read does not name the repository, and its author and review are unknown to us). Groups of 2 x 2 bars
  between edges by 7.2.1.4 and 7.2.1.6, with the older factor k_1 = 7.2; it leaves the embedment depth unreduced and the
  group effect of the bond out. Tolerance: half the last printed digit.
- A second derivation of ours: the area is counted square millimetre by square millimetre from the bars' positions, and
  the rest is written out once more, apart from the code. Equal to rounding.
"""

import math

import numpy as np
import pytest

from calc.strength import en1992_4 as en4

FAR = (None, None, None, None)
SINGLE = (0.0, 1, 0.0, 1)


# --- outside calculation ---------------------

PATTERN = (80.0, 2, 280.0, 2)


def between(zone: float) -> tuple[float, float, float, float]:
    """Edges of a square zone of solid concrete round the group of 80 x 280 mm."""
    return ((zone - 80) / 2, (zone - 80) / 2, (zone - 280) / 2, (zone - 280) / 2)


@pytest.mark.parametrize(("zone", "printed"), [(800, 98.5), (750, 89.9), (700, 81.7), (600, 58.4)])
def test_design_note_cone_of_a_group(zone: float, printed: float) -> None:
    chain = en4.cone_chain(k_1=7.2, f_ck=25, h_ef=200, edges=between(zone), spacings=PATTERN, reduced=False)
    assert chain.value / 1.5 / 1000 == pytest.approx(printed, abs=0.05)


def test_design_note_steps_of_the_cone() -> None:
    chain = en4.cone_chain(k_1=7.2, f_ck=25, h_ef=200, edges=between(800), spacings=PATTERN)
    known = chain.known
    assert known["N_Rk_c_0"] / 1000 == pytest.approx(101.8, abs=0.05)
    assert known["A_c_N"] == 800 * 680
    assert known["A_c_N"] / known["A_c_N_0"] == pytest.approx(1.511, abs=5e-4)
    assert known["psi_s_N"] == pytest.approx(0.96, abs=5e-3)
    assert chain.value / 1000 == pytest.approx(147.7, abs=0.05)


def test_design_note_deeper_anchors() -> None:
    chain = en4.cone_chain(k_1=7.2, f_ck=25, h_ef=250, edges=between(800), spacings=PATTERN, reduced=False)
    assert chain.known["N_Rk_c_0"] / 1000 == pytest.approx(142.3, abs=0.05)
    assert chain.known["psi_s_N"] == pytest.approx(0.91, abs=5e-3)
    assert chain.value / 1000 == pytest.approx(147.0, abs=0.05)


@pytest.mark.parametrize(("e", "printed"), [((19, 72), 0.76), ((41, 23), 0.82)])
def test_design_note_eccentric_pull(e: tuple[float, float], printed: float) -> None:
    chain = en4.cone_chain(k_1=7.2, f_ck=25, h_ef=200, edges=between(800), spacings=PATTERN, eccentricity=e)
    assert chain.known["psi_ec_N"] == pytest.approx(printed, abs=5e-3)


def test_design_note_bond() -> None:
    chain = en4.pullout_chain(
        tau_Rk=10, tau_Rk_uncr=10, d=20, h_ef=200, f_ck=25, k_3=7.7, edges=between(800), spacings=PATTERN
    )
    known = chain.known
    assert known["N_Rk_p_0"] / 1000 == pytest.approx(125.7, abs=0.05)
    assert known["s_cr_Np"] == pytest.approx(462, abs=0.5)
    assert known["A_p_N"] / known["A_p_N_0"] == pytest.approx(1.88, abs=5e-3)
    assert known["psi_s_Np"] == 1
    without_group_effect = chain.value / known["psi_g_Np"]
    assert without_group_effect / 1.5 / 1000 == pytest.approx(157.9, abs=0.05)


# --- second derivation (ours) ---------------------


def counted_area(c_cr: int, edges: tuple[int | None, ...], s_x: int, n_x: int, s_y: int, n_y: int) -> int:
    """Count the mm² within ``c_cr`` of any bar, along both axes, and inside the edges; whole mm only."""
    left, right, below, above = (10**6 if c is None else c for c in edges)
    x = np.arange(-c_cr - 1, (n_x - 1) * s_x + c_cr + 1) + 0.5
    y = np.arange(-c_cr - 1, (n_y - 1) * s_y + c_cr + 1) + 0.5
    inside = ((x > -left) & (x < (n_x - 1) * s_x + right))[:, None] & ((y > -below) & (y < (n_y - 1) * s_y + above))[
        None, :
    ]
    taken = np.zeros((x.size, y.size), dtype=bool)
    for i in range(n_x):
        for j in range(n_y):
            taken |= (abs(x - i * s_x) < c_cr)[:, None] & (abs(y - j * s_y) < c_cr)[None, :]
    return int(np.count_nonzero(taken & inside))


CASES = [
    ((None, None, None, None), (0, 1, 0, 1)),
    ((90, None, None, None), (0, 1, 0, 1)),
    ((90, None, 70, None), (0, 1, 0, 1)),
    ((90, 110, None, None), (150, 3, 0, 1)),
    ((60, None, 140, None), (120, 3, 200, 2)),
    ((None, None, 80, 1000), (700, 2, 90, 3)),
    ((None, 400, None, None), (150, 2, 0, 1)),
    ((None, 65, None, 100), (140, 2, 110, 3)),
    ((85, None, None, None), (200, 12, 0, 1)),
    ((75, 2000, 95, None), (160, 7, 900, 2)),
]


@pytest.mark.parametrize(("edges", "spacings"), CASES)
def test_cone_by_counted_area(edges: tuple[int | None, ...], spacings: tuple[int, int, int, int]) -> None:
    h_ef, f_ck, k_1, e_x, e_y = 180, 30, 7.7, 40, 25
    c_cr = 270  # 1.5 x 180
    nearest = min((c for c in edges if c is not None and c < c_cr), default=c_cr)
    share = counted_area(c_cr, edges, *spacings) / (2 * c_cr) ** 2
    by_hand = k_1 * math.sqrt(f_ck) * math.sqrt(h_ef**3) * share * (0.7 + 0.3 * nearest / c_cr)
    by_hand /= (1 + 2 * e_x / 540) * (1 + 2 * e_y / 540)
    found = en4.cone_resistance(k_1=k_1, f_ck=f_ck, h_ef=h_ef, edges=edges, spacings=spacings, eccentricity=(e_x, e_y))
    assert found == pytest.approx(by_hand, rel=1e-12)


LONG = [
    ((None, None, None, None), (270, 12, 0, 1)),
    ((60, 90, 80, 1000), (285, 12, 0, 1)),
    ((85, None, 2000, 90), (100, 6, 250, 4)),
]


@pytest.mark.parametrize("tau_Rk", [2.0, 7.0, 14.0])
@pytest.mark.parametrize(("edges", "spacings"), [*CASES, *LONG])
def test_pullout_by_counted_area(
    tau_Rk: float, edges: tuple[int | None, ...], spacings: tuple[int, int, int, int]
) -> None:
    # tau_Rk,uncr chosen so that c_cr,Np is a whole 150 mm: (300 / (7.3 x 16))².
    d, h_ef, f_ck, k_3, e_x, e_y = 16, 240, 25, 7.7, 30, 45
    c_cr = 150
    tau_Rk_uncr = (300 / (7.3 * d)) ** 2
    s_x, n_x, s_y, n_y = spacings
    n = n_x * n_y
    share = counted_area(c_cr, edges, *spacings) / 300**2
    nearest = min((c for c in edges if c is not None and c < c_cr), default=c_cr)
    group = 1.0
    if n > 1:
        gaps = [min(s_x, 300)] * (n_x - 1) + [min(s_y, 300)] * (n_y - 1)
        limit = k_3 * math.sqrt(h_ef * f_ck) / (math.pi * d)
        close = max(1.0, n**0.5 - (n**0.5 - 1) * (tau_Rk / limit) ** 1.5)
        group = close - (sum(gaps) / len(gaps) / 300) ** 0.5 * (close - 1)
    if max(n_x, n_y) > 3:
        # No more than the same bars 300 mm apart, which is our limit for long rows.
        group = min(group, counted_area(c_cr, edges, 300, n_x, 300, n_y) / 300**2 / share)
    by_hand = tau_Rk * math.pi * d * h_ef * share * group * (0.7 + 0.3 * nearest / c_cr)
    by_hand /= (1 + 2 * e_x / 300) * (1 + 2 * e_y / 300)
    found = en4.pullout_resistance(
        tau_Rk=tau_Rk,
        tau_Rk_uncr=tau_Rk_uncr,
        d=d,
        h_ef=h_ef,
        f_ck=f_ck,
        k_3=k_3,
        edges=edges,
        spacings=spacings,
        eccentricity=(e_x, e_y),
    )
    assert found == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.parametrize(("edges", "spacings"), CASES)
def test_splitting_by_counted_area(edges: tuple[int | None, ...], spacings: tuple[int, int, int, int]) -> None:
    c_cr, h, h_min, h_ef = 320, 300, 230, 180
    nearest = min((c for c in edges if c is not None and c < c_cr), default=c_cr)
    share = counted_area(c_cr, edges, *spacings) / 640**2
    thick = min((300 / 230) ** (2 / 3), max(1, ((180 + 1.5 * nearest) / 230) ** (2 / 3)))
    by_hand = 90000 * share * (0.7 + 0.3 * nearest / c_cr) * thick / ((1 + 2 * 35 / 640) * (1 + 2 * 50 / 640))
    found = en4.splitting_chain(
        c_cr_sp=c_cr,
        h=h,
        h_min=h_min,
        h_ef=h_ef,
        edges=edges,
        spacings=spacings,
        N_Rk_p_0=120000,
        N_Rk_c_0=90000,
        eccentricity=(35, 50),
    ).value
    assert found == pytest.approx(by_hand, rel=1e-12)


# --- orders of size and single clauses, worked out by hand (ours) ---------------------


def test_a_bar_far_from_edges_and_near_one() -> None:
    # 7.7 x 5.47723 x 2414.95 N; 90 mm from an edge: (90 + 270) x 540 / 540² x (0.7 + 0.3/3) = 0.5333.
    assert en4.cone_resistance(k_1=7.7, f_ck=30, h_ef=180, edges=FAR, spacings=SINGLE) / 1000 == pytest.approx(
        101.8, abs=0.05
    )
    near = en4.cone_resistance(k_1=7.7, f_ck=30, h_ef=180, edges=(90, None, None, None), spacings=SINGLE)
    assert near / 1000 == pytest.approx(54.3, abs=0.05)


@pytest.mark.parametrize(
    ("edges", "spacings", "depth"),
    [
        ((90, 120, 150, None), SINGLE, 100.0),  # 150 / 1.5
        ((90, 120, 150, 200), (100, 3, 0, 1), 200 / 1.5),
        ((60, 60, 75, None), (240, 2, 0, 1), 80.0),  # 240 / 3 is more than 75 / 1.5
        ((60, 60, 75, None), (900, 2, 0, 1), 180.0),  # never more than the depth itself
    ],
)
def test_depth_of_a_narrow_member(
    edges: tuple[float | None, ...], spacings: tuple[float, int, float, int], depth: float
) -> None:
    chain = en4.cone_chain(k_1=7.7, f_ck=30, h_ef=180, edges=edges, spacings=spacings)
    assert chain.known["h_ef_r"] == chain.known["h_ef"] == pytest.approx(depth, rel=1e-12)
    assert chain.known["N_Rk_c_0"] == pytest.approx(7.7 * 30**0.5 * depth**1.5, rel=1e-12)
    assert any("edges near" in n.text for n in chain.notices)


def test_two_near_edges_do_not_reduce_the_depth_and_a_third_at_the_limit_is_not_near() -> None:
    chain = en4.cone_chain(k_1=7.7, f_ck=30, h_ef=180, edges=(90, 120, 270, None), spacings=SINGLE)
    assert "reduced_depth" not in chain.choices


def test_reduced_depth_is_never_less_favourable() -> None:
    # The standard calls the calculation with the full depth conservative.
    common = {"k_1": 7.7, "f_ck": 30, "h_ef": 300, "edges": (90, 120, 150, 110), "spacings": (100, 2, 0, 1)}
    assert en4.cone_chain(**common).value >= en4.cone_chain(**common, reduced=False).value


def test_steel() -> None:
    # f_uk 540, f_yk 500: 1.2 x 540 / 500 = 1.296, so 1.4; 540 / 1.4 = 386 MPa.
    chain = en4.steel_chain(A_s=201.06, f_uk=540, f_yk=500)
    assert chain.known["gamma_Ms"] == 1.4
    assert chain.value / 201.06 == pytest.approx(386, abs=0.5)
    assert en4.steel_chain(A_s=100, f_uk=800, f_yk=640).known["gamma_Ms"] == pytest.approx(1.5, rel=1e-12)


def test_partial_factor_of_the_concrete() -> None:
    chain = en4.cone_chain(k_1=7.7, f_ck=30, h_ef=180, edges=FAR, spacings=SINGLE)
    characteristic = chain.value
    assert en4.design(chain, gamma_inst=1.2).value == pytest.approx(characteristic / 1.8, rel=1e-12)
    assert chain.known["gamma_Mc"] == pytest.approx(1.8, rel=1e-12)


@pytest.mark.parametrize(("alpha_sus", "factor"), [(0.0, 1.0), (0.6, 1.0), (0.7, 0.9), (1.0, 0.6)])
def test_sustained_load(alpha_sus: float, factor: float) -> None:
    assert en4.sustained_chain(alpha_sus=alpha_sus).known["psi_sus"] == pytest.approx(factor, rel=1e-12)
    basic = en4.pullout_basic(tau_Rk=8, d=16, h_ef=200, psi_sus=factor)
    assert basic == pytest.approx(factor * 8 * math.pi * 16 * 200, rel=1e-12)


@pytest.mark.parametrize(("h_ef", "factor"), [(60, 0.8), (100, 1.0), (180, 1.0)])
def test_dense_reinforcement(h_ef: float, factor: float) -> None:
    def both(dense: bool) -> tuple[float, float]:
        return (
            en4.cone_resistance(k_1=7.7, f_ck=30, h_ef=h_ef, edges=FAR, spacings=SINGLE, dense=dense),
            en4.pullout_resistance(
                tau_Rk=8, tau_Rk_uncr=12, d=12, h_ef=h_ef, f_ck=30, k_3=7.7, edges=FAR, spacings=SINGLE, dense=dense
            ),
        )

    for with_it, without in zip(both(True), both(False), strict=True):
        assert with_it / without == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("s", "phi", "dense"), [(149, 12, True), (150, 12, False), (99, 10, True), (100, 10, False), (120, 8, False)]
)
def test_what_is_dense(s: float, phi: float, dense: bool) -> None:
    assert en4.dense_reinforcement(s=s, phi=phi) is dense


def test_critical_spacing_of_the_bond_is_at_most_three_depths() -> None:
    common = {"tau_Rk": 8, "tau_Rk_uncr": 16, "d": 16, "f_ck": 25, "k_3": 7.7, "edges": FAR, "spacings": SINGLE}
    # 7.3 x 16 x 4 = 467.2 mm; 3 x 100 = 300 mm.
    assert en4.pullout_chain(h_ef=200, **common).known["s_cr_Np"] == pytest.approx(467.2, rel=1e-12)
    assert en4.pullout_chain(h_ef=100, **common).known["s_cr_Np"] == 300
    # psi_sus narrows it: sqrt(0.6 x 16).
    assert en4.pullout_chain(h_ef=200, psi_sus=0.6, **common).known["s_cr_Np"] == pytest.approx(
        7.3 * 16 * 9.6**0.5, rel=1e-12
    )


def test_depth_counts_to_20_diameters_in_bond() -> None:
    at, beyond, less = (en4.pullout_basic(tau_Rk=8, d=16, h_ef=h) for h in (320, 400, 300))
    assert at == beyond == pytest.approx(8 * math.pi * 16 * 320, rel=1e-12)
    assert less == pytest.approx(8 * math.pi * 16 * 300, rel=1e-12)


def test_strength_counts_to_60_mpa() -> None:
    at, beyond = (en4.cone_basic(k_1=7.7, f_ck=f, h_ef=180) for f in (60, 90))
    assert at == beyond == pytest.approx(7.7 * 60**0.5 * 180**1.5, rel=1e-12)


def test_a_strong_bond_has_no_group_effect() -> None:
    # tau_Rk,c = 7.7 / (16 pi) x sqrt(100 x 25) = 7.66 MPa.
    common = {"tau_Rk_uncr": 12, "d": 16, "h_ef": 100, "f_ck": 25, "k_3": 7.7, "edges": FAR, "spacings": (100, 2, 0, 1)}
    assert en4.pullout_chain(tau_Rk=7.65, **common).known["psi_g_Np"] > 1
    assert en4.pullout_chain(tau_Rk=7.67, **common).known["psi_g_Np"] == 1


def test_splitting_is_exempt_with_wide_edges_or_held_cracks() -> None:
    def exempt(
        c: float,
        spacings: tuple[float, int, float, int] = SINGLE,
        h: float = 250,
        held: bool = False,
        cracked: bool = True,
    ) -> bool:
        edges = (c, None, None, None)
        said = en4.splitting_exempt(
            c_cr_sp=300, h=h, h_min=240, edges=edges, spacings=spacings, cracked=cracked, cracks_held=held
        )
        return bool(said)

    assert exempt(300)
    assert not exempt(299)
    assert not exempt(359, (100, 2, 0, 1))
    assert exempt(360, (100, 2, 0, 1))
    assert not exempt(300, h=239)
    assert exempt(100, held=True)
    assert not exempt(100, held=True, cracked=False)


def test_thickness_factor_of_splitting() -> None:
    # (480/240)^(2/3) = 1.587; held down by ((180 + 1.5 x 100)/240)^(2/3) = 1.237; by 2.
    def factor(h: float, c: float | None, h_ef: float = 180) -> float:
        chain = en4.splitting_chain(
            c_cr_sp=600, h=h, h_min=240, h_ef=h_ef, edges=(c, None, None, None), spacings=SINGLE, N_Rk_sp_0=100000
        )
        return chain.known["psi_h_sp"]

    assert factor(480, None) == pytest.approx(1.5874, abs=5e-5)
    assert factor(480, 100) == pytest.approx(1.2365, abs=5e-5)
    assert factor(2400, None) == 2
    assert factor(240, 10, h_ef=120) == factor(480, 10, h_ef=120) == 1
