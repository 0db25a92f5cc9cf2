"""The panel of the third notebook: measured holes in, the overfill that follows out, with its pictures.

The holes come from a CSV file in the job's folder or from volumes that are typed or pasted. The panel calls
`calc.work.evidence.study` and computes nothing itself; what it saves is the evidence, and the overfill with its reason.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import ipywidgets as widgets
from matplotlib.figure import Figure

from calc.base.display import plain_text
from calc.base.errors import CalcError, NotAccepted, NotListed
from calc.base.units import UnitError, convert, parse_quantity
from calc.files.evidence import digit_of, read_file
from calc.files.job import Job
from calc.files.problems import InputErrors
from calc.files.scatter import Evidence
from calc.files.strict import tidy
from calc.show.drawing import Picture
from calc.show.evidence.figures import dose_picture, growth_picture, run_order_picture
from calc.show.panel import Panel, closed, group_field, read_number, result_html, slider_field, text_field, wide
from calc.work.dose import Worked
from calc.work.evidence import Study, overfill_text, percent, stated, study, up_to_tenth
from calc.work.load import load_job
from calc.work.results import compute
from calc.work.save import Setting, save_group, save_values

_LARGEST = 2e8  # mm³, as in a file of measurements
_MOST = 5000  # volumes that can be pasted
_SHARES = ("share", "confidence")
NONE_LEFT_OUT = "none"
_LABELS = {
    "file": "CSV file",
    "volumes": "Volumes",
    "resolution": "Resolution of a reading",
    "exclude": "Leave out",
    "share": "Share of holes that are full",
    "confidence": "Confidence",
}


class MeasuredPanel(Panel):
    """Fields for measured holes of one bar group, what follows from them.

    And a button that writes it to the job's files.

    Parameters
    ----------
    job
        The job that the bar groups and what is measured so far come from.

    Attributes
    ----------
    fields : dict of str to Widget
        What is typed or chosen, by name.
    result : Study or None
        The last result; None while an entry is wrong.
    message : str
        The sentence about a wrong entry; empty while there is none.
    pictures : tuple of Picture
        What the holes ask for, their run order, and what more holes would be worth.
    """

    result: Study | None
    sliders: Mapping[str, Any] = dict.fromkeys(_SHARES, ".3g")
    chooser = "mark"
    first = ("mark", "file", "share", "confidence")
    kept = _SHARES

    def __init__(self, job: Job) -> None:
        self._figures = (Figure(), Figure(), Figure())
        self._worked: dict[str, Worked] = {one.case.mark: one for one in compute(job).worked}
        super().__init__(job, _fields(job))
        self.output.add_class("dp-rows2")
        self.start()

    # ---- from the job into the fields ----

    @property
    def mark(self) -> str:
        """The bar group that is chosen."""
        return str(self.fields["mark"].value)

    def texts(self) -> dict[str, str]:
        """What the job file says of a group; its volumes stand in the file that it names."""
        shares = dict(zip(_SHARES, map(plain_text, stated(self.job)), strict=True))
        evidence = self.job.evidence.get(self.mark)
        excluded = "; ".join(f"{hole}: {reason}" for hole, reason in evidence.excluded.items()) if evidence else ""
        step = self.job.origins.get(f"evidence.{self.mark}.resolution", "")
        return {
            "file": (evidence.file or "") if evidence else "",
            "volumes": "",
            "resolution": step,
            "exclude": excluded,
        } | shares

    def stated(self, name: str) -> str:
        """What the job file says of a field.

        Its resolution is that of the holes in its file, not of others that are typed here.
        """
        other = name == "resolution" and self.text("file") != self.loaded["file"]
        return "" if other else super().stated(name)

    def changed(self, name: str) -> None:
        """Let the file and typed volumes take each other's place, then look anew."""
        with self.silence():
            if name in ("file", "volumes") and self.text(name):
                self.fields["volumes" if name == "file" else "file"].value = ""
            elif name == "volumes":  # typed volumes took the place of the file; without them it counts again
                self.fields["file"].value = self.text("file") or self.stated("file")
            if name in ("file", "volumes"):
                self.fields["resolution"].value = self.stated("resolution")
        super().changed(name)

    # ---- from the fields to the result ----

    def _required(self) -> float:
        """Required volume that the measured holes refer to [mm³]."""
        evidence = self.job.evidence.get(self.mark)
        return self._worked[self.mark].required if evidence is None or evidence.nominal is None else evidence.nominal

    def compute(self) -> str:
        """Look at the holes that the fields name."""
        unit = self.job.display.volume_unit
        values, names, reasons, resolution = self._holes(unit)
        found = study(
            values=values,
            names=names,
            reasons=reasons | reasons_of(self.text("exclude")),
            V_req=convert(self._required(), "mm³", unit),
            share=self._share("share"),
            confidence=self._share("confidence"),
            unit=unit,
            resolution=convert(resolution, "mm³", unit),
        )
        dose = convert(self._worked[self.mark].rounded, "mm³", unit) if self._refers_here else None
        self.pictures = (
            dose_picture(found, mark=self.mark, dose=dose, figure=self._figures[0]),
            run_order_picture(found, mark=self.mark, figure=self._figures[1]),
            growth_picture(found.growth, measured=found.n, mark=self.mark, figure=self._figures[2]),
        )
        self.result = found
        return _shown(found, self._worked[self.mark], dose, self.pictures)

    @property
    def _refers_here(self) -> bool:
        evidence = self.job.evidence.get(self.mark)
        return evidence is None or evidence.nominal is None

    def _holes(self, unit: str) -> tuple[tuple[float, ...], tuple[str, ...], dict[str, str], float]:
        """Return volumes, names, reasons of the holes that the file leaves out.

        And the resolution of a reading [mm³].
        """
        file, typed, step = self.text("file"), self.text("volumes"), self.text("resolution")
        own = resolution_typed(step) if step else None
        if typed:
            volumes = volumes_of(typed)
            finest = min(digit_of(part) for part in _parts(typed))
            names = tuple(str(i) for i in range(1, len(volumes) + 1))
            return tuple(tidy(convert(volume, "mm³", unit)) for volume in volumes), names, {}, own or finest
        if not file:
            raise NotAccepted(
                "There is nothing to look at yet: name a CSV file in the job's folder, or type volumes such as 14.2 mL,"
                " 13.9 mL, 14.4 mL"
            )
        try:
            measured = read_file(self.job, file).of(self.mark)
        except InputErrors as errors:
            told = [closed(str(problem)) for problem in errors.problems[:3]]
            more = [f"There are {len(errors.problems) - 3} more of this kind."] if len(errors.problems) > 3 else []
            raise NotAccepted(" ".join([*told, *more])) from None
        except NotListed as error:
            raise NotAccepted(f"{_LABELS['file']}: {error}") from None
        return measured.volumes(unit), measured.names, measured.reasons, own or measured.resolution

    def _share(self, name: str) -> float:
        """Read a share between 0 and 1."""
        return read_number(
            _LABELS[name],
            self.text(name),
            "accepted: above 0 and below 1, such as 0.95 for 95 per cent",
            lambda share: 0 < share < 1,
        )

    # ---- from the fields into the job's files ----

    def write(self) -> Iterator[Path]:
        """Write the evidence, then the overfill."""
        found = self.result
        if found is not None and found.too_few:
            raise NotAccepted(f"{found.too_few}; go on measuring, into a CSV file in the job's folder")
        if found is not None:  # no result without a message, and then nothing is written
            yield from self._write_evidence(found, reasons_of(self.text("exclude")))
            yield from self._write_overfill(found)

    def about_saved(self) -> str:
        """Which overfill follows and why, and what the checks judge by where that is something else."""
        found = self.result
        assert found is not None
        share, confidence = stated(self.job)
        other = (
            f". The checks judge by the job file: {percent(share)}, {percent(confidence)}"
            if (share, confidence) != (found.share, found.confidence)
            else ""
        )
        return f": {reason_of(found)}{other}"

    def follow_saved(self) -> None:
        """Work the doses of what was saved."""
        self._worked = {one.case.mark: one for one in compute(self.job).worked}
        super().follow_saved()

    def _write_evidence(self, found: Study, own: Mapping[str, str]) -> Iterator[Path]:
        """Write the evidence of the group; typed volumes become a CSV file of their own beside the job file."""
        text = self.text("file")
        new = None if text else _csv_path(self.job, self.mark, found)
        file = text if new is None else new.name
        if new is not None:
            new.write_text(_csv_text(self.mark, found), encoding="utf-8", newline="\n")
        # What was typed as 14.0 is written as 14: the resolution of typed volumes is written down beside them.
        step = self.text("resolution") or (f"{plain_text(found.resolution)} {found.unit}" if new is not None else None)
        values = evidence_values(self.job, self.mark, found, file, own) | {f"evidence.{self.mark}.resolution": step}
        # The file is named for the first time: a job that knows it takes it along when the edited copy is tried.
        told = Evidence.model_validate({"holes": found.n, "mean": "1 mL", "sd": "0 mL"}).model_copy(
            update={"file": file}
        )
        try:
            path = save_values(replace(self.job, evidence={**self.job.evidence, self.mark: told}), values=values)
        except (CalcError, OSError) as error:
            if new is not None:
                new.unlink(missing_ok=True)
            if isinstance(error, InputErrors):
                raise
            self._refuse_file(file)
        self.job = load_job(self.job.path)
        yield from filter(None, (path, new))

    def _refuse_file(self, file: str) -> None:
        from calc.files.problems import Problem

        message = "cannot be taken into the job; accepted: a CSV file inside the job's folder, named from there"
        raise InputErrors([Problem(self.job.path.name, f"key evidence.{self.mark}.file", file, message)])

    def _write_overfill(self, found: Study) -> Iterator[Path]:
        """Write the overfill as the group's own, unless the rule of the job file finds the same by itself."""
        group = self.job.group(self.mark)
        by_rule = (
            self.job.overfill.rule == "measured"
            and group.overfill is None
            and stated(self.job) == (found.share, found.confidence)
        )
        yield from self.put(
            save_group, {} if by_rule else {"overfill": plain_text(up_to_tenth(found.overfill))}, mark=self.mark
        )


