"""Which likely sounds are believed to be footfalls: the sure ones, and doubtful ones in good company.

Feet come in rows, and in step: a sound of which the network is in doubt is believed where sure ones
are near, and a faint one where it falls as others of the same bout do. A ball, a shout or a chair
sounds like a foot now and then, a little, and alone. A ball that is dropped gives itself away by its
times: each wait is the same share of the one before. Nothing else is taken away for being out of
step: how a child moves is what is measured.
"""

from __future__ import annotations

import numpy as np

LEAST_PROBABILITY = 0.55
"""Of the network, for a footfall."""
DOUBTFUL_PROBABILITY = 0.2
"""From here to there a sound is kept as heard, but judged not to be a footfall unless it is in step."""
SURE_PROBABILITY = 0.7
LONE_PROBABILITY = 0.95
"""Of the network, for a footfall that has few sure ones near it."""
NEAR_S = 4.0
FEWEST_NEAR = 2
"""Sure sounds within this time of a sound, on either side, that it takes to believe a doubtful one."""

ALIKE_S = 0.04
"""How far two intervals may differ and still be the same step of a cycle, s."""
STEPS_WITHIN_S = 6.0
FEWEST_ALIKE = 3
"""Footfalls within this time that come as long after and before their neighbours as a faint sound does."""
IN_STEP_CONFIDENCE = 0.7
"""Share of true footfalls among the faint sounds in step: 64 of 91 on scenes of `tests/hearing`."""

BOUNCES = 6
"""Sounds in a row, at least, for a ball that bounces itself to rest."""
LEAST_BOUNCE, MOST_BOUNCE, BOUNCE_SPREAD = 0.6, 0.88, 0.08
"""Each wait is this share of the one before, to within the spread: the ball's coefficient of restitution.

Balls of sports have .7 to .9 on a hard floor (from memory of the rules for their rebound).
"""

CALIBRATION = (
    (0.0, 0.247, 0.349, 0.446, 0.549, 0.652, 0.757, 0.857, 0.927, 0.967, 1.0),
    (0.0, 0.10, 0.18, 0.27, 0.45, 0.58, 0.84, 0.94, 0.945, 0.96, 0.99),
)
"""Probability of the network and the share of true footfalls found for it (14,000 maxima)."""


def calibrated(probabilities: np.ndarray) -> np.ndarray:
    """Share of true footfalls among maxima of these probabilities."""
    return np.interp(probabilities, *CALIBRATION)


def believe(times_s: np.ndarray, probabilities: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which sounds are footfalls, and how sure each is to be one, both of shape (sounds,).

    Args:
        times_s: of the sounds, in order, s, shape (sounds,).
        probabilities: of the network, shape (sounds,).
    """
    likely = among_others(times_s, probabilities)
    bounced = np.zeros(times_s.size, bool)
    bounced[likely] = dying_away(times_s[likely])
    likely &= ~bounced
    stepping = in_step(times_s, likely) & ~bounced
    confidences = np.where(stepping, IN_STEP_CONFIDENCE, calibrated(probabilities))
    return likely | stepping, np.where(bounced, 0.0, confidences)


def among_others(times_s: np.ndarray, probabilities: np.ndarray) -> np.ndarray:
    """Which sounds are believed for themselves: likely ones, and where few are sure only the likeliest."""
    sure_s = times_s[probabilities >= SURE_PROBABILITY]
    first = np.searchsorted(sure_s, times_s - NEAR_S, "left")
    last = np.searchsorted(sure_s, times_s + NEAR_S, "right")
    near = last - first - (probabilities >= SURE_PROBABILITY)
    return probabilities >= np.where(near >= FEWEST_NEAR, LEAST_PROBABILITY, LONE_PROBABILITY)


def dying_away(times_s: np.ndarray) -> np.ndarray:
    """Which sounds, of those at times in order, are a dropped ball's: the waits shrink by one factor.

    A child who sets off does not: in five steps the last would take six tenths of the first, or less.
    """
    found = np.zeros(times_s.size, bool)
    if times_s.size < BOUNCES:
        return found
    waits_s = np.diff(times_s)
    shares = np.lib.stride_tricks.sliding_window_view(waits_s[1:] / waits_s[:-1], BOUNCES - 2)
    lowest, highest = shares.min(axis=1), shares.max(axis=1)
    steady = (lowest >= LEAST_BOUNCE) & (highest <= MOST_BOUNCE) & (highest - lowest <= BOUNCE_SPREAD)
    for first in np.flatnonzero(steady):
        found[first : first + BOUNCES] = True
    return found


def in_step(times_s: np.ndarray, likely: np.ndarray) -> np.ndarray:
    """Which of the sounds that are not `likely` themselves fall in step with those that are.

    In a gap as long as the one that such a sound falls in, there must be a footfall as far from both ends
    three times nearby, and more often than there is none.
    """
    feet_s, found = times_s[likely], np.zeros(times_s.size, bool)
    before_s, after_s, middle_s = np.diff(feet_s)[:-1], np.diff(feet_s)[1:], feet_s[1:-1]
    for n in np.flatnonzero(~likely):
        at = np.searchsorted(feet_s, times_s[n])
        if not 0 < at < feet_s.size:
            continue
        near = slice(*np.searchsorted(middle_s, times_s[n] + np.array([-STEPS_WITHIN_S, STEPS_WITHIN_S])))
        earlier_s, later_s = times_s[n] - feet_s[at - 1], feet_s[at] - times_s[n]
        alike = np.abs(before_s[near] - earlier_s) <= ALIKE_S
        alike &= np.abs(after_s[near] - later_s) <= ALIKE_S
        empty = np.abs(before_s[near] - (earlier_s + later_s)) <= ALIKE_S
        found[n] = np.count_nonzero(alike) >= max(FEWEST_ALIKE, np.count_nonzero(empty) + 1)
    return found
