"""The arithmetic of a page, as JavaScript: made from the formulas and from the functions that choose between them.

A formula is one expression, which `calc.base.maths.translate` writes in JavaScript; its limits and relations come along
as data. A function that chooses between formulas is a few statements of a kind that is the same in both languages; what
is of any other kind is refused when the script is made. So there is no second arithmetic, and a test works both.
"""

from __future__ import annotations

import ast
import inspect
import json
import textwrap
from collections.abc import Callable, Mapping
from typing import Any, NoReturn

from calc.base.formula import Formula
from calc.base.maths import JAVASCRIPT, translate

Caller = Callable[..., Any]

# Written once: what a formula refuses, in the words of `RangeError`.
_CHECK = """\
function within(values, limits, relations) {
  for (const [name, [low, high]] of Object.entries(limits))
    if (name in values && !(values[name] >= low && values[name] <= high))
      throw new RangeError(`${name} = ${values[name]} is outside ${low} to ${high}`);
  for (const [said, holds] of relations)
    if (!holds(values)) throw new RangeError(`${said} does not hold`);
}"""

_COMPARED: Mapping[type[ast.cmpop], str] = {
    ast.Gt: ">", ast.GtE: ">=", ast.Lt: "<", ast.LtE: "<=", ast.Eq: "===", ast.NotEq: "!==",
}  # fmt: skip
_JOINED: Mapping[type[ast.operator], str] = {
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.BitAnd: "&&",
}  # fmt: skip


def in_javascript(*callers: Caller | Formula) -> str:
    """Write functions in JavaScript, with all that they call.

    Parameters
    ----------
    *callers
        Formulas, or functions that choose between formulas.

    Returns
    -------
    str
        Each takes one object whose keys are the parameters.

    Raises
    ------
    NotImplementedError
        A function that does what cannot be written.

    Examples
    --------
    >>> from calc.fill.hole import total_volume
    >>> print(in_javascript(total_volume).splitlines()[-1])
    function total_volume(o) { const {V_a, V_o, V_t} = o; return V_a+V_o+V_t; }
    """
    made: dict[str, str] = {}
    for one in callers:
        _gather(one, made)
    return "\n".join([_CHECK, *made.values()])


def _gather(one: Caller | Formula, made: dict[str, str]) -> None:
    name = _name(one)
    if name in made:
        return
    made[name] = ""  # its place is taken before it is written, so that what it calls stands behind it
    if isinstance(one, Formula):
        made[name] = _formula(one)
        return
    writer = _Writer(one)
    made[name] = writer.text
    for other in writer.called:
        _gather(other, made)


def _name(one: Caller | Formula) -> str:
    return one.function.__name__ if isinstance(one, Formula) else one.__name__


def _formula(one: Formula) -> str:
    names = ", ".join(one.parameters)
    limits = {name: list(pair) for name, pair in one.limits.items()}
    relations = ", ".join(f"[{json.dumps(said)}, ({{{names}}}) => {said}]" for said in one.relations)
    check = f"within(o, {json.dumps(limits)}, [{relations}]); " if limits or relations else ""
    expression = translate(one.expression, {name: name for name in one.parameters}, JAVASCRIPT)
    return f"function {_name(one)}(o) {{ const {{{names}}} = o; {check}return {expression}; }}"


