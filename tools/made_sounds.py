"""Sounds of a gym, made up in wide ranges: balls, whistles, doors, shouts that are no feet; claps and pushes.

Free recordings of these are few, so a network that hears only them learns those few by heart. The
models are plain physics with parameters drawn wide; the ranges are from memory of textbook acoustics
and meant to cover what a gym holds, not to copy any one ball or whistle.

Each function returns a few takes of one source (one ball on one floor, one whistle, one voice).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt

Samples = NDArray[np.float32]

SPEED_OF_SOUND_M_S = 343.0
CAVITY_ROOTS = (2.0816, 3.3421, 4.4934, 5.9404)
"""Zeros of the derivatives of the spherical Bessel functions: modes of a hollow sphere with a stiff skin."""

VOWELS_HZ = ((730, 1090, 2440), (530, 1840, 2480), (270, 2290, 3010), (570, 840, 2410), (300, 870, 2240))
"""Formants of men (Peterson & Barney 1952): a, e, i, o, u; children's are a quarter to two fifths higher."""


def ball(rng: np.random.Generator, rate_hz: int, takes: int = 5) -> list[Samples]:
    """Bounces of one ball on one floor: a force pulse that rings the air inside, the skin and the floor."""
    radius_m = float(np.exp(rng.uniform(np.log(0.018), np.log(0.16))))
    contact_s = float(np.exp(rng.uniform(np.log(0.001), np.log(0.016)))) * (0.5 + radius_m / 0.16)
    cavity_hz = np.array(CAVITY_ROOTS) * SPEED_OF_SOUND_M_S / (2 * np.pi * radius_m)
    modes = [
        (cavity_hz * rng.uniform(0.85, 1.1), rng.uniform(0.004, 0.09), rng.choice([0.0, 0.15, 0.4, 1.0])),
        (rng.uniform(120, 900, 3), rng.uniform(0.004, 0.05), rng.choice([0.0, 0.3, 0.8])),
        (rng.uniform(45, 450, 4), rng.uniform(0.008, 0.09), rng.choice([0.0, 0.3, 1.0])),
    ]
    slap, slap_s = rng.choice([0.0, 0.1, 0.4, 1.0]), rng.uniform(0.0008, 0.008)
    low_hz = float(rng.uniform(200, 1800))
    twice_s = float(rng.choice([0.0, 0.0, 0.0, 1.0]) * rng.uniform(0.008, 0.05))
    made = []
    for _ in range(takes):
        strength = float(rng.uniform(0.5, 1.2))
        sound = _impact(rng, rate_hz, modes, contact_s * strength**-0.3)
        sound += slap * strength * _burst(rng, rate_hz, sound.size, slap_s, low_hz) * np.abs(sound).max()
        if twice_s:
            sound = _again(sound, round(twice_s * rate_hz), float(rng.uniform(0.3, 0.9)))
        made.append(_scaled(sound))
    return made


def _impact(
    rng: np.random.Generator, rate_hz: int, modes: list[tuple], contact_s: float, length_s: float = 0.4
) -> NDArray[np.float64]:
    """A half-sine of force through damped modes, with what it radiates at once."""
    time = np.arange(round(length_s * rate_hz)) / rate_hz
    pulse = np.sin(np.pi * np.arange(0, contact_s, 1 / rate_hz) / contact_s)
    ringing = np.zeros(time.size)
    for all_hz, decay_s, size in modes:
        for hz in np.atleast_1d(all_hz):
            if hz < 0.45 * rate_hz:
                decayed = np.exp(-time / (decay_s * rng.uniform(0.7, 1.3) * min(1.0, 600 / hz + 0.3)))
                ringing += size * rng.uniform(0.2, 1.0) * decayed * np.sin(2 * np.pi * hz * time)
    radiated = np.diff(pulse, prepend=0.0) * rng.uniform(0.5, 3.0)
    sound = np.convolve(ringing, pulse / max(pulse.sum(), 1e-9))[: time.size]
    sound[: radiated.size] += radiated
    return sound


