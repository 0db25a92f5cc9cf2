"""Reading a TOML file into models, and turning what the validator refuses into sentences."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args, get_origin

from pydantic import ValidationError

from calc.base.errors import CalcError
from calc.files.fields import Part
from calc.files.problems import InputErrors, Problem, nearest
from calc.files.strict import decode, read_bytes

_Model = TypeVar("_Model", bound="Part")
Place = tuple[str | int, ...]  # keys, and places in lists


def read_toml(path: Path, name: str, problems: list[Problem]) -> dict[str, Any] | None:
    """Return what a TOML file holds, or None with what is wrong added to ``problems``."""
    try:
        return tomllib.loads(decode(read_bytes(path, name), name))
    except InputErrors as error:
        problems += error.problems
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        where = re.search(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)", str(error))
        place = f"line {where[1]}, column {where[2]}" if where and where[1] else "last line" if where else ""
        reason = str(error)[: where.start()] if where else str(error)
        hint = (
            'accepted: TOML, such as title = "Wall 3", share = 0.10, date = 2027-09-30; every text in quotation marks'
        )
        problems.append(Problem(name, place, "", f"the line cannot be read ({reason[:1].lower()}{reason[1:]}); {hint}"))
    return None


def leaves(raw: Mapping[str, Any] | Sequence[Any], at: Place = ()) -> dict[Place, str]:
    """List what was typed, by the keys and places in lists that lead to it."""
    found: dict[Place, str] = {}
    for key, value in raw.items() if isinstance(raw, Mapping) else enumerate(raw):
        if isinstance(value, (dict, list)):
            found |= leaves(value, (*at, key))
        else:
            found[(*at, key)] = typed(value)
    return found


def typed(value: object) -> str:
    """Write a value as it stands in TOML."""
    return str(value).lower() if isinstance(value, bool) else str(value)


def validated(model: type[_Model], raw: Mapping[str, Any], file: str, problems: list[Problem]) -> _Model | None:
    """Return the model that ``raw`` fills, or None with one sentence for each error added to ``problems``."""
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        refuse_faults(error)
        found = [_problem(dict(item), model, file) for item in error.errors(include_url=False)]
    misspelt = {near for problem, near in found if near}
    # A misspelt key is told once, not a second time as missing.
    problems += [
        p for p, near in found if near or p.message[:7] != "the key" or p.place.removeprefix("key ") not in misspelt
    ]
    return None


def refuse_faults(error: ValidationError) -> None:
    """Raise anew what a validator of ours did not raise on purpose: it is a bug, and not what the user wrote."""
    for item in error.errors(include_url=False):
        cause = item.get("ctx", {}).get("error")
        if isinstance(cause, Exception) and not isinstance(cause, CalcError):
            raise cause


def dotted(location: Place) -> str:
    """Write a place as people read it: keys with dots between, places in lists in brackets."""
    text = ""
    for part in location:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def table_in(annotation: Any) -> type[Part] | None:
    """Return the table that a field holds, alone.

    As one of several kinds, or as what a mapping or a list is made of.
    """
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    if get_origin(annotation) is Literal:
        return None
    return next((found for part in get_args(annotation) if (found := table_in(part))), None)


def is_mapping(annotation: Any) -> bool:
    """Whether the keys in a field are names that the user chooses."""
    return get_origin(annotation) is dict or any(get_origin(part) is dict for part in get_args(annotation))


def _find(model: type[Part], location: Place) -> tuple[type[Part] | None, Any]:
    """Return the table that the last part of ``location`` stands in, and the field that it names there."""
    here, field, named = model, None, True
    for part in location:
        if field is not None:
            inner = table_in(field.annotation)
            if inner is None:
                return here, field
            # The key after a mapping's own is a name that the user chose, or a place in a list.
            if named and (is_mapping(field.annotation) or isinstance(part, int)):
                named = False
                continue
            here = inner
        found = next((f for name, f in here.model_fields.items() if (f.alias or name) == part), None)
        field, named = found, True
        if found is None:
            return here, None
    return here, field


def _keys(model: type[Part], location: Place) -> list[str]:
    """Return the keys that the table that holds the last part of ``location`` knows."""
    here, _ = _find(model, location)
    return [] if here is None else [field.alias or name for name, field in here.model_fields.items()]


def _problem(item: dict[str, Any], model: type[Part], file: str) -> tuple[Problem, str]:
    """Return the sentence for one error, and the dotted key that a misspelt one probably means."""
    location: Place = item["loc"]
    # Behind a key of type "this or nothing" the validator appends the type's name; people did not type that.
    key, kind, value = dotted(location), item["type"], item.get("input")
    place = f"key {key}" if key else ""
    if kind == "missing":
        return Problem(file, place, "", f"the key {key} is missing; {_wanted(model, location)}"), ""
    if kind == "extra_forbidden":
        keys = _keys(model, location)
        near = nearest(str(location[-1]), keys)
        hint = f"did you mean {near}? " if near else ""
        message = f"is not a key that is read here; {hint}Accepted keys: {', '.join(keys)}"
        return Problem(file, place, str(location[-1]), message), dotted((*location[:-1], near)) if near else ""
    text = "" if isinstance(value, (dict, list, tuple, Part)) else typed(value)
    return Problem(file, place, text, _sentence(kind, item)), ""


def _wanted(model: type[Part], location: Place) -> str:
    _, field = _find(model, location)
    if field is not None and isinstance(field.annotation, type) and issubclass(field.annotation, Part):
        return f"add the table [{dotted(location)}]"
    description = field.description if field is not None else None
    return f"add it: {description}" if description else "add it"


def _sentence(kind: str, item: dict[str, Any]) -> str:
    context = item.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind == "literal_error":
        return f"is not accepted; accepted: {str(context['expected']).replace(' or ', ', ')}"
    simple = {
        "string_type": "is not a text; accepted: text in quotation marks",
        "bool_type": "is not accepted; accepted: true or false, without quotation marks",
        "float_type": "is not a bare number; accepted: a number without quotation marks, such as 0.10",
        "model_type": "a table is expected here; write its keys below a line with its name in square brackets",
        "dict_type": "tables are expected here, one for each mark, such as [measured.B1]",
        "tuple_type": 'a list is expected here, such as ["0 mm", "200 mm"]',
        "finite_number": "is not a finite number; accepted: a number such as 0.10",
    }
    if kind in simple:
        return simple[kind]
    edges = {
        "greater_than_equal": ("ge", "or more"),
        "less_than_equal": ("le", "or less"),
        "greater_than": ("gt", "above"),
        "less_than": ("lt", "below"),
    }
    if kind in edges:
        key, words = edges[kind]
        edge = f"{context[key]:g}"
        return f"is out of range; accepted: {f'{words} {edge}' if words in ('above', 'below') else f'{edge} {words}'}"
    if kind == "string_too_long":
        return f"is too long; accepted: up to {context['max_length']} characters"
    if kind == "string_too_short":
        return "the text is empty; accepted: a line of text"
    return f"is not accepted: {item['msg']}"
