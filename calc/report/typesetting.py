"""Every formula of the workbook, found in its modules; and the templates that handcalcs made of them, kept as data."""

from __future__ import annotations

import importlib
import json
import pkgutil
from pathlib import Path

import calc
from calc.base.formula import TEMPLATES, Formula, templates

FILE = Path(calc.__file__).resolve().parent / "base" / "data" / TEMPLATES


def every_formula() -> list[Formula]:
    """Import all modules of the workbook and list the formulas that they declare, by name."""
    found: dict[str, Formula] = {}
    for module in pkgutil.walk_packages(calc.__path__, "calc."):
        if not module.name.endswith("__main__"):
            found |= {value.name: value for value in vars(importlib.import_module(module.name)).values() if isinstance(value, Formula)}
    return [found[name] for name in sorted(found)]


def templates_text() -> str:
    """Have every formula typeset anew; returns what the kept file must hold."""
    return json.dumps(templates(every_formula()), ensure_ascii=False, indent=0) + "\n"


def keep_templates() -> Path:
    """Write the templates of all formulas; returns the file."""
    FILE.write_text(templates_text(), encoding="utf-8", newline="\n")
    return FILE
