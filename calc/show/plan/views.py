"""What the fifth notebook shows: each view says what the plan found, or what is missing for it."""

from __future__ import annotations

from collections.abc import Callable

from calc.base.display import duration
from calc.base.sheet import Step
from calc.files.adhesive import AdhesiveRecord, Row
from calc.files.job import Job
from calc.files.typed import typed_rows
from calc.fill.dust import NOT_AN_ASSESSMENT
from calc.show.drawing import Picture
from calc.show.plan.figures import (
    adhesive_picture,
    days_picture,
    steps_of,
    wanted,
    waste_picture,
    ways_picture,
)
from calc.show.view import (
    TABLES,
    View,
    governing_mark,
    inputs_view,
    numbers_view,
    picture_view,
    record_groups,
    recorded,
    rows_of,
    standing,
    steps_view,
    table_view,
    told,
)
from calc.work.plan.notices import CURING, WORKING
from calc.work.plan.planned import PlanWork
from calc.work.plan.preparation import WayCost
from calc.work.plan.volumes import volumes_text
from calc.work.site.findings import SHORT_RULE, SHORT_RULE_SOURCE

_NO_DAYS = (
    "The days are not simulated for this job: that takes the table site in the job file and working times in the"
    " adhesive record, and not too many holes."
)
_STEP = "\u2003"  # how far a part of a volume stands in
_NO_SITE = "The job file has no table site, so nothing is known of the ways of preparing the holes."


# ---- what goes in --------------------------------------------------------------------------------


@standing()
def inputs(job: Job) -> list[View]:
    """Show what the plan is made from, each value as typed and with its key: the site, the pack, the record's times."""
    record = job.adhesive_path.name
    times = ("working_time", "curing_time")  # in a table of their own
    packs = rows_of(
        job, "concrete.temperature", "equipment.pack_volume", "equipment.residual", "equipment.discard_per_mixer"
    )
    packs += typed_rows(
        AdhesiveRecord, {place: text for place, text in job.typed_record.items() if place[0] not in times}, record
    )
    views = [inputs_view(packs, "Pack, mixer and adhesive record", "record")]
    if job.site is not None:
        rows = rows_of(job, *TABLES["05"], without=("site.times",))
        if job.site.preparation is None:
            rows.append(("Way of preparing the hole, the only one", job.site.chosen, f"{job.path.name}, site.ways"))
        views.append(inputs_view(rows, "Site", "record"))
        views.append(inputs_view(rows_of(job, "site.times"), "The crew's own times", "record"))
    if job.adhesive.working_time or job.adhesive.curing_time:
        views.append(_tables_view(job))
    return views


def _tables_view(job: Job) -> View:
    display = job.display

    def span(row: Row) -> str:
        edges = (row.row.low, row.row.high)
        return " to ".join(dict.fromkeys(display.temperature(edge) for edge in edges))

    rows: list[tuple[str, str, str]] = []
    for kind, table in (("working", job.adhesive.working_time), ("curing", job.adhesive.curing_time)):
        rows += [(kind, span(row), duration(row.time)) for row in table or ()]
    view = table_view(f"Times of the adhesive, {job.adhesive_path.name}", ("Time", "Concrete", "Value"), rows, "lrr")
    return view.at("record")


@standing("days")
def readings(plan: PlanWork) -> View:
    """Say which working and curing time hold at the concrete's temperature, and how they were read."""
    words = [notice.words for notice in plan.sheet.notices if notice.name in (WORKING, CURING)]
    return (
        told(*words)
        if words
        else told(
            "No working or curing time can be read: the tables or the temperature are missing. The notices below say"
            " which."
        )
    )


# ---- the answer ----------------------------------------------------------------------------------


