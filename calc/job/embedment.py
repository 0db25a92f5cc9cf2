"""The embedment that every bar group needs by the code of its job, its detailing checks, and what a short hole costs in force.

A bar group with a force becomes a `DesignCase`; `design` works it into a `GroupDesign`: steps, checks, notices, and the numbers that
the notebook draws from. Each step shows its quantities in units of one family: a force per length keeps its step in N and mm, and
ACI's own formulas run and are shown in in, psi and lbf. Sentences and checks are in the job's units.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from numpy.typing import ArrayLike

from calc.base.bars import Bar, find_bar
from calc.base.formula import Formula, formula
from calc.base.maths import ceil, max, min
from calc.base.sheet import Check, Given, Sheet, Step, System, amount, apply, plain_text
from calc.base.units import Inch, Inch2, Lbf, LbfPerInch, Mm, Mm2, MPa, Newton, NewtonPerMm, Psi, Ratio, Whole, convert
from calc.fill.hole import bar_area
from calc.job import doses
from calc.job.designfile import ACI, CODES, EN04, EN23, Chosen, choose, from_diameter, stress_area
from calc.job.jobfile import Job
from calc.job.schedule import BarGroup, tidy
from calc.strength import aci318_19, detailing, en1992_2004, en1992_2023, interface, short
from calc.strength.cautions import strength_cautions
from calc.strength.chain import Chain

NOTEBOOK = "04_embedment"
GEOMETRY, STATICS = "geometry", "statics"

_FORCE = (0.0, 1e7)
_AREA = (1.0, 5000.0)
_LENGTH = (0.1, 1e5)
_LINE = (0.0, 1e5)
_ROWS = (1.0, 100.0)


# --- forces and stresses ---------------------------------------------------------------------------------------------


@formula(symbol="N_Ed", source=STATICS, limits={"q_Ed": _LINE, "s": _LENGTH})
def force_of_line(*, q_Ed: NewtonPerMm, s: Mm) -> Newton:
    """Design force of one bar from the force per length.

    Parameters
    ----------
    q_Ed : float or ndarray [N/mm]
        Design force per length of joint.
    s : float or ndarray [mm]
        Centre spacing of the bars.

    Returns
    -------
    float or ndarray [N]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return q_Ed * s


@formula(symbol="sigma_sd", source=STATICS, limits={"N_Ed": _FORCE, "A_s": _AREA})
def stress_of_force(*, N_Ed: Newton, A_s: Mm2) -> MPa:
    """Design stress of the bar where its anchorage begins.

    Parameters
    ----------
    N_Ed : float or ndarray [N]
        Design force of the bar.
    A_s : float or ndarray [mm²]
        Cross-section of the bar.

    Returns
    -------
    float or ndarray [MPa]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return N_Ed / A_s


@formula(symbol="N_Ed", source=STATICS, limits={"A_s": _AREA, "sigma_sd": (0.0, 1000.0)})
def force_of_stress(*, A_s: Mm2, sigma_sd: MPa) -> Newton:
    """Force that a bar of the joint has to be anchored for.

    Parameters
    ----------
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    sigma_sd : float or ndarray [MPa]
        Bar stress that the joint counts on.

    Returns
    -------
    float or ndarray [N]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return A_s * sigma_sd


@formula(
    symbol="f_yd",
    source="EN 1992-1-1, design strength of the steel (2004: 3.2.7(2), Fig. 3.8; from memory)",
    limits={"f_yk": (100.0, 1000.0), "gamma_S": (1.0, 1.5)},
)
def design_yield_strength(*, f_yk: MPa, gamma_S: Ratio) -> MPa:
    """Design yield strength of the steel.

    Parameters
    ----------
    f_yk : float or ndarray [MPa]
        Characteristic yield strength of the steel.
    gamma_S : float or ndarray [-]
        Partial factor for steel.

    Returns
    -------
    float or ndarray [MPa]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return f_yk / gamma_S


@formula(symbol="f_cd", source=f"{EN04}, 3.1.6(1), (3.15) (from memory)", limits={"alpha_cc": (0.5, 1.0), "f_ck": (12.0, 90.0), "gamma_C": (1.0, 2.0)})
def design_compressive_strength(*, alpha_cc: Ratio, f_ck: MPa, gamma_C: Ratio) -> MPa:
    """Design compressive strength of the concrete.

    Parameters
    ----------
    alpha_cc : float or ndarray [-]
        National factor for long-term effects.
    f_ck : float or ndarray [MPa]
        Characteristic cylinder strength of the concrete.
    gamma_C : float or ndarray [-]
        Partial factor for concrete.

    Returns
    -------
    float or ndarray [MPa]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return alpha_cc * f_ck / gamma_C


@formula(
    symbol="f_cd",
    source=f"{EN23}, 5.1.6(1) (from memory)",
    limits={"k_tc": (0.5, 1.0), "f_ck": (12.0, 100.0), "gamma_C": (1.0, 2.0)},
    homogeneous=False,
)
def design_compressive_strength_2023(*, k_tc: Ratio, f_ck: MPa, gamma_C: Ratio) -> MPa:
    """Design compressive strength of the concrete, less than in proportion above 40 MPa.

    Parameters
    ----------
    k_tc : float or ndarray [-]
        Factor for long-term effects.
    f_ck : float or ndarray [MPa]
        Characteristic cylinder strength of the concrete.
    gamma_C : float or ndarray [-]
        Partial factor for concrete.

    Returns
    -------
    float or ndarray [MPa]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return min(1, (40 / f_ck) ** (1 / 3)) * k_tc * f_ck / gamma_C


# --- covers and lengths ----------------------------------------------------------------------------------------------


@formula(symbol="c_d", source="EN 1992-1-1 (2004: Fig. 8.3), straight bars", limits={"s": _LENGTH, "phi": (0.1, 60.0), "c": _LENGTH}, relations=("phi < s",))
def smallest_cover(*, s: Mm, phi: Mm, c: Mm) -> Mm:
    """Smallest of half the clear spacing and the cover.

    Parameters
    ----------
    s : float or ndarray [mm]
        Centre spacing of the bars.
    phi : float or ndarray [mm]
        Nominal diameter of the bar (mass-equivalent).
    c : float or ndarray [mm]
        Clear cover of the bar.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return min((s - phi) / 2, c)


@formula(
    symbol="c_d",
    source="EN 1992-1-1 (2004: Fig. 8.3), straight bars",
    limits={"s": _LENGTH, "phi": (0.1, 60.0), "c": _LENGTH, "c_edge": _LENGTH},
    relations=("phi < s", "phi < c_edge"),
)
def smallest_cover_edge(*, s: Mm, phi: Mm, c: Mm, c_edge: Mm) -> Mm:
    """Smallest of half the clear spacing, the cover and the cover at the edge.

    Parameters
    ----------
    s : float or ndarray [mm]
        Centre spacing of the bars.
    phi : float or ndarray [mm]
        Nominal diameter of the bar (mass-equivalent).
    c : float or ndarray [mm]
        Clear cover of the bar.
    c_edge : float or ndarray [mm]
        Bar's centre to the edge in the other direction.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return min((s - phi) / 2, c, c_edge - phi / 2)


@formula(symbol="c_b", source=f"{ACI}, 25.4.2.4", limits={"s": (0.1, 1000.0), "d_b": (0.2, 2.4), "c": (0.0, 500.0)})
def centre_cover(*, s: Inch, d_b: Inch, c: Inch) -> Inch:
    """Bar's centre to the nearest face, or half the centre spacing.

    Parameters
    ----------
    s : float or ndarray [in]
        Centre spacing of the bars.
    d_b : float or ndarray [in]
        Nominal diameter of the bar, ACI.
    c : float or ndarray [in]
        Clear cover of the bar.

    Returns
    -------
    float or ndarray [in]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return min(s / 2, c + d_b / 2)


