"""Where each number of results.json comes from: the notebook that answers for it, and the step that it is, by name.

Numbers are equal by chance, so a result is never traced by its value alone: a step counts when it has this name and this value.
"""

from __future__ import annotations

from dataclasses import dataclass

INPUT, SIMULATED, COUNTED, FOUND = "an input", "simulated", "counted", "found numerically"


@dataclass(frozen=True)
class Home:
    """Where a number comes from: its notebook, the names of steps that it may be, the first that has its value; and what it is without one.

    ``inputs`` names the symbols under which it goes into steps, where it is an input.
    """

    notebook: str
    steps: tuple[str, ...] = ()
    otherwise: str = FOUND
    inputs: tuple[str, ...] = ()


def _given(*symbols: str) -> Home:
    return Home("01", (), INPUT, symbols)


_GROUP = {
    "count": _given("n_hole"),
    "hole_diameter": _given("d_0"),
    "bar_diameter": _given("phi"),
    "embedment": _given("l_v"),
    "overdrill": _given("l_o", "overdrill"),
    "overfill": _given("overfill"),
    "annular_volume": Home("01", ("V_a",)),
    "tip_volume": Home("01", ("V_t",)),
    "overdrill_volume": Home("01", ("V_o",)),
    "required_volume": Home("01", ("V_req",)),
    "dose": Home("01", ("V_dose",)),
    "rounded_dose": Home("01", ("V_round",)),
    "strokes": Home("01", ("n_g",)),
    "level_before_bar": Home("01", ("z_0",)),
    "overflow": Home("01", ("V_over",)),
    "unfilled_length": Home("01", ("u",)),
    "short_fill_probability": Home("02", (), SIMULATED),
    "mean_overflow": Home("02", (), SIMULATED),
    "mean_unfilled": Home("02", (), SIMULATED),
    "series_holes": Home("02", (), INPUT),
    "series_any_short_probability": Home("02", (), SIMULATED),
    "series_short_share_95": Home("02", (), SIMULATED),
    "overfill_options.share": Home("02", (), INPUT),
    "overfill_options.measured": Home("02", ("overfill.measured",), FOUND),
    "measurements.holes": Home("03", (), COUNTED),
    "measurements.share": Home("03", (), INPUT),
    "measurements.confidence": Home("03", (), INPUT),
    "measurements.mean": Home("03", (), COUNTED, ("V_m",)),
    "measurements.sd": Home("03", (), COUNTED, ("s_V",)),
    "measurements.limit": Home("03", ("V_lim",)),
    "measurements.overfill": Home("03", ("overfill",)),
    "required_embedment": Home("04", ("l_v", "l_bd_pi", "l_sd_pi", "l_bd", "l_0", "l_st", "l_d")),
    "advised_embedment": Home("04", (), "the required embedment, rounded up"),
    "design_force": Home("04", ("N_Ed",), INPUT, ("N_Ed",)),
    "design_stress": Home("04", ("sigma_sd", "sigma"), "the design force over the bar's area"),
    "capacity_full": Home("04", ("N_R",), "the bond law at the bonded length of a full hole"),
    "least_dose": Home("04", ("V_least",)),
    "lost_length_per_mL": Home("04", ("u",)),
    "lost_force_first_mL": Home("04", (), "the bond law, full and with one millilitre missing"),
    "share_below_design_force": Home("04", (), SIMULATED),
    "joint_shear": Home("04", ("v_Edi", "tau_Edi", "V_u")),
    "joint_resistance": Home("04", ("v_Rdi", "tau_Rdi", "V_d")),
    "joint_spacing_needed": Home("04", ("s_2",)),
    "holes_per_pack": Home("05", (), COUNTED),
    "packs_per_hole": Home("05", ("n_hole",), COUNTED),
    "bars_late": Home("05", (), SIMULATED),
    "working_time": Home("05", (), "shortest of its bars, read at the warmest concrete that the simulated days meet between injection and setting"),
    "curing_time": Home("05", (), "longest of its bars, read at the coldest concrete that the simulated days meet between injection and load"),
    "last_set": Home("05", (), SIMULATED),
    "earliest_load": Home("05", (), SIMULATED),
    "batch_that_would_do": Home("05", (), SIMULATED),
}
_TOTALS = {
    "holes": Home("01", (), COUNTED),
    "dose": Home("01", (), COUNTED),
    "expected_short_holes": Home("02", (), SIMULATED),
    "expected_waste": Home("02", (), SIMULATED),
    "expected_waste_cost": Home("02", (), SIMULATED),
    "discard": Home("05", ("job.discard",), COUNTED),
    "residual": Home("05", ("job.residual",), COUNTED),
    "packs_to_order": Home("05", ("job.order_packs",), COUNTED),
    "mixers_to_order": Home("05", ("job.order_mixers",), COUNTED),
    "waste_residual": Home("05", ("job.residual",), COUNTED),
    "waste_mixer_content": Home("05", ("job.mixers",), COUNTED),
    "working_time": Home("05", (), "read from the adhesive record at the warmest concrete that the job states"),
    "curing_time": Home("05", (), "read from the adhesive record at the coldest concrete that the job states, nights included"),
    "preparation": Home("05", (), COUNTED),
    "charges": Home("05", ("job.n_charge",), COUNTED),
    "bits": Home("05", ("job.n_bit",), COUNTED),
    "bags": Home("05", ("job.n_bag",), COUNTED),
    "dust": Home("05", ("job.m_dust",), COUNTED),
}
# A total that is a sum over the groups, by the key of what is summed, each times the number of holes; "" counts the holes alone.
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
    return Home("02", (), FOUND) if stem.startswith("overfill_options.") else None


def home_of_total(stem: str) -> Home:
    """Return where a number of the totals comes from, by its key without the unit; what is not named comes from the plan."""
    return _TOTALS.get(stem, Home("05", (), "counted in the simulated days, or from the packs alone"))
