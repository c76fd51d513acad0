"""From 48 to 16 kHz as the sound comes, kept back by 1.3 ms only.

A resampler for files holds back 20 to 40 ms at its best quality; a footfall is to be told at once.
A low-pass of 127 taps (sinc under a Kaiser window: 80 dB down above the new half rate) and every
third sample do.
"""

from __future__ import annotations

import numpy as np

_TAPS = 127
_CUT_HZ, _RATE_HZ = 7_000.0, 48_000.0
_KAISER = 8.0


class Thirds:
    """Every third sample of a low-passed stream; the first one stands for the first one."""

    def __init__(self) -> None:
        places = np.arange(_TAPS) - _TAPS // 2
        taps = np.sinc(2 * _CUT_HZ / _RATE_HZ * places) * np.kaiser(_TAPS, _KAISER)
        self._taps = (taps / taps.sum()).astype(np.float32)
        self._waiting = np.zeros(_TAPS // 2, np.float32)

    def push(self, samples: np.ndarray) -> np.ndarray:
        """Add samples at 48 kHz; what can be given at 16 kHz now."""
        self._waiting = np.concatenate([self._waiting, samples])
        count = max(0, (self._waiting.size - _TAPS) // 3 + 1)
        if not count:
            return np.zeros(0, np.float32)
        windows = np.lib.stride_tricks.sliding_window_view(self._waiting, _TAPS)[: 3 * count : 3]
        given = windows @ self._taps
        self._waiting = self._waiting[3 * count :]
        return given
