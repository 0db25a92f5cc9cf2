"""A formula lives once: the function that runs is the function that is typeset, cited and checked.

The body is one ``return`` of one expression without a condition. `formula` refuses anything else when the function is
declared, because a typesetter would silently drop the condition. This is the only module that knows handcalcs; it is
pinned, since notebooks' outputs are compared.
"""

from __future__ import annotations

import ast
import inspect
import json
import re
import textwrap
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache, wraps
from importlib import resources
from typing import Any, get_args, get_type_hints

import numpy as np

from calc.base import maths
from calc.base.docstring import WRITTEN, documented, sections_of
from calc.base.errors import NotAccepted
from calc.base.nomenclature import NOMENCLATURE, latex_of

Limits = Mapping[str, tuple[float, float]]


class RangeError(NotAccepted):
    """A value lies outside a formula's validity range."""


class DeclarationError(TypeError):
    """A function cannot be declared as a formula."""


_FORBIDDEN = (
    ast.IfExp,
    ast.Compare,
    ast.BoolOp,
    ast.Lambda,
    ast.ListComp,
    ast.SetComp,
    ast.GeneratorExp,
    ast.DictComp,
    ast.NamedExpr,
    ast.Subscript,
    ast.Attribute,
    ast.JoinedStr,
    ast.Await,
    ast.Starred,
)


def _expression_of(function: Callable[..., Any]) -> ast.expr:
    tree = ast.parse(textwrap.dedent(inspect.getsource(function))).body[0]
    assert isinstance(tree, ast.FunctionDef)
    body = tree.body[1:] if ast.get_docstring(tree) is not None else tree.body
    if len(body) != 1 or not isinstance(body[0], ast.Return) or body[0].value is None:
        raise DeclarationError(f"{function.__qualname__}: a formula's body is a single return of one expression")
    return body[0].value


class _Powers(ast.NodeTransformer):
    def visit_BinOp(self, node: ast.BinOp) -> ast.expr:
        """Have `maths.power` take a power; a square is exact everywhere and stays."""
        self.generic_visit(node)
        if isinstance(node.op, ast.Pow) and not (isinstance(node.right, ast.Constant) and node.right.value == 2):
            return ast.Call(ast.Name("power", ast.Load()), [node.left, node.right], [])
        return node


def _steady(function: Callable[..., Any], expression: str, names: Iterable[str]) -> Callable[..., Any]:
    """Return the function with its powers taken such that arrays give the same digits on every processor."""
    body = ast.unparse(_Powers().visit(ast.parse(expression, mode="eval")))
    if body == expression:
        return function
    made = eval(f"lambda *, {', '.join(names)}: {body}", {**maths.FUNCTIONS, **maths.CONSTANTS, "power": maths.power})
    made.__kwdefaults__ = function.__kwdefaults__
    return wraps(function)(made)


def _refuse_unshowable(function: Callable[..., Any], expression: ast.expr, parameters: set[str]) -> None:
    leftmost: ast.AST = expression
    while isinstance(leftmost, ast.BinOp):
        leftmost = leftmost.left
    if isinstance(leftmost, ast.UnaryOp):
        # handcalcs 1.11 leaves such an expression out without an error.
        raise DeclarationError(
            f"{function.__qualname__}: an expression that begins with a sign is not typeset; put another term first"
        )
    for node in ast.walk(expression):
        if isinstance(node, _FORBIDDEN):
            kind = type(node).__name__
            raise DeclarationError(
                f"{function.__qualname__}: {kind} cannot be typeset; write each branch as a formula of its own and let"
                " a caller choose"
            )
        if isinstance(node, ast.Call) and not (
            isinstance(node.func, ast.Name) and node.func.id in maths.FUNCTIONS and not node.keywords
        ):
            raise DeclarationError(
                f"{function.__qualname__}: only functions of calc.base.maths may be called in a formula"
            )
        if isinstance(node, ast.Name) and node.id not in parameters | set(maths.FUNCTIONS) | set(maths.CONSTANTS):
            raise DeclarationError(
                f"{function.__qualname__}: '{node.id}' is neither a parameter nor a known function or constant"
            )


def _unit_of(hint: Any, where: str) -> str:
    arguments = get_args(hint)
    if len(arguments) != 2 or not isinstance(arguments[1], str):
        raise DeclarationError(f"{where} must be declared with a unit, such as Mm or MPa from calc.base.units")
    return arguments[1]


