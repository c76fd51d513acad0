"""The learner's own rhythm as clean tones, then the target's: "yours, then this one".

What was heard in the gym (echo, other children, a quiet foot) is left out; only the times stay, so
that a child hears the rhythm and nothing else. The target follows at the learner's own tempo
unless another is asked for, so that the two differ in rhythm alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from cuekit.cues.loudness import QUIET_LUFS
from cuekit.cues.render import CueTrack, place_sounds, render
from cuekit.cues.sounds import Sound
from cuekit.cues.tones import ToneSet
from cuekit.errors import AudioError
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import CueLevel, Plan, Role, make_schedule

PAUSE_S = 1.5
"""From the learner's last footfall to the target's first, s: long enough not to be heard as a beat."""


@dataclass(frozen=True)
class Landing:
    """One footfall to be heard.

    Attributes:
        time_s: when, s; where the count starts does not matter.
        role: long, short or whole by its place in the beat; None for an extra one, which has no place.
    """

    time_s: float
    role: Role | None


def landings_of(pattern: Pattern, beats: int, tempo_bpm: float) -> tuple[Landing, ...]:
    """The target: so many beats of a pattern at a tempo.

    Raises
    ------
    PatternError
        Nobody can follow this tempo.
    """
    schedule = make_schedule(pattern, Plan(tempo_bpm, beats, CueLevel.C4, count_in=0))
    return tuple(Landing(cue.time_s, cue.role) for cue in schedule.footfalls)


def own_tempo_bpm(learner: Sequence[Landing]) -> float:
    """The learner's tempo, beats/min: by the middle one of the times between beat-starting footfalls.

    Raises
    ------
    AudioError
        Fewer than two beats were heard.
    """
    starts_s = [one.time_s for one in learner if one.role in (Role.LONG, Role.WHOLE)]
    if len(starts_s) < 2:
        raise AudioError(
            f"too few beats to know the tempo: at least 2 are needed, heard {len(starts_s)}; choose a tempo"
        )
    return 60.0 / median(float(gap_s) for gap_s in np.diff(starts_s))


def replay_track(
    learner: Sequence[Landing],
    target: Sequence[Landing],
    tones: ToneSet,
    *,
    pause_s: float = PAUSE_S,
    loudness_lufs: float = QUIET_LUFS,
) -> CueTrack:
    """Lay out the learner's footfalls and, after a pause, the target's.

    Long, short and whole footfalls get their tones. An extra one gets the tone of the count, which is
    neither: it is heard, as it was made, and it stands out.

    Parameters
    ----------
    learner, target : footfalls in order of time
    tones : the child's tone set
    pause_s : from the learner's last footfall to the target's first
    loudness_lufs : integrated loudness, LUFS

    Raises
    ------
    AudioError
        One of the two is empty, or the loudness is out of range.
    """
    for name, landings in (("learner", learner), ("target", target)):
        if not landings:
            raise AudioError(f"there is nothing to replay: the {name} has no footfalls")
    ends_s = learner[-1].time_s - learner[0].time_s
    sounds = _from(0.0, learner, tones) + _from(ends_s + pause_s, target, tones)
    return place_sounds(sounds, loudness_lufs=loudness_lufs)


def replay(
    learner: Sequence[Landing],
    target: Sequence[Landing],
    tones: ToneSet,
    *,
    pause_s: float = PAUSE_S,
    loudness_lufs: float = QUIET_LUFS,
) -> np.ndarray:
    """The samples of `replay_track`, mono float32."""
    return render(replay_track(learner, target, tones, pause_s=pause_s, loudness_lufs=loudness_lufs))


def _from(start_s: float, landings: Sequence[Landing], tones: ToneSet) -> list[tuple[float, Sound]]:
    """The sounds of some footfalls, the first of them at `start_s`."""
    begin_s = landings[0].time_s
    return [(start_s + one.time_s - begin_s, tones.of_role(one.role or Role.COUNT).plain) for one in landings]
