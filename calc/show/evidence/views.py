"""What notebook 03 shows: tables and sentences about measured holes, and plain words where nothing was measured."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from calc.base.display import plain_text, round_text, with_unit
from calc.evidence.limits import ConfidenceTable, Limit
from calc.files.job import Job
from calc.files.tables import JobFile
from calc.files.typed import typed_rows
from calc.show.evidence.figures import dose_picture, growth_picture, normal_picture, run_order_picture
from calc.show.view import (
    View,
    inputs_view,
    numbers_view,
    picture_view,
    record_groups,
    recorded,
    standing,
    table_view,
    told,
)
from calc.work.evidence import (
    MeasuredGroup,
    MeasuredWork,
    Study,
    growth_of,
    overfill_text,
    percent,
    stated,
    up_to_tenth,
)

Measured = MeasuredWork | None

LIMIT_NAMES = {
    "tolerance": "Tolerance limit",
    "prediction": "Prediction limit",
    "mean": "Mean, from and to",
    "without_normality": "Limit without normality",
}


def _groups(measured: Measured) -> tuple[MeasuredGroup, ...]:
    return () if measured is None else tuple(measured.groups.values())


def _each(measured: Measured, show: Callable[[MeasuredGroup, Study], Iterable[View]], missing: str) -> list[View]:
    """Show something for every group whose holes are listed; say so where there are none."""
    views = [view for group in _groups(measured) if group.study is not None for view in show(group, group.study)]
    return views or [told(missing)]


# ---- the answer, and what went in ----------------------------------------------------------------


@standing("overfill")
def opening(job: Job, measured: Measured) -> View:
    """Say the answer for every measured group; or what to measure, when nothing was."""
    if measured is None:
        share, confidence = stated(job)
        return told(
            f"{job.path.name} holds no measured holes: it has no table evidence. So nothing follows from measurements"
            " for this job, and there are no steps.",
            "What to measure: some twenty holes or more of one bar group (common practice, no source), drilled and set"
            " as all the others will be, one after the other. Write down, in the order in which they were made, the"
            " volume that filled each with the bar home, or the mass with the density of the mixed adhesive, or the"
            " diameter and depth of each hole. Note what was seen, above all at a hole that takes much.",
            f"Save them as a CSV file in the job's folder and name it in {job.path.name}; the panel of this notebook"
            " does that from volumes that are typed in. How many holes make how sure is shown further down, for a"
            f" share of {percent(share)} and a confidence of {percent(confidence)}.",
        ).at("screen")
    return told(*(_answer(group) for group in _groups(measured)))


def _answer(group: MeasuredGroup) -> str:
    if group.overfill is None:
        rounded = f"The rounded dose, {group.worked.dispense_text}, comes to {overfill_text(group.dispensed)}"
        return f"{group.mark}: {group.too_few}. {rounded}: whether that is enough is owed."
    asked = (
        f"{group.mark}: {group.n} measured holes ask for an overfill of {overfill_text(group.overfill)}, so that"
        f" {percent(group.share)} of all such holes are full with confidence {percent(group.confidence)}."
    )
    verdict = "that is enough" if group.check.passes else "that is too little"
    return (
        f"{asked} The rounded dose, {group.worked.dispense_text}, comes to {overfill_text(group.dispensed)}: {verdict}."
    )


@standing()
def holes(job: Job, measured: Measured) -> list[View]:
    """Show every measured hole with the row of the file that it comes from, and what the job file states of them."""
    views = []
    for group in _groups(measured):
        views += [_holes(job, group)] if group.file is not None and group.study is not None else []
        views.append(_stated(job, group))
    return views or [told(f"Nothing was measured: {job.path.name} has no table evidence.")]


def _holes(job: Job, group: MeasuredGroup) -> View:
    file, found = group.file, group.study
    assert file is not None
    assert found is not None
    reasons = {point.name: f"left out: {reason}" for point, reason in found.kept.left_out}
    direct = file.kind == "volume" and all(row.given.get("volume", "").endswith(f" {found.unit}") for row in file.rows)
    columns = ["Row", "Hole", *([] if direct else ["As measured"]), "Volume", "Remark"]
    rows = []
    for row, name, value in zip(file.rows, found.names, found.values, strict=True):
        kept_words = "; ".join(filter(None, (reasons.get(name, ""), row.note)))
        typed = (
            []
            if direct
            else [
                ", ".join(
                    text
                    for key, text in row.given.items()
                    if key in ("volume", "mass", "density", "hole_diameter", "depth")
                )
            ]
        )
        rows.append([str(row.row), row.hole, *typed, row.given["volume"] if direct else found.text(value), kept_words])
    whose = f"{job.path.name}, evidence.{group.mark}.file"
    caption = f"Measured holes of {group.mark} in run order: {file.file} ({whose}), SHA-256 {file.sha256[:12]}…"
    return table_view(caption, columns, rows, "rl" + "l" * (not direct) + "rl")


def _stated(job: Job, group: MeasuredGroup) -> View:
    typed = {place: text for place, text in job.typed.items() if place[:2] == ("evidence", group.mark)}
    rows = typed_rows(JobFile, typed, job.path.name, sections=1)
    return inputs_view(rows, f"Measured holes of {group.mark}, as the job file states them", "record")


# ---- one look after the other --------------------------------------------------------------------

_UNLISTED = "No single holes are listed for this job, so there is nothing to look at here."


@standing()
def run_order(measured: Measured) -> list[View]:
    """Show each group's holes in run order, with the limits and what lies outside."""

    def show(group: MeasuredGroup, found: Study) -> list[View]:
        picture = run_order_picture(found, mark=group.mark)
        words = f"{group.mark}, volumes in {found.unit}: {found.order.sentence} {found.kept.sentence}"
        return [picture_view(picture), told(words), numbers_view(f"What the run order of {group.mark} shows", picture)]

    return _each(measured, show, _UNLISTED)


