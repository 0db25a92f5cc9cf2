"""What the parts of a design share: the steps of one bar group, known by their symbols, and how lengths and forces are worded."""

from __future__ import annotations

import math

from calc.base.display import METRIC, Display
from calc.base.formula import Formula
from calc.base.maths import ceil
from calc.base.sheet import Given, Step, apply
from calc.base.units import convert
from calc.files.schedule import tidy
from calc.strength.chain import Chain
from calc.strength.short import formulas as short
from calc.work.embedment.case import DesignCase


class Steps:
    """Collects the steps of one group; what is given or found is known by its symbol, with its origin."""

    def __init__(self, case: DesignCase) -> None:
        self.case = case
        self.steps: dict[str, Step] = {}
        self.known: dict[str, list[Given]] = {}
        self.notices: list[str] = []
        self.length = Chain()  # the chain that gave the anchorage or the lap

    def give(self, symbol: str, value: float, unit: str, origin: str) -> Given:
        """Make a value known under its symbol, in front of what was known before."""
        given = Given(value, unit, origin)
        self.known.setdefault(symbol, []).insert(0, given)
        return given

    def key(self, symbol: str, name: str, unit: str, *, source: str = "mm") -> Given:
        """Give a value of the job file under its symbol."""
        return self.give(symbol, tidy(convert(self.case[name], source, unit)), unit, self.case.origin(name))

    def last(self, symbol: str) -> Given:
        """What was last made known under a symbol."""
        return self.known[symbol][0]

    def value(self, symbol: str) -> float:
        """The number that was last made known under a symbol."""
        return self.last(symbol).value

    def add(self, formula: Formula, label: str, symbol: str | None = None, **inputs: Given) -> Given:
        """Apply a formula; what is not given here is taken from what is known."""
        name = symbol or formula.symbol
        found = {n: inputs.get(n) or self.last(n) for n in formula.parameters}
        step = apply(formula, id=f"04.{self.case.mark}.{name}", label=label, inputs=found, symbol=symbol, display=shown_by(formula, self.case))
        self._keep(name, step)
        return step.as_given()

    def run(self, chain: Chain, part: str = "", *, say: bool = True) -> None:
        """Take over the steps of a chain; an input gets the origin of the known value that it equals, or the chain's own reason."""
        for link in chain.links:
            inputs = {
                name: Given(link.values[name], unit, self._whence(name, link.values[name], unit) or chain.reasons.get(name, "input"))
                for name, unit in link.formula.parameters.items()
            }
            id = f"04.{self.case.mark}{part}.{link.formula.symbol}"
            label = link.label[0].upper() + link.label[1:]
            self._keep(link.formula.symbol, apply(link.formula, id=id, label=label, inputs=inputs, display=shown_by(link.formula, self.case)))
        for sentence in chain.notices if say else ():
            shared = sentence in (short.ASSUMPTION, short.NOT_CONFORMING)
            self.notices.append(sentence if shared else f"{self.case.mark}: {sentence.rstrip('.')}.")

    def _whence(self, name: str, value: float, unit: str) -> str:
        same = (g for g in self.known.get(name, ()) if g.unit == unit and math.isclose(g.value, value, rel_tol=1e-9))
        return next((given.origin for given in same), "")

    def _keep(self, symbol: str, step: Step) -> None:
        old = self.steps.get(step.id)
        if old is not None and not math.isclose(old.value, step.value, rel_tol=1e-9):
            raise ValueError(f"two steps are called {step.id}")
        if old is None:
            self.steps[step.id] = step
            self.known.setdefault(symbol, []).insert(0, step.as_given())


def shown_by(formula: Formula, case: DesignCase) -> Display:
    """Show a step in the job's units; one with a force per length stays in N and mm, so that its arithmetic holds."""
    return METRIC if "N/mm" in (formula.unit, *formula.parameters.values()) else case.display


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
