"""Anchorage, laps and covers by EN 1992-1-1:2023, 11.4 and 11.5, with its own rules for post-installed bars.

The text of the standard was not at hand. The formulas and Table 11.2 were read in two draft modules of the fib's
structuralcodes (codes/ec2_2023/_section11_detailing.py and _section11_detailing_steel.py, not released); all 56 cells
of its Table 11.1 agree with formula (11.3) as written here. National values are arguments; their defaults are the
recommended ones. Ribbed, straight bars only.
"""

from __future__ import annotations

from typing import Literal

from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import max, min, sqrt
from calc.base.units import Mm, MPa, Ratio
from calc.strength.materials import MOST_ASSESSED

EN = "EN 1992-1-1:2023 (read in a draft of the fib library)"

_PHI = (5.0, 60.0)
_LENGTH = (0.0, 1e5)
_APPROVED = (0.1, 1.0)
_MINIMUM_FACTOR = (1.0, 2.0)

Drilling = Literal["rotary", "air"]

# Table 11.2: drilling method -> (cover at the mouth below 25 mm diameter, from 25 mm, growth without an aid) [mm, mm,
# mm/mm].
TABLE_11_2: dict[str, tuple[float, float, float]] = {"rotary": (30.0, 40.0, 0.06), "air": (50.0, 60.0, 0.08)}
WITH_AID = 0.02


@formula(
    symbol="l_bd",
    source=f"{EN}, 11.4.2(3), (11.3)",
    id="design_anchorage_2023",
    limits={
        "k_lb": (35.0, 60.0),
        "k_cp": (1.0, 1.4),
        "phi": _PHI,
        "sigma_sd": (0.0, 700.0),
        "f_ck": (12.0, 100.0),
        "c_d": (1.0, 1e4),
    },
    soft={"phi": (8.0, 32.0)},
    homogeneous=False,
)
def design_anchorage(*, k_lb: Ratio, k_cp: Ratio, phi: Mm, sigma_sd: MPa, f_ck: MPa, c_d: Mm) -> Mm:
    """Design anchorage length of a straight bar in tension, at least ten diameters.

    It grows faster than the stress: with its power 1.5. The partial factor 1.5 for concrete is inside ``k_lb``.
    """
    return max(
        k_lb
        * k_cp
        * phi
        * (sigma_sd / 435) ** 1.5
        * sqrt(max(25 / f_ck, 0.3))
        * max(phi / 20, 0.6) ** (1 / 3)
        * sqrt(1.5 * phi / min(c_d, 3.75 * phi)),
        10 * phi,
    )


@formula(symbol="l_sd", source=f"{EN}, Table 11.3", id="design_lap_2023", limits={"l_bd": _LENGTH, "phi": _PHI})
def design_lap(*, l_bd: Mm, phi: Mm) -> Mm:
    """Design lap length of straight bars that were cast in, in tension."""
    return max(1.2 * l_bd, 15 * phi)


@formula(
    symbol="l_bd_pi",
    source=f"{EN}, 11.4.8, (11.12)",
    limits={"l_bd": _LENGTH, "k_b_pi": _APPROVED, "phi": _PHI, "alpha_lb": _MINIMUM_FACTOR},
)
def post_installed_anchorage(*, l_bd: Mm, k_b_pi: Ratio, phi: Mm, alpha_lb: Ratio) -> Mm:
    """Design anchorage length of a post-installed bar, from the approval's bond efficiency factor."""
    return max(l_bd / k_b_pi, 10 * phi * alpha_lb)


@formula(
    symbol="l_sd_pi", source=f"{EN}, Table 11.3", limits={"l_bd_pi": _LENGTH, "phi": _PHI, "alpha_lb": _MINIMUM_FACTOR}
)
def post_installed_lap(*, l_bd_pi: Mm, phi: Mm, alpha_lb: Ratio) -> Mm:
    """Design lap length of a post-installed bar in tension."""
    return max(1.2 * l_bd_pi, 15 * phi * alpha_lb)


