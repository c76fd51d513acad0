"""A live bout into the records: asked before the microphone opens, stored as numbers only."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from cuekit.bouts.live_verdict import Verdict
from cuekit.cli.record_options import now, open_store
from cuekit.cues.loudness import QUIET_LUFS, SOFTEST_LUFS
from cuekit.errors import RecordError
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import BoutRecord, Conditions, CueKind
from cuekit.records.keeping import RULES, heard_bouts
from cuekit.records.learner import Learner


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


def store_live(
    verdict: Verdict, code: str, folder: Path | None, level: CueLevel, tempo_bpm: float | None
) -> str:
    """Store what was heard; each part by itself where sound was lost in between. What became of it."""
    score = verdict.score
    kind = None if level is CueLevel.C0 else CueKind.SOUND
    conditions = Conditions(score.alignment.pattern.name, level, cue_kind=kind, tempo_asked_bpm=tempo_bpm)
    parts = heard_bouts(score)
    began = now() - timedelta(seconds=score.recording.duration_s)
    numbers = []
    with open_store(folder) as store:
        for one in parts:
            kept = verdict.kept if len(parts) == 1 else None
            heard = one.numbers if kept is None else replace(one.numbers, kept_beats=kept)
            moment = began + timedelta(seconds=one.start_s)
            bout = BoutRecord(code, moment, conditions, heard, rules=RULES)
            numbers.append(store.add(bout, contract=one.contract).number)
    return f"Stored as bout {', '.join(map(str, numbers))} of {code}."
