"""How much overfill each bar group gets and why, and what the rounded dose then does: the sheet of notebook 02.

`choose_overfills` comes before the doses, `work_overfills` after them. Equal groups are simulated once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from scipy import special

from calc.base.collector import Steps
from calc.base.display import percent_text
from calc.base.identity import DOSE, OVERFILL, identity
from calc.base.sheet import Check, Found, Given, Notice, Origin, Sheet, Step, result_of
from calc.base.units import convert
from calc.evidence.limits import limit_of, not_enough, overfill_of, scatter_with_resolution
from calc.files.evidence import measured_holes, read_file, resolution_of
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.scatter import scatters
from calc.files.schedule import LARGEST_OVERFILL, BarGroup
from calc.fill import bits, hole
from calc.scatter.factors import holes_without_normality, rank_without_normality, tolerance_factor
from calc.scatter.simulated import needed_dose
from calc.scatter.ways import Judgement, WayResult, compare_ways
from calc.work.dose import Worked, case_of, work
from calc.work.overfill.formulas import (
    combined,
    first_order_dose,
    part_of_length,
    part_of_share,
    share_of_variance,
    short_holes,
    waste_of_holes,
)
from calc.work.overfill.group import RULES, Choice, GroupScatter, Option
from calc.work.overfill.setting import (
    HOLES,
    LENGTHS,
    WORDS,
    Setting,
    cheapest_dose,
    factor_inputs,
    holes_of,
    how_found,
    mean_outcome,
    probability_of,
    quantile_of,
    read_setting,
    refuse_impossible,
    rounded_up,
    series_of,
    stated_overfill,
    stated_probability,
)

HOLE_LEFT_OUT = "hole_left_out"  # name of a notice
_SHORT_COST = {"cost_volume": "short_per_mL", "cost_hole": "short_per_hole"}
_ASSUMED = (
    "probability",
    "cost_volume",
    "cost_hole",
)  # rules by assumed scatter: where measured holes ask for more, these govern
_SEEN_SHARE = 0.0005  # shares of short holes are said from a twentieth of a per cent on
_COMPARED = 20_000  # simulated holes on which ways of dosing are compared
_FAR = 0.01  # first order and simulation are said to differ from one per cent of the dose on


def judgement_of(job: Job) -> Judgement | None:
    """Return the assumptions about dosing by eye; None when the job file states none."""
    return None if job.judgement is None else Judgement(**job.judgement.model_dump())


# ---- the overfill of each group ------------------------------------------------------------------


def choose_overfills(job: Job) -> dict[str, Choice]:
    """Choose the overfill of every bar group, before any dose is worked.

    Parameters
    ----------
    job
        A validated job.

    Returns
    -------
    dict of str to Choice
        By mark. A group's own overfill in the schedule wins over the rule.

    Raises
    ------
    InputErrors
        Scatter that reaches what cannot be.
    """
    if job.scatter is not None:
        refuse_impossible(job)
    return {group.mark: choose(job, group) for group in job.groups}


def choose(job: Job, group: BarGroup) -> Choice:
    """Choose the overfill of one bar group; see `choose_overfills`."""
    options = _options(job, group)
    if group.overfill is not None:
        origin = Origin.of_row(job.schedule_path.name, group.row, "overfill")
        return Choice(group.overfill, origin, "the group's own share, set in the schedule", "own", options)
    rule = job.overfill.rule
    if rule == "share":
        return Choice(
            job.overfill.share,
            Origin(f"{job.path.name}, overfill.share"),
            job.overfill.reason or "no reason stated",
            rule,
            options,
        )
    option = next(one for one in options if one.rule == rule)
    measured = next(one for one in options if one.rule == "measured")
    # More than a schedule may ask for is no overfill but a case for more measured holes: then the check of the measured
    # holes fails.
    if (
        rule in _ASSUMED
        and measured.share is not None
        and option.share is not None
        and option.share < measured.share <= LARGEST_OVERFILL
    ):
        origin = _by_rule(job, group, measured, f"{option.name}; the measured holes ask for more and govern")
        return Choice(
            measured.share,
            origin,
            f"{measured.reason}; more than by the rule, {option.share * 100:.4g} %",
            "measured",
            options,
        )
    if option.share is None:
        message = (
            f"gives no overfill for group {group.mark}: {option.reason}; accepted: another rule, or an overfill of its"
            " own in the schedule"
        )
        raise InputErrors([Problem(job.path.name, "key overfill.rule", rule, message)])
    return Choice(option.share, _by_rule(job, group, option, option.name), option.reason, rule, options)


def _by_rule(job: Job, group: BarGroup, option: Option, words: str) -> Origin:
    """An overfill that a rule of the job file finds: a result of notebook 02."""
    return Origin(f"{job.path.name}, overfill.rule: {words}", identity(OVERFILL, group.mark, f"option.{option.rule}"))


def _options(job: Job, group: BarGroup) -> tuple[Option, ...]:
    fixed = group.overfill if group.overfill is not None else job.overfill.fixed
    whence = "the group's own share" if group.overfill is not None else job.overfill.reason or "no reason stated"
    share = Option("share", fixed, whence if fixed is not None else f"{job.path.name} states no share")
    return (share, *_from_scatter(job, group), *_from_measurements(job, group))


def _from_scatter(job: Job, group: BarGroup) -> tuple[Option, ...]:
    names = ("probability", "cost_volume", "cost_hole")
    if job.scatter is None:
        return tuple(Option(rule, None, f"{job.path.name} states no scatter") for rule in names)
    setting, stated = read_setting(job, group).setting, job.overfill.short_probability
    share = stated_overfill(setting, stated)
    where = how_found(setting)
    reason = f"at most {stated * 100:.4g} % of the holes stay short ({where}; rounded up to a tenth of a per cent)"
    if share == 0.0:
        reason = (
            f"with the nominal requirement at most {stated * 100:.4g} % of the holes stay short ({where}); nothing is"
            " taken off it"
        )
    first = Option("probability", share, reason)
    return (first, *(_cheapest(job, setting, rule, share) for rule in names[1:]))


def _cheapest(job: Job, setting: Setting, rule: str, least: float) -> Option:
    key = "short_per_mL" if rule == "cost_volume" else "short_per_hole"
    short = None if job.cost is None else getattr(job.cost, key)
    if job.cost is None or short is None:
        return Option(rule, None, f"{job.path.name} states no cost.{key}")
    required = holes_of(setting).nominal.required
    dose = cheapest_dose(
        setting, rule, short / convert(1.0, "mL", "mm³") if rule == "cost_volume" else short, job.cost.waste
    )
    cheapest = _overfill(
        rule, dose, required, f"least expected cost of waste and short holes, with the costs of {job.path.name}"
    )
    share = cheapest.share or 0.0
    if share < least:
        return Option(
            rule,
            least,
            f"least cost would be at {share * 100:.4g} %, but economy does not undercut the stated probability of a"
            " short hole",
        )
    return cheapest


def _from_measurements(job: Job, group: BarGroup) -> tuple[Option, ...]:
    evidence = job.evidence.get(group.mark)
    if evidence is None:
        return tuple(
            Option(rule, None, f"{job.path.name} has no evidence.{group.mark}")
            for rule in ("measured", "measured_free")
        )
    share, confidence, n = 1 - job.overfill.short_probability, job.overfill.confidence, evidence.holes
    required = evidence.nominal or _required(job, group)
    k = float(tolerance_factor(n=n, share=share, confidence=confidence))
    delta, _ = _resolution(job, group.mark)
    normal_limit = float(limit_of(V_m=evidence.mean, k=k, s_V=scatter_with_resolution(s_r=evidence.sd, delta_V=delta)))
    said = f"covers {share * 100:.4g} % of the holes with {confidence * 100:.4g} % confidence"
    first = _overfill(
        "measured", normal_limit, required, f"mean and {k:.4g} standard deviations of {n} measured holes {said}"
    )
    if too_few := not_enough(n=n, share=share, confidence=confidence):
        first = Option("measured", None, too_few)
    needed = int(holes_without_normality(share=share, confidence=confidence))
    if n < needed:
        return (first, Option("measured_free", None, f"{needed} measured holes are needed for it, and there are {n}"))
    rank = rank_without_normality(n=n, share=share, confidence=confidence)
    value = evidence.value_at(rank)
    if value is None:
        return (
            first,
            Option(
                "measured_free",
                None,
                f"evidence.{group.mark} states neither the largest volume nor the one at rank {rank}",
            ),
        )
    return (
        first,
        _overfill(
            "measured_free",
            value,
            required,
            f"rank {rank} of {n} measured holes, or higher, {said}, whatever their distribution",
        ),
    )


def _resolution(job: Job, mark: str) -> tuple[float, Origin]:
    """Resolution of a group's readings [mm³], as its evidence or the file that this names has it.

    And where it comes from.
    """
    file = job.evidence[mark].file
    measured = None if file is None else measured_holes(job=job, mark=mark, read=read_file(job, file))
    return resolution_of(job=job, mark=mark, measured=measured)


def _required(job: Job, group: BarGroup) -> float:
    """Required volume of the group's nominal or measured hole [mm³]."""
    profile = job.measured.get(group.mark)
    if profile is not None:
        return profile.required(phi=group.bar.diameter, l_v=group.embedment)
    sizes = {"d_0": job.bored(group), "phi": group.bar.diameter, "l_v": group.embedment, "overdrill": group.overdrill}
    return float(hole.required_volume(**sizes, theta=job.equipment.point_angle))


