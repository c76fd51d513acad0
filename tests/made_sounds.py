"""Sound files made in memory: feet at known times, in every format that is read."""

import io

import numpy as np
import soundfile as sf

from cuekit.cues.sounds import SAMPLE_RATE_HZ

FORMATS = [
    ("WAV", "PCM_16"), ("WAV", "PCM_24"), ("WAV", "PCM_U8"), ("WAV", "FLOAT"), ("WAV", "DOUBLE"),
    ("WAV", "ULAW"), ("WAVEX", "PCM_16"), ("RF64", "PCM_16"), ("W64", "PCM_16"), ("AIFF", "PCM_16"),
    ("CAF", "PCM_16"), ("AU", "PCM_16"), ("FLAC", "PCM_16"), ("OGG", "VORBIS"), ("OGG", "OPUS"),
    ("MP3", "MPEG_LAYER_III"),
]  # fmt: skip
BURSTS_S = (0.5, 0.9, 1.1, 1.5)


def feet(rate_hz, seconds=2.0, *, at_s=BURSTS_S, level=0.5):
    """Thumps of 150 Hz dying away in 30 ms, on a faint hiss."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    x = np.random.default_rng(1).normal(size=t.size) * 1e-4
    for start in at_s:
        since = np.maximum(t - start, 0.0)
        x += level * np.exp(-since / 0.03) * np.sin(2 * np.pi * 150 * since) * (t >= start)
    return x


def as_file(x, rate_hz, kind="WAV", subtype="PCM_16"):
    buffer = io.BytesIO()
    sf.write(buffer, x, rate_hz, format=kind, subtype=subtype)
    return buffer.getvalue()


def lag_s(one, other):
    """How much later `other` sounds than `one` when both anchors fall on the same instant, s."""
    tracks = []
    for sound in (one, other):
        track = np.zeros(1 << 18)
        start = 2 * SAMPLE_RATE_HZ - round(sound.anchor_s * SAMPLE_RATE_HZ)
        track[start : start + sound.samples.size] = sound.samples
        tracks.append(np.fft.rfft(track))
    likeness = np.fft.irfft(np.conj(tracks[0]) * tracks[1])
    shift = int(np.argmax(likeness))
    return (shift - likeness.size * (shift > likeness.size // 2)) / SAMPLE_RATE_HZ
