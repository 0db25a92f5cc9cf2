"""Arrhenius: how a working time changes with temperature.

Source: Arrhenius' law, worked once by hand with scipy's constants: 30 min at 23 °C with 60 kJ/mol is 13.5 min at 33 °C;
halving every 10 K is exact only near 48 to 51 kJ/mol. Gas constant: SI, exact since 2019, 8.31446261815324 J/(mol·K),
as scipy holds it. Tolerance: half of the last printed digit.
"""

import numpy as np
import pytest
from scipy import constants, integrate

from calc.fill.cure import (
    GAS_CONSTANT,
    TimeRow,
    TimeTable,
    activation_energy,
    arrhenius_time,
    implied_energies,
    read_arrhenius,
)


def test_gas_constant():
    assert pytest.approx(constants.R, rel=1e-9) == GAS_CONSTANT


def test_thirty_minutes_ten_kelvin_warmer():
    assert arrhenius_time(R_gas=GAS_CONSTANT, t_1=30.0, T_1=23.0, E_a=60.0, T=33.0) == pytest.approx(13.5, abs=0.05)


@pytest.mark.parametrize(("cold", "energy"), [(10.0, 48.0), (20.0, 51.0)])
def test_halving_every_ten_kelvin(cold, energy):
    assert activation_energy(R_gas=GAS_CONSTANT, t_1=20.0, t_2=10.0, T_1=cold, T_2=cold + 10.0) == pytest.approx(
        energy, abs=0.5
    )


def test_the_same_energy_back():
    t = arrhenius_time(R_gas=GAS_CONSTANT, t_1=30.0, T_1=23.0, E_a=60.0, T=33.0)
    assert activation_energy(R_gas=GAS_CONSTANT, t_1=30.0, t_2=float(t), T_1=23.0, T_2=33.0) == pytest.approx(
        60.0, rel=1e-12
    )


def test_a_reaction_integrated_over_time_gels_when_the_formula_says():
    """A reaction of Arrhenius rate that gels after 30 min at 23 °C, integrated at 33 °C until it has gone as far."""

    def rate(T):
        return np.exp(-60e3 / (constants.R * (T + 273.15)))

    done = rate(23.0) * 30.0

    def gelled(t, x):
        return x[0] - done

    gelled.terminal = True
    found = integrate.solve_ivp(lambda t, x: [rate(33.0)], (0, 60), [0.0], events=gelled, rtol=1e-10, atol=1e-30)
    assert arrhenius_time(R_gas=GAS_CONSTANT, t_1=30.0, T_1=23.0, E_a=60.0, T=33.0) == pytest.approx(
        found.t_events[0][0], rel=1e-6
    )


@pytest.mark.parametrize("T", [5.0, 7.3, 10.0, 16.9, 20.0, 33.1, 35.0])
def test_inside_a_table_it_is_a_straight_line_of_ln_t_over_1_by_T(T):
    at, times = np.array([5.0, 10.0, 20.0, 35.0]), np.array([61.0, 44.0, 23.0, 9.0])
    table = TimeTable("working", tuple(TimeRow(a, a, t) for a, t in zip(at, times, strict=True)))
    line = np.exp(np.interp(-1 / (T + 273.15), -1 / (at + 273.15), np.log(times)))
    assert read_arrhenius(table=table, T=T).time == pytest.approx(line, rel=1e-12)


def test_implied_energies_are_slopes():
    at, times = np.array([5.0, 10.0, 20.0, 35.0]), np.array([61.0, 44.0, 23.0, 9.0])
    table = TimeTable("working", tuple(TimeRow(a, a, t) for a, t in zip(at, times, strict=True)))
    slopes = np.diff(np.log(times)) / np.diff(1 / (at + 273.15)) * constants.R / 1000
    np.testing.assert_allclose([energy for _, _, energy in implied_energies(table=table)], slopes, rtol=1e-9)