@dataclass(frozen=True, repr=False)
class Formula:
    """One clause or equation; call it with keyword arguments, floats or NumPy arrays of one shape.

    Attributes
    ----------
    id
        What results.json calls it: the same for good, wherever the function moves.
    address
        Where the function stands today.
    function
        The bare function, without the range check; its powers are taken by `calc.base.maths.power`.
    expression
        Its return expression on one line, as Python.
    homogeneous
        True when the expression holds in any consistent set of units; then it may be shown in inches as well.
    """

    id: str
    function: Callable[..., Any]
    address: str
    symbol: str
    parameters: Mapping[str, str]
    unit: str
    source: str
    expression: str
    limits: Limits
    soft: Limits
    relations: tuple[str, ...]
    homogeneous: bool
    summary: str

    def __repr__(self) -> str:
        """Return its id and what it takes, as `help` shows on top."""
        return f"{self.id}(*, {', '.join(self.parameters)})"

    def __call__(self, **values: Any) -> Any:
        """Evaluate after checking the validity range; raises `RangeError`."""
        self.check(values)
        try:
            return self.function(**values)
        except (
            ArithmeticError,
            ValueError,
        ) as error:  # a root of less than nothing, a division by nothing, a number too large
            given = ", ".join(
                f"{name} = {value:g}" for name, value in values.items() if not isinstance(value, np.ndarray)
            )
            raise RangeError(f"{self.id} has no result for {given} ({error})") from None

    def check(self, values: Mapping[str, Any]) -> None:
        """Raise `RangeError` for a value outside the hard limits, for NaN, or for a relation that does not hold."""
        for name, (low, high) in self.limits.items():
            if name in values:
                value = values[name]
                least, most = (
                    (value.min(), value.max()) if isinstance(value, np.ndarray) and value.size else (value, value)
                )
                if not (low <= least and most <= high):
                    worst = least if not low <= least else most
                    unit = f" {self.parameters[name]}" if self.parameters[name] else ""
                    raise RangeError(f"{name} = {worst:.6g}{unit} is outside {low:g} to {high:g}{unit} ({self.id})")
        for relation in self.relations:
            left, sign, right = relation.split()
            a, b = values[left], values[right]
            # The extremes settle most arrays at once; only where they overlap is each element compared.
            apart = isinstance(a, np.ndarray) and a.size and np.max(a) < np.min(b)
            if not apart and not np.all(a < b if sign == "<" else a <= b):
                words = "smaller than" if sign == "<" else "at most"
                shown = "" if isinstance(a, np.ndarray) or isinstance(b, np.ndarray) else f" (they are {a:g} and {b:g})"
                raise RangeError(f"{left} must be {words} {right}{shown} ({self.id})")

    def warnings(self, values: Mapping[str, float]) -> tuple[str, ...]:
        """Return a sentence for every value outside the soft limits.

        The range in which the formula is well supported.
        """
        return tuple(
            f"{name} = {values[name]:.6g} {self.parameters[name]} is outside {low:g} to {high:g}, the range that"
            f" {self.source} covers"
            for name, (low, high) in self.soft.items()
            if name in values and not low <= values[name] <= high
        )

    def latex(self, values: Mapping[str, str], result: str, symbol: str | None = None) -> str:
        r"""Typeset symbol = expression = expression with values = result, by handcalcs.

        Parameters
        ----------
        values
            LaTeX of each parameter's value with its unit.
        result
            LaTeX of the result.
        symbol
            Name in the nomenclature for the left side, when it is not the formula's own.

        Returns
        -------
        str
            An ``aligned`` environment without delimiters.
        """
        return _typeset(self.expression, symbol or self.symbol, values, result)


TEMPLATES = "typeset.json"

# handcalcs prints whole numbers untouched: each value travels as a number of its own and comes back as its text.
_RESULT, _CONSTANT, _FIRST = 7_400_000, 7_499_999, 7_400_001


# Where the result's symbol goes; not a letter that a symbol has.
_LEFT = "@"


def _typeset(expression: str, symbol: str, values: Mapping[str, str], result: str) -> str:
    text = _template(expression, tuple(values)).replace(_LEFT, latex_of(symbol)).replace(str(_RESULT), result)
    for i, shown in enumerate(values.values()):
        text = text.replace(str(_FIRST + i), shown)
    return text


@cache
def _template(expression: str, names: tuple[str, ...]) -> str:
    """Take what handcalcs made of an expression from the kept ones, or have it made."""
    return _kept().get(_key(expression, names)) or _render(expression, names)


def _key(expression: str, names: tuple[str, ...]) -> str:
    """All that a template depends on, so that a kept one can never belong to another formula or another symbol."""
    return " | ".join([expression, *(f"{name} {latex_of(name)}" for name in names)])


@cache
def _kept() -> dict[str, str]:
    file = resources.files("calc.base").joinpath("data", TEMPLATES)
    return dict(json.loads(file.read_text(encoding="utf-8"))) if file.is_file() else {}


def templates(formulas: Iterable[Formula]) -> dict[str, str]:
    """Have handcalcs typeset formulas anew.

    What `calc/base/data/typeset.json` keeps, so that a calculation need not wait for it.

    Parameters
    ----------
    formulas
        Every formula of the workbook.

    Returns
    -------
    dict of str to str
        Template by what it depends on, in a fixed order.
    """
    made = {
        _key(one.expression, tuple(one.parameters)): _render(one.expression, tuple(one.parameters)) for one in formulas
    }
    return dict(sorted(made.items()))


