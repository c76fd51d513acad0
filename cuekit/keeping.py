"""From a scored recording to the numbers that are kept; the sound itself never is."""

from __future__ import annotations

import json

from cuekit import __version__
from cuekit.bout_record import Numbers
from cuekit.contract import SCHEMA, as_json
from cuekit.scoring import Score

RULES = f"cuekit {__version__}, contract {SCHEMA}"
"""Version of the rules that judge a bout, kept with it."""


def numbers_of(score: Score) -> Numbers:
    """The numbers lists and goals need; all else is in the contract kept beside them."""
    measures, share = score.measures, score.measures.long_share
    return Numbers(
        heard=score.hearing.heard,
        footfalls=len(score.hearing.footfalls),
        beats=measures.beats,
        complete_beats=measures.complete_beats,
        judged_beats=measures.judged_beats,
        beats_on_pattern=measures.beats_on_pattern,
        longest_run=measures.longest_run,
        tempo_bpm=_rounded(measures.tempo_bpm, 1),
        long_share=None if share is None else round(share.value, 4),
        rhythm=measures.rhythm.value,
        spread_percent=_rounded(measures.spread_percent, 1),
        duration_s=round(score.recording.duration_s, 2),
    )


def contract_of(score: Score) -> str:
    """All that was heard, as the JSON contract without the file's name, which may hold a child's."""
    contract = json.loads(as_json(score))
    contract["recording"]["file"] = ""
    contract["recording"]["warnings"] = [
        text.replace(score.recording.name, "the recording") for text in contract["recording"]["warnings"]
    ]
    return json.dumps(contract, allow_nan=False, ensure_ascii=False)


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