# ---- fields --------------------------------------------------------------------------------------


def _fields(job: Job) -> dict[str, Any]:
    unit = job.display.both("mL", "fl oz")
    first = next((group.mark for group in job.groups if group.mark in job.evidence), job.groups[0].mark)
    volumes = widgets.Textarea(
        description=f"or volumes in run order [{unit}]",
        placeholder=job.display.usual("14.2 mL, 13.9 mL, 14.4 mL", "0.87 in³, 0.85 in³, 0.88 in³"),
        continuous_update=False,
        rows=2,
    )
    exclude = text_field(f"Leave out: hole, colon, reason; or {NONE_LEFT_OUT}", "19: ran into a void; 7: spilled")
    file = text_field("CSV file in the job's folder", "measurements.csv")
    return {
        "mark": group_field(job, first),
        "file": file,
        "volumes": wide(volumes),
        "resolution": text_field(f"Resolution of a reading, above 0 [{unit}]", "the last digit typed"),
        "exclude": wide(exclude),
        "share": text_field("Share of holes that are full, 0 to 1", "0.95"),
        "share_slider": slider_field("Share", 0.80, 0.995, 0.005),
        "confidence": text_field("Confidence that this is so, 0 to 1", "0.95"),
        "confidence_slider": slider_field("Confidence", 0.50, 0.995, 0.005),
    }


