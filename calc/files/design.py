"""Tables of the job file about strength: code, materials, forces and what is known of the old concrete.

``[design]`` holds values for the whole job; ``[design.group.<mark>]`` replaces them, key by key, for one bar group.
What a rule needs and nobody gave is refused, never assumed; what the codes recommend is used and marked. Units are
converted whatever the code (psi in a job by EN 1992-1-1 is fine), but a quantity that only another code knows is
refused: f_c is not f_ck.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema, field_validator

from calc.base.bars import UnknownBar, find_bar
from calc.base.errors import NotAccepted
from calc.base.sheet import Check, Origin
from calc.base.units import UnitError, convert, parse_quantity
from calc.files.fields import Depth, FilledLine, number, quantity
from calc.files.loadpath import (
    IMPLIED,
    IN_PLACE,
    OTHER_CODES,
    WHY_NOT,
    AnchorApproval,
    Force,
    PathValues,
    Wide,
    WideOrFar,
    agree,
    line_to_add,
)
from calc.files.problems import Problem, unknown_marks
from calc.files.schedule import BarGroup
from calc.files.site import Site
from calc.strength import materials
from calc.strength.codes import ACI, CODES, EN04, EN23

Strength = Annotated[float, quantity("MPa", low=5.0, high=150.0, example="25 MPa")]
# Of the old concrete, whose range is the code's (`RANGES`) and is told once.
OldStrength = Annotated[float, quantity("MPa", low=0.0, high=1e5, open_low=True, example="25 MPa")]
Steel = Annotated[float, quantity("MPa", low=100.0, high=1000.0, example="500 MPa")]
Stress = Annotated[float, quantity("MPa", low=0.0, high=1000.0, open_low=True, example="250 MPa")]
NormalStress = Annotated[float, quantity("MPa", low=-20.0, high=100.0, example="0.5 MPa")]
LineForce = Annotated[float, quantity("N/m", low=1.0, high=1e7, example="120 kN/m")]


BondFactor = Annotated[float, number(0.1, 1.0, why="a post-installed bar never counts on more bond than a cast-in one")]
LengthFactor = Annotated[float, number(1.0, 2.0)]
GammaC = Annotated[float, number(1.0, 2.0)]
GammaS = Annotated[float, number(1.0, 1.5)]
LongTerm = Annotated[float, number(0.5, 1.0)]
Reduction = Annotated[float, number(0.4, 0.9)]
Lapped = Annotated[float, number(0.0, 100.0)]
Later = Annotated[float, number(0.8, 1.0)]
Count = Annotated[int, Field(ge=1, le=1000)]


def _code(value: object) -> object:
    if value not in CODES:
        raise NotAccepted(f"is not a code and edition that is built; accepted: {', '.join(CODES)}")
    return value


def _bar(value: object) -> object:
    if not isinstance(value, str):
        raise NotAccepted(
            'is not a text; accepted: a bar of the tables in quotation marks, such as "16", "#5" or "15M"'
        )
    try:
        find_bar(value)
    except UnknownBar as error:
        raise NotAccepted(str(error).split("' ", 1)[-1]) from None
    return value


_CLASS = re.compile(r"C(\d{2,3})(?:/\d{2,3})?")
_BOND_EXAMPLE = '{ "16" = { "C20/25" = "2.3 MPa", "C30/37" = "3.0 MPa" } }'
BondRow = tuple[tuple[float, float], ...]


def _bond_table(value: object) -> object:
    """Read bond strengths by bar and class, thinnest concrete first.

    A frozen table, so that a case can be kept by it.
    """
    if not isinstance(value, dict) or not value:
        raise NotAccepted(f"is not a table of bond strengths by bar and class; accepted: such as {_BOND_EXAMPLE}")
    return tuple((find_bar(str(_bar(bar))).designation, _bond_row(bar, row)) for bar, row in value.items())


def _bond_row(bar: str, row: object) -> BondRow:
    if not isinstance(row, dict) or not row:
        raise NotAccepted(f"has no bond strengths for bar {bar}; accepted: such as {_BOND_EXAMPLE}")
    found = []
    for name, text in row.items():
        if not (match := _CLASS.fullmatch(name)):
            raise NotAccepted(f'has a class "{name}" for bar {bar}; accepted: such as "C20/25"')
        try:
            bond = parse_quantity(text, "MPa").to("MPa") if isinstance(text, str) else 0.0
        except UnitError as error:
            raise NotAccepted(f"has a bond strength for bar {bar}, {name}, that cannot be read: {error}") from None
        if not 0.1 <= bond <= 10.0:
            raise NotAccepted(
                f'has a bond strength for bar {bar}, {name}, that is no text from 0.1 to 10 MPa; accepted: such as "2.3'
                ' MPa"'
            )
        found.append((float(match[1]), bond))
    return tuple(sorted(found))


BondTable = Annotated[
    tuple[tuple[str, BondRow], ...],
    BeforeValidator(_bond_table),
    WithJsonSchema(
        {"type": "object", "additionalProperties": {"type": "object", "additionalProperties": {"type": "string"}}}
    ),
]
CodeName = Annotated[str, BeforeValidator(_code), WithJsonSchema({"enum": list(CODES)})]
BarName = Annotated[str, BeforeValidator(_bar), WithJsonSchema({"type": "string"})]
OversizeRule = Literal["UFC 3-270-04, resin", "Ohio DOT 510, cement grout", "Ohio DOT 510, resin"]
Surface = Literal[
    "very smooth", "smooth", "rough", "very rough", "indented", "keyed", "roughened", "not roughened", "monolithic"
]


class Approval(AnchorApproval):
    """What the product's approval says; the user's input, never a default."""

    number: FilledLine | None = Field(default=None, description="Number and date of the approval")
    page: FilledLine | None = Field(default=None, description="Page or table that the values stand on")
    k_b: BondFactor | None = Field(
        default=None, description="Bond factor k_b; efficiency for EN 1992-1-1:2004, at most 1"
    )
    k_b_pi: BondFactor | None = Field(
        default=None, description="Bond factor k_b,pi; efficiency for EN 1992-1-1:2023, at most 1"
    )
    alpha_lb: LengthFactor | None = Field(
        default=None, description="Factor on the least length, alpha_lb; 1.5 unless the approval says less"
    )
    f_bd: BondTable | None = Field(
        default=None,
        description="Design bond strengths f_bd; by bar and class, for good bond, in place of k_b (EN 1992-1-1:2004)",
    )
    gap_of_4_phi: bool | None = Field(
        default=None,
        description="Lap grows from a gap of 4 diameters on; true where the approval says so, else from 50 mm at most",
    )
    longest_embedment: Depth | None = Field(default=None, description="Longest embedment that the approval covers")
    invented: bool = Field(
        default=False, description="Invented; true when no such approval exists, and every page then says so"
    )


class Values(PathValues):
    """What decides the embedment of a bar group; forces [N, N/m], stresses [MPa], lengths [mm]."""

    f_ck: OldStrength | None = Field(
        default=None, description="Characteristic cylinder strength of the old concrete (EN)"
    )
    f_c: OldStrength | None = Field(
        default=None, description="Specified compressive strength of the old concrete (ACI)"
    )
    strength_from: Literal["drawings", "cores", "tests", "assumed"] | None = Field(
        default=None, description="How the old concrete's strength is known; drawings, cores, other tests, or assumed"
    )
    strength_is: Literal["in situ", "class"] | None = Field(
        default=None,
        description=(
            "What a strength from cores or tests is; in situ, that of the structure, or the class assessed from it (EN)"
        ),
    )
    in_situ_by: Literal["strength", "gamma_C"] | None = Field(
        default=None,
        description=(
            "What makes up for a strength in situ; strength: f_ck,is over 0.85, or gamma_C: a smaller one (EN), neither"
            " when not given"
        ),
    )
    k_t: Later | None = Field(
        default=None,
        description=(
            "Factor for a strength tested after 28 days, k_t; on alpha_cc and alpha_ct, recommended 0.85 (EN 2004)"
        ),
    )
    f_ck_new: Strength | None = Field(
        default=None, description="Joint: characteristic cylinder strength of the new concrete (EN)"
    )
    f_c_new: Strength | None = Field(
        default=None, description="Joint: specified compressive strength of the new concrete (ACI)"
    )
    f_yk: Steel | None = Field(default=None, description="Characteristic yield strength of the bar (EN)")
    f_y: Steel | None = Field(default=None, description="Specified yield strength of the bar (ACI)")
    gamma_C: GammaC | None = Field(default=None, description="Partial factor for concrete (EN); recommended 1.5")
    gamma_S: GammaS | None = Field(default=None, description="Partial factor for steel (EN); recommended 1.15")
    alpha_ct: LongTerm | None = Field(
        default=None, description="Long-term factor on the tensile strength (EN 2004); recommended 1.0"
    )
    alpha_cc: LongTerm | None = Field(
        default=None, description="Long-term factor on the compressive strength (EN); recommended 1.0"
    )
    k_tc: LongTerm | None = Field(
        default=None,
        description=(
            "Long-term factor on the compressive strength (EN 2023); recommended 1.0, or 0.85 with cores or tests"
        ),
    )
    lightweight: bool | None = Field(
        default=None, description="Lightweight concrete (ACI); true or false, normal-weight when not given"
    )
    phi: Reduction | None = Field(
        default=None, description="Strength reduction factor (ACI); 0.90 tension, 0.75 shear when not given"
    )
    use: Literal["anchorage", "lap", "joint"] | None = Field(
        default=None, description="What the bar does; anchorage, lap, or shear across a joint"
    )
    force: Force | None = Field(default=None, description="Design force of one bar, such as 30 kN")
    force_characteristic: Force | None = Field(
        default=None, description="Characteristic action on one bar, for proof loads, such as 20 kN"
    )
    proof_test: Literal["confined", "unconfined"] | None = Field(
        default=None,
        description=(
            "Proof test; confined: its frame stands close around the bar and loads the bond alone, unconfined: it"
            " stands apart, so that a cone of concrete may break out"
        ),
    )
    force_per_length: LineForce | None = Field(
        default=None, description="Design force per length of joint, such as 120 kN/m"
    )
    compression: bool | None = Field(
        default=None, description="The bar is in compression; true or false, tension when not given"
    )
    bond: Literal["good", "poor"] | None = Field(
        default=None, description="Bond condition where the bar lies; must be stated"
    )
    excess_reduction: bool | None = Field(
        default=None,
        description="The force may shorten the length (ACI 25.4.10); true or false, full yield when not given",
    )
    cover: Depth | None = Field(default=None, description="Clear concrete from the bar to the nearest face beside it")
    spacing: Wide | None = Field(default=None, description="Spacing of the bars, centre to centre")
    edge: WideOrFar | None = Field(
        default=None, description='Bar\'s centre to the edge in the other direction; for an anchor also "far"'
    )
    member_thickness: Wide | None = Field(default=None, description="Thickness of the old member along the hole")
    remainder: Depth | None = Field(default=None, description="Concrete that must stay behind the hole")
    drilling: Literal["rotary", "diamond", "air"] | None = Field(
        default=None, description="Way of drilling; rotary hammer, diamond core or compressed air"
    )
    drilling_aid: bool | None = Field(default=None, description="A guide keeps the drill in line; true or false")
    oversize_rule: OversizeRule | None = Field(
        default=None, description="Specification whose limit on the hole's oversize is to be checked"
    )
    coating: Literal["none", "epoxy", "zinc"] | None = Field(
        default=None, description="Coating of the bar; none when not given"
    )
    bar_surface: Literal["ribbed", "plain"] | None = Field(
        default=None, description="Surface of the bar; ribbed, and plain bars are refused"
    )
    existing_bar: BarName | None = Field(default=None, description="Bar in the old concrete; such as 16 or #5")
    existing_cover: Depth | None = Field(default=None, description="Cover of the bars in the old concrete")
    existing_spacing: Wide | None = Field(
        default=None, description="Spacing of the bars in the old concrete, centre to centre"
    )
    existing_f_yk: Steel | None = Field(
        default=None, description="Lap: characteristic yield strength of the bars in the old concrete (EN)"
    )
    existing_f_y: Steel | None = Field(
        default=None, description="Lap: specified yield strength of the bars in the old concrete (ACI)"
    )
    lap_arrangement: Literal["same layer", "behind"] | None = Field(
        default=None,
        description="Lap: how the bars lie; the new one beside the existing one in the same layer, or behind it",
    )
    transverse_bar: BarName | None = Field(
        default=None, description="Lap: transverse bars; between the lapped bars and the face"
    )
    transverse_count: Count | None = Field(
        default=None, description="Lap: number of transverse bars; in its two outer thirds together"
    )
    transverse_links: bool | None = Field(
        default=None, description="Lap: the transverse bars are links or U bars; true or false, anchored in the section"
    )
    least_dimension: Wide | None = Field(
        default=None, description="Lap: least dimension of the section; asked of bars above 32 mm"
    )
    void_position: Literal["mouth", "back"] | None = Field(
        default=None,
        description="Lap: where a short hole lacks adhesive; the back, which is the worse place, when not given",
    )
    percent_lapped: Lapped | None = Field(default=None, description="Lap: share of the bars lapped at one place [%]")
    end_cover: Depth | None = Field(default=None, description="Lap: cover at the end of the existing bar")
    gap: Depth | None = Field(default=None, description="Lap: clear distance between the two lapped bars")
    surface: Surface | None = Field(
        default=None, description="Surface of the old concrete in the joint; in the code's words"
    )
    joint_width: Wide | None = Field(default=None, description="Width of the joint across the shear")
    bar_rows: Annotated[int, Field(ge=1, le=100)] | None = Field(
        default=None, description="Rows of bars; over the width of a joint, or that pull together; 1 when not given"
    )
    normal_stress: NormalStress | None = Field(
        default=None, description="Joint: least normal stress with the shear; compression positive, 0 when not given"
    )
    bar_stress: Stress | None = Field(
        default=None, description="Bar stress that the joint counts on; the yield strength when not given (EN)"
    )

    @field_validator("bar_surface")
    @classmethod
    def _ribs_only(cls, value: str | None) -> str | None:
        if value == "plain":
            raise NotAccepted(
                'is a plain (smooth) bar, for which none of the rules built here holds; accepted: "ribbed"'
            )
        return value


class GroupValues(Values):
    """Keys of one bar group, in place of the job's."""

    approval: Approval | None = Field(default=None, description="Approval; values of this group, in place of the job's")


