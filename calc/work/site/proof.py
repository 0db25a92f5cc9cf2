"""Proof loads on site: how many bars of each group are pulled, to which load, which ones, and what counts as a failure.

A proof load looks for bad workmanship. It says nothing of the design value and is never a reason to raise one. The load
follows from the characteristic action on a bar, which nobody can recover from a design force: where it is missing, the
plan says so.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from calc.base.bars import Bar
from calc.base.collector import Steps
from calc.base.errors import NotAccepted
from calc.base.formula import formula
from calc.base.identity import PLAN
from calc.base.maths import ceil, max, min
from calc.base.sheet import Check, Given, Notice, Origin, Sheet, Step
from calc.base.units import Mm2, MPa, Newton, Ratio, Whole, convert
from calc.files.design import Chosen, choose
from calc.files.job import Job
from calc.files.schedule import BarGroup
from calc.work.embedment.steps import toml_key
from calc.work.site.breakout import PROOF_BOND, PROOF_CONE, PullLimit, limits_of_pull, most_of_a_pull

_PRACTICE = "BS 8539:2012+A1:2021, Annex B.3, as public summaries have it; for bars by analogy"
_PULL = "AEFAC TN05, Volume 2, as a public summary has it: hold, drop and share of the yield force"
# Factor on the characteristic action, by the share of the bars that is tested.
FACTORS: Mapping[float, float] = {0.025: 1.5, 0.05: 1.25}
KEY = "force_characteristic"
PROOF_STEPS = ("proof_number", "proof_load", "proof_cap", "proof_held", "proof_depth", "proof_most")
PROOF_CHECKS = ("proof", PROOF_CONE, PROOF_BOND, "proof_test")
UNCONFINED = "unconfined"
_OWN_TABLE = "its [design.group] table"  # said alike for many groups

_FORCE = (0.0, 1e7)
_SHARE = (0.0, 1.0)
_COUNT = (1.0, 1e9)


class ProofError(NotAccepted):
    """A plan of proof loads that cannot be made; the message is a sentence."""


@formula(symbol="n_test", source=_PRACTICE, limits={"n_hole": _COUNT, "n_least": _COUNT, "f_test": _SHARE})
def bars_tested(*, n_hole: Whole, n_least: Whole, f_test: Ratio) -> Whole:
    """Number of bars of an area that is tested: the share rounded up, at least a few, at most all.

    Notes
    -----
    ``n_hole`` is the number of bars in the area.

    Examples
    --------
    >>> bars_tested(n_hole=200.0, n_least=3.0, f_test=0.025)
    5.0
    """
    return min(n_hole, max(n_least, ceil(n_hole * f_test)))


@formula(symbol="N_p", source=_PRACTICE, limits={"k_p": (1.0, 2.0), "N_k": _FORCE})
def proof_load(*, k_p: Ratio, N_k: Newton) -> Newton:
    """Load that a tested bar must carry.

    Notes
    -----
    ``k_p`` is 1.5 when 2.5 % of the bars are tested, and 1.25 when 5 % are.

    Examples
    --------
    >>> proof_load(k_p=1.5, N_k=20000.0)
    30000.0
    """
    return k_p * N_k


@formula(symbol="N_cap", source=_PULL, limits={"A_s": (1.0, 5000.0), "f_yk": (100.0, 1000.0)})
def proof_load_cap(*, A_s: Mm2, f_yk: MPa) -> Newton:
    """Most that a proof load may be, so that the bar stays well below yield.

    Examples
    --------
    >>> round(proof_load_cap(A_s=201.0, f_yk=500.0))
    70350
    """
    return 0.7 * A_s * f_yk


@formula(symbol="N_hold", source=_PULL, limits={"N_p": _FORCE, "f_drop": _SHARE})
def load_after_hold(*, N_p: Newton, f_drop: Ratio) -> Newton:
    """Load that must still be on the bar when the hold ends, without pumping again.

    Examples
    --------
    >>> load_after_hold(N_p=30000.0, f_drop=0.1)
    27000.0
    """
    return N_p * (1 - f_drop)


@dataclass(frozen=True)
class ProofRule:
    """How proof loads are planned.

    Share tested, least number in an area, seed of the draw, hold [s], share that may be lost.

    Raises
    ------
    ProofError
        A share without a factor, or a number out of range.
    """

    share: float = 0.025
    least: int = 3
    seed: int = 0
    hold: float = 30.0
    drop: float = 0.10

    def __post_init__(self) -> None:
        if self.share not in FACTORS:
            accepted = " or ".join(f"{share:g} (factor {factor:g})" for share, factor in FACTORS.items())
            raise ProofError(f"share tested is {self.share!r}; accepted: {accepted}")
        for name, value, low, high in (("least", self.least, 1, 1000), ("seed", self.seed, 0, 2**31)):
            if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
                raise ProofError(f"{name} is {value!r}; accepted: a whole number from {low} to {high}")
        if not 0 < self.hold <= 3600:
            raise ProofError(f"hold is {self.hold!r} s; accepted: above 0 up to 3600 s")
        if not 0 <= self.drop <= 0.5:
            raise ProofError(f"drop is {self.drop!r}; accepted: a share from 0 to 0.5, such as 0.10")

    @property
    def factor(self) -> float:
        """Factor on the characteristic action."""
        return FACTORS[self.share]

    @property
    def other(self) -> tuple[float, float]:
        """The other share and its factor."""
        return next((share, factor) for share, factor in FACTORS.items() if share != self.share)


@dataclass(frozen=True)
class ProofGroup:
    """Proof loads of one bar group [N]; loads are None when ``missing`` says what the job file lacks."""

    mark: str
    bar: Bar
    count: int
    number: int
    drawn: tuple[int, ...]
    steps: tuple[Step, ...]
    action: float | None = None
    load: float | None = None
    cap: float | None = None
    held: float | None = None
    checks: tuple[Check, ...] = ()
    missing: Notice | None = None
    lacks: str = ""

    @property
    def may_be_tested(self) -> bool:
        """Whether there is a load, and it stays below all that limits it."""
        return bool(self.checks) and all(check.passes for check in self.checks)


@dataclass(frozen=True)
class ProofPlan:
    """Proof loads of a job: its rule, and a line for every bar group."""

    rule: ProofRule
    groups: tuple[ProofGroup, ...]
    words: tuple[tuple[str, str], ...] = field(default=())

    @property
    def sheet(self) -> Sheet:
        """Steps, checks, and as notices what is missing."""
        steps = tuple(step for group in self.groups for step in group.steps)
        checks = tuple(check for group in self.groups for check in group.checks)
        return Sheet(PLAN, steps, checks, tuple(group.missing for group in self.groups if group.missing))


def draw_bars(*, mark: str, count: int, number: int, seed: int = 0, number_of_job: str = "") -> tuple[int, ...]:
    """Draw bars of a group at random, the same ones on every machine and with every version of Python.

    Parameters
    ----------
    mark
        Mark of the bar group.
    count
        Bars in the group, numbered from 1.
    number
        Bars to draw.
    seed
        Another seed draws other bars.
    number_of_job
        Job number, so that two jobs do not share a draw.

    Returns
    -------
    tuple of int
        In rising order. A larger number keeps the bars of a smaller one.

    Raises
    ------
    ProofError
        More bars than the group has, or fewer than one.

    Examples
    --------
    >>> draw_bars(mark="A", count=3, number=3)
    (1, 2, 3)
    """
    if not 1 <= number <= count:
        raise ProofError(f"{number} bars cannot be drawn from the {count} of group {mark}; accepted: from 1 to {count}")
    found: dict[int, None] = {}
    turn = 0
    while len(found) < number:
        digest = hashlib.sha256(f"{seed}\n{number_of_job}\n{mark}\n{turn}".encode()).digest()
        found[int.from_bytes(digest, "big") % count + 1] = None
        turn += 1
    return tuple(sorted(found))


def plan_proof_loads(*, job: Job, rule: ProofRule | None = None) -> ProofPlan:
    """Plan the proof loads of a job; each bar group counts as one area.

    Parameters
    ----------
    job
        A validated job.
    rule
        Share, numbers and seed; None takes the plain `ProofRule`.

    Returns
    -------
    ProofPlan
        Loads [N].
    """
    rule = rule or ProofRule()
    return ProofPlan(rule, tuple(_group(job, group, rule) for group in job.groups), rules_in_words(rule))


def _group(job: Job, group: BarGroup, rule: ProofRule) -> ProofGroup:
    mark, display = group.mark, job.display
    steps = Steps(PLAN, mark, display)
    number = int(
        steps.use(
            bars_tested,
            "Bars that are tested",
            "proof_number",
            n_hole=Given(float(group.count), "pcs", Origin.of_row(job.schedule_path.name, group.row, "count")),
            n_least=Given(float(rule.least), "pcs", "rule of the proof loads"),
            f_test=Given(rule.share, "", "rule of the proof loads"),
        ).value
    )
    drawn = draw_bars(mark=mark, count=group.count, number=number, seed=rule.seed, number_of_job=job.number)
    chosen = None if job.design is None else choose(job.design, mark)
    force, strength, lacks = _given(job, chosen)
    if chosen is None or force is None or strength is None:
        missing = Notice(PLAN, mark, "proof", lacks.replace(_OWN_TABLE, f"[design.group.{mark}]"))
        return ProofGroup(mark, group.bar, group.count, number, drawn, steps.steps, missing=missing, lacks=lacks)
    load = steps.use(
        proof_load,
        "Proof load",
        "proof_load",
        k_p=Given(rule.factor, "", f"rule of the proof loads: {rule.share * 100:g} % are tested"),
        N_k=force,
    )
    area = Given(group.bar.stress_area, "mm²", group.bar.origin)
    cap = steps.use(proof_load_cap, "Most that the bar may be pulled with", "proof_cap", A_s=area, f_yk=strength)
    held = steps.use(
        load_after_hold,
        "Load at the end of the hold, at least",
        "proof_held",
        N_p=load,
        f_drop=Given(rule.drop, "", "rule of the proof loads"),
    )
    limits: tuple[PullLimit, ...] = ()
    if chosen["proof_test"] == UNCONFINED:
        limits = limits_of_pull(job=job, group=group, chosen=chosen, steps=steps)
    least = _least(steps, cap, limits)
    judge = _Judge(job, group, rule, load.value, _fits(rule, force.value, least))
    return ProofGroup(
        mark=mark,
        bar=group.bar,
        count=group.count,
        number=number,
        drawn=drawn,
        steps=steps.steps,
        action=force.value,
        load=load.value,
        cap=least,
        held=held.value,
        checks=(
            judge.held_against("proof", "proof load leaves the bar well below yield", cap.value),
            *(judge.limit(one) for one in limits),
            *((judge.owed(*_WHICH_TEST),) if chosen["proof_test"] is None else ()),
        ),
    )


def _least(steps: Steps, cap: Given, limits: Sequence[PullLimit]) -> float:
    """Return the least of what is known to limit the load [N]; a step where all of it is known."""
    known = [one.resistance for one in limits if one.resistance is not None]
    if limits and len(known) == len(limits):
        cone, bond = known
        label = "Most that the proof load may be"
        return steps.use(most_of_a_pull, label, "proof_most", N_cap=cap, N_con=cone, N_bnd=bond).value
    return sorted((cap.value, *(one.value for one in known)))[0]


def _fits(rule: ProofRule, action: float, most: float) -> str:
    """Say what would do in place of a load that is too much."""
    share, factor = rule.other
    if float(proof_load(k_p=factor, N_k=action)) <= most:
        return f"test {share * 100:g} % of the bars to {factor:g} times the action"
    return "let the engineer decide on another test"


_WHICH_TEST = ("proof_test", "whether the proof test is confined or unconfined is known", ("proof_test",))


@dataclass(frozen=True)
class _Judge:
    """Holds a group's proof load against what limits it."""

    job: Job
    group: BarGroup
    rule: ProofRule
    load: float
    way: str

    def held_against(self, name: str, title: str, most: float) -> Check:
        unit = self.job.display.force_unit
        return Check.compare(
            notebook=PLAN,
            mark=self.group.mark,
            name=name,
            group=f"{self.group.mark} ({self.group.bar.text})",
            title=title,
            demand=convert(self.load, "N", unit),
            resistance=convert(most, "N", unit),
            unit=unit,
            advice=f"do not pull the bar to this load; {self.way}",
        )

    def limit(self, one: PullLimit) -> Check:
        title = f"proof load is at most the {one.what}"
        if one.resistance is None:
            return self.owed(one.name, title, one.missing)
        return self.held_against(one.name, title, one.resistance.value)

    def owed(self, name: str, title: str, keys: Sequence[str]) -> Check:
        """Owe what cannot be judged: until then nobody pulls the bar."""
        own = f"design.group.{toml_key(self.group.mark)}"
        missing = tuple(
            (f"{own}.approval" if key.startswith("approval.") else own, key.removeprefix("approval.")) for key in keys
        )
        words = ", ".join(key for _, key in missing)
        unit = self.job.display.force_unit
        return Check(
            notebook=PLAN,
            mark=self.group.mark,
            name=name,
            title=f"{self.group.mark} ({self.group.bar.text}): {title}",
            demand=convert(self.load, "N", unit),
            resistance=math.nan,
            unit=unit,
            utilisation=None,
            verdict="owed",
            reason=f"missing: {words}, in [design] or [{own}]",
            advice=f"do not pull the bar before it is known; add {words}",
            what=title,
            missing=missing,
        )


