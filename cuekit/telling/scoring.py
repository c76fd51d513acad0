"""From a recording to all that is told of it: the one chain of hearing, aligning, measuring, advising."""

from __future__ import annotations

from dataclasses import dataclass

from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.events import Hearing, Recording
from cuekit.patterns.pattern import Pattern
from cuekit.rhythm.alignment import Alignment, align
from cuekit.rhythm.measures import Measures, measure_bout, measure_recording
from cuekit.telling.advice import Advice, advise
from cuekit.telling.phrases import Phrases, load_phrases


@dataclass(frozen=True)
class Score:
    """A recording scored against a pattern.

    Attributes:
        recording: what was listened to.
        hearing: the footfalls.
        alignment: their places.
        bouts: measures of each bout, beside `alignment.bouts`.
        measures: of the whole recording.
        advice: in words.
        phrases: of the language of the advice, for what else is told of it.
    """

    recording: Recording
    hearing: Hearing
    alignment: Alignment
    bouts: tuple[Measures, ...]
    measures: Measures
    advice: Advice
    phrases: Phrases


def score_recording(
    recording: Recording, pattern: Pattern, *, tempo_bpm: float | None = None, phrases: Phrases | None = None
) -> Score:
    """Hear, align, measure and advise.

    Args:
        recording: of feet.
        pattern: the target.
        tempo_bpm: the tempo asked for; None where the learner chose it.
        phrases: the language of the advice; English by default.
    """
    hearing = detect_footfalls(recording)
    return score_hearing(recording, hearing, pattern, tempo_bpm=tempo_bpm, phrases=phrases)


def score_hearing(
    recording: Recording,
    hearing: Hearing,
    pattern: Pattern,
    *,
    tempo_bpm: float | None = None,
    phrases: Phrases | None = None,
) -> Score:
    """Score footfalls already found, for example corrected by the teacher."""
    alignment = align(hearing.footfalls, pattern, tempo_bpm=tempo_bpm)
    bouts = tuple(measure_bout(alignment, bout) for bout in alignment.bouts)
    measures = bouts[0] if len(bouts) == 1 else measure_recording(alignment)
    phrases = phrases or load_phrases()
    advice = advise(hearing, alignment, measures, phrases)
    return Score(recording, hearing, alignment, bouts, measures, advice, phrases)
