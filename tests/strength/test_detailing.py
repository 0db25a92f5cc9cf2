"""Covers, spacing, ribs, oversize, thickness and existing steel.

Worked by hand and by trigonometry of other triangles.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.base.display import Display
from calc.base.sheet import Check
from calc.base.units import convert, parse_quantity
from calc.strength import detailing as d
from calc.strength import en1992_2023 as en23
from calc.strength.detailing import Oversize

EN04, EN23, ACI = "EN 1992-1-1:2004", "EN 1992-1-1:2023", "ACI 318-19"


def judged(check: Check, demand: float, resistance: float, passes: bool) -> None:
    # Half of the fifth decimal, to which the values were worked.
    assert (check.demand, check.resistance) == pytest.approx((demand, resistance), abs=5e-6)
    assert check.passes is passes
    # What fails says what to do; what passes has nothing to say.
    assert bool(check.advice) is not passes


# --- cover by drilling method ---


@pytest.mark.parametrize(
    ("phi", "l_v", "drilling", "aid", "need"),
    [
        (20, 200, "rotary", False, 42),  # 30 + 0.06·200, by hand
        (20, 200, "rotary", True, 40),  # 30 + 0.02·200 = 34, under two diameters
        (12, 500, "rotary", True, 40),
        (25, 500, "rotary", False, 70),
        (16, 400, "air", False, 82),
        (32, 400, "air", True, 68),
    ],
)
def test_drilled_cover_by_hand(phi: float, l_v: float, drilling: str, aid: bool, need: float) -> None:
    for code in (EN04, EN23):
        common = {"name": "c", "code": code, "phi": phi, "l_v": l_v, "drilling": drilling, "aid": aid}
        judged(d.drilled_cover_check(c=need + 1, **common), need, need + 1, True)
        judged(d.drilled_cover_check(c=need - 1, **common), need, need - 1, False)
        assert f"{need} mm" in d.drilled_cover_check(c=need - 1, **common).advice


def test_drilled_cover_names_its_standing_and_keeps_its_formula() -> None:
    check = d.drilled_cover_check(name="c", code=EN04, c=50, phi=20, l_v=200, drilling="rotary", aid=False)
    assert "from memory" in check.title
    assert d.cover_need_chain(code=EN04, phi=20, l_v=200, drilling="rotary", aid=False).choices == (
        "drilled_cover_2004",
    )
    assert d.cover_need_chain(code=EN23, phi=20, l_v=200, drilling="rotary", aid=False).choices == ("drilled_cover",)


def test_2023_cover_uses_its_design_length_when_it_is_known() -> None:
    chain = d.cover_need_chain(code=EN23, phi=20, l_v=500, drilling="rotary", aid=False, l_bd_pi=300)
    assert chain.value == en23.minimum_cover(phi=20, l_bd_pi=300, drilling="rotary", aid=False) == 48


# --- the drill's drift ---


def test_drift_is_the_leg_of_a_triangle() -> None:
    # sin/cos instead of tan; 500 mm at 5° drift 43.74 mm, at 6° 52.55 mm.
    for beta in (5.0, 6.0):
        angle = math.radians(beta)
        assert d.drift(l_v=500.0, beta=beta) == pytest.approx(500 * math.sin(angle) / math.cos(angle), rel=1e-12)
    assert d.drift(l_v=500.0, beta=5.0) == pytest.approx(43.7443, abs=5e-5)
    assert d.drift(l_v=500.0, beta=6.0) == pytest.approx(52.5521, abs=5e-5)


def test_end_cover_by_hand() -> None:
    common = {"name": "e", "l_v": 500.0, "c_least": 20.0, "source": "specification"}
    judged(d.end_cover_check(c=70, beta=5, **common), 20, 26.25567, True)
    judged(d.end_cover_check(c=70, beta=6, **common), 20, 17.44788, False)
    assert "73 mm" in d.end_cover_check(c=70, beta=6, **common).advice
    out = d.end_cover_check(c=50, beta=6, **common)
    assert out.utilisation is None
    assert out.reason == "the resistance is zero or negative"
    assert not out.passes


@given(st.floats(20, 200), st.floats(50, 1000), st.floats(1.01, 2), st.floats(0, 14))
def test_deeper_and_more_leaning_leave_less(c: float, l_v: float, factor: float, beta: float) -> None:
    def left(depth: float, lean: float) -> float:
        return d.end_cover_check(name="e", c=c, l_v=depth, beta=lean, c_least=20, source="x").resistance

    assert left(l_v * factor, beta) <= left(l_v, beta) <= c
    assert left(l_v, beta + 1) < left(l_v, beta)
    # US and metric: the same hole in inches.
    assert convert(
        d.end_cover_check(
            name="e", c=convert(c, "mm", "in"), l_v=convert(l_v, "mm", "in"), beta=beta, c_least=1, source="x"
        ).resistance,
        "in",
        "mm",
    ) == (pytest.approx(left(l_v, beta), rel=1e-9, abs=1e-9))


# --- spacing ---


@pytest.mark.parametrize(
    ("phi", "s", "need", "clear", "passes"),
    [(8, 48, 40, 40, True), (8, 47, 40, 39, False), (16, 80, 64, 64, True), (16, 79, 64, 63, False)],
)
def test_spacing_by_hand(phi: float, s: float, need: float, clear: float, passes: bool) -> None:
    check = d.spacing_check(name="s", s=s, phi=phi, d_0=phi + 4)
    judged(check, need, clear, passes)
    assert "from memory" in check.title


def test_holes_that_meet_at_depth() -> None:
    # 600 mm at 5°: 52.493 mm each way; 130 mm between centres leave 25.01 mm for two half holes of 20 mm.
    common = {"name": "s", "phi": 16, "d_0": 20, "l_v": 600.0, "beta": 5.0}
    judged(d.end_spacing_check(s=130, **common), 20, 130 - 2 * 52.49319813, True)
    judged(d.end_spacing_check(s=120, **common), 20, 120 - 2 * 52.49319813, False)
    assert "125 mm" in d.end_spacing_check(s=120, **common).advice


# --- bar and hole ---


@pytest.mark.parametrize(
    ("bar", "hole", "preset", "demand", "resistance", "passes"),
    [
        # #4 in 5/8 in is 1/8 in over, exactly at the limit of UFC: the binary rest of 15.875 − 12.7 must not fail it.
        ("1/2 in", "5/8 in", "UFC 3-270-04, resin", 3.175, 3.175, True),
        ("5/8 in", "3/4 in", "UFC 3-270-04, resin", 3.175, 3.175, True),
        ("5/8 in", "7/8 in", "UFC 3-270-04, resin", 6.35, 3.175, False),
        ("5/8 in", "3/4 in", "Ohio DOT 510, resin", 1.5875, 3.175, True),
        ("1 in", "1.05 in", "Ohio DOT 510, resin", 1.5875, 1.27, False),
        ("5/8 in", "1-1/8 in", "Ohio DOT 510, cement grout", 12.7, 12.7, True),
        ("5/8 in", "1 in", "Ohio DOT 510, cement grout", 12.7, 9.525, False),
    ],
)
def test_oversize_presets(bar: str, hole: str, preset: str, demand: float, resistance: float, passes: bool) -> None:
    phi, d_0 = (parse_quantity(t, "mm").to("mm") for t in (bar, hole))
    check = d.oversize_check(name="o", d_0=d_0, phi=phi, limit=d.OVERSIZE[preset])
    judged(check, demand, resistance, passes)
    assert preset.split(",")[0] in check.title


def test_oversize_of_the_users_own() -> None:
    limit = Oversize("most", 4.0, "specification of the job, p. 3")
    judged(d.oversize_check(name="o", d_0=20, phi=16, limit=limit), 4, 4, True)
    judged(d.oversize_check(name="o", d_0=20.1, phi=16, limit=limit), 4.1, 4, False)
    assert (
        d.oversize_check(name="o", d_0=20, phi=16, limit=limit).title
        == "Oversize of the hole (specification of the job, p. 3)"
    )


# --- thickness, edges, corner ---


def test_thickness_by_hand() -> None:
    # 200 + 10 + tip of a 130° point: 10/tan 65° = 4.6631 mm; 30 mm stated, or two hole diameters = 40 mm.
    hole = {"l_v": 200.0, "d_0": 20.0, "overdrill": 10.0, "theta": 130.0}
    judged(d.thickness_check(name="t", thickness=250, remainder=30.0, **hole), 244.6630766, 250, True)
    judged(d.thickness_check(name="t", thickness=250, **hole), 254.6630766, 250, False)
    assert "common practice, no source" in d.thickness_check(name="t", thickness=250, **hole).title
    assert "only 35 mm stay" in d.thickness_check(name="t", thickness=250, **hole).advice
    assert "comes out at the back" in d.thickness_check(name="t", thickness=210, **hole).advice
    # 30 mm is the least for thin holes.
    assert d.thickness_chain(l_v=100, d_0=12).value == 130
    assert d.thickness_chain(l_v=100, d_0=12).choices == (
        "tip_depth",
        "depth_to_tip",
        "usual_remainder",
        "needed_thickness",
    )
    assert d.thickness_chain(l_v=100, d_0=12, remainder=50).value == 150
    steps = d.thickness_chain(l_v=100, d_0=12).steps
    assert [s.value for s in steps] == [0, 100, 30, 130]


def test_corner() -> None:
    assert d.corner_notice(c_x=60, c_y=59, phi=16) is None
    assert d.corner_notice(c_x=59, c_y=300, phi=16) is None
    said = d.corner_notice(c_x=59, c_y=40, phi=16)
    assert said is not None
    assert "59 mm and 40 mm" in said
    assert "common practice, no source" in said
    inches = d.corner_notice(c_x=50.8, c_y=38.1, phi=15.875, display=Display("us"))
    assert inches is not None
    assert "2 in and 1-1/2 in, under" in inches
    assert " mm" not in inches


# --- existing steel, anchors ---


def test_existing_steel() -> None:
    judged(d.existing_gap_check(name="g", d_0=20, phi_ex=10, s_ex=150), 20, 140, True)
    judged(d.existing_gap_check(name="g", d_0=20, phi_ex=16, s_ex=35), 20, 19, False)
    # (20 + 10)/150: one blind hole in five.
    through, share = d.existing_steel_notice(c_ex=30, phi_ex=10, s_ex=150, d_0=20, l_tot=200)
    assert share == 20
    assert "{share} in 100" in through
    assert "before drilling" in through
    short_of_it, none = d.existing_steel_notice(c_ex=230, phi_ex=10, s_ex=150, d_0=20, l_tot=200)
    assert none is None
    assert "end 30 mm in front" in short_of_it
    assert "before drilling" in short_of_it


def test_blind_hits_by_counting_positions() -> None:
    # A hole's axis at each tenth of a millimetre of one spacing: it touches the bar when nearer than both radii
    # together.
    hits = sum(1 for i in range(1500) if abs((i + 0.5) / 10 - 75) < 15)
    assert d.blind_hit_share(d_0=20.0, phi_ex=10.0, s_ex=150.0) == hits / 1500
    assert d.blind_hit_share(d_0=50.0, phi_ex=20.0, s_ex=60.0) == 1


@pytest.mark.parametrize(
    ("code", "standard"),
    [(EN04, "EN 1992-4"), (EN23, "EN 1992-4"), (ACI, "ACI 318-19, chapter 17 (called for by 17.1.6)")],
)
@pytest.mark.parametrize("lapped", [True, False])
def test_a_short_bar_is_an_anchor_too(code: str, standard: str, lapped: bool) -> None:
    said = d.anchor_notice(code=code, lapped=lapped)
    assert standard in said
    assert "breakout" in said
    assert "owed" in said
    assert said.startswith("A lapped bar" if lapped else "A short bar is an anchor too")


# --- what is refused ---

NAN = math.nan
COVER = {"name": "c", "code": EN04, "c": 50.0, "phi": 20.0, "l_v": 200.0, "drilling": "rotary", "aid": False}
END = {"name": "e", "c": 50.0, "l_v": 200.0, "beta": 5.0, "c_least": 20.0, "source": "x"}
SPACE = {"name": "s", "s": 100.0, "phi": 16.0, "d_0": 20.0}
THICK = {"name": "t", "thickness": 300.0, "l_v": 200.0, "d_0": 20.0}


@pytest.mark.parametrize(
    ("function", "good", "bad", "message"),
    [
        (d.drilled_cover_check, COVER, {"c": 0.0}, "is no cover"),
        (d.drilled_cover_check, COVER, {"c": -5.0}, "is no cover"),
        (d.drilled_cover_check, COVER, {"c": NAN}, "is no cover"),
        (d.drilled_cover_check, COVER, {"code": ACI}, "no rule that ties"),
        (d.drilled_cover_check, COVER, {"code": "EC2"}, "code is 'EC2'"),
        (d.drilled_cover_check, COVER, {"drilling": "laser"}, "drilling is 'laser'"),
        (d.drilled_cover_check, COVER, {"aid": None}, "aid must be stated"),
        (d.drilled_cover_check, COVER, {"l_v": NAN}, "l_v"),
        (d.drilled_cover_check, COVER, {"phi": 0.0}, "phi"),
        (d.end_cover_check, END, {"c": 0.0}, "is no cover"),
        (d.end_cover_check, END, {"beta": 31.0}, "beta"),
        (d.end_cover_check, END, {"beta": NAN}, "beta"),
        (d.end_cover_check, END, {"c_least": 0.0}, "c_least"),
        (d.spacing_check, SPACE, {"s": 16.0}, "touch or overlap"),
        (d.spacing_check, SPACE, {"s": 20.0}, "run into one another"),
        (d.spacing_check, SPACE, {"s": NAN}, "s = nan"),
        (d.end_spacing_check, {**SPACE, "l_v": 200.0, "beta": 5.0}, {"s": 19.0}, "run into one another"),
        (
            d.oversize_check,
            {"name": "o", "d_0": 20.0, "phi": 16.0, "limit": Oversize("most", 4, "x")},
            {"phi": 20.0},
            "smaller",
        ),
        (
            d.oversize_check,
            {"name": "o", "d_0": 20.0, "phi": 16.0, "limit": Oversize("most", 4, "x")},
            {"limit": Oversize("most", 0, "x")},
            "limit",
        ),
        (
            d.oversize_check,
            {"name": "o", "d_0": 20.0, "phi": 16.0, "limit": Oversize("most", 4, "x")},
            {"limit": Oversize("some", 4, "x")},
            "'some'",
        ),
        (d.thickness_check, THICK, {"thickness": 0.0}, "thickness"),
        (d.thickness_check, THICK, {"remainder": -1.0}, "remainder"),
        (d.thickness_check, THICK, {"overdrill": -1.0}, "overdrill"),
        (d.thickness_check, THICK, {"theta": 200.0}, "theta"),
        (d.corner_notice, {"c_x": 50.0, "c_y": 50.0, "phi": 16.0}, {"c_y": 0.0}, "c_y = 0 mm is no cover"),
        (
            d.existing_gap_check,
            {"name": "g", "d_0": 20.0, "phi_ex": 10.0, "s_ex": 150.0},
            {"s_ex": 10.0},
            "existing bars",
        ),
        (
            d.existing_steel_notice,
            {"c_ex": 30.0, "phi_ex": 10.0, "s_ex": 150.0, "d_0": 20.0, "l_tot": 200.0},
            {"c_ex": 0.0},
            "c_ex",
        ),
        (
            d.existing_steel_notice,
            {"c_ex": 30.0, "phi_ex": 10.0, "s_ex": 150.0, "d_0": 20.0, "l_tot": 200.0},
            {"s_ex": 9.0},
            "existing bars",
        ),
        (d.anchor_notice, {"code": ACI, "lapped": True}, {"code": "EC2"}, "code is 'EC2'"),
    ],
)
def test_refuses(function, good: dict, bad: dict, message: str) -> None:
    function(**good)
    with pytest.raises(ValueError, match=message):
        function(**{**good, **bad})


def test_a_drilling_aid_takes_the_place_of_the_lean_towards_a_face():
    given = {"name": "cover", "c": 40.0, "l_v": 300.0, "beta": 6.0, "c_least": 16.0, "source": "for tests"}
    by_hand, guided = d.end_cover_check(**given), d.end_cover_check(**given, aid=True)
    assert by_hand.resistance == pytest.approx(40.0 - 300.0 * math.tan(math.radians(6.0)))
    assert guided.resistance == pytest.approx(40.0 - 0.02 * 300.0)  # EN 1992-1-1:2023, Table 11.2
    assert "with an aid" in by_hand.advice
    assert guided.passes
