"""The scenes about one hole: what is in it, what changes it, and what a short one costs. One class each."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from calc.base.display import Display
from calc.base.units import convert
from calc.fill.level import surface_depth
from calc.lesson import numbers, pictures
from calc.lesson.pictures import Mark, Note, Row
from calc.lesson.scene import Range, Scene, percent, signed
from calc.lesson.texts import Texts
from calc.show.panel import choice_field


class RingScene(Scene):
    """What is in the hole: hole less bar is ring, by hand."""

    key = "ring"
    correct = "ring"

    def make_fields(self) -> None:
        """Bar and hole."""
        pairs = (self.examples.small, self.examples.main, *self.examples.others)
        self._controls["pair"] = choice_field(
            self.room.texts.say("names.pair"), [(self._named(p), n) for n, p in enumerate(pairs)], 2
        )
        self._pairs = pairs
        pair = pairs[2]  # not the one that was asked about: the answer comes with the next step
        unit, step = self.length_unit, self.display.usual(0.5, 0.05)
        low, high = (convert(v, "mm", unit) for v in (pair.phi, 2 * pair.phi))
        self.add_range(
            "hole",
            Range("hole_diameter", unit, round(low + step, 4), round(high, 4), step),
            convert(pair.d_0, "mm", unit),
        )

    def _named(self, pair: numbers.Pair) -> str:
        return self.deck("pair", phi=self.size(pair.phi), d_0=self.size(pair.d_0), l_v=self.size(pair.l_v))

    def choices(self) -> list[tuple[str, str]]:
        """The three volumes that are mistaken for each other."""
        found = numbers.ring(self.pair)
        return sorted(
            ((key, self.volume(getattr(found, key))) for key in ("ring", "bar", "hole")),
            key=lambda one: getattr(found, one[0]),
        )

    def changed(self, name: str) -> None:
        """A pair of another size sets hole and range."""
        if name == "pair":
            pair = self._pairs[self.fields["pair"].value]
            old = self.ranges["hole"]
            low, high = (
                round(convert(pair.phi, "mm", old.unit) + old.step, 4),
                round(2 * convert(pair.phi, "mm", old.unit), 4),
            )
            self.ranges["hole"] = Range(old.name, old.unit, low, high, old.step)
            with self.silence():
                slider = self.fields["hole_slider"]
                # Widen first: a slider refuses a least value above its greatest.
                slider.min, slider.max = min(slider.min, low), max(slider.max, high)
                slider.value = convert(pair.d_0, "mm", old.unit)
                slider.min, slider.max = low, high
                self.fields["hole"].value = self.ranges["hole"].text(slider.value)
                span = self.deck("range", low=f"{low:g}", high=f"{high:g}")
                words = self.room.texts.say("names.hole_diameter")
                self.fields["hole"].description = f"{words} [{old.unit}], {span}"
        super().changed(name)

    def _sum(self, pair: numbers.Pair, hidden: bool = False, widest: float = 0.0) -> str:
        found = numbers.ring(pair)
        texts = {key: self.volume(getattr(found, key)) for key in ("hole", "bar", "ring")}
        shown = ["?"] * 3 if hidden else list(texts.values())
        alt = self.ask() if hidden else self.tell("finding", **texts)
        names = [self.tell(key) for key in ("hole", "bar", "left")]
        return self.paper(
            pictures.sum_picture(d_0=pair.d_0, phi=pair.phi, names=names, values=shown, alt=alt, widest=widest)
        )

    def predict_html(self) -> str:
        """Draw the sum without numbers."""
        return self._sum(self.pair, hidden=True)

    def try_html(self) -> str:
        """Draw the sum for what is typed."""
        base = self._pairs[self.fields["pair"].value]
        pair = numbers.Pair(base.bar, self.mm("hole"), base.l_v)
        return (
            self._sum(pair, widest=2 * base.phi)
            + self.line(self.picture.alt if self.picture else "")
            + self._grown(base, pair)
        )

    def _grown(self, base: numbers.Pair, pair: numbers.Pair) -> str:
        """Say by which shares hole and ring changed; nothing while the hole is the listed one."""
        before, now = numbers.ring(base), numbers.ring(pair)
        if abs(pair.d_0 - base.d_0) < 1e-6:
            return ""
        shares = {key: signed(numbers.more(getattr(now, key), getattr(before, key))) for key in ("hole", "ring")}
        return self.line(self.tell("grown", d_0=self.size(base.d_0), **shares))

    def reveal_html(self) -> str:
        """Say it, and typeset it."""
        found = numbers.ring(self.pair)
        answer = self.tell("answer", **{key: self.volume(getattr(found, key)) for key in ("hole", "bar", "ring")})
        steps = numbers.ring_steps(self.pair, self.system, self.tell("title"))
        return (
            self._sum(self.pair)
            + self.guess_line()
            + self.line(answer, "answer")
            + self.formulas(steps[-1:])
            + self.symbols("V_a", "d_0", "phi", "l_v")
        )


class OtherHoleScene(Scene):
    """Same bar, other hole: why a tenth of a millimetre matters."""

    key = "other_hole"
    correct = "ring"

    def make_fields(self) -> None:
        """The hole that was drilled."""
        unit, pair = self.length_unit, self.pair
        low, high = (convert(pair.d_0 + v, "mm", unit) for v in (0.0, 1.0))
        step = self.display.usual(0.05, 0.005)
        self.add_range("hole", Range("hole_diameter", unit, round(low, 4), round(high, 3), step), low)

    def values(self) -> dict[str, str]:
        """The step."""
        return {"step": self.step_text}

    @property
    def step_text(self) -> str:
        """The step as it is said: a drill gauge has sixty-fourths."""
        return self.display.usual(self.size(self.examples.small_step), "1/64 in")

    def _shares(self) -> dict[str, float]:
        pair = self.pair
        wider = pair.d_0 + self.examples.small_step
        area = numbers.more(numbers.content(d_0=wider, length=pair.l_v), numbers.content(d_0=pair.d_0, length=pair.l_v))
        return {"width": numbers.more(wider, pair.d_0), "area": area, "ring": numbers.other_hole(pair, wider).more}

    def choices(self) -> list[tuple[str, str]]:
        """The width's share, the whole hole's, and the ring's."""
        return [(key, percent(share)) for key, share in self._shares().items()]

    def _rows(self, d_0: float, hidden: bool = False) -> str:
        pair, other = self.pair, numbers.other_hole(self.pair, d_0)
        words = "?" if hidden else self.tell("row_words", volume=self.volume(other.needed), more=signed(other.more))
        rows = [
            Row(self.tell("row_planned", d_0=self.size(pair.d_0)), other.planned, self.volume(other.planned)),
            Row(
                self.tell("row_drilled", d_0=self._exact(d_0)),
                other.planned if hidden else other.needed,
                words,
                bad=other.bare > 0 and not hidden,
            ),
        ]
        alt = self.ask() if hidden else self._finding(d_0, other)
        # The scale stays while the slider moves, or the planned hole would seem to shrink.
        most = numbers.other_hole(pair, pair.d_0 + 1.0).needed
        marks = [] if hidden else [Mark(other.planned, self.tell("need_line"))]
        return self.paper(pictures.lengths(rows=rows, marks=marks, alt=alt, most=most))

    def _exact(self, d_0: float) -> str:
        return self.display.fine_length(d_0)

    def _finding(self, d_0: float, other: numbers.OtherHole) -> str:
        if other.bare <= 0:
            return self.tell("fits")
        return self.tell(
            "finding", d_0=self._exact(d_0), more=percent(other.more), bare=self.display.length(other.bare)
        )

    def predict_html(self) -> str:
        """Draw both holes to the same length."""
        return self._rows(self.pair.d_0 + self.examples.small_step, hidden=True)

    def try_html(self) -> str:
        """Draw what the typed hole needs."""
        return self._rows(self.mm("hole")) + self.line(self.picture.alt if self.picture else "")

    def reveal_html(self) -> str:
        """Say it, and what bits do."""
        shares = self._shares()
        answer = self.tell("answer", step=self.step_text, wider=percent(shares["width"]), more=percent(shares["ring"]))
        rows = numbers.bit_rows(self.pair)
        bits = (
            self.tell("bits", **{state: signed(other.more) for state, _, _, other in rows})
            if rows
            else self.tell("bits_us")
        )
        wider = self.pair.d_0 + self.examples.small_step
        return self._rows(wider) + self.guess_line() + self.line(answer, "answer") + self.line(bits)


