"""The panel of the reviewer's notebook.

Choose a package, follow a result, set two revisions side by side, ask what would change, comment.

The package is only read. What is written is the comments file beside it, by the comment sheet's button alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any

import ipywidgets as widgets
from matplotlib.figure import Figure

from calc.base.errors import CalcError
from calc.base.nomenclature import NOMENCLATURE, short_words
from calc.base.sheet import Step
from calc.package.document import markup
from calc.package.manifest import PackageError, open_package, shown
from calc.review.comments import COMMENT_KINDS, comment, comments, open_comments
from calc.review.companion import CompanionError
from calc.review.compare import ON_PURPOSE, Comparison
from calc.review.compare.change import count_of
from calc.review.compare.page import sheet_name, write_sheet
from calc.review.figures import chain_picture
from calc.review.review import (
    Redone,
    Review,
    asked,
    compared,
    found_packages,
    job_keys,
    known_formulas,
    open_review,
    readable,
    waiting,
)
from calc.review.views import sensitivity
from calc.show.panel import STYLE, FieldPanel, OnScreen, button, choice_field, styled, text_field, wide
from calc.show.view import plain_symbol

_OTHER, _LINES = "", 14
_STYLE = """<style>
.dp-table {border-collapse: collapse; margin: .4rem 0; font-variant-numeric: tabular-nums}
.dp-table th, .dp-table td {text-align: left; padding: .1rem 1.6rem .1rem 0; vertical-align: top}
.dp-equation {overflow-x: auto; font-size: 17px; margin: .5rem 0}
.dp-equation math {display: inline-block; width: auto}
.dp-result summary {cursor: pointer}
.dosepanel .dp-out.dp-low {min-height: 0}
.dp-verdicts {display: grid; grid-template-columns: repeat(auto-fit, minmax(18rem, 1fr)); gap: 0 2rem}
.dp-verdicts p {margin: .1rem 0 .3rem}
</style>"""


class ReviewPanel(OnScreen):
    """A package to choose, its verdict, and four sheets to work with it.

    Parameters
    ----------
    review
        The package to begin with.

    Attributes
    ----------
    review : Review or None
        The package under review; None while none can be read.
    package, walk, revisions, question, notes : FieldPanel
        The chooser and the four sheets.
    """

    def __init__(self, review: Review) -> None:
        self.review: Review | None = review
        self._first = review
        self.package = PackageSheet(self)
        self.walk, self.revisions, self.question, self.notes = (
            WalkSheet(self),
            RevisionSheet(self),
            QuestionSheet(self),
            CommentSheet(self),
        )
        sheets = {
            "Follow a result": self.walk,
            "Two revisions": self.revisions,
            "What would change": self.question,
            "Comments": self.notes,
        }
        tabs = widgets.Tab(children=[sheet.widget for sheet in sheets.values()], titles=tuple(sheets))
        self.widget = widgets.VBox([styled(STYLE + _STYLE), self.package.widget, tabs])
        self.widget.layout.max_width = "76rem"
        self.package.start()

    def focus(self) -> None:
        """Go to the package that is chosen."""
        self.package.focus()

    def opened(self, folder: str) -> Review:
        """Open a package; the one that the notebook began with is not rechecked again."""
        begun = "" if self._first.practice else str(self._first.package.folder)
        self.review = None
        self.review = self._first if folder == begun else open_review(folder)
        return self.review

    def told(self) -> Review:
        """Return the package under review; raises `PackageError` where there is none."""
        if self.review is None:
            raise PackageError("no package is open: choose one above")
        return self.review

    def refresh(self) -> None:
        """Let every sheet follow the package."""
        for sheet in (self.walk, self.revisions, self.question, self.notes):
            sheet.follow()


class _PackageFields(FieldPanel):
    """A package to choose, or its path to type."""

    def changed(self, name: str) -> None:
        """A package that is chosen takes the place of a typed path."""
        if name == "package":
            with self.silence():
                self.fields["folder"].value = ""
        self.update()

    def folder(self) -> str:
        """The path that is typed, else the package that is chosen."""
        return self.text("folder") or self.text("package")


class _Sheet(FieldPanel):
    """A sheet that follows the package."""

    def __init__(self, panel: ReviewPanel, fields: dict[str, Any], below: Sequence[Any] = ()) -> None:
        self.panel = panel
        super().__init__(fields, below)
        self.start()

    def start(self) -> None:
        """Watch the fields; the first result comes with the package."""
        for name, field in self.fields.items():
            field.observe(lambda change, name=name: self._changed(name), names="value")

    def follow(self) -> None:
        """Take over a package that was opened."""
        self.update()


def _folders(begun: Review) -> list[tuple[str, str]]:
    """Packages to choose from: the one that the notebook names, those in the folder for packages, one for practice."""
    found = [(folder.name, str(folder)) for folder in found_packages()]
    first = str(begun.package.folder)
    if not begun.practice and first not in dict(found).values():
        found.insert(0, (begun.package.folder.name, first))
    return [*found, ("a small one for practice", "")]


class PackageSheet(_PackageFields):
    """The package to review, and what its recheck found."""

    def __init__(self, panel: ReviewPanel) -> None:
        self.panel = panel
        begun = "" if panel._first.practice else str(panel._first.package.folder)
        fields = {
            "package": choice_field("Package", _folders(panel._first), begun),
            "folder": text_field("or its folder, as a path", "exports/J-17-A"),
        }
        super().__init__(fields)
        self.output.add_class("dp-low")

    def update(self) -> None:
        """Open the package, and let the sheets follow."""
        super().update()
        self.panel.refresh()

    def compute(self) -> str:
        """Recheck the package; returns the verdict."""
        review = self.panel.opened(self.folder())
        verdict = review.verdict
        parts = [
            f'<div class="dp-what">{escape(review.package.name)}{" (for practice)" if review.practice else ""}</div>'
        ]
        words = ""
        for what, word, sentence in (
            ("Numbers", verdict.word, verdict.sentence),
            ("Documents", verdict.documents.word, verdict.documents.sentence),
        ):
            said = escape(sentence[:1].upper() + sentence[1:])
            words += f'<div><div class="dp-dose">{what}: {escape(word)}</div><p>{said}</p></div>'
        parts.append(f'<div class="dp-verdicts">{words}</div>')
        parts += [_details(title, lines) for title, lines in verdict.sections()]
        return f'<div class="dp-result" role="status">{"".join(parts)}</div>'

    def clear(self) -> None:
        """Forget the package."""
        self.panel.review = None


class WalkSheet(_Sheet):
    """Any result, back through its steps to the inputs; and its step worked again with other inputs."""

    def __init__(self, panel: ReviewPanel) -> None:
        self.current = ""
        self.redone: Redone | None = None
        self._figure = Figure()
        self.inputs = widgets.Box().add_class("dp-fields")
        self.ways = widgets.Box(layout=widgets.Layout(flex_flow="row wrap", margin=".3rem 0"))
        self._typed: dict[str, Any] = {}
        self._note, self._notes = "", dict[str, str]()
        fields = {
            "of": choice_field("Belongs to", [("the whole job", "")], ""),
            "result": choice_field("Result", [("", "")], ""),
        }
        head = widgets.HTML('<div class="dp-what">Work this step again, with other inputs:</div>')
        super().__init__(panel, fields, [self.ways])
        self.widget.children = (*self.widget.children, head, self.inputs)

    # ---- where it stands ----

    def follow(self) -> None:
        """Begin with the largest dose of the package."""
        self.current, self._note = "", ""
        with self.silence():
            self.fields["of"].options, self.fields["of"].value = [("the whole job", "")], ""
            try:
                review = self.panel.told()
                readable(review)
                self.fields["of"].options = [("the whole job", ""), *((shown(mark, 40), mark) for mark in review.marks)]
                self._list(review.governing())
            except CalcError:
                self.fields["result"].options = [("", "")]
        self._enter()

    def _list(self, identity: str) -> None:
        """List the results of a mark, and choose one by its id, or the first."""
        review = self.panel.told()
        mark = (review.step(identity).mark or "") if identity else self.text("of")
        if identity:
            self.fields["of"].value = mark
        found = review.answers_of(mark)
        # What is no step is chosen by its words; what is to be said of it is kept here.
        self._notes = {one.text: one.note for one in found if not one.step}
        answers = [(one.text, one.step or one.text) for one in found]
        steps = [
            (f"{step.id}: {shown(step.label, 60)}, {shown(step.shown, 30)}", step.id) for step in review.steps_of(mark)
        ]
        options = [*answers, *steps]
        self.fields["result"].options = options
        here = next((place for place, (_, value) in enumerate(options) if value == identity), 0)
        if options:
            self.fields["result"].index = here
        self._take()

    def _take(self) -> None:
        value = str(self.fields["result"].value or "")
        self.current, self._note = ("", self._notes[value]) if value in self._notes else (value, "")

    def changed(self, name: str) -> None:
        """Follow the choice of a mark or of a result."""
        with self.silence():
            if name == "of":
                self._list("")
            else:
                self._take()
        self._enter()

    def go(self, identity: str) -> None:
        """Go to another step."""
        with self.silence():
            self._list(identity)
        self._enter()

    def _enter(self) -> None:
        """Make the fields for the step's inputs and the ways to other steps, then show it."""
        self._typed, buttons = {}, []
        if self.current and self.panel.review is not None:
            step = self.panel.review.step(self.current)
            for one in step.inputs:
                text = one.shown.replace("°", " °") if one.unit == "°" else one.shown
                self._typed[one.name] = text_field(f"{_symbol(one.name)}, {_meaning(one.name)}"[:60], value=text)
                self._typed[one.name].observe(lambda _: self.update(), names="value")
            for link in self.panel.review.links(step):
                if link.step:
                    buttons.append(self._button(f"← {_symbol(link.name)} from {link.step}", link.step))
            for user in self.panel.review.users(self.current)[:_LINES]:
                buttons.append(self._button(f"{_symbol(user.symbol)} of {user.id} →", user.id))
        self.inputs.children, self.ways.children = tuple(self._typed.values()), tuple(buttons)
        self._loaded = {name: field.value for name, field in self._typed.items()}
        self.update()

    def _button(self, words: str, identity: str) -> Any:
        return button(
            words, lambda: self.go(identity), tooltip=f"Go to step {identity}", layout=widgets.Layout(width="auto")
        )

    # ---- what it shows ----

    def clear(self) -> None:
        """Forget the last step."""
        self.redone = None

    def compute(self) -> str:
        """Show the step, worked with what stands in its fields."""
        review = self.panel.told()
        readable(review)
        if not self.current:
            return (
                '<div class="dp-result" role="status"><p>This number is no step:'
                f" {escape(self._note or 'there is none')}.</p></div>"
            )
        changed = {
            name: field.value for name, field in self._typed.items() if field.value.strip() != self._loaded[name]
        }
        plain, other = review.redo(self.current), review.redo(self.current, changed)
        self.redone = other
        return _walked(review, plain, other, chain_picture(review, self.current, self._figure).svg)


