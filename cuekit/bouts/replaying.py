""" "Yours, then this one": a scored bout as clean tones, followed by the target."""

from __future__ import annotations

from cuekit.cues.render import CueTrack
from cuekit.cues.replay import Landing, landings_of, own_tempo_bpm, replay_track
from cuekit.cues.tones import tone_set, tone_set_names
from cuekit.errors import AudioError
from cuekit.patterns.schedule import Role
from cuekit.rhythm.alignment import Bout
from cuekit.telling.scoring import Score

MOST_BEATS = 16
"""Beats replayed of each: what a child can keep in the ear."""


def replay_of(score: Score, tempo_bpm: float | None = None, tones: str = "") -> CueTrack:
    """The longest bout of a score, and the target after it.

    Parameters
    ----------
    score : of a recording
    tempo_bpm : of the target, beats/min; None for the learner's own
    tones : name of the tone set; empty for the usual one

    Raises
    ------
    AudioError
        No bout has two beats.
    """
    bouts = [bout for bout in score.alignment.bouts if len(bout.beats) >= 2]
    if not bouts:
        raise AudioError("too few footfalls were heard to play them back: record again, nearer to the feet")
    bout = max(bouts, key=lambda one: len(one.beats))
    learner = _learner(score, bout)
    tempo = own_tempo_bpm(learner) if tempo_bpm is None else tempo_bpm
    target = landings_of(score.alignment.pattern, min(len(bout.beats), MOST_BEATS), tempo)
    return replay_track(learner, target, tone_set(tones or tone_set_names()[0]))


def _learner(score: Score, bout: Bout) -> tuple[Landing, ...]:
    """The footfalls of the first beats of a bout, those without a place among them."""
    alignment, first = score.alignment, bout.beats[0].number
    landings = []
    for footfall, place in zip(alignment.footfalls, alignment.places, strict=True):
        if not bout.start_s <= footfall.time_s <= bout.end_s:
            continue
        if place is None:
            landings.append(Landing(footfall.time_s, None))
        elif place[0] - first < MOST_BEATS:
            beat = alignment.pattern.beats[bout.beats[place[0] - first].index]
            role = Role.SHORT if place[1] else (Role.LONG if beat.uneven else Role.WHOLE)
            landings.append(Landing(footfall.time_s, role))
    while landings and landings[-1].role is None:
        landings.pop()
    return tuple(landings)