def _overfill(rule: str, dose: float, required: float, reason: str) -> Option:
    exact = float(overfill_of(V_dose=dose, V_req=required))
    return Option(
        rule,
        rounded_up(exact),
        f"{reason}; it is less than the nominal hole needs, and nothing is taken off that" if exact < 0 else reason,
    )


# ---- what the rounded dose then does -------------------------------------------------------------


@dataclass(frozen=True)
class OverfillWork:
    """Notebook 02's part of the results: its sheet, its keys of results.json, and the data of its panel."""

    sheet: Sheet
    choices: Mapping[str, Choice]
    groups: Mapping[str, GroupScatter]
    waste_price: float | None
    currency: str

    def entry(self, mark: str, /) -> dict[str, Any]:
        """Its keys of a group's entry in results.json; what needs scatter is null without it."""
        choice, group = self.choices[mark], self.groups.get(mark)
        series = None if group is None else group.series
        return {
            "short_fill_probability": None if group is None else group.probability,
            "overfill_rule": choice.rule,
            "overfill_reason": choice.reason,
            "overfill_options": {option.rule: option.share for option in choice.options},
            "mean_overflow_mL": None if group is None else convert(group.mean_overflow, "mm³", "mL"),
            "mean_unfilled_mm": None if group is None else group.mean_unfilled,
            "series_holes": None if series is None else series.holes,
            "series_any_short_probability": None if series is None else series.more_than(0),
            "series_short_share_95": None if series is None else float(series.quantile(0.95)),
        }

    @property
    def expected_overflow(self) -> float | None:
        """What is expected at the mouths of all holes with the stated scatter [mm³]; None where none is stated."""
        groups = self.groups.values()
        return sum(group.count * group.mean_overflow for group in groups) if groups else None

    def totals(self) -> dict[str, Any]:
        """Its keys of the totals in results.json."""
        waste, known = self.expected_overflow, bool(self.groups)
        return {
            "expected_short_holes": (
                sum(group.count * group.probability for group in self.groups.values()) if known else None
            ),
            "expected_waste_L": None if waste is None else convert(waste, "mm³", "L"),
            "expected_waste_cost": None if waste is None or self.waste_price is None else waste * self.waste_price,
            "currency": self.currency or None,
        }


