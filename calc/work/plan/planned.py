"""The worked plan of a job as data: what is used and bought, the crew's hours, and the plan's keys of results.json."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from calc.base.sheet import Sheet
from calc.base.units import convert
from calc.files.job import Job
from calc.files.site import DAY
from calc.fill.cure import Reading
from calc.work.days.crew import BREAK, KINDS, NIGHT
from calc.work.days.daybook import GroupTimes, Timeline
from calc.work.days.timeline import clock, last_injection, temperature_of
from calc.work.days.workday import Calendar
from calc.work.dose import Worked
from calc.work.packs.need import PackPlan
from calc.work.plan.preparation import WayCost
from calc.work.plan.volumes import Use


@dataclass(frozen=True)
class PlanWork:
    """The worked plan of a job: numbers for tables and pictures, and the sheet of its steps, checks and notices.

    Attributes
    ----------
    packs
        Packs without the days: one dispenser, no pause, no night. The least that the job can take.
    timeline
        The crew's days; None when the job file or the adhesive record has not what they need.
    use
        What to order and what is lost: by the days where there are any, else by `packs`.
    working, curing
        Shortest and longest at the temperatures that the job states [min]; None where they cannot be read.
    expected_overflow
        What notebook 02 expects at the mouths with the stated scatter [mm³]; None where none is stated.
    """

    job: Job
    worked: tuple[Worked, ...]
    packs: PackPlan
    timeline: Timeline | None
    use: Use
    working: Reading | None
    curing: Reading | None
    ways: tuple[WayCost, ...]
    sheet: Sheet
    expected_overflow: float | None = None

    @property
    def way(self) -> WayCost | None:
        """The way of preparing the hole that the plan takes."""
        site = self.job.site
        return next((way for way in self.ways if site is not None and way.name == site.chosen), None)

    @cached_property
    def times(self) -> Mapping[str, GroupTimes]:
        """What became of each group in the days, by mark."""
        return {} if self.timeline is None else {told.mark: told for told in self.timeline.groups}

    @cached_property
    def _uses(self) -> Mapping[str, Any]:
        return {use.mark: use for use in self.packs.groups}

    @property
    def late(self) -> int | None:
        """Bars that were not set within the working time; None without the days."""
        return None if self.timeline is None else sum(told.late for told in self.timeline.groups)

    @property
    def worked_days(self) -> int | None:
        """Days on which there is work; None without the days."""
        site, timeline = self.job.site, self.timeline
        if site is None or timeline is None:
            return None
        calendar = Calendar(site.calendar or (0,))
        return sum(calendar.works(day) for day in range(timeline.days))

    def temperatures(self, span: float) -> list[tuple[float, float]]:
        """Temperature of the concrete [°C] from the beginning of the shift over so many seconds.

        At both ends, and where its course bends; nothing where days differ.
        """
        site = self.job.site
        if site is None or len({course for _, course, _ in site.courses}) > 1:
            return []
        course = temperature_of(site)
        bends = sorted(
            bend for bend in ((point.at - site.start) % DAY for point in site.courses[0][1]) if 0.0 < bend < span
        )
        return [(at, course.at(at)) for at in (0.0, *bends, span)]

    def clock(self, seconds: float) -> str:
        """Return a time of the days [s] as date, or day, and time of day; ``not known`` for NaN."""
        site = self.job.site
        if site is None or not math.isfinite(seconds):
            return "not known"
        return clock(seconds, site.start, site.day_one)

    @property
    def good_until(self) -> datetime.date | None:
        """The day of the last injection, until which the packs have to be good; None where no date is stated."""
        site = self.job.site
        if site is None or site.day_one is None:
            return None
        return site.day_one if self.timeline is None else last_injection(self.timeline, site.start, site.day_one)

    @property
    def loaded(self) -> str:
        """When all bars may be loaded, in words; empty where it is not known."""
        loads = [] if self.timeline is None else [told.earliest_load for told in self.timeline.groups]
        if not loads or not all(math.isfinite(load) for load in loads):
            return ""
        return f"All bars may be loaded from {self.clock(max(loads))}."

    @cached_property
    def hours(self) -> Mapping[str, float]:
        """Hours of all crews by what was done; what is left of their time is walking [h]."""
        timeline = self.timeline
        if timeline is None:
            return {}
        spent = timeline.end - timeline.start
        found = {
            KINDS[kind]: float(spent[timeline.kind == kind].sum()) / 3600
            for kind in np.unique(timeline.kind)
            if kind not in (BREAK, NIGHT)
        }
        off = np.isin(timeline.kind, (BREAK, NIGHT))
        total = 0.0
        for crew in np.unique(timeline.crew):
            own = timeline.crew == crew
            last = timeline.end[own & ~off].max(initial=0.0)
            total += (last - spent[own & off & (timeline.end <= last)].sum()) / 3600
        named = {name: hours for name, hours in found.items() if hours > 0}
        return named | {"walk": max(float(total) - sum(named.values()), 0.0)}

    @property
    def crew_hours(self) -> float:
        """Working hours of all crews together, breaks and nights left out [h]."""
        return sum(self.hours.values())

    def entry(self, mark: str, /) -> dict[str, Any]:
        """Return the plan's keys of a group's entry in results.json."""
        use, told = self._uses[mark], self.times.get(mark)
        found: dict[str, Any] = {"holes_per_pack": use.holes_per_pack, "packs_per_hole": use.packs_per_hole}
        if told is not None:
            found |= {
                "bars_late": told.late,
                "working_time_min": _number(told.working / 60),
                "curing_time_min": _number(told.curing / 60),
                "last_set_h": _number(told.last_set / 3600),
                "earliest_load_h": _number(told.earliest_load / 3600),
                "earliest_load": self.clock(told.earliest_load),
                "batch_that_would_do": told.batch_that_would_do,
            }
        return found

    def totals(self) -> dict[str, Any]:
        """Return the plan's keys of the totals in results.json; volumes [L], times [h or min]."""
        use = self.use
        found: dict[str, Any] = {
            "packs": use.packs,
            "mixers": use.mixers,
            "packs_to_order": use.packs_to_order,
            "mixers_to_order": use.mixers_to_order,
            "packs_counted": self.packs.counted,
            "packs_good_until": None if self.good_until is None else self.good_until.isoformat(),
        }
        volumes = {term.key: term.volume for term in use.balance} | {"waste": use.wasted}
        volumes |= {f"waste_{key}": volume for key, volume in use.waste.items()}
        found |= {f"{key}_L": convert(volume, "mm³", "L") for key, volume in volumes.items()}
        found |= {
            "working_time_min": None if self.working is None else self.working.time,
            "curing_time_min": None if self.curing is None else self.curing.time,
        }
        if self.timeline is not None:
            found |= {
                "days": self.worked_days,
                "finish_h": self.timeline.finish / 3600,
                "finish": self.clock(self.timeline.finish),
                "crew_hours": self.crew_hours,
                "overtime_h": self.timeline.overtime / 3600,
                "bars_late": self.late,
            }
        way = self.way
        if way is not None:
            found |= {
                "preparation": way.name,
                "preparation_h": way.hours,
                "charges": way.charges,
                "bits": way.bits,
                "bags": way.bags,
            }
            found |= {"dust_kg": None if way.dust_mass is None else way.dust_mass / 1000}
        return found


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
