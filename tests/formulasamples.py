"""Values that a formula accepts, drawn with a seed."""

import numpy as np


def sample(formula, seed):
    """Draw a value for each parameter, within its limits and relations."""
    random = np.random.default_rng(seed)
    values = {}
    for name in formula.parameters:
        low, high = formula.limits.get(name, (0.5, 60.0))
        handy = (max(low, 0.5), min(high, 60.0))
        start, end = handy if handy[0] < handy[1] else (low + 0.1 * (high - low), high)
        values[name] = float(f"{random.uniform(start, end):.4g}")
    for relation in formula.relations:
        left, _, right = relation.split()
        if not values[left] < values[right]:
            values[left] = float(f"{values[right] * 0.75:.4g}")
    return values
