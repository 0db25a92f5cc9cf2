"""Anchorage and laps by EN 1992-1-1:2004, 8.4 and 8.7, and the rules that post-installed bars add.

The text of the standard was not at hand. Each formula of 3.1, 8.4 and 8.7 was taken from two independent open libraries
that agree (eurocodepy 2027.0.12 and blue-prints 0.8.0; the tensile strengths also from structuralcodes 0.7.2). The
rules for post-installed bars (EOTA EAD 330087) are from memory, except where EN 1992-1-1:2023, 11.4.8 says the same.
National values are arguments; their defaults are the recommended ones. Ribbed, straight bars only.
"""

from __future__ import annotations

from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.maths import log, max, min, sqrt
from calc.base.units import Mm, MPa, Percent, Ratio
from calc.strength.materials import MOST_ASSESSED, tabulated_bond

EN = "EN 1992-1-1:2004"
EAD = "EOTA EAD 330087 (from memory)"

_F_CK = (12.0, 90.0)
_PHI = (5.0, 60.0)
_LENGTH = (0.0, 1e5)
_STRESS = (0.0, 600.0)
_STRENGTH = (0.05, 20.0)
_REDUCED = (0.7, 1.0)

# Table 3.1, f_ctk,0.05 as printed to one decimal (read in the open library blue-prints 0.8.0).
TABLE_3_1 = {12: 1.1, 16: 1.3, 20: 1.5, 25: 1.8, 30: 2.0, 35: 2.2, 40: 2.5, 45: 2.7, 50: 2.9, 55: 3.0, 60: 3.1}
# Classes above C60/75: bond may count on no more than C60/75 (8.4.2(2)), so their own tensile strength is not needed.
CLASSES_ABOVE = (70, 80, 90)


# --- tensile strength and bond ---------------------------------------------------------------------------------------


@formula(symbol="f_ctm", source=f"{EN}, Table 3.1", limits={"f_ck": (12.0, 50.0)}, homogeneous=False)
def mean_tensile_strength(*, f_ck: MPa) -> MPa:
    """Mean tensile strength up to C50/60, from the characteristic cylinder strength."""
    return 0.30 * f_ck ** (2 / 3)


@formula(symbol="f_ctm", source=f"{EN}, Table 3.1", limits={"f_ck": (50.0, 90.0)}, homogeneous=False)
def mean_tensile_strength_high(*, f_ck: MPa) -> MPa:
    """Mean tensile strength above C50/60; the mean strength f_ck + 8 MPa is written out."""
    return 2.12 * log(1 + (f_ck + 8) / 10)


@formula(symbol="f_ctk_005", source=f"{EN}, Table 3.1", limits={"f_ctm": _STRENGTH})
def characteristic_tensile_strength(*, f_ctm: MPa) -> MPa:
    """Tensile strength that five in a hundred specimens do not reach."""
    return 0.7 * f_ctm


@formula(
    symbol="f_ctd",
    source=f"{EN}, 3.1.6(2)",
    limits={"f_ctk_005": _STRENGTH, "alpha_ct": (0.25, 1.0), "gamma_C": (1.0, 2.0)},
)
def design_tensile_strength(*, f_ctk_005: MPa, alpha_ct: Ratio, gamma_C: Ratio) -> MPa:
    """Design tensile strength."""
    return alpha_ct * f_ctk_005 / gamma_C


@formula(symbol="eta_2", source=f"{EN}, 8.4.2(2)", limits={"phi": (32.0, 60.0)}, homogeneous=False)
def thick_bar_factor(*, phi: Mm) -> Ratio:
    """Bond factor of a bar thicker than 32 mm; it is 1 up to 32 mm."""
    return (132 - phi) / 100


