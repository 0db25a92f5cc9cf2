"""What the parts of a design share: the steps of one bar group, and how lengths and forces are worded."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from calc.base.collector import Steps
from calc.base.display import Display
from calc.base.identity import EMBEDMENT
from calc.base.maths import ceil
from calc.base.sheet import Check, Given, Notice
from calc.base.units import convert
from calc.files.strict import tidy
from calc.work.embedment.case import DesignCase


@dataclass(frozen=True)
class ExistingLap:
    """What the existing bar needs of the lap; lengths [mm].

    ``length`` is its own lap length. ``reference`` and ``least`` are the part of it that grows with the force and its
    least length: the first at the force at which the law of the new bar has its own.
    """

    length: Given
    reference: Given
    least: Given


class DesignSteps(Steps):
    """The steps of one group's design."""

    def __init__(self, case: DesignCase) -> None:
        super().__init__(EMBEDMENT, case.mark, case.display)
        self.case = case
        self.length = Steps()  # the chain that gave the anchorage or the lap
        self.existing: ExistingLap | None = None  # what the existing bar of a lap needs by itself

    @property
    def force(self) -> float:
        """Design force of the bar [N]."""
        given = self.last("N_Ed")
        return convert(given.value, given.unit, "N")

    def key(self, symbol: str, name: str, unit: str, *, source: str = "mm") -> Given:
        """Give a value of the job file under its symbol."""
        return self.give(symbol, tidy(convert(self.case[name], source, unit)), unit, self.case.origin(name))


def owned(case: DesignCase, name: str, text: str) -> Notice:
    """Make a notice of one group."""
    return Notice(EMBEDMENT, case.mark, name, text)


def owed(
    case: DesignCase, name: str, title: str, keys: Sequence[str], *, demand: float = math.nan, unit: str = ""
) -> Check:
    """Make a check that belongs to the case and lacks an input.

    Its keys close it, or the name of who does it elsewhere.
    """
    own = f"design.group.{toml_key(case.mark)}"
    missing = tuple(
        (f"{own}.approval" if key.startswith("approval.") else own, key.removeprefix("approval.")) for key in keys
    )
    *first, last = (key.removeprefix("approval.") for key in keys)
    words = f"{', '.join(first)} and {last}" if first else last
    tables = [] if all(key.startswith("approval.") for key in keys) else [f"[design] or [{own}]"]
    tables += [f"[design.approval] or [{own}.approval]"] if any(key.startswith("approval.") for key in keys) else []
    advice = f'add {words}, or elsewhere = {{ {toml_key(name)} = "designed elsewhere: …" }}'
    return Check(
        notebook=EMBEDMENT,
        mark=case.mark,
        name=name,
        title=f"{titled(case)}: {title}",
        demand=demand,
        resistance=math.nan,
        unit=unit,
        utilisation=None,
        verdict="owed",
        reason=f"missing: {words}, in {' and '.join(tables)}",
        advice=advice,
        what=title,
        missing=missing,
    )


def toml_key(name: str) -> str:
    """Write a name as a key of a TOML file: in quotation marks where it needs them."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def held_against(
    case: DesignCase, name: str, title: str, demand: float, resistance: float, unit: str, advice: str
) -> Check:
    """Judge a demand against a resistance, both in a unit of the job."""
    return Check.compare(
        notebook=EMBEDMENT,
        mark=case.mark,
        name=name,
        group=titled(case),
        title=title,
        demand=demand,
        resistance=resistance,
        unit=unit,
        advice=advice,
    )


def allowed(case: DesignCase, name: str, title: str, fulfilled: bool, advice: str) -> Check:
    """Make a check of a condition that is fulfilled or not."""
    check = held_against(case, name, title, *((0.0, 1.0) if fulfilled else (1.0, 0.0)), "", advice)
    return check if fulfilled else replace(check, reason="this is not so")


def titled(case: DesignCase) -> str:
    """Name a group in front of the title of its checks."""
    return f"{case.mark} ({case.bar.text})"


def in_length_unit(value: float, case: DesignCase) -> float:
    """Convert a length [mm] to the unit in which lengths are shown."""
    return tidy(convert(value, "mm", case.display.length_unit))


def rounded_up(length: float, display: Display) -> float:
    """Round a length [mm] up to what a drawing would say: 5 mm, or a quarter of an inch."""
    return tidy(ceil(length / display.drawn_step) * display.drawn_step)


def rounded_down(length: float, case: DesignCase) -> str:
    """Word a length [mm], rounded down as far as a drawing would."""
    step = case.display.drawn_step
    down = math.floor(length / step + 1e-9) * step
    return case.display.plain(down, "mm", 6) if down > 0 else case.display.amount(length, "mm", 3)
