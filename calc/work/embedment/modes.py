"""The modes of failure of bars that concrete in tension holds, each worked by its code and judged, or owed.

What the job file does not say is owed; where a code has a safe reading for it, that reading is used and said to be
assumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from calc.base.bars import find_bar
from calc.base.collector import Steps
from calc.base.sheet import Check, Given, Notice, Origin
from calc.base.units import convert
from calc.files.strict import tidy
from calc.strength import aci318_19_17 as aci
from calc.strength import en1992_4 as en
from calc.strength.codes import ACI
from calc.strength.statics import (
    eccentric_share_x,
    eccentric_share_y,
    force_of_group,
    sustained_force,
    worst_bar_force,
)
from calc.work.embedment.case import DesignCase
from calc.work.embedment.path import in_force_unit
from calc.work.embedment.steps import DesignSteps, held_against, in_length_unit, owed, owned

MODE_STEEL, CONE, PULLOUT, SPLITTING, SUSTAINED = "steel", "cone", "pullout", "splitting", "sustained"
MODES = (MODE_STEEL, CONE, PULLOUT, SPLITTING, SUSTAINED)
# The modes in the words of the codes: EN 1992-4, ACI 318-19.
MODE_WORDS = {
    MODE_STEEL: ("steel of the most loaded bar", "steel of the most loaded bar"),
    CONE: ("concrete cone", "concrete breakout"),
    PULLOUT: ("pull-out with cone", "bond"),
    SPLITTING: ("splitting of the concrete", "splitting of the concrete"),
    SUSTAINED: ("", "bond under sustained tension"),
}


_APART = (
    "a deeper bar, more distance from the edge or between the bars, or a lap with existing steel in place of the anchor"
)


@dataclass(frozen=True)
class Lay:
    """How the bars that pull together lie; lengths [mm].

    ``edges`` are counted from the outer bars' centres, None is far; ``missing`` names the keys that are not stated.
    """

    edges: tuple[float | None, float | None, float | None, float | None]
    spacings: tuple[float, int, float, int]
    missing: tuple[str, ...] = ()

    @property
    def bars(self) -> int:
        """Number of bars that pull together."""
        return self.spacings[1] * self.spacings[3]

    @property
    def nearest(self) -> float | None:
        """Distance of the nearest edge; None when all are far."""
        return min((c for c in self.edges if c is not None), default=None)

    @property
    def closest(self) -> float | None:
        """Smallest spacing; None for a single bar."""
        s_x, n_x, s_y, n_y = self.spacings
        return min((s for s, n in ((s_x, n_x), (s_y, n_y)) if n > 1), default=None)


def lay_of(case: DesignCase) -> Lay:
    """Read how the bars of a case lie; the job's cover is clear, an anchor's edges count from the bar's centre."""
    far = {"edge": bool(case["edge_far"])} | {name: case[name] == float("inf") for name in ("edge_right", "edge_above")}
    missing = [name for name in far if case[name] is None and not far[name]]
    rows = case["bar_rows"] or 1
    missing += ["bars_in_row"] if case["bars_in_row"] is None else []
    missing += ["row_spacing"] if rows > 1 and case["row_spacing"] is None else []
    left, right, above = (None if far[name] or name in missing else float(case[name]) for name in far)
    below = tidy(case["cover"] + case.bar.diameter / 2)
    columns = case["bars_in_row"] or 1
    apart = (
        float(case["spacing"]) if columns > 1 else 0.0,
        columns,
        float(case["row_spacing"] or 0.0) if rows > 1 else 0.0,
        rows,
    )
    return Lay((left, right, below, above), apart, tuple(missing))


def mode_words(name: str, case: DesignCase) -> str:
    """Name a mode of failure in the words of the case's code."""
    return MODE_WORDS[name][case.code == ACI]


