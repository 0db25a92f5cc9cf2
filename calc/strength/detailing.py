"""Whether the bar and its hole fit into the concrete.

Covers and spacing with the drill's drift, ribs, oversize, thickness, steel.

Each check is plain geometry against a figure that a code, an approval or a specification gives; where the figure is
from memory or only the custom of the trade, its text says so. The texts of the standards were not at hand. Lengths in
mm, angles in degrees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from calc.base.collector import Steps
from calc.base.display import METRIC, Display
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import max, min, tan
from calc.base.sheet import Check
from calc.base.units import Degree, Mm, Ratio
from calc.fill.hole import tip_depth
from calc.strength.codes import check_code
from calc.strength.en1992_2004 import EAD, minimum_clear_spacing
from calc.strength.en1992_2023 import TABLE_11_2, WITH_AID, Drilling, cover_chain

GEOMETRY = "geometry"
PRACTICE = "common practice, no source"

# How far a drilled hole may lean, and who says so. About 95 % of measured downward holes met 5° (CivilEng 2020, 1(3),
# 253).
LEAN_LIMITS: dict[str, tuple[float, str]] = {
    "EOTA": (5.0, "EOTA, 5° from the perpendicular (as cited in CivilEng 2020, 1(3), 253)"),
    "ACI 355.2": (6.0, "ACI 355.2, 6° from the perpendicular (as cited in CivilEng 2020, 1(3), 253)"),
}

_PHI = (5.0, 60.0)
_LENGTH = (0.0, 1e5)
_DIAMETER = (1.0, 1e3)
_LEAN = (0.0, 30.0)


@dataclass(frozen=True)
class Oversize:
    """How much larger than the bar a hole has to be, at least or at most [mm], and who says so."""

    sense: Literal["least", "most"]
    limit: float
    source: str


OVERSIZE: dict[str, Oversize] = {
    "UFC 3-270-04, resin": Oversize(
        "most", 3.175, "US DoD UFC 3-270-04: hole at most 1/8 in larger than the bar (resin)"
    ),
    "Ohio DOT 510, cement grout": Oversize(
        "least", 12.7, "Ohio DOT 510: hole at least 1/2 in larger than the bar (cement grout)"
    ),
    "Ohio DOT 510, resin": Oversize("least", 1.5875, "Ohio DOT 510: hole at least 1/16 in larger than the bar (resin)"),
}


# --- formulas --------------------------------------------------------------------------------------------------------


@formula(symbol="delta_dr", source=GEOMETRY, limits={"l_v": _LENGTH, "beta": _LEAN})
def drift(*, l_v: Mm, beta: Degree) -> Mm:
    """How far a leaning hole has drifted at the bar's end: it grows with the depth."""
    return l_v * tan(beta)


@formula(
    symbol="delta_dr",
    source="EN 1992-1-1:2023, Table 11.2, with a drilling aid (read in a draft of the fib library)",
    limits={"l_v": _LENGTH, "k_drift": (0.0, 0.1)},
)
def drift_with_aid(*, l_v: Mm, k_drift: Ratio) -> Mm:
    """How far a hole that a drilling aid guides has drifted at the bar's end."""
    return k_drift * l_v


@formula(symbol="c_end", source=GEOMETRY, limits={"c": _LENGTH, "delta_dr": _LENGTH})
def cover_at_end(*, c: Mm, delta_dr: Mm) -> Mm:
    """Cover that is left at the bar's end when the hole leans towards the face; negative where it comes out."""
    return c - delta_dr


@formula(symbol="s_end", source=GEOMETRY, limits={"s": _LENGTH, "delta_dr": _LENGTH})
def axes_at_end(*, s: Mm, delta_dr: Mm) -> Mm:
    """Distance of two holes' axes at their ends if both lean towards each other; negative where they cross."""
    return s - 2 * delta_dr


