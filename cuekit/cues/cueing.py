"""What sounds on each cue: tones, words with tones, or a glide; and which words fit.

Words are fitted to one turn of the pattern at the tightest tempo of the bout (`cuekit.cues.words` holds the
rule), so that a word never has to give way half-way through.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from cuekit.cues.glide import Glide, glide
from cuekit.cues.sounds import Sound
from cuekit.cues.tones import ToneSet, audible_tail_s, louder
from cuekit.cues.voice import Voice, Word
from cuekit.cues.words import AFTER_WORD_S, WordFit, fit_sequence
from cuekit.patterns.schedule import Cue, Role, Schedule

TONE_UNDER_WORD_DB = -6.0
"""A tone that sounds with a word is softer, so that the word stays clear, dB."""

SoundsFor = Callable[[Cue], tuple[Sound, ...]]
"""The sounds of a cue at full level, each anchored on it; none for a cue that has no sound."""


class Kind(StrEnum):
    """What carries the rhythm."""

    TONES = "tones"
    GLIDE = "glide"
    WORDS = "words"


@dataclass(frozen=True)
class Took:
    """What was taken, and why; `cuekit.telling.cue_told` says it.

    Attributes:
        kind: what carries the rhythm.
        fit: of the words; None where none is to be said on the footfalls.
        counted: whether the count is spoken; None where no word of it was asked for.
    """

    kind: Kind
    fit: WordFit | None = None
    counted: bool | None = None


@dataclass(frozen=True)
class ChosenCues:
    """How a schedule will sound.

    Attributes:
        sounds_for: the sounds of a cue.
        took: what was taken, and why.
        glide: the continuous voice under it, if any.
    """

    sounds_for: SoundsFor
    took: Took
    glide: Glide | None = None


@dataclass(frozen=True)
class _Place:
    """A place in the turn of a pattern, the same in every turn."""

    beat: int
    place: int


def choose_cues(schedule: Schedule, tones: ToneSet, voice: Voice | None = None) -> ChosenCues:
    """Choose the sounds of a schedule: its words where they fit, tones everywhere.

    Parameters
    ----------
    schedule : says which cues are to be spoken
    tones : the child's tone set
    voice : who speaks; None for tones only

    Raises
    ------
    PatternError
        The voice cannot say a word of the pattern.
    """
    if voice is None or not any(cue.spoken for cue in schedule.cues):
        return ChosenCues(lambda cue: (tones.sound_for(cue),), Took(Kind.TONES))
    turn = _tightest_turn(schedule)
    fit = _fit_turn(turn, schedule, tones, voice)
    counted = _fit_count(schedule, turn, fit, tones, voice)
    spoken = _by_place(schedule, turn, fit)
    count_words = {cue.beat: word for cue, word in zip(_counts(schedule), counted, strict=False)}
    under = {
        (role, accent): louder(tones.of_role(role).weighted(accent), TONE_UNDER_WORD_DB)
        for role in Role
        for accent in (False, True)
    }

    def sounds_for(cue: Cue) -> tuple[Sound, ...]:
        word = count_words.get(cue.beat) if cue.role is Role.COUNT else spoken.get(_place(schedule, cue))
        if word is None or not cue.spoken:
            return (tones.sound_for(cue),)
        return (word.sound, under[cue.role, cue.accent])

    on_feet = any(cue.spoken for cue in turn)
    kind = Kind.WORDS if on_feet else Kind.TONES
    took = Took(kind, fit if on_feet else None, any(counted) if counted else None)
    return ChosenCues(sounds_for, took)


def choose_glide(schedule: Schedule, tones: ToneSet) -> ChosenCues:
    """A glide through the footfalls, after a count-in of tones."""

    def sounds_for(cue: Cue) -> tuple[Sound, ...]:
        return (tones.sound_for(cue),) if cue.role is Role.COUNT else ()

    return ChosenCues(sounds_for, Took(Kind.GLIDE), glide(schedule))


def _counts(schedule: Schedule) -> tuple[Cue, ...]:
    return tuple(cue for cue in schedule.cues if cue.role is Role.COUNT)


def _place(schedule: Schedule, cue: Cue) -> _Place:
    return _Place(cue.beat % len(schedule.pattern.beats), cue.place)


def _tightest_turn(schedule: Schedule) -> tuple[Cue, ...]:
    """The footfalls of one turn at the fastest tempo of the bout, or of what there is of a turn."""
    beats = len(schedule.pattern.beats)
    turns = max(1, schedule.plan.beats // beats)
    turn = turns - 1 if schedule.plan.tempo_change_percent > 0.0 else 0
    return tuple(cue for cue in schedule.footfalls if turn * beats <= cue.beat < (turn + 1) * beats)


def _gaps_s(schedule: Schedule, turn: tuple[Cue, ...]) -> list[float]:
    """From each cue of a turn to the next, the last one to the first of the next turn (or the end)."""
    later = [cue.time_s for cue in schedule.footfalls if cue.time_s > turn[-1].time_s]
    after_s = later[0] if later else schedule.end_s
    return [b - a for a, b in pairwise([*(cue.time_s for cue in turn), after_s])]


def _fit_turn(turn: tuple[Cue, ...], schedule: Schedule, tones: ToneSet, voice: Voice) -> WordFit:
    texts = [cue.word if cue.spoken else None for cue in turn]
    return fit_sequence(voice, texts, _gaps_s(schedule, turn), tone_s=_tone_s(tones))


def _tone_s(tones: ToneSet) -> float:
    """How long the tone is heard that stands in for a word, the short footfall's first of all."""
    return audible_tail_s(tones.short.plain)


def _fit_count(
    schedule: Schedule, turn: tuple[Cue, ...], fit: WordFit, tones: ToneSet, voice: Voice
) -> tuple[Word | None, ...]:
    """The counted words; none of them where they do not all fit before the first footfall."""
    counts = _counts(schedule)
    if not counts:
        return ()
    first = turn[0].word if turn[0].spoken else None
    beat_s = 60.0 / schedule.plan.tempo_bpm
    long_after_s = 10.0  # the first footfall does not come round to the count again
    texts = [*(cue.word or None for cue in counts), first]
    counted = fit_sequence(voice, texts, [beat_s] * len(counts) + [long_after_s], tone_s=_tone_s(tones))
    *words, _ = counted.words
    # The first word of the pattern may be spoken more slowly than it was tried here.
    last, next_word = words[-1], fit.words[0]
    if last and next_word and last.sound.tail_s + AFTER_WORD_S + next_word.sound.head_s > beat_s:
        return (None,) * len(counts)
    return tuple(words)


def _by_place(schedule: Schedule, turn: tuple[Cue, ...], fit: WordFit) -> dict[_Place, Word | None]:
    return {_place(schedule, cue): word for cue, word in zip(turn, fit.words, strict=True)}
