"""Dust: 29 CFR 1926.1153 (respirable crystalline silica, construction), limits and Table 1.

What the table of controls must say: PEL 50 and action level 25 µg/m³; handheld and stand-mounted drills: shroud or
cowling with dust collection, filter at least 99 % with cleaning, HEPA vacuum for the holes, no respirator; dowel rigs:
outdoors only, APF 10. EU limit 0.1 mg/m³: Directive 2004/37/EC, Annex III, as amended by (EU) 2017/2398; UK: EH40/2005,
from memory. Drilled mass of a hole 20 x 200 mm at 2400 kg/m³: 150.8 g (worked independently), half the last digit.
"""

import re

import pytest

from calc.base.units import convert
from calc.fill.dust import ACTION_LEVEL, PEL, UK_EU_LIMIT, controls, drilled_mass
from calc.fill.hole import hole_area


def test_drilled_mass():
    volume = hole_area(d_0=20.0) * 200.0
    assert drilled_mass(V_drill=volume, rho_con=2400.0) == pytest.approx(150.8, abs=0.05)


def test_limits():
    # 1 mg is 1000 µg
    assert (PEL, ACTION_LEVEL, UK_EU_LIMIT) == (50.0, 25.0, 0.1 * 1000)
    said = " ".join(line.asks for line in controls(method="drill")[:2])
    assert re.findall(r"[\d.]+(?= [µm]g/m³)", said) == ["50", "25", "0.1"]


@pytest.mark.parametrize("method", ["drill", "drill with extraction"])
def test_drills(method):
    said = {line.topic: line.asks for line in controls(method=method)}
    assert "shroud or cowling" in said["at the bit"].lower()
    assert "99 %" in said["filter"]
    assert "cleaning" in said["filter"]
    assert "HEPA" in said["holes"]
    assert "no respirator" in said["respirator"]


def test_dowel_rigs():
    said = {line.topic: line.asks for line in controls(method="dowel rig")}
    assert "outdoors only" in said["place"]
    assert "factor of 10" in said["respirator"]


def test_a_litre_of_concrete_is_weighed_in_the_same_unit_as_the_registry():
    assert drilled_mass(V_drill=convert(1.0, "L", "mm³"), rho_con=2400.0) == pytest.approx(convert(2.4, "kg", "g"))