@formula(
    symbol="c_min_b",
    source=f"{EAD}; the same figures stand in EN 1992-1-1:2023, Table 11.2",
    limits={"c_base": (30.0, 60.0), "k_drift": (0.02, 0.08), "l_v": _LENGTH, "phi": _PHI},
)
def drilled_cover_2004(*, c_base: Mm, k_drift: Ratio, l_v: Mm, phi: Mm) -> Mm:
    """Cover that a post-installed bar needs beside EN 1992-1-1:2004, at least two diameters (from memory)."""
    return max(c_base + k_drift * l_v, 2 * phi)


@formula(symbol="a", source=GEOMETRY, limits={"s": _LENGTH, "phi": _PHI})
def clear_distance(*, s: Mm, phi: Mm) -> Mm:
    """Clear distance between two bars."""
    return s - phi


@formula(symbol="d_over", source=GEOMETRY, limits={"d_0": _DIAMETER, "phi": _DIAMETER}, relations=("phi < d_0",))
def oversize(*, d_0: Mm, phi: Mm) -> Mm:
    """How much larger than the bar the hole is."""
    return d_0 - phi


@formula(symbol="l_tot", source=GEOMETRY, limits={"l_v": _LENGTH, "overdrill": _LENGTH, "h_t": _LENGTH})
def depth_to_tip(*, l_v: Mm, overdrill: Mm, h_t: Mm) -> Mm:
    """Depth of the hole down to its tip."""
    return l_v + overdrill + h_t


@formula(symbol="h_rem", source=PRACTICE, limits={"d_0": _DIAMETER}, homogeneous=False)
def usual_remainder(*, d_0: Mm) -> Mm:
    """Concrete left behind a hole so that it does not spall out.

    Two hole diameters, 30 mm at least (common practice, no source).
    """
    return max(2 * d_0, 30)


@formula(symbol="h_req", source=GEOMETRY, limits={"l_tot": _LENGTH, "h_rem": _LENGTH})
def needed_thickness(*, l_tot: Mm, h_rem: Mm) -> Mm:
    """Thickness that the member needs for the hole and what has to stay behind it."""
    return l_tot + h_rem


@formula(symbol="p_hit", source=GEOMETRY, limits={"d_0": _DIAMETER, "phi_ex": _PHI, "s_ex": (1.0, 1e4)})
def blind_hit_share(*, d_0: Mm, phi_ex: Mm, s_ex: Mm) -> Ratio:
    """Share of blind positions at which a hole meets one layer of parallel bars.

    Examples
    --------
    >>> blind_hit_share(d_0=20.0, phi_ex=10.0, s_ex=150.0)
    0.2
    """
    return min(1.0, (d_0 + phi_ex) / s_ex)


# --- what is refused -------------------------------------------------------------------------------------------------


def _positive(**lengths: float) -> None:
    for name, value in lengths.items():
        if not (math.isfinite(value) and value > 0):
            raise NotAccepted(f"{name} = {value:g} mm must be a length above 0")


def _not_negative(**lengths: float) -> None:
    for name, value in lengths.items():
        if not (math.isfinite(value) and value >= 0):
            raise NotAccepted(f"{name} = {value:g} mm must be a length that is not negative")


def _cover(c: float, name: str = "c") -> None:
    if not (math.isfinite(c) and c > 0):
        raise NotAccepted(
            f"{name} = {c:g} mm is no cover: the bar would lie outside the concrete or on its face; accepted is a clear"
            " cover above 0"
        )


def _spacing(s: float, phi: float, d_0: float | None = None) -> None:
    _positive(s=s, phi=phi)
    if s <= phi:
        raise NotAccepted(f"s = {s:g} mm between centres cannot be: the bars of {phi:g} mm would touch or overlap")
    if d_0 is not None and s <= d_0:
        raise NotAccepted(f"s = {s:g} mm between centres cannot be: the holes of {d_0:g} mm would run into one another")


# --- checks ----------------------------------------------------------------------------------------------------------