@formula(
    symbol="c_min_b",
    source=f"{EN}, Table 11.2; the floor of two diameters is remembered from EOTA EAD 330087",
    limits={"c_base": (30.0, 60.0), "k_drift": (0.02, 0.08), "l_bd_pi": _LENGTH, "phi": _PHI},
)
def drilled_cover(*, c_base: Mm, k_drift: Ratio, l_bd_pi: Mm, phi: Mm) -> Mm:
    """Cover that a post-installed bar needs: the hole drifts as it gets deeper."""
    return max(c_base + k_drift * l_bd_pi, 2 * phi)


# --- callers ---------------------------------------------------------------------------------------------------------


def anchorage_chain(
    *, phi: float, f_ck: float, sigma_sd: float, c_d: float, k_lb: float = 50.0, k_cp: float = 1.0
) -> Steps:
    """Run the formula of an anchorage and keep it; see `anchorage_length`."""
    return _anchored(Steps(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, c_d=c_d, k_lb=k_lb, k_cp=k_cp))


def _anchored(chain: Steps) -> Steps:
    chain.use(design_anchorage, "design anchorage length")
    c_d, phi = chain.known["c_d"], chain.known["phi"]
    if c_d < phi:
        chain.note(
            "cover_below_diameter",
            f"c_d = {c_d:g} mm is less than one bar diameter ({phi:g} mm): the standard asks for at least one as cover",
        )
    return chain


def anchorage_length(
    *, phi: float, f_ck: float, sigma_sd: float, c_d: float, k_lb: float = 50.0, k_cp: float = 1.0
) -> float:
    """Design anchorage length of a cast-in bar in tension, EN 1992-1-1:2023, 11.4.2.

    Parameters
    ----------
    phi
        Bar diameter [mm].
    f_ck
        Characteristic cylinder strength [MPa], 12 to 100.
    sigma_sd
        Stress to be anchored [MPa].
    c_d
        Smallest of half the clear spacing, side cover and cover [mm]; more than 3.75 diameters do not help.
    k_lb
        50; 35 in an accidental design situation.
    k_cp
        Casting position: 1.0 good, 1.2 poor, 1.4 under bentonite.

    Returns
    -------
    float
        l_bd [mm], at least ten diameters.

    Raises
    ------
    NotAccepted
        A value outside the standard's range.

    Notes
    -----
    Read in a draft of the fib library, not in the standard.

    Examples
    --------
    >>> round(anchorage_length(phi=20, f_ck=25, sigma_sd=435, c_d=30))
    1000
    """
    return anchorage_chain(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, c_d=c_d, k_lb=k_lb, k_cp=k_cp).value


def lap_length(*, l_bd: float, phi: float) -> float:
    """Design lap length of cast-in straight bars in tension, EN 1992-1-1:2023, Table 11.3.

    Parameters
    ----------
    l_bd
        Design anchorage length [mm].
    phi
        Bar diameter [mm].

    Returns
    -------
    float
        l_sd [mm].

    Raises
    ------
    NotAccepted
        A value outside the standard's range.
    """
    return float(design_lap(l_bd=l_bd, phi=phi))


def post_installed_chain(
    *,
    phi: float,
    f_ck: float,
    sigma_sd: float,
    c_d: float,
    k_b_pi: float,
    alpha_lb: float = 1.5,
    k_lb: float = 50.0,
    k_cp: float = 1.0,
    lap: bool = False,
) -> Steps:
    """Run the formulas of a post-installed anchorage (or lap) from stress to length and keep them.

    Parameters
    ----------
    phi, f_ck, sigma_sd, c_d, k_lb, k_cp
        As for `anchorage_length`.
    k_b_pi, alpha_lb
        As for `post_installed_length`.
    lap
        True to go on to the lap length.

    Returns
    -------
    Steps
        Its value is l_bd,pi or l_sd,pi [mm].

    Raises
    ------
    NotAccepted
        A value outside the standard's range, or the approval's factor missing.
    """
    chain = Steps(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, c_d=c_d, k_lb=k_lb, k_cp=k_cp)
    if f_ck > MOST_ASSESSED:
        why = "post-installed bars are assessed up to C50/60 (EOTA EAD 330087; from memory)"
        chain.choose("f_ck", MOST_ASSESSED, f"{why}; the concrete has {f_ck:g} MPa")
        chain.note("f_ck_counted", f"f_ck = {f_ck:g} MPa: {why}, so {MOST_ASSESSED:g} MPa are counted on for the bond")
    _anchored(chain)
    chain.ask("k_b_pi", _approved(k_b_pi), "the product's approval")
    chain.ask("alpha_lb", alpha_lb, "the product's approval; 1.5 unless it says less")
    chain.use(post_installed_anchorage, "design anchorage length, post-installed")
    if lap:
        chain.use(post_installed_lap, "design lap length, post-installed")
    return chain


