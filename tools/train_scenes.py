"""Training scenes for `tools/train_ear.py`: the development scenes of `tests/hearing`, with more feet.

    python tools/train_scenes.py --cues FILE.npz    collect cuekit's own tones and words first

Eleven recordings of feet are few. New "children" are made from them by layering two clips at contact,
by new spectra and decays, and others from scratch: the floor model of `simulate_feet` and plain
knocks. Balls are varied alike, so that a spectrum alone does not give them away.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from scipy.signal import resample_poly

from cuekit.cues.sounds import SAMPLE_RATE_HZ as MADE_RATE_HZ
from cuekit.simulation.simulate_feet import model_feet
from tests.hearing import scenes
from tests.hearing.material import CONTACT_LEAD_S, Material, Sound

RATE_HZ = scenes.TRAINING_RATE_HZ
SCENE_S, LEAD_S = 6.0, 1.4
"""Length of a scene, and of what precedes it where the recording begins inside a longer one, s."""
MOST_ONSETS = 64
_CLIPS = 5
_LEAD = round(CONTACT_LEAD_S * RATE_HZ)


def produce(
    first: int, stride: int, held: tuple[str, ...], only_held: bool, cues: Path, out: multiprocessing.Queue
) -> None:
    """Mix scenes for ever: (samples int16, onsets, other onsets, samples used)."""
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    _play_own_cues(cues)
    whole = scenes.load_material(scenes.DEVELOPMENT, RATE_HZ)
    feet = tuple(foot for foot in whole.feet if (foot.source in held) == (only_held and bool(held)))
    known = replace(whole, feet=feet)
    seed = first
    while True:
        rng = np.random.default_rng([seed, 3])
        material = known if only_held else richer(known, rng)
        scenes.load_material = lambda part, rate, chosen=material: chosen
        for _ in range(40):
            out.put(_scene(seed, rng))
            seed += stride


def _scene(seed: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    """One scene, begun somewhere in its first seconds."""
    recipe = scenes.training_recipe(seed, 7.5)
    if rng.random() < 0.1:
        recipe = replace(recipe, noise_db=-110.0)
    if rng.random() < 0.25:
        recipe = _alone(recipe, rng)
    scene = scenes.make_scene(recipe, seed, scenes.DEVELOPMENT, RATE_HZ, scenes.TRAINING_VARIETY)
    start = int(rng.uniform(0, 1.4) * RATE_HZ)
    part = scene.samples[start : start + round(SCENE_S * RATE_HZ)]
    samples = np.zeros(round(SCENE_S * RATE_HZ), np.int16)
    samples[: part.size] = np.round(np.clip(part, -1, 1) * 32767)
    at = start / RATE_HZ
    return samples, _fixed(scene.onsets_s - at), _fixed(scene.other_onsets_s - at), part.size


def _alone(recipe: scenes.Recipe, rng: np.random.Generator) -> scenes.Recipe:
    """A recording without feet: a voice, a cue or a ball alone, at any level of the room."""
    empty = replace(
        recipe,
        skill=None,
        speech=None,
        cue=None,
        ball_db=None,
        whistle_db=None,
        walker_db=None,
        channel="plain",
    )
    empty = replace(empty, noise_db=float(rng.uniform(-60, -20)))
    kind = rng.choice(["adult", "child", "cue", "ball", "whistle"], p=[0.35, 0.15, 0.3, 0.15, 0.05])
    if kind == "cue":
        return replace(empty, cue=str(rng.choice(["tone", "woodblock", "word", "word"])), cue_db=0.0)
    if kind == "ball":
        return replace(empty, ball_db=0.0)
    return replace(empty, whistle_db=0.0) if kind == "whistle" else replace(empty, speech=str(kind))


def _play_own_cues(file: Path) -> None:
    """Let half of the cues in the scenes be those that cuekit plays."""
    with np.load(file) as stored:
        own = {
            kind: [stored[name] for name in stored.files if name.startswith(kind)]
            for kind in ("tone", "word")
        }
    plain = scenes.disturbers.cue_sounds

    def cue_sounds(kind: str, material: Material, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
        if rng.random() < 0.5:
            return plain(kind, material, rng)
        sounds = own["word" if kind == "word" else "tone"]
        return tuple(sounds[int(n)] for n in rng.integers(len(sounds), size=2))

    scenes.disturbers.cue_sounds = cue_sounds


def collect_cues(file: Path) -> None:
    """Write cuekit's own tones and words, at the rate of the scenes."""
    from cuekit.cues.tones import tone_set, tone_set_names
    from cuekit.cues.words import load_voice, shipped_languages
    from cuekit.patterns.schedule import Role

    arrays = {}
    for name in tone_set_names():
        for role in Role:
            arrays[f"tone/{name}/{role}"] = _at_rate(tone_set(name).of_role(role).plain.samples)
    for language in shipped_languages():
        voice = load_voice(language)
        for text in voice.texts:
            for speed in voice.speeds:
                arrays[f"word/{language}/{text}/{speed}"] = _at_rate(voice.take(text, speed).sound.samples)
    np.savez_compressed(file, **arrays)


