"""The same bar by the three codes, side by side, with the reason why each one differs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from calc.base.errors import CalcError
from calc.base.maths import max, min
from calc.base.units import convert
from calc.files.strict import tidy
from calc.strength import aci318_19, en1992_2004, en1992_2023
from calc.strength.codes import ACI, CODES, EN04, EN23
from calc.work.embedment.case import DesignCase
from calc.work.embedment.group import GroupDesign, design
from calc.work.embedment.laps import clear_of_pairs
from calc.work.embedment.length import aci_factors
from calc.work.embedment.materials import counted


@dataclass(frozen=True)
class CodeLength:
    """A bar's length by one code.

    Cast in, and post-installed where the approval's values for that code are known [mm].
    """

    code: str
    cast_in: float | None
    post_installed: float | None
    reason: str
    cannot: str


def compare_codes(case: DesignCase) -> tuple[CodeLength, ...]:
    """Work the same bar by the three codes, with the reason why each one differs.

    Parameters
    ----------
    case
        A bar group by any of the three; its concrete and steel strengths stand for those of the other codes, its force
        is the same.

    Returns
    -------
    tuple of CodeLength
        One for each code: the length of the bar as if cast in, so that the codes and not the approvals are compared,
        and the post-installed one where the case has that code's approval values. A joint's bar is compared as an
        anchorage for its force.
    """
    own = design(case)
    return tuple(_compared(case, own, code) for code in CODES)


def _compared(case: DesignCase, own: GroupDesign, code: str) -> CodeLength:
    phi, lap, compression = case.bar.diameter, case.use == "lap", bool(case["compression"])
    sigma, good = own.stress, case["bond"] == "good"
    f_ck, alpha_ct, gamma_C = counted(case, code)
    f_yk = case["f_yk"] if case["f_yk"] is not None else case["f_y"]
    half = clear_of_pairs(case) / 2 if lap else (case["spacing"] - phi) / 2
    clear = min(half, case["cover"], *(() if case["edge"] is None else (case["edge"] - phi / 2,)))
    cannot: list[str] = []
    if compression and code != EN04:
        return CodeLength(code, None, None, "", f"bars in compression are built for {EN04} only")
    if case["coating"] == "epoxy" and code != ACI:
        return CodeLength(code, None, None, "", "its bond rules used here are for uncoated bars")
    try:
        if code == EN04:
            found = _compare_2004(case, f_ck, sigma, good, clear, lap, alpha_ct, gamma_C)
        elif code == EN23:
            found = _compare_2023(case, f_ck, sigma, good, clear, lap)
        else:
            found = _compare_aci(case, own, f_ck, f_yk, lap)
    except CalcError as error:
        return CodeLength(code, None, None, "", f"outside its range: {error}")
    cast_in, installed, reason = tidy(found[0]), None if found[1] is None else tidy(found[1]), found[2]
    if code == ACI:
        cannot.append(
            "it has no bond factor of an approval and no cover that grows with the drilled depth; the product's report"
            " has to qualify the bar"
        )
    elif installed is None:
        cannot.append(
            f"post-installed it needs {'k_b' if code == EN04 else 'k_b_pi'} and alpha_lb of an approval to this"
            " edition, which the job does not give"
        )
    return CodeLength(code, cast_in, installed, reason, "; ".join(cannot))


_Compared = tuple[float, float | None, str]


def _compare_2004(
    case: DesignCase, f_ck: float, sigma: float, good: bool, clear: float, lap: bool, alpha_ct: float, gamma_C: float
) -> _Compared:  # fmt: skip
    common: dict[str, Any] = {
        "phi": case.bar.diameter,
        "f_ck": f_ck,
        "sigma_sd": sigma,
        "good_bond": good,
        "c_d": clear,
        "alpha_ct": alpha_ct,
        "gamma_C": gamma_C,
    }
    k_b, alpha_lb, row = case["approval.k_b"], case["approval.alpha_lb"], case.tabulated_bond
    approved: dict[str, Any] | None = None
    if alpha_lb is not None and (k_b is not None or row is not None):
        approved = {"alpha_lb": alpha_lb, **({"k_b": k_b} if row is None else {"f_bd_tab": row[1]})}
    if lap:
        rho_1 = case["percent_lapped"]
        chain = en1992_2004.lap_chain(rho_1=rho_1, **common)
        more = None if approved is None else en1992_2004.lap_chain(rho_1=rho_1, **common, **approved).value
    else:
        pressed = bool(case["compression"])
        chain = en1992_2004.anchorage_chain(compression=pressed, **common)
        more = (
            None if approved is None else en1992_2004.anchorage_chain(compression=pressed, **common, **approved).value
        )
    known, show = chain.known, case.display
    least = known["l_0_min" if lap else "l_b_min"]
    reason = (
        f"bond stress f_bd = {show.plain(known['f_bd'], 'MPa', 3)}, constant along the bar: the length grows in"
        f" proportion to the stress ({show.plain(sigma, 'MPa', 4)}); cover shortens it by the factor"
        f" {known['alpha_2']:.3g}, never below 0.7"
        + (f"; the least length of {show.plain(least, 'mm', 4)} decides" if chain.value <= least * (1 + 1e-9) else "")
    )
    return chain.value, more, reason


def _compare_2023(case: DesignCase, f_ck: float, sigma: float, good: bool, clear: float, lap: bool) -> _Compared:
    phi, k_cp, show = case.bar.diameter, 1.0 if good else 1.2, case.display
    l_bd = en1992_2023.anchorage_length(phi=phi, f_ck=f_ck, sigma_sd=sigma, c_d=clear, k_cp=k_cp)
    length = en1992_2023.lap_length(l_bd=l_bd, phi=phi) if lap else l_bd
    k_b_pi, alpha_lb = case["approval.k_b_pi"], case["approval.alpha_lb"]
    more = None
    if k_b_pi is not None and alpha_lb is not None:
        more = en1992_2023.post_installed_chain(
            phi=phi, f_ck=f_ck, sigma_sd=sigma, c_d=clear, k_b_pi=k_b_pi, alpha_lb=alpha_lb, k_cp=k_cp, lap=lap
        ).value
    reason = (
        f"the length grows with the power 1.5 of the stress: at {show.plain(sigma, 'MPa', 4)} it takes"
        f" {(sigma / 435) ** 1.5:.3g} of the length at {show.plain(435, 'MPa', 4)}; it falls with the square root of"
        f" the concrete strength and of the cover (c_d = {show.plain(clear, 'mm', 4)}), and thick bars need more"
        " diameters"
        + ("; the least length in diameters decides" if length <= (15 if lap else 10) * phi * (1 + 1e-9) else "")
    )
    return length, more, reason


def _calculated_aci(phi: float, f_y: float, f_c: float, c_b: float, factors: dict[str, float]) -> float:
    """Development length before its least length [in]; given in mm and MPa."""
    inches = {
        "d_b": convert(phi, "mm", "in"),
        "f_y": convert(f_y, "MPa", "psi"),
        "f_c": convert(f_c, "MPa", "psi"),
        "c_b": convert(c_b, "mm", "in"),
    }
    return aci318_19.development_chain(**inches, **factors).known["l_d_calc"]


def _compare_aci(case: DesignCase, own: GroupDesign, f_ck: float, f_yk: float, lap: bool) -> _Compared:
    converted = replace(
        case,
        code=ACI,
        values=(*((n, v) for n, v in case.values if n not in ("f_c", "f_y")), ("f_c", f_ck), ("f_y", f_yk)),
    )
    factors = {name: value for name, value, _ in aci_factors(converted)}
    phi = case.bar.diameter
    centre = min(case["spacing"] / 2, case["cover"] + phi / 2, *(() if case["edge"] is None else (case["edge"],)))
    full = aci318_19.development_length_metric(d_b=phi, f_y=f_yk, f_c=f_ck, c_b=centre, **factors)
    share = own.stress / (0.9 * f_yk)
    if lap:
        class_a = share <= 0.5 and case["percent_lapped"] <= 50
        calculated = _calculated_aci(phi, f_yk, f_ck, centre, factors)
        length = convert(aci318_19.splice_length(l_d=calculated, class_b=not class_a), "in", "mm")
        words = f"Class {'A' if class_a else 'B'} splice: {'1.0' if class_a else '1.3'} times the development length"
    else:
        length, words = full, "the bar is developed for its full yield strength, whatever its force"
        if case["excess_reduction"]:
            calculated = _calculated_aci(phi, f_yk, f_ck, centre, factors)
            length = convert(max(12, calculated * share), "in", "mm")
            words = f"the development length is shortened for the force, which needs {share:.3g} of the bar"
    reason = (
        f"{words}; no partial factor on the concrete, the square root of f'c, and cover counts up to 2.5 bar diameters"
        " from the bar's centre" + ("; the least length of 12 in decides" if length <= 304.8 * (1 + 1e-9) else "")
    )
    return length, None, reason