@formula(
    symbol="f_bd", source=f"{EN}, 8.4.2(2), (8.2)", limits={"eta_1": _REDUCED, "eta_2": _REDUCED, "f_ctd": _STRENGTH}
)
def bond_strength(*, eta_1: Ratio, eta_2: Ratio, f_ctd: MPa) -> MPa:
    """Design bond strength of a ribbed bar that was cast in."""
    return 2.25 * eta_1 * eta_2 * f_ctd


@formula(symbol="f_bd_pi", source=EAD, limits={"k_b": (0.1, 1.0), "f_bd": _STRENGTH})
def bond_strength_post_installed(*, k_b: Ratio, f_bd: MPa) -> MPa:
    """Design bond strength of a post-installed bar, from the approval's bond efficiency factor."""
    return k_b * f_bd


# --- anchorage -------------------------------------------------------------------------------------------------------


@formula(
    symbol="l_b_rqd",
    source=f"{EN}, 8.4.3(2), (8.3)",
    limits={"phi": _PHI, "sigma_sd": _STRESS, "f_bd": _STRENGTH},
    soft={"phi": (6.0, 32.0)},
)
def basic_length(*, phi: Mm, sigma_sd: MPa, f_bd: MPa) -> Mm:
    """Length over which a constant bond stress takes the bar's force; 8.8 adds rules above 32 mm."""
    return phi / 4 * sigma_sd / f_bd


@formula(
    symbol="l_b_rqd",
    source=f"{EN}, (8.3), with the bond strength of {EAD}",
    limits={"phi": _PHI, "sigma_sd": _STRESS, "f_bd_pi": _STRENGTH},
    soft={"phi": (6.0, 32.0)},
)
def basic_length_post_installed(*, phi: Mm, sigma_sd: MPa, f_bd_pi: MPa) -> Mm:
    """Length over which the post-installed bar's bond stress takes its force."""
    return phi / 4 * sigma_sd / f_bd_pi


@formula(symbol="alpha_2", source=f"{EN}, Table 8.2", limits={"phi": _PHI, "c_d": (1.0, 1e4)})
def cover_factor(*, phi: Mm, c_d: Mm) -> Ratio:
    """Factor for the cover of a straight bar in tension, between 0.7 and 1."""
    return max(0.7, min(1.0, 1 - 0.15 * (c_d - phi) / phi))


@formula(
    symbol="alpha_235",
    source=f"{EN}, 8.4.4(1), (8.5)",
    limits={"alpha_2": _REDUCED, "alpha_3": _REDUCED, "alpha_5": _REDUCED},
)
def factor_product(*, alpha_2: Ratio, alpha_3: Ratio, alpha_5: Ratio) -> Ratio:
    """Product of the factors for cover, transverse bars and pressure, not below 0.7."""
    return max(0.7, alpha_2 * alpha_3 * alpha_5)


@formula(symbol="l_b_min", source=f"{EN}, 8.4.4(1), (8.6)", limits={"l_b_rqd": _LENGTH, "phi": _PHI}, homogeneous=False)
def minimum_anchorage_tension(*, l_b_rqd: Mm, phi: Mm) -> Mm:
    """Least anchorage length of a bar in tension."""
    return max(0.3 * l_b_rqd, 10 * phi, 100)


@formula(symbol="l_b_min", source=f"{EN}, 8.4.4(1), (8.7)", limits={"l_b_rqd": _LENGTH, "phi": _PHI}, homogeneous=False)
def minimum_anchorage_compression(*, l_b_rqd: Mm, phi: Mm) -> Mm:
    """Least anchorage length of a bar in compression."""
    return max(0.6 * l_b_rqd, 10 * phi, 100)


@formula(
    symbol="l_b_min",
    source=f"{EN}, (8.6), times the factor of {EAD}",
    limits={"alpha_lb": (1.0, 2.0), "l_b_rqd": _LENGTH, "phi": _PHI},
    homogeneous=False,
)
def minimum_anchorage_tension_post_installed(*, alpha_lb: Ratio, l_b_rqd: Mm, phi: Mm) -> Mm:
    """Least anchorage length of a post-installed bar in tension."""
    return alpha_lb * max(0.3 * l_b_rqd, 10 * phi, 100)


