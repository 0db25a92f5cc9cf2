"""Functions that a formula may call: they work on numbers and on arrays, and the typesetter knows their names.

Angles are in degrees, as drawn and as written on a drill bit.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

pi = math.pi


def sqrt(x: Any) -> Any:
    """Square root of a number or an array."""
    return np.sqrt(x) if isinstance(x, np.ndarray) else math.sqrt(x)


def log(x: Any) -> Any:
    """Natural logarithm of a number or an array."""
    return np.log(x) if isinstance(x, np.ndarray) else math.log(x)


def exp(x: Any) -> Any:
    """Exponential of a number or an array."""
    return np.exp(x) if isinstance(x, np.ndarray) else math.exp(x)


def tan(x: Any) -> Any:
    """Tangent of an angle in degrees."""
    return np.tan(np.radians(x)) if isinstance(x, np.ndarray) else math.tan(math.radians(x))


def sin(x: Any) -> Any:
    """Sine of an angle in degrees."""
    return np.sin(np.radians(x)) if isinstance(x, np.ndarray) else math.sin(math.radians(x))


def cos(x: Any) -> Any:
    """Cosine of an angle in degrees, exactly zero at 90°."""
    return sin(90.0 - x)


def max(*values: Any) -> Any:
    """Largest of the values, element by element; NaN wins, so that it is seen."""
    result = values[0]
    for value in values[1:]:
        result = np.maximum(result, value)
    return result if isinstance(result, np.ndarray) else float(result)


def min(*values: Any) -> Any:
    """Smallest of the values, element by element; NaN wins, so that it is seen."""
    result = values[0]
    for value in values[1:]:
        result = np.minimum(result, value)
    return result if isinstance(result, np.ndarray) else float(result)


def ceil(x: Any) -> Any:
    """Round up to a whole number, forgiving the last few bits: 2.1 / 0.7 is 3, not 4.

    A quotient within 1e-9 of a whole number (relative, above one) counts as that number.
    """
    result = np.ceil(x - 1e-9 * np.maximum(1.0, np.abs(x)))
    return result if isinstance(result, np.ndarray) else float(result)


FUNCTIONS = {f.__name__: f for f in (sqrt, log, exp, tan, sin, cos, max, min, ceil)}
CONSTANTS = {"pi": pi}
