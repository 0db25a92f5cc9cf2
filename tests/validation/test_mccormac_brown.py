"""McCormac & Brown, Design of Reinforced Concrete, 9th ed., worked examples (written for ACI 318-11, f_y 60 000 psi).

Examples: 7.2 and 7.3 (development), 12.1 and 12.9 (bars in a footing's joint, shear friction). The formula of 25.4.2.4
is the same in ACI 318-19, whose grade factor is 1.0 for this steel.

Tolerance: half the last printed digit: half a diameter where whole diameters are printed, 0.005 d_b, 0.005 in² and 50
lbf where two decimals of a diameter or of an area, or a tenth of a kip, are.
"""

import pytest

from calc.strength import aci318_19 as aci
from calc.strength import interface

WHOLE, HUNDREDTH, TENTH_OF_A_KIP = 0.5, 0.005, 50.0
F_Y = 60000.0


@pytest.mark.parametrize(("K_tr", "printed"), [(0.0, 55), (0.367, 44)])
def test_example_7_2(K_tr: float, printed: int) -> None:
    d_b = 1.0
    assert aci.development_length(d_b=d_b, f_y=F_Y, f_c=3000, c_b=1.5, K_tr=K_tr) / d_b == pytest.approx(
        printed, abs=WHOLE
    )


def test_example_7_3_epoxy_coated() -> None:
    d_b = 0.875
    assert aci.development_length(d_b=d_b, f_y=F_Y, f_c=3500, c_b=1.5, psi_e=1.5) / d_b == pytest.approx(67, abs=WHOLE)


def test_example_12_1() -> None:
    d_b = 0.875
    # c_b of 3 diameters is beyond the cap of 2.5 that the example uses.
    assert aci.development_length(d_b=d_b, f_y=F_Y, f_c=3000, c_b=3 * d_b) / d_b == pytest.approx(32.86, abs=HUNDREDTH)


def test_example_12_9_area() -> None:
    assert interface.aci318_required_area(V_u=65000.0, phi_v=0.75, mu=0.6, f_y=F_Y) == pytest.approx(
        2.41, abs=HUNDREDTH
    )


def test_example_12_9_strength_and_area_are_one_formula() -> None:
    # The printed area, 2.41 in², carries the 65 kip within what its rounding allows (half a hundredth of a square
    # inch).
    assert 0.75 * interface.aci318_shear_friction(mu=0.6, A_vf=2.41, f_y=F_Y) == pytest.approx(
        65000, abs=0.75 * 0.6 * F_Y * HUNDREDTH
    )


def test_example_12_9_limit_that_governs() -> None:
    assert 0.75 * interface.aci318_limit(f_c=3000, A_c=14 * 14, roughened=False) == pytest.approx(
        88200, abs=TENTH_OF_A_KIP
    )


def test_example_12_9_other_limit() -> None:
    # 800 A_c does not depend on the concrete; it governs from 4000 psi on.
    assert 0.75 * interface.aci318_limit(f_c=5000, A_c=14 * 14, roughened=False) == pytest.approx(
        117600, abs=TENTH_OF_A_KIP
    )


def test_example_12_9_development_of_the_dowel() -> None:
    chain = aci.development_chain(d_b=0.75, f_y=F_Y, f_c=3000, c_b=3.0, psi_s=0.8)
    assert chain.value / 0.75 == pytest.approx(26.29, abs=HUNDREDTH)
    # The printed 23.91 takes the printed 2.41 and 2.65 in² and the printed 26.29.
    reduced = aci.reduced_development(l_d_calc=chain.value, A_req=2.41, A_prov=2.65)
    assert reduced / 0.75 == pytest.approx(23.91, abs=HUNDREDTH)