@standing("days")
def opening(plan: PlanWork) -> View:
    """Say what to order, when the last bar is set, and whether every bar is set in time."""
    use, display = plan.use, plan.job.display
    mixers = f"{use.mixers_to_order} mixer{'s' if use.mixers_to_order != 1 else ''}"
    packs = f"{use.packs_to_order} pack{'s' if use.packs_to_order != 1 else ''}"
    order = f"Order {packs} and {mixers}: the work uses {use.packs} and {use.mixers}, the rest is the reserve."
    sentences = [f"{order} {volumes_text(use, display)}"]
    timeline = plan.timeline
    if timeline is None:
        return told(*sentences, _NO_DAYS)
    late = f"{plan.late} bars are late" if plan.late else "every bar is set within the working time"
    sentences.append(
        f"The last bar is set on {plan.clock(timeline.finish)}, after {duration(60 * plan.crew_hours)} of work of all"
        f" crews; {late}."
    )
    return told(*sentences, *filter(None, [plan.loaded]))


@standing("order")
def order(plan: PlanWork) -> View:
    """Show the order list: packs, mixers and volumes, used and with the reserve.

    And the least without pauses and nights.
    """
    use, least, display = plan.use, plan.packs, plan.job.display
    used = use.opened
    rows = [
        ("packs", str(use.packs), str(use.packs_to_order), str(least.packs)),
        ("mixers", str(use.mixers), str(use.mixers_to_order), str(least.mixers)),
        (
            "adhesive",
            display.job_volume(used),
            display.job_volume(use.bought),
            display.job_volume(least.packs * least.pack_volume),
        ),
    ]
    columns = ("Item", "The work uses", "To order, with the reserve", "One dispenser, no pause and no night")
    return table_view("Order list", columns, rows, "lrrr")


@standing("days")
def groups(plan: PlanWork) -> View:
    """Show each group's dose, packs and times, down to the earliest load."""
    display = plan.job.display
    days = plan.timeline is not None
    columns = ["Mark", "Holes", "Rounded dose", "Holes of one pack"]
    columns += ["First injected", "Last bar set", "Longest wait", "Allowed", "Late", "Loaded from"] if days else []
    by_mark = {use.mark: use for use in plan.packs.groups}
    rows = []
    for one in plan.worked:
        use = by_mark[one.case.mark]
        fits = str(use.holes_per_pack) if use.packs_per_hole == 1 else f"{use.packs_per_hole} packs for one"
        row = [use.mark, str(use.count), display.volume(use.dose), fits]
        if days:
            t = plan.times[use.mark]
            row += [
                plan.clock(t.first_injected),
                plan.clock(t.last_set),
                duration(t.wait / 60),
                duration(t.allowed / 60),
                str(t.late),
            ]
            row.append(plan.clock(t.earliest_load))
        rows.append(row)
    closest = (
        "; the wait is that of the bar closest to its working time, from the mixing of the oldest adhesive in its hole"
    )
    caption = "Groups in the order of the work" + (closest if days else "")
    return table_view(caption, columns, rows, "lrrr" + "llrrrl" * days)


# ---- pictures, each with its numbers -------------------------------------------------------------


def _pictured(picture: Picture, caption: str) -> list[View]:
    return [picture_view(picture), numbers_view(caption, picture)]


def _with_days(plan: PlanWork, draw: Callable[[PlanWork], Picture], caption: str) -> list[View]:
    return [told(_NO_DAYS)] if plan.timeline is None else _pictured(draw(plan), caption)


@standing(figure="days")
def days(plan: PlanWork) -> list[View]:
    """Show the crews' days."""
    return _with_days(plan, days_picture, "Hours of work")


@standing()
def adhesive(plan: PlanWork) -> list[View]:
    """Show adhesive used against time, with packs and mixers."""
    return _with_days(plan, adhesive_picture, "Adhesive over the days")


@standing()
def waste(plan: PlanWork) -> list[View]:
    """Show what becomes of all that is bought, in one balance, and the waste by cause."""
    words = ["Each volume by its name, rounded by itself; those one step in add up to the one above them."]
    if plan.expected_overflow is not None:
        expected = plan.job.display.job_volume(plan.expected_overflow)
        words.append(
            f"The planned holes are meant. With the scatter that the job states, notebook 02 expects {expected} at the"
            " mouths: real holes are wider or narrower, and hold more or less of what is dispensed."
        )
    return [told(" ".join(words)), volumes(plan), *_pictured(waste_picture(plan), "Waste by cause")]


