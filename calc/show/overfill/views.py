"""What notebook 02 shows: tables, pictures and sentences about overfill and waste.

And plain words where the job file gives too little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from calc.base.display import METRIC, Display, percent_text, plain_text
from calc.files.job import Job
from calc.files.scatter import Judgement
from calc.fill.bits import SOURCE
from calc.scatter.sensitivity import Swing
from calc.scatter.ways import WayResult
from calc.show.overfill.figures import (
    LETTERS,
    budget_picture,
    curve_drawing,
    input_text,
    lines_picture,
    series_picture,
    share_text,
    short_text,
    tornado_picture,
    ways_picture,
)
from calc.show.view import (
    TABLES,
    View,
    inputs_view,
    picture_view,
    rows_of,
    standing,
    table_view,
    told,
)
from calc.work.dose import Worked
from calc.work.overfill.group import RULES, SWING_SHARE, Choice, GroupScatter
from calc.work.overfill.setting import WORDS
from calc.work.overfill.widening import WIDENING, Widened, wider_bit
from calc.work.overfill.work import OverfillWork, choose_overfills, ways_of
from calc.work.results import Results

_SEEN = 5e-4  # shares of series with a short hole are drawn from here on


@dataclass(frozen=True)
class Told:
    """What the views draw from: a job, its results, and what was studied of each bar group."""

    job: Job
    results: Results
    choices: dict[str, Choice]
    groups: dict[str, GroupScatter]

    @property
    def display(self) -> Display:
        """How the job is shown."""
        return self.job.display

    @property
    def shown(self) -> GroupScatter | None:
        """The group that pictures show.

        The one with most ways to choose its overfill, then the one that takes most adhesive.
        """
        groups = self.groups.values()
        return max(
            groups,
            key=lambda one: (sum(o.share is not None for o in one.options), one.count * one.required),
            default=None,
        )

    def worked(self, mark: str) -> Worked:
        """Return the dose of a group."""
        return next(one for one in self.results.worked if one.case.mark == mark)


def look(job: Job, results: Results) -> Told:
    """Gather what the views draw from; works for a job without scatter as well.

    Parameters
    ----------
    job
        A validated job.
    results
        What `compute` gave for it.

    Returns
    -------
    Told
    """
    work = results.part(OverfillWork)
    if work is None:
        return Told(job, results, choose_overfills(job), {})
    return Told(job, results, dict(work.choices), dict(work.groups))


def _missing(told_: Told, what: str) -> View:
    name = told_.job.path.name
    return told(f"{name} has no table scatter, so {what}. The answer above says what to write there.")


# ---- what goes in --------------------------------------------------------------------------------


@standing("overfill")
def opening(at: Told) -> View:
    """Say what the overfills come to; or what to write into the job file, when it states no scatter."""
    name = at.job.path.name
    if not at.groups:
        return told(
            f"{name} states no scatter: it has no table scatter. So nobody can say how often a hole stays short, or"
            " what is wasted; the overfill is what somebody decided.",
            'What to add, in a table [scatter]: bit = "medium" (or worn, or new), or hole_diameter with the mean and sd'
            ' of its deviation as drilled; bar_mass = "standard" or its limits; embedment, overdrill, voids and'
            " dispenser, each as mean and sd or as low and high. What is left out does not vary. For ways of dosing add"
            " [judgement], for prices [cost].",
        )
    short = sum(group.count * group.probability for group in at.groups.values())
    waste = sum(group.count * group.mean_overflow for group in at.groups.values())
    whole = sum(group.count * group.dose for group in at.groups.values())
    holes = sum(group.count for group in at.groups.values())
    failed = [check for check in at.results.sheet_of("02_overfill_and_waste").checks if not check.passes]
    stated = f"{100 * at.job.overfill.short_probability:.4g} %"
    verdict = (
        f"In every group at most {stated} of the holes stay short."
        if not failed
        else f"In {len(failed)} of the groups more than {stated} stay short."
    )
    lost = at.display.lost_volume(waste)
    cost = "" if at.job.cost is None else f", worth {waste * at.job.cost.waste:.2f} {at.job.cost.currency}"
    expected = "practically none stays" if short < 0.05 else f"{short:.1f} are expected to stay"
    return told(
        f"{verdict} Of all {holes} holes, {expected} short. {lost} are expected to overflow at the mouths{cost}: "
        f"{percent_text(waste / whole)} of what is injected."
    )


@standing()
def inputs(at: Told) -> list[View]:
    """Show what varies, as typed, with the key that each comes from; and what is from memory, and what is common."""
    origins = at.job.origins
    rows = rows_of(at.job, "overfill", *(table for table in TABLES["02"] if table != "judgement"))
    views = [inputs_view(rows, "What varies, and by which rule the overfill is found", "record")]
    if not at.groups:
        return views
    lines = ["What is not named here does not vary: it is taken as drawn."]
    if any(at.job.scatter.of(mark).bit is not None for mark in at.groups if at.job.scatter is not None):
        lines.append(f"{SOURCE[0].upper()}{SOURCE[1:]}.")
    if any(
        value == "standard" for key, value in origins.items() if key.startswith("scatter.") and key.endswith("bar_mass")
    ):
        tolerances = dict.fromkeys(one.case.bar.standard.mass_tolerance for one in at.results.worked)
        lines += [
            f"{one.source}; every value between is taken as likely as any other."
            for one in tolerances
            if one is not None
        ]
    for common, holes in dict.fromkeys((group.setting.common, group.setting.series) for group in at.groups.values()):
        if common:
            lines.append(
                f"Common to a series of {holes} holes: {' and '.join(WORDS[one] for one in common)}. The rest varies"
                " from hole to hole."
            )
    return [*views, told(" ".join(lines))]


# ---- the answer ----------------------------------------------------------------------------------


@standing("overfill")
def answer(at: Told) -> View:
    """Show for each group the chosen overfill with rule and reason, the rounded dose, and what it then does."""
    rows = []
    for one in at.results.worked:
        mark, choice = one.case.mark, at.choices[one.case.mark]
        rule = "set in the schedule" if choice.rule == "own" else RULES[choice.rule]
        group = at.groups.get(mark)
        does = (
            ("not known", "not known")
            if group is None
            else (f"{short_text(group.probability)} %", at.display.volume(group.mean_overflow))
        )
        rows.append(
            (
                mark,
                share_text(choice.share),
                f"{rule}: {choice.reason}" if choice.reason else rule,
                one.dispense_text,
                share_text(one.rounded / one.required - 1),
                *does,
            )
        )
    columns = ("Mark", "Overfill", "Rule and reason", "Rounded dose", "which is", "A hole is short", "Waste a hole")
    return table_view("Overfill of each group, and what its rounded dose does", columns, rows, "lrlrrrr")


# ---- the budget ----------------------------------------------------------------------------------


@standing()
def budget(at: Told) -> list[View]:
    """Show what each input brings to the scatter of the dose: picture of one group, numbers of all."""
    if at.shown is None:
        return [_missing(at, "there is no budget")]
    groups = tuple(at.groups.values())
    rows = [(words, *(_part_text(group, name, at.display) for group in groups)) for name, words in WORDS.items()]
    rows.append(("all together", *(at.display.volume(group.budget.u) for group in groups)))
    columns = ("Input", *(group.mark for group in groups))
    table = table_view(
        "Part in the standard deviation of the needed dose, and in its variance", columns, rows, "l" + "r" * len(groups)
    )
    return [picture_view(budget_picture(at.shown, at.display)), table]


def _part_text(group: GroupScatter, name: str, display: Display) -> str:
    part = next(part for part in group.budget.parts if part.name == name)
    return "none" if part.u == 0 else f"{display.volume(part.contribution)} ({100 * part.share:.0f} %)"


# ---- short holes against waste -------------------------------------------------------------------


@standing(figure="overfill")
def curve(at: Told) -> list[View]:
    """Show short holes and waste against the overfill, with the ways to choose it: picture and table of one group."""
    group = at.shown
    if group is None:
        return [_missing(at, "there is no curve")]
    marks = {mark.rule: mark for mark in group.settled}
    rows = []
    for option in group.options:
        mark = marks.get(option.rule)
        name = f"{LETTERS[option.rule]} {option.name}{', chosen' if mark and mark.chosen else ''}"
        told_ = (
            ("none", "", "")
            if mark is None
            else (share_text(mark.share), short_text(mark.short), at.display.volume(mark.waste))
        )
        rows.append((name, *told_, option.reason))
    rounded = group.rounded
    dose = (share_text(rounded.share), short_text(rounded.short), at.display.volume(rounded.waste))
    rows.append(("▲ rounded dose", *dose, at.worked(group.mark).dispense_text))
    columns = ("Way to choose", "Overfill", "Short in 100", "Waste a hole", "Reason, or what is missing")
    return [
        picture_view(curve_drawing(group, at.display).picture),
        table_view(f"{group.mark}: the ways to choose an overfill, side by side", columns, rows, "lrrrl"),
    ]


@standing()
def side_by_side(at: Told) -> View:
    """Show every overfill that the job gives for every group; a sign stands at the one that is chosen."""
    rows = []
    for mark, choice in at.choices.items():
        taken = "share" if choice.rule == "own" else choice.rule
        cells = [
            ("none" if o.share is None else share_text(o.share) + (" ◂ chosen" if o.rule == taken else ""))
            for o in choice.options
        ]
        rows.append((mark, *cells))
    return table_view(
        "All ways to choose an overfill, for every group", ("Mark", *RULES.values()), rows, "l" + "r" * len(RULES)
    )


# ---- a whole series ------------------------------------------------------------------------------


@standing()
def series(at: Told) -> list[View]:
    """Show the risk of short series beside that of single holes; picture of the group that is worst off."""
    risks = {mark: group.series for mark, group in at.groups.items() if group.series is not None}
    if not risks:
        why = "nothing is known of a series" if not at.groups else ""
        return (
            [_missing(at, why)]
            if why
            else [
                told("Inputs go together in this job, so the holes of a series cannot be told apart from single ones.")
            ]
        )
    views = []
    worst = max(risks, key=lambda mark: risks[mark].more_than(0))
    if risks[worst].more_than(0) >= _SEEN:
        views.append(picture_view(series_picture(at.groups[worst], risks[worst])))
    else:
        views.append(
            told(
                "With the rounded doses practically no series has a short hole, in any group: there is nothing to draw."
            )
        )
    rows = []
    for mark, risk in risks.items():
        alone, several = at.groups[mark].series_alone or 0.0, risk.more_than(0)
        shared = " and ".join(WORDS[name] for name in at.groups[mark].setting.common) or "nothing"
        rows.append(
            (
                mark,
                f"{risk.holes}",
                shared,
                _chance(at.groups[mark].probability),
                _chance(several),
                _chance(alone),
                _chance(float(risk.quantile(0.95))),
            )
        )
    columns = (
        "Mark",
        "Holes in a series",
        "Common to it",
        "A hole is short",
        "A series has one",
        "if holes were on their own",
        "Short in the worst of twenty series",
    )
    return [*views, table_view("Single holes and whole series, with the rounded dose", columns, rows, "lrlrrrr")]


def _chance(share: float) -> str:
    return "fewer than 0.005 %" if share < 5e-5 else f"{plain_text(100 * share, 2)} %"


# ---- ways of dosing ------------------------------------------------------------------------------


@standing()
def assumptions(at: Told) -> View:
    """Show what is assumed of dosing by eye: the user's own figures, nothing else."""
    name = at.job.path.name
    if at.job.judgement is None:
        return told(
            f"{name} states nothing about dosing by eye: it has no table judgement. To compare ways of dosing add one,"
            f" with {', '.join(Judgement.model_fields)}: your own figures for your own people, because no others are"
            " taken."
        )
    rows = rows_of(at.job, "judgement")
    return inputs_view(rows, "What is assumed of dosing by eye, none of it measured", "record")


