"""What a hole record holds and what is found in it.

Its lines, the findings, planned against done for each bar group.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from calc.base.display import METRIC, Display, round_text
from calc.base.units import convert

SHORT_RULE = (
    "Pull the bar, add adhesive and set the bar again while the adhesive is workable; "
    "after that leave the bar alone, mark it, and let the engineer decide."
)
SHORT_RULE_SOURCE = "Ohio DOT specification 510"  # for the calculation: a sheet for the crew cites no rule of elsewhere
# What is found, in the order in which it is told: title, and what to do about it.
FINDINGS: Mapping[str, tuple[str, str]] = {
    "short": ("short of adhesive", SHORT_RULE),
    "late": (
        "set after the working time",
        "The adhesive may have gelled before the bar was home: mark the bar, and let the engineer decide.",
    ),
    "expired": (
        "expired packs",
        "Set the batch aside, keep it, and let the engineer decide on these bars; the approval's date governs.",
    ),
    "temperature": (
        "outside the temperature range",
        "The approval's range governs: mark the bars, and let the engineer decide.",
    ),
    "depth": (
        "hole not deep enough",
        "The bar is not embedded as planned: compare with the mark on the bar, and let the engineer decide.",
    ),
    "uncleaned": ("not cleaned", "Dust in the hole takes the bond away: mark the bars, and let the engineer decide."),
    "missing": (
        "not recorded at all",
        "Find out whether the holes were done: a hole without a record counts as not shown to be filled.",
    ),
    "incomplete": ("written down in part", "Ask who made the hole, today; do not fill in what nobody saw."),
    "plan": (
        "recorded against another plan",
        "Find out which revision the crew worked by; the present one is compared here.",
    ),
    "under plan": (
        "below the planned dose, not below what the hole needs",
        "The overfill that was to cover scatter was not given in full: look at the dispenser.",
    ),
}
SERIOUS = tuple(kind for kind in FINDINGS if kind not in ("plan", "under plan", "incomplete"))
MINUTES_OF_DAY = 1440.0  # minutes, as the times of a line


def holes_in_words(first: int, last: int) -> str:
    """Name holes that follow one another, for a sentence."""
    return f"hole {first}" if first == last else f"holes {first} to {last}"


@dataclass(frozen=True, slots=True)
class RecordLine:
    """One line of the record. Lengths [mm], volumes [mm³], temperatures [°C], times [min after midnight].

    None was not written down.
    """

    mark: str
    first: int
    last: int
    row: int
    done: bool
    day: date | None = None
    batch: str = ""
    expiry: date | None = None
    concrete: float | None = None
    pack: float | None = None
    depth_to_tip: float | None = None
    depth: float | None = None
    cleaned: bool | None = None
    dose: float | None = None
    full: bool | None = None
    injected: float | None = None
    set: float | None = None
    initials: str = ""
    note: str = ""
    given: Mapping[str, str] = field(default_factory=dict, compare=False)

    @property
    def count(self) -> int:
        """Number of holes that the line stands for."""
        return self.last - self.first + 1

    @property
    def holes(self) -> str:
        """The holes, for a sentence."""
        return holes_in_words(self.first, self.last)


@dataclass(frozen=True)
class SiteFinding:
    """Something about holes that somebody has to look at."""

    kind: str
    mark: str
    first: int
    last: int
    row: int
    sentence: str

    @property
    def holes(self) -> int:
        """Number of holes that it is about."""
        return self.last - self.first + 1

    @property
    def advice(self) -> str:
        """What the rules say about it."""
        return FINDINGS[self.kind][1]


@dataclass(frozen=True)
class GroupSummary:
    """Planned against done for one bar group; volumes [mm³]."""

    mark: str
    planned: int
    done: int
    planned_volume: float
    volume: float
    found: Mapping[str, int]


@dataclass(frozen=True)
class HoleRecord:
    """A hole record that was read, and what is found when it is held against the job.

    ``said`` is how its file was read, where that is not plain.
    """

    file: str
    lines: tuple[RecordLine, ...]
    findings: tuple[SiteFinding, ...]
    groups: tuple[GroupSummary, ...]
    notices: tuple[str, ...]
    display: Display = METRIC
    said: str = ""

    @property
    def planned(self) -> int:
        """Holes of the job."""
        return sum(group.planned for group in self.groups)

    @property
    def done(self) -> int:
        """Holes with a record."""
        return sum(group.done for group in self.groups)

    @property
    def passes(self) -> bool:
        """Whether every hole is recorded and nothing was found that decides on a bar."""
        return not any(finding.kind in SERIOUS for finding in self.findings)

    def of(self, kind: str) -> tuple[SiteFinding, ...]:
        """Return the findings of one kind.

        Parameters
        ----------
        kind
            A key of `FINDINGS`.

        Returns
        -------
        tuple of SiteFinding

        Raises
        ------
        KeyError
            For another kind.
        """
        if kind not in FINDINGS:
            raise KeyError(f"'{kind}' is no kind of finding; there are: {', '.join(FINDINGS)}")
        return tuple(finding for finding in self.findings if finding.kind == kind)

    def holes_with(self, kind: str) -> int:
        """Return the number of holes that a kind of finding is about, each hole counted once."""
        spans: dict[str, list[tuple[int, int]]] = {}
        for finding in self.of(kind):
            spans.setdefault(finding.mark, []).append((finding.first, finding.last))
        return sum(covered(part) for part in spans.values())

    def table(self) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
        """Return the summary as a table: header, and a row for each bar group, volumes in the job's units."""
        kinds = [kind for kind in FINDINGS if self.of(kind)]
        unit = self.display.job_volume_unit
        head = (
            "Mark",
            "Holes",
            "Recorded",
            f"Planned [{unit}]",
            f"Recorded [{unit}]",
            *(FINDINGS[kind][0] for kind in kinds),
            "Verdict",
        )
        rows = []
        for group in self.groups:
            volumes = (round_text(convert(value, "mm³", unit), 4) for value in (group.planned_volume, group.volume))
            numbers = (str(group.found.get(kind, 0)) for kind in kinds)
            bad = any(group.found.get(kind, 0) for kind in SERIOUS)
            verdict = "✗ look at it" if bad else "✓ nothing serious found"
            rows.append((group.mark, str(group.planned), str(group.done), *volumes, *numbers, verdict))
        return head, rows

    def sentences(self) -> tuple[str, ...]:
        """Return what a command prints: a headline, every finding, and once for each kind what the rules say."""
        said = [f"{self.done} of {self.planned} holes are recorded."]
        for kind, (title, advice) in FINDINGS.items():
            found = self.of(kind)
            if found:
                said.append(f"{title.capitalize()}: {_holes(self.holes_with(kind))}. {advice}")
                said += [f"  {finding.sentence}" for finding in found]
        if not self.findings:
            said.append("Nothing was found. The record shows what was written down, not what is in the concrete.")
        return (*said, *self.notices, *filter(None, (self.said,)))


def _holes(number: int) -> str:
    return f"{number} hole{'s' if number != 1 else ''}"


def covered(spans: Iterable[tuple[int, int]]) -> int:
    """Return the number of holes that lie in at least one of the spans.

    Parameters
    ----------
    spans
        First and last hole of each.

    Returns
    -------
    int

    Examples
    --------
    >>> covered([(1, 4), (3, 6)])
    6
    """
    total, after = 0, 0
    for first, last in sorted(spans):
        total += max(last - max(first, after + 1) + 1, 0)
        after = max(after, last)
    return total