def cover_need_chain(
    *, code: str, phi: float, l_v: float, drilling: Drilling, aid: bool, l_bd_pi: float | None = None
) -> Steps:
    """Run the formula of the cover that drilling needs, for an EN code, and keep it.

    Parameters
    ----------
    code
        ``"EN 1992-1-1:2004"`` or ``"EN 1992-1-1:2023"``; ACI 318-19 has no such rule, `end_cover_check` serves there.
    phi, l_v
        Bar diameter, embedment [mm].
    drilling
        ``"rotary"`` for rotary percussion or diamond drilling, ``"air"`` for compressed air.
    aid
        True when a drilling aid guides the drill; it must be stated.
    l_bd_pi
        Design anchorage length, which the 2023 edition uses [mm]; the embedment, never shorter, when it is not given.

    Returns
    -------
    Steps
        Its value is c_min,b [mm].

    Raises
    ------
    NotAccepted
        Another code, an unknown drilling method, or a value outside its range.
    """
    check_code(code)
    _positive(phi=phi, l_v=l_v)
    if code == "ACI 318-19":
        raise NotAccepted(
            "ACI 318-19 has no rule that ties the cover to the drilling method; check the cover at the bar's end by"
            " geometry instead"
        )
    if code == "EN 1992-1-1:2023":
        return cover_chain(phi=phi, l_bd_pi=l_v if l_bd_pi is None else l_bd_pi, drilling=drilling, aid=aid)
    # The same table, remembered from the EOTA document; it refuses what is not in it.
    like = cover_chain(phi=phi, l_bd_pi=l_v, drilling=drilling, aid=aid)
    thin, thick, growth = TABLE_11_2[drilling]
    chain = Steps(phi=phi, l_v=l_v)
    row = f"{EAD}: {'compressed air' if drilling == 'air' else 'rotary percussion or diamond drilling'}"
    chain.choose(
        "c_base", thick if phi >= 25 else thin, f"{row}, bar {'of 25 mm or more' if phi >= 25 else 'below 25 mm'}"
    )
    chain.choose("k_drift", WITH_AID if aid else growth, f"{row}, {'with' if aid else 'without'} a drilling aid")
    chain.use(drilled_cover_2004, "minimum cover for the drilling method")
    chain.notices += like.notices
    return chain


def drilled_cover_check(
    *, name: str, code: str, c: float, phi: float, l_v: float, drilling: Drilling, aid: bool,
    l_bd_pi: float | None = None, display: Display = METRIC
) -> Check:  # fmt: skip
    """Judge a cover against what the drilling method needs at this depth.

    Parameters
    ----------
    name
        Stable name of the check.
    code, phi, l_v, drilling, aid, l_bd_pi
        As for `cover_need_chain`.
    c
        Clear cover of the bar at the mouth of the hole [mm].
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    Check

    Raises
    ------
    NotAccepted
        A cover that cannot be, or as for `cover_need_chain`.
    """
    _cover(c)
    need = cover_need_chain(code=code, phi=phi, l_v=l_v, drilling=drilling, aid=aid, l_bd_pi=l_bd_pi).value
    help_ = "" if aid else " or guide the drill with an aid"
    source = f"{EAD}" if code == "EN 1992-1-1:2004" else f"{code}, Table 11.2"
    return Check.compare(
        name=name,
        title=f"Cover for the drilling method and depth ({source})",
        demand=need,
        resistance=c,
        unit="mm",
        advice=(
            f"move the bar in until its cover is {display.at_least(need)}{help_}: a hole drifts more the deeper it gets"
        ),
    )


def end_cover_check(
    *, name: str, c: float, l_v: float, beta: float, c_least: float, source: str, face: str = "face",
    aid: bool = False, display: Display = METRIC
) -> Check:  # fmt: skip
    """Judge the cover that is left at the bar's end when the hole leans by an angle towards the face.

    Parameters
    ----------
    name
        Stable name of the check.
    c
        Clear cover at the mouth [mm].
    l_v
        Embedment [mm].
    beta
        How far the hole may lean [°]: 5 by EOTA, 6 by ACI 355.2 (`LEAN_LIMITS`), or what was measured.
    c_least
        Cover that has to be left [mm], such as the one for durability.
    source
        Who asks for that cover.
    face
        Name of the face.
    aid
        True when a drilling aid guides the drill; then its own figure takes the place of the lean.
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    Check

    Raises
    ------
    NotAccepted
        A cover that cannot be, or a value outside its range.
    """
    _cover(c)
    _positive(c_least=c_least)
    moved = drift_with_aid(l_v=l_v, k_drift=WITH_AID) if aid else drift(l_v=l_v, beta=beta)
    leaning = "hole guided by a drilling aid" if aid else f"hole leaning {beta:g}°"
    return Check.compare(
        name=name,
        title=f"Cover left at the bar's end, {face}, {leaning} ({source})",
        demand=c_least,
        resistance=cover_at_end(c=c, delta_dr=moved),
        unit="mm",
        advice=(
            f"the hole may drift {display.about(moved)} towards the {face}: start with a cover of "
            f"{display.at_least(c_least + moved)}{'' if aid else ' or guide the drill with an aid'}"
        ),
    )


