"""Dust: mass, volume, bags, and which controls are listed for which way of drilling."""

import numpy as np
import pytest

from calc.base.formula import RangeError
from calc.fill.dust import CLOUD, NOT_AN_ASSESSMENT, bags, bulked_volume, controls, drilled_mass


def test_mass_of_a_litre():
    # one litre of a material of 2400 kg/m³ weighs 2.4 kg
    assert drilled_mass(V_drill=1e6, rho_con=2400.0) == pytest.approx(2400.0, rel=1e-14)


def test_mass_on_arrays():
    assert drilled_mass(V_drill=np.array([1e6, 2e6]), rho_con=2000.0) == pytest.approx([2000.0, 4000.0])


def test_volume_and_bags():
    loose = bulked_volume(V_drill=10e6, k_bulk=1.6)
    assert loose == pytest.approx(16e6)
    assert bags(V_dust=loose, V_bag=5e6) == 4
    assert bags(V_dust=15e6, V_bag=5e6) == 3
    assert bags(V_dust=15.001e6, V_bag=5e6) == 4


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: drilled_mass(V_drill=-1.0, rho_con=2400.0), "V_drill"),
        (lambda: drilled_mass(V_drill=1.0, rho_con=2.4), "rho_con"),
        (lambda: bulked_volume(V_drill=1.0, k_bulk=0.9), "k_bulk"),
        (lambda: bags(V_dust=float("nan"), V_bag=1e6), "V_dust"),
        (lambda: bags(V_dust=1.0, V_bag=0.0), "V_bag"),
    ],
)
def test_out_of_range(call, name):
    with pytest.raises(RangeError, match=f"^{name} = "):
        call()


def test_blowing_is_said_only_where_it_is_done():
    assert CLOUD in [line.asks for line in controls(method="drill", actions=["blow", "brush"])]
    assert CLOUD not in [line.asks for line in controls(method="drill", actions=["brush"])]


@pytest.mark.parametrize("method", ["drill", "drill with extraction", "dowel rig"])
def test_every_table_ends_with_what_it_is_not(method):
    lines = controls(method=method)
    assert lines[-1].asks == NOT_AN_ASSESSMENT
    assert all(line.topic and line.asks and line.source for line in lines)


def test_drilling_without_extraction_is_told_apart():
    topics = {m: [line.topic for line in controls(method=m)] for m in ("drill", "drill with extraction")}
    assert "without extraction" in topics["drill"]
    assert "without extraction" not in topics["drill with extraction"]


def test_unknown_method():
    with pytest.raises(
        ValueError, match="'laser' is not a method of drilling; accepted: drill, drill with extraction, dowel rig"
    ):
        controls(method="laser")
