"""Footfalls in a recording: when each foot met the floor, how sure that is, and whether enough was heard.

The network of `cuekit.hearing.ear` gives the probability of a contact every 5 ms and its exact time; the
maxima of that curve that `cuekit.hearing.belief` believes are the footfalls. Confidence is calibrated: of
the footfalls said to be 0.9 sure, nine in ten are true.

`heard` is about the recording as a whole. Feet return: after two, three or four footfalls the cycle comes
round again, in any of the skills, even where the intervals in it differ. Voices and balls do not keep
that, so where it wanders and the sounds are doubtful too, nothing is said of a child.
"""

from __future__ import annotations

import numpy as np

from cuekit.hearing.belief import DOUBTFUL_PROBABILITY, believe
from cuekit.hearing.ear import HOP_S, SAMPLE_RATE_HZ, Impression, listen, load_ear
from cuekit.hearing.events import Doubt, Footfall, Heard, Hearing, Recording
from cuekit.hearing.landings import SOONEST_S, second_contacts_s
from cuekit.hearing.spool import chunks

FIRST_S = 0.05
"""What sounds before this began before the recording did: its contact was not heard, s."""
APART_STEPS = 15
"""Maxima are the largest within this many steps: 75 ms; two footfalls are at least 95 ms apart."""
FEWEST_FOOTFALLS = 5

_LEVEL_S = 0.08  # a landing is loudest within this time of its contact
_FRAME = 320  # 20 ms
_FRAMES_AT_ONCE = 3_000
_QUIET_PERCENTILE = 20
_SURE = 0.8
_FEWEST_SURE, _MANY_SURE, _NEARLY_ALL_SURE = 0.65, 0.8, 0.95  # shares of footfalls that are sure
_STEADY_RETURN, _NO_RETURN = 0.18, 0.35  # spread of the time to the next footfall but one, of its median
_LONGEST_SOUND_S = 1.25  # from one footfall to the next on average, without a pause
_MANY_DOUBTFUL = 0.8  # doubtful sounds for each footfall
_NOISY_DB = 10.0


def detect_footfalls(recording: Recording) -> Hearing:
    """Find every footfall of a recording."""
    impression = listen(recording.samples, load_ear())
    times_s, probabilities = np.reshape(find_contacts(impression), (-1, 2)).T
    feet, confidences = believe(times_s, probabilities)
    levels_db = frame_levels_db(recording.samples)
    spreads_s = np.zeros(times_s.size)
    spreads_s[feet] = _spreads_s(recording.samples, times_s[feet])
    sounds = np.stack([times_s, confidences, spreads_s], axis=1)
    footfalls, rejected = (
        tuple(_footfall(*sound, levels_db) for sound in chosen.tolist())
        for chosen in (sounds[feet], sounds[~feet])
    )
    noise_db = float(np.percentile(levels_db, _QUIET_PERCENTILE))
    heard, reason = judge(footfalls, rejected, noise_db)
    return Hearing(footfalls, rejected, heard, reason, noise_db)


def find_contacts(impression: Impression) -> list[tuple[float, float]]:
    """(time s, probability) of the maxima of an impression, doubtful ones too, in order of time."""
    probability = 1.0 / (1.0 + np.exp(-impression.logit))
    steps = peaks(probability, DOUBTFUL_PROBABILITY, APART_STEPS)
    times_s = steps * HOP_S + impression.offset_s[steps]
    found = sorted(zip(times_s.tolist(), probability[steps].tolist(), strict=True))
    return [(time_s, sure) for time_s, sure in found if time_s >= FIRST_S]


def peaks(curve: np.ndarray, least: float, apart: int) -> np.ndarray:
    """Indices of the maxima of a curve of at least `least`, each the largest within `apart` steps."""
    padded = np.pad(curve, apart, constant_values=-np.inf)
    largest = np.lib.stride_tricks.sliding_window_view(padded, 2 * apart + 1).max(axis=1)
    found = np.flatnonzero((curve >= largest) & (curve >= least))
    return found[np.diff(found, prepend=-apart - 1) > apart]


