"""A live bout into the records: asked before the microphone opens, stored as numbers only."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from cuekit.bouts.live_verdict import Verdict
from cuekit.cli.record_options import now, open_store
from cuekit.cues.loudness import QUIET_LUFS, SOFTEST_LUFS
from cuekit.cues.tones import tone_set_names
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import CueLevel, Schedule
from cuekit.records.bout_record import BoutRecord, Conditions, CueKind, Mode
from cuekit.records.keeping import RULES, heard_bouts
from cuekit.records.learner import Learner
from cuekit.records.lessons import Lesson
from cuekit.teaching.cautions import cautions_for
from cuekit.telling.phrases import Phrases


def learner_to_record(code: str, folder: Path | None) -> Learner:
    """The learner, where recording is allowed; else the microphone stays shut.

    Raises:
        RecordError: so it is, or the records cannot be read.
    """
    with open_store(folder) as store:
        learner = store.learner(code).noun
        if not learner.recording_allowed:
            raise RecordError(
                f"{code} is not to be recorded, so the microphone was not opened: use cuekit count"
            )
        return learner


def capped_lufs(loudness_lufs: float, learner: Learner | None) -> float:
    """The loudness asked for, or the learner's ceiling where that is lower; nothing here raises it."""
    if learner is None or learner.ceiling_db is None:
        return loudness_lufs
    return max(SOFTEST_LUFS, min(loudness_lufs, QUIET_LUFS + learner.ceiling_db))


def tones_of(asked: str | None, learner: Learner | None) -> str:
    """The tone set asked for, else the one the learner chose, else the usual one."""
    return asked or (learner.cue_set if learner else "") or tone_set_names()[0]


def lesson_cautions(
    pattern: Pattern, phrases: Phrases, learner: Learner | None, folder: Path | None
) -> tuple[str, ...]:
    """What is shown before a bout: the teacher's note each time, what to mind only before the first.

    A lesson is the one that `cuekit lesson` has running; where none is, it is the day.
    """
    cautions = cautions_for(pattern, phrases, note=learner.restrictions if learner else "")
    if learner is not None and _begun(learner.code, folder):
        return cautions.note
    return (*cautions.note, *cautions.before, *cautions.during)


def conditions_of(pattern: Pattern, schedule: Schedule | None, mode: Mode) -> Conditions:
    """Under which a live bout was done; `schedule` is of its cue, None where there was none."""
    level = schedule.plan.level if schedule else CueLevel.C0
    kind = None if level is CueLevel.C0 else CueKind.SOUND
    asked_bpm = schedule.plan.tempo_bpm if schedule else None
    return Conditions(pattern.name, level, mode=mode, cue_kind=kind, tempo_asked_bpm=asked_bpm)


def store_live(
    verdict: Verdict, code: str, folder: Path | None, conditions: Conditions, note: str = ""
) -> str:
    """Store what was heard; each part by itself where sound was lost in between. What became of it."""
    score = verdict.score
    parts = heard_bouts(score)
    began = now() - timedelta(seconds=score.recording.duration_s)
    numbers = []
    with open_store(folder) as store:
        for one in parts:
            kept = verdict.kept if len(parts) == 1 else None
            heard = one.numbers if kept is None else replace(one.numbers, kept_beats=kept)
            moment = began + timedelta(seconds=one.start_s)
            bout = BoutRecord(code, moment, conditions, heard, note=note, rules=RULES)
            numbers.append(store.add(bout, contract=one.contract).number)
    return f"Stored as bout {', '.join(map(str, numbers))} of {code}."


def _begun(code: str, folder: Path | None) -> bool:
    """Whether a bout of this lesson is stored already."""
    with open_store(folder) as store:
        running = [one.noun.start for one in store.entries(Lesson, code) if one.noun.minutes is None]
        last = [kept.stored.at for kept in store.bouts(code)][-1:]
    since = running[-1] if running else now().replace(hour=0, minute=0, second=0, microsecond=0)
    return bool(last) and last[0] >= since