def work_overfills(job: Job, worked: tuple[Worked, ...], choices: Mapping[str, Choice]) -> OverfillWork:
    """Work what the rounded doses do with the stated scatter, and how the overfills came about.

    Parameters
    ----------
    job
        A job with scatter or with measured holes.
    worked
        Its groups with their doses.
    choices
        What `choose_overfills` gave.

    Returns
    -------
    OverfillWork
    """
    steps: list[Step] = []
    found: list[Found] = []
    checks: list[Check] = []
    groups: dict[str, GroupScatter] = {}
    for one in worked:
        group = job.group(one.case.mark)
        writer = _Writer(one)
        if job.scatter is not None:
            studied = _studied(job, group, one, choices[group.mark])
            groups[group.mark] = studied
            _write_scatter(writer, job, studied)
            checks.append(_check(studied, one))
        if group.mark in job.evidence:
            _write_measured(writer, job, group)
        _write_options(writer, job, choices[group.mark])
        steps += writer.steps
        found += writer.found
    price = None if job.cost is None else job.cost.waste
    found += _whole_job(job, groups)
    notices = tuple(dict.fromkeys(_notices(job, groups, choices, steps)))
    sheet = Sheet(OVERFILL, tuple(steps), tuple(checks), notices, tuple(found))
    return OverfillWork(sheet, dict(choices), groups, price, "" if job.cost is None else job.cost.currency)


