"""The one form in which numbers leave the program as data: the same on every processor, whatever computed them.

Sixteen digits are not: two processors, two mathematics libraries or two releases of scipy differ in the last one or two, and a chain of
formulas carries that on. Ten are far above this noise and far below what anybody can measure or is shown (five).
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

DIGITS = 10
# One number in two units is rounded twice, each time by at most half a unit of the last digit; twice that leaves room for neither to matter.
TWICE_ROUNDED = 2 * 10.0 ** (1 - DIGITS)


def canonical(value: Any) -> Any:
    """Return data with every float in canonical form: `DIGITS` significant digits, and zero without a sign.

    Calculations and verdicts use unrounded numbers; this is for the way out, and for reading what came out before.

    Parameters
    ----------
    value
        Anything that JSON holds, and tuples, which become lists; texts, whole numbers, true, false and null stay as they are, and so do NaN and
        infinite numbers, which are for the writer to refuse.

    Returns
    -------
    Any
        Applied again, it changes nothing.

    Examples
    --------
    >>> canonical({"V_a": 22619.467105846512, "steps": [0.1 + 0.2, -0.0, 3, None]})
    {'V_a': 22619.46711, 'steps': [0.3, 0.0, 3, None]}
    """
    if isinstance(value, float):
        return float(f"{value:.{DIGITS - 1}e}") + 0.0  # negative zero plus zero is zero
    if isinstance(value, Mapping):
        return {key: canonical(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [canonical(inner) for inner in value]
    return value


def edge_distance(value: float) -> float:
    """Return how far a number is from where its canonical form would become another one, as a share of the number.

    Parameters
    ----------
    value
        A number before it is rounded.

    Returns
    -------
    float
        Infinite for zero.

    Examples
    --------
    >>> round(edge_distance(2.0) * 1e10, 6), round(edge_distance(1.00000000049) * 1e10, 1)
    (2.5, 0.1)
    """
    if value == 0:
        return float("inf")
    exact = Fraction(value)
    unit = Fraction(10) ** (int(f"{value:e}".partition("e")[2]) - DIGITS + 1)
    return float(abs(abs(exact / unit) % 1 - Fraction(1, 2)) * unit / abs(exact))
