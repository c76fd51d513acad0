"""A live bout into the records, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from cuekit.bouts.live_verdict import Verdict
from cuekit.bouts.storing import store_live
from cuekit.cli.eye_marks import Answers
from cuekit.cli.record_options import open_store
from cuekit.records.bout_record import Conditions


def stored(
    verdict: Verdict,
    code: str,
    folder: Path | None,
    conditions: Conditions,
    answers: Answers,
    ended: datetime,
) -> str:
    """Store what was heard and what was seen; what became of it.

    Raises:
        RecordError: it cannot be stored.
    """
    conditions = replace(conditions, help_level=answers.help_level)
    with open_store(folder) as store:
        numbers = store_live(store, verdict, code, conditions, ended, eye=answers.eye)
    return f"Stored as bout {', '.join(map(str, numbers))} of {code}."