@formula(symbol="c_b", source=f"{ACI}, 25.4.2.4", limits={"s": (0.1, 1000.0), "d_b": (0.2, 2.4), "c": (0.0, 500.0), "c_edge": (0.1, 1000.0)})
def centre_cover_edge(*, s: Inch, d_b: Inch, c: Inch, c_edge: Inch) -> Inch:
    """Bar's centre to the nearest face or edge, or half the centre spacing.

    Parameters
    ----------
    s : float or ndarray [in]
        Centre spacing of the bars.
    d_b : float or ndarray [in]
        Nominal diameter of the bar, ACI.
    c : float or ndarray [in]
        Clear cover of the bar.
    c_edge : float or ndarray [in]
        Bar's centre to the edge in the other direction.

    Returns
    -------
    float or ndarray [in]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return min(s / 2, c + d_b / 2, c_edge)


@formula(
    symbol="l_v",
    source="EOTA EAD 330087 (from memory), with the lap of EN 1992-1-1:2023",
    limits={"l_sd_pi": (0.0, 1e5), "delta_l": (0.0, 1e5), "c_e": (0.0, 1e4)},
)
def lap_embedment_2023(*, l_sd_pi: Mm, delta_l: Mm, c_e: Mm) -> Mm:
    """Embedment that a lap needs: the existing bar ends one cover short of the joint, and that length does not lap.

    Parameters
    ----------
    l_sd_pi : float or ndarray [mm]
        Design lap length of a post-installed bar.
    delta_l : float or ndarray [mm]
        Lengthening of the lap for a wide gap between its bars.
    c_e : float or ndarray [mm]
        Cover at the end of the existing bar.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return l_sd_pi + delta_l + c_e


@formula(symbol="l_v", source=GEOMETRY, limits={"l_st": (0.0, 1000.0), "c_e": (0.0, 400.0)})
def splice_embedment(*, l_st: Inch, c_e: Inch) -> Inch:
    """Embedment that a lap splice needs: the existing bar ends one cover short of the joint.

    Parameters
    ----------
    l_st : float or ndarray [in]
        Length of a tension lap splice.
    c_e : float or ndarray [in]
        Cover at the end of the existing bar.

    Returns
    -------
    float or ndarray [in]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return l_st + c_e


# --- joints ----------------------------------------------------------------------------------------------------------


@formula(symbol="v_Edi", source=STATICS, limits={"q_Ed": _LINE, "b_j": _LENGTH})
def joint_stress(*, q_Ed: NewtonPerMm, b_j: Mm) -> MPa:
    """Design shear stress in the joint.

    Parameters
    ----------
    q_Ed : float or ndarray [N/mm]
        Design shear force per length of joint.
    b_j : float or ndarray [mm]
        Width of the joint across the shear.

    Returns
    -------
    float or ndarray [MPa]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return q_Ed / b_j


@formula(symbol="s_1", source=GEOMETRY, limits={"b_j": _LENGTH, "n_r": _ROWS})
def row_width(*, b_j: Mm, n_r: Whole) -> Mm:
    """Width of joint that one row of bars serves.

    Parameters
    ----------
    b_j : float or ndarray [mm]
        Width of the joint across the shear.
    n_r : float or ndarray [-]
        Rows of bars over that width.

    Returns
    -------
    float or ndarray [mm]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return b_j / n_r


@formula(symbol="rho", source=GEOMETRY, limits={"A_s": _AREA, "s_1": _LENGTH, "s_2": _LENGTH})
def joint_bar_ratio(*, A_s: Mm2, s_1: Mm, s_2: Mm) -> Ratio:
    """Area of bars per area of joint.

    Parameters
    ----------
    A_s : float or ndarray [mm²]
        Cross-section of the bar.
    s_1 : float or ndarray [mm]
        Spacing of the bars across the joint.
    s_2 : float or ndarray [mm]
        Spacing of the bars along the joint.

    Returns
    -------
    float or ndarray [-]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return A_s / (s_1 * s_2)


@formula(symbol="A_req", source=f"{ACI}, 22.2 and 21.2 (from memory)", limits={"N_Ed": (0.0, 1e6), "phi_t": (0.3, 1.0), "f_y": (1000.0, 120000.0)})
def required_bar_area_aci(*, N_Ed: Lbf, phi_t: Ratio, f_y: Psi) -> Inch2:
    """Bar area that the factored force requires.

    Parameters
    ----------
    N_Ed : float or ndarray [lbf]
        Factored force of the bar.
    phi_t : float or ndarray [-]
        Strength reduction factor for tension.
    f_y : float or ndarray [psi]
        Specified yield strength of the steel, ACI.

    Returns
    -------
    float or ndarray [in²]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return N_Ed / (phi_t * f_y)


@formula(symbol="V_u", source=STATICS, limits={"q_Ed": (0.0, 1e5), "s": (0.1, 1000.0)})
def shear_of_pitch(*, q_Ed: LbfPerInch, s: Inch) -> Lbf:
    """Factored shear force on the length of joint that one spacing of bars covers.

    Parameters
    ----------
    q_Ed : float or ndarray [lbf/in]
        Factored shear force per length of joint.
    s : float or ndarray [in]
        Centre spacing of the bars along the joint.

    Returns
    -------
    float or ndarray [lbf]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return q_Ed * s


@formula(symbol="A_c", source=GEOMETRY, limits={"b_j": (0.1, 1000.0), "s": (0.1, 1000.0)})
def joint_area_of_pitch(*, b_j: Inch, s: Inch) -> Inch2:
    """Area of joint that one spacing of bars covers.

    Parameters
    ----------
    b_j : float or ndarray [in]
        Width of the joint across the shear.
    s : float or ndarray [in]
        Centre spacing of the bars along the joint.

    Returns
    -------
    float or ndarray [in²]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return b_j * s


@formula(symbol="A_prov", source=GEOMETRY, limits={"n_r": _ROWS, "A_s": (0.01, 10.0)})
def joint_steel_of_pitch(*, n_r: Whole, A_s: Inch2) -> Inch2:
    """Area of bars across the joint within one spacing.

    Parameters
    ----------
    n_r : float or ndarray [-]
        Rows of bars over the width of the joint.
    A_s : float or ndarray [in²]
        Cross-section of the bar.

    Returns
    -------
    float or ndarray [in²]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return n_r * A_s


@formula(symbol="V_d", source=f"{ACI}, 22.9.3 and 22.9.4", limits={"phi_v": (0.4, 0.9), "V_n": (0.0, 1e9), "V_n_max": (0.0, 1e9)})
def design_shear_friction(*, phi_v: Ratio, V_n: Lbf, V_n_max: Lbf) -> Lbf:
    """Design shear friction strength with its limit applied.

    Parameters
    ----------
    phi_v : float or ndarray [-]
        Strength reduction factor for shear.
    V_n : float or ndarray [lbf]
        Nominal shear friction strength.
    V_n_max : float or ndarray [lbf]
        Upper limit of the nominal shear friction strength.

    Returns
    -------
    float or ndarray [lbf]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return phi_v * min(V_n, V_n_max)


@formula(
    symbol="s_2",
    source=f"{ACI}, 22.9.4.2 solved for the spacing",
    limits={"phi_v": (0.4, 0.9), "mu": (0.1, 1.4), "A_prov": (0.01, 1000.0), "f_y": (1000.0, 60000.0), "q_Ed": (0.1, 1e5)},
)
def spacing_of_shear_aci(*, phi_v: Ratio, mu: Ratio, A_prov: Inch2, f_y: Psi, q_Ed: LbfPerInch) -> Inch:
    """Spacing along the joint at which these bars carry the shear.

    Parameters
    ----------
    phi_v : float or ndarray [-]
        Strength reduction factor for shear.
    mu : float or ndarray [-]
        Friction coefficient of the joint.
    A_prov : float or ndarray [in²]
        Area of bars across the joint within one spacing.
    f_y : float or ndarray [psi]
        Specified yield strength of the steel, ACI.
    q_Ed : float or ndarray [lbf/in]
        Factored shear force per length of joint.

    Returns
    -------
    float or ndarray [in]

    Raises
    ------
    RangeError
        A value outside its range.
    """
    return phi_v * mu * A_prov * f_y / q_Ed


# --- what a design starts from ---------------------------------------------------------------------------------------

GOVERNS = "the national annex governs"
# What the codes recommend where the job file says nothing: value, and where it stands.
DEFAULTS: dict[str, dict[str, tuple[float, str]]] = {
    EN04: {
        "gamma_C": (1.5, f"recommended value of {EN04}, 2.4.2.4; {GOVERNS}"),
        "gamma_S": (1.15, f"recommended value of {EN04}, 2.4.2.4; {GOVERNS}"),
        "alpha_ct": (1.0, f"recommended value of {EN04}, 3.1.6(2); {GOVERNS}"),
        "alpha_cc": (1.0, f"recommended value of {EN04}, 3.1.6(1); {GOVERNS}"),
    },
    EN23: {
        "gamma_C": (1.5, f"recommended value of {EN23}, Table 4.3 (from memory); {GOVERNS}"),
        "gamma_S": (1.15, f"recommended value of {EN23}, Table 4.3 (from memory); {GOVERNS}"),
        "k_tc": (1.0, f"recommended value of {EN23}, 5.1.6(1) (from memory); {GOVERNS}"),
    },
    ACI: {
        "phi_t": (0.90, f"{ACI}, Table 21.2.2, tension (from memory)"),
        "phi_v": (0.75, f"{ACI}, Table 21.2.1, shear"),
    },
}


@dataclass(frozen=True)
class DesignCase:
    """All that decides the design of one bar group; forces [N, N/m], stresses [MPa], lengths [mm], volumes [mm³]."""

    code: str
    mark: str
    bar: Bar
    hole_diameter: float
    embedment: float
    overdrill: float
    tip: float
    direction: str
    system: System
    required_volume: float
    rounded_dose: float
    measured: bool
    values: tuple[tuple[str, Any], ...]
    origins: tuple[tuple[str, str], ...]

    def __getitem__(self, name: str) -> Any:
        """Return a value of the job file by its key; None when it was not given."""
        return dict(self.values).get(name)

    def origin(self, name: str) -> str:
        """Where a value comes from."""
        return dict(self.origins).get(name, "typed in the panel")

    @property
    def use(self) -> str:
        """What the bar does: ``anchorage``, ``lap`` or ``joint``."""
        return self["use"]

    @property
    def approval(self) -> str:
        """The approval in words; empty when none is named."""
        number, page = self["approval.number"], self["approval.page"]
        made_up = " (invented)" if self["approval.invented"] else ""
        return f"{number}{made_up}{f', {page}' if page else ''}" if number else ""

    def default(self, name: str) -> Given:
        """Return a factor: the job's own, or what the code recommends, marked as such."""
        key = "phi" if name in ("phi_t", "phi_v") else name
        value = self[key]
        if value is not None:
            return Given(value, "", self.origin(key))
        value, said = DEFAULTS[self.code][name]
        return Given(value, "", said)

    @property
    def defaults_used(self) -> tuple[str, ...]:
        """What stands in for factors that the job file does not give, in words."""
        names = {
            EN04: ("gamma_C", "gamma_S", "alpha_ct", "alpha_cc"),
            EN23: ("gamma_C", "gamma_S", "k_tc"),
            ACI: ("phi_t", "phi_v"),
        }[self.code]
        return tuple(
            f"{name} = {DEFAULTS[self.code][name][0]:g} ({DEFAULTS[self.code][name][1]})"
            for name in names
            if self["phi" if name.startswith("phi_") else name] is None
        )


