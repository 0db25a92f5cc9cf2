"""What millilitres short cost in strength.

Worked by hand, inverted, and held against each code's own length formula.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from jobparts import lap_with_end_cover

from calc.base import maths
from calc.base.units import convert
from calc.fill.hole import required_volume
from calc.fill.level import unfilled_length
from calc.strength import aci318_19 as aci
from calc.strength import en1992_2004 as en04
from calc.strength import en1992_2023 as en23
from calc.strength.short import bar as shortbar
from calc.strength.short import formulas as short
from calc.strength.short import law as bondlaw
from calc.strength.short import length as bonded
from calc.strength.short.length import Void

F_YD = 500 / 1.15


def law_04(phi=16.0, f_ck=25.0, sigma_sd=400.0, good=True, f_yd=F_YD):
    return bondlaw.law_2004(
        chain=en04.anchorage_chain(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, good_bond=good), f_yd=f_yd
    )


def law_04_lap(phi=16.0, sigma_sd=400.0, c_e=40.0, s_l=100.0, position="unknown"):
    chain = lap_with_end_cover(
        phi=phi, f_ck=25, sigma_sd=sigma_sd, rho_1=100, good_bond=True, k_b=1.0, c_e=c_e, s_l=s_l
    )
    return replace(bondlaw.law_2004(chain=chain, f_yd=F_YD), position=position), chain.value


def law_23(phi=16.0, f_ck=25.0, c_d=30.0, k=0.9, lap=False, c_e=0.0):
    chain = en23.post_installed_chain(phi=phi, f_ck=f_ck, sigma_sd=400, c_d=c_d, k_b_pi=k, lap=lap)
    return bondlaw.law_2023(chain=chain, f_yd=F_YD, c_e=c_e)


def law_us(d_b=0.75, f_c=4000.0, splice="none", phi_t=0.9, A_s=None):
    return bondlaw.law_aci(
        chain=aci.development_chain(d_b=d_b, f_y=60000, f_c=f_c, c_b=2.5, psi_s=1.0),
        splice=splice,
        phi_t=phi_t,
        A_s=A_s,
    )


LAWS = {
    "2004 anchorage": law_04(),
    "2004 lap": law_04_lap()[0],
    "2004 lap, ring": law_04_lap(position="mouth")[0],
    "2023 anchorage": law_23(),
    "2023 lap": law_23(lap=True, c_e=35.0),
    "ACI development": law_us(),
    "ACI splice": law_us(splice="B"),
}
laws = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())
any_law = st.sampled_from(list(LAWS.values()))
void_lists = st.lists(st.builds(Void, st.floats(0, 1200), st.floats(0.1, 300)), max_size=4)


# --- by hand ---


def test_1131_mm3_in_a_20_mm_hole_bare_10_mm_of_a_16_mm_bar() -> None:
    # π/4 (20² − 16²) = 36 π mm² = 113.0973 mm² of ring.
    assert bonded.lost_length_mouth(V_short=36 * math.pi * 10, d_0=20, phi=16) == pytest.approx(10, rel=1e-12)
    np.testing.assert_allclose(
        bonded.lost_length_mouth(V_short=np.array([0.0, 36 * math.pi]), d_0=20, phi=16), [0, 1], rtol=1e-12
    )


def test_2004_by_hand() -> None:
    # f_ctm 0.3·25^(2/3) = 2.56496, f_ctk 1.79547, f_ctd 1.19698, f_bd 2.69321 MPa: 16/4·400/2.69321 = 594.086 mm for
    # 400 MPa.
    law = law_04()
    assert law.reference.known["l_ref"] == pytest.approx(594.086, abs=5e-3)
    # 201.0619 mm² · 400 MPa = 80.42477 kN over that length: 135.3756 N/mm = π·16·2.69321.
    assert bondlaw.capacity(law=law, l_b=300.0) == pytest.approx(
        300 * math.pi * 16 * 2.25 * 0.7 * 0.3 * 25 ** (2 / 3) / 1.5, rel=1e-12
    )
    assert law.yield_force == pytest.approx(87418.23, abs=0.01)
    # Floor: 0.3·594.086 = 178.226 mm, above 10 φ = 160 mm.
    assert law.least_length == pytest.approx(178.2258, abs=2e-3)
    assert bondlaw.capacity(law=law, l_b=178.0) == 0
    assert bondlaw.capacity(law=law, l_b=178.3) > 24000
    assert bondlaw.capacity(law=law, l_b=5000.0) == law.yield_force


def test_2023_by_hand() -> None:
    # 50·16·1·(16/20)^(1/3)·√(1.5·16/30)/0.9 = 800·0.9283178·0.8944272/0.9 = 738.056 mm at 435 MPa.
    law = law_23()
    assert law.reference.known["l_ref"] == pytest.approx(738.0557, abs=1e-3)
    # An eighth of that length would carry a quarter of the stress; 3/8 carry 0.375^(2/3) = 0.520021.
    assert bondlaw.capacity(law=law, l_b=0.375 * law.reference.known["l_ref"]) == pytest.approx(
        64 * math.pi * 435 * 0.5200210, rel=1e-6
    )
    assert law.least_length == 240  # 10·16·1.5
    assert law_23(lap=True).least_length == 360  # 15·16·1.5
    assert law_23(lap=True).reference.known["l_ref"] == pytest.approx(1.2 * law.reference.known["l_ref"], rel=1e-12)


def test_aci_by_hand() -> None:
    # l_d = 3/40·60000/√4000/2.5·0.75 = 21.345374 in; the whole of it carries 0.9·0.44 in²·60 ksi = 23.76 kip.
    law = law_us(A_s=0.44 * 25.4**2)
    assert law.reference.known["l_ref"] == pytest.approx(21.345374 * 25.4, rel=1e-6)
    assert convert(law.yield_force, "N", "lbf") == pytest.approx(23760, rel=1e-9)
    thirteen = 13 * 25.4
    assert convert(bondlaw.capacity(law=law, l_b=thirteen), "N", "lbf") == pytest.approx(
        23760 * 13 / 21.345374, rel=1e-6
    )
    assert bondlaw.capacity(law=law, l_b=11.99 * 25.4) == 0
    assert law.least_length == pytest.approx(304.8, rel=1e-12)
    assert law_us(splice="B").reference.known["l_ref"] == pytest.approx(1.3 * law.reference.known["l_ref"], rel=1e-12)
    assert law_us(splice="A").reference.known["l_ref"] == law.reference.known["l_ref"]


def test_the_chain_from_millilitres_to_newtons_by_hand() -> None:
    # 4.5239 mL short = 40 mm of ring; a void from 200 to 250 mm; 500 − 40 − 50 = 410 mm bonded.
    law = law_04()
    bar = shortbar.short_chain(law=law, V_short=36 * math.pi * 40, d_0=20, l_v=500, voids=[Void(200, 50)])
    assert (bar.u, bar.l_b) == pytest.approx((40, 410), rel=1e-12)
    assert bar.N_R == pytest.approx(410 * math.pi * 16 * 2.693213, rel=1e-6)
    assert bar.chain.value == bar.N_R
    assert bar.chain.choices[-6:] == (
        "length_of_shortfall",
        "bond_begins",
        "void_loss",
        "bonded_length",
        "bond_force",
        "bar_resistance",
    )
    assert short.ASSUMPTION in {one.text for one in bar.chain.notices}
    assert short.NOT_CONFORMING in {one.text for one in bar.chain.notices}


def test_a_full_bar_is_not_told_that_it_does_not_conform() -> None:
    bar = shortbar.short_chain(law=law_04(), V_short=0.0, d_0=20, l_v=500)
    assert short.NOT_CONFORMING not in {one.text for one in bar.chain.notices}
    assert short.ASSUMPTION in {one.text for one in bar.chain.notices}


def test_under_the_least_length_nothing_is_counted_on_and_it_is_said() -> None:
    bar = shortbar.short_chain(law=law_04(), V_short=36 * math.pi * 330, d_0=20, l_v=500)
    assert bar.l_b == pytest.approx(170)
    assert bar.N_R == 0
    assert any("nothing is counted on" in n.text for n in bar.chain.notices)
    assert "bond_force" not in bar.chain.choices
    assert not bondlaw.capacity_check(name="x", law=law_04(), l_b=bar.l_b, N_Ed=1.0).passes


@pytest.mark.parametrize(
    ("u", "c_e", "delta_l", "voids", "left"),
    [
        (0, 0, 0, [], 300),
        (30, 0, 0, [], 270),
        (30, 40, 0, [], 260),  # the ring ends inside the cover zone, which carried nothing anyway
        (50, 40, 0, [], 250),
        (50, 40, 25, [], 225),
        (0, 0, 0, [(100, 20)], 280),
        (0, 0, 0, [(100, 20), (110, 30)], 260),  # overlapping: 100 to 140
        (0, 0, 0, [(110, 30), (100, 20), (200, 10)], 250),
        (110, 0, 0, [(100, 20)], 180),  # 110 to 120 of the void is not lost a second time
        (0, 0, 0, [(290, 40)], 290),  # reaches beyond the bar's end
        (0, 0, 0, [(300, 40)], 300),  # behind the bar's end
        (0, 40, 0, [(10, 50)], 240),
        (300, 0, 0, [(100, 20)], 0),
        (400, 0, 0, [], 0),
    ],
)
def test_bonded_length_by_counting(
    u: float, c_e: float, delta_l: float, voids: list[tuple[float, float]], left: float
) -> None:
    made = [Void(*v) for v in voids]
    assert bonded.bonded_length_left(
        u=u, l_v=300, c_e=c_e, delta_l=delta_l, voids=made, position="mouth"
    ) == pytest.approx(left, abs=1e-9)


@given(st.integers(0, 90), st.integers(0, 40), st.lists(st.tuples(st.integers(0, 110), st.integers(1, 40)), max_size=4))
def test_bonded_length_against_a_count_of_millimetres(u: int, c_e: int, voids: list[tuple[int, int]]) -> None:
    bare = [any(b <= mm < b + h for b, h in voids) for mm in range(100)]
    made = [Void(*v) for v in voids]
    counted = sum(1 for mm in range(100) if mm >= max(u, c_e) and not bare[mm])
    assert bonded.bonded_length_left(
        u=float(u), l_v=100.0, c_e=float(c_e), voids=made, position="mouth"
    ) == pytest.approx(counted, abs=1e-9)
    # Elsewhere than at the mouth of a lap, what is missing is missing beside the end cover and beside the voids.
    sound = sum(1 for mm in range(100) if mm >= c_e and not bare[mm])
    if c_e:
        assert bonded.bonded_length_left(u=float(u), l_v=100.0, c_e=float(c_e), voids=made) == pytest.approx(
            max(0, sound - u), abs=1e-9
        )


# --- each code's own formula, run the other way ---


@given(st.floats(50, 430), st.floats(8, 32), st.floats(16, 60), st.booleans())
def test_2004_length_for_a_stress_carries_that_stress(sigma_sd: float, phi: float, f_ck: float, good: bool) -> None:
    l_bd = en04.anchorage_length(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, good_bond=good)
    law = law_04(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, good=good)
    force = math.pi / 4 * phi**2 * sigma_sd
    assert bondlaw.capacity(law=law, l_b=l_bd) >= force * (1 - 1e-9)
    if l_bd > law.least_length:
        assert bondlaw.capacity(law=law, l_b=l_bd) == pytest.approx(force, rel=1e-9)


@given(st.floats(50, 430), st.floats(8, 32), st.floats(16, 90), st.floats(15, 200), st.floats(0.5, 1), st.booleans())
def test_2023_length_for_a_stress_carries_that_stress(
    sigma_sd: float, phi: float, f_ck: float, c_d: float, k: float, lap: bool
) -> None:
    # The code's own length formula runs at sigma_sd; the law knows only its value at 435 MPa.
    chain = en23.post_installed_chain(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, c_d=c_d, k_b_pi=k, lap=lap)
    law = bondlaw.law_2023(chain=chain, f_yd=F_YD)
    # The floor of ten diameters inside l_bd is not an inverse of anything: leave it out.
    assume(chain.known["l_bd"] > 10 * phi)
    assume(chain.value > law.least_length)
    assert bondlaw.capacity(law=law, l_b=chain.value) == pytest.approx(math.pi / 4 * phi**2 * sigma_sd, rel=1e-9)


@given(st.floats(0.375, 1.4), st.floats(2500, 10000))
def test_aci_development_length_carries_yield(d_b: float, f_c: float) -> None:
    law = law_us(d_b=d_b, f_c=f_c)
    l_d = aci.development_length(d_b=d_b, f_y=60000, f_c=f_c, c_b=2.5)
    assert bondlaw.capacity(law=law, l_b=convert(l_d, "in", "mm")) == pytest.approx(law.yield_force, rel=1e-9)


@given(st.floats(12.1, 60), st.floats(0.375, 1.4), st.floats(2500, 10000))
def test_aci_metric_and_us_agree(l_b: float, d_b: float, f_c: float) -> None:
    # In in, psi and lbf from start to end, beside the law that works in mm, MPa and N.
    calculated = aci.development_chain(d_b=d_b, f_y=60000, f_c=f_c, c_b=2.5).known["l_d_calc"]
    strength = 0.9 * math.pi / 4 * d_b**2 * 60000
    us = min(strength * l_b / calculated, strength)
    metric = bondlaw.capacity(law=law_us(d_b=d_b, f_c=f_c), l_b=l_b * 25.4)
    assert convert(metric, "N", "lbf") == pytest.approx(us, rel=1e-9)


def test_2004_lap_as_designed_carries_its_force_and_the_gap_carries_nothing() -> None:
    law, l_v = law_04_lap(position="mouth")
    assert law.start == 40
    assert law.idle == pytest.approx(50)  # 100 − 50
    bar = shortbar.short_chain(law=law, V_short=0.0, d_0=20, l_v=l_v)
    assert bar.N_R == pytest.approx(64 * math.pi * 400, rel=1e-9)
    # A ring that stays inside the end cover costs no lap; one beyond it costs what lies beyond.
    assert shortbar.short_chain(law=law, V_short=36 * math.pi * 40, d_0=20, l_v=l_v).N_R == pytest.approx(
        bar.N_R, rel=1e-12
    )
    shorter = shortbar.short_chain(law=law, V_short=36 * math.pi * 50, d_0=20, l_v=l_v)
    assert shorter.l_b == pytest.approx(bar.l_b - 10)
    assert "bonded_length_wide_gap" in shorter.chain.choices


# --- what holds for every bar ---


@given(any_law, st.floats(0, 3000), st.floats(0, 500))
def test_never_above_yield_never_less_for_more_length_nothing_under_the_least(
    law: bondlaw.BondLaw, l_b: float, more: float
) -> None:
    one, two = bondlaw.capacity(law=law, l_b=l_b), bondlaw.capacity(law=law, l_b=l_b + more)
    assert 0 <= one <= two <= law.yield_force
    assert (one == 0) == (l_b < law.least_length * (1 - 1e-9))


@given(any_law, st.floats(0, 60000), st.floats(0, 20000), st.floats(200, 1500), void_lists)
def test_more_missing_is_never_stronger_and_voids_never_help(
    law: bondlaw.BondLaw, V: float, more: float, l_v: float, voids: list[Void]
) -> None:
    d_0 = law.reference.known["phi"] + 4
    one, two, sound = (
        shortbar.short_chain(law=law, V_short=v, d_0=d_0, l_v=l_v, voids=w)
        for v, w in ((V, voids), (V + more, voids), (V, []))
    )
    assert two.N_R <= one.N_R * (1 + 1e-12)
    assert one.N_R <= sound.N_R * (1 + 1e-12)


@given(any_law, st.lists(st.floats(0, 60000), min_size=1, max_size=6), st.floats(200, 1500), void_lists)
def test_table_and_chain_agree(law: bondlaw.BondLaw, volumes: list[float], l_v: float, voids: list[Void]) -> None:
    d_0 = law.reference.known["phi"] + 4
    rows = shortbar.loss_table(law=law, V_short=volumes, d_0=d_0, l_v=l_v, N_Ed=40e3, voids=voids)
    for row, V in zip(rows, volumes, strict=True):
        bar = shortbar.short_chain(law=law, V_short=V, d_0=d_0, l_v=l_v, voids=voids)
        assert row.N_R == pytest.approx(bar.N_R, rel=1e-12)
        assert row.l_b == pytest.approx(bar.l_b, rel=1e-12, abs=1e-9)
        assert row.u == pytest.approx(min(bar.u, l_v))
        assert row.utilisation == (pytest.approx(40e3 / bar.N_R) if bar.N_R else None)
        assert row.reaches == (bar.N_R >= 40e3 * (1 - 1e-9))


# --- the least dose ---


def test_least_dose_by_hand() -> None:
    # 54.15 kN need 400 mm by the law above; 500 mm are there: 100 mm of ring, 36π·100 = 11309.73 mm³, may be missing.
    law = law_04()
    force = 400 * math.pi * 16 * 2.25 * 0.7 * 0.3 * 25 ** (2 / 3) / 1.5
    V_req = required_volume(d_0=20.0, phi=16.0, l_v=500.0, overdrill=10.0, theta=130.0)
    found = shortbar.least_dose(law=law, N_Ed=force, V_req=V_req, d_0=20, l_v=500)
    assert found.V_least == pytest.approx(V_req - 11309.73, abs=0.01)
    # A void of 60 mm below the ring leaves 40 mm for the ring; the same void inside the ring leaves all of it.
    deep = shortbar.least_dose(law=law, N_Ed=force, V_req=V_req, d_0=20, l_v=500, voids=[Void(300, 60)])
    assert deep.V_least == pytest.approx(V_req - 36 * math.pi * 40, abs=0.01)
    shallow = shortbar.least_dose(law=law, N_Ed=force, V_req=V_req, d_0=20, l_v=500, voids=[Void(20, 60)])
    assert shallow.V_least == pytest.approx(V_req - 11309.73, abs=0.01)
    # A void that begins 40 mm before the bar's end and goes on behind it takes 40 mm.
    last = shortbar.least_dose(law=law, N_Ed=force, V_req=V_req, d_0=20, l_v=500, voids=[Void(460, 80)])
    assert last.V_least == pytest.approx(V_req - 36 * math.pi * 60, abs=0.01)
    for one in (found, deep, shallow, last):
        assert one.chain.steps[-1].value == one.V_least
        assert {short.ASSUMPTION, short.NOT_CONFORMING} <= {notice.text for notice in one.chain.notices}


@settings(deadline=None)
@given(any_law, st.floats(0.05, 1.0), st.floats(300, 1500), void_lists)
def test_least_dose_forwards_again(law: bondlaw.BondLaw, share: float, l_v: float, voids: list[Void]) -> None:
    phi, N_Ed = law.reference.known["phi"], share * law.yield_force
    d_0 = phi + 4
    V_req = required_volume(d_0=d_0, phi=phi, l_v=l_v)
    found = shortbar.least_dose(law=law, N_Ed=N_Ed, V_req=V_req, d_0=d_0, l_v=l_v, voids=voids)

    def force(V: float) -> float:
        u = unfilled_length(V=V, d_0=d_0, phi=phi, l_v=l_v)
        return bondlaw.capacity(
            law=law,
            l_b=bonded.bonded_length_left(
                u=u, l_v=l_v, c_e=law.start, delta_l=law.idle, voids=voids, position=law.position
            ),
        )

    if found.V_least is None:
        assert force(V_req) < N_Ed
        assert "no dose is enough" in found.reason
    else:
        assert found.reason == ""
        assert force(found.V_least) >= N_Ed * (1 - 1e-8)
        # A hair less and it does not reach: the dose is the least one, not merely one that is enough.
        assert force(found.V_least - 1e-6 * V_req) < N_Ed


def test_least_dose_of_a_bar_exactly_as_long_as_needed_is_the_full_hole() -> None:
    for phi in (8.0, 12.0, 16.0, 20.0, 25.0):
        l_bd = en04.anchorage_length(phi=phi, f_ck=25, sigma_sd=400, good_bond=True)
        V_req = required_volume(d_0=phi + 4, phi=phi, l_v=l_bd)
        found = shortbar.least_dose(
            law=law_04(phi=phi), N_Ed=math.pi / 4 * phi**2 * 400, V_req=V_req, d_0=phi + 4, l_v=l_bd
        )
        assert found.V_least == pytest.approx(V_req, rel=1e-9)
        assert found.chain.steps


def test_no_dose_is_enough_beyond_yield() -> None:
    law = law_04()
    found = shortbar.least_dose(law=law, N_Ed=90e3, V_req=60000, d_0=20, l_v=2000)
    assert found.V_least is None
    assert found.reason == "no dose is enough: the steel yields at 87.4 kN, the design force is 90.0 kN"


def test_volume_and_hole_that_do_not_go_together() -> None:
    with pytest.raises(ValueError, match="do not go together"):
        shortbar.least_dose(law=law_04(), N_Ed=30e3, V_req=1000, d_0=20, l_v=500)


# --- scatter ---


def test_share_below_by_counting() -> None:
    law = law_04()
    force = 400 * math.pi * 16 * 2.25 * 0.7 * 0.3 * 25 ** (2 / 3) / 1.5
    unfilled = [0.0, 50.0, 99.9, 100.0, 100.1, 200.0, 400.0, 500.0]
    assert shortbar.share_below(law=law, unfilled=unfilled, l_v=500.0, N_Ed=force) == 4 / 8
    assert shortbar.share_below(law=law, unfilled=[0.0, 0.0], l_v=[500.0, 390.0], N_Ed=force) == 0.5
    assert shortbar.share_below(law=law, unfilled=[0.0, 0.0], l_v=500.0, N_Ed=force, voids=[Void(200, 101)]) == 1.0


def test_share_below_is_the_share_of_doses_under_the_least_dose() -> None:
    law, V_req = law_23(), required_volume(d_0=20.0, phi=16.0, l_v=600.0)
    least = shortbar.least_dose(law=law, N_Ed=60e3, V_req=V_req, d_0=20, l_v=600).V_least
    assert least is not None
    doses = np.random.default_rng(4).normal(least, 0.05 * least, 4000)
    u = unfilled_length(V=doses, d_0=20.0, phi=16.0, l_v=600.0)
    assert shortbar.share_below(law=law, unfilled=u, l_v=600.0, N_Ed=60e3) == np.mean(doses < least)


# --- checks, steps, refusals ---


@laws
def test_check_at_just_above_and_below_one(law: bondlaw.BondLaw) -> None:
    l_b = 1.2 * law.least_length
    force = bondlaw.capacity(law=law, l_b=l_b)
    assert bondlaw.capacity_check(name="x", law=law, l_b=l_b, N_Ed=force).passes
    above = bondlaw.capacity_check(name="x", law=law, l_b=l_b, N_Ed=force * 1.0001)
    assert not above.passes
    assert above.utilisation == pytest.approx(1.0001)
    assert above.advice
    assert bondlaw.capacity_check(name="x", law=law, l_b=l_b, N_Ed=force * 0.9).utilisation == pytest.approx(0.9)
    assert "yields" in bondlaw.capacity_check(name="x", law=law, l_b=1e4, N_Ed=1.1 * law.yield_force).advice


@laws
def test_steps_lead_to_the_number(law: bondlaw.BondLaw) -> None:
    l_v = 1.5 * law.least_length + law.start + law.idle
    for voids in ([], [Void(60, 5)], [Void(60, 5), Void(90, 5)]):
        bar = shortbar.short_chain(law=law, V_short=500.0, d_0=law.reference.known["phi"] + 4, l_v=l_v, voids=voids)
        steps = bar.chain.steps
        assert steps[-1].value == bar.N_R > 0
        for step in steps:
            found = eval(
                step.expression,
                {"__builtins__": {}},
                {**maths.FUNCTIONS, **maths.CONSTANTS, **{i.name: i.value for i in step.inputs}},
            )
            assert found == pytest.approx(step.value, rel=1e-12)
    # The law is used again and again: it must not remember a bar.
    assert law.reference.links == LAWS[next(n for n, v in LAWS.items() if v is law)].reference.links
    assert "V_short" not in law.reference.known


NAN = math.nan


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: bonded.lost_length_mouth(V_short=-1.0, d_0=20, phi=16), "V_short"),
        (lambda: bonded.lost_length_mouth(V_short=np.array([1.0, NAN]), d_0=20, phi=16), "V_short"),
        (lambda: bonded.lost_length_mouth(V_short=1.0, d_0=16, phi=16), "phi must be smaller"),
        (lambda: Void(-1, 10), "a void begins"),
        (lambda: Void(10, 0), "a void begins"),
        (lambda: Void(NAN, 10), "a void begins"),
        (lambda: bonded.bonded_length_left(u=-1, l_v=100), "u must be"),
        (lambda: bonded.bonded_length_left(u=0, l_v=NAN), "l_v must be"),
        (lambda: bondlaw.capacity(law=law_04(), l_b=NAN), "l_b"),
        (lambda: bondlaw.capacity(law=law_04(), l_b=-1), "l_b"),
        (lambda: shortbar.short_chain(law=law_04(), V_short=NAN, d_0=20, l_v=500), "V_short"),
        (lambda: shortbar.short_chain(law=law_04(), V_short=1.0, d_0=20, l_v=NAN), "l_v"),
        (lambda: shortbar.least_dose(law=law_04(), N_Ed=0, V_req=1, d_0=20, l_v=500), "N_Ed"),
        (lambda: shortbar.least_dose(law=law_04(), N_Ed=NAN, V_req=1, d_0=20, l_v=500), "N_Ed"),
        (lambda: shortbar.share_below(law=law_04(), unfilled=[], l_v=500, N_Ed=1), "u must be"),
        (lambda: shortbar.share_below(law=law_04(), unfilled=[NAN], l_v=500, N_Ed=1), "u must be"),
        (lambda: law_04(sigma_sd=450.0), "at most the yield strength"),
        (lambda: law_04(sigma_sd=0.0), "must be above 0"),
        (
            lambda: bondlaw.law_2023(chain=en23.anchorage_chain(phi=16, f_ck=25, sigma_sd=400, c_d=30), f_yd=F_YD),
            "post-installed",
        ),
        (lambda: law_23(c_e=-1.0), "c_e"),
        (lambda: law_us(splice="C"), "splice is 'C'"),
        (lambda: law_us(phi_t=1.1), "phi_t"),
    ],
)
def test_refuses(call, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_the_two_sentences_say_what_they_must() -> None:
    assert "bonded" in short.ASSUMPTION
    assert "No rule for voids holds for every product" in short.ASSUMPTION
    assert "does not conform" in short.NOT_CONFORMING
    assert "whatever reserve" in short.NOT_CONFORMING
