"""Keys of the job file about what takes a bar's force in the old concrete: load path, anchors, who does the rest.

A key that a case asks for and nobody gave is owed, not refused: an older job file stays valid. `line_to_add` says what
to write.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, WithJsonSchema
from pydantic.fields import FieldInfo

from calc.base.errors import NotAccepted
from calc.files.fields import Depth, FilledLine, Part, number, one_line, quantity
from calc.strength.codes import ACI, EN04, EN23

Path = Literal["lap", "joint", "end_support", "tension_line", "compression", "concrete"]
PATHS: tuple[str, ...] = get_args(Path)
# What each path means, for sentences and for the lines to add.
PATH_WORDS: Mapping[str, str] = {
    "lap": "an existing bar beside it takes the force over",
    "joint": "the bar's tension is balanced by compression in the joint",
    "end_support": "the strut from a direct support meets the bar",
    "tension_line": "the member's own truss and links take the force",
    "compression": "the bar is in compression alone",
    "concrete": "concrete in tension takes the force: the bar is an anchor",
}
# These follow from what the bar does.
IMPLIED = ("lap", "joint")
FAR = "far"

_WIDE = quantity("mm", low=1.0, high=20000.0, example="300 mm")


def _wide_or_far(value: object) -> object:
    """Read a distance, or the word for an edge that is out of reach."""
    if value == FAR:
        return inf
    read: Any = _WIDE.func
    try:
        return read(value)
    except NotAccepted as error:
        raise NotAccepted(f'{error}, or "{FAR}"') from None


def _reasons(value: object) -> object:
    """Read who answers for checks, by the check's name, as a frozen table: a case is kept by it."""
    if not isinstance(value, dict) or not value:
        raise NotAccepted(
            'is not a table of references by the name of a check; accepted: such as { steel = "designed elsewhere:'
            ' C-12" }'
        )
    for name, reason in value.items():
        if not isinstance(reason, str) or not reason.strip() or len(reason) > 200:
            raise NotAccepted(
                f'has no reference for "{name}"; accepted: 1 to 200 characters that name who or what answers for it'
            )
        one_line(reason)
    return tuple(value.items())


Force = Annotated[float, quantity("N", low=1.0, high=2e6, example="30 kN")]
Wide = Annotated[float, _WIDE]
WideOrFar = Annotated[
    float, BeforeValidator(_wide_or_far), WithJsonSchema({"type": "string", "examples": ["300 mm", FAR]})
]
Area = Annotated[float, quantity("mm²", low=0.0, high=20000.0, open_low=True, example="314 mm²")]
BondStrength = Annotated[float, quantity("MPa", low=0.01, high=60.0, example="7.0 MPa")]
Ultimate = Annotated[float, quantity("MPa", low=100.0, high=1500.0, example="550 MPa")]
Age = Annotated[float, quantity("d", low=0.0, high=1e5, open_low=True, example="60 d")]
ShareOfLoad = Annotated[float, number(0.0, 1.0)]
_ShiftRatio = Annotated[float, number(0.0, 3.0)]
InstallationFactor = Annotated[float, number(1.0, 1.6)]
BreakoutFactor = Annotated[float, number(7.0, 30.0)]
InRow = Annotated[int, Field(ge=1, le=1000)]
Reasons = Annotated[
    tuple[tuple[str, str], ...],
    BeforeValidator(_reasons),
    WithJsonSchema({"type": "object", "additionalProperties": {"type": "string"}}),
]


