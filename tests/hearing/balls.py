"""Ball bounces: a few recorded, and a model of a large ball on a hard floor.

The model is a sum of decaying partials (floor thump 60-130 Hz, the ball's air
cavity, a short skin slap); it stands for kinds of ball for which no free
recording was found. The two parts draw from different ranges.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.hearing.material import Sound
from tests.hearing.sources import DEVELOPMENT

LENGTH_S = 0.35
N_BOUNCES = 8


def modelled_bounces(part: str, sample_rate_hz: int, seed: int) -> tuple[Sound, ...]:
    """Return bounces of two modelled balls, softly varied from bounce to bounce."""
    rng = np.random.default_rng(seed)
    cavities = (880.0, 540.0) if part == DEVELOPMENT else (700.0, 1040.0)
    return tuple(
        Sound(f"modelled-{cavity:.0f}", bounce(cavity * rng.uniform(0.98, 1.02), sample_rate_hz, rng))
        for cavity in cavities for _ in range(N_BOUNCES))


def bounce(cavity_hz: float, sample_rate_hz: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Return one bounce; `cavity_hz` is the ball's lowest air resonance, Hz."""
    time = np.arange(round(LENGTH_S * sample_rate_hz)) / sample_rate_hz
    partials = [(rng.uniform(60.0, 130.0), 1.0, 0.035), (rng.uniform(160.0, 240.0), 0.6, 0.022),
                (cavity_hz, 0.5, 0.045), (cavity_hz * 1.59, 0.25, 0.03), (cavity_hz * 2.14, 0.15, 0.02)]
    sound = np.zeros_like(time)
    for frequency, size, decay_s in partials:
        phase = rng.uniform(0, 2 * np.pi)
        sound += size * rng.uniform(0.7, 1.3) * np.exp(-time / decay_s) * np.sin(
            2 * np.pi * frequency * time + phase)
    slap = rng.standard_normal(len(time)) * np.exp(-time / 0.003) * 0.5
    rise = 1.0 - np.exp(-time / 0.0008)
    return ((sound + slap) * rise * 0.2).astype(np.float32)