def _render(expression: str, names: tuple[str, ...]) -> str:
    """Let handcalcs typeset an expression, with stand-ins in the place of the values and of the result's symbol."""
    from handcalcs import global_config
    from handcalcs.handcalcs import LatexRenderer

    # Parameters travel as plain letters, so that handcalcs' own reading of underscores and Greek cannot interfere.
    letters = {name: f"q{chr(97 + i)}q" for i, name in enumerate(names)}
    left = f"q{chr(97 + len(names))}q"
    renamed = re.sub(r"\b[A-Za-z_]\w*\b", lambda m: letters.get(m[0], m[0]), expression)
    results: dict[str, Any] = {letter: _FIRST + i for i, letter in enumerate(letters.values())}
    results |= {left: _RESULT} | dict.fromkeys(maths.CONSTANTS, _CONSTANT)
    config = {**global_config._config, "latex_block_start": "", "latex_block_end": ""}
    arguments = {"precision": 3, "sci_not": False, "override": "long"}
    text = LatexRenderer(f"{left} = {renamed}", results, arguments).render(config)
    text = (
        text.replace(str(_CONSTANT), r"\pi")
        .replace(r"\operatorname{max}", r"\max")
        .replace(r"\operatorname{min}", r"\min")
    )
    for latex, letter in [*((latex_of(name), letter) for name, letter in letters.items()), (_LEFT, left)]:
        text = re.sub(rf"(?:\\mathrm{{{letter}}}|\b{letter}\b)", lambda _, n=latex: n, text)  # type: ignore[misc]
    # A lone symbol needs no parentheses under a power.
    text = re.sub(r"\\left\( (\\?[A-Za-z]+(?:_\{(?:[^{}]|\{[^{}]*\})*\})?) \\right\) \^", r"{\1}^", text)
    return re.sub(r"[ \t]*\n[ \t]*", "\n", text).strip()


def formula(
    *,
    symbol: str,
    source: str,
    id: str = "",
    limits: Limits | None = None,
    relations: tuple[str, ...] = (),
    soft: Limits | None = None,
    homogeneous: bool = True,
) -> Callable[[Callable[..., Any]], Formula]:
    """Declare a function as a formula.

    Parameters
    ----------
    symbol
        Name of the result in the nomenclature.
    source
        Document, clause and edition; or "geometry"; or "common practice, no source".
    id
        Its name for good (`calc.base.ledger`), where the function's own is taken, or was another when the formula was
        born.
    limits
        Hard limits, inclusive, by parameter, in its unit.
    relations
        Such as ``"phi < d_0"``.
    soft
        Limits outside which a notice is given.
    homogeneous
        False for an empirical expression that holds only in its declared units.

    Raises
    ------
    DeclarationError
        When the function has positional parameters, lacks units, is anything but one unconditional expression, or
        writes what `documented` adds to its docstring.
    """

    def declare(function: Callable[..., Any]) -> Formula:
        signature = inspect.signature(function)
        if any(p.kind is not p.KEYWORD_ONLY for p in signature.parameters.values()):
            raise DeclarationError(f"{function.__qualname__}: a formula takes keyword-only arguments")
        hints = get_type_hints(function, include_extras=True)
        parameters = {
            name: _unit_of(hints.get(name), f"{function.__qualname__}: {name}") for name in signature.parameters
        }
        unit = _unit_of(hints.get("return"), f"{function.__qualname__}: the result")
        expression = _expression_of(function)
        _refuse_unshowable(function, expression, set(parameters))
        for name in (*parameters, symbol):
            if name not in NOMENCLATURE:
                raise DeclarationError(f"{function.__qualname__}: '{name}' is not in calc/base/nomenclature.py")
        if not function.__doc__:
            raise DeclarationError(f"{function.__qualname__}: a formula needs a docstring")
        if twice := [title for title in sections_of(function.__doc__) if title in WRITTEN]:
            raise DeclarationError(
                f"{function.__qualname__}: leave out {' and '.join(twice)}: annotation, nomenclature and limits say it"
                " already; a remark goes to Notes"
            )
        result = Formula(
            id=id or function.__name__,
            function=_steady(function, ast.unparse(expression), parameters),
            address=f"{function.__module__}.{function.__qualname__}",
            symbol=symbol,
            parameters=parameters,
            unit=unit,
            source=source,
            expression=ast.unparse(expression),
            limits=limits or {},
            soft=soft or {},
            relations=relations,
            homogeneous=homogeneous,
            summary=inspect.cleandoc(function.__doc__).splitlines()[0],
        )
        told = documented(
            function.__doc__,
            source=source,
            parameters=parameters,
            result=(symbol, unit),
            limits=result.limits,
            soft=result.soft,
            relations=relations,
        )
        object.__setattr__(result, "__doc__", told)
        object.__setattr__(result, "__wrapped__", function)
        object.__setattr__(result, "__module__", function.__module__)  # so that doctest looks into it
        return result

    return declare
