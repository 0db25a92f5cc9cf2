"""Where each number of results.json comes from: the notebook that answers for it, and the step that it is, by name.

Numbers are equal by chance, so a result is never traced by its value alone: a step counts when it has this name and
this value.
"""

from __future__ import annotations

from dataclasses import dataclass

from calc.base.identity import DOSE, EMBEDMENT, EVIDENCE, OVERFILL, PLAN

INPUT, SIMULATED, COUNTED, FOUND = "an input", "simulated", "counted", "found numerically"


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
    "overfill": _given("overfill"),
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
    "short_fill_probability": Home(OVERFILL, (), SIMULATED),
    "mean_overflow": Home(OVERFILL, (), SIMULATED),
    "mean_unfilled": Home(OVERFILL, (), SIMULATED),
    "series_holes": Home(OVERFILL, (), INPUT),
    "series_any_short_probability": Home(OVERFILL, (), SIMULATED),
    "series_short_share_95": Home(OVERFILL, (), SIMULATED),
    "overfill_options.share": Home(OVERFILL, (), INPUT),
    "overfill_options.measured": Home(OVERFILL, ("overfill.measured",), FOUND),
    "measurements.holes": Home(EVIDENCE, (), COUNTED),
    "measurements.share": Home(EVIDENCE, (), INPUT),
    "measurements.confidence": Home(EVIDENCE, (), INPUT),
    "measurements.mean": Home(EVIDENCE, (), COUNTED, ("V_m",)),
    "measurements.sd": Home(EVIDENCE, (), COUNTED, ("s_r",)),
    "measurements.resolution": Home(EVIDENCE, (), INPUT, ("delta_V",)),
    "measurements.limit": Home(EVIDENCE, ("V_lim",)),
    "measurements.overfill": Home(EVIDENCE, ("overfill",)),
    "required_embedment": Home(EMBEDMENT, ("l_v", "l_bd_pi", "l_sd_pi", "l_bd", "l_0", "l_st", "l_d")),
    "advised_embedment": Home(EMBEDMENT, (), "the required embedment, rounded up"),
    "design_force": Home(EMBEDMENT, ("N_Ed",), INPUT, ("N_Ed",)),
    "design_stress": Home(EMBEDMENT, ("sigma_sd", "sigma"), "the design force over the bar's area"),
    "capacity_full": Home(EMBEDMENT, ("N_R",), "the bond law at the bonded length of a full hole"),
    "least_dose": Home(EMBEDMENT, ("V_least",)),
    "lost_length_per_mL": Home(EMBEDMENT, ("u",)),
    "lost_force_first_mL": Home(EMBEDMENT, (), "the bond law, full and with one millilitre missing"),
    "share_below_design_force": Home(EMBEDMENT, (), SIMULATED),
    "anchor_utilisation": Home(EMBEDMENT, (), "the force over the design resistance of the mode that governs"),
    "joint_shear": Home(EMBEDMENT, ("v_Edi", "tau_Edi", "V_u")),
    "joint_resistance": Home(EMBEDMENT, ("v_Rdi", "tau_Rdi", "V_d")),
    "joint_spacing_needed": Home(EMBEDMENT, ("s_2",)),
    "holes_per_pack": Home(PLAN, (), COUNTED),
    "packs_per_hole": Home(PLAN, ("n_hole",), COUNTED),
    "bars_late": Home(PLAN, (), SIMULATED),
    "working_time": Home(
        PLAN,
        (),
        "shortest of its bars, read at the warmest concrete that the simulated days meet between injection and setting",
    ),
    "curing_time": Home(
        PLAN,
        (),
        "longest of its bars, read at the coldest concrete that the simulated days meet between injection and load",
    ),
    "last_set": Home(PLAN, (), SIMULATED),
    "earliest_load": Home(PLAN, (), SIMULATED),
    "batch_that_would_do": Home(PLAN, (), SIMULATED),
}
_TOTALS = {
    "holes": Home(DOSE, (), COUNTED),
    "dose": Home(DOSE, (), COUNTED),
    "expected_short_holes": Home(OVERFILL, (), SIMULATED),
    "expected_waste": Home(OVERFILL, (), SIMULATED),
    "expected_waste_cost": Home(OVERFILL, (), SIMULATED),
    "discard": Home(PLAN, ("discard",), COUNTED),
    "residual": Home(PLAN, ("residual",), COUNTED),
    "packs_to_order": Home(PLAN, ("order_packs",), COUNTED),
    "mixers_to_order": Home(PLAN, ("order_mixers",), COUNTED),
    "waste_residual": Home(PLAN, ("residual",), COUNTED),
    "waste_mixer_content": Home(PLAN, ("mixers",), COUNTED),
    "working_time": Home(PLAN, (), "read from the adhesive record at the warmest concrete that the job states"),
    "curing_time": Home(
        PLAN, (), "read from the adhesive record at the coldest concrete that the job states, nights included"
    ),
    "preparation": Home(PLAN, (), COUNTED),
    "charges": Home(PLAN, ("n_charge",), COUNTED),
    "bits": Home(PLAN, ("n_bit",), COUNTED),
    "bags": Home(PLAN, ("n_bag",), COUNTED),
    "dust": Home(PLAN, ("m_dust",), COUNTED),
}
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
    return Home(OVERFILL, (), FOUND) if stem.startswith("overfill_options.") else None


def home_of_total(stem: str) -> Home:
    """Return where a number of the totals comes from, by its key without the unit.

    What is not named comes from the plan.
    """
    return _TOTALS.get(stem, Home(PLAN, (), "counted in the simulated days, or from the packs alone"))