@formula(
    symbol="l_b_min",
    source=f"{EN}, (8.7), times the factor of {EAD}",
    limits={"alpha_lb": (1.0, 2.0), "l_b_rqd": _LENGTH, "phi": _PHI},
    homogeneous=False,
)
def minimum_anchorage_compression_post_installed(*, alpha_lb: Ratio, l_b_rqd: Mm, phi: Mm) -> Mm:
    """Least anchorage length of a post-installed bar in compression."""
    return alpha_lb * max(0.6 * l_b_rqd, 10 * phi, 100)


@formula(
    symbol="l_bd",
    source=f"{EN}, 8.4.4(1), (8.4)",
    id="design_anchorage_2004",
    limits={"alpha_1": _REDUCED, "alpha_235": _REDUCED, "l_b_rqd": _LENGTH, "l_b_min": _LENGTH},
)
def design_anchorage(*, alpha_1: Ratio, alpha_235: Ratio, l_b_rqd: Mm, l_b_min: Mm) -> Mm:
    """Design anchorage length; without welded transverse bars, whose factor is 1 and not written."""
    return max(alpha_1 * alpha_235 * l_b_rqd, l_b_min)


# --- laps ------------------------------------------------------------------------------------------------------------


@formula(symbol="alpha_6", source=f"{EN}, 8.7.3(1)", limits={"rho_1": (0.0, 100.0)})
def lapped_share_factor(*, rho_1: Percent) -> Ratio:
    """Factor for the share of the bars that are lapped at one place, between 1.0 and 1.5.

    Table 8.3 prints it rounded (1.4 at half the bars); here it is not rounded.
    """
    return max(1.0, min(1.5, sqrt(rho_1 / 25)))


@formula(
    symbol="l_0_min",
    source=f"{EN}, 8.7.3(1), (8.11)",
    limits={"alpha_6": (1.0, 1.5), "l_b_rqd": _LENGTH, "phi": _PHI},
    homogeneous=False,
)
def minimum_lap(*, alpha_6: Ratio, l_b_rqd: Mm, phi: Mm) -> Mm:
    """Least lap length."""
    return max(0.3 * alpha_6 * l_b_rqd, 15 * phi, 200)


@formula(
    symbol="l_0_min",
    source=f"{EN}, (8.11), times the factor of {EAD}",
    limits={"alpha_lb": (1.0, 2.0), "alpha_6": (1.0, 1.5), "l_b_rqd": _LENGTH, "phi": _PHI},
    homogeneous=False,
)
def minimum_lap_post_installed(*, alpha_lb: Ratio, alpha_6: Ratio, l_b_rqd: Mm, phi: Mm) -> Mm:
    """Least lap length of a post-installed bar."""
    return alpha_lb * max(0.3 * alpha_6 * l_b_rqd, 15 * phi, 200)


@formula(
    symbol="l_0",
    source=f"{EN}, 8.7.3(1), (8.10)",
    id="design_lap_2004",
    limits={"alpha_1": _REDUCED, "alpha_235": _REDUCED, "alpha_6": (1.0, 1.5), "l_b_rqd": _LENGTH, "l_0_min": _LENGTH},
)
def design_lap(*, alpha_1: Ratio, alpha_235: Ratio, alpha_6: Ratio, l_b_rqd: Mm, l_0_min: Mm) -> Mm:
    """Design lap length of bars in tension.

    The floor of 0.7 on the three factors' product, stated for anchorages in (8.5), is kept for laps as well: the safe
    reading.
    """
    return max(alpha_1 * alpha_235 * alpha_6 * l_b_rqd, l_0_min)


