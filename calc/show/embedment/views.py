"""What notebook 04 shows: tables and sentences about embedment and strength.

And what to add where a job says nothing of forces.
"""

from __future__ import annotations

from collections.abc import Sequence

from calc.base.display import percent_text, plain_text, utilisation_text
from calc.base.identity import EMBEDMENT
from calc.base.sheet import Check, Sheet
from calc.files.design import Approval, Values
from calc.files.job import Job
from calc.show.embedment.figures import codes_picture, resistance_picture, use_words, utilisation_pictures
from calc.show.embedment.joint import joint_picture
from calc.show.embedment.loadpath import Drawn
from calc.show.view import (
    TABLES,
    View,
    inputs_view,
    numbers_view,
    picture_view,
    record_groups,
    rows_of,
    standing,
    steps_by_mark,
    table_view,
    told,
)
from calc.strength.codes import ACI, EN04
from calc.strength.short.formulas import ASSUMPTION, NOT_CONFORMING
from calc.work.embedment.anchor import AnchorDesign
from calc.work.embedment.codes import CodeLength, compare_codes
from calc.work.embedment.group import GroupDesign
from calc.work.embedment.modes import mode_words
from calc.work.embedment.work import Embedment
from calc.work.results import Results, gathered

Part = Embedment | None

_FACTORS = {
    "gamma_C": "Partial factor for concrete",
    "gamma_S": "Partial factor for steel",
    "alpha_ct": "Long-term factor on the tensile strength",
    "alpha_cc": "Long-term factor on the compressive strength",
    "k_tc": "Long-term factor on the compressive strength",
    "k_t": "Factor for a strength tested after 28 days",
    "phi_t": "Strength reduction factor, tension",
    "phi_v": "Strength reduction factor, shear",
}
# What a design needs, with an example for each system: key, metric, US.
_NEEDED = (
    ("code", '"EN 1992-1-1:2004"', '"ACI 318-19"'),
    ("f_ck", '"25 MPa"', ""),
    ("f_c", "", '"4000 psi"'),
    ("strength_from", '"drawings"', '"drawings"'),
    ("f_yk", '"500 MPa"', ""),
    ("f_y", "", '"60 ksi"'),
    ("use", '"anchorage"', '"anchorage"'),
    ("force_path", '"tension_line"', '"tension_line"'),
    ("force", '"30 kN"', '"9 kip"'),
    ("bond", '"good"', '"good"'),
    ("cover", '"60 mm"', '"3 in"'),
    ("spacing", '"200 mm"', '"8 in"'),
    ("member_thickness", '"600 mm"', '"24 in"'),
    ("drilling", '"rotary"', '"rotary"'),
    ("drilling_aid", "false", "false"),
)
_OF_APPROVAL = ("number", "page", "k_b", "alpha_lb")


def part_of(results: Results) -> Part:
    """Return what was designed for a job; None when its job file gives no table of strength."""
    return results.part(Embedment)


def sheet_of(part: Part) -> Sheet:
    """Return the sheet of the notebook, empty when there is nothing to design."""
    return Sheet(EMBEDMENT) if part is None else part.sheet


def drawn(part: Part) -> list[GroupDesign]:
    """Pick the first designed group of each use, for the pictures."""
    first: dict[str, GroupDesign] = {}
    for one in () if part is None else part.designs:
        first.setdefault(one.case.use, one)
    return list(first.values())


def pictured(part: Part) -> list[Drawn]:
    """Pick the first designed group of each use and load path, for the drawings; anchors, drawn tall, come last."""
    first: dict[tuple[str, str], Drawn] = {}
    for one in () if part is None else part.in_order:
        first.setdefault((one.case.use, one.case.path), one)
    return sorted(first.values(), key=lambda one: one.case.path == "concrete")


def _nothing(job: Job) -> str:
    return f"{job.path.name} gives no force for any bar group that is developed, so there is nothing to show here."