def _burst(
    rng: np.random.Generator, rate_hz: int, size: int, decay_s: float, low_hz: float
) -> NDArray[np.float64]:
    """A decaying burst of high-passed noise, peak about 1."""
    high = butter(2, min(low_hz, 0.4 * rate_hz), "highpass", fs=rate_hz, output="sos")
    noise = sosfilt(high, rng.standard_normal(size)) * np.exp(-np.arange(size) / (decay_s * rate_hz))
    return noise / max(np.abs(noise).max(), 1e-9)


def _again(sound: NDArray[np.float64], lag: int, gain: float) -> NDArray[np.float64]:
    both = np.pad(sound, (0, lag))
    both[lag:] += gain * sound
    return both


def whistle(rng: np.random.Generator, rate_hz: int, takes: int = 3) -> list[Samples]:
    """A pea whistle (two tones, a warble), a mouth whistle that glides, or an electric one."""
    kind = rng.choice(["pea", "mouth", "plain"])
    hz = float(rng.uniform(2000, 4300) if kind != "mouth" else rng.uniform(700, 2600))
    made = []
    for _ in range(takes):
        time = np.arange(round(rng.uniform(0.08, 0.9) * rate_hz)) / rate_hz
        glide = rng.normal(0, 0.15 if kind == "mouth" else 0.02) * time / time[-1]
        warble = rng.uniform(0.01, 0.06) * np.sin(2 * np.pi * rng.uniform(14, 65) * time) * (kind == "pea")
        phase = 2 * np.pi * np.cumsum(hz * (1 + glide + warble)) / rate_hz
        tone = np.sin(phase) + rng.uniform(0, 0.7) * np.sin(phase * rng.uniform(1.02, 1.12))
        tone += rng.uniform(0, 0.3) * np.sin(2 * phase)
        tone *= 1 + 0.9 * rng.random() * np.sin(2 * np.pi * rng.uniform(15, 60) * time) * (kind == "pea")
        tone += rng.uniform(0.0, 0.3) * rng.standard_normal(time.size)
        edge_s = rng.uniform(0.002, 0.05)
        made.append(_scaled(tone * np.minimum(1, np.minimum(time, time[-1] - time) / edge_s)))
    return made


def squeak(rng: np.random.Generator, rate_hz: int, takes: int = 4) -> list[Samples]:
    """A rubber sole or a chair on a hall floor: stick and slip, with a pitch that runs away."""
    hz, made = float(rng.uniform(500, 3000)), []
    for _ in range(takes):
        time = np.arange(round(rng.uniform(0.03, 0.35) * rate_hz)) / rate_hz
        wander = np.cumsum(rng.standard_normal(time.size)) / np.sqrt(time.size)
        pitch_hz = hz * np.exp(rng.uniform(-0.5, 0.5) * time / time[-1] + 0.08 * wander)
        phase = np.cumsum(pitch_hz) / rate_hz
        saw = 2 * (phase % 1) - 1
        sound = np.tanh(saw * rng.uniform(1, 4)) + rng.uniform(0, 0.5) * rng.standard_normal(time.size)
        shape = np.minimum(1, time / rng.uniform(0.002, 0.03)) * np.minimum(1, (time[-1] - time) / 0.01)
        made.append(_scaled(_shaped(sound * shape, rng, rate_hz)))
    return made


def scrape(rng: np.random.Generator, rate_hz: int, takes: int = 3) -> list[Samples]:
    """A chair, a bench or a mat dragged: noise, chopped by its chatter."""
    made = []
    for _ in range(takes):
        time = np.arange(round(rng.uniform(0.15, 0.9) * rate_hz)) / rate_hz
        chatter = 0.5 + 0.5 * np.sign(np.sin(2 * np.pi * rng.uniform(15, 180) * time + rng.uniform(0, 6)))
        sound = rng.standard_normal(time.size) * (1 - rng.uniform(0, 1) * chatter)
        shape = np.maximum(np.sin(np.pi * time / time[-1]), 0) ** rng.uniform(0.3, 1.5)
        made.append(_scaled(_shaped(sound * shape, rng, rate_hz)))
    return made