# In both editions: a draft of the fib library has the rule of the newer one, and it is that of the older one.
@formula(
    symbol="delta_l",
    source="EN 1992-1-1, 8.7.2(3) of 2004 (from memory) and 11.5.2(7) of 2023",
    limits={"s_l": (0.0, 1e4), "phi": _PHI},
    homogeneous=False,
)
def gap_extension(*, s_l: Mm, phi: Mm) -> Mm:
    """What a lap grows by where its two bars lie further apart than 4 diameters or 50 mm, the smaller."""
    return max(0, s_l - min(4 * phi, 50))


@formula(symbol="delta_l", source=EAD, limits={"s_l": (0.0, 1e4), "phi": _PHI})
def gap_extension_post_installed(*, s_l: Mm, phi: Mm) -> Mm:
    """What a lap grows by where its bars lie further apart than 4 diameters, if the product's approval counts so."""
    return max(0, s_l - 4 * phi)


@formula(symbol="l_v", source=EAD, limits={"l_0": _LENGTH, "delta_l": _LENGTH, "c_e": (0.0, 1e4)})
def lap_embedment(*, l_0: Mm, delta_l: Mm, c_e: Mm) -> Mm:
    """Embedment that a lap needs: the existing bar ends one cover short of the joint, and that length does not lap."""
    return l_0 + delta_l + c_e


@formula(symbol="s_min", source=EAD, limits={"phi": _PHI}, homogeneous=False)
def minimum_clear_spacing(*, phi: Mm) -> Mm:
    """Least clear spacing of post-installed bars."""
    return max(40, 4 * phi)


# --- callers ---------------------------------------------------------------------------------------------------------


# Bond counts on no more than this strength, and why.
_CAST_IN_MOST = (60.0, f"bond counts on no more than C60/75 ({EN}, 8.4.2(2))")
_INSTALLED_MOST = (MOST_ASSESSED, f"post-installed bars are assessed up to C50/60 ({EAD})")


def _tension(chain: Steps, tabulated: bool, most: tuple[float, str] | None = None) -> None:
    """Put f_ctk,0.05 into the chain; for bond it is capped at that of a class."""
    f_ck = chain.known["f_ck"]
    if not _F_CK[0] <= f_ck <= _F_CK[1]:
        raise NotAccepted(f"f_ck = {f_ck:g} MPa is outside 12 to 90 MPa, the classes of {EN}")
    if tabulated and f_ck not in TABLE_3_1 and f_ck not in CLASSES_ABOVE:
        listed = ", ".join(map(str, (*TABLE_3_1, *CLASSES_ABOVE)))
        raise NotAccepted(
            f"f_ck = {f_ck:g} MPa is not listed in {EN}, Table 3.1 ({listed}); use the computed tensile strength"
            " instead"
        )
    if most is not None and f_ck > most[0]:
        chain.choose("f_ck", most[0], f"{most[1]}; the concrete has {f_ck:g} MPa")
        if most is _INSTALLED_MOST:
            chain.note(
                "f_ck_counted", f"f_ck = {f_ck:g} MPa: {most[1]}, so {most[0]:g} MPa are counted on for the bond"
            )
    f_ck = chain.known["f_ck"]
    if tabulated:
        chain.choose("f_ctk_005", TABLE_3_1[int(f_ck)], f"{EN}, Table 3.1, as printed for f_ck = {f_ck:g} MPa")
        return
    chain.use(mean_tensile_strength if f_ck <= 50 else mean_tensile_strength_high, "mean tensile strength")
    chain.use(characteristic_tensile_strength, "characteristic tensile strength")


