"""One bar group, designed: required embedment, detailing, joint, and what a short hole costs in force."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.base.identity import EMBEDMENT
from calc.base.sheet import Given, Notice, Origin, Sheet
from calc.base.units import convert, same_kind
from calc.files.schedule import BarGroup
from calc.files.strict import tidy
from calc.fill.hole import annular_volume
from calc.strength.codes import ACI, EN04, EN23
from calc.strength.short import bar as shortbar
from calc.strength.short import law as bondlaw
from calc.strength.short import length as bonded
from calc.work.embedment.anchor import AnchorDesign, as_anchor, concrete_alone
from calc.work.embedment.case import DesignCase, Designed
from calc.work.embedment.checks import approval_checks, detailing_of, embedment_check, notices_of
from calc.work.embedment.joint import Joint, joint_of
from calc.work.embedment.laps import lap_checks
from calc.work.embedment.length import cross_section, given_of_short, law_of, length_2004, length_2023, length_aci
from calc.work.embedment.materials import strength_checks
from calc.work.embedment.path import by_reference, path_checks, site_checks
from calc.work.embedment.steps import DesignSteps, rounded_up
from calc.work.tracekeys import REQUIRED_LENGTHS


@dataclass(frozen=True)
class Resistance:
    """Force against bonded length, at many points from the code's least length on; lengths [mm], forces [N].

    Attributes
    ----------
    lengths, forces
        The curve.
    inside
        Which of its points a hole of the schedule can have.
    needed, at_needed
        Bonded length that the design force needs, the code's least length included, and what it carries.
    ring
        Volume that one millimetre of the ring around the bar holds [mm³/mm].
    """

    lengths: NDArray[np.float64]
    forces: NDArray[np.float64]
    inside: NDArray[np.bool_]
    needed: float
    at_needed: float
    ring: float

    @property
    def end(self) -> float:
        """Longest bonded length of the curve."""
        return float(self.lengths[-1])

    @property
    def most(self) -> float:
        """Force at its end."""
        return float(self.forces[-1])


@dataclass(frozen=True)
class GroupDesign(Designed):
    """A designed bar group: geometry, results and sheet; lengths [mm], forces [N], volumes [mm³]."""

    area: float
    force: float
    stress: float
    c_d: float
    required: float
    advised: float
    bonded_full: float
    law: bondlaw.BondLaw
    capacity_full: float
    least_dose: float | None
    least_dose_reason: str
    lost_per_mL: float
    losses: tuple[shortbar.LossRow, ...]
    joint: Joint | None = None
    share_below: float | None = None
    outside: tuple[Notice, ...] = ()
    beside: tuple[AnchorDesign, str] | None = None

    @property
    def force_lost_per_mL(self) -> float:
        """Force that the first missing millilitre takes from the full hole's capacity [N]."""
        return self.capacity_full - self.losses[1].N_R

    @property
    def long_enough(self) -> bool:
        """Whether the embedment of the schedule is the required one, by the check that says so."""
        return self.sheet.checks[0].passes

    def with_missing(self, volume: float) -> shortbar.LossRow:
        """What a missing volume [mm³] costs in length and in force."""
        case = self.case
        (row,) = shortbar.loss_table(
            law=self.law, V_short=[volume], d_0=case.hole_diameter, l_v=case.embedment, N_Ed=self.force
        )
        return row

    @cached_property
    def resistance(self) -> Resistance:
        """Force against bonded length, a little beyond the full hole and what the force needs.

        And on to yield where that is near.
        """
        law, case = self.law, self.case
        needed = max(self._bond_for(self.force), law.least_length)
        end, yields = 1.10 * max(self.bonded_full, needed), self._bond_for(law.yield_force)
        if yields <= 1.25 * end:
            end = max(end, 1.08 * yields)
        lengths = np.linspace(law.least_length, end, 240)
        return Resistance(
            lengths=lengths,
            forces=bondlaw.capacity(law=law, l_b=lengths),
            inside=lengths <= self.bonded_full * (1 + 1e-9),
            needed=needed,
            at_needed=float(bondlaw.capacity(law=law, l_b=needed)),
            ring=float(annular_volume(d_0=case.hole_diameter, phi=case.bar.diameter, l_v=1.0)),
        )

    def _bond_for(self, force: float) -> float:
        known = self.law.reference.known
        return float(self.law.need(N_Ed=force, **{name: known[name] for name in ("l_ref", "A_s", "sigma_ref")}))

    def entry(self) -> dict[str, Any]:
        """Return the group's keys in results.json."""
        case, in_kn, in_ml = self.case, 1e-3, 1e-3
        least = None if self.least_dose is None else self.least_dose * in_ml
        found: dict[str, Any] = {
            "code": case.code,
            "use": case.use,
            "force_path": case.path or None,
            "required_embedment_mm": self.required,
            "advised_embedment_mm": self.advised,
            "design_force_kN": self.force * in_kn,
            "design_stress_MPa": self.stress,
            "capacity_full_kN": self.capacity_full * in_kn,
            "least_dose_mL": least,
            "lost_length_per_mL_mm": self.lost_per_mL,
            "lost_force_first_mL_kN": self.force_lost_per_mL * in_kn,
            "share_below_design_force": self.share_below,
        }
        if self.joint is not None:
            found |= {
                "joint_shear_MPa": self.joint.demand,
                "joint_resistance_MPa": self.joint.resistance,
                "joint_spacing_needed_mm": self.joint.spacing_needed,
            }
        return found