def volumes_of(text: str) -> tuple[float, ...]:
    """Read pasted volumes, each with its unit, apart by commas, semicolons or lines.

    Parameters
    ----------
    text
        Such as ``"14.2 mL, 13.9 mL"``.

    Returns
    -------
    tuple of float [mm³]

    Raises
    ------
    UnitError
        A sentence that names the volume by its number in the row.

    Examples
    --------
    >>> volumes_of("14.2 mL, 13.9 mL")
    (14200.0, 13900.0)
    """
    parts = _parts(text)
    if len(parts) > _MOST:
        raise UnitError(f"{_LABELS['volumes']}: there are {len(parts)}; accepted: up to {_MOST}, or a CSV file")
    found = []
    for number, part in enumerate(parts, start=1):
        try:
            volume = tidy(parse_quantity(part, "mL").to("mm³"))
        except UnitError as error:
            raise UnitError(f"{_LABELS['volumes']}, number {number}: {error}") from None
        if not 0 < volume <= _LARGEST:
            most = plain_text(convert(_LARGEST, "mm³", "mL"))
            raise UnitError(
                f"{_LABELS['volumes']}, number {number}: '{part}' is out of range; accepted: above 0 up to {most} mL"
            )
        found.append(volume)
    return tuple(found)


def _parts(text: str) -> list[str]:
    """Split pasted volumes; a comma between two digits is no separator but a decimal comma.

    Which the grammar refuses.
    """
    return [part.strip() for part in re.split(r"[;\n]|,(?!\d)|(?<!\d),", text.strip().rstrip(",;"))]


