"""What a teacher decides on a ladder, as it is kept: a step chosen, a stop sign seen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from cuekit.errors import RecordError
from cuekit.records.learner import LONGEST_TEXT


@dataclass(frozen=True)
class StepChoice:
    """The teacher's own choice of a step; it stands over the program's proposal.

    Attributes:
        learner: the code.
        at: when, with its offset from UTC.
        step: key of the step.
        proposed: key of the step that the program proposed; empty where it was not asked.
        reason: why, in the teacher's words; may be empty.
    """

    learner: str
    at: datetime
    step: str
    proposed: str = ""
    reason: str = ""

    def __post_init__(self) -> None:
        _check(self.at, self.reason, "a reason")

    @property
    def day(self) -> date:
        """The day of the choice."""
        return self.at.date()


@dataclass(frozen=True)
class StopSeen:
    """A sign to stop that was seen, in the teacher's words."""

    learner: str
    at: datetime
    sign: str

    def __post_init__(self) -> None:
        _check(self.at, self.sign, "a stop sign")
        if not self.sign.strip():
            raise RecordError('say which stop sign was seen, such as "pain"')

    @property
    def day(self) -> date:
        """The day it was seen."""
        return self.at.date()


def _check(at: datetime, text: str, name: str) -> None:
    if at.tzinfo is None:
        raise RecordError(f"the time of {name} needs its offset from UTC")
    if len(text) > LONGEST_TEXT:
        raise RecordError(f"{name} may have {LONGEST_TEXT} characters, got {len(text)}")
