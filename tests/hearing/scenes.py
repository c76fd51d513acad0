"""Seeded scenes: a child moving in a room, with truth, needing numpy and scipy only.

Levels
    The level of the feet is the median over all true footfalls of the highest
    20 ms RMS within 80 ms of contact, in the wet sound of the feet alone behind
    the microphone's low cut. Against it, in dB: noise by its RMS; speech by the
    level exceeded in a tenth of its sounding 20 ms frames; ball, second walker,
    whistle and cue by the median of the highest 20 ms RMS of their events. A
    follower `-15 dB` is that much softer than the lead at the floor.

Truth
    `onsets_s` are contacts of the child whom the microphone is there for, plus
    the travel time of the direct path. A second walker's are apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.hearing import channel, disturbers, levels
from tests.hearing.children import SKILLS, Landings, Skill, land, random_child
from tests.hearing.disturbers import Event, placed
from tests.hearing.material import CONTACT_LEAD_S, Material, Sound, load_material
from tests.hearing.recipes import EVEN, FIRST_SEED, UNEVEN, Recipe, benchmark_recipes
from tests.hearing.rooms import SPEED_OF_SOUND_M_S, Room
from tests.hearing.sources import DEVELOPMENT

Samples = NDArray[np.float32]
Times = NDArray[np.float64]

START_S = 0.8
END_S = 0.7
SOFT_DB = -15.0
TRAINING_RATE_HZ = 16000
SILENT_LEVEL = 0.02
"""Level of the feet where there are none: what negatives are measured against."""


@dataclass(frozen=True)
class Scene:
    """A recording and what truly happened in it. All times in s from its start.

    `levels_db` are the true footfalls' 20 ms levels against their median;
    `cue_times_s` the arrivals of cue sounds at the microphone and `cue_track`
    what the program played (dry, aligned to those arrivals), if it played.
    """

    name: str
    condition: str
    part: str
    seed: int
    samples: Samples
    sample_rate_hz: int
    onsets_s: Times
    lead_mask: NDArray[np.bool_]
    levels_db: Times
    soft_onsets_s: Times
    other_onsets_s: Times
    rhythm: str | None
    true_long_share: float | None
    nominal_long_share: float | None
    cue_times_s: Times
    cue_track: Samples | None
    room: str
    feet: str
    follower_db: float

    @property
    def duration_s(self) -> float:
        return len(self.samples) / self.sample_rate_hz

    @property
    def negative(self) -> bool:
        return self.rhythm is None


@dataclass(frozen=True)
class Walk:
    """The child's footfalls in the room: wet sound, arrivals and who leads."""

    wet: Samples
    onsets_s: Times
    lead: NDArray[np.bool_]
    source: str


@dataclass(frozen=True)
class Variety:
    """How much a source's clips are altered: per child (speed) and per footfall."""

    child_speed: tuple[float, float] = (1.0, 1.0)
    step_speed: float = 0.02
    step_db: float = 1.5
    tilt: float = 0.15


AS_RECORDED = Variety()


def make_scene(recipe: Recipe, seed: int, part: str, sample_rate_hz: int = 48000,
               variety: Variety = AS_RECORDED) -> Scene:
    """Mix one scene; the same arguments give the same scene.

    `sample_rate_hz` is that of the material; the scene has the recipe's rate.
    """
    material = load_material(part, sample_rate_hz)
    rng = np.random.default_rng(seed)
    room = material.rooms[int(rng.integers(len(material.rooms)))]
    landings = _landings(recipe, rng)
    last = landings.planned_s[-1] if landings else START_S + recipe.duration_s - END_S
    n = round((max(last, landings.times_s[-1] if landings else 0.0) + END_S) * sample_rate_hz)
    low_cut_hz = float(rng.uniform(45.0, 85.0))
    walk = _walk(recipe, landings, material, room, n, rng, variety) if not recipe.negative else None
    feet = channel.microphone(walk.wet, sample_rate_hz, low_cut_hz) if walk else np.zeros(n, dtype=np.float32)
    level = levels.median_event_level(feet, walk.onsets_s, sample_rate_hz) if walk else SILENT_LEVEL
    extra, other_s, cue_track = _disturbance(recipe, landings, material, room, n, level, rng)
    mixed = feet + channel.microphone(extra, sample_rate_hz, low_cut_hz)
    mixed += _noise(recipe, n, sample_rate_hz, level, rng)
    samples, rate = _recorded(recipe, mixed, feet, walk, sample_rate_hz, rng)
    return _scene(recipe, seed, part, samples, rate, walk, landings, feet, level, other_s, cue_track,
                  room, sample_rate_hz)