class Design(Values):
    """Code, materials and forces."""

    code: CodeName = Field(description=f"Code and edition; {', '.join(CODES)}")
    approval: Approval | None = Field(default=None, description="Approval; what the product's approval says")
    group: dict[str, GroupValues] = Field(
        default_factory=dict, description="Keys of one bar group, in place of the job's, by its mark"
    )


# Where a group gives one of these, the job's other one no longer counts.
_EITHER = (("force", "force_per_length"),)
_UNITS_OF_CODE = {
    "f_c": (EN04, EN23),
    "f_y": (EN04, EN23),
    "phi": (EN04, EN23),
    "excess_reduction": (EN04, EN23),
    "f_ck": (ACI,),
    "f_yk": (ACI,),
    "gamma_C": (ACI,),
    "gamma_S": (ACI,),
    "alpha_ct": (ACI, EN23),
    "alpha_cc": (ACI, EN23),
    "bar_stress": (ACI,),
    "k_tc": (ACI, EN04),
    "lightweight": (EN04, EN23),
    "strength_is": (ACI,),
    "in_situ_by": (ACI,),
    "k_t": (ACI, EN23),
    "f_ck_new": (ACI,),
    "f_c_new": (EN04, EN23),
    "existing_f_yk": (ACI,),
    "existing_f_y": (EN04, EN23),
    "lap_arrangement": (ACI,),
    "transverse_bar": (ACI,),
    "transverse_count": (ACI,),
    "transverse_links": (ACI,),
    "least_dimension": (ACI,),
    "approval.f_bd": (ACI, EN23),
    "approval.gap_of_4_phi": (ACI,),
    **OTHER_CODES,
}
_IN_PLACE = {
    "f_c": "f_ck, the characteristic cylinder strength",
    "f_ck": "f_c, the specified compressive strength",
    "f_y": "f_yk",
    "f_yk": "f_y",
    "phi": "gamma_C and gamma_S",
    "f_ck_new": "f_c_new",
    "f_c_new": "f_ck_new",
    "existing_f_yk": "existing_f_y",
    "existing_f_y": "existing_f_yk",
    "gamma_C": "phi",
    "gamma_S": "phi",
    **IN_PLACE,
}
_WHY_NOT = {
    "excess_reduction": "the force decides the length there anyway",
    "alpha_ct": "no formula of this code uses it",
    "alpha_cc": "no formula of this code uses it",
    "k_tc": "no formula of this code uses it",
    "lightweight": "its rules for lightweight concrete are not built here",
    "strength_is": "its strength is the specified one, or what stands for it",
    "in_situ_by": "its strength is the specified one, or what stands for it",
    "k_t": "no formula of this code uses it",
    "lap_arrangement": "no rule for laps built here asks for it",
    "transverse_bar": "no rule for laps built here asks for it",
    "transverse_count": "no rule for laps built here asks for it",
    "transverse_links": "no rule for laps built here asks for it",
    "least_dimension": "no rule for laps built here asks for it",
    "approval.f_bd": "its bond is not tabulated as f_bd",
    "approval.gap_of_4_phi": "its laps do not grow with the gap",
    "bar_stress": "the bars of a joint must be developed for f_y (22.9.5.1; from memory)",
    **WHY_NOT,
}
# Classes of the code [MPa]; for ACI the least specified strength of Table 19.2.1.1 (from memory) and the end of the
# formulas.
# ACI 318-19, 25.5.1.1, from memory: no bar larger than No. 11 (35.8 mm) is lapped in tension, of whatever standard it
# is.
_LARGEST_LAPPED = 36.0
RANGES = {EN04: (12.0, 90.0), EN23: (12.0, 100.0), ACI: (convert(2500.0, "psi", "MPa"), convert(20000.0, "psi", "MPa"))}
STEELS = {
    EN04: (400.0, 600.0),
    EN23: (400.0, 700.0),
    ACI: (convert(40000.0, "psi", "MPa"), convert(100000.0, "psi", "MPa")),
}
SURFACES: dict[str, tuple[str, ...]] = {
    EN04: ("very smooth", "smooth", "rough", "indented"),
    EN23: ("very smooth", "smooth", "rough", "very rough", "keyed"),
    ACI: ("monolithic", "roughened", "not roughened"),
}
# How a strength is known that was found in the structure, mostly long after 28 days.
TESTED = ("cores", "tests")
# Lapped pairs, and bars, nearer than this [mm] are taken to touch.
TOUCHING = 2.0
_ALWAYS = ("use", "strength_from", "bond", "cover", "spacing", "drilling", "drilling_aid", "member_thickness")
_OF_USE = {
    "anchorage": (),
    "lap": ("percent_lapped", "end_cover", "gap", "existing_bar"),
    "joint": ("surface", "joint_width"),
}


