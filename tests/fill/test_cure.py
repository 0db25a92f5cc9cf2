"""Reading a product's time tables: the safe side, interpolation, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.base.formula import RangeError
from calc.fill.cure import TableError, TimeRow, TimeTable, implausible_rows, read_arrhenius, read_safe

POINTS = tuple(TimeRow(T, T, t) for T, t in [(5.0, 60.0), (10.0, 42.0), (20.0, 23.0), (30.0, 13.0)])
BANDS = (TimeRow(0.0, 8.0, 50.0), TimeRow(8.0, 16.0, 30.0), TimeRow(16.0, 25.0, 16.0))


@pytest.mark.parametrize(
    ("kind", "T", "time", "word"),
    [
        ("working", 12.0, 23.0, "next warmer row"),
        ("curing", 12.0, 42.0, "next colder row"),
        ("working", 10.0, 42.0, "row of the table for 10 °C"),
        ("curing", 10.0, 42.0, "row of the table for 10 °C"),
        ("working", 5.0, 60.0, "row of the table for 5 °C"),
        ("working", 5.01, 42.0, "next warmer row"),
        ("curing", 29.99, 23.0, "next colder row"),
        ("curing", 30.0, 13.0, "row of the table"),
    ],
)
def test_safe_side_of_rows_at_temperatures(kind, T, time, word):
    reading = read_safe(table=TimeTable(kind, POINTS), T=T)
    assert reading.time == time
    assert word in reading.how()
    assert reading.E_a is None


@pytest.mark.parametrize(
    ("kind", "T", "time"),
    [
        ("working", 0.0, 50.0),
        ("working", 7.9, 50.0),
        ("working", 8.0, 30.0),
        ("curing", 8.0, 50.0),
        ("curing", 8.1, 30.0),
        ("working", 25.0, 16.0),
    ],
)
def test_bands_and_the_less_favourable_one_at_a_border(kind, T, time):
    assert read_safe(table=TimeTable(kind, BANDS), T=T).time == time


@pytest.mark.parametrize("read", [read_safe, read_arrhenius])
@pytest.mark.parametrize("T", [4.99, 30.01, -20.0, math.nan, math.inf])
def test_outside_the_table_is_refused_with_its_range(read, T):
    with pytest.raises(RangeError, match=r"outside .*working times.*accepted: 5 to 30 °C"):
        read(table=TimeTable("working", POINTS), T=T)


def test_arrhenius_of_bands_uses_the_end_at_which_the_time_must_hold():
    assert TimeTable("working", BANDS).points == ((8.0, 50.0), (16.0, 30.0), (25.0, 16.0))
    assert TimeTable("curing", BANDS).points == ((0.0, 50.0), (8.0, 30.0), (16.0, 16.0))
    assert read_arrhenius(table=TimeTable("working", BANDS), T=16.0).time == pytest.approx(30.0, rel=1e-12)
    with pytest.raises(RangeError, match="nothing is extrapolated; accepted: 8 to 25 °C"):
        read_arrhenius(table=TimeTable("working", BANDS), T=7.0)


def test_one_row_reads_but_does_not_interpolate():
    table = TimeTable("working", (TimeRow(5.0, 15.0, 20.0),))
    assert read_safe(table=table, T=9.0).time == 20.0
    with pytest.raises(RangeError, match="has one row"):
        read_arrhenius(table=table, T=15.0)


@given(st.floats(5.0, 30.0))
def test_the_safe_reading_is_never_bolder_than_the_interpolation(T):
    working, curing = TimeTable("working", POINTS), TimeTable("curing", POINTS)
    assert read_safe(table=working, T=T).time <= read_arrhenius(table=working, T=T).time * (1 + 1e-12)
    assert read_safe(table=curing, T=T).time >= read_arrhenius(table=curing, T=T).time * (1 - 1e-12)


@pytest.mark.parametrize(("warm", "flagged"), [(42.0, False), (59.0, True), (60.0, True), (20.0, True)])
def test_an_implausible_pair_of_rows_is_flagged(warm, flagged):
    table = TimeTable("working", (TimeRow(5.0, 5.0, 60.0), TimeRow(10.0, 10.0, warm)))
    sentences = implausible_rows(table=table)
    assert bool(sentences) is flagged
    assert read_arrhenius(table=table, T=7.0).notices == sentences
    for sentence in sentences:
        assert "between 5 °C and 10 °C" in sentence
        assert "kJ/mol, outside 35 to 100" in sentence


def row(low, high, time):
    return TimeRow(float(low), float(high), float(time))


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ((), "has no row"),
        ((row(5, 5, 40), row(10, 10, 41)), "from 40 to 41 min: the time grows"),
        ((row(10, 10, 40), row(5, 5, 50)), "out of order"),
        ((row(5, 5, 40), row(5, 5, 40)), "at the same temperature"),
        ((row(0, 10, 40), row(9, 20, 30)), "(0 to 10 °C, 9 to 20 °C) overlap"),
        ((row(0, 9, 40), row(10, 20, 30)), "(0 to 9 °C, 10 to 20 °C) leave a gap"),
        ((row(0, 9, 40), row(0, 12, 30)), "overlap"),
        ((row(0, 9, 40), row(9, 9, 30)), "mixes rows"),
        ((row(9, 0, 40),), "from below to"),
        ((row(5, 5, 0),), "no time above zero"),
        ((row(5, 5, math.nan),), "no time above zero"),
        ((row(math.nan, 5, 40),), "accepted: finite"),
    ],
)
def test_unusable_tables(rows, words):
    with pytest.raises(TableError) as caught:
        TimeTable("curing", rows)
    assert str(caught.value).startswith("curing times: ")
    assert words in str(caught.value)
    assert "accepted" in str(caught.value)


def test_wet_concrete_takes_its_factor_longer():
    reading = read_safe(table=TimeTable("curing", POINTS), T=12.0)
    wet = reading.in_wet(2.5)
    assert (wet.time, wet.how()) == (105.0, reading.how() + ", times 2.5 for wet concrete")
    assert reading.in_wet(1.0) == reading
