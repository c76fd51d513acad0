"""Whether a landing was one sound or two: the second foot of a jump, or the toe after the heel.

The network of `cuekit.hearing.ear` tells feet from other sounds and gives one contact a landing. Here the
tenth of a second after that contact is looked at in steps of 1 ms: a second contact lifts several
bands at once over what rang there just before, where a floor that rings and an echo only fall.
"""

from __future__ import annotations

import numpy as np

from cuekit.hearing.ear import SAMPLE_RATE_HZ
from cuekit.hearing.spool import let_go

SOONEST_S, LATEST_S = 0.025, 0.130
"""Sooner it is one sound to the ear; later it is a footfall of its own."""

_STEP, _WINDOW = 16, 128  # 1 ms and 8 ms
_BANDS_HZ = ((60, 300), (300, 700), (700, 1500), (1500, 3500), (3500, 7500))
_JUST_BEFORE = (6, 22)  # steps before that a rise is measured over
_LEAST_RISE_DB = 3.0
_SOFTEST_DB = -14.0  # of the second contact against the first
_MOST_DB = 20.0
_LEAD, _LOUD_STEPS = 10, 20  # steps looked at before the contact; from a contact to its loudest
_STEPS = _LEAD + round(1000 * LATEST_S) + 30
_AT_ONCE, _LET_GO_EVERY = 2, 256  # landings: worked on while at hand; memory of the sound given back


def second_contacts_s(samples: np.ndarray, times_s: np.ndarray) -> np.ndarray:
    """Time from each contact to the second contact of the same landing, s; 0 where there is none.

    Args:
        samples: mono at 16 kHz.
        times_s: of the first contacts, s from the first sample, in order.
    """
    pieces = [np.empty(0)]
    for start in range(0, len(times_s), _AT_ONCE):
        first = np.rint(times_s[start : start + _AT_ONCE] * SAMPLE_RATE_HZ / _STEP).astype(int) - _LEAD
        pieces.append(_second_contacts_s(_band_power(samples, first)))
        if start % _LET_GO_EVERY == 0:
            let_go(samples)
    return np.concatenate(pieces)


def _second_contacts_s(power: np.ndarray) -> np.ndarray:
    """The same from the power of the bands around each contact, shape (bands, landings, steps)."""
    floor = power.max(axis=2, keepdims=True) * 1e-4 + 1e-10
    level_db = 10.0 * np.log10(power + floor)
    near, far = _JUST_BEFORE
    rise_db = level_db[..., far:] - _largest(level_db, far - near + 1)[..., : _STEPS - far]
    rise_db = np.clip(rise_db, 0.0, _MOST_DB).mean(axis=0)
    total_db = 10.0 * np.log10(power.sum(axis=0) + 1e-12)
    soonest, latest = (_LEAD + round(1000 * limit_s) - far for limit_s in (SOONEST_S, LATEST_S))
    best = rise_db[:, soonest:latest].argmax(axis=1)
    step = best + soonest + far
    rises = np.take_along_axis(rise_db, (best + soonest)[:, None], axis=1)[:, 0] >= _LEAST_RISE_DB
    reached_db = np.take_along_axis(total_db, step[:, None] + np.arange(_LOUD_STEPS), axis=1).max(axis=1)
    loud = reached_db >= total_db[:, _LEAD : _LEAD + _LOUD_STEPS].max(axis=1) + _SOFTEST_DB
    return np.where(rises & loud, (step - _LEAD) / 1000.0, 0.0)


def _largest(levels: np.ndarray, width: int) -> np.ndarray:
    """The largest of each `width` neighbours along the last axis, by doubling."""
    done = 1
    while done < width:
        on = min(done, width - done)
        levels = np.maximum(levels[..., : levels.shape[-1] - on], levels[..., on:])
        done += on
    return levels


def _band_power(samples: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Power of the bands from each step of `first` on, shape (bands, landings, steps)."""
    cut = np.stack([_cut(samples, step * _STEP - _WINDOW // 2) for step in first])
    frames = np.lib.stride_tricks.sliding_window_view(cut, _WINDOW, axis=1)[:, ::_STEP]
    spectrum = np.fft.rfft(frames * np.hanning(_WINDOW).astype(np.float32))
    square = spectrum.real**2 + spectrum.imag**2
    bins_hz = np.fft.rfftfreq(_WINDOW, 1 / SAMPLE_RATE_HZ)
    edges = [np.searchsorted(bins_hz, band_hz) for band_hz in _BANDS_HZ]
    return np.stack([square[..., low:high].sum(axis=2) for low, high in edges])


def _cut(samples: np.ndarray, start: int) -> np.ndarray:
    """The samples of `_STEPS` steps from `start` on, silence where there are none."""
    size = (_STEPS - 1) * _STEP + _WINDOW
    if 0 <= start <= samples.size - size:
        return samples[start : start + size]
    cut, first = np.zeros(size, np.float32), max(start, 0)
    last = max(first, min(start + size, samples.size))
    cut[first - start : last - start] = samples[first:last]
    return cut