# The same strength under its name in the EN codes and in ACI's.
EN_AND_ACI = (("f_ck", "f_c"), ("f_yk", "f_y"), ("f_ck_new", "f_c_new"), ("existing_f_yk", "existing_f_y"))


def unknown_to(code: str) -> tuple[str, ...]:
    """Return the keys that do not go together with a code."""
    return tuple(name for name, codes in _UNITS_OF_CODE.items() if code in codes)


@dataclass(frozen=True)
class Chosen:
    """The values that hold for one bar group, and the key of the job file that each comes from.

    ``own`` names those of its own table.
    """

    code: str
    mark: str
    values: Mapping[str, Any]
    keys: Mapping[str, str]
    own: frozenset[str] = frozenset()

    def __getitem__(self, name: str) -> Any:
        """Return a value; None when it was not given."""
        return self.values.get(name)

    def key(self, name: str) -> str:
        """Return the dotted key that gave a value, or the one that would."""
        return self.keys.get(name) or (
            f"design.approval.{name[9:]}" if name.startswith("approval.") else f"design.{name}"
        )

    def origin(self, file: str, name: str) -> Origin:
        """Return where a value comes from, in the words of the file and the key."""
        general = f"{file}, design.group.(mark).{name}" if name in self.own else ""
        return Origin(f"{file}, {self.key(name)}", general=general)

    @property
    def designed(self) -> bool:
        """Whether a force is given, so that there is something to design for."""
        return self["force"] is not None or self["force_per_length"] is not None

    @property
    def anchor(self) -> bool:
        """Whether concrete in tension takes the force."""
        return bool(self["force_path"] == "concrete")

    @property
    def f_concrete(self) -> str:
        """Name of the concrete strength in this code."""
        return "f_c" if self.code == ACI else "f_ck"

    @property
    def f_steel(self) -> str:
        """Name of the yield strength in this code."""
        return "f_y" if self.code == ACI else "f_yk"