@standing()
def ways(at: Told) -> list[View]:
    """Show every way of dosing on the same simulated holes: one picture of all groups, and one table."""
    if at.shown is None:
        return [_missing(at, "ways of dosing cannot be compared")]
    found = {mark: ways_of(at.job, group) for mark, group in at.groups.items()}
    if not found[at.shown.mark]:
        return [told("Without these assumptions ways of dosing cannot be compared.")]
    return [picture_view(ways_picture(found, at.display)), _ways_table(at, found)]


def _ways_table(at: Told, found: Mapping[str, Sequence[WayResult]]) -> View:
    """Show what each way does to each group, one table for all."""
    cost = at.job.cost
    columns = ["Mark", "Way of dosing", "Short", "Worst shortfall", "of the bond length", "Waste", "of the adhesive"]
    columns += ["Adhesive used", *([f"Cost [{cost.currency}]"] if cost is not None else [])]
    rows = [(mark, *_way_cells(at.display, way)) for mark, ways in found.items() for way in ways]
    return table_view("What each way of dosing does in a hundred holes", columns, rows, "ll" + "r" * (len(columns) - 2))


def _way_cells(display: Display, way: WayResult) -> tuple[str, ...]:
    bare = "none" if way.worst_shortfall < 0.005 else display.length(way.worst_shortfall)
    cells = (
        way.name,
        "none" if way.short_per_100 == 0 else plain_text(way.short_per_100, 2),
        bare,
        f"{100 * way.worst_share:.1f} %",
        display.job_volume(100 * way.waste),
        f"{100 * way.waste_share:.1f} %",
        display.job_volume(100 * way.used),
    )
    return cells if way.cost is None else (*cells, f"{100 * way.cost:.2f}")


