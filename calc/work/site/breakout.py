"""What an unconfined pull on one bar may be: the characteristic resistance of the concrete cone and of the bond.

The frame of an unconfined test stands apart from the bar, so that a cone of concrete may break out with it. One bar is
pulled at a time, as near to every edge as the outermost bar of its group. What the job file does not say is owed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

from calc.base.bars import find_bar
from calc.base.collector import Steps
from calc.base.formula import formula
from calc.base.maths import min
from calc.base.sheet import Given, Origin
from calc.base.units import Newton, convert
from calc.files.design import Chosen
from calc.files.job import Job
from calc.files.schedule import BarGroup
from calc.files.strict import tidy
from calc.strength import aci318_19_17 as aci
from calc.strength import en1992_4 as en
from calc.strength.codes import ACI

PROOF_CONE, PROOF_BOND = "proof_cone", "proof_bond"
_FORCE = (0.0, 1e10)
_EDGES = ("edge", "edge_right", "edge_above")
_ONE = "one bar is pulled at a time"


@formula(
    symbol="N_most",
    source="definition: the bar, the cone and the bond are each to stay whole",
    limits={"N_cap": _FORCE, "N_con": _FORCE, "N_bnd": _FORCE},
)
def most_of_a_pull(*, N_cap: Newton, N_con: Newton, N_bnd: Newton) -> Newton:
    """Most that an unconfined pull may be: the least that bar, cone and bond allow.

    Examples
    --------
    >>> most_of_a_pull(N_cap=70000.0, N_con=40000.0, N_bnd=55000.0)
    40000.0
    """
    return min(N_cap, N_con, N_bnd)


@dataclass(frozen=True)
class PullLimit:
    """One limit of an unconfined pull; ``resistance`` [N] is None where ``missing`` names the keys that it lacks."""

    name: str
    what: str
    resistance: Given | None = None
    missing: tuple[str, ...] = ()


def limits_of_pull(*, job: Job, group: BarGroup, chosen: Chosen, steps: Steps) -> tuple[PullLimit, PullLimit]:
    """Work what cone and bond of one bar hold.

    Parameters
    ----------
    job
        A validated job.
    group
        The bar group.
    chosen
        The values of the job file that hold for it.
    steps
        Takes the steps.

    Returns
    -------
    tuple of PullLimit
        Of the cone and of the bond; forces [N], characteristic.
    """
    look = _Aci(job, group, chosen, steps) if chosen.code == ACI else _En(job, group, chosen, steps)
    return look.cone(), look.bond()


class _Pull:
    """What both codes share: the edges around one bar, and what is missing."""

    unit, force = "mm", "N"
    standard = ""
    tau: tuple[str, ...] = ()

    def __init__(self, job: Job, group: BarGroup, chosen: Chosen, steps: Steps) -> None:
        self.file, self.chosen, self.group, self.steps = job.path.name, chosen, group, steps
        self.embedment = Origin.of_row(job.schedule_path.name, group.row, "embedment")
        self.cracked = chosen["cracked"] is not False

    def origin(self, key: str, otherwise: str) -> str | Origin:
        """Where a value comes from that is assumed where the job file does not say it."""
        return otherwise if self.chosen[key] is None else self.chosen.origin(self.file, key)

    def lacking(self, *keys: str) -> tuple[str, ...]:
        """Keys that a limit needs and that are not given; with a value of the assessment its number and page."""
        far = {"edge"} if self.chosen["edge_far"] else set()
        asked = (self.chosen.f_concrete, "cover", *_EDGES, *keys)
        asked += ("approval.number", "approval.page") if keys else ()
        return tuple(key for key in asked if key not in far and self.chosen[key] is None)

    def length(self, symbol: str, value: float, origin: str | Origin) -> float:
        """Give a length [mm] in the unit of the code."""
        return self.steps.give(symbol, tidy(convert(value, "mm", self.unit)), self.unit, origin).value

    def around(self) -> Mapping[str, Any]:
        """One bar between its edges, as the chains of the codes take it; counted from the bar's centre."""
        chosen, edges = self.chosen, dict[str, float | None]()
        for symbol, key in zip(("c_x1", "c_x2", "c_y2"), _EDGES, strict=True):
            far = chosen[key] is None or chosen[key] == inf
            edges[symbol] = None if far else self.length(symbol, chosen[key], chosen.origin(self.file, key))
        below = chosen["cover"] + self.group.bar.diameter / 2
        edges["c_y1"] = self.length("c_y1", below, chosen.origin(self.file, "cover").told("{}, and half the bar"))
        for symbol, value, unit, words in (
            ("n_x", 1.0, "pcs", _ONE),
            ("n_y", 1.0, "pcs", _ONE),
            ("e_x", 0.0, self.unit, "the pull is centred"),
            ("e_y", 0.0, self.unit, "the pull is centred"),
        ):
            self.steps.give(symbol, value, unit, words)
        around = tuple(edges[symbol] for symbol in ("c_x1", "c_x2", "c_y1", "c_y2"))
        return {"edges": around, "spacings": (0.0, 1, 0.0, 1)}

    def finished(self, name: str, what: str, chain: Steps) -> PullLimit:
        """Take a chain's steps over, and its result in N."""
        self.steps.take(chain, part=f"{name}.", lead="pull on one bar, ", say=False)
        last = self.steps.last(chain.links[-1].symbol)
        return PullLimit(name, what, Given(convert(last.value, self.force, "N"), "N", last.source))

    def stress(self, symbol: str, key: str, unit: str) -> None:
        """Give a bond strength of the assessment."""
        said = f"assessment {self.chosen['approval.number']}, {self.chosen['approval.page']}"
        origin = self.chosen.origin(self.file, key).told("{}: " + said)
        self.steps.give(symbol, tidy(convert(self.chosen[key], "MPa", unit)), unit, origin)

    def cone(self) -> PullLimit:
        """Work the cone, or say what it lacks."""
        what = f"characteristic resistance of the concrete cone around one bar ({self.standard})"
        missing = self.lacking()
        return (
            PullLimit(PROOF_CONE, what, missing=missing)
            if missing
            else self.finished(PROOF_CONE, what, self.cone_chain())
        )

    def bond(self) -> PullLimit:
        """Work the bond, or say what it lacks."""
        what = f"characteristic resistance of the bond of one bar ({self.standard})"
        missing = self.lacking(*self.tau)
        return (
            PullLimit(PROOF_BOND, what, missing=missing)
            if missing
            else self.finished(PROOF_BOND, what, self.bond_chain())
        )

    def cone_chain(self) -> Steps:
        """Run the code's formulas of the cone."""
        raise NotImplementedError

    def bond_chain(self) -> Steps:
        """Run the code's formulas of the bond."""
        raise NotImplementedError


