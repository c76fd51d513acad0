"""Footfalls in a recording: when each foot met the floor, how sure that is, and whether enough was heard."""

from __future__ import annotations

import numpy as np

from cuekit.events import Footfall, Heard, Hearing, Recording
from cuekit.rises import STEP_S, Rises, find_rises, peaks

_LEAST_DB = 4.5
_APART_STEPS = 45
_FEWEST = 5


def detect_footfalls(recording: Recording) -> Hearing:
    """Find every footfall of a recording."""
    rises = find_rises(recording.samples, recording.sample_rate_hz)
    found = peaks(rises.novelty_db, _LEAST_DB, _APART_STEPS)
    footfalls = tuple(_footfall(step, rises) for step in found)
    heard, reason = _enough(footfalls)
    return Hearing(footfalls, (), heard, reason, rises.noise_db)


def _footfall(step: int, rises: Rises) -> Footfall:
    """The footfall whose energy rises fastest at a step."""
    after = rises.power[:, step : step + 20].sum(axis=0)
    level_db = 10 * float(np.log10(after.max() + 1e-12))
    confidence = 1 / (1 + np.exp(-(rises.novelty_db[step] - _LEAST_DB) / 0.8))
    return Footfall(max(0.0, (step - 3) * STEP_S), level_db, float(confidence))


def _enough(footfalls: tuple[Footfall, ...]) -> tuple[Heard, str]:
    """Whether enough was heard to say anything."""
    if len(footfalls) < _FEWEST:
        return Heard.NOT_ENOUGH, "too few clear footfalls: move the microphone nearer, or quiet the room"
    return Heard.CLEAR, ""