class HalfFullScene(Scene):
    """Half full or two thirds: where the rule of thumb leaves a thin bar short and drowns a thick one."""

    key = "halffull"

    def make_fields(self) -> None:
        """Which pair, and how full."""
        self._pairs = (self.examples.small, self.pair, *self.examples.others)
        named = [(self._both(pair), number) for number, pair in enumerate(self._pairs)]
        self._controls["pair"] = choice_field(self.room.texts.say("names.pair"), named, 0)
        self.add_range("share", Range("share", "%", 5.0, 100.0, 1.0), 5.0)

    def values(self) -> dict[str, str]:
        """Both bars."""
        return {"small": self._both(self.examples.small), "main": self._both(self.pair)}

    def _both(self, pair: numbers.Pair) -> str:
        return self.deck("both", phi=self.size(pair.phi), d_0=self.size(pair.d_0))

    def choices(self) -> list[tuple[str, str]]:
        """Each way it can go."""
        return [(key, self.tell(f"choice_{key}")) for key in ("fits", "split", "over", "under")]

    def right(self) -> str:
        """What half full does to the two."""
        thin, thick = (numbers.filled(pair, 0.5).more for pair in (self.examples.small, self.pair))
        if thin < 0 < thick:
            return "split"
        return "over" if min(thin, thick) > 0 else "under" if max(thin, thick) < 0 else "fits"

    def predict_html(self) -> str:
        """Draw a hole that is filled to half, with no bar."""
        pair = self.examples.small
        done = numbers.filled(pair, 0.5)
        level = surface_depth(V=done.volume, x=0.0, **pair.size)
        notes = [Note(level, self.tell("note_level", share=percent(0.5)), strong=True)]
        return self.paper(
            pictures.section(pair, x=0.0, surface=level, notes=notes, foot=self.tell("foot"), alt=self.ask(), bar=False)
        )

    def try_html(self) -> str:
        """Draw how it ends."""
        pair, share = self._pairs[self.fields["pair"].value], self.share("share")
        done = numbers.filled(pair, share)
        level = surface_depth(V=done.volume, x=0.0, **pair.size)
        ends = surface_depth(V=done.volume, x=pair.l_v, **pair.size)
        said = {"share": percent(share), "bar": self.size(pair.phi)}
        notes = [Note(level, self.tell("note_level", share=percent(share)))]
        if done.bare > 1e-6:
            bare = self.display.length(done.bare)
            notes.append(Note(done.bare / 2, self.tell("note_short", bare=bare), alarm=True))
            alt = self.tell("finding_short", bare=bare, **said)
        elif done.spilt > 1.0:
            spilt = self.volume(done.spilt)
            notes.append(Note(0.0, self.tell("note_over", spilt=spilt), strong=True))
            alt = self.tell("finding_over", spilt=spilt, **said)
        else:
            notes.append(Note(0.0, self.tell("note_full"), strong=True))
            alt = self.tell("finding_full", **said)
        drawn = pictures.section(
            pair,
            x=pair.l_v,
            surface=ends,
            spilt_share=done.spilt / done.volume,
            notes=notes,
            foot=self.tell("foot"),
            alt=alt,
        )
        return self.paper(drawn) + self.line(alt)

    def reveal_html(self) -> str:
        """Draw what half and two thirds give of what two pairs need; no pair's own share, which the next scene asks."""
        rows = []
        for pair in (self.examples.small, self.pair):
            for share, key in ((1 / 2, "half"), (2 / 3, "two_thirds")):
                done = numbers.filled(pair, share)
                words = self.tell("row_words", more=signed(done.more))
                rows.append(Row(f"{self._both(pair)}, {self.tell(key)}", 1 + done.more, words, bad=done.more < 0))
        marks = [Mark(1.0, self.tell("need_line"))]
        short, over = numbers.filled(self.examples.small, 1 / 2).more, numbers.filled(self.pair, 2 / 3).more
        answer = self.tell("answer", **self.values(), short=percent(abs(short)), over=percent(over))
        told = said_between(self.room.texts, self.display, self._pairs)
        drawn = pictures.lengths(rows=rows, marks=marks, alt=answer)
        lines = self.line(answer, "answer") + self.line(told) + self.line(self.tell("source"), "quiet")
        return self.paper(drawn) + self.guess_line() + lines


