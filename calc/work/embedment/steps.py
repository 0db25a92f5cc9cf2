"""What the parts of a design share: the steps of one bar group, and how lengths and forces are worded."""

from __future__ import annotations

import math

from calc.base.collector import Steps
from calc.base.display import Display
from calc.base.identity import EMBEDMENT
from calc.base.maths import ceil
from calc.base.sheet import Given
from calc.base.units import convert
from calc.files.strict import tidy
from calc.work.embedment.case import DesignCase


class DesignSteps(Steps):
    """The steps of one group's design."""

    def __init__(self, case: DesignCase) -> None:
        super().__init__(EMBEDMENT, case.mark, case.display)
        self.case = case
        self.length = Steps()  # the chain that gave the anchorage or the lap

    def key(self, symbol: str, name: str, unit: str, *, source: str = "mm") -> Given:
        """Give a value of the job file under its symbol."""
        return self.give(symbol, tidy(convert(self.case[name], source, unit)), unit, self.case.origin(name))


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
