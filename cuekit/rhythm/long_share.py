"""The long share of a bout: its middle, how sure that is, and the plain word for it.

Source of the interval: percentile bootstrap (Efron & Tibshirani 1993, ch. 13).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from cuekit.patterns.pattern import USUAL, Accepted

EVEN_BELOW, UNEVEN_FROM, CLIPPED_ABOVE = 0.54, USUAL.long_share_from, USUAL.long_share_to
"""Edges of the median long share between even, nearly even, uneven and clipped."""
FEWEST_BEATS = 6
"""Complete beats without which a rhythm is `unclear`; 8 are recommended."""
_RESAMPLES = 2000
_FEW = 24
_AT_ONCE = 250_000
"""Shares drawn at a time: those of a bout in one go, those of three hours piece by piece."""


class RhythmClass(StrEnum):
    """What the long share says."""

    EVEN = "even"
    NEARLY_EVEN = "nearly even"
    UNEVEN = "uneven"
    CLIPPED = "clipped"
    UNCLEAR = "unclear"


@dataclass(frozen=True)
class LongShare:
    """Median long share with its 95 % bootstrap interval."""

    value: float
    low: float
    high: float

    @property
    def ratio(self) -> float:
        """long : short, for display only (the ratio is biased by scatter, the share is not)."""
        return self.value / (1.0 - self.value)


def classify(share: LongShare | None, complete_beats: int, accepted: Accepted = USUAL) -> RhythmClass:
    """Even, nearly even, uneven or clipped, by the distance of the long share from one half.

    Unclear under six complete beats, or where the interval straddles the whole zone between even
    and uneven.
    """
    if share is None or complete_beats < FEWEST_BEATS:
        return RhythmClass.UNCLEAR
    value = max(share.value, 1.0 - share.value)
    low, high = (share.low, share.high) if share.value >= 0.5 else (1.0 - share.high, 1.0 - share.low)
    even_below = min(EVEN_BELOW, accepted.long_share_from)
    if low < even_below and high > accepted.long_share_from:
        return RhythmClass.UNCLEAR
    if value < even_below:
        return RhythmClass.EVEN
    if value < accepted.long_share_from:
        return RhythmClass.NEARLY_EVEN
    return RhythmClass.UNEVEN if value <= accepted.long_share_to else RhythmClass.CLIPPED


def median_with_interval(shares: np.ndarray) -> LongShare | None:
    """Median and 95 % percentile bootstrap interval; None under two shares. Same input, same result.

    What is resampled is the pseudo-median (median of all pairwise means; Hodges & Lehmann 1963,
    Ann Math Stat 34:598-611) up to 24 beats, where it is a tenth narrower than the median's own
    interval at the same coverage, and the median above. With 8 beats the interval covers the true
    share 86 times in 100, not 95 (simulated, 35 ms scatter a landing): read it as a guide.
    """
    if shares.size < 2:
        return None
    rng, rows = np.random.default_rng(0), max(1, _AT_ONCE // shares.size)
    pieces = [min(rows, _RESAMPLES - done) for done in range(0, _RESAMPLES, rows)]
    middles = [_middles(shares[rng.integers(0, shares.size, (piece, shares.size))]) for piece in pieces]
    low, high = np.percentile(np.concatenate(middles), [2.5, 97.5])
    value = float(np.median(shares))
    return LongShare(value, min(float(low), value), max(float(high), value))


def _middles(drawn: np.ndarray) -> np.ndarray:
    """The pseudo-median of each row, or the median where there are many."""
    if drawn.shape[1] <= _FEW:
        i, j = np.triu_indices(drawn.shape[1])
        drawn = 0.5 * (drawn[:, i] + drawn[:, j])
    return np.median(drawn, axis=1)
