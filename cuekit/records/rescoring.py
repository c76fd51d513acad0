"""Measuring a stored bout anew after the teacher struck out sounds that were not the learner's."""

from __future__ import annotations

import json
from collections.abc import Collection

import numpy as np

from cuekit.errors import RecordError
from cuekit.hearing.events import Doubt, Footfall, Heard, Hearing, Recording
from cuekit.patterns.pattern import Pattern
from cuekit.records.bout_record import Numbers
from cuekit.records.keeping import numbers_of
from cuekit.telling.advice import FEWEST_FOOTFALLS
from cuekit.telling.phrases import Phrases
from cuekit.telling.scoring import Score, score_hearing


def footfalls_of(contract: str) -> tuple[Footfall, ...]:
    """The footfalls of a stored contract, in order of time."""
    return tuple(
        Footfall(row["time_s"], row["level_db"], row["confidence"], row["spread_s"])
        for row in json.loads(contract)["footfalls"]
    )


def measured_without(
    contract: str, struck: Collection[int], pattern: Pattern, tempo_bpm: float | None
) -> Numbers:
    """Numbers of a bout without some of its sounds; see `scored_without`."""
    return numbers_of(scored_without(contract, struck, pattern, tempo_bpm))


def scored_without(
    contract: str,
    struck: Collection[int],
    pattern: Pattern,
    tempo_bpm: float | None,
    phrases: Phrases | None = None,
) -> Score:
    """A stored bout scored anew without some of its sounds; the rules are today's.

    Args:
        contract: all that was heard, as stored.
        struck: places of the sounds in it, 1 for the first.
        pattern, tempo_bpm: as asked for in the bout.
        phrases: the language of the sentences; English by default.

    Raises:
        RecordError: there is no such sound.
    """
    told, heard = json.loads(contract), footfalls_of(contract)
    wrong = [number for number in struck if not 1 <= number <= len(heard)]
    if wrong:
        raise RecordError(
            f"there is no sound {wrong[0]}: the bout has {len(heard)}, cuekit sounds BOUT lists them"
        )
    left = tuple(one for number, one in enumerate(heard, start=1) if number not in struck)
    out = tuple(one for number, one in enumerate(heard, start=1) if number in struck)
    clear = Heard(told["heard"]) if len(left) >= FEWEST_FOOTFALLS else Heard.NOT_ENOUGH
    hearing = Hearing(left, out, clear, Doubt(told.get("heard_doubt", "")), told["recording"]["noise_db"])
    row = told["recording"]
    recording = Recording(
        "",
        np.zeros(0, np.float32),
        16_000,
        row["sample_rate_hz"],
        row["channels"],
        row["duration_s"],
        0.0,
        (),
    )
    return score_hearing(recording, hearing, pattern, tempo_bpm=tempo_bpm, phrases=phrases)