@dataclass(frozen=True)
class Joint:
    """Shear across a joint: stresses [MPa], spacings [mm]; None where no bars are needed or none would do."""

    demand: float
    resistance: float
    ratio: float
    ratio_needed: float | None
    spacing_needed: float | None


@dataclass(frozen=True)
class GroupDesign:
    """A designed bar group: geometry, results and sheet; lengths [mm], forces [N], volumes [mm³]."""

    case: DesignCase
    sheet: Sheet
    area: float
    force: float
    stress: float
    c_d: float
    required: float
    advised: float
    bonded_full: float
    law: short.BondLaw
    capacity_full: float
    least_dose: float | None
    least_dose_reason: str
    lost_per_mL: float
    losses: tuple[short.LossRow, ...]
    joint: Joint | None = None
    share_below: float | None = None

    @property
    def passes(self) -> bool:
        """Whether every check passes."""
        return all(check.passes for check in self.sheet.checks)

    @property
    def force_lost_per_mL(self) -> float:
        """Force that the first missing millilitre takes from the full hole's capacity [N]."""
        return self.capacity_full - self.losses[1].N_R

    def entry(self) -> dict[str, Any]:
        """Return the group's keys in results.json."""
        case, in_kn, in_ml = self.case, 1e-3, 1e-3
        least = None if self.least_dose is None else self.least_dose * in_ml
        found: dict[str, Any] = {
            "code": case.code,
            "use": case.use,
            "required_embedment_mm": self.required,
            "advised_embedment_mm": self.advised,
            "design_force_kN": self.force * in_kn,
            "design_stress_MPa": self.stress,
            "capacity_full_kN": self.capacity_full * in_kn,
            "least_dose_mL": least,
            "lost_length_per_mL_mm": self.lost_per_mL,
            "lost_force_first_mL_kN": self.force_lost_per_mL * in_kn,
            "share_below_design_force": self.share_below,
        }
        if self.joint is not None:
            found |= {
                "joint_shear_MPa": self.joint.demand,
                "joint_resistance_MPa": self.joint.resistance,
                "joint_spacing_needed_mm": self.joint.spacing_needed,
            }
        return found


def case_of(job: Job, group: BarGroup, worked: doses.Worked | None = None) -> DesignCase | None:
    """Gather what decides the design of a bar group of a job.

    Parameters
    ----------
    job
        A validated job.
    group
        One of its bar groups.
    worked
        Its worked dose, when it is at hand already.

    Returns
    -------
    DesignCase or None
        None when the job gives this group no force.
    """
    if job.design is None:
        return None
    chosen = choose(job.design, group.mark)
    if not chosen.designed:
        return None
    worked = worked or doses.work(doses.case_of(job, group))
    return DesignCase(
        code=chosen.code,
        mark=group.mark,
        bar=group.bar,
        hole_diameter=group.hole_diameter,
        embedment=group.embedment,
        overdrill=worked.case.overdrill,
        tip=job.equipment.point_angle,
        direction=group.direction,
        system=job.display.units,
        required_volume=worked.required,
        rounded_dose=worked.rounded,
        measured=worked.case.measured is not None,
        values=tuple(chosen.values.items()),
        origins=_origins(job, group, chosen),
    )


def _origins(job: Job, group: BarGroup, chosen: Chosen) -> tuple[tuple[str, str], ...]:
    name, table = job.path.name, f"{job.schedule_path.name} row {group.row}"
    found = {key: f"{name}, {where}" for key, where in chosen.keys.items()}
    found |= {"hole_diameter": f"{table}, hole_diameter", "embedment": f"{table}, embedment", "bar": f"{group.bar.standard}, bar {group.bar.designation}"}
    return tuple(found.items())


# --- one group -------------------------------------------------------------------------------------------------------


class _Steps:
    """Collects the steps of one group; what is given or found is known by its symbol, with its origin."""

    def __init__(self, case: DesignCase) -> None:
        self.case = case
        self.steps: dict[str, Step] = {}
        self.known: dict[str, list[Given]] = {}
        self.notices: list[str] = []
        self.length = Chain()  # the chain that gave the anchorage or the lap

    def give(self, symbol: str, value: float, unit: str, origin: str) -> Given:
        given = Given(value, unit, origin)
        self.known.setdefault(symbol, []).insert(0, given)
        return given

    def key(self, symbol: str, name: str, unit: str, *, source: str = "mm") -> Given:
        """Give a value of the job file under its symbol."""
        return self.give(symbol, tidy(convert(self.case[name], source, unit)), unit, self.case.origin(name))

    def last(self, symbol: str) -> Given:
        return self.known[symbol][0]

    def value(self, symbol: str) -> float:
        return self.last(symbol).value

    def add(self, formula: Formula, label: str, symbol: str | None = None, **inputs: Given) -> Given:
        """Apply a formula; what is not given here is taken from what is known."""
        name = symbol or formula.symbol
        found = {n: inputs.get(n) or self.last(n) for n in formula.parameters}
        step = apply(formula, id=f"04.{self.case.mark}.{name}", label=label, inputs=found, symbol=symbol, system=_system(formula, self.case))
        self._keep(name, step)
        return step.as_given()

    def run(self, chain: Chain, part: str = "", *, say: bool = True) -> None:
        """Take over the steps of a chain; an input gets the origin of the known value that it equals, or the chain's own reason."""
        for link in chain.links:
            inputs = {
                name: Given(link.values[name], unit, self._whence(name, link.values[name], unit) or chain.reasons.get(name, "input"))
                for name, unit in link.formula.parameters.items()
            }
            id = f"04.{self.case.mark}{part}.{link.formula.symbol}"
            label = link.label[0].upper() + link.label[1:]
            self._keep(link.formula.symbol, apply(link.formula, id=id, label=label, inputs=inputs, system=_system(link.formula, self.case)))
        for sentence in chain.notices if say else ():
            shared = sentence in (short.ASSUMPTION, short.NOT_CONFORMING)
            self.notices.append(sentence if shared else f"{self.case.mark}: {sentence.rstrip('.')}.")

    def _whence(self, name: str, value: float, unit: str) -> str:
        same = (g for g in self.known.get(name, ()) if g.unit == unit and math.isclose(g.value, value, rel_tol=1e-9))
        return next((given.origin for given in same), "")

    def _keep(self, symbol: str, step: Step) -> None:
        old = self.steps.get(step.id)
        if old is not None and not math.isclose(old.value, step.value, rel_tol=1e-9):
            raise ValueError(f"two steps are called {step.id}")
        if old is None:
            self.steps[step.id] = step
            self.known.setdefault(symbol, []).insert(0, step.as_given())


