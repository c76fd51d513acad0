"""Everything on one code as JSON, and its bouts as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence

from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import COUNTS
from cuekit.records.record_json import to_plain
from cuekit.records.store import KINDS, Store

_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
COLUMNS = (
    "bout", "date", "time", "code", "pattern", "mode", "step", "tempo asked", "cue", "help", "cue kind",
    "counted by", "heard", *(name.replace("_", " ") for name in COUNTS), "tempo", "long share", "rhythm",
    "spread %", "lead", "skill seen", "feet", "flight", "others", "teacher says met", "void", "corrections",
    "note", "rules",
)  # fmt: skip


def as_json(store: Store, code: str) -> str:
    """All that is kept on a code: every version of everything, with what was heard of each bout."""
    everything = {"format": 1, "code": code}
    for kind, noun in KINDS.items():
        everything[kind] = [
            {"id": entry.id, "number": entry.number, "version": entry.version, **to_plain(entry.noun)}
            for entry in store.entries(noun, code)
        ]
    contracts = [(kept.id, store.contract(kept.id)) for kept in store.bouts(code)]
    everything["heard"] = {bout: json.loads(text) for bout, text in contracts if text}
    return json.dumps(everything, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def as_csv(bouts: Sequence[KeptBout]) -> str:
    """One line a bout, as it stands after corrections; nothing in it can start a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([_guarded(cell) for cell in _row(kept)] for kept in bouts)
    return out.getvalue()


def _row(kept: KeptBout) -> list[object]:
    bout, done, numbers, eye = kept.now, kept.now.conditions, kept.now.numbers, kept.now.eye
    return [
        kept.number, f"{bout.at:%Y-%m-%d}", f"{bout.at:%H:%M}", bout.learner, done.pattern, done.mode,
        done.step, done.tempo_asked_bpm, done.cue_level, done.help_level, done.cue_kind, bout.source,
        numbers.heard, *(getattr(numbers, name) for name in COUNTS), numbers.tempo_bpm,
        numbers.long_share, numbers.rhythm, numbers.spread_percent,
        eye.lead, eye.skill, eye.feet, eye.flight, eye.others,
        bout.met_by_teacher, kept.void_reason, kept.corrections, bout.note, bout.rules,
    ]  # fmt: skip


def _guarded(cell: object) -> object:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, str) and str(cell).startswith(_STARTS_A_FORMULA):
        return "'" + cell
    return cell
