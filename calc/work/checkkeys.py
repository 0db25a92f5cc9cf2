"""Where demand and resistance of each check come from: the step or the result that they are, or how they come about.

As with the numbers of the groups, a step counts when it has this name and this value; numbers are equal by chance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from calc.base.canonical import TWICE_ROUNDED
from calc.base.identity import DOSE, EMBEDMENT, EVIDENCE, OVERFILL, PLAN
from calc.base.sheet import Check, Found, Sheet, Step
from calc.base.units import convert, same_kind


class Side(NamedTuple):
    """One side of a check: how it comes about in words, and names of results that it may be; those of its notebook.

    ``behind`` are results that the words speak of, where the side is not one itself.
    """

    words: str = ""
    steps: tuple[str, ...] = ()
    notebook: str = ""
    behind: tuple[str, ...] = ()


def _is(*steps: str, notebook: str = "", words: str = "not given") -> Side:
    return Side(words, steps, notebook)


_PERMIT = Side("0 where this is so, 1 where it is not"), Side("1 where this is so, 0 where it is not")
_EMBEDMENT = Side("embedment of the schedule")
_BAR = Side("nominal diameter of the bar, by its standard")
_APPROVAL = "value of the product's approval, in [design.approval] of the job file"
_REQUIRED = _is("l_v", "l_bd_pi", "l_sd_pi", "l_bd", "l_0", "l_st", "l_d")
_WORST = _is("N_Ed_h", "N_ua_s", "N_Ed", words="design force of the job file")
_TOGETHER = _is("N_Ed_g", "N_Ed", words="design force of the job file")
_COVER = _is("c_min_b", words="one bar diameter, the least cover that has to be left")
_LEFT = Side("cover or edge of the job file; by ACI less what the hole may lean over the embedment")
_NOT_KNOWN = Side("not known while an input is missing; the check names it")

SIDES: Mapping[tuple[str, str], tuple[Side, Side]] = {
    (DOSE, "fit"): (
        Side("diameter over the ribs: [ribs] of the job file times the nominal one, or the bar's standard"),
        Side("diameter of the bit or of the narrowest measured place, by schedule or job file"),
    ),
    (DOSE, "full"): (_is("V_req"), _is("V_round")),
    (DOSE, "pack"): (_is("V_round"), _is("V_max")),
    (DOSE, "holds"): (_is("V_round"), _is("V_hole")),
    (DOSE, "rounding"): (_is("f_round"), Side("equipment.rounding_share of the job file; 0.5 where it says nothing")),
    (DOSE, "depth"): (_BAR, _EMBEDMENT),
    (DOSE, "width"): (
        _is("d_0", "d_m", words="diameter of the hole in the schedule"),
        Side("three times the nominal diameter of the bar"),
    ),
    (OVERFILL, "short"): (_is("p_short"), Side("overfill.short_probability of the job file; 0.05 by default")),
    (EVIDENCE, "measured"): (
        Side("1 and the overfill from measured holes", behind=("overfill",)),
        Side("1 and the overfill that the rounded dose comes to", behind=("overfill.dispensed",)),
    ),
    (EVIDENCE, "agrees"): (
        Side("size of the zeta score; nothing where both means are one", behind=("zeta",)),
        Side("2 standard uncertainties: the usual limit of a zeta score (ISO 13528)"),
    ),
    (EMBEDMENT, "embedment"): (_REQUIRED, _EMBEDMENT),
    (EMBEDMENT, "longest"): (_EMBEDMENT, Side(f"longest_embedment: {_APPROVAL}")),
    (EMBEDMENT, "cover"): (_COVER, _LEFT),
    (EMBEDMENT, "edge"): (_COVER, _LEFT),
    (EMBEDMENT, "spacing"): (
        Side("least clear distance between post-installed bars, for the bar and its hole, by the source in the title"),
        Side("spacing of the job file, less the bar's diameter"),
    ),
    (EMBEDMENT, "drift"): (
        Side("diameter of the hole in the schedule"),
        Side("spacing of the job file, less what both holes lean towards each other over the embedment"),
    ),
    (EMBEDMENT, "thickness"): (_is("h_req"), Side("member_thickness of the job file")),
    (EMBEDMENT, "between"): (
        Side("diameter of the hole in the schedule"),
        Side("existing_spacing of the job file, less the existing bar"),
    ),
    (EMBEDMENT, "oversize"): (
        Side("hole of the schedule less the bar, or what the specification asks for where it states a least oversize"),
        Side("what the specification of oversize_rule allows, or hole less bar where it states a least oversize"),
    ),
    (EMBEDMENT, "support_tie"): (_is("F_tie"), _WORST),
    (EMBEDMENT, "support_steel"): (_is("A_sup"), _is("A_s", words="area of the bar, by its standard")),
    (EMBEDMENT, "support_length"): (_REQUIRED, Side("embedment of the schedule, less support_face of the job file")),
    (EMBEDMENT, "joint"): (_is("v_Edi", "tau_Edi", "V_u"), _is("v_Rdi", "tau_Rdi", "V_d")),
    (EMBEDMENT, "gap"): (
        Side("gap of the job file, and half of both bars"),
        Side("a fifth of the lap, or 6 in (ACI 318-19, 25.5.1.3; from memory)", behind=("l_st",)),
    ),
    (EMBEDMENT, "splitting"): (_TOGETHER, _is("splitting.N_Rd_sp", words=_NOT_KNOWN.words)),
    (EMBEDMENT, "cone"): (_TOGETHER, _is("cone.N_Rd_c", "cone.phiN_cbg", words=_NOT_KNOWN.words)),
    (EMBEDMENT, "pullout"): (_TOGETHER, _is("pullout.N_Rd_p", "pullout.phiN_ag", words=_NOT_KNOWN.words)),
    (EMBEDMENT, "steel"): (_WORST, _is("steel.N_Rd_s", "steel.phiN_sa", words=_NOT_KNOWN.words)),
    (EMBEDMENT, "sustained"): (_is("N_ua_s", words=_WORST.words), _is("sustained.phiN_sus", words=_NOT_KNOWN.words)),
    (EMBEDMENT, "c_min"): (
        _is("c_min", "c_a_least", words=f"c_min: {_APPROVAL}; or six diameters"),
        Side("edge or cover of the job file, from the bar's centre; the nearest"),
    ),
    (EMBEDMENT, "s_min"): (
        _is("s_min", "s_least", words=f"s_min: {_APPROVAL}; or six diameters"),
        Side("spacing or row_spacing of the job file; the smaller"),
    ),
    (EMBEDMENT, "h_min"): (Side(f"h_min: {_APPROVAL}"), Side("member_thickness of the job file")),
    (EMBEDMENT, "depth"): (_is("h_ef_least"), _EMBEDMENT),
    (EMBEDMENT, "eccentricity"): (
        Side("shares that the eccentricity adds to the most loaded bar, together", behind=("k_ex", "k_ey")),
        Side("1: beyond it a bar would no longer pull"),
    ),
    (EMBEDMENT, "existing"): (_is("N_ex"), _is("N_ex_Rd", words=_NOT_KNOWN.words)),
    (EMBEDMENT, "adjacent"): (_is("a_l_min"), _is("a_l")),
    (EMBEDMENT, "lap_cover"): (
        Side("diameter of the thicker of the lapped bars"),
        Side("cover of the job file, or existing_cover where that is less"),
    ),
    (EMBEDMENT, "transverse"): (
        Side("area of the larger of the lapped bars, by its standard"),
        _is("A_st", words=_NOT_KNOWN.words),
    ),
    (EMBEDMENT, "thick"): (
        _is("sigma_sd", "sigma.all", words="a section of one metre (2004: 8.8(4); from memory)"),
        Side("0.8 of the design yield strength, or least_dimension of the job file", behind=("f_yd",)),
    ),
    (EMBEDMENT, "age"): (Side("21 days (ACI 318-19, 17.2.2)"), Side("concrete_age of the job file")),
    (PLAN, "one_hole"): (_is("t_one"), _is("t.working")),
    (PLAN, "working_time"): (_is("t_age"), _is("t_allowed")),
    (PLAN, "on_its_day"): (
        Side("day on which its last bar is set, counted from the first", behind=("t_last",)),
        Side("last day that site.days gives the group, counted from the first"),
    ),
    (PLAN, "proof"): (_is("proof_load"), _is("proof_cap")),
    (PLAN, "proof_cone"): (
        _is("proof_load"),
        _is("proof_cone.N_Rk_c", "proof_cone.N_cbg", words=_NOT_KNOWN.words),
    ),
    (PLAN, "proof_bond"): (_is("proof_load"), _is("proof_bond.N_Rk_p", "proof_bond.N_ag", words=_NOT_KNOWN.words)),
    (PLAN, "proof_test"): (_is("proof_load"), _NOT_KNOWN),
    (PLAN, "reach"): (
        _is("l_hole", notebook=DOSE, words="depth of the deepest hole"),
        Side("extension_reach or nozzle_reach of the adhesive record"),
    ),
    (PLAN, "balance"): (
        Side(
            "bought, less all that became of it, last bits of long sums left out",
            behind=("V_buy", "V_disp", "discard", "mixers", "V_inside", "V_part"),
        ),
        Side("a millionth of what is bought", behind=("V_buy",)),
    ),
}


class Sources:
    """Finds where the sides of checks come from, among the results of all notebooks.

    Parameters
    ----------
    sheets
        The sheets of a job.
    """

    def __init__(self, sheets: Iterable[Sheet]) -> None:
        self._own: dict[tuple[str | None, str, str], Step | Found] = {}
        self._any: dict[tuple[str, str], list[Step | Found]] = {}
        for sheet in sheets:
            records: tuple[Step | Found, ...] = (*sheet.steps, *sheet.found)
            for one in records:
                self._own[one.mark, one.notebook, one.name] = one
                self._any.setdefault((one.notebook, one.name), []).append(one)

    def of(self, check: Check) -> dict[str, dict[str, Any]]:
        """Say where a check's demand and resistance come from.

        Parameters
        ----------
        check
            A check of the job.

        Returns
        -------
        dict
            ``demand_from`` and ``resistance_from``, each with ``words`` and ``steps``: ids of results that the side is,
            or that the words speak of.
        """
        numbers = (check.demand, check.resistance)
        permit = (
            _PERMIT if all(not math.isfinite(value) or value in (0.0, 1.0) for value in numbers) else (Side(), Side())
        )
        sides = SIDES.get((check.notebook, check.name), permit)
        return {
            f"{name}_from": self._side(check, side, value)
            for name, side, value in zip(("demand", "resistance"), sides, numbers, strict=True)
        }

    def _side(self, check: Check, side: Side, value: float) -> dict[str, Any]:
        if not math.isfinite(value):
            return {"words": _NOT_KNOWN.words, "steps": []}
        notebook = side.notebook or check.notebook
        for name in side.steps:
            for one in self._candidates(check.mark, notebook, name):
                if _is_value(one, value, check.unit):
                    return {"words": "", "steps": [one.id]}
        behind = (self._own.get((check.mark, notebook, name)) for name in side.behind)
        return {"words": side.words, "steps": [one.id for one in behind if one is not None]}

    def _candidates(self, mark: str | None, notebook: str, name: str) -> list[Step | Found]:
        own = self._own.get((mark, notebook, name))
        return [own] if own is not None else self._any.get((notebook, name), []) if mark is None else []


def _is_value(one: Step | Found, value: float, unit: str) -> bool:
    if unit == "%" and one.unit == "":
        return math.isclose(100 * one.value, value, rel_tol=TWICE_ROUNDED, abs_tol=1e-12)
    if one.unit == unit:
        return math.isclose(one.value, value, rel_tol=TWICE_ROUNDED, abs_tol=1e-12)
    return (
        bool(one.unit and unit)
        and same_kind(one.unit, unit)
        and math.isclose(convert(one.value, one.unit, unit), value, rel_tol=TWICE_ROUNDED, abs_tol=1e-12)
    )
