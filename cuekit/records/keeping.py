"""From a scored recording to the numbers that are kept; the sound itself never is."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import Any

from cuekit import __version__
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import USUAL, Pattern
from cuekit.records.bout_record import Numbers
from cuekit.rhythm.alignment import Bout
from cuekit.rhythm.asynchrony import Asynchrony
from cuekit.rhythm.measures import Measures
from cuekit.telling.advice import FEWEST_FOOTFALLS
from cuekit.telling.contract import SCHEMA, as_json
from cuekit.telling.scoring import Score

RULES = f"cuekit {__version__}, contract {SCHEMA}"
"""Version of the rules that judge a bout, kept with it."""


def rules_of(pattern: Pattern) -> str:
    """The rules that judged a bout of a pattern, with what was accepted for this learner alone."""
    one = pattern.accepted
    if one == USUAL:
        return RULES
    low, high = 100.0 * (1.0 - one.long_share_to), 100.0 * (1.0 - one.long_share_from)
    return f"{RULES}; accepted: short share {low:g}-{high:g} %, even beats {100 * one.beat_within:g} %"


_ROUNDED_S = 0.0001
"""Times in a contract are rounded to this, s."""


@dataclass(frozen=True)
class HeardBout:
    """One bout of a recording as it is kept.

    Attributes:
        start_s: from the start of the recording, s; 0 where nothing was heard.
        numbers: for lists and goals.
        contract: all that was heard of it, as JSON.
    """

    start_s: float
    numbers: Numbers
    contract: str


def heard_bouts(
    score: Score, asynchrony: Asynchrony | None = None, kept_beats: int | None = None
) -> tuple[HeardBout, ...]:
    """Each bout of a recording by itself, as a goal counts them; one of nothing where none was heard.

    What is known against the cue belongs to a recording of one bout.
    """
    bouts = score.alignment.bouts
    if len(bouts) < 2:
        start_s = bouts[0].start_s if bouts else 0.0
        numbers = replace(numbers_of(score), kept_beats=kept_beats)
        return (HeardBout(start_s, numbers, _as_text(_contract(score, asynchrony, kept_beats))),)
    return tuple(_one(score, bout, measures) for bout, measures in zip(bouts, score.bouts, strict=True))


def numbers_of(score: Score) -> Numbers:
    """The numbers of a whole recording."""
    heard, duration_s = score.hearing.heard, score.recording.duration_s
    return _numbers(score.measures, len(score.hearing.footfalls), heard, duration_s)


def _one(score: Score, bout: Bout, measures: Measures) -> HeardBout:
    """One of several bouts; with fewer footfalls than a verdict needs it is not heard enough."""
    contract = _contract(score)
    first_s, last_s = bout.start_s - _ROUNDED_S, bout.end_s + _ROUNDED_S
    inside = [row for row in contract["footfalls"] if first_s <= row["time_s"] <= last_s]
    heard = score.hearing.heard if len(inside) >= FEWEST_FOOTFALLS else Heard.NOT_ENOUGH
    contract["footfalls"], contract["heard"] = inside, heard.value
    contract["bouts"] = [row for row in contract["bouts"] if abs(row["start_s"] - bout.start_s) < 0.01]
    numbers = _numbers(measures, len(inside), heard, bout.end_s - bout.start_s)
    return HeardBout(bout.start_s, numbers, _as_text(contract))


def _numbers(measures: Measures, footfalls: int, heard: Heard, duration_s: float) -> Numbers:
    share = measures.long_share
    return Numbers(
        heard=heard,
        footfalls=footfalls,
        beats=measures.beats,
        complete_beats=measures.complete_beats,
        judged_beats=measures.judged_beats,
        beats_on_pattern=measures.beats_on_pattern,
        longest_run=measures.longest_run,
        tempo_bpm=_rounded(measures.tempo_bpm, 1),
        long_share=None if share is None else round(share.value, 4),
        rhythm=measures.rhythm.value,
        spread_percent=_rounded(measures.spread_percent, 1),
        duration_s=round(duration_s, 2),
    )


def _contract(
    score: Score, asynchrony: Asynchrony | None = None, kept_beats: int | None = None
) -> dict[str, Any]:
    """All that was heard, without the file's name, which may hold a child's."""
    contract = json.loads(as_json(score, asynchrony=asynchrony, kept_beats=kept_beats))
    contract["recording"]["file"] = ""
    return contract


def _as_text(contract: dict[str, Any]) -> str:
    return json.dumps(contract, allow_nan=False, ensure_ascii=False, separators=(",", ":"))


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