class Modes:
    """What both codes share: the force of the bars that pull together, and how a mode becomes a check."""

    unit, force = "mm", "N"

    def __init__(self, steps: DesignSteps, lay: Lay) -> None:
        self.steps, self.case, self.lay = steps, steps.case, lay
        self.number = [name for name in ("approval.number", "approval.page") if self.case[name] is None]
        self.eccentricity = (float(self.case["eccentricity_x"] or 0.0), float(self.case["eccentricity_y"] or 0.0))
        self.arranged = not lay.missing
        self.readings: list[str] = []
        self.share, self.worst, self.group = 0.0, steps.force, steps.force
        if self.arranged:
            self._forces()
        self._geometry()

    # ---- what goes in ----

    def _forces(self) -> None:
        steps, case = self.steps, self.case
        _, n_x, _, n_y = self.lay.spacings
        steps.give("n_x", float(n_x), "pcs", case.origin("bars_in_row"))
        steps.give("n_y", float(n_y), "pcs", case.origin("bar_rows") if case["bar_rows"] else "not given: one row")
        self.group = self._newton(steps.use(force_of_group, "Design force of the bars that pull together"))
        for axis, formula, size, many, e in (
            ("x", eccentric_share_x, "spacing", n_x, self.eccentricity[0]),
            ("y", eccentric_share_y, "row_spacing", n_y, self.eccentricity[1]),
        ):  # fmt: skip
            key = f"eccentricity_{axis}"
            steps.give(
                f"e_{axis}",
                convert(e, "mm", self.unit),
                self.unit,
                case.origin(key) if case[key] is not None else "not given: the pull is centred",
            )
            if many > 1:
                steps.key(f"s_{axis}", size, self.unit)
            if many > 1 and e > 0:
                words = "along" if axis == "x" else "across"
                steps.use(formula, f"Share that the eccentricity {words} the row adds to the most loaded bar")
            else:
                steps.give(f"k_e{axis}", 0.0, "", "the pull is centred in this direction")
        self.share = steps.known["k_ex"] + steps.known["k_ey"]
        self.worst = self._newton(steps.use(worst_bar_force, "Design force of the most loaded bar"))

    def _newton(self, given: Given) -> float:
        return convert(given.value, given.unit, "N")

    def _geometry(self) -> None:
        left, right, below, above = self.lay.edges
        origins = (
            self.case.origin("edge"),
            self.case.origin("edge_right"),
            self.case.origin("cover").told("{}, and half the bar"),
            self.case.origin("edge_above"),
        )
        for symbol, c, origin in zip(
            ("c_x1", "c_x2", "c_y1", "c_y2"), (left, right, below, above), origins, strict=True
        ):
            if c is not None:
                self.steps.give(symbol, convert(c, "mm", self.unit), self.unit, origin)

    @property
    def arrangement(self) -> dict[str, Any]:
        """Edges and spacings as the formulas take them."""
        s_x, n_x, s_y, n_y = self.lay.spacings
        size = [convert(s, "mm", self.unit) for s in (s_x, s_y)]
        edges = tuple(None if c is None else convert(c, "mm", self.unit) for c in self.lay.edges)
        return {"edges": edges, "spacings": (size[0], n_x, size[1], n_y)}

    @property
    def pull(self) -> dict[str, Any]:
        """The same with the eccentricity."""
        return self.arrangement | {"eccentricity": tuple(convert(e, "mm", self.unit) for e in self.eccentricity)}

    def read(self, key: str, safe: Any, words: str) -> Any:
        """Return a value of the job file, or the code's safe reading for it, which is then said."""
        value = self.case[key]
        if value is None:
            self.readings.append(words)
            return safe
        return value

    def origin(self, key: str, otherwise: str) -> str | Origin:
        """Where a value comes from that may be assumed."""
        return (
            self.case.origin(key)
            if self.case[key] is not None
            else f"assumed, for the job file does not say it: {otherwise}"
        )

    def lacking(self, *keys: str, lay: bool = True) -> list[str]:
        """Keys that a mode needs and that are not given; with a value of the assessment its number and page."""
        missing = list(self.lay.missing) if lay else []
        missing += [key for key in keys if self.case[key] is None]
        return missing + (self.number if any(key.startswith("approval.") for key in keys) else [])

    # ---- what comes out ----

    def title(self, name: str) -> str:
        """Name a mode as a check."""
        many = "" if self.lay.bars == 1 else f", {self.lay.bars} bars"
        alone = name in (MODE_STEEL, SUSTAINED) or not self.arranged
        return f"{mode_words(name, self.case)}{'' if alone else many} ({self.clause(name)})"

    def clause(self, name: str) -> str:
        """Where the code has the mode."""
        raise NotImplementedError

    def owing(self, name: str, missing: Sequence[str]) -> Check:
        """Make a mode's check that lacks inputs."""
        force = self.worst if name in (MODE_STEEL, SUSTAINED) else self.group
        return owed(
            self.case,
            name,
            self.title(name),
            list(dict.fromkeys(missing)),
            demand=in_force_unit(force, self.case),
            unit=self.case.display.force_unit,
        )

    def judged(self, name: str, resistance: float, advice: str, demand: float | None = None) -> Check:
        """Compare forces [N]."""
        force = demand if demand is not None else self.worst if name == MODE_STEEL else self.group
        case = self.case
        return held_against(
            case,
            name,
            self.title(name),
            in_force_unit(force, case),
            in_force_unit(resistance, case),
            case.display.force_unit,
            advice,
        )

    def factored(self, chain: Steps) -> None:
        """Carry a chain on from what the bars resist to what the code lets them count on."""
        raise NotImplementedError

    def finished(self, name: str, chain: Steps, missing: Sequence[str]) -> Check:
        """Take over a mode's steps, and judge it where nothing is missing for the code's factors."""
        if not missing:
            self.factored(chain)
        self.steps.take(chain, part=f"{name}.")
        return (
            self.owing(name, missing) if missing else self.judged(name, convert(chain.value, self.force, "N"), _APART)
        )

    def eccentric(self) -> tuple[Check, ...]:
        """Forces over the bars were taken as linear, which holds while all of them pull."""
        if not self.share:
            return ()
        title = "eccentricity: every bar still pulls"
        return (
            held_against(
                self.case,
                "eccentricity",
                title,
                self.share,
                1.0,
                "",
                "centre the bars on the pull, or count on fewer of them",
            ),
        )

    def assumed(self) -> list[Notice]:
        """Say which safe readings took the place of what the job file leaves out."""
        if not self.readings:
            return []
        return [
            owned(
                self.case,
                "assumed",
                f"assumed, for the job file does not say it: {'; '.join(dict.fromkeys(self.readings))}.",
            )
        ]

    def least(self, name: str, key: str, title: str, there: float | None, advice: str) -> Check | None:
        """Judge a least distance of the product's assessment; None where there is nothing to judge."""
        case = self.case
        if there is None:
            return None
        if missing := self.lacking(key, lay=False):
            return owed(case, name, title, missing)
        return held_against(
            case,
            name,
            title,
            in_length_unit(case[key], case),
            in_length_unit(there, case),
            case.display.length_unit,
            advice,
        )

    def limits(self) -> tuple[Check, ...]:
        """Judge the least distances and the least thickness of the product's assessment."""
        found = [self._edge_limit(), self._spacing_limit()]
        title = "thickness of the member, for the product"
        found.append(
            self.least(
                "h_min", "approval.h_min", title, self.case["member_thickness"], "a shorter anchor, or another product"
            )
        )
        return tuple(check for check in found if check is not None)

    def _edge_limit(self) -> Check | None:
        return self.least(
            "c_min",
            "approval.c_min",
            "bar's centre to the nearest edge, for the product",
            self.lay.nearest,
            "move the bars off the edge",
        )

    def _spacing_limit(self) -> Check | None:
        return self.least(
            "s_min",
            "approval.s_min",
            "centre spacing of the bars, for the product",
            self.lay.closest,
            "space the bars further apart",
        )

    @property
    def depth(self) -> float:
        """Embedment that counts [mm]."""
        return convert(self.steps.known["h_ef"], self.unit, "mm")

    def modes(self) -> list[Check]:
        """Judge every mode of failure, as far as it can be."""
        raise NotImplementedError


