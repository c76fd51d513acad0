"""A sentence spoken aloud, made on this computer: no network, no recording of anybody.

The engine is the one that made the shipped words (py-nanotts: SVOX Pico, Apache-2.0). What it gives goes
through the same loudness limit as every cue, and begins softly.
"""

from __future__ import annotations

import importlib.util
from types import ModuleType

import numpy as np
import soxr

from cuekit.cues.loudness import integrated_lufs, level_for, true_peak
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.errors import AudioError, to_install

VOICES = {"en": "en-US", "es": "es-ES"}
"""Of the engine, for each language a sentence can be in."""

SPEED = 0.9
"""A little slower than usual: it is heard in a gym, once (our choice, no source)."""

SOFT_START_S = 0.05

_ENGINE_RATE_HZ = 16_000
_ENGINE_VOLUME = 0.4  # at which it does not clip (`tools/render_words.py`)
_MARKUP = str.maketrans({"<": " ", ">": " ", "&": " "})  # the engine takes commands between these


def check_speech(language: str) -> None:
    """Refuse now what could not be spoken later.

    Raises
    ------
    AudioError
        The engine is not installed, or has no voice in this language.
    """
    if importlib.util.find_spec("py_nanotts") is None:
        raise _missing()
    _voice(language)


def spoken(sentence: str, language: str, loudness_lufs: float) -> np.ndarray:
    """A sentence as sound.

    Parameters
    ----------
    sentence : plain words
    language : its language, a key of `VOICES`
    loudness_lufs : integrated loudness, LUFS; see `cuekit.cues.loudness` for its limits

    Returns
    -------
    Mono float32 at `SAMPLE_RATE_HZ`; no true peak above the ceiling.

    Raises
    ------
    AudioError
        As `check_speech`; or the loudness is out of range, or nothing could be spoken.
    """
    voice, text = _voice(language), sentence.translate(_MARKUP)
    pcm = _engine().NanoTTS().speak(text, voice=voice, speed=SPEED, volume=_ENGINE_VOLUME)
    said = np.frombuffer(pcm, "<i2").astype(np.float32) / 32768
    if not said.any():
        raise AudioError("the sentence could not be spoken: leave out --say, it is shown in any case")
    samples = soxr.resample(said, _ENGINE_RATE_HZ, SAMPLE_RATE_HZ, quality="HQ")
    samples *= level_for(loudness_lufs, integrated_lufs(samples), true_peak(samples)).gain
    samples[: round(SOFT_START_S * SAMPLE_RATE_HZ)] *= _rise()
    return samples.astype(np.float32)


def _rise() -> np.ndarray:
    n = round(SOFT_START_S * SAMPLE_RATE_HZ)
    return (0.5 - 0.5 * np.cos(np.pi * np.arange(n) / n)).astype(np.float32)


def _voice(language: str) -> str:
    if language not in VOICES:
        there = ", ".join(VOICES)
        raise AudioError(f'there is no voice for "{language}": choose {there}, or leave out --say')
    return VOICES[language]


def _engine() -> ModuleType:
    """The engine, imported now: nobody else waits for it."""
    try:
        import py_nanotts
    except ImportError:
        raise _missing() from None
    return py_nanotts


def _missing() -> AudioError:
    return AudioError(f"speaking the result needs one more part: {to_install('speech')}")
