"""Where each number of results.json comes from: the notebook that answers for it, and the step that it is, by name.

Numbers are equal by chance, so a result is never traced by its value alone: a step counts when it has this name and
this value.
"""

from __future__ import annotations

from dataclasses import dataclass

from calc.base.identity import DOSE, EMBEDMENT, EVIDENCE, OVERFILL, PLAN
from calc.work.overfill.group import RULES
from calc.work.plan.volumes import CAUSES

INPUT, SIMULATED, COUNTED, FOUND = "an input", "simulated", "counted", "found numerically"


# Steps that may be the length that a bar needs, by its code and use.
REQUIRED_LENGTHS = ("l_v", "l_bd_pi", "l_sd_pi", "l_bd", "l_0", "l_st", "l_d")


@dataclass(frozen=True)
class Home:
    """Where a number comes from: its notebook, the names of steps that it may be, the first that has its value.

    And what it is without one.

    ``inputs`` names the symbols under which it goes into steps, where it is an input.
    """

    notebook: str
    steps: tuple[str, ...] = ()
    otherwise: str = FOUND
    inputs: tuple[str, ...] = ()


def _given(*symbols: str) -> Home:
    return Home(DOSE, (), INPUT, symbols)


_GROUP = {
    "count": _given("n_hole"),
    "hole_diameter": _given("d_bit", "d_0"),
    "bar_diameter": _given("phi"),
    "embedment": _given("l_v"),
    "overdrill": _given("l_o", "overdrill"),
    "overfill": Home(OVERFILL, tuple(f"option.{rule}" for rule in RULES if rule != "share"), INPUT, ("overfill",)),
    "annular_volume": Home(DOSE, ("V_a",)),
    "tip_volume": Home(DOSE, ("V_t",)),
    "overdrill_volume": Home(DOSE, ("V_o",)),
    "required_volume": Home(DOSE, ("V_req",)),
    "dose": Home(DOSE, ("V_dose",)),
    "rounded_dose": Home(DOSE, ("V_round",)),
    "strokes": Home(DOSE, ("n_g",)),
    "level_before_bar": Home(DOSE, ("z_0",)),
    "overflow": Home(DOSE, ("V_over",)),
    "unfilled_length": Home(DOSE, ("u",)),
    "short_fill_probability": Home(OVERFILL, ("p_short",), SIMULATED),
    "mean_overflow": Home(OVERFILL, ("V_over.mean",), SIMULATED),
    "mean_unfilled": Home(OVERFILL, ("u.mean",), SIMULATED),
    "series_holes": Home(OVERFILL, (), INPUT, ("n_each",)),
    "series_any_short_probability": Home(OVERFILL, ("series.any",), SIMULATED),
    "series_short_share_95": Home(OVERFILL, ("series.share_95",), SIMULATED),
    "measurements.holes": Home(EVIDENCE, ("n_hole",), COUNTED, ("n_hole",)),
    "measurements.share": Home(EVIDENCE, ("share",), INPUT),
    "measurements.confidence": Home(EVIDENCE, (), INPUT, ("confidence",)),
    "measurements.mean": Home(EVIDENCE, ("V_m",), COUNTED, ("V_m",)),
    "measurements.sd": Home(EVIDENCE, ("s_r",), COUNTED, ("s_r",)),
    "measurements.resolution": Home(EVIDENCE, (), INPUT, ("delta_V",)),
    "measurements.limit": Home(EVIDENCE, ("V_lim",)),
    "measurements.overfill": Home(EVIDENCE, ("overfill",)),
    "required_embedment": Home(EMBEDMENT, REQUIRED_LENGTHS),
    "advised_embedment": Home(EMBEDMENT, ("l_adv",)),
    "design_force": Home(EMBEDMENT, ("N_Ed",), INPUT, ("N_Ed",)),
    "design_stress": Home(EMBEDMENT, ("sigma_sd", "sigma", "sigma.all")),
    "capacity_full": Home(EMBEDMENT, ("N_R.full",)),
    "least_dose": Home(EMBEDMENT, ("V_least",)),
    "lost_length_per_mL": Home(EMBEDMENT, ("u",)),
    "lost_force_first_mL": Home(EMBEDMENT, ("N_R.lost",)),
    "share_below_design_force": Home(EMBEDMENT, ("p_below",), SIMULATED),
    "anchor_utilisation": Home(EMBEDMENT, ("eta.anchor",)),
    "joint_shear": Home(EMBEDMENT, ("v_Edi", "tau_Edi", "V_u")),
    "joint_resistance": Home(EMBEDMENT, ("v_Rdi", "tau_Rdi", "V_d")),
    "joint_spacing_needed": Home(EMBEDMENT, ("s_2",)),
    "holes_per_pack": Home(PLAN, ("n_h",), COUNTED),
    "packs_per_hole": Home(PLAN, ("n_hole",), COUNTED),
    "bars_late": Home(PLAN, ("n_late",), SIMULATED),
    "working_time": Home(PLAN, ("t_work",), SIMULATED),
    "curing_time": Home(PLAN, ("t_cure",), SIMULATED),
    "last_set": Home(PLAN, ("t_last",), SIMULATED),
    "earliest_load": Home(PLAN, ("t_load",), SIMULATED),
    "batch_that_would_do": Home(PLAN, ("n_batch",), SIMULATED),
}
_TOTALS = {
    "holes": Home(PLAN, ("n_hole",), COUNTED),
    "dose": Home(PLAN, ("V_disp",), COUNTED),
    "in_holes": Home(PLAN, ("V_stay",), COUNTED),
    "waste_overflow": Home(PLAN, ("V_over",), COUNTED),
    "expected_short_holes": Home(OVERFILL, ("n_short.all",), SIMULATED),
    "expected_waste": Home(OVERFILL, ("V_waste.all",), SIMULATED),
    "expected_waste_cost": Home(OVERFILL, ("cost.waste",), SIMULATED),
    "packs": Home(PLAN, ("n_p",), COUNTED),
    "mixers": Home(PLAN, ("n_m",), COUNTED),
    "discard": Home(PLAN, ("discard",), COUNTED),
    "left_in_mixers": Home(PLAN, ("mixers",), COUNTED),
    "residual": Home(PLAN, ("residual",), COUNTED),
    "left_in_packs": Home(PLAN, ("V_inside",), COUNTED),
    "left_over": Home(PLAN, ("V_new",), COUNTED),
    "lost": Home(PLAN, ("V_part",), COUNTED),
    "bought": Home(PLAN, ("V_buy",), COUNTED),
    "waste": Home(PLAN, ("waste",), COUNTED),
    "packs_to_order": Home(PLAN, ("order_packs",), COUNTED),
    "mixers_to_order": Home(PLAN, ("order_mixers",), COUNTED),
    "waste_residual": Home(PLAN, ("residual",), COUNTED),
    "working_time": Home(PLAN, ("t.working",)),
    "curing_time": Home(PLAN, ("t.wet", "t.curing")),
    "days": Home(PLAN, ("n_days",), SIMULATED),
    "finish": Home(PLAN, ("t_end",), SIMULATED),
    "crew_hours": Home(PLAN, ("t_crews",), SIMULATED),
    "overtime": Home(PLAN, ("t_over",), SIMULATED),
    "bars_late": Home(PLAN, ("n_late",), SIMULATED),
    "preparation": Home(PLAN, ("t_prep",), COUNTED),
    "charges": Home(PLAN, ("n_charge",), COUNTED),
    "bits": Home(PLAN, ("n_bit",), COUNTED),
    "bags": Home(PLAN, ("n_bag",), "none, where the way of preparing the holes draws nothing off"),
    "dust": Home(PLAN, ("m_dust",), COUNTED),
}
_TOTALS |= {f"waste_{key}": Home(PLAN, (f"waste.{key}",), COUNTED) for key in CAUSES if f"waste_{key}" not in _TOTALS}
# A total that is a sum over the groups, by the key of what is summed, each times the number of holes; "" counts the
# holes alone.
SUMS = {
    "holes": "",
    "dose": "rounded_dose",
    "in_holes": "required_volume",
    "waste_overflow": "overflow",
    "expected_short_holes": "short_fill_probability",
    "expected_waste": "mean_overflow",
}


def home_of_group(stem: str) -> Home | None:
    """Return where a number of a group comes from, by its key without the unit; None for one that is not known."""
    if stem in _GROUP:
        return _GROUP[stem]
    head, _, rule = stem.partition(".")
    return Home(OVERFILL, (f"option.{rule}",), FOUND) if head == "overfill_options" else None


def home_of_total(stem: str) -> Home:
    """Return where a number of the totals comes from, by its key without the unit.

    What is not named comes from the plan.
    """
    return _TOTALS.get(stem, Home(PLAN, (), COUNTED))