def bond_of(
    table: Iterable[tuple[str, BondRow]], bar: str, f_ck: float, in_situ_by: str | None
) -> tuple[float, float] | None:
    """Return class and bond strength [MPa] of an approval's table for a bar.

    The highest class that the concrete reaches.

    Parameters
    ----------
    table
        The approval's table.
    bar
        Designation of the bar.
    f_ck
        Characteristic strength as it is stated [MPa].
    in_situ_by
        What makes up for a strength in situ; ``"strength"`` raises it.

    Returns
    -------
    tuple or None
        None where the table does not list the bar, or begins with a higher class: it is not extended.
    """
    raised = materials.strength_from_in_situ.function(f_ck_is=f_ck) if in_situ_by == "strength" else f_ck
    most = min(raised, materials.MOST_ASSESSED) * (1 + 1e-9)
    reached = [row for row in dict(table).get(bar, ()) if row[0] <= most]
    return reached[-1] if reached else None


def choose(design: Design, mark: str) -> Chosen:
    """Return the values that hold for a bar group: its own, and the job's where it has none.

    Parameters
    ----------
    design
        The job file's tables.
    mark
        Mark of the bar group.

    Returns
    -------
    Chosen
        Forces [N, N/m], stresses [MPa], lengths [mm]; approval values under ``approval.<name>``.
    """
    values: dict[str, Any] = {}
    keys: dict[str, str] = {}
    own = design.group.get(mark)
    from_own: set[str] = set()
    for table, prefix in ((design, "design"), (own, f"design.group.{mark}")):
        if table is None:
            continue
        given = [name for name in Values.model_fields if getattr(table, name) is not None]
        for pair in _EITHER:
            if any(name in given for name in pair):
                for name in pair:
                    values.pop(name, None)
        _restate(values, {name: getattr(table, name) for name in ("use", "force_path") if name in given})
        for name in given:
            values[name], keys[name] = getattr(table, name), f"{prefix}.{name}"
            from_own |= {name} if table is own else set()
        approval = table.approval or Approval()
        for name in sorted(approval.model_fields_set):
            values[f"approval.{name}"], keys[f"approval.{name}"] = getattr(approval, name), f"{prefix}.approval.{name}"
            from_own |= {f"approval.{name}"} if table is own else set()
    for name, other in (("force_path", "use"), ("use", "force_path")):
        if name not in values and (implied := _implied(name, values.get(other))):
            values[name], keys[name] = implied, keys[other]
    if values.get("edge") == math.inf:
        # Distances are numbers everywhere; that an edge was said to be far is kept beside them.
        del values["edge"]
        values["edge_far"], keys["edge_far"] = True, keys["edge"]
    return Chosen(design.code, mark, values, keys, frozenset(from_own))