def _given(job: Job, chosen: Chosen | None) -> tuple[Given | None, Given | None, str]:
    """Characteristic action and yield strength of a group, and a sentence when one of them is missing."""
    if chosen is None:
        words = f'{KEY} = "… {job.display.force_unit}" and the yield strength of the bar'
        return None, None, f"no proof load, because {job.path.name} has no table [design]; add it with {words}."
    steel = chosen[chosen.f_steel]
    strength = None if steel is None else Given(steel, "MPa", chosen.origin(job.path.name, chosen.f_steel))
    found = chosen[KEY]
    lacking: list[str] = []
    if found is None:
        lacking.append(
            f'the characteristic action on one bar (write {KEY} = "… {job.display.force_unit}" into {_OWN_TABLE})'
        )
    if strength is None:
        lacking.append(f"the yield strength of the bar (write {chosen.f_steel} into [design])")
    if lacking:
        return (
            None,
            None,
            f"no proof load, because the job file lacks {' and '.join(lacking)}{_why_not(chosen, found)}.",
        )
    assert found is not None
    return Given(found, "N", chosen.origin(job.path.name, KEY)), strength, ""


def _why_not(chosen: Chosen, found: float | None) -> str:
    """Say why what stands in the job file does not do."""
    if found is not None or not chosen.designed:
        return ""
    if chosen["use"] == "joint":
        return "; the force there is a shear along the joint, and not the pull on a bar"
    return "; the force there is a design force, and what factor is in it is not guessed"


