"""Dust of drilling: what the drilled concrete weighs, how much room it takes, and what the rules ask for.

The mass of drilled concrete says nothing about how much dust somebody breathes. Nothing here is an exposure assessment.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import ceil
from calc.base.units import Gram, KgPerM3, Mm3, Ratio, Whole

OSHA = "29 CFR 1926.1153"
UK_EU = (
    "Directive 2004/37/EC, Annex III, as amended by (EU) 2017/2398 (respirable crystalline silica); UK: EH40/2005, from"
    " memory"
)
NOT_AN_ASSESSMENT = (
    "This is no exposure assessment. The share of the drilled mass that can be breathed in is not known, so no exposure"
    " follows from it; the employer's assessment and the rules of the place govern."
)
CLOUD = (
    "Blowing a hole out with air makes the cloud that the extraction was to catch: both are shown here, and the rules"
    " of the place decide."
)

# Limits of respirable crystalline silica in the air [µg/m³].
PEL = 50.0
ACTION_LEVEL = 25.0
UK_EU_LIMIT = 100.0

Method = Literal["drill", "drill with extraction", "dowel rig"]


@formula(
    symbol="m_dust", source="definition", limits={"V_drill": (0.0, 1e15), "rho_con": (300.0, 5000.0)}, homogeneous=False
)
def drilled_mass(*, V_drill: Mm3, rho_con: KgPerM3) -> Gram:
    """Mass of the concrete that is drilled out.

    Notes
    -----
    The holes count with their tips.

    Examples
    --------
    >>> round(drilled_mass(V_drill=62831.853, rho_con=2400.0), 1)
    150.8
    """
    return V_drill * rho_con / 1000000


@formula(symbol="V_dust", source="definition", limits={"V_drill": (0.0, 1e15), "k_bulk": (1.0, 5.0)})
def bulked_volume(*, V_drill: Mm3, k_bulk: Ratio) -> Mm3:
    """Volume of the loose dust.

    Notes
    -----
    The holes count with their tips; ``k_bulk`` is the user's own figure. Volumes may be in any one unit; the result is
    in the same.

    Examples
    --------
    >>> bulked_volume(V_drill=62.0, k_bulk=1.5)
    93.0
    """
    return V_drill * k_bulk


@formula(symbol="n_bag", source="definition", limits={"V_dust": (0.0, 1e16), "V_bag": (1.0, 1e10)})
def bags(*, V_dust: Mm3, V_bag: Mm3) -> Whole:
    """Whole number of bags that the dust fills.

    Notes
    -----
    Both volumes may be in any one unit.

    Examples
    --------
    >>> bags(V_dust=12.1e6, V_bag=5e6)
    3.0
    """
    return ceil(V_dust / V_bag)


@dataclass(frozen=True)
class Control:
    """One line of the table of controls.

    Attributes
    ----------
    topic
        What the line is about.
    asks
        What the rule asks for, in our words.
    source
        Document and clause.
    """

    topic: str
    asks: str
    source: str


_LIMITS = (
    Control(
        "limit, USA",
        f"Respirable crystalline silica in the air: at most {PEL:g} µg/m³; from {ACTION_LEVEL:g} µg/m³ (action level)"
        " duties begin.",
        OSHA,
    ),
    Control(
        "limit, UK and EU", f"Respirable crystalline silica in the air: at most {UK_EU_LIMIT / 1000:g} mg/m³.", UK_EU
    ),
)
_HANDHELD = (
    Control(
        "at the bit",
        "A shroud or cowling around the bit, with dust collection that is in use while drilling.",
        f"{OSHA}, Table 1, drills",
    ),
    Control(
        "filter",
        "The dust collector's filter holds back at least 99 % and has a way of cleaning it.",
        f"{OSHA}, Table 1, drills",
    ),
    Control(
        "air flow",
        "The dust collector draws what the tool's maker asks for, and both are used as their makers say.",
        f"{OSHA}, Table 1, from memory",
    ),
    Control("holes", "Holes are cleaned with a vacuum cleaner that has a HEPA filter.", f"{OSHA}, Table 1, drills"),
    Control("respirator", "With all of this in place the table asks for no respirator.", f"{OSHA}, Table 1, drills"),
)
_DOWEL_RIG = (
    Control("place", "The table covers dowel drilling rigs outdoors only.", f"{OSHA}, Table 1, dowel drilling rigs"),
    *(Control(c.topic, c.asks, f"{OSHA}, Table 1, dowel drilling rigs, from memory") for c in _HANDHELD[:-1]),
    Control(
        "respirator",
        "A respirator with an assigned protection factor of 10, in addition to the controls.",
        f"{OSHA}, Table 1, dowel drilling rigs",
    ),
)
_WITHOUT = Control(
    "without extraction",
    "Drilling without dust collection at the bit is not among the table's controls for drills: exposure has to be"
    " assessed and limited otherwise.",
    f"{OSHA}, Table 1, drills",
)


def controls(*, method: Method, actions: Iterable[str] = ()) -> tuple[Control, ...]:
    """Table of the controls for a method of drilling.

    Parameters
    ----------
    method : str
        ``"drill"`` or ``"drill with extraction"`` for a handheld or stand-mounted drill, or ``"dowel rig"``.
    actions : iterable of str
        What else is done to the hole; ``"blow"`` adds a line.

    Returns
    -------
    tuple of Control
        Never empty; its last line says that this is no exposure assessment.

    Raises
    ------
    NotAccepted
        For any other method.

    Examples
    --------
    >>> [line.topic for line in controls(method="drill with extraction")][2:7]
    ['at the bit', 'filter', 'air flow', 'holes', 'respirator']
    """
    tables: dict[str, tuple[Control, ...]] = {
        "drill": (_WITHOUT, *_HANDHELD),
        "drill with extraction": _HANDHELD,
        "dowel rig": _DOWEL_RIG,
    }
    if method not in tables:
        raise NotAccepted(f"'{method}' is not a method of drilling; accepted: {', '.join(tables)}")
    blown = (Control("blowing", CLOUD, "common practice, no source"),) if "blow" in set(actions) else ()
    return (*_LIMITS, *tables[method], *blown, Control("scope", NOT_AN_ASSESSMENT, "this workbook"))