@standing("record")
def volumes(plan: PlanWork) -> View:
    """Show the balance of all volumes of the job: those one step in add up to the one above them."""
    display, rows = plan.job.display, []
    for term in plan.use.balance:
        rows.append((f"{_STEP * term.level}{term.words}", display.job_volume(term.volume), term.meaning))
        for words, volume in term.parts.items() if len(term.parts) > 1 else ():
            rows.append((f"{_STEP * (term.level + 1)}{words}", display.job_volume(volume), "of this"))
    return table_view("What becomes of all that is bought", ("Volume", "Amount", "What it is"), rows, "lrl")


@standing(table="order")
def ways(plan: PlanWork) -> list[View]:
    """Show the ways of preparing the holes, what each uses up, and the cautions of each."""
    if not plan.ways:
        return [told(_NO_SITE)]
    display = plan.job.display
    rows = []
    for way in plan.ways:
        saved = "none" if not way.saved > 0.0005 else f"{100 * way.saved:.1f} %"
        done = ", ".join(f"{name} {duration(60 * hours)}" for _, name, hours in steps_of(way))
        used = (wanted(way.charges), wanted(way.bits), _bags(way))
        rows.append((way.name, done, duration(60 * way.hours), saved, *used, _written(way.dust_mass, display.mass)))
    columns = ("Way", "Steps, all holes", "Together", "Saved", "Charges", "Bits", "Bags", "Drilled concrete")
    views = [
        picture_view(ways_picture(plan)),
        table_view("Ways of preparing the holes, by the job's own times and figures", columns, rows, "llrrrrrr"),
    ]
    every = list(dict.fromkeys(caution for way in plan.ways for caution in way.cautions))
    marked = [(caution, *("yes" if caution in way.cautions else "no" for way in plan.ways)) for caution in every]
    heads = ("Caution", *(way.name for way in plan.ways))
    return [*views, table_view("Cautions of each way (common practice, no source)", heads, marked)]


def _bags(way: WayCost) -> str:
    """Bags are counted where dust is drawn off into them; what is not counted is no number."""
    return "not counted: no dust is drawn off" if way.bags == 0 else wanted(way.bags)


def _written(value: float | None, write: Callable[[float], str]) -> str:
    """Write a quantity that the user's figures may not give."""
    return wanted(None) if value is None else write(value)


@standing("order")
def dust(plan: PlanWork) -> list[View]:
    """Show what is drilled out, the controls asked for with the chosen way, and what is done at a short hole."""
    way, display = plan.way, plan.job.display
    short = told(f"A hole that is not full with the bar home: {SHORT_RULE} Source: {SHORT_RULE_SOURCE}.")
    if way is None:
        return [told(_NO_SITE, NOT_AN_ASSESSMENT), short]
    rows = [
        ("Drilled concrete", _written(way.dust_mass, display.mass)),
        ("Loose dust", _written(way.dust_volume, display.loose_volume)),
        ("Bags", _bags(way)),
    ]
    table = table_view("Dust of the whole job", ("Value", "Number"), rows, "lr")
    lines = [(control.topic, control.asks, control.source) for control in way.controls]
    return [
        told(NOT_AN_ASSESSMENT),
        table,
        table_view(f"Controls for '{way.name}'", ("Topic", "What is asked for", "Source"), lines),
        short,
    ]


# ---- every step ----------------------------------------------------------------------------------


@standing("record")
def steps(plan: PlanWork) -> list[View]:
    """Show every step: those of the whole job, then those of each group."""
    marks = {one.case.mark: one for one in plan.worked}
    own: dict[str | None, list[Step]] = {}
    for step in plan.sheet.steps:
        own.setdefault(step.mark, []).append(step)
    whole = own.pop(None, [])
    most = governing_mark(plan.sheet.checks)
    groups = [recorded(marks[mark], kept, most) for mark, kept in own.items() if mark is not None]
    return [steps_view("The whole job", whole), *record_groups(groups)]
