"""Training scenes for `tools/train_ear.py`: the development scenes of `tests/hearing`, with more feet.

    python tools/train_scenes.py --cues FILE.npz    collect cuekit's own tones and words first

The recorded sounds, altered and added to by `made_material`, are mixed with more balls and more of what is
no foot than the benchmark has. Sources in `KEPT_FROM_TRAINING` are never used.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[1])]

import numpy as np
from made_material import THIN, at_rate, richer

from tests.hearing import scenes
from tests.hearing.disturbers import Event
from tests.hearing.material import Material, Sound
from tests.hearing.sources import KEPT_FROM_TRAINING

RATE_HZ = scenes.TRAINING_RATE_HZ
SCENE_S, LEAD_S = 6.0, 1.4
"""Length of a scene, and of what precedes it where the recording begins inside a longer one, s."""
MOST_ONSETS = 64
_SCENES_A_MATERIAL = 120
_FOLLOWERS_DB, _FOLLOWERS_SHARE = (0.0, -5.0, -10.0, -15.0, -20.0), (0.2, 0.15, 0.2, 0.25, 0.2)
_LONGEST_GAP_S, _SHORTEST_GAP_S = 1.3, 0.05  # of a ball from bounce to bounce


def produce(
    first: int, stride: int, held: tuple[str, ...], only_held: bool, cues: Path, out: multiprocessing.Queue
) -> None:
    """Mix scenes for ever: (samples int16, onsets, other onsets, samples used)."""
    _play_own_cues(cues)
    scenes.disturbers.ball_events, scenes.disturbers.whistle_events = bounces, now_and_then
    known = trained_on(scenes.load_material(scenes.DEVELOPMENT, RATE_HZ), held, only_held)
    seed = first
    while True:
        rng = np.random.default_rng([seed, 3])
        material = known if only_held else richer(known, rng)
        for _ in range(_SCENES_A_MATERIAL):
            out.put(_scene(seed, material, rng))
            seed += stride


def trained_on(whole: Material, held: tuple[str, ...], only_held: bool) -> Material:
    """The sounds to train on: neither the feet that are held, nor what is kept from training."""
    feet = tuple(foot for foot in whole.feet if (foot.source in held) == (only_held and bool(held)))
    rest = {
        kind: tuple(one for one in getattr(whole, kind) if one.source not in KEPT_FROM_TRAINING)
        for kind in ("adults", "children", "balls", "whistles", "others")
    }
    return replace(whole, feet=feet, **rest)


def _scene(
    seed: int, material: Material, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    """One scene, begun somewhere in its first seconds."""
    recipe = _harder(scenes.training_recipe(seed, 7.5), rng)
    if rng.random() < 0.35:
        recipe = _alone(recipe, rng)
    if recipe.speech == "child" and rng.random() < 0.5:
        material = _in_thin_shoes(material)
    scenes.load_material = lambda part, rate: material
    scene = scenes.make_scene(recipe, seed, scenes.DEVELOPMENT, RATE_HZ, scenes.TRAINING_VARIETY)
    start = int(rng.uniform(0, 1.4) * RATE_HZ)
    part = scene.samples[start : start + round(SCENE_S * RATE_HZ)]
    samples = np.zeros(round(SCENE_S * RATE_HZ), np.int16)
    samples[: part.size] = np.round(np.clip(part, -1, 1) * 32767)
    at = start / RATE_HZ
    return samples, _fixed(scene.onsets_s - at), _fixed(scene.other_onsets_s - at), part.size


def _in_thin_shoes(material: Material) -> Material:
    """The thin shoes alone, which a child's voice covers soonest; all feet where there are none."""
    thin = tuple(foot for foot in material.feet if foot.source.startswith(THIN))
    return replace(material, feet=thin or material.feet)


def _harder(recipe: scenes.Recipe, rng: np.random.Generator) -> scenes.Recipe:
    """More balls and all else that is no foot; soft followers in calm rooms, where the echo covers them."""
    recipe = replace(recipe, follower_db=float(rng.choice(_FOLLOWERS_DB, p=_FOLLOWERS_SHARE)))
    if rng.random() < 0.1:
        recipe = replace(recipe, noise_db=-110.0)
    if rng.random() < 0.08:  # single stamps, as the check of a room asks for, are not a ball
        recipe = replace(_emptied(recipe), skill="stamp", noise_db=float(rng.uniform(-60, -20)))
    if rng.random() < 0.12:  # a child who talks while it moves
        recipe = replace(recipe, speech="child", speech_db=float(rng.uniform(-8, 2)))
    if recipe.follower_db <= -15.0 and rng.random() < 0.4:
        return replace(_emptied(recipe), noise_db=float(rng.uniform(-50, -25)))
    if rng.random() < 0.15:
        recipe = replace(recipe, ball_db=float(rng.uniform(-14, 4)))
    if rng.random() < 0.15:
        recipe = replace(recipe, whistle_db=float(rng.uniform(-12, 5)))
    return recipe


