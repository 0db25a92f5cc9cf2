"""Packs and mixers for a whole job, without its timeline.

What goes into the holes, what is lost and why, what to order.

Holes are filled in the order in which they are given. A new mixer costs its discard and its content, a new pack its
residual and its own discard. At the end of a shift the mixer and the part pack are thrown away. By default a pack
serves whole holes: when what is left is too little for the next hole it is thrown away; with ``split`` a hole may be
finished from the next pack, and a hole that takes more than a pack is finished so in any case.

The formulas stand here; `calc.work.packs.need` has what a plan is made from and what comes of it, `calc.work.packs.run`
counts the packs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from calc.base.collector import Steps
from calc.base.formula import Formula, formula
from calc.base.identity import DOSE, PLAN
from calc.base.maths import ceil
from calc.base.sheet import Given, Origin, result_of
from calc.base.units import Mm3, Ratio, Whole, convert
from calc.work.packs.need import GroupUse, Need, PackPlan, PlanError, Waste, check_groups, check_volumes
from calc.work.packs.run import PackRun, shift_sizes, use_up

_WAY = "common practice, no source: residual and discards are lost, a mixer is lost with its content"
_COUNT = "whole numbers of packs and holes"
_VOLUME = (1e-9, 1e15)
_ANY = (0.0, 1e15)
_NUMBER = (0.0, 1e12)
_SUM = "definition"
COUNTED_ALONE = "counted hole by hole in the order of the schedule: one dispenser, no pause, no night"
MOST_OF_A_PACK = "Most that a pack with a new mixer puts into holes"


@formula(
    symbol="V_max", source=_WAY, limits={"V_pack": _ANY, "V_res": _ANY, "V_disc": _ANY, "V_disc_p": _ANY, "V_mix": _ANY}
)
def yield_with_new_mixer(*, V_pack: Mm3, V_res: Mm3, V_disc: Mm3, V_disc_p: Mm3, V_mix: Mm3) -> Mm3:
    """Most that a pack with a new mixer puts into holes.

    Examples
    --------
    >>> yield_with_new_mixer(V_pack=400.0, V_res=15.0, V_disc=20.0, V_disc_p=5.0, V_mix=10.0)
    350.0
    """
    return V_pack - V_res - V_disc - V_disc_p - V_mix


@formula(symbol="V_max", source=_WAY, limits={"V_pack": _ANY, "V_res": _ANY, "V_disc_p": _ANY})
def yield_with_kept_mixer(*, V_pack: Mm3, V_res: Mm3, V_disc_p: Mm3) -> Mm3:
    """Most that a pack puts into holes when the mixer of the pack before stays in use.

    Examples
    --------
    >>> yield_with_kept_mixer(V_pack=400.0, V_res=15.0, V_disc_p=5.0)
    380.0
    """
    return V_pack - V_res - V_disc_p


@formula(symbol="n_h", source=_COUNT, limits={"V_max": _ANY, "V_round": _VOLUME})
def holes_per_pack(*, V_max: Mm3, V_round: Mm3) -> Whole:
    """Whole holes that one pack gives: the quotient rounded down, which is 1 less the rounded-up difference from 1.

    Examples
    --------
    >>> holes_per_pack(V_max=2.1, V_round=0.7)
    3.0
    """
    return 1 - ceil(1 - V_max / V_round)


@formula(symbol="n_open", source=_COUNT, limits={"V_round": _ANY, "V_max": _VOLUME})
def packs_per_hole(*, V_round: Mm3, V_max: Mm3) -> Whole:
    """Packs that one hole takes.

    Examples
    --------
    >>> packs_per_hole(V_round=900.0, V_max=350.0)
    3.0
    """
    return ceil(V_round / V_max)


@formula(symbol="n_p", source=_COUNT, limits={"n_hole": _NUMBER, "n_h": (1.0, 1e12)})
def packs_for_holes(*, n_hole: Whole, n_h: Whole) -> Whole:
    """Packs for a number of equal holes when each pack serves whole holes.

    Examples
    --------
    >>> packs_for_holes(n_hole=7.0, n_h=3.0)
    3.0
    """
    return ceil(n_hole / n_h)


@formula(symbol="n_p", source=_COUNT, limits={"V_sum": _ANY, "V_max": _VOLUME})
def packs_for_volume(*, V_sum: Mm3, V_max: Mm3) -> Whole:
    """Packs for a volume when a pack may run out within a hole.

    Examples
    --------
    >>> packs_for_volume(V_sum=701.0, V_max=350.0)
    3.0
    """
    return ceil(V_sum / V_max)


@formula(symbol="V_end", source=_WAY, limits={"V_max": _ANY, "n_h": _NUMBER, "V_round": _ANY})
def pack_end(*, V_max: Mm3, n_h: Whole, V_round: Mm3) -> Mm3:
    """What a pack is left with that is too little for another hole.

    Notes
    -----
    ``n_h`` is the number of whole holes that the pack served.

    Examples
    --------
    >>> pack_end(V_max=350.0, n_h=3.0, V_round=100.0)
    50.0
    """
    return V_max - n_h * V_round


@formula(symbol="V_lost", source=_WAY, limits={"n_m": _NUMBER, "V_disc": _ANY, "n_p": _NUMBER, "V_disc_p": _ANY})
def discarded(*, n_m: Whole, V_disc: Mm3, n_p: Whole, V_disc_p: Mm3) -> Mm3:
    """Initial discard of all mixers and packs.

    Examples
    --------
    >>> discarded(n_m=3.0, V_disc=20.0, n_p=3.0, V_disc_p=5.0)
    75.0
    """
    return n_m * V_disc + n_p * V_disc_p


@formula(symbol="V_lost", source=_WAY, limits={"n_p": _NUMBER, "V_res": _ANY})
def left_in_packs(*, n_p: Whole, V_res: Mm3) -> Mm3:
    """Residual of all packs.

    Examples
    --------
    >>> left_in_packs(n_p=3.0, V_res=15.0)
    45.0
    """
    return n_p * V_res


@formula(symbol="V_lost", source=_WAY, limits={"n_m": _NUMBER, "V_mix": _ANY})
def left_in_mixers(*, n_m: Whole, V_mix: Mm3) -> Mm3:
    """Content of all mixers.

    Examples
    --------
    >>> left_in_mixers(n_m=3.0, V_mix=10.0)
    30.0
    """
    return n_m * V_mix


@formula(symbol="n_order", source="the user's own reserve", limits={"n_use": _NUMBER, "reserve": (0.0, 10.0)})
def to_order(*, n_use: Whole, reserve: Ratio) -> Whole:
    """Number to order: what the work uses and the reserve, rounded up.

    Examples
    --------
    >>> to_order(n_use=20.0, reserve=0.10)
    22.0
    """
    return ceil(n_use * (1 + reserve))


@formula(symbol="V_stay", source=_SUM, limits={"V_disp": _ANY, "V_out": _ANY})
def what_stays(*, V_disp: Mm3, V_out: Mm3) -> Mm3:
    """What stays in the holes of all that is dispensed into them.

    Examples
    --------
    >>> what_stays(V_disp=12.0, V_out=2.0)
    10.0
    """
    return V_disp - V_out


@formula(symbol="V_buy", source=_SUM, limits={"n_order": _NUMBER, "V_pack": _ANY})
def bought_in_packs(*, n_order: Whole, V_pack: Mm3) -> Mm3:
    """What is in all packs that are ordered.

    Examples
    --------
    >>> bought_in_packs(n_order=3.0, V_pack=400.0)
    1200.0
    """
    return n_order * V_pack


@formula(symbol="V_new", source=_SUM, limits={"n_order": _NUMBER, "n_use": _NUMBER, "V_pack": _ANY})
def not_opened(*, n_order: Whole, n_use: Whole, V_pack: Mm3) -> Mm3:
    """What is in the packs that are ordered and not opened.

    Examples
    --------
    >>> not_opened(n_order=3.0, n_use=2.0, V_pack=400.0)
    400.0
    """
    return (n_order - n_use) * V_pack


@formula(symbol="V_inside", source=_SUM, limits={"V_left": _ANY, "V_new": _ANY})
def all_left_in_packs(*, V_left: Mm3, V_new: Mm3) -> Mm3:
    """What is left in packs: the residual of those that are used, and the packs that are not opened.

    Examples
    --------
    >>> all_left_in_packs(V_left=36.0, V_new=400.0)
    436.0
    """
    return V_left + V_new


def plan_packs(
    *,
    needs: Iterable[Need | tuple[str, int, float] | tuple[str, int, float, float]],
    pack_volume: float,
    residual: float,
    discard_per_mixer: float,
    discard_per_pack: float = 0.0,
    mixer_volume: float = 0.0,
    holes_per_shift: int | None = None,
    shifts: Sequence[int] | None = None,
    split: bool = False,
    new_mixer_with_pack: bool = True,
    reserve: float = 0.0,
) -> PackPlan:
    """Plan the packs of a whole job from plain numbers; pauses within a shift are the timeline's business.

    Parameters
    ----------
    needs
        Groups of equal holes in the order of work: mark, count, rounded dose [mm³], and of that the overflow [mm³] (0
        when left out).
    pack_volume, residual : float [mm³]
        Content of a pack, and what stays in it.
    discard_per_mixer, discard_per_pack : float [mm³]
        Thrown away at the start of each mixer and of each pack.
    mixer_volume : float [mm³]
        What a mixer, with its tube, holds.
    holes_per_shift
        Holes in each shift; None puts the whole job into one shift.
    shifts
        Holes of each shift in turn, instead of ``holes_per_shift``; together they hold every hole.
    split
        Whether a hole may be finished from the next pack.
    new_mixer_with_pack
        True: each pack has a mixer of its own. False: a mixer stays in use for a whole shift.
    reserve : float [-]
        Share ordered on top: 0.10 is ten per cent more.

    Returns
    -------
    PackPlan
        Volumes [mm³]; bought = in holes + waste + left over.

    Raises
    ------
    PlanError
        A value that cannot be planned with.
    """
    groups = [need if isinstance(need, Need) else Need(*need) for need in needs]
    check_groups(groups)
    volumes = {
        "residual": residual,
        "discard_per_mixer": discard_per_mixer,
        "discard_per_pack": discard_per_pack,
        "mixer_volume": mixer_volume,
    }
    check_volumes(pack=pack_volume, parts=volumes, reserve=reserve)
    new = yield_with_new_mixer(
        V_pack=pack_volume, V_res=residual, V_disc=discard_per_mixer, V_disc_p=discard_per_pack, V_mix=mixer_volume
    )
    kept = yield_with_kept_mixer(V_pack=pack_volume, V_res=residual, V_disc_p=discard_per_pack)
    if new <= 0:
        lost = convert(sum(volumes.values()), "mm³", "mL")
        held = convert(pack_volume, "mm³", "mL")
        raise PlanError(
            f"a pack of {held:.5g} mL loses {lost:.5g} mL to {', '.join(volumes)} and leaves nothing; accepted:"
            " together less than the pack"
        )
    uses = tuple(_group_use(need, new) for need in groups)
    later = new if new_mixer_with_pack else kept
    run = PackRun(
        first=new, later=later, split=split, new_mixer_with_pack=new_mixer_with_pack, pack_end=pack_end.function
    )
    use_up(
        run, groups=groups, sizes=shift_sizes(groups=groups, each=holes_per_shift, listed=shifts), each=holes_per_shift
    )
    out = math.fsum(need.count * need.overflow for need in groups)
    waste = Waste(
        overflow=out,
        discard_mixer=discarded(n_m=run.mixers, V_disc=discard_per_mixer, n_p=0, V_disc_p=0.0),
        discard_pack=discarded(n_m=0, V_disc=0.0, n_p=run.packs, V_disc_p=discard_per_pack),
        mixer_content=left_in_mixers(n_m=run.mixers, V_mix=mixer_volume),
        residual=left_in_packs(n_p=run.packs, V_res=residual),
        pack_ends=run.pack_ends,
        part_packs=run.part_packs,
    )
    order = int(to_order(n_use=run.packs, reserve=reserve))
    return PackPlan(
        holes=sum(need.count for need in groups),
        shifts=run.shifts,
        packs=run.packs,
        mixers=run.mixers,
        packs_to_order=order,
        mixers_to_order=int(to_order(n_use=run.mixers, reserve=reserve)),
        in_holes=math.fsum(need.count * need.dose for need in groups) - out,
        waste=waste,
        left_over=(order - run.packs) * pack_volume,
        bought=order * pack_volume,
        first_yield=run.first,
        later_yield=run.later,
        pack_volume=pack_volume,
        reserve=reserve,
        split=split,
        groups=uses,
        **volumes,
    )


def _group_use(need: Need, most: float) -> GroupUse:
    packs = int(packs_per_hole(V_round=need.dose, V_max=most))
    holes = int(holes_per_pack(V_max=most, V_round=need.dose))
    return GroupUse(need.mark, need.count, need.dose, holes, packs, need.overflow)


def group_steps(book: Steps, plan: PackPlan, *, counts: Mapping[str, Origin] | None = None) -> None:
    """Work what a pack means for each group as steps, to be redone by hand.

    Holes of each pack, packs that one hole takes, and packs for the group if it were done alone in one shift with a new
    mixer for each pack: by whole holes, with what each pack is left with, or by volume with ``split``.

    Parameters
    ----------
    book
        Takes the steps; it has those of `plan_steps`.
    plan
        A plan.
    counts
        Where the number of holes comes from, by mark.
    """
    most = Given(plan.first_yield, "mm³", result_of(PLAN, None, "yield"))
    for use in plan.groups:
        where, own = (counts or {}).get(use.mark, Origin("schedule")), book.of(use.mark)
        dose, count = (
            Given(use.dose, "mm³", result_of(DOSE, use.mark, "V_round")),
            Given(float(use.count), "pcs", where),
        )
        overflow = Given(use.overflow, "mm³", result_of(DOSE, use.mark, "V_over"))
        whole = own.find(
            "numerical",
            "V_sum",
            "Dispensed into the group's holes",
            use.count * use.dose,
            "mm³",
            how="number of holes times rounded dose",
            inputs={"n_hole": count, "V_round": dose},
        )
        own.find(
            "numerical",
            "V_out",
            "Overflows at the group's mouths",
            use.count * use.overflow,
            "mm³",
            how="number of holes times overflow",
            inputs={"n_hole": count, "V_over": overflow},
        )
        each = own.use(holes_per_pack, "Whole holes that one pack gives", "n_h", V_max=most, V_round=dose)
        own.use(packs_per_hole, "Packs that one hole takes", "n_hole", V_round=dose, V_max=most)
        if plan.split or not use.holes_per_pack:
            own.use(packs_for_volume, "Packs for this group alone", "n_p", V_sum=whole, V_max=most)
        else:
            own.use(
                pack_end, "Left in a pack, too little for another hole", "V_end", V_max=most, n_h=each, V_round=dose
            )
            own.use(packs_for_holes, "Packs for this group alone", "n_p", n_hole=count, n_h=each)


def plan_steps(book: Steps, plan: PackPlan, *, origins: Mapping[str, str | Origin] | None = None) -> None:
    """Work the totals of a plan as steps.

    Yield of a pack, discard, residual and content of mixers in all, packs and mixers to order.

    Parameters
    ----------
    book
        Takes the steps.
    plan
        A plan.
    origins
        Where volumes, numbers and the reserve come from, by symbol.
    """
    whence = origins or {}

    def given(symbol: str, value: float, unit: str = "mm³", otherwise: str = "job file and adhesive record") -> Given:
        return Given(value, unit, whence.get(symbol, otherwise))

    counted = COUNTED_ALONE
    volumes = {
        "V_pack": given("V_pack", plan.pack_volume),
        "V_res": given("V_res", plan.residual),
        "V_disc": given("V_disc", plan.discard_per_mixer),
        "V_disc_p": given("V_disc_p", plan.discard_per_pack),
        "V_mix": given("V_mix", plan.mixer_volume),
    }
    packs, mixers = given("n_p", float(plan.packs), "pcs", counted), given("n_m", float(plan.mixers), "pcs", counted)
    used = {"packs": packs, "mixers": mixers}
    reserve = given("reserve", plan.reserve, "", "job file")
    rows: list[tuple[Formula, str, str, str, dict[str, Given]]] = [
        (yield_with_new_mixer, "yield", "", MOST_OF_A_PACK, {})
    ]
    if plan.later_yield != plan.first_yield:
        rows.append((yield_with_kept_mixer, "yield_kept", "", "Most that a pack gives when the mixer is kept", {}))
    rows += [
        (discarded, "discard", "V_thrown", "Initial discard of all mixers and packs", {"n_m": mixers, "n_p": packs}),
        (left_in_packs, "residual", "V_left", "Residual of all packs that are used", {"n_p": packs}),
        (left_in_mixers, "mixers", "V_stood", "Left in all mixers", {"n_m": mixers}),
        (to_order, "order_packs", "", "Packs to order", {"n_use": used["packs"], "reserve": reserve}),
        (to_order, "order_mixers", "", "Mixers to order", {"n_use": used["mixers"], "reserve": reserve}),
    ]
    for one, name, symbol, label, own in rows:
        inputs: dict[str, Any] = {key: {**volumes, **own}[key] for key in one.parameters}
        book.use(one, label, name, symbol or None, **inputs)
