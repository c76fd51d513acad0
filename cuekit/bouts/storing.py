"""After a live bout: into the records, as numbers only, and the learner's own tempo with them."""

from __future__ import annotations

from datetime import datetime, timedelta

from cuekit.bouts.live_verdict import Verdict
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark
from cuekit.records.keeping import heard_bouts, rules_of
from cuekit.records.own_tempo import OwnTempo, with_own_tempo
from cuekit.records.store import Store

NOT_ENTERED = EyeMark()


def store_live(
    store: Store,
    verdict: Verdict,
    code: str,
    conditions: Conditions,
    ended: datetime,
    note: str = "",
    eye: EyeMark = NOT_ENTERED,
) -> tuple[int, ...]:
    """Store what was heard; each part by itself where sound was lost in between.

    Parameters
    ----------
    store, code : where, and whose
    verdict, conditions : what was heard, and under which conditions
    ended : when the recording was over
    note : of the teacher or the program
    eye : what was seen

    Returns
    -------
    The number of each bout stored.

    Raises
    ------
    RecordError
        It cannot be stored.
    """
    score = verdict.score
    parts = heard_bouts(score, verdict.asynchrony, verdict.kept)
    began = ended - timedelta(seconds=score.recording.duration_s)
    numbers, rules = [], rules_of(score.alignment.pattern)
    for one in parts:
        moment = began + timedelta(seconds=one.start_s)
        bout = BoutRecord(code, moment, conditions, one.numbers, eye=eye, note=note, rules=rules)
        numbers.append(store.add(bout, contract=one.contract).number)
    return tuple(numbers)


def keep_own_tempo(store: Store, found: OwnTempo, code: str) -> None:
    """Into the learner's settings as they are now.

    Raises:
        RecordError: it cannot be stored.
    """
    store.change(code, lambda learner: with_own_tempo(learner, found))
