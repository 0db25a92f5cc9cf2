"""What the parts of a design share: the steps of one bar group, known by their symbols, and how lengths and forces are worded."""

from __future__ import annotations

import math

from calc.base.display import System, amount, plain_text
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
        step = apply(formula, id=f"04.{self.case.mark}.{name}", label=label, inputs=found, symbol=symbol, system=shown_system(formula, self.case))
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
            self._keep(link.formula.symbol, apply(link.formula, id=id, label=label, inputs=inputs, system=shown_system(link.formula, self.case)))
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


def shown_system(formula: Formula, case: DesignCase) -> System:
    """Show a step in the job's units; one with a force per length stays in N and mm, so that its arithmetic holds."""
    return "metric" if "N/mm" in (formula.unit, *formula.parameters.values()) else case.system


def titled(case: DesignCase) -> str:
    """Name a group in front of the title of its checks."""
    return f"{case.mark} ({case.bar.text})"


def length_unit(case: DesignCase) -> str:
    """Unit in which lengths are shown."""
    return "in" if case.system == "us" else "mm"


def in_length_unit(value: float, case: DesignCase) -> float:
    """Convert a length [mm] to the unit in which lengths are shown."""
    return tidy(convert(value, "mm", length_unit(case)))


def in_stress_unit(value: float, case: DesignCase) -> float:
    """Convert a stress [MPa] to the unit in which stresses are shown."""
    return convert(value, "MPa", "psi") if case.system == "us" else value


def rounded_up(length: float, system: System) -> float:
    """Round a length [mm] up to what a drawing would say: 5 mm, or a quarter of an inch."""
    step = 6.35 if system == "us" else 5.0
    return tidy(ceil(length / step) * step)


def rounded_down(length: float, case: DesignCase) -> str:
    """Word a length [mm], rounded down as far as a drawing would."""
    step = 6.35 if case.system == "us" else 5.0
    down = math.floor(length / step + 1e-9) * step
    return length_words(down, case) if down > 0 else amount(length, "mm", case.system, 3)


def length_words(value: float, case: DesignCase) -> str:
    """Word a length [mm] in the unit of the job."""
    return f"{plain_text(in_length_unit(value, case), 6)} {length_unit(case)}"


def force_words(value: float, case: DesignCase) -> str:
    """Word a force [N] in the unit of the job."""
    unit = "kip" if case.system == "us" else "kN"
    return f"{plain_text(convert(value, 'N', unit), 4)} {unit}"