def _system(formula: Formula, case: DesignCase) -> System:
    """Show a step in the job's units; one with a force per length stays in N and mm, so that its arithmetic holds."""
    return "metric" if "N/mm" in (formula.unit, *formula.parameters.values()) else case.system


@lru_cache(maxsize=512)
def design(case: DesignCase) -> GroupDesign:
    """Design one bar group: required embedment, detailing, joint, and strength when short.

    Parameters
    ----------
    case
        Code, bar, hole, forces and what is known of the old concrete.

    Returns
    -------
    GroupDesign

    Raises
    ------
    ValueError
        A value outside a formula's validity, in a sentence.
    """
    steps = _Steps(case)
    _area(steps)
    length, c_d = {EN04: _length_2004, EN23: _length_2023, ACI: _length_aci}[case.code](steps)
    joint, checks = _joint(steps)
    required = tidy(length)
    law = _law(steps)
    force, l_v = steps.value("N_Ed") if case.code != ACI else convert(steps.value("N_Ed"), "lbf", "N"), case.embedment
    phi, d_0 = case.bar.diameter, case.hole_diameter
    least = short.least_dose(law=law, N_Ed=force, V_req=case.required_volume, d_0=d_0, l_v=l_v)
    one = short.short_chain(law=law, V_short=1000.0, d_0=d_0, l_v=l_v)
    _given_of_short(steps)
    steps.run(least.chain)
    steps.run(one.chain, say=False)
    full = short.bonded_length_left(u=0.0, l_v=l_v, c_e=law.start, delta_l=law.idle)
    ring = math.pi / 4 * (d_0**2 - phi**2) * l_v
    volumes = [0.0, 1000.0, *(share * ring for share in (0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.50))]
    checks = (_embedment_check(case, required), *checks, *_approval_checks(case))
    found, said = _detailing(steps)
    return GroupDesign(
        case=case,
        sheet=Sheet(NOTEBOOK, tuple(steps.steps.values()), (*checks, *found), tuple(dict.fromkeys([*_notices(case, least), *said, *steps.notices]))),
        area=stress_area(case.bar),
        force=force,
        stress=force / stress_area(case.bar),
        c_d=c_d,
        required=required,
        advised=_rounded_up(required, case.system),
        bonded_full=full,
        law=law,
        capacity_full=short.capacity(law=law, l_b=full),
        least_dose=least.V_least,
        least_dose_reason=least.reason,
        lost_per_mL=one.u,
        losses=short.loss_table(law=law, V_short=volumes, d_0=d_0, l_v=l_v, N_Ed=force),
        joint=joint,
    )


def _area(steps: _Steps) -> None:
    case, aci = steps.case, steps.case.code == ACI
    steps.give("phi", case.bar.diameter, "mm", case.origin("bar"))
    if from_diameter(case.bar):
        steps.add(bar_area, "Cross-section of the bar")
        if aci:
            steps.give("A_s", convert(steps.value("A_s"), "mm²", "in²"), "in²", steps.last("A_s").origin)
        return
    origin = f"{case.origin('bar')}, area of the table"
    steps.give("A_s", case.bar.area, "mm²", origin)
    if aci:
        steps.give("A_s", tidy(convert(case.bar.area, "mm²", "in²")), "in²", origin)


def _force_and_stress(steps: _Steps) -> None:
    """EN: force and stress of the bar, from the force or, in a joint, from the stress that is counted on."""
    case = steps.case
    steps.key("f_yk", "f_yk", "MPa", source="MPa")
    steps.known["gamma_S"] = [case.default("gamma_S")]
    steps.add(design_yield_strength, "Design yield strength of the steel")
    if case["force_per_length"] is not None:
        steps.key("q_Ed", "force_per_length", "N/mm", source="N/m")
        steps.key("s", "spacing", "mm")
    if case.use == "joint":
        counted = case["bar_stress"]
        if counted is None:
            steps.give("sigma_sd", steps.value("f_yd"), "MPa", f"{steps.last('f_yd').origin}: the joint counts on the yield strength")
        else:
            steps.key("sigma_sd", "bar_stress", "MPa", source="MPa")
        steps.add(force_of_stress, "Force that the joint's bar is anchored for")
        return
    if case["force"] is not None:
        steps.key("N_Ed", "force", "N", source="N")
    else:
        steps.add(force_of_line, "Design force of one bar")
    steps.add(stress_of_force, "Design stress of the bar")


def _smallest_cover(steps: _Steps) -> float:
    case, aci = steps.case, steps.case.code == ACI
    unit = "in" if aci else "mm"
    steps.key("s", "spacing", unit)
    steps.key("c", "cover", unit)
    if case["edge"] is not None:
        steps.key("c_edge", "edge", unit)
        return steps.add(centre_cover_edge if aci else smallest_cover_edge, "Smallest cover that counts").value
    return steps.add(centre_cover if aci else smallest_cover, "Smallest cover that counts").value


def _length_2004(steps: _Steps) -> tuple[float, float]:
    case = steps.case
    _force_and_stress(steps)
    c_d = _smallest_cover(steps)
    steps.key("f_ck", "f_ck", "MPa", source="MPa")
    for name in ("gamma_C", "alpha_ct"):
        steps.known[name] = [case.default(name)]
    said = f"approval {case.approval}"
    k_b = steps.give("k_b", case["approval.k_b"], "", f"{case.origin('approval.k_b')}: {said}").value
    alpha_lb = steps.give("alpha_lb", case["approval.alpha_lb"], "", f"{case.origin('approval.alpha_lb')}: {said}").value
    straight = "straight bar, no transverse bars or pressure counted on"
    for name in ("alpha_1", "alpha_3", "alpha_5"):
        steps.give(name, 1.0, "", straight)
    common: dict[str, Any] = {
        "phi": case.bar.diameter, "f_ck": steps.value("f_ck"), "sigma_sd": steps.value("sigma_sd"), "good_bond": case["bond"] == "good", "c_d": c_d,
        "alpha_ct": steps.value("alpha_ct"), "gamma_C": steps.value("gamma_C"), "k_b": k_b, "alpha_lb": alpha_lb,
    }  # fmt: skip
    if case.use == "lap":
        c_e, s_l = steps.key("c_e", "end_cover", "mm").value, steps.key("s_l", "gap", "mm").value
        rho_1 = steps.give("rho_1", case["percent_lapped"], "%", case.origin("percent_lapped")).value
        chain = en1992_2004.post_installed_lap_chain(rho_1=rho_1, c_e=c_e, s_l=s_l, **common)
    else:
        chain = en1992_2004.anchorage_chain(compression=bool(case["compression"]), **common)
    steps.run(chain)
    steps.length = chain
    return chain.value, c_d


def _length_2023(steps: _Steps) -> tuple[float, float]:
    case = steps.case
    _force_and_stress(steps)
    c_d = _smallest_cover(steps)
    steps.key("f_ck", "f_ck", "MPa", source="MPa")
    said = f"approval {case.approval}"
    k_b_pi = steps.give("k_b_pi", case["approval.k_b_pi"], "", f"{case.origin('approval.k_b_pi')}: {said}").value
    alpha_lb = steps.give("alpha_lb", case["approval.alpha_lb"], "", f"{case.origin('approval.alpha_lb')}: {said}").value
    steps.give("k_lb", 50.0, "", f"{EN23}, 11.4.2(3): persistent and transient situations")
    k_cp = 1.0 if case["bond"] == "good" else 1.2
    steps.give("k_cp", k_cp, "", f"{EN23}, 11.4.2: {case['bond']} bond condition ({case.origin('bond')})")
    lap = case.use == "lap"
    chain = en1992_2023.post_installed_chain(
        phi=case.bar.diameter, f_ck=steps.value("f_ck"), sigma_sd=steps.value("sigma_sd"), c_d=c_d, k_b_pi=k_b_pi, alpha_lb=alpha_lb, k_cp=k_cp, lap=lap
    )
    steps.run(chain)
    steps.length = chain
    if case["gamma_C"] not in (None, 1.5) and case.use != "joint":
        steps.notices.append(
            f"{case.mark}: gamma_C = {case['gamma_C']:g} changes nothing here: formula (11.3) of {EN23} has the factor 1.5 inside its coefficient."
        )
    if not lap:
        return chain.value, c_d
    steps.key("c_e", "end_cover", "mm")
    steps.key("s_l", "gap", "mm")
    steps.add(en1992_2004.gap_extension_post_installed, "Lengthening for the gap between the lapped bars")
    return steps.add(lap_embedment_2023, "Embedment that the lap needs").value, c_d


