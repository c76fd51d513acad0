"""The slope that one wild value does not turn: the median of the slopes of all pairs.

Source: Sen 1968, J Am Stat Assoc 63:1379-1389.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

MOST_POINTS = 2_000
"""All pairs of more do not fit in memory: evenly spaced points stand for them (20 minutes at once)."""


def theil_sen(x: Sequence[float] | np.ndarray, y: Sequence[float] | np.ndarray) -> float:
    """Median of the slopes of all pairs; NaN under two distinct x."""
    slopes = pair_slopes(x, y)
    return float(np.median(slopes)) if slopes.size else math.nan


def pair_slopes(x: Sequence[float] | np.ndarray, y: Sequence[float] | np.ndarray) -> np.ndarray:
    """Slopes of all pairs with distinct x, in no order.

    Every odd one of more than `MOST_POINTS` is taken, so that the beats of both feet are among them.
    """
    every = math.ceil(len(x) / MOST_POINTS)
    every += 1 - every % 2 if every > 1 else 0
    x, y = (np.asarray(values, dtype=float)[::every] for values in (x, y))
    slopes, done = np.empty(x.size * (x.size - 1) // 2), 0
    for apart in range(1, x.size):
        run = x[apart:] - x[:-apart]
        some = run != 0
        found = (y[apart:] - y[:-apart])[some] / run[some]
        slopes[done : done + found.size] = found
        done += found.size
    return slopes[:done]
