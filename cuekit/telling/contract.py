"""The output contract of `cuekit score --json`: a score as one JSON object, strict, no NaN."""

from __future__ import annotations

import json
import math
from typing import Any

from cuekit.hearing.events import Recording
from cuekit.rhythm.alignment import Missed, Pause
from cuekit.rhythm.asynchrony import Asynchrony
from cuekit.rhythm.measures import LongShare, Measures
from cuekit.telling.advice import SpokenFault
from cuekit.telling.phrases import Phrases
from cuekit.telling.recording_told import recording_told
from cuekit.telling.scoring import Score

SCHEMA = 1


def as_json(score: Score, *, asynchrony: Asynchrony | None = None, kept_beats: int | None = None) -> str:
    """The contract as one line of JSON text.

    Parameters
    ----------
    score : of a recording.
    asynchrony : against the cue, where it is known when each cue was heard; null in a file without.
    kept_beats : kept after the cue stopped; null where none did.
    """
    cued = {"asynchrony": _asynchrony(asynchrony), "kept_beats": kept_beats}
    return json.dumps(_score(score) | cued, allow_nan=False, ensure_ascii=False)


def _asynchrony(found: Asynchrony | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "count": found.count,
        "median_s": round(found.median_s, 4),
        "spread_s": round(found.spread_s, 4),
        "resultant_length": round(found.resultant_length, 3),
    }


def _score(score: Score) -> dict[str, Any]:
    advice = score.advice
    return {
        "schema": SCHEMA,
        "pattern": score.alignment.pattern.name,
        "recording": _recording(score.recording, score.hearing.noise_db, score.phrases),
        "heard": score.hearing.heard.value,
        "heard_doubt": str(score.hearing.reason),
        "heard_reason": advice.heard_reason,
        "footfalls": [
            {
                "time_s": round(footfall.time_s, 4),
                "level_db": _rounded(footfall.level_db, 1),
                "confidence": round(footfall.confidence, 3),
                "spread_s": round(footfall.spread_s, 4),
                "beat": place[0] if place else None,
                "place": place[1] if place else None,
            }
            for footfall, place in zip(score.alignment.footfalls, score.alignment.places, strict=True)
        ],
        "bouts": [
            {"start_s": round(bout.start_s, 3), "end_s": round(bout.end_s, 3), **_measures(measures)}
            for bout, measures in zip(score.alignment.bouts, score.bouts, strict=True)
        ],
        **_measures(score.measures),
        "fault": _fault(advice.fault),
        "other_faults": [_fault(fault) for fault in advice.other_faults],
        "summary": advice.summary,
        "cannot_tell": list(advice.cannot_tell),
        "next": [{"say": step} for step in advice.next_steps],
    }


def _recording(recording: Recording, noise_db: float, phrases: Phrases) -> dict[str, Any]:
    return {
        "file": recording.name,
        "duration_s": round(recording.duration_s, 3),
        "sample_rate_hz": recording.file_rate_hz,
        "channels": recording.channels,
        "noise_db": _rounded(noise_db, 1),
        "clipped_percent": round(recording.clipped_percent, 2),
        "warnings": recording_told(recording, phrases),
    }


def _measures(measures: Measures) -> dict[str, Any]:
    return {
        "beats": measures.beats,
        "complete_beats": measures.complete_beats,
        "judged_beats": measures.judged_beats,
        "beats_on_pattern": measures.beats_on_pattern,
        "longest_run": measures.longest_run,
        "tempo_bpm": _rounded(measures.tempo_bpm, 1),
        "tempo_drift_percent": _rounded(measures.tempo_drift_percent, 1),
        "long_share": _long_share(measures.long_share),
        "long_short_ratio": _rounded(measures.long_share.ratio, 2) if measures.long_share else None,
        "rhythm": measures.rhythm.value,
        "spread_percent": _rounded(measures.spread_percent, 1),
        "missed": [_missed(missed) for missed in measures.missed],
        "extra": [{"time_s": round(time_s, 4)} for time_s in measures.extra_s],
        "pauses": [_pause(pause) for pause in measures.pauses],
    }


def _long_share(share: LongShare | None) -> dict[str, float] | None:
    if share is None:
        return None
    return {"value": round(share.value, 4), "low": round(share.low, 4), "high": round(share.high, 4)}


def _missed(missed: Missed) -> dict[str, Any]:
    return {"time_s": round(missed.time_s, 3), "beat": missed.beat, "place": missed.place}


def _pause(pause: Pause) -> dict[str, float]:
    return {"start_s": round(pause.start_s, 3), "end_s": round(pause.end_s, 3)}


def _fault(fault: SpokenFault | None) -> dict[str, str] | None:
    if fault is None:
        return None
    return {"id": fault.id, "heard": fault.heard, "may_also_be": fault.may_also_be, "ask": fault.ask}


def _rounded(value: float | None, digits: int) -> float | None:
    """The number as told; null where it does not exist, as the level of digital silence."""
    return None if value is None or not math.isfinite(value) else round(value, digits)