def _length_aci(steps: _Steps) -> tuple[float, float]:
    case = steps.case
    _factored_force(steps)
    steps.give("d_b", tidy(convert(case.bar.diameter, "mm", "in")), "in", case.origin("bar"))
    c_b = _smallest_cover(steps)
    steps.key("f_c", "f_c", "psi", source="MPa")
    factors = {name: steps.give(name, value, "", said).value for name, value, said in _aci_factors(case)}
    chain = aci318_19.development_chain(d_b=steps.value("d_b"), f_y=steps.value("f_y"), f_c=steps.value("f_c"), c_b=c_b, K_tr=0.0, **factors)
    steps.give("K_tr", 0.0, "in", "not counted on; the code allows zero")
    if case.use == "anchorage" and case["excess_reduction"]:
        chain.known |= {"A_req": steps.value("A_req"), "A_prov": steps.value("A_s")}
        steps.give("A_prov", steps.value("A_s"), "in²", steps.last("A_s").origin)
        # The reduced length takes the place of the full one: its symbol is the same.
        chain.links = [link for link in chain.links if link.formula is not aci318_19.least_development]
        chain.use(aci318_19.reduced_development, "development length, reduced by the force")
        chain.note("the development length is shortened for the force (ACI 318-19, 25.4.10): not allowed where the bar must reach its yield strength")
    if case.use == "lap":
        chain.use(aci318_19.splice_class_a if _class_a(steps) else aci318_19.splice_class_b, "length of the lap splice")
    steps.run(chain)
    steps.length = chain
    if case.use != "lap":
        return convert(chain.value, "in", "mm"), convert(c_b, "in", "mm")
    steps.key("c_e", "end_cover", "in")
    return convert(steps.add(splice_embedment, "Embedment that the lap splice needs").value, "in", "mm"), convert(c_b, "in", "mm")


def _factored_force(steps: _Steps) -> None:
    case = steps.case
    steps.key("f_y", "f_y", "psi", source="MPa")
    steps.known["phi_t"] = [case.default("phi_t") if case.use != "joint" else Given(*DEFAULTS[ACI]["phi_t"][:1], "", DEFAULTS[ACI]["phi_t"][1])]
    if case["force_per_length"] is not None:
        steps.key("q_Ed", "force_per_length", "lbf/in", source="N/m")
        steps.key("s", "spacing", "in")
    if case.use == "joint":
        strength = steps.value("phi_t") * steps.value("f_y") * steps.value("A_s")
        steps.give("N_Ed", strength, "lbf", f"{ACI}, 22.9.5.1 (from memory): bars of a joint are developed for f_y")
        return
    if case["force"] is not None:
        steps.key("N_Ed", "force", "lbf", source="N")
    else:
        label = "Factored force of one bar"
        steps.add(shear_of_pitch, label, symbol="N_Ed")
    steps.add(required_bar_area_aci, "Bar area that the force requires")


def _aci_factors(case: DesignCase) -> list[tuple[str, float, str]]:
    phi, top = case.bar.diameter, case["bond"] == "poor"
    coated = case["coating"] == "epoxy"
    close = case["cover"] < 3 * phi or case["spacing"] - phi < 6 * phi
    f_y = convert(case["f_y"], "MPa", "psi")
    # Grades are named in rounded numbers: 420 MPa is Grade 60 although it is 60 915 psi.
    grade = 1.0 if f_y <= 60000 * 1.02 else 1.15 if f_y <= 80000 * 1.02 else 1.3
    small = phi <= 0.75 * 25.4 * (1 + 1e-9)
    why = "cover below 3 d_b or clear spacing below 6 d_b" if close else "cover and clear spacing wide"
    return [
        ("psi_t", 1.3 if top else 1.0, f"{ACI}, Table 25.4.2.5: {'as with' if top else 'not'} more than 12 in of fresh concrete below ({case.origin('bond')})"),
        ("psi_e", (1.5 if close else 1.2) if coated else 1.0, f"{ACI}, Table 25.4.2.5: {'epoxy-coated, ' + why if coated else 'uncoated or zinc-coated'}"),
        ("psi_s", 0.8 if small else 1.0, f"{ACI}, Table 25.4.2.5: {'up to No. 6' if small else 'above No. 6'}"),
        ("psi_g", grade, f"{ACI}, Table 25.4.2.5: f_y = {f_y:.6g} psi"),
        ("lambda_", 0.75 if case["lightweight"] else 1.0, f"{ACI}, 25.4.2.5: {'lightweight' if case['lightweight'] else 'normal-weight'} concrete"),
    ]  # fmt: skip


def _class_a(steps: _Steps) -> bool:
    """Class A: twice the bars that the force requires, and at most half of them spliced (25.5.2.1)."""
    return steps.value("A_s") >= 2 * steps.value("A_req") and steps.case["percent_lapped"] <= 50


def _law(steps: _Steps) -> short.BondLaw:
    case, chain = steps.case, steps.length
    area = None if from_diameter(case.bar) else case.bar.area
    # The first f_yd is the steel's; a joint may count on less.
    if case.code == EN04:
        return short.law_2004(chain=chain, f_yd=steps.known["f_yd"][-1].value, A_s=area)
    if case.code == EN23:
        law = short.law_2023(chain=chain, f_yd=steps.known["f_yd"][-1].value, c_e=case["end_cover"] if case.use == "lap" else 0.0, A_s=area)
        if case.use == "lap":
            law.reference.choose("delta_l", steps.value("delta_l"), steps.last("delta_l").origin)
        return law
    kind: Any = "none" if case.use != "lap" else "A" if _class_a(steps) else "B"
    law = short.law_aci(chain=chain, splice=kind, phi_t=steps.value("phi_t"), c_e=case["end_cover"] if case.use == "lap" else 0.0, A_s=area)
    law.reference.reasons["phi_t"] = steps.last("phi_t").origin
    law.reference.known["l_min"] = tidy(law.reference.known["l_min"])
    return law


def _given_of_short(steps: _Steps) -> None:
    case = steps.case
    steps.give("d_0", case.hole_diameter, "mm", case.origin("hole_diameter"))
    steps.give("l_v", case.embedment, "mm", case.origin("embedment"))
    steps.give("V_req", case.required_volume, "mm³", f"step 01.{case.mark}.V_req")
    steps.give("V_short", 1000.0, "mm³", "one millilitre missing, to show what it costs")
    if case.code == ACI:
        steps.key("f_y", "f_y", "MPa", source="MPa")
        steps.give("A_s", stress_area(case.bar), "mm²", steps.last("A_s").origin)
        steps.give("N_Ed", convert(steps.value("N_Ed"), "lbf", "N"), "N", steps.last("N_Ed").origin)
    if case.use == "lap":
        steps.key("c_e", "end_cover", "mm")


# --- joints ----------------------------------------------------------------------------------------------------------


def _joint(steps: _Steps) -> tuple[Joint | None, tuple[Check, ...]]:
    if steps.case.use == "lap" and steps.case.code == ACI:
        return None, (_gap_check(steps),)
    if steps.case.use != "joint":
        return None, ()
    return _joint_aci(steps) if steps.case.code == ACI else _joint_en(steps)


def _gap_check(steps: _Steps) -> Check:
    """Spliced bars that do not touch may not lie further apart than a fifth of the lap or 6 in (25.5.1.3; from memory)."""
    case = steps.case
    apart = case["gap"] + (case.bar.diameter + find_bar(case["existing_bar"]).diameter) / 2
    most = min(convert(steps.value("l_st"), "in", "mm") / 5, 6 * 25.4)
    return Check.compare(
        id=f"04.{case.mark}.gap",
        title=f"{_name(case)}: centre distance of the spliced bars (ACI 318-19, 25.5.1.3; from memory)",
        demand=_shown(apart, case),
        resistance=_shown(most, case),
        unit=_unit(case),
        advice=f"drill closer to the existing bar: at most {amount(most, 'mm', case.system, 4)} between the bars' centres",
    )