def rules_in_words(rule: ProofRule) -> tuple[tuple[str, str], ...]:
    """Return what a reader of the plan has to know, one sentence or two each.

    Parameters
    ----------
    rule
        The rule of the plan.

    Returns
    -------
    tuple of (str, str)
        Heading and sentences.
    """
    return (
        ("Purpose", "to find bad workmanship. A passed test proves nothing more and never raises a design value."),
        (
            "Number",
            (
                f"{rule.share * 100:g} % of the bars, rounded up, and at least {rule.least} in each area."
                " Each bar group counts as one area here; where a group is spread over places,"
                " days or persons, test that many in each."
            ),
        ),
        (
            "Load",
            (
                f"{rule.factor:g} times the characteristic action on one bar, raised without a jerk; never above 0.7"
                " times the bar's area times its yield strength, and in an unconfined test never above the"
                f" characteristic resistance of the concrete cone and of the bond ({_PRACTICE}; {_PULL})."
            ),
        ),
        (
            "Accept",
            (
                f"the load is held for {rule.hold:g} s without pumping, and no more than {rule.drop * 100:g} % of it is"
                " lost; the bar does not visibly move. Wait until the curing time at the concrete's temperature is"
                " over before any pull."
            ),
        ),
        (
            "Confined or unconfined",
            (
                "confined: a frame that stands close around the bar presses the concrete down, so the test loads the"
                " bond and not the concrete cone. A pass says nothing of breakout of the concrete. Unconfined: the"
                " frame stands apart, and the cone may break out. The job file says which is meant, key proof_test."
            ),
        ),
        (
            "Failure",
            (
                "stop loading the bars of this area, mark the bar, tell the engineer, and look for the cause in the"
                " hole record (cleaning, dose, depth, temperature, expiry). Do not pull the bar again to get a better"
                " reading. Common practice, no source: twice as many bars of the area are tested then, and all of them"
                " when one more fails; the engineer decides."
            ),
        ),
        (
            "The draw",
            (
                "bars are numbered from 1 along the drawing before anybody sees this page; they were drawn at random"
                f" (seed {rule.seed}), and the crew is not to know them before the bars are set. The inspector may"
                " always add bars."
            ),
        ),
    )
