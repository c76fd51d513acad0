"""How early or late the feet were against the cue, and how much they agreed with it.

Asynchrony is footfall minus cue, s; negative is early. Its middle holds the delay of the loudspeaker,
of the room and of the recorder as well as the learner's own, so it is shown only where that delay was
checked, and nothing else is taken from it. Its spread and its resultant length do not change with a
constant delay.

Sources: circular resultant length, Fisher 1993 (Statistical analysis of circular data, ch. 2) and
Berens 2009, J Stat Softw 31(10); MAD scaled by 1.4826 to a normal's standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Asynchrony:
    """Footfalls against their cues.

    Attributes:
        count: pairs of a footfall and its cue.
        median_s: of footfall minus cue, s.
        spread_s: 1.4826 MAD of it, s.
        resultant_length: 1 where every footfall had the same place in its beat, near 0 where any.
    """

    count: int
    median_s: float
    spread_s: float
    resultant_length: float


def asynchrony(cues_s: np.ndarray, footfalls_s: np.ndarray, period_s: float) -> Asynchrony | None:
    """Compare footfalls with the cues they were aligned to; None without a pair.

    Parameters
    ----------
    cues_s, footfalls_s : the cue and the footfall of each pair, s, shape (pairs,)
    period_s : of the beat, which is one turn of the circle

    Raises
    ------
    ValueError
        The two are not pairs, or the period is not above 0.
    """
    if np.shape(cues_s) != np.shape(footfalls_s) or not period_s > 0:
        raise ValueError(
            f"a cue for each footfall and a period above 0 are needed, got {np.shape(cues_s)} cues, "
            f"{np.shape(footfalls_s)} footfalls, {period_s} s"
        )
    late_s = np.asarray(footfalls_s, dtype=float) - np.asarray(cues_s, dtype=float)
    if not late_s.size:
        return None
    middle_s = float(np.median(late_s))
    spread_s = 1.4826 * float(np.median(np.abs(late_s - middle_s)))
    return Asynchrony(late_s.size, middle_s, spread_s, abs(mean_resultant(late_s / period_s)))


def mean_resultant(turns: np.ndarray) -> complex:
    """Mean of unit vectors at these parts of a turn: its angle is the mean direction, its length R."""
    return complex(np.mean(np.exp(2j * np.pi * np.asarray(turns, dtype=float))))
