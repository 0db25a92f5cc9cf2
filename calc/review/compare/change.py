"""What is not as before, as records: one model from which words, tables, pages and data are made."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from calc.base.display import plain_text, with_unit
from calc.package.manifest import shown

_NUMBER = (int, float)
_DIGITS = 10  # where five say the same
_CAUSES = 3


@dataclass(frozen=True)
class Field:
    """One value that is not as before; None where there is none. ``relative`` is a share of the value before."""

    place: tuple[str, ...]
    before: Any
    after: Any
    relative: float | None = None

    @property
    def name(self) -> str:
        """The place in one word, as people write it."""
        return ".".join(self.place)

    @property
    def words(self) -> str:
        """Return it as ``name: before → after``."""
        return f"{shown(self.name, 60)}: {' → '.join(told_apart(self.before, self.after))}{by(self.relative)}"


@dataclass(frozen=True)
class Change:
    """One thing that is not as before.

    Attributes
    ----------
    kind
        ``input``, ``step``, ``check``, ``group``, ``total``, ``notice``, ``other`` or ``document``.
    what
        ``value``, ``added``, ``removed``, ``renamed``, ``moved``, ``reworded``, ``flipped``, ``formula``, ``inputs`` or
        ``text``.
    id
        What it is for a program: the id of a step or check, the mark of a group, file and key of an input.
    where
        What it is for people.
    before, after
        As people write them, with unit; empty where there is nothing to say.
    unit
        That of the two, where they are a number.
    more
        What else is not as before, in words.
    because
        What it follows from: ids of inputs that were changed, or of steps that changed without one.
    follows
        Of a step, the changed steps that it takes its values from.
    rules
        The changes of rules of this calc that all of it comes from, see `calc.review.rules`.
    fields
        The values as data.
    notebook, mark, name, formula
        What it belongs to.
    """

    kind: str
    what: str
    id: str
    where: str
    before: str = ""
    after: str = ""
    unit: str = ""
    more: tuple[str, ...] = ()
    because: tuple[str, ...] = ()
    follows: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    fields: tuple[Field, ...] = ()
    notebook: str = ""
    mark: str = ""
    name: str = ""
    formula: str = ""

    @property
    def relative(self) -> float | None:
        """By which share of the value before the value differs; None where that says nothing."""
        return next(
            (one.relative for one in self.fields if one.place[-1:] == ("value",) or len(self.fields) == 1), None
        )

    @property
    def dropped(self) -> bool:
        """Whether it is a notice that nobody reads any more."""
        return self.kind == "notice" and self.what == "removed"

    @property
    def told(self) -> str:
        """What happened to it, in words, without what it is."""
        if self.what in ("added", "removed"):
            text = self.after or self.before
            return f"{'dropped' if self.dropped else self.what}{f' ({text})' if text else ''}"
        if self.what == "renamed":
            return f"{self.before} is called {self.after} now"
        pair = (
            f"{self.before or 'none'} → {self.after or 'none'}{by(self.relative)}" if self.before or self.after else ""
        )
        return "; ".join(filter(None, (pair, *self.more)))

    @property
    def words(self) -> str:
        """Return it as one line, the rules behind it in brackets."""
        return self.line({})

    def line(self, numbers: Mapping[str, int]) -> str:
        """Return it as one line in which inputs that have a number are called by it."""
        cause = self.causes(numbers)
        tail = f" [{', '.join(self.rules)}]" if self.rules else ""
        return f"{self.where}: {self.told}{f'; follows from {cause}' if cause else ''}{tail}"

    def row(self, numbers: Mapping[str, int]) -> tuple[str, str, str, str, str]:
        """Return it as cells: what, before, after, the difference and all else, what it follows from."""
        before, after = self.before, self.after
        if self.what == "removed":
            after = "dropped" if self.dropped else "removed"
        elif self.what == "added":
            before = "none"
            after = after or "added"
        cause = "; ".join(filter(None, (self.causes(numbers), *self.rules)))
        return self.where, before, after, "; ".join(filter(None, (by(self.relative).strip(" ()"), *self.more))), cause

    def causes(self, numbers: Mapping[str, int]) -> str:
        """Say what it follows from: numbers of inputs, or what is known of them."""
        if known := sorted({numbers[one] for one in self.because if one in numbers}):
            return f"no. {', '.join(map(str, known))}"
        few = ", ".join(shown(one, 60) for one in self.because[:_CAUSES])
        more = len(self.because) - _CAUSES
        return few + (f" and {more} more" if more > 0 else "")

    def data(self) -> dict[str, Any]:
        """Return it for JSON."""
        names = ("kind", "what", "id", "where", "before", "after", "unit", "more", "because", "rules")
        values = [
            {"place": list(f.place), "before": f.before, "after": f.after, "relative": f.relative} for f in self.fields
        ]
        return {name: getattr(self, name) for name in names} | {"values": values}


def by(share: float | None) -> str:
    """Write a relative difference for people, with a space before it; nothing for None."""
    if share is None:
        return ""
    percent = abs(share) * 100
    text = (
        f"{percent:.0f} %" if percent >= 1000 else f"{percent:.3g} %" if percent >= 0.001 else f"{abs(share):.1e} of it"
    )
    return f" ({text} {'more' if share > 0 else 'less'})"


def mapping_of(value: Any) -> Mapping[str, Any]:
    """Return a value of JSON that is a mapping, and an empty one for anything else."""
    return value if isinstance(value, Mapping) else {}


def list_of(value: Any) -> list[Any]:
    """Return a value of JSON that is a list, and an empty one for anything else."""
    return value if isinstance(value, list) else []


def is_number(value: Any) -> bool:
    """Whether a value of JSON is a number, which true and false are not."""
    return isinstance(value, _NUMBER) and not isinstance(value, bool)


def relative(one: Any, other: Any) -> float | None:
    """Return by which share of ``one`` the two numbers differ, or None where that says nothing."""
    if not (is_number(one) and is_number(other)) or one == 0:
        return None
    try:
        share = (other - one) / abs(one)
    except OverflowError:
        return None
    return float(share) if math.isfinite(share) else None


def text_of(value: Any, unit: str = "") -> str:
    """Write a value of JSON for people, a number with its unit."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if is_number(value):
        return with_unit(
            plain_text(value, 5) if isinstance(value, float) else str(value), "" if unit == "pcs" else unit
        )
    return "empty" if isinstance(value, (dict, list, tuple)) else shown(value)


def told_apart(one: Any, other: Any, unit: str = "") -> tuple[str, str]:
    """Write two values that differ so that the two texts differ."""
    texts = text_of(one, unit), text_of(other, unit)
    if texts[0] != texts[1]:
        return texts
    if is_number(one) and is_number(other):
        exact = (with_unit(plain_text(float(value), _DIGITS), "" if unit == "pcs" else unit) for value in (one, other))
        texts = (next(exact), next(exact))
    return texts if texts[0] != texts[1] else (repr(one), repr(other))


def count_of(number: int, noun: str) -> str:
    """Write a count with its noun."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def unique(texts: Iterable[str]) -> tuple[str, ...]:
    """Return texts in order, each once."""
    return tuple(dict.fromkeys(texts))