def _symbol(name: str) -> str:
    return plain_symbol(name) if name in NOMENCLATURE else shown(name, 20)


def _meaning(name: str) -> str:
    return short_words(name) if name in NOMENCLATURE else "not in this calc"


def _walked(review: Review, plain: Redone, other: Redone, svg: str) -> str:
    step = plain.packaged
    rows = "".join(
        f"<tr><td>{escape(_symbol(link.name))}</td><td>{escape(shown(link.shown, 40))}</td>"
        f"<td>{escape(shown(link.origin))}</td></tr>"
        for link in review.links(step)
    )
    verdict = (
        ""
        if not other.changed
        else (
            '<div class="dp-doses"><div'
            f' class="dp-dose">{escape(other.step.shown if other.step else "none")}</div></div>'
        )
    )
    lines = [other.words] if other.changed else []
    here = known_formulas().get(step.formula)
    named = f"{here.id}, which is {here.address}" if here else shown(step.formula, 80)
    lines += [plain.words, f"Formula: {named}. Source: {shown(step.source)}"]
    lines += [shown(note) for note in step.notices]
    return (
        '<div class="dp-result"><div class="dp-split"><div class="dp-answer" role="status" tabindex="0"><div'
        f' class="dp-what">{escape(shown(step.id, 80))}:'
        f" {escape(shown(step.label))}, in the package"
        f" <b>{escape(shown(step.shown, 60))}</b></div>{verdict}{_equation(other.step)}<ul>{_items(lines)}</ul></div>"
        f'<div class="dp-paper">{svg}</div></div><table'
        ' class="dp-table"><thead><tr><th>Input</th><th>In the package</th><th>Where'
        f" from</th></tr></thead><tbody>{rows}</tbody></table>{_larger(review, step)}</div>"
    )


