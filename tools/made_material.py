"""More feet, voices and balls for training than were recorded: blends, altered copies and made ones.

Eleven recordings of feet are few. New "children" are made from them by layering two clips at contact,
by new spectra and decays, and others from scratch: the floor model of `simulate_feet`, plain knocks and
shoes that slide as they land. Balls are varied alike, so that a spectrum alone does not give them away,
and `made_sounds` adds what else sounds in a gym. Claps, taps and push strokes
count as feet: ladders begin with them, and some children move on wheels.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

import made_sounds
import numpy as np
from scipy.signal import butter, oaconvolve, resample_poly, sosfilt

from cuekit.cues.sounds import SAMPLE_RATE_HZ as MADE_RATE_HZ
from cuekit.simulation.simulate_feet import model_feet
from tests.hearing import scenes
from tests.hearing.material import CONTACT_LEAD_S, Material, Sound

RATE_HZ = scenes.TRAINING_RATE_HZ
THIN = "thin shoe "
"""What the sources of `_sliding` are called."""
_CLIPS = 5
_LEAD = round(CONTACT_LEAD_S * RATE_HZ)
_THINGS = (
    made_sounds.whistle,
    made_sounds.squeak,
    made_sounds.scrape,
    made_sounds.door,
    made_sounds.keys,
    made_sounds.shout,
)


def richer(material: Material, rng: np.random.Generator) -> Material:
    """The material with made-up children, balls and other sounds beside the recorded ones."""
    level = float(np.median([_level(foot.samples) for foot in material.feet]))
    feet = tuple(
        Sound(foot.source, _levelled(foot.samples, level)) for foot in _dulled(_more_feet(material, rng), rng)
    )
    balls = _altered(material.balls, rng, 6.0, 1.6) + _made(made_sounds.ball, 24, rng)
    balls = tuple(_dulled(balls, rng))
    things = _altered(material.whistles + material.others, rng, 4.0, 1.5)
    for make in _THINGS:
        things += _made(make, 3, rng)
    return replace(
        material,
        feet=feet,
        balls=material.balls + balls,
        whistles=material.whistles + things,
        adults=_altered(_some(material.adults, 8, rng), rng, 3.0, 1.22),
        children=_altered(_some(material.children, 8, rng), rng, 3.0, 1.2) + _made(made_sounds.shout, 4, rng),
    )


def _some(sounds: Sequence[Sound], sources: int, rng: np.random.Generator) -> list[Sound]:
    """The sounds of a few sources."""
    names = list(dict.fromkeys(sound.source for sound in sounds))
    chosen = set(rng.choice(names, size=min(sources, len(names)), replace=False))
    return [sound for sound in sounds if sound.source in chosen]


def _more_feet(material: Material, rng: np.random.Generator) -> list[Sound]:
    """Recorded feet thrice, and children made up; some clap, tap or push a wheel."""
    names = material.foot_sources()
    feet = list(material.feet)
    for copy in range(2):
        feet += [Sound(f"{foot.source}#{copy}", foot.samples) for foot in material.feet]
    for child in range(16):
        first, second = (material.feet_of(names[int(n)]) for n in rng.integers(len(names), size=2))
        feet += [Sound(f"blend{child}", clip) for clip in _blended(first, second, rng)]
    for child in range(8):
        floor = model_feet(int(rng.integers(1 << 30)))
        made = [at_rate(floor.landing(rng, 0)) for _ in range(_CLIPS)]
        feet += [Sound(f"model{child}", np.pad(clip, (_LEAD, 0))) for clip in made]
    for child in range(8):
        feet += [Sound(f"knock{child}", np.pad(clip, (_LEAD, 0))) for clip in _knocks(rng)]
    for child in range(5):
        feet += [Sound(f"clap{child}", np.pad(clip, (_LEAD, 0))) for clip in made_sounds.clap(rng, RATE_HZ)]
    for child in range(16):
        feet += [Sound(f"push{child}", np.pad(clip, (_LEAD, 0))) for clip in made_sounds.push(rng, RATE_HZ)]
    for child in range(10):
        clips = material.feet_of(names[int(rng.integers(len(names)))])
        feet += [Sound(f"{THIN}{child}", clip) for clip in _sliding(clips, rng)]
    return feet


def _made(make: Callable[..., list[np.ndarray]], sources: int, rng: np.random.Generator) -> tuple[Sound, ...]:
    """So many sources of a made sound."""
    return tuple(Sound(f"{make.__name__}{n}", clip) for n in range(sources) for clip in make(rng, RATE_HZ))


def _altered(
    sounds: Sequence[Sound], rng: np.random.Generator, spread_db: float, fastest: float
) -> tuple[Sound, ...]:
    """Every source at another speed and with another spectrum."""
    made = []
    for name in dict.fromkeys(sound.source for sound in sounds):
        speed, curve = float(np.exp(rng.uniform(-1, 1) * np.log(fastest))), int(rng.integers(1 << 30))
        for one in (sound for sound in sounds if sound.source == name):
            faster = scenes.varied(one.samples, speed, 0.0)
            made.append(Sound(f"{name}~", _filtered(faster, np.random.default_rng(curve), spread_db)))
    return tuple(made)


def _dulled(sounds: Sequence[Sound], rng: np.random.Generator) -> list[Sound]:
    """A third of the sources without what is above 2.5 to 7.5 kHz, as if recorded at a low rate."""
    names = dict.fromkeys(sound.source for sound in sounds)
    edges_hz = {name: float(rng.uniform(2500, 7500)) if rng.random() < 1 / 3 else None for name in names}
    return [
        sound if (hz := edges_hz[sound.source]) is None else Sound(sound.source, _below(sound.samples, hz))
        for sound in sounds
    ]


def _below(samples: np.ndarray, edge_hz: float) -> np.ndarray:
    """What a sound holds below a frequency; its onset stays to within half a period of that."""
    spectrum = np.fft.rfft(samples)
    spectrum *= np.clip((edge_hz - np.fft.rfftfreq(samples.size, 1 / RATE_HZ)) / 200.0, 0, 1)
    return np.fft.irfft(spectrum, samples.size).astype(np.float32)


def _sliding(clips: tuple[Sound, ...], rng: np.random.Generator) -> list[np.ndarray]:
    """A thin shoe: little below a few hundred hertz, and after contact it slides or squeaks."""
    cut_hz = float(np.exp(rng.uniform(np.log(150), np.log(1500))))
    high = butter(int(rng.integers(1, 4)), cut_hz, "highpass", fs=RATE_HZ, output="sos")
    slide = rng.choice([made_sounds.squeak, made_sounds.scrape])(rng, RATE_HZ)
    share, lag_s = rng.choice([0.0, 0.0, 0.1, 0.3]), rng.uniform(0.0, 0.04)
    made = []
    for _ in range(_CLIPS):
        thin = sosfilt(high, clips[int(rng.integers(len(clips)))].samples)
        rub = slide[int(rng.integers(len(slide)))][: round(0.12 * RATE_HZ)]
        rub = np.pad(rub * np.linspace(1, 0, rub.size), (_LEAD + round(lag_s * RATE_HZ), 0))
        size = max(thin.size, rub.size)
        thin = np.pad(thin, (0, size - thin.size))
        rub = np.pad(rub, (0, size - rub.size)) * (2 * share * np.abs(thin).max())
        made.append((thin + rub).astype(np.float32))
    return made


def _blended(
    first: tuple[Sound, ...], second: tuple[Sound, ...], rng: np.random.Generator
) -> list[np.ndarray]:
    """Two recordings landing together, of one child: one spectrum, one decay."""
    share, keep_s, curve = (
        rng.uniform(0, 1),
        float(rng.choice([0.02, 0.05, 0.1, 0.3])),
        int(rng.integers(1 << 30)),
    )
    made = []
    for _ in range(_CLIPS):
        a, b = (clips[int(rng.integers(len(clips)))].samples for clips in (first, second))
        size = max(a.size, b.size)
        both = share * np.pad(a, (0, size - a.size)) + (1 - share) * np.pad(b, (0, size - b.size))
        both = _filtered(both, np.random.default_rng(curve), 6.0)
        both *= np.exp(-np.clip(np.arange(both.size) - _LEAD, 0, None) / (keep_s * RATE_HZ))
        made.append(both.astype(np.float32))
    return made


def _knocks(rng: np.random.Generator) -> list[np.ndarray]:
    """Plain knocks: a burst of noise in a band, a damped tone of a floor, or both."""
    low_hz, high_hz = rng.uniform(40, 400), rng.uniform(700, 7000)
    decay_s, ring_s, ring_hz = rng.uniform(0.004, 0.06), rng.uniform(0.008, 0.06), rng.uniform(60, 500)
    ringing = rng.choice([0.0, 0.5, 1.0])
    rise_s = float(rng.choice([1e-5, 0.001, 0.003]))
    t = np.arange(round(0.35 * RATE_HZ)) / RATE_HZ
    made = []
    for _ in range(_CLIPS):
        spectrum = np.fft.rfft(rng.standard_normal(t.size))
        hz = np.fft.rfftfreq(t.size, 1 / RATE_HZ)
        noise = np.fft.irfft(spectrum * ((hz > low_hz) & (hz < high_hz)), t.size)
        burst = noise / np.abs(noise).max() * np.exp(-t / decay_s)
        ring = np.exp(-t / ring_s) * np.sin(2 * np.pi * ring_hz * rng.uniform(0.97, 1.03) * t)
        made.append(((1 - ringing) * burst + ringing * ring) * np.minimum(t / rise_s, 1))
    return [clip.astype(np.float32) for clip in made]


def _filtered(samples: np.ndarray, rng: np.random.Generator, spread_db: float) -> np.ndarray:
    """A random smooth spectrum put on a sound, causally (minimum phase), so that its onset stays."""
    size = 1024
    hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    octave = np.log2(np.maximum(hz, 40.0) / 40.0)
    curve = np.interp(octave, np.arange(9), rng.normal(0, spread_db, 9)) * np.log(10) / 20
    cepstrum = np.fft.irfft(curve, size)
    cepstrum[1 : size // 2] *= 2
    cepstrum[size // 2 + 1 :] = 0
    response = np.fft.irfft(np.exp(np.fft.rfft(cepstrum)), size)
    return oaconvolve(samples, response)[: samples.size + 200].astype(np.float32)


def at_rate(samples: np.ndarray) -> np.ndarray:
    ratio = Fraction(RATE_HZ, MADE_RATE_HZ)
    return resample_poly(samples, ratio.numerator, ratio.denominator).astype(np.float32)


def _level(samples: np.ndarray) -> float:
    """Highest 20 ms RMS."""
    width = round(0.02 * RATE_HZ)
    power = np.convolve(samples.astype(np.float64) ** 2, np.ones(width) / width, "same")
    return float(np.sqrt(power.max()))


def _levelled(samples: np.ndarray, level: float) -> np.ndarray:
    return (samples * (level / max(_level(samples), 1e-9))).astype(np.float32)