# ---- what goes in --------------------------------------------------------------------------------


@standing(prose="embedment")
def what_is_missing(job: Job) -> list[View]:
    """Say that nothing can be designed, and list what to add to the job file."""
    lead = (
        f"{job.path.name} has no table design"
        if job.design is None
        else f"{job.path.name} has a table design, but no bar group has a force"
    )
    words = told(
        f"{lead}: no embedment was designed, and nothing is known of the strength of the bars. The doses of the other"
        " notebooks do not depend on it.",
        f"To design the bars, add the table design to {job.path.name} with the keys below; a table design.group and the"
        " mark holds what differs for one bar group. A lap and a joint need a few keys more; whatever is missing is"
        " then named in a sentence.",
    )
    rows = [
        ("design", key, example, Values.model_fields[key].description or "")
        for key, example in _examples(job)
        if key != "code"
    ]
    code = job.display.usual(EN04, ACI)
    rows.insert(0, ("design", "code", f'"{code}"', "Code and edition"))
    if code != ACI:
        shown = {
            "number": '"number of the approval"',
            "page": '"its table or page"',
            "k_b": "the approval's",
            "alpha_lb": "the approval's",
        }
        rows += [
            ("design.approval", key, shown[key], Approval.model_fields[key].description or "") for key in _OF_APPROVAL
        ]
    return [words, table_view("What a design needs", ("Table", "Key", "For example", "What it is"), rows)]


def _examples(job: Job) -> list[tuple[str, str]]:
    found = ((key, job.display.usual(metric, american)) for key, metric, american in _NEEDED)
    return [(key, example) for key, example in found if example]


@standing("inputs")
def inputs(job: Job, part: Part) -> View:
    """Show every key of the design with what was typed and where.

    What the code recommends stands behind, marked as such.
    """
    rows = rows_of(job, *TABLES["04"])
    if not rows:
        return told(_nothing(job))
    seen: dict[tuple[str, str, str], None] = {}
    for one in () if part is None else part.in_order:
        for name, value, said in one.case.recommended:
            seen[(f"Default: {_FACTORS[name].lower()}, {name}", plain_text(value), said)] = None
    return inputs_view([*rows, *seen], "What goes in: code, materials, forces, and the old concrete")


# ---- the answer ----------------------------------------------------------------------------------


@standing("embedment")
def opening(job: Job, part: Part) -> list[View]:
    """Say the answer for every bar group with a force; or what to add, when there is none."""
    if part is None or not part.in_order:
        return what_is_missing(job)
    groups = part.in_order
    open_groups = [one for one in groups if not one.passes]
    many = "one bar group" if len(groups) == 1 else f"{len(groups)} bar groups"
    verdict = f"By {groups[0].case.code}: every check of the {many} with a force passes."
    if open_groups:
        failed = [one for one in groups if any(check.verdict == "fails" for check in one.sheet.checks)]
        owing = [one for one in groups if any(check.verdict == "owed" for check in one.sheet.checks)]
        counts = [f"{len(failed)} FAIL: {_marks(failed)}"] if failed else []
        counts += [f"checks of {len(owing)} are owed: {_marks(owing)}"] if owing else []
        said = [
            f"{check.title}: {check.verdict_words}, {'; '.join(filter(None, (check.reason, check.advice)))}."
            for one in open_groups
            for check in one.sheet.checks
            if not check.passes
        ]
        verdict = f"By {groups[0].case.code}: of the {many} with a force, {'; '.join(counts)}. {' '.join(said)}"
    views = [told(verdict), *([answer(part)] if part.designs else []), *([anchors(part)] if part.anchors else [])]
    if part.outside:
        # Page 1 of the calculation has this in full.
        views.append(told("Not judged here.", *(one.words for one in gathered(part.outside))).at("screen"))
    return views


def _marks(groups: Sequence[Drawn]) -> str:
    return ", ".join(one.case.mark for one in groups)