class _Writer:
    """Writes one function that chooses between formulas; `called` are the others that it needs."""

    def __init__(self, function: Caller) -> None:
        self.function = function
        self.world = function.__globals__
        self.called: list[Caller | Formula] = []
        tree = ast.parse(textwrap.dedent(inspect.getsource(function))).body[0]
        assert isinstance(tree, ast.FunctionDef)
        self.locals = {one.arg for one in [*tree.args.args, *tree.args.kwonlyargs]}
        self.positional = bool(tree.args.args)
        body = " ".join(filter(None, (self.statement(one) for one in tree.body)))
        self.text = f"function {function.__name__}({self.head(tree)}) {{ {body} }}"

    def head(self, tree: ast.FunctionDef) -> str:
        """Name the parameters: in order, or as keys of one object."""
        if self.positional:
            return ", ".join(one.arg for one in tree.args.args)
        names = []
        for one, default in zip(tree.args.kwonlyargs, tree.args.kw_defaults, strict=True):
            names.append(one.arg if default is None else f"{one.arg} = {self.write(default)}")
        return f"{{{', '.join(names)}}}"

    def statement(self, node: ast.stmt) -> str:
        """Write a statement."""
        match node:
            case ast.Expr(value=ast.Constant(value=str())):
                return ""
            case ast.Expr(value=ast.Call() as call):
                return f"{self.write(call)};"
            case ast.Return(value=ast.expr() as value):
                return f"return {self.write(value)};"
            case ast.Assign(targets=[ast.Tuple(elts=names)], value=ast.Tuple(elts=values)):
                return " ".join(self.bound(name, value) for name, value in zip(names, values, strict=True))
            case ast.Assign(targets=[name], value=value):
                return self.bound(name, value)
            case ast.If(test=test, body=body, orelse=[]):
                return f"if ({self.write(test)}) {{ {' '.join(map(self.statement, body))} }}"
            case ast.Raise(exc=ast.Call(func=ast.Name(id="RangeError"), args=[ast.Constant(value=said)])):
                return f"throw new RangeError({json.dumps(said)});"
        return self.refuse(node)

    def bound(self, name: ast.expr, value: ast.expr) -> str:
        """Write an assignment to a new name."""
        assert isinstance(name, ast.Name)
        text = self.write(value)
        self.locals.add(name.id)
        return f"const {name.id} = {text};"

    def write(self, node: ast.expr) -> str:
        """Write an expression."""
        match node:
            case ast.Constant(value=int() | float() as value) if not isinstance(value, bool):
                return repr(value)
            case ast.Name(id=name) if name in self.locals:
                return name
            case ast.Name() | ast.Subscript():
                return self.constant(node)
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                return f"!({self.write(operand)})"
            case ast.BinOp(left=left, op=op, right=right) if type(op) in _JOINED:
                return f"({self.write(left)} {_JOINED[type(op)]} {self.write(right)})"
            case ast.Compare(left=left, ops=[op], comparators=[right]) if type(op) in _COMPARED:
                return f"({self.write(left)} {_COMPARED[type(op)]} {self.write(right)})"
            case ast.IfExp(test=test, body=body, orelse=orelse):
                # On plain numbers, which a page has, nothing is an array.
                if "isinstance" in {one.id for one in ast.walk(test) if isinstance(one, ast.Name)}:
                    return self.write(orelse)
                return f"({self.write(test)} ? {self.write(body)} : {self.write(orelse)})"
            case ast.Call():
                return self.call(node)
        return self.refuse(node)

    def constant(self, node: ast.expr) -> str:
        """Write a number of the module, such as the end of a range."""
        value = eval(compile(ast.Expression(node), "<script>", "eval"), self.world)  # the module's own text, as it ran
        return repr(value) if isinstance(value, (int, float)) else self.refuse(node)

    def call(self, node: ast.Call) -> str:
        """Write a call: of NumPy's choices, of what changes nothing, or of another function of ours."""
        match node.func:
            case ast.Attribute(value=ast.Name(id="np"), attr="where"):
                test, yes, no = map(self.write, node.args)
                return f"({test} ? {yes} : {no})"
            case ast.Attribute(value=ast.Name(id="np"), attr="maximum" | "minimum" as which):
                return f"Math.{which[:3]}({', '.join(map(self.write, node.args))})"
            case (
                ast.Attribute(value=ast.Name(id="np"), attr="all" | "asarray") | ast.Name(id="float" | "int" | "_plain")
            ):
                return self.write(node.args[0])
            case ast.Attribute(value=ast.Name(id=name), attr="function"):
                return f"{self.ours(name)}({self.keys(node)})"
            case ast.Name(id=name):
                arguments = ", ".join(map(self.write, node.args)) if node.args else self.keys(node)
                return f"{self.ours(name)}({arguments})"
        return self.refuse(node)

    def keys(self, node: ast.Call) -> str:
        """Write arguments by name as one object."""
        pairs = [(one.arg or "", self.write(one.value)) for one in node.keywords]
        return f"{{{', '.join(name if name == value else f'{name}: {value}' for name, value in pairs)}}}"

    def ours(self, name: str) -> str:
        """Take a function of the module along."""
        found = self.world.get(name)
        if not isinstance(found, Formula) and not inspect.isfunction(found):
            raise NotImplementedError(f"{self.function.__name__}: {name} cannot be written in JavaScript")
        self.called.append(found)
        return _name(found)

    def refuse(self, node: ast.AST) -> NoReturn:
        """Say what cannot be written."""
        raise NotImplementedError(f"{self.function.__name__}: {ast.unparse(node)} cannot be written in JavaScript")