def spacing_check(*, name: str, s: float, phi: float, d_0: float, display: Display = METRIC) -> Check:
    """Judge the clear distance between post-installed bars: at least 40 mm and four diameters (from memory).

    Parameters
    ----------
    name
        Stable name of the check.
    s
        Centre spacing [mm].
    phi, d_0
        Bar diameter, hole diameter [mm].
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    Check

    Raises
    ------
    NotAccepted
        Bars or holes that would overlap, or a value outside its range.
    """
    _spacing(s, phi, d_0)
    need, clear = minimum_clear_spacing(phi=phi), clear_distance(s=s, phi=phi)
    advice = f"space the bars at {display.at_least(need + phi)} between centres, or take fewer and thicker ones"
    return Check.compare(
        name=name, title=f"Clear distance between bars ({EAD})", demand=need, resistance=clear, unit="mm", advice=advice
    )


def end_spacing_check(
    *,
    name: str,
    s: float,
    phi: float,
    d_0: float,
    l_v: float,
    beta: float,
    aid: bool = False,
    display: Display = METRIC,
) -> Check:
    """Judge whether two neighbouring holes can meet at depth when both drift towards each other.

    Parameters
    ----------
    name
        Stable name of the check.
    s
        Centre spacing at the mouth [mm].
    phi, d_0
        Bar diameter, hole diameter [mm].
    l_v
        Embedment [mm].
    beta
        How far each hole may lean [°] when it is drilled by hand.
    aid
        True when a drilling aid guides the drill; then its own figure takes the place of the lean.
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    Check

    Raises
    ------
    NotAccepted
        Bars or holes that would overlap, or a value outside its range.
    """
    _spacing(s, phi, d_0)
    moved = drift_with_aid(l_v=l_v, k_drift=WITH_AID) if aid else drift(l_v=l_v, beta=beta)
    how = f"drift {WITH_AID:g} of their depth, with a drilling aid," if aid else f"lean {beta:g}°"
    help_ = "" if aid else "guide the drill, or "
    return Check.compare(
        name=name,
        title=f"Holes that {how} towards each other do not meet (geometry)",
        demand=d_0,
        resistance=axes_at_end(s=s, delta_dr=moved),
        unit="mm",
        advice=(
            f"each hole may drift {display.about(moved)}: {help_}space the bars at {display.at_least(d_0 + 2 * moved)}"
            " between centres"
        ),
    )


def oversize_check(*, name: str, d_0: float, phi: float, limit: Oversize, display: Display = METRIC) -> Check:
    """Judge how much larger than the bar the hole is, against what the approval or a specification asks for.

    Parameters
    ----------
    name
        Stable name of the check.
    d_0, phi
        Hole diameter, bar diameter [mm].
    limit
        The user's own figure with its source, or one of `OVERSIZE`.
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    Check

    Raises
    ------
    NotAccepted
        A limit that is not above 0, or a bar that is not smaller than the hole.
    """
    _positive(limit=limit.limit)
    if limit.sense not in ("least", "most"):
        raise NotAccepted(f"the sense of an oversize limit is '{limit.sense}'; accepted are least and most")
    # Sizes in inches are no round binary numbers: 3/4 in less 5/8 in is 1/8 in, to a millionth of a micrometre.
    found, asked = (round(value, 9) for value in (oversize(d_0=d_0, phi=phi), limit.limit))
    demand, resistance = (found, asked) if limit.sense == "most" else (asked, found)
    word = "smaller" if limit.sense == "most" else "larger"
    advice = (
        f"the hole is {display.plain(found, 'mm', 3)} larger than the bar: take a {word} bit, "
        "or a bar and hole that the specification pairs"
    )
    return Check.compare(
        name=name,
        title=f"Oversize of the hole ({limit.source})",
        demand=demand,
        resistance=resistance,
        unit="mm",
        advice=advice,
    )


