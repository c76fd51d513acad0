"""From a recording of one word to a sound that can be placed on a beat.

The steps, each callable alone: find the word in its recording, take away the band of the feet,
trim what cannot be heard, round off the edges, bring to one level. Samples are mono arrays,
times are seconds. No file is opened here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import soxr

from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.errors import AudioError

HIGH_PASS_HZ = 400
"""Footfalls are heard below 350 Hz; words keep clear of them and stay intelligible (a recogniser
understood 0.83-0.90 of 24 words so filtered, against 0.90-0.98 unfiltered)."""

AUDIBLE_DB = -36.0
"""A word ends where it stays this far below its loudest moment, dB. The shipped words keep their
final /t/ and /v/ at every speed; at -30 dB "left", "right" and "five" lost it at some."""

LEVEL_DB = -20.0
"""Level of every word: root mean square of its loud part, dB of full scale."""

PEAK_LIMIT = 0.7
"""No word peaks above this, so that a tone under it still fits."""

FADE_S = 0.002
"""Raised-cosine fade at both edges, s: no click."""

MARGIN_S = 0.004
"""Kept on both sides of what is audible, s: the fades eat into this, not into the word."""

LONGEST_PAUSE_S = 0.200
"""Sounds closer than this belong to one word (the closure of a /p/ lasts about 0.1 s)."""

ABOVE_NOISE_DB = 6.0
"""What stands out of a recording's own noise by this much is taken for the word, dB."""

FAINTEST_DB = -46.0
"""What lies this far below the loudest moment of a recording is silence, dB."""

CUT_TIGHT_S = 0.7
"""A shorter file was cut to its word by hand and is taken whole but for silence, s."""


@dataclass(frozen=True)
class Span:
    """Part of a recording: samples `start` to, not including, `stop`."""

    start: int
    stop: int


def word_sound(samples: np.ndarray, sample_rate_hz: int, *, pcentre_s: float) -> Sound:
    """Make the sound that is played out of an unfiltered word.

    Parameters
    ----------
    samples : shape (n,), mono, one word, trimmed
    sample_rate_hz : its rate
    pcentre_s : the beat inside it, s from its start; found before, on the unfiltered word

    Returns
    -------
    Sound
        High-passed, at `SAMPLE_RATE_HZ`, trimmed to what is audible, faded, at `LEVEL_DB`; its
        anchor is the same instant of the word to the sample.

    Raises
    ------
    AudioError
        Nothing is left above `HIGH_PASS_HZ`.
    """
    pad = round(0.05 * sample_rate_hz)
    heard = high_passed(np.pad(samples, pad), sample_rate_hz)
    heard = soxr.resample(heard, sample_rate_hz, SAMPLE_RATE_HZ, quality="HQ")
    anchor_s = pcentre_s + pad / sample_rate_hz
    span = _audible_span(heard, SAMPLE_RATE_HZ, floor_db=AUDIBLE_DB)
    # The anchor stays inside the sound even where the audible part begins after it.
    start = min(span.start, int(anchor_s * SAMPLE_RATE_HZ))
    played = at_level(faded(heard[start : span.stop], SAMPLE_RATE_HZ), SAMPLE_RATE_HZ)
    return Sound(played.astype(np.float32), anchor_s - start / SAMPLE_RATE_HZ)


def find_word(samples: np.ndarray, sample_rate_hz: int) -> Span:
    """Find the one word in a recording that may hold silence, noise and a click beside it.

    The noise is the level that one moment in ten stays under. Of several sounds more than
    `LONGEST_PAUSE_S` apart the word is the one with the largest sum of magnitudes: energy would
    let a short loud click win.

    Raises
    ------
    AudioError
        Nothing stands out of the noise.
    """
    envelope = _envelope(samples, sample_rate_hz)
    peak = float(envelope.max())
    floor = peak * 10 ** (FAINTEST_DB / 20)
    # In a clip cut tight the quietest moments are no noise but the word's own soft sounds.
    if samples.size > CUT_TIGHT_S * sample_rate_hz:
        floor = max(floor, float(np.percentile(envelope, 10)) * 10 ** (ABOVE_NOISE_DB / 20))
    if peak <= floor:
        raise AudioError("no word stands out of the noise")
    loud = np.flatnonzero(envelope > floor)
    breaks = np.flatnonzero(np.diff(loud) > LONGEST_PAUSE_S * sample_rate_hz)
    firsts = loud[np.concatenate([[0], breaks + 1])]
    lasts = loud[np.concatenate([breaks, [loud.size - 1]])]
    sums = [np.abs(samples[a : b + 1]).sum() for a, b in zip(firsts, lasts, strict=True)]
    word = int(np.argmax(sums))
    return _with_margin(int(firsts[word]), int(lasts[word]), samples.size, sample_rate_hz)