# ---- what dose and waste react to ----------------------------------------------------------------


@standing()
def swings(at: Told) -> list[View]:
    """Show how far each input alone moves dose and waste: picture and table of one group."""
    group = at.shown
    if group is None:
        return [_missing(at, "there is no range of any input")]
    dose, waste = group.swings
    if not dose:
        return [told(f"Nothing varies in {group.mark}, so there is nothing that the dose reacts to.")]
    by_name = {swing.name: swing for swing in waste}
    rows = [
        (WORDS[s.name], *_ends(s, at.display), *_results(s, at.display), *_results(by_name[s.name], at.display))
        for s in dose
    ]
    columns = ("Input", "Low end", "High end", "Needed dose, low", "high", "Waste, low", "high")
    table = table_view(
        f"{group.mark}: each input at the ends of the middle {100 * SWING_SHARE:g} % of its values, the others at their"
        " means",
        columns,
        rows,
        "lrrrrrr",
    )
    return [picture_view(tornado_picture(group, at.display)), table]


def _ends(swing: Swing, display: Display) -> tuple[str, str]:
    return input_text(swing.name, swing.low, display), input_text(swing.name, swing.high, display)


def _results(swing: Swing, display: Display) -> tuple[str, str]:
    return display.volume(swing.at_low), display.volume(swing.at_high)


