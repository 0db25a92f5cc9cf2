"""The panel of the fourth notebook: force, concrete and hole in.

Required embedment, checks and what missing adhesive costs out.

What is typed is read by the rules of the job file, put in the place of the job's own keys for one bar group, and
designed by the same function as in the notebook. Nothing is computed here. What is saved are keys of
`[design.group.<mark>]` and the schedule's embedment.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure
from pydantic import BaseModel, ValidationError

from calc.base.display import plain_text
from calc.base.errors import NotAccepted
from calc.base.sheet import Origin
from calc.base.units import UnitError, convert, parse_number
from calc.files.design import (
    EN_AND_ACI,
    SURFACES,
    Approval,
    Chosen,
    Design,
    GroupValues,
    Values,
    choose,
    concrete_span,
    design_problems,
    unknown_to,
)
from calc.files.job import Job
from calc.files.problems import InputErrors, Problem
from calc.files.reading import refuse_faults
from calc.files.schedule import BarGroup, read_values
from calc.show.drawing import Picture
from calc.show.embedment.figures import check_name, resistance_picture, utilisation_picture
from calc.show.embedment.joint import joint_picture
from calc.show.panel import NAMES, Panel, choice_field, group_field, read_volume, result_html, slider_field, text_field
from calc.strength.codes import ACI, CODES, EN04, EN23
from calc.strength.short.bar import LossRow
from calc.strength.short.formulas import ASSUMPTION, NOT_CONFORMING
from calc.work.embedment.case import case_of
from calc.work.embedment.group import GroupDesign, design, ring_of
from calc.work.save import Setting, save_group, save_values

_LARGEST_MISSING = 5e7  # mm³, as for an injected volume
_LABELS = {
    "group": "Bar group",
    "code": "Code",
    "force": "Design force",
    "concrete": "Concrete strength",
    "bond": "Bond condition",
    "cover": "Cover",
    "spacing": "Spacing",
    "member_thickness": "Old member",
    "embedment": "Embedment",
    "bond_factor": "Bond factor of the approval",
    "alpha_lb": "Factor on the least length",
    "surface": "Surface of the joint",
    "missing": "Adhesive missing",
}
_TYPED = ("cover", "spacing", "member_thickness")
# Keys that another code does not know; the strengths of concrete and steel go over under its own name.
_OWN_TO_CODE = (
    "gamma_C",
    "gamma_S",
    "alpha_ct",
    "alpha_cc",
    "k_tc",
    "bar_stress",
    "phi",
    "excess_reduction",
    "lightweight",
    "in_situ_by",
    "k_t",
)
_BOND_FACTOR = {EN04: "k_b", EN23: "k_b_pi"}


class EmbedmentPanel(Panel):
    """Fields for one bar group, its required embedment with joint and checks.

    And a button that writes to the job's files.

    Parameters
    ----------
    job
        The job that the bar groups and their forces come from.

    Attributes
    ----------
    fields : dict of str to Widget
        What is typed or chosen, by name.
    result : GroupDesign or None
        The last design; None while an entry is wrong.
    loss : LossRow or None
        What the adhesive that is missing costs.
    message : str
        The sentence about a wrong entry; empty while there is none.
    pictures : tuple of Picture
        Joint, utilisation, and force against bonded length.
    """

    result: GroupDesign | None
    sliders: Mapping[str, Any] = {"missing": "%"}
    chooser = "group"
    first = ("group", "force", "concrete", "embedment")
    kept = ("missing",)

    def __init__(self, job: Job) -> None:
        self.loss: LossRow | None = None
        self._figures = (Figure(), Figure(), Figure())
        super().__init__(job, _fields(job))
        self.output.add_class("dp-rows2")
        self.start()

    # ---- from the job into the fields ----

    @property
    def mark(self) -> str:
        """The bar group that is chosen."""
        return str(self.fields["group"].value)

    @property
    def code(self) -> str:
        """The code that is chosen."""
        return str(self.fields["code"].value)

    @property
    def _group(self) -> BarGroup:
        return self.job.group(self.mark)

    @property
    def _chosen(self) -> Chosen | None:
        return None if self.job.design is None else choose(self.job.design, self.mark)

    def fill(self) -> None:
        """Put what the job's files say of a group into the fields."""
        chosen = self._chosen
        with self.silence():
            if chosen is not None:
                self.fields["code"].value = chosen.code
            self.fields["missing"].value = self.job.display.usual("1 mL", "0.05 fl oz")
        super().fill()
        self._name_fields()
        self.move_slider("missing")

    def texts(self) -> dict[str, str]:
        """What stands in the job's files, by field, as it was typed there."""
        chosen = self._chosen
        texts = dict.fromkeys(("force", "concrete", "bond", *_TYPED, "bond_factor", "alpha_lb", "surface"), "")
        texts["embedment"] = self._group.given.get("embedment", "")
        if chosen is None:
            return texts
        keys = {name: name for name in ("bond", *_TYPED, "surface")} | {
            "concrete": chosen.f_concrete,
            "alpha_lb": "approval.alpha_lb",
        }
        keys["force"] = "force_per_length" if chosen["force_per_length"] is not None else "force"
        keys["bond_factor"] = f"approval.{_BOND_FACTOR.get(chosen.code, 'k_b')}"
        for field, key in keys.items():
            if chosen[key] is not None:
                texts[field] = str(self.job.origins.get(chosen.key(key), chosen[key]))
        return texts

    def _name_fields(self) -> None:
        """Write unit and range into each label, in the words of the code that is chosen."""
        display, joint = self.job.display, self._use == "joint"
        length, force, per = display.both("mm", "in"), display.force_unit, display.usual("kN/m", "kip/ft")
        strength = "f'c [psi or MPa]" if self.code == ACI else "f_ck [MPa or psi]"
        factor = {
            EN04: "Bond factor k_b, 0.1 to 1",
            EN23: "Bond factor k_b,pi, 0.1 to 1",
            ACI: "Bond factor (none by this code)",
        }[self.code]
        labels = {
            "force": (
                f"Design force along the joint [{per}], above 0"
                if joint
                else f"Design force of a bar [{force} or {per}]"
            ),
            "concrete": f"{strength}, {concrete_span(self.code)}",
            "cover": f"Cover [{length}], clear, above 0",
            "spacing": f"Spacing [{length}], centre to centre",
            "member_thickness": f"Old member along the hole [{length}]",
            "embedment": f"Embedment [{length}], up to {display.size(5000)}",
            "bond_factor": factor,
            "missing": f"Adhesive missing [{display.both('mL', 'fl oz')}], from 0",
        }
        for name, label in labels.items():
            self.fields[name].description = label
        for name in ("bond_factor", "alpha_lb"):
            self.fields[name].disabled = self.code == ACI
        self.fields["surface"].disabled = not joint

    @property
    def _use(self) -> str:
        chosen = self._chosen
        return "" if chosen is None else str(chosen["use"] or "")

    def place(self, name: str) -> float:
        """The missing volume as a share of the ring [%]."""
        return min(100 * self._missing() / ring_of(self._group), self.fields[f"{name}_slider"].max)

    def typed(self, name: str, place: float) -> str:
        """Write the missing volume that is so much of the ring."""
        unit = self.job.display.volume_unit
        return f"{plain_text(convert(place / 100 * ring_of(self._group), 'mm³', unit), 3)} {unit}"

    def _missing(self) -> float:
        return read_volume(_LABELS["missing"], self.text("missing"), _LARGEST_MISSING, or_none=True)

    def changed(self, name: str) -> None:
        """Let the fields follow the code, then design anew."""
        if name == "code":
            self._follow_code()
        super().changed(name)

    def _follow_code(self) -> None:
        """Rename the fields; a product's factors are those of an approval to one code.

        And do not go over to another.
        """
        chosen = self._chosen
        with self.silence():
            self._name_fields()
            surfaces = SURFACES[self.code]
            if self.fields["surface"].value not in surfaces:
                self.fields["surface"].value = ""
            same = chosen is not None and self.code == chosen.code
            for name in ("bond_factor", "alpha_lb"):
                self.fields[name].value = self.loaded[name] if same else ""
            if same and not self.fields["surface"].value:
                self.fields["surface"].value = self.loaded["surface"]

    def stated(self, name: str) -> str:
        """What the job's files say of a field; a product's factors belong to the job's code alone."""
        chosen = self._chosen
        foreign = name in ("bond_factor", "alpha_lb") and (chosen is None or self.code != chosen.code)
        return "" if foreign else super().stated(name)

    # ---- from the fields to the result ----

    def compute(self) -> str:
        """Design what stands in the fields."""
        if self.job.design is None:
            raise NotAccepted(
                f"{self.job.path.name} has no table design, so code, steel and use of the bars are not known; the"
                " notebook lists what to add"
            )
        group = self._read_group()
        chosen = self._put(choose(self.job.design, self.mark))
        case = self._case(group, chosen)
        if case.anchor:
            said = f'{self.mark} is an anchor (force_path = "concrete")'
            raise NotAccepted(
                f"{said}: the notebook shows its modes of failure; this panel is for bars that are developed or lapped"
            )
        one = design(case)
        missing = self._missing()
        self.loss = one.with_missing(missing)
        self.pictures = (
            joint_picture(one, figure=self._figures[0]),
            utilisation_picture([one], figure=self._figures[1]),
            resistance_picture(one, missing=self.loss if missing else None, figure=self._figures[2]),
        )
        self.result = one
        return _shown(one, self.loss, self.pictures)

    def _read_group(self) -> BarGroup:
        group = self._group
        if not self.differs("embedment"):
            return group
        return read_values(
            {**group.given, "embedment": self.text("embedment")}, point_angle=self.job.equipment.point_angle
        )

    def _put(self, chosen: Chosen) -> Chosen:
        """Put what is typed in the place of what the job file says."""
        values, code = dict(chosen.values), self.code
        if code != chosen.code:
            values = _for_code(chosen, code)
        force = "force_per_length" if "/" in self.text("force") or self._use == "joint" else "force"
        values.pop("force", None)
        values.pop("force_per_length", None)
        concrete = "f_c" if code == ACI else "f_ck"
        typed = {
            "force": force,
            "concrete": concrete,
            "bond": "bond",
            "surface": "surface",
            **{name: name for name in _TYPED},
        }
        if self._use != "joint":
            typed.pop("surface")
        problems: list[Problem] = []
        for field, key in typed.items():
            values.pop(key, None)
            _read(Values, key, field, self.text(field) or None, values, problems)
        for key, field in self._approval_keys().items():
            values.pop(f"approval.{key}", None)
            _read(Approval, key, field, self._number(field), values, problems, "approval.")
        if problems:
            raise InputErrors(problems)
        return Chosen(code, self.mark, values, chosen.keys, chosen.own)

    def _number(self, name: str) -> float | None:
        text = self.text(name)
        if not text:
            return None
        try:
            return parse_number(text)
        except UnitError as error:
            raise UnitError(f"{_LABELS[name]}: {error}") from None

    def _case(self, group: BarGroup, chosen: Chosen) -> Any:
        """Design the group as if the job file said what is typed; a value that it does say keeps its place there."""
        mark = self.mark
        group = replace(group, mark=mark)
        own = GroupValues().model_copy(
            update={name: value for name, value in chosen.values.items() if not name.startswith("approval.")}
        )
        approved = {
            name.removeprefix("approval."): value
            for name, value in chosen.values.items()
            if name.startswith("approval.")
        }
        if approved:
            # Built and not copied, so that only what is given counts as set.
            own = own.model_copy(update={"approval": Approval.model_construct(_fields_set=set(approved), **approved)})
        tables = Design(code=chosen.code).model_copy(update={"group": {mark: own}})
        typed = self._keys()
        places = ("design.", f"design.group.{mark}.")
        origins = dict(self.job.origins) | {
            f"{where}{key}": self.text(field) for key, field in typed.items() for where in places
        }
        self.names = (
            NAMES | _LABELS | {f"key {where}{key}": _LABELS[field] for key, field in typed.items() for where in places}
        )
        problems = design_problems(tables, [group], origins, self.job.path.name)
        if problems:
            raise InputErrors(problems)
        measured = {
            name: hole for name, hole in self.job.measured.items() if name != mark or not self.differs("embedment")
        }
        trial = replace(self.job, design=tables, measured=measured)
        case = case_of(trial, group)
        if case is None:
            example = self.job.display.usual("30 kN", "9 kip")
            raise NotAccepted(f"{_LABELS['force']}: the field is empty; accepted: a force such as {example}")
        return replace(case, origins=self._origins(case.origins, chosen, typed))

    def _keys(self) -> dict[str, str]:
        """Key of the job file to field of the panel."""
        force = "force_per_length" if "/" in self.text("force") or self._use == "joint" else "force"
        keys = {
            force: "force",
            "f_c" if self.code == ACI else "f_ck": "concrete",
            "bond": "bond",
            "surface": "surface",
        } | {name: name for name in _TYPED}
        return keys | {f"approval.{key}": field for key, field in self._approval_keys().items()}

    def _approval_keys(self) -> dict[str, str]:
        """Key of the approval's table to field of the panel."""
        return {} if self.code == ACI else {_BOND_FACTOR[self.code]: "bond_factor", "alpha_lb": "alpha_lb"}

    def _origins(
        self, found: tuple[tuple[str, Origin], ...], chosen: Chosen, typed: Mapping[str, str]
    ) -> tuple[tuple[str, Origin], ...]:
        changed = {key for key, field in typed.items() if self.differs(field)}
        of_files = ("bar", "hole_diameter", "embedment", "overdrill", "point_angle")
        kept = {name: where for name, where in found if name in of_files}
        kept |= {
            name: Origin.of_row(self.job.schedule_path.name, self._group.row, name)
            for name in ("hole_diameter", "embedment")
        }
        if self.differs("embedment"):
            kept.pop("embedment")
        named = {
            name: chosen.origin(self.job.path.name, name)
            for name in chosen.keys
            if name in chosen.values and name not in changed
        }
        return tuple((kept | named).items())

    def clear(self) -> None:
        """Forget the last result."""
        super().clear()
        self.loss = None

    # ---- from the fields into the job's files ----

    def write(self) -> Iterator[Path]:
        """Write what differs: keys of this bar group, and the embedment of the schedule."""
        assert self.job.design is not None
        if self.code != self.job.design.code:
            raise NotAccepted(
                f"the code holds for all bar groups; set design.code in {self.job.path.name} by hand, with the keys"
                " that it needs"
            )
        yield from self.put(save_values, self._settings())
        yield from self.put(
            save_group, {"embedment": self.text("embedment")} if self.differs("embedment") else {}, mark=self.mark
        )

    def _settings(self) -> dict[str, Setting]:
        """Keys of this bar group that the panel holds differently."""
        table, values = f"design.group.{self.mark}", dict[str, Setting]()
        for key, field in self._keys().items():
            if not self.differs(field):
                continue
            text = self.text(field)
            values[f"{table}.{key}"] = (parse_number(text) if key.startswith("approval.") else text) if text else None
        own = None if self.job.design is None else self.job.design.group.get(self.mark)
        for key, other in (("force", "force_per_length"), ("force_per_length", "force")):
            if f"{table}.{key}" in values and own is not None and getattr(own, other) is not None:
                values[f"{table}.{other}"] = None
        return values