def resolution_typed(text: str) -> float:
    """Read the resolution of a reading [mm³]; raises `UnitError` with a sentence.

    Examples
    --------
    >>> resolution_typed("0.5 mL")
    500.0
    """
    try:
        step = tidy(parse_quantity(text, "mL").to("mm³"))
    except UnitError as error:
        raise UnitError(f"{_LABELS['resolution']}: {error}") from None
    if not 0 < step <= _LARGEST:
        raise UnitError(
            f"{_LABELS['resolution']}: '{text}' is out of range; accepted: above 0, such as 0.1 mL, or empty for the"
            " last digit typed"
        )
    return step


def reasons_of(text: str) -> dict[str, str]:
    """Read which holes are left out and why.

    Parameters
    ----------
    text
        Such as ``"19: ran into a void; 7: spilled"``; empty or ``none`` leaves none out.

    Returns
    -------
    dict of str to str
        Name to reason.

    Raises
    ------
    NotAccepted
        A hole without a reason, or named twice.

    Examples
    --------
    >>> reasons_of("19: ran into a void")
    {'19': 'ran into a void'}
    """
    reasons: dict[str, str] = {}
    if text.strip() == NONE_LEFT_OUT:
        return reasons
    for part in filter(None, (part.strip() for part in text.split(";"))):
        name, colon, reason = (piece.strip() for piece in part.partition(":"))
        if not (colon and name and reason):
            raise NotAccepted(
                f"{_LABELS['exclude']}: '{part}' gives no reason; accepted: the hole, a colon and the reason, such as"
                " 19: ran into a void"
            )
        if name in reasons:
            raise NotAccepted(f"{_LABELS['exclude']}: hole {name} is there twice; accepted: each hole once")
        reasons[name] = reason
    return reasons


# ---- what is shown -------------------------------------------------------------------------------


def _shown(found: Study, worked: Worked, dose: float | None, pictures: tuple[Picture, ...]) -> str:
    case = worked.case
    what = f"{case.mark}: {case.bar.text}, {found.summary.sentence} Volumes in {found.unit}."
    large = [("Overfill that follows", "not enough holes")]
    if not found.too_few:
        large = [
            ("Overfill that follows", overfill_text(found.overfill)),
            ("Volume for each hole", found.text(found.limit)),
        ]
    lines = [found.sentence, *_judged(found, worked, dose), found.kept.sentence]
    if found.apart is not None:
        lines.append(found.apart.sentence)
    if found.plot is not None:
        lines.append(found.plot.sentence)
    lines.append(f"Whatever the shape of the scatter: {found.limits.without_normality.sentence}")
    return result_html(large, lines, [picture.svg for picture in pictures], what)


