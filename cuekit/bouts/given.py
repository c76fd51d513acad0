"""The cue of a bout as it will be given: in time, and as it sounds for this learner."""

from __future__ import annotations

from dataclasses import dataclass

from cuekit.cues.cue_sound import USUAL_TONES, CueSound, laid_out
from cuekit.cues.loudness import QUIET_LUFS, SOFTEST_LUFS
from cuekit.cues.render import CueTrack
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import Plan, Schedule, make_schedule
from cuekit.records.learner import Learner


@dataclass(frozen=True, eq=False)
class Given:
    """The cue of a bout, as it was played.

    Attributes:
        schedule: what was asked.
        track: what sounded.
    """

    schedule: Schedule
    track: CueTrack


def sound_of(
    learner: Learner | None,
    *,
    tones: str | None = None,
    loudness_lufs: float = QUIET_LUFS,
    language: str | None = None,
) -> CueSound:
    """How the cue sounds for a learner: what is asked for, else their own, else the usual.

    Parameters
    ----------
    learner : whose cue it is; None for nobody's
    tones : name of a tone set; None for the learner's own
    loudness_lufs : asked for, LUFS; the learner's ceiling holds in any case
    language : of the words; None for the learner's own
    """
    own_tones, own_language = (learner.cue_set, learner.language) if learner else ("", "")
    return CueSound(
        tones or own_tones or USUAL_TONES,
        capped_lufs(loudness_lufs, learner),
        language or own_language or "en",
    )


def capped_lufs(loudness_lufs: float, learner: Learner | None) -> float:
    """The loudness asked for, or the learner's ceiling where that is lower; nothing here raises it."""
    if learner is None or learner.ceiling_db is None:
        return loudness_lufs
    return max(SOFTEST_LUFS, min(loudness_lufs, QUIET_LUFS + learner.ceiling_db))


def given_of(pattern: Pattern, plan: Plan, sound: CueSound) -> Given:
    """The cue of a bout: laid out in time, and as it will sound.

    Raises:
        PatternError: nobody can follow it, or there is no voice in this language.
        AudioError: no tone set has this name, or the loudness is out of range.
    """
    schedule = make_schedule(pattern, plan)
    return Given(schedule, laid_out(schedule, sound))
