"""A bout as it is kept: under which conditions, what was heard, what the eye saw, and what was changed since.

None means "not entered" (or "not measured") everywhere here, and is never shown as anything else.
Nothing is overwritten: a correction or a void is an `Amendment` beside the bout, and `KeptBout`
lays them over it in order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from cuekit.errors import RecordError
from cuekit.events import Heard
from cuekit.learner import LONGEST_TEXT
from cuekit.pattern import Side
from cuekit.schedule import CueLevel


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


@dataclass(frozen=True)
class Amendment:
    """One change to a stored bout; an empty `field` voids it.

    Attributes:
        bout: identity of the bout.
        at: when it was changed.
        field: what was changed, a key of `AMENDABLE`; empty for a void.
        old, new: as text, for the history.
        reason: why, in the teacher's words.
    """

    bout: str
    at: datetime
    field: str
    old: str
    new: str
    reason: str

    def __post_init__(self) -> None:
        if self.field and self.field not in AMENDABLE:
            known = ", ".join(AMENDABLE)
            raise RecordError(f'"{self.field[:40]}" cannot be corrected: choose one of {known}')
        if not self.reason.strip():
            raise RecordError("a correction or a void needs a reason, in a few words")
        if len(self.reason) > LONGEST_TEXT:
            raise RecordError(f"a reason may have {LONGEST_TEXT} characters, got {len(self.reason)}")


@dataclass(frozen=True)
class KeptBout:
    """A bout and its history.

    Attributes:
        id: identity, the same on every laptop.
        number: running number in this file, by which the teacher names it.
        stored: as it was first stored.
        amendments: in the order they were made.
    """

    id: str
    number: int
    stored: BoutRecord
    amendments: tuple[Amendment, ...] = ()

    @property
    def now(self) -> BoutRecord:
        """The bout with all corrections laid over it."""
        bout = self.stored
        for amendment in self.amendments:
            if amendment.field:
                bout = AMENDABLE[amendment.field].put(bout, amendment.new)
        return bout

    @property
    def corrections(self) -> int:
        """How many corrections were made."""
        return sum(bool(amendment.field) for amendment in self.amendments)

    @property
    def void_reason(self) -> str | None:
        """Why it was voided; None where it counts."""
        reasons = [amendment.reason for amendment in self.amendments if not amendment.field]
        return reasons[-1] if reasons else None


@dataclass(frozen=True)
class Amendable:
    """One thing of a bout that may be corrected: where it lies and how its text is read."""

    part: str
    attribute: str
    read: Callable[[str], Any]

    def get(self, bout: BoutRecord) -> str:
        """Its present value as text; empty where not entered."""
        holder = getattr(bout, self.part) if self.part else bout
        value = getattr(holder, self.attribute)
        if isinstance(value, bool):
            return _YES_NO[value]
        return "" if value is None else str(value)

    def put(self, bout: BoutRecord, text: str) -> BoutRecord:
        """The bout with the value of `text`; an empty text takes the entry away.

        Raises:
            RecordError: the text is no such value.
        """
        try:
            value = self.read(text) if text else None
        except ValueError:
            name = self.attribute.replace("_", " ")
            raise RecordError(f"{name} cannot be {text[:40]!r}{_choices(self.read)}") from None
        if not self.part:
            return replace(bout, **{self.attribute: value})
        return replace(bout, **{self.part: replace(getattr(bout, self.part), **{self.attribute: value})})


_YES_NO = {True: "yes", False: "no"}


def _yes_no(text: str) -> bool:
    if text not in ("yes", "no"):
        raise ValueError(text)
    return text == "yes"


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        raise ValueError(text)
    return int(text)


def _choices(read: Callable[[str], Any]) -> str:
    if isinstance(read, type) and issubclass(read, StrEnum):
        return f": choose one of {', '.join(read)}"
    return ": enter yes or no" if read is _yes_no else ": enter a whole number of 0 or more"


AMENDABLE = {
    **{name.replace("_", "-"): Amendable("numbers", name, _count) for name in COUNTS},
    "heard": Amendable("numbers", "heard", Heard),
    "rhythm": Amendable("numbers", "rhythm", str),
    "lead": Amendable("eye", "lead", Side),
    "skill": Amendable("eye", "skill", Seen),
    "feet": Amendable("eye", "feet", Feet),
    "flight": Amendable("eye", "flight", Seen),
    "others": Amendable("eye", "others", _yes_no),
    "cue-level": Amendable("conditions", "cue_level", CueLevel),
    "help-level": Amendable("conditions", "help_level", HelpLevel),
    "mode": Amendable("conditions", "mode", Mode),
    "met": Amendable("", "met_by_teacher", _yes_no),
}
"""What may be corrected, by the word the teacher uses."""