@standing()
def lines(at: Told) -> list[View]:
    """Show waste against diameter and embedment of the hole: picture and numbers of one group."""
    group = at.shown
    if group is None:
        return [_missing(at, "no dose is drawn against the hole")]
    picture = lines_picture(group, at.display)
    return [
        picture_view(picture),
        table_view(f"What the lines of {group.mark} show", ("Hole", "Volume a hole"), picture.numbers, "ll"),
    ]


@standing()
def bit_cost(at: Told) -> View:
    """Show what a tenth of a millimetre on the bit takes over the job, when every dose follows its hole."""
    price = None if at.job.cost is None else at.job.cost.waste
    groups, total = wider_bit(at.job, at.results.worked)
    rows = [_bit_row(at, one, price, one.extra / one.count) for one in groups] + [_bit_row(at, total, price, None)]
    columns = [
        "Mark",
        "Holes",
        "More in a hole",
        "More in all",
        "of the doses",
        *([f"Price [{at.job.cost.currency}]"] if at.job.cost is not None else []),
    ]
    told_width = METRIC.plain(WIDENING, "mm") + at.display.usual("", f" ({at.display.plain(WIDENING, 'mm', 2)})")
    return table_view(
        f"What {told_width} more on the bit takes, when every dose follows its hole",
        columns,
        rows,
        "l" + "r" * (len(columns) - 1),
    )


def _bit_row(at: Told, one: Widened, price: float | None, each: float | None) -> tuple[str, ...]:
    in_all = at.display.volume(one.extra)
    cells = (
        one.mark,
        str(one.count),
        "" if each is None else at.display.volume(each),
        in_all,
        f"{100 * one.share:.1f} %",
    )
    return cells if price is None else (*cells, f"{price * one.extra:.2f}")


@standing()
def about_pictures(at: Told) -> View:
    """Say which group the pictures show."""
    if at.shown is None:
        return told("No group is drawn, because nothing varies.")
    group = at.worked(at.shown.mark)
    hole = at.display.size(group.case.hole_diameter)
    return told(
        f"The pictures show {at.shown.mark}, {group.case.bar.text} in {hole}; the panel draws any group, and the tables"
        " hold them all."
    )
