"""Cautions that a page about this work carries.

Each stands for a rule that the approval or the local code states in full.
"""

from __future__ import annotations

from collections.abc import Iterable

DUST = (
    "Silica dust: drill with extraction at the bit and an efficient filter. Blowing a hole out makes the cloud that the"
    " vacuum was to catch."
)
_ALWAYS = (
    DUST,
    (
        "Skin and eyes: wear gloves and eye protection when handling adhesive; reactive resins can sensitise the skin"
        " for good."
    ),
    (
        "Existing steel and services: locate them before drilling. A bit that jams turns the machine: use a clutch and"
        " both hands."
    ),
    (
        "Heat: temperature shortens the working time and lowers the bond of many adhesives; the approval's tables at"
        " base-material temperature govern."
    ),
    "Sustained load: bonded bars under lasting tension creep; only what the approval allows for it may be counted.",
)
_OVERHEAD = (
    "Overhead work: use a plug that fits the hole or what the approval names, hold the bar until it is set, and keep"
    " out from under the hole."
)
DEFER = (
    "The product's approval, local codes and a licensed engineer govern; this calculation supports their judgement and"
    " does not replace it."
)
# What a package leaves out, by the notebook that would cover it when the job gives it what it needs.
_LEFT_OUT = (
    (
        "04_embedment",
        (
            "Embedment is taken from the bar schedule as given: anchorage, laps, cover and spacing are not checked in"
            " this package."
        ),
    ),
    (
        "02_overfill_and_waste",
        (
            "Scatter of holes, bars and dispensing: the overfill is the share stated in the job file, and no"
            " probability of a short hole is given."
        ),
    ),
    ("05_job_plan", "Packs, mixers, initial discard and working time for the whole job."),
    ("", "Air trapped in the hole, and adhesive lost into voids or cracks beyond what the job file states."),
)
_WIDER = (
    "Holes that are wider than their bit cuts: nothing is stated for {}, and none is taken. "
    "A wider hole takes more than its dose; [scatter] over_bit states it."
)


# How much a notice weighs, by its name: what stops the work, what can hurt, what is doubtful; then the others, and last
# how a number was read.
_STOPS = (
    "hole_left_out",
    "left_out",
    "least_dose",
    "under_least_length",
    "concrete_alone",
    "thickness",
    "packs_per_hole",
    "no_force",
)
_HURTS = (
    *("existing_steel", "existing_bars", "corner", "anchor", "compression", "joint_other_side", "joint_in_tension"),
    *("full_hole", "not_conforming", "curing_time", "working_time", "overtime", "pack_temperature", "expiry", "proof"),
)
_DOUBTFUL = ("outliers", "not_normal", "governed", "cover_below_diameter", "void_position", "assumed", "extended")
_READ = ("ribs", "bit", "defaults", "strength_from", "approval", "tau", "measured", "rule", "blow_out", "no_plate")


def weight_of(notice: str) -> int:
    """Return where a notice of this name stands among others: the weightiest is 0."""
    tiers = (_STOPS, _HURTS, _DOUBTFUL)
    return next((place for place, names in enumerate(tiers) if notice in names), 4 if notice in _READ else 3)


def not_covered(notebooks: Iterable[str], as_the_bit: str = "") -> list[str]:
    """List what a signature under a package with these notebooks does not cover.

    ``as_the_bit`` names the holes that are taken to be as wide as the bit cuts, because nobody says otherwise.
    """
    present = set(notebooks)
    found = [sentence for notebook, sentence in _LEFT_OUT if notebook not in present]
    return [*found, _WIDER.format(as_the_bit)] if as_the_bit else found


def cautions(directions: Iterable[str]) -> list[str]:
    """List the cautions for holes that point in these directions."""
    overhead = [_OVERHEAD] if "overhead" in set(directions) else []
    return [DEFER, *_ALWAYS, *overhead]  # first, because page 1 may cut what comes last