def _joint_en(steps: _Steps) -> tuple[Joint, tuple[Check, ...]]:
    case, old = steps.case, steps.case.code == EN04
    steps.key("b_j", "joint_width", "mm")
    steps.key("s", "spacing", "mm")
    steps.give("n_r", float(case["bar_rows"] or 1), "pcs", case.origin("bar_rows") if case["bar_rows"] else "not given: one row")
    demand = steps.add(joint_stress, "Shear stress in the joint", symbol=None if old else "tau_Edi")
    s_1 = steps.add(row_width, "Spacing of the bars across the joint")
    rho = steps.add(joint_bar_ratio, "Area of bars per area of joint", s_1=s_1, s_2=steps.last("s"))
    sigma_n = _normal(steps)
    steps.known["gamma_C"] = [case.default("gamma_C")]
    f_yd = steps.give("f_yd", steps.value("sigma_sd"), "MPa", f"stress counted on in the joint: {steps.last('sigma_sd').origin}").value
    steps.give("alpha", 90.0, "°", "holes perpendicular to the joint")
    f_ck, tau = steps.value("f_ck"), demand.value
    if old:
        f_cd, f_ctd = _strengths_2004(steps)
        nu = steps.add(interface.strength_reduction, "Strength reduction of cracked concrete").value
        c, mu = interface.SURFACES_2004[case["surface"]]
        row = f"{EN04}, 6.2.5(2): {case['surface']} surface ({case.origin('surface')})"
        steps.give("c_adh", c, "", row)
        steps.give("mu", mu, "", row)
        given: dict[str, Any] = {"c": c, "f_ctd": f_ctd, "mu": mu, "sigma_n": sigma_n, "f_yd": f_yd, "alpha": 90.0, "nu": nu, "f_cd": f_cd}
        chain = interface.en1992_chain(rho=rho.value, **given)
        formula = interface.required_bar_ratio_in_tension if sigma_n < 0 else interface.required_bar_ratio
    else:
        steps.known["k_tc"] = [case.default("k_tc")]
        f_cd = steps.add(design_compressive_strength_2023, "Design compressive strength of the concrete").value
        c, mu = interface.SURFACES_2023[case["surface"]]
        row = f"{EN23}, Table 8.2: {case['surface']} surface ({case.origin('surface')})"
        steps.give("c_v1", c, "", row)
        steps.give("mu_v", mu, "", row)
        given = {"c_v1": c, "mu_v": mu, "f_ck": f_ck, "gamma_C": steps.value("gamma_C"), "sigma_n": sigma_n, "f_yd": f_yd, "alpha": 90.0, "f_cd": f_cd}
        chain = interface.en1992_2023_chain(rho=rho.value, **given)
        formula = interface.required_bar_ratio_in_tension_2023 if sigma_n < 0 else interface.required_bar_ratio_2023
    steps.run(chain)
    limit = chain.known["v_Rdi_max" if old else "tau_Rdi_max"]
    needed = spacing = None
    advice = "only a larger joint or stronger concrete helps: the concrete's own limit is passed, whatever the bars"
    if tau <= limit:
        needed = steps.add(formula, "Area of bars per area of joint that the shear needs").value
        if needed > 1e-6:
            spacing = steps.add(interface.bar_spacing, "Spacing of these bars that follows", s_1=s_1).value
            advice = f"set these bars at {_down(spacing, case)} or closer, or choose larger ones"
    steps.notices.append(f"{case.mark}: the joint's bars must be anchored for the same force on the other side of the joint as well.")
    check = Check.compare(
        id=f"04.{case.mark}.joint",
        title=f"{_name(case)}: shear across the joint ({case['surface']})",
        demand=_stress(tau, case),
        resistance=_stress(chain.value, case),
        unit="psi" if case.system == "us" else "MPa",
        advice=advice,
    )
    return Joint(tau, chain.value, rho.value, needed, spacing), (check,)


def _normal(steps: _Steps) -> float:
    case = steps.case
    if case["normal_stress"] is None:
        return steps.give("sigma_n", 0.0, "MPa", "not given: no normal stress is counted on").value
    return steps.key("sigma_n", "normal_stress", "MPa", source="MPa").value


def _strengths_2004(steps: _Steps) -> tuple[float, float]:
    case, f_ck = steps.case, steps.value("f_ck")
    for name in ("alpha_cc", "alpha_ct"):
        steps.known[name] = [case.default(name)]
    f_cd = steps.add(design_compressive_strength, "Design compressive strength of the concrete").value
    tension = Chain(f_ck=f_ck, alpha_ct=steps.value("alpha_ct"), gamma_C=steps.value("gamma_C"))
    mean = en1992_2004.mean_tensile_strength if f_ck <= 50 else en1992_2004.mean_tensile_strength_high
    tension.use(mean, "Mean tensile strength")
    tension.use(en1992_2004.characteristic_tensile_strength, "Characteristic tensile strength")
    tension.use(en1992_2004.design_tensile_strength, "Design tensile strength")
    # Up to C60/75 these are the anchorage's own steps; above, the bond's are capped and the joint's are not.
    steps.run(tension, part="" if f_ck <= 60 else ".joint")
    return f_cd, tension.value


def _joint_aci(steps: _Steps) -> tuple[Joint, tuple[Check, ...]]:
    case, surface = steps.case, steps.case["surface"]
    steps.key("b_j", "joint_width", "in")
    steps.key("s", "spacing", "in")
    steps.give("n_r", float(case["bar_rows"] or 1), "pcs", case.origin("bar_rows") if case["bar_rows"] else "not given: one row")
    steps.give("mu", interface.SURFACES_ACI[surface], "", f"{ACI}, Table 22.9.4.2: {surface} ({case.origin('surface')})")
    steps.known["phi_v"] = [case.default("phi_v")]
    f_y = steps.last("f_y")
    if f_y.value > 60000:
        steps.give("f_y", 60000.0, "psi", f"{ACI}, 22.9.1.3 (from memory): shear friction counts on no more; {f_y.origin}")
    V_u = steps.add(shear_of_pitch, "Factored shear on one spacing of the bars")
    A_c = steps.add(joint_area_of_pitch, "Area of joint of one spacing")
    A_prov = steps.add(joint_steel_of_pitch, "Area of bars of one spacing")
    steps.give("A_vf", A_prov.value, "in²", A_prov.origin)
    steps.add(interface.aci318_shear_friction, "Nominal shear friction strength")
    limit = interface.aci318_limit_other if surface == "not roughened" else interface.aci318_limit_roughened
    V_max = steps.add(limit, "Limit of the nominal strength")
    V_d = steps.add(design_shear_friction, "Design shear friction strength")
    needed_area, spacing = None, None
    advice = "only a larger joint or stronger concrete helps: the concrete's own limit is passed, whatever the bars"
    if case["normal_stress"]:
        steps.notices.append(
            f"{case.mark}: normal_stress is not counted on in shear friction here; net tension across the joint needs bars of its own (22.9.4.5; from memory)."
        )
    if V_u.value <= steps.value("phi_v") * V_max.value:
        needed_area = steps.add(interface.aci318_required_area, "Area of bars that the shear needs", symbol="A_req").value
        spacing = convert(steps.add(spacing_of_shear_aci, "Spacing of these bars that follows").value, "in", "mm")
        advice = f"set these bars at {_down(spacing, case)} or closer, or choose larger ones"
    if f_y.value > 60000:
        steps.known["f_y"].remove(steps.last("f_y"))
    us = case.system == "us"
    check = Check.compare(
        id=f"04.{case.mark}.joint",
        title=f"{_name(case)}: shear across the joint on one spacing of bars ({surface})",
        demand=V_u.value / 1000 if us else convert(V_u.value, "lbf", "kN"),
        resistance=V_d.value / 1000 if us else convert(V_d.value, "lbf", "kN"),
        unit="kip" if us else "kN",
        advice=advice,
    )
    area = A_c.value
    demand, resistance = (convert(v / area, "psi", "MPa") for v in (V_u.value, V_d.value))
    return Joint(demand, resistance, A_prov.value / area, None if needed_area is None else needed_area / area, spacing), (check,)


# --- checks and sentences --------------------------------------------------------------------------------------------


def _name(case: DesignCase) -> str:
    return f"{case.mark} ({case.bar.text})"


def _unit(case: DesignCase) -> str:
    return "in" if case.system == "us" else "mm"


def _shown(value: float, case: DesignCase) -> float:
    return tidy(convert(value, "mm", _unit(case)))


def _stress(value: float, case: DesignCase) -> float:
    return convert(value, "MPa", "psi") if case.system == "us" else value


def _rounded_up(length: float, system: System) -> float:
    step = 6.35 if system == "us" else 5.0
    return tidy(ceil(length / step) * step)


def _down(length: float, case: DesignCase) -> str:
    step = 6.35 if case.system == "us" else 5.0
    down = math.floor(length / step + 1e-9) * step
    return _length(down, case) if down > 0 else amount(length, "mm", case.system, 3)


def _length(value: float, case: DesignCase) -> str:
    return f"{plain_text(_shown(value, case), 6)} {_unit(case)}"


def _kn(value: float, case: DesignCase) -> str:
    unit = "kip" if case.system == "us" else "kN"
    return f"{plain_text(convert(value, 'N', unit), 4)} {unit}"