def said_between(texts: Texts, display: Display, pairs: Sequence[numbers.Pair]) -> str:
    """Say which of some pairs the rule of thumb suits: those whose own share lies between half and two thirds."""
    found = numbers.between(pairs)
    named = [
        texts.say(
            "halffull.one",
            pair=texts.say("deck.both", phi=display.size(pair.phi), d_0=display.size(pair.d_0)),
            share=percent(share),
        )
        for pair, share in found
    ]
    return texts.say(
        "halffull.some" if found else "halffull.none", found=len(found), count=len(pairs), pairs="; ".join(named)
    )


class PushScene(Scene):
    """Push the bar in: the mortar rises, and reaches the mouth when the bar is home."""

    key = "push"
    correct = "right"

    @property
    def pair(self) -> numbers.Pair:
        """A pair whose share no scene before this one has given away."""
        return self.examples.pushed

    def make_fields(self) -> None:
        """How deep, and how much."""
        depth, unit = convert(self.pair.l_v, "mm", self.length_unit), self.length_unit
        self.add_range("depth", Range("depth", unit, 0.0, depth, depth / 100), 0.0)
        self.add_range("dose", Range("dose", "%", -40.0, 50.0, 1.0), -40.0)

    def _shares(self) -> list[tuple[str, float]]:
        return [("right", numbers.filled(self.pair, 0.5).needed_share), ("half", 1 / 2), ("two_thirds", 2 / 3)]

    def choices(self) -> list[tuple[str, str]]:
        """How full it looks."""
        return [(key, percent(share)) for key, share in self._shares()]

    def _drawn(self, x: float, overfill: float, hidden: bool = False) -> str:
        pair, now = self.pair, numbers.pushed(self.pair, x, overfill)
        display = self.display
        surface, spilt = display.length(now.surface), self.volume(now.spilt)
        notes = [] if hidden or x == 0 else [Note(x, self.tell("note_bar", x=display.length(x)))]
        if not hidden:
            words = self.tell("note_surface", surface=surface) if now.surface > 0 else self.tell("note_mouth")
            notes.append(Note(now.surface, words, strong=True))
        if now.spilt > 1.0:
            notes.append(Note(0.0, self.tell("note_spilt", spilt=spilt), strong=True))
        home = x >= pair.l_v * (1 - 1e-9)
        if home and now.bare_home > 1e-6:
            notes = [
                Note(now.bare_home / 2, self.tell("note_home_short", bare=display.length(now.bare_home)), alarm=True)
            ]
        key = "finding" if now.surface > 0 else "finding_mouth"
        alt = (
            self.ask()
            if hidden
            else self.tell(key, volume=self.volume(now.volume), x=display.length(x), surface=surface, spilt=spilt)
        )
        drawn = pictures.section(
            pair,
            x=x,
            surface=pair.l_v if hidden else now.surface,
            spilt_share=now.spilt / now.volume,
            notes=notes,
            foot=self.deck("not_to_scale"),
            alt=alt,
            bar=x > 0,
        )
        return self.paper(drawn)

    def predict_html(self) -> str:
        """Draw the empty hole."""
        return self._drawn(0.0, 0.0, hidden=True)

    def try_html(self) -> str:
        """Draw the bar where it is pushed to."""
        return self._drawn(self.mm("depth"), self.share("dose")) + self.line(self.picture.alt if self.picture else "")

    def reveal_html(self) -> str:
        """Say how full it looked."""
        start = numbers.pushed(self.pair, 0.0, 0.0)
        answer = self.tell(
            "answer",
            share=percent(numbers.filled(self.pair, 0.5).needed_share),
            surface=self.display.length(start.surface),
        )
        return (
            self._drawn(0.0, 0.0)
            + self.guess_line()
            + self.line(answer, "answer")
            + self.line(self.tell("answer_look"))
        )