class PathValues(Part):
    """The load path of a bar group, and what each path asks for; forces [N], lengths [mm], stresses [MPa], age [d]."""

    force_path: Path | None = Field(default=None, description="What takes the force in the old concrete; no default")
    tension_line_by: FilledLine | None = Field(
        default=None,
        description="Tension line, shown by; whose calculation has the member's truss and links for this force",
    )
    support_shear: Force | None = Field(
        default=None, description="Shear at the end support; design value for each bar, such as 25 kN"
    )
    shift_ratio: _ShiftRatio | None = Field(
        default=None, description="Shift of the tension line over the lever arm, a_l/z; for an end support"
    )
    span_steel: Area | None = Field(
        default=None, description="Area of the span's bars for each bar at the end support; such as 314 mm²"
    )
    support_face: Depth | None = Field(
        default=None, description="Drilled face to the face of the support; 0 mm where they are one"
    )
    bars_in_row: InRow | None = Field(default=None, description="Bars in a row that pull together; for an anchor")
    row_spacing: Wide | None = Field(
        default=None, description="Spacing of the rows, centre to centre; for anchors in more than one of bar_rows"
    )
    edge_right: WideOrFar | None = Field(
        default=None, description='Last bar\'s centre to the edge at the other end of the row; for an anchor, or "far"'
    )
    edge_above: WideOrFar | None = Field(
        default=None, description='Bar\'s centre to the edge across from the cover; for an anchor, or "far"'
    )
    eccentricity_x: Depth | None = Field(
        default=None, description="Eccentricity of the pull along the row; for anchors, none when not given"
    )
    eccentricity_y: Depth | None = Field(
        default=None, description="Eccentricity of the pull across the row; for anchors, none when not given"
    )
    cracked: bool | None = Field(
        default=None, description="The concrete is cracked; false only where analysis shows it, cracked when not given"
    )
    dense: bool | None = Field(
        default=None,
        description="Reinforcement is dense; below 150 mm, or up to 10 mm below 100 mm, dense when not known (EN)",
    )
    cracks_held: bool | None = Field(
        default=None, description="Reinforcement takes the splitting forces; true where it holds cracks to 0.3 mm (EN)"
    )
    supplementary: bool | None = Field(
        default=None, description="Reinforcement ties the breakout to the member; none when not given (ACI)"
    )
    ductile: bool | None = Field(default=None, description="The steel is ductile; brittle when not given (ACI)")
    f_uk: Ultimate | None = Field(default=None, description="Characteristic tensile strength of the bar (EN)")
    f_uta: Ultimate | None = Field(default=None, description="Specified tensile strength of the bar (ACI)")
    alpha_sus: ShareOfLoad | None = Field(
        default=None, description="Sustained share of the tension; 0 to 1, all of it when not given"
    )
    shear_by: FilledLine | None = Field(
        default=None, description="Shear on the anchors, verified by; a name and a reference, or that there is none"
    )
    concrete_age: Age | None = Field(
        default=None, description="Age of the old concrete when the adhesive goes in; such as 60 d (ACI)"
    )
    certified_installer: bool | None = Field(
        default=None, description="Certified installers are called for; true or false (ACI)"
    )
    continuous_inspection: bool | None = Field(
        default=None, description="Continuous inspection is called for; true or false (ACI)"
    )
    elsewhere: Reasons | None = Field(
        default=None, description="Done elsewhere; owed checks by name, each with a reference that page 1 prints"
    )


