"""The tokens of the workbook's look, read from ``tokens.toml``: the one place where a colour or a size is typed."""

from __future__ import annotations

import tomllib
from pathlib import Path

TOKENS = Path(__file__).with_name("tokens.toml")
_TOKENS = tomllib.loads(TOKENS.read_text(encoding="utf-8"))

COLOUR: dict[str, str] = _TOKENS["colour"]
DARK: dict[str, str] = _TOKENS["dark"]
LINE: dict[str, float] = _TOKENS["line"]  # points
LETTER: dict[str, float] = _TOKENS["letter"]  # points
PICTURE_WIDTH: float = _TOKENS["picture"]["width"]  # mm
APART: list[tuple[str, str]] = [(one, other) for one, other in _TOKENS["apart"]["pairs"]]


def css_colours(prefix: str = "", colours: dict[str, str] = COLOUR) -> str:
    """Write colours as custom properties of CSS.

    Parameters
    ----------
    prefix
        Stands before each name, so that two pages' styles do not meet.
    colours
        Colours by name.

    Returns
    -------
    str

    Examples
    --------
    >>> css_colours("dp-", {"paper": "#ffffff", "adhesive_ink": "#0f534d"})
    '--dp-paper: #ffffff; --dp-adhesive-ink: #0f534d;'
    """
    return " ".join(f"--{prefix}{name.replace('_', '-')}: {value};" for name, value in colours.items())