def thickness_chain(
    *, l_v: float, d_0: float, overdrill: float = 0.0, theta: float = 180.0, remainder: float | None = None
) -> Steps:
    """Run the formulas from the hole to the thickness that the member needs and keep them.

    Parameters
    ----------
    l_v, d_0
        Embedment, hole diameter [mm].
    overdrill
        Full-diameter hole beyond the bar's end [mm].
    theta
        Included point angle of the tip [°]; 180 is a flat bottom.
    remainder
        Concrete that has to stay behind the hole [mm]; None takes two hole diameters, 30 mm at least (common practice,
        no source).

    Returns
    -------
    Steps
        Its value is h_req [mm].

    Raises
    ------
    NotAccepted
        A value outside its range.
    """
    _positive(l_v=l_v, d_0=d_0)
    chain = Steps(l_v=l_v, overdrill=overdrill, d_0=d_0, theta=theta)
    chain.use(tip_depth, "height of the tip cone")
    chain.use(depth_to_tip, "depth of the hole down to its tip")
    if remainder is None:
        chain.use(usual_remainder, "concrete behind the hole, common practice")
    else:
        _not_negative(remainder=remainder)
        chain.ask("h_rem", remainder)
    chain.use(needed_thickness, "thickness that the member needs")
    return chain


def thickness_check(
    *, name: str, thickness: float, l_v: float, d_0: float, overdrill: float = 0.0, theta: float = 180.0,
    remainder: float | None = None, display: Display = METRIC
) -> Check:  # fmt: skip
    """Judge whether the member is thick enough for the hole and what has to stay behind it.

    Parameters
    ----------
    name
        Stable name of the check.
    thickness
        Thickness of the member in the direction of the hole [mm].
    l_v, d_0, overdrill, theta, remainder
        As for `thickness_chain`.
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    Check

    Raises
    ------
    NotAccepted
        A value outside its range.
    """
    _positive(thickness=thickness)
    chain = thickness_chain(l_v=l_v, d_0=d_0, overdrill=overdrill, theta=theta, remainder=remainder)
    through = chain.known["l_tot"] >= thickness
    source = PRACTICE if remainder is None else "remainder stated"
    left = display.about(thickness - chain.known["l_tot"])
    advice = "the drill comes out at the back: " if through else f"only {left} stay behind the hole: "
    advice += (
        f"the member needs {display.at_least(chain.value)}, or a shorter bar of smaller diameter at closer spacing"
    )
    return Check.compare(
        name=name,
        title=f"Member thickness behind the hole ({source})",
        demand=chain.value,
        resistance=thickness,
        unit="mm",
        advice=advice,
    )


# --- notices ---------------------------------------------------------------------------------------------------------


def corner_notice(*, c_x: float, c_y: float, phi: float, display: Display = METRIC) -> str | None:
    """Say what a corner asks for; None away from it.

    Parameters
    ----------
    c_x, c_y
        Clear cover to one face and to the other [mm].
    phi
        Bar diameter [mm].
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    str or None
        A sentence when both covers are under 3.75 diameters, beyond which EN 1992-1-1:2023 counts on no more cover.

    Raises
    ------
    NotAccepted
        A cover that cannot be.
    """
    _cover(c_x, "c_x")
    _cover(c_y, "c_y")
    _positive(phi=phi)
    if c_x >= 3.75 * phi or c_y >= 3.75 * phi:
        return None
    return (
        f"Corner: both faces are near ({display.size(c_x)} and {display.size(c_y)}, under 3.75 bar diameters), so the"
        " concrete can split off in two directions. The smaller cover decides on the anchorage; drill without"
        f" hammering where you can, and tie the corner with existing or added bars ({PRACTICE})."
    )