def frame_levels_db(samples: np.ndarray) -> np.ndarray:
    """Level of each 20 ms of the samples, dB against full scale; at least one frame."""
    power = [_frame_power(chunk) for chunk in chunks(samples, _FRAMES_AT_ONCE * _FRAME)]
    return 10.0 * np.log10(np.concatenate(power or [np.zeros(1, np.float32)]) + 1e-12)


def _frame_power(samples: np.ndarray) -> np.ndarray:
    whole = np.pad(samples, (0, -samples.size % _FRAME))
    return np.square(whole.reshape(-1, _FRAME), dtype=np.float32).mean(axis=1)


def _spreads_s(samples: np.ndarray, times_s: np.ndarray) -> np.ndarray:
    """Time to the second contact of each landing, s; the footfall that follows is none."""
    spreads_s = second_contacts_s(samples, times_s)
    following_s = np.append(times_s[1:], np.inf)
    return np.where(times_s + spreads_s < following_s - SOONEST_S, spreads_s, 0.0)


def _footfall(time_s: float, confidence: float, spread_s: float, levels_db: np.ndarray) -> Footfall:
    """A contact with its level."""
    first = min(int(time_s * SAMPLE_RATE_HZ / _FRAME), levels_db.size - 1)
    last = first + int(_LEVEL_S * SAMPLE_RATE_HZ / _FRAME)
    return Footfall(time_s, float(levels_db[first:last].max()), confidence, spread_s)


def judge(
    footfalls: tuple[Footfall, ...], rejected: tuple[Footfall, ...], noise_db: float
) -> tuple[Heard, Doubt]:
    """Whether enough was heard to say anything, and where not, why."""
    if not footfalls:
        return Heard.NOT_ENOUGH, Doubt.NOTHING
    if len(footfalls) < FEWEST_FOOTFALLS:
        return Heard.NOT_ENOUGH, Doubt.FEW
    sure = float(np.mean([footfall.confidence >= _SURE for footfall in footfalls]))
    wander = return_spread(np.array([footfall.time_s for footfall in footfalls]))
    doubt = _doubt(footfalls, noise_db)
    if sure < _FEWEST_SURE or (wander > _NO_RETURN and sure < _NEARLY_ALL_SURE):
        return Heard.NOT_ENOUGH, doubt
    if wander > _STEADY_RETURN or sure < _MANY_SURE or len(rejected) > _MANY_DOUBTFUL * len(footfalls):
        return Heard.SOME_DOUBT, doubt
    return Heard.CLEAR, Doubt.NONE


def return_spread(times_s: np.ndarray) -> float:
    """How far the feet are from coming round again: 0 for a perfect cycle; infinite where too few to tell.

    Spread (1.4826 MAD / median, so that a stumble does not count) of the time from a footfall to the
    next but one; or to the third or fourth one, where the cycle has three sounds (a skip with one hop
    missing, a run-run-leap) or four, and six returns were heard; these count for more spread, as the
    best of three is smaller by chance. Longer gaps are pauses and left out.
    """
    spreads = []
    for sounds, fewest, chance in ((2, 3, 1.0), (3, 6, 1.5), (4, 6, 1.5)):
        returns_s = times_s[sounds:] - times_s[:-sounds]
        returns_s = returns_s[returns_s < _LONGEST_SOUND_S * sounds]
        if returns_s.size >= fewest:
            median_s = float(np.median(returns_s))
            spread = 1.4826 * float(np.median(np.abs(returns_s - median_s))) / median_s
            spreads.append(chance * spread)
    return min(spreads, default=float("inf"))


def _doubt(footfalls: tuple[Footfall, ...], noise_db: float) -> Doubt:
    """What is in the way in the room."""
    over_db = float(np.median([footfall.level_db for footfall in footfalls])) - noise_db
    if over_db < _NOISY_DB:
        return Doubt.NOISE
    return Doubt.OTHERS