def ring_of(group: BarGroup) -> float:
    """Volume of the ring around the bars of a group, over the embedment of the schedule [mm³]."""
    return float(annular_volume(d_0=group.hole_diameter, phi=group.bar.diameter, l_v=group.embedment))


def _keep(steps: DesignSteps, *, required: float, force: float, capacity: float, lost: float) -> None:
    """Keep what no formula gives: the embedment to draw, the stress, and force with a full hole and a short one."""
    case, known = steps.case, {link.name: link for link in steps.links}
    same = (
        link
        for link in reversed(steps.links)
        if link.name in REQUIRED_LENGTHS
        and same_kind(link.formula.unit, "mm")
        and math.isclose(convert(link.value, link.formula.unit, "mm"), required, rel_tol=1e-9)
    )
    worked = next(same, None)
    length = Given(required, "mm", case.code if worked is None else Origin(step=worked.id))
    step = case.display.drawn_step
    steps.find(
        "numerical",
        "l_adv",
        "Required embedment as a drawing would say it",
        rounded_up(required, case.display),
        "mm",
        how=f"rounded up to the next {case.display.plain(step, 'mm')}",
        inputs={"l_req": length},
    )
    N_Ed, A_s = Given(force, "N", steps.last("N_Ed").origin), steps.last("A_s")
    steps.find(
        "numerical",
        "sigma.all",
        "Design stress of the bar",
        force / case.bar.stress_area,
        "MPa",
        how="design force over the area of the bar",
        inputs={"N_Ed": N_Ed, "A_s": A_s},
    )
    by_law = (known[name] for name in ("N_b", "N_R") if name in known)
    law = {name: given for link in by_law for name, given in link.inputs.items() if name not in ("l_b", "N_b")}
    full = steps.find(
        "numerical",
        "N_R.full",
        "Force that the bar carries in a full hole",
        capacity,
        "N",
        how="force against bonded length by the code, at the bonded length of a full hole; never above yield, and"
        " nothing below the code's least length",
        inputs={"l_v": steps.last("l_v"), **law},
    )
    short = {"N_R": Given(known["N_R"].value, "N", Origin(step=known["N_R"].id))} if "N_R" in known else {}
    steps.find(
        "numerical",
        "N_R.lost",
        "Force that the first missing adhesive takes",
        lost,
        "N",
        how="force with a full hole, less that with as much missing as the step of the missing volume says",
        inputs={"N_full": full, **short},
    )


@lru_cache(maxsize=512)
def design(case: DesignCase) -> GroupDesign:
    """Design one bar group: required embedment, detailing, joint, and strength when short.

    Parameters
    ----------
    case
        Code, bar, hole, forces and what is known of the old concrete.

    Returns
    -------
    GroupDesign

    Raises
    ------
    NotAccepted
        A value outside a formula's validity, in a sentence.
    """
    steps = DesignSteps(case)
    cross_section(steps)
    length, c_d = {EN04: length_2004, EN23: length_2023, ACI: length_aci}[case.code](steps)
    joint, checks = joint_of(steps)
    required = tidy(length)
    law = law_of(steps)
    force, l_v = steps.known["N_Ed"] if case.code != ACI else convert(steps.known["N_Ed"], "lbf", "N"), case.embedment
    phi, d_0 = case.bar.diameter, case.hole_diameter
    least = shortbar.least_dose(law=law, N_Ed=force, V_req=case.required_volume, d_0=d_0, l_v=l_v)
    one = shortbar.short_chain(law=law, V_short=1000.0, d_0=d_0, l_v=l_v)
    given_of_short(steps)
    steps.take(least.chain)
    steps.take(one.chain, say=False)
    full = bonded.bonded_length_left(u=0.0, l_v=l_v, c_e=law.start, delta_l=law.idle, position=law.position)
    ring = math.pi / 4 * (d_0**2 - phi**2) * l_v
    volumes = [0.0, 1000.0, *(share * ring for share in (0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.50))]
    lapped = lap_checks(steps) if case.use == "lap" else ()
    checks = (
        embedment_check(case, required),
        *path_checks(steps, required),
        *checks,
        *lapped,
        *strength_checks(case),
        *approval_checks(case),
    )
    capacity = bondlaw.capacity(law=law, l_b=full)
    losses = shortbar.loss_table(law=law, V_short=volumes, d_0=d_0, l_v=l_v, N_Ed=force)
    _keep(steps, required=required, force=force, capacity=capacity, lost=capacity - losses[1].N_R)
    found, said = detailing_of(steps)
    left = by_reference(case, (*checks, *found, *site_checks(case)))
    beside = as_anchor(case) if not case.path or not left.checks[0].passes else None
    alone = concrete_alone(case, *beside) if beside is not None and not case["compression"] else []
    return GroupDesign(
        case=case,
        sheet=Sheet(
            EMBEDMENT,
            steps.steps,
            left.checks,
            tuple(dict.fromkeys([*alone, *notices_of(case, least), *said, *steps.notices, *left.notices])),
            steps.found,
        ),
        area=case.bar.stress_area,
        force=force,
        stress=force / case.bar.stress_area,
        c_d=c_d,
        required=required,
        advised=rounded_up(required, case.display),
        bonded_full=full,
        law=law,
        capacity_full=capacity,
        least_dose=least.V_least,
        least_dose_reason=least.reason,
        lost_per_mL=one.u,
        losses=losses,
        joint=joint,
        outside=left.outside,
        beside=beside,
    )