def _shown_first(chosen: Chosen) -> bool:
    """Whether the panel can design a group: it has a force, and is no anchor."""
    return chosen.designed and not chosen.anchor


def _fields(job: Job) -> dict[str, Any]:
    """Make the fields, in the order in which they stand on the screen."""
    first = next(
        (g.mark for g in job.groups if job.design is not None and _shown_first(choose(job.design, g.mark))),
        job.groups[0].mark,
    )
    surfaces = list(dict.fromkeys(surface for code in CODES for surface in SURFACES[code]))
    usual = job.display.usual
    code = job.design.code if job.design is not None else usual(EN04, ACI)
    return {
        "group": group_field(job, first),
        "code": choice_field("Code", list(CODES), code),
        "force": text_field("Design force", usual("30 kN", "9 kip")),
        "concrete": text_field("Concrete strength", usual("25 MPa", "4000 psi")),
        "bond": choice_field("Bond condition", [("not stated", ""), ("good", "good"), ("poor", "poor")], ""),
        "cover": text_field("Cover", usual("60 mm", "3 in")),
        "spacing": text_field("Spacing", usual("200 mm", "8 in")),
        "member_thickness": text_field("Old member", usual("600 mm", "24 in")),
        "bond_factor": text_field("Bond factor", "the approval's"),
        "alpha_lb": text_field("Factor on the least length, 1 to 2", "the approval's"),
        "embedment": text_field("Embedment", usual("200 mm", "10 in")),
        "surface": choice_field(
            "Surface of the joint, for shear", [("not stated", ""), *((s, s) for s in surfaces)], ""
        ),
        "missing": text_field("Adhesive missing", "1 mL"),
        "missing_slider": slider_field("Missing, share of the ring: 0 to 100 %", 0.0, 100.0, 0.5),
    }