def _scene(recipe: Recipe, seed: int, part: str, samples: Samples, rate: int, walk: Walk | None,
           landings: Landings | None, feet: Samples, level: float, other_s: Times,
           cue_track: Samples | None, room: Room, mixed_rate: int) -> Scene:
    """Write down what was mixed."""
    none = np.zeros(0)
    onsets = walk.onsets_s if walk else none
    lead = walk.lead if walk else np.zeros(0, dtype=bool)
    rms = levels.rms_20ms(feet, mixed_rate)
    span = round(levels.SPAN_S * mixed_rate)
    starts = np.clip((onsets * mixed_rate).astype(int), 0, len(rms) - 1)
    own = np.array([20 * np.log10(max(rms[s : s + span].max(), 1e-9) / level) for s in starts])
    skill = SKILLS[recipe.skill] if recipe.skill else None
    soft = onsets[~lead] if recipe.follower_db <= SOFT_DB else none
    played = channel.changed_rate(cue_track, mixed_rate, rate) if cue_track is not None else None
    return Scene(
        name=" / ".join([recipe.condition, recipe.skill or "nobody", f"{recipe.follower_db:+.0f} dB",
                         walk.source if walk else "no feet", room.name, str(seed)]),
        condition=recipe.condition, part=part, seed=seed, samples=samples, sample_rate_hz=rate,
        onsets_s=onsets, lead_mask=lead, levels_db=own, soft_onsets_s=soft, other_onsets_s=other_s,
        rhythm=skill.rhythm if skill else None,
        true_long_share=landings.long_share if landings and skill else None,
        nominal_long_share=(skill.long_share or 0.5) if skill else None,
        cue_times_s=landings.planned_s if landings and recipe.cue else none,
        cue_track=played, room=room.name, feet=walk.source if walk else "",
        follower_db=recipe.follower_db)


def _landings(recipe: Recipe, rng: np.random.Generator) -> Landings | None:
    """Let the child move; for a cue without a child only its plan is used."""
    if recipe.negative and not recipe.cue:
        return None
    skill = SKILLS[recipe.skill or ("walk", "skip 2:1")[int(rng.integers(2))]]
    child = random_child(skill, rng, bool(recipe.cue), recipe.duration_s - START_S - END_S)
    return land(child, START_S, rng, bool(recipe.cue))


def _walk(recipe: Recipe, landings: Landings, material: Material, room: Room, n: int,
          rng: np.random.Generator, variety: Variety) -> Walk:
    """Put each landing at its spot on the child's path and add up what arrives."""
    distances = room.distances_m
    start, stop = rng.uniform(distances[0], distances[-1], 2)
    if rng.random() < 0.35:
        stop = start
    stop = float(np.clip(stop, start - 4.0, start + 4.0))
    progress = np.linspace(0.0, 1.0, len(landings.times_s))
    path = start + (stop - start) * progress
    arrivals = landings.times_s + path / SPEED_OF_SOUND_M_S
    names = material.foot_sources()
    source = names[int(rng.integers(len(names)))]
    clips = material.feet_of(source)
    child_speed = float(rng.uniform(*variety.child_speed))
    events = []
    for arrival, distance, leads in zip(arrivals, path, landings.lead, strict=True):
        clip = clips[int(rng.integers(len(clips)))]
        softer = 0.0 if leads else recipe.follower_db
        gain = 10 ** ((softer + rng.normal(0.0, variety.step_db)) / 20.0)
        place = int(np.argmin(np.abs(np.log(distances / distance))))
        events += _landing_events(recipe, clip, float(arrival), gain, place, child_speed, material, rng, variety)
    wet = placed(events, room.feet, n, material.sample_rate_hz)
    return Walk(wet, arrivals, landings.lead, source)


