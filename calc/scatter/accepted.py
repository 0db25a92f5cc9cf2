"""What is accepted as a number by the statistics of holes and doses: everything else is refused in one sentence."""

from __future__ import annotations

import math
import numbers
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.base.errors import NotAccepted

Array = NDArray[np.float64]


def require_finite(name: str, value: Any) -> None:
    """Refuse what is not a finite number."""
    if not isinstance(value, numbers.Real) or isinstance(value, bool) or not math.isfinite(value):
        raise NotAccepted(f"{name} must be a finite number, not {value!r}")


def require_at_least(name: str, value: float, least: float) -> None:
    """Refuse what is not a finite number, or is less than ``least``."""
    require_finite(name, value)
    if value < least:
        raise NotAccepted(f"{name} must not be less than {least:g}, but is {value:g}")


def require_each(name: str, value: Any, accepted: Callable[[Array], Any], rule: str) -> Array:
    """``value`` as an array of numbers that are all ``accepted``."""
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise NotAccepted(f"{name} must be {rule}, not {value!r}") from None
    wrong = ~(np.isfinite(array) & np.asarray(accepted(array), dtype=bool))
    if array.size == 0 or wrong.any():
        raise NotAccepted(
            f"{name} must be {rule}, not {array[wrong].flat[0]:g}"
            if array.size
            else f"{name} must be {rule}, but is empty"
        )
    return array


def require_part(name: str, value: Any) -> Array:
    """``value`` as shares or probabilities, all between 0 and 1."""
    return require_each(
        name, value, lambda x: (x > 0) & (x < 1), "between 0 and 1, both excluded (0.95 for 95 per cent)"
    )


def plain(result: Any) -> Any:
    """A float for a single result, an array for several."""
    return float(result) if np.ndim(result) == 0 else result