class _En(_Pull):
    """EN 1992-4, 7.2.1.4 and 7.2.1.6."""

    standard = en.EN4
    tau = ("approval.tau_Rk", "approval.tau_Rk_uncr")

    def common(self) -> dict[str, Any]:
        """Give what both limits take."""
        chosen, steps = self.chosen, self.steps
        steps.give("f_ck", chosen["f_ck"], "MPa", chosen.origin(self.file, "f_ck"))
        self.length("l_v", self.group.embedment, self.embedment)
        self.length("d", self.group.bar.diameter, self.group.bar.origin)
        h_ef = steps.use(en.counted_depth, "Embedment depth that counts", "proof_depth").value
        return {"f_ck": chosen["f_ck"], "h_ef": h_ef, "dense": self.dense, **self.around()}

    @property
    def k(self) -> float:
        """The factor of cone and group effect."""
        return en.K_CRACKED if self.cracked else en.K_UNCRACKED

    @property
    def dense(self) -> bool:
        """Whether reinforcement near the surface is dense; it is where nobody says otherwise."""
        chosen = self.chosen
        if chosen["dense"] is None and chosen["existing_bar"] is not None and chosen["existing_spacing"] is not None:
            return en.dense_reinforcement(s=chosen["existing_spacing"], phi=find_bar(chosen["existing_bar"]).diameter)
        return chosen["dense"] is not False

    def factor(self, symbol: str) -> None:
        """Give the factor under the symbol of the cone or of the bond."""
        words = f"{en.EN4}: {'cracked' if self.cracked else 'uncracked'} concrete"
        said = self.origin("cracked", f"assumed, for the job file does not say it: {words}")
        self.steps.give(symbol, self.k, "", said if isinstance(said, str) else said.told(f"{words} ({{}})"))

    def cone_chain(self) -> Steps:
        """Run the code's formulas of the cone."""
        common = self.common()
        self.factor("k_1")
        return en.cone_chain(k_1=self.k, **common)

    def bond_chain(self) -> Steps:
        """Run the code's formulas of the bond."""
        common = self.common()
        self.factor("k_3")
        for symbol in ("tau_Rk", "tau_Rk_uncr"):
            self.stress(symbol, f"approval.{symbol}", "MPa")
        self.steps.give("psi_sus", 1.0, "", "no sustained load: a proof load is held for a short time")
        known: dict[str, Any] = {name: self.steps.known[name] for name in ("tau_Rk", "tau_Rk_uncr", "d")}
        return en.pullout_chain(**known, k_3=self.k, psi_sus=1.0, **common)