def _landing_events(recipe: Recipe, clip: Sound, arrival_s: float, gain: float, place: int, child_speed: float,
                    material: Material, rng: np.random.Generator, variety: Variety) -> list[Event]:
    """One contact, or for a jump two feet within 30 ms (the first one counts)."""
    events = []
    for delay in (0.0, float(rng.uniform(0.0, 0.03))) if recipe.skill == "jump" else (0.0,):
        speed = child_speed * float(rng.normal(1.0, variety.step_speed))
        sound = varied(clip.samples, speed, float(rng.uniform(-variety.tilt, variety.tilt)))
        mark = round(CONTACT_LEAD_S * material.sample_rate_hz / speed)
        events.append(Event(arrival_s + delay, sound, mark, gain, place))
    return events


def varied(samples: Samples, speed: float, tilt: float) -> Samples:
    """Play a clip at another speed and tilt its spectrum a little."""
    at = np.arange(0.0, len(samples) - 1, speed)
    sound = np.interp(at, np.arange(len(samples)), samples)
    return (sound - tilt * np.concatenate([[0.0], sound[:-1]])).astype(np.float32)


def _disturbance(recipe: Recipe, landings: Landings | None, material: Material, room: Room, n: int,
                 level: float, rng: np.random.Generator) -> tuple[Samples, Times, Samples | None]:
    """Return (their sound at the microphone, a second walker's onsets, what was played as cue)."""
    rate, seconds = material.sample_rate_hz, n / material.sample_rate_hz
    total, other_s, cue_track = np.zeros(n, dtype=np.float32), np.zeros(0), None
    if recipe.speech:
        voices = material.adults if recipe.speech == "adult" else material.children
        talk = disturbers.speech_events(voices, seconds, rate, rng, int(rng.integers(len(room.mouths))))
        wet = placed(talk, room.mouths, n, rate)
        total += wet * levels.gain_for_db(recipe.speech_db, levels.loud_speech_level(wet, rate), level)
    for wanted_db, sounds, lay_out in ((recipe.ball_db, material.balls, disturbers.ball_events),
                                       (recipe.whistle_db, material.whistles, disturbers.whistle_events)):
        if wanted_db is not None:
            events = lay_out(sounds, seconds - 0.2, rng, int(rng.integers(len(room.far))))
            total += _at_level(events, room.far, wanted_db, level, n, rate)
    if recipe.walker_db is not None:
        events = _second_walker(material, seconds, rng)
        other_s = np.array([event.time_s for event in events])
        total += _at_level(events, room.far, recipe.walker_db, level, n, rate)
    if recipe.cue and landings:
        sounds = disturbers.cue_sounds(recipe.cue, material, rng)
        events = disturbers.cue_events(landings.planned_s, landings.planned_lead, sounds,
                                       int(rng.integers(len(room.speakers))))
        dry = [replace(event, place=0) for event in events]
        cue_track = _dry_track(dry, n, rate)
        played = [replace(e, samples=disturbers.through_speaker(e.samples, rate)) for e in events]
        total += _at_level(played, room.speakers, recipe.cue_db, level, n, rate)
    return total, other_s, cue_track


def _dry_track(events: list[Event], n: int, rate: int) -> Samples:
    track = np.zeros(n, dtype=np.float32)
    for event in events:
        disturbers._add(track, event, n, rate)
    return track


def _at_level(events: list[Event], responses: tuple[Samples, ...], wanted_db: float, level: float,
              n: int, rate: int) -> Samples:
    wet = placed(events, responses, n, rate)
    own = levels.median_event_level(wet, np.array([event.time_s for event in events]), rate)
    return wet * np.float32(levels.gain_for_db(wanted_db, own, level))


def _second_walker(material: Material, seconds: float, rng: np.random.Generator) -> list[Event]:
    """Let another child walk or run past, in other shoes."""
    skill = Skill("passing by", None, (90.0, 190.0))
    other = land(random_child(skill, rng, duration_s=seconds - 1.5), 0.3, rng)
    names = material.foot_sources()
    clips = material.feet_of(names[int(rng.integers(len(names)))])
    mark = round(CONTACT_LEAD_S * material.sample_rate_hz)
    return [Event(float(t), clips[int(rng.integers(len(clips)))].samples, mark) for t in other.times_s]


