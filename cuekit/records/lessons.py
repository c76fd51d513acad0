"""Lessons for the record of service minutes: start, stop, place, group, what was missed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from cuekit.errors import RecordError
from cuekit.records.learner import LONGEST_TEXT

LONGEST_MIN = 24 * 60


@dataclass(frozen=True)
class Lesson:
    """One lesson of one learner; edited by a newer version of itself.

    Attributes:
        learner: the code.
        start: with its offset from UTC.
        minutes: service given; None while it runs.
        place: free text.
        group: how many learners were taught together.
        missed: why no lesson was given; empty where it was.
        owed_min: minutes to be made up.
        equipment: free text, such as "tape line, ribbon".
    """

    learner: str
    start: datetime
    minutes: int | None = None
    place: str = ""
    group: int = 1
    missed: str = ""
    owed_min: int = 0
    equipment: str = ""

    def __post_init__(self) -> None:
        if self.start.tzinfo is None:
            raise RecordError("the start of a lesson needs its offset from UTC")
        if self.minutes is not None and not 0 <= self.minutes <= LONGEST_MIN:
            raise RecordError(f"a lesson has 0 to {LONGEST_MIN} minutes, got {self.minutes}")
        if not 1 <= self.group <= 40 or not 0 <= self.owed_min <= LONGEST_MIN:
            raise RecordError(f"a group has 1 to 40 learners and owes 0 to {LONGEST_MIN} minutes")
        if max(len(self.place), len(self.missed), len(self.equipment)) > LONGEST_TEXT:
            raise RecordError(f"a place, equipment or reason may have {LONGEST_TEXT} characters")

    def stopped_at(self, stop: datetime) -> int:
        """Whole minutes from the start, half minutes up.

        Raises:
            RecordError: it would be before the start or a day long.
        """
        minutes = int((stop - self.start).total_seconds() / 60.0 + 0.5)
        if stop < self.start or minutes > LONGEST_MIN:
            raise RecordError(
                f"the lesson began at {self.start:%Y-%m-%d %H:%M}: give its minutes with --minutes"
            )
        return minutes


def month_minutes(lessons: Sequence[Lesson], year: int, month: int) -> int:
    """Minutes given in a month, of lessons that have ended."""
    return sum(one.minutes or 0 for one in lessons if (one.start.year, one.start.month) == (year, month))


def month_owed(lessons: Sequence[Lesson], year: int, month: int) -> int:
    """Minutes to be made up, of a month."""
    return sum(one.owed_min for one in lessons if (one.start.year, one.start.month) == (year, month))
