"""A live bout into the records, and what is said of it."""

from __future__ import annotations

from pathlib import Path

from cuekit.bouts.live_verdict import Verdict
from cuekit.bouts.storing import store_live
from cuekit.cli.record_options import now, open_store
from cuekit.records.bout_record import Conditions


def stored(verdict: Verdict, code: str, folder: Path | None, conditions: Conditions, note: str = "") -> str:
    """Store what was heard just now; what became of it."""
    with open_store(folder) as store:
        numbers = store_live(store, verdict, code, conditions, now(), note)
    return f"Stored as bout {', '.join(map(str, numbers))} of {code}."
