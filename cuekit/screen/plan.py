"""What is to be done next: the pattern, its tempo and length, how much is heard, what shows the beat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from cuekit.cues.tones import tone_set_names
from cuekit.errors import PatternError
from cuekit.patterns.pattern import Pattern, Side
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan
from cuekit.records.bout_record import HelpLevel, Mode
from cuekit.records.learner import Learner
from cuekit.teaching import ladder
from cuekit.teaching.ladder import LadderStep, beats_to_play

FEWEST_BEATS, USUAL_BEATS, MOST_BEATS = 4, 12, 60
BEATS_TO_SPARE = 2
"""Beats beyond those a step asks for, as a first beat often misses."""

_MODES = {
    ladder.Mode.CLAP: Mode.CLAP,
    ladder.Mode.TAP: Mode.TAP,
    ladder.Mode.STEP: Mode.STEP,
    ladder.Mode.MOVE: Mode.FEET,
    ladder.Mode.PUSH: Mode.PUSH,
}
"""What makes the rhythm, by the word of a ladder; what is only said is not heard by the feet's ear."""


class Marker(StrEnum):
    """What shows the beat to the eye."""

    PATH = "path"
    BIG = "big"
    NONE = "none"


@dataclass(frozen=True)
class Planned:
    """A bout to come.

    Attributes:
        pattern: in the language of the page, with its side.
        step: of the ladder; None where a pattern was chosen without one.
        tempo_bpm: beats/min.
        beats: of the bout.
        level: how much is heard of the cue.
        full: the cue falls silent after so many beats; 0 where it lasts.
        tones: name of the tone set.
        mode: what makes the rhythm.
        marker: what shows the beat.
        sounds: whether anything sounds; else the marker alone is the cue.
        help_level: the help that is to be given; None where it was not said.
    """

    pattern: Pattern
    step: LadderStep | None
    tempo_bpm: float
    beats: int
    level: CueLevel
    full: int
    tones: str
    mode: Mode
    marker: Marker = Marker.PATH
    sounds: bool = True
    help_level: HelpLevel | None = None

    @property
    def plan(self) -> Plan:
        """As a schedule is asked for."""
        level = self.level if self.level is not CueLevel.C0 else CueLevel.C1
        return Plan(self.tempo_bpm, self.beats, level, Fade(full=self.full or None))

    @property
    def step_key(self) -> str:
        """Of the ladder's step, for the records; empty without one."""
        return self.step.key if self.step else ""


def planned_step(step: LadderStep, learner: Learner, language: str, folders: Sequence[Path] = ()) -> Planned:
    """The bout that a step of a ladder asks for.

    Args:
        step: see there.
        learner: whose bout it is.
        language: of the page.
        folders: of the teacher's own patterns.
    """
    pattern = learner.accepting(load_pattern(step.pattern, language=language, folders=folders))
    own_bpm = learner.tempo_bpm(pattern.name) or pattern.tempo.default
    tempo_bpm = own_bpm * (1.0 + step.tempo_change_percent / 100.0)
    asked = beats_to_play(step, pattern) + BEATS_TO_SPARE + (step.sound_beats or 0)
    heard = [_MODES[mode] for mode in step.modes if mode in _MODES]
    return Planned(
        pattern,
        step,
        float(round(_between(tempo_bpm, pattern))),
        max(asked, USUAL_BEATS if step.sound_beats is None else FEWEST_BEATS),
        step.level,
        step.sound_beats or 0,
        learner.cue_set or tone_set_names()[0],
        heard[0] if heard else Mode.FEET,
    )


def planned_pattern(
    name: str, learner: Learner | None, language: str, folders: Sequence[Path] = ()
) -> Planned:
    """A bout of a pattern, of no step; `learner` is None where nothing is stored."""
    pattern = load_pattern(name, language=language, folders=folders)
    pattern = learner.accepting(pattern) if learner else pattern
    own_bpm = learner.tempo_bpm(name) if learner else None
    tempo_bpm = float(round(_between(own_bpm or pattern.tempo.default, pattern)))
    tones = (learner.cue_set if learner else "") or tone_set_names()[0]
    return Planned(pattern, None, tempo_bpm, USUAL_BEATS, CueLevel.C4, 0, tones, Mode.FEET)


def changed(planned: Planned, name: str, value: str) -> Planned:
    """The bout with one thing set, as the page sends it.

    Raises:
        PatternError: there is no such thing, or it cannot have that value.
    """
    try:
        match name:
            case "tempo_bpm":
                return replace(planned, tempo_bpm=_number(value, 20.0, 300.0))
            case "beats":
                return replace(planned, beats=round(_number(value, FEWEST_BEATS, MOST_BEATS)))
            case "full":
                return replace(planned, full=round(_number(value, 0, MOST_BEATS)))
            case "level":
                return replace(planned, level=CueLevel(value))
            case "tones":
                return replace(planned, tones=_one_of(value, tone_set_names()))
            case "mode":
                return replace(planned, mode=Mode(value))
            case "marker":
                return replace(planned, marker=Marker(value))
            case "sounds":
                return replace(planned, sounds=_one_of(value, ("true", "false")) == "true")
            case "side":
                return replace(planned, pattern=planned.pattern.with_side(Side(value)))
            case "help":
                return replace(planned, help_level=HelpLevel(value) if value else None)
    except ValueError:
        raise PatternError(f'{name} cannot be "{value[:40]}": choose another') from None
    raise PatternError(f'nothing here is called "{name[:40]}"')


def in_language(planned: Planned, language: str, folders: Sequence[Path] = ()) -> Planned:
    """The same bout with its words in another language."""
    pattern = load_pattern(planned.pattern.name, language=language, folders=folders)
    pattern = replace(pattern.with_side(planned.pattern.side), accepted=planned.pattern.accepted)
    return replace(planned, pattern=pattern)


def _between(tempo_bpm: float, pattern: Pattern) -> float:
    """Within what the pattern is taught at."""
    return min(max(tempo_bpm, pattern.tempo.low), pattern.tempo.high)


def _number(text: str, low: float, high: float) -> float:
    number = float(text) if len(text) < 12 else math.nan
    if not low <= number <= high:
        raise PatternError(f"that must be from {low:g} to {high:g}, got {text[:12]}")
    return number


def _one_of(value: str, known: Sequence[str]) -> str:
    if value not in known:
        raise ValueError(value)
    return value
