"""What the plan counts, sums and reads, and how to find it again: in the day book's rows, or from the packs alone.

Every number of notebook 05 that no formula gives is kept here with what it comes from, so that steps, checks and
results.json name it and nothing ends in a word.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from calc.base.collector import Steps
from calc.base.identity import DOSE, PLAN
from calc.base.sheet import Given, Origin, result_of
from calc.files.job import Job
from calc.files.site import Site
from calc.fill.cure import Reading
from calc.work.days.daybook import GroupTimes, Timeline
from calc.work.dose import Worked
from calc.work.packs.need import PackPlan
from calc.work.packs.packs import (
    COUNTED_ALONE,
    all_left_in_packs,
    bought_in_packs,
    not_opened,
    what_stays,
)
from calc.work.plan.dayrows import DAY_BOOK
from calc.work.plan.planned import PlanWork
from calc.work.plan.preparation import WayCost
from calc.work.plan.volumes import AFTER_NIGHT, AFTER_PAUSE, CAUSES, VOLUMES, WITH_PACK, Use

_BOOK = f"lists/{DAY_BOOK}"
_RULES = (
    "A crew takes a round of holes, drills and prepares them all, injects them in batches and sets the bars of a batch"
    " in the order of injection; crews share the drilling machines, each has a dispenser of its own. What is in hand is"
    " finished before a break or the end of the shift. A mixer is replaced when its oldest adhesive is past the working"
    " time, and after a pause when it would not be home in time. {packs}"
    " Working times are those of the warmest concrete of the span (common practice, no source)"
)
_ENDS = {
    True: "A pack that ends within a hole is changed there.",
    False: "A pack that has too little for the next hole is put aside before it.",
}
_CAUSE_ROWS = {
    "first_discard": f"'goes to' is {VOLUMES['discard'].words} and 'because' is {WITH_PACK}",
    "mixer_content": f"'goes to' is {VOLUMES['left_in_mixers'].words} and 'because' is {WITH_PACK}",
    "pause": f"'because' is {AFTER_PAUSE}",
    "shift_end": f"'because' is {AFTER_NIGHT}",
    "rest": f"'because' is {CAUSES['rest']}",
    "part_packs": f"'because' is {CAUSES['part_packs']}",
}


def _stated(job: Job, key: str, value: float, unit: str = "") -> Given:
    file = job.path.name
    return Given(value, unit, f"{file}, {key}" if key in job.origins else f"not given in {file}: the default")


def simulated_days(book: Steps, job: Job, site: Site, worked: Sequence[Worked], timeline: Timeline) -> Given:
    """Keep the simulated days as one result: their rows, the rules and the seed."""
    inputs = {
        "crews": _stated(job, "site.crews", float(site.crews), "pcs"),
        "drills": _stated(job, "site.drills", float(site.drills), "pcs"),
        "batch": _stated(job, "site.batch", float(site.batch), "pcs"),
        "t_shift": _stated(job, "site.shift", site.shift / 3600, "h"),
        "variation": _stated(job, "site.variation", site.variation),
        "seed": _stated(job, "site.seed", float(site.seed)),
    }
    if site.hole_from_two_packs is not None:
        inputs["two_packs"] = _stated(job, "site.hole_from_two_packs", float(site.hole_from_two_packs))
    if site.ahead is not None:
        inputs["ahead"] = _stated(job, "site.ahead", float(site.ahead), "pcs")
    inputs |= {
        f"V_round.{one.case.mark}": Given(one.rounded, "mm³", result_of(DOSE, one.case.mark, "V_round"))
        for one in worked
    }
    ends = _ENDS[bool(site.hole_from_two_packs)]
    return book.find(
        "simulated",
        "days",
        f"Rows of the crews' days, {_BOOK}",
        float(len(timeline.end)),
        "pcs",
        how=f"{_RULES.format(packs=ends)}. Times of the steps: site.times and the way of preparing the holes",
        inputs=inputs,
    )


def keep_reading(book: Steps, job: Job, reading: Reading, at: tuple[float, str]) -> None:
    """Keep a time that was read in a row of the record's table; one between two rows is a step.

    Parameters
    ----------
    book
        Takes the result.
    job
        A validated job.
    reading
        What was read [min].
    at : (float [°C], str)
        The temperature that it was read at, with its key.
    """
    book.find(
        "read",
        f"t.{reading.kind}",
        f"{reading.kind.capitalize()} time at the concrete's temperature",
        reading.time,
        "min",
        how=f"{job.adhesive_path.name}, {reading.kind}_time: {reading.how(job.display)}",
        inputs={"T": Given(at[0], "°C", f"{job.path.name}, {at[1]}")},
    )


class Counted:
    """Keeps what is counted in the days, where there are any, and what is counted without them.

    Parameters
    ----------
    book
        Takes the results; it is the plan's.
    job
        A validated job.
    worked
        Its worked groups.
    plan
        Packs without the days.
    timeline
        The crew's days, where they were simulated.
    """

    def __init__(
        self, book: Steps, job: Job, worked: Sequence[Worked], plan: PackPlan, timeline: Timeline | None
    ) -> None:
        self.book, self.job, self.worked, self.plan = book, job, worked, plan
        self.days = timeline is not None and job.site is not None
        if timeline is not None and job.site is not None:
            self.rows = simulated_days(book, job, job.site, worked, timeline)
        else:
            self.rows = self._packs_alone()

    def _packs_alone(self) -> Given:
        """Keep the run through the packs without days as one result; the steps follow, so they are named, not taken."""
        filled = {
            f"V_sum.{use.mark}": Given(use.count * use.dose, "mm³", result_of(PLAN, use.mark, "V_sum"))
            for use in self.plan.groups
        }
        most = Given(self.plan.first_yield, "mm³", result_of(PLAN, None, "yield"))
        return self.book.find(
            "counted",
            "holes.filled",
            "Holes filled one after another",
            float(self.plan.holes),
            "pcs",
            how=COUNTED_ALONE,
            inputs={"V_max": most, **filled},
        )

    def _in_days(self, how: str, otherwise: str = COUNTED_ALONE) -> tuple[str, dict[str, Given]]:
        return f"{_BOOK}: {how}" if self.days else otherwise, {"rows": self.rows}

    def packs(self, use: Use) -> dict[str, Origin]:
        """Count packs and mixers that the work uses; returns their origins, as `plan_steps` takes them."""
        found = {}
        for symbol, label, value, what in (
            ("n_p", "Packs that the work uses", use.packs, "pack"),
            ("n_m", "Mixers that the work uses", use.mixers, "mixer"),
        ):
            how, inputs = self._in_days(f"number of rows where 'what' is {what}")
            given = self.book.find("counted", symbol, label, float(value), "pcs", how=how, inputs=inputs)
            found[symbol] = given.source
        return found

    def _sum(self, name: str, label: str, value: float, parts: Mapping[str, Given], how: str) -> Given:
        return self.book.find("summed", name, label, value, "mm³", how=how, inputs=parts)

    def balance(self, use: Use) -> None:
        """Work the balance of all volumes: what no step gives is summed over the groups or over the day book's rows."""
        book, every = self.book, "sum over all groups"
        self.holes()
        parts = {one.mark: one for one in self.plan.groups}
        V_disp = self._sum(
            "V_disp",
            "Dispensed into all holes",
            use.dispensed,
            {f"V_sum.{m}": Given(one.count * one.dose, "mm³", result_of(PLAN, m, "V_sum")) for m, one in parts.items()},
            every,
        )
        V_out = self._sum(
            "V_over",
            "Overflows at the mouths of all holes",
            use.overflow,
            {
                f"V_out.{m}": Given(one.count * one.overflow, "mm³", result_of(PLAN, m, "V_out"))
                for m, one in parts.items()
            },
            every,
        )
        book.use(what_stays, "Stays in all holes", "V_stay", V_disp=V_disp, V_out=V_out)
        thrown, stood, left = (
            Given(value, "mm³", result_of(PLAN, None, name))
            for name, value in (("discard", use.discard), ("mixers", use.mixer_content), ("residual", use.residual))
        )
        self._causes(use)
        how, inputs = self._in_days(
            f"volume of the rows where 'goes to' is {VOLUMES['lost'].words}, in all",
            f"what packs still give at the end of a shift; {COUNTED_ALONE}",
        )
        V_part = self._sum("V_part", "Lost with part packs", use.lost, inputs, how)
        order = Given(float(use.packs_to_order), "pcs", result_of(PLAN, None, "order_packs"))
        used, pack = Given(float(use.packs), "pcs", result_of(PLAN, None, "n_p")), self._pack()
        book.use(bought_in_packs, "Bought: in all packs to order", "V_buy", n_order=order, V_pack=pack)
        V_new = book.use(not_opened, "Packs not opened", "V_new", n_order=order, n_use=used, V_pack=pack)
        book.use(all_left_in_packs, "Left in packs", "V_inside", V_left=left, V_new=V_new)
        waste = {"V_over": V_out, "discard": thrown, "mixers": stood, "residual": left, "V_part": V_part}
        self._sum("waste", "Bought and used, and in no hole", use.wasted, waste, "sum of these")

    def _pack(self) -> Given:
        return Given(self.plan.pack_volume, "mm³", f"{self.job.path.name}, equipment.pack_volume")

    def _causes(self, use: Use) -> None:
        for key, where in _CAUSE_ROWS.items():
            how, inputs = self._in_days(f"volume of the rows where {where}, in all")
            self._sum(f"waste.{key}", CAUSES[key][:1].upper() + CAUSES[key][1:], use.waste[key], inputs, how)

    # ---- times ----

    def group_times(self, told: GroupTimes) -> None:
        """Keep what became of a group in the days: counts and extremes of its rows."""
        own, age = self.book.of(told.mark), "'to [s]' less 'oldest adhesive mixed [s]'"
        bars = "rows of its mark where 'what' is set"
        wait = self.job.site.load_wait if self.job.site is not None else 0.0
        inputs = {"rows": self.rows}
        loaded = inputs | {"t_wait": _stated(self.job, "site.load_wait", wait / 60, "min")}
        rows: list[tuple[str, str, float, str, str, dict[str, Given]]] = [
            ("n_late", "Bars that are late", float(told.late), "pcs", f"{age} above 'working time [s]'", inputs),
            (
                "t_work",
                "Shortest working time of its bars",
                told.working / 60,
                "min",
                "least 'working time [s]'",
                inputs,
            ),
            ("t_age", "Time of the bar closest to its working time", told.wait / 60, "min", age, inputs),
            ("t_allowed", "Working time of that bar", told.allowed / 60, "min", "'working time [s]'", inputs),
            (
                "t_cure",
                "Longest curing time of its bars",
                told.curing / 60,
                "min",
                "greatest 'curing time [s]'",
                inputs,
            ),
            ("t_last", "When its last bar is set", told.last_set / 3600, "h", "greatest 'to [s]'", inputs),
            (
                "t_load",
                "When all its bars may be loaded",
                told.earliest_load / 3600,
                "h",
                "greatest 'to [s]' and 'curing time [s]' together, and what is waited on top",
                loaded,
            ),
        ]
        if told.batch_that_would_do is not None:
            rows.append(
                (
                    "n_batch",
                    "Largest batch with which no bar would be late",
                    float(told.batch_that_would_do),
                    "pcs",
                    "largest number of holes whose oldest adhesive is home within the least 'working time [s]' of its"
                    " late bars, with every change of pack that may fall into them",
                    inputs,
                )
            )
        for name, label, value, unit, how, given in rows:
            if math.isfinite(value):
                own.find("counted", name, label, value, unit, how=f"{_BOOK}, {bars}: {how}", inputs=given)

    def whole_job(self, plan: PlanWork) -> None:
        """Keep end, days, hours and late bars of the whole job."""
        timeline = plan.timeline
        if timeline is None:
            return
        inputs, work = {"rows": self.rows}, "rows where 'what' is neither break nor night"
        late = {
            f"n_late.{told.mark}": Given(float(told.late), "pcs", result_of(PLAN, told.mark, "n_late"))
            for told in timeline.groups
        }
        for name, label, value, unit, how, given in (
            ("t_end", "When the last bar is set", timeline.finish / 3600, "h", f"greatest 'to [s]' of {work}", inputs),
            ("n_days", "Days", float(plan.worked_days or 0), "pcs", "days on which a crew works, by 'to'", inputs),
            (
                "t_crews",
                "Hours of work of all crews",
                plan.crew_hours,
                "",
                f"for each crew the greatest 'to [s]' of {work}, less its breaks and nights until then",
                inputs,
            ),
            (
                "t_over",
                "Work beyond the shifts",
                timeline.overtime / 3600,
                "h",
                "for each crew and day what it works past the end of the shift",
                inputs,
            ),
        ):
            self.book.find("counted", name, label, value, unit, how=f"{_BOOK}: {how}", inputs=given)
        self.book.find(
            "summed",
            "n_late",
            "Bars that are late",
            float(plan.late or 0),
            "pcs",
            how="sum over all groups",
            inputs=late,
        )

    def holes(self) -> Given:
        """Number of all holes."""
        counts = {
            f"n_hole.{group.mark}": Given(
                float(group.count), "pcs", Origin.of_row(self.job.schedule_path.name, group.row, "count")
            )
            for group in self.job.groups
        }
        total = sum(one.case.count for one in self.worked)
        return self.book.find(
            "summed", "n_hole", "Holes of the job", float(total), "pcs", how="sum over all groups", inputs=counts
        )

    def way_time(self, way: WayCost) -> Given:
        """Time of a way of preparing all holes."""
        place = f"{self.job.path.name}, site.ways.{way.name}.steps"
        steps = {
            f"t_{number}": Given(seconds, "s", f"{place}: {done}, for all holes; times in site.times")
            for number, (done, seconds) in enumerate(way.steps, 1)
        }
        return self.book.find(
            "summed",
            "t_prep" if self.job.site is not None and way.name == self.job.site.chosen else f"t_way.{way.name}",
            f"Time to prepare all holes by '{way.name}'",
            way.hours * 60,
            "min",
            how="sum of its steps, each for all holes",
            inputs=steps,
        )

    def drilled(self, volumes: Mapping[str, float]) -> Given:
        """Concrete drilled out for all groups."""
        parts = {f"V_drill.{m}": Given(value, "mm³", result_of(PLAN, m, "V_drill")) for m, value in volumes.items()}
        total = math.fsum(volumes.values())
        return self._sum("V_drill", "Concrete drilled out for all groups", total, parts, "sum over all groups")
