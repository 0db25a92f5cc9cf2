"""The package from the first page: build it, open its PDF, recheck it, compare it, comment on it, sign it."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from calc.base.errors import FAULT, CalcError
from calc.files.job import Job
from calc.package.build import CALCULATION, build
from calc.review.comments import COMMENT_KINDS, comment
from calc.review.compare import compare
from calc.review.recheck import recheck
from calc.review.review import found_packages
from calc.review.signing import sign
from calc.show.panel import OnScreen, button, choice_field, closed, text_field, wide

EXPORTS = "exports"  # beside the job file: the folder of its packages
_STAGES = 17
_ROLES = ("prepared", "checked", "approved")
_NONE = "none yet: build one"


class Making(OnScreen):
    """Buttons for the packages of a job; what takes long is done in the background, with its progress.

    Parameters
    ----------
    job
        The job.

    Attributes
    ----------
    packages : Dropdown
        The package that the other buttons are about.
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self._worker: threading.Thread | None = None
        self.bar = widgets.IntProgress(max=_STAGES, layout=widgets.Layout(width="16rem", visibility="hidden"))
        self.stage, self.said, self.opened = widgets.HTML(), widgets.HTML(), widgets.Output()
        self.replace = widgets.Checkbox(description="replace the package of this revision", indent=False)
        self.build = button("Build the package", self._build, "cogs", layout=widgets.Layout(width="auto"))
        self.packages = choice_field("Package", [(_NONE, "")], "")
        self.earlier = choice_field("Earlier revision", [(_NONE, "")], "")
        self.packages.observe(lambda _: self._link(), names="value")
        self.name = text_field("Your name")
        self.role = choice_field("You sign as", _ROLES, _ROLES[0])
        self.kind = choice_field("Kind of comment", COMMENT_KINDS, COMMENT_KINDS[0])
        self.text = wide(widgets.Textarea(description="Comment", rows=2))
        self.reason = text_field("Reason, where you sign although something stands in the way")
        acts = {"Recheck": self._recheck, "Compare": self._compare, "Comment": self._comment, "Sign": self._sign}
        self.acts = {name: button(name, act, layout=widgets.Layout(width="auto")) for name, act in acts.items()}
        fields = [self.packages, self.earlier, self.name, self.role, self.reason, self.kind, self.text]
        self.widget = widgets.VBox(
            [
                widgets.HBox([self.build, self.replace, self.bar, self.stage]).add_class("dp-actions"),
                self.opened,
                widgets.Box(fields).add_class("dp-fields"),
                widgets.HBox(list(self.acts.values())).add_class("dp-actions"),
                self.said,
            ]
        )
        self.follow(job)

    # ---- what is there ----

    def follow(self, job: Job) -> None:
        """Take the job as it reads now, and list its packages."""
        self.job = job
        folder = job.folder / EXPORTS
        found = [(path.name, str(path)) for path in found_packages(folder)] if folder.is_dir() else []
        chosen, before = self.packages.value, self.earlier.value
        options = found or [(_NONE, "")]
        self.packages.options, self.earlier.options = options, options
        values = [value for _, value in options]
        self.packages.value = chosen if chosen in values else values[0]
        self.earlier.value = before if before in values and before else values[-1]
        self._link()

    def _link(self) -> None:
        """Offer the PDF and the page of the package that is chosen."""
        folder = Path(self.packages.value or "")
        if not self.packages.value:
            self.opened.outputs = ()
            return
        place = Path(os.path.relpath(folder, Path.cwd())).as_posix()
        links = f"[Open the PDF of {folder.name}]({place}/{CALCULATION}) · [as a page]({place}/calculation.html)"
        self.opened.outputs = (
            {"output_type": "display_data", "data": {"text/markdown": links, "text/plain": links}, "metadata": {}},
        )

    # ---- what is done ----

    def _run(self, what: str, act: Callable[[Callable[[str], None]], list[str]]) -> None:
        """Do something in the background; whatever stops it is told in its place."""
        if self._worker is not None and self._worker.is_alive():
            self._say(["Something is being done: wait until it has finished."], wrong=True)
            return
        self.bar.value, self.bar.layout.visibility = 0, "visible"
        self._stage(what)
        self._worker = threading.Thread(target=self._done, args=(act,), daemon=True)
        self._worker.start()

    def _done(self, act: Callable[[Callable[[str], None]], list[str]]) -> None:
        lines, wrong = [FAULT], True
        try:
            lines, wrong = act(self._stage), False
        except (CalcError, OSError) as error:
            lines = [closed(str(error))]
        finally:
            self.bar.layout.visibility = "hidden"
            self.stage.value = ""
            self._say(lines, wrong=wrong)
            self.follow(self.job)

    def finish(self, timeout: float = 600.0) -> None:
        """Wait until nothing runs any more."""
        if self._worker is not None:
            self._worker.join(timeout)

    def _stage(self, words: str) -> None:
        self.bar.value += 1
        self.stage.value = f'<div class="dp-saved" role="status">{escape(words)}</div>'

    def _say(self, lines: list[str], *, wrong: bool = False) -> None:
        items = "".join(f"<li>{escape(line)}</li>" for line in lines)
        kind = 'dp-sentence" role="alert' if wrong else 'dp-saved" role="status'
        self.said.value = f'<div class="{kind}"><ul>{items}</ul></div>'

    def _package(self) -> Path:
        if not self.packages.value:
            raise PackageMissing("there is no package yet: build one first")
        return Path(self.packages.value)

    def _build(self) -> None:
        def act(progress: Callable[[str], None]) -> list[str]:
            said: list[str] = []
            out = self.job.folder / EXPORTS
            place, results = build(
                self.job.path, out=out, replace=self.replace.value, progress=progress, say=said.append
            )
            self.packages.options = [*self.packages.options, (place.name, str(place))]
            self.packages.value = str(place)
            return [*said, *results.headline, f"Built: {place.name}"]

        self._run("building", act)

    def _recheck(self) -> None:
        self._run("rechecking", lambda progress: _lines(recheck(self._package(), progress=progress).text()))

    def _compare(self) -> None:
        self._run("comparing", lambda _: _lines(compare(Path(self.earlier.value), self._package()).text()))

    def _comment(self) -> None:
        def act(_: object) -> list[str]:
            written = comment(
                self._package(), text=str(self.text.value), name=str(self.name.value), kind=str(self.kind.value)
            )
            self.text.value = ""
            return [f"Comment {written.number} stands beside the package."]

        self._run("writing", act)

    def _sign(self) -> None:
        def act(progress: Callable[[str], None]) -> list[str]:
            how: Mapping[str, Any] = {"role": self.role.value, "name": str(self.name.value).strip()}
            record = sign(self._package(), **how, anyway=str(self.reason.value).strip(), progress=progress)
            return [f"{record.role} by {record.name}, {record.date}, for the manifest {record.manifest_digest[:12]}"]

        self._run("rechecking before it is signed", act)


class PackageMissing(CalcError):
    """There is nothing to do this with."""


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]
