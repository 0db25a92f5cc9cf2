"""Tables of the job file about scatter: how much is added, what varies, what is assumed of dosing by eye, what it costs."""

from __future__ import annotations

from pydantic import Field

from calc.job.fields import Line, Part, Share


class Overfill(Part):
    """The share added to the required volume."""

    share: Share = Field(description="0.10 is ten per cent more than the required volume")
    reason: Line = Field(default="", description="Why this share")


class Scatter(Part):
    """How much holes, bars and dispensing vary."""


class Judgement(Part):
    """What is assumed of dosing by eye."""


class Cost(Part):
    """What adhesive and a short hole cost."""


class Evidence(Part):
    """Measured holes of a group, from which its overfill may follow."""
