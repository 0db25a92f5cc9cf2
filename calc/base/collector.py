"""Formulas applied one after another.

Each finds its arguments by symbol, among what is given and what came before, with their origins.

A caller that chooses between formulas leaves its choice here, so that a notebook shows the formulas that ran and no
others. Steps are typeset when somebody asks for them.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import count

from calc.base.display import METRIC, Display
from calc.base.formula import Formula
from calc.base.identity import identity
from calc.base.sheet import Found, Given, Notice, Origin, Step, Way, apply, found_by
from calc.base.units import convert

_AS_DECLARED = "as the formula declares"
_INPUT = "input"
_SAME = 1e-9
_chains = count(1)


@dataclass(frozen=True)
class Asked(Origin):
    """The origin of a value that only the caller of a library can tell; its words stand as long as nobody does.

    ``symbol`` is the one under which the library asked for it, where it goes on under another one.
    """

    symbol: str = ""


@dataclass(frozen=True)
class Link:
    """One formula as it was used."""

    id: str
    mark: str | None
    name: str
    formula: Formula
    label: str
    symbol: str
    inputs: Mapping[str, Given]
    value: float
    notices: tuple[str, ...]


class Steps:
    """A calculation under way: what is known by symbol, with unit and origin.

    And which formulas were used in which order.

    Parameters
    ----------
    notebook, mark
        What the steps belong to. A library leaves both out; whoever takes its steps over with `take` says it.
    display
        How quantities are shown.
    **given
        What is known at the start, by symbol, in the units that the formulas declare; its origin is the caller's to
        tell.
    """

    def __init__(self, notebook: str = "", mark: str | None = None, display: Display = METRIC, **given: float) -> None:
        # Chains of a library have names of their own, so that each input finds the very step that it came from.
        self.notebook, self.mark, self.display = notebook or f"chain {next(_chains)}", mark, display
        self._library = not notebook
        self.known: dict[str, float] = {}
        self.links: list[Link] = []
        self.notices: list[Notice] = []
        self._found: dict[str, Found] = {}
        self._given: dict[str, dict[str, Given]] = {}
        self._by_id: dict[str, Link] = {}
        self._taken: dict[str, str] = {}
        self._typeset: list[Step] = []
        self.ask_each(given)

    def of(self, mark: str) -> Steps:
        """Return the same calculation, in which what is applied from here on belongs to this bar group."""
        other = copy.copy(self)
        other.mark = mark
        return other

    # ---- what is known ---------------------------------------------------------------------------

    def put(self, symbol: str, given: Given) -> Given:
        """Make a value known under its symbol."""
        kept = self._given.setdefault(symbol, {})
        kept.pop(given.unit, None)
        kept[given.unit] = given
        self.known[symbol] = given.value
        return given

    def give(self, symbol: str, value: float, unit: str, origin: str | Origin) -> Given:
        """Make a value known under its symbol, with its unit and where it comes from."""
        return self.put(symbol, Given(value, unit, origin))

    def choose(self, symbol: str, value: float, origin: str | Origin) -> None:
        """Set a value that a table or a condition gives, in the declared unit, and say why."""
        self.give(symbol, value, _AS_DECLARED, origin)

    def ask(self, symbol: str, value: float, otherwise: str = _INPUT, *, of: str = "") -> None:
        """Set a value that the caller gave, in the declared unit.

        Where nobody tells its origin, ``otherwise`` stands for it; ``of`` is the symbol under which the caller knows
        it, where that is another one.
        """
        self.give(symbol, value, _AS_DECLARED, Asked(otherwise, symbol=of or symbol))

    def also(self, symbol: str, given: Given, words: str) -> Given:
        """Make known under another symbol what is known already: with its origin, and the reason in words."""
        origin = given.source
        if origin.step is not None or isinstance(origin, Asked):
            return self.put(symbol, replace(given, origin=replace(origin, text=words)))
        return self.put(symbol, replace(given, origin=origin.told(f"{words}: {{}}")))

    def ask_each(self, values: Mapping[str, float]) -> None:
        """Set several values that the caller gave, by symbol."""
        for symbol, value in values.items():
            self.ask(symbol, value)

    def carry(self, other: Steps, *symbols: str) -> None:
        """Make known what another calculation knows under these symbols, with its origin."""
        for symbol in symbols:
            self.put(symbol, other.last(symbol))

    def last(self, symbol: str) -> Given:
        """What was last made known under a symbol; raises `KeyError`."""
        return next(reversed(self._given[symbol].values()))

    def _in_unit(self, symbol: str, unit: str) -> Given | None:
        kept = self._given.get(symbol, {})
        return kept.get(unit) or kept.get(_AS_DECLARED)

    # ---- formulas --------------------------------------------------------------------------------

    def use(self, formula: Formula, label: str, name: str = "", symbol: str | None = None, **inputs: Given) -> Given:
        """Apply a formula; what is not given here is taken from what is known.

        Parameters
        ----------
        formula
            What to apply.
        label
            What it finds, in words.
        name
            What the step is called; the symbol of its result when it is left out.
        symbol
            Another symbol of the nomenclature for the result.
        **inputs
            Arguments by symbol.

        Returns
        -------
        Given
            The result, which is known from here on under its symbol.
        """
        found = {}
        for one, unit in formula.parameters.items():
            given = inputs.get(one) or self.last(one)
            found[one] = replace(given, unit=unit) if given.unit == _AS_DECLARED else given
        return self._link(formula, label, name, symbol or formula.symbol, found)

    def _link(self, formula: Formula, label: str, name: str, symbol: str, inputs: Mapping[str, Given]) -> Given:
        values = {one: convert(inputs[one].value, inputs[one].unit, unit) for one, unit in formula.parameters.items()}
        value, end = float(formula(**values)), name or symbol
        link = Link(
            identity(self.notebook, self.mark, end),
            self.mark,
            end,
            formula,
            label,
            symbol,
            inputs,
            value,
            formula.warnings(values),
        )
        old = self._by_id.get(link.id)
        if old is None:
            self.links.append(link)
            self._by_id[link.id] = link
            for sentence in link.notices if self._library else ():
                self.note(formula.symbol, sentence)
        elif not math.isclose(old.value, value, rel_tol=_SAME):
            raise ValueError(f"two steps are called {link.id}")
        return self.put(symbol, Given(value, formula.unit, Origin(step=link.id)))

    def find(
        self, way: Way, name: str, label: str, value: float, unit: str, *, how: str, inputs: Mapping[str, Given]
    ) -> Given:
        """Keep a result that no formula gives, and hand it on as what it is; see `calc.base.sheet.found_by`.

        Parameters
        ----------
        way
            How it was found.
        name, label
            What it is called in its notebook and bar group, and what was found, in words.
        value, unit
            The result.
        how
            In a sentence, what was done with the inputs.
        inputs
            What it was found from, by symbol.

        Returns
        -------
        Given
            The result; what takes it names it by its id.
        """
        one = found_by(
            way,
            notebook=self.notebook,
            mark=self.mark,
            name=name,
            label=label,
            value=value,
            unit=unit,
            how=how,
            inputs=inputs,
            display=self.display,
        )
        kept = self._found.setdefault(one.id, one)
        if (kept.value, kept.unit) != (one.value, one.unit):
            raise ValueError(f"two results are called {one.id}: {kept.value} {kept.unit} and {one.value} {one.unit}")
        return Given(value, unit, Origin(step=one.id))

    @property
    def found(self) -> tuple[Found, ...]:
        """What was found without a formula, in order."""
        return tuple(self._found.values())

    def drop(self, formula: Formula) -> None:
        """Take a formula out again, before its steps were asked for; another takes its place."""
        self.links = [link for link in self.links if link.formula is not formula]
        self._by_id = {link.id: link for link in self.links}

    def note(self, name: str, sentence: str, *, whole: bool = False) -> None:
        """Keep a sentence that has to reach the report; ``whole`` for one that is the same for every bar group."""
        notice = Notice(self.notebook, None if whole else self.mark, name, sentence, lead="" if whole else "{mark}: ")
        if sentence not in (one.text for one in self.notices):
            self.notices.append(notice)

    def copy(self) -> Steps:
        """Return the same calculation, to be carried on by itself."""
        other = Steps(self.notebook, self.mark, self.display)
        other._library = self._library
        other.known, other.links, other.notices = dict(self.known), list(self.links), list(self.notices)
        other._found = dict(self._found)
        other._given = {symbol: dict(kept) for symbol, kept in self._given.items()}
        other._by_id, other._taken = dict(self._by_id), dict(self._taken)
        return other

    def take(self, chain: Steps, part: str = "", *, lead: str = "", say: bool = True) -> None:
        """Take over the steps of a library's chain.

        Parameters
        ----------
        chain
            The chain. What it asked for is what is known here under the same symbol and unit.
        part
            Stands in front of the steps' names.
        lead
            Stands in front of their labels.
        say
            Whether its notices are taken over as well.

        Raises
        ------
        ValueError
            The chain ran with another number than is known here: the origin would be wrong.
        """
        for link in chain.links:
            inputs = {name: self._told(name, given) for name, given in link.inputs.items()}
            label = lead + link.label
            result = self._link(link.formula, label[0].upper() + label[1:], part + link.name, link.symbol, inputs)
            self._taken[link.id] = str(result.source.step)
        for notice in chain.notices if say else ():
            text = notice.text if not notice.lead else f"{notice.text.rstrip('.')}."
            self.note(notice.name, text, whole=not notice.lead)

    def _told(self, name: str, given: Given) -> Given:
        origin = given.source
        if origin.step is not None:
            return replace(given, origin=replace(origin, step=self._taken.get(origin.step, origin.step)))
        if not isinstance(origin, Asked):
            return given
        known = self._in_unit(name, given.unit)
        if origin.symbol not in ("", name):
            own = self._in_unit(origin.symbol, given.unit)
            if own is not None:
                return replace(given, origin=own.source.told(f"{origin.text}: {{}}"))
        if known is None:
            return replace(given, origin=origin.text)
        if not math.isclose(known.value, given.value, rel_tol=_SAME):
            raise ValueError(f"{name} is {known.value!r} here, and the chain ran with {given.value!r}")
        return replace(given, origin=known.origin)

    # ---- what came out ---------------------------------------------------------------------------

    @property
    def value(self) -> float:
        """Result of the last formula, unrounded."""
        return self.links[-1].value

    @property
    def choices(self) -> tuple[str, ...]:
        """Names of the formulas that ran, in order."""
        return tuple(link.formula.id for link in self.links)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps, in the order in which the formulas ran."""
        self._typeset += [self._step(link) for link in self.links[len(self._typeset) :]]
        return tuple(self._typeset)

    def _step(self, link: Link) -> Step:
        # A force per length keeps its step in N and mm, so that its printed arithmetic holds.
        display = METRIC if "N/mm" in (link.formula.unit, *link.formula.parameters.values()) else self.display
        return apply(
            link.formula,
            name=link.name,
            label=link.label,
            inputs=link.inputs,
            display=display,
            symbol=link.symbol,
            notebook=self.notebook,
            mark=link.mark,
        )