def clap(rng: np.random.Generator, rate_hz: int, takes: int = 5) -> list[Samples]:
    """Claps, finger snaps or taps of a hand on a table or thigh, of one person."""
    decay_s, low_hz = rng.uniform(0.002, 0.014), rng.uniform(150, 1500)
    hollow_hz, share = rng.uniform(400, 2600), rng.uniform(0, 1)
    made = []
    for _ in range(takes):
        size = round(0.15 * rate_hz)
        time = np.arange(size) / rate_hz
        ring = np.sin(2 * np.pi * hollow_hz * rng.uniform(0.9, 1.1) * time)
        ring *= np.exp(-time / rng.uniform(0.003, 0.012))
        sound = share * ring + (1 - share) * _burst(rng, rate_hz, size, decay_s, low_hz)
        if rng.random() < 0.3:  # fingers do not meet at once
            sound = _again(sound, round(rng.uniform(0.001, 0.012) * rate_hz), float(rng.uniform(0.4, 1)))
        made.append(_scaled(sound))
    return made


def push(rng: np.random.Generator, rate_hz: int, takes: int = 5) -> list[Samples]:
    """Push strokes of one wheelchair: a hand slaps the rim and rubs along it, or beats a tray."""
    slap_s, low_hz = rng.uniform(0.003, 0.014), rng.uniform(80, 600)
    slap_db, rise_s, fall_s = rng.uniform(-4, 12), rng.uniform(0.01, 0.05), rng.uniform(0.04, 0.15)
    coloured, made = rng.random() < 0.6, []
    for _ in range(takes):
        time = np.arange(round(0.4 * rate_hz)) / rate_hz
        slap = _burst(rng, rate_hz, time.size, slap_s * rng.uniform(0.8, 1.25), low_hz)
        slap = _resonated(slap, low_hz * rng.uniform(2, 5), rng.uniform(200, 2500), rate_hz)
        noise = rng.standard_normal(time.size)
        rub = _shaped(noise, rng, rate_hz) if coloured else _burst(rng, rate_hz, time.size, 1.0, low_hz)
        rub *= (1 - np.exp(-time / rise_s)) * np.exp(-time / (fall_s * rng.uniform(0.7, 1.4)))
        gain = 10 ** ((slap_db + rng.normal(0, 1.5)) / 20)
        made.append(_scaled(gain * slap / np.abs(slap).max() + rub / np.abs(rub).max()))
    return made


def door(rng: np.random.Generator, rate_hz: int, takes: int = 3) -> list[Samples]:
    """A door or a locker: a latch, then the leaf, which rings low."""
    modes = [(rng.uniform(35, 350, 5), rng.uniform(0.03, 0.2), 1.0), (rng.uniform(300, 2500, 4), 0.03, 0.4)]
    made = []
    for _ in range(takes):
        leaf = _impact(rng, rate_hz, modes, rng.uniform(0.003, 0.02), 0.8)
        latch = _burst(rng, rate_hz, leaf.size, rng.uniform(0.001, 0.006), 1500.0) * np.abs(leaf).max()
        lag = round(rng.uniform(0.02, 0.15) * rate_hz)
        made.append(_scaled(np.pad(leaf, (lag, 0)) + rng.uniform(0, 0.7) * np.pad(latch, (0, lag))))
    return made