def _whole_job(job: Job, groups: Mapping[str, GroupScatter]) -> tuple[Found, ...]:
    """What is expected of all groups together: short holes, overflow, and what that costs."""
    if not groups:
        return ()
    book = Steps(OVERFILL, None, job.display)
    how = "sum over all groups"
    short = {mark: one.count * one.probability for mark, one in groups.items()}
    spilt = {mark: one.count * one.mean_overflow for mark, one in groups.items()}
    for name, label, unit, each in (
        ("n_short", "Short holes to expect in the job", "pcs", short),
        ("V_waste", "Overflow to expect at the mouths of all holes", "mm³", spilt),
    ):
        parts = {f"{name}.{mark}": Given(value, unit, result_of(OVERFILL, mark, name)) for mark, value in each.items()}
        total = book.find(
            "summed", f"{name}.all", label, sum(part.value for part in parts.values()), unit, how=how, inputs=parts
        )
    if job.cost is not None:
        label = f"What that overflow costs, in {job.cost.currency}"
        cost, inputs = total.value * job.cost.waste, {"V_waste": total, "c_waste": _cost(job, "waste")}
        book.find(
            "numerical", "cost.waste", label, cost, "", how="overflow in mL times the price of a mL", inputs=inputs
        )
    return book.found


def study(job: Job, group: BarGroup) -> GroupScatter:
    """Study one bar group by itself, such as one whose scatter was changed in a panel.

    Parameters
    ----------
    job
        A job with scatter.
    group
        One of its bar groups.

    Returns
    -------
    GroupScatter

    Raises
    ------
    InputErrors
        Scatter that reaches what cannot be, or a rule that finds no overfill.
    """
    refuse_impossible(job, (group,))
    choice = choose(job, group)
    return _studied(job, group, work(case_of(job, group, choice)), choice)


def _studied(job: Job, group: BarGroup, one: Worked, choice: Choice) -> GroupScatter:
    read = read_setting(job, group)
    overflow, unfilled = mean_outcome(read.setting, one.rounded)
    return GroupScatter(
        mark=group.mark,
        count=group.count,
        setting=read.setting,
        origins=read.origins,
        choice=choice,
        required=one.required,
        dose=one.rounded,
        stated=job.overfill.short_probability,
        probability=probability_of(read.setting, one.rounded),
        mean_overflow=overflow,
        mean_unfilled=unfilled,
        series=series_of(read.setting, one.rounded),
        notices=read.notices,
    )


class _Writer(Steps):
    """Collects the steps of one group."""

    def __init__(self, worked: Worked) -> None:
        super().__init__(OVERFILL, worked.case.mark, worked.case.display)
        self.worked = worked

    @property
    def required(self) -> Given:
        """The required volume of notebook 01."""
        return Given(self.worked.required, "mm³", result_of(DOSE, self.worked.case.mark, "V_req"))