class ModesEn(Modes):
    """EN 1992-4, 7.2.1."""

    def __init__(self, steps: DesignSteps, lay: Lay) -> None:
        super().__init__(steps, lay)
        case = self.case
        self.cracked = self.read("cracked", True, "cracked concrete")
        self.k = en.K_CRACKED if self.cracked else en.K_UNCRACKED
        self.dense = self._dense()
        steps.key("f_ck", "f_ck", "MPa", source="MPa")
        steps.give("d", case.bar.diameter, "mm", case.origin("bar"))
        steps.use(en.counted_depth, "Embedment depth that counts")
        said = self.origin("cracked", "cracked concrete")
        for symbol in ("k_1", "k_3"):
            steps.give(
                symbol,
                self.k,
                "",
                (
                    said
                    if isinstance(said, str)
                    else said.told(f"{en.EN4}: {'cracked' if self.cracked else 'uncracked'} concrete ({{}})")
                ),
            )

    def _dense(self) -> bool:
        case = self.case
        if case["dense"] is None and case["existing_bar"] is not None and case["existing_spacing"] is not None:
            return en.dense_reinforcement(s=case["existing_spacing"], phi=find_bar(case["existing_bar"]).diameter)
        return bool(self.read("dense", True, "dense reinforcement"))

    def clause(self, name: str) -> str:
        """Where the code has the mode."""
        return f"{en.EN4}, {({MODE_STEEL: '7.2.1.3', CONE: '7.2.1.4', PULLOUT: '7.2.1.6', SPLITTING: '7.2.1.7'})[name]}"

    def modes(self) -> list[Check]:
        """Judge every mode of failure, as far as it can be."""
        return [self._steel(), *self._concrete()]

    def _steel(self) -> Check:
        case, steps = self.case, self.steps
        if missing := self.lacking("f_uk", lay=any(self.eccentricity)):
            return self.owing(MODE_STEEL, missing)
        steps.key("f_uk", "f_uk", "MPa", source="MPa")
        steps.key("f_yk", "f_yk", "MPa", source="MPa")
        chain = en.steel_chain(A_s=steps.known["A_s"], f_uk=case["f_uk"], f_yk=case["f_yk"])
        steps.take(chain, part="steel.")
        return self.judged(MODE_STEEL, chain.value, "more or larger bars")

    def _concrete(self) -> list[Check]:
        steps, h_ef = self.steps, self.steps.known["h_ef"]
        if not self.arranged:
            cracked = ("approval.tau_Rk", "approval.tau_Rk_uncr", "approval.gamma_inst")
            needs = {
                CONE: ("approval.gamma_inst",),
                PULLOUT: cracked,
                SPLITTING: ("approval.c_cr_sp", "approval.h_min", "approval.gamma_inst"),
            }
            return [self.owing(name, self.lacking(*keys)) for name, keys in needs.items()]
        steps.put("gamma_C", self.case.default("gamma_C"))
        if self.case["approval.gamma_inst"] is not None:
            self._of_approval("gamma_inst", "approval.gamma_inst", "")
        cone = en.cone_chain(k_1=self.k, f_ck=steps.known["f_ck"], h_ef=h_ef, dense=self.dense, **self.pull)
        found = [self.finished(CONE, cone, self.lacking("approval.gamma_inst"))]
        missing = self.lacking("approval.tau_Rk", "approval.tau_Rk_uncr", "approval.gamma_inst")
        pullout = None
        if self.case["approval.tau_Rk"] is None or self.case["approval.tau_Rk_uncr"] is None:
            found.append(self.owing(PULLOUT, missing))
        else:
            pullout = self._pullout(h_ef)
            found.append(self.finished(PULLOUT, pullout, missing))
        return found + self._splitting(h_ef, cone, pullout)

    def _of_approval(self, symbol: str, key: str, unit: str, source: str = "MPa") -> None:
        said = f"assessment {self.case.approval}"
        value = self.case[key] if not unit else convert(self.case[key], source, unit)
        self.steps.give(symbol, value, unit, self.case.origin(key).told("{}: " + said))

    def _pullout(self, h_ef: float) -> Steps:
        steps = self.steps
        for symbol in ("tau_Rk", "tau_Rk_uncr"):
            self._of_approval(symbol, f"approval.{symbol}", "MPa")
        alpha = self.read("alpha_sus", 1.0, "all of the load is sustained")
        psi = self.read("approval.psi_sus0", en.PSI_SUS_0, f"psi_sus0 = {en.PSI_SUS_0:g}")
        steps.give("alpha_sus", alpha, "", self.origin("alpha_sus", "all of the load is sustained"))
        steps.give("psi_sus_0", psi, "", self.origin("approval.psi_sus0", f"{en.EN4}, 7.2.1.6(2)"))
        sustained = en.sustained_chain(alpha_sus=alpha, psi_sus_0=psi)
        steps.take(sustained)
        if not sustained.links:
            steps.put("psi_sus", replace(sustained.last("psi_sus"), unit=""))
        stress = {name: steps.known[name] for name in ("tau_Rk", "tau_Rk_uncr")}
        known: dict[str, Any] = stress | {
            "d": steps.known["d"],
            "f_ck": steps.known["f_ck"],
            "h_ef": h_ef,
            "k_3": self.k,
        }
        return en.pullout_chain(**known, psi_sus=sustained.known["psi_sus"], dense=self.dense, **self.pull)

    def _splitting(self, h_ef: float, cone: Steps, pullout: Steps | None) -> list[Check]:
        steps, case = self.steps, self.case
        missing = self.lacking("approval.c_cr_sp", "approval.h_min")
        if missing:
            return [self.owing(SPLITTING, missing)]
        self._of_approval("c_cr_sp", "approval.c_cr_sp", "mm", "mm")
        self._of_approval("h_min", "approval.h_min", "mm", "mm")
        steps.key("h_con", "member_thickness", "mm")
        size = {"c_cr_sp": case["approval.c_cr_sp"], "h": case["member_thickness"], "h_min": case["approval.h_min"]}
        why = en.splitting_exempt(
            **size, **self.arrangement, cracked=self.cracked, cracks_held=bool(case["cracks_held"])
        )
        if why:
            steps.note("splitting", f"splitting under load need not be verified: {why[0].lower()}{why[1:]}")
            return []
        missing = self.lacking("approval.gamma_inst")
        if case["approval.N_Rk_sp0"] is None and pullout is None:
            return [self.owing(SPLITTING, self.lacking("approval.tau_Rk", "approval.tau_Rk_uncr"))]
        single: dict[str, Any] = {
            "N_Rk_p_0": None if pullout is None else pullout.known["N_Rk_p_0"],
            "N_Rk_c_0": cone.known["N_Rk_c_0"],
        }
        chain = en.splitting_chain(
            **size, h_ef=h_ef, N_Rk_sp_0=case["approval.N_Rk_sp0"], dense=self.dense, **single, **self.pull
        )
        return [self.finished(SPLITTING, chain, missing)]

    def factored(self, chain: Steps) -> None:
        """Go on to the design resistance."""
        en.design(chain, gamma_inst=self.case["approval.gamma_inst"], gamma_C=self.steps.known["gamma_C"])


