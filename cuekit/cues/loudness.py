"""How loud a track is and how loud it may become.

Loudness is integrated loudness by ITU-R BS.1770 (LUFS), measured by the `loudness` library on the
mono signal. Peaks are true peaks: those of the continuous wave between the samples, as a converter
plays it (BS.1770, Annex 2).

What these numbers are not: decibels at a child's ear. Those depend on the volume of the computer, the
loudspeaker and the distance, none of which can be known here. The numbers bound the signal only, so
that the same volume setting always gives about the same loudness, whatever sounds and tempo are chosen.

`QUIET_LUFS`, the default, lies 7 LU under the level of broadcast speech (-23 LUFS, EBU R 128): where a
volume that is comfortable for speech plays the cue softly, so that a first lesson starts quiet.
`LOUDEST_LUFS` cannot be passed. It lies just under broadcast speech, and every tone set reaches it at
any tempo under the peak ceiling without a limiter; beyond it short sounds would have to be distorted,
and a distorted cue reaches into the band of the feet.

The peak ceiling of -3 dB is stricter than the -1 dB usual for true peaks (EBU R 128): 70 % of full
scale is the level at which cues were shown not to disturb the hearing of feet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import loudness
import numpy as np

from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.errors import AudioError

QUIET_LUFS = -30.0
LOUDEST_LUFS = -24.0
SOFTEST_LUFS = -60.0
"""Below this nothing would be heard, LUFS."""

PEAK_CEILING_DB = -3.0

OVERSAMPLING = 4
"""Times the sample rate at which true peaks are looked for (BS.1770, Annex 2)."""


@dataclass(frozen=True)
class Level:
    """The level given to a track.

    Attributes:
        gain: factor on every sample.
        lufs: integrated loudness with the cue at full level; -inf for a silent track.
        peak_db: no true peak exceeds this, dB against full scale; -inf for a silent track.
        held_back: whether the peak ceiling made it softer than asked.
    """

    gain: float
    lufs: float
    peak_db: float
    held_back: bool


def integrated_lufs(samples: np.ndarray) -> float:
    """Integrated loudness of a mono signal at `SAMPLE_RATE_HZ`, LUFS; -inf where it is silent.

    Signals under one gating block (0.4 s) are extended with silence to one.
    """
    shortest = round(0.4 * SAMPLE_RATE_HZ)
    padded = np.pad(samples, (0, max(0, shortest - samples.size))).astype(np.float32)
    measured = loudness.integrated_loudness(padded, SAMPLE_RATE_HZ)
    return measured if math.isfinite(measured) else -math.inf


def true_peak(samples: np.ndarray) -> float:
    """Largest magnitude of the continuous wave through the samples, 1 is full scale.

    By exact band-limited interpolation (zero-padded spectrum), which suits signals of up to some seconds.
    """
    size = 1 << (samples.size + 128).bit_length()  # silence round the signal, and a length quick to transform
    spectrum = np.fft.rfft(samples.astype(np.float64), size)
    dense = np.fft.irfft(spectrum, OVERSAMPLING * size) * OVERSAMPLING
    return float(max(np.abs(dense).max(), np.abs(samples).max()))


def level_for(wanted_lufs: float, measured_lufs: float, peak_bound: float) -> Level:
    """The level that brings a track to a loudness, or as near as the peak ceiling allows.

    Parameters
    ----------
    wanted_lufs : from `SOFTEST_LUFS` to `LOUDEST_LUFS`
    measured_lufs : loudness of the track without gain
    peak_bound : a true peak that the whole track without gain cannot exceed

    Raises
    ------
    AudioError
        The wanted loudness is out of range.
    """
    if not SOFTEST_LUFS <= wanted_lufs <= LOUDEST_LUFS:
        raise AudioError(
            f"the loudness can be from {SOFTEST_LUFS:g} to {LOUDEST_LUFS:g} LUFS, got {wanted_lufs:g}: "
            "for more, turn up the loudspeaker with care"
        )
    if peak_bound <= 0.0:
        return Level(1.0, -math.inf, -math.inf, False)
    # A track too soft to be measured is not made louder: there is no telling by how much.
    wished_db = wanted_lufs - measured_lufs if math.isfinite(measured_lufs) else 0.0
    allowed_db = PEAK_CEILING_DB - 20.0 * math.log10(peak_bound)
    gain_db = min(wished_db, allowed_db)
    peak_db = 20.0 * math.log10(peak_bound) + gain_db
    return Level(10.0 ** (gain_db / 20.0), measured_lufs + gain_db, peak_db, allowed_db < wished_db)
