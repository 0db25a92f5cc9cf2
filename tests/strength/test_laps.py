"""Formulas of laps, of tested strengths and of the weaker concrete, each by other arithmetic.

And the lap of a short hole.

EN 1992-1-1:2004, 8.7.2 to 8.7.4 and 8.8, and EN 1992-1-1:2023, 11.5.2 (from memory, but for the gap of 11.5.2(7): a
draft of the fib's structuralcodes); EN 1992-1-1:2004, 3.1.2(4) (official national text); A.2.3 and EN 13791 (from
memory); ACI 318-19, 25.5.2 (McCormac & Brown, Design of Reinforced Concrete, 9th ed., 7.12, for bars of two sizes). The
expected numbers are worked out by hand.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jobparts import lap_with_end_cover

from calc.base.formula import Formula, RangeError
from calc.strength import aci318_19 as aci
from calc.strength import en1992_2004 as en04
from calc.strength import en1992_2023 as en23
from calc.strength import interface, laps, materials
from calc.strength.detailing import drift_with_aid, end_spacing_check
from calc.strength.short import bar as shortbar
from calc.strength.short import law as bondlaw
from calc.strength.short import length as bonded

F_YD = 500 / 1.15
VALUES = [
    (laps.force_of_existing_bar, {"N_Ed": 30e3, "s_ex": 300.0, "s": 200.0}, 45e3),
    (laps.stress_of_existing_bar, {"N_ex": 45e3, "A_ex": 150.0}, 300.0),
    (laps.existing_yield_strength, {"f_yk_ex": 460.0, "gamma_S": 1.15}, 400.0),
    (laps.existing_bar_strength, {"A_ex": 150.0, "f_yd_ex": 400.0}, 60e3),
    (laps.existing_bar_strength_aci, {"phi_t": 0.9, "A_ex": 200.0, "f_y_ex": 400.0}, 72e3),
    (laps.governing_lap, {"l_0": 500.0, "l_0_ex": 620.0}, 620.0),
    (laps.clear_of_pairs_in_one_layer, {"s": 100.0, "phi": 16.0, "phi_ex": 16.0, "s_l": 20.0}, 48.0),
    (laps.clear_of_pairs_behind, {"s": 100.0, "phi": 16.0, "phi_ex": 20.0}, 80.0),
    (laps.lap_cover, {"a_l": 48.0, "c": 60.0}, 24.0),
    (laps.lap_cover_edge, {"a_l": 100.0, "c": 60.0, "c_edge": 40.0, "phi": 16.0}, 32.0),
    (laps.least_clear_of_pairs, {"phi": 8.0}, 20.0),
    (laps.transverse_area, {"n_st": 4.0, "A_t": 78.5}, 314.0),
    (materials.later_tension_factor, {"k_t": 0.85, "alpha_ct": 1.0}, 0.85),
    (materials.later_compression_factor, {"k_t": 0.85, "alpha_cc": 0.8}, 0.68),
    (materials.strength_from_in_situ, {"f_ck_is": 25.5}, 30.0),
    (materials.partial_factor_in_situ, {"gamma_C": 1.6}, 1.36),
    (materials.tabulated_bond, {"eta_1": 0.7, "alpha_ct": 0.85, "f_bd_tab": 2.0}, 1.19),
    (materials.weaker_concrete, {"f_ck_old": 40.0, "f_ck_new": 20.0}, 20.0),
    (materials.weaker_concrete_aci, {"f_c_old": 3000.0, "f_c_new": 4000.0}, 3000.0),
]


@pytest.mark.parametrize(("formula", "inputs", "expected"), VALUES, ids=[one[0].id for one in VALUES])
def test_formula(formula, inputs, expected):
    assert formula(**inputs) == pytest.approx(expected, rel=1e-12)


def test_every_formula_has_a_worked_value():
    own = {one.id for room in (laps, materials) for one in vars(room).values() if isinstance(one, Formula)}
    assert own == {one[0].id for one in VALUES}


def test_the_partial_factor_in_situ_never_falls_below_its_floor():
    """0.85 x 1.5 is 1.275."""
    assert materials.partial_factor_in_situ(gamma_C=1.5) == 1.3


# ---- lengths ----


@pytest.mark.parametrize(("c_d", "by_2004", "by_2023"), [(42.0, 649, 615), (24.0, 793, 813)])
def test_a_lap_in_one_layer_is_longer(c_d, by_2004, by_2023):
    """ø16, C30, all lapped, good bond, cast in: half of 84 mm between bars, or of 48 mm between pairs.

    Whole millimetres.
    """
    assert round(en04.lap_length(phi=16, f_ck=30, sigma_sd=F_YD, rho_1=100, good_bond=True, c_d=c_d)) == by_2004
    l_bd = en23.anchorage_length(phi=16, f_ck=30, sigma_sd=F_YD, c_d=c_d)
    assert round(en23.lap_length(l_bd=l_bd, phi=16)) == by_2023


@pytest.mark.parametrize(
    ("phi", "s_l", "code", "approval"),
    [(16, 60, 10, 0), (16, 64, 14, 0), (16, 100, 50, 36), (12, 50, 2, 2), (12, 48, 0, 0), (25, 50, 0, 0)],
)
def test_gap_at_which_a_lap_grows(phi, s_l, code, approval):
    """Beyond the smaller of 4 diameters and 50 mm; beyond 4 diameters alone where an approval says so."""
    assert en04.gap_extension(s_l=float(s_l), phi=float(phi)) == code
    assert en04.gap_extension_post_installed(s_l=float(s_l), phi=float(phi)) == approval


def test_the_bond_of_post_installed_bars_stops_at_c50():
    for f_ck in (50.0, 60.0, 80.0):
        old = en04.anchorage_chain(phi=16, f_ck=f_ck, sigma_sd=400, good_bond=True, k_b=1.0, alpha_lb=1.5).value
        assert old == pytest.approx(
            en04.anchorage_length(phi=16, f_ck=50, sigma_sd=400, good_bond=True, alpha_1=1.0), rel=1e-12
        )
        chain = en23.post_installed_chain(phi=16, f_ck=f_ck, sigma_sd=400, c_d=60, k_b_pi=1.0, alpha_lb=1.0)
        assert chain.value == pytest.approx(en23.anchorage_length(phi=16, f_ck=50, sigma_sd=400, c_d=60), rel=1e-12)
        assert any("C50/60" in one.text for one in chain.notices) == (f_ck > 50)
    # A cast-in bar counts on C60/75 by the 2004 edition, and on its own class by the newer one.
    assert en04.f_bd(f_ck=60, phi=16, good_bond=True) > en04.f_bd(f_ck=50, phi=16, good_bond=True)
    assert en23.anchorage_length(phi=16, f_ck=80, sigma_sd=400, c_d=60) < en23.anchorage_length(
        phi=16, f_ck=50, sigma_sd=400, c_d=60
    )


def test_a_tabulated_bond_takes_the_place_of_the_factor():
    """16/4 x 400/2.3 = 695.65 mm; with poor bond over 0.7; k_t shortens the bond as it does the tensile strength."""
    common = {"phi": 16.0, "f_ck": 25.0, "sigma_sd": 400.0, "alpha_lb": 1.0, "f_bd_tab": 2.3}
    assert en04.anchorage_chain(good_bond=True, **common).value == pytest.approx(695.652, abs=5e-4)
    assert en04.anchorage_chain(good_bond=False, **common).value == pytest.approx(695.652 / 0.7, abs=1e-3)
    assert en04.anchorage_chain(good_bond=True, alpha_ct=0.85, **common).value == pytest.approx(
        695.652 / 0.85, abs=1e-3
    )


# ---- ACI ----


def development(d_b):
    return aci.development_chain(d_b=d_b, f_y=60000, f_c=4000, c_b=2.5 * d_b, psi_s=0.8 if d_b <= 0.75 else 1.0).known[
        "l_d_calc"
    ]


def test_class_b_takes_the_length_before_its_floor():
    """9 in: 1.3 times it are 11.7 in, so 12 in and not 15.6 in."""
    assert aci.splice_length(l_d=9.0) == 12.0
    assert aci.splice_length(l_d=10.0) == pytest.approx(13.0)
    chain = aci.development_chain(d_b=0.375, f_y=60000, f_c=4000, c_b=1.0, psi_s=0.8)
    assert chain.known["l_d"] == 12.0
    assert chain.use(aci.splice_class_b, "splice").value == 12.0


def test_splice_of_a_no_5_on_a_no_8():
    """1.3 x 14.23 = 18.50 in against 28.46 in for the larger bar (25.5.2.2), 4000 psi, cap 2.5."""
    small, large = development(0.625), development(1.0)
    lap = aci.splice_of_two_sizes(l_st=aci.splice_length(l_d=small), l_d_l=large)
    assert round(lap, 1) == 28.5
    assert lap > 1.3 * small


def test_shear_friction_counts_strong_bars_as_60_ksi_and_says_so():
    values = {"mu": 1.0, "A_vf": 0.44, "f_y": 80000.0}
    assert interface.aci318_shear_friction(**values) == pytest.approx(26400)
    assert interface.aci318_shear_friction.warnings(values)
    assert not interface.aci318_shear_friction.warnings(values | {"f_y": 60000.0})
    assert interface.aci318_required_area(V_u=26400.0, phi_v=0.75, mu=1.0, f_y=80000.0) == pytest.approx(0.44 / 0.75)
    with pytest.raises(RangeError, match="f_y = 130000 psi"):
        interface.aci318_shear_friction(mu=1.0, A_vf=0.44, f_y=130000.0)


@pytest.mark.parametrize(("f_ck", "resistance"), [(40.0, 1.02), (20.0, 0.78)])
def test_joint_of_the_weaker_concrete(f_ck, resistance):
    """Rough, rho 0.0012, 90°: 0.4 f_ctd + 0.0012 x 434.78 x 0.7."""
    f_ctd = en04.f_ctk_005(f_ck=f_ck) / 1.5
    found = interface.en1992_resistance(
        c=0.4, f_ctd=f_ctd, mu=0.7, sigma_n=0.0, rho=0.0012, f_yd=F_YD, alpha=90.0, nu=0.5, f_cd=f_ck / 1.5
    )
    assert round(found, 2) == resistance


# ---- holes that drift ----


def test_with_an_aid_two_holes_drift_by_its_figure():
    """1000 mm: 20 mm each with an aid, 87 mm each at 5° without one."""
    assert drift_with_aid(l_v=1000.0, k_drift=0.02) == 20.0
    hole = {"name": "x", "s": 100.0, "phi": 16.0, "d_0": 20.0, "l_v": 1000.0, "beta": 5.0}
    guided, free = end_spacing_check(aid=True, **hole), end_spacing_check(aid=False, **hole)
    assert guided.resistance == pytest.approx(60.0)
    assert guided.passes
    assert free.resistance == pytest.approx(100 - 2000 * math.tan(math.radians(5)))
    assert not free.passes
    assert "guide the drill" in free.advice


# ---- a short hole in a lap ----


def law(position="unknown", c_e=40.0):
    chain = lap_with_end_cover(phi=16, f_ck=25, sigma_sd=400, rho_1=100, good_bond=True, k_b=1.0, c_e=c_e, s_l=0.0)
    found = bondlaw.law_2004(chain=chain, f_yd=F_YD)
    own = found.reference
    return (
        bondlaw.beside(found, l_ref=own.last("l_ref"), l_min=own.last("l_min"), N_y=None, position=position),
        chain.value,
    )


@pytest.mark.parametrize(("position", "left"), [("mouth", 250.0), ("back", 210.0), ("unknown", 210.0)])
def test_bonded_length_of_a_lap_by_where_the_adhesive_is_missing(position, left):
    """300 mm, 40 mm of end cover, 50 mm bare: 300 - max(50, 40), or 300 - 50 - 40."""
    assert bonded.bonded_length_left(u=50.0, l_v=300.0, c_e=40.0, position=position) == left
    # Without an end cover the place does not matter.
    assert bonded.bonded_length_left(u=50.0, l_v=300.0, position=position) == 250.0


@given(st.floats(0, 400), st.floats(0, 100), st.floats(0, 200))
def test_an_unknown_place_is_never_the_better_one(l_v, c_e, u):
    lengths = {p: bonded.bonded_length_left(u=u, l_v=l_v, c_e=c_e, position=p) for p in ("mouth", "back", "unknown")}
    assert lengths["unknown"] == lengths["back"] <= lengths["mouth"]


def test_a_ring_within_the_end_cover_costs_nothing_and_a_void_at_the_back_does():
    ring, l_v = law("mouth")
    void, _ = law("unknown")
    missing = 36 * math.pi * 30
    full = 64 * math.pi * 400
    assert shortbar.short_chain(law=ring, V_short=missing, d_0=20, l_v=l_v).N_R == pytest.approx(full, rel=1e-9)
    left = shortbar.short_chain(law=void, V_short=missing, d_0=20, l_v=l_v)
    assert left.l_b == pytest.approx(l_v - 40 - 30)
    assert left.N_R == pytest.approx(full * (l_v - 70) / (l_v - 40), rel=1e-9)
    assert left.chain.choices[-3:] == ("bonded_length_lap", "bond_force", "bar_resistance")


@given(st.floats(0.2, 1.0), st.floats(1000, 2000), st.sampled_from(["mouth", "back", "unknown"]), st.floats(0, 80))
def test_least_dose_of_a_lap_forwards_again(share, l_v, position, c_e):
    found, _ = law(position, c_e)
    N_Ed, V_req = share * 64 * math.pi * 400, 36 * math.pi * l_v
    least = shortbar.least_dose(law=found, N_Ed=N_Ed, V_req=V_req, d_0=20, l_v=l_v).V_least
    for more, reaches in ((1e-3, True), (-1.0, False)):
        left = shortbar.short_chain(law=found, V_short=V_req - least - more, d_0=20, l_v=l_v)
        assert (left.N_R >= N_Ed * (1 - 1e-9)) is reaches


def test_the_existing_bar_limits_the_law_of_the_lap():
    found, _ = law()
    known = found.reference
    longer = known.last("l_ref").__class__(2 * known.known["l_ref"], "mm", "the existing bar")
    weak = known.last("N_y").__class__(50e3, "N", "the existing bar")
    both = bondlaw.beside(found, l_ref=longer, l_min=known.last("l_min"), N_y=weak, position="unknown")
    assert bondlaw.capacity(law=both, l_b=600.0) == pytest.approx(bondlaw.capacity(law=found, l_b=600.0) / 2)
    assert bondlaw.capacity(law=both, l_b=5000.0) == 50e3
    assert "steel yields at 50.0 kN" in shortbar.least_dose(law=both, N_Ed=60e3, V_req=9e4, d_0=20, l_v=800).reason
    # The law that it was made from stays as it is.
    assert found.yield_force > 80e3
