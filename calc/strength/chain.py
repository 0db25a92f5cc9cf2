"""Formulas applied one after another: each finds its arguments, by symbol, among what is given and what came before.

A caller that chooses between formulas leaves its choice here, so that a notebook shows the formulas that ran and no others.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from calc.base.display import METRIC, Display
from calc.base.formula import Formula
from calc.base.sheet import Given, Step, apply


@dataclass(frozen=True)
class Link:
    """One formula as it was used."""

    formula: Formula
    label: str
    values: Mapping[str, float]
    value: float
    notices: tuple[str, ...]


class Chain:
    """A calculation under way: what is known by symbol, and which formulas were used in which order.

    Parameters
    ----------
    **given
        What is known at the start, by symbol, in the units that the formulas declare.
    """

    def __init__(self, **given: float) -> None:
        self.known: dict[str, float] = dict(given)
        self.reasons: dict[str, str] = {}
        self.links: list[Link] = []
        self.notices: list[str] = []

    @property
    def value(self) -> float:
        """Result of the last formula, unrounded."""
        return self.links[-1].value

    @property
    def choices(self) -> tuple[str, ...]:
        """Names of the formulas that ran, in order."""
        return tuple(link.formula.id for link in self.links)

    def choose(self, symbol: str, value: float, reason: str) -> None:
        """Set a value that a table or a condition gives, and say why."""
        self.known[symbol] = value
        self.reasons[symbol] = reason

    def note(self, sentence: str) -> None:
        """Keep a sentence that has to reach the report."""
        if sentence not in self.notices:
            self.notices.append(sentence)

    def use(self, formula: Formula, label: str) -> float:
        """Apply a formula to what is known; its result is known from here on, under the formula's symbol."""
        values = {name: self.known[name] for name in formula.parameters}
        result = float(formula(**values))
        own = formula.warnings(values)
        self.links.append(Link(formula, label, values, result, own))
        for sentence in own:
            self.note(sentence)
        self.known[formula.symbol] = result
        return result

    def steps(self, *, prefix: str, origins: Mapping[str, str] | None = None, display: Display = METRIC) -> tuple[Step, ...]:
        """Return the chain as steps of a sheet.

        Parameters
        ----------
        prefix
            Start of every step's id, such as ``04.F1``.
        origins
            Where each given value comes from, by symbol; "input" when it is not said.
        display
            How quantities are shown.

        Returns
        -------
        tuple of Step
            In the order in which the formulas ran.
        """
        said = {**self.reasons, **(origins or {})}
        done: dict[str, Step] = {}
        for link in self.links:
            inputs = {
                name: done[name].as_given() if name in done else Given(link.values[name], unit, said.get(name, "input"))
                for name, unit in link.formula.parameters.items()
            }
            symbol = link.formula.symbol
            done[symbol] = apply(link.formula, id=f"{prefix}.{symbol}", label=link.label, inputs=inputs, display=display)
        return tuple(done.values())
