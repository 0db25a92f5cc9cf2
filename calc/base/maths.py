"""Functions that a formula may call: they work on numbers and on arrays, and the typesetter knows their names.

Angles are in degrees, as drawn and as written on a drill bit.

NumPy works these functions, and powers but the square, by other instructions on another processor, and then the last
digits differ. So an array goes through the functions of `math` element by element. Sums, products, quotients and square
roots are exact to the last digit everywhere.

`translate` writes a formula in the language of a spreadsheet or a page, from the one place where it stands.
"""

from __future__ import annotations

import ast
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
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

# ---- the same in other languages ----

_OPERATORS: Mapping[type[ast.operator], str] = {
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
    ast.Pow: "**",
}
_BINDS: Mapping[type[ast.operator], int] = {ast.Add: 1, ast.Sub: 1, ast.Mult: 2, ast.Div: 2, ast.Pow: 3}
_ALONE = 4  # a name, a number, a call: needs no brackets anywhere


@dataclass(frozen=True)
class Dialect:
    """How a language writes what a formula may hold.

    Attributes
    ----------
    power
        Its operator for a power.
    functions
        Each of `FUNCTIONS` and `CONSTANTS`: ``{0}`` stands for the first argument, ``{all}`` for all of
        them. Angles are in degrees, and `ceil` forgives the last bits.
    """

    power: str
    functions: Mapping[str, str]


# Rounds down what has the other sign, as the ways to round up differ by program where a value is negative.
SPREADSHEET = Dialect(
    power="^",
    functions={
        "pi": "PI()",
        "sqrt": "SQRT({0})",
        "log": "LN({0})",
        "exp": "EXP({0})",
        "tan": "TAN(RADIANS({0}))",
        "sin": "SIN(RADIANS({0}))",
        "cos": "SIN(RADIANS(90-({0})))",
        "max": "MAX({all})",
        "min": "MIN({all})",
        "ceil": "(-INT(1E-9*MAX(1,ABS({0}))-({0})))",
    },
)
JAVASCRIPT = Dialect(
    power="**",
    functions={
        "pi": "Math.PI",
        "sqrt": "Math.sqrt({0})",
        "log": "Math.log({0})",
        "exp": "Math.exp({0})",
        "tan": "Math.tan(({0})*Math.PI/180)",
        "sin": "Math.sin(({0})*Math.PI/180)",
        "cos": "Math.sin((90-({0}))*Math.PI/180)",
        "max": "Math.max({all})",
        "min": "Math.min({all})",
        "ceil": "Math.ceil(({0})-1e-9*Math.max(1,Math.abs({0})))",
    },
)

# For people: what is keyed into a calculator.
PRINTED = Dialect(
    power="^",
    functions={
        "pi": "π",
        "sqrt": "√({0})",
        "log": "ln({0})",
        "exp": "e^({0})",
        "tan": "tan(({0})°)",
        "sin": "sin(({0})°)",
        "cos": "cos(({0})°)",
        "max": "the larger of ({all})",
        "min": "the smaller of ({all})",
        "ceil": "{0}, rounded up",
    },
)


def translate(expression: str, names: Mapping[str, str], dialect: Dialect) -> str:
    """Write a formula's expression in another language.

    Parameters
    ----------
    expression
        `Formula.expression`: what the declaration has let through, and nothing else.
    names
        What stands for each parameter there: the address of a cell, the name of a variable.
    dialect
        The language.

    Returns
    -------
    str
        The expression, without a sign of equality in front.

    Examples
    --------
    >>> translate("pi / 4 * (d_0 ** 2 - phi ** 2)", {"d_0": "B2", "phi": "B3"}, SPREADSHEET)
    'PI()/4*(B2^2-B3^2)'
    >>> translate("ceil(a - (b - 1)) ** 0.5", {"a": "a", "b": "b"}, JAVASCRIPT)
    'Math.ceil((a-(b-1))-1e-9*Math.max(1,Math.abs(a-(b-1))))**0.5'
    """
    return _written(ast.parse(expression, mode="eval").body, names, dialect)[0]


def _written(node: ast.expr, names: Mapping[str, str], dialect: Dialect) -> tuple[str, int]:
    """The text of a part of the tree, and how strongly it holds together."""
    match node:
        case ast.Constant(value=value):
            return repr(value), _ALONE
        case ast.Name(id=name):
            return names.get(name) or dialect.functions[name], _ALONE
        case ast.Call(func=ast.Name(id=name), args=arguments):
            texts = [_written(one, names, dialect)[0] for one in arguments]
            return dialect.functions[name].format(*texts, all=",".join(texts)), _ALONE
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            # In brackets always: a spreadsheet takes -2^2 for 4, JavaScript for an error.
            return f"(-{_within(operand, _ALONE, names, dialect)})", _ALONE
        case ast.BinOp(left=left, op=op, right=right):
            binds = _BINDS[type(op)]
            power = isinstance(op, ast.Pow)
            sides = (_within(left, binds + power, names, dialect), _within(right, binds + 1, names, dialect))
            return (dialect.power if power else _OPERATORS[type(op)]).join(sides), binds
        case _:
            raise NotImplementedError(f"{ast.unparse(node)} cannot be translated")


def _within(node: ast.expr, least: int, names: Mapping[str, str], dialect: Dialect) -> str:
    text, binds = _written(node, names, dialect)
    return text if binds >= least else f"({text})"
