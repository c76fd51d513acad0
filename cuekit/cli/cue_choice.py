"""Which sounds a schedule is given, by what was asked for on the command line."""

from __future__ import annotations

from pathlib import Path

from cuekit.cues.cueing import ChosenCues, choose_cues, choose_glide
from cuekit.cues.tones import tone_set
from cuekit.cues.voice import Voice
from cuekit.cues.words import joined, load_own_voice, load_voice
from cuekit.patterns.schedule import Schedule


def cues_of(schedule: Schedule, sound: str, glide: bool, folder: Path | None, language: str) -> ChosenCues:
    """The sounds asked for; a voice is loaded only where words are to be said."""
    tones = tone_set(sound)
    if glide:
        return choose_glide(schedule, tones)
    if not any(cue.spoken for cue in schedule.cues):
        return choose_cues(schedule, tones)
    return choose_cues(schedule, tones, _voice(schedule, folder, language))


def _voice(schedule: Schedule, folder: Path | None, language: str) -> Voice:
    """The teacher's own words first, the shipped ones for the rest."""
    said = {cue.word for cue in schedule.cues if cue.spoken and cue.word}
    if folder is None:
        return load_voice(language, only=said)
    own = load_own_voice(folder)
    return joined(own, load_voice(language, only=said - set(own.texts)))
