"""The hand check: one group worked as on a pocket calculator, each line from the printed figures of the lines above."""

from __future__ import annotations

from collections.abc import Sequence

from calc.base.display import Display, plain_text
from calc.base.units import convert
from calc.show.view import View, notices_view, table_view
from calc.work.dose import Worked

_QUARTER_PI = 0.785398


def hand_check(worked: Sequence[Worked]) -> list[View]:
    """Work the first straight group by hand.

    Parameters
    ----------
    worked
        All groups; the first that has no measured hole is taken.

    Returns
    -------
    list of View
        A table of lines to key in, and the comparison with the package. The lines are computed from rounded figures and
        not from the package's formulas, so the comparison can fail.
    """
    one = next((w for w in worked if w.case.measured is None), None)
    if one is None:
        return [
            notices_view(
                "Hand check", ["Every group has a measured hole: no group is short enough to work by hand on one page."]
            )
        ]
    case = one.case
    display = case.display
    length, square, volume = display.length_unit, display.area_unit, display.unit("mm³")
    places, fine = display.usual(2, 4), display.usual(3, 6)

    def size(value: float) -> float:
        return round(convert(value, "mm", length), 4)

    d, b, l_v, over = size(case.bored), size(case.bar.diameter), size(case.embedment), size(case.overdrill)
    grade = round(convert(case.graduation, "mm³", volume), 5)
    lines: list[tuple[str, str, str]] = []

    def line(words: str, keys: str, value: float, unit: str, digits: int) -> float:
        lines.append((words, keys, f"{value:.{digits}f} {unit}".strip()))
        return round(value, digits)

    def n(value: float) -> str:
        return plain_text(value, 9)

    hole_2 = line("Hole diameter squared", f"{n(d)} × {n(d)}", d * d, square, fine)
    bar_2 = line("Bar diameter squared", f"{n(b)} × {n(b)}", b * b, square, fine)
    ring = line(
        "Area of the ring (π/4 = 0.785398)",
        f"0.785398 × ({n(hole_2)} − {n(bar_2)})",
        _QUARTER_PI * (hole_2 - bar_2),
        square,
        fine,
    )
    total = line("Annular volume", f"{n(ring)} × {n(l_v)}", ring * l_v, volume, places)
    if over:
        part = line(
            "Overdrilled part", f"0.785398 × {n(hole_2)} × {n(over)}", _QUARTER_PI * hole_2 * over, volume, places
        )
        total = line("Annulus and overdrilled part", f"{n(total)} + {n(part)}", total + part, volume, places)
    if case.theta < 180:
        slope = (180 - case.theta) / 2
        from calc.base.maths import tan

        t = line("Slope of the tip", f"tan {n(slope)}°", tan(slope), "", 5)
        tip = line(
            "Tip cone (π/24 = 0.130900)",
            f"0.130900 × {n(d)} × {n(hole_2)} × {n(t)}",
            0.1309 * d * hole_2 * t,
            volume,
            places,
        )
        total = line("Required volume", f"{n(total)} + {n(tip)}", total + tip, volume, places)
    amount = line(
        "Dose with overfill",
        f"{n(total)} × {n(round(1 + case.overfill, 6))} ({n(round(case.overfill * 100, 4))} % overfill)",
        total * (1 + case.overfill),
        volume,
        places,
    )
    quotient = line(
        "Strokes, not yet whole" if case.by_strokes else "Graduations, not yet whole",
        f"{n(amount)} ÷ {n(grade)}",
        amount / grade,
        "",
        4,
    )
    whole = -(-quotient // 1)
    lines.append(("Rounded up", "", f"{whole:.0f}"))
    rounded = line("Rounded dose", f"{whole:.0f} × {n(grade)}", whole * grade, volume, places)
    if volume != display.volume_unit:
        one_of = round(convert(1.0, display.volume_unit, volume), 5)
        keys = f"{n(rounded)} ÷ {n(one_of)}"
        line(f"The same in {display.volume_unit}", keys, rounded / one_of, display.volume_unit, 3)
    by_hand = convert(rounded, volume, "mm³")
    agree = abs(by_hand - one.rounded) <= 1e-3 * one.rounded
    comparison = table_view(
        "Against the package",
        ("", "By hand", "Package", "Verdict"),
        [
            _compared("Required volume", convert(total, volume, "mm³"), one.required, display),
            _compared("Rounded dose", by_hand, one.rounded, display),
        ],
        "lrrl",
    )
    title = f"Hand check of {case.mark}: {case.bar.text} in a hole of {n(d)} {length}, {n(l_v)} {length} deep"
    words = [] if agree else ["The two do not agree: find out why before anybody signs."]
    table = table_view(title, ("What", "Keys", "Reads"), lines, "lrr")
    return [table, comparison, *([notices_view("Attention", words)] if words else [])]


def _compared(words: str, by_hand: float, package: float, display: Display) -> tuple[str, ...]:
    verdict = "✓ agrees within 0.1 %" if abs(by_hand - package) <= 1e-3 * abs(package) else "✗ DIFFERS"
    unit, places = display.volume_unit, display.usual(2, 4)
    return (words, *(f"{convert(value, 'mm³', unit):.{places}f} {unit}" for value in (by_hand, package)), verdict)