def _bond(chain: Steps, good_bond: bool, tabulated: bool, most: tuple[float, str] = _CAST_IN_MOST) -> None:
    if good_bond not in (True, False):
        raise NotAccepted("the bond condition must be stated: good_bond is True or False")
    phi = chain.known["phi"]
    if not _PHI[0] <= phi <= _PHI[1]:
        raise NotAccepted(f"phi = {phi:g} mm is outside {_PHI[0]:g} to {_PHI[1]:g} mm")
    _tension(chain, tabulated, most)
    chain.use(design_tensile_strength, "design tensile strength")
    chain.choose(
        "eta_1",
        1.0 if good_bond else 0.7,
        f"{EN}, 8.4.2(2): {'good' if good_bond else 'other than good'} bond condition",
    )
    if phi > 32:
        chain.use(thick_bar_factor, "factor for a thick bar")
    else:
        chain.choose("eta_2", 1.0, f"{EN}, 8.4.2(2): bar up to 32 mm")
    chain.use(bond_strength, "bond strength, cast in")


def _required(chain: Steps, good_bond: bool, tabulated: bool, k_b: float | None, f_bd_tab: float | None) -> None:
    """Go from the concrete to the basic length: cast in, or post-installed by the approval's factor or its table."""
    if k_b is None and f_bd_tab is None:
        _bond(chain, good_bond, tabulated)
        chain.use(basic_length, "basic required length")
        return
    _bond(chain, good_bond, tabulated, _INSTALLED_MOST)
    if f_bd_tab is not None:
        chain.ask("f_bd_tab", f_bd_tab, "the product's approval")
        chain.use(tabulated_bond, "bond strength, post-installed")
    else:
        chain.ask("k_b", k_b or 0.0, "the product's approval")
        chain.use(bond_strength_post_installed, "bond strength, post-installed")
    chain.use(basic_length_post_installed, "basic required length")


def _factors(chain: Steps, c_d: float | None, alpha_1: float, alpha_3: float, alpha_5: float) -> None:
    for name, value in (("alpha_1", alpha_1), ("alpha_3", alpha_3), ("alpha_5", alpha_5)):
        chain.ask(name, value)
    if c_d is None:
        chain.choose("alpha_2", 1.0, f"{EN}, Table 8.2: cover not counted on")
    else:
        chain.ask("c_d", c_d)
        chain.use(cover_factor, "factor for the cover")
        if c_d < chain.known["phi"]:
            said = (
                f"c_d = {c_d:g} mm is less than one bar diameter ({chain.known['phi']:g} mm): {EN}, 4.4.1.2 asks for at"
                " least one"
            )
            chain.note("cover_below_diameter", said)
    chain.use(factor_product, "product of the factors")


def anchorage_chain(
    *,
    phi: float,
    f_ck: float,
    sigma_sd: float,
    good_bond: bool,
    c_d: float | None = None,
    alpha_1: float = 1.0,
    alpha_3: float = 1.0,
    alpha_5: float = 1.0,
    compression: bool = False,
    tabulated: bool = False,
    alpha_ct: float = 1.0,
    gamma_C: float = 1.5,
    k_b: float | None = None,
    f_bd_tab: float | None = None,
    alpha_lb: float | None = None,
) -> Steps:
    """Run the formulas of an anchorage and keep them; see `anchorage_length`.

    A post-installed bar has the bond efficiency factor ``k_b`` or the bond strength ``f_bd_tab`` of the product's
    approval, and its factor ``alpha_lb`` on the least length. The rules of EOTA EAD 330087 are from memory; the least
    length is taken from the basic length with the reduced bond strength: the longer, safe reading.
    """
    chain = Steps(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, alpha_ct=alpha_ct, gamma_C=gamma_C)
    _required(chain, good_bond, tabulated, k_b, f_bd_tab)
    if compression:
        for name in ("alpha_1", "alpha_2", "alpha_3"):
            chain.choose(name, 1.0, f"{EN}, Table 8.2: bar in compression")
        chain.ask("alpha_5", alpha_5)
        chain.use(factor_product, "product of the factors")
    else:
        _factors(chain, c_d, alpha_1, alpha_3, alpha_5)
    if alpha_lb is None:
        chain.use(minimum_anchorage_compression if compression else minimum_anchorage_tension, "least anchorage length")
    else:
        chain.ask("alpha_lb", alpha_lb, "the product's approval; 1.5 unless it says less")
        least = (
            minimum_anchorage_compression_post_installed if compression else minimum_anchorage_tension_post_installed
        )
        chain.use(least, "least anchorage length, post-installed")
    chain.use(design_anchorage, "design anchorage length")
    return chain


