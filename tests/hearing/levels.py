"""The one definition of level used by every scene.

The level of a short sound is the highest 20 ms root-mean-square of its span;
the level of the feet in a scene is the median of that over all its footfalls,
as they arrive at the microphone, in the wet sound of the feet alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

WINDOW_S = 0.020
SPAN_S = 0.080
"""A sound's level is sought within this long after its onset, s."""


def rms_20ms(samples: NDArray[np.floating], sample_rate_hz: float) -> NDArray[np.float64]:
    """Return the root-mean-square of the 20 ms that start at each sample."""
    width = max(1, round(WINDOW_S * sample_rate_hz))
    total = np.concatenate([[0.0], np.cumsum(np.asarray(samples, dtype=np.float64) ** 2)])
    if len(samples) <= width:
        return np.array([np.sqrt(total[-1] / width)])
    return np.sqrt(np.maximum(total[width:] - total[:-width], 0.0) / width)


def peak_20ms_rms(samples: NDArray[np.floating], sample_rate_hz: float) -> float:
    """Return the highest 20 ms root-mean-square of a sound."""
    return float(rms_20ms(samples, sample_rate_hz).max())


def median_event_level(samples: NDArray[np.floating], onsets_s: NDArray[np.float64],
                       sample_rate_hz: float) -> float:
    """Return the median over events of their highest 20 ms root-mean-square."""
    rms = rms_20ms(samples, sample_rate_hz)
    span = round(SPAN_S * sample_rate_hz)
    starts = np.clip(np.round(np.asarray(onsets_s) * sample_rate_hz).astype(int), 0, len(rms) - 1)
    return float(np.median([rms[start : start + span].max() for start in starts]))


def loud_speech_level(samples: NDArray[np.floating], sample_rate_hz: float) -> float:
    """Return the level that speech exceeds in a tenth of its sounding 20 ms frames."""
    frames = rms_20ms(samples, sample_rate_hz)[:: max(1, round(WINDOW_S * sample_rate_hz))]
    sounding = frames[frames > 0.03 * frames.max()]
    return float(np.percentile(sounding, 90))


def gain_for_db(wanted_db: float, own_level: float, reference_level: float) -> float:
    """Return the factor that puts a sound `wanted_db` against the reference level."""
    return float(10.0 ** (wanted_db / 20.0) * reference_level / max(own_level, 1e-12))