def _restate(values: dict[str, Any], given: Mapping[str, Any]) -> None:
    """Take away what the job says of all bars where a group's own table says what does not go with it."""
    if not agree(*(given.get(name, values.get(name)) for name in ("use", "force_path"))):
        for name in ("use", "force_path"):
            if name not in given:
                values.pop(name, None)


def _implied(name: str, other: str | None) -> str | None:
    """What a bar does follows from its load path.

    The load path follows from a lap and a joint, and from nothing else.
    """
    if other is None or other in IMPLIED:
        return other
    return "anchorage" if name == "use" else None


def design_problems(design: Design, groups: Iterable[BarGroup], origins: Mapping[str, str], file: str) -> list[Problem]:
    """List what does not go together in the tables of strength.

    Parameters
    ----------
    design
        The job file's tables, each key read by itself.
    groups
        The bar schedule.
    origins
        What was typed, by dotted key.
    file
        Name of the job file.

    Returns
    -------
    list of Problem
        One sentence each, without repetition.
    """
    by_mark = {group.mark: group for group in groups}
    found = unknown_marks(file, "design.group", design.group, by_mark)
    wanted: dict[tuple[str, str, str], list[str]] = {}
    for group in by_mark.values():
        look = _Look(choose(design, group.mark), group, origins, file)
        look.all()
        found += look.problems
        for name, why in look.missing:
            wanted.setdefault((look.chosen.key(name), name, why), []).append(group.mark)
    return [*(_missing(*what, marks, file) for what, marks in wanted.items()), *dict.fromkeys(found)]