def lap_chain(
    *,
    phi: float,
    f_ck: float,
    sigma_sd: float,
    rho_1: float,
    good_bond: bool,
    c_d: float | None = None,
    alpha_1: float = 1.0,
    alpha_3: float = 1.0,
    alpha_5: float = 1.0,
    tabulated: bool = False,
    alpha_ct: float = 1.0,
    gamma_C: float = 1.5,
    k_b: float | None = None,
    f_bd_tab: float | None = None,
    alpha_lb: float | None = None,
) -> Steps:
    """Run the formulas of a lap in tension and keep them; see `lap_length`, and `anchorage_chain` for the approval."""
    chain = Steps(phi=phi, f_ck=f_ck, sigma_sd=sigma_sd, rho_1=rho_1, alpha_ct=alpha_ct, gamma_C=gamma_C)
    _required(chain, good_bond, tabulated, k_b, f_bd_tab)
    _factors(chain, c_d, alpha_1, alpha_3, alpha_5)
    chain.use(lapped_share_factor, "factor for the share of bars lapped")
    if alpha_lb is None:
        chain.use(minimum_lap, "least lap length")
    else:
        chain.ask("alpha_lb", alpha_lb, "the product's approval; 1.5 unless it says less")
        chain.use(minimum_lap_post_installed, "least lap length, post-installed")
    chain.use(design_lap, "design lap length")
    return chain


def f_ctm(*, f_ck: float) -> float:
    """Mean tensile strength of concrete, EN 1992-1-1:2004, Table 3.1.

    Parameters
    ----------
    f_ck
        Characteristic cylinder strength [MPa], 12 to 90, any value.

    Returns
    -------
    float
        f_ctm [MPa].

    Raises
    ------
    NotAccepted
        f_ck outside 12 to 90 MPa.

    Notes
    -----
    The two branches do not meet: at 50 MPa the upper one starts 0.2 % below the lower one's end.

    Examples
    --------
    >>> round(f_ctm(f_ck=30), 4)
    2.8965
    """
    chain = Steps(f_ck=f_ck)
    _tension(chain, tabulated=False)
    return chain.known["f_ctm"]


def f_ctk_005(*, f_ck: float) -> float:
    """Tensile strength of concrete, 5 % fractile, computed and not rounded, EN 1992-1-1:2004, Table 3.1.

    Parameters
    ----------
    f_ck
        Characteristic cylinder strength [MPa], 12 to 90, any value.

    Returns
    -------
    float
        f_ctk,0.05 [MPa].

    Raises
    ------
    NotAccepted
        f_ck outside 12 to 90 MPa.
    """
    chain = Steps(f_ck=f_ck)
    _tension(chain, tabulated=False)
    return chain.value


def f_bd(*, f_ck: float, phi: float, good_bond: bool, alpha_ct: float = 1.0, gamma_C: float = 1.5) -> float:
    """Design bond strength of a cast-in ribbed bar, EN 1992-1-1:2004, 8.4.2.

    Parameters
    ----------
    f_ck
        Characteristic cylinder strength [MPa]; above 60 MPa, 60 is counted on.
    phi
        Bar diameter [mm].
    good_bond
        True for a good bond condition; it must be stated.
    alpha_ct
        National factor on the tensile strength; recommended 1.0.
    gamma_C
        Partial factor for concrete; recommended 1.5.

    Returns
    -------
    float
        f_bd [MPa].

    Raises
    ------
    NotAccepted
        A value outside the standard's range, or the bond condition not stated.
    """
    chain = Steps(f_ck=f_ck, phi=phi, alpha_ct=alpha_ct, gamma_C=gamma_C)
    _bond(chain, good_bond, tabulated=False)
    return chain.value