class PocketScene(Scene):
    """The pocket at the back: the nozzle did not start there. The assumption stands on the screen."""

    key = "pocket"
    correct = "more"
    overfill = 0.1

    @property
    def start_mm(self) -> float:
        """Where the nozzle starts in the question [mm]."""
        return self.display.usual(20.0, convert(0.75, "in", "mm"))

    def make_fields(self) -> None:
        """Where the nozzle started."""
        unit = self.length_unit
        high, step = self.display.usual((60.0, 1.0), (2.5, 0.05))
        self.add_range("start", Range("start", unit, 0.0, high, step), 0.0)

    def values(self) -> dict[str, str]:
        """The start."""
        return {"start": self.size(self.start_mm), "more": percent(self.overfill)}

    def choices(self) -> list[tuple[str, str]]:
        """Nothing, as much, or more."""
        bare = numbers.pocket(self.pair, self.start_mm, self.overfill).bare
        return [
            ("none", self.tell("choice_none")),
            ("same", self.size(self.start_mm)),
            ("more", self.display.length(bare)),
        ]

    def hint_values(self) -> dict[str, object]:
        """The overfill."""
        return {"more": percent(self.overfill)}

    def _drawn(self, start: float) -> str:
        found, pair = numbers.pocket(self.pair, start, self.overfill), self.pair
        bare, spilt = self.display.length(found.bare), self.volume(found.spilt)
        notes = [
            Note(0.0, self.tell("note_spilt", spilt=spilt)),
            Note(
                (pair.l_v - found.bare) / 2,
                self.tell("note_good", bonded=self.display.length(found.bonded)),
                strong=True,
            ),
        ]
        if found.bare > 0:
            notes.append(Note(pair.l_v - found.bare / 2, self.tell("note_air", bare=bare), alarm=True))
        alt = self.tell("finding", start=self.size(start), bare=bare, spilt=spilt)
        return self.paper(
            pictures.section(
                pair,
                x=pair.l_v,
                surface=0.0,
                spilt_share=0.15,
                pocket=found.bare,
                notes=notes,
                foot=self.deck("not_to_scale"),
                alt=alt,
            )
        )

    def predict_html(self) -> str:
        """Draw mortar in front, air behind, no bar."""
        pair = self.pair
        notes = [Note(pair.l_v - self.start_mm / 2, self.size(self.start_mm), alarm=True)]
        foot = self.deck("not_to_scale")
        drawn = pictures.section(
            pair, x=0.0, surface=pair.l_v / 2, pocket=self.start_mm, notes=notes, foot=foot, alt=self.ask(), bar=False
        )
        return self.paper(drawn) + self.line(self.tell("assumption"), "quiet")

    def try_html(self) -> str:
        """Draw the pocket for the typed start."""
        return (
            self._drawn(self.mm("start"))
            + self.line(self.picture.alt if self.picture else "")
            + self.line(self.tell("assumption"), "quiet")
        )

    def reveal_html(self) -> str:
        """Say why it is more."""
        found = numbers.pocket(self.pair, self.start_mm, self.overfill)
        said = {**self.values(), "bare": self.display.length(found.bare), "spilt": self.volume(found.spilt)}
        lines = (
            self.line(self.tell("answer", **said), "answer")
            + self.line(self.tell("answer_do"))
            + self.line(self.tell("assumption"), "quiet")
        )
        return self._drawn(self.start_mm) + self.guess_line() + lines


