"""Which likely sounds are believed to be footfalls: the sure ones, and doubtful ones in good company.

Feet come in rows, and in step: a sound of which the network is in doubt is believed where sure ones
are near, and a faint one where it falls as others of the same bout do. A ball, a shout or a chair
sounds like a foot now and then, a little, and alone. Nothing is taken away for being out of step:
how a child moves is what is measured.
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
IN_STEP_CONFIDENCE = 0.75
"""Share of true footfalls among the faint sounds in step: 70 of 93 on scenes of `tests/hearing`."""

CALIBRATION = (
    (0.0, 0.247, 0.349, 0.451, 0.549, 0.654, 0.759, 0.855, 0.928, 0.967, 1.0),
    (0.0, 0.12, 0.23, 0.32, 0.43, 0.71, 0.86, 0.93, 0.95, 0.97, 0.99),
)
"""Probability of the network and the share of true footfalls found for it (14,000 maxima)."""


def calibrated(probability: float) -> float:
    """Share of true footfalls among maxima of this probability."""
    return float(np.interp(probability, *CALIBRATION))


def believe(times_s: np.ndarray, probabilities: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which sounds are footfalls, and how sure each is to be one, both of shape (sounds,).

    Args:
        times_s: of the sounds, in order, s, shape (sounds,).
        probabilities: of the network, shape (sounds,).
    """
    likely = among_others(times_s, probabilities)
    stepping = in_step(times_s, likely)
    confidences = np.where(stepping, IN_STEP_CONFIDENCE, np.interp(probabilities, *CALIBRATION))
    return likely | stepping, confidences


def among_others(times_s: np.ndarray, probabilities: np.ndarray) -> np.ndarray:
    """Which sounds are believed for themselves: likely ones, and where few are sure only the likeliest."""
    sure_s = times_s[probabilities >= SURE_PROBABILITY]
    first = np.searchsorted(sure_s, times_s - NEAR_S, "left")
    last = np.searchsorted(sure_s, times_s + NEAR_S, "right")
    near = last - first - (probabilities >= SURE_PROBABILITY)
    return probabilities >= np.where(near >= FEWEST_NEAR, LEAST_PROBABILITY, LONE_PROBABILITY)


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
