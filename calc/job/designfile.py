"""Tables of the job file about strength: code, materials, forces and what is known of the old concrete."""

from __future__ import annotations

from calc.job.fields import Part


class Design(Part):
    """Code, materials and forces."""