def anchors(part: Embedment) -> View:
    """Show one row for each group of anchors: the governing mode first, the other modes behind it."""
    columns = (
        "Mark",
        "Bars",
        "Force of a bar",
        "Embedment that counts",
        "Governs",
        "Demand",
        "Resistance",
        "Utilisation",
        "Other modes",
    )
    return table_view(
        "Anchors, by bar group: the mode that governs", columns, [_anchor_row(one) for one in part.anchors], "lrrrlrrrl"
    )


def _anchor_row(one: AnchorDesign) -> list[str]:
    case, display, mode = one.case, one.case.display, one.governing
    others = [f"{mode_words(other.name, case)} {_mode_outcome(other)}" for other in one.modes if other is not mode]
    head = [case.mark, str(one.lay.bars), display.given_force(one.force), display.size(one.depth)]
    if mode is None:
        return [*head, "none could be judged", "", "", "", "; ".join(others)]
    return [*head, mode_words(mode.name, case), *mode.sides, _mode_outcome(mode), "; ".join(others)]


def _mode_outcome(check: Check) -> str:
    return check.verdict_words if check.utilisation is None else f"{check.used} {check.verdict_words}"


def answer(part: Embedment) -> View:
    """Show one row for each designed group: force, the length that it needs and the one that it has."""
    columns = ("Mark", "Use", "What takes the force", "Force", "Required", "Drawn", "Utilisation", "Verdict")
    rows = []
    for one in part.designs:
        case, display, check = one.case, one.case.display, one.sheet.checks[0]
        rows.append(
            (
                case.mark,
                case.use,
                case.path.replace("_", " ") or "not stated",
                display.given_force(one.force),
                display.length(one.required),
                display.size(case.embedment),
                check.used,
                check.verdict_words,
            )
        )
    return table_view("Embedment, by bar group", columns, rows, "lllrrrrl")


def cost_of_short_holes(part: Embedment) -> View:
    """Show one row for each designed group: the doses, what a full hole carries, and what missing adhesive takes."""
    first = part.job.display.usual("mL", "0.034 fl oz")
    columns = (
        "Mark",
        "Design force",
        "A full hole carries",
        "Required volume",
        "Dispensed",
        "Least dose that carries the force",
        f"Lost with the first {first}",
        "Simulated holes below the force",
    )
    rows = []
    for one in part.designs:
        display = one.case.display
        rows.append(
            (
                one.case.mark,
                display.given_force(one.force),
                display.force(one.capacity_full),
                display.volume(one.case.required_volume),
                display.dose(one.case.rounded_dose),
                "none is enough" if one.least_dose is None else display.volume(one.least_dose),
                display.force(one.force_lost_per_mL),
                _share(one),
            )
        )
    return table_view("What a short hole costs, by bar group", columns, rows, "lrrrrrrr")


def _share(one: GroupDesign) -> str:
    if one.share_below is None:
        return "not known"
    return "none" if one.share_below == 0 else percent_text(one.share_below)


# ---- pictures ------------------------------------------------------------------------------------


@standing(figure="drawings")
def joints(job: Job, part: Part) -> list[View]:
    """Draw the joint of the first group of each use and load path, with its sizes as a table."""
    views: list[View] = []
    for one in pictured(part):
        picture = joint_picture(one, title=f"{one.case.mark}: {one.case.bar.text}, {use_words(one)}")
        views += [picture_view(picture), numbers_view(f"What the drawing of {one.case.mark} shows", picture)]
    return views or [told(_nothing(job))]


@standing()
def utilisation(job: Job, part: Part) -> list[View]:
    """Draw the utilisation of every check; the table of checks further down holds the same numbers."""
    views = (
        [picture_view(picture) for picture in utilisation_pictures(part.in_order)]
        if part is not None and part.in_order
        else []
    )
    return views or [told(_nothing(job))]