class ShortScene(Scene):
    """The short hole: millilitres, millimetres, kilonewtons."""

    key = "short"
    asked = 0.2

    @property
    def pair(self) -> numbers.Pair:
        """The deep hole: a short one is not counted on at all."""
        return self.examples.deep

    def make_fields(self) -> None:
        """How much is missing."""
        self.add_range("missing", Range("missing", "%", 0.0, 50.0, 1.0), 0.0)

    def force(self, value: float) -> str:
        """Write a force."""
        return f"{convert(value, 'N', self.display.force_unit):.1f} {self.display.force_unit}"

    def values(self) -> dict[str, str]:
        """Demand and share."""
        return {**super().values(), "demand": self.force(numbers.held(self.system).N_Ed), "share": percent(self.asked)}

    def choices(self) -> list[tuple[str, str]]:
        """The three ways it can go."""
        return [(key, self.tell(f"choice_{key}")) for key in ("yes", "less", "none")]

    def right(self) -> str:
        """What the law says."""
        found = numbers.short(self.system, self.asked)
        return "yes" if found.passes else "none" if found.bar.N_R == 0 else "less"

    def _said(self, found: numbers.Short) -> dict[str, str]:
        return {
            "missing": self.volume(found.missing),
            "bare": self.display.length(found.bar.u),
            "bonded": self.display.length(found.bar.l_b),
            "force": self.force(found.bar.N_R),
            "full": self.force(found.full),
            "demand": self.force(found.N_Ed),
            "least": self.display.length(numbers.held(self.system).law.least_length),
        }

    def _drawn(self, share: float) -> str:
        found = numbers.short(self.system, share)
        said = self._said(found)
        rows = [
            Row(self.tell("row_full"), found.full, self.tell("row_words", force=said["full"])),
            Row(
                self.tell("row_now", missing=said["missing"]),
                found.bar.N_R,
                self.tell("row_words", force=said["force"]),
                bad=not found.passes,
            ),
        ]
        alt = self.tell("finding", **said)
        drawn = pictures.lengths(
            rows=rows, marks=[Mark(found.N_Ed, self.tell("need_line", demand=said["demand"]))], alt=alt
        )
        key = "passes" if found.passes else "nothing" if found.bar.N_R == 0 else "fails"
        return self.paper(drawn) + self.line(self.tell(key, **said), "good" if found.passes else "bad")

    def predict_html(self) -> str:
        """Draw the short hole, without its force."""
        found, pair = numbers.short(self.system, self.asked), self.pair
        words = self.tell("row_now", missing=self.volume(found.missing))
        notes: Sequence[Note] = [Note(found.bar.u / 2, words, alarm=True)]
        return self.paper(
            pictures.section(
                pair, x=pair.l_v, surface=found.bar.u, notes=notes, foot=self.deck("not_to_scale"), alt=self.ask()
            )
        )

    def try_html(self) -> str:
        """Draw the forces for what is missing."""
        share = self.share("missing")
        return (
            self._drawn(share)
            + self.line(self.tell("missing_line", **self._said(numbers.short(self.system, share))))
            + self._basis()
        )

    def _basis(self) -> str:
        model = numbers.short(self.system, self.asked).bar.chain.notices[0].text
        return (
            self.line(self.tell("code", code=numbers.held(self.system).law.code), "quiet")
            + f'<p class="ls-quiet" lang="en">{escape(model)}</p>'
        )

    def reveal_html(self) -> str:
        """Say what is left."""
        answer = self.tell("answer", **self._said(numbers.short(self.system, self.asked)))
        return self._drawn(self.asked) + self.guess_line() + self.line(answer, "answer") + self._basis()