def high_passed(samples: np.ndarray, sample_rate_hz: int) -> np.ndarray:
    """Take away what lies below `HIGH_PASS_HZ`, without moving anything in time.

    The gain is that of an eighth-order Butterworth high-pass run forwards and backwards (6 dB down
    at the cutoff, 40 dB at 300 Hz), applied to the spectrum. Sixth order leaves "skip" and "six",
    whose vowels peak near 300 Hz, only 24 dB down there. The ends must be silent for 50 ms.
    """
    n = 1 << (samples.size - 1).bit_length()
    frequencies_hz = np.maximum(np.fft.rfftfreq(n, 1 / sample_rate_hz), 1e-9)
    gain = 1 / (1 + (HIGH_PASS_HZ / frequencies_hz) ** 16)
    return np.fft.irfft(np.fft.rfft(samples, n) * gain, n)[: samples.size]


def faded(samples: np.ndarray, sample_rate_hz: int) -> np.ndarray:
    """Round off both edges by raised cosines of `FADE_S`."""
    n = min(round(FADE_S * sample_rate_hz), samples.size // 2)
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(n) / max(n, 1))
    return samples * np.concatenate([ramp, np.ones(samples.size - 2 * n), ramp[::-1]])


def at_level(samples: np.ndarray, sample_rate_hz: int) -> np.ndarray:
    """Bring a word to `LEVEL_DB`, or as near as `PEAK_LIMIT` allows."""
    gain = 10 ** ((LEVEL_DB - level_db(samples, sample_rate_hz)) / 20)
    return samples * min(gain, PEAK_LIMIT / np.abs(samples).max())


def level_db(samples: np.ndarray, sample_rate_hz: int) -> float:
    """Root mean square of the samples within 20 dB of the loudest moment, dB of full scale.

    The gate keeps closures and soft ends from making a word louder than its neighbours; it is the
    idea of ITU-R BS.1770-4, whose blocks of 0.4 s are longer than most words.
    """
    moment = _envelope(samples, sample_rate_hz)
    loud = samples[moment > 0.1 * moment.max()].astype(float)
    return 10 * float(np.log10(np.mean(loud**2)))


def _audible_span(samples: np.ndarray, sample_rate_hz: int, *, floor_db: float) -> Span:
    envelope = _envelope(samples, sample_rate_hz)
    if not envelope.max() > 1e-6:
        raise AudioError(f"nothing is heard above {HIGH_PASS_HZ} Hz")
    loud = np.flatnonzero(envelope > envelope.max() * 10 ** (floor_db / 20))
    return _with_margin(int(loud[0]), int(loud[-1]), samples.size, sample_rate_hz)


def _with_margin(first: int, last: int, n: int, sample_rate_hz: int) -> Span:
    margin = round(MARGIN_S * sample_rate_hz)
    return Span(max(first - margin, 0), min(last + 1 + margin, n))


def _envelope(samples: np.ndarray, sample_rate_hz: int) -> np.ndarray:
    """Root mean square over 5 ms around each sample."""
    half = max(round(0.0025 * sample_rate_hz), 1)
    padded = np.pad(samples.astype(float) ** 2, (half + 1, half))
    total = np.cumsum(padded)
    return np.sqrt(np.maximum(total[2 * half + 1 :] - total[: -2 * half - 1], 0) / (2 * half + 1))
