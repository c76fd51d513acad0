"""A bout as it is kept: under which conditions, what was heard, what the eye saw, and what was changed since.

None means "not entered" (or "not measured") everywhere here, and is never shown as anything else.
Nothing is overwritten: a correction or a void lies beside the bout (`cuekit.records.bout_history`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from cuekit.errors import RecordError
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.learner import LONGEST_TEXT


class HelpLevel(StrEnum):
    """How much help the learner was given; the sound cue has a level of its own."""

    I = "I"  # noqa: E741 - the trade's own code: independent
    V = "V"  # a word
    G = "G"  # a gesture or picture
    M = "M"  # a model
    PP = "PP"  # a hand that helps in part
    FP = "FP"  # a hand that helps all through


class Mode(StrEnum):
    """What makes the rhythm; each is a full result."""

    FEET = "feet"
    STEP = "step"  # in place
    CLAP = "clap"
    TAP = "tap"
    PUSH = "push"


class CueKind(StrEnum):
    """How the cue reached the learner."""

    SOUND = "sound"
    VISUAL = "visual"
    TOUCH = "touch"


class Source(StrEnum):
    """Who counted."""

    MICROPHONE = "microphone"
    COUNTED = "counted"  # by the teacher, when the microphone could not
    PAPER = "paper"  # from a paper sheet, typed in later


class Seen(StrEnum):
    """What the eye says to a question."""

    YES = "yes"
    NO = "no"
    NOT_SEEN = "not seen"


class Feet(StrEnum):
    """How the feet went, as the eye saw it."""

    TOOK_TURNS = "took turns"
    SAME_AHEAD = "same foot ahead"
    ONE_FOOT = "one foot"
    TWO_FEET = "two feet"


@dataclass(frozen=True)
class EyeMark:
    """What the teacher saw, which no microphone hears.

    Attributes:
        lead: the leading or hopping foot, or the direction.
        skill: whether it really was the skill.
        feet: how the feet went.
        flight: whether there was a moment in the air.
        others: whether other feet sounded in the bout, which then counts neither way.
    """

    lead: Side | None = None
    skill: Seen | None = None
    feet: Feet | None = None
    flight: Seen | None = None
    others: bool | None = None


@dataclass(frozen=True)
class Conditions:
    """Under which a bout was done; bouts are compared only where these agree.

    Attributes:
        pattern: name of the pattern.
        cue_level: how much there was to hear (or see or feel).
        help_level: help given.
        mode: what made the rhythm.
        cue_kind: how the cue came.
        step: the step of the teacher's ladder, free text.
        tempo_asked_bpm: tempo of the cue, beats/min; None where the learner chose it.
    """

    pattern: str
    cue_level: CueLevel | None = None
    help_level: HelpLevel | None = None
    mode: Mode = Mode.FEET
    cue_kind: CueKind | None = None
    step: str = ""
    tempo_asked_bpm: float | None = None


@dataclass(frozen=True)
class Numbers:
    """What was heard or counted; see the team's rhythm page for each measure.

    Attributes:
        heard: whether enough was heard to say anything.
        footfalls, beats, complete_beats, judged_beats, beats_on_pattern: counts.
        longest_run: most beats on the pattern in a row.
        kept_beats: beats kept after the cue stopped.
        tempo_bpm: measured, beats/min.
        long_share: median, 0-1.
        rhythm: "even", "nearly even", "uneven", "clipped", "unclear".
        spread_percent: steadiness of the beat, %.
        duration_s: of the recording, s.
    """

    heard: Heard = Heard.CLEAR
    footfalls: int | None = None
    beats: int | None = None
    complete_beats: int | None = None
    judged_beats: int | None = None
    beats_on_pattern: int | None = None
    longest_run: int | None = None
    kept_beats: int | None = None
    tempo_bpm: float | None = None
    long_share: float | None = None
    rhythm: str | None = None
    spread_percent: float | None = None
    duration_s: float | None = None

    def __post_init__(self) -> None:
        for name in COUNTS:
            value = getattr(self, name)
            if value is not None and value < 0:
                raise RecordError(f"{name.replace('_', ' ')} cannot be below 0, got {value}")


COUNTS = (
    "footfalls",
    "beats",
    "complete_beats",
    "judged_beats",
    "beats_on_pattern",
    "longest_run",
    "kept_beats",
)


@dataclass(frozen=True)
class BoutRecord:
    """One try, as stored.

    Attributes:
        learner: the code.
        at: when, with its offset from UTC.
        conditions, numbers, eye: see there.
        source: who counted.
        met_by_teacher: the teacher's own verdict, which stands over the program's.
        note: free text.
        rules: version of the rules that judged it.
    """

    learner: str
    at: datetime
    conditions: Conditions
    numbers: Numbers = Numbers()
    eye: EyeMark = EyeMark()
    source: Source = Source.MICROPHONE
    met_by_teacher: bool | None = None
    note: str = ""
    rules: str = ""

    def __post_init__(self) -> None:
        if self.at.tzinfo is None:
            raise RecordError("the time of a bout needs its offset from UTC")
        if len(self.note) > LONGEST_TEXT:
            raise RecordError(f"a note may have {LONGEST_TEXT} characters, got {len(self.note)}")

    @property
    def day(self) -> date:
        """The day it was done, where it was done."""
        return self.at.date()
