"""Change over time of one number, under the same conditions, with its doubt; else that there is too little.

Sources: Theil-Sen slope and its interval by Kendall's S (Sen 1968, J Am Stat Assoc 63:1379-1389); NAP
(Parker & Vannest 2009, Behav Ther 40:357-367) and Tau of non-overlap (Parker et al. 2011, Behav Ther
42:284-299, doi 10.1016/j.beth.2010.08.006); error of a repeated try as the pooled standard deviation
within days, and 1.96 * sqrt(2) of it as the least difference that repeats alone seldom make (Bland &
Altman 1996, BMJ 313:744; cited from memory). Tau-U is not used: it is not bounded by 1 and corrects a
trend weakly (doi 10.1177/0145445516676750).
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import NormalDist, median

from cuekit.rhythm.theil_sen import pair_slopes, theil_sen

FEWEST_BOUTS, FEWEST_DAYS = 3, 3
"""A side needs this many bouts on each of this many days before a change is told."""
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Point:
    """One number of one bout on a day."""

    day: date
    value: float


@dataclass(frozen=True)
class Level:
    """Present level under one set of conditions: middle value, range, and what it rests on."""

    middle: float
    low: float
    high: float
    bouts: int
    days: int


@dataclass(frozen=True)
class Trend:
    """Theil-Sen slope a week with its 95 % interval."""

    per_week: float
    low: float
    high: float


@dataclass(frozen=True)
class Change:
    """Before against after.

    Attributes:
        before, after: the levels.
        nap: share of all pairs in which the later value is the higher one, ties half, 0-1.
        tau: the same from -1 to 1: share higher minus share lower.
        repeat_difference: difference that this learner's repeats on one day seldom pass; None if unknown.
    """

    before: Level
    after: Level
    nap: float
    tau: float
    repeat_difference: float | None


def level(points: Sequence[Point]) -> Level | None:
    """Median and range; None of nothing."""
    values = [point.value for point in points]
    if not values:
        return None
    days = len({point.day for point in points})
    return Level(median(values), min(values), max(values), len(values), days)


def enough(points: Sequence[Point]) -> bool:
    """Whether one side has three bouts or more on each of three days or more."""
    by_day = Counter(point.day for point in points)
    return sum(bouts >= FEWEST_BOUTS for bouts in by_day.values()) >= FEWEST_DAYS


def change(before: Sequence[Point], after: Sequence[Point]) -> Change | None:
    """Compare two sides done under the same conditions; None where that is not enough to report change."""
    if not (enough(before) and enough(after)):
        return None
    first, later = [p.value for p in before], [p.value for p in after]
    error = repeat_error([*before, *after])
    difference = None if error is None else repeat_difference(error)
    return Change(level(before), level(after), nap(first, later), tau(first, later), difference)


def nap(before: Sequence[float], after: Sequence[float]) -> float:
    """Non-overlap of all pairs: P(after > before) + half the ties, 0-1; one half is no difference."""
    return 0.5 + 0.5 * tau(before, after)


def tau(before: Sequence[float], after: Sequence[float]) -> float:
    """Tau of non-overlap: (pairs higher - pairs lower) / all pairs, from -1 to 1."""
    signs = [(b > a) - (b < a) for a in before for b in after]
    return sum(signs) / len(signs)


def trend(points: Sequence[Point]) -> Trend | None:
    """Slope a week of one side; None where that is not enough, or where the interval does not exist."""
    if not enough(points):
        return None
    origin = min(point.day for point in points)
    days = [float((point.day - origin).days) for point in points]
    slope, low, high = slope_with_interval(days, [point.value for point in points])
    return Trend(7.0 * slope, 7.0 * low, 7.0 * high)


def slope_with_interval(x: Sequence[float], y: Sequence[float]) -> tuple[float, float, float]:
    """Theil-Sen slope and its 95 % interval, by Kendall's S with ties.

    Raises:
        ValueError: fewer than two different x.
    """
    slopes = sorted(pair_slopes(x, y).tolist())
    if not slopes:
        raise ValueError("a slope needs two different x")
    reach = NormalDist().inv_cdf(0.5 + CONFIDENCE / 2.0) * math.sqrt(_variance_of_s(x, y))
    last = len(slopes) - 1
    lower = min(max(round((len(slopes) - reach) / 2.0) - 1, 0), last)
    upper = min(round((len(slopes) + reach) / 2.0), last)
    return theil_sen(x, y), slopes[lower], slopes[upper]


def repeat_error(points: Sequence[Point]) -> float | None:
    """The learner's own repeat error: standard deviation within days, pooled; None without repeats."""
    by_day: dict[date, list[float]] = defaultdict(list)
    for point in points:
        by_day[point.day].append(point.value)
    free = sum(len(values) - 1 for values in by_day.values())
    if not free:
        return None
    squares = sum((v - sum(row) / len(row)) ** 2 for row in by_day.values() for v in row)
    return math.sqrt(squares / free)


def repeat_difference(error: float) -> float:
    """Difference of two bouts that repeats alone seldom pass (one time in twenty), from a repeat error."""
    return 1.96 * math.sqrt(2.0) * error


def _variance_of_s(x: Sequence[float], y: Sequence[float]) -> float:
    """Variance of Kendall's S under no trend, ties taken out (Sen 1968, eq. 2.6)."""

    def weight(n: int) -> float:
        return n * (n - 1) * (2 * n + 5)

    ties = sum(weight(n) for row in (x, y) for n in Counter(row).values())
    return max(weight(len(x)) - ties, 0.0) / 18.0
