"""Place the instant of contact in a clip of one recorded footfall.

The rule looks at energy only, so that no detector under test had a hand in the
truth. It was checked by eye on zoomed plots of every clip (see README).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

ENVELOPE_S = 0.0005
"""Length of the forward energy average, s: finer than the 1 ms that we promise."""

MAIN_RISE_DB = -20.0
"""The rise that counts is the first one to come this near the clip's peak, dB."""

FOOT_DB = -32.0
"""The foot of the rise is sought down to this far below the peak, dB."""

SEARCH_BACK_S = 0.008
"""A footfall's first rise takes a few ms; do not look further back than this, s."""

FLOOR_MARGIN_DB = 3.0
"""The foot of the rise stays this far above the clip's own noise floor, dB."""

TAIL_MARGIN_DB = 6.0
"""A forefoot's rise stands this far above what is left of its heel, dB."""


def energy_envelope_db(samples: NDArray[np.floating], sample_rate_hz: float) -> NDArray[np.float64]:
    """Return the mean energy of the next 0.5 ms at each sample, dB re full scale."""
    width = max(1, round(ENVELOPE_S * sample_rate_hz))
    padded = np.concatenate([np.asarray(samples, dtype=np.float64), np.zeros(width)])
    total = np.concatenate([[0.0], np.cumsum(padded**2)])
    mean = (total[width:] - total[:-width])[: len(samples)] / width
    return 10.0 * np.log10(np.maximum(mean, 1e-12))


def noise_floor_db(envelope_db: NDArray[np.float64], first_rise: int) -> float:
    """Return the level before the first rise, dB; very low where the clip starts on it."""
    before = envelope_db[:first_rise]
    return float(np.percentile(before, 20)) if before.size > 16 else -120.0


def contact_onset_s(samples: NDArray[np.floating], sample_rate_hz: float, silent_s: float = 0.0) -> float:
    """Return the time of first contact in the clip, s.

    `silent_s`: the clip is known to hold no contact before this, only the end
    of an earlier sound; the rise must stand 6 dB above all of that.

    The first crossing of 20 dB below the peak finds the rise that carries the
    footfall; scuffs quieter than that do not count. From there the envelope is
    followed back to the foot of the rise: the last instant at or below the
    larger of 32 dB under the peak and 3 dB over the noise floor, or else the
    quietest instant of the 8 ms before. Because the average looks forward by
    0.5 ms, the foot is moved on to where that window first held energy.
    """
    envelope = energy_envelope_db(samples, sample_rate_hz)
    peak = float(envelope.max())
    known = envelope[: round(silent_s * sample_rate_hz)]
    tail = float(known.max()) if known.size else -120.0
    crossing = int(np.argmax(envelope >= max(peak + MAIN_RISE_DB, tail + TAIL_MARGIN_DB)))
    floor = noise_floor_db(envelope, max(0, crossing - round(SEARCH_BACK_S * sample_rate_hz)))
    foot_level = max(peak + FOOT_DB, floor + FLOOR_MARGIN_DB, tail)
    start = max(0, crossing - round(SEARCH_BACK_S * sample_rate_hz))
    back = envelope[start : crossing + 1]
    quiet = np.nonzero(back <= foot_level)[0]
    foot = int(quiet[-1]) if quiet.size else int(np.argmin(back))
    rate = float(sample_rate_hz)
    window = round(ENVELOPE_S * rate) if (start + foot) > 0 else 0
    return min((start + foot + window) / rate, (crossing + window) / rate)


def rise_time_s(samples: NDArray[np.floating], sample_rate_hz: float) -> float:
    """Return how long the envelope takes from 20 to 6 dB below its peak, s.

    Where this exceeds some 10 ms nobody could say when the contact was.
    """
    envelope = energy_envelope_db(samples, sample_rate_hz)
    peak = float(envelope.max())
    low = int(np.argmax(envelope >= peak + MAIN_RISE_DB))
    return (int(np.argmax(envelope >= peak - 6.0)) - low) / sample_rate_hz