def _simulated_from(writer: _Writer, job: Job, group: GroupScatter, needed: Given) -> dict[str, Given]:
    """Keep the simulated holes of a group as one result: the dose at the means, each input's scatter, the seed."""
    scatter = {
        f"u.{part.name}": Given(
            part.u,
            "mm" if part.name in LENGTHS else "",
            group.origins[part.name].told("standard deviation; {}"),
        )
        for part in group.budget.parts
        if part.u > 0
    }
    key = "scatter.seed"
    said = f"{job.path.name}, {key}" if key in job.origins else f"not given in {job.path.name}: the default"
    holes = writer.find(
        "simulated",
        "holes",
        "Simulated holes of the group",
        float(HOLES),
        "pcs",
        how=f"{how_found(group.setting)}: each hole's sizes drawn about their means, its dose by the formulas above",
        inputs={"V_need": needed, **scatter, "seed": Given(float(group.setting.seed), "", said)},
    )
    return {"holes": holes}


def _write_scatter(writer: _Writer, job: Job, group: GroupScatter) -> None:
    needed = _write_means(writer, group)
    u_c = _write_budget(writer, group, needed)
    share, stated = 1 - group.stated, stated_probability(job)
    z_p = writer.find(
        "numerical",
        "z_p",
        "Normal quantile of the share of full holes",
        float(special.ndtri(share)),
        "",
        how="quantile of the standard normal distribution at 1 less the stated probability",
        inputs={"p_short": stated},
    )
    writer.use(
        first_order_dose, "First-order estimate of the dose for the stated probability", V_need=needed, z_p=z_p, u_c=u_c
    )
    holes = _simulated_from(writer, job, group, needed)
    dose = writer.find(
        "simulated",
        "V_dose.quantile",
        "Dose that the stated share of the holes does not need more than",
        quantile_of(group.setting, share),
        "mm³",
        how="quantile of the needed dose, at 1 less the stated probability",
        inputs={"p_short": stated, **holes},
    )
    writer.use(
        overfill_of,
        "Overfill for the stated probability, not rounded up",
        name="overfill",
        V_dose=dose,
        V_req=writer.required,
    )
    # Nought means: too small for the integration to resolve.
    method = (
        "share of the simulated holes that need more than the rounded dose"
        if group.setting.correlation
        else "integrated over one input, averaged over the others, with the same seed"
    )
    rounded = {"V_round": Given(group.dose, "mm³", result_of(DOSE, group.mark, "V_round")), **holes}
    chance = writer.find(
        "numerical",
        "p_short",
        "Probability of a short hole with the rounded dose",
        group.probability,
        "",
        how=method,
        inputs=rounded,
    )
    number = Given(float(group.count), "pcs", Origin.of_row(job.schedule_path.name, job.group(group.mark).row, "count"))
    writer.use(short_holes, "Short holes to expect in the group", n_hole=number, p_short=chance)
    overflow = writer.find(
        "simulated",
        "V_over.mean",
        "Mean overflow at a hole with the rounded dose",
        group.mean_overflow,
        "mm³",
        how="mean over the holes of what the dose has too much",
        inputs=rounded,
    )
    writer.find(
        "simulated",
        "u.mean",
        "Mean unfilled length with the rounded dose",
        group.mean_unfilled,
        "mm",
        how="mean over the holes of the length that the dose leaves bare",
        inputs=rounded,
    )
    writer.use(waste_of_holes, "Overflow to expect at the mouths of the group", n_hole=number, V_over=overflow)
    _write_series(writer, group, rounded)


def _write_series(writer: _Writer, group: GroupScatter, rounded: dict[str, Given]) -> None:
    series = group.series
    if series is None:
        return
    said = f"holes in a series, {group.origins['series'].words}"
    inputs = rounded | {"n_each": Given(float(series.holes), "pcs", said)}
    how = "series drawn with what is common to their holes, each series' share of short holes integrated; same seed"
    writer.find(
        "simulated",
        "series.any",
        "Probability that a series has a short hole",
        series.more_than(0),
        "",
        how=how,
        inputs=inputs,
    )
    writer.find(
        "simulated",
        "series.share_95",
        "Share of short holes that 95 of 100 series do not exceed",
        float(series.quantile(0.95)),
        "",
        how=how,
        inputs=inputs,
    )