class ModesAci(Modes):
    """ACI 318-19, 17.6, in inches and pounds."""

    unit, force = "in", "lbf"

    def __init__(self, steps: DesignSteps, lay: Lay) -> None:
        super().__init__(steps, lay)
        case = self.case
        self.cracked = self.read("cracked", True, "cracked concrete")
        self.supplementary = bool(self.read("supplementary", False, "no supplementary reinforcement"))
        steps.key("f_c", "f_c", "psi", source="MPa")
        steps.give("d_a", tidy(convert(case.bar.diameter, "mm", "in")), "in", case.origin("bar"))
        steps.give("l_v", tidy(convert(case.embedment, "mm", "in")), "in", case.origin("embedment"))
        steps.use(aci.counted_depth, "Embedment depth that counts")
        steps.give(
            "lambda_",
            0.75 if case["lightweight"] else 1.0,
            "",
            f"{'lightweight' if case['lightweight'] else 'normal-weight'} concrete",
        )

    def clause(self, name: str) -> str:
        """Where the code has the mode."""
        return (
            f"{aci.ACI17}, {({MODE_STEEL: '17.6.1', CONE: '17.6.2', PULLOUT: '17.6.5', SUSTAINED: '17.5.2.2'})[name]}"
        )

    @property
    def _tau(self) -> tuple[str, ...]:
        return ("approval.tau_cr", "approval.tau_uncr") if self.cracked else ("approval.tau_uncr",)

    def modes(self) -> list[Check]:
        """Judge every mode of failure, as far as it can be."""
        if not self.arranged:
            bond = (*self._tau, "approval.category")
            return [
                self._steel(),
                *(
                    self.owing(name, self.lacking(*keys))
                    for name, keys in ((CONE, ("approval.category",)), (PULLOUT, bond), (SUSTAINED, bond))
                ),
            ]
        return [self._steel(), self._breakout(), *self._bond()]

    def _steel(self) -> Check:
        case, steps = self.case, self.steps
        if missing := self.lacking("f_uta", lay=any(self.eccentricity)):
            return self.owing(MODE_STEEL, missing)
        steps.give("A_se_N", tidy(convert(case.bar.stress_area, "mm²", "in²")), "in²", case.origin("bar"))
        steps.key("f_uta", "f_uta", "psi", source="MPa")
        steps.give("f_ya", tidy(convert(case["f_y"], "MPa", "psi")), "psi", case.origin("f_y"))
        known = {name: steps.known[name] for name in ("A_se_N", "f_uta", "f_ya")}
        chain = aci.steel_chain(**known, ductile=bool(self.read("ductile", False, "brittle steel")))
        steps.take(chain, part="steel.")
        return self.judged(MODE_STEEL, convert(chain.value, "lbf", "N"), "more or larger bars")

    def _lightweight(self, part: str, bond: bool) -> float:
        chain = aci.lightweight_chain(lambda_=self.steps.known["lambda_"], bond=bond)
        self.steps.take(chain, part=f"{part}.")
        if not chain.links:
            self.steps.put("lambda_a", replace(chain.last("lambda_a"), unit=""))
        return chain.known["lambda_a"]

    @property
    def _splitting(self) -> dict[str, Any]:
        """Critical edge distance of uncracked concrete: that of the assessment, or the code's."""
        found = {"cracked": self.cracked, "supplementary": self.supplementary, "c_ac": None}
        if not self.cracked and not self.supplementary:
            c_ac = self.read("approval.c_ac", None, "c_ac = 2 h_ef")
            found["c_ac"] = None if c_ac is None else convert(c_ac, "mm", "in")
        return found

    def _breakout(self) -> Check:
        steps, case = self.steps, self.case
        lambda_a = self._lightweight(CONE, bond=False)
        k_c = case["approval.k_c"] or aci.K_C
        steps.give(
            "k_c",
            k_c,
            "",
            case.origin("approval.k_c") if case["approval.k_c"] else f"{aci.ACI17}, 17.6.2.2.1: post-installed",
        )
        chain = aci.breakout_chain(
            k_c=k_c, f_c=steps.known["f_c"], h_ef=steps.known["h_ef"], lambda_a=lambda_a, **self.pull, **self._splitting
        )
        return self.finished(CONE, chain, self.lacking("approval.category"))

    def _bond(self) -> list[Check]:
        steps, case = self.steps, self.case
        missing = self.lacking(*self._tau, "approval.category")
        if any(case[key] is None for key in self._tau):
            return [self.owing(PULLOUT, missing), self.owing(SUSTAINED, missing)]
        lambda_a = self._lightweight(PULLOUT, bond=True)
        said = f"assessment {case.approval}"
        for symbol, key in (("tau_a", self._tau[0]), ("tau_uncr", "approval.tau_uncr")):
            steps.give(symbol, convert(case[key], "MPa", "psi"), "psi", case.origin(key).told("{}: " + said))
        bond: dict[str, Any] = {
            "tau": steps.known["tau_a"],
            "d_a": steps.known["d_a"],
            "h_ef": steps.known["h_ef"],
            "lambda_a": lambda_a,
        }
        chain = aci.bond_chain(tau_uncr=steps.known["tau_uncr"], **bond, **self.pull, **self._splitting)
        return [self.finished(PULLOUT, chain, missing), *self._sustained(bond, missing)]

    def _sustained(self, bond: dict[str, float], missing: list[str]) -> list[Check]:
        case, steps = self.case, self.steps
        alpha = self.read("alpha_sus", 1.0, "all of the load is sustained")
        if alpha == 0:
            return []
        steps.give("alpha_sus", alpha, "", self.origin("alpha_sus", "all of the load is sustained"))
        pull = self._newton(steps.use(sustained_force, "Sustained part of the most loaded bar's force"))
        if missing:
            return [self.owing(SUSTAINED, missing)]
        chain = aci.sustained_chain(**bond, category=case["approval.category"], supplementary=self.supplementary)
        steps.take(chain, part=f"{SUSTAINED}.")
        return [
            self.judged(
                SUSTAINED, convert(chain.value, "lbf", "N"), "a deeper or a thicker bar, or less sustained load", pull
            )
        ]

    def factored(self, chain: Steps) -> None:
        """Go on to the design strength."""
        aci.design(chain, category=self.case["approval.category"], supplementary=self.supplementary)

    def limits(self) -> tuple[Check, ...]:
        """Judge the least depth of the code as well."""
        case = self.case
        least = convert(self.steps.use(aci.least_depth, "Least embedment depth").value, "in", "mm")
        title = f"embedment of at least four diameters ({aci.ACI17}, 17.3.3)"
        depth = held_against(
            case,
            "depth",
            title,
            in_length_unit(least, case),
            in_length_unit(case.embedment, case),
            case.display.length_unit,
            "drill deeper",
        )
        return (depth, *super().limits())

    def _edge_limit(self) -> Check | None:
        return (
            super()._edge_limit()
            if self.case["approval.c_min"] is not None
            else self._code_limit("c_min", aci.least_edge, "bar's centre to the nearest edge", self.lay.nearest)
        )

    def _spacing_limit(self) -> Check | None:
        return (
            super()._spacing_limit()
            if self.case["approval.s_min"] is not None
            else self._code_limit("s_min", aci.least_spacing, "centre spacing of the bars", self.lay.closest)
        )

    def _code_limit(self, name: str, formula: Any, title: str, there: float | None) -> Check | None:
        """Six diameters where the assessment gives nothing (17.9.2)."""
        if there is None:
            return None
        case = self.case
        least = convert(self.steps.use(formula, f"Least {title}").value, "in", "mm")
        said = f"{title}, six diameters without tests ({aci.ACI17}, 17.9.2; from memory)"
        return held_against(
            case,
            name,
            said,
            in_length_unit(least, case),
            in_length_unit(there, case),
            case.display.length_unit,
            "move the bars apart, or off the edge",
        )
