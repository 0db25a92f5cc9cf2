"""Seeded holes, and what the workbook says of each: for the page's arithmetic at a prompt and in a browser."""

import json
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest

from calc.fill import dose, hole, level
from calc.lesson.pocket.page import CALLERS
from calc.lesson.pocket.script import in_javascript

POINTS = 10_000


@cache
def drawn() -> dict[str, np.ndarray]:
    """Holes of any size, doses from none to three times the need, the bar anywhere; mm and mm³."""
    rng = np.random.default_rng(20261130)
    phi = rng.uniform(6, 57, POINTS)
    d_0, l_v = phi * rng.uniform(1.02, 2.5, POINTS), rng.uniform(40, 2000, POINTS)
    overdrill = rng.choice([0.0, 1.0], POINTS) * rng.uniform(0, 50, POINTS)
    theta = np.where(rng.uniform(size=POINTS) < 0.3, 180.0, rng.uniform(90, 179, POINTS))
    need = hole.required_volume(d_0=d_0, phi=phi, l_v=l_v, overdrill=overdrill, theta=theta)
    return {
        "phi": phi, "d_0": d_0, "l_v": l_v, "overdrill": overdrill, "theta": theta,
        "V": need * rng.uniform(0, 3, POINTS), "x": l_v * rng.uniform(0, 1, POINTS), "V_req": need,
        "overfill": rng.uniform(0, 1, POINTS), "V_dose": need,
        "graduation": rng.choice([250.0, 1000.0, 5000.0], POINTS), "stroke": rng.uniform(500, 9000, POINTS),
    }  # fmt: skip


GIVEN: tuple[tuple[Callable[..., Any], tuple[str, ...]], ...] = (
    (hole.required_volume, ("d_0", "phi", "l_v", "overdrill", "theta")),
    (hole.annular_volume, ("d_0", "phi", "l_v")),
    (hole.tip_depth, ("d_0", "theta")),
    (hole.bar_area, ("phi",)),
    (level.full_fraction, ("d_0", "phi")),
    (level.surface_depth, ("V", "d_0", "phi", "l_v", "x", "overdrill", "theta")),
    (level.overflow, ("V", "d_0", "phi", "l_v", "x", "overdrill", "theta")),
    (level.unfilled_length, ("V", "d_0", "phi", "l_v", "overdrill", "theta")),
    (dose.dose, ("V_req", "overfill")),
    (dose.rounded_dose, ("V_dose", "graduation")),
    (dose.strokes, ("V_dose", "stroke")),
)


def name(one: Any) -> str:
    return getattr(one, "function", one).__name__


def program() -> str:
    """Each function at each point, as one expression that gives lists of numbers."""
    points = drawn()
    data = json.dumps({key: values.tolist() for key, values in points.items()})
    calls = ",\n".join(
        f"{json.dumps(name(one))}: Array.from({{length: {POINTS}}}, (_, i) =>"
        f" {name(one)}({{{', '.join(f'{key}: P.{key}[i]' for key in keys)}}}))"
        for one, keys in GIVEN
    )
    return f"{in_javascript(*CALLERS)}\nconst P = {data};\nconst found = {{{calls}}};"


def expected(points: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    return {name(one): np.asarray(one(**{key: points[key] for key in keys})) for one, keys in GIVEN}


def hold(found: dict[str, list[float]]) -> None:
    points = drawn()
    for key, values in expected(points).items():
        # Where a difference of volumes is nearly nothing, its digits hang on those of the volumes.
        scale = (
            points["V"] if key == "overflow" else points["l_v"] if key in ("surface_depth", "unfilled_length") else 1
        )
        assert found[key] == pytest.approx(values, rel=1e-12, abs=1e-12 * float(np.max(scale))), key