def _for_code(chosen: Chosen, code: str) -> dict[str, Any]:
    """Take a group's values over to another code: strengths under its names, factors of the old code left out."""
    renamed = dict(EN_AND_ACI) if code == ACI else {aci: en for en, aci in EN_AND_ACI}
    values = {renamed.get(name, name): value for name, value in chosen.values.items()}
    left_out = {*_OWN_TO_CODE, "approval.k_b", "approval.k_b_pi", *unknown_to(code)}
    return {name: value for name, value in values.items() if name not in left_out}


def _read(
    table: type[BaseModel],
    key: str,
    field: str,
    text: Any,
    values: dict[str, Any],
    problems: list[Problem],
    prefix: str = "",
) -> None:
    """Read one typed value by the rules of the job file."""
    if text is None:
        return
    try:
        values[prefix + key] = getattr(table.model_validate({key: text}), key)
    except ValidationError as error:
        refuse_faults(error)
        item = error.errors(include_url=False)[0]
        said = item.get("ctx", {}).get("error")
        message = str(said) if said is not None else f"is not accepted: {item['msg']}"
        problems.append(Problem("panel", f"field {field}", str(text), message))


# ---- what is shown -------------------------------------------------------------------------------


def _shown(one: GroupDesign, loss: LossRow, pictures: tuple[Picture, ...]) -> str:
    case, display = one.case, one.case.display
    force = display.given_force(one.force)
    what = (
        f"{case.mark}: {case.bar.text} in a hole of {display.size(case.hole_diameter)}, {case.use} for {force}, by"
        f" {case.code}"
    )
    large = [
        ("Required embedment", display.length(one.required)),
        # What is left rather than what is lost: a bar that carries nothing has nothing to lose.
        (f"Carries with {display.volume(loss.V_short)} missing", display.force(loss.N_R)),
    ]
    lines = [_embedment_line(one), *_check_lines(one), *_loss_lines(one, loss)]
    return result_html(large, lines, [picture.svg for picture in pictures], what)


