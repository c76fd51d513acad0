"""Where a learner stands: the ladder being climbed, and all that is stored on it, out of the records."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.records.bout_history import KeptBout
from cuekit.records.ladder_records import Climb, climb, step_of
from cuekit.records.step_choice import StepChoice, StopSeen
from cuekit.records.store import Store
from cuekit.teaching.ladder import Ladder
from cuekit.teaching.ladder_files import list_ladders, load_ladder


def ladder_of(
    store: Store, code: str, name: str, folders: Sequence[Path] = (), language: str = "en"
) -> Ladder:
    """The ladder asked for, else that of the latest bout at a step of one.

    Args:
        store: the records.
        code: of the learner.
        name: of a ladder; empty, or of none, where the bouts decide.
        folders: of the teacher's own ladders.
        language: of its texts.

    Raises:
        RecordError: none was named, and no bout is at a step of one.
    """
    names = list_ladders(folders=folders)
    if name in names:
        return load_ladder(name, language=language, folders=folders)
    ladders = [load_ladder(each, language=language, folders=folders) for each in names]
    for kept in reversed(store.bouts(code)):
        for ladder in ladders:
            if step_of(kept.now, ladder) is not None:
                return ladder
    raise RecordError(
        f"no bout of {code} is at a step of a ladder yet: name one with --ladder ({', '.join(names)}), "
        f"and keep bouts with --step, such as --step gallop-alone"
    )


def climb_of(store: Store, code: str, ladder: Ladder) -> Climb:
    """What is stored of a learner on a ladder."""
    bouts = store.bouts(code)
    choices = [entry.noun for entry in store.entries(StepChoice, code)]
    stops = [entry.noun for entry in store.entries(StopSeen, code)]
    learner = store.learner(code).noun
    return climb(ladder, bouts, choices, stops, _faults(store, bouts), learner.tolerances)


def _faults(store: Store, bouts: list[KeptBout]) -> dict[str, str]:
    """Id of what was heard in each bout that was scored from a recording."""
    contracts = {kept.id: store.contract(kept.id) for kept in bouts}
    faults = {bout: json.loads(text).get("fault") for bout, text in contracts.items() if text}
    return {bout: fault["id"] for bout, fault in faults.items() if fault}