class AnchorApproval(Part):
    """The product's assessment as an anchor (EAD 330499; ACI 355.4); forces [N], lengths [mm], stresses [MPa]."""

    tau_Rk: BondStrength | None = Field(
        default=None, description="Bond strength as an anchor, tau_Rk; for this concrete, cracked or not (EN)"
    )
    tau_Rk_uncr: BondStrength | None = Field(
        default=None,
        description="Bond strength as an anchor in uncracked C20/25; asked for in cracked concrete too (EN)",
    )
    gamma_inst: InstallationFactor | None = Field(
        default=None, description="Factor of the installation, gamma_inst (EN)"
    )
    psi_sus0: ShareOfLoad | None = Field(
        default=None, description="Sustained share that the bond bears without loss, psi_sus0; 0.6 when not given (EN)"
    )
    c_cr_sp: Wide | None = Field(default=None, description="Critical edge distance against splitting, c_cr,sp (EN)")
    N_Rk_sp0: Force | None = Field(
        default=None, description="Splitting resistance of one bar; the smaller of bond and cone when not given (EN)"
    )
    c_min: Wide | None = Field(default=None, description="Least edge distance of a bar's centre, c_min")
    s_min: Wide | None = Field(default=None, description="Least centre spacing, s_min")
    h_min: Wide | None = Field(default=None, description="Least thickness of the member, h_min")
    tau_cr: BondStrength | None = Field(
        default=None, description="Bond strength as an anchor in cracked concrete (ACI)"
    )
    tau_uncr: BondStrength | None = Field(
        default=None,
        description="Bond strength as an anchor in uncracked concrete; asked for in cracked concrete too (ACI)",
    )
    category: Annotated[int, Field(ge=1, le=3)] | None = Field(
        default=None, description="Category of the anchor; 1, 2 or 3 (ACI)"
    )
    c_ac: Wide | None = Field(
        default=None, description="Critical edge distance in uncracked concrete, c_ac; 2 h_ef when not given (ACI)"
    )
    k_c: BreakoutFactor | None = Field(
        default=None, description="Breakout factor k_c of the assessment; in psi, 17 when not given (ACI)"
    )


_EN_ONLY = (
    "f_uk",
    "dense",
    "cracks_held",
    *(f"approval.{name}" for name in ("tau_Rk", "tau_Rk_uncr", "gamma_inst", "psi_sus0", "c_cr_sp", "N_Rk_sp0")),
)
_ACI_ONLY = (
    "f_uta", "supplementary", "ductile", "concrete_age", "certified_installer", "continuous_inspection",
    *(f"approval.{name}" for name in ("tau_cr", "tau_uncr", "category", "c_ac", "k_c")),
)  # fmt: skip
# Which codes do not know a key, as in the table of the design, and what stands in its place.
OTHER_CODES: dict[str, tuple[str, ...]] = dict.fromkeys(_EN_ONLY, (ACI,)) | dict.fromkeys(_ACI_ONLY, (EN04, EN23))
IN_PLACE = {
    "f_uk": "f_uta",
    "f_uta": "f_uk",
    "approval.tau_Rk": "tau_cr and tau_uncr",
    "approval.tau_Rk_uncr": "tau_uncr",
    "approval.tau_cr": "tau_Rk",
    "approval.tau_uncr": "tau_Rk_uncr",
    "approval.gamma_inst": "category",
    "approval.category": "gamma_inst",
    "approval.c_cr_sp": "c_ac",
    "approval.c_ac": "c_cr_sp",
}
WHY_NOT = {name: "no rule of this code that is built here asks for it" for name in OTHER_CODES if name not in IN_PLACE}


def agree(use: str | None, path: str | None) -> bool:
    """Whether what a bar does goes together with what takes its force.

    Parameters
    ----------
    use, path
        Of the job file; None where it says nothing.

    Returns
    -------
    bool
        A lap and a joint are load paths themselves; an anchorage is neither.
    """
    return use is None or path is None or (use if use in IMPLIED else "") == (path if path in IMPLIED else "")


def line_to_add(name: str, field: FieldInfo | None) -> str:
    """Write the line that a job file lacks, with its choices behind it.

    Parameters
    ----------
    name
        The key.
    field
        Its description in the model; None where it is not known.

    Returns
    -------
    str

    Examples
    --------
    >>> line_to_add("ductile", PathValues.model_fields["ductile"])
    'ductile = …  # true or false. The steel is ductile; brittle when not given (ACI)'
    """
    if field is None:
        return f"{name} = …"
    options = [option for part in get_args(field.annotation) for option in get_args(part) if isinstance(option, str)]
    choices = ", ".join(options) + ". " if options else "true or false. " if bool in get_args(field.annotation) else ""
    if name == "force_path":
        return (
            f'{name} = "…"  # '
            + "; ".join(f"{path}: {PATH_WORDS[path]}" for path in PATHS if path not in IMPLIED)
            + '; or use = "lap", use = "joint"'
        )
    return f"{name} = …  # {choices}{field.description or ''}".rstrip()