def _embedment_line(one: GroupDesign) -> str:
    case, display, check = one.case, one.case.display, one.sheet.checks[0]
    used = "no number" if check.utilisation is None else check.used
    tail = "" if check.passes else f"; {check.advice}"
    return f"Embedment {display.size(case.embedment)}: utilisation {used}, {check.verdict_words}{tail}"


def _check_lines(one: GroupDesign) -> list[str]:
    others = one.sheet.checks[1:]
    failed = [check for check in others if not check.passes]
    lines = [
        f"{check.verdict_words}: {check_name(check)}. {check.reason[:1].upper()}{check.reason[1:]}; {check.advice}"
        for check in failed
    ]
    passing = len(others) - len(failed)
    return [*lines, f"The other {passing} checks pass" if failed else f"The other {passing} checks pass as well"]


def _loss_lines(one: GroupDesign, loss: LossRow) -> list[str]:
    display = one.case.display
    left = (
        f"With {display.volume(loss.V_short)} missing, {display.length(loss.u)} of the bar stay bare at the mouth,"
        f" {display.length(loss.l_b)} are bonded, and {display.force(loss.N_R)} of {display.force(one.capacity_full)}"
        f" are left: {'the design force is still reached' if loss.reaches else 'the design force is NOT reached'}"
    )
    if loss.l_b < one.law.least_length * (1 - 1e-9):
        left += f"; under the least length of {display.length(one.law.least_length)} nothing is counted on"
    return [left, ASSUMPTION, NOT_CONFORMING]