def _noise(recipe: Recipe, n: int, rate: int, level: float, rng: np.random.Generator) -> Samples:
    make = channel.fan_noise if recipe.noise == "fan" else channel.pink_noise
    return make(n, rate, rng) * np.float32(level * 10 ** (recipe.noise_db / 20.0))


def _recorded(recipe: Recipe, mixed: Samples, feet: Samples, walk: Walk | None, rate: int,
              rng: np.random.Generator) -> tuple[Samples, int]:
    """Return (samples, rate) as the recorder keeps them, at a random level."""
    top = np.float32(10 ** (rng.uniform(-16.0, -2.0) / 20.0))
    if recipe.channel.startswith("phone"):
        kept = channel.phone(mixed, rate, gated=recipe.channel.endswith("gated"))
        return kept * (top / np.abs(kept).max()), channel.PHONE_RATE_HZ
    if recipe.channel == "clipped" and walk is not None:
        spans = [np.abs(feet[round(t * rate) : round((t + 0.06) * rate)]).max() for t in walk.onsets_s]
        return channel.changed_rate(channel.clipped(mixed, 0.4 * float(np.median(spans))), rate,
                                    recipe.output_rate_hz), recipe.output_rate_hz
    if recipe.negative and recipe.noise_db <= -60.0:
        return channel.changed_rate(mixed, rate, recipe.output_rate_hz), recipe.output_rate_hz
    kept = channel.changed_rate(mixed * (top / np.abs(mixed).max()), rate, recipe.output_rate_hz)
    if recipe.channel == "offset":
        kept = np.clip(0.8 * kept + np.float32(rng.choice([-0.18, 0.05, 0.15])), -1.0, 1.0).astype(np.float32)
    return kept, recipe.output_rate_hz


def benchmark_scenes(part: str) -> Iterator[Scene]:
    """Yield every scene of a part, always the same ones."""
    for number, recipe in enumerate(benchmark_recipes()):
        yield make_scene(recipe, FIRST_SEED[part] + number, part)


def training_recipe(seed: int, duration_s: float = 6.0) -> Recipe:
    """Draw a mixture of all conditions, one scene in eight without a child."""
    rng = np.random.default_rng([seed, 7])
    def maybe(chance: float, low: float, high: float) -> float | None:
        return float(rng.uniform(low, high)) if rng.random() < chance else None

    nobody = rng.random() < 0.125
    skill = None if nobody else str(rng.choice(UNEVEN if rng.random() < 0.6 else EVEN))
    speech_db, cue_db = maybe(0.45, -14.0, 8.0), maybe(0.3, -12.0, 10.0)
    return Recipe(
        condition="training", skill=skill,
        follower_db=float(rng.choice([0.0, -5.0, -10.0, -15.0, -20.0])),
        noise=str(rng.choice(["pink", "fan"])), noise_db=float(rng.choice([-45, -30, -20, -12, -8, -5])),
        speech=None if speech_db is None else str(rng.choice(["adult", "child"])), speech_db=speech_db or 0.0,
        ball_db=maybe(0.2, -14.0, 3.0), walker_db=maybe(0.06, -18.0, -8.0),
        whistle_db=maybe(0.05, -8.0, 6.0),
        cue=None if cue_db is None else str(rng.choice(disturbers.CUE_KINDS)), cue_db=cue_db or 0.0,
        channel=str(rng.choice(["plain", "phone", "phone gated", "clipped", "offset"],
                               p=[0.7, 0.1, 0.05, 0.1, 0.05])),
        output_rate_hz=TRAINING_RATE_HZ, duration_s=duration_s)


TRAINING_VARIETY = Variety(child_speed=(0.72, 1.4), step_speed=0.04, step_db=2.5, tilt=0.5)


def training_scene(seed: int) -> Scene:
    """Return one 16 kHz training scene of about 6 s, from development sources only.

    The clips are varied widely (speed, tilt), since the feet are few.
    """
    return make_scene(training_recipe(seed), seed, DEVELOPMENT, TRAINING_RATE_HZ, TRAINING_VARIETY)