def _write_options(writer: _Writer, job: Job, choice: Choice) -> None:
    """Say how each overfill came about that the job gives for the group."""
    file, mark = job.path.name, str(writer.mark)
    known = {link.name: Given(link.value, "", result_of(OVERFILL, mark, link.name)) for link in writer.links}
    exact = {"measured": "overfill.measured", "measured_free": "", "share": ""}
    for option in choice.options:
        if option.share is None:
            continue
        inputs: dict[str, Given] = {}
        if option.rule == "share":
            own = job.group(mark).overfill is not None
            row = Origin.of_row(job.schedule_path.name, job.group(mark).row, "overfill")
            inputs["overfill"] = Given(option.share, "", row if own else Origin(f"{file}, overfill.share"))
        else:
            inputs["p_short"] = stated_probability(job)
            name = exact.get(option.rule, "overfill")
            inputs |= {name: known[name]} if name in known else {}
        if option.rule in _SHORT_COST:
            inputs |= {"c_short": _cost(job, _SHORT_COST[option.rule]), "c_waste": _cost(job, "waste")}
        if option.rule == "measured_free":
            inputs["n_hole"] = Given(float(job.evidence[mark].holes), "pcs", f"{file}, evidence.{mark}.holes")
        writer.find(
            "read" if option.rule == "share" else "numerical",
            f"option.{option.rule}",
            f"Overfill by {option.name}",
            option.share,
            "",
            how=option.reason,
            inputs=inputs,
        )


def _cost(job: Job, key: str) -> Given:
    assert job.cost is not None
    if key == "waste":
        return Given(job.cost.waste * convert(1.0, "mL", "mm³"), "", f"{job.path.name}, cost.adhesive, for one mL")
    return Given(float(getattr(job.cost, key)), "", f"{job.path.name}, cost.{key}")


def _write_means(writer: _Writer, group: GroupScatter) -> Given:
    """Work the needed dose at the means of all inputs, by the formulas that are simulated."""
    units = {name: "mm" if name in LENGTHS else "" for name in WORDS}
    means = {part.name: part.value for part in group.budget.parts}
    given = {name: Given(means[name], units[name], group.origins[name].told("mean; {}")) for name in means}
    phi = Given(group.setting.phi, "mm", writer.worked.case.bar.origin)
    theta = Given(group.setting.theta, "°", writer.worked.case.origin("point_angle"))
    phi_m = writer.use(
        bits.diameter_of_mass, "Mean diameter of the bar by its mass", phi=phi, mass_deviation=given["mass_deviation"]
    )
    V_a = writer.use(hole.annular_volume, "Annular volume at the means", d_0=given["d_0"], phi=phi_m, l_v=given["l_v"])
    V_o = writer.use(
        hole.overdrill_volume,
        "Volume of the overdrilled part at the means",
        d_0=given["d_0"],
        overdrill=given["overdrill"],
    )
    V_t = writer.use(hole.tip_volume, "Volume of the tip cone at the means", d_0=given["d_0"], theta=theta)
    V_req = writer.use(hole.total_volume, "Required volume at the means", V_a=V_a, V_o=V_o, V_t=V_t)
    return writer.use(
        needed_dose, "Needed dose at the means", V_req=V_req, voids=given["voids"], repeat=given["repeat"]
    )


