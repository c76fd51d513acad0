"""Changes inside a bout that its middle value hides: long-short that turns even, steps that stutter.

Facts with their counts, no opinion; `cuekit.telling.faults` says them. The edges between even and uneven are
those of the measures; the other numbers are proposals, checked against look-alikes by
`tests/benchmark_faults.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cuekit.rhythm.alignment import Alignment, Bout
from cuekit.rhythm.long_share import UNEVEN_FROM
from cuekit.rhythm.measures import beat_shares, timed_beats

FEWEST_EACH_SIDE = 4
"""Beats before a change and after it: of fewer the middle value says too little."""
CLEAR_CHANGE = 2.8
"""Difference of the two means in standard errors, from which a change is taken for one."""
UNEVEN_BEFORE, EVEN_AFTER = UNEVEN_FROM + 0.02, UNEVEN_FROM
"""Mean long share before a change, from which it was long-short; after it, below which it no longer is."""
STUTTER_BELOW = 0.75
"""Last gap before the flight against the other running gaps, below which it is a stutter."""
FLIGHT_FROM = 1.6
"""Gap against the middle running gap from which it is taken for the flight."""


@dataclass(frozen=True)
class Stutter:
    """How often the last step before a flight came too soon: so many of so many leaps."""

    stutters: int
    leaps: int


def turned_even(alignment: Alignment) -> int | None:
    """Beats that were long-short before the bout turned even; None where it did not.

    Looked for in each bout by itself, the first that turned is told. The place of the change is
    the one that leaves the least sum of squares (Hinkley 1970, Biometrika 57:1-17). Of 100 made bouts of
    16 beats that turn half-way, all are found at 20 ms of scatter a landing, 89 at 35 ms and 63 at
    45 ms; of as many that are 2:1 or even throughout, none, 2 and 2 at most are told, and of those
    between (share 0.54 to 0.63) 3, 5 and 5 at most.
    """
    if not alignment.pattern.uneven:
        return None
    return next((beats for bout in alignment.bouts if (beats := _turn(alignment, bout))), None)


def stuttered(alignment: Alignment) -> Stutter | None:
    """Steps that got shorter before the long gap of a leap; None where the pattern has no flight.

    Read from the sounds themselves, as stutter steps have no places of their own.
    """
    lengths = {beat.length for beat in alignment.pattern.beats}
    if alignment.pattern.uneven or lengths != {1, 2}:
        return None
    counts = [_stutters(alignment, bout) for bout in alignment.bouts]
    return Stutter(sum(count.stutters for count in counts), sum(count.leaps for count in counts))


def _turn(alignment: Alignment, bout: Bout) -> int | None:
    """Beats before the change in one bout."""
    row = timed_beats(alignment, bout)
    shares = beat_shares(row)
    places = np.flatnonzero(np.isfinite(shares))
    shares = shares[places]
    cuts = range(FEWEST_EACH_SIDE, shares.size - FEWEST_EACH_SIDE + 1)
    if not cuts:
        return None
    cut = min(cuts, key=lambda at: _squares(shares[:at]) + _squares(shares[at:]))
    before, after = shares[:cut], shares[cut:]
    left = (_squares(before) + _squares(after)) / (shares.size - 2)
    error = np.sqrt(left * (1 / before.size + 1 / after.size))
    clear = before.mean() - after.mean() > CLEAR_CHANGE * error
    if clear and before.mean() >= UNEVEN_BEFORE and after.mean() < EVEN_AFTER:
        return int(places[cut])
    return None


def _squares(values: np.ndarray) -> float:
    return float(np.sum((values - values.mean()) ** 2))


def _stutters(alignment: Alignment, bout: Bout) -> Stutter:
    """Leaps of one bout, and those with a stutter."""
    times = [f.time_s for f in alignment.footfalls if bout.start_s <= f.time_s <= bout.end_s]
    gaps = np.diff(times)
    if gaps.size < 2:
        return Stutter(0, 0)
    flights = gaps >= FLIGHT_FROM * _running(gaps)
    last = [gap for gap, next_is_flight in zip(gaps, flights[1:], strict=False) if next_is_flight]
    others = [a for (a, air), (_, b) in pairwise(zip(gaps, flights, strict=True)) if not air and not b]
    if not last or not others:
        return Stutter(0, len(last))
    early = sum(bool(gap < STUTTER_BELOW * np.median(others)) for gap in last)
    return Stutter(early, len(last))


def _running(gaps: np.ndarray) -> float:
    """The middle running gap: of the shorter two thirds, as a flight is one gap in three at most."""
    return float(np.median(np.sort(gaps)[: max(1, round(2 * gaps.size / 3))]))
