"""Changes of the rules by which this calc writes results.

Why a package of an older version comes out differently, by name.

A difference that no rule here explains is one that somebody has to look into. Whoever changes a rule adds it here, with
what it touches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from calc.base.identity import DOSE, EMBEDMENT, EVIDENCE, OVERFILL, PLAN
from calc.work.plan.volumes import CAUSES
from calc.work.site.proof import PROOF_CHECKS, PROOF_STEPS

_Place = tuple[str, ...]
_FROM_HOLES = ("s_V", "V_lim", "overfill.measured")  # steps of the overfill that come from measured holes


@dataclass(frozen=True)
class Touched:
    """One value that differs: the kind of record.

    (``step``, ``check``, ``group``, ``total``, ``notice`` or ``other``), what it is, and the place in it.

    ``place`` is empty for a record that is there on one side alone; ``formula`` is that of a step, ``notebook`` that of
    a step or check.
    """

    kind: str
    notebook: str
    name: str
    formula: str
    place: _Place


@dataclass(frozen=True)
class RuleChange:
    """A named change of a rule.

    Attributes
    ----------
    name
        What people call it; it stands behind each difference.
    since
        Schema of results.json that was the first to follow it.
    words
        What changed, in a sentence.
    touches
        Whether a value that differs comes from it.
    """

    name: str
    since: int
    words: str
    touches: Callable[[Touched], bool]


def _sentence(one: Touched) -> bool:
    return one.kind == "notice" or (one.kind == "check" and one.place[:1] in (("title",), ("advice",), ("reason",)))


def _shown(one: Touched) -> bool:
    return one.kind == "step" and one.place[-1:] in (("shown",), ("alt",), ("latex",))


def _times(one: Touched) -> bool:
    if one.kind in ("group", "total"):
        return one.place in (("working_time_min",), ("curing_time_min",))
    return one.kind == "check" and one.notebook == PLAN and one.name in ("one_hole", "table_working", "table_curing")


# What a tested strength, a lap's existing bar and the weaker concrete change: keys of a bar group, and checks of
# notebook 04.
_STRENGTH_KEYS = {
    "required_embedment_mm",
    "advised_embedment_mm",
    "capacity_full_kN",
    "least_dose_mL",
    "lost_force_first_mL_kN",
    "share_below_design_force",
    "joint_resistance_MPa",
    "joint_spacing_needed_mm",
}
_STRENGTH_CHECKS = {
    "embedment",
    "joint",
    "gap",
    "drift",
    "existing",
    "arrangement",
    "adjacent",
    "lap_cover",
    "transverse",
    "links",
    "thick",
    "strength",
    "joint_concrete",
}


def _strength(one: Touched) -> bool:
    if one.kind == "group":
        return one.place[:1] != () and one.place[0] in _STRENGTH_KEYS
    return one.notebook == EMBEDMENT and (one.kind == "step" or (one.kind == "check" and one.name in _STRENGTH_CHECKS))


# Checks that ask what takes the force, and the modes of failure of anchors.
_PATH_CHECKS = {
    "force_path",
    "compression",
    "tension_line",
    "support_tie",
    "support_steel",
    "support_length",
    "age",
    "installer",
    "inspection",
    "steel",
    "cone",
    "pullout",
    "splitting",
    "sustained",
    "eccentricity",
    "c_min",
    "s_min",
    "h_min",
    "depth",
    "shear",
}
_PATH_KEYS = {"force_path", "anchor_mode", "anchor_utilisation"}


def _load_path(one: Touched) -> bool:
    if one.kind == "group":
        return one.place[:1] != () and one.place[0] in _PATH_KEYS
    return one.notebook == EMBEDMENT and one.kind == "check" and one.name in _PATH_CHECKS


def _measured(one: Touched) -> bool:
    if one.kind == "group":
        return one.place[:1] == ("measurements",) or one.place == ("overfill_options", "measured")
    if one.kind == "check":
        return one.notebook == EVIDENCE and one.name == "measured"
    return one.kind == "step" and (one.notebook == EVIDENCE or (one.notebook == OVERFILL and one.name in _FROM_HOLES))


_SLIPS = ("rounding_share", "empty_volume", "even_diameter")
_AGREEMENT = ("combined", "least_series", "uncertainty_of_difference", "zeta_score")


def _slips(one: Touched) -> bool:
    new = not one.place and one.notebook == DOSE
    return new and (
        one.formula in _SLIPS if one.kind == "step" else one.name in ("holds", "rounding", "depth", "width")
    )


def _agreement(one: Touched) -> bool:
    new = not one.place and one.notebook == EVIDENCE
    return new and (one.formula in _AGREEMENT if one.kind == "step" else one.name == "agrees")


def _governs(one: Touched) -> bool:
    if one.kind == "group":
        return one.place in (
            ("overfill",),
            ("overfill_rule",),
            ("overfill_reason",),
            ("dose_mL",),
            ("rounded_dose_mL",),
        )
    return (
        one.kind == "step"
        and one.notebook == DOSE
        and one.formula in ("dose", "graduations", "graduated_dose", "rounding_extra")
    )


def _ages(one: Touched) -> bool:
    return one.kind == "check" and one.notebook == PLAN and one.name == "working_time"


def _wet(one: Touched) -> bool:
    return one.kind == "check" and one.notebook == PLAN and one.name == "wet_curing"


def _cleaning(one: Touched) -> bool:
    return one.kind == "check" and one.notebook == PLAN and one.name == "cleaning"


def _dates(one: Touched) -> bool:
    if one.kind in ("group", "total"):
        return one.place in (("earliest_load",), ("finish",), ("packs_good_until",))
    return one.kind == "check" and one.notebook == PLAN and one.name == "expiry"


def _nights(one: Touched) -> bool:
    return not one.place and one.kind == "check" and one.notebook == PLAN and one.name in ("night", "on_its_day")


def _pi(one: Touched) -> bool:
    return one.kind == "step" and one.name == "V_drill" and one.place == ("expression",)


def _range(one: Touched) -> bool:
    return one.kind == "check" and one.notebook == PLAN and one.name == "temperature"


def _bits(one: Touched) -> bool:
    if one.kind == "total":
        return one.name == "bits"
    return one.notebook == PLAN and one.name.startswith("n_bit")


def _proof(one: Touched) -> bool:
    return not one.place and one.notebook == PLAN and one.name.startswith((*PROOF_CHECKS, *PROOF_STEPS))


_BALANCE_KEYS = {"left_in_mixers_L", "left_in_packs_L", "lost_L"}


def _balance(one: Touched) -> bool:
    if one.kind == "total":
        return one.place[:1] != () and one.place[0] in _BALANCE_KEYS
    return one.kind == "check" and one.notebook == PLAN and one.name == "balance"


def _yield(one: Touched) -> bool:
    if one.notebook != DOSE:
        return False
    return (one.kind == "step" and one.name == "V_max") or (one.kind == "check" and one.name == "pack")


# What hangs on whether a hole may be finished from the next pack: totals, keys of a bar group, formulas and checks of
# notebook 05.
_PACK_TOTALS = {
    *("packs", "packs_counted", "packs_to_order", "mixers", "mixers_to_order", "crew_hours", "days", "overtime_h"),
    *("finish", "finish_h", "bars_late", "bought_L", "discard_L", "left_in_mixers_L", "left_in_packs_L", "left_over_L"),
    *("lost_L", "residual_L", "waste_L", *(f"waste_{key}_L" for key in CAUSES)),
}
_PACK_KEYS = {"bars_late", "batch_that_would_do", "earliest_load", "earliest_load_h", "last_set_h"}
_PACK_FORMULAS = {
    *("all_left_in_packs", "bought_in_packs", "discarded", "hole_time", "left_in_mixers", "left_in_packs"),
    *("not_opened", "pack_end", "packs_for_holes", "packs_for_volume", "packs_per_hole", "to_order", ""),
}
_PACK_CHECKS = {"balance", "one_hole", "two_packs", "working_time"}


def _whole_holes(one: Touched) -> bool:
    if one.kind in ("group", "total"):
        keys = _PACK_KEYS if one.kind == "group" else _PACK_TOTALS
        return one.place[:1] != () and one.place[0] in keys
    if one.kind == "check":
        return (one.notebook == PLAN and one.name in _PACK_CHECKS) or (one.notebook == DOSE and one.name == "pack")
    return one.kind == "step" and one.notebook == PLAN and one.formula in _PACK_FORMULAS


# Formulas of notebook 05 that the balance of volumes is worked with, and the pack's whole holes.
_WORKED_NOW = (
    "what_stays",
    "bought_in_packs",
    "not_opened",
    "all_left_in_packs",
    "holes_per_pack",
)


def _traced(one: Touched) -> bool:
    if one.kind == "other":
        return "found" in one.place
    if one.kind == "check":
        return one.place[:1] in (("demand_from",), ("resistance_from",))
    return one.kind == "step" and (
        one.place[:1] == ("inputs",)
        or (not one.place and one.formula in ("", *_WORKED_NOW))
        or (one.notebook == PLAN and one.place[:1] in (("symbol",), ("latex",), ("alt",)))
    )


RULE_CHANGES = (
    RuleChange(
        "origins are carried",
        2,
        "An input tells the origin that was handed on with it, and not one that was found by an equal value.",
        lambda one: one.kind == "step" and one.place[:1] == ("inputs",) and one.place[-1:] == ("origin",),
    ),
    RuleChange(
        "labels hold no values",
        2,
        "A step's label says what is found; shares of the variance and depths of a measured hole are steps of their"
        " own.",
        lambda one: (
            one.kind == "step"
            and (one.place == ("label",) or (not one.place and one.formula in ("share_of_variance", "depth_down_to")))
        ),
    ),
    RuleChange(
        "least favourable times",
        2,
        "Working time is the shortest and curing time the longest at all temperatures that the job states, and each bar"
        " group has both.",
        _times,
    ),
    RuleChange(
        "laps, joints and tested concrete",
        2,
        "A lap counts the existing bar and the room between pairs, a strength tested after 28 days counts less, a joint"
        " takes the weaker concrete.",
        _strength,
    ),
    RuleChange(
        "what takes the force",
        2,
        "The load path is stated, or owed; bars that concrete alone holds are anchors, and what the code demands of the"
        " work is a check.",
        _load_path,
    ),
    RuleChange(
        "ribs are stated",
        2,
        "Whether a bar goes into its hole over the ribs is a check only where their diameter is published or stated.",
        lambda one: one.kind == "check" and one.notebook == DOSE and one.name == "fit",
    ),
    RuleChange(
        "resolution of a reading",
        2,
        "What the resolution of a reading hides counts in the scatter of measured holes; too few holes give no"
        " overfill.",
        _measured,
    ),
    RuleChange(
        "slips are checked",
        2,
        "A dose that is more than the empty hole holds or mostly rounding, and a hole that is too shallow or too wide"
        " for its bar, fail.",
        _slips,
    ),
    RuleChange(
        "measured against assumed",
        2,
        "The mean of measured holes is compared with that of the scatter that is assumed of them.",
        _agreement,
    ),
    RuleChange(
        "measured holes govern",
        2,
        "Where measured holes ask for more than a rule by assumed scatter, the dose follows them.",
        _governs,
    ),
    RuleChange(
        "age in the mixer",
        2,
        "Working time counts from the mixing of the oldest adhesive in a hole, which may have stood in the mixer while"
        " bars were set.",
        _ages,
    ),
    RuleChange(
        "one balance of volumes",
        2,
        "What is bought is dispensed, discarded, left in mixers, left in packs or lost with part packs: each volume has"
        " one name and one place in it.",
        _balance,
    ),
    RuleChange(
        "one yield of a pack",
        2,
        "What a pack puts into holes leaves out its own discard and the content of its mixer in notebook 01 as well.",
        _yield,
    ),
    RuleChange(
        "whole holes",
        2,
        "Packs are counted by whole holes, unless the job says that a hole may be finished from the next pack.",
        _whole_holes,
    ),
    RuleChange(
        "calendar dates",
        2,
        "Where the day of the work is stated, days are told by their dates, and packs have to be good on the day of the"
        " last injection.",
        _dates,
    ),
    RuleChange(
        "nights and days",
        2,
        "Groups are done on the days that they are assigned to, and how cold the nights are is stated, or owed.",
        _nights,
    ),
    RuleChange(
        "pi is a sign", 2, "In the volume of drilled concrete pi is written as what it is, with the same value.", _pi
    ),
    RuleChange(
        "bits by diameter",
        2,
        "A bit drills holes of one diameter only: bits are counted for each diameter, not for all holes together.",
        _bits,
    ),
    RuleChange(
        "proof loads are judged",
        2,
        "A proof load above what bar, cone and bond may be pulled with is a check of the calculation, not a line of a"
        " list alone, and the job says whether the test is confined.",
        _proof,
    ),
    RuleChange(
        "nothing ends in words",
        2,
        "What is counted, simulated, read or found numerically is a result with what it was found from, and inputs and"
        " checks name it.",
        _traced,
    ),
    RuleChange(
        "wet concrete", 2, "Where the holes are wet, the adhesive record has to say how much longer curing takes.", _wet
    ),
    RuleChange(
        "cleaning is owed",
        2,
        "A plan for the site needs the product's cleaning of a drilled hole, in the adhesive record: without it a check"
        " is owed.",
        _cleaning,
    ),
    RuleChange(
        "an edge of the range is allowed",
        2,
        "The concrete's temperatures are held against the range as they are stored, its edges included, and not by"
        " their distance from its middle.",
        _range,
    ),
    RuleChange(
        "sentences from quantities",
        2,
        "A sentence is built from quantities, each rounded once in the job's units.",
        _sentence,
    ),
    RuleChange(
        "one symbol, one meaning",
        2,
        "Packs that are opened for one hole have a symbol of their own.",
        lambda one: one.kind == "step" and one.notebook == PLAN and one.name == "n_hole",
    ),
    RuleChange("one display", 2, "One rule for each kind of quantity rounds what is shown.", _shown),
)


def rule_of(touched: Touched, schema: object) -> RuleChange | None:
    """Return the rule that explains a difference from results of a schema; None when none does."""
    if not isinstance(schema, int):
        return None
    return next((rule for rule in RULE_CHANGES if schema < rule.since and rule.touches(touched)), None)
