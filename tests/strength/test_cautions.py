"""Cautions reach the page for the code and the directions that need them, and for no others."""

import pytest

from calc.strength.cautions import strength_cautions
from calc.strength.codes import CODES


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("directions", [["down"], ["horizontal"], ["overhead"], ["down", "horizontal", "overhead"]])
def test_what_always_stands_there(code: str, directions: list[str]) -> None:
    text = " ".join(strength_cautions(code=code, directions=directions))
    for words in (
        "21 days",
        "17.2.2",
        "Temperature",
        "fire, seismic",
        "fatigue",
        "approval",
        "local code",
        "licensed engineer",
    ):
        assert words in text


@pytest.mark.parametrize("code", CODES)
def test_sustained_tension_only_where_holes_do_not_point_down(code: str) -> None:
    assert not any("sustained" in c for c in strength_cautions(code=code, directions=["down"]))
    for direction in ("horizontal", "overhead"):
        (one,) = [c for c in strength_cautions(code=code, directions=["down", direction]) if "sustained" in c]
        assert one.startswith(direction.capitalize() + " holes")
        for words in ("certified installer", "continuous inspection", "26.7", "26.13"):
            assert words in one
    (both,) = [
        c for c in strength_cautions(code=code, directions=["overhead", "horizontal", "overhead"]) if "sustained" in c
    ]
    assert both.startswith("Horizontal and overhead holes")


def test_the_american_code_demands_and_the_european_ones_point_to_it() -> None:
    aci, en = (" ".join(strength_cautions(code=c, directions=["overhead"])) for c in ("ACI 318-19", "EN 1992-1-1:2004"))
    assert "ACI 318-19, 17.2.2, wants the concrete" in aci
    assert "the approval says from what age" in en
    assert "the approval says from what age" not in aci


def test_the_engineer_has_the_last_word() -> None:
    assert strength_cautions(code="ACI 318-19", directions=[])[-1].startswith("A licensed engineer decides")


@pytest.mark.parametrize(
    ("code", "directions", "message"), [("EC2", ["down"], "code is 'EC2'"), ("ACI 318-19", ["up"], "direction is 'up'")]
)
def test_refuses(code: str, directions: list[str], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        strength_cautions(code=code, directions=directions)
