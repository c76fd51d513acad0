"""Sudden rises of energy: where a sound begins, to the millisecond.

A landing starts at once in every band; a voice, a fan or the decay of the landing before does not.
The energy of five bands is followed in steps of 1 ms; the novelty of a moment is by how many dB
each band rises over the loudest of the 6-40 ms before, limited, and averaged over the bands. The
floor each band is measured against follows the room, so that steady noise makes no rises.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STEP_S = 0.001
_WINDOW_S = 0.010
_BANDS_HZ = ((60, 250), (250, 600), (600, 1500), (1500, 3500), (3500, 7500))
_BEFORE_STEPS = (6, 40)  # compared with the loudest step this long before
_MOST_DB = 20.0
_QUIETEST = 1e-9  # power of a band that is taken as silence: -90 dB
_FLOOR_PERCENTILE, _FLOOR_OVER = 30, 3.0  # room noise of a band, and how far a sound must pass it


@dataclass(frozen=True, eq=False)
class Rises:
    """Band energies and novelty of a stretch of sound.

    Attributes:
        power: of each band, shape (bands, steps), full scale 1.
        novelty_db: mean rise over the bands, dB, shape (steps,).
        noise_db: level of the room between sounds, dB against full scale.
    """

    power: np.ndarray
    novelty_db: np.ndarray
    noise_db: float


def find_rises(samples: np.ndarray, sample_rate_hz: int) -> Rises:
    """Follow the energy of mono samples; step n is centred on n ms."""
    power = _band_power(samples, sample_rate_hz)
    floor = np.percentile(power, _FLOOR_PERCENTILE, axis=1, keepdims=True) * _FLOOR_OVER + _QUIETEST
    level_db = 10 * np.log10(power + floor)
    rise_db = np.clip(level_db - _loudest_before(level_db), 0, _MOST_DB)
    noise = np.percentile(power, _FLOOR_PERCENTILE, axis=1).sum()
    return Rises(power, rise_db.mean(axis=0), 10 * float(np.log10(noise + 1e-12)))


def _band_power(samples: np.ndarray, sample_rate_hz: int) -> np.ndarray:
    """Power of each band every millisecond, by a short Hann-windowed Fourier transform."""
    size = int(_WINDOW_S * sample_rate_hz) // 2 * 2
    hop = round(STEP_S * sample_rate_hz)
    padded = np.pad(samples, (size // 2, size))
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[::hop]
    window = np.hanning(size).astype(np.float32)
    bins_hz = np.fft.rfftfreq(size, 1 / sample_rate_hz)
    edges = [(bins_hz >= low) & (bins_hz < high) for low, high in _BANDS_HZ]
    power = np.empty((len(edges), len(frames)), np.float32)
    for start in range(0, len(frames), 8192):
        spectrum = np.fft.rfft(frames[start : start + 8192] * window)
        square = (spectrum.real**2 + spectrum.imag**2) * (2.0 / (window @ window) / size)
        for band, inside in enumerate(edges):
            power[band, start : start + 8192] = square[:, inside].sum(axis=1)
    return power


def _loudest_before(level_db: np.ndarray) -> np.ndarray:
    """Loudest level 6-40 ms before each step; the first steps are compared with the first one."""
    near, far = _BEFORE_STEPS
    padded = np.pad(level_db, ((0, 0), (far, 0)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, far - near + 1, axis=1)
    return windows.max(axis=2)[:, : level_db.shape[1]]


def peaks(curve: np.ndarray, least: float, apart: int) -> np.ndarray:
    """Indices of the maxima of a curve of at least `least`, each the largest within `apart` steps."""
    padded = np.pad(curve, apart, constant_values=-np.inf)
    largest = np.lib.stride_tricks.sliding_window_view(padded, 2 * apart + 1).max(axis=1)
    found = np.flatnonzero((curve >= largest) & (curve >= least))
    return found[np.diff(found, prepend=-apart - 1) > apart]