def _write_budget(writer: _Writer, group: GroupScatter, needed: Given) -> Given:
    """Work the first-order budget: each input's part, and the root of the sum of their squares, term by term."""
    total: Given | None = None
    own_parts: dict[str, Given] = {}
    slope = "change of the needed dose over that of the input, a little above and below its mean (central difference)"
    for part in group.budget.parts:
        if part.u == 0:
            continue
        long, words = part.name in LENGTHS, WORDS[part.name]
        u = Given(part.u, "mm" if long else "", group.origins[part.name].told("standard deviation; {}"))
        c = writer.find(
            "numerical",
            f"c.{part.name}",
            f"Slope of the needed dose against {words}",
            abs(part.gradient),
            "mm²" if long else "mm³",
            how=slope,
            inputs={
                "V_need": needed,
                "mean": Given(part.value, u.unit, group.origins[part.name].told("mean; {}")),
                "u": u,
            },
        )
        label, name = f"Part of {words}", f"u_i.{part.name}"
        own = (
            writer.use(part_of_length, label, name, c_l=c, u_l=u)
            if long
            else writer.use(part_of_share, label, name, c_s=c, u_s=u)
        )
        own_parts[part.name] = own
        total = (
            own
            if total is None
            else writer.use(combined, f"Combined, with {words}", f"u_c.{part.name}", u_c=total, u_i=own)
        )
    if total is None:
        return Given(0.0, "mm³", "nothing scatters")
    for name, own in own_parts.items():
        writer.use(share_of_variance, f"Share of {WORDS[name]} in the variance", f"w_i.{name}", u_i=own, u_c=total)
    return total


def _write_measured(writer: _Writer, job: Job, group: BarGroup) -> None:
    evidence, file = job.evidence[group.mark], job.path.name
    share, confidence = 1 - job.overfill.short_probability, job.overfill.confidence
    if not_enough(n=evidence.holes, share=share, confidence=confidence):
        return
    delta, from_where = _resolution(job, group.mark)
    stated = {
        key: Origin(f"{file}, evidence.{group.mark}.{key}", general=f"{file}, evidence.(mark).{key}")
        for key in ("mean", "sd", "nominal")
    }
    factor = float(tolerance_factor(n=evidence.holes, share=share, confidence=confidence))
    k = writer.find(
        "numerical",
        "k",
        "One-sided tolerance factor",
        factor,
        "",
        how="exact, from the non-central t distribution (ISO 16269-6)",
        inputs=factor_inputs(
            job,
            evidence.holes,
            Origin(f"{file}, evidence.{group.mark}.holes", general=f"{file}, evidence.(mark).holes"),
        ),
    )
    s_V = writer.use(
        scatter_with_resolution,
        "Scatter of the measured holes, with the resolution of a reading",
        s_r=Given(evidence.sd, "mm³", stated["sd"]),
        delta_V=Given(delta, "mm³", from_where),
    )
    limit = writer.use(
        limit_of, "Tolerance limit from measured holes", V_m=Given(evidence.mean, "mm³", stated["mean"]), k=k, s_V=s_V
    )
    required = writer.required if evidence.nominal is None else Given(evidence.nominal, "mm³", stated["nominal"])
    writer.use(
        overfill_of,
        "Overfill from measured holes, not rounded up",
        name="overfill.measured",
        V_dose=limit,
        V_req=required,
    )


def _check(group: GroupScatter, one: Worked) -> Check:
    enough = group.choice.option("probability").share or 0.0
    return Check.compare(
        notebook=OVERFILL,
        mark=group.mark,
        name="short",
        group=f"{group.mark} ({one.case.bar.text})",
        title="probability of a short hole with the rounded dose",
        demand=100 * group.probability,
        resistance=100 * group.stated,
        unit="%",
        advice=f"an overfill of {enough * 100:.4g} % would do, or less scatter",
    )


def hole_left_out(job: Job, groups: Iterable[BarGroup]) -> tuple[Notice, ...]:
    """Say which groups are studied as if all their holes were equally wide; empty when there is none.

    Drilled holes differ, and their diameter is most of the scatter: without it the overfill comes out too small, and
    every check passes.
    """
    if job.scatter is None:
        return ()
    marks = [group.mark for group in groups if not scatters(job.scatter.of(group.mark), "hole_diameter")]
    if not marks:
        return ()
    told = (
        f"Scatter of the hole's diameter is left out for {', '.join(marks)}: overfill and short holes may come out too"
        " small."
    )
    return (
        Notice(
            OVERFILL, None, HOLE_LEFT_OUT, f"{told} {job.path.name}, [scatter] can state it as bit or hole_diameter."
        ),
    )


