"""Everything that sounds in a gym besides the child: talk, balls, whistles, cues.

Each function lays dry sounds out in time as `Event`s; `placed` puts events into
a room. Times are arrivals at the microphone, s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import butter, sosfilt, sosfiltfilt

from tests.hearing.material import Material, Sound
from tests.hearing.rooms import LEAD_S

Samples = NDArray[np.float32]

CUE_KINDS = ("tone", "woodblock", "word")
TONE_HZ = (1500.0, 1000.0)
TONE_S = 0.060
TONE_RISE_S = 0.004
WOODBLOCK_HZ = (2400.0, 1800.0)
WOODBLOCK_DECAY_S = 0.014
WORD_LOW_CUT_HZ = 400.0
SPEAKER_LOW_CUT_HZ = 250.0


@dataclass(frozen=True)
class Event:
    """A dry sound whose sample `mark` arrives at `time_s`, through response number `place`."""

    time_s: float
    samples: Samples
    mark: int = 0
    gain: float = 1.0
    place: int = 0


def placed(events: Sequence[Event], responses: Sequence[Samples], n: int, sample_rate_hz: int) -> Samples:
    """Return `n` samples of the events heard through the room's responses."""
    used = sorted({event.place for event in events})
    if not used:
        return np.zeros(n, dtype=np.float32)
    size = next_fast_len(n + max(len(responses[place]) for place in used), real=True)
    spectrum: NDArray[np.complex64] | None = None
    for place in used:
        dry = np.zeros(size, dtype=np.float32)
        for event in events:
            if event.place == place:
                _add(dry, event, n, sample_rate_hz)
        part = rfft(dry) * rfft(responses[place], size)
        spectrum = part if spectrum is None else spectrum + part
    lead = round(LEAD_S * sample_rate_hz)
    return irfft(spectrum, size)[lead : lead + n].astype(np.float32)


def _add(dry: Samples, event: Event, n: int, sample_rate_hz: int) -> None:
    start = round(event.time_s * sample_rate_hz) - event.mark
    skip = max(0, -start)
    stop = min(n, start + len(event.samples))
    if stop > start + skip:
        dry[start + skip : stop] += np.float32(event.gain) * event.samples[skip : stop - start]


def speech_events(voices: Sequence[Sound], n_s: float, sample_rate_hz: int,
                  rng: np.random.Generator, place: int) -> list[Event]:
    """Let one or two voices of the part talk on and off until `n_s`."""
    names = list(dict.fromkeys(voice.source for voice in voices))
    chosen = set(rng.choice(names, size=min(len(names), 1 + int(rng.random() < 0.3)), replace=False))
    pool = [voice for voice in voices if voice.source in chosen]
    events, at = [], float(rng.uniform(0.0, 0.5))
    while at < n_s:
        voice = pool[int(rng.integers(len(pool)))]
        events.append(Event(at, voice.samples, gain=float(rng.uniform(0.6, 1.0)), place=place))
        at += len(voice.samples) / sample_rate_hz + float(rng.uniform(0.05, 0.7))
    return events


def ball_events(balls: Sequence[Sound], n_s: float, rng: np.random.Generator, place: int) -> list[Event]:
    """Dribble a ball (0.4-0.8 s a bounce), or drop it again and again until it lies still."""
    names = list(dict.fromkeys(ball.source for ball in balls))
    name = names[int(rng.integers(len(names)))]
    pool = [ball for ball in balls if ball.source == name]
    dropped = rng.random() < 0.4
    period = float(rng.uniform(0.4, 0.8))
    events, at, gap, gain = [], float(rng.uniform(0.1, 0.8)), period, 1.0
    while at < n_s:
        ball = pool[int(rng.integers(len(pool)))]
        events.append(Event(at, ball.samples, gain=gain * float(rng.uniform(0.75, 1.0)), place=place))
        gap = gap * 0.8 if dropped else period * float(rng.normal(1.0, 0.05))
        gain = gain * 0.8 if dropped else 1.0
        if gap < 0.12:
            at, gap, gain = at + float(rng.uniform(0.5, 1.5)), period, 1.0
        at += gap
    return events


def whistle_events(whistles: Sequence[Sound], n_s: float, rng: np.random.Generator, place: int) -> list[Event]:
    """Blow a whistle every second or three."""
    events, at = [], float(rng.uniform(0.2, 0.8))
    while at < n_s:
        events.append(Event(at, whistles[int(rng.integers(len(whistles)))].samples, place=place))
        at += float(rng.uniform(1.0, 3.0))
    return events


def tone(frequency_hz: float, sample_rate_hz: int) -> Samples:
    """Return a 60 ms tone with rises and falls of 4 ms."""
    time = np.arange(round(TONE_S * sample_rate_hz)) / sample_rate_hz
    edge = np.minimum(1.0, np.minimum(time, TONE_S - time) / TONE_RISE_S)
    return (0.5 * np.sin(2 * np.pi * frequency_hz * time) * edge).astype(np.float32)


def woodblock(frequency_hz: float, sample_rate_hz: int) -> Samples:
    """Return a woodblock-like ring with 14 ms decay."""
    time = np.arange(round(0.1 * sample_rate_hz)) / sample_rate_hz
    ring = np.sin(2 * np.pi * frequency_hz * time) + 0.3 * np.sin(2 * np.pi * 1.52 * frequency_hz * time)
    return (0.4 * ring * np.exp(-time / WOODBLOCK_DECAY_S) * np.minimum(1.0, time / 0.001)).astype(np.float32)


def cue_sounds(kind: str, material: Material, rng: np.random.Generator) -> tuple[Samples, Samples]:
    """Return the dry sounds for a lead and a follower, as the program would play them."""
    rate = material.sample_rate_hz
    if kind == "tone":
        return tone(TONE_HZ[0], rate), tone(TONE_HZ[1], rate)
    if kind == "woodblock":
        return woodblock(WOODBLOCK_HZ[0], rate), woodblock(WOODBLOCK_HZ[1], rate)
    speaker = material.words[int(rng.integers(len(material.words)))].source
    words = [word.samples for word in material.words if word.source == speaker]
    first, second = rng.choice(len(words), size=2, replace=False)
    high = butter(3, WORD_LOW_CUT_HZ, "highpass", fs=rate, output="sos")
    return tuple(sosfiltfilt(high, words[k]).astype(np.float32) for k in (int(first), int(second)))


def cue_events(times_s: NDArray[np.float64], lead: NDArray[np.bool_], sounds: tuple[Samples, Samples],
               place: int) -> list[Event]:
    """Play the cue of every planned landing."""
    return [Event(float(time), sounds[0] if first else sounds[1], place=place)
            for time, first in zip(times_s, lead, strict=True)]


def through_speaker(samples: Samples, sample_rate_hz: int) -> Samples:
    """Roll off the lows of a small loudspeaker and add some 3 % of distortion."""
    high = butter(2, SPEAKER_LOW_CUT_HZ, "highpass", fs=sample_rate_hz, output="sos")
    played = sosfilt(high, samples)
    top = np.abs(played).max() or 1.0
    unit = played / top
    return (top * (unit + 0.03 * (unit**2 - np.mean(unit**2)) + 0.03 * unit**3)).astype(np.float32)
