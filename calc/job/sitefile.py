"""Tables of the job file about the site: crew, times, temperatures and how holes are prepared."""

from __future__ import annotations

from calc.job.fields import Part


class Site(Part):
    """Crew, times and temperatures."""