def anchorage_length(
    *,
    phi: float,
    f_ck: float,
    sigma_sd: float,
    good_bond: bool,
    c_d: float | None = None,
    alpha_1: float = 1.0,
    alpha_3: float = 1.0,
    alpha_5: float = 1.0,
    compression: bool = False,
    tabulated: bool = False,
    alpha_ct: float = 1.0,
    gamma_C: float = 1.5,
) -> float:
    """Design anchorage length of a cast-in bar, EN 1992-1-1:2004, 8.4.4.

    Parameters
    ----------
    phi
        Bar diameter [mm].
    f_ck
        Characteristic cylinder strength [MPa].
    sigma_sd
        Stress to be anchored [MPa], positive in tension and in compression.
    good_bond
        True for a good bond condition; it must be stated.
    c_d
        Smallest of half the clear spacing, side cover and cover [mm]; None counts on no cover (factor 1).
    alpha_1, alpha_3, alpha_5
        Factors of Table 8.2 for shape, transverse bars and transverse pressure, 0.7 to 1.
    compression
        True for a bar in compression; then the factors 1 to 3 are 1, whatever is given. Leave alpha_5 at 1 then: Table
        8.2
        has no value for it in compression (from memory).
    tabulated
        True to use f_ctk,0.05 as printed to one decimal in Table 3.1; listed classes only.
    alpha_ct, gamma_C
        National factors; recommended 1.0 and 1.5.

    Returns
    -------
    float
        l_bd [mm].

    Raises
    ------
    NotAccepted
        A value outside the standard's range, or a class that the table does not list.

    Examples
    --------
    >>> round(anchorage_length(phi=12, f_ck=25, sigma_sd=434.78, good_bond=True, c_d=35))
    345
    """
    return anchorage_chain(
        phi=phi,
        f_ck=f_ck,
        sigma_sd=sigma_sd,
        good_bond=good_bond,
        c_d=c_d,
        alpha_1=alpha_1,
        alpha_3=alpha_3,
        alpha_5=alpha_5,
        compression=compression,
        tabulated=tabulated,
        alpha_ct=alpha_ct,
        gamma_C=gamma_C,
    ).value


def lap_length(
    *,
    phi: float,
    f_ck: float,
    sigma_sd: float,
    rho_1: float,
    good_bond: bool,
    c_d: float | None = None,
    alpha_1: float = 1.0,
    alpha_3: float = 1.0,
    alpha_5: float = 1.0,
    tabulated: bool = False,
    alpha_ct: float = 1.0,
    gamma_C: float = 1.5,
) -> float:
    """Design lap length of cast-in bars in tension, EN 1992-1-1:2004, 8.7.3.

    Parameters
    ----------
    phi, f_ck, sigma_sd, good_bond, c_d, alpha_1, alpha_3, alpha_5, tabulated, alpha_ct, gamma_C
        As for `anchorage_length`.
    rho_1
        Share of the bars lapped within 0.65 lap lengths [%].

    Returns
    -------
    float
        l_0 [mm].

    Raises
    ------
    NotAccepted
        A value outside the standard's range, or a class that the table does not list.

    Examples
    --------
    >>> round(lap_length(phi=16, f_ck=25, sigma_sd=434.78, rho_1=50, good_bond=True, c_d=25), 3)
    836.164
    """
    return lap_chain(
        phi=phi,
        f_ck=f_ck,
        sigma_sd=sigma_sd,
        rho_1=rho_1,
        good_bond=good_bond,
        c_d=c_d,
        alpha_1=alpha_1,
        alpha_3=alpha_3,
        alpha_5=alpha_5,
        tabulated=tabulated,
        alpha_ct=alpha_ct,
        gamma_C=gamma_C,
    ).value