def _alone(recipe: scenes.Recipe, rng: np.random.Generator) -> scenes.Recipe:
    """A recording without feet: one or two of a voice, a cue, a ball or another sound, in any room noise."""
    channel = str(rng.choice(["plain", "phone", "phone gated"], p=[0.85, 0.1, 0.05]))
    empty = replace(_emptied(recipe), skill=None, channel=channel, noise_db=float(rng.uniform(-60, -20)))
    for _ in range(1 + int(rng.random() < 0.2)):
        empty = _with_one(empty, rng)
    return empty


def _emptied(recipe: scenes.Recipe) -> scenes.Recipe:
    """The recipe with nothing that disturbs."""
    return replace(recipe, speech=None, cue=None, ball_db=None, whistle_db=None, walker_db=None)


def _with_one(recipe: scenes.Recipe, rng: np.random.Generator) -> scenes.Recipe:
    """The recipe with one sound more."""
    kind = str(rng.choice(["adult", "child", "cue", "ball", "thing"], p=[0.18, 0.18, 0.15, 0.34, 0.15]))
    level_db = float(rng.uniform(-8, 2))
    if kind == "cue":
        return replace(recipe, cue=str(rng.choice(["tone", "woodblock", "word", "word"])), cue_db=level_db)
    if kind == "ball":
        return replace(recipe, ball_db=level_db)
    if kind == "thing":
        return replace(recipe, whistle_db=level_db)
    return replace(recipe, speech=kind, speech_db=level_db)


def bounces(balls: Sequence[Sound], n_s: float, rng: np.random.Generator, place: int) -> list[Event]:
    """A ball dribbled, caught and bounced, dropped until it lies still, or thrown now and then."""
    pool = _of_one_source(balls, rng)
    way = str(rng.choice(["dribbled", "caught", "dropped", "thrown"], p=[0.35, 0.15, 0.35, 0.15]))
    gap = period = float(rng.uniform(0.22, 0.95))
    keeps, wander, share = rng.uniform(0.6, 0.9), rng.uniform(0.01, 0.12), rng.uniform(0.3, 0.7)
    events, at, gain, number = [], float(rng.uniform(0.05, 0.8)), 1.0, 0
    while at < n_s:
        ball = pool[int(rng.integers(len(pool)))]
        sound = scenes.varied(ball.samples, float(rng.normal(1.0, 0.015)), 0.0)
        events.append(Event(at, sound, gain=gain * float(rng.uniform(0.7, 1.0)), place=place))
        number += 1
        if way == "dropped":
            gap, gain = gap * keeps * float(rng.normal(1, 0.01)), gain * keeps
        elif way == "caught":
            gap = 2 * period * (share if number % 2 else 1 - share) * float(rng.normal(1, wander))
        else:
            gap = float(rng.uniform(0.2, 1.6) if way == "thrown" else period * rng.normal(1, wander))
        if gap < _SHORTEST_GAP_S:
            at, gap, gain = at + float(rng.uniform(0.4, 1.5)), float(rng.uniform(0.3, _LONGEST_GAP_S)), 1.0
        at += max(gap, _SHORTEST_GAP_S)
    return events


def now_and_then(things: Sequence[Sound], n_s: float, rng: np.random.Generator, place: int) -> list[Event]:
    """One or two kinds of thing that sound now and then, or again and again."""
    pool = _of_one_source(things, rng)
    if rng.random() < 0.3:
        pool += _of_one_source(things, rng)
    longest_s = float(rng.choice([0.5, 1.2, 3.0]))
    events, at = [], float(rng.uniform(0.1, 0.8))
    while at < n_s:
        thing = pool[int(rng.integers(len(pool)))].samples
        sound = scenes.varied(thing, float(rng.normal(1.0, 0.03)), 0.0)
        events.append(Event(at, sound, gain=float(rng.uniform(0.5, 1.0)), place=place))
        lasts_s = thing.size / RATE_HZ * float(rng.choice([0.3, 1.0]))
        at += max(0.12, lasts_s) + float(rng.uniform(0.05, longest_s))
    return events


def _of_one_source(sounds: Sequence[Sound], rng: np.random.Generator) -> list[Sound]:
    """The sounds of a source drawn at random, whatever its number of sounds."""
    names = list(dict.fromkeys(sound.source for sound in sounds))
    name = names[int(rng.integers(len(names)))]
    return [sound for sound in sounds if sound.source == name]


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
            arrays[f"tone/{name}/{role}"] = at_rate(tone_set(name).of_role(role).plain.samples)
    for language in shipped_languages():
        voice = load_voice(language)
        for text in voice.texts:
            for speed in voice.speeds:
                arrays[f"word/{language}/{text}/{speed}"] = at_rate(voice.take(text, speed).sound.samples)
    np.savez_compressed(file, **arrays)


def _fixed(times_s: np.ndarray) -> np.ndarray:
    """Times from 0.02 s before the start on in an array of fixed size, NaN where there is none."""
    row = np.full(MOST_ONSETS, np.nan, np.float32)
    kept = times_s[times_s > -0.02][:MOST_ONSETS]
    row[: kept.size] = kept
    return row


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cues", type=Path, required=True)
    collect_cues(parser.parse_args().cues)