@standing()
def strength(job: Job, part: Part) -> list[View]:
    """Draw force against bonded length for the first group of each use."""
    views: list[View] = []
    for one in drawn(part):
        picture = resistance_picture(
            one, title=f"{one.case.mark}: {one.case.bar.text}, {one.case.use}, by {one.case.code}"
        )
        drawing = picture_view(picture) if views else picture_view(picture).at("short")
        views += [drawing, numbers_view(f"What the picture of {one.case.mark} shows", picture)]
    return views or [told(_nothing(job))]


@standing()
def losses(job: Job, part: Part) -> list[View]:
    """Show for every group what missing millilitres cost in length and force.

    The assumption stands in front, and in the picture, which goes with the calculation.
    """
    if part is None or not part.designs:
        return [told(_nothing(job))]
    return [
        told(ASSUMPTION, NOT_CONFORMING),
        cost_of_short_holes(part).at("short"),
        *(_losses(one) for one in part.designs),
    ]


def _losses(one: GroupDesign) -> View:
    display = one.case.display
    bare = "Bare at the mouth" if one.law.ring else "Bare, at the back or not known where"
    columns = (
        "Missing",
        bare,
        "Bonded",
        "Force it resists",
        "Lost",
        "Design force over it",
        "Reaches the design force",
    )
    rows = []
    for row in sorted(one.losses, key=lambda row: row.V_short):
        rows.append(
            (
                display.volume(row.V_short),
                display.length(row.u),
                display.length(row.l_b),
                display.force(row.N_R),
                display.force(one.capacity_full - row.N_R),
                utilisation_text(row.utilisation),
                "✓ yes" if row.reaches else "✗ NO",
            )
        )
    known = one.law.reference.known
    caption = (
        f"{one.case.mark}: what missing adhesive costs, by {one.case.code}; design force"
        f" {display.given_force(one.force)}, least length {display.length(known['l_min'])}"
    )
    return table_view(caption, columns, rows, "rrrrrrl")


# ---- three codes ---------------------------------------------------------------------------------


@standing()
def codes(job: Job, part: Part) -> list[View]:
    """Show the same bar by the three codes: a picture for the first group of each use, and the reasons as a table."""
    views: list[View] = []
    for one in drawn(part):
        found = compare_codes(one.case)
        views += [
            picture_view(codes_picture(one, found, title=f"{one.case.mark}: {one.case.bar.text}, {one.case.use}")),
            _reasons(one, found),
        ]
    return views or [told(_nothing(job))]


def _reasons(one: GroupDesign, found: Sequence[CodeLength]) -> View:
    display = one.case.display
    rows = []
    for code in found:
        cast, installed = (
            "none" if value is None else display.length(value) for value in (code.cast_in, code.post_installed)
        )
        here = " (this job)" if code.code == one.case.code else ""
        rows.append(
            (f"{code.code}{here}", cast, installed if code.code != ACI else "as cast in", code.reason, code.cannot)
        )
    what = "lap" if one.case.use == "lap" else "anchorage"
    caption = f"{one.case.mark} by three codes: {what} length for {display.given_force(one.force)}, and why they differ"
    return table_view(caption, ("Code", "Cast in", "Post-installed", "Why", "What it cannot say"), rows, "lrrll")


# ---- the record ----------------------------------------------------------------------------------


@standing("record")
def steps(job: Job, results: Results) -> list[View]:
    """Show every step of every designed group."""
    return record_groups(steps_by_mark(results, EMBEDMENT)) or [
        told(f"No steps: {job.path.name} gives no force for any bar group.")
    ]


def notices(job: Job, part: Part) -> list[str]:
    """Return the notices, those of several groups joined."""
    return [notice.words for notice in gathered(sheet_of(part).notices)]


def cautions(part: Part) -> list[str]:
    """Return the cautions of the code in use."""
    return [] if part is None else part.cautions