def _judged(found: Study, worked: Worked, dose: float | None) -> list[str]:
    """Say whether the job's dose is enough, and which measured holes took more."""
    if dose is None:
        return [f"The holes refer to another nominal volume, {found.text(found.V_req)}; the overfill carries over."]
    if found.too_few:
        return [f"Whether the job's rounded dose, {worked.dispense_text}, is enough cannot be told from them"]
    enough = "is enough for that" if found.enough(dose) else "is too little for that"
    lines = [
        f"The job's rounded dose, {worked.dispense_text}, comes to an overfill of"
        f" {overfill_text(found.overfill_at(dose))} and {enough}"
    ]
    short = found.short_of(dose)
    if short:
        lines.append(f"{len(short)} of the {found.n} measured holes took more than the rounded dose")
    return lines


# ---- what is saved -------------------------------------------------------------------------------


def reason_of(found: Study) -> str:
    """Say in one line which overfill follows and why, for the job's files."""
    factor = found.limits.tolerance.factor or 0.0
    return (
        f"Overfill {percent(up_to_tenth(found.overfill))} for {percent(found.share)} of the holes with confidence"
        f" {percent(found.confidence)}: mean and {factor:.4g} standard deviations of {found.n} measured holes"
    )


def evidence_values(job: Job, mark: str, found: Study, file: str, own: Mapping[str, str]) -> dict[str, Setting]:
    """Return the keys of the job file that hold the evidence; None takes away what no longer holds.

    Parameters
    ----------
    job
        The job as it stands.
    mark
        The bar group.
    found
        What the measured holes say.
    file
        CSV file in the job's folder.
    own
        Holes that are left out here and not in the file, with their reasons.

    Returns
    -------
    dict of str to Setting
        Dotted key to value.
    """
    table = f"evidence.{mark}"
    free, old = found.limits.without_normality, job.evidence.get(mark)

    def text(volume: float) -> str:
        return f"{plain_text(volume)} {found.unit}"

    # A note speaks of the holes that it was written for, and does not stay over others.
    same = old is not None and old.file == file
    note = re.sub(r";? ?Overfill [\d.]+ % for .*$", "", old.note) if old is not None and same else ""
    joined = f"{note}; {reason_of(found)}" if note else reason_of(found)
    values: dict[str, Setting] = {
        f"{table}.file": file,
        f"{table}.holes": found.n,
        f"{table}.mean": text(found.summary.mean),
        f"{table}.sd": text(found.summary.sd or 0.0),
        f"{table}.largest": text(found.summary.max),
        f"{table}.rank": free.rank,
        f"{table}.ordered": None if free.high is None else text(free.high),
        f"{table}.note": joined if len(joined) <= 200 else reason_of(found),
    }
    gone = [] if old is None else [name for name in old.excluded if name not in own]
    return values | {f"{table}.excluded.{name}": own.get(name) for name in (*own, *gone)}


def _csv_path(job: Job, mark: str, found: Study) -> Path:
    """Return a free name beside the job file, or that of a file that holds just these volumes."""
    stem = f"measured-{re.sub(r'[^A-Za-z0-9_-]', '-', mark)}"
    for number in range(1, 1000):
        path = job.folder / (f"{stem}.csv" if number == 1 else f"{stem}-{number}.csv")
        if not path.exists() or path.read_bytes() == _csv_text(mark, found).encode():
            return path
    raise NotAccepted(f"there are too many files {stem}-….csv in the job's folder")


def _csv_text(mark: str, found: Study) -> str:
    paper = io.StringIO()
    writer = csv.writer(paper, lineterminator="\n")
    writer.writerow(["hole", "mark", f"volume [{found.unit}]", "exclude", "note"])
    writer.writerows(
        [name, mark, f"{value:.10g}", "", ""] for name, value in zip(found.names, found.values, strict=True)
    )
    return paper.getvalue()
