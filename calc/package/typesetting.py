"""Every formula of the workbook, found in its modules; and the templates that handcalcs made of them, kept as data."""

from __future__ import annotations

import importlib
import json
import pkgutil
from pathlib import Path

import calc
from calc.base.formula import TEMPLATES, Formula, templates
from calc.base.ledger import IDS, as_text, with_newborn

FILE = Path(calc.__file__).resolve().parent / "base" / "data" / TEMPLATES


def every_formula() -> list[Formula]:
    """Import all modules of the workbook and list the formulas that they declare, by id."""
    found: dict[str, Formula] = {}
    for module in pkgutil.walk_packages(calc.__path__, "calc."):
        if not module.name.endswith("__main__"):
            found |= {
                value.address: value
                for value in vars(importlib.import_module(module.name)).values()
                if isinstance(value, Formula)
            }
    return sorted(found.values(), key=lambda one: (one.id, one.address))


def templates_text() -> str:
    """Have every formula typeset anew; returns what the kept file must hold."""
    return json.dumps(templates(every_formula()), ensure_ascii=False, indent=0) + "\n"


def keep_ids() -> Path:
    """Enter the formulas that were born since into the register; returns the file."""
    file = FILE.with_name(IDS)
    file.write_text(as_text(with_newborn(every_formula())), encoding="utf-8", newline="\n")
    return file


def keep_templates() -> Path:
    """Write the templates of all formulas; returns the file."""
    FILE.write_text(templates_text(), encoding="utf-8", newline="\n")
    return FILE
