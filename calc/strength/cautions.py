"""Cautions that a strength calculation for bonded bars carries.

Each stands for a rule that code and approval state in full.

What is said of ACI 318-19 is from memory, or from McCormac & Brown, Design of Reinforced Concrete, 9th ed.; the code's
own text was not at hand.
"""

from __future__ import annotations

from collections.abc import Iterable

from calc.base.errors import NotAccepted
from calc.strength.codes import check_code

DIRECTIONS = ("down", "horizontal", "overhead")

_AGE_ACI = "Concrete age: ACI 318-19, 17.2.2, wants the concrete at least 21 days old when the adhesive goes in."
_AGE_EN = (
    "Concrete age: the calculation takes hardened concrete of the stated strength; the approval says from what age. "
    "(ACI 318-19, 17.2.2, wants 21 days.)"
)  # fmt: skip
_TEMPERATURE = (
    "Temperature: bond is counted on only inside the approval's range, for setting and for service; "
    "look up short-term and long-term temperature of the member, sun and machines included."
)  # fmt: skip
_SUSTAINED_ACI = (
    "{which} under sustained tension: ACI 318-19 asks for a certified installer (26.7) and continuous inspection of the"
    " work (26.13); the documents have to call for both."
)
_SUSTAINED_EN = (
    "{which} under sustained tension: creep of the bond and air in the hole meet here. Use what the approval allows for"
    " it, trained installers and inspection during the work (ACI 318-19, 26.7 and 26.13, demands a certified installer"
    " and continuous inspection)."
)
_OUTSIDE = (
    "Outside the scope: fire, seismic action and fatigue are not calculated here. Heated bond loses strength long"
    " before the steel does."
)
DEFERRING = (
    "The product's approval and the local code govern wherever they ask for more than stands here.",
    "A licensed engineer decides; this calculation supports that judgement and does not replace it.",
)


def strength_cautions(*, code: str, directions: Iterable[str]) -> list[str]:
    """List the cautions for a code and for holes that point in these directions.

    Parameters
    ----------
    code
        One of `CODES`.
    directions
        Any of ``"down"``, ``"horizontal"``, ``"overhead"``.

    Returns
    -------
    list of str
        In the order in which they are to stand on the page.

    Raises
    ------
    NotAccepted
        Unknown code or direction.

    Examples
    --------
    >>> len(strength_cautions(code="ACI 318-19", directions=["down"]))
    5
    """
    check_code(code)
    found = set(directions)
    if unknown := sorted(found - set(DIRECTIONS)):
        raise NotAccepted(f"direction is '{unknown[0]}'; accepted are {', '.join(DIRECTIONS)}")
    aci = code == "ACI 318-19"
    tilted = [d for d in ("horizontal", "overhead") if d in found]
    which = " and ".join(tilted).capitalize() + " holes"
    sustained = [(_SUSTAINED_ACI if aci else _SUSTAINED_EN).format(which=which)] if tilted else []
    return [_AGE_ACI if aci else _AGE_EN, _TEMPERATURE, *sustained, _OUTSIDE, *DEFERRING]
