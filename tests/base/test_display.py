"""Each kind of quantity has one rounding rule, in either system of units."""

import pytest

from calc.base.display import METRIC, Display, display_of, duration, shown_text
from calc.base.units import convert

US = Display("us")


@pytest.mark.parametrize(
    ("rule", "value", "metric", "us"),
    [
        ("length", 99.94, "99.9 mm", "3.93 in"),
        ("length", 250.04, "250.0 mm", "9.84 in"),
        ("fine_length", 20.254, "20.25 mm", "0.797 in"),
        ("size", 15.875, "15.88 mm", "5/8 in"),
        ("size", 1200.04, "1200 mm", "47.246 in"),
        ("size", 28.575, "28.57 mm", "1-1/8 in"),
        ("size", 200.0, "200 mm", "7.874 in"),
        ("planned", 241.3, "241.3 mm", "9-1/2 in"),
        ("planned", 200.0, "200 mm", "7.874 in"),
        ("read_off", 241.0, "241 mm", "9-1/2 in"),
        ("read_off", 0.2, "0 mm", "0 in"),
        ("about", 34.6, "35 mm", "1.36 in"),
        ("at_least", 34.2, "35 mm", "1.35 in"),
        ("at_least", 25.4, "26 mm", "1.00 in"),
        ("at_least", 35.0 + 1e-12, "35 mm", "1.38 in"),
        ("volume", 22619.47, "22.6 mL", "0.76 fl oz"),
        ("volume", 9994.0, "10.0 mL", "0.34 fl oz"),
        ("dose", 23000.0, "23 mL", "0.7777 fl oz"),
        ("job_volume", 1.5e6, "1.50 L", "50.72 fl oz"),
        ("job_volume", 12.8e6, "12.8 L", "432.8 fl oz"),
        ("loose_volume", 1.5e6, "1.50 L", "0.05 ft³"),
        ("lost_volume", 1.5e6, "1.50 L", "50.72 fl oz"),
        ("force", 8000.0, "8.0 kN", "1.80 kip"),
        ("given_force", 8000.0, "8 kN", "1.798 kip"),
        ("mass", 1500.0, "1.5 kg", "3.3 lb"),
        ("temperature", 10.0, "10 °C", "50 °F"),
        ("temperature", 10.83, "10.8 °C", "51.5 °F"),
        ("temperature", 4.9, "4.9 °C", "40.8 °F"),
        ("temperature", 4.97, "4.97 °C", "40.9 °F"),
        ("temperature", convert(40.0, "°F", "°C"), "4.4 °C", "40 °F"),
        ("drilled", 394.87, "395 mm", "15-9/16 in"),
        ("drilled", 400.05, "401 mm", "15-3/4 in"),
        ("drilled", 210.0, "210 mm", "8-5/16 in"),
        ("drilled", 14.3002, "15 mm", "5/8 in"),
        ("temperature", 2.5, "2.5 °C", "36.5 °F"),
        ("surface", 50.8, "50.8 mm", "2 in"),
    ],
)
def test_rounding(rule, value, metric, us):
    assert getattr(METRIC, rule)(value) == metric
    assert getattr(US, rule)(value) == us


def test_a_negative_time_has_one_sign():
    assert [duration(-minutes) for minutes in (0.5, 1.5, 33.0, 150.0, 0.0, 1e-9)] == [
        "-30 s",
        "-1 min 30 s",
        "-33 min",
        "-2 h 30 min",
        "0 min",
        "0 min",
    ]
    assert shown_text(-0.5, "min") == "-30 s"


def test_any_quantity():
    assert (METRIC.amount(22619.47, "mm³", 4), US.amount(22619.47, "mm³", 4)) == ("22.62 mL", "0.7649 fl oz")
    assert (METRIC.plain(2.2857, "MPa", 3), US.plain(2.2857, "MPa", 3)) == ("2.29 MPa", "332 psi")
    assert (METRIC.temperatures(5.0, 10.0), US.temperatures(10.0, 10.0)) == ("5 to 10 °C", "50 °F")


def test_what_is_too_small_to_be_shown_reads_as_none():
    for display in (METRIC, US):
        assert float(display.length(0.99 * display.least_length).split()[0]) == 0.0
        assert float(display.length(1.01 * display.least_length).split()[0]) > 0.0
        assert float(display.volume(1.01 * display.least_volume).split()[0]) > 0.0


def test_the_usual_unit_comes_first():
    assert (METRIC.both("mm", "in"), US.both("mm", "in")) == ("mm or in", "in or mm")


@pytest.mark.parametrize("units", ["metric", "Metric", "", None, 3])
def test_a_package_without_units_that_are_known_is_metric(units):
    assert display_of(units) == METRIC
    assert display_of("us") == US


def test_an_unknown_system_is_refused():
    with pytest.raises(ValueError, match="'imperial' are not known; accepted: metric, us"):
        Display("imperial")