@standing()
def shape(measured: Measured) -> list[View]:
    """Show each group's normal plot with the sentence of the test."""

    def show(group: MeasuredGroup, found: Study) -> list[View]:
        if found.plot is None:
            return [told(f"{group.mark}: {found.n} holes are too few for a normal plot; it takes three.")]
        picture = normal_picture(found, mark=group.mark)
        return [
            picture_view(picture),
            told(f"{group.mark}: {found.plot.sentence}"),
            numbers_view(f"What the normal plot of {group.mark} shows", picture),
        ]

    return _each(measured, show, _UNLISTED)


@standing()
def apart(measured: Measured) -> list[View]:
    """Name each group's outliers, and what the mean and scatter would be without them."""

    def show(group: MeasuredGroup, found: Study) -> list[View]:
        if found.apart is None:
            return [told(f"{group.mark}: {found.n} holes are too few to say that one stands apart; it takes three.")]
        rows = [
            (
                s.point.name,
                found.text(s.point.value),
                round_text(s.statistic, 4),
                round_text(s.critical, 4),
                "yes" if s.exceeds else "no",
            )
            for s in found.apart.steps
        ]
        columns = ("Hole", "Volume", "Deviations from the mean", "Critical value", "Farther than chance allows")
        caption = f"The holes of {group.mark} that lie farthest out, each compared with those that remain"
        return [
            told(f"{group.mark}, volumes in {found.unit}: {found.apart.sentence}"),
            table_view(caption, columns, rows, "lrrrl"),
        ]

    return _each(measured, show, _UNLISTED)


@standing()
def summaries(job: Job, measured: Measured) -> View:
    """Show number, mean and standard deviation of every measured group."""
    rows = []
    for group in _groups(measured):
        found = group.study
        ends = (found.text(found.summary.min), found.text(found.summary.max)) if found else ("not stated", "not stated")
        left = str(len(found.kept.left_out)) if found else "not stated"
        share = percent(group.sd / group.mean, 3)
        rows.append(
            (
                group.mark,
                str(group.n),
                left,
                group.text(group.mean),
                group.text(group.sd),
                share,
                group.text(group.resolution),
                *ends,
            )
        )
    if not rows:
        return told(f"Nothing was measured: {job.path.name} has no table evidence.")
    columns = (
        "Mark",
        "Holes kept",
        "Left out",
        "Mean",
        "Standard deviation",
        "of the mean",
        "Resolution",
        "Smallest",
        "Largest",
    )
    return table_view("Mean and scatter", columns, rows, "lrrrrrrrr")


# ---- limits, and what follows --------------------------------------------------------------------


@standing()
def limits(measured: Measured) -> list[View]:
    """Show each limit with the question that it answers."""

    def show(group: MeasuredGroup, found: Study) -> list[View]:
        rows = [_limit_row(limit, found) for limit in found.limits]
        return [
            table_view(
                f"{group.mark}: each limit and the question that it answers",
                ("Limit", "Question", "Answer", "Overfill", "How"),
                rows,
                "llrrl",
            )
        ]

    return _each(measured, show, _UNLISTED)


def _limit_row(limit: Limit, found: Study) -> tuple[str, str, str, str, str]:
    name = LIMIT_NAMES[limit.kind]
    if limit.high is None:
        none = "not enough holes" if found.too_few else "none"
        return name, limit.question, none, none, limit.sentence
    if limit.low is not None:
        return (
            name,
            limit.question,
            f"{found.text(limit.low)} to {found.text(limit.high)}",
            "not for a dose",
            limit.sentence,
        )
    return name, limit.question, found.text(limit.high), overfill_text(found.overfill_at(limit.high)), limit.sentence