def keys(rng: np.random.Generator, rate_hz: int, takes: int = 3) -> list[Samples]:
    """Keys, a tambourine, a dropped pen: a shower of small high clicks."""
    partials_hz, made = rng.uniform(2000, 7500, 6), []
    for _ in range(takes):
        size = round(rng.uniform(0.15, 0.9) * rate_hz)
        sound = np.zeros(size + rate_hz // 10)
        time = np.arange(rate_hz // 10) / rate_hz
        for at in rng.integers(size, size=int(rng.integers(3, 30))):
            hz = partials_hz[int(rng.integers(6))] * rng.uniform(0.95, 1.05)
            ring = np.exp(-time / rng.uniform(0.002, 0.03)) * np.sin(2 * np.pi * hz * time)
            sound[at : at + time.size] += rng.uniform(0.1, 1) * ring
        made.append(_scaled(sound))
    return made


def shout(rng: np.random.Generator, rate_hz: int, takes: int = 6) -> list[Samples]:
    """A child's calls and laughs: a glottal train through raised formants, some begun by a plosive."""
    taller, base_hz = float(rng.uniform(1.1, 1.45)), float(rng.uniform(210, 480))
    laughs, made = rng.random() < 0.3, []
    for _ in range(takes):
        count = int(rng.integers(2, 8)) if laughs else int(rng.integers(1, 4))
        rest_s = rng.uniform(0.04, 0.1) if laughs else rng.uniform(0.02, 0.2)
        parts = []
        for _ in range(count):
            length_s = rng.uniform(0.05, 0.12) if laughs else rng.uniform(0.07, 0.45)
            parts += [_syllable(rng, rate_hz, base_hz, taller, length_s), np.zeros(round(rest_s * rate_hz))]
        made.append(_scaled(np.concatenate(parts)))
    return made


def _syllable(
    rng: np.random.Generator, rate_hz: int, base_hz: float, taller: float, length_s: float
) -> NDArray[np.float64]:
    """One vowel, its pitch gliding; perhaps a plosive or a hiss before it."""
    time = np.arange(round(length_s * rate_hz)) / rate_hz
    pitch_hz = base_hz * np.exp(rng.normal(0, 0.2) + rng.normal(0, 0.3) * time / length_s)
    pitch_hz *= 1 + 0.02 * rng.standard_normal(time.size).cumsum() / np.sqrt(time.size)
    train = np.diff(np.floor(np.cumsum(pitch_hz) / rate_hz), prepend=0.0)
    sound = lfilter([1.0], [1.0, -rng.uniform(0.8, 0.97)], train)
    sound += rng.uniform(0, 0.06) * rng.standard_normal(time.size)
    for hz in VOWELS_HZ[int(rng.integers(len(VOWELS_HZ)))]:
        sound = _resonated(sound, hz * taller * rng.uniform(0.92, 1.08), rng.uniform(70, 200), rate_hz)
    edge_s = rng.uniform(0.004, 0.04)
    sound *= np.minimum(1, np.minimum(time / edge_s, (length_s - time) / rng.uniform(0.02, 0.06)))
    sound /= max(np.abs(sound).max(), 1e-9)
    begun = rng.random()
    if begun < 0.4:
        size = round(rng.uniform(0.01, 0.04) * rate_hz)
        plosive = _burst(rng, rate_hz, size, 0.006, rng.uniform(200, 3000))
        return np.concatenate([0.6 * rng.random() * plosive, sound])
    if begun < 0.6:
        hiss = _burst(rng, rate_hz, round(rng.uniform(0.05, 0.15) * rate_hz), 0.5, 2500.0)
        return np.concatenate([0.3 * rng.random() * hiss, sound])
    return sound


def _resonated(sound: NDArray[np.float64], hz: float, width_hz: float, rate_hz: int) -> NDArray[np.float64]:
    """One formant: a two-pole resonance."""
    radius = np.exp(-np.pi * width_hz / rate_hz)
    turn = 2 * np.pi * min(hz, 0.47 * rate_hz) / rate_hz
    return lfilter([1 - radius], [1.0, -2 * radius * np.cos(turn), radius**2], sound)


def _shaped(sound: NDArray[np.float64], rng: np.random.Generator, rate_hz: int) -> NDArray[np.float64]:
    """A few broad resonances of whatever sounds."""
    for _ in range(2):
        sound = sound * 0.3 + _resonated(sound, rng.uniform(200, 5000), rng.uniform(200, 1500), rate_hz)
    return sound


def _scaled(sound: NDArray[np.float64]) -> Samples:
    """Peak 0.5, as the recorded sounds have."""
    return (sound * (0.5 / max(np.abs(sound).max(), 1e-9))).astype(np.float32)
