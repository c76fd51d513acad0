"""Where the beat lies inside a spoken word: its perceptual centre (P-centre).

Words started in time do not sound in time (Morton, Marcus & Frankish 1976, Psychological Review
83, 405-408): the ear hangs the beat near the onset of the first vowel, not on the start of the
file. No formula finds it exactly, so four published kinds of estimate are made and their median
is taken; how far the others lie from it is the stated uncertainty.

| estimate | envelope | instant taken |
|---|---|---|
| Cummins-Port | 1000 Hz, 600 Hz wide, first order; smoothed to 10 Hz | midway from 10 to 90 % of the rise |
| Scott | 288-909 Hz; smoothed to 25 Hz | half of the rise |
| mid-band | 400-1600 Hz; smoothed to 25 Hz | within 12 dB of the peak |
| steepest | 300-3000 Hz; smoothed to 20 Hz | the steepest point of the rise |

Sources: Cummins & Port 1998, Journal of Phonetics 26, 145-171 (the "beat extractor"); Scott 1993,
P-centres in speech, PhD thesis, University College London; Scott & Howell 1992 (mid-band energy
carries the P-centre); Rathcke, Lin, Falk & Dalla Bella 2021 (taps fall on vowel onsets) and
Rathcke et al. 2024, JASA 155, 2698 (steepest rise of the envelope). The first strong rise counts,
as the beat of a word sits in its first strong syllable. Differences to the sources: all filters
are zero-phase, applied to the spectrum, so that no delay has to be taken off again; and the rise
is found once, in a band that hears vowels, so that no estimate takes the voicing before a /d/.

What it cannot know: all four hang on the vowel. Marcus 1981 (Perception & Psychophysics 30,
247-256) lets about two thirds of a long first consonant count, which would put words such as
"step" some 0.05 s earlier against words such as "hop" than is done here. No listener was asked.

Times are seconds from the start of the samples given. Give the *unfiltered* word: with its low end
taken away single estimates jump by up to 0.13 s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cuekit.errors import AudioError

LEAST_UNCERTAINTY_S = 0.010
"""What agreeing estimates still leave open: listeners themselves differ by about this much, s."""

STRONG_SHARE = 0.5
"""A peak is strong from this share of the highest one on (-6 dB): skips the murmur of a /b/ or the
leak of an /s/, takes the first vowel even where a later one is louder."""

VOWEL_SHARE = 10 ** (-12 / 20)
"""The vowel has begun where 500-3000 Hz comes within 12 dB of its peak: a voiced murmur before a
/d/ or /g/ stays below, an /l/ or /r/, which does carry part of the beat, mostly not."""

PAD_S = 0.150
"""Silence put on both sides before filtering, so that the ends do not wrap round, s."""

SHORTEST_S = 0.020
"""Nothing shorter is a word, s."""


@dataclass(frozen=True)
class PCentre:
    """The beat inside a word, s from the start of its samples.

    Attributes:
        time_s: median of the four estimates.
        uncertainty_s: distance of the estimate furthest from time_s, at least
            `LEAST_UNCERTAINTY_S`: all four lie within time_s plus or minus this.
        cummins_port_s, scott_s, mid_band_s, steepest_s: the estimates.
    """

    time_s: float
    uncertainty_s: float
    cummins_port_s: float
    scott_s: float
    mid_band_s: float
    steepest_s: float


def find_pcentre(samples: np.ndarray, sample_rate_hz: int) -> PCentre:
    """Estimate the P-centre of one spoken word.

    Parameters
    ----------
    samples : shape (n,), mono, unfiltered, one word, silence around it allowed
    sample_rate_hz : at least 8000 Hz

    Raises
    ------
    AudioError
        The samples are silent, not finite, or shorter than 20 ms.
    """
    if samples.size < SHORTEST_S * sample_rate_hz:
        raise AudioError(f"{samples.size / sample_rate_hz:.3f} s is too short for a word")
    if not np.isfinite(samples).all() or not np.abs(samples).max() > 0:
        raise AudioError("a word must be sound: these samples are silent or not numbers")
    pad = round(PAD_S * sample_rate_hz)
    # A power of two: spectra of other lengths can take ten times as long.
    after = (1 << (samples.size + 2 * pad - 1).bit_length()) - samples.size - pad
    padded = np.pad(np.asarray(samples, dtype=float), (pad, after))
    earliest = _vowel_foot(padded, sample_rate_hz)
    estimators = (_cummins_port, _scott, _mid_band, _steepest)
    found = np.array([estimate(padded, sample_rate_hz, earliest) for estimate in estimators])
    estimates_s = found / sample_rate_hz - PAD_S
    time_s = float(np.clip(np.median(estimates_s), 0, samples.size / sample_rate_hz))
    furthest_s = float(np.abs(estimates_s - time_s).max())
    return PCentre(time_s, max(furthest_s, LEAST_UNCERTAINTY_S), *estimates_s.tolist())


def _vowel_foot(samples: np.ndarray, sample_rate_hz: int) -> int:
    """Index before which no rise can be that of the first strong vowel."""
    envelope = _band_envelope(samples, sample_rate_hz, low_hz=500, high_hz=3000, cutoff_hz=10)
    foot, peak = _first_strong_rise(envelope, 0)
    return int(_crossing(envelope, foot, peak, VOWEL_SHARE))


def _cummins_port(samples: np.ndarray, sample_rate_hz: int, earliest: int) -> float:
    """Midpoint between the 10 % and the 90 % point of the rise, in samples."""
    gain = _first_order_band(samples.size, sample_rate_hz, centre_hz=1000, width_hz=600)
    envelope = _smoothed(np.abs(_filtered(samples, gain)), sample_rate_hz, cutoff_hz=10)
    # Smoothing to 10 Hz spreads even a sudden start this far ahead of itself.
    foot, peak = _first_strong_rise(envelope, max(earliest - round(0.017 * sample_rate_hz), 0))
    return (_crossing(envelope, foot, peak, 0.1) + _crossing(envelope, foot, peak, 0.9)) / 2


def _scott(samples: np.ndarray, sample_rate_hz: int, earliest: int) -> float:
    """Half of the rise in the band of the first formant, in samples."""
    envelope = _band_envelope(samples, sample_rate_hz, low_hz=288, high_hz=909, cutoff_hz=25)
    return _crossing(envelope, *_first_strong_rise(envelope, earliest), 0.5)


def _mid_band(samples: np.ndarray, sample_rate_hz: int, earliest: int) -> float:
    """First time within 12 dB of the peak of the rise, in samples."""
    envelope = _band_envelope(samples, sample_rate_hz, low_hz=400, high_hz=1600, cutoff_hz=25)
    return _crossing(envelope, *_first_strong_rise(envelope, earliest), 10 ** (-12 / 20))


def _steepest(samples: np.ndarray, sample_rate_hz: int, earliest: int) -> float:
    """Steepest point of the rise in the band of the first three formants, in samples."""
    envelope = _band_envelope(samples, sample_rate_hz, low_hz=300, high_hz=3000, cutoff_hz=20)
    foot, peak = _first_strong_rise(envelope, earliest)
    return foot + float(np.argmax(np.diff(envelope[foot : peak + 1]))) + 0.5


def _first_strong_rise(envelope: np.ndarray, earliest: int) -> tuple[int, int]:
    """Index of the foot and the peak of the first rise, from `earliest` on, to a strong peak."""
    inner = envelope[1:-1]
    peaks = 1 + np.flatnonzero((inner >= envelope[:-2]) & (inner > envelope[2:]))
    strong = peaks[(envelope[peaks] >= STRONG_SHARE * envelope.max()) & (peaks > earliest)]
    peak = int(strong[0]) if strong.size else earliest + 1 + int(np.argmax(envelope[earliest + 1 :]))
    # A ripple on the way up belongs to the same rise: only a dip below a tenth parts two sounds.
    low = earliest + np.flatnonzero(envelope[earliest:peak] < 0.1 * envelope[peak])
    return (int(low[-1]) if low.size else earliest), peak


def _crossing(envelope: np.ndarray, foot: int, peak: int, share: float) -> float:
    """Fractional index at which the rise passes `share` of its peak for the last time."""
    level = share * envelope[peak]
    below = np.flatnonzero(envelope[foot:peak] < level)
    if not below.size:
        return float(foot)
    left = foot + int(below[-1])
    return left + float((level - envelope[left]) / (envelope[left + 1] - envelope[left]))


def _band_envelope(
    samples: np.ndarray, sample_rate_hz: int, *, low_hz: float, high_hz: float, cutoff_hz: float
) -> np.ndarray:
    """Smoothed, rectified sound between two frequencies."""
    frequencies_hz = np.fft.rfftfreq(samples.size, 1 / sample_rate_hz)
    gain = 1 / np.sqrt(1 + (low_hz / np.maximum(frequencies_hz, 1e-9)) ** 8)
    gain /= np.sqrt(1 + (frequencies_hz / high_hz) ** 8)
    return _smoothed(np.abs(_filtered(samples, gain)), sample_rate_hz, cutoff_hz=cutoff_hz)


def _first_order_band(n: int, sample_rate_hz: int, *, centre_hz: float, width_hz: float) -> np.ndarray:
    """Gain of a first-order Butterworth band-pass at each frequency of the spectrum."""
    frequencies_hz = np.maximum(np.fft.rfftfreq(n, 1 / sample_rate_hz), 1e-9)
    detuning = (frequencies_hz**2 - centre_hz**2) / (frequencies_hz * width_hz)
    return 1 / np.sqrt(1 + detuning**2)


def _smoothed(rectified: np.ndarray, sample_rate_hz: int, *, cutoff_hz: float) -> np.ndarray:
    """Low-passed by a Gaussian, 3 dB down at the cutoff: it does not ring, so no false rises."""
    frequencies_hz = np.fft.rfftfreq(rectified.size, 1 / sample_rate_hz)
    return _filtered(rectified, np.exp(-np.log(2) / 2 * (frequencies_hz / cutoff_hz) ** 2))


def _filtered(samples: np.ndarray, gain: np.ndarray) -> np.ndarray:
    return np.fft.irfft(np.fft.rfft(samples) * gain, n=samples.size)
