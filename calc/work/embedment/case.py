"""What a design starts from.

All that decides the embedment of one bar group, with the place that each value comes from.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from calc.base.bars import Bar
from calc.base.display import Display
from calc.base.sheet import Given, Origin, Sheet
from calc.files.design import TESTED, Chosen, bond_of, choose
from calc.files.job import Job
from calc.files.schedule import BarGroup
from calc.fill.hole import tip_depth
from calc.strength.codes import ACI, EN04, EN23
from calc.work import dose as doses

GOVERNS = "the national annex governs"
# What the codes recommend where the job file says nothing: value, and where it stands.
DEFAULTS: dict[str, dict[str, tuple[float, str]]] = {
    EN04: {
        "gamma_C": (1.5, f"recommended value of {EN04}, 2.4.2.4; {GOVERNS}"),
        "gamma_S": (1.15, f"recommended value of {EN04}, 2.4.2.4; {GOVERNS}"),
        "alpha_ct": (1.0, f"recommended value of {EN04}, 3.1.6(2); {GOVERNS}"),
        "alpha_cc": (1.0, f"recommended value of {EN04}, 3.1.6(1); {GOVERNS}"),
        "k_t": (0.85, f"recommended value of {EN04}, 3.1.2(4); {GOVERNS}"),
    },
    EN23: {
        "gamma_C": (1.5, f"recommended value of {EN23}, Table 4.3 (from memory); {GOVERNS}"),
        "gamma_S": (1.15, f"recommended value of {EN23}, Table 4.3 (from memory); {GOVERNS}"),
        "k_tc": (1.0, f"recommended value of {EN23}, 5.1.6(1) (from memory); {GOVERNS}"),
    },
    ACI: {
        "phi_t": (0.90, f"{ACI}, Table 21.2.2, tension (from memory)"),
        "phi_v": (0.75, f"{ACI}, Table 21.2.1, shear"),
    },
}


_K_TC_LATER = (0.85, f"recommended value of {EN23}, 5.1.6(1), for a strength tested later (from memory); {GOVERNS}")


@dataclass(frozen=True)
class DesignCase:
    """All that decides the design of one bar group; forces [N, N/m], stresses [MPa], lengths [mm], volumes [mm³]."""

    code: str
    mark: str
    bar: Bar
    hole_diameter: float
    embedment: float
    overdrill: float
    tip: float
    direction: str
    display: Display
    required_volume: float
    rounded_dose: float
    measured: bool
    count: int
    values: tuple[tuple[str, Any], ...]
    origins: tuple[tuple[str, Origin], ...]

    def __getitem__(self, name: str) -> Any:
        """Return a value of the job file by its key; None when it was not given."""
        return dict(self.values).get(name)

    def origin(self, name: str) -> Origin:
        """Where a value comes from."""
        return dict(self.origins).get(name, doses.TYPED)

    @property
    def use(self) -> str:
        """What the bar does: ``anchorage``, ``lap`` or ``joint``."""
        return self["use"]

    @property
    def path(self) -> str:
        """What takes the force in the old concrete; empty where the job file does not say it."""
        return self["force_path"] or ""

    @property
    def anchor(self) -> bool:
        """Whether concrete in tension takes it."""
        return self.path == "concrete"

    @property
    def approval(self) -> str:
        """The approval in words; empty when none is named."""
        number, page = self["approval.number"], self["approval.page"]
        made_up = " (invented)" if self["approval.invented"] else ""
        return f"{number}{made_up}{f', {page}' if page else ''}" if number else ""

    def default(self, name: str) -> Given:
        """Return a factor: the job's own, or what the code recommends, marked as such."""
        key = "phi" if name in ("phi_t", "phi_v") else name
        value = self[key]
        if value is not None:
            return Given(value, "", self.origin(key))
        value, said = self._recommended(name)
        return Given(value, "", said)

    def _recommended(self, name: str) -> tuple[float, str]:
        return _K_TC_LATER if name == "k_tc" and self["strength_from"] in TESTED else DEFAULTS[self.code][name]

    @property
    def tabulated_bond(self) -> tuple[float, float] | None:
        """Class and bond strength [MPa] of the approval's table for this bar; None where k_b serves."""
        return (
            None
            if self["approval.f_bd"] is None
            else bond_of(self["approval.f_bd"], self.bar.designation, self["f_ck"], self["in_situ_by"])
        )

    @property
    def recommended(self) -> tuple[tuple[str, float, str], ...]:
        """What stands in for factors that the job file does not give: name, value, and who recommends it."""
        names = [name for name in DEFAULTS[self.code] if name != "k_t" or self["strength_from"] in TESTED]
        if self.anchor:
            names = [name for name in names if name == "gamma_C"]
        return tuple(
            (name, *self._recommended(name))
            for name in names
            if self["phi" if name.startswith("phi_") else name] is None
        )

    @property
    def defaults_used(self) -> tuple[str, ...]:
        """The same in words."""
        return tuple(f"{name} = {value:g} ({said})" for name, value, said in self.recommended)


@dataclass(frozen=True)
class Designed:
    """What was designed for one bar group, whatever takes its force."""

    case: DesignCase
    sheet: Sheet

    @property
    def passes(self) -> bool:
        """Whether every check passes."""
        return all(check.passes for check in self.sheet.checks)

    @property
    def tip(self) -> float:
        """Depth to the point of the hole's tip [mm]."""
        case = self.case
        return case.embedment + case.overdrill + float(tip_depth(d_0=case.hole_diameter, theta=case.tip))


def case_of(job: Job, group: BarGroup, worked: doses.Worked | None = None) -> DesignCase | None:
    """Gather what decides the design of a bar group of a job.

    Parameters
    ----------
    job
        A validated job.
    group
        One of its bar groups.
    worked
        Its worked dose, when it is at hand already.

    Returns
    -------
    DesignCase or None
        None when the job gives this group no force.
    """
    if job.design is None:
        return None
    chosen = choose(job.design, group.mark)
    if not chosen.designed:
        return None
    worked = worked or doses.work(doses.case_of(job, group))
    return DesignCase(
        code=chosen.code,
        mark=group.mark,
        bar=group.bar,
        hole_diameter=group.hole_diameter,
        embedment=group.embedment,
        overdrill=worked.case.overdrill,
        tip=job.equipment.point_angle,
        direction=group.direction,
        display=job.display,
        required_volume=worked.required,
        rounded_dose=worked.rounded,
        measured=worked.case.measured is not None,
        count=group.count,
        values=tuple(chosen.values.items()),
        origins=_origins(job, group, chosen),
    )


def _origins(job: Job, group: BarGroup, chosen: Chosen) -> tuple[tuple[str, Origin], ...]:
    found = {key: chosen.origin(job.path.name, key) for key in chosen.keys}
    found |= {key: Origin.of_row(job.schedule_path.name, group.row, key) for key in ("hole_diameter", "embedment")}
    found |= {
        "bar": group.bar.origin,
        "overdrill": doses.overdrill_origin(job, group),
        "point_angle": Origin(f"{job.path.name}, equipment.point_angle"),
    }
    return tuple(found.items())