def _embedment_check(case: DesignCase, required: float) -> Check:
    advice = f"the embedment that would do is {_length(_rounded_up(required, case.system), case)} (schedule: {_length(case.embedment, case)})"
    return Check.compare(
        id=f"04.{case.mark}.embedment",
        title=f"{_name(case)}: embedment of the schedule, {case.use} ({case.code})",
        demand=_shown(required, case),
        resistance=_shown(case.embedment, case),
        unit=_unit(case),
        advice=advice,
    )


def _approval_checks(case: DesignCase) -> tuple[Check, ...]:
    longest = case["approval.longest_embedment"]
    if longest is None:
        return ()
    return (
        Check.compare(
            id=f"04.{case.mark}.longest",
            title=f"{_name(case)}: longest embedment that approval {case['approval.number'] or '(not named)'} covers",
            demand=_shown(case.embedment, case),
            resistance=_shown(longest, case),
            unit=_unit(case),
            advice="choose more or larger bars, or a product whose approval covers this depth",
        ),
    )


def _notices(case: DesignCase, least: short.LeastDose) -> list[str]:
    found = []
    if case.defaults_used:
        found.append(f"Factors that the job file does not give: {'; '.join(case.defaults_used)}.")
    if case["strength_from"] == "assumed":
        found.append(f"{case.mark}: the old concrete's strength is assumed; cores or drawings must confirm it before bars are set.")
    if case.approval:
        found.append(f"Product values of approval {case.approval}.")
    else:
        found.append(f"{case.mark}: no approval is named; the product must be qualified for bars designed as cast-in ones.")
    if case.code == ACI and case["coating"] == "epoxy":
        found.append(f"{case.mark}: a coated bar bonds to the adhesive by its coating; the product's report must cover it.")
    if case["spacing"] is not None and case.use == "anchorage" and case["compression"]:
        found.append(f"{case.mark}: in compression the bar's end presses on the concrete behind it; look at the member's back face.")
    if case.measured:
        found.append(
            f"{case.mark}: strength when short takes the nominal hole, whose ring is narrower than the measured one: a missing millilitre then bares more bar."
        )
    if least.reason:
        found.append(f"{case.mark}: {least.reason}.")
    return found


def _detailing(steps: _Steps) -> tuple[tuple[Check, ...], list[str]]:
    """Whether bar and hole fit into the old concrete; the bar's ribs through the hole are checked with its dose."""
    case, name = steps.case, f"04.{steps.case.mark}"
    phi, d_0, l_v, cover = case.bar.diameter, case.hole_diameter, case.embedment, case["cover"]
    edge = None if case["edge"] is None else tidy(case["edge"] - phi / 2)
    found: list[Check] = []
    if case.code == ACI:
        beta, said = detailing.LEAN_LIMITS["ACI 355.2"][0], "one bar diameter; ACI 318-19, 20.5.1.3, may ask for more (from memory)"
        faces = [("cover", cover, "nearest face"), *((("edge", edge, "edge"),) if edge is not None else ())]
        for part, c, face in faces:
            found.append(detailing.end_cover_check(id=f"{name}.{part}", c=c, l_v=l_v, beta=beta, c_least=phi, source=said, face=face))
    else:
        beta = detailing.LEAN_LIMITS["EOTA"][0]
        drilling: en1992_2023.Drilling = "air" if case["drilling"] == "air" else "rotary"
        need: dict[str, Any] = {"code": case.code, "phi": phi, "l_v": l_v, "drilling": drilling, "aid": case["drilling_aid"]}
        if case.code == EN23:
            # The table ties the cover to the design length; a hole that is deeper than that drifts further.
            need["l_bd_pi"] = max(l_v, steps.value("l_bd_pi"))
            if l_v > steps.value("l_bd_pi"):
                steps.give("l_bd_pi", l_v, "mm", f"{case.origin('embedment')}, in place of the shorter design length: the safe reading")
        steps.run(detailing.cover_need_chain(**need))
        found.append(detailing.drilled_cover_check(id=f"{name}.cover", c=cover, **need))
        if edge is not None:
            check = detailing.drilled_cover_check(id=f"{name}.edge", c=edge, **need)
            found.append(replace(check, title=f"{check.title}, at the edge"))
        found.append(detailing.spacing_check(id=f"{name}.spacing", s=case["spacing"], phi=phi, d_0=d_0))
    found.append(detailing.end_spacing_check(id=f"{name}.drift", s=case["spacing"], phi=phi, d_0=d_0, l_v=l_v, beta=beta))
    hole: dict[str, Any] = {"l_v": l_v, "d_0": d_0, "overdrill": case.overdrill, "theta": case.tip, "remainder": case["remainder"]}
    steps.give("overdrill", case.overdrill, "mm", "the bar schedule, or none")
    steps.give("theta", case.tip, "°", "point angle of the job's drill bit")
    if case["remainder"] is not None:
        steps.key("h_rem", "remainder", "mm")
    thickness = detailing.thickness_chain(**hole)
    steps.run(thickness)
    found.append(detailing.thickness_check(id=f"{name}.thickness", thickness=case["member_thickness"], **hole))
    if case["oversize_rule"] is not None:
        found.append(detailing.oversize_check(id=f"{name}.oversize", d_0=d_0, phi=phi, limit=detailing.OVERSIZE[case["oversize_rule"]]))
    said_of = [detailing.anchor_notice(code=case.code, lapped=case.use == "lap")]
    if edge is not None:
        corner = detailing.corner_notice(c_x=cover, c_y=edge, phi=phi)
        said_of += [f"{case.mark}: {corner}"] if corner else []
    if case["existing_bar"] is not None and case["existing_spacing"] is not None:
        phi_ex, s_ex = find_bar(case["existing_bar"]).diameter, case["existing_spacing"]
        found.append(detailing.existing_gap_check(id=f"{name}.between", d_0=d_0, phi_ex=phi_ex, s_ex=s_ex))
        if case["existing_cover"]:
            steel = detailing.existing_steel_notice(c_ex=case["existing_cover"], phi_ex=phi_ex, s_ex=s_ex, d_0=d_0, l_tot=thickness.known["l_tot"])
            said_of.append(f"{case.mark}: {steel}")
    else:
        said_of.append(f"{case.mark}: the existing bars are not stated; locate them before drilling.")
    if case["drilling"] == "diamond":
        said_of.append(f"{case.mark}: a cored hole is smooth; the approval must cover diamond drilling for this product.")
    return tuple(_in_units(check, case) for check in found), [_lengths(sentence, case) for sentence in said_of]


_MM = re.compile(r"(\d+(?:\.\d+)?) mm")


def _lengths(sentence: str, case: DesignCase) -> str:
    """Write the lengths of a sentence in the job's units, rounded up to a hundredth of an inch."""
    if case.system == "metric":
        return sentence
    return _MM.sub(lambda m: f"{math.ceil(float(m[1]) / 25.4 * 100 - 1e-6) / 100:.2f} in", sentence)


def _in_units(check: Check, case: DesignCase) -> Check:
    check = replace(check, title=f"{_name(case)}: {check.title[0].lower()}{check.title[1:]}", advice=_lengths(check.advice, case))
    if case.system == "metric" or check.unit != "mm":
        return check
    return replace(check, demand=_shown(check.demand, case), resistance=_shown(check.resistance, case), unit="in")


# --- the job ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Embedment:
    """The designed bar groups of a job, as a part of its results."""

    job: Job
    designs: tuple[GroupDesign, ...]
    not_designed: tuple[str, ...] = ()
    _by_mark: Mapping[str, GroupDesign] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_mark", {one.case.mark: one for one in self.designs})

    @property
    def sheet(self) -> Sheet:
        """Steps, checks and notices of the notebook."""
        total = Sheet(NOTEBOOK)
        for one in self.designs:
            total = total + one.sheet
        missing = [
            f"{mark}: no force is given, so its embedment is not designed here; as far as it is short, it is an anchor and needs that design."
            for mark in self.not_designed
        ]
        return replace(total, notices=(*total.notices, *missing))

    @property
    def cautions(self) -> list[str]:
        """Cautions of the code, for the directions of all holes."""
        assert self.job.design is not None
        return strength_cautions(code=self.job.design.code, directions=[group.direction for group in self.job.groups])

    def get(self, mark: str) -> GroupDesign | None:
        """Return a group's design; None when it has no force."""
        return self._by_mark.get(mark)

    def entry(self, mark: str) -> dict[str, Any]:
        """Return a group's keys in results.json; nulls for a group without a force."""
        one = self._by_mark.get(mark)
        return one.entry() if one else {"code": self.job.design.code if self.job.design else None, "required_embedment_mm": None}

    def totals(self) -> dict[str, Any]:
        """Return the keys of the totals: none."""
        return {}