@standing()
def what_follows(job: Job, measured: Measured) -> list[View]:
    """Show the overfill that follows beside the one of the job, as picture and table."""
    views: list[View] = []
    rows: list[tuple[object, ...]] = []
    for group in _groups(measured):
        case = group.worked.case
        if group.study is not None:
            views.append(picture_view(dose_picture(group.study, mark=group.mark, dose=_dose_shown(group))))
        if group.overfill is None or group.limit is None:
            rows.append((group.mark, "measured holes ask for", "not enough holes", "", group.too_few))
        else:
            rows += [
                (
                    group.mark,
                    "measured holes ask for",
                    overfill_text(group.overfill),
                    group.text(group.limit),
                    f"step 03.{group.mark}.overfill",
                ),
                (
                    group.mark,
                    "to write down, rounded up",
                    percent(up_to_tenth(group.overfill)),
                    "",
                    "tenth of a per cent",
                ),
            ]
        rows += [
            (
                group.mark,
                "overfill of the job",
                overfill_text(case.overfill),
                group.text(group.worked.dose),
                case.origin("overfill"),
            ),
            (
                group.mark,
                "rounded dose comes to",
                overfill_text(group.dispensed),
                group.text(group.worked.rounded),
                f"step 03.{group.mark}.overfill.dispensed",
            ),
        ]
        if group.study is not None:
            views += [told(_short(group, group.study))]
    if not rows:
        return [told(f"Nothing follows: {job.path.name} has no measured holes.")]
    table = table_view(
        "The overfill that follows, and that of the job",
        ("Mark", "What", "Overfill", "Volume in a hole", "Where from"),
        rows,
        "llrrl",
    )
    return [*views, table]


def _dose_shown(group: MeasuredGroup) -> float | None:
    """The rounded dose on the scale of the measured holes; none where they refer to another nominal hole."""
    from calc.base.units import convert

    return (
        convert(group.worked.rounded, "mm³", group.worked.case.display.volume_unit)
        if group.evidence.nominal is None
        else None
    )


def _short(group: MeasuredGroup, found: Study) -> str:
    dose = _dose_shown(group)
    if dose is None:
        return (
            f"{group.mark}: the measured holes refer to a nominal volume of {group.text(group.nominal)}; their overfill"
            " is carried over to this group."
        )
    short = found.short_of(dose)
    if not short:
        return f"{group.mark}: none of the measured holes took more than the rounded dose."
    listed = ", ".join(f"{p.name} ({found.text(p.value)})" for p in short[:12]) + (
        " and others" if len(short) > 12 else ""
    )
    return (
        f"{group.mark}: {len(short)} of the {found.n} measured holes took more than the rounded dose,"
        f" {found.text(dose)}: {listed}."
    )


@standing()
def growth(job: Job, measured: Measured) -> list[View]:
    """Show what more measured holes are worth, as picture and table; in general where nothing was measured."""
    groups = _groups(measured)
    if not groups:
        table = growth_of(job)
        return [picture_view(growth_picture(table)), growth_table(table, "What a number of measured holes is worth")]
    views: list[View] = []
    for group in groups:
        views.append(picture_view(growth_picture(group.growth, measured=group.n, mark=group.mark)))
        unit = group.worked.case.display.volume_unit
        stays = "" if group.too_few else ", if mean and scatter stay as measured"
        caption = f"What a number of measured holes of {group.mark} is worth{stays}"
        views.append(growth_table(group.growth, caption, "" if group.too_few else unit))
    return views


def growth_table(table: ConfidenceTable, caption: str, unit: str = "") -> View:
    """Show the factors, and where there is a mean and a scatter the limit and the overfill.

    For rising numbers of holes.
    """
    columns = ["Measured holes", "Deviations above the mean", "For the next hole alone"] + (
        ["Limit", "Overfill"] if unit else []
    )
    rows = []
    for row in table.rows:
        if row.factor is None or row.next_hole_factor is None:
            rows.append([str(row.n), *["nothing"] * (len(columns) - 1)])
            continue
        cells = [str(row.n), round_text(row.factor, 4), round_text(row.next_hole_factor, 4)]
        if unit and row.limit is not None and row.overfill is not None:
            cells += [with_unit(round_text(row.limit, 4), unit), overfill_text(row.overfill)]
        rows.append(cells)
    about = (
        f"{caption}: share {percent(table.share)}, confidence {percent(table.confidence)}; for endlessly many"
        f" {plain_text(table.endless, 4)} deviations"
    )
    return table_view(about, columns, rows, "r" * len(columns))


@standing()
def written(job: Job, measured: Measured) -> View:
    """Say whether the job file states what its CSV files give."""
    groups = _groups(measured)
    if not groups:
        return told(f"{job.path.name} states no evidence, so there is nothing to compare.")
    sentences = []
    for group in groups:
        if group.file is None:
            sentences.append(
                f"{group.mark}: {job.path.name} names no CSV file, so the numbers that it states cannot be compared"
                " with anything."
            )
        elif group.differences:
            sentences += group.differences
        else:
            sentences.append(
                f"{group.mark}: what {job.path.name} states under evidence.{group.mark} is what {group.file.file}"
                f" gives, to the digits that are written there. SHA-256 of the file: {group.file.sha256}."
            )
    return told(*sentences)


@standing()
def steps(job: Job, measured: Measured) -> list[View]:
    """Show every step of every measured group."""
    groups = [recorded(group.worked, group.steps) for group in _groups(measured)]
    return record_groups(groups) or [told(f"No steps: {job.path.name} has no measured holes.")]