def _notices(
    job: Job, groups: Mapping[str, GroupScatter], choices: Mapping[str, Choice], steps: list[Step]
) -> list[Notice]:
    found = [*hole_left_out(job, job.groups), *(notice for group in groups.values() for notice in group.notices)]
    if any(job.scatter.of(mark).bit is not None for mark in groups if job.scatter is not None):
        found.append(Notice(OVERFILL, None, "bit", f"Scatter of the hole: {bits.SOURCE}."))
    if job.overfill.rule != "share":
        chosen = [
            f"{mark} {choice.share * 100:.4g} %" for mark, choice in choices.items() if choice.rule == job.overfill.rule
        ]
        if chosen:
            found.append(
                Notice(OVERFILL, None, "rule", f"Overfill by {RULES[job.overfill.rule]}: {', '.join(chosen)}.")
            )
        governed = [
            f"{mark} {choice.share * 100:.4g} %"
            for mark, choice in choices.items()
            if choice.rule not in ("own", job.overfill.rule)
        ]
        if governed:
            text = f"Measured holes ask for more than {RULES[job.overfill.rule]} and govern: {', '.join(governed)}."
            found.append(Notice(OVERFILL, None, "governed", text))
    found += _series_notices(groups)
    first_order = {step.mark: step.value for step in steps if step.name == first_order_dose.symbol}
    far = []
    for mark, group in groups.items():
        simulated, first = quantile_of(group.setting, 1 - group.stated), first_order[mark]
        if abs(first / simulated - 1) > _FAR:
            far.append(f"{mark} {(first / simulated - 1) * 100:+.2g} %")
    if far:
        text = (
            f"First order and simulation differ by more than {_FAR * 100:g} % of the dose: {', '.join(far)}. The"
            " simulation holds."
        )
        found.append(Notice(OVERFILL, None, "first_order", text))
    for mark, group in groups.items():
        measured = group.choice.option("measured").share
        if measured is not None and measured > group.dose / group.required - 1:
            text = f"its measured holes ask for {measured * 100:.4g} % overfill, more than the rounded dose holds."
            found.append(Notice(OVERFILL, mark, "measured", text))
    tied = [mark for mark, group in groups.items() if group.setting.correlation]
    if tied:
        text = (
            f"Inputs go together in {', '.join(tied)}: the first-order budget leaves that out, and the risk of a whole"
            " series is not given."
        )
        found.append(Notice(OVERFILL, None, "correlation", text))
    return found


def _series_notices(groups: Mapping[str, GroupScatter]) -> list[Notice]:
    """Say what is common to a series and how many holes of a bad one are short.

    Groups with the same series in one sentence.
    """
    together: dict[tuple[tuple[str, ...], int], list[str]] = {}
    for mark, group in groups.items():
        if group.series is not None and group.setting.common:
            texts = together.setdefault((group.setting.common, group.series.holes), [])
            share = float(group.series.quantile(0.95))
            texts += [f"{mark} {percent_text(share)}"] if share >= _SEEN_SHARE else []
    found = []
    for (common, holes), texts in together.items():
        short = (
            f"this share of the holes is short: {', '.join(texts)}; of other groups none."
            if texts
            else "no hole is short."
        )
        words = (
            f"Common to a series of {holes} holes: {' and '.join(WORDS[name] for name in common)}. In the worst one of"
            f" twenty series {short}"
        )
        found.append(Notice(OVERFILL, None, "series", words))
    return found


def ways_of(job: Job, group: GroupScatter) -> tuple[WayResult, ...]:
    """Compare ways of dosing on simulated holes of a group, with the assumptions and the price of the job file.

    Parameters
    ----------
    job
        A job with the tables [scatter] and [judgement].
    group
        The group.

    Returns
    -------
    tuple of WayResult
        Empty when the job file states no judgement.
    """
    judgement = judgement_of(job)
    if judgement is None:
        return ()
    return compare_ways(
        holes=group.scatter.simulate(
            series=_COMPARED // group.setting.series + 1, holes=group.setting.series, seed=group.setting.seed
        ),
        judgement=judgement,
        overfill=group.choice.share,
        stroke=job.equipment.stroke,
        graduation=job.equipment.step,
        price=None if job.cost is None else job.cost.waste,
    )
