"""The one form in which numbers leave the program as data: the same on every machine.

Sixteen digits are not: two mathematics libraries, or two releases of scipy, differ in the last one or two, and a chain
of formulas carries that on. Ten are far above this noise, and far finer than what people are shown (five) or can
measure.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

DIGITS = 10
# A fluid ounce has twelve digits, so that its multiples end just between two canonical numbers; they are moved up, away
# from that edge.
UP = 1 + 1e-12
# One number in two units is rounded twice, each time by at most half a unit of the last digit; this is twice that.
TWICE_ROUNDED = 2 * 10.0 ** (1 - DIGITS)


def canonical(value: Any) -> Any:
    """Return data with every float in canonical form: `DIGITS` significant digits, and zero without a sign.

    Calculations and verdicts use unrounded numbers; this is for the way out, and for reading what came out before.

    Parameters
    ----------
    value
        Anything that JSON holds, and tuples, which become lists; texts, whole numbers, true, false and null stay as
        they are, and so do NaN and infinite numbers, which are for the writer to refuse.

    Returns
    -------
    Any
        Applied again, it changes nothing.

    Examples
    --------
    >>> canonical({"V_a": 22619.467105846512, "steps": [0.1 + 0.2, -0.0, 3, None]})
    {'V_a': 22619.46711, 'steps': [0.3, 0.0, 3, None]}
    >>> canonical(11829.411825), canonical(-11829.411825)
    (11829.41183, -11829.41183)
    """
    if isinstance(value, float):
        rounded = float(f"{value * UP:.{DIGITS - 1}e}") + 0.0  # negative zero plus zero is zero
        return rounded if math.isfinite(rounded) else value
    if isinstance(value, Mapping):
        return {key: canonical(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [canonical(inner) for inner in value]
    return value