def design_job(job: Job, worked: Sequence[doses.Worked] = (), unfilled: Mapping[str, ArrayLike] | None = None) -> Embedment | None:
    """Design every bar group of a job that has a force.

    Parameters
    ----------
    job
        A validated job.
    worked
        Its worked doses, when they are at hand already.
    unfilled
        Unfilled lengths [mm] of simulated holes by mark, for the share of bars below their design force.

    Returns
    -------
    Embedment or None
        None when the job file has no table of strength.

    Raises
    ------
    ValueError
        A value outside a formula's validity.
    """
    if job.design is None:
        return None
    by_mark = {one.case.mark: one for one in worked}
    designs, left = [], []
    for group in job.groups:
        case = case_of(job, group, by_mark.get(group.mark))
        if case is None:
            left.append(group.mark)
            continue
        one = design(case)
        if unfilled is not None and group.mark in unfilled:
            share = short.share_below(law=one.law, unfilled=unfilled[group.mark], l_v=case.embedment, N_Ed=one.force)
            one = replace(one, share_below=share)
        designs.append(one)
    return Embedment(job, tuple(designs), tuple(left))


# --- the same bar by three codes -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CodeLength:
    """A bar's length by one code: cast in, and post-installed where the approval's values for that code are known [mm]."""

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
        A bar group by any of the three; its concrete and steel strengths stand for those of the other codes, its force is the same.

    Returns
    -------
    tuple of CodeLength
        One for each code: the length of the bar as if cast in, so that the codes and not the approvals are compared, and the post-installed
        one where the case has that code's approval values. A joint's bar is compared as an anchorage for its force.
    """
    own = design(case)
    return tuple(_compared(case, own, code) for code in CODES)


def _compared(case: DesignCase, own: GroupDesign, code: str) -> CodeLength:
    phi, lap, compression = case.bar.diameter, case.use == "lap", bool(case["compression"])
    sigma, good = own.stress, case["bond"] == "good"
    f_ck = case["f_ck"] if case["f_ck"] is not None else case["f_c"]
    f_yk = case["f_yk"] if case["f_yk"] is not None else case["f_y"]
    clear = min((case["spacing"] - phi) / 2, case["cover"], *(() if case["edge"] is None else (case["edge"] - phi / 2,)))
    cannot: list[str] = []
    if compression and code != EN04:
        return CodeLength(code, None, None, "", f"bars in compression are built for {EN04} only")
    if case["coating"] == "epoxy" and code != ACI:
        return CodeLength(code, None, None, "", "its bond rules used here are for uncoated bars")
    try:
        if code == EN04:
            found = _compare_2004(case, f_ck, sigma, good, clear, lap)
        elif code == EN23:
            found = _compare_2023(case, f_ck, sigma, good, clear, lap)
        else:
            found = _compare_aci(case, own, f_ck, f_yk, lap)
    except ValueError as error:
        return CodeLength(code, None, None, "", f"outside its range: {error}")
    cast_in, installed, reason = tidy(found[0]), None if found[1] is None else tidy(found[1]), found[2]
    if code == ACI:
        cannot.append("it has no bond factor of an approval and no cover that grows with the drilled depth; the product's report has to qualify the bar")
    elif installed is None:
        cannot.append(f"post-installed it needs {'k_b' if code == EN04 else 'k_b_pi'} and alpha_lb of an approval to this edition, which the job does not give")
    return CodeLength(code, cast_in, installed, reason, "; ".join(cannot))


_Compared = tuple[float, float | None, str]


def _factor(case: DesignCase, name: str, code: str, default: float) -> float:
    value = case[name] if case.code == code else None
    return default if value is None else float(value)


def _compare_2004(case: DesignCase, f_ck: float, sigma: float, good: bool, clear: float, lap: bool) -> _Compared:
    common: dict[str, Any] = {
        "phi": case.bar.diameter, "f_ck": f_ck, "sigma_sd": sigma, "good_bond": good, "c_d": clear,
        "alpha_ct": _factor(case, "alpha_ct", EN04, 1.0), "gamma_C": _factor(case, "gamma_C", EN04, 1.5),
    }  # fmt: skip
    k_b, alpha_lb = case["approval.k_b"], case["approval.alpha_lb"]
    approved: dict[str, Any] | None = None if k_b is None or alpha_lb is None else {"k_b": k_b, "alpha_lb": alpha_lb}
    if lap:
        rho_1 = case["percent_lapped"]
        chain = en1992_2004.lap_chain(rho_1=rho_1, **common)
        more = None if approved is None else en1992_2004.lap_chain(rho_1=rho_1, **common, **approved).value
    else:
        pressed = bool(case["compression"])
        chain = en1992_2004.anchorage_chain(compression=pressed, **common)
        more = None if approved is None else en1992_2004.anchorage_chain(compression=pressed, **common, **approved).value
    known = chain.known
    least = known["l_0_min" if lap else "l_b_min"]
    reason = (
        f"bond stress f_bd = {known['f_bd']:.3g} MPa, constant along the bar: the length grows in proportion to the stress ({sigma:.4g} MPa); "
        f"cover shortens it by the factor {known['alpha_2']:.3g}, never below 0.7"
        + (f"; the least length of {least:.4g} mm decides" if chain.value <= least * (1 + 1e-9) else "")
    )
    return chain.value, more, reason


def _compare_2023(case: DesignCase, f_ck: float, sigma: float, good: bool, clear: float, lap: bool) -> _Compared:
    phi, k_cp = case.bar.diameter, 1.0 if good else 1.2
    l_bd = en1992_2023.anchorage_length(phi=phi, f_ck=f_ck, sigma_sd=sigma, c_d=clear, k_cp=k_cp)
    length = en1992_2023.lap_length(l_bd=l_bd, phi=phi) if lap else l_bd
    k_b_pi, alpha_lb = case["approval.k_b_pi"], case["approval.alpha_lb"]
    more = None
    if k_b_pi is not None and alpha_lb is not None:
        more = en1992_2023.post_installed_chain(phi=phi, f_ck=f_ck, sigma_sd=sigma, c_d=clear, k_b_pi=k_b_pi, alpha_lb=alpha_lb, k_cp=k_cp, lap=lap).value
    reason = (
        f"the length grows with the power 1.5 of the stress: at {sigma:.4g} MPa it takes {(sigma / 435) ** 1.5:.3g} of the length at 435 MPa; "
        f"it falls with the square root of the concrete strength and of the cover (c_d = {clear:.4g} mm), and thick bars need more diameters"
        + ("; the least length in diameters decides" if length <= (15 if lap else 10) * phi * (1 + 1e-9) else "")
    )
    return length, more, reason


def _compare_aci(case: DesignCase, own: GroupDesign, f_ck: float, f_yk: float, lap: bool) -> _Compared:
    converted = replace(case, code=ACI, values=(*((n, v) for n, v in case.values if n not in ("f_c", "f_y")), ("f_c", f_ck), ("f_y", f_yk)))
    factors = {name: value for name, value, _ in _aci_factors(converted)}
    phi = case.bar.diameter
    centre = min(case["spacing"] / 2, case["cover"] + phi / 2, *(() if case["edge"] is None else (case["edge"],)))
    full = aci318_19.development_length_metric(d_b=phi, f_y=f_yk, f_c=f_ck, c_b=centre, **factors)
    share = own.stress / (0.9 * f_yk)
    if lap:
        class_a = share <= 0.5 and case["percent_lapped"] <= 50
        length = convert(aci318_19.splice_length(l_d=convert(full, "mm", "in"), class_b=not class_a), "in", "mm")
        words = f"Class {'A' if class_a else 'B'} splice: {'1.0' if class_a else '1.3'} times the development length"
    else:
        length, words = full, "the bar is developed for its full yield strength, whatever its force"
        if case["excess_reduction"]:
            calculated = aci318_19.development_chain(
                d_b=convert(phi, "mm", "in"), f_y=convert(f_yk, "MPa", "psi"), f_c=convert(f_ck, "MPa", "psi"), c_b=convert(centre, "mm", "in"), **factors
            ).known["l_d_calc"]
            length = convert(max(12, calculated * share), "in", "mm")
            words = f"the development length is shortened for the force, which needs {share:.3g} of the bar"
    reason = f"{words}; no partial factor on the concrete, the square root of f'c, and cover counts up to 2.5 bar diameters from the bar's centre" + (
        "; the least length of 12 in decides" if length <= 304.8 * (1 + 1e-9) else ""
    )
    return length, None, reason
