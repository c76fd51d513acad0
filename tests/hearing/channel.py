"""What happens to the sound after the room: microphone, noise, phone, clipping, offset.

Pure functions of samples; levels in dB are against the level of the feet.
"""

from __future__ import annotations

from functools import lru_cache
from math import gcd

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import butter, resample_poly, sosfilt

Samples = NDArray[np.float32]

PHONE_RATE_HZ = 16000
PHONE_FRAME = 320
"""Half window of the phone's transform coder: 20 ms at 16 kHz."""

PHONE_BAND = 16
"""Coefficients that share a quantiser step."""


def changed_rate(samples: Samples, from_hz: int, to_hz: int) -> Samples:
    """Return the sound at another sample rate."""
    if from_hz == to_hz:
        return samples
    shared = gcd(from_hz, to_hz)
    return resample_poly(samples, to_hz // shared, from_hz // shared).astype(np.float32)


def microphone(samples: Samples, sample_rate_hz: int, low_cut_hz: float) -> Samples:
    """Roll off the lows as small microphones do (second order, causal)."""
    return sosfilt(butter(2, low_cut_hz, "highpass", fs=sample_rate_hz, output="sos"), samples).astype(np.float32)


def pink_noise(n: int, sample_rate_hz: int, rng: np.random.Generator, slope_db_per_octave: float = -3.0,
               low_hz: float = 50.0) -> Samples:
    """Return noise with a straight spectrum from `low_hz` up, RMS 1."""
    size = next_fast_len(n, real=True)
    spectrum = rfft(rng.standard_normal(size).astype(np.float32))
    frequency = np.arange(len(spectrum)) * (sample_rate_hz / size)
    weight = (np.maximum(frequency, low_hz) / 1000.0) ** (slope_db_per_octave / 6.0206)
    weight[frequency < low_hz * 0.6] = 0.0
    noise = irfft(spectrum * weight.astype(np.float32), size)[:n]
    return (noise / np.sqrt(np.mean(noise**2))).astype(np.float32)


def fan_noise(n: int, sample_rate_hz: int, rng: np.random.Generator) -> Samples:
    """Return ventilation: steep noise and a hum with harmonics, slowly beating, RMS 1."""
    noise = pink_noise(n, sample_rate_hz, rng, slope_db_per_octave=-5.0, low_hz=60.0)
    time = np.arange(n) / sample_rate_hz
    hum_hz = rng.uniform(85.0, 130.0)
    hum = sum(np.sin(2 * np.pi * k * hum_hz * time + rng.uniform(0, 6.28)) / k for k in (1, 2, 3, 5))
    swell = 1.0 + 0.25 * np.sin(2 * np.pi * rng.uniform(0.2, 0.9) * time)
    both = swell * (noise + 0.35 * hum)
    return (both / np.sqrt(np.mean(both**2))).astype(np.float32)


def clipped(samples: Samples, ceiling: float) -> Samples:
    """Cut everything beyond the ceiling, then scale it to full scale."""
    return (np.clip(samples, -ceiling, ceiling) / ceiling).astype(np.float32)


def phone(samples: Samples, sample_rate_hz: int, gated: bool) -> Samples:
    """Return the sound as a phone would keep it, at 16 kHz.

    Gain control (10 ms attack, 400 ms release, up to 24 dB of gain), optionally
    soft parts gated down by 12 dB as by a noise suppressor, then a transform
    coder with 20 ms frames at some 14 dB per band (it has pre-echo).
    """
    slow = changed_rate(samples, sample_rate_hz, PHONE_RATE_HZ)
    slow = sosfilt(butter(2, 110.0, "highpass", fs=PHONE_RATE_HZ, output="sos"), slow).astype(np.float32)
    return transform_coded(gain_controlled(slow, PHONE_RATE_HZ, gated))


def gain_controlled(samples: Samples, sample_rate_hz: int, gated: bool) -> Samples:
    """Bring the running level towards a target; see `phone`."""
    block = round(0.005 * sample_rate_hz)
    n_blocks = -(-len(samples) // block)
    padded = np.zeros(n_blocks * block, dtype=np.float32)
    padded[: len(samples)] = samples
    level = np.sqrt(np.mean(padded.reshape(n_blocks, block) ** 2, axis=1)) + 1e-9
    target = float(np.percentile(level, 95))
    up, down = 1.0 - np.exp(-0.005 / 0.010), 1.0 - np.exp(-0.005 / 0.400)
    running = np.empty(n_blocks)
    state = float(level[0])
    for k in range(n_blocks):
        state += (up if level[k] > state else down) * (float(level[k]) - state)
        running[k] = state
    gain_db = np.clip(0.7 * 20 * np.log10(target / running), -12.0, 24.0)
    if gated:
        gain_db = np.where(running < 0.05 * target, gain_db - 12.0, gain_db)
    at = (np.arange(n_blocks) + 0.5) * block
    gain = 10 ** (np.interp(np.arange(len(samples)), at, gain_db) / 20.0)
    return (np.tanh(samples * gain / (4.0 * target)) * 4.0 * target).astype(np.float32)


@lru_cache(maxsize=1)
def _transform() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return (basis, window) of a lapped cosine transform with a sine window."""
    n = PHONE_FRAME
    time = np.arange(2 * n) + 0.5 + n / 2
    basis = np.cos(np.pi / n * np.outer(time, np.arange(n) + 0.5)) * np.sqrt(2.0 / n)
    window = np.sin(np.pi * (np.arange(2 * n) + 0.5) / (2 * n))
    return basis.astype(np.float32), window.astype(np.float32)


def transform_coded(samples: Samples) -> Samples:
    """Quantise a lapped transform of the sound, band by band."""
    basis, window = _transform()
    n = PHONE_FRAME
    frames = -(-len(samples) // n) + 1
    padded = np.zeros((frames + 1) * n, dtype=np.float32)
    padded[n : n + len(samples)] = samples
    pieces = np.lib.stride_tricks.sliding_window_view(padded, 2 * n)[::n] * window
    bands = (pieces @ basis).reshape(len(pieces), -1, PHONE_BAND)
    step = np.sqrt(12.0 * np.mean(bands**2, axis=2, keepdims=True)) * 10 ** (-14.0 / 20.0) + 1e-9
    coarse = (np.round(bands / step) * step).reshape(len(pieces), n)
    back = (coarse @ basis.T) * window
    out = np.zeros_like(padded)
    for half in (0, 1):
        out[half * n : half * n + len(pieces) * n] += back[:, half * n : (half + 1) * n].reshape(-1)
    return out[n : n + len(samples)]