def _missing(key: str, name: str, why: str, marks: Sequence[str], file: str) -> Problem:
    """Say once that a key is missing, for all bar groups that need it."""
    own = ".approval" if name.startswith("approval.") else ""
    many = "bar group" if len(marks) == 1 else "bar groups"
    need = "needs" if len(marks) == 1 else "need"
    listed = ", ".join(marks[:8]) + (f" and {len(marks) - 8} more" if len(marks) > 8 else "")
    return Problem(
        file,
        f"key {key}",
        "",
        f"the key is missing, and {many} {listed} {need} it: {why}; add it to its table (or"
        f" [design.group.{marks[0]}{own}])",
    )


class _Look:
    """Looks at one group's values and collects what is wrong."""

    def __init__(self, chosen: Chosen, group: BarGroup, origins: Mapping[str, str], file: str) -> None:
        self.chosen, self.group, self.bar, self.origins, self.file = chosen, group, group.bar, origins, file
        self.problems: list[Problem] = []
        self.missing: list[tuple[str, str]] = []

    def say(self, name: str, message: str) -> None:
        key = self.chosen.key(name)
        self.problems.append(Problem(self.file, f"key {key}", self.origins.get(key, ""), message))

    def needs(self, name: str, why: str) -> bool:
        if self.chosen[name] is None:
            self.missing.append((name, why))
            return False
        return True

    def need_all(self, names: tuple[str, ...]) -> bool:
        """Ask for several keys, so that all that are missing are told at once."""
        found = [self.needs(name, Values.model_fields[name].description or "") for name in names]
        return all(found)

    def all(self) -> None:
        self.code()
        chosen = self.chosen
        if not chosen.designed:
            return
        if not agree(chosen["use"], chosen["force_path"]):
            message = f'does not go together with use = "{chosen["use"]}"'
            self.say(
                "force_path",
                f'{message}; accepted: the same word in both for a lap and a joint, use = "anchorage" with every other'
                " load path",
            )
            return
        complete = self.need_all(tuple(name for name in _ALWAYS if name != "bond" or not chosen.anchor))
        complete &= self.needs(chosen.f_concrete, "strength of the old concrete") & self.needs(
            chosen.f_steel, "yield strength of the bar"
        )
        complete &= self.need_all(_OF_USE.get(chosen["use"] or "anchorage", ()))
        self.concrete()
        if not chosen.anchor:
            self.approval()
        self.geometry()
        if complete:
            self.use()
        if complete and not chosen.anchor:
            self.stress()

    def concrete(self) -> None:
        """Refuse what does not go together about a strength that was tested."""
        chosen = self.chosen
        tested = chosen["strength_from"] in TESTED
        for name in ("strength_is", "in_situ_by", "k_t"):
            if chosen[name] is not None and not tested:
                self.say(
                    name,
                    f"is about a strength from cores or tests; accepted with strength_from = {chosen['strength_from']}:"
                    " leave it out",
                )
        if chosen["in_situ_by"] is None:
            return
        if chosen["strength_is"] == "class":
            self.say(
                "in_situ_by",
                "is for a strength in situ; a class that was assessed from it has the step behind it; accepted: leave"
                " it out",
            )
        if chosen["in_situ_by"] == "gamma_C" and chosen.code == EN23:
            self.say("in_situ_by", f'is a rule of {EN04}, A.2.3, for gamma_C; accepted with {EN23}: "strength"')
        gamma_C = chosen["gamma_C"]
        if gamma_C is not None and gamma_C < 1.5:
            message = (
                "is reduced already: a strength in situ is made up for once, by the strength or by gamma_C, never by"
                " both"
            )
            self.say("gamma_C", f"{message}; accepted with in_situ_by: 1.5 or more, or leave it out")
        f_ck, most = chosen["f_ck"], RANGES[chosen.code][1]
        if (
            chosen["in_situ_by"] == "strength"
            and f_ck is not None
            and materials.strength_from_in_situ.function(f_ck_is=f_ck) > most
        ):
            self.say(
                "f_ck",
                f"counts, as a strength in situ, for more than {chosen.code} covers; accepted: what gives up to"
                f" {most:g} MPa",
            )

    def code(self) -> None:
        """Refuse what only another code knows, and values outside the code's range."""
        chosen, code = self.chosen, self.chosen.code
        for name, codes in _UNITS_OF_CODE.items():
            if code in codes and chosen[name] is not None:
                instead = (
                    f"; accepted in its place: {_IN_PLACE[name]}"
                    if name in _IN_PLACE
                    else f": {_WHY_NOT[name]}; accepted: leave it out"
                )
                self.say(name, f"does not go together with code {code}{instead}")
        for name, ranges in ((chosen.f_concrete, RANGES), (chosen.f_steel, STEELS)):
            low, high = ranges[code]
            value = chosen[name]
            if value is not None and not low * (1 - 1e-9) <= value <= high * (1 + 1e-9):
                what = "concrete strength" if ranges is RANGES else "yield strength"
                self.say(name, f"is a {what} outside what {code} covers; accepted: from {_span(low, high, code)}")
        if code != ACI and chosen["coating"] in ("epoxy", "zinc"):
            self.say(
                "coating",
                f"is outside this calculation: the bond rules of {code} used here are for uncoated ribbed bars;"
                ' accepted: "none"',
            )

    def approval(self) -> None:
        chosen = self.chosen
        if chosen.code == ACI:
            return
        factor, other = ("k_b", "k_b_pi") if chosen.code == EN04 else ("k_b_pi", "k_b")
        if chosen[f"approval.{factor}"] is None and chosen[f"approval.{other}"] is not None:
            message = (
                f"belongs to the other edition; {chosen.code} needs {factor} of an approval to this edition, and"
                " neither is worked out from the other"
            )
            self.say(f"approval.{other}", message)
            names: tuple[str, ...] = ("number", "page", "alpha_lb")
        elif chosen.code == EN04 and chosen["approval.f_bd"] is not None and chosen["approval.k_b"] is None:
            names = ("number", "page", "alpha_lb")
            self.bond_table()
        else:
            names = ("number", "page", factor, "alpha_lb")
        for name in names:
            self.needs(f"approval.{name}", "a value of the product's approval is never assumed")

    def bond_table(self) -> None:
        """Refuse a table that says nothing for this bar or this concrete: it is not extended."""
        chosen = self.chosen
        table, f_ck = chosen["approval.f_bd"], chosen["f_ck"]
        if f_ck is not None and bond_of(table, self.bar.designation, f_ck, chosen["in_situ_by"]) is None:
            listed = "; ".join(f"{bar} from C{row[0][0]:g}" for bar, row in table)
            what = f"bar {self.bar.designation} in concrete of {f_ck:.4g} MPa"
            self.say(
                "approval.f_bd",
                f"has no value for {what} (it has: {listed}); accepted: a row for it, or k_b for the bars that it does"
                " not list",
            )

    def geometry(self) -> None:
        """Refuse what cannot be built."""
        chosen, d_0, phi = self.chosen, self.group.hole_diameter, self.bar.diameter
        spacing, cover, edge = chosen["spacing"], chosen["cover"], chosen["edge"]
        if spacing is not None and spacing <= d_0:
            self.say(
                "spacing",
                f"is impossible: holes of {d_0:.5g} mm would run into each other (bar group {self.group.mark});"
                " accepted: more than that",
            )
        if cover is not None and cover <= (d_0 - phi) / 2:
            least = f"{(d_0 - phi) / 2:.5g} mm"
            self.say(
                "cover",
                f"is impossible: the hole of bar group {self.group.mark} would break out of the face; accepted: more"
                f" than {least}",
            )
        if edge is not None and edge <= d_0 / 2:
            self.say(
                "edge",
                f"is impossible: the hole of bar group {self.group.mark} would break out of the edge; accepted: more"
                f" than {d_0 / 2:.5g} mm",
            )
        if chosen["existing_bar"] is not None and chosen["existing_spacing"] is not None:
            existing = find_bar(chosen["existing_bar"]).diameter
            if chosen["existing_spacing"] <= existing:
                self.say(
                    "existing_spacing",
                    f"is impossible: bars of {existing:.5g} mm would overlap; accepted: more than that",
                )
        self.pairs()
        thickness = chosen["member_thickness"]
        if thickness is not None and chosen["remainder"] is not None and chosen["remainder"] >= thickness:
            self.say(
                "remainder", "is not less than member_thickness, so that no hole is left; accepted: less than that"
            )

    def pairs(self) -> None:
        """Refuse lapped bars that would lie in one another."""
        chosen, spacing = self.chosen, self.chosen["spacing"]
        if chosen["use"] != "lap" or chosen["existing_bar"] is None or spacing is None:
            return
        existing = find_bar(chosen["existing_bar"]).diameter
        if spacing <= existing + TOUCHING:
            self.say(
                "spacing",
                f"is impossible: the existing bars of {existing:.5g} mm would touch; accepted: more than"
                f" {existing + TOUCHING:.5g} mm",
            )
        elif chosen["lap_arrangement"] == "same layer" and chosen["gap"] is not None:
            pair = self.bar.diameter + existing + chosen["gap"] + TOUCHING
            if spacing <= pair:
                room = (
                    f"two bars of {self.bar.diameter:.5g} and {existing:.5g} mm with their gap take"
                    f" {pair - TOUCHING:.5g} mm"
                )
                self.say(
                    "lap_arrangement",
                    f'is impossible at a spacing of {spacing:.5g} mm: {room}; accepted: "behind", or a wider spacing',
                )

    def use(self) -> None:
        chosen, code, use = self.chosen, self.chosen.code, self.chosen["use"]
        if chosen["force"] is not None and chosen["force_per_length"] is not None:
            self.say("force", "is given beside force_per_length; accepted: exactly one of them")
        if use == "joint" and chosen["force_per_length"] is None:
            self.say(
                "force",
                "is a force per bar, but a joint is designed for a shear per metre; accepted: force_per_length, such as"
                " 120 kN/m",
            )
        if chosen["compression"]:
            if code != EN04:
                self.say("compression", f"bars in compression are built for {EN04} only; accepted with {code}: false")
            elif use != "anchorage":
                self.say("compression", f"a {use} is designed for bars in tension; accepted: false")
        if chosen["compression"] and chosen.anchor:
            self.say("compression", 'goes with force_path = "compression"; an anchor is pulled; accepted: false')
        for name, number_of in (("eccentricity_x", chosen["bars_in_row"]), ("eccentricity_y", chosen["bar_rows"] or 1)):
            if chosen.anchor and chosen[name] and number_of == 1:
                self.say(
                    name,
                    "is impossible with one bar in that direction: nothing balances the moment; accepted: 0 mm, or"
                    " leave it out",
                )
        if use == "joint" and chosen["surface"] not in SURFACES[code]:
            self.say("surface", f"is not a surface that {code} knows; accepted: {', '.join(SURFACES[code])}")
        if (
            use == "joint"
            and chosen["joint_width"] is not None
            and chosen["joint_width"] / (chosen["bar_rows"] or 1) <= self.group.hole_diameter
        ):
            self.say(
                "joint_width",
                f"is impossible: {chosen['bar_rows'] or 1} rows of holes do not fit into it; accepted: a wider joint or"
                " fewer bar_rows",
            )
        if use != "anchorage" and chosen["excess_reduction"]:
            self.say(
                "excess_reduction",
                f"a {use} needs the bar's full yield strength (25.4.10.2; from memory); accepted with use = {use}:"
                " false",
            )
        if use == "joint" and chosen["lightweight"]:
            self.say(
                "lightweight",
                "the limits of shear friction built here are for normal-weight concrete; accepted with use = joint:"
                " false",
            )
        if use == "lap" and code == ACI and self.bar.diameter > _LARGEST_LAPPED:
            self.say(
                "use",
                f"bars {self.bar.designation} may not be lapped in tension (ACI 318-19, 25.5.1.1; from memory);"
                " accepted: anchorage",
            )

    def stress(self) -> None:
        """Refuse a stress above yield: no length anchors it."""
        chosen = self.chosen
        yield_strength = chosen[chosen.f_steel]
        if chosen.code == ACI:
            limit, words = (chosen["phi"] or 0.9) * yield_strength, "phi times f_y"
        else:
            limit, words = yield_strength / (chosen["gamma_S"] or 1.15), "f_yk over gamma_S"
        if chosen["use"] == "joint":
            if chosen["bar_stress"] is not None and chosen["bar_stress"] > limit * (1 + 1e-9):
                self.say(
                    "bar_stress", f"is above the design yield strength ({words}: {limit:.4g} MPa); accepted: up to that"
                )
            return
        name = "force" if chosen["force"] is not None else "force_per_length"
        force = (
            chosen["force"] if chosen["force"] is not None else chosen["force_per_length"] * chosen["spacing"] / 1000
        )
        stress = force / self.bar.stress_area
        if stress > limit * (1 + 1e-9):
            most = f"{limit * self.bar.stress_area / 1000:.4g} kN for each bar {self.bar.designation}"
            self.say(
                name,
                f"puts {stress:.4g} MPa into bar group {self.group.mark}, stress above yield ({words}: {limit:.4g}"
                f" MPa); accepted: up to {most}",
            )


def concrete_span(code: str) -> str:
    """Say which strengths of concrete a code covers."""
    return _span(*RANGES[code], code)


def _span(low: float, high: float, code: str) -> str:
    if code == ACI:
        return f"{convert(low, 'MPa', 'psi'):.6g} to {convert(high, 'MPa', 'psi'):.6g} psi"
    return f"{low:g} to {high:g} MPa"


def lines_to_add(checks: Iterable[Check]) -> list[str]:
    """Write what a job file lacks for the checks that are owed, as lines of TOML.

    Each table once, each key with its choices.

    Parameters
    ----------
    checks
        Any checks; those that are not owed add nothing.

    Returns
    -------
    list of str
    """
    tables: dict[str, dict[str, None]] = {}
    for check in checks:
        for table, key in check.missing:
            tables.setdefault(table, {})[key] = None
    found = []
    for table, keys in tables.items():
        models = {"site": Site.model_fields}
        fields = models.get(table, Approval.model_fields if table.endswith(".approval") else Values.model_fields)
        found += [f"[{table}]", *(line_to_add(key, fields.get(key)) for key in keys)]
    return found