class _Aci(_Pull):
    """ACI 318-19, 17.6.2 and 17.6.5, in inches and pounds."""

    unit, force = "in", "lbf"
    standard = aci.ACI17

    def __init__(self, job: Job, group: BarGroup, chosen: Chosen, steps: Steps) -> None:
        super().__init__(job, group, chosen, steps)
        self.tau = ("approval.tau_cr", "approval.tau_uncr") if self.cracked else ("approval.tau_uncr",)

    def common(self, part: str, bond: bool) -> dict[str, Any]:
        """Give what both limits take."""
        chosen, steps = self.chosen, self.steps
        self.length("l_v", self.group.embedment, self.embedment)
        self.length("d_a", self.group.bar.diameter, self.group.bar.origin)
        h_ef = steps.use(aci.counted_depth, "Embedment depth that counts", "proof_depth").value
        light = bool(chosen["lightweight"])
        steps.give("lambda_", 0.75 if light else 1.0, "", f"{'lightweight' if light else 'normal-weight'} concrete")
        chain = aci.lightweight_chain(lambda_=steps.known["lambda_"], bond=bond)
        steps.take(chain, part=f"{part}.")
        if not chain.links:
            steps.give("lambda_a", chain.known["lambda_a"], "", chain.last("lambda_a").source)
        c_ac = chosen["approval.c_ac"]
        return {
            "h_ef": h_ef,
            "lambda_a": chain.known["lambda_a"],
            "cracked": self.cracked,
            "supplementary": bool(chosen["supplementary"]),
            "c_ac": None if c_ac is None else tidy(convert(c_ac, "mm", "in")),
            **self.around(),
        }

    def cone_chain(self) -> Steps:
        """Run the code's formulas of breakout."""
        common, chosen = self.common(PROOF_CONE, bond=False), self.chosen
        f_c = tidy(convert(chosen["f_c"], "MPa", "psi"))
        self.steps.give("f_c", f_c, "psi", chosen.origin(self.file, "f_c"))
        k_c = chosen["approval.k_c"] or aci.K_C
        self.steps.give("k_c", k_c, "", self.origin("approval.k_c", f"{aci.ACI17}, 17.6.2.2.1: post-installed"))
        return aci.breakout_chain(k_c=k_c, f_c=f_c, **common)

    def bond_chain(self) -> Steps:
        """Run the code's formulas of the bond."""
        common = self.common(PROOF_BOND, bond=True)
        for symbol, key in (("tau_a", self.tau[0]), ("tau_uncr", "approval.tau_uncr")):
            self.stress(symbol, key, "psi")
        tau, tau_uncr, d_a = (self.steps.known[name] for name in ("tau_a", "tau_uncr", "d_a"))
        return aci.bond_chain(tau=tau, tau_uncr=tau_uncr, d_a=d_a, **common)
