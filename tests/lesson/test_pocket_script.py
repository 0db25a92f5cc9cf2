"""The arithmetic of the page for a phone is that of the workbook: at seeded points, and in what it refuses."""

import json
import os
import shutil
import subprocess
from typing import Any

import pytest
from pocketpoints import GIVEN, hold, name, program

from calc.base.formula import RangeError
from calc.fill import dose, hole, level
from calc.lesson.pocket.page import CALLERS
from calc.lesson.pocket.script import in_javascript

NODE = shutil.which("node")


def test_every_function_of_the_page_is_tried() -> None:
    assert {name(one) for one, _ in GIVEN} == {name(one) for one in CALLERS}


@pytest.mark.skipif(NODE is None and not os.environ.get("WORKBOOK_NO_SKIP"), reason="node is not installed")
def test_at_a_prompt() -> None:
    text = program() + "\nprocess.stdout.write(JSON.stringify(found));"
    done = subprocess.run(["node", "-"], input=text, capture_output=True, text=True, check=True)
    hold(json.loads(done.stdout))


@pytest.mark.parametrize(
    ("call", "values", "said"),
    [
        (hole.required_volume, {"d_0": 16, "phi": 16, "l_v": 200}, "phi"),
        (hole.required_volume, {"d_0": 20, "phi": 16, "l_v": -1}, "l_v"),
        (level.surface_depth, {"V": -1, "d_0": 20, "phi": 16, "l_v": 200, "x": 0}, "V must lie between"),
        (level.surface_depth, {"V": 1, "d_0": 20, "phi": 16, "l_v": 200, "x": 201}, "x, the depth"),
        (dose.rounded_dose, {"V_dose": 5.0, "graduation": 0.0}, "graduation"),
    ],
)
@pytest.mark.skipif(NODE is None and not os.environ.get("WORKBOOK_NO_SKIP"), reason="node is not installed")
def test_what_is_refused_is_refused_there_too(call: Any, values: dict[str, float], said: str) -> None:
    with pytest.raises(RangeError, match=said):
        call(**values)
    tried = f"try {{ {name(call)}({json.dumps(values)}); }} catch (e) {{ console.log(e.name, e.message); }}"
    text = f"{in_javascript(*CALLERS)}\n{tried}"
    done = subprocess.run(["node", "-"], input=text, capture_output=True, text=True, check=True)
    assert done.stdout.startswith("RangeError")
    assert said in done.stdout


def test_what_cannot_be_written_is_refused_when_the_page_is_made() -> None:
    def loops(*, n: int) -> int:
        while n:
            n = n // 2
        return n

    with pytest.raises(NotImplementedError, match=r"loops: while n"):
        in_javascript(loops)
