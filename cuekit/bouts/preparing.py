"""Before a live bout: may the microphone open, what is to be minded, under which conditions it is stored."""

from __future__ import annotations

from datetime import datetime

from cuekit.bouts.live import Course
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import CueLevel, Schedule
from cuekit.records.bout_record import Conditions, CueKind, Mode
from cuekit.records.learner import Learner
from cuekit.records.lessons import Lesson
from cuekit.records.store import Store
from cuekit.teaching.cautions import cautions_for
from cuekit.telling.phrases import Phrases

FREE_COURSE = Course(longest_s=30.0)
"""How a bout without a cue runs that is to show a learner's own tempo."""


def learner_to_record(store: Store, code: str) -> Learner:
    """The learner, where recording is allowed; else the microphone stays shut.

    Raises:
        RecordError: so it is, or the records cannot be read.
    """
    learner = store.learner(code).noun
    if not learner.recording_allowed:
        raise RecordError(
            f"{code} is not to be recorded, so the microphone was not opened: use cuekit count"
        )
    return learner


def conditions_of(
    pattern: Pattern, schedule: Schedule | None, mode: Mode, kind: CueKind = CueKind.SOUND, step: str = ""
) -> Conditions:
    """Under which a live bout was done.

    Parameters
    ----------
    pattern, mode : what was done, and with what
    schedule : of its cue; None where there was none
    kind : how the cue reached the learner
    step : of the teacher's ladder; empty for none
    """
    level = schedule.plan.level if schedule else CueLevel.C0
    asked_bpm = schedule.plan.tempo_bpm if schedule else None
    came = None if level is CueLevel.C0 else kind
    return Conditions(pattern.name, level, mode=mode, cue_kind=came, step=step, tempo_asked_bpm=asked_bpm)


def lesson_cautions(
    pattern: Pattern, phrases: Phrases, learner: Learner | None, store: Store | None, now: datetime
) -> tuple[str, ...]:
    """What is shown before a bout: the teacher's note each time, what to mind only before the first.

    A lesson is the one that is running in the records; where none is, it is the day.
    """
    cautions = cautions_for(pattern, phrases, note=learner.restrictions if learner else "")
    if learner is not None and store is not None and _begun(learner.code, store, now):
        return cautions.note
    return (*cautions.note, *cautions.before, *cautions.during)


def _begun(code: str, store: Store, now: datetime) -> bool:
    """Whether a bout of this lesson is stored already."""
    running = [one.noun.start for one in store.entries(Lesson, code) if one.noun.minutes is None]
    last = [kept.stored.at for kept in store.bouts(code)][-1:]
    since = running[-1] if running else now.replace(hour=0, minute=0, second=0, microsecond=0)
    return bool(last) and last[0] >= since
