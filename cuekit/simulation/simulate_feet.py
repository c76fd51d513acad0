"""What one landing sounds like near the foot: made up, or taken from recorded clips.

The made-up landing is a model, not a copy of a recording: the force of the contact sets the modes of
the floor ringing (60 to 250 Hz, dying away in 20 to 80 ms), the first touch adds a short rustle of a
few milliseconds, the sole a slight scuff. The floor is the same for a whole recording, each landing
differs. Numbers follow `Ekimov & Sabatier 2006, JASA 120, 762` (below 500 Hz from the force on the
floor, above from friction); mode decay and band are from memory. It is not measured from children.

Sounds are at `SAMPLE_RATE_HZ` and begin at contact: the first sample is the truth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound

LANDING_S = 0.35
"""Length of a made-up landing, s; by then it is 60 dB down."""


class Feet(Protocol):
    """Whatever can give the sound of a landing."""

    def landing(self, rng: np.random.Generator, place: int) -> np.ndarray:
        """One landing at `place` of its beat, float, peak about 1, beginning at contact."""
        ...


@dataclass(frozen=True, eq=False)
class ModelFeet:
    """Made-up landings on one floor.

    Attributes:
        modes_hz, decays_s, weights: of the floor: frequency, time constant and share of each mode.
        touch_db: of the first touch against the thump, dB.
        scuff_db: of the scuff against the thump, dB.
    """

    modes_hz: np.ndarray
    decays_s: np.ndarray
    weights: np.ndarray
    touch_db: float = -14.0
    scuff_db: float = -30.0

    def landing(self, rng: np.random.Generator, place: int) -> np.ndarray:
        """One landing: no two alike, none depends on its place."""
        t = np.arange(round(LANDING_S * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
        thump = self._thump(rng, t)
        touch = _band_noise(rng, t.size, 400.0, 5000.0) * np.exp(-t / rng.uniform(0.002, 0.006))
        scuff = _band_noise(rng, t.size, 700.0, 6000.0) * _swell(t, rng.uniform(0.02, 0.06))
        sound = thump / np.abs(thump).max()
        sound += 10 ** ((self.touch_db + rng.normal(0, 2)) / 20) * touch / np.abs(touch).max()
        sound += 10 ** ((self.scuff_db + rng.normal(0, 3)) / 20) * scuff / np.abs(scuff).max()
        return sound * _fade(t)

    def _thump(self, rng: np.random.Generator, t: np.ndarray) -> np.ndarray:
        """The floor's modes, each from rest at contact, in the mix this landing excites."""
        attack = 1.0 - np.exp(-t / rng.uniform(0.0008, 0.0025))
        gains = self.weights * rng.lognormal(0.0, 0.35, self.weights.size)
        bend = self.modes_hz * (1.0 + rng.normal(0.0, 0.01, self.modes_hz.size))
        phases = 2 * np.pi * bend[:, None] * t + rng.normal(0.0, 0.3, bend.size)[:, None]
        ringing = np.sin(phases) * np.exp(-t / self.decays_s[:, None])
        return attack * (gains[:, None] * ringing).sum(axis=0)


def model_feet(seed: int) -> ModelFeet:
    """Landings on a floor of its own, made up from `seed`."""
    rng = np.random.default_rng(seed)
    modes_hz = np.sort(rng.uniform([60, 90, 120, 160, 200], [90, 120, 160, 200, 250]))
    decays_s = rng.uniform(0.018, 0.045, 5) * np.linspace(1.3, 0.7, 5)
    return ModelFeet(modes_hz, decays_s, rng.uniform(0.4, 1.0, 5))


@dataclass(frozen=True, eq=False)
class RecordedFeet:
    """Landings from recorded clips, drawn by lot and varied a little in level and pitch.

    Attributes:
        clips: recorded landings; their anchor is the contact.
    """

    clips: tuple[Sound, ...]

    def landing(self, rng: np.random.Generator, place: int) -> np.ndarray:
        """One of the clips from its contact on, up to 3 % higher or lower."""
        clip = self.clips[rng.integers(len(self.clips))]
        start = round(clip.anchor_s * SAMPLE_RATE_HZ)
        sound = clip.samples[start:].astype(float)
        pitch = 1.0 + rng.uniform(-0.03, 0.03)
        at = np.arange(0.0, sound.size - 1, pitch)
        return np.interp(at, np.arange(sound.size), sound) / max(np.abs(sound).max(), 1e-9)


@dataclass(frozen=True)
class TwoKinds:
    """Different feet for the lead and the short landing: a step and a hop, a heel and a sole."""

    lead: Feet
    short: Feet

    def landing(self, rng: np.random.Generator, place: int) -> np.ndarray:
        """A landing of the feet that belong to the place."""
        return (self.short if place else self.lead).landing(rng, place)


def recorded_feet(clips: Sequence[Sound]) -> RecordedFeet:
    """Landings from these clips."""
    return RecordedFeet(tuple(clips))


def band_gain(frequencies_hz: np.ndarray, low_hz: float, high_hz: float) -> np.ndarray:
    """Gain of a gentle band (12 dB an octave on either side) at each frequency."""
    f = np.maximum(frequencies_hz, 1e-3)
    return 1.0 / np.sqrt((1.0 + (low_hz / f) ** 4) * (1.0 + (f / high_hz) ** 4))


def _band_noise(rng: np.random.Generator, n: int, low_hz: float, high_hz: float) -> np.ndarray:
    spectrum = np.fft.rfft(rng.normal(size=n))
    return np.fft.irfft(spectrum * band_gain(np.fft.rfftfreq(n, 1 / SAMPLE_RATE_HZ), low_hz, high_hz), n)


def _swell(t: np.ndarray, length_s: float) -> np.ndarray:
    """Rises for a third of the length, then dies away: the sole settling."""
    return (t / (length_s / 3)) * np.exp(1.0 - t / (length_s / 3))


def _fade(t: np.ndarray) -> np.ndarray:
    """Full until the last 20 ms, then to nothing."""
    return np.clip((t[-1] - t) / 0.02, 0.0, 1.0)
