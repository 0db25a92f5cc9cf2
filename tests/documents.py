"""A small document with a block of every kind, for tests of what is written of it."""

from __future__ import annotations

from calc.base.sheet import Joined
from calc.package.document.parts import Document, Front, Section

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="100"><rect x="10" y="10" width="90" height="50"'
    ' fill="#468"/></svg>'
)
LATEX = (
    r"\begin{aligned} V_{a} &= \frac{ \pi }{ 4 } \cdot \left( \left( d_{0} \right) ^{ 2 } - \left( \phi \right) ^{ 2 }"
    r" \right) \cdot l_{v} "
    r"\\&= \frac{ 3.142 }{ 4 } \cdot \left( \left( 20.0\ \mathrm{mm} \right) ^{ 2 } \right) \cdot 200.0\ \mathrm{mm} "
    r"\\&= 22619.5\ \mathrm{mm}^{3} \\ \end{aligned}"
)


def step(identity: str, **changes: object) -> dict[str, object]:
    values: dict[str, object] = {
        "id": identity,
        "label": "Annular volume",
        "symbol": "V_a",
        "symbol_latex": "V_{a}",
        "latex": LATEX,
        "shown": "22.62 mL",
        "alt": "V_a = pi / 4 * (d_0**2 - phi**2) * l_v",
        "source": "Geometry of a straight hole",
        "inputs": [{"name": "d_0", "latex": "d_{0}", "shown": "20 mm", "origin": "bar schedule, row 2"}],
        "notices": [],
    }
    return values | changes


def check(**changes: object) -> dict[str, object]:
    values: dict[str, object] = {
        "id": "c1",
        "title": "Bar with ribs fits the hole",
        "demand": 18.4,
        "resistance": 20.0,
        "unit": "mm",
        "utilisation": 0.92,
        "verdict": "passes",
        "reason": "",
        "shown": "",
    }
    return values | changes


def table(rows: list[list[str]]) -> dict[str, object]:
    return {"kind": "table", "caption": "Dose per hole", "columns": ["Mark", "Dose [mL]"], "rows": rows, "align": "lr"}


def sample(
    *, texts: list[str] | None = None, title: str = "Dowels", invented: bool = True, front: bool = True
) -> Document:
    words = texts or ["Plain words"]
    job = {"number": "D-101", "revision": "B", "title": words[0], "invented": invented, "site": words[-1]}
    job |= {"prepared_by": "A. Sample", "checked_by": "", "adhesive": "Invented mortar", "date": "2026-11-25"}
    told = [Joined((), word) for word in words]
    page = Front(
        words[0],
        table([["B1", "25.0"]]),
        (words[0], "36 % full", "14 packs"),
        [check()],
        told,
        list(words),
        list(words),
    )
    linked = [
        {
            "name": "V_a",
            "latex": "V_{a}",
            "shown": "22.62 mL",
            "origin": "step 01.B1.annular_volume",
            "step": "01.B1.annular_volume",
        }
    ]
    blocks = (
        {
            "kind": "prose",
            "markdown": (
                "## Heading\n\nThe annulus $V_a$ is **large**.\n\n$$a^2$$\n\n1. one\n2. two\n\n| a | b |\n|---|--:|\n|"
                " 1 | 2 |"
            ),
        },
        {
            "kind": "steps",
            "title": "Group B1",
            "steps": [step("01.B1.annular_volume"), step("01.B1.dose", inputs=linked, notices=words)],
        },
        table([[word, "25.0"] for word in words]),
        {"kind": "figure", "svg": SVG, "alt": "The mortar reaches the mouth.", "caption": words[0]},
        {"kind": "checks", "title": "Checks", "checks": [check(title=word) for word in words]},
        {"kind": "notices", "title": "Notices", "items": list(words)},
    )
    return Document(
        title,
        job,
        page if front else None,
        (Section("Dose per hole", blocks), Section("Second part", ())),
        "results 3fa9c1d2e4b5",
    )
