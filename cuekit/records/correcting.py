"""Setting a stored bout right: a thing corrected, sounds struck out, the bout voided. Nothing is lost."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.bout_history import AMENDABLE, NUMBERS, Amendment, KeptBout
from cuekit.records.record_json import to_text
from cuekit.records.rescoring import measured_without
from cuekit.records.store import Store


def correct(store: Store, kept: KeptBout, field: str, value: str, reason: str, at: datetime) -> Amendment:
    """Correct one thing of a bout; an empty value takes the entry away.

    Args:
        store: the records.
        kept: the bout.
        field: a key of `AMENDABLE`.
        value: as the teacher types it.
        reason: why, in the teacher's words.
        at: now.

    Raises:
        RecordError: it cannot be corrected, cannot have that value, or no reason was given.
    """
    if field not in AMENDABLE:
        raise RecordError(f'"{field[:40]}" cannot be corrected: choose one of {", ".join(AMENDABLE)}')
    before, one = kept.now, AMENDABLE[field]
    change = Amendment(kept.id, at, field, one.get(before), one.get(one.put(before, value)), reason)
    store.add(change, code=before.learner)
    return change


def strike(
    store: Store,
    kept: KeptBout,
    places: Collection[int],
    reason: str,
    at: datetime,
    folders: Sequence[Path] = (),
) -> Amendment:
    """Measure a bout anew without the sounds at these places, and with all others; none is struck by ().

    Args:
        store: the records.
        kept: the bout.
        places: of all sounds to be left out, 1 for the first.
        reason: why, in the teacher's words.
        at: now.
        folders: of the teacher's own patterns.

    Raises:
        RecordError: there is no such sound, or no reason was given.
        PatternError: the pattern of the bout is no longer there.
    """
    pattern, done = pattern_of(store, kept, folders), kept.now.conditions
    after = measured_without(sounds_of(store, kept), set(places), pattern, done.tempo_asked_bpm)
    struck = tuple(sorted(set(places)))
    old, new = to_text(kept.now.numbers), to_text(after)
    change = Amendment(kept.id, at, NUMBERS, old, new, reason, struck)
    store.add(change, code=kept.stored.learner)
    return change


def void(store: Store, kept: KeptBout, reason: str, at: datetime) -> None:
    """Let a bout count no longer.

    Raises:
        RecordError: it is void already, or no reason was given.
    """
    if kept.void_reason is not None:
        raise RecordError(f"bout {kept.number} is void already: {kept.void_reason}")
    store.add(Amendment(kept.id, at, "", "", "void", reason), code=kept.stored.learner)


def sounds_of(store: Store, kept: KeptBout) -> str:
    """All that was heard of a bout, as JSON.

    Raises:
        RecordError: nothing was, as it was counted by hand.
    """
    contract = store.contract(kept.id)
    if contract is None:
        raise RecordError(
            f"bout {kept.number} was counted by hand, so there are no sounds of it: cuekit correct changes it"
        )
    return contract


def pattern_of(store: Store, kept: KeptBout, folders: Sequence[Path] = (), language: str = "en") -> Pattern:
    """The pattern of a bout, with what is accepted for its learner now.

    Raises:
        PatternError: it is no longer there.
    """
    learner = store.learner(kept.stored.learner).noun
    return learner.accepting(load_pattern(kept.now.conditions.pattern, language=language, folders=folders))
