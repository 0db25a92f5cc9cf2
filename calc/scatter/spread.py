"""Simulated results of a model: their mean, scatter and quantiles, and what a dose leaves short or wastes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from calc.scatter.accepted import Array, plain, require_each, require_part


@dataclass(frozen=True)
class Spread:
    """Simulated results of a model.

    ``values`` are in the order of the points, so that runs with one seed can be compared hole by hole.
    """

    values: Array

    @property
    def n(self) -> int:
        """Number of points; 1 when nothing scatters."""
        return len(self.values)

    @cached_property
    def mean(self) -> float:
        """Mean [unit of the model]."""
        return float(np.mean(self.values))

    @cached_property
    def sd(self) -> float:
        """Standard deviation [unit of the model]."""
        return float(np.std(self.values)) if np.ptp(self.values) > 0 else 0.0  # equal values must not give 1e-17

    @cached_property
    def ordered(self) -> Array:
        """Results in rising order [unit of the model]."""
        return np.sort(self.values)

    @cached_property
    def _sums(self) -> Array:
        """Sums of the smallest 0, 1, 2 … values."""
        return np.concatenate(([0.0], np.cumsum(self.ordered)))

    def quantile(self, p: Any) -> Any:
        """Value that a share ``p`` of the results does not exceed [unit of the model].

        Linear between the middles of the steps.
        """
        position = require_part("p", p) * self.n - 0.5
        low = np.clip(np.floor(position), 0, self.n - 1).astype(int)
        high = np.minimum(low + 1, self.n - 1)
        weight = np.clip(position - low, 0.0, 1.0)
        return plain(self.ordered[low] * (1 - weight) + self.ordered[high] * weight)

    def interval(self, p: Any) -> tuple[Any, Any]:
        """Probabilistically symmetric interval that holds a share ``p`` of the results (JCGM 101, 7.7)."""
        share = require_part("p", p)
        return self.quantile((1 - share) / 2), self.quantile((1 + share) / 2)

    def short_probability(self, dose: Any) -> Any:
        """Share of the results above ``dose`` [-]."""
        return plain(1.0 - self._rank(dose) / self.n)

    def mean_excess(self, dose: Any) -> Any:
        """Mean of what is too much, over all holes, those that are short included [unit of the model]."""
        rank = self._rank(dose)
        return plain(np.maximum(rank * np.asarray(dose, dtype=float) - self._sums[rank], 0.0) / self.n)

    def _rank(self, dose: Any) -> Any:
        return np.searchsorted(self.ordered, require_each("dose", dose, np.isfinite, "a finite number"), side="right")
