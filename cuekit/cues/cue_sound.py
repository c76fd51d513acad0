"""How the cue of a bout sounds, by what was chosen for it: tones, words, a glide, how loud."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cuekit.cues.cueing import ChosenCues, choose_cues, choose_glide
from cuekit.cues.loudness import QUIET_LUFS
from cuekit.cues.render import CueTrack, lay_out
from cuekit.cues.tones import tone_set, tone_set_names
from cuekit.cues.voice import Voice
from cuekit.cues.words import joined, load_own_voice, load_voice
from cuekit.patterns.schedule import Schedule

USUAL_TONES = tone_set_names()[0]


@dataclass(frozen=True)
class CueSound:
    """What was chosen.

    Attributes:
        tones: name of the tone set.
        loudness_lufs: of the full cue, LUFS.
        language: of its words.
        glide: whether one gliding sound takes the place of single ones.
        own_voice: folder of words in the teacher's own voice; None for the shipped ones.
    """

    tones: str = USUAL_TONES
    loudness_lufs: float = QUIET_LUFS
    language: str = "en"
    glide: bool = False
    own_voice: Path | None = None


def chosen_cues(schedule: Schedule, sound: CueSound) -> ChosenCues:
    """The sounds of a schedule; a voice is loaded only where words are to be said.

    Raises:
        AudioError: no tone set has this name, or a word cannot be read.
        PatternError: there is no voice in this language.
    """
    tones = tone_set(sound.tones)
    if sound.glide:
        return choose_glide(schedule, tones)
    if not any(cue.spoken for cue in schedule.cues):
        return choose_cues(schedule, tones)
    return choose_cues(schedule, tones, _voice(schedule, sound))


def laid_out(schedule: Schedule, sound: CueSound) -> CueTrack:
    """The cue of a schedule, ready to be played; raises as `chosen_cues` and `lay_out`."""
    return lay_out(schedule, chosen_cues(schedule, sound), loudness_lufs=sound.loudness_lufs)


def _voice(schedule: Schedule, sound: CueSound) -> Voice:
    """The teacher's own words first, the shipped ones for the rest."""
    said = {cue.word for cue in schedule.cues if cue.spoken and cue.word}
    if sound.own_voice is None:
        return load_voice(sound.language, only=said)
    own = load_own_voice(sound.own_voice)
    return joined(own, load_voice(sound.language, only=said - set(own.texts)))