def _larger(review: Review, step: Step) -> str:
    block = sensitivity(review, step.id).block
    rows = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in block["rows"])
    head = "".join(f"<th>{escape(name)}</th>" for name in block["columns"])
    table = f'<table class="dp-table"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    return f"<details><summary>{escape(block['caption'])}</summary>{table}</details>"


def _equation(step: Step | None) -> str:
    """Typeset the installed formula; what the package has as LaTeX is never drawn."""
    if step is None:
        return ""
    mathml = markup.convert_all([step.latex])[step.latex][1]
    return f'<div class="dp-equation">{markup.equation_html(step.latex, mathml, True)}</div>'


def _items(lines: Sequence[str]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


def _details(title: str, lines: Sequence[str], opened: bool = False) -> str:
    return (
        f"<details{' open' if opened else ''}><summary>{escape(title)}"
        f" ({len(lines)})</summary><ul>{_items(waiting(lines, 60))}</ul></details>"
    )


def _comparison(found: Comparison) -> str:
    parts = [_details(title, lines, title == ON_PURPOSE or len(lines) <= _LINES) for title, lines in found.sections()]
    return f'<div class="dp-result" role="status"><p><b>{escape(found.summary)}</b></p>{"".join(parts)}</div>'


class RevisionSheet(_Sheet, _PackageFields):
    """The package beside an earlier revision."""

    def __init__(self, panel: ReviewPanel) -> None:
        fields = {
            "package": choice_field("Earlier revision", [("choose one", _OTHER)], _OTHER),
            "folder": text_field("or its folder, as a path", "exports/J-17-A"),
        }
        self.sheet = button("Write it as a sheet to be filed", self._write, "save", layout=widgets.Layout(width="auto"))
        self.said = widgets.HTML(value="")
        super().__init__(panel, fields, [self.sheet, self.said])

    def _write(self) -> None:
        """Write the sheet beside the package, where it does not become a part of it."""
        try:
            review = self.panel.told()
            if self.result is None:
                raise PackageError("choose the revision to compare with")
            path = review.package.folder.resolve().parent / f"{sheet_name(self.result)}.pdf"
            pages = write_sheet(self.result, path)
        except (CalcError, OSError) as error:
            self.said.value = (
                f'<div class="dp-sentence" role="alert"><b>Nothing was written.</b> {escape(str(error))}.</div>'
            )
            return
        self.said.value = (
            f'<div class="dp-saved" role="status">{count_of(pages, "page")}: {escape(shown(str(path)))}</div>'
        )

    def follow(self) -> None:
        """Offer the other packages."""
        self.said.value = ""
        with self.silence():
            review = self.panel.review
            own = str(review.package.folder.resolve()) if review else ""
            others = [(folder.name, str(folder)) for folder in found_packages() if str(folder.resolve()) != own]
            first = "the practice package's revision A" if review and review.practice else "choose one"
            self.fields["package"].options, self.fields["package"].value = [(first, _OTHER), *others], _OTHER
            self.fields["folder"].value = ""
        self.update()

    def compute(self) -> str:
        """Compare the two."""
        review = self.panel.told()
        self.result = compared(review, self.folder())
        if self.result is None:
            return '<div class="dp-result" role="status"><p>Choose the revision to compare with.</p></div>'
        return _comparison(self.result)


class QuestionSheet(_Sheet):
    """One input changed in a copy, and the list of what would change."""

    def __init__(self, panel: ReviewPanel) -> None:
        self._keys: dict[str, str] = {}
        super().__init__(panel, {"key": choice_field("Input", [("", "")], ""), "value": text_field("New value")})

    def follow(self) -> None:
        """List the package's inputs."""
        self._keys = {}
        review = self.panel.review
        if review is not None and not review.package.damage:
            try:
                self._keys = job_keys(review.package)
            except CalcError as error:
                self._keys = {}
                self.message = str(error)
        with self.silence():
            self.fields["key"].options = [(f"{key} = {shown(text, 40)}", key) for key, text in self._keys.items()] or [
                ("", "")
            ]
            self.fields["key"].index = 0
            self.fields["value"].value = self._keys.get(self.text("key"), "")
        self.update()

    def changed(self, name: str) -> None:
        """Put the present value of another input into the field."""
        if name == "key":
            with self.silence():
                self.fields["value"].value = self._keys.get(self.text("key"), "")
        self.update()

    def compute(self) -> str:
        """Compute the copy."""
        review, key = self.panel.told(), self.text("key")
        readable(review)
        if self.text("value") == self._keys.get(key, "").strip():
            return (
                '<div class="dp-result" role="status"><p>Type another value: it is tried on a copy, and the package'
                " stays as it is.</p></div>"
            )
        self.result = asked(review.package, key, self.text("value"))
        return _comparison(self.result)


class CommentSheet(_Sheet):
    """Comments to write, in a file beside the package."""

    def __init__(self, panel: ReviewPanel) -> None:
        area = wide(
            widgets.Textarea(
                description="Comment",
                placeholder="What is asked or found, in a sentence or two",
                layout=widgets.Layout(height="5rem"),
            )
        )
        fields = {
            "kind": choice_field("Kind", COMMENT_KINDS, "question"),
            "about": text_field("About step or check", "01.B6.V_a"),
            "answers": text_field("Answers number", "1, or nothing"),
            "anyway": text_field("Reason, to settle", "why, where somebody else asked for the change"),
            "name": text_field("Your name"),
            "text": area,
        }
        self.here = button("Take the step that is followed", self._take, layout=widgets.Layout(width="auto"))
        self.add = button("Add the comment", self._add, "save", layout=widgets.Layout(width="auto"))
        self.said = widgets.HTML(value="")
        super().__init__(panel, fields, [widgets.HBox([self.here, self.add]), self.said])

    def _take(self) -> None:
        self.fields["about"].value = self.panel.walk.current

    def follow(self) -> None:
        """Show the comments of a package that was opened."""
        self.said.value = ""
        self.update()

    def changed(self, name: str) -> None:
        """Nothing is written while somebody types."""

    def _add(self) -> None:
        try:
            folder = self.panel.told().package.folder
            written = comment(
                folder,
                text=str(self.fields["text"].value),
                name=self.text("name"),
                kind=self.text("kind"),
                about=self.text("about"),
                answers=self.text("answers"),
                anyway=self.text("anyway"),
            )
        except (CompanionError, PackageError, OSError) as error:
            self.said.value = (
                f'<div class="dp-sentence" role="alert"><b>Nothing was written.</b> {escape(str(error))}.</div>'
            )
            return
        with self.silence():
            for field in ("text", "answers", "anyway"):
                self.fields[field].value = ""
        place = "for as long as this notebook runs" if self.panel.told().practice else f"in {folder / 'comments.json'}"
        self.said.value = (
            f'<div class="dp-saved" role="status">Comment {escape(written.number)} stands {escape(place)}.</div>'
        )
        self.update()

    def compute(self) -> str:
        """List the comments, those that wait for an answer first."""
        review = self.panel.told()
        package = open_package(review.package.folder)
        found, wrong = comments(package)
        if wrong:
            raise PackageError(f"the comments file does not count: {wrong}")
        open_ones = open_comments(found)
        rest = [one for one in found if one not in open_ones]
        lists = (("Open", open_ones), ("All others", rest))
        parts = [_details(title, [one.words(package) for one in some], True) for title, some in lists if some]
        return f'<div class="dp-result" role="status">{"".join(parts) if found else "<p>No comment yet.</p>"}</div>'
