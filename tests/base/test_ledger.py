"""A formula's id is given once.

The register is complete, only ever added to, and a move changes nothing that is kept.
"""

import dataclasses
import hashlib
import importlib.util
import json
import subprocess
import sys

import pytest

from calc.base.formula import DeclarationError
from calc.base.ledger import IDS, as_text, entries, id_of, with_newborn
from calc.base.sheet import Given, apply
from calc.fill import hole
from calc.package.typesetting import FILE, every_formula

REGISTER = FILE.with_name(IDS)
# The formulas that packages of schema 1 name by address, as they were when ids were introduced. Never to be changed.
FIRST, DIGEST = 171, "48caa9476339e228ad5201780067f903"


def born(register):
    return [(entry["id"], entry["born_as"]) for entry in register]


def test_the_register_is_complete():
    """Every formula has one entry, and every entry a formula or the reason why it has none."""
    living = [entry["id"] for entry in entries() if "retired" not in entry]
    assert sorted(living) == sorted(one.id for one in every_formula()), "run: bonded-bar-workbook refresh"
    for kept in ("id", "born_as"):
        assert len({entry[kept] for entry in entries()}) == len(entries())
    assert all(entry.get("retired", "why").strip() for entry in entries())
    assert REGISTER.read_text(encoding="utf-8") == as_text(with_newborn(every_formula()))


def test_the_first_entries_are_those_that_packages_name():
    lines = "\n".join(f"{id} {address}" for id, address in born(entries()[:FIRST]))
    assert hashlib.sha256(lines.encode()).hexdigest().startswith(DIGEST), (
        "an id was changed, moved or taken away; the register is only added to"
    )


def test_the_register_was_only_added_to():
    """As far as this clone's history reaches; the digest above holds where there is none."""

    def git(*words):
        return subprocess.run(
            ["git", *words], cwd=REGISTER.parent, capture_output=True, text=True, encoding="utf-8", check=False
        ).stdout

    for commit in git("log", "--format=%H", "--", IDS).split():
        before = born(json.loads(git("show", f"{commit}:./{IDS}") or "[]"))
        assert born(entries())[: len(before)] == before, f"{commit[:12]} had other entries"


def moved(source, name):
    """Import a module's file under another name, as if the file had moved."""
    spec = importlib.util.spec_from_file_location(name, source.__file__)
    module = sys.modules[name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_a_moved_formula_gives_the_same_step():
    other = moved(hole, "elsewhere")
    assert other.annular_volume.address == "elsewhere.annular_volume"
    given = {"d_0": Given(25.0, "mm", "here"), "phi": Given(20.0, "mm", "here"), "l_v": Given(300.0, "mm", "here")}
    steps = [apply(one.annular_volume, name="V_a", label="Annulus", inputs=given) for one in (hole, other)]
    assert dataclasses.asdict(steps[0]) == dataclasses.asdict(steps[1])
    assert steps[0].formula == "annular_volume"


def test_an_address_of_schema_1_is_read_as_the_id():
    assert id_of("calc.fill.hole.annular_volume") == id_of("annular_volume") == "annular_volume"
    assert id_of("calc.strength.en1992_2004.design_anchorage") == "design_anchorage_2004"
    assert id_of("calc.elsewhere.annular_volume") == "calc.elsewhere.annular_volume"


def test_a_newborn_is_entered_at_the_end_and_a_taken_id_is_refused(monkeypatch):
    one = next(iter(every_formula()))
    newborn = dataclasses.replace(one, id="newborn", address="calc.elsewhere.newborn")
    assert with_newborn([*every_formula(), newborn]) == [
        *entries(),
        {"id": "newborn", "born_as": "calc.elsewhere.newborn"},
    ]
    with pytest.raises(DeclarationError, match=f"'{one.id}'; give the newer one another"):
        with_newborn([one, dataclasses.replace(newborn, id=one.id)])
    monkeypatch.setattr(
        "calc.base.ledger.entries", lambda: [{"id": "newborn", "born_as": "gone", "retired": "it was wrong"}]
    )
    with pytest.raises(DeclarationError, match="a retired formula"):
        with_newborn([newborn])
