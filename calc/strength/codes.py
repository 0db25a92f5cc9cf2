"""The codes that strength is worked by, each under one name."""

from __future__ import annotations

from typing import Literal, get_args

from calc.base.errors import NotAccepted

Code = Literal["EN 1992-1-1:2004", "EN 1992-1-1:2023", "ACI 318-19"]

CODES: tuple[str, ...] = get_args(Code)

EN04, EN23, ACI = CODES


def check_code(code: str) -> None:
    """Refuse a code that the workbook does not know; raises `ValueError`."""
    if code not in CODES:
        raise NotAccepted(f"code is '{code}'; accepted are {', '.join(CODES)}")
