"""The volumes of a whole job: each has one name and one place in one balance, wherever it is told.

    dispensed = stays in the holes + overflows at the mouths
    bought = dispensed + initial discard + left in mixers + left in packs + lost with part packs

Lists, views, pictures and results.json take names and numbers from here. The planned holes are meant, as drilled by the
schedule; what the stated scatter lets expect at the mouths is another volume, of notebook 02.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from calc.base.display import Display
from calc.work.days.crew import ASIDE, CONTENT, DISCARD, FILL, MIXER, PACK, PAUSE, REST, SHIFT_END
from calc.work.days.daybook import Timeline
from calc.work.packs.need import PackPlan
from calc.work.packs.packs import discarded, left_in_mixers, left_in_packs, to_order


class Name(NamedTuple):
    """What a volume is called, and what it is."""

    words: str
    meaning: str


# By the key in the totals of results.json, without its unit.
VOLUMES: Mapping[str, Name] = {
    "bought": Name("bought", "all packs to order, the reserve among them"),
    "dose": Name("dispensed", "into all holes: number of holes times rounded dose"),
    "in_holes": Name("stays in the holes", "what the planned holes hold with their bars home"),
    "waste_overflow": Name("overflows at the mouths", "dispensed and more than the planned holes hold"),
    "discard": Name("initial discard", "the first of every pack and mixer, thrown away until its colour is even"),
    "left_in_mixers": Name("left in mixers", "what fills every mixer, with its tube, when it is taken off"),
    "left_in_packs": Name("left in packs", "what is in packs and was not pressed out"),
    "residual": Name("residual of the used packs", "what stays in a pack that is empty"),
    "left_over": Name("packs not opened", "the reserve"),
    "lost": Name("lost with part packs", "what could still have been used, and is thrown away"),
}
# What is bought and stays in no hole, by its cause: key behind "waste_" in results.json, and words.
CAUSES = {
    "overflow": VOLUMES["waste_overflow"].words,
    "first_discard": "initial discard, with a new pack",
    "mixer_content": "left in mixers, changed with their pack",
    "pause": "mixers changed after a pause",
    "shift_end": "part packs and mixers changed after a night",
    "residual": VOLUMES["residual"].words,
    "rest": "rests of packs, too small to use",
    "part_packs": "part packs at the end of the job",
}
WITH_PACK, AFTER_PAUSE, AFTER_NIGHT = "with a new pack", "after a pause", "after a night"


class Term(NamedTuple):
    """One volume of the balance [mm³]; ``level`` is 0 for what is bought, and each part lies one deeper.

    ``parts`` are its shares by cause, those that are nothing left out.
    """

    key: str
    level: int
    volume: float
    parts: Mapping[str, float] = {}

    @property
    def words(self) -> str:
        """Its name."""
        return VOLUMES[self.key].words

    @property
    def meaning(self) -> str:
        """What it is."""
        return VOLUMES[self.key].meaning


@dataclass(frozen=True)
class Use:
    """What the work uses and what is bought, volumes [mm³].

    ``waste`` has the keys of `CAUSES`; ``discards``, ``contents`` and ``part_packs`` are initial discard, left in
    mixers and lost with part packs, each by what caused it. ``left_over`` is in packs that are not opened.
    """

    packs: int
    mixers: int
    packs_to_order: int
    mixers_to_order: int
    dispensed: float
    overflow: float
    discard: float
    mixer_content: float
    residual: float
    left_over: float
    bought: float
    waste: Mapping[str, float]
    discards: Mapping[str, float]
    contents: Mapping[str, float]
    part_packs: Mapping[str, float]

    @property
    def in_holes(self) -> float:
        """What stays in the holes [mm³]."""
        return self.dispensed - self.overflow

    @property
    def lost(self) -> float:
        """What is lost with part packs [mm³]."""
        return math.fsum(self.part_packs.values())

    @property
    def left_in_packs(self) -> float:
        """Residual and packs that are not opened [mm³]."""
        return self.residual + self.left_over

    @property
    def wasted(self) -> float:
        """All causes together [mm³]."""
        return math.fsum(self.waste.values())

    @property
    def opened(self) -> float:
        """What is in the packs that are used [mm³]."""
        return self.bought - self.left_over

    @property
    def gap(self) -> float:
        """What the balance lacks [mm³]: bought, less all that became of it."""
        became = (self.dispensed, self.discard, self.mixer_content, self.left_in_packs, self.lost)
        return self.bought - math.fsum(became)

    @property
    def balance(self) -> tuple[Term, ...]:
        """The balance: each volume is followed by those that add up to it."""
        return (
            Term("bought", 0, self.bought),
            Term("dose", 1, self.dispensed),
            Term("in_holes", 2, self.in_holes),
            Term("waste_overflow", 2, self.overflow),
            Term("discard", 1, self.discard, _told(self.discards)),
            Term("left_in_mixers", 1, self.mixer_content, _told(self.contents)),
            Term("left_in_packs", 1, self.left_in_packs),
            Term("residual", 2, self.residual),
            Term("left_over", 2, self.left_over),
            Term("lost", 1, self.lost, _told(self.part_packs)),
        )


def _told(parts: Mapping[str, float]) -> Mapping[str, float]:
    return {words: volume for words, volume in parts.items() if volume > 0}


def volumes_text(use: Use, display: Display) -> str:
    """Say in a sentence what is bought, dispensed, stays and overflows."""
    write = display.job_volume
    stays, out = (VOLUMES[key].words for key in ("in_holes", "waste_overflow"))
    return (
        f"Of {write(use.bought)} {VOLUMES['bought'].words}, {write(use.dispensed)} is {VOLUMES['dose'].words}:"
        f" {write(use.in_holes)} {stays} and {write(use.overflow)} {out}."
    )


def use_of(plan: PackPlan, timeline: Timeline | None) -> Use:
    """Sum up what the work uses: by the simulated days where there are any, else by the packs alone.

    Parameters
    ----------
    plan
        Packs of the job, without its days.
    timeline
        The crew's days.

    Returns
    -------
    Use
        Volumes [mm³].
    """
    packs, mixers = (plan.packs, plan.mixers) if timeline is None else (timeline.packs, timeline.mixers)
    order, overflow = int(to_order(n_use=float(packs), reserve=plan.reserve)), plan.waste.overflow
    if timeline is None:
        own, dispensed = plan.waste, plan.in_holes + overflow
        discards = {WITH_PACK: own.discard_mixer + own.discard_pack}
        contents = {WITH_PACK: own.mixer_content}
        lost = {"rest": own.pack_ends, "shift_end": 0.0, "part_packs": own.part_packs}
    else:
        dispensed, book = timeline.in_holes, timeline.volume_of
        why = {WITH_PACK: (DISCARD, CONTENT), AFTER_PAUSE: (PAUSE,), AFTER_NIGHT: (SHIFT_END,)}
        discards = {words: book((PACK, MIXER), causes) for words, causes in why.items()}
        contents = {words: book((FILL,), causes) for words, causes in why.items()}
        lost = {"rest": book((ASIDE,), (REST,)), "shift_end": book((ASIDE,), (SHIFT_END,))}
        lost["part_packs"] = math.fsum(timeline.open_packs.values())
    residual = float(left_in_packs.function(n_p=packs, V_res=plan.residual))
    by_cause = {
        "overflow": overflow,
        "first_discard": discards[WITH_PACK],
        "mixer_content": contents[WITH_PACK],
        "pause": discards.get(AFTER_PAUSE, 0.0) + contents.get(AFTER_PAUSE, 0.0),
        "shift_end": discards.get(AFTER_NIGHT, 0.0) + contents.get(AFTER_NIGHT, 0.0) + lost["shift_end"],
        "residual": residual,
        "rest": lost["rest"],
        "part_packs": lost["part_packs"],
    }
    return Use(
        packs=packs,
        mixers=mixers,
        packs_to_order=order,
        mixers_to_order=int(to_order(n_use=float(mixers), reserve=plan.reserve)),
        dispensed=dispensed,
        overflow=overflow,
        discard=float(
            discarded.function(n_m=mixers, V_disc=plan.discard_per_mixer, n_p=packs, V_disc_p=plan.discard_per_pack)
        ),
        mixer_content=float(left_in_mixers.function(n_m=mixers, V_mix=plan.mixer_volume)),
        residual=residual,
        left_over=(order - packs) * plan.pack_volume,
        bought=order * plan.pack_volume,
        waste={key: by_cause[key] for key in CAUSES},
        discards=discards,
        contents=contents,
        part_packs={
            CAUSES["rest"]: lost["rest"],
            "part packs at the end of a shift": lost["shift_end"],
            CAUSES["part_packs"]: lost["part_packs"],
        },
    )
