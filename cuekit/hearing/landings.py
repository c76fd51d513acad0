"""Whether a landing was one sound or two: the second foot of a jump, or the toe after the heel.

The network of `cuekit.hearing.ear` tells feet from other sounds and gives one contact a landing. Here the
tenth of a second after that contact is looked at in steps of 1 ms: a second contact lifts several
bands at once over what rang there just before, where a floor that rings and an echo only fall.
"""

from __future__ import annotations

import numpy as np

from cuekit.hearing.ear import SAMPLE_RATE_HZ

SOONEST_S, LATEST_S = 0.025, 0.130
"""Sooner it is one sound to the ear; later it is a footfall of its own."""

_STEP, _WINDOW = 16, 128  # 1 ms and 8 ms
_BANDS_HZ = ((60, 300), (300, 700), (700, 1500), (1500, 3500), (3500, 7500))
_JUST_BEFORE = (6, 22)  # steps before that a rise is measured over
_LEAST_RISE_DB = 3.0
_SOFTEST_DB = -14.0  # of the second contact against the first
_MOST_DB = 20.0


def second_contact_s(samples: np.ndarray, time_s: float) -> float:
    """Time from a contact to the second contact of the same landing, s; 0 where there is none.

    Args:
        samples: mono at 16 kHz.
        time_s: of the first contact, s from the first sample.
    """
    first = round(time_s * SAMPLE_RATE_HZ / _STEP) - 10
    power = _band_power(samples, first, 10 + round(1000 * LATEST_S) + 30)
    floor = power.max(axis=1, keepdims=True) * 1e-4 + 1e-10
    level_db = 10.0 * np.log10(power + floor)
    near, far = _JUST_BEFORE
    before = np.lib.stride_tricks.sliding_window_view(level_db, far - near + 1, axis=1).max(axis=2)
    rise_db = np.clip(level_db[:, far:] - before[:, : level_db.shape[1] - far], 0.0, _MOST_DB).mean(axis=0)
    total_db = 10.0 * np.log10(power.sum(axis=0) + 1e-12)
    loudest_db = total_db[10:30].max()
    soonest, latest = (10 + round(1000 * limit_s) - far for limit_s in (SOONEST_S, LATEST_S))
    window = rise_db[soonest:latest]
    best = int(window.argmax())
    step = best + soonest + far
    if window[best] < _LEAST_RISE_DB or total_db[step : step + 20].max() < loudest_db + _SOFTEST_DB:
        return 0.0
    return (step - 10) / 1000.0


def _band_power(samples: np.ndarray, first: int, steps: int) -> np.ndarray:
    """Power of the bands from step `first` on, shape (bands, steps); silence outside the samples."""
    start, stop = first * _STEP - _WINDOW // 2, (first + steps - 1) * _STEP + _WINDOW // 2
    inside = samples[max(start, 0) : max(stop, 0)]
    before = min(max(-start, 0), stop - start)
    padded = np.pad(inside, (before, stop - start - before - inside.size))
    frames = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::_STEP]
    spectrum = np.fft.rfft(frames * np.hanning(_WINDOW).astype(np.float32))
    square = spectrum.real**2 + spectrum.imag**2
    bins_hz = np.fft.rfftfreq(_WINDOW, 1 / SAMPLE_RATE_HZ)
    return np.stack([square[:, (bins_hz >= low) & (bins_hz < high)].sum(axis=1) for low, high in _BANDS_HZ])
