"""Functions that a formula may call: they work on numbers and on arrays, and the typesetter knows their names.

Angles are in degrees, as drawn and as written on a drill bit.

NumPy works these functions, and powers but the square, by other instructions on another processor, and then the last
digits differ. So an array goes through the functions of `math` element by element. Sums, products, quotients and square
roots are exact to the last digit everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

pi = math.pi


def _each(function: Callable[..., float], *values: Any) -> Any:
    if any(isinstance(value, np.ndarray) for value in values):
        return np.asarray(np.frompyfunc(function, len(values), 1)(*values), dtype=float)
    return function(*values)


def sqrt(x: Any) -> Any:
    """Square root of a number or an array."""
    return np.sqrt(x) if isinstance(x, np.ndarray) else math.sqrt(x)


def log(x: Any) -> Any:
    """Natural logarithm of a number or an array."""
    return _each(math.log, x)


def exp(x: Any) -> Any:
    """Exponential of a number or an array."""
    return _each(math.exp, x)


def tan(x: Any) -> Any:
    """Tangent of an angle in degrees."""
    return _each(math.tan, np.radians(x) if isinstance(x, np.ndarray) else math.radians(x))


def sin(x: Any) -> Any:
    """Sine of an angle in degrees."""
    return _each(math.sin, np.radians(x) if isinstance(x, np.ndarray) else math.radians(x))


def cos(x: Any) -> Any:
    """Cosine of an angle in degrees, exactly zero at 90°."""
    return sin(90.0 - x)


def power(x: Any, exponent: Any) -> Any:
    """Return what ``**`` is in a formula: the power of a number or an array."""
    if not (isinstance(x, np.ndarray) or isinstance(exponent, np.ndarray)):
        return x**exponent
    return x * x * x if isinstance(exponent, int) and exponent == 3 else _each(math.pow, x, exponent)


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