def _fixed(times_s: np.ndarray) -> np.ndarray:
    """Times from 0.02 s before the start on in an array of fixed size, NaN where there is none."""
    row = np.full(MOST_ONSETS, np.nan, np.float32)
    kept = times_s[times_s > -0.02][:MOST_ONSETS]
    row[: kept.size] = kept
    return row


def richer(material: Material, rng: np.random.Generator) -> Material:
    """The material with made-up children and balls beside the recorded ones."""
    names = material.foot_sources()
    level = float(np.median([_level(foot.samples) for foot in material.feet]))
    feet = list(material.feet)
    for copy in range(2):
        feet += [Sound(f"{foot.source}#{copy}", foot.samples) for foot in material.feet]
    for child in range(14):
        first, second = (material.feet_of(names[int(n)]) for n in rng.integers(len(names), size=2))
        feet += [Sound(f"blend{child}", clip) for clip in _blended(first, second, rng)]
    for child in range(5):
        floor = model_feet(int(rng.integers(1 << 30)))
        made = [_at_rate(floor.landing(rng, 0)) for _ in range(_CLIPS)]
        feet += [Sound(f"model{child}", np.pad(clip, (_LEAD, 0))) for clip in made]
    for child in range(8):
        feet += [Sound(f"knock{child}", np.pad(clip, (_LEAD, 0))) for clip in _knocks(rng)]
    even = tuple(Sound(foot.source, _levelled(foot.samples, level)) for foot in feet)
    balls = material.balls + tuple(
        Sound(
            f"{ball.source}~",
            _filtered(scenes.varied(ball.samples, float(rng.uniform(0.6, 1.6)), 0.0), rng, 6.0),
        )
        for ball in material.balls
    )
    spoken = {
        kind: tuple(
            Sound(
                f"{one.source}~",
                _filtered(scenes.varied(one.samples, float(rng.uniform(0.82, 1.25)), 0.0), rng, 3.0),
            )
            for one in getattr(material, kind)
        )
        for kind in ("adults", "children")
    }
    return replace(material, feet=even, balls=balls, **spoken)


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
    return np.convolve(samples, response)[: samples.size + 200].astype(np.float32)


def _at_rate(samples: np.ndarray) -> np.ndarray:
    ratio = Fraction(RATE_HZ, MADE_RATE_HZ)
    return resample_poly(samples, ratio.numerator, ratio.denominator).astype(np.float32)


def _level(samples: np.ndarray) -> float:
    """Highest 20 ms RMS."""
    width = round(0.02 * RATE_HZ)
    power = np.convolve(samples.astype(np.float64) ** 2, np.ones(width) / width, "same")
    return float(np.sqrt(power.max()))


def _levelled(samples: np.ndarray, level: float) -> np.ndarray:
    return (samples * (level / max(_level(samples), 1e-9))).astype(np.float32)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cues", type=Path, required=True)
    collect_cues(parser.parse_args().cues)
