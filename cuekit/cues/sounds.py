"""The noun of everything that can be played: samples with the instant that falls on the beat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cuekit.errors import AudioError

SAMPLE_RATE_HZ = 48_000
"""Rate of every sound cuekit makes, Hz. Laptops play it without resampling."""


@dataclass(frozen=True, eq=False)
class Sound:
    """One short sound to be placed on a cue.

    Attributes:
        samples: mono float32 at `SAMPLE_RATE_HZ`, within -1..1.
        anchor_s: the instant inside the sound that must fall on the cue, s from its start: the
            onset of a tone, the perceptual centre of a word.

    Raises:
        AudioError: the samples are not a finite mono signal, or the anchor lies outside it.
    """

    samples: np.ndarray
    anchor_s: float

    def __post_init__(self) -> None:
        if self.samples.ndim != 1 or not self.samples.size or not np.isfinite(self.samples).all():
            raise AudioError(f"a sound must be a finite mono signal, got shape {self.samples.shape}")
        if not 0 <= self.anchor_s <= self.duration_s:
            raise AudioError(f"the anchor {self.anchor_s} s lies outside a sound of {self.duration_s:.3f} s")

    @property
    def duration_s(self) -> float:
        """Length, s."""
        return self.samples.size / SAMPLE_RATE_HZ

    @property
    def head_s(self) -> float:
        """From the start to the anchor, s."""
        return self.anchor_s

    @property
    def tail_s(self) -> float:
        """From the anchor to the end, s."""
        return self.duration_s - self.anchor_s
