"""The tone sets a child can choose from. Every sound is computed here; nothing is recorded.

Rules that every set keeps, and why:

- All its energy lies from 1 kHz to 8 kHz. Footfalls are listened for below 500 Hz, so the microphone
  can tell cue from foot by design, and a laptop loudspeaker plays the whole sound.
- Long and short differ in pitch (a fourth or more) and in length, so that they are told apart far away in an
  echoing room, and by a child who hears pitch poorly.
- The onset is sin^4 of a quarter turn: it starts so gently that no click is heard and the first 5 ms
  stay below half the peak, and still rises fast enough to mark an instant.
- All sounds of a set share one onset, so intervals between them are exact whatever instant of the
  onset is heard as the beat.
- All plain sounds carry the same energy, as short sounds are heard by their energy.

A sound is anchored where its onset passes -10 dB below the peak, the middle of the 6-15 dB at which
listeners place the start of a tone (Vos and Rasch 1981, Percept Psychophys 29:323-335; from memory).
That range is 4 ms wide for the 8 ms onset and 15 ms for the slow one of "soft".
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.errors import AudioError
from cuekit.patterns.schedule import Cue, Role

ANCHOR_DB = -10.0
"""Level of the onset that counts as the beat, dB against the peak."""

PLAIN_ENERGY_S = 0.7e-3
"""Energy of every plain sound: the sum of squared samples times the sample period, s."""


@dataclass(frozen=True)
class Partial:
    """One sine of a sound: its pitch against the lowest one, its level, and how fast it dies."""

    ratio: float
    level_db: float
    decay_s: float


@dataclass(frozen=True)
class Shape:
    """How a sound is made.

    Attributes:
        pitch_hz: of the lowest partial, at the start.
        glide: pitch at the end against the start.
        partials: the sines it is made of.
        rise_s: length of the onset.
        hold_s: how long it stays at its peak before it dies away.
        length_s: whole length, the end included.
        fall_s: length of the smooth end.
    """

    pitch_hz: float
    partials: tuple[Partial, ...]
    rise_s: float
    length_s: float
    hold_s: float = 0.0
    fall_s: float = 0.010
    glide: float = 1.0


@dataclass(frozen=True)
class Tone:
    """A sound in its two weights."""

    plain: Sound
    accented: Sound

    def weighted(self, accent: bool) -> Sound:
        """The sound for a stressed or an unstressed cue."""
        return self.accented if accent else self.plain


@dataclass(frozen=True)
class ToneSet:
    """The sounds of one family.

    Attributes:
        name: how it is called for.
        description: how it sounds and for whom, for the teacher.
        count: for the counted beats.
        long: for the footfall that starts the long interval.
        short: for the footfall that starts the short one.
        whole: for the only footfall of an even beat.
    """

    name: str
    description: str
    count: Tone
    long: Tone
    short: Tone
    whole: Tone

    def sound_for(self, cue: Cue) -> Sound:
        """The sound of a cue."""
        return self.of_role(cue.role).weighted(cue.accent)

    def of_role(self, role: Role) -> Tone:
        """The tone that marks a counted beat, or the long, short or only footfall of a beat."""
        tones = {Role.COUNT: self.count, Role.LONG: self.long, Role.SHORT: self.short, Role.WHOLE: self.whole}
        return tones[role]


def tone_set(name: str) -> ToneSet:
    """Make a tone set.

    Raises:
        AudioError: no set has this name.
    """
    for recipe in _RECIPES:
        if recipe.name == name:
            return _made(recipe)
    raise AudioError(f'no tone set is called "{name[:40]}": choose one of {", ".join(tone_set_names())}')


def tone_set_names() -> tuple[str, ...]:
    """Names of the sets, the default first."""
    return tuple(recipe.name for recipe in _RECIPES)


def tone_set_description(name: str) -> str:
    """What a set sounds like, without making it.

    Raises:
        AudioError: no set has this name.
    """
    described = {recipe.name: recipe.description for recipe in _RECIPES}
    return described[name] if name in described else tone_set(name).description


def onset(rise_s: float, seconds: np.ndarray) -> np.ndarray:
    """The onset common to all sounds: sin^4, from 0 at 0 s to 1 at `rise_s` and after."""
    return np.sin(0.5 * np.pi * np.clip(seconds / rise_s, 0.0, 1.0)) ** 4


def anchor_of_onset_s(rise_s: float) -> float:
    """Where an onset passes `ANCHOR_DB`, s from its start."""
    return rise_s * 2.0 / math.pi * math.asin(10.0 ** (ANCHOR_DB / 80.0))


def audible_tail_s(sound: Sound) -> float:
    """How long a sound goes on after its anchor before it is 25 dB under its peak for good, s."""
    level = np.abs(sound.samples)
    last = np.flatnonzero(level >= level.max() * 10.0 ** (-25.0 / 20.0))[-1]
    return max(0.0, (last + 1) / SAMPLE_RATE_HZ - sound.anchor_s)


def louder(sound: Sound, gain_db: float) -> Sound:
    """The same sound at another level, dB against what it was.

    Raises:
        AudioError: it would leave the range -1..1.
    """
    samples = (sound.samples * 10.0 ** (gain_db / 20.0)).astype(np.float32)
    if np.abs(samples).max() > 1.0:
        raise AudioError(f"{gain_db:g} dB more would overload this sound: take less")
    return Sound(samples, sound.anchor_s)


def _sound(shape: Shape) -> Sound:
    """A plain sound of the given shape."""
    seconds = np.arange(round(shape.length_s * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    dying_s = np.maximum(0.0, seconds - shape.rise_s - shape.hold_s)
    wave = np.zeros(seconds.size)
    for partial in shape.partials:
        turns = partial.ratio * shape.pitch_hz * _warped(seconds, shape)
        level = 10.0 ** (partial.level_db / 20.0) * np.exp(-dying_s / partial.decay_s)
        wave += level * np.sin(2 * np.pi * turns)
    wave *= onset(shape.rise_s, seconds) * onset(shape.fall_s, shape.length_s - seconds)
    wave *= math.sqrt(PLAIN_ENERGY_S * SAMPLE_RATE_HZ / np.sum(wave**2))
    return Sound(wave.astype(np.float32), anchor_of_onset_s(shape.rise_s))


def _warped(seconds: np.ndarray, shape: Shape) -> np.ndarray:
    """Time as the pitch sees it: the integral of `glide` to the power of the share of the length gone."""
    if shape.glide == 1.0:
        return seconds
    rate = math.log(shape.glide) / shape.length_s
    return np.expm1(rate * seconds) / rate


@dataclass(frozen=True)
class _Recipe:
    """What a tone set is made from; even beats sound like the long footfall, as both start a beat."""

    name: str
    description: str
    count: Shape
    long: Shape
    short: Shape
    accent_db: float = 3.0


def _made(recipe: _Recipe) -> ToneSet:
    """The sounds of a recipe."""

    def tone(shape: Shape) -> Tone:
        plain = _sound(shape)
        return Tone(plain, louder(plain, recipe.accent_db))

    long = tone(recipe.long)
    return ToneSet(recipe.name, recipe.description, tone(recipe.count), long, tone(recipe.short), long)


def _wood(pitch_hz: float, decay_s: float, length_s: float) -> Shape:
    partials = (Partial(1.0, 0.0, decay_s), Partial(2.42, -14.0, 0.4 * decay_s))
    return Shape(pitch_hz, partials, rise_s=0.008, hold_s=0.003, length_s=length_s)


def _tone(pitch_hz: float, length_s: float) -> Shape:
    partials = (Partial(1.0, 0.0, math.inf), Partial(2.0, -12.0, math.inf))
    return Shape(pitch_hz, partials, rise_s=0.008, length_s=length_s, fall_s=0.016)


def _soft(pitch_hz: float, hold_s: float, fall_s: float) -> Shape:
    partials = (Partial(1.0, 0.0, math.inf),)
    rise_s = 0.080
    return Shape(pitch_hz, partials, rise_s, rise_s + hold_s + fall_s, hold_s, fall_s)


def _bell(pitch_hz: float, decay_s: float, length_s: float) -> Shape:
    partials = (
        Partial(1.0, 0.0, decay_s),
        Partial(2.0, -12.0, 0.7 * decay_s),
        Partial(2.76, -15.0, 0.5 * decay_s),
        Partial(4.07, -22.0, 0.3 * decay_s),
    )
    return Shape(pitch_hz, partials, rise_s=0.008, length_s=length_s, fall_s=0.030)


def _drop(pitch_hz: float, decay_s: float, length_s: float) -> Shape:
    return Shape(pitch_hz, (Partial(1.0, 0.0, decay_s),), rise_s=0.008, length_s=length_s, glide=1.5)


_RECIPES = (
    _Recipe(
        "wood",
        "two small wooden blocks: dry and clear in an echoing room",
        count=_wood(1350.0, 0.013, 0.085),
        long=_wood(1800.0, 0.016, 0.105),
        short=_wood(2400.0, 0.009, 0.070),
    ),
    _Recipe(
        "tone",
        "plain short tones, low and long for the long footfall",
        count=_tone(1500.0, 0.060),
        long=_tone(1200.0, 0.090),
        short=_tone(1900.0, 0.050),
    ),
    _Recipe(
        "soft",
        "round tones that swell in and out without an edge, for a child whom sounds startle",
        count=_soft(1440.0, 0.0, 0.080),
        long=_soft(1150.0, 0.030, 0.110),
        short=_soft(1800.0, 0.0, 0.060),
        accent_db=1.5,
    ),
    _Recipe(
        "bell",
        "small bells that ring on a little",
        count=_bell(1500.0, 0.040, 0.160),
        long=_bell(1200.0, 0.090, 0.330),
        short=_bell(1900.0, 0.040, 0.160),
    ),
    _Recipe(
        "drop",
        "water drops: each one glides up",
        count=_drop(1400.0, 0.020, 0.080),
        long=_drop(1100.0, 0.035, 0.120),
        short=_drop(1800.0, 0.016, 0.070),
    ),
)