def post_installed_length(*, l_bd: float, phi: float, k_b_pi: float, alpha_lb: float = 1.5) -> float:
    """Design anchorage length of a post-installed bar, EN 1992-1-1:2023, 11.4.8.

    Parameters
    ----------
    l_bd
        Design anchorage length of the same bar, cast in [mm].
    phi
        Bar diameter [mm].
    k_b_pi
        Bond efficiency factor of the product's approval, at most 1; no default.
    alpha_lb
        Factor on the minimum length; 1.5 unless the approval says less.

    Returns
    -------
    float
        l_bd,pi [mm].

    Raises
    ------
    NotAccepted
        k_b_pi missing or above 1, or a value outside the standard's range.
    """
    return float(post_installed_anchorage(l_bd=l_bd, phi=phi, k_b_pi=_approved(k_b_pi), alpha_lb=alpha_lb))


def cover_chain(*, phi: float, l_bd_pi: float, drilling: Drilling, aid: bool) -> Steps:
    """Run the formula of the minimum cover and keep it; see `minimum_cover`."""
    if drilling not in TABLE_11_2:
        raise NotAccepted(
            f"drilling is '{drilling}'; accepted are 'rotary' (rotary percussion or diamond) and 'air' (compressed air)"
        )
    if aid not in (True, False):
        raise NotAccepted("aid must be stated: True with a drilling aid, False without")
    thin, thick, drift = TABLE_11_2[drilling]
    chain = Steps(phi=phi, l_bd_pi=l_bd_pi)
    row = f"{EN}, Table 11.2: {'compressed air' if drilling == 'air' else 'rotary percussion or diamond drilling'}"
    chain.choose(
        "c_base", thick if phi >= 25 else thin, f"{row}, bar {'of 25 mm or more' if phi >= 25 else 'below 25 mm'}"
    )
    chain.choose("k_drift", WITH_AID if aid else drift, f"{row}, {'with' if aid else 'without'} a drilling aid")
    chain.use(drilled_cover, "minimum cover for the drilling method")
    return chain


def minimum_cover(*, phi: float, l_bd_pi: float, drilling: Drilling, aid: bool) -> float:
    """Minimum cover of a post-installed bar by drilling method, EN 1992-1-1:2023, Table 11.2.

    Parameters
    ----------
    phi
        Bar diameter [mm].
    l_bd_pi
        Design anchorage length of the post-installed bar [mm].
    drilling
        ``"rotary"`` for rotary percussion or diamond drilling, ``"air"`` for compressed air.
    aid
        True when a drilling aid guides the drill.

    Returns
    -------
    float
        c_min,b [mm].

    Raises
    ------
    NotAccepted
        Unknown drilling method, or a value outside the standard's range.

    Notes
    -----
    The floor of two diameters is not in that draft; it is remembered from EOTA EAD 330087 and kept as the
    safe reading.

    Examples
    --------
    >>> minimum_cover(phi=20, l_bd_pi=200, drilling="rotary", aid=False)
    42.0
    """
    return cover_chain(phi=phi, l_bd_pi=l_bd_pi, drilling=drilling, aid=aid).value


def _approved(k_b_pi: float) -> float:
    if k_b_pi is None:
        raise NotAccepted(
            "k_b_pi is missing: a post-installed bar needs the bond efficiency factor of the product's approval"
        )
    if not _APPROVED[0] <= k_b_pi <= _APPROVED[1]:
        raise NotAccepted(
            f"k_b_pi = {k_b_pi:g} is outside 0.1 to 1: a post-installed bar never counts on more bond than a"
            " cast-in one"
        )
    return k_b_pi