def existing_gap_check(*, name: str, d_0: float, phi_ex: float, s_ex: float) -> Check:
    """Judge whether a hole fits between existing bars at all.

    Parameters
    ----------
    name
        Stable name of the check.
    d_0
        Hole diameter [mm].
    phi_ex, s_ex
        Diameter and centre spacing of the existing bars [mm].

    Returns
    -------
    Check

    Raises
    ------
    NotAccepted
        Existing bars that would overlap, or a length that is not above 0.
    """
    _positive(d_0=d_0)
    _existing(phi_ex, s_ex)
    advice = "shift the row, or choose a smaller bar and hole: never cut an existing bar without the engineer"
    return Check.compare(
        name=name,
        title="Hole between existing bars (geometry)",
        demand=d_0,
        resistance=s_ex - phi_ex,
        unit="mm",
        advice=advice,
    )


def _existing(phi_ex: float, s_ex: float) -> None:
    _positive(phi_ex=phi_ex, s_ex=s_ex)
    if s_ex <= phi_ex:
        raise NotAccepted(
            f"s_ex = {s_ex:g} mm between centres cannot be: existing bars of {phi_ex:g} mm would touch or overlap"
        )


def existing_steel_notice(
    *, c_ex: float, phi_ex: float, s_ex: float, d_0: float, l_tot: float, display: Display = METRIC
) -> tuple[str, int | None]:
    """Say what is to be located before drilling, and how often a hole drilled blind would meet it.

    Parameters
    ----------
    c_ex
        Clear cover of the existing bars under the drilled face [mm].
    phi_ex, s_ex
        Their diameter and centre spacing [mm].
    d_0, l_tot
        Diameter of the hole and its depth to the tip [mm].
    display
        Turns the quantities of its sentence into text.

    Returns
    -------
    str, int or None
        A sentence in which ``{share}`` stands for the holes of a hundred that would meet one, and that share.

    Raises
    ------
    NotAccepted
        Existing bars that cannot be, or a length that is not above 0.
    """
    _cover(c_ex, "c_ex")
    _positive(d_0=d_0, l_tot=l_tot)
    _existing(phi_ex, s_ex)
    if l_tot <= c_ex:
        where = f"{display.size(c_ex - l_tot)} in front of the bars stated ({display.size(c_ex)} of cover)"
        return f"Existing steel: the holes end {where}. Drawings err: locate them before drilling.", None
    share = blind_hit_share(d_0=d_0, phi_ex=phi_ex, s_ex=s_ex)
    text = (
        f"Existing steel: the holes pass a layer of {display.size(phi_ex)} bars at {display.size(s_ex)}. Drilled blind,"
        " {share} in 100 would meet one (geometry, one layer). Locate the bars and mark them before drilling; where"
        " a hole meets steel, stop, move it, and fill the abandoned hole."
    )
    return text, round(100 * share)


_MADE_HERE = "It is made here for the bars that the job file states to be anchors."


def anchor_notice(*, code: str, lapped: bool) -> str:
    """Say that a short bar is an anchor too, and by which standard that check is owed.

    Parameters
    ----------
    code
        One of `calc.strength.codes.CODES`.
    lapped
        True when the bar laps with an existing one that takes its force on.

    Returns
    -------
    str

    Raises
    ------
    NotAccepted
        Unknown code.

    Notes
    -----
    ACI's clause is from a list of facts of the trade; its text was not seen.
    """
    check_code(code)
    standard = "ACI 318-19, chapter 17 (called for by 17.1.6)" if code == "ACI 318-19" else "EN 1992-4"
    if lapped:
        return (
            "A lapped bar hands its force to the existing bar. Where that bar is missing, ends early, or the new one"
            " is set shorter than its lap, the concrete has to hold alone: then a check of concrete breakout as an"
            f" anchor is owed, by {standard}. {_MADE_HERE}"
        )
    return (
        "A short bar is an anchor too: it can pull a cone of concrete out before its bond or its steel gives way,"
        f" sooner still near an edge or in a group. A check of concrete breakout is owed, by {standard}. {_MADE_HERE}"
    )
